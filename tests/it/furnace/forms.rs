//! Declared sets of forms: what is left is left by atoms, and one total comes back whatever the split.

use beadchem::composition::{Basis, Composition, ElementForms};
use beadchem::error::Result;
use beadchem::uncertainty::Estimate;
use proptest::prelude::*;

use crate::support::{ROUNDING, a, assert_close, weights};

#[test]
fn ferric_iron_is_what_ferrous_and_metallic_iron_leave() -> Result<()> {
    let parts = [("FeO", 0.26.into()), ("Fe", 0.02.into())];
    let iron = ElementForms::split("Fe", 0.685, &parts, "Fe2O3", &weights())?;
    let moles = 0.685 / a::FE - 0.26 / (a::FE + a::O) - 0.02 / a::FE;
    assert_close("ferric", iron.value("Fe2O3")?, moles * (a::FE + 1.5 * a::O), ROUNDING);
    assert_close("total", iron.total_as("Fe", &weights())?.value(), 0.685, ROUNDING);
    Ok(())
}

#[test]
fn manganese_by_total_and_available_oxygen() -> Result<()> {
    let ore = ElementForms::split("Mn", 0.482, &[("MnO2", 0.70.into())], "Mn2O3", &weights())?;
    let left = 0.482 / a::MN - 0.70 / (a::MN + 2.0 * a::O);
    assert_close("Mn2O3", ore.value("Mn2O3")?, left * (a::MN + 1.5 * a::O), ROUNDING);
    let as_mn3o4 = 0.482 / a::MN * (a::MN + 4.0 / 3.0 * a::O);
    assert_close("Mn3O4", ore.total_as("Mn3O4", &weights())?.value(), as_mn3o4, ROUNDING);
    Ok(())
}

#[test]
fn a_little_below_nothing_is_kept_and_much_below_is_refused() -> Result<()> {
    let u = |value, u| Estimate::new(value, u);
    let just = ElementForms::split("Fe2O3", u(0.20, 0.002)?, &[("FeO", u(0.182, 0.002)?)], "Fe2O3", &weights())?;
    assert!(just.value("Fe2O3")? < 0.0, "nothing is clipped");
    let far = ElementForms::split("Fe2O3", u(0.20, 0.002)?, &[("FeO", u(0.30, 0.002)?)], "Fe2O3", &weights());
    assert_eq!(far.unwrap_err().code().word(), "forms.impossible");
    assert!(ElementForms::split("Fe2O3", 0.2, &[("MnO", 0.1.into())], "Fe2O3", &weights()).is_err());
    assert!(ElementForms::apart(&[], &weights()).is_err());
    Ok(())
}

#[test]
fn an_element_that_is_there_already_is_refused() -> Result<()> {
    let iron = ElementForms::split("Fe2O3", 0.3, &[("FeO", 0.1.into())], "Fe2O3", &weights())?;
    assert!(iron.added_to(Composition::new(Basis::Dried).with("Fe2O3", 0.1)?).is_err());
    Ok(())
}

proptest! {
    #[test]
    fn the_total_comes_back(total in 0.1_f64..0.9, share in 0.0_f64..1.0) {
        let ferrous = share * total * (a::FE + a::O) / (a::FE + 1.5 * a::O);
        let iron = ElementForms::split("Fe2O3", total, &[("FeO", ferrous.into())], "Fe2O3", &weights());
        // all of it ferrous leaves nothing but rounding, on one side or the other
        if let Ok(iron) = iron {
            prop_assert!((iron.total_as("Fe2O3", &weights()).unwrap().value() - total).abs() < ROUNDING);
        } else {
            prop_assert!(share > 1.0 - ROUNDING);
        }
    }
}
