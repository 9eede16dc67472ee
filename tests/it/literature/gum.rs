//! Worked examples of the guides to uncertainty.
//!
//! Sources: JCGM 100:2008, annex H.1 (end gauge; inputs as carried in two public packages); JCGM 101:2008, clause 9.
//! Figures of clause 9.2 follow by algebra; those of 9.3 as published are from memory and are held against an independent
//! run of 1e6 draws made in numpy.

use beadchem::scalar::Scalar;
use beadchem::uncertainty::{
    Distribution, Estimate, Inputs, Model, MonteCarloOptions, monte_carlo, propagate, second_order, validate,
};

struct EndGauge;
impl Model for EndGauge {
    fn outputs(&self) -> usize {
        1
    }
    // l = ls + d - ls (d_alpha theta + alpha_s d_theta)
    fn evaluate<S: Scalar>(&self, x: &[S], y: &mut [S], _: &mut [S]) {
        let [standard, read, random, systematic, expansion, d_expansion, mean, swing, d_temperature] =
            *<&[S; 9]>::try_from(x).unwrap();
        let difference = read + random + systematic;
        y[0] = standard + difference - standard * (d_expansion * (mean + swing) + expansion * d_temperature);
    }
}

fn end_gauge() -> Inputs {
    let mut inputs = Inputs::new();
    let dof = |value: f64, u: f64, dof: f64| Estimate::new(value, u).unwrap().with_dof(dof).unwrap();
    let box_of = |value: f64, half: f64| Estimate::rectangular(value, half).unwrap();
    inputs.push("length of the standard", dof(50_000_623.0, 25.0, 18.0)).unwrap();
    inputs.push("difference, repeated", dof(215.0, 5.8, 24.0)).unwrap();
    inputs.push("difference, random of the comparator", dof(0.0, 3.9, 5.0)).unwrap();
    inputs.push("difference, systematic of the comparator", dof(0.0, 6.7, 8.0)).unwrap();
    inputs.push("expansion of the standard", box_of(11.5e-6, 2e-6)).unwrap();
    inputs.push("difference of the expansions", box_of(0.0, 1e-6).with_dof(50.0).unwrap()).unwrap();
    inputs.push("mean temperature deviation", Estimate::new(-0.1, 0.2).unwrap()).unwrap();
    inputs.push("cycle of the temperature", Estimate::arcsine(0.0, 0.5).unwrap()).unwrap();
    inputs.push("difference of the temperatures", box_of(0.0, 0.05).with_dof(2.0).unwrap()).unwrap();
    inputs
}

/// nm, the rounding of the printed result.
const NANOMETRE: f64 = 0.5;

#[test]
fn h1_end_gauge() {
    let inputs = end_gauge();
    let first = propagate(&EndGauge, &inputs).unwrap();
    assert!((first.value(0) - 50_000_838.0).abs() < NANOMETRE);
    const TENTH: f64 = 0.05;
    assert!((first.u(0) - 31.7).abs() < TENTH, "{}", first.u(0));
    let sizes: Vec<f64> = first.budget(0).rows().iter().map(|row| row.contribution.abs()).collect();
    const PRINTED: f64 = 5e-4;
    // the sixth row is the difference of the expansions at the mean temperature: 50 000 623 x 0.1 x 1e-6 / sqrt(3)
    for (found, printed) in sizes.iter().zip([25.0, 16.599, 6.7, 5.8, 3.9, 2.887]) {
        assert!((found - printed).abs() < PRINTED, "{sizes:?}");
    }
    assert_eq!(first.effective_dof(0).floor(), 16.0);
    let (k, expanded) = first.expanded(0, 0.99).unwrap();
    // k and U as printed in H.1.6 are from memory; U there is k times the rounded u of 32 nm
    const HUNDREDTH: f64 = 5e-3;
    assert!((k - 2.92).abs() < HUNDREDTH && (k * first.u(0).round() - 93.0).abs() < NANOMETRE, "{k} {expanded}");
    assert_eq!(expanded, k * first.u(0));
    let second = second_order(&EndGauge, &inputs, 0).unwrap();
    assert!((second - 34.0).abs() < NANOMETRE, "{second}");
}

#[derive(Clone)]
struct Sum;
impl Model for Sum {
    fn outputs(&self) -> usize {
        1
    }
    fn evaluate<S: Scalar>(&self, x: &[S], y: &mut [S], _: &mut [S]) {
        y[0] = x[0] + x[1] + x[2] + x[3];
    }
}

fn four(distribution: Distribution, last: f64) -> Inputs {
    let mut inputs = Inputs::new();
    for (name, u) in [("a", 1.0), ("b", 1.0), ("c", 1.0), ("d", last)] {
        inputs.push(name, Estimate::new(0.0, u).unwrap().distributed(distribution).unwrap()).unwrap();
    }
    inputs
}

const DRAWS: MonteCarloOptions = MonteCarloOptions { draws: 1_000_000, seed: 20, threads: 2, only: None };
/// Four sampling sigmas of an end of a 95 % interval of 1e6 draws with u about 2, near 0.005 each.
const END: f64 = 0.025;

#[test]
fn additive_models_of_jcgm_101() {
    for (name, inputs, end) in [
        ("four normal", four(Distribution::Normal, 1.0), 3.92),
        ("four rectangular", four(Distribution::Rectangular, 1.0), 3.88),
    ] {
        let drawn = monte_carlo(&Sum, &inputs, &DRAWS).unwrap();
        let (low, high) = drawn.interval(0, 0.95).unwrap();
        assert!((low + end).abs() < END && (high - end).abs() < END, "{name}: {low} {high}");
        assert!((drawn.u(0) - 2.0).abs() < END / 2.0);
    }
    // one input dominates: the interval of the draws is much narrower than first order says
    let inputs = four(Distribution::Rectangular, 10.0);
    let (first, drawn) = (propagate(&Sum, &inputs).unwrap(), monte_carlo(&Sum, &inputs, &DRAWS).unwrap());
    const ROUNDING: f64 = 1e-11;
    assert!((first.u(0) - 103f64.sqrt()).abs() < ROUNDING);
    let (low, high) = drawn.interval(0, 0.95).unwrap();
    assert!((low + 17.0).abs() < 2.0 * END && (high - 17.0).abs() < 2.0 * END, "{low} {high}");
    let (_, expanded) = first.expanded(0, 0.95).unwrap();
    const TENTH: f64 = 0.05;
    assert!((expanded - 19.9).abs() < TENTH);
    assert!(!validate(&first, &drawn, 0, 0.95, 2).unwrap().agrees);
    let normal = four(Distribution::Normal, 1.0);
    let (first, drawn) = (propagate(&Sum, &normal).unwrap(), monte_carlo(&Sum, &normal, &DRAWS).unwrap());
    assert!(validate(&first, &drawn, 0, 0.95, 2).unwrap().agrees);
}

#[derive(Clone)]
struct Weighing;
impl Model for Weighing {
    fn outputs(&self) -> usize {
        1
    }
    // mg above 100 g: (m + dm) (1 + (rho_a - 1.2) (1 / rho_W - 1 / rho_R)) - 100 000
    fn evaluate<S: Scalar>(&self, x: &[S], y: &mut [S], _: &mut [S]) {
        let one = S::constant(1.0);
        y[0] = (x[0] + x[1]) * (one + (x[2] - 1.2) * (one / x[3] - one / x[4])) - 100_000.0;
    }
}

#[test]
fn mass_calibration_of_jcgm_101() {
    let mut inputs = Inputs::new();
    inputs.push("conventional mass of the reference", Estimate::new(100_000.0, 0.050).unwrap()).unwrap();
    inputs.push("added masses", Estimate::new(1.234, 0.020).unwrap()).unwrap();
    inputs.push("density of air", Estimate::rectangular(1.20, 0.10).unwrap()).unwrap();
    inputs.push("density of the weight", Estimate::rectangular(8000.0, 1000.0).unwrap()).unwrap();
    inputs.push("density of the reference", Estimate::rectangular(8000.0, 50.0).unwrap()).unwrap();
    let first = propagate(&Weighing, &inputs).unwrap();
    const PRINTED: f64 = 5e-5;
    assert!((first.u(0) - 0.0539).abs() < PRINTED);
    let second = second_order(&Weighing, &inputs, 0).unwrap();
    assert!((second - 0.0750).abs() < 1.5 * PRINTED, "{second}");
    let drawn = monte_carlo(&Weighing, &inputs, &DRAWS).unwrap();
    // 4 sampling sigmas: 4 x 0.0755 / sqrt(1e6) for the mean, / sqrt(2e6) for u; the shortest interval is flat
    const MEAN: f64 = 4e-4;
    const SPREAD: f64 = 3e-4;
    const FLAT: f64 = 4e-3;
    assert!((drawn.mean(0) - 1.2340).abs() < MEAN && (drawn.u(0) - 0.0755).abs() < SPREAD, "{}", drawn.u(0));
    let (low, high) = drawn.shortest_interval(0, 0.95).unwrap();
    assert!((low - 1.0834).abs() < FLAT && (high - 1.3825).abs() < FLAT, "{low} {high}");
}
