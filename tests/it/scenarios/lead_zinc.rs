//! A lead-zinc ore with nitrate.

use beadchem::charge::{Addition, Amount, Charge, Fate, ReducesTo};
use beadchem::composition::Basis;
use beadchem::error::Result;

use super::{Paper, figure, m, percent, printed, sum};
use crate::support::{a, content, forms, fuse_pure, weights};

/// Dried, g/g; 2.3 % are not named.
const CONTENTS: [(&str, f64); 9] = [
    ("Pb", 0.065),
    ("Zn", 0.120),
    ("Fe", 0.140),
    ("S", 0.180),
    ("SiO2", 0.380),
    ("Al2O3", 0.042),
    ("CaO", 0.019),
    ("MgO", 0.011),
    ("CO2", 0.020),
];
const NITRATE_G: f64 = 1.0;

fn oxidised() -> [(&'static str, f64); 4] {
    [
        ("PbO", 0.065 * m::PBO / a::PB),
        ("ZnO", 0.120 * m::ZNO / a::ZN),
        ("Fe2O3", 0.140 * m::FE2O3 / (2.0 * a::FE)),
        ("SO3", 0.180 * m::SO3 / a::S),
    ]
}

/// Oxygen taken up, g per g of sample.
fn uptake() -> f64 {
    sum(&oxidised()) - sum(&CONTENTS[..4])
}

fn paper() -> Paper {
    let residue_g = NITRATE_G * m::NA2O / (2.0 * m::NANO3);
    Paper { sample_g: 0.5, flux_g: 8.0, flux_loss: 0.0040, loss: 0.020 - uptake(), residue_g }
}

fn charge() -> Result<Charge> {
    let nitrate = Addition::oxidant("NaNO3", Amount::mass_g(NITRATE_G)?, ReducesTo::NO)?;
    paper().charge(&CONTENTS)?.with(nitrate)
}

#[test]
fn lead_zinc_ore_as_oxides() -> Result<()> {
    let mut whole = forms(Basis::Dried, &CONTENTS)?;
    percent("as declared", whole.total(None)?.value, sum(&CONTENTS), "97.7");
    for ((element, (oxide, on_paper)), print) in
        ["Pb", "Zn", "Fe", "S"].into_iter().zip(oxidised()).zip(["7.00", "14.94", "20.02", "44.95"])
    {
        whole = whole.written_as(element, oxide, &weights())?;
        percent(oxide, content(&whole, oxide), on_paper, print);
    }
    Ok(())
}

#[test]
fn lead_zinc_ore_comes_back_from_its_bead() -> Result<()> {
    let mut oxides = oxidised().to_vec();
    oxides.extend(&CONTENTS[4..8]);
    let paper = paper();
    let melt = paper.fuse(&charge()?, &Fate::sulfur_kept(), &oxides)?;
    let demand = melt.ledger().oxygen.demand_g;
    figure("mmol of oxygen", demand / a::O * 1e3, 0.5 * uptake() / a::O * 1e3, "11.38");
    percent("of the sample", demand / 0.5, uptake(), "36.4");
    figure("loss on fusion", melt.loss_on_fusion(), paper.loss, "-0.344");
    figure("bead", melt.bead_mass_g(), paper.glass_g(), "9.00");
    printed("dilution", melt.dilution().value(), "18.0");
    Ok(())
}

/// Galena loses or gains in a furnace, by what its sulfur does.
#[test]
fn the_furnace_loss_of_galena_has_no_sign_of_its_own() -> Result<()> {
    let galena = a::PB + a::S;
    let to_oxide = fuse_pure("PbS", &Fate::new().lose("S", "SO2")?)?.loss_on_fusion();
    percent("to PbO", -to_oxide, m::PBO / galena - 1.0, "-6.7");
    let to_sulfate = fuse_pure("PbS", &Fate::sulfur_kept())?.loss_on_fusion();
    percent("to PbSO4", -to_sulfate, (m::PBO + m::SO3) / galena - 1.0, "26.7");
    Ok(())
}
