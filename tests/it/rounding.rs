//! Rounding for a report against exact integers: the number is an integer over a power of ten, and so is the answer.

use beadchem::code::Code;
use beadchem::table::{Rounding, Ties};
use proptest::prelude::*;

const RULES: [Ties; 2] = [Ties::ToEven, Ties::Up];
/// A double gives any decimal of so many digits back (IEEE 754, binary64).
const DIGITS: u32 = 15;

#[test]
fn ties_follow_the_rule() {
    // number, decimals, half to even, half up
    let cases = [
        (2.675, 2, "2.68", "2.68"),
        (0.125, 2, "0.12", "0.13"),
        (2.665, 2, "2.66", "2.67"),
        (-2.665, 2, "-2.66", "-2.67"),
        (-0.5, 0, "0", "-1"),
        (0.5, 0, "0", "1"),
        (1.5, 0, "2", "2"),
        (9.995, 2, "10.00", "10.00"),
        (0.000_1, 2, "0.00", "0.00"),
        (-0.004, 2, "0.00", "0.00"),
        (68.5, 3, "68.500", "68.500"),
        (2.665_000_000_000_1, 2, "2.67", "2.67"),
    ];
    for (value, decimals, even, up) in cases {
        assert_eq!(Rounding::half_to_even(decimals).text(value).as_deref(), Ok(even), "{value}");
        assert_eq!(Rounding::half_up(decimals).text(value).as_deref(), Ok(up), "{value}");
    }
}

#[test]
fn significant_digits_follow_the_rule() {
    for (value, digits, even, up) in [
        (0.012_25, 3, "0.0122", "0.0123"),
        (0.0996, 2, "0.10", "0.10"),
        (12_500.0, 2, "12000", "13000"),
        (0.0, 3, "0.00", "0.00"),
        (7.0, 0, "7", "7"),
    ] {
        assert_eq!(Rounding::significant(digits, Ties::ToEven).text(value).as_deref(), Ok(even), "{value}");
        assert_eq!(Rounding::significant(digits, Ties::Up).text(value).as_deref(), Ok(up), "{value}");
    }
}

#[test]
fn the_ends_of_the_doubles_are_written_out() {
    let largest = Rounding::half_to_even(1).text(f64::MAX).unwrap();
    assert!(largest.starts_with("17976931348623157000") && largest.ends_with("0.0") && largest.len() == 311);
    assert_eq!(Rounding::half_up(2).text(-f64::MIN_POSITIVE).as_deref(), Ok("0.00"));
    assert_eq!(Rounding::half_up(255).text(5e-324).unwrap().len(), 257);
    for bad in [f64::NAN, f64::INFINITY, f64::NEG_INFINITY] {
        assert_eq!(Rounding::half_up(2).text(bad).unwrap_err().code(), Code::NumberNotFinite);
    }
    assert_eq!(RULES.map(Ties::word).map(|word| Ties::from_word(word).unwrap()), RULES);
    assert_eq!(Ties::from_word("up").unwrap_err().code(), Code::WordUnknown);
}

/// The double nearest to `n / 10^scale`; its shortest digits are those of `n`.
fn number(n: i64, scale: u8) -> f64 {
    format!("{n}e-{scale}").parse().unwrap_or(f64::NAN)
}

/// A printed number in units of its last place.
fn units(text: &str) -> i64 {
    text.replace('.', "").parse().unwrap()
}

proptest! {
    #[test]
    fn agrees_with_integers(n in -(10_i64.pow(DIGITS) - 1)..10_i64.pow(DIGITS), scale in 0_u8..12, decimals in 0_u8..12) {
        let unit = 10_i64.pow(u32::from(scale.saturating_sub(decimals)));
        prop_assume!(scale >= decimals);
        for ties in RULES {
            let text = Rounding::decimals(decimals, ties).text(number(n, scale)).unwrap();
            prop_assert_eq!(text.split_once('.').map_or(0, |(_, tail)| tail.len()), usize::from(decimals));
            prop_assert!(!text.starts_with('-') || text.contains(|c: char| ('1'..='9').contains(&c)), "{}", text);
            let (rounded, off) = (units(&text), (units(&text) * unit - n).abs());
            // not more than half a unit away; at exactly half the rule decides
            prop_assert!(2 * off <= unit, "{} became {}", number(n, scale), text);
            if 2 * off == unit {
                match ties {
                    Ties::ToEven => prop_assert_eq!(rounded % 2, 0),
                    _ => prop_assert!(rounded.abs() * unit > n.abs()),
                }
            }
        }
    }

    #[test]
    fn is_idempotent_and_keeps_the_order(
        pair in prop::array::uniform2(-(10_i64.pow(DIGITS) - 1)..10_i64.pow(DIGITS)),
        scale in 0_u8..20,
        decimals in 0_u8..12,
        digits in 1_u8..15,
    ) {
        for ties in RULES {
            for rounding in [Rounding::decimals(decimals, ties), Rounding::significant(digits, ties)] {
                let texts = pair.map(|n| rounding.text(number(n, scale)).unwrap());
                let read = texts.clone().map(|text| text.parse::<f64>().unwrap());
                prop_assert_eq!(&read.map(|value| rounding.text(value).unwrap()), &texts);
                prop_assert!(pair[0] > pair[1] || read[0] <= read[1]);
                prop_assert!(pair[0] < pair[1] || read[0] >= read[1]);
            }
        }
    }

    #[test]
    fn no_double_panics(bits in any::<u64>(), decimals in any::<u8>()) {
        let value = f64::from_bits(bits);
        for ties in RULES {
            for rounding in [Rounding::decimals(decimals, ties), Rounding::significant(decimals, ties)] {
                prop_assert_eq!(rounding.text(value).is_ok(), value.is_finite());
            }
        }
    }
}
