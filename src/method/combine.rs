//! Linear combinations of results, with the covariance that hand arithmetic would lose.

use std::sync::Arc;

use crate::code::Code;
use crate::error::{Error, Result};
use crate::method::Assay;
use crate::uncertainty::{Propagated, Spread};

impl Assay {
    /// A weighted sum of results and of results from elsewhere, g/g, with its uncertainty and budget through all they share:
    /// ferric iron as `Fe2O3 - 1.1113 FeO`, a remainder as minus the sum, a modulus' numerator.
    ///
    /// # Errors
    /// `species.unknown` for a name that is neither; `basis.mismatch` where a result from elsewhere stands on another basis;
    /// `number.not-finite`.
    ///
    /// ```
    /// # use beadchem::{composition::{Basis, External}, method::example, uncertainty::Estimate};
    /// let carbon = External::new("CO2", Estimate::new(0.45, 0.002)?, Basis::Dried, "combustion")?;
    /// let assay = example()?.with_external(carbon);
    /// let carbonates = assay.combine(&[("CaO", 1.0), ("MgO", 1.0), ("CO2", 1.0)])?;
    /// let alone = assay.u("CaO")?.hypot(assay.u("MgO")?).hypot(0.002);
    /// assert!(carbonates.u(0) > alone); // CaO and MgO go together
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    pub fn combine(&self, weights: &[(&str, f64)]) -> Result<Propagated> {
        let plan = self.sample().plan();
        let mut all = plan.inputs().clone();
        let (mut outputs, mut inputs) = (Vec::new(), Vec::new());
        for &(species, weight) in weights {
            crate::error::finite(&format!("The weight of {species}"), weight)?;
            if let Ok(output) = self.sample().output_of(species) {
                outputs.push((output, weight));
                continue;
            }
            let Some(external) = self.externals().iter().find(|external| external.species() == species) else {
                let known =
                    self.sample().species().into_iter().chain(self.externals().iter().map(|held| held.species()));
                return Err(Error::Unknown {
                    code: Code::SpeciesUnknown,
                    what: "Result".to_owned(),
                    given: species.to_owned(),
                    hint: format!("There are: {}.", known.collect::<Vec<_>>().join(", ")),
                });
            };
            if external.basis() != self.sample().basis() {
                return Err(Error::Conflict {
                    code: Code::BasisMismatch,
                    detail: format!(
                        "{species} by {} is {}, the results are {}.",
                        external.method(),
                        external.basis(),
                        self.sample().basis()
                    ),
                    hint: "Bring the results to that basis first.".to_owned(),
                });
            }
            let Some(value) = external.content().value() else {
                return Err(Error::Missing {
                    code: Code::NumberNotFinite,
                    quantity: format!("{species} by {}", external.method()),
                    place: String::new(),
                    hint: "A limit cannot be added up; give a value with its uncertainty.".to_owned(),
                });
            };
            let place = all.push(format!("{species} by {}", external.method()), value.clone())?;
            inputs.push((place, weight));
        }
        let values = all.values();
        all.join_named_causes()?;
        let results = self.sample().propagated();
        let value = outputs.iter().map(|&(output, weight)| weight * results.value(output)).sum::<f64>()
            + inputs.iter().map(|&(input, weight)| weight * values[input]).sum::<f64>();
        let mut slopes = vec![0.0; all.len()];
        for &(output, weight) in &outputs {
            for (input, slope) in slopes.iter_mut().take(plan.inputs().len()).enumerate() {
                *slope += weight * results.derivative(output, input);
            }
        }
        for &(input, weight) in &inputs {
            slopes[input] += weight;
        }
        Propagated::from_jacobian(Arc::new(Spread::new(all)?), vec![value], slopes).bounded()
    }
}
