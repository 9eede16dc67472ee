//! Lines, headers, ids, and that every row of the file is a row of the sheet.

use beadchem::code::Code;
use beadchem::composition::{Basis, Cell, Unit};
use beadchem::sheet::{Column, DecimalMark, Delimiter, Layout, MassUnit, Reading, Sheet};
use proptest::prelude::*;

use super::{config, fraction, percent, plain, read, trouble};

/// Semicolons, decimal commas, a title, names and units.
fn messy() -> Layout {
    Layout::new("Bead", DecimalMark::Comma)
        .delimiter(Delimiter::Semicolon)
        .header_lines(4)
        .names_in(3)
        .units_in(4)
        .absent("-")
        .unknown("n.a.")
        .column(percent("SiO2").with_u_column("u SiO2"))
        .column(Column::content("Zn", "Zn", Unit::MilligramPerKilogram, Basis::Dried).with_u(2.0))
        .column(Column::mass("Sample mass", "m1", MassUnit::Milligram).with_u(0.1))
        .column(Column::text("operator"))
}

const MESSY: &str = "\u{feff}Export of Tuesday\r\n\r\nBead;operator;SiO2;u SiO2;Zn;m1;remark\r\n;;%;wt%;ppm;(mg);\r\n\
                     B-1;Ada;51,20;0,05;15;800,4;\r\n B 07 ;;n.a.;;<5;799,8;dusty\r\n\r\n;;;;;;\r\nB-3;\"a;b\";-;;;801,1;\r\n";

#[test]
fn a_messy_export_is_read() {
    let sheet = read(MESSY, &messy());
    let lines: Vec<(usize, Option<&str>)> = sheet.rows().iter().map(|row| (row.line, row.id.as_deref())).collect();
    assert_eq!(lines, [(5, Some("B-1")), (6, Some("B 07")), (9, Some("B-3"))]);
    assert_eq!(sheet.rejects().count(), 0);
    let states = |name: &str| (0..3).map(|row| sheet.cell(row, name).unwrap().reading.clone()).collect::<Vec<_>>();
    let Reading::Content(Cell::Value(silica)) = &states("SiO2")[0] else { panic!("a value") };
    assert_eq!((silica.value(), silica.u()), (Unit::Percent.fraction(51.2), Some(Unit::Percent.fraction(0.05))));
    assert_eq!(states("SiO2")[1..], [Reading::Content(Cell::Unknown), Reading::Content(Cell::Absent)]);
    assert_eq!(fraction(&states("Zn")[0]), Some(15e-6));
    assert_eq!(states("Zn")[1..], [Reading::Content(Cell::Below { limit: 5e-6 }), Reading::Content(Cell::Unknown)]);
    let Reading::Mass(mass) = &states("Sample mass")[0] else { panic!("a mass") };
    assert_eq!((mass.value(), mass.u()), (0.8004, Some(0.0001)));
    assert_eq!(states("operator")[1..], [Reading::Text(String::new()), Reading::Text("a;b".to_owned())]);
    assert_eq!(sheet.cell(0, "SiO2").unwrap().decimals, Some(2));
    let texts: Vec<&str> = sheet.findings().iter().map(|finding| finding.text.as_str()).collect();
    assert_eq!(
        texts[1..],
        [
            "Row 6: blanks before or behind the bead id were taken off.",
            "Columns not read: remark.",
            "Lines without an entry, which are no rows: 8.",
        ]
    );
}

#[test]
fn line_numbers_are_those_of_the_file_for_any_line_end() {
    for end in ["\n", "\r\n", "\r"] {
        let text = ["Bead", "B-1", "", "", "B-2", "\"B-3\"", "", "B-4"].join(end);
        let sheet = read(&text, &Layout::new("Bead", DecimalMark::Point));
        let lines: Vec<usize> = sheet.rows().iter().map(|row| row.line).collect();
        assert_eq!(lines, [2, 5, 6, 8], "for {end:?}");
    }
}

#[test]
fn headers_must_stand_once() {
    let refusal = |header: &str| Sheet::read_csv(format!("{header}\nB-1,1,1,8\n"), &plain()).unwrap_err();
    let missing = refusal("Bead,SiO2,Mn,m2");
    assert_eq!(
        missing.to_string(),
        "Column `MnO` is not in line 1. It holds: Bead, SiO2, Mn, m2. Are delimiter and header lines right?"
    );
    let doubled = refusal("Bead,SiO2,MnO,m2,SiO2");
    assert_eq!(
        doubled.to_string(),
        "Column `SiO2` stands in line 1 more than once (fields 2, 5). Mend the export; none of them was chosen."
    );
    assert_eq!((missing.code(), doubled.code()), (Code::TableHeader, Code::TableHeader));
    let empty = Sheet::read_csv("", &plain()).unwrap_err().to_string();
    assert_eq!(empty, "Column `Bead` is not in line 1. It is empty. Are delimiter and header lines right?");
}

#[test]
fn a_unit_line_must_not_contradict() {
    let layout = || plain().header_lines(2).units_in(2);
    let refused = Sheet::read_csv("Bead,SiO2,MnO,m2\n,%,ppm,g\n", &layout()).unwrap_err();
    assert_eq!(
        refused.to_string(),
        "Column MnO is declared in %; line 2 of the table says 'ppm'. Declare the unit in which the numbers stand."
    );
    assert_eq!(refused.code(), Code::TableUnitContradicts);
    assert!(Sheet::read_csv("Bead,SiO2,MnO,m2\n,[wt%],cps,mg\n", &layout()).unwrap_err().to_string().contains("m2"));
    assert!(Sheet::read_csv("Bead,SiO2,MnO,m2\n,[wt%],cps,\n", &layout()).is_ok());
}

#[test]
fn other_encodings_are_refused_with_the_repair() {
    let latin = b"Bead,SiO2,MnO,m2\nB-1,1,1,8\nM\xfchle,1,1,8\n";
    let refused = Sheet::read_csv(latin, &plain()).unwrap_err();
    assert_eq!(refused.code(), Code::TableUnreadable);
    assert!(refused.to_string().starts_with("Line 3 is not UTF-8 (byte FC hexadecimal). Export the table as UTF-8"));
    assert!(Sheet::read_csv(b"\xff\xfeB\0e\0", &plain()).is_err());
}

#[test]
fn ragged_and_broken_rows_are_rows_with_trouble() {
    let sheet =
        read("Bead,SiO2,MnO,m2\nB-1,1,1\nB-2,12,5,1,8\n,1,1,8\nB-4,\"1\n2\",1,8\nB-5,\"1,1,8\nB-6,1,1,8\n", &plain());
    assert_eq!(
        trouble(&sheet, 2),
        ["Row 2, fields: 3 given where 4 belong. Is a delimiter part of a number or a text, or is a field missing?"]
    );
    assert_eq!(sheet.rows()[1].trouble[0].code(), Code::ShapeMismatch);
    assert_eq!(trouble(&sheet, 4), ["Bead id is missing in row 4. Give the bead an id or leave the row out."]);
    let broken = |row: usize, end: usize| {
        format!(
            "Row {row} goes on to line {end}; all of it is kept. Is a quote left open? Take quotes and line ends out of \
             the fields."
        )
    };
    assert_eq!(trouble(&sheet, 5), [broken(5, 6)]);
    // an open quote swallows what follows up to the end: it is kept with the row
    assert_eq!(trouble(&sheet, 7), [broken(7, 9)]);
    assert!(sheet.rows().last().unwrap().fields[1].contains("B-6,1,1,8"));
}

#[test]
fn layouts_that_contradict_themselves_are_refused() {
    let base = || Layout::new("Bead", DecimalMark::Point);
    let stated = |u: f64| base().column(percent("SiO2").with_u(u));
    let other = Column::content("SiO2", "silica", Unit::Percent, Basis::Dried);
    let cases = [
        (base().names_in(2), Code::TableLayout),
        (base().names_in(0), Code::TableLayout),
        (base().header_lines(2).units_in(1), Code::TableLayout),
        (base().absent(""), Code::TableLayout),
        (base().column(Column::text("Bead")), Code::TableLayout),
        (base().column(Column::text("")), Code::TableLayout),
        (base().column(Column::number("a", "x")).column(Column::number("a", "y")), Code::TableLayout),
        (base().column(Column::text("x").with_u(1.0)), Code::TableLayout),
        (base().column(percent("SiO2")).column(other), Code::SpeciesDoubled),
        (base().column(percent("FeO")).column(percent("Fe2O3")), Code::SpeciesElementTwice),
        (stated(-1.0), Code::NumberOutOfRange),
        (stated(f64::NAN), Code::NumberNotFinite),
    ];
    for (layout, code) in cases {
        assert_eq!(layout.check().unwrap_err().code(), code, "for {layout:?}");
    }
    assert!(base().column(percent("FeO").as_form()).column(percent("Fe2O3").as_form()).check().is_ok());
}

#[test]
fn forms_and_bases_reach_the_composition() {
    let layout =
        Layout::new("Bead", DecimalMark::Point).column(percent("FeO").as_form()).column(percent("Fe2O3").as_form());
    let ore = read("Bead,FeO,Fe2O3\nB-1,26,69.04\n", &layout).composition(0).unwrap();
    assert!(ore.basis() == Basis::Dried && ore.entries().iter().all(|entry| entry.separate_form));
    let mixed = layout.column(Column::content("CaO", "CaO", Unit::Percent, Basis::Bead));
    let refused = read("Bead,FeO,Fe2O3,CaO\nB-1,26,69.04,1\n", &mixed).composition(0).unwrap_err();
    assert_eq!(refused.code(), Code::BasisMismatch);
    assert!(refused.to_string().starts_with("Cannot bring FeO (dried) and CaO (bead) together."));
}

#[test]
fn uncertainties_of_a_column_are_read_or_refused() {
    let layout = Layout::new("Bead", DecimalMark::Point).column(percent("SiO2").with_u_column("u"));
    let sheet = read("Bead,SiO2,u\nB-1,51,\nB-2,51,-0.1\nB-3,51,<0.1\n", &layout);
    let Reading::Content(Cell::Value(unstated)) = &sheet.cell(0, "SiO2").unwrap().reading else { panic!("a value") };
    assert_eq!(unstated.u(), None);
    assert_eq!(sheet.rows()[1].trouble[0].code(), Code::UncertaintyNegative);
    assert!(trouble(&sheet, 4)[0].starts_with("Row 4, column u: '<0.1' is not a number."));
}

proptest! {
    #![proptest_config(config())]

    /// Whatever stands in the fields, each data line is one row, in order, with its line number.
    #[test]
    fn rows_in_are_rows_out(rows in prop::collection::vec(prop::collection::vec("[^\"\r\n]{0,8}", 1..6), 0..12)) {
        let mut text = "Bead,SiO2,MnO,m2\n".to_owned();
        for row in &rows {
            let quoted: Vec<String> = row.iter().map(|field| format!("\"{field}\"")).collect();
            text.push_str(&quoted.join(","));
            text.push('\n');
        }
        let sheet = read(&text, &plain());
        let is_empty = |row: &Vec<String>| row.iter().all(|field| field.trim().is_empty());
        let expected: Vec<(usize, Vec<String>)> =
            rows.iter().enumerate().filter(|(_, row)| !is_empty(row)).map(|(at, row)| (at + 2, row.clone())).collect();
        let found: Vec<(usize, Vec<String>)> =
            sheet.rows().iter().map(|row| (row.line, row.fields.clone())).collect();
        prop_assert_eq!(found, expected);
        for (at, row) in sheet.rows().iter().enumerate() {
            prop_assert_eq!(row.cells.len(), 3);
            prop_assert_eq!(sheet.composition(at).is_err(), !row.trouble.is_empty());
        }
    }

    /// Any text at all is read or refused, never a panic, and prints.
    #[test]
    fn any_text_is_read_or_refused(text in "\\PC*|[\"a,;.0-9<\n\r -]{0,60}", marked in any::<bool>()) {
        let layout = if marked { messy() } else { plain() };
        for text in [text.clone(), format!("Bead,SiO2,MnO,m2\n{text}"), format!("\n\nBead;operator;SiO2;u SiO2;Zn;m1\n\n{text}")] {
            if let Ok(sheet) = Sheet::read_csv(&text, &layout) {
                prop_assert!(!sheet.table().to_string().is_empty() && !sheet.table().to_html().is_empty());
            }
        }
    }

    /// Any bytes likewise.
    #[test]
    fn any_bytes_are_read_or_refused(bytes in prop::collection::vec(any::<u8>(), 0..80)) {
        if let Ok(sheet) = Sheet::read_csv(&bytes, &Layout::new("Bead", DecimalMark::Point)) {
            prop_assert!(core::str::from_utf8(&bytes).is_ok() && sheet.columns().is_empty());
        }
    }
}
