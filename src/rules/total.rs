//! A total against the two rules of a laboratory.

use crate::code::Code;
use crate::composition::Closure;
use crate::composition::unit::{percent_short, percent_text};
use crate::error::Result;
use crate::finding::Finding;
use crate::rules::Rules;

/// What the two rules say of a total. The second is the honest one: it knows how sure the total is.
///
/// ```
/// use beadchem::composition::{Basis, ClosureOrder, Composition};
/// use beadchem::{rules::{Rules, TotalLimit}, substance::Weights, uncertainty::Estimate};
/// let rules = Rules::new("house", "1").total(TotalLimit { low: 0.985, high: 1.01, k: 2.0 })?;
/// let ore = Composition::new(Basis::Dried).with("CaO", Estimate::new(0.99, 0.001)?)?;
/// let verdict = rules.judge_total(&ore.closure(&ClosureOrder::new(), &Weights::ciaaw_2024())?)?;
/// assert_eq!((verdict.in_window, verdict.in_spread), (Some(true), Some(false)));
/// # Ok::<(), beadchem::Error>(())
/// ```
#[derive(Debug, Clone, PartialEq)]
pub struct TotalVerdict {
    /// The rules applied.
    pub rules: String,
    /// Inside the fixed window; nothing where no total was computed.
    pub in_window: Option<bool>,
    /// Within k u of the whole; nothing where no total was computed or an input has no stated u.
    pub in_spread: Option<bool>,
    /// Inputs the total is blind to: for these neither answer is a test.
    pub blind_to: Vec<String>,
    /// What broke a rule, and which single cause would explain it.
    pub findings: Vec<Finding>,
}

impl core::fmt::Display for TotalVerdict {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        let say = |answer: Option<bool>, yes: &str, no: &str| match answer {
            Some(true) => yes.to_owned(),
            Some(false) => no.to_owned(),
            None => "not judged".to_owned(),
        };
        write!(
            f,
            "rules {}: {}; {}",
            self.rules,
            say(self.in_window, "inside the window", "outside the window"),
            say(self.in_spread, "within k u of the whole", "more than k u off the whole")
        )?;
        if !self.blind_to.is_empty() {
            write!(f, "; no test of {}", self.blind_to.join(", "))?;
        }
        Ok(())
    }
}

impl Rules {
    /// Judges a total by window and by k u, and a loss against what carbonates can give off.
    ///
    /// # Errors
    /// `rule.unstated` where the rules hold no limit for totals.
    ///
    /// ```
    /// use beadchem::composition::{Basis, ClosureOrder, Composition, LossOnIgnition};
    /// use beadchem::{rules::{Rules, TotalLimit}, substance::Weights, uncertainty::Estimate};
    /// let rules = Rules::new("house", "1").total(TotalLimit { low: 0.985, high: 1.01, k: 4.0 })?;
    /// let lime = Composition::new(Basis::Dried).with("CaO", Estimate::new(0.542, 0.001)?)?;
    /// let loss = LossOnIgnition::new(Estimate::new(0.493, 0.0005)?, 1000.0)?;
    /// let closure = lime.closure(&ClosureOrder::new().loss(&loss), &Weights::ciaaw_2024())?;
    /// let codes: Vec<_> = rules.judge_total(&closure)?.findings.iter().map(|f| f.code.word()).collect();
    /// assert!(codes.contains(&"loss.above-ceiling"));
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    pub fn judge_total(&self, closure: &Closure) -> Result<TotalVerdict> {
        let limit = self.stated_total()?;
        let rules = self.id();
        let blind_to: Vec<String> = closure.blind_to().into_iter().map(str::to_owned).collect();
        let mut findings = Vec::new();
        if closure.by_difference().is_some() {
            return Ok(TotalVerdict { rules, in_window: None, in_spread: None, blind_to, findings });
        }
        let [(total, u), (without, _)] = closure.totals();
        let stated = closure.unstated().is_empty();
        let in_window = (limit.low..=limit.high).contains(&total);
        let in_spread = stated.then(|| (total - 1.0).abs() <= limit.k * u);
        if !in_window {
            let bound = if total < limit.low { limit.low } else { limit.high };
            let text = format!(
                "Total {} is outside {} to {} ({rules}). {}",
                percent_short(total),
                percent_text(limit.low),
                percent_text(limit.high),
                cause(total)
            );
            findings.push(
                Finding::new(Code::ClosureOutsideWindow, "total", text).with_value(total).with_u(u).with_bound(bound),
            );
        }
        if in_spread == Some(false) {
            let text = format!(
                "Total {} differs from the whole by {}, more than {} u (limit {}, u {}; {rules}). {}",
                percent_short(total),
                percent_short(total - 1.0),
                limit.k,
                percent_short(limit.k * u),
                percent_short(u),
                cause(total)
            );
            let finding = Finding::new(Code::ClosureOutsideSpread, "total", text).with_value(total - 1.0).with_u(u);
            findings.push(finding.with_bound(limit.k * u));
        }
        if let Some(above) = closure.above_carbonate_ceiling() {
            let u = above.u().unwrap_or(0.0);
            if above.value() > limit.k * u {
                let loss = total - without;
                let text = format!(
                    "LOI {} exceeds 0.7848 CaO + 1.0919 MgO + stated water by {} (u {}): moisture or organics.",
                    percent_short(loss),
                    percent_short(above.value()),
                    percent_short(u)
                );
                let finding = Finding::new(Code::LossAboveCeiling, "loss on ignition", text);
                findings.push(finding.with_value(above.value()).with_u(u).with_bound(limit.k * u));
            }
        }
        Ok(TotalVerdict { rules, in_window: Some(in_window), in_spread, blind_to, findings })
    }
}

fn cause(total: f64) -> &'static str {
    if total < 1.0 {
        "Something not measured, a loss too low, powder lost, or flux loss overestimated?"
    } else {
        "Something counted twice, a loss too high or on another basis, or a gain set to zero?"
    }
}
