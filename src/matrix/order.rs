//! What is asked of a bead's intensities, with names and estimates; compiled into the equation together with its charge.

use crate::composition::Cell;
use crate::matrix::{DriftTerm, LineReading};
use crate::substance::Formula;
use crate::uncertainty::Estimate;

/// An input with its name.
pub(crate) type Named = (String, Estimate);

/// A measured line, and what its drift rests on.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct LineSpec {
    pub(crate) reading: LineReading,
    pub(crate) drift: Option<DriftTerm>,
    /// Whether rows of a table say how far a bead lies between two readings of a monitor.
    pub(crate) by_row: bool,
}

/// Part of the intensity of one line that another brings along.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct OverlapSpec {
    pub(crate) on: usize,
    pub(crate) from: usize,
    pub(crate) factor: Named,
}

/// A row of the equation: an analyte or the internal standard, on its line.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct RowSpec {
    pub(crate) line: usize,
    pub(crate) component: usize,
    pub(crate) sensitivity: Named,
    /// What carries the sensitivity over to the centroid of the coefficients.
    pub(crate) scale: f64,
    pub(crate) offset: Option<Named>,
    pub(crate) follows: bool,
    /// Coefficient of every component; zero where it is uncertain.
    pub(crate) coefficients: Vec<f64>,
    /// Coefficients with an uncertainty, by component.
    pub(crate) uncertain: Vec<(usize, Named)>,
}

/// A component that stays in the glass and is not measured.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct DeclaredSpec {
    pub(crate) component: usize,
    /// Content of the sample as weighed.
    pub(crate) content: Named,
}

/// Everything that is asked of the intensities of a bead.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct LineOrder {
    pub(crate) lines: Vec<LineSpec>,
    pub(crate) overlaps: Vec<OverlapSpec>,
    /// The components of the coefficients.
    pub(crate) components: Vec<Formula>,
    /// The analytes, in the order of the results, then those that are solved for and not reported.
    pub(crate) rows: Vec<RowSpec>,
    /// How many of them are results.
    pub(crate) reported: usize,
    pub(crate) standard: Option<RowSpec>,
    pub(crate) declared: Vec<DeclaredSpec>,
    /// A standard: nothing is solved for, the contents are known.
    pub(crate) standard_bead: bool,
    pub(crate) reference_ratio: f64,
    /// Correlations between the own parts of inputs named above.
    pub(crate) correlations: Vec<(String, String, f64)>,
}

impl LineOrder {
    /// The analytes as entries of a composition, their contents not known yet.
    pub(crate) fn analytes(&self) -> impl Iterator<Item = (&str, Cell)> {
        self.rows.iter().map(|row| (self.components[row.component].text(), Cell::Unknown))
    }
}
