//! Values and exact derivatives of a model, by dual numbers in as few passes as its directions need.

use crate::error::Result;
use crate::numeric::InstructionSet;
use crate::scalar::{Dual, Scalar};
use crate::uncertainty::Model;

/// Tangent directions carried in one pass: the middle number where it takes all, or passes of the widest; the narrow one
/// is for models that are run once.
const NARROW: usize = 8;
const MIDDLE: usize = 24;
const WIDE: usize = 48;

/// Values and derivatives of a model at the values of its inputs: outputs, then output by input, row by row.
///
/// # Errors
/// None beyond the dispatch; kept fallible for it.
pub(crate) fn linearise<M: Model>(model: &M, x: &[f64], set: InstructionSet) -> Result<(Vec<f64>, Vec<f64>)> {
    set.run(Linearise { model, x })
}

/// The same bits in narrow passes and without a choice of instruction set: less code for a model that is run once.
pub(crate) fn linearise_plain<M: Model>(model: &M, x: &[f64]) -> (Vec<f64>, Vec<f64>) {
    Linearise { model, x }.passes::<NARROW>()
}

/// The same bits in passes of the widest only: less code for a model that has many directions.
///
/// # Errors
/// None beyond the dispatch; kept fallible for it.
pub(crate) fn linearise_wide<M: Model>(model: &M, x: &[f64], set: InstructionSet) -> Result<(Vec<f64>, Vec<f64>)> {
    set.run(Wide(Linearise { model, x }))
}

struct Wide<'a, M>(Linearise<'a, M>);

impl<M: Model> pulp::NullaryFnOnce for Wide<'_, M> {
    type Output = (Vec<f64>, Vec<f64>);
    #[inline(always)]
    fn call(self) -> Self::Output {
        self.0.passes::<WIDE>()
    }
}

struct Linearise<'a, M> {
    model: &'a M,
    x: &'a [f64],
}

impl<M: Model> pulp::NullaryFnOnce for Linearise<'_, M> {
    type Output = (Vec<f64>, Vec<f64>);
    #[inline(always)]
    fn call(self) -> Self::Output {
        match self.model.directions(self.x.len()).count() {
            count if count <= MIDDLE => self.passes::<MIDDLE>(),
            _ => self.passes::<WIDE>(),
        }
    }
}

impl<M: Model> Linearise<'_, M> {
    #[inline(always)]
    fn passes<const N: usize>(self) -> (Vec<f64>, Vec<f64>) {
        let (n, m) = (self.x.len(), self.model.outputs());
        let directions = self.model.directions(n);
        let zero = Dual::<f64, N>::constant(0.0);
        let mut point = vec![zero; n];
        let mut out = vec![zero; m];
        let mut scratch = vec![zero; self.model.scratch()];
        let mut values = vec![0.0; m];
        let mut jacobian = vec![0.0; m * n];
        let mut first = 0;
        loop {
            for (i, (dual, &value)) in point.iter_mut().zip(self.x).enumerate() {
                *dual = Dual::variable(value, directions.of(i).wrapping_sub(first));
            }
            self.model.evaluate(&point, &mut out, &mut scratch);
            for (value, dual) in values.iter_mut().zip(&out) {
                *value = dual.re;
            }
            for i in 0..n {
                let direction = directions.of(i).wrapping_sub(first);
                if direction < N {
                    match directions.outputs_of(i) {
                        Some(own) => {
                            own.iter().filter(|&&o| o < m).for_each(|&o| jacobian[o * n + i] = out[o].eps[direction])
                        }
                        None => (0..m).for_each(|o| jacobian[o * n + i] = out[o].eps[direction]),
                    }
                }
            }
            first += N;
            if first >= directions.count() {
                return (values, jacobian);
            }
        }
    }
}
