//! Plain arrays: masks, whole numbers, words.

use std::borrow::Cow;

use crate::batch::arrow::names;
use crate::batch::arrow::read::{exact, inexact};
use crate::batch::{Bits, Column, Columns, Corrected, Numbers, RunOptions, TableJob, Words};
use crate::error::Result;

/// A borrowed plain array.
pub(super) enum Plain<'a, W> {
    /// Numbers, and which of them are masked.
    Numbers(&'a [f64], Option<&'a [bool]>),
    /// Words.
    Words(&'a [Option<W>]),
    /// For each row the place of its word.
    Coded(&'a [u32], &'a [String]),
}

impl<W> Plain<'_, W> {
    /// Whether these numbers lie where some of the others lie.
    pub(super) fn shares(&self, others: &[f64]) -> bool {
        let Plain::Numbers(numbers, _) = self else { return false };
        let (own, theirs) = (numbers.as_ptr_range(), others.as_ptr_range());
        own.start < theirs.end && theirs.start < own.end
    }

    fn rows(&self) -> usize {
        match self {
            Plain::Numbers(numbers, _) => numbers.len(),
            Plain::Words(words) => words.len(),
            Plain::Coded(places, _) => places.len(),
        }
    }
}

impl<W: AsRef<str>> Plain<'_, W> {
    fn bits(&self, nan_is_null: bool) -> Option<Vec<u8>> {
        match self {
            Plain::Numbers(numbers, mask) if nan_is_null => without_nan(numbers, *mask),
            Plain::Numbers(_, mask) => mask.map(bits_of),
            Plain::Words(_) | Plain::Coded(..) => None,
        }
    }

    fn word(&self, row: usize) -> Option<&str> {
        match self {
            Plain::Words(words) => words[row].as_ref().map(AsRef::as_ref),
            Plain::Coded(places, words) => Some(&words[places[row] as usize]),
            Plain::Numbers(..) => None,
        }
    }

    fn words(&self) -> impl Iterator<Item = Option<&str>> + Clone {
        (0..self.rows()).map(|row| self.word(row))
    }

    /// The column; with `own`, each row has a word of its own.
    fn column<'a>(&'a self, bits: Option<&'a Vec<u8>>, own: bool) -> Result<Column<'a>> {
        Ok(match (self, bits) {
            (Plain::Numbers(numbers, _), None) => Column::Numbers(Numbers::new(numbers)),
            (Plain::Numbers(numbers, _), Some(bits)) => {
                Column::Numbers(Numbers::new(numbers).valid(Bits::new(bits, 0, numbers.len())?))
            }
            (Plain::Words(_) | Plain::Coded(..), _) if own => Column::Words(names::each(self.words())),
            (Plain::Words(_), _) => Column::Words(Words::of(self.words())),
            (Plain::Coded(places, words), _) => {
                let words = words.iter().map(String::as_str).collect();
                Column::Words(Words::new(words, places.iter().map(|&place| Some(place)).collect()))
            }
        })
    }
}

/// How many rows plain columns have.
pub(super) fn rows_of<W>(list: &[(&str, Plain<'_, W>)]) -> usize {
    list.first().map_or(0, |(_, plain)| plain.rows())
}

/// Runs plain columns; NaN is taken for null where that is how a table marks it.
pub(super) fn correct_plain<W: AsRef<str>>(
    job: &dyn TableJob,
    list: &[(&str, Plain<'_, W>)],
    nan_is_null: bool,
    options: &RunOptions<'_>,
    out: Option<&mut [f64]>,
) -> Result<Corrected> {
    let own = job.identity();
    let named = list.iter().find(|(name, _)| own == Some(*name));
    let found = named.map(|(_, plain)| names::doubled(plain.words().flatten()));
    let options = RunOptions { doubled: options.doubled.or(found.as_ref()), ..options.clone() };
    with_columns(list, nan_is_null, own, |columns| job.run_rows(columns, &options, out))
}

/// Lends plain columns, which have their names from a dict; each row of the column `own` has a word of its own.
pub(super) fn with_columns<W: AsRef<str>, R>(
    list: &[(&str, Plain<'_, W>)],
    nan_is_null: bool,
    own: Option<&str>,
    run: impl FnOnce(&Columns<'_>) -> Result<R>,
) -> Result<R> {
    let bits: Vec<Option<Vec<u8>>> = list.iter().map(|(_, plain)| plain.bits(nan_is_null)).collect();
    let mut columns = Columns::with_room(rows_of(list), list.len());
    for ((name, plain), bits) in list.iter().zip(&bits) {
        columns.push_named(Cow::Borrowed(name), plain.column(bits.as_ref(), own == Some(*name))?)?;
    }
    run(&columns)
}

/// The bits of the cells that are not masked.
fn bits_of(mask: &[bool]) -> Vec<u8> {
    let byte = |cells: &[bool]| cells.iter().rev().fold(0, |byte, &masked| byte << 1 | u8::from(!masked));
    mask.chunks(8).map(byte).collect()
}

/// The bits of the cells that are not masked and not NaN; nothing where all are there.
fn without_nan(numbers: &[f64], mask: Option<&[bool]>) -> Option<Vec<u8>> {
    if mask.is_none() && !numbers.iter().any(|number| number.is_nan()) {
        return None;
    }
    let masked = |(row, number): (usize, &f64)| number.is_nan() || mask.is_some_and(|mask| mask[row]);
    Some(bits_of(&numbers.iter().enumerate().map(masked).collect::<Vec<bool>>()))
}

/// Whole numbers as floats; a masked cell is NaN.
pub(super) fn exact_all<T: Copy + Into<i128>>(name: &str, whole: &[T], mask: Option<&[bool]>) -> Result<Vec<f64>> {
    let cast = |(row, &number): (usize, &T)| {
        if mask.is_some_and(|mask| mask[row]) {
            return Ok(f64::NAN);
        }
        exact(number.into()).ok_or_else(|| inexact(name, row as u64, &number.into().to_string()))
    };
    whole.iter().enumerate().map(cast).collect()
}

/// Whether the cells of a column of results are null; nothing where all are there.
pub(super) fn nulls(done: &Corrected, column: usize) -> Option<Vec<bool>> {
    let bits = Bits::new(done.valid(column)?, 0, done.rows()).ok()?;
    Some((0..done.rows()).map(|row| !bits.get(row)).collect())
}
