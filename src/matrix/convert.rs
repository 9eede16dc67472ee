//! Other ways to write the same loss-free coefficients. Each is exact: the equation gives the same contents as before.

use crate::code::Code;
use crate::error::{Error, Result};
use crate::matrix::coefficients::{CoefficientSet, Influence};
use crate::substance::{Element, Formula, Weights, carrier, factor_of};

impl CoefficientSet {
    /// The same equation with another reference ratio: `a' = a F0/F0'`, `k' = k F0'/F0`. The range in F stays.
    ///
    /// # Errors
    /// `number.not-finite`; `number.out-of-range` where the new reference is not in the range of the set.
    ///
    /// ```
    /// # use beadchem::matrix::{CoefficientSet, Conditions, Derivation, Influence, Label};
    /// # let label = Label::new("sand", "1", "invented for this example")?;
    /// # let row = [Influence::new("Si Ka", "SiO2", [0.28])];
    /// let made_for = Conditions::new(5.0)?.with_range(4.0, 10.0)?;
    /// let set = CoefficientSet::new(label, Derivation::Fitted, made_for, ["SiO2"], row)?;
    /// assert_eq!(set.referred_to(10.0)?.row(0), [0.14]);
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    pub fn referred_to(&self, fused_flux_ratio: f64) -> Result<Self> {
        let conditions = self.conditions.clone().referred_to(fused_flux_ratio)?;
        let factor = self.conditions.fused_flux_ratio / fused_flux_ratio;
        let rows = self.rows().map(|row| Influence {
            coefficients: row.coefficients.iter().map(|a| a * factor).collect(),
            u: row.u.map(|u| u.iter().map(|u| u * factor).collect()),
            sensitivity: row.sensitivity.map(|k| k / factor),
            ..row
        });
        Self::new(self.label.clone(), self.derivation, conditions, self.component_texts(), rows)
    }

    /// The same equation with one component written as another formula of its element, such as Fe2O3 as Fe: with `f` grams
    /// of the new from one gram of the old, `a' = a/f`, and `k' = k f` where it is the analyte. The centroid and the range
    /// of the component follow.
    ///
    /// The atomic weights are taken as exact: their uncertainty is far below that of any coefficient.
    ///
    /// # Errors
    /// Those of [`Formula::parse`]; `species.unknown`; `species.doubled` where the new formula is a component already;
    /// `coefficients.form` where the new formula holds an element that the old one does not, oxygen and hydrogen aside;
    /// those of [`factor`](crate::substance::factor).
    ///
    /// ```
    /// # use beadchem::{matrix::{CoefficientSet, Conditions, Derivation, Influence, Label}, substance::Weights};
    /// # let label = Label::new("ore", "1", "invented for this example")?;
    /// # let row = [Influence::new("Fe Ka", "Fe2O3", [0.20])];
    /// let set = CoefficientSet::new(label, Derivation::Fitted, Conditions::new(5.0)?, ["Fe2O3"], row)?;
    /// let iron = set.with_component_as("Fe2O3", "Fe", &Weights::ciaaw_2024())?;
    /// assert_eq!(format!("{:.4}", iron.row(0)[0]), "0.2859"); // 0.20 / 0.69943
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    pub fn with_component_as(&self, component: &str, written_as: &str, weights: &Weights) -> Result<Self> {
        let place = self.component_index(component)?;
        let (old, new) = (&self.components[place], Formula::parse(written_as)?);
        let refused = |detail: String| Error::Conflict {
            code: Code::CoefficientsForm,
            detail,
            hint:
                "A component is written as another formula of its own element; another substance needs coefficients of \
                   its own."
                    .to_owned(),
        };
        if let Some(foreign) = brought(old, &new) {
            return Err(refused(format!("{new} holds {}, {old} does not.", foreign.symbol())));
        }
        let (element, _) = carrier(old, &new, None)?;
        if element == Element::O {
            return Err(refused(format!("{old} and {new} share oxygen alone.")));
        }
        let factor = factor_of(old, &new, element, weights)?.value();
        let mut conditions = self.conditions.clone();
        for (formula, content) in conditions.centroid.iter_mut().filter(|(formula, _)| formula == old) {
            (*formula, *content) = (new.clone(), *content * factor);
        }
        for (formula, (low, high)) in conditions.content_ranges.iter_mut().filter(|(formula, _)| formula == old) {
            (*formula, *low, *high) = (new.clone(), *low * factor, *high * factor);
        }
        let rows = self.rows().zip(&self.lines).map(|(mut row, line)| {
            row.coefficients[place] /= factor;
            if let Some(u) = &mut row.u {
                u[place] /= factor;
            }
            if line.analyte == place {
                row.analyte = new.text().to_owned();
                row.sensitivity = row.sensitivity.map(|k| k * factor);
            }
            row
        });
        let components =
            self.component_texts().enumerate().map(|(at, text)| if at == place { new.text() } else { text });
        Self::new(self.label.clone(), self.derivation, conditions, components, rows)
    }
}

/// An element other than oxygen and hydrogen that only the new formula holds.
fn brought(old: &Formula, new: &Formula) -> Option<Element> {
    let foreign = |element: &Element| ![Element::O, Element::H].contains(element) && old.count(*element) <= 0.0;
    new.atoms().iter().map(|(element, _)| *element).find(foreign)
}
