//! A calibration as a table.

use crate::composition::unit::percent_short;
use crate::matrix::Calibration;
use crate::table::{Cell, Column, Table};
use crate::uncertainty::Estimate;

/// Sensitivities and offsets are known to five digits at best.
const DIGITS: u8 = 6;

/// An estimate with its u, or without where none is stated.
pub(crate) fn shown(estimate: &Estimate) -> Cell {
    match estimate.u() {
        Some(u) if u > 0.0 => Cell::measured(estimate.value(), u),
        _ => Cell::significant(estimate.value(), DIGITS),
    }
}

impl Calibration {
    /// One row for each line: its sensitivity, what is left where no analyte is; fitted coefficients, correlations and the
    /// ranges of the standards stand below.
    ///
    /// ```
    /// use beadchem::{composition::Basis, matrix::{Calibration, Label}, uncertainty::Estimate};
    /// let calibration = Calibration::new(Label::new("cal", "1", "given")?, Basis::Dried)
    ///     .sensitivity("Fe Ka", Estimate::new(2.0e-5, 1e-8)?)?
    ///     .range("Fe2O3", 0.0, 0.08)?;
    /// assert!(calibration.table().to_string().contains("Fe2O3: standards from 0 % to 8 % of the glass"));
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn table(&self) -> Table {
        let with_offset = self.sensitivities().iter().any(|held| held.offset.is_some());
        let mut table = Table::new(format!("Calibration {}", self.label().name()))
            .head(format!("version {}; {}", self.label().version(), self.label().source()))
            .head(format!("basis of the standards: {}", self.basis()))
            .column(Column::text("line"))
            .column(Column::number("k", "g/g per cps").with_uncertainty("u"));
        if with_offset {
            table = table.column(Column::number("I0", "cps").with_uncertainty("u"));
        }
        table = table.rows(self.sensitivities().iter().map(|held| {
            let mut cells = vec![Cell::text(held.line.as_str()), shown(&held.value)];
            if with_offset {
                cells.push(held.offset.as_ref().map_or_else(|| Cell::missing("none"), shown));
            }
            cells
        }));
        for held in self.coefficients() {
            let u = held.value.u().map_or_else(|| "not stated".to_owned(), |u| u.to_string());
            table = table.note(format!("a of {} on {}: {} (u {u})", held.component, held.line, held.value.value()));
        }
        for (first, second, coefficient) in self.correlations() {
            table = table.note(format!("correlation of {first} and {second}: {coefficient}"));
        }
        for range in self.ranges() {
            let (low, high) = (percent_short(range.low), percent_short(range.high));
            table = table.note(format!("{}: standards from {low} to {high} of the glass", range.analyte));
        }
        table
    }
}
