//! Tables of beads: columns in, columns out, one row out for each row in, by the plan that serves a single bead.

mod alone;
#[cfg(feature = "arrow")]
pub mod arrow;
mod cells;
mod changed;
mod check;
mod column;
mod compare;
mod compared;
mod corrected;
mod correction;
mod counted;
mod declared;
mod document;
mod engine;
mod example;
mod field;
mod group;
mod job;
mod judge;
mod made;
mod moments;
mod options;
mod outline;
mod pairs;
mod recorrect;
mod run;
mod served;
mod sort;
mod tile;
mod told;
mod unmeasured;
mod versions;

pub use column::{Bits, Column, Columns, Numbers, Words};
pub use compare::{Comparison, compare};
pub use compared::{Compared, Difference};
pub use corrected::{Corrected, ResultColumn, RowFinding};
pub use correction::{Correction, FusionLoss, example};
pub use document::{CorrectionBody, RecorrectionBody, TableProvenance};
pub use example::{ExampleTable, example_table};
pub use field::{Field, Quantity, Spread};
pub use job::{Kind, TableJob};
pub use options::{RunOptions, Uncertainty};
pub use recorrect::{Recorrection, SpecificationLimit};
pub use versions::VersionChange;
