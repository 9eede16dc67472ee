//! The fused charge: bead mass, three ratios, predicted glass, and the way back from the glass to the sample.

use crate::charge::adjust::Adjusted;
use crate::charge::builder::Charge;
use crate::charge::caution::oxidisable_in;
use crate::charge::compile::Loss;
use crate::charge::flux::FluxLot;
use crate::charge::form::Form;
use crate::charge::kernel::{DILUTION, FIXED, FLUX_RATIO, FUSED_FLUX_RATIO, GLASS_MASS, LOSS_ON_FUSION};
use crate::charge::ledger::Ledger;
use crate::charge::plan::{Adjustment, Order, Plan};
use crate::charge::ratio::{Dilution, FluxRatio, FusedFluxRatio};
use crate::charge::result::SampleResult;
use crate::charge::weighed::{BeadMassCheck, Completeness};
use crate::code::Code;
use crate::composition::{Basis, BasisLinks, Composition};
use crate::error::{Error, Result};
use crate::finding::Finding;
use crate::matrix::order::LineOrder;
use crate::substance::Weights;
use crate::uncertainty::{Budget, Estimate, Propagated};

/// Below 1.5 sample and flux are most often swapped; above 200 a mass is mistyped (common practice).
pub(crate) const USUAL_FLUX_RATIO: core::ops::RangeInclusive<f64> = 1.5..=200.0;

/// A fused charge.
///
/// ```
/// use beadchem::{charge::{Charge, FluxLot, Sample}, substance::Weights, uncertainty::Estimate};
/// let lot = FluxLot::new("F-1", [("Li2B4O7", 1.0)], "1050 C, 18 min", Estimate::new(0.004, 0.0003)?)?;
/// let charge = Charge::new(Sample::dried(0.8012)?, lot.weigh_g(8.0040)?)?;
/// let melt = charge.fuse_with_loss(&Weights::ciaaw_2024(), 0.275)?;
/// assert_eq!(format!("{:.3}", melt.bead_mass_g()), "8.553");
/// # Ok::<(), beadchem::Error>(())
/// ```
#[derive(Debug, Clone)]
pub struct Melt {
    charge: Charge,
    weights: Weights,
    loss: Loss,
    plan: Plan,
    propagated: Propagated,
    findings: Vec<Finding>,
    adjustment: Option<Adjustment>,
}

impl Melt {
    pub(crate) fn new(
        charge: Charge,
        weights: Weights,
        loss: Loss,
        plan: Plan,
        findings: Vec<Finding>,
    ) -> Result<Self> {
        let out = plan.once();
        if out.trouble {
            return Err(charge.refuse_empty(out.values[GLASS_MASS]));
        }
        // What gases take out of the melt beyond this share of the glass is not rounding.
        const ROUNDING: f64 = 1e-12;
        for (&(place, _), &content) in plan.kernel.glass.iter().zip(&out.values[FIXED..]) {
            let carried = plan.kernel.gases.iter().any(|gas| gas.carriers.iter().any(|&(carrier, _)| carrier == place));
            if carried && content < -ROUNDING {
                return Err(Error::Conflict {
                    code: Code::MeltNotPositive,
                    detail: format!("The gases take more {} than the charge holds.", plan.elements[place].name()),
                    hint: "State a gas whose other elements the charge holds, or that more of the first one stays."
                        .to_owned(),
                });
            }
        }
        let propagated = plan.propagate()?.bounded()?;
        let mut melt = Self { charge, weights, loss, plan, propagated, findings, adjustment: None };
        melt.judge();
        Ok(melt)
    }

    /// Findings on the melt as a whole.
    fn judge(&mut self) {
        let ratio = self.flux_ratio().value();
        if !USUAL_FLUX_RATIO.contains(&ratio) {
            let text = format!("Flux ratio {ratio:.2} : 1. Sample and flux may be swapped, or a mass mistyped.");
            self.findings.push(Finding::new(Code::FluxRatioUnusual, "flux ratio", text).with_value(ratio));
        }
        // A milligram of oxygen is more than roasting of traces takes.
        const NOTABLE_G: f64 = 0.001;
        let Some(reduced) = oxidisable_in(&self.charge) else { return };
        let oxygen = self.ledger().oxygen;
        if oxygen.from_air_g > NOTABLE_G {
            let text = format!(
                "Oxidising {reduced} and the rest takes {:.3} g oxygen, the oxidant hands over {:.3} g; the other {:.3} g \
                 were taken from the air, which may be too slow to protect the platinum.",
                oxygen.demand_g, oxygen.from_oxidant_g, oxygen.from_air_g
            );
            let finding = Finding::new(Code::OxygenFromAir, "oxygen", text);
            self.findings.push(finding.with_value(oxygen.from_air_g).with_bound(NOTABLE_G));
        }
    }

    /// Predicted mass of the glass, g.
    ///
    /// ```
    /// # use beadchem::{charge::{Charge, FluxLot, Sample}, substance::Weights};
    /// # let lot = FluxLot::new("F-1", [("Li2B4O7", 1.0)], "1050 C, 18 min", 0.0)?;
    /// let melt = Charge::new(Sample::dried(0.4)?, lot.weigh_g(3.6)?)?.fuse_with_loss(&Weights::ciaaw_2024(), 0.0)?;
    /// assert!((melt.bead_mass_g() - 4.0).abs() < 1e-12);
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn bead_mass_g(&self) -> f64 {
        self.propagated.value(GLASS_MASS)
    }

    /// Loss in the fusion as a signed fraction of the sample as weighed.
    ///
    /// ```
    /// # use beadchem::{charge::{Charge, FluxLot, Sample}, substance::Weights};
    /// # let lot = FluxLot::new("F-1", [("Li2B4O7", 1.0)], "1050 C, 18 min", 0.0)?;
    /// let melt = Charge::new(Sample::dried(0.4)?, lot.weigh_g(3.6)?)?.fuse_with_loss(&Weights::ciaaw_2024(), 0.25)?;
    /// assert!((melt.loss_on_fusion() - 0.25).abs() < 1e-12);
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn loss_on_fusion(&self) -> f64 {
        self.propagated.value(LOSS_ON_FUSION)
    }

    /// R, flux as weighed per sample as weighed.
    ///
    /// ```
    /// # use beadchem::{charge::{Charge, FluxLot, Sample}, substance::Weights};
    /// # let lot = FluxLot::new("F-1", [("Li2B4O7", 1.0)], "1050 C, 18 min", 0.0)?;
    /// let melt = Charge::new(Sample::dried(0.4)?, lot.weigh_g(3.6)?)?.fuse_with_loss(&Weights::ciaaw_2024(), 0.0)?;
    /// assert!((melt.flux_ratio().value() - 9.0).abs() < 1e-12);
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn flux_ratio(&self) -> FluxRatio {
        let (value, u, at_least) = self.ratio(FLUX_RATIO);
        FluxRatio { value, u, at_least }
    }

    /// F, flux after its loss per sample as weighed; what was mixed into the flux is not counted.
    ///
    /// ```
    /// # use beadchem::{charge::{Charge, FluxLot, Sample}, substance::Weights};
    /// # let lot = FluxLot::new("F-1", [("Li2B4O7", 1.0)], "1050 C, 18 min", 0.004)?;
    /// let melt = Charge::new(Sample::dried(0.4)?, lot.weigh_g(4.0)?)?.fuse_with_loss(&Weights::ciaaw_2024(), 0.0)?;
    /// assert!((melt.fused_flux_ratio().value() - 9.96).abs() < 1e-12);
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn fused_flux_ratio(&self) -> FusedFluxRatio {
        let (value, u, at_least) = self.ratio(FUSED_FLUX_RATIO);
        FusedFluxRatio { value, u, at_least }
    }

    /// D, glass per sample as weighed.
    ///
    /// ```
    /// # use beadchem::{charge::{Charge, FluxLot, Sample}, substance::Weights};
    /// # let lot = FluxLot::new("F-1", [("Li2B4O7", 1.0)], "1050 C, 18 min", 0.0)?;
    /// let melt = Charge::new(Sample::dried(0.4)?, lot.weigh_g(3.6)?)?.fuse_with_loss(&Weights::ciaaw_2024(), 0.0)?;
    /// assert!((melt.dilution().value() - 10.0).abs() < 1e-12);
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn dilution(&self) -> Dilution {
        let (value, u, at_least) = self.ratio(DILUTION);
        Dilution { value, u, at_least }
    }

    /// Predicted composition of the glass, as far as its parts are known: from flux and additions always, from the
    /// sample where its composition was given. Halogens stand as elements; each takes the place of oxygen in the oxides.
    ///
    /// # Errors
    /// None for a melt that could be computed; kept fallible for the constructors.
    ///
    /// ```
    /// use beadchem::{charge::{Charge, Fate, FluxLot, Sample}, composition::{Basis, Composition}, substance::Weights};
    /// let lot = FluxLot::new("F-1", [("Li2B4O7", 1.0)], "1050 C, 18 min", 0.0)?;
    /// let sand = Sample::dried(1.0)?.made_of(Composition::new(Basis::Dried).with("SiO2", 1.0)?)?;
    /// let melt = Charge::new(sand, lot.weigh_g(9.0)?)?.fuse(&Weights::ciaaw_2024(), &Fate::new())?;
    /// let silica = melt.glass()?.get("SiO2").unwrap().value().unwrap().value();
    /// assert!((silica - 0.1).abs() < 1e-12);
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    pub fn glass(&self) -> Result<Composition> {
        let names = &self.plan.glass;
        names.iter().enumerate().try_fold(Composition::new(Basis::Bead), |glass, (k, species)| {
            let estimate = self.propagated.estimate(FIXED + k)?;
            glass.with_form(species.text(), estimate)
        })
    }

    fn ratio(&self, output: usize) -> (f64, f64, bool) {
        let at_least = !self.propagated.unstated(output).is_empty();
        (self.propagated.value(output), self.propagated.u(output), at_least)
    }

    /// Where every element and all oxygen came from and went.
    ///
    /// ```
    /// # use beadchem::{charge::{Charge, FluxLot, Sample}, substance::Weights};
    /// # let lot = FluxLot::new("F-1", [("Li2B4O7", 1.0)], "1050 C, 18 min", 0.0)?;
    /// let melt = Charge::new(Sample::dried(0.4)?, lot.weigh_g(3.6)?)?.fuse_with_loss(&Weights::ciaaw_2024(), 0.0)?;
    /// assert!(melt.ledger().imbalance_g().abs() < 1e-12);
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn ledger(&self) -> Ledger {
        Ledger::of(self)
    }

    /// The sample from readings of the glass: evaluation (b), glass mass fractions known independently of the weighings.
    ///
    /// `w = (C D - brought) / kept`: C the reading, D glass per sample, brought what flux and additions put in per gram
    /// of sample, kept the share of the element that stayed. Results stand on the basis of the weighing, in the form of
    /// the readings; [`SampleResult::on`] changes both.
    ///
    /// # Errors
    /// `basis.mismatch` where the readings are not on the basis of the bead; `analyte.lost` where an element read was
    /// declared to leave entirely.
    ///
    /// ```
    /// use beadchem::{charge::{Charge, FluxLot, Sample}, composition::{Basis, Composition}, substance::Weights};
    /// let lot = FluxLot::new("F-1", [("Li2B4O7", 1.0)], "1050 C, 18 min", 0.004)?;
    /// let melt = Charge::new(Sample::dried(1.05)?, lot.weigh_g(6.0)?)?.fuse_with_loss(&Weights::ciaaw_2024(), 0.431)?;
    /// let sample = melt.undilute(&Composition::new(Basis::Bead).with("CaO", 0.0866)?)?;
    /// assert_eq!(format!("{:.4}", sample.value("CaO")?), "0.5422");
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    pub fn undilute(&self, readings: &Composition) -> Result<SampleResult> {
        if readings.basis() != Basis::Bead {
            return Err(Error::Conflict {
                code: Code::BasisMismatch,
                detail: format!("The readings are {}, not of the bead.", readings.basis()),
                hint: "Undiluting starts from mass fractions in the glass.".to_owned(),
            });
        }
        let (links, form) = (BasisLinks::default(), Form::AsRead);
        SampleResult::compute(self, Order { readings: readings.clone(), lines: None, basis: None, links, form })
    }

    /// The sample from intensities of the bead: evaluation (a).
    pub(crate) fn solve(&self, lines: LineOrder) -> Result<SampleResult> {
        SampleResult::compute(self, Order::of_lines(lines)?)
    }

    /// Where the uncertainty of an output of the melt comes from ("bead mass", "dilution", ...).
    ///
    /// # Errors
    /// `species.unknown`; the message lists the outputs.
    ///
    /// ```
    /// # use beadchem::{charge::{Charge, FluxLot, Sample}, substance::Weights, uncertainty::Estimate};
    /// # let lot = FluxLot::new("F-1", [("Li2B4O7", 1.0)], "1050 C, 18 min", Estimate::new(0.0, 0.0003)?)?;
    /// let melt = Charge::new(Sample::dried(0.4)?, lot.weigh_g(3.6)?)?.fuse_with_loss(&Weights::ciaaw_2024(), 0.0)?;
    /// assert_eq!(melt.budget("dilution")?.rows()[0].name, "flux loss of lot F-1");
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    pub fn budget(&self, output: &str) -> Result<Budget> {
        let outputs = self.plan.outputs();
        let place = outputs.iter().position(|name| name == output).ok_or_else(|| Error::Unknown {
            code: Code::SpeciesUnknown,
            what: "Output".to_owned(),
            given: output.to_owned(),
            hint: format!("The outputs are: {}.", outputs.join(", ")),
        })?;
        Ok(self.propagated.budget(place))
    }

    /// A weighed bead held against the prediction, by k times the uncertainty of the difference, with the four ways to read
    /// a difference and what each does to the results. Nothing is known of what stayed in the crucible.
    ///
    /// # Errors
    /// `mass.missing`, `mass.not-positive`, `mass.out-of-range`; `number.out-of-range` for a k not above zero;
    /// `bead-mass.impossible` where the bead weighs more than everything that went in; `bead-mass.not-adjusted` for a melt
    /// that a bead adjusted already.
    ///
    /// ```
    /// use beadchem::{charge::{Charge, FluxLot, Sample}, substance::Weights, uncertainty::Estimate};
    /// let lot = FluxLot::new("F-1", [("Li2B4O7", 1.0)], "1050 C, 18 min", Estimate::new(0.004, 0.0003)?)?;
    /// let melt = Charge::new(Sample::dried(0.8)?, lot.weigh_g(8.0)?)?.fuse_with_loss(&Weights::ciaaw_2024(), 0.02)?;
    /// let check = melt.check_bead_mass(Estimate::new(8.710, 0.0003)?, 4.0)?;
    /// assert_eq!(check.findings.len(), 1); // 42 mg light
    /// assert_eq!(check.readings.len(), 4);
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    pub fn check_bead_mass(&self, weighed_g: impl Into<Estimate>, k: f64) -> Result<BeadMassCheck> {
        self.check_bead_mass_of(weighed_g, &Completeness::NotKnown, k)
    }

    /// The same where it is known what stayed in the crucible.
    ///
    /// # Errors
    /// As [`check_bead_mass`](Self::check_bead_mass).
    ///
    /// ```
    /// use beadchem::charge::{Charge, Completeness, FluxLot, Sample};
    /// use beadchem::{substance::Weights, uncertainty::Estimate};
    /// let lot = FluxLot::new("F-1", [("Li2B4O7", 1.0)], "1050 C, 18 min", Estimate::new(0.004, 0.0003)?)?;
    /// let melt = Charge::new(Sample::dried(0.8)?, lot.weigh_g(8.0)?)?.fuse_with_loss(&Weights::ciaaw_2024(), 0.02)?;
    /// let whole = Completeness::ResidueWeighed { residue_g: Estimate::new(0.0422, 0.0003)? };
    /// let check = melt.check_bead_mass_of(Estimate::new(8.710, 0.0003)?, &whole, 4.0)?;
    /// assert!(check.findings.is_empty()); // the melt is still in the crucible
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    pub fn check_bead_mass_of(
        &self,
        weighed_g: impl Into<Estimate>,
        completeness: &Completeness,
        k: f64,
    ) -> Result<BeadMassCheck> {
        self.refuse_adjusted()?;
        BeadMassCheck::new(self, weighed_g.into(), completeness, k)
    }

    /// Lets a weighed bead adjust flux loss, loss on fusion and retained shares, each by its part in the uncertainty of the
    /// prediction; never the dilution itself, never a weighing.
    ///
    /// `x' = x + cov(x, m_b) / u^2(weighed - m_b) * (weighed - m_b)`; the adjusted melt and all results of it carry the
    /// uncertainty that is left.
    ///
    /// # Errors
    /// `bead-mass.not-adjusted` where the bead is not known to be complete, contradicts the prediction by more than k u
    /// (the four readings are named), or nothing adjustable has a stated uncertainty; those of
    /// [`check_bead_mass`](Self::check_bead_mass).
    ///
    /// # Source
    /// Least-squares adjustment of observations, as in JCGM 102:2011, annex D (from memory).
    ///
    /// ```
    /// use beadchem::charge::{Charge, Completeness, FluxLot, Sample};
    /// use beadchem::{substance::Weights, uncertainty::Estimate};
    /// let lot = FluxLot::new("F-1", [("Li2B4O7", 1.0)], "1050 C, 18 min", Estimate::new(0.004, 0.0003)?)?;
    /// let charge = Charge::new(Sample::dried(Estimate::new(0.8, 0.0001)?)?, lot.weigh_g(Estimate::new(8.0, 0.0001)?)?)?;
    /// let melt = charge.fuse_with_loss(&Weights::ciaaw_2024(), Estimate::exact(0.02)?)?;
    /// let adjusted = melt.adjust(Estimate::new(8.7500, 0.0003)?, &Completeness::CastInCrucible, 4.0)?;
    /// assert!(adjusted.changes[0].after > 0.004 && adjusted.changes[0].u_after < 0.0001);
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    pub fn adjust(&self, weighed_g: impl Into<Estimate>, completeness: &Completeness, k: f64) -> Result<Adjusted> {
        self.refuse_adjusted()?;
        Adjusted::new(self, weighed_g.into(), completeness, k)
    }

    /// Notes, warnings and cautions.
    ///
    /// ```
    /// # use beadchem::{charge::{Charge, FluxLot, Sample}, substance::Weights};
    /// # let lot = FluxLot::new("F-1", [("Li2B4O7", 1.0)], "1050 C, 18 min", 0.0)?;
    /// let melt = Charge::new(Sample::dried(0.4)?, lot.weigh_g(3.6)?)?.fuse_with_loss(&Weights::ciaaw_2024(), 0.0)?;
    /// assert!(melt.findings().iter().all(|finding| finding.code.word() == "weights.interval"));
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn findings(&self) -> &[Finding] {
        &self.findings
    }

    /// What was weighed.
    ///
    /// ```
    /// # use beadchem::{charge::{Charge, FluxLot, Sample}, substance::Weights};
    /// # let lot = FluxLot::new("F-1", [("Li2B4O7", 1.0)], "1050 C, 18 min", 0.0)?;
    /// let melt = Charge::new(Sample::dried(0.4)?, lot.weigh_g(3.6)?)?.fuse_with_loss(&Weights::ciaaw_2024(), 0.0)?;
    /// assert_eq!(melt.charge().flux().lot().name(), "F-1");
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn charge(&self) -> &Charge {
        &self.charge
    }

    /// The atomic weights used.
    ///
    /// ```
    /// # use beadchem::{charge::{Charge, FluxLot, Sample}, substance::Weights};
    /// # let lot = FluxLot::new("F-1", [("Li2B4O7", 1.0)], "1050 C, 18 min", 0.0)?;
    /// let melt = Charge::new(Sample::dried(0.4)?, lot.weigh_g(3.6)?)?.fuse_with_loss(&Weights::ciaaw_2024(), 0.0)?;
    /// assert_eq!(melt.weights().version_name(), "CIAAW 2024");
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn weights(&self) -> &Weights {
        &self.weights
    }

    /// All outputs with their covariance: glass mass, the three ratios, loss on fusion, glass contents.
    ///
    /// ```
    /// # use beadchem::{charge::{Charge, FluxLot, Sample}, substance::Weights};
    /// # let lot = FluxLot::new("F-1", [("Li2B4O7", 1.0)], "1050 C, 18 min", 0.0)?;
    /// let melt = Charge::new(Sample::dried(0.4)?, lot.weigh_g(3.6)?)?.fuse_with_loss(&Weights::ciaaw_2024(), 0.0)?;
    /// assert!((melt.propagated().value(0) - 4.0).abs() < 1e-12);
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn propagated(&self) -> &Propagated {
        &self.propagated
    }

    /// The compiled plan, to run again on other numbers.
    ///
    /// ```
    /// # use beadchem::{charge::{Charge, FluxLot, Sample}, substance::Weights};
    /// # let lot = FluxLot::new("F-1", [("Li2B4O7", 1.0)], "1050 C, 18 min", 0.0)?;
    /// let melt = Charge::new(Sample::dried(0.4)?, lot.weigh_g(3.6)?)?.fuse_with_loss(&Weights::ciaaw_2024(), 0.0)?;
    /// assert_eq!(melt.plan().outputs()[3], "dilution");
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn plan(&self) -> &Plan {
        &self.plan
    }

    /// The compiled plan by value.
    ///
    /// ```
    /// # use beadchem::{charge::{Charge, FluxLot, Sample}, substance::Weights};
    /// # let lot = FluxLot::new("F-1", [("Li2B4O7", 1.0)], "1050 C, 18 min", 0.0)?;
    /// let melt = Charge::new(Sample::dried(0.4)?, lot.weigh_g(3.6)?)?.fuse_with_loss(&Weights::ciaaw_2024(), 0.0)?;
    /// assert_eq!(melt.into_plan().outputs()[3], "dilution");
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn into_plan(self) -> Plan {
        self.plan
    }

    /// A bead tells of its melt once.
    fn refuse_adjusted(&self) -> Result<()> {
        match &self.adjustment {
            None => Ok(()),
            Some(adjustment) => Err(Error::Conflict {
                code: Code::BeadMassNotAdjusted,
                detail: format!("The inputs were adjusted by a bead of {} g already.", adjustment.weighed.value()),
                hint: "Hold a weighed bead against the melt as it was fused.".to_owned(),
            }),
        }
    }

    pub(crate) fn adjustment(&self) -> Option<&Adjustment> {
        self.adjustment.as_ref()
    }

    /// The same melt with its inputs moved towards a weighed bead.
    pub(crate) fn moved(&self, adjustment: Adjustment) -> Result<Self> {
        let plan = Plan::new(&self.charge, &self.weights, &self.loss, None, Some(&adjustment))?;
        let propagated = plan.propagate()?.bounded()?;
        Ok(Self { plan, propagated, adjustment: Some(adjustment), ..self.clone() })
    }

    /// The same charge fused with as much of another lot.
    pub(crate) fn with_lot(&self, lot: &FluxLot) -> Result<Self> {
        self.charge.with_lot(lot)?.fuse_by(&self.weights, self.loss.clone())
    }

    pub(crate) fn loss(&self) -> &Loss {
        &self.loss
    }
}
