//! The stored form of a set of influence coefficients.

use serde::{Deserialize, Serialize};

use crate::document::Document;
use crate::error::Result;
use crate::matrix::coefficients::{CoefficientSet, Derivation, Influence, Label};
use crate::matrix::conditions::Conditions;

/// The plain fields of a set of influence coefficients.
///
/// ```
/// # use beadchem::matrix::{CoefficientSet, Conditions, Derivation, Influence, Label};
/// use beadchem::document::Document;
/// # let label = Label::new("sand", "1", "invented for this example")?;
/// # let row = [Influence::new("Si Ka", "SiO2", [0.28])];
/// let set = CoefficientSet::new(label, Derivation::Fitted, Conditions::new(5.0)?, ["SiO2"], row)?;
/// assert_eq!(CoefficientSet::from_body(set.to_body())?, set);
/// # Ok::<(), beadchem::Error>(())
/// ```
#[derive(Debug, Clone, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct CoefficientSetBody {
    name: String,
    version: String,
    source: String,
    derivation: Derivation,
    conditions: ConditionsBody,
    components: Vec<String>,
    lines: Vec<Row>,
}

#[derive(Debug, Clone, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct ConditionsBody {
    fused_flux_ratio: f64,
    lowest_ratio: f64,
    highest_ratio: f64,
    #[serde(skip_serializing_if = "Vec::is_empty", default)]
    flux: Vec<Part>,
    #[serde(skip_serializing_if = "String::is_empty", default)]
    setup: String,
    #[serde(skip_serializing_if = "Vec::is_empty", default)]
    centroid: Vec<Content>,
    #[serde(skip_serializing_if = "Vec::is_empty", default)]
    ranges: Vec<Range>,
}

#[derive(Debug, Clone, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct Part {
    species: String,
    share: f64,
}

#[derive(Debug, Clone, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct Content {
    component: String,
    content: f64,
}

#[derive(Debug, Clone, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct Range {
    component: String,
    low: f64,
    high: f64,
}

#[derive(Debug, Clone, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct Row {
    line: String,
    analyte: String,
    coefficients: Vec<f64>,
    #[serde(skip_serializing_if = "Option::is_none", default)]
    u: Option<Vec<f64>>,
    #[serde(skip_serializing_if = "Option::is_none", default)]
    sensitivity: Option<f64>,
}

impl Document for CoefficientSet {
    const KIND: &'static str = "influence-coefficients";
    const SCHEMA: u32 = 1;
    type Body = CoefficientSetBody;
    fn to_body(&self) -> CoefficientSetBody {
        CoefficientSetBody {
            name: self.label.name().to_owned(),
            version: self.label.version().to_owned(),
            source: self.label.source().to_owned(),
            derivation: self.derivation,
            conditions: stored(&self.conditions),
            components: self.component_texts().map(str::to_owned).collect(),
            lines: self
                .rows()
                .map(|Influence { line, analyte, coefficients, u, sensitivity }| Row {
                    line,
                    analyte,
                    coefficients,
                    u,
                    sensitivity,
                })
                .collect(),
        }
    }
    fn from_body(body: CoefficientSetBody) -> Result<Self> {
        let rows = body.lines.into_iter().map(|Row { line, analyte, coefficients, u, sensitivity }| Influence {
            line,
            analyte,
            coefficients,
            u,
            sensitivity,
        });
        Self::new(
            Label::new(&body.name, &body.version, &body.source)?,
            body.derivation,
            read(&body.conditions)?,
            body.components.iter().map(String::as_str),
            rows,
        )
    }
}

fn stored(conditions: &Conditions) -> ConditionsBody {
    let (lowest_ratio, highest_ratio) = conditions.range;
    let text = |formula: &crate::substance::Formula| formula.text().to_owned();
    let ranges = conditions.content_ranges.iter();
    ConditionsBody {
        fused_flux_ratio: conditions.fused_flux_ratio,
        lowest_ratio,
        highest_ratio,
        flux: conditions.blend.iter().map(|(species, share)| Part { species: text(species), share: *share }).collect(),
        setup: conditions.setup.clone(),
        centroid: conditions
            .centroid
            .iter()
            .map(|(f, content)| Content { component: text(f), content: *content })
            .collect(),
        ranges: ranges.map(|(f, (low, high))| Range { component: text(f), low: *low, high: *high }).collect(),
    }
}

fn read(body: &ConditionsBody) -> Result<Conditions> {
    let blend: Vec<(&str, f64)> = body.flux.iter().map(|part| (part.species.as_str(), part.share)).collect();
    let conditions = Conditions::new(body.fused_flux_ratio)?
        .with_range(body.lowest_ratio, body.highest_ratio)?
        .with_blend(&blend)?
        .with_setup(&body.setup);
    let conditions =
        body.centroid.iter().try_fold(conditions, |made, held| made.with_centroid(&held.component, held.content))?;
    body.ranges
        .iter()
        .try_fold(conditions, |made, range| made.with_content_range(&range.component, range.low, range.high))
}
