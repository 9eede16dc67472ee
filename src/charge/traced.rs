//! Which inputs of a charge move what, found once for a plan by derivatives at a point where nothing is zero.
//!
//! Formulas alone do not tell: the atomic weights of a blank stand above and below a fraction and move nothing. What cancels
//! leaves derivatives of the size of rounding, what is there does not; a point away from the plan's own values finds also
//! what a zero or a sum hides there.

use crate::charge::contributions::{DIRECTIONS, Pass, Target};
use crate::charge::kernel::{FIXED, FUSED_FLUX_RATIO, Input, Kernel};
use crate::charge::lines::Lines;
use crate::charge::plan::Plan;
use crate::scalar::{Dual, Scalar};

/// What an input moves by its whole size, below which it moves nothing, g/g: far above rounding, far below what matters.
const NOTHING: f64 = 1e-12;
/// In place of an input that is zero, and of the amounts of the analytes.
const SMALL: f64 = 0.0125;
/// How far the point lies from the plan's values, so that nothing cancels by the choice of the values.
const AWAY: f64 = 0.0125;

/// Directions of a look: there is no other code of this width, and it is run once for a plan.
const LOOK: usize = 8;
type Traced = Dual<f64, LOOK>;

/// Values near those of the plan, none zero.
fn point(plan: &Plan) -> Vec<f64> {
    let values = plan.inputs().values();
    let away = |place: usize| 1.0 + AWAY * (place as f64 * 0.618).fract();
    values.iter().enumerate().map(|(place, &x)| if x == 0.0 { SMALL } else { x } * away(place)).collect()
}

/// What each candidate moves, from a function that gives the targets with their duals.
fn moved(
    plan: &Plan,
    candidates: &[Input],
    look: impl Fn(&[Traced]) -> Vec<(Target, Traced)>,
) -> Vec<(Input, Vec<Target>)> {
    let values = point(plan);
    let mut found = Vec::with_capacity(candidates.len());
    for inputs in candidates.chunks(LOOK) {
        let mut x: Vec<Traced> = values.iter().map(|&value| Traced::constant(value)).collect();
        for (direction, &input) in inputs.iter().enumerate() {
            x[input] = Traced::variable(values[input], direction);
        }
        let seen = look(&x);
        for (direction, &input) in inputs.iter().enumerate() {
            // what is no number counts as moved
            let still = |dual: &Traced| (dual.eps[direction] * values[input]).abs() <= NOTHING;
            let targets = seen.iter().filter(|(_, dual)| !still(dual)).map(|(target, _)| *target);
            found.push((input, targets.collect()));
        }
    }
    found
}

/// Passes through the charge of a plan with lines.
pub(super) fn charge(plan: &Plan, lines: &Lines, candidates: &[Input]) -> Vec<Pass> {
    let kernel: &Kernel = &plan.kernel;
    passes(moved(plan, candidates, |x| {
        let mut scratch = vec![Traced::constant(0.0); kernel.books_scratch()];
        let mut out = vec![Traced::constant(0.0); FIXED + kernel.glass.len()];
        let mut known = vec![Traced::constant(0.0); lines.present.len()];
        let mut brought = vec![Traced::constant(0.0); lines.equation.analytes()];
        let mut results = vec![Traced::constant(SMALL); plan.outputs().len() - out.len()];
        let mut books = kernel.books(&mut scratch);
        kernel.melt(x, &mut books, &mut out);
        kernel.given(lines, x, &books, &mut known, &mut brought);
        kernel.finish(x, &mut results);
        let mut seen = vec![(Target::Ratio, out[FUSED_FLUX_RATIO])];
        seen.extend(known.into_iter().enumerate().map(|(place, dual)| (Target::Known(place), dual)));
        seen.extend(brought.into_iter().enumerate().map(|(row, dual)| (Target::Brought(row), dual)));
        seen.extend(results.into_iter().enumerate().map(|(result, dual)| (Target::Result(result), dual)));
        seen
    }))
}

/// Passes through a plan of readings of the glass.
pub(super) fn glass(plan: &Plan, candidates: &[Input]) -> Vec<Pass> {
    passes(moved(plan, candidates, |x| {
        let mut scratch = vec![Traced::constant(0.0); plan.room()];
        let mut out = vec![Traced::constant(0.0); plan.outputs().len()];
        plan.kernel.run_glass(x, &mut out, &mut scratch);
        let results = out[FIXED + plan.kernel.glass.len()..].iter().enumerate();
        results.map(|(result, &dual)| (Target::Result(result), dual)).collect()
    }))
}

/// As few passes as go: inputs that move nothing in common share a direction, each going to the first that is free.
fn passes(moved: Vec<(Input, Vec<Target>)>) -> Vec<Pass> {
    let mut directions: Vec<Vec<(Input, Vec<Target>)>> = Vec::new();
    for (input, targets) in moved.into_iter().filter(|(_, targets)| !targets.is_empty()) {
        let apart = |held: &[(Input, Vec<Target>)]| {
            held.iter().all(|(_, taken)| targets.iter().all(|target| !taken.contains(target)))
        };
        match directions.iter().position(|held| apart(held)) {
            Some(place) => directions[place].push((input, targets)),
            None => directions.push(vec![(input, targets)]),
        }
    }
    let pass = |held: &[Vec<(Input, Vec<Target>)>]| {
        let along =
            || held.iter().enumerate().flat_map(|(direction, members)| members.iter().map(move |it| (direction, it)));
        let gives =
            along().flat_map(|(direction, (input, targets))| targets.iter().map(move |&it| (it, direction, *input)));
        let mut gives: Vec<(Target, usize, Input)> = gives.collect();
        gives.sort_unstable();
        let results = gives.iter().any(|(target, ..)| matches!(target, Target::Result(_)));
        Pass { inputs: along().map(|(direction, &(input, _))| (input, direction)).collect(), gives, results }
    };
    directions.chunks(DIRECTIONS).map(pass).collect()
}
