//! Loss and gain in the furnace against hand arithmetic: species by species, additive, and carried over to the fusion.

use beadchem::charge::{Charge, Fate, Ignition, Sample};
use beadchem::composition::{Atmosphere, Basis, Cell, Composition, LossOnIgnition};
use beadchem::error::Result;
use beadchem::uncertainty::Estimate;
use proptest::prelude::*;

use crate::support::{ROUNDING, a, assert_close, tetraborate, weights};

/// Printed to five places of a fraction.
const LAST_5: f64 = 6e-6;
/// Printed to three places.
const LAST_3: f64 = 6e-4;

fn furnace(fate: Fate) -> Result<Ignition> {
    Ignition::new(1000.0, Atmosphere::Air, fate)
}

fn pure(species: &str) -> Result<Composition> {
    Composition::new(Basis::Dried).with(species, 1.0)
}

/// Roasting factors, stoichiometry: what a gram of each takes up or gives off on the way to its usual form in air.
#[test]
fn lower_oxides_and_metals_gain_what_oxygen_they_lack() -> Result<()> {
    let mn3o4 = || Fate::new().stays_as("Mn", "Mn3O4");
    let cases = [
        ("FeO", Fate::new(), 0.111_35, 0.5 * a::O / (a::FE + a::O), LAST_5),
        ("Fe", Fate::new(), 0.429_73, 1.5 * a::O / a::FE, LAST_5),
        ("Fe3O4", Fate::new(), 0.034_55, 0.5 * a::O / (3.0 * a::FE + 4.0 * a::O), LAST_5),
        ("MnO", mn3o4()?, 0.075_18, a::O / 3.0 / (a::MN + a::O), LAST_5),
        ("Cu", Fate::new(), 0.251_77, a::O / a::CU, LAST_5),
        ("Si", Fate::new(), 1.139, 2.0 * a::O / a::SI, LAST_3),
        ("MnO2", mn3o4()?, -0.1227, -2.0 / 3.0 * a::O / (a::MN + 2.0 * a::O), LAST_3),
        ("Cu2S", Fate::new().lose("S", "SO2")?, -0.0004, (2.0 * a::O - a::S) / (2.0 * a::CU + a::S), LAST_3),
        ("ZnS", Fate::new().lose("S", "SO2")?, -0.1648, (a::O - a::S) / (a::ZN + a::S), LAST_3),
        ("ZnS", Fate::sulfur_kept(), 0.657, 4.0 * a::O / (a::ZN + a::S), LAST_3),
        ("CaF2", Fate::new().lose("F", "HF")?, -0.2817, (a::O - 2.0 * a::F) / (a::CA + 2.0 * a::F), LAST_3),
        ("KCl", Fate::new().lose("Cl", "KCl")?, -1.0, -1.0, LAST_3),
    ];
    for (species, fate, printed, by_hand, last) in cases {
        let gain = -furnace(fate)?.predict(&pure(species)?, &weights())?.loss();
        assert_close(species, gain, by_hand, ROUNDING);
        assert!((gain - printed).abs() < last, "{species}: {gain}, printed {printed}");
    }
    Ok(())
}

#[test]
fn the_gases_less_the_oxygen_taken_up_are_the_loss() -> Result<()> {
    let powder = Composition::new(Basis::Dried)
        .with_form("CaCO3", 0.2)?
        .with_form("FeS2", 0.3)?
        .with_form("FeO", 0.2)?
        .with("Al(OH)3", 0.1)?
        .with("CaF2", 0.2)?;
    let fate = Fate::new().split("S", 0.3, "SO2")?.split("F", 0.5, "HF")?;
    let predicted = furnace(fate)?.predict(&powder, &weights())?;
    let gases: f64 = predicted.gases().iter().map(|gas| gas.content).sum();
    // the hydrogen of HF comes from the hydroxide, so that much less water leaves
    let fluorine = 0.5 * 0.2 * 2.0 / (a::CA + 2.0 * a::F);
    let taken_up = predicted.gained();
    let water_kept = fluorine * (a::H + 0.5 * a::O);
    assert_close("gases", gases - water_kept - taken_up, predicted.loss(), ROUNDING);
    let lines: f64 = predicted.lines().iter().map(|line| line.net).sum();
    assert_close("lines", lines, predicted.loss(), ROUNDING);
    Ok(())
}

#[test]
fn without_air_nothing_is_taken_up_and_a_gas_needs_its_own_oxygen() -> Result<()> {
    let inert = |fate| Ignition::new(1000.0, Atmosphere::Inert, fate);
    let ore = Composition::new(Basis::Dried).with_form("FeO", 0.5)?.with("CaCO3", 0.5)?;
    let loss = inert(Fate::new())?.predict(&ore, &weights())?.loss();
    assert_close("inert", loss, 0.5 * (a::C + 2.0 * a::O) / (a::CA + a::C + 3.0 * a::O), ROUNDING);
    // what a higher oxide gives off it gives off without air too
    let mn3o4 = || Fate::new().stays_as("Mn", "Mn3O4");
    let loss = inert(mn3o4()?)?.predict(&pure("MnO2")?, &weights())?.loss();
    assert_close("MnO2", loss, 2.0 / 3.0 * a::O / (a::MN + 2.0 * a::O), ROUNDING);
    for (species, fate) in
        [("FeS2", Fate::new().lose("S", "SO2")?), ("C", Fate::new()), ("CaF2", Fate::new().lose("F", "HF")?)]
    {
        let text = inert(fate)?.predict(&pure(species)?, &weights()).map(|_| ()).unwrap_err().to_string();
        assert!(text.contains("There is no air"), "{text}");
    }
    let with_silica = Composition::new(Basis::Dried).with("C", 0.1)?.with("SiO2", 0.9)?;
    assert!(inert(Fate::new())?.predict(&with_silica, &weights()).is_err(), "silica lends no oxygen to carbon");
    // the other direction: the fusion has its own air
    let pyrite = pure("FeS2")?.with("F", Cell::Absent)?.with("Mn", Cell::Absent)?;
    let observed = LossOnIgnition::new(0.1, 1000.0)?;
    let fate = Fate::new().lose("S", "SO2")?;
    assert!(inert(fate.clone())?.to_fusion(&observed, &pyrite, &fate, &weights()).is_err());
    Ok(())
}

#[test]
fn a_gas_takes_nothing_that_is_not_there() -> Result<()> {
    for (species, element, gas) in [("NaCl", "Cl", "KCl"), ("CaF2", "F", "SiF4"), ("CaF2", "F", "BF3")] {
        let refused = furnace(Fate::new().lose(element, gas)?)?.predict(&pure(species)?, &weights());
        let text = refused.map(|_| ()).unwrap_err().to_string();
        assert!(text.contains("than the powder brings"), "{gas}: {text}");
    }
    Ok(())
}

#[test]
fn a_loss_is_explained_for_the_furnace_it_was_found_in() -> Result<()> {
    let ore = Composition::new(Basis::Dried).with("FeO", 0.26)?;
    let predicted = furnace(Fate::new())?.predict(&ore, &weights())?;
    for observed in
        [LossOnIgnition::new(-0.02, 950.0)?, LossOnIgnition::new(-0.02, 1000.0)?.with_atmosphere(Atmosphere::Inert)]
    {
        assert_eq!(predicted.explain(&observed, 4.0).unwrap_err().code().word(), "basis.mismatch");
    }
    assert!(predicted.explain(&LossOnIgnition::new(-0.02, 1000.0)?.with_atmosphere(Atmosphere::Air), 4.0).is_ok());
    Ok(())
}

#[test]
fn an_observed_gain_hides_what_left() -> Result<()> {
    let u = 0.001;
    let ore = Composition::new(Basis::Dried).with("FeO", Estimate::new(0.26, u)?)?;
    let predicted = furnace(Fate::new())?.predict(&ore, &weights())?;
    let observed = LossOnIgnition::new(Estimate::new(-0.0264, 0.0002)?, 1000.0)?;
    let explained = predicted.explain(&observed, 4.0)?;
    let per_ferrous = 0.5 * a::O / (a::FE + a::O);
    assert_close("volatile", explained.volatile, -0.0264 + 0.26 * per_ferrous, ROUNDING);
    assert!((explained.u_volatile - (u * per_ferrous).hypot(0.0002)).abs() < 1e-8);
    assert_eq!(explained.findings.len(), 1, "a quarter of a per cent of volatiles was not declared");
    Ok(())
}

/// A loss in the furnace becomes one in the fusion by what behaves differently: sulfur, fluorine, manganese.
#[test]
fn the_fusion_loses_what_the_furnace_kept_and_the_reverse() -> Result<()> {
    let u = |value| Estimate::new(value, 0.001);
    let powder = Composition::new(Basis::Dried)
        .with_form("MnO2", u(0.40)?)?
        .with_form("CaSO4", u(0.30)?)?
        .with_form("CaF2", u(0.20)?)?
        .with("H2O", u(0.10)?)?;
    let in_furnace = Fate::new().stays_as("Mn", "Mn2O3")?.split("S", Estimate::exact(0.4)?, "SO3")?.lose("F", "HF")?;
    let in_fusion = Fate::new().stays_as("Mn", "Mn3O4")?.keep("S")?.split("F", 0.25, "HF")?;
    let furnace = furnace(in_furnace)?;
    let observed = LossOnIgnition::new(Estimate::new(0.33, 0.0003)?, 1000.0)?;
    let found = furnace.to_fusion(&observed, &powder, &in_fusion, &weights())?;
    let manganese = 0.40 * (1.5 - 4.0 / 3.0) * a::O / (a::MN + 2.0 * a::O);
    let sulfate = -0.6 * 0.30 * (a::S + 3.0 * a::O) / (a::CA + a::S + 4.0 * a::O);
    let fluoride = -0.25 * 0.20 * (2.0 * a::F - a::O) / (a::CA + 2.0 * a::F);
    assert_close("beyond", found.beyond_furnace, manganese + sulfate + fluoride, ROUNDING);
    // with the predicted loss itself, the fusion's own prediction comes back
    let own = furnace.predict(&powder, &weights())?.loss();
    let back = furnace.to_fusion(&LossOnIgnition::new(own, 1000.0)?, &powder, &in_fusion, &weights())?;
    let charge = Charge::new(Sample::dried(1.0)?.made_of(powder.clone())?, tetraborate(0.0)?.weigh_g(9.0)?)?;
    assert_close("fusion", back.loss.value(), charge.fuse(&weights(), &in_fusion)?.loss_on_fusion(), ROUNDING);
    // what furnace and fusion have in common is no part of the uncertainty of their difference
    let same = furnace.to_fusion(
        &observed,
        &powder,
        &Fate::new().stays_as("Mn", "Mn2O3")?.split("S", Estimate::exact(0.4)?, "SO3")?.lose("F", "HF")?,
        &weights(),
    )?;
    assert_eq!((same.loss.value(), same.loss.u()), (0.33, Some(0.0003)));
    Ok(())
}

#[test]
fn what_the_conversion_needs_is_asked_for() -> Result<()> {
    let silent = Composition::new(Basis::Dried).with("S", Cell::Absent)?.with("F", Cell::Unknown)?;
    let refused =
        furnace(Fate::new())?.to_fusion(&LossOnIgnition::new(0.1, 1000.0)?, &silent, &Fate::new(), &weights());
    let text = refused.map(|_| ()).unwrap_err().to_string();
    assert!(text.contains("fluorine, manganese") && !text.contains("sulfur,"), "{text}");
    Ok(())
}

proptest! {
    /// Twice the content, twice its part: the loss is linear in the composition.
    #[test]
    fn the_loss_is_additive(contents in prop::collection::vec(0.001_f64..0.2, 5)) {
        let species = ["CaCO3", "FeO", "Al(OH)3", "Cu", "MgCO3"];
        let furnace = furnace(Fate::new()).unwrap();
        let alone: f64 = species.iter().zip(&contents).map(|(species, content)| {
            content * furnace.predict(&pure(species).unwrap(), &weights()).unwrap().loss()
        }).sum();
        let whole = species.iter().zip(&contents).fold(Composition::new(Basis::Dried), |whole, (species, content)| {
            whole.with_form(species, *content).unwrap()
        });
        let together = furnace.predict(&whole, &weights()).unwrap().loss();
        prop_assert!((alone - together).abs() < ROUNDING);
    }
}
