//! What a mass in a charge may be, and what is said where it is not.

use crate::code::Code;
use crate::composition::unit::{MILLI, milligrams};
use crate::error::{Error, Result};
use crate::uncertainty::Estimate;

/// Which mass it is; it decides name and range.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Mass {
    Sample,
    Flux,
    Addition,
    ReleaseAgent,
    Bead,
}

impl Mass {
    /// Name and range in g; wide enough for every bead that is made (common practice), narrow enough to catch
    /// milligrams entered as grams.
    fn range(self) -> (&'static str, f64, f64, &'static str) {
        match self {
            Mass::Sample => ("Sample mass", 0.01, 20.0, "0.01-20 g"),
            Mass::Flux => ("Flux mass", 0.1, 100.0, "0.1-100 g"),
            Mass::Addition => ("Mass of an addition", 0.0, 50.0, "0-50 g"),
            Mass::ReleaseAgent => ("Mass of a release agent", 0.0, 2.0, "0-2 g"),
            Mass::Bead => ("Bead mass", 0.1, 120.0, "0.1-120 g"),
        }
    }

    /// The lowest and highest mass, g; an addition may be zero.
    pub(crate) fn bounds(self) -> [f64; 2] {
        let (_, low, high, _) = self.range();
        [low, high]
    }

    /// Refuses a mass that is missing, not above zero, or outside the range. An addition may be zero.
    pub(crate) fn check(self, mass: Estimate) -> Result<Estimate> {
        let (quantity, low, high, bound) = self.range();
        let value = mass.value();
        let quantity = quantity.to_owned();
        if !value.is_finite() {
            return Err(Error::Missing {
                code: Code::MassMissing,
                quantity,
                place: String::new(),
                hint: "Give a number in grams or leave the bead out.".to_owned(),
            });
        }
        if value < 0.0 || (value == 0.0 && !matches!(self, Mass::Addition | Mass::ReleaseAgent)) {
            return Err(Error::NotPositive {
                code: Code::MassNotPositive,
                quantity,
                value,
                unit: "g",
                bound: "A mass must be above zero".to_owned(),
                hint: "was the tare taken after loading?".to_owned(),
            });
        }
        if value > high && self == Mass::ReleaseAgent {
            return Err(Error::OutOfRange {
                code: Code::AmountUnitMissing,
                quantity: "Release agent".to_owned(),
                value,
                unit: "g",
                bound: bound.to_owned(),
                hint: format!(
                    "Release agent {value}: mg, microlitre of solution, or % of flux? Give grams, tablets, a solution or a \
                     share of the flux."
                ),
            });
        }
        if value < low || value > high {
            let as_milligrams = value * MILLI;
            let hint = if (low..=high).contains(&as_milligrams) && as_milligrams > 0.0 {
                format!("Did you mean {} g ({value} mg)?", trimmed(as_milligrams))
            } else if (low..=high).contains(&milligrams(value)) {
                format!("Did you mean {} g (given in kilograms)?", trimmed(milligrams(value)))
            } else {
                "Masses are in grams.".to_owned()
            };
            let (code, unit, bound) = (Code::MassOutOfRange, "g", bound.to_owned());
            return Err(Error::OutOfRange { code, quantity, value, unit, bound, hint });
        }
        Ok(mass)
    }
}

/// A number without the noise of the last binary digits.
fn trimmed(value: f64) -> f64 {
    const DIGITS: f64 = 1e9;
    (value * DIGITS).round() / DIGITS
}
