//! The one binary of integration tests.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, reason = "a test may stop")]

mod literature;
mod numeric;
mod scalar;
mod table;
mod weights;
