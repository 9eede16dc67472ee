//! The list of independent inputs of a calculation, with what correlates them.

use crate::code::Code;
use crate::error::{Error, Result};
use crate::numeric::smallest_eigenvalue;
use crate::uncertainty::Estimate;

/// One named input.
///
/// ```
/// use beadchem::uncertainty::Inputs;
/// let mut inputs = Inputs::new();
/// inputs.push("flux loss of lot F-118", 0.0038)?;
/// assert_eq!(inputs.get(0).unwrap().name, "flux loss of lot F-118");
/// # Ok::<(), beadchem::Error>(())
/// ```
#[derive(Debug, Clone, PartialEq)]
pub struct Input {
    /// Its name; one physical quantity has one name wherever it is used.
    pub name: String,
    /// Its value and uncertainty.
    pub estimate: Estimate,
}

/// All inputs of a calculation: each physical quantity once, under its name.
///
/// What moves several inputs together is said in one of two ways: a shared cause (part of the
/// [`Estimate`]), or a correlation coefficient between the inputs' own parts.
///
/// ```
/// use beadchem::uncertainty::{Estimate, Inputs};
/// let mut inputs = Inputs::new();
/// let flux = inputs.push("flux mass", Estimate::new(8.0021, 0.00012)?)?;
/// let again = inputs.push("flux mass", Estimate::new(8.0021, 0.00012)?)?;
/// assert_eq!(flux, again); // the same physical quantity, the same input
/// # Ok::<(), beadchem::Error>(())
/// ```
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Inputs {
    list: Vec<Input>,
    correlations: Vec<(usize, usize, f64)>,
}

impl Inputs {
    /// No inputs yet.
    ///
    /// ```
    /// assert!(beadchem::uncertainty::Inputs::new().is_empty());
    /// ```
    #[must_use]
    pub fn new() -> Self {
        Self::default()
    }

    /// Adds an input and returns its place; an input already there with the same figures is used again.
    ///
    /// # Errors
    /// `number.not-finite`; `input.doubled` where the name is there with other figures.
    ///
    /// ```
    /// use beadchem::uncertainty::Inputs;
    /// let mut inputs = Inputs::new();
    /// inputs.push("moisture", 0.012)?;
    /// assert_eq!(inputs.push("moisture", 0.013).unwrap_err().code().word(), "input.doubled");
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    pub fn push(&mut self, name: impl Into<String>, estimate: impl Into<Estimate>) -> Result<usize> {
        let (name, estimate) = (name.into(), estimate.into());
        crate::error::finite(&format!("The value of {name}"), estimate.value())?;
        if let Some(index) = self.index_of(&name) {
            let held = &self.list[index].estimate;
            if *held == estimate {
                return Ok(index);
            }
            return Err(Error::Conflict {
                code: Code::InputDoubled,
                detail: format!(
                    "{name} is given as {} (u {}) and as {} (u {}).",
                    held.value(),
                    said(held),
                    estimate.value(),
                    said(&estimate)
                ),
                hint: "One physical quantity has one value; name the second one apart if it is another.".to_owned(),
            });
        }
        self.list.push(Input { name, estimate });
        Ok(self.list.len() - 1)
    }

    /// States correlation coefficients between the own parts of inputs, as (first, second, coefficient).
    ///
    /// State those that belong together in one call: a pair that is not named counts as uncorrelated, and three inputs
    /// of which two pairs go together closely cannot have the third pair uncorrelated.
    ///
    /// # Errors
    /// `input.unknown`; `number.out-of-range` where a coefficient is not within -1 to 1; `correlation.impossible` where
    /// they contradict each other or those stated before (the matrix of coefficients has a negative eigenvalue).
    ///
    /// ```
    /// use beadchem::uncertainty::{Estimate, Inputs};
    /// let mut inputs = Inputs::new();
    /// for name in ["L", "l_f", "m_b"] {
    ///     inputs.push(name, Estimate::new(1.0, 0.1)?)?;
    /// }
    /// let refused = inputs.correlate(&[("L", "l_f", 0.9), ("l_f", "m_b", 0.9), ("L", "m_b", -0.9)]).unwrap_err();
    /// assert!(refused.to_string().starts_with("Correlations given for L, l_f, m_b contradict each other"));
    /// inputs.correlate(&[("L", "l_f", 0.9), ("l_f", "m_b", 0.9), ("L", "m_b", 0.8)])?;
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    pub fn correlate(&mut self, coefficients: &[(&str, &str, f64)]) -> Result<()> {
        let mut stated = self.correlations.clone();
        for &(first, second, coefficient) in coefficients {
            crate::error::within(
                &format!("The correlation of {first} and {second},"),
                coefficient,
                "",
                [-1.0, 1.0],
                "-1 to 1",
                "Was a covariance given instead of a coefficient?",
            )?;
            let (a, b) = (self.require(first)?, self.require(second)?);
            if a == b {
                return Err(Error::Conflict {
                    code: Code::CorrelationImpossible,
                    detail: format!("{first} is correlated with itself."),
                    hint: "Name two different inputs.".to_owned(),
                });
            }
            stated.retain(|&(i, j, _)| (i, j) != (a, b) && (i, j) != (b, a));
            stated.push((a, b, coefficient));
        }
        let members = members(&stated);
        // Rounding of a matrix that is exactly on the edge (two inputs fully correlated) stays above this.
        const EDGE: f64 = -1e-10;
        let matrix = self::coefficients(&members, &stated);
        let smallest = if members.is_empty() { 0.0 } else { smallest_eigenvalue(&matrix, members.len())? };
        if smallest < EDGE {
            let names: Vec<&str> = members.iter().map(|&index| self.list[index].name.as_str()).collect();
            return Err(Error::Matrix {
                code: Code::CorrelationImpossible,
                quantity: format!("Correlations given for {} contradict each other", names.join(", ")),
                detail: "their matrix is not positive semidefinite".to_owned(),
                figure: "eigenvalue",
                value: smallest,
                hint: "If A goes with B and B with C, then A goes with C to some degree; check the signs, and state \
                       all pairs together."
                    .to_owned(),
            });
        }
        self.correlations = stated;
        Ok(())
    }

    /// How many inputs there are.
    ///
    /// ```
    /// assert_eq!(beadchem::uncertainty::Inputs::new().len(), 0);
    /// ```
    #[must_use]
    pub fn len(&self) -> usize {
        self.list.len()
    }

    /// True where there are none.
    ///
    /// ```
    /// assert!(beadchem::uncertainty::Inputs::new().is_empty());
    /// ```
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.list.is_empty()
    }

    /// The input at this place.
    ///
    /// ```
    /// assert!(beadchem::uncertainty::Inputs::new().get(0).is_none());
    /// ```
    #[must_use]
    pub fn get(&self, index: usize) -> Option<&Input> {
        self.list.get(index)
    }

    /// All inputs in order.
    ///
    /// ```
    /// assert_eq!(beadchem::uncertainty::Inputs::new().iter().count(), 0);
    /// ```
    pub fn iter(&self) -> impl ExactSizeIterator<Item = &Input> {
        self.list.iter()
    }

    /// The place of the input with this name.
    ///
    /// ```
    /// assert_eq!(beadchem::uncertainty::Inputs::new().index_of("flux mass"), None);
    /// ```
    #[must_use]
    pub fn index_of(&self, name: &str) -> Option<usize> {
        self.list.iter().position(|input| input.name == name)
    }

    /// The values in order.
    ///
    /// ```
    /// use beadchem::uncertainty::Inputs;
    /// let mut inputs = Inputs::new();
    /// inputs.push("flux mass", 8.0)?;
    /// assert_eq!(inputs.values(), [8.0]);
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn values(&self) -> Vec<f64> {
        self.list.iter().map(|input| input.estimate.value()).collect()
    }

    /// The names of the shared causes, each once, in the order in which they first occur.
    ///
    /// ```
    /// use beadchem::uncertainty::{Estimate, Inputs};
    /// let mut inputs = Inputs::new();
    /// inputs.push("sample mass", Estimate::new(0.8, 0.0001)?.shared("balance", 0.00005)?)?;
    /// inputs.push("flux mass", Estimate::new(8.0, 0.0001)?.shared("balance", 0.00005)?)?;
    /// assert_eq!(inputs.causes(), ["balance"]);
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn causes(&self) -> Vec<&str> {
        let mut causes: Vec<&str> = Vec::new();
        for part in self.list.iter().flat_map(|input| input.estimate.causes()) {
            if !causes.contains(&part.cause.as_str()) {
                causes.push(&part.cause);
            }
        }
        causes
    }

    /// The stated correlation coefficients as (place, place, coefficient).
    ///
    /// ```
    /// assert!(beadchem::uncertainty::Inputs::new().correlations().is_empty());
    /// ```
    #[must_use]
    pub fn correlations(&self) -> &[(usize, usize, f64)] {
        &self.correlations
    }

    /// Makes one thing of an input and a shared cause of its name: what a calibration knows as "flux loss of lot F-118" moves
    /// together with the input of that name. Its part becomes that cause, and with it normal.
    pub(crate) fn join_named_causes(&mut self) -> Result<()> {
        let named: Vec<usize> = self.causes().iter().filter_map(|cause| self.index_of(cause)).collect();
        for place in named {
            let Input { name, estimate } = &self.list[place];
            let u = estimate.own_u();
            if u != 0.0 {
                let mut causes = estimate.causes().iter();
                let joined = causes.try_fold(Estimate::exact(estimate.value())?, |joined, part| {
                    joined.shared(part.cause.as_str(), part.u)
                })?;
                self.list[place] = Input { name: name.clone(), estimate: joined.shared(name.as_str(), u)? };
            }
        }
        Ok(())
    }

    /// The places of the inputs that take part in a correlation, and their matrix of coefficients, row by row.
    pub(crate) fn correlated(&self) -> (Vec<usize>, Vec<f64>) {
        let members = members(&self.correlations);
        let matrix = coefficients(&members, &self.correlations);
        (members, matrix)
    }

    fn require(&self, name: &str) -> Result<usize> {
        self.index_of(name).ok_or_else(|| Error::Unknown {
            code: Code::InputUnknown,
            what: "Input".to_owned(),
            given: name.to_owned(),
            hint: format!(
                "The inputs are: {}.",
                self.list.iter().map(|input| input.name.as_str()).collect::<Vec<_>>().join(", ")
            ),
        })
    }
}

fn said(estimate: &Estimate) -> String {
    estimate.u().map_or("not stated".to_owned(), |u| u.to_string())
}

fn members(correlations: &[(usize, usize, f64)]) -> Vec<usize> {
    let mut members: Vec<usize> = correlations.iter().flat_map(|&(a, b, _)| [a, b]).collect();
    members.sort_unstable();
    members.dedup();
    members
}

fn coefficients(members: &[usize], correlations: &[(usize, usize, f64)]) -> Vec<f64> {
    let n = members.len();
    let mut matrix = vec![0.0; n * n];
    for i in 0..n {
        matrix[i * n + i] = 1.0;
    }
    for &(a, b, r) in correlations {
        if let (Ok(i), Ok(j)) = (members.binary_search(&a), members.binary_search(&b)) {
            matrix[i * n + j] = r;
            matrix[j * n + i] = r;
        }
    }
    matrix
}
