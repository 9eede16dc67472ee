//! The loss of the furnace taken for that of the fusion, and totals in any form. The values expected are worked out by hand
//! here, from masses alone.

use beadchem::Result;
use beadchem::batch::{
    Column, Columns, Corrected, Correction, Field, FusionLoss, Numbers, Quantity, RunOptions, Spread, Uncertainty,
};
use beadchem::charge::{Charge, FluxLot, Form, Sample};
use beadchem::composition::Basis;
use beadchem::substance::Formula;

const SAMPLE_G: f64 = 0.8;
const FLUX_G: f64 = 8.0;
const FLUX_LOSS: f64 = 0.005;
const IN_GLASS: f64 = 4.0;
const MOISTURE: f64 = 0.20;
const LOSS: f64 = 0.40;
/// A few roundings of numbers of the order of a hundred.
const ROUNDING: f64 = 1e-12;
const IGNITED: Basis = Basis::Ignited { temperature_c: 1000.0 };

fn correction(weighed: Basis, read: &[&str]) -> Result<Correction> {
    let lot = FluxLot::new("F-1", [("Li2B4O7", 0.5), ("LiBO2", 0.5)], "1050 C, 18 min", FLUX_LOSS)?;
    let sample = Sample::new(SAMPLE_G, weighed)?;
    let correction = Correction::of_glass(read.iter().copied(), Charge::new(sample, lot.weigh_g(FLUX_G)?)?)?;
    correction
        .fusion(FusionLoss::AsOnIgnition)?
        .loss_temperature(1000.0)?
        .field(Field::new(Quantity::Moisture).optional())
}

fn table<'a>(cells: &'a [(&'a str, [f64; 1])]) -> Result<Columns<'a>> {
    let mut table = Columns::new(1);
    for (name, cell) in cells {
        table.push(*name, Column::Numbers(Numbers::new(cell)))?;
    }
    Ok(table)
}

const CELLS: [(&str, [f64; 1]); 5] = [
    ("sample_g", [SAMPLE_G]),
    ("flux_g", [FLUX_G]),
    ("CaO_glass_percent", [IN_GLASS]),
    ("loss_on_ignition_percent", [100.0 * LOSS]),
    ("moisture_percent", [100.0 * MOISTURE]),
];

fn cell(corrected: &Corrected, name: &str) -> f64 {
    corrected.column(name).and_then(|column| column.get(0)).unwrap_or(f64::NAN)
}

/// Grams of glass per gram of sample, for what is left of a gram of it.
fn dilution(left: f64) -> f64 {
    left + FLUX_G * (1.0 - FLUX_LOSS) / SAMPLE_G
}

#[test]
fn the_loss_counts_from_the_powder_as_weighed() -> Result<()> {
    let dry = 1.0 - MOISTURE;
    for (weighed, left) in [(Basis::Dried, 1.0 - LOSS), (Basis::AsReceived, dry * (1.0 - LOSS)), (IGNITED, 1.0)] {
        let corrected = correction(weighed, &["CaO"])?.run(&table(&CELLS)?, &RunOptions::default())?;
        assert!((cell(&corrected, "dilution") - dilution(left)).abs() < ROUNDING, "{weighed}");
        assert!((cell(&corrected, "CaO_percent") - IN_GLASS * dilution(left)).abs() < ROUNDING, "{weighed}");
    }
    Ok(())
}

#[test]
fn moist_powder_without_its_moisture_has_no_result_and_says_why() -> Result<()> {
    let corrected = correction(Basis::AsReceived, &["CaO"])?.run(&table(&CELLS[..4])?, &RunOptions::default())?;
    let finding = &corrected.findings()[0];
    assert_eq!(corrected.column("CaO_percent").and_then(|column| column.get(0)), None);
    assert_eq!(finding.code.word(), "basis.needs");
    assert!(finding.text.starts_with("Moisture as received"), "{}", finding.text);
    Ok(())
}

#[test]
fn air_dried_powder_takes_a_moisture_of_its_own() -> Result<()> {
    const OF_AIR: f64 = 0.03;
    let cells: Vec<_> = CELLS[..4].iter().copied().chain([("air_moisture_percent", [100.0 * OF_AIR])]).collect();
    let asked = correction(Basis::AirEquilibrated, &["CaO"])?
        .field(Field::new(Quantity::AirMoisture))?
        .also_on(Basis::Dried)?;
    let corrected = asked.run(&table(&cells)?, &RunOptions::default())?;
    let expected = IN_GLASS * dilution((1.0 - OF_AIR) * (1.0 - LOSS));
    assert!((cell(&corrected, "CaO_percent") - expected).abs() < ROUNDING);
    assert!((cell(&corrected, "CaO_dried_percent") - expected / (1.0 - OF_AIR)).abs() < ROUNDING);
    Ok(())
}

#[test]
fn one_loss_in_two_places_is_one_source_of_uncertainty() -> Result<()> {
    const U: f64 = 0.005;
    let stated = |quantity| Field::new(quantity).spread(Spread::Fixed(100.0 * U));
    let asked = correction(Basis::Dried, &["CaO"])?.on(IGNITED).field(stated(Quantity::LossOnIgnition)?)?;
    let options = RunOptions { uncertainty: Uncertainty::Variance, ..RunOptions::default() };
    let corrected = asked.run(&table(&CELLS)?, &options)?;
    // w = C (1 - L + f) / (1 - L), f the fused flux per sample, so dw/dL = C f / (1 - L)^2
    let (left, flux) = (1.0 - LOSS, dilution(0.0));
    assert!((cell(&corrected, "CaO_percent") - IN_GLASS * dilution(left) / left).abs() < ROUNDING);
    assert!((cell(&corrected, "CaO_percent_u") - IN_GLASS * flux / (left * left) * U).abs() < ROUNDING);
    Ok(())
}

#[test]
fn a_total_does_not_depend_on_the_form_of_the_results() -> Result<()> {
    let cells = [
        ("sample_g", [SAMPLE_G]),
        ("flux_g", [FLUX_G]),
        ("Fe2O3_glass_percent", [5.0]),
        ("CaO_glass_percent", [IN_GLASS]),
        ("loss_on_ignition_percent", [1.0]),
    ];
    let total = |form: Form, counted_as: &[&str]| -> Result<f64> {
        let asked = correction(Basis::Dried, &["Fe2O3", "CaO"])?.form(form);
        let asked = counted_as.iter().try_fold(asked, |asked, species| asked.counted_as(species))?;
        Ok(cell(&asked.run(&table(&cells)?, &RunOptions::default())?, "total_percent"))
    };
    // all iron is Fe2O3 after ignition, so whatever it is counted as, the loss gives its oxygen back
    let expected = (5.0 + IN_GLASS) * dilution(0.99) + 1.0;
    let species = |list: &[&str]| -> Result<Form> {
        Ok(Form::Species(list.iter().map(|species| Formula::parse(species)).collect::<Result<_>>()?))
    };
    for counted_as in [&[][..], &["FeO"], &["Fe3O4"], &["Fe2O3"]] {
        for form in [Form::AsRead, Form::Elements, species(&["FeO", "CaO"])?, species(&["Fe3O4", "CaO"])?] {
            let found = total(form.clone(), counted_as)?;
            assert!((found - expected).abs() < ROUNDING, "{form:?} {counted_as:?}: {found}");
        }
    }
    Ok(())
}

#[test]
fn what_was_not_read_of_an_element_does_not_change_how_another_finding_of_it_counts() -> Result<()> {
    let cells = [
        ("sample_g", [SAMPLE_G]),
        ("flux_g", [FLUX_G]),
        ("CaO_glass_percent", [IN_GLASS]),
        ("loss_on_ignition_percent", [1.0]),
        ("S_external", [1.0]),
    ];
    let total = |form: Form| -> Result<f64> {
        let sulfur = Field::new(Quantity::External("S".to_owned())).named("S_external");
        let reading = Field::new(Quantity::Glass("SO3".to_owned())).optional();
        let asked = correction(Basis::Dried, &["SO3", "CaO"])?.form(form).field(sulfur)?.field(reading)?;
        Ok(cell(&asked.run(&table(&cells)?, &RunOptions::default())?, "total_percent"))
    };
    assert!((total(Form::Elements)? - total(Form::AsRead)?).abs() < ROUNDING);
    Ok(())
}
