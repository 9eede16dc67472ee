//! What all standards of a calibration rest on: one list of inputs, those that belong to one standard alone and those that
//! standards and unknowns share by name.

use crate::error::Result;
use crate::uncertainty::{Estimate, Inputs, Propagated};

/// A fitted quantity, and how far it moves with each input of all standards.
#[derive(Debug, Clone)]
pub(super) struct Parameter {
    pub(super) name: String,
    pub(super) value: f64,
    pub(super) moves: Vec<f64>,
}

/// The inputs of all standards in one list.
#[derive(Debug)]
pub(super) struct Parameters {
    inputs: Inputs,
    /// For each standard the places of its inputs.
    places: Vec<Vec<usize>>,
    /// Which of the list are shared by name.
    shared: Vec<bool>,
}

/// Estimates of parameters with what they share, and the correlations of the rest.
pub(super) struct Described {
    pub(super) estimates: Vec<Estimate>,
    pub(super) correlations: Vec<(usize, usize, f64)>,
}

/// Whether an input may be one physical quantity in several beads: what additions leave and bring, what of an element stays.
/// It is, where two beads state the same figures for it.
fn may_be_shared(name: &str) -> bool {
    const BEGIN: &str = "kept share of ";
    const WITHIN: [&str; 2] = [" retained ", " in "];
    const ADDITION: &str = " (addition ";
    let of_addition = name.contains(ADDITION) && WITHIN.iter().any(|text| name.contains(text));
    name.starts_with(BEGIN) || of_addition || (name.contains(ADDITION) && name.ends_with(" concentration"))
}

/// Whether an input is the same physical quantity in every bead: a property of a lot, an instrument, or nature.
fn is_shared(name: &str) -> bool {
    const BEGIN: [&str; 4] = ["atomic weight of ", "dead time", "overlap of ", "coefficient of "];
    const WITHIN: [&str; 4] = [" of lot ", " in flux lot ", " of flux lot ", " of monitor "];
    BEGIN.iter().any(|text| name.starts_with(text)) || WITHIN.iter().any(|text| name.contains(text))
}

impl Parameters {
    pub(super) fn new() -> Self {
        Self { inputs: Inputs::new(), places: Vec::new(), shared: Vec::new() }
    }

    /// Takes the inputs of one more standard into the list; its own are named after it.
    ///
    /// # Errors
    /// `input.doubled` where two standards state different figures for one shared quantity.
    pub(super) fn add(&mut self, standard: &str, inputs: &Inputs) -> Result<()> {
        let mut places = Vec::with_capacity(inputs.len());
        for input in inputs.iter() {
            let held = self.inputs.index_of(&input.name).and_then(|place| self.inputs.get(place));
            let agrees = held.is_none_or(|held| held.estimate == input.estimate);
            let shared = is_shared(&input.name) || (may_be_shared(&input.name) && agrees);
            let name = if shared { input.name.clone() } else { format!("{} of standard {standard}", input.name) };
            let place = self.inputs.push(name, input.estimate.clone())?;
            self.shared.resize(self.inputs.len(), shared);
            places.push(place);
        }
        self.places.push(places);
        Ok(())
    }

    /// How far a quantity moves with a shared cause, from how far it moves with each input.
    fn moved_by(&self, cause: &str, moves: &[f64]) -> f64 {
        let parts = self.inputs.iter().zip(moves).flat_map(|(input, moved)| {
            input.estimate.causes().iter().filter(|part| part.cause == cause).map(move |part| moved * part.u)
        });
        parts.sum()
    }

    pub(super) fn nothing(&self) -> Vec<f64> {
        vec![0.0; self.inputs.len()]
    }

    /// Adds how far an output of a standard's bead moves with its inputs, times a slope.
    pub(super) fn add_moves(&self, moves: &mut [f64], standard: usize, bead: &Propagated, output: usize, slope: f64) {
        for (input, &place) in self.places[standard].iter().enumerate() {
            moves[place] += slope * bead.derivative(output, input);
        }
    }

    /// The covariance of neighbouring outputs of one bead from what belongs to it alone: own parts of inputs that no other
    /// bead shares. Row by row.
    pub(super) fn local_covariance(&self, bead: &Propagated, start: usize, count: usize) -> Vec<f64> {
        let own: Vec<(usize, f64)> = bead
            .inputs()
            .iter()
            .enumerate()
            .filter(|(_, input)| !is_shared(&input.name))
            .map(|(place, input)| (place, input.estimate.own_u()))
            .filter(|(_, u)| *u != 0.0)
            .collect();
        let mut covariance = vec![0.0; count * count];
        for (row, column) in (0..count).flat_map(|row| (0..count).map(move |column| (row, column))) {
            let parts = own.iter().map(|&(input, u)| {
                bead.derivative(start + row, input) * bead.derivative(start + column, input) * u * u
            });
            covariance[row * count + column] = parts.sum();
        }
        covariance
    }

    /// The variance that a combination of neighbouring outputs of one bead has from inputs that only may be shared, as if they
    /// were this bead's own: equal figures are stated for two beads also where each went its own way.
    pub(super) fn variance_if_own(&self, bead: &Propagated, start: usize, slopes: &[f64]) -> f64 {
        let inputs = bead.inputs().iter().enumerate().filter(|(_, input)| may_be_shared(&input.name));
        let parts = inputs.map(|(place, input)| {
            let moved = slopes.iter().enumerate().map(|(datum, slope)| slope * bead.derivative(start + datum, place));
            (moved.sum::<f64>() * input.estimate.own_u()).powi(2)
        });
        parts.sum()
    }

    /// The covariance of quantities from how far each moves with every input, shared parts and causes included. Row by row.
    pub(super) fn covariance(&self, moves: &[Vec<f64>]) -> Vec<f64> {
        let causes = self.inputs.causes();
        let parts = moves.iter().map(|moved| -> Vec<f64> {
            let own = self.inputs.iter().zip(moved).map(|(input, moved)| moved * input.estimate.own_u());
            own.chain(causes.iter().map(|cause| self.moved_by(cause, moved))).collect()
        });
        let parts: Vec<Vec<f64>> = parts.collect();
        let dot = |a: &[f64], b: &[f64]| a.iter().zip(b).map(|(x, y)| x * y).sum::<f64>();
        parts.iter().flat_map(|row| parts.iter().map(move |column| dot(row, column))).collect()
    }

    /// Parameters as estimates: what is shared as named causes, the rest as own parts with their correlations.
    pub(super) fn describe(&self, parameters: &[Parameter]) -> Result<Described> {
        let own: Vec<Vec<f64>> = parameters
            .iter()
            .map(|parameter| {
                let parts = self.inputs.iter().zip(&self.shared).zip(&parameter.moves);
                parts
                    .map(|((input, shared), moved)| if *shared { 0.0 } else { moved * input.estimate.own_u() })
                    .collect()
            })
            .collect();
        let dot = |a: usize, b: usize| own[a].iter().zip(&own[b]).map(|(x, y)| x * y).sum::<f64>();
        let unstated = |parameter: &Parameter| {
            let inputs = self.inputs.iter().zip(&parameter.moves);
            inputs.filter(|(input, moved)| input.estimate.u().is_none() && **moved != 0.0).count() > 0
        };
        let mut estimates = Vec::with_capacity(parameters.len());
        for (place, parameter) in parameters.iter().enumerate() {
            if unstated(parameter) {
                estimates.push(Estimate::unstated(parameter.value)?);
                continue;
            }
            let mut estimate = Estimate::new(parameter.value, dot(place, place).sqrt())?;
            for ((input, moved), shared) in self.inputs.iter().zip(&parameter.moves).zip(&self.shared) {
                let u = moved * input.estimate.own_u();
                if *shared && u != 0.0 {
                    estimate = estimate.shared(input.name.as_str(), u)?;
                }
            }
            for cause in self.inputs.causes() {
                let u = self.moved_by(cause, &parameter.moves);
                if u != 0.0 {
                    estimate = estimate.shared(cause, u)?;
                }
            }
            estimates.push(estimate);
        }
        let mut correlations = Vec::new();
        for (a, b) in (0..parameters.len()).flat_map(|a| (0..a).map(move |b| (b, a))) {
            let (first, second) = (dot(a, a), dot(b, b));
            let stated = estimates[a].u().is_some() && estimates[b].u().is_some();
            let coefficient = dot(a, b) / (first * second).sqrt();
            if stated && coefficient.is_finite() && coefficient != 0.0 {
                correlations.push((a, b, coefficient.clamp(-1.0, 1.0)));
            }
        }
        Ok(Described { estimates, correlations })
    }
}
