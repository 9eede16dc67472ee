//! Totals row by row, with a count of the rows that have none.

use super::place::rows;
use super::whole::{Reading, Sheet};
use crate::code::Code;
use crate::composition::{Cell, Total};
use crate::error::{Error, Result};
use crate::finding::Finding;

/// What became of the total of one row.
///
/// ```
/// use beadchem::sheet::Outcome;
/// assert_ne!(Outcome::MajorMissing(vec!["CaO".to_owned()]), Outcome::MajorMissing(Vec::new()));
/// ```
#[derive(Debug, Clone, PartialEq)]
pub enum Outcome {
    /// The sum, with what is not in it.
    Totalled(Total),
    /// These declared majors are unknown; a sum without them would say nothing.
    MajorMissing(Vec<String>),
    /// The row has trouble; this is the first.
    Refused(Error),
}

/// One row and its total.
///
/// ```
/// use beadchem::composition::{Basis, Unit};
/// use beadchem::sheet::{Column, DecimalMark, Layout, Outcome, Sheet};
/// let column = Column::content("CaO", "CaO", Unit::Percent, Basis::Dried);
/// let sheet = Sheet::read_csv("Bead,CaO\nB-1,55.0\n", &Layout::new("Bead", DecimalMark::Point).column(column))?;
/// assert!(matches!(sheet.totals(&["CaO"])?.rows[0].outcome, Outcome::Totalled(_)));
/// # Ok::<(), beadchem::Error>(())
/// ```
#[derive(Debug, Clone, PartialEq)]
pub struct RowTotal {
    /// Its line in the file.
    pub line: usize,
    /// The bead id.
    pub id: Option<String>,
    /// The total, or why there is none.
    pub outcome: Outcome,
}

/// The totals of a sheet, one for each row, and how many rows have one.
///
/// ```
/// use beadchem::composition::{Basis, Unit};
/// use beadchem::sheet::{Column, DecimalMark, Layout, Sheet};
/// let column = |species: &str| Column::content(species, species, Unit::Percent, Basis::Dried);
/// let layout = Layout::new("Bead", DecimalMark::Point).column(column("CaO")).column(column("MgO"));
/// let totals = Sheet::read_csv("Bead,CaO,MgO\nB-1,55.0,\nB-2,,1.0\nB-3,x,1\n", &layout)?.totals(&["CaO"])?;
/// assert_eq!((totals.totalled, totals.major_missing, totals.refused), (1, 1, 1));
/// # Ok::<(), beadchem::Error>(())
/// ```
#[derive(Debug, Clone, PartialEq)]
pub struct Totals {
    /// All rows, in the order of the sheet.
    pub rows: Vec<RowTotal>,
    /// How many have a total.
    pub totalled: usize,
    /// How many lack a major.
    pub major_missing: usize,
    /// How many have trouble.
    pub refused: usize,
    /// Which rows lack a major.
    pub findings: Vec<Finding>,
}

impl Sheet {
    /// The total of each row through [`Composition::total`](crate::composition::Composition::total): values are summed,
    /// contents below a limit or unknown are not counted and are named, absent ones count as nothing. A row in which one of
    /// the `majors` is unknown has no total.
    ///
    /// # Errors
    /// `species.unknown` for a major that no column holds; `basis.mismatch` and `basis.missing` as
    /// [`composition`](Sheet::composition).
    ///
    /// ```
    /// use beadchem::composition::{Basis, Unit};
    /// use beadchem::sheet::{Column, DecimalMark, Layout, Sheet};
    /// let column = |species: &str| Column::content(species, species, Unit::Percent, Basis::Dried);
    /// let layout = Layout::new("Bead", DecimalMark::Point).column(column("CaO")).column(column("MgO"));
    /// let sheet = Sheet::read_csv("Bead,CaO,MgO\nB-1,55.0,<0.1\nB-2,,1.0\n", &layout)?;
    /// let totals = sheet.totals(&["CaO"])?;
    /// assert_eq!((totals.totalled, totals.major_missing), (1, 1));
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    pub fn totals(&self, majors: &[&str]) -> Result<Totals> {
        let place = |major: &&str| {
            let found = self.columns.iter().position(|column| column.is_content() && column.name == **major);
            found.ok_or_else(|| self.no_species(major))
        };
        let places = majors.iter().map(place).collect::<Result<Vec<usize>>>()?;
        let mut totals = Totals { rows: Vec::new(), totalled: 0, major_missing: 0, refused: 0, findings: Vec::new() };
        let mut lacking = Vec::new();
        for (index, row) in self.rows.iter().enumerate() {
            let is_unknown = |place: &&usize| row.cells[**place].reading == Reading::Content(Cell::Unknown);
            let missing: Vec<String> =
                places.iter().filter(is_unknown).map(|&place| self.columns[place].name.clone()).collect();
            let outcome = match row.trouble.first() {
                Some(error) => {
                    totals.refused += 1;
                    Outcome::Refused(error.clone())
                }
                None if !missing.is_empty() => {
                    totals.major_missing += 1;
                    lacking.push(row.line);
                    Outcome::MajorMissing(missing)
                }
                None => {
                    totals.totalled += 1;
                    Outcome::Totalled(self.composition(index)?.total(None)?)
                }
            };
            totals.rows.push(RowTotal { line: row.line, id: row.id.clone(), outcome });
        }
        if !lacking.is_empty() {
            let text = format!("{}: a major ({}) is unknown; not totalled.", rows(&lacking), majors.join(", "));
            let finding = Finding::new(Code::MajorMissing, majors.join(", "), text);
            totals.findings.push(finding.with_value(lacking.len() as f64));
        }
        Ok(totals)
    }
}
