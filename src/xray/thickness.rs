//! How much glass a line is read from.

use crate::code::Code;
use crate::composition::unit::percent_text;
use crate::error::{Error, Result, finite};
use crate::finding::Finding;
use crate::scalar::Scalar;
use crate::xray::glass::Glass;
use crate::xray::intensity::{mass_thickness, rounded};
use crate::xray::setting::Setting;

/// A bead that gives this share of the intensity of a very thick one counts as thick.
const THICK: f64 = 0.99;
/// Newton's steps settle in ten or so; they rise to the answer from below.
const STEPS: usize = 200;
/// Of the answer.
const SETTLED: f64 = 1e-13;

impl Setting {
    /// The mass thickness, g/cm2, at which a bead gives 99 % of the primary intensity that a very thick bead of this glass
    /// gives.
    ///
    /// The solution t of `sum W exp(-(mu' + mu'') t) = 0.01 sum W` over the spectrum, `W = N tau/(mu' + mu'')`. Times ten
    /// over the density in g/cm3 it is a thickness in mm. The way out alone, `4.605 sin psi2/mu(E_line)`, is 5 to 50 % too
    /// large.
    ///
    /// # Errors
    /// `line.not-tabulated`; `element.not-tabulated`; the element of the line need not be in the glass.
    ///
    /// ```
    /// use beadchem::substance::Weights;
    /// use beadchem::xray::{Geometry, Glass, Instrument, Setting, Source, example_tables};
    /// let weights = Weights::ciaaw_2024();
    /// let instrument = Instrument::new(Source::monochromatic(20.0)?, Geometry::new(63.0, 40.0)?);
    /// let setting = Setting::new(&example_tables()?, &weights, &instrument, &["Li2B4O7", "SiO2"], &["Si Ka"])?;
    /// let flux = Glass::of_masses(&[("Li2B4O7", 1.0)], &weights)?;
    /// let thick = setting.thick_from(&flux, "Si Ka")?;
    /// assert!((setting.share_of_thick(&flux, "Si Ka", thick)? - 0.99).abs() < 1e-12);
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    pub fn thick_from(&self, glass: &Glass, line: &str) -> Result<f64> {
        let terms = self.terms(glass, line)?;
        let whole: f64 = terms.iter().map(|term| term.0).sum();
        let target = Scalar::ln(1.0 - THICK);
        let mut t = 0.0;
        for _ in 0..STEPS {
            let (mut left, mut slope) = (0.0, 0.0);
            for &(weight, attenuation) in &terms {
                let part = weight * Scalar::exp(-attenuation * t);
                left += part;
                slope += part * attenuation;
            }
            // the logarithm of the part that is missing is convex and falls: steps never pass the answer
            let step = (Scalar::ln(left / whole) - target) * left / slope;
            t += step;
            if step.abs() <= SETTLED * t {
                break;
            }
        }
        finite(&format!("Thickness from which {line} is thick"), t)
    }

    /// The share of the thick primary intensity that a bead of this mass thickness, g/cm2, gives.
    ///
    /// # Errors
    /// As [`thick_from`](Self::thick_from), and `mass.not-positive`.
    ///
    /// ```
    /// use beadchem::substance::Weights;
    /// use beadchem::xray::{Geometry, Glass, Instrument, Setting, Source, example_tables};
    /// let weights = Weights::ciaaw_2024();
    /// let instrument = Instrument::new(Source::monochromatic(20.0)?, Geometry::new(63.0, 40.0)?);
    /// let setting = Setting::new(&example_tables()?, &weights, &instrument, &["Li2B4O7", "Fe2O3"], &["Fe Ka"])?;
    /// let flux = Glass::of_masses(&[("Li2B4O7", 1.0)], &weights)?;
    /// assert!(setting.share_of_thick(&flux, "Fe Ka", 0.01)? < 0.5);
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    pub fn share_of_thick(&self, glass: &Glass, line: &str, g_per_cm2: f64) -> Result<f64> {
        let thickness = mass_thickness(g_per_cm2)?;
        let terms = self.terms(glass, line)?;
        let whole: f64 = terms.iter().map(|term| term.0).sum();
        let missing: f64 = terms.iter().map(|&(weight, mu)| weight * Scalar::exp(-mu * thickness)).sum();
        finite(&format!("Share of the thick intensity of {line}"), 1.0 - missing / whole)
    }

    /// A finding for each line of which a bead of this mass thickness, g/cm2, gives less than 99 %.
    ///
    /// # Errors
    /// As [`share_of_thick`](Self::share_of_thick).
    ///
    /// ```
    /// use beadchem::substance::Weights;
    /// use beadchem::xray::{Geometry, Glass, Instrument, Setting, Source, example_tables};
    /// let weights = Weights::ciaaw_2024();
    /// let instrument = Instrument::new(Source::monochromatic(20.0)?, Geometry::new(63.0, 40.0)?);
    /// let setting = Setting::new(&example_tables()?, &weights, &instrument, &["Li2B4O7", "Fe2O3"], &["Fe Ka"])?;
    /// let flux = Glass::of_masses(&[("Li2B4O7", 1.0)], &weights)?;
    /// assert_eq!(setting.not_thick(&flux, 0.01)?[0].code.word(), "bead.not-thick");
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    pub fn not_thick(&self, glass: &Glass, g_per_cm2: f64) -> Result<Vec<Finding>> {
        let mut findings = Vec::new();
        for line in self.lines() {
            let share = self.share_of_thick(glass, line, g_per_cm2)?;
            if share < THICK {
                let needed = self.thick_from(glass, line)?;
                let text = format!(
                    "{line} gives {} of what a thick bead gives: the bead has {g_per_cm2:.3} g/cm2, 99 % need {needed:.3}. \
                     Its mass and area enter this line, and enhancement computed for it is too large; choose a line of lower energy, or \
                     keep them constant.",
                    percent_text(rounded(share))
                );
                findings.push(Finding::new(Code::BeadNotThick, line, text).with_value(share).with_bound(THICK));
            }
        }
        Ok(findings)
    }

    /// For each point of the source above the edge, `N tau/(mu' + mu'')` and `mu' + mu''`.
    pub(super) fn terms(&self, glass: &Glass, line: &str) -> Result<Vec<(f64, f64)>> {
        let place = self.place(line)?;
        let masses = self.masses(glass)?;
        let mut room = self.scratch::<f64>();
        self.mix(&masses, &mut room);
        let target = self.wanted.targets[place];
        let ray = &self.rays[target];
        let outward = room.rays[target] * self.inverse_sines.1;
        let points = self.energies.len();
        let vacancies = &self.vacancies[ray.shell * points..(ray.shell + 1) * points];
        let above = vacancies.iter().zip(&room.inward).filter(|(vacancies, _)| **vacancies > 0.0);
        let terms: Vec<(f64, f64)> = above.map(|(vacancies, mu)| (vacancies / (mu + outward), mu + outward)).collect();
        if terms.is_empty() {
            return Err(Error::Conflict {
                code: Code::LineNotExcited,
                detail: format!("The source has no photons above the edge of {line}."),
                hint: "Look at the lowest energy of the panels and at the spectrum.".to_owned(),
            });
        }
        Ok(terms)
    }
}
