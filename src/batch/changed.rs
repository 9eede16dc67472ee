//! Results before and after beside each other: columns, limits crossed, and what is put together row by row.

use std::cmp::Ordering;
use std::sync::Arc;

use crate::batch::corrected::{Corrected, ResultColumn, RowFinding};
use crate::batch::recorrect::SpecificationLimit;
use crate::batch::told::most_severe;
use crate::code::Code;
use crate::composition::Unit;
use crate::finding::Finding;

/// The columns of each result.
pub(crate) const PARTS: [&str; 4] = ["old", "new", "change", "change_per_u"];

/// The four columns of a result.
pub(crate) fn parts_of(name: &str, unit: &'static str, basis: Option<&str>) -> [ResultColumn; 4] {
    PARTS.map(|part| {
        let unit = if part == "change_per_u" { "u" } else { unit };
        ResultColumn { name: format!("{name}_{part}"), unit, basis: basis.map(str::to_owned) }
    })
}

/// A result that is on the other side of a limit than before; contents in %.
pub(crate) fn crossed(row: u64, limit: &SpecificationLimit, [before, after]: [f64; 2], how: &str) -> RowFinding {
    let side = |percent: f64| match limit.side(percent) {
        Ordering::Less => "below",
        Ordering::Equal => "within",
        Ordering::Greater => "above",
    };
    let unit = Unit::Percent.word();
    let bound = match (limit.low, limit.high) {
        (Some(low), Some(high)) => format!("{low} to {high} {unit}"),
        (Some(low), None) => format!("at least {low} {unit}"),
        (None, Some(high)) => format!("at most {high} {unit}"),
        (None, None) => String::new(),
    };
    let text = format!(
        "{} was {before:.4} {unit}, {} the limit of {bound}, and is {after:.4} {unit}{how}, {}.",
        limit.species,
        side(before),
        side(after)
    );
    let passed = limit.low.filter(|low| (before < *low) != (after < *low)).or(limit.high);
    let finding =
        Finding::new(Code::LimitCrossed, limit.species.as_str(), text).with_value(Unit::Percent.fraction(after));
    RowFinding::new(
        row,
        &match passed {
            Some(bound) => finding.with_bound(Unit::Percent.fraction(bound)),
            None => finding,
        },
    )
}

/// Numbers of a re-correction while they are put together.
pub(crate) struct Changed {
    rows: usize,
    numbers: Vec<f64>,
    pub(crate) findings: Vec<RowFinding>,
}

impl Changed {
    pub(crate) fn new(rows: usize, columns: usize) -> Self {
        Self { rows, numbers: vec![f64::NAN; rows * columns], findings: Vec::new() }
    }

    /// What stands in a row before and after; a side that is not there has no number, and so has the change.
    pub(crate) fn put(&mut self, result: usize, row: usize, [before, after]: [Option<f64>; 2], u: Option<f64>) {
        let change = before.zip(after).map(|(before, after)| after - before);
        let values = [before, after, change, change.zip(u).map(|(change, u)| change / u)];
        for (part, value) in values.into_iter().enumerate() {
            self.numbers[(result * PARTS.len() + part) * self.rows + row] = value.unwrap_or(f64::NAN);
        }
    }

    pub(crate) fn close(mut self, columns: Arc<[ResultColumn]>, first_row: u64, notes: Vec<Finding>) -> Corrected {
        self.findings.sort_by_key(|finding| finding.row);
        let mut codes = vec![0; self.rows];
        most_severe(self.findings.iter().map(|finding| (finding, (finding.row - first_row) as usize)), &mut codes);
        let valid = (0..columns.len()).map(|place| there(&self.numbers[place * self.rows..][..self.rows])).collect();
        let (rows, numbers, findings) = (self.rows, self.numbers, self.findings);
        Corrected { rows, columns, numbers, valid, codes, findings, notes }
    }
}

/// The bitmap of a column whose missing numbers are NaN; empty where all are there.
fn there(column: &[f64]) -> Vec<u8> {
    if column.iter().all(|value| !value.is_nan()) {
        return Vec::new();
    }
    let mut bytes = vec![0; column.len().div_ceil(8)];
    for (row, _) in column.iter().enumerate().filter(|(_, value)| !value.is_nan()) {
        bytes[row / 8] |= 1 << (row % 8);
    }
    bytes
}
