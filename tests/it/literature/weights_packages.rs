//! Every atomic weight against independent packages of the Python Package Index; see the header of the data file.

use std::collections::{BTreeMap, BTreeSet};

use beadchem::substance::{Entry, Weight, Weights};

const DATA: &str = include_str!("../../data/atomic_weights_packages.csv");

/// The sources of a value: three packages, one of them also with its abridged table.
const PACKAGES: [&str; 4] = ["periodictable", "atomic_weights", "pyciaaw", "pyciaaw_abridged"];

/// What decimals lose as binary numbers, far below any figure printed.
const BINARY: f64 = 1e-11;

type Row = BTreeMap<&'static str, &'static str>;

fn rows() -> Vec<Row> {
    let mut lines = DATA.lines().filter(|line| !line.starts_with('#'));
    let head: Vec<&str> = lines.next().expect("a line of names").split(',').collect();
    lines
        .map(|line| {
            let cells: Vec<&str> = line.split(',').collect();
            assert_eq!(cells.len(), head.len(), "{line}");
            head.iter().copied().zip(cells).collect()
        })
        .collect()
}

fn number(row: &Row, column: &str) -> Option<f64> {
    let text = row[column];
    (!text.is_empty()).then(|| text.parse().unwrap_or_else(|_| panic!("{column} of {}: {text}", row["symbol"])))
}

fn entry(weights: &Weights, row: &Row) -> Entry {
    *weights.get(row["symbol"]).expect("an element")
}

/// How far a source may lie from the value: tables in full agree to the digit, abridged ones to half a unit of the fifth
/// figure.
fn tolerance(package: &str, value: f64) -> f64 {
    match package {
        "pyciaaw_abridged" => 0.5 * 10_f64.powf(value.log10().floor() - 4.0) + BINARY,
        _ => 0.0,
    }
}

/// Why a source may differ from the table of 2024.
#[derive(Debug, Clone, Copy, PartialEq)]
enum Reason {
    /// It still has the value of 2021.
    NotRevised,
    /// It gives the middle of the interval, rounded, where we have the conventional value.
    Middle,
    /// A digit is missing: 118.700 for 118.710; its own abridged value agrees with ours.
    LostDigit,
    /// Another isotope of an element without a standard atomic weight; older, shorter-lived ones.
    OtherIsotope,
}

use Reason::{LostDigit, Middle, NotRevised, OtherIsotope};

#[rustfmt::skip]
const EXPLAINED: [(&str, &str, Reason); 29] = [
    ("Zr", "periodictable", NotRevised), ("Zr", "pyciaaw", NotRevised), ("Zr", "pyciaaw_abridged", NotRevised),
    ("Gd", "periodictable", NotRevised), ("Gd", "pyciaaw", NotRevised),
    ("Lu", "periodictable", NotRevised), ("Lu", "pyciaaw", NotRevised),
    ("H", "pyciaaw", Middle), ("Li", "pyciaaw", Middle), ("B", "pyciaaw", Middle), ("C", "pyciaaw", Middle),
    ("N", "pyciaaw", Middle), ("O", "pyciaaw", Middle), ("Mg", "pyciaaw", Middle), ("S", "pyciaaw", Middle),
    ("Cl", "pyciaaw", Middle), ("Ar", "pyciaaw", Middle), ("Tl", "pyciaaw", Middle), ("Pb", "pyciaaw", Middle),
    ("Sn", "pyciaaw", LostDigit),
    ("Tc", "periodictable", OtherIsotope), ("Rf", "periodictable", OtherIsotope),
    ("Db", "periodictable", OtherIsotope), ("Sg", "periodictable", OtherIsotope),
    ("Bh", "periodictable", OtherIsotope), ("Hs", "periodictable", OtherIsotope),
    ("Mt", "periodictable", OtherIsotope), ("Rg", "periodictable", OtherIsotope),
    ("Ts", "periodictable", OtherIsotope),
];

#[test]
fn the_file_names_every_element_and_has_two_sources_for_each() {
    let rows = rows();
    assert!(rows.iter().map(|row| row["symbol"]).eq(Weights::ciaaw_2024().entries().iter().map(|e| e.symbol)));
    for row in &rows {
        let sources = PACKAGES.iter().filter(|p| **p != "pyciaaw_abridged" && number(row, p).is_some()).count();
        assert!(sources >= 2, "{row:?}");
    }
}

#[test]
fn every_disagreement_is_explained_and_every_explanation_needed() {
    let weights = Weights::ciaaw_2024();
    let mut found = BTreeSet::new();
    for row in rows() {
        let value = entry(&weights, &row).weight.value();
        for package in PACKAGES {
            if number(&row, package).is_some_and(|given| (given - value).abs() > tolerance(package, value)) {
                found.insert((row["symbol"], package));
            }
        }
    }
    let explained: BTreeSet<_> = EXPLAINED.iter().map(|(symbol, package, _)| (*symbol, *package)).collect();
    let unexplained: Vec<_> = found.difference(&explained).collect();
    let needless: Vec<_> = explained.difference(&found).collect();
    assert!(
        unexplained.is_empty() && needless.is_empty(),
        "unexplained {unexplained:?}, no longer needed {needless:?}"
    );
    assert_eq!(explained.len(), EXPLAINED.len(), "an explanation is given twice");
}

#[test]
fn the_explanations_are_true() {
    let (old, new) = (Weights::ciaaw_2021(), Weights::ciaaw_2024());
    let rows = rows();
    for (symbol, package, reason) in EXPLAINED {
        let row = rows.iter().find(|row| row["symbol"] == symbol).expect("an element");
        let given = number(row, package).expect("a value");
        let weight = entry(&new, row).weight;
        let holds = match reason {
            NotRevised => {
                let value = entry(&old, row).weight.value();
                (given - value).abs() <= tolerance(package, value)
            }
            Middle => {
                let decimals = row[package].split_once('.').map_or(0, |(_, after)| after.len());
                let half_unit = 0.5 * 10_f64.powi(-(decimals as i32));
                weight.interval_midpoint().is_some_and(|middle| (given - middle).abs() <= half_unit + BINARY)
            }
            LostDigit => {
                let abridged = number(row, "pyciaaw_abridged").expect("a value");
                (abridged - weight.value()).abs() <= tolerance("pyciaaw_abridged", weight.value())
            }
            OtherIsotope => matches!(weight, Weight::MassNumber(_)) && given.fract() == 0.0,
        };
        assert!(holds, "{symbol}, {package}: {given} against {weight:?} is not {reason:?}");
    }
}

#[test]
fn half_widths_agree_to_the_digit() {
    let weights = Weights::ciaaw_2021();
    let mut compared = 0;
    for row in rows() {
        if let Weight::Single { half_width, .. } = entry(&weights, &row).weight {
            for column in ["periodictable_half_width", "pyciaaw_uncertainty"] {
                assert_eq!(number(&row, column), Some(half_width), "{} in {column}", row["symbol"]);
            }
            compared += 1;
        }
    }
    assert_eq!(compared, 70, "84 elements have a standard weight, 14 of them as an interval");
}

#[test]
fn ends_of_intervals_agree_to_the_digit() {
    let weights = Weights::ciaaw_2021();
    for row in rows() {
        let expected = match entry(&weights, &row).weight {
            Weight::Interval { low, high, .. } => [Some(low), Some(high)],
            _ => [None, None],
        };
        assert_eq!(["periodictable_low", "periodictable_high"].map(|c| number(&row, c)), expected, "{}", row["symbol"]);
    }
}

/// For an interval the uncertainty in `pyciaaw` is no half width: it is the rectangular standard uncertainty rounded up
/// to one digit, which is a second opinion on the rule for intervals.
#[test]
fn uncertainties_of_intervals_agree_rounded_up() {
    let weights = Weights::ciaaw_2021();
    let mut compared = 0;
    for row in rows() {
        let weight = entry(&weights, &row).weight;
        if matches!(weight, Weight::Interval { .. }) {
            let u = weight.standard_uncertainty().expect("an interval");
            let given = number(&row, "pyciaaw_uncertainty").expect("a value");
            let unit = 10_f64.powf(u.log10().floor());
            assert!(u <= given && given - u < unit, "{}: {u} and {given}", row["symbol"]);
            compared += 1;
        }
    }
    assert_eq!(compared, 14);
}
