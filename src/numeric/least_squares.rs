//! Linear least squares with equal or stated weights.

use crate::error::{Error, Result};
use crate::numeric::check::{finite, points_to_spare, uncertainties_positive};
use crate::numeric::refined::Refined;
use crate::numeric::sums::{dot, pair_over, pair_times, sum};

/// How far the readings scatter, and so where the covariance of the coefficients comes from.
///
/// ```
/// use beadchem::numeric::{Scatter, least_squares};
/// let (design, y) = ([1.0, 0.0, 1.0, 1.0, 1.0, 2.0], [0.0, 1.5, 2.0]);
/// let u = [0.1; 3];
/// let found = least_squares(&design, 2, &y, Scatter::Equal)?;
/// let stated = least_squares(&design, 2, &y, Scatter::Stated(&u))?;
/// assert!((found.coefficients[1] - stated.coefficients[1]).abs() < 1e-12);
/// assert!((found.u(1) / found.residual_sd - stated.u(1) / 0.1).abs() < 1e-12);
/// # Ok::<(), beadchem::error::Error>(())
/// ```
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Scatter<'a> {
    /// Every reading has the same unknown uncertainty. The covariance is scaled by the variance of the residuals.
    Equal,
    /// The standard uncertainty of each reading is known. The covariance follows from these alone and is not scaled:
    /// residuals larger than stated do not widen it, compare [`Fit::residual_sd`] with 1.
    Stated(&'a [f64]),
    /// Only the ratios of the uncertainties are known. The covariance is scaled by the variance of the residuals.
    Relative(&'a [f64]),
}

/// A linear fit: coefficients, their covariance, and how well the points agree with it.
///
/// ```
/// use beadchem::numeric::{Scatter, polynomial};
/// let line = polynomial(&[0.0, 1.0, 2.0, 3.0], &[1.0, 3.0, 5.0, 7.0], 1, Scatter::Equal)?;
/// assert_eq!((line.dof, line.coefficients.len(), line.covariance.len()), (2, 2, 4));
/// # Ok::<(), beadchem::error::Error>(())
/// ```
#[derive(Debug, Clone, PartialEq)]
pub struct Fit {
    /// One for each column of the design.
    pub coefficients: Vec<f64>,
    /// Covariance of the coefficients, row by row; [`Scatter`] says whether it is scaled by the residuals.
    pub covariance: Vec<f64>,
    /// Reading less fitted value, in the units of the readings.
    pub residuals: Vec<f64>,
    /// Sum of the squared residuals; each is divided by its stated uncertainty first, where one was given.
    pub residual_sum_of_squares: f64,
    /// Square root of that sum over the degrees of freedom: in the units of the readings for equal weights, a bare
    /// number near 1 for stated uncertainties.
    pub residual_sd: f64,
    /// Points less parameters.
    pub dof: usize,
    /// Weight of each reading in its own fitted value, between 0 and 1; they add up to the number of parameters.
    pub leverage: Vec<f64>,
    /// Share of the (weighted) variation of the readings that the fit explains: variation about their mean if some
    /// column of the design is constant, about zero if none is; 0 where the readings do not vary.
    pub r_squared: f64,
    /// `T` with `T' T` the covariance.
    root: Vec<f64>,
}

impl Fit {
    /// Standard uncertainty of one coefficient; not a number past the last.
    ///
    /// ```
    /// use beadchem::numeric::{Scatter, polynomial};
    /// let mean = polynomial(&[1.0, 2.0], &[4.0, 6.0], 0, Scatter::Stated(&[0.2, 0.2]))?;
    /// assert!((mean.u(0) - 0.2 / 2.0_f64.sqrt()).abs() < 1e-15);
    /// # Ok::<(), beadchem::error::Error>(())
    /// ```
    #[must_use]
    pub fn u(&self, coefficient: usize) -> f64 {
        let n = self.coefficients.len();
        self.covariance.get(coefficient * (n + 1)).map_or(f64::NAN, |variance| variance.sqrt())
    }

    /// The fitted function at one row of the design, and its standard uncertainty `sqrt(x' C x)`: that of the fitted
    /// function, without the scatter of a new reading.
    ///
    /// # Errors
    /// `shape.mismatch` if the row is not one number for each coefficient.
    ///
    /// ```
    /// use beadchem::numeric::{Scatter, polynomial};
    /// let line = polynomial(&[0.0, 1.0, 2.0], &[1.0, 3.0, 5.0], 1, Scatter::Stated(&[0.1; 3]))?;
    /// let (value, u) = line.predict(&[1.0, 1.0])?;
    /// assert!((value - 3.0).abs() < 1e-14 && (u - 0.1 / 3.0_f64.sqrt()).abs() < 1e-15);
    /// # Ok::<(), beadchem::error::Error>(())
    /// ```
    pub fn predict(&self, row: &[f64]) -> Result<(f64, f64)> {
        let n = self.coefficients.len();
        if row.len() != n {
            return Err(Error::shape("Terms of a prediction", n, row.len(), "Give one for each coefficient."));
        }
        let value = dot(row.iter().copied().zip(self.coefficients.iter().copied()));
        let parts = self.root.chunks_exact(n).map(|part| dot(part.iter().copied().zip(row.iter().copied())));
        Ok((value, sum(parts.map(|part| part * part)).sqrt()))
    }
}

/// Fits `y = A b` with the design `A` given row by row, `columns` numbers for each reading.
///
/// Householder QR of the scaled design, refined until the coefficients are as good as the data: with entries that are
/// exact, about 13 digits. The entries are taken as they are; powers of an abscissa are better fitted with
/// [`polynomial`], which does not round them.
///
/// # Errors
/// `shape.mismatch`, `number.not-finite`, `fit.too-few-points` unless there are more readings than columns,
/// `uncertainty.negative` or `number.out-of-range` for a stated u not above zero, and `matrix.singular` naming the
/// first column that is a combination of those before it.
///
/// # Source
/// Å. Björck, BIT 7 (1967) 257. Checked against the NIST Statistical Reference Datasets.
///
/// ```
/// use beadchem::numeric::{Scatter, least_squares};
/// // Intensity against two mass fractions, no intercept.
/// let design = [0.1, 0.0, 0.0, 0.2, 0.3, 0.1, 0.2, 0.2];
/// let fit = least_squares(&design, 2, &[10.0, 4.0, 32.0, 24.0], Scatter::Equal)?;
/// assert!((fit.coefficients[0] - 100.0).abs() < 1e-10 && (fit.coefficients[1] - 20.0).abs() < 1e-10);
/// # Ok::<(), beadchem::error::Error>(())
/// ```
pub fn least_squares(design: &[f64], columns: usize, y: &[f64], scatter: Scatter<'_>) -> Result<Fit> {
    if columns == 0 || design.len() != columns * y.len() {
        let hint = "The design has one row for each reading and at least one column.";
        return Err(Error::shape("Entries of the design", columns.max(1) * y.len(), design.len(), hint));
    }
    finite("Design of a fit", design, columns)?;
    fit(design.iter().map(|&entry| [entry, 0.0]).collect(), columns, y, scatter)
}

/// Fits a polynomial; coefficient `k` belongs to `x^k`, and [`Fit::predict`] takes the powers `1, x, x^2, ...`.
///
/// The powers are carried with twice the digits, so that even a high degree far from zero (the published test Filip)
/// is fitted to about 13 digits.
///
/// # Errors
/// As [`least_squares`]; `matrix.singular` where fewer different abscissae than parameters are given.
///
/// ```
/// use beadchem::numeric::{Scatter, polynomial};
/// let x = [1.0, 2.0, 3.0, 4.0];
/// let parabola = polynomial(&x, &x.map(|x| 2.0 - x + 0.5 * x * x), 2, Scatter::Equal)?;
/// assert!((parabola.coefficients[2] - 0.5).abs() < 1e-13);
/// # Ok::<(), beadchem::error::Error>(())
/// ```
pub fn polynomial(x: &[f64], y: &[f64], degree: usize, scatter: Scatter<'_>) -> Result<Fit> {
    if x.len() != y.len() {
        return Err(Error::shape("Abscissae of a fit", y.len(), x.len(), "Give one for each reading."));
    }
    finite("Abscissa of a fit", x, 1)?;
    points_to_spare(x.len(), degree.saturating_add(1))?;
    let powers = |&x: &f64| core::iter::successors(Some([1.0, 0.0]), move |&power| Some(pair_times(power, x)));
    let design: Vec<[f64; 2]> = x.iter().flat_map(|x| powers(x).take(degree + 1)).collect();
    let highs: Vec<f64> = design.iter().map(|power| power[0]).collect();
    finite("Power of an abscissa", &highs, degree + 1)?;
    fit(design, degree + 1, y, scatter)
}

fn fit(mut design: Vec<[f64; 2]>, columns: usize, y: &[f64], scatter: Scatter<'_>) -> Result<Fit> {
    finite("Reading of a fit", y, 1)?;
    points_to_spare(y.len(), columns)?;
    let constant = (0..columns).any(|column| {
        design[column] != [0.0; 2] && design.chunks_exact(columns).all(|row| row[column] == design[column])
    });
    let mut readings: Vec<[f64; 2]> = y.iter().map(|&y| [y, 0.0]).collect();
    let mut u = vec![1.0; y.len()];
    if let Scatter::Stated(given) | Scatter::Relative(given) = scatter {
        if given.len() != y.len() {
            return Err(Error::shape("Uncertainties of a fit", y.len(), given.len(), "Give one for each reading."));
        }
        uncertainties_positive("Standard uncertainty of a reading", given)?;
        u.copy_from_slice(given);
        for ((row, reading), &u) in design.chunks_exact_mut(columns).zip(&mut readings).zip(given) {
            row.iter_mut().for_each(|entry| *entry = pair_over(*entry, u));
            *reading = pair_over(*reading, u);
        }
    }
    let solver = Refined::new(design, columns)?;
    let (weighted, coefficients) = solver.solve(&readings, &vec![0.0; columns]);
    let dof = y.len() - columns;
    let residual_sum_of_squares = dot(weighted.iter().map(|&r| (r, r)));
    let residual_sd = (residual_sum_of_squares / dof as f64).sqrt();
    let scale = if matches!(scatter, Scatter::Stated(_)) { 1.0 } else { residual_sd };
    let fit = Fit {
        coefficients,
        covariance: solver.normal_inverse().into_iter().map(|c| c * (scale * scale)).collect(),
        residuals: weighted.iter().zip(&u).map(|(r, u)| r * u).collect(),
        residual_sum_of_squares,
        residual_sd,
        dof,
        leverage: solver.leverage(),
        r_squared: explained(residual_sum_of_squares, y, &u, constant),
        root: solver.root().into_iter().map(|t| t * scale).collect(),
    };
    finite("Result of a fit", &[&fit.coefficients[..], &fit.covariance].concat(), 1)?;
    Ok(fit)
}

/// One less the share of the weighted variation that is left in the residuals.
fn explained(left: f64, y: &[f64], u: &[f64], about_mean: bool) -> f64 {
    let weight = |u: f64| 1.0 / (u * u);
    let mean = if about_mean {
        dot(y.iter().zip(u).map(|(&y, &u)| (y, weight(u)))) / sum(u.iter().map(|&u| weight(u)))
    } else {
        0.0
    };
    let total = dot(y.iter().zip(u).map(|(&y, &u)| ((y - mean) / u, (y - mean) / u)));
    if total > 0.0 { 1.0 - left / total } else { 0.0 }
}
