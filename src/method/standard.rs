//! A bead of known contents, measured to calibrate.

use crate::charge::Melt;
use crate::code::Code;
use crate::composition::{Cell, Composition};
use crate::error::{Error, Result};
use crate::finding::Finding;
use crate::matrix::CoefficientSet;
use crate::method::Measurement;
use crate::uncertainty::Estimate;

/// A standard: a fused charge, what its sample holds, and its readings.
///
/// ```
/// use beadchem::{charge::{Charge, FluxLot, Sample}, composition::{Basis, Composition}, matrix::LineReading};
/// use beadchem::{method::{Measurement, Standard}, substance::Weights};
/// let lot = FluxLot::new("F-1", [("Li2B4O7", 0.5), ("LiBO2", 0.5)], "1050 C, 18 min", 0.004)?;
/// let melt = Charge::new(Sample::dried(0.8)?, lot.weigh_g(8.0)?)?.fuse_with_loss(&Weights::ciaaw_2024(), 0.44)?;
/// let known = Composition::new(Basis::Dried).with("CaO", 0.56)?;
/// let measured = Measurement::new("S-1").reading(LineReading::net("Ca Ka", 26_000.0)?)?;
/// assert_eq!(Standard::new(melt, known, measured)?.name(), "S-1");
/// # Ok::<(), beadchem::Error>(())
/// ```
#[derive(Debug, Clone)]
pub struct Standard {
    pub(super) melt: Melt,
    pub(super) contents: Option<Composition>,
    pub(super) measurement: Measurement,
    pub(super) material: String,
}

impl Standard {
    /// A standard whose contents are known from a certificate or a recipe, on the basis of its weighing.
    ///
    /// What the contents do not list is taken as absent. Contents of several beads of one material share their error: state it
    /// as a shared cause (`Estimate::shared`), or the mean of the beads claims to know the material better than its certificate.
    ///
    /// # Errors
    /// `basis.mismatch` where the contents stand on another basis than the weighing; `bead-mass.not-adjusted` for a melt that
    /// a weighed bead adjusted.
    ///
    /// ```
    /// use beadchem::{charge::{Charge, FluxLot, Sample}, composition::{Basis, Composition}, method::{Measurement, Standard}};
    /// # use beadchem::substance::Weights;
    /// # let lot = FluxLot::new("F-1", [("Li2B4O7", 1.0)], "1050 C, 18 min", 0.004)?;
    /// # let melt = Charge::new(Sample::dried(0.8)?, lot.weigh_g(8.0)?)?.fuse_with_loss(&Weights::ciaaw_2024(), 0.44)?;
    /// let ignited = Composition::new(Basis::ignited(1000.0)?).with("CaO", 1.0)?;
    /// let refused = Standard::new(melt, ignited, Measurement::new("S-1")).unwrap_err();
    /// assert_eq!(refused.code().word(), "basis.mismatch");
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    pub fn new(melt: Melt, contents: Composition, measurement: Measurement) -> Result<Self> {
        let weighed = melt.charge().sample().basis();
        if contents.basis() != weighed {
            return Err(Error::Conflict {
                code: Code::BasisMismatch,
                detail: format!(
                    "The contents of standard {} are {}, its powder was weighed {weighed}.",
                    measurement.bead(),
                    contents.basis()
                ),
                hint: "Convert the certificate to the basis of the weighing first (needs the loss or the moisture)."
                    .to_owned(),
            });
        }
        refuse_adjusted(&melt, &measurement)?;
        Ok(Self { melt, contents: Some(contents), measurement, material: String::new() })
    }

    /// A standard weighed from reagents: its contents are those of the charge's own composition, element by element.
    ///
    /// # Errors
    /// `charge.incomplete` where the charge states no composition; `bead-mass.not-adjusted` for a melt that a weighed bead
    /// adjusted.
    ///
    /// ```
    /// use beadchem::{charge::{Charge, Fate, FluxLot, Sample}, composition::{Basis, Composition}};
    /// use beadchem::{method::{Measurement, Standard}, substance::Weights, uncertainty::Estimate};
    /// let lot = FluxLot::new("F-1", [("Li2B4O7", 1.0)], "1050 C, 18 min", 0.004)?;
    /// let mix = Composition::new(Basis::Dried).with("CaCO3", Estimate::new(0.7, 1e-4)?)?.with("SiO2", Estimate::new(0.3, 1e-4)?)?;
    /// let charge = Charge::new(Sample::dried(1.0)?.made_of(mix)?, lot.weigh_g(9.0)?)?;
    /// let standard = Standard::from_reagents(charge.fuse(&Weights::ciaaw_2024(), &Fate::new())?, Measurement::new("S-2"))?;
    /// assert_eq!(standard.name(), "S-2");
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    pub fn from_reagents(melt: Melt, measurement: Measurement) -> Result<Self> {
        if !melt.is_itemised() {
            return Err(Error::Unstated {
                code: Code::ChargeIncomplete,
                quantity: format!("What standard {} was weighed from", measurement.bead()),
                hint: "Give the sample its composition of reagents and fuse by it, or state the contents.".to_owned(),
            });
        }
        refuse_adjusted(&melt, &measurement)?;
        Ok(Self { melt, contents: None, measurement, material: String::new() })
    }

    /// With the class of material that its residuals are shown under.
    ///
    /// ```
    /// # use beadchem::{charge::{Charge, FluxLot, Sample}, composition::{Basis, Composition}, substance::Weights};
    /// # use beadchem::method::{Measurement, Standard};
    /// # let lot = FluxLot::new("F-1", [("Li2B4O7", 1.0)], "1050 C, 18 min", 0.004)?;
    /// # let melt = Charge::new(Sample::dried(0.8)?, lot.weigh_g(8.0)?)?.fuse_with_loss(&Weights::ciaaw_2024(), 0.44)?;
    /// let known = Composition::new(Basis::Dried).with("CaO", 0.56)?;
    /// let standard = Standard::new(melt, known, Measurement::new("S-1"))?.of_material("calcite");
    /// assert_eq!(standard.material(), "calcite");
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn of_material(mut self, material: impl Into<String>) -> Self {
        self.material = material.into();
        self
    }

    /// Its name, that of its measurement.
    ///
    /// ```
    /// # use beadchem::{charge::{Charge, FluxLot, Sample}, composition::{Basis, Composition}, substance::Weights};
    /// # use beadchem::method::{Measurement, Standard};
    /// # let lot = FluxLot::new("F-1", [("Li2B4O7", 1.0)], "1050 C, 18 min", 0.004)?;
    /// # let melt = Charge::new(Sample::dried(0.8)?, lot.weigh_g(8.0)?)?.fuse_with_loss(&Weights::ciaaw_2024(), 0.44)?;
    /// let known = Composition::new(Basis::Dried).with("CaO", 0.56)?;
    /// assert_eq!(Standard::new(melt, known, Measurement::new("S-1"))?.name(), "S-1");
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn name(&self) -> &str {
        self.measurement.bead()
    }

    /// The class of material; empty where none was stated.
    ///
    /// ```
    /// # use beadchem::{charge::{Charge, FluxLot, Sample}, composition::{Basis, Composition}, substance::Weights};
    /// # use beadchem::method::{Measurement, Standard};
    /// # let lot = FluxLot::new("F-1", [("Li2B4O7", 1.0)], "1050 C, 18 min", 0.004)?;
    /// # let melt = Charge::new(Sample::dried(0.8)?, lot.weigh_g(8.0)?)?.fuse_with_loss(&Weights::ciaaw_2024(), 0.44)?;
    /// let known = Composition::new(Basis::Dried).with("CaO", 0.56)?;
    /// assert_eq!(Standard::new(melt, known, Measurement::new("S-1"))?.material(), "");
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn material(&self) -> &str {
        &self.material
    }

    /// The contents of the components of a set, by place; nothing where the charge's own composition tells them.
    pub(super) fn known(&self, set: &CoefficientSet, findings: &mut Vec<Finding>) -> Result<Vec<(usize, Estimate)>> {
        let Some(contents) = &self.contents else { return Ok(Vec::new()) };
        let mut known: Vec<(usize, Estimate)> = Vec::new();
        for entry in contents.entries() {
            let species = entry.species.text();
            let Ok(component) = set.component_index(species) else {
                // what leaves needs no component
                let volatile = |symbol: &str| matches!(symbol, "C" | "H" | "N" | "O");
                if !entry.species.atoms().iter().all(|(element, _)| volatile(element.symbol())) {
                    let text = format!(
                        "{species} of standard {} is no component of the coefficients: its absorption is not counted.",
                        self.name()
                    );
                    findings.push(Finding::new(Code::ComponentUnknown, species, text));
                }
                continue;
            };
            let content = match &entry.cell {
                Cell::Value(value) => value.clone(),
                Cell::Absent => continue,
                // anything from nothing to the limit
                Cell::Below { limit } => Estimate::rectangular(0.5 * limit, 0.5 * limit)?,
                Cell::Unknown => {
                    return Err(Error::Unstated {
                        code: Code::StandardUnknown,
                        quantity: format!("The content of {} in standard {}", entry.species, self.name()),
                        hint: "It takes part in the correction of every line: state it, or that it is absent."
                            .to_owned(),
                    });
                }
            };
            known.push((component, content));
        }
        Ok(known)
    }
}

/// What a weighed bead says of its own inputs is no property of the lot.
fn refuse_adjusted(melt: &Melt, measurement: &Measurement) -> Result<()> {
    if !melt.is_adjusted() {
        return Ok(());
    }
    Err(Error::Conflict {
        code: Code::BeadMassNotAdjusted,
        detail: format!("The melt of standard {} was adjusted by its bead.", measurement.bead()),
        hint: "Calibrate with the melt as it was fused.".to_owned(),
    })
}
