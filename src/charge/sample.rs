//! The weighed sample.

use crate::charge::mass::Mass;
use crate::code::Code;
use crate::composition::{Basis, Composition};
use crate::error::{Error, Result};
use crate::uncertainty::Estimate;

/// A weighed portion of powder, the basis it was weighed on, and what it is made of where that is known.
///
/// ```
/// use beadchem::{charge::Sample, composition::{Basis, Composition}, uncertainty::Estimate};
/// let marble = Composition::new(Basis::Dried).with("CaCO3", 0.97)?.with("SiO2", 0.02)?;
/// let sample = Sample::dried(Estimate::new(0.8004, 0.00012)?)?.made_of(marble)?;
/// # Ok::<(), beadchem::Error>(())
/// ```
#[derive(Debug, Clone, PartialEq)]
pub struct Sample {
    mass: Estimate,
    basis: Basis,
    composition: Option<Composition>,
}

impl Sample {
    /// A portion weighed on this basis, g.
    ///
    /// # Errors
    /// `mass.missing`, `mass.not-positive`, `mass.out-of-range`; `basis.impossible` for the bead.
    ///
    /// ```
    /// use beadchem::{charge::Sample, composition::Basis};
    /// assert!(Sample::new(0.8, Basis::AirEquilibrated).is_ok());
    /// assert!(Sample::new(0.8, Basis::Bead).is_err());
    /// ```
    pub fn new(mass_g: impl Into<Estimate>, basis: Basis) -> Result<Self> {
        let mass = Mass::Sample.check(mass_g.into())?;
        if basis == Basis::Bead {
            return Err(Error::Conflict {
                code: Code::BasisImpossible,
                detail: "A sample is weighed as a powder, not as a bead.".to_owned(),
                hint: "Say whether it was weighed as received, air-equilibrated, dried or ignited.".to_owned(),
            });
        }
        Ok(Self { mass, basis, composition: None })
    }

    /// A dried portion, g.
    ///
    /// # Errors
    /// As [`Sample::new`].
    ///
    /// ```
    /// let refused = beadchem::charge::Sample::dried(500.3).unwrap_err();
    /// assert_eq!(refused.to_string(), "Sample mass 500.3 g is outside 0.01-20 g. Did you mean 0.5003 g (500.3 mg)?");
    /// ```
    pub fn dried(mass_g: impl Into<Estimate>) -> Result<Self> {
        Self::new(mass_g, Basis::Dried)
    }

    /// With what the powder is made of, on the basis it was weighed on: oxides, minerals, elements.
    ///
    /// # Errors
    /// `basis.mismatch` where the composition is on another basis.
    ///
    /// ```
    /// use beadchem::{charge::Sample, composition::{Basis, Composition}};
    /// let ignited = Composition::new(Basis::ignited(1000.0)?).with("CaO", 0.95)?;
    /// assert!(Sample::dried(0.8)?.made_of(ignited).is_err());
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    pub fn made_of(mut self, composition: Composition) -> Result<Self> {
        if composition.basis() != self.basis {
            return Err(Error::Conflict {
                code: Code::BasisMismatch,
                detail: format!("The sample was weighed {}, its composition is {}.", self.basis, composition.basis()),
                hint: "Put the composition on the basis of the weighing first.".to_owned(),
            });
        }
        self.composition = Some(composition);
        Ok(self)
    }

    /// The mass as weighed, g.
    ///
    /// ```
    /// assert_eq!(beadchem::charge::Sample::dried(0.8)?.mass_g().value(), 0.8);
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn mass_g(&self) -> &Estimate {
        &self.mass
    }

    /// The basis it was weighed on.
    ///
    /// ```
    /// use beadchem::composition::Basis;
    /// assert_eq!(beadchem::charge::Sample::dried(0.8)?.basis(), Basis::Dried);
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn basis(&self) -> Basis {
        self.basis
    }

    /// What it is made of, where given.
    ///
    /// ```
    /// assert!(beadchem::charge::Sample::dried(0.8)?.composition().is_none());
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn composition(&self) -> Option<&Composition> {
        self.composition.as_ref()
    }
}
