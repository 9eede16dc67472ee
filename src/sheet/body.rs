//! The stored form of a layout.

use serde::{Deserialize, Serialize};

use super::column::{Column, Kind, Spread};
use super::layout::Layout;
use super::words::{DecimalMark, Delimiter, MassUnit, ThousandsMark};
use crate::composition::{Basis, Unit};
use crate::document::Document;
use crate::error::Result;

/// The stored form of a layout, in the words of its constructors.
///
/// ```
/// use beadchem::{document::Document, sheet::{Column, DecimalMark, Layout}};
/// let layout = Layout::new("Bead", DecimalMark::Comma).absent("-").column(Column::text("operator"));
/// assert_eq!(Layout::from_body(layout.to_body())?, layout);
/// # Ok::<(), beadchem::Error>(())
/// ```
#[derive(Debug, Clone, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct LayoutBody {
    id: String,
    decimal: String,
    #[serde(skip_serializing_if = "Option::is_none", default)]
    thousands: Option<String>,
    delimiter: String,
    header_lines: usize,
    names_in: usize,
    #[serde(skip_serializing_if = "Option::is_none", default)]
    units_in: Option<usize>,
    #[serde(default)]
    absent: Vec<String>,
    #[serde(default)]
    unknown: Vec<String>,
    columns: Vec<ColumnBody>,
}

#[derive(Debug, Clone, Serialize, Deserialize)]
#[serde(tag = "holds", rename_all = "kebab-case", deny_unknown_fields)]
enum ColumnBody {
    Content {
        species: String,
        header: String,
        #[serde(skip_serializing_if = "Option::is_none", default)]
        unit: Option<String>,
        #[serde(skip_serializing_if = "Option::is_none", default)]
        basis: Option<Basis>,
        #[serde(skip_serializing_if = "core::ops::Not::not", default)]
        separate_form: bool,
        #[serde(skip_serializing_if = "Option::is_none", default)]
        u: Option<SpreadBody>,
    },
    Mass {
        name: String,
        header: String,
        unit: String,
        #[serde(skip_serializing_if = "Option::is_none", default)]
        u: Option<SpreadBody>,
    },
    Number {
        name: String,
        header: String,
        #[serde(skip_serializing_if = "Option::is_none", default)]
        u: Option<SpreadBody>,
    },
    Text {
        header: String,
    },
    Time {
        header: String,
    },
}

#[derive(Debug, Clone, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
enum SpreadBody {
    Stated(f64),
    Column(String),
}

impl Document for Layout {
    const KIND: &'static str = "table-layout";
    const SCHEMA: u32 = 1;
    type Body = LayoutBody;
    fn to_body(&self) -> LayoutBody {
        LayoutBody {
            id: self.id.clone(),
            decimal: self.marks.decimal.word().to_owned(),
            thousands: self.marks.thousands.map(|mark| mark.word().to_owned()),
            delimiter: self.delimiter.word().to_owned(),
            header_lines: self.header_lines,
            names_in: self.names_in,
            units_in: self.units_in,
            absent: self.absent.clone(),
            unknown: self.unknown.clone(),
            columns: self.columns.iter().map(to_column).collect(),
        }
    }
    fn from_body(body: LayoutBody) -> Result<Self> {
        let mut layout = Layout::new(&body.id, DecimalMark::from_word(&body.decimal)?)
            .delimiter(Delimiter::from_word(&body.delimiter)?)
            .header_lines(body.header_lines)
            .names_in(body.names_in);
        if let Some(mark) = &body.thousands {
            layout = layout.thousands(ThousandsMark::from_word(mark)?);
        }
        if let Some(line) = body.units_in {
            layout = layout.units_in(line);
        }
        layout = body.absent.iter().fold(layout, |layout, word| layout.absent(word));
        layout = body.unknown.iter().fold(layout, |layout, word| layout.unknown(word));
        for column in body.columns {
            layout = layout.column(from_column(column)?);
        }
        layout.check()?;
        Ok(layout)
    }
}

fn to_column(column: &Column) -> ColumnBody {
    let (name, header) = (column.name.clone(), column.header.clone());
    let u = match &column.spread {
        Spread::Unstated => None,
        Spread::Stated(u) => Some(SpreadBody::Stated(*u)),
        Spread::Column(header) => Some(SpreadBody::Column(header.clone())),
    };
    match column.kind {
        Kind::Content { unit, basis, form } => {
            let unit = unit.map(|unit| unit.word().to_owned());
            ColumnBody::Content { species: name, header, unit, basis, separate_form: form, u }
        }
        Kind::Mass(unit) => ColumnBody::Mass { name, header, unit: unit.word().to_owned(), u },
        Kind::Number => ColumnBody::Number { name, header, u },
        Kind::Text => ColumnBody::Text { header },
        Kind::Time => ColumnBody::Time { header },
    }
}

fn from_column(body: ColumnBody) -> Result<Column> {
    let (column, u) = match body {
        ColumnBody::Content { species, header, unit, basis, separate_form, u } => {
            let unit = unit.as_deref().map(Unit::from_word).transpose()?;
            let column = Column::undeclared(&species, &header, unit, basis);
            (if separate_form { column.as_form() } else { column }, u)
        }
        ColumnBody::Mass { name, header, unit, u } => (Column::mass(&name, &header, MassUnit::from_word(&unit)?), u),
        ColumnBody::Number { name, header, u } => (Column::number(&name, &header), u),
        ColumnBody::Text { header } => (Column::text(&header), None),
        ColumnBody::Time { header } => (Column::time(&header), None),
    };
    Ok(match u {
        None => column,
        Some(SpreadBody::Stated(u)) => column.with_u(u),
        Some(SpreadBody::Column(header)) => column.with_u_column(&header),
    })
}
