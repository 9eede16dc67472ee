//! From the lines of a file to the rows of a sheet.

use super::grid::{self, Line, Raw};
use super::head::Head;
use super::ids;
use super::layout::Layout;
use super::place::{numbers, place, rows};
use super::whole::{Reading, Sheet, SheetCell, SheetRow};
use crate::code::Code;
use crate::error::{Error, Result};
use crate::finding::Finding;
use crate::time::{self, Stamp};

impl Sheet {
    /// Reads a delimited text in UTF-8 (RFC 4180 quotes; any line ends; a byte order mark may stand in front).
    ///
    /// # Errors
    /// For the table as a whole only: those of [`Layout::check`]; `table.unreadable` for bytes that are not UTF-8;
    /// `table.header` for a declared header that is missing or doubled; `table.unit-contradicts`; `unit.missing` and
    /// `basis.missing` for contents declared without, as a stored layout may. Trouble of a row stands with the row.
    ///
    /// ```
    /// use beadchem::sheet::{Column, DecimalMark, Layout, MassUnit, Sheet};
    /// let layout = Layout::new("Bead", DecimalMark::Point).column(Column::mass("Flux mass", "m2", MassUnit::Gram));
    /// let sheet = Sheet::read_csv("Bead,m2\nB-1,8.0021\nB-2,\n", &layout)?;
    /// assert_eq!(
    ///     sheet.rows()[1].trouble[0].to_string(),
    ///     "Flux mass is missing in row 3. Give a number in grams or leave the bead out."
    /// );
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    pub fn read_csv(text: impl AsRef<[u8]>, layout: &Layout) -> Result<Sheet> {
        layout.check()?;
        sheet_of(&grid::of_csv(text.as_ref(), layout.delimiter)?, layout)
    }
}

/// Reads the lines by a layout that was checked.
pub(super) fn sheet_of(lines: &[Line], layout: &Layout) -> Result<Sheet> {
    let head = Head::of(lines, layout)?;
    let (empty, data): (Vec<&Line>, Vec<&Line>) =
        lines.iter().filter(|line| line.number > layout.header_lines).partition(|line| line.is_empty());
    head.all_declared(&data)?;
    let mut findings = head.formulas()?;
    let mut read: Vec<SheetRow> = data.iter().map(|line| head.row(line, &mut findings)).collect();
    head.times(&mut read);
    ids::mark_doubled(&mut read, layout);
    let padded = |line: &&&Line| line.fields.get(head.id).is_some_and(Raw::is_padded);
    let trimmed: Vec<usize> = data.iter().filter(padded).map(|line| line.number).collect();
    if !trimmed.is_empty() {
        let text = format!("{}: blanks before or behind the bead id were taken off.", rows(&trimmed));
        findings.push(Finding::new(Code::IdTrimmed, layout.id.as_str(), text));
    }
    findings.extend(head.not_read(&data));
    if !empty.is_empty() {
        let lines: Vec<usize> = empty.iter().map(|line| line.number).collect();
        let text = format!("Lines without an entry, which are no rows: {}.", numbers(&lines));
        findings.push(Finding::new(Code::LinesEmpty, "lines", text));
    }
    let refused: Vec<usize> = read.iter().filter(|row| !row.trouble.is_empty()).map(|row| row.line).collect();
    if !refused.is_empty() {
        let text = format!(
            "{} of {} rows have trouble and are not used: {}. Each row says why.",
            refused.len(),
            read.len(),
            numbers(&refused)
        );
        findings.push(Finding::new(Code::RowsRefused, "rows", text).with_value(refused.len() as f64));
    }
    Ok(Sheet { columns: layout.columns.clone(), rows: read, findings })
}

impl Head<'_> {
    fn row(&self, line: &Line, findings: &mut Vec<Finding>) -> SheetRow {
        let fields: Vec<String> = line.fields.iter().map(Raw::whole).collect();
        let refused = |trouble| SheetRow {
            line: line.number,
            id: None,
            cells: vec![SheetCell { reading: Reading::Refused, decimals: None }; self.columns.len()],
            fields: fields.clone(),
            trouble: vec![trouble],
        };
        if line.breaks() > 0 {
            return refused(Error::Conflict {
                code: Code::TableUnreadable,
                detail: format!(
                    "Row {} goes on to line {}; all of it is kept.",
                    line.number,
                    line.number + line.breaks()
                ),
                hint: "Is a quote left open? Take quotes and line ends out of the fields.".to_owned(),
            });
        }
        if line.fields.len() != self.names.len() {
            let hint = "Is a delimiter part of a number or a text, or is a field missing?";
            let quantity = format!("Row {}, fields", line.number);
            return refused(Error::shape(&quantity, self.names.len(), line.fields.len(), hint));
        }
        let mut trouble = Vec::new();
        let id = Some(line.fields[self.id].text()).filter(|id| !id.is_empty());
        if id.is_none() {
            trouble.push(Error::Missing {
                code: Code::BeadIdMissing,
                quantity: "Bead id".to_owned(),
                place: format!(" in row {}", line.number),
                hint: "Give the bead an id or leave the row out.".to_owned(),
            });
        }
        let places = self.columns.iter().zip(&self.spreads);
        let cells = self.layout.columns.iter().zip(places).map(|(column, (&at, spread))| {
            let spread = spread.map(|at| &line.fields[at]);
            self.cell(line.number, column, &line.fields[at], spread, findings).unwrap_or_else(|error| {
                trouble.push(error);
                SheetCell { reading: Reading::Refused, decimals: None }
            })
        });
        let cells = cells.collect();
        SheetRow { line: line.number, id, cells, fields, trouble }
    }

    /// Holds the times of each column against the row before.
    fn times(&self, rows: &mut [SheetRow]) {
        for (place_of, column) in self.layout.columns.iter().enumerate() {
            let (mut before, mut zoned): (Option<(usize, Stamp, String)>, Option<bool>) = (None, None);
            for row in rows.iter_mut() {
                let Reading::Time(text) = &row.cells[place_of].reading else { continue };
                let here = place(row.line, &column.header);
                let stamp = time::read(text).filter(|stamp| *zoned.get_or_insert(stamp.zoned) == stamp.zoned);
                let Some(stamp) = stamp else {
                    row.trouble.push(Error::Conflict {
                        code: Code::TimeUnreadable,
                        detail: format!("{here}: '{text}' is no time that can be put in order."),
                        hint: "Write times as 2026-03-14T08:05, all with a zone (Z, +01:00) or all without.".to_owned(),
                    });
                    row.cells[place_of].reading = Reading::Refused;
                    continue;
                };
                if let Some((line, _, earlier)) = before.as_ref().filter(|(_, last, _)| stamp.before(*last)) {
                    row.trouble.push(Error::Conflict {
                        code: Code::TimeReversed,
                        detail: format!("{here}: {text} is earlier than row {line} ({earlier})."),
                        hint: "Is the order of the rows reversed, or was a clock wrong?".to_owned(),
                    });
                }
                before = Some((row.line, stamp, text.clone()));
            }
        }
    }
}
