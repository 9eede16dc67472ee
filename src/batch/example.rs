//! The table that the examples of this module look at.

use crate::batch::column::{Column, Columns, Numbers};
use crate::error::Result;

/// Numbers of an invented table, owned.
///
/// ```
/// assert_eq!(beadchem::batch::example_table(3)?.columns()?.rows(), 3);
/// # Ok::<(), beadchem::Error>(())
/// ```
#[derive(Debug, Clone, PartialEq)]
pub struct ExampleTable {
    rows: usize,
    list: Vec<(&'static str, Vec<f64>)>,
}

impl ExampleTable {
    /// Its columns.
    ///
    /// # Errors
    /// None; kept fallible for the constructors.
    ///
    /// ```
    /// assert!(beadchem::batch::example_table(3)?.columns()?.get("sample_g").is_some());
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    pub fn columns(&self) -> Result<Columns<'_>> {
        let mut columns = Columns::new(self.rows);
        for (name, values) in &self.list {
            columns.push(*name, Column::Numbers(Numbers::new(values)))?;
        }
        Ok(columns)
    }
}

/// So many dolomite beads with catch weights: masses and counts go up and down with the row.
///
/// # Errors
/// None; kept fallible for the constructors.
///
/// ```
/// assert_eq!(beadchem::batch::example_table(0)?.columns()?.rows(), 0);
/// # Ok::<(), beadchem::Error>(())
/// ```
pub fn example_table(rows: usize) -> Result<ExampleTable> {
    let wave = |middle: f64, part: f64, period: usize| {
        let swing = |row: usize| ((row % period) as f64 / period as f64 - 0.5) * part;
        (0..rows).map(|row| middle * (1.0 + swing(row))).collect::<Vec<f64>>()
    };
    Ok(ExampleTable {
        rows,
        list: vec![
            ("sample_g", wave(0.8, 0.02, 17)),
            ("flux_g", wave(8.0, 0.02, 23)),
            ("loss_on_ignition_percent", wave(46.3, 0.01, 13)),
            ("Ca_Ka_cps", wave(13_500.0, 0.05, 29)),
            ("Mg_Ka_cps", wave(1_710.0, 0.05, 31)),
            ("Si_Ka_cps", wave(400.0, 0.4, 37)),
        ],
    })
}
