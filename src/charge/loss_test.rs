//! How the loss of a flux lot in a fusion programme was found.

use serde::{Deserialize, Serialize};

use crate::charge::mass::Mass;
use crate::code::Code;
use crate::composition::unit::{percent_text, within_percent};
use crate::error::{Error, Result};
use crate::uncertainty::Estimate;

/// The loss of flux fused alone in one programme: stated, or the mean of weighed replicates.
///
/// ```
/// use beadchem::charge::LossTest;
/// let test = LossTest::weighed(&[(5.0012, 4.9820), (5.0004, 4.9806), (4.9997, 4.9802)])?.dated("2026-03-04")?;
/// assert_eq!(format!("{:.5}", test.loss().value()), "0.00390");
/// assert_eq!(test.loss().dof(), 2.0);
/// # Ok::<(), beadchem::Error>(())
/// ```
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(try_from = "LossTestBody", into = "LossTestBody")]
pub struct LossTest {
    loss: Estimate,
    replicates: Vec<(f64, f64)>,
    includes_formula: bool,
    date: Option<String>,
    note: Option<String>,
}

impl LossTest {
    /// A loss found elsewhere, as a fraction of the flux as weighed.
    ///
    /// # Errors
    /// `number.out-of-range` outside -2 % to 50 %.
    ///
    /// ```
    /// use beadchem::{charge::LossTest, uncertainty::Estimate};
    /// let test = LossTest::stated(Estimate::new(-0.0001, 0.0002)?)?; // a little below zero is a result like another
    /// assert!(LossTest::stated(0.6).is_err());
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    pub fn stated(loss: impl Into<Estimate>) -> Result<Self> {
        LossTest::from(loss.into()).checked()
    }

    /// The mean of replicates of flux fused alone, each (mass before, mass after) in g, with `u = s / sqrt(n)` and
    /// n - 1 degrees of freedom.
    ///
    /// # Errors
    /// `replicates.too-few` for fewer than two: one has no spread, so its u must be stated; the refusals of a flux mass;
    /// `number.out-of-range` for a loss outside -2 % to 50 %.
    ///
    /// # Source
    /// JCGM 100:2008, 4.2.3.
    ///
    /// ```
    /// use beadchem::charge::LossTest;
    /// let refused = LossTest::weighed(&[(5.0, 4.98)]).unwrap_err();
    /// assert!(refused.to_string().contains("one replicate, a loss of 0.4 %"));
    /// ```
    pub fn weighed(replicates: &[(f64, f64)]) -> Result<Self> {
        let mut losses = Vec::with_capacity(replicates.len());
        for &(before, after) in replicates {
            Mass::Flux.check(before.into())?;
            Mass::Flux.check(after.into())?;
            let loss = (before - after) / before;
            bounded(&format!("Flux loss of the replicate {before} g to {after} g,"), loss)?;
            losses.push(loss);
        }
        let [_, _, ..] = losses.as_slice() else {
            let found = losses.first().map_or_else(
                || "no replicate".to_owned(),
                |loss| format!("one replicate, a loss of {}", percent_text(*loss)),
            );
            return Err(Error::Conflict {
                code: Code::ReplicatesTooFew,
                detail: format!("The flux loss was weighed with {found}: there is no spread to take u from."),
                hint: "Weigh two replicates or more, or state the loss with its u.".to_owned(),
            });
        };
        let n = losses.len() as f64;
        let mean = losses.iter().sum::<f64>() / n;
        let squares: f64 = losses.iter().map(|loss| (loss - mean).powi(2)).sum();
        let dof = n - 1.0;
        let loss = Estimate::new(mean, (squares / dof / n).sqrt())?.with_dof(dof)?;
        Ok(Self { replicates: replicates.to_vec(), ..LossTest::from(loss) })
    }

    /// The same, the loss being the whole one: what the formulas of the blend give off (carbon dioxide of a carbonate) is
    /// in it, as it is where flux is fused alone and weighed. It is taken off where the lot is used.
    ///
    /// ```
    /// use beadchem::charge::LossTest;
    /// assert!(LossTest::stated(0.063)?.including_formula().includes_formula());
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn including_formula(mut self) -> Self {
        self.includes_formula = true;
        self
    }

    /// With the date of the test, as "2026-03-04". No age is built in: how old a test may be is the laboratory's rule.
    ///
    /// # Errors
    /// `date.unreadable` where it is no such date.
    ///
    /// ```
    /// use beadchem::charge::LossTest;
    /// assert!(LossTest::stated(0.003)?.dated("2026-02-29").is_err()); // no leap year
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    pub fn dated(mut self, date: impl Into<String>) -> Result<Self> {
        let date = date.into();
        if !is_date(&date) {
            return Err(Error::Unknown {
                code: Code::DateUnreadable,
                what: "Date".to_owned(),
                given: date,
                hint: "Write year-month-day, as 2026-03-04.".to_owned(),
            });
        }
        self.date = Some(date);
        Ok(self)
    }

    /// With a note in any words.
    ///
    /// ```
    /// use beadchem::charge::LossTest;
    /// assert_eq!(LossTest::stated(0.003)?.with_note("new can opened").note(), Some("new can opened"));
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn with_note(mut self, note: impl Into<String>) -> Self {
        self.note = Some(note.into());
        self
    }

    /// The loss, g per g of flux as weighed.
    ///
    /// ```
    /// # use beadchem::charge::LossTest;
    /// assert_eq!(LossTest::stated(0.003)?.loss().value(), 0.003);
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn loss(&self) -> &Estimate {
        &self.loss
    }

    /// The weighed replicates as (before, after), g; none where the loss was stated.
    ///
    /// ```
    /// # use beadchem::charge::LossTest;
    /// assert!(LossTest::stated(0.003)?.replicates().is_empty());
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn replicates(&self) -> &[(f64, f64)] {
        &self.replicates
    }

    /// True where what the formulas of the blend give off is in the loss.
    ///
    /// ```
    /// # use beadchem::charge::LossTest;
    /// assert!(!LossTest::stated(0.003)?.includes_formula());
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn includes_formula(&self) -> bool {
        self.includes_formula
    }

    /// The date of the test.
    ///
    /// ```
    /// # use beadchem::charge::LossTest;
    /// assert_eq!(LossTest::stated(0.003)?.dated("2026-03-04")?.date(), Some("2026-03-04"));
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn date(&self) -> Option<&str> {
        self.date.as_deref()
    }

    /// The note.
    ///
    /// ```
    /// # use beadchem::charge::LossTest;
    /// assert_eq!(LossTest::stated(0.003)?.note(), None);
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn note(&self) -> Option<&str> {
        self.note.as_deref()
    }

    pub(super) fn checked(self) -> Result<Self> {
        bounded("Flux loss", self.loss.value())?;
        Ok(self)
    }
}

/// A stated loss without date or note; its range is checked where it is used.
impl From<Estimate> for LossTest {
    fn from(loss: Estimate) -> Self {
        Self { loss, replicates: Vec::new(), includes_formula: false, date: None, note: None }
    }
}

/// A stated loss whose uncertainty is not stated.
impl From<f64> for LossTest {
    fn from(loss: f64) -> Self {
        LossTest::from(Estimate::from(loss))
    }
}

/// Losses that a flux can have, a fraction of it as weighed: a little may be taken up.
pub(crate) const POSSIBLE_FLUX_LOSS: [f64; 2] = [-0.02, 0.5];

fn bounded(quantity: &str, loss: f64) -> Result<f64> {
    let hint = "Was the crucible tared with flux in it, or were per cent and fractions mixed up?";
    within_percent(quantity, loss, POSSIBLE_FLUX_LOSS, hint)
}

/// A calendar date (ISO 8601, extended form) of four, two and two digits.
fn is_date(text: &str) -> bool {
    let digits = |range: core::ops::Range<usize>| -> Option<u32> {
        let part = text.get(range)?;
        part.bytes().all(|byte| byte.is_ascii_digit()).then(|| part.parse().ok())?
    };
    let marks = text.len() == 10 && text.get(4..5) == Some("-") && text.get(7..8) == Some("-");
    let (Some(year), Some(month), Some(day)) = (digits(0..4), digits(5..7), digits(8..10)) else { return false };
    let leap = year % 4 == 0 && (year % 100 != 0 || year % 400 == 0);
    let days = match month {
        4 | 6 | 9 | 11 => 30,
        2 if leap => 29,
        2 => 28,
        1..=12 => 31,
        _ => 0,
    };
    marks && (1..=days).contains(&day)
}

/// The plain fields: a stated loss, or the replicates it follows from.
#[derive(Debug, Clone, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct LossTestBody {
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub(super) loss: Option<Estimate>,
    #[serde(skip_serializing_if = "Vec::is_empty", default)]
    replicates_g: Vec<(f64, f64)>,
    #[serde(skip_serializing_if = "core::ops::Not::not", default)]
    includes_formula: bool,
    #[serde(skip_serializing_if = "Option::is_none", default)]
    date: Option<String>,
    #[serde(skip_serializing_if = "Option::is_none", default)]
    note: Option<String>,
}

impl From<LossTest> for LossTestBody {
    fn from(test: LossTest) -> Self {
        Self {
            loss: test.replicates.is_empty().then_some(test.loss),
            replicates_g: test.replicates,
            includes_formula: test.includes_formula,
            date: test.date,
            note: test.note,
        }
    }
}

impl TryFrom<LossTestBody> for LossTest {
    type Error = Error;
    fn try_from(body: LossTestBody) -> Result<Self> {
        let test = match (body.loss, body.replicates_g.as_slice()) {
            (Some(loss), []) => LossTest::from(loss),
            (None, [_, ..]) => LossTest::weighed(&body.replicates_g)?,
            _ => {
                return Err(Error::Conflict {
                    code: Code::DocumentMalformed,
                    detail: "A flux loss is stored as a loss or as the replicates it follows from.".to_owned(),
                    hint: "Keep one of the two.".to_owned(),
                });
            }
        };
        let test = Self { includes_formula: body.includes_formula, note: body.note, ..test };
        match body.date {
            Some(date) => test.dated(date),
            None => Ok(test),
        }
    }
}
