//! What two runs of a table have in common and where they part, row by row and result by result.

use std::collections::HashMap;

use crate::batch::corrected::Corrected;
use crate::batch::versions::VersionChange;
use crate::code::Code;
use crate::table::{Cell, Column as Heading, Table};

/// How a column of results differs between two runs.
///
/// ```
/// use beadchem::batch::{Columns, Comparison, Difference};
/// let nothing: Vec<Difference> = Comparison::new().run(&Columns::new(0), &Columns::new(0))?.differences().to_vec();
/// assert!(nothing.is_empty());
/// # Ok::<(), beadchem::Error>(())
/// ```
#[derive(Debug, Clone, PartialEq)]
pub struct Difference {
    /// The column.
    pub column: String,
    /// Rows with a number in both runs.
    pub compared: usize,
    /// Of those, rows that moved by more than the tolerance.
    pub moved: usize,
    /// The largest change, new less old, with its sign.
    pub largest: f64,
    /// The row it stands in; nothing where no row moved.
    pub largest_row: Option<u64>,
    /// The same change in units of the old u, where there is one.
    pub largest_per_u: Option<f64>,
    /// Rows with a number in the new run only.
    pub appeared: usize,
    /// Rows with a number in the old run only.
    pub gone: usize,
    /// Rows that are on the other side of a limit than before.
    pub crossed: usize,
    /// Inputs that differ in rows that moved, with the number of those rows, the most frequent first.
    pub with_inputs: Vec<(String, usize)>,
    /// What else the results rest on that has another version, with the number of rows that moved and can have moved with it.
    pub with_versions: Vec<(String, usize)>,
    /// Rows that moved though nothing is known to differ.
    pub unexplained: usize,
}

impl Difference {
    pub(crate) fn new(column: &str) -> Self {
        Self {
            column: column.to_owned(),
            compared: 0,
            moved: 0,
            largest: 0.0,
            largest_row: None,
            largest_per_u: None,
            appeared: 0,
            gone: 0,
            crossed: 0,
            with_inputs: Vec::new(),
            with_versions: Vec::new(),
            unexplained: 0,
        }
    }

    /// Whether the column is the same in both runs, within the tolerance.
    ///
    /// ```
    /// use beadchem::batch::{compare, example_table};
    /// let table = example_table(8)?;
    /// assert!(compare(&table.columns()?, &table.columns()?, &["flux_g"], 0.0)?[0].is_none());
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn is_none(&self) -> bool {
        self.moved == 0 && self.appeared == 0 && self.gone == 0
    }
}

/// For each row a few names out of a list; rows with the same names share one text.
#[derive(Debug, Clone, Default, PartialEq)]
pub(crate) struct Named {
    known: HashMap<Vec<usize>, u32>,
    pub(crate) dictionary: Vec<String>,
    pub(crate) places: Vec<Option<u32>>,
}

impl Named {
    /// The names of the next row, by their places in the list; none is null.
    pub(crate) fn push<'n>(&mut self, held: &[usize], name: impl Fn(usize) -> &'n str) {
        let place = if held.is_empty() {
            None
        } else if let Some(place) = self.known.get(held) {
            Some(*place)
        } else {
            let place = self.dictionary.len() as u32;
            self.dictionary.push(held.iter().map(|&place| name(place)).collect::<Vec<_>>().join(", "));
            self.known.insert(held.to_vec(), place);
            Some(place)
        };
        self.places.push(place);
    }

    fn get(&self, row: usize) -> Option<&str> {
        let place = (*self.places.get(row)?)?;
        self.dictionary.get(place as usize).map(String::as_str)
    }
}

/// Two runs beside each other.
///
/// ```
/// use beadchem::batch::{Comparison, example_table};
/// let table = example_table(8)?;
/// let same = Comparison::new().results(&["Ca_Ka_cps"]).run(&table.columns()?, &table.columns()?)?;
/// assert!(same.is_same() && same.rows().len() == 8);
/// # Ok::<(), beadchem::Error>(())
/// ```
#[derive(Debug, Clone, PartialEq)]
pub struct Compared {
    pub(crate) by: Option<String>,
    pub(crate) ids: Vec<Option<String>>,
    pub(crate) pairs: Vec<[Option<usize>; 2]>,
    pub(crate) numbers: Corrected,
    pub(crate) moved: Named,
    pub(crate) moved_with: Named,
    pub(crate) differences: Vec<Difference>,
    pub(crate) versions: Option<Vec<VersionChange>>,
    pub(crate) only: [Vec<String>; 2],
    pub(crate) results_only: [Vec<String>; 2],
}

impl Compared {
    /// For each row its place in the old and in the new table: the rows of the old one in their order, then those that only
    /// the new one has.
    ///
    /// ```
    /// use beadchem::batch::{Columns, Comparison};
    /// assert!(Comparison::new().run(&Columns::new(0), &Columns::new(0))?.rows().is_empty());
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn rows(&self) -> &[[Option<usize>; 2]] {
        &self.pairs
    }

    /// The column rows were joined by; nothing where they were taken in their order.
    ///
    /// ```
    /// use beadchem::batch::{Columns, Comparison};
    /// assert_eq!(Comparison::new().run(&Columns::new(0), &Columns::new(0))?.joined_by(), None);
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn joined_by(&self) -> Option<&str> {
        self.by.as_deref()
    }

    /// The id of a row, where rows were joined by one.
    ///
    /// ```
    /// use beadchem::batch::{Columns, Comparison};
    /// assert_eq!(Comparison::new().run(&Columns::new(0), &Columns::new(0))?.id(0), None);
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn id(&self, row: usize) -> Option<&str> {
        self.ids.get(row)?.as_deref()
    }

    /// For each result old, new, change and change in units of the old u; findings name limits crossed and rows that only
    /// one table has.
    ///
    /// ```
    /// use beadchem::batch::{Comparison, example_table};
    /// let table = example_table(8)?;
    /// let same = Comparison::new().results(&["flux_g"]).run(&table.columns()?, &table.columns()?)?;
    /// assert_eq!(same.numbers().column("flux_g_change").unwrap().get(7), Some(0.0));
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn numbers(&self) -> &Corrected {
        &self.numbers
    }

    /// The results of a row that moved, came or went, as one text.
    ///
    /// ```
    /// use beadchem::batch::{Columns, Comparison};
    /// assert_eq!(Comparison::new().run(&Columns::new(0), &Columns::new(0))?.moved(0), None);
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn moved(&self, row: usize) -> Option<&str> {
        self.moved.get(row)
    }

    /// What differs in a row that moved, as one text: inputs, and versions that can have moved it.
    ///
    /// ```
    /// use beadchem::batch::{Columns, Comparison};
    /// assert_eq!(Comparison::new().run(&Columns::new(0), &Columns::new(0))?.moved_with(0), None);
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn moved_with(&self, row: usize) -> Option<&str> {
        self.moved_with.get(row)
    }

    /// One entry for each result.
    ///
    /// ```
    /// use beadchem::batch::{Columns, Comparison};
    /// assert!(Comparison::new().run(&Columns::new(0), &Columns::new(0))?.differences().is_empty());
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn differences(&self) -> &[Difference] {
        &self.differences
    }

    /// What the results rest on in other versions; nothing where it is not known of both tables.
    ///
    /// ```
    /// use beadchem::batch::{Columns, Comparison};
    /// assert!(Comparison::new().run(&Columns::new(0), &Columns::new(0))?.versions().is_none());
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn versions(&self) -> Option<&[VersionChange]> {
        self.versions.as_deref()
    }

    /// Columns that only the old and that only the new table has.
    ///
    /// ```
    /// use beadchem::batch::{Columns, Comparison};
    /// assert!(Comparison::new().run(&Columns::new(0), &Columns::new(0))?.columns_in_one()[0].is_empty());
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn columns_in_one(&self) -> &[Vec<String>; 2] {
        &self.only
    }

    /// How many rows only the old and only the new table has, those that could not be joined included.
    ///
    /// ```
    /// use beadchem::batch::{Columns, Comparison};
    /// assert_eq!(Comparison::new().run(&Columns::new(0), &Columns::new(0))?.rows_in_one(), [0, 0]);
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn rows_in_one(&self) -> [usize; 2] {
        [1, 0].map(|other| self.pairs.iter().filter(|pair| pair[other].is_none()).count())
    }

    /// The rows that only one table has, those that could not be joined included.
    ///
    /// ```
    /// use beadchem::batch::{Columns, Comparison};
    /// assert_eq!(Comparison::new().run(&Columns::new(0), &Columns::new(0))?.unpaired().count(), 0);
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    pub fn unpaired(&self) -> impl Iterator<Item = usize> {
        (0..self.pairs.len()).filter(|&row| self.pairs[row].contains(&None))
    }

    /// Whether both tables have the same rows and results, within the tolerance.
    ///
    /// ```
    /// use beadchem::batch::{Columns, Comparison};
    /// assert!(Comparison::new().run(&Columns::new(0), &Columns::new(0))?.is_same());
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn is_same(&self) -> bool {
        self.rows_in_one() == [0, 0]
            && self.results_only.iter().all(Vec::is_empty)
            && self.differences.iter().all(Difference::is_none)
    }

    /// The results as a table for people: how many rows moved, how far, and with what.
    ///
    /// ```
    /// use beadchem::batch::{Columns, Comparison};
    /// let nothing = Comparison::new().run(&Columns::new(0), &Columns::new(0))?;
    /// assert!(nothing.table().to_string().contains("no difference"));
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn table(&self) -> Table {
        let [old, new] = self.rows_in_one();
        let joined = self.by.as_ref().map_or_else(|| "in their order".to_owned(), |by| format!("by {by}"));
        let mut table = Table::new("Old and new results")
            .head(format!("{} rows joined {joined}", self.pairs.len() - old - new))
            .head(format!("{old} rows only in the old table, {new} only in the new"));
        for (side, names) in ["old", "new"].iter().zip(&self.only) {
            if !names.is_empty() {
                table = table.head(format!("columns only in the {side} table: {}", names.join(", ")));
            }
        }
        match &self.versions {
            None => table = table.head("versions: not known of both tables"),
            Some(list) if list.is_empty() => table = table.head("versions: the same"),
            Some(list) => {
                for VersionChange { what, old, new, .. } in list {
                    table = table.head(format!("{what}: {old} -> {new}"));
                }
            }
        }
        let titles = ["result", "compared", "moved", "largest", "in u", "row", "came", "went", "crossed", "moved with"];
        let column = |title: &&str| match *title {
            "result" | "moved with" => Heading::text(*title),
            _ => Heading::number(*title, ""),
        };
        table = titles.iter().map(column).fold(table, Table::column);
        table = table.rows(self.differences.iter().map(cells));
        match self.is_same() {
            true => {
                table.note("There is no difference. Columns of u are compared where they are named, findings are not.")
            }
            false => table.note(
                "Rows are counted from 0: those of the old table in their order, then what only the new one has.",
            ),
        }
    }

    /// Rows that are on the other side of a limit than before, each with the sentence that says so.
    ///
    /// ```
    /// use beadchem::batch::{Columns, Comparison};
    /// assert_eq!(Comparison::new().run(&Columns::new(0), &Columns::new(0))?.crossings().count(), 0);
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    pub fn crossings(&self) -> impl Iterator<Item = (u64, &str)> {
        let crossed = self.numbers.findings.iter().filter(|finding| finding.code == Code::LimitCrossed);
        crossed.map(|finding| (finding.row, finding.text.as_str()))
    }
}

/// Digits of a change.
const DIGITS: u8 = 3;

fn cells(found: &Difference) -> [Cell; 10] {
    let count = |count: usize| Cell::number(count as f64, 0);
    let nothing = || Cell::text("");
    let with = found.with_inputs.iter().chain(&found.with_versions).map(|(name, rows)| format!("{name} {rows}"));
    let unknown = (found.unexplained > 0).then(|| format!("nothing known {}", found.unexplained));
    [
        Cell::text(found.column.as_str()),
        count(found.compared),
        count(found.moved),
        found.largest_row.map_or_else(nothing, |_| Cell::significant(found.largest, DIGITS)),
        found.largest_per_u.map_or_else(nothing, |per_u| Cell::significant(per_u, DIGITS)),
        found.largest_row.map_or_else(nothing, |row| Cell::number(row as f64, 0)),
        count(found.appeared),
        count(found.gone),
        count(found.crossed),
        Cell::text(with.chain(unknown).collect::<Vec<_>>().join(", ")),
    ]
}
