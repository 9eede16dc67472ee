//! From intensities to the sample: a bead is made by hand from the equation, and the library is asked for it back.

mod bead;
mod calibration;
mod derivatives;
mod properties;
