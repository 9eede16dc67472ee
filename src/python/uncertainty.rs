//! Values with uncertainty and budgets.

use std::collections::BTreeMap;

use pyo3::exceptions::PyTypeError;
use pyo3::prelude::*;

use crate::code::Code;
use crate::error::{Error, Result};
use crate::table::Table;
use crate::uncertainty::{Budget, BudgetRow, Distribution, Estimate};

/// The value of an input with what is known of its uncertainty. Make one with `value` or `exact`.
#[pyclass(name = "Value", module = "beadchem", frozen, eq)]
#[derive(Clone, PartialEq)]
pub(super) struct PyValue(pub(super) Estimate);

#[pymethods]
impl PyValue {
    /// The number.
    #[getter]
    fn value(&self) -> f64 {
        self.0.value()
    }
    /// Standard uncertainty, own and shared parts together; None where it is not stated.
    #[getter]
    fn u(&self) -> Option<f64> {
        self.0.u()
    }
    /// Degrees of freedom; infinite where not limited.
    #[getter]
    fn dof(&self) -> f64 {
        self.0.dof()
    }
    /// "normal", "rectangular", "triangular", "arcsine" or "student-t".
    #[getter]
    fn distribution(&self) -> &'static str {
        self.0.distribution().word()
    }
    /// The parts of u that are shared with other inputs, by cause.
    #[getter]
    fn shared(&self) -> BTreeMap<String, f64> {
        self.0.causes().iter().map(|part| (part.cause.clone(), part.u)).collect()
    }
    fn __repr__(&self) -> String {
        match self.0.u() {
            Some(u) => format!("Value({}, u={u})", self.0.value()),
            None => format!("Value({}, u not stated)", self.0.value()),
        }
    }
}

/// An estimate in a unit, as "0.38 (u 0.03)".
pub(super) fn short(estimate: &Estimate, unit: crate::composition::Unit) -> String {
    match unit.written_of(estimate).u() {
        Some(u) => {
            let (value, u) = crate::table::format_value(unit.written(estimate.value()), u);
            format!("{value} (u {u})")
        }
        None => format!("{} (u not stated)", unit.written(estimate.value())),
    }
}

/// A number that may be a `Value` or a bare number, whose uncertainty is then not stated.
pub(super) enum Number {
    Value(Py<PyValue>),
    Bare(f64),
}

impl<'py> FromPyObject<'_, 'py> for Number {
    type Error = PyErr;
    /// None reads as a number that is missing; what it is for then says so.
    fn extract(object: Borrowed<'_, 'py, PyAny>) -> PyResult<Self> {
        if object.is_none() {
            return Ok(Number::Bare(f64::NAN));
        }
        if let Ok(value) = object.cast::<PyValue>() {
            return Ok(Number::Value(value.to_owned().unbind()));
        }
        object.extract::<f64>().map(Number::Bare).map_err(|_| {
            let kind = object.get_type().name().map_or_else(|_| "this".to_owned(), |name| name.to_string());
            PyTypeError::new_err(format!("A number or beadchem.value(...) belongs here, not {kind}."))
        })
    }
}

impl Number {
    /// The estimate.
    pub(super) fn estimate(&self) -> Estimate {
        match self {
            Number::Value(value) => value.get().0.clone(),
            Number::Bare(number) => Estimate::from(*number),
        }
    }
}

/// A value with its standard uncertainty.
///
/// Parameters
/// ----------
/// value : float
///     The number.
/// u : float, optional
///     Standard uncertainty in the unit of the value; without it (and without `half_width`) it is not stated.
/// half_width : float, optional
///     Instead of u, for a rectangular, triangular or arcsine distribution.
/// dof : float, optional
///     Degrees of freedom of u.
/// distribution : str
///     "normal", "rectangular", "triangular", "arcsine" or "student-t".
/// shared : dict of str to float, optional
///     Further parts of u that are shared with every input naming the same cause, signed.
#[pyfunction]
#[pyo3(signature = (value, u=None, *, half_width=None, dof=None, distribution="normal", shared=None))]
pub(super) fn value(
    value: f64,
    u: Option<f64>,
    half_width: Option<f64>,
    dof: Option<f64>,
    distribution: &str,
    shared: Option<BTreeMap<String, f64>>,
) -> Result<PyValue> {
    let distribution = Distribution::from_word(distribution)?;
    let mut estimate = match (u, half_width, distribution) {
        (None, None, _) => Estimate::unstated(value)?,
        (Some(u), None, _) => Estimate::new(value, u)?,
        (None, Some(half), Distribution::Rectangular) => Estimate::rectangular(value, half)?,
        (None, Some(half), Distribution::Triangular) => Estimate::triangular(value, half)?,
        (None, Some(half), Distribution::Arcsine) => Estimate::arcsine(value, half)?,
        _ => {
            return Err(Error::Conflict {
                code: Code::NumberOutOfRange,
                detail: format!("A half width was given for {value} beside u, or for a {} one.", distribution.word()),
                hint: "Give u, or a half width with rectangular, triangular or arcsine.".to_owned(),
            });
        }
    };
    if let Some(dof) = dof {
        estimate = estimate.with_dof(dof)?;
    }
    estimate = estimate.distributed(distribution)?;
    for (cause, u) in shared.unwrap_or_default() {
        estimate = estimate.shared(cause, u)?;
    }
    Ok(PyValue(estimate))
}

/// An exact number.
#[pyfunction]
pub(super) fn exact(value: f64) -> Result<PyValue> {
    Estimate::exact(value).map(PyValue)
}

/// One row of a budget.
#[pyclass(name = "BudgetRow", module = "beadchem", frozen)]
#[derive(Clone)]
pub(super) struct PyBudgetRow(BudgetRow);

#[pymethods]
impl PyBudgetRow {
    /// The input or shared cause.
    #[getter]
    fn name(&self) -> &str {
        &self.0.name
    }
    /// True for a cause shared by several inputs.
    #[getter]
    fn shared(&self) -> bool {
        self.0.shared
    }
    /// Value of the input, or None for a shared cause.
    #[getter]
    fn value(&self) -> Option<f64> {
        self.0.value
    }
    /// Standard uncertainty of the input's own part.
    #[getter]
    fn u(&self) -> f64 {
        self.0.u
    }
    /// How far the result moves with it, signed, in g/g (or the unit of the budget's value).
    #[getter]
    fn contribution(&self) -> f64 {
        self.0.contribution
    }
    /// Its share of the variance, 0 to 1.
    #[getter]
    fn share(&self) -> f64 {
        self.0.share
    }
    fn __repr__(&self) -> String {
        format!("<BudgetRow {}: {:e} (share {:.3})>", self.0.name, self.0.contribution, self.0.share)
    }
}

/// Where the uncertainty of a result comes from, ranked.
#[pyclass(name = "Budget", module = "beadchem", frozen)]
pub(super) struct PyBudget {
    pub(super) budget: Budget,
    pub(super) table: Table,
}

#[pymethods]
impl PyBudget {
    /// The value the budget belongs to, g/g.
    #[getter]
    fn value(&self) -> f64 {
        self.budget.value()
    }
    /// Its standard uncertainty, g/g; "at least" where `unstated` names anything.
    #[getter]
    fn u(&self) -> f64 {
        self.budget.u()
    }
    /// Rows, largest contribution first.
    #[getter]
    fn rows(&self) -> Vec<PyBudgetRow> {
        self.budget.rows().iter().cloned().map(PyBudgetRow).collect()
    }
    /// Inputs that move the result and have no uncertainty stated.
    #[getter]
    fn unstated(&self) -> Vec<String> {
        self.budget.unstated().to_vec()
    }
    /// The uncertainty, in the unit of `u` (g/g for a content), if the named part were half as uncertain.
    fn if_halved(&self, name: &str) -> Result<f64> {
        self.budget.if_halved(name.strip_suffix(" (shared)").unwrap_or(name))
    }
    fn __repr__(&self) -> String {
        self.table.to_string()
    }
    fn _repr_html_(&self) -> String {
        self.table.to_html()
    }
    /// The rows as CSV.
    fn to_csv(&self) -> String {
        self.table.to_csv()
    }
}
