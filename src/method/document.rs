//! The stored form of a method: everything that decides a number, in one document.

use serde::{Deserialize, Serialize};

use crate::document::{self, Document};
use crate::error::Result;
use crate::matrix::{Calibration, CalibrationBody, CoefficientSet, CoefficientSetBody, DeadTime, Label};
use crate::method::{InternalStandard, Method, Overlap};
use crate::uncertainty::Estimate;

/// The plain fields of a method.
///
/// ```
/// use beadchem::{document::Document, method::Method};
/// let method = Method::template()?;
/// assert_eq!(Method::from_body(method.to_body())?, method);
/// # Ok::<(), beadchem::Error>(())
/// ```
#[derive(Debug, Clone, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct MethodBody {
    name: String,
    version: String,
    source: String,
    coefficients: CoefficientSetBody,
    #[serde(skip_serializing_if = "Vec::is_empty", default)]
    classes: Vec<CoefficientSetBody>,
    calibration: CalibrationBody,
    #[serde(skip_serializing_if = "Vec::is_empty", default)]
    overlaps: Vec<OverlapBody>,
    #[serde(skip_serializing_if = "Option::is_none", default)]
    dead_time_s: Option<Estimate>,
    #[serde(skip_serializing_if = "Option::is_none", default)]
    dead_time_detector: Option<String>,
    #[serde(skip_serializing_if = "Option::is_none", default)]
    internal_standard: Option<StandardBody>,
    #[serde(skip_serializing_if = "Vec::is_empty", default)]
    not_reported: Vec<String>,
}

#[derive(Debug, Clone, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct OverlapBody {
    on: String,
    from: String,
    factor: Estimate,
}

#[derive(Debug, Clone, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct StandardBody {
    line: String,
    component: String,
    follow: Vec<String>,
}

impl Document for Method {
    const KIND: &'static str = "method";
    const SCHEMA: u32 = 1;
    type Body = MethodBody;
    fn to_body(&self) -> MethodBody {
        let overlaps = self.overlaps.iter().map(|overlap| OverlapBody {
            on: overlap.on().as_str().to_owned(),
            from: overlap.from().as_str().to_owned(),
            factor: overlap.factor().clone(),
        });
        let standard = self.standard.as_ref().map(|standard| StandardBody {
            line: standard.line().as_str().to_owned(),
            component: standard.component().text().to_owned(),
            follow: standard.follow().iter().map(|line| line.as_str().to_owned()).collect(),
        });
        MethodBody {
            name: self.label.name().to_owned(),
            version: self.label.version().to_owned(),
            source: self.label.source().to_owned(),
            coefficients: self.coefficients[0].to_body(),
            classes: self.coefficients[1..].iter().map(Document::to_body).collect(),
            calibration: self.calibration.to_body(),
            overlaps: overlaps.collect(),
            dead_time_s: self.dead_time.as_ref().map(|dead_time| dead_time.seconds().clone()),
            dead_time_detector: self.dead_time.as_ref().and_then(DeadTime::detector).map(str::to_owned),
            internal_standard: standard,
            not_reported: self.not_reported.iter().map(|held| held.text().to_owned()).collect(),
        }
    }
    fn from_body(body: MethodBody) -> Result<Self> {
        let label = Label::new(&body.name, &body.version, &body.source)?;
        let coefficients = CoefficientSet::from_body(body.coefficients)?;
        let mut method = Method::new(label, coefficients, Calibration::from_body(body.calibration)?)?;
        for class in body.classes {
            method = method.class(CoefficientSet::from_body(class)?)?;
        }
        for overlap in body.overlaps {
            method = method.overlap(Overlap::new(&overlap.on, &overlap.from, overlap.factor)?)?;
        }
        if let Some(seconds) = body.dead_time_s {
            let dead_time = DeadTime::new(seconds)?;
            method = method.dead_time(match body.dead_time_detector {
                Some(detector) => dead_time.of_detector(detector),
                None => dead_time,
            });
        }
        for analyte in &body.not_reported {
            method = method.not_reported(analyte)?;
        }
        match body.internal_standard {
            Some(held) => {
                let follow = held.follow.iter().map(String::as_str);
                method.internal_standard(InternalStandard::new(&held.line, &held.component, follow)?)
            }
            None => Ok(method),
        }
    }
}

/// A method of an invented laboratory as an annotated text: every field with its meaning and unit behind `//`.
///
/// ```
/// assert!(beadchem::method::TEMPLATE.contains("// g per g of sample"));
/// ```
pub const TEMPLATE: &str = include_str!("template.txt");

impl Method {
    /// The method of [`TEMPLATE`]: dolomite by three lines, all numbers invented or rounded.
    ///
    /// # Errors
    /// None; kept fallible for the reader.
    ///
    /// ```
    /// assert_eq!(beadchem::method::Method::template()?.label().name(), "dolomite");
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    pub fn template() -> Result<Self> {
        Self::from_annotated(TEMPLATE)
    }

    /// Reads a method in which `//` begins a remark to the end of its line; remarks are not kept.
    ///
    /// # Errors
    /// Those of [`document::from_json`].
    ///
    /// ```
    /// use beadchem::method::{Method, TEMPLATE};
    /// let mine = TEMPLATE.replace("\"version\": \"2026-1\"", "\"version\": \"2026-2\"");
    /// assert_eq!(Method::from_annotated(&mine)?.label().version(), "2026-2");
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    pub fn from_annotated(text: &str) -> Result<Self> {
        let plain: Vec<&str> = text.lines().map(without_remark).collect();
        document::from_json(&plain.join("\n"))
    }
}

/// A line up to its remark; `//` inside quotes is text.
fn without_remark(line: &str) -> &str {
    let (mut quoted, mut escaped, mut slash) = (false, false, None);
    for (place, character) in line.char_indices() {
        match (quoted, character) {
            (true, '\\') if !escaped => {
                escaped = true;
                continue;
            }
            (_, '"') if !escaped => quoted = !quoted,
            (false, '/') if slash == Some(place) => return &line[..place - 1],
            (false, '/') => slash = Some(place + 1),
            _ => {}
        }
        escaped = false;
    }
    line
}
