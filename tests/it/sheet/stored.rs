//! Layouts as documents, and what conversion leaves.

use beadchem::code::Code;
use beadchem::composition::{Basis, Cell, Unit};
use beadchem::document;
use beadchem::sheet::{Column, DecimalMark, Delimiter, Layout, MassUnit, Reading, ThousandsMark};
use beadchem::substance::{Weights, factor};

use super::{percent, read};

fn full() -> Layout {
    Layout::new("Bead", DecimalMark::Comma)
        .thousands(ThousandsMark::Point)
        .delimiter(Delimiter::Bar)
        .header_lines(3)
        .names_in(2)
        .units_in(3)
        .absent("-")
        .unknown("n.a.")
        .unknown("lost")
        .column(percent("FeO").as_form().with_u(0.1))
        .column(Column::content("Zn", "Zn", Unit::MilligramPerKilogram, Basis::Bead).with_u_column("u Zn"))
        .column(Column::mass("Flux mass", "m2", MassUnit::Milligram))
        .column(Column::number("drift", "d").with_u(0.5))
        .column(Column::text("operator"))
        .column(Column::time("measured"))
}

#[test]
fn a_layout_is_stored_and_read_back() {
    let text = document::to_json(&full()).unwrap();
    assert!(text.contains("\"kind\": \"table-layout\""));
    assert_eq!(document::from_json::<Layout>(&text).unwrap(), full());
    let unknown = text.replace("\"separate_form\"", "\"form\"");
    assert_eq!(document::from_json::<Layout>(&unknown).unwrap_err().code(), Code::DocumentUnknownField);
    let word = text.replace("\"mg/kg\"", "\"ppm\"");
    assert!(
        document::from_json::<Layout>(&word).unwrap_err().to_string().contains("Choose one of: g/g, %, g/kg, mg/kg")
    );
    let lines = text.replace("\"names_in\": 2", "\"names_in\": 9");
    assert_eq!(document::from_json::<Layout>(&lines).unwrap_err().code(), Code::TableLayout);
}

#[test]
fn a_layout_prints_what_it_declares() {
    let shown = full().table().to_text(120);
    for part in [
        "decimal mark comma, thousands mark point",
        "3 header lines: names in line 2, units in line 3",
        "bead id: Bead",
        "Absent: -. Unknown: n.a., lost; an empty cell is unknown.",
        "column u Zn",
    ] {
        assert!(shown.contains(part), "{part} in\n{shown}");
    }
}

#[test]
fn conversion_moves_values_limits_and_uncertainties() {
    let layout = Layout::new("Bead", DecimalMark::Point).column(percent("SiO2").with_u(0.1)).column(percent("CaO"));
    let sheet = read("Bead,SiO2,CaO\nB-1,51.2,1\nB-2,<0.5,1\nB-3,,1\n", &layout);
    let weights = Weights::ciaaw_2024();
    let silicon = sheet.written_as("SiO2", "Si", &weights).unwrap();
    let factor = factor("SiO2", "Si", &weights).unwrap().value();
    let Reading::Content(Cell::Value(value)) = &silicon.cell(0, "Si").unwrap().reading else { panic!("a value") };
    assert_eq!(value.value(), Unit::Percent.fraction(51.2) * factor);
    assert_eq!(value.u(), Some(Unit::Percent.fraction(0.1) * factor));
    let limit = Cell::Below { limit: Unit::Percent.fraction(0.5) * factor };
    assert_eq!(silicon.cell(1, "Si").unwrap().reading, Reading::Content(limit));
    assert_eq!(silicon.cell(2, "Si").unwrap().reading, Reading::Content(Cell::Unknown));
    assert_eq!((silicon.cell(0, "Si").unwrap().decimals, silicon.cell(0, "SiO2")), (None, None));
    assert_eq!(sheet.written_as("SiO2", "Ca", &weights).unwrap_err().code(), Code::FactorNoCommonElement);
    assert_eq!(sheet.written_as("MgO", "Mg", &weights).unwrap_err().code(), Code::SpeciesUnknown);
    let layout = Layout::new("Bead", DecimalMark::Point).column(percent("FeO").as_form());
    let forms = read("Bead,FeO,Fe2O3\nB-1,26,69\n", &layout.column(percent("Fe2O3").as_form()));
    assert_eq!(forms.written_as("FeO", "Fe2O3", &weights).unwrap_err().code(), Code::SpeciesDoubled);
}
