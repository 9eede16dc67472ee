//! A manganese ore whose total depends on the oxide it is written as.

use beadchem::charge::Fate;
use beadchem::composition::{Basis, Composition, LossOnIgnition, Unit};
use beadchem::error::Result;
use beadchem::substance::factor;

use super::{Paper, figure, m, percent, printed, sum};
use crate::support::{ROUNDING, a, assert_close, content, forms, fuse_pure, weights};

/// Dried, g/g, beside 48.2 % of manganese.
const OTHERS: [(&str, f64); 8] = [
    ("Fe2O3", 0.074),
    ("SiO2", 0.059),
    ("Al2O3", 0.046),
    ("K2O", 0.010),
    ("BaO", 0.0045),
    ("CaO", 0.005),
    ("MgO", 0.003),
    ("P2O5", 0.002),
];
const MANGANESE: f64 = 0.482;
const LOSS: f64 = 0.1273;
const PAPER: Paper = Paper { sample_g: 0.4, flux_g: 8.0, flux_loss: 0.0035, loss: LOSS, residue_g: 0.0 };
const AS_MN3O4: f64 = MANGANESE * m::MN3O4 / (3.0 * a::MN);
const AS_MNO2: f64 = MANGANESE * m::MNO2 / a::MN;

#[test]
fn one_manganese_in_four_forms() -> Result<()> {
    for (oxide, on_paper, print) in
        [("MnO", MANGANESE * m::MNO / a::MN, "62.24"), ("Mn3O4", AS_MN3O4, "66.92"), ("MnO2", AS_MNO2, "76.27")]
    {
        percent(oxide, MANGANESE * factor("Mn", oxide, &weights())?.value(), on_paper, print);
    }
    let to_mn3o4 = Fate::new().stays_as("Mn", "Mn3O4")?;
    let change = |oxide| Ok(-fuse_pure(oxide, &to_mn3o4)?.loss_on_fusion());
    let changes: [Result<f64>; 2] = [change("MnO2"), change("MnO")];
    let [dioxide, monoxide] = changes;
    percent("MnO2", dioxide?, m::MN3O4 / (3.0 * m::MNO2) - 1.0, "-12.27");
    percent("MnO", monoxide?, m::MN3O4 / (3.0 * m::MNO) - 1.0, "7.52");
    Ok(())
}

/// As Mn3O4 with the whole loss, or as MnO2 with what is left of the loss without its oxygen: one sum.
#[test]
fn both_totals_of_the_manganese_ore_agree() -> Result<()> {
    let as_dioxide = forms(Basis::Dried, &OTHERS)?.with("MnO2", AS_MNO2)?;
    let as_mn3o4 = as_dioxide.written_as("MnO2", "Mn3O4", &weights())?;
    let (dioxide_sum, mn3o4_sum) = (as_dioxide.total(None)?.value, as_mn3o4.total(None)?.value);
    percent("as Mn3O4", mn3o4_sum, sum(&OTHERS) + AS_MN3O4, "87.27");
    percent("as MnO2", dioxide_sum, sum(&OTHERS) + AS_MNO2, "96.62");
    let oxygen = dioxide_sum - mn3o4_sum;
    percent("oxygen", oxygen, MANGANESE / a::MN * 2.0 / 3.0 * a::O, "9.36");
    printed("loss without oxygen in per cent", Unit::Percent.written(LOSS - oxygen), "3.37");
    let first = as_mn3o4.total(Some(&LossOnIgnition::new(LOSS, 1000.0)?))?.value;
    percent("with the loss", first, sum(&OTHERS) + AS_MN3O4 + LOSS, "100.00");
    let second = as_dioxide.total(Some(&LossOnIgnition::new(LOSS - oxygen, 1000.0)?))?.value;
    percent("with the loss without oxygen", second, first, "100.00");
    Ok(())
}

#[test]
fn manganese_ore_comes_back_from_its_bead() -> Result<()> {
    let given_off = AS_MNO2 - AS_MN3O4;
    let mut contents = OTHERS.to_vec();
    contents.extend([("MnO2", AS_MNO2), ("H2O", LOSS - given_off)]);
    let mut oxides = OTHERS.to_vec();
    oxides.push(("Mn3O4", AS_MN3O4));
    let melt = PAPER.fuse(&PAPER.charge(&contents)?, &Fate::new().stays_as("Mn", "Mn3O4")?, &oxides)?;
    figure("dilution", melt.dilution().value(), PAPER.dilution(), "20.80");
    let back = -melt.ledger().oxygen.from_air_g / PAPER.sample_g;
    assert_close("oxygen", back, given_off, ROUNDING);
    Ok(())
}

/// Source: certificate of analysis of the reference material OREAS 170b, manganese ore (borate fusion with X-ray
/// fluorescence, loss on ignition), %.
#[test]
#[expect(clippy::approx_constant, reason = "0.318 is soda, not 1 / pi")]
fn a_certificate_closes_or_not_by_its_manganese_oxide() -> Result<()> {
    let certified = [
        ("MnO", 59.46),
        ("Fe2O3", 7.04),
        ("SiO2", 9.49),
        ("Al2O3", 3.90),
        ("MgO", 0.329),
        ("CaO", 0.270),
        ("TiO2", 0.189),
        ("K2O", 1.80),
        ("P2O5", 0.195),
        ("Na2O", 0.318),
    ];
    let start = Composition::new(Basis::Dried);
    let ore =
        certified.iter().try_fold(start, |ore, &(oxide, content)| ore.with(oxide, Unit::Percent.fraction(content)))?;
    let loss = LossOnIgnition::new(0.1195, 1000.0)?;
    let with_mno = ore.total(Some(&loss))?.value;
    percent("with MnO", with_mno, Unit::Percent.fraction(sum(&certified) + 11.95), "94.94");
    let with_mn3o4 = ore.written_as("MnO", "Mn3O4", &weights())?;
    let from_oxide = 0.5946 * m::MN3O4 / (3.0 * m::MNO);
    percent("Mn3O4 from MnO", content(&with_mn3o4, "Mn3O4"), from_oxide, "63.93");
    percent("with Mn3O4", with_mn3o4.total(Some(&loss))?.value, with_mno - 0.5946 + from_oxide, "99.41");
    let from_element = 0.4606 * factor("Mn", "Mn3O4", &weights())?.value();
    percent("Mn3O4 from Mn", from_element, 0.4606 * m::MN3O4 / (3.0 * a::MN), "63.945");
    let from_manganese = ore.written_as("MnO", "Mn", &weights())?;
    let others = ore.total(Some(&loss))?.value - content(&ore, "MnO");
    assert_close("others", from_manganese.total(Some(&loss))?.value - content(&from_manganese, "Mn"), others, ROUNDING);
    percent("with it", others + from_element, with_mno - 0.5946 + 0.4606 * m::MN3O4 / (3.0 * a::MN), "99.43");
    Ok(())
}
