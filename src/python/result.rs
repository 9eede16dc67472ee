//! The sample as it follows from readings of its bead.

use pyo3::prelude::*;

use crate::charge::{Form, SampleResult};
use crate::composition::{Basis, Unit};
use crate::error::Result;
use crate::python::closure::{PyClosure, PyClosureOrder};
use crate::python::composition::{PyComposition, PyLinks};
use crate::python::convert::{PyFinding, count, findings};
use crate::python::drying::PyLossOnIgnition;
use crate::python::melt::PyMelt;
use crate::python::rules::{PyReport, PyReportForm, PyRules};
use crate::python::uncertainty::PyBudget;
use crate::substance::Formula;
use crate::uncertainty::{MonteCarlo, MonteCarloOptions};

/// One word for a form, or a list of species.
#[derive(FromPyObject)]
pub(super) enum FormChoice {
    Word(String),
    Species(Vec<String>),
}

impl FormChoice {
    /// The form that nobody asked for.
    pub(super) fn as_read() -> Self {
        Self::Word("as read".to_owned())
    }
    /// The form meant.
    pub(super) fn form(self) -> Result<Form> {
        match self {
            Self::Word(word) => Form::from_word(&word),
            Self::Species(list) => {
                Ok(Form::Species(list.iter().map(|text| Formula::parse(text)).collect::<Result<_>>()?))
            }
        }
    }
}

/// Mass fractions of the sample on a stated basis, with their covariance; made by `Melt.undilute`.
#[pyclass(name = "SampleResult", module = "beadchem", frozen)]
#[derive(Clone)]
pub(super) struct PySampleResult(pub(super) SampleResult);

#[pymethods]
impl PySampleResult {
    /// What 100 % refers to.
    #[getter]
    fn basis(&self) -> String {
        self.0.basis().to_string()
    }
    /// How the results came about.
    #[getter]
    fn evaluation(&self) -> &'static str {
        self.0.evaluation().text()
    }
    /// The species, in the order of the readings.
    #[getter]
    fn species(&self) -> Vec<&str> {
        self.0.species()
    }
    /// A result in a unit.
    #[pyo3(signature = (species, *, unit="%"))]
    fn value(&self, species: &str, unit: &str) -> Result<f64> {
        Ok(Unit::from_word(unit)?.written(self.0.value(species)?))
    }
    /// Its standard uncertainty in a unit; "at least" where the budget names inputs without one.
    #[pyo3(signature = (species, *, unit="%"))]
    fn u(&self, species: &str, unit: &str) -> Result<f64> {
        Ok(Unit::from_word(unit)?.written(self.0.u(species)?))
    }
    /// The covariance of two results, (g/g)^2.
    fn covariance(&self, first: &str, second: &str) -> Result<f64> {
        self.0.covariance(first, second)
    }
    /// The sum of the results in a unit, with its standard uncertainty; a loss on ignition is not in it.
    #[pyo3(signature = (*, unit="%"))]
    fn sum(&self, unit: &str) -> Result<(f64, f64)> {
        let unit = Unit::from_word(unit)?;
        let sum = self.0.sum()?;
        Ok((unit.written(sum.value(0)), unit.written(sum.u(0))))
    }
    /// The total line by line, over the inputs the results came from.
    #[pyo3(signature = (order=None))]
    fn closure(&self, order: Option<&PyClosureOrder>) -> Result<PyClosure> {
        self.0.closure(&order.map(|order| order.0.clone()).unwrap_or_default()).map(PyClosure)
    }
    /// The results as they are signed: rounded by the form at the end only, with their total where it is said what it counts.
    #[pyo3(signature = (form, total=None))]
    fn report(&self, form: &PyReportForm, total: Option<&PyClosureOrder>) -> Result<PyReport> {
        self.0.report(&form.0, total.map(|order| &order.0)).map(PyReport)
    }
    /// A finding where the total closes only when the powder is taken for ignited; else None.
    fn check_ignited_as_dried(&self, loss: &PyLossOnIgnition, rules: &PyRules) -> Result<Option<PyFinding>> {
        Ok(self.0.check_ignited_as_dried(&loss.0, &rules.0)?.map(PyFinding))
    }
    /// Where the uncertainty of a result comes from; shown in %, its numbers in g/g.
    fn budget(&self, species: &str) -> Result<PyBudget> {
        Ok(PyBudget { budget: self.0.budget(species)?, table: self.0.budget_table(species, Unit::Percent)? })
    }
    /// The same bead on another basis, and "as read", as "elements", as "oxides" or as a list of species.
    #[pyo3(signature = (basis, links=None, *, form=FormChoice::as_read()))]
    fn on(&self, basis: &str, links: Option<&PyLinks>, form: FormChoice) -> Result<Self> {
        let links = links.map(|links| links.0.clone()).unwrap_or_default();
        self.0.on(Basis::parse(basis)?, &links, &form.form()?).map(Self)
    }
    /// The results as a composition, readings below detection included.
    #[getter]
    fn composition(&self) -> Result<PyComposition> {
        self.0.composition().map(PyComposition)
    }
    /// The fused charge behind it.
    #[getter]
    fn melt(&self) -> PyMelt {
        PyMelt(self.0.melt().clone())
    }
    /// Monte Carlo of the results, to be held against first order.
    #[pyo3(signature = (*, draws=200_000, seed=1, threads=1, only=None))]
    fn monte_carlo(
        &self,
        py: Python<'_>,
        draws: i64,
        seed: u64,
        threads: i64,
        only: Option<String>,
    ) -> Result<PyMonteCarlo> {
        PyMonteCarlo::draw(py, &self.0, (draws, seed, threads), only)
    }
    /// Notes, warnings and cautions.
    #[getter]
    fn findings(&self) -> Vec<PyFinding> {
        findings(&self.0.findings())
    }
    fn __repr__(&self) -> PyResult<String> {
        Ok(self.0.table(Unit::Percent)?.to_string())
    }
    fn _repr_html_(&self) -> PyResult<String> {
        Ok(self.0.table(Unit::Percent)?.to_html())
    }
    /// The results as CSV in a unit.
    #[pyo3(signature = (*, unit="%"))]
    fn to_csv(&self, unit: &str) -> PyResult<String> {
        Ok(self.0.table(Unit::from_word(unit)?)?.to_csv())
    }
}

/// Draws of the results of one bead.
#[pyclass(name = "MonteCarlo", module = "beadchem", frozen)]
pub(super) struct PyMonteCarlo {
    drawn: MonteCarlo,
    result: SampleResult,
}

impl PyMonteCarlo {
    /// So many draws from this seed by so many threads; Python runs on meanwhile.
    pub(super) fn draw(
        py: Python<'_>,
        result: &SampleResult,
        (draws, seed, threads): (i64, u64, i64),
        only: Option<String>,
    ) -> Result<Self> {
        let (draws, threads) = (count("Number of draws", draws)?, count("Number of threads", threads)?);
        let options = MonteCarloOptions { draws, seed, threads, only };
        let drawn = py.detach(|| result.monte_carlo(&options))?;
        Ok(Self { drawn, result: result.clone() })
    }
}

#[pymethods]
impl PyMonteCarlo {
    /// Number of draws.
    #[getter]
    fn draws(&self) -> usize {
        self.drawn.draws()
    }
    /// Mean of a result in a unit.
    #[pyo3(signature = (species, *, unit="%"))]
    fn mean(&self, species: &str, unit: &str) -> Result<f64> {
        Ok(Unit::from_word(unit)?.written(self.drawn.mean(self.result.output_of(species)?)))
    }
    /// Standard deviation of a result in a unit.
    #[pyo3(signature = (species, *, unit="%"))]
    fn u(&self, species: &str, unit: &str) -> Result<f64> {
        Ok(Unit::from_word(unit)?.written(self.drawn.u(self.result.output_of(species)?)))
    }
    /// The interval with equal shares of the draws left out on both sides, in a unit.
    #[pyo3(signature = (species, *, probability=0.95, unit="%"))]
    fn interval(&self, species: &str, probability: f64, unit: &str) -> Result<(f64, f64)> {
        let unit = Unit::from_word(unit)?;
        let (low, high) = self.drawn.interval(self.result.output_of(species)?, probability)?;
        Ok((unit.written(low), unit.written(high)))
    }
    fn __repr__(&self) -> String {
        format!("<MonteCarlo of {} draws>", self.drawn.draws())
    }
}
