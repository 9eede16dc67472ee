//! Numbers as tables write them, by declared marks.

use super::words::{DecimalMark, ThousandsMark};

/// The marks of one table.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Marks {
    pub(super) decimal: DecimalMark,
    pub(super) thousands: Option<ThousandsMark>,
}

impl Marks {
    /// "decimal comma, no thousands mark".
    pub(super) fn in_words(self) -> String {
        let thousands =
            self.thousands.map_or("no thousands mark".to_owned(), |mark| format!("thousands {}", mark.word()));
        format!("decimal {}, {thousands}", self.decimal.word())
    }
}

/// A number as written.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Written {
    /// Whether `<` stands before it.
    pub(super) below: bool,
    pub(super) value: f64,
    /// Decimals of the text, less its exponent: the last digit counts `10^-decimals`.
    pub(super) decimals: i32,
}

/// Why a text is no number.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Unreadable {
    /// A mark that is not the one declared for this place.
    Ambiguous,
    /// Thousands marks that do not part groups of three digits.
    Grouping,
    /// Letters or signs that belong to no number.
    Text,
    /// Larger than any number held here.
    Huge,
}

/// Digits of an exponent beyond which no double follows.
const EXPONENT_DIGITS: usize = 5;

fn is_mark(letter: char) -> bool {
    use ThousandsMark::{Apostrophe, Blank};
    matches!(letter, '.' | ',') || Blank.is(letter) || Apostrophe.is(letter)
}

/// Reads a trimmed text.
pub(super) fn read(text: &str, marks: Marks) -> Result<Written, Unreadable> {
    let (below, rest) = match text.strip_prefix('<') {
        Some(rest) => (true, rest.trim()),
        None => (false, text),
    };
    let (mantissa, exponent) = match rest.split_once(['e', 'E']) {
        Some((mantissa, exponent)) => (mantissa, exponent_of(exponent)?),
        None => (rest, 0),
    };
    let (negative, digits) = match mantissa.strip_prefix(['-', '\u{2212}']) {
        Some(digits) => (true, digits),
        None => (false, mantissa.strip_prefix('+').unwrap_or(mantissa)),
    };
    let plain = |letter: char| letter.is_ascii_digit() || is_mark(letter);
    if !digits.chars().all(plain) || !digits.contains(|letter: char| letter.is_ascii_digit()) {
        return Err(Unreadable::Text);
    }
    let (whole, fraction) = match digits.split_once(|letter| marks.decimal.is(letter)) {
        Some((whole, fraction)) => (whole, fraction),
        None => (digits, ""),
    };
    if fraction.contains(is_mark) {
        return Err(Unreadable::Ambiguous);
    }
    let spelt = format!("{}{}.{fraction}e{exponent}", if negative { "-" } else { "" }, ungrouped(whole, marks)?);
    let value: f64 = spelt.parse().map_err(|_| Unreadable::Text)?;
    if !value.is_finite() {
        return Err(Unreadable::Huge);
    }
    let decimals = i32::try_from(fraction.len()).map_err(|_| Unreadable::Huge)? - exponent;
    Ok(Written { below, value, decimals })
}

fn exponent_of(text: &str) -> Result<i32, Unreadable> {
    let digits = text.strip_prefix(['-', '+']).unwrap_or(text);
    if digits.is_empty() || !digits.chars().all(|letter| letter.is_ascii_digit()) {
        return Err(Unreadable::Text);
    }
    if digits.len() > EXPONENT_DIGITS {
        return Err(Unreadable::Huge);
    }
    text.parse().map_err(|_| Unreadable::Text)
}

/// The digits before the decimal mark without their thousands marks.
fn ungrouped(whole: &str, marks: Marks) -> Result<String, Unreadable> {
    let Some(mark) = marks.thousands.filter(|mark| whole.contains(|letter| mark.is(letter))) else {
        return if whole.contains(is_mark) { Err(Unreadable::Ambiguous) } else { Ok(whole.to_owned()) };
    };
    const GROUP: usize = 3;
    let groups: Vec<&str> = whole.split(|letter| mark.is(letter)).collect();
    if groups.iter().any(|group| group.contains(is_mark)) {
        return Err(Unreadable::Ambiguous);
    }
    let (first, others) = groups.split_first().ok_or(Unreadable::Text)?;
    let right = (1..=GROUP).contains(&first.len()) && others.iter().all(|group| group.len() == GROUP);
    if right { Ok(groups.concat()) } else { Err(Unreadable::Grouping) }
}
