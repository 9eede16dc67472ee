//! A flux lot fused alone: what its formulas give off, what is left of a gram, and its ratio of lithia to boric oxide.

use crate::charge::compile::{Compiler, per_atom};
use crate::charge::fate::Fate;
use crate::charge::flux::FluxLot;
use crate::charge::kernel::{Kernel, Place};
use crate::charge::mass::Mass;
use crate::charge::place::Where;
use crate::code::Code;
use crate::error::{Error, Result};
use crate::scalar::Scalar;
use crate::substance::{Element, Weights, weight_estimate, weight_name};
use crate::uncertainty::{Estimate, Model, Propagated, propagate_plain};

/// The outputs.
const BY_FORMULA: usize = 0;
const OF_THE_LOT: usize = 1;
const LITHIA_TO_BORIC_OXIDE: usize = 2;
const MASS_WANTED: usize = 3;

/// A lot fused alone, one gram, through the kernel that serves the charge.
struct FluxAlone {
    kernel: Kernel,
    lithium: Place,
    boron: Place,
    /// Fused mass aimed at, g.
    target_g: f64,
}

impl Model for FluxAlone {
    fn outputs(&self) -> usize {
        4
    }
    fn scratch(&self) -> usize {
        self.kernel.scratch()
    }
    #[inline(always)]
    fn evaluate<S: Scalar>(&self, x: &[S], out: &mut [S], scratch: &mut [S]) {
        let mut books = self.kernel.books(scratch);
        let flux = self.kernel.keep_flux::<S, false>(x, &mut books, x[self.kernel.flux_mass]);
        out[BY_FORMULA] = -flux.stays + 1.0;
        out[OF_THE_LOT] = flux.stays * (-flux.kept + 1.0);
        // two of the element in one of the oxide, in both
        out[LITHIA_TO_BORIC_OXIDE] = books.flux[self.lithium] / books.flux[self.boron];
        out[MASS_WANTED] = S::constant(self.target_g) / flux.fused;
    }
}

impl FluxLot {
    fn fused_alone(&self, weights: &Weights, target_g: f64) -> Result<Propagated> {
        let nothing_stated = Fate::new();
        let mut c = Compiler::new(&nothing_stated, Where::Melt);
        let gram = c.inputs.push("flux fused alone", Estimate::exact(1.0)?)?;
        let flux_loss = c.inputs.push(self.loss_name(), self.loss().clone())?;
        let blend = c.blend(self)?;
        let blanks = c.blanks(self)?;
        let (lithium, boron) = (c.place(Element::from_symbol("Li")?), c.place(Element::from_symbol("B")?));
        let first = c.inputs.len();
        for &element in &c.elements {
            c.inputs.push(weight_name(element), weight_estimate(element, weights)?)?;
        }
        let gases = (0..c.gas_names.len()).map(|index| c.gas(index)).collect::<Result<Vec<_>>>()?;
        let bare = Kernel::bare(gram, first..first + c.elements.len(), per_atom(&c.elements, &c.stays_as));
        let kernel = Kernel { flux_loss, blend, blanks, gases, ..bare };
        propagate_plain(&FluxAlone { kernel, lithium, boron, target_g }, &c.inputs)
    }

    /// The name of the loss as an input, the same wherever the lot is used.
    pub(crate) fn loss_name(&self) -> String {
        format!("flux loss of lot {}", self.name())
    }

    /// What the formulas of the blend give off when it is fused (carbon dioxide of carbonates, water), g per g of blend.
    ///
    /// # Errors
    /// `weights.unknown`.
    ///
    /// # Source
    /// Stoichiometry: Li2CO3 gives off CO2, 0.5956 of its mass.
    ///
    /// ```
    /// use beadchem::{charge::FluxLot, substance::Weights};
    /// let lot = FluxLot::new("F-1", [("Li2B4O7", 90.0), ("Li2CO3", 10.0)], "1050 C, 18 min", 0.003)?;
    /// assert_eq!(format!("{:.4}", lot.stoichiometric_loss(&Weights::ciaaw_2024())?.value()), "0.0596");
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    pub fn stoichiometric_loss(&self, weights: &Weights) -> Result<Estimate> {
        self.fused_alone(weights, 1.0)?.estimate(BY_FORMULA)
    }

    /// The loss of the lot beside what its formulas give off, g per g of flux as weighed: the tested loss, less the
    /// [stoichiometric](Self::stoichiometric_loss) one where the test [includes](crate::charge::LossTest::includes_formula) it.
    ///
    /// # Errors
    /// `flux.programme` where a lot of several programmes is asked; `weights.unknown`.
    ///
    /// ```
    /// use beadchem::{charge::{FluxLot, LossTest}, substance::Weights};
    /// let whole = LossTest::stated(0.0636)?.including_formula();
    /// let lot = FluxLot::new("F-1", [("Li2B4O7", 90.0), ("Li2CO3", 10.0)], "1050 C, 18 min", whole)?;
    /// assert_eq!(format!("{:.4}", lot.lot_loss(&Weights::ciaaw_2024())?.value()), "0.0040");
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    pub fn lot_loss(&self, weights: &Weights) -> Result<Estimate> {
        self.decided()?;
        if !self.test().includes_formula() {
            return Ok(self.loss().clone());
        }
        self.fused_alone(weights, 1.0)?.measured(OF_THE_LOT)
    }

    /// Moles of Li2O per mole of B2O3 in the blend, by which two blends can be compared: `n = m / M` of each part.
    ///
    /// # Errors
    /// `charge.incomplete` where the blend holds no boron; `weights.unknown`.
    ///
    /// ```
    /// use beadchem::{charge::FluxLot, substance::Weights};
    /// let blend = [("Li2B4O7", 66.0), ("LiBO2", 34.0)];
    /// let lot = FluxLot::new("F-1", blend, "1050 C, 18 min", 0.003)?;
    /// assert_eq!(format!("{:.4}", lot.li2o_to_b2o3(&Weights::ciaaw_2024())?.value()), "0.6522");
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    pub fn li2o_to_b2o3(&self, weights: &Weights) -> Result<Estimate> {
        let boron = Element::from_symbol("B")?;
        if self.blend().iter().all(|(species, _)| species.count(boron) == 0.0) {
            return Err(Error::Unstated {
                code: Code::ChargeIncomplete,
                quantity: format!("A borate in flux lot {}", self.name()),
                hint: "Without boron there is no ratio to B2O3.".to_owned(),
            });
        }
        self.fused_alone(weights, 1.0)?.estimate(LITHIA_TO_BORIC_OXIDE)
    }

    /// What to weigh out, g, so that the flux after its loss and what its formulas give off has this mass:
    /// `m = target / (1 - loss)`, with the whole loss. The target is taken as exact.
    ///
    /// # Errors
    /// The refusals of a flux mass for the target; `flux.programme` where a lot of several programmes is asked;
    /// `weights.unknown`.
    ///
    /// ```
    /// use beadchem::{charge::FluxLot, substance::Weights};
    /// let lot = FluxLot::new("F-1", [("Li2B4O7", 1.0)], "1050 C, 18 min", 0.0062)?;
    /// assert_eq!(format!("{:.4}", lot.corrected_mass_g(6.0, &Weights::ciaaw_2024())?.value()), "6.0374");
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    pub fn corrected_mass_g(&self, target_fused_g: f64, weights: &Weights) -> Result<Estimate> {
        self.decided()?;
        Mass::Flux.check(target_fused_g.into())?;
        self.fused_alone(weights, target_fused_g)?.measured(MASS_WANTED)
    }
}
