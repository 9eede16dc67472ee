//! Derivatives of a solution against closed form, and against derivatives pushed through the solver.

use beadchem::code::Code;
use beadchem::error::Result;
use beadchem::numeric::{Residual, implicit_derivative, inverse, solve};
use beadchem::scalar::{Dual, Scalar};

use super::assert_refused;

/// Rounding in systems with a condition number near 10.
const ROUNDING: f64 = 1e-13;
/// The shortcut and the dual number pushed through everything agree to this.
const PUSHED: f64 = 1e-12;

/// `A x = b`; parameters are the nine entries of A, then the three of b: more than one block of directions.
struct LinearSystem;

impl Residual for LinearSystem {
    fn residual<S: Scalar>(&self, x: &[S], p: &[S], out: &mut [S]) {
        for (i, out) in out.iter_mut().enumerate() {
            *out = p[3 * i] * x[0] + p[3 * i + 1] * x[1] + p[3 * i + 2] * x[2] - p[9 + i];
        }
    }
}

#[test]
fn a_linear_system_in_closed_form() -> Result<()> {
    let a = [4.0, 1.0, -0.5, 0.3, 3.0, 1.0, -1.0, 0.2, 5.0];
    let b = [1.0, -2.0, 0.7];
    let x = solve(&a, 3, &b)?;
    let found = implicit_derivative(&LinearSystem, &x, &[&a[..], &b].concat())?;
    let inverse = inverse(&a, 3)?;
    for k in 0..3 {
        for column in 0..12 {
            // dx_k / db_i = (A^-1)_ki and dx_k / dA_ij = -(A^-1)_ki x_j.
            let expected =
                if column < 9 { -inverse[3 * k + column / 3] * x[column % 3] } else { inverse[3 * k + column - 9] };
            assert!((found[12 * k + column] - expected).abs() <= ROUNDING, "unknown {k}, parameter {column}");
        }
    }
    Ok(())
}

/// `x^2 + exp(y) = p`, `ln(x) + q y = 1`.
struct Curves;

impl Residual for Curves {
    fn residual<S: Scalar>(&self, x: &[S], p: &[S], out: &mut [S]) {
        out[0] = x[0] * x[0] + x[1].exp() - p[0];
        out[1] = x[0].ln() + p[1] * x[1] - 1.0;
    }
}

/// Newton's method, written over the number type: with duals the derivatives take the same way as the values.
fn newton<S: Scalar>(p: [S; 2]) -> [S; 2] {
    let [mut x, mut y] = [S::constant(1.2), S::constant(0.8)];
    // Far more steps than the six after which value and derivative stand still.
    for _ in 0..20 {
        let mut r = [S::constant(0.0); 2];
        Curves.residual(&[x, y], &p, &mut r);
        let (a, b, c, d) = (x * 2.0, y.exp(), S::constant(1.0) / x, p[1]);
        let determinant = a * d - b * c;
        x = x - (d * r[0] - b * r[1]) / determinant;
        y = y - (a * r[1] - c * r[0]) / determinant;
    }
    [x, y]
}

#[test]
fn agrees_with_dual_numbers_pushed_through_the_iteration() -> Result<()> {
    let p = [4.0, 1.3];
    let pushed = newton([Dual::<f64, 2>::variable(p[0], 0), Dual::variable(p[1], 1)]);
    let found = implicit_derivative(&Curves, &newton(p), &p)?;
    for k in 0..4 {
        let expected = pushed[k / 2].eps[k % 2];
        assert!((found[k] - expected).abs() <= PUSHED * expected.abs(), "entry {k}: {} {expected}", found[k]);
    }
    assert!(implicit_derivative(&LinearSystem, &[1.0; 3], &[]).is_ok_and(|none| none.is_empty()));
    Ok(())
}

#[test]
fn wrong_systems_are_refused() {
    let flat = implicit_derivative(&LinearSystem, &[1.0; 3], &[0.0; 12]);
    let curve = |x: f64, p: f64| implicit_derivative(&Curves, &[x, 0.0], &[p, 1.0]);
    assert_refused([
        ("no unknown", implicit_derivative(&LinearSystem, &[], &[1.0]), Code::ShapeMismatch),
        ("unknown not a number", curve(f64::NAN, 1.0), Code::NumberNotFinite),
        ("parameter infinite", curve(1.0, f64::INFINITY), Code::NumberNotFinite),
        ("derivative infinite", curve(0.0, 1.0), Code::NumberNotFinite),
        ("unknowns not determined", flat, Code::MatrixSingular),
    ]);
}
