//! Two tables of results held against each other: what is counted, named and traced to inputs and versions.

use beadchem::Result;
use beadchem::batch::{Bits, Column, Columns, Comparison, Numbers, SpecificationLimit, Words, example};
use beadchem::uncertainty::Estimate;

const LIME: &str = "CaO_percent";

/// A table of beads with lime, its u, a mass and a lot; a lime of NaN is null.
struct Beads {
    ids: Vec<Option<&'static str>>,
    lime: Vec<f64>,
    mass: Vec<f64>,
    lots: Vec<&'static str>,
    bits: Vec<u8>,
    u: Vec<f64>,
}

impl Beads {
    fn new(rows: &[(&'static str, f64, f64, &'static str)]) -> Self {
        let mut bits = vec![0_u8; rows.len().div_ceil(8)];
        for (place, _) in rows.iter().enumerate().filter(|(_, row)| !row.1.is_nan()) {
            bits[place / 8] |= 1 << (place % 8);
        }
        Self {
            ids: rows.iter().map(|row| Some(row.0).filter(|id| !id.is_empty())).collect(),
            lime: rows.iter().map(|row| if row.1.is_nan() { 99.0 } else { row.1 }).collect(),
            mass: rows.iter().map(|row| row.2).collect(),
            lots: rows.iter().map(|row| row.3).collect(),
            u: vec![0.05; rows.len()],
            bits,
        }
    }

    fn columns(&self) -> Result<Columns<'_>> {
        let mut table = Columns::new(self.ids.len());
        table.push("bead", Column::Words(Words::of(self.ids.iter().copied())))?;
        let lime = Numbers::new(&self.lime).valid(Bits::new(&self.bits, 0, self.ids.len())?);
        table.push(LIME, Column::Numbers(lime))?;
        table.push("CaO_percent_u", Column::Numbers(Numbers::new(&self.u)))?;
        table.push("sample_g", Column::Numbers(Numbers::new(&self.mass)))?;
        table.push("flux_lot", Column::Words(Words::of(self.lots.iter().map(|lot| Some(*lot)))))?;
        Ok(table)
    }
}

fn old() -> Beads {
    Beads::new(&[
        ("B-1", 30.0, 0.80, "F-1"),
        ("B-2", 31.0, 0.80, "F-1"),
        ("B-3", 29.0, 0.81, "F-2"),
        ("B-4", f64::NAN, 0.80, "F-1"),
        ("B-5", 28.0, 0.80, "F-2"),
    ])
}

/// The same beads in another order: B-2 with another mass, B-3 moved alone, B-4 came, B-5 is gone, B-6 is new.
fn new() -> Beads {
    Beads::new(&[
        ("B-6", 27.0, 0.80, "F-1"),
        ("B-4", 30.2, 0.80, "F-1"),
        ("B-3", 29.5, 0.81, "F-2"),
        ("B-2", 30.4, 0.82, "F-1"),
        ("B-1", 30.0, 0.80, "F-1"),
    ])
}

#[test]
fn rows_are_joined_by_their_ids_and_counted() -> Result<()> {
    let found = Comparison::new().run(&old().columns()?, &new().columns()?)?;
    let places = [(0, 4), (1, 3), (2, 2), (3, 1)].map(|(one, other)| [Some(one), Some(other)]);
    assert_eq!(found.rows()[..4], places);
    assert_eq!(found.rows()[4..], [[Some(4), None], [None, Some(0)]]);
    assert_eq!((found.joined_by(), found.rows_in_one(), found.is_same()), (Some("bead"), [1, 1], false));
    let [lime] = found.differences() else { panic!("one result: {:?}", found.differences()) };
    assert_eq!((lime.compared, lime.moved, lime.appeared, lime.gone), (3, 2, 1, 0));
    let change = 30.4 - 31.0;
    assert_eq!((lime.largest, lime.largest_row, lime.largest_per_u), (change, Some(1), Some(change / 0.05)));
    assert_eq!((&lime.with_inputs, lime.unexplained), (&vec![("sample_g".to_owned(), 1)], 1));
    let of = |part: &str, row| found.numbers().column(&format!("{LIME}_{part}")).unwrap().get(row);
    assert_eq!([of("old", 1), of("new", 1), of("change", 1)], [Some(31.0), Some(30.4), Some(change)]);
    assert_eq!([of("old", 3), of("new", 3), of("change", 3), of("change_per_u", 3)], [None, Some(30.2), None, None]);
    assert_eq!([of("old", 4), of("new", 5)], [Some(28.0), Some(27.0)], "rows without a partner keep what they have");
    let moved: Vec<_> = (0..6).map(|row| found.moved(row)).collect();
    assert_eq!(moved, [None, Some(LIME), Some(LIME), Some(LIME), None, None]);
    assert_eq!([found.moved_with(0), found.moved_with(1), found.moved_with(2)], [None, Some("sample_g"), None]);
    let said: Vec<_> =
        found.numbers().findings().iter().map(|held| (held.row, held.code.word(), held.text.as_str())).collect();
    assert_eq!(
        said,
        [
            (4, "bead.unmatched", "B-5 is only in the old table."),
            (5, "bead.unmatched", "B-6 is only in the new table.")
        ]
    );
    Ok(())
}

#[test]
fn a_tolerance_is_the_largest_change_that_counts_as_none() -> Result<()> {
    let found = Comparison::new().tolerance(0.5)?.run(&old().columns()?, &new().columns()?)?;
    assert_eq!((found.differences()[0].moved, found.differences()[0].largest_row), (1, Some(1)));
    Ok(())
}

#[test]
fn a_limit_is_crossed_once_on_the_way_up_or_down() -> Result<()> {
    let limit = |high| SpecificationLimit { species: "CaO".to_owned(), low: None, high: Some(high) };
    let found = Comparison::new().limit(limit(30.5)).limit(limit(29.2)).run(&old().columns()?, &new().columns()?)?;
    let crossed: Vec<_> = found.crossings().collect();
    assert_eq!(crossed.iter().map(|(row, _)| *row).collect::<Vec<_>>(), [1, 2]);
    assert_eq!(crossed[0].1, "CaO was 31.0000 %, above the limit of at most 30.5 %, and is 30.4000 %, within.");
    assert_eq!(found.differences()[0].crossed, 2);
    let unknown = SpecificationLimit { species: "FeO".to_owned(), low: None, high: Some(1.0) };
    let refused = Comparison::new().limit(unknown).run(&old().columns()?, &new().columns()?).unwrap_err();
    assert_eq!(refused.code().word(), "species.unknown");
    Ok(())
}

#[test]
fn a_lot_that_changed_can_have_moved_only_the_rows_that_name_it() -> Result<()> {
    let before = example()?.provenance()?;
    let mut after = example()?.with_flux_loss("F-1", Estimate::new(0.0062, 0.0003)?)?.provenance()?;
    let lots: Vec<_> = before.changes(&after).into_iter().map(|change| change.what).collect();
    assert_eq!(lots, ["flux lot F-1"], "the digest of the whole says no more than that");
    after.library = "9.9.9".to_owned();
    let found = Comparison::new().provenance(&before, &after).run(&old().columns()?, &new().columns()?)?;
    let lime = &found.differences()[0];
    assert_eq!(lime.with_versions, [("library".to_owned(), 2), ("flux lot F-1".to_owned(), 1)]);
    assert_eq!(lime.unexplained, 0);
    assert_eq!([found.moved_with(1), found.moved_with(2)], [Some("sample_g, flux lot F-1, library"), Some("library")]);
    assert_eq!(found.moved_with(0), None, "a row that did not move is moved by nothing");
    Ok(())
}

#[test]
fn settings_that_are_neither_method_nor_lot_are_named_as_such() -> Result<()> {
    let before = example()?.provenance()?;
    let after = example()?.counted_as("Mn3O4")?.provenance()?;
    let changes = before.changes(&after);
    assert_eq!(changes.iter().map(|change| change.what.as_str()).collect::<Vec<_>>(), ["other settings"]);
    Ok(())
}

#[test]
fn an_id_that_stands_twice_or_is_missing_joins_nothing() -> Result<()> {
    let twice = Beads::new(&[("B-1", 30.0, 0.8, "F-1"), ("B-1", 30.1, 0.8, "F-1"), ("", 30.0, 0.8, "F-1")]);
    let once = Beads::new(&[("B-1", 33.0, 0.8, "F-1"), ("", 33.0, 0.8, "F-1")]);
    for (one, other) in [(&twice, &once), (&once, &twice)] {
        let found = Comparison::new().run(&one.columns()?, &other.columns()?)?;
        assert_eq!((found.differences()[0].compared, found.rows().len()), (0, 5));
        let codes: Vec<_> = found.numbers().findings().iter().map(|held| held.code.word()).collect();
        assert_eq!(codes.iter().filter(|code| **code == "bead.doubled").count(), 3);
        assert_eq!(codes.iter().filter(|code| **code == "bead.id-missing").count(), 2);
    }
    Ok(())
}

#[test]
fn without_ids_rows_are_taken_in_their_order_and_must_be_as_many() -> Result<()> {
    let column = |cells: &'static [f64]| -> Result<Columns<'static>> {
        let mut table = Columns::new(cells.len());
        table.push("total_percent", Column::Numbers(Numbers::new(cells)))?;
        Ok(table)
    };
    let same = Comparison::new().run(&column(&[99.0, f64::NAN])?, &column(&[99.0, f64::NAN])?)?;
    assert!(same.is_same() && same.joined_by().is_none());
    let moved = Comparison::new().run(&column(&[99.0, 1.0])?, &column(&[f64::INFINITY, 1.0])?)?;
    assert_eq!((moved.differences()[0].moved, moved.differences()[0].largest), (1, f64::INFINITY));
    let refused = Comparison::new().run(&column(&[99.0])?, &column(&[99.0, 1.0])?).unwrap_err();
    assert!(refused.to_string().contains("name the column of their ids"), "{refused}");
    Ok(())
}

#[test]
fn a_result_that_only_one_table_has_is_a_difference() -> Result<()> {
    let (mut more, cells) = (Columns::new(1), [1.0]);
    more.push(LIME, Column::Numbers(Numbers::new(&cells)))?;
    let mut less = more.clone();
    more.push("note", Column::Words(Words::of([Some("by hand")])))?;
    let found = Comparison::new().run(&more, &less)?;
    assert!(found.is_same(), "a column that is no result is named, not counted");
    assert_eq!(found.columns_in_one()[0], ["note"]);
    less.push("MgO_as_received_percent", Column::Numbers(Numbers::new(&cells)))?;
    assert!(!Comparison::new().run(&more, &less)?.is_same());
    let usual = ["loss_on_ignition_percent", "FeO_external_percent", "SO3_known_percent"];
    for name in usual {
        let mut with = more.clone();
        with.push(name, Column::Numbers(Numbers::new(&cells)))?;
        assert_eq!(Comparison::new().run(&with, &with)?.differences().len(), 1, "{name} is an input");
    }
    Ok(())
}
