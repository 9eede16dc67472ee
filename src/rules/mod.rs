//! Limits of a laboratory as named, versioned data, and the findings they lead to. None has a value of its own here.

mod agreement;
mod identity;
mod report;
mod total;

pub use agreement::Agreement;
pub use report::{Negatives, ReportForm, ReportFormBody};
pub use total::TotalVerdict;

use serde::{Deserialize, Serialize};

use crate::code::Code;
use crate::composition::LossOnIgnition;
use crate::composition::unit::{percent_text, within_percent};
use crate::document::Document;
use crate::error::{Error, Result};
use crate::finding::Finding;
use crate::substance::Formula;
use crate::uncertainty::multiple_of_u;

/// A fixed window for a total, and a multiple of its own uncertainty: two rules, both printed.
///
/// ```
/// use beadchem::rules::TotalLimit;
/// let limit = TotalLimit { low: 0.985, high: 1.01, k: 2.0 };
/// assert!(limit.low < limit.high);
/// ```
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct TotalLimit {
    /// Lower end of the window, g/g.
    pub low: f64,
    /// Upper end of the window, g/g.
    pub high: f64,
    /// The multiple of u that a total may be off the whole.
    pub k: f64,
}

/// What a laboratory allows the loss of a flux lot to be.
///
/// ```
/// use beadchem::rules::FluxLossLimit;
/// assert!(FluxLossLimit { highest: 0.05, k: 3.0 }.highest < 1.0);
/// ```
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct FluxLossLimit {
    /// The highest loss taken for plausible, g/g.
    pub highest: f64,
    /// The multiple of u by which a loss may come out below zero.
    pub k: f64,
}

/// The highest content of an oxide that a laboratory trusts its glass to hold.
///
/// ```
/// use beadchem::rules::Solubility;
/// let limit = Solubility { oxide: "Cr2O3".to_owned(), highest: 0.01, source: "own trials".to_owned() };
/// assert_eq!(limit.oxide, "Cr2O3");
/// ```
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Solubility {
    /// The oxide.
    pub oxide: String,
    /// Its highest content of the glass, g/g.
    pub highest: f64,
    /// Where the figure comes from.
    pub source: String,
}

/// The loss on ignition a laboratory expects of a material.
///
/// ```
/// use beadchem::rules::ExpectedLoss;
/// let band = ExpectedLoss { material: "bauxite".to_owned(), low: 0.18, high: 0.32, source: "own archive".to_owned() };
/// assert!(band.low < band.high);
/// ```
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct ExpectedLoss {
    /// The material.
    pub material: String,
    /// The least usual loss, g/g; may be negative.
    pub low: f64,
    /// The greatest usual loss, g/g.
    pub high: f64,
    /// Where the figures come from.
    pub source: String,
}

/// How far two beads of one sample may lie apart.
///
/// ```
/// use beadchem::rules::Repeatability;
/// let limit = Repeatability { species: "Fe".to_owned(), limit: 0.002, source: "ring test".to_owned() };
/// assert_eq!(limit.species, "Fe");
/// ```
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Repeatability {
    /// The species.
    pub species: String,
    /// The repeatability limit r, 2.8 times the repeatability standard deviation, g/g.
    pub limit: f64,
    /// Where the figure comes from.
    pub source: String,
}

/// How far a drift monitor may move before results are no longer corrected for it, as fractions of its intensity.
///
/// ```
/// use beadchem::rules::DriftLimit;
/// let limit = DriftLimit { step: 0.005, total: 0.10 };
/// assert!(limit.step < limit.total);
/// ```
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct DriftLimit {
    /// Since the reading before.
    pub step: f64,
    /// Since calibration.
    pub total: f64,
}

/// The limits of one laboratory, with name and version. What is not stated is refused when asked for, never assumed.
///
/// ```
/// use beadchem::rules::{Rules, TotalLimit};
/// let rules = Rules::new("Fenwick Hollow", "2026-3").total(TotalLimit { low: 0.985, high: 1.01, k: 4.0 })?;
/// assert_eq!(rules.id(), "Fenwick Hollow 2026-3");
/// # Ok::<(), beadchem::Error>(())
/// ```
#[derive(Debug, Clone, PartialEq)]
pub struct Rules {
    body: RulesBody,
}

/// The stored form of rules, before it is checked.
///
/// ```
/// use beadchem::{document::Document, rules::Rules};
/// let rules = Rules::new("house", "1").bead_mass(4.0)?;
/// assert_eq!(Rules::from_body(rules.to_body())?, rules);
/// # Ok::<(), beadchem::Error>(())
/// ```
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct RulesBody {
    name: String,
    version: String,
    #[serde(skip_serializing_if = "Option::is_none", default)]
    total: Option<TotalLimit>,
    #[serde(skip_serializing_if = "Option::is_none", default)]
    flux_loss: Option<FluxLossLimit>,
    #[serde(skip_serializing_if = "Option::is_none", default)]
    bead_mass_k: Option<f64>,
    #[serde(skip_serializing_if = "Option::is_none", default)]
    agreement_k: Option<f64>,
    #[serde(skip_serializing_if = "Vec::is_empty", default)]
    solubility: Vec<Solubility>,
    #[serde(skip_serializing_if = "Vec::is_empty", default)]
    expected_loss: Vec<ExpectedLoss>,
    #[serde(skip_serializing_if = "Vec::is_empty", default)]
    repeatability: Vec<Repeatability>,
    #[serde(skip_serializing_if = "Option::is_none", default)]
    drift: Option<DriftLimit>,
}

/// Two ends in order, each within the fractions a quantity can take.
fn ends(quantity: &str, low: f64, high: f64, bounds: [f64; 2]) -> Result<()> {
    let hint = "Were per cent and fractions mixed up?";
    within_percent(&format!("Lower end of {quantity}"), low, bounds, hint)?;
    within_percent(
        &format!("Upper end of {quantity}"),
        high,
        [low, bounds[1]],
        "The upper end lies above the lower one.",
    )?;
    Ok(())
}

impl Rules {
    /// Rules under a name and a version, with no limit yet.
    ///
    /// ```
    /// assert!(beadchem::rules::Rules::new("house", "1").stated_total().is_err());
    /// ```
    #[must_use]
    pub fn new(name: impl Into<String>, version: impl Into<String>) -> Self {
        Self {
            body: RulesBody {
                name: name.into(),
                version: version.into(),
                total: None,
                flux_loss: None,
                bead_mass_k: None,
                agreement_k: None,
                solubility: Vec::new(),
                expected_loss: Vec::new(),
                repeatability: Vec::new(),
                drift: None,
            },
        }
    }

    /// Name and version, as printed beside every verdict.
    ///
    /// ```
    /// assert_eq!(beadchem::rules::Rules::new("house", "1").id(), "house 1");
    /// ```
    #[must_use]
    pub fn id(&self) -> String {
        format!("{} {}", self.body.name, self.body.version)
    }

    /// With the two rules for a total.
    ///
    /// # Errors
    /// `number.out-of-range` for a window outside 50 to 150 % or upside down, or a k not above zero.
    ///
    /// ```
    /// use beadchem::rules::{Rules, TotalLimit};
    /// assert!(Rules::new("house", "1").total(TotalLimit { low: 98.5, high: 101.0, k: 2.0 }).is_err()); // per cent
    /// ```
    pub fn total(mut self, limit: TotalLimit) -> Result<Self> {
        multiple_of_u(limit.k)?;
        ends("the window of totals", limit.low, limit.high, [0.5, 1.5])?;
        self.body.total = Some(limit);
        Ok(self)
    }

    /// With the limits for the loss of a flux lot.
    ///
    /// # Errors
    /// `number.out-of-range`.
    ///
    /// ```
    /// use beadchem::rules::{FluxLossLimit, Rules};
    /// assert!(Rules::new("house", "1").flux_loss(FluxLossLimit { highest: 0.05, k: 3.0 }).is_ok());
    /// ```
    pub fn flux_loss(mut self, limit: FluxLossLimit) -> Result<Self> {
        multiple_of_u(limit.k)?;
        within_percent("Highest flux loss", limit.highest, [0.0, 0.5], "Were per cent and fractions mixed up?")?;
        self.body.flux_loss = Some(limit);
        Ok(self)
    }

    /// With the multiple of u by which a bead's mass may differ from its prediction.
    ///
    /// # Errors
    /// `number.out-of-range`.
    ///
    /// ```
    /// assert!(beadchem::rules::Rules::new("house", "1").bead_mass(0.0).is_err());
    /// ```
    pub fn bead_mass(mut self, k: f64) -> Result<Self> {
        self.body.bead_mass_k = Some(multiple_of_u(k)?);
        Ok(self)
    }

    /// With the multiple of u by which two determinations of one quantity, or a reference material and its assigned
    /// value, may differ.
    ///
    /// # Errors
    /// `number.out-of-range`.
    ///
    /// ```
    /// assert!(beadchem::rules::Rules::new("house", "1").agreement(2.0).is_ok());
    /// ```
    pub fn agreement(mut self, k: f64) -> Result<Self> {
        self.body.agreement_k = Some(multiple_of_u(k)?);
        Ok(self)
    }

    /// With a limit of solubility.
    ///
    /// # Errors
    /// Those of [`Formula::parse`]; `number.out-of-range` outside 0 to 60 %.
    ///
    /// ```
    /// use beadchem::rules::{Rules, Solubility};
    /// let limit = Solubility { oxide: "Cr2O3".to_owned(), highest: 0.01, source: "own trials".to_owned() };
    /// assert!(Rules::new("house", "1").solubility(limit).is_ok());
    /// ```
    pub fn solubility(mut self, limit: Solubility) -> Result<Self> {
        Formula::parse(&limit.oxide)?;
        let what = format!("Highest content of {} in the glass,", limit.oxide);
        within_percent(&what, limit.highest, [f64::MIN_POSITIVE, 0.6], "Were per cent and fractions mixed up?")?;
        self.body.solubility.retain(|known| known.oxide != limit.oxide);
        self.body.solubility.push(limit);
        Ok(self)
    }

    /// With the loss expected of a material.
    ///
    /// # Errors
    /// `number.out-of-range`.
    ///
    /// ```
    /// use beadchem::rules::{ExpectedLoss, Rules};
    /// let band = ExpectedLoss { material: "bauxite".to_owned(), low: 0.18, high: 0.32, source: "archive".to_owned() };
    /// assert!(Rules::new("house", "1").expected_loss(band).is_ok());
    /// ```
    pub fn expected_loss(mut self, band: ExpectedLoss) -> Result<Self> {
        ends(&format!("the loss of {}", band.material), band.low, band.high, [-1.5, 1.0])?;
        self.body.expected_loss.retain(|known| known.material != band.material);
        self.body.expected_loss.push(band);
        Ok(self)
    }

    /// With a repeatability limit.
    ///
    /// # Errors
    /// Those of [`Formula::parse`]; `number.out-of-range`.
    ///
    /// ```
    /// use beadchem::rules::{Repeatability, Rules};
    /// let limit = Repeatability { species: "Fe".to_owned(), limit: 0.002, source: "ring test".to_owned() };
    /// assert!(Rules::new("house", "1").repeatability(limit).is_ok());
    /// ```
    pub fn repeatability(mut self, limit: Repeatability) -> Result<Self> {
        Formula::parse(&limit.species)?;
        let what = format!("Repeatability limit of {},", limit.species);
        within_percent(&what, limit.limit, [f64::MIN_POSITIVE, 0.5], "Were per cent and fractions mixed up?")?;
        self.body.repeatability.retain(|known| known.species != limit.species);
        self.body.repeatability.push(limit);
        Ok(self)
    }

    /// With the two limits for the move of a drift monitor.
    ///
    /// # Errors
    /// `number.out-of-range` outside 0 to 100 %, or where a step may be larger than the whole move.
    ///
    /// ```
    /// use beadchem::rules::{DriftLimit, Rules};
    /// assert!(Rules::new("house", "1").drift(DriftLimit { step: 0.5, total: 10.0 }).is_err()); // per cent
    /// ```
    pub fn drift(mut self, limit: DriftLimit) -> Result<Self> {
        let hint = "Were per cent and fractions mixed up?";
        within_percent("Highest move of a monitor since calibration,", limit.total, [f64::MIN_POSITIVE, 1.0], hint)?;
        let hint = "A step between two readings is part of the move since calibration.";
        within_percent(
            "Highest move of a monitor between readings,",
            limit.step,
            [f64::MIN_POSITIVE, limit.total],
            hint,
        )?;
        self.body.drift = Some(limit);
        Ok(self)
    }

    /// The limits for the move of a drift monitor.
    ///
    /// # Errors
    /// `rule.unstated`.
    ///
    /// ```
    /// assert!(beadchem::rules::Rules::new("house", "1").stated_drift().is_err());
    /// ```
    pub fn stated_drift(&self) -> Result<DriftLimit> {
        self.body.drift.ok_or_else(|| self.unstated("The limit for the move of a drift monitor"))
    }

    fn unstated(&self, what: &str) -> Error {
        Error::Unstated {
            code: Code::RuleUnstated,
            quantity: format!("{what} in the rules {}", self.id()),
            hint: "It is a limit of your laboratory; none is built in.".to_owned(),
        }
    }

    /// The limits for totals.
    ///
    /// # Errors
    /// `rule.unstated`.
    ///
    /// ```
    /// let refused = beadchem::rules::Rules::new("house", "1").stated_total().unwrap_err();
    /// assert!(refused.to_string().starts_with("The limit for totals in the rules house 1 is not stated."));
    /// ```
    pub fn stated_total(&self) -> Result<TotalLimit> {
        self.body.total.ok_or_else(|| self.unstated("The limit for totals"))
    }

    /// The limits for the loss of a flux lot.
    ///
    /// # Errors
    /// `rule.unstated`.
    ///
    /// ```
    /// assert!(beadchem::rules::Rules::new("house", "1").stated_flux_loss().is_err());
    /// ```
    pub fn stated_flux_loss(&self) -> Result<FluxLossLimit> {
        self.body.flux_loss.ok_or_else(|| self.unstated("The limit for the loss of a flux lot"))
    }

    /// The multiple of u for a bead's mass.
    ///
    /// # Errors
    /// `rule.unstated`.
    ///
    /// ```
    /// assert_eq!(beadchem::rules::Rules::new("house", "1").bead_mass(4.0)?.stated_bead_mass()?, 4.0);
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    pub fn stated_bead_mass(&self) -> Result<f64> {
        self.body.bead_mass_k.ok_or_else(|| self.unstated("The multiple of u for a bead's mass"))
    }

    /// The multiple of u for two determinations of one quantity.
    ///
    /// # Errors
    /// `rule.unstated`.
    ///
    /// ```
    /// assert_eq!(beadchem::rules::Rules::new("house", "1").agreement(2.0)?.stated_agreement()?, 2.0);
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    pub fn stated_agreement(&self) -> Result<f64> {
        self.body.agreement_k.ok_or_else(|| self.unstated("The multiple of u for agreement"))
    }

    /// The limits of solubility.
    ///
    /// ```
    /// assert!(beadchem::rules::Rules::new("house", "1").solubilities().is_empty());
    /// ```
    #[must_use]
    pub fn solubilities(&self) -> &[Solubility] {
        &self.body.solubility
    }

    /// The repeatability limit of a species.
    ///
    /// # Errors
    /// `rule.unstated`.
    ///
    /// ```
    /// assert!(beadchem::rules::Rules::new("house", "1").stated_repeatability("Fe").is_err());
    /// ```
    pub fn stated_repeatability(&self, species: &str) -> Result<&Repeatability> {
        let found = self.body.repeatability.iter().find(|known| known.species == species);
        found.ok_or_else(|| self.unstated(&format!("A repeatability limit for {species}")))
    }

    /// Whether the usual loss on ignition of a material is stated.
    pub(crate) fn knows_loss_of(&self, material: &str) -> bool {
        self.body.expected_loss.iter().any(|known| known.material == material)
    }

    /// A loss on ignition against what is usual of the material: a fraction given for per cent shows here.
    ///
    /// # Errors
    /// `rule.unstated` where the material has no entry.
    ///
    /// ```
    /// use beadchem::{composition::LossOnIgnition, rules::{ExpectedLoss, Rules}};
    /// let band = ExpectedLoss { material: "bauxite".to_owned(), low: 0.18, high: 0.32, source: "archive".to_owned() };
    /// let rules = Rules::new("house", "1").expected_loss(band)?;
    /// let findings = rules.check_loss("bauxite", &LossOnIgnition::new(0.00275, 1000.0)?)?;
    /// assert!(findings[0].text.starts_with("LOI 0.275 % for bauxite is far below its usual 18-32 %. Fraction instead of"));
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    pub fn check_loss(&self, material: &str, loss: &LossOnIgnition) -> Result<Vec<Finding>> {
        let band = self.body.expected_loss.iter().find(|known| known.material == material);
        let band = band.ok_or_else(|| self.unstated(&format!("The usual loss on ignition of {material}")))?;
        let value = loss.loss().value();
        if (band.low..=band.high).contains(&value) {
            return Ok(Vec::new());
        }
        let (word, bound) = if value < band.low { ("below", band.low) } else { ("above", band.high) };
        // a hundredth of what is usual smells of a wrong unit
        let fits = |scaled: f64| (band.low..=band.high).contains(&scaled);
        let fraction = fits(crate::composition::Unit::Percent.written(value));
        let far = if fraction { "far " } else { "" };
        let cause = if fraction {
            "Fraction instead of percent?".to_owned()
        } else if value < band.low {
            "Ignition not complete, a residue that took up water and CO2 again, or an oxidation gain?".to_owned()
        } else {
            "Moisture not taken off, organics, or another material?".to_owned()
        };
        let usual = {
            let (low, high) = (percent_text(band.low), percent_text(band.high));
            format!("{}-{high}", low.trim_end_matches(" %"))
        };
        let text = format!(
            "LOI {} for {material} is {far}{word} its usual {usual}. {cause} (rules {}, {})",
            percent_text(value),
            self.id(),
            band.source
        );
        let finding = Finding::new(Code::LossUnusual, "loss on ignition", text).with_value(value).with_bound(bound);
        Ok(vec![match loss.loss().u() {
            Some(u) => finding.with_u(u),
            None => finding,
        }])
    }
}

impl Document for Rules {
    const KIND: &'static str = "laboratory-rules";
    const SCHEMA: u32 = 1;
    type Body = RulesBody;
    fn to_body(&self) -> RulesBody {
        self.body.clone()
    }
    fn from_body(body: RulesBody) -> Result<Self> {
        let mut rules = Rules::new(body.name, body.version);
        if let Some(limit) = body.total {
            rules = rules.total(limit)?;
        }
        if let Some(limit) = body.flux_loss {
            rules = rules.flux_loss(limit)?;
        }
        if let Some(k) = body.bead_mass_k {
            rules = rules.bead_mass(k)?;
        }
        if let Some(k) = body.agreement_k {
            rules = rules.agreement(k)?;
        }
        if let Some(limit) = body.drift {
            rules = rules.drift(limit)?;
        }
        rules = body.solubility.into_iter().try_fold(rules, Rules::solubility)?;
        rules = body.expected_loss.into_iter().try_fold(rules, Rules::expected_loss)?;
        body.repeatability.into_iter().try_fold(rules, Rules::repeatability)
    }
}
