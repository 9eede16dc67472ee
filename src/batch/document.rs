//! The stored form of a correction: everything that decides a number, in one document.

use std::sync::Arc;

use serde::{Deserialize, Serialize};

use crate::batch::correction::{Correction, FusionLoss};
use crate::batch::field::Field;
use crate::batch::glass::Read;
use crate::batch::made::{Made, kept};
use crate::batch::options::Uncertainty;
use crate::batch::recorrect::{Recorrection, SpecificationLimit};
use crate::charge::{Charge, ChargeBody, FluxLot, FluxLotBody, Form};
use crate::code::Code;
use crate::composition::Basis;
use crate::document::{self, Document};
use crate::error::{Error, Result};
use crate::matrix::{Drift, DriftBody};
use crate::method::{Method, MethodBody};
use crate::rules::{Rules, RulesBody};
use crate::substance::{Formula, Weights};
use crate::uncertainty::Estimate;

/// The plain fields of a correction.
///
/// ```
/// use beadchem::{batch::Correction, document::Document};
/// let correction = beadchem::batch::example()?;
/// assert_eq!(Correction::from_body(correction.to_body())?, correction);
/// # Ok::<(), beadchem::Error>(())
/// ```
#[derive(Debug, Clone, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct CorrectionBody {
    /// Evaluation (a); evaluation (b) states `glass`.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    method: Option<MethodBody>,
    /// What the glass is read for.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    glass: Option<Vec<String>>,
    recipe: ChargeBody,
    #[serde(skip_serializing_if = "Vec::is_empty", default)]
    further_lots: Vec<FluxLotBody>,
    #[serde(skip_serializing_if = "Option::is_none", default)]
    basis: Option<Basis>,
    #[serde(skip_serializing_if = "Vec::is_empty", default)]
    also_on: Vec<Basis>,
    form: FormBody,
    #[serde(skip_serializing_if = "Option::is_none", default)]
    loss_temperature_c: Option<f64>,
    fusion: FusionBody,
    #[serde(skip_serializing_if = "Option::is_none", default)]
    rules: Option<RulesBody>,
    #[serde(skip_serializing_if = "Vec::is_empty", default)]
    counted_as: Vec<String>,
    fields: Vec<Field>,
    #[serde(skip_serializing_if = "Option::is_none", default)]
    drift: Option<DriftBody>,
    weights: String,
}

#[derive(Debug, Clone, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
enum FormBody {
    AsRead,
    Elements,
    Oxides,
    Species(Vec<String>),
}

#[derive(Debug, Clone, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
enum FusionBody {
    Column,
    AsOnIgnition,
    Fixed(Estimate),
}

impl Document for Correction {
    const KIND: &'static str = "correction";
    const SCHEMA: u32 = 1;
    type Body = CorrectionBody;
    fn to_body(&self) -> CorrectionBody {
        CorrectionBody {
            method: self.method().map(Document::to_body),
            glass: match &self.read {
                Read::Lines(_) => None,
                Read::Glass(read) => Some(read.iter().map(|species| species.text().to_owned()).collect()),
            },
            recipe: self.recipe.to_body(),
            further_lots: self.lots[1..].iter().map(Document::to_body).collect(),
            basis: self.on,
            also_on: self.also_on.clone(),
            form: match &self.form {
                Form::AsRead => FormBody::AsRead,
                Form::Elements => FormBody::Elements,
                Form::Oxides => FormBody::Oxides,
                Form::Species(list) => FormBody::Species(list.iter().map(|held| held.text().to_owned()).collect()),
            },
            loss_temperature_c: self.loss_temperature_c,
            fusion: match &self.fusion {
                FusionLoss::Column => FusionBody::Column,
                FusionLoss::AsOnIgnition => FusionBody::AsOnIgnition,
                FusionLoss::Fixed(loss) => FusionBody::Fixed(loss.clone()),
            },
            rules: self.rules.as_ref().map(Document::to_body),
            counted_as: self.counted_as.clone(),
            fields: self.fields.clone(),
            drift: self.drift.as_deref().map(Document::to_body),
            weights: self.weights.version_name().to_owned(),
        }
    }
    fn from_body(body: CorrectionBody) -> Result<Self> {
        let recipe = Charge::from_body(body.recipe)?;
        let mut correction = match (body.method, body.glass) {
            (Some(method), None) => Correction::new(Method::from_body(method)?, recipe)?,
            (None, Some(glass)) => Correction::of_glass(glass, recipe)?,
            (method, _) => return Err(not_one(method.is_some())),
        };
        for lot in body.further_lots {
            correction = correction.lot(FluxLot::from_body(lot)?)?;
        }
        correction = correction.weights(Weights::version(&body.weights)?).fusion(match body.fusion {
            FusionBody::Column => FusionLoss::Column,
            FusionBody::AsOnIgnition => FusionLoss::AsOnIgnition,
            FusionBody::Fixed(loss) => FusionLoss::Fixed(loss),
        })?;
        if let Some(temperature_c) = body.loss_temperature_c {
            correction = correction.loss_temperature(temperature_c)?;
        }
        for species in &body.counted_as {
            correction = correction.counted_as(species)?;
        }
        let form = match body.form {
            FormBody::AsRead => Form::AsRead,
            FormBody::Elements => Form::Elements,
            FormBody::Oxides => Form::Oxides,
            FormBody::Species(list) => {
                Form::Species(list.iter().map(|text| Formula::parse(text)).collect::<Result<_>>()?)
            }
        };
        let fields = body.fields.into_iter().map(Field::checked).collect::<Result<Vec<_>>>()?;
        correction = Correction { fields: Vec::new(), ..correction };
        for field in fields {
            correction = correction.field(field)?;
        }
        for basis in body.also_on {
            correction = correction.also_on(basis)?;
        }
        let rules = body.rules.map(Rules::from_body).transpose()?;
        if let Some(drift) = body.drift {
            correction = correction.drift(Drift::from_body(drift)?)?;
        }
        Ok(Correction { on: body.basis, form, rules, made: Arc::new(Made::default()), ..correction })
    }
}

/// A correction rests on a method or on readings of the glass.
fn not_one(both: bool) -> Error {
    Error::Document {
        code: Code::DocumentMalformed,
        place: "body".to_owned(),
        detail: format!("`method` and `glass` are {}.", if both { "both there" } else { "both missing" }),
        hint: "Intensities go by a method, readings of the glass name their components: one of the two.".to_owned(),
    }
}

/// The plain fields of a re-correction.
///
/// ```
/// use beadchem::{batch::{Recorrection, example}, document::{from_json, to_json}};
/// let stored = to_json(&Recorrection::new(example()?, example()?)?.only("flux_lot", "F-1"))?;
/// assert_eq!(to_json(&from_json::<Recorrection>(&stored)?)?, stored);
/// # Ok::<(), beadchem::Error>(())
/// ```
#[derive(Debug, Clone, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct RecorrectionBody {
    old: CorrectionBody,
    new: CorrectionBody,
    #[serde(skip_serializing_if = "Vec::is_empty", default)]
    only: Vec<(String, String)>,
    #[serde(skip_serializing_if = "Vec::is_empty", default)]
    limits: Vec<LimitBody>,
}

#[derive(Debug, Clone, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct LimitBody {
    species: String,
    low: Option<f64>,
    high: Option<f64>,
}

impl Document for Recorrection {
    const KIND: &'static str = "recorrection";
    const SCHEMA: u32 = 1;
    type Body = RecorrectionBody;
    fn to_body(&self) -> RecorrectionBody {
        let limit =
            |held: &SpecificationLimit| LimitBody { species: held.species.clone(), low: held.low, high: held.high };
        RecorrectionBody {
            old: self.old.to_body(),
            new: self.new.to_body(),
            only: self.only.clone(),
            limits: self.limits.iter().map(limit).collect(),
        }
    }
    fn from_body(body: RecorrectionBody) -> Result<Self> {
        let mut made = Recorrection::new(Correction::from_body(body.old)?, Correction::from_body(body.new)?)?;
        for (column, word) in body.only {
            made = made.only(&column, &word);
        }
        for LimitBody { species, low, high } in body.limits {
            made = made.limit(SpecificationLimit { species, low, high })?;
        }
        Ok(made)
    }
}

/// What results of a table rest on, for the schema of the table and for the record.
///
/// ```
/// let provenance = beadchem::batch::example()?.provenance()?;
/// assert_eq!((provenance.method.as_str(), provenance.digest.len()), ("dolomite 2026-1", 64));
/// # Ok::<(), beadchem::Error>(())
/// ```
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct TableProvenance {
    /// Digest of the whole correction.
    pub digest: String,
    /// Name and version of the method; where the glass is read, the evaluation in words.
    pub method: String,
    /// Digest of the method; empty where the glass is read.
    pub method_digest: String,
    /// Name and digest of each flux lot.
    pub lots: Vec<(String, String)>,
    /// Version of the atomic weights.
    pub weights: String,
    /// Basis of the results.
    pub basis: String,
    /// Name and version of the rules; empty where none are stated.
    pub rules: String,
    /// Version of this library.
    pub library: String,
}

impl Correction {
    /// The same as JSON.
    ///
    /// # Errors
    /// As [`provenance`](Self::provenance).
    ///
    /// ```
    /// assert!(beadchem::batch::example()?.provenance_json()?.contains("dolomite 2026-1"));
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    pub fn provenance_json(&self) -> Result<String> {
        let provenance = self.provenance()?;
        serde_json::to_string(&provenance).map_err(|error| document::refused("provenance", &error))
    }

    /// What is written into the metadata of a table of results: provenance, the whole correction to replay it, and which
    /// uncertainties were asked for.
    pub(crate) fn record(&self, uncertainty: Uncertainty) -> Result<String> {
        let held = kept(&self.made.record, || {
            let (provenance, whole) = (self.provenance_json()?, document::to_json(self)?);
            Ok(Arc::from(format!("\"provenance\":{provenance},\"correction\":{whole}")))
        })?;
        Ok(format!("{{\"uncertainty\":\"{}\",{held}}}", uncertainty.word()))
    }

    /// What the results rest on, with the digests of all that was stated.
    ///
    /// # Errors
    /// Those of [`document::digest`].
    ///
    /// ```
    /// assert_eq!(beadchem::batch::example()?.provenance()?.basis, "dried");
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    pub fn provenance(&self) -> Result<TableProvenance> {
        let named = |method: &Method| format!("{} {}", method.label().name(), method.label().version());
        let lots = self.lots.iter().map(|lot| Ok((lot.name().to_owned(), document::digest(lot)?)));
        Ok(TableProvenance {
            digest: document::digest(self)?,
            method: self.method().map_or_else(|| self.evaluation().text().to_owned(), named),
            method_digest: self.method().map(document::digest).transpose()?.unwrap_or_default(),
            lots: lots.collect::<Result<_>>()?,
            weights: self.weights.version_name().to_owned(),
            basis: self.basis().to_string(),
            rules: self.rules.as_ref().map_or_else(String::new, Rules::id),
            library: env!("CARGO_PKG_VERSION").to_owned(),
        })
    }
}
