//! Detection limits of this bead: its own background, its own sensitivity, its own dilution.

use crate::error::Result;
use crate::matrix::{DetectionFormula, DriftTerm};
use crate::method::Assay;
use crate::uncertainty::Estimate;

/// The detection limit of one analyte in one bead, by a named formula.
///
/// ```
/// # use beadchem::{matrix::DetectionFormula, method::example};
/// assert!(example()?.detection_limits(DetectionFormula::CurrieDetection)?.is_empty()); // its counts were not given
/// # Ok::<(), beadchem::Error>(())
/// ```
#[derive(Debug, Clone, PartialEq)]
pub struct BeadLimit {
    /// The analyte as the coefficients write it.
    pub analyte: String,
    /// Its line.
    pub line: String,
    /// The formula.
    pub formula: DetectionFormula,
    /// g per g of sample as weighed.
    pub in_sample: f64,
    /// g per g of glass.
    pub in_glass: f64,
}

impl Assay {
    /// Detection limits for this bead, for each line whose counts and background were given.
    ///
    /// `S = 1 / (k q)` cps per g/g with q the bracket of the equation for this bead, divided by the drift since calibration.
    ///
    /// # Errors
    /// None for an assay that could be computed; kept fallible for the formulas.
    ///
    /// ```
    /// # use beadchem::{matrix::DetectionFormula, method::example};
    /// // net intensities alone do not tell their background
    /// assert!(example()?.detection_limits(DetectionFormula::ThreeSigmaBackground)?.is_empty());
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    pub fn detection_limits(&self, formula: DetectionFormula) -> Result<Vec<BeadLimit>> {
        let mut limits = Vec::new();
        let Some((solved, equation)) = self.sample().solved() else { return Ok(limits) };
        let asked = self.method().ask(self.sample().melt(), self.measurement())?;
        let dilution = self.sample().melt().dilution().value();
        for (row, spec) in asked.order.rows.iter().enumerate() {
            let line = &asked.order.lines[spec.line];
            if line.reading.channels().is_none_or(|(_, backgrounds)| backgrounds.is_empty()) {
                continue;
            }
            let per_count = solved.factor(equation, row)
                * spec.sensitivity.1.value()
                * spec.scale
                * (solved.fixed[row] + solved.solved[row]);
            let sensitivity = 1.0 / (per_count * slope(line.drift.as_ref())?);
            let limit = line.reading.detection_limit(formula, sensitivity)?;
            let kept = self.sample().kept(row);
            limits.push(BeadLimit {
                analyte: asked.order.components[spec.component].text().to_owned(),
                line: line.reading.line().as_str().to_owned(),
                formula,
                in_sample: limit.value / kept,
                in_glass: limit.value / dilution,
            });
        }
        Ok(limits)
    }
}

/// Corrected counts per count.
fn slope(drift: Option<&DriftTerm>) -> Result<f64> {
    let Some(drift) = drift else { return Ok(1.0) };
    let at = |intensity: f64| Ok::<f64, crate::error::Error>(drift.correct(Estimate::exact(intensity)?)?.value());
    Ok(at(1.0)? - at(0.0)?)
}
