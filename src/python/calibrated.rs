//! A finished calibration: sensitivities, and how well each standard fits them.

use pyo3::prelude::*;

use crate::composition::Unit;
use crate::error::Result;
use crate::matrix::Label;
use crate::method::{Calibrated, LineFit, Residual};
use crate::python::calibration::PyCalibration;
use crate::python::convert::{PyFinding, findings};
use crate::python::method::PyMethod;
use crate::python::uncertainty::PyValue;

/// A calibration with how each standard fits it; made by `StandardFit.calibrate`.
#[pyclass(name = "Calibrated", module = "beadchem", frozen)]
pub(super) struct PyCalibrated(pub(super) Calibrated);

#[pymethods]
impl PyCalibrated {
    /// The calibration, to be stored.
    #[getter]
    fn calibration(&self) -> PyCalibration {
        PyCalibration(self.0.calibration().clone())
    }
    /// The fits, line by line.
    #[getter]
    fn lines(&self) -> Vec<PyLineFit> {
        self.0.lines().iter().cloned().map(PyLineFit).collect()
    }
    /// What is doubtful: standards off their line, more scatter than stated, lines that nothing tests.
    #[getter]
    fn findings(&self) -> Vec<PyFinding> {
        findings(self.0.findings())
    }
    /// The method that the fit and this calibration make.
    #[pyo3(signature = (name, version, source))]
    fn method(&self, name: &str, version: &str, source: &str) -> Result<PyMethod> {
        self.0.method(Label::new(name, version, source)?).map(PyMethod)
    }
    /// Residuals by material and standard as CSV.
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

/// The fit of one line.
#[pyclass(name = "LineFit", module = "beadchem", frozen)]
pub(super) struct PyLineFit(LineFit);

#[pymethods]
impl PyLineFit {
    /// The line.
    #[getter]
    fn line(&self) -> &str {
        &self.0.line
    }
    /// Its analyte.
    #[getter]
    fn analyte(&self) -> &str {
        &self.0.analyte
    }
    /// k, g per g of sample and cps.
    #[getter]
    fn sensitivity(&self) -> PyValue {
        PyValue(self.0.sensitivity.clone())
    }
    /// How many parameters were fitted.
    #[getter]
    fn parameters(&self) -> usize {
        self.0.coefficients
    }
    /// Squared residuals over their covariance, what standards share included: about `dof` if they scatter as stated. None
    /// without degrees of freedom or stated uncertainties.
    #[getter]
    fn chi_squared(&self) -> Option<f64> {
        self.0.chi_squared
    }
    /// Standards less parameters.
    #[getter]
    fn dof(&self) -> usize {
        self.0.dof
    }
    /// False where no uncertainty was stated and contents were weighed in proportion.
    #[getter]
    fn weighted(&self) -> bool {
        self.0.weighted
    }
    /// One for each standard that measured the line.
    #[getter]
    fn residuals(&self) -> Vec<PyResidual> {
        self.0.residuals.iter().cloned().map(PyResidual).collect()
    }
    fn __repr__(&self) -> String {
        format!("<LineFit {}>", self.0)
    }
}

/// How one standard fits the line of one analyte.
#[pyclass(name = "Residual", module = "beadchem", frozen)]
pub(super) struct PyResidual(Residual);

#[pymethods]
impl PyResidual {
    /// The standard.
    #[getter]
    fn standard(&self) -> &str {
        &self.0.standard
    }
    /// Its class of material.
    #[getter]
    fn material(&self) -> &str {
        &self.0.material
    }
    /// What its glass holds of the analyte, % of the sample.
    #[getter]
    fn content_percent(&self) -> f64 {
        Unit::Percent.written(self.0.content)
    }
    /// What its glass holds of the analyte, % of the glass.
    #[getter]
    fn glass_percent(&self) -> f64 {
        Unit::Percent.written(self.0.glass_content)
    }
    /// Known less found, % of the sample.
    #[getter]
    fn residual_percent(&self) -> f64 {
        Unit::Percent.written(self.0.residual)
    }
    /// Standard uncertainty of the residual from everything that is stated, what standards share included, % of the sample;
    /// zero where the fit passes through the point, None where none is stated.
    #[getter]
    fn u_percent(&self) -> Option<f64> {
        self.0.u.map(|u| Unit::Percent.written(u))
    }
    /// The residual in units of its u, or None.
    #[getter]
    fn in_u(&self) -> Option<f64> {
        self.0.in_u()
    }
    /// How far the fit follows this standard: 0 not at all, 1 entirely.
    #[getter]
    fn leverage(&self) -> f64 {
        self.0.leverage
    }
    fn __repr__(&self) -> String {
        format!("<Residual {}>", self.0)
    }
}
