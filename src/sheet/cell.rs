//! What one cell is.

use super::column::{Column, Kind, Spread};
use super::grid::Raw;
use super::head::Head;
use super::number::Unreadable;
use super::place::{place, placed};
use super::whole::{Reading, SheetCell};
use super::words::MassUnit;
use crate::code::Code;
use crate::composition::{Basis, Cell, Composition, Unit};
use crate::error::{Error, Result};
use crate::finding::Finding;
use crate::uncertainty::Estimate;

impl Head<'_> {
    pub(super) fn cell(
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
