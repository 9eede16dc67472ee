//! The tables that come with the crate, against the prototype's other tables: each row within what tables differ by.

use super::cases::{Case, Worst, cases, tube_of, weights};
use beadchem::substance::Element;
use beadchem::xray::{AtomicTables, Glass, overlaps, shipped_tables};

/// Where a row states less.
const FLOOR: f64 = 0.003;

/// What the tables differ by, printed to four decimals; several rows say just how far these very tables are off.
fn between_tables(case: &Case) -> f64 {
    (case.number("tol_between_tables_rel") + 5e-5).max(FLOOR)
}

#[test]
fn ratios() {
    let (tables, mut worst) = (shipped_tables().unwrap(), Worst::new("shipped: relative intensities"));
    for case in cases(include_str!("../../data/xray/relative_intensities.csv")) {
        let (expected, tolerance) = (case.number("R_brute_xraylib"), between_tables(&case));
        let name = format!("{} {}", case.text("case_id"), case.text("line"));
        worst.hold(&name, super::intensities::ratio(&case, tables).0, expected, tolerance * expected);
    }
}

#[test]
fn coefficients() {
    let (tables, mut worst) = (shipped_tables().unwrap(), Worst::new("shipped: coefficients"));
    for case in cases(include_str!("../../data/xray/alphas.csv")) {
        let (expected, tolerance) =
            (case.number("alpha_xraylib"), (case.number("tol_between_tables_abs") + 5e-6).max(FLOOR));
        worst.hold(case.text("case_id"), super::coefficients::coefficient(&case, tables), expected, tolerance);
    }
}

#[test]
fn thicknesses() {
    let (tables, mut worst) = (shipped_tables().unwrap(), Worst::new("shipped: 99 % thickness"));
    for case in cases(include_str!("../../data/xray/thickness.csv")) {
        let (expected, tolerance) = (case.number("t99_poly_mg_cm2"), between_tables(&case));
        let name = format!("{} {}", case.text("case_id"), case.text("line"));
        worst.hold(&name, super::thickness::thick_from(&case, tables), expected, tolerance * expected);
    }
}

#[test]
fn spectra() {
    let (tables, mut worst) = (shipped_tables().unwrap(), Worst::new("shipped: tube spectra"));
    for case in cases(include_str!("../../data/xray/tube_spectra.csv")) {
        let tube = tube_of(&case);
        let (expected, tolerance) = (case.number("value_xraylib"), between_tables(&case));
        let found = super::spectra::of_spectrum(case.text("quantity"), tube, tables);
        worst.hold(
            &format!("{} {}", case.text("case_id"), case.text("quantity")),
            found,
            expected,
            tolerance * expected,
        );
    }
}

#[test]
fn mass_coefficients() {
    let (tables, mut worst) = (shipped_tables().unwrap(), Worst::new("shipped: NIST SRD 126"));
    for case in cases(include_str!("../../data/xray/nist.csv")) {
        let glass = Glass::of_masses(&[(case.text("material"), 1.0)], &weights()).unwrap();
        let expected = case.number("NIST_mu_cm2_g");
        let found = glass.attenuation(tables, case.number("E_keV")).unwrap();
        worst.hold(&format!("{} {}", case.text("material"), case.text("E_keV")), found, expected, 2e-3 * expected);
    }
    for case in cases(include_str!("../../data/xray/mass_attenuation.csv")) {
        let glass = Glass::of_masses(&[(case.text("compound"), 1.0)], &weights()).unwrap();
        let expected = case.number("mu_total_xraylib");
        let found = glass.attenuation(tables, case.number("E_keV")).unwrap();
        worst.hold(case.text("case_id"), found, expected, 2e-3 * expected);
    }
}

#[test]
fn published_yields_stand_in_place_of_the_tables_own() {
    let tables = shipped_tables().unwrap();
    let element = |symbol: &str| Element::from_symbol(symbol).unwrap();
    for (symbol, expected) in [("Na", 0.02133), ("Si", 0.05037), ("Mn", 0.3213)] {
        assert_eq!(tables.edges(element(symbol)).unwrap()[0].fluorescence_yield, expected, "{symbol}");
    }
    let phosphorus = tables.lines(element("P")).unwrap();
    assert_eq!((phosphorus[0].share, phosphorus[1].share), (1.0 - 0.04256, 0.04256));
    assert!(tables.elements().len() == 90 && tables.elements().iter().all(|element| element.number() >= 3));
    assert!(tables.lines(element("Pb")).unwrap().iter().all(|line| !line.name.starts_with('M')));
    assert!(tables.provenance().contains("Elam") && tables.provenance().contains("Hubbell"));
}

/// The pairs every laboratory knows, by |gap| with 6 eV of doubt between tables.
#[test]
fn well_known_overlaps() {
    let tables = shipped_tables().unwrap();
    for (by, line, gap) in [
        ("Br La", "Al Ka", 6.0),
        ("I Lb2", "Ti Ka", 5.8),
        ("Ba La", "Ti Ka", 45.7),
        ("Ti Kb", "V Ka", 20.4),
        ("V Kb", "Cr Ka", 12.9),
        ("Cr Kb", "Mn Ka", 48.0),
        ("Pb La", "As Ka", 7.6),
        ("Sr Kb", "Zr Ka", 60.0),
        ("Rb Kb", "Y Ka", 2.9),
    ] {
        let interferer = by.split(' ').next().unwrap();
        let found = overlaps(tables, &[(line, gap + 6.0)], &[interferer], &[]).unwrap();
        assert!(found.iter().any(|overlap| overlap.by == by && overlap.order == 1), "{by} on {line}: {found:?}");
    }
    let lead = overlaps(tables, &[("As Ka", 20.0)], &["Pb"], &[]).unwrap();
    let lead = lead.iter().find(|overlap| overlap.by == "Pb La").expect("Pb La on As Ka");
    assert!((lead.gap_ev - 7.6).abs() < 0.5, "{}", lead.gap_ev);
}
