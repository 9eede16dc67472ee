//! Tables of beads: columns in, columns out, one row out for each row in, by the plan that serves a single bead.

#[cfg(feature = "arrow")]
pub mod arrow;
mod cells;
mod check;
mod column;
mod compare;
mod corrected;
mod correction;
mod document;
mod engine;
mod example;
mod field;
mod group;
mod job;
mod judge;
mod made;
mod options;
mod outline;
mod recorrect;
mod run;
mod served;
mod sort;
mod tile;
mod told;

pub use column::{Bits, Column, Columns, Numbers, Words};
pub use compare::{Difference, compare};
pub use corrected::{Corrected, ResultColumn, RowFinding};
pub use correction::{Correction, FusionLoss, example};
pub use document::{CorrectionBody, RecorrectionBody, TableProvenance};
pub use example::{ExampleTable, example_table};
pub use field::{Field, Quantity, Spread};
pub use job::{Kind, TableJob};
pub use options::{RunOptions, Uncertainty};
pub use recorrect::{Recorrection, SpecificationLimit};
