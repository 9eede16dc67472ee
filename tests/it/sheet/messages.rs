//! The messages an analyst gets, word for word.

use beadchem::code::Code;
use beadchem::composition::{Basis, Cell, Unit};
use beadchem::document;
use beadchem::sheet::{Column, DecimalMark, Layout, Reading, Sheet, ThousandsMark};
use beadchem::substance::Weights;

use super::{percent, plain, read, trouble};

#[test]
fn a_mass_that_is_no_number_is_missing_in_its_row() {
    for blank in ["", "  ", "NaN", "nan", "inf", "-inf", "+Infinity", "n.a."] {
        let sheet = read(&format!("Bead,SiO2,MnO,m2\nB-1,1,1,8\nB-2,1,1,{blank}\n"), &plain());
        let expected = "Flux mass is missing in row 3. Give a number in grams or leave the bead out.";
        assert_eq!(trouble(&sheet, 3), [expected], "for '{blank}'");
        assert_eq!(sheet.rows()[1].trouble[0].code(), Code::MassMissing);
        assert!(trouble(&sheet, 2).is_empty());
    }
}

#[test]
fn a_mass_declared_absent_is_no_trouble() {
    let sheet = read("Bead,SiO2,MnO,m2\nB-1,1,1,-\n", &plain());
    assert!(sheet.rows()[0].trouble.is_empty());
    assert_eq!(sheet.cell(0, "Flux mass").unwrap().reading, Reading::Absent);
}

#[test]
fn a_mass_of_zero_or_below_is_refused() {
    let sheet = read("Bead,SiO2,MnO,m2\nB-1,1,1,-0.0012\nB-2,1,1,0\n", &plain());
    let expected = "Row 2, column m2: Flux mass is -0.0012 g. A mass must be above zero; was the tare taken after \
                    loading? A mass not weighed is declared by a word for absent.";
    assert_eq!(trouble(&sheet, 2), [expected]);
    assert_eq!(sheet.rows()[1].trouble[0].code(), Code::MassNotPositive);
}

#[test]
fn contents_without_a_basis_are_refused_with_their_first_value() {
    let refused = Sheet::read_csv("Bead,SiO2\nB-1,n.a.\nB-2,12.3\nB-3,14.1\n", &stored("\"unit\": \"%\","))
        .expect_err("no basis is declared");
    assert_eq!(
        refused.to_string(),
        "SiO2 12.3 has no basis. Choose as received, air-equilibrated, dried, ignited or bead."
    );
    assert_eq!(refused.code(), Code::BasisMissing);
}

#[test]
fn contents_without_a_unit_are_refused_with_their_least_and_largest() {
    let refused = Sheet::read_csv("Bead,SiO2\nB-1,400\nB-2,12.0\nB-3,15400\n", &stored("\"basis\": \"dried\","))
        .expect_err("no unit is declared");
    assert_eq!(refused.to_string(), "Column SiO2 has 12.0 and 15400; declare unit per column.");
    assert_eq!(refused.code(), Code::UnitMissing);
}

/// A stored layout of one column of silica, with these fields.
fn stored(fields: &str) -> Layout {
    let column = format!("{{\"holds\": \"content\", {fields} \"species\": \"SiO2\", \"header\": \"SiO2\"}}");
    let text = format!(
        "{{\"kind\": \"table-layout\", \"schema\": 1, \"body\": {{\"id\": \"Bead\", \"decimal\": \"point\", \
         \"delimiter\": \"comma\", \"header_lines\": 1, \"names_in\": 1, \"columns\": [{column}]}}}}"
    );
    document::from_json(&text).expect("unit and basis may be left out of a stored layout")
}

#[test]
fn a_limit_is_read_as_one_and_said_to_be() {
    let sheet = read("Bead,SiO2,MnO,m2\nB-1,51.2,<0.01,8\n", &plain());
    assert_eq!(sheet.cell(0, "MnO").unwrap().reading, Reading::Content(Cell::Below { limit: 0.0001 }));
    let finding = &sheet.findings()[0];
    assert_eq!(
        finding.text,
        "Row 2: '<0.01' read as below 0.01 %. It enters totals as not counted: MnO is named beside the total."
    );
    assert_eq!((finding.code, finding.quantity.as_str(), finding.value), (Code::LimitRead, "MnO", Some(0.0001)));
    let total = sheet.composition(0).unwrap().total(None).unwrap();
    assert_eq!((total.value, total.not_counted), (0.512, vec!["MnO".to_owned()]));
}

#[test]
fn a_limit_belongs_to_contents_only() {
    let sheet = read("Bead,SiO2,MnO,m2\nB-1,51.2,1,< 8\nB-2,51.2,<0,8\n", &plain());
    let expected = "Row 2, column m2: '< 8' is a limit, and a mass belongs here. Only contents may be below a limit.";
    assert_eq!(trouble(&sheet, 2), [expected]);
    assert_eq!(sheet.rows()[1].trouble[0].code(), Code::NumberOutOfRange);
}

#[test]
fn a_number_that_contradicts_the_marks_is_ambiguous() {
    for text in ["1.234,5", "1,234", "1'234.5", "1 234"] {
        let sheet = read(&format!("Bead,SiO2,MnO,m2\nB-1,\"{text}\",1,8\n"), &plain());
        let expected = format!(
            "Row 2, column SiO2: '{text}' is ambiguous. State decimal mark for this table. \
             Declared: decimal point, no thousands mark."
        );
        assert_eq!(trouble(&sheet, 2), [expected]);
        assert_eq!(sheet.rows()[0].trouble[0].code(), Code::NumberAmbiguous);
    }
}

#[test]
fn thousands_marks_part_groups_of_three() {
    let layout = Layout::new("Bead", DecimalMark::Comma).thousands(ThousandsMark::Point).column(percent("SiO2"));
    let sheet = read("Bead,SiO2\nB-1,\"12.34,5\"\n", &layout);
    let expected = "Row 2, column SiO2: '12.34,5' has thousands marks that do not part groups of three digits. State \
                    decimal mark for this table. Declared: decimal comma, thousands point.";
    assert_eq!(trouble(&sheet, 2), [expected]);
}

#[test]
fn what_was_assumed_of_a_formula_is_said() {
    let finding = |species: &str| {
        let sheet = read(&format!("Bead,{species}\nB-1,1\n"), &point(percent(species)));
        sheet.findings().iter().map(|finding| finding.code).collect::<Vec<Code>>()
    };
    assert_eq!(finding("Na2CO3.10H2O"), [Code::FormulaDotAssumed]);
    assert_eq!(finding("CO"), [Code::FormulaLetterCase]);
    assert_eq!(finding("SiO2"), []);
}

#[test]
fn a_text_is_no_number() {
    let sheet = read("Bead,SiO2,MnO,m2\nB-1,trace,1,8\nB-2,>60,1,8\nB-3,1,NaN,8\nB-4,1,1e999,8\n", &plain());
    let expected =
        "Row 2, column SiO2: 'trace' is not a number. Mend the export, or declare the word as absent or unknown.";
    assert_eq!(trouble(&sheet, 2), [expected]);
    assert!(trouble(&sheet, 3)[0].starts_with("Row 3, column SiO2: '>60' is not a number."));
    assert!(trouble(&sheet, 4)[0].starts_with("Row 4, column MnO: 'NaN' is not a number."));
    assert!(trouble(&sheet, 5)[0].starts_with("Row 5, column MnO: '1e999' is larger than any number held here."));
    let counted = "4 of 4 rows have trouble and are not used: 2, 3, 4, 5. Each row says why.";
    assert!(sheet.findings().iter().any(|finding| finding.text == counted));
}

#[test]
fn contents_beyond_the_whole_are_refused_at_their_place() {
    let sheet = read("Bead,SiO2,MnO,m2\nB-1,15400,1,8\n", &plain());
    let expected =
        "Row 2, column SiO2: SiO2 15400 % is outside -50 % to 150 %. Is the unit of the numbers the one stated?";
    assert_eq!(trouble(&sheet, 2), [expected]);
}

#[test]
fn a_bead_that_occurs_twice_is_not_used() {
    let text = "Bead,SiO2,MnO,m2\nB-417,51.2,1,8.0\nB-2,1,1,8\nB-417,51.2,1,8.1\n";
    let sheet = read(text, &plain());
    let expected = "Bead B-417 occurs twice with different masses; neither is used. Rows 2, 4.";
    assert_eq!((trouble(&sheet, 2), trouble(&sheet, 4)), (vec![expected.to_owned()], vec![expected.to_owned()]));
    assert_eq!(sheet.rows().len(), 3);
    assert_eq!(sheet.composition(0).unwrap_err().code(), Code::BeadDoubled);
    assert!(sheet.composition(1).is_ok());
    assert_eq!(sheet.values("Flux mass", Unit::Percent).unwrap(), [None, Some(8.0), None]);
    let cases = [
        ("51.3,1,8.0", "Bead B-417 occurs twice with different values; neither is used. Rows 2, 3."),
        ("51.2,1,8.0", "Bead B-417 occurs twice with the same values; neither is used. Rows 2, 3."),
    ];
    for (second, expected) in cases {
        let sheet = read(&format!("Bead,SiO2,MnO,m2\nB-417,51.2,1,8.0\nB-417,{second}\n"), &plain());
        assert_eq!(trouble(&sheet, 3), [expected]);
    }
    let thrice = read("Bead\nB-1\nB-1\nB-1\n", &Layout::new("Bead", DecimalMark::Point));
    assert_eq!(trouble(&thrice, 3), ["Bead B-1 occurs 3 times with no values; none is used. Rows 2, 3, 4."]);
}

#[test]
fn rounding_before_a_conversion_is_said() {
    let sheet = read("Bead,SiO2\nB-1,51.2\nB-2,48.9\nB-3,50.25\n", &point(percent("SiO2")));
    let silicon = sheet.written_as("SiO2", "Si", &Weights::ciaaw_2024()).unwrap();
    // 28.085 / (28.085 + 2 * 15.999) = 0.46743; half a digit over the root of three: 0.0289 and 0.00289
    let texts: Vec<&str> = silicon.findings().iter().map(|finding| finding.text.as_str()).collect();
    assert_eq!(
        texts,
        [
            "Input has 1 decimal; converted value carries rounding u 0.01. (SiO2 as Si, %; 2 rows.)",
            "Input has 2 decimals; converted value carries rounding u 0.001. (SiO2 as Si, %; 1 row.)",
        ]
    );
    assert!(silicon.findings().iter().all(|finding| finding.code == Code::RoundedBeforeConversion));
    // MnO to Mn2O3: 157.874 / (2 * 70.937) = 1.1128, so that u is 0.032
    let oxide = read("Bead,MnO\nB-1,12.3\n", &point(percent("MnO")));
    let written = oxide.written_as("MnO", "Mn2O3", &Weights::ciaaw_2024()).unwrap();
    let text = &written.findings()[0].text;
    assert!(text.starts_with("Input has 1 decimal; converted value carries rounding u 0.03."), "{text}");
}

#[test]
fn coarse_and_exact_inputs_say_what_they_are() {
    let column = Column::content("Zn", "Zn", Unit::MilligramPerKilogram, Basis::Dried);
    let zinc = read("Bead,Zn\nB-1,15e2\nB-2,<5\n", &point(column));
    assert_eq!(zinc.cell(0, "Zn").unwrap().decimals, Some(-2));
    let findings = zinc.written_as("Zn", "ZnO", &Weights::ciaaw_2024()).unwrap();
    // 0.5 * 100 / sqrt(3) * 1.2447 = 35.9
    let text = &findings.findings().last().unwrap().text;
    assert_eq!(text, "Input has no digit below 100; converted value carries rounding u 40. (Zn as ZnO, mg/kg; 1 row.)");
}

fn point(column: Column) -> Layout {
    Layout::new("Bead", DecimalMark::Point).column(column)
}
