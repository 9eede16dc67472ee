//! Elimination without exchanging rows, for systems whose diagonal carries them: the same steps for every row of a batch.

use crate::scalar::{Mask, Scalar};

/// A pivot below this, where the diagonal is of the order of one, has lost two digits and more.
const PIVOT: f64 = 0.01;
/// Multipliers beyond this let rounding grow; exchanging rows would keep them below one.
const MULTIPLIER: f64 = 10.0;

/// Solves `matrix x = right` in place by Gaussian elimination without exchanging rows; `right` then holds `x`.
///
/// `matrix` is n by n and `right` n by `columns`, both row by row, with the diagonal of the order of one; `matrix` then
/// holds its pivots on the diagonal. The mask is true where a pivot is not above 0.01 or a multiplier not below 10: there
/// digits may be lost and [`solve`](crate::numeric::solve) is to be used instead. A system of mass absorption (an
/// M-matrix) needs no exchange: its pivots stay positive.
///
/// Arrays of other lengths are left untouched, with the mask true.
///
/// # Source
/// G. H. Golub, C. F. Van Loan, Matrix Computations, 4th ed. 2013, sections 3.2 and 3.4 (from memory).
///
/// ```
/// use beadchem::numeric::eliminate;
/// let (mut matrix, mut right) = ([0.9, -0.1, -0.2, 0.8], [0.7, 0.4]);
/// assert!(!eliminate(&mut matrix, 2, &mut right, 1));
/// assert!((right[0] - 6.0 / 7.0).abs() < 1e-14);
/// let (mut wants_exchange, mut right) = ([0.0, 1.0, 1.0, 0.0], [1.0, 2.0]);
/// assert!(eliminate(&mut wants_exchange, 2, &mut right, 1));
/// ```
#[inline(always)]
pub fn eliminate<S: Scalar>(matrix: &mut [S], n: usize, right: &mut [S], columns: usize) -> S::Mask {
    if n == 0 || columns == 0 || matrix.len() != n * n || right.len() != n * columns {
        return S::Mask::splat(true);
    }
    let mut guarded = S::Mask::splat(false);
    for pivot in 0..n {
        let (above, below) = matrix.split_at_mut((pivot + 1) * n);
        let row = &above[pivot * n..];
        let (solved, waiting) = right.split_at_mut((pivot + 1) * columns);
        let known = &solved[pivot * columns..];
        guarded = guarded.or(S::constant(PIVOT).lt(row[pivot]).not());
        let reach = row[pivot].abs() * MULTIPLIER;
        let inverse = S::constant(1.0) / row[pivot];
        for (lower, right) in below.chunks_exact_mut(n).zip(waiting.chunks_exact_mut(columns)) {
            guarded = guarded.or(lower[pivot].abs().lt(reach).not());
            let factor = lower[pivot] * inverse;
            for (entry, &over) in lower[pivot + 1..].iter_mut().zip(&row[pivot + 1..]) {
                *entry = *entry - factor * over;
            }
            for (entry, &over) in right.iter_mut().zip(known) {
                *entry = *entry - factor * over;
            }
        }
    }
    for pivot in (0..n).rev() {
        let row = &matrix[pivot * n..(pivot + 1) * n];
        let (waiting, solved) = right.split_at_mut((pivot + 1) * columns);
        let inverse = S::constant(1.0) / row[pivot];
        for (k, entry) in waiting[pivot * columns..].iter_mut().enumerate() {
            let mut value = *entry;
            for (&coefficient, known) in row[pivot + 1..].iter().zip(solved.chunks_exact(columns)) {
                value = value - coefficient * known[k];
            }
            *entry = value * inverse;
        }
    }
    guarded
}
