//! What is said of the rows of a chunk while it is run.

use crate::batch::corrected::RowFinding;
use crate::code::Severity;
use crate::error::Error;

/// What is said of the rows of a chunk.
#[derive(Debug, Default)]
pub(crate) struct Told {
    /// For each column its bitmap; empty where all cells are there.
    pub(crate) valid: Vec<Vec<u8>>,
    pub(crate) findings: Vec<RowFinding>,
    /// The row in the chunk of each finding.
    of_row: Vec<u32>,
    refused: Vec<u8>,
    rows: usize,
    any_refused: bool,
}

impl Told {
    pub(crate) fn new(rows: usize, columns: usize) -> Self {
        let refused = vec![0; rows.div_ceil(8)];
        Self { valid: vec![Vec::new(); columns], refused, rows, ..Self::default() }
    }

    pub(crate) fn is_refused(&self, row: usize) -> bool {
        self.refused[row / 8] >> (row % 8) & 1 == 1
    }

    /// A row gives no results.
    pub(crate) fn refuse(&mut self, row: usize, number: u64, error: &Error) {
        self.say(row, RowFinding::refused(number, error));
    }

    pub(crate) fn say(&mut self, row: usize, finding: RowFinding) {
        if finding.severity() == Severity::Error {
            self.refused[row / 8] |= 1 << (row % 8);
            self.any_refused = true;
        }
        self.of_row.push(row as u32);
        self.findings.push(finding);
    }

    /// One cell is not there.
    pub(crate) fn no_cell(&mut self, column: usize, row: usize) {
        let bytes = &mut self.valid[column];
        if bytes.is_empty() {
            bytes.resize(self.rows.div_ceil(8), u8::MAX);
        }
        bytes[row / 8] &= !(1 << (row % 8));
    }

    /// Nulls for what is not there, codes of the most severe, findings in the order of rows.
    pub(crate) fn close(&mut self, columns: &mut [&mut [f64]], codes: &mut [u16]) {
        if self.any_refused {
            for bytes in &mut self.valid {
                if bytes.is_empty() {
                    bytes.resize(self.rows.div_ceil(8), u8::MAX);
                }
                bytes.iter_mut().zip(&self.refused).for_each(|(byte, refused)| *byte &= !refused);
            }
        }
        for (bytes, column) in self.valid.iter().zip(columns) {
            for (row, value) in column.iter_mut().enumerate().take(if bytes.is_empty() { 0 } else { self.rows }) {
                if bytes[row / 8] >> (row % 8) & 1 == 0 {
                    *value = f64::NAN;
                }
            }
        }
        most_severe(self.findings.iter().zip(self.of_row.iter().map(|&row| row as usize)), codes);
        self.findings.sort_by_key(|finding| finding.row);
    }
}

/// The code of the most severe finding of each row, the first of its severity; findings come with their row in the chunk.
pub(crate) fn most_severe<'f>(findings: impl ExactSizeIterator<Item = (&'f RowFinding, usize)>, codes: &mut [u16]) {
    let mut severity = vec![None; if findings.len() == 0 { 0 } else { codes.len() }];
    for (finding, row) in findings {
        if severity[row] < Some(finding.severity()) {
            severity[row] = Some(finding.severity());
            codes[row] = finding.code.number();
        }
    }
}
