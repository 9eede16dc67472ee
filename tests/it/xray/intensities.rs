//! Intensities against an independent prototype that integrates by brute force.

use super::cases::{Worst, cases, glass, grid, instrument, weights};
use beadchem::xray::{AtomicTables, Setting};

/// The prototype's two ways agree within 1e-4; reading the grid as power laws costs up to 2.1e-4.
const RATIO: f64 = 5e-4;

/// The intensity of a bead over that of the bead of the analyte alone, for a row of the table.
pub(super) fn ratio(case: &super::cases::Case, tables: &dyn AtomicTables) -> (f64, f64) {
    let flux = case.parts("flux");
    let mut rest = case.parts("sample");
    rest.extend(case.parts("extra"));
    let (f, line) = (case.number("flux_per_sample"), case.text("line"));
    // a halide is held against a bead of 1 g of it for each gram of sample
    let analyte = match case.text("analyte") {
        "I" => "LiI",
        "Br" => "LiBr",
        oxide => oxide,
    };
    let bead = glass(&flux, f, &rest).unwrap();
    let reference = glass(&flux, f, &[(analyte.to_owned(), 1.0)]).unwrap();
    let names: Vec<&str> = flux.iter().chain(&rest).map(|part| part.0.as_str()).chain([analyte]).collect();
    let setting = Setting::new(tables, &weights(), &instrument(case).unwrap(), &names, &[line]).unwrap();
    let [bead, reference] = [bead, reference].map(|glass| setting.intensities(&glass).unwrap().line(line).unwrap());
    (bead.total() / reference.total(), bead.secondary / bead.primary)
}

#[test]
fn ratios_are_those_of_brute_force() {
    let (tables, mut worst) = (grid(), Worst::new("relative intensities"));
    let mut second = Worst::new("secondary over primary");
    for case in cases(include_str!("../../data/xray/relative_intensities.csv")) {
        let (found, enhanced) = ratio(&case, &tables);
        let expected = case.number("R_brute_xraylib");
        let name = format!("{} {}", case.text("case_id"), case.text("line"));
        worst.hold(&name, found, expected, RATIO * expected);
        let expected = case.number("secondary_over_primary");
        second.hold(&name, enhanced, expected, 2e-3 * expected + 2e-5); // printed to 1e-5
    }
}
