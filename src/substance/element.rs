//! The elements.

use crate::error::Result;
use crate::substance::Weight;
use crate::substance::weights::{place, unknown_element};
use crate::substance::weights_data::ELEMENTS;

/// A chemical element.
///
/// ```
/// use beadchem::substance::Element;
/// let iron = Element::from_symbol("Fe")?;
/// assert_eq!((iron.number(), iron.name()), (26, "iron"));
/// # Ok::<(), beadchem::Error>(())
/// ```
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Element(u8);

impl Element {
    /// Hydrogen.
    ///
    /// ```
    /// assert_eq!(beadchem::substance::Element::H.number(), 1);
    /// ```
    pub const H: Element = Element(1);
    /// Nitrogen.
    ///
    /// ```
    /// assert_eq!(beadchem::substance::Element::N.number(), 7);
    /// ```
    pub const N: Element = Element(7);
    /// Oxygen.
    ///
    /// ```
    /// assert_eq!(beadchem::substance::Element::O.number(), 8);
    /// ```
    pub const O: Element = Element(8);

    /// The element with this symbol, capitals as usual.
    ///
    /// # Errors
    /// `weights.unknown`.
    ///
    /// ```
    /// assert!(beadchem::substance::Element::from_symbol("fe").is_err());
    /// ```
    pub fn from_symbol(symbol: &str) -> Result<Self> {
        let found = place(symbol).map(|place| Element(ELEMENTS[place].number));
        found.ok_or_else(|| unknown_element(symbol))
    }

    /// The atomic number.
    ///
    /// ```
    /// assert_eq!(beadchem::substance::Element::O.number(), 8);
    /// ```
    #[must_use]
    pub fn number(self) -> u8 {
        self.0
    }

    /// The symbol.
    ///
    /// ```
    /// assert_eq!(beadchem::substance::Element::O.symbol(), "O");
    /// ```
    #[must_use]
    pub fn symbol(self) -> &'static str {
        ELEMENTS[usize::from(self.0) - 1].symbol
    }

    /// The English name, in small letters.
    ///
    /// ```
    /// assert_eq!(beadchem::substance::Element::O.name(), "oxygen");
    /// ```
    #[must_use]
    pub fn name(self) -> &'static str {
        ELEMENTS[usize::from(self.0) - 1].name
    }

    /// True where natural material has a standard atomic weight.
    pub(crate) fn has_natural_weight(self) -> bool {
        !matches!(ELEMENTS[usize::from(self.0) - 1].weight, Weight::MassNumber(_))
    }
}
