//! The closure ledger: what is counted and what is not, covariance, blindness, oxygen equivalents, results from elsewhere.

use beadchem::charge::{Charge, FluxLot, Form, Sample, SampleResult};
use beadchem::composition::{Basis, BasisLinks, Cell, ClosureOrder, Composition, Counted, External, LossOnIgnition};
use beadchem::error::Result;
use beadchem::rules::{Rules, TotalLimit};
use beadchem::uncertainty::Estimate;

use crate::support::{ROUNDING, a, assert_close, weights};

/// Derivatives by differences of this step agree to this much of their size.
const STEP: f64 = 1e-6;
const BY_DIFFERENCES: f64 = 1e-6;

fn u(value: f64, u: f64) -> Estimate {
    Estimate::new(value, u).unwrap()
}

/// A bead of dried or of ignited dolomite, its readings made from 30 % CaO, 21 % MgO, 3.5 % SiO2 dried, 45.5 % loss.
const DRIED: [(&str, f64); 3] = [("CaO", 0.30), ("MgO", 0.21), ("SiO2", 0.035)];
const LOSS: f64 = 0.455;

fn bead(ignited: bool, entered_loss: f64) -> Result<SampleResult> {
    let lot = FluxLot::new("F-1", [("Li2B4O7", 1.0)], "1050 C, 18 min", u(0.004, 0.0003))?;
    let (basis, per_gram, left) =
        if ignited { (Basis::ignited(1000.0)?, 1.0 / (1.0 - LOSS), 1.0) } else { (Basis::Dried, 1.0, 1.0 - LOSS) };
    let glass = 0.8 * left + 8.0 * (1.0 - 0.004);
    let readings = DRIED.iter().try_fold(Composition::new(Basis::Bead), |all, &(oxide, content)| {
        let true_content = 0.8 * content * per_gram / glass;
        all.with(oxide, u(true_content, 0.001 * true_content))
    })?;
    let charge = Charge::new(Sample::new(u(0.8, 0.0001), basis)?, lot.weigh_g(u(8.0, 0.0001))?)?;
    let fusion = if ignited { Estimate::exact(0.0)? } else { u(entered_loss, 0.0005) };
    let links = BasisLinks::default().loss_on_ignition(LossOnIgnition::new(u(entered_loss, 0.0005), 1000.0)?);
    charge.fuse_with_loss(&weights(), fusion)?.undilute(&readings)?.on(Basis::Dried, &links, &Form::AsRead)
}

fn closed(ignited: bool, entered_loss: f64) -> Result<beadchem::composition::Closure> {
    let loss = LossOnIgnition::new(u(entered_loss, 0.0005), 1000.0)?;
    bead(ignited, entered_loss)?.closure(&ClosureOrder::new().loss(&loss))
}

#[test]
fn a_bead_of_ignited_powder_closes_whatever_the_loss_and_says_so() -> Result<()> {
    let rules = Rules::new("house", "1").total(TotalLimit { low: 0.985, high: 1.01, k: 2.0 })?;
    for entered in [LOSS, LOSS + 0.05] {
        let closure = closed(true, entered)?;
        let name = "loss on ignition at 1000 C";
        assert_close("total", closure.total().map_or(f64::NAN, |t| t.value()), 1.0, ROUNDING);
        let slope = closure.sensitivities().iter().find(|s| s.input == name).map(|s| s.derivative);
        // dT/dL = 1 - T_ignited
        assert!(slope.is_some_and(|slope| slope.abs() < ROUNDING), "{slope:?}");
        assert_eq!(closure.blind_to(), [name]);
        assert!(closure.findings().iter().any(|finding| finding.code.word() == "closure.blind"));
        let verdict = rules.judge_total(&closure)?;
        assert_eq!((verdict.in_spread, verdict.blind_to.len()), (Some(true), 1));
        assert!(verdict.to_string().ends_with("no test of loss on ignition at 1000 C"), "{verdict}");
    }
    // a dried bead sees it
    assert!(closed(false, LOSS)?.blind_to().is_empty());
    let wrong = closed(false, LOSS + 0.05)?;
    assert!((wrong.total().map_or(f64::NAN, |t| t.value()) - 1.0) > 0.04);
    Ok(())
}

#[test]
fn derivatives_of_the_total_agree_with_differences() -> Result<()> {
    let moved = |step: f64| closed(true, LOSS + 0.01 + step).map(|c| c.total().map_or(f64::NAN, |t| t.value()));
    let by_differences = (moved(STEP)? - moved(-STEP)?) / (2.0 * STEP);
    let closure = closed(true, LOSS + 0.01)?;
    let slope =
        closure.sensitivities().iter().find(|s| s.input.starts_with("loss on ign")).map_or(f64::NAN, |s| s.derivative);
    assert_close("dT/dL", slope, by_differences, BY_DIFFERENCES);
    Ok(())
}

#[test]
fn the_uncertainty_of_a_total_goes_through_its_covariance() -> Result<()> {
    let result = bead(false, LOSS)?;
    let closure = result.closure(&ClosureOrder::new())?;
    let names = result.species();
    let mut variance = 0.0;
    for first in &names {
        for second in &names {
            variance += result.covariance(first, second)?;
        }
    }
    let found = closure.total().and_then(|total| total.u()).unwrap_or(f64::NAN);
    assert_close("u", found, variance.sqrt(), ROUNDING);
    // without covariance it would be smaller: dilution and flux loss move all oxides together
    let apart: f64 = names.iter().map(|name| result.u(name).unwrap_or(f64::NAN).powi(2)).sum();
    assert!(found > 1.02 * apart.sqrt());
    Ok(())
}

#[test]
fn oxygen_is_taken_off_by_host() -> Result<()> {
    let ratio = |host: &str, anion: &str, oxides: &[&str]| -> Result<f64> {
        let parts = Composition::new(Basis::Dried).with(anion, 1.0)?.with("Fe2O3", 0.0)?;
        let closure = parts.closure(&ClosureOrder::new().host(anion, host, oxides)?, &weights())?;
        Ok(1.0 - closure.total().map_or(f64::NAN, |total| total.value()))
    };
    // printed: MS 0.4990, FeS2 with Fe2O3 0.3743, FeS 0.7485, CuFeS2 0.6238; derived from the atomic weights
    for (host, oxides, printed, by_hand) in [
        ("ZnS", &["ZnO"][..], 0.4990, a::O / a::S),
        ("FeS2", &["Fe2O3"][..], 0.3743, 0.75 * a::O / a::S),
        ("FeS", &["Fe2O3"][..], 0.7485, 1.5 * a::O / a::S),
        ("CuFeS2", &["CuO", "Fe2O3"][..], 0.6238, 1.25 * a::O / a::S),
    ] {
        let found = ratio(host, "S", oxides)?;
        assert_close(host, found, by_hand, ROUNDING);
        assert!((found - printed).abs() < 6e-5, "{host}: {found}, printed {printed}");
    }
    let halogen = |symbol: &str| -> Result<f64> {
        let parts = Composition::new(Basis::Dried).with(symbol, 1.0)?.with("CaO", 0.0)?;
        Ok(1.0 - parts.closure(&ClosureOrder::new(), &weights())?.total().map_or(f64::NAN, |total| total.value()))
    };
    assert!((halogen("F")? - 0.421_062).abs() < 6e-6 && (halogen("Cl")? - 0.225_66).abs() < 6e-5);
    Ok(())
}

#[test]
fn the_loss_holds_water_and_carbon_dioxide_and_what_is_said_to_be_in_it() -> Result<()> {
    let raw = Composition::new(Basis::Dried)
        .with("CaO", 0.60)?
        .with("CO2", 0.30)?
        .with("H2O", 0.05)?
        .with("SO3", 0.04)?
        .with("Cl", 0.01)?;
    let loss = LossOnIgnition::new(0.37, 950.0)?;
    let total = |order: ClosureOrder| raw.closure(&order, &weights());
    let without = total(ClosureOrder::new())?;
    let oxygen = 0.01 * 0.5 * a::O / 35.45;
    assert_close("no loss", without.total().map_or(f64::NAN, |t| t.value()), 1.0 - oxygen, 2e-6);
    let stated = ClosureOrder::new().loss(&loss).left_in_furnace("SO3", 0.5)?.left_in_furnace("Cl", 1.0)?;
    let closure = total(stated)?;
    assert_close("stated", closure.total().map_or(f64::NAN, |t| t.value()), 0.60 + 0.02 + 0.37, ROUNDING);
    let how = |species: &str| closure.lines().iter().find(|line| line.species == species).map(|line| line.how);
    assert_eq!(how("CO2"), Some(Counted::InsideLoss));
    assert_eq!(how("Cl"), Some(Counted::InsideLoss));
    assert!(closure.findings().iter().all(|finding| finding.code.word() != "closure.assumed"));
    let assumed = total(ClosureOrder::new().loss(&loss))?;
    assert_eq!(assumed.findings().iter().filter(|finding| finding.code.word() == "closure.assumed").count(), 2);
    Ok(())
}

#[test]
fn iron_counted_as_found_gets_back_what_the_furnace_gave_it() -> Result<()> {
    let loss = LossOnIgnition::new(-0.026_45, 1000.0)?;
    let total = |ore: Composition, order: ClosureOrder| -> Result<f64> {
        Ok(ore.closure(&order.loss(&loss), &weights())?.total().map_or(f64::NAN, |total| total.value()))
    };
    let ferric = Composition::new(Basis::Dried).with("Fe2O3", 0.685 * (a::FE + 1.5 * a::O) / a::FE)?;
    let iron = [("FeO", 0.26.into())];
    let split = beadchem::composition::ElementForms::split("Fe", 0.685, &iron, "Fe2O3", &weights())?;
    let forms = split.added_to(Composition::new(Basis::Dried))?;
    let first = total(ferric.clone(), ClosureOrder::new())?;
    assert_close("forms", total(forms.clone(), ClosureOrder::new())?, first, ROUNDING);
    assert_close("as Fe2O3", total(forms, ClosureOrder::new().counted_as("Fe2O3")?)?, first, ROUNDING);
    // without air nothing was taken up and nothing is given back
    let nitrogen = loss.clone().with_atmosphere(beadchem::composition::Atmosphere::Inert);
    let ferrous = Composition::new(Basis::Dried).with("FeO", 0.26)?;
    let plain = ferrous.closure(&ClosureOrder::new().loss(&nitrogen), &weights())?;
    assert_close("inert", plain.total().map_or(f64::NAN, |total| total.value()), 0.26 - 0.026_45, ROUNDING);
    // FeO known beside the total iron is the same iron and not counted
    let titrated = External::new("FeO", 0.26, Basis::Dried, "titration")?;
    assert_close("beside", total(ferric, ClosureOrder::new().external(titrated))?, first, ROUNDING);
    Ok(())
}

#[test]
fn results_from_elsewhere_come_with_their_own_basis() -> Result<()> {
    let ore = Composition::new(Basis::Dried).with("SiO2", 0.9)?;
    let moist = External::new("CO2", u(0.05, 0.001), Basis::AsReceived, "combustion")?.dated("2026-03-02");
    let order = ClosureOrder::new().external(moist);
    let refused = ore.closure(&order, &weights()).map(|_| ()).unwrap_err();
    assert_eq!(refused.code().word(), "basis.mismatch");
    assert!(refused.to_string().starts_with("Cannot add as received CO2 to results dried."), "{refused}");
    let links = BasisLinks::default().moisture(u(0.062, 0.002))?;
    let closure = ore.closure(&order.links(&links), &weights())?;
    let line = &closure.lines()[1];
    assert_close("dried", line.contribution, 0.05 / (1.0 - 0.062), ROUNDING);
    let relative = (0.001_f64 / 0.05).hypot(0.002 / (1.0 - 0.062));
    assert_close("u", line.u, line.contribution * relative, 1e-12);
    assert_eq!(line.source, "combustion, 2026-03-02");
    Ok(())
}

#[test]
fn four_states_of_a_cell_in_a_total() -> Result<()> {
    let ore = Composition::new(Basis::Dried)
        .with("SiO2", 0.9)?
        .with("MgO", Cell::Below { limit: 0.001 })?
        .with("CaO", Cell::Unknown)?
        .with("Na2O", Cell::Absent)?;
    let closure = ore.closure(&ClosureOrder::new(), &weights())?;
    assert_eq!(closure.total().map(|total| total.value()), Some(0.9));
    let named: Vec<&str> = closure.findings().iter().map(|finding| finding.quantity.as_str()).collect();
    assert_eq!(named, ["MgO", "CaO"]);
    Ok(())
}

#[test]
fn a_total_with_an_unstated_uncertainty_is_not_judged_by_it() -> Result<()> {
    let rules = Rules::new("house", "1").total(TotalLimit { low: 0.985, high: 1.01, k: 2.0 })?;
    let ore = Composition::new(Basis::Dried).with("SiO2", 0.9)?;
    let verdict = rules.judge_total(&ore.closure(&ClosureOrder::new(), &weights())?)?;
    assert_eq!((verdict.in_window, verdict.in_spread), (Some(false), None));
    assert!(verdict.to_string().contains("not judged"));
    Ok(())
}

fn total_of(ore: &Composition, order: &ClosureOrder) -> Result<f64> {
    Ok(ore.closure(order, &weights())?.total().map_or(f64::NAN, |total| total.value()))
}

fn raised(ore: &Composition, order: &ClosureOrder) -> Result<Vec<&'static str>> {
    Ok(ore.closure(order, &weights())?.findings().iter().map(|finding| finding.code.word()).collect())
}

#[test]
fn what_the_loss_holds_of_a_mineral_is_named() -> Result<()> {
    let order = ClosureOrder::new().loss(&LossOnIgnition::new(0.4397, 1000.0)?);
    let calcite = Composition::new(Basis::Dried).with("CaCO3", 1.0)?;
    assert!(raised(&calcite, &order)?.contains(&"closure.counted-twice"));
    let pyrolusite = Composition::new(Basis::Dried).with("MnO2", 0.5)?;
    assert!(raised(&pyrolusite, &order)?.contains(&"closure.assumed"));
    assert!(!raised(&pyrolusite, &order.clone().counted_as("Mn3O4")?)?.contains(&"closure.assumed"));
    // carbon dioxide of a carbonate found elsewhere is the carbonate's
    let carbon = ClosureOrder::new().external(External::new("CO2", 0.4397, Basis::Dried, "combustion")?);
    assert_eq!(total_of(&calcite, &carbon)?, 1.0);
    Ok(())
}

#[test]
fn two_results_from_elsewhere_of_one_element_are_refused() -> Result<()> {
    let ore = Composition::new(Basis::Dried).with("SiO2", 0.9)?;
    let found = |species, method: &str| External::new(species, 0.03, Basis::Dried, method.to_owned());
    for (first, second) in [("F", "F"), ("S", "SO3")] {
        let order = ClosureOrder::new().external(found(first, "electrode")?).external(found(second, "pyrohydrolysis")?);
        assert_eq!(ore.closure(&order, &weights()).map(|_| ()).unwrap_err().code().word(), "species.element-twice");
    }
    // metal and FeO beside their total are counted with it
    let sponge = Composition::new(Basis::Dried).with("Fe2O3", 1.3)?;
    let forms = ClosureOrder::new().external(found("Fe", "bromine")?).external(found("FeO", "titration")?);
    assert_eq!(total_of(&sponge, &forms)?, 1.3);
    assert!(External::new("F", 3.0, Basis::Dried, "electrode").is_err(), "300 %");
    assert!(External::new("F", Cell::Below { limit: -1.0 }, Basis::Dried, "electrode").is_err());
    Ok(())
}

#[test]
fn a_convention_that_changes_nothing_changes_nothing() -> Result<()> {
    let order = || Ok::<_, beadchem::Error>(ClosureOrder::new().loss(&LossOnIgnition::new(-0.1113, 1000.0)?));
    let wustite = Composition::new(Basis::Dried).with("FeO", 1.0)?;
    assert_close("FeO", total_of(&wustite, &order()?.counted_as("FeO")?)?, total_of(&wustite, &order()?)?, ROUNDING);
    let spar = Composition::new(Basis::Dried).with("CaO", 0.718)?.with("F", 0.487)?;
    let plain = total_of(&spar, &ClosureOrder::new())?;
    assert_close("F", total_of(&spar, &ClosureOrder::new().counted_as("F")?)?, plain, ROUNDING);
    let both = ClosureOrder::new().counted_as("SO3")?.host("S", "FeS2", &["Fe2O3"])?;
    let pyrite = Composition::new(Basis::Dried).with("S", 0.5)?;
    assert!(pyrite.closure(&both, &weights()).is_err());
    Ok(())
}

#[test]
fn a_share_that_left_counts_where_there_is_a_loss() -> Result<()> {
    let anhydrite = Composition::new(Basis::Dried).with("CaO", 0.412)?.with("SO3", 0.588)?;
    let left = ClosureOrder::new().left_in_furnace("SO3", 1.0)?;
    assert_eq!(total_of(&anhydrite, &left)?, 1.0);
    let half = ClosureOrder::new().loss(&LossOnIgnition::new(0.294, 1000.0)?).left_in_furnace("SO3", 0.5)?;
    assert_close("half", total_of(&anhydrite, &half)?, 1.0, ROUNDING);
    let expected = anhydrite.closure(&half, &weights())?.expected_loss().map(|loss| loss.value());
    assert_eq!(expected, Some(0.294), "what is stated to leave is expected");
    Ok(())
}

#[test]
fn forms_keep_their_covariance_in_a_total() -> Result<()> {
    let ferrous = [("FeO", u(0.26, 0.001))];
    let iron = beadchem::composition::ElementForms::split("Fe2O3", u(0.98, 0.0001), &ferrous, "Fe2O3", &weights())?;
    let ore = iron.added_to(Composition::new(Basis::Dried))?;
    let order = ClosureOrder::new().loss(&LossOnIgnition::new(Estimate::exact(-0.029)?, 1000.0)?);
    let found = ore.closure(&order, &weights())?.total().and_then(|total| total.u()).unwrap_or(f64::NAN);
    // with its gain given back, ferrous iron cancels: the total is Fe2O3(T) and the loss; weights leave 1e-6
    assert!((found - 0.0001).abs() < 2e-6, "{found}");
    Ok(())
}

#[test]
fn what_is_below_detection_inside_the_loss_is_no_gap() -> Result<()> {
    let order = ClosureOrder::new().loss(&LossOnIgnition::new(0.01, 1000.0)?);
    let ore = Composition::new(Basis::Dried).with("Fe2O3", 0.98)?.with("CO2", Cell::Below { limit: 0.01 })?;
    let ferrous = External::new("FeO", Cell::Below { limit: 0.001 }, Basis::Dried, "titration")?;
    assert!(!raised(&ore, &order.external(ferrous))?.contains(&"closure.not-counted"));
    Ok(())
}
