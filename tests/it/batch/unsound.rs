//! Cells and rows that once gave numbers without a word: what is refused, and what is said of what is not there. What is impossible is
//! common practice; the bounds are those that a single bead meets.

use beadchem::Result;
use beadchem::batch::{
    Bits, Column, Columns, Comparison, Corrected, Correction, Field, Numbers, Quantity, Recorrection, RunOptions,
    SpecificationLimit, Spread, Uncertainty, Words, example, example_table,
};
use beadchem::charge::{Charge, FluxLot, Sample};
use beadchem::composition::Basis;
use beadchem::uncertainty::Estimate;

const ROWS: usize = 9;

/// The example's columns, some of them replaced.
fn with<'t>(table: &Columns<'t>, replaced: Vec<(&str, Column<'t>)>) -> Result<Columns<'t>> {
    let mut changed = Columns::new(table.rows());
    for name in table.names().filter(|name| replaced.iter().all(|(new, _)| new != name)) {
        changed.push(name.to_owned(), table.get(name).unwrap().clone())?;
    }
    for (name, column) in replaced {
        changed.push(name.to_owned(), column)?;
    }
    Ok(changed)
}

fn said(done: &Corrected) -> Vec<(u64, &'static str)> {
    done.findings().iter().map(|finding| (finding.row, finding.code.word())).collect()
}

fn with_u(kind: Uncertainty) -> RunOptions<'static> {
    RunOptions { uncertainty: kind, ..RunOptions::default() }
}

/// An uncertainty that no single bead takes is refused in a column too, whether uncertainties are asked for or not.
#[test]
fn a_column_of_uncertainties_holds_uncertainties() -> Result<()> {
    let table = example_table(ROWS)?;
    let u = [1e-4, -1.0, f64::NAN, f64::INFINITY, 0.0, -1.0, 1e-4, 1e-4, 1e-4];
    let there = [0b1101_1111_u8, 0b1]; // the sixth is null: not stated
    let numbers = Column::Numbers(Numbers::new(&u).valid(Bits::new(&there, 0, ROWS)?));
    let table = with(&table.columns()?, vec![("u_sample_g", numbers)])?;
    let field = Field::new(Quantity::SampleMass).spread(Spread::Column("u_sample_g".to_owned()))?;
    let correction = example()?.field(field)?;
    for kind in [Uncertainty::None, Uncertainty::Variance, Uncertainty::Covariance] {
        let done = correction.run(&table, &with_u(kind))?;
        assert_eq!(done.refused(), 3, "{kind:?}: {:?}", said(&done));
        let refused: Vec<u64> = said(&done).into_iter().map(|(row, _)| row).collect();
        assert_eq!(refused, [1, 2, 3], "{kind:?}");
        assert_eq!(said(&done)[0].1, "uncertainty.negative", "{:?}", said(&done));
    }
    Ok(())
}

#[test]
fn numbers_that_are_long_to_write_are_written_short() -> Result<()> {
    let table = example_table(ROWS)?;
    let mut masses = [0.8; ROWS];
    (masses[2], masses[3]) = (1e300, 5e-324);
    let table = with(&table.columns()?, vec![("sample_g", Column::Numbers(Numbers::new(&masses)))])?;
    let done = example()?.run(&table, &RunOptions::default())?;
    let texts: Vec<&str> = done.findings().iter().map(|finding| finding.text.as_str()).collect();
    assert!(texts.len() == 2 && texts[0].contains("1e300 g") && texts[1].contains("5e-324 g"), "{texts:?}");
    Ok(())
}

/// As with a single lot: -2 % to 50 %.
#[test]
fn a_flux_loss_in_a_column_has_the_bounds_of_one_stated() -> Result<()> {
    let table = example_table(ROWS)?;
    let losses = [0.4, 50.0, 50.1, 99.0, -2.0, -2.1, 0.4, 0.4, 0.4];
    let table = with(&table.columns()?, vec![("flux_loss_percent", Column::Numbers(Numbers::new(&losses)))])?;
    let done = example()?.field(Field::new(Quantity::FluxLoss))?.run(&table, &RunOptions::default())?;
    let refused = |row: u64| done.findings().iter().any(|it| it.row == row && it.code.word() == "number.out-of-range");
    assert_eq!((0..6).map(refused).collect::<Vec<_>>(), [false, false, true, true, false, true], "{:?}", said(&done));
    Ok(())
}

#[test]
fn a_basis_that_leaves_nothing_to_refer_to_is_refused() -> Result<()> {
    let table = example_table(ROWS)?;
    let mut losses = [46.3; ROWS];
    losses[4] = 100.0;
    let table = with(&table.columns()?, vec![("loss_on_ignition_percent", Column::Numbers(Numbers::new(&losses)))])?;
    let ignited = Basis::Ignited { temperature_c: 1000.0 };
    let done = example()?.loss_temperature(1000.0)?.also_on(ignited)?.run(&table, &RunOptions::default())?;
    assert!(said(&done).contains(&(4, "basis.impossible")), "{:?}", said(&done));
    let column = done.column("CaO_ignited_at_1000_C_percent").unwrap();
    let there: Vec<bool> = (0..ROWS).map(|row| column.get(row).is_some_and(f64::is_finite)).collect();
    assert_eq!(there, (0..ROWS).map(|row| row != 4).collect::<Vec<_>>());
    Ok(())
}

#[test]
fn results_that_were_asked_for_and_are_not_there_are_told_of() -> Result<()> {
    let table = example_table(ROWS)?;
    let table = table.columns()?;
    let notes = |correction: &Correction, table: &Columns<'_>| -> Result<Vec<String>> {
        let done = correction.run(table, &RunOptions::default())?;
        let notes = done.notes().iter().filter(|note| note.code.word() == "result.not-made");
        Ok(notes.map(|note| format!("{}: {}", note.quantity, note.text)).collect())
    };
    assert_eq!(notes(&example()?, &table)?, Vec::<String>::new());
    let received = example()?.field(Field::new(Quantity::Moisture).optional())?.also_on(Basis::AsReceived)?;
    let said = notes(&received, &table)?;
    assert!(said.len() == 1 && said[0].starts_with("as received: ") && said[0].contains("Moisture"), "{said:?}");
    Ok(())
}

/// Evaluation (b): a total without a component that was to be read says so, in the row where others have it.
#[test]
fn a_total_names_what_it_is_without() -> Result<()> {
    let lot = FluxLot::new("F-1", [("Li2B4O7", 0.5), ("LiBO2", 0.5)], "1050 C, 18 min", Estimate::new(0.004, 0.0003)?)?;
    let charge = Charge::new(Sample::dried(Estimate::exact(0.8)?)?, lot.weigh_g(Estimate::exact(8.0)?)?)?;
    let correction = Correction::of_glass(["CaO", "MgO"], charge)?
        .fusion(beadchem::batch::FusionLoss::AsOnIgnition)?
        .loss_temperature(1000.0)?
        .field(Field::new(Quantity::LossOnIgnition))?
        .field(Field::new(Quantity::Glass("CaO".to_owned())).optional())?;
    let (mass, flux, loss, lime, magnesia) = ([0.8; 2], [8.0; 2], [46.0; 2], [2.9; 2], [1.9; 2]);
    let numbers = |values| Column::Numbers(Numbers::new(values));
    let first_alone = [0b01_u8];
    let gap = Column::Numbers(Numbers::new(&lime).valid(Bits::new(&first_alone, 0, 2)?));
    let mut table = Columns::new(2);
    table.push("sample_g", numbers(&mass))?;
    table.push("flux_g", numbers(&flux))?;
    table.push("loss_on_ignition_percent", numbers(&loss))?;
    table.push("MgO_glass_percent", numbers(&magnesia))?;
    let never = correction.run(&table, &RunOptions::default())?;
    assert_eq!(said(&never), [], "a column that is not there is told of once");
    let notes: Vec<_> = never.notes().iter().map(|note| (note.code.word(), note.quantity.as_str())).collect();
    assert!(notes.contains(&("closure.not-counted", "CaO")), "{notes:?}");
    table.push("CaO_glass_percent", gap)?;
    let done = correction.run(&table, &RunOptions::default())?;
    assert_eq!(said(&done), [(1, "closure.not-counted")]);
    assert_eq!(done.findings()[0].text, "The total is without CaO: this row has no reading of it.");
    Ok(())
}

#[test]
fn a_result_that_jumps_over_both_limits_is_named() -> Result<()> {
    let limit = SpecificationLimit { species: "CaO".to_owned(), low: Some(29.0), high: Some(30.0) };
    let table = |lime: f64| -> Result<Corrected> {
        let (before, after) = ([31.0, 28.0, 29.5], [lime, lime, 29.6]);
        let (mut old, mut new) = (Columns::new(3), Columns::new(3));
        old.push("CaO_percent", Column::Numbers(Numbers::new(&before)))?;
        new.push("CaO_percent", Column::Numbers(Numbers::new(&after)))?;
        Ok(Comparison::new().limit(limit.clone()).run(&old, &new)?.numbers().clone())
    };
    let found = table(28.5)?;
    assert_eq!(said(&found), [(0, "limit.crossed")], "from above to below; the second stays below");
    let text = "CaO was 31.0000 %, above the limit of 29 to 30 %, and is 28.5000 %, below.";
    assert_eq!(found.findings()[0].text, text);
    Ok(())
}

/// Results alone: the u that is stored beside them counts, and what is no number is not stored.
#[test]
fn stored_results_change_in_units_of_their_stored_u() -> Result<()> {
    let (lime, u) = ([30.0, f64::NAN, 30.0], [0.05, 0.05, 0.0]);
    let mut table = Columns::new(3);
    table.push("CaO_percent", Column::Numbers(Numbers::new(&lime)))?;
    table.push("CaO_percent_u", Column::Numbers(Numbers::new(&u)))?;
    let new = example()?.with_flux_loss("F-1", Estimate::new(0.0062, 0.0003)?)?;
    let changed = Recorrection::new(example()?, new)?.run(&table, &RunOptions::default())?;
    let of = |part: &str, row| changed.column(&format!("CaO_percent_{part}")).unwrap().get(row);
    assert_eq!(of("change_per_u", 0), of("change", 0).map(|change| change / 0.05));
    assert_eq!([of("old", 1), of("change_per_u", 2)], [None, None]);
    assert!(of("change", 2).is_some());
    let codes = [(0, "recipe.estimated"), (1, "recipe.version-unknown"), (2, "recipe.estimated")];
    assert_eq!(said(&changed), codes);
    assert!(changed.notes().is_empty(), "both columns are read: {:?}", changed.notes());
    Ok(())
}

/// Two runs of one table, in which an id stands twice, differ in nothing.
#[test]
fn doubled_ids_in_the_same_order_are_the_same_rows() -> Result<()> {
    let lime = [30.0, 31.0, 32.0];
    let table = |ids: [Option<&'static str>; 3]| -> Result<Columns<'static>> {
        let mut table = Columns::new(3);
        table.push("bead", Column::Words(Words::of(ids)))?;
        Ok(table)
    };
    let run = |old: [Option<&'static str>; 3], new: [Option<&'static str>; 3]| {
        let (mut old, mut new) = (table(old)?, table(new)?);
        old.push("CaO_percent", Column::Numbers(Numbers::new(&lime)))?;
        new.push("CaO_percent", Column::Numbers(Numbers::new(&lime)))?;
        Comparison::new().run(&old, &new).map(|found| said(found.numbers()))
    };
    let (b1, b2) = (Some("B-1"), Some("B-2"));
    assert_eq!(run([b1, b2, b1], [b1, b2, b1])?, []);
    assert_eq!(run([b1, b2, None], [b1, b2, None])?.len(), 2, "a row without an id is nobody's");
    let apart = run([b1, b2, b1], [b1, b1, b2])?;
    assert!(apart.iter().all(|(_, code)| *code == "bead.doubled") && apart.len() == 4, "{apart:?}");
    Ok(())
}

/// A field that may be left out may be left out with the column of its uncertainty.
#[test]
fn an_optional_field_needs_no_column_of_uncertainties() -> Result<()> {
    let table = example_table(ROWS)?;
    let moisture = Field::new(Quantity::Moisture).optional().spread(Spread::Column("u_moisture".to_owned()))?;
    let correction = example()?.field(moisture)?;
    assert_eq!(correction.run(&table.columns()?, &RunOptions::default())?.refused(), 0);
    let there = [0.5; ROWS];
    let with_moisture = with(&table.columns()?, vec![("moisture_percent", Column::Numbers(Numbers::new(&there)))])?;
    let refused = correction.run(&with_moisture, &RunOptions::default()).unwrap_err();
    assert_eq!(refused.code().word(), "table.header");
    Ok(())
}
