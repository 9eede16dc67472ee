//! Lines and fields of a file, before anything is known of their meaning.

use super::words::Delimiter;
use crate::code::Code;
use crate::error::{Error, Result};

/// One field.
#[derive(Debug, Clone, PartialEq)]
pub(super) enum Raw {
    Text(String),
    /// A number that a workbook holds as one.
    #[cfg_attr(not(feature = "xlsx"), expect(dead_code, reason = "text files hold no numbers"))]
    Number(f64),
}

impl Raw {
    /// The text without outer blanks; empty for an empty cell.
    pub(super) fn text(&self) -> String {
        match self {
            Raw::Text(text) => text.trim().to_owned(),
            Raw::Number(number) => number.to_string(),
        }
    }

    /// As in the file.
    pub(super) fn whole(&self) -> String {
        match self {
            Raw::Text(text) => text.clone(),
            Raw::Number(number) => number.to_string(),
        }
    }

    pub(super) fn is_empty(&self) -> bool {
        matches!(self, Raw::Text(text) if text.trim().is_empty())
    }

    /// Whether blanks stand before or behind the text.
    pub(super) fn is_padded(&self) -> bool {
        matches!(self, Raw::Text(text) if text.trim().len() < text.len())
    }

    /// Line ends in it.
    fn breaks(&self) -> usize {
        match self {
            Raw::Text(text) => count_breaks(text.as_bytes()),
            Raw::Number(_) => 0,
        }
    }
}

/// The fields of one record.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Line {
    /// The line of the file it begins in, counted from 1.
    pub(super) number: usize,
    pub(super) fields: Vec<Raw>,
}

impl Line {
    pub(super) fn is_empty(&self) -> bool {
        self.fields.iter().all(Raw::is_empty)
    }

    /// How many further lines of the file it goes over.
    pub(super) fn breaks(&self) -> usize {
        self.fields.iter().map(Raw::breaks).sum()
    }
}

pub(super) fn unreadable(detail: impl Into<String>, hint: &str) -> Error {
    Error::Conflict { code: Code::TableUnreadable, detail: detail.into(), hint: hint.to_owned() }
}

/// The records of a delimited text in UTF-8, with or without its mark in front. Lines without a character are none.
pub(super) fn of_csv(bytes: &[u8], delimiter: Delimiter) -> Result<Vec<Line>> {
    let bytes = bytes.strip_prefix("\u{feff}".as_bytes()).unwrap_or(bytes);
    let text = core::str::from_utf8(bytes).map_err(|error| {
        let (before, rest) = bytes.split_at(error.valid_up_to());
        let byte = rest.first().map_or(String::new(), |byte| format!(" (byte {byte:02X} hexadecimal)"));
        let line = count_breaks(before) + 1;
        unreadable(
            format!("Line {line} is not UTF-8{byte}."),
            "Export the table as UTF-8; Latin-1 and UTF-16 are not guessed. In a spreadsheet: save as \"CSV UTF-8\".",
        )
    })?;
    let mut reader = csv::ReaderBuilder::new()
        .has_headers(false)
        .flexible(true)
        .delimiter(delimiter.byte())
        .from_reader(text.as_bytes());
    let mut record = csv::StringRecord::new();
    let (mut lines, mut number, mut counted) = (Vec::new(), 1, 0);
    loop {
        let more = reader
            .read_record(&mut record)
            .map_err(|error| unreadable(format!("The text cannot be read ({error})."), "Is it a delimited text?"))?;
        if !more {
            return Ok(lines);
        }
        // the reader counts from where the last record ended: line ends still lie before this one
        let ended = record.position().map_or(0, |position| position.byte());
        let ended = usize::try_from(ended).unwrap_or(usize::MAX).min(text.len());
        let ends = bytes[ended..].iter().take_while(|byte| matches!(byte, b'\n' | b'\r')).count();
        let start = ended + ends;
        number += count_breaks(&bytes[counted..start]);
        counted = start;
        lines.push(Line { number, fields: record.iter().map(|field| Raw::Text(field.to_owned())).collect() });
    }
}

/// Line ends: a line feed, a carriage return, or both together.
fn count_breaks(bytes: &[u8]) -> usize {
    let feeds = bytes.iter().filter(|byte| **byte == b'\n').count();
    let returns = bytes.iter().filter(|byte| **byte == b'\r').count();
    let both = bytes.windows(2).filter(|pair| pair == b"\r\n").count();
    feeds + returns - both
}
