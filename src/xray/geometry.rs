//! The two angles under which a bead is seen.

use crate::code::Code;
use crate::error::{Error, Result, finite};

/// Angles of the incoming and the outgoing beam, degrees from the surface of the bead.
///
/// ```
/// let geometry = beadchem::xray::Geometry::new(63.0, 40.0)?;
/// assert_eq!((geometry.incidence_deg(), geometry.take_off_deg()), (63.0, 40.0));
/// # Ok::<(), beadchem::Error>(())
/// ```
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Geometry {
    incidence_deg: f64,
    take_off_deg: f64,
}

impl Geometry {
    /// Angle of incidence and angle of take-off, both from the surface, not from its normal.
    ///
    /// # Errors
    /// `geometry.impossible` unless each is above 0 and at most 90; `number.not-finite`.
    ///
    /// ```
    /// assert!(beadchem::xray::Geometry::new(0.0, 40.0).is_err());
    /// ```
    pub fn new(incidence_deg: f64, take_off_deg: f64) -> Result<Self> {
        angle("Angle of incidence on the bead,", incidence_deg)?;
        angle("Angle of take-off from the bead,", take_off_deg)?;
        Ok(Self { incidence_deg, take_off_deg })
    }

    /// The angle of incidence.
    ///
    /// ```
    /// assert_eq!(beadchem::xray::Geometry::new(63.0, 40.0)?.incidence_deg(), 63.0);
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn incidence_deg(&self) -> f64 {
        self.incidence_deg
    }

    /// The angle of take-off.
    ///
    /// ```
    /// assert_eq!(beadchem::xray::Geometry::new(63.0, 40.0)?.take_off_deg(), 40.0);
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn take_off_deg(&self) -> f64 {
        self.take_off_deg
    }

    /// `1/sin` of the two angles.
    pub(super) fn inverse_sines(&self) -> (f64, f64) {
        (1.0 / sine(self.incidence_deg), 1.0 / sine(self.take_off_deg))
    }
}

impl core::fmt::Display for Geometry {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        write!(f, "{}/{} deg", self.incidence_deg, self.take_off_deg)
    }
}

pub(super) fn sine(degrees: f64) -> f64 {
    degrees.to_radians().sin()
}

/// Refuses an angle from a surface that lets nothing in or out.
pub(super) fn angle(quantity: &str, degrees: f64) -> Result<f64> {
    finite(quantity, degrees)?;
    if degrees > 0.0 && degrees <= 90.0 {
        return Ok(degrees);
    }
    Err(Error::OutOfRange {
        code: Code::GeometryImpossible,
        quantity: quantity.to_owned(),
        value: degrees,
        unit: "deg",
        bound: "0 (excluded) to 90 deg".to_owned(),
        hint: "Angles are taken from the surface; one from the normal is 90 deg less this one.".to_owned(),
    })
}
