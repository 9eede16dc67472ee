//! Compositions: mass fractions of species on a stated basis, and the way from one basis or form to another.

mod atmosphere;
mod basis;
mod cell;
mod closure;
mod constant_mass;
mod drying;
mod forms;
mod hydrate;
mod ignited_mass;
mod loss_on_ignition;
mod table;
pub(crate) mod unit;

pub use atmosphere::Atmosphere;
pub use basis::{Basis, BasisLinks};
pub(crate) use basis::{CHOICES, PerDried, loss_input};
pub use cell::Cell;
pub(crate) use closure::{ABOVE_CEILING, ClosureSum, EXPECTED_LOSS, Part, Source, TOTAL, takes_up_oxygen};
pub use closure::{Closure, ClosureLine, ClosureOrder, Counted, External, Sensitivity};
pub use constant_mass::ConstantMass;
pub use drying::{Drying, Moisture};
pub use forms::ElementForms;
pub use ignited_mass::IgnitionWeighing;
pub use loss_on_ignition::LossOnIgnition;
pub(crate) use loss_on_ignition::signed_loss;
pub use table::{Composition, CompositionBody, Entry, Total};
pub(crate) use table::{below_text, scaled};
pub use unit::Unit;
