//! The list of codes as a page.

use beadchem::code::Code;
use beadchem::table::Table;

#[test]
fn every_code_stands_once_and_by_number() {
    assert!(!Code::ALL.is_empty());
    assert!(
        Code::ALL.windows(2).all(|pair| pair[0].number() < pair[1].number()),
        "keep the rows of src/code.rs in order"
    );
    assert!(Code::ALL.iter().all(|code| !code.meaning().contains('|')), "a bar ends a cell of the table in the docs");
    let mut words: Vec<&str> = Code::ALL.iter().map(|code| code.word()).collect();
    words.sort_unstable();
    words.dedup();
    assert_eq!(words.len(), Code::ALL.len(), "a word stands for one code");
    let quoted = |text: &str| match text.contains([',', '"']) {
        true => format!("\"{}\"", text.replace('"', "\"\"")),
        false => text.to_owned(),
    };
    let row = |code: &Code| {
        format!("{},{},{},{},\r\n", code.number(), code.word(), code.severity().word(), quoted(code.meaning()))
    };
    let rows: String = Code::ALL.iter().map(row).collect();
    // not assert_eq: it would print the two pages
    assert!(
        Table::of_codes().to_csv() == format!("number,word,severity,meaning,remarks\r\n{rows}"),
        "the page differs"
    );
}

#[test]
fn the_page_shows_what_the_table_holds() {
    let html = Table::of_codes().to_html();
    let body: Vec<&str> = html.lines().filter(|line| line.starts_with("<tr><t") && line.ends_with("</tr>")).collect();
    assert_eq!(body.len(), Code::ALL.len());
    for (line, code) in body.iter().zip(Code::ALL) {
        for text in [code.number().to_string(), code.word().to_owned(), code.severity().word().to_owned()] {
            assert!(line.contains(&format!(">{text}<")), "{code:?}: {line}");
        }
        let meaning = code
            .meaning()
            .replace('&', "&amp;")
            .replace('<', "&lt;")
            .replace('>', "&gt;")
            .replace('"', "&quot;")
            .replace('\'', "&#39;");
        assert!(line.contains(&format!(">{meaning}<")), "{code:?}: {line}");
    }
}
