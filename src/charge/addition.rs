//! What else goes into the crucible: oxidants, release agents, absorbers, internal standards.

use serde::{Deserialize, Serialize};

use crate::charge::fate::{ReducesTo, is_halogen, share};
use crate::charge::flux::blank;
use crate::charge::mass::Mass;
use crate::code::Code;
use crate::composition::unit::{MILLI, within_percent};
use crate::error::{Error, Result};
use crate::substance::{Element, Formula};
use crate::uncertainty::Estimate;

/// How much of an addition there is, as it was dosed.
///
/// ```
/// use beadchem::charge::Amount;
/// let tablet = Amount::tablets(1, 0.030)?;
/// let drops = Amount::solution(0.10, 300.0)?; // ml of a solution of so many g/l
/// # Ok::<(), beadchem::Error>(())
/// ```
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case", deny_unknown_fields)]
#[non_exhaustive]
pub enum Amount {
    /// Weighed, g.
    Mass(Estimate),
    /// Tablets.
    Tablets {
        /// How many.
        count: u32,
        /// Mass of one, g.
        each_g: Estimate,
    },
    /// Mixed into the flux by its maker: a share of the flux as weighed, g/g.
    ShareOfFlux(Estimate),
    /// Dosed as a solution.
    Solution {
        /// Volume, ml.
        volume_ml: Estimate,
        /// Concentration of the substance, g/l.
        concentration_g_per_l: Estimate,
    },
}

impl Amount {
    /// Weighed, g. Zero is allowed and is the same as no addition.
    ///
    /// # Errors
    /// `mass.missing`, `mass.not-positive`, `mass.out-of-range`.
    ///
    /// ```
    /// assert!(beadchem::charge::Amount::mass_g(-0.1).is_err());
    /// ```
    pub fn mass_g(mass_g: impl Into<Estimate>) -> Result<Self> {
        Ok(Amount::Mass(Mass::Addition.check(mass_g.into())?))
    }

    /// So many tablets of this mass each, g.
    ///
    /// # Errors
    /// As [`Amount::mass_g`].
    ///
    /// ```
    /// assert!(beadchem::charge::Amount::tablets(2, f64::NAN).is_err());
    /// ```
    pub fn tablets(count: u32, each_g: impl Into<Estimate>) -> Result<Self> {
        Ok(Amount::Tablets { count, each_g: Mass::Addition.check(each_g.into())? })
    }

    /// A share of the flux as weighed, g/g; the rest of the flux is the lot's blend.
    ///
    /// # Errors
    /// `number.out-of-range` outside 0 to 0.5.
    ///
    /// ```
    /// assert!(beadchem::charge::Amount::share_of_flux(5.0).is_err()); // percent given for a fraction
    /// ```
    pub fn share_of_flux(share: impl Into<Estimate>) -> Result<Self> {
        let share = share.into();
        let hint = "Were per cent and fractions mixed up?";
        within_percent("Share of the flux", share.value(), [0.0, 0.5], hint)?;
        Ok(Amount::ShareOfFlux(share))
    }

    /// A volume in ml of a solution that holds so many g of the substance per l.
    ///
    /// # Errors
    /// `number.out-of-range` for a volume outside 0 to 20 ml or a concentration outside 0 to 5000 g/l.
    ///
    /// ```
    /// assert!(beadchem::charge::Amount::solution(100.0, 300.0).is_err()); // microlitres given for millilitres
    /// ```
    pub fn solution(volume_ml: impl Into<Estimate>, concentration_g_per_l: impl Into<Estimate>) -> Result<Self> {
        let (volume_ml, concentration_g_per_l) = (volume_ml.into(), concentration_g_per_l.into());
        let hint = "Millilitres are meant; were microlitres given?";
        crate::error::within("Volume of a solution", volume_ml.value(), "ml", [0.0, 20.0], "0-20 ml", hint)?;
        let hint = "Grams per litre are meant.";
        let concentration = concentration_g_per_l.value();
        crate::error::within("Concentration", concentration, "g/l", [0.0, 5000.0], "0-5000 g/l", hint)?;
        Ok(Amount::Solution { volume_ml, concentration_g_per_l })
    }

    /// The whole mass, g, where it does not depend on the flux.
    fn total_g(&self) -> Option<f64> {
        match self {
            Amount::Mass(mass) => Some(mass.value()),
            Amount::Tablets { count, each_g } => Some(each_g.value() * f64::from(*count)),
            Amount::Solution { volume_ml, concentration_g_per_l } => {
                Some(volume_ml.value() * concentration_g_per_l.value() * MILLI)
            }
            Amount::ShareOfFlux(_) => None,
        }
    }

    /// The same amount, checked as its constructor checks; for one that was read from a document.
    pub(crate) fn checked(self) -> Result<Self> {
        match self {
            Amount::Mass(mass) => Amount::mass_g(mass),
            Amount::Tablets { count, each_g } => Amount::tablets(count, each_g),
            Amount::ShareOfFlux(share) => Amount::share_of_flux(share),
            Amount::Solution { volume_ml, concentration_g_per_l } => Amount::solution(volume_ml, concentration_g_per_l),
        }
    }
}

/// When an addition went in.
///
/// ```
/// use beadchem::charge::Timing;
/// assert_ne!(Timing::ColdCharge, Timing::Late { minutes_before_pouring: 3.0 });
/// ```
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case", deny_unknown_fields)]
#[non_exhaustive]
pub enum Timing {
    /// With sample and flux, before heating.
    ColdCharge,
    /// Into the melt.
    Late {
        /// How long before pouring, min.
        minutes_before_pouring: f64,
    },
}

impl core::fmt::Display for Amount {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        match self {
            Amount::Mass(mass) => write!(f, "{} g", mass.value()),
            Amount::Tablets { count, each_g } => write!(f, "{count} x {} g", each_g.value()),
            Amount::ShareOfFlux(share) => {
                write!(f, "{} of the flux", crate::composition::unit::percent_text(share.value()))
            }
            Amount::Solution { volume_ml, concentration_g_per_l } => {
                write!(f, "{} ml of {} g/l", volume_ml.value(), concentration_g_per_l.value())
            }
        }
    }
}

/// A substance added to sample and flux.
///
/// ```
/// use beadchem::{charge::{Addition, Amount, ReducesTo}, uncertainty::Estimate};
/// let nitrate = Addition::oxidant("NaNO3", Amount::mass_g(1.2)?, ReducesTo::NO)?;
/// let bromide = Addition::release_agent("LiBr", Amount::tablets(1, 0.030)?, Estimate::new(0.5, 0.1)?)?.late(3.0)?;
/// let absorber = Addition::reagent("La2O3", Amount::share_of_flux(0.1)?)?;
/// # Ok::<(), beadchem::Error>(())
/// ```
#[derive(Debug, Clone, PartialEq)]
pub struct Addition {
    pub(crate) species: Formula,
    pub(crate) amount: Amount,
    pub(crate) timing: Timing,
    /// Share of the halogen that stays.
    pub(crate) retained: Option<(Element, Estimate)>,
    pub(crate) reduces_to: Option<ReducesTo>,
    /// What it brings of analytes, g per g as weighed.
    pub(crate) blanks: Vec<(Formula, Estimate)>,
}

impl Addition {
    /// A nitrate, with the route its nitrogen takes: the metal stays as oxide, the nitrogen leaves.
    ///
    /// # Errors
    /// `charge.incomplete` where the substance is not a nitrate of metals (each N with three O);
    /// `addition.refused` for ammonium nitrate; `oxidant.route-missing` without a route; those of [`Formula::parse`].
    ///
    /// ```
    /// use beadchem::charge::{Addition, Amount, ReducesTo};
    /// assert!(Addition::oxidant("NH4NO3", Amount::mass_g(1.0)?, ReducesTo::N2).is_err());
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    pub fn oxidant(species: &str, amount: Amount, reduces_to: impl Into<Option<ReducesTo>>) -> Result<Self> {
        let species = Formula::parse(species)?;
        refuse_in_platinum(&species)?;
        if holds_ammonium(&species) {
            return Err(refused(
                format!("{species} is not offered as an oxidant."),
                "Ammonium nitrate can explode; take a nitrate of sodium, lithium, potassium, strontium or barium.",
            ));
        }
        if !is_nitrate(&species) {
            return Err(Error::Unstated {
                code: Code::ChargeIncomplete,
                quantity: format!("How {species} oxidises"),
                hint: "Known as oxidants are the nitrates of metals; add another substance as a reagent.".to_owned(),
            });
        }
        let Some(reduces_to) = reduces_to.into() else {
            let routes: Vec<String> = ReducesTo::all()
                .iter()
                .map(|route| format!("{} ({})", route.word(), route.oxygen_per_nitrate()))
                .collect();
            return Err(Error::Unstated {
                code: Code::RouteMissing,
                quantity: format!("Oxygen yield of {species}"),
                hint: format!("Choose what its nitrogen is reduced to (O per nitrate): {}.", routes.join(", ")),
            });
        };
        Ok(Self {
            species,
            amount,
            timing: Timing::ColdCharge,
            retained: None,
            reduces_to: Some(reduces_to),
            blanks: Vec::new(),
        })
    }

    /// A halide that keeps the melt from sticking, with the share of its halogen that is still in the glass.
    ///
    /// Its metal stays as oxide; ammonium leaves. The share depends on dose, time and temperature: it is asked for.
    ///
    /// # Errors
    /// `charge.incomplete` where the substance holds no halogen; `number.out-of-range` for a share outside 0 to 1;
    /// those of [`Formula::parse`].
    ///
    /// ```
    /// use beadchem::charge::{Addition, Amount};
    /// assert!(Addition::release_agent("NaCl", Amount::mass_g(0.02)?, 50.0).is_err()); // percent given for a share
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    pub fn release_agent(species: &str, amount: Amount, retained: impl Into<Estimate>) -> Result<Self> {
        let (species, retained) = (Formula::parse(species)?, retained.into());
        let halogen = species.atoms().iter().map(|(element, _)| *element).find(|element| is_halogen(*element));
        let Some(halogen) = halogen else {
            return Err(Error::Unstated {
                code: Code::ChargeIncomplete,
                quantity: format!("The halogen of {species}"),
                hint: "A release agent is a bromide or iodide, seldom a chloride.".to_owned(),
            });
        };
        if species.count(Element::O) > species.count(Element::H) / 2.0 {
            return Err(refused(
                format!("{species} holds oxygen beyond hydrate water and is not offered as a release agent."),
                "Chlorates, iodates and their like oxidise violently; take a bromide or iodide.",
            ));
        }
        share(&format!("Retained share of {}", halogen.symbol()), retained.value())?;
        let others = species.atoms().iter().filter(|(element, _)| is_halogen(*element)).count();
        if others > 1 {
            return Err(Error::Unstated {
                code: Code::ChargeIncomplete,
                quantity: format!("Which halogen of {species} the retained share is of"),
                hint: "Add a substance with one halogen.".to_owned(),
            });
        }
        if let Some(total) = amount.total_g() {
            Mass::ReleaseAgent.check(total.into())?;
        }
        let retained = Some((halogen, retained));
        Ok(Self { species, amount, timing: Timing::ColdCharge, retained, reduces_to: None, blanks: Vec::new() })
    }

    /// Anything else that stays as its oxide, carbonates included: heavy absorber, internal standard, lithium carbonate.
    ///
    /// # Errors
    /// `addition.refused` for peroxides and alkali hydroxides; `charge.incomplete` where it holds a nitrate (that is an
    /// oxidant, and needs a route), a halogen (that is a release agent, and needs its retained share) or sulfur (a sulfate); those of
    /// [`Formula::parse`].
    ///
    /// ```
    /// use beadchem::charge::{Addition, Amount};
    /// assert!(Addition::reagent("Na2O2", Amount::mass_g(0.5)?).is_err());
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    pub fn reagent(species: &str, amount: Amount) -> Result<Self> {
        let species = Formula::parse(species)?;
        refuse_in_platinum(&species)?;
        refuse_volatile(&species)?;
        Ok(Self { species, amount, timing: Timing::ColdCharge, retained: None, reduces_to: None, blanks: Vec::new() })
    }

    /// A sulfate, with the share of its sulfur that stays as SO3; the rest leaves as SO2.
    ///
    /// # Errors
    /// `charge.incomplete` where the substance is no sulfate of metals (each S with four O); `number.out-of-range` for a
    /// share outside 0 to 1; those of [`Formula::parse`].
    ///
    /// ```
    /// use beadchem::charge::{Addition, Amount};
    /// assert!(Addition::sulfate("K2SO4", Amount::mass_g(0.1)?, 1.0).is_ok());
    /// assert!(Addition::reagent("K2SO4", Amount::mass_g(0.1)?).is_err()); // what becomes of its sulfur?
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    pub fn sulfate(species: &str, amount: Amount, retained: impl Into<Estimate>) -> Result<Self> {
        let (species, retained, sulfur) = (Formula::parse(species)?, retained.into(), Element::from_symbol("S")?);
        let (s, h, o) = (species.count(sulfur), species.count(Element::H), species.count(Element::O));
        // hydrate water apart; binary sums of small counts
        const ROUNDING: f64 = 1e-9;
        let others = species.atoms().iter().any(|(element, _)| is_halogen(*element) || *element == Element::N);
        if s == 0.0 || others || (o - h / 2.0 - 4.0 * s).abs() > ROUNDING {
            return Err(Error::Unstated {
                code: Code::ChargeIncomplete,
                quantity: format!("The sulfate of {species}"),
                hint: "A sulfate of metals holds four oxygens per sulfur.".to_owned(),
            });
        }
        share("Retained share of S", retained.value())?;
        let retained = Some((sulfur, retained));
        Ok(Self { species, amount, timing: Timing::ColdCharge, retained, reduces_to: None, blanks: Vec::new() })
    }

    /// The same added to the melt, so many minutes before pouring.
    ///
    /// # Errors
    /// `number.out-of-range` outside 0 to 120 min.
    ///
    /// ```
    /// use beadchem::charge::{Addition, Amount, Timing};
    /// let late = Addition::release_agent("NH4I", Amount::tablets(1, 0.02)?, 0.6)?.late(3.0)?;
    /// assert_eq!(late.timing(), Timing::Late { minutes_before_pouring: 3.0 });
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    pub fn late(mut self, minutes_before_pouring: f64) -> Result<Self> {
        let hint = "Minutes are meant.";
        crate::error::within("Time before pouring", minutes_before_pouring, "min", [0.0, 120.0], "0-120 min", hint)?;
        self.timing = Timing::Late { minutes_before_pouring };
        Ok(self)
    }

    /// With an analyte that it brings, g per g of the addition as weighed; all of it stays.
    ///
    /// # Errors
    /// As [`FluxLot::with_blank`](crate::charge::FluxLot::with_blank).
    ///
    /// ```
    /// use beadchem::charge::{Addition, Amount};
    /// let absorber = Addition::reagent("La2O3", Amount::mass_g(0.5)?)?.with_blank("SiO2", 0.0004)?;
    /// assert_eq!(absorber.blanks().len(), 1);
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    pub fn with_blank(mut self, species: &str, content: impl Into<Estimate>) -> Result<Self> {
        let held = blank(species, content.into(), self.species.text(), &self.blanks)?;
        self.blanks.push(held);
        Ok(self)
    }

    /// What it brings of analytes, g per g as weighed.
    ///
    /// ```
    /// # use beadchem::charge::{Addition, Amount};
    /// assert!(Addition::reagent("La2O3", Amount::mass_g(0.5)?)?.blanks().is_empty());
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn blanks(&self) -> &[(Formula, Estimate)] {
        &self.blanks
    }

    /// What is added.
    ///
    /// ```
    /// # use beadchem::charge::{Addition, Amount};
    /// assert_eq!(Addition::reagent("La2O3", Amount::mass_g(0.5)?)?.species().text(), "La2O3");
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn species(&self) -> &Formula {
        &self.species
    }

    /// How it was dosed.
    ///
    /// ```
    /// # use beadchem::charge::{Addition, Amount};
    /// assert_eq!(Addition::reagent("La2O3", Amount::mass_g(0.5)?)?.amount(), &Amount::mass_g(0.5)?);
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn amount(&self) -> &Amount {
        &self.amount
    }

    /// When it went in.
    ///
    /// ```
    /// # use beadchem::charge::{Addition, Amount, Timing};
    /// assert_eq!(Addition::reagent("La2O3", Amount::mass_g(0.5)?)?.timing(), Timing::ColdCharge);
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn timing(&self) -> Timing {
        self.timing
    }

    /// The route of a nitrate.
    ///
    /// ```
    /// # use beadchem::charge::{Addition, Amount, ReducesTo};
    /// let nitrate = Addition::oxidant("NaNO3", Amount::mass_g(1.2)?, ReducesTo::NO)?;
    /// assert_eq!(nitrate.reduces_to(), Some(ReducesTo::NO));
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn reduces_to(&self) -> Option<ReducesTo> {
        self.reduces_to
    }

    /// Holds ammonium: nitrogen and hydrogen.
    pub(crate) fn is_ammonium(&self) -> bool {
        holds_ammonium(&self.species)
    }
}

/// Nitrogen and hydrogen that is not the hydrate water of a metal nitrate.
fn holds_ammonium(species: &Formula) -> bool {
    species.count(Element::N) > 0.0 && species.count(Element::H) > 0.0 && !is_nitrate(species)
}

/// A nitrate of metals: three oxygens per nitrogen, beside hydrate water.
fn is_nitrate(species: &Formula) -> bool {
    let (n, h, o) = (species.count(Element::N), species.count(Element::H), species.count(Element::O));
    n > 0.0 && (o - h / 2.0 - 3.0 * n).abs() < 1e-9 && species.atoms().len() > 2
}

fn refused(detail: String, hint: &str) -> Error {
    Error::Conflict { code: Code::AdditionRefused, detail, hint: hint.to_owned() }
}

/// What a flux or a plain reagent may not hold, since its way through the fusion would have to be assumed.
pub(crate) fn refuse_volatile(species: &Formula) -> Result<()> {
    let holds = |symbol: &str| species.atoms().iter().any(|(element, _)| element.symbol() == symbol);
    let needs = if holds("N") {
        ("the route of its nitrogen", "Add it as an oxidant, by mass or as a share of the flux.")
    } else if species.atoms().iter().any(|(element, _)| is_halogen(*element)) {
        ("the share of its halogen that stays", "Add it as a release agent, by mass or as a share of the flux.")
    } else if holds("S") {
        ("the share of its sulfur that stays", "Add it as a sulfate, by mass or as a share of the flux.")
    } else {
        return Ok(());
    };
    Err(Error::Unstated {
        code: Code::ChargeIncomplete,
        quantity: format!("For {species}, {}", needs.0),
        hint: needs.1.to_owned(),
    })
}

/// Alkali peroxides and hydroxides attack platinum; no override.
fn refuse_in_platinum(species: &Formula) -> Result<()> {
    let charge_of = |element: Element| match element.symbol() {
        "Li" | "Na" | "K" | "Rb" | "Cs" => Some(1.0),
        "Mg" | "Ca" | "Sr" | "Ba" => Some(2.0),
        "O" | "H" => Some(0.0),
        _ => None,
    };
    let charges: Option<Vec<f64>> =
        species.atoms().iter().map(|(element, count)| charge_of(*element).map(|charge| charge * count)).collect();
    let Some(charges) = charges else { return Ok(()) };
    let metals: f64 = charges.iter().sum();
    let (o, h) = (species.count(Element::O), species.count(Element::H));
    if metals > 0.0 && 2.0 * o > metals + h {
        return Err(refused(
            format!("{species} is a peroxide and is refused in platinum."),
            "It attacks the crucible and reacts violently with reduced matter; take a nitrate, or another crucible and \
             a method of its own.",
        ));
    }
    let alkali = species.atoms().iter().any(|(element, _)| charge_of(*element) == Some(1.0));
    if alkali && h > 0.0 && o > 0.0 {
        return Err(refused(
            format!("{species} is an alkali hydroxide and is refused in platinum."),
            "Molten alkali hydroxide attacks platinum; take the carbonate.",
        ));
    }
    Ok(())
}
