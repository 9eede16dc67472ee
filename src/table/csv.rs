//! A table as data.

use super::{Cell, Content, Digits, Table};

impl Table {
    /// The data as CSV: numbers with all the digits that give the same double back, value and uncertainty in columns of
    /// their own, and a last column `remarks` that says why a number is missing and what is known of an uncertainty.
    /// Title, head and notes are not data and are left out.
    ///
    /// # Source
    /// RFC 4180 (2005), section 2: quotes and line ends.
    ///
    /// ```
    /// use beadchem::table::{Cell, Column, Table};
    /// let column = Column::number("w", "%").with_uncertainty("u");
    /// let table = Table::new("").column(Column::text("analyte")).column(column);
    /// let csv = table.row([Cell::text("SiO2"), Cell::at_least(51.23456789, 0.1234)]).to_csv();
    /// assert_eq!(csv, "analyte,w (%),w u (%),remarks\r\nSiO2,51.23456789,0.1234,w: u at least\r\n");
    /// ```
    #[must_use]
    pub fn to_csv(&self) -> String {
        let columns = self.all_columns();
        let mut header = Vec::new();
        for column in &columns {
            let unit = if column.unit.is_empty() { String::new() } else { format!(" ({})", column.unit) };
            header.push(format!("{}{unit}", column.title));
            header.extend(column.uncertainty.iter().map(|u| format!("{} {u}{unit}", column.title)));
        }
        header.push("remarks".to_owned());
        let mut csv = record(&header);
        for row in &self.rows {
            let (mut fields, mut remarks) = (Vec::new(), Vec::new());
            for (place, column) in columns.iter().enumerate() {
                let Data { value, u, remark } = row.get(place).map_or_else(Data::default, Data::of);
                fields.push(value);
                fields.extend(column.uncertainty.as_ref().map(|_| u));
                remarks.extend(remark.map(|remark| format!("{}: {remark}", column.title)));
            }
            fields.push(remarks.join("; "));
            csv.push_str(&record(&fields));
        }
        csv
    }
}

/// What a cell holds, as fields.
#[derive(Default)]
struct Data<'a> {
    value: String,
    u: String,
    remark: Option<&'a str>,
}

impl<'a> Data<'a> {
    fn of(cell: &'a Cell) -> Self {
        let (value, u, remark) = match &cell.0 {
            Content::Text(text) => (text.clone(), None, None),
            Content::Missing(reason) => (String::new(), None, Some(reason.as_str())),
            Content::Share(share) => (round_trip(*share), None, None),
            Content::Number(value, digits) => {
                let (u, remark) = match *digits {
                    Digits::Decimals(_) | Digits::Significant(_) => (None, None),
                    Digits::Unstated(_) => (None, Some("u not stated")),
                    Digits::Uncertainty(u) => (Some(u), None),
                    Digits::AtLeast(u) => (Some(u), Some("u at least")),
                };
                (round_trip(*value), u, remark)
            }
        };
        Self { value, u: u.map_or_else(String::new, round_trip), remark }
    }
}

/// The shortest digits that give the same double back.
fn round_trip(value: f64) -> String {
    format!("{value:?}")
}

fn record(fields: &[String]) -> String {
    let quoted = fields.iter().map(|field| match field.contains([',', '"', '\r', '\n']) {
        true => format!("\"{}\"", field.replace('"', "\"\"")),
        false => field.clone(),
    });
    format!("{}\r\n", quoted.collect::<Vec<_>>().join(","))
}
