//! Compositions and the way from one basis to another.

use std::collections::BTreeMap;

use pyo3::prelude::*;
use pyo3::types::PyDict;

use crate::composition::{Basis, BasisLinks, CHOICES, Cell, Composition, LossOnIgnition, Unit};
use crate::document;
use crate::error::{Error, Result};
use crate::python::closure::{PyClosure, PyClosureOrder};
use crate::python::convert::{PyFinding, findings};
use crate::python::drying::PyLossOnIgnition;
use crate::python::substance::{PyWeights, weights_or_default};
use crate::python::uncertainty::{Number, PyValue};

/// Below a detection limit; the limit is in the unit of the composition it is put into.
#[pyclass(name = "Below", module = "beadchem", frozen, eq)]
#[derive(Clone, PartialEq)]
pub(super) struct PyBelow {
    #[pyo3(get)]
    limit: f64,
}

impl PyBelow {
    /// A limit that was checked before.
    pub(super) fn at(limit: f64) -> Self {
        Self { limit }
    }
}

#[pymethods]
impl PyBelow {
    #[new]
    fn new(limit: f64) -> Result<Self> {
        let hint = "A detection limit is above zero; a negative result is kept as a value.";
        crate::error::within("Detection limit", limit, "", [f64::MIN_POSITIVE, 1e6], "above 0", hint)?;
        Ok(Self { limit })
    }
    fn __repr__(&self) -> String {
        format!("Below({})", self.limit)
    }
}

/// What stands for one species: a number, `Below(limit)`, "absent", "unknown", or None for unknown.
pub(super) fn cell(entry: &Bound<'_, PyAny>, unit: Unit) -> PyResult<Cell> {
    if entry.is_none() {
        return Ok(Cell::Unknown);
    }
    if let Ok(below) = entry.cast::<PyBelow>() {
        return Ok(Cell::Below { limit: unit.fraction(below.get().limit) });
    }
    if let Ok(word) = entry.extract::<String>() {
        return Ok(Cell::from_word(&word)?);
    }
    Ok(Cell::Value(unit.fraction_of(&entry.extract::<Number>()?.estimate())))
}

/// Mass fractions of species on one basis.
///
/// Parameters
/// ----------
/// entries : dict of str to number, Value, Below, "absent" or "unknown"
///     Oxides, elements or minerals.
/// basis : str
///     "as received", "air-equilibrated", "dried", "ignited at 1000 C" (any temperature) or "bead".
/// unit : str
///     "%", "g/g", "g/kg" or "mg/kg"; holds for numbers and their uncertainties.
/// forms : list of str
///     Species of one element that are separate forms (FeO beside Fe2O3): no atom is in two of them.
#[pyclass(name = "Composition", module = "beadchem", frozen, eq)]
#[derive(Clone, PartialEq)]
pub(super) struct PyComposition(pub(super) Composition);

#[pymethods]
impl PyComposition {
    #[new]
    #[pyo3(signature = (entries, *, basis=None, unit="%", forms=Vec::new()))]
    fn new(entries: &Bound<'_, PyDict>, basis: Option<&str>, unit: &str, forms: Vec<String>) -> PyResult<Self> {
        let unit = Unit::from_word(unit)?;
        let Some(basis) = basis.filter(|basis| !basis.trim().is_empty()) else {
            let first = entries.iter().next().map(|(species, entry)| format!("{species} {entry}"));
            return Err(Error::Conflict {
                code: crate::code::Code::BasisMissing,
                detail: format!("{} has no basis.", first.unwrap_or_else(|| "The composition".to_owned())),
                hint: CHOICES.to_owned(),
            }
            .into());
        };
        let mut composition = Composition::new(Basis::parse(basis)?);
        for form in &forms {
            if !entries.contains(form)? {
                return Err(Error::Unknown {
                    code: crate::code::Code::SpeciesUnknown,
                    what: "Form".to_owned(),
                    given: form.clone(),
                    hint: "Forms name entries of the composition, as written there.".to_owned(),
                }
                .into());
            }
        }
        for (species, entry) in entries.iter() {
            let species: String = species.extract()?;
            let cell = cell(&entry, unit)?;
            composition = if forms.contains(&species) {
                composition.with_form(&species, cell)?
            } else {
                composition.with(&species, cell)?
            };
        }
        Ok(Self(composition))
    }
    /// What 100 % refers to.
    #[getter]
    fn basis(&self) -> String {
        self.0.basis().to_string()
    }
    /// The species in order.
    #[getter]
    fn species(&self) -> Vec<&str> {
        self.0.entries().iter().map(|entry| entry.species.text()).collect()
    }
    /// A value in a unit: a `Value`, `Below`, "absent" or "unknown"; None for a species without an entry.
    #[pyo3(signature = (species, *, unit="%"))]
    fn get(&self, py: Python<'_>, species: &str, unit: &str) -> PyResult<Py<PyAny>> {
        let unit = Unit::from_word(unit)?;
        Ok(match self.0.get(species) {
            None => py.None(),
            Some(Cell::Value(value)) => Py::new(py, PyValue(unit.written_of(value)))?.into_any(),
            Some(Cell::Below { limit }) => Py::new(py, PyBelow { limit: unit.written(*limit) })?.into_any(),
            Some(other) => other.word().into_pyobject(py)?.into_any().unbind(),
        })
    }
    /// The same on another basis.
    #[pyo3(signature = (basis, links))]
    fn on(&self, basis: &str, links: &PyLinks) -> Result<Self> {
        self.0.on(Basis::parse(basis)?, &links.0).map(Self)
    }
    /// The same with one species written as another that shares an element.
    #[pyo3(signature = (species, target, *, weights=None))]
    fn written_as(&self, species: &str, target: &str, weights: Option<&Bound<'_, PyWeights>>) -> Result<Self> {
        self.0.written_as(species, target, &weights_or_default(weights)).map(Self)
    }
    /// The sum of the values in a unit, with the signed loss on ignition of `links` where they are given.
    #[pyo3(signature = (*, links=None, unit="%"))]
    fn total(&self, links: Option<&PyLinks>, unit: &str) -> Result<f64> {
        let unit = Unit::from_word(unit)?;
        Ok(unit.written(self.0.total(links.and_then(|links| links.0.loss()))?.value))
    }
    /// The total line by line.
    #[pyo3(signature = (order=None, *, weights=None))]
    fn closure(&self, order: Option<&PyClosureOrder>, weights: Option<&Bound<'_, PyWeights>>) -> Result<PyClosure> {
        let order = order.map(|order| order.0.clone()).unwrap_or_default();
        self.0.closure(&order, &weights_or_default(weights)).map(PyClosure)
    }
    /// The same with a species found as what is missing to the whole.
    #[pyo3(signature = (species, *, links=None))]
    fn with_difference(&self, species: &str, links: Option<&PyLinks>) -> Result<Self> {
        self.0.clone().with_difference(species, links.and_then(|links| links.0.loss())).map(Self)
    }
    /// Warnings where a declared hydrate is dried above the laboratory's limit for hydrates, C.
    #[pyo3(signature = (*, dried_at_c, limit_c, weights=None))]
    fn hydrate_warnings(
        &self,
        dried_at_c: f64,
        limit_c: f64,
        weights: Option<&Bound<'_, PyWeights>>,
    ) -> Result<Vec<PyFinding>> {
        Ok(findings(&self.0.hydrate_warnings(dried_at_c, limit_c, &weights_or_default(weights))?))
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
        self.0.table(Unit::Percent).to_string()
    }
    fn _repr_html_(&self) -> String {
        self.0.table(Unit::Percent).to_html()
    }
    /// The entries as CSV, in %.
    fn to_csv(&self) -> String {
        self.0.table(Unit::Percent).to_csv()
    }
}

/// What leads from one basis to another.
///
/// Parameters
/// ----------
/// moisture_percent : number or Value, optional
///     Moisture as received, % of the moist material.
/// air_moisture_percent : number or Value, optional
///     The same of the air-equilibrated powder.
/// loss_on_ignition_percent : number or Value, optional
///     Signed loss of the dried powder, %; a gain is negative. Needs `ignition_c`.
/// ignition_c : float, optional
///     Temperature of the ignition, C.
/// loss_on_ignition : LossOnIgnition, optional
///     Instead of these two, the loss with all that is known of it.
#[pyclass(name = "BasisLinks", module = "beadchem", frozen, eq)]
#[derive(Clone, PartialEq)]
pub(super) struct PyLinks(pub(super) BasisLinks);

#[pymethods]
impl PyLinks {
    #[new]
    #[pyo3(signature = (*, moisture_percent=None, air_moisture_percent=None, loss_on_ignition_percent=None, ignition_c=None, loss_on_ignition=None))]
    fn new(
        moisture_percent: Option<Number>,
        air_moisture_percent: Option<Number>,
        loss_on_ignition_percent: Option<Number>,
        ignition_c: Option<f64>,
        loss_on_ignition: Option<&PyLossOnIgnition>,
    ) -> Result<Self> {
        let mut links = BasisLinks::default();
        let fraction = |number: Number| Unit::Percent.fraction_of(&number.estimate());
        if let Some(moisture) = moisture_percent {
            links = links.moisture(fraction(moisture))?;
        }
        if let Some(moisture) = air_moisture_percent {
            links = links.air_moisture(fraction(moisture))?;
        }
        if let Some(loss) = loss_on_ignition {
            if loss_on_ignition_percent.is_some() || ignition_c.is_some() {
                return Err(Error::Conflict {
                    code: crate::code::Code::InputDoubled,
                    detail: "The loss on ignition is given twice.".to_owned(),
                    hint: "Give loss_on_ignition alone, or loss_on_ignition_percent with ignition_c.".to_owned(),
                });
            }
            return Ok(Self(links.loss_on_ignition(loss.0.clone())));
        }
        match (loss_on_ignition_percent, ignition_c) {
            (Some(loss), Some(temperature)) => {
                links = links.loss_on_ignition(LossOnIgnition::new(fraction(loss), temperature)?);
            }
            (Some(_), None) => {
                return Err(Error::Unstated {
                    code: crate::code::Code::BasisNeeds,
                    quantity: "The temperature of the loss on ignition".to_owned(),
                    hint: "A loss without its temperature cannot be reported; give ignition_c.".to_owned(),
                });
            }
            (None, Some(_)) => {
                return Err(Error::Unstated {
                    code: crate::code::Code::BasisNeeds,
                    quantity: "The loss on ignition at that temperature".to_owned(),
                    hint: "Give loss_on_ignition_percent, or leave ignition_c out.".to_owned(),
                });
            }
            (None, None) => {}
        }
        Ok(Self(links))
    }
    /// The whole loss of a material on this basis up to ignition, % of it: 1 - (1 - M) (1 - L).
    #[pyo3(signature = (basis))]
    fn total_loss_percent(&self, basis: &str) -> Result<PyValue> {
        self.0.total_loss_from(Basis::parse(basis)?).map(|loss| PyValue(Unit::Percent.written_of(&loss)))
    }
    /// The loss on ignition, or None.
    #[getter]
    fn loss_on_ignition(&self) -> Option<PyLossOnIgnition> {
        self.0.loss().cloned().map(PyLossOnIgnition)
    }
    fn __repr__(&self) -> String {
        match self.0.loss() {
            Some(loss) => format!("<BasisLinks with a loss at {} C>", loss.temperature_c()),
            None => "<BasisLinks without a loss>".to_owned(),
        }
    }
}

/// Species with blanks or contents, in %.
pub(super) fn percents(list: Option<BTreeMap<String, Number>>) -> Vec<(String, crate::uncertainty::Estimate)> {
    let list = list.unwrap_or_default();
    list.into_iter().map(|(species, number)| (species, Unit::Percent.fraction_of(&number.estimate()))).collect()
}
