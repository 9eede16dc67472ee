//! Fusion of a charge: sample, flux lot and additions to a melt, and from the glass back to the sample.

mod addition;
mod adjust;
mod builder;
mod caution;
mod checks;
mod closed;
mod compile;
mod fate;
mod flux;
mod heated;
mod ignition;
mod kernel;
mod ledger;
mod mass;
mod melt;
mod plan;
mod predicted;
mod ratio;
mod result;
mod sample;
mod show;
mod weighed;

pub use addition::{Addition, Amount, Timing};
pub use adjust::{Adjusted, Change};
pub use builder::{Charge, ChargeBody};
pub use fate::{Fate, ReducesTo};
pub use flux::{Flux, FluxLot, FluxLotBody};
pub use ignition::{Ignition, LossOnFusion};
pub use ledger::{ElementLine, GasLine, Ledger, OxygenBalance};
pub use melt::Melt;
pub use plan::{Form, Out, Plan, Row, Scratch};
pub use predicted::{Explained, GasLost, LossLine, PredictedLoss};
pub use ratio::{Dilution, FluxRatio, FusedFluxRatio};
pub use result::{EVALUATION, NOT_INCLUDED, SampleResult};
pub use sample::Sample;
pub use weighed::{BeadMassCheck, BeadReading, Completeness};
