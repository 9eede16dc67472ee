//! Whether standards scatter as stated: the covariance of their residuals through everything, what they share included.

use crate::error::Result;
use crate::method::parameters::Parameters;
use crate::numeric::{UncertainFit, solve};

/// How far the residuals of one line may lie from nothing.
pub(super) struct Scatter {
    /// Standard uncertainty of each residual; zero where the fit passes through the point.
    pub(super) u: Vec<f64>,
    /// Squared residuals over their covariance; nothing where no point is to spare.
    pub(super) chi_squared: Option<f64>,
}

impl Scatter {
    /// From how far each residual moves with every input of all standards.
    ///
    /// A blank, an overlap or a dead time that is off by its u bends the residuals of many standards together; that is no
    /// mistake of any of them. It does not weigh in the fit, and it counts here.
    pub(super) fn new(fit: &UncertainFit, design: &[f64], moves: &[Vec<f64>], parameters: &Parameters) -> Result<Self> {
        // a residual that keeps less than this share of its variance is rounding: the fit passes through its point
        const FOLLOWED: f64 = 1e-9;
        let (points, columns) = (fit.residuals.len(), fit.coefficients.len());
        let covariance = parameters.covariance(moves);
        let variances = fit.residual_variances.iter().enumerate();
        let u = variances
            .map(|(point, alone)| Some(covariance[point * points + point]).filter(|v| *v > FOLLOWED * alone))
            .map(|variance| variance.map_or(0.0, f64::sqrt))
            .collect();
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
