//! What a method does not state, said before a bead is measured by it.

use crate::code::Code;
use crate::finding::Finding;
use crate::method::Method;

impl Method {
    /// What is missing or doubtful in the method, in plain words; nothing for one that states everything.
    ///
    /// Looked at: uncertainties of sensitivities and overlap factors, ranges of standards and of coefficients, flux blend and
    /// setup of the coefficients, sensitivities that agree with theory in proportion, overlaps on lines that nobody asks for.
    ///
    /// ```
    /// use beadchem::method::{Method, Overlap};
    /// let method = Method::template()?.overlap(Overlap::new("Mg Ka", "Br Ka", 0.001)?)?;
    /// assert!(method.check().iter().any(|finding| finding.text.contains("overlap of Br Ka on Mg Ka")));
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn check(&self) -> Vec<Finding> {
        let mut findings = Vec::new();
        let mut missing = |quantity: &str, text: String| {
            findings.push(Finding::new(Code::MethodIncomplete, quantity, text));
        };
        for held in self.calibration.sensitivities() {
            if held.value.u().is_none() {
                missing(held.line.as_str(), format!("No uncertainty is stated for the sensitivity of {}.", held.line));
            }
            if self.coefficients[0].line_index(held.line.as_str()).is_err() {
                missing(
                    held.line.as_str(),
                    format!("{} is calibrated, and the coefficients have no such line.", held.line),
                );
            }
        }
        for analyte in self.analytes() {
            if self.calibration.ranges().iter().all(|range| range.analyte.text() != analyte) {
                missing(analyte, format!("No range of standards is stated for {analyte}: extrapolation goes unseen."));
            }
        }
        for overlap in &self.overlaps {
            if overlap.factor().u().is_none() {
                missing(overlap.on().as_str(), format!("No uncertainty is stated for the {}.", overlap.name()));
            }
            if self.coefficients[0].line_index(overlap.on().as_str()).is_err() {
                let from_other = self.overlaps.iter().any(|other| other.from() == overlap.on());
                if !from_other {
                    let text =
                        format!("The {} corrects a line that no analyte and no other overlap uses.", overlap.name());
                    missing(overlap.on().as_str(), text);
                }
            }
        }
        for set in &self.coefficients {
            let name = set.label().name();
            if set.conditions().blend().is_empty() {
                missing(
                    name,
                    format!("The coefficients {name} name no flux blend: a bead of another blend goes unseen."),
                );
            }
            if set.conditions().setup().is_empty() {
                missing(name, format!("The coefficients {name} name no tube, voltage and angles."));
            }
            let (low, high) = set.conditions().range();
            if low == high {
                let text = format!(
                    "The coefficients {name} hold at one fused flux ratio only: every catch weight is refused."
                );
                missing(name, text);
            }
        }
        findings.extend(self.uneven_sensitivities());
        findings
    }

    /// Lines whose sensitivity is far from what theory gives in proportion to the others.
    fn uneven_sensitivities(&self) -> Vec<Finding> {
        // geometry, crystal and detector differ by line, never by this much between neighbours of one spectrometer
        const FAR: f64 = 20_000.0;
        let set = &self.coefficients[0];
        let ratios: Vec<(&str, f64)> = set
            .lines()
            .iter()
            .filter_map(|line| {
                let held = self.calibration.of(&line.line).ok()?;
                Some((line.line.as_str(), held.value.value() / line.sensitivity?))
            })
            .collect();
        let mut sorted: Vec<f64> = ratios.iter().map(|(_, ratio)| *ratio).collect();
        sorted.sort_unstable_by(f64::total_cmp);
        let Some(median) = sorted.get(sorted.len() / 2) else { return Vec::new() };
        let far = |ratio: f64| ratio > FAR * median || ratio * FAR < *median;
        let finding = |(line, ratio): &(&str, f64)| {
            let text = format!(
                "The sensitivity of {line} is {:.1e} times what theory gives in proportion to the other lines. A unit, or a \
                 misplaced power of ten?",
                ratio / median
            );
            Finding::new(Code::MethodIncomplete, *line, text).with_value(ratio / median)
        };
        ratios.iter().filter(|(_, ratio)| far(*ratio)).map(finding).collect()
    }
}
