//! Linear fits whose columns are as uncertain as the readings: calibration with standards that are known so well and no
//! better.
//!
//! # Source
//! D. York, N. M. Evensen, M. López Martínez, J. De Basabe Delgado, Am. J. Phys. 72 (2004) 367: chi-squared and the
//! adjusted abscissae, here for any number of columns. W. A. Fuller, Measurement Error Models, 1987, section 3.1.6
//! (from memory).

use crate::code::Code;
use crate::error::{Error, Result};
use crate::numeric::check::finite;
use crate::numeric::refined::Refined;
use crate::numeric::solve::{inverse, smallest_eigenvalue, solve};
use crate::numeric::sums::{Sum, sum};

/// A step of this many standard uncertainties is the last; the one after it would be its square.
const SETTLED: f64 = 1e-10;
/// So is one below this share of every coefficient: rounding, where uncertainties are very small.
const ROUNDING: f64 = 1e-13;
/// A step below this many standard uncertainties that gains nothing over the one before is rounding too.
const NEAR: f64 = 1e-3;
/// Where chi-squared is curved by less than this share of what the weights give, its curvature is not trusted.
const CURVED: f64 = 0.25;
/// Nor is it before the steps by the weights alone are below this many standard uncertainties.
const CLOSE: f64 = 0.5;
/// Steps after which the iteration is given up; six are usual.
const STEPS: usize = 500;
/// An eigenvalue of stated correlations below zero by less than this is rounding.
const SEMIDEFINITE: f64 = -1e-10;

/// A linear fit through points that are uncertain in every coordinate.
///
/// ```
/// use beadchem::numeric::errors_in_variables;
/// // one standard, line through the origin: the u of reading and content add up relatively
/// let fit = errors_in_variables(&[200.0], &[0.5], 1, &[4.0, 0.0, 0.0, 1e-4])?;
/// assert_eq!((fit.coefficients[0], fit.dof, fit.chi_squared), (400.0, 0, None));
/// assert!((fit.u(0) - 400.0 * (0.01_f64.powi(2) + 0.02_f64.powi(2)).sqrt()).abs() < 1e-10);
/// # Ok::<(), beadchem::error::Error>(())
/// ```
#[derive(Debug, Clone, PartialEq)]
pub struct UncertainFit {
    /// One for each column.
    pub coefficients: Vec<f64>,
    /// Covariance of the coefficients, row by row: the uncertainties of all data propagated to first order through the
    /// fit, not scaled by the residuals. It is the law of propagation of the GUM, points taken as independent.
    pub covariance: Vec<f64>,
    /// Derivative of each coefficient with respect to each datum, one row for each coefficient; data in the order of the
    /// points, in each the reading and then the columns. With these, data that several points share are propagated.
    pub derivatives: Vec<f64>,
    /// Reading less fitted value, in the units of the readings.
    pub residuals: Vec<f64>,
    /// Variance of each residual for known coefficients, from the uncertainties of its reading and its columns; times
    /// one less the leverage, it is that of the residual of the fit.
    pub residual_variances: Vec<f64>,
    /// Weight of each point in its own fitted value, between 0 and 1; they add up to the number of coefficients.
    pub leverage: Vec<f64>,
    /// Sum of the squared residuals, each over its variance: about [`dof`](Self::dof) if the stated uncertainties explain
    /// the scatter. Nothing where no point is to spare, as the fit then passes through all of them.
    pub chi_squared: Option<f64>,
    /// Points less coefficients.
    pub dof: usize,
}

impl UncertainFit {
    /// Standard uncertainty of one coefficient; not a number past the last.
    ///
    /// ```
    /// use beadchem::numeric::errors_in_variables;
    /// let fit = errors_in_variables(&[3.0], &[1.0], 1, &[0.25, 0.0, 0.0, 0.0])?;
    /// assert_eq!((fit.u(0), fit.u(1).is_nan()), (0.5, true));
    /// # Ok::<(), beadchem::error::Error>(())
    /// ```
    #[must_use]
    pub fn u(&self, coefficient: usize) -> f64 {
        let n = self.coefficients.len();
        if coefficient < n { self.covariance[coefficient * (n + 1)].sqrt() } else { f64::NAN }
    }

    /// How far one coefficient moves with one datum: 0 is the reading of the point, 1 its first column, and so on; not a
    /// number for what is not there.
    ///
    /// ```
    /// use beadchem::numeric::errors_in_variables;
    /// let fit = errors_in_variables(&[3.0], &[2.0], 1, &[0.25, 0.0, 0.0, 0.01])?;
    /// assert_eq!((fit.derivative(0, 0, 0), fit.derivative(0, 0, 1)), (0.5, -0.75));
    /// # Ok::<(), beadchem::error::Error>(())
    /// ```
    #[must_use]
    pub fn derivative(&self, coefficient: usize, point: usize, datum: usize) -> f64 {
        let (data, points) = (self.coefficients.len() + 1, self.residuals.len());
        let place = (coefficient * points + point) * data + datum;
        let known = datum < data && point < points;
        self.derivatives.get(place).copied().filter(|_| known).unwrap_or(f64::NAN)
    }
}

/// Fits `y = sum of coefficient times column` where readings and columns are uncertain.
///
/// The coefficients minimise the sum over the points of `r^2 / V`, `r` the residual and `V` its variance, which depends
/// on the coefficients: the largest likelihood of the points. `design` has one row for each reading. `covariances` has a
/// square matrix for each point, row by row, over its reading and then its columns; a column without uncertainty (the
/// ones of an intercept) has zeros there. The covariances give the weights and count as known.
///
/// As many points as columns are enough; the fit then passes through the points.
///
/// # Errors
/// `shape.mismatch`, `number.not-finite`, `fit.too-few-points` below one point for each column, `uncertainty.negative`,
/// `number.out-of-range` for a point without any uncertainty, `correlation.impossible` for covariances that no quantities
/// can have, `matrix.singular` naming the first column that is a combination of those before it, and `fit.not-converged`
/// where the coefficients do not settle on a minimum.
///
/// ```
/// use beadchem::numeric::errors_in_variables;
/// // three standards: intensity against content, with an intercept
/// let design = [1.0, 0.1, 1.0, 0.2, 1.0, 0.4];
/// let point = [1.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 1e-6];
/// let fit = errors_in_variables(&[15.0, 25.0, 45.0], &design, 2, &point.repeat(3))?;
/// assert!((fit.coefficients[0] - 5.0).abs() < 1e-9 && (fit.coefficients[1] - 100.0).abs() < 1e-9);
/// assert!(fit.chi_squared.is_some_and(|chi_squared| chi_squared < 1e-20));
/// # Ok::<(), beadchem::error::Error>(())
/// ```
pub fn errors_in_variables(y: &[f64], design: &[f64], columns: usize, covariances: &[f64]) -> Result<UncertainFit> {
    let data = Data::new(y, design, columns, covariances)?;
    let pairs = |values: &[f64]| values.iter().map(|&value| [value, 0.0]).collect::<Vec<_>>();
    let mut coefficients = Refined::new(pairs(design), columns)?.solve(&pairs(y), &vec![0.0; columns]).1;
    let mut before = f64::INFINITY;
    for _ in 0..STEPS {
        let state = State::at(&data, &coefficients)?;
        // steps in units of the uncertainties: by the weights alone until close enough for the curvature to count
        let curved = length(&state.slope) <= CLOSE && state.flattest()? > CURVED;
        let step = if curved { solve(&state.curvature, columns, &state.slope)? } else { state.slope.clone() };
        let size = length(&step);
        let mut below = true;
        for (p, coefficient) in coefficients.iter_mut().enumerate() {
            let move_by: f64 = step.iter().zip(state.root.chunks_exact(columns)).map(|(s, root)| s * root[p]).sum();
            *coefficient += move_by;
            below &= move_by.abs() <= ROUNDING * coefficient.abs();
        }
        if below || size <= SETTLED || (curved && size <= NEAR && size >= 0.5 * before) {
            return State::at(&data, &coefficients)?.finish(&data, coefficients);
        }
        before = size;
    }
    Err(unsettled("the coefficients do not settle", "last step, in standard uncertainties", before))
}

/// The points, checked.
struct Data<'a> {
    y: &'a [f64],
    design: &'a [f64],
    columns: usize,
    covariances: &'a [f64],
}

impl<'a> Data<'a> {
    fn new(y: &'a [f64], design: &'a [f64], columns: usize, covariances: &'a [f64]) -> Result<Self> {
        if columns == 0 || design.len() != columns * y.len() {
            let hint = "The design has one row for each reading and at least one column.";
            return Err(Error::shape("Entries of the design", columns.max(1) * y.len(), design.len(), hint));
        }
        let width = columns + 1;
        if covariances.len() != width * width * y.len() {
            let hint = "Give each point a square matrix over its reading and its columns.";
            return Err(Error::shape("Covariances of the points", width * width * y.len(), covariances.len(), hint));
        }
        if y.len() < columns {
            return Err(Error::Shape {
                code: Code::FitTooFewPoints,
                quantity: format!("Points for a fit of {columns} coefficients"),
                expected: columns,
                found: y.len(),
                hint: "A fit needs a point for each coefficient; add points or fit fewer coefficients.".to_owned(),
            });
        }
        finite("Reading of a fit", y, 1)?;
        finite("Design of a fit", design, columns)?;
        let points = covariances.chunks_exact(width * width).enumerate();
        points.into_iter().try_for_each(|(s, matrix)| check(s + 1, matrix, width))?;
        Ok(Self { y, design, columns, covariances })
    }

    /// Row of the design and covariances of a point.
    fn point(&self, s: usize) -> (&[f64], &[f64]) {
        let (n, size) = (self.columns, (self.columns + 1) * (self.columns + 1));
        (&self.design[s * n..(s + 1) * n], &self.covariances[s * size..(s + 1) * size])
    }
}

/// A point at some coefficients.
struct Seen {
    residual: f64,
    variance: f64,
    /// Covariance of each column with the residual.
    with_residual: Vec<f64>,
}

/// The fit at some coefficients. Curvature and slope are half the derivatives of chi-squared, taken along directions in
/// which the weights alone give a curvature of one.
struct State {
    seen: Vec<Seen>,
    leverage: Vec<f64>,
    /// The directions, one in each row: the coefficients move by `root'` times a step along them.
    root: Vec<f64>,
    curvature: Vec<f64>,
    slope: Vec<f64>,
}

impl State {
    fn at(data: &Data<'_>, coefficients: &[f64]) -> Result<Self> {
        let n = data.columns;
        let seen: Vec<Seen> = (0..data.y.len()).map(|s| Seen::at(data, s, coefficients)).collect();
        let mut weighted = Vec::with_capacity(data.design.len());
        for (s, seen) in seen.iter().enumerate() {
            if !(seen.variance > 0.0 && seen.residual.is_finite()) {
                let detail = format!("the residual of point {} has no variance to divide by", s + 1);
                return Err(unsettled(&detail, "variance", seen.variance));
            }
            let scaled = seen.residual / seen.variance;
            let adjusted = data.point(s).0.iter().zip(&seen.with_residual).map(|(x, a)| x - scaled * a);
            weighted.extend(adjusted.map(|x| [x / seen.variance.sqrt(), 0.0]));
        }
        let solver = Refined::new(weighted.clone(), n)?;
        let root = solver.root();
        let [mut curvature, mut slope] = [vec![0.0; n * n], vec![0.0; n]];
        for ((s, seen), weighted) in seen.iter().enumerate().zip(weighted.chunks_exact(n)) {
            let (scaled, u) = (seen.residual / seen.variance, seen.variance.sqrt());
            let along = turn(&root, &weighted.iter().map(|x| x[0]).collect::<Vec<_>>());
            let ahead = turn(&root, &seen.ahead(data.point(s).0));
            let spread = data.spread(s, &root);
            for i in 0..n {
                slope[i] += along[i] * seen.residual / u;
                for j in i..n {
                    curvature[i * n + j] += ahead[i] * ahead[j] / seen.variance - scaled * scaled * spread[i * n + j];
                    curvature[j * n + i] = curvature[i * n + j];
                }
            }
        }
        if curvature.iter().chain(&slope).any(|entry| !entry.is_finite()) {
            return Err(unsettled("the weights leave the range of numbers", "first residual", seen[0].residual));
        }
        Ok(Self { seen, leverage: solver.leverage(), root, curvature, slope })
    }

    /// The curvature of chi-squared where it is least.
    fn flattest(&self) -> Result<f64> {
        smallest_eigenvalue(&self.curvature, self.slope.len())
    }

    fn finish(self, data: &Data<'_>, coefficients: Vec<f64>) -> Result<UncertainFit> {
        let (n, points) = (data.columns, data.y.len());
        let flattest = self.flattest()?;
        if flattest <= 0.0 {
            return Err(unsettled("the coefficients found are no minimum", "curvature of chi-squared", flattest));
        }
        // the inverse of the curvature along the coefficients: root' (curvature)^-1 root
        let across = inverse(&self.curvature, n)?;
        let back = |step: &[f64]| -> Vec<f64> {
            (0..n).map(|p| (0..n).map(|k| self.root[k * n + p] * step[k]).sum()).collect()
        };
        let by_column: Vec<Vec<f64>> =
            (0..n).map(|q| back(&turn(&across, &(0..n).map(|k| self.root[k * n + q]).collect::<Vec<_>>()))).collect();
        let width = n + 1;
        let mut derivatives = vec![0.0; n * points * width];
        let mut covariance = vec![Sum::new(); n * n];
        for (s, seen) in self.seen.iter().enumerate() {
            let (row, matrix) = data.point(s);
            let scaled = seen.residual / seen.variance;
            let by_reading = back(&turn(&across, &turn(&self.root, &seen.ahead(row))));
            let derivative = |p: usize, datum: usize| match datum.checked_sub(1) {
                None => by_reading[p] / seen.variance,
                Some(q) => scaled * by_column[q][p] - coefficients[q] * by_reading[p] / seen.variance,
            };
            let block: Vec<f64> = (0..n * width).map(|k| derivative(k / width, k % width)).collect();
            for p in 0..n {
                let own = &block[p * width..(p + 1) * width];
                derivatives[(p * points + s) * width..][..width].copy_from_slice(own);
                let moved = turn(matrix, own);
                for q in 0..n {
                    let other = &block[q * width..(q + 1) * width];
                    covariance[p * n + q] =
                        other.iter().zip(&moved).fold(covariance[p * n + q], |sum, (a, b)| sum.add_product(*a, *b));
                }
            }
        }
        let value = |k: usize| 0.5 * (covariance[k].value() + covariance[k % n * n + k / n].value());
        let covariance: Vec<f64> = (0..n * n).map(value).collect();
        finite("Covariance of a fit", &covariance, n)?;
        let dof = points - n;
        let chi_squared = sum(self.seen.iter().map(|seen| seen.residual * (seen.residual / seen.variance)));
        Ok(UncertainFit {
            coefficients,
            covariance,
            derivatives,
            residuals: self.seen.iter().map(|seen| seen.residual).collect(),
            residual_variances: self.seen.iter().map(|seen| seen.variance).collect(),
            leverage: self.leverage,
            chi_squared: (dof > 0).then_some(chi_squared),
            dof,
        })
    }
}

impl Seen {
    fn at(data: &Data<'_>, s: usize, coefficients: &[f64]) -> Self {
        let (row, matrix) = data.point(s);
        let start = Sum::new().add(data.y[s]);
        let residual = row.iter().zip(coefficients).fold(start, |sum, (x, b)| sum.add_product(*x, -b)).value();
        let weights: Vec<f64> = core::iter::once(1.0).chain(coefficients.iter().map(|b| -b)).collect();
        let with_residual = turn(matrix, &weights);
        let variance = with_residual.iter().zip(&weights).map(|(a, w)| a * w).sum();
        Self { residual, variance, with_residual: with_residual[1..].to_vec() }
    }

    /// The columns, moved twice as far as to their adjusted values.
    fn ahead(&self, row: &[f64]) -> Vec<f64> {
        let twice = 2.0 * self.residual / self.variance;
        row.iter().zip(&self.with_residual).map(|(x, a)| x - twice * a).collect()
    }
}

impl Data<'_> {
    /// The covariance of the columns of a point along the directions of a root.
    fn spread(&self, s: usize, root: &[f64]) -> Vec<f64> {
        let (n, matrix) = (self.columns, self.point(s).1);
        let columns: Vec<f64> = matrix[n + 1..].chunks_exact(n + 1).flat_map(|row| &row[1..]).copied().collect();
        root.chunks_exact(n).flat_map(|direction| turn(root, &turn(&columns, direction))).collect()
    }
}

fn length(step: &[f64]) -> f64 {
    sum(step.iter().map(|step| step * step)).sqrt()
}

/// Matrix, row by row, times vector.
fn turn(matrix: &[f64], vector: &[f64]) -> Vec<f64> {
    matrix.chunks_exact(vector.len()).map(|row| row.iter().zip(vector).map(|(a, b)| a * b).sum()).collect()
}

/// Refuses a covariance matrix that no reading and columns can have.
fn check(point: usize, matrix: &[f64], width: usize) -> Result<()> {
    finite(&format!("Covariances of point {point}"), matrix, width)?;
    let name = |k: usize| if k == 0 { "the reading".to_owned() } else { format!("column {k}") };
    let variance = |k: usize| matrix[k * (width + 1)];
    if let Some(k) = (0..width).find(|&k| variance(k) < 0.0) {
        return Err(Error::NotPositive {
            code: Code::UncertaintyNegative,
            quantity: format!("Variance of {} of point {point}", name(k)),
            value: variance(k),
            unit: "in the square of its unit",
            bound: "A variance is zero or above".to_owned(),
            hint: "give the square of the standard uncertainty.".to_owned(),
        });
    }
    let uncertain: Vec<usize> = (0..width).filter(|&k| variance(k) > 0.0).collect();
    if uncertain.is_empty() {
        return Err(Error::NotPositive {
            code: Code::NumberOutOfRange,
            quantity: format!("Standard uncertainty of every coordinate of point {point}"),
            value: 0.0,
            unit: "in the units of their axes",
            bound: "A weight needs at least one above zero".to_owned(),
            hint: "give the uncertainty of the reading, or leave the exact point out.".to_owned(),
        });
    }
    let impossible = |detail: String, figure, value| Error::Matrix {
        code: Code::CorrelationImpossible,
        quantity: format!("Covariances of point {point}"),
        detail,
        figure,
        value,
        hint: "A covariance is the correlation coefficient times both standard uncertainties, the same both ways."
            .to_owned(),
    };
    for (i, j) in (0..width).flat_map(|i| (0..width).map(move |j| (i, j))).filter(|(i, j)| i != j) {
        let largest = (variance(i) * variance(j)).sqrt();
        let apart = (matrix[i * width + j] - matrix[j * width + i]).abs();
        if matrix[i * width + j].abs() > largest * (1.0 - SEMIDEFINITE) || apart > largest * -SEMIDEFINITE {
            let detail = format!("{} and {} cannot go together so", name(i), name(j));
            return Err(impossible(detail, "covariance", matrix[i * width + j]));
        }
    }
    let n = uncertain.len();
    let coefficient = |a: usize, b: usize| {
        let (i, j) = (uncertain[a.min(b)], uncertain[a.max(b)]);
        matrix[i * width + j] / (variance(i) * variance(j)).sqrt()
    };
    let smallest = smallest_eigenvalue(&(0..n * n).map(|k| coefficient(k / n, k % n)).collect::<Vec<_>>(), n)?;
    if smallest < SEMIDEFINITE {
        return Err(impossible("they contradict each other".to_owned(), "smallest eigenvalue", smallest));
    }
    Ok(())
}

fn unsettled(detail: &str, figure: &'static str, value: f64) -> Error {
    Error::Matrix {
        code: Code::FitNotConverged,
        quantity: "Fit with uncertainty in every coordinate".to_owned(),
        detail: detail.to_owned(),
        figure,
        value,
        hint: "Look for a point far off the others or with a far too small uncertainty; a line near the vertical is \
               fitted with the axes exchanged."
            .to_owned(),
    }
}
