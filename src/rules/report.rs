//! How a laboratory writes its results: rounding by rule, and what becomes of a result below zero. At the end only.

use serde::{Deserialize, Serialize};

use crate::code::Code;
use crate::composition::Unit;
use crate::document::Document;
use crate::error::{Error, Result};
use crate::substance::Formula;
use crate::table::{Rounding, Ties};
use crate::uncertainty::multiple_of_u;

/// What a report writes for a result that is not above the noise.
///
/// ```
/// use beadchem::rules::Negatives;
/// assert_eq!(Negatives::from_word("kept", None)?, Negatives::Kept);
/// let refused = Negatives::from_word("clipped", None).unwrap_err();
/// assert!(refused.to_string().starts_with("Clipping biases means and totals. Use censoring at report time."));
/// # Ok::<(), beadchem::Error>(())
/// ```
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case", deny_unknown_fields)]
#[non_exhaustive]
pub enum Negatives {
    /// The number as it is, with its sign.
    Kept,
    /// "< k u" for every result below k times its standard uncertainty; the number itself stays in the data.
    Censored {
        /// The multiple of u.
        k: f64,
    },
}

impl Negatives {
    /// "kept", or "censored" with its multiple of u. Setting results to zero is refused by whatever name.
    ///
    /// # Errors
    /// `clipping.refused`; `word.unknown`; `number.out-of-range` for a k not above zero.
    ///
    /// ```
    /// use beadchem::rules::Negatives;
    /// assert_eq!(Negatives::from_word("censored", Some(3.0))?, Negatives::Censored { k: 3.0 });
    /// assert!(Negatives::from_word("censored", None).is_err());
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    pub fn from_word(word: &str, k: Option<f64>) -> Result<Self> {
        match (word, k) {
            ("kept", _) => Ok(Negatives::Kept),
            ("censored", Some(k)) => Ok(Negatives::Censored { k: multiple_of_u(k)? }),
            ("censored", None) => Err(Error::Unstated {
                code: Code::RuleUnstated,
                quantity: "The multiple of u below which results are censored".to_owned(),
                hint: "Give k, often 3.".to_owned(),
            }),
            ("clipped" | "clip" | "zero" | "set to zero", _) => Err(Error::Conflict {
                code: Code::ClippingRefused,
                detail: "Clipping biases means and totals.".to_owned(),
                hint: "Use censoring at report time.".to_owned(),
            }),
            (other, _) => Err(Error::word("Treatment of results below zero", other, &["kept", "censored"])),
        }
    }
}

/// How results are written: unit, decimals by species, where a tie goes, what becomes of results below the noise.
///
/// ```
/// use beadchem::{composition::Unit, rules::{Negatives, ReportForm}, table::Ties};
/// let form = ReportForm::new("client A", Unit::Percent, 2, Ties::ToEven, Negatives::Kept)?.decimals("P2O5", 3)?;
/// assert_eq!(form.written("P2O5", 0.000_345_0)?, "0.034"); // half to even, at the end only
/// # Ok::<(), beadchem::Error>(())
/// ```
#[derive(Debug, Clone, PartialEq)]
pub struct ReportForm {
    name: String,
    unit: Unit,
    decimals: u8,
    by_species: Vec<(String, u8)>,
    ties: Ties,
    negatives: Negatives,
}

/// More decimals than any balance or counter carries.
const MOST: u8 = 9;

fn counted(decimals: u8) -> Result<u8> {
    let hint = "Decimals of the reported number.";
    crate::error::within("Decimals", f64::from(decimals), "", [0.0, f64::from(MOST)], "0 to 9", hint)?;
    Ok(decimals)
}

impl ReportForm {
    /// A form under a name: unit, decimals of every species not named otherwise, rule for ties, results below the noise.
    ///
    /// # Errors
    /// `number.out-of-range` for more than nine decimals, or a multiple of u not above zero.
    ///
    /// ```
    /// use beadchem::{composition::Unit, rules::{Negatives, ReportForm}, table::Ties};
    /// assert!(ReportForm::new("client A", Unit::Percent, 30, Ties::ToEven, Negatives::Kept).is_err());
    /// ```
    pub fn new(name: impl Into<String>, unit: Unit, decimals: u8, ties: Ties, negatives: Negatives) -> Result<Self> {
        let decimals = counted(decimals)?;
        if let Negatives::Censored { k } = negatives {
            multiple_of_u(k)?;
        }
        Ok(Self { name: name.into(), unit, decimals, by_species: Vec::new(), ties, negatives })
    }

    /// With other decimals for one species.
    ///
    /// # Errors
    /// Those of [`Formula::parse`]; `number.out-of-range`.
    ///
    /// ```
    /// # use beadchem::{composition::Unit, rules::{Negatives, ReportForm}, table::Ties};
    /// let form = ReportForm::new("client A", Unit::Percent, 2, Ties::ToEven, Negatives::Kept)?;
    /// assert!(form.decimals("P2O5", 3).is_ok());
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    pub fn decimals(mut self, species: &str, decimals: u8) -> Result<Self> {
        Formula::parse(species)?;
        self.by_species.retain(|(known, _)| known != species);
        self.by_species.push((species.to_owned(), counted(decimals)?));
        Ok(self)
    }

    fn decimals_of(&self, species: &str) -> u8 {
        let own = self.by_species.iter().find(|(known, _)| known == species);
        own.map_or(self.decimals, |(_, decimals)| *decimals)
    }

    pub(crate) fn censors(&self) -> bool {
        self.negatives != Negatives::Kept
    }

    /// A number of a species, g/g, as it stands in the report.
    ///
    /// # Errors
    /// `number.not-finite`.
    ///
    /// ```
    /// # use beadchem::{composition::Unit, rules::{Negatives, ReportForm}, table::Ties};
    /// let form = ReportForm::new("client A", Unit::Percent, 2, Ties::ToEven, Negatives::Kept)?;
    /// assert_eq!((form.written("SiO2", 0.123_45)?, form.written("SiO2", 0.123_55)?), ("12.34".into(), "12.36".into()));
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    pub fn written(&self, species: &str, fraction: f64) -> Result<String> {
        // a product with the unit's factor may end in noise past the fifteenth digit, which would undo a tie
        const DIGITS: u8 = 15;
        let exact = Rounding::significant(DIGITS, self.ties).text(self.unit.written(fraction))?;
        let number: f64 = exact.parse().unwrap_or(f64::NAN);
        Rounding::decimals(self.decimals_of(species), self.ties).text(number)
    }

    /// A result as it stands in the report: its number, or "< limit" where the form censors it. Without a stated uncertainty
    /// there is no limit, and the number stands.
    ///
    /// # Errors
    /// `number.not-finite`.
    ///
    /// ```
    /// # use beadchem::{composition::Unit, rules::{Negatives, ReportForm}, table::Ties};
    /// let form = ReportForm::new("client A", Unit::Percent, 2, Ties::ToEven, Negatives::Censored { k: 3.0 })?;
    /// assert_eq!(form.result("SO3", -0.0002, Some(0.0001))?, "< 0.03");
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    pub fn result(&self, species: &str, fraction: f64, u: Option<f64>) -> Result<String> {
        match (self.negatives, u) {
            (Negatives::Censored { k }, Some(u)) if u > 0.0 && fraction < k * u => self.below(species, k * u),
            _ => self.written(species, fraction),
        }
    }

    /// A limit as it stands in the report: rounded up, so that the result is below it.
    ///
    /// # Errors
    /// `number.not-finite`.
    ///
    /// ```
    /// # use beadchem::{composition::Unit, rules::{Negatives, ReportForm}, table::Ties};
    /// let form = ReportForm::new("client A", Unit::Percent, 2, Ties::ToEven, Negatives::Kept)?;
    /// assert_eq!((form.below("TiO2", 0.000_34)?, form.below("TiO2", 0.000_004)?), ("< 0.04".into(), "< 0.01".into()));
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    pub fn below(&self, species: &str, limit: f64) -> Result<String> {
        let decimals = self.decimals_of(species);
        let places = 10_f64.powi(i32::from(decimals));
        // noise of the product is no reason for the next step
        const NOISE: f64 = 1e-9;
        let up = ((self.unit.written(limit) * places - NOISE).ceil() / places).max(0.0);
        Ok(format!("< {}", Rounding::decimals(decimals, self.ties).text(up)?))
    }

    /// The unit.
    ///
    /// ```
    /// # use beadchem::{composition::Unit, rules::{Negatives, ReportForm}, table::Ties};
    /// assert_eq!(ReportForm::new("A", Unit::Percent, 2, Ties::ToEven, Negatives::Kept)?.unit(), Unit::Percent);
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn unit(&self) -> Unit {
        self.unit
    }

    /// Name and rule, as printed in the head of a report.
    ///
    /// ```
    /// # use beadchem::{composition::Unit, rules::{Negatives, ReportForm}, table::Ties};
    /// let form = ReportForm::new("client A", Unit::Percent, 2, Ties::ToEven, Negatives::Kept)?;
    /// assert_eq!(form.describe(), "form client A: rounded half to even at the end only; results below zero kept");
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn describe(&self) -> String {
        let negatives = match self.negatives {
            Negatives::Kept => "results below zero kept".to_owned(),
            Negatives::Censored { k } => format!("results below {k} u written as \"<\""),
        };
        format!("form {}: rounded {} at the end only; {negatives}", self.name, self.ties.word())
    }
}

/// The stored form of a report form.
///
/// ```
/// use beadchem::{composition::Unit, document::Document, rules::{Negatives, ReportForm}, table::Ties};
/// let form = ReportForm::new("client A", Unit::Percent, 2, Ties::ToEven, Negatives::Kept)?;
/// assert_eq!(ReportForm::from_body(form.to_body())?, form);
/// # Ok::<(), beadchem::Error>(())
/// ```
#[derive(Debug, Clone, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct ReportFormBody {
    name: String,
    unit: String,
    decimals: u8,
    #[serde(skip_serializing_if = "Vec::is_empty", default)]
    by_species: Vec<SpeciesDecimals>,
    ties: String,
    negatives: Negatives,
}

#[derive(Debug, Clone, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct SpeciesDecimals {
    species: String,
    decimals: u8,
}

impl Document for ReportForm {
    const KIND: &'static str = "report-form";
    const SCHEMA: u32 = 1;
    type Body = ReportFormBody;
    fn to_body(&self) -> ReportFormBody {
        ReportFormBody {
            name: self.name.clone(),
            unit: self.unit.word().to_owned(),
            decimals: self.decimals,
            by_species: self
                .by_species
                .iter()
                .map(|(species, decimals)| SpeciesDecimals { species: species.clone(), decimals: *decimals })
                .collect(),
            ties: self.ties.word().to_owned(),
            negatives: self.negatives,
        }
    }
    fn from_body(body: ReportFormBody) -> Result<Self> {
        let unit = Unit::from_word(&body.unit)?;
        let form = Self::new(body.name, unit, body.decimals, Ties::from_word(&body.ties)?, body.negatives)?;
        body.by_species.into_iter().try_fold(form, |form, own| form.decimals(&own.species, own.decimals))
    }
}
