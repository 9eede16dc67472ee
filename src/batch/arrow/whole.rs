//! All chunks of a table as one, for what cannot look at them one by one.

use super::read::Held;
use crate::batch::column::{Bits, Column, Columns, Numbers, Words};
use crate::batch::job::Kind;
use crate::error::Result;
use arrow_array::RecordBatch;
use arrow_schema::DataType;

/// The columns of numbers and words of a table.
pub(crate) struct Whole {
    rows: usize,
    chunks: Vec<Held>,
    columns: Vec<(String, Gathered)>,
}

enum Gathered {
    Numbers(Vec<f64>, Vec<u8>),
    Words,
}

impl Whole {
    /// Reads the chunks; the column `ids` as words where it can be, columns that are neither numbers nor words not at all.
    pub(crate) fn read(batches: &[RecordBatch], ids: &str) -> Result<Self> {
        let rows = batches.iter().map(RecordBatch::num_rows).sum();
        let Some(first) = batches.first() else { return Ok(Self { rows, chunks: Vec::new(), columns: Vec::new() }) };
        let fields = first.schema_ref().fields().iter().filter(|field| holds(field.data_type()).is_some());
        let kind = |name: &str, held: &DataType| match holds(held) {
            Some(Holds::Measures) => Kind::Numbers,
            _ if name == ids => Kind::Words,
            _ => Kind::Numbers, // text is handed on as words all the same
        };
        let wanted: Vec<(String, Kind)> =
            fields.map(|field| (field.name().clone(), kind(field.name(), field.data_type()))).collect();
        let chunks: Vec<Held> = batches.iter().map(|batch| Held::read(&wanted, batch, 0)).collect::<Result<_>>()?;
        let columns = wanted.into_iter().map(|(name, _)| Ok((name.clone(), gathered(&chunks, &name, rows)?)));
        Ok(Self { rows, columns: columns.collect::<Result<_>>()?, chunks })
    }

    pub(crate) fn columns(&self) -> Result<Columns<'_>> {
        let mut columns = Columns::new(self.rows);
        for (name, held) in &self.columns {
            let column = match held {
                Gathered::Numbers(values, bits) => {
                    Column::Numbers(Numbers::new(values).valid(Bits::new(bits, 0, self.rows)?))
                }
                Gathered::Words => {
                    let words = self.chunks.iter().map(|held| held.words(name)).collect::<Result<Vec<_>>>()?;
                    Column::Words(Words::of(words.into_iter().flatten()))
                }
            };
            columns.push(name.as_str(), column)?;
        }
        Ok(columns)
    }
}

fn gathered(chunks: &[Held], name: &str, rows: usize) -> Result<Gathered> {
    let (mut values, mut bits, mut row) = (Vec::with_capacity(rows), vec![0_u8; rows.div_ceil(8)], 0);
    for chunk in chunks {
        let Some(numbers) = chunk.numbers(name)? else { return Ok(Gathered::Words) };
        for place in 0..numbers.values().len() {
            let number = numbers.get(place);
            values.push(number.unwrap_or(f64::NAN));
            bits[row / 8] |= u8::from(number.is_some()) << (row % 8);
            row += 1;
        }
    }
    Ok(Gathered::Numbers(values, bits))
}

/// What a column of a type can be read as.
enum Holds {
    Measures,
    Names,
}

fn holds(kind: &DataType) -> Option<Holds> {
    match kind {
        DataType::Dictionary(_, values) => holds(values),
        DataType::RunEndEncoded(_, values) => holds(values.data_type()),
        DataType::Utf8 | DataType::LargeUtf8 | DataType::Utf8View | DataType::Null => Some(Holds::Names),
        kind if kind.is_integer() => Some(Holds::Names),
        kind if kind.is_numeric() => Some(Holds::Measures),
        _ => None,
    }
}
