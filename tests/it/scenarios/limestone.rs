//! A limestone of which more was caught than meant.

use beadchem::charge::{Charge, Fate, Sample};
use beadchem::composition::{Basis, BasisLinks, LossOnIgnition};
use beadchem::error::Result;

use super::{Paper, bead, figure, m, percent};
use crate::support::{ROUNDING, a, assert_close, content, forms, fuse_pure, tetraborate, weights};

/// Dried, g/g; 0.3 % are not named.
const OXIDES: [(&str, f64); 5] = [("CaO", 0.542), ("MgO", 0.009), ("SiO2", 0.010), ("Al2O3", 0.003), ("Fe2O3", 0.002)];
const LOSS: f64 = 0.431;
const CAUGHT: Paper = Paper { sample_g: 1.05, flux_g: 6.0, flux_loss: 0.0040, loss: LOSS, residue_g: 0.0 };

fn charge(paper: Paper) -> Result<Charge> {
    let mut contents = OXIDES.to_vec();
    contents.push(("CO2", LOSS));
    paper.charge(&contents)
}

#[test]
fn a_caught_weight_of_limestone_is_no_ratio_of_masses() -> Result<()> {
    let nominal = Paper { sample_g: 1.0, ..CAUGHT };
    let caught = CAUGHT.fuse(&charge(CAUGHT)?, &Fate::new(), &OXIDES)?;
    assert_close("unnamed", caught.ledger().unnamed_g, 1.05 * 0.003, ROUNDING);
    let meant = nominal.fuse(&charge(nominal)?, &Fate::new(), &OXIDES)?;
    // 1.05 * 0.569 + 6 * 0.996 = 0.59745 + 5.976, over 1.05; 0.569 + 5.976
    figure("dilution", caught.dilution().value(), (0.597_45 + 5.976) / 1.05, "6.260");
    figure("nominal dilution", meant.dilution().value(), 6.545, "6.545");
    let repaired = meant.dilution().value() / 1.05;
    figure("repaired by the weights alone", repaired, 6.545 / 1.05, "6.233");
    let reading = bead([("CaO", content(&caught.glass()?, "CaO"))])?;
    let lime = meant.undilute(&reading)?.value("CaO")? / 1.05;
    let on_paper = 6.545 / (0.597_45 + 5.976) - 1.0;
    percent("of the value", lime / 0.542 - 1.0, on_paper, "-0.43");
    percent("of CaO", lime - 0.542, 0.542 * on_paper, "-0.23");
    Ok(())
}

#[test]
fn no_carbonate_of_lime_and_magnesia_loses_more_than_dolomite() -> Result<()> {
    let dolomite = a::CA + a::MG + 2.0 * (a::C + 3.0 * a::O);
    let pure = |mineral: &str| Ok(fuse_pure(mineral, &Fate::new())?.loss_on_fusion());
    let losses: [Result<f64>; 2] = [pure("CaMg(CO3)2"), pure("CaCO3")];
    let [dolomite_loss, calcite_loss] = losses;
    percent("dolomite", dolomite_loss?, 2.0 * m::CO2 / dolomite, "47.73");
    percent("calcite", calcite_loss?, m::CO2 / (m::CAO + m::CO2), "43.97");
    Ok(())
}

/// Burnt lime that took up 0.8 % of water on the way to the balance, taken for burnt lime.
#[test]
fn ignited_lime_that_drew_water_reads_low() -> Result<()> {
    let drawn = 0.008;
    let links = BasisLinks::default().loss_on_ignition(LossOnIgnition::new(LOSS, 1000.0)?);
    let ignited = Basis::ignited(1000.0)?;
    let burnt = forms(Basis::Dried, &OXIDES)?.on(ignited, &links)?;
    // what was weighed: burnt lime and its water
    let mut contents: Vec<(&str, f64)> =
        OXIDES.iter().map(|&(oxide, _)| (oxide, content(&burnt, oxide) * (1.0 - drawn))).collect();
    contents.push(("H2O", drawn));
    let sample = Sample::new(0.6, ignited)?.made_of(forms(ignited, &contents)?)?;
    let melt = Charge::new(sample, tetraborate(0.0040)?.weigh_g(6.0)?)?.fuse(&weights(), &Fate::new())?;
    let reading = bead([("CaO", content(&melt.glass()?, "CaO"))])?;
    let dried = melt.undilute(&reading)?.on(Basis::Dried, &links, &Default::default())?;
    percent("CaO dried", dried.value("CaO")? - 0.542, -drawn * 0.542, "-0.43");
    Ok(())
}
