//! A source and a geometry: what an instrument setting is.

use crate::xray::geometry::Geometry;
use crate::xray::panels::Panels;
use crate::xray::source::Source;

/// An instrument as far as it decides intensities: source, angles, and how finely the spectrum is read.
///
/// ```
/// use beadchem::xray::{Geometry, Instrument, Source, Tube};
/// let tube = Tube::new("Rh", 50.0, 125.0)?;
/// let instrument = Instrument::new(Source::tube(tube), Geometry::new(63.0, 40.0)?);
/// assert!(instrument.to_string().ends_with("bead 63/40 deg"));
/// # Ok::<(), beadchem::Error>(())
/// ```
#[derive(Debug, Clone, PartialEq)]
pub struct Instrument {
    pub(super) source: Source,
    pub(super) geometry: Geometry,
    pub(super) panels: Panels,
}

impl Instrument {
    /// With the panels of [`Panels::default`].
    ///
    /// ```
    /// use beadchem::xray::{Geometry, Instrument, Source};
    /// let instrument = Instrument::new(Source::monochromatic(20.0)?, Geometry::new(45.0, 45.0)?);
    /// assert_eq!(instrument.to_string(), "monochromatic 20 keV; bead 45/45 deg");
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn new(source: Source, geometry: Geometry) -> Self {
        Self { source, geometry, panels: Panels::default() }
    }

    /// With other panels.
    ///
    /// ```
    /// use beadchem::xray::{Geometry, Instrument, Panels, Source};
    /// let instrument = Instrument::new(Source::monochromatic(20.0)?, Geometry::new(45.0, 45.0)?);
    /// assert_ne!(instrument.clone().with_panels(Panels::new(0.5, 6)?), instrument);
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn with_panels(mut self, panels: Panels) -> Self {
        self.panels = panels;
        self
    }

    /// The source.
    ///
    /// ```
    /// use beadchem::xray::{Geometry, Instrument, Source};
    /// let instrument = Instrument::new(Source::monochromatic(20.0)?, Geometry::new(45.0, 45.0)?);
    /// assert_eq!(instrument.source().highest_kev(), 20.0);
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn source(&self) -> &Source {
        &self.source
    }

    /// The angles at the bead.
    ///
    /// ```
    /// use beadchem::xray::{Geometry, Instrument, Source};
    /// let instrument = Instrument::new(Source::monochromatic(20.0)?, Geometry::new(45.0, 45.0)?);
    /// assert_eq!(instrument.geometry().take_off_deg(), 45.0);
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn geometry(&self) -> Geometry {
        self.geometry
    }
}

impl core::fmt::Display for Instrument {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        write!(f, "{}; bead {}", self.source, self.geometry)
    }
}
