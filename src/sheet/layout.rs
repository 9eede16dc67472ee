//! How a table is written: everything its reader must know and would otherwise guess.

use super::column::{Column, Kind, Spread};
use super::number::Marks;
use super::words::{DecimalMark, Delimiter, ThousandsMark};
use crate::code::Code;
use crate::composition::{Basis, Cell, Composition};
use crate::error::{Error, Result, within};

/// The declared layout of a table. An empty cell is unknown; what else is absent or unknown is declared by words.
///
/// Only the columns declared are read; the others are named in a note.
///
/// ```
/// use beadchem::composition::{Basis, Unit};
/// use beadchem::sheet::{Column, DecimalMark, Delimiter, Layout, Sheet};
/// let layout = Layout::new("Bead", DecimalMark::Comma)
///     .delimiter(Delimiter::Semicolon)
///     .header_lines(2)
///     .units_in(2)
///     .absent("-")
///     .unknown("n.a.")
///     .column(Column::content("SiO2", "SiO2", Unit::Percent, Basis::Dried))
///     .column(Column::content("Zn", "Zn", Unit::MilligramPerKilogram, Basis::Dried));
/// let sheet = Sheet::read_csv("Bead;SiO2;Zn\n;%;mg/kg\nB-1;12,3;<5\nB-2;n.a.;15\n", &layout)?;
/// assert_eq!(sheet.rows().len(), 2);
/// # Ok::<(), beadchem::Error>(())
/// ```
#[derive(Debug, Clone, PartialEq)]
pub struct Layout {
    pub(super) id: String,
    pub(super) marks: Marks,
    pub(super) delimiter: Delimiter,
    pub(super) header_lines: usize,
    pub(super) names_in: usize,
    pub(super) units_in: Option<usize>,
    pub(super) absent: Vec<String>,
    pub(super) unknown: Vec<String>,
    pub(super) columns: Vec<Column>,
}

/// Header lines above which a table is hardly meant.
const MOST_HEADER_LINES: f64 = 1000.0;

impl Layout {
    /// A layout with the header of the column of bead ids and the decimal mark: one header line, fields parted by commas,
    /// no thousands mark, no columns yet.
    ///
    /// ```
    /// use beadchem::sheet::{DecimalMark, Layout};
    /// assert!(Layout::new("Bead", DecimalMark::Point).columns().is_empty());
    /// ```
    #[must_use]
    pub fn new(id_header: &str, decimal: DecimalMark) -> Self {
        Self {
            id: id_header.trim().to_owned(),
            marks: Marks { decimal, thousands: None },
            delimiter: Delimiter::Comma,
            header_lines: 1,
            names_in: 1,
            units_in: None,
            absent: Vec::new(),
            unknown: Vec::new(),
            columns: Vec::new(),
        }
    }

    /// With another mark between fields; workbooks have none.
    ///
    /// ```
    /// use beadchem::sheet::{DecimalMark, Delimiter, Layout};
    /// assert!(Layout::new("Bead", DecimalMark::Comma).delimiter(Delimiter::Tab).check().is_ok());
    /// ```
    #[must_use]
    pub fn delimiter(mut self, delimiter: Delimiter) -> Self {
        self.delimiter = delimiter;
        self
    }

    /// With a mark between groups of three digits; numbers without it are read too.
    ///
    /// ```
    /// use beadchem::sheet::{DecimalMark, Layout, ThousandsMark};
    /// let same = Layout::new("Bead", DecimalMark::Comma).thousands(ThousandsMark::Comma);
    /// assert!(same.check().is_err());
    /// ```
    #[must_use]
    pub fn thousands(mut self, mark: ThousandsMark) -> Self {
        self.marks.thousands = Some(mark);
        self
    }

    /// With so many lines before the first row, empty ones counted.
    ///
    /// ```
    /// use beadchem::sheet::{DecimalMark, Layout};
    /// assert!(Layout::new("Bead", DecimalMark::Point).header_lines(0).check().is_err());
    /// ```
    #[must_use]
    pub fn header_lines(mut self, count: usize) -> Self {
        self.header_lines = count;
        self
    }

    /// With the names of the columns in this header line, counted from 1.
    ///
    /// ```
    /// use beadchem::sheet::{DecimalMark, Layout};
    /// assert!(Layout::new("Bead", DecimalMark::Point).header_lines(3).names_in(3).check().is_ok());
    /// ```
    #[must_use]
    pub fn names_in(mut self, line: usize) -> Self {
        self.names_in = line;
        self
    }

    /// With units in this header line: one that contradicts the unit declared for its column is refused.
    ///
    /// ```
    /// use beadchem::sheet::{DecimalMark, Layout};
    /// assert!(Layout::new("Bead", DecimalMark::Point).header_lines(2).units_in(3).check().is_err());
    /// ```
    #[must_use]
    pub fn units_in(mut self, line: usize) -> Self {
        self.units_in = Some(line);
        self
    }

    /// With a word for "known not to be there".
    ///
    /// ```
    /// use beadchem::sheet::{DecimalMark, Layout};
    /// assert!(Layout::new("Bead", DecimalMark::Point).absent("-").check().is_ok());
    /// ```
    #[must_use]
    pub fn absent(mut self, word: &str) -> Self {
        self.absent.push(word.trim().to_owned());
        self
    }

    /// With a word for "not looked for, or lost".
    ///
    /// ```
    /// use beadchem::sheet::{DecimalMark, Layout};
    /// let both = Layout::new("Bead", DecimalMark::Point).absent("n.a.").unknown("n.a.");
    /// assert!(both.check().is_err());
    /// ```
    #[must_use]
    pub fn unknown(mut self, word: &str) -> Self {
        self.unknown.push(word.trim().to_owned());
        self
    }

    /// With a further column to be read.
    ///
    /// ```
    /// use beadchem::sheet::{Column, DecimalMark, Layout};
    /// assert_eq!(Layout::new("Bead", DecimalMark::Point).column(Column::text("operator")).columns().len(), 1);
    /// ```
    #[must_use]
    pub fn column(mut self, column: Column) -> Self {
        self.columns.push(column);
        self
    }

    /// The columns to be read, in the order declared.
    ///
    /// ```
    /// use beadchem::sheet::{Column, DecimalMark, Layout};
    /// let layout = Layout::new("Bead", DecimalMark::Point).column(Column::time("measured"));
    /// assert_eq!(layout.columns()[0].header(), "measured");
    /// ```
    #[must_use]
    pub fn columns(&self) -> &[Column] {
        &self.columns
    }

    /// Whether the layout is free of contradictions; reading asks first.
    ///
    /// # Errors
    /// `table.layout` where lines, marks, words, headers or names clash; those of
    /// [`Composition::with`](crate::composition::Composition::with) for the species; `number.not-finite` and
    /// `number.out-of-range` for a stated uncertainty.
    ///
    /// ```
    /// use beadchem::composition::{Basis, Unit};
    /// use beadchem::sheet::{Column, DecimalMark, Layout};
    /// let column = |species: &str| Column::content(species, species, Unit::Percent, Basis::Dried);
    /// let twice = Layout::new("Bead", DecimalMark::Point).column(column("Ni")).column(column("NiO"));
    /// assert!(twice.check().unwrap_err().to_string().starts_with("Ni and NiO refer to the same nickel"));
    /// ```
    pub fn check(&self) -> Result<()> {
        let lines = [("names", Some(self.names_in)), ("units", self.units_in)];
        for (what, line) in lines.into_iter().filter_map(|(what, line)| line.map(|line| (what, line))) {
            if !(1..=self.header_lines).contains(&line) {
                return refused(
                    format!("The {what} are declared in line {line} of {} header lines.", self.header_lines),
                    "Count the lines before the first row, beginning with 1.",
                );
            }
        }
        let count = self.header_lines as f64;
        within(
            "Header lines",
            count,
            "",
            [1.0, MOST_HEADER_LINES],
            "1 to 1000",
            "Count the lines before the first row.",
        )?;
        if self.units_in == Some(self.names_in) {
            return refused(
                format!("Line {} is declared to hold the names and the units.", self.names_in),
                "Leave units_in out where names and units share a cell.",
            );
        }
        if self.marks.thousands.map(ThousandsMark::word) == Some(self.marks.decimal.word()) {
            return refused(
                format!("The {} is declared as decimal mark and as thousands mark.", self.marks.decimal.word()),
                "Look at a number of the table that has both.",
            );
        }
        if let Some(word) = self.absent.iter().find(|word| self.unknown.contains(word)) {
            return refused(format!("The word '{word}' is declared absent and unknown."), "Keep one.");
        }
        if self.absent.iter().chain(&self.unknown).any(String::is_empty) {
            return refused(
                "An empty word is declared absent or unknown.".to_owned(),
                "An empty cell is unknown; declare words only.",
            );
        }
        self.check_headers()?;
        check_columns(&self.columns)
    }

    fn check_headers(&self) -> Result<()> {
        let mut seen: Vec<&str> = Vec::new();
        for header in self.headers() {
            if header.is_empty() {
                return refused("A column is declared without a header.".to_owned(), "Give the header as in the file.");
            }
            if seen.contains(&header) {
                return refused(format!("Two columns are declared under the header `{header}`."), "Keep one.");
            }
            seen.push(header);
        }
        Ok(())
    }

    /// All headers that the table must have, the id first.
    pub(super) fn headers(&self) -> impl Iterator<Item = &str> {
        let columns = self.columns.iter().flat_map(|column| {
            let spread = match &column.spread {
                Spread::Column(header) => Some(header.as_str()),
                _ => None,
            };
            core::iter::once(column.header.as_str()).chain(spread)
        });
        core::iter::once(self.id.as_str()).chain(columns)
    }
}

/// Names and species of the columns of a layout or a sheet.
pub(super) fn check_columns(columns: &[Column]) -> Result<()> {
    // the basis does not matter here: the species are held against each other as one composition would
    let mut species = Composition::new(Basis::Dried);
    for (place, column) in columns.iter().enumerate() {
        if let Kind::Content { form, .. } = column.kind {
            let push = if form { Composition::with_form } else { Composition::with };
            species = push(species, &column.name, Cell::Unknown)?;
        }
        if columns[..place].iter().any(|other| other.name == column.name) {
            return refused(format!("Two columns are called `{}`.", column.name), "Give each a name of its own.");
        }
        if let Spread::Stated(u) = column.spread {
            let quantity = format!("Standard uncertainty of column {}", column.header);
            within(&quantity, u, "", [0.0, f64::MAX], "0 and above", "Give it in the unit of the column.")?;
        }
        if !matches!(column.spread, Spread::Unstated) && matches!(column.kind, Kind::Text | Kind::Time) {
            return refused(
                format!("Column {} holds no numbers and has an uncertainty.", column.header),
                "Leave it out.",
            );
        }
    }
    Ok(())
}

fn refused(detail: String, hint: &str) -> Result<()> {
    Err(Error::Conflict { code: Code::TableLayout, detail, hint: hint.to_owned() })
}
