//! Monte Carlo propagation: seeded by block, the same draws for any number of threads.

use std::sync::{Arc, OnceLock};

use crate::code::Code;
use crate::error::{Error, Result};
use crate::numeric::memory::zeros;
use crate::numeric::sum;
use crate::uncertainty::drawing::{BLOCK, Drawing, Drawn, Evaluated};
use crate::uncertainty::model::check_inputs;
use crate::uncertainty::{Inputs, Model, coverage};

/// How many draws, from which seed, in how many threads, and which inputs move.
///
/// ```
/// use beadchem::uncertainty::MonteCarloOptions;
/// let options = MonteCarloOptions { seed: 7, ..MonteCarloOptions::default() };
/// assert_eq!((options.draws, options.threads), (200_000, 1));
/// ```
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct MonteCarloOptions {
    /// How many draws.
    pub draws: usize,
    /// Seed of the random streams; the same seed gives the same draws on any machine.
    pub seed: u64,
    /// How many threads; the result does not depend on it.
    pub threads: usize,
    /// Only the own part of this input, or this shared cause, is drawn; everything else stays at its value.
    pub only: Option<String>,
}

impl Default for MonteCarloOptions {
    fn default() -> Self {
        Self { draws: 200_000, seed: 1, threads: 1, only: None }
    }
}

/// The draws of all outputs with their moments.
///
/// ```
/// # use beadchem::{scalar::Scalar, uncertainty::*};
/// # #[derive(Clone)] struct Twice;
/// # impl Model for Twice {
/// #     fn outputs(&self) -> usize { 1 }
/// #     fn evaluate<S: Scalar>(&self, x: &[S], y: &mut [S], _: &mut [S]) { y[0] = x[0] * 2.0; }
/// # }
/// let mut inputs = Inputs::new();
/// inputs.push("a", Estimate::new(1.0, 0.5)?)?;
/// let drawn = monte_carlo(&Twice, &inputs, &MonteCarloOptions::default())?;
/// assert!((drawn.u(0) - 1.0).abs() < 0.01);
/// # Ok::<(), beadchem::Error>(())
/// ```
#[derive(Clone)]
pub struct MonteCarlo {
    draws: usize,
    /// So many outputs of the model stand before the first that was drawn.
    first: usize,
    means: Vec<f64>,
    variances: Vec<f64>,
    /// Draws them all again: what is asked of single draws is asked later, or never.
    again: Arc<Again>,
    /// Block by block, in each the draws of one output after those of the one before; once they are asked for.
    drawn: OnceLock<Vec<f64>>,
    /// Per output in ascending order, once it is asked for.
    sorted: Vec<OnceLock<Vec<f64>>>,
}

/// Writes all draws, block by block.
type Again = dyn Fn(&mut [f64]) -> Result<()> + Send + Sync;

/// Equal moments to the last bit, of as many draws.
impl PartialEq for MonteCarlo {
    fn eq(&self, other: &Self) -> bool {
        (self.draws, self.first, &self.means, &self.variances)
            == (other.draws, other.first, &other.means, &other.variances)
    }
}

impl core::fmt::Debug for MonteCarlo {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        let mut shown = f.debug_struct("MonteCarlo");
        shown.field("draws", &self.draws).field("means", &self.means).field("variances", &self.variances);
        shown.finish_non_exhaustive()
    }
}

/// Draws the inputs and runs the model on every draw.
///
/// Own parts follow their distribution, shared causes and correlated own parts are normal. Moments are taken while drawing, so
/// that any number of draws needs no memory; single draws, where intervals or covariances are asked for, are drawn again.
///
/// # Errors
/// `number.out-of-range` for fewer than 2 draws or no thread; `input.unknown` where `only` names nothing;
/// `correlation.impossible` where a correlated input is not normal; `number.not-finite` where the model gives a number
/// that is not finite for some draw.
///
/// # Source
/// JCGM 101:2008, clauses 6 and 7.
///
/// ```
/// # use beadchem::{scalar::Scalar, uncertainty::*};
/// # #[derive(Clone)] struct Twice;
/// # impl Model for Twice {
/// #     fn outputs(&self) -> usize { 1 }
/// #     fn evaluate<S: Scalar>(&self, x: &[S], y: &mut [S], _: &mut [S]) { y[0] = x[0] * 2.0; }
/// # }
/// # let mut inputs = Inputs::new();
/// # inputs.push("a", Estimate::new(1.0, 0.5)?)?;
/// let one = monte_carlo(&Twice, &inputs, &MonteCarloOptions::default())?;
/// let two = monte_carlo(&Twice, &inputs, &MonteCarloOptions { threads: 2, ..Default::default() })?;
/// assert_eq!(one, two);
/// # Ok::<(), beadchem::Error>(())
/// ```
pub fn monte_carlo<M: Model + Clone + Send + 'static>(
    model: &M,
    inputs: &Inputs,
    options: &MonteCarloOptions,
) -> Result<MonteCarlo> {
    check_inputs(model, inputs)?;
    draw(Evaluated(model.clone()), inputs, options)
}

/// The same for a model that may hold its numbers in vectors.
pub(crate) fn draw<M: Drawn>(model: M, inputs: &Inputs, options: &MonteCarloOptions) -> Result<MonteCarlo> {
    let count = |quantity: &str, value: usize, [low, high]: [usize; 2]| {
        let (bounds, words) = ([low as f64, high as f64], format!("{low} to {high}"));
        crate::error::within(quantity, value as f64, "", bounds, &words, "200 000 draws and one thread are usual.")
    };
    const MOST_DRAWS: usize = 1_000_000_000;
    const MOST_THREADS: usize = 256;
    count("Number of draws", options.draws, [2, MOST_DRAWS])?;
    count("Number of threads", options.threads, [1, MOST_THREADS])?;
    let drawing = Drawing::new(model, inputs, options)?;
    let (m, draws) = (drawing.outputs(), options.draws);
    let blocks = drawing.run(None)?;
    let again = {
        let drawing = drawing.clone();
        Arc::new(move |kept: &mut [f64]| drawing.run(Some(kept)).map(|_| ()))
    };
    let mut drawn = MonteCarlo {
        draws,
        first: 0,
        means: Vec::with_capacity(m),
        variances: Vec::with_capacity(m),
        again,
        drawn: OnceLock::new(),
        sorted: vec![OnceLock::new(); m],
    };
    for output in 0..m {
        let of_blocks = |place: usize| sum(blocks.chunks_exact(2 * m).map(move |block| block[place]));
        let (off, squares) = (of_blocks(output), of_blocks(m + output));
        let mean = drawing.centre(output) + off / draws as f64;
        if !(mean.is_finite() && squares.is_finite()) {
            let bad = drawing.first_not_finite(&blocks, output)?.unwrap_or(mean);
            return Err(Error::Missing {
                code: Code::NumberNotFinite,
                quantity: "A drawn result".to_owned(),
                place: String::new(),
                hint: format!("The model gave {bad}; are the uncertainties so large that a mass falls to zero?"),
            });
        }
        // of draws that are all the same, rounding may leave less than nothing
        let scatter = squares - off * off / draws as f64;
        drawn.variances.push(if scatter > 0.0 { scatter / (draws as f64 - 1.0) } else { 0.0 });
        drawn.means.push(mean);
    }
    Ok(drawn)
}

impl MonteCarlo {
    /// The same, counted behind so many outputs that were not drawn.
    pub(crate) fn behind(self, first: usize) -> Self {
        Self { first, ..self }
    }

    /// The draws of the output in this place among those drawn, block by block; drawn again where nobody asked before.
    fn blocks(&self, place: usize) -> Result<impl Iterator<Item = &[f64]>> {
        let outputs = self.sorted.len();
        if self.drawn.get().is_none() {
            let mut drawn = zeros(self.draws * outputs).ok_or_else(|| Error::OutOfRange {
                code: Code::NumberOutOfRange,
                quantity: "Number of draws".to_owned(),
                value: self.draws as f64,
                unit: "",
                bound: format!("what the memory holds ({outputs} numbers a draw)"),
                hint: "Means and u need no memory; for intervals and covariances ask for fewer draws.".to_owned(),
            })?;
            (self.again)(&mut drawn)?;
            // somebody else may have been faster, with the same draws
            let _ = self.drawn.set(drawn);
        }
        let drawn = self.drawn.get().map_or(&[][..], Vec::as_slice);
        Ok(drawn.chunks(BLOCK * outputs.max(1)).map(move |block| {
            let draws = block.len() / outputs;
            &block[place * draws..(place + 1) * draws]
        }))
    }

    /// # Errors
    /// `shape.mismatch` where the output is not there.
    fn there(&self, output: usize) -> Result<usize> {
        let (first, count) = (self.first, self.sorted.len());
        let place = output.checked_sub(first).filter(|&place| place < count);
        place.ok_or_else(|| {
            let drawn = format!("Outputs {first} to {} were drawn.", (first + count).saturating_sub(1));
            Error::shape("Outputs", first + count, output, &drawn)
        })
    }

    /// How many draws there were.
    ///
    /// ```
    /// # use beadchem::{scalar::Scalar, uncertainty::*};
    /// # #[derive(Clone)] struct Twice;
    /// # impl Model for Twice {
    /// #     fn outputs(&self) -> usize { 1 }
    /// #     fn evaluate<S: Scalar>(&self, x: &[S], y: &mut [S], _: &mut [S]) { y[0] = x[0] * 2.0; }
    /// # }
    /// # let mut inputs = Inputs::new();
    /// # inputs.push("a", Estimate::new(1.0, 0.5)?)?;
    /// let drawn = monte_carlo(&Twice, &inputs, &MonteCarloOptions { draws: 1000, ..Default::default() })?;
    /// assert_eq!(drawn.draws(), 1000);
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn draws(&self) -> usize {
        self.draws
    }

    /// The mean of an output.
    ///
    /// ```
    /// # use beadchem::{scalar::Scalar, uncertainty::*};
    /// # #[derive(Clone)] struct Twice;
    /// # impl Model for Twice {
    /// #     fn outputs(&self) -> usize { 1 }
    /// #     fn evaluate<S: Scalar>(&self, x: &[S], y: &mut [S], _: &mut [S]) { y[0] = x[0] * 2.0; }
    /// # }
    /// # let mut inputs = Inputs::new();
    /// # inputs.push("a", Estimate::new(1.0, 0.5)?)?;
    /// let drawn = monte_carlo(&Twice, &inputs, &MonteCarloOptions::default())?;
    /// assert!((drawn.mean(0) - 2.0).abs() < 0.02);
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn mean(&self, output: usize) -> f64 {
        self.there(output).map_or(f64::NAN, |place| self.means[place])
    }

    /// The standard deviation of an output.
    ///
    /// ```
    /// # use beadchem::{scalar::Scalar, uncertainty::*};
    /// # #[derive(Clone)] struct Twice;
    /// # impl Model for Twice {
    /// #     fn outputs(&self) -> usize { 1 }
    /// #     fn evaluate<S: Scalar>(&self, x: &[S], y: &mut [S], _: &mut [S]) { y[0] = x[0] * 2.0; }
    /// # }
    /// # let mut inputs = Inputs::new();
    /// # inputs.push("a", Estimate::new(1.0, 0.5)?)?;
    /// let drawn = monte_carlo(&Twice, &inputs, &MonteCarloOptions::default())?;
    /// assert!((drawn.u(0) - 1.0).abs() < 0.01);
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn u(&self, output: usize) -> f64 {
        self.there(output).map_or(f64::NAN, |place| self.variances[place].sqrt())
    }

    /// The covariance of two outputs.
    ///
    /// # Errors
    /// `shape.mismatch` where an output is not there; `number.out-of-range` where the memory does not hold the draws.
    ///
    /// ```
    /// # use beadchem::{scalar::Scalar, uncertainty::*};
    /// # #[derive(Clone)] struct Twice;
    /// # impl Model for Twice {
    /// #     fn outputs(&self) -> usize { 1 }
    /// #     fn evaluate<S: Scalar>(&self, x: &[S], y: &mut [S], _: &mut [S]) { y[0] = x[0] * 2.0; }
    /// # }
    /// # let mut inputs = Inputs::new();
    /// # inputs.push("a", Estimate::new(1.0, 0.5)?)?;
    /// let drawn = monte_carlo(&Twice, &inputs, &MonteCarloOptions::default())?;
    /// assert!((drawn.covariance(0, 0)? - 1.0).abs() < 0.02);
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    pub fn covariance(&self, first: usize, second: usize) -> Result<f64> {
        // the same bits for both orders
        let (first, second) = (self.there(first.min(second))?, self.there(first.max(second))?);
        if first == second {
            return Ok(self.variances[first]);
        }
        let (one, other) = (self.means[first], self.means[second]);
        let products = self.blocks(first)?.zip(self.blocks(second)?).map(|(left, right)| {
            let parts = left.iter().zip(right).map(|(left, right)| (left - one) * (right - other));
            parts.sum::<f64>()
        });
        Ok(sum(products) / (self.draws as f64 - 1.0))
    }

    /// The interval that leaves equal shares of the draws on both sides.
    ///
    /// # Errors
    /// `coverage.probability`; `shape.mismatch` where the output is not there; `number.out-of-range` where the memory does not hold
    /// the draws.
    ///
    /// # Source
    /// JCGM 101:2008, 7.7.
    ///
    /// ```
    /// # use beadchem::{scalar::Scalar, uncertainty::*};
    /// # #[derive(Clone)] struct Twice;
    /// # impl Model for Twice {
    /// #     fn outputs(&self) -> usize { 1 }
    /// #     fn evaluate<S: Scalar>(&self, x: &[S], y: &mut [S], _: &mut [S]) { y[0] = x[0] * 2.0; }
    /// # }
    /// # let mut inputs = Inputs::new();
    /// # inputs.push("a", Estimate::new(1.0, 0.5)?)?;
    /// let (low, high) = monte_carlo(&Twice, &inputs, &MonteCarloOptions::default())?.interval(0, 0.95)?;
    /// assert!((low - 0.04).abs() < 0.03 && (high - 3.96).abs() < 0.03);
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    pub fn interval(&self, output: usize, probability: f64) -> Result<(f64, f64)> {
        let (sorted, inside) = self.covering(output, probability)?;
        let skipped = (sorted.len() - inside) / 2;
        Ok((sorted[skipped], sorted[skipped + inside - 1]))
    }

    /// The shortest interval that holds this share of the draws.
    ///
    /// # Errors
    /// As [`interval`](Self::interval).
    ///
    /// # Source
    /// JCGM 101:2008, 7.7.
    ///
    /// ```
    /// # use beadchem::{scalar::Scalar, uncertainty::*};
    /// # #[derive(Clone)] struct Square;
    /// # impl Model for Square {
    /// #     fn outputs(&self) -> usize { 1 }
    /// #     fn evaluate<S: Scalar>(&self, x: &[S], y: &mut [S], _: &mut [S]) { y[0] = x[0] * x[0]; }
    /// # }
    /// # let mut inputs = Inputs::new();
    /// # inputs.push("a", Estimate::new(0.0, 1.0)?)?;
    /// let drawn = monte_carlo(&Square, &inputs, &MonteCarloOptions::default())?;
    /// let ((low, high), (from, to)) = (drawn.shortest_interval(0, 0.95)?, drawn.interval(0, 0.95)?);
    /// assert!(high - low < to - from);
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    pub fn shortest_interval(&self, output: usize, probability: f64) -> Result<(f64, f64)> {
        let (sorted, inside) = self.covering(output, probability)?;
        let start = (0..=sorted.len() - inside)
            .min_by(|&a, &b| (sorted[a + inside - 1] - sorted[a]).total_cmp(&(sorted[b + inside - 1] - sorted[b])))
            .unwrap_or(0);
        Ok((sorted[start], sorted[start + inside - 1]))
    }

    /// The sorted draws of an output and how many of them make up this share.
    fn covering(&self, output: usize, probability: f64) -> Result<(&[f64], usize)> {
        coverage::probability(probability)?;
        let place = self.there(output)?;
        let slot = &self.sorted[place];
        if slot.get().is_none() {
            let mut column: Vec<f64> = self.blocks(place)?.flatten().copied().collect();
            column.sort_unstable_by(f64::total_cmp);
            let _ = slot.set(column);
        }
        let sorted = slot.get().map_or(&[][..], Vec::as_slice);
        let inside = (probability * self.draws as f64).round() as usize;
        Ok((sorted, inside.clamp(1, self.draws)))
    }
}
