//! Bead masses and residues. Sample and flux of the first case: recipe of a university X-ray laboratory (0.4000 g of
//! ignited rock in 3.6000 g of Li2B4O7, nine to one); everything else is derived, with the inputs written out.

use beadchem::charge::{Addition, Amount, Charge, Fate, ReducesTo, Sample};
use beadchem::composition::{Basis, Composition};
use beadchem::error::Result;

use crate::support::{ROUNDING, a, assert_close, blend, tetraborate, weights};

/// Half a unit of the last printed place.
const SIX_PLACES: f64 = 5e-7;
const SEVEN_PLACES: f64 = 5e-8;
/// A loss printed in per cent to two places.
const TWO_PLACES_OF_A_PERCENT: f64 = 5e-5;

fn bead(sample: Sample, flux_g: f64, flux_loss: f64, loss: f64) -> Result<beadchem::charge::Melt> {
    Charge::new(sample, tetraborate(flux_loss)?.weigh_g(flux_g)?)?.fuse_with_loss(&weights(), loss)
}

#[test]
fn nine_to_one_without_losses() -> Result<()> {
    let melt = bead(Sample::new(0.4, Basis::ignited(1000.0)?)?, 3.6, 0.0, 0.0)?;
    assert_close("bead", melt.bead_mass_g(), 4.0, ROUNDING);
    assert_close("sample fraction", 1.0 / melt.dilution().value(), 0.1, ROUNDING);
    assert_close("dilution", melt.dilution().value(), 10.0, ROUNDING);
    assert_close("flux ratio", melt.flux_ratio().value(), 9.0, ROUNDING);
    Ok(())
}

#[test]
fn with_a_loss_of_sample_and_flux() -> Result<()> {
    let melt = bead(Sample::new(0.4, Basis::AsReceived)?, 3.6, 0.0040, 0.1195)?;
    // 0.4 * 0.8805 + 3.6 * 0.996 = 0.35220 + 3.58560
    let glass = 0.352_20 + 3.585_60;
    assert_close("bead", melt.bead_mass_g(), glass, ROUNDING);
    let ignited_fraction = (1.0 - melt.loss_on_fusion()) / melt.dilution().value();
    assert!((ignited_fraction - 0.089_440_8).abs() <= SEVEN_PLACES, "{ignited_fraction}");
    let as_received_fraction = 1.0 / melt.dilution().value();
    assert!((as_received_fraction - 0.101_579_6).abs() <= SEVEN_PLACES, "{as_received_fraction}");
    // a reading x of the bead is x * 3.93780 / 0.4 of the sample as received
    let reading = Composition::new(Basis::Bead).with("CaO", 0.05)?;
    let result = melt.undilute(&reading)?;
    assert_eq!(result.basis(), Basis::AsReceived);
    assert_close("factor", result.value("CaO")? / 0.05, 9.844_50, ROUNDING);
    Ok(())
}

#[test]
fn a_catch_weight_read_as_nominal() -> Result<()> {
    let nominal = bead(Sample::dried(0.4)?, 3.6, 0.0, 0.0)?;
    let actual = bead(Sample::dried(0.4123)?, 3.6050, 0.0, 0.0)?;
    // (0.4 / 4.0) / (0.4123 / 4.0173)
    let correction = actual.dilution().value() / nominal.dilution().value();
    assert!((correction - 0.974_363).abs() <= SIX_PLACES, "{correction}");
    Ok(())
}

#[test]
fn a_dose_that_makes_up_for_the_flux_loss() -> Result<()> {
    // 3.6 / (1 - 0.004) = 3.614458; the printed dose is rounded to a microgram
    let melt = bead(Sample::dried(0.4)?, 3.614_458, 0.0040, 0.0)?;
    let fused = melt.fused_flux_ratio().value() * 0.4;
    assert!((fused - 3.6).abs() <= SIX_PLACES, "{fused}");
    Ok(())
}

#[test]
fn chalcopyrite_with_sodium_nitrate() -> Result<()> {
    for (fate, printed) in [(Fate::sulfur_kept(), 6.712_817), (Fate::new().lose("S", "SO2")?, 6.538_316)] {
        let sample = Sample::dried(0.2)?.made_of(Composition::new(Basis::Dried).with("CuFeS2", 1.0)?)?;
        let charge = Charge::new(sample, tetraborate(0.0)?.weigh_g(6.0)?)?;
        for route in ReducesTo::all() {
            let melt = charge
                .clone()
                .with(Addition::oxidant("NaNO3", Amount::mass_g(1.0)?, route)?)?
                .fuse(&weights(), &fate)?;
            let glass = melt.bead_mass_g();
            assert!((glass - printed).abs() <= SIX_PLACES, "{}: {glass}, printed {printed}", route.word());
        }
    }
    Ok(())
}

#[test]
fn nitrates_leave_their_oxide_whatever_their_nitrogen_does() -> Result<()> {
    let charge = Charge::new(Sample::dried(0.5)?, tetraborate(0.0)?.weigh_g(6.0)?)?;
    let nitrate = a::N + 3.0 * a::O;
    for (species, printed, by_hand) in [
        ("LiNO3", 0.216_690, (a::LI + 0.5 * a::O) / (a::LI + nitrate)),
        ("NaNO3", 0.364_606, (a::NA + 0.5 * a::O) / (a::NA + nitrate)),
        ("KNO3", 0.465_843, (a::K + 0.5 * a::O) / (a::K + nitrate)),
        ("Sr(NO3)2", 0.489_628, (a::SR + a::O) / (a::SR + 2.0 * nitrate)),
    ] {
        for route in ReducesTo::all() {
            let oxidant = Addition::oxidant(species, Amount::mass_g(1.0)?, route)?;
            let residue = charge.clone().with(oxidant)?.fuse_with_loss(&weights(), 0.0)?.bead_mass_g() - 6.5;
            assert_close(species, residue, by_hand, ROUNDING);
            assert!((residue - printed).abs() <= SIX_PLACES, "{species}: {residue}, printed {printed}");
        }
    }
    Ok(())
}

#[test]
fn a_tenth_of_carbonate_in_the_flux_loses_its_carbon_dioxide() -> Result<()> {
    let lot = blend(&[("Li2B4O7", 90.0), ("Li2CO3", 10.0)], 0.0)?;
    let melt = Charge::new(Sample::dried(0.5)?, lot.weigh_g(8.0)?)?.fuse_with_loss(&weights(), 0.0)?;
    // 0.1 * 44.009 / 73.888 of the whole blend
    let by_hand = 0.1 * (a::C + 2.0 * a::O) / (2.0 * a::LI + a::C + 3.0 * a::O);
    let loss = 1.0 - melt.fused_flux_ratio().value() / melt.flux_ratio().value();
    assert_close("of the blend", loss, by_hand, ROUNDING);
    assert!((loss - 0.0596).abs() <= TWO_PLACES_OF_A_PERCENT, "{loss}");
    assert_close("carbon dioxide", melt.ledger().gas_g("CO2"), 8.0 * by_hand, ROUNDING);
    // and the loss of the lot comes on top, as a share of the flux as weighed
    let lot = blend(&[("Li2B4O7", 90.0), ("Li2CO3", 10.0)], 0.005)?;
    let melt = Charge::new(Sample::dried(0.5)?, lot.weigh_g(8.0)?)?.fuse_with_loss(&weights(), 0.0)?;
    assert_close("glass", melt.bead_mass_g(), 0.5 + 8.0 * (1.0 - by_hand - 0.005), ROUNDING);
    Ok(())
}
