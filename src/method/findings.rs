//! What is to be said of a solved bead: components nobody measured or declared, ranges left, halides under lines.

use crate::charge::{Melt, SampleResult};
use crate::code::Code;
use crate::composition::Unit;
use crate::composition::unit::percent_short;
use crate::error::Result;
use crate::finding::Finding;
use crate::matrix::CoefficientSet;
use crate::method::{Measurement, Method};
use crate::substance::Formula;

/// Contents below this, g per g of sample, move no result that anybody reports.
const NOTABLE: f64 = 2e-4;

pub(super) fn judge(
    method: &Method,
    set: &CoefficientSet,
    measurement: &Measurement,
    result: &SampleResult,
) -> Result<Vec<Finding>> {
    let mut findings = Vec::new();
    findings.extend(absent(set, result)?);
    findings.extend(from_sample(set, result));
    findings.extend(strangers(result));
    findings.extend(beyond(method, set, measurement, result)?);
    findings.extend(beyond_standards(method, result));
    findings.extend(halides(method, result)?);
    if result.exchanged() {
        let text = "The elimination wanted exchanged rows; the pivoted solution stands. Are the coefficients those of this setup?";
        findings.push(Finding::new(Code::RowsExchanged, "matrix", text));
    }
    Ok(findings)
}

/// Components of the coefficients of which nothing says that they are there, with what they would do.
pub(crate) fn absent(set: &CoefficientSet, result: &SampleResult) -> Result<Vec<Finding>> {
    // where the set names no content, per percent of it
    let unknown = Unit::Percent.fraction(1.0);
    let mut findings = Vec::new();
    for component in result.absent_components() {
        let formula = &set.components()[component];
        let centroid = set.conditions().centroid_of(formula.text());
        let known = !set.conditions().centroid().is_empty();
        // these come with additions only, or the centroid does not count on them
        let with_additions = formula.atoms().iter().any(|(element, _)| matches!(element.symbol(), "Br" | "I"));
        if with_additions || (known && centroid.is_none()) {
            continue;
        }
        let content = centroid.unwrap_or(unknown);
        if content < NOTABLE {
            continue;
        }
        let effects: Vec<(&str, f64)> = result
            .effect_of(component, content)?
            .into_iter()
            .filter(|(species, _)| {
                // a blank level has no relative effect that means anything
                result
                    .value(species)
                    .is_ok_and(|value| value > NOTABLE && value > 3.0 * result.u(species).unwrap_or(0.0))
            })
            .collect();
        if effects.is_empty() {
            continue;
        }
        let largest =
            effects.iter().fold(("", 0.0_f64), |most, held| if held.1.abs() > most.1.abs() { *held } else { most });
        let at = if centroid.is_some() { "at the centroid's" } else { "at" };
        let text = format!(
            "{formula} stays in the glass and is neither measured nor declared; it was taken as absent. Were it there {at} {}, \
             {} would read {} of itself {}. Declare its content.",
            percent_short(content),
            largest.0,
            percent_short(largest.1.abs()),
            if largest.1 < 0.0 { "lower" } else { "higher" }
        );
        findings.push(
            Finding::new(Code::ComponentNotDeclared, formula.text(), text).with_value(largest.1).with_bound(content),
        );
    }
    Ok(findings)
}

/// Components whose amount was taken from the composition that the sample was declared with.
fn from_sample(set: &CoefficientSet, result: &SampleResult) -> Vec<Finding> {
    let finding = |(component, content): (usize, f64)| {
        let formula = &set.components()[component];
        let text = format!(
            "{formula} was not measured; {} was taken from the declared composition of the sample.",
            percent_short(content)
        );
        Finding::new(Code::ComponentFromSample, formula.text(), text).with_value(content)
    };
    result.components_from_sample().into_iter().map(finding).collect()
}

/// What stays of additions and sample and is no component of the coefficients.
fn strangers(result: &SampleResult) -> Vec<Finding> {
    let finding = |(formula, content): (Formula, f64)| {
        let text = format!(
            "{formula}, {} of the sample's mass, stays in the glass and is no component of the coefficients: its absorption is \
             not counted.",
            percent_short(content)
        );
        Finding::new(Code::ComponentUnknown, formula.text(), text).with_value(content)
    };
    result.strangers().into_iter().filter(|(_, content)| *content > NOTABLE).map(finding).collect()
}

/// Contents outside the range of the coefficients; sized where the method holds a class to re-centre at.
fn beyond(
    method: &Method,
    set: &CoefficientSet,
    measurement: &Measurement,
    result: &SampleResult,
) -> Result<Vec<Finding>> {
    let stayed = result.stayed();
    let contents: Vec<(&str, f64)> = stayed.iter().map(|(species, content)| (species.as_str(), *content)).collect();
    let mut findings = set.check_range(&contents)?;
    if findings.is_empty() {
        return Ok(findings);
    }
    let ratio = result.melt().fused_flux_ratio().value();
    let fits =
        |other: &&CoefficientSet| other.label().name() != set.label().name() && other.holds_for(ratio, &contents);
    let Some(other) = method.coefficients().iter().find(fits) else { return Ok(findings) };
    let name = other.label().name();
    let asked = method.ask(result.melt(), &measurement.clone().of_class(name))?;
    // a bead that this class cannot solve stays unsized
    let Ok(again) = result.melt().solve(asked.order) else { return Ok(findings) };
    for finding in &mut findings {
        if let (Ok(plain), Ok(centred)) = (result.value(&finding.quantity), again.value(&finding.quantity)) {
            recentred(finding, name, centred - plain);
        }
    }
    Ok(findings)
}

/// What coefficients of a class that was made for such contents would change.
pub(crate) fn recentred(finding: &mut Finding, class: &str, change: f64) {
    finding.text = format!("{} Re-centred at {class} it changes by {}.", finding.text, percent_short(change));
    finding.u = Some(change.abs());
}

/// Contents of the glass beyond the standards of the calibration.
fn beyond_standards(method: &Method, result: &SampleResult) -> Vec<Finding> {
    let mut findings = Vec::new();
    for range in method.calibration().ranges() {
        let Some((content, u)) = result.glass_content(range.analyte.text()) else { continue };
        let (side, bound) = match (content > range.high, content < range.low) {
            (true, _) => ("above the top standard", range.high),
            // a standard without the analyte covers noise about zero
            (_, true) if range.low > 0.0 => ("below the lowest standard", range.low),
            _ => continue,
        };
        let text = format!(
            "{} {} in glass is {side} {}: the sensitivity was not tested there. Add a standard, or change the dilution.",
            range.analyte,
            percent_short(content),
            percent_short(bound)
        );
        let finding = Finding::new(Code::CalibrationExtrapolated, range.analyte.text(), text);
        let finding = finding.with_value(content).with_bound(bound);
        findings.push(match u {
            Some(u) => finding.with_u(u),
            None => finding,
        });
    }
    findings
}

/// Halogens whose L lines lie under lines that are asked for, where no overlap is held.
///
/// Br La 1.481 keV on Al Ka 1.486 keV, I Lb2 4.506 keV on Ti Ka 4.512 keV (public cross-section tables).
fn halides(method: &Method, result: &SampleResult) -> Result<Vec<Finding>> {
    const UNDER: [(&str, &str, &str, &str); 2] = [("Br", "Al Ka", "Al", "Al2O3"), ("I", "Ti Ka", "Ti", "TiO2")];
    let mut findings = Vec::new();
    for (halogen, line, element, analyte) in UNDER {
        let asked = result.species().iter().any(|species| method.line_of(species) == Some(line));
        let held = method
            .overlaps()
            .iter()
            .any(|overlap| overlap.on().as_str() == line && overlap.from().element().symbol() == halogen);
        if !asked || held {
            continue;
        }
        let content = halogen_in(result.melt(), halogen)?;
        if content <= 0.0 {
            continue;
        }
        let ratio = result.melt().dilution().value();
        let bias = content * ratio * crate::substance::factor(element, analyte, result.melt().weights())?.value();
        let text = format!(
            "{halogen} is in the bead ({} of the glass) and {analyte} is requested, but no overlap of {halogen} on {line} is held. \
             Bias up to {} {analyte}, if a gram of {halogen} counts there like a gram of {}. Measure a line of {halogen} and \
             take the factor from a bead without {analyte}.",
            percent_short(content),
            percent_short(bias),
            element
        );
        findings.push(Finding::new(Code::OverlapNotHeld, analyte, text).with_value(bias).with_bound(content));
    }
    Ok(findings)
}

/// The content of a halogen that additions left in the glass, g/g.
fn halogen_in(melt: &Melt, halogen: &str) -> Result<f64> {
    let glass = melt.glass()?;
    Ok(glass.get(halogen).and_then(|cell| cell.value()).map_or(0.0, |value| value.value()))
}
