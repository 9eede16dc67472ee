//! The straight line with uncertainty on both axes.

use pyo3::prelude::*;

use crate::error::{Error, Result};
use crate::numeric::{Line, Point, both_axes};

/// A straight line through points that are uncertain in both coordinates. Made by `fit_line`.
#[pyclass(name = "FittedLine", module = "beadchem", frozen)]
pub(super) struct PyFittedLine(Line);

#[pymethods]
impl PyFittedLine {
    /// Ordinate at abscissa zero.
    #[getter]
    fn intercept(&self) -> f64 {
        self.0.intercept
    }
    /// Change of the ordinate for a change of 1 of the abscissa.
    #[getter]
    fn slope(&self) -> f64 {
        self.0.slope
    }
    /// Standard uncertainty of the intercept, from the stated uncertainties alone.
    #[getter]
    fn u_intercept(&self) -> f64 {
        self.0.u_intercept()
    }
    /// Standard uncertainty of the slope, from the stated uncertainties alone.
    #[getter]
    fn u_slope(&self) -> f64 {
        self.0.u_slope()
    }
    /// Covariance of intercept and slope.
    #[getter]
    fn covariance(&self) -> f64 {
        self.0.covariance[1]
    }
    /// Sum of the squared residuals, each over its variance; about `dof` if the stated uncertainties explain the scatter.
    #[getter]
    fn chi_squared(&self) -> f64 {
        self.0.chi_squared
    }
    /// Points less two.
    #[getter]
    fn dof(&self) -> usize {
        self.0.dof
    }
    /// The ordinate at an exact abscissa and its standard uncertainty.
    fn predict(&self, x: f64) -> (f64, f64) {
        self.0.predict(x)
    }
    fn __repr__(&self) -> String {
        let Line { intercept, slope, .. } = self.0;
        let (intercept, u_intercept) = crate::table::format_value(intercept, self.0.u_intercept());
        let (slope, u_slope) = crate::table::format_value(slope, self.0.u_slope());
        format!("<FittedLine intercept {intercept} (u {u_intercept}), slope {slope} (u {u_slope})>")
    }
}

/// Fits a straight line by the largest likelihood of its points, weights in both directions.
///
/// Parameters
/// ----------
/// x, y : list of float
///     Abscissae and ordinates.
/// u_x, u_y : list of float
///     Their standard uncertainties, zero where a coordinate is exact.
#[pyfunction]
#[pyo3(signature = (x, y, *, u_x, u_y))]
pub(super) fn fit_line(x: Vec<f64>, y: Vec<f64>, u_x: Vec<f64>, u_y: Vec<f64>) -> Result<PyFittedLine> {
    for (name, list) in [("Ordinates of a line", &y), ("Numbers in u_x", &u_x), ("Numbers in u_y", &u_y)] {
        if list.len() != x.len() {
            return Err(Error::shape(name, x.len(), list.len(), "Give one for each abscissa."));
        }
    }
    let coordinates = x.into_iter().zip(y).zip(u_x.into_iter().zip(u_y));
    let points: Vec<Point> = coordinates.map(|((x, y), (u_x, u_y))| Point::new(x, y, u_x, u_y)).collect();
    both_axes(&points).map(PyFittedLine)
}
