//! The arithmetic of a total: lines that are results or inputs times a factor, summed in one order.

use crate::composition::PerDried;
use crate::scalar::Scalar;
use crate::substance::sum_of_weights;
use crate::uncertainty::Model;

/// Where the number of a line comes from.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Source {
    /// An output of the model the results come from.
    Output(usize),
    /// An input.
    Input(usize),
}

/// `ratio * sum n A (over) / sum n A (under)`, the places being those of the inputs; the bare ratio without atoms.
#[derive(Debug, Clone)]
pub(super) struct Factor {
    pub(super) over: Vec<(usize, f64)>,
    pub(super) under: Vec<(usize, f64)>,
    pub(super) ratio: f64,
    pub(super) less: Less,
}

/// What is taken off a factor.
#[derive(Debug, Clone)]
pub(super) enum Less {
    Nothing,
    /// Only what the factor adds.
    One,
    /// What it adds to another, which goes over the same atoms.
    Over(Vec<(usize, f64)>, f64),
}

impl Factor {
    #[inline(always)]
    fn of<S: Scalar>(&self, x: &[S]) -> S {
        if self.over.is_empty() {
            return S::constant(self.ratio);
        }
        let under = sum_of_weights(&self.under, x);
        let factor = sum_of_weights(&self.over, x) / under * self.ratio;
        match &self.less {
            Less::Nothing => factor,
            Less::One => factor - S::constant(1.0),
            Less::Over(over, ratio) => factor - sum_of_weights(over, x) / under * *ratio,
        }
    }
}

/// From the basis of a result to that of the total, each with the place of the moisture or loss it needs.
pub(super) type Bases = [(PerDried, Option<usize>); 2];

/// One counted line.
#[derive(Debug, Clone)]
pub(super) struct Term {
    pub(super) source: Source,
    pub(super) factor: Option<Factor>,
    /// The share that is in the loss already.
    pub(super) left: Option<usize>,
    /// From its own basis to that of the total.
    pub(super) bases: Option<Bases>,
    pub(super) sign: f64,
    /// What it stands for in a carbonate: what it can give off, per gram counted.
    pub(super) ceiling: Option<Factor>,
    /// What it takes up in the furnace, per gram; less than nothing for what leaves.
    pub(super) expected: Option<Factor>,
}

/// The fixed outputs; the lines follow.
pub(crate) const TOTAL: usize = 0;
pub(super) const WITHOUT_LOSS: usize = 1;
pub(crate) const ABOVE_CEILING: usize = 2;
pub(crate) const EXPECTED_LOSS: usize = 3;
pub(super) const FIRST_LINE: usize = 4;

/// The compiled lines of a total and the place of its loss.
#[derive(Debug, Clone)]
pub(crate) struct ClosureSum {
    pub(super) terms: Vec<Term>,
    pub(super) loss: Option<usize>,
}

/// A total of what a model gives.
pub(super) struct Sum<'a, M> {
    pub(super) results: &'a M,
    pub(super) results_inputs: usize,
    pub(super) sum: &'a ClosureSum,
}

impl<M: Model> Model for Sum<'_, M> {
    fn outputs(&self) -> usize {
        self.sum.outputs()
    }
    fn scratch(&self) -> usize {
        self.results.outputs() + self.results.scratch()
    }
    #[inline(always)]
    fn evaluate<S: Scalar>(&self, x: &[S], out: &mut [S], scratch: &mut [S]) {
        let (results, rest) = scratch.split_at_mut(self.results.outputs());
        self.results.evaluate(&x[..self.results_inputs], results, rest);
        self.sum.add_up(x, results, out);
    }
}

impl ClosureSum {
    pub(crate) fn outputs(&self) -> usize {
        FIRST_LINE + self.terms.len()
    }

    /// The fixed outputs and the lines of a total, from its inputs and the results.
    #[inline(always)]
    pub(crate) fn add_up<S: Scalar>(&self, x: &[S], results: &[S], out: &mut [S]) {
        let zero = S::constant(0.0);
        let loss = self.loss.map_or(zero, |loss| x[loss]);
        let (mut sum, mut ceiling, mut expected) = (zero, zero, zero);
        for (term, line) in self.terms.iter().zip(&mut out[FIRST_LINE..]) {
            let mut value = match term.source {
                Source::Output(place) => results[place],
                Source::Input(place) => x[place],
            };
            if let Some([from, to]) = &term.bases {
                let from = from.0.grams(from.1.map_or(zero, |place| x[place]));
                value = value * from / to.0.grams(to.1.map_or(zero, |place| x[place]));
            }
            // of what partly left, that part
            let leaving = term.left.map_or(value, |left| value * x[left]);
            if let Some(factor) = &term.ceiling {
                ceiling = ceiling + leaving * factor.of(x);
            }
            if let Some(factor) = &term.expected {
                expected = expected - leaving * factor.of(x);
            }
            if let Some(factor) = &term.factor {
                value = value * factor.of(x);
            }
            if let Some(left) = term.left {
                value = value * (S::constant(1.0) - x[left]);
            }
            *line = value * term.sign;
            sum = sum + *line;
        }
        out[TOTAL] = sum + loss;
        out[WITHOUT_LOSS] = sum;
        out[ABOVE_CEILING] = loss - ceiling;
        out[EXPECTED_LOSS] = expected;
    }
}

/// Results that are inputs themselves: no model behind them.
pub(super) struct AsGiven;

impl Model for AsGiven {
    fn outputs(&self) -> usize {
        0
    }
    fn evaluate<S: Scalar>(&self, _: &[S], _: &mut [S], _: &mut [S]) {}
}
