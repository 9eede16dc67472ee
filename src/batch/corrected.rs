//! What comes out of a table: a row for each row that went in, and what is to be said of them beside.

use std::sync::Arc;

use crate::batch::column::{Bits, Numbers};
use crate::code::{Code, Severity};
use crate::error::Error;
use crate::finding::Finding;

/// A remark on one row.
///
/// ```
/// use beadchem::batch::RowFinding;
/// use beadchem::{code::Code, finding::Finding};
/// let finding = RowFinding::new(417, &Finding::new(Code::MassMissing, "flux mass", "Flux mass is missing."));
/// assert_eq!((finding.row, finding.code.word()), (417, "mass.missing"));
/// ```
#[derive(Debug, Clone, PartialEq)]
pub struct RowFinding {
    /// The row in the whole table, counted from 0.
    pub row: u64,
    /// Why it was raised.
    pub code: Code,
    /// What it is about.
    pub quantity: String,
    /// The number found, in the units inside (g, g/g, counts/s); NaN where there is none.
    pub value: f64,
    /// The number it was held against; NaN where there is none.
    pub bound: f64,
    /// Value, bound, likely cause and repair in plain words.
    pub text: String,
}

impl RowFinding {
    /// A finding with its row.
    ///
    /// ```
    /// use beadchem::{batch::RowFinding, code::Code, finding::Finding};
    /// assert!(RowFinding::new(0, &Finding::new(Code::MassMissing, "flux mass", "")).value.is_nan());
    /// ```
    #[must_use]
    pub fn new(row: u64, finding: &Finding) -> Self {
        Self::of(row, finding.clone())
    }

    /// The same with the texts of the finding.
    pub(crate) fn of(row: u64, finding: Finding) -> Self {
        let or_nan = |number: Option<f64>| number.unwrap_or(f64::NAN);
        Self {
            row,
            code: finding.code,
            value: or_nan(finding.value),
            bound: or_nan(finding.bound),
            quantity: finding.quantity,
            text: finding.text,
        }
    }

    /// A refusal with its row.
    ///
    /// ```
    /// use beadchem::{batch::RowFinding, charge::Sample};
    /// let refused = RowFinding::refused(7, &Sample::dried(-0.0012).unwrap_err());
    /// assert_eq!((refused.row, refused.value), (7, -0.0012));
    /// ```
    #[must_use]
    pub fn refused(row: u64, error: &Error) -> Self {
        Self {
            row,
            code: error.code(),
            quantity: error.quantity().to_owned(),
            value: error.value().unwrap_or(f64::NAN),
            bound: f64::NAN,
            text: error.to_string(),
        }
    }

    /// How much it weighs.
    ///
    /// ```
    /// use beadchem::{batch::RowFinding, charge::Sample, code::Severity};
    /// let refused = RowFinding::refused(7, &Sample::dried(-0.0012).unwrap_err());
    /// assert_eq!(refused.severity(), Severity::Error);
    /// ```
    #[must_use]
    pub fn severity(&self) -> Severity {
        self.code.severity()
    }
}

/// A column of results.
///
/// ```
/// use beadchem::batch::ResultColumn;
/// # use beadchem::batch::Uncertainty;
/// let columns: std::sync::Arc<[ResultColumn]> = beadchem::batch::example()?.result_columns(Uncertainty::None)?;
/// assert_eq!((columns[0].name.as_str(), columns[0].unit), ("CaO_percent", "%"));
/// # Ok::<(), beadchem::Error>(())
/// ```
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ResultColumn {
    /// Its name.
    pub name: String,
    /// The word of its unit.
    pub unit: &'static str,
    /// The basis it stands on, where it has one.
    pub basis: Option<String>,
}

/// The results of a table or of a part of it.
///
/// ```
/// use beadchem::batch::{Columns, RunOptions};
/// let empty = beadchem::batch::example_table(0)?;
/// let corrected = beadchem::batch::example()?.run(&empty.columns()?, &RunOptions::default())?;
/// assert_eq!(corrected.rows(), 0);
/// # Ok::<(), beadchem::Error>(())
/// ```
#[derive(Debug, Clone, PartialEq)]
pub struct Corrected {
    pub(crate) rows: usize,
    pub(crate) columns: Arc<[ResultColumn]>,
    pub(crate) numbers: Vec<f64>,
    /// For each column its bitmap; empty where all cells are there.
    pub(crate) valid: Vec<Vec<u8>>,
    pub(crate) codes: Vec<u16>,
    pub(crate) findings: Vec<RowFinding>,
    pub(crate) notes: Vec<Finding>,
}

impl Default for Corrected {
    fn default() -> Self {
        Self {
            rows: 0,
            columns: Arc::from(Vec::new()),
            numbers: Vec::new(),
            valid: Vec::new(),
            codes: Vec::new(),
            findings: Vec::new(),
            notes: Vec::new(),
        }
    }
}

impl Corrected {
    /// How many rows there are: as many as went in, in their order.
    ///
    /// ```
    /// assert_eq!(beadchem::batch::Corrected::default().rows(), 0);
    /// ```
    #[must_use]
    pub fn rows(&self) -> usize {
        self.rows
    }

    /// The columns, in the order of the numbers.
    ///
    /// ```
    /// assert!(beadchem::batch::Corrected::default().columns().is_empty());
    /// ```
    #[must_use]
    pub fn columns(&self) -> &[ResultColumn] {
        &self.columns
    }

    /// All numbers, column after column, [`rows`](Self::rows) of each; NaN where there is none.
    ///
    /// ```
    /// assert!(beadchem::batch::Corrected::default().numbers().is_empty());
    /// ```
    #[must_use]
    pub fn numbers(&self) -> &[f64] {
        &self.numbers
    }

    /// The numbers by value, to be handed on without a copy.
    ///
    /// ```
    /// assert!(beadchem::batch::Corrected::default().into_numbers().is_empty());
    /// ```
    #[must_use]
    pub fn into_numbers(self) -> Vec<f64> {
        self.numbers
    }

    /// The bitmap of a column, least significant bit first; nothing where all its cells are there.
    ///
    /// ```
    /// assert!(beadchem::batch::Corrected::default().valid(0).is_none());
    /// ```
    #[must_use]
    pub fn valid(&self, column: usize) -> Option<&[u8]> {
        self.valid.get(column).filter(|bytes| !bytes.is_empty()).map(Vec::as_slice)
    }

    /// A column by its name.
    ///
    /// ```
    /// assert!(beadchem::batch::Corrected::default().column("SiO2_percent").is_none());
    /// ```
    #[must_use]
    pub fn column(&self, name: &str) -> Option<Numbers<'_>> {
        let place = self.columns.iter().position(|column| column.name == name)?;
        let numbers = Numbers::new(&self.numbers[place * self.rows..(place + 1) * self.rows]);
        match self.valid(place) {
            Some(bytes) => Bits::new(bytes, 0, self.rows).ok().map(|bits| numbers.valid(bits)),
            None => Some(numbers),
        }
    }

    /// For each row the number of the code of its most severe finding; 0 where nothing is to be said.
    ///
    /// ```
    /// assert!(beadchem::batch::Corrected::default().codes().is_empty());
    /// ```
    #[must_use]
    pub fn codes(&self) -> &[u16] {
        &self.codes
    }

    /// All findings, by row.
    ///
    /// ```
    /// assert!(beadchem::batch::Corrected::default().findings().is_empty());
    /// ```
    #[must_use]
    pub fn findings(&self) -> &[RowFinding] {
        &self.findings
    }

    /// What is said of the table as a whole: columns that were not read, lines that some rows have no intensity of.
    ///
    /// ```
    /// assert!(beadchem::batch::Corrected::default().notes().is_empty());
    /// ```
    #[must_use]
    pub fn notes(&self) -> &[Finding] {
        &self.notes
    }

    /// How many rows gave no results.
    ///
    /// ```
    /// assert_eq!(beadchem::batch::Corrected::default().refused(), 0);
    /// ```
    #[must_use]
    pub fn refused(&self) -> usize {
        let is_error = |code: &&Code| code.severity() == Severity::Error;
        let errors: Vec<u16> = Code::ALL.iter().filter(is_error).map(|code| code.number()).collect();
        self.codes.iter().filter(|code| errors.binary_search(code).is_ok()).count()
    }
}
