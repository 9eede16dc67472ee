//! What is propagated: outputs as a function of inputs, written once over the number type.

use std::borrow::Cow;
use std::collections::BTreeSet;

use crate::error::{Error, Result};
use crate::scalar::Scalar;
use crate::uncertainty::Inputs;

/// A calculation from inputs to outputs.
///
/// Written once over [`Scalar`], it serves values, derivatives, batches and Monte Carlo draws.
///
/// ```
/// use beadchem::scalar::Scalar;
/// use beadchem::uncertainty::{propagate, Estimate, Inputs, Model};
/// struct Dilution;
/// impl Model for Dilution {
///     fn outputs(&self) -> usize { 1 }
///     fn evaluate<S: Scalar>(&self, x: &[S], y: &mut [S], _: &mut [S]) { y[0] = x[0] / x[1]; }
/// }
/// let mut inputs = Inputs::new();
/// inputs.push("glass", Estimate::new(8.8, 0.01)?)?;
/// inputs.push("sample", Estimate::new(0.8, 0.0)?)?;
/// let result = propagate(&Dilution, &inputs)?;
/// assert_eq!(result.value(0), 11.0);
/// assert!((result.u(0) - 0.0125).abs() < 1e-15);
/// # Ok::<(), beadchem::Error>(())
/// ```
pub trait Model: Sync {
    /// How many outputs there are.
    fn outputs(&self) -> usize;

    /// How many inputs it wants, where it wants a fixed number; other lists are then refused.
    fn inputs(&self) -> Option<usize> {
        None
    }

    /// Room the calculation wants for intermediate numbers.
    fn scratch(&self) -> usize {
        0
    }

    /// Computes the outputs. Infallible, no branch on data; `scratch` has the length [`Model::scratch`] asks for and
    /// holds anything on entry.
    fn evaluate<S: Scalar>(&self, inputs: &[S], outputs: &mut [S], scratch: &mut [S]);

    /// Along which tangent direction each input is differentiated.
    fn directions(&self, inputs: usize) -> Cow<'_, Directions> {
        Cow::Owned(Directions::own(inputs))
    }
}

/// Refuses a list of inputs of another length than the model wants.
pub(crate) fn check_inputs<M: Model>(model: &M, inputs: &Inputs) -> Result<()> {
    match model.inputs() {
        Some(wanted) if wanted != inputs.len() => Err(Error::shape(
            "Inputs of the calculation",
            wanted,
            inputs.len(),
            "Use the inputs of the plan itself, with other values where needed.",
        )),
        _ => Ok(()),
    }
}

/// Which inputs share a tangent direction.
///
/// Inputs that have no output in common (each reading of a bead moves its own result only) can be differentiated in one
/// pass. What the model promises here is held against the full set of directions by a property test.
///
/// ```
/// use beadchem::uncertainty::Directions;
/// // input 0 moves everything; inputs 1 and 2 move output 0 and 1 alone, input 3 both of them
/// let directions = Directions::sharing(4, &[(1, vec![0]), (2, vec![1]), (3, vec![0, 1])]);
/// assert_eq!(directions.count(), 3);
/// ```
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Directions {
    of_input: Vec<usize>,
    count: usize,
    /// For each input on a shared direction: the outputs it moves.
    own_outputs: Vec<Option<Vec<usize>>>,
}

impl Directions {
    /// Every input along a direction of its own.
    ///
    /// ```
    /// assert_eq!(beadchem::uncertainty::Directions::own(4).count(), 4);
    /// ```
    #[must_use]
    pub fn own(inputs: usize) -> Self {
        Self { of_input: (0..inputs).collect(), count: inputs, own_outputs: vec![None; inputs] }
    }

    /// The listed inputs, each with every output that it moves, along as few common directions as their order allows:
    /// each goes to the first where no other moves an output of its own. All others along directions of their own.
    ///
    /// ```
    /// assert_eq!(beadchem::uncertainty::Directions::sharing(2, &[]).count(), 2);
    /// ```
    #[must_use]
    pub fn sharing(inputs: usize, members: &[(usize, Vec<usize>)]) -> Self {
        let mut own_outputs = vec![None; inputs];
        for (input, outputs) in members {
            if let Some(own) = own_outputs.get_mut(*input) {
                own.get_or_insert_with(Vec::new).extend(outputs);
            }
        }
        let mut taken: Vec<BTreeSet<usize>> = Vec::new();
        let mut of_input = vec![0; inputs];
        for (direction, outputs) in of_input.iter_mut().zip(&own_outputs) {
            let Some(outputs) = outputs else { continue };
            let free = |taken: &BTreeSet<usize>| outputs.iter().all(|output| !taken.contains(output));
            *direction = taken.iter().position(free).unwrap_or(taken.len());
            if *direction == taken.len() {
                taken.push(BTreeSet::new());
            }
            taken[*direction].extend(outputs);
        }
        let mut count = taken.len();
        for (direction, outputs) in of_input.iter_mut().zip(&own_outputs) {
            if outputs.is_none() {
                *direction = count;
                count += 1;
            }
        }
        Self { of_input, count, own_outputs }
    }

    /// How many directions there are.
    ///
    /// ```
    /// assert_eq!(beadchem::uncertainty::Directions::own(3).count(), 3);
    /// ```
    #[must_use]
    pub fn count(&self) -> usize {
        self.count
    }

    /// The direction of an input.
    pub(crate) fn of(&self, input: usize) -> usize {
        self.of_input[input]
    }

    /// The outputs an input moves, where it shares its direction.
    pub(crate) fn outputs_of(&self, input: usize) -> Option<&[usize]> {
        self.own_outputs[input].as_deref()
    }
}
