//! Whether a bead is one that the coefficients were made for.

use crate::code::Code;
use crate::composition::unit::percent_short;
use crate::error::{Error, Result, finite, within};
use crate::finding::Finding;
use crate::matrix::coefficients::CoefficientSet;
use crate::matrix::conditions::{as_shares, ratio, same_atoms, shown};
use crate::substance::Formula;

/// Shares of a flux are stated to 0.1 %; half of that is rounding.
const SAME_SHARE: f64 = 5e-4;

impl CoefficientSet {
    /// Holds a bead against the fused flux ratio and the flux of this set; `blend` in parts by mass, empty where it is not
    /// known.
    ///
    /// A blend that differs gives one finding, `coefficients.flux-blend`, with the shares of both.
    ///
    /// # Errors
    /// `coefficients.flux-ratio` where the ratio lies outside the range of the set: every result would be wrong.
    /// `number.not-finite`; `number.out-of-range` for a ratio or a part not above 0.
    ///
    /// ```
    /// # use beadchem::matrix::{CoefficientSet, Conditions, Derivation, Influence, Label};
    /// # let label = Label::new("sand", "1", "invented for this example")?;
    /// # let row = [Influence::new("Si Ka", "SiO2", [0.14])];
    /// let made_for = Conditions::new(10.0)?.with_range(8.5, 11.5)?;
    /// let set = CoefficientSet::new(label, Derivation::Fitted, made_for, ["SiO2"], row)?;
    /// let refused = set.check_conditions(8.0, &[], "B-417").unwrap_err();
    /// let said = "Coefficients sand were made for F 10.0 +- 1.5; bead B-417 has F 8.0.";
    /// assert!(refused.to_string().starts_with(said));
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    pub fn check_conditions(
        &self,
        fused_flux_ratio: f64,
        blend: &[(Formula, f64)],
        bead: &str,
    ) -> Result<Vec<Finding>> {
        ratio(&format!("Fused flux ratio of bead {bead},"), fused_flux_ratio)?;
        for (species, part) in blend {
            let hint = "A part of a flux is above zero; leave out what is not in it.";
            within(&format!("Part of {species} in the flux,"), *part, "", [f64::MIN_POSITIVE, 1e9], "above 0", hint)?;
        }
        let (low, high) = self.conditions.range;
        if fused_flux_ratio < low || fused_flux_ratio > high {
            return Err(Error::Conflict {
                code: Code::CoefficientsFluxRatio,
                detail: format!(
                    "Coefficients {} were made for F {}; bead {bead} has F {}.",
                    self.label.name(),
                    self.range_text(),
                    shown(fused_flux_ratio)
                ),
                hint: "Make coefficients for that F, or widen the stated range where they were shown to hold; was another \
                       charge weighed than the method asks for?"
                    .to_owned(),
            });
        }
        Ok(self.other_blend(blend, bead).into_iter().collect())
    }

    /// "10.0 +- 1.5", or both ends where they are not alike.
    fn range_text(&self) -> String {
        let (low, high) = self.conditions.range;
        let reference = self.conditions.fused_flux_ratio;
        let (below, above) = (shown(reference - low), shown(high - reference));
        match (below == above, high > low) {
            (_, false) => format!("{} alone", shown(reference)),
            (true, true) => format!("{} +- {below}", shown(reference)),
            (false, true) => format!("{} ({} to {})", shown(reference), shown(low), shown(high)),
        }
    }

    fn other_blend(&self, blend: &[(Formula, f64)], bead: &str) -> Option<Finding> {
        let made_for = &self.conditions.blend;
        if made_for.is_empty() || blend.is_empty() {
            return None;
        }
        let used = as_shares(blend);
        let share = |list: &[(Formula, f64)], species: &Formula| -> f64 {
            list.iter().filter(|(known, _)| same_atoms(known, species)).map(|(_, share)| share).sum()
        };
        let apart = |species: &Formula| (share(&used, species) - share(made_for, species)).abs();
        let largest = used.iter().chain(made_for).map(|(species, _)| apart(species)).fold(0.0, f64::max);
        if largest <= SAME_SHARE {
            return None;
        }
        let text = format!(
            "Coefficients {} were made for a flux of {}; bead {bead} was fused with {}. Use the flux they were made for, \
             or make coefficients for this one.",
            self.label.name(),
            shares(made_for),
            shares(&used)
        );
        Some(Finding::new(Code::CoefficientsBlend, bead, text).with_value(largest))
    }

    /// Holds contents, g per g of sample as weighed, against the ranges of this set: one finding,
    /// `coefficients.outside-range`, for each that lies outside, with the end of the range as its bound.
    ///
    /// How much an extrapolation may cost depends on the class and is left to the caller. A component without a stated
    /// range gives no finding.
    ///
    /// # Errors
    /// `species.unknown` for what is no component of the set; `number.not-finite`.
    ///
    /// ```
    /// # use beadchem::matrix::{CoefficientSet, Conditions, Derivation, Influence, Label};
    /// # let label = Label::new("sand", "1", "invented for this example")?;
    /// # let row = [Influence::new("Si Ka", "SiO2", [0.14])];
    /// let made_for = Conditions::new(10.0)?.with_content_range("SiO2", 0.9, 1.0)?;
    /// let set = CoefficientSet::new(label, Derivation::Fitted, made_for, ["SiO2"], row)?;
    /// assert_eq!(set.check_range(&[("SiO2", 0.72)])?[0].bound, Some(0.9));
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    pub fn check_range(&self, contents: &[(&str, f64)]) -> Result<Vec<Finding>> {
        let mut findings = Vec::new();
        for &(component, content) in contents {
            let place = self.component_index(component)?;
            finite(&format!("Content of {component}"), content)?;
            let formula = &self.components[place];
            let Some((low, high)) = self.conditions.range_of(formula) else { continue };
            let (bound, side) = match (content < low - AT_BOUND, content > high + AT_BOUND) {
                (true, _) => (low, "below"),
                (_, true) => (high, "above"),
                _ => continue,
            };
            let text = format!(
                "{formula} {} is {side} {} to {}, for which coefficients {} were made. Make coefficients at this content, \
                 or take those of its class.",
                percent_short(content),
                percent_short(low),
                percent_short(high),
                self.label.name()
            );
            let finding = Finding::new(Code::CoefficientsOutside, formula.text(), text);
            findings.push(finding.with_value(content).with_bound(bound));
        }
        Ok(findings)
    }

    /// Whether it was made for such a fused flux ratio and such contents.
    pub(crate) fn holds_for(&self, fused_flux_ratio: f64, contents: &[(&str, f64)]) -> bool {
        let (low, high) = self.conditions.range;
        let inside = self.check_range(contents).is_ok_and(|outside| outside.is_empty());
        low <= fused_flux_ratio && fused_flux_ratio <= high && inside
    }
}

/// A content this near a bound stands at it, g/g: less than any balance tells apart.
pub(crate) const AT_BOUND: f64 = 1e-9;

/// "35 % Li2B4O7, 65 % LiBO2".
fn shares(blend: &[(Formula, f64)]) -> String {
    let part = |(species, share): &(Formula, f64)| format!("{} {species}", percent_short(*share));
    blend.iter().map(part).collect::<Vec<_>>().join(", ")
}
