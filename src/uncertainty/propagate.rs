//! First-order propagation: exact derivatives from dual numbers, correlations and shared causes included.

use std::sync::Arc;

use crate::error::{Error, Result};
use crate::numeric::InstructionSet;
use crate::scalar::{Lanes, Scalar};
use crate::uncertainty::linearise::{linearise, linearise_plain};
use crate::uncertainty::model::check_inputs;
use crate::uncertainty::spread::{Part, Spread};
use crate::uncertainty::{Budget, Estimate, Inputs, Model};

/// The outputs of a calculation with their covariance, and where it comes from.
///
/// ```
/// use beadchem::scalar::Scalar;
/// use beadchem::uncertainty::{propagate, Estimate, Inputs, Model};
/// struct Difference;
/// impl Model for Difference {
///     fn outputs(&self) -> usize { 1 }
///     fn evaluate<S: Scalar>(&self, x: &[S], y: &mut [S], _: &mut [S]) { y[0] = x[0] - x[1]; }
/// }
/// let mut inputs = Inputs::new();
/// // two readings of one balance: what is wrong with its calibration cancels in the difference
/// inputs.push("full", Estimate::new(10.0, 0.0)?.shared("balance", 0.001)?)?;
/// inputs.push("empty", Estimate::new(2.0, 0.0)?.shared("balance", 0.001)?)?;
/// assert_eq!(propagate(&Difference, &inputs)?.u(0), 0.0);
/// # Ok::<(), beadchem::Error>(())
/// ```
#[derive(Debug, Clone)]
pub struct Propagated {
    spread: Arc<Spread>,
    values: Vec<f64>,
    /// Output by input, row by row.
    jacobian: Vec<f64>,
    /// Output by part, row by row: the derivative times the part's standard uncertainty.
    contributions: Vec<f64>,
    /// The same with correlated parts made independent; empty where none are correlated.
    turned: Vec<f64>,
}

/// Sum of products in eight running sums added up in one fixed order: the bits do not depend on the processor.
#[inline(always)]
fn dot(a: &[f64], b: &[f64]) -> f64 {
    let mut sums = Lanes::<8>::constant(0.0);
    let ((left, left_rest), (right, right_rest)) = (a.as_chunks::<8>(), b.as_chunks::<8>());
    for (x, y) in left.iter().zip(right) {
        sums = sums + Lanes(*x) * Lanes(*y);
    }
    for (sum, (x, y)) in sums.0.iter_mut().zip(left_rest.iter().zip(right_rest)) {
        *sum += x * y;
    }
    let s = sums.0;
    ((s[0] + s[4]) + (s[1] + s[5])) + ((s[2] + s[6]) + (s[3] + s[7]))
}

struct Matrix<'a>(&'a Propagated);

impl pulp::NullaryFnOnce for Matrix<'_> {
    type Output = Vec<f64>;
    #[inline(always)]
    fn call(self) -> Vec<f64> {
        let m = self.0.values.len();
        let mut matrix = vec![0.0; m * m];
        for a in 0..m {
            for b in a..m {
                let value = dot(self.0.independent(a), self.0.independent(b));
                matrix[a * m + b] = value;
                matrix[b * m + a] = value;
            }
        }
        matrix
    }
}

/// First-order propagation of every input through a model.
///
/// `V = J C J'` with J the exact derivatives (dual numbers), C the covariance of the inputs: own parts on the diagonal,
/// stated correlations `r u_a u_b`, and for each shared cause the products of the parts it moves.
///
/// # Errors
/// `shape.mismatch` where the model wants another number of inputs.
///
/// # Source
/// JCGM 100:2008, 5.1.2 and 5.2.2.
///
/// ```
/// use beadchem::scalar::Scalar;
/// use beadchem::uncertainty::{propagate, Estimate, Inputs, Model};
/// struct Sum;
/// impl Model for Sum {
///     fn outputs(&self) -> usize { 1 }
///     fn evaluate<S: Scalar>(&self, x: &[S], y: &mut [S], _: &mut [S]) { y[0] = x[0] + x[1]; }
/// }
/// let mut inputs = Inputs::new();
/// inputs.push("a", Estimate::new(1.0, 3.0)?)?;
/// inputs.push("b", Estimate::new(1.0, 4.0)?)?;
/// assert_eq!(propagate(&Sum, &inputs)?.u(0), 5.0);
/// # Ok::<(), beadchem::Error>(())
/// ```
pub fn propagate<M: Model>(model: &M, inputs: &Inputs) -> Result<Propagated> {
    check_inputs(model, inputs)?;
    let (values, jacobian) = linearise(model, &inputs.values(), InstructionSet::best())?;
    Ok(Propagated::from_jacobian(Arc::new(Spread::new(inputs.clone())?), values, jacobian))
}

/// As [`propagate`], with the same bits, for a model that is run once: compiled for what every processor has and for nothing
/// else, which builds faster.
///
/// # Errors
/// As [`propagate`].
///
/// ```
/// use beadchem::scalar::Scalar;
/// use beadchem::uncertainty::{propagate_plain, Estimate, Inputs, Model};
/// struct Twice;
/// impl Model for Twice {
///     fn outputs(&self) -> usize { 1 }
///     fn evaluate<S: Scalar>(&self, x: &[S], y: &mut [S], _: &mut [S]) { y[0] = x[0] * 2.0; }
/// }
/// let mut inputs = Inputs::new();
/// inputs.push("a", Estimate::new(1.0, 0.5)?)?;
/// assert_eq!(propagate_plain(&Twice, &inputs)?.u(0), 1.0);
/// # Ok::<(), beadchem::Error>(())
/// ```
pub fn propagate_plain<M: Model>(model: &M, inputs: &Inputs) -> Result<Propagated> {
    check_inputs(model, inputs)?;
    let (values, jacobian) = linearise_plain(model, &inputs.values());
    Ok(Propagated::from_jacobian(Arc::new(Spread::new(inputs.clone())?), values, jacobian))
}

impl Propagated {
    pub(crate) fn from_jacobian(spread: Arc<Spread>, values: Vec<f64>, jacobian: Vec<f64>) -> Self {
        let contributions = spread.contributions(&jacobian, values.len());
        let turned = spread.turned(&contributions);
        Self { spread, values, jacobian, contributions, turned }
    }

    /// One output as an input for further calculation; its uncertainty is unstated where one that it depends on is.
    ///
    /// # Errors
    /// `number.not-finite` for an output that is not there.
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
    /// assert_eq!(propagate(&Twice, &inputs)?.estimate(0)?, Estimate::new(2.0, 1.0)?);
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    pub fn estimate(&self, output: usize) -> Result<Estimate> {
        if self.unstated(output).is_empty() {
            Estimate::new(self.value(output), self.u(output))
        } else {
            Estimate::unstated(self.value(output))
        }
    }

    /// One output as an input for further calculation, with what it shares with other inputs (one balance) kept apart
    /// and the degrees of freedom of the rest; its uncertainty is unstated where one that it depends on is.
    pub(crate) fn measured(&self, output: usize) -> Result<Estimate> {
        if !self.unstated(output).is_empty() {
            return Estimate::unstated(self.value(output));
        }
        let causes = self.spread.inputs().causes();
        let shared: f64 = causes.iter().map(|cause| self.cause(output, cause).powi(2)).sum();
        let variance = self.covariance(output, output);
        // rounding can leave a little less than nothing
        let own = f64::select(variance.lt(shared), 0.0, variance - shared);
        let mut estimate = Estimate::new(self.value(output), own.sqrt())?;
        let dof = self.effective_dof(output) * (own / variance).powi(2);
        if dof.is_finite() && dof > 0.0 {
            estimate = estimate.with_dof(dof)?;
        }
        causes.iter().try_fold(estimate, |estimate, cause| estimate.shared(*cause, self.cause(output, cause)))
    }

    /// One output with each named input's part of its uncertainty as a shared cause, so that outputs of one calculation keep
    /// their covariance when they become inputs of another; what has no name stays its own.
    pub(crate) fn with_causes(&self, output: usize, name: impl Fn(usize) -> Option<String>) -> Result<Estimate> {
        if !self.unstated(output).is_empty() {
            return Estimate::unstated(self.value(output));
        }
        let causes = self.spread.inputs().causes();
        let (mut own, mut shared) = (0.0, Vec::new());
        for (part, &contribution) in self.spread.parts().iter().zip(self.row(output)) {
            match *part {
                Part::Own(input) => match name(input) {
                    Some(name) => shared.push((name, contribution)),
                    None => own += contribution * contribution,
                },
                Part::Cause(cause) => shared.push((causes[cause].to_owned(), contribution)),
            }
        }
        let estimate = Estimate::new(self.value(output), own.sqrt())?;
        shared.into_iter().try_fold(estimate, |estimate, (cause, u)| estimate.shared(cause, u))
    }

    /// The same, unless an uncertainty is too large for a number.
    pub(crate) fn bounded(self) -> Result<Self> {
        match (0..self.values.len()).find(|&output| !self.u(output).is_finite()) {
            None => Ok(self),
            Some(output) => {
                let largest = self.budget(output).rows().first().map_or_else(String::new, |row| row.name.clone());
                Err(Error::Conflict {
                    code: crate::code::Code::UncertaintyBoundless,
                    detail: format!("The uncertainty of {largest} leaves the result without a finite one."),
                    hint: "Is it given in the unit of its value?".to_owned(),
                })
            }
        }
    }

    /// The inputs this was computed from.
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
    /// let result = propagate(&Twice, &inputs)?;
    /// assert_eq!(result.inputs().len(), 1);
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn inputs(&self) -> &Inputs {
        self.spread.inputs()
    }

    /// All outputs.
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
    /// assert_eq!(propagate(&Twice, &inputs)?.values(), [2.0]);
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn values(&self) -> &[f64] {
        &self.values
    }

    /// One output; panics never, an output that is not there reads as NaN.
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
    /// assert_eq!(propagate(&Twice, &inputs)?.value(0), 2.0);
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn value(&self, output: usize) -> f64 {
        self.values.get(output).copied().unwrap_or(f64::NAN)
    }

    /// The derivative of an output with respect to an input.
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
    /// assert_eq!(propagate(&Twice, &inputs)?.derivative(0, 0), 2.0);
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn derivative(&self, output: usize, input: usize) -> f64 {
        let n = self.spread.inputs().len();
        if input >= n { f64::NAN } else { self.jacobian.get(output * n + input).copied().unwrap_or(f64::NAN) }
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
    /// assert_eq!(propagate(&Twice, &inputs)?.covariance(0, 0), 1.0);
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn covariance(&self, first: usize, second: usize) -> f64 {
        if first >= self.values.len() || second >= self.values.len() {
            return f64::NAN;
        }
        dot(self.independent(first), self.independent(second))
    }

    /// The covariance of all outputs, row by row.
    ///
    /// ```
    /// # use beadchem::{scalar::Scalar, uncertainty::*};
    /// # struct Split;
    /// # impl Model for Split {
    /// #     fn outputs(&self) -> usize { 2 }
    /// #     fn evaluate<S: Scalar>(&self, x: &[S], y: &mut [S], _: &mut [S]) { y[0] = x[0]; y[1] = -x[0]; }
    /// # }
    /// # let mut inputs = Inputs::new();
    /// # inputs.push("a", Estimate::new(1.0, 0.5)?)?;
    /// assert_eq!(propagate(&Split, &inputs)?.covariance_matrix(), [0.25, -0.25, -0.25, 0.25]);
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn covariance_matrix(&self) -> Vec<f64> {
        // the best set is there, so the other arm is never taken; both give the same bits
        InstructionSet::best().run(Matrix(self)).unwrap_or_else(|_| pulp::NullaryFnOnce::call(Matrix(self)))
    }

    /// The standard uncertainty of an output.
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
    /// assert_eq!(propagate(&Twice, &inputs)?.u(0), 1.0);
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn u(&self, output: usize) -> f64 {
        // Rounding can leave a variance of full cancellation a little below zero.
        let variance = self.covariance(output, output);
        f64::select(variance.lt(0.0), 0.0, variance).sqrt()
    }

    /// The correlation coefficient of two outputs; NaN where one of them has no uncertainty.
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
    /// assert_eq!(propagate(&Twice, &inputs)?.correlation(0, 0), 1.0);
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn correlation(&self, first: usize, second: usize) -> f64 {
        self.covariance(first, second) / (self.u(first) * self.u(second))
    }

    /// The inputs with an unstated uncertainty that move this output: its u is "at least".
    ///
    /// ```
    /// # use beadchem::{scalar::Scalar, uncertainty::*};
    /// # struct Twice;
    /// # impl Model for Twice {
    /// #     fn outputs(&self) -> usize { 1 }
    /// #     fn evaluate<S: Scalar>(&self, x: &[S], y: &mut [S], _: &mut [S]) { y[0] = x[0] * 2.0; }
    /// # }
    /// let mut inputs = Inputs::new();
    /// inputs.push("a bare number", 1.0)?;
    /// assert_eq!(propagate(&Twice, &inputs)?.unstated(0), ["a bare number"]);
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn unstated(&self, output: usize) -> Vec<&str> {
        self.spread
            .inputs()
            .iter()
            .enumerate()
            .filter(|(i, input)| input.estimate.u().is_none() && self.derivative(output, *i) != 0.0)
            .map(|(_, input)| input.name.as_str())
            .collect()
    }

    /// A linear combination of the outputs as a result of its own, with the covariance it deserves (a total, a
    /// difference of two beads).
    ///
    /// # Errors
    /// `shape.mismatch` where there is not one weight per output.
    ///
    /// ```
    /// # use beadchem::{scalar::Scalar, uncertainty::*};
    /// # struct Split;
    /// # impl Model for Split {
    /// #     fn outputs(&self) -> usize { 2 }
    /// #     fn evaluate<S: Scalar>(&self, x: &[S], y: &mut [S], _: &mut [S]) { y[0] = x[0]; y[1] = -x[0]; }
    /// # }
    /// # let mut inputs = Inputs::new();
    /// # inputs.push("a", Estimate::new(1.0, 0.5)?)?;
    /// let total = propagate(&Split, &inputs)?.combination(&[1.0, 1.0])?;
    /// assert_eq!((total.value(0), total.u(0)), (0.0, 0.0));
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    pub fn combination(&self, weights: &[f64]) -> Result<Propagated> {
        if weights.len() != self.values.len() {
            return Err(Error::shape(
                "Weights of a combination",
                self.values.len(),
                weights.len(),
                "Give one weight per output, zero where an output takes no part.",
            ));
        }
        let n = self.spread.inputs().len();
        let value = weights.iter().zip(&self.values).map(|(w, y)| w * y).sum();
        let jacobian =
            (0..n).map(|i| weights.iter().enumerate().map(|(o, w)| w * self.jacobian[o * n + i]).sum()).collect();
        Ok(Self::from_jacobian(Arc::clone(&self.spread), vec![value], jacobian))
    }

    /// Degrees of freedom of an output by the Welch-Satterthwaite formula; infinite where nothing limits them, NaN
    /// where inputs are correlated, for which the formula does not hold.
    ///
    /// # Source
    /// JCGM 100:2008, G.4.1 equation (G.2b).
    ///
    /// ```
    /// # use beadchem::{scalar::Scalar, uncertainty::*};
    /// # struct Twice;
    /// # impl Model for Twice {
    /// #     fn outputs(&self) -> usize { 1 }
    /// #     fn evaluate<S: Scalar>(&self, x: &[S], y: &mut [S], _: &mut [S]) { y[0] = x[0] * 2.0; }
    /// # }
    /// # let mut inputs = Inputs::new();
    /// inputs.push("a", Estimate::new(1.0, 0.5)?.with_dof(7.0)?)?;
    /// assert!((propagate(&Twice, &inputs)?.effective_dof(0) - 7.0).abs() < 1e-12);
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn effective_dof(&self, output: usize) -> f64 {
        if !self.spread.inputs().correlations().is_empty() || output >= self.values.len() {
            return f64::NAN;
        }
        let limited: f64 = self
            .spread
            .parts()
            .iter()
            .zip(self.row(output))
            .map(|(part, c)| match *part {
                Part::Own(i) => {
                    c.powi(4) / self.spread.inputs().get(i).map_or(f64::INFINITY, |input| input.estimate.dof())
                }
                Part::Cause(_) => 0.0,
            })
            .sum();
        self.u(output).powi(4) / limited
    }

    /// Coverage factor and expanded uncertainty for a coverage probability such as 0.95.
    ///
    /// Student's t with [`effective_dof`](Self::effective_dof) cut to the next lower whole number.
    ///
    /// # Errors
    /// `coverage.probability` where it is not between 0 and 1; `uncertainty.degrees-of-freedom` where they are below 1
    /// or cannot be had.
    ///
    /// # Source
    /// JCGM 100:2008, G.3.2 and G.4.1.
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
    /// let (k, expanded) = propagate(&Twice, &inputs)?.expanded(0, 0.95)?;
    /// assert!((k - 1.96).abs() < 1e-3 && (expanded - 1.96).abs() < 1e-3);
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    pub fn expanded(&self, output: usize, probability: f64) -> Result<(f64, f64)> {
        let k = crate::uncertainty::coverage::factor(self.effective_dof(output), probability)?;
        Ok((k, k * self.u(output)))
    }

    /// Where the uncertainty of an output comes from, largest first.
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
    /// assert_eq!(propagate(&Twice, &inputs)?.budget(0).rows()[0].share, 1.0);
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn budget(&self, output: usize) -> Budget {
        Budget::of(self, output)
    }

    /// How far an output moves when a shared cause moves by its own standard uncertainty; 0 for a cause it has not.
    pub(crate) fn cause(&self, output: usize, name: &str) -> f64 {
        let index = self.spread.inputs().causes().iter().position(|cause| *cause == name);
        let part = index.and_then(|index| self.spread.parts().iter().position(|part| *part == Part::Cause(index)));
        part.map_or(0.0, |part| self.row(output)[part])
    }

    pub(crate) fn parts(&self) -> &[Part] {
        self.spread.parts()
    }

    /// The contributions of all parts to one output.
    #[inline(always)]
    pub(crate) fn row(&self, output: usize) -> &[f64] {
        let width = self.spread.parts().len();
        self.contributions.get(output * width..(output + 1) * width).unwrap_or(&[])
    }

    /// The same as parts that are independent of each other.
    #[inline(always)]
    fn independent(&self, output: usize) -> &[f64] {
        if self.turned.is_empty() {
            return self.row(output);
        }
        let width = self.spread.parts().len();
        self.turned.get(output * width..(output + 1) * width).unwrap_or(&[])
    }

    /// What stated correlations add to the variance of a row of contributions.
    pub(crate) fn added_by_correlations(&self, row: &[f64]) -> f64 {
        self.spread.added_by_correlations(row)
    }
}
