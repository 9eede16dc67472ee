//! What a table is run through, and what comes back.

use super::column::Columns;
use super::corrected::{Corrected, ResultColumn};
use super::options::{RunOptions, Uncertainty};
use crate::error::Result;
use std::sync::Arc;

/// What a column holds.
///
/// ```
/// assert_ne!(beadchem::batch::Kind::Numbers, beadchem::batch::Kind::Words);
/// ```
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Kind {
    /// Numbers; a column of text is handed on as words, since "<0.01" is a reading too.
    Numbers,
    /// Names; whole numbers are written out.
    Words,
}

/// Something a table can be run through.
///
/// ```
/// use beadchem::batch::TableJob;
/// assert_eq!(beadchem::batch::example()?.wanted()[0].0, "bead");
/// # Ok::<(), beadchem::Error>(())
/// ```
pub trait TableJob: Send + Sync {
    /// The columns it reads where they are there, and what they hold.
    fn wanted(&self) -> &[(String, Kind)];

    /// The column of names no two rows may share, where it reads one.
    fn identity(&self) -> Option<&str>;

    /// The columns of numbers it gives.
    ///
    /// # Errors
    /// Those of the job.
    fn results(&self, uncertainty: Uncertainty) -> Result<Arc<[ResultColumn]>>;

    /// What is written into the metadata of a result, as key and text.
    ///
    /// # Errors
    /// Those of the job.
    fn metadata(&self, uncertainty: Uncertainty) -> Result<Vec<(String, String)>>;

    /// Runs the rows. The numbers go to `out` where it is given, one column after the other, and are left out of what is
    /// returned.
    ///
    /// # Errors
    /// What the job refuses about the table as a whole; `shape.mismatch` for room of another size.
    fn run_rows(&self, columns: &Columns<'_>, options: &RunOptions<'_>, out: Option<&mut [f64]>) -> Result<Corrected>;
}
