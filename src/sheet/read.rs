//! From the lines of a file to rows: where each column stands, and what each cell is.

use super::column::{Column, Kind, Spread};
use super::grid::{self, Line, Raw};
use super::ids;
use super::layout::Layout;
use super::number::{self, Unreadable, Written};
use super::place::{numbers, place, placed, rows};
use super::time::{self, Stamp};
use super::whole::{Reading, Sheet, SheetCell, SheetRow};
use super::words::MassUnit;
use crate::code::Code;
use crate::composition::{Basis, Cell, Composition, Unit};
use crate::error::{Error, Result};
use crate::finding::Finding;
use crate::uncertainty::Estimate;

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
    let mut findings = Vec::new();
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

/// Where the declared columns stand.
struct Head<'a> {
    layout: &'a Layout,
    names: Vec<String>,
    id: usize,
    columns: Vec<usize>,
    spreads: Vec<Option<usize>>,
}

impl<'a> Head<'a> {
    fn of(lines: &[Line], layout: &'a Layout) -> Result<Self> {
        let names = lines.iter().find(|line| line.number == layout.names_in);
        let names: Vec<String> = names.map(|line| line.fields.iter().map(Raw::text).collect()).unwrap_or_default();
        let find = |header: &str| position(&names, header, layout.names_in);
        let id = find(&layout.id)?;
        let columns = layout.columns.iter().map(|column| find(&column.header)).collect::<Result<_>>()?;
        let spread = |column: &Column| match &column.spread {
            Spread::Column(header) => find(header).map(Some),
            _ => Ok(None),
        };
        let spreads = layout.columns.iter().map(spread).collect::<Result<_>>()?;
        let head = Self { layout, names, id, columns, spreads };
        if let Some(units) = layout.units_in.and_then(|at| lines.iter().find(|line| line.number == at)) {
            head.units_agree(units)?;
        }
        Ok(head)
    }

    /// Refuses a unit line that says another unit than declared.
    fn units_agree(&self, units: &Line) -> Result<()> {
        for ((column, &at), spread) in self.layout.columns.iter().zip(&self.columns).zip(&self.spreads) {
            for at in core::iter::once(at).chain(*spread) {
                let written = units.fields.get(at).map(Raw::text).unwrap_or_default();
                let Some((declared, found)) = column.unit().zip(known_unit(&written)) else { continue };
                if declared != found {
                    return Err(Error::Conflict {
                        code: Code::TableUnitContradicts,
                        detail: format!(
                            "Column {} is declared in {declared}; line {} of the table says '{written}'.",
                            self.names[at], units.number
                        ),
                        hint: "Declare the unit in which the numbers stand.".to_owned(),
                    });
                }
            }
        }
        Ok(())
    }

    /// Refuses contents without unit or basis, with numbers of theirs.
    fn all_declared(&self, data: &[&Line]) -> Result<()> {
        for (column, &at) in self.layout.columns.iter().zip(&self.columns) {
            let Kind::Content { unit, basis, .. } = column.kind else { continue };
            let number = |line: &&Line| {
                let field = line.fields.get(at)?;
                Some((self.number(field).ok()?.value, field.text()))
            };
            let found = || data.iter().filter_map(number);
            if unit.is_none() {
                let least = found().min_by(|(one, _), (other, _)| one.total_cmp(other));
                let most = found().max_by(|(one, _), (other, _)| one.total_cmp(other));
                let held = match (least, most) {
                    (Some((low, least)), Some((high, most))) if low < high => format!("{least} and {most}"),
                    (Some((_, only)), _) => only,
                    _ => "no numbers".to_owned(),
                };
                return Err(Error::Conflict {
                    code: Code::UnitMissing,
                    detail: format!("Column {} has {held};", column.header),
                    hint: "declare unit per column.".to_owned(),
                });
            }
            if basis.is_none() {
                let first = found().next().map_or(String::new(), |(_, text)| format!(" {text}"));
                return Err(Error::Conflict {
                    code: Code::BasisMissing,
                    detail: format!("{}{first} has no basis.", column.name),
                    hint: "Choose as received, air-equilibrated, dried, ignited or bead.".to_owned(),
                });
            }
        }
        Ok(())
    }

    fn number(&self, field: &Raw) -> core::result::Result<Written, Unreadable> {
        match field {
            Raw::Number(value) if value.is_finite() => Ok(Written { below: false, value: *value, decimals: 0 }),
            Raw::Number(_) => Err(Unreadable::Huge),
            Raw::Text(text) => number::read(text.trim(), self.layout.marks),
        }
    }

    fn row(&self, line: &Line, findings: &mut Vec<Finding>) -> SheetRow {
        let fields: Vec<String> = line.fields.iter().map(Raw::whole).collect();
        let refused = |trouble| SheetRow {
            line: line.number,
            id: None,
            cells: vec![SheetCell { reading: Reading::Refused, decimals: None }; self.columns.len()],
            fields: fields.clone(),
            trouble: vec![trouble],
        };
        if line.is_broken() {
            return refused(Error::Conflict {
                code: Code::TableUnreadable,
                detail: format!("Row {} goes over the end of its line.", line.number),
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

    fn cell(
        &self,
        line: usize,
        column: &Column,
        field: &Raw,
        spread: Option<&Raw>,
        findings: &mut Vec<Finding>,
    ) -> Result<SheetCell> {
        let text = field.text();
        let bare = |reading| Ok(SheetCell { reading, decimals: None });
        let is_absent = self.layout.absent.contains(&text);
        let is_unknown = text.is_empty() || self.layout.unknown.contains(&text);
        match &column.kind {
            Kind::Text => return bare(Reading::Text(text)),
            Kind::Content { .. } if is_absent => return bare(Reading::Content(Cell::Absent)),
            Kind::Content { .. } if is_unknown => return bare(Reading::Content(Cell::Unknown)),
            Kind::Mass(unit) if !is_absent && (is_unknown || is_no_number(&text)) => {
                return Err(Error::Missing {
                    code: Code::MassMissing,
                    quantity: column.name.clone(),
                    place: format!(" in row {line}"),
                    hint: format!("Give a number in {} or leave the bead out.", unit.in_words()),
                });
            }
            _ if is_absent => return bare(Reading::Absent),
            _ if is_unknown => return bare(Reading::Unknown),
            Kind::Time => return bare(Reading::Time(text)),
            Kind::Content { .. } | Kind::Mass(_) | Kind::Number => {}
        }
        let here = place(line, &column.header);
        let written = self.number(field).map_err(|why| self.unreadable(why, &here, &text))?;
        let decimals = matches!(field, Raw::Text(_)).then_some(written.decimals);
        let unit = match column.kind {
            Kind::Content { unit, .. } => unit.unwrap_or(Unit::Fraction),
            _ => Unit::Fraction,
        };
        if written.below {
            return self.limit(line, column, &text, written.value, unit, findings);
        }
        let u = match (&column.spread, spread) {
            (Spread::Stated(u), _) => Some(*u),
            (Spread::Column(header), Some(field)) => self.spread(line, header, field)?,
            _ => None,
        };
        let estimate = |scale: &dyn Fn(f64) -> f64| match u {
            Some(u) => Estimate::new(scale(written.value), scale(u)),
            None => Estimate::unstated(scale(written.value)),
        };
        let reading = match column.kind {
            Kind::Content { .. } => {
                let cell =
                    Cell::Value(estimate(&|number| unit.fraction(number)).map_err(|error| placed(error, &here))?);
                Reading::Content(possible(&column.name, cell).map_err(|error| placed(error, &here))?)
            }
            Kind::Mass(unit) => {
                let mass = estimate(&|number| unit.grams(number)).map_err(|error| placed(error, &here))?;
                Reading::Mass(above_zero(mass, column, unit, &here, written.value)?)
            }
            _ => Reading::Number(estimate(&|number| number).map_err(|error| placed(error, &here))?),
        };
        Ok(SheetCell { reading, decimals })
    }

    fn limit(
        &self,
        line: usize,
        column: &Column,
        text: &str,
        written: f64,
        unit: Unit,
        findings: &mut Vec<Finding>,
    ) -> Result<SheetCell> {
        let here = place(line, &column.header);
        if !column.is_content() {
            return Err(Error::Conflict {
                code: Code::NumberUnreadable,
                detail: format!("{here}: '{text}' is a limit, and a {} belongs here.", column.kind_word()),
                hint: "Only contents may be below a limit.".to_owned(),
            });
        }
        let limit = unit.fraction(written);
        let cell = possible(&column.name, Cell::Below { limit }).map_err(|error| placed(error, &here))?;
        let said = format!(
            "Row {line}: '{text}' read as below {written} {}. It enters totals as not counted: {} is named beside the total.",
            unit.word(),
            column.name
        );
        findings.push(Finding::new(Code::LimitRead, column.name.as_str(), said).with_value(limit));
        Ok(SheetCell { reading: Reading::Content(cell), decimals: None })
    }

    /// The uncertainty that stands in a column of its own; nothing where it is not stated.
    fn spread(&self, line: usize, header: &str, field: &Raw) -> Result<Option<f64>> {
        let text = field.text();
        if text.is_empty() || self.layout.unknown.contains(&text) || self.layout.absent.contains(&text) {
            return Ok(None);
        }
        let here = place(line, header);
        let written = self.number(field).map_err(|why| self.unreadable(why, &here, &text))?;
        if written.below {
            return Err(self.unreadable(Unreadable::Text, &here, &text));
        }
        Ok(Some(written.value))
    }

    fn unreadable(&self, why: Unreadable, here: &str, text: &str) -> Error {
        let marks = self.layout.marks.in_words();
        let (code, detail, hint) = match why {
            Unreadable::Ambiguous => (
                Code::NumberAmbiguous,
                format!("'{text}' is ambiguous."),
                format!("State decimal mark for this table. Declared: {marks}."),
            ),
            Unreadable::Grouping => (
                Code::NumberAmbiguous,
                format!("'{text}' has thousands marks that do not part groups of three digits."),
                format!("State decimal mark for this table. Declared: {marks}."),
            ),
            Unreadable::Text => (
                Code::NumberUnreadable,
                format!("'{text}' is not a number."),
                "Mend the export, or declare the word as absent or unknown.".to_owned(),
            ),
            Unreadable::Huge => (
                Code::NumberUnreadable,
                format!("'{text}' is larger than any number held here."),
                "Mend the export.".to_owned(),
            ),
        };
        Error::Conflict { code, detail: format!("{here}: {detail}"), hint }
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

    /// Names the columns that nobody declared.
    fn not_read(&self, data: &[&Line]) -> Option<Finding> {
        let declared: Vec<&str> = self.layout.headers().collect();
        let other = self.names.iter().enumerate().filter_map(|(at, name)| match name.as_str() {
            "" => {
                let holds = data.iter().any(|line| line.fields.get(at).is_some_and(|field| !field.is_empty()));
                holds.then(|| format!("field {} (without a header)", at + 1))
            }
            name => (!declared.contains(&name)).then(|| name.to_owned()),
        });
        let other: Vec<String> = other.collect();
        let text = format!("Columns not read: {}.", other.join(", "));
        (!other.is_empty()).then(|| Finding::new(Code::ColumnsNotRead, other.join(", "), text))
    }
}

/// The place of a header that must stand once.
fn position(names: &[String], header: &str, line: usize) -> Result<usize> {
    let found: Vec<usize> = (0..names.len()).filter(|&at| names[at] == header).collect();
    let (detail, hint) = match found.as_slice() {
        [one] => return Ok(*one),
        [] => {
            let held: Vec<&str> = names.iter().map(String::as_str).filter(|name| !name.is_empty()).collect();
            let held =
                if held.is_empty() { "It is empty".to_owned() } else { format!("It holds: {}", held.join(", ")) };
            (
                format!("Column `{header}` is not in line {line}."),
                format!("{held}. Are delimiter and header lines right?"),
            )
        }
        several => {
            let fields: Vec<String> = several.iter().map(|at| (at + 1).to_string()).collect();
            let detail =
                format!("Column `{header}` stands in line {line} more than once (fields {}).", fields.join(", "));
            (detail, "Mend the export; none of them was chosen.".to_owned())
        }
    };
    Err(Error::Conflict { code: Code::TableHeader, detail, hint })
}

/// The unit a word of a unit line means, by the word declared for it; nothing for a word that is not known.
fn known_unit(text: &str) -> Option<&'static str> {
    let bare = text.trim_matches(['(', ')', '[', ']', ' ']);
    Some(match bare {
        "%" | "wt%" | "wt.%" | "wt %" | "wt.-%" | "% m/m" | "percent" => Unit::Percent.word(),
        "g/g" | "kg/kg" => Unit::Fraction.word(),
        "g/kg" | "mg/g" => Unit::GramPerKilogram.word(),
        "mg/kg" | "ppm" | "\u{b5}g/g" | "\u{3bc}g/g" | "ug/g" | "g/t" => Unit::MilligramPerKilogram.word(),
        "g" => MassUnit::Gram.word(),
        "mg" => MassUnit::Milligram.word(),
        _ => return None,
    })
}

/// Words for a mass that is not a number.
fn is_no_number(text: &str) -> bool {
    let bare = text.trim_start_matches(['+', '-']);
    ["nan", "inf", "infinity"].iter().any(|word| bare.eq_ignore_ascii_case(word))
}

/// The cell, held against what a composition takes.
fn possible(species: &str, cell: Cell) -> Result<Cell> {
    Composition::new(Basis::Dried).with(species, cell.clone())?;
    Ok(cell)
}

fn above_zero(mass: Estimate, column: &Column, unit: MassUnit, here: &str, written: f64) -> Result<Estimate> {
    if mass.value() > 0.0 {
        return Ok(mass);
    }
    Err(Error::NotPositive {
        code: Code::MassNotPositive,
        quantity: format!("{here}: {}", column.name),
        value: written,
        unit: unit.word(),
        bound: "A mass must be above zero".to_owned(),
        hint: "was the tare taken after loading? A mass not weighed is declared by a word for absent.".to_owned(),
    })
}
