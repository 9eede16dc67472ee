//! What X-ray physics costs: the intensities of one bead, and a table of influence coefficients in units of it.
//!
//! Each case proves its answer before it is timed. `--assert` checks the answers and the ratios that are promised.
#![allow(clippy::print_stdout, reason = "a bench prints its figures")]

#[path = "common/mod.rs"]
mod common;

use beadchem::Result;
use beadchem::matrix::{Label, ReferenceBead, Theory};
use beadchem::substance::Weights;
use beadchem::xray::{CsvTables, Geometry, Gradient, Instrument, Panels, Source, Tube};

/// Component, line, content: an ore with everything in it.
const ORE: [(&str, &str, f64); 20] = [
    ("SiO2", "Si Ka", 0.30),
    ("Al2O3", "Al Ka", 0.10),
    ("Fe2O3", "Fe Ka", 0.25),
    ("TiO2", "Ti Ka", 0.02),
    ("CaO", "Ca Ka", 0.08),
    ("MgO", "Mg Ka", 0.03),
    ("Na2O", "Na Ka", 0.01),
    ("K2O", "K Ka", 0.02),
    ("SO3", "S Ka", 0.03),
    ("P2O5", "P Ka", 0.01),
    ("MnO", "Mn Ka", 0.02),
    ("Cr2O3", "Cr Ka", 0.01),
    ("V2O5", "V Ka", 0.005),
    ("NiO", "Ni Ka", 0.01),
    ("CuO", "Cu Ka", 0.02),
    ("ZnO", "Zn Ka", 0.01),
    ("As2O3", "As Ka", 0.002),
    ("SrO", "Sr Ka", 0.001),
    ("ZrO2", "Zr Ka", 0.001),
    ("PbO", "Pb Lb1", 0.002),
];
const RATIO: f64 = 5.0;

fn theory(tables: &CsvTables, panels: Panels) -> Result<Theory> {
    let tube = Tube::new("Rh", 50.0, 125.0)?;
    let instrument = Instrument::new(Source::tube(tube), Geometry::new(63.0, 40.0)?).with_panels(panels);
    let components = ORE.map(|part| part.0);
    let lines = ORE.map(|part| (part.1, part.0));
    Theory::new(tables, &Weights::ciaaw_2024(), &instrument, &[("Li2B4O7", 0.35), ("LiBO2", 0.65)], &components, &lines)
}

fn main() -> Result<()> {
    let mut bench = common::Bench::from_arguments();
    let mass = include_str!("../tests/data/xray/mass_coefficients.csv");
    let atoms = include_str!("../tests/data/xray/atomic_parameters.csv");
    let tables = CsvTables::read(mass, atoms, "xraylib 4.3.0 on a grid")?;
    let contents = ORE.map(|part| part.2);
    let bead = ReferenceBead::new(RATIO, contents)?;
    for (name, panels) in [("default panels", Panels::default()), ("fine panels", Panels::new(0.115, 4)?)] {
        let theory = theory(&tables, panels)?;
        let setting = theory.setting();
        println!("{name}: {} energies, {} elements, {} lines", setting.points(), setting.elements().len(), ORE.len());

        let masses: Vec<f64> = theory.masses_of(&bead)?;
        let intensities = theory.intensities(&bead)?;
        let mut gradient = Gradient::new(setting);
        gradient.compute(setting, &masses)?;
        for (one, other) in intensities.iter().zip(gradient.intensities()) {
            assert!((one / other - 1.0).abs() < 1e-12, "value and derivative are of one bead");
        }
        let set = theory.coefficients(Label::new("ore", "1", "a bench")?, &bead)?;
        for (line, (&content, intensity)) in contents.iter().zip(&intensities).enumerate() {
            let bracket: f64 = set.row(line).iter().zip(contents).map(|(a, w)| a * w).sum::<f64>() + 1.0;
            let found = set.lines()[line].sensitivity.unwrap_or(0.0) * intensity * bracket;
            assert!((found / content - 1.0).abs() < 1e-9, "{}: {found} {content}", ORE[line].1);
        }

        let (mut primary, mut secondary) = ([0.0; ORE.len()], [0.0; ORE.len()]);
        let mut scratch = setting.scratch::<f64>();
        let times = bench.interleave(
            &mut [
                ("one bead, twenty lines", &mut || {
                    let done = setting.evaluate(&masses, None, &mut primary, &mut secondary, &mut scratch);
                    done.is_ok() && primary[0] + secondary[0] == intensities[0]
                }),
                ("the same with the derivative to every element", &mut || {
                    gradient.compute(setting, &masses).is_ok() && gradient.by_mass(19).len() > 20
                }),
                ("a set of 20 by 20 coefficients", &mut || {
                    Label::new("ore", "1", "a bench")
                        .and_then(|label| theory.coefficients(label, &bead))
                        .is_ok_and(|again| again.row(3) == set.row(3))
                }),
            ],
            40,
        );
        bench.report("one bead, ns", times[0] * 1e9);
        bench.report("derivatives / one bead", times[1] / times[0]);
        bench.at_most("a set of 20 by 20 coefficients / one bead", times[2] / times[0], 6.0);
    }
    bench.finish();
    Ok(())
}
