//! Result tables: one description, three outputs (terminal text, HTML, CSV). Knows no chemistry and no units: a number
//! arrives in the unit its column names.

mod codes;
mod csv;
mod html;
mod layout;
mod number;
mod rounding;
mod text;

pub use number::format_value;
pub use rounding::{Rounding, Ties};

/// Width of text where none is asked for, in characters.
const TEXT_WIDTH: usize = 100;

/// What the cells of a column are.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Kind {
    Text,
    Number,
    Bars,
}

/// The heading of a column and what stands in it.
///
/// ```
/// use beadchem::table::Column;
/// let columns = [Column::text("analyte"), Column::number("w", "%").with_uncertainty("u"), Column::bars("share of u2")];
/// assert_eq!(columns[1].title(), "w");
/// ```
#[derive(Debug, Clone, PartialEq)]
pub struct Column {
    kind: Kind,
    title: String,
    unit: String,
    uncertainty: Option<String>,
}

impl Column {
    fn new(kind: Kind, title: impl Into<String>, unit: impl Into<String>) -> Self {
        Self { kind, title: title.into(), unit: unit.into(), uncertainty: None }
    }

    /// Words, aligned left and wrapped where the table would be too wide.
    ///
    /// ```
    /// assert_eq!(beadchem::table::Column::text("analyte").title(), "analyte");
    /// ```
    #[must_use]
    pub fn text(title: impl Into<String>) -> Self {
        Self::new(Kind::Text, title, "")
    }

    /// Numbers, aligned on the decimal point; the unit may be empty.
    ///
    /// ```
    /// assert_eq!(beadchem::table::Column::number("w", "%").title(), "w");
    /// ```
    #[must_use]
    pub fn number(title: impl Into<String>, unit: impl Into<String>) -> Self {
        Self::new(Kind::Number, title, unit)
    }

    /// Shares of a whole as numbers, each with a bar.
    ///
    /// ```
    /// assert_eq!(beadchem::table::Column::bars("share").title(), "share");
    /// ```
    #[must_use]
    pub fn bars(title: impl Into<String>) -> Self {
        Self::new(Kind::Bars, title, "")
    }

    /// The same numbers with their uncertainty beside them, in the same unit, under its own heading.
    ///
    /// ```
    /// use beadchem::table::{Cell, Column, Table};
    /// let table = Table::new("").column(Column::number("w", "%").with_uncertainty("u")).row([Cell::measured(1.0, 0.1)]);
    /// assert!(table.to_csv().starts_with("w (%),w u (%),"));
    /// ```
    #[must_use]
    pub fn with_uncertainty(mut self, title: impl Into<String>) -> Self {
        self.uncertainty = Some(title.into());
        self
    }

    /// The heading, without its unit.
    ///
    /// ```
    /// assert_eq!(beadchem::table::Column::number("loss", "%").title(), "loss");
    /// ```
    #[must_use]
    pub fn title(&self) -> &str {
        &self.title
    }
}

/// How many digits of a number are shown, and what is said of its uncertainty.
#[derive(Debug, Clone, Copy, PartialEq)]
enum Digits {
    Decimals(u8),
    Significant(u8),
    Uncertainty(f64),
    AtLeast(f64),
    /// Without decimals: as many as the number has, up to ten digits.
    Unstated(Option<u8>),
}

#[derive(Debug, Clone, PartialEq)]
enum Content {
    Text(String),
    Number(f64, Digits),
    Share(f64),
    Missing(String),
}

/// One cell. A number that is not finite becomes a missing one that says so.
///
/// ```
/// use beadchem::table::Cell;
/// assert_eq!(Cell::number(f64::NAN, 2), Cell::missing("not a number"));
/// assert_ne!(Cell::missing("below detection"), Cell::missing("absent"));
/// ```
#[derive(Debug, Clone, PartialEq)]
pub struct Cell(Content);

impl Cell {
    fn finite(value: f64, digits: Digits) -> Self {
        match number::not_a_number(value) {
            Some(word) => Self::missing(word),
            None => Self(Content::Number(value, digits)),
        }
    }

    /// Words, or nothing.
    ///
    /// ```
    /// assert_eq!(beadchem::table::Cell::text("SiO2"), beadchem::table::Cell::text(String::from("SiO2")));
    /// ```
    #[must_use]
    pub fn text(text: impl Into<String>) -> Self {
        Self(Content::Text(text.into()))
    }

    /// A number with so many decimals and no uncertainty.
    ///
    /// ```
    /// use beadchem::table::{Cell, Column, Table};
    /// let table = Table::new("").column(Column::number("m", "g")).row([Cell::number(0.125, 2)]);
    /// assert!(table.to_text(80).ends_with("0.12"));
    /// ```
    #[must_use]
    pub fn number(value: f64, decimals: u8) -> Self {
        Self::finite(value, Digits::Decimals(decimals))
    }

    /// A number with so many significant digits and no uncertainty.
    ///
    /// ```
    /// use beadchem::table::{Cell, Column, Table};
    /// let table = Table::new("").column(Column::number("a", "")).row([Cell::significant(-0.012345, 3)]);
    /// assert!(table.to_text(80).ends_with("-0.0123"));
    /// ```
    #[must_use]
    pub fn significant(value: f64, digits: u8) -> Self {
        Self::finite(value, Digits::Significant(digits))
    }

    /// A value with its uncertainty, both rounded as [`format_value`] says. An uncertainty that is negative or not finite
    /// counts as not stated.
    ///
    /// ```
    /// use beadchem::table::{Cell, Column, Table};
    /// let column = Column::number("w", "%").with_uncertainty("u");
    /// assert!(Table::new("").column(column).row([Cell::measured(51.2345, 0.1249)]).to_text(80).ends_with("51.23  0.12"));
    /// ```
    #[must_use]
    pub fn measured(value: f64, u: f64) -> Self {
        Self::finite(value, if number::is_uncertainty(u) { Digits::Uncertainty(u) } else { Digits::Unstated(None) })
    }

    /// A value whose uncertainty is at least `u`, because an input had none stated.
    ///
    /// ```
    /// use beadchem::table::{Cell, Column, Table};
    /// let column = Column::number("w", "%").with_uncertainty("u");
    /// assert!(Table::new("").column(column).row([Cell::at_least(51.2345, 0.1249)]).to_text(80).ends_with(">= 0.12"));
    /// ```
    #[must_use]
    pub fn at_least(value: f64, u: f64) -> Self {
        Self::finite(value, if number::is_uncertainty(u) { Digits::AtLeast(u) } else { Digits::Unstated(None) })
    }

    /// A value without a stated uncertainty, with so many decimals.
    ///
    /// ```
    /// use beadchem::table::{Cell, Column, Table};
    /// let column = Column::number("w", "%").with_uncertainty("u");
    /// assert!(Table::new("").column(column).row([Cell::unstated(51.2, 1)]).to_text(80).ends_with("51.2  not stated"));
    /// ```
    #[must_use]
    pub fn unstated(value: f64, decimals: u8) -> Self {
        Self::finite(value, Digits::Unstated(Some(decimals)))
    }

    /// A share of a whole, for a column of bars: 1 is the full bar. A share outside 0 to 1 is printed as it is; only its
    /// bar ends at the edge.
    ///
    /// ```
    /// use beadchem::table::{Cell, Column, Table};
    /// let table = Table::new("").column(Column::bars("share")).row([Cell::share(0.5)]);
    /// assert!(table.to_text(80).ends_with("0.50 #####"));
    /// ```
    #[must_use]
    pub fn share(share: f64) -> Self {
        match number::not_a_number(share) {
            Some(word) => Self::missing(word),
            None => Self(Content::Share(share)),
        }
    }

    /// No value, and why: "below detection", "absent", "unknown"; without a reason it says "missing".
    ///
    /// ```
    /// use beadchem::table::{Cell, Column, Table};
    /// let table = Table::new("").column(Column::number("w", "%")).row([Cell::missing("below detection")]);
    /// assert!(table.to_csv().ends_with(",w: below detection\r\n"));
    /// ```
    #[must_use]
    pub fn missing(reason: impl Into<String>) -> Self {
        let reason = reason.into();
        Self(Content::Missing(if reason.is_empty() { "missing".to_owned() } else { reason }))
    }
}

/// A table: title, lines of the head, columns, rows, notes below. `Display` gives the text, by default 100 characters
/// wide (`{:60}` asks for 60).
///
/// ```
/// use beadchem::table::{Cell, Column, Table};
/// let table = Table::new("Sample 418")
///     .head("basis: dried, 105 C")
///     .column(Column::text("analyte"))
///     .column(Column::number("w", "%").with_uncertainty("u"))
///     .row([Cell::text("SiO2"), Cell::measured(51.234, 0.124)])
///     .row([Cell::text("MnO"), Cell::measured(0.08127, 0.0031)])
///     .row([Cell::text("SO3"), Cell::missing("absent")])
///     .note("not included: sampling");
/// let expected = "\
/// Sample 418
/// basis: dried, 105 C
///
/// analyte        w       u
///                %       %
/// -------  -------  ------
/// SiO2     51.23    0.12
/// MnO       0.0813  0.0031
/// SO3       absent
///
/// not included: sampling";
/// assert_eq!(table.to_string(), expected);
/// ```
#[derive(Debug, Clone, PartialEq)]
pub struct Table {
    title: String,
    head: Vec<String>,
    columns: Vec<Column>,
    rows: Vec<Vec<Cell>>,
    notes: Vec<String>,
}

impl Table {
    /// A table without columns and rows; the title may be empty.
    ///
    /// ```
    /// assert_eq!(beadchem::table::Table::new("Budget").to_string(), "Budget");
    /// ```
    #[must_use]
    pub fn new(title: impl Into<String>) -> Self {
        Self { title: title.into(), head: Vec::new(), columns: Vec::new(), rows: Vec::new(), notes: Vec::new() }
    }

    /// Adds a line under the title: the basis, the method, the date.
    ///
    /// ```
    /// assert_eq!(beadchem::table::Table::new("Total").head("basis: ignited").to_string(), "Total\nbasis: ignited");
    /// ```
    #[must_use]
    pub fn head(mut self, line: impl Into<String>) -> Self {
        self.head.push(line.into());
        self
    }

    /// Adds a column at the right.
    ///
    /// ```
    /// use beadchem::table::{Column, Table};
    /// assert_eq!(Table::new("").column(Column::text("a")).column(Column::text("b")).to_csv(), "a,b,remarks\r\n");
    /// ```
    #[must_use]
    pub fn column(mut self, column: Column) -> Self {
        self.columns.push(column);
        self
    }

    /// Adds a row, one cell for each column. A short row is filled with empty cells; cells beyond the last column get
    /// columns without a heading, so that nothing is dropped.
    ///
    /// ```
    /// use beadchem::table::{Cell, Column, Table};
    /// let table = Table::new("").column(Column::text("a")).row([]).row([Cell::text("1"), Cell::text("2")]);
    /// assert_eq!(table.to_csv(), "a,,remarks\r\n,,\r\n1,2,\r\n");
    /// ```
    #[must_use]
    pub fn row(mut self, cells: impl IntoIterator<Item = Cell>) -> Self {
        self.rows.push(cells.into_iter().collect());
        self
    }

    /// Adds many rows.
    ///
    /// ```
    /// use beadchem::table::{Cell, Column, Table};
    /// let table = Table::new("").column(Column::text("n")).rows(["one", "two"].map(|word| [Cell::text(word)]));
    /// assert_eq!(table.to_csv(), "n,remarks\r\none,\r\ntwo,\r\n");
    /// ```
    #[must_use]
    pub fn rows<R: IntoIterator<Item = Cell>>(mut self, rows: impl IntoIterator<Item = R>) -> Self {
        self.rows.extend(rows.into_iter().map(|row| row.into_iter().collect()));
        self
    }

    /// Adds a line below: what is not included, what was assumed.
    ///
    /// ```
    /// assert!(beadchem::table::Table::new("").note("not included: sampling").to_string().ends_with("sampling"));
    /// ```
    #[must_use]
    pub fn note(mut self, line: impl Into<String>) -> Self {
        self.notes.push(line.into());
        self
    }
}

impl core::fmt::Display for Table {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        f.write_str(&self.to_text(f.width().unwrap_or(TEXT_WIDTH)))
    }
}
