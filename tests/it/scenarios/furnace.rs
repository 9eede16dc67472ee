//! The loss in the furnace: predicted species by species, held against the fusion where both do the same, and told from
//! it where they do not.

use beadchem::charge::{Fate, Ignition};
use beadchem::composition::{Atmosphere, Basis, Cell, Composition, LossOnIgnition};
use beadchem::error::Result;

use super::{m, percent};
use crate::support::{ROUNDING, a, assert_close, forms, fuse_pure, weights};

fn furnace(fate: Fate) -> Result<Ignition> {
    Ignition::new(1000.0, Atmosphere::Air, fate)
}

/// The mass change of one pure substance.
fn change(species: &str, fate: Fate) -> Result<f64> {
    let pure = Composition::new(Basis::Dried).with(species, 1.0)?;
    let predicted = furnace(fate.clone())?.predict(&pure, &weights())?.loss();
    assert_close(species, predicted, fuse_pure(species, &fate)?.loss_on_fusion(), ROUNDING);
    Ok(-predicted)
}

/// Furnace and fusion are two routes to one stoichiometry.
#[test]
fn pure_substances_change_as_their_formulas_say() -> Result<()> {
    let roasted = || Fate::new().lose("S", "SO2");
    let mn3o4 = || Fate::new().stays_as("Mn", "Mn3O4");
    let galena = a::PB + a::S;
    for (species, fate, on_paper, print) in [
        ("CuFeS2", roasted()?, (m::CUO + m::FE2O3 / 2.0) / (a::CU + a::FE + 2.0 * a::S), "-13.1"),
        ("FeS2", roasted()?, m::FE2O3 / 2.0 / (a::FE + 2.0 * a::S), "-33.4"),
        ("Cu2S", roasted()?, 2.0 * m::CUO / (2.0 * a::CU + a::S), "-0.04"),
        ("PbS", roasted()?, m::PBO / galena, "-6.7"),
        ("PbS", Fate::sulfur_kept(), (m::PBO + m::SO3) / galena, "26.7"),
        ("MnO2", mn3o4()?, m::MN3O4 / (3.0 * m::MNO2), "-12.27"),
        ("MnO", mn3o4()?, m::MN3O4 / (3.0 * m::MNO), "7.52"),
        ("CaCO3", Fate::new(), m::CAO / (m::CAO + m::CO2), "-43.97"),
        ("Al(OH)3", Fate::new(), m::AL2O3 / (m::AL2O3 + 3.0 * m::H2O), "-34.64"),
        ("FeO(OH)", Fate::new(), m::FE2O3 / (m::FE2O3 + m::H2O), "-10.14"),
    ] {
        percent(species, change(species, fate)?, on_paper - 1.0, print);
    }
    Ok(())
}

/// 26.0 % FeO behind 0.25 % of water.
#[test]
fn the_gain_of_magnetite_hides_its_water() -> Result<()> {
    let gain = 0.26 * (m::FE2O3 / (2.0 * m::FEO) - 1.0);
    let ore = forms(Basis::Dried, &[("FeO", 0.26), ("Fe2O3", 0.6904), ("H2O", 0.0025)])?;
    let predicted = furnace(Fate::new())?.predict(&ore, &weights())?;
    percent("loss", predicted.loss(), 0.0025 - gain, "-2.645");
    percent("gain", predicted.gained(), gain, "2.895");
    let explained = predicted.explain(&LossOnIgnition::new(-0.026_45, 1000.0)?, 4.0)?;
    percent("volatile", explained.volatile, -0.026_45 + gain, "0.25");
    Ok(())
}

/// 48.2 % of manganese as MnO2: oxygen leaves with the water.
#[test]
fn the_loss_of_manganese_ore_is_water_and_oxygen() -> Result<()> {
    let dioxide = 0.482 * m::MNO2 / a::MN;
    let oxygen = 0.482 / a::MN * 2.0 / 3.0 * a::O;
    let ore = forms(Basis::Dried, &[("MnO2", dioxide), ("H2O", 0.1273 - oxygen)])?;
    let predicted = furnace(Fate::new().stays_as("Mn", "Mn3O4")?)?.predict(&ore, &weights())?;
    percent("loss", predicted.loss(), 0.1273, "12.73");
    let of = |species| predicted.lines().iter().find(|line| line.species == species).map_or(f64::NAN, |line| line.net);
    percent("oxygen", of("MnO2"), oxygen, "9.36");
    percent("water", of("H2O"), 0.1273 - oxygen, "3.37");
    Ok(())
}

/// A concentrate that is roasted in the furnace and kept in the fusion: 14.1 % lost here, 68.3 % gained there.
#[test]
fn the_furnace_says_nothing_of_a_sulfide_in_the_bead() -> Result<()> {
    let metals = [("Cu", 0.280), ("Fe", 0.295), ("Zn", 0.015)];
    let contents = [("S", 0.330), ("SiO2", 0.050), ("Al2O3", 0.012), ("H2O", 0.012)];
    let mut all = metals.to_vec();
    all.extend(contents);
    let taken_up = 0.280 * a::O / a::CU + 0.295 * 1.5 * a::O / a::FE + 0.015 * a::O / a::ZN;
    let in_furnace = 0.330 + 0.012 - taken_up;
    let concentrate = forms(Basis::Dried, &all)?.with("F", Cell::Absent)?.with("Mn", Cell::Absent)?;
    let roast = furnace(Fate::new().lose("S", "SO2")?)?;
    percent("furnace", roast.predict(&concentrate, &weights())?.loss(), in_furnace, "14.1");
    let observed = LossOnIgnition::new(in_furnace, 1000.0)?;
    let fusion = roast.to_fusion(&observed, &concentrate, &Fate::sulfur_kept(), &weights())?;
    let kept = 0.012 - taken_up - 0.330 * 3.0 * a::O / a::S;
    percent("fusion", fusion.loss.value(), kept, "-68.3");
    assert_close("beyond the furnace", fusion.beyond_furnace, kept - in_furnace, ROUNDING);
    Ok(())
}
