//! From the intensity of a bead that is not thick to that of a thick one, with its uncertainty.

use core::f64::consts::PI;

use crate::error::Result;
use crate::scalar::Scalar;
use crate::uncertainty::{Estimate, Inputs, Model, propagate};
use crate::xray::glass::Glass;
use crate::xray::intensity::above_zero;
use crate::xray::setting::Setting;

/// Millimetres in a centimetre.
const MM_PER_CM: f64 = 10.0;

/// What a bead's mass and area do to a line.
///
/// ```
/// use beadchem::substance::Weights;
/// use beadchem::uncertainty::Estimate;
/// use beadchem::xray::{Geometry, Glass, Instrument, Setting, Source, example_tables};
/// let weights = Weights::ciaaw_2024();
/// let instrument = Instrument::new(Source::monochromatic(20.0)?, Geometry::new(63.0, 40.0)?);
/// let setting = Setting::new(&example_tables()?, &weights, &instrument, &["Li2B4O7", "Fe2O3"], &["Fe Ka"])?;
/// let flux = Glass::of_masses(&[("Li2B4O7", 1.0)], &weights)?;
/// let [mass, diameter] = [Estimate::new(0.4, 0.004)?, Estimate::exact(35.0)?];
/// let thin = setting.to_thick(&flux, "Fe Ka", mass, diameter)?;
/// assert!(thin.factor.value() > 1.0 && thin.factor.u() > Some(0.0));
/// # Ok::<(), beadchem::Error>(())
/// ```
#[derive(Debug, Clone, PartialEq)]
pub struct ToThick {
    /// Mass on each square centimetre, g/cm2.
    pub g_per_cm2: Estimate,
    /// What the primary intensity of the line is to be multiplied by to be that of a thick bead; 1 for a thick one.
    pub factor: Estimate,
}

/// Mass and diameter to mass thickness and factor.
struct Disc {
    /// `N tau/(mu' + mu'')` as a share of the whole, and `mu' + mu''`.
    terms: Vec<(f64, f64)>,
}

impl Model for Disc {
    fn outputs(&self) -> usize {
        2
    }
    #[inline(always)]
    fn evaluate<S: Scalar>(&self, inputs: &[S], outputs: &mut [S], _: &mut [S]) {
        let diameter_cm = inputs[1] / MM_PER_CM;
        let thickness = inputs[0] * (4.0 / PI) / (diameter_cm * diameter_cm);
        let mut share = S::constant(0.0);
        for &(weight, attenuation) in &self.terms {
            share = share + (S::constant(1.0) - (thickness * -attenuation).exp()) * weight;
        }
        (outputs[0], outputs[1]) = (thickness, S::constant(1.0) / share);
    }
}

impl Setting {
    /// Mass thickness of a round bead, and the factor from its primary intensity of a line to that of a thick bead, both with what
    /// mass and diameter are uncertain by.
    ///
    /// `t = m/(pi d^2/4)`; `factor = 1/(1 - sum W exp(-(mu' + mu'') t)/sum W)` as in [`thick_from`](Self::thick_from). The wall of a
    /// bead is taken as upright; where it is slanted, give the diameter of a disc of the same mean area. Composition of the glass
    /// and atomic tables are taken as known: at a share of one half, 1 % in the attenuation moves the factor by about 0.7 %.
    ///
    /// # Errors
    /// `mass.not-positive`; `number.not-finite`; those of [`thick_from`](Self::thick_from).
    ///
    /// # Source
    /// The absorption law; see [`evaluate`](Self::evaluate).
    ///
    /// ```
    /// use beadchem::substance::Weights;
    /// use beadchem::uncertainty::Estimate;
    /// use beadchem::xray::{Geometry, Glass, Instrument, Setting, Source, example_tables};
    /// let weights = Weights::ciaaw_2024();
    /// let instrument = Instrument::new(Source::monochromatic(20.0)?, Geometry::new(63.0, 40.0)?);
    /// let setting = Setting::new(&example_tables()?, &weights, &instrument, &["Li2B4O7"], &["Fe Ka"]);
    /// assert!(setting.is_err(), "iron must be among the substances");
    /// let setting = Setting::new(&example_tables()?, &weights, &instrument, &["Li2B4O7", "Fe2O3"], &["Fe Ka"])?;
    /// let flux = Glass::of_masses(&[("Li2B4O7", 1.0)], &weights)?;
    /// let thick = setting.to_thick(&flux, "Fe Ka", Estimate::exact(80.0)?, Estimate::exact(35.0)?)?;
    /// assert!((thick.factor.value() - 1.0).abs() < 1e-9 && (thick.g_per_cm2.value() - 8.315).abs() < 1e-3);
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    pub fn to_thick(&self, glass: &Glass, line: &str, bead_g: Estimate, diameter_mm: Estimate) -> Result<ToThick> {
        let mut terms = self.terms(glass, line)?;
        let whole: f64 = terms.iter().map(|term| term.0).sum();
        terms.iter_mut().for_each(|term| term.0 /= whole);
        for (quantity, estimate, unit) in [("Mass of a bead", &bead_g, "g"), ("Diameter of a bead", &diameter_mm, "mm")]
        {
            above_zero(quantity, estimate.value(), unit)?;
        }
        let mut inputs = Inputs::new();
        inputs.push("bead mass", bead_g)?;
        inputs.push("bead diameter", diameter_mm)?;
        let propagated = propagate(&Disc { terms }, &inputs)?;
        Ok(ToThick { g_per_cm2: propagated.estimate(0)?, factor: propagated.estimate(1)? })
    }
}
