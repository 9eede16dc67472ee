//! Melts, books and results as tables: what a person reads, from the numbers and nothing else.

use crate::charge::ledger::Ledger;
use crate::charge::melt::Melt;
use crate::charge::result::{NOT_INCLUDED, SampleResult};
use crate::charge::weighed::BeadMassCheck;
use crate::composition::unit::milligrams;
use crate::composition::{self, Unit, below_text};
use crate::error::Result;
use crate::table::{Cell, Column, Table};
use crate::uncertainty::Propagated;

/// A value with its u, in a unit of so many per one; says "at least" where an input has no u stated.
fn measured(propagated: &Propagated, output: usize, per_one: f64) -> Cell {
    let (value, u) = (propagated.value(output) * per_one, propagated.u(output) * per_one);
    // A u that only rounding or atomic weights leave would print the noise of the value.
    const NOISE: f64 = 1e-9;
    const ATOMIC_WEIGHTS: f64 = 2e-5;
    const DIGITS: u8 = 6;
    const DECIMALS: u8 = 4;
    if propagated.unstated(output).is_empty() {
        if u > NOISE * value.abs() { Cell::measured(value, u) } else { Cell::significant(value, DIGITS) }
    } else if u > ATOMIC_WEIGHTS * value.abs() {
        Cell::at_least(value, u)
    } else {
        Cell::unstated(value, DECIMALS)
    }
}

impl Melt {
    /// Glass mass, ratios and loss on fusion with their uncertainties.
    ///
    /// ```
    /// # use beadchem::{charge::{Charge, FluxLot, Sample}, substance::Weights};
    /// # let lot = FluxLot::new("F-1", [("Li2B4O7", 1.0)], "1050 C, 18 min", 0.004)?;
    /// let melt = Charge::new(Sample::dried(1.05)?, lot.weigh_g(6.0)?)?.fuse_with_loss(&Weights::ciaaw_2024(), 0.431)?;
    /// assert!(melt.table().to_string().contains("dilution"));
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn table(&self) -> Table {
        let per_cent = Unit::Percent;
        let units = [("g", 1.0), ("g/g", 1.0), ("g/g", 1.0), ("g/g", 1.0), (per_cent.word(), per_cent.per_one())];
        let lines = ["flux as weighed per sample", "flux after its loss per sample", "glass per sample"];
        let meanings = ["predicted", lines[0], lines[1], lines[2], "signed, per sample as weighed"];
        let rows = (0..units.len()).map(|output| {
            [
                Cell::text(self.plan().outputs()[output].as_str()),
                measured(self.propagated(), output, units[output].1),
                Cell::text(units[output].0),
                Cell::text(meanings[output]),
            ]
        });
        let table = Table::new("Melt")
            .head(format!(
                "sample weighed {}; atomic weights {}",
                self.charge().sample().basis(),
                self.weights().version_name()
            ))
            .column(Column::text("quantity"))
            .column(Column::number("value", "").with_uncertainty("u"))
            .column(Column::text("unit"))
            .column(Column::text("meaning"))
            .rows(rows);
        self.findings().iter().fold(table, |table, finding| table.note(finding.to_string()))
    }
}

impl Ledger {
    /// Every element in grams: what came in, what stayed, what left and as what.
    ///
    /// ```
    /// # use beadchem::{charge::{Charge, FluxLot, Sample}, substance::Weights};
    /// # let lot = FluxLot::new("F-1", [("Li2B4O7", 1.0)], "1050 C, 18 min", 0.004)?;
    /// let melt = Charge::new(Sample::dried(1.05)?, lot.weigh_g(6.0)?)?.fuse_with_loss(&Weights::ciaaw_2024(), 0.431)?;
    /// assert!(melt.ledger().table().to_string().contains("stayed"));
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn table(&self) -> Table {
        // A tenth of a milligram is what a balance shows; two digits more keep the books legible.
        const DECIMALS: u8 = 6;
        let grams = |value: f64| Cell::number(value, DECIMALS);
        let rows = self.elements.iter().map(|line| {
            [
                Cell::text(line.element.symbol()),
                grams(line.from_sample_g),
                grams(line.from_flux_g),
                grams(line.from_additions_g),
                grams(line.from_air_g),
                grams(line.stayed_g),
                Cell::text(line.stays_as.as_deref().unwrap_or("")),
                grams(line.left_g + line.flux_loss_g),
                Cell::text(line.left_as.join(", ")),
            ]
        });
        let mut table = ["sample", "flux", "additions", "air", "stayed"]
            .iter()
            .fold(
                Table::new("Books of the fusion").head("g of each element").column(Column::text("element")),
                |table, title| table.column(Column::number(*title, "g")),
            )
            .column(Column::text("as"))
            .column(Column::number("left", "g"))
            .column(Column::text("in"))
            .rows(rows);
        if !self.itemised {
            table = table.note(format!(
                "Only a loss on fusion was stated: {:.4} g of sample and its loss of {:.4} g are in the masses, not in the elements.",
                self.sample_g, self.stated_loss_g
            ));
        }
        for gas in &self.gases {
            let word = if gas.mass_g < 0.0 { "taken up" } else { "left" };
            table = table.note(format!("{} {word}: {:.6} g", gas.gas, gas.mass_g.abs()));
        }
        let air = if self.oxygen.from_air_g < 0.0 { "given off" } else { "taken from the air" };
        table
            .note(format!(
                "oxygen: demand {:.6} g, from the oxidant {:.6} g, {air} {:.6} g",
                self.oxygen.demand_g,
                self.oxygen.from_oxidant_g + 0.0,
                self.oxygen.from_air_g.abs()
            ))
            .note(format!(
                "flux loss {:.6} g; unnamed part of the sample {:.6} g, of the flux {:.6} g",
                self.flux_loss_g, self.unnamed_g, self.flux_unnamed_g
            ))
            .note(format!("everything in less everything out: {:.1e} g", self.imbalance_g()))
    }
}

impl SampleResult {
    /// The results with their uncertainties in a unit; basis and evaluation in the head, findings below.
    ///
    /// # Errors
    /// None for a result that could be computed; kept fallible for the sum.
    ///
    /// ```
    /// # use beadchem::{charge::{Charge, FluxLot, Sample}, composition::{Basis, Composition, Unit}, substance::Weights};
    /// # let lot = FluxLot::new("F-1", [("Li2B4O7", 1.0)], "1050 C, 18 min", 0.004)?;
    /// let melt = Charge::new(Sample::dried(1.05)?, lot.weigh_g(6.0)?)?.fuse_with_loss(&Weights::ciaaw_2024(), 0.431)?;
    /// let sample = melt.undilute(&Composition::new(Basis::Bead).with("CaO", 0.0866)?)?;
    /// assert!(sample.table(Unit::Percent)?.to_string().contains("basis: dried"));
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    pub fn table(&self, unit: Unit) -> Result<Table> {
        let per_one = unit.per_one();
        let (first, last) = (self.output(0), self.output(self.count()));
        let rows = (first..last).map(|output| {
            [Cell::text(self.plan().outputs()[output].as_str()), measured(self.propagated(), output, per_one)]
        });
        // readings below detection and unknown ones keep their state
        let composition = self.composition()?;
        let others = composition.entries().iter().filter_map(|entry| {
            let state = match &entry.cell {
                composition::Cell::Value(_) => return None,
                composition::Cell::Below { limit } => below_text(unit.written(*limit)),
                other => other.word().to_owned(),
            };
            Some([Cell::text(entry.species.text()), Cell::missing(state)])
        });
        let sum = self.sum()?;
        let mut table = Table::new("Sample")
            .head(format!("basis: {}", self.basis()))
            .head(self.evaluation().text())
            .head(format!("atomic weights: {}", self.melt().weights().version_name()))
            .column(Column::text("analyte"))
            .column(Column::number("w", unit.word()).with_uncertainty("u"))
            .rows(rows)
            .rows(others)
            .row([Cell::text("sum, no loss counted"), measured(&sum, 0, per_one)]);
        for finding in self.own_findings() {
            table = table.note(finding.to_string());
        }
        Ok(table)
    }

    /// The ranked parts of the uncertainty of one result, with what is in no budget.
    ///
    /// # Errors
    /// `species.unknown`.
    ///
    /// ```
    /// # use beadchem::{charge::{Charge, FluxLot, Sample}, composition::{Basis, Composition, Unit}, substance::Weights};
    /// # let lot = FluxLot::new("F-1", [("Li2B4O7", 1.0)], "1050 C, 18 min", 0.004)?;
    /// let melt = Charge::new(Sample::dried(1.05)?, lot.weigh_g(6.0)?)?.fuse_with_loss(&Weights::ciaaw_2024(), 0.431)?;
    /// let sample = melt.undilute(&Composition::new(Basis::Bead).with("CaO", 0.0866)?)?;
    /// assert!(sample.budget_table("CaO", Unit::Percent)?.to_string().contains("not included: sampling"));
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    pub fn budget_table(&self, species: &str, unit: Unit) -> Result<Table> {
        let budget = self.budget(species)?;
        let title = format!("Budget of {species}");
        Ok(budget
            .table(&title, unit.word(), unit.per_one())
            .head(format!("basis: {}", self.basis()))
            .note(NOT_INCLUDED))
    }
}

impl BeadMassCheck {
    /// Predicted and weighed mass side by side.
    ///
    /// ```
    /// # use beadchem::{charge::{Charge, FluxLot, Sample}, substance::Weights};
    /// # let lot = FluxLot::new("F-1", [("Li2B4O7", 1.0)], "1050 C, 18 min", 0.004)?;
    /// let melt = Charge::new(Sample::dried(1.05)?, lot.weigh_g(6.0)?)?.fuse_with_loss(&Weights::ciaaw_2024(), 0.431)?;
    /// assert!(melt.check_bead_mass(6.57, 4.0)?.table().to_string().contains("predicted"));
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn table(&self) -> Table {
        const DECIMALS: u8 = 4;
        let difference = milligrams(self.difference_g);
        let u = milligrams(self.u_g);
        let difference =
            if self.unstated.is_empty() { Cell::measured(difference, u) } else { Cell::at_least(difference, u) };
        let table = Table::new("Bead mass")
            .column(Column::text("mass"))
            .column(Column::number("value", "").with_uncertainty("u"))
            .column(Column::text("unit"))
            .row([Cell::text("predicted"), Cell::number(self.predicted_g, DECIMALS), Cell::text("g")])
            .row([Cell::text("weighed"), Cell::number(self.weighed_g, DECIMALS), Cell::text("g")])
            .row([Cell::text("weighed less predicted"), difference, Cell::text("mg")]);
        let table = if self.unstated.is_empty() {
            table
        } else {
            table.note(format!("u is \"at least\": none was stated for {}", self.unstated.join(", ")))
        };
        self.findings.iter().fold(table, |table, finding| table.note(finding.to_string()))
    }
}
