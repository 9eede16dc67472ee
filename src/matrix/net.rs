//! What a spectrometer counts: rates with their counting time, dead time, backgrounds, and the net intensity of a line.

use crate::code::Code;
use crate::error::{Error, Result, finite, within};
use crate::finding::Finding;
use crate::matrix::LineName;
use crate::matrix::count::{Count, DeadTime, alive};
use crate::scalar::{Dual, Scalar};
use crate::table::format_value;
use crate::uncertainty::{Budget, Estimate, Inputs, Model, Propagated, propagate_plain};

/// How many backgrounds a peak may have.
pub(crate) const BACKGROUNDS: usize = 2;

/// A peak less its weighted backgrounds.
#[inline(always)]
pub(crate) fn net<S: Scalar>(peak: S, backgrounds: &[(S, f64)]) -> S {
    let mut left = peak;
    for &(rate, weight) in backgrounds {
        left = left - rate * weight;
    }
    left
}

/// A rate freed from a dead time, where there is one.
#[inline(always)]
fn freed<S: Scalar>(x: &[S], rate: usize, dead_time: Option<usize>) -> S {
    match dead_time {
        Some(dead_time) => alive(x[rate], x[dead_time]),
        None => x[rate],
    }
}

/// One line of one bead as measured: a net intensity formed by the instrument, or what was counted.
///
/// ```
/// use beadchem::matrix::{Count, LineReading};
/// let counted = LineReading::counted("Fe Ka", Count::new(1240.0, 40.0)?)?
///     .background(0.5, Count::new(20.0, 20.0)?)?
///     .background(0.5, Count::new(28.0, 20.0)?)?;
/// assert_eq!(counted.intensity()?.value(), 1216.0);
/// # Ok::<(), beadchem::Error>(())
/// ```
#[derive(Debug, Clone, PartialEq)]
pub struct LineReading {
    line: LineName,
    source: Source,
}

#[derive(Debug, Clone, PartialEq)]
enum Source {
    Formed(Estimate),
    Counted { peak: Count, backgrounds: Vec<(f64, Count)>, dead_time: Option<DeadTime> },
}

impl LineReading {
    /// A net intensity in cps, as the instrument formed it: dead time and background are done.
    ///
    /// # Errors
    /// `line.name`, `number.not-finite`.
    ///
    /// ```
    /// use beadchem::{matrix::LineReading, uncertainty::Estimate};
    /// let reading = LineReading::net("Si Ka", Estimate::new(4321.0, 8.0)?)?;
    /// assert_eq!(reading.intensity()?.u(), Some(8.0));
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    pub fn net(line: &str, intensity: impl Into<Estimate>) -> Result<Self> {
        let (line, intensity) = (LineName::parse(line)?, intensity.into());
        finite(&format!("{line} net intensity"), intensity.value())?;
        Ok(Self { line, source: Source::Formed(intensity) })
    }

    /// What was counted on the peak; without a background the whole peak counts.
    ///
    /// # Errors
    /// `line.name`.
    ///
    /// ```
    /// use beadchem::matrix::{Count, LineReading};
    /// assert_eq!(LineReading::counted("Si Ka", Count::new(4321.0, 40.0)?)?.intensity()?.value(), 4321.0);
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    pub fn counted(line: &str, peak: Count) -> Result<Self> {
        let source = Source::Counted { peak, backgrounds: Vec::new(), dead_time: None };
        Ok(Self { line: LineName::parse(line)?, source })
    }

    /// The same with a background that is taken off `weight` times: 1 for one beside the peak, for two the shares by
    /// which they stand for the background under the peak. The weights are facts of the setup and are never assumed.
    ///
    /// # Errors
    /// `number.out-of-range` for a weight outside -10 to 10; `dead-time.too-long`; `reading.contradicts` for a net
    /// intensity, a weight of zero, or a third background.
    ///
    /// ```
    /// use beadchem::matrix::{Count, LineReading};
    /// let net = LineReading::net("Si Ka", 4321.0)?;
    /// assert_eq!(net.background(1.0, Count::new(20.0, 20.0)?).unwrap_err().code().word(), "reading.contradicts");
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    pub fn background(mut self, weight: f64, count: Count) -> Result<Self> {
        let what = format!("{} weight of the background,", self.line);
        let hint = "A single background beside the peak has the weight 1; two share it.";
        within(&what, weight, "", [-10.0, 10.0], "-10 to 10 without 0", hint)?;
        let Source::Counted { backgrounds, dead_time, .. } = &mut self.source else {
            return Err(contradicts(&self.line, "is a net intensity and was given a background"));
        };
        if backgrounds.len() == BACKGROUNDS {
            return Err(contradicts(&self.line, "was given a third background"));
        }
        if weight == 0.0 {
            return Err(contradicts(&self.line, "was given a background of weight 0, which takes nothing off"));
        }
        if let Some(dead_time) = dead_time {
            dead_time.allows(&background_name(&self.line, backgrounds.len()), count)?;
        }
        backgrounds.push((weight, count));
        Ok(self)
    }

    /// The same with the dead time of the detector that counted peak and backgrounds; without one the rates count as
    /// corrected already.
    ///
    /// # Errors
    /// `dead-time.too-long` where a rate times the dead time reaches 1; `reading.contradicts` for a net intensity.
    ///
    /// ```
    /// use beadchem::matrix::{Count, DeadTime, LineReading};
    /// let reading = LineReading::counted("Fe Ka", Count::new(100_000.0, 10.0)?)?.dead_time(&DeadTime::new(1e-6)?)?;
    /// assert!((reading.intensity()?.value() - 1e5 / 0.9).abs() < 1e-9);
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    pub fn dead_time(mut self, dead: &DeadTime) -> Result<Self> {
        let Source::Counted { peak, backgrounds, dead_time } = &mut self.source else {
            return Err(contradicts(&self.line, "is a net intensity and was given a dead time"));
        };
        dead.allows(&format!("{} peak rate", self.line), *peak)?;
        for (place, &(_, count)) in backgrounds.iter().enumerate() {
            dead.allows(&background_name(&self.line, place), count)?;
        }
        *dead_time = Some(dead.clone());
        Ok(self)
    }

    /// The line.
    ///
    /// ```
    /// assert_eq!(beadchem::matrix::LineReading::net("Si Ka", 4321.0)?.line().as_str(), "Si Ka");
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn line(&self) -> &LineName {
        &self.line
    }

    /// The backgrounds with their weights, and the time of the peak, s; nothing for a net intensity.
    pub(crate) fn channels(&self) -> Option<(Count, &[(f64, Count)])> {
        match &self.source {
            Source::Formed(_) => None,
            Source::Counted { peak, backgrounds, .. } => Some((*peak, backgrounds)),
        }
    }

    /// Whether it is counted, and states no dead time of its own.
    pub(crate) fn wants_dead_time(&self) -> bool {
        matches!(self.source, Source::Counted { dead_time: None, .. })
    }

    /// Names its quantities among the inputs of a calculation and says where they stand.
    ///
    /// # Errors
    /// `input.doubled` where an input of the same name has other figures.
    pub(crate) fn place(&self, inputs: &mut Inputs) -> Result<NetPlaces> {
        match &self.source {
            Source::Formed(intensity) => {
                Ok(NetPlaces::Formed(inputs.push(format!("{} net intensity", self.line), intensity.clone())?))
            }
            Source::Counted { peak, backgrounds, dead_time } => {
                let peak = inputs.push(format!("{} peak rate", self.line), peak.estimate()?)?;
                let mut places = Vec::with_capacity(backgrounds.len());
                for (place, &(weight, count)) in backgrounds.iter().enumerate() {
                    places.push((inputs.push(background_name(&self.line, place), count.estimate()?)?, weight));
                }
                let dead = |dead: &DeadTime| inputs.push(dead.input_name(), dead.seconds().clone());
                let dead_time = dead_time.as_ref().map(dead).transpose()?;
                Ok(NetPlaces::Counted { peak, backgrounds: places, dead_time })
            }
        }
    }

    fn propagated(&self) -> Result<Propagated> {
        let mut inputs = Inputs::new();
        let places = self.place(&mut inputs)?;
        propagate_plain(&Net(places), &inputs)
    }

    /// The net intensity, cps: `I = R_p - sum g_b R_b` of rates freed from dead time, with
    /// `u^2 = R_p / T_p + sum g_b^2 R_b / T_b` and what the dead time adds.
    ///
    /// # Errors
    /// `number.not-finite` where the figures overflow.
    ///
    /// ```
    /// use beadchem::matrix::{Count, LineReading};
    /// let reading = LineReading::counted("Fe Ka", Count::new(900.0, 100.0)?)?.background(1.0, Count::new(700.0, 100.0)?)?;
    /// assert_eq!((reading.intensity()?.value(), reading.intensity()?.u()), (200.0, Some(4.0)));
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    pub fn intensity(&self) -> Result<Estimate> {
        match &self.source {
            Source::Formed(intensity) => Ok(intensity.clone()),
            Source::Counted { .. } => self.propagated()?.estimate(0),
        }
    }

    /// Where the uncertainty of the net intensity comes from.
    ///
    /// # Errors
    /// As [`LineReading::intensity`].
    ///
    /// ```
    /// use beadchem::matrix::{Count, LineReading};
    /// let reading = LineReading::counted("Fe Ka", Count::new(900.0, 100.0)?)?.background(1.0, Count::new(700.0, 50.0)?)?;
    /// assert_eq!(reading.budget()?.rows()[0].name, "Fe Ka background 1 rate"); // count it as long as the peak
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    pub fn budget(&self) -> Result<Budget> {
        Ok(self.propagated()?.budget(0))
    }

    /// A net intensity below zero, which is kept as it is: within 2 u it is below detection, further down more was taken
    /// off than chance explains.
    ///
    /// # Errors
    /// As [`LineReading::intensity`].
    ///
    /// ```
    /// use beadchem::{matrix::LineReading, uncertainty::Estimate};
    /// let finding = LineReading::net("Cr Ka", Estimate::new(-3.1, 2.6)?)?.check()?.unwrap();
    /// let expected = "Cr Ka: net intensity -3.1 cps is within 1.2 u of zero: reported as below detection, value kept for \
    ///                 averages.";
    /// assert_eq!(finding.text, expected);
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    pub fn check(&self) -> Result<Option<Finding>> {
        let intensity = self.intensity()?;
        let value = intensity.value();
        if value >= 0.0 {
            return Ok(None);
        }
        let line = &self.line;
        let (Some(u), text) = (intensity.u(), cps(&intensity)) else {
            let text = format!(
                "{line}: net intensity {} is below zero and has no stated uncertainty: reported as below detection, value \
                 kept for averages.",
                cps(&intensity)
            );
            return Ok(Some(
                Finding::new(Code::IntensityNegative, line.as_str(), text).with_value(value).with_bound(0.0),
            ));
        };
        let (code, text) = if value >= -WITHIN * u {
            let below = "reported as below detection, value kept for averages.";
            (
                Code::IntensityNegative,
                format!("{line}: net intensity {text} is within {:.1} u of zero: {below}", -value / u),
            )
        } else {
            let why = "is the background on another line, or was an overlap taken off twice? Result below detection.";
            let far = if u > 0.0 { format!(" by {:.1} u", -value / u) } else { String::new() };
            let text = match self.channels() {
                Some((peak, _)) => {
                    let background = peak.rate_cps() - value;
                    let words = Estimate::new(background, u).map(|it| cps(&it))?;
                    format!("{line}: background {words} exceeds the peak of {}{far}: {why}", peak_text(peak))
                }
                None => format!("{line}: net intensity {text} is below zero{far}: {why}"),
            };
            (Code::BackgroundExceeds, text)
        };
        Ok(Some(Finding::new(code, line.as_str(), text).with_value(value).with_u(u).with_bound(0.0)))
    }

    /// The same line of a blank bead against this reading: a blank above it leaves less than nothing.
    ///
    /// # Errors
    /// As [`LineReading::intensity`]; `line.unknown` where the blank is of another line.
    ///
    /// ```
    /// use beadchem::{matrix::LineReading, uncertainty::Estimate};
    /// let (reading, blank) = (LineReading::net("Cr Ka", 3.8)?, LineReading::net("Cr Ka", 4.1)?);
    /// let finding = reading.check_blank(&blank)?.unwrap();
    /// assert_eq!(finding.text, "Cr Ka: blank 4.1 cps exceeds reading 3.8 cps; result below detection.");
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    pub fn check_blank(&self, blank: &LineReading) -> Result<Option<Finding>> {
        if blank.line != self.line {
            return Err(unknown_line("the blank", self.line.as_str(), [blank.line.as_str()]));
        }
        let (reading, blank) = (self.intensity()?, blank.intensity()?);
        if blank.value() <= reading.value() {
            return Ok(None);
        }
        let text =
            format!("{}: blank {} exceeds reading {}; result below detection.", self.line, cps(&blank), cps(&reading));
        let finding = Finding::new(Code::BlankExceeds, self.line.as_str(), text).with_value(reading.value());
        Ok(Some(finding.with_bound(blank.value())))
    }
}

/// The multiple of u within which a net intensity below zero is chance (two-sided 95 %, common practice).
const WITHIN: f64 = 2.0;

fn background_name(line: &LineName, place: usize) -> String {
    format!("{line} background {} rate", place + 1)
}

fn contradicts(line: &LineName, what: &str) -> Error {
    Error::Conflict {
        code: Code::ReadingContradicts,
        detail: format!("{line} {what}."),
        hint: "Give the net intensity alone, or the counted peak with one or two weighted backgrounds.".to_owned(),
    }
}

/// A line that was asked for and is not there.
pub(crate) fn unknown_line<'a>(of: &str, line: &str, known: impl IntoIterator<Item = &'a str>) -> Error {
    Error::Unknown {
        code: Code::LineUnknown,
        what: format!("Line of {of}"),
        given: line.to_owned(),
        hint: format!("It has: {}.", known.into_iter().collect::<Vec<_>>().join(", ")),
    }
}

/// An intensity with the digits its uncertainty leaves it.
fn cps(intensity: &Estimate) -> String {
    match intensity.u() {
        Some(u) if u > 0.0 => format!("{} cps", format_value(intensity.value(), u).0),
        _ => format!("{} cps", intensity.value()),
    }
}

fn peak_text(peak: Count) -> String {
    format!("{} cps", format_value(peak.rate_cps(), peak.u_cps()).0)
}

/// Where the quantities of one reading stand among the inputs of a calculation.
#[derive(Debug, Clone, PartialEq)]
pub(crate) enum NetPlaces {
    /// The net intensity itself.
    Formed(usize),
    /// Peak, backgrounds with their weights, dead time.
    Counted { peak: usize, backgrounds: Vec<(usize, f64)>, dead_time: Option<usize> },
}

impl NetPlaces {
    /// The same where it is counted, with its dead time or without.
    pub(crate) fn counted(&self, with_dead_time: bool) -> Option<Self> {
        let NetPlaces::Counted { peak, backgrounds, dead_time } = self else { return None };
        let dead_time = dead_time.filter(|_| with_dead_time);
        Some(NetPlaces::Counted { peak: *peak, backgrounds: backgrounds.clone(), dead_time })
    }

    /// All inputs it reads, in the order of [`slopes`](Self::slopes).
    pub(crate) fn inputs(&self) -> Vec<usize> {
        let mut inputs = self.own();
        if let NetPlaces::Counted { dead_time: Some(place), .. } = self {
            inputs.push(*place);
        }
        inputs
    }

    /// The net intensity, and its derivatives by its inputs. Backgrounds come off in proportion, so what the dead time does to
    /// the net intensity is the net of what it does to the rates.
    #[inline(always)]
    pub(crate) fn slopes<S: Scalar>(&self, x: &[S], slopes: &mut [S]) -> S {
        let NetPlaces::Counted { peak, backgrounds, dead_time } = self else {
            slopes[0] = S::constant(1.0);
            return self.intensity(x);
        };
        let tau = match dead_time {
            Some(place) => Dual::<S, 2>::variable(x[*place], 1),
            None => Dual::constant(0.0),
        };
        let peak = alive(Dual::variable(x[*peak], 0), tau);
        slopes[0] = peak.eps[0];
        let (mut rates, mut lost) = ([(S::constant(0.0), 0.0); BACKGROUNDS], [(S::constant(0.0), 0.0); BACKGROUNDS]);
        for (place, &(background, weight)) in backgrounds.iter().take(BACKGROUNDS).enumerate() {
            let rate = alive(Dual::variable(x[background], 0), tau);
            slopes[1 + place] = rate.eps[0] * -weight;
            rates[place] = (rate.re, weight);
            lost[place] = (rate.eps[1], weight);
        }
        if dead_time.is_some() {
            slopes[1 + backgrounds.len()] = net(peak.eps[1], &lost[..backgrounds.len()]);
        }
        net(peak.re, &rates[..backgrounds.len()])
    }

    /// The inputs that belong to this line alone; a dead time is shared.
    pub(crate) fn own(&self) -> Vec<usize> {
        match self {
            NetPlaces::Formed(place) => vec![*place],
            NetPlaces::Counted { peak, backgrounds, .. } => {
                core::iter::once(*peak).chain(backgrounds.iter().map(|&(place, _)| place)).collect()
            }
        }
    }

    /// The net intensity, cps.
    #[inline(always)]
    pub(crate) fn intensity<S: Scalar>(&self, x: &[S]) -> S {
        match self {
            NetPlaces::Formed(place) => x[*place],
            NetPlaces::Counted { peak, backgrounds, dead_time } => {
                let mut rates = [(S::constant(0.0), 0.0); BACKGROUNDS];
                for (rate, &(place, weight)) in rates.iter_mut().zip(backgrounds) {
                    *rate = (freed(x, place, *dead_time), weight);
                }
                net(freed(x, *peak, *dead_time), &rates[..backgrounds.len()])
            }
        }
    }
}

struct Net(NetPlaces);

impl Model for Net {
    fn outputs(&self) -> usize {
        1
    }
    fn evaluate<S: Scalar>(&self, x: &[S], y: &mut [S], _: &mut [S]) {
        y[0] = self.0.intensity(x);
    }
}
