//! What is said of a run as a whole.

use beadchem::Result;
use beadchem::batch::{
    Bits, Column, Columns, Correction, Field, FusionLoss, Numbers, Quantity, RunOptions, Spread, example, example_table,
};
use beadchem::composition::Basis;

const LOSS: &str = "loss_on_ignition_percent";
const TOTAL: &str = "total_percent";

/// Notes on totals, and for each row whether it has one; nothing where there is no such column.
fn totals(correction: &Correction, table: &Columns<'_>) -> Result<(Vec<String>, Option<Vec<bool>>)> {
    let done = correction.run(table, &RunOptions::default())?;
    assert_eq!(done.refused(), 0, "{:?}", done.findings().first());
    let notes = done.notes().iter().filter(|note| note.code.word() == "total.not-made").map(|note| note.text.clone());
    let there = done.column(TOTAL).map(|total| (0..done.rows()).map(|row| total.get(row).is_some()).collect());
    Ok((notes.collect(), there))
}

/// The example's columns but for some.
fn without<'t>(table: &Columns<'t>, left_out: &str) -> Result<Columns<'t>> {
    let mut fewer = Columns::new(table.rows());
    for name in table.names().filter(|name| *name != left_out) {
        fewer.push(name.to_owned(), table.get(name).unwrap().clone())?;
    }
    Ok(fewer)
}

#[test]
fn a_table_without_losses_is_not_totalled_and_says_so() -> Result<()> {
    let table = example_table(9)?;
    let table = table.columns()?;
    let (notes, there) = totals(&example()?, &table)?;
    assert_eq!((notes, there), (Vec::new(), Some(vec![true; 9])));
    let (notes, there) = totals(&example()?, &without(&table, LOSS)?)?;
    assert_eq!(there, Some(vec![false; 9]));
    assert_eq!(
        notes,
        [
            "Rows without a loss on ignition have no total: total_percent is null. Is the column loss_on_ignition_percent missing, \
          or empty there?"
        ]
    );
    let named = example()?.field(Field::new(Quantity::LossOnIgnition).named("loi").optional())?;
    let (notes, _) = totals(&named, &table)?;
    assert!(notes.len() == 1 && notes[0].contains("column loi missing"), "{notes:?}");
    Ok(())
}

#[test]
fn rows_without_a_loss_among_others_are_told_of_once() -> Result<()> {
    let table = example_table(9)?;
    let table = table.columns()?;
    let losses = [46.3; 9];
    let bits = [0b1110_1011_u8, 0b1]; // the third and the fifth are not there
    let mut gaps = without(&table, LOSS)?;
    gaps.push(LOSS, Column::Numbers(Numbers::new(&losses).valid(Bits::new(&bits, 0, 9)?)))?;
    let (notes, there) = totals(&example()?, &gaps)?;
    assert_eq!((notes.len(), there), (1, Some((0..9).map(|row| row != 2 && row != 4).collect())));
    Ok(())
}

#[test]
fn results_on_another_basis_say_why_they_have_no_total() -> Result<()> {
    let table = example_table(9)?;
    let mut table = table.columns()?;
    let moisture = [0.5; 9];
    table.push("moisture_percent", Column::Numbers(Numbers::new(&moisture)))?;
    let (notes, there) = totals(&example()?.on(Basis::AsReceived), &table)?;
    assert_eq!(there, None);
    assert_eq!(
        notes,
        ["Results as received are not totalled. A total wants results on the dried basis and their loss."]
    );
    Ok(())
}

#[test]
fn a_content_from_elsewhere_of_what_is_measured_is_named() -> Result<()> {
    let table = example_table(3)?;
    let mut table = table.columns()?;
    let (silica, phosphorus) = ([0.9; 3], [0.2; 3]);
    table.push("SiO2_external_percent", Column::Numbers(Numbers::new(&silica)))?;
    table.push("P2O5_external_percent", Column::Numbers(Numbers::new(&phosphorus)))?;
    let external = |species: &str| Field::new(Quantity::External(species.to_owned()));
    let correction = example()?.fusion(FusionLoss::AsOnIgnition)?.field(external("SiO2"))?.field(external("P2O5"))?;
    let found = correction.run(&table, &RunOptions::default())?;
    let said: Vec<_> = found.findings().iter().map(|held| (held.row, held.code.word(), held.text.as_str())).collect();
    let text = "SiO2 by table is not in the total: the bead gives SiO2 itself. Was another form meant, or is it there to compare?";
    assert_eq!(said, [0, 1, 2].map(|row| (row, "closure.measured-twice", text)));
    for row in 0..3 {
        let number = |name: &str| found.column(name).unwrap().get(row).unwrap();
        let loss = match table.get(LOSS) {
            Some(Column::Numbers(numbers)) => numbers.get(row).unwrap(),
            _ => panic!("the example has losses"),
        };
        let results = ["CaO_percent", "MgO_percent", "SiO2_percent"].map(number).iter().sum::<f64>();
        assert!((number(TOTAL) - results - loss - 0.2).abs() < 1e-9, "row {row}: counted once");
    }
    Ok(())
}

/// A line that is null in a row biases the others there: the row says so, in the words of a single bead.
#[test]
fn a_row_without_a_line_says_what_that_does_to_the_others() -> Result<()> {
    let table = example_table(9)?;
    let table = table.columns()?;
    let Some(Column::Numbers(calcium)) = table.get("Ca_Ka_cps") else { panic!("the example measures calcium") };
    let bits = [0b1111_1011_u8, 0b1];
    let mut gaps = without(&table, "Ca_Ka_cps")?;
    gaps.push("Ca_Ka_cps", Column::Numbers(Numbers::new(calcium.values()).valid(Bits::new(&bits, 0, 9)?)))?;
    let done = example()?.run(&gaps, &RunOptions::default())?;
    let told: Vec<_> = done.findings().iter().filter(|it| it.code.word() == "component.not-declared").collect();
    assert_eq!(told.iter().map(|it| it.row).collect::<Vec<_>>(), [2]);
    assert!(told[0].text.contains("CaO stays in the glass") && told[0].text.contains("would read"), "{}", told[0].text);
    let whole = example()?.run(&table, &RunOptions::default())?;
    let bias = |corrected: &beadchem::batch::Corrected| corrected.column("MgO_percent").unwrap().get(2).unwrap();
    let found = bias(&done) / bias(&whole) - 1.0;
    // the finding is made at the centroid, the row is near it
    assert!((found + told[0].value).abs() < 0.01 && found.abs() > 0.03, "{found} and {}", told[0].value);
    Ok(())
}

#[test]
fn with_several_lots_the_one_that_is_taken_is_named() -> Result<()> {
    let table = example_table(9)?;
    let notes = |correction: &Correction| -> Result<Vec<String>> {
        let done = correction.run(&table.columns()?, &RunOptions::default())?;
        let said = done.notes().iter().filter(|note| note.code.word() == "flux-lot.assumed");
        Ok(said.map(|note| note.text.clone()).collect())
    };
    assert!(notes(&example()?)?.is_empty());
    let lots = example()?.lot(beadchem::charge::FluxLot::new("F-2", [("Li2B4O7", 1.0)], "1050 C, 18 min", 0.005)?)?;
    let said = notes(&lots)?;
    let first = lots.lots()[0].name();
    assert!(said.len() == 1 && said[0].contains("F-2") && said[0].contains(&format!("to be of {first}")), "{said:?}");
    Ok(())
}

#[test]
fn a_loss_that_is_fixed_leaves_its_column_unread() -> Result<()> {
    let table = example_table(9)?;
    let (mut with, losses) = (table.columns()?, [150.0; 9]);
    with.push("loss_on_fusion_percent", Column::Numbers(Numbers::new(&losses)))?;
    let fixed = example()?.fusion(FusionLoss::Fixed(beadchem::uncertainty::Estimate::exact(0.463)?))?;
    let done = fixed.run(&with, &RunOptions::default())?;
    assert_eq!(done.refused(), 0);
    assert!(
        done.notes().iter().any(|note| note.text.contains("Not read: loss_on_fusion_percent")),
        "{:?}",
        done.notes()
    );
    Ok(())
}

#[test]
fn a_u_that_leaves_something_out_says_so() -> Result<()> {
    let table = example_table(9)?;
    let options = RunOptions { uncertainty: beadchem::batch::Uncertainty::Variance, ..RunOptions::default() };
    let unstated = |options: &RunOptions<'_>| -> Result<Vec<String>> {
        let done = example()?.run(&table.columns()?, options)?;
        let said = done.notes().iter().filter(|note| note.code.word() == "uncertainty.unstated");
        Ok(said.map(|note| note.text.clone()).collect())
    };
    assert!(unstated(&RunOptions::default())?.is_empty());
    let said = unstated(&options)?;
    assert!(said.len() == 1 && said[0].contains("Ca Ka net intensity"), "{said:?}");
    Ok(())
}

#[test]
fn an_empty_cell_of_u_is_counted_and_said() -> Result<()> {
    let table = example_table(9)?;
    let (u, mut valid) = ([0.5; 9], [u8::MAX; 2]);
    valid[0] &= !0b10_0100;
    let field = Field::new(Quantity::Intensity("Ca Ka".to_owned())).spread(Spread::Column("calcium_u".to_owned()))?;
    let options = RunOptions { uncertainty: beadchem::batch::Uncertainty::Variance, ..RunOptions::default() };
    for (bytes, empty) in [(Some(&valid[..]), true), (None, false)] {
        let mut columns = table.columns()?;
        let mut numbers = Numbers::new(&u);
        if let Some(bytes) = bytes {
            numbers = numbers.valid(Bits::new(bytes, 0, 9)?);
        }
        columns.push("calcium_u", Column::Numbers(numbers))?;
        let done = example()?.field(field.clone())?.run(&columns, &options)?;
        let said = done.notes().iter().find(|note| note.text.contains("`calcium_u` is empty in 2 of 9 rows"));
        assert_eq!(said.is_some(), empty, "{:?}", done.notes());
        assert!(said.is_none_or(|note| note.value == Some(2.0) && note.code.word() == "uncertainty.unstated"));
    }
    Ok(())
}
