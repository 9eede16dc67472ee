//! Bead ids: doubled ones, and ones that are nearly the same.

use std::collections::BTreeMap;

use super::layout::Layout;
use super::place::numbers;
use super::whole::{Reading, SheetRow};
use crate::code::Code;
use crate::error::Error;

/// The rows of each id, in the order of the ids.
pub(super) fn by_id(rows: &[SheetRow]) -> BTreeMap<&str, Vec<usize>> {
    let mut found = BTreeMap::<&str, Vec<usize>>::new();
    for (place, row) in rows.iter().enumerate() {
        if let Some(id) = &row.id {
            found.entry(id).or_default().push(place);
        }
    }
    found
}

/// Marks the rows whose id stands in others too.
pub(super) fn mark_doubled(rows: &mut [SheetRow], layout: &Layout) {
    let doubled: Vec<(String, Vec<usize>)> = by_id(rows)
        .into_iter()
        .filter(|(_, places)| places.len() > 1)
        .map(|(id, places)| (id.to_owned(), places))
        .collect();
    for (id, places) in doubled {
        let held: Vec<&SheetRow> = places.iter().map(|&place| &rows[place]).collect();
        let differ = |masses: bool| {
            let chosen = |row: &SheetRow| -> Vec<Reading> {
                let readings = row.cells.iter().map(|cell| cell.reading.clone());
                readings.filter(|reading| !masses || matches!(reading, Reading::Mass(_))).collect()
            };
            held.iter().any(|row| chosen(row) != chosen(held[0]))
        };
        let how = match (differ(true), differ(false)) {
            (true, _) => "different masses",
            (false, true) => "different values",
            (false, false) if layout.columns.is_empty() => "no values",
            (false, false) => "the same values",
        };
        let lines: Vec<usize> = held.iter().map(|row| row.line).collect();
        let (times, none) = match lines.len() {
            2 => ("twice".to_owned(), "neither"),
            more => (format!("{more} times"), "none"),
        };
        let error = Error::Conflict {
            code: Code::BeadDoubled,
            detail: format!("Bead {id} occurs {times} with {how};"),
            hint: format!("{none} is used. Rows {}.", numbers(&lines)),
        };
        for place in places {
            rows[place].trouble.push(error.clone());
        }
    }
}

/// An id without what exports change: capitals, blanks, hyphens.
pub(super) fn bare(id: &str) -> String {
    let dropped = |letter: &char| {
        letter.is_whitespace() || matches!(letter, '-' | '_' | '\u{2010}'..='\u{2015}' | '\u{2212}' | '\u{ad}')
    };
    id.chars().filter(|letter| !dropped(letter)).flat_map(char::to_lowercase).collect()
}
