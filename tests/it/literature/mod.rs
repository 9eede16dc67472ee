//! Checks against published figures; each file names its source.

mod beads;
mod both_axes;
mod gum_h3;
mod loss;
mod strd;
mod weights;
mod weights_packages;
