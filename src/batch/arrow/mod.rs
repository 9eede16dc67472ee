//! Apache Arrow: a record batch in, a record batch out, numbers not copied on either way.

pub(crate) mod compared;
pub(crate) mod names;
#[doc(hidden)]
pub use names::few;
pub(crate) mod read;
pub(crate) mod whole;
pub(crate) mod write;

pub use compared::{compare_batches, compared_batch};

use super::job::{Kind, TableJob};
use super::options::RunOptions;
use crate::code::Code;
use crate::error::{Error, Result};
use crate::finding::Finding;
use arrow_array::{ArrayRef, RecordBatch};
use arrow_schema::FieldRef;
use std::collections::HashSet;

/// A corrected record batch and what was found in it.
///
/// ```
/// use beadchem::batch::{RunOptions, arrow::{CorrectedBatch, correct_batches}};
/// let job = beadchem::batch::example()?;
/// let done: Vec<CorrectedBatch> = correct_batches(&job, &[], &RunOptions::default(), 0, &[])?;
/// assert!(done.is_empty());
/// # Ok::<(), beadchem::Error>(())
/// ```
#[derive(Debug, Clone, PartialEq)]
pub struct CorrectedBatch {
    /// Kept columns, results, `finding` (word of the most severe, null where nothing was found) and `reason`.
    pub table: RecordBatch,
    /// One row per finding: `row`, `code`, `severity`, `quantity`, `value`, `bound`, `reason`.
    pub findings: RecordBatch,
    /// What is said of all its rows at once.
    pub notes: Vec<Finding>,
}

/// Runs a record batch: as many rows come back, in the same order, beside the columns named in `keep`, unchanged.
///
/// Numbers of 64 bits are read where they lie, validity included. Other floats, whole numbers and decimals are cast where
/// that is exact; text, dictionaries and runs are words. `first_row` is where the batch begins in its table.
///
/// # Errors
/// `table.column-type` and `table.number-inexact` for a column that cannot be read as what it must be; `table.header` for
/// a column to keep that is missing; `table.column-doubled` for two columns of one name; what the job refuses.
///
/// ```
/// use arrow_array::{Array, ArrayRef, Float64Array, RecordBatch, cast::AsArray, types::Float64Type};
/// use beadchem::batch::{RunOptions, arrow::correct_batch};
/// use std::sync::Arc;
/// let numbers = |list: [Option<f64>; 2]| Arc::new(Float64Array::from(list.to_vec())) as ArrayRef;
/// let batch = RecordBatch::try_from_iter([
///     ("sample_g", numbers([Some(0.8), None])),
///     ("flux_g", numbers([Some(8.0); 2])),
///     ("Ca_Ka_cps", numbers([Some(13_500.0); 2])),
///     ("Mg_Ka_cps", numbers([Some(1_710.0); 2])),
///     ("Si_Ka_cps", numbers([Some(400.0); 2])),
/// ])?;
/// let done = correct_batch(&beadchem::batch::example()?, &batch, &RunOptions::default(), 0, &[])?;
/// let lime = done.table["CaO_percent"].as_primitive::<Float64Type>();
/// assert!(lime.is_valid(0) && lime.is_null(1) && done.findings.num_rows() > 0);
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
pub fn correct_batch(
    job: &dyn TableJob,
    batch: &RecordBatch,
    options: &RunOptions<'_>,
    first_row: u64,
    keep: &[String],
) -> Result<CorrectedBatch> {
    let found = doubled_names(job, options, core::slice::from_ref(batch))?;
    run(job, batch, &RunOptions { doubled: options.doubled.or(found.as_ref()), ..options.clone() }, first_row, keep)
}

fn run(
    job: &dyn TableJob,
    batch: &RecordBatch,
    options: &RunOptions<'_>,
    first_row: u64,
    keep: &[String],
) -> Result<CorrectedBatch> {
    let kept = keep.iter().map(|name| kept(batch, name)).collect::<Result<_>>()?;
    let held = read::Held::read(job.wanted(), batch, first_row)?;
    let mut done = job.run_rows(&held.columns(first_row, job.identity())?, options, None)?;
    let findings = write::findings(&done.findings)?;
    let notes = core::mem::take(&mut done.notes);
    let metadata = batch.schema_ref().metadata().clone().into_iter().chain(job.metadata(options.uncertainty)?);
    let table = write::table(done, first_row, kept, metadata.collect())?;
    Ok(CorrectedBatch { table, findings, notes })
}

/// Runs the batches of one table: names that no two rows may share are looked for in all of them first, so that no choice
/// of chunks changes a result.
///
/// # Errors
/// Those of [`correct_batch`].
///
/// ```
/// use arrow_array::RecordBatch;
/// use beadchem::batch::{RunOptions, arrow::correct_batches};
/// let batch = RecordBatch::new_empty(std::sync::Arc::new(arrow_schema::Schema::empty()));
/// let refused = correct_batches(&beadchem::batch::example()?, &[batch], &RunOptions::default(), 0, &[]).unwrap_err();
/// assert_eq!(refused.code().word(), "table.header"); // its columns are not there
/// # Ok::<(), beadchem::Error>(())
/// ```
pub fn correct_batches(
    job: &dyn TableJob,
    batches: &[RecordBatch],
    options: &RunOptions<'_>,
    mut first_row: u64,
    keep: &[String],
) -> Result<Vec<CorrectedBatch>> {
    let found = doubled_names(job, options, batches)?;
    let options = RunOptions { doubled: options.doubled.or(found.as_ref()), ..options.clone() };
    let mut next = |batch: &RecordBatch| {
        let done = run(job, batch, &options, first_row, keep)?;
        first_row += batch.num_rows() as u64;
        Ok(done)
    };
    let mut done = batches.iter().map(&mut next).collect::<Result<Vec<_>>>()?;
    // of the whole table it holds only where it holds of each batch
    let says = |note: &Finding| note.code == Code::RowsNotChosen;
    if done.iter().any(|batch| batch.table.num_rows() > 0 && !batch.notes.iter().any(says)) {
        done.iter_mut().for_each(|batch| batch.notes.retain(|note| !says(note)));
    }
    Ok(done)
}

/// Names that stand in more than one row, unless it is known already which do.
fn doubled_names(
    job: &dyn TableJob,
    options: &RunOptions<'_>,
    batches: &[RecordBatch],
) -> Result<Option<HashSet<String>>> {
    let (None, Some(name)) = (options.doubled, job.identity()) else { return Ok(None) };
    let wanted = [(name.to_owned(), Kind::Words)];
    let held = batches.iter().map(|batch| read::Held::read(&wanted, batch, 0)).collect::<Result<Vec<_>>>()?;
    let words = held.iter().map(|held| held.words(name)).collect::<Result<Vec<_>>>()?;
    Ok(Some(names::doubled(words.iter().flatten().copied().flatten())))
}

fn kept(batch: &RecordBatch, name: &str) -> Result<(FieldRef, ArrayRef)> {
    let schema = batch.schema_ref();
    let mut places = (0..schema.fields().len()).filter(|&place| schema.field(place).name() == name);
    match (places.next(), places.next()) {
        (Some(place), None) => Ok((schema.fields()[place].clone(), batch.column(place).clone())),
        (Some(_), Some(_)) => Err(doubled(name)),
        (None, _) => Err(Error::Conflict {
            code: Code::TableHeader,
            detail: format!("There is no column {name} to keep."),
            hint: "Name columns of the table as they are written there.".to_owned(),
        }),
    }
}

fn doubled(name: &str) -> Error {
    Error::Conflict {
        code: Code::ColumnDoubled,
        detail: format!("The table has two columns named {name}."),
        hint: "Name them apart: which one is meant cannot be guessed.".to_owned(),
    }
}
