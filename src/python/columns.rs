//! Tables of columns: Arrow streams and dicts of arrays, in and out.

use arrow_array::RecordBatch;
use arrow_schema::{Schema, SchemaRef};
use numpy::ndarray::Array2;
use numpy::{PyArray1, PyArray2, PyArrayMethods};
use pyo3::prelude::*;
use pyo3::types::{PyCapsule, PyDict};

use super::arrays;
use super::convert::{PyFinding, findings};
use super::foreign;
use super::plain::{correct_plain, nulls};
use crate::batch::arrow::{correct_batches, write};
use crate::batch::{Corrected, RowFinding, RunOptions, TableJob, Uncertainty};
use crate::error::Result;
use crate::finding::Finding;

/// Columns in chunks, for any library that reads Arrow: `polars.DataFrame(it)`, `pyarrow.table(it)`.
#[pyclass(name = "ArrowColumns", module = "beadchem", frozen)]
pub(super) struct PyArrowColumns {
    schema: SchemaRef,
    batches: Vec<RecordBatch>,
}

impl PyArrowColumns {
    pub(super) fn of(batches: Vec<RecordBatch>) -> Self {
        let schema = batches.first().map_or_else(|| SchemaRef::new(Schema::empty()), RecordBatch::schema);
        Self { schema, batches }
    }
}

#[pymethods]
impl PyArrowColumns {
    /// The Arrow PyCapsule interface: a stream of record batches. It can be asked for again.
    #[pyo3(signature = (requested_schema=None))]
    fn __arrow_c_stream__<'py>(
        &self,
        py: Python<'py>,
        requested_schema: Option<Bound<'py, PyAny>>,
    ) -> PyResult<Bound<'py, PyCapsule>> {
        let _ = requested_schema;
        foreign::stream(py, self.schema.clone(), self.batches.clone())
    }
    /// The Arrow PyCapsule interface: the schema alone.
    fn __arrow_c_schema__<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyCapsule>> {
        foreign::schema(py, &self.schema)
    }
    /// How many rows there are.
    fn __len__(&self) -> usize {
        self.batches.iter().map(RecordBatch::num_rows).sum()
    }
    fn __repr__(&self) -> String {
        let names: Vec<&str> = self.schema.fields().iter().map(|field| field.name().as_str()).collect();
        format!("<ArrowColumns {} rows in {} chunks: {}>", self.__len__(), self.batches.len(), names.join(", "))
    }
}

/// A corrected table and what was found in it.
#[pyclass(name = "CorrectedTable", module = "beadchem", frozen)]
pub(super) struct PyCorrectedTable {
    /// One row per row read, in as many chunks.
    #[pyo3(get)]
    table: Py<PyArrowColumns>,
    /// One row per finding.
    #[pyo3(get)]
    findings: Py<PyArrowColumns>,
    notes: Vec<Finding>,
}

#[pymethods]
impl PyCorrectedTable {
    /// What is said of all rows at once.
    #[getter]
    fn notes(&self) -> Vec<PyFinding> {
        findings(&self.notes)
    }
}

/// Row, code, severity, quantity, value, bound, reason.
type FindingRow = (u64, &'static str, &'static str, String, f64, f64, String);

/// Corrected arrays and what was found in them.
#[pyclass(name = "CorrectedArrays", module = "beadchem", frozen)]
pub(super) struct PyCorrectedArrays {
    numbers: Py<PyArray2<f64>>,
    rest: Corrected,
}

impl PyCorrectedArrays {
    /// With numbers of its own.
    pub(super) fn of(py: Python<'_>, mut rest: Corrected) -> PyResult<Self> {
        let numbers = core::mem::take(&mut rest.numbers);
        let shape = [rest.columns().len(), rest.rows()];
        let block = Array2::from_shape_vec(shape, numbers).map_err(|_| arrays::uneven(shape))?;
        Ok(Self { numbers: PyArray2::from_owned_array(py, block).unbind(), rest })
    }
}

#[pymethods]
impl PyCorrectedArrays {
    /// Numbers, one row of this array per column; NaN where a cell is null.
    #[getter]
    fn numbers(&self, py: Python<'_>) -> Py<PyArray2<f64>> {
        self.numbers.clone_ref(py)
    }
    /// The columns of `numbers`.
    #[getter]
    fn names(&self) -> Vec<&str> {
        self.rest.columns().iter().map(|column| column.name.as_str()).collect()
    }
    /// The number of the most severe finding of each row, 0 where there is none.
    #[getter]
    fn codes<'py>(&self, py: Python<'py>) -> Bound<'py, PyArray1<u16>> {
        PyArray1::from_slice(py, self.rest.codes())
    }
    /// Whether the cells of a column are null, or None where none is.
    fn nulls<'py>(&self, py: Python<'py>, place: usize) -> Option<Bound<'py, PyArray1<bool>>> {
        Some(PyArray1::from_vec(py, nulls(&self.rest, place)?))
    }
    /// What is said of all rows at once.
    #[getter]
    fn notes(&self) -> Vec<PyFinding> {
        findings(self.rest.notes())
    }
    /// One row per finding.
    #[getter]
    fn findings(&self) -> PyResult<PyArrowColumns> {
        Ok(PyArrowColumns::of(vec![write::findings(self.rest.findings())?]))
    }
    /// Findings as (row, code, severity, quantity, value, bound, reason).
    fn finding_rows(&self) -> Vec<FindingRow> {
        let row = |it: &RowFinding| {
            let words = (it.code.word(), it.severity().word(), it.quantity.clone());
            (it.row, words.0, words.1, words.2, it.value, it.bound, it.text.clone())
        };
        self.rest.findings().iter().map(row).collect()
    }
}

/// Every batch of a source, corrected; the interpreter is free meanwhile.
pub(super) fn correct_stream(
    source: &Bound<'_, PyAny>,
    job: &dyn TableJob,
    options: &RunOptions<'_>,
    first_row: u64,
    keep: &[String],
) -> PyResult<PyCorrectedTable> {
    let py = source.py();
    let reader = foreign::read(source)?;
    let done = py.detach(move || -> Result<_> {
        let schema = reader.schema();
        let mut batches = reader.collect::<core::result::Result<Vec<_>, _>>().map_err(|why| foreign::broken(&why))?;
        if batches.is_empty() {
            batches.push(RecordBatch::new_empty(schema)); // for the schema of the result
        }
        correct_batches(job, &batches, options, first_row, keep)
    })?;
    let (mut table, mut findings, mut notes) = (Vec::new(), Vec::new(), Vec::new());
    for batch in done {
        table.push(batch.table);
        findings.push(batch.findings);
        notes.extend(batch.notes);
    }
    notes.dedup();
    let [table, findings] = [table, findings].map(|batches| Py::new(py, PyArrowColumns::of(batches)));
    Ok(PyCorrectedTable { table: table?, findings: findings?, notes })
}

/// Columns by name, corrected; the interpreter is free meanwhile.
pub(super) fn correct_arrays<'py>(
    py: Python<'py>,
    job: &dyn TableJob,
    columns: &Bound<'py, PyDict>,
    options: &RunOptions<'_>,
    nan_is_null: bool,
    out: Option<Bound<'py, PyAny>>,
) -> PyResult<PyCorrectedArrays> {
    let held = arrays::read(job.wanted(), columns)?;
    let table = arrays::lend(&held)?;
    let Some(out) = out else {
        return PyCorrectedArrays::of(py, py.detach(|| correct_plain(job, &table, nan_is_null, options, None))?);
    };
    let out = arrays::block(&out)?;
    let mut block = out.try_readwrite().map_err(|_| arrays::shared())?;
    let numbers = arrays::room(&mut block, &table)?;
    let rest = py.detach(|| correct_plain(job, &table, nan_is_null, options, Some(numbers)))?;
    Ok(PyCorrectedArrays { numbers: out.clone().unbind(), rest })
}

/// How a table is run, from Python's words.
pub(super) fn options(uncertainty: &str, threads: usize) -> Result<RunOptions<'static>> {
    Ok(RunOptions { uncertainty: Uncertainty::from_word(uncertainty)?, threads, ..RunOptions::default() })
}
