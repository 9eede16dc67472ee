//! Rules of a laboratory and what they say.

use std::collections::BTreeMap;

use pyo3::prelude::*;
use pyo3::types::{PyDict, PyDictMethods};

use crate::composition::Unit;
use crate::document;
use crate::error::Result;
use crate::python::closure::PyClosure;
use crate::python::composition::PyComposition;
use crate::python::convert::{Count, PyFinding, findings};
use crate::python::drying::PyLossOnIgnition;
use crate::python::uncertainty::Number;
use crate::rules::{
    Agreement, DriftLimit, ExpectedLoss, FluxLossLimit, Negatives, Repeatability, ReportForm, Rules, Solubility,
    TotalLimit, TotalVerdict,
};
use crate::table::{Table, Ties};

/// Limits of a laboratory, with name and version; what is not stated is refused when asked for.
///
/// Parameters
/// ----------
/// name, version : str
/// total_percent : (float, float, float), optional
///     Window for totals in %, lower and upper end, and the multiple of u.
/// flux_loss_percent : (float, float), optional
///     Highest plausible loss of a flux lot in %, and the multiple of u below zero.
/// bead_mass_k, agreement_k : float, optional
///     Multiples of u for a bead's mass, and for two determinations of one quantity.
/// solubility_percent : dict of str to (float, str), optional
///     Highest content of an oxide in the glass, %, and its source.
/// expected_loss_percent : dict of str to (float, float, str), optional
///     Usual loss on ignition of a material, %, lower and upper end, and its source.
/// repeatability_percent : dict of str to (float, str), optional
///     Repeatability limit of a species, %, and its source.
/// drift_percent : (float, float), optional
///     How far a drift monitor may move, % of its intensity: since the reading before, and since calibration.
#[pyclass(name = "Rules", module = "beadchem", frozen, eq)]
#[derive(Clone, PartialEq)]
pub(super) struct PyRules(pub(super) Rules);

#[pymethods]
impl PyRules {
    #[new]
    #[pyo3(signature = (name, version, *, total_percent=None, flux_loss_percent=None, bead_mass_k=None, agreement_k=None, solubility_percent=None, expected_loss_percent=None, repeatability_percent=None, drift_percent=None))]
    #[expect(clippy::too_many_arguments, reason = "keywords of the constructor")]
    fn new(
        name: String,
        version: String,
        total_percent: Option<(f64, f64, f64)>,
        flux_loss_percent: Option<(f64, f64)>,
        bead_mass_k: Option<f64>,
        agreement_k: Option<f64>,
        solubility_percent: Option<BTreeMap<String, (f64, String)>>,
        expected_loss_percent: Option<BTreeMap<String, (f64, f64, String)>>,
        repeatability_percent: Option<BTreeMap<String, (f64, String)>>,
        drift_percent: Option<(f64, f64)>,
    ) -> Result<Self> {
        let fraction = |written: f64| Unit::Percent.fraction(written);
        let mut rules = Rules::new(name, version);
        if let Some((low, high, k)) = total_percent {
            rules = rules.total(TotalLimit { low: fraction(low), high: fraction(high), k })?;
        }
        if let Some((highest, k)) = flux_loss_percent {
            rules = rules.flux_loss(FluxLossLimit { highest: fraction(highest), k })?;
        }
        if let Some(k) = bead_mass_k {
            rules = rules.bead_mass(k)?;
        }
        if let Some(k) = agreement_k {
            rules = rules.agreement(k)?;
        }
        for (oxide, (highest, source)) in solubility_percent.unwrap_or_default() {
            rules = rules.solubility(Solubility { oxide, highest: fraction(highest), source })?;
        }
        for (material, (low, high, source)) in expected_loss_percent.unwrap_or_default() {
            let (low, high) = (fraction(low), fraction(high));
            rules = rules.expected_loss(ExpectedLoss { material, low, high, source })?;
        }
        for (species, (limit, source)) in repeatability_percent.unwrap_or_default() {
            rules = rules.repeatability(Repeatability { species, limit: fraction(limit), source })?;
        }
        if let Some((step, total)) = drift_percent {
            rules = rules.drift(DriftLimit { step: fraction(step), total: fraction(total) })?;
        }
        Ok(Self(rules))
    }
    /// Name and version, as printed beside every verdict.
    #[getter]
    fn id(&self) -> String {
        self.0.id()
    }
    /// A total by window and by k u.
    fn judge_total(&self, closure: &PyClosure) -> Result<PyTotalVerdict> {
        self.0.judge_total(&closure.0).map(PyTotalVerdict)
    }
    /// A loss on ignition against what is usual of the material.
    fn check_loss(&self, material: &str, loss: &PyLossOnIgnition) -> Result<Vec<PyFinding>> {
        Ok(findings(&self.0.check_loss(material, &loss.0)?))
    }
    /// A result against one of the same quantity from elsewhere.
    #[pyo3(signature = (species, found, elsewhere, method, *, unit="%"))]
    fn check_agreement(
        &self,
        species: &str,
        found: Number,
        elsewhere: Number,
        method: &str,
        unit: &str,
    ) -> Result<PyAgreement> {
        let unit = Unit::from_word(unit)?;
        let (found, elsewhere) = (unit.fraction_of(&found.estimate()), unit.fraction_of(&elsewhere.estimate()));
        self.0.check_agreement(species, &found, &elsewhere, method).map(PyAgreement)
    }
    /// Two beads of one sample against the repeatability limit.
    #[pyo3(signature = (species, first, second, *, unit="%"))]
    fn check_duplicates(&self, species: &str, first: Number, second: Number, unit: &str) -> Result<PyAgreement> {
        let unit = Unit::from_word(unit)?;
        let (first, second) = (unit.fraction_of(&first.estimate()), unit.fraction_of(&second.estimate()));
        self.0.check_duplicates(species, &first, &second).map(PyAgreement)
    }
    /// A reference material against its assigned value.
    #[pyo3(signature = (species, found, assigned, *, unit="%"))]
    fn check_reference(&self, species: &str, found: Number, assigned: Number, unit: &str) -> Result<PyAgreement> {
        let unit = Unit::from_word(unit)?;
        let (found, assigned) = (unit.fraction_of(&found.estimate()), unit.fraction_of(&assigned.estimate()));
        self.0.check_reference(species, &found, &assigned).map(PyAgreement)
    }
    /// A result against what is expected of its own sample and of others; a finding where it fits another, else None.
    #[pyo3(signature = (found, own, expected, others))]
    fn check_identity(
        &self,
        found: &PyComposition,
        own: &str,
        expected: &PyComposition,
        others: &Bound<'_, PyDict>,
    ) -> PyResult<Option<PyFinding>> {
        let others: Vec<(String, PyRef<'_, PyComposition>)> = others
            .iter()
            .map(|(name, other)| Ok((name.extract()?, other.cast::<PyComposition>()?.borrow())))
            .collect::<PyResult<_>>()?;
        let others: Vec<_> = others.iter().map(|(name, other)| (name.as_str(), &other.0)).collect();
        Ok(self.0.check_identity(&found.0, (own, &expected.0), &others)?.map(PyFinding))
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
        format!("<Rules {}>", self.0.id())
    }
}

/// What the two rules say of a total.
#[pyclass(name = "TotalVerdict", module = "beadchem", frozen)]
pub(super) struct PyTotalVerdict(TotalVerdict);

#[pymethods]
impl PyTotalVerdict {
    /// The rules applied.
    #[getter]
    fn rules(&self) -> &str {
        &self.0.rules
    }
    /// Inside the fixed window; None where no total was computed.
    #[getter]
    fn in_window(&self) -> Option<bool> {
        self.0.in_window
    }
    /// Within k u of the whole; None where that cannot be judged.
    #[getter]
    fn in_spread(&self) -> Option<bool> {
        self.0.in_spread
    }
    /// Inputs of which this total is no test.
    #[getter]
    fn blind_to(&self) -> Vec<String> {
        self.0.blind_to.clone()
    }
    /// What broke a rule.
    #[getter]
    fn findings(&self) -> Vec<PyFinding> {
        findings(&self.0.findings)
    }
    fn __repr__(&self) -> String {
        self.0.to_string()
    }
}

/// How well two determinations agree.
#[pyclass(name = "Agreement", module = "beadchem", frozen)]
pub(super) struct PyAgreement(pub(super) Agreement);

#[pymethods]
impl PyAgreement {
    /// First less second, g/g.
    #[getter]
    fn difference(&self) -> f64 {
        self.0.difference
    }
    /// Standard uncertainty of the difference, g/g.
    #[getter]
    fn u(&self) -> f64 {
        self.0.u
    }
    /// The difference over sqrt(U1^2 + U2^2), U = 2 u; None without stated uncertainties.
    #[getter]
    fn e_n(&self) -> Option<f64> {
        self.0.e_n
    }
    /// True where the rule is kept; None where it needs an uncertainty that is not stated.
    #[getter]
    fn agrees(&self) -> Option<bool> {
        self.0.agrees
    }
    /// What broke it.
    #[getter]
    fn findings(&self) -> Vec<PyFinding> {
        findings(&self.0.findings)
    }
    fn __repr__(&self) -> String {
        let word = match self.0.agrees {
            Some(true) => "agrees",
            Some(false) => "differs",
            None => "not judged",
        };
        format!("<Agreement: {word}, difference {} (u {})>", self.0.difference, self.0.u)
    }
}

/// How results are written in a report.
///
/// Parameters
/// ----------
/// name : str
/// unit : str
/// decimals : int
///     Of every species not in `decimals_of`.
/// rule : str
///     Where a tie goes: "half to even" or "half up".
/// negatives : str
///     "kept", or "censored" for results below `k` u. They are never set to zero.
/// k : float, optional
/// decimals_of : dict of str to int, optional
#[pyclass(name = "ReportForm", module = "beadchem", frozen, eq)]
#[derive(Clone, PartialEq)]
pub(super) struct PyReportForm(pub(super) ReportForm);

#[pymethods]
impl PyReportForm {
    #[new]
    #[pyo3(signature = (name, *, decimals, rule, unit="%", negatives="kept", k=None, decimals_of=None))]
    fn new(
        name: String,
        decimals: Count,
        rule: &str,
        unit: &str,
        negatives: &str,
        k: Option<f64>,
        decimals_of: Option<BTreeMap<String, Count>>,
    ) -> Result<Self> {
        let negatives = Negatives::from_word(negatives, k)?;
        let form =
            ReportForm::new(name, Unit::from_word(unit)?, decimals.decimals(), Ties::from_word(rule)?, negatives)?;
        let own = decimals_of.unwrap_or_default().into_iter();
        Ok(Self(
            own.into_iter().try_fold(form, |form, (species, decimals)| form.decimals(&species, decimals.decimals()))?,
        ))
    }
    /// Name and rule, as printed in the head of a report.
    #[getter]
    fn description(&self) -> String {
        self.0.describe()
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
        format!("<ReportForm: {}>", self.0.describe())
    }
}

/// A table for reading: text in the terminal, HTML in a notebook, CSV. Its numbers are texts.
#[pyclass(name = "Report", module = "beadchem", frozen)]
pub(super) struct PyReport(pub(super) Table);

#[pymethods]
impl PyReport {
    /// The report as CSV.
    fn to_csv(&self) -> String {
        self.0.to_csv()
    }
    fn __repr__(&self) -> String {
        self.0.to_string()
    }
    fn _repr_html_(&self) -> String {
        self.0.to_html()
    }
}
