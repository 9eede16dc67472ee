//! From counted rates to intensities that can be compared with the calibration.

mod detection;
mod drift;
mod net;
