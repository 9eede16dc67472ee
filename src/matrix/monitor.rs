//! A drift monitor: a bead that is measured again and again so that the wander of the spectrometer shows.

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};

use crate::code::Code;
use crate::error::{Error, Result, finite};
use crate::finding::Finding;
use crate::matrix::LineName;
use crate::matrix::drift::DriftPoint;
use crate::matrix::net::unknown_line;
use crate::matrix::stretch::Stretch;
use crate::time::{self, Stamp};
use crate::uncertainty::Estimate;

/// One monitor: its net intensities when the calibration was made, and its readings since.
///
/// ```
/// use beadchem::{matrix::Monitor, uncertainty::Estimate};
/// let monitor = Monitor::new("M-1", [("Fe Ka", Estimate::new(1000.0, 0.5)?)])?
///     .reading("2026-03-14T08:00", [("Fe Ka", Estimate::new(990.0, 1.0)?)])?
///     .reading("2026-03-14T12:30", [("Fe Ka", Estimate::new(986.0, 1.0)?)])?;
/// assert_eq!(monitor.lines().collect::<Vec<_>>(), ["Fe Ka"]);
/// # Ok::<(), beadchem::Error>(())
/// ```
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(try_from = "MonitorBody", into = "MonitorBody")]
pub struct Monitor {
    name: String,
    calibration: BTreeMap<String, Estimate>,
    readings: Vec<Reading>,
}

#[derive(Debug, Clone, PartialEq)]
struct Reading {
    time: String,
    stamp: Stamp,
    lines: BTreeMap<String, Estimate>,
}

impl Monitor {
    /// A monitor under a name, with the net intensity of each line at calibration, cps.
    ///
    /// # Errors
    /// `line.name`; `number.not-finite`; `number.out-of-range` for an intensity not above zero; `input.doubled` for a
    /// line given twice.
    ///
    /// ```
    /// assert!(beadchem::matrix::Monitor::new("M-1", [("Fe Ka", 0.0)]).is_err());
    /// ```
    pub fn new<L: AsRef<str>, E: Into<Estimate>>(
        name: impl Into<String>,
        calibration: impl IntoIterator<Item = (L, E)>,
    ) -> Result<Self> {
        let name = name.into();
        let calibration = intensities(calibration, &|line| at_calibration(&name, line))?;
        Ok(Self { name, calibration, readings: Vec::new() })
    }

    /// With a later reading: the time as ISO 8601 writes it, and the net intensity of each line, cps. Lines may be left
    /// out; a line is then read between the readings that have it.
    ///
    /// # Errors
    /// As [`Monitor::new`]; `line.unknown` for a line without an intensity at calibration; `time.unreadable`, also where
    /// some times state a zone and others do not; `time.reversed` where it is not later than the reading before.
    ///
    /// ```
    /// use beadchem::matrix::Monitor;
    /// let monitor = Monitor::new("M-1", [("Fe Ka", 1000.0)])?.reading("2026-03-14T08:00", [("Fe Ka", 990.0)])?;
    /// let refused = monitor.reading("2026-03-14T07:00", [("Fe Ka", 989.0)]).unwrap_err();
    /// assert_eq!(refused.code().word(), "time.reversed");
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    pub fn reading<L: AsRef<str>, E: Into<Estimate>>(
        mut self,
        time: &str,
        lines: impl IntoIterator<Item = (L, E)>,
    ) -> Result<Self> {
        let stamp = stamp(&format!("a reading of monitor {}", self.name), time, self.zoned())?;
        if let Some(last) = self.readings.last().filter(|last| !last.stamp.before(stamp)) {
            return Err(Error::Conflict {
                code: Code::TimeReversed,
                detail: format!("Monitor {}: the reading at {time} is not later than {}.", self.name, last.time),
                hint: "Give the readings in the order of their times, each once.".to_owned(),
            });
        }
        let lines = intensities(lines, &|line| at_time(&self.name, line, time))?;
        if let Some(line) = lines.keys().find(|line| !self.calibration.contains_key(*line)) {
            return Err(self.unknown(line, "at calibration"));
        }
        self.readings.push(Reading { time: time.to_owned(), stamp, lines });
        Ok(self)
    }

    /// Its name.
    ///
    /// ```
    /// assert_eq!(beadchem::matrix::Monitor::new("M-1", [("Fe Ka", 1000.0)])?.name(), "M-1");
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn name(&self) -> &str {
        &self.name
    }

    /// The lines it has an intensity at calibration for, by name.
    ///
    /// ```
    /// let monitor = beadchem::matrix::Monitor::new("M-1", [("Si Ka", 500.0), ("Fe Ka", 1000.0)])?;
    /// assert_eq!(monitor.lines().collect::<Vec<_>>(), ["Fe Ka", "Si Ka"]);
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    pub fn lines(&self) -> impl Iterator<Item = &str> {
        self.calibration.keys().map(String::as_str)
    }

    /// Whether its times state a zone; nothing before the first reading.
    pub(crate) fn zoned(&self) -> Option<bool> {
        self.readings.first().map(|reading| reading.stamp.zoned)
    }

    fn unknown(&self, line: &str, when: &str) -> Error {
        unknown_line(&format!("monitor {} {when}", self.name), line, self.lines())
    }

    /// The readings of one line in order of time, as (time, stamp, intensity).
    fn of_line<'a>(&'a self, line: &str) -> impl DoubleEndedIterator<Item = (&'a Reading, &'a Estimate)> {
        self.readings.iter().filter_map(move |reading| reading.lines.get(line).map(|intensity| (reading, intensity)))
    }

    /// The times of the readings of a line.
    pub(crate) fn stamps(&self, line: &str) -> Vec<Stamp> {
        self.of_line(line).map(|(reading, _)| reading.stamp).collect()
    }

    /// What the drift of a line rests on in a stretch of its readings; nothing before the first.
    ///
    /// # Errors
    /// `line.unknown`.
    pub(crate) fn point_in(&self, line: &str, stretch: Stretch, share: f64) -> Result<Option<DriftPoint>> {
        let reference = self.calibration.get(line).ok_or_else(|| self.unknown(line, "at calibration"))?;
        let reference = (at_calibration(&self.name, line), reference.clone());
        let named = |place: usize| {
            let reading = self.of_line(line).nth(place);
            reading.map(|(reading, intensity)| (at_time(&self.name, line, &reading.time), intensity.clone()))
        };
        let (before, after) = match stretch {
            Stretch::Before => return Ok(None),
            Stretch::At(before) | Stretch::After(before) => (named(before), None),
            Stretch::Between(before) => (named(before), named(before + 1)),
        };
        Ok(before.map(|before| DriftPoint { reference, before, after, share }))
    }

    /// What the drift of a line at one time rests on, with a remark where the last reading had to be held.
    pub(crate) fn point(&self, line: &str, time: &str, stamp: Stamp) -> Result<(DriftPoint, Option<Finding>)> {
        let (stretch, share) = Stretch::of(stamp, &self.stamps(line));
        let Some(point) = self.point_in(line, stretch, share)? else {
            let first = match self.of_line(line).next() {
                Some((first, _)) => format!("its first reading of {line} is at {}", first.time),
                None => format!("it has no reading of {line}"),
            };
            return Err(Error::Conflict {
                code: Code::DriftBeforeFirst,
                detail: format!("{line} at {time} has no reading of monitor {} before it: {first}.", self.name),
                hint: "Measure the monitor before the first bead of a run.".to_owned(),
            });
        };
        let last = self.of_line(line).next_back().filter(|_| matches!(stretch, Stretch::After(_)));
        let held = last.map(|(last, intensity)| {
            let text = format!(
                "{line} at {time}: monitor {} was last measured at {}; that reading was held. Measure the monitor after the \
                 last bead too.",
                self.name, last.time
            );
            Finding::new(Code::DriftLastHeld, line, text).with_value(intensity.value())
        });
        Ok((point, held))
    }

    /// Each move of each line: (line, time, since calibration, since the reading before and its time), as fractions.
    pub(crate) fn moves(&self) -> Vec<Move<'_>> {
        let mut moves = Vec::new();
        for (line, reference) in &self.calibration {
            let mut previous: Option<(&Reading, &Estimate)> = None;
            for (reading, intensity) in self.of_line(line) {
                let moved = |from: &Estimate| intensity.value() / from.value() - 1.0;
                moves.push(Move {
                    line,
                    time: &reading.time,
                    total: moved(reference),
                    step: previous.map(|(reading, from)| (reading.time.as_str(), moved(from))),
                });
                previous = Some((reading, intensity));
            }
        }
        moves
    }
}

/// How far one reading of one line lies from calibration and from the reading before.
pub(crate) struct Move<'a> {
    pub(crate) line: &'a str,
    pub(crate) time: &'a str,
    pub(crate) total: f64,
    pub(crate) step: Option<(&'a str, f64)>,
}

fn at_calibration(monitor: &str, line: &str) -> String {
    format!("{line} of monitor {monitor} at calibration")
}

fn at_time(monitor: &str, line: &str, time: &str) -> String {
    format!("{line} of monitor {monitor} at {time}")
}

/// Lines with their intensities, each once and above zero.
fn intensities<L: AsRef<str>, E: Into<Estimate>>(
    lines: impl IntoIterator<Item = (L, E)>,
    named: &dyn Fn(&str) -> String,
) -> Result<BTreeMap<String, Estimate>> {
    let mut held = BTreeMap::new();
    for (line, intensity) in lines {
        let (line, intensity) = (LineName::parse(line.as_ref())?, intensity.into());
        let quantity = named(line.as_str());
        let value = finite(&quantity, intensity.value())?;
        if value <= 0.0 {
            return Err(Error::NotPositive {
                code: Code::NumberOutOfRange,
                quantity,
                value,
                unit: "cps",
                bound: "An intensity of a monitor must be above zero".to_owned(),
                hint: "was another bead in the holder?".to_owned(),
            });
        }
        if held.insert(line.as_str().to_owned(), intensity).is_some() {
            return Err(Error::Conflict {
                code: Code::InputDoubled,
                detail: format!("{quantity} is given twice."),
                hint: "Keep one of the two, or their mean.".to_owned(),
            });
        }
    }
    Ok(held)
}

/// Reads a time that states its zone as the others do.
pub(crate) fn stamp(what: &str, text: &str, zoned: Option<bool>) -> Result<Stamp> {
    let stamp = time::read(text).filter(|stamp| zoned.is_none_or(|zoned| zoned == stamp.zoned));
    stamp.ok_or_else(|| Error::Unknown {
        code: Code::TimeUnreadable,
        what: format!("Time of {what}"),
        given: text.to_owned(),
        hint: match zoned {
            Some(true) => "The other times state a zone: write 2026-03-14T08:05Z or 2026-03-14T08:05+01:00.",
            Some(false) => "The other times have no zone: write 2026-03-14T08:05.",
            None => "Write 2026-03-14T08:05, with Z or +01:00 behind it in all times or in none.",
        }
        .to_owned(),
    })
}

#[derive(Clone, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct MonitorBody {
    name: String,
    calibration: BTreeMap<String, Estimate>,
    readings: Vec<ReadingBody>,
}

#[derive(Clone, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct ReadingBody {
    time: String,
    lines: BTreeMap<String, Estimate>,
}

impl From<Monitor> for MonitorBody {
    fn from(monitor: Monitor) -> Self {
        let readings = monitor.readings.into_iter();
        let readings = readings.map(|reading| ReadingBody { time: reading.time, lines: reading.lines }).collect();
        Self { name: monitor.name, calibration: monitor.calibration, readings }
    }
}

impl TryFrom<MonitorBody> for Monitor {
    type Error = Error;
    fn try_from(body: MonitorBody) -> Result<Self> {
        let monitor = Monitor::new(body.name, body.calibration)?;
        body.readings.into_iter().try_fold(monitor, |monitor, reading| monitor.reading(&reading.time, reading.lines))
    }
}
