//! Beads of known contents, and what is fitted to them.

use pyo3::prelude::*;

use crate::error::Result;
use crate::matrix::Label;
use crate::method::{Standard, StandardFit};
use crate::python::calibrated::PyCalibrated;
use crate::python::coefficients::Sets;
use crate::python::composition::PyComposition;
use crate::python::intensities::{PyDeadTime, PyDrift};
use crate::python::measurement::Readings;
use crate::python::melt::PyMelt;
use crate::python::method::{PyInternalStandard, PyOverlap};

/// A bead measured to calibrate: a fused charge, what its sample holds, and its readings.
///
/// Parameters
/// ----------
/// melt : Melt
/// contents : Composition or None
///     From a certificate or a recipe, on the basis of the weighing; what it does not list is taken as absent. None for a
///     sample whose charge states the reagents it was weighed from.
/// readings : dict of str to Value or float, or list of LineReading
///     A dict holds net intensities by line, cps.
/// name : str
///     Its id.
/// material : str
///     The class of material that its residuals are shown under.
/// drift, at : Drift and str, optional
///     The monitors of the run, and when the bead was measured ("2026-03-02T08:05").
/// of_class : str, optional
///     The name of the coefficient set; the first one of the fit where it is not said.
#[pyclass(name = "Standard", module = "beadchem", frozen)]
pub(super) struct PyStandard(Standard);

#[pymethods]
impl PyStandard {
    #[new]
    #[pyo3(signature = (melt, contents, readings, *, name, material="", at=None, drift=None, of_class=None))]
    #[expect(clippy::too_many_arguments, reason = "keywords of the constructor")]
    fn new(
        melt: &PyMelt,
        contents: Option<&PyComposition>,
        readings: Readings,
        name: &str,
        material: &str,
        at: Option<String>,
        drift: Option<&PyDrift>,
        of_class: Option<String>,
    ) -> Result<Self> {
        let (melt, measured) = (melt.0.clone(), readings.of_bead(name, at, drift, of_class)?);
        let standard = match contents {
            Some(contents) => Standard::new(melt, contents.0.clone(), measured),
            None => Standard::from_reagents(melt, measured),
        };
        Ok(Self(standard?.of_material(material)))
    }
    /// Its id.
    #[getter]
    fn name(&self) -> &str {
        self.0.name()
    }
    /// Its class of material; empty where none was stated.
    #[getter]
    fn material(&self) -> &str {
        self.0.material()
    }
    fn __repr__(&self) -> String {
        match self.0.material() {
            "" => format!("<Standard {}>", self.0.name()),
            material => format!("<Standard {}, {material}>", self.0.name()),
        }
    }
}

/// What is to be fitted to standards, with what is given: one sensitivity for each line of the coefficients, an offset or
/// single coefficients with it where they are asked for.
///
/// Parameters
/// ----------
/// coefficients : CoefficientSet or list of CoefficientSet
///     The first is that of the calibration; others are for standards that name their class.
/// overlaps : list of Overlap
/// dead_time : DeadTime, optional
///     For counted readings that state none of their own.
/// internal_standard : InternalStandard, optional
///     Its sensitivity is one; those of the lines that follow it are relative to it.
/// offsets : list of str
///     Lines whose offset is fitted: what is left of the net intensity where no analyte is.
/// fitted : list of (str, str)
///     Line and component of each coefficient that is fitted in place of the set's.
#[pyclass(name = "StandardFit", module = "beadchem", frozen)]
pub(super) struct PyStandardFit(StandardFit);

#[pymethods]
impl PyStandardFit {
    #[new]
    #[pyo3(signature = (coefficients, *, overlaps=Vec::new(), dead_time=None, internal_standard=None, offsets=Vec::new(), fitted=Vec::new()))]
    fn new(
        coefficients: Sets,
        overlaps: Vec<Py<PyOverlap>>,
        dead_time: Option<&PyDeadTime>,
        internal_standard: Option<&PyInternalStandard>,
        offsets: Vec<String>,
        fitted: Vec<(String, String)>,
    ) -> Result<Self> {
        let (first, others) = coefficients.split()?;
        let mut fit = StandardFit::new(first)?;
        for other in others {
            fit = fit.class(other)?;
        }
        for overlap in overlaps {
            fit = fit.overlap(overlap.get().0.clone())?;
        }
        if let Some(dead_time) = dead_time {
            fit = fit.dead_time(dead_time.0.clone());
        }
        if let Some(standard) = internal_standard {
            fit = fit.internal_standard(standard.0.clone())?;
        }
        for line in &offsets {
            fit = fit.offset(line)?;
        }
        for (line, component) in &fitted {
            fit = fit.coefficient(line, component)?;
        }
        Ok(Self(fit))
    }
    /// Fits all lines to the standards. What they share with each other and with unknowns (flux loss, balance, blanks, dead
    /// time, overlaps, monitors) does not weigh and is carried on by its name, so that it cancels where it must.
    ///
    /// Parameters
    /// ----------
    /// standards : list of Standard
    /// name, version, source : str
    ///     Those of the calibration that is made.
    #[pyo3(signature = (standards, *, name, version, source))]
    fn calibrate(
        &self,
        py: Python<'_>,
        standards: Vec<Py<PyStandard>>,
        name: &str,
        version: &str,
        source: &str,
    ) -> Result<PyCalibrated> {
        let label = Label::new(name, version, source)?;
        let standards: Vec<Standard> = standards.iter().map(|standard| standard.get().0.clone()).collect();
        py.detach(|| self.0.calibrate(label, &standards)).map(PyCalibrated)
    }
    fn __repr__(&self) -> String {
        format!("<StandardFit {}>", self.0)
    }
}
