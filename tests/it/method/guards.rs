//! Systems that no honest bead makes: rows that want exchanging, no solution, a solution below zero.

use beadchem::composition::Basis;
use beadchem::error::Error;
use beadchem::matrix::{Calibration, CoefficientSet, Conditions, Derivation, Influence, Label, LineReading};
use beadchem::method::{Assay, Measurement, Method, Overlap};
use beadchem::uncertainty::Estimate;

use crate::method::bead::{Bead, exact};
use crate::support::assert_close;

/// A system of two with a condition of some hundreds, solved with exchanged rows.
const EXCHANGED: f64 = 1e-12;
const F0: f64 = 10.0;
const LINES: [&str; 2] = ["Fe Ka", "Si Ka"];
const COMPONENTS: [&str; 2] = ["Fe2O3", "SiO2"];

/// A set of two lines with these coefficients, row by row.
fn method(coefficients: [[f64; 2]; 2], sensitivities: [f64; 2]) -> Method {
    let label = || Label::new("guard", "1", "invented for the tests").unwrap();
    let rows = (0..2).map(|row| Influence::new(LINES[row], COMPONENTS[row], coefficients[row]));
    let made_for = Conditions::new(F0).unwrap().with_range(8.0, 12.0).unwrap();
    let set = CoefficientSet::new(label(), Derivation::Stated, made_for, COMPONENTS, rows).unwrap();
    let calibration = (0..2).fold(Calibration::new(label(), Basis::Dried), |calibration, row| {
        calibration.sensitivity(LINES[row], exact(sensitivities[row])).unwrap()
    });
    Method::new(label(), set, calibration).unwrap()
}

/// A bead whose F is F0 exactly.
fn bead() -> Bead {
    Bead { flux_loss: 0.0, ..Bead::new(&[], F0) }
}

fn assay(method: &Method, counts: &[(&str, f64)]) -> Result<Assay, Error> {
    let measurement = counts.iter().fold(Measurement::new("B-1"), |measurement, &(line, cps)| {
        measurement.reading(LineReading::net(line, exact(cps)).unwrap()).unwrap()
    });
    method.assay(&bead().melt(), &measurement)
}

#[test]
fn rows_that_want_exchanging_are_exchanged_and_said() {
    // w 0.5 and 0.5: bracket of iron 1 + 5 - 0.975, so that its pivot 1 - s a is 0.005
    let (coefficients, contents) = ([[10.0, -1.95], [0.3, 0.1]], [0.5, 0.5]);
    let bracket = |row: usize| 1.0 + coefficients[row][0] * contents[0] + coefficients[row][1] * contents[1];
    let sensitivities = [1e-3, 1e-3];
    let by = method(coefficients, sensitivities);
    let counts = [0, 1].map(|row: usize| (LINES[row], contents[row] / sensitivities[row] / bracket(row)));
    let found = assay(&by, &counts).unwrap();
    for (component, content) in COMPONENTS.iter().zip(contents) {
        assert_close(component, found.value(component).unwrap(), content, EXCHANGED);
    }
    let findings = found.findings();
    let exchanged = findings.iter().find(|finding| finding.code.word() == "matrix.rows-exchanged").unwrap();
    assert!(exchanged.text.contains("the pivoted solution stands"), "{}", exchanged.text);
    // the same rows in a batch say so through the mask
    let plan = found.sample().plan();
    let (row, mut out, mut scratch) = (plan.row::<f64>(), plan.out(), plan.scratch());
    plan.run(&row, &mut out, &mut scratch);
    assert!(out.trouble);
}

#[test]
fn overlaps_that_want_exchanging_are_exchanged() {
    // two lines of which each carries more of the other than of its own
    let by = method([[0.2, 0.1], [0.1, 0.2]], [1e-3, 1e-3])
        .overlap(Overlap::new("Si Ka", "Fe Ka", exact(12.0)).unwrap())
        .and_then(|it| it.overlap(Overlap::new("Fe Ka", "Si Ka", exact(0.5))?))
        .unwrap();
    let (iron, silicon) = (300.0, 100.0);
    let found = assay(&by, &[("Fe Ka", iron + 0.5 * silicon), ("Si Ka", silicon + 12.0 * iron)]).unwrap();
    let alone = assay(&method([[0.2, 0.1], [0.1, 0.2]], [1e-3, 1e-3]), &[("Fe Ka", iron), ("Si Ka", silicon)]).unwrap();
    for component in COMPONENTS {
        assert_close(component, found.value(component).unwrap(), alone.value(component).unwrap(), EXCHANGED);
    }
    assert!(found.findings().iter().any(|finding| finding.code.word() == "matrix.rows-exchanged"));
    assert!(alone.findings().iter().all(|finding| finding.code.word() != "matrix.rows-exchanged"));
}

#[test]
fn a_singular_system_is_refused_with_its_pivot_and_analyte() {
    // s a is one: however much iron there is, its own absorption explains the counts
    let by = method([[1.0, 0.1], [0.1, 0.2]], [1.0 / 1024.0, 1e-3]);
    let exactly = assay(&by, &[("Fe Ka", 1024.0)]).unwrap_err();
    assert_eq!(exactly.code().word(), "matrix.singular");
    let expected = "The system of this bead is singular: no pivot at Fe2O3 (pivot 0.000). Are the coefficients outside their range";
    assert!(exactly.to_string().starts_with(expected), "{exactly}");
    // a pivot that is not zero and leaves a content no sample has
    let nearly = assay(&by, &[("Fe Ka", 1024.0 * (1.0 - 1e-9))]).unwrap_err();
    assert_eq!(nearly.code().word(), "matrix.singular");
    assert!(nearly.to_string().contains("no pivot at Fe2O3 (pivot 1.00e-9)"), "{nearly}");
}

#[test]
fn a_solution_below_zero_is_refused_with_its_figure() {
    // five per cent silica with a coefficient of -30 leave a bracket of -0.5
    let by = method([[0.0, -30.0], [0.0, 0.0]], [1e-3, 1e-3]);
    let counts = [("Fe Ka", 62.0), ("Si Ka", 50.0)];
    let refused = assay(&by, &counts).unwrap_err();
    assert_eq!(refused.code().word(), "solution.negative");
    let text = refused.to_string();
    for part in
        ["The system of this bead gives Fe2O3 = -3.1 %", "smallest pivot 1", "Are the coefficients outside their range"]
    {
        assert!(text.contains(part), "`{part}` is not in: {text}");
    }
    // what counting explains is kept, with its finding
    let noisy = Measurement::new("B-1")
        .reading(LineReading::net("Fe Ka", Estimate::new(-3.0, 2.0).unwrap()).unwrap())
        .and_then(|it| it.reading(LineReading::net("Si Ka", exact(50.0))?))
        .unwrap();
    let kept = method([[0.2, 0.1], [0.1, 0.2]], [1e-3, 1e-3]).assay(&bead().melt(), &noisy).unwrap();
    assert!(kept.value("Fe2O3").unwrap() < 0.0);
    assert!(kept.findings().iter().any(|finding| finding.code.word() == "reading.negative"));
}
