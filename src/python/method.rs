//! What a laboratory owns: overlaps, an internal standard, the method.

use pyo3::prelude::*;

use crate::composition::Unit;
use crate::document;
use crate::error::Result;
use crate::matrix::Label;
use crate::method::{InternalStandard, Method, Overlap, TEMPLATE};
use crate::python::assay::PyAssay;
use crate::python::calibration::PyCalibration;
use crate::python::coefficients::{PyCoefficientSet, Sets};
use crate::python::convert::{Entries, PyFinding, findings};
use crate::python::intensities::{PyDeadTime, PyDrift, PyLineReading};
use crate::python::measurement::Readings;
use crate::python::melt::PyMelt;
use crate::python::uncertainty::{Number, PyValue};

/// Counts that a line of another element adds to a line, per count of the line that element is followed by.
///
/// Parameters
/// ----------
/// on_line, from_line : str
///     The line that is overlapped, and the line the other element is followed by.
/// factor : Value or float
///     Counts on the one per count of the other.
#[pyclass(name = "Overlap", module = "beadchem", frozen, eq)]
#[derive(Clone, PartialEq)]
pub(super) struct PyOverlap(pub(super) Overlap);

#[pymethods]
impl PyOverlap {
    #[new]
    fn new(on_line: &str, from_line: &str, factor: Number) -> Result<Self> {
        Overlap::new(on_line, from_line, factor.estimate()).map(Self)
    }
    /// The factor from a bead that holds the other element and none of the analyte.
    #[staticmethod]
    fn from_bead(on_reading: &PyLineReading, from_reading: &PyLineReading) -> Result<Self> {
        Overlap::from_bead(&on_reading.0, &from_reading.0).map(Self)
    }
    /// The line that is overlapped.
    #[getter]
    fn on_line(&self) -> &str {
        self.0.on().as_str()
    }
    /// The line the other element is followed by.
    #[getter(from_line)]
    fn interferer(&self) -> &str {
        self.0.from().as_str()
    }
    /// Counts on the one per count of the other.
    #[getter]
    fn factor(&self) -> PyValue {
        PyValue(self.0.factor().clone())
    }
    fn __repr__(&self) -> String {
        format!("<Overlap {} {} on {}>", self.0.factor().value(), self.0.from(), self.0.on())
    }
}

/// An element added in a known amount, whose line carries the geometry of the bead for the lines that follow it.
///
/// Parameters
/// ----------
/// line : str
/// component : str
///     The component of the coefficients it stands for.
/// follow : list of str
///     The lines that follow it.
#[pyclass(name = "InternalStandard", module = "beadchem", frozen, eq)]
#[derive(Clone, PartialEq)]
pub(super) struct PyInternalStandard(pub(super) InternalStandard);

#[pymethods]
impl PyInternalStandard {
    #[new]
    #[pyo3(signature = (line, component, *, follow))]
    fn new(line: &str, component: &str, follow: Vec<String>) -> Result<Self> {
        InternalStandard::new(line, component, follow.iter().map(String::as_str)).map(Self)
    }
    /// Its line.
    #[getter]
    fn line(&self) -> &str {
        self.0.line().as_str()
    }
    /// The component it stands for.
    #[getter]
    fn component(&self) -> &str {
        self.0.component().text()
    }
    /// The lines that follow it.
    #[getter]
    fn follow(&self) -> Vec<&str> {
        self.0.follow().iter().map(|line| line.as_str()).collect()
    }
    fn __repr__(&self) -> String {
        format!("<InternalStandard {} for {}>", self.0.line(), self.follow().join(", "))
    }
}

/// How the intensities of a bead lead to its sample, under one name and version.
///
/// Parameters
/// ----------
/// name, version, source : str
/// coefficients : CoefficientSet or list of CoefficientSet
///     The first is that of the calibration; others are the same lines around the centroids of other classes.
/// calibration : Calibration
/// overlaps : list of Overlap
/// dead_time : DeadTime, optional
///     For counted readings that state none of their own.
/// internal_standard : InternalStandard, optional
/// not_reported : list of str
///     Analytes that are solved for, since they absorb, and left out of the results; the halide of a release agent is
///     left out unasked.
#[pyclass(name = "Method", module = "beadchem", frozen, eq)]
#[derive(Clone, PartialEq)]
pub(super) struct PyMethod(pub(super) Method);

#[pymethods]
impl PyMethod {
    #[new]
    #[pyo3(signature = (name, version, source, *, coefficients, calibration, overlaps=Vec::new(), dead_time=None, internal_standard=None, not_reported=Vec::new()))]
    #[expect(clippy::too_many_arguments, reason = "keywords of the constructor")]
    fn new(
        name: &str,
        version: &str,
        source: &str,
        coefficients: Sets,
        calibration: &PyCalibration,
        overlaps: Vec<PyRef<'_, PyOverlap>>,
        dead_time: Option<&PyDeadTime>,
        internal_standard: Option<&PyInternalStandard>,
        not_reported: Vec<String>,
    ) -> Result<Self> {
        let (first, others) = coefficients.split()?;
        let method = Method::new(Label::new(name, version, source)?, first, calibration.0.clone())?;
        let method = others.into_iter().try_fold(method, Method::class)?;
        let mut overlaps = overlaps.iter().map(|overlap| overlap.0.clone());
        let mut method = overlaps.try_fold(method, Method::overlap)?;
        if let Some(dead_time) = dead_time {
            method = method.dead_time(dead_time.0.clone());
        }
        if let Some(standard) = internal_standard {
            method = method.internal_standard(standard.0.clone())?;
        }
        not_reported.iter().try_fold(method, |method, analyte| method.not_reported(analyte)).map(Self)
    }
    /// An invented dolomite method, to look at and to alter.
    #[staticmethod]
    fn template() -> Result<Self> {
        Method::template().map(Self)
    }
    /// The same as an annotated text: every field with its meaning and unit behind `//`; `from_annotated` reads it.
    #[staticmethod]
    fn template_text() -> &'static str {
        TEMPLATE
    }
    /// Reads a stored form in which `//` begins a remark to the end of its line; remarks are not kept.
    #[staticmethod]
    fn from_annotated(text: &str) -> Result<Self> {
        Method::from_annotated(text).map(Self)
    }
    /// The sample from a fused charge and the readings of its bead: evaluation (a).
    ///
    /// Parameters
    /// ----------
    /// melt : Melt
    /// readings : dict of str to Value or float, or list of LineReading
    ///     A dict holds net intensities by line, cps.
    /// bead : str
    ///     Its id.
    /// drift, at : Drift and str, optional
    ///     The monitors of the run, and when the bead was measured ("2026-03-14T08:05").
    /// of_class : str, optional
    ///     The name of the coefficient set; the first one where it is not said.
    /// known_percent : dict of str to Value or float, optional
    ///     Components that stay in the glass and are not measured, % of the sample as weighed.
    #[pyo3(signature = (melt, readings, *, bead, at=None, drift=None, of_class=None, known_percent=None))]
    #[expect(clippy::too_many_arguments, reason = "keywords")]
    fn assay(
        &self,
        melt: &PyMelt,
        readings: Readings,
        bead: String,
        at: Option<String>,
        drift: Option<&PyDrift>,
        of_class: Option<String>,
        known_percent: Option<Entries<String, Number>>,
    ) -> Result<PyAssay> {
        let mut measurement = readings.of_bead(&bead, at, drift, of_class)?;
        for (component, content) in known_percent.unwrap_or_default().0 {
            measurement = measurement.declared(&component, Unit::Percent.fraction_of(&content.estimate()))?;
        }
        self.0.assay(&melt.0, &measurement).map(PyAssay)
    }
    /// What is missing or doubtful, in plain words; nothing for a method that states everything.
    fn check(&self) -> Vec<PyFinding> {
        findings(&self.0.check())
    }
    /// The name.
    #[getter]
    fn name(&self) -> &str {
        self.0.label().name()
    }
    /// Its version; raise it with every change.
    #[getter]
    fn version(&self) -> &str {
        self.0.label().version()
    }
    /// Whose method it is.
    #[getter]
    fn source(&self) -> &str {
        self.0.label().source()
    }
    /// What it reports, in the order of the lines.
    #[getter]
    fn analytes(&self) -> Vec<&str> {
        self.0.analytes()
    }
    /// All lines a bead is measured on.
    #[getter]
    fn lines(&self) -> Vec<&str> {
        self.0.lines()
    }
    /// The coefficient sets, that of the calibration first.
    #[getter]
    fn coefficients(&self) -> Vec<PyCoefficientSet> {
        self.0.coefficients().iter().cloned().map(PyCoefficientSet).collect()
    }
    /// The calibration.
    #[getter]
    fn calibration(&self) -> PyCalibration {
        PyCalibration(self.0.calibration().clone())
    }
    /// The overlaps.
    #[getter]
    fn overlaps(&self) -> Vec<PyOverlap> {
        self.0.overlaps().iter().cloned().map(PyOverlap).collect()
    }
    /// The dead time of the counter, or None.
    #[getter]
    fn dead_time(&self) -> Option<PyDeadTime> {
        self.0.counter().cloned().map(PyDeadTime)
    }
    /// The internal standard, or None.
    #[getter]
    fn internal_standard(&self) -> Option<PyInternalStandard> {
        self.0.standard().cloned().map(PyInternalStandard)
    }
    /// Analytes that are solved for and left out of the results.
    #[getter]
    fn not_reported(&self) -> Vec<&str> {
        self.0.unreported().iter().map(|analyte| analyte.text()).collect()
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
    /// The rows as CSV.
    fn to_csv(&self) -> String {
        self.0.table().to_csv()
    }
    fn __repr__(&self) -> String {
        self.0.table().to_string()
    }
    fn _repr_html_(&self) -> String {
        self.0.table().to_html()
    }
}
