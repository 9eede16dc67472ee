//! Two determinations of one quantity: duplicates, a result from elsewhere, a reference material.

use crate::code::Code;
use crate::composition::unit::{percent_short, percent_text};
use crate::error::Result;
use crate::finding::Finding;
use crate::rules::Rules;
use crate::uncertainty::Estimate;

/// How well two determinations agree.
///
/// ```
/// use beadchem::{rules::Rules, uncertainty::Estimate};
/// let rules = Rules::new("house", "1").agreement(2.0)?;
/// let found = Estimate::new(0.1890, 0.0008)?;
/// let agreement = rules.check_agreement("S", &found, &Estimate::new(0.2100, 0.0010)?, "combustion")?;
/// assert!(agreement.agrees == Some(false) && agreement.findings[0].code.word() == "result.disagrees");
/// # Ok::<(), beadchem::Error>(())
/// ```
#[derive(Debug, Clone, PartialEq)]
pub struct Agreement {
    /// First less second, g/g.
    pub difference: f64,
    /// Standard uncertainty of the difference, g/g; "at least" where one has none stated.
    pub u: f64,
    /// The difference over `sqrt(U1^2 + U2^2)` with U = 2 u (E_n), within -1 to 1 where they agree; nothing where one of them
    /// has no stated uncertainty, or both are exact.
    pub e_n: Option<f64>,
    /// True where the rule is kept; nothing where it needs an uncertainty that is not stated.
    pub agrees: Option<bool>,
    /// What broke it.
    pub findings: Vec<Finding>,
}

impl Agreement {
    fn of(first: &Estimate, second: &Estimate, limit: impl Fn(f64, bool) -> Option<f64>) -> Self {
        let u = first.u().unwrap_or(0.0).hypot(second.u().unwrap_or(0.0));
        let difference = first.value() - second.value();
        let stated = first.u().is_some() && second.u().is_some();
        // E_n is stated for expanded uncertainties with k = 2 (ISO 13528, from memory)
        const K: f64 = 2.0;
        let e_n = (stated && u > 0.0).then(|| difference / (K * u));
        // two decimal numbers on the limit differ by it but for rounding
        const ROUNDING: f64 = 1e-12;
        let agrees = limit(u, stated).map(|limit| difference.abs() <= limit + ROUNDING);
        Self { difference, u, e_n, agrees, findings: Vec::new() }
    }

    fn say(mut self, code: Code, species: &str, bound: f64, text: String) -> Self {
        if self.agrees == Some(false) {
            let finding = Finding::new(code, species, text).with_value(self.difference).with_u(self.u);
            self.findings.push(finding.with_bound(bound));
        }
        self
    }
}

impl Rules {
    /// A result against one of the same quantity from elsewhere, by `|x1 - x2| <= k sqrt(u1^2 + u2^2)`.
    ///
    /// # Errors
    /// `rule.unstated`.
    ///
    /// ```
    /// use beadchem::{rules::Rules, uncertainty::Estimate};
    /// let rules = Rules::new("house", "1").agreement(2.0)?;
    /// let found = Estimate::new(0.189, 0.001)?;
    /// assert!(rules.check_agreement("S", &found, &Estimate::new(0.1895, 0.001)?, "combustion")?.agrees == Some(true));
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    pub fn check_agreement(
        &self,
        species: &str,
        found: &Estimate,
        elsewhere: &Estimate,
        method: &str,
    ) -> Result<Agreement> {
        let k = self.stated_agreement()?;
        let agreement = Agreement::of(found, elsewhere, |u, stated| stated.then_some(k * u));
        let share = if elsewhere.value() == 0.0 {
            String::new()
        } else {
            format!(", {} of it", percent_short(agreement.difference / elsewhere.value()))
        };
        let text = format!(
            "{species} is {} here and {} by {method}: a difference of {} (u {}, limit {k} u; {}){share}. Lost in the \
             fusion, an overlap, or one of the two wrong?",
            percent_short(found.value()),
            percent_short(elsewhere.value()),
            percent_short(agreement.difference),
            percent_short(agreement.u),
            self.id()
        );
        let bound = k * agreement.u;
        Ok(agreement.say(Code::ResultsDisagree, species, bound, text))
    }

    /// Two beads of one sample against the repeatability limit r (2.8 repeatability standard deviations).
    ///
    /// # Errors
    /// `rule.unstated`.
    ///
    /// # Source
    /// ISO 5725-6, from memory.
    ///
    /// ```
    /// use beadchem::{rules::{Repeatability, Rules}, uncertainty::Estimate};
    /// let limit = Repeatability { species: "Fe".to_owned(), limit: 0.002, source: "ring test".to_owned() };
    /// let rules = Rules::new("house", "1").repeatability(limit)?;
    /// let (first, second) = (Estimate::new(0.6850, 0.001)?, Estimate::new(0.6815, 0.001)?);
    /// assert_eq!(rules.check_duplicates("Fe", &first, &second)?.agrees, Some(false));
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    pub fn check_duplicates(&self, species: &str, first: &Estimate, second: &Estimate) -> Result<Agreement> {
        let limit = self.stated_repeatability(species)?;
        let agreement = Agreement::of(first, second, |_, _| Some(limit.limit));
        let text = format!(
            "{species} in two beads: {} and {}, {} apart; your limit is {} ({}, {}). Measure a third bead.",
            percent_short(first.value()),
            percent_short(second.value()),
            percent_short(agreement.difference.abs()),
            percent_text(limit.limit),
            self.id(),
            limit.source
        );
        Ok(agreement.say(Code::DuplicatesDiffer, species, limit.limit, text))
    }

    /// A reference material against its assigned value, by `|x - mu| <= k sqrt(u_x^2 + u_mu^2)`.
    ///
    /// # Errors
    /// `rule.unstated`.
    ///
    /// # Source
    /// ERM Application Note 1 (2010), from memory.
    ///
    /// ```
    /// use beadchem::{rules::Rules, uncertainty::Estimate};
    /// let rules = Rules::new("house", "1").agreement(2.0)?;
    /// let (found, assigned) = (Estimate::new(0.6832, 0.0008)?, Estimate::new(0.6850, 0.0004)?);
    /// assert_eq!(rules.check_reference("Fe", &found, &assigned)?.agrees, Some(false));
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    pub fn check_reference(&self, species: &str, found: &Estimate, assigned: &Estimate) -> Result<Agreement> {
        let k = self.stated_agreement()?;
        let agreement = Agreement::of(found, assigned, |u, stated| stated.then_some(k * u));
        let text = format!(
            "{species} of the reference material is {}, assigned {}: a difference of {} (u {}, limit {k} u; {}).",
            percent_short(found.value()),
            percent_short(assigned.value()),
            percent_short(agreement.difference),
            percent_short(agreement.u),
            self.id()
        );
        let bound = k * agreement.u;
        Ok(agreement.say(Code::ReferenceDiffers, species, bound, text))
    }
}
