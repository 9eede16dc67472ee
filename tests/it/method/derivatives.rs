//! The short way through the solution against dual numbers pushed through everything, and lanes against one row.

use beadchem::scalar::{Lanes, Mask};
use beadchem::uncertainty::propagate_plain;

use crate::matrix::classes;
use crate::method::bead::{Bead, agent, measured, method};

/// Both carry the same products in another order; relative to the largest derivative of the output.
const SHORTCUT: f64 = 1e-12;

#[test]
fn the_implicit_rule_equals_duals_through_the_elimination() {
    for class in classes::all() {
        let mut bead = Bead::new(&class.centroid, class.set.fused_flux_ratio());
        if class.set.component_index("LiBr").is_ok() {
            bead.additions = vec![agent("LiBr", 0.02, 0.5)];
        }
        let counts = bead.counts(&class.set);
        let assay = method(&class.set).assay(&bead.melt(), &measured(&class.set, &counts, 0.001, &[])).unwrap();
        let (sample, plan) = (assay.sample(), assay.sample().plan());
        let whole = propagate_plain(plan, plan.inputs()).unwrap();
        for analyte in sample.species() {
            let output = sample.output_of(analyte).unwrap();
            let value = sample.propagated().value(output);
            assert!((whole.value(output) - value).abs() <= SHORTCUT * value.abs(), "{analyte}");
            for (place, input) in plan.inputs().iter().enumerate() {
                let (short, long) = (sample.propagated().derivative(output, place), whole.derivative(output, place));
                let scale = input.estimate.value().abs().max(f64::MIN_POSITIVE);
                let allowed = SHORTCUT * (value.abs() / scale).max(long.abs());
                assert!((short - long).abs() <= allowed, "{analyte} by {}: {short}, {long}", input.name);
            }
        }
    }
}

#[test]
fn lanes_give_the_bits_of_one_row() {
    for class in classes::all() {
        let bead = Bead::new(&class.centroid, class.set.fused_flux_ratio());
        let assay =
            method(&class.set).assay(&bead.melt(), &measured(&class.set, &bead.counts(&class.set), 0.0, &[])).unwrap();
        let plan = assay.sample().plan();
        let (mut rows, mut out, mut scratch) = (plan.row::<Lanes<8>>(), plan.out(), plan.scratch());
        let count = rows.values.len();
        // each lane another bead
        for lane in 0..8 {
            for value in &mut rows.values[..count] {
                value.0[lane] *= 1.0 + 1e-3 * lane as f64;
            }
        }
        plan.run(&rows, &mut out, &mut scratch);
        for lane in 0..8 {
            let (mut row, mut alone, mut scratch) = (plan.row::<f64>(), plan.out(), plan.scratch());
            row.values = rows.values.iter().map(|value| value.0[lane]).collect();
            plan.run(&row, &mut alone, &mut scratch);
            assert_eq!(out.trouble.lane(lane), alone.trouble);
            for (lanes, one) in out.values.iter().zip(&alone.values) {
                assert_eq!(lanes.0[lane].to_bits(), one.to_bits(), "lane {lane}");
            }
        }
    }
}
