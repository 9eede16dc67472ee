//! Propagation, budgets and Monte Carlo against each other and against algebra.

use beadchem::code::Code;
use beadchem::scalar::Scalar;
use beadchem::uncertainty::{
    Directions, Distribution, Estimate, Inputs, Model, MonteCarloOptions, monte_carlo, propagate, second_order,
};
use proptest::prelude::*;
use statrs::distribution::{ContinuousCDF, Normal};
use std::borrow::Cow;

/// Two outputs, linear in four inputs.
#[derive(Clone)]
struct Linear;
const SLOPES: [[f64; 4]; 2] = [[1.0, -2.0, 0.5, 3.0], [0.0, 1.0, 1.0, -1.0]];

impl Model for Linear {
    fn outputs(&self) -> usize {
        2
    }
    fn evaluate<S: Scalar>(&self, x: &[S], y: &mut [S], _: &mut [S]) {
        for (y, slopes) in y.iter_mut().zip(&SLOPES) {
            *y = x.iter().zip(slopes).fold(S::constant(0.0), |sum, (x, slope)| sum + *x * *slope);
        }
    }
}

/// Normal, rectangular and arcsine inputs, a cause shared by two of them with opposite sign, two correlated.
fn inputs() -> Inputs {
    let mut inputs = Inputs::new();
    let new = |value: f64, u: f64| Estimate::new(value, u).unwrap();
    inputs.push("a", new(1.0, 0.3).shared("balance", 0.2).unwrap()).unwrap();
    inputs.push("b", new(2.0, 0.1).shared("balance", -0.1).unwrap()).unwrap();
    inputs.push("c", Estimate::rectangular(0.0, 0.5).unwrap()).unwrap();
    inputs.push("d", new(4.0, 0.2)).unwrap();
    inputs.correlate(&[("b", "d", 0.6)]).unwrap();
    inputs
}

/// The covariance matrix of the inputs, written out.
fn covariance() -> [[f64; 4]; 4] {
    let r = 0.6 * 0.1 * 0.2;
    [[0.09 + 0.04, -0.02, 0.0, 0.0], [-0.02, 0.01 + 0.01, 0.0, r], [0.0, 0.0, 0.25 / 3.0, 0.0], [0.0, r, 0.0, 0.04]]
}

/// Sums of a dozen products, relative.
const ROUNDING: f64 = 1e-14;
/// Four sampling sigmas: of a variance from n draws 4 sqrt(2 / n).
fn sampling(draws: usize) -> f64 {
    4.0 * (2.0 / draws as f64).sqrt()
}

#[test]
fn first_order_is_the_matrix_product() {
    let result = propagate(&Linear, &inputs()).unwrap();
    let c = covariance();
    for (o, a) in SLOPES.iter().enumerate() {
        for (p, b) in SLOPES.iter().enumerate() {
            let expected: f64 =
                (0..4).flat_map(|i| (0..4).map(move |j| (i, j))).map(|(i, j)| a[i] * c[i][j] * b[j]).sum();
            let found = result.covariance(o, p);
            assert!((found - expected).abs() <= ROUNDING * expected.abs(), "{o} {p}: {found} {expected}");
            assert_eq!(result.covariance_matrix()[o * 2 + p].to_bits(), found.to_bits());
        }
    }
    // the budget adds up: squares of the parts, and what the stated correlation adds
    let budget = result.budget(0);
    let squares: f64 = budget.rows().iter().map(|row| row.contribution * row.contribution).sum();
    let variance = budget.u() * budget.u();
    assert!((squares + budget.from_correlations() - variance).abs() < ROUNDING * variance);
    // halving a part: the whole calculation again with half the uncertainty
    let mut halved = Inputs::new();
    for input in inputs().iter() {
        let estimate = if input.name == "d" { Estimate::new(4.0, 0.1).unwrap() } else { input.estimate.clone() };
        halved.push(input.name.clone(), estimate).unwrap();
    }
    halved.correlate(&[("b", "d", 0.6)]).unwrap();
    let again = propagate(&Linear, &halved).unwrap();
    assert!((budget.if_halved("d").unwrap() - again.u(0)).abs() < ROUNDING * again.u(0));
}

#[test]
fn monte_carlo_agrees_where_the_model_is_linear() {
    let (inputs, draws) = (inputs(), 200_000);
    let first = propagate(&Linear, &inputs).unwrap();
    let options = MonteCarloOptions { draws, seed: 11, ..Default::default() };
    let drawn = monte_carlo(&Linear, &inputs, &options).unwrap();
    for o in 0..2 {
        assert!((drawn.u(o).powi(2) / first.u(o).powi(2) - 1.0).abs() < sampling(draws));
        // four sigmas of a mean
        assert!((drawn.mean(o) - first.value(o)).abs() < 4.0 * first.u(o) / (draws as f64).sqrt());
    }
    let scale = first.u(0) * first.u(1);
    assert!((drawn.covariance(0, 1).unwrap() - first.covariance(0, 1)).abs() < sampling(draws) * scale);
    // each part alone
    for row in first.budget(0).rows() {
        let alone = MonteCarloOptions { only: Some(row.name.clone()), ..options.clone() };
        let alone = monte_carlo(&Linear, &inputs, &alone).unwrap();
        let ratio = alone.u(0).powi(2) / row.contribution.powi(2);
        assert!((ratio - 1.0).abs() < sampling(draws), "{}: {ratio}", row.name);
    }
    let unknown = MonteCarloOptions { only: Some("e".to_owned()), ..options };
    assert_eq!(monte_carlo(&Linear, &inputs, &unknown).unwrap_err().code(), Code::InputUnknown);
}

/// Single draws are drawn again when they are asked for: what they say of themselves are the moments taken while drawing.
#[test]
fn the_draws_asked_for_later_are_those_of_the_moments() {
    const DRAWS: usize = 2_500;
    let options = MonteCarloOptions { draws: DRAWS, seed: 3, ..Default::default() };
    let drawn = monte_carlo(&Linear, &inputs(), &options).unwrap();
    let twin = monte_carlo(&Linear, &inputs(), &MonteCarloOptions { threads: 3, ..options }).unwrap();
    for output in 0..2 {
        // all draws, from the lowest to the highest
        let whole = drawn.interval(output, 1.0 - 1.0 / (4.0 * DRAWS as f64)).unwrap();
        assert_eq!(whole, twin.interval(output, 1.0 - 1.0 / (4.0 * DRAWS as f64)).unwrap());
        assert!(whole.0 < drawn.mean(output) && drawn.mean(output) < whole.1);
        assert!(drawn.interval(output, 0.5).unwrap().0 > whole.0);
    }
    // rounding of a sum of so many products
    const SUMMED: f64 = 1e-12;
    let (one, other) = (drawn.covariance(0, 1).unwrap(), drawn.covariance(1, 0).unwrap());
    assert_eq!(one.to_bits(), other.to_bits());
    assert!(one.abs() <= drawn.u(0) * drawn.u(1) * (1.0 + SUMMED));
    assert_eq!(drawn.covariance(1, 1).unwrap().sqrt(), drawn.u(1));
}

#[test]
fn draws_do_not_depend_on_the_number_of_threads() {
    let options = MonteCarloOptions { draws: 10_007, seed: 5, ..Default::default() };
    let one = monte_carlo(&Linear, &inputs(), &options).unwrap();
    for threads in [2, 5] {
        assert_eq!(one, monte_carlo(&Linear, &inputs(), &MonteCarloOptions { threads, ..options.clone() }).unwrap());
    }
    assert_ne!(one, monte_carlo(&Linear, &inputs(), &MonteCarloOptions { seed: 6, ..options }).unwrap());
}

#[derive(Clone)]
struct Same;
impl Model for Same {
    fn outputs(&self) -> usize {
        1
    }
    fn evaluate<S: Scalar>(&self, x: &[S], y: &mut [S], _: &mut [S]) {
        y[0] = x[0];
    }
}

/// Draws of a block come from so many generators that step together.
const SIDE_BY_SIDE: usize = 32;

/// The generator of this number, as the library `rand_xoshiro` has it.
fn oracle(seed: u64, number: u64) -> rand_xoshiro::Xoshiro256PlusPlus {
    use rand_xoshiro::rand_core::SeedableRng;
    SeedableRng::seed_from_u64(seed.wrapping_add(number.wrapping_mul(0xD1B5_4A32_D192_ED03)))
}

/// The upper 52 bits, in the middle of their cells.
fn uniform(bits: u64) -> f64 {
    ((bits >> 12) as f64 + 0.5) / (1u64 << 52) as f64
}

/// Draws of one input are these numbers, in any order: each is the end of an interval.
fn assert_draws_are(mut expected: Vec<f64>, estimate: Estimate, seed: u64, tolerance: f64) {
    expected.sort_unstable_by(f64::total_cmp);
    let draws = expected.len();
    let options = MonteCarloOptions { draws, seed, ..Default::default() };
    let drawn = monte_carlo(&Same, &one(estimate), &options).unwrap();
    for left_out in 0..draws / 2 {
        let probability = (draws as f64 - 2.0 * left_out as f64 - 0.25) / draws as f64;
        let (low, high) = drawn.interval(0, probability).unwrap();
        let ends = [expected[left_out], expected[draws - 1 - left_out]];
        assert!(
            (low - ends[0]).abs() < tolerance && (high - ends[1]).abs() < tolerance,
            "{left_out}: {low} {high} {ends:?}"
        );
    }
}

/// Draws come from generators that step together: each is the generator of the library, and the second block has its own.
#[test]
fn random_numbers_are_those_of_the_published_generator() {
    use rand_xoshiro::rand_core::Rng;
    const SEED: u64 = 77;
    const BLOCK: usize = 1024;
    // 32 draws more than a block holds
    let mut expected = Vec::new();
    for (block, steps) in [(0, BLOCK / SIDE_BY_SIDE), (1, 1)] {
        for generator in 0..SIDE_BY_SIDE as u64 {
            let mut oracle = oracle(SEED, block * SIDE_BY_SIDE as u64 + generator);
            expected.extend((0..steps).map(|_| 2.0 * uniform(oracle.next_u64()) - 1.0));
        }
    }
    // a number between minus one and one, by way of its standard deviation
    const ROUNDING: f64 = 1e-15;
    assert_draws_are(expected, Estimate::rectangular(0.0, 1.0).unwrap(), SEED, ROUNDING);
}

/// Normal numbers are those of Box and Muller, Ann. Math. Stat. 1958, 29, 610, from the numbers of the published generator, with
/// logarithm, sine and cosine of the standard library in place of our short series.
#[test]
fn normal_numbers_are_those_of_box_and_muller() {
    use core::f64::consts::FRAC_PI_2;
    use rand_xoshiro::rand_core::Rng;
    const SEED: u64 = 78;
    const DRAWS: usize = 1024;
    let mut oracles: Vec<_> = (0..SIDE_BY_SIDE as u64).map(|generator| oracle(SEED, generator)).collect();
    let mut expected = Vec::new();
    for _ in 0..DRAWS / SIDE_BY_SIDE {
        let bits: Vec<u64> = oracles.iter_mut().map(Rng::next_u64).collect();
        let (of_radii, of_angles) = bits.split_at(SIDE_BY_SIDE / 2);
        for (&radius, &angle) in of_radii.iter().zip(of_angles) {
            let radius = (-2.0 * uniform(radius).ln()).sqrt();
            // an eighth of the circle to either side, then turned by the two lowest bits
            let (mut sine, mut cosine) = ((uniform(angle) - 0.5) * FRAC_PI_2).sin_cos();
            if angle & 2 != 0 {
                cosine = -cosine;
            }
            if angle & 1 != 0 {
                core::mem::swap(&mut sine, &mut cosine);
            }
            expected.extend([radius * cosine, radius * sine]);
        }
    }
    // what the series leave out, 2e-9 of a radius of at most 8.5
    const LEFT_OUT: f64 = 2e-8;
    assert_draws_are(expected, Estimate::new(0.0, 1.0).unwrap(), SEED, LEFT_OUT);
}

fn one(estimate: Estimate) -> Inputs {
    let mut inputs = Inputs::new();
    inputs.push("x", estimate).unwrap();
    inputs
}

#[test]
fn distributions_have_their_quantiles() {
    const DRAWS: usize = 400_000;
    let options = MonteCarloOptions { draws: DRAWS, seed: 2, ..Default::default() };
    let standard = |distribution| Estimate::new(0.0, 1.0).unwrap().distributed(distribution).unwrap();
    let student = Estimate::new(0.0, 1.0).unwrap().with_dof(5.0).unwrap().distributed(Distribution::StudentT).unwrap();
    // end of the interval that covers 95 %, by the inverse of each distribution function
    let cases = [
        (standard(Distribution::Normal), 1.959_964, 1.0),
        (standard(Distribution::Rectangular), 0.95 * 3f64.sqrt(), 1.0),
        (standard(Distribution::Triangular), 6f64.sqrt() * (1.0 - 0.05f64.sqrt()), 1.0),
        (standard(Distribution::Arcsine), 2f64.sqrt() * (0.475 * core::f64::consts::PI).sin(), 1.0),
        // Student's t, 5 degrees of freedom: handbook value 2.5706; standard deviation sqrt(5 / 3)
        (student, 2.5706, (5.0f64 / 3.0).sqrt()),
    ];
    for (estimate, end, u) in cases {
        let drawn = monte_carlo(&Same, &one(estimate.clone()), &options).unwrap();
        let (low, high) = drawn.interval(0, 0.95).unwrap();
        // four sigmas of an end: 4 sqrt(0.025 x 0.975 / n) over the density there, which is above 0.03 for each
        const END: f64 = 0.033;
        assert!((high - end).abs() < END && (low + end).abs() < END, "{estimate:?}: {low} {high} {end}");
        // heavy tails of t double the sampling error of a variance
        assert!((drawn.u(0).powi(2) / (u * u) - 1.0).abs() < 4.0 * sampling(DRAWS), "{estimate:?}");
    }
    // far quantiles of the normal draws against an independent inverse
    let drawn = monte_carlo(&Same, &one(standard(Distribution::Normal)), &options).unwrap();
    let reference = Normal::new(0.0, 1.0).unwrap();
    for coverage in [0.5, 0.9, 0.999] {
        let (low, high) = drawn.interval(0, coverage).unwrap();
        let expected = reference.inverse_cdf(0.5 + coverage / 2.0);
        const FAR: f64 = 0.05;
        assert!((high - expected).abs() < FAR && (low + expected).abs() < FAR, "{coverage}");
    }
}

/// Each output is a continued fraction of the inputs that move it; the offered inputs share directions where they can.
struct Sparse {
    /// For each output the inputs that move it.
    moved_by: Vec<Vec<usize>>,
    /// The inputs offered for sharing.
    offered: Vec<usize>,
}
impl Model for Sparse {
    fn outputs(&self) -> usize {
        self.moved_by.len()
    }
    fn evaluate<S: Scalar>(&self, x: &[S], y: &mut [S], _: &mut [S]) {
        for (y, inputs) in y.iter_mut().zip(&self.moved_by) {
            *y = inputs.iter().fold(S::constant(1.0), |product, &i| (product / x[i] + x[i]) * 0.5);
        }
    }
    fn directions(&self, inputs: usize) -> Cow<'_, Directions> {
        let outputs = |input: &usize| (0..self.outputs()).filter(|&o| self.moved_by[o].contains(input)).collect();
        let members: Vec<(usize, Vec<usize>)> = self.offered.iter().map(|input| (*input, outputs(input))).collect();
        Cow::Owned(if members.is_empty() { Directions::own(inputs) } else { Directions::sharing(inputs, &members) })
    }
}

proptest! {
    #[test]
    fn shared_directions_give_the_same_derivatives(
        x in prop::collection::vec(0.1f64..10.0, 50),
        moved_by in prop::collection::vec(prop::collection::btree_set(0usize..50, 0..6), 1..20),
        offered in prop::collection::btree_set(0usize..50, 1..50),
    ) {
        let mut inputs = Inputs::new();
        for (k, value) in x.into_iter().enumerate() {
            inputs.push(format!("x{k}"), Estimate::new(value, 0.1).unwrap()).unwrap();
        }
        let moved_by: Vec<Vec<usize>> = moved_by.into_iter().map(|inputs| inputs.into_iter().collect()).collect();
        let shared = Sparse { moved_by: moved_by.clone(), offered: offered.into_iter().collect() };
        let own = Sparse { moved_by, offered: Vec::new() };
        let alone = 50 - shared.offered.len();
        prop_assert!((alone + 1..=50).contains(&shared.directions(50).count()));
        let (compressed, full) = (propagate(&shared, &inputs).unwrap(), propagate(&own, &inputs).unwrap());
        for o in 0..own.outputs() {
            for i in 0..50 {
                prop_assert_eq!(compressed.derivative(o, i).to_bits(), full.derivative(o, i).to_bits());
            }
        }
    }
}

#[test]
fn inputs_share_the_first_direction_that_has_room() {
    let members = [(0, vec![0, 1]), (1, vec![1, 2]), (2, vec![2, 3]), (4, vec![4]), (2, vec![4]), (9, vec![0])];
    // 0 and 2 together, 1 with 4 (2 is said to move output 4 as well), 3 alone; an input that is not there counts for none
    assert_eq!(Directions::sharing(5, &members).count(), 3);
    assert_eq!(Directions::sharing(5, &members[..4]).count(), 3);
    // thirty readings of one result each need one direction, as few as one such reading
    let readings: Vec<(usize, Vec<usize>)> = (0..30).map(|k| (k + 10, vec![k])).collect();
    assert_eq!(Directions::sharing(40, &readings).count(), 11);
}

/// Three groups of correlated inputs among others with shared causes, one member without an uncertainty, one pair said
/// to be uncorrelated.
#[test]
fn correlated_groups_give_the_matrix_product() {
    const N: usize = 8;
    struct Dense;
    const DERIVATIVES: [[f64; N]; 3] = [
        [1.0, -2.0, 0.5, 3.0, 0.0, -1.5, 0.25, 2.0],
        [0.0, 1.0, 1.0, -1.0, 4.0, 0.0, -0.5, 1.0],
        [2.0, 0.0, -3.0, 0.5, 1.0, 1.0, 1.0, -1.0],
    ];
    impl Model for Dense {
        fn outputs(&self) -> usize {
            DERIVATIVES.len()
        }
        fn evaluate<S: Scalar>(&self, x: &[S], y: &mut [S], _: &mut [S]) {
            for (y, slopes) in y.iter_mut().zip(&DERIVATIVES) {
                *y = x.iter().zip(slopes).fold(S::constant(0.0), |sum, (x, slope)| sum + *x * *slope);
            }
        }
    }
    let u = [0.3, 0.1, 0.25, 0.2, 0.15, 0.4, 0.0, 0.5];
    let balance = [0.0, 0.2, 0.0, -0.1, 0.0, 0.0, 0.05, 0.0];
    let mut inputs = Inputs::new();
    let names: Vec<String> = (0..N).map(|k| format!("x{k}")).collect();
    for (name, (u, shared)) in names.iter().zip(u.into_iter().zip(balance)) {
        let estimate = Estimate::new(1.0, u).unwrap();
        let estimate = if shared == 0.0 { estimate } else { estimate.shared("balance", shared).unwrap() };
        inputs.push(name, estimate).unwrap();
    }
    let pairs = [(5, 0, 0.6), (5, 3, -0.5), (2, 4, 1.0), (6, 7, 0.3), (0, 3, -0.2), (1, 7, 0.0)];
    let stated: Vec<(&str, &str, f64)> = pairs.iter().map(|&(i, j, r)| (&*names[i], &*names[j], r)).collect();
    inputs.correlate(&stated).unwrap();
    let mut c = [[0.0; N]; N];
    for i in 0..N {
        for j in 0..N {
            c[i][j] = balance[i] * balance[j] + if i == j { u[i] * u[i] } else { 0.0 };
        }
    }
    for (i, j, r) in pairs {
        c[i][j] += r * u[i] * u[j];
        c[j][i] += r * u[i] * u[j];
    }
    let found = propagate(&Dense, &inputs).unwrap();
    let matrix = found.covariance_matrix();
    let largest = matrix.iter().fold(0.0f64, |largest, entry| largest.max(entry.abs()));
    for (o, a) in DERIVATIVES.iter().enumerate() {
        for (p, b) in DERIVATIVES.iter().enumerate() {
            let expected: f64 =
                (0..N).flat_map(|i| (0..N).map(move |j| (i, j))).map(|(i, j)| a[i] * c[i][j] * b[j]).sum();
            assert!((found.covariance(o, p) - expected).abs() < ROUNDING * largest, "{o} {p}");
            assert_eq!(found.covariance(o, p), matrix[3 * o + p]);
        }
        let budget = found.budget(o);
        let squares: f64 = budget.rows().iter().map(|row| row.contribution * row.contribution).sum();
        assert!((budget.u().powi(2) - squares - budget.from_correlations()).abs() < ROUNDING * largest, "{o}");
        // the rows are those of the inputs themselves, not of what they were turned into
        let x0 = budget.rows().iter().find(|row| row.name == "x0").map_or(0.0, |row| row.contribution);
        assert!((x0 - a[0] * u[0]).abs() < ROUNDING);
    }
}

#[test]
fn constructors_refuse_nonsense() {
    let (nan, infinite) = (f64::NAN, f64::INFINITY);
    let cases: Vec<(beadchem::Result<Estimate>, Code)> = vec![
        (Estimate::new(nan, 0.1), Code::NumberNotFinite),
        (Estimate::new(infinite, 0.1), Code::NumberNotFinite),
        (Estimate::new(1.0, nan), Code::NumberNotFinite),
        (Estimate::new(1.0, infinite), Code::NumberNotFinite),
        (Estimate::new(1.0, -1e-3), Code::UncertaintyNegative),
        (Estimate::unstated(nan), Code::NumberNotFinite),
        (Estimate::exact(-infinite), Code::NumberNotFinite),
        (Estimate::rectangular(1.0, -0.1), Code::UncertaintyNegative),
        (Estimate::triangular(1.0, nan), Code::NumberNotFinite),
        (Estimate::arcsine(nan, 0.1), Code::NumberNotFinite),
        (Estimate::new(1.0, 0.1).unwrap().with_dof(0.0), Code::DegreesOfFreedom),
        (Estimate::new(1.0, 0.1).unwrap().with_dof(nan), Code::DegreesOfFreedom),
        (Estimate::new(1.0, 0.1).unwrap().distributed(Distribution::StudentT), Code::DegreesOfFreedom),
        (Estimate::new(1.0, 0.1).unwrap().shared("balance", nan), Code::NumberNotFinite),
        (Estimate::unstated(1.0).unwrap().with_dof(4.0), Code::DegreesOfFreedom),
        (Estimate::exact(1.0).unwrap().distributed(Distribution::Rectangular), Code::DistributionUnfit),
    ];
    for (result, code) in cases {
        let refused = result.unwrap_err();
        assert_eq!(refused.code(), code, "{refused}");
        assert!(!refused.hint().is_empty());
    }
    assert_eq!(Estimate::new(1.0, 0.0).unwrap().u(), Some(0.0));
    let mut inputs = Inputs::new();
    assert_eq!(inputs.push("x", f64::NAN).unwrap_err().code(), Code::NumberNotFinite);
}

#[test]
fn impossible_correlations_are_refused_in_words() {
    let mut inputs = Inputs::new();
    for name in ["L", "l_f", "m_b"] {
        inputs.push(name, Estimate::new(1.0, 0.1).unwrap()).unwrap();
    }
    let refused = inputs.correlate(&[("L", "l_f", 0.9), ("l_f", "m_b", 0.9), ("L", "m_b", -0.9)]).unwrap_err();
    assert_eq!(refused.code(), Code::CorrelationImpossible);
    // eigenvalues of this matrix are 1.9, 1.9 and -0.8
    assert!(refused.to_string().starts_with("Correlations given for L, l_f, m_b contradict each other"), "{refused}");
    assert!(refused.to_string().contains("(eigenvalue -0.800)"), "{refused}");
    assert!(inputs.correlations().is_empty());
    assert_eq!(inputs.correlate(&[("L", "x", 0.1)]).unwrap_err().code(), Code::InputUnknown);
    assert_eq!(inputs.correlate(&[("L", "l_f", 1.1)]).unwrap_err().code(), Code::NumberOutOfRange);
    // fully correlated is the edge and is fine: the difference of the two is certain
    inputs.correlate(&[("L", "l_f", 1.0)]).unwrap();
    #[derive(Clone)]
    struct Difference;
    impl Model for Difference {
        fn outputs(&self) -> usize {
            1
        }
        fn evaluate<S: Scalar>(&self, x: &[S], y: &mut [S], _: &mut [S]) {
            y[0] = x[0] - x[1];
        }
    }
    // on the edge, variances cancel to rounding and u to its square root
    const EDGE: f64 = 1e-8;
    let cancelled = propagate(&Difference, &inputs).unwrap().u(0);
    assert!(cancelled < EDGE, "{cancelled}");
    assert!(second_order(&Difference, &inputs, 0).is_err());
    let drawn = monte_carlo(&Difference, &inputs, &MonteCarloOptions { draws: 2000, ..Default::default() }).unwrap();
    assert!(drawn.u(0) < EDGE, "{}", drawn.u(0));
    let mut boxes = Inputs::new();
    boxes.push("a", Estimate::rectangular(0.0, 1.0).unwrap()).unwrap();
    boxes.push("b", Estimate::rectangular(0.0, 1.0).unwrap()).unwrap();
    boxes.correlate(&[("a", "b", 0.5)]).unwrap();
    assert!(monte_carlo(&Difference, &boxes, &MonteCarloOptions::default()).is_err());
}

#[test]
fn unstated_uncertainties_are_named_and_the_rest_counts() {
    let mut inputs = inputs();
    let result = propagate(&Linear, &inputs).unwrap();
    assert!(result.unstated(0).is_empty());
    inputs = Inputs::new();
    for (name, value) in [("a", 1.0), ("b", 2.0), ("c", 3.0)] {
        inputs.push(name, value).unwrap();
    }
    inputs.push("d", Estimate::new(4.0, 0.5).unwrap()).unwrap();
    let result = propagate(&Linear, &inputs).unwrap();
    assert_eq!(result.unstated(0), ["a", "b", "c"]);
    assert_eq!(result.unstated(1), ["b", "c"]); // output 1 does not depend on a
    assert_eq!((result.u(0), result.u(1)), (1.5, 0.5));
}

/// Panics when an input is above its mean.
#[derive(Clone)]
struct Brittle;
impl Model for Brittle {
    fn outputs(&self) -> usize {
        1
    }
    fn inputs(&self) -> Option<usize> {
        Some(1)
    }
    fn evaluate<S: Scalar>(&self, x: &[S], y: &mut [S], _: &mut [S]) {
        let below = x[0].lt(S::constant(4.0));
        assert!(beadchem::scalar::Mask::lane(below, 0), "a draw four sigmas up");
        y[0] = x[0];
    }
}

#[test]
fn a_model_that_panics_in_another_thread_is_not_reported_as_good() {
    let inputs = one(Estimate::new(0.0, 2.0).unwrap());
    let options = MonteCarloOptions { draws: 100_000, threads: 2, ..Default::default() };
    let outcome = std::panic::catch_unwind(|| monte_carlo(&Brittle, &inputs, &options).map(|drawn| drawn.draws()));
    assert!(outcome.is_err());
}

#[test]
fn what_does_not_fit_the_model_is_refused_and_never_panics() {
    let two = {
        let mut two = one(Estimate::new(0.0, 1.0).unwrap());
        two.push("y", 1.0).unwrap();
        two
    };
    let options = MonteCarloOptions { draws: 100, ..Default::default() };
    assert_eq!(propagate(&Brittle, &two).unwrap_err().code(), Code::ShapeMismatch);
    assert_eq!(monte_carlo(&Brittle, &two, &options).unwrap_err().code(), Code::ShapeMismatch);
    let result = propagate(&Same, &one(Estimate::exact(1.0).unwrap())).unwrap();
    assert!(result.value(9).is_nan() && result.u(9).is_nan() && result.budget(9).rows().is_empty());
    let drawn = monte_carlo(&Same, &one(Estimate::exact(1.0).unwrap()), &options).unwrap();
    assert!(beadchem::uncertainty::validate(&result, &drawn, 0, 0.95, 2).is_err());
    let normal = propagate(&Same, &one(Estimate::new(1.0, 0.1).unwrap())).unwrap();
    assert_eq!(normal.expanded(0, 1.0 - f64::EPSILON / 2.0).unwrap_err().code(), Code::CoverageProbability);
    assert_eq!(drawn.covariance(0, 1).unwrap_err().code(), Code::ShapeMismatch);
    let huge = MonteCarloOptions { draws: usize::MAX, ..Default::default() };
    assert!(monte_carlo(&Same, &two, &huge).is_err());
    let unstated = MonteCarloOptions { only: Some("y".to_owned()), ..options };
    assert!(monte_carlo(&Same, &two, &unstated).unwrap_err().hint().contains("no stated uncertainty"));
}

#[test]
fn a_cause_named_twice_is_one_cause() {
    let estimate = Estimate::new(0.0, 0.0).unwrap().shared("balance", 0.3).unwrap().shared("balance", 0.4).unwrap();
    // 0.3 + 0.4 in binary
    const ROUNDING: f64 = 1e-15;
    assert!((estimate.u().unwrap() - 0.7).abs() < ROUNDING);
    assert!((propagate(&Same, &one(estimate)).unwrap().u(0) - 0.7).abs() < ROUNDING);
}

#[derive(Clone)]
struct Square;
impl Model for Square {
    fn outputs(&self) -> usize {
        1
    }
    fn evaluate<S: Scalar>(&self, x: &[S], y: &mut [S], _: &mut [S]) {
        y[0] = x[0] * x[0];
    }
}

#[test]
fn second_order_is_refused_where_its_terms_do_not_hold() {
    let square = |estimate: Estimate| second_order(&Square, &one(estimate), 0);
    assert!(square(Estimate::new(0.0, 1.0).unwrap()).is_ok());
    assert_eq!(square(Estimate::rectangular(0.0, 1.0).unwrap()).unwrap_err().code(), Code::DistributionUnfit);
}
