//! A number written in a table that has no declared layout: a decimal point, a limit with `<`, nothing else.

use super::number::{Marks, Unreadable, read};
use super::words::DecimalMark;
use crate::code::Code;

/// What a written cell was read as.
#[derive(Debug, Clone, PartialEq)]
pub(crate) enum WrittenCell {
    Empty,
    Number(f64),
    Below(f64),
    Refused(Code, String),
}

/// Reads one cell.
pub(crate) fn written_cell(text: &str) -> WrittenCell {
    let trimmed = text.trim();
    if trimmed.is_empty() {
        return WrittenCell::Empty;
    }
    match read(trimmed, Marks { decimal: DecimalMark::Point, thousands: None }) {
        Ok(written) if written.below => WrittenCell::Below(written.value),
        Ok(written) => WrittenCell::Number(written.value),
        Err(Unreadable::Ambiguous | Unreadable::Grouping) => {
            let why = format!("'{trimmed}' is ambiguous. State decimal mark for this table.");
            WrittenCell::Refused(Code::NumberAmbiguous, why)
        }
        Err(Unreadable::Text) => WrittenCell::Refused(Code::NumberUnreadable, format!("'{trimmed}' is not a number.")),
        Err(Unreadable::Huge) => {
            WrittenCell::Refused(Code::NumberUnreadable, format!("'{trimmed}' is larger than any number held here."))
        }
    }
}
