//! Checks against published figures; each file names its source.

mod both_axes;
mod gum_h3;
mod strd;
mod weights;
mod weights_packages;
