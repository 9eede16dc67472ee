//! What 100 % refers to, and what leads from one basis to another.

use serde::{Deserialize, Serialize};

use crate::code::Code;
use crate::composition::unit::{percent_text, within_percent};
use crate::error::{Error, Result};
use crate::scalar::Scalar;
use crate::uncertainty::Estimate;

/// What 100 % of a composition refers to.
///
/// ```
/// use beadchem::composition::Basis;
/// assert_eq!(Basis::parse("ignited at 1000 C")?, Basis::Ignited { temperature_c: 1000.0 });
/// assert!(Basis::parse("").is_err()); // a composition without a basis says nothing
/// # Ok::<(), beadchem::Error>(())
/// ```
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(try_from = "String", into = "String")]
#[non_exhaustive]
pub enum Basis {
    /// The material as it came to the laboratory.
    AsReceived,
    /// The powder in balance with the air of the weighing room, as weighed.
    AirEquilibrated,
    /// Dried to constant mass.
    Dried,
    /// Ignited at a stated temperature.
    Ignited {
        /// Temperature of ignition, C.
        temperature_c: f64,
    },
    /// The glass itself.
    Bead,
}

impl Basis {
    /// Reads "as received", "air-equilibrated", "dried", "ignited at 1000 C" or "bead".
    ///
    /// # Errors
    /// `word.unknown`; the message lists the words.
    ///
    /// ```
    /// use beadchem::composition::Basis;
    /// assert_eq!(Basis::parse("as received")?, Basis::AsReceived);
    /// assert!(Basis::parse("ignited").is_err());
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    pub fn parse(text: &str) -> Result<Self> {
        let ignited = text.strip_prefix("ignited at ").and_then(|rest| rest.strip_suffix(" C"));
        match (text, ignited.map(str::parse)) {
            ("as received", _) => Ok(Basis::AsReceived),
            ("air-equilibrated", _) => Ok(Basis::AirEquilibrated),
            ("dried", _) => Ok(Basis::Dried),
            ("bead", _) => Ok(Basis::Bead),
            (_, Some(Ok(temperature_c))) => Basis::ignited(temperature_c),
            _ => Err(Error::word(
                "Basis",
                text,
                &["as received", "air-equilibrated", "dried", "ignited at 1000 C (with its own temperature)", "bead"],
            )),
        }
    }

    /// Ignited at this temperature.
    ///
    /// # Errors
    /// `number.out-of-range` outside 300 to 1400 C.
    ///
    /// ```
    /// assert!(beadchem::composition::Basis::ignited(20.0).is_err());
    /// ```
    pub fn ignited(temperature_c: f64) -> Result<Self> {
        let hint = "An ignition is stated in degrees Celsius, often 950, 1000 or 1050.";
        crate::error::within("Ignition temperature", temperature_c, "C", [300.0, 1400.0], "300-1400 C", hint)?;
        Ok(Basis::Ignited { temperature_c })
    }
}

impl core::fmt::Display for Basis {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        match self {
            Basis::AsReceived => f.write_str("as received"),
            Basis::AirEquilibrated => f.write_str("air-equilibrated"),
            Basis::Dried => f.write_str("dried"),
            Basis::Ignited { temperature_c } => write!(f, "ignited at {temperature_c} C"),
            Basis::Bead => f.write_str("bead"),
        }
    }
}

impl From<Basis> for String {
    fn from(basis: Basis) -> String {
        basis.to_string()
    }
}

impl TryFrom<String> for Basis {
    type Error = Error;
    fn try_from(text: String) -> Result<Self> {
        Basis::parse(&text)
    }
}

/// Signed mass change of the dried powder in a furnace: a loss is positive, a gain negative.
///
/// ```
/// use beadchem::composition::LossOnIgnition;
/// let gain = LossOnIgnition::new(-0.02645, 1000.0)?; // magnetite takes up oxygen
/// assert_eq!(gain.loss().value(), -0.02645);
/// # Ok::<(), beadchem::Error>(())
/// ```
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(try_from = "LossBody", into = "LossBody")]
pub struct LossOnIgnition {
    loss: Estimate,
    temperature_c: f64,
}

impl LossOnIgnition {
    /// A loss as a fraction of the dried powder, with the temperature it was found at, C.
    ///
    /// # Errors
    /// `number.out-of-range` above 1 or below -1.5, or for the temperature as [`Basis::ignited`].
    ///
    /// ```
    /// use beadchem::composition::LossOnIgnition;
    /// assert!(LossOnIgnition::new(1.27, 1000.0).unwrap_err().to_string().contains("more than the whole sample"));
    /// ```
    pub fn new(loss: impl Into<Estimate>, temperature_c: f64) -> Result<Self> {
        let loss = loss.into();
        signed_loss("Loss on ignition", &loss)?;
        Basis::ignited(temperature_c)?;
        Ok(Self { loss, temperature_c })
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
}

#[derive(Clone, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct LossBody {
    loss: Estimate,
    temperature_c: f64,
}

impl From<LossOnIgnition> for LossBody {
    fn from(loss: LossOnIgnition) -> Self {
        LossBody { loss: loss.loss, temperature_c: loss.temperature_c }
    }
}

impl TryFrom<LossBody> for LossOnIgnition {
    type Error = Error;
    fn try_from(body: LossBody) -> Result<Self> {
        LossOnIgnition::new(body.loss, body.temperature_c)
    }
}

/// Refuses a loss that is more than everything, or a gain that no oxidation explains.
pub(crate) fn signed_loss(quantity: &str, loss: &Estimate) -> Result<()> {
    let hint = if loss.value() > 0.0 {
        "That is more than the whole sample would be lost; were per cent and fractions mixed up?"
    } else {
        "No oxidation gains that much; were per cent and fractions mixed up?"
    };
    within_percent(quantity, loss.value(), [-1.5, 1.0], hint).map(|_| ())
}

/// What leads from one basis to another: moistures of the two moist states, and the loss on ignition of the dried one.
///
/// ```
/// use beadchem::composition::{Basis, BasisLinks, LossOnIgnition};
/// let links = BasisLinks::default().moisture(0.0118)?.loss_on_ignition(LossOnIgnition::new(0.1195, 1000.0)?);
/// assert!(links.between(Basis::AsReceived, Basis::Ignited { temperature_c: 1000.0 }).is_ok());
/// assert!(links.between(Basis::Dried, Basis::AirEquilibrated).is_err()); // its moisture is not given
/// # Ok::<(), beadchem::Error>(())
/// ```
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct BasisLinks {
    #[serde(skip_serializing_if = "Option::is_none", default)]
    moisture: Option<Estimate>,
    #[serde(skip_serializing_if = "Option::is_none", default)]
    air_moisture: Option<Estimate>,
    #[serde(skip_serializing_if = "Option::is_none", default)]
    loss_on_ignition: Option<LossOnIgnition>,
}

/// The mass of material on some basis per gram dried.
#[derive(Debug, Clone, PartialEq)]
pub(crate) enum PerDried {
    /// The dried material itself: 1.
    One,
    /// 1 / (1 - moisture).
    Moist {
        /// Name of the input.
        name: &'static str,
        /// The moisture.
        moisture: Estimate,
    },
    /// 1 - loss on ignition.
    Ignited {
        /// Name of the input.
        name: String,
        /// The loss.
        loss: Estimate,
    },
}

impl PerDried {
    /// Grams of this material per gram dried, from its moisture or loss.
    #[inline(always)]
    pub(crate) fn grams<S: Scalar>(&self, loss: S) -> S {
        match self {
            PerDried::One => S::constant(1.0),
            PerDried::Moist { .. } => S::constant(1.0) / (-loss + 1.0),
            PerDried::Ignited { .. } => -loss + 1.0,
        }
    }

    /// The input behind it.
    pub(crate) fn input(&self) -> Option<(&str, &Estimate)> {
        match self {
            PerDried::One => None,
            PerDried::Moist { name, moisture } => Some((name, moisture)),
            PerDried::Ignited { name, loss } => Some((name, loss)),
        }
    }
}

impl BasisLinks {
    /// With the moisture of the material as received, as a fraction of it: `(wet - dried) / wet`.
    ///
    /// # Errors
    /// `number.out-of-range` at or above 1, or below 0 by more than 3 u.
    ///
    /// ```
    /// assert!(beadchem::composition::BasisLinks::default().moisture(-0.004).is_err());
    /// ```
    pub fn moisture(mut self, moisture: impl Into<Estimate>) -> Result<Self> {
        self.moisture = Some(checked_moisture("Moisture", moisture.into())?);
        Ok(self)
    }

    /// With the moisture of the powder in balance with the air of the weighing room.
    ///
    /// # Errors
    /// As [`moisture`](Self::moisture).
    ///
    /// ```
    /// assert!(beadchem::composition::BasisLinks::default().air_moisture(0.006).is_ok());
    /// ```
    pub fn air_moisture(mut self, moisture: impl Into<Estimate>) -> Result<Self> {
        self.air_moisture = Some(checked_moisture("Moisture of the air-equilibrated powder", moisture.into())?);
        Ok(self)
    }

    /// With the loss on ignition of the dried powder.
    ///
    /// ```
    /// use beadchem::composition::{BasisLinks, LossOnIgnition};
    /// let links = BasisLinks::default().loss_on_ignition(LossOnIgnition::new(0.4310, 1000.0)?);
    /// assert!(links.loss().is_some());
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn loss_on_ignition(mut self, loss: LossOnIgnition) -> Self {
        self.loss_on_ignition = Some(loss);
        self
    }

    /// The loss on ignition, where given.
    ///
    /// ```
    /// assert!(beadchem::composition::BasisLinks::default().loss().is_none());
    /// ```
    #[must_use]
    pub fn loss(&self) -> Option<&LossOnIgnition> {
        self.loss_on_ignition.as_ref()
    }

    /// The factor by which mass fractions on one basis are multiplied to stand on the other.
    ///
    /// `w_to = w_from g_from / g_to`, g grams of material per gram dried: `1 / (1 - moisture)` moist, 1 dried,
    /// `1 - loss` ignited.
    ///
    /// # Errors
    /// `basis.needs` where a moisture or loss is not given, or was found at another temperature;
    /// `basis.impossible` to or from the bead, or where nothing would be left.
    ///
    /// ```
    /// use beadchem::composition::{Basis, BasisLinks, LossOnIgnition};
    /// let links = BasisLinks::default().loss_on_ignition(LossOnIgnition::new(0.1195, 1000.0)?);
    /// let factor = links.between(Basis::Dried, Basis::ignited(1000.0)?)?;
    /// assert_eq!(factor, 1.0 / (1.0 - 0.1195));
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    pub fn between(&self, from: Basis, to: Basis) -> Result<f64> {
        let grams = |basis| {
            let per_dried = self.per_dried(basis)?;
            Ok::<f64, Error>(per_dried.grams(per_dried.input().map_or(0.0, |(_, estimate)| estimate.value())))
        };
        let (from_grams, to_grams) = if from == to { (1.0, 1.0) } else { (grams(from)?, grams(to)?) };
        if to_grams > 0.0 {
            Ok(from_grams / to_grams)
        } else {
            Err(Error::Conflict {
                code: Code::BasisImpossible,
                detail: format!("Nothing would be left {to}."),
                hint: "A loss on ignition of 100 % leaves no ignited material to refer to.".to_owned(),
            })
        }
    }

    pub(crate) fn per_dried(&self, basis: Basis) -> Result<PerDried> {
        let needs = |what: &str| Error::Unstated {
            code: Code::BasisNeeds,
            quantity: what.to_owned(),
            hint: format!("A change to or from the basis `{basis}` needs it."),
        };
        match basis {
            Basis::Dried => Ok(PerDried::One),
            Basis::AsReceived => {
                let moisture = self.moisture.clone().ok_or_else(|| needs("Moisture as received"))?;
                Ok(PerDried::Moist { name: "moisture as received", moisture })
            }
            Basis::AirEquilibrated => {
                let moisture =
                    self.air_moisture.clone().ok_or_else(|| needs("Moisture of the air-equilibrated powder"))?;
                Ok(PerDried::Moist { name: "moisture air-equilibrated", moisture })
            }
            Basis::Ignited { temperature_c } => match &self.loss_on_ignition {
                Some(loss) if loss.temperature_c == temperature_c => Ok(PerDried::Ignited {
                    name: format!("loss on ignition at {temperature_c} C"),
                    loss: loss.loss.clone(),
                }),
                Some(loss) => Err(Error::Unstated {
                    code: Code::BasisNeeds,
                    quantity: format!("Loss on ignition at {temperature_c} C"),
                    hint: format!("The one given was found at {} C; they differ.", loss.temperature_c),
                }),
                None => Err(needs(&format!("Loss on ignition at {temperature_c} C"))),
            },
            Basis::Bead => Err(Error::Conflict {
                code: Code::BasisImpossible,
                detail: "A moisture or loss on ignition does not lead to or from the bead.".to_owned(),
                hint: "From glass to sample goes by undiluting the melt.".to_owned(),
            }),
        }
    }
}

fn checked_moisture(quantity: &str, moisture: Estimate) -> Result<Estimate> {
    let (value, u) = (moisture.value(), moisture.u().unwrap_or(0.0));
    // A dry powder may read a little below zero; more than 3 u is another cause.
    let hint = if value < 0.0 {
        "The sample gained mass while drying: oxidation, or a wrong pan mass?"
    } else {
        "Nothing would be left; were per cent and fractions mixed up?"
    };
    let named = if u > 0.0 { format!("{quantity} (u {})", percent_text(u)) } else { quantity.to_owned() };
    // 100 % itself leaves nothing
    within_percent(&named, value, [-3.0 * u, 1.0 - f64::EPSILON], hint)?;
    Ok(moisture)
}
