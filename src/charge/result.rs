//! The sample as it follows from readings of its bead.

use crate::charge::drawn::Draws;
use crate::charge::evaluation::Evaluation;
use crate::charge::form::Form;
use crate::charge::kernel::FIXED;
use crate::charge::lines::Solved;
use crate::charge::melt::Melt;
use crate::charge::plan::{Order, Plan};
use crate::code::Code;
use crate::composition::unit::percent_short;
use crate::composition::{Basis, BasisLinks, Cell, Composition, Entry};
use crate::error::{Error, Result};
use crate::finding::Finding;
use crate::matrix::equation::Equation;
use crate::substance::{Formula, Weights};
use crate::uncertainty::{Budget, MonteCarlo, MonteCarloOptions, Propagated, draw};

/// What is in no budget of a bead; printed below every one.
///
/// ```
/// assert!(beadchem::charge::NOT_INCLUDED.contains("sampling"));
/// ```
pub const NOT_INCLUDED: &str = "not included: sampling and splitting, incomplete fusion, volatility beyond what was \
                                declared, inhomogeneity of the glass, anything wrong with the readings beyond their u";

/// A thousandth of the sample below zero: nothing nearer is refused, g/g.
pub(crate) const NOTABLY_BELOW: f64 = -1e-3;

/// Whether a solution, g/g, is further below zero than counting explains: by [`NOTABLY_BELOW`] and five u, which no noise
/// reaches both, or by a hundredth of the sample where its u is not stated.
pub(crate) fn far_below_zero(value: f64, u: Option<f64>) -> bool {
    const FAR: f64 = 5.0;
    const UNSTATED: f64 = -1e-2;
    value < NOTABLY_BELOW && value < u.map_or(UNSTATED, |u| -FAR * u)
}

/// Why a solution that far below zero is refused.
pub(crate) fn negative_solution(species: &str, value: f64, u: f64, pivot: f64) -> Error {
    Error::Matrix {
        code: Code::SolutionNegative,
        quantity: format!("The system of this bead gives {species} = {} (u {})", percent_short(value), percent_short(u)),
        detail: "further below zero than counting explains".to_owned(),
        figure: "smallest pivot",
        value: pivot,
        hint: "Are the coefficients outside their range, the blank or an overlap too large, or the sensitivities of another \
               setting?"
            .to_owned(),
    }
}

/// Mass fractions of the sample on a stated basis, with their covariance.
///
/// ```
/// use beadchem::{charge::{Charge, FluxLot, Sample}, composition::{Basis, Composition}, substance::Weights};
/// use beadchem::uncertainty::Estimate;
/// let lot = FluxLot::new("F-1", [("Li2B4O7", 1.0)], "1050 C, 18 min", Estimate::new(0.004, 0.0003)?)?;
/// let charge = Charge::new(Sample::dried(Estimate::new(1.05, 0.0001)?)?, lot.weigh_g(Estimate::new(6.0, 0.0001)?)?)?;
/// let melt = charge.fuse_with_loss(&Weights::ciaaw_2024(), Estimate::new(0.431, 0.001)?)?;
/// let readings = Composition::new(Basis::Bead).with("CaO", Estimate::new(0.0866, 0.0001)?)?;
/// let sample = melt.undilute(&readings)?;
/// assert_eq!(sample.basis(), Basis::Dried);
/// assert_eq!(sample.budget("CaO")?.rows()[0].name, "CaO in the glass");
/// # Ok::<(), beadchem::Error>(())
/// ```
#[derive(Debug, Clone)]
pub struct SampleResult {
    melt: Melt,
    order: Order,
    plan: Plan,
    propagated: Propagated,
    /// The bead looked into, where it was solved from intensities.
    solved: Option<Solved>,
    own_findings: Vec<Finding>,
}

impl SampleResult {
    pub(crate) fn compute(melt: &Melt, order: Order) -> Result<Self> {
        let plan = Plan::new(melt.charge(), melt.weights(), melt.loss(), Some(&order), melt.adjustment())?;
        let solved = plan.solved()?;
        let sound = solved.as_ref().map_or_else(|| !plan.once().trouble, |solved| solved.sound);
        if !sound {
            // The melt was sound, so only the change of basis can have left nothing.
            let basis = order.basis.map_or_else(String::new, |basis| basis.to_string());
            return Err(Error::Conflict {
                code: Code::BasisImpossible,
                detail: format!("Nothing would be left {basis}").trim_end().to_owned() + ".",
                hint: "A loss of 100 % leaves nothing to refer to.".to_owned(),
            });
        }
        let propagated = plan.propagate_from(solved.as_ref())?.bounded()?;
        let mut result = Self { melt: melt.clone(), order, plan, propagated, solved, own_findings: Vec::new() };
        if let Some(solved) = &result.solved {
            result.refuse_negative(solved.pivot.0)?;
        }
        result.own_findings = result.judge();
        Ok(result)
    }

    /// A solution below zero that counting cannot explain is no result.
    fn refuse_negative(&self, pivot: f64) -> Result<()> {
        for (k, species) in self.plan.results.iter().enumerate() {
            let (value, u) = (self.propagated.value(self.output(k)), self.propagated.u(self.output(k)));
            let stated = self.propagated.unstated(self.output(k)).is_empty();
            if far_below_zero(value, Some(u).filter(|_| stated)) {
                return Err(negative_solution(species.text(), value, u, pivot));
            }
        }
        Ok(())
    }

    /// Findings on the results themselves.
    fn judge(&self) -> Vec<Finding> {
        // what the readings' formulas were read as
        let mut findings: Vec<Finding> =
            self.order.readings.entries().iter().flat_map(|entry| entry.species.findings()).cloned().collect();
        for (k, (species, reading)) in self.plan.results.iter().zip(&self.plan.kernel.readings).enumerate() {
            let value = self.propagated.value(self.output(k));
            if value < 0.0 {
                let u = self.propagated.u(self.output(k));
                findings.push(
                    Finding::new(
                        Code::ReadingNegative,
                        species.text(),
                        format!(
                            "{species} is {} (u {}): below zero, kept as it is for averages.",
                            percent_short(value),
                            percent_short(u)
                        ),
                    )
                    .with_value(value),
                );
            }
            if value > 1.0 {
                findings.push(above_whole(species, self.melt.weights(), value));
            }
            let element = self.plan.elements[reading.element];
            let from_flux = self.melt.charge().flux().lot().blend().iter().any(|(f, _)| f.count(element) > 0.0);
            let addition = self.melt.charge().additions().iter().find(|a| a.species().count(element) > 0.0);
            if from_flux || addition.is_some() {
                let by = addition.map_or("the flux".to_owned(), |addition| addition.species().to_string());
                findings.push(Finding::new(
                    Code::AnalyteAdded,
                    species.text(),
                    format!("{species} is also brought by {by}: the result is a difference, not fit to be reported."),
                ));
            }
        }
        for (k, species) in self.plan.limits.iter().enumerate() {
            if self.propagated.value(self.output(self.count() + k)) <= 0.0 {
                findings.push(limit_under_blank(species.text()));
            }
        }
        findings.extend(unstated_u((0..self.count()).flat_map(|k| self.propagated.unstated(self.output(k))).collect()));
        findings
    }

    /// How many results there are.
    pub(crate) fn count(&self) -> usize {
        self.plan.results.len()
    }

    /// The output of the k-th result; detection limits stand behind the results.
    pub(crate) fn output(&self, k: usize) -> usize {
        FIXED + self.plan.glass.len() + k
    }

    /// The place of a result among the outputs of the plan.
    ///
    /// # Errors
    /// `species.unknown`; the message lists the results.
    ///
    /// ```
    /// # use beadchem::{charge::{Charge, FluxLot, Sample}, composition::{Basis, Composition}, substance::Weights};
    /// # let lot = FluxLot::new("F-1", [("Li2B4O7", 1.0)], "1050 C, 18 min", 0.004)?;
    /// # let melt = Charge::new(Sample::dried(1.05)?, lot.weigh_g(6.0)?)?.fuse_with_loss(&Weights::ciaaw_2024(), 0.431)?;
    /// # let sample = melt.undilute(&Composition::new(Basis::Bead).with("CaO", 0.0866)?.with("MgO", 0.0014)?)?;
    /// assert_eq!(sample.plan().outputs()[sample.output_of("MgO")?], "MgO");
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    pub fn output_of(&self, species: &str) -> Result<usize> {
        let known = self.plan.results.iter().position(|result| result.text() == species);
        known.map(|k| self.output(k)).ok_or_else(|| Error::Unknown {
            code: Code::SpeciesUnknown,
            what: "Result".to_owned(),
            given: species.to_owned(),
            hint: format!("The results with a value are: {}.", self.species().join(", ")),
        })
    }

    /// How the results came about.
    ///
    /// ```
    /// # use beadchem::{charge::{Charge, Evaluation, FluxLot, Sample}, composition::{Basis, Composition}, substance::Weights};
    /// # let lot = FluxLot::new("F-1", [("Li2B4O7", 1.0)], "1050 C, 18 min", 0.004)?;
    /// # let melt = Charge::new(Sample::dried(1.05)?, lot.weigh_g(6.0)?)?.fuse_with_loss(&Weights::ciaaw_2024(), 0.431)?;
    /// let sample = melt.undilute(&Composition::new(Basis::Bead).with("CaO", 0.0866)?)?;
    /// assert_eq!(sample.evaluation(), Evaluation::GlassFractions);
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn evaluation(&self) -> Evaluation {
        match self.order.lines {
            Some(_) => Evaluation::Intensities,
            None => Evaluation::GlassFractions,
        }
    }

    /// The species, in the order of the readings.
    ///
    /// ```
    /// # use beadchem::{charge::{Charge, FluxLot, Sample}, composition::{Basis, Composition}, substance::Weights};
    /// # let lot = FluxLot::new("F-1", [("Li2B4O7", 1.0)], "1050 C, 18 min", 0.004)?;
    /// # let melt = Charge::new(Sample::dried(1.05)?, lot.weigh_g(6.0)?)?.fuse_with_loss(&Weights::ciaaw_2024(), 0.431)?;
    /// # let sample = melt.undilute(&Composition::new(Basis::Bead).with("CaO", 0.0866)?.with("MgO", 0.0014)?)?;
    /// assert_eq!(sample.species(), ["CaO", "MgO"]);
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn species(&self) -> Vec<&str> {
        self.plan.results.iter().map(|species| species.text()).collect()
    }

    /// What 100 % refers to.
    ///
    /// ```
    /// # use beadchem::{charge::{Charge, FluxLot, Sample}, composition::{Basis, Composition}, substance::Weights};
    /// # let lot = FluxLot::new("F-1", [("Li2B4O7", 1.0)], "1050 C, 18 min", 0.004)?;
    /// # let melt = Charge::new(Sample::dried(1.05)?, lot.weigh_g(6.0)?)?.fuse_with_loss(&Weights::ciaaw_2024(), 0.431)?;
    /// # let sample = melt.undilute(&Composition::new(Basis::Bead).with("CaO", 0.0866)?.with("MgO", 0.0014)?)?;
    /// assert_eq!(sample.basis(), Basis::Dried);
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn basis(&self) -> Basis {
        self.order.basis.unwrap_or_else(|| self.melt.charge().sample().basis())
    }

    /// A result, g/g.
    ///
    /// # Errors
    /// `species.unknown`; the message lists the results.
    ///
    /// ```
    /// # use beadchem::{charge::{Charge, FluxLot, Sample}, composition::{Basis, Composition}, substance::Weights};
    /// # let lot = FluxLot::new("F-1", [("Li2B4O7", 1.0)], "1050 C, 18 min", 0.004)?;
    /// # let melt = Charge::new(Sample::dried(1.05)?, lot.weigh_g(6.0)?)?.fuse_with_loss(&Weights::ciaaw_2024(), 0.431)?;
    /// # let sample = melt.undilute(&Composition::new(Basis::Bead).with("CaO", 0.0866)?.with("MgO", 0.0014)?)?;
    /// assert_eq!(format!("{:.3}", sample.value("CaO")?), "0.542");
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    pub fn value(&self, species: &str) -> Result<f64> {
        Ok(self.propagated.value(self.output_of(species)?))
    }

    /// Its standard uncertainty, g/g; "at least" where the budget names inputs without one.
    ///
    /// # Errors
    /// As [`value`](Self::value).
    ///
    /// ```
    /// # use beadchem::{charge::{Charge, FluxLot, Sample}, composition::{Basis, Composition}, substance::Weights};
    /// # let lot = FluxLot::new("F-1", [("Li2B4O7", 1.0)], "1050 C, 18 min", 0.004)?;
    /// # let melt = Charge::new(Sample::dried(1.05)?, lot.weigh_g(6.0)?)?.fuse_with_loss(&Weights::ciaaw_2024(), 0.431)?;
    /// # let sample = melt.undilute(&Composition::new(Basis::Bead).with("CaO", 0.0866)?.with("MgO", 0.0014)?)?;
    /// assert!(sample.u("CaO")? < 1e-9); // only atomic weights have a stated uncertainty here
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    pub fn u(&self, species: &str) -> Result<f64> {
        Ok(self.propagated.u(self.output_of(species)?))
    }

    /// The covariance of two results, (g/g)^2.
    ///
    /// # Errors
    /// As [`value`](Self::value).
    ///
    /// ```
    /// # use beadchem::{charge::{Charge, FluxLot, Sample}, composition::{Basis, Composition}, substance::Weights};
    /// # let lot = FluxLot::new("F-1", [("Li2B4O7", 1.0)], "1050 C, 18 min", 0.004)?;
    /// # let melt = Charge::new(Sample::dried(1.05)?, lot.weigh_g(6.0)?)?.fuse_with_loss(&Weights::ciaaw_2024(), 0.431)?;
    /// # let sample = melt.undilute(&Composition::new(Basis::Bead).with("CaO", 0.0866)?.with("MgO", 0.0014)?)?;
    /// assert_eq!(sample.covariance("CaO", "MgO")?, sample.covariance("MgO", "CaO")?);
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    pub fn covariance(&self, first: &str, second: &str) -> Result<f64> {
        Ok(self.propagated.covariance(self.output_of(first)?, self.output_of(second)?))
    }

    /// Where the uncertainty of a result comes from.
    ///
    /// # Errors
    /// As [`value`](Self::value).
    ///
    /// ```
    /// # use beadchem::{charge::{Charge, FluxLot, Sample}, composition::{Basis, Composition}, substance::Weights};
    /// # let lot = FluxLot::new("F-1", [("Li2B4O7", 1.0)], "1050 C, 18 min", 0.004)?;
    /// # let melt = Charge::new(Sample::dried(1.05)?, lot.weigh_g(6.0)?)?.fuse_with_loss(&Weights::ciaaw_2024(), 0.431)?;
    /// # let sample = melt.undilute(&Composition::new(Basis::Bead).with("CaO", 0.0866)?.with("MgO", 0.0014)?)?;
    /// assert!(sample.budget("CaO")?.unstated().contains(&"sample mass".to_owned()));
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    pub fn budget(&self, species: &str) -> Result<Budget> {
        Ok(self.propagated.budget(self.output_of(species)?))
    }

    /// The sum of the results, g/g, with the uncertainty their covariance gives it. A loss on ignition is not in it.
    ///
    /// # Errors
    /// None for a result that could be computed; kept fallible for the combination.
    ///
    /// ```
    /// # use beadchem::{charge::{Charge, FluxLot, Sample}, composition::{Basis, Composition}, substance::Weights};
    /// # let lot = FluxLot::new("F-1", [("Li2B4O7", 1.0)], "1050 C, 18 min", 0.004)?;
    /// # let melt = Charge::new(Sample::dried(1.05)?, lot.weigh_g(6.0)?)?.fuse_with_loss(&Weights::ciaaw_2024(), 0.431)?;
    /// # let sample = melt.undilute(&Composition::new(Basis::Bead).with("CaO", 0.0866)?.with("MgO", 0.0014)?)?;
    /// assert_eq!(sample.sum()?.value(0), sample.value("CaO")? + sample.value("MgO")?);
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    pub fn sum(&self) -> Result<Propagated> {
        let weights: Vec<f64> = (0..self.plan.outputs().len())
            .map(|output| if (self.output(0)..self.output(self.count())).contains(&output) { 1.0 } else { 0.0 })
            .collect();
        self.propagated.combination(&weights)
    }

    /// The same bead on another basis and in another form.
    ///
    /// # Errors
    /// Those of [`BasisLinks::between`]; `factor.no-common-element` for a species that does not hold the element.
    ///
    /// ```
    /// use beadchem::{charge::{Charge, FluxLot, Form, Sample}, substance::Weights};
    /// use beadchem::composition::{Basis, BasisLinks, Composition};
    /// let lot = FluxLot::new("F-1", [("Li2B4O7", 1.0)], "1050 C, 18 min", 0.0035)?;
    /// let melt = Charge::new(Sample::dried(0.6604)?, lot.weigh_g(6.6031)?)?
    ///     .fuse_with_loss(&Weights::ciaaw_2024(), -0.02645)?;
    /// let sample = melt.undilute(&Composition::new(Basis::Bead).with("Fe2O3", 0.08912)?)?;
    /// let links = BasisLinks::default().moisture(0.0118)?;
    /// let ordered = sample.on(Basis::AsReceived, &links, &Form::Elements)?;
    /// assert!((ordered.value("Fe")? - sample.value("Fe2O3")? * 0.9882 / 1.42973).abs() < 1e-5);
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    pub fn on(&self, basis: Basis, links: &BasisLinks, form: &Form) -> Result<SampleResult> {
        let order = Order {
            readings: self.order.readings.clone(),
            lines: self.order.lines.clone(),
            basis: Some(basis),
            links: links.clone(),
            form: form.clone(),
        };
        Self::compute(&self.melt, order)
    }

    /// The results as a composition. Readings below detection in the glass keep their state, their limits taken back like
    /// values (unknown where flux and additions bring more than the limit); absent and unknown ones stay what they are. The covariance is not in it.
    ///
    /// # Errors
    /// None for a result that could be computed; kept fallible for the constructors.
    ///
    /// ```
    /// # use beadchem::{charge::{Charge, FluxLot, Sample}, composition::{Basis, Composition}, substance::Weights};
    /// # let lot = FluxLot::new("F-1", [("Li2B4O7", 1.0)], "1050 C, 18 min", 0.004)?;
    /// # let melt = Charge::new(Sample::dried(1.05)?, lot.weigh_g(6.0)?)?.fuse_with_loss(&Weights::ciaaw_2024(), 0.431)?;
    /// # let sample = melt.undilute(&Composition::new(Basis::Bead).with("CaO", 0.0866)?.with("MgO", 0.0014)?)?;
    /// assert_eq!(sample.composition()?.entries().len(), 2);
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    pub fn composition(&self) -> Result<Composition> {
        let entry = |species, cell| Entry { species, cell, separate_form: false, by_difference: false };
        if self.order.lines.is_some() {
            // what intensities lead to are values, all of them
            let value = |(k, species): (usize, &Formula)| {
                Ok(entry(species.clone(), self.propagated.estimate(self.output(k))?.into()))
            };
            let entries = self.plan.results.iter().enumerate().map(value).collect::<Result<_>>()?;
            return Ok(Composition::of_results(self.basis(), entries));
        }
        let mut values = self.plan.results.iter().enumerate();
        let mut limits = self.plan.limits.iter().enumerate();
        let mut entries = Vec::with_capacity(self.order.readings.entries().len());
        for reading in self.order.readings.entries() {
            let (species, cell) = match &reading.cell {
                Cell::Value(_) => {
                    let Some((k, species)) = values.next() else { continue };
                    (species.clone(), self.propagated.estimate(self.output(k))?.into())
                }
                Cell::Below { .. } => {
                    let Some((k, species)) = limits.next() else { continue };
                    let limit = self.propagated.value(self.output(self.count() + k));
                    (species.clone(), if limit > 0.0 { Cell::Below { limit } } else { Cell::Unknown })
                }
                other => (self.order.form.target_of(&reading.species)?, other.clone()),
            };
            entries.push(entry(species, cell));
        }
        Ok(Composition::of_results(self.basis(), entries))
    }

    /// Monte Carlo of the results, to be held against first order; they stand where [`output_of`](Self::output_of) says, and
    /// only they are drawn.
    ///
    /// # Errors
    /// Those of [`monte_carlo`](crate::uncertainty::monte_carlo); `matrix.singular`.
    ///
    /// ```
    /// # use beadchem::{charge::{Charge, FluxLot, Sample}, composition::{Basis, Composition}, substance::Weights};
    /// # let lot = FluxLot::new("F-1", [("Li2B4O7", 1.0)], "1050 C, 18 min", 0.004)?;
    /// # let melt = Charge::new(Sample::dried(1.05)?, lot.weigh_g(6.0)?)?.fuse_with_loss(&Weights::ciaaw_2024(), 0.431)?;
    /// # let sample = melt.undilute(&Composition::new(Basis::Bead).with("CaO", 0.0866)?.with("MgO", 0.0014)?)?;
    /// let options = beadchem::uncertainty::MonteCarloOptions { draws: 100, ..Default::default() };
    /// assert_eq!(sample.monte_carlo(&options)?.draws(), 100);
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    pub fn monte_carlo(&self, options: &MonteCarloOptions) -> Result<MonteCarlo> {
        Ok(draw(Draws::of(&self.plan)?, self.plan.inputs(), options)?.behind(self.output(0)))
    }

    /// The fused charge behind it.
    ///
    /// ```
    /// # use beadchem::{charge::{Charge, FluxLot, Sample}, composition::{Basis, Composition}, substance::Weights};
    /// # let lot = FluxLot::new("F-1", [("Li2B4O7", 1.0)], "1050 C, 18 min", 0.004)?;
    /// # let melt = Charge::new(Sample::dried(1.05)?, lot.weigh_g(6.0)?)?.fuse_with_loss(&Weights::ciaaw_2024(), 0.431)?;
    /// # let sample = melt.undilute(&Composition::new(Basis::Bead).with("CaO", 0.0866)?.with("MgO", 0.0014)?)?;
    /// assert!((sample.melt().dilution().value() - 6.26).abs() < 0.001);
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn melt(&self) -> &Melt {
        &self.melt
    }

    /// The compiled plan behind it, to run again on other numbers.
    ///
    /// ```
    /// # use beadchem::{charge::{Charge, FluxLot, Sample}, composition::{Basis, Composition}, substance::Weights};
    /// # let lot = FluxLot::new("F-1", [("Li2B4O7", 1.0)], "1050 C, 18 min", 0.004)?;
    /// # let melt = Charge::new(Sample::dried(1.05)?, lot.weigh_g(6.0)?)?.fuse_with_loss(&Weights::ciaaw_2024(), 0.431)?;
    /// # let sample = melt.undilute(&Composition::new(Basis::Bead).with("CaO", 0.0866)?.with("MgO", 0.0014)?)?;
    /// assert_eq!(sample.plan().outputs()[3], "dilution");
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn plan(&self) -> &Plan {
        &self.plan
    }

    /// All outputs of the plan with their covariance.
    ///
    /// ```
    /// # use beadchem::{charge::{Charge, FluxLot, Sample}, composition::{Basis, Composition}, substance::Weights};
    /// # let lot = FluxLot::new("F-1", [("Li2B4O7", 1.0)], "1050 C, 18 min", 0.004)?;
    /// # let melt = Charge::new(Sample::dried(1.05)?, lot.weigh_g(6.0)?)?.fuse_with_loss(&Weights::ciaaw_2024(), 0.431)?;
    /// # let sample = melt.undilute(&Composition::new(Basis::Bead).with("CaO", 0.0866)?.with("MgO", 0.0014)?)?;
    /// assert_eq!(sample.propagated().value(sample.output_of("CaO")?), sample.value("CaO")?);
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn propagated(&self) -> &Propagated {
        &self.propagated
    }

    /// Notes, warnings and cautions of melt and results.
    ///
    /// ```
    /// # use beadchem::{charge::{Charge, FluxLot, Sample}, composition::{Basis, Composition}, substance::Weights};
    /// # let lot = FluxLot::new("F-1", [("Li2B4O7", 1.0)], "1050 C, 18 min", 0.004)?;
    /// # let melt = Charge::new(Sample::dried(1.05)?, lot.weigh_g(6.0)?)?.fuse_with_loss(&Weights::ciaaw_2024(), 0.431)?;
    /// # let sample = melt.undilute(&Composition::new(Basis::Bead).with("CaO", 0.0866)?.with("MgO", 0.0014)?)?;
    /// assert!(sample.findings().iter().any(|finding| finding.code.word() == "uncertainty.unstated"));
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn findings(&self) -> Vec<Finding> {
        self.melt.findings().iter().chain(&self.own_findings).cloned().collect()
    }

    /// The same readings of another melt, on the basis of its weighing and as they were read.
    pub(crate) fn read_again(&self, melt: &Melt) -> Result<Self> {
        let (readings, lines) = (self.order.readings.clone(), self.order.lines.clone());
        let (links, form) = (BasisLinks::default(), Form::AsRead);
        Self::compute(melt, Order { readings, lines, basis: None, links, form })
    }

    /// The bead as it was solved, with its equation; nothing for readings of the glass.
    pub(crate) fn solved(&self) -> Option<(&Solved, &Equation)> {
        self.solved.as_ref().zip(self.plan.kernel.lines.as_ref().map(|lines| &lines.equation))
    }

    /// What was read, as it was written.
    pub(crate) fn readings(&self) -> Vec<String> {
        self.order.readings.entries().iter().map(|entry| entry.species.text().to_owned()).collect()
    }

    /// These results as others are read: their basis and form.
    pub(crate) fn read_as(&self, other: &Self) -> Result<Self> {
        match other.order.basis {
            Some(basis) => self.on(basis, &other.order.links, &other.order.form),
            None => Ok(self.clone()),
        }
    }

    /// Those that the results add to the melt's.
    pub(crate) fn own_findings(&self) -> &[Finding] {
        &self.own_findings
    }
}

/// A result of more than 100 %: right for the oxide of a metal or sulfide, up to what the pure element gives.
pub(crate) fn above_whole(species: &Formula, weights: &Weights, value: f64) -> Finding {
    // of what the species says without its oxygen
    let grams = |with_oxygen: bool| -> f64 {
        let atoms = species.atoms().iter().filter(|(element, _)| with_oxygen || element.symbol() != "O");
        atoms.filter_map(|(element, count)| Some(weights.get(element.symbol()).ok()?.weight.value() * count)).sum()
    };
    let most = grams(true) / grams(false);
    let percent = percent_short(value);
    // a pure element may be read a little high
    const SCATTER: f64 = 1.01;
    let impossible = value > SCATTER * most;
    let pure = species.key().map_or("the pure element".to_owned(), |element| format!("pure {}", element.symbol()));
    let text = if impossible {
        format!(
            "{species} is {percent}, more than {pure} gives ({}): no sample holds that. Is a rate, a mass or a content in another \
             unit than stated?",
            percent_short(most)
        )
    } else {
        format!(
            "{species} is {percent}, more than the whole sample: right only where a metal or sulfide is written as oxide. Is the \
             reading in the stated unit?"
        )
    };
    let bound = if impossible { most } else { 1.0 };
    Finding::new(Code::ResultAboveWhole, species.text(), text).with_value(value).with_bound(bound)
}

/// That a detection limit of the glass says nothing of the sample.
pub(crate) fn limit_under_blank(species: &str) -> Finding {
    let text = format!(
        "{species} is below detection in the glass, and flux or additions bring more than that limit: no limit for the sample \
         follows."
    );
    Finding::new(Code::LimitUnderBlank, species, text)
}

/// That every u leaves out what these inputs may do, whose own u nobody stated; nothing where there are none.
pub(crate) fn unstated_u(mut names: Vec<&str>) -> Option<Finding> {
    names.sort_unstable();
    names.dedup();
    let text = || format!("No uncertainty was stated for {}; every u is \"at least\".", names.join(", "));
    (!names.is_empty()).then(|| Finding::new(Code::UncertaintyUnstated, "uncertainty", text()))
}
