//! Constant mass and combined water, against what could be read of their sources.
//!
//! ISO 3087, iron ores, moisture of a lot (excerpt read, not the body): dried at 105 C for at least 4 h, then in steps of
//! 1 h, until the change is no more than 0.05 % of the initial mass.
//! ASTM C114-15, 6.5.3 (read): constant mass is two successive weighings within 0.2 mg.
//! Hemihydrate step of gypsum: 15.70 % of its mass, derived from the atomic weights (Prohaska et al., Pure Appl. Chem.
//! 2022). Clay of 6.2 % moisture and 12.1 % loss of the dried powder: 17.55 % from the moist one, derived.

use beadchem::code::Code;
use beadchem::composition::{Basis, BasisLinks, Composition, ConstantMass, Drying, LossOnIgnition};
use beadchem::error::Result;

use crate::support::weights;

const PERCENT: f64 = 100.0;
const K: f64 = 3.0;

#[test]
fn iron_ore_is_constant_within_a_twentieth_of_a_per_cent() -> Result<()> {
    let rule = ConstantMass::within_share(0.0005)?.after_at_least(60.0)?;
    // a kilogram in a pan of 400 g: half a gram is 0.05 %
    let four_hours = Drying::new(400.0, 1400.0, 105.0)?.step_of(240.0, 1345.6)?;
    let one_more = four_hours.clone().step_of(60.0, 1345.0)?;
    assert_eq!(one_more.moisture(&rule, K).unwrap_err().code(), Code::DryingNotConstant); // 0.06 %
    let moisture = one_more.step_of(60.0, 1344.5)?.moisture(&rule, K)?; // 0.05 %
    assert_eq!(moisture.steps(), 3);
    assert_eq!(format!("{:.2}", PERCENT * moisture.estimate()?.value()), "5.55");
    assert!(four_hours.step_of(60.0, 1345.1)?.moisture(&rule, K).is_ok());
    Ok(())
}

#[test]
fn cement_is_constant_within_a_fifth_of_a_milligram() -> Result<()> {
    let rule = ConstantMass::within_grams(0.0002)?;
    let dried = |last: f64| Drying::new(20.0, 21.0, 105.0)?.step(20.9900)?.step(last)?.moisture(&rule, K);
    assert!(dried(20.9898).is_ok());
    let refused = dried(20.9897).unwrap_err();
    assert!(refused.code() == Code::DryingNotConstant && refused.to_string().contains("allowed 0.2 mg"), "{refused}");
    Ok(())
}

#[test]
fn gypsum_loses_three_quarters_of_its_water() -> Result<()> {
    let gypsum = Composition::new(Basis::Dried).with("CaSO4·2H2O", 1.0)?;
    let warnings = gypsum.hydrate_warnings(105.0, 40.0, &weights())?;
    assert!(warnings[0].text.contains("up to 15.7 %"), "{}", warnings[0]);
    Ok(())
}

#[test]
fn moisture_and_loss_multiply() -> Result<()> {
    let links = BasisLinks::default().moisture(0.062)?.loss_on_ignition(LossOnIgnition::new(0.121, 1000.0)?);
    let total = links.total_loss_from(Basis::AsReceived)?.value();
    assert_eq!(format!("{:.2}", PERCENT * total), "17.55"); // not 18.3
    Ok(())
}
