//! Tables of cases, and what their words mean.

use beadchem::Result;
use beadchem::substance::Weights;
use beadchem::xray::{CsvTables, Geometry, Glass, Instrument, Source, Tube};
use std::collections::BTreeMap;

/// A table with a header; lines that begin with `#` are remarks.
pub(super) struct Case(BTreeMap<String, String>);

impl Case {
    pub(super) fn text(&self, column: &str) -> &str {
        self.0.get(column).unwrap_or_else(|| panic!("no column {column}"))
    }

    pub(super) fn number(&self, column: &str) -> f64 {
        let text = self.text(column);
        text.parse().unwrap_or_else(|_| panic!("{column}: {text} is no number"))
    }

    /// `SiO2=0.9;Fe2O3=0.1`.
    pub(super) fn parts(&self, column: &str) -> Vec<(String, f64)> {
        parts(self.text(column))
    }
}

pub(super) fn parts(text: &str) -> Vec<(String, f64)> {
    let part = |part: &str| {
        let (name, value) = part.split_once('=').expect("name=value");
        (name.to_owned(), value.parse().expect("a number"))
    };
    text.split(';').filter(|text| !text.is_empty()).map(part).collect()
}

pub(super) fn cases(text: &str) -> Vec<Case> {
    let mut reader = csv::ReaderBuilder::new().comment(Some(b'#')).from_reader(text.as_bytes());
    let header = reader.headers().expect("a header").clone();
    let row = |record: csv::StringRecord| {
        Case(header.iter().map(str::to_owned).zip(record.iter().map(str::to_owned)).collect())
    };
    let rows: Vec<Case> = reader.records().map(|record| row(record.expect("a row"))).collect();
    assert!(!rows.is_empty());
    rows
}

/// The tables the cases were computed with.
pub(super) fn grid() -> CsvTables {
    let mass = include_str!("../../data/xray/mass_coefficients.csv");
    let atoms = include_str!("../../data/xray/atomic_parameters.csv");
    CsvTables::read(mass, atoms, "xraylib 4.3.0 on the grid of an independent prototype").expect("tables")
}

/// The abridged weights agree with those of the cases to 2e-5, which moves no ratio by more than 1e-5.
pub(super) fn weights() -> Weights {
    Weights::ciaaw_2021()
}

/// `phi=90;eps=45;Be_um=125`.
pub(super) fn tube(anode: &str, kv: f64, text: &str) -> Result<Tube> {
    let of = |name: &str| parts(text).into_iter().find(|part| part.0 == name).expect("a part of the tube").1;
    Tube::new(anode, kv, of("Be_um"))?.with_angles(of("phi"), of("eps"))
}

/// The tube of a row of the table of spectra; one row has no window.
pub(super) fn tube_of(case: &Case) -> Tube {
    let window = case.number("Be_um");
    let tube =
        Tube::new(case.text("anode"), case.number("kV"), if window > 0.0 { window } else { 1.0 }).expect("a tube");
    let tube = tube.with_angles(case.number("phi_deg"), case.number("eps_deg")).expect("angles");
    if window > 0.0 { tube } else { tube.without_window() }
}

/// The instrument of a row of relative intensities or coefficients.
pub(super) fn instrument(case: &Case) -> Result<Instrument> {
    let source = match case.text("excitation") {
        "mono" => Source::monochromatic(case.number("energy_or_kV"))?,
        "Rh tube" => Source::tube(tube("Rh", case.number("energy_or_kV"), case.text("tube"))?),
        other => panic!("{other} is no excitation"),
    };
    Ok(Instrument::new(source, Geometry::new(case.number("psi_in_deg"), case.number("psi_out_deg"))?))
}

/// Flux, sample and extras as masses for each gram of sample.
pub(super) fn glass(flux: &[(String, f64)], ratio: f64, rest: &[(String, f64)]) -> Result<Glass> {
    let flux = flux.iter().map(|(name, share)| (name.as_str(), share * ratio));
    let all: Vec<(&str, f64)> = flux.chain(rest.iter().map(|(name, mass)| (name.as_str(), *mass))).collect();
    Glass::of_masses(&all, &weights())
}

/// The largest deviation of a table, held against its tolerance; printed with `--nocapture`.
pub(super) struct Worst {
    what: &'static str,
    figure: f64,
    of: String,
}

impl Worst {
    pub(super) fn new(what: &'static str) -> Self {
        Self { what, figure: 0.0, of: String::new() }
    }

    /// A deviation in parts of its tolerance.
    pub(super) fn hold(&mut self, case: &str, found: f64, expected: f64, tolerance: f64) {
        let off = (found - expected).abs();
        assert!(off <= tolerance, "{} {case}: {found} where {expected} belongs, allowed {tolerance:.2e}", self.what);
        if off / tolerance > self.figure {
            self.figure = off / tolerance;
            self.of = format!("{case}: off by {off:.2e} of {expected:.5e}, allowed {tolerance:.2e}");
        }
    }
}

impl Drop for Worst {
    fn drop(&mut self) {
        #[allow(clippy::print_stdout, reason = "shown with --nocapture")]
        {
            println!("{}: worst {:.2} of the tolerance ({})", self.what, self.figure, self.of);
        }
    }
}
