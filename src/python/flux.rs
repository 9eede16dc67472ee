//! Flux lots and weighed flux.

use std::collections::BTreeMap;

use pyo3::prelude::*;
use pyo3::types::PyDict;

use crate::charge::{Flux, FluxLot, LossTest, LotChange};
use crate::composition::Unit;
use crate::document;
use crate::error::Result;
use crate::python::composition::percents;
use crate::python::rules::PyRules;
use crate::python::substance::{PyWeights, weights_or_default};
use crate::python::uncertainty::{Number, PyBudget, PyValue, short};

/// How the loss of a flux lot in one fusion programme was found. Make one with `stated` or `weighed`.
#[pyclass(name = "LossTest", module = "beadchem", frozen, eq)]
#[derive(Clone, PartialEq)]
pub(super) struct PyLossTest(LossTest);

fn described(test: LossTest, whole: bool, date: Option<String>, note: Option<String>) -> Result<PyLossTest> {
    let mut test = if whole { test.including_formula() } else { test };
    if let Some(date) = date {
        test = test.dated(date)?;
    }
    if let Some(note) = note {
        test = test.with_note(note);
    }
    Ok(PyLossTest(test))
}

#[pymethods]
impl PyLossTest {
    /// A loss found elsewhere, % of the flux as weighed. `includes_formula`: what carbonates give off by their formula is
    /// in it, as where flux is fused alone. `date` as "2026-03-04".
    #[staticmethod]
    #[pyo3(signature = (loss_percent, *, includes_formula=false, date=None, note=None))]
    fn stated(
        loss_percent: Number,
        includes_formula: bool,
        date: Option<String>,
        note: Option<String>,
    ) -> Result<Self> {
        let loss = Unit::Percent.fraction_of(&loss_percent.estimate());
        described(LossTest::stated(loss)?, includes_formula, date, note)
    }
    /// The mean of two or more replicates of flux fused alone, each (mass before, mass after) in g.
    #[staticmethod]
    #[pyo3(signature = (replicates_g, *, includes_formula=false, date=None, note=None))]
    fn weighed(
        replicates_g: Vec<(f64, f64)>,
        includes_formula: bool,
        date: Option<String>,
        note: Option<String>,
    ) -> Result<Self> {
        described(LossTest::weighed(&replicates_g)?, includes_formula, date, note)
    }
    /// The loss, % of the flux as weighed.
    #[getter]
    fn loss_percent(&self) -> PyValue {
        PyValue(Unit::Percent.written_of(self.0.loss()))
    }
    /// The replicates as (before, after), g.
    #[getter]
    fn replicates_g(&self) -> Vec<(f64, f64)> {
        self.0.replicates().to_vec()
    }
    /// True where what the formulas of the blend give off is in the loss.
    #[getter]
    fn includes_formula(&self) -> bool {
        self.0.includes_formula()
    }
    /// The date of the test, or None.
    #[getter]
    fn date(&self) -> Option<&str> {
        self.0.date()
    }
    /// The note, or None.
    #[getter]
    fn note(&self) -> Option<&str> {
        self.0.note()
    }
    fn __repr__(&self) -> String {
        format!("<LossTest {} %>", short(self.0.loss(), Unit::Percent))
    }
}

/// A loss in %, or a test of it.
pub(super) enum Loss {
    Stated(Number),
    Tested(PyLossTest),
}

impl<'py> FromPyObject<'_, 'py> for Loss {
    type Error = PyErr;
    fn extract(object: Borrowed<'_, 'py, PyAny>) -> PyResult<Self> {
        match object.cast::<PyLossTest>() {
            Ok(test) => Ok(Loss::Tested(test.get().clone())),
            Err(_) => object.extract::<Number>().map(Loss::Stated),
        }
    }
}

impl Loss {
    fn test(self) -> LossTest {
        match self {
            Loss::Stated(number) => Unit::Percent.fraction_of(&number.estimate()).into(),
            Loss::Tested(test) => test.0,
        }
    }
}

/// A lot of flux.
///
/// Parameters
/// ----------
/// name : str
/// blend : dict of str to float
///     Borates and carbonates in parts by mass.
/// programme : str
///     The fusion programme that the loss belongs to.
/// loss_percent : number, Value or LossTest
///     Loss of the lot in that programme, % of the flux as weighed, without the carbon dioxide of its formula; a LossTest
///     says whether that is in it.
/// purity_percent : dict of str to number or Value, optional
///     Share of a part of the blend that is its formula, %; a part not named is taken as pure.
/// blanks_percent : dict of str to number or Value, optional
///     Analytes the flux brings, % of the fused flux.
#[pyclass(name = "FluxLot", module = "beadchem", frozen, eq)]
#[derive(Clone, PartialEq)]
pub(super) struct PyFluxLot(pub(super) FluxLot);

#[pymethods]
impl PyFluxLot {
    #[new]
    #[pyo3(signature = (name, blend, *, programme, loss_percent, purity_percent=None, blanks_percent=None))]
    fn new(
        name: String,
        blend: &Bound<'_, PyDict>,
        programme: String,
        loss_percent: Loss,
        purity_percent: Option<BTreeMap<String, Number>>,
        blanks_percent: Option<BTreeMap<String, Number>>,
    ) -> PyResult<Self> {
        let parts: Vec<(String, f64)> =
            blend.iter().map(|(species, part)| Ok((species.extract()?, part.extract()?))).collect::<PyResult<_>>()?;
        let parts = parts.iter().map(|(species, part)| (species.as_str(), *part));
        let mut lot = FluxLot::new(name, parts, programme, loss_percent.test())?;
        for (species, purity) in percents(purity_percent) {
            lot = lot.with_purity(&species, purity)?;
        }
        for (species, content) in percents(blanks_percent) {
            lot = lot.with_blank(&species, content)?;
        }
        Ok(Self(lot))
    }
    /// A weighed portion, g.
    fn weigh(&self, mass_g: Number) -> Result<PyFlux> {
        self.0.weigh_g(mass_g.estimate()).map(PyFlux)
    }
    /// Refuses a lot whose loss, beside what its formulas give off, is outside the laboratory's limits.
    #[pyo3(signature = (rules, *, weights=None))]
    fn check(&self, rules: &PyRules, weights: Option<&Bound<'_, PyWeights>>) -> Result<()> {
        self.0.check(&rules.0, &weights_or_default(weights))
    }
    /// The lot with the loss in a further fusion programme: a number or Value in %, or a LossTest.
    fn with_programme(&self, programme: String, loss_percent: Loss) -> Result<Self> {
        self.0.clone().with_programme(programme, loss_percent.test()).map(Self)
    }
    /// The lot as it is in one of its fusion programmes.
    fn for_programme(&self, programme: &str) -> Result<Self> {
        self.0.for_programme(programme).map(Self)
    }
    /// What the formulas of the blend give off in fusion, % of the blend.
    #[pyo3(signature = (*, weights=None))]
    fn stoichiometric_loss_percent(&self, weights: Option<&Bound<'_, PyWeights>>) -> Result<PyValue> {
        self.0.stoichiometric_loss(&weights_or_default(weights)).map(|loss| PyValue(Unit::Percent.written_of(&loss)))
    }
    /// The loss of the lot beside what its formulas give off, % of the flux as weighed.
    #[pyo3(signature = (*, weights=None))]
    fn lot_loss_percent(&self, weights: Option<&Bound<'_, PyWeights>>) -> Result<PyValue> {
        self.0.lot_loss(&weights_or_default(weights)).map(|loss| PyValue(Unit::Percent.written_of(&loss)))
    }
    /// Moles of Li2O per mole of B2O3 in the blend.
    #[pyo3(signature = (*, weights=None))]
    fn li2o_to_b2o3(&self, weights: Option<&Bound<'_, PyWeights>>) -> Result<PyValue> {
        self.0.li2o_to_b2o3(&weights_or_default(weights)).map(PyValue)
    }
    /// What to weigh out, g, so that the flux after all its losses has this mass.
    #[pyo3(signature = (target_fused_g, *, weights=None))]
    fn corrected_mass_g(&self, target_fused_g: f64, weights: Option<&Bound<'_, PyWeights>>) -> Result<PyValue> {
        self.0.corrected_mass_g(target_fused_g, &weights_or_default(weights)).map(PyValue)
    }
    /// Purities of the parts of the blend, %; parts taken as pure are left out.
    #[getter]
    fn purity_percent(&self) -> BTreeMap<&str, PyValue> {
        let parts = self.0.blend().iter().enumerate();
        parts
            .filter_map(|(part, (species, _))| Some((species.text(), self.0.purity(part)?)))
            .map(|(species, purity)| (species, PyValue(Unit::Percent.written_of(purity))))
            .collect()
    }
    /// The fusion programmes with the tests of their losses.
    #[getter]
    fn programmes(&self) -> BTreeMap<&str, PyLossTest> {
        self.0.programmes().iter().map(|(programme, test)| (programme.as_str(), PyLossTest(test.clone()))).collect()
    }
    /// The name of the lot.
    #[getter]
    fn name(&self) -> &str {
        self.0.name()
    }
    /// The fusion programme the loss belongs to; the first of several.
    #[getter]
    fn programme(&self) -> &str {
        self.0.programme()
    }
    /// Shares by mass, adding up to 1.
    #[getter]
    fn blend(&self) -> BTreeMap<&str, f64> {
        self.0.blend().iter().map(|(species, share)| (species.text(), *share)).collect()
    }
    /// The loss in that programme as tested, % of the flux as weighed.
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
        format!("<FluxLot {} ({}), loss {} %>", self.0.name(), self.0.programme(), short(self.0.loss(), Unit::Percent))
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

/// The factor for results computed with another flux lot; made by `Melt.lot_change`.
#[pyclass(name = "LotChange", module = "beadchem", frozen)]
pub(super) struct PyLotChange(pub(super) LotChange);

#[pymethods]
impl PyLotChange {
    /// What results computed with the old lot are multiplied by.
    #[getter]
    fn factor(&self) -> f64 {
        self.0.factor()
    }
    /// Its standard uncertainty; a lower bound where `unstated` names anything.
    #[getter]
    fn u(&self) -> f64 {
        self.0.u()
    }
    /// Inputs that move it and have no uncertainty stated.
    #[getter]
    fn unstated(&self) -> Vec<&str> {
        self.0.unstated()
    }
    /// "intensities", "glass fractions" or "whole melt".
    #[getter]
    fn evaluation(&self) -> &'static str {
        self.0.evaluation().word()
    }
    /// False where it is of first order only.
    #[getter]
    fn exact(&self) -> bool {
        self.0.exact()
    }
    /// The factor with everything that must be said beside it.
    #[getter]
    fn text(&self) -> String {
        self.0.text()
    }
    /// Where its uncertainty comes from.
    fn budget(&self) -> PyBudget {
        let budget = self.0.budget();
        let table = budget.table("Budget of the lot-change factor", "", 1.0);
        PyBudget { budget, table }
    }
    fn __repr__(&self) -> String {
        self.0.text()
    }
}
