//! A gypsum: all its sulfate stays, its water leaves, and drying it too hot changes what 100 % is.

use beadchem::charge::Fate;
use beadchem::composition::{Basis, BasisLinks, LossOnIgnition};
use beadchem::error::Result;
use beadchem::substance::factor_via;

use super::{Paper, bead, figure, m, percent, sum};
use crate::support::{ROUNDING, a, assert_close, content, forms, weights};

/// Dried near 40 C, g/g.
const OXIDES: [(&str, f64); 6] =
    [("CaO", 0.316), ("SO3", 0.451), ("SiO2", 0.018), ("Al2O3", 0.004), ("Fe2O3", 0.002), ("MgO", 0.005)];
const WATER: f64 = 0.203;
const CARBON_DIOXIDE: f64 = 0.009;
const PAPER: Paper =
    Paper { sample_g: 0.6, flux_g: 6.0, flux_loss: 0.0035, loss: WATER + CARBON_DIOXIDE, residue_g: 0.0 };

#[test]
fn gypsum_comes_back_from_its_bead() -> Result<()> {
    let mut contents = OXIDES.to_vec();
    contents.extend([("H2O", WATER), ("CO2", CARBON_DIOXIDE)]);
    let total = forms(Basis::Dried, &contents)?.total(None)?.value;
    percent("total", total, sum(&OXIDES) + WATER + CARBON_DIOXIDE, "100.80");
    // the other route: the oxides with the loss, where no sulfur left with it
    let loss = LossOnIgnition::new(WATER + CARBON_DIOXIDE, 1000.0)?;
    assert_close("with the loss", forms(Basis::Dried, &OXIDES)?.total(Some(&loss))?.value, total, ROUNDING);
    let melt = PAPER.fuse(&PAPER.charge(&contents)?, &Fate::sulfur_kept(), &OXIDES)?;
    figure("dilution", melt.dilution().value(), 0.788 + 9.965, "10.753");
    Ok(())
}

/// Three quarters of the water leave at 105 C: hemihydrate is weighed for gypsum.
#[test]
fn gypsum_dried_too_hot_reads_high() -> Result<()> {
    let gypsum = a::CA + a::S + 4.0 * a::O + 2.0 * m::H2O;
    let left = factor_via("CaSO4·2H2O", "CaSO4·0.5H2O", "Ca", &weights())?.value();
    percent("of pure gypsum", 1.0 - left, 1.5 * m::H2O / gypsum, "15.70");
    // the water driven off is to the hot-dried powder what a moisture is
    let driven_off = 0.75 * WATER;
    let links = BasisLinks::default().air_moisture(driven_off)?;
    let gentle = forms(Basis::AirEquilibrated, &OXIDES)?;
    let hot = content(&gentle.on(Basis::Dried, &links)?, "SO3");
    percent("SO3", hot, 0.451 / (1.0 - driven_off), "53.2");
    // the same from a bead of the hot-dried powder
    let share = 1.0 - driven_off;
    let mut contents: Vec<(&str, f64)> = OXIDES.iter().map(|&(oxide, content)| (oxide, content / share)).collect();
    contents.extend([("H2O", 0.25 * WATER / share), ("CO2", CARBON_DIOXIDE / share)]);
    let melt = PAPER.charge(&contents)?.fuse(&weights(), &Fate::sulfur_kept())?;
    let reading = bead([("SO3", content(&melt.glass()?, "SO3"))])?;
    assert_close("from the bead", melt.undilute(&reading)?.value("SO3")?, hot, ROUNDING);
    Ok(())
}
