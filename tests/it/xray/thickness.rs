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

/// Sn Ka of a usual bead of quartz sand: the factor and its u against differences of the share.
#[test]
fn the_way_to_thick_carries_what_mass_and_diameter_are_uncertain_by() {
    use beadchem::uncertainty::Estimate;
    let source = Source::tube(beadchem::xray::Tube::new("Rh", 50.0, 125.0).unwrap());
    let instrument = Instrument::new(source, Geometry::new(63.0, 40.0).unwrap());
    let setting = Setting::new(&grid(), &weights(), &instrument, &["Li2B4O7", "SiO2", "SnO2"], &["Sn Ka"]).unwrap();
    let sand = [("SiO2".to_owned(), 0.99), ("SnO2".to_owned(), 0.01)];
    let bead = glass(&[("Li2B4O7".to_owned(), 1.0)], 10.0, &sand).unwrap();
    let (mass, diameter, u_mass, u_diameter) = (8.8, 35.0, 0.02, 0.1);
    let estimates = [Estimate::new(mass, u_mass).unwrap(), Estimate::new(diameter, u_diameter).unwrap()];
    let [of_mass, of_diameter] = estimates;
    let found = setting.to_thick(&bead, "Sn Ka", of_mass, of_diameter).unwrap();
    let factor = |mass: f64, diameter: f64| {
        let area_cm2 = core::f64::consts::PI * (diameter / 20.0) * (diameter / 20.0);
        1.0 / setting.share_of_thick(&bead, "Sn Ka", mass / area_cm2).unwrap()
    };
    // of the closed form, and of a central difference whose error goes with the square of its step
    const SAME: f64 = 1e-12;
    const DIFFERENCE: f64 = 1e-6;
    assert!((found.factor.value() / factor(mass, diameter) - 1.0).abs() < SAME);
    assert!(found.factor.value() > 1.3, "far from thick: {}", found.factor.value());
    let step = 1e-4;
    let by_mass = (factor(mass + step, diameter) - factor(mass - step, diameter)) / (2.0 * step);
    let by_diameter = (factor(mass, diameter + step) - factor(mass, diameter - step)) / (2.0 * step);
    let expected = (by_mass * u_mass).hypot(by_diameter * u_diameter);
    assert!((found.factor.u().unwrap() / expected - 1.0).abs() < DIFFERENCE);
    let bare = setting.to_thick(&bead, "Sn Ka", mass.into(), diameter.into()).unwrap();
    assert_eq!(bare.factor.u(), None, "a bare number has an unstated uncertainty, and so has what follows from it");
    for (mass, diameter) in [(0.0, 35.0), (8.8, -35.0), (f64::NAN, 35.0)] {
        assert!(setting.to_thick(&bead, "Sn Ka", mass.into(), diameter.into()).is_err());
    }
}
