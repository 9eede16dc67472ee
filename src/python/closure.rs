//! Declared forms, results from elsewhere and the closure ledger.

use std::collections::BTreeMap;

use pyo3::prelude::*;
use pyo3::types::{PyDict, PyDictMethods};

use crate::composition::{Basis, Closure, ClosureOrder, ElementForms, External, Unit};
use crate::error::Result;
use crate::python::composition::{PyComposition, PyLinks, cell};
use crate::python::convert::{PyFinding, findings};
use crate::python::drying::PyLossOnIgnition;
use crate::python::substance::{PyWeights, weights_or_default};
use crate::python::uncertainty::{Number, PyBudget, PyValue};

/// Several forms of one element, no atom in two of them; made by `split` or `apart`.
#[pyclass(name = "ElementForms", module = "beadchem", frozen)]
pub(super) struct PyElementForms(ElementForms);

/// Species with their contents in a unit, in the order of the dict.
fn contents(parts: &Bound<'_, PyDict>, unit: Unit) -> PyResult<Vec<(String, crate::uncertainty::Estimate)>> {
    let part = |(species, number): (Bound<'_, PyAny>, Bound<'_, PyAny>)| {
        Ok((species.extract()?, unit.fraction_of(&number.extract::<Number>()?.estimate())))
    };
    parts.iter().map(part).collect()
}

#[pymethods]
impl PyElementForms {
    /// A total written as one species, the forms determined apart, and the form of what is left.
    #[staticmethod]
    #[pyo3(signature = (total, content, parts, rest, *, unit="%", weights=None))]
    fn split(
        total: &str,
        content: Number,
        parts: &Bound<'_, PyDict>,
        rest: &str,
        unit: &str,
        weights: Option<&Bound<'_, PyWeights>>,
    ) -> PyResult<Self> {
        let unit = Unit::from_word(unit)?;
        let parts = contents(parts, unit)?;
        let parts: Vec<_> = parts.iter().map(|(species, content)| (species.as_str(), content.clone())).collect();
        let content = unit.fraction_of(&content.estimate());
        Ok(Self(ElementForms::split(total, content, &parts, rest, &weights_or_default(weights))?))
    }
    /// Forms that were all determined.
    #[staticmethod]
    #[pyo3(signature = (parts, *, unit="%", weights=None))]
    fn apart(parts: &Bound<'_, PyDict>, unit: &str, weights: Option<&Bound<'_, PyWeights>>) -> PyResult<Self> {
        let parts = contents(parts, Unit::from_word(unit)?)?;
        let parts: Vec<_> = parts.iter().map(|(species, content)| (species.as_str(), content.clone())).collect();
        Ok(Self(ElementForms::apart(&parts, &weights_or_default(weights))?))
    }
    /// The forms in order.
    #[getter]
    fn species(&self) -> Vec<&str> {
        self.0.species()
    }
    /// The content of a form in a unit.
    #[pyo3(signature = (species, *, unit="%"))]
    fn value(&self, species: &str, unit: &str) -> Result<f64> {
        Ok(Unit::from_word(unit)?.written(self.0.value(species)?))
    }
    /// Its standard uncertainty in a unit.
    #[pyo3(signature = (species, *, unit="%"))]
    fn u(&self, species: &str, unit: &str) -> Result<f64> {
        Ok(Unit::from_word(unit)?.written(self.0.u(species)?))
    }
    /// All forms together written as one species.
    #[pyo3(signature = (species, *, unit="%", weights=None))]
    fn total_as(&self, species: &str, unit: &str, weights: Option<&Bound<'_, PyWeights>>) -> Result<PyValue> {
        let unit = Unit::from_word(unit)?;
        Ok(PyValue(unit.written_of(&self.0.total_as(species, &weights_or_default(weights))?)))
    }
    /// A composition with the forms added, each as a form of its own.
    fn added_to(&self, composition: &PyComposition) -> Result<PyComposition> {
        self.0.added_to(composition.0.clone()).map(PyComposition)
    }
    fn __repr__(&self) -> String {
        format!("<ElementForms {}>", self.0.species().join(", "))
    }
}

/// A result from elsewhere.
///
/// Parameters
/// ----------
/// species : str
/// content : number, Value, Below, "absent" or "unknown"
/// basis : str
///     The basis it was found on.
/// method : str
/// date : str, optional
/// unit : str
#[pyclass(name = "External", module = "beadchem", frozen, eq)]
#[derive(Clone, PartialEq)]
pub(super) struct PyExternal(pub(super) External);

#[pymethods]
impl PyExternal {
    #[new]
    #[pyo3(signature = (species, content, *, basis, method, date=None, unit="%"))]
    pub(super) fn new(
        species: &str,
        content: &Bound<'_, PyAny>,
        basis: &str,
        method: String,
        date: Option<String>,
        unit: &str,
    ) -> PyResult<Self> {
        let cell = cell(content, Unit::from_word(unit)?)?;
        let external = External::new(species, cell, Basis::parse(basis)?, method)?;
        Ok(Self(match date {
            Some(date) => external.dated(date),
            None => external,
        }))
    }
    /// The method.
    #[getter]
    fn method(&self) -> &str {
        self.0.method()
    }
    /// The date, or None.
    #[getter]
    fn date(&self) -> Option<&str> {
        self.0.date()
    }
    fn __repr__(&self) -> String {
        format!("<External {} by {}>", self.0.species(), self.0.method())
    }
}

/// What a total counts, and as what.
///
/// Parameters
/// ----------
/// loss_on_ignition : LossOnIgnition, optional
///     Signed loss of the dried powder; a gain is negative.
/// draft_loss_percent : number or Value, optional
///     A loss whose temperature is not known, %: enough for a draft, refused in a report.
/// links : BasisLinks, optional
///     What leads results from elsewhere to the basis of the total.
/// left_in_furnace : dict of str to number or Value, optional
///     Share of a species that left in the furnace: 1 is inside the loss, 0 counts beside it.
/// counted_as : list of str
///     Oxides as which elements are counted whatever they were read as ("Mn3O4").
/// hosts : dict of str to (str, list of str), optional
///     The mineral an anion sits in, and the oxides its metals are counted as: {"S": ("FeS2", ["Fe2O3"])}.
/// without_oxygen_equivalent : list of str
///     Anions for which no oxygen is taken off.
/// externals : list of External
#[pyclass(name = "ClosureOrder", module = "beadchem", frozen, eq)]
#[derive(Clone, PartialEq)]
pub(super) struct PyClosureOrder(pub(super) ClosureOrder);

#[pymethods]
impl PyClosureOrder {
    #[new]
    #[pyo3(signature = (*, loss_on_ignition=None, draft_loss_percent=None, links=None, left_in_furnace=None, counted_as=Vec::new(), hosts=None, without_oxygen_equivalent=Vec::new(), externals=Vec::new()))]
    #[expect(clippy::too_many_arguments, reason = "keywords of the constructor")]
    fn new(
        loss_on_ignition: Option<&PyLossOnIgnition>,
        draft_loss_percent: Option<Number>,
        links: Option<&PyLinks>,
        left_in_furnace: Option<BTreeMap<String, Number>>,
        counted_as: Vec<String>,
        hosts: Option<BTreeMap<String, (String, Vec<String>)>>,
        without_oxygen_equivalent: Vec<String>,
        externals: Vec<PyRef<'_, PyExternal>>,
    ) -> Result<Self> {
        let mut order = ClosureOrder::new();
        if let Some(loss) = draft_loss_percent {
            order = order.draft_loss(Unit::Percent.fraction_of(&loss.estimate()))?;
        }
        if let Some(loss) = loss_on_ignition {
            order = order.loss(&loss.0);
        }
        if let Some(links) = links {
            order = order.links(&links.0);
        }
        for (species, share) in left_in_furnace.unwrap_or_default() {
            order = order.left_in_furnace(&species, share.estimate())?;
        }
        for species in counted_as {
            order = order.counted_as(&species)?;
        }
        for (element, (host, oxides)) in hosts.unwrap_or_default() {
            let oxides: Vec<&str> = oxides.iter().map(String::as_str).collect();
            order = order.host(&element, &host, &oxides)?;
        }
        for element in without_oxygen_equivalent {
            order = order.without_oxygen_equivalent(&element)?;
        }
        Ok(Self(externals.iter().fold(order, |order, external| order.external(external.0.clone()))))
    }
    fn __repr__(&self) -> String {
        "<ClosureOrder>".to_owned()
    }
}

/// One line of a closure.
#[pyclass(name = "ClosureLine", module = "beadchem", frozen, get_all)]
pub(super) struct PyClosureLine {
    /// What was found.
    species: String,
    /// As what it is counted.
    counted_as: String,
    /// How it enters: "counted here", "already inside the loss", ...
    how: &'static str,
    /// What it adds to the total, %.
    contribution_percent: f64,
    /// Standard uncertainty of that, %.
    u_percent: f64,
    /// Method and date of a result from elsewhere.
    source: String,
}

/// A total line by line; made by `closure` of a composition or a result.
#[pyclass(name = "Closure", module = "beadchem", frozen)]
pub(super) struct PyClosure(pub(super) Closure);

fn percent(estimate: Option<crate::uncertainty::Estimate>) -> Option<PyValue> {
    estimate.map(|estimate| PyValue(Unit::Percent.written_of(&estimate)))
}

#[pymethods]
impl PyClosure {
    /// The total, %; None where a species was found by difference.
    #[getter]
    fn total_percent(&self) -> Option<PyValue> {
        percent(self.0.total())
    }
    /// The sum without the loss, %.
    #[getter]
    fn without_loss_percent(&self) -> Option<PyValue> {
        percent(Some(self.0.without_loss()))
    }
    /// For a carbonate rock: the loss less what carbonates and stated water can give off, %; else None.
    #[getter]
    fn above_carbonate_ceiling_percent(&self) -> Option<PyValue> {
        percent(self.0.above_carbonate_ceiling())
    }
    /// The loss that the lines lead to expect, %; None where no loss is counted.
    #[getter]
    fn expected_loss_percent(&self) -> Option<PyValue> {
        percent(self.0.expected_loss())
    }
    /// What the total refers to.
    #[getter]
    fn basis(&self) -> String {
        self.0.basis().to_string()
    }
    /// Line by line.
    #[getter]
    fn lines(&self) -> Vec<PyClosureLine> {
        let lines = self.0.lines().iter().map(|line| PyClosureLine {
            species: line.species.clone(),
            counted_as: line.counted_as.clone(),
            how: line.how.word(),
            contribution_percent: Unit::Percent.written(line.contribution),
            u_percent: Unit::Percent.written(line.u),
            source: line.source.clone(),
        });
        lines.collect()
    }
    /// dT/dx by input, and by how much (%) one u of it moves the total.
    #[getter]
    fn sensitivities(&self) -> BTreeMap<String, (f64, f64)> {
        let moves = |s: &crate::composition::Sensitivity| (s.derivative, Unit::Percent.written(s.moves_total));
        self.0.sensitivities().iter().map(|s| (s.input.clone(), moves(s))).collect()
    }
    /// Inputs that move the lines and not the total: it is no test of them.
    #[getter]
    fn blind_to(&self) -> Vec<&str> {
        self.0.blind_to()
    }
    /// Inputs without a stated uncertainty.
    #[getter]
    fn unstated(&self) -> Vec<&str> {
        self.0.unstated()
    }
    /// Where the uncertainty of the total comes from.
    fn budget(&self) -> PyBudget {
        let (budget, unit) = (self.0.budget(), Unit::Percent);
        let table = budget.table("Budget of the total", unit.word(), unit.per_one());
        PyBudget { budget, table }
    }
    /// Refuses a total that is fit for a draft only.
    fn reportable(&self) -> Result<()> {
        self.0.reportable()
    }
    /// What was assumed, not counted, doubtful or blind.
    #[getter]
    fn findings(&self) -> Vec<PyFinding> {
        findings(self.0.findings())
    }
    fn __repr__(&self) -> String {
        self.0.table(Unit::Percent).to_string()
    }
    fn _repr_html_(&self) -> String {
        self.0.table(Unit::Percent).to_html()
    }
    /// The ledger as CSV, in %.
    fn to_csv(&self) -> String {
        self.0.table(Unit::Percent).to_csv()
    }
}
