//! The closure of a result: a total over the very inputs the result came from.

use crate::charge::Evaluation;
use crate::charge::result::SampleResult;
use crate::code::Code;
use crate::composition::unit::percent_short;
use crate::composition::{Basis, Cell, Closure, ClosureOrder, LossOnIgnition, Part, Source};
use crate::error::Result;
use crate::finding::Finding;
use crate::rules::Rules;
use crate::uncertainty::Estimate;

impl SampleResult {
    /// Whether a total that is too high closes when the powder is taken for ignited: the same masses and readings, with
    /// nothing lost in the fusion. A finding where the results of a sample weighed dried add up, with the loss, to more than
    /// k u above the whole, and its results as ignited powder to the whole within k u.
    ///
    /// # Errors
    /// `rule.unstated` where the rules hold no limit for totals; those of [`closure`](Self::closure) and of the fusion.
    ///
    /// ```
    /// use beadchem::charge::{Charge, FluxLot, Sample};
    /// use beadchem::composition::{Basis, Composition, LossOnIgnition};
    /// use beadchem::{rules::{Rules, TotalLimit}, substance::Weights, uncertainty::Estimate};
    ///
    /// let value = |value, u| Estimate::new(value, u);
    /// let lot = FluxLot::new("F-1", [("Li2B4O7", 1.0)], "1050 C, 18 min", value(0.0, 0.0002)?)?;
    /// let charge = Charge::new(Sample::dried(value(0.8, 0.0001)?)?, lot.weigh_g(value(7.2, 0.0001)?)?)?;
    /// let loss = LossOnIgnition::new(value(0.45, 0.0005)?, 1000.0)?;
    /// let melt = charge.fuse_with_loss(&Weights::ciaaw_2024(), loss.loss().clone())?;
    /// // in truth the powder was ignited: 0.8 g of oxides in 8 g of glass
    /// let glass = Composition::new(Basis::Bead).with("CaO", value(0.06, 0.0001)?)?.with("MgO", value(0.04, 0.0001)?)?;
    /// let rules = Rules::new("house", "1").total(TotalLimit { low: 0.985, high: 1.01, k: 4.0 })?;
    /// let finding = melt.undilute(&glass)?.check_ignited_as_dried(&loss, &rules)?.unwrap();
    /// assert_eq!(finding.code.word(), "basis.ignited-as-dried");
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    pub fn check_ignited_as_dried(&self, loss: &LossOnIgnition, rules: &Rules) -> Result<Option<Finding>> {
        let limit = rules.stated_total()?;
        if self.basis() != Basis::Dried || self.melt().charge().sample().basis() != Basis::Dried {
            return Ok(None);
        }
        let dried = self.closure(&ClosureOrder::new().loss(loss))?;
        let Some(total) = dried.total() else { return Ok(None) };
        let Some(u) = total.u() else { return Ok(None) };
        if total.value() - 1.0 <= limit.k * u {
            return Ok(None);
        }
        let charge = self.melt().charge().weighed_on(Basis::ignited(loss.temperature_c())?)?;
        let ignited = self.read_again(&charge.fuse_with_loss(self.melt().weights(), Estimate::exact(0.0)?)?)?;
        let sum = ignited.sum()?;
        if (sum.value(0) - 1.0).abs() > limit.k * sum.u(0) {
            return Ok(None);
        }
        let text = format!(
            "Total {} with the loss of {}; taken for ignited powder the results add up to {} (u {}). Was ignited powder entered \
             as dried? ({})",
            percent_short(total.value()),
            percent_short(loss.loss().value()),
            percent_short(sum.value(0)),
            percent_short(sum.u(0)),
            rules.id()
        );
        let finding = Finding::new(Code::IgnitedAsDried, "basis", text).with_value(total.value() - 1.0).with_u(u);
        Ok(Some(finding.with_bound(limit.k * u)))
    }

    /// The total of the results, line by line, with its uncertainty through the covariance that weighings, flux loss,
    /// loss on ignition and atomic weights give them; and what it cannot see.
    ///
    /// A loss on ignition that also led from one basis to another is one input: in a bead of ignited powder the total
    /// hardly moves with it.
    ///
    /// # Errors
    /// As [`Composition::closure`](crate::composition::Composition::closure).
    ///
    /// ```
    /// use beadchem::charge::{Charge, FluxLot, Form, Sample};
    /// use beadchem::composition::{Basis, BasisLinks, ClosureOrder, Composition, LossOnIgnition};
    /// use beadchem::{substance::Weights, uncertainty::Estimate};
    ///
    /// let weights = Weights::ciaaw_2024();
    /// let lot = FluxLot::new("F-1", [("Li2B4O7", 1.0)], "1050 C, 18 min", 0.0)?;
    /// let ignited = Sample::new(0.8, Basis::ignited(1000.0)?)?;
    /// let melt = Charge::new(ignited, lot.weigh_g(7.2)?)?.fuse_with_loss(&weights, 0.0)?;
    /// let glass = Composition::new(Basis::Bead).with("CaO", 0.06)?.with("MgO", 0.04)?;
    /// let loss = LossOnIgnition::new(Estimate::new(0.45, 0.0005)?, 1000.0)?;
    /// let links = BasisLinks::default().loss_on_ignition(loss.clone());
    /// let dried = melt.undilute(&glass)?.on(Basis::Dried, &links, &Form::AsRead)?;
    /// let closure = dried.closure(&ClosureOrder::new().loss(&loss))?;
    /// assert!((closure.total().unwrap().value() - 1.0).abs() < 1e-12);
    /// assert_eq!(closure.blind_to(), ["loss on ignition at 1000 C"]); // whatever it is, the total is 100 %
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    pub fn closure(&self, order: &ClosureOrder) -> Result<Closure> {
        let mut outputs = self.output(0)..self.output(self.count());
        let parts: Vec<Part> = self
            .composition()?
            .entries()
            .iter()
            .map(|entry| {
                let source = match entry.cell {
                    Cell::Value(_) => outputs.next().map(Source::Output),
                    _ => None,
                };
                Part::of(entry, source)
            })
            .collect();
        let inputs = self.plan().inputs().clone();
        let mut closure = Closure::compute(order, self.basis(), &parts, self.plan(), inputs, self.melt().weights())?;
        closure.of_intensities = self.evaluation() == Evaluation::Intensities;
        Ok(closure)
    }
}
