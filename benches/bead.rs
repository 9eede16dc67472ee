//! What one bead costs: plain values, values with full covariance, Monte Carlo.
//!
//! Each case proves its answer before it is timed. `--assert` checks the answers and the ratios that are promised.
#![allow(clippy::print_stdout, reason = "a bench prints its figures")]

#[path = "common/mod.rs"]
mod common;

use beadchem::Result;
use beadchem::charge::{Addition, Amount, Charge, Fate, FluxLot, Form, ReducesTo, Sample, SampleResult};
use beadchem::composition::{Basis, BasisLinks, Composition};
use beadchem::numeric::InstructionSet;
use beadchem::substance::Weights;
use beadchem::uncertainty::{Estimate, MonteCarloOptions};

/// One bead of a sulfide ore: eight minerals, blended flux with a blank, nitrate, tablet, twelve readings, another basis
/// and form.
fn bead() -> Result<SampleResult> {
    let u = |value: f64, relative: f64| Estimate::new(value, value * relative);
    let minerals = [
        ("ZnS", 0.12),
        ("FeS2", 0.06),
        ("Fe3O4", 0.35),
        ("CaMg(CO3)2", 0.27),
        ("SiO2", 0.10),
        ("Al2O3", 0.04),
        ("TiO2", 0.02),
        ("K2O", 0.03),
    ];
    let ore = minerals
        .into_iter()
        .try_fold(Composition::new(Basis::Dried), |ore, (species, content)| ore.with(species, u(content, 0.01)?))?;
    let lot = FluxLot::new("F-118", [("Li2B4O7", 50.0), ("LiBO2", 50.0)], "1050 C, 18 min", u(0.0038, 0.08)?)?
        .with_blank("SiO2", u(0.0001, 0.1)?)?;
    let charge = Charge::new(Sample::dried(u(0.8004, 1.5e-4)?)?.made_of(ore)?, lot.weigh_g(u(8.0021, 1.5e-5)?)?)?
        .with(Addition::oxidant("NaNO3", Amount::mass_g(u(1.2, 1e-4)?)?, ReducesTo::NO)?)?
        .with(Addition::release_agent("LiBr", Amount::tablets(1, u(0.03, 0.01)?)?, u(0.5, 0.2)?)?.late(3.0)?)?;
    let melt = charge.fuse(&Weights::ciaaw_2024(), &Fate::new().split("S", u(0.98, 0.01)?, "SO2")?)?;
    let readings = [
        ("ZnO", 0.009),
        ("Fe2O3", 0.035),
        ("SO3", 0.013),
        ("CaO", 0.007),
        ("MgO", 0.005),
        ("SiO2", 0.0088),
        ("Al2O3", 0.0035),
        ("TiO2", 0.0018),
        ("K2O", 0.0026),
        ("P2O5", 0.0004),
        ("Cr2O3", 0.0001),
        ("V2O5", 0.0001),
    ];
    let readings = readings
        .into_iter()
        .try_fold(Composition::new(Basis::Bead), |glass, (species, content)| glass.with(species, u(content, 0.002)?))?;
    let links = BasisLinks::default().moisture(u(0.0118, 0.02)?)?;
    melt.undilute(&readings)?.on(Basis::AsReceived, &links, &Form::Elements)
}

fn main() -> Result<()> {
    let mut bench = common::Bench::from_arguments();
    let result = bead()?;
    let plan = result.plan();

    let (row, mut out, mut scratch) = (plan.row::<f64>(), plan.out::<f64>(), plan.scratch::<f64>());
    let set = InstructionSet::best();
    plan.run_with(set, &row, &mut out, &mut scratch)?;
    assert_eq!(out.values, result.propagated().values(), "plain values are the values that carry uncertainties");
    let full = plan.propagate()?;
    assert_eq!(full.values(), out.values.as_slice());

    let times = bench.interleave(
        &mut [
            ("one bead, values", &mut || {
                plan.run_with(set, &row, &mut out, &mut scratch).is_ok_and(|()| out.values[3] > 1.0)
            }),
            ("one bead, values with all uncertainties and full covariance", &mut || {
                plan.propagate().is_ok_and(|all| all.covariance_matrix()[0] > 0.0)
            }),
            ("the same without the matrix of covariances", &mut || {
                plan.propagate().is_ok_and(|all| all.value(3) > 0.0)
            }),
        ],
        400,
    );
    println!("inputs {}, outputs {}, instruction set {}", plan.inputs().len(), plan.outputs().len(), set.word());
    bench.at_most("one bead with all uncertainties / its plain value", times[1] / times[0], 25.0);

    let options = MonteCarloOptions { draws: 20_000, seed: 1, threads: 1, only: None };
    let drawn = result.monte_carlo(&options)?;
    let zinc = result.output_of("Zn")?;
    // four sampling sigmas of a standard deviation from so many draws
    let sampling = 4.0 / (2.0 * options.draws as f64).sqrt();
    assert!((drawn.u(zinc) / full.u(zinc) - 1.0).abs() < sampling, "Monte Carlo agrees with first order");
    let times = bench.interleave(&mut [("Monte Carlo, 20 000 draws", &mut || result.monte_carlo(&options).is_ok())], 5);
    bench.report("Monte Carlo, ns per draw", times[0] * 1e9 / options.draws as f64);
    bench.finish();
    Ok(())
}
