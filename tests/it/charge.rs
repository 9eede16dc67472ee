//! Properties and refusals of `charge`, over random charges.

mod bases;
mod books;
mod findings;
mod flux_lots;
mod inverse;
mod lanes;
mod random;
mod refusals;
mod tangents;

use proptest::test_runner::{Config, RngSeed};

/// The same cases in every run; a charge takes about a millisecond.
fn config() -> Config {
    Config { cases: 96, rng_seed: RngSeed::Fixed(20_252), failure_persistence: None, ..Config::default() }
}
