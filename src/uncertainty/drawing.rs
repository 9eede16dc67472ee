//! The loop of Monte Carlo: random numbers into inputs, the model over draws side by side, moments while they are at hand.

use std::sync::Mutex;
use std::sync::atomic::{AtomicUsize, Ordering};

use crate::code::Code;
use crate::error::{Error, Result};
use crate::numeric::{InstructionSet, Level, OverLanes, semidefinite_factor};
use crate::scalar::{Lanes, Scalar};
use crate::uncertainty::draws::{Stream, TILE};
use crate::uncertainty::{Distribution, Inputs, Knowledge, Model, MonteCarloOptions};

/// Draws computed from one stream.
pub(crate) const BLOCK: usize = 1024;

/// What is drawn: a model that knows how to run some draws side by side.
pub(crate) trait Drawn: Clone + Send + Sync + 'static {
    fn outputs(&self) -> usize;
    /// Outputs before the first that is drawn.
    fn first(&self) -> usize {
        0
    }
    fn scratch(&self) -> usize;
    /// Whether an input can move an output that is drawn.
    fn moves(&self, _: usize) -> bool {
        true
    }
    /// As many as stand side by side, none with a part in another.
    fn side_by_side<const W: usize, L: Level<W>>(
        &self,
        level: L,
        inputs: &[Lanes<W>],
        outputs: &mut [Lanes<W>],
        scratch: &mut [Lanes<W>],
    );
}

/// A model by its own operators.
#[derive(Debug, Clone)]
pub(crate) struct Evaluated<M>(pub(crate) M);

impl<M: Model + Clone + Send + 'static> Drawn for Evaluated<M> {
    fn outputs(&self) -> usize {
        self.0.outputs()
    }
    fn scratch(&self) -> usize {
        self.0.scratch()
    }
    fn side_by_side<const W: usize, L: Level<W>>(
        &self,
        level: L,
        inputs: &[Lanes<W>],
        outputs: &mut [Lanes<W>],
        scratch: &mut [Lanes<W>],
    ) {
        level.run(Evaluate { model: &self.0, inputs, outputs, scratch });
    }
}

struct Evaluate<'a, M, S> {
    model: &'a M,
    inputs: &'a [S],
    outputs: &'a mut [S],
    scratch: &'a mut [S],
}

impl<M: Model, S: Scalar> pulp::NullaryFnOnce for Evaluate<'_, M, S> {
    type Output = ();
    #[inline(always)]
    fn call(self) {
        self.model.evaluate(self.inputs, self.outputs, self.scratch);
    }
}

/// One independent random number of a draw and what it moves.
#[derive(Debug, Clone)]
struct Source {
    distribution: Distribution,
    dof: f64,
    moves: Vec<Part>,
}

/// How far a source moves an input per unit.
#[derive(Debug, Clone)]
struct Part {
    /// Its place among those that some source moves.
    input: usize,
    by: f64,
    /// Where the input starts from, if no source before this one moves it.
    start: Option<f64>,
}

impl Part {
    fn new(input: usize, by: f64) -> Self {
        Self { input, by, start: None }
    }
}

/// Everything that the draws follow from.
#[derive(Debug, Clone)]
pub(crate) struct Drawing<M> {
    model: M,
    values: Vec<f64>,
    sources: Vec<Source>,
    /// Inputs that some source moves.
    moved: Vec<usize>,
    /// What the model gives at the values: moments are taken about it.
    centre: Vec<f64>,
    draws: usize,
    seed: u64,
    threads: usize,
}

impl<M: Drawn> Drawing<M> {
    pub(crate) fn new(model: M, inputs: &Inputs, options: &MonteCarloOptions) -> Result<Self> {
        let mut sources = sources(inputs, options.only.as_deref())?;
        sources.retain(|source| source.moves.iter().any(|part| model.moves(part.input)));
        let mut moved: Vec<usize> = sources.iter().flat_map(|source| &source.moves).map(|part| part.input).collect();
        moved.sort_unstable();
        moved.dedup();
        let values = inputs.values();
        let mut met = vec![false; moved.len()];
        for part in sources.iter_mut().flat_map(|source| &mut source.moves) {
            let column = moved.partition_point(|&held| held < part.input);
            if !core::mem::replace(&mut met[column], true) {
                part.start = Some(values[part.input]);
            }
            part.input = column;
        }
        let mut centre = InstructionSet::best().over_lanes(Centre { model: &model, values: &values })?;
        // trouble at the values is trouble of the draws, and found there
        centre.iter_mut().filter(|value| !value.is_finite()).for_each(|value| *value = 0.0);
        let MonteCarloOptions { draws, seed, threads, .. } = *options;
        Ok(Self { model, values, sources, moved, centre, draws, seed, threads })
    }

    pub(crate) fn outputs(&self) -> usize {
        self.centre.len()
    }

    /// What the moments of an output are taken about.
    pub(crate) fn centre(&self, output: usize) -> f64 {
        self.centre[output]
    }

    /// The first draw of an output that is no number, from the block whose moments tell of it.
    pub(crate) fn first_not_finite(&self, moments: &[f64], output: usize) -> Result<Option<f64>> {
        let m = self.outputs();
        let squares = moments.chunks_exact(2 * m).map(|block| block[m + output]);
        let Some(number) = squares.enumerate().find(|(_, sum)| !sum.is_finite()).map(|(number, _)| number) else {
            return Ok(None);
        };
        let draws = BLOCK.min(self.draws - number * BLOCK);
        let (mut moments, mut kept) = (vec![0.0; 2 * m], vec![0.0; draws * m]);
        self.block(number, &mut moments, Some(&mut kept))?;
        Ok(kept[output * draws..(output + 1) * draws].iter().copied().find(|value| !value.is_finite()))
    }

    /// Draws one block.
    fn block(&self, number: usize, moments: &mut [f64], kept: Option<&mut [f64]>) -> Result<()> {
        let stream = Stream::new(self.seed, number as u64);
        let draws = BLOCK.min(self.draws - number * BLOCK);
        InstructionSet::best().over_lanes(Block { drawing: self, stream, draws, moments, kept })
    }

    /// Draws everything, into `kept` where that is wanted: block by block, in each output after output. Gives for each block the
    /// sums of the distances from the centre, then of their squares.
    pub(crate) fn run(&self, kept: Option<&mut [f64]>) -> Result<Vec<f64>> {
        let m = self.outputs();
        let mut moments = vec![0.0; self.draws.div_ceil(BLOCK) * 2 * m];
        if m == 0 {
            return Ok(moments);
        }
        let mut kept: Vec<Option<&mut [f64]>> = match kept {
            Some(kept) => kept.chunks_mut(BLOCK * m).map(Some).collect(),
            None => Vec::new(),
        };
        kept.resize_with(self.draws.div_ceil(BLOCK), || None);
        // Each block is a function of the seed and its own number; threads only take turns at the list of blocks.
        let slots: Vec<_> = moments.chunks_exact_mut(2 * m).zip(kept).map(Mutex::new).collect();
        let next = AtomicUsize::new(0);
        let work = || -> Result<()> {
            while let number = next.fetch_add(1, Ordering::Relaxed)
                && let Some(slot) = slots.get(number)
            {
                let Ok(mut slot) = slot.lock() else { return Ok(()) };
                let (moments, kept) = &mut *slot;
                self.block(number, moments, kept.as_deref_mut())?;
            }
            Ok(())
        };
        std::thread::scope(|scope| {
            let others: Vec<_> = (1..self.threads.min(slots.len())).map(|_| scope.spawn(work)).collect();
            let mine = work();
            let join = |handle: std::thread::ScopedJoinHandle<'_, Result<()>>| {
                // a model that panics does so for the caller too, whatever thread it ran in
                handle.join().unwrap_or_else(|panic| std::panic::resume_unwind(panic))
            };
            others.into_iter().map(join).fold(mine, Result::and)
        })?;
        drop(slots);
        Ok(moments)
    }
}

/// The outputs at the values of the inputs.
struct Centre<'a, M> {
    model: &'a M,
    values: &'a [f64],
}

impl<M: Drawn> OverLanes for Centre<'_, M> {
    type Output = Vec<f64>;
    fn run<const W: usize, L: Level<W>>(self, level: L) -> Vec<f64> {
        let Self { model, values } = self;
        let x: Vec<Lanes<W>> = values.iter().map(|&value| Lanes([value; W])).collect();
        let mut y = vec![Lanes([0.0; W]); model.outputs()];
        model.side_by_side(level, &x, &mut y, &mut vec![Lanes([0.0; W]); model.scratch()]);
        y[model.first()..].iter().map(|lanes| lanes.0[0]).collect()
    }
}

/// The draws of one stream.
struct Block<'a, M> {
    drawing: &'a Drawing<M>,
    stream: Stream,
    draws: usize,
    moments: &'a mut [f64],
    kept: Option<&'a mut [f64]>,
}

/// One number for each draw of a tile, summed over tiles: none waits for the one before, and how many draws stand side by side
/// moves no bit.
type Sums = [[f64; TILE]; 2];

impl<M: Drawn> OverLanes for Block<'_, M> {
    type Output = ();
    fn run<const W: usize, L: Level<W>>(self, level: L) {
        let Self { drawing, mut stream, draws, moments, mut kept } = self;
        let (m, before) = (drawing.outputs(), drawing.model.first());
        let mut x: Vec<Lanes<W>> = drawing.values.iter().map(|&value| Lanes([value; W])).collect();
        let mut y = vec![Lanes([0.0; W]); before + m];
        let mut scratch = vec![Lanes([0.0; W]); drawing.model.scratch()];
        let mut columns = vec![[0.0; TILE]; drawing.moved.len()];
        let mut sums: Vec<Sums> = vec![[[0.0; TILE]; 2]; m];
        for first in (0..draws).step_by(TILE) {
            level.run(Move { stream: &mut stream, sources: &drawing.sources, columns: &mut columns });
            for part in (0..TILE.min(draws - first)).step_by(W) {
                level.run(Enter { columns: &columns, moved: &drawing.moved, part, x: &mut x });
                drawing.model.side_by_side(level, &x, &mut y, &mut scratch);
                let drawn = &mut y[before..];
                let left = W.min(draws - first - part);
                if let Some(kept) = &mut kept {
                    let at = first + part;
                    let columns = kept.chunks_exact_mut(draws).zip(&*drawn);
                    columns.for_each(|(column, lanes)| column[at..at + left].copy_from_slice(&lanes.0[..left]));
                }
                if left < W {
                    let outputs = drawn.iter_mut().zip(&drawing.centre);
                    outputs.for_each(|(lanes, &centre)| lanes.0[left..].fill(centre));
                }
                level.run(Count { outputs: drawn, centre: &drawing.centre, part, sums: &mut sums });
            }
        }
        let (of_sums, of_squares) = moments.split_at_mut(m);
        for ((sum, square), [sums, squares]) in of_sums.iter_mut().zip(of_squares).zip(&sums) {
            *sum = sums.iter().sum();
            *square = squares.iter().sum();
        }
    }
}

/// Moves the inputs of a tile of draws.
struct Move<'a> {
    stream: &'a mut Stream,
    sources: &'a [Source],
    columns: &'a mut [[f64; TILE]],
}

impl pulp::NullaryFnOnce for Move<'_> {
    type Output = ();
    #[inline(always)]
    fn call(self) {
        for source in self.sources {
            let z = self.stream.standard(source.distribution, source.dof);
            for &Part { input, by, start } in &source.moves {
                let places = self.columns[input].iter_mut().zip(&z);
                match start {
                    Some(start) => places.for_each(|(place, z)| *place = start + z * by),
                    None => places.for_each(|(place, z)| *place += z * by),
                }
            }
        }
    }
}

/// Some draws of a tile into the inputs: by whole vectors, which are read as such at once.
struct Enter<'a, const W: usize> {
    columns: &'a [[f64; TILE]],
    moved: &'a [usize],
    /// Where in their tile they stand.
    part: usize,
    x: &'a mut [Lanes<W>],
}

impl<const W: usize> pulp::NullaryFnOnce for Enter<'_, W> {
    type Output = ();
    #[inline(always)]
    fn call(self) {
        for (column, &input) in self.columns.iter().zip(self.moved) {
            self.x[input].0.copy_from_slice(&column[self.part..self.part + W]);
        }
    }
}

/// Adds some draws to the sums of all outputs.
struct Count<'a, const W: usize> {
    outputs: &'a [Lanes<W>],
    centre: &'a [f64],
    /// Where in their tile they stand.
    part: usize,
    sums: &'a mut [Sums],
}

impl<const W: usize> pulp::NullaryFnOnce for Count<'_, W> {
    type Output = ();
    #[inline(always)]
    fn call(self) {
        for ((lanes, &centre), [sums, squares]) in self.outputs.iter().zip(self.centre).zip(self.sums) {
            let there = self.part..self.part + W;
            for ((sum, square), value) in sums[there.clone()].iter_mut().zip(&mut squares[there]).zip(&lanes.0) {
                let off = value - centre;
                *sum += off;
                *square += off * off;
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
            sources.push(Source { distribution, dof, moves: vec![Part::new(i, u)] });
        }
    }
    if only.is_none() && !members.is_empty() {
        let n = members.len();
        let factor = semidefinite_factor(&matrix, n)?;
        let u = |member: usize| inputs.get(members[member]).map_or(0.0, |input| input.estimate.own_u());
        for column in 0..n {
            let moves = (0..n).map(|row| Part::new(members[row], factor[row * n + column] * u(row))).collect();
            sources.push(Source { distribution: Distribution::Normal, dof: f64::INFINITY, moves });
        }
    }
    for cause in inputs.causes().into_iter().filter(|cause| wanted(cause)) {
        let moves = inputs
            .iter()
            .enumerate()
            .flat_map(|(i, input)| input.estimate.causes().iter().map(move |part| (i, part)))
            .filter(|(_, part)| part.cause == cause)
            .map(|(i, part)| Part::new(i, part.u))
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
