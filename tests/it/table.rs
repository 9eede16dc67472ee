//! The renderer of tables: rounding against exact integers, alignment, escaping, and CSV that gives every double back.

use beadchem::table::{Cell, Column, Table, format_value};
use proptest::prelude::*;
use proptest::test_runner::{Config, RngSeed};

/// One part in 1e12: what the arithmetic of a comparison itself may be off by.
const COMPARISON: f64 = 1e-12;

/// The same cases in every run.
fn config() -> Config {
    Config { cases: 512, rng_seed: RngSeed::Fixed(20_262), failure_persistence: None, ..Config::default() }
}

/// The double a text stands for; what is no number equals nothing.
fn double(text: &str) -> f64 {
    text.parse().unwrap_or(f64::NAN)
}

/// A table with one column of numbers and nothing else, as lines of text.
fn printed(cells: impl IntoIterator<Item = Cell>) -> Vec<String> {
    let table =
        Table::new("").column(Column::number("w", "").with_uncertainty("u")).rows(cells.into_iter().map(|c| [c]));
    table.to_text(80).lines().skip(2).map(str::to_owned).collect()
}

fn one(cell: Cell) -> String {
    printed([cell])[0].split_whitespace().collect::<Vec<_>>().join(" ")
}

/// The rule: 5 and nothing after it leaves an even digit and raises an odd one (ISO 2597-1:2006, 8.3).
#[test]
fn ties_go_to_the_even_digit() {
    let ties = [
        (0.05, "0.0"),
        (0.15, "0.2"),
        (0.25, "0.2"),
        (0.35, "0.4"),
        (0.45, "0.4"),
        (0.55, "0.6"),
        (0.65, "0.6"),
        (0.75, "0.8"),
        (0.85, "0.8"),
        (0.95, "1.0"),
        (9.95, "10.0"),
        (-0.25, "-0.2"),
        (-0.35, "-0.4"),
    ];
    for (value, expected) in ties {
        assert_eq!(one(Cell::number(value, 1)), expected, "{value}");
    }
}

/// 2.675 is stored as 2.67499999999999982236431605997495353221893310546875; what was written decides.
#[test]
fn ties_are_judged_on_the_decimal_digits() {
    assert_eq!(one(Cell::number(2.675, 2)), "2.68");
    assert_eq!(one(Cell::number(1.005, 2)), "1.00");
    assert_eq!(one(Cell::number(0.285, 2)), "0.28");
    assert_eq!(one(Cell::number(0.285_000_000_001, 2)), "0.29");
    assert_eq!(one(Cell::number(0.049_999_999, 1)), "0.0");
    assert_eq!(one(Cell::number(0.050_000_001, 1)), "0.1");
}

#[test]
fn a_zero_has_no_sign() {
    for value in [-0.0, -0.004, -0.005, -1e-300] {
        assert_eq!(one(Cell::number(value, 2)), "0.00", "{value}");
    }
    assert_eq!(one(Cell::number(-0.006, 2)), "-0.01");
    assert_eq!(format_value(-0.0004, 0.12), ("0.00".into(), "0.12".into()));
    assert_eq!(format_value(-0.0, 0.0), ("0".into(), "0".into()));
}

#[test]
fn u_has_two_digits_and_the_value_ends_where_u_does() {
    let cases = [
        (51.2345, 0.1249, "51.23", "0.12"),
        (51.2345, 0.125, "51.23", "0.12"),
        (51.2345, 0.135, "51.23", "0.14"),
        (51.2345, 0.0996, "51.23", "0.10"),
        (51.2345, 0.9951, "51.2", "1.0"),
        (51.2345, 9.951, "51", "10"),
        (51.5, 12.0, "52", "12"),
        (45_678.0, 1_234.0, "45700", "1200"),
        (45_650.0, 1_234.0, "45600", "1200"),
        (0.0, 0.003, "0.0000", "0.0030"),
        (3.0, 1_200.0, "0", "1200"),
        (99.999, 0.012, "99.999", "0.012"),
        (99.9996, 0.012, "100.000", "0.012"),
    ];
    for (value, u, expected, expected_u) in cases {
        assert_eq!(format_value(value, u), (expected.into(), expected_u.into()), "{value} with u {u}");
    }
}

#[test]
fn very_large_and_very_small_numbers_have_a_power_of_ten() {
    let pair = |value, u| {
        let (value, u) = format_value(value, u);
        format!("{value} {u}")
    };
    assert_eq!(pair(6.022_140_76e23, 1.5e16), "6.02214076e23 0.00000015e23");
    assert_eq!(pair(3.21e-12, 4.5e-14), "3.210e-12 0.045e-12");
    assert_eq!(pair(0.0, 4.5e-14), "0.0e-14 4.5e-14");
    assert_eq!(pair(1e-14, 4.5e-12), "0.0e-12 4.5e-12");
    assert_eq!(pair(999_999_999.6, 1.0), "999999999.6 1.0");
    assert_eq!(pair(1_000_000_000.0, 1.0), "1.0000000000e9 0.0000000010e9");
    assert_eq!(pair(1.0, 1.2e-9), "1.0000000000 0.0000000012");
    assert_eq!(pair(1e300, 1e-300), "1e300 1.0e-300");
    assert_eq!(pair(5e-324, 5e-324), "5.0e-324 5.0e-324");
    assert_eq!(one(Cell::number(1.25e12, 1)), "1.2e12");
    assert_eq!(one(Cell::significant(1.25e-12, 2)), "1.2e-12");
    assert_eq!(one(Cell::significant(0.099_96, 3)), "0.100");
}

#[test]
fn what_is_known_of_u_is_said() {
    assert_eq!(one(Cell::measured(51.2345, 0.1249)), "51.23 0.12");
    assert_eq!(one(Cell::at_least(51.2345, 0.1249)), "51.23 >= 0.12");
    assert_eq!(one(Cell::unstated(51.2345, 1)), "51.2 not stated");
    assert_eq!(one(Cell::measured(0.1 + 0.2, 0.0)), "0.3 0");
    for nonsense in [f64::NAN, f64::INFINITY, -0.1] {
        assert_eq!(one(Cell::measured(51.25, nonsense)), "51.25 not stated");
    }
    assert_eq!(one(Cell::number(51.2345, 1)), "51.2");
    assert_eq!(one(Cell::measured(f64::NAN, 0.1)), "not a number");
    assert_eq!(one(Cell::number(f64::NEG_INFINITY, 1)), "infinite");
    assert_eq!(one(Cell::missing("below detection")), "below detection");
}

#[test]
fn points_stand_one_below_the_other_in_text() {
    let cells = [
        Cell::measured(51.234, 0.124),
        Cell::missing("absent"),
        Cell::number(-0.081_27, 5),
        Cell::number(120.0, 0),
        Cell::measured(3.21e-12, 4.5e-14),
        Cell::at_least(7.0, 0.25),
    ];
    let expected = [
        " 51.23          0.12",
        "     absent",
        " -0.08127",
        "120",
        "  3.210e-12     0.045e-12",
        "  7.00       >= 0.25",
    ];
    assert_eq!(printed(cells), expected);
}

#[test]
fn bars_are_drawn_beside_their_number_and_end_at_the_edges() {
    let shares = [1.0, 0.62, 0.04, 0.0, -0.25, 1.5];
    let table = Table::new("").column(Column::bars("share")).rows(shares.map(|share| [Cell::share(share)]));
    let text = table.to_text(80);
    let lines: Vec<&str> = text.lines().skip(2).collect();
    assert_eq!(lines, [" 1.00 ##########", " 0.62 ######", " 0.04", " 0.00", "-0.25", " 1.50 ##########"]);
    let html = table.to_html();
    let lengths: Vec<&str> =
        html.split("border-left-width:").skip(1).filter_map(|rest| rest.split("em").next()).collect();
    assert_eq!(lengths, ["6.00", "3.72", "0.24", "0.00", "0.00", "6.00"]);
}

/// One long sentence and nine numbers: too wide for any terminal of 40 characters.
fn wide() -> Table {
    let mut table = Table::new("A title that is longer than forty characters in all").column(Column::text("analyte"));
    for place in 0..9 {
        table = table.column(Column::number(format!("w{place}"), "%").with_uncertainty(format!("u{place}")));
    }
    let numbers = (0..9).map(|place| Cell::measured(f64::from(place) + 0.123_45, 0.0123));
    let finding = "SO3 is below zero; it is kept as it is and never clipped, and this sentence goes on for a while";
    table
        .column(Column::text("finding"))
        .row([Cell::text("SO3")].into_iter().chain(numbers).chain([Cell::text(finding)]))
        .note("not included: sampling, and this note is also longer than forty characters")
}

#[test]
fn a_wide_table_is_wrapped_and_laid_out_in_blocks() {
    let text = wide().to_text(40);
    for line in text.lines() {
        assert!(line.chars().count() <= 40, "{line}");
    }
    let blocks: Vec<&str> = text.split("\n\n").collect();
    let tables = &blocks[1..blocks.len() - 1];
    assert!(tables.len() > 1 && tables.iter().all(|block| block.starts_with("analyte")), "{text}");
    for place in 0..9 {
        let together = format!("u{place}");
        let block = tables.iter().find(|block| block.contains(&format!("w{place}")));
        assert!(block.is_some_and(|block| block.contains(&together)), "w{place} and its u are parted:\n{text}");
    }
    let one_block = wide().to_text(usize::MAX);
    assert_eq!(one_block.split("\n\n").count(), 3);
    assert!(one_block.contains("this sentence goes on for a while"));
}

#[test]
fn display_takes_its_width_from_the_format() {
    let table = wide();
    assert_eq!(format!("{table:40}"), table.to_text(40));
    assert_eq!(table.to_string(), table.to_text(100));
}

#[test]
fn a_width_of_nothing_still_prints_everything() {
    let text = wide().to_text(0);
    let wide_text: String = wide().to_text(1000).split_whitespace().filter(|word| !word.starts_with('-')).collect();
    assert!(wide_text.chars().all(|letter| letter.is_whitespace() || text.contains(letter)));
    assert!(text.contains("8.123") && text.contains("0.012"));
}

const HOSTILE: &str = "<script>alert('1')</script> & \"x\" \u{1b}[31m\nline\t2";

fn hostile() -> Table {
    Table::new(HOSTILE)
        .head(HOSTILE)
        .column(Column::text(HOSTILE))
        .column(Column::number(HOSTILE, HOSTILE).with_uncertainty(HOSTILE))
        .column(Column::bars(HOSTILE))
        .row([Cell::text(HOSTILE), Cell::missing(HOSTILE), Cell::missing(HOSTILE), Cell::text(HOSTILE)])
        .note(HOSTILE)
}

#[test]
fn html_escapes_all_text() {
    let html = hostile().to_html();
    assert!(!html.contains("<script") && !html.contains("alert('"), "{html}");
    // Title as label and as caption, head, note, 4 headings, 2 units, 4 cells.
    assert_eq!(
        html.matches("&lt;script&gt;alert(&#39;1&#39;)&lt;/script&gt; &amp; &quot;x&quot;  [31m line 2").count(),
        14
    );
    assert!(!html.contains('\u{1b}'));
}

#[test]
fn text_lets_no_control_character_through() {
    let text = hostile().to_text(80);
    assert!(text.chars().all(|letter| letter == '\n' || !letter.is_control()), "{text:?}");
}

/// Opening and closing tags of the HTML, in order.
fn tags(html: &str) -> Vec<String> {
    let tag = |rest: &str| rest.split(['>', ' ']).next().unwrap_or_default().to_owned();
    html.split('<').skip(1).map(tag).collect()
}

#[test]
fn html_is_well_formed_self_contained_and_accessible() {
    for table in [wide(), hostile(), Table::new(""), Table::new("").row([Cell::text("no heading")])] {
        let html = table.to_html();
        let mut open: Vec<String> = Vec::new();
        for tag in tags(&html) {
            match tag.strip_prefix('/') {
                Some(closed) => assert_eq!(open.pop().as_deref(), Some(closed), "{html}"),
                None => open.push(tag),
            }
        }
        assert!(open.is_empty(), "{open:?} not closed in {html}");
        for outside in ["http", "url(", "@import", "src=", "href=", "<script", "onclick"] {
            assert!(!html.contains(outside), "{outside} in {html}");
        }
        assert!(html.contains("role=\"region\"") && !html.contains("aria-label=\"\""));
    }
    let html = wide().to_html();
    assert!(html.contains("<caption><b>A title"));
    assert_eq!(html.matches("<th scope=\"col\"").count(), 20);
    assert_eq!(html.matches("<th scope=\"row\">SO3</th>").count(), 1);
}

/// Every rule of the style begins with the class, so that nothing of the page around it changes.
#[test]
fn html_style_is_scoped() {
    let html = Table::new("x").to_html();
    let style = html.split("<style>").nth(1).and_then(|rest| rest.split("</style>").next()).unwrap_or_default();
    let selectors =
        style.split('}').flat_map(|rule| rule.rsplit('{').nth(1)).flat_map(|selectors| selectors.split(','));
    let mut seen = 0;
    for selector in selectors {
        assert!(selector.starts_with(".beadchem-table"), "{selector}");
        seen += 1;
    }
    assert!(seen > 20);
}

/// The part of a number from its point on and the hidden figures behind it, for each number of the HTML.
fn tails(html: &str) -> Vec<String> {
    let cell = |rest: &str| {
        let (attributes, rest) = rest.split_once('>').unwrap_or_default();
        let text = rest.split('<').next().unwrap_or_default();
        let point = text.find(['.', 'e']).unwrap_or(text.len());
        let pad = attributes.split("data-pad=\"").nth(1).and_then(|pad| pad.split('"').next()).unwrap_or_default();
        format!("{}{pad}", &text[point..])
    };
    html.split("<td class=\"n\"").skip(1).filter(|rest| !rest.contains("word")).map(cell).collect()
}

proptest! {
    #![proptest_config(config())]

    /// Whatever stands in a column, all its numbers take the same width behind the point: as many figures, points, e and
    /// minus signs.
    #[test]
    fn points_line_up_in_html(values in prop::collection::vec((-1e3..1e3_f64, -14..14_i32, 0..6_u8), 1..12)) {
        let cells = values.iter().map(|&(value, power, decimals)| match decimals {
            0 => Cell::significant(value * 10_f64.powi(power), 3),
            _ => Cell::number(value * 10_f64.powi(power), decimals),
        });
        let html = Table::new("").column(Column::number("w", "")).rows(cells.map(|cell| [cell])).to_html();
        let sorted = |tail: String| {
            let mut kinds: Vec<char> = tail.chars().map(|c| if c.is_ascii_digit() { '0' } else { c }).collect();
            kinds.sort_unstable();
            kinds
        };
        let tails: Vec<Vec<char>> = tails(&html).into_iter().map(sorted).collect();
        prop_assert_eq!(tails.len(), values.len());
        prop_assert!(tails.iter().all(|tail| tail == &tails[0]), "{:?}", tails);
    }

    /// The same rounding done on integers: n / 10^6 to fewer decimals.
    #[test]
    fn rounding_agrees_with_integers(n in -999_999_999_i64..999_999_999, decimals in 0..6_u8) {
        let unit = 10_i64.pow(6 - u32::from(decimals));
        let (floor, rest) = (n.abs() / unit, n.abs() % unit);
        let up = 2 * rest > unit || (2 * rest == unit && floor % 2 == 1);
        let rounded = floor + i64::from(up);
        let whole = 10_i64.pow(u32::from(decimals));
        let sign = if n < 0 && rounded != 0 { "-" } else { "" };
        let point = if decimals == 0 { String::new() } else { format!(".{:0w$}", rounded % whole, w = decimals as usize) };
        let value: f64 = double(&format!("{n}e-6"));
        prop_assert_eq!(one(Cell::number(value, decimals)), format!("{sign}{}{point}", rounded / whole));
    }

    /// u keeps two digits and is off by at most half of the last; the value by at most half of that place.
    #[test]
    fn rounded_numbers_stay_near(digits in (-10.0..10.0_f64, 1.0..10.0_f64), powers in (-20..20_i32, -20..20_i32)) {
        let (value, u) = (digits.0 * 10_f64.powi(powers.0), digits.1 * 10_f64.powi(powers.1));
        let (shown, shown_u) = format_value(value, u);
        let (back, back_u) = (double(&shown), double(&shown_u));
        let place = 10_f64.powi(powers.1 - 1);
        prop_assert!((back_u - u).abs() <= 0.5 * place + COMPARISON * u, "{} for {}", shown_u, u);
        // Where u is carried to the next power of ten, its last place is ten times as large.
        let last = if back_u > 9.95 * 10.0 * place { 10.0 * place } else { place };
        prop_assert!((back - value).abs() <= 0.5 * last + COMPARISON * (u + value.abs()), "{} for {}", shown, value);
        let figures = shown_u.split('e').next().unwrap_or_default().replace('.', "");
        prop_assert!(figures.trim_matches('0').len() <= 2, "{}", shown_u);
    }

    /// Any double comes back from the CSV with the same bits, and any text with the same characters.
    #[test]
    fn csv_gives_everything_back(bits in any::<u64>(), u in any::<u64>(), text in any::<String>(), decimals in 0..9_u8) {
        let (value, u) = (f64::from_bits(bits), f64::from_bits(u));
        let column = Column::number("w", "%").with_uncertainty("u");
        let table = Table::new("t").column(Column::text("name")).column(column).column(Column::number("d", ""));
        let row = [Cell::text(text.clone()), Cell::measured(value, u), Cell::number(value, decimals)];
        let records = parse(&table.row(row).to_csv());
        prop_assert_eq!(&records[0], &["name", "w (%)", "w u (%)", "d", "remarks"]);
        prop_assert_eq!(&records[1][0], &text);
        if value.is_finite() {
            prop_assert_eq!(double(&records[1][1]).to_bits(), bits);
            prop_assert_eq!(double(&records[1][3]).to_bits(), bits);
            if u.is_finite() && u >= 0.0 {
                prop_assert_eq!(double(&records[1][2]).to_bits(), u.to_bits());
                prop_assert_eq!(&records[1][4], "");
            } else {
                prop_assert_eq!(&records[1][2], "");
                prop_assert_eq!(&records[1][4], "w: u not stated");
            }
        } else {
            let word = if value.is_nan() { "not a number" } else { "infinite" };
            prop_assert_eq!(&records[1][1], "");
            prop_assert_eq!(&records[1][4], &format!("w: {word}; d: {word}"));
        }
    }

    /// No table, however odd, loses a row or breaks a record.
    #[test]
    fn rows_of_any_length_keep_their_number(lengths in prop::collection::vec(0..5_usize, 0..6)) {
        let rows = lengths.iter().map(|&length| vec![Cell::text("x"); length]);
        let table = Table::new("").column(Column::text("a")).column(Column::text("b")).rows(rows);
        let records = parse(&table.to_csv());
        let width = lengths.iter().copied().max().unwrap_or(0).max(2) + 1;
        prop_assert_eq!(records.len(), lengths.len() + 1);
        prop_assert!(records.iter().all(|record| record.len() == width));
        prop_assert_eq!(table.to_text(80).matches('x').count(), lengths.iter().sum::<usize>());
    }
}

#[test]
fn csv_says_why_a_number_is_missing() {
    let table = Table::new("left out")
        .head("left out")
        .column(Column::text("name, \"as given\""))
        .column(Column::number("w", "mg/kg").with_uncertainty("U (k = 2)"))
        .column(Column::bars("share"))
        .row([Cell::text("a\r\nb"), Cell::missing("below detection"), Cell::share(0.25)])
        .row([Cell::text(""), Cell::unstated(1.0, 3), Cell::missing("")])
        .note("left out");
    let expected = "\"name, \"\"as given\"\"\",w (mg/kg),w U (k = 2) (mg/kg),share,remarks\r\n\
                    \"a\r\nb\",,,0.25,w: below detection\r\n\
                    ,1.0,,,w: u not stated; share: missing\r\n";
    assert_eq!(table.to_csv(), expected);
}

/// Records of RFC 4180: fields by commas, records by CR LF, a quoted field may hold both and doubled quotes.
fn parse(csv: &str) -> Vec<Vec<String>> {
    let (mut records, mut record, mut field, mut quoted) = (Vec::new(), Vec::new(), String::new(), false);
    let mut letters = csv.chars().peekable();
    while let Some(letter) = letters.next() {
        match letter {
            '"' if quoted && letters.peek() == Some(&'"') => field.extend(letters.next()),
            '"' => quoted = !quoted,
            ',' if !quoted => record.push(core::mem::take(&mut field)),
            '\r' if !quoted => {
                assert_eq!(letters.next(), Some('\n'), "a bare CR in {csv:?}");
                record.push(core::mem::take(&mut field));
                records.push(core::mem::take(&mut record));
            }
            other => field.push(other),
        }
    }
    assert!(record.is_empty() && field.is_empty() && !quoted, "an open record in {csv:?}");
    records
}
