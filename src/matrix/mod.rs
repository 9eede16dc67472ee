//! From line intensities to what a sample holds: net intensity, drift, overlaps, blanks, and the matrix of mutual
//! influence of all components, solved as the linear system it is.

mod access;
pub(crate) mod applicability;
pub(crate) mod calibration;
mod calibration_document;
pub(crate) mod calibration_show;
mod coefficients;
mod coefficients_document;
mod coefficients_show;
mod conditions;
mod convert;
pub(crate) mod count;
mod detection;
pub(crate) mod drift;
pub(crate) mod equation;
mod from_theory;
mod lachance_traill;
mod line;
mod monitor;
pub(crate) mod near;
pub(crate) mod net;
pub(crate) mod order;
mod stretch;
mod theory_bead;
mod trade_off;

pub use calibration::{Calibration, FittedCoefficient, GlassRange, Sensitivity};
pub use calibration_document::CalibrationBody;
pub use coefficients::{CoefficientSet, Derivation, Influence, InfluenceLine, Label};
pub use coefficients_document::CoefficientSetBody;
pub use conditions::Conditions;
pub use count::{Count, DeadTime};
pub use detection::{DetectionFormula, DetectionLimit};
pub use drift::{Drift, DriftBody, DriftPoint, DriftTerm};
pub use from_theory::{Inversion, Theory};
pub use lachance_traill::{Closing, LachanceTraill};
pub use line::LineName;
pub use monitor::Monitor;
pub use net::LineReading;
pub(crate) use stretch::Stretch;
pub use theory_bead::ReferenceBead;
pub use trade_off::{FluxChoice, TradeOff, trade_off};
