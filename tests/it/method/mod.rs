//! From intensities to the sample: a bead is made by hand from the equation, and the library is asked for it back.

mod bead;
mod calibration;
mod catch_weights;
mod derivatives;
mod guards;
mod internal_standard;
mod messages;
mod monte_carlo;
mod properties;
mod variances;
