//! Invented limits of solubility held against glasses of these materials, and the sample mass that keeps them.

use beadchem::charge::{Charge, Fate, Sample};
use beadchem::code::Code;
use beadchem::composition::{Basis, Unit};
use beadchem::error::Result;
use beadchem::rules::{Rules, Solubility};

use super::printed;
use crate::support::{ROUNDING, assert_close, content, forms, tetraborate, weights};

fn rules(oxide: &str, highest: f64) -> Result<Rules> {
    let limit = Solubility { oxide: oxide.to_owned(), highest, source: "invented".to_owned() };
    Rules::new("house", "1").solubility(limit)
}

fn charge(sample_g: f64, contents: &[(&str, f64)], flux_g: f64) -> Result<Charge> {
    let sample = Sample::dried(sample_g)?.made_of(forms(Basis::Dried, contents)?)?;
    Charge::new(sample, tetraborate(0.0040)?.weigh_g(flux_g)?)
}

/// 0.5 g with 65.6 % ZrO2 in 10 g: 3.14 % of the glass.
#[test]
fn too_much_zircon_for_the_glass() -> Result<()> {
    let zircon = [("ZrO2", 0.656), ("HfO2", 0.0132), ("SiO2", 0.325)];
    let limit = rules("ZrO2", 0.03)?;
    let found = charge(0.5, &zircon, 10.0)?.fuse(&weights(), &Fate::new())?.check_solubility(&limit)?;
    let [finding] = found.as_slice() else { panic!("{found:?}") };
    assert_eq!(finding.code, Code::SolubilityExceeded);
    printed("per cent of the glass", Unit::Percent.written(finding.value.unwrap_or(f64::NAN)), "3.14");
    assert_eq!(finding.bound, Some(0.03));
    // m (0.656 - 0.03) = 0.03 * 9.96, nothing being lost
    let most = 0.03 * 9.96 / (0.656 - 0.03);
    assert!(finding.text.contains(&format!("at most {most:.3} g")), "{}", finding.text);
    let at_the_limit = charge(most, &zircon, 10.0)?.fuse(&weights(), &Fate::new())?;
    assert_close("at the limit", content(&at_the_limit.glass()?, "ZrO2"), 0.03, ROUNDING);
    Ok(())
}

/// 0.5 g with 6.5 % Pb in 8 g stay below half a per cent of PbO.
#[test]
fn lead_that_the_glass_holds() -> Result<()> {
    let ore = charge(0.5, &[("PbO", 0.0700), ("SiO2", 0.93)], 8.0)?.fuse(&weights(), &Fate::new())?;
    assert!(ore.check_solubility(&rules("PbO", 0.005)?)?.is_empty());
    assert_eq!(ore.check_solubility(&rules("PbO", 0.004)?)?.len(), 1);
    Ok(())
}
