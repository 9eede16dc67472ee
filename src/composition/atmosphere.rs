//! What a powder is ignited in.

use serde::{Deserialize, Serialize};

use crate::error::{Error, Result};

/// The gas above an ignited powder: whether oxygen can be taken up.
///
/// ```
/// use beadchem::composition::Atmosphere;
/// assert_eq!(Atmosphere::from_word("air")?, Atmosphere::Air);
/// assert!(Atmosphere::from_word("vacuum").is_err());
/// # Ok::<(), beadchem::Error>(())
/// ```
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
#[non_exhaustive]
pub enum Atmosphere {
    /// Air.
    Air,
    /// Oxygen.
    Oxygen,
    /// Nitrogen or argon: nothing is oxidised.
    Inert,
}

impl Atmosphere {
    const WORDS: [(&'static str, Atmosphere); 3] =
        [("air", Atmosphere::Air), ("oxygen", Atmosphere::Oxygen), ("inert", Atmosphere::Inert)];

    /// "air", "oxygen" or "inert".
    ///
    /// # Errors
    /// `word.unknown`; the message lists the words.
    ///
    /// ```
    /// assert!(beadchem::composition::Atmosphere::from_word("inert").is_ok());
    /// ```
    pub fn from_word(word: &str) -> Result<Self> {
        let found = Self::WORDS.iter().find(|(known, _)| *known == word).map(|(_, atmosphere)| *atmosphere);
        found.ok_or_else(|| Error::word("Atmosphere", word, &Self::WORDS.map(|(word, _)| word)))
    }

    /// The word.
    ///
    /// ```
    /// assert_eq!(beadchem::composition::Atmosphere::Air.word(), "air");
    /// ```
    #[must_use]
    pub fn word(self) -> &'static str {
        Self::WORDS[self as usize].0
    }
}
