//! One bead on the spectrometer: its readings, when it was measured, and what is known of it from elsewhere.

use std::sync::Arc;

use crate::code::Code;
use crate::error::{Error, Result};
use crate::matrix::{Drift, LineReading};
use crate::substance::Formula;
use crate::uncertainty::Estimate;

/// The readings of one bead.
///
/// ```
/// use beadchem::{matrix::LineReading, method::Measurement};
/// let measurement = Measurement::new("B-417").reading(LineReading::net("Fe Ka", 4321.0)?)?;
/// assert_eq!(measurement.bead(), "B-417");
/// # Ok::<(), beadchem::Error>(())
/// ```
#[derive(Debug, Clone, PartialEq)]
pub struct Measurement {
    bead: String,
    readings: Vec<LineReading>,
    drift: Option<(Arc<Drift>, String)>,
    class: Option<String>,
    declared: Vec<(Formula, Estimate)>,
}

impl Measurement {
    /// A bead without readings yet.
    ///
    /// ```
    /// assert!(beadchem::method::Measurement::new("B-417").readings().is_empty());
    /// ```
    #[must_use]
    pub fn new(bead: impl Into<String>) -> Self {
        Self { bead: bead.into(), readings: vec![], drift: None, class: None, declared: vec![] }
    }

    /// With the reading of one line.
    ///
    /// # Errors
    /// `reading.doubled` for a second one of a line.
    ///
    /// ```
    /// use beadchem::{matrix::LineReading, method::Measurement};
    /// let measurement = Measurement::new("B-417").reading(LineReading::net("Fe Ka", 4321.0)?)?;
    /// assert!(measurement.reading(LineReading::net("Fe Ka", 4300.0)?).is_err());
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    pub fn reading(mut self, reading: LineReading) -> Result<Self> {
        if self.readings.iter().any(|held| held.line() == reading.line()) {
            return Err(Error::Conflict {
                code: Code::ReadingDoubled,
                detail: format!("Bead {} has two readings of {}.", self.bead, reading.line().as_str()),
                hint: "Give one, or their mean with its uncertainty.".to_owned(),
            });
        }
        self.readings.push(reading);
        Ok(self)
    }

    /// With the monitors of the run and the time the bead was measured (`2026-03-14T08:05`).
    ///
    /// ```
    /// use beadchem::{matrix::{Drift, Monitor}, method::Measurement};
    /// let monitor = Monitor::new("M-1", [("Fe Ka", 1000.0)])?.reading("2026-03-14T08:00", [("Fe Ka", 990.0)])?;
    /// let measurement = Measurement::new("B-417").at("2026-03-14T08:05", Drift::one_point(monitor));
    /// assert_eq!(measurement.time(), Some("2026-03-14T08:05"));
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn at(mut self, time: impl Into<String>, drift: impl Into<Arc<Drift>>) -> Self {
        self.drift = Some((drift.into(), time.into()));
        self
    }

    /// With the name of the coefficient set that its class asks for; the method's first set where none is named.
    ///
    /// ```
    /// assert_eq!(beadchem::method::Measurement::new("B-417").of_class("marble").class(), Some("marble"));
    /// ```
    #[must_use]
    pub fn of_class(mut self, class: impl Into<String>) -> Self {
        self.class = Some(class.into());
        self
    }

    /// With the sample's content of a component that is not measured, g per g of sample as weighed; where the fusion states
    /// that a share of its element stays, that share of it is counted in the glass.
    ///
    /// # Errors
    /// `formula.unreadable`; `number.out-of-range` outside 0 to 3 g/g (a metal or sulfide written as its oxide passes one);
    /// `reading.doubled` for a component declared twice.
    ///
    /// ```
    /// use beadchem::{method::Measurement, uncertainty::Estimate};
    /// let measurement = Measurement::new("B-417").declared("SO3", Estimate::new(0.012, 0.001)?)?;
    /// assert_eq!(measurement.known().len(), 1);
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    pub fn declared(mut self, component: &str, content: impl Into<Estimate>) -> Result<Self> {
        let (component, content) = (Formula::parse(component)?, content.into());
        let what = format!("The declared content of {component},");
        let hint = "Give g per g of sample as weighed; is the number in percent?";
        crate::error::within(&what, content.value(), "g/g", [0.0, 3.0], "0 to 3 g/g", hint)?;
        if self.declared.iter().any(|(held, _)| held.text() == component.text()) {
            return Err(Error::Conflict {
                code: Code::ReadingDoubled,
                detail: format!("Bead {} has {component} declared twice.", self.bead),
                hint: "Keep one of the two.".to_owned(),
            });
        }
        self.declared.push((component, content));
        Ok(self)
    }

    /// The bead's id.
    ///
    /// ```
    /// assert_eq!(beadchem::method::Measurement::new("B-417").bead(), "B-417");
    /// ```
    #[must_use]
    pub fn bead(&self) -> &str {
        &self.bead
    }

    /// The readings in the order given.
    ///
    /// ```
    /// assert!(beadchem::method::Measurement::new("B-417").readings().is_empty());
    /// ```
    #[must_use]
    pub fn readings(&self) -> &[LineReading] {
        &self.readings
    }

    /// When it was measured.
    ///
    /// ```
    /// assert_eq!(beadchem::method::Measurement::new("B-417").time(), None);
    /// ```
    #[must_use]
    pub fn time(&self) -> Option<&str> {
        self.drift.as_ref().map(|(_, time)| time.as_str())
    }

    /// The monitors of its run.
    ///
    /// ```
    /// assert!(beadchem::method::Measurement::new("B-417").drift().is_none());
    /// ```
    #[must_use]
    pub fn drift(&self) -> Option<&Drift> {
        self.drift.as_ref().map(|(drift, _)| drift.as_ref())
    }

    /// The coefficient set it asks for.
    ///
    /// ```
    /// assert_eq!(beadchem::method::Measurement::new("B-417").class(), None);
    /// ```
    #[must_use]
    pub fn class(&self) -> Option<&str> {
        self.class.as_deref()
    }

    /// Components known from elsewhere.
    ///
    /// ```
    /// assert!(beadchem::method::Measurement::new("B-417").known().is_empty());
    /// ```
    #[must_use]
    pub fn known(&self) -> &[(Formula, Estimate)] {
        &self.declared
    }
}
