//! The atomic tables that the examples of this module look at.

use crate::error::Result;
use crate::xray::CsvTables;

/// Lithium, beryllium, boron, oxygen, silicon, calcium, iron and rhodium on a coarse grid: for examples, not for work.
///
/// The two texts it is read from, `example_mass.csv` and `example_atoms.csv` beside its source, show the layout that
/// [`CsvTables::read`] takes.
///
/// # Errors
/// None; kept fallible for the reader.
///
/// # Source
/// Elam, Ravel, Sieber, Radiat. Phys. Chem. 2002, 63, 121, thinned to every sixth row.
///
/// ```
/// use beadchem::xray::{AtomicTables, example_tables};
/// assert_eq!(example_tables()?.elements().len(), 8);
/// # Ok::<(), beadchem::Error>(())
/// ```
pub fn example_tables() -> Result<CsvTables> {
    let provenance = "Elam, Ravel, Sieber 2002, thinned to every sixth row: for examples only";
    CsvTables::read(include_str!("example_mass.csv"), include_str!("example_atoms.csv"), provenance)
}
