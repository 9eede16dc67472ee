//! Square systems and symmetric matrices, given row by row.

use nalgebra::{DMatrix, SymmetricEigen};

use crate::code::Code;
use crate::error::{Error, Result};
use crate::numeric::check::{finite, square};
use crate::numeric::refined::power_of_two_below;

/// Pivots of the scaled matrix below this many roundings for each row are noise.
const PIVOT: f64 = 4.0 * f64::EPSILON;
/// Entries of a symmetric matrix may differ from their mirror image by this share of the largest.
const SYMMETRY: f64 = 1e-12;
/// An eigenvalue below zero by less than this share of the largest is rounding of stated coefficients.
const SEMIDEFINITE: f64 = 1e-10;
/// Steps of the eigenvalue iteration for each row; two or three are usual.
const STEPS: usize = 200;

/// Solves `A x = b` for one or several right-hand sides: `b` and the result have n rows, as many columns as given.
///
/// Elimination with exchange of rows, after rows and columns are scaled by powers of two.
///
/// # Errors
/// `shape.mismatch`, `number.not-finite`, and `matrix.singular` with the smallest pivot of the scaled matrix.
///
/// ```
/// let x = beadchem::numeric::solve(&[2.0, 1.0, 1.0, 3.0], 2, &[3.0, 5.0])?;
/// assert!((x[0] - 0.8).abs() < 1e-15 && (x[1] - 1.4).abs() < 1e-15);
/// # Ok::<(), beadchem::error::Error>(())
/// ```
pub fn solve(matrix: &[f64], n: usize, right: &[f64]) -> Result<Vec<f64>> {
    square("Matrix of a system", matrix, n)?;
    let columns = right.len() / n;
    if right.len() != n * columns {
        let hint = "Each right-hand side has one number for each row of the matrix.";
        return Err(Error::shape("Right-hand sides", n * (columns + 1), right.len(), hint));
    }
    finite("Right-hand side of a system", right, columns)?;
    let largest = |entries: &mut dyn Iterator<Item = f64>| {
        power_of_two_below(entries.fold(0.0, |largest: f64, entry| largest.max(entry.abs())))
    };
    let rows: Vec<f64> = (0..n).map(|i| largest(&mut (0..n).map(|j| matrix[i * n + j]))).collect();
    let across: Vec<f64> = (0..n).map(|j| largest(&mut (0..n).map(|i| matrix[i * n + j] / rows[i]))).collect();
    let factors = DMatrix::from_fn(n, n, |i, j| matrix[i * n + j] / rows[i] / across[j]).lu();
    let pivots = factors.u().diagonal().abs();
    let (place, smallest) = pivots.argmin();
    if smallest <= PIVOT * n as f64 {
        return Err(singular(n, place, smallest));
    }
    let mut x = DMatrix::from_fn(n, columns, |i, k| right[i * columns + k] / rows[i]);
    if !factors.solve_mut(&mut x) {
        return Err(singular(n, place, smallest));
    }
    let x: Vec<f64> = (0..n * columns).map(|k| x[(k / columns, k % columns)] / across[k / columns]).collect();
    finite("Solution of a system", &x, columns)?;
    Ok(x)
}

/// The inverse of a matrix; prefer [`solve`] where a product with it is all that is needed.
///
/// # Errors
/// As [`solve`].
///
/// ```
/// assert_eq!(beadchem::numeric::inverse(&[2.0, 0.0, 0.0, 4.0], 2)?, [0.5, 0.0, 0.0, 0.25]);
/// # Ok::<(), beadchem::error::Error>(())
/// ```
pub fn inverse(matrix: &[f64], n: usize) -> Result<Vec<f64>> {
    square("Matrix to invert", matrix, n)?;
    let identity: Vec<f64> = (0..n * n).map(|k| if k / n == k % n { 1.0 } else { 0.0 }).collect();
    solve(matrix, n, &identity)
}

/// The eigenvalues of a symmetric matrix, the smallest first.
///
/// # Errors
/// `shape.mismatch`, `number.not-finite`, and `correlation.impossible` where the matrix is not symmetric.
///
/// ```
/// let values = beadchem::numeric::eigenvalues(&[1.0, 0.6, 0.6, 1.0], 2)?;
/// assert!((values[0] - 0.4).abs() < 1e-15 && (values[1] - 1.6).abs() < 1e-15);
/// # Ok::<(), beadchem::error::Error>(())
/// ```
pub fn eigenvalues(matrix: &[f64], n: usize) -> Result<Vec<f64>> {
    let mut values: Vec<f64> = decompose(matrix, n)?.eigenvalues.iter().copied().collect();
    values.sort_unstable_by(f64::total_cmp);
    Ok(values)
}

/// The smallest eigenvalue of a symmetric matrix: below zero, it cannot be a matrix of correlations.
///
/// # Errors
/// As [`eigenvalues`].
///
/// ```
/// // a with b, b with c, but a against c: no three quantities behave so.
/// let impossible = [1.0, 0.9, -0.9, 0.9, 1.0, 0.9, -0.9, 0.9, 1.0];
/// assert!(beadchem::numeric::smallest_eigenvalue(&impossible, 3)? < -0.7);
/// # Ok::<(), beadchem::error::Error>(())
/// ```
pub fn smallest_eigenvalue(matrix: &[f64], n: usize) -> Result<f64> {
    Ok(decompose(matrix, n)?.eigenvalues.min())
}

/// A factor `F` with `F F' = V` of a covariance or correlation matrix `V`, singular ones included.
///
/// It is the symmetric root `E sqrt(L) E'`, of all factors the one that does not depend on the signs, the order, or
/// the choice of eigenvectors of equal eigenvalues: the same on every machine up to rounding.
///
/// # Errors
/// As [`eigenvalues`], and `correlation.impossible` with the smallest eigenvalue where that is below zero by more than
/// 1e-10 of the largest; smaller ones are taken as zero.
///
/// ```
/// let f = beadchem::numeric::semidefinite_factor(&[4.0, 0.0, 0.0, 9.0], 2)?;
/// assert!((f[0] - 2.0).abs() < 1e-15 && (f[3] - 3.0).abs() < 1e-15 && f[1] == 0.0);
/// # Ok::<(), beadchem::error::Error>(())
/// ```
pub fn semidefinite_factor(matrix: &[f64], n: usize) -> Result<Vec<f64>> {
    let eigen = decompose(matrix, n)?;
    let (smallest, largest) = (eigen.eigenvalues.min(), eigen.eigenvalues.amax());
    if smallest < -SEMIDEFINITE * largest {
        return Err(impossible("they contradict each other", "smallest eigenvalue", smallest));
    }
    let roots = eigen.eigenvalues.map(|value| value.max(0.0).sqrt());
    let vectors = &eigen.eigenvectors;
    let entry = |i: usize, j: usize| (0..n).map(|k| vectors[(i, k)] * vectors[(j, k)] * roots[k]).sum();
    Ok((0..n * n).map(|k| entry((k / n).min(k % n), (k / n).max(k % n))).collect())
}

fn decompose(matrix: &[f64], n: usize) -> Result<SymmetricEigen<f64, nalgebra::Dyn>> {
    square("Symmetric matrix", matrix, n)?;
    let largest = matrix.iter().fold(0.0, |largest: f64, entry| largest.max(entry.abs()));
    for (i, j) in (0..n).flat_map(|i| (0..i).map(move |j| (i, j))) {
        let apart = (matrix[i * n + j] - matrix[j * n + i]).abs();
        if apart > SYMMETRY * largest {
            let detail = format!("row {}, column {} differs from row {1}, column {0}", i + 1, j + 1);
            return Err(impossible(&detail, "difference", apart));
        }
    }
    let symmetric = DMatrix::from_row_slice(n, n, matrix);
    SymmetricEigen::try_new(symmetric, f64::EPSILON, STEPS * n)
        .ok_or_else(|| impossible("its eigenvalues do not settle", "largest entry", largest))
}

fn singular(n: usize, place: usize, pivot: f64) -> Error {
    Error::Matrix {
        code: Code::MatrixSingular,
        quantity: format!("System of {n} equations"),
        detail: format!("unknown {} is not determined beside those before it", place + 1),
        figure: "smallest pivot",
        value: pivot,
        hint: "Two equations say the same, or an unknown appears in none; look for equal or empty rows and columns."
            .to_owned(),
    }
}

fn impossible(detail: &str, figure: &'static str, value: f64) -> Error {
    Error::Matrix {
        code: Code::CorrelationImpossible,
        quantity: "Correlations or covariances".to_owned(),
        detail: detail.to_owned(),
        figure,
        value,
        hint: "Check signs and sizes of the coefficients; each pair is given once and holds both ways.".to_owned(),
    }
}
