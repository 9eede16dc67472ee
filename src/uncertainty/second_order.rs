//! Second-order propagation, for models that first order describes badly.

use crate::code::Code;
use crate::error::{Error, Result};
use crate::scalar::{Dual, Scalar};
use crate::uncertainty::{Distribution, Inputs, Model};

type Third = Dual<Dual<Dual<f64, 1>, 1>, 1>;

/// The standard uncertainty of one output with the second-order terms of independent, symmetric inputs:
/// `u^2 = sum_i f_i^2 u_i^2 + sum_ij (f_ij^2 / 2 + f_i f_ijj) u_i^2 u_j^2`.
///
/// The derivatives are exact (dual numbers nested three deep). The terms with i = j hold for normal inputs.
///
/// # Errors
/// `correlation.impossible` where inputs are correlated or share a cause (the formula is for independent inputs);
/// `uncertainty.distribution` where the model is curved in an input that is not normal;
/// `shape.mismatch` where the output is not there.
///
/// # Source
/// JCGM 100:2008, note to 5.1.2.
///
/// ```
/// # use beadchem::{scalar::Scalar, uncertainty::*};
/// struct Product;
/// impl Model for Product {
///     fn outputs(&self) -> usize { 1 }
///     fn evaluate<S: Scalar>(&self, x: &[S], y: &mut [S], _: &mut [S]) { y[0] = x[0] * x[1]; }
/// }
/// let mut inputs = Inputs::new();
/// inputs.push("a", Estimate::new(0.0, 2.0)?)?;
/// inputs.push("b", Estimate::new(0.0, 3.0)?)?;
/// assert_eq!(propagate(&Product, &inputs)?.u(0), 0.0); // first order sees nothing
/// assert_eq!(second_order(&Product, &inputs, 0)?, 6.0);
/// # Ok::<(), beadchem::Error>(())
/// ```
pub fn second_order<M: Model>(model: &M, inputs: &Inputs, output: usize) -> Result<f64> {
    if !inputs.correlations().is_empty() || !inputs.causes().is_empty() {
        return Err(Error::Conflict {
            code: Code::CorrelationImpossible,
            detail: "The second-order formula is for independent inputs; some here are correlated or share a cause."
                .to_owned(),
            hint: "Use Monte Carlo.".to_owned(),
        });
    }
    if output >= model.outputs() {
        return Err(Error::shape("Outputs", model.outputs(), output, "Outputs are counted from 0."));
    }
    let n = inputs.len();
    let values = inputs.values();
    let variance = |i: usize| inputs.get(i).map_or(0.0, |input| input.estimate.own_u().powi(2));
    let constant = |value: f64| <Third as Scalar>::constant(value);
    let mut out = vec![constant(0.0); model.outputs()];
    let mut scratch = vec![constant(0.0); model.scratch()];
    let mut total = 0.0;
    for i in 0..n {
        for j in 0..n {
            let point: Vec<Third> = values
                .iter()
                .enumerate()
                .map(|(k, &value)| {
                    let seed = |on: bool| if on { 1.0 } else { 0.0 };
                    // outer direction i, the two inner ones j
                    Dual {
                        re: Dual { re: Dual { re: value, eps: [seed(k == j)] }, eps: [Dual::constant(seed(k == j))] },
                        eps: [<Dual<Dual<f64, 1>, 1> as Scalar>::constant(seed(k == i))],
                    }
                })
                .collect();
            model.evaluate(&point, &mut out, &mut scratch);
            let slope = out[output].eps[0];
            let (f_i, f_ij, f_ijj) = (slope.re.re, slope.re.eps[0], slope.eps[0].eps[0]);
            if i == j {
                total += f_i * f_i * variance(i);
            }
            let second = 0.5 * f_ij * f_ij + f_i * f_ijj;
            let other = inputs.get(i).filter(|input| input.estimate.distribution() != Distribution::Normal);
            if let (true, Some(input)) = (i == j && second != 0.0 && variance(i) != 0.0, other) {
                return Err(Error::Conflict {
                    code: Code::DistributionUnfit,
                    detail: format!(
                        "The model is curved in {}, which is {}; the second-order terms of one input hold for normal ones.",
                        input.name,
                        input.estimate.distribution().word()
                    ),
                    hint: "Use Monte Carlo.".to_owned(),
                });
            }
            total += second * variance(i) * variance(j);
        }
    }
    Ok(if total > 0.0 { total.sqrt() } else { 0.0 })
}
