//! The furnace: predicted and observed loss on ignition.

use std::collections::BTreeMap;

use pyo3::prelude::*;

use crate::charge::{Explained, Fate, Ignition, LossOnFusion, PredictedLoss};
use crate::composition::{Atmosphere, Unit};
use crate::error::Result;
use crate::python::charge::PyFate;
use crate::python::composition::PyComposition;
use crate::python::convert::{PyFinding, findings};
use crate::python::drying::PyLossOnIgnition;
use crate::python::substance::{PyWeights, weights_or_default};
use crate::python::uncertainty::{PyBudget, PyValue, short};

/// How a powder is ignited.
///
/// Parameters
/// ----------
/// temperature_c : float
/// atmosphere : str
///     "air", "oxygen" or "inert".
/// fate : Fate, optional
///     What sulfur, halogens, manganese and their like become in the furnace.
#[pyclass(name = "Ignition", module = "beadchem", frozen, eq)]
#[derive(Clone, PartialEq)]
pub(super) struct PyIgnition {
    ignition: Ignition,
    temperature_c: f64,
}

fn percent(fraction: f64) -> f64 {
    Unit::Percent.written(fraction)
}

#[pymethods]
impl PyIgnition {
    #[new]
    #[pyo3(signature = (temperature_c, *, atmosphere="air", fate=None))]
    fn new(temperature_c: f64, atmosphere: &str, fate: Option<&PyFate>) -> Result<Self> {
        let fate = fate.map_or_else(Fate::new, |fate| fate.0.clone());
        let ignition = Ignition::new(temperature_c, Atmosphere::from_word(atmosphere)?, fate)?;
        Ok(Self { ignition, temperature_c })
    }
    /// The signed loss that a dried powder of these species shows, species by species.
    #[pyo3(signature = (composition, *, weights=None))]
    fn predict(&self, composition: &PyComposition, weights: Option<&Bound<'_, PyWeights>>) -> Result<PyPredictedLoss> {
        let predicted = self.ignition.predict(&composition.0, &weights_or_default(weights))?;
        Ok(PyPredictedLoss { predicted })
    }
    /// An observed loss as a loss on fusion, from what behaves differently in furnace and fusion.
    #[pyo3(signature = (observed, composition, fate, *, weights=None))]
    fn to_fusion(
        &self,
        observed: &PyLossOnIgnition,
        composition: &PyComposition,
        fate: &PyFate,
        weights: Option<&Bound<'_, PyWeights>>,
    ) -> Result<PyLossOnFusion> {
        let weights = weights_or_default(weights);
        self.ignition.to_fusion(&observed.0, &composition.0, &fate.0, &weights).map(PyLossOnFusion)
    }
    fn __repr__(&self) -> String {
        format!("<Ignition at {} C>", self.temperature_c)
    }
}

/// The loss that a composition predicts; made by `Ignition.predict`.
#[pyclass(name = "PredictedLoss", module = "beadchem", frozen)]
pub(super) struct PyPredictedLoss {
    predicted: PredictedLoss,
}

#[pymethods]
impl PyPredictedLoss {
    /// Signed loss, % of the dried powder.
    #[getter]
    fn loss_percent(&self) -> f64 {
        percent(self.predicted.loss())
    }
    /// Its standard uncertainty, %.
    #[getter]
    fn u_percent(&self) -> f64 {
        percent(self.predicted.u())
    }
    /// Oxygen taken up, %.
    #[getter]
    fn gained_percent(&self) -> f64 {
        percent(self.predicted.gained())
    }
    /// By species, %: (content, left, oxygen taken up, part of the loss).
    #[getter]
    fn lines_percent(&self) -> BTreeMap<String, (f64, f64, f64, f64)> {
        let lines = self.predicted.lines().iter();
        lines
            .map(|l| (l.species.clone(), (percent(l.content), percent(l.lost), percent(l.gained), percent(l.net))))
            .collect()
    }
    /// The gases that left, %.
    #[getter]
    fn gases_percent(&self) -> BTreeMap<String, f64> {
        self.predicted.gases().iter().map(|gas| (gas.gas.clone(), percent(gas.content))).collect()
    }
    /// An observed loss against this one.
    #[pyo3(signature = (observed, *, k))]
    fn explain(&self, observed: &PyLossOnIgnition, k: f64) -> Result<PyExplained> {
        self.predicted.explain(&observed.0, k).map(PyExplained)
    }
    /// Where the uncertainty of the loss comes from.
    fn budget(&self) -> PyBudget {
        let (budget, unit) = (self.predicted.budget(), Unit::Percent);
        let table = budget.table("Budget of the predicted loss", unit.word(), unit.per_one());
        PyBudget { budget, table }
    }
    /// What was assumed.
    #[getter]
    fn findings(&self) -> Vec<PyFinding> {
        findings(self.predicted.findings())
    }
    fn __repr__(&self) -> String {
        self.predicted.table().to_string()
    }
    fn _repr_html_(&self) -> String {
        self.predicted.table().to_html()
    }
}

/// An observed loss held against a predicted one.
#[pyclass(name = "Explained", module = "beadchem", frozen)]
pub(super) struct PyExplained(Explained);

#[pymethods]
impl PyExplained {
    /// As observed, %.
    #[getter]
    fn observed_percent(&self) -> f64 {
        percent(self.0.observed)
    }
    /// As predicted, %.
    #[getter]
    fn predicted_percent(&self) -> f64 {
        percent(self.0.predicted)
    }
    /// Observed less predicted, %.
    #[getter]
    fn difference_percent(&self) -> f64 {
        percent(self.0.difference)
    }
    /// Standard uncertainty of the difference, %.
    #[getter]
    fn u_percent(&self) -> f64 {
        percent(self.0.u)
    }
    /// What really left, %.
    #[getter]
    fn volatile_percent(&self) -> f64 {
        percent(self.0.volatile)
    }
    /// Its standard uncertainty, %.
    #[getter]
    fn u_volatile_percent(&self) -> f64 {
        percent(self.0.u_volatile)
    }
    /// `loss.differs` where the difference is more than k u.
    #[getter]
    fn findings(&self) -> Vec<PyFinding> {
        findings(&self.0.findings)
    }
    fn __repr__(&self) -> String {
        format!("<Explained: {:.3} % left, {:.3} % observed>", self.volatile_percent(), self.observed_percent())
    }
}

/// A loss in the furnace carried over to the fusion; made by `Ignition.to_fusion`.
#[pyclass(name = "LossOnFusion", module = "beadchem", frozen)]
pub(super) struct PyLossOnFusion(LossOnFusion);

#[pymethods]
impl PyLossOnFusion {
    /// Signed loss on fusion, % of the dried powder.
    #[getter]
    fn loss_percent(&self) -> PyValue {
        PyValue(Unit::Percent.written_of(&self.0.loss))
    }
    /// What the fusion loses beyond the furnace, %.
    #[getter]
    fn beyond_furnace_percent(&self) -> f64 {
        percent(self.0.beyond_furnace)
    }
    /// Where its uncertainty comes from.
    fn budget(&self) -> PyBudget {
        let unit = Unit::Percent;
        let table = self.0.budget.table("Budget of the loss on fusion", unit.word(), unit.per_one());
        PyBudget { budget: self.0.budget.clone(), table }
    }
    /// What was assumed.
    #[getter]
    fn findings(&self) -> Vec<PyFinding> {
        findings(&self.0.findings)
    }
    fn __repr__(&self) -> String {
        format!("<LossOnFusion {} %>", short(&self.0.loss, Unit::Percent))
    }
}
