//! What a glass scatters under its lines.

use crate::error::{Error, Result};
use crate::xray::setting::Setting;

impl Setting {
    /// For each line, the scattered part of the attenuation of a glass at the energy of the line, `s = sum c_e (mu_e - tau_e) / sum c_e
    /// mu_e`, from the masses of its elements in the order of [`elements`](Self::elements).
    ///
    /// This is a model of the background under a line, not a computed background: photons of the source that have the energy of
    /// the line are scattered once, alike in all directions and without loss of energy, so that a thick bead sends back
    /// `N(E) s/(1/sin psi1 + 1/sin psi2)` of them per unit of angle. Only its ratio between two glasses means something. What
    /// crystal, collimator and detector add to a background is not in it.
    ///
    /// # Errors
    /// `shape.mismatch`; `number.not-finite` for a glass that holds nothing.
    ///
    /// # Source
    /// Common practice: a thick scatterer sends back in proportion to its coefficient of scattering over its attenuation.
    ///
    /// ```
    /// use beadchem::substance::Weights;
    /// use beadchem::xray::{Geometry, Instrument, Setting, Source, example_tables};
    /// let instrument = Instrument::new(Source::monochromatic(20.0)?, Geometry::new(63.0, 40.0)?);
    /// let setting = Setting::new(&example_tables()?, &Weights::ciaaw_2024(), &instrument, &["SiO2", "Fe2O3"], &["Fe Ka"])?;
    /// let [sand, iron] = [[0.47, 0.53, 0.0], [0.0, 0.3, 0.7]].map(|masses| setting.scattered(&masses));
    /// assert!(iron?[0] > sand?[0], "sand absorbs more of Fe Ka than iron itself, and sends less back");
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    pub fn scattered(&self, masses: &[f64]) -> Result<Vec<f64>> {
        if masses.len() != self.elements.len() {
            let hint = "One mass for each element of the setting, in their order.";
            return Err(Error::shape("Masses of elements", self.elements.len(), masses.len(), hint));
        }
        let rays = self.rays.len();
        let mut shares = Vec::with_capacity(self.wanted.targets.len());
        for (&target, line) in self.wanted.targets.iter().zip(self.lines()) {
            let at = |coefficients: &[f64]| -> f64 {
                masses.iter().zip(coefficients.chunks_exact(rays)).map(|(mass, row)| mass * row[target]).sum()
            };
            let share = at(&self.scattered) / at(&self.at_rays);
            shares.push(crate::error::finite(&format!("Scattered part under {line}"), share)?);
        }
        Ok(shares)
    }
}
