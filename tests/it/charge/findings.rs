//! What a charge or result says of itself without being refused, and what is refused as a whole.

use crate::support::{tetraborate, weights};
use beadchem::charge::{Addition, Amount, Charge, Fate, Form, Melt, ReducesTo, Sample};
use beadchem::code::Code;
use beadchem::composition::{Basis, Cell, Composition, Unit};

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
