//! How a table is run.

use std::collections::HashSet;

use crate::error::{Error, Result};
use crate::numeric::InstructionSet;

/// Which uncertainties come with the results.
///
/// ```
/// use beadchem::batch::Uncertainty;
/// assert_eq!(Uncertainty::from_word("none")?, Uncertainty::None);
/// # Ok::<(), beadchem::Error>(())
/// ```
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Uncertainty {
    /// None.
    #[default]
    None,
    /// The standard uncertainty of each result.
    Variance,
    /// These, and the covariance of every two results.
    Covariance,
}

impl Uncertainty {
    /// The word by which it is asked for.
    ///
    /// ```
    /// assert_eq!(beadchem::batch::Uncertainty::Variance.word(), "variance");
    /// ```
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::None => "none",
            Self::Variance => "variance",
            Self::Covariance => "covariance",
        }
    }

    /// "none", "variance" or "covariance".
    ///
    /// # Errors
    /// `word.unknown`; the message lists the words.
    ///
    /// ```
    /// assert!(beadchem::batch::Uncertainty::from_word("all").is_err());
    /// ```
    pub fn from_word(word: &str) -> Result<Self> {
        match word {
            "none" => Ok(Self::None),
            "variance" => Ok(Self::Variance),
            "covariance" => Ok(Self::Covariance),
            other => Err(Error::word("Uncertainty", other, &["none", "variance", "covariance"])),
        }
    }
}

/// How a table is run; nothing of it changes a number.
///
/// ```
/// use beadchem::batch::RunOptions;
/// assert_eq!(RunOptions { threads: 2, ..RunOptions::default() }.chunk_rows, 4096);
/// ```
#[derive(Debug, Clone)]
pub struct RunOptions<'a> {
    /// Which uncertainties come with the results.
    pub uncertainty: Uncertainty,
    /// How many threads share the chunks.
    pub threads: usize,
    /// Rows of a chunk, rounded up to a multiple of eight.
    pub chunk_rows: usize,
    /// The instruction set the loops are compiled for.
    pub set: InstructionSet,
    /// Bead ids known to occur more than once in the whole table; where none are given, those of this part of it are found.
    pub doubled: Option<&'a HashSet<String>>,
}

impl Default for RunOptions<'_> {
    fn default() -> Self {
        Self {
            uncertainty: Uncertainty::None,
            threads: 1,
            chunk_rows: 4096,
            set: InstructionSet::best(),
            doubled: None,
        }
    }
}
