//! The result of a bead by a method.

use std::collections::BTreeMap;

use pyo3::prelude::*;

use crate::composition::{Basis, Unit};
use crate::error::Result;
use crate::matrix::DetectionFormula;
use crate::method::{Assay, BeadLimit, Provenance};
use crate::python::closure::{PyClosure, PyClosureOrder, PyExternal};
use crate::python::composition::{PyComposition, PyLinks};
use crate::python::convert::{Entries, PyFinding, findings};
use crate::python::drying::PyLossOnIgnition;
use crate::python::intensities::{PyDrift, PyLineReading};
use crate::python::melt::PyMelt;
use crate::python::method::PyMethod;
use crate::python::result::{FormChoice, PySampleResult};
use crate::python::rules::{PyAgreement, PyReport, PyReportForm, PyRules};
use crate::python::uncertainty::{PyBudget, PyValue};
use crate::uncertainty::Propagated;

/// A sample from the intensities of its bead; made by `Method.assay`. It can say all that a SampleResult can.
#[pyclass(name = "Assay", module = "beadchem", frozen)]
#[derive(Clone)]
pub(super) struct PyAssay(pub(super) Assay);

#[pymethods]
impl PyAssay {
    /// The sample with its covariance, without what comes from elsewhere.
    #[getter]
    fn sample(&self) -> PySampleResult {
        PySampleResult(self.0.sample().clone())
    }
    /// What 100 % refers to.
    #[getter]
    fn basis(&self) -> String {
        self.0.sample().basis().to_string()
    }
    /// How the results came about.
    #[getter]
    fn evaluation(&self) -> &'static str {
        self.0.sample().evaluation().text()
    }
    /// The results, in the order of the lines.
    #[getter]
    fn species(&self) -> Vec<&str> {
        self.0.sample().species()
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
        let sum = self.0.sample().sum()?;
        Ok((unit.written(sum.value(0)), unit.written(sum.u(0))))
    }
    /// Where the uncertainty of a result comes from; shown in %, its numbers in g/g.
    fn budget(&self, species: &str) -> Result<PyBudget> {
        let table = self.0.sample().budget_table(species, Unit::Percent)?;
        Ok(PyBudget { budget: self.0.budget(species)?, table })
    }
    /// A weighted sum of results and of results from elsewhere, such as {"Fe2O3": 1, "FeO": -1.1113}, through all they
    /// share.
    fn combine(&self, weights: Entries<String, f64>) -> Result<PyCombination> {
        let terms: Vec<(&str, f64)> = weights.0.iter().map(|(species, weight)| (species.as_str(), *weight)).collect();
        let sum = self.0.combine(&terms)?;
        Ok(PyCombination { sum, terms: weights.0, basis: self.0.sample().basis() })
    }
    /// The same bead on another basis, and "as read", as "elements", as "oxides" or as a list of species.
    #[pyo3(signature = (basis, links=None, *, form=FormChoice::as_read()))]
    fn on(&self, basis: &str, links: Option<&PyLinks>, form: FormChoice) -> Result<Self> {
        let links = links.map(|links| links.0.clone()).unwrap_or_default();
        self.0.on(Basis::parse(basis)?, &links, &form.form()?).map(Self)
    }
    /// With a result of the same sample from elsewhere, as `External` takes it: it enters closures and combinations.
    #[pyo3(signature = (species, content, *, basis, method, date=None, unit="%"))]
    fn with_external(
        &self,
        species: &str,
        content: &Bound<'_, PyAny>,
        basis: &str,
        method: String,
        date: Option<String>,
        unit: &str,
    ) -> PyResult<Self> {
        let external = PyExternal::new(species, content, basis, method, date, unit)?;
        Ok(Self(self.0.clone().with_external(external.0)))
    }
    /// Results from elsewhere.
    #[getter]
    fn externals(&self) -> Vec<PyExternal> {
        self.0.externals().iter().cloned().map(PyExternal).collect()
    }
    /// The total line by line, results from elsewhere included.
    #[pyo3(signature = (order=None))]
    fn closure(&self, order: Option<&PyClosureOrder>) -> Result<PyClosure> {
        self.0.closure(&order.map(|order| order.0.clone()).unwrap_or_default()).map(PyClosure)
    }
    /// The results as they are signed, with what they rest on in the head.
    #[pyo3(signature = (form, total=None))]
    fn report(&self, form: &PyReportForm, total: Option<&PyClosureOrder>) -> Result<PyReport> {
        self.0.report(&form.0, total.map(|order| &order.0)).map(PyReport)
    }
    /// A reference material against its certificate, by the laboratory's rule of agreement; both on one basis.
    fn check_reference(&self, rules: &PyRules, certificate: &PyExternal) -> Result<PyAgreement> {
        self.0.check_reference(&rules.0, &certificate.0).map(PyAgreement)
    }
    /// A finding where the total closes only when the powder is taken for ignited; else None.
    fn check_ignited_as_dried(&self, loss: &PyLossOnIgnition, rules: &PyRules) -> Result<Option<PyFinding>> {
        Ok(self.0.sample().check_ignited_as_dried(&loss.0, &rules.0)?.map(PyFinding))
    }
    /// How a result came about, step by step with its numbers, from counts to the sample.
    fn explain(&self, species: &str) -> Result<PyReport> {
        self.0.explain(species).map(PyReport)
    }
    /// Detection limits for this bead by "3-sigma background", "Currie decision", "Currie detection" or "Currie
    /// quantification", for each line whose counts and background were given.
    fn detection_limits(&self, formula: &str) -> Result<Vec<PyBeadLimit>> {
        let limits = self.0.detection_limits(DetectionFormula::from_word(formula)?)?;
        Ok(limits.into_iter().map(PyBeadLimit::from).collect())
    }
    /// The same bead by the coefficients of another class of the method.
    fn by_class(&self, name: &str) -> Result<Self> {
        self.0.by_class(name).map(Self)
    }
    /// The results as a composition.
    #[getter]
    fn composition(&self) -> Result<PyComposition> {
        self.0.sample().composition().map(PyComposition)
    }
    /// The fused charge behind it.
    #[getter]
    fn melt(&self) -> PyMelt {
        PyMelt(self.0.sample().melt().clone())
    }
    /// The method.
    #[getter]
    fn method(&self) -> PyMethod {
        PyMethod(self.0.method().clone())
    }
    /// The bead's id.
    #[getter]
    fn bead(&self) -> &str {
        self.0.measurement().bead()
    }
    /// When it was measured, or None.
    #[getter]
    fn at(&self) -> Option<&str> {
        self.0.measurement().time()
    }
    /// The monitors of its run, or None.
    #[getter]
    fn drift(&self) -> Option<PyDrift> {
        self.0.measurement().drift().cloned().map(PyDrift)
    }
    /// The class it was asked for, or None for the method's first.
    #[getter]
    fn of_class(&self) -> Option<&str> {
        self.0.measurement().class()
    }
    /// The readings.
    #[getter]
    fn readings(&self) -> Vec<PyLineReading> {
        self.0.measurement().readings().iter().cloned().map(PyLineReading).collect()
    }
    /// Components known from elsewhere, % of the sample as weighed.
    #[getter]
    fn known_percent(&self) -> BTreeMap<&str, PyValue> {
        let known = self.0.measurement().known().iter();
        known.map(|(component, content)| (component.text(), PyValue(Unit::Percent.written_of(content)))).collect()
    }
    /// What the numbers rest on, with digests.
    #[getter]
    fn provenance(&self) -> Result<PyProvenance> {
        self.0.provenance().map(PyProvenance::from)
    }
    /// Refuses a method that is not the one this was computed with; then a factor of first order is all that is left.
    fn check_recipe(&self, method: &PyMethod) -> Result<()> {
        self.0.provenance()?.check(&method.0)
    }
    /// Notes, warnings and cautions of melt, method and results.
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

/// A weighted sum of results; made by `Assay.combine`.
#[pyclass(name = "Combination", module = "beadchem", frozen)]
pub(super) struct PyCombination {
    sum: Propagated,
    terms: Vec<(String, f64)>,
    basis: Basis,
}

impl PyCombination {
    fn text(&self) -> String {
        let term = |(species, weight): &(String, f64)| format!("{weight} {species}");
        self.terms.iter().map(term).collect::<Vec<_>>().join(" + ")
    }
    fn table(&self) -> crate::table::Table {
        let unit = Unit::Percent;
        let title = format!("Budget of {}", self.text());
        self.sum.budget(0).table(&title, unit.word(), unit.per_one()).head(format!("basis: {}", self.basis))
    }
}

#[pymethods]
impl PyCombination {
    /// The sum in a unit.
    #[pyo3(signature = (*, unit="%"))]
    fn value(&self, unit: &str) -> Result<f64> {
        Ok(Unit::from_word(unit)?.written(self.sum.value(0)))
    }
    /// Its standard uncertainty in a unit; "at least" where the budget names inputs without one.
    #[pyo3(signature = (*, unit="%"))]
    fn u(&self, unit: &str) -> Result<f64> {
        Ok(Unit::from_word(unit)?.written(self.sum.u(0)))
    }
    /// What 100 % refers to.
    #[getter]
    fn basis(&self) -> String {
        self.basis.to_string()
    }
    /// Where its uncertainty comes from; shown in %, its numbers in g/g.
    fn budget(&self) -> PyBudget {
        PyBudget { budget: self.sum.budget(0), table: self.table() }
    }
    fn __repr__(&self) -> String {
        self.table().to_string()
    }
    fn _repr_html_(&self) -> String {
        self.table().to_html()
    }
}

/// The detection limit of one analyte in one bead, by a named formula.
#[pyclass(name = "BeadLimit", module = "beadchem", frozen, get_all)]
pub(super) struct PyBeadLimit {
    /// The analyte.
    analyte: String,
    /// Its line.
    line: String,
    /// The formula.
    formula: &'static str,
    /// The limit, % of the sample as weighed.
    in_sample_percent: f64,
    /// The limit, % of the glass.
    in_glass_percent: f64,
}

impl From<BeadLimit> for PyBeadLimit {
    fn from(held: BeadLimit) -> Self {
        Self {
            analyte: held.analyte,
            line: held.line,
            formula: held.formula.word(),
            in_sample_percent: Unit::Percent.written(held.in_sample),
            in_glass_percent: Unit::Percent.written(held.in_glass),
        }
    }
}

#[pymethods]
impl PyBeadLimit {
    fn __repr__(&self) -> String {
        format!("<BeadLimit {} {:.4} %, {}>", self.analyte, self.in_sample_percent, self.formula)
    }
}

/// Names, versions and digests of the documents behind a result.
#[pyclass(name = "Provenance", module = "beadchem", frozen, eq, get_all)]
#[derive(PartialEq)]
pub(super) struct PyProvenance {
    /// The bead.
    bead: String,
    /// Method with its version.
    method: String,
    /// SHA-256 of the method's stored form.
    method_digest: String,
    /// Coefficient set with its version.
    coefficients: String,
    /// Calibration with its version.
    calibration: String,
    /// Flux lot.
    flux_lot: String,
    /// SHA-256 of the flux lot's stored form.
    flux_lot_digest: String,
    /// SHA-256 of the charge's stored form.
    charge_digest: String,
    /// SHA-256 of the monitors' stored form, or None.
    drift_digest: Option<String>,
    /// Table of atomic weights.
    weights: String,
    /// This library and its version.
    library: String,
    /// How the results came about.
    evaluation: String,
    /// As printed in the head of a report; digests by their first digits.
    lines: Vec<String>,
}

impl From<Provenance> for PyProvenance {
    fn from(held: Provenance) -> Self {
        let lines = held.lines();
        let Provenance { bead, method, method_digest, coefficients, calibration, flux_lot, flux_lot_digest, .. } = held;
        let Provenance { charge_digest, drift_digest, weights, library, evaluation, .. } = held;
        Self {
            bead,
            method,
            method_digest,
            coefficients,
            calibration,
            flux_lot,
            flux_lot_digest,
            charge_digest,
            drift_digest,
            weights,
            library,
            evaluation,
            lines,
        }
    }
}

#[pymethods]
impl PyProvenance {
    fn __repr__(&self) -> String {
        self.lines.join("\n")
    }
}
