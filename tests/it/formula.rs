//! The grammar of formulas: what is read, what is assumed and said, and where reading stops.

use beadchem::code::Code;
use beadchem::substance::{Element, Formula};
use proptest::prelude::*;

fn atoms(text: &str) -> Vec<(&'static str, f64)> {
    Formula::parse(text).unwrap().atoms().iter().map(|(element, count)| (element.symbol(), *count)).collect()
}

#[test]
fn what_is_read() {
    let cases: &[(&str, &[(&str, f64)])] = &[
        ("SiO2", &[("Si", 1.0), ("O", 2.0)]),
        ("Ca5(PO4)3F", &[("Ca", 5.0), ("P", 3.0), ("O", 12.0), ("F", 1.0)]),
        ("[Fe(CN)6]", &[("Fe", 1.0), ("C", 6.0), ("N", 6.0)]),
        ("K4[Fe(CN)6]·3H2O", &[("K", 4.0), ("Fe", 1.0), ("C", 6.0), ("N", 6.0), ("H", 6.0), ("O", 3.0)]),
        ("Al2Si2O5(OH)4", &[("Al", 2.0), ("Si", 2.0), ("O", 9.0), ("H", 4.0)]),
        ("CuSO4*5H2O", &[("Cu", 1.0), ("S", 1.0), ("O", 9.0), ("H", 10.0)]),
        ("CaSO4 · 0.5 H2O", &[("Ca", 1.0), ("S", 1.0), ("O", 4.5), ("H", 1.0)]),
        ("2CaO·SiO2", &[("Ca", 2.0), ("O", 4.0), ("Si", 1.0)]),
        ("Fe₂O₃", &[("Fe", 2.0), ("O", 3.0)]),
        ("Fe0.95O", &[("Fe", 0.95), ("O", 1.0)]),
        ("(Mg0.9Fe0.1)2SiO4", &[("Mg", 1.8), ("Fe", 0.2), ("Si", 1.0), ("O", 4.0)]),
        ("Co", &[("Co", 1.0)]),
        ("CoO", &[("Co", 1.0), ("O", 1.0)]),
        (" Na2SO4.H2O ", &[("Na", 2.0), ("S", 1.0), ("O", 5.0), ("H", 2.0)]),
        ("((SiO2))2", &[("Si", 2.0), ("O", 4.0)]),
    ];
    for (text, expected) in cases {
        assert_eq!(&atoms(text), expected, "{text}");
    }
}

#[test]
fn dots_that_could_mean_two_things_are_said() {
    for (text, oxygen, words) in [
        ("Na2CO3.10H2O", 13.0, "Read as hydrate Na2CO3 with 10 H2O. Write the middle dot to be sure."),
        ("CuSO4.5H2O", 9.0, "Read as hydrate CuSO4 with 5 H2O"),
        ("K2SO4.2MgSO4", 8.2, "decimal mark (4.2)"),
    ] {
        let formula = Formula::parse(text).unwrap();
        let [finding] = formula.findings() else { panic!("{text}: {:?}", formula.findings()) };
        assert_eq!(finding.code, Code::FormulaDotAssumed);
        assert!(finding.text.contains(words), "{text}: {}", finding.text);
        // 1e-12: the count 4.2 and the four oxygens of the second sulfate are added in binary
        const ROUNDING: f64 = 1e-12;
        assert!((formula.count(Element::O) - oxygen).abs() < ROUNDING, "{text}");
    }
    for text in ["Fe0.95O", "Na2SO4.H2O", "Na2CO3·10H2O", "Ca(OH)2", "Fe2O3.5"] {
        assert!(Formula::parse(text).unwrap().findings().is_empty(), "{text}");
    }
}

#[test]
fn unusual_capitals_are_said_or_refused() {
    for (text, words) in [
        ("CO", "`CO` was read as carbon monoxide. For cobalt write Co."),
        ("HF", "`HF` was read as hydrogen fluoride. For hafnium write Hf."),
        ("NO", ""),
        ("no2", "`no2` was read as NO2"),
        ("fe2o3", "`fe2o3` was read as Fe2O3"),
    ] {
        let formula = Formula::parse(text).unwrap();
        match formula.findings() {
            // nobelium has no natural weight, so nobody means it by NO
            [] => assert!(words.is_empty(), "{text}"),
            [finding] => assert!(finding.code == Code::FormulaLetterCase && finding.text.starts_with(words), "{text}"),
            more => panic!("{text}: {more:?}"),
        }
    }
    let refused = Formula::parse("sio2").unwrap_err();
    assert_eq!(refused.code(), Code::FormulaAmbiguous);
    assert!(refused.hint().contains("SiO2") && refused.hint().contains("SIO2"), "{refused}");
    assert_eq!(Formula::parse("co").unwrap_err().code(), Code::FormulaAmbiguous);
}

#[test]
fn where_reading_stops() {
    let cases = [
        ("CuS04", 4, Code::FormulaSyntax),
        ("Fe2O4x", 6, Code::FormulaSyntax),
        ("", 1, Code::FormulaSyntax),
        ("Fe2(SO4", 8, Code::FormulaSyntax),
        ("Fe2(SO4]3", 8, Code::FormulaSyntax),
        ("Fe)", 3, Code::FormulaSyntax),
        ("()", 2, Code::FormulaSyntax),
        ("2", 2, Code::FormulaSyntax),
        ("SiO2·", 6, Code::FormulaSyntax),
        ("SiO2··H2O", 6, Code::FormulaSyntax),
        ("Fe2O3(T)", 7, Code::FormulaElementUnknown),
        ("FE2O3", 2, Code::FormulaElementUnknown),
        ("Fe0", 3, Code::FormulaSyntax),
        ("Si-O", 3, Code::FormulaSyntax),
        ("SiO2 CaO", 6, Code::FormulaSyntax),
        ("Qq", 1, Code::FormulaElementUnknown),
        ("H1e9", 3, Code::FormulaSyntax),
    ];
    for (text, at, code) in cases {
        let refused = Formula::parse(text).unwrap_err();
        assert_eq!(refused.code(), code, "{text}: {refused}");
        assert!(refused.to_string().contains(&format!("position {at} ")), "{text}: {refused}");
        assert!(!refused.hint().is_empty());
    }
}

#[test]
fn counts_that_multiply_past_any_number_are_refused() {
    let nines = "9".repeat(200);
    for text in [format!("(Fe{nines}){nines}"), format!("(Fe0.{0}1)0.{0}1", "0".repeat(190))] {
        assert_eq!(Formula::parse(&text).unwrap_err().code(), Code::FormulaSyntax);
    }
}

#[test]
fn a_formula_built_from_atoms_reads_back_as_itself() {
    let silicon = Element::from_symbol("Si").unwrap();
    let built = Formula::of(&[(silicon, 2.5), (Element::H, 2.0), (Element::O, 1.0)]).unwrap();
    assert_eq!(Formula::parse(built.text()).unwrap().atoms(), built.atoms());
    let twice = Formula::of(&[(Element::O, 1.0), (silicon, 1.0), (Element::O, 1.0)]).unwrap();
    assert_eq!(twice.count(Element::O), 2.0);
    assert!(Formula::of(&[(silicon, 0.0)]).is_err() && Formula::of(&[]).is_err());
}

proptest! {
    #[test]
    fn no_text_panics(text in "\\PC{0,40}") {
        let _ = Formula::parse(&text);
    }

    #[test]
    fn no_text_of_the_alphabet_panics(text in "[A-Za-z0-9().\\[\\]·*₀-₉ ]{0,60}") {
        if let Ok(formula) = Formula::parse(&text) {
            prop_assert!(formula.atoms().iter().all(|(_, count)| count.is_finite() && *count > 0.0));
        }
    }

    #[test]
    fn atoms_come_back(counts in prop::collection::vec((1u8..=118, 1u16..500), 1..8)) {
        let symbols: Vec<&str> = beadchem::substance::Weights::ciaaw_2024().entries().iter().map(|e| e.symbol).collect();
        let mut atoms: Vec<(Element, f64)> = Vec::new();
        for (number, count) in counts {
            let element = Element::from_symbol(symbols[usize::from(number) - 1]).unwrap();
            if atoms.iter().all(|(known, _)| *known != element) {
                atoms.push((element, f64::from(count) / 4.0));
            }
        }
        let built = Formula::of(&atoms).unwrap();
        let read = Formula::parse(built.text()).unwrap();
        prop_assert_eq!(read.atoms(), built.atoms());
    }
}
