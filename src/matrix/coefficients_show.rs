//! Influence coefficients as a table.

use crate::composition::unit::percent_short;
use crate::matrix::coefficients::CoefficientSet;
use crate::matrix::conditions::shown;
use crate::table::{Cell, Column, Table};

/// Coefficients are known to four digits at best.
const DIGITS: u8 = 5;

impl CoefficientSet {
    /// One row for each line, one column for each component; the reference ratio stands in the title, the conditions in the
    /// head.
    ///
    /// ```
    /// # use beadchem::matrix::{CoefficientSet, Conditions, Derivation, Influence, Label};
    /// # let label = Label::new("sand", "1", "invented for this example")?;
    /// # let row = [Influence::new("Si Ka", "SiO2", [0.28])];
    /// let set = CoefficientSet::new(label, Derivation::Fitted, Conditions::new(5.0)?, ["SiO2"], row)?;
    /// assert!(set.table().to_string().starts_with("Influence coefficients sand, F0 5.0"));
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn table(&self) -> Table {
        let conditions = &self.conditions;
        let (low, high) = conditions.range;
        let title = format!("Influence coefficients {}, F0 {}", self.label.name(), shown(conditions.fused_flux_ratio));
        let mut table = Table::new(title)
            .head(format!("version {}; {}", self.label.version(), self.label.source()))
            .head(format!("{}; for F {} to {}", self.derivation, shown(low), shown(high)));
        if !conditions.blend.is_empty() {
            let part = |(species, share): &(_, f64)| format!("{} {species}", percent_short(*share));
            table = table.head(format!("flux: {}", conditions.blend.iter().map(part).collect::<Vec<_>>().join(", ")));
        }
        if !conditions.setup.is_empty() {
            table = table.head(format!("setup: {}", conditions.setup));
        }
        let with_u = self.u.iter().any(Option::is_some);
        let with_k = self.lines.iter().any(|line| line.sensitivity.is_some());
        table = table.column(Column::text("line")).column(Column::text("analyte"));
        for component in self.component_texts() {
            let column = Column::number(component, "");
            table = table.column(if with_u { column.with_uncertainty("u") } else { column });
        }
        if with_k {
            table = table.column(Column::number("k", ""));
        }
        let rows = self.lines.iter().enumerate().map(|(index, line)| {
            let u = self.u_row(index);
            let coefficient = |(place, &a): (usize, &f64)| match u {
                Some(u) => Cell::measured(a, u[place]),
                None => Cell::significant(a, DIGITS),
            };
            let mut cells = vec![Cell::text(line.line.as_str()), Cell::text(self.components[line.analyte].text())];
            cells.extend(self.row(index).iter().enumerate().map(coefficient));
            if with_k {
                let k = line.sensitivity.map(|k| Cell::significant(k, DIGITS));
                cells.push(k.unwrap_or_else(|| Cell::missing("not stated")));
            }
            cells
        });
        table.rows(rows)
    }
}
