//! A bead whose sample is known: what its lines tell of their sensitivities.

use crate::charge::kernel::{Books, DILUTION, FIXED, FUSED_FLUX_RATIO, Kernel, SamplePath};
use crate::charge::lines::{Lines, PresentTerm};
use crate::charge::melt::Melt;
use crate::charge::plan::{Order, Plan};
use crate::code::Code;
use crate::error::{Error, Result};
use crate::matrix::equation::Given;
use crate::matrix::order::LineOrder;
use crate::scalar::Scalar;
use crate::substance::sum_of_weights;
use crate::uncertainty::{Model, Propagated, propagate_plain};

/// What the content of an analyte is fitted by.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum FitColumn {
    /// Intensity times bracket: its coefficient is the sensitivity k.
    Sensitivity,
    /// Intensity times the amount of a component: its coefficient is k times the influence coefficient.
    Component(usize),
    /// Less the bracket: its coefficient is k times the offset.
    Offset,
}

/// What one standard says of each row: what its glass holds of the analyte per gram of sample, and the columns that this is
/// fitted by.
pub(crate) struct StandardBead {
    pub(crate) propagated: Propagated,
    /// Names of the lines, in the order of the rows.
    pub(crate) lines: Vec<String>,
    starts: Vec<usize>,
    dilution: usize,
}

impl StandardBead {
    /// The output of a row's content; its columns follow.
    pub(crate) fn start(&self, row: usize) -> usize {
        self.starts[row]
    }

    /// The content of the glass, g/g.
    pub(crate) fn glass_content(&self, row: usize) -> f64 {
        self.propagated.value(self.starts[row]) / self.propagated.value(self.dilution)
    }
}

struct StandardModel<'a> {
    kernel: &'a Kernel,
    lines: &'a Lines,
    columns: &'a [Vec<FitColumn>],
}

impl Model for StandardModel<'_> {
    fn outputs(&self) -> usize {
        self.columns.iter().map(|columns| 1 + columns.len()).sum::<usize>() + 1
    }
    fn scratch(&self) -> usize {
        self.kernel.scratch() + FIXED
    }
    fn evaluate<S: Scalar>(&self, x: &[S], y: &mut [S], scratch: &mut [S]) {
        let equation = &self.lines.equation;
        let (out, rest) = scratch.split_at_mut(FIXED);
        let (of_books, rest) = rest.split_at_mut(self.kernel.books_scratch());
        let mut books = self.kernel.books(of_books);
        self.kernel.melt(x, &mut books, out);
        let (known, rest) = rest.split_at_mut(self.lines.present.len());
        let (brought, rest) = rest.split_at_mut(equation.analytes());
        self.kernel.given(self.lines, x, &books, known, brought);
        let given = Given::new(equation, out[FUSED_FLUX_RATIO], known, brought);
        let mut room = equation.room(rest);
        equation.prepare(x, &given, &mut room);
        // the factor of geometry that an internal standard of sensitivity one gives
        let factor = match (equation.standard, equation.rows.last()) {
            (Some(place), Some(term)) => {
                let row = equation.rows.len() - 1;
                given.known[place] / (room.intensities[term.line] * term.scale * room.fixed[row])
            }
            _ => S::constant(1.0),
        };
        let mut place = 0;
        for (row, columns) in self.columns.iter().enumerate() {
            let term = &equation.rows[row];
            let present = |component: usize| equation.present.iter().position(|&held| held == component);
            let own = match present(term.component) {
                Some(held) => self.own(&self.lines.present[held], x, &books),
                None => S::constant(0.0),
            };
            y[place] = own + given.brought[row];
            place += 1;
            let scale = if term.follows { factor * term.scale } else { S::constant(term.scale) };
            let intensity = room.intensities[term.line] * scale;
            for column in columns {
                y[place] = match *column {
                    FitColumn::Sensitivity => intensity * room.fixed[row],
                    FitColumn::Component(component) => match present(component) {
                        Some(held) => intensity * given.known[held],
                        None => S::constant(0.0),
                    },
                    FitColumn::Offset => -(scale * room.fixed[row]),
                };
                place += 1;
            }
        }
        y[place] = out[DILUTION];
    }
}

impl StandardModel<'_> {
    /// What stayed of the sample's own content of a component, g per g sample.
    #[inline(always)]
    fn own<S: Scalar>(&self, term: &PresentTerm, x: &[S], books: &Books<'_, S>) -> S {
        let weights = &x[self.kernel.weights.clone()];
        let mut own = term.declared(x).unwrap_or(S::constant(0.0));
        if term.from_sample {
            let grams = sum_of_weights(&term.atoms, weights) / term.count / x[self.kernel.sample_mass];
            own = own + self.kernel.stayed(books, term.element) * grams;
        }
        own
    }
}

impl Melt {
    /// What a bead of known contents says of each row of an order; `columns` by row.
    pub(crate) fn standard(&self, lines: LineOrder, columns: &[Vec<FitColumn>]) -> Result<StandardBead> {
        let names = lines.rows.iter().map(|row| lines.lines[row.line].reading.line().as_str().to_owned()).collect();
        let order = Order::of_lines(lines)?;
        let plan = Plan::new(self.charge(), self.weights(), self.loss(), Some(&order), self.adjustment())?;
        let Some(lines) = &plan.kernel.lines else {
            return Ok(StandardBead { propagated: plan.propagate()?, lines: names, starts: Vec::new(), dilution: 0 });
        };
        if plan.overlaps_guarded() {
            return Err(Error::Matrix {
                code: Code::MatrixSingular,
                quantity: "The overlaps of this standard do not separate".to_owned(),
                detail: "their factors are as large as the lines themselves".to_owned(),
                figure: "lines",
                value: lines.equation.network.members.len() as f64,
                hint: "Is a factor inverted, or in per cent?".to_owned(),
            });
        }
        let model = StandardModel { kernel: &plan.kernel, lines, columns };
        let propagated = propagate_plain(&model, plan.inputs())?.bounded()?;
        let mut starts = Vec::with_capacity(columns.len());
        let mut next = 0;
        for columns in columns {
            starts.push(next);
            next += 1 + columns.len();
        }
        Ok(StandardBead { propagated, lines: names, starts, dilution: next })
    }

    /// Whether a weighed bead moved its inputs.
    pub(crate) fn is_adjusted(&self) -> bool {
        self.adjustment().is_some()
    }

    /// Whether the fusion was computed from the sample's own composition.
    pub(crate) fn is_itemised(&self) -> bool {
        matches!(self.plan().kernel.sample, SamplePath::Itemised { .. })
    }
}
