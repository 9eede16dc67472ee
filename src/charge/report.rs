//! The reported table: numbers as they leave the laboratory, rounded by rule, with the basis and what stands behind them.

use crate::charge::result::{NOT_INCLUDED, SampleResult};
use crate::code::{Code, Severity};
use crate::composition::{Cell, Closure, ClosureOrder, Counted};
use crate::error::Result;
use crate::finding::Finding;
use crate::rules::ReportForm;
use crate::table::{self, Column, Table};

impl SampleResult {
    /// The results as they are signed: rounded by the form at the end only, limits as "<", the basis and the atomic weights
    /// in the head; where it is said what the total counts, the loss and whatever else it counts, and the total.
    ///
    /// # Errors
    /// `loss.not-reportable` where the total counts a loss without its temperature; those of [`closure`](Self::closure).
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
    pub fn report(&self, form: &ReportForm, total: Option<&ClosureOrder>) -> Result<Table> {
        let closure = total.map(|order| self.closure(order)).transpose()?;
        if let Some(closure) = &closure {
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
                    (form.result(species, value.value(), value.u())?, u_text(u, value.u().is_some())?)
                }
                Cell::Below { limit } => (form.below(species, *limit)?, String::new()),
                other => (other.word().to_owned(), String::new()),
            };
            rows.push([species.to_owned(), number, u]);
        }
        // what the total counts beside the results, so that a reader can add it up
        for line in closure.iter().flat_map(|closure| closure.lines()).filter(|line| line.contribution != 0.0) {
            let own = composition.entries().iter().any(|entry| entry.species.text() == line.species);
            let name = match line.how {
                Counted::Here if own && line.counted_as == line.species => continue,
                Counted::Here if line.counted_as != line.species => format!("{} as {}", line.species, line.counted_as),
                Counted::Here | Counted::Loss => line.species.clone(),
                how => format!("{} ({})", line.species, how.word()),
            };
            rows.push([name, form.written(&line.species, line.contribution)?, u_text(line.u, true)?]);
        }
        if let Some(total) = closure.as_ref().and_then(Closure::total) {
            let u = total.u().map_or_else(|| Ok("not stated".to_owned()), |u| u_text(u, true))?;
            rows.push(["total".to_owned(), form.written("total", total.value())?, u]);
        }
        let table = Table::new("Report")
            .head(format!("basis: {}", self.basis()))
            .head(self.evaluation().text())
            .head(format!("atomic weights: {}", self.melt().weights().version_name()))
            .head(form.describe())
            .column(Column::text("analyte"))
            .column(Column::text(format!("w, {}", unit.word())))
            .column(Column::text(format!("u, {}", unit.word())))
            .rows(rows.into_iter().map(|row| row.map(table::Cell::text)));
        let notable = |finding: &Finding| {
            finding.severity() >= Severity::Warning && !(form.censors() && finding.code == Code::ReadingNegative)
        };
        let of_total = closure.iter().flat_map(|closure| closure.findings().iter().cloned());
        let of_total = of_total.filter(|finding| notable(finding) || finding.code == Code::ClosureNotCounted);
        let warnings = self.findings().into_iter().filter(notable).chain(of_total);
        let table = warnings.fold(table, |table, finding| table.note(finding.to_string()));
        Ok(table.note(NOT_INCLUDED))
    }
}
