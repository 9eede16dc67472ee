//! The photons of a source as energies with numbers.

/// What a source sends out: energies, ascending, each with a number of photons. A continuum is the points of its panels.
///
/// ```
/// use beadchem::{substance::Weights, xray::{Panels, Source, example_tables}};
/// let source = Source::monochromatic(20.0)?;
/// let emission = source.emission(&[], Panels::default(), &example_tables()?, &Weights::ciaaw_2024())?;
/// assert_eq!(emission.points(), [(20.0, 1.0)]);
/// # Ok::<(), beadchem::Error>(())
/// ```
#[derive(Debug, Clone, PartialEq)]
pub struct Emission {
    points: Vec<(f64, f64)>,
}

impl Emission {
    pub(super) fn new(points: Vec<(f64, f64)>) -> Self {
        Self { points }
    }

    /// Energies in keV with photons, in the units of the source.
    ///
    /// ```
    /// use beadchem::{substance::Weights, xray::{Panels, Source, example_tables}};
    /// let source = Source::spectrum(&[], &[(20.0, 3.0), (10.0, 2.0)], "two lines")?;
    /// let emission = source.emission(&[], Panels::default(), &example_tables()?, &Weights::ciaaw_2024())?;
    /// assert_eq!(emission.points(), [(10.0, 2.0), (20.0, 3.0)]);
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn points(&self) -> &[(f64, f64)] {
        &self.points
    }

    /// All photons.
    ///
    /// ```
    /// use beadchem::{substance::Weights, xray::{Panels, Source, example_tables}};
    /// let source = Source::spectrum(&[(5.0, 2.0), (10.0, 2.0)], &[(20.0, 3.0)], "a step and a line")?;
    /// let emission = source.emission(&[], Panels::default(), &example_tables()?, &Weights::ciaaw_2024())?;
    /// assert!((emission.photons() - 13.0).abs() < 1e-12);
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn photons(&self) -> f64 {
        self.points.iter().map(|(_, photons)| photons).sum()
    }

    /// Photons above an energy.
    ///
    /// ```
    /// use beadchem::{substance::Weights, xray::{Panels, Source, example_tables}};
    /// let source = Source::monochromatic(20.0)?;
    /// let emission = source.emission(&[], Panels::default(), &example_tables()?, &Weights::ciaaw_2024())?;
    /// assert_eq!((emission.photons_above(7.112), emission.photons_above(20.0)), (1.0, 0.0));
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn photons_above(&self, energy_kev: f64) -> f64 {
        self.points.iter().filter(|(energy, _)| *energy > energy_kev).map(|(_, photons)| photons).sum()
    }
}
