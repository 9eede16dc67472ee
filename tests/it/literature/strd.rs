//! NIST Statistical Reference Datasets: linear regression and univariate summary statistics.
//!
//! Data and certified values as printed by NIST; see tests/data/strd/README.

use std::collections::HashMap;

use beadchem::error::Result;
use beadchem::numeric::{Fit, Scatter, dot, least_squares, polynomial, sum};

const CERTIFIED: &str = include_str!("../../data/strd/certified.csv");

/// A name and the text of its file.
type Data = (&'static str, &'static str);

macro_rules! data {
    ($name:literal) => {
        ($name, include_str!(concat!("../../data/strd/", $name, ".csv")))
    };
}

/// Digits to which `value` agrees with a certified one, at most 16; of a certified zero, digits after the point; none
/// of what is not a number.
fn digits(value: f64, certified: f64) -> f64 {
    let scale = if certified == 0.0 { 1.0 } else { certified.abs() };
    let apart = (value - certified).abs() / scale;
    if apart.is_nan() { f64::NEG_INFINITY } else { -apart.max(1e-16).log10() }
}

fn certified(set: &str) -> HashMap<&'static str, f64> {
    let rows = CERTIFIED.lines().filter_map(|line| line.strip_prefix(set)?.strip_prefix(',')?.split_once(','));
    rows.map(|(quantity, value)| (quantity, value.parse().unwrap_or(f64::NAN))).collect()
}

/// The columns of a file, in its order; y stands first.
fn columns(text: &str) -> Vec<Vec<f64>> {
    let width = text.lines().next().map_or(0, |header| header.split(',').count());
    let cell = |line: &str, k: usize| line.split(',').nth(k).and_then(|cell| cell.parse().ok()).unwrap_or(f64::NAN);
    (0..width).map(|k| text.lines().skip(1).map(|line| cell(line, k)).collect()).collect()
}

#[derive(Clone, Copy)]
enum Model {
    Polynomial(usize),
    ThroughOrigin,
    Linear,
}

fn fit((_, text): Data, model: Model) -> Result<Fit> {
    let columns = columns(text);
    let (y, x) = (&columns[0], &columns[1..]);
    match model {
        Model::Polynomial(degree) => polynomial(&x[0], y, degree, Scatter::Equal),
        Model::ThroughOrigin => least_squares(&x[0], 1, y, Scatter::Equal),
        Model::Linear => {
            let row = |i: usize| core::iter::once(1.0).chain(x.iter().map(move |column| column[i]));
            let design: Vec<f64> = (0..y.len()).flat_map(row).collect();
            least_squares(&design, x.len() + 1, y, Scatter::Equal)
        }
    }
}

/// The least agreement among the coefficients, among their standard deviations, and among the figures of the whole
/// fit; the last two count only where the certified residual is not zero.
fn reached(set: &str, fit: &Fit) -> [f64; 3] {
    let certified = certified(set);
    let worst = |pairs: &mut dyn Iterator<Item = (f64, f64)>| {
        pairs.map(|(value, certified)| digits(value, certified)).fold(16.0, f64::min)
    };
    let parameters = 0..fit.coefficients.len();
    let name = |k: usize| if fit.coefficients.len() == 1 { "B1".to_owned() } else { format!("B{k}") };
    let of = |name: &str| certified.get(name).copied().unwrap_or(f64::NAN);
    assert_eq!(fit.dof as f64, of("df_residual"), "{set}");
    let figures = [
        (fit.residual_sd, of("residual_sd")),
        (fit.residual_sum_of_squares, of("ss_residual")),
        (fit.r_squared, of("r_squared")),
    ];
    [
        worst(&mut parameters.clone().map(|k| (fit.coefficients[k], of(&name(k))))),
        worst(&mut parameters.map(|k| (fit.u(k), of(&format!("sd_{}", name(k)))))),
        worst(&mut figures.into_iter()),
    ]
}

/// Digits to reach: of coefficients, of their standard deviations, and of residual sd, sum of squares and r squared.
///
/// The data rounded to 64 bits, fitted in exact arithmetic, agree to 13.2-15.5 digits; the certified values are printed
/// with 15. Asked for is that limit less half a digit.
const REGRESSIONS: [(Data, Model, [f64; 3]); 11] = [
    (data!("Norris"), Model::Polynomial(1), [13.5, 13.4, 13.2]),
    (data!("Pontius"), Model::Polynomial(2), [13.0, 13.3, 13.1]),
    (data!("NoInt1"), Model::ThroughOrigin, [14.2, 14.5, 14.2]),
    (data!("NoInt2"), Model::ThroughOrigin, [14.5, 14.4, 14.5]),
    (data!("Longley"), Model::Linear, [14.1, 14.4, 14.5]),
    (data!("Wampler1"), Model::Polynomial(5), [14.5, 14.5, 14.5]),
    (data!("Wampler2"), Model::Polynomial(5), [12.7, 14.5, 14.5]),
    (data!("Wampler3"), Model::Polynomial(5), [14.5, 14.0, 14.3]),
    (data!("Wampler4"), Model::Polynomial(5), [14.5, 14.0, 14.3]),
    (data!("Wampler5"), Model::Polynomial(5), [14.5, 14.0, 13.2]),
    (data!("Filip"), Model::Polynomial(10), [13.5, 14.3, 14.1]),
];

#[test]
fn linear_regression() -> Result<()> {
    for (data, model, least) in REGRESSIONS {
        let found = reached(data.0, &fit(data, model)?);
        let enough = found.iter().zip(&least).all(|(found, least)| found >= least);
        assert!(enough, "{}: reached {found:.1?} digits of {least:?}", data.0);
    }
    Ok(())
}

/// Rounding the powers of Filip to 64 bits moves the exact solution of the fit in the eighth digit.
const FILIP_ROUNDED_POWERS: f64 = 7.0;

#[test]
fn a_design_of_rounded_powers_keeps_every_column() -> Result<()> {
    let (name, text) = data!("Filip");
    let columns = columns(text);
    let design: Vec<f64> = columns[1].iter().flat_map(|&x| (0..=10).map(move |power| x.powi(power))).collect();
    let [coefficients, _, figures] = reached(name, &least_squares(&design, 11, &columns[0], Scatter::Equal)?);
    assert!(coefficients >= FILIP_ROUNDED_POWERS && figures >= FILIP_ROUNDED_POWERS, "{coefficients} {figures}");
    Ok(())
}

/// Digits to reach of the mean and the standard deviation. The data rounded to 64 bits allow 9.5 of the deviation of
/// NumAcc3 and 8.3 of that of NumAcc4, 13 or more of the others.
const SUMMARIES: [(Data, [f64; 2]); 8] = [
    (data!("Lottery"), [14.5, 14.5]),
    (data!("Lew"), [14.5, 14.5]),
    (data!("Mavro"), [14.5, 13.0]),
    (data!("Michelso"), [14.5, 13.5]),
    (data!("NumAcc1"), [14.5, 14.5]),
    (data!("NumAcc2"), [14.5, 14.5]),
    (data!("NumAcc3"), [14.5, 9.4]),
    (data!("NumAcc4"), [14.5, 8.2]),
];

#[test]
fn summary_statistics_from_compensated_sums() {
    for ((set, text), least) in SUMMARIES {
        let y = &columns(text)[0];
        let count = y.len() as f64;
        let mean = sum(y.iter().copied()) / count;
        let deviations = || y.iter().map(|y| y - mean);
        let squares = dot(deviations().zip(deviations()));
        let sd = ((squares - sum(deviations()).powi(2) / count) / (count - 1.0)).sqrt();
        let certified = certified(set);
        for (k, (quantity, value)) in [("mean", mean), ("sd_n_minus_1", sd)].into_iter().enumerate() {
            let found = digits(value, certified.get(quantity).copied().unwrap_or(f64::NAN));
            assert!(found >= least[k], "{set}: {quantity} to {found:.1} digits of {}", least[k]);
        }
    }
}
