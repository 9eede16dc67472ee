//! What the way back from intensities says where something is wrong: the code, and in the text the number, the bound, the
//! likely cause and the repair.

use beadchem::charge::{Addition, Amount, Charge, FluxLot, Form, Melt, Sample};
use beadchem::composition::{Basis, BasisLinks, External, LossOnIgnition};
use beadchem::document;
use beadchem::error::{Error, Result};
use beadchem::finding::Finding;
use beadchem::matrix::{Drift, LineReading, Monitor};
use beadchem::method::{Assay, Measurement, Method, Overlap, Provenance, TEMPLATE, example};
use beadchem::rules::{DriftLimit, Rules};
use beadchem::uncertainty::Estimate;

use crate::matrix::classes;
use crate::method::bead::{Bead, agent, measured, method};
use crate::support::weights;

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

fn u(value: f64, u: f64) -> Estimate {
    Estimate::new(value, u).unwrap()
}

/// The dolomite of the template, this much flux on 0.8 g and this loss.
fn dolomite(flux_g: f64, loss: f64) -> Result<Melt> {
    let lot =
        FluxLot::new("F-1", [("Li2B4O7", 0.5), ("LiBO2", 0.5)], "1050 C, 18 min", u(0.004, 0.0003))?.weigh_g(flux_g)?;
    Charge::new(Sample::dried(u(0.8, 0.0001))?, lot)?.fuse_with_loss(&weights(), u(loss, 0.001))
}

fn readings(calcium: f64, silicon: Estimate) -> Result<Measurement> {
    Measurement::new("B-1")
        .reading(LineReading::net("Ca Ka", u(calcium, 12.0))?)?
        .reading(LineReading::net("Mg Ka", u(1710.0, 5.0))?)?
        .reading(LineReading::net("Si Ka", silicon)?)
}

/// The template with one passage replaced, which must be there.
fn template(old: &str, new: &str) -> Result<Method> {
    assert!(TEMPLATE.contains(old), "{old}");
    Method::from_annotated(&TEMPLATE.replace(old, new))
}

fn assay(method: &Method) -> Result<Assay> {
    method.assay(&dolomite(8.0, 0.463)?, &readings(13_500.0, u(400.0, 2.0))?)
}

#[test]
fn a_calibration_on_ignited_powder_with_dried_masses() -> Result<()> {
    let by = template("\"basis\": \"dried\"", "\"basis\": \"ignited at 1000 C\"")?;
    let assay = by.assay(&dolomite(8.0, 0.275)?, &readings(13_500.0, u(400.0, 2.0))?)?;
    let said = "The calibration declares standards weighed ignited at 1000 C; the sample of bead B-1 was weighed dried and loses \
                27.5 % in the fusion.";
    says(&found(&assay.findings(), "calibration.other-basis"), &[said, "was the right powder weighed?"]);
    assert!(example()?.findings().iter().all(|finding| finding.code.word() != "calibration.other-basis"));
    Ok(())
}

#[test]
fn a_halide_under_aluminium_without_a_factor() -> Result<()> {
    let all = classes::all();
    let class = all.iter().rfind(|class| class.set.label().name() == "bauxite").unwrap();
    let set = &class.set;
    let mut bead = Bead::new(&class.centroid, set.fused_flux_ratio());
    bead.contents[set.component_index("LiBr")?] = 0.0;
    bead.additions = vec![agent("LiBr", 0.030, 0.5)];
    let measurement = measured(set, &bead.counts(set), 0.001, &[]);
    let melt = bead.melt();
    let text = found(&method(set).assay(&melt, &measurement)?.findings(), "overlap.not-held");
    // by hand: 0.015 g LiBr stay in 1 g sample; bromine is 79.904 of 86.844, Al2O3 101.961 / 53.963 of aluminium
    let bromine = 0.015 * 79.904 / 86.844;
    let share = 100.0 * bromine / melt.dilution().value();
    let bias = 100.0 * bromine * 101.961 / 53.963;
    says(&text, &[&format!("Br is in the bead ({share:.3} % of the glass) and Al2O3 is requested")]);
    says(&text, &["no overlap of Br on Al Ka is held", &format!("Bias up to {bias:.3} % Al2O3")]);
    says(&text, &["take the factor from a bead without Al2O3"]);
    let held = method(set).overlap(Overlap::new("Al Ka", "Br Ka", u(0.0, 0.001))?)?;
    let findings = held.assay(&melt, &measurement)?.findings();
    assert!(findings.iter().all(|finding| finding.code.word() != "overlap.not-held"));
    // no aluminium asked for, nothing to say
    let without = measured(set, &bead.counts(set), 0.001, &["Al Ka"]);
    let findings = method(set).assay(&melt, &without)?.findings();
    assert!(findings.iter().all(|finding| finding.code.word() != "overlap.not-held"));
    Ok(())
}

#[test]
fn a_net_intensity_below_zero() -> Result<()> {
    let by = Method::template()?;
    let assay = by.assay(&dolomite(8.0, 0.463)?, &readings(13_500.0, u(-3.1, 2.6))?)?;
    let said =
        "Si Ka: net intensity -3.1 cps is within 1.2 u of zero: reported as below detection, value kept for averages.";
    assert_eq!(found(&assay.findings(), "intensity.negative"), said);
    assert!(assay.value("SiO2")? < 0.0, "kept for averages");
    says(&found(&assay.findings(), "reading.negative"), &["SiO2 is -", "kept as it is for averages"]);
    Ok(())
}

#[test]
fn no_sensible_solution() -> Result<()> {
    // silica explains more than all of the calcium line's bracket
    let by = template("\"coefficients\": [0.15, 0.13, 0.17]", "\"coefficients\": [0.15, 0.13, -100.0]")?;
    let (code, text) = refused(assay(&by));
    assert_eq!(code, "solution.negative");
    says(&text, &["The system of this bead gives CaO = -", "smallest pivot", "coefficients outside their range"]);
    // counts that only an endless amount of calcium explains: k I times its own coefficient is one
    let by = template("\"coefficients\": [0.15, 0.13, 0.17]", "\"coefficients\": [1.0, 0.0, 0.0]")?;
    let calcium = LineReading::net("Ca Ka", u(1.0 / 2.1e-5, 1.0))?;
    let (code, text) = refused(by.assay(&dolomite(8.0, 0.463)?, &Measurement::new("B-1").reading(calcium)?));
    assert_eq!(code, "matrix.singular");
    says(&text, &["singular: no pivot at CaO", "coefficients outside their range"]);
    Ok(())
}

#[test]
fn coefficients_of_another_flux_ratio() -> Result<()> {
    // 6.4257 g of which 0.4 % are lost, on 0.8 g
    let (code, text) =
        refused(Method::template()?.assay(&dolomite(6.4257, 0.463)?, &readings(13_500.0, u(400.0, 2.0))?));
    assert_eq!(code, "coefficients.flux-ratio");
    says(
        &text,
        &["Coefficients carbonate rock were made for F 10.0 +- 1.5; bead B-1 has F 8.0.", "another charge weighed"],
    );
    Ok(())
}

#[test]
fn a_glass_beyond_the_standards() -> Result<()> {
    let by = template(
        "{ \"analyte\": \"CaO\", \"low\": 0.02, \"high\": 0.055 }",
        "{ \"analyte\": \"CaO\", \"low\": 0.0, \"high\": 0.009 }",
    )?;
    let assay = assay(&by)?;
    let content = 100.0 * assay.value("CaO")? / assay.sample().melt().dilution().value();
    let text = found(&assay.findings(), "calibration.extrapolated");
    says(&text, &[&format!("CaO {content:.1}")[..6], "% in glass is above the top standard 0.9 %", "Add a standard"]);
    let finding =
        assay.findings().into_iter().find(|finding| finding.code.word() == "calibration.extrapolated").unwrap();
    assert!(finding.value > finding.bound && finding.u.is_some_and(|u| u > 0.0));
    assert!(example()?.findings().iter().all(|finding| finding.code.word() != "calibration.extrapolated"));
    Ok(())
}

#[test]
fn a_monitor_outside_the_two_rules() -> Result<()> {
    let rules = Rules::new("house", "3").drift(DriftLimit { step: 0.005, total: 0.10 })?;
    let monitor = |first: f64, second: f64| {
        Monitor::new("M-1", [("Ca Ka", 1000.0)])?
            .reading("2026-03-14T08:00", [("Ca Ka", first)])?
            .reading("2026-03-14T12:00", [("Ca Ka", second)])
    };
    let (code, text) = refused(Drift::one_point(monitor(724.5, 710.0)?).check(&rules));
    assert_eq!(code, "drift.beyond-limit");
    says(
        &text,
        &[
            "Monitor M-1 moved by",
            "since calibration (your limit 10 %)",
            "house",
            "rerun the monitor before correcting",
        ],
    );
    let both = found(&Drift::one_point(monitor(950.0, 931.0)?).moved(&rules)?, "drift.beyond-limit");
    says(&both, &["-6.9 %", "-2 % since 2026-03-14T08:00 (limit 0.5 %)"]);
    assert!(Drift::one_point(monitor(950.0, 948.0)?).check(&rules).is_ok());
    Ok(())
}

#[test]
fn a_certificate_on_another_basis() -> Result<()> {
    let rules = Rules::new("house", "1").agreement(2.0)?;
    let certificate = |species: &str, value: Estimate| External::new(species, value, Basis::Dried, "certificate RM-7");
    let links = BasisLinks::default().loss_on_ignition(LossOnIgnition::new(u(0.463, 0.001), 1000.0)?);
    let dried = example()?;
    let ignited = dried.on(Basis::ignited(1000.0)?, &links, &Form::AsRead)?;
    let cao = dried.value("CaO")?;
    let (code, text) = refused(ignited.check_reference(&rules, &certificate("CaO", u(cao, 0.001))?));
    assert_eq!(code, "basis.mismatch");
    let said = "CaO: the certificate (certificate RM-7) is on the basis dried, the result is ignited at 1000 C.";
    says(&text, &[said, "Bring the result to the basis of the certificate first"]);
    // on one basis it is judged
    assert_eq!(dried.check_reference(&rules, &certificate("CaO", u(cao, 0.001))?)?.agrees, Some(true));
    let far = dried.check_reference(&rules, &certificate("CaO", u(cao + 0.02, 0.001))?)?;
    assert_eq!(far.agrees, Some(false));
    says(&found(&far.findings, "reference.differs"), &["CaO of the reference material is", "a difference of -2 %"]);
    assert_eq!(refused(dried.check_reference(&rules, &certificate("TiO2", u(0.01, 0.001))?)).0, "species.unknown");
    let no_rule = Rules::new("house", "1");
    assert_eq!(refused(dried.check_reference(&no_rule, &certificate("CaO", u(cao, 0.001))?)).0, "rule.unstated");
    Ok(())
}

#[test]
fn a_blank_above_its_reading() -> Result<()> {
    let (reading, blank) = (LineReading::net("Mg Ka", 0.38)?, LineReading::net("Mg Ka", 0.41)?);
    let finding = reading.check_blank(&blank)?.unwrap();
    assert_eq!(finding.code.word(), "intensity.blank-exceeds");
    says(&finding.text, &["Mg Ka: blank 0.41 cps exceeds reading 0.38 cps; result below detection."]);
    assert!(blank.check_blank(&reading)?.is_none());
    Ok(())
}

#[test]
fn a_stored_result_without_the_version_of_its_recipe() -> Result<()> {
    let result = assay(&Method::template()?)?;
    let stored = serde_json::to_string(&result.provenance()?).unwrap();
    let read = |text: &str| serde_json::from_str::<Provenance>(text).unwrap();
    assert_eq!(read(&stored), result.provenance()?);

    // the same document computes the same bits again
    let held: Method = document::from_json(&document::to_json(result.method())?)?;
    read(&stored).check(&held)?;
    let again = assay(&held)?;
    for species in result.sample().species() {
        assert_eq!(again.value(species)?.to_bits(), result.value(species)?.to_bits(), "{species}");
        assert_eq!(again.u(species)?.to_bits(), result.u(species)?.to_bits(), "{species}");
    }

    let mut fields: serde_json::Value = serde_json::from_str(&stored).unwrap();
    for field in ["method", "method_digest"] {
        fields.as_object_mut().unwrap().remove(field).unwrap();
    }
    let (code, text) = refused(read(&fields.to_string()).check(&held));
    assert_eq!(code, "recipe.version-unknown");
    says(&text, &["Result B-1 has no recipe version: first-order factor only, marked as estimate."]);

    // one number of the method changed under an unchanged version
    let (code, text) = refused(read(&stored).check(&template("\"value\": 2.1e-5", "\"value\": 2.2e-5")?));
    assert_eq!(code, "recipe.version-unknown");
    let digest = &result.provenance()?.method_digest[..12];
    says(
        &text,
        &["Result B-1 was computed with dolomite 2026-1", digest, "first-order factor only, marked as estimate"],
    );
    Ok(())
}

#[test]
fn a_halide_that_the_coefficients_do_not_know() -> Result<()> {
    let lot = FluxLot::new("F-1", [("Li2B4O7", 0.5), ("LiBO2", 0.5)], "1050 C", u(0.004, 0.0003))?.weigh_g(8.0)?;
    let tablet = Addition::release_agent("LiBr", Amount::tablets(1, u(0.03, 0.001))?, u(0.5, 0.1))?;
    let melt = Charge::new(Sample::dried(0.8)?, lot)?.with(tablet)?.fuse_with_loss(&weights(), u(0.463, 0.001))?;
    let assay = Method::template()?.assay(&melt, &readings(13_500.0, u(400.0, 2.0))?)?;
    assert_eq!(assay.sample().species(), ["CaO", "MgO", "SiO2"]);
    says(&found(&assay.findings(), "component.unknown"), &["Br", "stays in the glass", "absorption is not counted"]);
    Ok(())
}
