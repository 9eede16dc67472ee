//! For which beads influence coefficients were made.

use crate::code::Code;
use crate::composition::unit::{percent_text, within_percent};
use crate::error::{Error, Result, finite, within};
use crate::substance::Formula;

/// No bead is more dilute.
const LARGEST_RATIO: f64 = 1000.0;

/// The beads that influence coefficients were made for: flux ratio, flux, instrument, contents.
///
/// ```
/// use beadchem::matrix::Conditions;
/// let made_for = Conditions::new(10.0)?
///     .with_range(8.5, 11.5)?
///     .with_blend(&[("Li2B4O7", 0.35), ("LiBO2", 0.65)])?
///     .with_setup("Rh tube 50 kV, Be 125 um, 63/40 deg")
///     .with_centroid("Fe2O3", 0.86)?
///     .with_content_range("Fe2O3", 0.70, 0.97)?;
/// assert_eq!((made_for.fused_flux_ratio(), made_for.range()), (10.0, (8.5, 11.5)));
/// # Ok::<(), beadchem::Error>(())
/// ```
#[derive(Debug, Clone, PartialEq)]
pub struct Conditions {
    pub(super) fused_flux_ratio: f64,
    pub(super) range: (f64, f64),
    pub(super) blend: Vec<(Formula, f64)>,
    pub(super) setup: String,
    pub(super) centroid: Vec<(Formula, f64)>,
    pub(super) content_ranges: Vec<(Formula, (f64, f64))>,
}

impl Conditions {
    /// Coefficients for one reference ratio F0, g of fused flux per g of sample as weighed, and for no other until a range
    /// is stated.
    ///
    /// # Errors
    /// `number.not-finite`; `number.out-of-range` where the ratio is not above 0.
    ///
    /// ```
    /// assert!(beadchem::matrix::Conditions::new(0.0).is_err());
    /// ```
    pub fn new(fused_flux_ratio: f64) -> Result<Self> {
        ratio("Fused flux ratio of influence coefficients,", fused_flux_ratio)?;
        Ok(Self {
            fused_flux_ratio,
            range: (fused_flux_ratio, fused_flux_ratio),
            blend: Vec::new(),
            setup: String::new(),
            centroid: Vec::new(),
            content_ranges: Vec::new(),
        })
    }

    /// With the range of fused flux ratios in which the coefficients hold.
    ///
    /// # Errors
    /// `number.not-finite`; `number.out-of-range` where F0 is not within the range.
    ///
    /// ```
    /// assert!(beadchem::matrix::Conditions::new(10.0)?.with_range(4.0, 6.0).is_err());
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    pub fn with_range(mut self, low: f64, high: f64) -> Result<Self> {
        ratio("Lowest fused flux ratio of influence coefficients,", low)?;
        ratio("Highest fused flux ratio of influence coefficients,", high)?;
        self.range = (low, high);
        self.check_reference()?;
        Ok(self)
    }

    /// F0 within its range.
    fn check_reference(&self) -> Result<()> {
        let (low, high) = self.range;
        let hint = "The ratio that coefficients refer to is one of those they hold for; the lower end comes first.";
        let bound = format!("{} to {}", shown(low), shown(high));
        within("Fused flux ratio of influence coefficients,", self.fused_flux_ratio, "", [low, high], &bound, hint)?;
        Ok(())
    }

    /// The same beads with another reference ratio.
    pub(super) fn referred_to(mut self, fused_flux_ratio: f64) -> Result<Self> {
        finite("Fused flux ratio of influence coefficients", fused_flux_ratio)?;
        self.fused_flux_ratio = fused_flux_ratio;
        self.check_reference()?;
        Ok(self)
    }

    /// With the flux, as parts by mass.
    ///
    /// # Errors
    /// Those of [`Formula::parse`]; `number.not-finite`; `number.out-of-range` for a part not above 0; `species.doubled`.
    ///
    /// ```
    /// let made_for = beadchem::matrix::Conditions::new(10.0)?.with_blend(&[("Li2B4O7", 35.0), ("LiBO2", 65.0)])?;
    /// assert_eq!(made_for.blend()[1].1, 0.65);
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    pub fn with_blend(mut self, parts: &[(&str, f64)]) -> Result<Self> {
        let mut blend = Vec::with_capacity(parts.len());
        for &(text, part) in parts {
            let hint = "A part of a flux is above zero; leave out what is not in it.";
            within(&format!("Part of {text} in the flux,"), part, "", [f64::MIN_POSITIVE, 1e9], "above 0", hint)?;
            push(&mut blend, Formula::parse(text)?, part)?;
        }
        self.blend = as_shares(&blend);
        Ok(self)
    }

    /// With the instrument in words: tube, voltage, window, angles.
    ///
    /// ```
    /// let made_for = beadchem::matrix::Conditions::new(10.0)?.with_setup("Rh tube 50 kV");
    /// assert_eq!(made_for.setup(), "Rh tube 50 kV");
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn with_setup(mut self, setup: impl Into<String>) -> Self {
        self.setup = setup.into();
        self
    }

    /// With the content of a component at which the coefficients were made, g per g of sample as weighed.
    ///
    /// # Errors
    /// Those of [`Formula::parse`]; `species.doubled`; `number.out-of-range` outside -50 % to 500 %; `number.not-finite`.
    ///
    /// ```
    /// let made_for = beadchem::matrix::Conditions::new(10.0)?.with_centroid("CaO", 0.02)?;
    /// assert_eq!(made_for.centroid_of("CaO"), Some(0.02));
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    pub fn with_centroid(mut self, component: &str, content: f64) -> Result<Self> {
        plausible(&format!("Content of {component} at the centroid,"), content)?;
        push(&mut self.centroid, Formula::parse(component)?, content)?;
        Ok(self)
    }

    /// With the range of a component within which the coefficients hold, g per g of sample as weighed.
    ///
    /// # Errors
    /// As [`with_centroid`](Self::with_centroid), and `number.out-of-range` where the ends are not in order.
    ///
    /// ```
    /// assert!(beadchem::matrix::Conditions::new(10.0)?.with_content_range("CaO", 0.2, 0.1).is_err());
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    pub fn with_content_range(mut self, component: &str, low: f64, high: f64) -> Result<Self> {
        plausible(&format!("Lower end of the range of {component},"), low)?;
        plausible(&format!("Upper end of the range of {component},"), high)?;
        let hint = "The lower end comes first.";
        let quantity = format!("Upper end of the range of {component},");
        within(&quantity, high, "g/g", [low, f64::MAX], &format!("{} and above", percent_text(low)), hint)?;
        push(&mut self.content_ranges, Formula::parse(component)?, (low, high))?;
        Ok(self)
    }

    /// The reference ratio F0, g of fused flux per g of sample as weighed.
    ///
    /// ```
    /// assert_eq!(beadchem::matrix::Conditions::new(10.0)?.fused_flux_ratio(), 10.0);
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn fused_flux_ratio(&self) -> f64 {
        self.fused_flux_ratio
    }

    /// The lowest and the highest fused flux ratio.
    ///
    /// ```
    /// assert_eq!(beadchem::matrix::Conditions::new(10.0)?.range(), (10.0, 10.0));
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn range(&self) -> (f64, f64) {
        self.range
    }

    /// The flux as shares by mass that add up to 1; empty where none was stated.
    ///
    /// ```
    /// assert!(beadchem::matrix::Conditions::new(10.0)?.blend().is_empty());
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn blend(&self) -> &[(Formula, f64)] {
        &self.blend
    }

    /// The instrument in words.
    ///
    /// ```
    /// assert_eq!(beadchem::matrix::Conditions::new(10.0)?.setup(), "");
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn setup(&self) -> &str {
        &self.setup
    }

    /// The contents at which the coefficients were made, g per g of sample as weighed.
    ///
    /// ```
    /// assert!(beadchem::matrix::Conditions::new(10.0)?.centroid().is_empty());
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn centroid(&self) -> &[(Formula, f64)] {
        &self.centroid
    }

    /// The content of one component at the centroid, where it is stated.
    ///
    /// ```
    /// assert_eq!(beadchem::matrix::Conditions::new(10.0)?.centroid_of("CaO"), None);
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn centroid_of(&self, component: &str) -> Option<f64> {
        held(&self.centroid, component).copied()
    }

    /// The range of one component, where it is stated, g per g of sample as weighed.
    ///
    /// ```
    /// let made_for = beadchem::matrix::Conditions::new(10.0)?.with_content_range("CaO", 0.01, 0.3)?;
    /// assert_eq!(made_for.content_range("CaO"), Some((0.01, 0.3)));
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn content_range(&self, component: &str) -> Option<(f64, f64)> {
        held(&self.content_ranges, component).copied()
    }
}

impl Conditions {
    /// The range of contents of a component, by its atoms.
    pub(crate) fn range_of(&self, component: &Formula) -> Option<(f64, f64)> {
        self.content_ranges.iter().find(|(known, _)| same_atoms(known, component)).map(|(_, range)| *range)
    }
}

fn held<'a, T>(list: &'a [(Formula, T)], component: &str) -> Option<&'a T> {
    list.iter().find(|(formula, _)| formula.text() == component).map(|(_, value)| value)
}

fn push<T>(list: &mut Vec<(Formula, T)>, formula: Formula, value: T) -> Result<()> {
    if list.iter().any(|(known, _)| same_atoms(known, &formula)) {
        return Err(doubled(&formula));
    }
    list.push((formula, value));
    Ok(())
}

pub(super) fn doubled(formula: &Formula) -> Error {
    Error::Conflict {
        code: Code::SpeciesDoubled,
        detail: format!("{formula} is given twice."),
        hint: "Keep one; nothing was added up.".to_owned(),
    }
}

/// The same substance, however it is written.
pub(super) fn same_atoms(one: &Formula, other: &Formula) -> bool {
    one.atoms().len() == other.atoms().len() && one.atoms().iter().all(|(e, count)| other.count(*e) == *count)
}

/// Parts as shares of their sum.
pub(super) fn as_shares(parts: &[(Formula, f64)]) -> Vec<(Formula, f64)> {
    // Shares that add up to 1 but for rounding are kept to the bit, so that stored conditions read back as themselves.
    const ROUNDING: f64 = 1e-12;
    let sum: f64 = parts.iter().map(|(_, part)| part).sum();
    let whole = if (sum - 1.0).abs() > ROUNDING { sum } else { 1.0 };
    parts.iter().map(|(formula, part)| (formula.clone(), part / whole)).collect()
}

/// A ratio in three decimals, at least one shown.
pub(super) fn shown(ratio: f64) -> String {
    const DECIMALS: f64 = 1e3;
    format!("{:?}", (ratio * DECIMALS).round() / DECIMALS)
}

/// Refuses a fused flux ratio that no bead has.
pub(super) fn ratio(quantity: &str, value: f64) -> Result<f64> {
    let hint = "It is g of flux after its loss per g of sample as weighed.";
    within(quantity, value, "", [f64::MIN_POSITIVE, LARGEST_RATIO], "above 0 to 1000", hint)
}

fn plausible(quantity: &str, content: f64) -> Result<f64> {
    within_percent(quantity, content, [-0.5, 5.0], "Contents are g per g of sample as weighed; were per cent meant?")
}
