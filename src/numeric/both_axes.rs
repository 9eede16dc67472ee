//! The straight line through points that are uncertain in both coordinates.
//!
//! # Source
//! D. York, N. M. Evensen, M. López Martínez, J. De Basabe Delgado, Am. J. Phys. 72 (2004) 367: the iteration. The
//! covariance is not the one given there, see [`Line::covariance`].

use crate::code::Code;
use crate::error::{Error, Result};
use crate::numeric::check::{finite, points_to_spare};
use crate::numeric::solve::inverse;
use crate::numeric::sums::{Sum, sum};
use crate::scalar::{Dual, Scalar};

/// The slope stands still when a step is below this share of itself or this many of its uncertainties.
const SETTLED: f64 = 1e-13;
/// Steps after which the iteration is given up; ten are usual.
const STEPS: usize = 500;

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
    let mut slope = start(points)?;
    for _ in 0..STEPS {
        let (intercept, next, u) = improve(points, slope);
        let step = (next - slope).abs();
        if !(next.is_finite() && intercept.is_finite() && step.is_finite()) {
            return Err(unsettled(slope));
        }
        slope = next;
        if step <= SETTLED * next.abs().max(u) {
            return finish(points, improve(points, slope).0, slope);
        }
    }
    Err(unsettled(slope))
}

/// The slope of the ordinary regression line, about the means.
fn start(points: &[Point]) -> Result<f64> {
    let count = points.len() as f64;
    let [x, y] = [sum(points.iter().map(|p| p.x)) / count, sum(points.iter().map(|p| p.y)) / count];
    let product = |a: fn(&Point, f64, f64) -> f64| sum(points.iter().map(|p| a(p, x, y)));
    let spread = product(|p, x, _| (p.x - x) * (p.x - x));
    // Rounding of equal abscissae about their mean stays below this.
    if spread <= count * (4.0 * f64::EPSILON * x).powi(2) {
        return Err(Error::Matrix {
            code: Code::MatrixSingular,
            quantity: "Line through points".to_owned(),
            detail: format!("all points have the abscissa {x}"),
            figure: "sum of squares about the mean",
            value: spread,
            hint: "Add points at another abscissa.".to_owned(),
        });
    }
    Ok(product(|p, x, y| (p.x - x) * (p.y - y)) / spread)
}

/// One step of York's iteration: the intercept at this slope, the next slope, and an uncertainty of the slope.
fn improve(points: &[Point], b: f64) -> (f64, f64, f64) {
    let weight = |p: &Point| 1.0 / (p.u_y * p.u_y + b * (b * p.u_x * p.u_x - 2.0 * p.covariance()));
    let mean = |of: fn(&Point) -> f64| {
        let [weighted, weights] =
            points.iter().fold([Sum::new(); 2], |[s, w], p| [s.add_product(weight(p), of(p)), w.add(weight(p))]);
        weighted.value() / weights.value()
    };
    let (x, y) = (mean(|p| p.x), mean(|p| p.y));
    let [mut above, mut below, mut information] = [Sum::new(); 3];
    for p in points {
        let (w, dx, dy) = (weight(p), p.x - x, p.y - y);
        let beta = w * (dx * p.u_y * p.u_y + b * dy * p.u_x * p.u_x - (b * dx + dy) * p.covariance());
        above = above.add(w * beta * dy);
        below = below.add(w * beta * dx);
        information = information.add(w * beta * beta);
    }
    (y - b * x, above.value() / below.value(), 1.0 / information.value().sqrt())
}

/// What a point contributes to the two equations of the line, half the slopes of chi-squared: `w e` and `w e xi`, with
/// `e` the residual, `w` its weight and `xi` the adjusted abscissa. Both sum to zero on the fitted line.
fn equations<S: Scalar>(p: &Point, intercept: S, slope: S, x: S, y: S) -> [S; 2] {
    let variance = slope * (slope * (p.u_x * p.u_x) - 2.0 * p.covariance()) + p.u_y * p.u_y;
    let scaled = (y - intercept - slope * x) / variance;
    [scaled, scaled * (x + scaled * (slope * (p.u_x * p.u_x) - p.covariance()))]
}

fn finish(points: &[Point], intercept: f64, slope: f64) -> Result<Line> {
    let mut by_line = [Sum::new(); 4];
    let mut by_points = [Sum::new(); 4];
    let mut chi_squared = Sum::new();
    for p in points {
        let at = |value, direction| Dual::<f64, 4>::variable(value, direction);
        let equations = equations(p, at(intercept, 0), at(slope, 1), at(p.x, 2), at(p.y, 3));
        chi_squared = chi_squared.add(equations[0].re * (p.y - intercept - slope * p.x));
        let (v_x, v_xy, v_y) = (p.u_x * p.u_x, p.covariance(), p.u_y * p.u_y);
        for k in 0..4 {
            let ([a, b, a_x, a_y], [_, _, b_x, b_y]) = (equations[k / 2].eps, equations[k % 2].eps);
            by_line[k] = by_line[k].add(if k % 2 == 0 { a } else { b });
            by_points[k] = by_points[k].add(a_x * (v_x * b_x + v_xy * b_y) + a_y * (v_xy * b_x + v_y * b_y));
        }
    }
    let h = inverse(&by_line.map(Sum::value), 2)?;
    let m = by_points.map(Sum::value);
    let entry = |i: usize, j: usize| sum((0..4).map(|k| h[2 * i + k / 2] * m[k] * h[2 * j + k % 2]));
    let covariance = [entry(0, 0), entry(0, 1), entry(0, 1), entry(1, 1)];
    finite("Covariance of a line", &covariance, 2)?;
    Ok(Line { intercept, slope, covariance, chi_squared: chi_squared.value(), dof: points.len() - 2 })
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

fn unsettled(slope: f64) -> Error {
    Error::Matrix {
        code: Code::FitNotConverged,
        quantity: "Line with uncertainty on both axes".to_owned(),
        detail: "the slope does not settle".to_owned(),
        figure: "last slope",
        value: slope,
        hint: "Look for a point far off the line or with a far too small uncertainty; a line near the vertical is \
               fitted with the axes exchanged."
            .to_owned(),
    }
}
