//! Spectra of a rhodium tube, and mass coefficients of fluxes and oxides.

use super::cases::{Worst, cases, grid, tube_of, weights};
use beadchem::substance::Element;
use beadchem::xray::{AtomicTables, Glass, Panels, Source, Tube};

/// The prototype's own two ways differ by 4e-5; the rest is the grid, read as power laws.
const SPECTRUM: f64 = 5e-4;
/// Grid against the tables it was made from.
const MASS: f64 = 2e-3;
/// Against published values, rounded to four digits.
const PUBLISHED: f64 = 2e-3;

const IRON_EDGE: f64 = 7.112;

/// The quantity of a row of the table of spectra.
pub(super) fn of_spectrum(quantity: &str, tube: Tube, tables: &dyn AtomicTables) -> f64 {
    let lines = tube.lines(tables, &weights()).unwrap();
    let photons = |name: &str| lines.iter().find(|line| line.0 == name).map_or(0.0, |line| line.2);
    let all: f64 = lines.iter().filter(|line| line.1 >= 1.0).map(|line| line.2).sum();
    let emission = Source::tube(tube).emission(&[IRON_EDGE], Panels::default(), tables, &weights()).unwrap();
    let is_line = |energy: f64| lines.iter().any(|line| line.1 == energy);
    let continuum: Vec<(f64, f64)> = emission.points().iter().copied().filter(|point| !is_line(point.0)).collect();
    let sum: f64 = continuum.iter().map(|point| point.1).sum();
    match quantity {
        "cont_total_1keV_to_E0" => sum,
        "cont_above_7p112keV" => continuum.iter().filter(|point| point.0 > IRON_EDGE).map(|point| point.1).sum(),
        "cont_mean_keV" => continuum.iter().map(|point| point.0 * point.1).sum::<f64>() / sum,
        "RhKa" => photons("Rh Ka"),
        "RhKb" => photons("Rh Kb"),
        "RhLa" => photons("Rh La"),
        "RhLb1" => photons("Rh Lb1"),
        "char_fraction_photons" => all / (all + sum),
        other => panic!("{other} is no quantity"),
    }
}

#[test]
fn tube_spectra_are_those_of_the_prototype() {
    let (tables, mut worst) = (grid(), Worst::new("tube spectra"));
    for case in cases(include_str!("../../data/xray/tube_spectra.csv")) {
        let tube = tube_of(&case);
        let found = of_spectrum(case.text("quantity"), tube, &tables);
        let expected = case.number("value_xraylib");
        let name = format!("{} {}", case.text("case_id"), case.text("quantity"));
        worst.hold(&name, found, expected, SPECTRUM * expected);
    }
}

#[test]
fn mass_coefficients_of_fluxes_and_oxides() {
    let (tables, mut worst) = (grid(), Worst::new("mass coefficients"));
    for case in cases(include_str!("../../data/xray/mass_attenuation.csv")) {
        let glass = Glass::of_masses(&[(case.text("compound"), 1.0)], &weights()).unwrap();
        let energy = case.number("E_keV");
        let pairs = [
            (glass.attenuation(&tables, energy).unwrap(), case.number("mu_total_xraylib")),
            (glass.photoelectric(&tables, energy).unwrap(), case.number("tau_xraylib")),
        ];
        for (found, expected) in pairs {
            worst.hold(case.text("case_id"), found, expected, MASS * expected);
        }
    }
}

#[test]
fn published_mass_attenuation() {
    let (tables, mut worst) = (grid(), Worst::new("NIST SRD 126"));
    for case in cases(include_str!("../../data/xray/nist.csv")) {
        let glass = Glass::of_masses(&[(case.text("material"), 1.0)], &weights()).unwrap();
        let found = glass.attenuation(&tables, case.number("E_keV")).unwrap();
        let expected = case.number("NIST_mu_cm2_g");
        let name = format!("{} at {} keV", case.text("material"), case.text("E_keV"));
        worst.hold(&name, found, expected, PUBLISHED * expected);
    }
}

/// Mass fractions of lithium, boron and oxygen in the tetraborate as the published table has them.
#[test]
fn tetraborate_from_its_formula() {
    let flux = Glass::of_masses(&[("Li2B4O7", 1.0)], &weights()).unwrap();
    for (symbol, fraction) in [("Li", 0.082085), ("B", 0.255680), ("O", 0.662235)] {
        assert!((flux.mass_fraction(symbol).unwrap() - fraction).abs() < 1e-5, "{symbol}");
    }
    assert_eq!(flux.elements().len(), 3);
    assert_eq!(flux.elements()[2], Element::O);
}

/// XCOM totals at four energies that matter.
#[test]
fn tetraborate_where_it_is_used() {
    let (flux, tables) = (Glass::of_masses(&[("Li2B4O7", 1.0)], &weights()).unwrap(), grid());
    for (energy, expected) in [(10.0, 4.2910), (6.404, 16.3011), (8.048, 8.1954), (20.0, 0.66534)] {
        let found = flux.attenuation(&tables, energy).unwrap();
        assert!((found / expected - 1.0).abs() < PUBLISHED, "{energy} keV: {found}");
    }
}
