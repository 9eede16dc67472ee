//! When a mass counts as constant.

use crate::code::Code;
use crate::composition::unit::{Unit, milligrams, percent_text, within_percent};
use crate::error::{Error, Result};

/// The laboratory's rule for constant mass: how much the last step may change it, and how long that step must have been.
///
/// Iron ores are dried at 105 C for 4 h or more, then in steps of 1 h, until a step changes the mass by no more than
/// 0.05 % of the sample as it was at the start; chemical analysis of cement asks for two weighings within 0.2 mg.
///
/// # Source
/// ISO 3087 (from an excerpt); ASTM C114-15, 6.5.3.
///
/// ```
/// use beadchem::composition::ConstantMass;
/// let iron_ore = ConstantMass::within_share(0.0005)?.after_at_least(60.0)?;
/// let cement = ConstantMass::within_grams(0.0002)?;
/// # Ok::<(), beadchem::Error>(())
/// ```
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ConstantMass {
    limit: Limit,
    least_minutes: Option<f64>,
}

#[derive(Debug, Clone, Copy, PartialEq)]
enum Limit {
    Share(f64),
    Grams(f64),
}

impl ConstantMass {
    /// A change of no more than this fraction of the sample as it was at the start.
    ///
    /// # Errors
    /// `number.out-of-range` outside 0 to 5 %.
    ///
    /// ```
    /// assert!(beadchem::composition::ConstantMass::within_share(0.5).is_err()); // 0.5 %, not one half?
    /// ```
    pub fn within_share(share: f64) -> Result<Self> {
        const MOST: f64 = 0.05;
        let hint = "A fraction of the sample, 0.0005 for 0.05 %; were per cent and fractions mixed up?";
        within_percent("Change allowed at constant mass,", share, [0.0, MOST], hint)?;
        Ok(Self { limit: Limit::Share(share), least_minutes: None })
    }

    /// A change of no more than this mass, g.
    ///
    /// # Errors
    /// `number.out-of-range` outside 0 to 1 g.
    ///
    /// ```
    /// assert!(beadchem::composition::ConstantMass::within_grams(-0.0002).is_err());
    /// ```
    pub fn within_grams(grams: f64) -> Result<Self> {
        let hint = "In grams, 0.0002 for 0.2 mg.";
        crate::error::within("Change allowed at constant mass,", grams, "g", [0.0, 1.0], "0-1 g", hint)?;
        Ok(Self { limit: Limit::Grams(grams), least_minutes: None })
    }

    /// The same, counting a step only where it lasted at least so many minutes: a short step changes nothing.
    ///
    /// # Errors
    /// `number.out-of-range` for a time not above 0.
    ///
    /// ```
    /// use beadchem::composition::{ConstantMass, Drying};
    /// let rule = ConstantMass::within_share(0.0005)?.after_at_least(60.0)?;
    /// let drying = Drying::new(52.1040, 62.1180, 105.0)?.step_of(240.0, 61.4990)?.step_of(5.0, 61.4989)?;
    /// assert!(drying.moisture(&rule, 3.0).is_err());
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    pub fn after_at_least(mut self, minutes: f64) -> Result<Self> {
        const LONGEST: f64 = 1e5;
        let hint = "How long a step of drying is by your rule, in minutes.";
        let bound = "above 0 to 100000 min";
        crate::error::within("Least time of a step", minutes, "min", [f64::MIN_POSITIVE, LONGEST], bound, hint)?;
        self.least_minutes = Some(minutes);
        Ok(self)
    }

    /// Refuses a last step that changed the mass by more, or was too short to show anything.
    pub(super) fn hold(&self, step: usize, change_g: f64, sample_g: f64, minutes: Option<f64>) -> Result<()> {
        let (change, limit, allowed) = match self.limit {
            Limit::Share(share) => (change_g / sample_g, share, percent_text(share)),
            Limit::Grams(grams) => (change_g, grams, format!("{} mg", milligrams(grams))),
        };
        // Differences that stand on the limit carry the rounding of the readings; a nanogram is past any balance.
        const ROUNDING: f64 = 1e-9;
        if change > limit + ROUNDING {
            return Err(Error::Conflict {
                code: Code::DryingNotConstant,
                detail: format!(
                    "Not constant: step {step} changed the mass by {:.1} mg, {:.3} % of the sample (allowed {allowed}).",
                    milligrams(change_g),
                    Unit::Percent.written(change_g / sample_g)
                ),
                hint: "Dry for another step and weigh again.".to_owned(),
            });
        }
        let Some(least) = self.least_minutes else { return Ok(()) };
        match minutes {
            Some(minutes) if minutes >= least => Ok(()),
            found => Err(Error::Conflict {
                code: Code::DryingNotConstant,
                detail: format!(
                    "Not shown to be constant: step {step} lasted {}, your rule counts steps of {least} min or more.",
                    found.map_or_else(|| "an unrecorded time".to_owned(), |minutes| format!("{minutes} min"))
                ),
                hint: "Dry for a whole step and weigh again.".to_owned(),
            }),
        }
    }
}
