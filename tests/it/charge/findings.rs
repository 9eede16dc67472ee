//! What a charge or result says of itself without being refused, and what is refused as a whole.

use crate::support::{a, assert_close, content, tetraborate, weights};
use beadchem::charge::{Addition, Amount, Charge, Fate, FluxLot, Form, Melt, ReducesTo, Sample};
use beadchem::code::Code;
use beadchem::composition::{Basis, Cell, Composition, Unit};
use beadchem::document;
use beadchem::uncertainty::{Estimate, MonteCarloOptions};

fn composition(entries: &[(&str, f64)]) -> Composition {
    entries.iter().fold(Composition::new(Basis::Dried), |all, (species, content)| all.with(species, *content).unwrap())
}

fn charge(entries: &[(&str, f64)], flux_g: f64) -> Charge {
    Charge::new(
        Sample::dried(0.8).unwrap().made_of(composition(entries)).unwrap(),
        tetraborate(0.004).unwrap().weigh_g(flux_g).unwrap(),
    )
    .unwrap()
}

fn codes(melt: &Melt) -> Vec<Code> {
    melt.findings().iter().map(|finding| finding.code).filter(|code| *code != Code::WeightsInterval).collect()
}

#[test]
fn a_sample_of_more_than_everything_is_refused() {
    let refused =
        charge(&[("CaO", 0.54), ("CaCO3", 0.96), ("CO2", 0.42)], 8.0).fuse(&weights(), &Fate::new()).unwrap_err();
    assert_eq!(refused.code(), Code::CompositionOverfull);
    assert!(refused.to_string().contains("192 %") && refused.to_string().contains("up to 105 %"), "{refused}");
}

#[test]
fn an_unnamed_part_is_said_by_its_size() {
    let fuse = |content: f64| charge(&[("SiO2", content)], 8.0).fuse(&weights(), &Fate::new()).unwrap();
    assert_eq!(codes(&fuse(1.0)), []);
    assert_eq!(codes(&fuse(0.98)), [Code::RemainderCarried]);
    assert_eq!(codes(&fuse(0.60)), [Code::RemainderLarge]);
}

#[test]
fn an_unusual_flux_ratio_is_said() {
    let fuse = |flux_g: f64| charge(&[("SiO2", 1.0)], flux_g).fuse(&weights(), &Fate::new()).unwrap();
    assert_eq!(codes(&fuse(0.5)), [Code::FluxRatioUnusual]);
    assert_eq!(codes(&fuse(1.6)), []);
}

#[test]
fn oxygen_that_no_oxidant_covers_is_said() {
    let ore = || charge(&[("CuFeS2", 1.0)], 8.0);
    let bare = ore().fuse(&weights(), &Fate::sulfur_kept()).unwrap();
    assert_eq!(codes(&bare), [Code::PlatinumUnoxidised, Code::OxygenFromAir]);
    // 8.5 O per CuFeS2 need 17/3 nitrates that end as NO: 2.62 g per gram; with 3 g per gram nothing is missing
    let nitrate = |mass_g: f64| Addition::oxidant("NaNO3", Amount::mass_g(mass_g).unwrap(), ReducesTo::NO).unwrap();
    let covered = ore().with(nitrate(2.4)).unwrap().fuse(&weights(), &Fate::sulfur_kept()).unwrap();
    assert_eq!(codes(&covered), [Code::FumeNitrate, Code::PlatinumUnoxidised]);
    let short = ore().with(nitrate(2.0)).unwrap().fuse(&weights(), &Fate::sulfur_kept()).unwrap();
    assert!(codes(&short).contains(&Code::OxygenFromAir));
}

#[test]
fn results_keep_every_reading_and_say_what_is_odd() {
    let melt = charge(&[("SiO2", 1.0)], 8.0).fuse(&weights(), &Fate::new()).unwrap();
    let readings = Composition::new(Basis::Bead)
        .with("CaO", 0.86)
        .unwrap()
        .with("MgO", -0.0002)
        .unwrap()
        .with("MnO", Cell::Below { limit: 0.0001 })
        .unwrap()
        .with("TiO2", Cell::Unknown)
        .unwrap();
    let result = melt.undilute(&readings).unwrap();
    let own: Vec<Code> = result.findings().iter().skip(melt.findings().len()).map(|finding| finding.code).collect();
    assert_eq!(own, [Code::ResultAboveWhole, Code::ReadingNegative, Code::UncertaintyUnstated]);
    assert!(result.value("MgO").unwrap() < 0.0, "kept, never clipped");
    let table = result.table(Unit::Percent).unwrap();
    for text in [table.to_string(), table.to_csv(), table.to_html()] {
        assert!(text.contains("MnO") && text.contains("TiO2") && text.contains("unknown"), "{text}");
    }
    assert!(table.to_string().contains("< 0.1"), "{table}");
}

#[test]
fn a_form_for_nothing_that_was_read_is_refused() {
    let melt = charge(&[("SiO2", 1.0)], 8.0).fuse(&weights(), &Fate::new()).unwrap();
    let result = melt.undilute(&Composition::new(Basis::Bead).with("CaO", 0.01).unwrap()).unwrap();
    let species = |list: &[&str]| Form::Species(list.iter().map(|text| text.parse().unwrap()).collect());
    for list in [&["Fe2O3"][..], &["Ca", "CaO"], &["CaCO3"]] {
        let refused = result.on(Basis::Dried, &Default::default(), &species(list)).unwrap_err();
        assert_eq!(refused.code(), Code::SpeciesUnknown, "{refused}");
    }
    assert_eq!(result.on(Basis::Dried, &Default::default(), &species(&["Ca"])).unwrap().species(), ["Ca"]);
}

/// Sums of a dozen products.
const ROUNDING: f64 = 1e-12;

#[test]
fn a_detection_limit_goes_the_way_of_a_value() {
    let lot = tetraborate(0.004).unwrap().with_blank("Fe2O3", 0.0004).unwrap();
    let gypsum = composition(&[("CaSO4", 0.6), ("SiO2", 0.4)]);
    let charge = Charge::new(Sample::dried(0.8).unwrap().made_of(gypsum).unwrap(), lot.weigh_g(8.0).unwrap()).unwrap();
    let melt = charge.fuse(&weights(), &Fate::new().split("S", 0.25, "SO2").unwrap()).unwrap();
    let read = |cell: fn(f64) -> Cell| {
        let glass = Composition::new(Basis::Bead).with("SO3", cell(0.001)).unwrap();
        melt.undilute(&glass.with("Fe2O3", cell(0.001)).unwrap()).unwrap().composition().unwrap()
    };
    let (values, limits) = (read(|c| Cell::Value(c.into())), read(|limit| Cell::Below { limit }));
    for species in ["SO3", "Fe2O3"] {
        let Some(Cell::Below { limit }) = limits.get(species) else { panic!("{species}: {limits:?}") };
        assert_close(species, *limit, content(&values, species), ROUNDING);
    }
    // by hand: C D / kept, and C D - F b
    let dilution = melt.dilution().value();
    assert_close("SO3", content(&values, "SO3"), 0.001 * dilution / 0.25, ROUNDING);
    let fused = melt.fused_flux_ratio().value();
    assert_close("Fe2O3", content(&values, "Fe2O3"), 0.001 * dilution - fused * 0.0004, ROUNDING);
    // a limit under the blank says nothing of the sample
    let under = Composition::new(Basis::Bead).with("Fe2O3", Cell::Below { limit: 0.0001 }).unwrap();
    let result = melt.undilute(&under).unwrap();
    assert_eq!(result.composition().unwrap().get("Fe2O3"), Some(&Cell::Unknown));
    assert!(result.findings().iter().any(|finding| finding.code == Code::LimitUnderBlank));
}

#[test]
fn what_a_flux_or_blank_may_not_hold_is_refused_where_it_is_stated() {
    for species in ["LiBr", "LiNO3", "K2S2O7", "Li2SO4"] {
        let refused = FluxLot::new("F-1", [("Li2B4O7", 9.0), (species, 1.0)], "1050 C", 0.003).unwrap_err();
        assert_eq!(refused.code(), Code::ChargeIncomplete, "{species}");
    }
    for species in ["Al(OH)3", "O", "H2O", "CO2", "LiCl"] {
        assert!(tetraborate(0.004).unwrap().with_blank(species, 0.001).is_err(), "{species}");
    }
    assert!(Addition::release_agent("KICl2", Amount::mass_g(0.03).unwrap(), 0.5).is_err());
    assert!(Addition::release_agent("LiBr", Amount::tablets(100, 0.03).unwrap(), 0.5).is_err(), "3 g in all");
    assert!(Fate::new().lose("H", "H2").is_err() && Fate::new().lose("O", "O2").is_err());
}

#[test]
fn a_hydroxide_of_manganese_is_no_oxide_it_could_stay_as() {
    let ore = || charge(&[("MnO(OH)", 1.0)], 8.0);
    assert_eq!(ore().fuse(&weights(), &Fate::new()).unwrap_err().code(), Code::FateNotStated);
    let melt = ore().fuse(&weights(), &Fate::new().stays_as("Mn", "Mn3O4").unwrap()).unwrap();
    let expected = 1.0 - (a::MN + 4.0 / 3.0 * a::O) / (a::MN + 2.0 * a::O + a::H);
    assert_close("loss on fusion", melt.loss_on_fusion(), expected, ROUNDING);
}

#[test]
fn a_sulfate_addition_keeps_the_stated_share() {
    let with = with_salt();
    let ledger = with.fuse(&weights(), &Fate::new()).unwrap().ledger();
    let moles = 0.1 / (2.0 * a::K + a::S + 4.0 * a::O);
    assert_close("SO2", ledger.gas_g("SO2"), 0.75 * moles * (a::S + 2.0 * a::O), ROUNDING);
    assert!(ledger.imbalance_g().abs() < ROUNDING);
    let read: Charge = document::from_json(&document::to_json(&with).unwrap()).unwrap();
    assert_eq!(read, with);
}

/// A substance with both: its share is of the halogen, and stays so when stored.
#[test]
fn a_release_agent_that_holds_sulfur_reads_back() {
    let agent = Addition::release_agent("S2Br2", Amount::mass_g(0.03).unwrap(), 0.5).unwrap();
    let with = charge(&[("SiO2", 1.0)], 8.0).with(agent).unwrap();
    assert_eq!(document::from_json::<Charge>(&document::to_json(&with).unwrap()), Ok(with));
    let stored = document::to_json(&with_salt()).unwrap().replace("K2SO4", "K2O");
    assert_eq!(document::from_json::<Charge>(&stored).unwrap_err().code(), Code::ChargeIncomplete);
}

fn with_salt() -> Charge {
    let salt = Addition::sulfate("K2SO4", Amount::mass_g(0.1).unwrap(), 0.25).unwrap();
    charge(&[("SiO2", 1.0)], 8.0).with(salt).unwrap()
}

#[test]
fn draws_that_mean_nothing_are_refused() {
    let sulfide = charge(&[("ZnS", 0.5), ("SiO2", 0.5)], 8.0);
    let kept = Estimate::new(0.1, 0.1).unwrap();
    let melt = sulfide.fuse(&weights(), &Fate::new().split("S", kept, "SO2").unwrap()).unwrap();
    let result = melt.undilute(&Composition::new(Basis::Bead).with("SO3", 0.005).unwrap()).unwrap();
    let options = MonteCarloOptions { draws: 10_000, ..Default::default() };
    assert_eq!(result.monte_carlo(&options).unwrap_err().code(), Code::NumberNotFinite);
}

#[test]
fn an_uncertainty_without_bound_is_refused() {
    let flux = tetraborate(0.004).unwrap().weigh_g(Estimate::new(9.0, 1e200).unwrap()).unwrap();
    let charge = Charge::new(Sample::dried(0.8).unwrap(), flux).unwrap();
    let refused = charge.fuse_with_loss(&weights(), 0.01).unwrap_err();
    assert!(refused.code() == Code::UncertaintyBoundless && refused.to_string().contains("flux mass"), "{refused}");
}

#[test]
fn a_bead_is_not_judged_where_no_uncertainty_is_stated() {
    let melt = charge(&[("SiO2", 1.0)], 8.0).fuse(&weights(), &Fate::new()).unwrap();
    let check = melt.check_bead_mass(melt.bead_mass_g() + 0.0001, 3.0).unwrap();
    assert_eq!(check.findings.len(), 1);
    assert_eq!(check.findings[0].code, Code::UncertaintyUnstated);
}

#[test]
fn what_is_known_absent_raises_no_caution() {
    let sand = composition(&[("SiO2", 1.0)]).with("S", Cell::Absent).unwrap().with("Pb", Cell::Unknown).unwrap();
    let flux = tetraborate(0.004).unwrap().weigh_g(8.0).unwrap();
    let charge = Charge::new(Sample::dried(0.8).unwrap().made_of(sand).unwrap(), flux).unwrap();
    assert_eq!(codes(&charge.fuse(&weights(), &Fate::new()).unwrap()), []);
    let ammonium = Addition::release_agent("NH4I", Amount::tablets(1, 0.02).unwrap(), 0.6).unwrap();
    assert!(charge.with(ammonium).is_ok());
}

#[test]
fn a_composition_that_was_computed_can_be_read_back() {
    let links = beadchem::composition::BasisLinks::default()
        .loss_on_ignition(beadchem::composition::LossOnIgnition::new(0.42, 1000.0).unwrap());
    let ignited = composition(&[("CaCO3", 0.95)]).on(Basis::ignited(1000.0).unwrap(), &links).unwrap();
    let read: Composition = document::from_json(&document::to_json(&ignited).unwrap()).unwrap();
    assert_eq!(read, ignited);
    let forms = Composition::new(Basis::Dried).with_form("FeO", 0.2).unwrap().with_form("Fe2O3", 0.3).unwrap();
    assert_eq!(forms.written_as("FeO", "Fe2O3", &weights()).unwrap_err().code(), Code::SpeciesDoubled);
    let text =
        document::to_json(&Composition::new(Basis::Dried).with("CaO", Cell::Below { limit: 0.1 }).unwrap()).unwrap();
    let refused = document::from_json::<Composition>(&text.replace("\"limit\": 0.1", "\"limit\": 0.1, \"unti\": 1"));
    assert_eq!(refused.unwrap_err().code(), Code::DocumentUnknownField);
}
