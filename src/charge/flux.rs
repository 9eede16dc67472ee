//! Flux: a lot with its blend, its loss in one fusion programme and its blanks, and a weighed portion of it.

use serde::{Deserialize, Serialize};

use crate::charge::addition::refuse_volatile;
use crate::charge::mass::Mass;
use crate::code::Code;
use crate::composition::unit::within_percent;
use crate::document::Document;
use crate::error::{Error, Result};
use crate::substance::{Element, Formula};
use crate::uncertainty::Estimate;

/// A lot of flux: what it is made of, what it loses in one fusion programme, what it brings of analytes.
///
/// The loss is the loss of the lot as found by fusing flux alone, without the carbon dioxide that a carbonate in the
/// blend gives off by its formula; that is computed apart. A loss a little below zero is a legitimate result.
///
/// ```
/// use beadchem::{charge::FluxLot, uncertainty::Estimate};
/// let lot = FluxLot::new(
///     "F-118",
///     [("Li2B4O7", 50.0), ("LiBO2", 50.0)], // parts by mass
///     "1050 C, 18 min",
///     Estimate::new(0.0038, 0.0003)?, // g lost per g of flux as weighed
/// )?
/// .with_blank("SiO2", 0.0001)?; // g per g of fused flux
/// # Ok::<(), beadchem::Error>(())
/// ```
#[derive(Debug, Clone, PartialEq)]
pub struct FluxLot {
    name: String,
    blend: Vec<(Formula, f64)>,
    programme: String,
    loss: Estimate,
    blanks: Vec<(Formula, Estimate)>,
}

impl FluxLot {
    /// A lot from its name, its blend in parts by mass, the fusion programme its loss belongs to, and that loss as a
    /// fraction of the flux as weighed.
    ///
    /// # Errors
    /// `charge.incomplete` without a blend; `number.out-of-range` for parts not above zero, or a loss outside -2 % to
    /// 50 %; `charge.incomplete` where a part holds nitrogen, a halogen or sulfur, whose fate would have to be assumed; those
    /// of [`Formula::parse`].
    ///
    /// ```
    /// use beadchem::charge::FluxLot;
    /// let none: [(&str, f64); 0] = [];
    /// assert!(FluxLot::new("F-1", none, "1050 C, 18 min", 0.003).is_err());
    /// ```
    pub fn new<'a>(
        name: impl Into<String>,
        blend: impl IntoIterator<Item = (&'a str, f64)>,
        programme: impl Into<String>,
        loss: impl Into<Estimate>,
    ) -> Result<Self> {
        let (name, loss) = (name.into(), loss.into());
        let mut parts = Vec::new();
        for (text, share) in blend {
            let hint = "Parts by mass, as 50 and 50, or 0.66 and 0.34.";
            crate::error::within(&format!("Part of {text} in the flux,"), share, "", [1e-9, 1e9], "above 0", hint)?;
            let species = Formula::parse(text)?;
            refuse_volatile(&species)?;
            parts.push((species, share));
        }
        if parts.is_empty() {
            return Err(Error::Unstated {
                code: Code::ChargeIncomplete,
                quantity: format!("The blend of flux lot {name}"),
                hint: "Name its borates with their parts by mass.".to_owned(),
            });
        }
        let sum: f64 = parts.iter().map(|(_, share)| share).sum();
        // Shares that add up to 1 but for rounding are kept to the bit, so that a stored lot reads back as itself.
        const ROUNDING: f64 = 1e-12;
        if (sum - 1.0).abs() > ROUNDING {
            parts.iter_mut().for_each(|(_, share)| *share /= sum);
        }
        let hint = "Was the crucible tared with flux in it, or were per cent and fractions mixed up?";
        within_percent("Flux loss", loss.value(), [-0.02, 0.5], hint)?;
        Ok(Self { name, blend: parts, programme: programme.into(), loss, blanks: Vec::new() })
    }

    /// With an analyte that the flux brings, g per g of fused flux.
    ///
    /// # Errors
    /// Those of [`Formula::parse`]; `factor.several-common-elements` where it is not an oxide or an element that stays;
    /// `number.out-of-range` outside -0.1 % to 10 %; `species.doubled`.
    ///
    /// ```
    /// use beadchem::charge::FluxLot;
    /// let lot = FluxLot::new("F-1", [("LiBO2", 1.0)], "1050 C, 18 min", 0.003)?;
    /// assert!(lot.with_blank("SiO2", 1.0).is_err());
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    pub fn with_blank(mut self, species: &str, content: impl Into<Estimate>) -> Result<Self> {
        let (species, content) = (Formula::parse(species)?, content.into());
        let key = species.key().filter(|key| !matches!(key.symbol(), "O" | "H" | "C" | "N"));
        if key.is_none() || species.count(Element::H) > 0.0 {
            return Err(Error::Conflict {
                code: Code::FactorSeveralElements,
                detail: format!("{species} stands for no single element that stays in the glass."),
                hint: "A blank is stated as the oxide it is read as, or as the element.".to_owned(),
            });
        }
        let hint = "A blank is a trace of the fused flux; were per cent and fractions mixed up?";
        // a blank from measured beads may come out a little below zero
        within_percent(&format!("{species} in the flux,"), content.value(), [-0.001, 0.1], hint)?;
        if self.blanks.iter().any(|(known, _)| known.text() == species.text()) {
            return Err(Error::Conflict {
                code: Code::SpeciesDoubled,
                detail: format!("The blank of {species} is given twice."),
                hint: "Keep one.".to_owned(),
            });
        }
        self.blanks.push((species, content));
        Ok(self)
    }

    /// A weighed portion of the lot, g.
    ///
    /// # Errors
    /// `mass.missing`, `mass.not-positive`, `mass.out-of-range`.
    ///
    /// ```
    /// use beadchem::charge::FluxLot;
    /// let lot = FluxLot::new("F-1", [("LiBO2", 1.0)], "1050 C, 18 min", 0.003)?;
    /// assert!(lot.weigh_g(8002.1).unwrap_err().to_string().contains("Did you mean 8.0021 g"));
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    pub fn weigh_g(&self, mass_g: impl Into<Estimate>) -> Result<Flux> {
        Ok(Flux { lot: self.clone(), mass: Mass::Flux.check(mass_g.into())? })
    }

    /// The name of the lot.
    ///
    /// ```
    /// # use beadchem::charge::FluxLot;
    /// assert_eq!(FluxLot::new("F-1", [("LiBO2", 1.0)], "1050 C", 0.003)?.name(), "F-1");
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn name(&self) -> &str {
        &self.name
    }

    /// The blend: formulas with their shares by mass, which add up to 1.
    ///
    /// ```
    /// # use beadchem::charge::FluxLot;
    /// assert_eq!(FluxLot::new("F-1", [("LiBO2", 50.0)], "1050 C", 0.003)?.blend()[0].1, 1.0);
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn blend(&self) -> &[(Formula, f64)] {
        &self.blend
    }

    /// The fusion programme the loss belongs to.
    ///
    /// ```
    /// # use beadchem::charge::FluxLot;
    /// assert_eq!(FluxLot::new("F-1", [("LiBO2", 1.0)], "1050 C", 0.003)?.programme(), "1050 C");
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn programme(&self) -> &str {
        &self.programme
    }

    /// The loss, g per g of flux as weighed.
    ///
    /// ```
    /// # use beadchem::charge::FluxLot;
    /// assert_eq!(FluxLot::new("F-1", [("LiBO2", 1.0)], "1050 C", 0.003)?.loss().value(), 0.003);
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn loss(&self) -> &Estimate {
        &self.loss
    }

    /// Analytes the flux brings, g per g of fused flux.
    ///
    /// ```
    /// # use beadchem::charge::FluxLot;
    /// assert!(FluxLot::new("F-1", [("LiBO2", 1.0)], "1050 C", 0.003)?.blanks().is_empty());
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn blanks(&self) -> &[(Formula, Estimate)] {
        &self.blanks
    }
}

/// A weighed portion of a flux lot.
///
/// ```
/// use beadchem::charge::FluxLot;
/// let flux = FluxLot::new("F-1", [("LiBO2", 1.0)], "1050 C, 18 min", 0.003)?.weigh_g(8.0021)?;
/// assert_eq!(flux.mass_g().value(), 8.0021);
/// # Ok::<(), beadchem::Error>(())
/// ```
#[derive(Debug, Clone, PartialEq)]
pub struct Flux {
    lot: FluxLot,
    mass: Estimate,
}

impl Flux {
    /// The lot.
    ///
    /// ```
    /// # use beadchem::charge::FluxLot;
    /// assert_eq!(FluxLot::new("F-1", [("LiBO2", 1.0)], "1050 C", 0.003)?.weigh_g(8.0)?.lot().name(), "F-1");
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn lot(&self) -> &FluxLot {
        &self.lot
    }

    /// The mass as weighed, g.
    ///
    /// ```
    /// # use beadchem::charge::FluxLot;
    /// assert_eq!(FluxLot::new("F-1", [("LiBO2", 1.0)], "1050 C", 0.003)?.weigh_g(8.0)?.mass_g().value(), 8.0);
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn mass_g(&self) -> &Estimate {
        &self.mass
    }
}

/// The stored form of a flux lot.
///
/// ```
/// use beadchem::{charge::FluxLot, document::Document};
/// let lot = FluxLot::new("F-1", [("LiBO2", 1.0)], "1050 C", 0.003)?;
/// assert_eq!(FluxLot::from_body(lot.to_body())?, lot);
/// # Ok::<(), beadchem::Error>(())
/// ```
#[derive(Debug, Clone, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct FluxLotBody {
    name: String,
    blend: Vec<BlendPart>,
    programme: String,
    loss: Estimate,
    #[serde(skip_serializing_if = "Vec::is_empty", default)]
    blanks: Vec<Blank>,
}

#[derive(Debug, Clone, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct BlendPart {
    species: String,
    share: f64,
}

#[derive(Debug, Clone, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct Blank {
    species: String,
    content: Estimate,
}

impl Document for FluxLot {
    const KIND: &'static str = "flux-lot";
    const SCHEMA: u32 = 1;
    type Body = FluxLotBody;
    fn to_body(&self) -> FluxLotBody {
        FluxLotBody {
            name: self.name.clone(),
            blend: self
                .blend
                .iter()
                .map(|(f, share)| BlendPart { species: f.text().to_owned(), share: *share })
                .collect(),
            programme: self.programme.clone(),
            loss: self.loss.clone(),
            blanks: self
                .blanks
                .iter()
                .map(|(f, content)| Blank { species: f.text().to_owned(), content: content.clone() })
                .collect(),
        }
    }
    fn from_body(body: FluxLotBody) -> Result<Self> {
        let blend = body.blend.iter().map(|part| (part.species.as_str(), part.share));
        let lot = FluxLot::new(body.name, blend, body.programme, body.loss)?;
        body.blanks.into_iter().try_fold(lot, |lot, blank| lot.with_blank(&blank.species, blank.content))
    }
}
