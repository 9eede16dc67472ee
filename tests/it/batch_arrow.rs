//! Arrow record batches in and out: a column in any form gives what the plain numbers give.

use arrow_array::cast::AsArray;
use arrow_array::types::{Float64Type, Int16Type, UInt64Type};
use arrow_array::{
    Array, ArrayRef, BooleanArray, Date32Array, Decimal128Array, DictionaryArray, Float32Array, Float64Array,
    Int8Array, Int64Array, NullArray, RecordBatch, RunArray, StringArray, StringViewArray, UInt64Array,
};
use beadchem::batch::arrow::{CorrectedBatch, correct_batch, correct_batches};
use beadchem::batch::{RunOptions, example};
use beadchem::code::Code;
use std::collections::HashSet;
use std::sync::Arc;

const NAME: &str = "bead";
const COLUMN: &str = "Ca_Ka_cps";
const RESULT: &str = "CaO_percent";

/// A batch with a column in some form; all else is one number in every row.
fn batch(column: ArrayRef) -> RecordBatch {
    let rows = column.len();
    let numbers = |number| Arc::new(Float64Array::from(vec![number; rows])) as ArrayRef;
    let rest = [("sample_g", 0.8), ("flux_g", 8.0), ("Mg_Ka_cps", 1_710.0), ("Si_Ka_cps", 400.0)];
    let columns = [(COLUMN, column)].into_iter().chain(rest.map(|(name, number)| (name, numbers(number))));
    RecordBatch::try_from_iter_with_nullable(columns.map(|(name, column)| (name, column, true))).unwrap()
}

fn named(names: ArrayRef, column: ArrayRef) -> RecordBatch {
    let plain = batch(column);
    let rest = plain.schema_ref().fields().iter().zip(plain.columns());
    let rest = rest.map(|(field, column)| (field.name().clone(), column.clone()));
    RecordBatch::try_from_iter([(NAME.to_owned(), names)].into_iter().chain(rest)).unwrap()
}

fn run(batch: &RecordBatch, keep: &[&str]) -> beadchem::Result<CorrectedBatch> {
    let keep: Vec<String> = keep.iter().map(ToString::to_string).collect();
    correct_batch(&example()?, batch, &RunOptions::default(), 0, &keep)
}

fn results(done: &CorrectedBatch) -> Vec<Option<u64>> {
    done.table[RESULT].as_primitive::<Float64Type>().iter().map(|cell| cell.map(f64::to_bits)).collect()
}

fn floats(cells: &[Option<f64>]) -> ArrayRef {
    Arc::new(Float64Array::from(cells.to_vec()))
}

/// A column gives, bit for bit and word for word, what these numbers give.
fn is_read_as(column: impl Array + 'static, cells: &[Option<f64>]) {
    let name = column.data_type().to_string();
    let [found, expected] = [Arc::new(column), floats(cells)].map(|column| run(&batch(column), &[]).unwrap());
    assert_eq!(results(&found), results(&expected), "{name}");
    assert_eq!(found.findings, expected.findings, "{name}");
}

#[test]
fn bitmaps_may_begin_within_a_byte() {
    let long: Float64Array = (1..31).map(|row| (row % 3 != 0).then_some(f64::from(13_500 + row))).collect();
    for start in 0..10 {
        let part = long.slice(start, 17);
        let cells: Vec<Option<f64>> = part.iter().collect();
        is_read_as(part, &cells);
    }
}

#[test]
fn exact_casts_are_made() {
    let large = [Some(-3.0), None, Some(9_007_199_254_740_992.0), Some(2_f64.powi(60))];
    is_read_as(Int64Array::from(vec![Some(-3), None, Some(1 << 53), Some(1 << 60)]), &large);
    let usual = run(&batch(floats(&[Some(13_500.0)])), &[]).unwrap();
    assert!(results(&usual)[0].is_some());
    is_read_as(Int64Array::from(vec![13_500]), &[Some(13_500.0)]);
    is_read_as(Int8Array::from(vec![-128]), &[Some(-128.0)]);
    is_read_as(Float32Array::from(vec![0.1_f32]), &[Some(f64::from(0.1_f32))]);
    let decimal =
        |digits: i128, scale| Decimal128Array::from(vec![digits]).with_precision_and_scale(38, scale).unwrap();
    is_read_as(decimal(8012, 4), &[Some(0.8012)]);
    is_read_as(decimal(80_120_000_000_000_000_000_000_000, 26), &[Some(0.8012)]);
    is_read_as(decimal(-7, -2), &[Some(-700.0)]);
    is_read_as(NullArray::new(3), &[None; 3]);
    // what lies under a null is nobody's number
    is_read_as(Int64Array::new(vec![i64::MAX].into(), Some(vec![false].into())), &[None]);
}

#[test]
fn other_casts_are_refused_with_the_row_and_the_number() {
    let long = Decimal128Array::from(vec![1_234_567_890_123_456_789]).with_precision_and_scale(38, 18).unwrap();
    let cases: [(ArrayRef, &str); 3] = [
        (
            Arc::new(UInt64Array::from(vec![0, u64::MAX])),
            "row 1 (the first is 0): a float of 64 bits does not hold 18446744073709551615",
        ),
        (
            Arc::new(Int64Array::from(vec![(1 << 53) + 1])),
            "row 0 (the first is 0): a float of 64 bits does not hold 9007199254740993",
        ),
        (Arc::new(long), "does not hold 1.234567890123456789 exactly"),
    ];
    for (column, words) in cases {
        let refused = run(&batch(column), &[]).unwrap_err();
        assert_eq!(refused.code(), Code::NumberInexact);
        assert!(refused.to_string().contains(words), "{refused}");
    }
    for column in [Arc::new(BooleanArray::from(vec![true])) as ArrayRef, Arc::new(Date32Array::from(vec![1]))] {
        assert_eq!(run(&batch(column), &[]).unwrap_err().code(), Code::ColumnType);
    }
}

#[test]
fn dictionaries_runs_and_views_are_read_through() {
    let dictionary = |keys: Vec<Option<i16>>, values| DictionaryArray::<Int16Type>::new(keys.into(), values);
    let numbers = dictionary(vec![Some(0), Some(1), None, Some(0)], floats(&[Some(0.8), None]));
    is_read_as(numbers.slice(1, 3), &[None, None, Some(0.8)]);
    let words: ArrayRef = Arc::new(StringArray::from(vec![Some("13500"), None]));
    is_read_as(dictionary(vec![Some(1), Some(0)], words.clone()), &[None, Some(13_500.0)]);
    let again: ArrayRef = Arc::new(StringArray::from(vec!["2", "3", "2"]));
    is_read_as(dictionary(vec![Some(0), Some(1), Some(2)], again), &[Some(2.0), Some(3.0), Some(2.0)]);
    is_read_as(dictionary(vec![None], words.slice(0, 0)), &[None]);
    let runs = RunArray::<Int16Type>::try_new(&vec![2_i16, 5].into(), words.as_ref()).unwrap();
    is_read_as(runs.slice(1, 3), &[Some(13_500.0), None, None]);
    is_read_as(StringViewArray::from(vec!["2"]), &[Some(2.0)]);
}

#[test]
fn findings_stand_beside_and_kept_columns_are_the_same_arrays() {
    let names: ArrayRef = Arc::new(Int64Array::from(vec![Some(7), Some(8), None]));
    let table = named(names.clone(), floats(&[Some(13_500.0), Some(f64::NAN), Some(f64::NAN)]));
    let keep = [NAME.to_owned()];
    let done = correct_batch(&example().unwrap(), &table, &RunOptions::default(), 4096, &keep).unwrap();
    assert!(Arc::ptr_eq(&names, done.table.column(0)));
    let schema = done.table.schema();
    assert!(schema.metadata()["beadchem"].contains("dolomite"));
    assert_eq!(schema.field_with_name(RESULT).unwrap().metadata()["unit"], "%");
    let word = done.table["finding"].as_dictionary::<Int16Type>().downcast_dict::<StringArray>().unwrap();
    assert_eq!(word.into_iter().collect::<Vec<_>>(), [None, Some("number.not-finite"), Some("number.not-finite")]);
    let reason = done.table["reason"].as_string::<i64>();
    assert!(reason.is_null(0) && reason.value(1).contains("Ca Ka"), "{}", reason.value(1));
    let rows = done.findings["row"].as_primitive::<UInt64Type>();
    assert!(rows.values().starts_with(&[4097]) && rows.values().contains(&4098));
}

#[test]
fn no_choice_of_chunks_hides_a_doubled_name() {
    let names: ArrayRef = Arc::new(StringArray::from(vec!["a", "b", "c", "b"]));
    let table = named(names, floats(&[Some(13_500.0); 4]));
    let parts = [table.slice(0, 1), table.slice(1, 2), table.slice(3, 1)];
    let refused = |batches: &[RecordBatch], options: &RunOptions<'_>| -> Vec<bool> {
        let done = correct_batches(&example().unwrap(), batches, options, 10, &[]).unwrap();
        done.iter().flat_map(results).map(|cell| cell.is_none()).collect()
    };
    let usual = RunOptions::default();
    assert_eq!(refused(&parts, &usual), [false, true, false, true]);
    assert_eq!(refused(core::slice::from_ref(&table), &usual), [false, true, false, true]);
    assert_eq!(results(&run(&table, &[]).unwrap()).iter().filter(|cell| cell.is_none()).count(), 2);
    let nobody = HashSet::new();
    assert_eq!(refused(&parts, &RunOptions { doubled: Some(&nobody), ..usual }), [false; 4]);
}

#[test]
fn names_that_clash_or_are_missing_are_refused() {
    let plain = batch(floats(&[Some(13_500.0)]));
    let with = |name: &str| {
        let columns = plain.schema_ref().fields().iter().zip(plain.columns());
        let columns = columns.map(|(field, column)| (field.name().clone(), column.clone()));
        RecordBatch::try_from_iter(columns.chain([(name.to_owned(), plain[COLUMN].clone())])).unwrap()
    };
    let refused = |table: &RecordBatch, keep: &[&str]| run(table, keep).unwrap_err().code();
    assert_eq!(refused(&with(COLUMN), &[]), Code::ColumnDoubled);
    assert_eq!(refused(&with(RESULT), &[RESULT]), Code::ColumnDoubled);
    assert_eq!(refused(&plain, &[COLUMN, COLUMN]), Code::ColumnDoubled);
    assert_eq!(refused(&plain, &["M"]), Code::TableHeader);
}
