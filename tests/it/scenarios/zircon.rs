//! A zircon in much flux: nothing leaves.

use beadchem::charge::Fate;
use beadchem::composition::Basis;
use beadchem::error::Result;
use beadchem::substance::factor;

use super::{Paper, figure, m, percent, sum};
use crate::support::{ROUNDING, a, assert_close, content, forms, weights};

/// Dried, g/g.
const OXIDES: [(&str, f64); 7] = [
    ("ZrO2", 0.656),
    ("HfO2", 0.0132),
    ("SiO2", 0.325),
    ("TiO2", 0.0010),
    ("Fe2O3", 0.0006),
    ("Al2O3", 0.0025),
    ("P2O5", 0.0010),
];
const PAPER: Paper = Paper { sample_g: 0.5, flux_g: 10.0, flux_loss: 0.0040, loss: 0.0, residue_g: 0.0 };

#[test]
fn zircon_comes_back_from_its_bead() -> Result<()> {
    percent("total", forms(Basis::Dried, &OXIDES)?.total(None)?.value, sum(&OXIDES), "99.93");
    let melt = PAPER.fuse(&PAPER.charge(&OXIDES)?, &Fate::new(), &OXIDES)?;
    // 1 + 20 * 0.996
    figure("dilution", melt.dilution().value(), 20.92, "20.92");
    percent("ZrO2 in glass", content(&melt.glass()?, "ZrO2"), 0.656 / 20.92, "3.14");
    Ok(())
}

#[test]
fn pure_zircon_is_two_oxides() -> Result<()> {
    let zirconia = a::ZR + 2.0 * a::O;
    let by = |oxide| Ok(factor("ZrSiO4", oxide, &weights())?.value());
    let parts: [Result<f64>; 2] = [by("ZrO2"), by("SiO2")];
    let [zirconium, silicon] = parts;
    let (zirconium, silicon) = (zirconium?, silicon?);
    percent("ZrO2", zirconium, zirconia / (zirconia + m::SIO2), "67.22");
    percent("SiO2", silicon, m::SIO2 / (zirconia + m::SIO2), "32.78");
    assert_close("both", zirconium + silicon, 1.0, ROUNDING);
    Ok(())
}
