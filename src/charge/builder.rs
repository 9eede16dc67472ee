//! What lies in the crucible before fusion, and the step that fuses it.

use serde::{Deserialize, Serialize};
use serde_json::Value;

use crate::charge::addition::{Addition, Amount, Timing};
use crate::charge::compile::Loss;
use crate::charge::fate::{Fate, ReducesTo, is_halogen};
use crate::charge::flux::{Flux, FluxLot};
use crate::charge::flux_document::{BlankBody, FluxLotBody};
use crate::charge::melt::Melt;
use crate::charge::sample::Sample;
use crate::charge::{caution, plan::Plan};
use crate::code::Code;
use crate::composition::unit::{percent_text, within_percent};
use crate::composition::{Basis, Composition, CompositionBody, PerDried, signed_loss};
use crate::document::{Document, no_migration};
use crate::error::{Error, Result};
use crate::substance::{Formula, Weights};
use crate::uncertainty::Estimate;

/// Sample, flux and additions as weighed.
///
/// ```
/// use beadchem::charge::{Addition, Amount, Charge, FluxLot, ReducesTo, Sample};
/// let lot = FluxLot::new("F-118", [("Li2B4O7", 50.0), ("LiBO2", 50.0)], "1050 C, 18 min", 0.0038)?;
/// let charge = Charge::new(Sample::dried(0.8004)?, lot.weigh_g(8.0021)?)?
///     .with(Addition::oxidant("NaNO3", Amount::mass_g(1.2)?, ReducesTo::NO)?)?;
/// assert_eq!(charge.additions().len(), 1);
/// # Ok::<(), beadchem::Error>(())
/// ```
#[derive(Debug, Clone, PartialEq)]
pub struct Charge {
    sample: Sample,
    flux: Flux,
    additions: Vec<Addition>,
}

impl Charge {
    /// Sample and flux, nothing else yet.
    ///
    /// # Errors
    /// None today; kept fallible for checks of the two against each other.
    ///
    /// ```
    /// use beadchem::charge::{Charge, FluxLot, Sample};
    /// let lot = FluxLot::new("F-1", [("LiBO2", 1.0)], "1050 C, 18 min", 0.003)?;
    /// let charge = Charge::new(Sample::dried(0.8)?, lot.weigh_g(8.0)?)?;
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    pub fn new(sample: Sample, flux: Flux) -> Result<Self> {
        Ok(Self { sample, flux, additions: Vec::new() })
    }

    /// With a further addition.
    ///
    /// # Errors
    /// `addition.refused` where ammonium would lie in the cold charge with nitrate or oxidisable matter;
    /// `number.out-of-range` where the shares mixed into the flux leave no flux.
    ///
    /// ```
    /// use beadchem::charge::{Addition, Amount, Charge, FluxLot, ReducesTo, Sample};
    /// let lot = FluxLot::new("F-1", [("LiBO2", 1.0)], "1050 C, 18 min", 0.003)?;
    /// let charge = Charge::new(Sample::dried(0.8)?, lot.weigh_g(8.0)?)?
    ///     .with(Addition::oxidant("NaNO3", Amount::mass_g(1.2)?, ReducesTo::NO)?)?;
    /// let ammonium = Addition::release_agent("NH4I", Amount::tablets(1, 0.02)?, 0.6)?;
    /// assert!(charge.clone().with(ammonium.clone()).is_err()); // never into the same cold charge
    /// assert!(charge.with(ammonium.late(3.0)?).is_ok());
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    pub fn with(mut self, addition: Addition) -> Result<Self> {
        self.additions.push(addition);
        let mixed_in: f64 = self
            .additions
            .iter()
            .map(|addition| match &addition.amount {
                Amount::ShareOfFlux(share) => share.value(),
                _ => 0.0,
            })
            .sum();
        let hint = "Each share refers to the flux as weighed.";
        within_percent("Sum of the shares of the flux", mixed_in, [0.0, 0.9], hint)?;
        caution::refuse_ammonium(&self)?;
        Ok(self)
    }

    /// The sample.
    ///
    /// ```
    /// # use beadchem::charge::{Charge, FluxLot, Sample};
    /// # let lot = FluxLot::new("F-1", [("LiBO2", 1.0)], "1050 C, 18 min", 0.003)?;
    /// assert_eq!(Charge::new(Sample::dried(0.8)?, lot.weigh_g(8.0)?)?.sample().mass_g().value(), 0.8);
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn sample(&self) -> &Sample {
        &self.sample
    }

    /// The flux.
    ///
    /// ```
    /// # use beadchem::charge::{Charge, FluxLot, Sample};
    /// # let lot = FluxLot::new("F-1", [("LiBO2", 1.0)], "1050 C, 18 min", 0.003)?;
    /// assert_eq!(Charge::new(Sample::dried(0.8)?, lot.weigh_g(8.0)?)?.flux().lot().name(), "F-1");
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn flux(&self) -> &Flux {
        &self.flux
    }

    /// The additions in the order given.
    ///
    /// ```
    /// # use beadchem::charge::{Charge, FluxLot, Sample};
    /// # let lot = FluxLot::new("F-1", [("LiBO2", 1.0)], "1050 C, 18 min", 0.003)?;
    /// assert!(Charge::new(Sample::dried(0.8)?, lot.weigh_g(8.0)?)?.additions().is_empty());
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn additions(&self) -> &[Addition] {
        &self.additions
    }

    /// Fuses a sample of known composition: what stays and what leaves follows element by element.
    ///
    /// `m_b = m_s (1 - L_fus) + m_f (1 - l_f) + sum m_k r_k`, with L_fus from the species of the sample and the fate of
    /// their elements, l_f the flux loss, r_k what stays of addition k.
    ///
    /// # Errors
    /// `charge.incomplete` without a composition; `fate.not-stated` where what an element becomes is a fact of the
    /// laboratory; `melt.not-positive` where no glass would be left.
    ///
    /// # Source
    /// Conservation of mass by element; common practice.
    ///
    /// ```
    /// use beadchem::{charge::{Charge, Fate, FluxLot, Sample}, composition::{Basis, Composition}, substance::Weights};
    /// let lot = FluxLot::new("F-1", [("Li2B4O7", 1.0)], "1050 C, 18 min", 0.0)?;
    /// let marble = Composition::new(Basis::Dried).with("CaMg(CO3)2", 1.0)?;
    /// let charge = Charge::new(Sample::dried(1.0)?.made_of(marble)?, lot.weigh_g(6.0)?)?;
    /// let melt = charge.fuse(&Weights::ciaaw_2024(), &Fate::new())?;
    /// assert_eq!(format!("{:.4}", melt.loss_on_fusion()), "0.4773");
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    pub fn fuse(&self, weights: &Weights, fate: &Fate) -> Result<Melt> {
        self.fuse_by(weights, Loss::FromComposition(fate.clone()))
    }

    /// Fuses with a stated loss on fusion, as a signed fraction of the sample as weighed.
    ///
    /// This is the loss in the crucible, not the loss on ignition: for sulfides, fluorides and manganese ores they
    /// differ by several per cent.
    ///
    /// # Errors
    /// `number.out-of-range` outside -150 % to 100 %; `melt.not-positive` where no glass would be left.
    ///
    /// ```
    /// use beadchem::{charge::{Charge, FluxLot, Sample}, substance::Weights};
    /// let lot = FluxLot::new("F-1", [("Li2B4O7", 1.0)], "1050 C, 18 min", 0.004)?;
    /// let charge = Charge::new(Sample::dried(1.05)?, lot.weigh_g(6.0)?)?;
    /// let melt = charge.fuse_with_loss(&Weights::ciaaw_2024(), 0.431)?;
    /// assert_eq!(format!("{:.3}", melt.dilution().value()), "6.260");
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    pub fn fuse_with_loss(&self, weights: &Weights, loss_on_fusion: impl Into<Estimate>) -> Result<Melt> {
        let loss = loss_on_fusion.into();
        signed_loss("Loss on fusion", &loss)?;
        self.fuse_by(weights, Loss::Stated(loss))
    }

    /// Fuses with the loss of the furnace: from the sample as weighed to the ignited one.
    pub(crate) fn fuse_as_on_ignition(&self, weights: &Weights, weighed_and_ignited: [PerDried; 2]) -> Result<Melt> {
        self.fuse_by(weights, Loss::AsOnIgnition(weighed_and_ignited))
    }

    /// The same charge with its sample taken for weighed on another basis, nothing known of what it is made of.
    pub(crate) fn weighed_on(&self, basis: Basis) -> Result<Self> {
        let sample = Sample::new(self.sample.mass_g().clone(), basis)?;
        Ok(Self { sample, ..self.clone() })
    }

    /// The same charge with as much flux of another lot.
    pub(crate) fn with_lot(&self, lot: &FluxLot) -> Result<Self> {
        let flux = lot.weigh_g(self.flux.mass_g().clone())?;
        Ok(Self { flux, ..self.clone() })
    }

    pub(crate) fn fuse_by(&self, weights: &Weights, loss: Loss) -> Result<Melt> {
        let plan = Plan::new(self, weights, &loss, None, None)?;
        let mut findings = plan.findings.clone();
        findings.extend(caution::cautions(self, &loss));
        Melt::new(self.clone(), weights.clone(), loss, plan, findings)
    }

    /// Refuses a melt without glass, naming the masses.
    pub(crate) fn refuse_empty(&self, glass: f64) -> Error {
        Error::NotPositive {
            code: Code::MeltNotPositive,
            quantity: "Glass mass".to_owned(),
            value: glass,
            unit: "g",
            bound: "A melt must hold glass".to_owned(),
            hint: format!(
                "check the losses stated for {} g of sample and {} g of flux (flux loss {} beside what its formula gives off).",
                self.sample.mass_g().value(),
                self.flux.mass_g().value(),
                percent_text(self.flux.lot().loss().value())
            ),
        }
    }
}

/// The stored form of a charge.
///
/// ```
/// use beadchem::{charge::{Charge, FluxLot, Sample}, document::Document};
/// let lot = FluxLot::new("F-1", [("LiBO2", 1.0)], "1050 C", 0.003)?;
/// let charge = Charge::new(Sample::dried(0.8)?, lot.weigh_g(8.0)?)?;
/// assert_eq!(Charge::from_body(charge.to_body())?, charge);
/// # Ok::<(), beadchem::Error>(())
/// ```
#[derive(Debug, Clone, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct ChargeBody {
    sample_mass_g: Estimate,
    sample_basis: Basis,
    #[serde(skip_serializing_if = "Option::is_none", default)]
    composition: Option<CompositionBody>,
    flux_lot: FluxLotBody,
    flux_mass_g: Estimate,
    #[serde(skip_serializing_if = "Vec::is_empty", default)]
    additions: Vec<AdditionBody>,
}

#[derive(Debug, Clone, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct AdditionBody {
    species: String,
    amount: Amount,
    timing: Timing,
    #[serde(skip_serializing_if = "Option::is_none", default)]
    retained: Option<Estimate>,
    #[serde(skip_serializing_if = "Option::is_none", default)]
    reduces_to: Option<ReducesTo>,
    #[serde(skip_serializing_if = "Vec::is_empty", default)]
    blanks: Vec<BlankBody>,
}

impl Document for Charge {
    const KIND: &'static str = "charge";
    const SCHEMA: u32 = 2;
    type Body = ChargeBody;
    fn to_body(&self) -> ChargeBody {
        ChargeBody {
            sample_mass_g: self.sample.mass_g().clone(),
            sample_basis: self.sample.basis(),
            composition: self.sample.composition().map(Document::to_body),
            flux_lot: self.flux.lot().to_body(),
            flux_mass_g: self.flux.mass_g().clone(),
            additions: self
                .additions
                .iter()
                .map(|addition| AdditionBody {
                    species: addition.species.text().to_owned(),
                    amount: addition.amount.clone(),
                    timing: addition.timing,
                    retained: addition.retained.as_ref().map(|(_, share)| share.clone()),
                    reduces_to: addition.reduces_to,
                    blanks: addition.blanks.iter().map(BlankBody::of).collect(),
                })
                .collect(),
        }
    }
    fn from_body(body: ChargeBody) -> Result<Self> {
        let mut sample = Sample::new(body.sample_mass_g, body.sample_basis)?;
        if let Some(composition) = body.composition {
            sample = sample.made_of(Composition::from_body(composition)?)?;
        }
        let flux = FluxLot::from_body(body.flux_lot)?.weigh_g(body.flux_mass_g)?;
        body.additions.into_iter().try_fold(Charge::new(sample, flux)?, |charge, held| {
            let amount = held.amount.checked()?;
            let addition = match (held.reduces_to, held.retained) {
                (Some(_), Some(_)) => {
                    return Err(Error::Conflict {
                        code: Code::DocumentMalformed,
                        detail: format!("{} has a route and a retained share.", held.species),
                        hint: "An oxidant has a route, a release agent or sulfate a retained share.".to_owned(),
                    });
                }
                (Some(route), None) => Addition::oxidant(&held.species, amount, route)?,
                // the share is of the halogen where there is one, as in S2Br2
                (None, Some(retained))
                    if !Formula::parse(&held.species)?.atoms().iter().any(|(e, _)| is_halogen(*e)) =>
                {
                    Addition::sulfate(&held.species, amount, retained)?
                }
                (None, Some(retained)) => Addition::release_agent(&held.species, amount, retained)?,
                (None, None) => Addition::reagent(&held.species, amount)?,
            };
            let addition = held
                .blanks
                .into_iter()
                .try_fold(addition, |addition, blank| addition.with_blank(&blank.species, blank.content))?;
            charge.with(match held.timing {
                Timing::ColdCharge => addition,
                Timing::Late { minutes_before_pouring } => addition.late(minutes_before_pouring)?,
            })
        })
    }
    /// Schema 1 held a flux lot of its schema 1.
    fn migrate(schema: u32, mut body: Value) -> Result<Value> {
        if schema != 1 {
            return Err(no_migration::<Self>(schema));
        }
        if let Some(lot) = body.get_mut("flux_lot") {
            *lot = FluxLot::migrate(1, lot.take())?;
        }
        Ok(body)
    }
}
