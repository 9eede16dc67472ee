//! What must hold whatever is read. Shared by the fuzz targets and by `tests/it/fuzz_replay.rs`; each function tells
//! whether the text was accepted.
#![allow(dead_code, reason = "a fuzz target calls one of the functions")]

use beadchem::charge::{Charge, FluxLot};
use beadchem::composition::{Basis, Cell, Composition, Unit};
use beadchem::document::{self, Document};
use beadchem::error::Error;
use beadchem::matrix::{Calibration, CoefficientSet, Drift};
use beadchem::method::Method;
use beadchem::rules::{ReportForm, Rules};
use beadchem::sheet::{Column, DecimalMark, Delimiter, Layout, MassUnit, Reading, Sheet, ThousandsMark};
use beadchem::substance::Formula;
use core::fmt::Debug;

/// The reader takes no longer texts.
const LONGEST_FORMULA: usize = 400;

/// A formula is refused with a reason, or its own text reads to the same atoms, and so does the text made from them.
pub(crate) fn formula(bytes: &[u8]) -> bool {
    let Ok(text) = core::str::from_utf8(bytes) else { return false };
    let formula = match Formula::parse(text) {
        Ok(formula) => formula,
        Err(refused) => {
            reasoned(&refused);
            if let Error::Formula { position, .. } = refused {
                assert!((1..=text.chars().count() + 1).contains(&position), "{text:?}: {position}");
            }
            return false;
        }
    };
    assert!(!formula.atoms().is_empty() && formula.atoms().iter().all(|(_, count)| count.is_finite() && *count > 0.0));
    let again = Formula::parse(formula.text());
    assert_eq!(again.as_ref().map(Formula::atoms), Ok(formula.atoms()), "{text:?}");
    let built = Formula::of(formula.atoms());
    assert_eq!(built.as_ref().map(Formula::atoms), Ok(formula.atoms()), "{text:?}");
    if let Some(built) = built.ok().filter(|built| built.text().len() <= LONGEST_FORMULA) {
        let read = Formula::parse(built.text());
        assert_eq!(read.as_ref().map(Formula::atoms), Ok(formula.atoms()), "{text:?} written as {built}");
    }
    true
}

/// A document is refused with a reason, or what it holds is written, read back equal, and has one digest.
pub(crate) fn documents(bytes: &[u8]) -> bool {
    let Ok(text) = core::str::from_utf8(bytes) else { return false };
    // no text is of two kinds
    let kinds = [
        document::<Composition>,
        document::<FluxLot>,
        document::<Charge>,
        document::<Rules>,
        document::<Layout>,
        document::<ReportForm>,
        document::<Drift>,
        document::<CoefficientSet>,
        document::<Calibration>,
        document::<Method>,
    ];
    kinds.map(|read| read(text)).contains(&true)
}

fn document<D: Document + Debug + PartialEq>(text: &str) -> bool {
    let held: D = match document::from_json(text) {
        Ok(held) => held,
        Err(refused) => {
            reasoned(&refused);
            return false;
        }
    };
    let written = document::to_json(&held);
    let read = written.as_ref().map_err(Clone::clone).and_then(|written| document::from_json::<D>(written));
    assert_eq!(read.as_ref(), Ok(&held), "{text}\nwritten as {written:?}");
    let digests = (document::digest(&held), read.and_then(|read| document::digest(&read)));
    assert!(digests.0.is_ok() && digests.0 == digests.1, "{text}: {digests:?}");
    true
}

/// A table is refused with a reason, or every line is a row with its place, a row with trouble gives no values, and one
/// without gives finite ones.
pub(crate) fn sheets(bytes: &[u8]) -> bool {
    let layouts = [
        Layout::new("Bead", DecimalMark::Point).absent("n.a."),
        Layout::new("Bead", DecimalMark::Comma).delimiter(Delimiter::Semicolon).thousands(ThousandsMark::Point),
    ];
    layouts.map(|layout| sheet(bytes, layout)).contains(&true)
}

fn sheet(bytes: &[u8], layout: Layout) -> bool {
    let content = |species: &str| Column::content(species, species, Unit::Percent, Basis::Dried);
    let layout = layout
        .column(content("SiO2"))
        .column(content("Fe2O3"))
        .column(Column::mass("flux mass", "m", MassUnit::Milligram))
        .column(Column::time("time"));
    let sheet = match Sheet::read_csv(bytes, &layout) {
        Ok(sheet) => sheet,
        Err(refused) => {
            reasoned(&refused);
            return false;
        }
    };
    assert!(!sheet.table().to_string().is_empty());
    assert!(sheet.rows().windows(2).all(|pair| pair[0].line < pair[1].line), "lines are out of order");
    let totals = sheet.totals(&["SiO2"]);
    assert_eq!(totals.map(|totals| totals.rows.len()), Ok(sheet.rows().len()));
    for (place, row) in sheet.rows().iter().enumerate() {
        assert_eq!(row.cells.len(), sheet.columns().len());
        row.trouble.iter().for_each(reasoned);
        match sheet.composition(place) {
            Ok(whole) => {
                assert!(row.trouble.is_empty(), "{:?} has trouble and a composition", row.fields);
                assert!(whole.entries().iter().all(|entry| finite(&entry.cell)), "{:?}", row.fields);
            }
            Err(refused) => reasoned(&refused),
        }
        let refused = row.cells.iter().any(|cell| cell.reading == Reading::Refused);
        assert!(!refused || !row.trouble.is_empty(), "{:?} has a cell refused without a reason", row.fields);
    }
    true
}

fn finite(cell: &Cell) -> bool {
    match cell {
        Cell::Value(value) => value.value().is_finite(),
        Cell::Below { limit } => limit.is_finite(),
        _ => true,
    }
}

fn reasoned(refused: &Error) {
    assert!(!refused.hint().is_empty() && !refused.to_string().is_empty(), "{refused:?}");
}
