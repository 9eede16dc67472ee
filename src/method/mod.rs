//! What a laboratory owns between counts and the signed number: the method, and the assay of a bead by it.

mod assay;
mod calibrate;
mod calibrated;
mod check;
mod combine;
mod detection;
mod document;
mod explain;
mod findings;
mod measurement;
#[expect(clippy::module_inception, reason = "the type stands in a file of its own name")]
mod method;
mod order;
mod overlap;
mod parameters;
mod provenance;
mod reference;
mod scatter;
mod show;
mod standard;

pub use assay::{Assay, example};
pub use calibrate::{StandardFit, example_calibration};
pub use calibrated::{Calibrated, LineFit, Residual};
pub use detection::BeadLimit;
pub use document::{MethodBody, TEMPLATE};
pub(crate) use findings::{absent, recentred};
pub use measurement::Measurement;
pub use method::Method;
pub(crate) use order::brought_halide;
pub use overlap::{InternalStandard, Overlap};
pub use provenance::Provenance;
pub use standard::Standard;
