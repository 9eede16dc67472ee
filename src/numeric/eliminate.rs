//! Elimination without exchanging rows, for systems whose diagonal carries them: the same steps for every row of a batch.

use crate::scalar::{Mask, Scalar};

/// A pivot below this, where the diagonal is of the order of one, has lost two digits and more.
const PIVOT: f64 = 0.01;
/// Large multipliers let rounding grow; exchanging rows would keep them below one. Where their squares add up to less than
/// this, none is above thirty-two.
const MULTIPLIERS: f64 = 1e3;

/// Solves `matrix x = right` in place by Gaussian elimination without exchanging rows; `right` then holds `x`.
///
/// `matrix` is n by n and `right` n by `columns`, both row by row, with the diagonal of the order of one; `matrix` then
/// holds its multipliers below the diagonal, one over its pivots on it, and the eliminated system above it. The mask is true
/// where a pivot is not above 0.01 or the squares of the multipliers do not add up to less than 1000: there digits may be lost and
/// [`solve`](crate::numeric::solve) is to be used instead. A system of mass absorption (an M-matrix) needs no exchange: its
/// pivots stay positive.
///
/// Arrays of other lengths are left untouched, with the mask true.
///
/// # Source
/// G. H. Golub, C. F. Van Loan, Matrix Computations, 4th ed. 2013, sections 3.2 and 3.4 (from memory); row by row, so that
/// an entry is written once.
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
    let guarded = factorise(matrix, n);
    solve_panels(matrix, n, right, columns);
    guarded
}

/// Solves for right-hand sides, n by `columns`, row by row, with the matrix that [`factorise`] left.
#[inline(always)]
fn solve_panels<S: Scalar>(matrix: &[S], n: usize, right: &mut [S], columns: usize) {
    let whole = n - n % PANEL;
    for column in 0..columns {
        for first in (0..whole).step_by(PANEL) {
            let known = forward::<S, PANEL>(matrix, n, right, columns, first, column);
            let end = first + PANEL;
            for row in end..n {
                let factors = &matrix[row * n + first..row * n + end];
                right[row * columns + column] = taken(right[row * columns + column], factors, &known);
                S::side_by_side();
            }
        }
        // the rows that fill no panel, then from the end
        match n - whole {
            0 => {}
            1 => last::<S, 1>(matrix, n, right, columns, column),
            2 => last::<S, 2>(matrix, n, right, columns, column),
            _ => last::<S, 3>(matrix, n, right, columns, column),
        }
        for first in (0..whole).step_by(PANEL).rev() {
            let known = backward::<S, PANEL>(matrix, n, right, columns, first, column);
            above(matrix, n, right, columns, first, column, &known);
        }
    }
}

#[inline(always)]
fn last<S: Scalar, const K: usize>(matrix: &[S], n: usize, right: &mut [S], columns: usize, column: usize) {
    forward::<S, K>(matrix, n, right, columns, n - K, column);
    let known = backward::<S, K>(matrix, n, right, columns, n - K, column);
    above(matrix, n, right, columns, n - K, column, &known);
}

/// Takes the unknowns of a panel out of the rows above it.
#[inline(always)]
fn above<S: Scalar, const K: usize>(
    matrix: &[S],
    n: usize,
    right: &mut [S],
    columns: usize,
    first: usize,
    column: usize,
    known: &[S; K],
) {
    for row in 0..first {
        let factors = &matrix[row * n + first..row * n + first + K];
        right[row * columns + column] = taken(right[row * columns + column], factors, known);
        S::side_by_side();
    }
}

/// A panel's own rows, from its first.
#[inline(always)]
fn forward<S: Scalar, const K: usize>(
    matrix: &[S],
    n: usize,
    right: &mut [S],
    columns: usize,
    first: usize,
    column: usize,
) -> [S; K] {
    let mut known = [S::constant(0.0); K];
    for k in 0..K {
        let place = (first + k) * columns + column;
        let mut value = right[place];
        let factors = &matrix[(first + k) * n + first..(first + k) * n + first + K];
        for j in 0..k {
            value = value - factors[j] * known[j];
        }
        known[k] = value;
        right[place] = value;
    }
    known
}

/// A panel's own rows, from its last.
#[inline(always)]
fn backward<S: Scalar, const K: usize>(
    matrix: &[S],
    n: usize,
    right: &mut [S],
    columns: usize,
    first: usize,
    column: usize,
) -> [S; K] {
    let mut known = [S::constant(0.0); K];
    for k in (0..K).rev() {
        let place = (first + k) * columns + column;
        let mut value = right[place];
        let factors = &matrix[(first + k) * n + first..(first + k) * n + first + K];
        for j in (k + 1..K).rev() {
            value = value - factors[j] * known[j];
        }
        known[k] = value * factors[k];
        right[place] = known[k];
    }
    known
}

/// `value` less the products of a panel.
#[inline(always)]
fn taken<S: Scalar, const K: usize>(value: S, factors: &[S], known: &[S; K]) -> S {
    let mut value = value;
    for (&factor, &known) in factors.iter().zip(known) {
        value = value - factor * known;
    }
    value
}

/// Pivots taken together, so that an entry is read and written once for all of them.
const PANEL: usize = 4;

/// The multipliers below the diagonal, one over the pivots on it, the eliminated system above.
#[inline(always)]
fn factorise<S: Scalar>(matrix: &mut [S], n: usize) -> S::Mask {
    let mut sound = S::Mask::splat(true);
    let mut squares = S::constant(0.0);
    let mut first = 0;
    while first < n {
        let width = PANEL.min(n - first);
        let (above, below) = matrix.split_at_mut((first + width) * n);
        let panel = &mut above[first * n..];
        for row in 0..width {
            let (done, rest) = panel.split_at_mut(row * n);
            let entries = &mut rest[..n];
            match row {
                0 => {}
                1 => clear::<S, 1>(entries, done, first, n, &mut squares),
                2 => clear::<S, 2>(entries, done, first, n, &mut squares),
                _ => clear::<S, 3>(entries, done, first, n, &mut squares),
            }
            let pivot = entries[first + row];
            sound = sound.and(S::constant(PIVOT).lt(pivot));
            entries[first + row] = S::constant(1.0) / pivot;
        }
        for entries in below.chunks_exact_mut(n) {
            clear::<S, PANEL>(entries, panel, first, n, &mut squares);
        }
        first += width;
    }
    // a multiplier that is no number leaves no number for their sum of squares
    sound.and(squares.lt(S::constant(MULTIPLIERS))).not()
}

/// Takes `K` pivots out of a row: its multipliers, and what they leave of the columns behind.
#[inline(always)]
fn clear<S: Scalar, const K: usize>(entries: &mut [S], pivots: &[S], first: usize, n: usize, squares: &mut S) {
    let mut factors = [S::constant(0.0); K];
    let (left, right) = entries.split_at_mut(first + K);
    for k in 0..K {
        let mut value = left[first + k];
        for j in 0..k {
            value = value - factors[j] * pivots[j * n + first + k];
        }
        value = value * pivots[k * n + first + k];
        factors[k] = value;
        left[first + k] = value;
        *squares = *squares + value * value;
    }
    for (column, entry) in right.iter_mut().enumerate() {
        let mut value = *entry;
        for k in 0..K {
            value = value - factors[k] * pivots[k * n + first + K + column];
        }
        *entry = value;
        S::side_by_side();
    }
}

/// Columns of right-hand sides that are solved together, so that they stay in registers.
pub(crate) const TILE: usize = 4;

/// Applies what [`eliminate`] left in `matrix` to more right-hand sides, in place: `right` is n by `columns`, row by row, and
/// `columns` a whole number of tiles. Behind the first `whole` columns stand columns of a diagonal: column `whole + k` is
/// zero above row k on entry. Wrong lengths leave `right` unsolved.
#[inline(always)]
pub(crate) fn substitute<S: Scalar>(matrix: &[S], n: usize, right: &mut [S], columns: usize, whole: usize) {
    if n == 0 || columns == 0 || !columns.is_multiple_of(TILE) || matrix.len() != n * n || right.len() != n * columns {
        return;
    }
    for (row, line) in matrix.chunks_exact(n).enumerate() {
        let (solved, waiting) = right.split_at_mut(row * columns);
        for (tile, entries) in waiting[..columns].chunks_exact_mut(TILE).enumerate() {
            let first = (tile * TILE).saturating_sub(whole).min(row);
            take_off(entries, &line[first..row], &solved[first * columns..], columns, tile * TILE);
        }
    }
    for (row, line) in matrix.chunks_exact(n).enumerate().rev() {
        let (waiting, solved) = right.split_at_mut((row + 1) * columns);
        for (tile, entries) in waiting[row * columns..].chunks_exact_mut(TILE).enumerate() {
            take_off(entries, &line[row + 1..], solved, columns, tile * TILE);
            for entry in entries.iter_mut() {
                *entry = *entry * line[row];
            }
        }
    }
}

/// `entries -= sum_j factors_j known_j` for one tile of columns that begins at `start`; `known` is row by row.
#[inline(always)]
fn take_off<S: Scalar>(entries: &mut [S], factors: &[S], known: &[S], columns: usize, start: usize) {
    let [a, b, c, d] = entries else { return };
    let (mut sum_a, mut sum_b, mut sum_c, mut sum_d) = (*a, *b, *c, *d);
    let mut place = start;
    for &factor in factors {
        let [a, b, c, d] = &known[place..place + TILE] else { break };
        place += columns;
        sum_a = sum_a - factor * *a;
        sum_b = sum_b - factor * *b;
        sum_c = sum_c - factor * *c;
        sum_d = sum_d - factor * *d;
        S::side_by_side();
    }
    (*a, *b, *c, *d) = (sum_a, sum_b, sum_c, sum_d);
}
