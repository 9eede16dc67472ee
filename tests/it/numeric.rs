//! Properties and refusals of `numeric`.

mod dispatch;
mod errors_in_variables;
mod fits;
mod implicit;
mod interpolate;
mod memory;
mod solve;
mod sums;

use beadchem::code::Code;
use beadchem::error::Result;
use proptest::test_runner::{Config, RngSeed};

/// The same cases in every run.
fn config() -> Config {
    Config { cases: 256, rng_seed: RngSeed::Fixed(20_251), failure_persistence: None, ..Config::default() }
}

/// Asserts that each entry of a table of wrong calls is refused with its code.
fn assert_refused<T>(table: impl IntoIterator<Item = (&'static str, Result<T>, Code)>) {
    for (case, outcome, code) in table {
        assert_eq!(outcome.err().map(|error| error.code()), Some(code), "{case}");
    }
}
