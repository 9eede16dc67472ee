//! Detection limits: published constants, the definitions they follow from, and what is refused.

use beadchem::code::Code;
use beadchem::matrix::{Count, DetectionFormula, LineReading};
use proptest::prelude::*;

use crate::support::assert_close;

/// A handful of operations in another order.
const ROUNDING: f64 = 1e-12;
/// Constants printed with three digits.
const THREE_DIGITS: f64 = 3e-3;

const ALL: [DetectionFormula; 4] = [
    DetectionFormula::ThreeSigmaBackground,
    DetectionFormula::CurrieDecision,
    DetectionFormula::CurrieDetection,
    DetectionFormula::CurrieQuantification,
];

fn reading(peak_time: f64, backgrounds: &[(f64, f64, f64)]) -> LineReading {
    let peak = LineReading::counted("Cr Ka", Count::new(100.0, peak_time).unwrap()).unwrap();
    backgrounds.iter().fold(peak, |reading, &(weight, rate, time)| {
        reading.background(weight, Count::new(rate, time).unwrap()).unwrap()
    })
}

fn limit(reading: &LineReading, formula: DetectionFormula, sensitivity: f64) -> f64 {
    reading.detection_limit(formula, sensitivity).unwrap().value
}

#[test]
fn three_sigma_of_the_background() {
    // 120 cps per %, 85 cps counted for 100 s: 3/120 sqrt(85/100) = 0.02305 %, by hand
    let reading = reading(100.0, &[(1.0, 85.0, 100.0)]);
    let found = reading.detection_limit(DetectionFormula::ThreeSigmaBackground, 120.0 / 0.01).unwrap();
    assert_close("in per cent", found.value * 1e2, 3.0 / 120.0 * 0.85_f64.sqrt(), ROUNDING);
    assert_eq!(found.to_string(), "0.023 % (3-sigma background)");
}

#[test]
fn paired_counts_give_the_published_constants() {
    // L. A. Currie, Anal. Chem. 40 (1968) 586, table II, paired observations of B counts: L_C = 2.33 sqrt(B),
    // L_D = 2.71 + 4.65 sqrt(B), L_Q = 50 (1 + sqrt(1 + B/12.5)) (from memory)
    let (time, counts) = (100.0, 8_500.0);
    let reading = reading(time, &[(1.0, counts / time, time)]);
    let in_counts = |formula| limit(&reading, formula, 1.0) * time;
    assert_close("decision", in_counts(DetectionFormula::CurrieDecision), 2.33 * counts.sqrt(), THREE_DIGITS);
    assert_close("detection", in_counts(DetectionFormula::CurrieDetection), 2.71 + 4.65 * counts.sqrt(), THREE_DIGITS);
    let quantified = 50.0 * (1.0 + (1.0 + counts / 12.5).sqrt());
    assert_close("quantification", in_counts(DetectionFormula::CurrieQuantification), quantified, ROUNDING);
}

#[test]
fn a_background_that_is_well_known_gives_the_other_published_constants() {
    // the same, well-known blank: L_C = 1.64 sqrt(B), L_D = 2.71 + 3.29 sqrt(B)
    let (time, counts, long) = (100.0, 8_500.0, 1e9);
    let reading = reading(time, &[(1.0, counts / time, long)]);
    let in_counts = |formula| limit(&reading, formula, 1.0) * time;
    assert_close("decision", in_counts(DetectionFormula::CurrieDecision), 1.645 * counts.sqrt(), THREE_DIGITS);
    assert_close("detection", in_counts(DetectionFormula::CurrieDetection), 2.71 + 3.29 * counts.sqrt(), THREE_DIGITS);
}

#[test]
fn a_background_of_no_counts_does_not_detect_everything() {
    let reading = reading(100.0, &[(1.0, 0.0, 100.0)]);
    for formula in ALL {
        assert!(limit(&reading, formula, 12_000.0) > 0.0, "{}", formula.word());
    }
}

#[test]
fn words_name_the_formulas() {
    for formula in ALL {
        assert_eq!(DetectionFormula::from_word(formula.word()).unwrap(), formula);
    }
    assert_eq!(DetectionFormula::from_word("3 sigma").unwrap_err().code(), Code::WordUnknown);
}

#[test]
fn what_has_no_limit_is_refused() {
    let formula = DetectionFormula::CurrieDetection;
    let refused =
        |reading: &LineReading, sensitivity: f64| reading.detection_limit(formula, sensitivity).unwrap_err().code();
    let good = reading(100.0, &[(1.0, 85.0, 100.0)]);
    for (sensitivity, code) in [
        (0.0, Code::NumberOutOfRange),
        (-5.0, Code::NumberOutOfRange),
        (f64::NAN, Code::NumberNotFinite),
        (f64::INFINITY, Code::NumberNotFinite),
    ] {
        assert_eq!(refused(&good, sensitivity), code, "{sensitivity}");
    }
    assert_eq!(refused(&reading(100.0, &[]), 1.0), Code::BackgroundUnstated);
    assert_eq!(refused(&LineReading::net("Cr Ka", 5.0).unwrap(), 1.0), Code::BackgroundUnstated);
    assert_eq!(refused(&reading(100.0, &[(0.5, 10.0, 10.0), (-1.0, 10.0, 10.0)]), 1.0), Code::NumberOutOfRange);
}

proptest! {
    /// Each limit fulfils the sentence that defines it, with weighted backgrounds.
    #[test]
    fn limits_fulfil_their_definitions(
        time in 1.0_f64..300.0, weight in 0.1_f64..0.9, rates in prop::array::uniform2(5.0_f64..1e4),
        times in prop::array::uniform2(1.0_f64..300.0), sensitivity in 1e2_f64..1e6,
    ) {
        let reading = reading(time, &[(weight, rates[0], times[0]), (1.0 - weight, rates[1], times[1])]);
        let rate = |formula| limit(&reading, formula, sensitivity) * sensitivity;
        let taken = weight * weight * rates[0] / times[0] + (1.0 - weight) * (1.0 - weight) * rates[1] / times[1];
        let empty = ((weight * rates[0] + (1.0 - weight) * rates[1]) / time + taken).sqrt();
        let scatter_at = |net: f64| (empty * empty + net / time).sqrt();
        let decision = rate(DetectionFormula::CurrieDecision);
        prop_assert!((decision / (1.645 * empty) - 1.0).abs() < ROUNDING);
        // a content at the limit falls below the decision in 5 % of cases
        let detection = rate(DetectionFormula::CurrieDetection);
        prop_assert!(((decision + 1.645 * scatter_at(detection)) / detection - 1.0).abs() < ROUNDING);
        // ten times its own scatter
        let quantified = rate(DetectionFormula::CurrieQuantification);
        prop_assert!((10.0 * scatter_at(quantified) / quantified - 1.0).abs() < ROUNDING);
        prop_assert!((rate(DetectionFormula::ThreeSigmaBackground) / (3.0 * taken.sqrt()) - 1.0).abs() < ROUNDING);
        prop_assert!(decision < detection && detection < quantified);
    }
}
