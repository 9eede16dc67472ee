//! The three ways from a reading to the sample; each has its own sensitivity to the flux, and they are never mixed.

use serde::{Deserialize, Serialize};

use crate::error::{Error, Result};

/// How the sample follows from what is measured.
///
/// ```
/// use beadchem::charge::Evaluation;
/// assert_eq!(Evaluation::from_word("glass fractions")?, Evaluation::GlassFractions);
/// assert!(Evaluation::Intensities.text().starts_with("evaluation (a)"));
/// # Ok::<(), beadchem::Error>(())
/// ```
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Evaluation {
    /// (a) Intensities of thick lines: the content is proportional to the fused flux per gram of sample.
    Intensities,
    /// (b) Mass fractions of the glass known independently of the weighings: content in the glass times dilution.
    GlassFractions,
    /// (c) The whole melt dissolved: what the flux weighs in it plays no part.
    WholeMelt,
}

impl Evaluation {
    const WORDS: [(&'static str, Evaluation); 3] = [
        ("intensities", Evaluation::Intensities),
        ("glass fractions", Evaluation::GlassFractions),
        ("whole melt", Evaluation::WholeMelt),
    ];

    /// "intensities", "glass fractions" or "whole melt".
    ///
    /// # Errors
    /// `word.unknown`; the message lists the words.
    ///
    /// ```
    /// assert!(beadchem::charge::Evaluation::from_word("b").unwrap_err().to_string().contains("glass fractions"));
    /// ```
    pub fn from_word(word: &str) -> Result<Self> {
        let found = Self::WORDS.iter().find(|(known, _)| *known == word).map(|(_, evaluation)| *evaluation);
        found.ok_or_else(|| Error::word("Evaluation", word, &Self::WORDS.map(|(word, _)| word)))
    }

    /// The word.
    ///
    /// ```
    /// assert_eq!(beadchem::charge::Evaluation::WholeMelt.word(), "whole melt");
    /// ```
    #[must_use]
    pub fn word(self) -> &'static str {
        Self::WORDS[self as usize].0
    }

    /// One line, printed with the results.
    ///
    /// ```
    /// assert!(beadchem::charge::Evaluation::GlassFractions.text().starts_with("evaluation (b)"));
    /// ```
    #[must_use]
    pub const fn text(self) -> &'static str {
        match self {
            Evaluation::Intensities => {
                "evaluation (a): intensities of thick lines, proportional to the fused flux per sample"
            }
            Evaluation::GlassFractions => "evaluation (b): glass mass fractions known independently of the weighings",
            Evaluation::WholeMelt => "evaluation (c): the whole melt dissolved; the mass of flux plays no part",
        }
    }
}
