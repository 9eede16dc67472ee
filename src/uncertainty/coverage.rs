//! Coverage factors.

use statrs::distribution::{ContinuousCDF, Normal, StudentsT};

use crate::code::Code;
use crate::error::{Error, Result};

/// Refuses a coverage probability that is not strictly between 0 and 1.
pub(crate) fn probability(probability: f64) -> Result<f64> {
    // so close to 1 that the upper quantile is at infinity is 1
    if probability > 0.0 && 0.5 + probability / 2.0 < 1.0 {
        return Ok(probability);
    }
    Err(Error::OutOfRange {
        code: Code::CoverageProbability,
        quantity: "Coverage probability".to_owned(),
        value: probability,
        unit: "",
        bound: "0 to 1 (ends excluded)".to_owned(),
        hint: "95 % is 0.95.".to_owned(),
    })
}

/// Refuses a multiple of u that no rule can mean.
pub(crate) fn multiple_of_u(k: f64) -> Result<f64> {
    let hint = "The multiple of u that your laboratory's rule allows, often 2 to 4.";
    crate::error::within("Multiple of u", k, "", [f64::MIN_POSITIVE, 100.0], "above 0 to 100", hint)
}

/// The factor k with which plus or minus k u covers the probability, for these degrees of freedom.
pub(crate) fn factor(dof: f64, coverage: f64) -> Result<f64> {
    probability(coverage)?;
    let upper = 0.5 + coverage / 2.0;
    // Above this many, Student's t is the normal distribution within 1e-6 of k.
    const MANY: f64 = 1e5;
    if dof > MANY {
        return Ok(Normal::standard().inverse_cdf(upper));
    }
    match StudentsT::new(0.0, 1.0, dof.floor()) {
        Ok(t) if dof >= 1.0 => Ok(t.inverse_cdf(upper)),
        _ => Err(Error::OutOfRange {
            code: Code::DegreesOfFreedom,
            quantity: "Effective degrees of freedom,".to_owned(),
            value: dof,
            unit: "",
            bound: "1 and above".to_owned(),
            hint: "With correlated inputs the formula does not hold: state the coverage factor yourself, or use Monte Carlo."
                .to_owned(),
        }),
    }
}
