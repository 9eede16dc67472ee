//! Rows that are looked at alone say and give what their bead alone does.

use beadchem::Result;
use beadchem::batch::{
    Column, Columns, Corrected, Correction, Field, FusionLoss, Numbers, Quantity, RunOptions, Spread, Uncertainty,
    example,
};
use beadchem::charge::{Charge, FluxLot, Form, Melt, Sample};
use beadchem::composition::{Basis, BasisLinks, Unit};
use beadchem::matrix::{Calibration, CoefficientSet, Conditions, Derivation, Influence, Label, LineReading};
use beadchem::method::{Assay, Measurement, Method};
use beadchem::substance::Weights;
use beadchem::uncertainty::Estimate;

/// Contributions and derivatives add up in different orders, here through a system with a condition of some hundreds.
const ORDER: f64 = 1e-9;

fn run(correction: &Correction, columns: &[(&str, Vec<f64>)], uncertainty: Uncertainty) -> Result<Corrected> {
    let mut table = Columns::new(columns[0].1.len());
    for (name, values) in columns {
        table.push(*name, Column::Numbers(Numbers::new(values)))?;
    }
    correction.run(&table, &RunOptions { uncertainty, ..RunOptions::default() })
}

/// The codes and texts said of a row.
fn said(found: &Corrected, row: u64) -> Vec<(&'static str, String)> {
    let of_row = found.findings().iter().filter(|finding| finding.row == row);
    of_row.map(|finding| (finding.code.word(), finding.text.clone())).collect()
}

fn number(found: &Corrected, column: &str, row: usize) -> Option<f64> {
    found.column(column).unwrap().get(row)
}

fn lot() -> Result<FluxLot> {
    FluxLot::new("F-1", [("Li2B4O7", 0.5), ("LiBO2", 0.5)], "1050 C, 18 min", Estimate::new(0.004, 0.0003)?)
}

fn charge(sample_g: f64, flux_g: f64) -> Result<Charge> {
    Charge::new(Sample::dried(Estimate::new(sample_g, 1e-4)?)?, lot()?.weigh_g(Estimate::new(flux_g, 1e-4)?)?)
}

fn melt(sample_g: f64, flux_g: f64) -> Result<Melt> {
    charge(sample_g, flux_g)?.fuse_with_loss(&Weights::ciaaw_2024(), Estimate::new(0.1, 0.001)?)
}

fn label(name: &str) -> Result<Label> {
    Label::new(name, "1", "invented for these tests")
}

/// Two lines whose elimination wants exchanged rows at contents of a half each.
fn stubborn() -> Result<Method> {
    let rows = [Influence::new("Fe Ka", "Fe2O3", [10.0, -1.95]), Influence::new("Si Ka", "SiO2", [0.3, 0.1])];
    let made_for = Conditions::new(10.0)?.with_range(8.0, 12.0)?;
    let set = CoefficientSet::new(label("stubborn")?, Derivation::Stated, made_for, ["Fe2O3", "SiO2"], rows)?;
    let calibration = Calibration::new(label("spring")?, Basis::Dried)
        .sensitivity("Fe Ka", Estimate::new(1e-3, 1e-6)?)?
        .sensitivity("Si Ka", Estimate::new(1e-3, 2e-6)?)?;
    Method::new(label("stubborn")?, set, calibration)
}

#[test]
fn a_row_with_exchanged_rows_has_its_u_its_covariances_and_its_further_bases() -> Result<()> {
    let seconds = 40.0;
    // F is 10: w 0.5 and 0.5 in the second row, little in the others
    let flux_g = 10.0 / 0.996;
    let (iron, silicon) = ([40.0, 0.5e3 / 5.025, 41.0], [60.0, 0.5e3 / 1.2, 59.0]);
    let columns = [
        ("sample_g", vec![1.0; 3]),
        ("flux_g", vec![flux_g; 3]),
        ("moisture_percent", vec![0.8; 3]),
        ("Fe_Ka_cps", iron.to_vec()),
        ("Si_Ka_cps", silicon.to_vec()),
    ];
    let correction = Correction::new(stubborn()?, charge(1.0, flux_g)?)?
        .fusion(FusionLoss::Fixed(Estimate::new(0.1, 0.001)?))?
        .field(Field::new(Quantity::Moisture).spread(Spread::Fixed(0.05))?)?
        .counting(seconds)?
        .also_on(Basis::AsReceived)?;
    let found = run(&correction, &columns, Uncertainty::Covariance)?;
    let links = BasisLinks::default().moisture(Estimate::new(0.008, 0.0005)?)?;
    for row in 0..3 {
        let measured = |line: &str, cps: f64| LineReading::net(line, Estimate::new(cps, (cps / seconds).sqrt())?);
        let measurement = Measurement::new("B").reading(measured("Fe Ka", iron[row])?)?;
        let measurement = measurement.reading(measured("Si Ka", silicon[row])?)?;
        let assay = stubborn()?.assay(&melt(1.0, flux_g)?, &measurement)?;
        let received = assay.on(Basis::AsReceived, &links, &Form::AsRead)?;
        let exchanged = |held: &Assay| held.findings().iter().any(|held| held.code.word() == "matrix.rows-exchanged");
        assert_eq!(
            said(&found, row as u64).iter().any(|(code, _)| *code == "matrix.rows-exchanged"),
            exchanged(&assay)
        );
        assert_eq!(exchanged(&assay), row == 1, "the second row wants it");
        let percent = |fraction: f64| Unit::Percent.written(fraction);
        for (place, one) in ["Fe2O3", "SiO2"].iter().enumerate() {
            let value = number(&found, &format!("{one}_percent"), row).unwrap();
            assert_eq!(value.to_bits(), percent(assay.value(one)?).to_bits(), "row {row}, {one}");
            let value = number(&found, &format!("{one}_as_received_percent"), row).unwrap();
            assert_eq!(value.to_bits(), percent(received.value(one)?).to_bits(), "row {row}, {one} as received");
            let u = number(&found, &format!("{one}_percent_u"), row).unwrap();
            assert!((u / percent(assay.u(one)?) - 1.0).abs() < ORDER, "row {row}, u of {one}");
            for other in &["Fe2O3", "SiO2"][place..] {
                let held = number(&found, &format!("{one}_{other}_covariance"), row).unwrap();
                let expected = percent(percent(assay.covariance(one, other)?));
                let size = percent(assay.u(one)?) * percent(assay.u(other)?);
                assert!((held - expected).abs() < ORDER * size, "row {row}, covariance of {one} and {other}");
            }
        }
    }
    Ok(())
}

#[test]
fn a_result_below_zero_is_judged_by_its_u_as_that_of_a_bead_alone() -> Result<()> {
    let (mut kept, mut refused) = (0, 0);
    for (cps, u) in [(-3.0, 1.0), (-100.0, 1.0), (-100.0, 40.0), (-150.0, 1.0), (-400.0, 20.0), (-900.0, 400.0)] {
        let columns = [
            ("sample_g", vec![0.8; 9]),
            ("flux_g", vec![8.0; 9]),
            ("Ca_Ka_cps", vec![13_500.0; 9]),
            ("Mg_Ka_cps", vec![1_710.0; 9]),
            ("Si_Ka_cps", vec![cps; 9]),
        ];
        let mut correction = example()?.fusion(FusionLoss::Fixed(Estimate::new(0.1, 0.001)?))?.counting(40.0)?;
        let silicon = Field::new(Quantity::Intensity("Si Ka".to_owned()));
        correction = correction.field(silicon.spread(Spread::Fixed(u))?)?;
        let counted = |line: &str, cps: f64| LineReading::net(line, Estimate::new(cps, (cps / 40.0).sqrt())?);
        let measurement = Measurement::new("B")
            .reading(counted("Ca Ka", 13_500.0)?)?
            .reading(counted("Mg Ka", 1_710.0)?)?
            .reading(LineReading::net("Si Ka", Estimate::new(cps, u)?)?)?;
        let alone = Method::template()?.assay(&melt(0.8, 8.0)?, &measurement);
        for uncertainty in [Uncertainty::None, Uncertainty::Variance] {
            let found = run(&correction, &columns, uncertainty)?;
            match &alone {
                Ok(assay) => {
                    let value = number(&found, "SiO2_percent", 8).expect("kept alone, kept in a table");
                    assert_eq!(value.to_bits(), Unit::Percent.written(assay.value("SiO2")?).to_bits());
                    kept += 1;
                }
                Err(error) => {
                    assert_eq!(number(&found, "SiO2_percent", 8), None, "{cps} cps, u {u}: {error}");
                    assert!(
                        said(&found, 8).contains(&(error.code().word(), error.to_string())),
                        "{:?}",
                        said(&found, 8)
                    );
                    refused += 1;
                }
            }
        }
    }
    assert!(kept > 3 && refused > 3, "both happen: {kept} kept, {refused} refused");
    Ok(())
}

#[test]
fn where_no_u_is_stated_only_a_hundredth_below_zero_is_refused() -> Result<()> {
    let row = |cps: f64| {
        [
            ("sample_g", vec![0.8]),
            ("flux_g", vec![8.0]),
            ("Ca_Ka_cps", vec![13_500.0]),
            ("Mg_Ka_cps", vec![1_710.0]),
            ("Si_Ka_cps", vec![cps]),
        ]
    };
    let near = run(&example()?, &row(-100.0), Uncertainty::None)?;
    assert!(number(&near, "SiO2_percent", 0).is_some_and(|percent| (-1.0..-0.1).contains(&percent)));
    let far = run(&example()?, &row(-900.0), Uncertainty::None)?;
    assert_eq!(number(&far, "SiO2_percent", 0), None);
    Ok(())
}

/// Two classes of carbonate rock, each with the contents its coefficients were made for.
fn classes() -> Result<Method> {
    let components = ["CaO", "MgO", "SiO2"];
    let class = |name: &str, shift: f64, ranges: [(f64, f64); 3]| {
        let rows = [
            Influence::new("Ca Ka", "CaO", [0.15, 0.13, 0.17 + shift]).with_sensitivity(1.0),
            Influence::new("Mg Ka", "MgO", [0.17 + shift, 0.10, 0.15]).with_sensitivity(1.1),
            Influence::new("Si Ka", "SiO2", [0.15 + shift, 0.29, 0.14]).with_sensitivity(0.9),
        ];
        let mut made_for = Conditions::new(10.0)?.with_range(8.5, 11.5)?;
        for (component, (low, high)) in components.iter().zip(ranges) {
            made_for = made_for.with_content_range(component, low, high)?;
        }
        CoefficientSet::new(label(name)?, Derivation::Stated, made_for, components, rows)
    };
    let marble = class("marble", 0.0, [(0.25, 0.6), (0.0, 0.25), (0.0, 0.05)])?;
    let marl = class("marl", 0.01, [(0.2, 0.6), (0.0, 0.3), (0.04, 0.4)])?;
    let calibration = Calibration::new(label("spring")?, Basis::Dried)
        .sensitivity("Ca Ka", Estimate::new(2.1e-5, 1.5e-8)?)?
        .sensitivity("Mg Ka", Estimate::new(1.1e-4, 1.2e-7)?)?
        .sensitivity("Si Ka", Estimate::new(2.6e-5, 4.0e-8)?)?;
    Method::new(label("rock")?, marble, calibration)?.class(marl)
}

#[test]
fn contents_beyond_the_coefficients_are_told_of_in_the_words_of_a_bead_alone() -> Result<()> {
    // within; silica of a marl; more silica than any class knows; no lime; another ratio of the flux
    let silicon = [600.0, 6_000.0, 26_000.0, 600.0, 6_000.0, 600.0];
    let lime = [13_500.0, 13_500.0, 13_500.0, 2_000.0, 13_500.0, 13_500.0];
    let flux = [8.0, 8.0, 8.0, 8.0, 8.8, 8.0];
    let columns = [
        ("sample_g", vec![0.8; 6]),
        ("flux_g", flux.to_vec()),
        ("Ca_Ka_cps", lime.to_vec()),
        ("Mg_Ka_cps", vec![1_700.0; 6]),
        ("Si_Ka_cps", silicon.to_vec()),
    ];
    let mut lengths = Vec::new();
    // words and texts are the same whatever the results are written as
    for form in [Form::AsRead, Form::Elements] {
        let correction = Correction::new(classes()?, charge(0.8, 8.0)?)?.form(form);
        let found = run(&correction.fusion(FusionLoss::Fixed(0.1.into()))?, &columns, Uncertainty::None)?;
        for row in 0..6 {
            let mut measurement = Measurement::new("B");
            for (line, cps) in [("Ca Ka", lime[row]), ("Mg Ka", 1_700.0), ("Si Ka", silicon[row])] {
                measurement = measurement.reading(LineReading::net(line, cps)?)?;
            }
            let assay = classes()?.assay(&melt(0.8, flux[row])?, &measurement)?;
            let outside = |code: &str| code == "coefficients.outside-range";
            let expected: Vec<String> =
                assay.findings().into_iter().filter(|held| outside(held.code.word())).map(|held| held.text).collect();
            let texts: Vec<String> =
                said(&found, row as u64).into_iter().filter(|(code, _)| outside(code)).map(|(_, text)| text).collect();
            assert_eq!(texts, expected, "row {row}");
            lengths.push(texts.len());
            assert_eq!(
                texts.iter().any(|text| text.contains("Re-centred at marl")),
                [1, 4].contains(&row),
                "row {row}"
            );
        }
    }
    assert_eq!(lengths, [0, 1, 1, 1, 1, 0].repeat(2));
    Ok(())
}
