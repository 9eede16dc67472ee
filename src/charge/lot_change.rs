//! Results that were computed with the loss of another flux lot than the one in the crucible.

use crate::charge::builder::Charge;
use crate::charge::evaluation::Evaluation;
use crate::charge::flux::FluxLot;
use crate::charge::kernel::{DILUTION, FUSED_FLUX_RATIO, Input, Kept, Kernel};
use crate::charge::melt::Melt;
use crate::charge::plan::Plan;
use crate::code::Code;
use crate::composition::unit::percent_short;
use crate::error::{Error, Result};
use crate::scalar::Scalar;
use crate::uncertainty::{Budget, Estimate, Inputs, Model, Propagated, propagate_plain};

/// The factor by which results are multiplied that were computed with the old lot while the flux was of the new one.
///
/// It holds only where the calibration was made with the old lot: what calibration and unknown share cancels.
///
/// ```
/// use beadchem::{charge::{Charge, Evaluation, FluxLot, Sample}, substance::Weights};
/// let old = FluxLot::new("F-118", [("Li2B4O7", 1.0)], "1050 C, 18 min", 0.0035)?;
/// let new = FluxLot::new("F-121", [("Li2B4O7", 1.0)], "1050 C, 18 min", 0.0062)?;
/// let melt = Charge::new(Sample::dried(1.0)?, old.weigh_g(6.0)?)?.fuse_with_loss(&Weights::ciaaw_2024(), 0.0)?;
/// assert_eq!(format!("{:.5}", melt.lot_change(&new, Evaluation::GlassFractions)?.factor()), "0.99768");
/// assert_eq!(format!("{:.5}", melt.lot_change(&new, Evaluation::Intensities)?.factor()), "0.99729");
/// # Ok::<(), beadchem::Error>(())
/// ```
#[derive(Debug, Clone)]
pub struct LotChange {
    propagated: Propagated,
    evaluation: Evaluation,
    exact: bool,
    lots: [String; 2],
}

impl LotChange {
    /// The factor.
    ///
    /// ```
    /// # use beadchem::{charge::{Charge, Evaluation, FluxLot, Sample}, substance::Weights};
    /// # let old = FluxLot::new("F-118", [("Li2B4O7", 1.0)], "1050 C, 18 min", 0.0035)?;
    /// # let new = FluxLot::new("F-121", [("Li2B4O7", 1.0)], "1050 C, 18 min", 0.0062)?;
    /// # let melt = Charge::new(Sample::dried(1.0)?, old.weigh_g(6.0)?)?.fuse_with_loss(&Weights::ciaaw_2024(), 0.0)?;
    /// assert_eq!(melt.lot_change(&new, Evaluation::WholeMelt)?.factor(), 1.0);
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn factor(&self) -> f64 {
        self.propagated.value(0)
    }

    /// Its standard uncertainty; a lower bound where [`unstated`](Self::unstated) names anything.
    ///
    /// ```
    /// # use beadchem::{charge::{Charge, Evaluation, FluxLot, Sample}, substance::Weights, uncertainty::Estimate};
    /// # let old = FluxLot::new("F-118", [("Li2B4O7", 1.0)], "1050 C", Estimate::new(0.0035, 0.0003)?)?;
    /// # let new = FluxLot::new("F-121", [("Li2B4O7", 1.0)], "1050 C", Estimate::new(0.0062, 0.0004)?)?;
    /// # let melt = Charge::new(Sample::dried(1.0)?, old.weigh_g(6.0)?)?.fuse_with_loss(&Weights::ciaaw_2024(), 0.0)?;
    /// assert!((melt.lot_change(&new, Evaluation::Intensities)?.u() - 0.0005).abs() < 1e-5);
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn u(&self) -> f64 {
        self.propagated.u(0)
    }

    /// Inputs that move the factor and have no stated uncertainty.
    ///
    /// ```
    /// # use beadchem::{charge::{Charge, Evaluation, FluxLot, Sample}, substance::Weights};
    /// # let old = FluxLot::new("F-118", [("Li2B4O7", 1.0)], "1050 C, 18 min", 0.0035)?;
    /// # let new = FluxLot::new("F-121", [("Li2B4O7", 1.0)], "1050 C, 18 min", 0.0062)?;
    /// # let melt = Charge::new(Sample::dried(1.0)?, old.weigh_g(6.0)?)?.fuse_with_loss(&Weights::ciaaw_2024(), 0.0)?;
    /// assert!(melt.lot_change(&new, Evaluation::GlassFractions)?.unstated().contains(&"flux loss of lot F-121"));
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn unstated(&self) -> Vec<&str> {
        self.propagated.unstated(0)
    }

    /// Where its uncertainty comes from: both losses, the masses and the loss of the sample, which both lots share.
    ///
    /// ```
    /// # use beadchem::{charge::{Charge, Evaluation, FluxLot, Sample}, substance::Weights, uncertainty::Estimate};
    /// # let old = FluxLot::new("F-118", [("Li2B4O7", 1.0)], "1050 C", Estimate::new(0.0035, 0.0003)?)?;
    /// # let new = FluxLot::new("F-121", [("Li2B4O7", 1.0)], "1050 C", Estimate::new(0.0062, 0.0004)?)?;
    /// # let melt = Charge::new(Sample::dried(1.0)?, old.weigh_g(6.0)?)?.fuse_with_loss(&Weights::ciaaw_2024(), 0.0)?;
    /// let budget = melt.lot_change(&new, Evaluation::GlassFractions)?.budget();
    /// assert_eq!(budget.rows()[0].name, "flux loss of lot F-121");
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn budget(&self) -> Budget {
        self.propagated.budget(0)
    }

    /// The evaluation it holds for.
    ///
    /// ```
    /// # use beadchem::{charge::{Charge, Evaluation, FluxLot, Sample}, substance::Weights};
    /// # let old = FluxLot::new("F-118", [("Li2B4O7", 1.0)], "1050 C, 18 min", 0.0035)?;
    /// # let new = FluxLot::new("F-121", [("Li2B4O7", 1.0)], "1050 C, 18 min", 0.0062)?;
    /// # let melt = Charge::new(Sample::dried(1.0)?, old.weigh_g(6.0)?)?.fuse_with_loss(&Weights::ciaaw_2024(), 0.0)?;
    /// assert_eq!(melt.lot_change(&new, Evaluation::WholeMelt)?.evaluation(), Evaluation::WholeMelt);
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn evaluation(&self) -> Evaluation {
        self.evaluation
    }

    /// False where it is of first order only: by intensities, with an addition of fixed mass that stays in the glass, a
    /// per cent of flux moves a result by less than a per cent.
    ///
    /// ```
    /// # use beadchem::{charge::{Charge, Evaluation, FluxLot, Sample}, substance::Weights};
    /// # let old = FluxLot::new("F-118", [("Li2B4O7", 1.0)], "1050 C, 18 min", 0.0035)?;
    /// # let new = FluxLot::new("F-121", [("Li2B4O7", 1.0)], "1050 C, 18 min", 0.0062)?;
    /// # let melt = Charge::new(Sample::dried(1.0)?, old.weigh_g(6.0)?)?.fuse_with_loss(&Weights::ciaaw_2024(), 0.0)?;
    /// assert!(melt.lot_change(&new, Evaluation::Intensities)?.exact());
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn exact(&self) -> bool {
        self.exact
    }

    /// The factor with everything that must be said beside it.
    ///
    /// ```
    /// # use beadchem::{charge::{Charge, Evaluation, FluxLot, Sample}, substance::Weights};
    /// # let old = FluxLot::new("F-118", [("Li2B4O7", 1.0)], "1050 C, 18 min", 0.0035)?;
    /// # let new = FluxLot::new("F-121", [("Li2B4O7", 1.0)], "1050 C, 18 min", 0.0062)?;
    /// # let melt = Charge::new(Sample::dried(1.0)?, old.weigh_g(6.0)?)?.fuse_with_loss(&Weights::ciaaw_2024(), 0.0)?;
    /// let text = melt.lot_change(&new, Evaluation::GlassFractions)?.text();
    /// assert!(text.contains("evaluation (b)") && text.contains("only where the calibration used lot F-118"));
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn text(&self) -> String {
        let [old, new] = &self.lots;
        let (factor, u) = (self.factor(), self.u());
        let spread = match self.unstated().as_slice() {
            [] => format!("u {u:.5}"),
            unstated => format!("u at least {u:.5}; not stated for {}", unstated.join(", ")),
        };
        let order = if self.exact { "" } else { " First order only: an addition of fixed mass stays in the glass." };
        format!(
            "Results computed with flux lot {old} are multiplied by {factor:.5} ({spread}) where the flux was lot {new}; \
             {}. It applies only where the calibration used lot {old}. What the lots bring of an analyte is not in it.{order}",
            self.evaluation.text()
        )
    }
}

/// One output of the melt with the new lot over the same with the old one, over the inputs of both.
struct Ratio<'a> {
    old: &'a Kernel,
    new: &'a Kernel,
    /// Where the inputs of the new plan stand among those of both; the old plan's come first.
    places: Vec<Input>,
    outputs: usize,
    output: usize,
}

impl Ratio<'_> {
    fn kernels_scratch(&self) -> usize {
        self.old.scratch().max(self.new.scratch())
    }
}

impl Model for Ratio<'_> {
    fn outputs(&self) -> usize {
        1
    }
    fn scratch(&self) -> usize {
        self.places.len() + self.outputs + self.kernels_scratch()
    }
    #[inline(always)]
    fn evaluate<S: Scalar>(&self, x: &[S], out: &mut [S], scratch: &mut [S]) {
        let (inputs, rest) = scratch.split_at_mut(self.places.len());
        let (outputs, kernel) = rest.split_at_mut(self.outputs);
        for (slot, &place) in inputs.iter_mut().zip(&self.places) {
            *slot = x[place];
        }
        self.new.run_glass(inputs, outputs, &mut kernel[..self.new.scratch()]);
        let new = outputs[self.output];
        self.old.run_glass(x, outputs, &mut kernel[..self.old.scratch()]);
        out[0] = new / outputs[self.output];
    }
}

/// The factor of a whole melt: nothing moves it.
struct One;

impl Model for One {
    fn outputs(&self) -> usize {
        1
    }
    #[inline(always)]
    fn evaluate<S: Scalar>(&self, _: &[S], out: &mut [S], _: &mut [S]) {
        out[0] = S::constant(1.0);
    }
}

impl Melt {
    /// The factor for results computed with this melt's flux lot where the flux was of another lot.
    ///
    /// (a) intensities: the ratio of the fused flux, `(1 - l_new) / (1 - l_old)` with the whole losses; of first order
    /// where an addition of fixed mass stays. (b) glass fractions: the ratio of the dilutions. (c) whole melt: 1.
    /// Masses, atomic weights and the loss of the sample are one input each; the two losses are two.
    ///
    /// # Errors
    /// `flux.programme` where the new lot holds several programmes or another one; `flux.blend-differs`; `input.doubled` where both
    /// lots have one name; `melt.not-positive` where the new lot would leave no glass.
    ///
    /// ```
    /// use beadchem::{charge::{Charge, Evaluation, FluxLot, Sample}, substance::Weights};
    /// let old = FluxLot::new("F-118", [("Li2B4O7", 1.0)], "1050 C, 18 min", 0.0035)?;
    /// let other = FluxLot::new("F-121", [("LiBO2", 1.0)], "1050 C, 18 min", 0.0062)?;
    /// let melt = Charge::new(Sample::dried(1.0)?, old.weigh_g(6.0)?)?.fuse_with_loss(&Weights::ciaaw_2024(), 0.0)?;
    /// assert!(melt.lot_change(&other, Evaluation::Intensities).is_err()); // another flux, no change of lot
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    pub fn lot_change(&self, new: &FluxLot, evaluation: Evaluation) -> Result<LotChange> {
        let charge = self.charge();
        let old = charge.flux().lot();
        let lots = [old.name().to_owned(), new.name().to_owned()];
        // shares that differ by more than a maker's tolerance are another recipe (common practice)
        const SAME_SHARE: f64 = 0.005;
        let parts = |lot: &FluxLot| {
            let mut list: Vec<(String, f64)> =
                lot.blend().iter().map(|(species, share)| (species.text().to_owned(), *share)).collect();
            list.sort_by(|a, b| a.0.cmp(&b.0));
            list
        };
        let (first, second) = (parts(old), parts(new));
        let same = first.len() == second.len()
            && first.iter().zip(&second).all(|(a, b)| a.0 == b.0 && (a.1 - b.1).abs() <= SAME_SHARE);
        if !same {
            let said = |(species, share): &(String, f64)| format!("{species} {}", percent_short(*share));
            let [of_old, of_new] = [first, second].map(|list| list.iter().map(said).collect::<Vec<_>>().join(", "));
            return Err(Error::Conflict {
                code: Code::FluxBlendDiffers,
                detail: format!("Lot {} is of {of_old}, lot {} of {of_new}.", old.name(), new.name()),
                hint: "Another blend is another flux: calibrate anew.".to_owned(),
            });
        }
        if old.programme() != new.programme() {
            return Err(Error::Conflict {
                code: Code::FluxProgramme,
                detail: format!(
                    "The loss of lot {} is of `{}`, that of lot {} of `{}`.",
                    old.name(),
                    old.programme(),
                    new.name(),
                    new.programme()
                ),
                hint: "A loss belongs to its fusion programme; measure the new lot in the same one.".to_owned(),
            });
        }
        let flux = new.weigh_g(charge.flux().mass_g().clone())?;
        if evaluation == Evaluation::WholeMelt {
            return Ok(LotChange { propagated: propagate_plain(&One, &Inputs::new())?, evaluation, exact: true, lots });
        }
        let fresh = Charge::new(charge.sample().clone(), flux)?;
        let fresh = charge.additions().iter().cloned().try_fold(fresh, Charge::with)?;
        // as declared: what a weighed bead adjusted is a finding about the old lot alone
        let declared = |charge: &Charge| Plan::new(charge, self.weights(), self.loss(), None, None);
        let (before, plan) = (declared(charge)?, declared(&fresh)?);
        let out = plan.once();
        if out.trouble {
            return Err(fresh.refuse_empty(out.values[0]));
        }
        let mut inputs = before.inputs().clone();
        let places = plan.inputs().iter().map(|input| inputs.push(input.name.as_str(), input.estimate.clone()));
        let ratio = Ratio {
            places: places.collect::<Result<Vec<_>>>()?,
            old: &before.kernel,
            new: &plan.kernel,
            outputs: plan.outputs().len().max(before.outputs().len()),
            output: if evaluation == Evaluation::Intensities { FUSED_FLUX_RATIO } else { DILUTION },
        };
        let nothing = Estimate::exact(0.0)?;
        let mut portions = plan.kernel.additions.iter().flat_map(|addition| &addition.portions);
        let stays = portions.any(|portion| match portion.kept {
            Kept::All => true,
            Kept::Nothing => false,
            Kept::Share(share) => plan.inputs().get(share).is_some_and(|input| input.estimate != nothing),
        });
        let exact = evaluation == Evaluation::GlassFractions || !stays;
        Ok(LotChange { propagated: propagate_plain(&ratio, &inputs)?.bounded()?, evaluation, exact, lots })
    }
}
