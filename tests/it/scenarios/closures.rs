//! The same materials through the closure: line by line, with the oxygen that is counted twice, and by every route to
//! one total.

use beadchem::code::Code;
use beadchem::composition::{Basis, ClosureOrder, Composition, Counted, ElementForms, External, LossOnIgnition, Unit};
use beadchem::error::Result;

use super::{m, percent, printed};
use crate::support::{ROUNDING, a, assert_close, forms, weights};

fn total(composition: &Composition, order: &ClosureOrder) -> Result<f64> {
    Ok(composition.closure(order, &weights())?.total().map_or(f64::NAN, |total| total.value()))
}

/// 97.0 % CaF2 read as lime and fluorine.
#[test]
fn fluorspar_closes_less_its_oxygen_equivalent() -> Result<()> {
    let others = [("SiO2", 0.016), ("Al2O3", 0.0035), ("Fe2O3", 0.002), ("MgO", 0.002)];
    let (lime, fluorine) = (0.97 * m::CAO / m::CAF2, 0.97 * 2.0 * a::F / m::CAF2);
    let spar = forms(Basis::Dried, &others)?.with("CaO", lime)?.with("F", fluorine)?;
    let closure = spar.closure(&ClosureOrder::new(), &weights())?;
    let taken_off: f64 =
        closure.lines().iter().filter(|line| line.contribution < 0.0).map(|line| line.contribution).sum();
    percent("oxygen equivalent", -taken_off, 0.97 * a::O / m::CAF2, "19.88");
    let sum = closure.total().map_or(f64::NAN, |total| total.value());
    percent("total", sum, 0.97 + 0.0235, "99.35");
    let whole = total(&spar, &ClosureOrder::new().without_oxygen_equivalent("F")?)?;
    percent("without it", whole, sum - taken_off, "119.23");
    Ok(())
}

/// Total iron 68.50 %, FeO 26.0 %, water 0.25 %.
#[test]
fn three_routes_to_the_total_of_magnetite() -> Result<()> {
    let others = [
        ("SiO2", 0.0245),
        ("Al2O3", 0.0045),
        ("CaO", 0.0035),
        ("MgO", 0.0055),
        ("MnO", 0.0008),
        ("TiO2", 0.0012),
        ("P2O5", 0.0003),
    ];
    let gain = 0.26 * (m::FE2O3 / (2.0 * m::FEO) - 1.0);
    let loss = LossOnIgnition::new(0.0025 - gain, 1000.0)?;
    let counted = ClosureOrder::new().loss(&loss);
    let iron = ElementForms::split("Fe", 0.685, &[("FeO", 0.26.into())], "Fe2O3", &weights())?;
    let as_ferric = 0.685 * m::FE2O3 / (2.0 * a::FE);
    percent("ferric iron", iron.value("Fe2O3")?, as_ferric - 0.26 * m::FE2O3 / (2.0 * m::FEO), "69.04");
    percent("all iron", iron.total_as("Fe2O3", &weights())?.value(), as_ferric, "97.94");
    let on_paper = as_ferric + 0.0403 + 0.0025 - gain;
    // all iron as Fe2O3, with the signed loss
    let first = total(&forms(Basis::Dried, &others)?.with("Fe2O3", as_ferric)?, &counted)?;
    percent("all as Fe2O3", first, on_paper, "99.32");
    // the forms apart and the water, no loss
    let apart = iron.added_to(forms(Basis::Dried, &others)?)?.with("H2O", 0.0025)?;
    percent("forms apart", total(&apart, &ClosureOrder::new())?, first, "99.32");
    // the forms apart with the loss: the water is inside it, and the oxygen FeO took up is a line of its own
    let closure = apart.closure(&counted, &weights())?;
    percent("forms and loss", closure.total().map_or(f64::NAN, |total| total.value()), first, "99.32");
    let up =
        closure.lines().iter().find(|line| line.how == Counted::OxygenTakenUp).map_or(f64::NAN, |l| l.contribution);
    percent("taken up", up, gain, "2.895");
    let expected = closure.expected_loss().map_or(f64::NAN, |loss| loss.value());
    percent("loss to expect", expected, 0.0025 - gain, "-2.645");
    Ok(())
}

/// 48.2 % of manganese; see `manganese`.
#[test]
fn manganese_is_counted_as_its_convention_says() -> Result<()> {
    let ore = Composition::new(Basis::Dried).with("Mn", 0.482)?;
    for (oxide, on_paper, print) in [
        ("MnO", m::MNO / a::MN, "62.24"),
        ("Mn3O4", m::MN3O4 / (3.0 * a::MN), "66.92"),
        ("MnO2", m::MNO2 / a::MN, "76.27"),
    ] {
        percent(oxide, total(&ore, &ClosureOrder::new().counted_as(oxide)?)?, 0.482 * on_paper, print);
    }
    Ok(())
}

/// A raw mix whose alkali and sulfate stayed or left in the furnace: what left is inside the loss and counts once.
#[test]
fn what_left_with_the_loss_counts_once() -> Result<()> {
    let mix = Composition::new(Basis::Dried).with("CaO", 0.4310)?.with("SiO2", 0.1380)?.with("SO3", 0.0035)?;
    let loss = LossOnIgnition::new(0.349, 950.0)?;
    let stayed = total(&mix, &ClosureOrder::new().loss(&loss).left_in_furnace("SO3", 0.0)?)?;
    let left = total(&mix, &ClosureOrder::new().loss(&loss).left_in_furnace("SO3", 1.0)?)?;
    assert_close("stayed", stayed, 0.4310 + 0.1380 + 0.0035 + 0.349, ROUNDING);
    assert_close("counted twice", stayed - left, 0.0035, ROUNDING);
    let unsaid = mix.closure(&ClosureOrder::new().loss(&loss), &weights())?;
    assert!(unsaid.findings().iter().any(|finding| finding.code == Code::ClosureAssumed));
    Ok(())
}

/// 54.2 % CaO and 0.9 % MgO, as carbonates.
#[test]
fn a_limestone_cannot_lose_more_than_its_carbonates() -> Result<()> {
    let lime = Composition::new(Basis::Dried).with("CaO", 0.542)?.with("MgO", 0.009)?;
    let order = |loss| Ok::<_, beadchem::Error>(ClosureOrder::new().loss(&LossOnIgnition::new(loss, 1000.0)?));
    let ceiling = 0.542 * m::CO2 / m::CAO + 0.009 * m::CO2 / (a::MG + a::O);
    let above = |loss| {
        let closure = lime.closure(&order(loss)?, &weights())?;
        Ok::<_, beadchem::Error>(closure.above_carbonate_ceiling().map_or(f64::NAN, |above| above.value()))
    };
    assert_close("declared", above(0.431)?, 0.431 - ceiling, ROUNDING);
    assert!(above(0.431)? < 0.0, "43.1 % is below the ceiling");
    assert_close("overstated", above(0.45)?, 0.45 - ceiling, ROUNDING);
    printed("the ceiling in per cent", Unit::Percent.written(0.431 - above(0.431)?), "43.52");
    let stated = External::new("CO2", 0.425, Basis::Dried, "combustion")?;
    let with = lime.closure(&order(0.431)?.external(stated), &weights())?;
    assert_close("carbon dioxide is inside the loss", with.without_loss().value(), 0.551, ROUNDING);
    Ok(())
}
