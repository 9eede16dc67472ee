//! A silica sand: nearly all of one oxide, which is reported by difference.

use beadchem::charge::Fate;
use beadchem::composition::{Basis, LossOnIgnition, Unit};
use beadchem::error::Result;

use super::{Paper, figure, percent, printed};
use crate::support::{ROUNDING, assert_close, content, forms};

/// Dried, g/g: 0.31 % of minor oxides.
const MINORS: [(&str, f64); 4] = [("Al2O3", 0.00218), ("Fe2O3", 0.00012), ("TiO2", 0.0004), ("K2O", 0.0004)];
const LOSS: f64 = 0.0015;
const PAPER: Paper = Paper { sample_g: 0.4, flux_g: 4.0, flux_loss: 0.0020, loss: LOSS, residue_g: 0.0 };

#[test]
fn sand_by_difference_comes_back_from_its_bead() -> Result<()> {
    let loss = LossOnIgnition::new(LOSS, 1000.0)?;
    let silica = 1.0 - forms(Basis::Dried, &MINORS)?.total(Some(&loss))?.value;
    percent("SiO2 by difference", silica, 1.0 - 0.0031 - 0.0015, "99.54");
    let mut oxides = MINORS.to_vec();
    oxides.push(("SiO2", silica));
    let mut contents = oxides.clone();
    contents.push(("H2O", LOSS));
    let melt = PAPER.fuse(&PAPER.charge(&contents)?, &Fate::new(), &oxides)?;
    assert_close("nothing is unnamed", melt.ledger().unnamed_g, 0.0, ROUNDING);
    figure("dilution", melt.dilution().value(), 0.9985 + 9.98, "10.98");
    let iron = content(&melt.glass()?, "Fe2O3");
    percent("Fe2O3 in glass", iron, 0.000_12 / PAPER.dilution(), "0.0011");
    printed("mg/kg of it", Unit::MilligramPerKilogram.written(iron), "11");
    Ok(())
}
