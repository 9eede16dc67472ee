//! The closure ledger: a total line by line, with its uncertainty, and what it cannot see.

mod compile;
pub(super) mod model;
mod order;
mod show;

pub(crate) use compile::{Part, takes_up_oxygen};
pub(crate) use model::{ABOVE_CEILING, ClosureSum, EXPECTED_LOSS, Source, TOTAL};
pub use order::{ClosureOrder, External};

use crate::code::Code;
use crate::composition::{Basis, Composition};
use crate::error::{Error, Result};
use crate::finding::Finding;
use crate::substance::Weights;
use crate::uncertainty::{Budget, Estimate, Inputs, Model, Propagated};
use model::{AsGiven, WITHOUT_LOSS};

/// How a line enters the total.
///
/// ```
/// use beadchem::composition::Counted;
/// assert_eq!(Counted::InsideLoss.word(), "already inside the loss");
/// ```
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[non_exhaustive]
pub enum Counted {
    /// As it is, or as the species of the convention.
    Here,
    /// The signed loss itself.
    Loss,
    /// Not counted: the loss holds it.
    InsideLoss,
    /// Oxygen taken off, because metals bound to a halogen or sulfur were counted as oxides.
    OxygenEquivalent,
    /// Oxygen that lower oxides of iron took up in the furnace, where the loss shows it as a gain.
    OxygenTakenUp,
    /// Not counted: its atoms are in another line.
    ElsewhereInTotal,
    /// Not counted: no value.
    NoValue,
}

impl Counted {
    /// The words printed.
    ///
    /// ```
    /// assert_eq!(beadchem::composition::Counted::Here.word(), "counted here");
    /// ```
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Counted::Here => "counted here",
            Counted::Loss => "signed loss",
            Counted::InsideLoss => "already inside the loss",
            Counted::OxygenEquivalent => "oxygen counted too much, taken off",
            Counted::OxygenTakenUp => "oxygen taken up in the furnace, given back",
            Counted::ElsewhereInTotal => "its atoms are counted elsewhere",
            Counted::NoValue => "no value",
        }
    }
}

/// One line of the ledger, g/g on the basis of the total.
///
/// ```
/// use beadchem::{composition::{Basis, ClosureOrder, Composition}, substance::Weights};
/// let ore = Composition::new(Basis::Dried).with("CaO", 0.5)?;
/// let closure = ore.closure(&ClosureOrder::new(), &Weights::ciaaw_2024())?;
/// assert_eq!(closure.lines()[0].contribution, 0.5);
/// # Ok::<(), beadchem::Error>(())
/// ```
#[derive(Debug, Clone, PartialEq)]
pub struct ClosureLine {
    /// What was found.
    pub species: String,
    /// As what it is counted; the species itself where nothing else is said.
    pub counted_as: String,
    /// How it enters.
    pub how: Counted,
    /// What it adds to the total; zero where it is not counted.
    pub contribution: f64,
    /// Standard uncertainty of that; "at least" where an input has none stated.
    pub u: f64,
    /// Where it comes from: the method and date of a result from elsewhere, else empty.
    pub source: String,
}

/// How far the total moves with one input.
///
/// ```
/// use beadchem::{composition::{Basis, ClosureOrder, Composition}, substance::Weights, uncertainty::Estimate};
/// let ore = Composition::new(Basis::Dried).with("CaO", Estimate::new(0.5, 0.001)?)?;
/// let closure = ore.closure(&ClosureOrder::new(), &Weights::ciaaw_2024())?;
/// assert_eq!((closure.sensitivities()[0].derivative, closure.sensitivities()[0].moves_total), (1.0, 0.001));
/// # Ok::<(), beadchem::Error>(())
/// ```
#[derive(Debug, Clone, PartialEq)]
pub struct Sensitivity {
    /// The input.
    pub input: String,
    /// dT/dx.
    pub derivative: f64,
    /// How far the total moves with one standard uncertainty of it; zero where none is stated.
    pub moves_total: f64,
    /// How far the lines move in all, whatever their sign, per unit of the input.
    pub moves_lines: f64,
}

impl Sensitivity {
    /// True where the lines move and the total hardly does: an error here cannot be seen in the total.
    ///
    /// ```
    /// use beadchem::composition::Sensitivity;
    /// let input = "loss on ignition at 1000 C".to_owned();
    /// assert!(Sensitivity { input, derivative: 0.001, moves_total: 0.0, moves_lines: 2.0 }.is_blind());
    /// ```
    #[must_use]
    pub fn is_blind(&self) -> bool {
        // a twentieth of what the lines move is no test of the input
        const PART: f64 = 0.05;
        self.derivative.abs() < PART * self.moves_lines
    }
}

/// A total, line by line.
///
/// ```
/// use beadchem::composition::{Basis, ClosureOrder, Composition, LossOnIgnition};
/// use beadchem::{substance::Weights, uncertainty::Estimate};
/// let rock = Composition::new(Basis::Dried)
///     .with("SiO2", Estimate::new(0.52, 0.002)?)?
///     .with("Al2O3", Estimate::new(0.36, 0.002)?)?;
/// let order = ClosureOrder::new().loss(&LossOnIgnition::new(Estimate::new(0.1195, 0.0003)?, 1000.0)?);
/// let closure = rock.closure(&order, &Weights::ciaaw_2024())?;
/// assert!((closure.total().unwrap().value() - 0.9995).abs() < 1e-12);
/// assert!((closure.total().unwrap().u().unwrap() - 0.00284).abs() < 1e-5);
/// # Ok::<(), beadchem::Error>(())
/// ```
#[derive(Debug, Clone)]
pub struct Closure {
    basis: Basis,
    lines: Vec<ClosureLine>,
    propagated: Propagated,
    findings: Vec<Finding>,
    sensitivities: Vec<Sensitivity>,
    by_difference: Option<String>,
    draft: bool,
    counts_loss: bool,
    carbonate: bool,
    /// Results from intensities move with the fused flux per sample, others with the dilution.
    pub(crate) of_intensities: bool,
    sum: ClosureSum,
}

impl Closure {
    /// The total with its standard uncertainty, through the covariance of its lines; nothing where a species was found
    /// by difference.
    ///
    /// ```
    /// use beadchem::{composition::{Basis, ClosureOrder, Composition}, substance::Weights};
    /// let sand = Composition::new(Basis::Dried).with("Al2O3", 0.0031)?.with_difference("SiO2", None)?;
    /// assert!(sand.closure(&ClosureOrder::new(), &Weights::ciaaw_2024())?.total().is_none());
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn total(&self) -> Option<Estimate> {
        if self.by_difference.is_some() { None } else { self.propagated.estimate(TOTAL).ok() }
    }

    /// The sum without the loss, with its standard uncertainty.
    ///
    /// ```
    /// use beadchem::composition::{Basis, ClosureOrder, Composition, LossOnIgnition};
    /// use beadchem::substance::Weights;
    /// let lime = Composition::new(Basis::Dried).with("CaO", 0.542)?;
    /// let order = ClosureOrder::new().loss(&LossOnIgnition::new(0.431, 1000.0)?);
    /// assert_eq!(lime.closure(&order, &Weights::ciaaw_2024())?.without_loss().value(), 0.542);
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn without_loss(&self) -> Estimate {
        self.propagated.estimate(WITHOUT_LOSS).unwrap_or_else(|_| Estimate::from(self.propagated.value(WITHOUT_LOSS)))
    }

    /// For a carbonate rock with a loss: the loss less what carbonates of all calcium and magnesium and the stated water
    /// can give off, `L - (0.7848 CaO + 1.0919 MgO + H2O)`, with its standard uncertainty. Nothing for other rocks.
    ///
    /// # Source
    /// Stoichiometry of CaCO3 and MgCO3.
    ///
    /// ```
    /// use beadchem::composition::{Basis, ClosureOrder, Composition, LossOnIgnition};
    /// use beadchem::substance::Weights;
    /// let lime = Composition::new(Basis::Dried).with("CaO", 0.542)?.with("MgO", 0.009)?;
    /// let order = ClosureOrder::new().loss(&LossOnIgnition::new(0.493, 1000.0)?);
    /// let above = lime.closure(&order, &Weights::ciaaw_2024())?.above_carbonate_ceiling().unwrap();
    /// assert_eq!(format!("{:.4}", above.value()), "0.0578");
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn above_carbonate_ceiling(&self) -> Option<Estimate> {
        let asked = self.carbonate && self.counts_loss;
        asked.then(|| self.propagated.estimate(ABOVE_CEILING).ok()).flatten()
    }

    /// The loss that the lines themselves lead to expect: stated carbon dioxide and water less the oxygen that FeO and
    /// metallic iron take up. Nothing where no loss was counted.
    ///
    /// ```
    /// use beadchem::composition::{Basis, ClosureOrder, Composition, External, LossOnIgnition};
    /// use beadchem::substance::Weights;
    /// let ore = Composition::new(Basis::Dried).with("Fe2O3", 0.9794)?;
    /// let ferrous = External::new("FeO", 0.26, Basis::Dried, "titration")?;
    /// let order = ClosureOrder::new().loss(&LossOnIgnition::new(-0.0265, 1000.0)?).external(ferrous);
    /// let expected = ore.closure(&order, &Weights::ciaaw_2024())?.expected_loss().unwrap();
    /// assert_eq!(format!("{:.3}", expected.value()), "-0.029");
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn expected_loss(&self) -> Option<Estimate> {
        self.counts_loss.then(|| self.propagated.estimate(EXPECTED_LOSS).ok()).flatten()
    }

    /// What the total refers to.
    ///
    /// ```
    /// # use beadchem::{composition::{Basis, ClosureOrder, Composition}, substance::Weights};
    /// let closure = Composition::new(Basis::Dried).closure(&ClosureOrder::new(), &Weights::ciaaw_2024())?;
    /// assert_eq!(closure.basis(), Basis::Dried);
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn basis(&self) -> Basis {
        self.basis
    }

    /// The lines, in the order of the composition; then results from elsewhere, then the loss.
    ///
    /// ```
    /// # use beadchem::{composition::{Basis, ClosureOrder, Composition}, substance::Weights};
    /// let spar = Composition::new(Basis::Dried).with("F", 0.47)?;
    /// let closure = spar.closure(&ClosureOrder::new(), &Weights::ciaaw_2024())?;
    /// assert_eq!(closure.lines().len(), 2); // the fluorine, and the oxygen it stands for
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn lines(&self) -> &[ClosureLine] {
        &self.lines
    }

    /// dT/dx of every input that is not an atomic weight.
    ///
    /// ```
    /// # use beadchem::{composition::{Basis, ClosureOrder, Composition}, substance::Weights};
    /// let spar = Composition::new(Basis::Dried).with("F", 0.47)?;
    /// let closure = spar.closure(&ClosureOrder::new(), &Weights::ciaaw_2024())?;
    /// assert_eq!(format!("{:.3}", closure.sensitivities()[0].derivative), "0.579");
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn sensitivities(&self) -> &[Sensitivity] {
        &self.sensitivities
    }

    /// The inputs the total is blind to, though lines move with them.
    ///
    /// ```
    /// # use beadchem::{composition::{Basis, ClosureOrder, Composition}, substance::Weights};
    /// let closure = Composition::new(Basis::Dried).with("F", 0.47)?.closure(&ClosureOrder::new(), &Weights::ciaaw_2024())?;
    /// assert!(closure.blind_to().is_empty());
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn blind_to(&self) -> Vec<&str> {
        self.sensitivities.iter().filter(|s| s.is_blind()).map(|s| s.input.as_str()).collect()
    }

    /// Where the uncertainty of the total comes from.
    ///
    /// ```
    /// # use beadchem::{composition::{Basis, ClosureOrder, Composition}, substance::Weights, uncertainty::Estimate};
    /// let ore = Composition::new(Basis::Dried).with("CaO", Estimate::new(0.5, 0.001)?)?;
    /// assert_eq!(ore.closure(&ClosureOrder::new(), &Weights::ciaaw_2024())?.budget().rows()[0].name, "CaO");
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn budget(&self) -> Budget {
        self.propagated.budget(TOTAL)
    }

    /// What was assumed, not counted, doubtful or blind.
    ///
    /// ```
    /// # use beadchem::{composition::{Basis, Cell, ClosureOrder, Composition}, substance::Weights};
    /// let ore = Composition::new(Basis::Dried).with("CaO", 0.5)?.with("MgO", Cell::Below { limit: 0.001 })?;
    /// let closure = ore.closure(&ClosureOrder::new(), &Weights::ciaaw_2024())?;
    /// assert_eq!(closure.findings()[0].code.word(), "closure.not-counted");
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn findings(&self) -> &[Finding] {
        &self.findings
    }

    /// The species found by difference, where there is one.
    ///
    /// ```
    /// # use beadchem::{composition::{Basis, ClosureOrder, Composition}, substance::Weights};
    /// let sand = Composition::new(Basis::Dried).with("Al2O3", 0.0031)?.with_difference("SiO2", None)?;
    /// assert_eq!(sand.closure(&ClosureOrder::new(), &Weights::ciaaw_2024())?.by_difference(), Some("SiO2"));
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn by_difference(&self) -> Option<&str> {
        self.by_difference.as_deref()
    }

    /// Refuses a total that is fit for a draft only.
    ///
    /// # Errors
    /// `loss.not-reportable` where the loss has no temperature.
    ///
    /// ```
    /// # use beadchem::{composition::{Basis, ClosureOrder, Composition}, substance::Weights};
    /// let ore = Composition::new(Basis::Dried).with("CaO", 0.5)?;
    /// assert!(ore.closure(&ClosureOrder::new(), &Weights::ciaaw_2024())?.reportable().is_ok());
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    pub fn reportable(&self) -> Result<()> {
        if self.draft {
            return Err(Error::Conflict {
                code: Code::LossNotReportable,
                detail: "An LOI without its temperature cannot be reported.".to_owned(),
                hint: "State the temperature it was found at; losses at 950 and 1050 C differ.".to_owned(),
            });
        }
        Ok(())
    }

    /// Inputs of the total without a stated uncertainty.
    ///
    /// ```
    /// # use beadchem::{composition::{Basis, ClosureOrder, Composition}, substance::Weights};
    /// let ore = Composition::new(Basis::Dried).with("CaO", 0.5)?;
    /// assert_eq!(ore.closure(&ClosureOrder::new(), &Weights::ciaaw_2024())?.unstated(), ["CaO"]);
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn unstated(&self) -> Vec<&str> {
        self.propagated.unstated(TOTAL)
    }

    /// Values and uncertainties of total and of the sum without loss, whatever is stated.
    pub(crate) fn totals(&self) -> [(f64, f64); 2] {
        [TOTAL, WITHOUT_LOSS].map(|output| (self.propagated.value(output), self.propagated.u(output)))
    }

    pub(crate) fn propagated(&self) -> &Propagated {
        &self.propagated
    }
}

impl Composition {
    /// The total of a composition, line by line.
    ///
    /// # Errors
    /// `basis.mismatch` where a loss on ignition is counted off the dried basis, or a result from elsewhere stands on
    /// another basis and nothing leads from it; `factor.no-common-element` for a convention or host that does not fit.
    ///
    /// # Source
    /// Practice of whole-rock analysis (common practice); factors from atomic weights.
    ///
    /// ```
    /// use beadchem::composition::{Basis, ClosureOrder, Composition};
    /// use beadchem::substance::Weights;
    /// let ore = Composition::new(Basis::Dried).with("SiO2", 0.4)?.with("MnO", 0.58)?;
    /// let weights = Weights::ciaaw_2024();
    /// let as_read = ore.closure(&ClosureOrder::new(), &weights)?.total().unwrap().value();
    /// let as_mn3o4 = ore.closure(&ClosureOrder::new().counted_as("Mn3O4")?, &weights)?.total().unwrap().value();
    /// assert_eq!((format!("{as_read:.4}"), format!("{as_mn3o4:.4}")), ("0.9800".to_owned(), "1.0236".to_owned()));
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    pub fn closure(&self, order: &ClosureOrder, weights: &Weights) -> Result<Closure> {
        let mut inputs = Inputs::new();
        let mut parts = Vec::new();
        for entry in self.entries() {
            let source = match entry.cell.value() {
                Some(value) => Some(Source::Input(inputs.push(entry.species.text(), value.clone())?)),
                None => None,
            };
            parts.push(Part::of(entry, source));
        }
        Closure::compute(order, self.basis(), &parts, &AsGiven, inputs, weights)
    }
}

impl Closure {
    /// The inputs of the results, then those that only the total has.
    pub(crate) fn inputs(&self) -> &Inputs {
        self.propagated.inputs()
    }

    pub(crate) fn into_sum(self) -> ClosureSum {
        self.sum
    }

    /// The total of results that a model gives, over the inputs of that model.
    pub(crate) fn compute<M: Model>(
        order: &ClosureOrder,
        basis: Basis,
        parts: &[Part],
        results: &M,
        inputs: Inputs,
        weights: &Weights,
    ) -> Result<Closure> {
        compile::compute(order, basis, parts, results, inputs, weights)
    }
}
