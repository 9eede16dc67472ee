//! A weighed bead: what it can be, four readings of a difference, and inputs adjusted by it.

use beadchem::charge::{Charge, Completeness, FluxLot, Melt, Sample};
use beadchem::composition::{Basis, Composition};
use beadchem::error::Result;
use beadchem::uncertainty::Estimate;

use crate::support::{ROUNDING, assert_close, weights};

fn u(value: f64, u: f64) -> Estimate {
    Estimate::new(value, u).unwrap()
}

fn melt(flux_loss: Estimate) -> Result<Melt> {
    let lot = FluxLot::new("F-1", [("Li2B4O7", 1.0)], "1050 C, 18 min", flux_loss)?;
    let charge = Charge::new(Sample::dried(u(0.8, 0.0001))?, lot.weigh_g(u(8.0, 0.0001))?)?;
    charge.fuse_with_loss(&weights(), u(0.02, 0.0003))
}

#[test]
fn each_reading_explains_the_bead_and_costs_what_it_costs() -> Result<()> {
    let melt = melt(u(0.004, 0.0002))?;
    let (predicted, missing) = (melt.bead_mass_g(), 0.042);
    let check = melt.check_bead_mass(u(predicted - missing, 0.0003), 4.0)?;
    let found: Vec<(f64, f64)> = check.readings.iter().map(|r| (r.by_glass, r.by_intensities)).collect();
    // melt left behind: nothing
    assert_eq!(found[0], (0.0, 0.0));
    // powder lost: the glass holds less powder; 42 mg of glass is 42/0.98 mg of it
    let powder = 0.8 - missing / 0.98;
    assert_close("powder, b", found[1].0, (predicted - missing) / powder / (predicted / 0.8) - 1.0, ROUNDING);
    assert_close("powder, a", found[1].1, 0.8 / powder - 1.0, ROUNDING);
    // flux lost: by intensities in proportion to the flux, by glass to the glass
    assert_close("flux, b", found[2].0, -missing / predicted, ROUNDING);
    assert_close("flux, a", found[2].1, -missing / (8.0 * 0.996), ROUNDING);
    // a species gone that was counted: by intensities nothing, if it is measured
    assert_close("species, b", found[3].0, -missing / predicted, ROUNDING);
    assert_eq!(found[3].1, 0.0);
    // the flux loss that would explain it does not rest on the one entered
    let (_, implied) = check.readings[2].input.clone().unwrap_or_default();
    assert_close("implied", implied, 0.004 + missing / 8.0, ROUNDING);
    let from_weighings = (0.0003_f64.powi(2) + (0.8 * 0.0003_f64).powi(2) + 2e-8).sqrt() / 8.0;
    assert!((check.readings[2].u / from_weighings - 1.0).abs() < 0.01, "{}", check.readings[2].u);
    assert!(check.findings[0].text.contains("melt left in the crucible: changes no result"));
    Ok(())
}

#[test]
fn melt_cannot_be_left_where_the_bead_was_cast() -> Result<()> {
    let melt = melt(u(0.004, 0.0002))?;
    let bead = u(melt.bead_mass_g() - 0.042, 0.0003);
    let check = melt.check_bead_mass_of(bead, &Completeness::CastInCrucible, 4.0)?;
    assert!(!check.readings[0].possible && !check.findings[0].text.contains("changes no result"));
    Ok(())
}

#[test]
fn an_adjusted_melt_is_the_least_squares_answer() -> Result<()> {
    let melt = melt(u(0.004, 0.0004))?;
    let weighed = u(melt.bead_mass_g() + 0.003, 0.0003);
    let adjusted = melt.adjust(weighed, &Completeness::CastInCrucible, 4.0)?;
    // by hand: two adjustable inputs, two weighings that are not
    let (by_flux, by_loss) = (-8.0, -0.8);
    let variance = (8.0 * 0.0004_f64).powi(2)
        + (0.8 * 0.0003_f64).powi(2)
        + (0.98 * 0.0001_f64).powi(2)
        + (0.996 * 0.0001_f64).powi(2)
        + 0.0003_f64.powi(2);
    let gain = by_flux * 0.0004_f64.powi(2) / variance;
    let change = &adjusted.changes[0];
    assert_close("flux loss", change.after, 0.004 + 0.003 * gain, ROUNDING);
    let left = 0.0004_f64.powi(2) - (by_flux * 0.0004_f64.powi(2)).powi(2) / variance;
    assert_close("its u", change.u_after, left.sqrt(), ROUNDING);
    let gain = by_loss * 0.0003_f64.powi(2) / variance;
    assert_close("loss", adjusted.changes[1].after, 0.02 + 0.003 * gain, ROUNDING);
    // results of the adjusted melt: the inputs moved, and what is left of their uncertainty
    let mass = adjusted.melt.bead_mass_g();
    let expected = 8.0 * (1.0 - adjusted.changes[0].after) + 0.8 * (1.0 - adjusted.changes[1].after);
    assert_close("bead", mass, expected, ROUNDING);
    let readings = Composition::new(Basis::Bead).with("CaO", Estimate::exact(0.05)?)?;
    let (before, after) = (melt.undilute(&readings)?, adjusted.melt.undilute(&readings)?);
    assert_close("CaO", after.value("CaO")?, 0.05 * mass / 0.8, ROUNDING);
    assert!(after.u("CaO")? < 0.5 * before.u("CaO")?);
    // the books of the adjusted melt are those of its own inputs, and a bead adjusts once
    let ledger = adjusted.melt.ledger();
    assert_close("ledger", ledger.glass_g, mass, ROUNDING);
    assert!(ledger.imbalance_g().abs() < ROUNDING);
    let again = adjusted.melt.adjust(u(mass, 0.0003), &Completeness::CastInCrucible, 4.0);
    assert_eq!(again.map(|_| ()).unwrap_err().code().word(), "bead-mass.not-adjusted");
    assert!(adjusted.melt.check_bead_mass(u(mass, 0.0003), 4.0).is_err());
    Ok(())
}

#[test]
fn nothing_is_adjusted_without_completeness_consistency_or_uncertainty() -> Result<()> {
    let sound = melt(u(0.004, 0.0002))?;
    let near = u(sound.bead_mass_g() - 0.001, 0.0003);
    let far = u(sound.bead_mass_g() - 0.042, 0.0003);
    let refused = |melt: &Melt, bead: &Estimate, completeness| {
        let refused = melt.adjust(bead.clone(), &completeness, 4.0).map(|_| ()).unwrap_err();
        assert_eq!(refused.code().word(), "bead-mass.not-adjusted");
        refused.to_string()
    };
    assert!(refused(&sound, &near, Completeness::NotKnown).contains("weigh what stayed"));
    let text = refused(&sound, &far, Completeness::CastInCrucible);
    assert!(text.contains("nothing is adjusted") && text.contains("powder lost"), "{text}");
    let bare = melt(Estimate::unstated(0.004)?)?;
    assert!(refused(&bare, &near, Completeness::CastInCrucible).contains("flux loss of lot F-1"));
    Ok(())
}

#[test]
fn another_lot_is_named_only_where_it_fits() -> Result<()> {
    let lot = |name: &str, loss: f64| FluxLot::new(name, [("Li2B4O7", 1.0)], "1050 C, 18 min", u(loss, 0.0002));
    let melt = melt(u(0.004, 0.0002))?;
    let bead = u(melt.bead_mass_g() - 8.0 * 0.003, 0.0003);
    let others = [lot("F-2", 0.007)?, lot("F-3", 0.010)?];
    let check = melt.check_bead_mass(bead, 4.0)?.against_lots(&melt, &others)?;
    let named: Vec<&str> = check.findings.iter().map(|finding| finding.quantity.as_str()).collect();
    assert_eq!(named, ["bead mass", "F-2"]);
    let clean = melt.check_bead_mass(u(melt.bead_mass_g(), 0.0003), 4.0)?.against_lots(&melt, &others)?;
    assert!(clean.findings.is_empty());
    Ok(())
}

#[test]
fn a_heavy_bead_has_lost_no_powder() -> Result<()> {
    let melt = melt(u(0.004, 0.0002))?;
    let check = melt.check_bead_mass(u(melt.bead_mass_g() + 0.02, 0.0003), 4.0)?;
    let possible: Vec<bool> = check.readings.iter().map(|reading| reading.possible).collect();
    assert_eq!(possible, [false, false, true, true]);
    Ok(())
}

#[test]
fn a_share_is_not_adjusted_past_the_whole() -> Result<()> {
    let lot = FluxLot::new("F-1", [("Li2B4O7", 1.0)], "1050 C, 18 min", Estimate::exact(0.0)?)?;
    let ore = Composition::new(Basis::Dried).with("CaSO4", Estimate::exact(1.0)?)?;
    let sample = Sample::dried(Estimate::exact(0.8)?)?.made_of(ore)?;
    let fate = beadchem::charge::Fate::new().split("S", u(0.99, 0.05), "SO3")?;
    let melt = Charge::new(sample, lot.weigh_g(Estimate::exact(8.0)?)?)?.fuse(&weights(), &fate)?;
    let heavy = u(melt.bead_mass_g() + 0.02, 0.0003);
    let refused = melt.adjust(heavy, &Completeness::CastInCrucible, 4.0).map(|_| ()).unwrap_err().to_string();
    assert!(refused.contains("kept share of S") && refused.contains("between 0 and 1"), "{refused}");
    Ok(())
}
