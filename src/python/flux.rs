//! Flux lots and weighed flux.

use std::collections::BTreeMap;

use pyo3::prelude::*;
use pyo3::types::PyDict;

use crate::charge::{Flux, FluxLot};
use crate::composition::Unit;
use crate::document;
use crate::error::Result;
use crate::python::composition::percents;
use crate::python::rules::PyRules;
use crate::python::uncertainty::{Number, PyValue};

/// A lot of flux.
///
/// Parameters
/// ----------
/// name : str
/// blend : dict of str to float
///     Borates and carbonates in parts by mass.
/// programme : str
///     The fusion programme that the loss belongs to.
/// loss_percent : number or Value
///     Loss of the lot in that programme, % of the flux as weighed, without the carbon dioxide of its formula.
/// blanks_percent : dict of str to number or Value, optional
///     Analytes the flux brings, % of the fused flux.
#[pyclass(name = "FluxLot", module = "beadchem", frozen, eq)]
#[derive(Clone, PartialEq)]
pub(super) struct PyFluxLot(pub(super) FluxLot);

#[pymethods]
impl PyFluxLot {
    #[new]
    #[pyo3(signature = (name, blend, *, programme, loss_percent, blanks_percent=None))]
    fn new(
        name: String,
        blend: &Bound<'_, PyDict>,
        programme: String,
        loss_percent: Number,
        blanks_percent: Option<BTreeMap<String, Number>>,
    ) -> PyResult<Self> {
        let parts: Vec<(String, f64)> =
            blend.iter().map(|(species, part)| Ok((species.extract()?, part.extract()?))).collect::<PyResult<_>>()?;
        let parts = parts.iter().map(|(species, part)| (species.as_str(), *part));
        let loss = Unit::Percent.fraction_of(&loss_percent.estimate());
        let mut lot = FluxLot::new(name, parts, programme, loss)?;
        for (species, content) in percents(blanks_percent) {
            lot = lot.with_blank(&species, content)?;
        }
        Ok(Self(lot))
    }
    /// A weighed portion, g.
    fn weigh(&self, mass_g: Number) -> Result<PyFlux> {
        self.0.weigh_g(mass_g.estimate()).map(PyFlux)
    }
    /// Refuses a lot whose loss is outside the laboratory's limits.
    fn check(&self, rules: &PyRules) -> Result<()> {
        self.0.check(&rules.0)
    }
    /// The name of the lot.
    #[getter]
    fn name(&self) -> &str {
        self.0.name()
    }
    /// The fusion programme the loss belongs to.
    #[getter]
    fn programme(&self) -> &str {
        self.0.programme()
    }
    /// Shares by mass, adding up to 1.
    #[getter]
    fn blend(&self) -> BTreeMap<&str, f64> {
        self.0.blend().iter().map(|(species, share)| (species.text(), *share)).collect()
    }
    /// The loss, % of the flux as weighed.
    #[getter]
    fn loss_percent(&self) -> PyValue {
        PyValue(Unit::Percent.written_of(self.0.loss()))
    }
    /// The stored form.
    fn to_json(&self) -> Result<String> {
        document::to_json(&self.0)
    }
    /// Reads the stored form.
    #[staticmethod]
    fn from_json(text: &str) -> Result<Self> {
        document::from_json(text).map(Self)
    }
    /// SHA-256 of the canonical stored form.
    #[getter]
    fn digest(&self) -> Result<String> {
        document::digest(&self.0)
    }
    fn __repr__(&self) -> String {
        format!("<FluxLot {} ({}), loss {:?} %>", self.0.name(), self.0.programme(), self.loss_percent().0.value())
    }
}

/// A weighed portion of a lot; made by `FluxLot.weigh`.
#[pyclass(name = "Flux", module = "beadchem", frozen, eq)]
#[derive(Clone, PartialEq)]
pub(super) struct PyFlux(pub(super) Flux);

#[pymethods]
impl PyFlux {
    /// The lot.
    #[getter]
    fn lot(&self) -> PyFluxLot {
        PyFluxLot(self.0.lot().clone())
    }
    /// The mass as weighed, g.
    #[getter]
    fn mass_g(&self) -> PyValue {
        PyValue(self.0.mass_g().clone())
    }
    fn __repr__(&self) -> String {
        format!("<Flux {} g of lot {}>", self.0.mass_g().value(), self.0.lot().name())
    }
}
