//! Totals by row and their counts.

use beadchem::code::Code;
use beadchem::composition::Unit;
use beadchem::sheet::Outcome;

use super::{plain, read};

#[test]
fn rows_without_a_major_are_counted_and_not_totalled() {
    let sheet = read("Bead,SiO2,MnO,m2\nB-1,50,1.5,8\nB-2,n.a.,1,8\nB-3,-,<0.1,8\nB-4,50,,8\nB-5,50,1,\n", &plain());
    let totals = sheet.totals(&["SiO2"]).unwrap();
    assert_eq!((totals.totalled, totals.major_missing, totals.refused), (3, 1, 1));
    let total = |row: usize| match &totals.rows[row].outcome {
        Outcome::Totalled(total) => Some((total.value, total.not_counted.join(" "))),
        _ => None,
    };
    assert_eq!(total(0), Some((0.515, String::new())));
    assert_eq!(totals.rows[1].outcome, Outcome::MajorMissing(vec!["SiO2".to_owned()]));
    assert_eq!(total(2), Some((0.0, "MnO".to_owned())));
    assert_eq!(total(3), Some((0.5, "MnO".to_owned())));
    assert!(matches!(&totals.rows[4].outcome, Outcome::Refused(error) if error.code() == Code::MassMissing));
    assert_eq!(totals.findings[0].text, "Row 3: a major (SiO2) is unknown; not totalled.");
    let shown = totals.table(Unit::Percent).to_string();
    assert!(
        shown.contains("rows totalled: 3, without a major: 1, with trouble: 1") && shown.contains("51.500"),
        "{shown}"
    );
}

#[test]
fn a_major_must_be_a_column() {
    let sheet = read("Bead,SiO2,MnO,m2\nB-1,50,1,8\n", &plain());
    let refused = sheet.totals(&["CaO"]).unwrap_err();
    assert_eq!(refused.to_string(), "Species `CaO` is not known. The columns of contents are: SiO2, MnO.");
    assert_eq!(sheet.totals(&["Flux mass"]).unwrap_err().code(), Code::SpeciesUnknown);
}
