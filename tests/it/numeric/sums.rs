//! Compensated sums against integer arithmetic, which is exact.

use beadchem::numeric::{Sum, dot, sum};
use beadchem::scalar::{Dual, Lanes};
use proptest::prelude::*;

use super::config;

/// `value` within the documented error of the exact integer: one rounding, and `2^-106 n^2` of the absolute sum.
fn as_documented(value: f64, exact: i128, absolute: f64, n: usize) -> bool {
    let bound = f64::EPSILON * (exact as f64).abs() + (n * n) as f64 * f64::EPSILON.powi(2) * absolute;
    // Both are integers of at most 127 bits, so the difference is taken exactly.
    ((value as i128 - exact) as f64).abs() <= bound
}

/// Integers of up to 50 bits, shifted so that large terms cancel and small ones remain.
fn terms() -> impl Strategy<Value = Vec<(i64, u32)>> {
    prop::collection::vec((-(1_i64 << 50)..(1_i64 << 50), 0_u32..60), 1..40)
}

/// Integers of 52 bits, whose products are exact in 128.
fn integer() -> impl Strategy<Value = i64> {
    -(1_i64 << 52)..(1_i64 << 52)
}

proptest! {
    #![proptest_config(config())]

    #[test]
    fn sum_is_rounded_once(terms in terms(), last in -1000_i64..1000) {
        let big = terms.iter().map(|&(m, shift)| i128::from(m) << shift);
        let integers: Vec<i128> = big.clone().chain(big.map(|t| -t)).chain([i128::from(last)]).collect();
        let floats: Vec<f64> = integers.iter().map(|&t| t as f64).collect();
        let absolute: f64 = floats.iter().map(|t| t.abs()).sum();
        let found = sum(floats.iter().copied());
        prop_assert!(as_documented(found, i128::from(last), absolute, floats.len()), "{} for {}", found, last);
    }

    #[test]
    fn dot_keeps_the_rounding_of_products(pairs in prop::collection::vec((integer(), integer()), 1..30)) {
        let exact: i128 = pairs.iter().map(|&(a, b)| i128::from(a) * i128::from(b)).sum();
        let absolute: f64 = pairs.iter().map(|&(a, b)| (a as f64 * b as f64).abs()).sum();
        let found = dot(pairs.iter().map(|&(a, b)| (a as f64, b as f64)));
        prop_assert!(as_documented(found, exact, absolute, pairs.len()), "{} for {}", found, exact);
    }

    #[test]
    fn lanes_agree_with_single_numbers_to_the_bit(
        rows in prop::collection::vec(prop::array::uniform8(-1e12_f64..1e12), 1..20)
    ) {
        let together = dot(rows.iter().map(|&row| (Lanes(row), Lanes(row) * 1e-7 + 1.0)));
        for lane in 0..8 {
            let alone = dot(rows.iter().map(|row| (row[lane], row[lane] * 1e-7 + 1.0)));
            prop_assert_eq!(together.0[lane].to_bits(), alone.to_bits());
        }
    }
}

#[test]
fn tangents_are_compensated_too() {
    let term = |tangent: f64| Dual::<f64, 1> { re: 1.0, eps: [tangent] };
    let total = sum([1e16, 1.0, -1e16].map(term));
    assert_eq!((total.re, total.eps[0]), (3.0, 1.0));
}

#[test]
fn what_cannot_be_compensated_is_a_plain_sum() {
    assert_eq!(sum([f64::MAX, f64::MAX]), f64::INFINITY);
    assert_eq!(sum([f64::NEG_INFINITY, 1.0]), f64::NEG_INFINITY);
    assert!(sum([f64::INFINITY, f64::NEG_INFINITY]).is_nan());
    assert!(sum([1.0, f64::NAN]).is_nan());
    // Splitting 2^1000 overflows; the product does not.
    let huge = 2.0_f64.powi(1000);
    assert_eq!(dot([(huge, 4.0)]), 4.0 * huge);
    assert_eq!(Sum::<f64>::default().value(), 0.0);
}
