//! Where in a table a refusal stands.

use crate::error::Error;

/// "Row 12, column SiO2".
pub(super) fn place(line: usize, header: &str) -> String {
    format!("Row {line}, column {header}")
}

/// The same refusal with its place in front.
pub(super) fn placed(mut error: Error, place: &str) -> Error {
    match &mut error {
        Error::NotPositive { quantity: text, .. }
        | Error::OutOfRange { quantity: text, .. }
        | Error::Implausible { quantity: text, .. }
        | Error::Missing { quantity: text, .. }
        | Error::Unstated { quantity: text, .. }
        | Error::Matrix { quantity: text, .. }
        | Error::Shape { quantity: text, .. }
        | Error::Conflict { detail: text, .. }
        | Error::Unknown { what: text, .. }
        | Error::Document { place: text, .. } => *text = format!("{place}: {text}"),
        // the text of a formula is quoted as it stands
        Error::Formula { found, .. } => *found = format!("{found} ({place})"),
    }
    error
}

/// "3, 7, 12": row numbers for a sentence, the first few of many.
pub(super) fn numbers(lines: &[usize]) -> String {
    const SHOWN: usize = 12;
    let shown: Vec<String> = lines.iter().take(SHOWN).map(ToString::to_string).collect();
    match lines.len().saturating_sub(SHOWN) {
        0 => shown.join(", "),
        more => format!("{} and {more} more", shown.join(", ")),
    }
}

/// "Row 3" or "Rows 3, 7".
pub(super) fn rows(lines: &[usize]) -> String {
    format!("{} {}", if lines.len() == 1 { "Row" } else { "Rows" }, numbers(lines))
}
