//! What a charge refuses, and in which words. Dangerous combinations: care sheets of platinum makers and common
//! practice of fusion laboratories. Words of the messages: our own.

use beadchem::charge::{Addition, Amount, Charge, Fate, FluxLot, ReducesTo, Sample};
use beadchem::code::{Code, Severity};
use beadchem::composition::{Basis, Composition};
use beadchem::error::{Error, Result};
use beadchem::uncertainty::{Estimate, Inputs};

use crate::support::{forms, fuse_pure, tetraborate, weights};

/// A charge of one oxide, sulfide or nothing known.
fn charge(contents: &[(&str, f64)]) -> Result<Charge> {
    let sample = Sample::dried(0.5)?.made_of(forms(Basis::Dried, contents)?)?;
    Charge::new(sample, tetraborate(0.004)?.weigh_g(8.0)?)
}

fn gram() -> Result<Amount> {
    Amount::mass_g(1.0)
}

fn nitrate() -> Result<Addition> {
    Addition::oxidant("NaNO3", gram()?, ReducesTo::NO)
}

fn ammonium() -> Result<Addition> {
    Addition::release_agent("NH4I", Amount::tablets(1, 0.02)?, 0.6)
}

fn code<T>(outcome: Result<T>) -> Option<Code> {
    outcome.err().map(|refused| refused.code())
}

fn text<T>(outcome: Result<T>) -> String {
    outcome.err().map(|refused| refused.to_string()).unwrap_or_default()
}

#[test]
fn substances_that_ruin_platinum_or_explode_are_refused() -> Result<()> {
    for species in ["Na2O2", "K2O2", "Li2O2", "BaO2", "NaO2", "NaOH", "KOH", "LiOH(H2O)"] {
        for outcome in [Addition::reagent(species, gram()?), Addition::oxidant(species, gram()?, ReducesTo::NO)] {
            assert_eq!(code(outcome), Some(Code::AdditionRefused), "{species}");
        }
    }
    for species in ["NH4NO3", "N2H8(NO3)2"] {
        assert_eq!(code(Addition::oxidant(species, gram()?, ReducesTo::N2)), Some(Code::AdditionRefused), "{species}");
    }
    for species in ["KClO3", "NH4ClO4", "KIO3", "LiClO4(H2O)3"] {
        assert_eq!(code(Addition::release_agent(species, gram()?, 0.5)), Some(Code::AdditionRefused), "{species}");
    }
    // hydrate water is neither ammonium nor an oxidant
    assert_eq!(code(Addition::release_agent("LiI(H2O)3", gram()?, 0.5)), None);
    let hydrate = Addition::oxidant("Ca(NO3)2(H2O)4", gram()?, ReducesTo::NO)?;
    assert_eq!(code(charge(&[("FeS2", 0.5), ("SiO2", 0.5)])?.with(hydrate)), None);
    for species in ["Na2CO3", "Li2CO3", "La2O3", "SrCO3", "Co3O4", "Ca(OH)2", "Na2B4O7(H2O)10"] {
        assert_eq!(code(Addition::reagent(species, gram()?)), None, "{species}");
    }
    // a sulfate says how much of its sulfur stays
    assert_eq!(code(Addition::reagent("K2SO4", gram()?)), Some(Code::ChargeIncomplete));
    assert_eq!(code(Addition::sulfate("K2SO4", gram()?, 1.0)), None);
    Ok(())
}

#[test]
fn additions_that_leave_something_open_are_asked_about() -> Result<()> {
    for (case, outcome) in [
        ("a nitrate without a route", Addition::reagent("NaNO3", gram()?)),
        ("a bromide without its share", Addition::reagent("LiBr", gram()?)),
        ("no halogen", Addition::release_agent("La2O3", gram()?, 0.5)),
        ("no nitrate", Addition::oxidant("La2O3", gram()?, ReducesTo::NO)),
    ] {
        assert_eq!(code(outcome), Some(Code::ChargeIncomplete), "{case}");
    }
    for (case, outcome) in [
        ("share in per cent", Addition::release_agent("LiBr", gram()?, 40.0)),
        ("two hours and more", ammonium()?.late(121.0)),
        ("before it was weighed", ammonium()?.late(-1.0)),
    ] {
        assert_eq!(code(outcome), Some(Code::NumberOutOfRange), "{case}");
    }
    assert_eq!(code(ReducesTo::from_word("N2O")), Some(Code::WordUnknown));
    let mut all = charge(&[("SiO2", 1.0)])?;
    all = all.with(Addition::reagent("La2O3", Amount::share_of_flux(0.5)?)?)?;
    let too_much = all.with(Addition::reagent("SrCO3", Amount::share_of_flux(0.45)?)?);
    assert_eq!(code(too_much), Some(Code::NumberOutOfRange));
    Ok(())
}

#[test]
fn ammonium_never_lies_cold_beside_nitrate_or_reduced_matter() -> Result<()> {
    let silica = charge(&[("SiO2", 1.0)])?;
    for (case, outcome) in [
        ("nitrate first", silica.clone().with(nitrate()?)?.with(ammonium()?)),
        ("ammonium first", silica.clone().with(ammonium()?)?.with(nitrate()?)),
        ("sulfide", charge(&[("FeS2", 0.5), ("SiO2", 0.5)])?.with(ammonium()?)),
        ("metal", charge(&[("Fe", 0.1), ("SiO2", 0.9)])?.with(ammonium()?)),
        ("carbide", charge(&[("SiC", 0.1), ("SiO2", 0.9)])?.with(ammonium()?)),
    ] {
        let refused = outcome.err();
        assert_eq!(refused.as_ref().map(Error::code), Some(Code::AdditionRefused), "{case}");
        assert!(refused.is_some_and(|refused| refused.hint().contains("late")), "{case}");
    }
    // alone in the cold charge, or late into a melt that is oxidised
    assert_eq!(code(silica.clone().with(ammonium()?)), None);
    let late = silica.with(nitrate()?)?.with(ammonium()?.late(3.0)?)?.fuse(&weights(), &Fate::new())?;
    let cautions: Vec<Code> =
        late.findings().iter().filter(|f| f.severity() == Severity::Caution).map(|f| f.code).collect();
    assert_eq!(cautions, [Code::FumeNitrate, Code::FumeHalide]);
    Ok(())
}

#[test]
fn cautions_name_what_is_dangerous_each_once() -> Result<()> {
    let galena = charge(&[("PbS", 0.3), ("PbSO4", 0.1), ("CaF2", 0.2), ("SiO2", 0.4)])?.with(nitrate()?)?;
    let melt = galena.fuse(&weights(), &Fate::sulfur_kept().lose("F", "HF")?)?;
    for wanted in [Code::FumeNitrate, Code::PlatinumUnoxidised, Code::FumeFluoride, Code::FumeToxicElement] {
        assert_eq!(melt.findings().iter().filter(|finding| finding.code == wanted).count(), 1, "{}", wanted.word());
    }
    Ok(())
}

#[test]
fn a_fate_that_is_a_fact_of_the_laboratory_is_asked_for() -> Result<()> {
    for (species, element) in [
        ("FeS2", "sulfur"),
        ("CaSO4", "sulfur"),
        ("CaF2", "fluorine"),
        ("NaCl", "chlorine"),
        ("Mn", "manganese"),
        ("MnS", "manganese"),
        ("MnCO3", "manganese"),
        ("As", "arsenic"),
    ] {
        let refused = fuse_pure(species, &Fate::new()).err();
        assert_eq!(refused.as_ref().map(Error::code), Some(Code::FateNotStated), "{species}");
        let text = refused.map(|refused| refused.to_string()).unwrap_or_default();
        assert!(text.contains(element) && text.contains("fact of your fusion"), "{species}: {text}");
    }
    // one oxide is taken to stay as it is, and that is said
    let melt = fuse_pure("MnO2", &Fate::new())?;
    assert_eq!(melt.findings().iter().filter(|finding| finding.code == Code::FateAssumed).count(), 1);
    let fates = [
        ("As has no usual oxide", Fate::new().keep("As"), Code::FateNotStated),
        ("SO2 holds no fluorine", Fate::new().lose("F", "SO2"), Code::FactorNoCommonElement),
        ("Fe2O3 is no oxide of manganese", Fate::new().stays_as("Mn", "Fe2O3"), Code::FactorNoCommonElement),
        ("88 for 0.88", Fate::new().split("S", 88.0, "SO2"), Code::NumberOutOfRange),
        ("no element", Fate::new().keep("Xx"), Code::WeightsUnknown),
    ];
    for (case, outcome, wanted) in fates {
        assert_eq!(code(outcome), Some(wanted), "{case}");
    }
    // the flux and an addition that leave one element in two states
    let oxides = charge(&[("Mn3O4", 0.5), ("SiO2", 0.5)])?.with(Addition::reagent("MnO2", gram()?)?)?;
    assert_eq!(code(oxides.fuse(&weights(), &Fate::new().stays_as("Mn", "Mn3O4")?)), None);
    Ok(())
}

#[test]
fn an_element_declared_gone_cannot_be_read() -> Result<()> {
    let melt = charge(&[("CaF2", 0.9), ("SiO2", 0.1)])?.fuse(&weights(), &Fate::new().lose("F", "HF")?)?;
    let read = Composition::new(Basis::Bead).with("F", 0.01)?;
    assert_eq!(code(melt.undilute(&read)), Some(Code::AnalyteLost));
    // a bare 0 and a 0 with an uncertainty say the same of the value
    for nothing_kept in [Estimate::unstated(0.0)?, Estimate::new(0.0, 0.01)?] {
        let melt = charge(&[("CaF2", 0.9), ("SiO2", 0.1)])?;
        let melt = melt.fuse(&weights(), &Fate::new().split("F", nothing_kept, "HF")?)?;
        assert_eq!(code(melt.undilute(&read)), Some(Code::AnalyteLost));
    }
    Ok(())
}

#[test]
fn an_addition_of_what_the_sample_loses_needs_a_form() -> Result<()> {
    let arsenical = charge(&[("As2O3", 0.1), ("SiO2", 0.9)])?.with(Addition::reagent("As2O5", gram()?)?)?;
    assert_eq!(code(arsenical.fuse(&weights(), &Fate::new().lose("As", "As4O6")?)), Some(Code::FateNotStated));
    let kept = arsenical.fuse(&weights(), &Fate::new().stays_as("As", "As2O5")?)?;
    let ledger = kept.ledger();
    assert_eq!(ledger.element("As").and_then(|line| line.stays_as.as_deref()), Some("As2O5"));
    Ok(())
}

#[test]
fn a_gas_takes_no_more_than_the_charge_holds() -> Result<()> {
    // CaF2 of 78.07 g/mol needs half a mole of silicon, 0.38 g of SiO2 per g; without silica there is none to take
    let silicon = Fate::new().lose("F", "SiF4")?;
    assert_eq!(code(fuse_pure("CaF2", &silicon)), Some(Code::MeltNotPositive));
    let enough = charge(&[("CaF2", 0.5), ("SiO2", 0.5)])?.fuse(&weights(), &silicon)?;
    assert!(crate::support::content(&enough.glass()?, "SiO2") > 0.0);
    // salt that leaves as it came takes its own sodium, and no more
    let salt = fuse_pure("NaCl", &Fate::new().lose("Cl", "NaCl")?)?;
    crate::support::assert_close("salt", salt.loss_on_fusion(), 1.0, crate::support::ROUNDING);
    crate::support::assert_close("flux alone", salt.bead_mass_g(), 9.0, crate::support::ROUNDING);
    Ok(())
}

#[test]
fn one_element_is_read_once() -> Result<()> {
    let melt = charge(&[("Fe3O4", 1.0)])?.fuse(&weights(), &Fate::new())?;
    let forms = Composition::new(Basis::Bead).with_form("FeO", 0.01)?.with_form("Fe2O3", 0.04)?;
    assert_eq!(code(melt.undilute(&forms)), Some(Code::SpeciesElementTwice));
    Ok(())
}

#[test]
fn a_charge_without_what_it_needs_is_refused() -> Result<()> {
    let bare = Charge::new(Sample::dried(0.5)?, tetraborate(0.004)?.weigh_g(8.0)?)?;
    assert_eq!(code(bare.fuse(&weights(), &Fate::new())), Some(Code::ChargeIncomplete));
    assert_eq!(code(bare.fuse_with_loss(&weights(), 1.01)), Some(Code::NumberOutOfRange));
    assert_eq!(code(bare.fuse_with_loss(&weights(), -1.51)), Some(Code::NumberOutOfRange));
    let no_parts: [(&str, f64); 0] = [];
    assert_eq!(code(FluxLot::new("F-1", no_parts, "1050 C", 0.0)), Some(Code::ChargeIncomplete));
    assert_eq!(code(FluxLot::new("F-1", [("LiBO2", -1.0)], "1050 C", 0.0)), Some(Code::NumberOutOfRange));
    assert_eq!(code(FluxLot::new("F-1", [("LiBO2", 1.0)], "1050 C", 0.82)), Some(Code::NumberOutOfRange));
    // a replicate a little below zero is legitimate
    assert_eq!(code(FluxLot::new("F-1", [("LiBO2", 1.0)], "1050 C", -0.0001)), None);
    let doubled = tetraborate(0.0)?.with_blank("SiO2", 0.0001)?.with_blank("SiO2", 0.0001);
    assert_eq!(code(doubled), Some(Code::SpeciesDoubled));
    Ok(())
}

#[test]
fn messages_name_number_bound_cause_and_repair() -> Result<()> {
    assert_eq!(
        text(Sample::dried(-0.0012)),
        "Sample mass is -0.0012 g. A mass must be above zero; was the tare taken after loading?"
    );
    assert_eq!(code(Sample::dried(0.0)), Some(Code::MassNotPositive));
    for blank in [f64::NAN, f64::INFINITY, f64::NEG_INFINITY] {
        let flux = tetraborate(0.0)?.weigh_g(blank);
        assert_eq!(code(flux.clone()), Some(Code::MassMissing));
        assert_eq!(text(flux), "Flux mass is missing. Give a number in grams or leave the bead out.");
    }
    assert_eq!(
        text(Sample::dried(500.3)),
        "Sample mass 500.3 g is outside 0.01-20 g. Did you mean 0.5003 g (500.3 mg)?"
    );
    let loss =
        text(Charge::new(Sample::dried(0.5)?, tetraborate(0.0)?.weigh_g(8.0)?)?.fuse_with_loss(&weights(), 1.27));
    assert!(
        loss.contains("127 %") && loss.contains("-150 % to 100 %") && loss.contains("more than the whole"),
        "{loss}"
    );
    // an element beside its oxide in the readings of a bead
    let twice = text(Composition::new(Basis::Bead).with("Ni", 0.0011)?.with("NiO", 0.0014));
    assert!(twice.starts_with("Ni and NiO refer to the same nickel; keep one."), "{twice}");
    // correlations that contradict each other
    let mut inputs = Inputs::new();
    for name in ["L", "l_f", "m_b"] {
        inputs.push(name, Estimate::new(1.0, 0.1)?)?;
    }
    let stated = [("L", "l_f", 0.9), ("l_f", "m_b", 0.9), ("L", "m_b", -0.9)];
    let outcome = inputs.correlate(&stated);
    assert_eq!(code(outcome.clone()), Some(Code::CorrelationImpossible));
    let impossible = text(outcome);
    assert!(impossible.starts_with("Correlations given for L, l_f, m_b") && impossible.contains("eigenvalue"));
    Ok(())
}

#[test]
fn a_bead_that_does_not_weigh_what_it_should_is_named_and_nothing_is_changed() -> Result<()> {
    let lot = FluxLot::new("F-1", [("Li2B4O7", 1.0)], "1050 C, 18 min", Estimate::new(0.004, 0.0003)?)?;
    let charge = Charge::new(Sample::dried(Estimate::exact(0.8)?)?, lot.weigh_g(Estimate::exact(8.0)?)?)?;
    let melt = charge.fuse_with_loss(&weights(), Estimate::exact(0.02)?)?;
    // 0.8 * 0.98 + 8 * 0.996 = 8.752; 42 mg light, u = sqrt((8 * 0.0003)^2 + 0.0003^2) = 2.4187 mg
    let check = melt.check_bead_mass(Estimate::new(8.710, 0.0003)?, 4.0)?;
    let by_hand = ((8.0_f64 * 0.0003).powi(2) + 0.0003_f64.powi(2)).sqrt();
    assert!((check.difference_g + 0.042).abs() <= crate::support::ROUNDING);
    assert!((check.u_g - by_hand).abs() <= crate::support::ROUNDING, "{}", check.u_g);
    assert_eq!(check.findings.iter().map(|finding| finding.code).collect::<Vec<_>>(), [Code::BeadMassDiffers]);
    assert!(check.findings[0].text.contains("42.0 mg lighter"), "{}", check.findings[0].text);
    assert!((melt.bead_mass_g() - 8.752).abs() <= crate::support::ROUNDING);
    // 18 times u would let it pass
    assert!(melt.check_bead_mass(Estimate::new(8.710, 0.0003)?, 18.0)?.findings.is_empty());
    Ok(())
}
