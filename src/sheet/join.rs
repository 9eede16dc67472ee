//! Two tables brought together by bead id.

use std::collections::BTreeMap;

use super::ids::{bare, by_id};
use super::place::numbers;
use super::whole::Sheet;
use crate::code::Code;
use crate::finding::Finding;

/// An id that stands in several rows of one table.
///
/// ```
/// use beadchem::sheet::{DecimalMark, Layout, Sheet, join};
/// let layout = Layout::new("Bead", DecimalMark::Point);
/// let read = |text: &str| Sheet::read_csv(text, &layout);
/// let joined = join(&read("Bead\nB-1\nB-1\n")?, &read("Bead\nB-1\n")?);
/// assert_eq!((joined.doubled[0].left.len(), joined.doubled[0].right.len()), (2, 1));
/// # Ok::<(), beadchem::Error>(())
/// ```
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Doubled {
    /// The id.
    pub id: String,
    /// Its rows in the left table, counted from 0.
    pub left: Vec<usize>,
    /// Its rows in the right table.
    pub right: Vec<usize>,
}

/// Which rows of two tables belong together. Each row of each table stands in exactly one of the four lists; rows are
/// counted from 0.
///
/// ```
/// use beadchem::sheet::{DecimalMark, Layout, Sheet, join};
/// let layout = Layout::new("Bead", DecimalMark::Point);
/// let read = |text: &str| Sheet::read_csv(text, &layout);
/// let joined = join(&read("Bead\nB-06\nB 07\n")?, &read("Bead\nB-07\nB-06\n")?);
/// assert_eq!((joined.pairs, joined.only_left, joined.only_right), (vec![(0, 1)], vec![1], vec![0]));
/// assert!(joined.findings[0].text.ends_with("B 07 is not B-07: mend the export."));
/// # Ok::<(), beadchem::Error>(())
/// ```
#[derive(Debug, Clone, PartialEq)]
pub struct Joined {
    /// Rows with one id that stands once in each table, in the order of the left one.
    pub pairs: Vec<(usize, usize)>,
    /// Rows of the left table whose id is not in the right one, or that have none.
    pub only_left: Vec<usize>,
    /// Rows of the right table whose id is not in the left one, or that have none.
    pub only_right: Vec<usize>,
    /// Ids that stand in several rows of one table or both; none of the rows is paired.
    pub doubled: Vec<Doubled>,
    /// Every id that was not paired, and why.
    pub findings: Vec<Finding>,
    pub(super) listing: Vec<Listed>,
}

/// One line of what is printed: an id, its lines in both files, and what became of it.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Listed {
    pub(super) id: Option<String>,
    pub(super) left: Vec<usize>,
    pub(super) right: Vec<usize>,
    pub(super) outcome: &'static str,
}

/// Pairs the rows of two tables by bead id: the same characters, nothing less. Ids that differ in capitals, blanks or
/// hyphens are not paired; the report of the one names the other.
///
/// Rows with trouble are paired too and keep their trouble.
///
/// ```
/// use beadchem::sheet::{DecimalMark, Layout, Sheet, join};
/// let sheet = Sheet::read_csv("Bead\nB-1\nB-2\n", &Layout::new("Bead", DecimalMark::Point))?;
/// assert_eq!(join(&sheet, &sheet).pairs, [(0, 0), (1, 1)]);
/// # Ok::<(), beadchem::Error>(())
/// ```
#[must_use]
pub fn join(left: &Sheet, right: &Sheet) -> Joined {
    let (in_left, in_right) = (by_id(&left.rows), by_id(&right.rows));
    let mut joined = Joined {
        pairs: Vec::new(),
        only_left: Vec::new(),
        only_right: Vec::new(),
        doubled: Vec::new(),
        findings: Vec::new(),
        listing: Vec::new(),
    };
    let line = |sheet: &Sheet, places: &[usize]| places.iter().map(|&place| sheet.rows[place].line).collect();
    for (place, row) in left.rows.iter().enumerate() {
        let (id, alone) = (row.id.as_deref(), [place]);
        let here = id.and_then(|id| in_left.get(id)).map_or(alone.as_slice(), Vec::as_slice);
        let there = id.and_then(|id| in_right.get(id)).map_or([].as_slice(), Vec::as_slice);
        let outcome = match (here, there) {
            (_, []) if here.len() == 1 => {
                joined.only_left.push(place);
                joined.findings.push(unmatched(id, row.line, "left", &in_right));
                "only left"
            }
            ([_], [other]) => {
                joined.pairs.push((place, *other));
                "paired"
            }
            _ if here[0] == place => {
                joined.double(id, here, there, [left, right]);
                "doubled"
            }
            _ => continue,
        };
        let listed = Listed { id: row.id.clone(), left: line(left, here), right: line(right, there), outcome };
        joined.listing.push(listed);
    }
    for (place, row) in right.rows.iter().enumerate() {
        let (id, alone) = (row.id.as_deref(), [place]);
        if id.is_some_and(|id| in_left.contains_key(id)) {
            continue;
        }
        let here = id.and_then(|id| in_right.get(id)).map_or(alone.as_slice(), Vec::as_slice);
        let outcome = match here {
            [_] => {
                joined.only_right.push(place);
                joined.findings.push(unmatched(id, row.line, "right", &in_left));
                "only right"
            }
            [first, ..] if *first == place => {
                joined.double(id, &[], here, [left, right]);
                "doubled"
            }
            _ => continue,
        };
        let listed = Listed { id: row.id.clone(), left: Vec::new(), right: line(right, here), outcome };
        joined.listing.push(listed);
    }
    joined
}

impl Joined {
    fn double(&mut self, id: Option<&str>, left: &[usize], right: &[usize], [in_left, in_right]: [&Sheet; 2]) {
        let id = id.unwrap_or_default().to_owned();
        let lines = |sheet: &Sheet, places: &[usize]| {
            numbers(&places.iter().map(|&place| sheet.rows[place].line).collect::<Vec<usize>>())
        };
        let stands = |places: &[usize], sheet: &Sheet, side: &str| match places.len() {
            0 => format!("not in the {side} table"),
            1 => format!("in row {} of the {side} table", lines(sheet, places)),
            _ => format!("in rows {} of the {side} table", lines(sheet, places)),
        };
        let text = format!(
            "Bead {id} stands {} and {}; none of these is paired. Mend the export.",
            stands(left, in_left, "left"),
            stands(right, in_right, "right")
        );
        self.findings.push(Finding::new(Code::BeadDoubled, id.as_str(), text));
        self.doubled.push(Doubled { id, left: left.to_vec(), right: right.to_vec() });
    }
}

fn unmatched(id: Option<&str>, line: usize, side: &str, others: &BTreeMap<&str, Vec<usize>>) -> Finding {
    let Some(id) = id else {
        let text = format!("Row {line} of the {side} table has no bead id and is not paired.");
        return Finding::new(Code::BeadUnmatched, "", text);
    };
    let near: Vec<&str> = others.keys().copied().filter(|other| bare(other) == bare(id)).collect();
    let repair = match near.as_slice() {
        [] => "It is not paired.".to_owned(),
        near => format!("{id} is not {}: mend the export.", near.join(" or ")),
    };
    let text = format!("Bead {id} (row {line}) is only in the {side} table. {repair}");
    Finding::new(Code::BeadUnmatched, id, text)
}
