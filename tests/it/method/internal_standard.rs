//! Cobalt mixed into the flux carries the geometry of a bead; fitted coefficients, offsets and networks of overlaps beside it.

use beadchem::charge::{Addition, Amount};
use beadchem::composition::Basis;
use beadchem::matrix::{Calibration, CoefficientSet, Conditions, Derivation, Influence, Label};
use beadchem::method::{Assay, InternalStandard, Method, Overlap};
use beadchem::scalar::{Lanes, Mask};
use beadchem::uncertainty::{Estimate, propagate_plain};

use crate::matrix::classes;
use crate::method::bead::{Added, Bead, COUNTS, exact, measured};
use crate::support::assert_close;

/// The factor of the standard is reached by Newton steps that double their digits.
const BACK: f64 = 1e-10;
/// One product in another order.
const ROUNDING: f64 = 1e-12;
/// The short way through the solution against dual numbers through all steps, relative to the largest derivative.
const SHORTCUT: f64 = 1e-11;
const SHARE: f64 = 0.02;
const GEOMETRY: f64 = 0.97;
const FOLLOW: [&str; 4] = ["Fe Ka", "Mn Ka", "Cr Ka", "Ti Ka"];

/// The iron ore class with cobalt: its line and its column are those of iron, its neighbour (plausible, not computed).
fn with_cobalt() -> (CoefficientSet, Vec<f64>) {
    let class = classes::all().into_iter().rfind(|class| class.set.label().name() == "iron_ore").unwrap();
    let (set, iron) = (&class.set, class.set.component_index("Fe2O3").unwrap());
    let row = |row: usize| [set.row(row), &[set.row(row)[iron]]].concat();
    let mut rows: Vec<Influence> = set
        .lines()
        .iter()
        .enumerate()
        .map(|(place, line)| {
            let analyte = set.components()[line.analyte].text();
            Influence::new(&line.line, analyte, row(place)).with_sensitivity(line.sensitivity.unwrap())
        })
        .collect();
    let fe = set.line_index("Fe Ka").unwrap();
    rows.push(Influence::new("Co Ka", "Co3O4", row(fe)).with_sensitivity(set.lines()[fe].sensitivity.unwrap()));
    let f0 = set.fused_flux_ratio();
    let made_for = Conditions::new(f0).unwrap().with_range(0.8 * f0, 1.2 * f0).unwrap();
    let components = set.components().iter().map(|component| component.text()).chain(["Co3O4"]);
    let label = Label::new("iron ore with cobalt", "1", "invented for the tests").unwrap();
    let set = CoefficientSet::new(label, Derivation::Centroid, made_for, components, rows).unwrap();
    (set, [class.centroid.as_slice(), &[0.0]].concat())
}

pub(super) fn bead(flux_loss: f64) -> Bead {
    let (set, contents) = with_cobalt();
    let flux_g = set.fused_flux_ratio();
    let addition = Addition::reagent("Co3O4", Amount::share_of_flux(exact(SHARE)).unwrap()).unwrap();
    let cobalt = Added { addition, mass_g: SHARE * flux_g, component: "Co3O4", leaves: 1.0 };
    Bead { flux_loss, additions: vec![cobalt], ..Bead::new(&contents, flux_g) }
}

/// What `complicated` adds to a plain method.
const OFFSETS: [(&str, f64); 2] = [("Fe Ka", 3.0), ("P Ka", 1.5)];
const FITTED: [(&str, &str); 3] = [("Fe Ka", "SiO2"), ("Mn Ka", "Fe2O3"), ("Co Ka", "Fe2O3")];
/// On, from, factor: a chain from titanium to iron, closed to a loop by iron on manganese, and cobalt from iron.
const OVERLAPS: [(&str, &str, f64); 6] = [
    ("V Ka", "Ti Ka", 0.08),
    ("Cr Ka", "V Ka", 0.05),
    ("Mn Ka", "Cr Ka", 0.03),
    ("Fe Ka", "Mn Ka", 0.02),
    ("Mn Ka", "Fe Ka", 0.001),
    ("Co Ka", "Fe Ka", 0.004),
];

/// Every quantity with this relative uncertainty.
fn method(set: &CoefficientSet, relative: f64, complicated: bool) -> Method {
    let value = |value: f64| Estimate::new(value, relative * value.abs()).unwrap();
    let label = || Label::new("iron ore", "1", "invented for the tests").unwrap();
    let mut calibration = Calibration::new(label(), Basis::Dried);
    for line in set.lines() {
        calibration = calibration.sensitivity(&line.line, value(line.sensitivity.unwrap() / COUNTS)).unwrap();
    }
    if complicated {
        for (line, cps) in OFFSETS {
            calibration = calibration.offset(line, value(cps)).unwrap();
        }
        for (line, component) in FITTED {
            let held = set.row(set.line_index(line).unwrap())[set.component_index(component).unwrap()];
            calibration = calibration.coefficient(line, component, value(held)).unwrap();
        }
    }
    let standard = InternalStandard::new("Co Ka", "Co3O4", FOLLOW).unwrap();
    let method = Method::new(label(), set.clone(), calibration).unwrap().internal_standard(standard).unwrap();
    let overlaps = OVERLAPS.iter().filter(|_| complicated);
    overlaps.fold(method, |method, &(on, from, factor)| {
        method.overlap(Overlap::new(on, from, value(factor)).unwrap()).unwrap()
    })
}

/// Counts by hand: the equation, the geometry, the offset, then what other lines put on top.
fn counts(set: &CoefficientSet, bead: &Bead, complicated: bool) -> Vec<f64> {
    // what the maker mixed in is no flux
    let flux = Bead { flux_g: bead.flux_g * (1.0 - SHARE), ..bead.clone() };
    let name = |row: usize| set.lines()[row].line.as_str();
    let mut own = flux.counts(set);
    for (row, cps) in own.iter_mut().enumerate() {
        if name(row) == "Co Ka" || FOLLOW.contains(&name(row)) {
            *cps *= GEOMETRY;
        }
        if complicated {
            *cps += OFFSETS.iter().find(|(line, _)| *line == name(row)).map_or(0.0, |(_, offset)| *offset);
        }
    }
    let mut seen = own.clone();
    for &(on, from, factor) in OVERLAPS.iter().filter(|_| complicated) {
        seen[set.line_index(on).unwrap()] += factor * own[set.line_index(from).unwrap()];
    }
    seen
}

pub(super) fn solved(bead: &Bead, relative: f64, complicated: bool) -> Assay {
    let (set, _) = with_cobalt();
    let measurement = measured(&set, &counts(&set, bead, complicated), relative, &[]);
    method(&set, relative, complicated).assay(&bead.melt(), &measurement).unwrap()
}

#[test]
fn the_geometry_of_a_bead_cancels() {
    let (set, contents) = with_cobalt();
    for (flux_loss, complicated) in [(0.004, false), (0.02, false), (0.004, true)] {
        let assay = solved(&bead(flux_loss), 0.0, complicated);
        assert!(assay.sample().species().iter().all(|species| *species != "Co3O4"), "it is no result");
        for (component, &content) in set.components().iter().zip(&contents) {
            if content > 0.0 && component.text() != "LiI" {
                let found = assay.value(component.text()).unwrap() / content;
                assert_close(&format!("{component}, flux loss {flux_loss}"), found, 1.0, BACK);
            }
        }
    }
}

#[test]
fn without_it_the_lines_read_low() {
    let (set, contents) = with_cobalt();
    let bead = bead(0.004);
    let plain =
        set.lines().iter().fold(
            Calibration::new(Label::new("iron ore", "1", "invented").unwrap(), Basis::Dried),
            |calibration, line| calibration.sensitivity(&line.line, exact(line.sensitivity.unwrap() / COUNTS)).unwrap(),
        );
    let by = Method::new(Label::new("plain", "1", "invented").unwrap(), set.clone(), plain).unwrap();
    let measurement = measured(&set, &counts(&set, &bead, false), 0.0, &["Co Ka"]);
    let assay = by.assay(&bead.melt(), &measurement).unwrap();
    let iron = contents[set.component_index("Fe2O3").unwrap()];
    let found = assay.value("Fe2O3").unwrap() / iron;
    assert!(found < GEOMETRY, "3 % less counts of a major are more than 3 % less of it: {found}");
}

#[test]
fn it_follows_the_flux_as_weighed() {
    // e, g per g of sample, is what the bead was given: the loss of the flux takes none of it
    let amount = |flux_loss: f64| {
        let melt = bead(flux_loss).melt();
        let glass = melt.glass().unwrap();
        let entry = glass.entries().iter().find(|entry| entry.species.text().starts_with("Co")).unwrap();
        entry.cell.value().unwrap().value() * melt.dilution().value()
    };
    assert_close("cobalt per sample", amount(0.02) / amount(0.004), 1.0, ROUNDING);
}

#[test]
fn lanes_give_the_bits_of_one_row() {
    for complicated in [false, true] {
        let assay = solved(&bead(0.004), 0.0, complicated);
        let plan = assay.sample().plan();
        let (mut rows, mut out, mut scratch) = (plan.row::<Lanes<8>>(), plan.out(), plan.scratch());
        for (place, value) in rows.values.iter_mut().enumerate() {
            for (lane, value) in value.0.iter_mut().enumerate() {
                *value *= 1.0 + 1e-4 * (lane * (1 + place % 3)) as f64;
            }
        }
        plan.run(&rows, &mut out, &mut scratch);
        for lane in 0..8 {
            let (mut row, mut alone, mut scratch) = (plan.row::<f64>(), plan.out(), plan.scratch());
            row.values = rows.values.iter().map(|value| value.0[lane]).collect();
            plan.run(&row, &mut alone, &mut scratch);
            assert_eq!(out.trouble.lane(lane), alone.trouble);
            for (lanes, one) in out.values.iter().zip(&alone.values) {
                assert_eq!(lanes.0[lane].to_bits(), one.to_bits(), "lane {lane}");
            }
        }
    }
}

#[test]
fn the_implicit_rule_equals_duals_through_all_steps() {
    for complicated in [false, true] {
        let assay = solved(&bead(0.004), 0.001, complicated);
        let (sample, plan) = (assay.sample(), assay.sample().plan());
        let names: Vec<&str> = plan.inputs().iter().map(|input| input.name.as_str()).collect();
        for name in ["offset of Fe Ka", "coefficient of Fe2O3 on Co Ka", "overlap of Fe Ka on Mn Ka"] {
            assert_eq!(names.contains(&name), complicated, "{name}");
        }
        let whole = propagate_plain(plan, plan.inputs()).unwrap();
        for analyte in sample.species() {
            let output = sample.output_of(analyte).unwrap();
            let value = sample.propagated().value(output);
            // the steps themselves end within BACK of the solution
            assert!((whole.value(output) - value).abs() <= SHORTCUT * value.abs(), "{analyte}");
            // what each input does for its own size; the largest of them sets what rounding may leave
            let sizes = plan.inputs().values();
            let effect = |place: usize| (whole.derivative(output, place) * sizes[place]).abs();
            let largest = (0..sizes.len()).map(effect).fold(value.abs(), f64::max);
            for (place, name) in names.iter().enumerate() {
                let (short, long) = (sample.propagated().derivative(output, place), whole.derivative(output, place));
                let allowed = SHORTCUT * largest / sizes[place].abs().max(f64::MIN_POSITIVE);
                assert!((short - long).abs() <= allowed, "{analyte} by {name}: {short}, {long}");
            }
        }
    }
}
