//! Substances: elements, atomic weights, formulas, and the numbers that follow from them.

mod element;
mod formula;
mod from_weights;
mod reader;
mod weight;
mod weights;
mod weights_data;

pub use element::Element;
pub use formula::Formula;
pub use from_weights::{FromWeights, factor, factor_via, molar_mass, oxygen_equivalent};
pub(crate) use from_weights::{
    carrier, factor_of, interval_note, is_weight, oxygen_per_anion, places, sum_of_weights, weight_estimate,
    weight_name,
};
pub use weight::{Entry, Weight};
pub use weights::Weights;
