//! Derivatives: readings that share one tangent direction against one direction per input, our dual numbers against
//! another implementation, and both against differences.

use core::ops::{Add, Div, Mul, Neg, Sub};

use beadchem::charge::Plan;
use beadchem::error::Result;
use beadchem::scalar::{Dual, Scalar};
use num_dual::{Dual64, DualNum};
use proptest::prelude::*;

use super::config;
use super::lanes::whole_slice;
use super::random::{failed, fixed, recipe};
use crate::support::ROUNDING;

/// The dual number of `num-dual`, dressed as a number of ours.
#[derive(Debug, Clone, Copy)]
struct Other(Dual64);

macro_rules! operators {
    ($($name:ident $method:ident),*) => {$(
        impl $name for Other {
            type Output = Self;
            fn $method(self, other: Self) -> Self {
                Other($name::$method(self.0, other.0))
            }
        }
        impl $name<f64> for Other {
            type Output = Self;
            fn $method(self, other: f64) -> Self {
                Other($name::$method(self.0, other))
            }
        }
    )*};
}
operators!(Add add, Sub sub, Mul mul, Div div);

impl Neg for Other {
    type Output = Self;
    fn neg(self) -> Self {
        Other(-self.0)
    }
}

impl Scalar for Other {
    type Mask = bool;
    fn constant(value: f64) -> Self {
        Other(Dual64::from_re(value))
    }
    fn sqrt(self) -> Self {
        Other(self.0.sqrt())
    }
    fn exp(self) -> Self {
        Other(self.0.exp())
    }
    fn ln(self) -> Self {
        Other(self.0.ln())
    }
    fn ln_1p(self) -> Self {
        Other(self.0.ln_1p())
    }
    fn lt(self, other: Self) -> bool {
        self.0.re < other.0.re
    }
    fn select(mask: bool, yes: Self, no: Self) -> Self {
        if mask { yes } else { no }
    }
}

/// Derivatives of every output along one input, by a dual number of this type.
fn along<S: Scalar>(plan: &Plan, input: usize, variable: fn(f64) -> S, part: fn(S) -> f64) -> Vec<f64> {
    let (mut row, mut out, mut scratch) = (plan.row::<S>(), plan.out(), plan.scratch());
    row.values[input] = variable(plan.inputs().values()[input]);
    plan.run(&row, &mut out, &mut scratch);
    out.values.into_iter().map(part).collect()
}

fn by_own_dual(plan: &Plan, input: usize) -> Vec<f64> {
    along(plan, input, |value| Dual::<f64, 1>::variable(value, 0), |dual| dual.eps[0])
}

fn by_other_dual(plan: &Plan, input: usize) -> Vec<f64> {
    along(plan, input, |value| Other(Dual64::from_re(value).derivative()), |dual| dual.0.eps)
}

fn at(plan: &Plan, input: usize, value: f64) -> Vec<f64> {
    let (mut row, mut out, mut scratch) = (plan.row::<f64>(), plan.out(), plan.scratch());
    row.values[input] = value;
    plan.run(&row, &mut out, &mut scratch);
    out.values
}

/// Within `tolerance`, relative above 1 and absolute below.
fn close(found: f64, expected: f64, tolerance: f64) -> bool {
    (found - expected).abs() <= tolerance * expected.abs().max(1.0)
}

proptest! {
    #![proptest_config(proptest::test_runner::Config { cases: 24, ..config() })]

    #[test]
    fn shared_directions_equal_single_ones(recipe in recipe()) {
        let plan = whole_slice(&recipe).map_err(failed)?;
        let propagated = plan.propagate().map_err(failed)?;
        for (input, named) in plan.inputs().iter().enumerate() {
            let (own, other) = (by_own_dual(&plan, input), by_other_dual(&plan, input));
            for (output, name) in plan.outputs().iter().enumerate() {
                let shared = propagated.derivative(output, input);
                for (which, single) in [("ours", own[output]), ("num-dual", other[output])] {
                    prop_assert!(
                        close(shared, single, ROUNDING),
                        "d {name} / d {}: {shared}, {which} {single}", named.name
                    );
                }
            }
        }
    }
}

/// A central difference with a step of the cube root of the rounding errs by about its square.
const STEP: f64 = 6e-6;
const BY_DIFFERENCES: f64 = 1e-7;

#[test]
fn derivatives_agree_with_differences() -> Result<()> {
    let plan = whole_slice(&fixed())?;
    let propagated = plan.propagate()?;
    for (input, named) in plan.inputs().iter().enumerate() {
        let value = named.estimate.value();
        let step = STEP * value.abs().max(STEP);
        let (above, below) = (at(&plan, input, value + step), at(&plan, input, value - step));
        for (output, name) in plan.outputs().iter().enumerate() {
            // in terms of a relative change of the input, so that a trace and a mass weigh alike
            let difference = (above[output] - below[output]) / (2.0 * step) * value;
            let derivative = propagated.derivative(output, input) * value;
            assert!(
                close(derivative, difference, BY_DIFFERENCES),
                "d {name} / d ln {}: {derivative}, by differences {difference}",
                named.name
            );
        }
    }
    Ok(())
}

/// What the short way rests on: a reading moves its own result and nothing else.
#[test]
fn a_reading_moves_its_own_result_only() -> Result<()> {
    let plan = whole_slice(&fixed())?;
    let outputs = plan.outputs().len();
    let mut readings = 0;
    for (input, named) in plan.inputs().iter().enumerate().filter(|(_, named)| named.name.ends_with(" in the glass")) {
        let moved = by_own_dual(&plan, input).iter().filter(|derivative| **derivative != 0.0).count();
        assert_eq!(moved, 1, "{}", named.name);
        readings += 1;
    }
    assert!(readings > 10 && readings < outputs);
    Ok(())
}
