//! Results as arrays of Arrow.

use super::doubled;
use crate::batch::corrected::{Corrected, RowFinding};
use crate::code::Code;
use crate::error::{Error, Result};
use arrow_array::builder::LargeStringBuilder;
use arrow_array::types::Int16Type;
use arrow_array::{
    Array, ArrayRef, DictionaryArray, Float64Array, Int16Array, LargeStringArray, RecordBatch, RecordBatchOptions,
    StringArray, UInt64Array,
};
use arrow_buffer::{BooleanBuffer, Buffer, NullBuffer, ScalarBuffer};
use arrow_schema::{ArrowError, DataType, Field, FieldRef, Schema};
use std::collections::HashMap;
use std::sync::{Arc, LazyLock};

/// Every code word in the order of [`Code::ALL`]: all chunks of all tables share one dictionary.
static WORDS: LazyLock<ArrayRef> =
    LazyLock::new(|| Arc::new(StringArray::from_iter_values(Code::ALL.iter().map(|code| code.word()))));

/// What cannot happen with columns of our own making is still told.
pub(super) fn broken(why: ArrowError) -> Error {
    Error::Conflict {
        code: Code::StreamBroken,
        detail: format!("The results do not fit a record batch: {why}."),
        hint: "Fewer rows at a time may help.".to_owned(),
    }
}

pub(super) fn table(
    done: Corrected,
    first_row: u64,
    kept: Vec<(FieldRef, ArrayRef)>,
    metadata: HashMap<String, String>,
) -> Result<RecordBatch> {
    let Corrected { rows, columns: results, numbers, valid, codes, findings, notes: _ } = done;
    let mut columns = kept;
    let mut push = |field: Field, array: ArrayRef| columns.push((Arc::new(field), array));
    let block = Buffer::from_vec(numbers);
    for (place, (result, bits)) in results.iter().zip(valid).enumerate() {
        let values = ScalarBuffer::new(block.clone(), place * rows, rows);
        let there = |bits| NullBuffer::new(BooleanBuffer::new(Buffer::from_vec(bits), 0, rows));
        let nulls = Some(bits).filter(|bits| !bits.is_empty()).map(there);
        let mut metadata = HashMap::from([("unit".to_owned(), result.unit.to_owned())]);
        metadata.extend(result.basis.iter().map(|basis| ("basis".to_owned(), basis.clone())));
        let field = Field::new(&result.name, DataType::Float64, true).with_metadata(metadata);
        push(field, Arc::new(Float64Array::try_new(values, nulls).map_err(broken)?));
    }
    let words = words_of(codes.iter().map(|&code| place_of(code)))?;
    push(Field::new("finding", words.data_type().clone(), true), words);
    let text = reasons(&codes, first_row, &findings);
    push(Field::new("reason", DataType::LargeUtf8, true), text);
    let mut seen = std::collections::HashSet::new();
    if let Some((field, _)) = columns.iter().find(|(field, _)| !seen.insert(field.name())) {
        return Err(doubled(field.name()));
    }
    let (fields, arrays): (Vec<FieldRef>, Vec<ArrayRef>) = columns.into_iter().unzip();
    let schema = Arc::new(Schema::new_with_metadata(fields, metadata));
    let options = RecordBatchOptions::new().with_row_count(Some(rows));
    RecordBatch::try_new_with_options(schema, arrays, &options).map_err(broken)
}

/// Where a code stands in the dictionary.
fn place_of(code: u16) -> Option<i16> {
    if code == 0 {
        return None;
    }
    let place = Code::ALL.binary_search_by_key(&code, |code| code.number()).ok()?;
    i16::try_from(place).ok()
}

fn words_of(places: impl Iterator<Item = Option<i16>>) -> Result<ArrayRef> {
    let keys: Int16Array = places.collect();
    Ok(Arc::new(DictionaryArray::<Int16Type>::try_new(keys, WORDS.clone()).map_err(broken)?))
}

/// For each row with a code the text of its finding with that code.
fn reasons(codes: &[u16], first_row: u64, findings: &[RowFinding]) -> ArrayRef {
    let mut builder = LargeStringBuilder::with_capacity(codes.len(), 0);
    let mut rest = findings;
    for (row, &code) in (first_row..).zip(codes) {
        let end = rest.iter().position(|finding| finding.row > row).unwrap_or(rest.len());
        let (own, later) = rest.split_at(end);
        rest = later;
        builder.append_option(
            own.iter().find(|finding| finding.code.number() == code).map(|finding| finding.text.as_str()),
        );
    }
    Arc::new(builder.finish())
}

pub(crate) fn findings(list: &[RowFinding]) -> Result<RecordBatch> {
    let words = |of: fn(&RowFinding) -> String| -> ArrayRef {
        Arc::new(LargeStringArray::from_iter_values(list.iter().map(of)))
    };
    let numbers = |of: fn(&RowFinding) -> f64| -> ArrayRef {
        let there = |number: &f64| !number.is_nan();
        Arc::new(list.iter().map(|finding| Some(of(finding)).filter(there)).collect::<Float64Array>())
    };
    let rows: ArrayRef = Arc::new(UInt64Array::from_iter_values(list.iter().map(|finding| finding.row)));
    RecordBatch::try_from_iter_with_nullable([
        ("row", rows, false),
        ("code", words_of(list.iter().map(|finding| place_of(finding.code.number())))?, false),
        ("severity", words(|finding| finding.severity().word().to_owned()), false),
        ("quantity", words(|finding| finding.quantity.clone()), false),
        ("value", numbers(|finding| finding.value), true),
        ("bound", numbers(|finding| finding.bound), true),
        ("reason", words(|finding| finding.text.clone()), false),
    ])
    .map_err(broken)
}
