//! Sums of products of contributions, four at once so that no sum waits for the one before; each in the order of the columns.

use crate::numeric::{Registers, TILE};
use crate::scalar::Scalar;

/// The products of the first line with itself and each after it, as many as there is room for.
#[inline(always)]
pub(super) fn products<T: Scalar, R: Registers<T>>(hand: R, lines: &[T], columns: usize, to: &mut [T]) {
    let first = &lines[..columns];
    let (tiles, rest) = to.split_at_mut(to.len() / TILE * TILE);
    for (tile, lines) in tiles.chunks_exact_mut(TILE).zip(lines.chunks_exact(TILE * columns)) {
        let [a, b, c, d] = four(lines, columns);
        let mut sums = [hand.constant(0.0); TILE];
        for ((((with, a), b), c), d) in first.iter().zip(a).zip(b).zip(c).zip(d) {
            let with = hand.load(with);
            sums[0] = hand.add(sums[0], hand.mul(with, hand.load(a)));
            sums[1] = hand.add(sums[1], hand.mul(with, hand.load(b)));
            sums[2] = hand.add(sums[2], hand.mul(with, hand.load(c)));
            sums[3] = hand.add(sums[3], hand.mul(with, hand.load(d)));
            T::side_by_side();
        }
        store(hand, sums, tile);
    }
    for (to, line) in rest.iter_mut().zip(lines[tiles.len() * columns..].chunks_exact(columns)) {
        let mut sum = hand.constant(0.0);
        for (with, part) in first.iter().zip(line) {
            sum = hand.add(sum, hand.mul(hand.load(with), hand.load(part)));
            T::side_by_side();
        }
        hand.store(sum, to);
    }
}

/// The first four lines.
#[inline(always)]
fn four<T>(lines: &[T], columns: usize) -> [&[T]; TILE] {
    let (left, right) = lines.split_at(2 * columns);
    let ((a, b), (c, d)) = (left.split_at(columns), right.split_at(columns));
    [a, b, c, d]
}

#[inline(always)]
fn store<T: Scalar, R: Registers<T>>(hand: R, sums: [R::Held; TILE], to: &mut [T]) {
    let [to_a, to_b, to_c, to_d] = to else { return };
    hand.store(sums[0], to_a);
    hand.store(sums[1], to_b);
    hand.store(sums[2], to_c);
    hand.store(sums[3], to_d);
}

/// The products of four lines with themselves.
#[inline(always)]
pub(super) fn squares<T: Scalar, R: Registers<T>>(hand: R, lines: &[T], columns: usize, to: &mut [T]) {
    let [a, b, c, d] = four(lines, columns);
    let mut sums = [hand.constant(0.0); TILE];
    for (((a, b), c), d) in a.iter().zip(b).zip(c).zip(d) {
        let (a, b, c, d) = (hand.load(a), hand.load(b), hand.load(c), hand.load(d));
        sums[0] = hand.add(sums[0], hand.mul(a, a));
        sums[1] = hand.add(sums[1], hand.mul(b, b));
        sums[2] = hand.add(sums[2], hand.mul(c, c));
        sums[3] = hand.add(sums[3], hand.mul(d, d));
        T::side_by_side();
    }
    store(hand, sums, to);
}
