//! From line intensities to what a sample holds: net intensity, drift, overlaps, blanks, and the matrix of mutual
//! influence of all components, solved as the linear system it is.

mod access;
mod applicability;
mod coefficients;
mod coefficients_document;
mod coefficients_show;
mod conditions;
mod convert;
mod lachance_traill;
mod line_name;

pub use coefficients::{CoefficientSet, Derivation, Influence, InfluenceLine, Label};
pub use coefficients_document::CoefficientSetBody;
pub use conditions::Conditions;
pub use lachance_traill::{Closing, LachanceTraill};
