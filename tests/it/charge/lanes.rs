//! Eight rows at once give the bits of each row alone, for every instruction set; trouble stays in its lane.

use std::io::Write;

use beadchem::charge::{Form, Out, Plan};
use beadchem::code::Code;
use beadchem::composition::{Basis, BasisLinks, LossOnIgnition};
use beadchem::error::Result;
use beadchem::numeric::InstructionSet;
use beadchem::scalar::{Lanes, Mask};
use proptest::prelude::*;

use super::config;
use super::random::{Recipe, failed, fixed, recipe};

const WIDTH: usize = 8;
/// Rows differ by up to this share of every input.
const SPREAD: f64 = 0.05;

/// The whole slice: fused, read, put on another basis and into another form.
pub(super) fn whole_slice(recipe: &Recipe) -> Result<Plan> {
    let links = BasisLinks::default().loss_on_ignition(LossOnIgnition::new(0.1195, 1000.0)?);
    let melt = recipe.melt()?;
    let result = melt.undilute(&melt.glass()?)?.on(Basis::ignited(1000.0)?, &links, &Form::Elements)?;
    Ok(result.plan().clone())
}

/// Eight different rows: input i of lane k is moved by a share of its own.
fn rows(plan: &Plan) -> [Vec<f64>; WIDTH] {
    let values = plan.inputs().values();
    core::array::from_fn(|lane| {
        let moved = |(i, value): (usize, &f64)| {
            let step = ((i * WIDTH + lane) * 7919 % 1009) as f64 / 1009.0 - 0.5;
            value * (1.0 + SPREAD * step)
        };
        values.iter().enumerate().map(moved).collect()
    })
}

fn alone(plan: &Plan, row: &[f64]) -> Out<f64> {
    let (mut held, mut out, mut scratch) = (plan.row::<f64>(), plan.out(), plan.scratch());
    held.values.copy_from_slice(row);
    plan.run(&held, &mut out, &mut scratch);
    out
}

fn together(plan: &Plan, rows: &[Vec<f64>; WIDTH], set: InstructionSet) -> Result<Out<Lanes<WIDTH>>> {
    let (mut held, mut out, mut scratch) = (plan.row::<Lanes<WIDTH>>(), plan.out(), plan.scratch());
    for (i, value) in held.values.iter_mut().enumerate() {
        *value = Lanes(core::array::from_fn(|lane| rows[lane][i]));
    }
    plan.run_with(set, &held, &mut out, &mut scratch)?;
    Ok(out)
}

fn bits(out: &Out<f64>) -> Vec<u64> {
    out.values.iter().map(|value| value.to_bits()).collect()
}

fn lane_bits(out: &Out<Lanes<WIDTH>>, lane: usize) -> Vec<u64> {
    out.values.iter().map(|value| value.0[lane].to_bits()).collect()
}

proptest! {
    #![proptest_config(config())]

    #[test]
    fn lanes_give_the_bits_of_single_rows(recipe in recipe()) {
        let plan = whole_slice(&recipe).map_err(failed)?;
        let rows = rows(&plan);
        for set in InstructionSet::available() {
            let lanes = together(&plan, &rows, set).map_err(failed)?;
            for (lane, row) in rows.iter().enumerate() {
                let single = alone(&plan, row);
                prop_assert_eq!(lane_bits(&lanes, lane), bits(&single), "{}, lane {}", set.word(), lane);
                prop_assert_eq!(lanes.trouble.lane(lane), single.trouble);
            }
        }
    }

    #[test]
    fn trouble_stays_in_its_lane(recipe in recipe(), empty in 0..WIDTH) {
        let plan = whole_slice(&recipe).map_err(failed)?;
        let sound = rows(&plan);
        // no sample, nothing kept of an element that was read, nothing left to refer to
        for (name, value) in [("sample mass", 0.0), ("kept share of S", 0.0), ("loss on ignition at 1000 C", 1.0)] {
            let input = plan.inputs().index_of(name);
            prop_assert!(input.is_some(), "{name}");
            let mut rows = sound.clone();
            rows[empty][input.unwrap_or_default()] = value;
            for set in InstructionSet::available() {
                let (before, after) = (together(&plan, &sound, set), together(&plan, &rows, set));
                let (before, after) = (before.map_err(failed)?, after.map_err(failed)?);
                for lane in 0..WIDTH {
                    prop_assert!(!before.trouble.lane(lane));
                    prop_assert_eq!(after.trouble.lane(lane), lane == empty, "{}, {}", name, set.word());
                    if lane != empty {
                        prop_assert_eq!(lane_bits(&after, lane), lane_bits(&before, lane), "{}", set.word());
                    }
                }
            }
        }
    }

    /// Nothing of one row is left in the scratch for the next.
    #[test]
    fn scratch_and_outputs_can_be_used_again(recipe in recipe()) {
        let plan = whole_slice(&recipe).map_err(failed)?;
        let rows = rows(&plan);
        let (mut held, mut out, mut scratch) = (plan.row::<f64>(), plan.out(), plan.scratch());
        for row in &rows {
            held.values.copy_from_slice(row);
            plan.run(&held, &mut out, &mut scratch);
            prop_assert_eq!(bits(&out), bits(&alone(&plan, row)));
        }
    }
}

/// A fixed charge, so that every instruction set is named once in the log of the tests.
#[test]
fn every_instruction_set_runs_or_is_named_as_absent() -> Result<()> {
    let plan = whole_slice(&fixed())?;
    let rows = rows(&plan);
    for set in InstructionSet::ALL {
        let outcome = together(&plan, &rows, set);
        if InstructionSet::available().contains(&set) {
            let lanes = outcome?;
            for (lane, row) in rows.iter().enumerate() {
                assert_eq!(lane_bits(&lanes, lane), bits(&alone(&plan, row)), "{}", set.word());
            }
        } else {
            let refused = outcome.err();
            assert_eq!(refused.as_ref().map(|refused| refused.code()), Some(Code::WordUnknown));
            assert!(refused.is_some_and(|refused| refused.to_string().contains(set.word())));
            // a log that cannot be written to is no failure of the instruction set
            let _ = writeln!(std::io::stderr(), "not on this processor, so not tested: {}", set.word());
        }
    }
    Ok(())
}

#[test]
fn a_row_of_another_length_is_trouble_and_changes_nothing() -> Result<()> {
    let plan = whole_slice(&fixed())?;
    let (mut row, mut out, mut scratch) = (plan.row::<f64>(), plan.out::<f64>(), plan.scratch());
    row.values.pop();
    plan.run(&row, &mut out, &mut scratch);
    assert!(out.trouble && out.values.iter().all(|value| *value == 0.0));
    Ok(())
}
