//! From which thickness on a line no longer changes.

use super::cases::{Case, Worst, cases, glass, grid, tube, weights};
use beadchem::xray::{AtomicTables, Geometry, Instrument, Setting, Source};

/// Reading the grid as power laws.
const THICKNESS: f64 = 1e-3;

/// The 99 % mass thickness of a row, mg/cm2.
pub(super) fn thick_from(case: &Case, tables: &dyn AtomicTables) -> f64 {
    let (flux, sample, line) = (case.parts("flux"), case.parts("sample"), case.text("line"));
    let bead = glass(&flux, case.number("flux_per_sample"), &sample).unwrap();
    let source = Source::tube(tube("Rh", case.number("kV"), case.text("tube")).unwrap());
    let geometry = Geometry::new(case.number("psi_in_deg"), case.number("psi_out_deg")).unwrap();
    let element = line.split(' ').next().unwrap();
    let names = flux.iter().chain(&sample).map(|part| part.0.as_str()).chain([element]);
    let names: Vec<&str> = names.collect();
    let setting = Setting::new(tables, &weights(), &Instrument::new(source, geometry), &names, &[line]).unwrap();
    1000.0 * setting.thick_from(&bead, line).unwrap()
}

#[test]
fn thicknesses_are_those_of_the_prototype() {
    let (tables, mut worst) = (grid(), Worst::new("99 % thickness"));
    for case in cases(include_str!("../../data/xray/thickness.csv")) {
        let expected = case.number("t99_poly_mg_cm2");
        // printed to 1e-3 mg/cm2
        let name = format!("{} {}", case.text("case_id"), case.text("line"));
        worst.hold(&name, thick_from(&case, &tables), expected, THICKNESS * expected + 5e-4);
    }
}
