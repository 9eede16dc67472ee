//! Systems of equations and symmetric matrices.

use beadchem::code::Code;
use beadchem::error::Result;
use beadchem::numeric::{eigenvalues, inverse, semidefinite_factor, smallest_eigenvalue, solve};
use proptest::prelude::*;

use super::{assert_refused, config};

/// Rounding of sums and products of about ten terms near 1.
const ROUNDING: f64 = 1e-13;

fn product(a: &[f64], b: &[f64], n: usize) -> Vec<f64> {
    (0..n * n).map(|k| (0..n).map(|j| a[k / n * n + j] * b[j * n + k % n]).sum()).collect()
}

fn transposed(a: &[f64], n: usize) -> Vec<f64> {
    (0..n * n).map(|k| a[k % n * n + k / n]).collect()
}

fn apart(a: &[f64], b: &[f64]) -> f64 {
    if a.len() != b.len() || a.iter().chain(b).any(|entry| entry.is_nan()) {
        return f64::INFINITY;
    }
    a.iter().zip(b).map(|(a, b)| (a - b).abs()).fold(0.0, f64::max)
}

fn identity(n: usize) -> Vec<f64> {
    (0..n * n).map(|k| if k / n == k % n { 1.0 } else { 0.0 }).collect()
}

/// A 5 by 5 matrix with a heavy diagonal, its rows and columns in units far apart.
fn matrix() -> impl Strategy<Value = (Vec<f64>, Vec<i32>)> {
    (prop::collection::vec(-1.0_f64..1.0, 25), prop::collection::vec(-200_i32..200, 10)).prop_map(|(entries, units)| {
        let heavy = |k: usize| if k / 5 == k % 5 { 6.0 } else { 0.0 };
        (entries.iter().enumerate().map(|(k, entry)| entry + heavy(k)).collect(), units)
    })
}

fn checked<T>(result: Result<T>) -> std::result::Result<T, TestCaseError> {
    result.map_err(|error| TestCaseError::fail(error.to_string()))
}

proptest! {
    #![proptest_config(config())]

    #[test]
    fn an_inverse_multiplies_to_one((matrix, _) in matrix()) {
        let inverse = checked(inverse(&matrix, 5))?;
        prop_assert!(apart(&product(&matrix, &inverse, 5), &identity(5)) <= ROUNDING);
    }

    #[test]
    fn units_of_rows_and_columns_do_not_matter(
        (matrix, units) in matrix(), right in prop::collection::vec(-1.0_f64..1.0, 5)
    ) {
        let unit = |k: usize| 2.0_f64.powi(units[k]);
        let plain = checked(solve(&matrix, 5, &right))?;
        let other: Vec<f64> = (0..25).map(|k| matrix[k] * unit(k / 5) * unit(5 + k % 5)).collect();
        let other_right: Vec<f64> = (0..5).map(|i| right[i] * unit(i)).collect();
        let scaled = checked(solve(&other, 5, &other_right))?;
        let back: Vec<f64> = (0..5).map(|j| scaled[j] * unit(5 + j)).collect();
        prop_assert!(apart(&back, &plain) <= ROUNDING);
    }

    #[test]
    fn a_factor_gives_back_its_matrix(columns in prop::collection::vec(-1.0_f64..1.0, 12)) {
        // 6 by 6 of rank 2: a covariance with four directions that do not vary.
        let entry = |i: usize, j: usize| columns[i] * columns[j] + columns[6 + i] * columns[6 + j];
        let v: Vec<f64> = (0..36).map(|k| entry(k / 6, k % 6)).collect();
        let f = checked(semidefinite_factor(&v, 6))?;
        prop_assert!(apart(&product(&f, &transposed(&f, 6), 6), &v) <= ROUNDING);
        prop_assert_eq!(&f, &transposed(&f, 6));
        let least = checked(smallest_eigenvalue(&v, 6))?;
        prop_assert!(least.abs() <= ROUNDING, "{}", least);
        let values = checked(eigenvalues(&v, 6))?;
        let trace: f64 = (0..6).map(|k| v[7 * k]).sum();
        prop_assert!((values.iter().sum::<f64>() - trace).abs() <= ROUNDING);
        prop_assert!(values.windows(2).all(|pair| pair[0] <= pair[1]));
    }
}

#[test]
fn several_right_hand_sides_at_once() -> Result<()> {
    // A zero on the diagonal needs the exchange of rows.
    let x = solve(&[0.0, 2.0, 1.0, 1.0], 2, &[4.0, 2.0, 5.0, 1.0])?;
    assert!(apart(&x, &[3.0, 0.0, 2.0, 1.0]) <= ROUNDING, "{x:?}");
    assert!(solve(&[1.0], 1, &[])?.is_empty());
    Ok(())
}

#[test]
fn a_hilbert_matrix_is_solved_and_a_singular_one_is_not() {
    // Condition number of the 8 by 8 Hilbert matrix 1.5e10 (common knowledge): six digits remain.
    const LEFT: f64 = 1e-5;
    let hilbert: Vec<f64> = (0..64).map(|k| 1.0 / (k / 8 + k % 8 + 1) as f64).collect();
    let right: Vec<f64> = hilbert.chunks(8).map(|row| row.iter().sum()).collect();
    let x = solve(&hilbert, 8, &right).unwrap_or_default();
    assert!(apart(&x, &[1.0; 8]) <= LEFT, "{x:?}");
    let refused = solve(&[1.0, 2.0, 3.0, 4.0, 5.0, 6.0, 7.0, 8.0, 9.0], 3, &[1.0; 3]).err();
    let text = refused.map(|error| error.to_string()).unwrap_or_default();
    assert!(text.contains("unknown 3 is not determined") && text.contains("smallest pivot"), "{text}");
}

#[test]
fn the_factor_of_full_correlation() -> Result<()> {
    // Both quantities are one: every column of the root is the same in both.
    let f = semidefinite_factor(&[1.0, 1.0, 1.0, 1.0], 2)?;
    let half = 1.0 / 2.0_f64.sqrt();
    assert!(apart(&f, &[half; 4]) <= ROUNDING, "{f:?}");
    Ok(())
}

#[test]
fn wrong_matrices_are_refused() {
    let nan = [1.0, f64::NAN, 0.0, 1.0];
    assert_refused([
        ("no equation", solve(&[], 0, &[]), Code::ShapeMismatch),
        ("not square", solve(&[1.0; 3], 2, &[1.0; 2]), Code::ShapeMismatch),
        ("right-hand side too long", solve(&[1.0, 0.0, 0.0, 1.0], 2, &[1.0; 3]), Code::ShapeMismatch),
        ("matrix not finite", solve(&nan, 2, &[1.0; 2]), Code::NumberNotFinite),
        ("right-hand side not finite", solve(&[1.0], 1, &[f64::INFINITY]), Code::NumberNotFinite),
        ("solution overflows", solve(&[1e-300], 1, &[1e300]), Code::NumberNotFinite),
        ("zero matrix", inverse(&[0.0; 4], 2), Code::MatrixSingular),
        ("equal rows", inverse(&[1.0, 2.0, 1.0, 2.0], 2), Code::MatrixSingular),
        ("equal rows but for rounding", inverse(&[0.1, 0.3, 0.3, 0.1 * 9.0], 2), Code::MatrixSingular),
        ("not symmetric", eigenvalues(&[1.0, 0.5, 0.4, 1.0], 2), Code::CorrelationImpossible),
        ("below zero", semidefinite_factor(&[1.0, 1.2, 1.2, 1.0], 2), Code::CorrelationImpossible),
        ("eigenvalues of no matrix", eigenvalues(&[], 0), Code::ShapeMismatch),
        ("eigenvalues not finite", eigenvalues(&nan, 2), Code::NumberNotFinite),
    ]);
}
