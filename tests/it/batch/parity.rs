//! A row of a table has the bits of a bead alone.

use std::collections::HashSet;

use beadchem::Result;
use beadchem::batch::{
    Bits, Column, Columns, Corrected, Correction, Field, FusionLoss, Numbers, Quantity, RunOptions, Spread,
    Uncertainty, Words, example,
};
use beadchem::charge::{Charge, FluxLot, Sample};
use beadchem::composition::Unit;
use beadchem::matrix::LineReading;
use beadchem::method::{Measurement, Method};
use beadchem::numeric::InstructionSet;
use beadchem::substance::Weights;
use beadchem::uncertainty::Estimate;

const LINES: [&str; 3] = ["Ca Ka", "Mg Ka", "Si Ka"];
const ROWS: usize = 203;

fn second_lot() -> Result<FluxLot> {
    let blend = [("Li2B4O7", 0.5), ("LiBO2", 0.5)];
    FluxLot::new("F-2", blend, "1050 C, 18 min", Estimate::new(0.0062, 0.0003)?)?.with_blank("SiO2", 1e-4)
}

fn correction() -> Result<Correction> {
    example()?.lot(second_lot()?)
}

/// Beads of two lots, catch weights, some lines not measured.
struct Beads {
    numbers: Vec<(String, Vec<f64>)>,
    silicon: Vec<u8>,
    lots: Vec<&'static str>,
}

impl Beads {
    fn new(rows: usize) -> Self {
        let column = |middle: f64, period: usize| -> Vec<f64> {
            (0..rows).map(|row| middle * (1.0 + 1e-3 * (row % period) as f64)).collect()
        };
        let numbers = vec![
            ("sample_g".to_owned(), column(0.795, 17)),
            ("flux_g".to_owned(), column(7.95, 23)),
            ("Ca_Ka_cps".to_owned(), column(13_000.0, 29)),
            ("Mg_Ka_cps".to_owned(), column(1_650.0, 31)),
            ("Si_Ka_cps".to_owned(), column(390.0, 37)),
        ];
        let mut silicon = vec![0_u8; rows.div_ceil(8)];
        for row in (0..rows).filter(|row| row % 11 != 3) {
            silicon[row / 8] |= 1 << (row % 8);
        }
        Self { numbers, silicon, lots: (0..rows).map(|row| if row % 3 == 0 { "F-2" } else { "F-1" }).collect() }
    }

    fn rows(&self) -> usize {
        self.lots.len()
    }

    fn columns(&self) -> Result<Columns<'_>> {
        let mut table = Columns::new(self.rows());
        for (name, values) in &self.numbers {
            let mut numbers = Numbers::new(values);
            if name == "Si_Ka_cps" {
                numbers = numbers.valid(Bits::new(&self.silicon, 0, self.rows())?);
            }
            table.push(name.as_str(), Column::Numbers(numbers))?;
        }
        table.push("flux_lot", Column::Words(Words::of(self.lots.iter().map(|lot| Some(*lot)))))?;
        Ok(table)
    }

    fn permuted(&self, order: &[usize]) -> Self {
        let mut silicon = vec![0_u8; self.rows().div_ceil(8)];
        for (row, &from) in order.iter().enumerate() {
            silicon[row / 8] |= (self.silicon[from / 8] >> (from % 8) & 1) << (row % 8);
        }
        let pick = |values: &Vec<f64>| order.iter().map(|&from| values[from]).collect();
        Self {
            numbers: self.numbers.iter().map(|(name, values)| (name.clone(), pick(values))).collect(),
            silicon,
            lots: order.iter().map(|&from| self.lots[from]).collect(),
        }
    }

    /// The results of a row by the objects of one bead, in %.
    fn alone(&self, row: usize) -> Result<Vec<Option<f64>>> {
        let number = |name: &str| self.numbers.iter().find(|(held, _)| held == name).unwrap().1[row];
        let lot = match self.lots[row] {
            "F-2" => second_lot()?,
            _ => example()?.lots()[0].clone(),
        };
        let sample = Sample::dried(Estimate::new(number("sample_g"), 0.0001)?)?;
        let charge = Charge::new(sample, lot.weigh_g(Estimate::new(number("flux_g"), 0.0001)?)?)?;
        let melt = charge.fuse_with_loss(&Weights::ciaaw_2024(), Estimate::new(0.463, 0.001)?)?;
        let mut measurement = Measurement::new("B");
        for line in LINES {
            if line != "Si Ka" || row % 11 != 3 {
                let cps = number(&format!("{}_cps", line.replace(' ', "_")));
                measurement = measurement.reading(LineReading::net(line, cps)?)?;
            }
        }
        let assay = Method::template()?.assay(&melt, &measurement)?;
        let of = |species: &str| assay.value(species).ok().map(|value| Unit::Percent.written(value));
        Ok(["CaO", "MgO", "SiO2"].map(of).to_vec())
    }
}

/// Every number by its bits, nulls included, and every code.
fn bits(corrected: &Corrected) -> (Vec<u64>, Vec<u16>) {
    (corrected.numbers().iter().map(|value| value.to_bits()).collect(), corrected.codes().to_vec())
}

#[test]
fn a_row_has_the_bits_of_its_bead_alone() -> Result<()> {
    let beads = Beads::new(ROWS);
    let corrected = correction()?.run(&beads.columns()?, &RunOptions::default())?;
    assert_eq!((corrected.rows(), corrected.refused()), (ROWS, 0));
    for row in 0..ROWS {
        let alone = beads.alone(row)?;
        for (species, expected) in ["CaO", "MgO", "SiO2"].iter().zip(alone) {
            let found = corrected.column(&format!("{species}_percent")).unwrap().get(row);
            assert_eq!(
                found.map(f64::to_bits),
                expected.map(f64::to_bits),
                "row {row}, {species} {found:?} {expected:?}"
            );
        }
    }
    Ok(())
}

#[test]
fn nothing_about_the_run_changes_a_bit() -> Result<()> {
    let beads = Beads::new(ROWS);
    let (correction, table) = (correction()?, beads.columns()?);
    let expected = bits(&correction.run(&table, &RunOptions::default())?);
    for set in InstructionSet::available() {
        for threads in [1, 2, 5] {
            for chunk_rows in [1, 7, 64, 4096] {
                let options = RunOptions { set, threads, chunk_rows, ..RunOptions::default() };
                let found = bits(&correction.run(&table, &options)?);
                assert_eq!(found, expected, "{}, {threads} threads, chunks of {chunk_rows}", set.word());
            }
        }
    }
    Ok(())
}

#[test]
fn the_order_of_rows_changes_no_row() -> Result<()> {
    let beads = Beads::new(ROWS);
    let correction = correction()?;
    let straight = correction.run(&beads.columns()?, &RunOptions::default())?;
    // 75 and 203 have no common factor
    let order: Vec<usize> = (0..ROWS).map(|row| row * 75 % ROWS).collect();
    assert_eq!(order.iter().collect::<HashSet<_>>().len(), ROWS);
    let permuted = correction.run(&beads.permuted(&order).columns()?, &RunOptions::default())?;
    for column in 0..straight.columns().len() {
        for (row, &from) in order.iter().enumerate() {
            let found = permuted.numbers()[column * ROWS + row].to_bits();
            assert_eq!(found, straight.numbers()[column * ROWS + from].to_bits(), "column {column}, row {row}");
        }
    }
    Ok(())
}

#[test]
fn a_part_of_a_table_has_the_rows_of_the_whole() -> Result<()> {
    let beads = Beads::new(ROWS);
    let correction = correction()?;
    let whole = correction.run(&beads.columns()?, &RunOptions::default())?;
    for size in [1, 7, 100] {
        for start in (0..ROWS).step_by(size) {
            let order: Vec<usize> = (start..ROWS.min(start + size)).collect();
            let part = correction.run(&beads.permuted(&order).columns()?, &RunOptions::default())?;
            for column in 0..whole.columns().len() {
                for (row, &from) in order.iter().enumerate() {
                    let found = part.numbers()[column * order.len() + row].to_bits();
                    assert_eq!(found, whole.numbers()[column * ROWS + from].to_bits());
                }
            }
        }
    }
    Ok(())
}

#[test]
fn room_that_is_used_again_changes_nothing() -> Result<()> {
    let correction = correction()?;
    let mut corrected = Corrected::default();
    for rows in [ROWS, 9, 0, 1, ROWS] {
        let beads = Beads::new(rows);
        correction.run_into(&beads.columns()?, &RunOptions::default(), &mut corrected)?;
        let fresh = correction.run(&beads.columns()?, &RunOptions::default())?;
        assert_eq!(bits(&corrected), bits(&fresh));
        assert_eq!((corrected.rows(), corrected.findings()), (rows, fresh.findings()));
    }
    Ok(())
}

#[test]
fn a_stored_correction_gives_the_same_bits() -> Result<()> {
    let correction = correction()?.fusion(FusionLoss::AsOnIgnition)?.loss_temperature(1000.0)?.counting(40.0)?;
    let stored: Correction = beadchem::document::from_json(&beadchem::document::to_json(&correction)?)?;
    assert_eq!(stored, correction);
    let beads = Beads::new(ROWS);
    let (one, two) = (
        correction.run(&beads.columns()?, &RunOptions::default())?,
        stored.run(&beads.columns()?, &RunOptions::default())?,
    );
    assert_eq!(bits(&one), bits(&two));
    Ok(())
}

/// The way through contributions and the way through derivatives add up in different orders.
const ORDER: f64 = 1e-10;

#[test]
fn uncertainties_and_covariances_are_those_of_the_bead_alone() -> Result<()> {
    let (mass_u, seconds) = (0.0002, 40.0);
    // the charge to go by says nothing of the masses; the columns do
    let blend = [("Li2B4O7", 0.5), ("LiBO2", 0.5)];
    let lot = FluxLot::new("F-1", blend, "1050 C, 18 min", Estimate::new(0.004, 0.0003)?)?;
    let recipe = Charge::new(Sample::dried(0.8)?, lot.weigh_g(8.0)?)?;
    let mut correction = Correction::new(Method::template()?, recipe)?.fusion(FusionLoss::Fixed(0.463.into()))?;
    for quantity in [Quantity::SampleMass, Quantity::FluxMass] {
        correction = correction.field(Field::new(quantity).spread(Spread::Fixed(mass_u))?)?;
    }
    correction = correction.counting(seconds)?;
    let beads = Beads::new(40);
    let mut table = beads.columns()?;
    let options = RunOptions { uncertainty: Uncertainty::Covariance, ..RunOptions::default() };
    let refused = correction.run(&table, &options)?;
    assert!(refused.refused() > 0, "F-2 is no lot of this correction");
    table = Columns::new(40);
    for (name, values) in &beads.numbers {
        table.push(name.as_str(), Column::Numbers(Numbers::new(values)))?;
    }
    let found = correction.run(&table, &options)?;
    for row in 0..40 {
        let number = |name: &str| beads.numbers.iter().find(|(held, _)| held == name).unwrap().1[row];
        let weighed = |name: &str| Estimate::new(number(name), mass_u);
        let charge = Charge::new(Sample::dried(weighed("sample_g")?)?, lot.weigh_g(weighed("flux_g")?)?)?;
        let melt = charge.fuse_with_loss(&Weights::ciaaw_2024(), 0.463)?;
        let mut measurement = Measurement::new("B");
        for line in LINES {
            let cps = number(&format!("{}_cps", line.replace(' ', "_")));
            measurement = measurement.reading(LineReading::net(line, Estimate::new(cps, (cps / seconds).sqrt())?)?)?;
        }
        let assay = Method::template()?.assay(&melt, &measurement)?;
        let percent = |fraction: f64| Unit::Percent.written(fraction);
        for (place, one) in ["CaO", "MgO", "SiO2"].iter().enumerate() {
            let u = found.column(&format!("{one}_percent_u")).unwrap().get(row).unwrap();
            assert!((u / percent(assay.u(one)?) - 1.0).abs() < ORDER, "row {row}, u of {one}");
            for other in &["CaO", "MgO", "SiO2"][place..] {
                let held = found.column(&format!("{one}_{other}_covariance")).unwrap().get(row).unwrap();
                let expected = percent(percent(assay.covariance(one, other)?));
                let size = percent(assay.u(one)?) * percent(assay.u(other)?);
                assert!((held - expected).abs() < ORDER * size, "row {row}, covariance of {one} and {other}");
            }
        }
    }
    Ok(())
}

/// A correction keeps what it compiled from table to table: what one table was refused for, or said of, is not carried to the next.
#[test]
fn a_correction_that_ran_other_tables_gives_what_a_fresh_one_gives() -> Result<()> {
    let beads = Beads::new(9);
    let numbers = || -> Result<Columns<'_>> {
        let mut table = Columns::new(beads.rows());
        for (name, values) in &beads.numbers {
            table.push(name.as_str(), Column::Numbers(Numbers::new(values)))?;
        }
        Ok(table)
    };
    let mut unnamed = numbers()?;
    unnamed.push("flux_lot", Column::Words(Words::of((0..beads.rows()).map(|_| None))))?;
    // every row names a lot and one lacks a line; none names a lot; the column is not there
    let tables = [beads.columns()?, unnamed, numbers()?];
    let used = correction()?;
    let mut refused = Vec::new();
    for turn in [0, 1, 2, 2, 1, 0, 1, 2] {
        let table = &tables[turn];
        let (again, fresh) =
            (used.run(table, &RunOptions::default())?, correction()?.run(table, &RunOptions::default())?);
        assert_eq!(bits(&again), bits(&fresh), "table {turn}");
        // numbers that are not there are no numbers, which differ from each other
        let said = |done: &Corrected| format!("{:?} {:?}", done.notes(), done.findings());
        assert_eq!(said(&again), said(&fresh), "table {turn}");
        refused.push(again.refused());
    }
    assert_eq!(refused, [0, 9, 0, 0, 9, 0, 9, 0]);
    Ok(())
}
