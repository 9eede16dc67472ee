//! The wander of a spectrometer between calibration and bead, followed with one monitor or two.

use serde::{Deserialize, Serialize};

use crate::code::Code;
use crate::composition::unit::{percent_short, percent_text};
use crate::document::Document;
use crate::error::{Error, Result};
use crate::finding::Finding;
use crate::matrix::Monitor;
use crate::matrix::monitor::stamp;
use crate::matrix::stretch::Stretch;
use crate::rules::Rules;
use crate::scalar::Scalar;
use crate::time::Stamp;
use crate::uncertainty::{Estimate, Inputs, Model, propagate_plain};

/// A value on the straight line between two readings; `share` is 0 at the first and 1 at the second.
#[inline(always)]
pub(crate) fn between<S: Scalar>(before: S, after: S, share: S) -> S {
    before + (after - before) * share
}

/// An intensity as it would have been at calibration, by the ratio of one monitor.
#[inline(always)]
pub(crate) fn one_point<S: Scalar>(intensity: S, reference: S, now: S) -> S {
    intensity * reference / now
}

/// An intensity as it would have been at calibration, by the straight line through two monitors:
/// `I_c = a + b I` with `b = (ref_1 - ref_2) / (now_1 - now_2)` and `a = ref_2 - b now_2`.
#[inline(always)]
pub(crate) fn two_points<S: Scalar>(intensity: S, references: [S; 2], now: [S; 2]) -> S {
    references[1] + (references[0] - references[1]) / (now[0] - now[1]) * (intensity - now[1])
}

/// What the drift of one line by one monitor rests on at the time of a bead; each reading with the name under which all
/// beads of a run share it.
///
/// ```
/// use beadchem::matrix::{Drift, Monitor};
/// let monitor = Monitor::new("M-1", [("Fe Ka", 1000.0)])?
///     .reading("2026-03-14T08:00", [("Fe Ka", 990.0)])?
///     .reading("2026-03-14T12:00", [("Fe Ka", 986.0)])?;
/// let point = Drift::one_point(monitor).terms("Fe Ka", "2026-03-14T09:00")?.point;
/// assert_eq!((point.before.0.as_str(), point.share), ("Fe Ka of monitor M-1 at 2026-03-14T08:00", 0.25));
/// assert_eq!(point.now(), 989.0);
/// # Ok::<(), beadchem::Error>(())
/// ```
#[derive(Debug, Clone, PartialEq)]
pub struct DriftPoint {
    /// Name and net intensity at calibration, cps.
    pub reference: (String, Estimate),
    /// Name and net intensity of the reading at or before the bead, cps.
    pub before: (String, Estimate),
    /// Name and net intensity of the reading after the bead, cps; nothing where none is needed or there is none.
    pub after: Option<(String, Estimate)>,
    /// How far the bead lies on the way from one to the other: 0 at the reading before, 1 at the one after.
    pub share: f64,
}

impl DriftPoint {
    /// The intensity the monitor would have had at the time of the bead, cps.
    ///
    /// ```
    /// use beadchem::matrix::{Drift, Monitor};
    /// let monitor = Monitor::new("M-1", [("Fe Ka", 1000.0)])?.reading("2026-03-14T08:00", [("Fe Ka", 990.0)])?;
    /// assert_eq!(Drift::one_point(monitor).terms("Fe Ka", "2026-03-14T08:00")?.point.now(), 990.0);
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn now(&self) -> f64 {
        let before = self.before.1.value();
        self.after.as_ref().map_or(before, |(_, after)| between(before, after.value(), self.share))
    }

    /// The name of the share as an input, where there is a reading to go to.
    fn way(&self) -> Option<String> {
        self.after.as_ref().map(|(after, _)| format!("way from {} to {after}", self.before.0))
    }

    fn place(&self, inputs: &mut Inputs, by_row: bool) -> Result<PointPlaces> {
        let mut push = |(name, estimate): &(String, Estimate)| inputs.push(name.clone(), estimate.clone());
        let (reference, before) = (push(&self.reference)?, push(&self.before)?);
        let after = self.after.as_ref().map(push).transpose()?.unwrap_or(before);
        let share = match self.way().filter(|_| by_row) {
            Some(way) => Share::Row(inputs.push(way, Estimate::exact(self.share)?)?),
            None => Share::Fixed(self.share),
        };
        Ok(PointPlaces { reference, before, after, share })
    }

    /// The reading it would have at one of its ends, and the u of that.
    fn end(&self, after: bool) -> (f64, f64) {
        let (_, held) = self.after.as_ref().filter(|_| after).unwrap_or(&self.before);
        (held.value(), held.u().unwrap_or(0.0))
    }
}

/// How one line of one bead is brought back to the time of the calibration.
///
/// ```
/// use beadchem::matrix::{Drift, Monitor};
/// let monitor = Monitor::new("M-1", [("Fe Ka", 1000.0)])?.reading("2026-03-14T08:00", [("Fe Ka", 800.0)])?;
/// let term = Drift::one_point(monitor).terms("Fe Ka", "2026-03-14T08:00")?;
/// assert_eq!(term.correct(400.0)?.value(), 500.0);
/// # Ok::<(), beadchem::Error>(())
/// ```
#[derive(Debug, Clone, PartialEq)]
pub struct DriftTerm {
    /// The monitor, or the first of two.
    pub point: DriftPoint,
    /// The second of two monitors.
    pub second: Option<DriftPoint>,
    /// What must be said: a bead after the last reading.
    pub findings: Vec<Finding>,
}

impl DriftTerm {
    /// Names its readings among the inputs of a calculation and says where they stand.
    ///
    /// # Errors
    /// `input.doubled` where an input of the same name has other figures.
    pub(crate) fn place(&self, inputs: &mut Inputs, by_row: bool) -> Result<DriftPlaces> {
        let point = self.point.place(inputs, by_row)?;
        let second = self.second.as_ref().map(|second| second.place(inputs, by_row)).transpose()?;
        Ok(DriftPlaces { point, second })
    }

    /// For each monitor the name of its share as an input, where it is one.
    pub(crate) fn ways(&self) -> Vec<Option<String>> {
        core::iter::once(&self.point).chain(&self.second).map(DriftPoint::way).collect()
    }

    /// Whether two monitors are far enough apart at every time between their readings: their difference goes along a straight
    /// line there, and no reading in between is less certain than the worse of its ends.
    pub(crate) fn apart_throughout(&self) -> bool {
        let Some(second) = &self.second else { return true };
        let ends = [false, true].map(|one| [false, true].map(|other| (self.point.end(one), second.end(other))));
        let gaps = ends.as_flattened().iter().map(|((one, u), (other, other_u))| (one - other, u.hypot(*other_u)));
        let (mut least, mut most, mut u) = (f64::INFINITY, f64::NEG_INFINITY, 0.0_f64);
        for (gap, of_gap) in gaps {
            (least, most, u) = (least.min(gap), most.max(gap), u.max(of_gap));
        }
        APART * u < least || most < -APART * u
    }

    /// The intensity, cps, as it would have been at calibration, with the uncertainty of all readings.
    ///
    /// The readings are common to all beads of a run: add no two corrected intensities by hand.
    ///
    /// # Errors
    /// `number.not-finite`.
    ///
    /// ```
    /// use beadchem::{matrix::{Drift, Monitor}, uncertainty::Estimate};
    /// let monitor = Monitor::new("M-1", [("Fe Ka", Estimate::exact(1000.0)?)])?
    ///     .reading("2026-03-14T08:00", [("Fe Ka", Estimate::new(1000.0, 2.0)?)])?;
    /// let term = Drift::one_point(monitor).terms("Fe Ka", "2026-03-14T08:00")?;
    /// assert_eq!(term.correct(Estimate::exact(500.0)?)?.u(), Some(1.0)); // 0.2 %
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    pub fn correct(&self, intensity: impl Into<Estimate>) -> Result<Estimate> {
        let mut inputs = Inputs::new();
        let intensity = inputs.push("net intensity", intensity)?;
        let model = Corrected { intensity, drift: self.place(&mut inputs, false)? };
        propagate_plain(&model, &inputs)?.estimate(0)
    }
}

/// How far a bead lies on the way from one reading to the next.
#[derive(Debug, Clone, Copy, PartialEq)]
enum Share {
    Fixed(f64),
    /// An input, which has no u.
    Row(usize),
}

impl Share {
    #[inline(always)]
    fn of<S: Scalar>(self, x: &[S]) -> S {
        match self {
            Share::Fixed(share) => S::constant(share),
            Share::Row(place) => x[place],
        }
    }

    fn input(self) -> Option<usize> {
        match self {
            Share::Fixed(_) => None,
            Share::Row(place) => Some(place),
        }
    }
}

#[derive(Debug, Clone, PartialEq)]
struct PointPlaces {
    reference: usize,
    before: usize,
    after: usize,
    share: Share,
}

impl PointPlaces {
    #[inline(always)]
    fn now<S: Scalar>(&self, x: &[S], share: S) -> S {
        between(x[self.before], x[self.after], share)
    }
}

/// Where the readings of a drift term stand among the inputs of a calculation.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct DriftPlaces {
    point: PointPlaces,
    second: Option<PointPlaces>,
}

impl DriftPlaces {
    /// The same arithmetic over its own inputs only, and where these stand; shares keep their places.
    pub(crate) fn local(&self) -> (DriftPlaces, Vec<usize>) {
        let mut inputs = Vec::new();
        let mut point = |point: &PointPlaces| PointPlaces {
            reference: local_place(&mut inputs, point.reference),
            before: local_place(&mut inputs, point.before),
            after: local_place(&mut inputs, point.after),
            share: point.share,
        };
        let local = DriftPlaces { point: point(&self.point), second: self.second.as_ref().map(&mut point) };
        (local, inputs)
    }

    /// The inputs it reads.
    pub(crate) fn own(&self) -> Vec<usize> {
        let points = core::iter::once(&self.point).chain(&self.second);
        let of =
            |point: &PointPlaces| [Some(point.reference), Some(point.before), Some(point.after), point.share.input()];
        points.flat_map(of).flatten().collect()
    }

    /// How far the bead lies between the readings of each monitor.
    #[inline(always)]
    pub(crate) fn shares<S: Scalar>(&self, x: &[S]) -> [S; 2] {
        let first = self.point.share.of(x);
        match &self.second {
            None => [first, S::constant(0.0)],
            Some(second) => [first, second.share.of(x)],
        }
    }

    /// The intensity as it would have been at calibration.
    #[inline(always)]
    pub(crate) fn correct<S: Scalar>(&self, x: &[S], intensity: S) -> S {
        self.correct_at(x, self.shares(x), intensity)
    }

    /// The same with shares from elsewhere.
    #[inline(always)]
    pub(crate) fn correct_at<S: Scalar>(&self, x: &[S], shares: [S; 2], intensity: S) -> S {
        let (reference, first) = (x[self.point.reference], self.point.now(x, shares[0]));
        match &self.second {
            None => one_point(intensity, reference, first),
            Some(second) => two_points(intensity, [reference, x[second.reference]], [first, second.now(x, shares[1])]),
        }
    }
}

/// The place of an input in a list, which grows where it is new.
fn local_place(inputs: &mut Vec<usize>, input: usize) -> usize {
    inputs.iter().position(|&held| held == input).unwrap_or_else(|| {
        inputs.push(input);
        inputs.len() - 1
    })
}

/// A slope over a difference that is no better known than by so many u is no correction (common practice: three sigma).
const APART: f64 = 3.0;

struct Corrected {
    intensity: usize,
    drift: DriftPlaces,
}

impl Model for Corrected {
    fn outputs(&self) -> usize {
        1
    }
    fn evaluate<S: Scalar>(&self, x: &[S], y: &mut [S], _: &mut [S]) {
        y[0] = self.drift.correct(x, x[self.intensity]);
    }
}

/// The drift of a spectrometer, by one monitor (a factor) or two (a factor and an offset), read on the straight line
/// between the readings before and after a bead.
///
/// Before the first reading there is nothing to correct with, and a bead there is refused. After the last one that
/// reading is held, and the result says so.
///
/// ```
/// use beadchem::matrix::{Drift, Monitor};
/// let strong = Monitor::new("M-hi", [("Fe Ka", 1000.0)])?.reading("2026-03-14T08:00", [("Fe Ka", 910.0)])?;
/// let weak = Monitor::new("M-lo", [("Fe Ka", 100.0)])?.reading("2026-03-14T08:00", [("Fe Ka", 100.0)])?;
/// let drift = Drift::two_point(strong, weak)?;
/// assert_eq!(drift.terms("Fe Ka", "2026-03-14T08:00")?.correct(505.0)?.value(), 550.0);
/// # Ok::<(), beadchem::Error>(())
/// ```
#[derive(Debug, Clone, PartialEq)]
pub struct Drift {
    first: Monitor,
    second: Option<Monitor>,
}

impl Drift {
    /// With one monitor: `I_c = I ref / now`.
    ///
    /// ```
    /// use beadchem::matrix::{Drift, Monitor};
    /// let drift = Drift::one_point(Monitor::new("M-1", [("Fe Ka", 1000.0)])?);
    /// assert_eq!(drift.monitors().count(), 1);
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn one_point(monitor: Monitor) -> Self {
        Self { first: monitor, second: None }
    }

    /// With two monitors, in either order: `I_c = a + b I` with `b = (ref_1 - ref_2) / (now_1 - now_2)` and
    /// `a = ref_2 - b now_2`. One of them may be the stronger in one line and the weaker in another.
    ///
    /// # Errors
    /// `input.doubled` where both have one name; `time.unreadable` where one states zones and the other does not.
    ///
    /// ```
    /// use beadchem::matrix::{Drift, Monitor};
    /// let monitor = Monitor::new("M-1", [("Fe Ka", 1000.0)])?;
    /// assert!(Drift::two_point(monitor.clone(), monitor).is_err());
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    pub fn two_point(first: Monitor, second: Monitor) -> Result<Self> {
        if first.name() == second.name() {
            return Err(Error::Conflict {
                code: Code::InputDoubled,
                detail: format!("Both monitors are called {}.", first.name()),
                hint: "Two points need two monitors, each with its own name.".to_owned(),
            });
        }
        if let (Some(one), Some(other)) = (first.zoned(), second.zoned())
            && one != other
        {
            return Err(Error::Conflict {
                code: Code::TimeUnreadable,
                detail: format!("Of monitors {} and {} one has times with a zone.", first.name(), second.name()),
                hint: "Write Z or +01:00 behind all times or behind none.".to_owned(),
            });
        }
        Ok(Self { first, second: Some(second) })
    }

    /// The monitors.
    ///
    /// ```
    /// use beadchem::matrix::{Drift, Monitor};
    /// let drift = Drift::one_point(Monitor::new("M-1", [("Fe Ka", 1000.0)])?);
    /// assert_eq!(drift.monitors().next().map(Monitor::name), Some("M-1"));
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    pub fn monitors(&self) -> impl Iterator<Item = &Monitor> {
        core::iter::once(&self.first).chain(&self.second)
    }

    /// What brings a line of a bead measured at this time back to the calibration.
    ///
    /// # Errors
    /// `line.unknown`, `time.unreadable`; `drift.before-first` before the first reading of a monitor;
    /// `drift.monitors-alike` where two monitors do not differ by more than 3 u, at calibration or now, or have changed
    /// places.
    ///
    /// ```
    /// use beadchem::matrix::{Drift, Monitor};
    /// let monitor = Monitor::new("M-1", [("Fe Ka", 1000.0)])?.reading("2026-03-14T08:00", [("Fe Ka", 990.0)])?;
    /// let drift = Drift::one_point(monitor);
    /// assert!(drift.terms("Fe Ka", "2026-03-14T07:59").is_err());
    /// assert_eq!(drift.terms("Fe Ka", "2026-03-14T09:00")?.findings[0].code.word(), "drift.last-held");
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    pub fn terms(&self, line: &str, time: &str) -> Result<DriftTerm> {
        let stamp = self.moment(time)?;
        let (point, held) = self.first.point(line, time, stamp)?;
        let mut findings: Vec<Finding> = held.into_iter().collect();
        let mut second = None;
        if let Some(monitor) = &self.second {
            let (other, held) = monitor.point(line, time, stamp)?;
            self.apart(line, time, monitor, [&point, &other])?;
            findings.extend(held);
            second = Some(other);
        }
        Ok(DriftTerm { point, second, findings })
    }

    /// What brings a line back that was measured in these stretches of the readings of each monitor, half way along; nothing
    /// before the first reading of one.
    ///
    /// # Errors
    /// `line.unknown`.
    pub(crate) fn terms_in(&self, line: &str, stretches: &[Stretch]) -> Result<Option<DriftTerm>> {
        const HALF_WAY: f64 = 0.5;
        let mut points = Vec::with_capacity(stretches.len());
        for (monitor, &stretch) in self.monitors().zip(stretches) {
            let share = if let Stretch::Between(_) = stretch { HALF_WAY } else { 0.0 };
            points.push(monitor.point_in(line, stretch, share)?);
        }
        let mut points = points.into_iter();
        Ok(match (points.next().flatten(), points.next()) {
            (Some(point), None) => Some(DriftTerm { point, second: None, findings: Vec::new() }),
            (Some(point), Some(Some(second))) => Some(DriftTerm { point, second: Some(second), findings: Vec::new() }),
            _ => None,
        })
    }

    /// The time of a bead, which states its zone as the monitors do.
    ///
    /// # Errors
    /// `time.unreadable`.
    pub(crate) fn moment(&self, time: &str) -> Result<Stamp> {
        stamp("a bead", time, self.monitors().find_map(Monitor::zoned))
    }

    /// Refuses two monitors between which no slope can be drawn.
    fn apart(&self, line: &str, time: &str, second: &Monitor, points: [&DriftPoint; 2]) -> Result<()> {
        let u = |reading: &(String, Estimate)| reading.1.u().unwrap_or(0.0);
        let now = |point: &DriftPoint| {
            let after = point.after.as_ref().map_or(0.0, |after| point.share * u(after));
            (point.now(), (u(&point.before) * (1.0 - point.share)).hypot(after))
        };
        let reference = |point: &DriftPoint| (point.reference.1.value(), u(&point.reference));
        let difference = |[one, other]: [(f64, f64); 2]| (one.0 - other.0, one.1.hypot(other.1));
        let (then, then_u) = difference(points.map(reference));
        let (since, since_u) = difference(points.map(now));
        let names = format!("Monitors {} and {}", self.first.name(), second.name());
        let refuse = |detail: String, hint: &str| {
            Err(Error::Conflict { code: Code::MonitorsAlike, detail, hint: hint.to_owned() })
        };
        for (gap, u, when) in [(then, then_u, "calibration"), (since, since_u, time)] {
            if gap.abs() <= APART * u {
                let detail = format!("{names} differ by {:.3} cps in {line} at {when} (u {u:.3} cps).", gap.abs());
                return refuse(detail, "Two points need a weak and a strong monitor in each line; use one point here.");
            }
        }
        if then * since < 0.0 {
            let detail = format!("{names} have changed places in {line} between calibration and {time}.");
            return refuse(detail, "Were the two beads swapped in the holders?");
        }
        Ok(())
    }

    /// Every reading that moved by more than the laboratory's two rules allow, as errors.
    ///
    /// # Errors
    /// `rule.unstated`.
    ///
    /// ```
    /// use beadchem::{matrix::{Drift, Monitor}, rules::{DriftLimit, Rules}};
    /// let rules = Rules::new("house", "1").drift(DriftLimit { step: 0.005, total: 0.10 })?;
    /// let monitor = Monitor::new("M-1", [("Fe Ka", 1000.0)])?
    ///     .reading("2026-03-14T08:00", [("Fe Ka", 725.0)])?
    ///     .reading("2026-03-14T12:30", [("Fe Ka", 710.0)])?;
    /// assert_eq!(Drift::one_point(monitor).moved(&rules)?.len(), 2);
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    pub fn moved(&self, rules: &Rules) -> Result<Vec<Finding>> {
        let limit = rules.stated_drift()?;
        // two decimal numbers on the limit differ by it but for rounding
        const ROUNDING: f64 = 1e-12;
        let beyond = |moved: f64, limit: f64| moved.abs() > limit + ROUNDING;
        let mut findings = Vec::new();
        for monitor in self.monitors() {
            for moved in monitor.moves() {
                let far = beyond(moved.total, limit.total);
                if !far && !moved.step.is_some_and(|(_, step)| beyond(step, limit.step)) {
                    continue;
                }
                let step = moved.step.map_or_else(String::new, |(since, step)| {
                    format!(", {} since {since} (limit {})", percent_short(step), percent_text(limit.step))
                });
                let text = format!(
                    "Monitor {} moved by {} in {} since calibration (your limit {}){step}, read at {}: rerun the monitor \
                     before correcting results. (rules {})",
                    monitor.name(),
                    percent_short(moved.total),
                    moved.line,
                    percent_text(limit.total),
                    moved.time,
                    rules.id()
                );
                let (value, bound) = match moved.step {
                    Some((_, step)) if !far => (step, limit.step),
                    _ => (moved.total, limit.total),
                };
                let finding = Finding::new(Code::DriftBeyondLimit, moved.line, text);
                findings.push(finding.with_value(value).with_bound(bound));
            }
        }
        Ok(findings)
    }

    /// Refuses a drift that moved by more than the laboratory's two rules allow.
    ///
    /// # Errors
    /// `drift.beyond-limit` with both figures of the first such reading; `rule.unstated`.
    ///
    /// ```
    /// use beadchem::{matrix::{Drift, Monitor}, rules::{DriftLimit, Rules}};
    /// let rules = Rules::new("house", "1").drift(DriftLimit { step: 0.005, total: 0.10 })?;
    /// let monitor = Monitor::new("M-1", [("Fe Ka", 1000.0)])?.reading("2026-03-14T08:00", [("Fe Ka", 710.0)])?;
    /// let refused = Drift::one_point(monitor).check(&rules).unwrap_err();
    /// assert!(refused.to_string().starts_with("Monitor M-1 moved by -29 % in Fe Ka since calibration (your limit 10 %)"));
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    pub fn check(&self, rules: &Rules) -> Result<()> {
        let moved = self.moved(rules)?;
        let Some(first) = moved.first() else { return Ok(()) };
        let hint = match moved.len() - 1 {
            0 => "Nothing else moved that far.".to_owned(),
            1 => "So did 1 more reading.".to_owned(),
            more => format!("So did {more} more readings."),
        };
        Err(Error::Conflict { code: first.code, detail: first.text.clone(), hint })
    }
}

/// The stored form of a drift, before it is checked.
///
/// ```
/// use beadchem::{document::Document, matrix::{Drift, Monitor}};
/// let drift = Drift::one_point(Monitor::new("M-1", [("Fe Ka", 1000.0)])?);
/// assert_eq!(Drift::from_body(drift.to_body())?, drift);
/// # Ok::<(), beadchem::Error>(())
/// ```
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct DriftBody {
    first: Monitor,
    #[serde(skip_serializing_if = "Option::is_none", default)]
    second: Option<Monitor>,
}

impl Document for Drift {
    const KIND: &'static str = "drift-monitors";
    const SCHEMA: u32 = 1;
    type Body = DriftBody;
    fn to_body(&self) -> DriftBody {
        DriftBody { first: self.first.clone(), second: self.second.clone() }
    }
    fn from_body(body: DriftBody) -> Result<Self> {
        match body.second {
            Some(second) => Drift::two_point(body.first, second),
            None => Ok(Drift::one_point(body.first)),
        }
    }
}
