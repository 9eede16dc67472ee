//! The straight line through points that are uncertain in both coordinates.
//!
//! # Source
//! D. York, N. M. Evensen, M. López Martínez, J. De Basabe Delgado, Am. J. Phys. 72 (2004) 367: the iteration. The
//! covariance is not the one given there, see [`Line::covariance`].

use crate::code::Code;
use crate::error::{Error, Result};
use crate::numeric::check::{finite, points_to_spare};
use crate::numeric::errors_in_variables::errors_in_variables;
use crate::numeric::sums::sum;

/// A point with the standard uncertainties of its coordinates and their correlation coefficient.
///
/// ```
/// use beadchem::numeric::Point;
/// let point = Point { x: 1.0, y: 2.0, u_x: 0.1, u_y: 0.2, correlation: 0.0 };
/// assert_eq!(Point { u_y: 0.2, ..Point::new(1.0, 2.0, 0.1, 0.0) }, point);
/// ```
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Point {
    /// Abscissa.
    pub x: f64,
    /// Ordinate.
    pub y: f64,
    /// Standard uncertainty of the abscissa, zero where it is exact.
    pub u_x: f64,
    /// Standard uncertainty of the ordinate, zero where it is exact.
    pub u_y: f64,
    /// Correlation coefficient of the two, between -1 and 1.
    pub correlation: f64,
}

impl Point {
    /// A point without correlation.
    ///
    /// ```
    /// assert_eq!(beadchem::numeric::Point::new(1.0, 2.0, 0.1, 0.2).correlation, 0.0);
    /// ```
    #[must_use]
    pub const fn new(x: f64, y: f64, u_x: f64, u_y: f64) -> Self {
        Self { x, y, u_x, u_y, correlation: 0.0 }
    }

    fn covariance(&self) -> f64 {
        self.correlation * self.u_x * self.u_y
    }
}

/// A straight line `y = intercept + slope x` with the covariance of its two coefficients.
///
/// ```
/// use beadchem::numeric::{Point, both_axes};
/// let points = [0.0, 1.0, 2.0, 3.0].map(|x| Point::new(x, 1.0 + 2.0 * x, 0.1, 0.2));
/// let line = both_axes(&points)?;
/// assert!((line.slope - 2.0).abs() < 1e-12 && line.chi_squared < 1e-20);
/// # Ok::<(), beadchem::error::Error>(())
/// ```
#[derive(Debug, Clone, PartialEq)]
pub struct Line {
    /// Ordinate at abscissa zero.
    pub intercept: f64,
    /// Change of the ordinate for a change of 1 of the abscissa.
    pub slope: f64,
    /// Covariance of intercept and slope, row by row, from the stated uncertainties alone (not scaled by the
    /// residuals): the uncertainties of all coordinates propagated to first order through the fitted line, the
    /// derivatives taken at the readings by the implicit function theorem. This is the law of propagation of the GUM.
    ///
    /// Two other conventions are in use and differ by about the relative size of the residuals: the inverse
    /// information at the adjusted points (York 2004) and at the readings. For Pearson's data with York's weights the
    /// uncertainty of the slope is 0.05762 here and 0.05799 with York 2004.
    pub covariance: [f64; 4],
    /// Sum of the squared residuals, each over its effective variance; about [`Line::dof`] if the stated
    /// uncertainties explain the scatter.
    pub chi_squared: f64,
    /// Points less two.
    pub dof: usize,
}

impl Line {
    /// Standard uncertainty of the intercept.
    ///
    /// ```
    /// # use beadchem::numeric::{Point, both_axes};
    /// let exact_x = [-1.0, 0.0, 1.0].map(|x| Point::new(x, x, 0.0, 0.3));
    /// assert!((both_axes(&exact_x)?.u_intercept() - 0.3 / 3.0_f64.sqrt()).abs() < 1e-12);
    /// # Ok::<(), beadchem::error::Error>(())
    /// ```
    #[must_use]
    pub fn u_intercept(&self) -> f64 {
        self.covariance[0].sqrt()
    }

    /// Standard uncertainty of the slope.
    ///
    /// ```
    /// # use beadchem::numeric::{Point, both_axes};
    /// let exact_x = [-1.0, 0.0, 1.0].map(|x| Point::new(x, x, 0.0, 0.3));
    /// assert!((both_axes(&exact_x)?.u_slope() - 0.3 / 2.0_f64.sqrt()).abs() < 1e-12);
    /// # Ok::<(), beadchem::error::Error>(())
    /// ```
    #[must_use]
    pub fn u_slope(&self) -> f64 {
        self.covariance[3].sqrt()
    }

    /// The ordinate of the line at an exact abscissa, and its standard uncertainty.
    ///
    /// ```
    /// # use beadchem::numeric::{Point, both_axes};
    /// let exact_x = [-1.0, 0.0, 1.0].map(|x| Point::new(x, x, 0.0, 0.3));
    /// let (value, u) = both_axes(&exact_x)?.predict(2.0);
    /// assert!((value - 2.0).abs() < 1e-12 && (u - 0.3 * (1.0 / 3.0 + 4.0 / 2.0_f64).sqrt()).abs() < 1e-12);
    /// # Ok::<(), beadchem::error::Error>(())
    /// ```
    #[must_use]
    pub fn predict(&self, x: f64) -> (f64, f64) {
        let [intercept, covariance, _, slope] = self.covariance;
        let variance = intercept + x * (2.0 * covariance + x * slope);
        (self.intercept + self.slope * x, variance.max(0.0).sqrt())
    }
}

/// Fits a straight line by the largest likelihood of the points, weights in both directions.
///
/// The line that minimises the sum of `(y - a - b x)^2 / (u_y^2 + b^2 u_x^2 - 2 b r u_x u_y)`.
///
/// # Errors
/// `fit.too-few-points` below three points, `number.not-finite`, `uncertainty.negative`, `number.out-of-range` for a
/// correlation outside -1 to 1 or a point without any uncertainty, `matrix.singular` where the points have one abscissa
/// only, and `fit.not-converged` where the slope does not settle.
///
/// ```
/// use beadchem::numeric::{Point, both_axes};
/// let points = [(0.0, 1.1), (1.0, 2.8), (2.0, 5.1), (3.0, 7.0)].map(|(x, y)| Point::new(x, y, 0.05, 0.1));
/// let line = both_axes(&points)?;
/// assert!((line.slope - 2.0).abs() < 2.0 * line.u_slope());
/// # Ok::<(), beadchem::error::Error>(())
/// ```
pub fn both_axes(points: &[Point]) -> Result<Line> {
    points.iter().enumerate().try_for_each(|(index, point)| check(index + 1, point))?;
    points_to_spare(points.len(), 2)?;
    different_abscissae(points)?;
    let (y, design): (Vec<f64>, Vec<f64>) =
        (points.iter().map(|p| p.y).collect(), points.iter().flat_map(|p| [1.0, p.x]).collect());
    let covariances = points.iter().flat_map(|p| {
        let (x, xy, y) = (p.u_x * p.u_x, p.covariance(), p.u_y * p.u_y);
        [y, 0.0, xy, 0.0, 0.0, 0.0, xy, 0.0, x]
    });
    let fit = errors_in_variables(&y, &design, 2, &covariances.collect::<Vec<_>>())?;
    let [intercept, slope] = [fit.coefficients[0], fit.coefficients[1]];
    let covariance = [fit.covariance[0], fit.covariance[1], fit.covariance[2], fit.covariance[3]];
    Ok(Line { intercept, slope, covariance, chi_squared: fit.chi_squared.unwrap_or(0.0), dof: fit.dof })
}

fn different_abscissae(points: &[Point]) -> Result<()> {
    let count = points.len() as f64;
    let x = sum(points.iter().map(|p| p.x)) / count;
    let spread = sum(points.iter().map(|p| (p.x - x) * (p.x - x)));
    // Rounding of equal abscissae about their mean stays below this.
    if spread > count * (4.0 * f64::EPSILON * x).powi(2) {
        return Ok(());
    }
    Err(Error::Matrix {
        code: Code::MatrixSingular,
        quantity: "Line through points".to_owned(),
        detail: format!("all points have the abscissa {x}"),
        figure: "sum of squares about the mean",
        value: spread,
        hint: "Add points at another abscissa.".to_owned(),
    })
}

fn check(position: usize, point: &Point) -> Result<()> {
    let quantity = format!("Point {position} of a line");
    finite(&quantity, &[point.x, point.y, point.u_x, point.u_y, point.correlation], 1)?;
    for (axis, u) in [("x", point.u_x), ("y", point.u_y)] {
        if u < 0.0 {
            return Err(Error::NotPositive {
                code: Code::UncertaintyNegative,
                quantity: format!("Standard uncertainty of {axis} of point {position}"),
                value: u,
                unit: "in the units of its axis",
                bound: "A standard uncertainty is zero or above".to_owned(),
                hint: "give its absolute size; the sign of an error is not part of it.".to_owned(),
            });
        }
    }
    if !(point.correlation > -1.0 && point.correlation < 1.0) {
        return Err(Error::OutOfRange {
            code: Code::NumberOutOfRange,
            quantity: format!("Correlation coefficient of point {position}"),
            value: point.correlation,
            unit: "",
            bound: "-1 to 1, both excluded".to_owned(),
            hint: "A covariance was perhaps given; divide it by both standard uncertainties.".to_owned(),
        });
    }
    if point.u_x == 0.0 && point.u_y == 0.0 {
        return Err(Error::NotPositive {
            code: Code::NumberOutOfRange,
            quantity: format!("Standard uncertainty of both coordinates of point {position}"),
            value: 0.0,
            unit: "in the units of their axes",
            bound: "A weight needs at least one above zero".to_owned(),
            hint: "give the uncertainty of the reading, or leave the exact point out.".to_owned(),
        });
    }
    Ok(())
}
