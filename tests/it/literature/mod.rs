//! Checks against published figures; each file names its source.

mod beads;
mod both_axes;
mod constant_mass;
mod factors;
mod gum;
mod gum_h3;
mod loss;
mod quam;
mod strd;
mod weights;
mod weights_packages;
mod whole_rock;
