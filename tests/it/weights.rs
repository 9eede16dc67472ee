//! Versions of the atomic weights: choosing one, changing one element, looking elements up.

use beadchem::Error;
use beadchem::code::Code;
use beadchem::substance::{Weight, Weights};
use proptest::prelude::*;

// Enriched and depleted materials, invented.
const LITHIUM_6: Weight = Weight::Single { value: 6.0197, half_width: 0.0004 };
const LITHIUM_7: Weight = Weight::Single { value: 7.0154, half_width: 0.0005 };
const URANIUM: Weight = Weight::Single { value: 238.05, half_width: 0.01 };

fn refusal<T: core::fmt::Debug>(result: Result<T, Error>) -> (Code, String) {
    let error = result.expect_err("a refusal");
    (error.code(), error.to_string())
}

#[test]
fn versions_are_chosen_by_their_exact_name() {
    for weights in [Weights::ciaaw_2021(), Weights::ciaaw_2024()] {
        assert_eq!(Weights::version(weights.version_name()), Ok(weights));
    }
    assert_ne!(Weights::ciaaw_2021(), Weights::ciaaw_2024());
    for wrong in ["", "ciaaw 2024", "CIAAW 2024 ", "2024", "CIAAW 2013", "CIAAW 2024 with Li from a supplier"] {
        let (code, message) = refusal(Weights::version(wrong));
        assert_eq!(code, Code::WeightsUnknown);
        assert!(message.contains(&format!("`{wrong}`")) && message.contains("CIAAW 2021, CIAAW 2024"), "{message}");
    }
}

#[test]
fn a_changed_weight_is_in_the_name_and_nowhere_else() {
    let published = Weights::ciaaw_2024();
    let changed = published.with("Li", LITHIUM_6, "  certificate 17-204 ").expect("a weight");
    assert_eq!(changed.version_name(), "CIAAW 2024 with Li from certificate 17-204");
    for (before, after) in published.entries().iter().zip(changed.entries()) {
        assert_eq!(after.weight, if after.symbol == "Li" { LITHIUM_6 } else { before.weight });
        assert_eq!((after.number, after.symbol, after.name), (before.number, before.symbol, before.name));
    }
    assert_eq!(published, Weights::ciaaw_2024());
    assert_eq!(changed, changed.clone());
    assert_ne!(changed, published);
    assert_eq!(format!("{changed:?}"), r#"Weights("CIAAW 2024 with Li from certificate 17-204")"#);
}

#[test]
fn changes_do_not_depend_on_their_order_and_replace_each_other() {
    let base = Weights::ciaaw_2021();
    let one =
        base.with("U", URANIUM, "report 9").and_then(|w| w.with("Li", LITHIUM_6, "supplier")).expect("two weights");
    let other = base
        .with("Li", LITHIUM_7, "a slip")
        .and_then(|w| w.with("Li", LITHIUM_6, "supplier"))
        .and_then(|w| w.with("U", URANIUM, "report 9"))
        .expect("two weights");
    assert_eq!(one.version_name(), "CIAAW 2021 with Li from supplier, U from report 9");
    assert_eq!(one, other);
}

#[test]
fn equal_names_with_different_figures_are_different_versions() {
    let base = Weights::ciaaw_2024();
    let one = base.with("Li", LITHIUM_6, "supplier").expect("a weight");
    let other = base.with("Li", LITHIUM_7, "supplier").expect("a weight");
    assert_eq!(one.version_name(), other.version_name());
    assert_ne!(one, other);
}

#[test]
fn every_published_weight_may_be_given_again() {
    let published = Weights::ciaaw_2024();
    for entry in published.entries() {
        let again = published.with(entry.symbol, entry.weight, "the same table");
        assert_eq!(again.as_ref().map(Weights::entries), Ok(published.entries()), "{entry:?}");
    }
}

#[test]
fn weights_an_element_cannot_have_are_refused() {
    let single = |value, half_width| Weight::Single { value, half_width };
    let interval = |low, high, conventional| Weight::Interval { low, high, conventional };
    for (weight, code, said) in [
        (single(60.197, 0.004), Code::NumberOutOfRange, "Atomic weight of Li 60.197 is outside 3 to 9.3"),
        (single(0.0, 0.0), Code::NumberOutOfRange, "Atomic weight of Li 0 is"),
        (single(-6.02, 0.01), Code::NumberOutOfRange, "Atomic weight of Li -6.02 is"),
        (single(f64::NAN, 0.01), Code::NumberNotFinite, "Atomic weight of Li is missing"),
        (single(6.02, f64::NAN), Code::NumberNotFinite, "Half width of the atomic weight of Li is missing"),
        (single(6.02, f64::INFINITY), Code::NumberNotFinite, "Got inf"),
        (single(6.02, -0.01), Code::UncertaintyNegative, "Half width of the atomic weight of Li -0.01"),
        (single(6.0197, 4.0e4), Code::NumberOutOfRange, "units of the last digit"),
        (interval(6.997, 6.938, 6.94), Code::NumberOutOfRange, "lower end first"),
        (interval(6.938, 6.997, 7.3), Code::NumberOutOfRange, "Conventional atomic weight of Li 7.3"),
        (interval(6.938, f64::NAN, 6.94), Code::NumberNotFinite, "is missing"),
        (Weight::MassNumber(60), Code::NumberOutOfRange, "Atomic weight of Li 60 is"),
    ] {
        let (found, message) = refusal(Weights::ciaaw_2024().with("Li", weight, "supplier"));
        assert_eq!(found, code, "{weight:?}: {message}");
        assert!(message.contains(said), "{message}");
    }
    assert!(Weights::ciaaw_2024().with("Li", single(6.015, 0.0), "one nuclide, exact").is_ok());
}

#[test]
fn a_change_needs_a_known_element_and_a_source() {
    let (code, message) = refusal(Weights::ciaaw_2024().with("Lx", LITHIUM_6, "supplier"));
    assert_eq!(code, Code::WeightsUnknown, "{message}");
    for empty in ["", " \t"] {
        let (code, message) = refusal(Weights::ciaaw_2024().with("Li", LITHIUM_6, empty));
        assert_eq!(code, Code::WeightsUnsourced);
        assert!(message.starts_with("Source of the atomic weight of Li is not stated."), "{message}");
    }
}

#[test]
fn elements_are_found_by_symbol_and_number() {
    let weights = Weights::ciaaw_2024();
    for (index, entry) in weights.entries().iter().enumerate() {
        assert_eq!(weights.index_of(entry.symbol), Ok(index));
        assert_eq!(weights.get(entry.symbol), Ok(entry));
        assert_eq!(weights.by_number(entry.number), Ok(entry));
    }
    for number in [0, 119, u8::MAX] {
        let (code, message) = refusal(weights.by_number(number));
        assert_eq!(code, Code::WeightsUnknown);
        assert!(message.contains(&format!("`{number}`")) && message.contains("118"), "{message}");
    }
}

/// All strings of one or two letters of either case: the table of places holds the elements and nothing else.
#[test]
fn nothing_but_an_element_is_found() {
    let weights = Weights::ciaaw_2024();
    let letters: Vec<char> = ('A'..='Z').chain('a'..='z').collect();
    let mut found = 0;
    for first in &letters {
        for text in letters.iter().map(|second| format!("{first}{second}")).chain([first.to_string()]) {
            let known = weights.entries().iter().any(|entry| entry.symbol == text);
            assert_eq!(weights.get(&text).is_ok(), known, "{text}");
            found += usize::from(known);
        }
    }
    assert_eq!(found, 118);
}

#[test]
fn an_unknown_symbol_is_answered_with_the_one_meant() {
    let weights = Weights::ciaaw_2024();
    for (given, hint) in [
        ("FE", "The symbol of iron is `Fe`."),
        (" Fe", "The symbol of iron is `Fe`."),
        ("iron", "The symbol of iron is `Fe`."),
        ("Sulfur", "The symbol of sulfur is `S`."),
        ("Xx", "Give a symbol"),
        ("", "Give a symbol"),
        ("Fé", "Give a symbol"),
    ] {
        let error = weights.get(given).expect_err("no element");
        assert_eq!((error.code(), error.quantity()), (Code::WeightsUnknown, given));
        assert!(error.hint().starts_with(hint), "{error}");
    }
}

#[test]
fn weights_are_shared_between_threads() {
    fn shared<T: Send + Sync + Clone + 'static>() {}
    shared::<Weights>();
}

proptest! {
    #[test]
    fn any_text_is_an_element_or_refused(text in ".{0,4}") {
        let weights = Weights::ciaaw_2024();
        match weights.get(&text) {
            Ok(entry) => prop_assert_eq!(entry.symbol, text),
            Err(error) => prop_assert_eq!(error.code(), Code::WeightsUnknown),
        }
    }

    /// The standard uncertainty is that of the distribution it stands for, whose variance is the mean square distance
    /// from its middle: width squared over twelve.
    #[test]
    fn half_width_and_interval_of_the_same_width_agree(value in 1.0..300.0_f64, half_width in 1e-9..1.0_f64) {
        /// Subtracting the ends loses what they carry beyond the width.
        const CANCELLATION: f64 = 4.0 * f64::EPSILON;
        let single = Weight::Single { value, half_width };
        let interval = Weight::Interval { low: value - half_width, high: value + half_width, conventional: value };
        let (a, b) = (single.standard_uncertainty(), interval.standard_uncertainty());
        let (a, b) = (a.expect("a half width"), b.expect("an interval"));
        prop_assert!((a - b).abs() <= CANCELLATION * value.max(1.0), "{a} and {b}");
    }
}
