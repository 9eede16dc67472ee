//! The stored form of a calibration.

use serde::{Deserialize, Serialize};

use crate::composition::Basis;
use crate::document::Document;
use crate::error::Result;
use crate::matrix::{Calibration, Label};
use crate::uncertainty::Estimate;

/// The plain fields of a calibration.
///
/// ```
/// use beadchem::{composition::Basis, document::Document, matrix::{Calibration, Label}};
/// let calibration = Calibration::new(Label::new("cal", "1", "given")?, Basis::Dried).sensitivity("Fe Ka", 2e-5)?;
/// assert_eq!(Calibration::from_body(calibration.to_body())?, calibration);
/// # Ok::<(), beadchem::Error>(())
/// ```
#[derive(Debug, Clone, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct CalibrationBody {
    name: String,
    version: String,
    source: String,
    basis: Basis,
    sensitivities: Vec<SensitivityBody>,
    #[serde(skip_serializing_if = "Vec::is_empty", default)]
    coefficients: Vec<CoefficientBody>,
    #[serde(skip_serializing_if = "Vec::is_empty", default)]
    correlations: Vec<CorrelationBody>,
    #[serde(skip_serializing_if = "Vec::is_empty", default)]
    ranges: Vec<RangeBody>,
    #[serde(skip_serializing_if = "Vec::is_empty", default)]
    warnings: Vec<String>,
}

#[derive(Debug, Clone, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct SensitivityBody {
    line: String,
    value: Estimate,
    #[serde(skip_serializing_if = "Option::is_none", default)]
    offset: Option<Estimate>,
}

#[derive(Debug, Clone, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct CoefficientBody {
    line: String,
    component: String,
    value: Estimate,
}

#[derive(Debug, Clone, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct CorrelationBody {
    first: String,
    second: String,
    coefficient: f64,
}

#[derive(Debug, Clone, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct RangeBody {
    analyte: String,
    low: f64,
    high: f64,
}

impl Document for Calibration {
    const KIND: &'static str = "calibration";
    const SCHEMA: u32 = 1;
    type Body = CalibrationBody;
    fn to_body(&self) -> CalibrationBody {
        let label = self.label();
        let sensitivities = self.sensitivities().iter().map(|held| SensitivityBody {
            line: held.line.as_str().to_owned(),
            value: held.value.clone(),
            offset: held.offset.clone(),
        });
        let coefficients = self.coefficients().iter().map(|held| CoefficientBody {
            line: held.line.as_str().to_owned(),
            component: held.component.text().to_owned(),
            value: held.value.clone(),
        });
        let correlations = self.correlations().iter().map(|(first, second, coefficient)| CorrelationBody {
            first: first.clone(),
            second: second.clone(),
            coefficient: *coefficient,
        });
        let ranges = self.ranges().iter().map(|held| RangeBody {
            analyte: held.analyte.text().to_owned(),
            low: held.low,
            high: held.high,
        });
        CalibrationBody {
            name: label.name().to_owned(),
            version: label.version().to_owned(),
            source: label.source().to_owned(),
            basis: self.basis(),
            sensitivities: sensitivities.collect(),
            coefficients: coefficients.collect(),
            correlations: correlations.collect(),
            ranges: ranges.collect(),
            warnings: self.warnings().to_vec(),
        }
    }
    fn from_body(body: CalibrationBody) -> Result<Self> {
        let label = Label::new(&body.name, &body.version, &body.source)?;
        let mut calibration = Calibration::new(label, body.basis);
        for held in body.sensitivities {
            calibration = calibration.sensitivity(&held.line, held.value)?;
            if let Some(offset) = held.offset {
                calibration = calibration.offset(&held.line, offset)?;
            }
        }
        for held in body.coefficients {
            calibration = calibration.coefficient(&held.line, &held.component, held.value)?;
        }
        for held in body.correlations {
            calibration = calibration.correlation(&held.first, &held.second, held.coefficient)?;
        }
        calibration = body.warnings.into_iter().fold(calibration, Calibration::warned);
        body.ranges
            .into_iter()
            .try_fold(calibration, |calibration, held| calibration.range(&held.analyte, held.low, held.high))
    }
}
