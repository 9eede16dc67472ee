//! Variances of one row and of eight side by side, from the stored solution, against full propagation.

use beadchem::charge::{Addition, Amount, Charge, Contributions, Fate, FluxLot, Form, Plan, ReducesTo, Sample};
use beadchem::composition::{Basis, BasisLinks, Composition, LossOnIgnition};
use beadchem::matrix::{Drift, Monitor};
use beadchem::numeric::InstructionSet;
use beadchem::scalar::{Lanes, Mask, Scalar};
use beadchem::uncertainty::{Estimate, Inputs, propagate_plain};
use proptest::prelude::*;
use proptest::test_runner::{Config, RngSeed};

use crate::matrix::classes;
use crate::method::bead::{Bead, measured, method};
use crate::method::{internal_standard, monte_carlo};
use crate::support::weights;

/// Both add the same products in another order; relative to the product of the two u.
const SHORTCUT: f64 = 1e-11;
/// Sources whose effect on a result cancels but for rounding are left out; relative to the u of the result.
const LEFT_OUT: f64 = 1e-11;
const WIDTH: usize = 8;

/// A row of the plan with every value moved a little, another way for each `step`.
fn moved(plan: &Plan, step: usize) -> Vec<f64> {
    let factor = |place: usize| 1.0 + 2e-4 * ((place * 7 + step * 3) % 11) as f64 * step.min(1) as f64;
    plan.inputs().values().iter().enumerate().map(|(place, x)| x * factor(place)).collect()
}

/// The inputs of the plan with other values and a multiple of their u.
fn inputs(plan: &Plan, row: &[f64], times: f64) -> Inputs {
    let own = plan.own_u::<f64>();
    let mut inputs = Inputs::new();
    for ((input, &x), u) in plan.inputs().iter().zip(row).zip(own) {
        let estimate = input.estimate.causes().iter().fold(Estimate::new(x, u * times).unwrap(), |estimate, part| {
            estimate.shared(part.cause.as_str(), part.u).unwrap()
        });
        inputs.push(input.name.as_str(), estimate).unwrap();
    }
    let name = |place: usize| plan.inputs().get(place).unwrap().name.as_str();
    let held = plan.inputs().correlations().iter().map(|&(a, b, r)| (name(a), name(b), r));
    inputs.correlate(&held.collect::<Vec<_>>()).unwrap();
    inputs
}

/// Variances and the upper triangle of the covariances.
struct Found<S> {
    variances: Vec<S>,
    covariance: Vec<S>,
}

fn run<S: Scalar>(set: InstructionSet, plan: &Plan, by: &Contributions, x: &[S], u: &[S]) -> Found<S> {
    let (mut row, mut out, mut scratch, mut room) = (plan.row(), plan.out(), plan.scratch(), by.room(plan));
    row.values.copy_from_slice(x);
    plan.run_with(set, &row, &mut out, &mut scratch).unwrap();
    assert!(!out.trouble.any());
    let none = S::constant(f64::NAN);
    let (mut variances, mut covariance) = (vec![none; by.results()], vec![none; by.pairs()]);
    let bad = by.run_with(set, plan, [x, u], &scratch, &mut room, &mut variances, None).unwrap();
    assert!(!bad.any());
    let alone = variances.clone();
    let bad = by.run_with(set, plan, [x, u], &scratch, &mut room, &mut variances, Some(&mut covariance)).unwrap();
    assert!(!bad.any());
    for (alone, with) in alone.iter().zip(&variances) {
        assert!(!alone.lt(*with).or(with.lt(*alone)).any(), "variances do not depend on covariances");
    }
    Found { variances, covariance }
}

/// One row by the short way and by duals through everything, and solved with exchanged rows.
fn agrees(what: &str, plan: &Plan) {
    let by = plan.contributions().unwrap();
    let own = plan.own_u::<f64>();
    let first = plan.outputs().len() - by.results();
    for step in 0..3 {
        let x = moved(plan, step);
        let found = run(InstructionSet::Portable, plan, &by, &x, &own);
        let whole = propagate_plain(plan, &inputs(plan, &x, 1.0)).unwrap();
        let close = |covariance: &[f64], way: &str| {
            let mut pairs = covariance.iter();
            for i in 0..by.results() {
                for j in i..by.results() {
                    let (found, expected) = (pairs.next().unwrap(), whole.covariance(first + i, first + j));
                    let scale = whole.u(first + i) * whole.u(first + j);
                    let name = &plan.outputs()[first + i];
                    assert!(scale > 0.0, "{what}: {name} has a u");
                    let apart = (found - expected).abs() / scale;
                    assert!(apart <= SHORTCUT, "{what}, {way}: {name} and {j}: {found}, {expected}, {apart}");
                }
            }
            assert!(pairs.next().is_none());
        };
        close(&found.covariance, "in place");
        let mut place = 0;
        for (i, variance) in found.variances.iter().enumerate() {
            assert_eq!(variance.to_bits(), found.covariance[place].to_bits(), "{what}: the diagonal");
            place += by.results() - i;
        }
        let (mut room, mut variances) = (by.room(plan), found.variances.clone());
        let mut covariance = vec![f64::NAN; by.pairs()];
        let has_lines = !by.run_exchanged(plan, [&x, &own], &mut room, &mut variances, Some(&mut covariance)).unwrap();
        if has_lines {
            close(&covariance, "with exchanged rows");
        }
    }
}

/// Eight rows in lanes, by every instruction set and in another order, against each row alone.
fn lanes_agree(what: &str, plan: &Plan) {
    let by = plan.contributions().unwrap();
    let rows: Vec<Vec<f64>> = (0..WIDTH).map(|lane| moved(plan, lane)).collect();
    let us: Vec<Vec<f64>> =
        (0..WIDTH).map(|lane| plan.own_u::<f64>().iter().map(|u| u * (1.0 + 0.1 * lane as f64)).collect()).collect();
    let turned = |lane: usize| (lane * 3 + 5) % WIDTH;
    let gather = |rows: &[Vec<f64>], order: &dyn Fn(usize) -> usize| -> Vec<Lanes<WIDTH>> {
        (0..rows[0].len()).map(|place| Lanes(core::array::from_fn(|lane| rows[order(lane)][place]))).collect()
    };
    let alone: Vec<Found<f64>> =
        rows.iter().zip(&us).map(|(x, u)| run(InstructionSet::Portable, plan, &by, x, u)).collect();
    for set in InstructionSet::available() {
        for order in [&(|lane| lane) as &dyn Fn(usize) -> usize, &turned] {
            let found = run(set, plan, &by, &gather(&rows, order), &gather(&us, order));
            for lane in 0..WIDTH {
                let same = |lanes: &[Lanes<WIDTH>], one: &[f64]| {
                    lanes.iter().zip(one).all(|(lanes, one)| lanes.0[lane].to_bits() == one.to_bits())
                };
                let one = &alone[order(lane)];
                let both = same(&found.variances, &one.variances) && same(&found.covariance, &one.covariance);
                assert!(both, "{what}: {}, lane {lane}", set.word());
            }
        }
    }
}

fn with_u(value: f64, relative: f64) -> Estimate {
    Estimate::new(value, value.abs() * relative).unwrap()
}

/// Counts, drift by one monitor, dead time, overlap, blank, tablet, a shared balance, correlated sensitivities, a fitted
/// coefficient and an offset; as read and ordered as elements on another basis.
#[test]
fn a_bead_from_counts_with_everything() {
    let assay = monte_carlo::assay(&monte_carlo::bauxite());
    agrees("bauxite", assay.sample().plan());
    lanes_agree("bauxite", assay.sample().plan());
    let loss = LossOnIgnition::new(with_u(0.24, 0.01), 1000.0).unwrap();
    let links = BasisLinks::default().moisture(with_u(0.012, 0.05)).unwrap().loss_on_ignition(loss);
    for basis in [Basis::AsReceived, Basis::ignited(1000.0).unwrap()] {
        let ordered = assay.on(basis, &links, &Form::Elements).unwrap();
        agrees("ordered", ordered.sample().plan());
        lanes_agree("ordered", ordered.sample().plan());
    }
}

#[test]
fn an_internal_standard_with_a_network_of_overlaps() {
    for complicated in [false, true] {
        let assay = internal_standard::solved(&internal_standard::bead(0.004), 0.001, complicated);
        agrees("cobalt", assay.sample().plan());
        lanes_agree("cobalt", assay.sample().plan());
    }
}

/// A drift by two monitors, one of them read once only, and a content known from elsewhere.
#[test]
fn two_monitors_and_a_declared_content() {
    let class = monte_carlo::bauxite();
    let bead = Bead::new(&class.centroid, class.set.fused_flux_ratio());
    let counts = bead.counts(&class.set);
    let names: Vec<&str> = class.set.lines().iter().map(|line| line.line.as_str()).collect();
    let cps = |scale: f64| -> Vec<(&str, Estimate)> {
        names.iter().enumerate().map(|(row, &name)| (name, with_u(scale * (1.0 + 0.01 * row as f64), 1e-3))).collect()
    };
    let strong = Monitor::new("M-hi", cps(2000.0))
        .and_then(|it| it.reading("2026-03-02T08:00", cps(1990.0))?.reading("2026-03-02T12:00", cps(1980.0)))
        .unwrap();
    let weak = Monitor::new("M-lo", cps(20.0)).and_then(|it| it.reading("2026-03-02T08:00", cps(19.5))).unwrap();
    let measurement = measured(&class.set, &counts, 0.002, &["Ti Ka", "Br Ka"])
        .at("2026-03-02T09:00", Drift::two_point(strong, weak).unwrap())
        .declared("TiO2", with_u(0.03, 0.02))
        .unwrap();
    let assay = method(&class.set).assay(&bead.melt(), &measurement).unwrap();
    agrees("two monitors", assay.sample().plan());
    lanes_agree("two monitors", assay.sample().plan());
}

/// Part of the sulfur leaves: the share that stays moves its own result directly, and what the flux loses moves all.
#[test]
fn a_kept_share() {
    let class = classes::all().into_iter().find(|class| class.set.component_index("SO3").is_ok()).unwrap();
    let bead = Bead::new(&class.centroid, class.set.fused_flux_ratio());
    let sample =
        Composition::new(Basis::Dried).with_form("CaSO4", 0.4).and_then(|it| it.with_form("SiO2", 0.5)).unwrap();
    let fate = Fate::new().split("S", with_u(0.7, 0.05), "SO2").unwrap();
    let charge = Sample::dried(with_u(bead.sample_g, 1e-4))
        .and_then(|it| Charge::new(it.made_of(sample)?, bead.lot().weigh_g(with_u(bead.flux_g, 1e-4))?))
        .unwrap();
    let melt = charge.fuse(&weights(), &fate).unwrap();
    let assay = method(&class.set).assay(&melt, &measured(&class.set, &bead.counts(&class.set), 0.001, &[])).unwrap();
    let plan = assay.sample().plan();
    assert!(plan.inputs().index_of("kept share of S").is_some());
    agrees("kept share", plan);
    lanes_agree("kept share", plan);
}

/// Evaluation (b): readings of the glass, with an oxidant, a blank, a split element, another basis and other forms.
#[test]
fn readings_of_the_glass() {
    let made_of = [("CaMg(CO3)2", 0.5), ("FeS2", 0.2), ("SiO2", 0.28)]
        .into_iter()
        .try_fold(Composition::new(Basis::Dried), |whole, (species, content)| {
            whole.with_form(species, with_u(content, 0.01))
        });
    let mass = |value: f64| Estimate::new(value, 1e-4).unwrap().shared("balance B-2", value * 5e-5).unwrap();
    let lot = FluxLot::new("F-118", [("Li2B4O7", 0.35), ("LiBO2", 0.65)], "1050 C", with_u(0.004, 0.08))
        .and_then(|lot| lot.with_blank("SiO2", with_u(1e-4, 0.1)))
        .unwrap();
    let nitrate = Addition::oxidant("NaNO3", Amount::mass_g(mass(1.2)).unwrap(), ReducesTo::NO).unwrap();
    let charge = Sample::dried(mass(0.8)).and_then(|it| Charge::new(it.made_of(made_of?)?, lot.weigh_g(mass(8.0))?));
    let fate = Fate::new().split("S", with_u(0.7, 0.05), "SO2").unwrap();
    let melt = charge.and_then(|it| it.with(nitrate)?.fuse(&weights(), &fate)).unwrap();
    let readings = [("CaO", 0.017), ("MgO", 0.012), ("Fe2O3", 0.015), ("SO3", 0.02), ("SiO2", 0.03)];
    let readings = readings
        .into_iter()
        .try_fold(Composition::new(Basis::Bead), |all, (species, content)| all.with(species, with_u(content, 0.003)));
    let result = melt.undilute(&readings.unwrap()).unwrap();
    let loss = LossOnIgnition::new(with_u(0.24, 0.01), 1000.0).unwrap();
    let links = BasisLinks::default().loss_on_ignition(loss);
    let elements = result.on(Basis::ignited(1000.0).unwrap(), &links, &Form::Elements).unwrap();
    for (what, plan) in [("as read", result.plan()), ("elements", elements.plan())] {
        agrees(what, plan);
        lanes_agree(what, plan);
    }
}

#[test]
fn without_u_there_is_no_variance() {
    for assay in [
        monte_carlo::assay(&monte_carlo::bauxite()),
        internal_standard::solved(&internal_standard::bead(0.004), 0.001, true),
    ] {
        let plan = assay.sample().plan();
        // every input may have a u in some row, in this one shared causes alone move something
        let by = Contributions::new(plan, &vec![true; plan.inputs().len()]).unwrap();
        let x = plan.inputs().values();
        let none = run(InstructionSet::Portable, plan, &by, &x, &vec![0.0; x.len()]);
        let shared = propagate_plain(plan, &inputs(plan, &x, 0.0)).unwrap();
        let first = plan.outputs().len() - by.results();
        let own = plan.own_u::<f64>();
        let (all, held) = (run(InstructionSet::Portable, plan, &by, &x, &own), plan.contributions().unwrap());
        for (result, (variance, all)) in none.variances.iter().zip(&all.variances).enumerate() {
            // a balance moves both masses alike, so that what it does to a ratio cancels
            let expected = shared.covariance(first + result, first + result);
            assert!((variance - expected).abs() <= SHORTCUT * all, "{}", plan.outputs()[first + result]);
            assert!(*variance == 0.0 || !plan.inputs().causes().is_empty(), "nothing is left");
        }
        let held = run(InstructionSet::Portable, plan, &held, &x, &own);
        for (all, held) in all.variances.iter().zip(&held.variances) {
            assert!((all - held).abs() <= LEFT_OUT * held, "inputs without u add nothing: {all}, {held}");
        }
    }
}

#[test]
fn slices_of_other_lengths_are_refused() {
    let assay = monte_carlo::assay(&monte_carlo::bauxite());
    let plan = assay.sample().plan();
    let by = plan.contributions().unwrap();
    let (x, u, mut room) = (plan.inputs().values(), plan.own_u::<f64>(), by.room(plan));
    let mut variances = vec![-1.0; by.results()];
    let short =
        by.run_with(InstructionSet::Portable, plan, [&x[1..], &u], &plan.scratch(), &mut room, &mut variances, None);
    assert!(short.unwrap(), "trouble");
    assert!(variances.iter().all(|&variance| variance == -1.0), "untouched");
}

proptest! {
    #![proptest_config(Config {
        cases: 24, rng_seed: RngSeed::Fixed(20_266), failure_persistence: None, ..Config::default()
    })]

    /// Twice all own u without shared causes: four times every covariance, to the bit.
    #[test]
    fn twice_the_u_is_four_times_the_variance(flux_loss in 0.0..0.02, relative in 1e-5..0.01, complicated: bool) {
        let assay = internal_standard::solved(&internal_standard::bead(flux_loss), relative, complicated);
        let plan = assay.sample().plan();
        prop_assert!(plan.inputs().causes().is_empty());
        let by = plan.contributions().unwrap();
        let (x, once) = (plan.inputs().values(), plan.own_u::<f64>());
        let twice: Vec<f64> = once.iter().map(|u| 2.0 * u).collect();
        let found = [once, twice].map(|u| run(InstructionSet::Portable, plan, &by, &x, &u));
        for (once, twice) in found[0].covariance.iter().zip(&found[1].covariance) {
            prop_assert_eq!((once * 4.0).to_bits(), twice.to_bits());
        }
    }
}
