//! Monte Carlo propagation: seeded by block, the same draws for any number of threads.

use std::sync::OnceLock;
use std::sync::atomic::{AtomicUsize, Ordering};

use crate::code::Code;
use crate::error::{Error, Result};
use crate::numeric::memory::zeros;
use crate::numeric::{InstructionSet, semidefinite_factor, sum};
use crate::scalar::Scalar;
use crate::uncertainty::draws::{Draw, Stream, WIDTH};
use crate::uncertainty::model::check_inputs;
use crate::uncertainty::{Distribution, Inputs, Knowledge, Model, coverage};

/// Draws computed from one stream.
const BLOCK: usize = 1024;

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
/// # struct Twice;
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
#[derive(Debug, Clone)]
pub struct MonteCarlo {
    draws: usize,
    /// Block by block, in each the draws of one output after those of the one before.
    drawn: Vec<f64>,
    means: Vec<f64>,
    variances: Vec<f64>,
    /// Per output in ascending order, once it is asked for.
    sorted: Vec<OnceLock<Vec<f64>>>,
}

/// Equal draws; what was asked of them makes no difference.
impl PartialEq for MonteCarlo {
    fn eq(&self, other: &Self) -> bool {
        self.draws == other.draws && self.drawn == other.drawn
    }
}

/// One independent random number of a draw and what it moves.
struct Source {
    distribution: Distribution,
    dof: f64,
    /// (input, how far it moves per unit)
    moves: Vec<(usize, f64)>,
}

/// Draws the inputs and runs the model on every draw.
///
/// Own parts follow their distribution, shared causes and correlated own parts are normal.
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
/// # struct Twice;
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
pub fn monte_carlo<M: Model>(model: &M, inputs: &Inputs, options: &MonteCarloOptions) -> Result<MonteCarlo> {
    let count = |quantity: &str, value: usize, [low, high]: [usize; 2]| {
        let (bounds, words) = ([low as f64, high as f64], format!("{low} to {high}"));
        crate::error::within(quantity, value as f64, "", bounds, &words, "200 000 draws and one thread are usual.")
    };
    const MOST_DRAWS: usize = 1_000_000_000;
    const MOST_THREADS: usize = 256;
    count("Number of draws", options.draws, [2, MOST_DRAWS])?;
    count("Number of threads", options.threads, [1, MOST_THREADS])?;
    check_inputs(model, inputs)?;
    let sources = sources(inputs, options.only.as_deref())?;
    let values = inputs.values();
    let m = model.outputs();
    let blocks = options.draws.div_ceil(BLOCK);
    let mut drawn = zeros(options.draws * m).ok_or_else(|| Error::OutOfRange {
        code: Code::NumberOutOfRange,
        quantity: "Number of draws".to_owned(),
        value: options.draws as f64,
        unit: "",
        bound: format!("what the memory holds ({m} numbers a draw)"),
        hint: "Ask for fewer draws.".to_owned(),
    })?;

    // Each block is a function of the seed and its own number; threads only take turns at the list of blocks.
    let next = AtomicUsize::new(0);
    let slots: Vec<std::sync::Mutex<&mut [f64]>> =
        drawn.chunks_mut(BLOCK * m.max(1)).map(std::sync::Mutex::new).collect();
    let work = || -> Result<()> {
        loop {
            let block = next.fetch_add(1, Ordering::Relaxed);
            if block >= blocks {
                return Ok(());
            }
            let Ok(mut out) = slots[block].lock() else { return Ok(()) };
            let stream = Stream::new(options.seed, block as u64);
            InstructionSet::best().run(Block { model, values: &values, sources: &sources, stream, out: &mut out })?;
        }
    };
    if m > 0 {
        std::thread::scope(|scope| {
            let others: Vec<_> = (1..options.threads.min(blocks)).map(|_| scope.spawn(work)).collect();
            let mine = work();
            let join = |handle: std::thread::ScopedJoinHandle<'_, Result<()>>| {
                // a model that panics does so for the caller too, whatever thread it ran in
                handle.join().unwrap_or_else(|panic| std::panic::resume_unwind(panic))
            };
            others.into_iter().map(join).fold(mine, Result::and)
        })?;
    }
    drop(slots);
    summarise(drawn, m, options.draws)
}

struct Block<'a, M> {
    model: &'a M,
    values: &'a [f64],
    sources: &'a [Source],
    stream: Stream,
    out: &'a mut [f64],
}

impl<M: Model> pulp::NullaryFnOnce for Block<'_, M> {
    type Output = ();
    #[inline(always)]
    fn call(mut self) {
        let m = self.model.outputs();
        let mut x = vec![Draw::constant(0.0); self.values.len()];
        let mut y = vec![Draw::constant(0.0); m];
        let mut scratch = vec![Draw::constant(0.0); self.model.scratch()];
        let draws = self.out.len() / m;
        for first in (0..draws).step_by(WIDTH) {
            for (slot, &value) in x.iter_mut().zip(self.values) {
                *slot = Draw::constant(value);
            }
            for source in self.sources {
                let z = self.stream.standard(source.distribution, source.dof);
                for &(input, by) in &source.moves {
                    x[input] = x[input] + z * by;
                }
            }
            self.model.evaluate(&x, &mut y, &mut scratch);
            let last = draws.min(first + WIDTH);
            for (column, lanes) in self.out.chunks_exact_mut(draws).zip(&y) {
                column[first..last].copy_from_slice(&lanes.0[..last - first]);
            }
        }
    }
}

/// The independent random numbers behind the inputs.
fn sources(inputs: &Inputs, only: Option<&str>) -> Result<Vec<Source>> {
    let wanted = |name: &str| only.is_none_or(|only| only == name);
    let (members, matrix) = inputs.correlated();
    let mut sources = Vec::new();
    for (i, input) in inputs.iter().enumerate() {
        let Knowledge::Standard { u, dof, distribution } = input.estimate.knowledge() else { continue };
        // Alone, a correlated input is a normal one.
        let in_group = members.contains(&i);
        if in_group && distribution != Distribution::Normal {
            return Err(Error::Conflict {
                code: Code::CorrelationImpossible,
                detail: format!("{} is correlated with other inputs and {}.", input.name, distribution.word()),
                hint: "Only normal inputs can be drawn with a correlation; use a shared cause instead.".to_owned(),
            });
        }
        if u != 0.0 && wanted(&input.name) && (!in_group || only.is_some()) {
            sources.push(Source { distribution, dof, moves: vec![(i, u)] });
        }
    }
    if only.is_none() && !members.is_empty() {
        let n = members.len();
        let factor = semidefinite_factor(&matrix, n)?;
        let u = |member: usize| inputs.get(members[member]).map_or(0.0, |input| input.estimate.own_u());
        for column in 0..n {
            let moves = (0..n).map(|row| (members[row], factor[row * n + column] * u(row))).collect();
            sources.push(Source { distribution: Distribution::Normal, dof: f64::INFINITY, moves });
        }
    }
    for cause in inputs.causes().into_iter().filter(|cause| wanted(cause)) {
        let moves = inputs
            .iter()
            .enumerate()
            .flat_map(|(i, input)| input.estimate.causes().iter().map(move |part| (i, part)))
            .filter(|(_, part)| part.cause == cause)
            .map(|(i, part)| (i, part.u))
            .collect();
        sources.push(Source { distribution: Distribution::Normal, dof: f64::INFINITY, moves });
    }
    if let Some(only) = only
        && sources.is_empty()
    {
        let hint = match inputs.index_of(only).and_then(|index| inputs.get(index)) {
            Some(input) if input.estimate.knowledge() == Knowledge::Unstated => {
                "It has no stated uncertainty to draw from."
            }
            Some(_) => "It has no uncertainty of its own to draw from.",
            None => "Name it as it stands in the budget.",
        };
        return Err(Error::Unknown {
            code: Code::InputUnknown,
            what: "As a part to be drawn alone, input or shared cause".to_owned(),
            given: only.to_owned(),
            hint: hint.to_owned(),
        });
    }
    Ok(sources)
}

/// Means and variances, in two passes block by block.
fn summarise(drawn: Vec<f64>, m: usize, draws: usize) -> Result<MonteCarlo> {
    let mut drawn =
        MonteCarlo { draws, drawn, means: vec![0.0; m], variances: vec![0.0; m], sorted: vec![OnceLock::new(); m] };
    for output in 0..m {
        let mean = sum(drawn.blocks(output).map(|block| add_up(block, |value| value))) / draws as f64;
        if !mean.is_finite() {
            let bad = drawn.blocks(output).flatten().find(|value| !value.is_finite()).copied().unwrap_or(mean);
            return Err(Error::Missing {
                code: Code::NumberNotFinite,
                quantity: "A drawn result".to_owned(),
                place: String::new(),
                hint: format!("The model gave {bad}; are the uncertainties so large that a mass falls to zero?"),
            });
        }
        let squares = drawn.blocks(output).map(|block| {
            add_up(block, |value| {
                let off = value - mean;
                off * off
            })
        });
        drawn.variances[output] = sum(squares) / (draws as f64 - 1.0);
        drawn.means[output] = mean;
    }
    Ok(drawn)
}

/// The sum over a block, in as many parts as there are draws side by side: none waits for the one before.
#[inline(always)]
fn add_up(block: &[f64], part: impl Fn(f64) -> f64) -> f64 {
    let (whole, rest) = block.as_chunks::<WIDTH>();
    let mut sums = [0.0; WIDTH];
    for values in whole {
        for (sum, &value) in sums.iter_mut().zip(values) {
            *sum += part(value);
        }
    }
    for (sum, &value) in sums.iter_mut().zip(rest) {
        *sum += part(value);
    }
    sums.iter().sum()
}

impl MonteCarlo {
    /// The draws of an output, block by block.
    fn blocks(&self, output: usize) -> impl Iterator<Item = &[f64]> {
        let outputs = self.means.len().max(1);
        self.drawn.chunks(BLOCK * outputs).map(move |block| {
            let draws = block.len() / outputs;
            &block[output * draws..(output + 1) * draws]
        })
    }

    /// How many draws there were.
    ///
    /// ```
    /// # use beadchem::{scalar::Scalar, uncertainty::*};
    /// # struct Twice;
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
    /// # struct Twice;
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
        self.means.get(output).copied().unwrap_or(f64::NAN)
    }

    /// The standard deviation of an output.
    ///
    /// ```
    /// # use beadchem::{scalar::Scalar, uncertainty::*};
    /// # struct Twice;
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
        self.variances.get(output).map_or(f64::NAN, |variance| variance.sqrt())
    }

    /// The covariance of two outputs.
    ///
    /// ```
    /// # use beadchem::{scalar::Scalar, uncertainty::*};
    /// # struct Twice;
    /// # impl Model for Twice {
    /// #     fn outputs(&self) -> usize { 1 }
    /// #     fn evaluate<S: Scalar>(&self, x: &[S], y: &mut [S], _: &mut [S]) { y[0] = x[0] * 2.0; }
    /// # }
    /// # let mut inputs = Inputs::new();
    /// # inputs.push("a", Estimate::new(1.0, 0.5)?)?;
    /// let drawn = monte_carlo(&Twice, &inputs, &MonteCarloOptions::default())?;
    /// assert!((drawn.covariance(0, 0) - 1.0).abs() < 0.02);
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn covariance(&self, first: usize, second: usize) -> f64 {
        if first == second {
            return self.variances.get(first).copied().unwrap_or(f64::NAN);
        }
        // the same bits for both orders
        let (first, second) = (first.min(second), first.max(second));
        let (Some(&one), Some(&other)) = (self.means.get(first), self.means.get(second)) else { return f64::NAN };
        let products = self.blocks(first).zip(self.blocks(second)).map(|(left, right)| {
            let parts = left.iter().zip(right).map(|(left, right)| (left - one) * (right - other));
            parts.sum::<f64>()
        });
        sum(products) / (self.draws as f64 - 1.0)
    }

    /// The interval that leaves equal shares of the draws on both sides.
    ///
    /// # Errors
    /// `coverage.probability`; `shape.mismatch` where the output is not there.
    ///
    /// # Source
    /// JCGM 101:2008, 7.7.
    ///
    /// ```
    /// # use beadchem::{scalar::Scalar, uncertainty::*};
    /// # struct Twice;
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
    /// # struct Square;
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
        let sorted = self
            .sorted
            .get(output)
            .ok_or_else(|| Error::shape("Outputs", self.means.len(), output, "Outputs are counted from 0."))?;
        let sorted = sorted.get_or_init(|| {
            let mut column: Vec<f64> = self.blocks(output).flatten().copied().collect();
            column.sort_unstable_by(f64::total_cmp);
            column
        });
        let inside = (probability * self.draws as f64).round() as usize;
        Ok((sorted, inside.clamp(1, self.draws)))
    }
}
