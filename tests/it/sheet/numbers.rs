//! Numbers by declared marks.

use beadchem::composition::Unit;
use beadchem::sheet::{DecimalMark, Layout, Reading, ThousandsMark};
use proptest::prelude::*;

use super::{config, fraction, silica};

fn marks(decimal: DecimalMark, thousands: Option<ThousandsMark>) -> Layout {
    let layout = Layout::new("Bead", decimal);
    match thousands {
        Some(mark) => layout.thousands(mark),
        None => layout,
    }
}

/// What a number in % is read as, in g/g.
fn of_percent(number: f64) -> Option<f64> {
    Some(Unit::Percent.fraction(number))
}

#[test]
fn declared_marks_are_followed() {
    use DecimalMark::{Comma, Point};
    use ThousandsMark::{Apostrophe, Blank};
    let cases = [
        ("12.5", Point, None, 12.5),
        ("12,5", Comma, None, 12.5),
        ("1,234", Comma, None, 1.234),
        (" -0,25 ", Comma, None, -0.25),
        ("\u{2212}0.25", Point, None, -0.25),
        ("+.5", Point, None, 0.5),
        ("5.", Point, None, 5.0),
        ("1.25e1", Point, None, 12.5),
        ("125E-1", Point, None, 12.5),
        ("0.012", Point, Some(ThousandsMark::Comma), 0.012),
        ("0'000'012.5", Point, Some(Apostrophe), 12.5),
        ("0\u{202f}012,5", Comma, Some(Blank), 12.5),
        ("0.012,5", Comma, Some(ThousandsMark::Point), 12.5),
    ];
    for (text, decimal, thousands, number) in cases {
        assert_eq!(fraction(&silica(text, marks(decimal, thousands))), of_percent(number), "for '{text}'");
    }
}

#[test]
fn wrong_groups_and_stray_marks_are_refused() {
    use DecimalMark::{Comma, Point};
    let grouped = Some(ThousandsMark::Comma);
    let cases = [
        ("1,23.5", Point, grouped),
        ("1,2345", Point, grouped),
        (",012", Point, grouped),
        ("0001,234", Point, grouped),
        ("1,234,5", Point, grouped),
        ("1.5,000", Point, grouped),
        ("1.2.3", Point, None),
        ("1,2,3", Comma, None),
        (".", Point, None),
        ("", Point, Some(ThousandsMark::Blank)),
        ("1e", Point, None),
        ("1e+", Point, None),
        ("1e1.5", Point, None),
        ("--1", Point, None),
        ("1-2", Point, None),
        ("12.5 %", Point, None),
        ("0x10", Point, None),
        ("\u{0663}", Point, None),
    ];
    for (text, decimal, thousands) in cases {
        assert_eq!(fraction(&silica(text, marks(decimal, thousands))), None, "for '{text}'");
    }
    assert_eq!(silica("1,23.5", marks(Point, grouped)), Reading::Refused);
}

/// Digits before the decimal mark in groups of three.
fn grouped(digits: &str, mark: char) -> String {
    let mut out = String::new();
    for (place, digit) in digits.chars().enumerate() {
        if place > 0 && (digits.len() - place).is_multiple_of(3) {
            out.push(mark);
        }
        out.push(digit);
    }
    out
}

proptest! {
    #![proptest_config(config())]

    /// Writing a number by any marks and reading it by the same gives the same number.
    #[test]
    fn numbers_round_trip(
        number in -50.0..150.0_f64,
        decimals in 0..17_usize,
        comma in any::<bool>(),
        thousands in 0..4_usize,
        zeros in 0..6_usize,
    ) {
        let (decimal, point) = if comma { (DecimalMark::Comma, ',') } else { (DecimalMark::Point, '.') };
        let choices = [
            None,
            Some((ThousandsMark::Blank, '\u{a0}')),
            Some((ThousandsMark::Apostrophe, '\u{2019}')),
            Some(if comma { (ThousandsMark::Point, '.') } else { (ThousandsMark::Comma, ',') }),
        ];
        let plain = format!("{:.decimals$}", number.abs());
        let (whole, rest) = plain.split_once('.').unwrap_or((&plain, ""));
        let whole = format!("{}{whole}", "0".repeat(zeros));
        let whole = choices[thousands].map_or(whole.clone(), |(_, mark)| grouped(&whole, mark));
        let sign = if number < 0.0 { "-" } else { "" };
        let rest = if rest.is_empty() { String::new() } else { format!("{point}{rest}") };
        let text = format!("{sign}{whole}{rest}");
        let layout = marks(decimal, choices[thousands].map(|(mark, _)| mark));
        let expected: f64 = format!("{sign}{plain}").parse().unwrap();
        prop_assert_eq!(fraction(&silica(&text, layout)), of_percent(expected), "for '{}'", text);
    }
}
