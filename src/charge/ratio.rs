//! Three ratios that must not be mixed, as three types without conversion.

use crate::scalar::Scalar;

macro_rules! ratio {
    ($(#[$doc:meta])* $name:ident) => {
        $(#[$doc])*
        #[derive(Debug, Clone, Copy, PartialEq)]
        pub struct $name {
            pub(crate) value: f64,
            pub(crate) u: f64,
            pub(crate) at_least: bool,
        }

        impl $name {
            /// The value, g/g.
            ///
            /// ```
            /// # use beadchem::{charge::{Charge, FluxLot, Sample}, substance::Weights};
            /// # let lot = FluxLot::new("F-1", [("Li2B4O7", 1.0)], "1050 C, 18 min", 0.0)?;
            /// let melt =
            ///     Charge::new(Sample::dried(0.8)?, lot.weigh_g(8.0)?)?.fuse_with_loss(&Weights::ciaaw_2024(), 0.0)?;
            /// assert!(melt.fused_flux_ratio().value() < melt.dilution().value());
            /// # Ok::<(), beadchem::Error>(())
            /// ```
            #[must_use]
            pub fn value(self) -> f64 {
                self.value
            }

            /// Its standard uncertainty, g/g; "at least" where an input has none stated.
            ///
            /// ```
            /// # use beadchem::{charge::{Charge, FluxLot, Sample}, substance::Weights, uncertainty::Estimate};
            /// # let lot = FluxLot::new("F-1", [("Li2B4O7", 1.0)], "1050 C, 18 min", 0.0)?;
            /// let flux = lot.weigh_g(Estimate::new(8.0, 0.0001)?)?;
            /// let melt = Charge::new(Sample::dried(0.8)?, flux)?.fuse_with_loss(&Weights::ciaaw_2024(), 0.0)?;
            /// assert!((melt.flux_ratio().u() - 0.000125).abs() < 1e-9);
            /// # Ok::<(), beadchem::Error>(())
            /// ```
            #[must_use]
            pub fn u(self) -> f64 {
                self.u
            }

            /// True where an input has no stated uncertainty, so that u is a lower bound.
            ///
            /// ```
            /// # use beadchem::{charge::{Charge, FluxLot, Sample}, substance::Weights};
            /// # let lot = FluxLot::new("F-1", [("Li2B4O7", 1.0)], "1050 C, 18 min", 0.0)?;
            /// let melt =
            ///     Charge::new(Sample::dried(0.8)?, lot.weigh_g(8.0)?)?.fuse_with_loss(&Weights::ciaaw_2024(), 0.0)?;
            /// assert!(melt.flux_ratio().u_is_at_least()); // bare numbers
            /// # Ok::<(), beadchem::Error>(())
            /// ```
            #[must_use]
            pub fn u_is_at_least(self) -> bool {
                self.at_least
            }
        }
    };
}

ratio! {
    /// R: flux as weighed per gram of sample as weighed ("ten to one").
    ///
    /// ```
    /// use beadchem::{charge::{Charge, FluxLot, Sample}, substance::Weights};
    /// let lot = FluxLot::new("F-1", [("Li2B4O7", 1.0)], "1050 C, 18 min", 0.004)?;
    /// let charge = Charge::new(Sample::dried(0.8)?, lot.weigh_g(8.0)?)?;
    /// let melt = charge.fuse_with_loss(&Weights::ciaaw_2024(), 0.0)?;
    /// assert_eq!(melt.flux_ratio().value(), 10.0);
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    FluxRatio
}
ratio! {
    /// F: flux after its loss in the fusion per gram of sample as weighed. Influence coefficients belong to an F.
    ///
    /// ```
    /// use beadchem::{charge::{Charge, FluxLot, Sample}, substance::Weights};
    /// let lot = FluxLot::new("F-1", [("Li2B4O7", 1.0)], "1050 C, 18 min", 0.004)?;
    /// let charge = Charge::new(Sample::dried(0.8)?, lot.weigh_g(8.0)?)?;
    /// let melt = charge.fuse_with_loss(&Weights::ciaaw_2024(), 0.0)?;
    /// assert!((melt.fused_flux_ratio().value() - 9.96).abs() < 1e-12);
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    FusedFluxRatio
}
ratio! {
    /// D: glass per gram of sample as weighed; what a glass mass fraction is multiplied by.
    ///
    /// There is no way from a flux ratio to a dilution but through a melt:
    ///
    /// ```compile_fail
    /// use beadchem::charge::{Dilution, FluxRatio};
    /// fn mixed_up(ratio: FluxRatio) -> Dilution { ratio.into() }
    /// ```
    ///
    /// ```
    /// use beadchem::{charge::{Charge, FluxLot, Sample}, substance::Weights};
    /// let lot = FluxLot::new("F-1", [("Li2B4O7", 1.0)], "1050 C, 18 min", 0.0)?;
    /// let charge = Charge::new(Sample::dried(0.8)?, lot.weigh_g(8.0)?)?;
    /// let melt = charge.fuse_with_loss(&Weights::ciaaw_2024(), 0.0)?;
    /// assert!((melt.dilution().value() - 11.0).abs() < 1e-12);
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    Dilution
}

impl Dilution {
    /// Mass fraction in the sample as weighed from one in the glass, without blanks: `w = C D`.
    ///
    /// ```
    /// use beadchem::{charge::{Charge, FluxLot, Sample}, substance::Weights};
    /// let lot = FluxLot::new("F-1", [("Li2B4O7", 1.0)], "1050 C, 18 min", 0.0)?;
    /// let melt = Charge::new(Sample::dried(0.8)?, lot.weigh_g(8.0)?)?.fuse_with_loss(&Weights::ciaaw_2024(), 0.0)?;
    /// assert!((melt.dilution().undilute(0.05) - 0.55).abs() < 1e-12);
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn undilute(self, in_glass: f64) -> f64 {
        undilute(in_glass, self.value)
    }
}

/// `w = C D`: the one source of the formula, used by the kernel too.
#[inline(always)]
pub(crate) fn undilute<S: Scalar>(in_glass: S, dilution: S) -> S {
    in_glass * dilution
}
