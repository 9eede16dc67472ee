//! Fits whose columns are uncertain too: closed forms, equations written out in full, Monte Carlo.

use beadchem::code::Code;
use beadchem::error::Result;
use beadchem::numeric::{
    Residual, Scatter, UncertainFit, errors_in_variables, implicit_derivative, least_squares, semidefinite_factor,
};
use beadchem::scalar::Scalar;
use proptest::prelude::*;
use statrs::distribution::{ContinuousCDF, Normal};

use super::{assert_refused, config};

/// Two exact routes to one number, in designs whose condition number stays below 1e4.
const SAME: f64 = 1e-9;
/// A minimum searched by comparing values of chi-squared: the root of the rounding of that.
const SEARCHED: f64 = 1e-7;

fn close(a: f64, b: f64, scale: f64) -> bool {
    (a - b).abs() <= SAME * scale.max(a.abs()).max(b.abs())
}

fn all_close(a: &[f64], b: &[f64], scale: f64) -> bool {
    a.len() == b.len() && a.iter().zip(b).all(|(&a, &b)| close(a, b, scale))
}

/// Points of a fit of so many columns.
#[derive(Debug, Clone)]
struct Points {
    columns: usize,
    y: Vec<f64>,
    design: Vec<f64>,
    covariances: Vec<f64>,
}

impl Points {
    fn fit(&self) -> Result<UncertainFit> {
        errors_in_variables(&self.y, &self.design, self.columns, &self.covariances)
    }

    fn tested(&self) -> std::result::Result<UncertainFit, TestCaseError> {
        self.fit().map_err(|error| TestCaseError::fail(error.to_string()))
    }

    /// Chi-squared at any coefficients.
    fn chi_squared(&self, coefficients: &[f64]) -> f64 {
        let (n, width) = (self.columns, self.columns + 1);
        let weights: Vec<f64> = core::iter::once(1.0).chain(coefficients.iter().map(|b| -b)).collect();
        let points = self.y.iter().zip(self.design.chunks(n)).zip(self.covariances.chunks(width * width));
        points
            .map(|((y, row), matrix)| {
                let residual = y - row.iter().zip(coefficients).map(|(x, b)| x * b).sum::<f64>();
                let variance: f64 =
                    (0..width * width).map(|k| weights[k / width] * matrix[k] * weights[k % width]).sum();
                residual * residual / variance
            })
            .sum()
    }

    fn data(&self) -> Vec<f64> {
        self.y.iter().zip(self.design.chunks(self.columns)).flat_map(|(y, row)| [&[*y], row].concat()).collect()
    }
}

/// Half the derivatives of chi-squared by the coefficients, over all data, written out in full.
struct Equations<'a>(&'a Points);

impl Residual for Equations<'_> {
    fn residual<S: Scalar>(&self, coefficients: &[S], data: &[S], out: &mut [S]) {
        let width = self.0.columns + 1;
        out.fill(S::constant(0.0));
        for (datum, matrix) in data.chunks(width).zip(self.0.covariances.chunks(width * width)) {
            let weight = |k: usize| if k == 0 { S::constant(1.0) } else { -coefficients[k - 1] };
            let mut residual = S::constant(0.0);
            let mut variance = S::constant(0.0);
            for i in 0..width {
                residual = residual + weight(i) * datum[i];
                for j in 0..width {
                    variance = variance + weight(i) * weight(j) * matrix[i * width + j];
                }
            }
            for (p, out) in out.iter_mut().enumerate() {
                let of_column =
                    (0..width).fold(S::constant(0.0), |sum, j| sum + weight(j) * matrix[(p + 1) * width + j]);
                *out = *out + residual * datum[p + 1] / variance;
                *out = *out - residual * residual * of_column / (variance * variance);
            }
        }
    }
}

/// Ten points of two contents over an intercept, each with a full covariance matrix of up to a tenth of the spread.
fn points() -> impl Strategy<Value = Points> {
    let factor = prop::collection::vec(-0.1_f64..0.1, 10 * 9);
    let noise = prop::collection::vec(-0.3_f64..0.3, 30);
    let coefficients = prop::collection::vec(-3.0_f64..3.0, 3);
    (factor, noise, coefficients).prop_map(|(factor, noise, coefficients)| {
        let row = |i: usize| [1.0, (i % 4) as f64 + noise[i], (i / 4) as f64 + noise[10 + i]];
        let reading = |i: usize| row(i).iter().zip(&coefficients).map(|(x, b)| x * b).sum::<f64>() + noise[20 + i];
        // of reading and both contents; the column of ones is exact
        let places = [0, 2, 3];
        let mut covariances = Vec::new();
        for f in factor.chunks(9) {
            let mut matrix = [0.0; 16];
            for (i, j) in (0..9).map(|k| (k / 3, k % 3)) {
                let product: f64 = (0..3).map(|k| f[3 * i + k] * f[3 * j + k]).sum();
                matrix[4 * places[i] + places[j]] = product + if i == j { 0.01 } else { 0.0 };
            }
            covariances.extend(matrix);
        }
        Points { columns: 3, y: (0..10).map(reading).collect(), design: (0..10).flat_map(row).collect(), covariances }
    })
}

proptest! {
    #![proptest_config(config())]

    #[test]
    fn chi_squared_is_least_and_its_slopes_are_zero(
        points in points(), by in prop::collection::vec(-1.0_f64..1.0, 3),
    ) {
        let fit = points.tested()?;
        let least = points.chi_squared(&fit.coefficients);
        prop_assert!(fit.chi_squared.is_some_and(|found| close(found, least, 1.0)));
        for step in [1e-3, 1e-2, 0.1, 1.0, 10.0] {
            let moved: Vec<f64> = (0..3).map(|k| fit.coefficients[k] + step * by[k]).collect();
            prop_assert!(points.chi_squared(&moved) >= least * (1.0 - SAME), "{step}");
        }
        let mut slopes = [0.0; 3];
        Equations(&points).residual(&fit.coefficients, &points.data(), &mut slopes);
        for (slope, p) in slopes.into_iter().zip(0..) {
            // in units of the uncertainty of the coefficient
            prop_assert!((slope * fit.u(p)).abs() <= SAME, "{slope}");
        }
    }

    #[test]
    fn derivatives_are_those_of_the_equations(points in points()) {
        let fit = points.tested()?;
        let data = points.data();
        let expected = implicit_derivative(&Equations(&points), &fit.coefficients, &data)
            .map_err(|error| TestCaseError::fail(error.to_string()))?;
        let largest = expected.iter().fold(0.0_f64, |largest, entry| largest.max(entry.abs()));
        prop_assert!(all_close(&fit.derivatives, &expected, largest));
        prop_assert_eq!(fit.derivative(2, 9, 3), fit.derivatives[2 * 40 + 39]);
        prop_assert!(fit.derivative(0, 10, 0).is_nan() && fit.derivative(0, 0, 4).is_nan());
        // points are independent: the covariance is the sum over the points of J V J'
        for (i, j) in (0..9).map(|k| (k / 3, k % 3)) {
            let propagated: f64 = (0..10 * 16)
                .map(|k| {
                    let (point, a, b) = (k / 16, k % 16 / 4, k % 4);
                    expected[40 * i + 4 * point + a] * points.covariances[k] * expected[40 * j + 4 * point + b]
                })
                .sum();
            prop_assert!(close(fit.covariance[3 * i + j], propagated, fit.u(i) * fit.u(j)));
        }
    }

    #[test]
    fn units_and_order_do_not_matter(
        points in points(), powers in prop::collection::vec(-9.0_f64..9.0, 3), turn in 0_usize..10,
    ) {
        let plain = points.tested()?;
        // units of the reading and of both contents; points turned round, both contents exchanged
        let unit: Vec<f64> = powers.iter().map(|power| 10.0_f64.powf(*power)).collect();
        let (unit, places) = ([unit[0], 1.0, unit[1], unit[2]], [0, 1, 3, 2]);
        let from = |i: usize| (i + turn) % 10;
        let datum = |i: usize, k: usize| points.data()[4 * from(i) + places[k]] * unit[k];
        let other = Points {
            columns: 3,
            y: (0..10).map(|i| datum(i, 0)).collect(),
            design: (0..30).map(|k| datum(k / 3, k % 3 + 1)).collect(),
            covariances: (0..160)
                .map(|k| {
                    let (i, a, b) = (k / 16, k % 16 / 4, k % 4);
                    points.covariances[16 * from(i) + 4 * places[a] + places[b]] * unit[a] * unit[b]
                })
                .collect(),
        };
        let other = other.tested()?;
        let back = |p: usize| unit[0] / unit[p + 1];
        for (p, old) in [0, 2, 1].into_iter().enumerate() {
            prop_assert!(close(other.coefficients[p] / back(p), plain.coefficients[old], plain.u(old)));
            prop_assert!(close(other.u(p) / back(p), plain.u(old), 0.0));
        }
        let whole = |fit: &UncertainFit| fit.chi_squared.unwrap_or(f64::NAN);
        prop_assert!(close(whole(&other), whole(&plain), 1.0));
        for i in 0..10 {
            prop_assert!(close(other.residuals[i] / unit[0], plain.residuals[from(i)], 1.0));
            prop_assert!(close(other.residual_variances[i] / unit[0].powi(2), plain.residual_variances[from(i)], 1.0));
            prop_assert!(close(other.leverage[i], plain.leverage[from(i)], 1.0));
        }
    }

    #[test]
    fn exact_columns_make_it_a_weighted_fit(mut points in points()) {
        for matrix in points.covariances.chunks_mut(16) {
            matrix[1..].fill(0.0);
        }
        let u: Vec<f64> = points.covariances.chunks(16).map(|matrix| matrix[0].sqrt()).collect();
        let fit = points.tested()?;
        let weighted = least_squares(&points.design, 3, &points.y, Scatter::Stated(&u))
            .map_err(|error| TestCaseError::fail(error.to_string()))?;
        prop_assert!(all_close(&fit.coefficients, &weighted.coefficients, 1.0));
        prop_assert!(all_close(&fit.covariance, &weighted.covariance, fit.u(0).powi(2)));
        prop_assert!(all_close(&fit.residuals, &weighted.residuals, 1.0));
        prop_assert!(all_close(&fit.leverage, &weighted.leverage, 1.0));
        prop_assert!(fit.chi_squared.is_some_and(|found| close(found, weighted.residual_sum_of_squares, 1.0)));
    }

    #[test]
    fn equal_uncertainties_through_the_origin_have_a_closed_form(
        x in prop::collection::vec(1.0_f64..5.0, 6), noise in prop::collection::vec(-0.5_f64..0.5, 6), b in 0.2_f64..5.0,
    ) {
        let y: Vec<f64> = x.iter().zip(&noise).map(|(x, noise)| b * x + noise).collect();
        let points = Points { columns: 1, covariances: [0.04, 0.0, 0.0, 0.04].repeat(6), y, design: x };
        let fit = points.tested()?;
        // the least sum of squared distances from a line through the origin: the main axis of inertia
        let product = |a: &[f64], b: &[f64]| a.iter().zip(b).map(|(a, b)| a * b).sum::<f64>();
        let (xx, xy, yy) = (
            product(&points.design, &points.design), product(&points.design, &points.y), product(&points.y, &points.y),
        );
        let axis = ((yy - xx) + ((yy - xx).powi(2) + 4.0 * xy * xy).sqrt()) / (2.0 * xy);
        prop_assert!(close(fit.coefficients[0], axis, 0.0), "{} {axis}", fit.coefficients[0]);
    }

    #[test]
    fn one_coefficient_is_where_a_search_ends(
        x in prop::collection::vec(0.5_f64..5.0, 5), noise in prop::collection::vec(-0.3_f64..0.3, 5),
        u in prop::collection::vec(0.02_f64..0.3, 10), r in prop::collection::vec(-0.9_f64..0.9, 5),
    ) {
        let y: Vec<f64> = x.iter().zip(&noise).map(|(x, noise)| 2.0 * x + noise).collect();
        let matrix = |i: usize| {
            let between = r[i] * u[i] * u[5 + i];
            [u[i] * u[i], between, between, u[5 + i] * u[5 + i]]
        };
        let points = Points { columns: 1, y, design: x, covariances: (0..5).flat_map(matrix).collect() };
        let fit = points.tested()?;
        // thirds: the part of an interval with the larger end is dropped until nothing is left
        let (mut low, mut high) = (fit.coefficients[0] - 0.3, fit.coefficients[0] + 0.2);
        for _ in 0..100 {
            let [a, b] = [low + (high - low) / 3.0, high - (high - low) / 3.0];
            if points.chi_squared(&[a]) < points.chi_squared(&[b]) { high = b } else { low = a }
        }
        prop_assert!((low - fit.coefficients[0]).abs() <= SEARCHED * fit.coefficients[0], "{low} {}", fit.coefficients[0]);
    }
}

#[test]
fn as_many_points_as_coefficients_pass_through_all() -> Result<()> {
    // a line through two standards, by hand: slope (50 - 10) / (0.5 - 0.1), intercept 0
    let point = |v_y: f64, v_x: f64| [v_y, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, v_x];
    let covariances = [point(0.04, 1e-6), point(0.25, 4e-6)].concat();
    let fit = errors_in_variables(&[10.0, 50.0], &[1.0, 0.1, 1.0, 0.5], 2, &covariances)?;
    assert!(close(fit.coefficients[0], 0.0, 1.0) && close(fit.coefficients[1], 100.0, 1.0));
    assert_eq!((fit.dof, fit.chi_squared), (0, None));
    assert!(all_close(&fit.leverage, &[1.0, 1.0], 1.0));
    // variances of the residuals 0.04 + 100^2 1e-6 and 0.25 + 100^2 4e-6; the slope takes both over 0.4^2
    let variances = [0.05, 0.29];
    assert!(all_close(&fit.residual_variances, &variances, 1.0));
    assert!(close(fit.covariance[3], (variances[0] + variances[1]) / 0.16, 1.0));
    // the intercept is (0.5 y1 - 0.1 y2) / 0.4
    assert!(close(fit.covariance[0], (0.25 * variances[0] + 0.01 * variances[1]) / 0.16, 1.0));
    assert!(close(fit.covariance[1], -(0.5 * variances[0] + 0.1 * variances[1]) / 0.16, 1.0));
    Ok(())
}

/// Numbers between 0 and 1, the same in every run.
struct Stream(u64);

impl Stream {
    /// The generator of G. L. Steele, D. Lea, C. H. Flood, OOPSLA 2014 (SplitMix).
    fn next(&mut self) -> f64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let z = (self.0 ^ (self.0 >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        let z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        ((z ^ (z >> 31)) as f64 + 0.5) / 2.0_f64.powi(64)
    }
}

/// A calibration with two influence coefficients: intensity over content, content and two contents times the intensity.
#[test]
fn covariance_and_chi_squared_are_those_of_repeated_calibrations() -> Result<()> {
    const POINTS: usize = 12;
    const FITS: usize = 4000;
    let truth = [2.0, -0.4, 0.7];
    let row = |i: usize| [0.2 + 0.1 * i as f64, ((i * i) % 7) as f64 / 7.0, ((5 * i + 2) % 11) as f64 / 11.0];
    // half a percent of the largest: effects of second order stay below a hundredth of an uncertainty
    let matrix = [
        [2.5e-5, 0.5e-5, 0.0, -0.4e-5],
        [0.5e-5, 1.6e-5, 0.3e-5, 0.0],
        [0.0, 0.3e-5, 0.9e-5, 0.0],
        [-0.4e-5, 0.0, 0.0, 0.4e-5],
    ];
    let covariances = matrix.concat().repeat(POINTS);
    let factor = semidefinite_factor(&matrix.concat(), 4)?;
    let exact = Points {
        columns: 3,
        y: (0..POINTS).map(|i| row(i).iter().zip(truth).map(|(x, b)| x * b).sum()).collect(),
        design: (0..POINTS).flat_map(row).collect(),
        covariances,
    };
    let expected = exact.fit()?;
    assert!(all_close(&expected.coefficients, &truth, 1.0));
    let (mut stream, normal) = (Stream(4), Normal::standard());
    let (mut squares, mut chi_squared, mut standardised) = ([0.0; 9], 0.0, [0.0; POINTS]);
    for _ in 0..FITS {
        let mut drawn = exact.clone();
        for i in 0..POINTS {
            let z: Vec<f64> = (0..4).map(|_| normal.inverse_cdf(stream.next())).collect();
            let error = |k: usize| (0..4).map(|j| factor[4 * k + j] * z[j]).sum::<f64>();
            drawn.y[i] += error(0);
            (0..3).for_each(|k| drawn.design[3 * i + k] += error(k + 1));
        }
        let fit = drawn.fit()?;
        for (k, square) in squares.iter_mut().enumerate() {
            *square += (fit.coefficients[k / 3] - truth[k / 3]) * (fit.coefficients[k % 3] - truth[k % 3]);
        }
        chi_squared += fit.chi_squared.unwrap_or(f64::NAN);
        for (i, sum) in standardised.iter_mut().enumerate() {
            *sum += fit.residuals[i].powi(2) / (fit.residual_variances[i] * (1.0 - fit.leverage[i]));
        }
    }
    // four sampling sigmas: of a variance sqrt(2 / n), of a covariance at most that of the variances
    let sampling = 4.0 * (2.0 / FITS as f64).sqrt();
    for (k, square) in squares.into_iter().enumerate() {
        let largest = expected.u(k / 3) * expected.u(k % 3);
        let found = square / FITS as f64;
        assert!(
            (found - expected.covariance[k]).abs() <= sampling * largest,
            "{k}: {found} {}",
            expected.covariance[k]
        );
    }
    // chi-squared of 9 degrees of freedom has the variance 18
    let mean = chi_squared / FITS as f64;
    assert!((mean - expected.dof as f64).abs() <= 4.0 * (18.0 / FITS as f64).sqrt(), "{mean}");
    for (i, sum) in standardised.into_iter().enumerate() {
        assert!((sum / FITS as f64 - 1.0).abs() <= sampling, "{i}: {}", sum / FITS as f64);
    }
    Ok(())
}

#[test]
fn far_from_the_origin_no_digits_are_lost() -> Result<()> {
    // content a million away: intercept and slope of the shifted line, with the digits that the data have
    const SHIFT: f64 = 1_048_576.0;
    let (x, y) = ([0.0, 1.0, 2.0, 3.0, 5.0], [1.25, 2.75, 5.5, 7.0, 10.75]);
    let points = |shift: f64| Points {
        columns: 2,
        y: y.to_vec(),
        design: x.iter().flat_map(|x| [1.0, x + shift]).collect(),
        covariances: [0.04, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.01].repeat(5),
    };
    let (near, far) = (points(0.0).fit()?, points(SHIFT).fit()?);
    assert!(close(far.coefficients[1], near.coefficients[1], 0.0) && close(far.u(1), near.u(1), 0.0));
    let at_zero = far.coefficients[0] + SHIFT * far.coefficients[1];
    assert!(close(at_zero, near.coefficients[0], SHIFT * near.coefficients[1]), "{at_zero}");
    Ok(())
}

#[test]
fn wrong_points_are_refused() {
    let (y, x) = ([1.0, 2.1, 2.9], [1.0, 2.0, 3.0]);
    let good = [0.01, 0.0, 0.0, 0.01].repeat(3);
    let with = |k: usize, value: f64| {
        let mut covariances = good.clone();
        covariances[k] = value;
        errors_in_variables(&y, &x, 1, &covariances)
    };
    let both = |value: f64| {
        let mut covariances = good.clone();
        (covariances[1], covariances[2]) = (value, value);
        errors_in_variables(&y, &x, 1, &covariances)
    };
    // each pair could be, the three together cannot
    let contradiction = [1.0, 0.9, -0.9, 0.9, 1.0, 0.9, -0.9, 0.9, 1.0].repeat(3);
    let twice = [1.0, 2.0, 2.0, 4.0, 3.0, 6.0];
    let independent = [0.01, 0.0, 0.0, 0.0, 0.01, 0.0, 0.0, 0.0, 0.01].repeat(3);
    // readings that are exact and zero: no slope but zero, and that has no weight
    let level = [0.0, 0.0, 0.0, 0.01].repeat(3);
    let (nan, none) = (f64::NAN, &[0.0; 4][..]);
    assert_refused([
        ("no column", errors_in_variables(&y, &[], 0, &good), Code::ShapeMismatch),
        ("half a design", errors_in_variables(&y, &x[..2], 1, &good), Code::ShapeMismatch),
        ("a matrix missing", errors_in_variables(&y, &x, 1, &good[..8]), Code::ShapeMismatch),
        ("no point", errors_in_variables(&[], &[], 1, &[]), Code::FitTooFewPoints),
        ("one point, two columns", errors_in_variables(&[1.0], &[1.0, 2.0], 2, &[1.0; 9]), Code::FitTooFewPoints),
        ("reading not a number", errors_in_variables(&[1.0, nan, 2.0], &x, 1, &good), Code::NumberNotFinite),
        ("design not a number", errors_in_variables(&y, &[1.0, nan, 2.0], 1, &good), Code::NumberNotFinite),
        ("covariance not a number", with(5, nan), Code::NumberNotFinite),
        ("negative variance", with(4, -0.01), Code::UncertaintyNegative),
        ("no uncertainty", errors_in_variables(&y, &x, 1, &[none, &good[4..]].concat()), Code::NumberOutOfRange),
        ("one way only", with(1, 0.005), Code::CorrelationImpossible),
        ("beyond full correlation", both(0.0101), Code::CorrelationImpossible),
        ("contradiction", errors_in_variables(&y, &twice, 2, &contradiction), Code::CorrelationImpossible),
        ("one column twice", errors_in_variables(&y, &twice, 2, &independent), Code::MatrixSingular),
        ("no slope has weight", errors_in_variables(&[0.0; 3], &x, 1, &level), Code::FitNotConverged),
    ]);
    assert!(both(0.01).is_ok_and(|fit| fit.dof == 2), "full correlation");
}
