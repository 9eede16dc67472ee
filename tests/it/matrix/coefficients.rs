//! Sets of influence coefficients: what they return, how they are rewritten, which beads they take, how they are stored.

use super::classes::{all, apart, contents, intensities};
use crate::support::weights;
use beadchem::code::{Code, Severity};
use beadchem::document;
use beadchem::error::Result;
use beadchem::matrix::{CoefficientSet, Conditions, Derivation, Influence, Label};
use beadchem::substance::Formula;

/// Rounding of a few products and of a solve of fourteen unknowns.
const ROUNDING: f64 = 1e-12;
/// Coefficients are printed with six decimals, sensitivities and intensities with seven digits.
const PRINTED: f64 = 3e-6;

#[test]
fn the_classes_are_seven_of_fourteen_components_at_two_ratios() {
    let classes = all();
    assert_eq!(classes.len(), 14);
    for class in &classes {
        assert_eq!((class.set.components().len(), class.set.lines().len()), (14, 14));
    }
}

#[test]
fn intensities_at_the_centroid_give_the_centroid() {
    for class in all() {
        let ratio = class.set.fused_flux_ratio();
        let what = format!("{} at F0 {ratio}", class.set.label().name());
        let printed = apart(&contents(&class.set, ratio, &class.intensities), &class.centroid);
        assert!(printed < PRINTED, "{what}: {printed:e} from the printed intensities");
        let own = intensities(&class.set, ratio, &class.centroid);
        let found = apart(&contents(&class.set, ratio, &own), &class.centroid);
        assert!(found < ROUNDING, "{what}: {found:e} from its own intensities");
    }
}

#[test]
fn another_reference_ratio_changes_no_content() {
    for class in all() {
        let reference = class.set.fused_flux_ratio();
        let (low, high) = class.set.conditions().range();
        let moved = class.set.referred_to(high).unwrap();
        assert_eq!((moved.fused_flux_ratio(), moved.conditions().range()), (high, (low, high)));
        for ratio in [low, reference, high] {
            let found = contents(&moved, ratio, &class.intensities);
            let off = apart(&found, &contents(&class.set, ratio, &class.intensities));
            assert!(off < ROUNDING, "{} at F {ratio}: {off:e}", class.set.label().name());
        }
        let back = moved.referred_to(reference).unwrap();
        for index in 0..14 {
            assert!(apart(back.row(index), class.set.row(index)) < ROUNDING);
        }
    }
}

#[test]
fn a_component_written_as_its_element_changes_no_content() {
    for class in all() {
        let ratio = class.set.fused_flux_ratio();
        let before = contents(&class.set, ratio, &class.intensities);
        let as_iron = class.set.with_component_as("Fe2O3", "Fe", &weights()).unwrap();
        let place = as_iron.component_index("Fe").unwrap();
        // 2 x 55.845 / 159.687 g Fe in a gram of Fe2O3, atomic weights of CIAAW 2024
        let iron = 111.69 / 159.687;
        let mut expected = before.clone();
        expected[place] *= iron;
        let off = apart(&contents(&as_iron, ratio, &class.intensities), &expected);
        assert!(off < ROUNDING, "{}: {off:e}", class.set.label().name());
        let (low, high) = class.ranges[place];
        let moved = as_iron.conditions();
        assert!((moved.centroid_of("Fe").unwrap() / (class.centroid[place] * iron) - 1.0).abs() < ROUNDING);
        let found = moved.content_range("Fe").unwrap();
        assert!(apart(&[found.0, found.1], &[low * iron, high * iron]) < ROUNDING);
        let back = as_iron.with_component_as("Fe", "Fe2O3", &weights()).unwrap();
        for index in 0..14 {
            assert!(apart(back.row(index), class.set.row(index)) < ROUNDING);
        }
    }
}

#[test]
fn uncertainties_follow_a_rewritten_coefficient() {
    let row = Influence::new("Fe Ka", "Fe2O3", [0.2, 0.4]).with_u([0.02, 0.01]);
    let made_for = Conditions::new(5.0).and_then(|made| made.with_range(5.0, 10.0)).unwrap();
    let set = CoefficientSet::new(label(), Derivation::Fitted, made_for, ["Fe2O3", "SiO2"], [row]).unwrap();
    assert_eq!(set.referred_to(10.0).unwrap().u_row(0), Some([0.01, 0.005].as_slice()));
    let iron = set.with_component_as("Fe2O3", "Fe", &weights()).unwrap();
    let relative = |set: &CoefficientSet| set.u_row(0).unwrap()[0] / set.row(0)[0];
    assert!((relative(&iron) - relative(&set)).abs() < ROUNDING);
    assert_eq!(iron.u_row(0).unwrap()[1], 0.01, "the other component is left alone");
}

fn label() -> Label {
    Label::new("sand", "1", "invented for this test").unwrap()
}

fn sand(made_for: Conditions) -> Result<CoefficientSet> {
    let rows = [Influence::new("Si Ka", "SiO2", [0.14, 0.26, 0.55]), Influence::new("Fe Ka", "Fe2O3", [0.1, 0.2, 0.3])];
    CoefficientSet::new(label(), Derivation::Fitted, made_for, ["SiO2", "Fe2O3", "LiBr"], rows)
}

/// With another last row, or another list of components.
fn with(components: &[&str], row: Influence) -> Result<CoefficientSet> {
    let made_for = Conditions::new(10.0)?;
    CoefficientSet::new(label(), Derivation::Fitted, made_for, components.iter().copied(), [row])
}

#[test]
fn wrong_sets_are_refused_by_code() {
    let made = || Conditions::new(10.0);
    let row = |line: &str, analyte: &str| Influence::new(line, analyte, [0.1, 0.2]);
    let two = ["SiO2", "Fe2O3"];
    let binary = |content: f64| {
        let kind = Derivation::Binary { content };
        CoefficientSet::new(label(), kind, made()?, ["SiO2"], [Influence::new("Si Ka", "SiO2", [0.1])])
    };
    let twice = |second: Influence| {
        CoefficientSet::new(label(), Derivation::Fitted, made()?, two, [row("Si Ka", "SiO2"), second])
    };
    let iron_as = |formula: &str| sand(made()?)?.with_component_as("Fe2O3", formula, &weights());
    let short = Influence::new("Si Ka", "SiO2", [0.1]);
    let table = [
        ("no rows", CoefficientSet::new(label(), Derivation::Fitted, made().unwrap(), two, []), Code::ShapeMismatch),
        ("short row", with(&two, short), Code::ShapeMismatch),
        ("short u", with(&two, row("Si Ka", "SiO2").with_u([0.1])), Code::ShapeMismatch),
        ("NaN", with(&two, Influence::new("Si Ka", "SiO2", [0.1, f64::NAN])), Code::NumberNotFinite),
        ("u NaN", with(&two, row("Si Ka", "SiO2").with_u([0.1, f64::NAN])), Code::NumberNotFinite),
        ("u below 0", with(&two, row("Si Ka", "SiO2").with_u([0.1, -0.1])), Code::UncertaintyNegative),
        ("k of 0", with(&two, row("Si Ka", "SiO2").with_sensitivity(0.0)), Code::NumberOutOfRange),
        ("k infinite", with(&two, row("Si Ka", "SiO2").with_sensitivity(f64::INFINITY)), Code::NumberNotFinite),
        ("component twice", with(&["SiO2", "O2Si"], row("Si Ka", "SiO2")), Code::SpeciesDoubled),
        ("analyte no component", with(&two, row("Ca Ka", "CaO")), Code::SpeciesUnknown),
        ("line of another element", with(&two, row("Fe Ka", "SiO2")), Code::LineName),
        ("line without element", with(&two, row("Ka", "SiO2")), Code::LineName),
        ("no such element", with(&two, row("Sx Ka", "SiO2")), Code::LineName),
        ("shell in small letters", with(&two, row("Si ka", "SiO2")), Code::LineName),
        ("line in capitals", with(&two, row("Si KA", "SiO2")), Code::LineName),
        ("formula unread", with(&two, row("Si Ka", "SiO2x")), Code::FormulaSyntax),
        ("two lines of one analyte", twice(row("Si Kb", "SiO2")), Code::LineDoubled),
        ("binary at 0", binary(0.0), Code::NumberOutOfRange),
        ("binary above 1", binary(1.5), Code::NumberOutOfRange),
        ("centroid of no component", made().and_then(|it| sand(it.with_centroid("CaO", 0.1)?)), Code::SpeciesUnknown),
        (
            "centroid outside its range",
            made().and_then(|it| sand(it.with_centroid("SiO2", 0.1)?.with_content_range("SiO2", 0.5, 1.0)?)),
            Code::NumberOutOfRange,
        ),
        (
            "reference outside the range",
            sand(made().unwrap()).and_then(|it| it.referred_to(5.0)),
            Code::NumberOutOfRange,
        ),
        ("reference NaN", sand(made().unwrap()).and_then(|it| it.referred_to(f64::NAN)), Code::NumberNotFinite),
        ("as another substance", iron_as("FeS2"), Code::CoefficientsForm),
        ("as a component there is", iron_as("SiO2"), Code::CoefficientsForm),
        ("as oxygen", iron_as("O2"), Code::CoefficientsForm),
    ];
    for (case, outcome, code) in table {
        assert_eq!(outcome.err().map(|error| error.code()), Some(code), "{case}");
    }
}

#[test]
fn wrong_conditions_are_refused_by_code() {
    let made = || Conditions::new(10.0);
    let table = [
        ("ratio 0", Conditions::new(0.0), Code::NumberOutOfRange),
        ("ratio NaN", Conditions::new(f64::NAN), Code::NumberNotFinite),
        ("range beside it", made().and_then(|it| it.with_range(4.0, 6.0)), Code::NumberOutOfRange),
        ("range reversed", made().and_then(|it| it.with_range(12.0, 8.0)), Code::NumberOutOfRange),
        ("part of 0", made().and_then(|it| it.with_blend(&[("LiBO2", 0.0)])), Code::NumberOutOfRange),
        ("flux twice", made().and_then(|it| it.with_blend(&[("LiBO2", 1.0), ("LiBO2", 1.0)])), Code::SpeciesDoubled),
        ("per cent", made().and_then(|it| it.with_centroid("SiO2", 58.0)), Code::NumberOutOfRange),
        (
            "content twice",
            made().and_then(|it| it.with_centroid("SiO2", 0.5)?.with_centroid("SiO2", 0.5)),
            Code::SpeciesDoubled,
        ),
        ("ends reversed", made().and_then(|it| it.with_content_range("SiO2", 0.5, 0.1)), Code::NumberOutOfRange),
    ];
    for (case, outcome, code) in table {
        assert_eq!(outcome.err().map(|error| error.code()), Some(code), "{case}");
    }
    for texts in [["", "1", "fit"], ["sand", " ", "fit"], ["sand", "1", ""]] {
        let refused = Label::new(texts[0], texts[1], texts[2]).unwrap_err();
        assert_eq!(refused.code(), Code::CoefficientsUnsourced, "{texts:?}");
    }
}

fn blend(parts: &[(&str, f64)]) -> Vec<(Formula, f64)> {
    parts.iter().map(|(species, part)| (Formula::parse(species).unwrap(), *part)).collect()
}

#[test]
fn a_bead_of_another_flux_ratio_is_refused_in_plain_words() {
    let set = |low, high| Conditions::new(10.0).and_then(|made| sand(made.with_range(low, high)?)).unwrap();
    let said = |set: &CoefficientSet, ratio| set.check_conditions(ratio, &[], "B-417").unwrap_err().to_string();
    let even = set(8.5, 11.5);
    assert!(said(&even, 8.0).starts_with("Coefficients sand were made for F 10.0 +- 1.5; bead B-417 has F 8.0. Make"));
    assert!(said(&set(9.0, 12.0), 8.0).contains("F 10.0 (9.0 to 12.0);"));
    assert!(said(&set(10.0, 10.0), 9.995).contains("F 10.0 alone; bead B-417 has F 9.995."));
    let refused = even.check_conditions(8.0, &[], "B-417").unwrap_err();
    assert_eq!((refused.code(), refused.code().severity()), (Code::CoefficientsFluxRatio, Severity::Error));
    for inside in [8.5, 10.0, 11.5] {
        assert_eq!(even.check_conditions(inside, &[], "B-417"), Ok(Vec::new()));
    }
    assert_eq!(even.check_conditions(f64::NAN, &[], "B-417").unwrap_err().code(), Code::NumberNotFinite);
    let refused = even.check_conditions(10.0, &blend(&[("LiBO2", -1.0)]), "B-417").unwrap_err();
    assert_eq!(refused.code(), Code::NumberOutOfRange);
}

#[test]
fn another_flux_is_a_finding_with_the_shares() {
    let made_for = Conditions::new(10.0).and_then(|it| it.with_blend(&[("Li2B4O7", 35.0), ("LiBO2", 65.0)])).unwrap();
    let set = sand(made_for).unwrap();
    let findings = |parts: &[(&str, f64)]| set.check_conditions(10.0, &blend(parts), "B-417").unwrap();
    assert!(findings(&[("LiBO2", 65.0), ("Li2B4O7", 35.0)]).is_empty(), "order and scale do not matter");
    assert!(findings(&[("LiBO2", 0.6504), ("Li2B4O7", 0.3496)]).is_empty(), "within the rounding of a share");
    assert!(findings(&[]).is_empty(), "not known");
    let found = findings(&[("Li2B4O7", 0.5), ("LiBO2", 0.5)]);
    assert_eq!((found.len(), found[0].code), (1, Code::CoefficientsBlend));
    assert!(found[0].text.contains("35 % Li2B4O7, 65 % LiBO2; bead B-417 was fused with 50 % Li2B4O7, 50 % LiBO2"));
    assert!((found[0].value.unwrap() - 0.15).abs() < ROUNDING);
    assert_eq!(findings(&[("Li2B4O7", 35.0), ("LiBO2", 64.0), ("LiBr", 1.0)]).len(), 1);
}

#[test]
fn contents_outside_their_ranges_are_findings() {
    let made_for = Conditions::new(10.0).and_then(|it| it.with_content_range("Fe2O3", 0.01, 0.05)).unwrap();
    let set = sand(made_for).unwrap();
    assert!(set.check_range(&[("SiO2", 0.4), ("Fe2O3", 0.01)]).unwrap().is_empty(), "no range, and on the edge");
    let found = set.check_range(&[("SiO2", 0.4), ("Fe2O3", 0.08)]).unwrap();
    assert_eq!((found.len(), found[0].code, found[0].bound), (1, Code::CoefficientsOutside, Some(0.05)));
    assert!(found[0].text.starts_with("Fe2O3 8 % is above 1 % to 5 %, for which coefficients sand were made."));
    let found = set.check_range(&[("Fe2O3", -0.001)]).unwrap();
    assert!(found[0].text.starts_with("Fe2O3 -0.1 % is below 1 %"), "{}", found[0].text);
    assert_eq!(set.check_range(&[("CaO", 0.1)]).unwrap_err().code(), Code::SpeciesUnknown);
    assert_eq!(set.check_range(&[("SiO2", f64::NAN)]).unwrap_err().code(), Code::NumberNotFinite);
}

#[test]
fn every_class_survives_its_document() {
    for class in all() {
        let text = document::to_json(&class.set).unwrap();
        let read: CoefficientSet = document::from_json(&text).unwrap();
        assert_eq!(read, class.set);
        assert_eq!(document::digest(&read), document::digest(&class.set));
    }
}

#[test]
fn a_stored_set_is_checked_as_a_new_one() {
    let made_for = Conditions::new(10.0).unwrap().with_setup("Rh tube");
    let text = document::to_json(&sand(made_for).unwrap()).unwrap();
    let change = |from: &str, to: &str| {
        assert!(text.contains(from), "{text}");
        document::from_json::<CoefficientSet>(&text.replacen(from, to, 1)).unwrap_err().code()
    };
    assert_eq!(change("\"Fe Ka\"", "\"Si Ka\""), Code::LineName);
    assert_eq!(change("\"lowest_ratio\": 10.0", "\"lowest_ratio\": 11.0"), Code::NumberOutOfRange);
    assert_eq!(change("\"setup\"", "\"set-up\""), Code::DocumentUnknownField);
    assert_eq!(change("\"kind\": \"fitted\"", "\"kind\": \"guessed\""), Code::DocumentMalformed);
    assert_eq!(change("influence-coefficients", "influence"), Code::DocumentKind);
}

#[test]
fn a_table_has_a_column_for_each_component() {
    let made_for = Conditions::new(10.0).and_then(|it| it.with_blend(&[("LiBO2", 1.0)])).unwrap();
    let csv = sand(made_for.clone()).unwrap().table().to_csv();
    assert!(csv.contains("line,analyte,SiO2,Fe2O3,LiBr"), "{csv}");
    let row = Influence::new("Si Ka", "SiO2", [0.14]).with_u([0.01]).with_sensitivity(2.5e-9);
    let set = CoefficientSet::new(label(), Derivation::Fitted, made_for, ["SiO2"], [row]).unwrap();
    let text = set.table().to_string();
    for part in ["F0 10.0", "flux: 100 % LiBO2", "fitted to standards; for F 10.0 to 10.0", "0.010", "2.5"] {
        assert!(text.contains(part), "{part} is not in\n{text}");
    }
}
