//! First order against Monte Carlo for a bead with an uncertainty on everything, as a whole and input by input.

use beadchem::charge::{Addition, Amount, Charge, FluxLot, Sample};
use beadchem::composition::Basis;
use beadchem::matrix::{Calibration, CoefficientSet, Count, DeadTime, Drift, Label, LineReading, Monitor};
use beadchem::method::{Assay, Measurement, Method, Overlap};
use beadchem::uncertainty::{Estimate, MonteCarloOptions};

use crate::matrix::classes;
use crate::method::bead::COUNTS;
use crate::support::weights;

/// What first order may be off, relative; four sampling sigmas of 20 000 draws are 2 %.
const ALLOWED: f64 = 0.03;
const DRAWS: usize = 20_000;
const DRAWS_OF_ONE: usize = 2_000;
/// Four sampling sigmas of a standard deviation from `DRAWS_OF_ONE` normal draws, relative.
fn sampling() -> f64 {
    4.0 / (2.0 * DRAWS_OF_ONE as f64).sqrt()
}
const LINES: [&str; 5] = ["Al Ka", "Fe Ka", "Si Ka", "Ti Ka", "Br Ka"];
const DEAD_TIME_S: f64 = 2.5e-7;

fn with_u(value: f64, relative: f64) -> Estimate {
    Estimate::new(value, value.abs() * relative).unwrap()
}

fn by_method(set: &CoefficientSet) -> Method {
    let label = || Label::new("bauxite", "1", "invented for the tests").unwrap();
    let calibration = set.lines().iter().fold(Calibration::new(label(), Basis::Dried), |calibration, line| {
        calibration.sensitivity(&line.line, with_u(line.sensitivity.unwrap() / COUNTS, 1e-3)).unwrap()
    });
    let calibration = calibration
        .correlation("sensitivity of Al Ka", "sensitivity of Si Ka", 0.6)
        .and_then(|it| it.correlation("sensitivity of Fe Ka", "sensitivity of Si Ka", -0.3))
        .and_then(|it| it.coefficient("Fe Ka", "Al2O3", with_u(set.row(set.line_index("Fe Ka")?)[1], 0.02)))
        .and_then(|it| it.offset("Ti Ka", Estimate::new(2.0, 0.5)?))
        .unwrap();
    Method::new(label(), set.clone(), calibration)
        .and_then(|it| it.overlap(Overlap::new("Al Ka", "Br Ka", with_u(0.012, 0.04))?))
        .unwrap()
        .dead_time(DeadTime::new(with_u(DEAD_TIME_S, 0.05)).unwrap())
}

pub(super) fn assay(class: &classes::Class) -> Assay {
    let set = &class.set;
    let lot = FluxLot::new("F-118", [("Li2B4O7", 0.35), ("LiBO2", 0.65)], "1050 C", with_u(0.004, 0.08))
        .and_then(|lot| lot.with_blank("SiO2", with_u(1e-4, 0.1)))
        .unwrap();
    let mass = |value: f64| Estimate::new(value, 1e-4).unwrap().shared("balance B-2", value * 5e-5).unwrap();
    let tablet = Amount::tablets(1, with_u(0.006, 0.02)).unwrap();
    let melt = Charge::new(Sample::dried(mass(0.8)).unwrap(), lot.weigh_g(mass(8.0)).unwrap())
        .and_then(|charge| charge.with(Addition::release_agent("LiBr", tablet, with_u(0.5, 0.1))?))
        .and_then(|charge| charge.fuse_with_loss(&weights(), with_u(0.2337, 0.005)))
        .unwrap();
    let at = |cps: f64| LINES.map(|line| (line, with_u(cps, 5e-4)));
    let monitor = Monitor::new("M-1", at(5000.0))
        .and_then(|it| it.reading("2026-03-02T08:00", at(4900.0)))
        .and_then(|it| it.reading("2026-03-02T12:00", at(4950.0)))
        .unwrap();
    let clean = classes::intensities(set, set.fused_flux_ratio(), &class.centroid);
    let measurement = Measurement::new("B-1").at("2026-03-02T09:00", Drift::one_point(monitor));
    let measurement = set.lines().iter().zip(clean).filter(|(line, _)| LINES.contains(&line.line.as_str())).fold(
        measurement,
        |measurement, (line, cps)| {
            let side = Count::new(25.0, 40.0).unwrap();
            let reading = LineReading::counted(&line.line, Count::new(cps * COUNTS + 25.0, 100.0).unwrap())
                .and_then(|it| it.background(0.6, side)?.background(0.4, side))
                .unwrap();
            measurement.reading(reading).unwrap()
        },
    );
    by_method(set).assay(&melt, &measurement).unwrap()
}

pub(super) fn bauxite() -> classes::Class {
    classes::all().into_iter().rfind(|class| class.set.label().name() == "bauxite").unwrap()
}

#[test]
fn the_whole_bead_and_its_total() {
    let assay = assay(&bauxite());
    let sample = assay.sample();
    assert_eq!(sample.species().len(), 4, "aluminium, iron, silicon, titanium");
    let options = MonteCarloOptions { draws: DRAWS, seed: 5, threads: 1, only: None };
    let drawn = sample.monte_carlo(&options).unwrap();
    let outputs: Vec<usize> = sample.species().into_iter().map(|name| sample.output_of(name).unwrap()).collect();
    for (&output, name) in outputs.iter().zip(sample.species()) {
        let (by_draws, first_order) = (drawn.u(output), sample.u(name).unwrap());
        assert!((by_draws / first_order - 1.0).abs() < ALLOWED, "{name}: {by_draws} drawn, {first_order}");
    }
    let pairs = outputs.iter().flat_map(|&a| outputs.iter().map(move |&b| (a, b)));
    let by_draws = pairs.map(|(a, b)| drawn.covariance(a, b).unwrap()).sum::<f64>().sqrt();
    let first_order = sample.sum().unwrap().u(0);
    assert!((by_draws / first_order - 1.0).abs() < ALLOWED, "total: {by_draws} drawn, {first_order}");
    let independent: f64 = sample.species().into_iter().map(|name| sample.u(name).unwrap().powi(2)).sum();
    assert!(first_order > 1.05 * independent.sqrt(), "what the oxides share adds up in the total");
}

#[test]
fn every_input_alone() {
    let assay = assay(&bauxite());
    let (sample, plan) = (assay.sample(), assay.sample().plan());
    let budgets: Vec<_> = sample
        .species()
        .into_iter()
        .map(|name| (name, sample.output_of(name).unwrap(), assay.budget(name).unwrap()))
        .collect();
    let mut names: Vec<String> = plan.inputs().iter().map(|input| input.name.clone()).collect();
    names.extend(plan.inputs().causes().into_iter().map(str::to_owned));
    assert!(names.len() > 50 && names.iter().any(|name| name == "balance B-2"), "{}", names.len());
    let mut compared = 0;
    for name in names {
        let part = |budget: &beadchem::uncertainty::Budget| {
            budget.rows().iter().find(|row| row.name == name).map_or(0.0, |row| row.contribution.abs())
        };
        if budgets.iter().all(|(.., budget)| part(budget) == 0.0) {
            continue;
        }
        let options = MonteCarloOptions { draws: DRAWS_OF_ONE, seed: 9, threads: 1, only: Some(name.clone()) };
        let drawn = sample.monte_carlo(&options).unwrap();
        for (species, output, budget) in &budgets {
            // a part of this size is lost in the rounding of the result itself
            const LOST: f64 = 1e-10;
            let first_order = part(budget);
            if first_order <= LOST * sample.value(species).unwrap().abs() {
                continue;
            }
            compared += 1;
            let by_draws = drawn.u(*output);
            let off = (by_draws / first_order - 1.0).abs();
            assert!(off < sampling(), "{species} by {name} alone: {by_draws} drawn, {first_order} by first order");
        }
    }
    assert!(compared > 100, "{compared} parts were compared");
}

/// A bead whose equation has constant coefficients: its draws are solved by steps from the bead, and by elimination where they lie
/// too far from it. With the same coefficient as a fitted one, which is an input, every draw is eliminated.
#[test]
fn draws_near_the_bead_and_far_from_it_are_those_of_the_elimination() {
    let class = bauxite();
    let set = &class.set;
    let label = || Label::new("bauxite", "1", "invented for the tests").unwrap();
    let calibration = set.lines().iter().fold(Calibration::new(label(), Basis::Dried), |calibration, line| {
        let sensitivity = with_u(line.sensitivity.unwrap() / COUNTS, 1e-3);
        let common = 5e-4 * sensitivity.value();
        calibration.sensitivity(&line.line, sensitivity.shared("scale of the day", common).unwrap()).unwrap()
    });
    let al_on_fe = set.row(set.line_index("Fe Ka").unwrap())[1];
    let fitted = calibration.clone().coefficient("Fe Ka", "Al2O3", al_on_fe).unwrap();
    let [by_steps, by_elimination] = [calibration, fitted].map(|it| Method::new(label(), set.clone(), it).unwrap());
    let lot = FluxLot::new("F-118", [("Li2B4O7", 0.35), ("LiBO2", 0.65)], "1050 C", with_u(0.004, 0.08)).unwrap();
    let charge =
        Charge::new(Sample::dried(with_u(0.8, 1e-4)).unwrap(), lot.weigh_g(with_u(8.0, 1e-4)).unwrap()).unwrap();
    let melt = charge.fuse_with_loss(&weights(), with_u(0.2337, 0.005)).unwrap();
    let clean = classes::intensities(set, set.fused_flux_ratio(), &class.centroid);
    let heavy = |cps: f64| {
        let normal = with_u(cps, 0.01).with_dof(2.5).unwrap();
        normal.distributed(beadchem::uncertainty::Distribution::StudentT).unwrap()
    };
    let cases: [(&str, &dyn Fn(f64) -> Estimate); 3] =
        [("usual", &|cps| with_u(cps, 1e-3)), ("heavy", &heavy), ("wide", &|cps| with_u(cps, 0.15))];
    let mut far = 0;
    // usual, with tails that reach beyond any number of steps, and too uncertain for steps at all
    for (name, aluminium) in cases {
        let measurement = set.lines().iter().zip(&clean).fold(Measurement::new("B-1"), |measurement, (line, &cps)| {
            let cps = cps * COUNTS;
            let cps = if line.line == "Al Ka" { aluminium(cps) } else { with_u(cps, 5e-4) };
            measurement.reading(LineReading::net(&line.line, cps).unwrap()).unwrap()
        });
        let [sample, eliminated] =
            [&by_steps, &by_elimination].map(|it| it.assay(&melt, &measurement).unwrap().sample().clone());
        for only in ["Al Ka net intensity", "scale of the day", "flux mass", "flux loss of lot F-118", "loss on fusion"]
        {
            let options = MonteCarloOptions { draws: 3000, seed: 4, threads: 1, only: Some(only.to_owned()) };
            let drawn = sample.monte_carlo(&options).unwrap();
            let whole = eliminated.monte_carlo(&options).unwrap();
            // what the steps may leave of each draw, beside the largest content
            const NEAR: f64 = 2e-10;
            for species in sample.species() {
                let output = sample.output_of(species).unwrap();
                let [mean, theirs] = [drawn.mean(output), whole.mean(output)];
                assert!((mean - theirs).abs() < NEAR, "{name}, {only}, {species}: {mean} {theirs}");
                let [u, theirs] = [drawn.u(output), whole.u(output)];
                assert!((u - theirs).abs() < NEAR, "{name}, {only}, {species}: {u} {theirs}");
                let whole_range = 1.0 - 1.0 / 12_000.0;
                let [a, b] =
                    [drawn.interval(output, whole_range).unwrap(), whole.interval(output, whole_range).unwrap()];
                assert!((a.0 - b.0).abs() < NEAR && (a.1 - b.1).abs() < NEAR, "{name}, {only}, {species}: {a:?} {b:?}");
                far += usize::from(name == "heavy" && (a.1 - a.0) > 20.0 * sample.u(species).unwrap());
            }
            // the loss reaches no result, and what is no result has no draws
            assert_eq!(drawn.u(sample.output_of("SiO2").unwrap()) == 0.0, only == "loss on fusion");
            assert!(drawn.u(0).is_nan() && drawn.interval(0, 0.95).unwrap_err().to_string().contains("were drawn"));
        }
    }
    assert!(far > 0, "no draw lay far from the bead");
}
