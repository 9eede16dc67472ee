//! Totals of published whole-rock analyses and certificates, by the closure ledger.
//!
//! Sources: USGS certificate of analysis W-2 (diabase); M. Fleischer, Geochim. Cosmochim. Acta 33 (1969) 65, W-1, first
//! column (read from a scan); USGS certificate SGR-1 (oil shale); certificate OREAS 170b (manganese ore, borate fusion XRF).

use beadchem::composition::{Basis, ClosureOrder, Composition, ElementForms};
use beadchem::error::Result;
use beadchem::substance::factor;
use beadchem::uncertainty::Estimate;

use crate::support::{a, assert_close, weights};

/// Half of the last printed place of a total, in per cent, and what five-digit factors leave.
const LAST_2: f64 = 0.006;
const LAST_3: f64 = 0.0006;
const PERCENT: f64 = 100.0;
/// The hand arithmetic and the ledger add a dozen terms in different orders.
const ROUNDING: f64 = 1e-12;

fn rock(percents: &[(&str, f64)]) -> Result<Composition> {
    percents
        .iter()
        .try_fold(Composition::new(Basis::Dried), |whole, &(species, percent)| whole.with(species, percent / PERCENT))
}

fn total(composition: &Composition, order: &ClosureOrder) -> Result<f64> {
    Ok(composition.closure(order, &weights())?.total().map_or(f64::NAN, |total| PERCENT * total.value()))
}

#[test]
fn diabase_w2_has_one_iron_under_either_convention() -> Result<()> {
    let ferrous: Estimate = (8.34 / PERCENT).into();
    let iron = ElementForms::apart(&[("FeO", ferrous), ("Fe2O3", (1.53 / PERCENT).into())], &weights())?;
    let as_ferric = PERCENT * iron.total_as("Fe2O3", &weights())?.value();
    let by_hand = 1.53 + 8.34 * (a::FE + 1.5 * a::O) / (a::FE + a::O);
    assert_close("Fe2O3(T)", as_ferric, by_hand, ROUNDING);
    assert!((as_ferric - 10.799).abs() < LAST_3, "{as_ferric}");
    let others = [
        ("SiO2", 52.68),
        ("Al2O3", 15.45),
        ("MgO", 6.37),
        ("CaO", 10.86),
        ("Na2O", 2.20),
        ("K2O", 0.626),
        ("TiO2", 1.06),
        ("P2O5", 0.14),
        ("MnO", 0.167),
    ];
    let split = total(&iron.added_to(rock(&others)?)?, &ClosureOrder::new())?;
    assert!((split - 99.423).abs() < LAST_3, "{split}");
    Ok(())
}

#[test]
fn diabase_w1_would_gain_a_little_in_the_furnace() -> Result<()> {
    let iron = [("FeO", (8.72 / PERCENT).into()), ("Fe2O3", (1.40 / PERCENT).into())];
    let iron = ElementForms::apart(&iron, &weights())?;
    let ferric = PERCENT * iron.total_as("Fe2O3", &weights())?.value();
    assert!((ferric - 11.091).abs() < LAST_3, "{ferric}");
    let volatile = [("H2O", 0.53), ("CO2", 0.06)];
    let rest = [
        ("SiO2", 52.64),
        ("Al2O3", 14.85),
        ("MgO", 6.62),
        ("CaO", 10.96),
        ("Na2O", 2.15),
        ("K2O", 0.64),
        ("TiO2", 1.07),
        ("P2O5", 0.14),
        ("MnO", 0.17),
    ];
    // the printed sum holds 0.16 % of moisture too, which is not of the dried rock
    let whole = iron.added_to(rock(&[&rest[..], &volatile[..]].concat())?)?;
    let sum = total(&whole, &ClosureOrder::new())? + 0.16;
    assert!((sum - 100.11).abs() < LAST_2, "{sum}");
    // loss = water + carbon dioxide - oxygen taken up; the few species that change, in a furnace with air
    let furnace =
        beadchem::charge::Ignition::new(1000.0, beadchem::composition::Atmosphere::Air, beadchem::charge::Fate::new())?;
    let changing = iron.added_to(rock(&volatile)?)?;
    let loss = PERCENT * furnace.predict(&changing, &weights())?.loss();
    let by_hand = 0.53 + 0.06 - 8.72 * 0.5 * a::O / (a::FE + a::O);
    assert_close("W-1", loss, by_hand, ROUNDING);
    assert!((loss + 0.381).abs() < LAST_3, "{loss}");
    Ok(())
}

#[test]
fn oil_shale_sgr1_has_so_much_carbon_dioxide() -> Result<()> {
    let found = 3.2 * factor("C", "CO2", &weights())?.value();
    assert_close("CO2", found, 3.2 * (a::C + 2.0 * a::O) / a::C, ROUNDING);
    assert!((found - 11.725).abs() < LAST_3, "{found}");
    Ok(())
}

#[test]
#[expect(clippy::approx_constant, reason = "soda of a certificate, nothing with a circle")]
fn the_oxide_of_manganese_decides_the_total_of_an_ore() -> Result<()> {
    let rest = [
        ("Fe2O3", 7.04),
        ("SiO2", 9.49),
        ("Al2O3", 3.90),
        ("MgO", 0.329),
        ("CaO", 0.270),
        ("TiO2", 0.189),
        ("K2O", 1.80),
        ("P2O5", 0.195),
        ("Na2O", 0.318),
    ];
    let loss = beadchem::composition::LossOnIgnition::new(11.95 / PERCENT, 1000.0)?;
    let plain = ClosureOrder::new().loss(&loss);
    let as_mn3o4 = plain.clone().counted_as("Mn3O4")?;
    let with = |species: &str, percent: f64| rock(&[&rest[..], &[(species, percent)][..]].concat());
    let cases = [
        // the certificate gives manganese as element and as MnO, each rounded on its own
        (with("MnO", 59.46)?, &plain, 94.94),
        (with("Mn", 46.06)?, &as_mn3o4, 99.43),
        (with("MnO", 59.46)?, &as_mn3o4, 99.41),
    ];
    for (ore, order, printed) in cases {
        let found = total(&ore, order)?;
        assert!((found - printed).abs() < LAST_2, "{found}, printed {printed}");
        let closure = ore.closure(order, &weights())?;
        let line = closure.lines().iter().find(|line| line.species.starts_with("Mn"));
        let said = line.map(|line| line.counted_as.as_str());
        assert_eq!(said, Some(if printed < 95.0 { "MnO" } else { "Mn3O4" }), "the convention is printed");
    }
    Ok(())
}
