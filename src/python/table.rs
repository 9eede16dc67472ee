//! Tables for people: the list of codes, and numbers rounded for a report.

use pyo3::prelude::*;

use crate::error::Result;
use crate::table::{Rounding, Table, Ties};

/// The list of codes of refusals and findings, by number.
#[pyclass(name = "CodeTable", module = "beadchem", frozen)]
pub(super) struct PyCodeTable(Table);

#[pymethods]
impl PyCodeTable {
    #[new]
    fn new() -> Self {
        Self(Table::of_codes())
    }
    fn __repr__(&self) -> String {
        self.0.to_string()
    }
    fn _repr_html_(&self) -> String {
        self.0.to_html()
    }
    /// The rows as CSV.
    fn to_csv(&self) -> String {
        self.0.to_csv()
    }
}

/// A number rounded for a report, as text: by the rule "half to even" or "half up" (a tie away from zero), on the
/// decimal digits of the number.
#[pyfunction]
#[pyo3(signature = (value, decimals=2, rule="half to even"))]
pub(super) fn rounded(value: f64, decimals: i64, rule: &str) -> Result<String> {
    // a double has no more digits than these
    crate::error::within(
        "Number of decimals",
        decimals as f64,
        "",
        [0.0, 17.0],
        "0 to 17",
        "Digits after the point are meant.",
    )?;
    Rounding::decimals(u8::try_from(decimals).unwrap_or(0), Ties::from_word(rule)?).text(value)
}
