//! What is refused, each with its code, its number and its repair.

use super::cases::{grid, weights};
use super::properties::standard;
use beadchem::matrix::{Label, ReferenceBead, Theory};
use beadchem::xray::{Geometry, Glass, Gradient, Instrument, Panels, Setting, Source, Tube, overlaps};
use beadchem::{Error, Result};

pub(super) fn refused<T>(result: Result<T>, word: &str, says: &[&str]) -> Error {
    let Err(error) = result else { panic!("{word} should have been refused") };
    let text = error.to_string();
    assert_eq!(error.code().word(), word, "{text}");
    assert!(says.iter().all(|says| text.contains(says)), "{says:?}: {text}");
    assert!(!error.hint().is_empty(), "{text}");
    error
}

fn setting(instrument: &Instrument, substances: &[&str], lines: &[&str]) -> Result<Setting> {
    Setting::new(&grid(), &weights(), instrument, substances, lines)
}

#[test]
fn lines_that_are_not_excited() {
    let tube = Tube::new("Rh", 30.0, 125.0).unwrap();
    let low = Instrument::new(Source::tube(tube), Geometry::new(63.0, 40.0).unwrap());
    refused(setting(&low, &["BaO"], &["Ba Ka"]), "line.not-excited", &["Ba Ka", "30", "37.4406", "Raise the voltage"]);
    assert!(setting(&low, &["BaO"], &["Ba La"]).is_ok());
    let on_edge = Instrument::new(Source::monochromatic(7.112).unwrap(), Geometry::new(63.0, 40.0).unwrap());
    refused(setting(&on_edge, &["Fe2O3"], &["Fe Ka"]), "line.not-excited", &["7.112"]);
}

#[test]
fn lines_that_do_not_exist() {
    refused(setting(&standard(), &["Fe2O3"], &["Fe Kq"]), "line.not-tabulated", &["Fe Kq", "Fe Ka, Fe Kb"]);
    refused(setting(&standard(), &["Fe2O3"], &["iron"]), "line.not-tabulated", &["Write symbol, one space, line"]);
    refused(setting(&standard(), &["Li2B4O7"], &["Li Ka"]), "line.not-tabulated", &["no line of Li"]);
    refused(setting(&standard(), &["Fe2O3"], &["Fe Ka", "Fe Ka"]), "line.doubled", &["twice"]);
    let made = setting(&standard(), &["Fe2O3"], &["Fe Ka"]).unwrap();
    let glass = Glass::of_masses(&[("Fe2O3", 1.0)], &weights()).unwrap();
    refused(made.intensities(&glass).unwrap().line("Fe Kb"), "line.not-tabulated", &["They are of: Fe Ka"]);
    refused(made.thick_from(&glass, "Fe Kb"), "line.not-tabulated", &["They are: Fe Ka"]);
}

#[test]
fn elements_and_energies_outside_the_tables() {
    refused(
        setting(&standard(), &["Fe2O3", "UO2"], &["Fe Ka"]),
        "element.not-tabulated",
        &["`U`", "They hold: Li, Be"],
    );
    refused(setting(&standard(), &["Fe2O3"], &["Si Ka"]), "element.not-tabulated", &["`Si`", "Fe, O"]);
    let made = setting(&standard(), &["Fe2O3"], &["Fe Ka"]).unwrap();
    refused(made.intensities(&Glass::of_elements(&[("Si", 1.0)]).unwrap()), "element.not-tabulated", &["`Si`"]);
    let high =
        Instrument::new(Source::tube(Tube::new("Rh", 100.0, 125.0).unwrap()), Geometry::new(63.0, 40.0).unwrap());
    refused(setting(&high, &["Fe2O3"], &["Fe Ka"]), "energy.not-tabulated", &["0.99 to 60.5 keV", "lower the voltage"]);
    let glass = Glass::of_masses(&[("Fe2O3", 1.0)], &weights()).unwrap();
    refused(glass.attenuation(&grid(), 0.5), "energy.not-tabulated", &["0.5"]);
}

#[test]
fn geometry_and_source() {
    for (inward, outward, says) in [(0.0, 40.0, "0"), (-3.0, 40.0, "-3"), (63.0, 90.5, "90.5"), (120.0, 40.0, "120")] {
        refused(Geometry::new(inward, outward), "geometry.impossible", &[says, "90 deg less"]);
    }
    refused(Geometry::new(f64::NAN, 40.0), "number.not-finite", &[]);
    assert!(Geometry::new(90.0, 90.0).is_ok());
    refused(Tube::new("Rh", 0.0, 125.0), "source.impossible", &["Voltage", "0 kV"]);
    refused(Tube::new("Rh", 50.0, 0.0), "source.impossible", &["Window", "um"]);
    refused(Tube::new("Rh", 50.0, f64::INFINITY), "number.not-finite", &[]);
    refused(Tube::new("Rx", 50.0, 125.0), "weights.unknown", &["Rx"]);
    refused(Tube::new("Rh", 50.0, 125.0).unwrap().with_angles(0.0, 45.0), "geometry.impossible", &["anode"]);
    refused(Source::monochromatic(0.0), "source.impossible", &["keV"]);
    refused(Source::spectrum(&[], &[], "none"), "source.impossible", &["neither"]);
    refused(Source::spectrum(&[(5.0, 1.0), (4.0, 1.0)], &[], "back"), "source.impossible", &["ascending"]);
    refused(Source::spectrum(&[(5.0, 1.0), (6.0, -1.0)], &[], "less"), "source.impossible", &["-1"]);
    refused(Source::spectrum(&[], &[(5.0, 0.0)], "nothing"), "source.impossible", &["0"]);
    let step = Panels::new(1e-9, 2).unwrap();
    let fine = Instrument::new(standard().source().clone(), Geometry::new(63.0, 40.0).unwrap()).with_panels(step);
    refused(setting(&fine, &["Fe2O3"], &["Fe Ka"]), "number.out-of-range", &["Points of the source", "Widen"]);
    let dim = Instrument::new(Source::monochromatic(0.995).unwrap(), Geometry::new(63.0, 40.0).unwrap());
    refused(setting(&dim, &["Fe2O3"], &[]), "source.impossible", &["no photons", "1 keV"]);
    refused(Panels::new(-1.0, 2), "number.out-of-range", &["-1"]);
    refused(Panels::new(1.0, 99), "number.out-of-range", &["99", "1 to 32"]);
}

#[test]
fn room_of_another_setting() {
    let [small, large] = [&["SiO2"][..], &["SiO2", "Li2B4O7"]].map(|substances| {
        let mono = Instrument::new(Source::monochromatic(20.0).unwrap(), Geometry::new(63.0, 40.0).unwrap());
        setting(&mono, substances, &["Si Ka"]).unwrap()
    });
    let (mut primary, mut secondary) = ([0.0], [0.0]);
    let masses = vec![0.5; large.elements().len()];
    let mut room = small.scratch();
    let found = large.evaluate(&masses, None, &mut primary, &mut secondary, &mut room);
    refused(found, "shape.mismatch", &["Room for elements"]);
}

#[test]
fn a_line_that_stands_twice_disturbs_once() {
    let once = overlaps(&grid(), &[("Mn Ka", 100.0)], &["Cr"], &[]).unwrap();
    assert!(!once.is_empty());
    assert_eq!(overlaps(&grid(), &[("Mn Ka", 100.0)], &["Cr", "Cr"], &[]).unwrap(), once);
}

#[test]
fn glasses_without_mass() {
    refused(Glass::of_masses(&[], &weights()), "glass.empty", &["0 g"]);
    refused(Glass::of_masses(&[("SiO2", 0.0)], &weights()), "glass.empty", &[]);
    refused(Glass::of_masses(&[("SiO2", -0.1), ("CaO", 1.0)], &weights()), "number.out-of-range", &["-0.1", "gain"]);
    refused(Glass::of_elements(&[("Si", f64::NAN)]), "number.not-finite", &[]);
    refused(Glass::of_masses(&[("SiO", 1.0), ("Qq", 1.0)], &weights()), "formula.element-unknown", &[]);
    let made = setting(&standard(), &["Fe2O3"], &["Fe Ka"]).unwrap();
    let glass = Glass::of_masses(&[("Fe2O3", 1.0)], &weights()).unwrap();
    refused(made.intensities_of_bead(&glass, 0.0), "mass.not-positive", &["g/cm2"]);
    refused(made.share_of_thick(&glass, "Fe Ka", -1.0), "mass.not-positive", &["-1"]);
    refused(Gradient::new(&made).compute(&made, &[1.0]), "shape.mismatch", &[]);
    let (mut primary, mut secondary) = ([0.0], [0.0]);
    let result = made.evaluate(&[1.0], None, &mut primary, &mut secondary, &mut made.scratch());
    refused(result, "shape.mismatch", &["Masses"]);
}

#[test]
fn coefficients_that_cannot_be() {
    let flux = [("Li2B4O7", 1.0)];
    let new = |components: &[&str], lines: &[(&str, &str)]| {
        Theory::new(&grid(), &weights(), &standard(), &flux, components, lines)
    };
    refused(new(&["SiO2"], &[("Si Ka", "Fe2O3")]), "species.unknown", &["Fe2O3", "SiO2"]);
    refused(new(&["SiO2", "Fe2O3"], &[("Si Ka", "Fe2O3")]), "line.name", &["Si Ka"]);
    let theory = new(&["SiO2", "Fe2O3"], &[("Si Ka", "SiO2"), ("Fe Ka", "Fe2O3")]).unwrap();
    let label = Label::new("class", "1", "a test").unwrap();
    let bead = ReferenceBead::new(5.0, [0.9, 0.0]).unwrap();
    refused(theory.coefficients(label, &bead), "analyte.zero", &["Fe2O3", "Fe Ka", "trace"]);
    refused(theory.intensities(&ReferenceBead::new(5.0, [0.9]).unwrap()), "shape.mismatch", &[]);
    refused(theory.invert(&bead, &[1.0], 3), "shape.mismatch", &["Intensities"]);
    refused(theory.binary("Si Ka", "Fe2O3", 0.0, 5.0), "number.out-of-range", &[]);
    refused(theory.binary("Si Ka", "Fe2O3", 1e-13, 5.0), "number.out-of-range", &["rounding"]);
    refused(theory.binary("Si Ka", "Fe2O3", 1.0, 5.0), "analyte.zero", &["one component only"]);
    refused(theory.binary("Si Ka", "SiO2", 0.5, 5.0), "analyte.zero", &["SiO2"]);
    for ratio in [0.0, -0.2] {
        refused(theory.binary("Si Ka", "Fe2O3", 0.5, ratio), "number.out-of-range", &["ratio"]);
        refused(theory.binary_loss_free("Si Ka", "Fe2O3", 0.5, ratio), "number.out-of-range", &["ratio"]);
    }
    refused(theory.binary("Si Ka", "Fe2O3", 0.5, f64::NAN), "number.not-finite", &["ratio"]);
    refused(new(&["Fe2O3"], &[("Fe Ka", "Fe2O3"), ("Fe Kb", "Fe2O3")]), "line.doubled", &["Fe Ka and Fe Kb"]);
    let none: [(&str, f64); 0] = [];
    refused(Theory::new(&grid(), &weights(), &standard(), &none, &["SiO2"], &[]), "shape.mismatch", &["flux"]);
    let known = ReferenceBead::new(5.0, [0.7, 0.2]).unwrap();
    for wrong in [0.0, -1.0] {
        refused(theory.scales(&[(known.clone(), vec![1.0, wrong])]), "number.out-of-range", &["Fe Ka"]);
    }
    refused(theory.scales(&[]), "shape.mismatch", &["at least one"]);
    refused(theory.invert(&known, &[1.0, f64::NAN], 3), "number.not-finite", &["Fe Ka"]);
    refused(theory.binary("Si Kb", "Fe2O3", 0.5, 5.0), "line.not-tabulated", &["Si Ka, Fe Ka"]);
    refused(theory.binary("Si Ka", "CaO", 0.5, 5.0), "species.unknown", &["SiO2, Fe2O3"]);
    refused(ReferenceBead::new(0.0, [0.9]), "number.out-of-range", &[]);
}

#[test]
fn resolutions_are_asked_for() {
    refused(overlaps(&grid(), &[("Mn Ka", 0.0)], &["Cr"], &[]), "resolution.unstated", &["Mn Ka", "full width"]);
    refused(overlaps(&grid(), &[("Mn Kz", 50.0)], &["Cr"], &[]), "line.not-tabulated", &["Mn Ka"]);
}
