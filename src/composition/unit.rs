//! Units of composition at the edges; inside, everything is a mass fraction. The only home of 100, 1000 and 1e6.

use crate::code::Code;
use crate::error::{Error, Result};
use crate::uncertainty::Estimate;

const PER_CENT: f64 = 100.0;
const PER_MILLE: f64 = 1000.0;
const PER_MILLION: f64 = 1e6;

/// A unit in which a mass fraction is written.
///
/// ```
/// use beadchem::composition::Unit;
/// assert_eq!(Unit::from_word("mg/kg")?.fraction(12.0), 12e-6);
/// assert_eq!(Unit::Percent.written(0.125), 12.5);
/// # Ok::<(), beadchem::Error>(())
/// ```
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[non_exhaustive]
pub enum Unit {
    /// g/g.
    Fraction,
    /// %, by mass.
    Percent,
    /// g/kg.
    GramPerKilogram,
    /// mg/kg.
    MilligramPerKilogram,
}

impl Unit {
    const ALL: [(&'static str, Unit, f64); 4] = [
        ("g/g", Unit::Fraction, 1.0),
        ("%", Unit::Percent, PER_CENT),
        ("g/kg", Unit::GramPerKilogram, PER_MILLE),
        ("mg/kg", Unit::MilligramPerKilogram, PER_MILLION),
    ];

    /// The unit with this word.
    ///
    /// # Errors
    /// `word.unknown`; the message lists the words.
    ///
    /// ```
    /// assert!(beadchem::composition::Unit::from_word("ppm").unwrap_err().to_string().contains("mg/kg"));
    /// ```
    pub fn from_word(word: &str) -> Result<Self> {
        Self::ALL
            .iter()
            .find(|(known, ..)| *known == word)
            .map(|(_, unit, _)| *unit)
            .ok_or_else(|| Error::word("Unit", word, &Self::ALL.map(|(word, ..)| word)))
    }

    /// The word.
    ///
    /// ```
    /// assert_eq!(beadchem::composition::Unit::Percent.word(), "%");
    /// ```
    #[must_use]
    pub fn word(self) -> &'static str {
        Self::ALL[self as usize].0
    }

    /// How many of this unit make 1 g/g.
    #[inline(always)]
    pub(crate) fn per_one(self) -> f64 {
        Self::ALL[self as usize].2
    }

    /// A number in this unit as g/g.
    ///
    /// ```
    /// assert_eq!(beadchem::composition::Unit::Percent.fraction(12.5), 0.125);
    /// ```
    #[must_use]
    #[inline(always)]
    pub fn fraction(self, written: f64) -> f64 {
        written / self.per_one()
    }

    /// A mass fraction in g/g as a number in this unit.
    ///
    /// ```
    /// assert_eq!(beadchem::composition::Unit::GramPerKilogram.written(0.0125), 12.5);
    /// ```
    #[must_use]
    #[inline(always)]
    pub fn written(self, fraction: f64) -> f64 {
        fraction * self.per_one()
    }
}

impl Unit {
    /// An estimate in this unit as one in g/g.
    ///
    /// ```
    /// use beadchem::{composition::Unit, uncertainty::Estimate};
    /// assert_eq!(Unit::Percent.fraction_of(&Estimate::new(12.5, 0.1)?).value(), 0.125);
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn fraction_of(self, written: &Estimate) -> Estimate {
        written.mapped(|number| self.fraction(number))
    }

    /// An estimate in g/g as one in this unit.
    ///
    /// ```
    /// use beadchem::{composition::Unit, uncertainty::Estimate};
    /// assert_eq!(Unit::Percent.written_of(&Estimate::new(0.125, 0.1)?).value(), 12.5);
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn written_of(self, fraction: &Estimate) -> Estimate {
        fraction.mapped(|number| self.written(number))
    }
}

/// A fraction in per cent, with as many digits as it takes.
fn percent_number(fraction: f64) -> f64 {
    // Nine digits are past any weighing and hide the rounding of the product.
    const DIGITS: f64 = 1e9;
    // adding zero takes the sign off a zero
    (Unit::Percent.written(fraction) * DIGITS).round() / DIGITS + 0.0
}

/// A fraction as "12.5 %", with as many digits as it takes.
pub(crate) fn percent_text(fraction: f64) -> String {
    format!("{} %", percent_number(fraction))
}

/// Refuses a fraction in words of per cent, saying what it would mean.
pub(crate) fn implausible(
    quantity: &str,
    fraction: f64,
    u: Option<f64>,
    meaning: &'static str,
    hint: &'static str,
    bound: String,
) -> Error {
    Error::Implausible {
        code: Code::NumberOutOfRange,
        quantity: quantity.to_owned(),
        value: percent_number(fraction),
        u: u.map(percent_number),
        meaning,
        bound,
        hint,
    }
}

/// A fraction as per cent in three decimals, more where it takes them to show three digits; trailing zeros dropped: for
/// sentences, where no digit past that is read.
pub(crate) fn percent_short(fraction: f64) -> String {
    const DECIMALS: i32 = 3;
    let percent = Unit::Percent.written(fraction);
    let small = if percent == 0.0 { 0 } else { (-percent.abs().log10().floor() as i32).clamp(0, 9) };
    let places = 10_f64.powi(DECIMALS + (small - 1).max(0));
    // adding zero takes the sign off a zero
    format!("{} %", (percent * places).round() / places + 0.0)
}

/// Refuses a fraction outside `[low, high]`, in words of per cent.
pub(crate) fn within_percent(quantity: &str, fraction: f64, [low, high]: [f64; 2], hint: &str) -> Result<f64> {
    let bound = format!("{} to {}", percent_text(low), percent_text(high));
    let bounds = [Unit::Percent.written(low), Unit::Percent.written(high)];
    crate::error::within(quantity, Unit::Percent.written(fraction), "%", bounds, &bound, hint)?;
    Ok(fraction)
}

/// Grams as milligrams.
pub(crate) fn milligrams(grams: f64) -> f64 {
    grams * PER_MILLE
}

/// Milligrams as grams, correctly rounded.
pub(crate) fn grams(milligrams: f64) -> f64 {
    milligrams / PER_MILLE
}

/// Millilitres as litres, milligrams as grams.
pub(crate) const MILLI: f64 = 1.0 / PER_MILLE;
