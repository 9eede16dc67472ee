//! What 100 % refers to, and what leads from one basis to another.

use serde::{Deserialize, Serialize};

use crate::code::Code;
use crate::composition::LossOnIgnition;
use crate::composition::unit::{implausible, percent_text};
use crate::error::{Error, Result};
use crate::scalar::Scalar;
use crate::uncertainty::{Estimate, Inputs, Model, propagate_plain};

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

/// The repair where a basis is missing.
pub(crate) const CHOICES: &str = "Choose as received, air-equilibrated, dried, ignited or bead.";

impl Basis {
    /// Reads "as received", "air-equilibrated", "dried", "ignited at 1000 C" or "bead".
    ///
    /// # Errors
    /// `basis.missing` for an empty word; `word.unknown`; the message lists the words.
    ///
    /// ```
    /// use beadchem::composition::Basis;
    /// assert_eq!(Basis::parse("as received")?, Basis::AsReceived);
    /// assert!(Basis::parse("ignited").is_err());
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    pub fn parse(text: &str) -> Result<Self> {
        if text.trim().is_empty() {
            return Err(Error::Conflict {
                code: Code::BasisMissing,
                detail: "No basis is given.".to_owned(),
                hint: CHOICES.to_owned(),
            });
        }
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
#[serde(try_from = "LinksBody")]
pub struct BasisLinks {
    #[serde(skip_serializing_if = "Option::is_none", default)]
    moisture: Option<Estimate>,
    #[serde(skip_serializing_if = "Option::is_none", default)]
    air_moisture: Option<Estimate>,
    #[serde(skip_serializing_if = "Option::is_none", default)]
    loss_on_ignition: Option<LossOnIgnition>,
}

/// What is stored of the links, before it is checked.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct LinksBody {
    #[serde(default)]
    moisture: Option<Estimate>,
    #[serde(default)]
    air_moisture: Option<Estimate>,
    #[serde(default)]
    loss_on_ignition: Option<LossOnIgnition>,
}

impl TryFrom<LinksBody> for BasisLinks {
    type Error = Error;
    fn try_from(body: LinksBody) -> Result<Self> {
        let mut links = BasisLinks { loss_on_ignition: body.loss_on_ignition, ..BasisLinks::default() };
        if let Some(moisture) = body.moisture {
            links = links.moisture(moisture)?;
        }
        match body.air_moisture {
            Some(moisture) => links.air_moisture(moisture),
            None => Ok(links),
        }
    }
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

/// What a loss on ignition goes by among inputs.
pub(crate) fn loss_input(temperature_c: Option<f64>) -> String {
    match temperature_c {
        Some(temperature_c) => format!("loss on ignition at {temperature_c} C"),
        None => "loss on ignition".to_owned(),
    }
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

    /// The whole loss of a moist material up to ignition, as a fraction of it: `1 - (1 - M) (1 - L)`, never M + L.
    ///
    /// # Errors
    /// `basis.needs` where the moisture or the loss on ignition is not given; `basis.impossible` from the ignited
    /// material or the bead.
    ///
    /// ```
    /// use beadchem::composition::{Basis, BasisLinks, LossOnIgnition};
    /// let links = BasisLinks::default().moisture(0.062)?.loss_on_ignition(LossOnIgnition::new(0.121, 1000.0)?);
    /// let total = links.total_loss_from(Basis::AsReceived)?;
    /// assert_eq!(format!("{:.4}", total.value()), "0.1755"); // not 0.183
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    pub fn total_loss_from(&self, basis: Basis) -> Result<Estimate> {
        let needs = || Error::Unstated {
            code: Code::BasisNeeds,
            quantity: "The loss on ignition".to_owned(),
            hint: format!("The whole loss of the material {basis} needs it."),
        };
        let loss = self.loss_on_ignition.as_ref().ok_or_else(needs)?;
        if let Basis::Ignited { .. } = basis {
            return Err(Error::Conflict {
                code: Code::BasisImpossible,
                detail: "Ignited material has no further loss to ignition.".to_owned(),
                hint: "Ask from the material as received, air-equilibrated or dried.".to_owned(),
            });
        }
        let from = self.per_dried(basis)?;
        let ignited = self.per_dried(Basis::Ignited { temperature_c: loss.temperature_c() })?;
        let mut inputs = Inputs::new();
        for side in [&from, &ignited] {
            match side.input() {
                Some((name, estimate)) => inputs.push(name, estimate.clone())?,
                None => inputs.push("dried material", Estimate::exact(1.0)?)?,
            };
        }
        propagate_plain(&TotalLoss([from, ignited]), &inputs)?.measured(0)
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
                Some(loss) if loss.temperature_c() == temperature_c => {
                    Ok(PerDried::Ignited { name: loss_input(Some(temperature_c)), loss: loss.loss().clone() })
                }
                Some(loss) => Err(Error::Unstated {
                    code: Code::BasisNeeds,
                    quantity: format!("Loss on ignition at {temperature_c} C"),
                    hint: format!("The one given was found at {} C; they differ.", loss.temperature_c()),
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

/// Refuses a moisture that leaves nothing, or is below zero by more than 3 u.
pub(crate) fn checked_moisture(quantity: &str, moisture: Estimate) -> Result<Estimate> {
    // A dry powder may read a little below zero; more than 3 u is another cause.
    const K: f64 = 3.0;
    let value = crate::error::finite(quantity, moisture.value())?;
    let least = -K * moisture.u().unwrap_or(0.0);
    let (meaning, hint) = if value < least {
        ("the sample gained mass while drying", "Oxidation, or a wrong pan mass?")
    } else if value >= 1.0 {
        ("nothing would be left", "Were per cent and fractions mixed up?")
    } else {
        return Ok(moisture);
    };
    let bound = format!("{} to less than {}", percent_text(least), percent_text(1.0));
    Err(implausible(quantity, value, moisture.u().filter(|u| *u > 0.0), meaning, hint, bound))
}

/// What the dried material lost before and in the furnace, from a moist one.
struct TotalLoss([PerDried; 2]);

impl Model for TotalLoss {
    fn outputs(&self) -> usize {
        1
    }
    #[inline(always)]
    fn evaluate<S: Scalar>(&self, x: &[S], out: &mut [S], _: &mut [S]) {
        let [from, ignited] = &self.0;
        out[0] = -(ignited.grams(x[1]) / from.grams(x[0])) + 1.0;
    }
}
