//! The reported table: numbers as they leave the laboratory, rounded by rule, with the basis and what stands behind them.

use crate::charge::result::{EVALUATION, NOT_INCLUDED, SampleResult};
use crate::composition::{Cell, Closure};
use crate::error::Result;
use crate::rules::ReportForm;
use crate::table::{self, Column, Table};

impl SampleResult {
    /// The results as they are signed: rounded by the form at the end only, limits as "<", the basis and the atomic weights
    /// in the head; the total, where a closure is given.
    ///
    /// # Errors
    /// `loss.not-reportable` where the closure counts a loss without its temperature.
    ///
    /// ```
    /// use beadchem::charge::{Charge, FluxLot, Sample};
    /// use beadchem::composition::{Basis, Composition, Unit};
    /// use beadchem::{rules::{Negatives, ReportForm}, substance::Weights, table::Ties};
    /// let lot = FluxLot::new("F-1", [("Li2B4O7", 1.0)], "1050 C, 18 min", 0.0)?;
    /// let melt = Charge::new(Sample::dried(1.0)?, lot.weigh_g(9.0)?)?.fuse_with_loss(&Weights::ciaaw_2024(), 0.0)?;
    /// let sample = melt.undilute(&Composition::new(Basis::Bead).with("CaO", 0.012_345)?)?;
    /// let form = ReportForm::new("client A", Unit::Percent, 2, Ties::ToEven, Negatives::Kept)?;
    /// let report = sample.report(&form, None)?.to_string();
    /// assert!(report.contains("12.34") && report.contains("basis: dried"));
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    pub fn report(&self, form: &ReportForm, closure: Option<&Closure>) -> Result<Table> {
        if let Some(closure) = closure {
            closure.reportable()?;
        }
        // two digits of an uncertainty are all it has
        const DIGITS: u8 = 2;
        let unit = form.unit();
        let u_text = |u: f64, stated: bool| {
            let digits = table::Rounding::significant(DIGITS, table::Ties::ToEven).text(unit.written(u))?;
            Ok::<String, crate::error::Error>(if stated { digits } else { format!("at least {digits}") })
        };
        let mut rows = Vec::new();
        let composition = self.composition()?;
        for entry in composition.entries() {
            let species = entry.species.text();
            let (number, u) = match &entry.cell {
                Cell::Value(value) => {
                    let u = self.u(species)?;
                    (form.result(species, value.value(), u)?, u_text(u, value.u().is_some())?)
                }
                Cell::Below { limit } => (format!("< {}", form.written(species, *limit)?), String::new()),
                other => (other.word().to_owned(), String::new()),
            };
            rows.push([species.to_owned(), number, u]);
        }
        if let Some(total) = closure.and_then(Closure::total) {
            let u = total.u().map_or_else(|| Ok("not stated".to_owned()), |u| u_text(u, true))?;
            rows.push(["total".to_owned(), form.written("total", total.value())?, u]);
        }
        let table = Table::new("Report")
            .head(format!("basis: {}", self.basis()))
            .head(EVALUATION)
            .head(format!("atomic weights: {}", self.melt().weights().version_name()))
            .head(form.describe())
            .column(Column::text("analyte"))
            .column(Column::text(format!("w, {}", unit.word())))
            .column(Column::text(format!("u, {}", unit.word())))
            .rows(rows.into_iter().map(|row| row.map(table::Cell::text)));
        let warnings =
            self.findings().into_iter().filter(|finding| finding.severity() >= crate::code::Severity::Warning);
        let table = warnings.fold(table, |table, finding| table.note(finding.to_string()));
        Ok(table.note(NOT_INCLUDED))
    }
}
