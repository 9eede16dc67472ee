//! A compiled charge: places and numbers, run with any number type.

use std::borrow::Cow;
use std::sync::Arc;

use crate::charge::builder::Charge;
use crate::charge::compile::{Compiled, Loss, compile};
use crate::charge::form::Form;
use crate::charge::kernel::{Content, FIXED, GLASS_MASS, Input, Kernel, Reading};
use crate::charge::line_compile::Standing;
use crate::charge::lines::{Failure, Lines, Solved};
use crate::charge::pinned;
use crate::code::Code;
use crate::composition::{Basis, BasisLinks, Composition};
use crate::error::{Error, Result};
use crate::finding::Finding;
use crate::matrix::order::LineOrder;
use crate::numeric::{InstructionSet, eliminate};
use crate::scalar::{Mask, Scalar};
use crate::substance::{Element, Formula, Weights};
use crate::uncertainty::{Directions, Estimate, Inputs, Model, Propagated, Spread, linearise, linearise_plain};

/// What is asked of a bead: its readings, and the basis and form of the results.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Order {
    /// Mass fractions of the glass; where there are lines, the analytes they are solved for.
    pub(crate) readings: Composition,
    /// Evaluation (a): the intensities.
    pub(crate) lines: Option<Arc<LineOrder>>,
    /// The basis of the weighing where nothing is said.
    pub(crate) basis: Option<Basis>,
    pub(crate) links: BasisLinks,
    pub(crate) form: Form,
}

impl Order {
    /// What is asked of intensities, on the basis of the weighing and as the coefficients write it.
    pub(crate) fn of_lines(lines: LineOrder) -> Result<Self> {
        let readings = lines
            .analytes()
            .try_fold(Composition::new(Basis::Bead), |readings, (species, cell)| readings.with(species, cell))?;
        let (links, form) = (BasisLinks::default(), Form::AsRead);
        Ok(Self { readings, lines: Some(Arc::new(lines)), basis: None, links, form })
    }
}

/// The inputs of one bead in the order of the plan, as numbers of any type.
///
/// ```
/// # use beadchem::{charge::{Charge, FluxLot, Sample}, substance::Weights};
/// # let lot = FluxLot::new("F-1", [("Li2B4O7", 1.0)], "1050 C, 18 min", 0.004)?;
/// # let charge = Charge::new(Sample::dried(1.05)?, lot.weigh_g(6.0)?)?;
/// let plan = charge.fuse_with_loss(&Weights::ciaaw_2024(), 0.431)?.into_plan();
/// assert_eq!(plan.row::<f64>().values.len(), plan.inputs().len());
/// # Ok::<(), beadchem::Error>(())
/// ```
#[derive(Debug, Clone, PartialEq)]
pub struct Row<S> {
    /// One number per input of the plan.
    pub values: Vec<S>,
}

/// The outputs of one bead in the order of the plan.
///
/// ```
/// # use beadchem::{charge::{Charge, FluxLot, Sample}, substance::Weights};
/// # let lot = FluxLot::new("F-1", [("Li2B4O7", 1.0)], "1050 C, 18 min", 0.004)?;
/// # let charge = Charge::new(Sample::dried(1.05)?, lot.weigh_g(6.0)?)?;
/// let plan = charge.fuse_with_loss(&Weights::ciaaw_2024(), 0.431)?.into_plan();
/// assert!(!plan.out::<f64>().trouble);
/// # Ok::<(), beadchem::Error>(())
/// ```
#[derive(Debug, Clone, PartialEq)]
pub struct Out<S: Scalar> {
    /// One number per output of the plan.
    pub values: Vec<S>,
    /// True where a mass or basis leaves nothing to divide by; the numbers then mean nothing.
    pub trouble: S::Mask,
}

/// Room for intermediate numbers; belongs to the caller and can be used again.
///
/// ```
/// # use beadchem::{charge::{Charge, FluxLot, Sample}, substance::Weights};
/// # let lot = FluxLot::new("F-1", [("Li2B4O7", 1.0)], "1050 C, 18 min", 0.004)?;
/// # let charge = Charge::new(Sample::dried(1.05)?, lot.weigh_g(6.0)?)?;
/// let plan = charge.fuse_with_loss(&Weights::ciaaw_2024(), 0.431)?.into_plan();
/// let scratch: beadchem::charge::Scratch<f64> = plan.scratch();
/// # Ok::<(), beadchem::Error>(())
/// ```
#[derive(Debug, Clone, PartialEq)]
pub struct Scratch<S>(Vec<S>);

impl<S> Scratch<S> {
    pub(crate) fn numbers(&self) -> &[S] {
        &self.0
    }
}

/// A charge with every name resolved: from masses, contents and atomic weights to glass, ratios and sample.
///
/// ```
/// use beadchem::{charge::{Charge, FluxLot, Sample}, scalar::Lanes, substance::Weights};
/// let lot = FluxLot::new("F-1", [("Li2B4O7", 1.0)], "1050 C, 18 min", 0.004)?;
/// let charge = Charge::new(Sample::dried(1.05)?, lot.weigh_g(6.0)?)?;
/// let plan = charge.fuse_with_loss(&Weights::ciaaw_2024(), 0.431)?.into_plan();
/// let (row, mut out, mut scratch) = (plan.row::<f64>(), plan.out::<f64>(), plan.scratch::<f64>());
/// plan.run(&row, &mut out, &mut scratch);
/// assert_eq!(format!("{:.3}", out.values[3]), "6.260"); // the dilution
/// let (row, mut lanes, mut scratch) = (plan.row::<Lanes<8>>(), plan.out(), plan.scratch());
/// plan.run(&row, &mut lanes, &mut scratch);
/// assert_eq!(lanes.values[3].0[7], out.values[3]);
/// # Ok::<(), beadchem::Error>(())
/// ```
#[derive(Debug, Clone)]
pub struct Plan {
    pub(crate) kernel: Kernel,
    adjusting: Option<Adjusting>,
    spread: Arc<Spread>,
    names: Vec<String>,
    directions: Directions,
    /// How many inputs stand before those of the lines.
    charge_inputs: usize,
    pub(crate) elements: Vec<Element>,
    pub(crate) stays_as: Vec<Option<Formula>>,
    pub(crate) gases: Vec<Formula>,
    pub(crate) glass: Vec<Formula>,
    pub(crate) results: Vec<Formula>,
    pub(crate) limits: Vec<Formula>,
    pub(crate) findings: Vec<Finding>,
    pub(crate) standings: Vec<Standing>,
}

/// Inputs moved towards a weighed bead: each by its gain times weighed less predicted.
#[derive(Debug, Clone)]
struct Adjusting {
    weighed: Input,
    gains: Vec<(Input, f64)>,
}

impl Adjusting {
    /// Moves the inputs by what the bead weighs beyond its prediction.
    #[inline(always)]
    fn shift<S: Scalar>(&self, x: &mut [S], predicted: S) {
        let missing = x[self.weighed] - predicted;
        for &(input, gain) in &self.gains {
            x[input] = x[input] + missing * gain;
        }
    }
}

/// A weighed bead that may move inputs, and how far each goes with it, per gram.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Adjustment {
    pub(crate) weighed: Estimate,
    pub(crate) gains: Vec<(String, f64)>,
}

/// The name of the weighed bead among the inputs.
pub(crate) const WEIGHED_BEAD: &str = "weighed bead mass";

impl Plan {
    pub(crate) fn new(
        charge: &Charge,
        weights: &Weights,
        loss: &Loss,
        order: Option<&Order>,
        adjustment: Option<&Adjustment>,
    ) -> Result<Self> {
        let Compiled {
            kernel,
            mut inputs,
            elements,
            stays_as,
            gases,
            glass,
            results,
            limits,
            findings,
            standings,
            charge_inputs,
        } = compile(charge, weights, loss, order)?;
        if let Some(lines) = order.and_then(|order| order.lines.as_ref()) {
            let stated = lines.correlations.iter().map(|(a, b, r)| (a.as_str(), b.as_str(), *r));
            inputs.correlate(&stated.collect::<Vec<_>>())?;
            inputs.join_named_causes()?;
        }
        let fixed = ["bead mass", "flux ratio", "fused flux ratio", "dilution", "loss on fusion"];
        let names = fixed
            .iter()
            .map(|name| (*name).to_owned())
            .chain(glass.iter().map(|species| format!("predicted {species} in the glass")))
            .chain(results.iter().map(|species| species.text().to_owned()))
            .chain(limits.iter().map(|species| format!("detection limit of {species}")))
            .collect();
        let adjusting = match adjustment {
            Some(adjustment) => {
                let places = |(name, gain): &(String, f64)| inputs.index_of(name).map(|place| (place, *gain));
                let gains = adjustment.gains.iter().filter_map(places).collect();
                Some(Adjusting { weighed: inputs.push(WEIGHED_BEAD, adjustment.weighed.clone())?, gains })
            }
            None => None,
        };
        let first = FIXED + glass.len();
        // A reading moves its own result and nothing else.
        let read = |(k, reading): (usize, &Reading)| match reading.content {
            Content::Read(content) => Some((content, vec![first + k])),
            Content::Solved => None,
        };
        let directions = match &kernel.lines {
            Some(lines) => pinned::directions(lines, inputs.len(), charge_inputs),
            None => {
                let members: Vec<_> = kernel.readings.iter().enumerate().filter_map(read).collect();
                Directions::sharing(inputs.len(), &members)
            }
        };
        let spread = Arc::new(Spread::new(inputs)?);
        Ok(Self {
            kernel,
            adjusting,
            spread,
            names,
            directions,
            charge_inputs,
            elements,
            stays_as,
            gases,
            glass,
            results,
            limits,
            findings,
            standings,
        })
    }

    /// The inputs with their names, values and uncertainties, in the order of a row.
    ///
    /// ```
    /// # use beadchem::{charge::{Charge, FluxLot, Sample}, substance::Weights};
    /// # let lot = FluxLot::new("F-1", [("Li2B4O7", 1.0)], "1050 C, 18 min", 0.004)?;
    /// # let charge = Charge::new(Sample::dried(1.05)?, lot.weigh_g(6.0)?)?;
    /// let plan = charge.fuse_with_loss(&Weights::ciaaw_2024(), 0.431)?.into_plan();
    /// assert_eq!(plan.inputs().index_of("flux loss of lot F-1"), Some(2));
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn inputs(&self) -> &Inputs {
        self.spread.inputs()
    }

    /// The names of the outputs, in order.
    ///
    /// ```
    /// # use beadchem::{charge::{Charge, FluxLot, Sample}, substance::Weights};
    /// # let lot = FluxLot::new("F-1", [("Li2B4O7", 1.0)], "1050 C, 18 min", 0.004)?;
    /// # let charge = Charge::new(Sample::dried(1.05)?, lot.weigh_g(6.0)?)?;
    /// let plan = charge.fuse_with_loss(&Weights::ciaaw_2024(), 0.431)?.into_plan();
    /// assert_eq!(plan.outputs()[0], "bead mass");
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn outputs(&self) -> &[String] {
        &self.names
    }

    /// A row with the values of the inputs.
    ///
    /// ```
    /// # use beadchem::{charge::{Charge, FluxLot, Sample}, substance::Weights};
    /// # let lot = FluxLot::new("F-1", [("Li2B4O7", 1.0)], "1050 C, 18 min", 0.004)?;
    /// # let charge = Charge::new(Sample::dried(1.05)?, lot.weigh_g(6.0)?)?;
    /// let plan = charge.fuse_with_loss(&Weights::ciaaw_2024(), 0.431)?.into_plan();
    /// assert_eq!(plan.row::<f64>().values[0], 1.05);
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn row<S: Scalar>(&self) -> Row<S> {
        Row { values: self.inputs().iter().map(|input| S::constant(input.estimate.value())).collect() }
    }

    /// Room for the outputs.
    ///
    /// ```
    /// # use beadchem::{charge::{Charge, FluxLot, Sample}, substance::Weights};
    /// # let lot = FluxLot::new("F-1", [("Li2B4O7", 1.0)], "1050 C, 18 min", 0.004)?;
    /// # let charge = Charge::new(Sample::dried(1.05)?, lot.weigh_g(6.0)?)?;
    /// let plan = charge.fuse_with_loss(&Weights::ciaaw_2024(), 0.431)?.into_plan();
    /// assert_eq!(plan.out::<f64>().values.len(), plan.outputs().len());
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn out<S: Scalar>(&self) -> Out<S> {
        Out { values: vec![S::constant(0.0); self.names.len()], trouble: S::Mask::splat(false) }
    }

    /// Room for intermediate numbers.
    ///
    /// ```
    /// # use beadchem::{charge::{Charge, FluxLot, Sample}, substance::Weights};
    /// # let lot = FluxLot::new("F-1", [("Li2B4O7", 1.0)], "1050 C, 18 min", 0.004)?;
    /// # let charge = Charge::new(Sample::dried(1.05)?, lot.weigh_g(6.0)?)?;
    /// let plan = charge.fuse_with_loss(&Weights::ciaaw_2024(), 0.431)?.into_plan();
    /// let mut scratch = plan.scratch::<f64>();
    /// plan.run(&plan.row(), &mut plan.out(), &mut scratch);
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn scratch<S: Scalar>(&self) -> Scratch<S> {
        Scratch(vec![S::constant(0.0); self.room()])
    }

    /// Runs one row. Infallible; trouble is told through [`Out::trouble`].
    ///
    /// Rows, outputs and scratch come from [`row`](Self::row), [`out`](Self::out) and [`scratch`](Self::scratch); ones
    /// of another length leave the outputs untouched and report trouble.
    ///
    /// ```
    /// # use beadchem::{charge::{Charge, FluxLot, Sample}, substance::Weights};
    /// # let lot = FluxLot::new("F-1", [("Li2B4O7", 1.0)], "1050 C, 18 min", 0.004)?;
    /// # let charge = Charge::new(Sample::dried(1.05)?, lot.weigh_g(6.0)?)?;
    /// let plan = charge.fuse_with_loss(&Weights::ciaaw_2024(), 0.431)?.into_plan();
    /// let (mut row, mut out, mut scratch) = (plan.row::<f64>(), plan.out(), plan.scratch());
    /// row.values[0] = 0.0; // no sample at all
    /// plan.run(&row, &mut out, &mut scratch);
    /// assert!(out.trouble);
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    pub fn run<S: Scalar>(&self, row: &Row<S>, out: &mut Out<S>, scratch: &mut Scratch<S>) {
        self.run_row(row, out, scratch);
    }

    #[inline(always)]
    fn run_row<S: Scalar>(&self, row: &Row<S>, out: &mut Out<S>, scratch: &mut Scratch<S>) {
        let fits = row.values.len() == self.inputs().len()
            && out.values.len() == self.names.len()
            && scratch.0.len() == self.room();
        out.trouble = S::Mask::splat(true);
        if fits {
            out.trouble = self.follow::<S, true>(&row.values, &mut out.values, &mut scratch.0);
        }
    }

    /// The same without the contents of the glass among its outputs.
    pub(crate) fn without_glass(&self) -> Self {
        let mut plan = self.clone();
        plan.kernel.glass.clear();
        plan.glass.clear();
        plan.names.drain(FIXED..FIXED + self.glass.len());
        plan
    }

    pub(crate) fn spread(&self) -> &Spread {
        &self.spread
    }

    pub(crate) fn charge_inputs(&self) -> usize {
        self.charge_inputs
    }

    /// Whether a weighed bead moves inputs.
    pub(crate) fn adjusts(&self) -> bool {
        self.adjusting.is_some()
    }

    /// Numbers that a run writes down on its way.
    pub(crate) fn room(&self) -> usize {
        self.kernel.scratch() + self.moved_scratch()
    }

    /// [`follow`](Self::follow) for one row of plain numbers, compiled once for all who ask for one.
    pub(super) fn follow_one(&self, x: &[f64], out: &mut [f64], scratch: &mut [f64]) -> bool {
        self.follow::<f64, true>(x, out, scratch)
    }

    /// The kernel; where a weighed bead adjusts inputs, once for the prediction and once with the inputs moved. Without
    /// `LINES` no code for intensities is compiled, and none may be asked for.
    #[inline(always)]
    pub(super) fn follow<S: Scalar, const LINES: bool>(&self, x: &[S], out: &mut [S], scratch: &mut [S]) -> S::Mask {
        let (moved, scratch) = scratch.split_at_mut(self.moved_scratch());
        let trouble = self.move_inputs(x, moved, out, scratch);
        let x = if self.adjusts() { &*moved } else { x };
        let run = if LINES { self.kernel.run(x, out, scratch) } else { self.kernel.run_glass(x, out, scratch) };
        run.or(trouble)
    }

    /// Room for the inputs where a weighed bead moves them.
    pub(crate) fn moved_scratch(&self) -> usize {
        if self.adjusts() { self.inputs().len() } else { 0 }
    }

    /// The inputs as a weighed bead moves them, where one does.
    #[inline(always)]
    pub(crate) fn move_inputs<S: Scalar>(&self, x: &[S], moved: &mut [S], out: &mut [S], scratch: &mut [S]) -> S::Mask {
        let Some(adjusting) = &self.adjusting else { return S::Mask::splat(false) };
        let mut books = self.kernel.books(&mut scratch[..self.kernel.books_scratch()]);
        let trouble = self.kernel.melt(x, &mut books, out);
        moved.copy_from_slice(x);
        adjusting.shift(moved, out[GLASS_MASS]);
        trouble
    }

    /// The values the kernel runs on: the inputs, moved where a weighed bead adjusts them.
    pub(crate) fn moved(&self) -> Vec<f64> {
        let mut x = self.inputs().values();
        if let Some(adjusting) = &self.adjusting {
            let mut out = vec![0.0; self.names.len()];
            self.kernel.run_glass(&x, &mut out, &mut vec![0.0; self.kernel.scratch()]);
            adjusting.shift(&mut x, out[GLASS_MASS]);
        }
        x
    }

    /// The plan run once on the values of its inputs.
    pub(crate) fn once(&self) -> Out<f64> {
        let mut out = self.out();
        self.run(&self.row(), &mut out, &mut self.scratch());
        out
    }

    /// Whether the system of the overlaps wants exchanged rows.
    pub(crate) fn overlaps_guarded(&self) -> bool {
        let Some(lines) = &self.kernel.lines else { return false };
        let n = lines.equation.network.members.len();
        let (mut matrix, mut right) = (vec![0.0; n * n], vec![0.0; n]);
        lines.equation.overlaps(&self.moved(), &mut matrix);
        n > 0 && eliminate(&mut matrix, n, &mut right, 1)
    }

    /// A bead solved from its intensities, looked into; nothing for readings of the glass.
    ///
    /// # Errors
    /// `matrix.singular` where the system has no solution, with the pivot and the analyte it stands at.
    pub(crate) fn solved(&self) -> Result<Option<Solved>> {
        self.kernel.lines.as_ref().map(|lines| self.solved_at(lines, &self.moved())).transpose()
    }

    /// The same with other values of the inputs.
    ///
    /// # Errors
    /// As [`solved`](Self::solved).
    pub(crate) fn solved_at(&self, lines: &Lines, x: &[f64]) -> Result<Solved> {
        self.kernel.solved(lines, x).map_err(|failure| match failure {
            Failure::NoStandard { amount, strength } => Error::Unstated {
                code: Code::ChargeIncomplete,
                quantity: format!(
                    "What the internal standard needs, an amount (here {amount} g/g) and counts on its line (here {strength:.3e} \
                     as k I),"
                ),
                hint: "Add it to the charge, by mass or as a share of the flux, and measure its line.".to_owned(),
            },
            Failure::Singular { pivot, row } => Error::Matrix {
                code: Code::MatrixSingular,
                quantity: "The system of this bead is singular".to_owned(),
                detail: format!("no pivot at {}", self.results.get(row).map_or("what is not reported", Formula::text)),
                figure: "pivot",
                value: pivot,
                hint: "Are the coefficients outside their range, or is a sensitivity of another instrument setting?"
                    .to_owned(),
            },
        })
    }

    /// [`run`](Self::run) compiled for a named instruction set; the bits are the same for each.
    ///
    /// # Errors
    /// `word.unknown` where this processor has no such instruction set.
    #[doc(hidden)]
    pub fn run_with<S: Scalar>(
        &self,
        set: InstructionSet,
        row: &Row<S>,
        out: &mut Out<S>,
        scratch: &mut Scratch<S>,
    ) -> Result<()> {
        set.run(RunOne { plan: self, row, out, scratch })
    }

    /// Values with their covariance, from the uncertainties of the inputs.
    ///
    /// # Errors
    /// None for a plan that could be compiled; kept fallible for the dispatch.
    ///
    /// ```
    /// # use beadchem::{charge::{Charge, FluxLot, Sample}, substance::Weights, uncertainty::Estimate};
    /// # let lot = FluxLot::new("F-1", [("Li2B4O7", 1.0)], "1050 C, 18 min", Estimate::new(0.004, 0.0003)?)?;
    /// # let charge = Charge::new(Sample::dried(1.05)?, lot.weigh_g(6.0)?)?;
    /// let plan = charge.fuse_with_loss(&Weights::ciaaw_2024(), 0.431)?.into_plan();
    /// assert!((plan.propagate()?.u(0) - 6.0 * 0.0003).abs() < 1e-6); // glass mass
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    pub fn propagate(&self) -> Result<Propagated> {
        self.propagate_from(self.solved()?.as_ref())
    }

    /// The same for a bead that is solved already.
    pub(crate) fn propagate_from(&self, solved: Option<&Solved>) -> Result<Propagated> {
        let set = InstructionSet::best();
        let x = self.inputs().values();
        // a weighed bead that adjusts inputs makes them depend on each other
        let pinned = solved.filter(|_| self.adjusting.is_none()).zip(self.kernel.lines.as_ref());
        let (values, jacobian) = match pinned {
            Some((at, lines)) => {
                let results = self.results.len();
                pinned::differentiate(&self.kernel, lines, at, &self.directions, &x, results, set)?
            }
            None if self.kernel.lines.is_some() => linearise_plain(self, &x),
            None => linearise(&Glass(self), &x, set)?,
        };
        Ok(Propagated::from_jacobian(Arc::clone(&self.spread), values, jacobian))
    }
}

struct RunOne<'a, S: Scalar> {
    plan: &'a Plan,
    row: &'a Row<S>,
    out: &'a mut Out<S>,
    scratch: &'a mut Scratch<S>,
}

impl<S: Scalar> pulp::NullaryFnOnce for RunOne<'_, S> {
    type Output = ();
    #[inline(always)]
    fn call(self) {
        self.plan.run_row(self.row, self.out, self.scratch);
    }
}

/// A plan of readings of the glass: what is compiled for every width and instruction set.
struct Glass<'a>(&'a Plan);

impl Model for Glass<'_> {
    fn outputs(&self) -> usize {
        self.0.names.len()
    }
    fn scratch(&self) -> usize {
        self.0.room()
    }
    #[inline(always)]
    fn evaluate<S: Scalar>(&self, inputs: &[S], outputs: &mut [S], scratch: &mut [S]) {
        let trouble = self.0.follow::<S, false>(inputs, outputs, scratch);
        for output in outputs.iter_mut() {
            *output = S::select(trouble, S::constant(f64::NAN), *output);
        }
    }
    fn directions(&self, _: usize) -> Cow<'_, Directions> {
        Cow::Borrowed(&self.0.directions)
    }
}

impl Model for Plan {
    fn outputs(&self) -> usize {
        self.names.len()
    }
    fn scratch(&self) -> usize {
        self.room()
    }
    fn inputs(&self) -> Option<usize> {
        Some(self.spread.inputs().len())
    }
    /// Where the kernel reports trouble its numbers mean nothing, and none is given.
    #[inline(always)]
    fn evaluate<S: Scalar>(&self, inputs: &[S], outputs: &mut [S], scratch: &mut [S]) {
        let trouble = self.follow::<S, true>(inputs, outputs, scratch);
        for output in outputs.iter_mut() {
            *output = S::select(trouble, S::constant(f64::NAN), *output);
        }
    }
    fn directions(&self, inputs: usize) -> Cow<'_, Directions> {
        match self.kernel.lines {
            Some(_) => Cow::Owned(Directions::own(inputs)),
            None => Cow::Borrowed(&self.directions),
        }
    }
}
