//! Properties of evaluation (a).

use beadchem::charge::{Charge, FluxLot, Melt, Sample};
use beadchem::composition::{Basis, ClosureOrder, Composition, External};
use beadchem::matrix::LineReading;
use beadchem::method::{Measurement, Method};
use beadchem::uncertainty::Estimate;

use crate::matrix::Random;
use crate::matrix::classes;
use crate::method::bead::{Bead, agent, measured, method, solved};
use crate::support::{assert_close, weights};

/// Sums of fourteen products in another order, and one solution of a well-conditioned system.
const ROUNDING: f64 = 1e-12;
/// The same through two evaluations that share no arithmetic.
const EVALUATIONS: f64 = 1e-10;

fn member(class: &classes::Class, random: &mut Random) -> Vec<f64> {
    class.ranges.iter().map(|&(low, high)| random.within(low, high)).collect()
}

/// Analytes in the order of the lines, as contents of the components.
fn contents(class: &classes::Class, bead: &Bead) -> Vec<(String, f64)> {
    let set = &class.set;
    let lines = set.lines().iter();
    lines.map(|line| (set.components()[line.analyte].text().to_owned(), bead.contents[line.analyte])).collect()
}

#[test]
fn a_bead_made_by_hand_comes_back_in_every_class() {
    let mut random = Random(7);
    for class in classes::all() {
        for _ in 0..20 {
            let mut bead = Bead::new(&member(&class, &mut random), class.set.fused_flux_ratio());
            bead.sample_g = random.within(0.95, 1.05);
            let assay = solved(&class.set, &bead);
            for (analyte, expected) in contents(&class, &bead) {
                assert_close(&analyte, assay.value(&analyte).unwrap(), expected, ROUNDING);
            }
        }
    }
}

#[test]
fn contents_are_proportional_to_the_fused_flux() {
    // at fixed counts the intensities fix the glass: d ln w / d ln F = 1 for every analyte
    for class in classes::all() {
        let bead = Bead::new(&class.centroid, class.set.fused_flux_ratio());
        let counts = bead.counts(&class.set);
        let measurement = measured(&class.set, &counts, 0.0, &[]);
        let by_method = method(&class.set);
        let more = Bead { flux_g: bead.flux_g * 1.01, ..bead.clone() };
        let (first, second) = (
            by_method.assay(&bead.melt(), &measurement).unwrap(),
            by_method.assay(&more.melt(), &measurement).unwrap(),
        );
        let ratio = more.ratio() / bead.ratio();
        for (analyte, content) in contents(&class, &bead) {
            if content > 0.0 {
                let found = second.value(&analyte).unwrap() / first.value(&analyte).unwrap();
                assert_close(&format!("{analyte} with the flux"), found, ratio, ROUNDING);
            }
            let output = first.sample().output_of(&analyte).unwrap();
            let loss = first.sample().plan().inputs().index_of("flux loss of lot F-118").unwrap();
            let slope = first.sample().propagated().derivative(output, loss) * (1.0 - bead.flux_loss);
            assert_close(&format!("{analyte}: d w / d ln F"), -slope, first.value(&analyte).unwrap(), ROUNDING);
        }
    }
}

#[test]
fn intensities_and_glass_fractions_lead_to_one_sample() {
    // (a) from counts; (b) from the glass that the same charge makes: C = (w + e) / D
    let mut random = Random(11);
    for class in classes::all() {
        let mut bead = Bead::new(&member(&class, &mut random), class.set.fused_flux_ratio());
        bead.loss_on_fusion = 1.0 - bead.contents.iter().sum::<f64>();
        let melt = bead.melt();
        let glass = contents(&class, &bead).into_iter().fold(Composition::new(Basis::Bead), |glass, (analyte, w)| {
            if analyte.contains("Li") { glass } else { glass.with(&analyte, w / melt.dilution().value()).unwrap() }
        });
        let (a, b) = (solved(&class.set, &bead), melt.undilute(&glass).unwrap());
        for analyte in b.species() {
            assert_close(analyte, a.value(analyte).unwrap(), b.value(analyte).unwrap(), EVALUATIONS);
        }
    }
}

#[test]
fn loss_on_fusion_and_lost_melt_move_nothing() {
    let class = &classes::all()[0];
    let bead = Bead::new(&class.centroid, class.set.fused_flux_ratio());
    let other = Bead { loss_on_fusion: -0.2, ..bead.clone() };
    let (first, second) = (solved(&class.set, &bead), solved(&class.set, &other));
    for analyte in first.sample().species() {
        assert_eq!(first.value(analyte).unwrap().to_bits(), second.value(analyte).unwrap().to_bits(), "{analyte}");
    }
    // a bead that weighs 42 mg less because melt stayed in the crucible is the same glass
    let check = first.sample().melt().check_bead_mass(first.sample().melt().bead_mass_g() - 0.042, 4.0).unwrap();
    let lost_melt = check.readings.iter().find(|reading| reading.reading.contains("melt")).unwrap();
    assert_eq!(lost_melt.by_intensities, 0.0);
}

#[test]
fn a_total_from_intensities_names_lost_powder_by_the_fused_flux() {
    let value = |value: f64, u: f64| Estimate::new(value, u).unwrap();
    let melt = |sample_g: f64| {
        let blend = [("Li2B4O7", 0.5), ("LiBO2", 0.5)];
        let lot = FluxLot::new("F-1", blend, "1050 C, 18 min", value(0.004, 1e-6)).unwrap();
        let sample = Sample::dried(value(sample_g, 1e-5)).unwrap();
        let charge = Charge::new(sample, lot.weigh_g(value(8.0, 1e-5)).unwrap()).unwrap();
        charge.fuse_with_loss(&weights(), value(0.0, 1e-5)).unwrap()
    };
    let net = [("Ca Ka", 24_400.0), ("Mg Ka", 3_300.0), ("Si Ka", 600.0)];
    let counted = net.iter().fold(Measurement::new("B-1"), |all, &(line, cps)| {
        all.reading(LineReading::net(line, value(cps, 1e-5 * cps)).unwrap()).unwrap()
    });
    let closed = |melt: &Melt, rest: f64| {
        let rest = External::new("Fe2O3", value(rest, 1e-5), Basis::Dried, "by hand").unwrap();
        let assay = Method::template().unwrap().assay(melt, &counted).unwrap();
        assay.with_external(rest).closure(&ClosureOrder::new()).unwrap()
    };
    let (fused, entered) = (melt(0.80), melt(0.84));
    let rest = 1.0 - closed(&fused, 0.0).total().unwrap().value();
    let check = entered.check_bead_mass(value(fused.bead_mass_g(), 1e-4), 4.0).unwrap();
    let check = check.against_total(&closed(&entered, rest));
    // the dilution of the entered masses would leave half a per cent open
    let said = &check.findings[1];
    assert!(said.quantity.starts_with("powder lost before the fusion"), "{}", said.text);
    assert!(said.text.contains("speaks against melt left in the crucible; or flux loss"), "{}", said.text);
}

#[test]
fn scaling_all_masses_moves_nothing() {
    let all = classes::all();
    let class = all.iter().find(|class| class.set.component_index("LiBr").is_ok()).unwrap();
    let mut bead = Bead::new(&class.centroid, class.set.fused_flux_ratio());
    bead.additions = vec![agent("LiBr", 0.02, 0.5)];
    let scaled = Bead {
        sample_g: 0.6 * bead.sample_g,
        flux_g: 0.6 * bead.flux_g,
        additions: vec![agent("LiBr", 0.012, 0.5)],
        ..bead.clone()
    };
    let (first, second) = (solved(&class.set, &bead), solved(&class.set, &scaled));
    for analyte in first.sample().species() {
        let (first, second) = (first.value(analyte).unwrap(), second.value(analyte).unwrap());
        assert_close(analyte, second, first, ROUNDING);
    }
}

#[test]
fn the_order_of_the_readings_changes_no_bit() {
    let class = &classes::all()[4];
    let bead = Bead::new(&class.centroid, class.set.fused_flux_ratio());
    let counts = bead.counts(&class.set);
    let forward = measured(&class.set, &counts, 0.0, &[]);
    let backward = forward
        .readings()
        .iter()
        .rev()
        .fold(Measurement::new("B-1"), |all, reading| all.reading(reading.clone()).unwrap());
    let by_method = method(&class.set);
    let melt = bead.melt();
    let (first, second) = (by_method.assay(&melt, &forward).unwrap(), by_method.assay(&melt, &backward).unwrap());
    for analyte in first.sample().species() {
        assert_eq!(first.value(analyte).unwrap().to_bits(), second.value(analyte).unwrap().to_bits(), "{analyte}");
        assert_eq!(first.u(analyte).unwrap().to_bits(), second.u(analyte).unwrap().to_bits(), "{analyte}");
    }
}

#[test]
fn a_halide_measured_on_its_own_line_is_nothing_that_a_total_is_blind_to() {
    let all = classes::all();
    let class = all.iter().find(|class| class.set.component_index("LiBr").is_ok()).unwrap();
    for step in 0..40 {
        let mut bead = Bead::new(&class.centroid, class.set.fused_flux_ratio());
        bead.additions = vec![agent("LiBr", 0.02 + 0.0003 * f64::from(step), 0.5)];
        let assay = solved(&class.set, &bead);
        // its amount cancels, and what is left of it in the lines is rounding
        let closure = assay.closure(&ClosureOrder::new()).unwrap();
        assert!(!closure.blind_to().iter().any(|input| input.contains("LiBr")), "{:?}", closure.blind_to());
        assert!(closure.sensitivities().iter().any(|held| held.input == "sample mass"));
    }
}
