//! A magnetite ore: its ferrous iron takes up oxygen, so that it gains.

use beadchem::charge::{Charge, Fate};
use beadchem::composition::{Basis, LossOnIgnition};
use beadchem::error::Result;
use beadchem::substance::factor;

use super::{Paper, figure, m, percent};
use crate::support::{ROUNDING, a, assert_close, forms, weights};

/// Dried, g/g: total iron 68.50 %, of which FeO 26.0 %.
const OTHERS: [(&str, f64); 7] = [
    ("SiO2", 0.0245),
    ("Al2O3", 0.0045),
    ("CaO", 0.0035),
    ("MgO", 0.0055),
    ("MnO", 0.0008),
    ("TiO2", 0.0012),
    ("P2O5", 0.0003),
];
const IRON: f64 = 0.6850;
const FERROUS: f64 = 0.26;
const VOLATILE: f64 = 0.0025;
const SAMPLE_G: f64 = 0.6604;

/// Grams of Fe2O3 per gram of Fe, and per gram of FeO.
const PER_IRON: f64 = m::FE2O3 / (2.0 * a::FE);
const PER_FERROUS: f64 = m::FE2O3 / (2.0 * m::FEO);
/// Oxygen taken up, and loss less gain.
const GAIN: f64 = FERROUS * (PER_FERROUS - 1.0);
const LOSS: f64 = VOLATILE - GAIN;
const PAPER: Paper = Paper { sample_g: SAMPLE_G, flux_g: 6.6031, flux_loss: 0.0035, loss: LOSS, residue_g: 0.0 };

fn charge() -> Result<Charge> {
    let mut contents = OTHERS.to_vec();
    let ferric = IRON * PER_IRON - FERROUS * PER_FERROUS;
    contents.extend([("FeO", FERROUS), ("Fe2O3", ferric), ("H2O", VOLATILE)]);
    PAPER.charge(&contents)
}

#[test]
fn magnetite_ore_gains_what_its_ferrous_iron_takes_up() -> Result<()> {
    let mut oxides = OTHERS.to_vec();
    oxides.push(("Fe2O3", IRON * PER_IRON));
    // manganese is declared as MnO and stays so
    let melt = PAPER.fuse(&charge()?, &Fate::new(), &oxides)?;
    let from_air = melt.ledger().oxygen.from_air_g / SAMPLE_G;
    percent("gain", from_air, GAIN, "2.895");
    percent("gain by the factor", FERROUS * (factor("FeO", "Fe2O3", &weights())?.value() - 1.0), GAIN, "2.895");
    percent("loss on fusion", melt.loss_on_fusion(), LOSS, "-2.645");
    figure("dilution", melt.dilution().value(), PAPER.dilution(), "10.990");
    Ok(())
}

/// A loss clipped to zero, and one of which only the water is known.
#[test]
fn a_loss_without_its_sign_costs_iron() -> Result<()> {
    let right = PAPER.dilution();
    let dilution = |loss: f64| Ok(charge()?.fuse_with_loss(&weights(), loss)?.dilution().value());
    let clipped: Result<f64> = dilution(0.0);
    let clipped = clipped?;
    figure("clipped", clipped, Paper { loss: 0.0, ..PAPER }.dilution(), "10.964");
    let iron = clipped / right - 1.0;
    percent("of the value", iron, Paper { loss: 0.0, ..PAPER }.dilution() / right - 1.0, "-0.24");
    percent("of iron", IRON * iron, IRON * (clipped - right) / right, "-0.16");
    let without_gain: Result<f64> = dilution(VOLATILE);
    figure("without the gain", without_gain?, Paper { loss: VOLATILE, ..PAPER }.dilution(), "10.961");
    Ok(())
}

#[test]
fn both_totals_of_the_magnetite_agree() -> Result<()> {
    let total_iron = IRON * PER_IRON;
    percent("others", forms(Basis::Dried, &OTHERS)?.total(None)?.value, 0.0403, "4.03");
    percent("all iron as Fe2O3", IRON * factor("Fe", "Fe2O3", &weights())?.value(), total_iron, "97.94");
    let ferric = total_iron - FERROUS * PER_FERROUS;
    percent("ferric iron", ferric, (IRON - FERROUS * a::FE / m::FEO) * PER_IRON, "69.04");
    let mut ferric_only = OTHERS.to_vec();
    ferric_only.push(("Fe2O3", total_iron));
    let observed = LossOnIgnition::new(charge()?.fuse(&weights(), &Fate::new())?.loss_on_fusion(), 1000.0)?;
    let first = forms(Basis::Dried, &ferric_only)?.total(Some(&observed))?.value;
    percent("as Fe2O3 with the signed loss", first, total_iron + 0.0403 + LOSS, "99.32");
    let charge = charge()?;
    let declared = charge.sample().composition().map(|whole| whole.total(None)).transpose()?;
    let second = declared.map_or(f64::NAN, |total| total.value);
    percent("as declared", second, ferric + FERROUS + 0.0403 + VOLATILE, "99.32");
    assert_close("both", first, second, ROUNDING);
    let clipped = forms(Basis::Dried, &ferric_only)?.total(None)?.value;
    percent("loss clipped to zero", clipped, total_iron + 0.0403, "101.97");
    assert_close("its error", clipped - first, -LOSS, ROUNDING);
    Ok(())
}
