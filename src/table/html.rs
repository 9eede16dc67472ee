//! A table as HTML for a notebook or a report.

use super::layout::{Shown, Strip, clean};
use super::{Kind, Table};

/// Length of a full bar, in em.
const BAR_EM: f64 = 6.0;
/// Words of more characters than these are a sentence, which wraps but is not squeezed.
const SENTENCE: usize = 24;

/// Quiet by intent: font and colour are inherited, so that it follows light and dark pages; nothing is said by colour;
/// alignment is insisted on, since notebooks set every cell to the right; bars are borders, which print; numbers are padded with hidden figures, which are neither copied nor read aloud.
const STYLE: &str = "\
.beadchem-table{overflow-x:auto;max-width:100%;line-height:1.4}\
.beadchem-table table{border-collapse:collapse;margin:.5em 0;border:0;border-top:2px solid;border-bottom:2px solid;\
font-variant-numeric:tabular-nums lining-nums;color:inherit;background:none;width:auto;table-layout:auto}\
.beadchem-table caption{caption-side:top;text-align:left;padding:0 0 .5em;color:inherit}\
.beadchem-table caption b,.beadchem-table caption span{display:block}\
.beadchem-table caption span,.beadchem-table .unit,.beadchem-table .word,.beadchem-table p{opacity:.75}\
.beadchem-table table tr:nth-child(n){background:none}\
.beadchem-table table th,.beadchem-table table td{padding:.25em .75em;border:0;text-align:left!important;vertical-align:top;\
font-weight:normal;overflow-wrap:break-word;white-space:normal}\
.beadchem-table table thead th{font-weight:600;border-bottom:1px solid}\
.beadchem-table table tbody th{white-space:nowrap}\
.beadchem-table table .t{min-width:14em;max-width:36em}\
.beadchem-table table .unit{display:block;font-weight:normal}\
.beadchem-table table tbody tr+tr>*{border-top:1px solid rgba(128,128,128,.3)}\
.beadchem-table table th.n,.beadchem-table table td.n{text-align:right!important;white-space:nowrap}\
.beadchem-table table .u{padding-left:0}\
.beadchem-table [data-pad]::after{content:attr(data-pad);visibility:hidden}\
.beadchem-table .word{font-style:italic}\
.beadchem-table table .b{white-space:nowrap}\
.beadchem-table .bar{display:inline-block;width:6em;margin-left:.75em;border-left:1px solid;line-height:1}\
.beadchem-table .bar i{display:inline-block;height:.65em;border:0 solid;opacity:.5}\
.beadchem-table p{margin:.2em 0;font-size:.9em;max-width:50em}\
@media(max-width:30em){.beadchem-table table th,.beadchem-table table td{padding:.25em .4em}\
.beadchem-table table tbody th{white-space:normal}\
.beadchem-table table .u{padding-left:0}.beadchem-table .bar{margin-left:.4em}}\
@media print{.beadchem-table{overflow:visible}.beadchem-table tr{break-inside:avoid}}";

impl Table {
    /// HTML for a notebook or a report: one `div` of class `beadchem-table` with its own style, nothing loaded from
    /// elsewhere, no script. All text is escaped. Decimal points line up in any font whose figures have one width.
    ///
    /// ```
    /// use beadchem::table::{Cell, Column, Table};
    /// let html = Table::new("a < b").column(Column::text("x")).row([Cell::text("1 & 2")]).to_html();
    /// assert!(html.contains("<b>a &lt; b</b>") && html.contains("1 &amp; 2"));
    /// ```
    #[must_use]
    pub fn to_html(&self) -> String {
        let strips = self.strips("\u{2265} ");
        let label = if self.title.is_empty() { "table" } else { &self.title };
        let heading: String = strips.iter().map(heading).collect();
        let pads: Vec<Padding> = strips.iter().map(Padding::of).collect();
        let row = |row: usize| {
            let cells = strips.iter().zip(&pads).enumerate();
            let cells: String = cells.map(|(place, (strip, pad))| cell(strip, pad, row, place == 0)).collect();
            format!("<tr>{cells}</tr>\n")
        };
        let rows: String = (0..self.rows.len()).map(row).collect();
        let notes: String = self.notes.iter().map(|note| format!("<p>{}</p>\n", escape(note))).collect();
        format!(
            "<div class=\"beadchem-table\" role=\"region\" tabindex=\"0\" aria-label=\"{label}\"><style>{STYLE}</style>\n\
             <table>{caption}\n<thead><tr>{heading}</tr></thead>\n<tbody>\n{rows}</tbody></table>\n{notes}</div>",
            label = escape(label),
            caption = self.caption(),
        )
    }

    fn caption(&self) -> String {
        let title = Some(&self.title).filter(|title| !title.is_empty());
        let title = title.map(|title| format!("<b>{}</b>", escape(title)));
        let head = self.head.iter().map(|line| format!("<span>{}</span>", escape(line)));
        let lines: String = title.into_iter().chain(head).collect();
        if lines.is_empty() { lines } else { format!("<caption>{lines}</caption>") }
    }
}

/// How many of each character the tails of a column's numbers have at most. Filling each tail up to this gives all the
/// same width, whatever the width of a point or of an `e`.
struct Padding([(char, usize); 4]);

impl Padding {
    fn of(strip: &Strip) -> Self {
        Self(['.', '0', 'e', '-'].map(|kind| {
            let most = strip.cells.iter().map(|cell| amount(cell.tail(), kind)).max();
            (kind, most.unwrap_or(0))
        }))
    }

    fn missing(&self, tail: &str) -> String {
        self.0.iter().map(|&(kind, most)| kind.to_string().repeat(most - amount(tail, kind))).collect()
    }
}

fn amount(tail: &str, kind: char) -> usize {
    tail.chars().filter(|&letter| letter == kind || (kind == '0' && letter.is_ascii_digit())).count()
}

fn class(strip: &Strip) -> &'static str {
    match strip.kind {
        Kind::Text => "",
        Kind::Bars => " class=\"b\"",
        Kind::Number if strip.beside => " class=\"n u\"",
        Kind::Number => " class=\"n\"",
    }
}

fn heading(strip: &Strip) -> String {
    let unit = match strip.unit.as_str() {
        "" => String::new(),
        unit => format!(" <span class=\"unit\">{}</span>", escape(unit)),
    };
    format!("<th scope=\"col\"{}>{}{unit}</th>", class(strip), escape(&strip.title))
}

fn cell(strip: &Strip, padding: &Padding, row: usize, first: bool) -> String {
    let shown = &strip.cells[row];
    let text = escape(&shown.text);
    match strip.kind {
        Kind::Text if first => format!("<th scope=\"row\">{text}</th>"),
        Kind::Text if shown.text.chars().count() > SENTENCE => format!("<td class=\"t\">{text}</td>"),
        Kind::Text => format!("<td>{text}</td>"),
        _ if shown.word => format!("<td{}><span class=\"word\">{text}</span></td>", class(strip)),
        Kind::Bars => format!("<td{}>{text}{}</td>", class(strip), bar(shown)),
        Kind::Number => match padding.missing(shown.tail()) {
            pad if pad.is_empty() => format!("<td{}>{text}</td>", class(strip)),
            pad => format!("<td{} data-pad=\"{pad}\">{text}</td>", class(strip)),
        },
    }
}

fn bar(shown: &Shown) -> String {
    shown.share.map_or_else(String::new, |share| {
        let length = share * BAR_EM;
        format!("<span class=\"bar\" aria-hidden=\"true\"><i style=\"border-left-width:{length:.2}em\"></i></span>")
    })
}

fn escape(text: &str) -> String {
    let mut escaped = String::with_capacity(text.len());
    for letter in clean(text).chars() {
        match letter {
            '&' => escaped.push_str("&amp;"),
            '<' => escaped.push_str("&lt;"),
            '>' => escaped.push_str("&gt;"),
            '"' => escaped.push_str("&quot;"),
            '\'' => escaped.push_str("&#39;"),
            other => escaped.push(other),
        }
    }
    escaped
}
