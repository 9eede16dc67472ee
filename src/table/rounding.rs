//! A number rounded for a report by a stated rule: at the very end, to a text, and never back into arithmetic.

use super::number::Decimal;
use crate::error::{self, Error, Result};

/// What becomes of a number halfway between two neighbours.
///
/// ```
/// use beadchem::table::Ties;
/// assert_eq!(Ties::from_word("half up")?, Ties::Up);
/// # Ok::<(), beadchem::Error>(())
/// ```
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[non_exhaustive]
pub enum Ties {
    /// To the neighbour whose last digit is even.
    ToEven,
    /// To the neighbour farther from zero.
    Up,
}

impl Ties {
    const WORDS: [(&'static str, Ties); 2] = [("half to even", Ties::ToEven), ("half up", Ties::Up)];

    /// The rule with this word: "half to even" or "half up".
    ///
    /// # Errors
    /// `word.unknown`; the message lists the words.
    ///
    /// ```
    /// assert!(beadchem::table::Ties::from_word("bankers").unwrap_err().to_string().contains("half to even"));
    /// ```
    pub fn from_word(word: &str) -> Result<Self> {
        let found = Self::WORDS.iter().find(|(known, _)| *known == word).map(|(_, ties)| *ties);
        found.ok_or_else(|| Error::word("Rule of rounding", word, &Self::WORDS.map(|(word, _)| word)))
    }

    /// The word.
    ///
    /// ```
    /// assert_eq!(beadchem::table::Ties::ToEven.word(), "half to even");
    /// ```
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Ties::ToEven => "half to even",
            Ties::Up => "half up",
        }
    }

    /// Whether a tie goes to the neighbour farther from zero, by whether the last digit kept is odd.
    pub(super) fn away(self, odd: bool) -> bool {
        match self {
            Ties::ToEven => odd,
            Ties::Up => true,
        }
    }
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Place {
    Decimals(u8),
    Significant(u8),
}

/// How a reported number is rounded: to which place, and where a tie goes.
///
/// The digits rounded are the shortest decimal ones that give the same double, so `2.675` is a tie although the binary
/// number lies a little below it. The result is a text: a rounded number is for reading, not for further arithmetic.
///
/// # Source
/// Half to even: the rule of ISO 2597-1 and other standards of ore analysis (from memory).
///
/// ```
/// use beadchem::table::Rounding;
/// assert_eq!(Rounding::half_to_even(2).text(0.125)?, "0.12");
/// assert_eq!(Rounding::half_up(2).text(0.125)?, "0.13");
/// # Ok::<(), beadchem::Error>(())
/// ```
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Rounding {
    place: Place,
    ties: Ties,
}

impl Rounding {
    /// To so many decimals, a tie to the even digit.
    ///
    /// ```
    /// use beadchem::table::Rounding;
    /// let two = Rounding::half_to_even(2);
    /// assert_eq!((two.text(2.675)?, two.text(2.665)?), ("2.68".to_owned(), "2.66".to_owned()));
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub const fn half_to_even(decimals: u8) -> Self {
        Self::decimals(decimals, Ties::ToEven)
    }

    /// To so many decimals, a tie away from zero.
    ///
    /// ```
    /// use beadchem::table::Rounding;
    /// assert_eq!(Rounding::half_up(0).text(-0.5)?, "-1");
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub const fn half_up(decimals: u8) -> Self {
        Self::decimals(decimals, Ties::Up)
    }

    /// To so many decimals, a tie by this rule.
    ///
    /// ```
    /// use beadchem::table::{Rounding, Ties};
    /// assert_eq!(Rounding::decimals(1, Ties::Up), Rounding::half_up(1));
    /// ```
    #[must_use]
    pub const fn decimals(decimals: u8, ties: Ties) -> Self {
        Self { place: Place::Decimals(decimals), ties }
    }

    /// To so many significant digits, at least one; a carry keeps their count (0.0996 becomes 0.10).
    ///
    /// ```
    /// use beadchem::table::{Rounding, Ties};
    /// let two = Rounding::significant(2, Ties::ToEven);
    /// assert_eq!((two.text(0.0996)?, two.text(12_500.0)?), ("0.10".to_owned(), "12000".to_owned()));
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub const fn significant(digits: u8, ties: Ties) -> Self {
        Self { place: Place::Significant(if digits == 0 { 1 } else { digits }), ties }
    }

    /// The number as a text, written out without a power of ten; a zero has no sign.
    ///
    /// # Errors
    /// `number.not-finite`.
    ///
    /// ```
    /// use beadchem::table::Rounding;
    /// assert_eq!(Rounding::half_to_even(0).text(-0.5)?, "0");
    /// assert!(Rounding::half_to_even(0).text(f64::NAN).is_err());
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    pub fn text(self, value: f64) -> Result<String> {
        let decimal = Decimal::of(error::finite("Number to round", value)?);
        let rounded = match self.place {
            Place::Decimals(count) => decimal.round(-i32::from(count), self.ties),
            Place::Significant(count) => decimal.significant(count.into(), self.ties),
        };
        Ok(rounded.written(0))
    }
}
