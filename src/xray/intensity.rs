//! Intensities of the lines of a glass.

use crate::code::Code;
use crate::composition::unit::percent_text;
use crate::error::{Error, Result};
use crate::finding::Finding;
use crate::numeric::InstructionSet;
use crate::scalar::Scalar;
use crate::xray::glass::Glass;
use crate::xray::kernel::{Scheme, Scratch};
use crate::xray::setting::Setting;
use crate::xray::tables::{IN_SETTING, absent};
use crate::xray::tertiary::chains;

/// Fluorescence of the third order above this share of a line is told.
const TERTIARY: f64 = 0.005;

/// Intensity of one line, photons s-1 sr-1 mA-1 for a tube, without solid angle and detector.
///
/// ```
/// let line = beadchem::xray::LineIntensity { primary: 9.0, secondary: 1.0 };
/// assert_eq!(line.total(), 10.0);
/// ```
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LineIntensity {
    /// Excited by the source.
    pub primary: f64,
    /// Excited by other lines of the glass.
    pub secondary: f64,
}

impl LineIntensity {
    /// Both together.
    ///
    /// ```
    /// assert_eq!(beadchem::xray::LineIntensity { primary: 9.0, secondary: 1.0 }.total(), 10.0);
    /// ```
    #[must_use]
    pub fn total(&self) -> f64 {
        self.primary + self.secondary
    }
}

/// Intensities of all lines of a setting, with findings.
///
/// ```
/// use beadchem::substance::Weights;
/// use beadchem::xray::{Geometry, Glass, Instrument, Setting, Source, example_tables};
/// let weights = Weights::ciaaw_2024();
/// let instrument = Instrument::new(Source::monochromatic(20.0)?, Geometry::new(63.0, 40.0)?);
/// let setting = Setting::new(&example_tables()?, &weights, &instrument, &["SiO2", "CaO"], &["Si Ka"])?;
/// let result = setting.intensities(&Glass::of_masses(&[("SiO2", 0.5), ("CaO", 0.5)], &weights)?)?;
/// assert!(result.line("Si Ka")?.secondary > 0.0, "excited by Ca Ka");
/// # Ok::<(), beadchem::Error>(())
/// ```
#[derive(Debug, Clone, PartialEq)]
pub struct Intensities {
    lines: Vec<String>,
    values: Vec<LineIntensity>,
    findings: Vec<Finding>,
}

impl Intensities {
    /// One line.
    ///
    /// # Errors
    /// `line.not-tabulated` with the lines there are.
    ///
    /// ```
    /// use beadchem::substance::Weights;
    /// use beadchem::xray::{Geometry, Glass, Instrument, Setting, Source, example_tables};
    /// let weights = Weights::ciaaw_2024();
    /// let instrument = Instrument::new(Source::monochromatic(20.0)?, Geometry::new(63.0, 40.0)?);
    /// let setting = Setting::new(&example_tables()?, &weights, &instrument, &["SiO2"], &["Si Ka"])?;
    /// let result = setting.intensities(&Glass::of_masses(&[("SiO2", 1.0)], &weights)?)?;
    /// assert!(result.line("Fe Ka").is_err());
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    pub fn line(&self, name: &str) -> Result<LineIntensity> {
        let place = self.lines.iter().position(|line| line == name);
        place.map(|place| self.values[place]).ok_or_else(|| Error::Unknown {
            code: Code::LineNotTabulated,
            what: "Among these intensities the line".to_owned(),
            given: name.to_owned(),
            hint: format!("They are of: {}.", self.lines.join(", ")),
        })
    }

    /// All lines, in the order in which they were asked for.
    ///
    /// ```
    /// use beadchem::substance::Weights;
    /// use beadchem::xray::{Geometry, Glass, Instrument, Setting, Source, example_tables};
    /// let weights = Weights::ciaaw_2024();
    /// let instrument = Instrument::new(Source::monochromatic(20.0)?, Geometry::new(63.0, 40.0)?);
    /// let setting = Setting::new(&example_tables()?, &weights, &instrument, &["SiO2"], &["Si Ka"])?;
    /// let result = setting.intensities(&Glass::of_masses(&[("SiO2", 1.0)], &weights)?)?;
    /// assert_eq!(result.values().len(), 1);
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn values(&self) -> &[LineIntensity] {
        &self.values
    }

    /// What a reader must know.
    ///
    /// ```
    /// use beadchem::substance::Weights;
    /// use beadchem::xray::{Geometry, Glass, Instrument, Setting, Source, example_tables};
    /// let weights = Weights::ciaaw_2024();
    /// let instrument = Instrument::new(Source::monochromatic(20.0)?, Geometry::new(63.0, 40.0)?);
    /// let setting = Setting::new(&example_tables()?, &weights, &instrument, &["SiO2"], &["Si Ka"])?;
    /// let result = setting.intensities(&Glass::of_masses(&[("SiO2", 1.0)], &weights)?)?;
    /// assert!(result.findings().is_empty());
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn findings(&self) -> &[Finding] {
        &self.findings
    }
}

/// What these intensities leave out, one sentence each.
///
/// ```
/// assert!(beadchem::xray::not_modelled().iter().any(|what| what.contains("third order")));
/// ```
#[must_use]
pub fn not_modelled() -> &'static [&'static str] {
    &[
        "Fluorescence of the third order (a line excited by one that others excite) is left out; a finding tells where it could \
         matter.",
        "In a bead that is not thick, secondary fluorescence is computed as in a thick one.",
        "Vacancies of the L shell that come from the K shell are left out; they matter for L lines excited above the K edge.",
        "Excitation by photons scattered in the bead, and the background they give, are left out.",
        "M lines are left out, and so is what the detector and the crystal make of a line.",
        "Photons below the lowest energy of the panels, 1 keV unless another is given, excite nothing, and lines below it excite no \
         others.",
    ]
}

/// The arithmetic of one bead, compiled for the chosen instruction set.
struct Run<'a, S: Scalar> {
    setting: &'a Setting,
    scheme: &'a Scheme,
    masses: &'a [S],
    thickness: Option<S>,
    primary: &'a mut [S],
    secondary: &'a mut [S],
    scratch: &'a mut Scratch<S>,
}

impl<S: Scalar> pulp::NullaryFnOnce for Run<'_, S> {
    type Output = ();
    #[inline(always)]
    fn call(self) {
        self.setting.compute(self.scheme, self.masses, self.thickness, self.primary, self.secondary, self.scratch);
    }
}

impl Setting {
    /// Room for [`evaluate`](Self::evaluate).
    ///
    /// ```
    /// use beadchem::substance::Weights;
    /// use beadchem::xray::{Geometry, Instrument, Setting, Source, example_tables};
    /// let instrument = Instrument::new(Source::monochromatic(20.0)?, Geometry::new(63.0, 40.0)?);
    /// let setting = Setting::new(&example_tables()?, &Weights::ciaaw_2024(), &instrument, &["SiO2"], &["Si Ka"])?;
    /// let _room = setting.scratch::<f64>();
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn scratch<S: Scalar>(&self) -> Scratch<S> {
        Scratch::new(self, &self.wanted)
    }

    /// Primary and secondary intensity of every line from the masses of the elements of a glass, in the order of
    /// [`elements`](Self::elements); over any number, so that dual numbers give exact derivatives.
    ///
    /// Primary: `P = c (omega p/sin psi1) sum N(E) tau(E)/(mu' + mu'')`, with `mu' = mu(E)/sin psi1`, `mu'' = mu(E_line)/sin
    /// psi2` and, in a bead of a mass thickness t (g/cm2), each term times `1 - exp(-(mu' + mu'') t)`. Secondary, thick bead:
    /// `S = sum_j 1/2 c (omega p/sin psi1) tau(E_j) c_j (omega p)_j sum N tau_j (ln(1 + mu'/mu_j)/mu' + ln(1 +
    /// mu''/mu_j)/mu'')/(mu' + mu'')`, over all lines j above the edge, `mu_j = mu(E_j)`. Fractions `c` are over the whole
    /// mass of the glass.
    ///
    /// # Errors
    /// `shape.mismatch`. Impossible masses give no number; [`intensities`](Self::intensities) checks them.
    ///
    /// # Source
    /// Primary: Sherman, Spectrochim. Acta 1955, 7, 283. Secondary: Shiraiwa and Fujino, Jpn. J. Appl. Phys. 1966, 5, 886
    /// (from memory: unconfirmed; the closed form is tested against an integral over depths).
    ///
    /// ```
    /// use beadchem::scalar::Dual;
    /// use beadchem::substance::Weights;
    /// use beadchem::xray::{Geometry, Instrument, Setting, Source, example_tables};
    /// let instrument = Instrument::new(Source::monochromatic(20.0)?, Geometry::new(63.0, 40.0)?);
    /// let setting = Setting::new(&example_tables()?, &Weights::ciaaw_2024(), &instrument, &["SiO2"], &["Si Ka"])?;
    /// let silicon = Dual::<f64, 1>::variable(0.47, 0);
    /// let oxygen = Dual::variable(0.53, 0) * 0.0 + 0.53;
    /// let (mut primary, mut secondary) = ([oxygen], [oxygen]);
    /// setting.evaluate(&[silicon, oxygen], None, &mut primary, &mut secondary, &mut setting.scratch())?;
    /// assert!(primary[0].eps[0] > 0.0, "more silicon, more Si Ka");
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    pub fn evaluate<S: Scalar>(
        &self,
        masses: &[S],
        thickness: Option<S>,
        primary: &mut [S],
        secondary: &mut [S],
        scratch: &mut Scratch<S>,
    ) -> Result<()> {
        let lines = self.wanted.targets.len();
        let hint = "One mass for each element of the setting, one intensity for each of its lines.";
        for (quantity, expected, found) in [
            ("Masses of elements", self.elements.len(), masses.len()),
            ("Primary intensities", lines, primary.len()),
            ("Secondary intensities", lines, secondary.len()),
            ("Room for elements", self.elements.len(), scratch.fractions.len()),
            ("Room for points of the source", self.energies.len(), scratch.inward.len()),
            ("Room for lines", self.rays.len(), scratch.rays.len()),
            ("Room for a bead", self.energies.len() * self.wanted.exciters.len(), scratch.spread.len()),
        ] {
            if expected != found {
                return Err(Error::shape(quantity, expected, found, hint));
            }
        }
        let scheme = &self.wanted;
        InstructionSet::best().run(Run { setting: self, scheme, masses, thickness, primary, secondary, scratch })
    }

    /// Intensities of every line of a thick bead of this glass.
    ///
    /// # Errors
    /// `element.not-tabulated` where the glass holds an element that the setting does not; `number.not-finite`.
    ///
    /// ```
    /// use beadchem::substance::Weights;
    /// use beadchem::xray::{Geometry, Glass, Instrument, Setting, Source, example_tables};
    /// let weights = Weights::ciaaw_2024();
    /// let instrument = Instrument::new(Source::monochromatic(20.0)?, Geometry::new(63.0, 40.0)?);
    /// let setting = Setting::new(&example_tables()?, &weights, &instrument, &["SiO2"], &["Si Ka"])?;
    /// assert!(setting.intensities(&Glass::of_elements(&[("Fe", 1.0)])?).is_err());
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    pub fn intensities(&self, glass: &Glass) -> Result<Intensities> {
        self.intensities_of(glass, None)
    }

    /// Intensities of every line of a bead of so much mass on each square centimetre, g/cm2. The secondary part is that of a
    /// thick bead, and so too large: a finding names every line that is not thick.
    ///
    /// # Errors
    /// As [`intensities`](Self::intensities), and `mass.not-positive`.
    ///
    /// ```
    /// use beadchem::substance::Weights;
    /// use beadchem::xray::{Geometry, Glass, Instrument, Setting, Source, example_tables};
    /// let weights = Weights::ciaaw_2024();
    /// let instrument = Instrument::new(Source::monochromatic(20.0)?, Geometry::new(63.0, 40.0)?);
    /// let setting = Setting::new(&example_tables()?, &weights, &instrument, &["SiO2"], &["Si Ka"])?;
    /// let glass = Glass::of_masses(&[("SiO2", 1.0)], &weights)?;
    /// let [thin, thick] = [setting.intensities_of_bead(&glass, 0.001)?, setting.intensities(&glass)?];
    /// assert!(thin.line("Si Ka")?.primary < thick.line("Si Ka")?.primary);
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    pub fn intensities_of_bead(&self, glass: &Glass, g_per_cm2: f64) -> Result<Intensities> {
        let mut found = self.intensities_of(glass, Some(mass_thickness(g_per_cm2)?))?;
        found.findings.extend(self.not_thick(glass, g_per_cm2)?);
        Ok(found)
    }

    fn intensities_of(&self, glass: &Glass, thickness: Option<f64>) -> Result<Intensities> {
        let masses = self.masses(glass)?;
        let lines = self.wanted.targets.len();
        let (mut primary, mut secondary) = (vec![0.0; lines], vec![0.0; lines]);
        self.evaluate(&masses, thickness, &mut primary, &mut secondary, &mut self.scratch())?;
        let mut values = Vec::with_capacity(lines);
        for ((name, &primary), &secondary) in self.lines().iter().zip(&primary).zip(&secondary) {
            crate::error::finite(&format!("Intensity of {name}"), primary + secondary)?;
            values.push(LineIntensity { primary, secondary });
        }
        let findings = self.tertiary(&masses)?;
        Ok(Intensities { lines: self.lines().into_iter().map(str::to_owned).collect(), values, findings })
    }

    /// The masses of a glass in the order of the elements of the setting.
    pub(super) fn masses(&self, glass: &Glass) -> Result<Vec<f64>> {
        let mut masses = vec![0.0; self.elements.len()];
        for (&element, &mass) in glass.elements().iter().zip(glass.masses()).filter(|(_, mass)| **mass > 0.0) {
            let place = self.elements.iter().position(|&known| known == element);
            masses[place.ok_or_else(|| absent(IN_SETTING, element, &self.elements))?] = mass;
        }
        Ok(masses)
    }

    /// Lines of which fluorescence of the third order could be more than 0.5 %.
    fn tertiary(&self, masses: &[f64]) -> Result<Vec<Finding>> {
        let Some(coarse) = &self.coarse else { return Ok(Vec::new()) };
        let mut findings = Vec::new();
        for (line, share) in self.lines().into_iter().zip(chains(coarse, self.wanted.targets.len(), masses)?) {
            if share > TERTIARY {
                let text = format!(
                    "Fluorescence of the third order, which is not computed, could add {} to {line} (unsaid is up to {}). \
                     A more dilute bead has less of it.",
                    percent_text(rounded(share)),
                    percent_text(TERTIARY)
                );
                findings
                    .push(Finding::new(Code::TertiaryFluorescence, line, text).with_value(share).with_bound(TERTIARY));
            }
        }
        Ok(findings)
    }
}

/// A share for a sentence: to a tenth of a per cent.
pub(super) fn rounded(share: f64) -> f64 {
    (share * 1000.0).round() / 1000.0
}

/// Refuses a bead without mass.
pub(super) fn mass_thickness(g_per_cm2: f64) -> Result<f64> {
    above_zero("Mass thickness of a bead", g_per_cm2, "g/cm2")
}

/// A measure of a bead that must be above zero.
pub(super) fn above_zero(quantity: &str, value: f64, unit: &'static str) -> Result<f64> {
    crate::error::finite(quantity, value)?;
    if value > 0.0 {
        return Ok(value);
    }
    Err(Error::NotPositive {
        code: Code::MassNotPositive,
        quantity: quantity.to_owned(),
        value,
        unit,
        bound: "A bead has mass on its area".to_owned(),
        hint: "its mass thickness is its mass over its area: 8.8 g on 35 mm make 0.915 g/cm2.".to_owned(),
    })
}
