//! A stored history held against a correction that should have been.

use beadchem::Result;
use beadchem::batch::{
    Column, Columns, Numbers, Recorrection, RunOptions, SpecificationLimit, Words, example, example_table,
};
use beadchem::code::Code;
use beadchem::uncertainty::Estimate;

const WRONG: f64 = 0.0040;
const RIGHT: f64 = 0.0062;

fn recorrection() -> Result<Recorrection> {
    let old = example()?;
    let new = old.with_flux_loss("F-1", Estimate::new(RIGHT, 0.0003)?)?;
    Recorrection::new(old, new)
}

#[test]
fn old_and_new_are_what_each_correction_gives_from_the_raw_numbers() -> Result<()> {
    let table = example_table(300)?;
    let changed = recorrection()?.run(&table.columns()?, &RunOptions::default())?;
    let old = example()?.run(&table.columns()?, &RunOptions::default())?;
    let new = example()?.with_flux_loss("F-1", Estimate::new(RIGHT, 0.0003)?)?;
    let new = new.run(&table.columns()?, &RunOptions::default())?;
    for species in ["CaO", "MgO", "SiO2"] {
        for row in 0..300 {
            let of = |name: &str| changed.column(&format!("{species}_percent_{name}")).unwrap().get(row).unwrap();
            let [before, after] =
                [&old, &new].map(|held| held.column(&format!("{species}_percent")).unwrap().get(row).unwrap());
            assert_eq!([of("old").to_bits(), of("new").to_bits()], [before.to_bits(), after.to_bits()]);
            assert_eq!(of("change"), after - before);
        }
    }
    Ok(())
}

#[test]
fn without_fixed_additions_contents_go_with_the_fused_flux() -> Result<()> {
    // evaluation (a): d ln w / d ln F = 1 exactly (homogeneity of the equation)
    const EXACT: f64 = 1e-12;
    let table = example_table(50)?;
    let changed = recorrection()?.run(&table.columns()?, &RunOptions::default())?;
    for row in 0..50 {
        let of = |name: &str| changed.column(&format!("CaO_percent_{name}")).unwrap().get(row).unwrap();
        assert!((of("new") / of("old") / ((1.0 - RIGHT) / (1.0 - WRONG)) - 1.0).abs() < EXACT);
        assert!(of("change_per_u") < 0.0);
    }
    Ok(())
}

#[test]
fn a_certificate_that_crosses_a_limit_is_named_once() -> Result<()> {
    let table = example_table(200)?;
    let plain = recorrection()?.run(&table.columns()?, &RunOptions::default())?;
    let [before, after] = ["old", "new"].map(|name| plain.column(&format!("CaO_percent_{name}")).unwrap());
    let limit = 30.3;
    let expected: Vec<u64> = (0..200_u64)
        .filter(|&row| (before.get(row as usize).unwrap() <= limit) != (after.get(row as usize).unwrap() <= limit))
        .collect();
    assert!(!expected.is_empty(), "some do");
    let high = SpecificationLimit { species: "CaO".to_owned(), low: None, high: Some(limit) };
    let found = recorrection()?.limit(high)?.run(&table.columns()?, &RunOptions::default())?;
    let named: Vec<u64> = found
        .findings()
        .iter()
        .filter(|finding| finding.code.word() == "limit.crossed")
        .map(|finding| finding.row)
        .collect();
    assert_eq!(named, expected);
    Ok(())
}

#[test]
fn rows_that_are_not_asked_for_keep_what_they_have() -> Result<()> {
    let masses = [0.8; 4];
    let (flux, lime, magnesia, silica) = ([8.0; 4], [13_500.0; 4], [1_710.0; 4], [400.0; 4]);
    let mut table = Columns::new(4);
    let columns: [(&str, &[f64]); 5] = [
        ("sample_g", &masses),
        ("flux_g", &flux),
        ("Ca_Ka_cps", &lime),
        ("Mg_Ka_cps", &magnesia),
        ("Si_Ka_cps", &silica),
    ];
    for (name, values) in columns {
        table.push(name, Column::Numbers(Numbers::new(values)))?;
    }
    table.push("shift", Column::Words(Words::of([Some("day"), Some("night"), None, Some("day")])))?;
    let changed = recorrection()?.only("shift", "day").run(&table, &RunOptions::default())?;
    let change = changed.column("CaO_percent_change").unwrap();
    let moved: Vec<bool> = (0..4).map(|row| change.get(row) != Some(0.0)).collect();
    assert_eq!(moved, [true, false, false, true]);
    assert!(recorrection()?.only("watch", "day").run(&table, &RunOptions::default()).is_err());
    let told = |changed: &beadchem::batch::Corrected| {
        let of_rows = changed.notes().iter().filter(|note| note.code == Code::RowsNotChosen);
        of_rows.map(|note| note.text.clone()).collect::<Vec<_>>()
    };
    assert!(told(&changed).is_empty());
    let nobody = recorrection()?.only("shift", "dusk").run(&table, &RunOptions::default())?;
    assert_eq!(told(&nobody), ["No row has shift = dusk (there stands, for example, day, night), so nothing changes."]);
    assert!((0..4).all(|row| nobody.column("CaO_percent_change").unwrap().get(row) == Some(0.0)));
    Ok(())
}

#[test]
fn a_result_without_its_version_is_an_estimate_and_says_so() -> Result<()> {
    let stored = [30.0, 31.0];
    let cells = [[0.8, 0.8], [8.0, 8.0], [13_500.0, 13_500.0], [1_710.0, 1_710.0], [400.0, 400.0]];
    let mut table = Columns::new(2);
    for (name, values) in ["sample_g", "flux_g", "Ca_Ka_cps", "Mg_Ka_cps", "Si_Ka_cps"].iter().zip(&cells) {
        table.push(*name, Column::Numbers(Numbers::new(values)))?;
    }
    table.push("CaO_percent", Column::Numbers(Numbers::new(&stored)))?;
    table.push("method_version", Column::Words(Words::of([Some("2026-1"), None])))?;
    let changed = recorrection()?.run(&table, &RunOptions::default())?;
    let finding = changed.findings().iter().find(|finding| finding.code.word() == "recipe.estimated").unwrap();
    assert_eq!(finding.row, 1);
    assert!(finding.text.contains("evaluation (a)") && finding.text.contains("estimate"), "{}", finding.text);
    let new = changed.column("CaO_percent_new").unwrap();
    const FIRST_ORDER: f64 = 1e-9;
    assert!((new.get(1).unwrap() / 31.0 / ((1.0 - RIGHT) / (1.0 - WRONG)) - 1.0).abs() < FIRST_ORDER);
    assert!(changed.notes().iter().all(|note| !note.text.contains("CaO_percent")), "the stored result was read");
    assert!(changed.column("MgO_percent_new").unwrap().get(1).is_none(), "nothing is stored of it");
    assert!(new.get(0).is_some_and(|value| value != 30.0), "the other row is corrected from what was measured");
    Ok(())
}

#[test]
fn a_row_of_another_version_says_both() -> Result<()> {
    let mut table = Columns::new(1);
    for name in ["sample_g", "flux_g", "Ca_Ka_cps", "Mg_Ka_cps", "Si_Ka_cps", "CaO_percent"] {
        table.push(name, Column::Numbers(Numbers::new(&[8.0])))?;
    }
    table.push("method_version", Column::Words(Words::of([Some("2025-9")])))?;
    let changed = recorrection()?.run(&table, &RunOptions::default())?;
    let said: Vec<_> = changed.findings().iter().map(|finding| (finding.code.word(), &finding.text)).collect();
    assert_eq!(said.len(), 1, "nothing of a computation that does not count: {said:?}");
    assert!(
        said[0].0 == "recipe.estimated" && said[0].1.contains("2025-9") && said[0].1.contains("2026-1"),
        "{said:?}"
    );
    Ok(())
}

#[test]
fn limits_of_an_estimate_are_held_against_the_numbers_it_shows() -> Result<()> {
    let after = |stored: f64| stored * (1.0 - RIGHT) / (1.0 - WRONG);
    let limit = after(30.0).midpoint(30.0);
    let (stored, versions) = ([30.0, 31.0, 30.0, 30.0], ["2025-9"; 4]);
    let mut table = Columns::new(4);
    table.push("CaO_percent", Column::Numbers(Numbers::new(&stored)))?;
    table.push("method_version", Column::Words(Words::of(versions.map(Some))))?;
    table.push("shift", Column::Words(Words::of(["day", "day", "night", "day"].map(Some))))?;
    let high = SpecificationLimit { species: "CaO".to_owned(), low: None, high: Some(limit) };
    let changed = recorrection()?.only("shift", "day").limit(high)?.run(&table, &RunOptions::default())?;
    let crossed = changed.findings().iter().filter(|finding| finding.code.word() == "limit.crossed");
    assert_eq!(crossed.map(|finding| finding.row).collect::<Vec<_>>(), [0, 3]);
    assert_eq!(changed.column("CaO_percent_change").unwrap().get(2), Some(0.0), "not asked for");
    let said = changed.findings().iter().find(|finding| finding.code.word() == "recipe.estimated").unwrap();
    assert_eq!(changed.refused(), 0, "a row with an estimate has a result");
    assert!(said.text.starts_with("The table holds results, and no masses"), "{}", said.text);
    Ok(())
}

/// Stored lime by lot.
fn stored_by_lot<'a>(lots: [Option<&'a str>; 3], lime: &'a [f64; 3]) -> Result<Columns<'a>> {
    let mut table = Columns::new(3);
    table.push("CaO_percent", Column::Numbers(Numbers::new(lime)))?;
    table.push("flux_lot", Column::Words(Words::of(lots)))?;
    Ok(table)
}

#[test]
fn no_factor_is_taken_where_more_than_a_loss_differs_or_the_lot_is_not_known() -> Result<()> {
    let lime = [30.0; 3];
    let known = example()?.lots()[0].name().to_owned();
    let table = stored_by_lot([Some(known.as_str()), Some("F-999"), None], &lime)?;
    let said = |changed: &beadchem::batch::Corrected| -> Vec<(String, String)> {
        changed.findings().iter().map(|it| (it.code.word().to_owned(), it.text.clone())).collect()
    };
    let changed = recorrection()?.run(&table, &RunOptions::default())?;
    let found = said(&changed);
    let codes: Vec<&str> = found.iter().map(|(code, _)| code.as_str()).collect();
    assert_eq!(codes, ["recipe.estimated", "flux.lot-unknown", "flux.lot-unknown"], "{found:?}");
    assert!(found[1].1.contains("F-999") && found[2].1.contains("nothing says of which flux lot it is"), "{found:?}");
    assert_eq!(changed.refused(), 2);
    // by other weights, not by a lot
    let other = example()?.weights(beadchem::substance::Weights::ciaaw_2021());
    let changed = Recorrection::new(example()?, other)?.run(&table, &RunOptions::default())?;
    let found = said(&changed);
    assert!(
        found.iter().all(|(code, text)| code == "recipe.version-unknown" && text.contains("more than the loss")),
        "{found:?}"
    );
    assert_eq!(changed.column("CaO_percent_new").unwrap().get(0), None);
    Ok(())
}
