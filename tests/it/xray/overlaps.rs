//! Lines on lines.

use super::cases::grid;
use beadchem::xray::overlaps;

/// Full width of a usual crystal and collimator at these energies, eV; gaps of the tables differ by up to 6 eV.
const WIDE: f64 = 60.0;

#[test]
fn direction_and_order() {
    let tables = grid();
    let present = ["Cr", "Mn", "Fe", "Ti", "V", "Zn", "Sr", "P", "Zr", "Ca", "Si", "La", "Ba", "Al", "Br", "Pb", "As"];
    let wanted = ["Mn Ka", "Cr Ka", "V Ka", "Al Ka", "Ti Ka", "As Ka", "P Ka", "Zr Ka"].map(|line| (line, WIDE));
    let found = overlaps(&tables, &wanted, &present, &["Rh"]).unwrap();
    let on = |line: &str, by: &str, order: u8| {
        found.iter().find(|overlap| overlap.line == line && overlap.by == by && overlap.order == order)
    };
    for (line, by) in [
        ("Mn Ka", "Cr Kb"),
        ("Cr Ka", "V Kb"),
        ("V Ka", "Ti Kb"),
        ("Al Ka", "Br La"),
        ("Ti Ka", "Ba La"),
        ("As Ka", "Pb La"),
        ("P Ka", "Zr La"),
    ] {
        assert!(on(line, by, 1).is_some(), "{by} on {line}");
    }
    assert!(on("Mn Ka", "Mn Ka", 1).is_none() && on("Cr Ka", "Mn Ka", 1).is_none());
    // Ca Kb in second order: 4.0127/2 = 2.0064 keV, beside P Ka at 2.0099
    let calcium = on("P Ka", "Ca Kb", 2).expect("Ca Kb in second order on P Ka");
    assert!((calcium.gap_ev - (4012.7 / 2.0 - 2009.9)).abs() < 1e-6 && !calcium.of_tube);
    assert_eq!(calcium.resolution_ev, WIDE);
    // the nearest comes first
    let of_phosphorus: Vec<f64> = found.iter().filter(|it| it.line == "P Ka").map(|it| it.gap_ev.abs()).collect();
    assert!(of_phosphorus.len() > 1 && of_phosphorus.windows(2).all(|pair| pair[0] <= pair[1]));
}

#[test]
fn lines_of_the_anode_are_marked() {
    let found = overlaps(&grid(), &[("Rh La", 10.0)], &["Rh"], &["Rh"]).unwrap();
    let own = found.iter().find(|overlap| overlap.by == "Rh La").expect("the tube's own Rh La");
    assert!(own.of_tube && own.gap_ev == 0.0);
    assert!(found.iter().all(|overlap| overlap.of_tube || overlap.by != "Rh La"));
}
