//! A potash feldspar: a loss of alkali that no total shows.

use beadchem::charge::Fate;
use beadchem::composition::{Basis, LossOnIgnition};
use beadchem::error::Result;

use super::{Paper, bead, figure, percent, sum};
use crate::support::{ROUNDING, assert_close, content, forms, weights};

/// Dried, g/g.
const OXIDES: [(&str, f64); 6] =
    [("SiO2", 0.664), ("Al2O3", 0.183), ("K2O", 0.113), ("Na2O", 0.029), ("CaO", 0.0025), ("Fe2O3", 0.0008)];
const LOSS: f64 = 0.0035;
const PAPER: Paper = Paper { sample_g: 1.0, flux_g: 6.0, flux_loss: 0.0040, loss: LOSS, residue_g: 0.0 };
/// Share of the potash that evaporates.
const EVAPORATED: f64 = 0.012;

fn contents() -> Vec<(&'static str, f64)> {
    let mut contents = OXIDES.to_vec();
    contents.push(("H2O", LOSS));
    contents
}

#[test]
fn feldspar_comes_back_from_its_bead() -> Result<()> {
    let loss = LossOnIgnition::new(LOSS, 1000.0)?;
    percent("total", forms(Basis::Dried, &OXIDES)?.total(Some(&loss))?.value, sum(&OXIDES) + LOSS, "99.58");
    let melt = PAPER.fuse(&PAPER.charge(&contents())?, &Fate::new(), &OXIDES)?;
    figure("dilution", melt.dilution().value(), 0.9965 + 5.976, "6.97");
    Ok(())
}

#[test]
fn evaporated_potash_hides_in_the_total() -> Result<()> {
    let charge = PAPER.charge(&contents())?;
    let real = charge.fuse(&weights(), &Fate::new().split("K", 1.0 - EVAPORATED, "K2O")?)?;
    let gone = real.ledger().gas_g("K2O") / PAPER.sample_g;
    percent("K2O gone", gone, EVAPORATED * 0.113, "0.14");
    // read as if all had stayed: the loss makes the bead lighter and raises everything by the ratio of the two
    let glass = real.glass()?;
    let readings = bead(OXIDES.map(|(oxide, _)| (oxide, content(&glass, oxide))))?;
    let total = charge.fuse(&weights(), &Fate::new())?.undilute(&readings)?.composition()?.total(None)?.value;
    let lighter = PAPER.glass_g() / (PAPER.glass_g() - gone);
    assert_close("total", total, (sum(&OXIDES) - gone) * lighter, ROUNDING);
    let known = real.undilute(&readings)?.value("K2O")?;
    assert_close("K2O where the loss is known", known, 0.113, ROUNDING);
    Ok(())
}
