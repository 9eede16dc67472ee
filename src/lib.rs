#![doc = include_str!("../README.md")]

pub mod batch;
pub mod charge;
pub mod code;
pub mod composition;
pub mod document;
pub mod error;
pub mod finding;
pub mod matrix;
pub mod method;
pub mod numeric;
#[cfg(feature = "python")]
mod python;
pub mod rules;
pub mod scalar;
pub mod sheet;
pub mod substance;
pub mod table;
mod time;
pub mod uncertainty;
pub mod xray;

pub use error::{Error, Result};
