//! The books of random charges close, and agree with books kept by hand.

use beadchem::charge::{Addition, Amount, Charge, Sample};
use beadchem::composition::{Basis, Composition};
use beadchem::error::Result;
use proptest::prelude::*;

use super::config;
use super::random::{ELEMENTS, failed, form_grams, glass_grams, recipe};
use crate::support::{ROUNDING, assert_close, content, forms, tetraborate, weights};

/// An addition of nothing adds zeros: at most the order of a few sums changes.
const NOTHING_ADDED: f64 = 4.0 * f64::EPSILON;

/// Within `tolerance` of each other, relative above 1 and absolute below.
fn close(found: f64, expected: f64, tolerance: f64) -> bool {
    (found - expected).abs() <= tolerance * expected.abs().max(1.0)
}

proptest! {
    #![proptest_config(config())]

    #[test]
    fn mass_oxygen_and_every_element_close(recipe in recipe()) {
        let melt = recipe.melt().map_err(failed)?;
        let ledger = melt.ledger();
        let weighed = ledger.sample_g + ledger.flux_g + ledger.additions_g;
        prop_assert!(ledger.imbalance_g().abs() <= ROUNDING * weighed, "mass {}", ledger.imbalance_g());
        for line in &ledger.elements {
            let through = line.stayed_g.abs() + line.left_g.abs() + line.flux_loss_g.abs();
            prop_assert!(line.imbalance_g().abs() <= ROUNDING * through.max(1.0), "{line:?}");
        }
        // elements make up all the glass but what no species names
        let stayed: f64 = ledger.elements.iter().map(|line| line.stayed_g).sum();
        prop_assert!(close(stayed + ledger.unnamed_g, ledger.glass_g, ROUNDING));
        // and all the gas; water below zero is moisture that came from the air
        let left: f64 = ledger.elements.iter().map(|line| line.left_g).sum();
        let gases: f64 = ledger.gases.iter().map(|gas| gas.mass_g.max(0.0)).sum();
        prop_assert!(close(left, gases, ROUNDING), "{left} g left, {gases} g of gas");
        let oxygen = ledger.oxygen;
        let air: f64 = ledger.elements.iter().map(|line| line.from_air_g).sum();
        let moisture: f64 = ledger.gases.iter().map(|gas| (-gas.mass_g).max(0.0)).sum();
        prop_assert!(close(air, oxygen.from_air_g + moisture, ROUNDING), "{air} g from the air");
        prop_assert!(close(oxygen.demand_g, oxygen.from_oxidant_g + oxygen.from_air_g, ROUNDING));
        // only oxygen and hydrogen come from the air
        for line in &ledger.elements {
            prop_assert!(matches!(line.element.symbol(), "O" | "H") || line.from_air_g == 0.0);
        }
    }

    #[test]
    fn glass_is_what_the_books_by_hand_say(recipe in recipe()) {
        let melt = recipe.melt().map_err(failed)?;
        let (ledger, glass) = (melt.ledger(), melt.glass().map_err(failed)?);
        prop_assert!(close(melt.bead_mass_g(), recipe.glass_g(), ROUNDING));
        prop_assert!(close(ledger.unnamed_g, recipe.unnamed_g(), ROUNDING));
        let by_hand = recipe.melt_moles();
        for (symbol, weight, _, form) in ELEMENTS {
            let Some(form) = form else { continue };
            let moles = by_hand.get(symbol).copied().unwrap_or(0.0);
            let stayed = ledger.element(symbol).map_or(0.0, |line| line.stayed_g);
            prop_assert!(close(stayed, moles * weight, ROUNDING), "{symbol}: {stayed}");
            let found = content(&glass, form);
            let expected = moles * form_grams(symbol) / recipe.glass_g();
            prop_assert!(close(found, expected, ROUNDING), "{form}: {found}, by hand {expected}");
        }
        // by stream: what came with the sample and stayed, over what was weighed
        let sulfur_lost = (1.0 - recipe.kept_sulfur) * recipe.sample_moles().get("S").copied().unwrap_or(0.0);
        let so2 = sulfur_lost * (glass_grams("S") - crate::support::a::O);
        prop_assert!(close(ledger.gas_g("SO2"), so2, ROUNDING));
    }

    #[test]
    fn ratios_do_not_depend_on_the_size_of_the_charge(recipe in recipe(), factor in 0.5..2.0) {
        // tablets come in one size
        let recipe = super::random::Recipe { tablets: 0, ..recipe };
        let (one, other) = (recipe.melt().map_err(failed)?, recipe.scaled(factor).melt().map_err(failed)?);
        prop_assert!(close(other.bead_mass_g(), factor * one.bead_mass_g(), ROUNDING));
        for (k, (name, (a, b))) in
            one.plan().outputs().iter().zip(one.propagated().values().iter().zip(other.propagated().values())).enumerate()
        {
            prop_assert!(k == 0 || close(*b, *a, ROUNDING), "{name}: {a} and {b}");
        }
        let readings = one.glass().map_err(failed)?;
        let (one, other) =
            (one.undilute(&readings).map_err(failed)?, other.undilute(&readings).map_err(failed)?);
        for species in one.species() {
            let (a, b) = (one.value(species).map_err(failed)?, other.value(species).map_err(failed)?);
            prop_assert!(close(b, a, ROUNDING), "{species}: {a} and {b}");
        }
    }

    #[test]
    fn an_addition_of_nothing_is_no_addition(recipe in recipe()) {
        let none: Charge = recipe.bare(&recipe.minerals()).map_err(failed)?;
        let zeros = super::random::Recipe {
            nitrate_g: 0.0, tablets: 0, iodide_ml: 0.0, lanthana: 0.0, strontium_g: 0.0, ..recipe
        };
        let with = zeros.melt().map_err(failed)?;
        let without = none.fuse(&weights(), &zeros.fate().map_err(failed)?).map_err(failed)?;
        prop_assert!(close(with.bead_mass_g(), without.bead_mass_g(), NOTHING_ADDED));
        prop_assert!(close(with.dilution().value(), without.dilution().value(), NOTHING_ADDED));
        prop_assert!(close(with.fused_flux_ratio().value(), without.fused_flux_ratio().value(), NOTHING_ADDED));
        let (with_glass, without_glass) = (with.glass().map_err(failed)?, without.glass().map_err(failed)?);
        for entry in with_glass.entries() {
            let species = entry.species.text();
            prop_assert!(close(content(&with_glass, species), content(&without_glass, species), NOTHING_ADDED));
        }
    }

    #[test]
    fn the_order_of_the_species_does_not_count(recipe in recipe()) {
        let mut turned = recipe.minerals();
        turned.reverse();
        let charge = recipe.charge().map_err(failed)?;
        let backwards = charge
            .additions()
            .iter()
            .rev()
            .cloned()
            .try_fold(recipe.bare(&turned).map_err(failed)?, Charge::with)
            .map_err(failed)?;
        let (one, other) = (
            recipe.melt().map_err(failed)?,
            backwards.fuse(&weights(), &recipe.fate().map_err(failed)?).map_err(failed)?,
        );
        prop_assert!(close(one.bead_mass_g(), other.bead_mass_g(), ROUNDING));
        prop_assert!(close(one.loss_on_fusion(), other.loss_on_fusion(), ROUNDING));
        let (one, other) = (one.glass().map_err(failed)?, other.glass().map_err(failed)?);
        prop_assert_eq!(one.entries().len(), other.entries().len());
        for entry in one.entries() {
            let species = entry.species.text();
            prop_assert!(close(content(&one, species), content(&other, species), ROUNDING), "{}", species);
        }
    }

    #[test]
    fn late_or_cold_the_masses_are_the_same(recipe in recipe(), minutes in 0.0..20.0) {
        // an oxidised sample without nitrate, so that a cold ammonium salt is not refused
        let oxides = [("SiO2", 0.5), ("CaCO3", 0.3)];
        let melt = |late: bool| {
            let agent = Addition::release_agent("NH4I", Amount::tablets(2, 0.02)?, recipe.retained_iodine)?;
            let agent = if late { agent.late(minutes)? } else { agent };
            recipe.bare(&oxides)?.with(agent)?.fuse(&weights(), &recipe.fate()?)
        };
        let (late, cold) = (melt(true).map_err(failed)?, melt(false).map_err(failed)?);
        prop_assert_eq!(late.propagated().values(), cold.propagated().values());
        prop_assert_eq!(late.ledger(), cold.ledger());
    }

    #[test]
    fn a_stated_loss_and_an_itemised_one_give_one_bead(recipe in recipe()) {
        let itemised = recipe.melt().map_err(failed)?;
        let stated = recipe.charge().and_then(|c| c.fuse_with_loss(&weights(), itemised.loss_on_fusion()));
        let stated = stated.map_err(failed)?;
        prop_assert!(close(stated.bead_mass_g(), itemised.bead_mass_g(), ROUNDING));
        let ledger = stated.ledger();
        prop_assert!(!ledger.itemised && ledger.imbalance_g().abs() <= ROUNDING * ledger.glass_g);
        prop_assert!(close(ledger.stated_loss_g, recipe.sample_g * itemised.loss_on_fusion(), ROUNDING));
    }
}

/// Two forms of one element may stand in one sample; they stay as one oxide.
#[test]
fn two_forms_of_iron_make_one_oxide() -> beadchem::error::Result<()> {
    let both = forms(Basis::Dried, &[("FeO", 0.3), ("Fe2O3", 0.5), ("Fe", 0.1)])?;
    let sample = beadchem::charge::Sample::dried(1.0)?.made_of(both)?;
    let charge = Charge::new(sample, crate::support::tetraborate(0.0)?.weigh_g(9.0)?)?;
    let melt = charge.fuse(&weights(), &beadchem::charge::Fate::new())?;
    let glass = melt.glass()?;
    let iron: Vec<&str> = glass.entries().iter().map(|e| e.species.text()).filter(|t| t.starts_with("Fe")).collect();
    assert_eq!(iron, ["Fe2O3"]);
    Ok(())
}

#[test]
fn what_an_addition_brings_is_booked_and_taken_off() -> Result<()> {
    // 0.5 g of absorber with 0.4 mg of silica per gram; the rest is its formula
    const CONTENT: f64 = 0.0004;
    let sample = Sample::dried(0.8)?;
    let absorber = || Addition::reagent("La2O3", Amount::mass_g(0.5)?);
    let fuse = |addition: Addition| {
        Charge::new(sample.clone(), tetraborate(0.0)?.weigh_g(8.0)?)?.with(addition)?.fuse_with_loss(&weights(), 0.1)
    };
    let (pure, traced) = (fuse(absorber()?)?, fuse(absorber()?.with_blank("SiO2", CONTENT)?)?);
    assert_close("mass of the glass", traced.bead_mass_g(), pure.bead_mass_g(), ROUNDING);
    assert_close("books", traced.ledger().imbalance_g(), 0.0, ROUNDING);
    let readings = Composition::new(Basis::Bead).with("SiO2", 0.01)?;
    let difference = pure.undilute(&readings)?.value("SiO2")? - traced.undilute(&readings)?.value("SiO2")?;
    assert_close("taken off", difference, 0.5 * CONTENT / 0.8, ROUNDING);
    Ok(())
}
