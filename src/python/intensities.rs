//! Counted lines, dead time and drift.

use std::collections::BTreeMap;

use pyo3::prelude::*;

use crate::composition::Unit;
use crate::document;
use crate::error::Result;
use crate::matrix::{Count, DeadTime, DetectionFormula, Drift, DriftPoint, DriftTerm, LineReading, Monitor};
use crate::python::convert::{PyFinding, findings};
use crate::python::rules::PyRules;
use crate::python::uncertainty::{Number, PyBudget, PyValue};

/// The time for which a counter is blind after each count.
///
/// Parameters
/// ----------
/// seconds : Value or float
///     Dead time in s, 0 to 0.001; the true rate is r / (1 - r tau).
/// detector : str, optional
///     Its name, where a spectrometer has several detectors.
#[pyclass(name = "DeadTime", module = "beadchem", frozen, eq)]
#[derive(Clone, PartialEq)]
pub(super) struct PyDeadTime(pub(super) DeadTime);

#[pymethods]
impl PyDeadTime {
    #[new]
    #[pyo3(signature = (seconds, *, detector=None))]
    fn new(seconds: Number, detector: Option<String>) -> Result<Self> {
        let dead = DeadTime::new(seconds.estimate())?;
        Ok(Self(match detector {
            Some(detector) => dead.of_detector(detector),
            None => dead,
        }))
    }
    /// The dead time, s.
    #[getter]
    fn seconds(&self) -> PyValue {
        PyValue(self.0.seconds().clone())
    }
    /// The detector, or None.
    #[getter]
    fn detector(&self) -> Option<&str> {
        self.0.detector()
    }
    /// Its name in budgets.
    #[getter]
    fn input_name(&self) -> String {
        self.0.input_name()
    }
    fn __repr__(&self) -> String {
        format!("<DeadTime {} {} s>", self.0.input_name(), self.0.seconds().value())
    }
}

/// One line of one bead as measured. Make one with `net` or `counted`.
#[pyclass(name = "LineReading", module = "beadchem", frozen, eq)]
#[derive(Clone, PartialEq)]
pub(super) struct PyLineReading(pub(super) LineReading);

#[pymethods]
impl PyLineReading {
    /// A net intensity in cps, as the instrument formed it. The line as "Fe Ka".
    #[staticmethod]
    fn net(line: &str, intensity_cps: Number) -> Result<Self> {
        LineReading::net(line, intensity_cps.estimate()).map(Self)
    }
    /// Rate and time counted on the peak, with none to two backgrounds, each (weight, rate in cps, time in s). Without a
    /// dead time the rates count as corrected already.
    #[staticmethod]
    #[pyo3(signature = (line, rate_cps, time_s, *, backgrounds=Vec::new(), dead_time=None))]
    fn counted(
        line: &str,
        rate_cps: f64,
        time_s: f64,
        backgrounds: Vec<(f64, f64, f64)>,
        dead_time: Option<&PyDeadTime>,
    ) -> Result<Self> {
        let mut reading = LineReading::counted(line, Count::new(rate_cps, time_s)?)?;
        for (weight, rate_cps, time_s) in backgrounds {
            reading = reading.background(weight, Count::new(rate_cps, time_s)?)?;
        }
        if let Some(dead_time) = dead_time {
            reading = reading.dead_time(&dead_time.0)?;
        }
        Ok(Self(reading))
    }
    /// The line.
    #[getter]
    fn line(&self) -> &str {
        self.0.line().as_str()
    }
    /// The net intensity, cps.
    #[getter]
    fn intensity(&self) -> Result<PyValue> {
        self.0.intensity().map(PyValue)
    }
    /// Where the uncertainty of the net intensity comes from, cps.
    fn budget(&self) -> Result<PyBudget> {
        let budget = self.0.budget()?;
        let table = budget.table(&format!("Net intensity of {}", self.0.line()), "cps", 1.0);
        Ok(PyBudget { budget, table })
    }
    /// A finding where the net intensity is below zero, else None; the value is kept.
    fn check(&self) -> Result<Option<PyFinding>> {
        Ok(self.0.check()?.map(PyFinding))
    }
    /// A finding where the same line of a blank bead is above this reading, else None.
    fn check_blank(&self, blank: &PyLineReading) -> Result<Option<PyFinding>> {
        Ok(self.0.check_blank(&blank.0)?.map(PyFinding))
    }
    /// The detection limit in %, by "3-sigma background", "Currie decision", "Currie detection" or "Currie
    /// quantification". In the glass where the sensitivity (cps per %) is per content of the glass, in the sample where it
    /// is per content of the sample.
    #[pyo3(signature = (formula, *, cps_per_percent))]
    fn detection_limit_percent(&self, formula: &str, cps_per_percent: f64) -> Result<f64> {
        // what one gram per gram gives is what a hundred per cent give
        let sensitivity = Unit::Percent.written(cps_per_percent);
        let limit = self.0.detection_limit(DetectionFormula::from_word(formula)?, sensitivity)?;
        Ok(Unit::Percent.written(limit.value))
    }
    fn __repr__(&self) -> Result<String> {
        Ok(format!("<LineReading {} {} cps>", self.0.line(), self.0.intensity()?.value()))
    }
}

/// A drift monitor: a bead measured at calibration and again and again since.
///
/// Parameters
/// ----------
/// name : str
/// calibration_cps : dict of str to Value or float
///     Net intensity of each line at calibration, cps.
#[pyclass(name = "Monitor", module = "beadchem", frozen, eq)]
#[derive(Clone, PartialEq)]
pub(super) struct PyMonitor(Monitor);

fn estimates(lines: BTreeMap<String, Number>) -> impl Iterator<Item = (String, crate::uncertainty::Estimate)> {
    lines.into_iter().map(|(line, intensity)| (line, intensity.estimate()))
}

#[pymethods]
impl PyMonitor {
    #[new]
    fn new(name: String, calibration_cps: BTreeMap<String, Number>) -> Result<Self> {
        Monitor::new(name, estimates(calibration_cps)).map(Self)
    }
    /// The same with a later reading: time as "2026-03-14T08:00", net intensity of each line in cps.
    fn reading(&self, time: &str, lines_cps: BTreeMap<String, Number>) -> Result<Self> {
        self.0.clone().reading(time, estimates(lines_cps)).map(Self)
    }
    /// Its name.
    #[getter]
    fn name(&self) -> &str {
        self.0.name()
    }
    /// The lines it has an intensity at calibration for.
    #[getter]
    fn lines(&self) -> Vec<&str> {
        self.0.lines().collect()
    }
    fn __repr__(&self) -> String {
        format!("<Monitor {}: {}>", self.0.name(), self.0.lines().collect::<Vec<_>>().join(", "))
    }
}

/// How one line of one bead is brought back to the time of the calibration.
#[pyclass(name = "DriftTerm", module = "beadchem", frozen, eq)]
#[derive(Clone, PartialEq)]
pub(super) struct PyDriftTerm(DriftTerm);

impl PyDriftTerm {
    fn points(&self) -> impl Iterator<Item = &DriftPoint> {
        core::iter::once(&self.0.point).chain(&self.0.second)
    }
}

#[pymethods]
impl PyDriftTerm {
    /// The intensity in cps as it would have been at calibration. The readings of the monitors are common to all beads of
    /// a run: add no two of these by hand.
    fn correct(&self, intensity_cps: Number) -> Result<PyValue> {
        self.0.correct(intensity_cps.estimate()).map(PyValue)
    }
    /// The readings it rests on, cps, by the names under which all beads of a run share them.
    #[getter]
    fn readings(&self) -> BTreeMap<String, PyValue> {
        let all = |point: &DriftPoint| {
            [Some(&point.reference), Some(&point.before), point.after.as_ref()].map(|it| it.cloned())
        };
        self.points().flat_map(all).flatten().map(|(name, intensity)| (name, PyValue(intensity))).collect()
    }
    /// The intensity of each monitor at the time of the bead, cps.
    #[getter]
    fn now_cps(&self) -> Vec<f64> {
        self.points().map(DriftPoint::now).collect()
    }
    /// What must be said: a bead after the last reading.
    #[getter]
    fn findings(&self) -> Vec<PyFinding> {
        findings(&self.0.findings)
    }
    fn __repr__(&self) -> String {
        let names: Vec<&str> = self.points().map(|point| point.before.0.as_str()).collect();
        format!("<DriftTerm from {}>", names.join(" and "))
    }
}

/// The drift of a spectrometer by one monitor (a factor) or two (a factor and an offset), on the straight line between the
/// readings before and after a bead.
///
/// Parameters
/// ----------
/// monitor : Monitor
/// second : Monitor, optional
///     A second one, weaker or stronger; the order does not matter.
#[pyclass(name = "Drift", module = "beadchem", frozen, eq)]
#[derive(Clone, PartialEq)]
pub(super) struct PyDrift(pub(super) Drift);

#[pymethods]
impl PyDrift {
    #[new]
    #[pyo3(signature = (monitor, second=None))]
    fn new(monitor: &PyMonitor, second: Option<&PyMonitor>) -> Result<Self> {
        match second {
            Some(second) => Drift::two_point(monitor.0.clone(), second.0.clone()).map(Self),
            None => Ok(Self(Drift::one_point(monitor.0.clone()))),
        }
    }
    /// The monitors.
    #[getter]
    fn monitors(&self) -> Vec<PyMonitor> {
        self.0.monitors().cloned().map(PyMonitor).collect()
    }
    /// What brings a line of a bead measured at this time back to the calibration.
    fn terms(&self, line: &str, time: &str) -> Result<PyDriftTerm> {
        self.0.terms(line, time).map(PyDriftTerm)
    }
    /// Every reading that moved by more than the rules allow, as findings of severity "error".
    fn moved(&self, rules: &PyRules) -> Result<Vec<PyFinding>> {
        Ok(findings(&self.0.moved(&rules.0)?))
    }
    /// Refuses a drift that moved by more than the rules allow.
    fn check(&self, rules: &PyRules) -> Result<()> {
        self.0.check(&rules.0)
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
    /// SHA-256 of the stored form.
    #[getter]
    fn digest(&self) -> Result<String> {
        document::digest(&self.0)
    }
    fn __repr__(&self) -> String {
        let names: Vec<&str> = self.0.monitors().map(Monitor::name).collect();
        format!("<Drift by {}>", names.join(" and "))
    }
}
