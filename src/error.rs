//! Refusals: one enum, each variant with the quantity, the number, its bound and the repair, each with a stable code.

use crate::code::Code;

/// What every fallible call of this crate returns.
///
/// ```
/// fn dilution() -> beadchem::Result<f64> { Ok(11.0) }
/// # assert!(dilution().is_ok());
/// ```
pub type Result<T> = core::result::Result<T, Error>;

/// Why a call was refused, in the words an analyst needs.
///
/// ```
/// use beadchem::{code::Code, charge::Sample};
/// let refused = Sample::dried(-0.0012).unwrap_err();
/// assert_eq!(refused.code(), Code::MassNotPositive);
/// assert_eq!(refused.value(), Some(-0.0012));
/// assert!(refused.to_string().contains("was the tare taken after loading?"));
/// ```
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum Error {
    /// A number that must be above zero is not.
    #[error("{quantity} is {} {unit}. {bound}; {hint}", figure(*value))]
    NotPositive {
        /// The reason as a code.
        code: Code,
        /// What the number is.
        quantity: String,
        /// The number.
        value: f64,
        /// Its unit.
        unit: &'static str,
        /// What it must fulfil.
        bound: String,
        /// Likely cause and repair.
        hint: String,
    },
    /// A number outside its bounds.
    #[error("{quantity} {}{gap}{unit} is outside {bound}. {hint}", figure(*value), gap = gap(unit))]
    OutOfRange {
        /// The reason as a code.
        code: Code,
        /// What the number is.
        quantity: String,
        /// The number.
        value: f64,
        /// Its unit; empty for a bare number.
        unit: &'static str,
        /// The bounds, with their unit.
        bound: String,
        /// Likely cause and repair.
        hint: String,
    },
    /// A share that cannot be what it is said to be, and so tells of another trouble.
    #[error("{quantity} {} %{}: {meaning}. {hint} Allowed is {bound}.", figure(*value), beside(*u))]
    Implausible {
        /// The reason as a code.
        code: Code,
        /// What the number is.
        quantity: String,
        /// The number, %.
        value: f64,
        /// Its standard uncertainty, %, where it has one.
        u: Option<f64>,
        /// What it would mean.
        meaning: &'static str,
        /// The bounds, with their unit.
        bound: String,
        /// Likely cause and repair.
        hint: &'static str,
    },
    /// A number that is missing, not a number, or infinite.
    #[error("{quantity} is missing{place}. {hint}")]
    Missing {
        /// The reason as a code.
        code: Code,
        /// What is missing.
        quantity: String,
        /// Where, beginning with a space (" in row 418"), or empty.
        place: String,
        /// The repair.
        hint: String,
    },
    /// A formula that cannot be read.
    #[error("`{text}`: position {position} {found}. {hint}")]
    Formula {
        /// The reason as a code.
        code: Code,
        /// The text as given.
        text: String,
        /// Where reading stopped, counted in characters from 1.
        position: usize,
        /// What stands there and what was expected.
        found: String,
        /// The repair.
        hint: String,
    },
    /// Two entries that cannot stand together.
    #[error("{detail} {hint}")]
    Conflict {
        /// The reason as a code.
        code: Code,
        /// What clashes.
        detail: String,
        /// The repair.
        hint: String,
    },
    /// Something the calculation needs and was not told.
    #[error("{quantity} is not stated. {hint}")]
    Unstated {
        /// The reason as a code.
        code: Code,
        /// What was not stated.
        quantity: String,
        /// How to state it.
        hint: String,
    },
    /// A word, name or version that is not known.
    #[error("{what} `{given}` is not known. {hint}")]
    Unknown {
        /// The reason as a code.
        code: Code,
        /// What kind of thing was named.
        what: String,
        /// The name as given.
        given: String,
        /// The names that are known, or the repair.
        hint: String,
    },
    /// Stated correlations, or a system of equations, that cannot be.
    #[error("{quantity}: {detail} ({figure} {}). {hint}", short(*value))]
    Matrix {
        /// The reason as a code.
        code: Code,
        /// What the matrix describes.
        quantity: String,
        /// What is wrong.
        detail: String,
        /// Which figure shows it.
        figure: &'static str,
        /// That figure.
        value: f64,
        /// Likely cause and repair.
        hint: String,
    },
    /// A stored document that cannot be read or written.
    #[error("{place}: {detail} {hint}")]
    Document {
        /// The reason as a code.
        code: Code,
        /// Where in the document.
        place: String,
        /// What is wrong.
        detail: String,
        /// The repair.
        hint: String,
    },
    /// Two lists of different length.
    #[error("{quantity}: {found} given where {expected} belong. {hint}")]
    Shape {
        /// The reason as a code.
        code: Code,
        /// What the lists hold.
        quantity: String,
        /// How many belong there.
        expected: usize,
        /// How many were given.
        found: usize,
        /// The repair.
        hint: String,
    },
}

/// A figure in three digits.
fn short(value: f64) -> String {
    if value == 0.0 || (1e-3..1e6).contains(&value.abs()) { format!("{value:.3}") } else { format!("{value:.2e}") }
}

/// A number as it was given; with a power of ten where that is far shorter.
fn figure(value: f64) -> String {
    if value == 0.0 || (1e-9..1e15).contains(&value.abs()) { value.to_string() } else { format!("{value:e}") }
}

fn gap(unit: &str) -> &'static str {
    if unit.is_empty() { "" } else { " " }
}

fn beside(u: Option<f64>) -> String {
    u.map_or_else(String::new, |u| format!(" (u {u})"))
}

impl Error {
    /// The stable code.
    ///
    /// ```
    /// let refused = beadchem::substance::Formula::parse("CuS04").unwrap_err();
    /// assert_eq!(refused.code().word(), "formula.syntax");
    /// ```
    #[must_use]
    pub fn code(&self) -> Code {
        match self {
            Error::NotPositive { code, .. }
            | Error::OutOfRange { code, .. }
            | Error::Implausible { code, .. }
            | Error::Missing { code, .. }
            | Error::Formula { code, .. }
            | Error::Conflict { code, .. }
            | Error::Unstated { code, .. }
            | Error::Unknown { code, .. }
            | Error::Matrix { code, .. }
            | Error::Document { code, .. }
            | Error::Shape { code, .. } => *code,
        }
    }

    /// What was wrong: the quantity, the text or the place.
    ///
    /// ```
    /// let refused = beadchem::charge::Sample::dried(0.0).unwrap_err();
    /// assert_eq!(refused.quantity(), "Sample mass");
    /// ```
    #[must_use]
    pub fn quantity(&self) -> &str {
        let text: &str = match self {
            Error::NotPositive { quantity, .. }
            | Error::OutOfRange { quantity, .. }
            | Error::Implausible { quantity, .. }
            | Error::Missing { quantity, .. }
            | Error::Unstated { quantity, .. }
            | Error::Matrix { quantity, .. }
            | Error::Shape { quantity, .. } => quantity,
            Error::Formula { text, .. } => text,
            Error::Conflict { detail, .. } => detail,
            Error::Unknown { given, .. } => given,
            Error::Document { place, .. } => place,
        };
        text.trim_end_matches([',', ';', '.'])
    }

    /// The number that was refused, where there is one.
    ///
    /// ```
    /// let refused = beadchem::charge::Sample::dried(500.3).unwrap_err();
    /// assert_eq!(refused.value(), Some(500.3));
    /// ```
    #[must_use]
    pub fn value(&self) -> Option<f64> {
        match self {
            Error::NotPositive { value, .. }
            | Error::OutOfRange { value, .. }
            | Error::Implausible { value, .. }
            | Error::Matrix { value, .. } => Some(*value),
            Error::Shape { found, .. } => Some(*found as f64),
            _ => None,
        }
    }

    /// The bound that was crossed, in words, where there is one.
    ///
    /// ```
    /// let refused = beadchem::charge::Sample::dried(500.3).unwrap_err();
    /// assert_eq!(refused.bound().as_deref(), Some("0.01-20 g"));
    /// ```
    #[must_use]
    pub fn bound(&self) -> Option<String> {
        match self {
            Error::NotPositive { bound, .. } | Error::OutOfRange { bound, .. } | Error::Implausible { bound, .. } => {
                Some(bound.clone())
            }
            Error::Shape { expected, .. } => Some(expected.to_string()),
            _ => None,
        }
    }

    /// The likely cause and the repair.
    ///
    /// ```
    /// let refused = beadchem::charge::Sample::dried(500.3).unwrap_err();
    /// assert!(refused.hint().contains("0.5003 g"));
    /// ```
    #[must_use]
    pub fn hint(&self) -> &str {
        match self {
            Error::NotPositive { hint, .. }
            | Error::OutOfRange { hint, .. }
            | Error::Missing { hint, .. }
            | Error::Formula { hint, .. }
            | Error::Conflict { hint, .. }
            | Error::Unstated { hint, .. }
            | Error::Unknown { hint, .. }
            | Error::Matrix { hint, .. }
            | Error::Document { hint, .. }
            | Error::Shape { hint, .. } => hint,
            Error::Implausible { hint, .. } => hint,
        }
    }

    /// A word that is none of the known ones; the message lists them.
    pub(crate) fn word(what: &str, given: &str, known: &[&str]) -> Error {
        Error::Unknown {
            code: Code::WordUnknown,
            what: what.to_owned(),
            given: given.to_owned(),
            hint: format!("Choose one of: {}.", known.join(", ")),
        }
    }

    /// Two lists of different length.
    pub(crate) fn shape(quantity: &str, expected: usize, found: usize, hint: &str) -> Error {
        Error::Shape {
            code: Code::ShapeMismatch,
            quantity: quantity.to_owned(),
            expected,
            found,
            hint: hint.to_owned(),
        }
    }
}

/// Refuses a number that is not finite.
pub(crate) fn finite(quantity: &str, value: f64) -> Result<f64> {
    if value.is_finite() {
        return Ok(value);
    }
    Err(Error::Missing {
        code: Code::NumberNotFinite,
        quantity: quantity.trim_end_matches(',').to_owned(),
        place: String::new(),
        hint: format!("Got {value}; give a finite number."),
    })
}

/// Refuses a number that is not finite, or lies outside `[low, high]`.
pub(crate) fn within(
    quantity: &str,
    value: f64,
    unit: &'static str,
    [low, high]: [f64; 2],
    bound: &str,
    hint: &str,
) -> Result<f64> {
    finite(quantity, value)?;
    if value < low || value > high {
        return Err(Error::OutOfRange {
            code: Code::NumberOutOfRange,
            quantity: quantity.to_owned(),
            value,
            unit,
            bound: bound.to_owned(),
            hint: hint.to_owned(),
        });
    }
    Ok(value)
}
