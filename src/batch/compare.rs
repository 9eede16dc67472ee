//! Two runs of one table beside each other: which results moved, how far, and which inputs moved with them.

use crate::batch::column::{Column, Columns};
use crate::error::{Error, Result};

/// How a column of results differs between two runs.
///
/// ```
/// use beadchem::batch::{Column, Columns, Numbers, compare};
/// let table = |lime: &'static [f64], mass: &'static [f64]| -> beadchem::Result<Columns<'static>> {
///     let mut table = Columns::new(2);
///     table.push("CaO_percent", Column::Numbers(Numbers::new(lime)))?;
///     table.push("sample_g", Column::Numbers(Numbers::new(mass)))?;
///     Ok(table)
/// };
/// let old = table(&[30.0, 31.0], &[0.8, 0.8])?;
/// let new = table(&[30.0, 30.5], &[0.8, 0.81])?;
/// let found = compare(&old, &new, &["CaO_percent"], 1e-9)?;
/// assert_eq!((found[0].moved, found[0].largest, found[0].largest_row), (1, -0.5, Some(1)));
/// assert_eq!(found[0].with_inputs, [("sample_g".to_owned(), 1)]);
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
    /// Rows with a number in the new run only.
    pub appeared: usize,
    /// Rows with a number in the old run only.
    pub gone: usize,
    /// Inputs that differ in rows that moved, with the number of those rows, the most frequent first.
    pub with_inputs: Vec<(String, usize)>,
    /// Rows that moved though no input differs: another method, lot or version.
    pub unexplained: usize,
}

/// Holds the results of two runs of one table against each other; every other column they share is an input.
///
/// # Errors
/// `shape.mismatch` where they have not the same number of rows; `table.header` for a result that one of them lacks;
/// `number.out-of-range` for a tolerance below zero.
///
/// ```
/// use beadchem::batch::{Columns, compare};
/// assert!(compare(&Columns::new(2), &Columns::new(3), &[], 0.0).is_err());
/// ```
pub fn compare(old: &Columns<'_>, new: &Columns<'_>, results: &[&str], tolerance: f64) -> Result<Vec<Difference>> {
    if old.rows() != new.rows() {
        let hint = "Two runs of one table have the same rows in the same order; join them by their ids first.";
        return Err(Error::shape("Rows of the new run", old.rows(), new.rows(), hint));
    }
    let hint = "In the unit of the column; zero counts every bit.";
    crate::error::within("Tolerance of a comparison", tolerance, "", [0.0, f64::MAX], "0 or more", hint)?;
    let inputs: Vec<&str> = old.names().filter(|name| !results.contains(name) && new.get(name).is_some()).collect();
    let differs: Vec<Vec<bool>> = inputs.iter().map(|name| differing(old, new, name)).collect();
    results.iter().map(|name| one(old, new, name, tolerance, &inputs, &differs)).collect()
}

fn one(
    old: &Columns<'_>,
    new: &Columns<'_>,
    name: &str,
    tolerance: f64,
    inputs: &[&str],
    differs: &[Vec<bool>],
) -> Result<Difference> {
    let numbers = |table: &Columns<'_>, row: usize| match table.get(name) {
        Some(Column::Numbers(numbers)) => Ok(numbers.get(row)),
        _ => Err(Error::Unknown {
            code: crate::code::Code::TableHeader,
            what: "Column of results".to_owned(),
            given: name.to_owned(),
            hint: format!("The table has: {}.", table.names().collect::<Vec<_>>().join(", ")),
        }),
    };
    let mut found = Difference {
        column: name.to_owned(),
        compared: 0,
        moved: 0,
        largest: 0.0,
        largest_row: None,
        appeared: 0,
        gone: 0,
        with_inputs: Vec::new(),
        unexplained: 0,
    };
    let mut with = vec![0_usize; inputs.len()];
    for row in 0..old.rows() {
        let (before, after) = match (numbers(old, row)?, numbers(new, row)?) {
            (Some(before), Some(after)) => (before, after),
            (None, Some(_)) => {
                found.appeared += 1;
                continue;
            }
            (Some(_), None) => {
                found.gone += 1;
                continue;
            }
            (None, None) => continue,
        };
        found.compared += 1;
        let change = after - before;
        // a NaN beside a number has moved
        if change.abs() <= tolerance || before.to_bits() == after.to_bits() {
            continue;
        }
        found.moved += 1;
        if found.largest_row.is_none() || change.abs() > found.largest.abs() {
            found.largest = change;
            found.largest_row = Some(old.first_row() + row as u64);
        }
        let mut explained = false;
        for (count, differs) in with.iter_mut().zip(differs) {
            if differs[row] {
                *count += 1;
                explained = true;
            }
        }
        found.unexplained += usize::from(!explained);
    }
    found.with_inputs = inputs.iter().map(|name| (*name).to_owned()).zip(with).filter(|(_, rows)| *rows > 0).collect();
    found.with_inputs.sort_by_key(|(_, rows)| core::cmp::Reverse(*rows));
    Ok(found)
}

/// The rows in which a column differs between two tables.
fn differing(old: &Columns<'_>, new: &Columns<'_>, name: &str) -> Vec<bool> {
    let rows = old.rows();
    match (old.get(name), new.get(name)) {
        (Some(Column::Numbers(one)), Some(Column::Numbers(two))) => {
            (0..rows).map(|row| one.get(row).map(f64::to_bits) != two.get(row).map(f64::to_bits)).collect()
        }
        (Some(Column::Words(one)), Some(Column::Words(two))) => {
            (0..rows).map(|row| one.get(row) != two.get(row)).collect()
        }
        _ => vec![true; rows],
    }
}
