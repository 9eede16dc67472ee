//! Elimination without exchanging rows, for systems whose diagonal carries them: the same steps for every row of a batch.

use crate::numeric::registers::{Plain, Registers};
use crate::scalar::{Mask, Scalar};

/// One over a pivot that is not below this, where the diagonal is of the order of one: two digits and more are lost.
const INVERSE_PIVOT: f64 = 1.0 / 0.01;
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
    eliminate_in(Plain, matrix, n, right, columns)
}

/// [`eliminate`] with numbers held as `hand` holds them.
#[inline(always)]
pub(crate) fn eliminate_in<S: Scalar, R: Registers<S>>(
    hand: R,
    matrix: &mut [S],
    n: usize,
    right: &mut [S],
    columns: usize,
) -> S::Mask {
    if n == 0 || columns == 0 || matrix.len() != n * n || right.len() != n * columns {
        return S::Mask::splat(true);
    }
    let guarded = factorise(hand, Stored, matrix, n, right, columns);
    for column in 0..columns {
        solve_column(hand, matrix, n, right, columns, column);
    }
    guarded
}

/// The same for the matrix of one and, row by row, a factor times constants, which is made while it is eliminated: a row is
/// never written before its first pivots are taken out of it. One right-hand side.
#[inline(always)]
pub(crate) fn eliminate_scaled<S: Scalar, R: Registers<S>>(
    hand: R,
    scaled: Scaled<'_, S>,
    matrix: &mut [S],
    right: &mut [S],
) -> S::Mask {
    let n = scaled.factors.len();
    // what is compiled for one size has no loops whose ends must be found; too much of it to build for every test
    macro_rules! sizes {
        ($($size:literal)*) => {
            match n {
                $($size if R::VECTORS && !cfg!(debug_assertions) => of_size(hand, scaled, matrix, right, $size),)*
                _ => of_size(hand, scaled, matrix, right, n),
            }
        };
    }
    sizes!(6 7 8 9 10 11 12 13 14 15 16 17 18 19 20)
}

/// For so many unknowns; the mask is true for another number.
#[inline(always)]
fn of_size<S: Scalar, R: Registers<S>>(
    hand: R,
    scaled: Scaled<'_, S>,
    matrix: &mut [S],
    right: &mut [S],
    n: usize,
) -> S::Mask {
    if n == 0
        || scaled.factors.len() != n
        || scaled.constants.len() != n * n
        || matrix.len() != n * n
        || right.len() != n
    {
        return S::Mask::splat(true);
    }
    for (row, line) in matrix.chunks_exact_mut(n).enumerate().take(PANEL) {
        for (column, entry) in line.iter_mut().enumerate() {
            hand.store(scaled.entry(hand, n, row, column, &S::constant(0.0)), entry);
        }
        hand.store(scaled.diagonal(hand, n, row, &S::constant(0.0)), &mut line[row]);
    }
    let guarded = factorise(hand, scaled, matrix, n, right, 1);
    solve_column(hand, matrix, n, right, 1, 0);
    guarded
}

/// Where the entries of a row come from when the first pivots are taken out of it.
trait Source<S: Scalar>: Copy {
    /// An entry beside the diagonal.
    fn entry<R: Registers<S>>(self, hand: R, n: usize, row: usize, column: usize, place: &S) -> R::Held;
    /// The entry on the diagonal.
    fn diagonal<R: Registers<S>>(self, hand: R, n: usize, row: usize, place: &S) -> R::Held;
    /// Whether the two differ.
    const DIAGONAL: bool;
}

/// The matrix itself.
#[derive(Clone, Copy)]
struct Stored;

impl<S: Scalar> Source<S> for Stored {
    const DIAGONAL: bool = false;
    #[inline(always)]
    fn entry<R: Registers<S>>(self, hand: R, _: usize, _: usize, _: usize, place: &S) -> R::Held {
        hand.load(place)
    }
    #[inline(always)]
    fn diagonal<R: Registers<S>>(self, hand: R, _: usize, _: usize, place: &S) -> R::Held {
        hand.load(place)
    }
}

/// For each row a factor, and constants row by row.
#[derive(Clone, Copy)]
pub(crate) struct Scaled<'a, S> {
    pub(crate) factors: &'a [S],
    pub(crate) constants: &'a [f64],
}

impl<S: Scalar> Source<S> for Scaled<'_, S> {
    const DIAGONAL: bool = true;
    #[inline(always)]
    fn entry<R: Registers<S>>(self, hand: R, n: usize, row: usize, column: usize, _: &S) -> R::Held {
        hand.mul(hand.load(&self.factors[row]), hand.constant(self.constants[row * n + column]))
    }
    #[inline(always)]
    fn diagonal<R: Registers<S>>(self, hand: R, n: usize, row: usize, place: &S) -> R::Held {
        hand.add(self.entry(hand, n, row, row, place), hand.constant(1.0))
    }
}

/// Solves for one column of the right-hand sides with the system that [`factorise`] left.
#[inline(always)]
fn solve_column<S: Scalar, R: Registers<S>>(
    hand: R,
    matrix: &[S],
    n: usize,
    right: &mut [S],
    columns: usize,
    column: usize,
) {
    // the rows that fill no panel, then panels from the end
    let whole = n - n % PANEL;
    match n - whole {
        0 => {}
        1 => back::<S, R, 1>(hand, matrix, n, right, columns, whole, column),
        2 => back::<S, R, 2>(hand, matrix, n, right, columns, whole, column),
        _ => back::<S, R, 3>(hand, matrix, n, right, columns, whole, column),
    }
    for first in (0..whole).step_by(PANEL).rev() {
        back::<S, R, PANEL>(hand, matrix, n, right, columns, first, column);
    }
}

/// The unknowns of the panel that begins at a row, from its last, and what they take out of the rows above.
#[inline(always)]
fn back<S: Scalar, R: Registers<S>, const K: usize>(
    hand: R,
    matrix: &[S],
    n: usize,
    right: &mut [S],
    columns: usize,
    first: usize,
    column: usize,
) {
    let mut known = [hand.constant(0.0); K];
    for k in (0..K).rev() {
        let place = &mut right[(first + k) * columns + column];
        let mut value = hand.load(place);
        let factors = &matrix[(first + k) * n + first..(first + k) * n + first + K];
        for j in (k + 1..K).rev() {
            value = hand.sub(value, hand.mul(hand.load(&factors[j]), known[j]));
        }
        known[k] = hand.mul(value, hand.load(&factors[k]));
        hand.store(known[k], place);
    }
    for row in 0..first {
        let place = &mut right[row * columns + column];
        let mut value = hand.load(place);
        for (factor, &known) in matrix[row * n + first..row * n + first + K].iter().zip(&known) {
            value = hand.sub(value, hand.mul(hand.load(factor), known));
        }
        hand.store(value, place);
    }
}

/// Pivots taken together, so that an entry is read and written once for all of them.
const PANEL: usize = 4;

/// The multipliers below the diagonal, one over the pivots on it, the eliminated system above; the right-hand sides without
/// what stands below.
#[inline(always)]
fn factorise<S: Scalar, R: Registers<S>>(
    hand: R,
    source: impl Source<S>,
    matrix: &mut [S],
    n: usize,
    right: &mut [S],
    columns: usize,
) -> S::Mask {
    let mut squares = hand.constant(0.0);
    let mut first = 0;
    while first < n {
        let width = PANEL.min(n - first);
        let (above, below) = matrix.split_at_mut((first + width) * n);
        let (of_panel, behind) = right.split_at_mut((first + width) * columns);
        let (panel, of_panel) = (&mut above[first * n..], &mut of_panel[first * columns..]);
        for row in 0..width {
            let (done, rest) = panel.split_at_mut(row * n);
            let (known, to) = of_panel.split_at_mut(row * columns);
            let (pivots, line) = (Pivots { rows: done, right: known, first, n, columns }, &mut rest[..n]);
            match row {
                0 => {}
                1 => pivots.clear::<R, 1>(hand, row, line, &mut to[..columns], &mut squares),
                2 => pivots.clear::<R, 2>(hand, row, line, &mut to[..columns], &mut squares),
                _ => pivots.clear::<R, 3>(hand, row, line, &mut to[..columns], &mut squares),
            }
            let pivot = &mut line[first + row];
            hand.store(hand.div(hand.constant(1.0), hand.load(pivot)), pivot);
        }
        let pivots = Pivots { rows: panel, right: of_panel, first, n, columns };
        let next = first + width;
        if first == 0 {
            pivots.clear_all(hand, source, next, below, behind, &mut squares);
        } else {
            pivots.clear_all(hand, Stored, next, below, behind, &mut squares);
        }
        first = next;
    }
    // a multiplier that is no number leaves no number for their sum of squares
    let mut sum = S::constant(0.0);
    hand.store(squares, &mut sum);
    let mut sound = sum.lt(S::constant(MULTIPLIERS));
    for inverse in matrix.iter().step_by(n + 1) {
        sound = sound.and(S::constant(0.0).lt(*inverse)).and(inverse.lt(S::constant(INVERSE_PIVOT)));
    }
    sound.not()
}

/// Rows of pivots, which are taken out of the rows below.
struct Pivots<'a, S> {
    rows: &'a [S],
    /// Their right-hand sides.
    right: &'a [S],
    /// The column of the first pivot.
    first: usize,
    n: usize,
    columns: usize,
}

#[allow(clippy::needless_range_loop, reason = "one count runs through several arrays")]
impl<S: Scalar> Pivots<'_, S> {
    /// Takes a whole panel out of the rows from `next` on: the multipliers of all rows first, so that none waits for another.
    #[inline(always)]
    fn clear_all<R: Registers<S>>(
        &self,
        hand: R,
        source: impl Source<S>,
        next: usize,
        below: &mut [S],
        behind: &mut [S],
        squares: &mut R::Held,
    ) {
        for row in 0..self.n - next {
            let line = &mut below[row * self.n..][..self.n];
            let to = &mut behind[row * self.columns..][..self.columns];
            self.multipliers::<R, PANEL>(hand, source, next + row, line, to, squares);
        }
        let mut row = next;
        for lines in below.chunks_mut(2 * self.n) {
            if lines.len() == self.n {
                self.leave::<R, PANEL>(hand, source, row, lines);
            } else {
                self.leave_two::<R, PANEL>(hand, source, row, lines);
            }
            row += 2;
        }
    }

    /// The multipliers of a row for `K` pivots, and what they leave of its right-hand sides.
    #[inline(always)]
    fn multipliers<R: Registers<S>, const K: usize>(
        &self,
        hand: R,
        source: impl Source<S>,
        row: usize,
        left: &mut [S],
        right: &mut [S],
        squares: &mut R::Held,
    ) {
        let mut factors = [hand.constant(0.0); K];
        for k in 0..K {
            let place = &mut left[self.first + k];
            let mut value = source.entry(hand, self.n, row, self.first + k, place);
            for j in 0..k {
                value = hand.sub(value, hand.mul(factors[j], hand.load(&self.rows[j * self.n + self.first + k])));
            }
            value = hand.mul(value, hand.load(&self.rows[k * self.n + self.first + k]));
            factors[k] = value;
            hand.store(value, place);
            *squares = hand.add(*squares, hand.mul(value, value));
        }
        for (column, place) in right.iter_mut().enumerate() {
            let mut value = hand.load(place);
            for k in 0..K {
                value = hand.sub(value, hand.mul(factors[k], hand.load(&self.right[k * self.columns + column])));
            }
            hand.store(value, place);
        }
    }

    /// The entry on the diagonal of a row, once `K` pivots are taken out of it.
    #[inline(always)]
    fn diagonal<R: Registers<S>, const K: usize>(
        &self,
        hand: R,
        source: impl Source<S>,
        row: usize,
        factors: &[R::Held; K],
        place: &mut S,
    ) {
        let mut value = source.diagonal(hand, self.n, row, place);
        for k in 0..K {
            value = hand.sub(value, hand.mul(factors[k], hand.load(&self.rows[k * self.n + row])));
        }
        hand.store(value, place);
    }

    /// What stands behind the columns of the pivots, `count` columns of each row.
    #[inline(always)]
    fn behind<const K: usize>(&self, count: usize) -> [&[S]; K] {
        let mut rows = [&self.rows[..0]; K];
        for (k, row) in rows.iter_mut().enumerate() {
            *row = &self.rows[k * self.n + self.first + K..][..count];
        }
        rows
    }

    /// Takes `K` pivots out of a row of the matrix.
    #[inline(always)]
    fn clear<R: Registers<S>, const K: usize>(
        &self,
        hand: R,
        row: usize,
        line: &mut [S],
        right: &mut [S],
        squares: &mut R::Held,
    ) {
        self.multipliers::<R, K>(hand, Stored, row, line, right, squares);
        self.leave::<R, K>(hand, Stored, row, line);
    }

    /// The multipliers of a row.
    #[inline(always)]
    fn factors<R: Registers<S>, const K: usize>(&self, hand: R, line: &[S]) -> [R::Held; K] {
        let mut factors = [hand.constant(0.0); K];
        for k in 0..K {
            factors[k] = hand.load(&line[self.first + k]);
        }
        factors
    }

    /// What the pivots leave of a row behind their columns, once its multipliers are there.
    #[inline(always)]
    fn leave<R: Registers<S>, const K: usize>(&self, hand: R, source: impl Source<S>, row: usize, line: &mut [S]) {
        let behind = self.first + K;
        let factors = self.factors::<R, K>(hand, line);
        let entries = &mut line[behind..];
        let rows = self.behind::<K>(entries.len());
        for (column, entry) in entries.iter_mut().enumerate() {
            let mut value = source.entry(hand, self.n, row, behind + column, entry);
            for k in 0..K {
                value = hand.sub(value, hand.mul(factors[k], hand.load(&rows[k][column])));
            }
            hand.store(value, entry);
        }
        if source_differs(source) {
            self.diagonal::<R, K>(hand, source, row, &factors, &mut line[row]);
        }
    }

    /// The same for two rows, so that what is loaded of the pivots serves both.
    #[inline(always)]
    fn leave_two<R: Registers<S>, const K: usize>(&self, hand: R, source: impl Source<S>, row: usize, lines: &mut [S]) {
        let behind = self.first + K;
        let (one, other) = lines.split_at_mut(self.n);
        let (factors, others) = (self.factors::<R, K>(hand, one), self.factors::<R, K>(hand, other));
        let (entries, below) = (&mut one[behind..], &mut other[behind..]);
        let rows = self.behind::<K>(entries.len());
        for (column, (entry, below)) in entries.iter_mut().zip(below).enumerate() {
            let mut value = source.entry(hand, self.n, row, behind + column, entry);
            let mut second = source.entry(hand, self.n, row + 1, behind + column, below);
            for k in 0..K {
                let pivot = hand.load(&rows[k][column]);
                value = hand.sub(value, hand.mul(factors[k], pivot));
                second = hand.sub(second, hand.mul(others[k], pivot));
            }
            hand.store(value, entry);
            hand.store(second, below);
        }
        if source_differs(source) {
            self.diagonal::<R, K>(hand, source, row, &factors, &mut one[row]);
            self.diagonal::<R, K>(hand, source, row + 1, &others, &mut other[row + 1]);
        }
    }
}

/// Whether a source has another rule for its diagonal.
#[inline(always)]
fn source_differs<S: Scalar, F: Source<S>>(_: F) -> bool {
    F::DIAGONAL
}

/// Columns of right-hand sides that are solved together, so that they stay in registers.
pub(crate) const TILE: usize = 4;

/// Applies what [`eliminate`] left in `matrix` to more right-hand sides, in place: `right` is n by `columns`, row by row, and
/// `columns` a whole number of tiles. Behind the first `whole` columns stand columns of a diagonal: column `whole + k` is
/// zero above row k on entry. Wrong lengths leave `right` unsolved.
#[inline(always)]
pub(crate) fn substitute<S: Scalar, R: Registers<S>>(
    hand: R,
    matrix: &[S],
    n: usize,
    right: &mut [S],
    columns: usize,
    whole: usize,
) {
    if n == 0 || columns == 0 || !columns.is_multiple_of(TILE) || matrix.len() != n * n || right.len() != n * columns {
        return;
    }
    for (row, line) in matrix.chunks_exact(n).enumerate() {
        let (solved, waiting) = right.split_at_mut(row * columns);
        for (tile, entries) in waiting[..columns].chunks_exact_mut(TILE).enumerate() {
            let first = (tile * TILE).saturating_sub(whole).min(row);
            take_off(hand, entries, &line[first..row], &solved[first * columns..], columns, tile * TILE, None);
        }
    }
    for (row, line) in matrix.chunks_exact(n).enumerate().rev() {
        let (waiting, solved) = right.split_at_mut((row + 1) * columns);
        for (tile, entries) in waiting[row * columns..].chunks_exact_mut(TILE).enumerate() {
            take_off(hand, entries, &line[row + 1..], solved, columns, tile * TILE, Some(&line[row]));
        }
    }
}

/// `entries -= sum_j factors_j known_j`, then times one over a pivot, for one tile of columns that begins at `start`; `known`
/// is row by row.
#[inline(always)]
fn take_off<S: Scalar, R: Registers<S>>(
    hand: R,
    entries: &mut [S],
    factors: &[S],
    known: &[S],
    columns: usize,
    start: usize,
    inverse: Option<&S>,
) {
    let [a, b, c, d] = entries else { return };
    let mut sums = [hand.load(a), hand.load(b), hand.load(c), hand.load(d)];
    let mut place = start;
    for factor in factors {
        let [a, b, c, d] = &known[place..place + TILE] else { break };
        place += columns;
        let factor = hand.load(factor);
        sums[0] = hand.sub(sums[0], hand.mul(factor, hand.load(a)));
        sums[1] = hand.sub(sums[1], hand.mul(factor, hand.load(b)));
        sums[2] = hand.sub(sums[2], hand.mul(factor, hand.load(c)));
        sums[3] = hand.sub(sums[3], hand.mul(factor, hand.load(d)));
        S::side_by_side();
    }
    if let Some(inverse) = inverse {
        let inverse = hand.load(inverse);
        for sum in &mut sums {
            *sum = hand.mul(*sum, inverse);
        }
    }
    hand.store(sums[0], a);
    hand.store(sums[1], b);
    hand.store(sums[2], c);
    hand.store(sums[3], d);
}
