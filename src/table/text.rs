//! A table as text for a terminal.

use super::layout::{Strip, clean};
use super::{Kind, Table};

/// Characters of a full bar.
const BAR_MARKS: f64 = 10.0;
/// A column of words is narrowed no further than its longest word or so many characters ...
const NARROW: usize = 16;
/// ... and breaks words longer than so many.
const LONG_WORD: usize = 24;
/// What separates columns.
const GAP: &str = "  ";

/// One column ready to print.
struct Printed {
    right: bool,
    words: bool,
    group: usize,
    heading: [String; 2],
    cells: Vec<String>,
    widest: usize,
    narrowest: usize,
}

impl Printed {
    fn new(strip: Strip) -> Self {
        let cells = aligned(&strip);
        let heading = [strip.title, strip.unit];
        let lines = || cells.iter().chain(&heading);
        let widest = lines().map(|line| count(line)).max().unwrap_or(0);
        let words = strip.kind == Kind::Text;
        let longest_word = lines().flat_map(|line| line.split_whitespace()).map(count).max().unwrap_or(0);
        let narrowest = if words { longest_word.clamp(NARROW, LONG_WORD).min(widest) } else { widest };
        Self { right: strip.kind == Kind::Number, words, group: strip.group, heading, cells, widest, narrowest }
    }

    fn padded(&self, text: &str, width: usize) -> String {
        let room = " ".repeat(width.saturating_sub(count(text)));
        if self.right { format!("{room}{text}") } else { format!("{text}{room}") }
    }

    fn wrapped(&self, text: &str, width: usize) -> Vec<String> {
        if self.words { wrap(text, width) } else { vec![text.to_owned()] }
    }
}

impl Table {
    /// Text for a terminal, at most `width` characters wide where words and numbers allow it: columns of words are
    /// wrapped first, then the columns are laid out in blocks, each beginning with the first column.
    ///
    /// Bars are drawn with `#`, ten of them for a share of 1. Each character counts as one place wide; control
    /// characters become spaces.
    ///
    /// ```
    /// use beadchem::table::{Cell, Column, Table};
    /// let row = [Cell::text("flux mass"), Cell::share(0.62)];
    /// let text = Table::new("").column(Column::text("input")).column(Column::bars("share")).row(row).to_text(80);
    /// assert!(text.ends_with("flux mass  0.62 ######"));
    /// ```
    #[must_use]
    pub fn to_text(&self, width: usize) -> String {
        let title = Some(&self.title).filter(|title| !title.is_empty());
        let mut parts = vec![paragraph(title.into_iter().chain(&self.head), width)];
        let columns: Vec<Printed> = self.strips(">= ").into_iter().map(Printed::new).collect();
        parts.extend(blocks(&columns, width).iter().map(|block| block_text(block, self.rows.len(), width)));
        parts.push(paragraph(self.notes.iter(), width));
        parts.retain(|part| !part.is_empty());
        parts.join("\n\n")
    }
}

/// The cells of a column with the decimal points one below the other once the column is aligned right.
fn aligned(strip: &Strip) -> Vec<String> {
    let tail = strip.cells.iter().map(|cell| cell.tail().len()).max().unwrap_or(0);
    let numbers = strip.cells.iter().map(|cell| match cell.word {
        true => cell.text.clone(),
        false => format!("{}{}", cell.text, " ".repeat(tail - cell.tail().len())),
    });
    if strip.kind != Kind::Bars {
        return numbers.collect();
    }
    let numbers: Vec<String> = numbers.collect();
    let width = numbers.iter().map(|number| count(number)).max().unwrap_or(0);
    let marks = |share: f64| "#".repeat((share * BAR_MARKS).round() as usize);
    let bars = strip.cells.iter().map(|cell| cell.share.map_or_else(String::new, marks));
    numbers.iter().zip(bars).map(|(number, bar)| format!("{number:>width$} {bar}")).collect()
}

fn span(widths: impl ExactSizeIterator<Item = usize>) -> usize {
    GAP.len() * widths.len().saturating_sub(1) + widths.sum::<usize>()
}

/// The widths at which a block fits, taken from the widest column of words as far as it can give.
fn fitted(columns: &[&Printed], width: usize) -> Vec<usize> {
    let mut widths: Vec<usize> = columns.iter().map(|column| column.widest).collect();
    while span(widths.iter().copied()) > width {
        let giving = (0..widths.len()).filter(|&place| widths[place] > columns[place].narrowest);
        let Some(widest) = giving.max_by_key(|&place| widths[place]) else { break };
        widths[widest] -= 1;
    }
    widths
}

/// The columns that stand side by side; a value and its uncertainty are never parted.
fn blocks(columns: &[Printed], width: usize) -> Vec<Vec<&Printed>> {
    let (labels, rest) = columns.split_at(usize::from(columns.first().is_some_and(|column| column.words)));
    let labels: Vec<&Printed> = labels.iter().collect();
    let mut finished = Vec::new();
    let mut open = labels.clone();
    for group in rest.chunk_by(|a, b| a.group == b.group) {
        let joined: Vec<&Printed> = open.iter().copied().chain(group).collect();
        if span(joined.iter().map(|column| column.narrowest)) <= width || open.len() == labels.len() {
            open = joined;
        } else {
            finished.push(core::mem::replace(&mut open, labels.iter().copied().chain(group).collect()));
        }
    }
    finished.push(open);
    finished
}

fn block_text(columns: &[&Printed], rows: usize, width: usize) -> String {
    let widths = fitted(columns, width);
    let mut lines = Vec::new();
    let mut print = |cells: Vec<&str>| {
        let placed = columns.iter().zip(&widths).zip(cells);
        let wrapped: Vec<Vec<String>> = placed.map(|((column, &width), cell)| column.wrapped(cell, width)).collect();
        for part in 0..wrapped.iter().map(Vec::len).max().unwrap_or(0) {
            let placed = columns.iter().zip(&widths).zip(&wrapped);
            let padded = placed.map(|((column, &width), cell)| column.padded(cell.get(part).map_or("", |x| x), width));
            lines.push(padded.collect::<Vec<_>>().join(GAP).trim_end().to_owned());
        }
    };
    for line in [0, 1] {
        if columns.iter().any(|column| !column.heading[line].is_empty()) {
            print(columns.iter().map(|column| column.heading[line].as_str()).collect());
        }
    }
    let rules: Vec<String> = widths.iter().map(|&width| "-".repeat(width)).collect();
    print(rules.iter().map(String::as_str).collect());
    for row in 0..rows {
        print(columns.iter().map(|column| column.cells[row].as_str()).collect());
    }
    lines.join("\n")
}

fn paragraph<'a>(lines: impl Iterator<Item = &'a String>, width: usize) -> String {
    lines.flat_map(|line| wrap(&clean(line), width)).collect::<Vec<_>>().join("\n")
}

/// Breaks between words, and inside a word only where it is longer than a line.
fn wrap(text: &str, width: usize) -> Vec<String> {
    let width = width.max(1);
    let mut lines = vec![String::new()];
    for word in text.split_whitespace() {
        let letters: Vec<char> = word.chars().collect();
        for piece in letters.chunks(width) {
            let last = lines.len() - 1;
            let used = count(&lines[last]);
            if used == 0 {
                lines[last].extend(piece);
            } else if used + 1 + piece.len() <= width {
                lines[last].push(' ');
                lines[last].extend(piece);
            } else {
                lines.push(piece.iter().collect());
            }
        }
    }
    lines
}

fn count(text: &str) -> usize {
    text.chars().count()
}
