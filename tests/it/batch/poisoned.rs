//! One bad row never stops a table, never moves another row, and is named. The faults and the codes they deserve are those
//! of common practice at the balance, the furnace and the spectrometer.

use beadchem::Result;
use beadchem::batch::{
    Bits, Column, Columns, Corrected, Correction, Field, FusionLoss, Numbers, Quantity, RunOptions, Spread, Words,
};
use beadchem::charge::{Charge, FluxLot, Sample};
use beadchem::composition::Basis;
use beadchem::matrix::{Calibration, CoefficientSet, Conditions, Derivation, Influence, Label};
use beadchem::method::Method;
use beadchem::rules::{ExpectedLoss, FluxLossLimit, Rules, TotalLimit};
use beadchem::uncertainty::Estimate;

/// Marble with some iron: invented coefficients of the usual size.
fn method() -> Result<Method> {
    let components = ["CaO", "MgO", "SiO2", "Fe2O3"];
    let rows = [
        Influence::new("Ca Ka", "CaO", [0.15, 0.13, 0.17, 0.20]),
        Influence::new("Mg Ka", "MgO", [0.17, 0.10, 0.15, 0.25]),
        Influence::new("Si Ka", "SiO2", [0.15, 0.29, 0.14, 0.22]),
        Influence::new("Fe Ka", "Fe2O3", [0.18, 0.02, 0.03, 0.12]),
    ];
    let label = |name: &str| Label::new(name, "1", "invented for this test");
    let conditions = Conditions::new(10.0)?.with_range(8.5, 11.5)?;
    let set = CoefficientSet::new(label("marble")?, Derivation::Stated, conditions, components, rows)?;
    let calibration = Calibration::new(label("spring")?, Basis::Dried)
        .sensitivity("Ca Ka", Estimate::new(2.1e-5, 1.5e-8)?)?
        .sensitivity("Mg Ka", Estimate::new(1.1e-4, 1.2e-7)?)?
        .sensitivity("Si Ka", Estimate::new(2.6e-5, 4.0e-8)?)?
        .sensitivity("Fe Ka", Estimate::new(1.2e-5, 1.0e-8)?)?
        .range("CaO", 0.02, 0.04)?;
    Method::new(label("marble")?, set, calibration)
}

fn correction() -> Result<Correction> {
    let blend = [("Li2B4O7", 0.5), ("LiBO2", 0.5)];
    let lot = FluxLot::new("F-1", blend, "1050 C, 18 min", Estimate::new(0.004, 0.0003)?)?;
    let lot = lot.with_blank("SiO2", Estimate::new(1e-4, 1e-5)?)?;
    let sample = Sample::dried(Estimate::new(0.8, 0.0001)?)?;
    let recipe = Charge::new(sample, lot.weigh_g(Estimate::new(8.0, 0.0001)?)?)?;
    let usual = ExpectedLoss { material: "marble".to_owned(), low: 0.40, high: 0.48, source: "archive".to_owned() };
    let rules = Rules::new("house", "1")
        .total(TotalLimit { low: 0.5, high: 1.5, k: 3.0 })?
        .flux_loss(FluxLossLimit { highest: 0.05, k: 3.0 })?
        .bead_mass(4.0)?
        .expected_loss(usual)?;
    let external = |species: &str| Field::new(Quantity::External(species.to_owned())).optional();
    let mut correction = Correction::new(method()?, recipe)?
        .fusion(FusionLoss::AsOnIgnition)?
        .loss_temperature(1000.0)?
        .rules(rules)
        .field(Field::new(Quantity::LossOnIgnition).spread(Spread::Fixed(0.05))?)?
        .field(Field::new(Quantity::Moisture).optional().spread(Spread::Fixed(0.05))?)?
        .field(Field::new(Quantity::FluxLoss).optional().spread(Spread::Fixed(0.03))?)?
        .field(Field::new(Quantity::BeadMass).optional().spread(Spread::Fixed(0.0003))?)?;
    for species in ["FeO", "Fe2O3", "S", "Ni", "NiO", "ZnO", "F"] {
        correction = correction.field(external(species))?;
    }
    Ok(correction)
}

/// A table whose cells can be spoilt one by one.
#[derive(Clone)]
struct Table {
    rows: usize,
    numbers: Vec<(&'static str, Vec<Option<f64>>)>,
    words: Vec<(&'static str, Vec<Option<String>>)>,
}

impl Table {
    fn clean(rows: usize) -> Self {
        let wave = |middle: f64, period: usize| -> Vec<Option<f64>> {
            (0..rows).map(|row| Some(middle * (1.0 + 1e-3 * (row % period) as f64))).collect()
        };
        let nothing = || vec![None; rows];
        Self {
            rows,
            numbers: vec![
                ("sample_g", wave(0.8, 17)),
                ("flux_g", wave(8.0, 23)),
                ("loss_on_ignition_percent", wave(44.0, 13)),
                ("moisture_percent", nothing()),
                ("flux_loss_percent", nothing()),
                ("bead_g", nothing()),
                ("FeO_external_percent", nothing()),
                ("Fe2O3_external_percent", nothing()),
                ("S_external_percent", nothing()),
                ("Ni_external_percent", nothing()),
                ("NiO_external_percent", nothing()),
                ("ZnO_external_percent", nothing()),
                ("Ca_Ka_cps", wave(13_500.0, 29)),
                ("Mg_Ka_cps", wave(1_700.0, 31)),
                ("Si_Ka_cps", wave(600.0, 37)),
                ("Fe_Ka_cps", wave(900.0, 7)),
            ],
            words: vec![
                ("bead", (0..rows).map(|row| Some(format!("B-{row}"))).collect()),
                ("weighed", (0..rows).map(|_| Some("dried".to_owned())).collect()),
                ("F_external_percent", nothing().into_iter().map(|_: Option<f64>| None).collect()),
            ],
        }
    }

    fn put(&mut self, row: usize, name: &str, value: Option<f64>) {
        self.numbers.iter_mut().find(|(held, _)| *held == name).unwrap().1[row] = value;
    }

    fn write(&mut self, row: usize, name: &str, word: &str) {
        self.words.iter_mut().find(|(held, _)| *held == name).unwrap().1[row] = Some(word.to_owned());
    }

    fn run(&self, correction: &Correction) -> Result<Corrected> {
        // under a null lies something that must not be read
        let values: Vec<Vec<f64>> =
            self.numbers.iter().map(|(_, cells)| cells.iter().map(|cell| cell.unwrap_or(-777.0)).collect()).collect();
        let bytes: Vec<Vec<u8>> = self
            .numbers
            .iter()
            .map(|(_, cells)| {
                let mut bytes = vec![0_u8; self.rows.div_ceil(8)];
                for (row, _) in cells.iter().enumerate().filter(|(_, cell)| cell.is_some()) {
                    bytes[row / 8] |= 1 << (row % 8);
                }
                bytes
            })
            .collect();
        let mut table = Columns::new(self.rows);
        for ((name, _), (values, bytes)) in self.numbers.iter().zip(values.iter().zip(&bytes)) {
            table.push(*name, Column::Numbers(Numbers::new(values).valid(Bits::new(bytes, 0, self.rows)?)))?;
        }
        for (name, words) in &self.words {
            table.push(*name, Column::Words(Words::of(words.iter().map(Option::as_deref))))?;
        }
        correction.run(&table, &RunOptions::default())
    }
}

/// A way to spoil a row, and the code it deserves.
type Fault = (&'static str, fn(&mut Table, usize), &'static str);

const FAULTS: [Fault; 34] = [
    ("1 mass below zero", |table, row| table.put(row, "sample_g", Some(-0.0012)), "mass.not-positive"),
    ("1 mass of nothing", |table, row| table.put(row, "flux_g", Some(0.0)), "mass.not-positive"),
    ("2 mass not a number", |table, row| table.put(row, "flux_g", Some(f64::NAN)), "mass.missing"),
    ("2 mass infinite", |table, row| table.put(row, "sample_g", Some(f64::INFINITY)), "mass.missing"),
    ("2 mass blank", |table, row| table.put(row, "sample_g", None), "mass.missing"),
    ("3 milligrams for grams", |table, row| table.put(row, "sample_g", Some(500.3)), "mass.out-of-range"),
    (
        "4 sample and flux swapped",
        |table, row| {
            table.put(row, "sample_g", Some(8.0));
            table.put(row, "flux_g", Some(0.8));
        },
        "flux-ratio.unusual",
    ),
    (
        "6 loss above everything",
        |table, row| table.put(row, "loss_on_ignition_percent", Some(127.0)),
        "number.out-of-range",
    ),
    ("7 fraction for per cent", |table, row| table.put(row, "loss_on_ignition_percent", Some(0.44)), "loss.unusual"),
    (
        "8 gain that nothing explains",
        |table, row| table.put(row, "loss_on_ignition_percent", Some(-2.6)),
        "loss.gain-unexplained",
    ),
    (
        "9 negative loss replaced",
        |table, row| {
            table.put(row, "loss_on_ignition_percent", Some(0.0));
            table.put(row, "FeO_external_percent", Some(6.0));
            table.put(row, "Fe_Ka_cps", Some(8_000.0));
        },
        "loss.clipped",
    ),
    ("11 no basis", |table, row| table.write(row, "weighed", ""), "basis.missing"),
    (
        "13 other basis than the calibration",
        |table, row| table.write(row, "weighed", "ignited at 1000 C"),
        "calibration.other-basis",
    ),
    ("14 moisture below zero", |table, row| table.put(row, "moisture_percent", Some(-0.4)), "number.out-of-range"),
    (
        "15 FeO and total iron in one total",
        |table, row| {
            table.put(row, "Fe_Ka_cps", None);
            table.put(row, "FeO_external_percent", Some(26.0));
            table.put(row, "Fe2O3_external_percent", Some(97.94));
        },
        "species.element-twice",
    ),
    (
        "16 more ferrous than total iron",
        |table, row| table.put(row, "FeO_external_percent", Some(95.0)),
        "forms.impossible",
    ),
    ("17 sulfur of no host", |table, row| table.put(row, "S_external_percent", Some(3.0)), "closure.oxygen-equivalent"),
    (
        "18 nickel and its oxide",
        |table, row| {
            table.put(row, "Ni_external_percent", Some(0.1));
            table.put(row, "NiO_external_percent", Some(0.1));
        },
        "species.element-twice",
    ),
    ("24 flux loss below zero", |table, row| table.put(row, "flux_loss_percent", Some(-1.0)), "flux.loss-outside"),
    ("24 flux loss above the limit", |table, row| table.put(row, "flux_loss_percent", Some(8.2)), "flux.loss-outside"),
    ("31 light bead", |table, row| table.put(row, "bead_g", Some(8.30)), "bead-mass.differs"),
    ("32 bead heavier than what went in", |table, row| table.put(row, "bead_g", Some(9.41)), "bead-mass.impossible"),
    ("33 net intensity below zero", |table, row| table.put(row, "Si_Ka_cps", Some(-3.1)), "intensity.negative"),
    ("35 a limit among numbers", |table, row| table.write(row, "F_external_percent", "<0.01"), "limit.read"),
    ("36 marks that say nothing", |table, row| table.write(row, "F_external_percent", "1.234,5"), "number.ambiguous"),
    ("36 no number", |table, row| table.write(row, "F_external_percent", "n.a."), "number.unreadable"),
    (
        "37 mg/kg among per cent",
        |table, row| table.put(row, "ZnO_external_percent", Some(15_400.0)),
        "number.out-of-range",
    ),
    ("38 solution far below zero", |table, row| table.put(row, "Fe_Ka_cps", Some(-9_000.0)), "solution.negative"),
    ("38 singular system", |table, row| table.put(row, "Ca_Ka_cps", Some(600_000.0)), "matrix.singular"),
    ("39 another fused flux ratio", |table, row| table.put(row, "flux_g", Some(6.4)), "coefficients.flux-ratio"),
    ("40 above the top standard", |table, row| table.put(row, "Ca_Ka_cps", Some(22_000.0)), "calibration.extrapolated"),
    ("48 blank above the reading", |table, row| table.put(row, "Si_Ka_cps", Some(1.0)), "intensity.blank-exceeds"),
    (
        "49 one id twice",
        |table, row| {
            table.write(row, "bead", "B-same");
            table.write(row + 1, "bead", "B-same");
        },
        "bead.doubled",
    ),
    (
        "52 loss above the carbonate ceiling",
        |table, row| table.put(row, "loss_on_ignition_percent", Some(48.9)),
        "loss.above-ceiling",
    ),
];

#[test]
fn every_poisoned_row_is_named_and_moves_no_other() -> Result<()> {
    const APART: usize = 100; // one row in a hundred
    let (correction, rows) = (correction()?, APART * FAULTS.len());
    let clean = Table::clean(rows).run(&correction)?;
    assert_eq!(clean.findings().first(), None, "the clean table raises nothing");
    let mut poisoned = Table::clean(rows);
    let mut touched = Vec::new();
    for (place, (_, spoil, _)) in FAULTS.iter().enumerate() {
        let row = place * APART + place;
        spoil(&mut poisoned, row);
        touched.push(row);
    }
    let found = poisoned.run(&correction)?;
    assert_eq!(found.rows(), rows);
    for ((name, _, code), &row) in FAULTS.iter().zip(&touched) {
        let codes: Vec<&str> = found
            .findings()
            .iter()
            .filter(|finding| finding.row == row as u64)
            .map(|finding| finding.code.word())
            .collect();
        assert!(codes.contains(code), "{name}: row {row} has {codes:?}");
        let text = found.findings().iter().find(|finding| finding.row == row as u64 && finding.code.word() == *code);
        assert!(text.is_some_and(|finding| finding.text.len() > 20), "{name} says why");
        assert_ne!(found.codes()[row], 0, "{name}");
    }
    let partner = FAULTS.iter().position(|(name, ..)| name.starts_with("49")).map(|place| touched[place] + 1);
    for row in (0..rows).filter(|row| !touched.contains(row) && Some(*row) != partner) {
        assert_eq!(found.codes()[row], 0, "row {row}");
        for column in 0..clean.columns().len() {
            let [one, two] = [&clean, &found].map(|held| held.numbers()[column * rows + row].to_bits());
            assert_eq!(one, two, "row {row}, column {}", clean.columns()[column].name);
        }
    }
    Ok(())
}

#[test]
fn an_error_leaves_nulls_and_a_warning_leaves_numbers() -> Result<()> {
    let correction = correction()?;
    for (name, spoil, code) in FAULTS {
        let mut table = Table::clean(16);
        spoil(&mut table, 5);
        let found = table.run(&correction)?;
        let is_error = found
            .findings()
            .iter()
            .any(|finding| finding.row == 5 && finding.code.severity() == beadchem::code::Severity::Error);
        let there = found.column("CaO_percent").unwrap().get(5);
        assert_eq!(there.is_none(), is_error, "{name} ({code})");
        assert!(there.is_none_or(f64::is_finite), "{name}: never a silent NaN");
    }
    Ok(())
}
