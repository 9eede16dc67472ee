//! Properties of the fits, and what they refuse.

use beadchem::code::Code;
use beadchem::error::Result;
use beadchem::numeric::{Fit, Line, Point, Scatter, both_axes, least_squares, polynomial};
use proptest::prelude::*;

use super::{assert_refused, config};

/// Two exact routes to one number, in designs whose condition number stays below 1e4.
const SAME: f64 = 1e-10;

fn close(a: f64, b: f64, scale: f64) -> bool {
    (a - b).abs() <= SAME * scale.max(a.abs()).max(b.abs())
}

fn all_close(a: &[f64], b: &[f64], scale: f64) -> bool {
    a.len() == b.len() && a.iter().zip(b).all(|(&a, &b)| close(a, b, scale))
}

/// Twelve readings of two signals over an intercept; the signals are kept apart so that the design is well determined.
#[derive(Debug, Clone)]
struct Readings {
    design: Vec<f64>,
    y: Vec<f64>,
    u: Vec<f64>,
}

fn readings() -> impl Strategy<Value = Readings> {
    let noise = || prop::collection::vec(-0.3_f64..0.3, 12);
    (noise(), noise(), prop::collection::vec(-5.0_f64..5.0, 12), prop::collection::vec(0.05_f64..2.0, 12)).prop_map(
        |(a, b, y, u)| {
            let row = |i: usize| [1.0, (i % 4) as f64 + a[i], (i / 4) as f64 + b[i]];
            Readings { design: (0..12).flat_map(row).collect(), y, u }
        },
    )
}

fn checked(fit: Result<Fit>) -> std::result::Result<Fit, TestCaseError> {
    fit.map_err(|error| TestCaseError::fail(error.to_string()))
}

proptest! {
    #![proptest_config(config())]

    #[test]
    fn residuals_are_orthogonal_to_the_design(Readings { design, y, u } in readings()) {
        let fit = checked(least_squares(&design, 3, &y, Scatter::Stated(&u)))?;
        for column in 0..3 {
            let product: f64 = (0..12).map(|i| design[3 * i + column] * fit.residuals[i] / (u[i] * u[i])).sum();
            prop_assert!(product.abs() <= SAME * 1e4, "column {}: {}", column, product);
        }
        for (i, row) in design.chunks(3).enumerate() {
            prop_assert!(close(fit.predict(row).map_or(f64::NAN, |(value, _)| value), y[i] - fit.residuals[i], 1.0));
        }
        prop_assert!(close(fit.leverage.iter().sum(), 3.0, 1.0));
    }

    #[test]
    fn a_change_of_units_changes_units_alone(
        Readings { design, y, u } in readings(), factor in 1e-9_f64..1e9, shift in -9.0_f64..9.0
    ) {
        let plain = checked(least_squares(&design, 3, &y, Scatter::Relative(&u)))?;
        // The second column in other units, and the readings shifted by a multiple of the third.
        let other: Vec<f64> = design.chunks(3).flat_map(|row| [row[0], row[1] * factor, row[2]]).collect();
        let shifted: Vec<f64> = design.chunks(3).zip(&y).map(|(row, y)| y + shift * row[2]).collect();
        let fit = checked(least_squares(&other, 3, &shifted, Scatter::Relative(&u)))?;
        let [a, b, c] = [fit.coefficients[0], fit.coefficients[1] * factor, fit.coefficients[2] - shift];
        prop_assert!(all_close(&[a, b, c], &plain.coefficients, 10.0));
        let units = [1.0, factor, 1.0];
        for k in 0..9 {
            prop_assert!(close(fit.covariance[k] * units[k / 3] * units[k % 3], plain.covariance[k], 1.0));
        }
    }

    #[test]
    fn uncertainty_of_a_fitted_value_is_its_leverage(Readings { design, y, u } in readings()) {
        let equal = checked(least_squares(&design, 3, &y, Scatter::Equal))?;
        let stated = checked(least_squares(&design, 3, &y, Scatter::Stated(&u)))?;
        for (i, row) in design.chunks(3).enumerate() {
            let of = |fit: &Fit| fit.predict(row).map_or(f64::NAN, |(_, u)| u);
            prop_assert!(close(of(&equal), equal.residual_sd * equal.leverage[i].sqrt(), 0.0));
            prop_assert!(close(of(&stated), u[i] * stated.leverage[i].sqrt(), 0.0));
            let c = &stated.covariance;
            let quadratic: f64 = (0..9).map(|k| row[k / 3] * c[k] * row[k % 3]).sum();
            prop_assert!(close(of(&stated), quadratic.sqrt(), 0.0));
        }
    }

    #[test]
    fn a_reading_taken_twice_is_one_of_smaller_uncertainty(Readings { design, y, u } in readings()) {
        let twice = checked(least_squares(
            &[&design[..], &design].concat(), 3, &[&y[..], &y].concat(), Scatter::Stated(&[&u[..], &u].concat()),
        ))?;
        let smaller: Vec<f64> = u.iter().map(|u| u / 2.0_f64.sqrt()).collect();
        let once = checked(least_squares(&design, 3, &y, Scatter::Stated(&smaller)))?;
        prop_assert!(all_close(&twice.coefficients, &once.coefficients, 10.0));
        prop_assert!(all_close(&twice.covariance, &once.covariance, 1.0));
        prop_assert!(close(twice.residual_sum_of_squares, once.residual_sum_of_squares, 1.0));
        prop_assert!(close(twice.r_squared, once.r_squared, 1.0));
    }

    #[test]
    fn stated_and_relative_differ_by_the_variance_of_the_residuals(Readings { design, y, u } in readings()) {
        let stated = checked(least_squares(&design, 3, &y, Scatter::Stated(&u)))?;
        let relative = checked(least_squares(&design, 3, &y, Scatter::Relative(&u)))?;
        prop_assert_eq!(&stated.coefficients, &relative.coefficients);
        let scaled: Vec<f64> = stated.covariance.iter().map(|c| c * stated.residual_sd.powi(2)).collect();
        prop_assert!(all_close(&scaled, &relative.covariance, 0.0));
        // A common factor in the uncertainties of which only the ratios count changes nothing.
        let tenfold: Vec<f64> = u.iter().map(|u| 10.0 * u).collect();
        let again = checked(least_squares(&design, 3, &y, Scatter::Relative(&tenfold)))?;
        prop_assert!(all_close(&again.covariance, &relative.covariance, 0.0));
    }

    #[test]
    fn exact_abscissae_make_both_axes_a_weighted_fit(Readings { design, y, u } in readings()) {
        let x: Vec<f64> = design.chunks(3).map(|row| row[1]).collect();
        let fit = checked(polynomial(&x, &y, 1, Scatter::Stated(&u)))?;
        let points: Vec<Point> = (0..12).map(|i| Point::new(x[i], y[i], 0.0, u[i])).collect();
        let line = both_axes(&points).map_err(|error| TestCaseError::fail(error.to_string()))?;
        prop_assert!(all_close(&[line.intercept, line.slope], &fit.coefficients, 1.0));
        prop_assert!(all_close(&line.covariance, &fit.covariance, 0.0));
        prop_assert!(close(line.chi_squared, fit.residual_sum_of_squares, 1.0));
    }
}

#[test]
fn r_squared_is_about_the_mean_only_with_a_constant_column() -> Result<()> {
    // By hand: y = 1 2 6 over x = 1 2 3. Through the origin b = 23/14, rest 41 - 23^2/14 of 41;
    // with an intercept b = 2.5, rest 14 - 12.5 of 14 about the mean.
    let (x, y) = ([1.0, 2.0, 3.0], [1.0, 2.0, 6.0]);
    let origin = least_squares(&x, 1, &y, Scatter::Equal)?;
    let line = polynomial(&x, &y, 1, Scatter::Equal)?;
    assert!(close(origin.r_squared, 529.0 / 14.0 / 41.0, 1.0) && close(line.r_squared, 12.5 / 14.0, 1.0));
    let level = polynomial(&x, &[0.0; 3], 1, Scatter::Equal)?;
    assert_eq!((level.r_squared, level.residual_sd), (0.0, 0.0));
    Ok(())
}

#[test]
fn a_dependent_column_is_named() {
    // The third is the sum of the first two.
    let design: Vec<f64> = (0..6).flat_map(|i| [1.0, f64::from(i), 1.0 + f64::from(i), f64::from(i * i)]).collect();
    let refused = least_squares(&design, 4, &[0.0, 1.0, 0.0, 2.0, 1.0, 0.0], Scatter::Equal).err();
    let text = refused.map(|error| error.to_string()).unwrap_or_default();
    assert!(text.contains("column 3 of the design"), "{text}");
}

#[test]
fn wrong_fits_are_refused() {
    let x = [1.0, 2.0, 3.0];
    let line = |y: &[f64], scatter: Scatter<'_>| polynomial(&x, y, 1, scatter);
    assert_refused([
        ("no column", least_squares(&[], 0, &x, Scatter::Equal), Code::ShapeMismatch),
        ("half a row", least_squares(&[1.0; 5], 2, &x, Scatter::Equal), Code::ShapeMismatch),
        ("as many readings as columns", least_squares(&[1.0; 9], 3, &x, Scatter::Equal), Code::FitTooFewPoints),
        ("no reading", polynomial(&[], &[], 0, Scatter::Equal), Code::FitTooFewPoints),
        ("degree without end", polynomial(&x, &x, usize::MAX, Scatter::Equal), Code::FitTooFewPoints),
        ("abscissa missing", line(&x[..2], Scatter::Equal), Code::ShapeMismatch),
        ("reading not a number", line(&[1.0, f64::NAN, 2.0], Scatter::Equal), Code::NumberNotFinite),
        ("design infinite", least_squares(&[1.0, f64::INFINITY, 1.0], 1, &x, Scatter::Equal), Code::NumberNotFinite),
        ("power overflows", polynomial(&[1e200, 1.0, 2.0, 3.0], &[1.0; 4], 2, Scatter::Equal), Code::NumberNotFinite),
        ("uncertainty missing", line(&x, Scatter::Stated(&[0.1, 0.1])), Code::ShapeMismatch),
        ("uncertainty below zero", line(&x, Scatter::Stated(&[0.1, -0.1, 0.1])), Code::UncertaintyNegative),
        ("uncertainty zero", line(&x, Scatter::Relative(&[0.1, 0.0, 0.1])), Code::NumberOutOfRange),
        ("one abscissa", polynomial(&[2.0; 4], &[1.0, 2.0, 3.0, 4.0], 1, Scatter::Equal), Code::MatrixSingular),
        ("empty column", least_squares(&[0.0; 3], 1, &x, Scatter::Equal), Code::MatrixSingular),
    ]);
    assert_refused([("short row", line(&x, Scatter::Equal).and_then(|fit| fit.predict(&[1.0])), Code::ShapeMismatch)]);
}

#[test]
fn wrong_lines_are_refused() {
    let with = |change: fn(&mut Point)| -> Result<Line> {
        let mut points = [0.0, 1.0, 2.0, 3.0].map(|x| Point::new(x, x, 0.1, 0.1));
        change(&mut points[2]);
        both_axes(&points)
    };
    let one = Point::new(1.0, 2.0, 0.1, 0.1);
    // Both coordinates of a level cloud of exact ordinates: no slope carries any weight.
    let level = [0.0, 1.0, 2.0].map(|x| Point::new(x, 5.0, 0.1, 0.0));
    assert_refused([
        ("two points", both_axes(&[one, Point { x: 2.0, ..one }]), Code::FitTooFewPoints),
        ("one abscissa", both_axes(&[one, Point { y: 3.0, ..one }, Point { y: 4.0, ..one }]), Code::MatrixSingular),
        ("not a number", with(|p| p.y = f64::NAN), Code::NumberNotFinite),
        ("infinite uncertainty", with(|p| p.u_x = f64::INFINITY), Code::NumberNotFinite),
        ("negative uncertainty", with(|p| p.u_y = -0.1), Code::UncertaintyNegative),
        ("full correlation", with(|p| p.correlation = -1.0), Code::NumberOutOfRange),
        ("no uncertainty", with(|p| (p.u_x, p.u_y) = (0.0, 0.0)), Code::NumberOutOfRange),
        ("no slope has weight", both_axes(&level), Code::FitNotConverged),
    ]);
}
