//! A flux lot and a melt against the rules of the laboratory.

use crate::charge::flux::FluxLot;
use crate::charge::kernel::{FIXED, GLASS_MASS, SamplePath};
use crate::charge::melt::Melt;
use crate::code::Code;
use crate::composition::unit::{percent_short, percent_text};
use crate::error::{Error, Result};
use crate::finding::Finding;
use crate::rules::Rules;
use crate::substance::{Formula, Weights, factor_of};

impl FluxLot {
    /// Refuses a lot whose loss is below zero by more than k u, or above the highest the rules take for plausible. What a
    /// carbonate in the blend gives off by its formula is no part of this loss, and is taken off where the test includes it.
    ///
    /// # Errors
    /// `flux.loss-outside`; `rule.unstated` where the rules hold no limit; those of [`lot_loss`](Self::lot_loss).
    ///
    /// ```
    /// use beadchem::{charge::FluxLot, rules::{FluxLossLimit, Rules}, substance::Weights, uncertainty::Estimate};
    /// let weights = Weights::ciaaw_2024();
    /// let rules = Rules::new("house", "1").flux_loss(FluxLossLimit { highest: 0.05, k: 3.0 })?;
    /// let lot = |loss, u| FluxLot::new("F-1", [("LiBO2", 1.0)], "1050 C, 18 min", Estimate::new(loss, u)?);
    /// assert!(lot(-0.0001, 0.0002)?.check(&rules, &weights).is_ok()); // a legitimate replicate
    /// let refused = lot(0.082, 0.0003)?.check(&rules, &weights).unwrap_err().to_string();
    /// assert!(refused.starts_with("Flux loss 8.2 % of lot F-1 is above your limit of 5 %"));
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    pub fn check(&self, rules: &Rules, weights: &Weights) -> Result<()> {
        let limit = rules.stated_flux_loss()?;
        let loss = self.lot_loss(weights)?;
        let (loss, u) = (loss.value(), loss.u().unwrap_or(0.0));
        let said = format!("Flux loss {} of lot {}", percent_short(loss), self.name());
        let refused =
            |detail, hint: &str| Err(Error::Conflict { code: Code::FluxLossOutside, detail, hint: hint.to_owned() });
        if loss > limit.highest {
            let most = percent_text(limit.highest);
            return refused(
                format!("{said} is above your limit of {most} ({}).", rules.id()),
                "Was the crucible tared with flux in it?",
            );
        }
        if loss < -limit.k * u {
            let under = percent_short(limit.k * u);
            return refused(
                format!("{said} is below zero by more than {} u ({under}; {}).", limit.k, rules.id()),
                "Did the crucible gain something, or were the two weighings swapped?",
            );
        }
        Ok(())
    }
}

impl Melt {
    /// Oxides of the predicted glass above the laboratory's limits of solubility, each with the largest sample mass that
    /// would keep the limit: `m = (C g0 - o0) / (o1 - C g1)`, glass `g0 + g1 m`, oxide in it `o0 + o1 m`.
    ///
    /// # Errors
    /// `charge.incomplete` where only a loss on fusion was stated, so that the glass is not known; those of
    /// [`Formula::parse`].
    ///
    /// # Source
    /// Stoichiometry; the limits are the laboratory's own, no trustworthy figures are published.
    ///
    /// ```
    /// use beadchem::charge::{Charge, Fate, FluxLot, Sample};
    /// use beadchem::composition::{Basis, Composition};
    /// use beadchem::{rules::{Rules, Solubility}, substance::Weights};
    /// let limit = Solubility { oxide: "Cr2O3".to_owned(), highest: 0.01, source: "own trials".to_owned() };
    /// let rules = Rules::new("house", "1").solubility(limit)?;
    /// let chromite = Composition::new(Basis::Dried).with("Cr2O3", 0.46)?.with("Al2O3", 0.54)?;
    /// let flux = FluxLot::new("F-1", [("Li2B4O7", 1.0)], "1100 C, 30 min", 0.0)?.weigh_g(10.0)?;
    /// let melt = Charge::new(Sample::dried(1.0)?.made_of(chromite)?, flux)?.fuse(&Weights::ciaaw_2024(), &Fate::new())?;
    /// let finding = &melt.check_solubility(&rules)?[0];
    /// assert!(finding.text.starts_with("Cr2O3 would be 4.182 % of the glass; your limit is 1 %. Use at most 0.222 g in 10 g"));
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    pub fn check_solubility(&self, rules: &Rules) -> Result<Vec<Finding>> {
        let plan = self.plan();
        if let (SamplePath::Stated(_), false) = (&plan.kernel.sample, rules.solubilities().is_empty()) {
            return Err(Error::Unstated {
                code: Code::ChargeIncomplete,
                quantity: "What the sample is made of".to_owned(),
                hint: "With a stated loss on fusion the glass is not known; give a composition.".to_owned(),
            });
        }
        let (propagated, sample) = (self.propagated(), plan.kernel.sample_mass);
        let mass = propagated.inputs().get(sample).map_or(0.0, |input| input.estimate.value());
        let mut findings = Vec::new();
        for limit in rules.solubilities() {
            let oxide = Formula::parse(&limit.oxide)?;
            let Some(element) = oxide.key() else { continue };
            let Some(place) = plan.glass.iter().position(|held| held.key() == Some(element)) else { continue };
            let as_limited = factor_of(&plan.glass[place], &oxide, element, self.weights())?.value();
            let output = FIXED + place;
            let content = propagated.value(output) * as_limited;
            if content <= limit.highest {
                continue;
            }
            let (glass, g1) = (propagated.value(GLASS_MASS), propagated.derivative(GLASS_MASS, sample));
            // grams of the oxide per gram of sample, the product's derivative
            let o1 = propagated.derivative(output, sample) * as_limited * glass + content * g1;
            let (g0, o0) = (glass - g1 * mass, content * glass - o1 * mass);
            let most = (limit.highest * g0 - o0) / (o1 - limit.highest * g1);
            let flux = self.charge().flux().mass_g().value();
            let advice = if most > 0.0 {
                format!("Use at most {most:.3} g in {flux} g flux")
            } else {
                "Flux and additions alone bring more".to_owned()
            };
            let text = format!(
                "{oxide} would be {} of the glass; your limit is {}. {advice} ({}; {}).",
                percent_short(content),
                percent_text(limit.highest),
                rules.id(),
                limit.source
            );
            let u = propagated.u(output) * as_limited;
            let finding = Finding::new(Code::SolubilityExceeded, oxide.text(), text).with_value(content).with_u(u);
            findings.push(finding.with_bound(limit.highest));
        }
        Ok(findings)
    }
}
