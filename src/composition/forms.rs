//! One element in several forms: a total and some forms of it, determined apart, and what is left as the last form.

use crate::code::Code;
use crate::composition::unit::percent_text;
use crate::composition::{Composition, Unit};
use crate::error::{Error, Result};
use crate::scalar::Scalar;
use crate::substance::{Element, Formula, Weights, is_weight, places, sum_of_weights, weight_estimate, weight_name};
use crate::uncertainty::{Estimate, Inputs, Model, Propagated, propagate_plain};

/// A declared set of forms of one element, no atom in two of them.
///
/// Iron by total and titrated FeO, manganese by total and MnO2 from available oxygen: the last form is what is left.
///
/// ```
/// use beadchem::{composition::ElementForms, substance::Weights};
/// let iron = ElementForms::split("Fe2O3", 0.9794, &[("FeO", 0.26.into())], "Fe2O3", &Weights::ciaaw_2024())?;
/// assert_eq!(format!("{:.3}", iron.value("Fe2O3")?), "0.690"); // ferric iron alone
/// assert_eq!(format!("{:.4}", iron.total_as("Fe", &Weights::ciaaw_2024())?.value()), "0.6850");
/// # Ok::<(), beadchem::Error>(())
/// ```
#[derive(Debug, Clone)]
pub struct ElementForms {
    element: Element,
    forms: Vec<Formula>,
    propagated: Propagated,
}

/// `forms[k] = x[k]` for those determined, and the rest as the last form where a total is given.
struct Split {
    /// Atoms of each form and of the total, in places of the inputs; atoms of the element in each.
    parts: Vec<(Vec<(usize, f64)>, f64)>,
    total: Option<(Vec<(usize, f64)>, f64)>,
    rest: (Vec<(usize, f64)>, f64),
    given: usize,
}

impl Split {
    /// Moles of the element per gram, from a content.
    #[inline(always)]
    fn moles<S: Scalar>((atoms, count): &(Vec<(usize, f64)>, f64), content: S, x: &[S]) -> S {
        content * *count / sum_of_weights(atoms, x)
    }
}

impl Model for Split {
    fn outputs(&self) -> usize {
        self.parts.len() + usize::from(self.total.is_some())
    }
    #[inline(always)]
    fn evaluate<S: Scalar>(&self, x: &[S], out: &mut [S], _: &mut [S]) {
        out[..self.parts.len()].copy_from_slice(&x[..self.parts.len()]);
        if let Some(total) = &self.total {
            let mut left = Self::moles(total, x[self.given - 1], x);
            for (part, &content) in self.parts.iter().zip(x) {
                left = left - Self::moles(part, content, x);
            }
            out[self.parts.len()] = left * sum_of_weights(&self.rest.0, x) / self.rest.1;
        }
    }
}

impl ElementForms {
    /// From a total, written as some species of the element, and the forms determined apart, all in g/g; what is left
    /// becomes `rest`: `w(rest) = w(total) f(total) - sum w(form) f(form)`, f the factors to `rest`.
    ///
    /// # Errors
    /// `forms.impossible` where the forms need more than the total by more than 3 u (or at all, with u not stated);
    /// `factor.no-common-element` where the species are not of one element; those of [`Formula::parse`].
    ///
    /// # Source
    /// Stoichiometry.
    ///
    /// ```
    /// use beadchem::{composition::ElementForms, substance::Weights};
    /// let refused = ElementForms::split("Fe2O3", 0.979, &[("FeO", 0.95.into())], "Fe2O3", &Weights::ciaaw_2024());
    /// let text = refused.unwrap_err().to_string();
    /// assert!(text.starts_with("FeO 95 % needs 105.6 % Fe2O3(T); only 97.9 % is there. One of the two is wrong."));
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    pub fn split(
        total: &str,
        content: impl Into<Estimate>,
        parts: &[(&str, Estimate)],
        rest: &str,
        weights: &Weights,
    ) -> Result<Self> {
        let total = (Formula::parse(total)?, content.into());
        Self::build(Some((&total.0, total.1, Formula::parse(rest)?)), parts, weights)
    }

    /// From forms that were all determined, in g/g.
    ///
    /// # Errors
    /// `charge.incomplete` without a form; `factor.no-common-element` where they are not of one element.
    ///
    /// ```
    /// use beadchem::{composition::ElementForms, substance::Weights};
    /// let weights = Weights::ciaaw_2024();
    /// let iron = ElementForms::apart(&[("Fe", 0.02.into()), ("FeO", 0.10.into()), ("Fe2O3", 0.05.into())], &weights)?;
    /// assert_eq!(iron.species(), ["Fe", "FeO", "Fe2O3"]);
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    pub fn apart(parts: &[(&str, Estimate)], weights: &Weights) -> Result<Self> {
        Self::build(None, parts, weights)
    }

    fn build(
        total: Option<(&Formula, Estimate, Formula)>,
        parts: &[(&str, Estimate)],
        weights: &Weights,
    ) -> Result<Self> {
        let mut forms = parts.iter().map(|(species, _)| Formula::parse(species)).collect::<Result<Vec<_>>>()?;
        let first = total.as_ref().map(|(species, ..)| *species).or(forms.first()).cloned();
        let first = first.ok_or_else(|| Error::Unstated {
            code: Code::ChargeIncomplete,
            quantity: "Any form of the element".to_owned(),
            hint: "Give a total, or the forms determined.".to_owned(),
        })?;
        let element = first.key().ok_or_else(|| not_one(&first, &first))?;
        let mut inputs = Inputs::new();
        for (form, (_, content)) in forms.iter().zip(parts) {
            inputs.push(form.text(), content.clone())?;
        }
        if let Some((species, content, rest)) = &total {
            inputs.push(format!("total {species}"), content.clone())?;
            forms.push(rest.clone());
        }
        for form in &forms {
            if form.key() != Some(element) {
                return Err(not_one(&first, form));
            }
        }
        let given = inputs.len();
        let mut elements = Vec::new();
        let mut atoms = |form: &Formula| {
            let places = places(form, &mut elements).into_iter().map(|(place, count)| (place + given, count)).collect();
            (places, form.count(element))
        };
        let rest = atoms(forms.last().unwrap_or(&first));
        let model = Split {
            parts: forms[..parts.len()].iter().map(&mut atoms).collect(),
            total: total.as_ref().map(|(species, ..)| atoms(species)),
            rest,
            given,
        };
        for element in elements {
            inputs.push(weight_name(element), weight_estimate(element, weights)?)?;
        }
        let propagated = propagate_plain(&model, &inputs)?.bounded()?;
        if let Some((species, content, _)) = &total {
            let (left, u) = (propagated.value(parts.len()), propagated.u(parts.len()));
            const K: f64 = 3.0;
            if left < -K * u {
                let needed =
                    Self { element, forms: forms[..parts.len()].to_vec(), propagated }.sum_as(species, weights)?;
                let said: Vec<String> =
                    parts.iter().map(|(form, content)| format!("{form} {}", percent_text(content.value()))).collect();
                return Err(Error::Conflict {
                    code: Code::FormsImpossible,
                    detail: format!(
                        "{} needs {:.1} {} {species}(T); only {} is there.",
                        said.join(" and "),
                        Unit::Percent.written(needed.value()),
                        Unit::Percent.word(),
                        percent_text(content.value())
                    ),
                    hint: "One of the two is wrong. Were they found on one basis, and in one portion?".to_owned(),
                });
            }
        }
        Ok(Self { element, forms, propagated })
    }

    fn sum_as(&self, species: &Formula, weights: &Weights) -> Result<Estimate> {
        let mut combination = vec![0.0; self.propagated.values().len()];
        for (slot, form) in combination.iter_mut().zip(&self.forms) {
            *slot = crate::substance::factor_of(form, species, self.element, weights)?.value();
        }
        self.propagated.combination(&combination)?.estimate(0)
    }

    /// All forms together written as one species, with the covariance of the forms: the element under one convention.
    ///
    /// # Errors
    /// `factor.no-common-element` where the species does not hold the element.
    ///
    /// ```
    /// use beadchem::{composition::ElementForms, substance::Weights, uncertainty::Estimate};
    /// let weights = Weights::ciaaw_2024();
    /// let ferrous = Estimate::new(0.26, 0.002)?;
    /// let iron = ElementForms::split("Fe2O3", Estimate::new(0.9794, 0.001)?, &[("FeO", ferrous)], "Fe2O3", &weights)?;
    /// let back = iron.total_as("Fe2O3", &weights)?;
    /// assert!((back.value() - 0.9794).abs() < 1e-12 && (back.u().unwrap() - 0.001).abs() < 1e-6); // FeO cancels
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    pub fn total_as(&self, species: &str, weights: &Weights) -> Result<Estimate> {
        self.sum_as(&Formula::parse(species)?, weights)
    }

    /// The forms in order.
    ///
    /// ```
    /// # use beadchem::{composition::ElementForms, substance::Weights};
    /// let manganese = ElementForms::split("Mn", 0.482, &[("MnO2", 0.70.into())], "MnO", &Weights::ciaaw_2024())?;
    /// assert_eq!(manganese.species(), ["MnO2", "MnO"]);
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn species(&self) -> Vec<&str> {
        self.forms.iter().map(Formula::text).collect()
    }

    fn place(&self, species: &str) -> Result<usize> {
        self.forms.iter().position(|form| form.text() == species).ok_or_else(|| Error::Unknown {
            code: Code::SpeciesUnknown,
            what: "Form".to_owned(),
            given: species.to_owned(),
            hint: format!("The forms are: {}.", self.species().join(", ")),
        })
    }

    /// The content of a form, g/g.
    ///
    /// # Errors
    /// `species.unknown`.
    ///
    /// ```
    /// # use beadchem::{composition::ElementForms, substance::Weights};
    /// let iron = ElementForms::split("Fe", 0.685, &[("FeO", 0.26.into())], "Fe2O3", &Weights::ciaaw_2024())?;
    /// assert_eq!(format!("{:.4}", iron.value("Fe2O3")?), "0.6904");
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    pub fn value(&self, species: &str) -> Result<f64> {
        Ok(self.propagated.value(self.place(species)?))
    }

    /// Its standard uncertainty, g/g.
    ///
    /// # Errors
    /// `species.unknown`.
    ///
    /// ```
    /// # use beadchem::{composition::ElementForms, substance::Weights, uncertainty::Estimate};
    /// let ferrous = [("FeO", Estimate::new(0.26, 0.002)?)];
    /// let iron = ElementForms::split("Fe", Estimate::exact(0.685)?, &ferrous, "Fe2O3", &Weights::ciaaw_2024())?;
    /// assert!((iron.u("Fe2O3")? - 1.11135 * 0.002).abs() < 1e-5);
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    pub fn u(&self, species: &str) -> Result<f64> {
        Ok(self.propagated.u(self.place(species)?))
    }

    /// Adds the forms to a composition, each declared as a form of its own; their covariance goes with them.
    ///
    /// # Errors
    /// `species.element-twice` where the composition holds the element already.
    ///
    /// ```
    /// use beadchem::{composition::{Basis, Composition, ElementForms}, substance::Weights};
    /// let iron = ElementForms::split("Fe2O3", 0.9794, &[("FeO", 0.26.into())], "Fe2O3", &Weights::ciaaw_2024())?;
    /// let ore = iron.added_to(Composition::new(Basis::Dried).with("SiO2", 0.0245)?)?;
    /// assert_eq!(ore.entries().len(), 3);
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    pub fn added_to(&self, composition: Composition) -> Result<Composition> {
        self.forms.iter().enumerate().try_fold(composition, |composition, (place, form)| {
            // what two forms share of an input goes with both
            let name = |input: usize| {
                let input = self.propagated.inputs().get(input)?;
                (!is_weight(&input.name)).then(|| format!("{} (forms of {})", input.name, self.element.name()))
            };
            composition.with_form(form.text(), self.propagated.with_causes(place, name)?)
        })
    }
}

fn not_one(first: &Formula, second: &Formula) -> Error {
    Error::Conflict {
        code: Code::FactorNoCommonElement,
        detail: format!("{first} and {second} are not forms of one element."),
        hint: "Forms of one element are the element itself or its oxides.".to_owned(),
    }
}
