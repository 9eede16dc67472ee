//! A closure as a table.

use crate::composition::Unit;
use crate::composition::closure::{Closure, Counted};
use crate::composition::unit::percent_short;
use crate::table::{Cell, Column, Table};

impl Closure {
    /// Line by line: what was found, as what it is counted, how it enters, what it adds; the total, what it is blind to.
    ///
    /// ```
    /// use beadchem::{composition::{Basis, ClosureOrder, Composition, Unit}, substance::Weights};
    /// let spar = Composition::new(Basis::Dried).with("CaO", 0.6967)?.with("F", 0.4721)?;
    /// let closure = spar.closure(&ClosureOrder::new(), &Weights::ciaaw_2024())?;
    /// assert!(closure.table(Unit::Percent).to_string().contains("oxygen counted too much, taken off"));
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn table(&self, unit: Unit) -> Table {
        const DECIMALS: u8 = 3;
        let stated = self.unstated().is_empty();
        // what atomic weights alone leave is no uncertainty worth printing
        const ATOMIC_WEIGHTS: f64 = 2e-5;
        let number = |value: f64, u: f64| {
            let (written, u_written) = (unit.written(value), unit.written(u));
            if u <= ATOMIC_WEIGHTS * value.abs() {
                Cell::number(written, DECIMALS)
            } else if stated {
                Cell::measured(written, u_written)
            } else {
                Cell::at_least(written, u_written)
            }
        };
        let rows = self.lines.iter().map(|line| {
            let added = match line.how {
                Counted::InsideLoss | Counted::ElsewhereInTotal | Counted::NoValue => Cell::missing("not counted"),
                _ => number(line.contribution, line.u),
            };
            let counted_as = if line.counted_as == line.species { "" } else { line.counted_as.as_str() };
            [
                Cell::text(line.species.as_str()),
                added,
                Cell::text(line.how.word()),
                Cell::text(counted_as),
                Cell::text(line.source.as_str()),
            ]
        });
        let mut table = Table::new("Closure")
            .head(format!("basis: {}", self.basis))
            .column(Column::text("found"))
            .column(Column::number("adds", unit.word()).with_uncertainty("u"))
            .column(Column::text("how"))
            .column(Column::text("counted as"))
            .column(Column::text("source"))
            .rows(rows);
        let total = match self.total() {
            Some(total) => number(total.value(), total.u().unwrap_or(self.propagated().u(super::TOTAL))),
            None => Cell::missing("not computed"),
        };
        table = table.row([Cell::text("total"), total, Cell::text(""), Cell::text(""), Cell::text("")]);
        let unstated = self.propagated().unstated(super::TOTAL);
        if !unstated.is_empty() {
            table = table.note(format!("u is \"at least\": none was stated for {}", unstated.join(", ")));
        }
        let mut moves: Vec<_> = self.sensitivities.iter().filter(|s| s.moves_total > 0.0).collect();
        moves.sort_by(|a, b| b.moves_total.total_cmp(&a.moves_total));
        const SHOWN: usize = 5;
        for sensitivity in moves.into_iter().take(SHOWN) {
            let moved = percent_short(sensitivity.moves_total);
            table = table.note(format!("one u of {} moves the total by {moved}", sensitivity.input));
        }
        self.findings.iter().fold(table, |table, finding| table.note(finding.to_string()))
    }
}
