//! The closure of a result: a total over the very inputs the result came from.

use crate::charge::result::SampleResult;
use crate::composition::{Cell, Closure, ClosureOrder, Part, Source};
use crate::error::Result;

impl SampleResult {
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
        Closure::compute(order, self.basis(), &parts, self.plan(), self.plan().inputs().clone(), self.melt().weights())
    }
}
