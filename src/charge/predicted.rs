//! The loss that a composition predicts: its parts, its uncertainty, and an observed loss held against it.

use crate::charge::ignition::{GASES, Ignition, LOSS};
use crate::code::Code;
use crate::composition::unit::{percent_short, percent_text};
use crate::composition::{LossOnIgnition, Unit};
use crate::error::Result;
use crate::finding::Finding;
use crate::table::{self, Column, Table};
use crate::uncertainty::{Budget, Propagated, multiple_of_u};

/// One species of the powder and what became of it, g per g of dried powder.
///
/// ```
/// # use beadchem::{charge::{Fate, Ignition}, composition::{Atmosphere, Basis, Composition}, substance::Weights};
/// # let furnace = Ignition::new(1000.0, Atmosphere::Air, Fate::new())?;
/// let calcite = Composition::new(Basis::Dried).with("CaCO3", 1.0)?;
/// let predicted = furnace.predict(&calcite, &Weights::ciaaw_2024())?;
/// assert_eq!(format!("{:.4}", predicted.lines()[0].lost), "0.4397");
/// # Ok::<(), beadchem::Error>(())
/// ```
#[derive(Debug, Clone, PartialEq)]
pub struct LossLine {
    /// The species as declared.
    pub species: String,
    /// Its content.
    pub content: f64,
    /// What left as gas, oxygen given off included.
    pub lost: f64,
    /// Oxygen taken up.
    pub gained: f64,
    /// Its part of the signed loss: lost less gained.
    pub net: f64,
}

/// One gas that left, g per g of dried powder.
///
/// ```
/// # use beadchem::{charge::{Fate, Ignition}, composition::{Atmosphere, Basis, Composition}, substance::Weights};
/// # let furnace = Ignition::new(1000.0, Atmosphere::Air, Fate::new())?;
/// let calcite = Composition::new(Basis::Dried).with("CaCO3", 1.0)?;
/// assert_eq!(furnace.predict(&calcite, &Weights::ciaaw_2024())?.gases()[0].gas, "CO2");
/// # Ok::<(), beadchem::Error>(())
/// ```
#[derive(Debug, Clone, PartialEq)]
pub struct GasLost {
    /// Its formula.
    pub gas: String,
    /// Its mass.
    pub content: f64,
}

/// The loss that a composition predicts, with its parts.
///
/// ```
/// use beadchem::{charge::{Fate, Ignition}, composition::{Atmosphere, Basis, Composition}, substance::Weights};
/// let furnace = Ignition::new(1000.0, Atmosphere::Air, Fate::new().lose("S", "SO2")?)?;
/// let pyrite = Composition::new(Basis::Dried).with("FeS2", 1.0)?;
/// let predicted = furnace.predict(&pyrite, &Weights::ciaaw_2024())?;
/// assert_eq!(format!("{:.4}", predicted.loss()), "0.3344"); // loss and gain together
/// # Ok::<(), beadchem::Error>(())
/// ```
#[derive(Debug, Clone)]
pub struct PredictedLoss {
    pub(super) ignition: Ignition,
    pub(super) propagated: Propagated,
    pub(super) lines: Vec<LossLine>,
    pub(super) gases: Vec<GasLost>,
    pub(super) findings: Vec<Finding>,
}

/// An observed loss held against the predicted one.
///
/// ```
/// # use beadchem::{charge::{Fate, Ignition}, composition::{Atmosphere, Basis, Composition}, substance::Weights};
/// use beadchem::{composition::LossOnIgnition, uncertainty::Estimate};
/// # let furnace = Ignition::new(1000.0, Atmosphere::Air, Fate::new())?;
/// let ore = Composition::new(Basis::Dried).with("FeO", Estimate::new(0.26, 0.001)?)?;
/// let observed = LossOnIgnition::new(Estimate::new(-0.02645, 0.0002)?, 1000.0)?;
/// let explained = furnace.predict(&ore, &Weights::ciaaw_2024())?.explain(&observed, 4.0)?;
/// assert_eq!(format!("{:.4}", explained.volatile), "0.0025"); // hidden behind the gain
/// # Ok::<(), beadchem::Error>(())
/// ```
#[derive(Debug, Clone, PartialEq)]
pub struct Explained {
    /// As observed, signed.
    pub observed: f64,
    /// As predicted, signed.
    pub predicted: f64,
    /// Observed less predicted.
    pub difference: f64,
    /// Standard uncertainty of the difference; "at least" where an input has none stated.
    pub u: f64,
    /// What really left: observed plus the predicted uptake of oxygen.
    pub volatile: f64,
    /// Its standard uncertainty.
    pub u_volatile: f64,
    /// Inputs without a stated uncertainty.
    pub unstated: Vec<String>,
    /// `loss.differs` where the difference is more than k u; a note where that cannot be judged.
    pub findings: Vec<Finding>,
}

impl PredictedLoss {
    /// The loss, g per g of dried powder; a gain is negative.
    ///
    /// ```
    /// # use beadchem::{charge::{Fate, Ignition}, composition::{Atmosphere, Basis, Composition}, substance::Weights};
    /// # let furnace = Ignition::new(1000.0, Atmosphere::Air, Fate::new())?;
    /// let calcite = Composition::new(Basis::Dried).with("CaCO3", 1.0)?;
    /// assert_eq!(format!("{:.4}", furnace.predict(&calcite, &Weights::ciaaw_2024())?.loss()), "0.4397");
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn loss(&self) -> f64 {
        self.propagated.value(LOSS)
    }

    /// Its standard uncertainty; "at least" where an input has none stated.
    ///
    /// ```
    /// # use beadchem::{charge::{Fate, Ignition}, composition::{Atmosphere, Basis, Composition}, substance::Weights};
    /// use beadchem::uncertainty::Estimate;
    /// # let furnace = Ignition::new(1000.0, Atmosphere::Air, Fate::new())?;
    /// let calcite = Composition::new(Basis::Dried).with("CaCO3", Estimate::new(0.97, 0.01)?)?;
    /// assert!((furnace.predict(&calcite, &Weights::ciaaw_2024())?.u() - 0.0044).abs() < 1e-5);
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn u(&self) -> f64 {
        self.propagated.u(LOSS)
    }

    /// Oxygen taken up by all species, g per g of dried powder; negative where more is given off.
    ///
    /// ```
    /// # use beadchem::{charge::{Fate, Ignition}, composition::{Atmosphere, Basis, Composition}, substance::Weights};
    /// # let furnace = Ignition::new(1000.0, Atmosphere::Air, Fate::new())?;
    /// let iron = Composition::new(Basis::Dried).with("Fe", 1.0)?;
    /// assert_eq!(format!("{:.4}", furnace.predict(&iron, &Weights::ciaaw_2024())?.gained()), "0.4297");
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn gained(&self) -> f64 {
        self.propagated.value(GASES) - self.propagated.value(LOSS)
    }

    /// Species by species; their `net` adds up to the loss.
    ///
    /// ```
    /// # use beadchem::{charge::{Fate, Ignition}, composition::{Atmosphere, Basis, Composition}, substance::Weights};
    /// # let furnace = Ignition::new(1000.0, Atmosphere::Air, Fate::new())?;
    /// let ore = Composition::new(Basis::Dried).with("CaCO3", 0.5)?.with("Fe", 0.5)?;
    /// let predicted = furnace.predict(&ore, &Weights::ciaaw_2024())?;
    /// let sum: f64 = predicted.lines().iter().map(|line| line.net).sum();
    /// assert!((sum - predicted.loss()).abs() < 1e-15);
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn lines(&self) -> &[LossLine] {
        &self.lines
    }

    /// The gases that left.
    ///
    /// ```
    /// # use beadchem::{charge::{Fate, Ignition}, composition::{Atmosphere, Basis, Composition}, substance::Weights};
    /// # let furnace = Ignition::new(1000.0, Atmosphere::Air, Fate::new())?;
    /// let goethite = Composition::new(Basis::Dried).with("FeO(OH)", 1.0)?;
    /// assert_eq!(format!("{:.4}", furnace.predict(&goethite, &Weights::ciaaw_2024())?.gases()[0].content), "0.1014");
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn gases(&self) -> &[GasLost] {
        &self.gases
    }

    /// What was assumed.
    ///
    /// ```
    /// # use beadchem::{charge::{Fate, Ignition}, composition::{Atmosphere, Basis, Composition}, substance::Weights};
    /// # let furnace = Ignition::new(1000.0, Atmosphere::Air, Fate::new())?;
    /// let part = Composition::new(Basis::Dried).with("CaCO3", 0.98)?;
    /// let findings = furnace.predict(&part, &Weights::ciaaw_2024())?.findings().to_vec();
    /// assert!(findings.iter().any(|finding| finding.code.word() == "composition.remainder"));
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn findings(&self) -> &[Finding] {
        &self.findings
    }

    /// Where the uncertainty of the loss comes from.
    ///
    /// ```
    /// # use beadchem::{charge::{Fate, Ignition}, composition::{Atmosphere, Basis, Composition}, substance::Weights};
    /// use beadchem::uncertainty::Estimate;
    /// # let furnace = Ignition::new(1000.0, Atmosphere::Air, Fate::new())?;
    /// let calcite = Composition::new(Basis::Dried).with("CaCO3", Estimate::new(0.97, 0.01)?)?;
    /// let budget = furnace.predict(&calcite, &Weights::ciaaw_2024())?.budget();
    /// assert_eq!(budget.rows()[0].name, "CaCO3 in the sample");
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn budget(&self) -> Budget {
        self.propagated.budget(LOSS)
    }

    /// Holds an observed loss against this one, by k times the uncertainty of the difference, and says what really left.
    ///
    /// # Errors
    /// `number.out-of-range` for a k not above zero; `basis.mismatch` where the observed loss is of another temperature
    /// or atmosphere.
    ///
    /// ```
    /// # use beadchem::{charge::{Fate, Ignition}, composition::{Atmosphere, Basis, Composition}, substance::Weights};
    /// use beadchem::{composition::LossOnIgnition, uncertainty::Estimate};
    /// # let furnace = Ignition::new(1000.0, Atmosphere::Air, Fate::new())?;
    /// let calcite = Composition::new(Basis::Dried).with("CaCO3", Estimate::new(0.97, 0.001)?)?;
    /// let predicted = furnace.predict(&calcite, &Weights::ciaaw_2024())?;
    /// let observed = LossOnIgnition::new(Estimate::new(0.44, 0.0002)?, 1000.0)?;
    /// assert_eq!(predicted.explain(&observed, 4.0)?.findings[0].code.word(), "loss.differs");
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    pub fn explain(&self, observed: &LossOnIgnition, k: f64) -> Result<Explained> {
        multiple_of_u(k)?;
        self.ignition.check_observed(observed)?;
        let (loss, taken_up) = (observed.loss(), self.gained());
        let own = loss.u().unwrap_or(0.0);
        // gained = gases - loss
        let u_gained = (self.propagated.covariance(GASES, GASES) + self.propagated.covariance(LOSS, LOSS)
            - 2.0 * self.propagated.covariance(GASES, LOSS))
        .max(0.0);
        let (difference, u) = (loss.value() - self.loss(), self.u().hypot(own));
        let mut unstated: Vec<String> = self.propagated.unstated(LOSS).iter().map(|name| (*name).to_owned()).collect();
        if loss.u().is_none() {
            unstated.push("loss on ignition".to_owned());
        }
        let mut findings = Vec::new();
        if !unstated.is_empty() {
            let text = format!(
                "Observed {} and predicted {} cannot be judged: no uncertainty was stated for {}.",
                percent_text(loss.value()),
                percent_short(self.loss()),
                unstated.join(", ")
            );
            findings.push(Finding::new(Code::UncertaintyUnstated, "loss on ignition", text).with_value(difference));
        }
        if unstated.is_empty() && difference.abs() > k * u {
            let cause = if difference > 0.0 {
                "More left than declared: moisture, organics, a species not declared, or a loss mistyped?"
            } else {
                "Less left than declared: ignition not complete, a residue that took up water and CO2 again, or a gain?"
            };
            let text = format!(
                "Loss on ignition {} differs from the predicted {} by {} (u {}, limit {k} u). {cause}",
                percent_text(loss.value()),
                percent_short(self.loss()),
                percent_short(difference),
                percent_short(u)
            );
            let finding = Finding::new(Code::LossDiffers, "loss on ignition", text).with_value(difference).with_u(u);
            findings.push(finding.with_bound(k * u));
        }
        Ok(Explained {
            observed: loss.value(),
            predicted: self.loss(),
            difference,
            u,
            volatile: loss.value() + taken_up,
            u_volatile: own.hypot(u_gained.sqrt()),
            unstated,
            findings,
        })
    }

    /// Species by species in per cent: what left, what was taken up, what the furnace shows of it.
    ///
    /// ```
    /// # use beadchem::{charge::{Fate, Ignition}, composition::{Atmosphere, Basis, Composition}, substance::Weights};
    /// # let furnace = Ignition::new(1000.0, Atmosphere::Air, Fate::new())?;
    /// let calcite = Composition::new(Basis::Dried).with("CaCO3", 1.0)?;
    /// assert!(furnace.predict(&calcite, &Weights::ciaaw_2024())?.table().to_string().contains("taken up"));
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn table(&self) -> Table {
        const DECIMALS: u8 = 3;
        let unit = Unit::Percent;
        let number = |value: f64| table::Cell::number(unit.written(value), DECIMALS);
        let mut shown = ["content", "left", "oxygen taken up", "part of the loss"]
            .iter()
            .fold(
                Table::new("Loss on ignition by species")
                    .head(format!(
                        "{} C, {}; % of dried powder",
                        self.ignition.temperature_c,
                        self.ignition.atmosphere.word()
                    ))
                    .column(Column::text("species")),
                |table, title| table.column(Column::number(*title, unit.word())),
            )
            .rows(self.lines.iter().map(|line| {
                let numbers = [line.content, line.lost, line.gained, line.net].map(number);
                core::iter::once(table::Cell::text(line.species.as_str())).chain(numbers).collect::<Vec<_>>()
            }));
        let lost: f64 = self.lines.iter().map(|line| line.lost).sum();
        let gained: f64 = self.lines.iter().map(|line| line.gained).sum();
        let content: f64 = self.lines.iter().map(|line| line.content).sum();
        let numbers = [content, lost, gained, self.loss()].map(number);
        shown = shown.row(core::iter::once(table::Cell::text("all")).chain(numbers));
        for gas in &self.gases {
            shown = shown.note(format!("{}: {}", gas.gas, percent_short(gas.content)));
        }
        self.findings.iter().fold(shown, |table, finding| table.note(finding.to_string()))
    }
}
