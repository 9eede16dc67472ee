//! What is known of one component: four different things.

use serde::{Deserialize, Serialize};

use crate::error::{Error, Result};
use crate::uncertainty::Estimate;

/// One component of a composition. Nothing is clipped, and none of the four stands for another.
///
/// ```
/// use beadchem::composition::Cell;
/// assert!(Cell::Below { limit: 0.0001 }.value().is_none());
/// ```
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case", deny_unknown_fields)]
pub enum Cell {
    /// A measured mass fraction, g/g; may be negative near zero.
    Value(Estimate),
    /// Looked for and below this limit, g/g.
    Below {
        /// The detection limit, g/g.
        limit: f64,
    },
    /// Known not to be there.
    Absent,
    /// Not looked for, or lost.
    Unknown,
}

impl Cell {
    /// "absent" or "unknown".
    ///
    /// # Errors
    /// `word.unknown`; the message lists the words.
    ///
    /// ```
    /// use beadchem::composition::Cell;
    /// assert_eq!(Cell::from_word("absent")?, Cell::Absent);
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    pub fn from_word(word: &str) -> Result<Self> {
        match word {
            "absent" => Ok(Cell::Absent),
            "unknown" => Ok(Cell::Unknown),
            other => Err(Error::word("Entry", other, &["a number", "a limit to be below", "absent", "unknown"])),
        }
    }

    /// Which of the four it is: "value", "below", "absent" or "unknown".
    ///
    /// ```
    /// assert_eq!(beadchem::composition::Cell::Absent.word(), "absent");
    /// ```
    #[must_use]
    pub fn word(&self) -> &'static str {
        match self {
            Cell::Value(_) => "value",
            Cell::Below { .. } => "below",
            Cell::Absent => "absent",
            Cell::Unknown => "unknown",
        }
    }

    /// The value, where there is one.
    ///
    /// ```
    /// use beadchem::composition::Cell;
    /// assert!(Cell::Absent.value().is_none());
    /// assert_eq!(Cell::Value(0.125.into()).value().map(|v| v.value()), Some(0.125));
    /// ```
    #[must_use]
    pub fn value(&self) -> Option<&Estimate> {
        match self {
            Cell::Value(estimate) => Some(estimate),
            _ => None,
        }
    }
}

impl From<Estimate> for Cell {
    fn from(estimate: Estimate) -> Self {
        Cell::Value(estimate)
    }
}

impl From<f64> for Cell {
    fn from(value: f64) -> Self {
        Cell::Value(Estimate::from(value))
    }
}
