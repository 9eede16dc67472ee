//! Loss on ignition: signed, with what it was found under.

use serde::{Deserialize, Serialize};

use crate::composition::unit::{implausible, percent_text};
use crate::composition::{Atmosphere, Basis, IgnitionWeighing};
use crate::error::{Error, Result};
use crate::uncertainty::Estimate;

/// Signed mass change of the dried powder in a furnace: a loss is positive, a gain negative.
///
/// ```
/// use beadchem::composition::{Atmosphere, LossOnIgnition};
/// let gain = LossOnIgnition::new(-0.02645, 1000.0)? // magnetite takes up oxygen
///     .with_minutes(60.0)?
///     .with_atmosphere(Atmosphere::Air);
/// assert_eq!(gain.loss().value(), -0.02645);
/// # Ok::<(), beadchem::Error>(())
/// ```
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(try_from = "LossBody", into = "LossBody")]
pub struct LossOnIgnition {
    loss: Estimate,
    temperature_c: f64,
    minutes: Option<f64>,
    atmosphere: Option<Atmosphere>,
    method: Option<String>,
}

impl LossOnIgnition {
    /// A loss as a fraction of the dried powder, with the temperature it was found at, C.
    ///
    /// # Errors
    /// `number.out-of-range` above 1 or below -1.5, or for the temperature as [`Basis::ignited`].
    ///
    /// ```
    /// use beadchem::composition::LossOnIgnition;
    /// let refused = LossOnIgnition::new(1.27, 1000.0).unwrap_err().to_string();
    /// assert!(refused.starts_with("Loss on ignition 127 %: more than the whole sample would be lost."));
    /// ```
    pub fn new(loss: impl Into<Estimate>, temperature_c: f64) -> Result<Self> {
        let loss = loss.into();
        signed_loss("Loss on ignition", &loss)?;
        Basis::ignited(temperature_c)?;
        Ok(Self { loss, temperature_c, minutes: None, atmosphere: None, method: None })
    }

    /// The loss from three weighings, g: the empty crucible, with the dried powder, and after ignition at this
    /// temperature, C. Further parts of its uncertainty: [`IgnitionWeighing`].
    ///
    /// # Errors
    /// Those of [`IgnitionWeighing::new`] and of [`new`](Self::new).
    ///
    /// ```
    /// use beadchem::{composition::LossOnIgnition, uncertainty::Estimate};
    /// let grams = |value| Estimate::new(value, 0.00007);
    /// let loss = LossOnIgnition::weighed(grams(20.0)?, grams(21.0)?, grams(20.6)?, 1000.0)?;
    /// assert!((loss.loss().value() - 0.4).abs() < 1e-12);
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    pub fn weighed(
        crucible_g: impl Into<Estimate>,
        with_dried_g: impl Into<Estimate>,
        with_ignited_g: impl Into<Estimate>,
        temperature_c: f64,
    ) -> Result<Self> {
        IgnitionWeighing::new(crucible_g, with_dried_g, with_ignited_g, temperature_c)?.loss_on_ignition()
    }

    /// With the time at temperature, min.
    ///
    /// # Errors
    /// `number.out-of-range` for a time not above 0.
    ///
    /// ```
    /// # use beadchem::composition::LossOnIgnition;
    /// assert!(LossOnIgnition::new(0.275, 1000.0)?.with_minutes(0.0).is_err());
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    pub fn with_minutes(mut self, minutes: f64) -> Result<Self> {
        let hint = "The time at temperature, in minutes.";
        let bounds = [f64::MIN_POSITIVE, 1e5];
        self.minutes =
            Some(crate::error::within("Ignition time", minutes, "min", bounds, "above 0 to 100000 min", hint)?);
        Ok(self)
    }

    /// With the atmosphere it was ignited in.
    ///
    /// ```
    /// # use beadchem::composition::{Atmosphere, LossOnIgnition};
    /// let loss = LossOnIgnition::new(0.275, 1000.0)?.with_atmosphere(Atmosphere::Oxygen);
    /// assert_eq!(loss.atmosphere(), Some(Atmosphere::Oxygen));
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn with_atmosphere(mut self, atmosphere: Atmosphere) -> Self {
        self.atmosphere = Some(atmosphere);
        self
    }

    /// With the method, in the laboratory's words.
    ///
    /// ```
    /// # use beadchem::composition::LossOnIgnition;
    /// assert_eq!(LossOnIgnition::new(0.275, 1000.0)?.with_method("L-12").method(), Some("L-12"));
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn with_method(mut self, method: impl Into<String>) -> Self {
        self.method = Some(method.into());
        self
    }

    /// The loss as a fraction of the dried powder.
    ///
    /// ```
    /// # use beadchem::composition::LossOnIgnition;
    /// assert_eq!(LossOnIgnition::new(0.275, 1000.0)?.loss().value(), 0.275);
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn loss(&self) -> &Estimate {
        &self.loss
    }

    /// The temperature, C.
    ///
    /// ```
    /// # use beadchem::composition::LossOnIgnition;
    /// assert_eq!(LossOnIgnition::new(0.275, 1000.0)?.temperature_c(), 1000.0);
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn temperature_c(&self) -> f64 {
        self.temperature_c
    }

    /// The time at temperature, min, where stated.
    ///
    /// ```
    /// # use beadchem::composition::LossOnIgnition;
    /// assert_eq!(LossOnIgnition::new(0.275, 1000.0)?.with_minutes(90.0)?.minutes(), Some(90.0));
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn minutes(&self) -> Option<f64> {
        self.minutes
    }

    /// The atmosphere, where stated.
    ///
    /// ```
    /// # use beadchem::composition::LossOnIgnition;
    /// assert_eq!(LossOnIgnition::new(0.275, 1000.0)?.atmosphere(), None);
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn atmosphere(&self) -> Option<Atmosphere> {
        self.atmosphere
    }

    /// The method, where stated.
    ///
    /// ```
    /// # use beadchem::composition::LossOnIgnition;
    /// assert_eq!(LossOnIgnition::new(0.275, 1000.0)?.method(), None);
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn method(&self) -> Option<&str> {
        self.method.as_deref()
    }
}

#[derive(Clone, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct LossBody {
    loss: Estimate,
    temperature_c: f64,
    #[serde(skip_serializing_if = "Option::is_none", default)]
    minutes: Option<f64>,
    #[serde(skip_serializing_if = "Option::is_none", default)]
    atmosphere: Option<Atmosphere>,
    #[serde(skip_serializing_if = "Option::is_none", default)]
    method: Option<String>,
}

impl From<LossOnIgnition> for LossBody {
    fn from(loss: LossOnIgnition) -> Self {
        LossBody {
            loss: loss.loss,
            temperature_c: loss.temperature_c,
            minutes: loss.minutes,
            atmosphere: loss.atmosphere,
            method: loss.method,
        }
    }
}

impl TryFrom<LossBody> for LossOnIgnition {
    type Error = Error;
    fn try_from(body: LossBody) -> Result<Self> {
        let loss = LossOnIgnition::new(body.loss, body.temperature_c)?;
        let loss = match body.minutes {
            Some(minutes) => loss.with_minutes(minutes)?,
            None => loss,
        };
        Ok(Self { atmosphere: body.atmosphere, method: body.method, ..loss })
    }
}

/// Refuses a loss that is more than everything, or a gain that no oxidation explains.
pub(crate) fn signed_loss(quantity: &str, loss: &Estimate) -> Result<()> {
    const LEAST: f64 = -1.5;
    const MOST: f64 = 1.0;
    let value = crate::error::finite(quantity, loss.value())?;
    let meaning = if value > MOST {
        "more than the whole sample would be lost"
    } else if value < LEAST {
        "no oxidation gains that much"
    } else {
        return Ok(());
    };
    let bound = format!("{} to {}", percent_text(LEAST), percent_text(MOST));
    Err(implausible(quantity, value, None, meaning, "Were per cent and fractions mixed up?", bound))
}
