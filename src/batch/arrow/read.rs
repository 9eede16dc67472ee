//! Arrays of Arrow as borrowed columns.

use super::{doubled, names};
use crate::batch::column::{Bits, Column, Columns, Numbers, Words};
use crate::batch::job::Kind;
use crate::code::Code;
use crate::error::{Error, Result};
use arrow_array::cast::AsArray;
use arrow_array::types::{
    ArrowPrimitiveType, ArrowTemporalType, Date32Type, Date64Type, Decimal32Type, Decimal64Type, Decimal128Type,
    Decimal256Type, Float16Type, Float32Type, Float64Type, Int8Type, Int16Type, Int32Type, Int64Type, RunEndIndexType,
    TimestampMicrosecondType, TimestampMillisecondType, TimestampNanosecondType, TimestampSecondType, UInt8Type,
    UInt16Type, UInt32Type, UInt64Type,
};
use arrow_array::{Array, ArrayRef, BinaryArray, LargeBinaryArray, RecordBatch, StringArray};
use arrow_buffer::{NullBuffer, ScalarBuffer};
use arrow_schema::{DataType, TimeUnit};
use std::sync::Arc;

/// The columns of a batch that are read; what had to be cast is held here.
pub(super) struct Held {
    rows: usize,
    columns: Vec<(String, HeldColumn)>,
}

enum HeldColumn {
    Numbers(ScalarBuffer<f64>, Option<NullBuffer>),
    Text(Text),
    /// Text of a dictionary or of runs, and for each row its place.
    Coded(Text, Vec<Option<u32>>),
    /// A column of the type null.
    Nothing(Kind, ScalarBuffer<f64>, Vec<u8>),
}

impl Held {
    pub(super) fn read(wanted: &[(String, Kind)], batch: &RecordBatch, first_row: u64) -> Result<Self> {
        let fields = batch.schema_ref().fields();
        let mut columns = Vec::with_capacity(wanted.len());
        for (name, kind) in wanted {
            let mut places = fields.iter().enumerate().filter(|(_, field)| field.name() == name);
            let Some((place, _)) = places.next() else { continue };
            if places.next().is_some() {
                return Err(doubled(name));
            }
            let source = Source { name, first_row };
            columns.push((name.clone(), source.column(*kind, batch.column(place))?));
        }
        Ok(Self { rows: batch.num_rows(), columns })
    }

    /// The columns; each row of the column `own` has a word of its own.
    pub(super) fn columns(&self, first_row: u64, own: Option<&str>) -> Result<Columns<'_>> {
        let mut columns = Columns::new(self.rows).starting_at(first_row);
        for (name, held) in &self.columns {
            let column = match own == Some(name) {
                true => Column::Words(names::each(held.words(name)?.into_iter())),
                false => held.borrow(name)?,
            };
            columns.push(name.as_str(), column)?;
        }
        Ok(columns)
    }

    /// A column of numbers; nothing where it holds words.
    pub(super) fn numbers(&self, name: &str) -> Result<Option<Numbers<'_>>> {
        match self.columns.iter().find(|(own, _)| own == name) {
            Some((_, held @ (HeldColumn::Numbers(..) | HeldColumn::Nothing(Kind::Numbers, ..)))) => {
                match held.borrow(name)? {
                    Column::Numbers(numbers) => Ok(Some(numbers)),
                    Column::Words(_) => Ok(None),
                }
            }
            _ => Ok(None),
        }
    }

    /// The words of a column, row by row; none where there is no such column.
    pub(super) fn words(&self, name: &str) -> Result<Vec<Option<&str>>> {
        let held = self.columns.iter().find(|(own, _)| own == name);
        held.map_or(Ok(Vec::new()), |(_, held)| held.words(name))
    }
}

impl HeldColumn {
    fn nothing(kind: Kind, rows: usize) -> Self {
        HeldColumn::Nothing(kind, vec![f64::NAN; rows].into(), vec![0; rows.div_ceil(8)])
    }

    fn borrow(&self, name: &str) -> Result<Column<'_>> {
        Ok(match self {
            HeldColumn::Numbers(values, nulls) => Column::Numbers(match nulls {
                Some(nulls) => {
                    let bits = nulls.inner();
                    Numbers::new(values).valid(Bits::new(bits.values(), bits.offset(), values.len())?)
                }
                None => Numbers::new(values),
            }),
            HeldColumn::Nothing(Kind::Numbers, values, bits) => {
                Column::Numbers(Numbers::new(values).valid(Bits::new(bits, 0, values.len())?))
            }
            HeldColumn::Coded(text, places) if text.rows() <= places.len() => {
                // A dictionary may hold a word twice, and null.
                let known = Words::of(text.words(name)?);
                let place = |place: &Option<u32>| place.and_then(|place| known.places()[place as usize]);
                let places = places.iter().map(place).collect();
                Column::Words(Words::new(known.dictionary().to_vec(), places))
            }
            _ => Column::Words(Words::of(self.words(name)?)),
        })
    }

    fn words(&self, name: &str) -> Result<Vec<Option<&str>>> {
        match self {
            HeldColumn::Text(text) => text.words(name),
            HeldColumn::Coded(text, places) => {
                let word = |place: &Option<u32>| place.map_or(Ok(None), |place| text.word(name, place as usize));
                places.iter().map(word).collect()
            }
            HeldColumn::Nothing(_, values, _) | HeldColumn::Numbers(values, _) => Ok(vec![None; values.len()]),
        }
    }
}

/// Text as bytes, since only a look tells whether those from elsewhere are UTF-8.
struct Text(ArrayRef);

impl Text {
    fn of(array: &ArrayRef) -> Option<Self> {
        Some(Self(match array.data_type() {
            DataType::Utf8 => Arc::new(BinaryArray::from(array.as_string::<i32>().clone())),
            DataType::LargeUtf8 => Arc::new(LargeBinaryArray::from(array.as_string::<i64>().clone())),
            DataType::Utf8View => Arc::new(array.as_string_view().clone().to_binary_view()),
            _ => return None,
        }))
    }

    fn rows(&self) -> usize {
        self.0.len()
    }

    fn word(&self, name: &str, row: usize) -> Result<Option<&str>> {
        if self.0.is_null(row) {
            return Ok(None);
        }
        let bytes = match self.0.data_type() {
            DataType::Binary => self.0.as_binary::<i32>().value(row),
            DataType::LargeBinary => self.0.as_binary::<i64>().value(row),
            _ => self.0.as_binary_view().value(row),
        };
        core::str::from_utf8(bytes).map(Some).map_err(|why| Error::Conflict {
            code: Code::StreamBroken,
            detail: format!("Column {name} holds bytes that are no text: {why}."),
            hint: "The program that made the table is at fault.".to_owned(),
        })
    }

    fn words(&self, name: &str) -> Result<Vec<Option<&str>>> {
        (0..self.rows()).map(|row| self.word(name, row)).collect()
    }
}

/// The float of a whole number, where it is that number exactly.
pub(crate) fn exact(whole: i128) -> Option<f64> {
    let float = whole as f64;
    (float as i128 == whole).then_some(float)
}

/// Powers of ten that a float holds exactly.
const POWERS: [f64; 23] = [
    1e0, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8, 1e9, 1e10, 1e11, 1e12, 1e13, 1e14, 1e15, 1e16, 1e17, 1e18, 1e19, 1e20,
    1e21, 1e22,
];

/// The float nearest to `digits * 10^-scale`, where both are held exactly, so that the quotient is rounded once.
fn decimal(mut digits: i128, scale: i8) -> Option<f64> {
    let mut scale = i32::from(scale);
    while scale > 0 && digits % 10 == 0 {
        (digits, scale) = (digits / 10, scale - 1);
    }
    if scale < 0 {
        return exact(digits.checked_mul(10_i128.checked_pow(scale.unsigned_abs())?)?);
    }
    Some(exact(digits)? / POWERS.get(usize::try_from(scale).ok()?)?)
}

/// A column on its way in, for the words of a refusal.
struct Source<'a> {
    name: &'a str,
    first_row: u64,
}

impl Source<'_> {
    fn column(&self, kind: Kind, array: &ArrayRef) -> Result<HeldColumn> {
        if array.data_type() == &DataType::Null {
            return Ok(HeldColumn::nothing(kind, array.len()));
        }
        if let Some((values, places)) = coded(array) {
            if let Some(text) = Text::of(&values) {
                return Ok(HeldColumn::Coded(text, places));
            }
            return match self.column(kind, &values)? {
                HeldColumn::Numbers(numbers, nulls) => Ok(gathered(&numbers, nulls.as_ref(), &places)),
                HeldColumn::Text(words) => Ok(HeldColumn::Coded(words, places)),
                HeldColumn::Nothing(kind, ..) => Ok(HeldColumn::nothing(kind, places.len())),
                HeldColumn::Coded(..) => Err(self.type_of(kind, array)),
            };
        }
        if let Some(text) = Text::of(array) {
            return Ok(HeldColumn::Text(text));
        }
        match kind {
            Kind::Numbers => self.numbers(array),
            Kind::Words => self.names(array),
        }
    }

    fn numbers(&self, array: &ArrayRef) -> Result<HeldColumn> {
        if let Some(numbers) = array.as_primitive_opt::<Float64Type>() {
            return Ok(HeldColumn::Numbers(numbers.values().clone(), numbers.nulls().cloned()));
        }
        match array.data_type() {
            DataType::Float32 => self.cast::<Float32Type>(array, |value| Some(f64::from(value))),
            DataType::Float16 => self.cast::<Float16Type>(array, |value| Some(value.to_f64())),
            DataType::Decimal32(_, scale) => self.cast::<Decimal32Type>(array, |it| decimal(it.into(), *scale)),
            DataType::Decimal64(_, scale) => self.cast::<Decimal64Type>(array, |it| decimal(it.into(), *scale)),
            DataType::Decimal128(_, scale) => self.cast::<Decimal128Type>(array, |it| decimal(it, *scale)),
            DataType::Decimal256(_, scale) => {
                self.cast::<Decimal256Type>(array, |it| it.to_i128().and_then(|digits| decimal(digits, *scale)))
            }
            _ => match whole(array) {
                Some(whole) => self.gather(array, whole, exact),
                None => Err(self.type_of(Kind::Numbers, array)),
            },
        }
    }

    /// Names that are whole numbers, or times, which are written as ISO 8601 writes them.
    fn names(&self, array: &ArrayRef) -> Result<HeldColumn> {
        if let Some(times) = times(array) {
            return Ok(HeldColumn::Text(Text(Arc::new(BinaryArray::from(times)))));
        }
        let whole = whole(array).ok_or_else(|| self.type_of(Kind::Words, array))?;
        let words: StringArray = whole.map(|number| number.map(|number| number.to_string())).collect();
        Ok(HeldColumn::Text(Text(Arc::new(BinaryArray::from(words)))))
    }

    fn cast<T: ArrowPrimitiveType>(
        &self,
        array: &ArrayRef,
        float: impl Fn(T::Native) -> Option<f64>,
    ) -> Result<HeldColumn> {
        self.gather(array, array.as_primitive::<T>().iter(), float)
    }

    fn gather<T: Copy>(
        &self,
        array: &ArrayRef,
        cells: impl Iterator<Item = Option<T>>,
        float: impl Fn(T) -> Option<f64>,
    ) -> Result<HeldColumn> {
        let mut numbers = Vec::with_capacity(array.len());
        for (row, cell) in cells.enumerate() {
            numbers.push(match cell {
                Some(cell) => float(cell).ok_or_else(|| self.inexact(array, row))?,
                None => f64::NAN,
            });
        }
        Ok(HeldColumn::Numbers(numbers.into(), array.nulls().cloned()))
    }

    fn inexact(&self, array: &ArrayRef, row: usize) -> Error {
        inexact(self.name, self.first_row + row as u64, &shown(array, row))
    }

    fn type_of(&self, kind: Kind, array: &ArrayRef) -> Error {
        column_type(self.name, kind, &array.data_type().to_string())
    }
}

/// A number that no float is.
pub(crate) fn inexact(name: &str, row: u64, number: &str) -> Error {
    Error::Conflict {
        code: Code::NumberInexact,
        detail: format!(
            "Column {name}, row {row} (the first is 0): a float of 64 bits does not hold {number} exactly."
        ),
        hint:
            "Whole numbers are exact up to 9007199254740992, decimals up to 15 digits; is this a key or a time, not a \
               measured number?"
                .to_owned(),
    }
}

/// A type that cannot be read as what a column must hold.
pub(crate) fn column_type(name: &str, kind: Kind, found: &str) -> Error {
    let (belongs, hint) = match kind {
        Kind::Numbers => {
            ("numbers", "Give floats, whole numbers or decimals; text only where a limit is meant (\"<0.01\").")
        }
        Kind::Words => ("names or times", "Give text, whole numbers, or a column of dates or times."),
    };
    Error::Conflict {
        code: Code::ColumnType,
        detail: format!("Column {name} is of type {found} where {belongs} belong."),
        hint: hint.to_owned(),
    }
}

fn shown(array: &ArrayRef, row: usize) -> String {
    match array.data_type() {
        DataType::Decimal32(..) => array.as_primitive::<Decimal32Type>().value_as_string(row),
        DataType::Decimal64(..) => array.as_primitive::<Decimal64Type>().value_as_string(row),
        DataType::Decimal128(..) => array.as_primitive::<Decimal128Type>().value_as_string(row),
        DataType::Decimal256(..) => array.as_primitive::<Decimal256Type>().value_as_string(row),
        _ => whole(array).and_then(|mut whole| whole.nth(row).flatten()).map(|it| it.to_string()).unwrap_or_default(),
    }
}

/// An array of dates or times as text; with a zone they are given in UTC.
fn times(array: &ArrayRef) -> Option<StringArray> {
    fn of<T: ArrowTemporalType>(array: &ArrayRef, zoned: bool) -> StringArray
    where
        i64: From<T::Native>,
    {
        let (times, zone) = (array.as_primitive::<T>(), if zoned { "Z" } else { "" });
        let text = |row: usize| times.value_as_datetime(row).map(|time| format!("{time:?}{zone}"));
        (0..times.len()).map(|row| text(row).filter(|_| times.is_valid(row))).collect()
    }
    Some(match array.data_type() {
        DataType::Timestamp(TimeUnit::Second, zone) => of::<TimestampSecondType>(array, zone.is_some()),
        DataType::Timestamp(TimeUnit::Millisecond, zone) => of::<TimestampMillisecondType>(array, zone.is_some()),
        DataType::Timestamp(TimeUnit::Microsecond, zone) => of::<TimestampMicrosecondType>(array, zone.is_some()),
        DataType::Timestamp(TimeUnit::Nanosecond, zone) => of::<TimestampNanosecondType>(array, zone.is_some()),
        DataType::Date32 => of::<Date32Type>(array, false),
        DataType::Date64 => of::<Date64Type>(array, false),
        _ => return None,
    })
}

/// The numbers of an array of whole numbers.
fn whole(array: &ArrayRef) -> Option<Box<dyn Iterator<Item = Option<i128>> + '_>> {
    fn of<T: ArrowPrimitiveType>(array: &ArrayRef) -> Box<dyn Iterator<Item = Option<i128>> + '_>
    where
        T::Native: Into<i128>,
    {
        Box::new(array.as_primitive::<T>().iter().map(|cell| cell.map(Into::into)))
    }
    Some(match array.data_type() {
        DataType::Int8 => of::<Int8Type>(array),
        DataType::Int16 => of::<Int16Type>(array),
        DataType::Int32 => of::<Int32Type>(array),
        DataType::Int64 => of::<Int64Type>(array),
        DataType::UInt8 => of::<UInt8Type>(array),
        DataType::UInt16 => of::<UInt16Type>(array),
        DataType::UInt32 => of::<UInt32Type>(array),
        DataType::UInt64 => of::<UInt64Type>(array),
        _ => return None,
    })
}

/// The values of a dictionary or of runs, and for each row its place among them.
fn coded(array: &ArrayRef) -> Option<(ArrayRef, Vec<Option<u32>>)> {
    fn runs<R: RunEndIndexType>(array: &ArrayRef) -> (ArrayRef, Vec<Option<u32>>) {
        let runs = array.as_run::<R>();
        let place = |row| u32::try_from(runs.get_physical_index(row)).ok();
        (runs.values().clone(), (0..runs.len()).map(place).collect())
    }
    match array.data_type() {
        DataType::Dictionary(..) => {
            let dictionary = array.as_any_dictionary();
            let keys = dictionary.keys();
            if dictionary.values().is_empty() {
                return Some((dictionary.values().clone(), vec![None; keys.len()]));
            }
            let places = dictionary.normalized_keys().into_iter().enumerate();
            let place = |(row, place)| u32::try_from(place).ok().filter(|_| keys.is_valid(row));
            Some((dictionary.values().clone(), places.map(place).collect()))
        }
        DataType::RunEndEncoded(ends, _) => match ends.data_type() {
            DataType::Int16 => Some(runs::<Int16Type>(array)),
            DataType::Int32 => Some(runs::<Int32Type>(array)),
            DataType::Int64 => Some(runs::<Int64Type>(array)),
            _ => None,
        },
        _ => None,
    }
}

fn gathered(numbers: &[f64], nulls: Option<&NullBuffer>, places: &[Option<u32>]) -> HeldColumn {
    let there = |place: &u32| nulls.is_none_or(|nulls| nulls.is_valid(*place as usize));
    let cells = || places.iter().map(|place| place.filter(there));
    let values: Vec<f64> =
        cells().map(|place| place.and_then(|place| numbers.get(place as usize).copied()).unwrap_or(f64::NAN)).collect();
    let valid: Vec<bool> = cells().map(|place| place.is_some()).collect();
    HeldColumn::Numbers(values.into(), Some(NullBuffer::from(valid)))
}
