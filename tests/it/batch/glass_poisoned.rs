//! One bad row among readings of the glass: named, null where it must be, and no other row moves.

use beadchem::Result;
use beadchem::batch::{
    Bits, Column, Columns, Corrected, Correction, Field, Numbers, Quantity, RunOptions, Spread, Uncertainty, Words,
};
use beadchem::charge::{Charge, FluxLot, Sample};
use beadchem::code::Severity;
use beadchem::rules::{FluxLossLimit, Rules, TotalLimit};
use beadchem::uncertainty::Estimate;

const ROWS: usize = 40;
const BAD: usize = 21;

fn correction() -> Result<Correction> {
    let lot = |name: &str| {
        let blend = [("Li2B4O7", 0.5), ("LiBO2", 0.5)];
        FluxLot::new(name, blend, "1050 C, 18 min", Estimate::new(0.004, 0.0003)?)?.with_blank("SiO2", 1e-4)
    };
    let sample = Sample::dried(Estimate::new(0.8, 1e-4)?)?;
    let recipe = Charge::new(sample, lot("F-1")?.weigh_g(Estimate::new(8.0, 1e-4)?)?)?;
    let rules = Rules::new("house", "1")
        .total(TotalLimit { low: 0.9, high: 1.1, k: 3.0 })?
        .flux_loss(FluxLossLimit { highest: 0.05, k: 3.0 })?
        .bead_mass(4.0)?;
    let mut correction = Correction::of_glass(["CaO", "MgO", "SiO2"], recipe)?.lot(lot("F-2")?)?.rules(rules);
    for quantity in [Quantity::LossOnFusion, Quantity::LossOnIgnition, Quantity::FluxLoss] {
        correction = correction.field(Field::new(quantity).optional().spread(Spread::Fixed(0.05))?)?;
    }
    correction.field(Field::new(Quantity::BeadMass).optional().spread(Spread::Fixed(0.0003))?)
}

#[derive(Clone)]
struct Table {
    numbers: Vec<(&'static str, Vec<Option<f64>>)>,
    words: Vec<(&'static str, Vec<Option<String>>)>,
}

impl Table {
    fn clean() -> Self {
        let wave = |middle: f64, period: usize| -> Vec<Option<f64>> {
            (0..ROWS).map(|row| Some(middle * (1.0 + 1e-3 * (row % period) as f64))).collect()
        };
        let words = |word: &dyn Fn(usize) -> String| (0..ROWS).map(|row| Some(word(row))).collect();
        Self {
            numbers: vec![
                ("sample_g", wave(0.8, 17)),
                ("flux_g", wave(8.0, 23)),
                ("loss_on_fusion_percent", wave(45.0, 13)),
                ("loss_on_ignition_percent", wave(45.0, 13)),
                ("flux_loss_percent", vec![None; ROWS]),
                ("bead_g", vec![None; ROWS]),
                ("CaO_glass_percent", wave(3.1, 29)),
                ("MgO_glass_percent", wave(2.0, 31)),
            ],
            words: vec![
                ("bead", words(&|row| format!("B-{row}"))),
                ("weighed", words(&|_| "dried".to_owned())),
                ("flux_lot", words(&|row| format!("F-{}", 1 + row % 2))),
                ("SiO2_glass_percent", words(&|row| format!("0.1{}", row % 10))),
            ],
        }
    }

    fn put(&mut self, name: &str, value: Option<f64>) {
        self.numbers.iter_mut().find(|(held, _)| *held == name).unwrap().1[BAD] = value;
    }

    fn write(&mut self, name: &str, word: Option<&str>) {
        self.words.iter_mut().find(|(held, _)| *held == name).unwrap().1[BAD] = word.map(str::to_owned);
    }

    fn run(&self, correction: &Correction) -> Result<Corrected> {
        // under a null lies something that must not be read
        let values: Vec<Vec<f64>> =
            self.numbers.iter().map(|(_, cells)| cells.iter().map(|cell| cell.unwrap_or(-777.0)).collect()).collect();
        let there = |cells: &Vec<Option<f64>>| {
            let mut bytes = vec![0_u8; ROWS.div_ceil(8)];
            for (row, _) in cells.iter().enumerate().filter(|(_, cell)| cell.is_some()) {
                bytes[row / 8] |= 1 << (row % 8);
            }
            bytes
        };
        let bytes: Vec<Vec<u8>> = self.numbers.iter().map(|(_, cells)| there(cells)).collect();
        let mut table = Columns::new(ROWS);
        for ((name, _), (values, bytes)) in self.numbers.iter().zip(values.iter().zip(&bytes)) {
            table.push(*name, Column::Numbers(Numbers::new(values).valid(Bits::new(bytes, 0, ROWS)?)))?;
        }
        for (name, words) in &self.words {
            table.push(*name, Column::Words(Words::of(words.iter().map(Option::as_deref))))?;
        }
        correction.run(&table, &RunOptions { uncertainty: Uncertainty::Variance, ..RunOptions::default() })
    }
}

/// A way to spoil a row, and the code it deserves.
type Fault = (&'static str, fn(&mut Table), &'static str);

const FAULTS: [Fault; 29] = [
    ("mass of nothing", |table| table.put("sample_g", Some(0.0)), "mass.not-positive"),
    ("mass below zero", |table| table.put("flux_g", Some(-8.0)), "mass.not-positive"),
    ("mass not there", |table| table.put("flux_g", None), "mass.missing"),
    ("mass not a number", |table| table.put("sample_g", Some(f64::NAN)), "mass.missing"),
    ("milligrams for grams", |table| table.put("sample_g", Some(800.0)), "mass.out-of-range"),
    (
        "sample and flux swapped",
        |table| {
            table.put("sample_g", Some(8.0));
            table.put("flux_g", Some(0.8));
        },
        "flux-ratio.unusual",
    ),
    ("reading not a number", |table| table.put("CaO_glass_percent", Some(f64::NAN)), "number.not-finite"),
    ("reading infinite", |table| table.put("CaO_glass_percent", Some(f64::INFINITY)), "number.not-finite"),
    ("mg/kg among per cent", |table| table.put("MgO_glass_percent", Some(20_000.0)), "number.out-of-range"),
    ("far below nothing", |table| table.put("MgO_glass_percent", Some(-51.0)), "number.out-of-range"),
    ("reading below zero", |table| table.put("MgO_glass_percent", Some(-0.3)), "reading.negative"),
    ("less than the flux brings", |table| table.write("SiO2_glass_percent", Some("0.001")), "reading.negative"),
    ("more than the sample", |table| table.put("CaO_glass_percent", Some(12.0)), "result.above-whole"),
    ("a limit of more than the glass", |table| table.write("SiO2_glass_percent", Some("<200")), "limit.read"),
    ("a limit of nothing", |table| table.write("SiO2_glass_percent", Some("<0")), "limit.read"),
    ("below a limit", |table| table.write("SiO2_glass_percent", Some("<0.05")), "limit.read"),
    ("below a limit under the blank", |table| table.write("SiO2_glass_percent", Some("<0.001")), "limit.under-blank"),
    ("no number", |table| table.write("SiO2_glass_percent", Some("n.a.")), "number.unreadable"),
    ("marks that say nothing", |table| table.write("SiO2_glass_percent", Some("1.234,5")), "number.ambiguous"),
    ("no loss on fusion", |table| table.put("loss_on_fusion_percent", None), "charge.incomplete"),
    ("loss of more than all", |table| table.put("loss_on_fusion_percent", Some(127.0)), "number.out-of-range"),
    ("loss not a number", |table| table.put("loss_on_fusion_percent", Some(f64::NAN)), "number.not-finite"),
    (
        "a loss the total speaks against",
        |table| table.put("loss_on_ignition_percent", Some(12.0)),
        "closure.outside-window",
    ),
    ("a lot nobody knows", |table| table.write("flux_lot", Some("F-9")), "flux.lot-unknown"),
    ("no lot", |table| table.write("flux_lot", None), "flux.lot-unknown"),
    ("no basis", |table| table.write("weighed", Some("")), "basis.missing"),
    ("flux loss above the limit", |table| table.put("flux_loss_percent", Some(8.2)), "flux.loss-outside"),
    ("bead heavier than what went in", |table| table.put("bead_g", Some(9.41)), "bead-mass.impossible"),
    ("one id twice", |table| table.write("bead", Some("B-3")), "bead.doubled"),
];

#[test]
fn every_fault_is_named_and_moves_no_other_row() -> Result<()> {
    let correction = correction()?;
    let clean = Table::clean().run(&correction)?;
    assert_eq!(clean.findings().first(), None, "the clean table raises nothing");
    for (name, spoil, code) in FAULTS {
        let mut table = Table::clean();
        spoil(&mut table);
        let found = table.run(&correction)?;
        let of_row = found.findings().iter().filter(|finding| finding.row == BAD as u64);
        let said: Vec<_> = of_row.map(|finding| (finding.code.word(), finding.text.as_str())).collect();
        assert!(said.iter().any(|(held, text)| *held == code && text.len() > 20), "{name}: {said:?}");
        let is_error = found
            .findings()
            .iter()
            .any(|finding| finding.row == BAD as u64 && finding.code.severity() == Severity::Error);
        let there = found.column("CaO_percent").unwrap().get(BAD);
        assert_eq!(there.is_none(), is_error, "{name}: an error leaves nulls, a warning leaves numbers");
        assert!(there.is_none_or(f64::is_finite), "{name}: never a silent NaN");
        let others = (0..ROWS).filter(|row| *row != BAD && (code != "bead.doubled" || *row != 3));
        for row in others {
            assert_eq!(found.codes()[row], 0, "{name}, row {row}");
            for column in 0..clean.columns().len() {
                let [one, two] = [&clean, &found].map(|held| held.numbers()[column * ROWS + row].to_bits());
                assert_eq!(one, two, "{name}, row {row}, column {}", clean.columns()[column].name);
            }
        }
    }
    Ok(())
}

/// With one reading less the squares add up in another order.
const ORDER: f64 = 1e-12;

#[test]
fn a_reading_that_is_not_there_leaves_its_own_result_empty() -> Result<()> {
    let mut table = Table::clean();
    table.put("CaO_glass_percent", None);
    let (correction, clean) = (correction()?, Table::clean());
    let [found, whole] = [&table, &clean].map(|table| table.run(&correction).unwrap());
    for name in ["CaO_percent", "CaO_percent_u"] {
        assert_eq!(found.column(name).unwrap().get(BAD), None, "{name}");
    }
    for name in ["MgO_percent_u", "SiO2_percent_u"] {
        let [one, two] = [&found, &whole].map(|held| held.column(name).unwrap().get(BAD).unwrap());
        assert!((one / two - 1.0).abs() < ORDER, "{name}");
    }
    for name in ["MgO_percent", "SiO2_percent", "dilution", "predicted_bead_g"] {
        let [one, two] = [&found, &whole].map(|held| held.column(name).unwrap().get(BAD).map(f64::to_bits));
        assert!(one.is_some() && one == two, "{name}");
    }
    Ok(())
}
