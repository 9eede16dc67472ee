//! Between bases and back: every pair, to the last digits.

use beadchem::composition::{Basis, BasisLinks, Composition, LossOnIgnition};
use proptest::prelude::*;

use crate::support::content;

/// Two divisions and two products.
const THERE_AND_BACK: f64 = 1e-12;

proptest! {
    #[test]
    fn every_basis_leads_back(
        moisture in 0.0_f64..0.9,
        air in 0.0_f64..0.5,
        loss in -0.5_f64..0.9,
        value in 1e-6_f64..1.0,
    ) {
        let links = BasisLinks::default()
            .moisture(moisture).unwrap()
            .air_moisture(air).unwrap()
            .loss_on_ignition(LossOnIgnition::new(loss, 1000.0).unwrap());
        let bases = [Basis::AsReceived, Basis::AirEquilibrated, Basis::Dried, Basis::ignited(1000.0).unwrap()];
        for from in bases {
            let start = Composition::new(from).with("SiO2", value).unwrap();
            for to in bases {
                let there = start.on(to, &links).unwrap();
                prop_assert_eq!(there.basis(), to);
                let back = content(&there.on(from, &links).unwrap(), "SiO2");
                prop_assert!((back - value).abs() <= THERE_AND_BACK * value, "{} to {}: {back}, {value}", from, to);
                // over a third basis it is the same number
                for over in bases {
                    let way = content(&start.on(over, &links).unwrap().on(to, &links).unwrap(), "SiO2");
                    let straight = content(&there, "SiO2");
                    prop_assert!((way - straight).abs() <= THERE_AND_BACK * straight);
                }
            }
        }
    }
}
