//! Atomic weights, formulas, and numbers that follow from them.

use std::collections::BTreeMap;

use pyo3::prelude::*;

use crate::error::Result;
use crate::python::convert::{PyFinding, findings};
use crate::python::uncertainty::{PyBudget, PyValue};
use crate::substance::{self, Formula, FromWeights, Weight, Weights};

/// A version of the atomic weights of all 118 elements: "CIAAW 2024" (the default everywhere) or "CIAAW 2021".
#[pyclass(name = "Weights", module = "beadchem", frozen, eq)]
#[derive(Clone, PartialEq)]
pub(super) struct PyWeights(pub(super) Weights);

#[pymethods]
impl PyWeights {
    #[new]
    #[pyo3(signature = (version="CIAAW 2024"))]
    fn new(version: &str) -> Result<Self> {
        Weights::version(version).map(Self)
    }
    /// The name of the version; results record it.
    #[getter]
    fn version(&self) -> &str {
        self.0.version_name()
    }
    /// The weight of an element with its standard uncertainty.
    fn __getitem__(&self, symbol: &str) -> Result<PyValue> {
        substance::weight_estimate(substance::Element::from_symbol(symbol)?, &self.0).map(PyValue)
    }
    /// Lower and upper end for an element whose natural weight varies, else None.
    fn interval(&self, symbol: &str) -> Result<Option<(f64, f64)>> {
        Ok(match self.0.get(symbol)?.weight {
            Weight::Interval { low, high, .. } => Some((low, high)),
            _ => None,
        })
    }
    /// The symbols by atomic number.
    #[getter]
    fn symbols(&self) -> Vec<&'static str> {
        self.0.entries().iter().map(|entry| entry.symbol).collect()
    }
    /// The same with another weight for one element (enriched lithium) and where it comes from.
    #[pyo3(signature = (symbol, value, *, half_width, source))]
    fn with_element(&self, symbol: &str, value: f64, half_width: f64, source: &str) -> Result<Self> {
        self.0.with(symbol, Weight::Single { value, half_width }, source).map(Self)
    }
    fn __repr__(&self) -> String {
        format!("Weights({:?})", self.0.version_name())
    }
}

/// The weights asked for, or those of 2024; every result records which.
pub(super) fn weights_or_default(weights: Option<&Bound<'_, PyWeights>>) -> Weights {
    weights.map_or_else(Weights::ciaaw_2024, |weights| weights.get().0.clone())
}

/// A number computed from atomic weights, with its uncertainty and the version of the weights.
#[pyclass(name = "FromWeights", module = "beadchem", frozen)]
pub(super) struct PyFromWeights {
    result: FromWeights,
    name: String,
}

#[pymethods]
impl PyFromWeights {
    /// The number.
    #[getter]
    fn value(&self) -> f64 {
        self.result.value()
    }
    /// Its standard uncertainty, or None where an atomic weight has none.
    #[getter]
    fn u(&self) -> Option<f64> {
        self.result.u()
    }
    /// The version of the atomic weights.
    #[getter]
    fn weights_version(&self) -> &str {
        self.result.weights_version()
    }
    /// Notes and warnings.
    #[getter]
    fn findings(&self) -> Vec<PyFinding> {
        findings(self.result.findings())
    }
    /// Which atomic weights the uncertainty comes from.
    fn budget(&self) -> PyBudget {
        let budget = self.result.budget();
        let table = budget.table(&self.name, "", 1.0);
        PyBudget { budget, table }
    }
    /// Value and uncertainty as an input.
    fn as_value(&self) -> Result<PyValue> {
        self.result.estimate().map(PyValue)
    }
    fn __float__(&self) -> f64 {
        self.result.value()
    }
    fn __repr__(&self) -> String {
        let (value, u) = crate::table::format_value(self.result.value(), self.result.u().unwrap_or(f64::NAN));
        format!("<{}: {value} u {u} ({})>", self.name, self.result.weights_version())
    }
}

/// A chemical formula: nested () and [], fractional counts, subscripts, parts joined by · or *.
#[pyclass(name = "Formula", module = "beadchem", frozen)]
#[derive(Clone)]
pub(super) struct PyFormula(Formula);

#[pymethods]
impl PyFormula {
    #[new]
    fn new(text: &str) -> Result<Self> {
        Formula::parse(text).map(Self)
    }
    /// The text as given.
    #[getter]
    fn text(&self) -> &str {
        self.0.text()
    }
    /// Number of atoms by symbol.
    #[getter]
    fn atoms(&self) -> BTreeMap<&'static str, f64> {
        self.0.atoms().iter().map(|(element, count)| (element.symbol(), *count)).collect()
    }
    /// What was assumed in reading.
    #[getter]
    fn findings(&self) -> Vec<PyFinding> {
        findings(self.0.findings())
    }
    /// Molar mass in g/mol with its uncertainty, from the weights of 2024; `molar_mass` takes others.
    #[getter]
    fn molar_mass(&self) -> Result<PyFromWeights> {
        molar_mass(self.0.text(), None)
    }
    fn __repr__(&self) -> String {
        format!("Formula({:?})", self.0.text())
    }
}

/// Molar mass in g/mol.
#[pyfunction]
#[pyo3(signature = (formula, *, weights=None))]
pub(super) fn molar_mass(formula: &str, weights: Option<&Bound<'_, PyWeights>>) -> Result<PyFromWeights> {
    let result = substance::molar_mass(formula, &weights_or_default(weights))?;
    Ok(PyFromWeights { result, name: format!("molar mass of {formula}, g/mol") })
}

/// Grams of `to` that one gram of `from_` makes, by the element they share (`via` where they share several).
#[pyfunction]
#[pyo3(signature = (from_, to, *, via=None, weights=None))]
pub(super) fn factor(
    from_: &str,
    to: &str,
    via: Option<&str>,
    weights: Option<&Bound<'_, PyWeights>>,
) -> Result<PyFromWeights> {
    let weights = weights_or_default(weights);
    let result = match via {
        Some(element) => substance::factor_via(from_, to, element, &weights)?,
        None => substance::factor(from_, to, &weights)?,
    };
    Ok(PyFromWeights { result, name: format!("{from_} -> {to}") })
}

/// Grams of oxygen to subtract per gram of `anion` where the metals of its `host` are counted as oxides.
#[pyfunction]
#[pyo3(signature = (host, anion, *, counted_as, weights=None))]
pub(super) fn oxygen_equivalent(
    host: &str,
    anion: &str,
    counted_as: Vec<String>,
    weights: Option<&Bound<'_, PyWeights>>,
) -> Result<PyFromWeights> {
    let oxides: Vec<&str> = counted_as.iter().map(String::as_str).collect();
    let result = substance::oxygen_equivalent(host, anion, &oxides, &weights_or_default(weights))?;
    Ok(PyFromWeights { result, name: format!("oxygen equivalent of {anion} in {host}") })
}
