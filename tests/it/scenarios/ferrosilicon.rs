//! A ferrosilicon, oxidised in lithium carbonate: a metal that nearly doubles its mass.

use beadchem::charge::{Addition, Amount, Charge, Fate, Form};
use beadchem::code::Code;
use beadchem::composition::{Basis, BasisLinks};
use beadchem::error::Result;

use super::{Paper, bead, figure, m, percent, sum};
use crate::support::{ROUNDING, a, assert_close, content, forms, weights};

/// g/g; 0.6 % are not named and are carried along.
const METALS: [(&str, f64); 3] = [("Si", 0.752), ("Fe", 0.230), ("Al", 0.012)];
const SAMPLE_G: f64 = 0.1;
const CARBONATE_G: f64 = 1.0;

fn oxides() -> [(&'static str, f64); 3] {
    [
        ("SiO2", 0.752 * m::SIO2 / a::SI),
        ("Fe2O3", 0.230 * m::FE2O3 / (2.0 * a::FE)),
        ("Al2O3", 0.012 * m::AL2O3 / (2.0 * a::AL)),
    ]
}

fn paper() -> Paper {
    let residue_g = CARBONATE_G * m::LI2O / (m::LI2O + m::CO2);
    let loss = sum(&METALS) - sum(&oxides());
    Paper { sample_g: SAMPLE_G, flux_g: 8.0, flux_loss: 0.0040, loss, residue_g }
}

fn charge() -> Result<Charge> {
    paper().charge(&METALS)?.with(Addition::reagent("Li2CO3", Amount::mass_g(CARBONATE_G)?)?)
}

#[test]
fn ferrosilicon_as_oxides() -> Result<()> {
    let mut whole = forms(Basis::Dried, &METALS)?;
    for ((metal, _), ((oxide, on_paper), print)) in
        METALS.iter().zip(oxides().into_iter().zip(["160.9", "32.9", "2.27"]))
    {
        whole = whole.written_as(metal, oxide, &weights())?;
        percent(oxide, content(&whole, oxide), on_paper, print);
    }
    percent("oxides", whole.total(None)?.value, sum(&oxides()), "196.0");
    Ok(())
}

#[test]
fn ferrosilicon_comes_back_from_its_bead() -> Result<()> {
    let paper = paper();
    let melt = paper.fuse(&charge()?, &Fate::new(), &oxides())?;
    let ledger = melt.ledger();
    let oxide_g = ["Si", "Fe", "Al"].iter().zip(oxides()).map(|(metal, (_, oxide))| {
        let whole = METALS.iter().find(|(name, _)| name == metal).map_or(f64::NAN, |(_, content)| *content);
        ledger.element(metal).map_or(f64::NAN, |line| line.stayed_g) * oxide / whole
    });
    let oxide_g: f64 = oxide_g.sum();
    figure("oxide", oxide_g, SAMPLE_G * sum(&oxides()), "0.1960");
    figure("with the unnamed", oxide_g + ledger.unnamed_g, SAMPLE_G * (1.0 - paper.loss), "0.1966");
    figure("mmol of oxygen", ledger.oxygen.demand_g / a::O * 1e3, -SAMPLE_G * paper.loss / a::O * 1e3, "6.04");
    let carbonate = m::LI2O / (m::LI2O + m::CO2);
    assert_close("CO2", ledger.gas_g("CO2"), CARBONATE_G * (1.0 - carbonate), ROUNDING);
    figure("Li2O", CARBONATE_G - ledger.gas_g("CO2"), CARBONATE_G * carbonate, "0.404");
    figure("bead", melt.bead_mass_g(), paper.glass_g(), "8.569");
    figure("dilution", melt.dilution().value(), paper.dilution(), "85.7");
    let silica = content(&melt.glass()?, "SiO2");
    percent("SiO2 in glass", silica, oxides()[0].1 / paper.dilution(), "1.88");

    let result = melt.undilute(&bead([("SiO2", silica)])?)?;
    assert!(result.findings().iter().any(|finding| finding.code == Code::ResultAboveWhole));
    let silicon = result.on(Basis::Dried, &BasisLinks::default(), &Form::Elements)?.value("Si")?;
    percent("Si", silicon, 0.752, "75.2");
    Ok(())
}
