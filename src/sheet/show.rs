//! Layouts, sheets, totals and joins as tables for people.

use super::column::{Column, Kind, Spread};
use super::join::Joined;
use super::layout::Layout;
use super::totals::{Outcome, Totals};
use super::whole::{Reading, Sheet, SheetCell};
use super::words::ThousandsMark;
use crate::composition::{self, Unit, below_text};
use crate::table::{Cell, Column as Heading, Table};
use crate::uncertainty::Estimate;

/// Decimals of a total in %.
const TOTAL_DECIMALS: u8 = 3;
/// Digits of a number without known decimals.
const DIGITS: u8 = 6;

impl Layout {
    /// The layout as a table.
    ///
    /// ```
    /// use beadchem::sheet::{Column, DecimalMark, Layout};
    /// let layout = Layout::new("Bead", DecimalMark::Comma).column(Column::text("operator"));
    /// assert!(layout.table().to_string().contains("an empty cell is unknown"));
    /// ```
    #[must_use]
    pub fn table(&self) -> Table {
        let thousands = self.marks.thousands.map_or("none", ThousandsMark::word);
        let units = self.units_in.map_or(String::new(), |line| format!(", units in line {line}"));
        let words = |list: &[String]| if list.is_empty() { "none".to_owned() } else { list.join(", ") };
        let rows = self.columns.iter().map(|column| {
            let spread = match &column.spread {
                Spread::Unstated => "not stated".to_owned(),
                Spread::Stated(u) => u.to_string(),
                Spread::Column(header) => format!("column {header}"),
            };
            let basis = column.basis().map_or(String::new(), |basis| basis.to_string());
            let (name, header, unit) =
                (column.name.as_str(), column.header.as_str(), column.unit().unwrap_or_default());
            [name, header, column.kind_word(), unit, &basis, &spread].map(Cell::text)
        });
        let titles = ["name", "header", "holds", "unit", "basis", "u"].map(Heading::text);
        let table = Table::new("Layout of a table")
            .head(format!("decimal mark {}, thousands mark {thousands}", self.marks.decimal.word()))
            .head(format!("fields parted by {}", self.delimiter.word()))
            .head(format!("{} header lines: names in line {}{units}", self.header_lines, self.names_in))
            .head(format!("bead id: {}", self.id))
            .rows(rows)
            .note(format!(
                "Absent: {}. Unknown: {}; an empty cell is unknown.",
                words(&self.absent),
                words(&self.unknown)
            ));
        titles.into_iter().fold(table, Table::column)
    }
}

impl Sheet {
    /// All rows as a table: contents in their declared units, masses in g, and the trouble of each row.
    ///
    /// ```
    /// use beadchem::sheet::{Column, DecimalMark, Layout, MassUnit, Sheet};
    /// let layout = Layout::new("Bead", DecimalMark::Point).column(Column::mass("Flux mass", "m2", MassUnit::Gram));
    /// let shown = Sheet::read_csv("Bead,m2\nB-1,8.0021\nB-2,\n", &layout)?.table().to_string();
    /// assert!(shown.contains("8.0021") && shown.contains("missing in row 3"));
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn table(&self) -> Table {
        let rows = self.rows.iter().map(|row| {
            let cells = self.columns.iter().zip(&row.cells).map(|(column, cell)| shown(column, cell));
            let trouble: Vec<String> = row.trouble.iter().map(ToString::to_string).collect();
            let id = row.id.as_deref().unwrap_or_default();
            [Cell::text(id), Cell::text(row.line.to_string())]
                .into_iter()
                .chain(cells)
                .chain([Cell::text(trouble.join(" "))])
        });
        let mut bases: Vec<String> = Vec::new();
        for basis in self.columns.iter().filter_map(Column::basis).map(|basis| basis.to_string()) {
            if !bases.contains(&basis) {
                bases.push(basis);
            }
        }
        let mut table = Table::new("Table as read").head(format!(
            "{} rows, {} with trouble",
            self.rows.len(),
            self.rejects().count()
        ));
        if !bases.is_empty() {
            table = table.head(format!("basis: {}", bases.join(", ")));
        }
        table = table.column(Heading::text("bead")).column(Heading::text("row"));
        table = self.columns.iter().map(heading).fold(table, Table::column).column(Heading::text("trouble")).rows(rows);
        self.findings.iter().fold(table, |table, finding| table.note(finding.to_string()))
    }
}

fn heading(column: &Column) -> Heading {
    let unit = match column.kind {
        Kind::Content { .. } => column.unit().unwrap_or_default(),
        Kind::Mass(_) => "g",
        Kind::Number => "",
        Kind::Text | Kind::Time => return Heading::text(column.name.as_str()),
    };
    let heading = Heading::number(column.name.as_str(), unit);
    if matches!(column.spread, Spread::Unstated) { heading } else { heading.with_uncertainty("u") }
}

fn shown(column: &Column, cell: &SheetCell) -> Cell {
    let unit = match column.kind {
        Kind::Content { unit, .. } => unit.unwrap_or(Unit::Fraction),
        _ => Unit::Fraction,
    };
    let number = |estimate: &Estimate| {
        let value = unit.written(estimate.value());
        match (estimate.u(), cell.decimals.and_then(|decimals| u8::try_from(decimals).ok())) {
            (Some(u), _) => Cell::measured(value, unit.written(u)),
            // a mass read in mg has its decimals in mg
            (None, Some(decimals)) if column.unit() != Some("mg") => Cell::number(value, decimals),
            (None, _) => Cell::significant(value, DIGITS),
        }
    };
    match &cell.reading {
        Reading::Content(composition::Cell::Value(value)) => number(value),
        Reading::Content(composition::Cell::Below { limit }) => Cell::missing(below_text(unit.written(*limit))),
        Reading::Content(other) => Cell::missing(other.word()),
        Reading::Mass(value) | Reading::Number(value) => number(value),
        Reading::Text(text) | Reading::Time(text) => Cell::text(text.as_str()),
        Reading::Absent => Cell::missing("absent"),
        Reading::Unknown => Cell::missing("unknown"),
        Reading::Refused => Cell::missing("not readable"),
    }
}

impl Totals {
    /// The totals in a unit, each with what is not in it.
    ///
    /// ```
    /// use beadchem::composition::{Basis, Unit};
    /// use beadchem::sheet::{Column, DecimalMark, Layout, Sheet};
    /// let column = Column::content("CaO", "CaO", Unit::Percent, Basis::Dried);
    /// let sheet = Sheet::read_csv("Bead,CaO\nB-1,55.0\n", &Layout::new("Bead", DecimalMark::Point).column(column))?;
    /// assert!(sheet.totals(&["CaO"])?.table(Unit::Percent).to_string().contains("55.000"));
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn table(&self, unit: Unit) -> Table {
        let rows = self.rows.iter().map(|row| {
            let (total, remark) = match &row.outcome {
                Outcome::Totalled(total) => {
                    let (value, left_out) = (unit.written(total.value), total.not_counted.join(", "));
                    let total = match unit {
                        Unit::Percent => Cell::number(value, TOTAL_DECIMALS),
                        _ => Cell::significant(value, DIGITS),
                    };
                    (total, if left_out.is_empty() { left_out } else { format!("not counted: {left_out}") })
                }
                Outcome::MajorMissing(majors) => {
                    (Cell::missing("not totalled"), format!("unknown: {}", majors.join(", ")))
                }
                Outcome::Refused(error) => (Cell::missing("not totalled"), error.to_string()),
            };
            let id = row.id.as_deref().unwrap_or_default();
            [Cell::text(id), Cell::text(row.line.to_string()), total, Cell::text(remark)]
        });
        let table = Table::new("Totals")
            .head(format!(
                "rows totalled: {}, without a major: {}, with trouble: {}",
                self.totalled, self.major_missing, self.refused
            ))
            .column(Heading::text("bead"))
            .column(Heading::text("row"))
            .column(Heading::number("total", unit.word()))
            .column(Heading::text("remark"))
            .rows(rows);
        self.findings.iter().fold(table, |table, finding| table.note(finding.to_string()))
    }
}

impl Joined {
    /// Every id with its rows in both files and what became of it.
    ///
    /// ```
    /// use beadchem::sheet::{DecimalMark, Layout, Sheet, join};
    /// let sheet = Sheet::read_csv("Bead\nB-1\n", &Layout::new("Bead", DecimalMark::Point))?;
    /// assert!(join(&sheet, &sheet).table().to_string().contains("paired"));
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn table(&self) -> Table {
        let lines = |list: &[usize]| Cell::text(list.iter().map(ToString::to_string).collect::<Vec<_>>().join(", "));
        let rows = self.listing.iter().map(|listed| {
            let id = listed.id.as_deref().unwrap_or_default();
            [Cell::text(id), lines(&listed.left), lines(&listed.right), Cell::text(listed.outcome)]
        });
        let table = Table::new("Tables joined by bead id")
            .head(format!(
                "pairs: {}, rows only left: {}, only right: {}, doubled ids: {}",
                self.pairs.len(),
                self.only_left.len(),
                self.only_right.len(),
                self.doubled.len()
            ))
            .column(Heading::text("bead"))
            .column(Heading::text("left row"))
            .column(Heading::text("right row"))
            .column(Heading::text("outcome"))
            .rows(rows);
        self.findings.iter().fold(table, |table, finding| table.note(finding.to_string()))
    }
}
