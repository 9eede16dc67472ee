//! Cells of a workbook.

use std::io::Cursor;

use calamine::{Data, Reader, Xlsx};

use super::grid::{Line, Raw, unreadable};
use super::layout::Layout;
use super::whole::Sheet;
use crate::code::Code;
use crate::error::{Error, Result};

impl Sheet {
    /// Reads one sheet of an .xlsx workbook; without a name the only one it has. Numeric cells are numbers, whatever the
    /// marks of the layout; text cells are read as in a text file; cells with a date are times. Formulas give the result
    /// stored with them.
    ///
    /// # Errors
    /// `table.unreadable` for bytes that are no workbook; `word.unknown` for a sheet that is not there or, without a name,
    /// is one of several; and those of [`read_csv`](Sheet::read_csv).
    ///
    /// ```
    /// use beadchem::sheet::{DecimalMark, Layout, Sheet};
    /// let refused = Sheet::read_xlsx(b"Bead,SiO2", None, &Layout::new("Bead", DecimalMark::Point)).unwrap_err();
    /// assert_eq!(refused.code().word(), "table.unreadable");
    /// ```
    pub fn read_xlsx(bytes: impl AsRef<[u8]>, name: Option<&str>, layout: &Layout) -> Result<Sheet> {
        layout.check()?;
        let broken = |error: calamine::XlsxError| {
            unreadable(
                format!("The workbook cannot be read ({error})."),
                "Is it an .xlsx file, and is it closed and whole?",
            )
        };
        let mut workbook = Xlsx::new(Cursor::new(bytes.as_ref())).map_err(broken)?;
        let names = workbook.sheet_names();
        let known: Vec<&str> = names.iter().map(String::as_str).collect();
        let name = match (name, known.as_slice()) {
            (Some(name), _) if known.contains(&name) => name.to_owned(),
            (None, [only]) => (*only).to_owned(),
            (Some(name), _) => return Err(Error::word("Sheet of the workbook", name, &known)),
            (None, _) => {
                return Err(Error::Unstated {
                    code: Code::WordUnknown,
                    quantity: "Which sheet of the workbook is meant".to_owned(),
                    hint: format!("Name one of: {}.", known.join(", ")),
                });
            }
        };
        let cells = workbook.worksheet_range(&name).map_err(broken)?;
        let formulas = workbook.worksheet_formula(&name).map_err(broken)?;
        let (top, left) = cells.start().unwrap_or((0, 0));
        let mut lines = Vec::new();
        for (row, number) in cells.rows().zip(top..) {
            let fields = row.iter().zip(left..).map(|(cell, column)| {
                let formula = formulas.get_value((number, column)).filter(|formula| !formula.is_empty());
                match (raw(cell), formula) {
                    // a formula whose result was never stored is not an empty cell
                    (field, Some(formula)) if field.is_empty() => Raw::Text(format!("={formula}")),
                    (field, _) => field,
                }
            });
            let fields = fields.collect();
            lines.push(Line { number: usize::try_from(number).unwrap_or(usize::MAX).saturating_add(1), fields });
        }
        super::read::sheet_of(&lines, layout)
    }
}

fn raw(cell: &Data) -> Raw {
    match cell {
        Data::Empty => Raw::Text(String::new()),
        Data::Float(number) => Raw::Number(*number),
        Data::Int(number) => Raw::Text(number.to_string()),
        Data::DateTime(time) if time.is_datetime() => {
            let (year, month, day, hour, minute, second, milli) = time.to_ymd_hms_milli();
            Raw::Text(format!("{year:04}-{month:02}-{day:02}T{hour:02}:{minute:02}:{second:02}.{milli:03}"))
        }
        // a length of time is held as a number of days and is none
        Data::DateTime(duration) => Raw::Text(format!("{} days", duration.as_f64())),
        other => Raw::Text(other.to_string()),
    }
}
