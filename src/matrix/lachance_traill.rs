//! Coefficients as published in the form of Lachance and Traill, and their exact algebra to and from the loss-free form.

use crate::code::Code;
use crate::composition::unit::percent_short;
use crate::error::{Error, Result, finite, within};
use crate::matrix::coefficients::{CoefficientSet, Derivation, Influence, Label};
use crate::matrix::conditions::Conditions;

/// What makes up the whole beside the components, and so has a coefficient without having a content of its own.
///
/// ```
/// assert_ne!(beadchem::matrix::Closing::Flux, beadchem::matrix::Closing::Loss);
/// ```
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Closing {
    /// Contents are mass fractions of the glass, and the flux is the rest of it.
    Flux,
    /// Contents are per gram of sample at one fixed fused flux ratio, and the loss (signed) is the rest of the gram.
    Loss,
}

impl Closing {
    fn word(self) -> &'static str {
        match self {
            Self::Flux => "the flux",
            Self::Loss => "the loss",
        }
    }
}

/// Published coefficients `alpha_ij` of `C_i = R_i (1 + sum over j other than i of alpha_ij C_j)`, all contents adding up
/// to 1, with flux or loss as the closing component. The sensitivity of a row is R per intensity.
///
/// # Source
/// G. R. Lachance, R. J. Traill, Canadian Spectroscopy 1966, 11, 43 (from memory).
///
/// ```
/// use beadchem::matrix::{Closing, Conditions, Derivation, Influence, LachanceTraill, Label};
/// let published = LachanceTraill::new(
///     Closing::Loss,
///     Label::new("Al2O3 on Si", "1", "invented for this example")?,
///     Derivation::Monochromatic,
///     Conditions::new(5.0)?,
///     ["SiO2", "Al2O3"],
///     [(Influence::new("Si Ka", "SiO2", [0.0, 0.3181]), -0.1611)],
/// )?;
/// assert_eq!(format!("{:.4}", published.to_loss_free()?.row(0)[1]), "0.5712");
/// # Ok::<(), beadchem::Error>(())
/// ```
#[derive(Debug, Clone, PartialEq)]
pub struct LachanceTraill {
    closing: Closing,
    /// Its coefficients are the alphas, zero for the analyte itself.
    alphas: CoefficientSet,
    /// The coefficient of the closing component on each line.
    last: Vec<f64>,
    /// For each line the change of each coefficient, that of the closing component at the end.
    spread: Vec<Option<Vec<f64>>>,
}

impl LachanceTraill {
    /// Published rows, each with the coefficient of the closing component; that of the analyte on itself is 0.
    ///
    /// # Errors
    /// As [`CoefficientSet::new`]; `coefficients.form` where a coefficient of an analyte on itself is not 0, or a row
    /// carries uncertainties: in another form they would be correlated.
    ///
    /// ```
    /// use beadchem::matrix::{Closing, Conditions, Derivation, Influence, LachanceTraill, Label};
    /// let label = Label::new("sand", "1", "invented for this example")?;
    /// let row = [(Influence::new("Si Ka", "SiO2", [0.3]), -0.1)];
    /// let made_for = Conditions::new(5.0)?;
    /// assert!(LachanceTraill::new(Closing::Loss, label, Derivation::Stated, made_for, ["SiO2"], row).is_err());
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    pub fn new<'a>(
        closing: Closing,
        label: Label,
        derivation: Derivation,
        conditions: Conditions,
        components: impl IntoIterator<Item = &'a str>,
        rows: impl IntoIterator<Item = (Influence, f64)>,
    ) -> Result<Self> {
        let (rows, last): (Vec<Influence>, Vec<f64>) = rows.into_iter().unzip();
        for (row, &alpha) in rows.iter().zip(&last) {
            finite(&format!("Coefficient of {} on {}", closing.word(), row.line), alpha)?;
        }
        let alphas = CoefficientSet::new(label, derivation, conditions, components, rows)?;
        for (index, line) in alphas.lines.iter().enumerate() {
            let own = alphas.row(index)[line.analyte];
            if own != 0.0 {
                let detail = format!("The coefficient of {} on itself is {own}.", alphas.components[line.analyte]);
                let hint = "In this form an analyte has none: enter 0, or use the loss-free form.";
                return Err(form(detail, hint));
            }
        }
        refuse_u(&alphas)?;
        let spread = vec![None; last.len()];
        Ok(Self { closing, alphas, last, spread })
    }

    /// With the largest known change of each coefficient of a line over its range, that of the closing component last.
    /// Coefficients from pairs under a tube spectrum are not constant and need it.
    ///
    /// # Errors
    /// `line.name` for a line that is not there; `shape.mismatch`; `number.not-finite`; `number.out-of-range` below 0.
    ///
    /// ```
    /// # use beadchem::matrix::{Closing, Conditions, Derivation, Influence, LachanceTraill, Label};
    /// # let label = Label::new("sand", "1", "invented for this example")?;
    /// # let row = [(Influence::new("Si Ka", "SiO2", [0.0]), -0.1)];
    /// let made_for = Conditions::new(5.0)?.with_centroid("SiO2", 0.9)?;
    /// let kind = Derivation::Binary { content: 0.5 };
    /// let published = LachanceTraill::new(Closing::Loss, label, kind, made_for, ["SiO2"], row)?;
    /// let refused = published.with_spread("Si Ka", &[0.0, 0.02])?.to_loss_free().unwrap_err();
    /// assert!(refused.to_string().contains("up to 0.202 % of SiO2"));
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    pub fn with_spread(mut self, line: &str, changes: &[f64]) -> Result<Self> {
        let index = self.alphas.line_index(line)?;
        let width = self.alphas.components.len() + 1;
        if changes.len() != width {
            let hint = "One change for each component in their order, then that of the closing component.";
            return Err(Error::shape(&format!("Changes of the coefficients of {line}"), width, changes.len(), hint));
        }
        for &change in changes {
            let quantity = format!("Change of a coefficient of {line},");
            let hint = "It is the largest less the smallest value over the range.";
            within(&quantity, change, "", [0.0, f64::MAX], "0 and above", hint)?;
        }
        self.spread[index] = Some(changes.to_vec());
        Ok(self)
    }

    /// What closes the sum of the contents.
    ///
    /// ```
    /// # use beadchem::matrix::{Closing, Conditions, Derivation, Influence, LachanceTraill, Label};
    /// # let label = Label::new("sand", "1", "invented for this example")?;
    /// # let row = [(Influence::new("Si Ka", "SiO2", [0.0]), -0.1)];
    /// # let made_for = Conditions::new(5.0)?;
    /// let published = LachanceTraill::new(Closing::Loss, label, Derivation::Stated, made_for, ["SiO2"], row)?;
    /// assert_eq!(published.closing(), Closing::Loss);
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn closing(&self) -> Closing {
        self.closing
    }

    /// The coefficients of a line: those of the components in their order, then that of the closing component. Empty where
    /// there is no such line.
    ///
    /// ```
    /// # use beadchem::matrix::{Closing, Conditions, Derivation, Influence, LachanceTraill, Label};
    /// # let label = Label::new("sand", "1", "invented for this example")?;
    /// # let row = [(Influence::new("Si Ka", "SiO2", [0.0, 0.32]), -0.1)];
    /// # let made_for = Conditions::new(5.0)?;
    /// # let components = ["SiO2", "Al2O3"];
    /// let published = LachanceTraill::new(Closing::Loss, label, Derivation::Stated, made_for, components, row)?;
    /// assert_eq!(published.alphas(0), [0.0, 0.32, -0.1]);
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn alphas(&self, line: usize) -> Vec<f64> {
        self.alphas.row(line).iter().copied().chain(self.last.get(line).copied()).collect()
    }

    /// R per intensity of a line, where it is known.
    ///
    /// ```
    /// # use beadchem::matrix::{Closing, Conditions, Derivation, Influence, LachanceTraill, Label};
    /// # let label = Label::new("sand", "1", "invented for this example")?;
    /// let row = [(Influence::new("Si Ka", "SiO2", [0.0]).with_sensitivity(2e-9), -0.1)];
    /// # let made_for = Conditions::new(5.0)?;
    /// let published = LachanceTraill::new(Closing::Loss, label, Derivation::Stated, made_for, ["SiO2"], row)?;
    /// assert_eq!(published.sensitivity(0), Some(2e-9));
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn sensitivity(&self, line: usize) -> Option<f64> {
        self.alphas.lines.get(line)?.sensitivity
    }

    /// The loss-free form. With flux closing: `a_ij = (1 + alpha_ij) / ((1 + alpha_if) F0)`, the analyte's own with
    /// `alpha_ii = 0`. With loss closing: `a_ij = (alpha_ij - alpha_ie) / (1 + alpha_ie)`, the analyte's own included; this
    /// is exact at F0, and for other F as far as the range of the conditions was shown to hold.
    ///
    /// # Errors
    /// `coefficients.not-constant` for binary coefficients, with the error that the conversion would make at the centroid,
    /// unless every stated change is 0; `coefficients.centroid` where that error cannot be told for want of a content;
    /// `coefficients.form` where a line's `1 + alpha` of the closing component is not above 0.
    ///
    /// ```
    /// # use beadchem::matrix::{Closing, Conditions, Derivation, Influence, LachanceTraill, Label};
    /// # let label = Label::new("sand", "1", "invented for this example")?;
    /// # let row = [(Influence::new("Si Ka", "SiO2", [0.0]), -0.5)];
    /// # let made_for = Conditions::new(5.0)?;
    /// let published = LachanceTraill::new(Closing::Loss, label, Derivation::Stated, made_for, ["SiO2"], row)?;
    /// assert_eq!(published.to_loss_free()?.row(0), [1.0]);
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    pub fn to_loss_free(&self) -> Result<CoefficientSet> {
        self.refuse_changing()?;
        let reference = self.alphas.conditions.fused_flux_ratio;
        let mut rows = Vec::with_capacity(self.last.len());
        for (mut row, &last) in self.alphas.rows().zip(&self.last) {
            let whole = 1.0 + last;
            if whole <= 0.0 {
                let detail = format!("The coefficient of {} on {} is {last}.", self.closing.word(), row.line);
                return Err(form(detail, "That of the closing component is above -1."));
            }
            let (offset, scale) = match self.closing {
                Closing::Flux => (1.0, 1.0 / (whole * reference)),
                Closing::Loss => (-last, 1.0 / whole),
            };
            row.coefficients.iter_mut().for_each(|alpha| *alpha = (*alpha + offset) * scale);
            row.sensitivity = row.sensitivity.map(|k| match self.closing {
                Closing::Flux => k * whole * reference,
                Closing::Loss => k * whole,
            });
            rows.push(row);
        }
        let CoefficientSet { label, derivation, conditions, .. } = &self.alphas;
        CoefficientSet::new(label.clone(), *derivation, conditions.clone(), self.alphas.component_texts(), rows)
    }

    /// Refuses coefficients that are no constants, saying what the conversion would do.
    fn refuse_changing(&self) -> Result<()> {
        let Derivation::Binary { .. } = self.alphas.derivation else { return Ok(()) };
        let mut effects = Vec::new();
        for (index, line) in self.alphas.lines.iter().enumerate() {
            let Some(spread) = &self.spread[index] else {
                return Err(Error::Unstated {
                    code: Code::CoefficientsNotConstant,
                    quantity: format!("How far the binary coefficients of {} change over their range", line.line),
                    hint:
                        "Coefficients from pairs under a tube spectrum are not constant. State their spread to learn \
                           what a conversion would cost, or make loss-free coefficients directly."
                            .to_owned(),
                });
            };
            if spread.iter().any(|&change| change > 0.0) {
                let contents = self.contents()?;
                let product = |list: &[f64]| list.iter().zip(&contents).map(|(a, c)| a * c.abs()).sum::<f64>();
                let signed: f64 = self.alphas(index).iter().zip(&contents).map(|(a, c)| a * c).sum();
                let effect = product(spread) / (1.0 + signed).abs();
                effects.push(format!("{} of {}", percent_short(effect), self.alphas.components[line.analyte]));
            }
        }
        if effects.is_empty() {
            return Ok(());
        }
        Err(Error::Conflict {
            code: Code::CoefficientsNotConstant,
            detail: format!(
                "The coefficients {} change with composition; converted as constants they would falsify results by up to {}.",
                self.alphas.label.name(),
                effects.join(", ")
            ),
            hint: "Make loss-free coefficients directly, at the centroid of the class.".to_owned(),
        })
    }

    /// Contents of the components and of the closing one at the centroid, in the terms of this form.
    fn contents(&self) -> Result<Vec<f64>> {
        let conditions = &self.alphas.conditions;
        let mut contents = Vec::with_capacity(self.alphas.components.len() + 1);
        for component in self.alphas.component_texts() {
            contents.push(conditions.centroid_of(component).ok_or_else(|| Error::Unstated {
                code: Code::CoefficientsCentroid,
                quantity: format!("The content of {component} at the centroid"),
                hint: "It tells what coefficients that are not constant cost; state it for each component.".to_owned(),
            })?);
        }
        let sum: f64 = contents.iter().sum();
        match self.closing {
            Closing::Loss => contents.push(1.0 - sum),
            Closing::Flux => {
                contents.push(conditions.fused_flux_ratio);
                let glass = sum + conditions.fused_flux_ratio;
                contents.iter_mut().for_each(|content| *content /= glass);
            }
        }
        Ok(contents)
    }
}

impl CoefficientSet {
    /// The same equation in the form of Lachance and Traill: with flux closing `alpha_ij = a_ij/a_ii - 1` and
    /// `alpha_if = 1/(a_ii F0) - 1`; with loss closing, at F0 alone, `alpha_ij = (a_ij - a_ii)/(1 + a_ii)` and
    /// `alpha_ie = -a_ii/(1 + a_ii)`.
    ///
    /// # Errors
    /// `coefficients.form` where `a_ii` (flux) or `1 + a_ii` (loss) is not above 0, or where coefficients carry
    /// uncertainties: in another form they would be correlated.
    ///
    /// ```
    /// # use beadchem::matrix::{Closing, CoefficientSet, Conditions, Derivation, Influence, Label};
    /// # let label = Label::new("sand", "1", "invented for this example")?;
    /// # let row = [Influence::new("Si Ka", "SiO2", [0.25])];
    /// let set = CoefficientSet::new(label, Derivation::Centroid, Conditions::new(5.0)?, ["SiO2"], row)?;
    /// assert_eq!(set.to_lachance_traill(Closing::Loss)?.alphas(0), [0.0, -0.2]);
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    pub fn to_lachance_traill(&self, closing: Closing) -> Result<LachanceTraill> {
        refuse_u(self)?;
        let reference = self.conditions.fused_flux_ratio;
        let mut rows = Vec::with_capacity(self.lines.len());
        for (mut row, line) in self.rows().zip(&self.lines) {
            let own = row.coefficients[line.analyte];
            let whole = match closing {
                Closing::Flux => own,
                Closing::Loss => 1.0 + own,
            };
            if whole <= 0.0 {
                let detail = format!("The coefficient of {} on itself is {own}.", self.components[line.analyte]);
                let hint = "With the flux in the sum it is above 0, with the loss above -1.";
                return Err(form(detail, hint));
            }
            row.coefficients.iter_mut().for_each(|a| *a = (*a - own) / whole);
            row.sensitivity = row.sensitivity.map(|k| k * whole);
            let last = match closing {
                Closing::Flux => 1.0 / (own * reference) - 1.0,
                Closing::Loss => -own / whole,
            };
            rows.push((row, last));
        }
        let (label, conditions) = (self.label.clone(), self.conditions.clone());
        LachanceTraill::new(closing, label, self.derivation, conditions, self.component_texts(), rows)
    }
}

fn form(detail: String, hint: &str) -> Error {
    Error::Conflict { code: Code::CoefficientsForm, detail, hint: hint.to_owned() }
}

fn refuse_u(set: &CoefficientSet) -> Result<()> {
    match set.u.iter().position(Option::is_some) {
        None => Ok(()),
        Some(index) => Err(form(
            format!("The coefficients of {} carry uncertainties.", set.lines[index].line),
            "Between this form and the loss-free one they become correlated; take them off with without_u first.",
        )),
    }
}
