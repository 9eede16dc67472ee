//! The few words by which a layout is declared.

use crate::composition::unit::grams;
use crate::error::{Error, Result};

macro_rules! words {
    ($(#[$doc:meta])* $name:ident $what:literal { $($(#[$about:meta])* $variant:ident $word:literal,)* }) => {
        $(#[$doc])*
        #[derive(Debug, Clone, Copy, PartialEq, Eq)]
        #[non_exhaustive]
        pub enum $name {
            $($(#[$about])* $variant,)*
        }

        impl $name {
            const WORDS: &[(&'static str, $name)] = &[$(($word, $name::$variant),)*];

            /// The one with this word.
            ///
            /// # Errors
            /// `word.unknown`; the message lists the words.
            ///
            /// ```
            #[doc = concat!("use beadchem::sheet::", stringify!($name), ";")]
            #[doc = concat!("assert!(", stringify!($name), "::from_word(\"no such word\").is_err());")]
            /// ```
            pub fn from_word(word: &str) -> Result<Self> {
                let found = Self::WORDS.iter().find(|(known, _)| *known == word).map(|(_, found)| *found);
                let known = || Self::WORDS.iter().map(|(known, _)| *known).collect::<Vec<&str>>();
                found.ok_or_else(|| Error::word($what, word, &known()))
            }

            /// The word.
            ///
            /// ```
            #[doc = concat!("use beadchem::sheet::", stringify!($name), ";")]
            $(#[doc = concat!("assert_eq!(", stringify!($name), "::", stringify!($variant), ".word(), \"", $word, "\");")])*
            /// ```
            #[must_use]
            pub fn word(self) -> &'static str {
                match self { $($name::$variant => $word,)* }
            }
        }
    };
}

words! {
    /// What stands before the decimals.
    ///
    /// ```
    /// use beadchem::sheet::DecimalMark;
    /// assert_eq!(DecimalMark::from_word("comma")?, DecimalMark::Comma);
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    DecimalMark "Decimal mark" {
        /// 12.5
        Point "point",
        /// 12,5
        Comma "comma",
    }
}

words! {
    /// What stands between groups of three digits.
    ///
    /// ```
    /// use beadchem::sheet::ThousandsMark;
    /// assert_eq!(ThousandsMark::from_word("apostrophe")?, ThousandsMark::Apostrophe);
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    ThousandsMark "Thousands mark" {
        /// 1.234,5
        Point "point",
        /// 1,234.5
        Comma "comma",
        /// 1 234.5, with an ordinary, a thin or a no-break blank
        Blank "blank",
        /// 1'234.5
        Apostrophe "apostrophe",
    }
}

words! {
    /// What stands between the fields of a line.
    ///
    /// ```
    /// use beadchem::sheet::Delimiter;
    /// assert_eq!(Delimiter::from_word("tab")?, Delimiter::Tab);
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    Delimiter "Delimiter" {
        /// a,b
        Comma "comma",
        /// a;b
        Semicolon "semicolon",
        /// a tab
        Tab "tab",
        /// a|b
        Bar "bar",
    }
}

words! {
    /// The unit of a column of masses.
    ///
    /// ```
    /// use beadchem::sheet::MassUnit;
    /// assert_eq!(MassUnit::from_word("mg")?, MassUnit::Milligram);
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    MassUnit "Unit of mass" {
        /// g
        Gram "g",
        /// mg
        Milligram "mg",
    }
}

impl DecimalMark {
    pub(super) fn is(self, letter: char) -> bool {
        letter == if self == Self::Comma { ',' } else { '.' }
    }
}

impl ThousandsMark {
    pub(super) fn is(self, letter: char) -> bool {
        match self {
            Self::Point => letter == '.',
            Self::Comma => letter == ',',
            Self::Blank => matches!(letter, ' ' | '\u{a0}' | '\u{202f}' | '\u{2009}'),
            Self::Apostrophe => matches!(letter, '\'' | '\u{2019}'),
        }
    }
}

impl Delimiter {
    pub(super) fn byte(self) -> u8 {
        match self {
            Self::Comma => b',',
            Self::Semicolon => b';',
            Self::Tab => b'\t',
            Self::Bar => b'|',
        }
    }
}

impl MassUnit {
    /// A number in this unit as grams.
    ///
    /// ```
    /// assert_eq!(beadchem::sheet::MassUnit::Milligram.grams(500.3), 0.5003);
    /// ```
    #[must_use]
    pub fn grams(self, written: f64) -> f64 {
        match self {
            Self::Gram => written,
            Self::Milligram => grams(written),
        }
    }

    pub(super) fn in_words(self) -> &'static str {
        match self {
            Self::Gram => "grams",
            Self::Milligram => "milligrams",
        }
    }
}
