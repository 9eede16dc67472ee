//! Readings of the glass as columns: every row has the bits of `Melt::undilute` of its bead alone.

use std::collections::HashSet;

use beadchem::Result;
use beadchem::batch::{
    Bits, Column, Columns, Corrected, Correction, Field, FusionLoss, Numbers, Quantity, Recorrection, RunOptions,
    Spread, TableProvenance, Uncertainty, Words, example,
};
use beadchem::charge::{Addition, Amount, Charge, Evaluation, FluxLot, Form, Melt, ReducesTo, Sample, SampleResult};
use beadchem::composition::{Basis, BasisLinks, Cell, ClosureOrder, Composition, LossOnIgnition, Unit};
use beadchem::document::{digest, from_json, to_json};
use beadchem::matrix::{Drift, Monitor};
use beadchem::method::Method;
use beadchem::numeric::InstructionSet;
use beadchem::substance::Weights;
use beadchem::uncertainty::Estimate;

const ROWS: usize = 203;
const READ: [&str; 5] = ["CaO", "MgO", "Fe", "Na2O", "SiO2"];
/// Of the readings, relative.
const U_READ: f64 = 0.002;
const TEMPERATURE_C: f64 = 1000.0;

fn lot(name: &str, loss: f64) -> Result<FluxLot> {
    let blend = [("Li2B4O7", 0.5), ("LiBO2", 0.5)];
    FluxLot::new(name, blend, "1050 C, 18 min", Estimate::new(loss, 0.0003)?)?
        .with_blank("SiO2", Estimate::new(1e-4, 1e-5)?)
}

/// Tablets of a release agent, an oxidant weighed row by row.
fn charge(lot: &FluxLot, [sample, flux, nitrate]: [f64; 3]) -> Result<Charge> {
    let tablets = Amount::tablets(1, Estimate::new(0.030, 3e-4)?)?;
    Charge::new(Sample::dried(Estimate::new(sample, 1e-4)?)?, lot.weigh_g(Estimate::new(flux, 1e-4)?)?)?
        .with(Addition::release_agent("LiBr", tablets, Estimate::new(0.5, 0.1)?)?)?
        .with(Addition::oxidant("NaNO3", Amount::mass_g(Estimate::new(nitrate, 1e-4)?)?, ReducesTo::NO)?)
}

fn correction() -> Result<Correction> {
    let mut correction = Correction::of_glass(READ, charge(&lot("F-1", 0.004)?, [0.8, 8.0, 0.5])?)?
        .lot(lot("F-2", 0.0062)?)?
        .fusion(FusionLoss::AsOnIgnition)?
        .loss_temperature(TEMPERATURE_C)?
        .field(Field::new(Quantity::LossOnIgnition).spread(Spread::Fixed(0.05))?)?
        .field(Field::new(Quantity::Addition(1)).named("NaNO3_g").spread(Spread::Fixed(1e-4))?)?
        .field(Field::new(Quantity::Moisture).optional().spread(Spread::Fixed(0.02))?)?;
    for species in READ {
        correction = correction.field(reading(species).spread(Spread::Relative(U_READ))?)?;
    }
    Ok(correction)
}

fn reading(species: &str) -> Field {
    Field::new(Quantity::Glass(species.to_owned()))
}

/// Catch weights of two lots; iron is null here and there, silica is written, some of it below its limit.
struct Beads {
    numbers: Vec<(String, Vec<f64>)>,
    iron: Vec<u8>,
    silica: Vec<String>,
    lots: Vec<&'static str>,
}

impl Beads {
    fn new(rows: usize) -> Self {
        let wave = |middle: f64, period: usize| -> Vec<f64> {
            (0..rows).map(|row| middle * (1.0 + 1e-3 * (row % period) as f64)).collect()
        };
        let numbers = [
            ("sample_g", 0.795, 17),
            ("flux_g", 7.95, 23),
            ("NaNO3_g", 0.5, 19),
            ("loss_on_ignition_percent", 45.4, 13),
            ("moisture_percent", 0.9, 7),
            ("CaO_glass_percent", 2.89, 29),
            ("MgO_glass_percent", 1.88, 31),
            ("Fe_glass_percent", 0.02, 37),
            ("Na2O_glass_percent", 2.6, 41),
        ];
        let mut iron = vec![0_u8; rows.div_ceil(8)];
        for row in (0..rows).filter(|row| row % 11 != 3) {
            iron[row / 8] |= 1 << (row % 8);
        }
        let silica = |row: usize| match row % 9 {
            4 => "<0.02".to_owned(),
            7 => "<0.005".to_owned(),
            part => format!("0.{}", 110 + part),
        };
        Self {
            numbers: numbers.map(|(name, middle, period)| (name.to_owned(), wave(middle, period))).to_vec(),
            iron,
            silica: (0..rows).map(silica).collect(),
            lots: (0..rows).map(|row| if row % 3 == 0 { "F-2" } else { "F-1" }).collect(),
        }
    }

    fn rows(&self) -> usize {
        self.lots.len()
    }

    fn columns(&self) -> Result<Columns<'_>> {
        let mut table = Columns::new(self.rows());
        for (name, values) in &self.numbers {
            let mut numbers = Numbers::new(values);
            if name == "Fe_glass_percent" {
                numbers = numbers.valid(Bits::new(&self.iron, 0, self.rows())?);
            }
            table.push(name.as_str(), Column::Numbers(numbers))?;
        }
        table
            .push("SiO2_glass_percent", Column::Words(Words::of(self.silica.iter().map(|cell| Some(cell.as_str())))))?;
        table.push("flux_lot", Column::Words(Words::of(self.lots.iter().map(|lot| Some(*lot)))))?;
        Ok(table)
    }

    fn picked(&self, order: &[usize]) -> Self {
        let mut iron = vec![0_u8; order.len().div_ceil(8)];
        for (row, &from) in order.iter().enumerate() {
            iron[row / 8] |= (self.iron[from / 8] >> (from % 8) & 1) << (row % 8);
        }
        let pick = |values: &Vec<f64>| order.iter().map(|&from| values[from]).collect();
        Self {
            numbers: self.numbers.iter().map(|(name, values)| (name.clone(), pick(values))).collect(),
            iron,
            silica: order.iter().map(|&from| self.silica[from].clone()).collect(),
            lots: order.iter().map(|&from| self.lots[from]).collect(),
        }
    }

    fn number(&self, name: &str, row: usize) -> f64 {
        self.numbers.iter().find(|(held, _)| held == name).unwrap().1[row]
    }

    fn melt(&self, row: usize, losses: [f64; 2]) -> Result<Melt> {
        let lot = match self.lots[row] {
            "F-2" => lot("F-2", losses[1])?,
            _ => lot("F-1", losses[0])?,
        };
        let masses = ["sample_g", "flux_g", "NaNO3_g"].map(|name| self.number(name, row));
        charge(&lot, masses)?.fuse_with_loss(&Weights::ciaaw_2024(), self.loss(row)?)
    }

    fn loss(&self, row: usize) -> Result<Estimate> {
        let inside = |percent: f64| Unit::Percent.fraction(percent);
        Estimate::new(inside(self.number("loss_on_ignition_percent", row)), inside(0.05))
    }

    fn links(&self, row: usize) -> Result<BasisLinks> {
        let inside = |percent: f64| Unit::Percent.fraction(percent);
        let moisture = Estimate::new(inside(self.number("moisture_percent", row)), inside(0.02))?;
        Ok(BasisLinks::default()
            .moisture(moisture)?
            .loss_on_ignition(LossOnIgnition::new(self.loss(row)?, TEMPERATURE_C)?))
    }

    /// What was read of a row.
    fn readings(&self, row: usize) -> Result<Composition> {
        let mut readings = Composition::new(Basis::Bead);
        for species in &READ[..4] {
            if *species != "Fe" || row % 11 != 3 {
                let value = Unit::Percent.fraction(self.number(&format!("{species}_glass_percent"), row));
                readings = readings.with(species, Estimate::new(value, value * U_READ)?)?;
            }
        }
        let written = |text: &str| Unit::Percent.fraction(text.parse::<f64>().unwrap());
        match self.silica[row].strip_prefix('<') {
            Some(limit) => readings.with("SiO2", Cell::Below { limit: written(limit) }),
            None => {
                let value = written(&self.silica[row]);
                readings.with("SiO2", Estimate::new(value, value * U_READ)?)
            }
        }
    }

    fn alone(&self, row: usize) -> Result<SampleResult> {
        self.melt(row, [0.004, 0.0062])?.undilute(&self.readings(row)?)
    }
}

/// Every number by its bits, nulls included, and every code.
fn bits(corrected: &Corrected) -> (Vec<u64>, Vec<u16>) {
    (corrected.numbers().iter().map(|value| value.to_bits()).collect(), corrected.codes().to_vec())
}

/// What is said, row by row.
fn texts(corrected: &Corrected) -> Vec<(u64, &str)> {
    corrected.findings().iter().map(|finding| (finding.row, finding.text.as_str())).collect()
}

fn cell(corrected: &Corrected, column: &str, row: usize) -> Option<f64> {
    corrected.column(column).unwrap().get(row)
}

fn percent(fraction: f64) -> f64 {
    Unit::Percent.written(fraction)
}

#[test]
fn a_row_has_the_bits_of_its_bead_alone() -> Result<()> {
    let beads = Beads::new(ROWS);
    let corrected = correction()?.also_on(Basis::AsReceived)?.run(&beads.columns()?, &RunOptions::default())?;
    assert_eq!((corrected.rows(), corrected.refused()), (ROWS, 0));
    for row in 0..ROWS {
        let alone = beads.alone(row)?;
        let links = beads.links(row)?;
        let received = alone.on(Basis::AsReceived, &links, &Form::AsRead)?;
        for species in READ {
            for (name, result) in [("", &alone), ("_as_received", &received)] {
                let found = cell(&corrected, &format!("{species}{name}_percent"), row);
                let expected = result.value(species).ok().map(percent);
                assert_eq!(
                    found.map(f64::to_bits),
                    expected.map(f64::to_bits),
                    "row {row}, {species}{name} {found:?} {expected:?}"
                );
            }
        }
        let melt = alone.melt();
        let order = ClosureOrder::new().loss(&LossOnIgnition::new(beads.loss(row)?, TEMPERATURE_C)?).links(&links);
        for (name, expected) in [
            ("predicted_bead_g", melt.bead_mass_g()),
            ("fused_flux_ratio", melt.fused_flux_ratio().value()),
            ("dilution", melt.dilution().value()),
            ("total_percent", percent(alone.closure(&order)?.total().unwrap().value())),
        ] {
            let found = cell(&corrected, name, row);
            assert_eq!(found.map(f64::to_bits), Some(expected.to_bits()), "row {row}, {name} {found:?} {expected}");
        }
    }
    Ok(())
}

#[test]
fn another_basis_and_form_have_the_bits_of_the_bead_alone() -> Result<()> {
    let beads = Beads::new(ROWS);
    let corrected =
        correction()?.on(Basis::AsReceived).form(Form::Elements).run(&beads.columns()?, &RunOptions::default())?;
    for row in 0..ROWS {
        let alone = beads.alone(row)?.on(Basis::AsReceived, &beads.links(row)?, &Form::Elements)?;
        for species in ["Ca", "Mg", "Fe", "Na", "Si"] {
            let found = cell(&corrected, &format!("{species}_percent"), row).map(f64::to_bits);
            assert_eq!(found, alone.value(species).ok().map(|value| percent(value).to_bits()), "row {row}, {species}");
        }
    }
    Ok(())
}

#[test]
fn limits_of_the_glass_go_back_to_the_sample_as_those_of_the_bead_alone() -> Result<()> {
    let beads = Beads::new(ROWS);
    let corrected = correction()?.run(&beads.columns()?, &RunOptions::default())?;
    let mut met = HashSet::new();
    for row in 0..ROWS {
        let said = |code: &str| {
            let is = |finding: &&beadchem::batch::RowFinding| finding.row == row as u64 && finding.code.word() == code;
            corrected.findings().iter().find(is)
        };
        let composition = beads.alone(row)?.composition()?;
        let alone = &composition.entries().iter().find(|entry| entry.species.text() == "SiO2").unwrap().cell;
        met.insert(format!("{:?}", core::mem::discriminant(alone)));
        match alone {
            Cell::Below { limit } => {
                let finding = said("limit.read").unwrap();
                assert_eq!(
                    (finding.value.to_bits(), finding.quantity.as_str()),
                    (limit.to_bits(), "SiO2"),
                    "row {row}"
                );
                assert!(cell(&corrected, "SiO2_percent", row).is_none());
            }
            // the flux brings more silica than the limit
            Cell::Unknown => {
                assert!(said("limit.under-blank").is_some() && said("limit.read").is_none(), "row {row}");
                assert!(cell(&corrected, "SiO2_percent", row).is_none());
            }
            _ => assert!(said("limit.read").is_none() && said("limit.under-blank").is_none(), "row {row}"),
        }
    }
    assert_eq!(met.len(), 3, "values, limits and limits that say nothing");
    Ok(())
}

#[test]
fn nothing_about_the_run_changes_a_bit() -> Result<()> {
    let beads = Beads::new(ROWS);
    let (correction, table) = (correction()?, beads.columns()?);
    let uncertainty = Uncertainty::Covariance;
    let first = correction.run(&table, &RunOptions { uncertainty, ..RunOptions::default() })?;
    let expected = bits(&first);
    for set in InstructionSet::available() {
        for threads in [1, 2, 5] {
            for chunk_rows in [1, 7, 64, 4096] {
                let options = RunOptions { set, threads, chunk_rows, uncertainty, ..RunOptions::default() };
                let found = correction.run(&table, &options)?;
                assert!(bits(&found) == expected, "{}, {threads} threads, chunks of {chunk_rows}", set.word());
                assert!(texts(&found) == texts(&first), "{threads} threads, chunks of {chunk_rows}");
            }
        }
    }
    Ok(())
}

#[test]
fn the_order_of_rows_changes_no_row() -> Result<()> {
    let beads = Beads::new(ROWS);
    let correction = correction()?;
    let options = RunOptions { uncertainty: Uncertainty::Covariance, ..RunOptions::default() };
    let straight = correction.run(&beads.columns()?, &options)?;
    // 75 and 203 have no common factor
    let order: Vec<usize> = (0..ROWS).map(|row| row * 75 % ROWS).collect();
    assert_eq!(order.iter().collect::<HashSet<_>>().len(), ROWS);
    let permuted = correction.run(&beads.picked(&order).columns()?, &options)?;
    for column in 0..straight.columns().len() {
        for (row, &from) in order.iter().enumerate() {
            let found = permuted.numbers()[column * ROWS + row].to_bits();
            assert_eq!(found, straight.numbers()[column * ROWS + from].to_bits(), "column {column}, row {row}");
        }
    }
    let codes: Vec<u16> = order.iter().map(|&from| straight.codes()[from]).collect();
    assert_eq!(permuted.codes(), codes);
    Ok(())
}

/// The way through contributions and the way through derivatives add up in different orders.
const ORDER: f64 = 1e-10;

#[test]
fn uncertainties_and_covariances_are_those_of_the_bead_alone() -> Result<()> {
    let beads = Beads::new(ROWS);
    let options = RunOptions { uncertainty: Uncertainty::Covariance, ..RunOptions::default() };
    let found = correction()?.run(&beads.columns()?, &options)?;
    for row in 0..ROWS {
        let alone = beads.alone(row)?;
        for (place, one) in READ.iter().enumerate() {
            let u = cell(&found, &format!("{one}_percent_u"), row);
            assert_eq!(u.is_some(), alone.value(one).is_ok(), "row {row}, u of {one}");
            let Some(u) = u else { continue };
            assert!((u / percent(alone.u(one)?) - 1.0).abs() < ORDER, "row {row}, u of {one}");
            for other in &READ[place..] {
                let held = cell(&found, &format!("{one}_{other}_covariance"), row);
                assert_eq!(held.is_some(), alone.value(other).is_ok(), "row {row}, {one} and {other}");
                let Some(held) = held else { continue };
                let expected = percent(percent(alone.covariance(one, other)?));
                let size = percent(alone.u(one)?) * percent(alone.u(other)?);
                assert!((held - expected).abs() < ORDER * size, "row {row}, covariance of {one} and {other}");
            }
        }
    }
    Ok(())
}

#[test]
fn another_loss_of_a_lot_is_what_the_raw_numbers_give_by_it() -> Result<()> {
    const RIGHT: f64 = 0.0088;
    // beside 0.5 g of salt the blank of the flux is all that does not go with the dilution of calcium
    const EXACT: f64 = 1e-12;
    let beads = Beads::new(ROWS);
    let old = correction()?;
    let new = old.with_flux_loss("F-2", Estimate::new(RIGHT, 0.0003)?)?;
    let changed = Recorrection::new(old.clone(), new)?.only("flux_lot", "F-2");
    let stored: Recorrection = from_json(&to_json(&changed)?)?;
    let changed = stored.run(&beads.columns()?, &RunOptions::default())?;
    for row in 0..ROWS {
        let before = beads.alone(row)?;
        let melt = beads.melt(row, [0.004, if beads.lots[row] == "F-2" { RIGHT } else { 0.0062 }])?;
        let after = melt.undilute(&beads.readings(row)?)?;
        for species in READ {
            for (part, result) in [("old", &before), ("new", &after)] {
                let found = cell(&changed, &format!("{species}_percent_{part}"), row).map(f64::to_bits);
                let expected = result.value(species).ok().map(|value| percent(value).to_bits());
                assert_eq!(found, expected, "row {row}, {species} {part}");
            }
        }
        let factor = cell(&changed, "CaO_percent_new", row).unwrap() / cell(&changed, "CaO_percent_old", row).unwrap();
        let dilutions = melt.dilution().value() / before.melt().dilution().value();
        assert!((factor / dilutions - 1.0).abs() < EXACT, "evaluation (b): as the dilution, row {row}");
        let of_flux = melt.fused_flux_ratio().value() / before.melt().fused_flux_ratio().value();
        assert_eq!((of_flux / dilutions - 1.0).abs() > 1e-5, beads.lots[row] == "F-2", "not as the fused flux");
    }
    Ok(())
}

#[test]
fn what_rows_and_the_run_say() -> Result<()> {
    let beads = Beads::new(9);
    let options = RunOptions { uncertainty: Uncertainty::Variance, ..RunOptions::default() };
    let found = correction()?.run(&beads.columns()?, &options)?;
    for row in 0..9 {
        let sodium: Vec<&str> = found
            .findings()
            .iter()
            .filter(|finding| finding.row == row && finding.quantity == "Na2O")
            .map(|finding| finding.text.as_str())
            .collect();
        let alone = beads.alone(row as usize)?;
        let expected =
            alone.findings().into_iter().find(|finding| finding.code.word() == "analyte.brought-by-addition");
        assert_eq!(sodium, [expected.unwrap().text], "as the bead alone says");
    }
    assert_eq!(found.notes(), [], "all u are stated, all columns are read, there is a total");
    let unstated = correction()?.field(reading("MgO"))?.run(&beads.columns()?, &options)?;
    let texts: Vec<&str> = unstated.notes().iter().map(|note| note.text.as_str()).collect();
    assert_eq!(texts, ["No uncertainty was stated for MgO in the glass; every u is \"at least\"."]);
    Ok(())
}

#[test]
fn the_stored_form_gives_the_same_bits_and_older_ones_have_no_new_field() -> Result<()> {
    let correction = correction()?.also_on(Basis::AsReceived)?;
    let text = to_json(&correction)?;
    let stored: Correction = from_json(&text)?;
    assert_eq!((&stored, digest(&stored)?), (&correction, digest(&correction)?));
    let beads = Beads::new(ROWS);
    let [one, two] = [&correction, &stored].map(|held| held.run(&beads.columns().unwrap(), &RunOptions::default()));
    assert_eq!(bits(&one?), bits(&two?));
    let provenance = correction.provenance()?;
    assert_eq!(
        (provenance.method.as_str(), provenance.method_digest.as_str()),
        (Evaluation::GlassFractions.text(), "")
    );
    let old = example()?.provenance()?;
    let moved = |from: &TableProvenance, to: &TableProvenance| {
        let changes = from.changes(to).into_iter();
        changes.filter(|change| change.what == "method").map(|change| (change.old, change.new)).collect::<Vec<_>>()
    };
    let by = format!("{} ({})", old.method, &old.method_digest[..12]);
    assert_eq!(moved(&old, &provenance), [(by, provenance.method.clone())]);
    // the fields of a correction by a method are those of its first schema: digests that were written hold
    let by_method: serde_json::Value = serde_json::from_str(&to_json(&example()?)?).unwrap();
    let mut keys: Vec<&str> = by_method["body"].as_object().unwrap().keys().map(String::as_str).collect();
    keys.sort_unstable();
    assert_eq!(
        (keys, &by_method["schema"]),
        (vec!["fields", "form", "fusion", "method", "recipe", "weights"], &1.into())
    );
    // one of the two, never both or none
    let mut both: serde_json::Value = serde_json::from_str(&text).unwrap();
    both["body"]["method"] = by_method["body"]["method"].clone();
    let refused = from_json::<Correction>(&both.to_string()).unwrap_err();
    assert!(refused.to_string().contains("both there"), "{refused}");
    for field in ["method", "glass"] {
        both["body"].as_object_mut().unwrap().remove(field);
    }
    let refused = from_json::<Correction>(&both.to_string()).unwrap_err();
    assert_eq!(refused.code().word(), "document.malformed");
    Ok(())
}

#[test]
fn what_belongs_to_lines_is_refused_where_the_glass_is_read() -> Result<()> {
    let recipe = || charge(&lot("F-1", 0.004).unwrap(), [0.8, 8.0, 0.5]).unwrap();
    let field = |quantity: Quantity| correction().unwrap().field(Field::new(quantity)).map(|_| ());
    let of = |components: &[&str]| Correction::of_glass(components, recipe()).map(|_| ());
    let monitor = Monitor::new("M-1", [("Ca Ka", 1000.0)])?.reading("2026-03-14T08:00", [("Ca Ka", 990.0)])?;
    let by_method = example()?.form(Form::Species(Vec::new()));
    let same_results = Correction::of_glass(["CaO", "MgO", "SiO2"], recipe())?;
    for (name, refused, code) in [
        ("nothing read", of(&[]), "table.layout"),
        ("no formula", of(&["CaO", "Xx"]), "formula.element-unknown"),
        ("one oxide twice", of(&["CaO", "CaO"]), "species.doubled"),
        ("two forms of iron", of(&["FeO", "Fe2O3"]), "species.element-twice"),
        ("no single element", of(&["CaO", "KAlSi3O8"]), "factor.several-common-elements"),
        ("an intensity", field(Quantity::Intensity("Ca Ka".to_owned())), "table.layout"),
        ("a peak", field(Quantity::Peak("Ca Ka".to_owned())), "table.layout"),
        ("a known component", field(Quantity::Known("SO3".to_owned())), "table.layout"),
        ("a class", field(Quantity::Class), "table.layout"),
        ("a version of a method", field(Quantity::MethodVersion), "table.layout"),
        ("a time", field(Quantity::Time), "table.layout"),
        ("what is not read", field(Quantity::Glass("K2O".to_owned())), "species.unknown"),
        ("an addition too many", field(Quantity::Addition(2)), "species.unknown"),
        ("monitors", correction()?.drift(Drift::one_point(monitor)).map(|_| ()), "table.layout"),
        ("a counting time", correction()?.counting(40.0).map(|_| ()), "table.layout"),
        ("a method", correction()?.with_method(Method::template()?).map(|_| ()), "table.layout"),
        ("glass by a method", example()?.field(reading("CaO")).map(|_| ()), "table.layout"),
        ("two evaluations", Recorrection::new(by_method, same_results).map(|_| ()), "table.layout"),
        ("counted glass", reading("CaO").spread(Spread::Counting(40.0)).map(|_| ()), "table.layout"),
        ("glass in grams", reading("CaO").in_unit("mg").map(|_| ()), "word.unknown"),
    ] {
        let error = refused.expect_err(name);
        assert_eq!(error.code().word(), code, "{name}: {error}");
    }
    assert_eq!((correction()?.method(), correction()?.evaluation()), (None, Evaluation::GlassFractions));
    Ok(())
}
