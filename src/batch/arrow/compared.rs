//! Two tables of results in record batches, held against each other.

use super::whole::Whole;
use super::write;
use crate::batch::compare::Comparison;
use crate::batch::compared::{Compared, Named};
use crate::batch::document::TableProvenance;
use crate::error::Result;
use arrow_array::types::Int32Type;
use arrow_array::{Array, ArrayRef, DictionaryArray, Int32Array, LargeStringArray, RecordBatch, StringArray};
use arrow_schema::{Field, FieldRef};
use std::collections::HashMap;
use std::sync::Arc;

/// The key of the metadata of a schema that says what results rest on.
const RECORD: &str = "beadchem";

/// Holds the chunks of two tables against each other; what they rest on is taken from the metadata of their schemas.
///
/// Columns that hold neither numbers nor words are not looked at.
///
/// # Errors
/// Those of [`Comparison::run`]; `table.column-type` and `table.number-inexact` for a column that cannot be read;
/// `document.malformed` for metadata of another origin.
///
/// ```
/// use arrow_array::{ArrayRef, Float64Array, RecordBatch};
/// use beadchem::batch::{Comparison, arrow::compare_batches};
/// use std::sync::Arc;
/// let lime = |value| RecordBatch::try_from_iter([("CaO_percent", Arc::new(Float64Array::from(vec![value])) as ArrayRef)]);
/// let found = compare_batches(&Comparison::new(), &[lime(30.0)?], &[lime(30.5)?])?;
/// assert_eq!(found.differences()[0].largest, 0.5);
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
pub fn compare_batches(comparison: &Comparison, old: &[RecordBatch], new: &[RecordBatch]) -> Result<Compared> {
    let [before, after] = [record(old), record(new)];
    let comparison = comparison.clone().records([before, after])?;
    let ids = comparison.ids();
    let [old, new] = [Whole::read(old, ids)?, Whole::read(new, ids)?];
    comparison.run(&old.columns()?, &new.columns()?)
}

pub(crate) fn record(batches: &[RecordBatch]) -> Option<&str> {
    batches.first().and_then(|batch| batch.schema_ref().metadata().get(RECORD)).map(String::as_str)
}

impl Comparison {
    /// With what the metadata of two tables say they rest on, where both do.
    ///
    /// # Errors
    /// Those of [`TableProvenance::of_record`].
    ///
    /// ```
    /// use beadchem::batch::Comparison;
    /// assert_eq!(Comparison::new().records([None, Some("{}")])?, Comparison::new());
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    pub fn records(self, records: [Option<&str>; 2]) -> Result<Self> {
        let [old, new] = records.map(|record| record.map_or(Ok(None), TableProvenance::of_record));
        Ok(match (old?, new?) {
            (Some(old), Some(new)) => self.provenance(&old, &new),
            _ => self,
        })
    }
}

/// The rows of a comparison as a record batch: ids, `moved` and `moved_with`, for each result old, new, change and change
/// in units of the old u, then `finding` and `reason`.
///
/// # Errors
/// `table.column-doubled` where a result is named like one of these.
///
/// ```
/// use beadchem::batch::{Columns, Comparison, arrow::compared_batch};
/// let nothing = Comparison::new().run(&Columns::new(0), &Columns::new(0))?;
/// assert_eq!(compared_batch(&nothing)?.num_columns(), 4);
/// # Ok::<(), beadchem::Error>(())
/// ```
pub fn compared_batch(compared: &Compared) -> Result<RecordBatch> {
    let mut first: Vec<(FieldRef, ArrayRef)> = Vec::new();
    let mut push = |name: &str, array: ArrayRef| {
        first.push((Arc::new(Field::new(name, array.data_type().clone(), true)), array));
    };
    if let Some(by) = compared.joined_by() {
        push(by, Arc::new(LargeStringArray::from_iter((0..compared.rows().len()).map(|row| compared.id(row)))));
    }
    for (name, named) in [("moved", &compared.moved), ("moved_with", &compared.moved_with)] {
        push(name, coded(named)?);
    }
    write::table(compared.numbers().clone(), 0, first, HashMap::new())
}

fn coded(named: &Named) -> Result<ArrayRef> {
    let places: Int32Array = named.places.iter().map(|place| place.map(u32::cast_signed)).collect();
    let words = Arc::new(StringArray::from_iter_values(&named.dictionary));
    Ok(Arc::new(DictionaryArray::<Int32Type>::try_new(places, words).map_err(write::broken)?))
}
