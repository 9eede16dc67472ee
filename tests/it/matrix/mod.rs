//! The way back from counts: intensities that can be compared with the calibration, influence coefficients, and the linear
//! system they make.

pub(crate) mod classes;
mod coefficients;
mod detection;
mod drift;
mod elimination;
mod net;
mod published;

/// A plain generator (Marsaglia's xorshift, 2003): the same numbers on every machine.
pub(crate) struct Random(pub(crate) u64);

impl Random {
    /// Uniform in `[low, high)`.
    pub(crate) fn within(&mut self, low: f64, high: f64) -> f64 {
        self.0 ^= self.0 << 13;
        self.0 ^= self.0 >> 7;
        self.0 ^= self.0 << 17;
        const BITS: f64 = (1_u64 << 53) as f64;
        low + (high - low) * ((self.0 >> 11) as f64 / BITS)
    }
}
