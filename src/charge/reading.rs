//! A reading in the glass, or an amount solved for, as the kernel takes it.

use crate::charge::kernel::{Atoms, Input, Kept, Place};
use crate::composition::PerDried;
use crate::scalar::Scalar;
use crate::substance::sum_of_weights;

/// Where the content of a reading comes from.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Content {
    /// Read as a mass fraction of the glass: evaluation (b).
    Read(Input),
    /// Solved for from intensities: evaluation (a).
    Solved,
}

/// A reading in the glass and the form it is asked for in.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Reading {
    pub(crate) content: Content,
    pub(crate) element: Place,
    pub(crate) atoms: Atoms,
    /// Atoms of the element per formula of the reading.
    pub(crate) count: f64,
    pub(crate) target: Atoms,
    pub(crate) target_count: f64,
    /// The form asked for is that of the reading.
    pub(crate) as_read: bool,
    /// Share of the element that stayed, where part of it left.
    pub(crate) kept: Kept,
    /// Whether flux, additions or gases have a part in what of the element is in the glass.
    pub(crate) brought: bool,
}

impl Reading {
    /// Grams of its species per mole of its element.
    #[inline(always)]
    pub(crate) fn per_mole<S: Scalar>(&self, weights: &[S]) -> S {
        sum_of_weights(&self.atoms, weights) / self.count
    }
}

/// One side of a change of basis, with the input it needs.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct BasisTerm {
    pub(crate) per_dried: PerDried,
    pub(crate) input: Option<Input>,
}

impl BasisTerm {
    /// Grams of this material per gram dried.
    #[inline(always)]
    pub(crate) fn grams<S: Scalar>(&self, x: &[S]) -> S {
        self.per_dried.grams(self.input.map_or(S::constant(0.0), |input| x[input]))
    }
}

/// A loss on fusion that is known without what the sample is made of.
#[derive(Debug, Clone, PartialEq)]
pub(crate) enum StatedLoss {
    /// As a fraction of the sample as weighed.
    OfWeighed(Input),
    /// As in the furnace: the sample as weighed, and what is left of it ignited.
    AsOnIgnition([BasisTerm; 2]),
}

impl StatedLoss {
    /// What is left of a gram of the sample as weighed, g.
    #[inline(always)]
    pub(crate) fn left<S: Scalar>(&self, x: &[S]) -> S {
        match self {
            Self::OfWeighed(loss) => S::constant(1.0) - x[*loss],
            Self::AsOnIgnition([weighed, ignited]) => ignited.grams(x) / weighed.grams(x),
        }
    }

    /// The input that says it; none for powder that was weighed ignited.
    pub(crate) fn input(&self) -> Option<Input> {
        match self {
            Self::OfWeighed(loss) => Some(*loss),
            Self::AsOnIgnition([weighed, ignited]) => ignited.input.filter(|_| weighed != ignited),
        }
    }
}
