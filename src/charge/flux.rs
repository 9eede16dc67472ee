//! Flux: a lot with its blend, its losses by fusion programme and its blanks, and a weighed portion of it.

use crate::charge::addition::refuse_volatile;
use crate::charge::loss_test::LossTest;
use crate::charge::mass::Mass;
use crate::code::Code;
use crate::composition::unit::within_percent;
use crate::error::{Error, Result};
use crate::substance::{Element, Formula};
use crate::uncertainty::Estimate;

/// A lot of flux: what it is made of, what it loses in each fusion programme, what it brings of analytes.
///
/// The loss belongs to the lot and to one fusion programme; a lot may hold several. A loss a little below zero is a
/// legitimate result. A part of the blend is taken as pure unless its purity is stated.
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
    pub(super) name: String,
    pub(super) blend: Vec<(Formula, f64)>,
    /// One per part of the blend.
    pub(super) purities: Vec<Option<Estimate>>,
    /// At least one; the first is the one the lot began with.
    pub(super) programmes: Vec<(String, LossTest)>,
    pub(super) blanks: Vec<(Formula, Estimate)>,
}

impl FluxLot {
    /// The same lot with a loss found for one bead.
    pub(crate) fn with_loss(&self, loss: Estimate) -> Result<Self> {
        let programme = self.programmes[0].0.clone();
        Ok(Self { programmes: vec![(programme, LossTest::stated(loss)?)], ..self.clone() })
    }

    /// A lot from its name, its blend in parts by mass, a fusion programme, and the loss found in it: a number or an
    /// [`Estimate`] as a fraction of the flux as weighed, beside what carbonates give off by their formulas, or a
    /// [`LossTest`].
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
        loss: impl Into<LossTest>,
    ) -> Result<Self> {
        let (name, test) = (name.into(), loss.into().checked()?);
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
        let purities = vec![None; parts.len()];
        Ok(Self { name, blend: parts, purities, programmes: vec![(programme.into(), test)], blanks: Vec::new() })
    }

    /// With the purity of a part of the blend: the share of that part that is its formula.
    ///
    /// The rest is carried into the glass unchanged and unnamed; of the flux loss it takes its share by mass.
    ///
    /// # Errors
    /// `species.unknown` where the blend has no such part; `species.doubled` where its purity is stated already;
    /// `number.out-of-range` below 50 %, or above 100 % by more than 3 u.
    ///
    /// ```
    /// use beadchem::{charge::FluxLot, uncertainty::Estimate};
    /// let lot = FluxLot::new("F-1", [("Li2B4O7", 90.0), ("Li2CO3", 10.0)], "1050 C, 18 min", 0.003)?
    ///     .with_purity("Li2CO3", Estimate::new(0.990, 0.001)?)?;
    /// assert_eq!(lot.purity(1).unwrap().value(), 0.990);
    /// assert!(lot.with_purity("LiBO2", 0.99).is_err()); // not in the blend
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    pub fn with_purity(mut self, species: &str, purity: impl Into<Estimate>) -> Result<Self> {
        let purity = purity.into();
        let parts: Vec<usize> = (0..self.blend.len()).filter(|&k| self.blend[k].0.text() == species.trim()).collect();
        if parts.is_empty() {
            let known: Vec<&str> = self.blend.iter().map(|(species, _)| species.text()).collect();
            return Err(Error::Unknown {
                code: Code::SpeciesUnknown,
                what: "Part of the blend".to_owned(),
                given: species.to_owned(),
                hint: format!("The parts of flux lot {} are: {}.", self.name, known.join(", ")),
            });
        }
        for part in parts {
            self.set_purity(part, purity.clone())?;
        }
        Ok(self)
    }

    pub(super) fn set_purity(&mut self, part: usize, purity: Estimate) -> Result<()> {
        let Some((species, _)) = self.blend.get(part) else { return Ok(()) };
        if self.purities[part].is_some() {
            return Err(Error::Conflict {
                code: Code::SpeciesDoubled,
                detail: format!("The purity of {species} is given twice."),
                hint: "Keep one.".to_owned(),
            });
        }
        // An assay may come out a little above the whole; less than half is another substance.
        const LEAST: f64 = 0.5;
        let most = 1.0 + 3.0 * purity.u().unwrap_or(0.0);
        let hint = "The share of the part that is its formula; were per cent and fractions mixed up?";
        within_percent(&format!("Purity of {species} in the flux,"), purity.value(), [LEAST, most], hint)?;
        self.purities[part] = Some(purity);
        Ok(())
    }

    /// With the loss in a further fusion programme.
    ///
    /// # Errors
    /// `species.doubled` where the programme is there already; `number.out-of-range` for a loss outside -2 % to 50 %.
    ///
    /// ```
    /// use beadchem::charge::{FluxLot, LossTest};
    /// let lot = FluxLot::new("F-1", [("LiBO2", 1.0)], "1050 C, 18 min", 0.003)?
    ///     .with_programme("1150 C, 25 min", LossTest::weighed(&[(5.0012, 4.9702), (5.0004, 4.9688)])?)?;
    /// assert_eq!(lot.programmes().len(), 2);
    /// assert!(lot.weigh_g(8.0).is_err()); // which of the two?
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    pub fn with_programme(mut self, programme: impl Into<String>, loss: impl Into<LossTest>) -> Result<Self> {
        let (programme, test) = (programme.into(), loss.into().checked()?);
        if self.programmes.iter().any(|(known, _)| *known == programme) {
            return Err(Error::Conflict {
                code: Code::FluxProgramme,
                detail: format!("Flux lot {} has a loss for `{programme}` already.", self.name),
                hint: "Keep the newer test, or name the programmes apart.".to_owned(),
            });
        }
        self.programmes.push((programme, test));
        Ok(self)
    }

    /// The lot as it is in one of its fusion programmes: with the loss of that programme alone.
    ///
    /// # Errors
    /// `flux.programme` where it holds no loss for that programme; the message lists those it holds.
    ///
    /// ```
    /// use beadchem::charge::FluxLot;
    /// let lot = FluxLot::new("F-1", [("LiBO2", 1.0)], "1050 C, 18 min", 0.003)?.with_programme("1150 C, 25 min", 0.006)?;
    /// assert_eq!(lot.for_programme("1150 C, 25 min")?.loss().value(), 0.006);
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    pub fn for_programme(&self, programme: &str) -> Result<FluxLot> {
        match self.programmes.iter().find(|(known, _)| known == programme) {
            Some(found) => Ok(FluxLot { programmes: vec![found.clone()], ..self.clone() }),
            None => Err(Error::Unknown {
                code: Code::FluxProgramme,
                what: format!("Fusion programme of flux lot {}", self.name),
                given: programme.to_owned(),
                hint: format!("It has losses for: {}.", self.listed()),
            }),
        }
    }

    fn listed(&self) -> String {
        self.programmes.iter().map(|(programme, _)| format!("`{programme}`")).collect::<Vec<_>>().join(", ")
    }

    /// Refuses a lot whose programme is still to be chosen.
    pub(super) fn decided(&self) -> Result<()> {
        if self.programmes.len() == 1 {
            return Ok(());
        }
        Err(Error::Unstated {
            code: Code::FluxProgramme,
            quantity: format!("The fusion programme of flux lot {}", self.name),
            hint: format!("It has losses for: {}. Choose one with for_programme.", self.listed()),
        })
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
        let (species, content) = blank(species, content.into(), "the flux", &self.blanks)?;
        self.blanks.push((species, content));
        Ok(self)
    }

    /// A weighed portion of the lot, g, for its fusion programme.
    ///
    /// # Errors
    /// `flux.programme` where the lot holds several programmes: choose with [`for_programme`](Self::for_programme);
    /// `mass.missing`, `mass.not-positive`, `mass.out-of-range`.
    ///
    /// ```
    /// use beadchem::charge::FluxLot;
    /// let lot = FluxLot::new("F-1", [("LiBO2", 1.0)], "1050 C, 18 min", 0.003)?;
    /// assert!(lot.weigh_g(8002.1).unwrap_err().to_string().contains("Did you mean 8.0021 g"));
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    pub fn weigh_g(&self, mass_g: impl Into<Estimate>) -> Result<Flux> {
        self.decided()?;
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

    /// The purity of the part of the blend at this place; nothing where it is taken as pure.
    ///
    /// ```
    /// # use beadchem::charge::FluxLot;
    /// assert!(FluxLot::new("F-1", [("LiBO2", 50.0)], "1050 C", 0.003)?.purity(0).is_none());
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn purity(&self, part: usize) -> Option<&Estimate> {
        self.purities.get(part)?.as_ref()
    }

    /// The fusion programmes with the tests of their losses.
    ///
    /// ```
    /// # use beadchem::charge::FluxLot;
    /// assert_eq!(FluxLot::new("F-1", [("LiBO2", 1.0)], "1050 C", 0.003)?.programmes()[0].0, "1050 C");
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn programmes(&self) -> &[(String, LossTest)] {
        &self.programmes
    }

    /// The fusion programme the loss belongs to; the first of several.
    ///
    /// ```
    /// # use beadchem::charge::FluxLot;
    /// assert_eq!(FluxLot::new("F-1", [("LiBO2", 1.0)], "1050 C", 0.003)?.programme(), "1050 C");
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn programme(&self) -> &str {
        &self.programmes[0].0
    }

    /// The test of the loss in that programme.
    ///
    /// ```
    /// # use beadchem::charge::FluxLot;
    /// assert!(!FluxLot::new("F-1", [("LiBO2", 1.0)], "1050 C", 0.003)?.test().includes_formula());
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn test(&self) -> &LossTest {
        &self.programmes[0].1
    }

    /// The loss in that programme as tested, g per g of flux as weighed; [`LossTest::includes_formula`] says whether what
    /// the formulas give off is in it.
    ///
    /// ```
    /// # use beadchem::charge::FluxLot;
    /// assert_eq!(FluxLot::new("F-1", [("LiBO2", 1.0)], "1050 C", 0.003)?.loss().value(), 0.003);
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn loss(&self) -> &Estimate {
        self.test().loss()
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

/// A trace that a flux or an addition brings, checked: the oxide it is read as, or the element, per gram.
pub(crate) fn blank(
    species: &str,
    content: Estimate,
    of: &str,
    held: &[(Formula, Estimate)],
) -> Result<(Formula, Estimate)> {
    let species = Formula::parse(species)?;
    let key = species.key().filter(|key| !matches!(key.symbol(), "O" | "H" | "C" | "N"));
    if key.is_none() || species.count(Element::H) > 0.0 {
        return Err(Error::Conflict {
            code: Code::FactorSeveralElements,
            detail: format!("{species} stands for no single element that stays in the glass."),
            hint: "A blank is stated as the oxide it is read as, or as the element.".to_owned(),
        });
    }
    let hint = format!("A blank is a trace of {of}; were per cent and fractions mixed up?");
    // a blank from measured beads may come out a little below zero
    within_percent(&format!("{species} in {of},"), content.value(), [-0.001, 0.1], &hint)?;
    if held.iter().any(|(known, _)| known.text() == species.text()) {
        return Err(Error::Conflict {
            code: Code::SpeciesDoubled,
            detail: format!("The blank of {species} is given twice."),
            hint: "Keep one.".to_owned(),
        });
    }
    Ok((species, content))
}
