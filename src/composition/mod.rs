//! Compositions: mass fractions of species on a stated basis, and the way from one basis or form to another.

mod atmosphere;
mod basis;
mod cell;
mod closure;
mod forms;
mod table;
pub(crate) mod unit;

pub use atmosphere::Atmosphere;
pub use basis::{Basis, BasisLinks, LossOnIgnition};
pub(crate) use basis::{PerDried, signed_loss};
pub use cell::Cell;
pub use closure::{Closure, ClosureLine, ClosureOrder, Counted, External, Sensitivity};
pub(crate) use closure::{Part, Source};
pub use forms::ElementForms;
pub use table::{Composition, CompositionBody, Entry, Total};
pub(crate) use table::{below_text, scaled};
pub use unit::Unit;
