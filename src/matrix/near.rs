//! The equation of beads that differ little from one that is solved: some products with a matrix in place of an elimination.

use crate::matrix::equation::Equation;
use crate::numeric::{Registers, dot, inverse};
use crate::scalar::{Mask, Scalar};

/// What the last step may leave of the amounts, relative: of a scatter of a thousandth, a part in ten million.
const EXACT: f64 = 1e-10;
/// So many products cost what an elimination does.
const MOST_STEPS: usize = 7;
/// Rows whose sums stand in registers side by side.
const ROWS: usize = 4;

/// What is known of the solved bead.
///
/// The system is `c + s (a c) = r` with the strengths `s` of a bead, and `m = 1 + s0 a` the matrix of the solved one. With
/// `w = a c` it is `m c = r - (s - s0) w`, hence `w = a m^-1 (r - (s - s0) w)`: each step makes the error of `w` smaller by how
/// far the strengths are from those of the solved bead, and `c = r - s w` needs no step of its own.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Near {
    steps: usize,
    strengths: Vec<f64>,
    /// `w` of the solved bead.
    solved: Vec<f64>,
    /// `a m^-1`, row by row.
    product: Vec<f64>,
}

impl Near {
    /// About a solved bead, given its strengths, how far they go, its amounts and the matrix of its system; nothing for an
    /// equation that is not linear with constant coefficients, or where strengths go so far that steps would be many.
    pub(crate) fn of(equation: &Equation, at: &[f64], reach: &[f64], amounts: &[f64], matrix: &[f64]) -> Option<Self> {
        let n = equation.unknowns();
        if !equation.has_constants_alone() {
            return None;
        }
        let inverse = inverse(matrix, n).ok()?;
        let rows = equation.system.chunks_exact(n);
        let solved: Vec<f64> = rows.map(|row| dot(row.iter().copied().zip(amounts.iter().copied()))).collect();
        let column = |place: usize| inverse[place % n..].iter().step_by(n);
        let entry = |place: usize| {
            let row = equation.system[place / n * n..][..n].iter();
            dot(row.copied().zip(column(place).copied()))
        };
        let product: Vec<f64> = (0..n * n).map(entry).collect();
        // strengths mostly go their own ways
        let square = |row: &[f64]| row.iter().zip(reach).map(|(q, reach)| (q * reach).powi(2)).sum::<f64>();
        let shrinks = product.chunks_exact(n).map(square).fold(0.0, f64::max).sqrt();
        // the start is off by one such part, and each step leaves one of what was
        let left = |steps: usize| largest(&solved) * shrinks.powi(steps as i32 + 1);
        let steps = (1..=MOST_STEPS).find(|&steps| left(steps) <= EXACT)?;
        Some(Self { steps, strengths: at.to_vec(), solved, product })
    }

    /// Solves for the amounts in the place of the right-hand sides. The mask is true where the steps did not come near enough.
    #[inline(always)]
    pub(crate) fn solve<S: Scalar, R: Registers<S>>(
        &self,
        hand: R,
        strengths: &[S],
        solution: &mut [S],
        room: &mut [S],
    ) -> S::Mask {
        let n = self.strengths.len();
        let (sides, solved) = room[..2 * n].split_at_mut(n);
        for (solved, &start) in solved.iter_mut().zip(&self.solved) {
            hand.store(hand.constant(start), solved);
        }
        let (mut before, mut last) = (S::constant(1.0), S::constant(1.0));
        for _ in 0..self.steps {
            for (row, side) in sides.iter_mut().enumerate() {
                let off = hand.sub(hand.load(&strengths[row]), hand.constant(self.strengths[row]));
                hand.store(hand.sub(hand.load(&solution[row]), hand.mul(off, hand.load(&solved[row]))), side);
            }
            let mut moved = hand.constant(0.0);
            for (rows, solved) in self.product.chunks(ROWS * n).zip(solved.chunks_mut(ROWS)) {
                match solved.len() {
                    ROWS => multiply::<S, R, ROWS>(hand, rows, sides, solved, &mut moved),
                    3 => multiply::<S, R, 3>(hand, rows, sides, solved, &mut moved),
                    2 => multiply::<S, R, 2>(hand, rows, sides, solved, &mut moved),
                    _ => multiply::<S, R, 1>(hand, rows, sides, solved, &mut moved),
                }
            }
            before = last;
            hand.store(moved, &mut last);
        }
        for (row, amount) in solution.iter_mut().enumerate() {
            let side = hand.mul(hand.load(&strengths[row]), hand.load(&solved[row]));
            hand.store(hand.sub(hand.load(amount), side), amount);
        }
        // the next move would be the last times last over before, all of them squares
        (last * last).lt(before * (EXACT * EXACT)).or(last.lt(S::constant(f64::MIN_POSITIVE))).not()
    }
}

fn largest(numbers: &[f64]) -> f64 {
    numbers.iter().fold(0.0, |largest, number| number.abs().max(largest))
}

/// `K` entries of the product of a matrix, row by row, with a vector; adds up the squares of how far they move.
#[inline(always)]
#[allow(clippy::needless_range_loop, reason = "one count runs through several arrays")]
fn multiply<S: Scalar, R: Registers<S>, const K: usize>(
    hand: R,
    rows: &[f64],
    vector: &[S],
    product: &mut [S],
    moved: &mut R::Held,
) {
    let n = vector.len();
    let mut lines = [&rows[..0]; K];
    for (k, line) in lines.iter_mut().enumerate() {
        *line = &rows[k * n..][..n];
    }
    let mut sums = [hand.constant(0.0); K];
    for (column, entry) in vector.iter().enumerate() {
        let entry = hand.load(entry);
        for k in 0..K {
            sums[k] = hand.add(sums[k], hand.mul(entry, hand.constant(lines[k][column])));
        }
    }
    for (sum, place) in sums.into_iter().zip(product) {
        let off = hand.sub(sum, hand.load(place));
        *moved = hand.add(*moved, hand.mul(off, off));
        hand.store(sum, place);
    }
}
