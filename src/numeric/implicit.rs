//! Derivatives of the solution of a system of equations, without differentiating the way it was solved.

use crate::error::{Error, Result};
use crate::numeric::check::finite;
use crate::numeric::solve::solve;
use crate::scalar::{Dual, Scalar};

/// Tangent directions carried in one pass.
const BLOCK: usize = 8;

/// Equations `residual(unknowns, parameters) = 0`, as many as unknowns, written once over [`Scalar`].
///
/// ```
/// use beadchem::{numeric::Residual, scalar::Scalar};
/// struct SquareRoot;
/// impl Residual for SquareRoot {
///     fn residual<S: Scalar>(&self, x: &[S], p: &[S], out: &mut [S]) {
///         out[0] = x[0] * x[0] - p[0];
///     }
/// }
/// let mut out = [1.0];
/// SquareRoot.residual(&[3.0], &[9.0], &mut out);
/// assert_eq!(out, [0.0]);
/// ```
pub trait Residual {
    /// Writes the value of each equation; `out` has one place for each unknown.
    fn residual<S: Scalar>(&self, unknowns: &[S], parameters: &[S], out: &mut [S]);
}

/// The derivative of the solution with respect to the parameters, `dx/dp = -(dR/dx)^-1 dR/dp`, row by row: one row for
/// each unknown, one column for each parameter.
///
/// Exact at the solution; `unknowns` must solve the system, which is not checked here, as only the caller knows what
/// size of a residual is small.
///
/// # Errors
/// `number.not-finite` for an input or a derivative, `shape.mismatch` without unknowns, `matrix.singular` where the
/// system does not determine its solution.
///
/// # Source
/// Implicit function theorem, common practice.
///
/// ```
/// use beadchem::{numeric::{Residual, implicit_derivative}, scalar::Scalar};
/// struct SquareRoot;
/// impl Residual for SquareRoot {
///     fn residual<S: Scalar>(&self, x: &[S], p: &[S], out: &mut [S]) {
///         out[0] = x[0] * x[0] - p[0];
///     }
/// }
/// assert_eq!(implicit_derivative(&SquareRoot, &[3.0], &[9.0])?, [1.0 / 6.0]);
/// # Ok::<(), beadchem::error::Error>(())
/// ```
pub fn implicit_derivative<R: Residual>(system: &R, unknowns: &[f64], parameters: &[f64]) -> Result<Vec<f64>> {
    let (n, m) = (unknowns.len(), parameters.len());
    if n == 0 {
        return Err(Error::shape("Unknowns", 1, 0, "A system has at least one unknown."));
    }
    finite("Value of an unknown", unknowns, 1)?;
    finite("Value of a parameter", parameters, 1)?;
    if m == 0 {
        return Ok(Vec::new());
    }
    let jacobian = derivatives(system, unknowns, parameters);
    let by_unknowns: Vec<f64> = jacobian.chunks_exact(n + m).flat_map(|row| row[..n].iter().copied()).collect();
    let by_parameters: Vec<f64> = jacobian.chunks_exact(n + m).flat_map(|row| row[n..].iter().map(|d| -d)).collect();
    solve(&by_unknowns, n, &by_parameters)
}

/// Derivatives of every equation by the unknowns, then by the parameters, row by row.
fn derivatives<R: Residual>(system: &R, unknowns: &[f64], parameters: &[f64]) -> Vec<f64> {
    let (n, m) = (unknowns.len(), parameters.len());
    let values: Vec<f64> = unknowns.iter().chain(parameters).copied().collect();
    let mut point: Vec<Dual<f64, BLOCK>> = values.iter().map(|&value| Dual::constant(value)).collect();
    let mut out = vec![Dual::constant(0.0); n];
    let mut jacobian = vec![0.0; n * (n + m)];
    for start in (0..n + m).step_by(BLOCK) {
        let block = start..(start + BLOCK).min(n + m);
        for column in block.clone() {
            point[column] = Dual::variable(values[column], column - start);
        }
        system.residual(&point[..n], &point[n..], &mut out);
        for column in block {
            point[column] = Dual::constant(values[column]);
            for (row, equation) in jacobian.chunks_exact_mut(n + m).zip(&out) {
                row[column] = equation.eps[column - start];
            }
        }
    }
    jacobian
}
