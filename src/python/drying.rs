//! Moisture by drying, loss on ignition by weighing.

use pyo3::prelude::*;

use crate::composition::{Atmosphere, ConstantMass, Drying, IgnitionWeighing, LossOnIgnition, Moisture, Unit};
use crate::error::{Error, Result};
use crate::python::convert::{PyFinding, findings};
use crate::python::uncertainty::{Number, PyBudget, PyValue, short};

/// A pan with moist powder and its mass after each step of drying.
///
/// Parameters
/// ----------
/// pan_g, with_moist_g : number or Value
///     The pan, and the pan with moist powder, g. A tared pan weighs 0.
/// temperature_c : float
#[pyclass(name = "Drying", module = "beadchem", frozen, eq)]
#[derive(Clone, PartialEq)]
pub(super) struct PyDrying(Drying);

#[pymethods]
impl PyDrying {
    #[new]
    #[pyo3(signature = (pan_g, with_moist_g, *, temperature_c))]
    fn new(pan_g: Number, with_moist_g: Number, temperature_c: f64) -> Result<Self> {
        Drying::new(pan_g.estimate(), with_moist_g.estimate(), temperature_c).map(Self)
    }
    /// With the pan and powder after a further step, g, and how many minutes it was.
    #[pyo3(signature = (with_dried_g, *, minutes=None))]
    fn step(&self, with_dried_g: Number, minutes: Option<f64>) -> Result<Self> {
        let (drying, mass) = (self.0.clone(), with_dried_g.estimate());
        match minutes {
            Some(minutes) => drying.step_of(minutes, mass).map(Self),
            None => drying.step(mass).map(Self),
        }
    }
    /// The moisture once the mass is constant by the laboratory's rule: the last step changed it by no more than
    /// `limit_percent` of the moist sample or `limit_g`, and lasted at least `least_minutes` where that is given.
    #[pyo3(signature = (*, k, limit_percent=None, limit_g=None, least_minutes=None))]
    fn moisture(
        &self,
        k: f64,
        limit_percent: Option<f64>,
        limit_g: Option<f64>,
        least_minutes: Option<f64>,
    ) -> Result<PyMoisture> {
        let rule = match (limit_percent, limit_g) {
            (Some(percent), None) => ConstantMass::within_share(Unit::Percent.fraction(percent))?,
            (None, Some(grams)) => ConstantMass::within_grams(grams)?,
            _ => {
                return Err(Error::Unstated {
                    code: crate::code::Code::RuleUnstated,
                    quantity: "The rule for constant mass".to_owned(),
                    hint: "Give limit_percent or limit_g, one of the two.".to_owned(),
                });
            }
        };
        let rule = match least_minutes {
            Some(minutes) => rule.after_at_least(minutes)?,
            None => rule,
        };
        self.0.moisture(&rule, k).map(PyMoisture)
    }
    /// The temperature, C.
    #[getter]
    fn temperature_c(&self) -> f64 {
        self.0.temperature_c()
    }
    fn __repr__(&self) -> String {
        self.0.table().to_string()
    }
    fn _repr_html_(&self) -> String {
        self.0.table().to_html()
    }
    /// The drying curve as CSV.
    fn to_csv(&self) -> String {
        self.0.table().to_csv()
    }
}

/// A moisture from drying to constant mass; made by `Drying.moisture`.
#[pyclass(name = "Moisture", module = "beadchem", frozen)]
pub(super) struct PyMoisture(Moisture);

#[pymethods]
impl PyMoisture {
    /// The moisture, % of the moist material.
    #[getter]
    fn percent(&self) -> Result<PyValue> {
        self.0.estimate().map(|moisture| PyValue(Unit::Percent.written_of(&moisture)))
    }
    /// How many steps of drying were weighed.
    #[getter]
    fn steps(&self) -> usize {
        self.0.steps()
    }
    /// By how much the last step changed the mass, g, without sign.
    #[getter]
    fn last_change_g(&self) -> f64 {
        self.0.last_change_g()
    }
    /// Rises between two steps by more than k u.
    #[getter]
    fn findings(&self) -> Vec<PyFinding> {
        findings(self.0.findings())
    }
    /// Where its uncertainty comes from, in %.
    fn budget(&self) -> PyBudget {
        percent_budget(self.0.budget(), "Budget of the moisture")
    }
    fn __repr__(&self) -> String {
        format!("<Moisture after {} steps>", self.0.steps())
    }
}

fn percent_budget(budget: crate::uncertainty::Budget, title: &str) -> PyBudget {
    let table = budget.table(title, Unit::Percent.word(), Unit::Percent.per_one());
    PyBudget { budget, table }
}

/// A signed loss on ignition with what it was found under.
///
/// Parameters
/// ----------
/// loss_percent : number or Value
///     % of the dried powder; a gain is negative.
/// temperature_c : float
/// minutes : float, optional
///     Time at temperature.
/// atmosphere : str, optional
///     "air", "oxygen" or "inert".
/// method : str, optional
#[pyclass(name = "LossOnIgnition", module = "beadchem", frozen, eq)]
#[derive(Clone, PartialEq)]
pub(super) struct PyLossOnIgnition(pub(super) LossOnIgnition);

fn described(
    loss: LossOnIgnition,
    minutes: Option<f64>,
    atmosphere: Option<&str>,
    method: Option<String>,
) -> Result<PyLossOnIgnition> {
    let mut loss = loss;
    if let Some(minutes) = minutes {
        loss = loss.with_minutes(minutes)?;
    }
    if let Some(word) = atmosphere {
        loss = loss.with_atmosphere(Atmosphere::from_word(word)?);
    }
    if let Some(method) = method {
        loss = loss.with_method(method);
    }
    Ok(PyLossOnIgnition(loss))
}

#[pymethods]
impl PyLossOnIgnition {
    #[new]
    #[pyo3(signature = (loss_percent, *, temperature_c, minutes=None, atmosphere=None, method=None))]
    fn new(
        loss_percent: Number,
        temperature_c: f64,
        minutes: Option<f64>,
        atmosphere: Option<&str>,
        method: Option<String>,
    ) -> Result<Self> {
        let loss = LossOnIgnition::new(Unit::Percent.fraction_of(&loss_percent.estimate()), temperature_c)?;
        described(loss, minutes, atmosphere, method)
    }
    /// The loss, % of the dried powder.
    #[getter]
    fn loss_percent(&self) -> PyValue {
        PyValue(Unit::Percent.written_of(self.0.loss()))
    }
    /// The temperature, C.
    #[getter]
    fn temperature_c(&self) -> f64 {
        self.0.temperature_c()
    }
    /// The time at temperature, min, or None.
    #[getter]
    fn minutes(&self) -> Option<f64> {
        self.0.minutes()
    }
    /// "air", "oxygen", "inert", or None.
    #[getter]
    fn atmosphere(&self) -> Option<&'static str> {
        self.0.atmosphere().map(Atmosphere::word)
    }
    /// The method, or None.
    #[getter]
    fn method(&self) -> Option<&str> {
        self.0.method()
    }
    fn __repr__(&self) -> String {
        format!("<LossOnIgnition {} % at {} C>", short(self.0.loss(), Unit::Percent), self.0.temperature_c())
    }
}

/// Three weighings of one crucible, g: empty, with dried powder, after ignition.
///
/// Parameters
/// ----------
/// crucible_g, with_dried_g, with_ignited_g : number or Value
/// temperature_c : float
/// repeatability_percent : float, optional
///     Standard deviation of repeated determinations, % of the dried powder.
/// regain_allowance_percent : float, optional
///     Standard uncertainty for what the residue takes up before it is weighed, % of the dried powder.
#[pyclass(name = "IgnitionWeighing", module = "beadchem", frozen, eq)]
#[derive(Clone, PartialEq)]
pub(super) struct PyIgnitionWeighing(IgnitionWeighing);

#[pymethods]
impl PyIgnitionWeighing {
    #[new]
    #[pyo3(signature = (*, crucible_g, with_dried_g, with_ignited_g, temperature_c, repeatability_percent=None, regain_allowance_percent=None))]
    fn new(
        crucible_g: Number,
        with_dried_g: Number,
        with_ignited_g: Number,
        temperature_c: f64,
        repeatability_percent: Option<f64>,
        regain_allowance_percent: Option<f64>,
    ) -> Result<Self> {
        let (crucible, dried, ignited) = (crucible_g.estimate(), with_dried_g.estimate(), with_ignited_g.estimate());
        let mut weighing = IgnitionWeighing::new(crucible, dried, ignited, temperature_c)?;
        if let Some(u) = repeatability_percent {
            weighing = weighing.repeatability(Unit::Percent.fraction(u))?;
        }
        if let Some(u) = regain_allowance_percent {
            weighing = weighing.regain_allowance(Unit::Percent.fraction(u))?;
        }
        Ok(Self(weighing))
    }
    /// The loss with what it was found under.
    #[pyo3(signature = (*, minutes=None, atmosphere=None, method=None))]
    fn loss_on_ignition(
        &self,
        minutes: Option<f64>,
        atmosphere: Option<&str>,
        method: Option<String>,
    ) -> Result<PyLossOnIgnition> {
        described(self.0.loss_on_ignition()?, minutes, atmosphere, method)
    }
    /// Where its uncertainty comes from, in %.
    fn budget(&self) -> Result<PyBudget> {
        Ok(percent_budget(self.0.budget()?, "Budget of the loss on ignition"))
    }
}
