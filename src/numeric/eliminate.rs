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
/// G. H. Golub, C. F. Van Loan, Matrix Computations, 4th ed. 2013, sections 3.2 and 3.4 (from memory); by tiles, so that
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

/// The same for the matrix of one and, row by row, a factor times constants, which is made while it is eliminated. One
/// right-hand side.
#[inline(always)]
pub(crate) fn eliminate_scaled<S: Scalar, R: Registers<S>>(
    hand: R,
    scaled: Scaled<'_, S>,
    matrix: &mut [S],
    right: &mut [S],
) -> S::Mask {
    let n = scaled.factors.len();
    if n == 0 || scaled.constants.len() != n * n || matrix.len() != n * n || right.len() != n {
        return S::Mask::splat(true);
    }
    let guarded = factorise(hand, scaled, matrix, n, right, 1);
    solve_column(hand, matrix, n, right, 1, 0);
    guarded
}

/// Where the entries of the matrix come from; each is asked for once.
trait Source<S: Scalar>: Copy {
    /// Some entries of a row, the first of them in column `first`; `line` is what stands in the matrix there.
    fn entries<R: Registers<S>, const C: usize>(
        self,
        hand: R,
        n: usize,
        row: usize,
        first: usize,
        line: &[S],
    ) -> [R::Held; C];
    /// An entry of the diagonal.
    fn diagonal<R: Registers<S>>(self, hand: R, entry: R::Held) -> R::Held;
}

/// The matrix itself.
#[derive(Clone, Copy)]
struct Stored;

impl<S: Scalar> Source<S> for Stored {
    #[inline(always)]
    fn entries<R: Registers<S>, const C: usize>(
        self,
        hand: R,
        _: usize,
        _: usize,
        first: usize,
        line: &[S],
    ) -> [R::Held; C] {
        let line = &line[first..][..C];
        let mut entries = [hand.constant(0.0); C];
        for (entry, place) in entries.iter_mut().zip(line) {
            *entry = hand.load(place);
        }
        entries
    }
    #[inline(always)]
    fn diagonal<R: Registers<S>>(self, _: R, entry: R::Held) -> R::Held {
        entry
    }
}

/// For each row a factor, and constants row by row.
#[derive(Clone, Copy)]
pub(crate) struct Scaled<'a, S> {
    pub(crate) factors: &'a [S],
    pub(crate) constants: &'a [f64],
}

impl<S: Scalar> Source<S> for Scaled<'_, S> {
    #[inline(always)]
    fn entries<R: Registers<S>, const C: usize>(
        self,
        hand: R,
        n: usize,
        row: usize,
        first: usize,
        _: &[S],
    ) -> [R::Held; C] {
        let constants = &self.constants[row * n + first..][..C];
        let factor = hand.load(&self.factors[row]);
        let mut entries = [factor; C];
        for (entry, &constant) in entries.iter_mut().zip(constants) {
            *entry = hand.mul(factor, hand.constant(constant));
        }
        entries
    }
    #[inline(always)]
    fn diagonal<R: Registers<S>>(self, hand: R, entry: R::Held) -> R::Held {
        hand.add(entry, hand.constant(1.0))
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
    for (row, line) in matrix.chunks_exact(n).enumerate().rev() {
        let (waiting, known) = right.split_at_mut((row + 1) * columns);
        let place = &mut waiting[row * columns + column];
        let mut value = hand.load(place);
        // the one that is known last is taken off last
        for (factor, known) in line[row + 1..].iter().zip(known.chunks_exact(columns)).rev() {
            value = hand.sub(value, hand.mul(hand.load(factor), hand.load(&known[column])));
        }
        hand.store(hand.mul(value, hand.load(&line[row])), place);
    }
}

/// Rows and columns of a tile, whose sums stay in registers from the first pivot to the last.
const SIDE: usize = 2;

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
    let whole = n - n % SIDE;
    for first in (0..n).step_by(SIDE) {
        let (above, rest) = matrix.split_at_mut(first * n);
        let (known, right) = right.split_at_mut(first * columns);
        let pivots = Pivots { above, known, first, n, columns };
        if first < whole {
            pivots.take::<R, _, SIDE>(hand, source, rest, right, &mut squares);
        } else {
            pivots.take::<R, _, 1>(hand, source, rest, right, &mut squares);
        }
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

/// The next pivots, with the rows of those before.
struct Pivots<'a, S> {
    above: &'a [S],
    /// Their right-hand sides.
    known: &'a [S],
    /// Where the next stand.
    first: usize,
    n: usize,
    columns: usize,
}

#[allow(clippy::needless_range_loop, reason = "one count runs through several arrays")]
impl<S: Scalar> Pivots<'_, S> {
    /// Finishes `K` rows and as many columns below them; `rest` begins with these rows, `right` with their right-hand sides.
    #[inline(always)]
    fn take<R: Registers<S>, F: Source<S>, const K: usize>(
        &self,
        hand: R,
        source: F,
        rest: &mut [S],
        right: &mut [S],
        squares: &mut R::Held,
    ) {
        let (n, first) = (self.n, self.first);
        let (lines, below) = rest.split_at_mut(K * n);
        let block = self.block::<R, F, K>(hand, source, lines, squares);
        for column in 0..self.columns {
            self.right_sides(hand, lines, right, column, &block);
        }
        let whole = n - (n - first - K) % SIDE;
        for column in (first + K..whole).step_by(SIDE) {
            self.beside::<R, F, K, SIDE>(hand, source, column, lines, &block);
        }
        if whole < n {
            self.beside::<R, F, K, 1>(hand, source, whole, lines, &block);
        }
        for (pair, lines) in below.chunks_mut(SIDE * n).enumerate() {
            let row = first + K + pair * SIDE;
            if lines.len() > n {
                self.below::<R, F, SIDE, K>(hand, source, row, lines, &block, squares);
            } else {
                self.below::<R, F, 1, K>(hand, source, row, lines, &block, squares);
            }
        }
    }

    /// The entries of `H` rows that begin at `row`, in `C` columns from `column` on, without what the pivots before take out;
    /// `ON_DIAGONAL` where the two are the same.
    #[inline(always)]
    fn tile<R: Registers<S>, F: Source<S>, const H: usize, const C: usize, const ON_DIAGONAL: bool>(
        &self,
        hand: R,
        source: F,
        [row, column]: [usize; 2],
        lines: &[S],
    ) -> [[R::Held; C]; H] {
        let mut sums = [[hand.constant(0.0); C]; H];
        let mut multipliers = [&lines[..0]; H];
        for h in 0..H {
            let line = &lines[h * self.n..][..self.n];
            sums[h] = source.entries(hand, self.n, row + h, column, line);
            if ON_DIAGONAL {
                sums[h][h] = source.diagonal(hand, sums[h][h]);
            }
            multipliers[h] = &line[..self.first];
        }
        for (pivot, upper) in self.above.chunks_exact(self.n).enumerate() {
            let upper = &upper[column..][..C];
            let mut factors = [hand.constant(0.0); H];
            for h in 0..H {
                factors[h] = hand.load(&multipliers[h][pivot]);
            }
            for c in 0..C {
                let upper = hand.load(&upper[c]);
                for h in 0..H {
                    sums[h][c] = hand.sub(sums[h][c], hand.mul(factors[h], upper));
                }
            }
        }
        sums
    }

    /// What stands on the diagonal: multipliers, one over the pivots, and what is above.
    #[inline(always)]
    fn block<R: Registers<S>, F: Source<S>, const K: usize>(
        &self,
        hand: R,
        source: F,
        lines: &mut [S],
        squares: &mut R::Held,
    ) -> [[R::Held; K]; K] {
        let mut block = self.tile::<R, F, K, K, true>(hand, source, [self.first; 2], lines);
        for pivot in 0..K {
            let inverse = hand.div(hand.constant(1.0), block[pivot][pivot]);
            block[pivot][pivot] = inverse;
            for row in pivot + 1..K {
                let factor = hand.mul(block[row][pivot], inverse);
                block[row][pivot] = factor;
                *squares = hand.add(*squares, hand.mul(factor, factor));
                for column in pivot + 1..K {
                    block[row][column] = hand.sub(block[row][column], hand.mul(factor, block[pivot][column]));
                }
            }
        }
        for row in 0..K {
            let places = &mut lines[row * self.n + self.first..][..K];
            for column in 0..K {
                hand.store(block[row][column], &mut places[column]);
            }
        }
        block
    }

    /// One column of the right-hand sides of the rows of the pivots.
    #[inline(always)]
    fn right_sides<R: Registers<S>, const K: usize>(
        &self,
        hand: R,
        lines: &[S],
        right: &mut [S],
        column: usize,
        block: &[[R::Held; K]; K],
    ) {
        let mut sides = [hand.constant(0.0); K];
        let mut multipliers = [&lines[..0]; K];
        for row in 0..K {
            sides[row] = hand.load(&right[row * self.columns + column]);
            multipliers[row] = &lines[row * self.n..][..self.first];
        }
        for (pivot, known) in self.known.chunks_exact(self.columns).enumerate() {
            let known = hand.load(&known[column]);
            for row in 0..K {
                sides[row] = hand.sub(sides[row], hand.mul(hand.load(&multipliers[row][pivot]), known));
            }
        }
        for row in 0..K {
            for pivot in 0..row {
                sides[row] = hand.sub(sides[row], hand.mul(block[row][pivot], sides[pivot]));
            }
            hand.store(sides[row], &mut right[row * self.columns + column]);
        }
    }

    /// The rows of the pivots, in `C` columns beside the diagonal.
    #[inline(always)]
    fn beside<R: Registers<S>, F: Source<S>, const K: usize, const C: usize>(
        &self,
        hand: R,
        source: F,
        column: usize,
        lines: &mut [S],
        block: &[[R::Held; K]; K],
    ) {
        let mut sums = self.tile::<R, F, K, C, false>(hand, source, [self.first, column], lines);
        for row in 0..K {
            let places = &mut lines[row * self.n + column..][..C];
            for c in 0..C {
                for pivot in 0..row {
                    sums[row][c] = hand.sub(sums[row][c], hand.mul(block[row][pivot], sums[pivot][c]));
                }
                hand.store(sums[row][c], &mut places[c]);
            }
        }
    }

    /// The multipliers of `H` rows below.
    #[inline(always)]
    fn below<R: Registers<S>, F: Source<S>, const H: usize, const K: usize>(
        &self,
        hand: R,
        source: F,
        row: usize,
        lines: &mut [S],
        block: &[[R::Held; K]; K],
        squares: &mut R::Held,
    ) {
        let mut sums = self.tile::<R, F, H, K, false>(hand, source, [row, self.first], lines);
        for h in 0..H {
            let places = &mut lines[h * self.n + self.first..][..K];
            for column in 0..K {
                let mut value = sums[h][column];
                for pivot in 0..column {
                    value = hand.sub(value, hand.mul(sums[h][pivot], block[pivot][column]));
                }
                value = hand.mul(value, block[column][column]);
                sums[h][column] = value;
                *squares = hand.add(*squares, hand.mul(value, value));
                hand.store(value, &mut places[column]);
            }
        }
    }
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
