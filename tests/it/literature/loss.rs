//! Loss of ideal minerals in fusion. Derived: no outside source but the atomic weights (Prohaska et al., Pure Appl.
//! Chem. 2022) and the formulas; each figure was printed to four places of a per cent. Basis round trip: derived, algebra.

use beadchem::charge::{Charge, Fate, Form, Sample};
use beadchem::composition::{Basis, BasisLinks, Composition, LossOnIgnition};
use beadchem::error::Result;

use crate::support::{ROUNDING, a, assert_close, content, fuse_pure, tetraborate, weights};

/// The printed figures come from another set of weights at most 2e-5 relative away; they are stated to this, in per cent.
const PRINTED_PERCENT: f64 = 1e-3;
/// A mass ratio printed to six places, half a unit of the last.
const PRINTED_RATIO: f64 = 5e-7;
const PERCENT: f64 = 100.0;

fn lost_as_so2() -> Result<Fate> {
    Fate::new().lose("S", "SO2")
}

#[test]
fn ideal_minerals_lose_what_their_formulas_say() -> Result<()> {
    let water = 2.0 * a::H + a::O;
    let carbon_dioxide = a::C + 2.0 * a::O;
    let hematite = 2.0 * a::FE + 3.0 * a::O;
    let calcite = a::CA + a::C + 3.0 * a::O;
    let dolomite = a::CA + a::MG + 2.0 * a::C + 6.0 * a::O;
    let kaolinite = 2.0 * a::AL + 2.0 * a::SI + 9.0 * a::O + 4.0 * a::H;
    let goethite = a::FE + 2.0 * a::O + a::H;
    let gibbsite = a::AL + 3.0 * a::O + 3.0 * a::H;
    let siderite = a::FE + a::C + 3.0 * a::O;
    let magnetite = 3.0 * a::FE + 4.0 * a::O;
    let pyrite = a::FE + 2.0 * a::S;
    let chalcopyrite = a::CU + a::FE + 2.0 * a::S;
    let none = Fate::new();
    for (mineral, fate, printed, by_hand) in [
        ("CaCO3", &none, 43.9712, carbon_dioxide / calcite),
        ("CaMg(CO3)2", &none, 47.7324, 2.0 * carbon_dioxide / dolomite),
        ("Al2Si2O5(OH)4", &none, 13.9567, 2.0 * water / kaolinite),
        ("FeO(OH)", &none, 10.1378, 0.5 * water / goethite),
        ("Al(OH)3", &none, 34.6431, 1.5 * water / gibbsite),
        ("FeCO3", &none, 31.0821, 1.0 - 0.5 * hematite / siderite),
        ("Fe3O4", &none, -3.4550, 1.0 - 1.5 * hematite / magnetite),
        ("FeS2", &lost_as_so2()?, 33.4443, 1.0 - 0.5 * hematite / pyrite),
        ("CuFeS2", &lost_as_so2()?, 13.1450, 1.0 - (a::CU + a::O + 0.5 * hematite) / chalcopyrite),
    ] {
        let loss = fuse_pure(mineral, fate)?.loss_on_fusion();
        assert_close(mineral, loss, by_hand, ROUNDING);
        assert!((PERCENT * loss - printed).abs() <= PRINTED_PERCENT, "{mineral}: {loss}, printed {printed} %");
    }
    Ok(())
}

#[test]
fn chalcopyrite_that_keeps_its_sulfur_gains_three_quarters() -> Result<()> {
    let melt = fuse_pure("CuFeS2", &Fate::sulfur_kept())?;
    // CuO + 1/2 Fe2O3 + 2 SO3: eight and a half oxygens are taken up
    let by_hand = 1.0 + 8.5 * a::O / (a::CU + a::FE + 2.0 * a::S);
    let ratio = 1.0 - melt.loss_on_fusion();
    assert_close("mass ratio", ratio, by_hand, ROUNDING);
    assert!((ratio - 1.741_054).abs() <= PRINTED_RATIO, "{ratio}");
    Ok(())
}

/// Half a unit of the last printed place, in per cent.
const ROUND_TRIP: [(f64, f64); 2] = [(45.4287, 5e-5), (39.528, 5e-4)];

#[test]
fn the_basis_goes_round() -> Result<()> {
    let ignited = Basis::ignited(1000.0)?;
    let links = BasisLinks::default().moisture(0.0118)?.loss_on_ignition(LossOnIgnition::new(0.1195, 1000.0)?);
    let dried = Composition::new(Basis::Dried).with("Al2O3", 0.40)?;
    let on_ignited = dried.on(ignited, &links)?;
    let as_received = on_ignited.on(Basis::AsReceived, &links)?;
    // 40 / (1 - 0.1195) and 40 (1 - 0.0118)
    for (whole, by_hand, (printed, half)) in
        [(&on_ignited, 0.40 / 0.8805, ROUND_TRIP[0]), (&as_received, 0.40 * 0.9882, ROUND_TRIP[1])]
    {
        let found = content(whole, "Al2O3");
        assert_close("Al2O3", found, by_hand, ROUNDING);
        assert!((PERCENT * found - printed).abs() <= half, "{found}, printed {printed} %");
    }
    assert_close("back", content(&as_received.on(Basis::Dried, &links)?, "Al2O3"), 0.40, ROUNDING);

    // the same through a bead
    let charge = Charge::new(Sample::dried(0.8)?, tetraborate(0.004)?.weigh_g(8.0)?)?;
    let melt = charge.fuse_with_loss(&weights(), 0.1195)?;
    let reading = Composition::new(Basis::Bead).with("Al2O3", 0.40 / melt.dilution().value())?;
    let result = melt.undilute(&reading)?;
    assert_close("dried", result.value("Al2O3")?, 0.40, ROUNDING);
    assert_close("ignited", result.on(ignited, &links, &Form::AsRead)?.value("Al2O3")?, 0.40 / 0.8805, ROUNDING);
    let moist = result.on(Basis::AsReceived, &links, &Form::AsRead)?;
    assert_close("as received", moist.value("Al2O3")?, 0.40 * 0.9882, ROUNDING);
    Ok(())
}
