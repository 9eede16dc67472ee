//! A table as read.

use super::column::{Column, Kind, Spread};
use super::layout::check_columns;
use crate::code::Code;
use crate::composition::{Basis, Cell, Composition, Unit, scaled};
use crate::error::{Error, Result};
use crate::finding::Finding;
use crate::substance::{Weights, factor};
use crate::uncertainty::Estimate;

/// What a cell was read as.
///
/// ```
/// use beadchem::{composition::Cell, sheet::Reading};
/// assert_ne!(Reading::Content(Cell::Unknown), Reading::Refused);
/// ```
#[derive(Debug, Clone, PartialEq)]
pub enum Reading {
    /// A mass fraction in g/g with its four states.
    Content(Cell),
    /// A mass in g.
    Mass(Estimate),
    /// Another number, as it stands.
    Number(Estimate),
    /// Words.
    Text(String),
    /// A time, as written.
    Time(String),
    /// No mass, number or time, by a declared word.
    Absent,
    /// An empty cell, or a word for unknown, where no content belongs.
    Unknown,
    /// Not readable; the row's trouble says why.
    Refused,
}

/// One cell.
///
/// ```
/// use beadchem::composition::{Basis, Unit};
/// use beadchem::sheet::{Column, DecimalMark, Layout, Sheet};
/// let column = Column::content("SiO2", "SiO2", Unit::Percent, Basis::Dried);
/// let sheet = Sheet::read_csv("Bead,SiO2\nB-1,12.30\n", &Layout::new("Bead", DecimalMark::Point).column(column))?;
/// assert_eq!(sheet.cell(0, "SiO2").unwrap().decimals, Some(2));
/// # Ok::<(), beadchem::Error>(())
/// ```
#[derive(Debug, Clone, PartialEq)]
pub struct SheetCell {
    /// What it was read as.
    pub reading: Reading,
    /// Decimals of the text (less its exponent): its last digit counts `10^-decimals` of the column's unit. Nothing for
    /// cells without a number, numeric cells of a workbook, and converted values.
    pub decimals: Option<i32>,
}

/// One row.
///
/// ```
/// use beadchem::sheet::{DecimalMark, Layout, Sheet};
/// let sheet = Sheet::read_csv("Bead\nB-1\n", &Layout::new("Bead", DecimalMark::Point))?;
/// assert_eq!((sheet.rows()[0].line, sheet.rows()[0].id.as_deref()), (2, Some("B-1")));
/// # Ok::<(), beadchem::Error>(())
/// ```
#[derive(Debug, Clone, PartialEq)]
pub struct SheetRow {
    /// Its line in the file, counted from 1.
    pub line: usize,
    /// The bead id, without outer blanks; nothing where it is missing or cannot be found.
    pub id: Option<String>,
    /// One cell for each declared column, in the order declared.
    pub cells: Vec<SheetCell>,
    /// Its fields as they stand in the file.
    pub fields: Vec<String>,
    /// Why it is not used, each with its place; empty for a sound row.
    pub trouble: Vec<Error>,
}

/// A table as read: one row for each row of the file, and what is to be said of it.
///
/// A row with trouble stays in the sheet with what could be read; compositions, totals and values are not given for it.
///
/// ```
/// use beadchem::composition::{Basis, Unit};
/// use beadchem::sheet::{Column, DecimalMark, Layout, Sheet};
/// let column = Column::content("SiO2", "SiO2", Unit::Percent, Basis::Dried);
/// let layout = Layout::new("Bead", DecimalMark::Comma).column(column);
/// let sheet = Sheet::read_csv("Bead,SiO2\nB-1,\"12,5\"\nB-2,12.3\n", &layout)?;
/// let refused = &sheet.rows()[1].trouble[0];
/// assert!(refused.to_string().starts_with("Row 3, column SiO2: '12.3' is ambiguous. State decimal mark for this table."));
/// assert_eq!(sheet.composition(0)?.get("SiO2").unwrap().value().unwrap().value(), 0.125);
/// # Ok::<(), beadchem::Error>(())
/// ```
#[derive(Debug, Clone, PartialEq)]
pub struct Sheet {
    pub(super) columns: Vec<Column>,
    pub(super) rows: Vec<SheetRow>,
    pub(super) findings: Vec<Finding>,
}

impl Sheet {
    /// The columns, in the order declared.
    ///
    /// ```
    /// use beadchem::sheet::{Column, DecimalMark, Layout, Sheet};
    /// let layout = Layout::new("Bead", DecimalMark::Point).column(Column::text("operator"));
    /// assert_eq!(Sheet::read_csv("Bead,operator\n", &layout)?.columns()[0].name(), "operator");
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn columns(&self) -> &[Column] {
        &self.columns
    }

    /// All rows, in the order of the file.
    ///
    /// ```
    /// use beadchem::sheet::{DecimalMark, Layout, Sheet};
    /// assert_eq!(Sheet::read_csv("Bead\nB-1\nB-2\n", &Layout::new("Bead", DecimalMark::Point))?.rows().len(), 2);
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn rows(&self) -> &[SheetRow] {
        &self.rows
    }

    /// The rows with trouble.
    ///
    /// ```
    /// use beadchem::sheet::{DecimalMark, Layout, Sheet};
    /// let sheet = Sheet::read_csv("Bead\nB-1\nB-1\n", &Layout::new("Bead", DecimalMark::Point))?;
    /// assert_eq!(sheet.rejects().count(), 2);
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    pub fn rejects(&self) -> impl Iterator<Item = &SheetRow> {
        self.rows.iter().filter(|row| !row.trouble.is_empty())
    }

    /// What a reader of the table must know: limits, columns not read, rows not used.
    ///
    /// ```
    /// use beadchem::sheet::{DecimalMark, Layout, Sheet};
    /// let sheet = Sheet::read_csv("Bead,remark\nB-1,ok\n", &Layout::new("Bead", DecimalMark::Point))?;
    /// assert_eq!(sheet.findings()[0].text, "Columns not read: remark.");
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn findings(&self) -> &[Finding] {
        &self.findings
    }

    /// The cell of a row, counted from 0, in the column of this name.
    ///
    /// ```
    /// use beadchem::sheet::{Column, DecimalMark, Layout, Reading, Sheet};
    /// let layout = Layout::new("Bead", DecimalMark::Point).column(Column::text("operator"));
    /// let sheet = Sheet::read_csv("Bead,operator\nB-1,Ada\n", &layout)?;
    /// assert_eq!(sheet.cell(0, "operator").unwrap().reading, Reading::Text("Ada".to_owned()));
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn cell(&self, row: usize, name: &str) -> Option<&SheetCell> {
        let place = self.columns.iter().position(|column| column.name == name)?;
        self.rows.get(row)?.cells.get(place)
    }

    /// The contents of a row, counted from 0, as one composition.
    ///
    /// # Errors
    /// The first trouble of the row, where it has any; `basis.mismatch` where columns are declared on different bases;
    /// `basis.missing` where no column holds contents; `input.unknown` where there is no such row; those of
    /// [`Composition::with`].
    ///
    /// ```
    /// use beadchem::composition::{Basis, Cell, Unit};
    /// use beadchem::sheet::{Column, DecimalMark, Layout, Sheet};
    /// let column = |species: &str| Column::content(species, species, Unit::Percent, Basis::Dried);
    /// let layout = Layout::new("Bead", DecimalMark::Point).column(column("CaO")).column(column("MgO"));
    /// let ore = Sheet::read_csv("Bead,CaO,MgO\nB-1,55.0,\n", &layout)?.composition(0)?;
    /// assert_eq!(ore.get("MgO"), Some(&Cell::Unknown));
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    pub fn composition(&self, row: usize) -> Result<Composition> {
        let Some(held) = self.rows.get(row) else {
            return Err(Error::Unknown {
                code: Code::InputUnknown,
                what: "Row".to_owned(),
                given: row.to_string(),
                hint: format!("The sheet has {} rows, counted from 0 here.", self.rows.len()),
            });
        };
        if let Some(error) = held.trouble.first() {
            return Err(error.clone());
        }
        let mut whole = Composition::new(self.basis()?);
        for (column, cell) in self.columns.iter().zip(&held.cells) {
            if let (Kind::Content { form, .. }, Reading::Content(cell)) = (&column.kind, &cell.reading) {
                let push = if *form { Composition::with_form } else { Composition::with };
                whole = push(whole, &column.name, cell.clone())?;
            }
        }
        Ok(whole)
    }

    /// The one basis of all contents.
    fn basis(&self) -> Result<Basis> {
        let mut stated = self.columns.iter().filter_map(|column| Some((column, column.basis()?)));
        let Some((first, basis)) = stated.next() else {
            return Err(Error::Unstated {
                code: Code::BasisMissing,
                quantity: "A column of contents".to_owned(),
                hint: "Declare the contents to be read with species, unit and basis.".to_owned(),
            });
        };
        match stated.find(|(_, other)| *other != basis) {
            None => Ok(basis),
            Some((column, other)) => Err(Error::Conflict {
                code: Code::BasisMismatch,
                detail: format!("Cannot bring {} ({basis}) and {} ({other}) together.", first.name, column.name),
                hint: "Read them by two layouts and put one on the basis of the other.".to_owned(),
            }),
        }
    }

    /// The same sheet with one column of contents written as another species that shares an element (SiO2 as Si). Values,
    /// limits and uncertainties are multiplied by the factor. A finding says what the rounding of the input amounts to:
    /// `0.5 * 10^-decimals / sqrt(3)` times the factor, in the unit of the column.
    ///
    /// # Errors
    /// `species.unknown` where no column holds that species; `species.doubled` or `species.element-twice` where the target
    /// clashes with another column; those of [`factor`](crate::substance::factor()).
    ///
    /// # Source
    /// JCGM 100:2008, 4.3.7 and F.2.2.1: a value rounded to a digit has a rectangular distribution of half a digit.
    ///
    /// ```
    /// use beadchem::{composition::{Basis, Unit}, sheet::{Column, DecimalMark, Layout, Sheet}, substance::Weights};
    /// let column = Column::content("MnO", "MnO", Unit::Percent, Basis::Dried);
    /// let sheet = Sheet::read_csv("Bead,MnO\nB-1,12.3\n", &Layout::new("Bead", DecimalMark::Point).column(column))?;
    /// let manganese = sheet.written_as("MnO", "MnO2", &Weights::ciaaw_2024())?;
    /// assert!(manganese.findings()[0].text.starts_with("Input has 1 decimal; converted value carries rounding u 0.04."));
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    pub fn written_as(&self, species: &str, target: &str, weights: &Weights) -> Result<Self> {
        let Some(place) = self.columns.iter().position(|column| column.is_content() && column.name == species) else {
            return Err(self.no_species(species));
        };
        let factor = factor(species, target, weights)?.value();
        let mut written = self.clone();
        let column = &mut written.columns[place];
        target.clone_into(&mut column.name);
        if let Spread::Stated(u) = &mut column.spread {
            *u *= factor;
        }
        check_columns(&written.columns)?;
        let mut rounded = std::collections::BTreeMap::<i32, usize>::new();
        for row in &mut written.rows {
            let cell = &mut row.cells[place];
            if let Reading::Content(content) = &mut cell.reading {
                *content = scaled(content, factor);
                if let (Cell::Value(_), Some(decimals)) = (content, cell.decimals.take()) {
                    *rounded.entry(decimals).or_default() += 1;
                }
            }
        }
        let unit = self.columns[place].unit().unwrap_or_default();
        let findings = rounded.into_iter().map(|(decimals, rows)| {
            let u = rounding_u(decimals) * factor;
            let rows = if rows == 1 { "1 row".to_owned() } else { format!("{rows} rows") };
            let text = format!(
                "Input has {}; converted value carries rounding u {}. ({species} as {target}, {unit}; {rows}.)",
                in_words(decimals),
                one_digit(u)
            );
            Finding::new(Code::RoundedBeforeConversion, target, text).with_value(u)
        });
        written.findings.extend(findings);
        Ok(written)
    }

    pub(super) fn no_species(&self, species: &str) -> Error {
        let held: Vec<&str> = self.columns.iter().filter(|column| column.is_content()).map(Column::name).collect();
        Error::Unknown {
            code: Code::SpeciesUnknown,
            what: "Species".to_owned(),
            given: species.to_owned(),
            hint: format!("The columns of contents are: {}.", held.join(", ")),
        }
    }

    /// The numbers of a column, one for each row, nothing where there is none or the row has trouble: contents in `unit`,
    /// masses in g, other numbers as they stand.
    ///
    /// # Errors
    /// `input.unknown` where no column has that name.
    ///
    /// ```
    /// use beadchem::{composition::{Basis, Unit}, sheet::{Column, DecimalMark, Layout, Sheet}};
    /// let column = Column::content("MnO", "MnO", Unit::Percent, Basis::Dried);
    /// let sheet = Sheet::read_csv("Bead,MnO\nB-1,12.5\nB-2,\n", &Layout::new("Bead", DecimalMark::Point).column(column))?;
    /// assert_eq!(sheet.values("MnO", Unit::Fraction)?, [Some(0.125), None]);
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    pub fn values(&self, name: &str, unit: Unit) -> Result<Vec<Option<f64>>> {
        let Some(place) = self.columns.iter().position(|column| column.name == name) else {
            return Err(Error::Unknown {
                code: Code::InputUnknown,
                what: "Column".to_owned(),
                given: name.to_owned(),
                hint: format!(
                    "The columns are: {}.",
                    self.columns.iter().map(Column::name).collect::<Vec<_>>().join(", ")
                ),
            });
        };
        let values = self.rows.iter().map(|row| match &row.cells[place].reading {
            _ if !row.trouble.is_empty() => None,
            Reading::Content(cell) => cell.value().map(|value| unit.written(value.value())),
            Reading::Mass(number) | Reading::Number(number) => Some(number.value()),
            _ => None,
        });
        Ok(values.collect())
    }
}

/// Standard uncertainty of a number rounded to so many decimals.
fn rounding_u(decimals: i32) -> f64 {
    0.5 * 10_f64.powi(-decimals) / 3_f64.sqrt()
}

fn in_words(decimals: i32) -> String {
    match decimals {
        1 => "1 decimal".to_owned(),
        0.. => format!("{decimals} decimals"),
        _ => format!("no digit below {}", 10_f64.powi(-decimals)),
    }
}

/// An uncertainty in one digit.
fn one_digit(u: f64) -> f64 {
    format!("{u:.0e}").parse().unwrap_or(u)
}
