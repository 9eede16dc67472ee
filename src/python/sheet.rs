//! Tables of other instruments: layouts, sheets, joins.

use std::path::PathBuf;
use std::sync::Arc;

use pyo3::exceptions::PyOSError;
use pyo3::prelude::*;

use crate::code::Code;
use crate::composition::{Basis, Cell, Unit};
use crate::document;
use crate::error::{Error, Result};
use crate::python::composition::{PyBelow, PyComposition};
use crate::python::convert::{PyFinding, count, findings};
use crate::python::substance::{PyWeights, weights_or_default};
use crate::python::uncertainty::PyValue;
use crate::sheet::{
    self, Column, DecimalMark, Delimiter, Joined, Layout, MassUnit, Outcome, Reading, Sheet, SheetRow, ThousandsMark,
    Totals,
};

/// One column to be read from a table. Make one with `content`, `mass`, `number`, `text` or `time`.
#[pyclass(name = "Column", module = "beadchem", frozen, eq, from_py_object)]
#[derive(Clone, PartialEq)]
pub(super) struct PyColumn(Column);

/// With the uncertainty as a number or from a column of its own.
fn with_spread(column: Column, u: Option<f64>, u_header: Option<&str>) -> Result<PyColumn> {
    Ok(PyColumn(match (u, u_header) {
        (None, None) => column,
        (Some(u), None) => column.with_u(u),
        (None, Some(header)) => column.with_u_column(header),
        (Some(_), Some(header)) => {
            return Err(Error::Conflict {
                code: Code::TableLayout,
                detail: format!("Column {} has u and u_header={header:?}.", column.header()),
                hint: "Keep one.".to_owned(),
            });
        }
    }))
}

#[pymethods]
impl PyColumn {
    /// Mass fractions of a species in one unit ("%", "g/g", "g/kg", "mg/kg") on one basis ("dried", "bead", ...). `form`
    /// declares a species whose atoms are in no other column of the same element (FeO beside Fe2O3).
    #[staticmethod]
    #[pyo3(signature = (species, *, header=None, unit=None, basis=None, u=None, u_header=None, form=false))]
    fn content(
        species: &str,
        header: Option<&str>,
        unit: Option<&str>,
        basis: Option<&str>,
        u: Option<f64>,
        u_header: Option<&str>,
        form: bool,
    ) -> Result<Self> {
        let (unit, basis) = (unit.map(Unit::from_word).transpose()?, basis.map(Basis::parse).transpose()?);
        let column = Column::undeclared(species, header.unwrap_or(species), unit, basis);
        with_spread(if form { column.as_form() } else { column }, u, u_header)
    }
    /// Masses in "g" or "mg"; inside they are grams.
    #[staticmethod]
    #[pyo3(signature = (name, *, header=None, unit, u=None, u_header=None))]
    fn mass(name: &str, header: Option<&str>, unit: &str, u: Option<f64>, u_header: Option<&str>) -> Result<Self> {
        with_spread(Column::mass(name, header.unwrap_or(name), MassUnit::from_word(unit)?), u, u_header)
    }
    /// Other numbers, as they stand.
    #[staticmethod]
    #[pyo3(signature = (name, *, header=None, u=None, u_header=None))]
    fn number(name: &str, header: Option<&str>, u: Option<f64>, u_header: Option<&str>) -> Result<Self> {
        with_spread(Column::number(name, header.unwrap_or(name)), u, u_header)
    }
    /// Words.
    #[staticmethod]
    fn text(header: &str) -> Self {
        Self(Column::text(header))
    }
    /// Times as ISO 8601 writes them; a row earlier than the one before it is trouble.
    #[staticmethod]
    fn time(header: &str) -> Self {
        Self(Column::time(header))
    }
    /// What it is called here.
    #[getter]
    fn name(&self) -> &str {
        self.0.name()
    }
    /// Its header in the file.
    #[getter]
    fn header(&self) -> &str {
        self.0.header()
    }
    /// Its unit, where it has one.
    #[getter]
    fn unit(&self) -> Option<&'static str> {
        self.0.unit()
    }
    /// The basis of its contents, where declared.
    #[getter]
    fn basis(&self) -> Option<String> {
        self.0.basis().map(|basis| basis.to_string())
    }
    fn __repr__(&self) -> String {
        format!("<Column {} under {:?}>", self.0.name(), self.0.header())
    }
}

/// How a table is written. An empty cell is unknown.
///
/// Parameters
/// ----------
/// columns : list of Column
///     What is read; other columns are named in a note.
/// id : str
///     Header of the column of bead ids.
/// decimal : str
///     "point" or "comma".
/// thousands : str, optional
///     "point", "comma", "blank" or "apostrophe"; none by default.
/// delimiter : str
///     "comma", "semicolon", "tab" or "bar"; workbooks have none.
/// header_lines, names_in : int
///     Lines before the first row, and which of them holds the names, counted from 1.
/// units_in : int, optional
///     Which header line holds units, to be held against the declared ones.
/// absent, unknown : list of str
///     Words that stand for "known not to be there" and for "not looked for, or lost".
#[pyclass(name = "Layout", module = "beadchem", frozen, eq)]
#[derive(Clone, PartialEq)]
pub(super) struct PyLayout(Layout);

#[pymethods]
impl PyLayout {
    #[new]
    #[pyo3(signature = (columns, *, id, decimal, thousands=None, delimiter="comma", header_lines=1, names_in=1,
                        units_in=None, absent=Vec::new(), unknown=Vec::new()))]
    #[expect(clippy::too_many_arguments, reason = "keyword-only in Python")]
    fn new(
        columns: Vec<PyColumn>,
        id: &str,
        decimal: &str,
        thousands: Option<&str>,
        delimiter: &str,
        header_lines: i64,
        names_in: i64,
        units_in: Option<i64>,
        absent: Vec<String>,
        unknown: Vec<String>,
    ) -> Result<Self> {
        let mut layout = Layout::new(id, DecimalMark::from_word(decimal)?)
            .delimiter(Delimiter::from_word(delimiter)?)
            .header_lines(count("Number of header lines", header_lines)?)
            .names_in(count("Line of the names", names_in)?);
        if let Some(mark) = thousands {
            layout = layout.thousands(ThousandsMark::from_word(mark)?);
        }
        if let Some(line) = units_in {
            layout = layout.units_in(count("Line of the units", line)?);
        }
        layout = absent.iter().fold(layout, |layout, word| layout.absent(word));
        layout = unknown.iter().fold(layout, |layout, word| layout.unknown(word));
        layout = columns.into_iter().fold(layout, |layout, column| layout.column(column.0));
        layout.check()?;
        Ok(Self(layout))
    }
    /// The columns, in the order declared.
    #[getter]
    fn columns(&self) -> Vec<PyColumn> {
        self.0.columns().iter().cloned().map(PyColumn).collect()
    }
    /// The stored form.
    fn to_json(&self) -> Result<String> {
        document::to_json(&self.0)
    }
    /// Reads the stored form.
    #[staticmethod]
    fn from_json(text: &str) -> Result<Self> {
        document::from_json(text).map(Self)
    }
    /// SHA-256 of the canonical stored form.
    #[getter]
    fn digest(&self) -> Result<String> {
        document::digest(&self.0)
    }
    fn __repr__(&self) -> String {
        self.0.table().to_string()
    }
    fn _repr_html_(&self) -> String {
        self.0.table().to_html()
    }
}

/// One row of a table.
#[pyclass(name = "SheetRow", module = "beadchem", frozen)]
pub(super) struct PySheetRow {
    row: SheetRow,
    columns: Arc<[Column]>,
}

impl PySheetRow {
    fn all<'a>(sheet: &Sheet, rows: impl Iterator<Item = &'a SheetRow>) -> Vec<Self> {
        let columns: Arc<[Column]> = sheet.columns().into();
        rows.map(|row| Self { row: row.clone(), columns: Arc::clone(&columns) }).collect()
    }

    fn place(&self, name: &str) -> Result<usize> {
        let names: Vec<&str> = self.columns.iter().map(Column::name).collect();
        names.iter().position(|held| *held == name).ok_or_else(|| Error::word("Column", name, &names))
    }
}

#[pymethods]
impl PySheetRow {
    /// Its line in the file, counted from 1.
    #[getter]
    fn line(&self) -> usize {
        self.row.line
    }
    /// The bead id, or None.
    #[getter]
    fn id(&self) -> Option<&str> {
        self.row.id.as_deref()
    }
    /// Its fields as they stand in the file.
    #[getter]
    fn fields(&self) -> Vec<String> {
        self.row.fields.clone()
    }
    /// Why it is not used; empty for a sound row.
    #[getter]
    fn trouble(&self, py: Python<'_>) -> Vec<Py<PyAny>> {
        self.row.trouble.iter().map(|error| PyErr::from(error.clone()).into_value(py).into_any()).collect()
    }
    /// A cell by the name of its column: a `Value` (contents in the column's unit, masses in g), `Below`, the text of a
    /// word or a time, "absent" or "unknown"; None for a cell that could not be read.
    fn get(&self, py: Python<'_>, name: &str) -> PyResult<Py<PyAny>> {
        let place = self.place(name)?;
        let unit = self.columns[place].unit().and_then(|word| Unit::from_word(word).ok()).unwrap_or(Unit::Fraction);
        let word = |word: &str| -> PyResult<Py<PyAny>> { Ok(word.into_pyobject(py)?.into_any().unbind()) };
        match &self.row.cells[place].reading {
            Reading::Content(Cell::Value(value)) => Ok(Py::new(py, PyValue(unit.written_of(value)))?.into_any()),
            Reading::Content(Cell::Below { limit }) => Ok(Py::new(py, PyBelow::at(unit.written(*limit)))?.into_any()),
            Reading::Content(other) => word(other.word()),
            Reading::Mass(number) | Reading::Number(number) => Ok(Py::new(py, PyValue(number.clone()))?.into_any()),
            Reading::Text(text) | Reading::Time(text) => word(text),
            Reading::Absent => word("absent"),
            Reading::Unknown => word("unknown"),
            Reading::Refused => Ok(py.None()),
        }
    }
    /// Decimals of a cell as written, or None.
    fn decimals(&self, name: &str) -> Result<Option<i32>> {
        Ok(self.row.cells[self.place(name)?].decimals)
    }
    fn __repr__(&self) -> String {
        format!(
            "<SheetRow {} {}, trouble: {}>",
            self.row.line,
            self.row.id.as_deref().unwrap_or("without id"),
            self.row.trouble.len()
        )
    }
}

/// A table as read: every row of the file, and what is to be said of it.
#[pyclass(name = "Sheet", module = "beadchem", frozen)]
#[derive(Clone)]
pub(super) struct PySheet(Sheet);

#[pymethods]
impl PySheet {
    /// The columns, in the order declared.
    #[getter]
    fn columns(&self) -> Vec<PyColumn> {
        self.0.columns().iter().cloned().map(PyColumn).collect()
    }
    /// All rows, in the order of the file.
    #[getter]
    fn rows(&self) -> Vec<PySheetRow> {
        PySheetRow::all(&self.0, self.0.rows().iter())
    }
    /// The rows with trouble; they are not used.
    #[getter]
    fn rejects(&self) -> Vec<PySheetRow> {
        PySheetRow::all(&self.0, self.0.rejects())
    }
    /// What a reader of the table must know.
    #[getter]
    fn findings(&self) -> Vec<PyFinding> {
        findings(self.0.findings())
    }
    fn __len__(&self) -> usize {
        self.0.rows().len()
    }
    /// The contents of a row, counted from 0; refused for a row with trouble.
    fn composition(&self, row: usize) -> Result<PyComposition> {
        self.0.composition(row).map(PyComposition)
    }
    /// The total of each row in which every one of the majors is known.
    #[pyo3(signature = (*, majors))]
    fn totals(&self, majors: Vec<String>) -> Result<PyTotals> {
        let majors: Vec<&str> = majors.iter().map(String::as_str).collect();
        self.0.totals(&majors).map(PyTotals)
    }
    /// The same with one column of contents written as another species that shares an element.
    #[pyo3(signature = (species, target, *, weights=None))]
    fn written_as(&self, species: &str, target: &str, weights: Option<&Bound<'_, PyWeights>>) -> Result<Self> {
        self.0.written_as(species, target, &weights_or_default(weights)).map(Self)
    }
    /// The numbers of a column, one for each row; None where there is none or the row has trouble. Contents are in
    /// `unit`, masses in g.
    #[pyo3(signature = (name, *, unit="%"))]
    fn values(&self, name: &str, unit: &str) -> Result<Vec<Option<f64>>> {
        self.0.values(name, Unit::from_word(unit)?)
    }
    fn __repr__(&self) -> String {
        self.0.table().to_string()
    }
    fn _repr_html_(&self) -> String {
        self.0.table().to_html()
    }
    /// All rows as CSV: contents in their units, masses in g.
    fn to_csv(&self) -> String {
        self.0.table().to_csv()
    }
}

/// The totals of a table, one for each row, and how many rows have one.
#[pyclass(name = "Totals", module = "beadchem", frozen)]
pub(super) struct PyTotals(Totals);

#[pymethods]
impl PyTotals {
    /// The totals in a unit, one for each row; None where there is none.
    #[pyo3(signature = (*, unit="%"))]
    fn values(&self, unit: &str) -> Result<Vec<Option<f64>>> {
        let unit = Unit::from_word(unit)?;
        let value = |outcome: &Outcome| match outcome {
            Outcome::Totalled(total) => Some(unit.written(total.value)),
            _ => None,
        };
        Ok(self.0.rows.iter().map(|row| value(&row.outcome)).collect())
    }
    /// The species of each row that are below a limit or unknown and not in its total.
    #[getter]
    fn not_counted(&self) -> Vec<Vec<String>> {
        let left_out = |outcome: &Outcome| match outcome {
            Outcome::Totalled(total) => total.not_counted.clone(),
            Outcome::MajorMissing(majors) => majors.clone(),
            Outcome::Refused(_) => Vec::new(),
        };
        self.0.rows.iter().map(|row| left_out(&row.outcome)).collect()
    }
    /// How many rows have a total.
    #[getter]
    fn totalled(&self) -> usize {
        self.0.totalled
    }
    /// How many rows lack a major.
    #[getter]
    fn major_missing(&self) -> usize {
        self.0.major_missing
    }
    /// How many rows have trouble.
    #[getter]
    fn refused(&self) -> usize {
        self.0.refused
    }
    /// Which rows lack a major.
    #[getter]
    fn findings(&self) -> Vec<PyFinding> {
        findings(&self.0.findings)
    }
    fn __repr__(&self) -> String {
        self.0.table(Unit::Percent).to_string()
    }
    fn _repr_html_(&self) -> String {
        self.0.table(Unit::Percent).to_html()
    }
    /// The totals as CSV, in %.
    fn to_csv(&self) -> String {
        self.0.table(Unit::Percent).to_csv()
    }
}

/// Which rows of two tables belong together; rows are counted from 0.
#[pyclass(name = "Joined", module = "beadchem", frozen)]
pub(super) struct PyJoined(Joined);

#[pymethods]
impl PyJoined {
    /// Rows (left, right) with one id that stands once in each table.
    #[getter]
    fn pairs(&self) -> Vec<(usize, usize)> {
        self.0.pairs.clone()
    }
    /// Rows of the left table whose id is not in the right one.
    #[getter]
    fn only_left(&self) -> Vec<usize> {
        self.0.only_left.clone()
    }
    /// Rows of the right table whose id is not in the left one.
    #[getter]
    fn only_right(&self) -> Vec<usize> {
        self.0.only_right.clone()
    }
    /// Ids that stand several times, with their rows in the left and in the right table; none is paired.
    #[getter]
    fn doubled(&self) -> Vec<(String, Vec<usize>, Vec<usize>)> {
        self.0.doubled.iter().map(|one| (one.id.clone(), one.left.clone(), one.right.clone())).collect()
    }
    /// Every id that was not paired, and why.
    #[getter]
    fn findings(&self) -> Vec<PyFinding> {
        findings(&self.0.findings)
    }
    fn __repr__(&self) -> String {
        self.0.table().to_string()
    }
    fn _repr_html_(&self) -> String {
        self.0.table().to_html()
    }
    /// Every id with its lines in both files, as CSV.
    fn to_csv(&self) -> String {
        self.0.table().to_csv()
    }
}

/// Reads a table by its layout.
///
/// Parameters
/// ----------
/// source : str, path or bytes
///     A file ending in .csv or .xlsx, or the bytes of one.
/// layout : Layout
///     How it is written.
/// kind : str, optional
///     "csv" or "xlsx": needed for bytes and for other endings.
/// sheet : str, optional
///     Which sheet of a workbook that has several.
#[pyfunction]
#[pyo3(signature = (source, layout, *, kind=None, sheet=None))]
pub(super) fn read_table(
    source: &Bound<'_, PyAny>,
    layout: &PyLayout,
    kind: Option<&str>,
    sheet: Option<&str>,
) -> PyResult<PySheet> {
    let (bytes, ending) = match source.extract::<Vec<u8>>() {
        Ok(bytes) => (bytes, String::new()),
        Err(_) => {
            let path: PathBuf = source.extract()?;
            let ending = path.extension().map(|ending| ending.to_string_lossy().to_lowercase()).unwrap_or_default();
            // with its name, and as the subclass that Python takes from the number
            let read = std::fs::read(&path)
                .map_err(|why| PyOSError::new_err((why.raw_os_error(), why.to_string(), path.clone())))?;
            (read, ending)
        }
    };
    let read = match (kind.unwrap_or(&ending), sheet) {
        ("csv", None) => Sheet::read_csv(bytes, &layout.0),
        ("xlsx", name) => Sheet::read_xlsx(bytes, name, &layout.0),
        ("csv", Some(name)) => Err(Error::Conflict {
            code: Code::TableLayout,
            detail: format!("The sheet {name:?} is asked for in a text file, which has none."),
            hint: "Leave sheet out.".to_owned(),
        }),
        (other, _) => Err(Error::word("Kind of table", other, &["csv", "xlsx"])),
    };
    Ok(PySheet(read?))
}

/// Pairs the rows of two tables by bead id, the same characters and nothing less.
#[pyfunction]
pub(super) fn join_by_id(left: &PySheet, right: &PySheet) -> PyJoined {
    PyJoined(sheet::join(&left.0, &right.0))
}
