//! Whose result is it: a composition against what is expected of several samples.

use crate::code::Code;
use crate::composition::Composition;
use crate::composition::unit::percent_short;
use crate::error::{Error, Result};
use crate::finding::Finding;
use crate::rules::Rules;

/// How far a result lies from one expectation.
struct Distance {
    /// Root mean square of the differences in units of u.
    rms: f64,
    /// The species that differs most in units of u: its name, difference and u.
    worst: (String, f64, f64),
}

fn distance(found: &Composition, expected: &Composition) -> Result<Option<Distance>> {
    if found.basis() != expected.basis() {
        return Err(Error::Conflict {
            code: Code::BasisMismatch,
            detail: format!("The result is {}, what is expected is {}.", found.basis(), expected.basis()),
            hint: "Put both on one basis first.".to_owned(),
        });
    }
    let (mut sum, mut count) = (0.0, 0_u32);
    let mut worst = (String::new(), 0.0, f64::INFINITY);
    for entry in expected.entries() {
        let (Some(expected), Some(found)) =
            (entry.cell.value(), found.get(entry.species.text()).and_then(|cell| cell.value()))
        else {
            continue;
        };
        let u = expected.u().unwrap_or(0.0).hypot(found.u().unwrap_or(0.0));
        if u > 0.0 {
            let difference = found.value() - expected.value();
            sum += (difference / u).powi(2);
            count += 1;
            if (difference / u).abs() > (worst.1 / worst.2).abs() {
                worst = (entry.species.text().to_owned(), difference, u);
            }
        }
    }
    Ok((count > 0).then(|| Distance { rms: (sum / f64::from(count)).sqrt(), worst }))
}

impl Rules {
    /// A result against what is expected of its own sample and of others: where it is more than k u off its own, and
    /// within k u of another, the two may have been swapped.
    ///
    /// Each expectation is a composition with its spread as uncertainty, on the basis of the result. The measure is the root
    /// mean square of the differences in units of u.
    ///
    /// # Errors
    /// `rule.unstated`; `basis.mismatch`.
    ///
    /// ```
    /// use beadchem::composition::{Basis, Composition};
    /// use beadchem::{rules::Rules, uncertainty::Estimate};
    /// let of = |ca, fe| {
    ///     Composition::new(Basis::Dried).with("CaO", Estimate::new(ca, 0.01)?)?.with("Fe2O3", Estimate::new(fe, 0.01)?)
    /// };
    /// let rules = Rules::new("house", "1").agreement(4.0)?;
    /// let (skarn, marble) = (of(0.10, 0.68)?, of(0.31, 0.01)?);
    /// let finding = rules.check_identity(&of(0.31, 0.01)?, ("B-07", &skarn), &[("B-12", &marble)])?;
    /// assert!(finding.unwrap().text.contains("B-12"));
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    pub fn check_identity(
        &self,
        found: &Composition,
        own: (&str, &Composition),
        others: &[(&str, &Composition)],
    ) -> Result<Option<Finding>> {
        let k = self.stated_agreement()?;
        let Some(from_own) = distance(found, own.1)? else { return Ok(None) };
        if from_own.rms <= k {
            return Ok(None);
        }
        let mut nearest: Option<(&str, f64)> = None;
        for (name, expected) in others {
            let Some(Distance { rms, .. }) = distance(found, expected)? else { continue };
            if rms <= k && nearest.is_none_or(|(_, least)| rms < least) {
                nearest = Some((name, rms));
            }
        }
        let Some((other, rms)) = nearest else { return Ok(None) };
        let (species, difference, u) = from_own.worst;
        let text = format!(
            "The result of {} is {:.0} u off what is expected of it ({species} by {}) and {rms:.1} u off {other}: were the two \
             swapped? Nothing was exchanged.",
            own.0,
            from_own.rms,
            percent_short(difference)
        );
        let finding = Finding::new(Code::IdentitySwapped, species, text).with_value(difference).with_u(u);
        Ok(Some(finding.with_bound(k * u)))
    }
}
