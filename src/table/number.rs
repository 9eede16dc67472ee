//! How a double is written for a reader: rounded on its decimal digits, half to even, with the sign only where it says
//! something.
//!
//! The digits rounded are the shortest that give the same double back, so `2.675` to two places is a tie (and becomes
//! `2.68`), although the stored binary number lies a little below it.
//!
//! # Source
//! Ties go to the even digit as in ISO 2597-1:2006, 8.3. Two significant digits of u, and the value to the same place:
//! JCGM 100:2008, 7.2.6.

use super::rounding::Ties;

/// Integer digits from which a number is written with a power of ten.
const LARGEST_FIXED: i32 = 9;
/// A number whose first digit stands behind this place is written with a power of ten ...
const SMALLEST_FIXED: i32 = -4;
/// ... if its last digit stands behind this one.
const FINEST_FIXED: i32 = -9;
/// More digits than these a double does not have.
const DOUBLE_DIGITS: usize = 17;
/// Digits of a number that states neither u nor decimals.
const PLAIN_DIGITS: i32 = 10;
/// What stands in the place of u where none was stated.
pub(super) const UNSTATED: &str = "not stated";

/// The decimal digits of a finite double; the last of them counts 10^lowest.
pub(super) struct Decimal {
    negative: bool,
    digits: Vec<u8>,
    lowest: i32,
}

impl Decimal {
    pub(super) fn of(value: f64) -> Self {
        let text = format!("{value:e}");
        let (mantissa, exponent) = text.split_once('e').unwrap_or((&text, "0"));
        let digits: Vec<u8> = mantissa.bytes().filter(u8::is_ascii_digit).map(|byte| byte - b'0').collect();
        let exponent: i32 = exponent.parse().unwrap_or(0);
        Self { negative: value < 0.0, lowest: exponent + 1 - digits.len() as i32, digits }
    }

    fn highest(&self) -> i32 {
        self.lowest + self.digits.len() as i32 - 1
    }

    fn is_zero(&self) -> bool {
        self.digits.iter().all(|&digit| digit == 0)
    }

    /// Rounded so that its last digit counts 10^place.
    pub(super) fn round(mut self, place: i32, ties: Ties) -> Self {
        let drop = place - self.lowest;
        if drop <= 0 {
            self.digits.resize(self.digits.len() + drop.unsigned_abs() as usize, 0);
        } else if drop as usize > self.digits.len() {
            self.digits = vec![0];
        } else {
            let tail = self.digits.split_off(self.digits.len() - drop as usize);
            let odd = self.digits.last().is_some_and(|digit| digit % 2 == 1);
            let up = match tail[0].cmp(&5) {
                core::cmp::Ordering::Less => false,
                core::cmp::Ordering::Greater => true,
                core::cmp::Ordering::Equal => ties.away(odd) || tail[1..].iter().any(|&digit| digit > 0),
            };
            if up {
                self.increment();
            }
        }
        let zeros = self.digits.iter().take_while(|&&digit| digit == 0).count();
        self.digits.drain(..zeros.min(self.digits.len().saturating_sub(1)));
        if self.digits.is_empty() {
            self.digits.push(0);
        }
        self.lowest = place;
        self
    }

    fn increment(&mut self) {
        for digit in self.digits.iter_mut().rev() {
            if *digit < 9 {
                *digit += 1;
                return;
            }
            *digit = 0;
        }
        self.digits.insert(0, 1);
    }

    /// Rounded to so many digits; a carry (0.0996 to 0.10) keeps their count.
    pub(super) fn significant(self, count: i32, ties: Ties) -> Self {
        let place = self.highest() + 1 - count;
        let rounded = self.round(place, ties);
        if rounded.digits.len() as i32 > count { rounded.round(place + 1, ties) } else { rounded }
    }

    /// Written out after moving the point by `shift` places; a zero has no sign.
    pub(super) fn written(&self, shift: i32) -> String {
        let lowest = self.lowest - shift;
        let mut digits: String = self.digits.iter().map(|&digit| char::from(b'0' + digit)).collect();
        if lowest >= 0 && !self.is_zero() {
            digits.extend(core::iter::repeat_n('0', lowest as usize));
        }
        if lowest < 0 {
            let decimals = lowest.unsigned_abs() as usize;
            let missing = (decimals + 1).saturating_sub(digits.len());
            digits.insert_str(0, &"0".repeat(missing));
            digits.insert(digits.len() - decimals, '.');
        }
        let sign = if self.negative && !self.is_zero() { "-" } else { "" };
        format!("{sign}{digits}")
    }

    fn scientific(&self, exponent: i32) -> String {
        format!("{}e{exponent}", self.written(exponent))
    }

    fn shown(&self) -> String {
        let highest = self.highest();
        if !self.is_zero() && wants_power(highest, self.lowest) { self.scientific(highest) } else { self.written(0) }
    }
}

fn wants_power(highest: i32, lowest: i32) -> bool {
    highest >= LARGEST_FIXED || (highest < SMALLEST_FIXED && lowest < FINEST_FIXED)
}

/// A value and its standard uncertainty as a reader should see them: u with two significant digits, the value rounded
/// to the same decimal place. Value and u are in the same unit, whatever it is.
///
/// * Ties go to the even digit, on the decimal digits of the number.
/// * From 1e9 on, and below 1e-4 where more than nine decimals would be needed, both have one common power of ten.
/// * A value that rounds to zero carries no sign.
/// * u = 0 means exact: the value shows up to ten digits. A u that is negative or not finite is "not stated". Where u
///   is smaller than the last digit a double has, the value shows all its digits.
///
/// # Source
/// JCGM 100:2008, 7.2.6 (digits of u); ISO 2597-1:2006, 8.3 (ties).
///
/// ```
/// use beadchem::table::format_value;
/// assert_eq!(format_value(51.2345, 0.1249), ("51.23".into(), "0.12".into()));
/// assert_eq!(format_value(2.675, 0.01), ("2.675".into(), "0.010".into()));
/// assert_eq!(format_value(-0.0004, 0.12), ("0.00".into(), "0.12".into()));
/// assert_eq!(format_value(3.21e-12, 4.5e-14), ("3.210e-12".into(), "0.045e-12".into()));
/// ```
#[must_use]
pub fn format_value(value: f64, u: f64) -> (String, String) {
    if let Some(word) = not_a_number(value) {
        return (word.to_owned(), String::new());
    }
    if !is_uncertainty(u) {
        return (plain(value), UNSTATED.to_owned());
    }
    if u == 0.0 {
        return (plain(value), "0".to_owned());
    }
    let u = Decimal::of(u).significant(2, Ties::ToEven);
    let rounded = Decimal::of(value).round(u.lowest, Ties::ToEven);
    if rounded.digits.len() > DOUBLE_DIGITS {
        return (Decimal::of(value).shown(), u.shown());
    }
    let highest = rounded.highest().max(u.highest());
    if wants_power(highest, u.lowest) {
        return (rounded.scientific(highest), u.scientific(highest));
    }
    (rounded.written(0), u.written(0))
}

/// Whether it can be an uncertainty: finite and not below zero.
pub(super) fn is_uncertainty(u: f64) -> bool {
    u.is_finite() && u >= 0.0
}

/// The word for what is no number.
pub(super) fn not_a_number(value: f64) -> Option<&'static str> {
    if value.is_nan() {
        Some("not a number")
    } else if value.is_infinite() {
        Some("infinite")
    } else {
        None
    }
}

/// A finite number with so many decimals; from 1e9 on as many digits behind a power of ten.
pub(super) fn decimals(value: f64, count: u8) -> String {
    let rounded = Decimal::of(value).round(-i32::from(count), Ties::ToEven);
    if rounded.highest() < LARGEST_FIXED {
        return rounded.written(0);
    }
    Decimal::of(value).significant(i32::from(count) + 1, Ties::ToEven).shown()
}

/// A finite number with so many significant digits, at least one.
pub(super) fn significant(value: f64, count: u8) -> String {
    Decimal::of(value).significant(i32::from(count.max(1)), Ties::ToEven).shown()
}

/// A finite number with up to ten digits and no zeros at the end.
pub(super) fn plain(value: f64) -> String {
    if value == 0.0 {
        return "0".to_owned();
    }
    let mut rounded = Decimal::of(value).significant(PLAIN_DIGITS, Ties::ToEven);
    while rounded.digits.len() > 1 && rounded.digits.last() == Some(&0) {
        rounded.digits.pop();
        rounded.lowest += 1;
    }
    rounded.shown()
}
