//! First order held against Monte Carlo.

use crate::error::Result;
use crate::uncertainty::{MonteCarlo, Propagated};

/// Whether first order may stand, judged by Monte Carlo.
///
/// ```
/// # use beadchem::{scalar::Scalar, uncertainty::*};
/// # #[derive(Clone)] struct Sum;
/// # impl Model for Sum {
/// #     fn outputs(&self) -> usize { 1 }
/// #     fn evaluate<S: Scalar>(&self, x: &[S], y: &mut [S], _: &mut [S]) { y[0] = x[0] + x[1]; }
/// # }
/// let mut inputs = Inputs::new();
/// inputs.push("a", Estimate::new(1.0, 0.3)?)?;
/// inputs.push("b", Estimate::new(1.0, 0.4)?)?;
/// let (first, drawn) = (propagate(&Sum, &inputs)?, monte_carlo(&Sum, &inputs, &MonteCarloOptions::default())?);
/// assert!(validate(&first, &drawn, 0, 0.95, 1)?.agrees);
/// # Ok::<(), beadchem::Error>(())
/// ```
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Validation {
    /// Distance of the lower ends of the two intervals.
    pub low: f64,
    /// Distance of the upper ends.
    pub high: f64,
    /// What either may be: half a unit in the last of the digits asked for.
    pub tolerance: f64,
    /// Both are within it.
    pub agrees: bool,
}

/// Compares the first-order coverage interval with the one of the draws, to so many significant digits of u.
///
/// # Errors
/// Those of [`Propagated::expanded`] and [`MonteCarlo::interval`]; `number.out-of-range` for no digits.
///
/// # Source
/// JCGM 101:2008, clause 8.1 with the tolerance of 7.9.2.
///
/// ```
/// # use beadchem::{scalar::Scalar, uncertainty::*};
/// # #[derive(Clone)] struct Square;
/// # impl Model for Square {
/// #     fn outputs(&self) -> usize { 1 }
/// #     fn evaluate<S: Scalar>(&self, x: &[S], y: &mut [S], _: &mut [S]) { y[0] = x[0] * x[0]; }
/// # }
/// let mut inputs = Inputs::new();
/// inputs.push("a", Estimate::new(0.1, 1.0)?)?;
/// let drawn = monte_carlo(&Square, &inputs, &MonteCarloOptions::default())?;
/// assert!(!validate(&propagate(&Square, &inputs)?, &drawn, 0, 0.95, 2)?.agrees);
/// # Ok::<(), beadchem::Error>(())
/// ```
pub fn validate(
    first_order: &Propagated,
    drawn: &MonteCarlo,
    output: usize,
    probability: f64,
    digits: u8,
) -> Result<Validation> {
    crate::error::within("Digits of u", f64::from(digits), "", [1.0, 15.0], "1 to 15", "One or two are usual.")?;
    let (_, expanded) = first_order.expanded(output, probability)?;
    let (from, to) = drawn.interval(output, probability)?;
    let value = first_order.value(output);
    let u = drawn.u(output);
    crate::error::within(
        "The standard uncertainty of the draws",
        u,
        "",
        [f64::MIN_POSITIVE, f64::MAX],
        "above 0",
        "Nothing that moves this output has an uncertainty; there is nothing to compare.",
    )?;
    // u = c 10^r with c a whole number of so many digits: the tolerance is 10^r / 2.
    let r = u.log10().floor() as i32 + 1 - i32::from(digits);
    let tolerance = 0.5 * 10f64.powi(r);
    let (low, high) = ((value - expanded - from).abs(), (value + expanded - to).abs());
    Ok(Validation { low, high, tolerance, agrees: low <= tolerance && high <= tolerance })
}
