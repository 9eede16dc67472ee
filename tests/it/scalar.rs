//! The number types: lanes against single numbers, duals against another implementation, functions against the
//! standard library.

use beadchem::scalar::{Dual, LaneMask, Lanes, Mask, Scalar};
use num_dual::{Dual2_64, Dual64, DualNum, HyperDual64};

/// Two orders of the same operations on at most thirty terms.
const SAME: f64 = 1e-12;

/// SplitMix64 (G. L. Steele, D. Lea, C. H. Flood, OOPSLA 2014): the same points in every run.
struct Bits(u64);

impl Bits {
    fn next(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mixed = (self.0 ^ (self.0 >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        let mixed = (mixed ^ (mixed >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        mixed ^ (mixed >> 31)
    }

    /// Evenly spread over `[low, high)`.
    fn between(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * (self.next() >> 11) as f64 * 2.0_f64.powi(-53)
    }

    /// Evenly spread over the exponents from `2^low` to `2^high`, which may be below the normal range.
    fn scaled(&mut self, low: f64, high: f64) -> f64 {
        (0.5 * self.between(low, high)).exp2().powi(2)
    }

    fn sign(&mut self) -> f64 {
        if self.next() >> 63 == 0 { 1.0 } else { -1.0 }
    }
}

/// Distance in units in the last place, counted in representable numbers; zero between two that are not numbers.
fn ulps(a: f64, b: f64) -> u64 {
    let ordered = |x: f64| {
        let bits = x.to_bits() as i64;
        if bits < 0 { i64::MIN - bits } else { bits }
    };
    if a.is_nan() && b.is_nan() { 0 } else { ordered(a).abs_diff(ordered(b)) }
}

/// Points at which each function is held against the standard library, in each range.
const POINTS: usize = 100_000;
/// Units in the last place that the doc comments of `Scalar` promise.
const EXP: u64 = 2;
const LN: u64 = 2;
const LN_1P: u64 = 3;

#[test]
fn functions_stay_within_their_stated_error() {
    let mut bits = Bits(7);
    let mut check = |range, [function, standard]: [fn(f64) -> f64; 2], bound, point: fn(&mut Bits) -> f64| {
        for _ in 0..POINTS {
            let x = point(&mut bits);
            let apart = ulps(function(x), standard(x));
            assert!(apart <= bound, "{range}: {apart} units in the last place at {x:e}");
        }
    };
    let exp: [fn(f64) -> f64; 2] = [<f64 as Scalar>::exp, f64::exp];
    check("exp, over and under the range", exp, EXP, |bits| bits.between(-760.0, 720.0));
    check("exp near 0", exp, EXP, |bits| bits.between(-1.0, 1.0));
    check("exp next to 0", exp, EXP, |bits| bits.sign() * bits.scaled(-60.0, 0.0));
    let ln: [fn(f64) -> f64; 2] = [<f64 as Scalar>::ln, f64::ln];
    check("ln, subnormal numbers included", ln, LN, |bits| bits.scaled(-1074.0, 1023.9));
    check("ln near 1", ln, LN, |bits| bits.between(0.5, 2.0));
    check("ln next to 1", ln, LN, |bits| 1.0 + bits.sign() * bits.scaled(-52.0, -4.0));
    let ln_1p: [fn(f64) -> f64; 2] = [<f64 as Scalar>::ln_1p, f64::ln_1p];
    check("ln_1p, subnormal numbers included", ln_1p, LN_1P, |bits| bits.scaled(-1074.0, 1023.9));
    check("ln_1p near 0", ln_1p, LN_1P, |bits| bits.between(-0.9, 2.0));
    check("ln_1p next to 0", ln_1p, LN_1P, |bits| bits.sign() * bits.scaled(-60.0, -0.001));
    check("ln_1p next to -1", ln_1p, LN_1P, |bits| bits.scaled(-52.0, -1.0) - 1.0);
}

#[test]
fn functions_at_the_ends_of_their_range() {
    let [exp, ln, ln_1p] = [<f64 as Scalar>::exp, <f64 as Scalar>::ln, <f64 as Scalar>::ln_1p];
    let infinity = f64::INFINITY;
    for (function, table) in [
        (exp, vec![(0.0, 1.0), (-0.0, 1.0), (infinity, infinity), (-infinity, 0.0), (-746.0, 0.0), (709.8, infinity)]),
        (ln, vec![(1.0, 0.0), (0.0, -infinity), (-0.0, -infinity), (infinity, infinity)]),
        (ln_1p, vec![(0.0, 0.0), (-0.0, -0.0), (-1.0, -infinity), (infinity, infinity), (5e-324, 5e-324)]),
    ] {
        for (x, expected) in table {
            assert_eq!(function(x).to_bits(), f64::to_bits(expected), "at {x}");
        }
        assert!(function(f64::NAN).is_nan());
    }
    assert!(ln(-1.0).is_nan() && ln(-infinity).is_nan() && ln_1p((-1.0_f64).next_up()).is_finite());
    assert!(ln_1p((-1.0_f64).next_down()).is_nan());
}

/// What tends to go wrong: both zeros, the ends of the normal range and of the subnormal one, the halves of ln and exp.
const AWKWARD: [f64; 24] = [
    0.0,
    -0.0,
    1.0,
    -1.0,
    5e-324,
    -5e-324,
    2.225_073_858_507_201e-308,
    f64::MIN_POSITIVE,
    -f64::MIN_POSITIVE,
    f64::EPSILON,
    -1.1e-16,
    core::f64::consts::FRAC_1_SQRT_2,
    core::f64::consts::SQRT_2,
    0.346_573_590_279_972_65,
    -0.346_573_590_279_972_65,
    -0.999_999_999_999_999_9,
    709.782_712_893_384,
    -745.133_219_101_941_1,
    9_007_199_254_740_993.0,
    1e300,
    f64::MAX,
    f64::INFINITY,
    f64::NEG_INFINITY,
    f64::NAN,
];

/// The bits of a number; of what is not a number, one pattern for all.
fn bits(x: f64) -> u64 {
    if x.is_nan() { f64::NAN.to_bits() } else { x.to_bits() }
}

#[test]
fn a_lane_gives_the_bits_of_a_lone_number() {
    fn results<S: Scalar>(a: S, b: S, constant: f64) -> [S; 15] {
        [
            a + b,
            a - b,
            a * b,
            a / b,
            -a,
            a + constant,
            a - constant,
            a * constant,
            a / constant,
            a.sqrt(),
            a.exp(),
            a.ln(),
            a.ln_1p(),
            a.abs(),
            S::select(a.lt(b), a, b),
        ]
    }
    for (i, &a) in AWKWARD.iter().enumerate() {
        for &constant in &AWKWARD {
            let others: [f64; 8] = core::array::from_fn(|lane| AWKWARD[(i + 3 * lane) % AWKWARD.len()]);
            // The number on trial in every lane, and in one lane beside seven others.
            let together = results(Lanes([a; 8]), Lanes(others), constant);
            let beside = results(Lanes(others), Lanes([a; 8]), constant);
            for (lane, &other) in others.iter().enumerate() {
                let alone = [results(a, other, constant), results(other, a, constant)];
                for k in 0..15 {
                    assert_eq!(bits(together[k].0[lane]), bits(alone[0][k]), "operation {k} of {a} and {constant}");
                    assert_eq!(bits(beside[k].0[lane]), bits(alone[1][k]), "operation {k} of {a} and {constant}");
                }
            }
        }
    }
}

#[test]
fn masks_hold_one_answer_for_each_lane() {
    let mask = Lanes([1.0, 2.0, f64::NAN, -0.0]).lt(Lanes([2.0, 2.0, 3.0, 0.0]));
    assert_eq!(mask, LaneMask::from([true, false, false, false]));
    assert_eq!(mask.not().and(LaneMask::from([true, true, false, false])), LaneMask::from([false, true, false, false]));
    assert_eq!(mask.or(LaneMask::splat(true)), LaneMask::from([true; 4]));
    assert!(mask.any() && !mask.not().and(mask).any());
    assert!(mask.lane(0) && !mask.lane(1) && !LaneMask::from([true; 4]).lane(4));
    assert!(bool::splat(true).lane(0) && !true.lane(1) && false.or(true) && !true.and(false) && !true.not());
}

/// One text for both implementations: every function and operator, some of them inside others.
macro_rules! composite {
    ($x:expr, $y:expr) => {{
        let (x, y) = ($x, $y);
        let attenuation = -((x * y + 0.3).sqrt() / (y + 2.0)).exp() * 1.7 + (x / y - 0.01).ln_1p();
        let curved = ((x + 1.5).ln() * y - x / 3.0) / (attenuation * attenuation + 1.0);
        (curved * curved + 0.25).sqrt() * attenuation - curved
    }};
}

/// Points at which the derivatives are compared.
const DERIVATIVES: usize = 2_000;

fn assert_same(found: &[f64], oracle: &[f64], at: [f64; 2]) {
    for (k, (found, oracle)) in found.iter().zip(oracle).enumerate() {
        let apart = (found - oracle).abs();
        assert!(apart <= SAME * oracle.abs().max(1.0), "derivative {k} at {at:?}: {found}, oracle {oracle}");
    }
}

#[test]
fn first_derivatives_agree_with_num_dual() {
    let mut bits = Bits(11);
    for _ in 0..DERIVATIVES {
        let [x, y] = [bits.between(0.1, 4.0), bits.between(0.1, 4.0)];
        let found = composite!(Dual::<f64, 2>::variable(x, 0), Dual::<f64, 2>::variable(y, 1));
        let by_x = composite!(Dual64::from(x).derivative(), Dual64::from(y));
        let by_y = composite!(Dual64::from(x), Dual64::from(y).derivative());
        assert_same(&[found.re, found.eps[0], found.eps[1]], &[by_x.re, by_x.eps, by_y.eps], [x, y]);
    }
}

#[test]
fn nested_duals_agree_with_num_dual() {
    type Second = Dual<Dual<f64, 1>, 1>;
    let constant = |value: f64| <Second as Scalar>::constant(value);
    let inner = |value: f64| Second { re: Dual::variable(value, 0), ..constant(0.0) };
    let outer = |value: f64| Second { re: Dual::constant(value), eps: [Dual::constant(1.0)] };
    let mut bits = Bits(13);
    for _ in 0..DERIVATIVES {
        let [x, y] = [bits.between(0.1, 4.0), bits.between(0.1, 4.0)];
        let both = Second { re: Dual::variable(x, 0), eps: [Dual::constant(1.0)] };
        let twice = composite!(both, constant(y));
        let oracle = composite!(Dual2_64::from(x).derivative(), Dual2_64::from(y));
        assert_same(
            &[twice.re.re, twice.re.eps[0], twice.eps[0].re, twice.eps[0].eps[0]],
            &[oracle.re, oracle.v1, oracle.v1, oracle.v2],
            [x, y],
        );
        let mixed = composite!(inner(x), outer(y));
        let oracle = composite!(HyperDual64::from(x).derivative1(), HyperDual64::from(y).derivative2());
        assert_same(
            &[mixed.re.re, mixed.re.eps[0], mixed.eps[0].re, mixed.eps[0].eps[0]],
            &[oracle.re, oracle.eps1, oracle.eps2, oracle.eps1eps2],
            [x, y],
        );
    }
}

#[test]
fn duals_over_lanes_give_the_bits_of_duals_over_numbers() {
    let mut bits = Bits(17);
    for _ in 0..DERIVATIVES / 8 {
        let x: [f64; 8] = core::array::from_fn(|_| bits.between(0.1, 4.0));
        let y: [f64; 8] = core::array::from_fn(|_| bits.between(0.1, 4.0));
        let together = composite!(Dual::<_, 2>::variable(Lanes(x), 0), Dual::<_, 2>::variable(Lanes(y), 1));
        for lane in 0..8 {
            let alone = composite!(Dual::<f64, 2>::variable(x[lane], 0), Dual::<f64, 2>::variable(y[lane], 1));
            assert_eq!(together.re.0[lane].to_bits(), alone.re.to_bits());
            for direction in 0..2 {
                assert_eq!(together.eps[direction].0[lane].to_bits(), alone.eps[direction].to_bits());
            }
        }
    }
}

#[test]
fn a_choice_between_duals_takes_the_tangents_along() {
    let [x, y] = [Dual::<f64, 2>::variable(-2.0, 0), Dual::<f64, 2>::variable(1.0, 1)];
    assert!(x.lt(y) && !y.lt(x) && !x.lt(x));
    assert_eq!(Dual::select(x.lt(y), x, y), x);
    assert_eq!(Dual::select(y.lt(x), x, y), y);
    assert_eq!(x.abs(), -x);
    assert_eq!(y.abs(), y);
}
