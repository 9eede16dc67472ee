//! Where a sample is heated, in words.

use crate::substance::Element;

/// Where the sample is heated.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Where {
    Melt,
    Furnace,
}

impl Where {
    pub(super) fn word(self) -> &'static str {
        match self {
            Where::Melt => "melt",
            Where::Furnace => "furnace",
        }
    }

    /// What is left of the sample there.
    pub(super) fn residue(self) -> &'static str {
        match self {
            Where::Melt => "glass",
            Where::Furnace => "residue",
        }
    }

    /// What knows it.
    pub(super) fn step(self) -> &'static str {
        match self {
            Where::Melt => "fusion",
            Where::Furnace => "furnace",
        }
    }

    /// The name of a share that stays there.
    pub(super) fn share(self, element: Element) -> String {
        match self {
            Where::Melt => format!("kept share of {}", element.symbol()),
            Where::Furnace => format!("share of {} kept in the furnace", element.symbol()),
        }
    }
}
