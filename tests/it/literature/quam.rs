//! Worked examples of EURACHEM/CITAC, Quantifying Uncertainty in Analytical Measurement, 3rd edition (2012), annex A.
//!
//! Inputs and results as carried on the guide's pages and in a public package's documentation.

use beadchem::scalar::Scalar;
use beadchem::substance::{Weight, Weights, molar_mass};
use beadchem::uncertainty::{Estimate, Inputs, Model, Propagated, propagate};

/// A product of powers of the inputs.
struct Powers {
    factor: f64,
    powers: &'static [i32],
}

impl Model for Powers {
    fn outputs(&self) -> usize {
        1
    }
    fn evaluate<S: Scalar>(&self, x: &[S], y: &mut [S], _: &mut [S]) {
        let mut product = S::constant(self.factor);
        for (x, &power) in x.iter().zip(self.powers) {
            for _ in 0..power.abs() {
                product = if power > 0 { product * *x } else { product / *x };
            }
        }
        y[0] = product;
    }
}

fn of(factor: f64, powers: &'static [i32], inputs: &[(&str, Estimate)]) -> Propagated {
    let mut list = Inputs::new();
    for (name, estimate) in inputs {
        list.push(*name, estimate.clone()).unwrap();
    }
    propagate(&Powers { factor, powers }, &list).unwrap()
}

fn with_u(value: f64, u: f64) -> Estimate {
    Estimate::new(value, u).unwrap()
}

/// Independent parts of one input, added in quadrature.
fn parts(value: f64, parts: &[f64]) -> Estimate {
    with_u(value, parts.iter().map(|u| u * u).sum::<f64>().sqrt())
}

fn triangular(half: f64) -> f64 {
    half / 6f64.sqrt()
}

fn rectangular(half: f64) -> f64 {
    half / 3f64.sqrt()
}

/// Expansion of water, 1/C, and a laboratory swing of 4 C, as in the guide.
fn swing(volume: f64) -> f64 {
    rectangular(volume * 2.1e-4 * 4.0)
}

#[test]
fn a1_calibration_standard() {
    const TENTH: f64 = 0.05;
    const THREE_DIGITS: f64 = 5e-4;
    let mass = with_u(100.28, 0.05);
    let purity = with_u(0.9999, 0.000_058);
    let rounded = of(1000.0, &[1, 1, -1], &[("m", mass.clone()), ("P", purity.clone()), ("V", with_u(100.0, 0.07))]);
    assert!((rounded.value(0) - 1002.7).abs() < TENTH && (rounded.u(0) - 0.9).abs() < TENTH);
    assert!((rounded.u(0) - 0.864).abs() < THREE_DIGITS, "{}", rounded.u(0));
    // the guide rounds u(V) to 0.07; from its parts (the flask, repeatability, temperature) the result is smaller
    let volume = parts(100.0, &[triangular(0.1), 0.02, swing(100.0)]);
    let unrounded = of(1000.0, &[1, 1, -1], &[("m", mass), ("P", purity), ("V", volume)]);
    assert!((unrounded.u(0) - 0.835).abs() < THREE_DIGITS, "{}", unrounded.u(0));
}

/// Molar mass of potassium hydrogen phthalate from the guide's own atomic weights.
fn phthalate() -> (f64, f64) {
    let guide = [("C", 12.0107, 0.0008), ("H", 1.007_94, 0.000_07), ("O", 15.9994, 0.0003), ("K", 39.0983, 0.0001)];
    let weights = guide.into_iter().fold(Weights::ciaaw_2021(), |weights, (symbol, value, half_width)| {
        weights.with(symbol, Weight::Single { value, half_width }, "QUAM:2012, A2").unwrap()
    });
    let mass = molar_mass("C8H5O4K", &weights).unwrap();
    (mass.value(), mass.u().unwrap())
}

#[test]
fn a2_sodium_hydroxide_by_phthalate() {
    const FOUR_DECIMALS: f64 = 5e-5;
    let (value, u) = phthalate();
    assert!((value - 204.2212).abs() < FOUR_DECIMALS && (u - 0.0038).abs() < FOUR_DECIMALS, "{value} {u}");
    let inputs = [
        ("m", parts(0.3888, &[rectangular(0.000_15), rectangular(0.000_15)])),
        ("P", Estimate::rectangular(1.0, 0.0005).unwrap()),
        ("R", with_u(1.0, 0.0005)),
        ("M", with_u(value, u)),
        ("V", parts(18.64, &[triangular(0.03), 0.006])),
    ];
    let result = of(1000.0, &[1, 1, 1, -1, -1], &inputs);
    const VALUE: f64 = 5e-7;
    assert!((result.value(0) - 0.102_136).abs() < VALUE, "{}", result.value(0));
    assert!((result.u(0) - 0.000_101).abs() < VALUE * 2.0, "{}", result.u(0));
}

#[test]
fn a3_hydrochloric_acid() {
    let (molar, u_molar) = phthalate();
    let titrated = |volume: f64, end_point: f64| parts(volume, &[triangular(0.03), swing(volume), end_point]);
    let inputs = |end_point: f64, shift: f64| {
        [
            ("m", parts(0.3888, &[rectangular(0.000_15), rectangular(0.000_15)])),
            ("P", Estimate::rectangular(1.0, 0.0005).unwrap()),
            ("V_T2", titrated(14.89 - shift, end_point)),
            ("R", with_u(1.0, 0.001)),
            ("V_T1", titrated(18.64 - shift, end_point)),
            ("M", with_u(molar, u_molar)),
            ("V_HCl", parts(15.0, &[triangular(0.02), swing(15.0)])),
        ]
    };
    let powers = &[1, 1, 1, 1, -1, -1, -1];
    let plain = of(1000.0, powers, &inputs(0.0, 0.0));
    const FIVE_DECIMALS: f64 = 5e-6;
    assert!((plain.value(0) - 0.101_39).abs() < FIVE_DECIMALS, "{}", plain.value(0));
    assert!((plain.u(0) - 0.000_18).abs() < FIVE_DECIMALS, "{}", plain.u(0));
    // a bias of both end points, 0.05 ml with u 0.03 ml, taken off
    let corrected = of(1000.0, powers, &inputs(0.03, 0.05));
    assert!((corrected.value(0) - 0.101_32).abs() < FIVE_DECIMALS, "{}", corrected.value(0));
    // printed 0.00031 after intermediate rounding; unrounded 0.00032, one unit in the last printed digit away
    const ONE_UNIT: f64 = 1.5e-5;
    assert!((corrected.u(0) - 0.000_31).abs() < ONE_UNIT, "{}", corrected.u(0));
}

#[test]
fn a4_pesticides_in_bread() {
    let inputs = [
        ("repeatability", with_u(1.0, 0.27)),
        ("recovery", with_u(1.0, 0.043 / 0.9)),
        ("homogeneity", with_u(1.0, 0.2)),
    ];
    // printed 0.34
    const TWO_DECIMALS: f64 = 5e-3;
    let result = of(1.0, &[1, 1, 1], &inputs);
    assert!((result.u(0) - 0.34).abs() < TWO_DECIMALS, "{}", result.u(0));
}
