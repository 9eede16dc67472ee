//! What moves the results of a plan, sorted once for all its rows: which independent source moves one residual alone, which
//! several, and which derivatives that takes.
//!
//! Only variances are wanted, so sources are carried, not inputs: those that move a single residual (counts, a sensitivity)
//! are added into one contribution, each other source is one right-hand side of the system.

use std::sync::Arc;

use crate::charge::kernel::{FIXED, Input};
use crate::charge::lines::Lines;
use crate::charge::plan::Plan;
use crate::charge::traced;
use crate::matrix::drift::DriftPlaces;
use crate::matrix::net::NetPlaces;
use crate::scalar::Scalar;
use crate::uncertainty::Move;

/// Tangent directions of one pass: few, because passes cost what their directions cost and code grows with them.
pub(super) const DIRECTIONS: usize = 2;

/// What a derivative is of.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(super) enum Item {
    /// A residual of the equation; for readings of the glass, which have none, a result.
    Row(usize),
    /// A quantity that several residuals follow, by its place among these.
    Common(usize),
    /// A result beside what the residuals do to it.
    Result(usize),
}

/// A quantity that several residuals follow.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Common {
    /// The residual of an overlap, by the place of the line among those that overlap.
    Member(usize),
    /// The intensity of a line on which not one row stands.
    Line(usize),
    /// Fused flux per gram of sample.
    Ratio,
    /// The known amount of a present component.
    Known(usize),
}

/// A derivative: of what, by which input.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Slope {
    pub(super) of: Item,
    pub(super) by: Input,
}

/// Part of a contribution: a derivative times how far its input is moved.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Term {
    slope: usize,
    input: Input,
    moved: Move,
}

impl Term {
    #[inline(always)]
    pub(super) fn value<T: Scalar>(&self, slopes: &[T], u: &[T]) -> T {
        match self.moved {
            Move::Own(factor) => slopes[self.slope] * (u[self.input] * factor),
            Move::Cause(u) => slopes[self.slope] * u,
        }
    }
}

/// What one source does to one item.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Share {
    pub(super) item: Item,
    pub(super) terms: Vec<Term>,
}

impl Share {
    #[inline(always)]
    pub(super) fn value<T: Scalar>(&self, slopes: &[T], u: &[T]) -> T {
        let mut sum = T::constant(0.0);
        for term in &self.terms {
            sum = sum + term.value(slopes, u);
        }
        sum
    }
}

/// A line as a calculation of its own inputs.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct LineSlopes {
    pub(super) net: NetPlaces,
    pub(super) net_inputs: Vec<Input>,
    pub(super) drift: Option<(DriftPlaces, Vec<Input>)>,
    pub(super) of: Item,
}

/// A pass of duals through the charge: its inputs, each along its direction.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Pass {
    pub(super) inputs: Vec<(Input, usize)>,
    /// Which derivatives it gives: of what, along which direction, by which input.
    pub(super) gives: Vec<(Target, usize, Input)>,
    /// Whether results are among them.
    pub(super) results: bool,
}

/// What a pass through the charge looks at.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(super) enum Target {
    Ratio,
    Known(usize),
    /// What was brought of an analyte.
    Brought(usize),
    /// A result, with its amount held.
    Result(usize),
}

/// What the variances of a plan's results are made of; compiled once, run for rows.
#[derive(Debug, Clone)]
pub struct Contributions {
    /// Residuals; for readings of the glass the results.
    pub(super) rows: usize,
    pub(super) results: usize,
    pub(super) inputs: usize,
    pub(super) solved: bool,
    pub(super) lines: Vec<LineSlopes>,
    /// Rows whose sensitivity is moved, and those whose offset is.
    pub(super) sensitivities: Vec<usize>,
    pub(super) offsets: Vec<usize>,
    /// Places among the overlap factors and the uncertain coefficients.
    pub(super) factors: Vec<usize>,
    pub(super) coefficients: Vec<usize>,
    pub(super) passes: Vec<Pass>,
    /// Inputs that the charge reads.
    pub(super) read: Vec<Input>,
    pub(super) common: Vec<Common>,
    /// In the order in which they are computed.
    slopes: Vec<Slope>,
    /// Own parts that move one item by one derivative: the item by its place among rows and common quantities, the
    /// derivative, the input.
    pub(super) plain: Vec<(usize, usize, Input)>,
    /// Other sources that move one item alone.
    pub(super) owned: Vec<Share>,
    /// Items beside the rows that such sources move: each is one right-hand side.
    pub(super) gathered: Vec<usize>,
    /// The other sources.
    pub(super) sources: Vec<Vec<Share>>,
    /// Whether results depend on something beside the residuals.
    pub(super) direct: bool,
}

impl Contributions {
    /// What moves the results, where `own` says which inputs may have an own u in some row; shared causes and stated
    /// correlations are those of the plan. None for a
    /// plan that adjusts inputs to a weighed bead.
    #[doc(hidden)]
    #[must_use]
    pub fn new(plan: &Plan, own: &[bool]) -> Option<Self> {
        if plan.adjusts() {
            return None;
        }
        let sources = plan.spread().sources(own);
        let mut moved = vec![false; plan.inputs().len()];
        sources.iter().flatten().for_each(|&(input, _)| moved[input] = true);
        let mut compiled = Self {
            rows: 0,
            results: plan.outputs().len() - FIXED - plan.kernel.glass.len(),
            inputs: moved.len(),
            solved: plan.kernel.lines.is_some(),
            lines: Vec::new(),
            sensitivities: Vec::new(),
            offsets: Vec::new(),
            factors: Vec::new(),
            coefficients: Vec::new(),
            passes: Vec::new(),
            read: Vec::new(),
            common: Vec::new(),
            slopes: Vec::new(),
            plain: Vec::new(),
            owned: Vec::new(),
            gathered: Vec::new(),
            sources: Vec::new(),
            direct: false,
        };
        match &plan.kernel.lines {
            Some(lines) => {
                compiled.rows = lines.equation.unknowns();
                compiled.of_lines(lines, &moved);
                let of_line = lines.own_inputs();
                compiled.read = (0..moved.len())
                    .filter(|input| *input < plan.charge_inputs() || !of_line.contains(input))
                    .collect();
                let candidates: Vec<Input> = compiled.read.iter().copied().filter(|&input| moved[input]).collect();
                compiled.passes = traced::charge(plan, lines, &candidates);
            }
            None => {
                compiled.rows = compiled.results;
                compiled.read = (0..moved.len()).collect();
                let candidates: Vec<Input> = (0..moved.len()).filter(|&input| moved[input]).collect();
                compiled.passes = traced::glass(plan, &candidates);
            }
        }
        compiled.of_passes();
        compiled.sort(&sources);
        Some(compiled)
    }

    fn common(&mut self, quantity: Common) -> Item {
        let held = self.common.iter().position(|&held| held == quantity);
        Item::Common(held.unwrap_or_else(|| {
            self.common.push(quantity);
            self.common.len() - 1
        }))
    }

    fn slope(&mut self, of: Item, by: Input) {
        self.slopes.push(Slope { of, by });
    }

    /// The derivatives of the residuals by what belongs to lines and rows.
    fn of_lines(&mut self, lines: &Lines, moved: &[bool]) {
        let equation = &lines.equation;
        for (place, line) in equation.lines.iter().enumerate() {
            let on_it: Vec<usize> = (0..equation.rows.len()).filter(|&row| equation.rows[row].line == place).collect();
            let member = equation.network.members.iter().position(|&member| member == place);
            let (net, net_inputs) = (line.net.clone(), line.net.inputs());
            let drift = line.drift.as_ref().map(DriftPlaces::local);
            let inputs: Vec<Input> =
                net_inputs.iter().chain(drift.iter().flat_map(|(_, inputs)| inputs)).copied().collect();
            if !inputs.iter().any(|&input| moved[input]) {
                continue;
            }
            let of = match (member, on_it.as_slice()) {
                (Some(member), _) => self.common(Common::Member(member)),
                (None, []) => continue,
                (None, &[row]) => Item::Row(row),
                (None, _) => self.common(Common::Line(place)),
            };
            inputs.iter().for_each(|&input| self.slope(of, input));
            self.lines.push(LineSlopes { net, net_inputs, drift, of });
        }
        for (row, term) in equation.rows.iter().enumerate() {
            if moved[term.sensitivity] {
                self.sensitivities.push(row);
                self.slope(Item::Row(row), term.sensitivity);
            }
        }
        for (row, term) in equation.rows.iter().enumerate() {
            if let Some(offset) = term.offset.filter(|&offset| moved[offset]) {
                self.offsets.push(row);
                self.slope(Item::Row(row), offset);
            }
        }
        for (place, &(on, _, factor)) in equation.network.factors.iter().enumerate() {
            if moved[factor] {
                self.factors.push(place);
                let of = self.common(Common::Member(on));
                self.slope(of, factor);
            }
        }
        for (place, term) in equation.uncertain.iter().enumerate() {
            if moved[term.input] {
                self.coefficients.push(place);
                self.slope(Item::Row(term.row), term.input);
            }
        }
    }

    /// The derivatives that the passes through the charge give.
    fn of_passes(&mut self) {
        for pass in self.passes.clone() {
            for (target, _, input) in pass.gives {
                let of = match target {
                    Target::Ratio => self.common(Common::Ratio),
                    Target::Known(place) => self.common(Common::Known(place)),
                    Target::Brought(row) => Item::Row(row),
                    Target::Result(result) if self.solved => Item::Result(result),
                    Target::Result(result) => Item::Row(result),
                };
                self.direct |= matches!(of, Item::Result(_));
                self.slope(of, input);
            }
        }
    }

    /// Sorts sources by what they move.
    fn sort(&mut self, sources: &[Vec<(Input, Move)>]) {
        for source in sources {
            let mut shares: Vec<Share> = Vec::new();
            for &(input, moved) in source {
                for (slope, _) in self.slopes.iter().enumerate().filter(|(_, slope)| slope.by == input) {
                    let (item, term) = (self.slopes[slope].of, Term { slope, input, moved });
                    match shares.iter_mut().find(|share| share.item == item) {
                        Some(share) => share.terms.push(term),
                        None => shares.push(Share { item, terms: vec![term] }),
                    }
                }
            }
            let own = Move::Own(1.0);
            match shares.as_slice() {
                [] => {}
                [Share { item: Item::Result(_), .. }] | [_, _, ..] => self.sources.push(shares),
                [Share { item, terms }] => match terms.as_slice() {
                    [term] if term.moved == own => self.plain.push((self.place(*item), term.slope, term.input)),
                    _ => self.owned.append(&mut shares),
                },
            }
        }
        let owned = self.owned.iter().map(|share| self.place(share.item));
        let places = self.plain.iter().map(|&(place, ..)| place).chain(owned);
        self.gathered = places.filter_map(|place| place.checked_sub(self.rows)).collect();
        self.gathered.sort_unstable();
        self.gathered.dedup();
    }

    /// The place of an item among rows and common quantities.
    #[inline(always)]
    pub(super) fn place(&self, item: Item) -> usize {
        match item {
            Item::Row(place) | Item::Result(place) => place,
            Item::Common(place) => self.rows + place,
        }
    }

    /// How many derivatives a row takes.
    pub(super) fn slopes(&self) -> usize {
        self.slopes.len()
    }

    /// Right-hand sides that are not of one row alone.
    pub(super) fn whole(&self) -> usize {
        self.gathered.len() + self.sources.len()
    }
}

impl Plan {
    /// What the variances of its results are made of, for the inputs that have an own u.
    #[doc(hidden)]
    #[must_use]
    pub fn contributions(&self) -> Option<Arc<Contributions>> {
        let own: Vec<bool> = self.own_u::<f64>().iter().map(|&u| u != 0.0).collect();
        Contributions::new(self, &own).map(Arc::new)
    }

    /// The own u of each input, an unstated one as zero.
    #[doc(hidden)]
    #[must_use]
    pub fn own_u<S: Scalar>(&self) -> Vec<S> {
        self.inputs().iter().map(|input| S::constant(input.estimate.own_u())).collect()
    }
}
