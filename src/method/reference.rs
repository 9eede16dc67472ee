//! A result against the certificate of a reference material.

use crate::code::Code;
use crate::composition::External;
use crate::error::{Error, Result};
use crate::method::Assay;
use crate::rules::{Agreement, Rules};

impl Assay {
    /// A reference material against its certificate, by [`Rules::check_reference`]; both on one basis.
    ///
    /// # Errors
    /// `basis.mismatch` where the certificate is on another basis than the result; `species.unknown`; `number.not-finite` for a
    /// certificate that states a limit; `rule.unstated`.
    ///
    /// ```
    /// # use beadchem::{composition::{Basis, External}, method::example, rules::Rules, uncertainty::Estimate};
    /// let rules = Rules::new("house", "1").agreement(2.0)?;
    /// let certified = Estimate::new(0.3080, 0.0010)?;
    /// let certificate = External::new("CaO", certified.clone(), Basis::Dried, "certificate RM-7")?;
    /// assert!(example()?.check_reference(&rules, &certificate)?.agrees.is_some());
    /// let ignited = External::new("CaO", certified, Basis::ignited(1000.0)?, "certificate RM-7")?;
    /// assert_eq!(example()?.check_reference(&rules, &ignited).unwrap_err().code().word(), "basis.mismatch");
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    pub fn check_reference(&self, rules: &Rules, certificate: &External) -> Result<Agreement> {
        let (species, result) = (certificate.species(), self.sample());
        let output = result.output_of(species)?;
        if certificate.basis() != result.basis() {
            return Err(Error::Conflict {
                code: Code::BasisMismatch,
                detail: format!(
                    "{species}: the certificate ({}) is on the basis {}, the result is {}.",
                    certificate.method(),
                    certificate.basis(),
                    result.basis()
                ),
                hint:
                    "Bring the result to the basis of the certificate first; that needs moisture or loss on ignition."
                        .to_owned(),
            });
        }
        let Some(assigned) = certificate.content().value() else {
            return Err(Error::Missing {
                code: Code::NumberNotFinite,
                quantity: format!("A value of {species} in {}", certificate.method()),
                place: String::new(),
                hint: "A limit is no assigned value; give the value with its standard uncertainty.".to_owned(),
            });
        };
        rules.check_reference(species, &result.propagated().estimate(output)?, assigned)
    }
}
