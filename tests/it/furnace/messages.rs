//! What the furnace's books say where something is wrong: the code, and in the text the number, the bound, the likely cause
//! and the repair.

use beadchem::charge::{Addition, Amount, Charge, Fate, FluxLot, Melt, ReducesTo, Sample};
use beadchem::composition::{
    Basis, BasisLinks, Cell, ClosureOrder, Composition, ElementForms, External, LossOnIgnition,
};
use beadchem::error::{Error, Result};
use beadchem::finding::Finding;
use beadchem::rules::{ExpectedLoss, FluxLossLimit, Negatives, Rules, Solubility, TotalLimit};
use beadchem::uncertainty::Estimate;

use crate::support::{tetraborate, weights};

fn refused<T>(result: Result<T>) -> (&'static str, String) {
    let error: Error = result.map(|_| ()).unwrap_err();
    (error.code().word(), error.to_string())
}

fn found(findings: &[Finding], code: &str) -> String {
    let finding = findings.iter().find(|finding| finding.code.word() == code);
    finding.map_or_else(|| format!("no {code} among {findings:?}"), |finding| finding.text.clone())
}

fn says(text: &str, words: &[&str]) {
    for word in words {
        assert!(text.contains(word), "`{word}` is not in: {text}");
    }
}

fn dried(contents: &[(&str, f64)]) -> Result<Composition> {
    contents.iter().try_fold(Composition::new(Basis::Dried), |all, &(species, content)| all.with(species, content))
}

fn loss(value: f64) -> Result<LossOnIgnition> {
    LossOnIgnition::new(value, 1000.0)
}

fn closure_findings(ore: &Composition, order: &ClosureOrder) -> Result<Vec<Finding>> {
    Ok(ore.closure(order, &weights())?.findings().to_vec())
}

fn melt(sample_g: f64, flux_g: f64) -> Result<Melt> {
    Charge::new(Sample::dried(sample_g)?, tetraborate(0.004)?.weigh_g(flux_g)?)?.fuse_with_loss(&weights(), 0.0)
}

fn rules() -> Result<Rules> {
    let band = ExpectedLoss { material: "bauxite".to_owned(), low: 0.18, high: 0.32, source: "archive".to_owned() };
    Rules::new("house", "1")
        .total(TotalLimit { low: 0.985, high: 1.01, k: 4.0 })?
        .flux_loss(FluxLossLimit { highest: 0.05, k: 3.0 })?
        .expected_loss(band)
}

#[test]
fn sample_and_flux_swapped() -> Result<()> {
    says(
        &found(melt(8.0, 6.9)?.findings(), "flux-ratio.unusual"),
        &["Flux ratio 0.86 : 1. Sample and flux may be swapped"],
    );
    assert!(melt(1.0, 1.6)?.findings().iter().all(|finding| finding.code.word() != "flux-ratio.unusual"));
    Ok(())
}

#[test]
fn a_loss_that_is_more_than_everything_or_a_gain_no_oxidation_makes() -> Result<()> {
    let (code, text) = refused(loss(1.27));
    assert_eq!(code, "number.out-of-range");
    says(&text, &["127 %", "more than the whole sample"]);
    says(&refused(loss(-1.51)).1, &["-151 %", "-150 %"]);
    Ok(())
}

#[test]
fn a_fraction_given_for_per_cent() -> Result<()> {
    let text = found(&rules()?.check_loss("bauxite", &loss(0.002_75)?)?, "loss.unusual");
    says(&text, &["LOI 0.275 % for bauxite is far below its usual 18-32 %. Fraction instead of percent?"]);
    assert!(rules()?.check_loss("bauxite", &loss(0.275)?)?.is_empty());
    // only low, not by a factor of a hundred
    says(
        &found(&rules()?.check_loss("bauxite", &loss(0.10)?)?, "loss.unusual"),
        &["is below its usual", "Ignition not complete"],
    );
    assert_eq!(refused(rules()?.check_loss("clay", &loss(0.1)?)).0, "rule.unstated");
    Ok(())
}

#[test]
fn a_gain_without_anything_to_oxidise() -> Result<()> {
    let ore = dried(&[("Fe2O3", 0.9)])?;
    let order = ClosureOrder::new().loss(&LossOnIgnition::new(Estimate::new(-0.026, 0.0003)?, 1000.0)?);
    let text = found(&closure_findings(&ore, &order)?, "loss.gain-unexplained");
    assert_eq!(text, "LOI -2.6 % needs about 23 % FeO or reduced S/metal, and none is declared.");
    for reduced in ["FeO", "FeS2", "Cu"] {
        let known = order.clone().external(External::new(reduced, 0.2, Basis::Dried, "titration")?);
        assert!(closure_findings(&ore, &known)?.iter().all(|finding| finding.code.word() != "loss.gain-unexplained"));
    }
    Ok(())
}

#[test]
fn a_negative_loss_set_to_zero() -> Result<()> {
    let ferrous = External::new("FeO", 0.26, Basis::Dried, "titration")?;
    let order = ClosureOrder::new().loss(&loss(0.0)?).external(ferrous);
    let text = found(&closure_findings(&dried(&[("Fe2O3", 0.9794)])?, &order)?, "loss.clipped");
    assert_eq!(text, "LOI is exactly 0.00 although FeO is 26 %; expected near -2.9 %. Was a negative value replaced?");
    Ok(())
}

#[test]
fn a_loss_without_its_temperature() -> Result<()> {
    let lime = dried(&[("CaO", 0.55)])?;
    let draft = lime.closure(&ClosureOrder::new().draft_loss(0.43)?, &weights())?;
    says(&found(draft.findings(), "loss.temperature-missing"), &["enough for a draft, not for a report"]);
    let (code, text) = refused(draft.reportable());
    assert_eq!(code, "loss.not-reportable");
    says(&text, &["An LOI without its temperature cannot be reported."]);
    Ok(())
}

#[test]
fn values_of_two_bases() -> Result<()> {
    let ignited = Composition::new(Basis::ignited(1000.0)?).with("SiO2", 0.9)?;
    let (code, text) = refused(ignited.closure(&ClosureOrder::new().loss(&loss(0.1)?), &weights()));
    assert_eq!(code, "basis.mismatch");
    says(
        &text,
        &["Cannot add results ignited at 1000 C to a loss on ignition of the dried powder", "first (needs the loss"],
    );
    says(&refused(ignited.total(Some(&loss(0.1)?))).1, &["Cannot add a loss on ignition of the dried powder"]);
    let (code, text) = refused(Basis::parse(""));
    assert_eq!(code, "basis.missing");
    says(&text, &["No basis is given. Choose as received, air-equilibrated, dried, ignited or bead."]);
    Ok(())
}

#[test]
fn a_sample_that_gained_while_drying() -> Result<()> {
    let (code, text) = refused(BasisLinks::default().moisture(Estimate::new(-0.004, 0.0005)?));
    assert_eq!(code, "number.out-of-range");
    says(&text, &["Moisture", "-0.4 %", "u 0.05", "gained mass while drying", "xidation, or a wrong pan mass?"]);
    assert!(BasisLinks::default().moisture(Estimate::new(-0.0004, 0.0005)?).is_ok(), "within 3 u of dry");
    assert!(BasisLinks::default().moisture(1.0).is_err());
    Ok(())
}

#[test]
fn one_element_twice() -> Result<()> {
    let twice = |first, second| refused(dried(&[first, second]));
    let (code, text) = twice(("FeO", 0.26), ("Fe2O3", 0.9794));
    assert_eq!(code, "species.element-twice");
    says(&text, &["Iron appears twice: FeO 26 % and Fe2O3 97.94 %. Pick one convention."]);
    says(&twice(("MnO", 0.1), ("MnO2", 0.5)).1, &["Manganese is entered as two oxides", "convert to one"]);
    says(&twice(("Ni", 0.011), ("NiO", 0.014)).1, &["Ni and NiO refer to the same nickel; keep one."]);
    let parts = [("FeO", Estimate::new(0.95, 0.001)?)];
    let (code, text) = refused(ElementForms::split("Fe2O3", Estimate::new(0.979, 0.001)?, &parts, "Fe2O3", &weights()));
    assert_eq!(code, "forms.impossible");
    says(&text, &["FeO 95 % needs 105.6 % Fe2O3(T); only 97.9 % is there. One of the two is wrong."]);
    Ok(())
}

#[test]
fn halogens_and_sulfur_without_their_oxygen() -> Result<()> {
    let spar = dried(&[("CaO", 0.5), ("F", 0.037)])?;
    let order = ClosureOrder::new().without_oxygen_equivalent("F")?;
    let text = found(&closure_findings(&spar, &order)?, "closure.oxygen-equivalent");
    assert_eq!(text, "F 3.7 % counted with CaO: subtract 1.558 % O equivalent.");
    let pyrite = dried(&[("Fe2O3", 0.66), ("S", 0.18)])?;
    let text = found(&closure_findings(&pyrite, &ClosureOrder::new())?, "closure.oxygen-equivalent");
    says(&text, &["S 18 % counted with Fe2O3", "8.983 % O equivalent where it sits in MS", "Name its host"]);
    // with silica alone there is no sulfide to hold it
    assert!(closure_findings(&dried(&[("SiO2", 0.66), ("S", 0.18)])?, &ClosureOrder::new())?.is_empty());
    says(&found(&spar.total(None)?.findings, "closure.oxygen-equivalent"), &["F 3.7 %", "no oxygen is taken off"]);
    Ok(())
}

#[test]
fn conventional_atomic_weights_are_one_line() -> Result<()> {
    let melt = melt(0.8, 8.0)?;
    let notes = melt.findings().iter().filter(|finding| finding.code.word() == "weights.interval").count();
    assert_eq!(notes, 1);
    Ok(())
}

#[test]
fn a_flux_loss_outside_the_laboratorys_limits() -> Result<()> {
    let lot = |loss, u| FluxLot::new("L-2207", [("LiBO2", 1.0)], "1050 C, 18 min", Estimate::new(loss, u)?);
    let (code, text) = refused(lot(0.082, 0.001)?.check(&rules()?, &weights()));
    assert_eq!(code, "flux.loss-outside");
    says(&text, &["Flux loss 8.2 %", "above your limit of 5 %", "Was the crucible tared with flux in it?"]);
    says(&refused(lot(-0.002, 0.0002)?.check(&rules()?, &weights())).1, &["-0.2 %", "below zero by more than 3 u"]);
    assert!(lot(-0.0001, 0.0002)?.check(&rules()?, &weights()).is_ok(), "a legitimate replicate");
    assert_eq!(refused(lot(0.003, 0.0002)?.check(&Rules::new("bare", "1"), &weights())).0, "rule.unstated");
    Ok(())
}

#[test]
fn additions_that_leave_something_open() -> Result<()> {
    let (code, text) = refused(Addition::release_agent("LiBr", Amount::mass_g(30.0)?, 0.5));
    assert_eq!(code, "amount.unit-missing");
    says(&text, &["Release agent 30: mg, microlitre of solution, or % of flux?", "0-2 g"]);
    let (code, text) = refused(Addition::oxidant("NaNO3", Amount::mass_g(1.2)?, None));
    assert_eq!(code, "oxidant.route-missing");
    says(&text, &["Oxygen yield of NaNO3 is not stated.", "N2 (2.5), NO (1.5), nitrite (1), NO2 (0.5)"]);
    assert!(Addition::oxidant("NaNO3", Amount::mass_g(1.2)?, ReducesTo::NO).is_ok());
    Ok(())
}

#[test]
fn more_chromium_than_the_glass_holds() -> Result<()> {
    let limit = Solubility { oxide: "Cr2O3".to_owned(), highest: 0.01, source: "own trials".to_owned() };
    let rules = Rules::new("house", "1").solubility(limit)?;
    let melt = |sample_g| -> Result<Melt> {
        let chromite = Sample::dried(sample_g)?.made_of(dried(&[("Cr2O3", 0.46), ("Al2O3", 0.54)])?)?;
        Charge::new(chromite, tetraborate(0.0)?.weigh_g(10.0)?)?.fuse(&weights(), &Fate::new())
    };
    let findings = melt(1.0)?.check_solubility(&rules)?;
    let text = found(&findings, "solubility.exceeded");
    says(&text, &["Cr2O3 would be 4.182 % of the glass; your limit is 1 %. Use at most 0.222 g in 10 g flux"]);
    // the advice keeps the limit, and a hair more does not
    let advised = 0.01 * 10.0 / (0.46 - 0.01);
    assert!(melt(advised - 1e-9)?.check_solubility(&rules)?.is_empty());
    assert_eq!(melt(advised + 1e-9)?.check_solubility(&rules)?.len(), 1);
    Ok(())
}

#[test]
fn a_bead_off_its_prediction_and_one_that_cannot_be() -> Result<()> {
    let exact = |value| Estimate::new(value, 0.0001);
    let lot = FluxLot::new("F-1", [("Li2B4O7", 1.0)], "1050 C, 18 min", Estimate::new(0.004, 0.0005)?)?;
    let charge = Charge::new(Sample::dried(exact(1.3)?)?, lot.weigh_g(exact(8.0)?)?)?;
    let melt = charge.fuse_with_loss(&weights(), Estimate::exact(0.0)?)?;
    let check = melt.check_bead_mass(exact(melt.bead_mass_g() - 0.042)?, 4.0)?;
    let text = found(&check.findings, "bead-mass.differs");
    says(
        &text,
        &["Bead is 42.0 mg lighter than predicted (u 4.0 mg", "Flux loss, SO3 or alkali loss", "melt left in the"],
    );
    let (code, text) = refused(melt.check_bead_mass(exact(9.41)?, 4.0));
    assert_eq!(code, "bead-mass.impossible");
    says(&text, &["Bead 9.4100 g exceeds everything weighed in (9.3000 g)", "Check masses or bead id."]);
    // what oxidises may weigh more than it did
    let iron = Charge::new(Sample::dried(exact(1.3)?)?.made_of(dried(&[("Fe", 1.0)])?)?, lot.weigh_g(exact(8.0)?)?)?;
    assert!(iron.fuse(&weights(), &Fate::new())?.check_bead_mass(exact(9.41)?, 4.0).is_ok());
    Ok(())
}

#[test]
fn clipping_is_refused_by_every_name() {
    for word in ["clip", "clipped", "zero", "set to zero"] {
        let (code, text) = refused(Negatives::from_word(word, None));
        assert_eq!(code, "clipping.refused");
        assert_eq!(text, "Clipping biases means and totals. Use censoring at report time.");
    }
}

#[test]
fn more_loss_than_carbonates_hold() -> Result<()> {
    let u = |value| Estimate::new(value, 0.0005);
    let lime = Composition::new(Basis::Dried).with("CaO", u(0.542)?)?.with("MgO", u(0.009)?)?;
    let order = ClosureOrder::new().loss(&LossOnIgnition::new(u(0.493)?, 1000.0)?);
    let verdict = rules()?.judge_total(&lime.closure(&order, &weights())?)?;
    let text = found(&verdict.findings, "loss.above-ceiling");
    says(&text, &["LOI 49.3 % exceeds 0.7848 CaO + 1.0919 MgO + stated water by 5.781 %", "moisture or organics"]);
    // stated water explains as much
    let wet = lime.clone().with("H2O", u(0.0578)?)?;
    let verdict = rules()?.judge_total(&wet.closure(&order, &weights())?)?;
    assert!(verdict.findings.iter().all(|finding| finding.code.word() != "loss.above-ceiling"));
    // a bauxite holds its water without carbonates
    let bauxite = dried(&[("Al2O3", 0.56), ("CaO", 0.01)])?;
    assert!(bauxite.closure(&order, &weights())?.above_carbonate_ceiling().is_none());
    Ok(())
}

#[test]
fn a_total_that_was_made_to_close() -> Result<()> {
    let sand = dried(&[("Al2O3", 0.0031)])?.with_difference("SiO2", Some(&loss(0.0015)?))?;
    let closure = sand.closure(&ClosureOrder::new().loss(&loss(0.0015)?), &weights())?;
    let text = found(closure.findings(), "closure.by-difference");
    assert_eq!(text, "SiO2 is by difference, so the total is 100 % by construction; closure not computed.");
    let verdict = rules()?.judge_total(&closure)?;
    assert_eq!((closure.total(), verdict.in_window, verdict.in_spread), (None, None, None));
    Ok(())
}

#[test]
fn what_is_below_detection_is_named_with_its_limit() -> Result<()> {
    let ore = dried(&[("SiO2", 0.9)])?.with("MgO", Cell::Below { limit: 0.0001 })?;
    let text = found(&closure_findings(&ore, &ClosureOrder::new())?, "closure.not-counted");
    says(&text, &["MgO is < 0.0100 % and is not in the total"]);
    Ok(())
}

#[test]
fn traces_keep_three_digits_in_a_sentence() -> Result<()> {
    let loss = LossOnIgnition::new(0.1, 1000.0)?;
    let ore = dried(&[("SiO2", 0.9), ("SO3", 0.000_012_345_6)])?;
    let text = found(&closure_findings(&ore, &ClosureOrder::new().loss(&loss))?, "closure.assumed");
    says(&text, &["SO3 0.00123 % was counted"]);
    Ok(())
}
