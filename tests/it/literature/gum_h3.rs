//! JCGM 100:2008 (GUM), annex H.3: calibration line of a thermometer.

use beadchem::error::Result;
use beadchem::numeric::{Fit, Scatter, polynomial};

/// Table H.6: readings of the thermometer in degrees Celsius and the corrections found, in degrees.
const READINGS: [(f64, f64); 11] = [
    (21.521, -0.171),
    (22.012, -0.169),
    (22.512, -0.166),
    (23.003, -0.159),
    (23.507, -0.164),
    (23.999, -0.165),
    (24.513, -0.156),
    (25.002, -0.157),
    (25.503, -0.159),
    (26.010, -0.161),
    (26.511, -0.160),
];
/// H.3.1: the reference temperature of the line.
const T0: f64 = 20.0;
/// The figures below are computed from the printed readings in exact rational arithmetic and given to 1e-14 or better;
/// the readings less 20 are rounded to 64 bits, which costs up to 1e-15 in each.
const EXACT: f64 = 1e-12;

fn line() -> Result<Fit> {
    let t = READINGS.map(|(t, _)| t - T0);
    polynomial(&t, &READINGS.map(|(_, b)| b), 1, Scatter::Equal)
}

fn correlation(fit: &Fit) -> f64 {
    fit.covariance[1] / (fit.u(0) * fit.u(1))
}

#[test]
fn agrees_with_the_printed_figures() -> Result<()> {
    let fit = line()?;
    let (b30, u30) = fit.predict(&[1.0, 30.0 - T0])?;
    // H.3.3 and H.3.4: printed value, and half a unit of its last digit.
    for (quantity, value, printed, half) in [
        ("y1", fit.coefficients[0], -0.1712, 5e-5),
        ("u(y1)", fit.u(0), 0.0029, 5e-5),
        ("y2", fit.coefficients[1], 0.002_18, 5e-6),
        ("u(y2)", fit.u(1), 0.000_67, 5e-6),
        ("r(y1, y2)", correlation(&fit), -0.930, 5e-4),
        ("s", fit.residual_sd, 0.0035, 5e-5),
        ("b(30 C)", b30, -0.1494, 5e-5),
        ("u(b(30 C))", u30, 0.0041, 5e-5),
    ] {
        assert!((value - printed).abs() <= half, "{quantity}: {value}, printed {printed}");
    }
    assert_eq!(fit.dof, 9);
    Ok(())
}

#[test]
fn agrees_with_exact_arithmetic() -> Result<()> {
    let fit = line()?;
    let (b30, u30) = fit.predict(&[1.0, 30.0 - T0])?;
    for (quantity, value, exact) in [
        ("y1", fit.coefficients[0], -0.171_203_790_131_35),
        ("u(y1)", fit.u(0), 0.002_877_597_835_159_95),
        ("y2", fit.coefficients[1], 0.002_182_697_739_887_28),
        ("u(y2)", fit.u(1), 0.000_667_938_773_227_832),
        ("r(y1, y2)", correlation(&fit), -0.930_429_603_093_446),
        ("s", fit.residual_sd, 0.003_497_563_963_505_28),
        ("sum of squares", fit.residual_sum_of_squares, 0.000_110_096_583_109_297),
        ("b(30 C)", b30, -0.149_376_812_732_477),
        ("u(b(30 C))", u30, 0.004_138_595_752_854_95),
    ] {
        assert!((value - exact).abs() <= EXACT * exact.abs(), "{quantity}: {value}, exact {exact}");
    }
    Ok(())
}
