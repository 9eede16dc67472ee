//! Undiluting is the inverse of fusing.

use beadchem::charge::Form;
use beadchem::substance::Formula;
use proptest::prelude::*;

use super::config;
use super::random::{ELEMENTS, element, failed, form_grams, recipe};
use crate::support::ROUNDING;

proptest! {
    #![proptest_config(config())]

    /// Reading the predicted glass gives what the sample was made of: every element in the form it has in the glass,
    /// per gram of sample, a part that left counted back in by the share that stayed.
    #[test]
    fn a_read_prediction_gives_the_sample_back(recipe in recipe()) {
        let melt = recipe.melt().map_err(failed)?;
        let result = melt.undilute(&melt.glass().map_err(failed)?).map_err(failed)?;
        let (sample, carried) = (recipe.sample_moles(), recipe.melt_moles());
        let retained = ELEMENTS.iter().filter_map(|(symbol, _, _, form)| form.map(|form| (*symbol, form)));
        for (symbol, form) in retained.filter(|(symbol, _)| carried.contains_key(symbol)) {
            let moles = sample.get(symbol).copied().unwrap_or(0.0);
            let expected = moles * form_grams(symbol) / recipe.sample_g;
            // silicon that left as SiF4 is counted back in, boron that left as BF3 was never the sample's
            let found = result.value(form).map_err(failed)?;
            prop_assert!((found - expected).abs() <= ROUNDING, "{form}: {found}, by hand {expected}");
        }
    }

    /// The same as elements, by hand: grams of the element per gram of sample.
    #[test]
    fn results_as_elements_are_grams_of_the_element(recipe in recipe()) {
        let melt = recipe.melt().map_err(failed)?;
        let read = melt.undilute(&melt.glass().map_err(failed)?).map_err(failed)?;
        let basis = read.basis();
        let elements = read.on(basis, &Default::default(), &Form::Elements).map_err(failed)?;
        for (symbol, moles) in recipe.sample_moles() {
            let (weight, _, form) = element(symbol);
            if form.is_none() {
                continue;
            }
            let expected = moles * weight / recipe.sample_g;
            let found = elements.value(symbol).map_err(failed)?;
            prop_assert!((found - expected).abs() <= ROUNDING, "{symbol}: {found}, by hand {expected}");
        }
        // and iron as FeO, manganese as MnO2
        let list = ["FeO", "MnO2"].into_iter().map(Formula::parse).collect::<beadchem::Result<_>>().map_err(failed)?;
        let asked = read.on(basis, &Default::default(), &Form::Species(list)).map_err(failed)?;
        let iron = recipe.sample_moles().get("Fe").copied().unwrap_or(0.0);
        let by_hand = iron * (element("Fe").0 + element("O").0) / recipe.sample_g;
        prop_assert!((asked.value("FeO").map_err(failed)? - by_hand).abs() <= ROUNDING);
    }
}
