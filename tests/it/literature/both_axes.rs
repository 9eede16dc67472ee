//! Pearson's data with York's weights: the classic test of a line with uncertainty on both axes.
//!
//! Data: K. Pearson, Phil. Mag. 2 (1901) 559; weights: D. York, Can. J. Phys. 44 (1966) 1079.

use beadchem::error::Result;
use beadchem::numeric::{Line, Point, Residual, both_axes, implicit_derivative};
use beadchem::scalar::Scalar;

/// Abscissa, its weight, ordinate, its weight.
const PEARSON_YORK: [[f64; 4]; 10] = [
    [0.0, 1000.0, 5.9, 1.0],
    [0.9, 1000.0, 5.4, 1.8],
    [1.8, 500.0, 4.4, 4.0],
    [2.6, 800.0, 4.6, 8.0],
    [3.3, 200.0, 3.5, 20.0],
    [4.4, 80.0, 3.7, 20.0],
    [5.2, 60.0, 2.8, 70.0],
    [6.1, 20.0, 2.8, 70.0],
    [6.5, 1.8, 2.4, 100.0],
    [7.4, 1.0, 1.5, 500.0],
];
/// The minimum searched with 40 digits and its derivatives by differences of 1e-9 (truncation 1e-16), 14 digits given.
const FORTY_DIGITS: f64 = 1e-11;
/// Two ways to the same covariance, differing by rounding only.
const SAME: f64 = 1e-11;

fn points(correlation: impl Fn(usize) -> f64) -> Vec<Point> {
    let point = |(i, [x, w_x, y, w_y]): (usize, [f64; 4])| Point {
        correlation: correlation(i),
        ..Point::new(x, y, 1.0 / w_x.sqrt(), 1.0 / w_y.sqrt())
    };
    PEARSON_YORK.into_iter().enumerate().map(point).collect()
}

fn assert_line(line: &Line, expected: [f64; 6]) {
    let found = [line.intercept, line.slope, line.u_intercept(), line.u_slope(), line.covariance[1], line.chi_squared];
    for (k, (found, expected)) in found.into_iter().zip(expected).enumerate() {
        assert!((found - expected).abs() <= FORTY_DIGITS * expected.abs(), "figure {k}: {found}, expected {expected}");
    }
}

#[test]
fn agrees_with_lybanon() -> Result<()> {
    let line = both_axes(&points(|_| 0.0))?;
    // M. Lybanon, Am. J. Phys. 52 (1984) 22; half a unit of the last printed digit.
    for (value, printed, half) in [
        (line.intercept, 5.479_91, 5e-6),
        (line.u_intercept(), 0.291_93, 5e-6),
        (line.slope, -0.480_533, 5e-7),
        (line.u_slope(), 0.057_617, 5e-7),
    ] {
        assert!((value - printed).abs() <= half, "{value}, printed {printed}");
    }
    // The same with 40 digits. GTC 1.5.1 (`line_fit_wtls`) gives 5.4799102(2919335), -0.4805334(576167), covariance
    // -0.0161862 and chi-squared 11.8663532; scipy.odr 1.17.1 the same line, with the covariance of York 2004.
    let expected = [
        5.479_910_224_032_9,
        -0.480_533_407_446_2,
        0.291_933_502_089_41,
        0.057_616_741_706_573,
        -0.016_186_196_519_285,
    ];
    let [a, b, u_a, u_b, covariance] = expected;
    assert_line(&line, [a, b, u_a, u_b, covariance, 11.866_353_194_061]);
    assert_eq!(line.dof, 8);
    Ok(())
}

#[test]
fn follows_correlated_coordinates() -> Result<()> {
    // Minimum searched with 40 digits. scipy.odr 1.17.1 with the covariance matrix of each point stops at 5.5030 and
    // -0.47247; GTC 1.5.1 doubles the covariance term and so gives this line for correlations of 0.2.
    let line = both_axes(&points(|i| if i % 2 == 0 { 0.4 } else { -0.4 }))?;
    assert_line(
        &line,
        [
            5.502_984_844_843_5,
            -0.472_455_736_983_08,
            0.286_115_907_156_15,
            0.053_684_309_674_417,
            -0.014_809_957_058_386,
            12.547_069_585_918,
        ],
    );
    Ok(())
}

/// The two equations of the line over all coordinates: half the derivatives of chi-squared, written out in full.
struct Equations(Vec<Point>);

impl Residual for Equations {
    fn residual<S: Scalar>(&self, line: &[S], coordinates: &[S], out: &mut [S]) {
        let [mut by_intercept, mut by_slope] = [S::constant(0.0); 2];
        for (point, xy) in self.0.iter().zip(coordinates.chunks_exact(2)) {
            let (v_x, v_y) = (point.u_x * point.u_x, point.u_y * point.u_y);
            let v_xy = point.correlation * point.u_x * point.u_y;
            let residual = xy[1] - line[0] - line[1] * xy[0];
            let variance = line[1] * line[1] * v_x - line[1] * (2.0 * v_xy) + v_y;
            by_intercept = by_intercept + residual / variance;
            let slope_of_variance = line[1] * (2.0 * v_x) - 2.0 * v_xy;
            by_slope = by_slope + residual * xy[0] / variance;
            by_slope = by_slope + residual * residual * slope_of_variance / (variance * variance) * 0.5;
        }
        [out[0], out[1]] = [by_intercept, by_slope];
    }
}

#[test]
fn covariance_is_the_propagation_through_the_solution() -> Result<()> {
    let points = points(|i| 0.09 * i as f64 - 0.4);
    let line = both_axes(&points)?;
    let coordinates: Vec<f64> = points.iter().flat_map(|point| [point.x, point.y]).collect();
    let derivative = implicit_derivative(&Equations(points.clone()), &[line.intercept, line.slope], &coordinates)?;
    let entry = |i: usize, j: usize| -> f64 {
        let of = |k: usize, axis: usize| derivative[20 * k + axis];
        let terms = points.iter().enumerate().map(|(p, point)| {
            let (x, y) = (2 * p, 2 * p + 1);
            let v_xy = point.correlation * point.u_x * point.u_y;
            of(i, x) * of(j, x) * point.u_x.powi(2)
                + of(i, y) * of(j, y) * point.u_y.powi(2)
                + (of(i, x) * of(j, y) + of(i, y) * of(j, x)) * v_xy
        });
        terms.sum()
    };
    for k in 0..4 {
        let propagated = entry(k / 2, k % 2);
        let found = line.covariance[k];
        assert!((found - propagated).abs() <= SAME * found.abs(), "entry {k}: {found}, propagated {propagated}");
    }
    Ok(())
}

#[test]
fn a_shear_of_the_axes_shifts_the_slope_alone() -> Result<()> {
    // y + k x has the slope b + k and the same covariance of the coefficients; its coordinates are correlated.
    const K: f64 = 0.7;
    let straight = points(|_| 0.0);
    let sheared: Vec<Point> = straight
        .iter()
        .map(|p| {
            let u_y = (p.u_y * p.u_y + K * K * p.u_x * p.u_x).sqrt();
            Point { x: p.x, y: p.y + K * p.x, u_x: p.u_x, u_y, correlation: K * p.u_x / u_y }
        })
        .collect();
    let (plain, sheared) = (both_axes(&straight)?, both_axes(&sheared)?);
    assert!((sheared.slope - K - plain.slope).abs() <= SAME);
    assert!((sheared.intercept - plain.intercept).abs() <= SAME * plain.intercept);
    for (a, b) in sheared.covariance.iter().zip(&plain.covariance) {
        assert!((a - b).abs() <= SAME * b.abs(), "{a} and {b}");
    }
    Ok(())
}
