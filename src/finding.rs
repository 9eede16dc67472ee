//! Findings: what a reader of a result must know, with the figures, in plain words. A finding never alters data.

use crate::code::{Code, Severity};

/// One remark on a result: a code, the quantity, the figures and a sentence.
///
/// ```
/// use beadchem::{code::Code, finding::Finding};
/// let finding = Finding::new(Code::ReadingNegative, "SO3", "SO3 is -0.02 %.").with_value(-0.0002);
/// assert_eq!(finding.to_string(), "warning reading.negative: SO3 is -0.02 %.");
/// ```
#[derive(Debug, Clone, PartialEq)]
pub struct Finding {
    /// Why it was raised.
    pub code: Code,
    /// What it is about.
    pub quantity: String,
    /// The number found, in the units of the table of units.
    pub value: Option<f64>,
    /// Standard uncertainty of that number, where it is known.
    pub u: Option<f64>,
    /// The number it was held against.
    pub bound: Option<f64>,
    /// Value, bound, likely cause and repair in one or two sentences.
    pub text: String,
}

impl Finding {
    /// A finding without figures.
    ///
    /// ```
    /// use beadchem::{code::{Code, Severity}, finding::Finding};
    /// assert_eq!(Finding::new(Code::FateAssumed, "Mn", "...").severity(), Severity::Note);
    /// ```
    #[must_use]
    pub fn new(code: Code, quantity: impl Into<String>, text: impl Into<String>) -> Self {
        Self { code, quantity: quantity.into(), value: None, u: None, bound: None, text: text.into() }
    }

    /// The same with the number found.
    ///
    /// ```
    /// use beadchem::{code::Code, finding::Finding};
    /// assert_eq!(Finding::new(Code::FateAssumed, "Mn", "").with_value(2.0).value, Some(2.0));
    /// ```
    #[must_use]
    pub fn with_value(mut self, value: f64) -> Self {
        self.value = Some(value);
        self
    }

    /// The same with the standard uncertainty of the number found.
    ///
    /// ```
    /// use beadchem::{code::Code, finding::Finding};
    /// assert_eq!(Finding::new(Code::FateAssumed, "Mn", "").with_value(2.0).with_u(0.1).u, Some(0.1));
    /// ```
    #[must_use]
    pub fn with_u(mut self, u: f64) -> Self {
        self.u = Some(u);
        self
    }

    /// The same with the number it was held against.
    ///
    /// ```
    /// use beadchem::{code::Code, finding::Finding};
    /// assert_eq!(Finding::new(Code::FateAssumed, "Mn", "").with_bound(2.0).bound, Some(2.0));
    /// ```
    #[must_use]
    pub fn with_bound(mut self, bound: f64) -> Self {
        self.bound = Some(bound);
        self
    }

    /// How much it weighs, from the table of codes.
    ///
    /// ```
    /// use beadchem::{code::{Code, Severity}, finding::Finding};
    /// assert_eq!(Finding::new(Code::FumeNitrate, "", "").severity(), Severity::Caution);
    /// ```
    #[must_use]
    pub fn severity(&self) -> Severity {
        self.code.severity()
    }
}

impl core::fmt::Display for Finding {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        write!(f, "{} {}: {}", self.severity().word(), self.code.word(), self.text)
    }
}
