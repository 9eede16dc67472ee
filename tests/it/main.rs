//! The one binary of integration tests.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, reason = "a test may stop")]

mod batch;
#[cfg(feature = "arrow")]
mod batch_arrow;
mod charge;
mod codes;
mod document;
mod drying;
mod formula;
mod furnace;
mod fuzz_replay;
mod hand_ledger;
mod layers;
mod literature;
mod matrix;
mod method;
mod numeric;
mod rounding;
mod scalar;
mod scenarios;
mod sheet;
mod support;
mod table;
mod uncertainty;
mod weights;
mod xray;
