//! Sums of products of contributions, four at once so that no sum waits for the one before; each in the order of the columns.

use crate::numeric::TILE;
use crate::scalar::Scalar;

/// The products of the first line with itself and each after it, as many as there is room for.
#[inline(always)]
pub(super) fn products<T: Scalar>(lines: &[T], columns: usize, to: &mut [T]) {
    let first = &lines[..columns];
    let (tiles, rest) = to.split_at_mut(to.len() / TILE * TILE);
    for (tile, lines) in tiles.chunks_exact_mut(TILE).zip(lines.chunks_exact(TILE * columns)) {
        let [to_a, to_b, to_c, to_d] = tile else { continue };
        let [a, b, c, d] = four(lines, columns);
        let zero = T::constant(0.0);
        let (mut sum_a, mut sum_b, mut sum_c, mut sum_d) = (zero, zero, zero, zero);
        for ((((&with, &a), &b), &c), &d) in first.iter().zip(a).zip(b).zip(c).zip(d) {
            sum_a = sum_a + with * a;
            sum_b = sum_b + with * b;
            sum_c = sum_c + with * c;
            sum_d = sum_d + with * d;
            T::side_by_side();
        }
        (*to_a, *to_b, *to_c, *to_d) = (sum_a, sum_b, sum_c, sum_d);
    }
    for (to, line) in rest.iter_mut().zip(lines[tiles.len() * columns..].chunks_exact(columns)) {
        let mut sum = T::constant(0.0);
        for (&with, &part) in first.iter().zip(line) {
            sum = sum + with * part;
            T::side_by_side();
        }
        *to = sum;
    }
}

/// The first four lines.
#[inline(always)]
fn four<T>(lines: &[T], columns: usize) -> [&[T]; TILE] {
    let (left, right) = lines.split_at(2 * columns);
    let ((a, b), (c, d)) = (left.split_at(columns), right.split_at(columns));
    [a, b, c, d]
}

/// The products of four lines with themselves.
#[inline(always)]
pub(super) fn squares<T: Scalar>(lines: &[T], columns: usize, to: &mut [T]) {
    let [to_a, to_b, to_c, to_d] = to else { return };
    let [a, b, c, d] = four(lines, columns);
    let zero = T::constant(0.0);
    let (mut sum_a, mut sum_b, mut sum_c, mut sum_d) = (zero, zero, zero, zero);
    for (((&a, &b), &c), &d) in a.iter().zip(b).zip(c).zip(d) {
        sum_a = sum_a + a * a;
        sum_b = sum_b + b * b;
        sum_c = sum_c + c * c;
        sum_d = sum_d + d * d;
        T::side_by_side();
    }
    (*to_a, *to_b, *to_c, *to_d) = (sum_a, sum_b, sum_c, sum_d);
}
