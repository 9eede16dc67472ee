//! Borrowed columns of a table: numbers with a bitmap of what is there, and words.

use std::borrow::Cow;

use crate::code::Code;
use crate::error::{Error, Result};

/// Which cells of a column are there: bit `offset + row` of the bytes, least significant bit first, one for "there" (the
/// layout of Apache Arrow).
///
/// ```
/// use beadchem::batch::Bits;
/// let bits = Bits::new(&[0b0000_0101], 0, 3)?;
/// assert!(bits.get(0) && !bits.get(1) && bits.get(2));
/// # Ok::<(), beadchem::Error>(())
/// ```
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Bits<'a> {
    bytes: &'a [u8],
    offset: usize,
}

impl<'a> Bits<'a> {
    /// The bits of `rows` cells.
    ///
    /// # Errors
    /// `shape.mismatch` where the bytes are too few.
    ///
    /// ```
    /// assert!(beadchem::batch::Bits::new(&[0xff], 4, 8).is_err());
    /// ```
    pub fn new(bytes: &'a [u8], offset: usize, rows: usize) -> Result<Self> {
        let needed = offset.saturating_add(rows).div_ceil(8);
        if bytes.len() < needed {
            return Err(Error::shape("Bytes of a bitmap", needed, bytes.len(), "One bit per row, eight to a byte."));
        }
        Ok(Self { bytes, offset })
    }

    pub(crate) fn bytes(&self) -> &'a [u8] {
        self.bytes
    }

    pub(crate) fn offset(&self) -> usize {
        self.offset
    }

    /// Whether the cell of a row is there; false past the end.
    ///
    /// ```
    /// assert!(!beadchem::batch::Bits::new(&[1], 0, 1)?.get(8));
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    #[inline]
    pub fn get(&self, row: usize) -> bool {
        let bit = self.offset + row;
        self.bytes.get(bit / 8).is_some_and(|byte| byte >> (bit % 8) & 1 == 1)
    }
}

/// A column of numbers; a cell whose bit is not set is null, whatever number lies under it.
///
/// ```
/// use beadchem::batch::{Bits, Numbers};
/// let column = Numbers::new(&[0.8, 0.0]).valid(Bits::new(&[0b01], 0, 2)?);
/// assert_eq!((column.get(0), column.get(1)), (Some(0.8), None));
/// # Ok::<(), beadchem::Error>(())
/// ```
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Numbers<'a> {
    values: &'a [f64],
    valid: Option<Bits<'a>>,
}

impl<'a> Numbers<'a> {
    /// Numbers that are all there.
    ///
    /// ```
    /// assert_eq!(beadchem::batch::Numbers::new(&[1.0]).get(0), Some(1.0));
    /// ```
    #[must_use]
    pub fn new(values: &'a [f64]) -> Self {
        Self { values, valid: None }
    }

    /// With the bitmap of those that are there.
    ///
    /// ```
    /// use beadchem::batch::{Bits, Numbers};
    /// assert_eq!(Numbers::new(&[1.0]).valid(Bits::new(&[0], 0, 1)?).get(0), None);
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn valid(mut self, valid: Bits<'a>) -> Self {
        self.valid = Some(valid);
        self
    }

    /// The number of a row; nothing where it is null or past the end.
    ///
    /// ```
    /// assert_eq!(beadchem::batch::Numbers::new(&[1.0]).get(1), None);
    /// ```
    #[must_use]
    #[inline]
    pub fn get(&self, row: usize) -> Option<f64> {
        match self.valid {
            Some(valid) if !valid.get(row) => None,
            _ => self.values.get(row).copied(),
        }
    }

    /// The numbers as they lie there, nulls included.
    ///
    /// ```
    /// assert_eq!(beadchem::batch::Numbers::new(&[1.0]).values(), [1.0]);
    /// ```
    #[must_use]
    pub fn values(&self) -> &'a [f64] {
        self.values
    }

    /// The bitmap.
    ///
    /// ```
    /// assert!(beadchem::batch::Numbers::new(&[1.0]).bits().is_none());
    /// ```
    #[must_use]
    pub fn bits(&self) -> Option<Bits<'a>> {
        self.valid
    }
}

/// A column of words: a dictionary and, for each row, the place of its word in it.
///
/// ```
/// use beadchem::batch::Words;
/// let lots = Words::new(vec!["F-118", "F-121"], vec![Some(0), Some(1), None].into());
/// assert_eq!((lots.get(1), lots.get(2)), (Some("F-121"), None));
/// ```
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Words<'a> {
    dictionary: Vec<&'a str>,
    places: Vec<Option<u32>>,
}

impl<'a> Words<'a> {
    /// Words by their places in a dictionary.
    ///
    /// ```
    /// assert_eq!(beadchem::batch::Words::new(vec!["a"], vec![Some(0)]).get(0), Some("a"));
    /// ```
    #[must_use]
    pub fn new(dictionary: Vec<&'a str>, places: Vec<Option<u32>>) -> Self {
        Self { dictionary, places }
    }

    /// Words row by row; the dictionary is made of them.
    ///
    /// ```
    /// use beadchem::batch::Words;
    /// let lots = Words::of([Some("F-118"), Some("F-118"), None]);
    /// assert_eq!(lots.dictionary(), ["F-118"]);
    /// ```
    pub fn of(words: impl IntoIterator<Item = Option<&'a str>>) -> Self {
        let mut known: std::collections::HashMap<&'a str, u32> = std::collections::HashMap::new();
        let (mut dictionary, mut places) = (Vec::new(), Vec::new());
        let mut last: Option<(&'a str, u32)> = None;
        for word in words {
            places.push(word.map(|word| match last {
                Some((held, place)) if held == word => place,
                _ => {
                    let place = *known.entry(word).or_insert_with(|| {
                        dictionary.push(word);
                        dictionary.len() as u32 - 1
                    });
                    last = Some((word, place));
                    place
                }
            }));
        }
        Self { dictionary, places }
    }

    /// The word of a row; nothing where it is null or past the end.
    ///
    /// ```
    /// assert_eq!(beadchem::batch::Words::of([None]).get(0), None);
    /// ```
    #[must_use]
    pub fn get(&self, row: usize) -> Option<&'a str> {
        let place = (*self.places.get(row)?)?;
        self.dictionary.get(place as usize).copied()
    }

    /// The different words.
    ///
    /// ```
    /// assert!(beadchem::batch::Words::of([None]).dictionary().is_empty());
    /// ```
    #[must_use]
    pub fn dictionary(&self) -> &[&'a str] {
        &self.dictionary
    }

    /// For each row the place of its word in the dictionary.
    ///
    /// ```
    /// assert_eq!(beadchem::batch::Words::of([Some("a"), None]).places(), [Some(0), None]);
    /// ```
    #[must_use]
    pub fn places(&self) -> &[Option<u32>] {
        &self.places
    }
}

/// A column of a table.
///
/// ```
/// use beadchem::batch::{Column, Numbers};
/// assert_eq!(Column::Numbers(Numbers::new(&[0.8])).rows(), 1);
/// ```
#[derive(Debug, Clone, PartialEq)]
pub enum Column<'a> {
    /// Numbers.
    Numbers(Numbers<'a>),
    /// Words: names, or cells as they were written ("<0.01").
    Words(Words<'a>),
}

impl Column<'_> {
    /// How many rows it has.
    ///
    /// ```
    /// use beadchem::batch::{Column, Words};
    /// assert_eq!(Column::Words(Words::of([None])).rows(), 1);
    /// ```
    #[must_use]
    pub fn rows(&self) -> usize {
        match self {
            Column::Numbers(numbers) => numbers.values.len(),
            Column::Words(words) => words.places.len(),
        }
    }
}

/// The columns of a table, or of a part of it, by name.
///
/// ```
/// use beadchem::batch::{Column, Columns, Numbers};
/// let mut table = Columns::new(2);
/// table.push("sample_g", Column::Numbers(Numbers::new(&[0.8, 0.81])))?;
/// assert!(table.get("sample_g").is_some() && table.get("flux_g").is_none());
/// # Ok::<(), beadchem::Error>(())
/// ```
#[derive(Debug, Clone, PartialEq)]
pub struct Columns<'a> {
    rows: usize,
    first_row: u64,
    list: Vec<(Cow<'a, str>, Column<'a>)>,
}

impl<'a> Columns<'a> {
    /// A table of so many rows, without columns yet.
    ///
    /// ```
    /// assert_eq!(beadchem::batch::Columns::new(0).rows(), 0);
    /// ```
    #[must_use]
    pub fn new(rows: usize) -> Self {
        Self::with_room(rows, 0)
    }

    /// With room for so many columns.
    pub(crate) fn with_room(rows: usize, columns: usize) -> Self {
        Self { rows, first_row: 0, list: Vec::with_capacity(columns) }
    }

    /// Where this part of a table begins: findings count their rows from here.
    ///
    /// ```
    /// assert_eq!(beadchem::batch::Columns::new(8).starting_at(4096).first_row(), 4096);
    /// ```
    #[must_use]
    pub fn starting_at(mut self, first_row: u64) -> Self {
        self.first_row = first_row;
        self
    }

    /// Adds a column.
    ///
    /// # Errors
    /// `shape.mismatch` for another number of rows; `table.column-doubled` for a name that is there already.
    ///
    /// ```
    /// use beadchem::batch::{Column, Columns, Numbers};
    /// let column = Column::Numbers(Numbers::new(&[0.8, 0.81]));
    /// assert!(Columns::new(3).push("sample_g", column).is_err());
    /// ```
    pub fn push(&mut self, name: impl Into<Cow<'a, str>>, column: Column<'a>) -> Result<()> {
        let name = name.into();
        if self.get(&name).is_some() {
            return Err(Error::Conflict {
                code: Code::ColumnDoubled,
                detail: format!("The table has two columns named {name}."),
                hint: "Name them apart: which one is meant cannot be guessed.".to_owned(),
            });
        }
        self.push_named(name, column)
    }

    /// Adds a column whose name is known to be the only one.
    ///
    /// # Errors
    /// `shape.mismatch` where it has more or fewer rows than the table.
    pub(crate) fn push_named(&mut self, name: Cow<'a, str>, column: Column<'a>) -> Result<()> {
        fits(&name, self.rows, &column)?;
        self.list.push((name, column));
        Ok(())
    }

    /// How many rows there are.
    ///
    /// ```
    /// assert_eq!(beadchem::batch::Columns::new(8).rows(), 8);
    /// ```
    #[must_use]
    pub fn rows(&self) -> usize {
        self.rows
    }

    /// The number of the first row in the whole table.
    ///
    /// ```
    /// assert_eq!(beadchem::batch::Columns::new(8).first_row(), 0);
    /// ```
    #[must_use]
    pub fn first_row(&self) -> u64 {
        self.first_row
    }

    /// The column of a name.
    ///
    /// ```
    /// assert!(beadchem::batch::Columns::new(8).get("sample_g").is_none());
    /// ```
    #[must_use]
    pub fn get(&self, name: &str) -> Option<&Column<'a>> {
        self.find(name, 0).map(|place| &self.list[place].1)
    }

    /// The place of a name; columns often stand in the order they are asked for, so `likely` is looked at first.
    pub(crate) fn find(&self, name: &str, likely: usize) -> Option<usize> {
        // most names differ in their first letter: no call is made for those
        let letter = name.as_bytes().first();
        let is = |place: &usize| {
            self.list.get(*place).is_some_and(|(held, _)| held.as_bytes().first() == letter && held == name)
        };
        Some(likely).filter(is).or_else(|| (0..self.list.len()).find(is))
    }

    /// The column of a place that was found.
    pub(crate) fn at(&self, place: usize) -> &Column<'a> {
        &self.list[place].1
    }

    /// The names of the columns, in order.
    ///
    /// ```
    /// assert_eq!(beadchem::batch::Columns::new(8).names().count(), 0);
    /// ```
    pub fn names(&self) -> impl ExactSizeIterator<Item = &str> {
        self.list.iter().map(|(name, _)| &**name)
    }
}

fn fits(name: &str, rows: usize, column: &Column<'_>) -> Result<()> {
    if column.rows() == rows {
        return Ok(());
    }
    let what = format!("Rows of column {name}");
    Err(Error::shape(&what, rows, column.rows(), "All columns of a table have as many rows."))
}
