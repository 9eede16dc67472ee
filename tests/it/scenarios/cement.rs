//! A cement raw mix: what the kiln goes by follows from the bead.

use beadchem::charge::Fate;
use beadchem::composition::{Basis, LossOnIgnition};
use beadchem::error::Result;

use super::{Paper, bead, figure, percent, sum};
use crate::support::forms;

/// Dried, g/g.
const OXIDES: [(&str, f64); 9] = [
    ("CaO", 0.4310),
    ("SiO2", 0.1380),
    ("Al2O3", 0.0345),
    ("Fe2O3", 0.0210),
    ("MgO", 0.0130),
    ("K2O", 0.0055),
    ("Na2O", 0.0012),
    ("SO3", 0.0035),
    ("TiO2", 0.0015),
];
const LOSS: f64 = 0.349;
const PAPER: Paper = Paper { sample_g: 1.0004, flux_g: 6.0021, flux_loss: 0.0030, loss: LOSS, residue_g: 0.0 };

/// The lime saturation factor, in per cent: CaO over the lime that silica, alumina and iron can bind (the weights of the
/// usual formula, from memory).
fn lime_saturation(cao: f64, sio2: f64, al2o3: f64, fe2o3: f64) -> f64 {
    100.0 * cao / (2.8 * sio2 + 1.18 * al2o3 + 0.65 * fe2o3)
}

#[test]
fn raw_mix_comes_back_from_its_bead_with_its_ratios() -> Result<()> {
    let mut contents = OXIDES.to_vec();
    contents.push(("CO2", LOSS));
    let melt = PAPER.fuse(&PAPER.charge(&contents)?, &Fate::sulfur_kept(), &OXIDES)?;
    figure("dilution", melt.dilution().value(), PAPER.dilution(), "6.633");
    let loss = LossOnIgnition::new(LOSS, 950.0)?;
    let total = forms(Basis::Dried, &OXIDES)?.total(Some(&loss))?.value;
    percent("total", total, sum(&OXIDES) + LOSS, "99.82");

    let readings = bead(OXIDES.map(|(oxide, content)| (oxide, content / PAPER.dilution())))?;
    let result = melt.undilute(&readings)?;
    let [cao, sio2, al2o3, fe2o3] =
        ["CaO", "SiO2", "Al2O3", "Fe2O3"].map(|oxide| result.value(oxide).unwrap_or(f64::NAN));
    // 38.64 + 4.071 + 1.365 = 44.076
    let saturation = lime_saturation(cao, sio2, al2o3, fe2o3);
    figure("lime saturation", saturation, 4310.0 / 44.076, "97.8");
    figure("silica ratio", sio2 / (al2o3 + fe2o3), 13.80 / 5.55, "2.486");
    figure("alumina ratio", al2o3 / fe2o3, 3.45 / 2.10, "1.643");
    let more_silica = lime_saturation(cao, sio2 + 0.001, al2o3, fe2o3);
    figure("for 0.1 % more silica", more_silica - saturation, 4310.0 / 44.356 - 4310.0 / 44.076, "-0.6");
    Ok(())
}
