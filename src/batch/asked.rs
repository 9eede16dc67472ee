//! What the rows of a group are asked: their lines, in a bead that the plan is compiled from.

use crate::batch::correction::Correction;
use crate::batch::field::{Field, Quantity};
use crate::batch::group::{Covered, Key, SOME, some};
use crate::batch::outline::Bounds;
use crate::charge::{Melt, SampleResult};
use crate::code::{Code, Severity};
use crate::error::{Error, Result};
use crate::finding::Finding;
use crate::matrix::applicability::AT_BOUND;
use crate::matrix::order::{LineOrder, LineSpec};
use crate::matrix::{CoefficientSet, Count, GlassRange, LineReading, Stretch};
use crate::method::{Measurement, Method};

/// A bead of the rows of a key, and what holds for all of them.
pub(super) struct Asked {
    /// On the basis of the weighing, as it was read.
    pub(super) result: SampleResult,
    /// Warnings that hold for every row.
    pub(super) findings: Vec<Finding>,
    /// What is said once.
    pub(super) notes: Vec<Finding>,
    pub(super) drift: Following,
    pub(super) of_lines: OfLines,
}

/// What only coefficients and standards say.
pub(super) struct OfLines {
    pub(super) class: Option<String>,
    /// The fused flux ratios that the coefficients hold for.
    pub(super) flux_ratios: (f64, f64),
    /// Ranges of standards of the results that are in the form of the coefficients.
    pub(super) covered: Vec<Covered>,
    /// Results by their place, and the range of contents that the coefficients were made for.
    pub(super) stayed: Vec<(usize, Bounds)>,
    /// For each line whether a dead time stands with its column.
    pub(super) alone: Vec<bool>,
}

impl OfLines {
    /// Readings of the glass know no limits of this kind.
    pub(super) fn nothing() -> Self {
        let flux_ratios = (f64::NEG_INFINITY, f64::INFINITY);
        Self { class: None, flux_ratios, covered: Vec::new(), stayed: Vec::new(), alone: Vec::new() }
    }
}

/// How rows of a group follow the drift of the spectrometer.
#[derive(Debug, Default)]
pub(super) struct Following {
    /// Inputs by their names, and the list of readings that says how far rows lie on their way.
    pub(super) ways: Vec<(String, usize)>,
    pub(super) watched: Vec<String>,
}

/// Strength of every line in the bead that a plan is compiled from: contents of about an eightieth, whatever the method.
const STRENGTH: f64 = 0.0125;

impl Correction {
    /// A bead solved from the lines that are there.
    pub(super) fn ask_lines<'a>(
        &self,
        method: &Method,
        key: &Key,
        melt: &Melt,
        there: &impl Fn(&Quantity) -> Option<&'a Field>,
    ) -> Result<Asked> {
        let set = &method.coefficients()[key.class];
        let mut asked = method.ask(melt, &self.measurement(method, key, there)?)?;
        let drift = self.follow_drift(key, &mut asked.order)?;
        let alone = |spec: &LineSpec| matches!(self.dead_time_of(spec.reading.line().as_str()), Some((_, true)));
        let alone: Vec<bool> = asked.order.lines.iter().map(alone).collect();
        let result = melt.solve(asked.order)?;
        let mut findings = standing(method, key, melt)?;
        if !result.absent_components().is_empty() {
            findings.extend(self.not_measured(method, key, melt, there)?);
        }
        let analytes: Vec<String> = result.readings().into_iter().take(result.count()).collect();
        let of_lines = OfLines {
            class: Some(set.label().name().to_owned()),
            flux_ratios: set.conditions().range(),
            covered: covered(method, &self.species()?),
            stayed: ranges(set, &analytes)?,
            alone,
        };
        Ok(Asked { result, findings, notes: asked.findings, drift, of_lines })
    }

    fn measurement<'a>(
        &self,
        method: &Method,
        key: &Key,
        there: &impl Fn(&Quantity) -> Option<&'a Field>,
    ) -> Result<Measurement> {
        let mut measurement = Measurement::new("").of_class(method.coefficients()[key.class].label().name());
        for line in method.lines() {
            let sensitivity = method.calibration().of(line).map_or(1.0, |held| held.value.value());
            let intensity = STRENGTH / sensitivity;
            if let Some(field) = there(&Quantity::Intensity(line.to_owned())) {
                measurement = measurement.reading(LineReading::net(line, some(field, intensity)?)?)?;
            } else if let Some(field) = there(&Quantity::Peak(line.to_owned())) {
                measurement = measurement.reading(self.counted(line, field, intensity, there)?)?;
            }
        }
        for field in &self.fields {
            if let Quantity::Known(component) = &field.quantity
                && there(&field.quantity).is_some()
            {
                measurement = measurement.declared(component, some(field, SOME)?)?;
            }
        }
        Ok(measurement)
    }

    /// A counted line of that bead.
    fn counted<'a>(
        &self,
        line: &str,
        peak: &Field,
        intensity: f64,
        there: &impl Fn(&Quantity) -> Option<&'a Field>,
    ) -> Result<LineReading> {
        const SECONDS: f64 = 1.0;
        let mut backgrounds = Vec::new();
        for field in &self.fields {
            let Quantity::Background(held, _) = &field.quantity else { continue };
            if held != line {
                continue;
            }
            if there(&field.quantity).is_none() {
                return Err(Error::Missing {
                    code: Code::BackgroundMissing,
                    quantity: format!("A background of {line}"),
                    place: format!(" in {}", field.name()),
                    hint: format!("{} is there: without its background the whole peak would count.", peak.name()),
                });
            }
            backgrounds.push(field.weight.unwrap_or(1.0));
        }
        // a little under the peak, whatever the weights, and what a counter of that dead time shows of it
        let background = SOME * intensity;
        let dead_time = self.dead_time_of(line);
        let seconds = dead_time.map_or(0.0, |(held, _)| held.seconds().value());
        let displayed = |rate: f64| Count::new(rate / (1.0 + rate * seconds), SECONDS);
        let under: f64 = backgrounds.iter().map(|weight| weight * background).sum();
        let mut reading = LineReading::counted(line, displayed(intensity + under)?)?;
        for weight in backgrounds {
            reading = reading.background(weight, displayed(background)?)?;
        }
        match dead_time {
            Some((dead_time, true)) => reading.dead_time(dead_time),
            _ => Ok(reading),
        }
    }

    /// Brings the lines of an order back to the calibration, where there are monitors.
    fn follow_drift(&self, key: &Key, order: &mut LineOrder) -> Result<Following> {
        let mut following = Following::default();
        let Some(drift) = &self.drift else { return Ok(following) };
        let outline = self.outline();
        let mut held: Vec<Vec<Option<usize>>> = Vec::new();
        for spec in &mut order.lines {
            let line = spec.reading.line().as_str();
            let lists = outline.runs.lists_of(line);
            let stretch = |list: &Option<usize>| list.map_or(Stretch::Before, |list| key.stretches[list]);
            let stretches: Vec<Stretch> = lists.iter().map(stretch).collect();
            let Some(term) = drift.terms_in(line, &stretches)? else { continue };
            let last = stretches.iter().any(|stretch| matches!(stretch, Stretch::After(_)));
            // a reading that is held is told of once for all lines that were read with it
            if !term.apart_throughout() || (last && !held.contains(&lists)) {
                following.watched.push(line.to_owned());
                held.push(lists.clone());
            }
            let ways = term.ways().into_iter().zip(lists);
            following.ways.extend(ways.filter_map(|(way, list)| way.zip(list)));
            (spec.drift, spec.by_row) = (Some(term), true);
        }
        Ok(following)
    }
}

/// Ranges of standards of the results that are in the form of the coefficients.
fn covered(method: &Method, species: &[String]) -> Vec<Covered> {
    let ranges = method.calibration().ranges().iter();
    let of = |range: &GlassRange| {
        let result = species.iter().position(|species| *species == range.analyte.text())?;
        Some(Covered { result, low: range.low, high: range.high })
    };
    ranges.filter_map(of).collect()
}

/// Warnings of the method that hold for every row of a key: another basis or flux blend than it was made for.
fn standing(method: &Method, key: &Key, melt: &Melt) -> Result<Vec<Finding>> {
    let set = &method.coefficients()[key.class];
    let blend = melt.charge().flux().lot().blend();
    let mut findings = set.check_conditions(set.fused_flux_ratio(), blend, "of this row")?;
    findings.extend(method.check_basis(melt, "this row", ""));
    findings.retain(|finding| finding.severity() >= Severity::Warning);
    Ok(findings)
}

/// The ranges of contents that coefficients were made for.
fn ranges(set: &CoefficientSet, analytes: &[String]) -> Result<Vec<(usize, Bounds)>> {
    let mut ranges = Vec::new();
    for (place, analyte) in analytes.iter().enumerate() {
        let component = &set.components()[set.component_index(analyte)?];
        let near = |(low, high): (f64, f64)| (place, Bounds::of(low - AT_BOUND, high + AT_BOUND));
        ranges.extend(set.conditions().range_of(component).map(near));
    }
    Ok(ranges)
}
