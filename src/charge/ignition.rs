//! What a powder loses and takes up in the furnace, species by species, and what follows for the fusion.
//!
//! The books are those of the fusion kernel without flux: for every element what stays, with the oxygen of the form it
//! stands in, and what leaves as which gas. The loss is what is missing in the residue; the oxygen taken up is what the
//! gases weigh more than that.

use crate::charge::fate::Fate;
use crate::charge::heated::{Heated, compile_heated};
use crate::charge::kernel::{Input, Kernel};
use crate::charge::predicted::{GasLost, LossLine, PredictedLoss};
use crate::code::Code;
use crate::composition::{Atmosphere, Basis, Cell, Composition, LossOnIgnition};
use crate::error::{Error, Result};
use crate::finding::Finding;
use crate::scalar::Scalar;
use crate::substance::{Element, Weights};
use crate::uncertainty::{Budget, Estimate, Model, propagate_plain};

/// How a powder is ignited: temperature, atmosphere, and what its elements become there.
///
/// Carbon leaves as carbon dioxide and hydrogen as water; metals with one usual oxide stand as it in air. What sulfur,
/// halogens, manganese and their like become is a fact of the furnace and is stated.
///
/// ```
/// use beadchem::charge::{Fate, Ignition};
/// use beadchem::composition::{Atmosphere, Basis, Composition};
/// use beadchem::substance::Weights;
///
/// let furnace = Ignition::new(1000.0, Atmosphere::Air, Fate::new())?;
/// let ore = Composition::new(Basis::Dried).with_form("FeO", 0.26)?.with_form("Fe2O3", 0.69)?.with("H2O", 0.0025)?;
/// let predicted = furnace.predict(&ore, &Weights::ciaaw_2024())?;
/// assert_eq!(format!("{:.5}", predicted.loss()), "-0.02645"); // a gain
/// assert_eq!(format!("{:.5}", predicted.gained()), "0.02895");
/// # Ok::<(), beadchem::Error>(())
/// ```
#[derive(Debug, Clone, PartialEq)]
pub struct Ignition {
    pub(super) temperature_c: f64,
    pub(super) atmosphere: Atmosphere,
    fate: Fate,
}

/// A loss in the furnace carried over to the fusion.
///
/// ```
/// use beadchem::charge::{Fate, Ignition};
/// use beadchem::composition::{Atmosphere, Basis, Cell, Composition, LossOnIgnition};
/// use beadchem::substance::Weights;
///
/// // gypsum: its sulfate stays in the glass, and half of it left in the furnace
/// let furnace = Ignition::new(1000.0, Atmosphere::Air, Fate::new().split("S", 0.5, "SO3")?)?;
/// let gypsum = Composition::new(Basis::Dried)
///     .with("CaSO4.2H2O", 0.97)?
///     .with("F", Cell::Absent)?
///     .with("Mn", Cell::Absent)?;
/// let observed = LossOnIgnition::new(0.42, 1000.0)?;
/// let fusion = furnace.to_fusion(&observed, &gypsum, &Fate::sulfur_kept(), &Weights::ciaaw_2024())?;
/// assert_eq!(format!("{:.4}", fusion.loss.value()), "0.1945");
/// # Ok::<(), beadchem::Error>(())
/// ```
#[derive(Debug, Clone)]
pub struct LossOnFusion {
    /// Loss on fusion as a fraction of the dried powder, signed.
    pub loss: Estimate,
    /// What the fusion loses beyond the furnace; negative where the furnace lost more.
    pub beyond_furnace: f64,
    /// Where its uncertainty comes from.
    pub budget: Budget,
    /// What was assumed.
    pub findings: Vec<Finding>,
}

/// Loss, gases and their sum over one list of inputs.
struct Furnace<'a> {
    heated: &'a Heated,
    atmosphere: Atmosphere,
    observed: Option<Input>,
}

pub(super) const LOSS: usize = 0;
pub(super) const GASES: usize = 1;
const FIRST_GAS: usize = 2;

impl Furnace<'_> {
    /// Fills the books of the furnace or of the fusion; gives the loss and the mass of all gases.
    #[inline(always)]
    fn heat<S: Scalar>(&self, furnace: bool, x: &[S], gases: &mut [S], scratch: &mut [S]) -> (S, S) {
        let way = &self.heated.kernels[usize::from(!furnace)];
        let scratch = &mut scratch[..way.scratch()];
        let mut books = way.books(scratch);
        let left = way.ignite(x, &mut books);
        let weights = &x[way.weights.clone()];
        let hydrogen = x[self.heated.hydrogen];
        let half_oxygen = weights[way.oxygen] * 0.5;
        let mut all = S::constant(0.0);
        let mut bound = S::constant(0.0);
        for (place, (gas, &moles)) in way.gases.iter().zip(books.left.iter()).enumerate() {
            // hydrogen leaves as water, two atoms each, but for what other gases took
            let grams = way.grams_of_gas(weights, hydrogen, gas);
            bound = bound + moles * gas.hydrogen;
            let mass = moles * grams;
            if let Some(slot) = gases.get_mut(place) {
                *slot = mass;
            }
            all = all + mass;
        }
        let all = all - bound * (hydrogen + half_oxygen);
        let loss = S::constant(1.0) - left;
        // without air nothing is taken up, but oxygen can be given off
        let uptake = S::constant(0.0).lt(all - loss);
        let inert = if self.atmosphere == Atmosphere::Inert { S::select(uptake, all, loss) } else { loss };
        (if furnace { inert } else { loss }, all)
    }
}

impl Model for Furnace<'_> {
    fn outputs(&self) -> usize {
        if self.observed.is_some() { 1 } else { FIRST_GAS + self.heated.gases[0].len() }
    }
    fn scratch(&self) -> usize {
        self.heated.kernels.iter().map(Kernel::scratch).max().unwrap_or(0)
    }
    #[inline(always)]
    fn evaluate<S: Scalar>(&self, x: &[S], out: &mut [S], scratch: &mut [S]) {
        match self.observed {
            Some(observed) => {
                let (in_furnace, _) = self.heat(true, x, &mut [], scratch);
                let (in_fusion, _) = self.heat(false, x, &mut [], scratch);
                out[LOSS] = x[observed] + (in_fusion - in_furnace);
            }
            None => {
                let (head, gases) = out.split_at_mut(FIRST_GAS);
                (head[LOSS], head[GASES]) = self.heat(true, x, gases, scratch);
            }
        }
    }
}

impl Ignition {
    /// An ignition at a temperature, C, in an atmosphere, with what is stated of the elements.
    ///
    /// # Errors
    /// `number.out-of-range` for the temperature as [`Basis::ignited`].
    ///
    /// ```
    /// use beadchem::{charge::{Fate, Ignition}, composition::Atmosphere};
    /// assert!(Ignition::new(20.0, Atmosphere::Air, Fate::new()).is_err());
    /// ```
    pub fn new(temperature_c: f64, atmosphere: Atmosphere, fate: Fate) -> Result<Self> {
        Basis::ignited(temperature_c)?;
        Ok(Self { temperature_c, atmosphere, fate })
    }

    /// The signed loss that a dried powder of these species shows: `L = sum gases - oxygen taken up`.
    ///
    /// The temperature is that of the record: every species is taken to reach its final form. In an inert atmosphere no oxygen is taken up; what one species gives off (MnO2) may oxidise another.
    ///
    /// # Errors
    /// `basis.mismatch` where the composition is not on the dried basis; `fate.not-stated` for sulfur, halogens,
    /// manganese and other elements without one usual oxide.
    ///
    /// # Source
    /// Stoichiometry.
    ///
    /// ```
    /// use beadchem::{charge::{Fate, Ignition}, composition::{Atmosphere, Basis, Composition}, substance::Weights};
    /// let furnace = Ignition::new(1000.0, Atmosphere::Air, Fate::new())?;
    /// let ore = Composition::new(Basis::Dried).with("MnO2", 0.76)?;
    /// let refused = furnace.predict(&ore, &Weights::ciaaw_2024()).unwrap_err();
    /// assert_eq!(refused.code().word(), "fate.not-stated");
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    pub fn predict(&self, composition: &Composition, weights: &Weights) -> Result<PredictedLoss> {
        dried(composition)?;
        let mut heated = compile_heated(composition, &self.fate, None, weights)?;
        let furnace = Furnace { heated: &heated, atmosphere: self.atmosphere, observed: None };
        let propagated = propagate_plain(&furnace, &heated.inputs)?.bounded()?;
        self.check_gases(&heated)?;
        self.note_temperature(composition, &mut heated.findings);
        // The loss is linear in the contents, so each species' part is its content times its derivative.
        let lines = heated.contents.iter().map(|(species, input)| {
            let content = propagated.inputs().get(*input).map_or(0.0, |input| input.estimate.value());
            let net = content * propagated.derivative(LOSS, *input);
            let gases = content * propagated.derivative(GASES, *input);
            let taken_up = gases - net;
            let (lost, gained) = if taken_up < 0.0 { (net, 0.0) } else { (gases, taken_up) };
            LossLine { species: species.text().to_owned(), content, lost, gained, net }
        });
        let gases = heated.gases[0]
            .iter()
            .enumerate()
            .map(|(k, gas)| GasLost { gas: gas.text().to_owned(), content: propagated.value(FIRST_GAS + k) });
        Ok(PredictedLoss {
            ignition: self.clone(),
            lines: lines.collect(),
            gases: gases.filter(|gas| gas.content != 0.0).collect(),
            propagated,
            findings: heated.findings,
        })
    }

    /// The books know what is left when all is done, not how far a temperature brings it.
    fn note_temperature(&self, composition: &Composition, findings: &mut Vec<Finding>) {
        // calcite needs about this much in air (common practice)
        const CALCITE_C: f64 = 900.0;
        let there = composition.entries().iter().filter(|entry| entry.cell.value().is_some());
        let held = |symbol| there.clone().any(|entry| entry.species.atoms().iter().any(|(e, _)| e.symbol() == symbol));
        if self.temperature_c < CALCITE_C && (held("C") || held("H")) {
            let text = format!(
                "Carbonates and hydroxides were taken to decompose completely; at {} C they may not.",
                self.temperature_c
            );
            findings.push(Finding::new(Code::FateAssumed, "temperature", text).with_value(self.temperature_c));
        }
    }

    /// A gas can only take along what the powder holds: its other elements, and without air its oxygen and hydrogen too.
    fn check_gases(&self, heated: &Heated) -> Result<()> {
        let kernel = &heated.kernels[0];
        let x = heated.inputs.values();
        let mut scratch = vec![0.0; kernel.scratch()];
        let mut books = kernel.books(&mut scratch);
        kernel.ignite(&x, &mut books);
        const ROUNDING: f64 = 1e-12;
        let refused = |what: &str, hint: &str| {
            Err(Error::Conflict {
                code: Code::FateNotStated,
                detail: format!("The gases would take more {what} than the powder brings."),
                hint: hint.to_owned(),
            })
        };
        for &(carrier, _) in kernel.gases.iter().flat_map(|gas| &gas.carriers) {
            if books.melt[carrier] < -ROUNDING {
                return refused(
                    heated.elements[carrier].name(),
                    "State a gas whose other elements the powder holds, or that more of the first one stays.",
                );
            }
        }
        if self.atmosphere != Atmosphere::Inert {
            return Ok(());
        }
        let hint = "There is no air: state a gas that can form without it, or that the element stays.";
        let hydrogen: f64 = kernel.gases.iter().zip(books.left.iter()).map(|(gas, moles)| gas.hydrogen * moles).sum();
        if hydrogen > books.sample[heated.hydrogen - kernel.weights.start] + ROUNDING {
            return refused("hydrogen", hint);
        }
        // what holds an oxide's metal is not free for a gas: species by species
        for (species, _) in &heated.contents {
            let needed: f64 = kernel
                .gases
                .iter()
                .map(|gas| {
                    let water = if gas.hydrogen > 0.0 { 0.0 } else { gas.oxygen };
                    species.count(heated.elements[gas.key]) * water
                })
                .sum();
            if needed > species.count(Element::O) + ROUNDING {
                return refused(&format!("oxygen out of {species}"), hint);
            }
        }
        Ok(())
    }

    /// A loss can be held against a prediction for its own temperature and atmosphere only.
    pub(super) fn check_observed(&self, observed: &LossOnIgnition) -> Result<()> {
        let mismatch = |found: String, predicted: String| {
            Err(Error::Conflict {
                code: Code::BasisMismatch,
                detail: format!("The loss was observed {found} and predicted for {predicted}."),
                hint: "Predict it for the furnace it was observed in.".to_owned(),
            })
        };
        if observed.temperature_c() != self.temperature_c {
            return mismatch(format!("at {} C", observed.temperature_c()), format!("{} C", self.temperature_c));
        }
        match observed.atmosphere() {
            Some(found) if found != self.atmosphere => {
                mismatch(format!("in the atmosphere `{}`", found.word()), format!("`{}`", self.atmosphere.word()))
            }
            _ => Ok(()),
        }
    }

    /// An observed loss on ignition as a loss on fusion: `L_fusion = L_observed + (predicted in the fusion - predicted in
    /// the furnace)`, so that only what behaves differently in the two has to be known.
    ///
    /// # Errors
    /// `fate.not-stated` where the composition says nothing of sulfur, fluorine or manganese (a value, a limit, or
    /// absent), or a fate says nothing of one that is there; `basis.mismatch` off the dried basis, or where the loss was
    /// observed at another temperature or in another atmosphere.
    ///
    /// # Source
    /// Stoichiometry.
    ///
    /// ```
    /// use beadchem::charge::{Fate, Ignition};
    /// use beadchem::composition::{Atmosphere, Basis, Composition, LossOnIgnition};
    /// use beadchem::substance::Weights;
    /// let furnace = Ignition::new(1000.0, Atmosphere::Air, Fate::new())?;
    /// let ore = Composition::new(Basis::Dried).with("FeO", 0.26)?;
    /// let observed = LossOnIgnition::new(-0.026, 1000.0)?;
    /// let refused = furnace.to_fusion(&observed, &ore, &Fate::new(), &Weights::ciaaw_2024()).unwrap_err();
    /// assert!(refused.to_string().contains("sulfur, fluorine, manganese"));
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    pub fn to_fusion(
        &self,
        observed: &LossOnIgnition,
        composition: &Composition,
        fusion: &Fate,
        weights: &Weights,
    ) -> Result<LossOnFusion> {
        dried(composition)?;
        let mut open = Vec::new();
        for symbol in ["S", "F", "Mn"] {
            let element = Element::from_symbol(symbol)?;
            let mut said = composition.entries().iter().filter(|entry| entry.cell != Cell::Unknown);
            if !said.any(|entry| entry.species.count(element) > 0.0) {
                open.push(element.name());
            }
        }
        if !open.is_empty() {
            return Err(Error::Unstated {
                code: Code::FateNotStated,
                quantity: format!("What the powder holds of {}", open.join(", ")),
                hint: "These go different ways in furnace and fusion; give a value, a limit, or say absent.".to_owned(),
            });
        }
        self.check_observed(observed)?;
        let mut heated = compile_heated(composition, &self.fate, Some(fusion), weights)?;
        self.check_gases(&heated)?;
        let name = format!("loss on ignition at {} C", observed.temperature_c());
        let place = heated.inputs.push(name, observed.loss().clone())?;
        let model = Furnace { heated: &heated, atmosphere: self.atmosphere, observed: Some(place) };
        let propagated = propagate_plain(&model, &heated.inputs)?.bounded()?;
        Ok(LossOnFusion {
            loss: propagated.measured(LOSS)?,
            beyond_furnace: propagated.value(LOSS) - observed.loss().value(),
            budget: propagated.budget(LOSS),
            findings: heated.findings,
        })
    }
}

fn dried(composition: &Composition) -> Result<()> {
    if composition.basis() == Basis::Dried {
        return Ok(());
    }
    Err(Error::Conflict {
        code: Code::BasisMismatch,
        detail: format!("A loss on ignition refers to the dried powder, the composition is {}.", composition.basis()),
        hint: "Put the composition on the dried basis first.".to_owned(),
    })
}
