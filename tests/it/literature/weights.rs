//! Atomic weights against the publications that brought them, and the table against itself.
//!
//! Of the reports in Pure and Applied Chemistry the abstracts were read, of the releases of the Commission on Isotopic
//! Abundances and Atomic Weights (CIAAW) the text.

use std::collections::BTreeSet;

use beadchem::substance::{Entry, Weight, Weights};

/// Figures are printed with seven decimals at the most; what is computed from them is rounding away from that.
const LAST_FIGURE: f64 = 5e-8;

const R2007: &str = "Wieser & Berglund, Pure Appl. Chem. 2009, 81, 2131";
const R2009: &str = "Wieser & Coplen, Pure Appl. Chem. 2011, 83, 359";
const R2011: &str = "Wieser et al., Pure Appl. Chem. 2013, 85, 1047";
const R2013: &str = "Meija et al., Pure Appl. Chem. 2016, 88, 265";
const C2018: &str = "CIAAW, release of 5 June 2018";
const R2021: &str = "Prohaska et al., Pure Appl. Chem. 2022, 94, 573";
const T2021: &str = "CIAAW, table of standard atomic weights 2021";
const C2024: &str = "CIAAW, revision of 2024, as in Chem. Eng. News 2024, 102 (34)";

fn entry(weights: &Weights, symbol: &str) -> Entry {
    *weights.get(symbol).expect("an element")
}

/// Value and quoted uncertainty of single-valued elements that still stand as published.
const SINGLE: [(&str, f64, f64, &str); 45] = [
    ("Ni", 58.6934, 0.0004, R2007),
    ("Zn", 65.38, 0.02, R2007),
    ("In", 114.818, 0.001, R2011),
    ("Ge", 72.630, 0.008, R2011),
    ("Hg", 200.592, 0.003, R2011),
    ("Cd", 112.414, 0.004, R2013),
    ("Mo", 95.95, 0.01, R2013),
    ("Se", 78.971, 0.008, R2013),
    ("Th", 232.0377, 0.0004, R2013),
    ("As", 74.921595, 6e-6, R2013),
    ("Be", 9.0121831, 5e-7, R2013),
    ("Cs", 132.90545196, 6e-8, R2013),
    ("P", 30.973761998, 5e-9, R2013),
    ("Al", 26.9815384, 3e-7, C2018), // AW3
    ("Co", 58.933194, 3e-6, C2018),  // AW3
    ("Mn", 54.938043, 2e-6, C2018),  // AW3
    ("Nb", 92.90637, 1e-5, C2018),   // AW3
    ("Au", 196.966570, 4e-6, C2018),
    ("Pr", 140.90766, 1e-5, C2018),
    ("Pa", 231.03588, 1e-5, C2018),
    ("Rh", 102.90549, 2e-5, C2018),
    ("Hf", 178.486, 0.006, R2021), // AW2
    ("Ir", 192.217, 0.002, R2021),
    ("Yb", 173.045, 0.010, R2021),
    ("F", 18.998403162, 5e-9, T2021),
    ("Ne", 20.1797, 0.0006, T2021), // not 20.17976, as some tables have it
    ("Na", 22.98976928, 2e-8, T2021),
    ("K", 39.0983, 0.0001, T2021),
    ("Ca", 40.078, 0.004, T2021),
    ("Sc", 44.955907, 4e-6, T2021),
    ("Ti", 47.867, 0.001, T2021),
    ("V", 50.9415, 0.0001, T2021),
    ("Cr", 51.9961, 0.0006, T2021),
    ("Fe", 55.845, 0.002, T2021),
    ("Cu", 63.546, 0.003, T2021),
    ("Ga", 69.723, 0.001, T2021),
    ("Rb", 85.4678, 0.0003, T2021),
    ("Sr", 87.62, 0.01, T2021),
    ("Y", 88.905838, 2e-6, T2021),
    ("Ag", 107.8682, 0.0002, T2021),
    ("Sn", 118.710, 0.007, T2021), // not 118.700, as one package has it
    ("Sb", 121.760, 0.001, T2021),
    ("Zr", 91.222, 0.003, C2024),      // AW1
    ("Gd", 157.249, 0.002, C2024),     // AW1
    ("Lu", 174.96669, 0.00005, C2024), // AW1
];

#[test]
fn single_values_are_as_published() {
    let weights = Weights::ciaaw_2024();
    for (symbol, value, half_width, source) in SINGLE {
        assert_eq!(entry(&weights, symbol).weight, Weight::Single { value, half_width }, "{symbol}: {source}");
    }
}

/// All fourteen intervals.
const INTERVAL: [(&str, f64, f64, &str); 14] = [
    ("H", 1.00784, 1.00811, R2009),
    ("Li", 6.938, 6.997, R2009),
    ("B", 10.806, 10.821, R2009),
    ("C", 12.0096, 12.0116, R2009),
    ("N", 14.00643, 14.00728, R2009),
    ("O", 15.99903, 15.99977, R2009),
    ("Mg", 24.304, 24.307, R2011),
    ("Si", 28.084, 28.086, R2009),
    ("S", 32.059, 32.076, R2009),
    ("Cl", 35.446, 35.457, R2009),
    ("Ar", 39.792, 39.963, C2018),
    ("Br", 79.901, 79.907, R2011),
    ("Tl", 204.382, 204.385, R2009),
    ("Pb", 206.14, 207.94, R2021), // AW2
];

#[test]
fn intervals_are_as_published_and_no_other_element_has_one() {
    let weights = Weights::ciaaw_2024();
    for (symbol, low, high, source) in INTERVAL {
        match entry(&weights, symbol).weight {
            Weight::Interval { low: a, high: b, .. } => assert_eq!([a, b], [low, high], "{symbol}: {source}"),
            other => panic!("{symbol}: {other:?}"),
        }
    }
    let held = weights.entries().iter().filter(|e| matches!(e.weight, Weight::Interval { .. })).map(|e| e.symbol);
    assert_eq!(held.collect::<Vec<_>>(), INTERVAL.map(|(symbol, ..)| symbol));
}

/// AW2: lead calculates with its conventional value, the one of the abridged table (`R2021`).
#[test]
fn lead_calculates_with_its_conventional_value() {
    assert_eq!(entry(&Weights::ciaaw_2021(), "Pb").weight.value(), 207.2);
}

/// AW4 and AW5: middle and standard uncertainty of a rectangular distribution over the published interval (`R2009`), by
/// the rule of Possolo et al., Pure Appl. Chem. 2018, 90, 395; figures worked out by hand.
#[test]
fn an_interval_gives_middle_and_standard_uncertainty() {
    for (symbol, middle, u) in [("S", 32.0675, 0.004_907_5), ("Li", 6.9675, 0.017_031_8)] {
        let weight = entry(&Weights::ciaaw_2024(), symbol).weight;
        let found = [weight.interval_midpoint(), weight.standard_uncertainty()].map(|x| x.expect("an interval"));
        assert!((found[0] - middle).abs() < LAST_FIGURE && (found[1] - u).abs() < LAST_FIGURE, "{symbol}: {found:?}");
    }
}

/// AW6: potassium hydrogen phthalate, C8H5O4K, in EURACHEM/CITAC QUAM:2012, example A2, with the weights used there. The
/// atoms of one element have one error, so that a weight counts as often as there are atoms.
#[test]
fn half_widths_give_the_molar_mass_of_quam_a2() {
    const MASS: f64 = 204.2212;
    const U: f64 = 0.0038;
    /// Half a unit of the last figure printed, of both.
    const PRINTED: f64 = 5e-5;
    let atoms = [(8.0, 12.0107, 0.0008), (5.0, 1.00794, 0.00007), (4.0, 15.9994, 0.0003), (1.0, 39.0983, 0.0001)]
        .map(|(count, value, half_width)| (count, Weight::Single { value, half_width }));
    let mass: f64 = atoms.iter().map(|(count, weight)| count * weight.value()).sum();
    let variance: f64 = atoms
        .iter()
        .map(|(count, weight)| (count * weight.standard_uncertainty().expect("a half width")).powi(2))
        .sum();
    assert!((mass - MASS).abs() < PRINTED, "{mass}");
    assert!((variance.sqrt() - U).abs() < PRINTED, "{}", variance.sqrt());
}

#[test]
fn the_revision_of_2024_changes_three_elements_within_what_was_quoted() {
    let (old, new) = (Weights::ciaaw_2021(), Weights::ciaaw_2024());
    let mut changed = Vec::new();
    for (old, new) in old.entries().iter().zip(new.entries()) {
        assert_eq!((old.number, old.symbol, old.name), (new.number, new.symbol, new.name));
        if old.weight == new.weight {
            continue;
        }
        changed.push(new.symbol);
        let (Weight::Single { value: a, half_width: p }, Weight::Single { value: b, half_width: q }) =
            (old.weight, new.weight)
        else {
            panic!("{old:?} became {new:?}");
        };
        assert!((a - b).abs() <= p + q, "{}: {a} and {b} contradict each other", new.symbol);
    }
    assert_eq!(changed, ["Zr", "Gd", "Lu"], "{C2024}");
}

#[test]
fn elements_are_in_order_and_named_once() {
    let weights = Weights::ciaaw_2021();
    assert!(weights.entries().iter().map(|e| e.number).eq(1..=118));
    assert_eq!(weights.entries().iter().map(|e| e.symbol).collect::<BTreeSet<_>>().len(), 118);
    assert_eq!(weights.entries().iter().map(|e| e.name).collect::<BTreeSet<_>>().len(), 118);
    for entry in weights.entries() {
        assert!(entry.name.chars().all(|letter| letter.is_ascii_lowercase()), "{entry:?}");
        let letters: Vec<char> = entry.symbol.chars().collect();
        assert!(matches!(letters[..], ['A'..='Z'] | ['A'..='Z', 'a'..='z']), "{entry:?}");
    }
}

/// Weights rise with the atomic number but for four well-known pairs: two weights that changed places would show here.
#[test]
fn weights_rise_with_the_atomic_number_but_for_four_pairs() {
    let weights = Weights::ciaaw_2024();
    let natural: Vec<&Entry> =
        weights.entries().iter().filter(|e| !matches!(e.weight, Weight::MassNumber(_))).collect();
    let falling: Vec<_> = natural
        .windows(2)
        .filter(|pair| pair[0].weight.value() >= pair[1].weight.value())
        .map(|pair| (pair[0].symbol, pair[1].symbol))
        .collect();
    assert_eq!(falling, [("Ar", "K"), ("Co", "Ni"), ("Te", "I"), ("Th", "Pa")]);
}

/// `T2021` prints a dash for these.
#[test]
fn elements_without_a_standard_weight_are_those_of_the_commission() {
    let weights = Weights::ciaaw_2024();
    let without = weights.entries().iter().filter(|e| matches!(e.weight, Weight::MassNumber(_))).map(|e| e.number);
    assert!(without.eq([43, 61].into_iter().chain(84..=89).chain(93..=118)));
    for entry in weights.entries() {
        let states_u = entry.weight.standard_uncertainty().is_some_and(|u| u > 0.0);
        assert_eq!(states_u, !matches!(entry.weight, Weight::MassNumber(_)), "{entry:?}");
    }
}

/// Elements whose conventional value lies outside their interval, with the decimals it is printed with.
const OUTSIDE_BY_ROUNDING: [(&str, i32); 2] = [("O", 3), ("Tl", 2)];

#[test]
fn conventional_values_lie_in_their_intervals_but_for_rounding() {
    let weights = Weights::ciaaw_2024();
    let mut outside = Vec::new();
    for entry in weights.entries() {
        let Weight::Interval { low, high, conventional } = entry.weight else { continue };
        assert!(low < high, "{entry:?}");
        let middle = entry.weight.interval_midpoint().expect("an interval");
        assert!(low < middle && middle < high, "{entry:?}");
        let distance = (low - conventional).max(conventional - high);
        if distance > 0.0 {
            outside.push((entry.symbol, distance));
        }
    }
    assert_eq!(outside.iter().map(|(s, _)| *s).collect::<Vec<_>>(), OUTSIDE_BY_ROUNDING.map(|(s, _)| s));
    for ((symbol, distance), (_, decimals)) in outside.into_iter().zip(OUTSIDE_BY_ROUNDING) {
        assert!(distance <= 0.5 * 10_f64.powi(-decimals), "{symbol}: {distance}");
    }
}

/// The one uncertainty printed with two digits, "(10)".
const TWO_DIGITS: &str = "Yb";

/// A value is printed to the digit its uncertainty is in: a digit of the uncertainty glued to the value, or a digit lost
/// from it, would show here.
#[test]
fn values_end_where_their_uncertainty_stands() {
    /// Of one unit of the last digit: what ten-digit decimals lose as binary numbers.
    const BINARY: f64 = 1e-4;
    for weights in [Weights::ciaaw_2021(), Weights::ciaaw_2024()] {
        for entry in weights.entries() {
            let Weight::Single { value, half_width } = entry.weight else { continue };
            let digits = if entry.symbol == TWO_DIGITS { 1.0 } else { 0.0 };
            let last = 10_f64.powf((half_width.log10() + BINARY).floor() - digits);
            for number in [value, half_width] {
                let units = number / last;
                assert!((units - units.round()).abs() < BINARY, "{entry:?} is not in units of {last}");
            }
            assert!(half_width / last < 10.0 + BINARY, "{entry:?}");
        }
    }
}
