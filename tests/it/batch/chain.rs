//! The whole chain in a table: counted peaks and backgrounds, dead time and the drift of the spectrometer, each row as its bead
//! alone.

use beadchem::Result;
use beadchem::batch::{
    Bits, Column, Columns, Corrected, Correction, Field, FusionLoss, Numbers, Quantity, RunOptions, Spread,
    Uncertainty, Words,
};
use beadchem::charge::{Charge, FluxLot, Melt, Sample};
use beadchem::composition::{Basis, Unit};
use beadchem::matrix::{
    Calibration, CoefficientSet, Conditions, Count, DeadTime, Derivation, Drift, Influence, Label, LineReading, Monitor,
};
use beadchem::method::{Assay, Measurement, Method, Overlap};
use beadchem::numeric::InstructionSet;
use beadchem::substance::Weights;
use beadchem::uncertainty::Estimate;

/// Contributions and derivatives add up in different orders.
const ORDER: f64 = 1e-10;
const SPECIES: [&str; 4] = ["CaO", "MgO", "SiO2", "Fe2O3"];
const ROWS: usize = 45;

fn label() -> Result<Label> {
    Label::new("limestone", "1", "invented for these tests")
}

fn method() -> Result<Method> {
    let rows = [
        Influence::new("Ca Ka", "CaO", [0.15, 0.13, 0.17, 0.20]),
        Influence::new("Mg Ka", "MgO", [0.17, 0.10, 0.15, 0.25]),
        Influence::new("Si Ka", "SiO2", [0.15, 0.29, 0.14, 0.22]),
        Influence::new("Fe Ka", "Fe2O3", [0.18, 0.02, 0.03, 0.12]),
    ];
    let made_for = Conditions::new(10.0)?.with_range(8.5, 11.5)?;
    let set = CoefficientSet::new(label()?, Derivation::Stated, made_for, SPECIES, rows)?;
    let calibration = Calibration::new(label()?, Basis::Dried)
        .sensitivity("Ca Ka", Estimate::new(2.1e-5, 1.5e-8)?)?
        .sensitivity("Mg Ka", Estimate::new(1.1e-4, 1.2e-7)?)?
        .sensitivity("Si Ka", Estimate::new(2.6e-5, 4.0e-8)?)?
        .sensitivity("Fe Ka", Estimate::new(1.2e-5, 1.0e-8)?)?;
    let overlap = Overlap::new("Mg Ka", "Ca Ka", Estimate::new(2e-3, 1e-4)?)?;
    let dead_time = DeadTime::new(Estimate::new(4e-7, 2e-8)?)?;
    Ok(Method::new(label()?, set, calibration)?.overlap(overlap)?.dead_time(dead_time))
}

fn charge(sample_g: f64, flux_g: f64) -> Result<Charge> {
    let lot = FluxLot::new("F-1", [("Li2B4O7", 0.5), ("LiBO2", 0.5)], "1050 C, 18 min", Estimate::new(0.004, 0.0003)?)?;
    Charge::new(Sample::dried(Estimate::new(sample_g, 1e-4)?)?, lot.weigh_g(Estimate::new(flux_g, 1e-4)?)?)
}

fn melt(sample_g: f64, flux_g: f64) -> Result<Melt> {
    charge(sample_g, flux_g)?.fuse_with_loss(&Weights::ciaaw_2024(), Estimate::new(0.4, 0.001)?)
}

/// Iron is counted by another detector than the rest.
fn scintillation() -> Result<DeadTime> {
    Ok(DeadTime::new(Estimate::new(9e-7, 5e-8)?)?.of_detector("scintillation counter"))
}

/// A monitor that wanders, read at some hours of one day.
fn monitor(name: &str, times: &[&str], part: f64) -> Result<Monitor> {
    let full = [("Ca Ka", 20_000.0), ("Mg Ka", 4_000.0), ("Si Ka", 9_000.0), ("Fe Ka", 15_000.0)];
    let at = |step: usize| {
        full.iter().enumerate().map(move |(line, (name, cps))| {
            let cps = cps * part * (1.0 - 0.004 * step as f64 * (line + 1) as f64);
            (*name, Estimate::new(cps, 0.001 * cps).unwrap())
        })
    };
    let mut monitor = Monitor::new(name, at(0))?;
    for (step, time) in times.iter().enumerate() {
        // silicon was left out once
        let lines = at(step + 1).filter(|(line, _)| *line != "Si Ka" || step != 1);
        monitor = monitor.reading(&format!("2026-03-14T{time}"), lines)?;
    }
    Ok(monitor)
}

fn strong() -> Result<Monitor> {
    monitor("M-hi", &["08:00", "10:00", "12:30"], 1.0)
}

fn weak() -> Result<Monitor> {
    monitor("M-lo", &["07:55", "09:00", "12:35"], 0.05)
}

/// What was counted and weighed of some beads; a cell that is not there is nothing.
#[derive(Clone)]
struct Beads {
    numbers: Vec<(&'static str, Vec<Option<f64>>)>,
    times: Vec<Option<String>>,
}

impl Beads {
    fn new() -> Self {
        let wave = |middle: f64, period: usize| {
            (0..ROWS).map(|row| Some(middle * (1.0 + 2e-3 * (row % period) as f64))).collect::<Vec<_>>()
        };
        let times = (0..ROWS).map(|row| match row {
            7 => "2026-03-14T10:00".to_owned(), // at a reading
            8 => "2026-03-14T08:00".to_owned(),
            _ => format!("2026-03-14T{:02}:{:02}:{:02}", 8 + row / 12, row * 5 % 60, 1 + row),
        });
        Self {
            numbers: vec![
                ("sample_g", wave(0.795, 17)),
                ("flux_g", wave(7.95, 23)),
                ("Ca_Ka_peak_cps", wave(13_300.0, 29)),
                ("Ca_Ka_background_1_cps", wave(240.0, 5)),
                ("mg", wave(68_000.0, 31)),
                ("Mg_Ka_background_1_cps", wave(12.0, 7)),
                ("Mg_Ka_background_2_cps", wave(0.02, 11)),
                ("seconds", wave(38.0, 3)),
                ("Si_Ka_cps", wave(390.0, 37)),
                ("Fe_Ka_peak_cps", wave(1_100.0, 13)),
                ("moisture_percent", wave(0.5, 2)),
            ],
            times: times.map(Some).collect(),
        }
    }

    fn put(&mut self, name: &str, row: usize, value: Option<f64>) {
        self.numbers.iter_mut().find(|(held, _)| *held == name).unwrap().1[row] = value;
    }

    fn number(&self, name: &str, row: usize) -> Option<f64> {
        self.numbers.iter().find(|(held, _)| *held == name).unwrap().1[row]
    }

    fn run(&self, correction: &Correction, options: &RunOptions<'_>) -> Result<Corrected> {
        // under a null lies something that must not be read
        let values: Vec<Vec<f64>> =
            self.numbers.iter().map(|(_, cells)| cells.iter().map(|cell| cell.unwrap_or(-777.0)).collect()).collect();
        let bits = |cells: &Vec<Option<f64>>| {
            let mut bytes = vec![0_u8; ROWS.div_ceil(8)];
            for (row, _) in cells.iter().enumerate().filter(|(_, cell)| cell.is_some()) {
                bytes[row / 8] |= 1 << (row % 8);
            }
            bytes
        };
        let bytes: Vec<Vec<u8>> = self.numbers.iter().map(|(_, cells)| bits(cells)).collect();
        let mut table = Columns::new(ROWS);
        for ((name, _), (values, bytes)) in self.numbers.iter().zip(values.iter().zip(&bytes)) {
            table.push(*name, Column::Numbers(Numbers::new(values).valid(Bits::new(bytes, 0, ROWS)?)))?;
        }
        if correction.monitors().is_some() {
            table.push("measured_at", Column::Words(Words::of(self.times.iter().map(Option::as_deref))))?;
        }
        correction.run(&table, options)
    }

    /// The measurement of a row, where all of it is there.
    fn measurement(&self, row: usize, drift: Option<&Drift>) -> Result<Measurement> {
        let number = |name: &str| self.number(name, row).unwrap();
        let seconds = number("seconds");
        let lime = LineReading::counted("Ca Ka", Count::new(number("Ca_Ka_peak_cps"), 40.0)?)?
            .background(1.0, Count::new(number("Ca_Ka_background_1_cps"), 20.0)?)?;
        let magnesia = LineReading::counted("Mg Ka", Count::new(number("mg") / seconds, seconds)?)?
            .background(0.6, Count::new(number("Mg_Ka_background_1_cps"), 15.0)?)?
            .background(0.4, Count::new(number("Mg_Ka_background_2_cps"), seconds)?)?;
        let silicon = number("Si_Ka_cps");
        let silicon = LineReading::net("Si Ka", Estimate::new(silicon, (silicon / 40.0).sqrt())?)?;
        let iron = LineReading::counted("Fe Ka", Count::new(number("Fe_Ka_peak_cps"), 30.0)?)?;
        let iron = iron.dead_time(&scintillation()?)?;
        let measurement = Measurement::new(format!("in row {row}")).reading(lime)?.reading(magnesia)?;
        let measurement = measurement.reading(silicon)?.reading(iron)?;
        Ok(match drift {
            Some(drift) => measurement.at(self.times[row].clone().unwrap(), drift.clone()),
            None => measurement,
        })
    }

    fn alone(&self, row: usize, drift: Option<&Drift>) -> Result<Assay> {
        let melt = melt(self.number("sample_g", row).unwrap(), self.number("flux_g", row).unwrap())?;
        method()?.assay(&melt, &self.measurement(row, drift)?)
    }
}

fn correction(drift: Option<&Drift>) -> Result<Correction> {
    let peak = |line: &str| Field::new(Quantity::Peak(line.to_owned()));
    let background = |line: &str, place: usize| Field::new(Quantity::Background(line.to_owned(), place));
    let seconds = || Spread::CountingColumn("seconds".to_owned());
    let silicon = Field::new(Quantity::Intensity("Si Ka".to_owned()));
    let correction = Correction::new(method()?, charge(0.8, 8.0)?)?
        .fusion(FusionLoss::Fixed(Estimate::new(0.4, 0.001)?))?
        .field(peak("Ca Ka").spread(Spread::Counting(40.0))?)?
        .field(background("Ca Ka", 0).spread(Spread::Counting(20.0))?.weight(1.0)?)?
        .field(peak("Mg Ka").named("mg").in_unit("counts")?.spread(seconds())?)?
        .field(background("Mg Ka", 0).spread(Spread::Counting(15.0))?.weight(0.6)?)?
        .field(background("Mg Ka", 1).spread(seconds())?.weight(0.4)?)?
        .field(silicon.spread(Spread::Counting(40.0))?)?
        .field(peak("Fe Ka").spread(Spread::Counting(30.0))?.dead_time(scintillation()?)?)?;
    Ok(match drift {
        Some(drift) => correction.drift(drift.clone())?,
        None => correction,
    })
}

fn drifts() -> Result<[Option<Drift>; 3]> {
    Ok([None, Some(Drift::one_point(strong()?)), Some(Drift::two_point(strong()?, weak()?)?)])
}

/// The variances of a bead alone by the way that tables take, %^2.
fn variances(assay: &Assay) -> Result<Vec<f64>> {
    let plan = assay.sample().plan();
    let by = plan.contributions().unwrap();
    let (row, mut out, mut scratch, mut room) = (plan.row::<f64>(), plan.out(), plan.scratch(), by.room(plan));
    plan.run(&row, &mut out, &mut scratch);
    let mut variances = vec![0.0; by.results()];
    let inputs: [&[f64]; 2] = [&row.values, &plan.own_u()];
    by.run_with(InstructionSet::Portable, plan, inputs, &scratch, &mut room, &mut variances, None)?;
    Ok(variances)
}

#[test]
fn a_counted_row_has_the_bits_of_its_bead_alone_and_its_u() -> Result<()> {
    let beads = Beads::new();
    for drift in drifts()? {
        let drift = drift.as_ref();
        let what = drift.map_or(0, |drift| drift.monitors().count());
        let options = RunOptions { uncertainty: Uncertainty::Covariance, ..RunOptions::default() };
        let found = beads.run(&correction(drift)?, &options)?;
        assert_eq!((found.refused(), found.findings().first()), (0, None));
        for row in 0..ROWS {
            let assay = beads.alone(row, drift)?;
            let variances = variances(&assay)?;
            for (place, one) in SPECIES.iter().enumerate() {
                let of = |column: String| found.column(&column).unwrap().get(row).unwrap();
                let value = of(format!("{one}_percent"));
                let expected = Unit::Percent.written(assay.value(one)?);
                assert_eq!(value.to_bits(), expected.to_bits(), "{what} monitors, row {row}: {one} {value} {expected}");
                let (u, expected) = (of(format!("{one}_percent_u")), Unit::Percent.written(variances[place].sqrt()));
                assert_eq!(u.to_bits(), expected.to_bits(), "{what} monitors, row {row}: u of {one} {u} {expected}");
                assert!(
                    (u / Unit::Percent.written(assay.u(one)?) - 1.0).abs() < ORDER,
                    "{what}, row {row}: u of {one}"
                );
                for other in &SPECIES[place..] {
                    let held = of(format!("{one}_{other}_covariance"));
                    let square = |fraction: f64| Unit::Percent.written(Unit::Percent.written(fraction));
                    let (expected, size) = (assay.covariance(one, other)?, assay.u(one)? * assay.u(other)?);
                    assert!((held - square(expected)).abs() < ORDER * square(size), "row {row}: {one} and {other}");
                }
            }
        }
    }
    Ok(())
}

#[test]
fn nothing_about_the_run_changes_a_counted_row() -> Result<()> {
    let (beads, [.., drift]) = (Beads::new(), drifts()?);
    let correction = correction(drift.as_ref())?;
    let bits = |found: &Corrected| found.numbers().iter().map(|value| value.to_bits()).collect::<Vec<_>>();
    let expected = bits(&beads.run(&correction, &RunOptions::default())?);
    for set in InstructionSet::available() {
        for (threads, chunk_rows) in [(1, 1), (2, 8), (3, 64)] {
            let options = RunOptions { set, threads, chunk_rows, ..RunOptions::default() };
            assert_eq!(bits(&beads.run(&correction, &options)?), expected, "{}, {chunk_rows}", set.word());
        }
    }
    let stored: Correction = beadchem::document::from_json(&beadchem::document::to_json(&correction)?)?;
    assert_eq!(stored, correction);
    assert_eq!(bits(&beads.run(&stored, &RunOptions::default())?), expected);
    Ok(())
}

/// A way to spoil a row, the code it deserves and a part of the text.
type Fault = (fn(&mut Beads, usize), &'static str, &'static str);

#[test]
fn a_spoilt_count_or_time_is_named_and_moves_no_other_row() -> Result<()> {
    let faults: [Fault; 13] = [
        (
            |it, row| it.put("Ca_Ka_peak_cps", row, Some(-3.0)),
            "number.out-of-range",
            "Ca Ka peak rate in Ca_Ka_peak_cps -3",
        ),
        (|it, row| it.put("Ca_Ka_peak_cps", row, Some(f64::NAN)), "number.not-finite", "Ca Ka peak rate"),
        (|it, row| it.put("Ca_Ka_peak_cps", row, Some(3e6)), "dead-time.too-long", "Ca_Ka_peak_cps at a dead time"),
        (|it, row| it.put("Fe_Ka_peak_cps", row, Some(1.2e6)), "dead-time.too-long", "dead time of 0.0000009 s"),
        (|it, row| it.put("Ca_Ka_background_1_cps", row, Some(-1.0)), "number.out-of-range", "Ca_Ka_background_1_cps"),
        (|it, row| it.put("Ca_Ka_background_1_cps", row, None), "background.missing", "in Ca_Ka_background_1_cps"),
        (|it, row| it.put("Mg_Ka_background_2_cps", row, None), "background.missing", "in Mg_Ka_background_2_cps"),
        (|it, row| it.put("seconds", row, Some(0.0)), "number.out-of-range", "Counting time in seconds 0 s"),
        (|it, row| it.put("seconds", row, None), "number.not-finite", "Counting time in seconds"),
        (|it, row| it.times[row] = None, "drift.unpaired", "The time the bead in row"),
        (|it, row| it.times[row] = Some("noon".to_owned()), "time.unreadable", "noon"),
        (|it, row| it.times[row] = Some("2026-03-14T09:00Z".to_owned()), "time.unreadable", "have no zone"),
        (|it, row| it.times[row] = Some("2026-03-14T07:00".to_owned()), "drift.before-first", "2026-03-14T07:00"),
    ];
    let [_, drift, _] = drifts()?;
    let correction = correction(drift.as_ref())?;
    let clean = Beads::new().run(&correction, &RunOptions::default())?;
    let mut spoilt = Beads::new();
    for (place, (spoil, ..)) in faults.iter().enumerate() {
        spoil(&mut spoilt, 3 * place + 1);
    }
    let found = spoilt.run(&correction, &RunOptions::default())?;
    for (place, (_, code, text)) in faults.iter().enumerate() {
        let row = 3 * place + 1;
        let said: Vec<(&str, &str)> = found
            .findings()
            .iter()
            .filter(|held| held.row == row as u64)
            .map(|held| (held.code.word(), held.text.as_str()))
            .collect();
        assert!(said.iter().any(|(held, words)| held == code && words.contains(text)), "row {row}: {said:?}");
        assert_eq!(found.column("SiO2_percent").unwrap().get(row), None, "row {row}");
    }
    assert_eq!(found.refused(), faults.len());
    for row in (0..ROWS).filter(|row| row % 3 != 1 || row / 3 >= faults.len()) {
        for column in 0..clean.columns().len() {
            let [one, two] = [&clean, &found].map(|held| held.numbers()[column * ROWS + row].to_bits());
            assert_eq!(one, two, "row {row}");
        }
        assert_eq!(found.codes()[row], 0, "row {row}");
    }
    Ok(())
}

#[test]
fn a_peak_that_is_not_there_is_a_line_that_was_not_measured() -> Result<()> {
    let mut beads = Beads::new();
    beads.put("Fe_Ka_peak_cps", 4, None);
    let found = beads.run(&correction(None)?, &RunOptions::default())?;
    assert_eq!((found.refused(), found.column("Fe2O3_percent").unwrap().get(4)), (0, None));
    let mut measurement = Measurement::new("B");
    for reading in beads_but_iron(&beads)? {
        measurement = measurement.reading(reading)?;
    }
    let assay = method()?
        .assay(&melt(beads.number("sample_g", 4).unwrap(), beads.number("flux_g", 4).unwrap())?, &measurement)?;
    let value = found.column("CaO_percent").unwrap().get(4).unwrap();
    assert_eq!(value.to_bits(), Unit::Percent.written(assay.value("CaO")?).to_bits());
    assert!(found.notes().iter().any(|note| note.code.word() == "line.not-measured"));
    Ok(())
}

fn beads_but_iron(beads: &Beads) -> Result<Vec<LineReading>> {
    let mut whole = beads.clone();
    whole.put("Fe_Ka_peak_cps", 4, Some(1.0));
    let measurement = whole.measurement(4, None)?;
    Ok(measurement.readings().iter().filter(|held| held.line().as_str() != "Fe Ka").cloned().collect())
}

/// The texts of a code in a row, and in the bead alone.
fn texts(found: &Corrected, row: usize, assay: &Assay, code: &str) -> [Vec<String>; 2] {
    let of_row = found.findings().iter().filter(|held| held.row == row as u64 && held.code.word() == code);
    let alone = assay.findings().into_iter().filter(|held| held.code.word() == code);
    [of_row.map(|held| held.text.clone()).collect(), alone.map(|held| held.text).collect()]
}

#[test]
fn backgrounds_above_their_peak_are_told_of_in_the_words_of_a_bead_alone() -> Result<()> {
    let mut beads = Beads::new();
    beads.put("Mg_Ka_background_1_cps", 5, Some(3_042.0));
    beads.put("Mg_Ka_background_1_cps", 6, Some(3_030.0));
    let found = beads.run(&correction(None)?, &RunOptions::default())?;
    let mut met = 0;
    for row in [5, 6] {
        for code in ["intensity.background-exceeds", "intensity.negative"] {
            let [of_row, alone] = texts(&found, row, &beads.alone(row, None)?, code);
            assert_eq!(of_row, alone, "row {row}, {code}");
            met += alone.len();
        }
    }
    assert_eq!(met, 2, "one far below zero and one within chance");
    Ok(())
}

#[test]
fn a_bead_after_the_last_reading_is_told_of_once_for_lines_read_together() -> Result<()> {
    let mut beads = Beads::new();
    beads.times[9] = Some("2026-03-14T13:00".to_owned());
    let [_, one, two] = drifts()?;
    for (drift, times) in [(one, 1), (two, 2)] {
        let found = beads.run(&correction(drift.as_ref())?, &RunOptions::default())?;
        let assay = beads.alone(9, drift.as_ref())?;
        let [of_row, alone] = texts(&found, 9, &assay, "drift.last-held");
        assert!(of_row.iter().all(|text| alone.contains(text)), "{of_row:?} of {alone:?}");
        // silicon was left out of a reading and has readings of its own
        assert_eq!((of_row.len(), alone.len()), (2 * times, 4 * times));
        let value = found.column("CaO_percent").unwrap().get(9).unwrap();
        assert_eq!(value.to_bits(), Unit::Percent.written(assay.value("CaO")?).to_bits());
    }
    Ok(())
}

#[test]
fn monitors_that_come_too_close_between_their_readings_refuse_their_rows_alone() -> Result<()> {
    let read = |name: &str, full: f64, cps: [f64; 2]| -> Result<Monitor> {
        let lines = ["Ca Ka", "Mg Ka", "Si Ka", "Fe Ka"];
        let at = |cps: f64| lines.map(|line| (line, Estimate::new(cps, 1.0).unwrap()));
        Monitor::new(name, at(full))?.reading("2026-03-14T07:00", at(cps[0]))?.reading("2026-03-14T13:00", at(cps[1]))
    };
    let drift = Drift::two_point(read("M-hi", 2_000.0, [2_000.0, 100.0])?, read("M-lo", 100.0, [100.0, 101.0])?)?;
    let beads = Beads::new();
    let found = beads.run(&correction(Some(&drift))?, &RunOptions::default())?;
    let mut near = beads.clone();
    near.times[11] = Some("2026-03-14T12:59:50".to_owned());
    let refused = near.run(&correction(Some(&drift))?, &RunOptions::default())?;
    let alone = near.alone(11, Some(&drift)).unwrap_err();
    assert_eq!(alone.code().word(), "drift.monitors-alike");
    let of_row: Vec<&str> =
        refused.findings().iter().filter(|held| held.row == 11).map(|held| held.text.as_str()).collect();
    assert!(of_row.contains(&alone.to_string().as_str()), "{of_row:?}");
    let codes = |held: &Corrected| held.findings().iter().filter(|it| it.row != 11).count();
    assert_eq!(codes(&found), codes(&refused), "no other row");
    Ok(())
}

#[test]
fn a_count_that_is_declared_by_halves_is_refused() -> Result<()> {
    let plain = || Correction::new(method()?, charge(0.8, 8.0)?);
    let peak = |line: &str| Field::new(Quantity::Peak(line.to_owned())).spread(Spread::Counting(40.0));
    let background =
        |place: usize| Field::new(Quantity::Background("Ca Ka".to_owned(), place)).spread(Spread::Counting(20.0));
    let code = |made: Result<Correction>| made.unwrap_err().code().word();
    assert_eq!(code(plain()?.field(Field::new(Quantity::Peak("Ca Ka".to_owned())))), "table.layout");
    assert_eq!(code(plain()?.field(peak("Sr Ka")?)), "line.unknown");
    assert_eq!(code(plain()?.field(background(0)?.weight(1.0)?)), "reading.contradicts");
    let counted = || plain()?.field(peak("Ca Ka")?);
    assert_eq!(code(counted()?.field(background(0)?)), "table.layout");
    assert_eq!(code(counted()?.field(background(1)?.weight(0.5)?)), "reading.contradicts");
    let both = || counted()?.field(background(0)?.weight(0.5)?)?.field(background(1)?.weight(0.5)?);
    assert_eq!(code(both()?.field(background(2)?.weight(0.5)?)), "reading.contradicts");
    assert_eq!(background(0)?.weight(0.0).unwrap_err().code().word(), "reading.contradicts");
    assert_eq!(Field::new(Quantity::Moisture).weight(1.0).unwrap_err().code().word(), "table.layout");
    let dead_time = |field: Field| field.dead_time(scintillation()?);
    assert_eq!(dead_time(Field::new(Quantity::Moisture)).unwrap_err().code().word(), "table.layout");
    assert_eq!(dead_time(background(0)?).unwrap_err().code().word(), "table.layout");
    assert_eq!(peak("Ca Ka")?.spread(Spread::Fixed(1.0)).unwrap_err().code().word(), "table.layout");
    // the net intensity in place of the counts, and back
    let names = |made: &Correction| made.fields().iter().map(|held| held.name().to_owned()).collect::<Vec<_>>();
    let counts = names(&both()?);
    assert!(counts.contains(&"Ca_Ka_peak_cps".to_owned()) && !counts.contains(&"Ca_Ka_cps".to_owned()));
    let net = names(&both()?.field(Field::new(Quantity::Intensity("Ca Ka".to_owned())))?);
    assert!(net.contains(&"Ca_Ka_cps".to_owned()) && net.iter().all(|name| !name.starts_with("Ca_Ka_b")));
    // times without monitors
    let timed = plain()?.field(Field::new(Quantity::Time))?;
    assert_eq!(timed.run(&Columns::new(0), &RunOptions::default()).unwrap_err().code().word(), "table.header");
    let [_, drift, _] = drifts()?;
    let mut beads = Beads::new();
    beads.times.fill(None);
    let found = beads.run(&correction(drift.as_ref())?, &RunOptions::default())?;
    assert_eq!(found.refused(), ROWS, "no row says when it was measured");
    Ok(())
}
