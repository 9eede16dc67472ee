//! Tables of other instruments: what is read, what is refused, and that no row is lost.

mod joining;
mod messages;
mod numbers;
mod reading;
mod stored;
mod times;
mod totals;
#[cfg(feature = "xlsx")]
mod workbook;

use beadchem::composition::{Basis, Cell, Unit};
use beadchem::sheet::{Column, DecimalMark, Layout, MassUnit, Reading, Sheet};
use proptest::test_runner::{Config, RngSeed};

/// The same cases in every run; a small table takes some microseconds.
fn config() -> Config {
    Config { cases: 400, rng_seed: RngSeed::Fixed(20_261), failure_persistence: None, ..Config::default() }
}

/// Contents in % on the dried basis under a header that is the species.
fn percent(species: &str) -> Column {
    Column::content(species, species, Unit::Percent, Basis::Dried)
}

/// Bead, two contents and a flux mass, with decimal points.
fn plain() -> Layout {
    Layout::new("Bead", DecimalMark::Point)
        .absent("-")
        .unknown("n.a.")
        .column(percent("SiO2"))
        .column(percent("MnO"))
        .column(Column::mass("Flux mass", "m2", MassUnit::Gram))
}

fn read(text: &str, layout: &Layout) -> Sheet {
    Sheet::read_csv(text, layout).expect("the table as a whole is sound")
}

/// The trouble of the row in this line, as printed.
fn trouble(sheet: &Sheet, line: usize) -> Vec<String> {
    let row = sheet.rows().iter().find(|row| row.line == line).expect("the row is there");
    row.trouble.iter().map(ToString::to_string).collect()
}

/// What one text is read as in a column of silica in %.
fn silica(text: &str, layout: Layout) -> Reading {
    let quoted = format!("Bead,SiO2\nB-1,\"{}\"\n", text.replace('"', "\"\""));
    let sheet = read(&quoted, &layout.column(percent("SiO2")));
    sheet.cell(0, "SiO2").expect("the column is declared").reading.clone()
}

fn fraction(reading: &Reading) -> Option<f64> {
    match reading {
        Reading::Content(Cell::Value(value)) => Some(value.value()),
        _ => None,
    }
}
