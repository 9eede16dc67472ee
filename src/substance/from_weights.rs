//! Numbers that follow from atomic weights alone: molar masses, conversion factors, oxygen equivalents.

use crate::code::Code;
use crate::error::{Error, Result};
use crate::finding::Finding;
use crate::scalar::Scalar;
use crate::substance::{Element, Formula, Weight, Weights};
use crate::uncertainty::{Budget, Estimate, Inputs, Model, Propagated, propagate_plain};

/// A number computed from atomic weights, with its uncertainty, its parts, and the table it came from.
///
/// ```
/// use beadchem::substance::{Weights, factor};
/// let factor = factor("Al", "Al2O3", &Weights::ciaaw_2024())?;
/// assert_eq!(format!("{:.5}", factor.value()), "1.88944");
/// assert_eq!(factor.weights_version(), "CIAAW 2024");
/// # Ok::<(), beadchem::Error>(())
/// ```
#[derive(Debug, Clone)]
pub struct FromWeights {
    propagated: Propagated,
    version: String,
    findings: Vec<Finding>,
}

impl FromWeights {
    fn compute<M: Model>(model: &M, elements: &[Element], weights: &Weights) -> Result<Self> {
        let mut inputs = Inputs::new();
        let mut findings = Vec::new();
        for &element in elements {
            inputs.push(weight_name(element), weight_estimate(element, weights)?)?;
        }
        findings.extend(interval_note(elements, weights)?);
        let propagated = propagate_plain(model, &inputs)?;
        Ok(Self { propagated, version: weights.version_name().to_owned(), findings })
    }

    /// The number.
    ///
    /// ```
    /// use beadchem::substance::{Weights, molar_mass};
    /// assert_eq!(format!("{:.3}", molar_mass("CaCO3", &Weights::ciaaw_2024())?.value()), "100.086");
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn value(&self) -> f64 {
        self.propagated.value(0)
    }

    /// Its standard uncertainty; nothing where an atomic weight has none stated.
    ///
    /// ```
    /// use beadchem::substance::{Weights, molar_mass};
    /// assert!(molar_mass("CaCO3", &Weights::ciaaw_2024())?.u().unwrap() < 0.003);
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn u(&self) -> Option<f64> {
        self.propagated.unstated(0).is_empty().then(|| self.propagated.u(0))
    }

    /// Value and uncertainty as one input for further calculation.
    ///
    /// # Errors
    /// None for a number that could be computed; kept fallible for the constructor.
    ///
    /// ```
    /// use beadchem::substance::{Weights, factor};
    /// assert!(factor("Fe", "FeO", &Weights::ciaaw_2024())?.estimate()?.u().is_some());
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    pub fn estimate(&self) -> Result<Estimate> {
        self.propagated.estimate(0)
    }

    /// Which atomic weights its uncertainty comes from.
    ///
    /// ```
    /// use beadchem::substance::{Weights, factor};
    /// let budget = factor("CaO", "CaCO3", &Weights::ciaaw_2024())?.budget();
    /// assert_eq!(budget.rows()[0].name, "atomic weight of Ca");
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn budget(&self) -> Budget {
        self.propagated.budget(0)
    }

    /// The version of the atomic weights.
    ///
    /// ```
    /// use beadchem::substance::{Weights, molar_mass};
    /// assert_eq!(molar_mass("SiO2", &Weights::ciaaw_2021())?.weights_version(), "CIAAW 2021");
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn weights_version(&self) -> &str {
        &self.version
    }

    /// Notes: elements used with their conventional weight.
    ///
    /// ```
    /// use beadchem::substance::{Weights, molar_mass};
    /// let notes = molar_mass("Li2B4O7", &Weights::ciaaw_2024())?;
    /// assert_eq!(notes.findings()[0].quantity, "Li, B, O"); // no single natural weight
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn findings(&self) -> &[Finding] {
        &self.findings
    }
}

/// The name under which an atomic weight is an input, the same everywhere.
pub(crate) fn weight_name(element: Element) -> String {
    format!("atomic weight of {}", element.symbol())
}

/// Whether an input is an atomic weight, by its name.
pub(crate) fn is_weight(name: &str) -> bool {
    name.starts_with("atomic weight of ")
}

/// An atomic weight as an input: rectangular, as the tables quote it.
pub(crate) fn weight_estimate(element: Element, weights: &Weights) -> Result<Estimate> {
    let weight = weights.get(element.symbol())?.weight;
    match weight.standard_uncertainty() {
        Some(u) => Estimate::new(weight.value(), u)?.distributed(crate::uncertainty::Distribution::Rectangular),
        None => Estimate::unstated(weight.value()),
    }
}

/// One note for all elements that have no single natural weight.
pub(crate) fn interval_note(elements: &[Element], weights: &Weights) -> Result<Option<Finding>> {
    let mut varying = Vec::new();
    for element in elements {
        if matches!(weights.get(element.symbol())?.weight, Weight::Interval { .. }) {
            varying.push(element.symbol());
        }
    }
    let list = varying.join(", ");
    let text = format!("Conventional atomic weights were used for {list}; natural material varies, and u covers it.");
    Ok((!varying.is_empty()).then(|| Finding::new(Code::WeightsInterval, list, text)))
}

/// `sum n A` over the atoms of a formula; `weight` gives the atomic weight of the n-th atom in the list.
#[inline(always)]
pub(crate) fn sum_of_weights<S: Scalar>(atoms: &[(usize, f64)], weights: &[S]) -> S {
    let mut sum = S::constant(0.0);
    for &(index, count) in atoms {
        sum = sum + weights[index] * count;
    }
    sum
}

/// The atoms of a formula as places in a list of elements, which grows where it lacks one.
pub(crate) fn places(formula: &Formula, elements: &mut Vec<Element>) -> Vec<(usize, f64)> {
    formula
        .atoms()
        .iter()
        .map(|&(element, count)| {
            let index = elements.iter().position(|known| *known == element).unwrap_or_else(|| {
                elements.push(element);
                elements.len() - 1
            });
            (index, count)
        })
        .collect()
}

struct MolarMass(Vec<(usize, f64)>);

impl Model for MolarMass {
    fn outputs(&self) -> usize {
        1
    }
    #[inline(always)]
    fn evaluate<S: Scalar>(&self, weights: &[S], out: &mut [S], _: &mut [S]) {
        out[0] = sum_of_weights(&self.0, weights);
    }
}

/// Molar mass in g/mol: `M = sum n A`, n atoms of weight A. The uncertainty of one element's weight counts n times.
///
/// # Errors
/// Those of [`Formula::parse`]; `weights.unknown`.
///
/// # Source
/// Equation: definition. Uncertainty: EURACHEM/CITAC QUAM:2012, example A2.
///
/// ```
/// use beadchem::substance::{Weights, molar_mass};
/// assert_eq!(format!("{:.3}", molar_mass("Li2B4O7", &Weights::ciaaw_2024())?.value()), "169.113");
/// # Ok::<(), beadchem::Error>(())
/// ```
pub fn molar_mass(formula: &str, weights: &Weights) -> Result<FromWeights> {
    let formula = Formula::parse(formula)?;
    let mut elements = Vec::new();
    let atoms = places(&formula, &mut elements);
    let mut result = FromWeights::compute(&MolarMass(atoms), &elements, weights)?;
    result.findings.splice(0..0, formula.findings().iter().cloned());
    Ok(result)
}

struct Conversion {
    from: Vec<(usize, f64)>,
    to: Vec<(usize, f64)>,
    ratio: f64,
}

impl Model for Conversion {
    fn outputs(&self) -> usize {
        1
    }
    #[inline(always)]
    fn evaluate<S: Scalar>(&self, weights: &[S], out: &mut [S], _: &mut [S]) {
        out[0] = sum_of_weights(&self.to, weights) / sum_of_weights(&self.from, weights) * self.ratio;
    }
}

/// The element by which one substance is converted to another, and how many of the second one of the first makes.
pub(crate) fn carrier(from: &Formula, to: &Formula, via: Option<Element>) -> Result<(Element, f64)> {
    let shared: Vec<Element> = from.atoms().iter().map(|(e, _)| *e).filter(|e| to.count(*e) > 0.0).collect();
    let not_oxygen: Vec<Element> = shared.iter().copied().filter(|e| *e != Element::O).collect();
    let element = match (via, not_oxygen.as_slice(), shared.as_slice()) {
        (Some(via), _, _) if shared.contains(&via) => via,
        (None, [one], _) => *one,
        // oxygen alone leads from one substance to another only where one of them is oxygen
        (None, [], [oxygen]) if from.atoms().len() == 1 || to.atoms().len() == 1 => *oxygen,
        (None, [_, ..], _) => {
            let names: Vec<&str> = not_oxygen.iter().map(|e| e.symbol()).collect();
            return Err(Error::Conflict {
                code: Code::FactorSeveralElements,
                detail: format!("{from} and {to} share {}.", names.join(" and ")),
                hint: "Say by which element the conversion goes.".to_owned(),
            });
        }
        (via, _, _) => {
            return Err(Error::Conflict {
                code: Code::FactorNoCommonElement,
                detail: match via {
                    Some(via) => format!("{from} and {to} do not both hold {}.", via.symbol()),
                    None if shared.is_empty() => format!("{from} and {to} share no element."),
                    None => format!("{from} and {to} share oxygen alone."),
                },
                hint:
                    "A factor converts the amount of one element between two substances; name it where oxygen is meant."
                        .to_owned(),
            });
        }
    };
    Ok((element, from.count(element) / to.count(element)))
}

/// Grams of `to` that one gram of `from` makes, by the element they share:
/// `f = (n_from / n_to) M_to / M_from`, n atoms of that element in each.
///
/// # Errors
/// Those of [`Formula::parse`]; `weights.unknown`; `factor.no-common-element`; `factor.several-common-elements`, for
/// which [`factor_via`] is the repair.
///
/// # Source
/// Stoichiometry; printed tables of such factors agree within their old atomic weights.
///
/// ```
/// use beadchem::substance::{Weights, factor};
/// let weights = Weights::ciaaw_2024();
/// assert_eq!(format!("{:.5}", factor("MnO", "Mn3O4", &weights)?.value()), "1.07518");
/// assert_eq!(format!("{:.5}", factor("Ca", "CaCO3", &weights)?.value()), "2.49728");
/// # Ok::<(), beadchem::Error>(())
/// ```
pub fn factor(from: &str, to: &str, weights: &Weights) -> Result<FromWeights> {
    convert(from, to, None, weights)
}

/// [`factor`] by a named element, for substances that share several.
///
/// # Errors
/// As [`factor`].
///
/// ```
/// use beadchem::substance::{Weights, factor_via};
/// let factor = factor_via("CaMg(CO3)2", "CaCO3", "Ca", &Weights::ciaaw_2024())?;
/// assert_eq!(format!("{:.4}", factor.value()), "0.5428");
/// # Ok::<(), beadchem::Error>(())
/// ```
pub fn factor_via(from: &str, to: &str, element: &str, weights: &Weights) -> Result<FromWeights> {
    convert(from, to, Some(Element::from_symbol(element)?), weights)
}

fn convert(from: &str, to: &str, via: Option<Element>, weights: &Weights) -> Result<FromWeights> {
    let (from, to) = (Formula::parse(from)?, Formula::parse(to)?);
    let (element, _) = carrier(&from, &to, via)?;
    let mut result = factor_of(&from, &to, element, weights)?;
    result.findings.splice(0..0, from.findings().iter().chain(to.findings()).cloned());
    Ok(result)
}

/// The factor between two read formulas by an element that both hold.
pub(crate) fn factor_of(from: &Formula, to: &Formula, element: Element, weights: &Weights) -> Result<FromWeights> {
    let (_, ratio) = carrier(from, to, Some(element))?;
    let mut elements = Vec::new();
    let model = Conversion { from: places(from, &mut elements), to: places(to, &mut elements), ratio };
    FromWeights::compute(&model, &elements, weights)
}

struct OxygenEquivalent {
    oxygen: usize,
    anion: usize,
    ratio: f64,
}

impl Model for OxygenEquivalent {
    fn outputs(&self) -> usize {
        1
    }
    #[inline(always)]
    fn evaluate<S: Scalar>(&self, weights: &[S], out: &mut [S], _: &mut [S]) {
        out[0] = weights[self.oxygen] / weights[self.anion] * self.ratio;
    }
}

/// Grams of oxygen to subtract per gram of anion where the metals of its host mineral are counted as oxides.
///
/// `(n_O(oxides) - n_O(host)) A_O / (n_X A_X)` per formula of the host: CaF2 counted as CaO gives 0.4211 per gram of F;
/// FeS2 counted as Fe2O3 gives 0.3743 per gram of S, FeS 0.7485, CuFeS2 0.6238, ZnS 0.4990.
///
/// # Errors
/// Those of [`Formula::parse`]; `weights.unknown`; `species.unknown` where the host does not hold the anion, or an
/// element of it has no oxide among `counted_as`.
///
/// # Source
/// Stoichiometry.
///
/// ```
/// use beadchem::substance::{Weights, oxygen_equivalent};
/// let weights = Weights::ciaaw_2024();
/// assert_eq!(format!("{:.4}", oxygen_equivalent("CaF2", "F", &["CaO"], &weights)?.value()), "0.4211");
/// assert_eq!(format!("{:.4}", oxygen_equivalent("FeS2", "S", &["Fe2O3"], &weights)?.value()), "0.3743");
/// # Ok::<(), beadchem::Error>(())
/// ```
pub fn oxygen_equivalent(host: &str, anion: &str, counted_as: &[&str], weights: &Weights) -> Result<FromWeights> {
    let (host, anion) = (Formula::parse(host)?, Element::from_symbol(anion)?);
    let oxides = counted_as.iter().map(|text| Formula::parse(text)).collect::<Result<Vec<_>>>()?;
    let model = OxygenEquivalent { oxygen: 0, anion: 1, ratio: oxygen_per_anion(&host, anion, &oxides)? };
    FromWeights::compute(&model, &[Element::O, anion], weights)
}

/// Atoms of oxygen counted too much per atom of the anion.
pub(crate) fn oxygen_per_anion(host: &Formula, anion: Element, oxides: &[Formula]) -> Result<f64> {
    let missing = |given: &str, hint: String| Error::Unknown {
        code: Code::SpeciesUnknown,
        what: "Element".to_owned(),
        given: given.to_owned(),
        hint,
    };
    if host.count(anion) == 0.0 {
        return Err(missing(anion.symbol(), format!("{host} does not hold it; name the mineral it sits in.")));
    }
    let mut oxygen = -host.count(Element::O);
    for &(element, count) in host.atoms() {
        if element == anion || element == Element::O {
            continue;
        }
        let oxide = oxides.iter().find(|oxide| oxide.key() == Some(element)).ok_or_else(|| {
            missing(element.symbol(), format!("Say as which oxide the {} of {host} is counted.", element.name()))
        })?;
        oxygen += count / oxide.count(element) * oxide.count(Element::O);
    }
    Ok(oxygen / host.count(anion))
}
