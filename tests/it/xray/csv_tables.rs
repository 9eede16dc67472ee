//! Atomic tables of the user's own.

use super::cases::grid;
use beadchem::numeric::Side;
use beadchem::substance::Element;
use beadchem::xray::{AtomicTables, CsvTables, Shell, lines_of};

const MASS: &str = "element,energy_kev,total_cm2_per_g,photo_cm2_per_g\n";
const ATOMS: &str = "element,kind,name,shell,energy_kev,jump_ratio,fluorescence_yield,f12,f13,f23,share\n";

fn element(symbol: &str) -> Element {
    Element::from_symbol(symbol).unwrap()
}

#[test]
fn both_sides_of_a_jump_are_kept_apart() {
    let tables = grid();
    let iron = element("Fe");
    assert_eq!(tables.jumps_kev(iron).unwrap().len(), 1);
    let jump = tables.jumps_kev(iron).unwrap()[0];
    assert!((jump - 7.112).abs() < 1e-4);
    let [below, above] = [Side::Below, Side::Above].map(|side| tables.total(iron, jump, side).unwrap());
    assert_eq!((below, above), (53.1968, 407.696));
    // lead has edges of its M shell above 1 keV that the list of edges does not hold
    assert!(tables.jumps_kev(element("Pb")).unwrap().len() > tables.edges(element("Pb")).unwrap().len());
}

#[test]
fn between_rows_it_is_a_power_law() {
    let mass = format!("{MASS}# a remark\nO,1,1000,900\nO,10,1,0.9\n");
    let tables = CsvTables::read(&mass, ATOMS, "a test").unwrap();
    let middle = tables.total(Element::O, 10.0_f64.sqrt(), Side::Below).unwrap();
    assert!((middle - 1000.0_f64.sqrt()).abs() < 1e-12);
    assert_eq!(tables.range_kev(), (1.0, 10.0));
    assert_eq!(tables.total(Element::O, 0.5, Side::Below).unwrap_err().code().word(), "energy.not-tabulated");
    assert_eq!(tables.total(element("Si"), 5.0, Side::Below).unwrap_err().code().word(), "element.not-tabulated");
}

#[test]
fn parameters_are_read_as_they_stand() {
    let tables = grid();
    let lead = tables.edges(element("Pb")).unwrap();
    assert_eq!(lead.iter().map(|edge| edge.shell).collect::<Vec<_>>(), [Shell::L1, Shell::L2, Shell::L3]);
    let moves = tables.coster_kronig(element("Pb")).unwrap();
    assert_eq!((moves.f12, moves.f13, moves.f23), (0.066, 0.62, 0.118));
    assert!(lines_of(&tables, element("Pb")).unwrap().contains(&"Pb Lb1".to_owned()));
    assert!(tables.lines(element("O")).unwrap().is_empty());
}

/// Every fault names its line, what stands there, and what belongs there.
#[test]
fn faults_name_their_line() {
    let good = format!("{MASS}Si,1,100,90\nSi,10,1,0.9\n");
    let mass = |rows: &str| format!("{MASS}{rows}");
    let atoms = |rows: &str| format!("{ATOMS}{rows}");
    let faults = [
        (String::new(), atoms(""), "line 1", "header"),
        ("element,energy\n".to_owned(), atoms(""), "line 1", "element,energy_kev"),
        (mass(""), atoms(""), "line 1", "no rows"),
        (mass("Si,1,100,90\nSi,10,1\n"), atoms(""), "line 3", "3 cells"),
        (mass("Xx,1,100,90\n"), atoms(""), "line 2", "`Xx`"),
        (mass("Si,1,100,90\nSi,ten,1,0.9\n"), atoms(""), "line 3", "`ten`"),
        (mass("Si,1,100,90\nSi,10,-1,0.9\n"), atoms(""), "line 3", "-1"),
        (mass("Si,1,100,90\nSi,10,nan,0.9\n"), atoms(""), "line 3", "`nan`"),
        (mass("Si,1,100,90\nSi,10,1,2\n"), atoms(""), "line 3", "exchanged"),
        (mass("Si,10,1,0.9\nSi,1,100,90\n"), atoms(""), "line 3", "ascending"),
        (mass("Si,1,100,90\n"), atoms(""), "line 2", "first row"),
        (mass("Si,1,100,90\nSi,10,1,0.9\nO,1,9,8\nO,10,2,1\nSi,20,1,0.9\n"), atoms(""), "line 6", "further up"),
        (good.clone(), "element\n".to_owned(), "line 1", "header"),
        (good.clone(), atoms("O,edge,K,,0.5,10,0.01,,,,\n"), "line 2", "no mass coefficients"),
        (good.clone(), atoms("Si,shell,K,,1.8389,10,0.05,,,,\n"), "line 2", "edge or line"),
        (good.clone(), atoms("Si,edge,M5,,1.8389,10,0.05,,,,\n"), "line 2", "K, L1, L2, L3"),
        (good.clone(), atoms("Si,edge,K,,1.8389,1,0.05,,,,\n"), "line 2", "above 1"),
        (good.clone(), atoms("Si,edge,K,,1.8389,10,5.0,,,,\n"), "line 2", "at most 1"),
        (good.clone(), atoms("Si,edge,K,,1.8,10,0.1,,,,\nSi,edge,K,,1.8,10,0.1,,,,\n"), "line 3", "further up"),
        (good.clone(), atoms("Si,line,Ka,K,1.74,,,,,,\n"), "line 2", "share"),
        (good.clone(), atoms("Si,line,Ka,K,1.74,,,,,,1\nSi,line,Ka,K,1.74,,,,,,1\n"), "line 3", "further up"),
        (good.clone(), atoms("Si,edge,L1,,1.8,10,0.1,1.5,,,\n"), "line 2", "f12"),
    ];
    for (mass, atoms, line, word) in faults {
        let refused = CsvTables::read(&mass, &atoms, "a test").unwrap_err();
        let text = refused.to_string();
        assert_eq!(refused.code().word(), "atomic-tables.fault", "{text}");
        assert!(text.contains(line) && text.contains(word), "{line}, {word}: {text}");
        assert!(!refused.hint().is_empty());
    }
    assert!(CsvTables::read(&good, ATOMS, "a test").is_ok());
    assert_eq!(CsvTables::read(&good, ATOMS, " ").unwrap_err().code().word(), "atomic-tables.unsourced");
}
