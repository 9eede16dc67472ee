//! Bases go round, in compositions and in results; what cannot be said of a composition is refused.

use beadchem::charge::{Charge, Form, Melt, Sample};
use beadchem::code::Code;
use beadchem::composition::{Basis, BasisLinks, Cell, Composition, LossOnIgnition};
use beadchem::error::Result;
use proptest::prelude::*;

use super::config;
use super::random::failed;
use crate::support::{ROUNDING, content, forms, tetraborate, weights};

const IGNITION_C: f64 = 1000.0;

/// The four bases a powder can be on.
fn all() -> Result<[Basis; 4]> {
    Ok([Basis::AsReceived, Basis::AirEquilibrated, Basis::Dried, Basis::ignited(IGNITION_C)?])
}

fn links(moisture: f64, air_moisture: f64, loss: f64) -> Result<BasisLinks> {
    let loss = LossOnIgnition::new(loss, IGNITION_C)?;
    Ok(BasisLinks::default().moisture(moisture)?.air_moisture(air_moisture)?.loss_on_ignition(loss))
}

/// Grams of material on a basis per gram dried, by hand.
fn grams(basis: Basis, [moisture, air_moisture, loss]: [f64; 3]) -> f64 {
    match basis {
        Basis::AsReceived => 1.0 / (1.0 - moisture),
        Basis::AirEquilibrated => 1.0 / (1.0 - air_moisture),
        Basis::Dried => 1.0,
        Basis::Ignited { .. } => 1.0 - loss,
        _ => f64::NAN,
    }
}

/// 0.8 g of a powder on this basis that loses 5 %, in 8 g of flux that loses 0.4 %.
fn bead(basis: Basis) -> Result<Melt> {
    let charge = Charge::new(Sample::new(0.8, basis)?, tetraborate(0.004)?.weigh_g(8.0)?)?;
    charge.fuse_with_loss(&weights(), 0.05)
}

proptest! {
    #![proptest_config(config())]

    #[test]
    fn every_basis_leads_to_every_other_and_back(
        moisture in 0.0..0.4, air in 0.0..0.1, loss in -0.3..0.6, silica in 0.01..0.6,
    ) {
        let links = links(moisture, air, loss).map_err(failed)?;
        for from in all().map_err(failed)? {
            for to in all().map_err(failed)? {
                let start = forms(from, &[("SiO2", silica), ("FeO", 0.1)])
                    .and_then(|c| c.with("MgO", Cell::Below { limit: 0.001 }))
                    .and_then(|c| c.with("K2O", Cell::Unknown))
                    .map_err(failed)?;
                let there = start.on(to, &links).map_err(failed)?;
                let factor = grams(from, [moisture, air, loss]) / grams(to, [moisture, air, loss]);
                prop_assert!((content(&there, "SiO2") - silica * factor).abs() <= ROUNDING, "{from} to {to}");
                match there.get("MgO") {
                    Some(Cell::Below { limit }) => prop_assert!((limit - 0.001 * factor).abs() <= ROUNDING),
                    other => prop_assert!(false, "{other:?}"),
                }
                prop_assert_eq!(there.get("K2O"), Some(&Cell::Unknown));
                let back = there.on(from, &links).map_err(failed)?;
                prop_assert!((content(&back, "SiO2") - silica).abs() <= ROUNDING, "{from} to {to} and back");
                prop_assert_eq!(back.basis(), from);
            }
        }
    }

    /// A powder weighed on any basis, reported on any other.
    #[test]
    fn results_follow_the_same_factors(moisture in 0.0..0.4, air in 0.0..0.1, loss in -0.3..0.6, reading in 0.001..0.1) {
        let links = links(moisture, air, loss).map_err(failed)?;
        for weighed in all().map_err(failed)? {
            let melt = bead(weighed).map_err(failed)?;
            let by_hand: f64 = reading * (0.8 * 0.95 + 8.0 * 0.996) / 0.8;
            let read = Composition::new(Basis::Bead).with("CaO", reading).map_err(failed)?;
            let result = melt.undilute(&read).map_err(failed)?;
            let as_weighed: f64 = result.value("CaO").map_err(failed)?;
            prop_assert!((as_weighed - by_hand).abs() <= ROUNDING);
            for asked in all().map_err(failed)? {
                let factor = grams(weighed, [moisture, air, loss]) / grams(asked, [moisture, air, loss]);
                let on = result.on(asked, &links, &Form::AsRead).map_err(failed)?;
                prop_assert!((on.value("CaO").map_err(failed)? - by_hand * factor).abs() <= ROUNDING);
                let back = on.on(weighed, &links, &Form::AsRead).map_err(failed)?;
                prop_assert!((back.value("CaO").map_err(failed)? - by_hand).abs() <= ROUNDING);
            }
        }
    }
}

#[test]
fn a_total_loss_from_as_received_is_a_product() -> Result<()> {
    // moisture 6.2 %, loss on ignition 12.1 % of the dried clay: 1 - 0.938 * 0.879 = 17.55 %, not 18.3
    let links = links(0.062, 0.01, 0.121)?;
    let left = 1.0 / links.between(Basis::AsReceived, Basis::ignited(IGNITION_C)?)?;
    assert!((1.0 - left - (1.0 - 0.938 * 0.879)).abs() <= ROUNDING);
    Ok(())
}

#[test]
fn bases_that_do_not_lead_to_each_other_are_refused() -> Result<()> {
    let dried = Composition::new(Basis::Dried).with("CaO", 0.5)?;
    let nothing = BasisLinks::default();
    let other_temperature = BasisLinks::default().loss_on_ignition(LossOnIgnition::new(0.1, 950.0)?);
    let all_lost = BasisLinks::default().loss_on_ignition(LossOnIgnition::new(1.0, IGNITION_C)?);
    let melt = Charge::new(Sample::dried(0.8)?, tetraborate(0.0)?.weigh_g(8.0)?)?.fuse_with_loss(&weights(), 0.0)?;
    let ignited = Basis::ignited(IGNITION_C)?;
    let result = melt.undilute(&Composition::new(Basis::Bead).with("CaO", 0.05)?)?;
    for (case, code, wanted) in [
        ("moisture not given", dried.on(Basis::AsReceived, &nothing).err().map(|e| e.code()), Code::BasisNeeds),
        (
            "air moisture not given",
            dried.on(Basis::AirEquilibrated, &nothing).err().map(|e| e.code()),
            Code::BasisNeeds,
        ),
        ("loss not given", dried.on(ignited, &nothing).err().map(|e| e.code()), Code::BasisNeeds),
        ("loss at 950 C", dried.on(ignited, &other_temperature).err().map(|e| e.code()), Code::BasisNeeds),
        ("nothing left", dried.on(ignited, &all_lost).err().map(|e| e.code()), Code::BasisImpossible),
        ("to the bead", dried.on(Basis::Bead, &nothing).err().map(|e| e.code()), Code::BasisImpossible),
        (
            "result, loss not given",
            result.on(ignited, &nothing, &Form::AsRead).err().map(|e| e.code()),
            Code::BasisNeeds,
        ),
        (
            "result, nothing left",
            result.on(ignited, &all_lost, &Form::AsRead).err().map(|e| e.code()),
            Code::BasisImpossible,
        ),
        ("powder read as a bead", melt.undilute(&dried).err().map(|e| e.code()), Code::BasisMismatch),
        (
            "sample dried, composition ignited",
            Sample::dried(0.8)?.made_of(Composition::new(ignited)).err().map(|e| e.code()),
            Code::BasisMismatch,
        ),
        (
            "loss added to ignited oxides",
            Composition::new(ignited).total(Some(&LossOnIgnition::new(0.1, IGNITION_C)?)).err().map(|e| e.code()),
            Code::BasisMismatch,
        ),
        ("no basis", Basis::parse("").err().map(|e| e.code()), Code::BasisMissing),
        ("all moisture", nothing.clone().moisture(1.0).err().map(|e| e.code()), Code::NumberOutOfRange),
        ("a gain while drying", nothing.clone().moisture(-0.004).err().map(|e| e.code()), Code::NumberOutOfRange),
        ("a loss beyond all", LossOnIgnition::new(1.27, IGNITION_C).err().map(|e| e.code()), Code::NumberOutOfRange),
        (
            "a gain beyond reason",
            LossOnIgnition::new(-1.51, IGNITION_C).err().map(|e| e.code()),
            Code::NumberOutOfRange,
        ),
    ] {
        assert_eq!(code, Some(wanted), "{case}");
    }
    Ok(())
}

#[test]
fn compositions_refuse_what_they_cannot_mean() -> Result<()> {
    let ore = || Composition::new(Basis::Dried).with("Fe2O3", 0.5);
    for (case, outcome, wanted) in [
        ("twice", ore()?.with("Fe2O3", 0.1), Code::SpeciesDoubled),
        ("FeO beside total Fe2O3", ore()?.with("FeO", 0.1), Code::SpeciesElementTwice),
        ("FeO a form, Fe2O3 not", ore()?.with_form("FeO", 0.1), Code::SpeciesElementTwice),
        ("metal beside its oxide", ore()?.with("Fe", 0.1), Code::SpeciesElementTwice),
        ("two oxides of manganese", ore()?.with("MnO", 0.1)?.with("MnO2", 0.1), Code::SpeciesElementTwice),
        ("per cent as a fraction", ore()?.with("SiO2", 12.3), Code::NumberOutOfRange),
        ("far below zero", ore()?.with("SiO2", -0.6), Code::NumberOutOfRange),
        ("not a number", ore()?.with("SiO2", f64::NAN), Code::NumberNotFinite),
        ("a limit that is none", ore()?.with("SiO2", Cell::Below { limit: f64::INFINITY }), Code::NumberNotFinite),
        ("no formula", ore()?.with("CuS04", 0.1), Code::FormulaSyntax),
    ] {
        assert_eq!(outcome.err().map(|refused| refused.code()), Some(wanted), "{case}");
    }
    let twice = Composition::new(Basis::Dried).with("Ni", 0.011)?.with("NiO", 0.014).err();
    let text = twice.map(|refused| refused.to_string()).unwrap_or_default();
    assert!(text.starts_with("Ni and NiO refer to the same nickel; keep one."), "{text}");
    // forms declared apart stand beside each other, and a negative trace stays negative
    let apart =
        Composition::new(Basis::Dried).with_form("FeO", 0.26)?.with_form("Fe2O3", 0.69)?.with("SO3", -0.0002)?;
    assert!((apart.total(None)?.value - 0.9498).abs() <= ROUNDING);
    Ok(())
}
