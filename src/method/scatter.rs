//! Whether standards scatter as stated: the covariance of their residuals through everything, what they share included.

use crate::error::Result;
use crate::numeric::{UncertainFit, solve};

/// How far the residuals of one line may lie from nothing.
pub(super) struct Scatter {
    /// Standard uncertainty of each residual; zero where the fit passes through the point.
    pub(super) u: Vec<f64>,
    /// Squared residuals over their covariance; nothing where no point is to spare.
    pub(super) chi_squared: Option<f64>,
}

impl Scatter {
    /// From the covariance of the residuals through every input of all standards, and what each may have beside it from
    /// inputs of which it is open whether they are shared.
    ///
    /// A blank, an overlap or a dead time that is off by its u bends the residuals of many standards together; that is no
    /// mistake of any of them. It does not weigh in the fit, and it counts here.
    pub(super) fn new(fit: &UncertainFit, design: &[f64], mut covariance: Vec<f64>, if_own: &[f64]) -> Result<Self> {
        // a residual that keeps less than this share of its variance is rounding: the fit passes through its point
        const FOLLOWED: f64 = 1e-9;
        let (points, columns) = (fit.residuals.len(), fit.coefficients.len());
        let mut u = vec![0.0; points];
        for point in 0..points {
            let variance = &mut covariance[point * points + point];
            if *variance > FOLLOWED * fit.residual_variances[point] {
                *variance += if_own[point];
                u[point] = variance.sqrt();
            }
        }
        if fit.dof == 0 {
            return Ok(Self { u, chi_squared: None });
        }
        let scale: Vec<f64> = fit.residual_variances.iter().map(|variance| variance.sqrt()).collect();
        let scaled = |column: usize| -> Vec<f64> {
            let entries: Vec<f64> = (0..points).map(|point| design[point * columns + column] / scale[point]).collect();
            let length = entries.iter().map(|entry| entry * entry).sum::<f64>().sqrt();
            entries.into_iter().map(|entry| entry / length).collect()
        };
        let fitted: Vec<Vec<f64>> = (0..columns).map(scaled).collect();
        // no residual is left along what was fitted, so a variance of one there changes nothing and makes it regular
        let mut matrix = vec![0.0; points * points];
        for (row, column) in (0..points).flat_map(|row| (0..points).map(move |column| (row, column))) {
            let along: f64 = fitted.iter().map(|entries| entries[row] * entries[column]).sum();
            matrix[row * points + column] = covariance[row * points + column] / (scale[row] * scale[column]) + along;
        }
        let residuals: Vec<f64> = fit.residuals.iter().zip(&scale).map(|(residual, scale)| residual / scale).collect();
        let weighed = solve(&matrix, points, &residuals)?;
        let chi_squared = residuals.iter().zip(&weighed).map(|(residual, weighed)| residual * weighed).sum();
        Ok(Self { u, chi_squared: Some(chi_squared) })
    }
}

/// A chi squared that is no chance: as improbable as a normal error beyond so many of its u.
///
/// # Source
/// E. B. Wilson, M. M. Hilferty, The distribution of chi-square, Proc. Natl. Acad. Sci. 17 (1931) 684.
pub(super) fn limit(dof: usize, in_u: f64) -> f64 {
    let spread = 2.0 / (9.0 * dof as f64);
    dof as f64 * (1.0 - spread + in_u * spread.sqrt()).powi(3)
}
