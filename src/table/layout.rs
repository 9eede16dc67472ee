//! What is printed where: shared by the text and the HTML.

use super::{Cell, Column, Content, Digits, Kind, Table, number};

/// Decimals of a share.
const SHARE_DECIMALS: u8 = 2;

/// What one cell shows in one printed column.
pub(super) struct Shown {
    pub(super) text: String,
    /// Text in a place of numbers takes no part in their alignment.
    pub(super) word: bool,
    pub(super) share: Option<f64>,
}

impl Shown {
    fn number(text: String) -> Self {
        Self { text, word: false, share: None }
    }

    fn word(text: &str) -> Self {
        Self { text: clean(text), word: true, share: None }
    }

    fn of(cell: Option<&Cell>) -> Self {
        match cell.map(|cell| &cell.0) {
            None => Self::word(""),
            Some(Content::Text(text) | Content::Missing(text)) => Self::word(text),
            Some(&Content::Share(share)) => {
                Self { text: number::decimals(share, SHARE_DECIMALS), word: false, share: Some(share.clamp(0.0, 1.0)) }
            }
            Some(&Content::Number(value, digits)) => Self::number(match digits {
                Digits::Decimals(count) | Digits::Unstated(Some(count)) => number::decimals(value, count),
                Digits::Unstated(None) => number::plain(value),
                Digits::Significant(count) => number::significant(value, count),
                Digits::Uncertainty(u) | Digits::AtLeast(u) => number::format_value(value, u).0,
            }),
        }
    }

    fn uncertainty_of(cell: Option<&Cell>, at_least: &str) -> Self {
        let Some(&Content::Number(value, digits)) = cell.map(|cell| &cell.0) else { return Self::word("") };
        match digits {
            Digits::Decimals(_) | Digits::Significant(_) => Self::word(""),
            Digits::Unstated(_) => Self::word(number::UNSTATED),
            Digits::Uncertainty(u) => Self::number(number::format_value(value, u).1),
            Digits::AtLeast(u) => Self::number(format!("{at_least}{}", number::format_value(value, u).1)),
        }
    }

    /// What follows the last digit before the decimal point, the point included.
    pub(super) fn tail(&self) -> &str {
        match self.text.find(['.', 'e']) {
            Some(point) if !self.word => &self.text[point..],
            _ => "",
        }
    }
}

/// One printed column: a column of the table, or the uncertainty beside it.
pub(super) struct Strip {
    /// The column of the table it belongs to.
    pub(super) group: usize,
    pub(super) kind: Kind,
    /// Whether it is the uncertainty beside a value.
    pub(super) beside: bool,
    pub(super) title: String,
    pub(super) unit: String,
    pub(super) cells: Vec<Shown>,
}

impl Table {
    /// As many columns as there are headings, or cells in the longest row.
    pub(super) fn all_columns(&self) -> Vec<Column> {
        let width = self.rows.iter().map(Vec::len).max().unwrap_or(0).max(self.columns.len());
        let unnamed = core::iter::repeat_n(Column::text(""), width - self.columns.len());
        self.columns.iter().cloned().chain(unnamed).collect()
    }

    pub(super) fn strips(&self, at_least: &str) -> Vec<Strip> {
        let mut strips = Vec::new();
        for (group, column) in self.all_columns().into_iter().enumerate() {
            let (title, unit) = (clean(&column.title), clean(&column.unit));
            let cells = self.rows.iter().map(|row| row.get(group));
            let beside = column.uncertainty.map(|title| Strip {
                group,
                kind: Kind::Number,
                beside: true,
                title: clean(&title),
                unit: unit.clone(),
                cells: cells.clone().map(|cell| Shown::uncertainty_of(cell, at_least)).collect(),
            });
            let cells = cells.map(Shown::of).collect();
            strips.push(Strip { group, kind: column.kind, beside: false, title, unit, cells });
            strips.extend(beside);
        }
        strips
    }
}

/// The text with control characters (line ends, tabs, terminal sequences) as spaces.
pub(super) fn clean(text: &str) -> String {
    text.replace(char::is_control, " ")
}
