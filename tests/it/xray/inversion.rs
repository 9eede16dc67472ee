//! Contents from intensities by first principles.

use super::cases::{Case, Worst, cases, grid, weights};
use super::coefficients::named;
use super::properties::standard;
use beadchem::matrix::{ReferenceBead, Theory};

/// What a step of Newton's method leaves of contents, beside the rounding of the linear system.
const SETTLED: f64 = 1e-9;

/// Seven classes of ore: start at the centroid, the unknown somewhere in the range of each component.
#[test]
fn contents_come_back_in_three_steps() {
    let (tables, mut worst) = (grid(), Worst::new("inversion"));
    let all = cases(include_str!("../../data/class_centroids.csv"));
    let mut classes: Vec<&str> = all.iter().map(|case| case.text("class")).collect();
    classes.dedup();
    assert_eq!(classes.len(), 7);
    let mut steps = 0;
    for class in classes {
        let of: Vec<&Case> = all
            .iter()
            .filter(|case| case.text("class") == class)
            .filter(|case| case.text("component") != "LOI")
            .collect();
        let components: Vec<&str> = of.iter().map(|case| case.text("component")).collect();
        let centroid: Vec<f64> = of.iter().map(|case| case.number("centroid")).collect();
        // alternately towards the upper and the lower end of the range
        let moved = |(place, case): (usize, &&Case)| {
            let end = if place % 2 == 0 { "upper" } else { "lower" };
            0.5 * case.number("centroid") + 0.5 * case.number(end)
        };
        let unknown: Vec<f64> = of.iter().enumerate().map(moved).collect();
        let lines: Vec<String> = of.iter().map(|case| named(case.text("line"))).collect();
        let lines: Vec<(&str, &str)> = lines.iter().map(String::as_str).zip(components.iter().copied()).collect();
        let flux = [("Li2B4O7", 0.35), ("LiBO2", 0.65)];
        let theory = Theory::new(&tables, &weights(), &standard(), &flux, &components, &lines).unwrap();
        let intensities = theory.intensities(&ReferenceBead::new(5.0, unknown.clone()).unwrap()).unwrap();
        let found = theory.invert(&ReferenceBead::new(5.0, centroid).unwrap(), &intensities, 3).unwrap();
        steps = steps.max(found.steps);
        for ((found, unknown), component) in found.contents.iter().zip(&unknown).zip(&components) {
            worst.hold(&format!("{class} {component}"), *found, *unknown, SETTLED * unknown);
        }
    }
    assert_eq!(steps, 3);
}

/// An unmeasured component keeps its content, and one step too few is refused.
#[test]
fn declared_components_and_too_few_steps() {
    let flux = [("Li2B4O7", 1.0)];
    let lines = [("Si Ka", "SiO2"), ("Fe Ka", "Fe2O3")];
    let theory = Theory::new(&grid(), &weights(), &standard(), &flux, &["SiO2", "Fe2O3", "La2O3"], &lines).unwrap();
    let truth = ReferenceBead::new(5.0, [0.3, 0.6, 0.5]).unwrap();
    let intensities = theory.intensities(&truth).unwrap();
    let start = ReferenceBead::new(5.0, [0.9, 0.05, 0.5]).unwrap();
    let found = theory.invert(&start, &intensities, 5).unwrap();
    for (found, truth) in found.contents.iter().zip(truth.contents()) {
        assert!((found / truth - 1.0).abs() < SETTLED);
    }
    let refused = theory.invert(&start, &intensities, 1).unwrap_err();
    assert_eq!(refused.code().word(), "inversion.not-settled");
    assert!(refused.to_string().contains("after 1 step they"));
}

/// What a sample lacks, or has next to nothing of, is found as such: an intensity of nothing, or below it by noise.
#[test]
fn an_analyte_that_is_not_there_settles() {
    let lines = [("Si Ka", "SiO2"), ("Fe Ka", "Fe2O3"), ("Ca Ka", "CaO")];
    let components = ["SiO2", "Fe2O3", "CaO"];
    let theory = Theory::new(&grid(), &weights(), &standard(), &[("Li2B4O7", 1.0)], &components, &lines).unwrap();
    let start = ReferenceBead::new(5.0, [0.6, 0.2, 0.1]).unwrap();
    for content in [0.0, 1e-9, 1e-8, 9e-8, 1e-6] {
        let unknown = ReferenceBead::new(5.0, [0.8, 0.1, content]).unwrap();
        let found = theory.invert(&start, &theory.intensities(&unknown).unwrap(), 5).unwrap();
        for (value, expected) in found.contents.iter().zip([0.8, 0.1, content]) {
            assert!((value - expected).abs() < SETTLED, "{content}: {:?}", found.contents);
        }
    }
    let reference = theory.intensities(&start).unwrap();
    let noise = theory.invert(&start, &[reference[0], reference[1], -1e-5 * reference[2]], 5).unwrap();
    // a negative reading stays one: nothing is clipped
    assert!((-2e-6..-0.5e-6).contains(&noise.contents[2]), "{:?}", noise.contents);
}
