//! The list of codes as a table.

use super::{Cell, Column, Table};
use crate::code::Code;

impl Table {
    /// Every code by number: its word, its severity, what it means.
    ///
    /// ```
    /// use beadchem::table::Table;
    /// let codes = Table::of_codes().to_csv();
    /// assert!(codes.contains("20,mass.not-positive,error,A mass is zero or below.,"));
    /// ```
    #[must_use]
    pub fn of_codes() -> Self {
        let rows = Code::ALL.iter().map(|code| {
            let words = [code.word(), code.severity().word(), code.meaning()].map(Cell::text);
            // a number that is a name, not a measure
            core::iter::once(Cell::text(code.number().to_string())).chain(words)
        });
        Self::new("Codes of refusals and findings")
            .head("A word, once released, keeps its meaning and its number.")
            .column(Column::text("number"))
            .column(Column::text("word"))
            .column(Column::text("severity"))
            .column(Column::text("meaning"))
            .rows(rows)
    }
}
