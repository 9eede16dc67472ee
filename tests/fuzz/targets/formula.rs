//! Any bytes through `checks::formula`.
#![no_main]

#[path = "../checks.rs"]
mod checks;

libfuzzer_sys::fuzz_target!(|bytes: &[u8]| {
    checks::formula(bytes);
});
