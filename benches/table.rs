//! What a row of a table costs: fourteen analytes from net intensities, masses and losses, by the plan of a single bead;
//! with variances, with all covariances; what a call of eight rows costs.
//!
//! Each case proves its answer before it is timed. `--assert` checks the answers and the ratios that are promised.
#![allow(clippy::print_stdout, reason = "a bench prints its figures")]
#![allow(clippy::unwrap_used, reason = "the classes of the tests are read as they are there")]

#[expect(dead_code, reason = "the tests use more of it")]
#[path = "../tests/it/matrix/classes.rs"]
mod classes;
#[path = "common/mod.rs"]
mod common;

use beadchem::Result;
use beadchem::batch::{Column, Columns, Corrected, Correction, Numbers, RunOptions, Spread, Uncertainty};
use beadchem::charge::{Charge, FluxLot, Sample};
use beadchem::composition::{Basis, Unit};
use beadchem::matrix::{Calibration, Label};
use beadchem::method::Method;
use beadchem::numeric::InstructionSet;
use beadchem::uncertainty::Estimate;

const ROWS: usize = 100_000;
const FEW: usize = 8;
/// The counts are made from contents by the equation itself.
const MADE: f64 = 1e-9;

fn u(value: f64, relative: f64) -> Result<Estimate> {
    Estimate::new(value, value.abs() * relative)
}

fn correction(class: &classes::Class) -> Result<Correction> {
    let set = &class.set;
    let label = || Label::new("bench", "1", "invented");
    let mut calibration = Calibration::new(label()?, Basis::Dried);
    for line in set.lines() {
        calibration = calibration.sensitivity(&line.line, u(line.sensitivity.unwrap(), 1e-3)?)?;
    }
    let method = Method::new(label()?, set.clone(), calibration)?;
    let blend = [("Li2B4O7", 35.0), ("LiBO2", 65.0)];
    let lot = FluxLot::new("F-118", blend, "1050 C, 18 min", u(0.004, 0.08)?)?;
    let sample = Sample::dried(u(0.8, 1e-4)?)?;
    let recipe = Charge::new(sample, lot.weigh_g(u(0.8 * set.fused_flux_ratio(), 1e-4)?)?)?;
    let mut correction =
        Correction::new(method, recipe)?.fusion(beadchem::batch::FusionLoss::Fixed(u(0.23, 0.005)?))?;
    for field in correction.fields().to_vec() {
        if field.unit() == "counts/s" {
            correction = correction.field(field.spread(Spread::Relative(1e-3))?)?;
        }
    }
    Ok(correction)
}

/// Beads of a class with catch weights: contents at the centroid, flux up and down by some per cent.
fn table(class: &classes::Class, rows: usize) -> Vec<(String, Vec<f64>)> {
    let set = &class.set;
    let kept = 1.0 - 0.004;
    let ratios: Vec<f64> = (0..13).map(|step| set.fused_flux_ratio() * (0.97 + 0.005 * f64::from(step))).collect();
    let counts: Vec<Vec<f64>> =
        ratios.iter().map(|ratio| classes::intensities(set, ratio * kept, &class.centroid)).collect();
    let column = |of: &dyn Fn(usize) -> f64| (0..rows).map(|row| of(row % ratios.len())).collect::<Vec<f64>>();
    let mut columns = vec![
        ("sample_g".to_owned(), column(&|_| 0.8)),
        ("flux_g".to_owned(), column(&|step| 0.8 * ratios[step])),
        ("loss_on_ignition_percent".to_owned(), column(&|step| 23.0 + 0.01 * step as f64)),
    ];
    for (place, line) in set.lines().iter().enumerate() {
        columns.push((format!("{}_cps", line.line.replace(' ', "_")), column(&|step| counts[step][place])));
    }
    columns
}

fn columns(table: &[(String, Vec<f64>)], rows: usize) -> Result<Columns<'_>> {
    let mut columns = Columns::new(rows);
    for (name, values) in table {
        columns.push(name.as_str(), Column::Numbers(Numbers::new(values)))?;
    }
    Ok(columns)
}

fn main() -> Result<()> {
    let mut bench = common::Bench::from_arguments();
    let all = classes::all();
    let at_five =
        |class: &&classes::Class| class.set.label().name() == "bauxite" && class.set.fused_flux_ratio() == 5.0;
    let class = all.iter().find(at_five).unwrap();
    let correction = correction(class)?;
    let (numbers, few) = (table(class, ROWS), table(class, FEW));
    let (long, short) = (columns(&numbers, ROWS)?, columns(&few, FEW)?);

    let plain = RunOptions::default();
    let expected = correction.run(&long, &plain)?;
    assert_eq!(expected.refused(), 0);
    for line in class.set.lines() {
        let name = class.set.components()[line.analyte].text();
        let column = expected.column(&format!("{name}_percent")).unwrap();
        let content = Unit::Percent.written(class.centroid[line.analyte]);
        assert!((0..13).all(|row| (column.get(row).unwrap() / content - 1.0).abs() < MADE), "{name}");
    }
    for set in InstructionSet::available() {
        let found = correction.run(&long, &RunOptions { set, ..plain.clone() })?;
        let same = found.numbers().iter().zip(expected.numbers()).all(|(a, b)| a.to_bits() == b.to_bits());
        assert!(same, "{} gives the bits of the others, optimised as shipped", set.word());
    }

    let with = |uncertainty| RunOptions { uncertainty, ..plain.clone() };
    let (variance, covariance) = (with(Uncertainty::Variance), with(Uncertainty::Covariance));
    let mut rooms = [(); 4].map(|()| Corrected::default());
    let [values, spreads, pairs, small] = &mut rooms;
    let times = bench.interleave(
        &mut [
            ("100 000 rows of 14 analytes, results used again", &mut || {
                correction.run_into(&long, &plain, values).is_ok()
            }),
            ("the same with 14 standard uncertainties", &mut || correction.run_into(&long, &variance, spreads).is_ok()),
            ("the same with 105 covariances", &mut || correction.run_into(&long, &covariance, pairs).is_ok()),
            ("a call of eight rows", &mut || correction.run_into(&short, &plain, small).is_ok()),
        ],
        9,
    );
    bench.report("ns per row", times[0] / ROWS as f64 * 1e9);
    bench.at_most("14 standard uncertainties / the values", times[1] / times[0], 5.0);
    bench.at_most("all covariances / the values", times[2] / times[0], 6.0);
    bench.report("a call of eight rows after a long table, us", times[3] * 1e6);
    bench.finish();
    Ok(())
}
