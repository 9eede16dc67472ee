//! From a method and a measured bead to what is asked of its intensities.

use crate::charge::{Charge, Melt, is_halogen};
use crate::code::Code;
use crate::error::{Error, Result};
use crate::finding::Finding;
use crate::matrix::calibration::{coefficient_name, offset_name, sensitivity_name};
use crate::matrix::order::{DeclaredSpec, LineOrder, LineSpec, OverlapSpec, RowSpec};
use crate::matrix::{CoefficientSet, LineReading};
use crate::method::{Measurement, Method};
use crate::substance::Formula;
use crate::uncertainty::Estimate;

/// What is asked, with what is to be said of the asking.
pub(crate) struct Asked<'a> {
    pub(crate) order: LineOrder,
    pub(crate) set: &'a CoefficientSet,
    pub(crate) findings: Vec<Finding>,
}

impl Method {
    /// What a bead's readings are asked for.
    pub(crate) fn ask(&self, melt: &Melt, measurement: &Measurement) -> Result<Asked<'_>> {
        let set = self.set(measurement.class())?;
        let mut findings = Vec::new();
        let mut lines = Vec::new();
        let mut names: Vec<&str> = Vec::new();
        for name in self.lines() {
            let Some(reading) = measurement.readings().iter().find(|held| held.line().as_str() == name) else {
                continue;
            };
            names.push(name);
            lines.push(self.line(measurement, reading, &mut findings)?);
        }
        for reading in measurement.readings() {
            if !names.contains(&reading.line().as_str()) {
                let text = format!("{} was measured, and the method makes no use of it.", reading.line().as_str());
                findings.push(Finding::new(Code::LineUnused, reading.line().as_str(), text));
            }
        }
        let place = |line: &str| names.iter().position(|known| *known == line);
        let mut overlaps = Vec::new();
        for overlap in self.overlaps() {
            // without the line that is overlapped there is nothing to correct
            let Some(on) = place(overlap.on().as_str()) else { continue };
            let Some(from) = place(overlap.from().as_str()) else {
                return Err(Error::Unstated {
                    code: Code::OverlapNotMeasured,
                    quantity: format!("The intensity of {} of bead {}", overlap.from(), measurement.bead()),
                    hint: format!("It overlaps {}: measure it, or leave {} out.", overlap.on(), overlap.on()),
                });
            };
            overlaps.push(OverlapSpec { on, from, factor: (overlap.name(), overlap.factor().clone()) });
        }
        let follows = |line: &str| self.standard().is_some_and(|held| held.follow().iter().any(|l| l.as_str() == line));
        let is_standard = |line: &str| self.standard().is_some_and(|held| held.line().as_str() == line);
        let (mut rows, mut standard) = (Vec::new(), None);
        for (row, influence) in set.lines().iter().enumerate() {
            let name = influence.line.as_str();
            let Some(line) = place(name) else {
                let component = set.components()[influence.analyte].text();
                if measurement.known().iter().all(|(held, _)| held.text() != component) {
                    let element = influence.line.split(' ').next().unwrap_or_default();
                    let other = measurement
                        .readings()
                        .iter()
                        .map(|reading| reading.line())
                        .find(|line| line.element().symbol() == element && !names.contains(&line.as_str()));
                    let hint =
                        other.map_or_else(String::new, |other| format!(" {other} was: is it meant to be {name}?"));
                    let text = format!("{name} was not measured, so {component} is not reported.{hint}");
                    findings.push(Finding::new(Code::LineNotMeasured, component, text));
                }
                continue;
            };
            let spec = self.row(set, row, line, follows(name))?;
            if is_standard(name) {
                standard = Some(RowSpec { follows: true, ..spec });
            } else {
                rows.push(spec);
            }
        }
        if rows.is_empty() {
            return Err(Error::Unstated {
                code: Code::LineNotMeasured,
                quantity: format!("A line of an analyte of bead {}", measurement.bead()),
                hint: format!("The method measures: {}.", self.lines().join(", ")),
            });
        }
        if let (Some(held), None) = (self.standard(), &standard) {
            return Err(Error::Unstated {
                code: Code::LineNotMeasured,
                quantity: format!("The line {} of the internal standard in bead {}", held.line(), measurement.bead()),
                hint: "Lines that follow it cannot be evaluated without it.".to_owned(),
            });
        }
        let (mut rows, hidden): (Vec<RowSpec>, Vec<RowSpec>) = rows.into_iter().partition(|row| {
            let component = &set.components()[row.component];
            !self.not_reported.iter().any(|held| held.text() == component.text())
                && !brought_halide(melt.charge(), component)
        });
        let reported = rows.len();
        rows.extend(hidden);
        let mut declared = Vec::new();
        for (component, content) in measurement.known() {
            let place = self.component(component)?;
            if rows.iter().any(|row| row.component == place) {
                return Err(Error::Conflict {
                    code: Code::ComponentMeasuredAndDeclared,
                    detail: format!("{component} of bead {} is both measured and declared.", measurement.bead()),
                    hint: "Leave out its line or its declared content.".to_owned(),
                });
            }
            let name = format!("{component} known from elsewhere");
            declared.push(DeclaredSpec { component: place, content: (name, content.clone()) });
        }
        let held = |name: &str| rows.iter().chain(&standard).any(|row: &RowSpec| row.holds(name));
        let correlations = self.calibration().correlations();
        let correlations = correlations.iter().filter(|(a, b, _)| held(a) && held(b)).cloned().collect();
        let order = LineOrder {
            lines,
            overlaps,
            components: set.components().to_vec(),
            rows,
            reported,
            standard,
            declared,
            standard_bead: false,
            reference_ratio: set.fused_flux_ratio(),
            correlations,
        };
        Ok(Asked { order, set, findings })
    }

    fn line(&self, measured: &Measurement, reading: &LineReading, findings: &mut Vec<Finding>) -> Result<LineSpec> {
        findings.extend(reading.check()?);
        let reading = match self.counter() {
            Some(dead_time) if reading.wants_dead_time() => reading.clone().dead_time(dead_time)?,
            _ => reading.clone(),
        };
        let drift = match (measured.drift(), measured.time()) {
            (Some(drift), Some(time)) => {
                let term = drift.terms(reading.line().as_str(), time)?;
                for finding in &term.findings {
                    if findings.iter().all(|held| held.text != finding.text) {
                        findings.push(finding.clone());
                    }
                }
                Some(term)
            }
            _ => None,
        };
        Ok(LineSpec { reading, drift, by_row: false })
    }

    /// The row of a line: its sensitivity carried over to the centroid of the set, and its coefficients.
    fn row(&self, set: &CoefficientSet, row: usize, line: usize, follows: bool) -> Result<RowSpec> {
        let influence = &set.lines()[row];
        let name = influence.line.as_str();
        let held = self.calibration().of(name)?;
        let theory = |set: &CoefficientSet| set.lines()[row].sensitivity;
        let scale = match (theory(&self.coefficients()[0]), theory(set)) {
            (Some(calibrated), Some(asked)) => asked / calibrated,
            _ => 1.0,
        };
        let mut coefficients = set.row(row).to_vec();
        let mut uncertain: Vec<(usize, (String, Estimate))> = Vec::new();
        for fitted in self.calibration().coefficients().iter().filter(|fitted| fitted.line.as_str() == name) {
            let component = self.component(&fitted.component)?;
            let label = coefficient_name(fitted.component.text(), name);
            uncertain.push((component, (label, fitted.value.clone())));
        }
        for (component, &u) in set.u_row(row).unwrap_or(&[]).iter().enumerate() {
            if u > 0.0 && uncertain.iter().all(|(place, _)| *place != component) {
                // the coefficient of another class is another quantity
                let label = coefficient_name(set.components()[component].text(), name);
                let label = format!("{label} in {}", set.label().name());
                uncertain.push((component, (label, Estimate::new(coefficients[component], u)?)));
            }
        }
        for (component, _) in &uncertain {
            coefficients[*component] = 0.0;
        }
        Ok(RowSpec {
            line,
            component: influence.analyte,
            sensitivity: (sensitivity_name(name), held.value.clone()),
            scale,
            offset: held.offset.clone().map(|offset| (offset_name(name), offset)),
            follows,
            coefficients,
            uncertain,
        })
    }

    /// What the method has to say of a bead before it is solved: another basis than the standards', another flux ratio or
    /// blend than the coefficients were made for.
    pub(crate) fn check_melt(&self, set: &CoefficientSet, melt: &Melt, bead: &str) -> Result<Vec<Finding>> {
        let mut findings =
            set.check_conditions(melt.fused_flux_ratio().value(), melt.charge().flux().lot().blend(), bead)?;
        let loses =
            format!(" and loses {} in the fusion", crate::composition::unit::percent_short(melt.loss_on_fusion()));
        findings.extend(self.check_basis(melt, &format!("bead {bead}"), &loses));
        Ok(findings)
    }

    /// A calibration made with warnings, or on another basis than the sample of `whose` was weighed on, which `loses` something.
    pub(crate) fn check_basis(&self, melt: &Melt, whose: &str, loses: &str) -> Vec<Finding> {
        let mut findings = Vec::new();
        if let Some(first) = self.calibration().warnings().first() {
            let (label, count) = (self.calibration().label(), self.calibration().warnings().len());
            let text = format!(
                "Calibration {} {} was made with warnings, {count} in all; the first: {first}",
                label.name(),
                label.version()
            );
            findings.push(Finding::new(Code::CalibrationDoubtful, "calibration", text));
        }
        let (weighed, calibrated) = (melt.charge().sample().basis(), self.calibration().basis());
        if weighed != calibrated {
            let text = format!(
                "The calibration declares standards weighed {calibrated}; the sample of {whose} was weighed {weighed}{loses}. \
                 Results stand per gram as weighed; was the right powder weighed?"
            );
            findings.push(Finding::new(Code::CalibrationOtherBasis, "basis", text));
        }
        findings
    }
}

/// Whether a component is the halide of a release agent of the charge: it tells of the bead, not of the sample.
pub(crate) fn brought_halide(charge: &Charge, component: &Formula) -> bool {
    let halogens = component.atoms().iter().map(|(element, _)| *element).filter(|element| is_halogen(*element));
    let additions = charge.additions();
    halogens.into_iter().any(|halogen| additions.iter().any(|addition| addition.species().count(halogen) > 0.0))
}

impl RowSpec {
    /// Whether a quantity of the calibration is one of this row's inputs.
    fn holds(&self, name: &str) -> bool {
        self.sensitivity.0 == name
            || self.offset.as_ref().is_some_and(|(held, _)| held == name)
            || self.uncertain.iter().any(|(_, (held, _))| held == name)
    }
}
