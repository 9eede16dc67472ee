//! Two tables of results held against each other.

use arrow_array::RecordBatch;
use pyo3::prelude::*;
use pyo3::pybacked::PyBackedStr;
use pyo3::types::PyDict;

use super::arrays::{self, Held};
use super::columns::{PyArrowColumns, PyCorrectedArrays};
use super::convert::Entries;
use super::foreign;
use super::plain::{Plain, with_columns};
use crate::batch::arrow::compared::record;
use crate::batch::arrow::whole::Whole;
use crate::batch::arrow::{compared_batch, write};
use crate::batch::{Columns, Compared, Comparison, Difference, SpecificationLimit};
use crate::error::Result;

/// How a result differs between two tables.
#[pyclass(name = "Difference", module = "beadchem", frozen)]
pub(super) struct PyDifference(Difference);

#[pymethods]
impl PyDifference {
    /// The column.
    #[getter]
    fn column(&self) -> &str {
        &self.0.column
    }
    /// Rows with a number in both tables.
    #[getter]
    fn compared(&self) -> usize {
        self.0.compared
    }
    /// Of those, rows that moved by more than the tolerance.
    #[getter]
    fn moved(&self) -> usize {
        self.0.moved
    }
    /// The largest change, new less old.
    #[getter]
    fn largest(&self) -> f64 {
        self.0.largest
    }
    /// The row of the comparison it stands in, or None.
    #[getter]
    fn largest_row(&self) -> Option<u64> {
        self.0.largest_row
    }
    /// The same change in units of the old u, or None.
    #[getter]
    fn largest_per_u(&self) -> Option<f64> {
        self.0.largest_per_u
    }
    /// Rows with a number in the new table only.
    #[getter]
    fn appeared(&self) -> usize {
        self.0.appeared
    }
    /// Rows with a number in the old table only.
    #[getter]
    fn gone(&self) -> usize {
        self.0.gone
    }
    /// Rows on the other side of a limit than before.
    #[getter]
    fn crossed(&self) -> usize {
        self.0.crossed
    }
    /// Inputs that differ in rows that moved, with the number of those rows.
    #[getter]
    fn with_inputs(&self) -> Vec<(String, usize)> {
        self.0.with_inputs.clone()
    }
    /// Versions that differ, with the number of rows that moved and can have moved with them.
    #[getter]
    fn with_versions(&self) -> Vec<(String, usize)> {
        self.0.with_versions.clone()
    }
    /// Rows that moved though nothing is known to differ.
    #[getter]
    fn unexplained(&self) -> usize {
        self.0.unexplained
    }
    fn __repr__(&self) -> String {
        format!("<Difference {}: {} of {} moved>", self.0.column, self.0.moved, self.0.compared)
    }
}

/// One of the two tables.
enum Side<'py> {
    Arrays(Vec<(String, Held<'py>)>),
    Batches(Vec<RecordBatch>),
}

/// What of it needs no interpreter.
enum Lent<'a> {
    Arrays(Vec<(&'a str, Plain<'a, PyBackedStr>)>),
    Batches(&'a [RecordBatch]),
}

impl<'py> Side<'py> {
    fn read(table: &Bound<'py, PyAny>, ids: &str) -> PyResult<Self> {
        if let Ok(columns) = table.cast::<PyDict>() {
            return Ok(Side::Arrays(arrays::read_all(columns, ids)?));
        }
        let reader = foreign::read(table)?;
        let schema = reader.schema();
        let mut batches = reader.collect::<core::result::Result<Vec<_>, _>>().map_err(|why| foreign::broken(&why))?;
        if batches.is_empty() {
            batches.push(RecordBatch::new_empty(schema));
        }
        Ok(Side::Batches(batches))
    }

    fn record(&self) -> Option<&str> {
        match self {
            Side::Arrays(_) => None,
            Side::Batches(batches) => record(batches),
        }
    }

    fn lend(&self) -> PyResult<Lent<'_>> {
        Ok(match self {
            Side::Arrays(held) => Lent::Arrays(arrays::lend(held)?),
            Side::Batches(batches) => Lent::Batches(batches),
        })
    }
}

impl Lent<'_> {
    fn run<R>(&self, ids: &str, run: impl FnOnce(&Columns<'_>) -> Result<R>) -> Result<R> {
        match self {
            Lent::Arrays(list) => with_columns(list, false, Some(ids), run),
            Lent::Batches(batches) => run(&Whole::read(batches, ids)?.columns()?),
        }
    }
}

/// Two tables of results held against each other: `compare` makes it.
#[pyclass(name = "Comparison", module = "beadchem", frozen)]
pub(super) struct PyComparison(Compared);

#[pymethods]
impl PyComparison {
    #[new]
    #[pyo3(signature = (old, new, *, by=None, results=None, tolerance=0.0, limits=Entries::default(), records=(None, None)))]
    #[expect(clippy::too_many_arguments, reason = "keywords of the constructor")]
    fn new(
        py: Python<'_>,
        old: &Bound<'_, PyAny>,
        new: &Bound<'_, PyAny>,
        by: Option<&str>,
        results: Option<Vec<PyBackedStr>>,
        tolerance: f64,
        limits: Entries<String, (Option<f64>, Option<f64>)>,
        records: (Option<String>, Option<String>),
    ) -> PyResult<Self> {
        let mut comparison = Comparison::new().tolerance(tolerance)?;
        if let Some(column) = by {
            comparison = comparison.by(column);
        }
        if let Some(names) = results {
            comparison = comparison.results(&names.iter().map(AsRef::as_ref).collect::<Vec<_>>());
        }
        for (species, (low, high)) in limits.0 {
            comparison = comparison.limit(SpecificationLimit { species, low, high });
        }
        let [old, new] = [Side::read(old, comparison.ids())?, Side::read(new, comparison.ids())?];
        let stated = [records.0.as_deref().or(old.record()), records.1.as_deref().or(new.record())];
        let comparison = comparison.records(stated)?;
        let [old, new] = [old.lend()?, new.lend()?];
        let ids = comparison.ids();
        let compared = py.detach(|| old.run(ids, |old| new.run(ids, |new| comparison.run(old, new))))?;
        Ok(Self(compared))
    }
    /// The rows: ids, `moved`, `moved_with`, for each result old, new, change and change per u, `finding`, `reason`.
    #[getter]
    fn table(&self) -> PyResult<PyArrowColumns> {
        Ok(PyArrowColumns::of(vec![compared_batch(&self.0)?]))
    }
    /// One row per finding: limits crossed, rows that only one table has.
    #[getter]
    fn findings(&self) -> PyResult<PyArrowColumns> {
        Ok(PyArrowColumns::of(vec![write::findings(self.0.numbers().findings())?]))
    }
    /// The numbers as arrays, and what was found.
    fn arrays(&self, py: Python<'_>) -> PyResult<PyCorrectedArrays> {
        PyCorrectedArrays::of(py, self.0.numbers().clone())
    }
    /// The column rows were joined by; None where they were taken in their order.
    #[getter]
    fn joined_by(&self) -> Option<&str> {
        self.0.joined_by()
    }
    /// For each row its place in the old and in the new table, or None.
    #[getter]
    fn rows(&self) -> Vec<(Option<usize>, Option<usize>)> {
        self.0.rows().iter().map(|[old, new]| (*old, *new)).collect()
    }
    /// The rows that only one table has, or that could not be joined.
    #[getter]
    fn unpaired(&self) -> Vec<usize> {
        self.0.unpaired().collect()
    }
    /// For each row its id, or None.
    #[getter]
    fn ids(&self) -> Vec<Option<&str>> {
        (0..self.0.rows().len()).map(|row| self.0.id(row)).collect()
    }
    /// For each row the results that moved, came or went, as one text, or None.
    #[getter]
    fn moved(&self) -> Vec<Option<&str>> {
        (0..self.0.rows().len()).map(|row| self.0.moved(row)).collect()
    }
    /// For each of these rows the inputs and versions that differ, as one text, or None.
    #[getter]
    fn moved_with(&self) -> Vec<Option<&str>> {
        (0..self.0.rows().len()).map(|row| self.0.moved_with(row)).collect()
    }
    /// One entry for each result.
    #[getter]
    fn differences(&self) -> Vec<PyDifference> {
        self.0.differences().iter().cloned().map(PyDifference).collect()
    }
    /// What the results rest on in other versions, as (what, old, new); None where it is not known of both tables.
    #[getter]
    fn versions(&self) -> Option<Vec<(&str, &str, &str)>> {
        let versions = self.0.versions()?;
        Some(versions.iter().map(|one| (one.what.as_str(), one.old.as_str(), one.new.as_str())).collect())
    }
    /// Rows on the other side of a limit than before, as (row, id or None, sentence).
    #[getter]
    fn crossings(&self) -> Vec<(u64, Option<&str>, &str)> {
        let id = |row: u64| usize::try_from(row).ok().and_then(|row| self.0.id(row));
        self.0.crossings().map(|(row, text)| (row, id(row), text)).collect()
    }
    /// Columns that only the old table has.
    #[getter]
    fn columns_only_old(&self) -> Vec<String> {
        self.0.columns_in_one()[0].clone()
    }
    /// Columns that only the new table has.
    #[getter]
    fn columns_only_new(&self) -> Vec<String> {
        self.0.columns_in_one()[1].clone()
    }
    /// Whether both have the same rows and results, within the tolerance.
    #[getter]
    fn is_same(&self) -> bool {
        self.0.is_same()
    }
    fn __repr__(&self) -> String {
        self.0.table().to_string()
    }
    fn _repr_html_(&self) -> String {
        self.0.table().to_html()
    }
    /// The list of differences as CSV.
    fn to_csv(&self) -> String {
        self.0.table().to_csv()
    }
}
