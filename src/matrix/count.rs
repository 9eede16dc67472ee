//! Counted rates: with their counting time, and with the time for which a counter is blind after each count.

use core::ops::RangeInclusive;

use serde::{Deserialize, Serialize};

use crate::code::Code;
use crate::error::{Error, Result, within};
use crate::scalar::Scalar;
use crate::uncertainty::Estimate;

/// The rate after `tau` seconds of dead time per count of a counter that stays blind for a fixed time only.
///
/// # Source
/// Knoll, Radiation Detection and Measurement, chapter 4: the non-paralysable model (from memory).
#[inline(always)]
pub(crate) fn alive<S: Scalar>(rate: S, tau: S) -> S {
    rate / (S::constant(1.0) - rate * tau)
}

/// Standard uncertainty of a rate by counting alone, never less than that of one count.
#[inline(always)]
pub(crate) fn u_of_rate<S: Scalar>(rate: S, time: S) -> S {
    let (counts, one) = (rate * time, S::constant(1.0));
    S::select(counts.lt(one), one, counts).sqrt() / time
}

/// A rate as the counter displays it, before any correction, and the time it was counted for.
///
/// ```
/// use beadchem::matrix::Count;
/// let count = Count::new(2500.0, 100.0)?; // cps, s
/// assert_eq!(count.u_cps(), 5.0);
/// # Ok::<(), beadchem::Error>(())
/// ```
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Count {
    rate: f64,
    time: f64,
}

impl Count {
    /// A rate in counts per second and its counting time in s.
    ///
    /// # Errors
    /// `number.not-finite`; `number.out-of-range` for a rate below zero or a time outside 1e-6 to 1e9 s.
    ///
    /// ```
    /// assert!(beadchem::matrix::Count::new(2500.0, 0.0).is_err());
    /// ```
    pub fn new(rate_cps: f64, time_s: f64) -> Result<Self> {
        Self::named(["Counted rate", "Counting time"], rate_cps, time_s)
    }

    /// The same under the names that its rate and its time go by where it was written.
    pub(crate) fn named([rate, time]: [&str; 2], rate_cps: f64, time_s: f64) -> Result<Self> {
        let hint = "A displayed rate is not below zero; was the background already taken off?";
        within(rate, rate_cps, "cps", [0.0, f64::MAX], "0 cps and above", hint)?;
        counting_time(time, time_s)?;
        Ok(Self { rate: rate_cps, time: time_s })
    }

    /// The rate, cps.
    ///
    /// ```
    /// assert_eq!(beadchem::matrix::Count::new(85.0, 100.0)?.rate_cps(), 85.0);
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn rate_cps(self) -> f64 {
        self.rate
    }

    /// The counting time, s.
    ///
    /// ```
    /// assert_eq!(beadchem::matrix::Count::new(85.0, 100.0)?.time_s(), 100.0);
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn time_s(self) -> f64 {
        self.time
    }

    /// Standard uncertainty of the rate by counting alone, cps: `sqrt(rate / time)`, and never less than that of one
    /// count, since no count in so many seconds does not mean a rate of exactly zero.
    ///
    /// Dead time makes counts a little more regular than chance; at `rate * dead time` of 1 % this u is 1 % too large.
    ///
    /// ```
    /// use beadchem::matrix::Count;
    /// assert_eq!(Count::new(0.0, 50.0)?.u_cps(), 1.0 / 50.0);
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn u_cps(self) -> f64 {
        u_of_rate(self.rate, self.time)
    }

    pub(crate) fn estimate(self) -> Result<Estimate> {
        Estimate::new(self.rate, self.u_cps())
    }
}

/// Times that a channel can be counted for, s: between the dead time of a detector and thirty years.
pub(crate) const COUNTING_TIMES: RangeInclusive<f64> = RangeInclusive::new(1e-6, 1e9);

/// A counting time, s.
///
/// # Errors
/// `number.not-finite`; `number.out-of-range` outside [`COUNTING_TIMES`].
pub(crate) fn counting_time(quantity: &str, seconds: f64) -> Result<f64> {
    let hint = "Without a counting time in seconds a rate has no uncertainty; give that of this channel.";
    within(quantity, seconds, "s", [*COUNTING_TIMES.start(), *COUNTING_TIMES.end()], "1e-6 to 1e9 s", hint)
}

/// The time for which a counter is blind after each count; a fixed time, so that the true rate is `r / (1 - r tau)`.
///
/// ```
/// use beadchem::matrix::DeadTime;
/// let dead = DeadTime::new(2.5e-7)?.of_detector("flow counter");
/// assert_eq!(dead.input_name(), "dead time of flow counter");
/// # Ok::<(), beadchem::Error>(())
/// ```
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(try_from = "DeadTimeBody", into = "DeadTimeBody")]
pub struct DeadTime {
    seconds: Estimate,
    detector: Option<String>,
}

impl DeadTime {
    /// A dead time in seconds. All readings of one detector carry the same one, so that its error is common to them.
    ///
    /// # Errors
    /// `number.out-of-range` outside 0 to 0.001 s.
    ///
    /// ```
    /// assert!(beadchem::matrix::DeadTime::new(0.25).is_err()); // microseconds
    /// ```
    pub fn new(seconds: impl Into<Estimate>) -> Result<Self> {
        let seconds = seconds.into();
        let hint = "Was it given in microseconds?";
        within("Dead time", seconds.value(), "s", [0.0, 1e-3], "0 to 0.001 s", hint)?;
        Ok(Self { seconds, detector: None })
    }

    /// The same, of a named detector: where a spectrometer has several, each has its own.
    ///
    /// ```
    /// use beadchem::matrix::DeadTime;
    /// assert_ne!(DeadTime::new(2.5e-7)?.of_detector("scintillation counter"), DeadTime::new(2.5e-7)?);
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn of_detector(self, detector: impl Into<String>) -> Self {
        Self { detector: Some(detector.into()), ..self }
    }

    /// The detector, where it is named.
    ///
    /// ```
    /// assert_eq!(beadchem::matrix::DeadTime::new(2.5e-7)?.detector(), None);
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn detector(&self) -> Option<&str> {
        self.detector.as_deref()
    }

    /// The name of this input in budgets.
    ///
    /// ```
    /// assert_eq!(beadchem::matrix::DeadTime::new(2.5e-7)?.input_name(), "dead time");
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn input_name(&self) -> String {
        self.detector.as_ref().map_or_else(|| "dead time".to_owned(), |detector| format!("dead time of {detector}"))
    }

    /// The dead time, s.
    ///
    /// ```
    /// assert_eq!(beadchem::matrix::DeadTime::new(2.5e-7)?.seconds().value(), 2.5e-7);
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn seconds(&self) -> &Estimate {
        &self.seconds
    }

    /// Refuses a rate that a counter of this dead time cannot show.
    pub(crate) fn allows(&self, what: &str, count: Count) -> Result<()> {
        let tau = self.seconds.value();
        if count.rate * tau < 1.0 {
            return Ok(());
        }
        Err(Error::OutOfRange {
            code: Code::DeadTimeTooLong,
            quantity: format!("{what} at a dead time of {tau} s,"),
            value: count.rate,
            unit: "cps",
            bound: format!("below {} cps, one count per dead time", 1.0 / tau),
            hint: "Is the dead time in seconds, and is the rate the displayed one?".to_owned(),
        })
    }
}

#[derive(Clone, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct DeadTimeBody {
    seconds: Estimate,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    detector: Option<String>,
}

impl From<DeadTime> for DeadTimeBody {
    fn from(dead_time: DeadTime) -> Self {
        Self { seconds: dead_time.seconds, detector: dead_time.detector }
    }
}

impl TryFrom<DeadTimeBody> for DeadTime {
    type Error = Error;
    fn try_from(body: DeadTimeBody) -> Result<Self> {
        Ok(DeadTime { detector: body.detector, ..DeadTime::new(body.seconds)? })
    }
}
