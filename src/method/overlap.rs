//! What one line adds to the intensity of another, and an internal standard.

use crate::code::Code;
use crate::error::{Error, Result, finite};
use crate::matrix::{LineName, LineReading};
use crate::scalar::Scalar;
use crate::substance::Formula;
use crate::uncertainty::{Estimate, Inputs, Model, propagate};

/// Counts that a line of another element adds to a line, per count of a line it is followed by.
///
/// `I_on = I_on,own + sum f I_from,own`, all intensities corrected for dead time, background and drift; the overlaps of a
/// method are solved together, so chains (Ba on Ti, Ti on V, V on Cr) need no order. The direction matters, and where the
/// interferer is followed on another line than the one that overlaps, the factor depends on the matrix.
///
/// ```
/// use beadchem::{method::Overlap, uncertainty::Estimate};
/// let bromine = Overlap::new("Al Ka", "Br Ka", Estimate::new(0.012, 0.0005)?)?;
/// assert_eq!((bromine.on().as_str(), bromine.from().as_str()), ("Al Ka", "Br Ka"));
/// # Ok::<(), beadchem::Error>(())
/// ```
#[derive(Debug, Clone, PartialEq)]
pub struct Overlap {
    on: LineName,
    from: LineName,
    factor: Estimate,
}

struct Ratio;

impl Model for Ratio {
    fn outputs(&self) -> usize {
        1
    }
    fn evaluate<S: Scalar>(&self, x: &[S], y: &mut [S], _: &mut [S]) {
        y[0] = x[0] / x[1];
    }
}

impl Overlap {
    /// A given factor.
    ///
    /// # Errors
    /// `line.unreadable`; `overlap.itself` for a line on itself; `number.not-finite`.
    ///
    /// ```
    /// assert!(beadchem::method::Overlap::new("Al Ka", "Al Ka", 0.1).is_err());
    /// ```
    pub fn new(on: &str, from: &str, factor: impl Into<Estimate>) -> Result<Self> {
        let (on, from, factor) = (LineName::parse(on)?, LineName::parse(from)?, factor.into());
        finite(&format!("The overlap of {} on {}", from.as_str(), on.as_str()), factor.value())?;
        if on == from {
            return Err(Error::Conflict {
                code: Code::OverlapItself,
                detail: format!("{} cannot overlap itself.", on.as_str()),
                hint: "Name the line that is overlapped and the line of the other element.".to_owned(),
            });
        }
        Ok(Self { on, from, factor })
    }

    /// The factor from a bead that holds the interferer and none of the analyte: intensity on the line over intensity of the
    /// interferer's line, with the uncertainty of both. The readings state their own dead time; measure at the time of the
    /// calibration, or correct for drift first.
    ///
    /// # Errors
    /// Those of [`new`](Self::new) and [`LineReading::intensity`]; `overlap.no-interferer` where the interferer's line shows
    /// nothing.
    ///
    /// ```
    /// use beadchem::{matrix::LineReading, method::Overlap, uncertainty::Estimate};
    /// let on = LineReading::net("Al Ka", Estimate::new(12.0, 0.3)?)?;
    /// let from = LineReading::net("Br Ka", Estimate::new(1000.0, 2.0)?)?;
    /// let overlap = Overlap::from_bead(&on, &from)?;
    /// assert!((overlap.factor().value() - 0.012).abs() < 1e-15);
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    pub fn from_bead(on: &LineReading, from: &LineReading) -> Result<Self> {
        let mut inputs = Inputs::new();
        inputs.push("on", on.intensity()?)?;
        let strength = from.intensity()?;
        if strength.value() <= 0.0 {
            return Err(Error::NotPositive {
                code: Code::OverlapNoInterferer,
                quantity: format!("Net intensity of {} in the bead of the interferer", from.line().as_str()),
                value: strength.value(),
                unit: "cps",
                bound: "A factor needs counts of the interferer".to_owned(),
                hint: "measure a bead that holds it.".to_owned(),
            });
        }
        inputs.push("from", strength)?;
        let factor = propagate(&Ratio, &inputs)?.measured(0)?;
        Self::new(on.line().as_str(), from.line().as_str(), factor)
    }

    /// The line that is overlapped.
    ///
    /// ```
    /// assert_eq!(beadchem::method::Overlap::new("V Ka", "Ti Ka", 0.08)?.on().as_str(), "V Ka");
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn on(&self) -> &LineName {
        &self.on
    }

    /// The line the interferer is followed by.
    ///
    /// ```
    /// assert_eq!(beadchem::method::Overlap::new("V Ka", "Ti Ka", 0.08)?.from().as_str(), "Ti Ka");
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn from(&self) -> &LineName {
        &self.from
    }

    /// Counts on the one per count of the other.
    ///
    /// ```
    /// assert_eq!(beadchem::method::Overlap::new("V Ka", "Ti Ka", 0.08)?.factor().value(), 0.08);
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn factor(&self) -> &Estimate {
        &self.factor
    }

    pub(crate) fn name(&self) -> String {
        format!("overlap of {} on {}", self.from.as_str(), self.on.as_str())
    }
}

/// An element added in a known amount, whose line carries the geometry of the bead for the lines that follow it.
///
/// Where it was mixed into the flux it follows the flux as weighed, not as fused. It cancels what moves its line and theirs
/// alike (a bent surface, a shifted height), not the difference of absorption between them: that stays in the equation.
///
/// ```
/// use beadchem::method::InternalStandard;
/// let standard = InternalStandard::new("Co Ka", "Co3O4", ["Fe Ka", "Ni Ka"])?;
/// assert_eq!(standard.line().as_str(), "Co Ka");
/// # Ok::<(), beadchem::Error>(())
/// ```
#[derive(Debug, Clone, PartialEq)]
pub struct InternalStandard {
    line: LineName,
    component: Formula,
    follow: Vec<LineName>,
}

impl InternalStandard {
    /// A line, the component of the coefficients it stands for, and the lines that follow it.
    ///
    /// # Errors
    /// `line.unreadable`, `formula.unreadable`; `overlap.itself` for a standard that follows itself.
    ///
    /// ```
    /// assert!(beadchem::method::InternalStandard::new("Co Ka", "Co3O4", ["Co Ka"]).is_err());
    /// ```
    pub fn new<'a>(line: &str, component: &str, follow: impl IntoIterator<Item = &'a str>) -> Result<Self> {
        let line = LineName::parse(line)?;
        let follow = follow.into_iter().map(LineName::parse).collect::<Result<Vec<_>>>()?;
        if follow.contains(&line) {
            return Err(Error::Conflict {
                code: Code::OverlapItself,
                detail: format!("{} cannot follow itself.", line.as_str()),
                hint: "List the lines of the analytes.".to_owned(),
            });
        }
        Ok(Self { line, component: Formula::parse(component)?, follow })
    }

    /// Its line.
    ///
    /// ```
    /// use beadchem::method::InternalStandard;
    /// assert_eq!(InternalStandard::new("Co Ka", "CoO", ["Fe Ka"])?.line().element().symbol(), "Co");
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn line(&self) -> &LineName {
        &self.line
    }

    /// The component of the coefficients it stands for.
    ///
    /// ```
    /// use beadchem::method::InternalStandard;
    /// assert_eq!(InternalStandard::new("Co Ka", "CoO", ["Fe Ka"])?.component().text(), "CoO");
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn component(&self) -> &Formula {
        &self.component
    }

    /// The lines that follow it.
    ///
    /// ```
    /// use beadchem::method::InternalStandard;
    /// assert_eq!(InternalStandard::new("Co Ka", "CoO", ["Fe Ka"])?.follow()[0].as_str(), "Fe Ka");
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn follow(&self) -> &[LineName] {
        &self.follow
    }
}
