//! What the way back costs: fourteen analytes of one bead from their counts, plain and with full covariance; the linear
//! system alone.
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
use beadchem::charge::{Addition, Amount, Charge, FluxLot, Sample};
use beadchem::composition::Basis;
use beadchem::matrix::{Calibration, CoefficientSet, Count, DeadTime, Drift, Label, LineReading, Monitor};
use beadchem::method::{Assay, Measurement, Method, Overlap};
use beadchem::numeric::{InstructionSet, eliminate};
use beadchem::substance::Weights;
use beadchem::uncertainty::Estimate;

/// The sensitivity of every line is the theoretical one divided by this, so that counts are of usual size.
const COUNTS: f64 = 1e-5;
/// The counts are made from contents; dead time, background, drift and overlap are put on as they are taken off.
const MADE: f64 = 1e-9;
const DEAD_TIME_S: f64 = 2.5e-7;
const BACKGROUND_CPS: f64 = 20.0;
const DRIFT: f64 = 0.98;
const TIMES: [&str; 2] = ["2026-03-02T08:00", "2026-03-02T12:00"];

fn u(value: f64, relative: f64) -> Result<Estimate> {
    Estimate::new(value, value.abs() * relative)
}

/// Bauxite: fourteen lines, each counted with two backgrounds, with dead time and drift; bromine of a release agent under
/// aluminium, silicon in the flux, masses of one balance.
fn bead(class: &classes::Class) -> Result<(Assay, Vec<f64>)> {
    let set: &CoefficientSet = &class.set;
    let label = || Label::new("bench", "1", "invented");
    let mut calibration = Calibration::new(label()?, Basis::Dried);
    let mut monitor: Vec<(&str, f64)> = Vec::new();
    for line in set.lines() {
        calibration = calibration.sensitivity(&line.line, u(line.sensitivity.unwrap_or(1.0) / COUNTS, 1e-3)?)?;
        monitor.push((&line.line, 5000.0));
    }
    let method = Method::new(label()?, set.clone(), calibration)?
        .overlap(Overlap::new("Al Ka", "Br Ka", u(0.012, 0.04)?)?)?
        .dead_time(DeadTime::new(u(DEAD_TIME_S, 0.05)?)?);
    let at =
        |scale: f64| monitor.iter().map(|&(line, cps)| Ok((line, u(cps * scale, 3e-4)?))).collect::<Result<Vec<_>>>();
    let drift = Monitor::new("M-1", at(1.0)?)?.reading(TIMES[0], at(DRIFT)?)?.reading(TIMES[1], at(DRIFT)?)?;
    let blend = [("Li2B4O7", 35.0), ("LiBO2", 65.0)];
    let lot = FluxLot::new("F-118", blend, "1050 C, 18 min", u(0.004, 0.08)?)?.with_blank("SiO2", u(1e-4, 0.1)?)?;
    let mass = |value: f64| Estimate::new(value, 1e-4)?.shared("balance B-2", value * 1e-5);
    let ratio = set.fused_flux_ratio();
    let charge = Charge::new(Sample::dried(mass(0.8)?)?, lot.weigh_g(mass(0.8 * ratio)?)?)?
        .with(Addition::release_agent("LiBr", Amount::tablets(1, u(0.006, 0.01)?)?, u(0.5, 0.1)?)?)?;
    let melt = charge.fuse_with_loss(&Weights::ciaaw_2024(), u(0.2337, 0.005)?)?;

    // what stays beside the sample's own: half of 6 mg in 0.8 g; the blank of the flux is part of F and of the line's counts
    let fused = ratio * (1.0 - 0.004);
    let mut all = class.centroid.clone();
    all[set.component_index("LiBr")?] = 0.006 * 0.5 / 0.8;
    let mut clean: Vec<f64> = classes::intensities(set, fused, &all).iter().map(|cps| cps * COUNTS).collect();
    clean[set.line_index("Si Ka")?] *= 1.0 + fused * 1e-4 / all[set.component_index("SiO2")?];
    let bromine = clean[set.line_index("Br Ka")?];
    let mut measurement = Measurement::new("B-1").at("2026-03-02T10:00", Drift::one_point(drift));
    for (line, &cps) in set.lines().iter().zip(&clean) {
        let overlapped = if line.line == "Al Ka" { cps + 0.012 * bromine } else { cps };
        let background = BACKGROUND_CPS / (1.0 - BACKGROUND_CPS * DEAD_TIME_S);
        let alive = overlapped * DRIFT + background;
        let peak = Count::new(alive / (1.0 + alive * DEAD_TIME_S), 100.0)?;
        let side = Count::new(BACKGROUND_CPS, 40.0)?;
        let reading = LineReading::counted(&line.line, peak)?.background(0.5, side)?.background(0.5, side)?;
        measurement = measurement.reading(reading)?;
    }
    Ok((method.assay(&melt, &measurement)?, all))
}

fn main() -> Result<()> {
    let mut bench = common::Bench::from_arguments();
    let all = classes::all();
    let class = all.iter().rfind(|class| class.set.label().name() == "bauxite").unwrap();
    let (assay, contents) = bead(class)?;
    let set = &class.set;
    let plan = assay.sample().plan();
    for line in set.lines().iter().filter(|line| line.line != "Br Ka") {
        let analyte = set.components()[line.analyte].text();
        let expected = class.centroid[line.analyte];
        let found = assay.value(analyte)?;
        assert!((found / expected - 1.0).abs() < MADE, "{analyte} {found}, made with {expected}");
    }

    let (row, mut out, mut scratch) = (plan.row::<f64>(), plan.out::<f64>(), plan.scratch::<f64>());
    let best = InstructionSet::best();
    plan.run_with(best, &row, &mut out, &mut scratch)?;
    assert!(!out.trouble);
    let strengths = classes::strengths(set, set.fused_flux_ratio() * 0.996, &contents);
    let (matrix, right) = classes::system(set, set.fused_flux_ratio() * 0.996, &strengths);
    let n = right.len();
    let (mut work, mut solution) = (matrix.clone(), right.clone());
    assert!(!eliminate(&mut work, n, &mut solution, 1), "no rows to exchange");
    assert!(classes::apart(&solution, &contents) < MADE, "the system gives the contents back");

    let times = bench.interleave(
        &mut [
            ("one bead of 14 analytes from counts, values", &mut || {
                plan.run_with(best, &row, &mut out, &mut scratch).is_ok_and(|()| !out.trouble)
            }),
            ("the same with all uncertainties and full covariance", &mut || {
                plan.propagate().is_ok_and(|all| all.covariance_matrix()[0] > 0.0)
            }),
            ("the same without the matrix of covariances", &mut || {
                plan.propagate().is_ok_and(|all| all.value(3) > 0.0)
            }),
            ("its system of 14 unknowns alone", &mut || {
                work.copy_from_slice(&matrix);
                solution.copy_from_slice(&right);
                !eliminate(&mut work, n, &mut solution, 1)
            }),
        ],
        400,
    );
    println!("inputs {}, outputs {}, instruction set {}", plan.inputs().len(), plan.outputs().len(), best.word());
    bench.at_most("one bead from counts, us", times[0] * 1e6, 20.0);
    bench.at_most("one bead with all uncertainties / its plain value", times[1] / times[0], 25.0);
    bench.report("its system alone / one bead", times[3] / times[0]);
    bench.finish();
    Ok(())
}
