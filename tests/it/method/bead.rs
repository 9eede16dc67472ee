//! A bead computed forward by hand, and the method that goes back.

use beadchem::charge::{Addition, Amount, Charge, FluxLot, Melt, Sample};
use beadchem::composition::Basis;
use beadchem::matrix::{Calibration, CoefficientSet, Label, LineReading};
use beadchem::method::{Assay, Measurement, Method};
use beadchem::uncertainty::Estimate;

use crate::support::weights;

/// Weighings, losses and contents of one bead.
#[derive(Clone)]
pub(crate) struct Bead {
    pub(crate) sample_g: f64,
    pub(crate) flux_g: f64,
    pub(crate) flux_loss: f64,
    pub(crate) loss_on_fusion: f64,
    /// g per g of sample as weighed, in the order of the components.
    pub(crate) contents: Vec<f64>,
    pub(crate) additions: Vec<Added>,
}

/// An addition and what it leaves of a component, g per g of the addition.
#[derive(Clone)]
pub(crate) struct Added {
    pub(crate) addition: Addition,
    pub(crate) mass_g: f64,
    pub(crate) component: &'static str,
    pub(crate) leaves: f64,
}

/// The sensitivity of every line in these tests is the theoretical one divided by this, so that counts are of usual size.
pub(crate) const COUNTS: f64 = 1e-5;

pub(crate) fn exact(value: f64) -> Estimate {
    Estimate::exact(value).unwrap()
}

/// A release agent that stays by this share.
pub(crate) fn agent(species: &'static str, mass_g: f64, retained: f64) -> Added {
    let amount = Amount::mass_g(exact(mass_g)).unwrap();
    let addition = Addition::release_agent(species, amount, exact(retained)).unwrap();
    Added { addition, mass_g, component: species, leaves: retained }
}

impl Bead {
    pub(crate) fn new(contents: &[f64], flux_g: f64) -> Self {
        let contents = contents.to_vec();
        Self { sample_g: 1.0, flux_g, flux_loss: 0.004, loss_on_fusion: 0.1, contents, additions: Vec::new() }
    }

    /// F, g fused flux per g of sample as weighed.
    pub(crate) fn ratio(&self) -> f64 {
        self.flux_g * (1.0 - self.flux_loss) / self.sample_g
    }

    pub(crate) fn lot(&self) -> FluxLot {
        FluxLot::new("F-118", [("Li2B4O7", 0.35), ("LiBO2", 0.65)], "1050 C, 18 min", exact(self.flux_loss)).unwrap()
    }

    pub(crate) fn melt(&self) -> Melt {
        let sample = Sample::dried(exact(self.sample_g)).unwrap();
        let charge = Charge::new(sample, self.lot().weigh_g(exact(self.flux_g)).unwrap()).unwrap();
        let charge = self.additions.iter().fold(charge, |charge, added| charge.with(added.addition.clone()).unwrap());
        charge.fuse_with_loss(&weights(), exact(self.loss_on_fusion)).unwrap()
    }

    /// What an addition leaves of each component, g per g of sample.
    fn added(&self, set: &CoefficientSet) -> Vec<f64> {
        let mut added = vec![0.0; set.components().len()];
        for held in &self.additions {
            added[set.component_index(held.component).unwrap()] += held.mass_g * held.leaves / self.sample_g;
        }
        added
    }

    /// Counts per second of every line of the set, from the equation.
    pub(crate) fn counts(&self, set: &CoefficientSet) -> Vec<f64> {
        let added = self.added(set);
        let all: Vec<f64> = self.contents.iter().zip(&added).map(|(own, added)| own + added).collect();
        let line = |(row, line): (usize, &beadchem::matrix::InfluenceLine)| {
            let sum: f64 = set.row(row).iter().zip(&all).map(|(a, w)| a * w).sum();
            let bracket = self.ratio() / set.fused_flux_ratio() + sum;
            all[line.analyte] / (line.sensitivity.unwrap() / COUNTS * bracket)
        };
        set.lines().iter().enumerate().map(line).collect()
    }
}

/// The method of a set: every line with its theoretical sensitivity.
pub(crate) fn method(set: &CoefficientSet) -> Method {
    let label = || Label::new("test", "1", "invented for the tests").unwrap();
    let calibration = set.lines().iter().fold(Calibration::new(label(), Basis::Dried), |calibration, line| {
        calibration.sensitivity(&line.line, exact(line.sensitivity.unwrap() / COUNTS)).unwrap()
    });
    Method::new(label(), set.clone(), calibration).unwrap()
}

/// The readings of these lines, each with a relative standard uncertainty.
pub(crate) fn measured(set: &CoefficientSet, counts: &[f64], relative_u: f64, leave_out: &[&str]) -> Measurement {
    let lines = set.lines().iter().zip(counts).filter(|(line, _)| !leave_out.contains(&line.line.as_str()));
    lines.fold(Measurement::new("B-1"), |measurement, (line, &count)| {
        let count = Estimate::new(count, count.abs() * relative_u).unwrap();
        measurement.reading(LineReading::net(&line.line, count).unwrap()).unwrap()
    })
}

/// The bead measured on all lines and solved.
pub(crate) fn solved(set: &CoefficientSet, bead: &Bead) -> Assay {
    let measurement = measured(set, &bead.counts(set), 0.0, &[]);
    method(set).assay(&bead.melt(), &measurement).unwrap()
}
