//! Where the declared columns of a table stand, and whether all is declared that its cells need.

use super::column::{Column, Kind, Spread};
use super::grid::{Line, Raw};
use super::layout::Layout;
use super::number::{self, Unreadable, Written};
use super::words::MassUnit;
use crate::code::Code;
use crate::composition::{CHOICES, Unit};
use crate::error::{Error, Result};
use crate::finding::Finding;
use crate::substance::Formula;

/// Where the declared columns stand.
pub(super) struct Head<'a> {
    pub(super) layout: &'a Layout,
    pub(super) names: Vec<String>,
    pub(super) id: usize,
    pub(super) columns: Vec<usize>,
    pub(super) spreads: Vec<Option<usize>>,
}

impl<'a> Head<'a> {
    pub(super) fn of(lines: &[Line], layout: &'a Layout) -> Result<Self> {
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
    pub(super) fn all_declared(&self, data: &[&Line]) -> Result<()> {
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
                    hint: CHOICES.to_owned(),
                });
            }
        }
        Ok(())
    }

    pub(super) fn number(&self, field: &Raw) -> core::result::Result<Written, Unreadable> {
        match field {
            Raw::Number(value) if value.is_finite() => Ok(Written { below: false, value: *value, decimals: 0 }),
            Raw::Number(_) => Err(Unreadable::Huge),
            Raw::Text(text) => number::read(text.trim(), self.layout.marks),
        }
    }

    /// What was assumed in reading the species.
    pub(super) fn formulas(&self) -> Result<Vec<Finding>> {
        let contents = self.layout.columns.iter().filter(|column| column.is_content());
        let read: Vec<Formula> = contents.map(|column| Formula::parse(&column.name)).collect::<Result<_>>()?;
        Ok(read.iter().flat_map(Formula::findings).cloned().collect())
    }

    /// Names the columns that nobody declared.
    pub(super) fn not_read(&self, data: &[&Line]) -> Option<Finding> {
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
