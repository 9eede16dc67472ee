//! What is wrong or remarkable with single rows. A screen over whole columns finds whom to look at; only those are looked at
//! one by one, by the very functions that a single bead meets.

use std::collections::HashSet;
use std::ops::Range;
use std::sync::Arc;

use crate::batch::cells::{Cells, Places};
use crate::batch::column::Columns;
use crate::batch::corrected::RowFinding;
use crate::batch::correction::Correction;
use crate::batch::field::{Cells as Kind, Quantity, Spread};
use crate::batch::group::Group;
use crate::batch::options::RunOptions;
use crate::batch::told::Told;
use crate::charge::Mass;
use crate::code::Code;
use crate::composition::unit::percent_short;
use crate::composition::{BasisLinks, LossOnIgnition, Unit};
use crate::error::{Error, Result};
use crate::finding::Finding;
use crate::uncertainty::Estimate;

/// The checks of one table.
pub(crate) struct Checker<'a, 't> {
    correction: &'a Correction,
    cells: &'a Cells<'t>,
    places: Places,
    first_row: u64,
    /// Rows whose bead id occurs more than once, or all ids that do.
    doubled: Doubled<'a>,
    /// Grams of Fe2O3 per gram of FeO.
    per_ferrous: f64,
    species: Arc<[String]>,
}

enum Doubled<'a> {
    Nobody,
    Places(HashSet<u32>),
    Names(&'a HashSet<String>),
}

impl<'a, 't> Checker<'a, 't> {
    pub(crate) fn new(
        correction: &'a Correction,
        cells: &'a Cells<'t>,
        table: &Columns<'_>,
        options: &RunOptions<'a>,
    ) -> Result<Self> {
        let places = Places::of(correction);
        let doubled = match (options.doubled, places.bead.and_then(|place| cells.words(place))) {
            (_, None) => Doubled::Nobody,
            (Some(names), Some(_)) => Doubled::Names(names),
            (None, Some(words)) => {
                let mut seen = vec![false; words.dictionary().len()];
                let twice = |place: &u32| core::mem::replace(&mut seen[*place as usize], true);
                Doubled::Places(words.places().iter().flatten().copied().filter(twice).collect())
            }
        };
        let per_ferrous = correction.per_ferrous()?;
        let species = correction.species()?;
        Ok(Self { correction, cells, places, first_row: table.first_row(), doubled, per_ferrous, species })
    }

    fn number(&self, row: usize) -> u64 {
        self.first_row + row as u64
    }

    /// What is wrong with the cells of a chunk.
    pub(crate) fn inputs(&self, first: usize, rows: usize, told: &mut Told) {
        let range = first..first + rows;
        let from = self.cells.told.partition_point(|held| held.row < first);
        for held in self.cells.told[from..].iter().take_while(|held| held.row < range.end) {
            let number = self.number(held.row);
            told.say(
                held.row - first,
                match &held.what {
                    Ok(finding) => RowFinding::new(number, finding),
                    Err(error) => RowFinding::refused(number, error),
                },
            );
        }
        for (place, field) in self.correction.fields.iter().enumerate() {
            let bounds = match (&field.quantity, field.quantity.cells()) {
                (_, Kind::Words) => continue,
                (quantity, Kind::Mass) => mass_of(quantity).bounds(),
                (Quantity::LossOnIgnition | Quantity::LossOnFusion, _) => LOSS,
                (Quantity::Moisture, _) => [0.0, WHOLE_BUT_A_BIT],
                (Quantity::FluxLoss, _) => [0.0, self.highest_flux_loss()],
                (Quantity::Known(_) | Quantity::External(_), _) => [0.0, 1.0],
                (Quantity::Intensity(_), _) => [0.0, f64::MAX],
                (_, _) => [f64::MIN, f64::MAX],
            };
            let missing = matches!(field.quantity.cells(), Kind::Mass) && field.quantity != Quantity::BeadMass;
            if self.cells.is_missing(place) || !self.cells.stands_out(place, range.clone(), bounds, missing) {
                continue;
            }
            for row in range.clone() {
                self.cell(place, row, missing, row - first, told);
            }
        }
        self.pairs(range.clone(), first, told);
        self.ids(range, first, told);
    }

    /// One cell, by the functions that a single bead meets.
    fn cell(&self, place: usize, row: usize, missing: bool, at: usize, told: &mut Told) {
        let field = &self.correction.fields[place];
        let number = self.number(row);
        let Some(value) = self.cells.number(place, row) else {
            // what was written and refused is told already
            let known = self.cells.told.iter().any(|held| held.row == row && held.field == place);
            if missing && !known {
                told.refuse(at, number, &self.no_mass(place, number));
            }
            return;
        };
        let checked = match (&field.quantity, field.quantity.cells()) {
            (_, Kind::Mass) if !value.is_finite() => Err(self.no_mass(place, number)),
            (quantity, Kind::Mass) => self.estimate(place, row, value).and_then(|mass| {
                let kind = mass_of(quantity);
                kind.check(mass).map(|_| ())
            }),
            _ if !value.is_finite() => crate::error::finite(&capital(&field.quantity.in_words()), value).map(|_| ()),
            (Quantity::LossOnIgnition, _) => self
                .estimate(place, row, value)
                .and_then(|loss| LossOnIgnition::new(loss, SOME_TEMPERATURE_C).map(|_| ())),
            (Quantity::LossOnFusion, _) => self
                .estimate(place, row, value)
                .and_then(|loss| crate::composition::signed_loss("Loss on fusion", &loss).map(|_| ())),
            (Quantity::Moisture, _) => self
                .estimate(place, row, value)
                .and_then(|moisture| BasisLinks::default().moisture(moisture).map(|_| ())),
            (Quantity::FluxLoss, _) => self.flux_loss(place, row, value),
            (Quantity::Known(_) | Quantity::External(_), _) => {
                let hint = "Per cent or mg/kg in one column? Declare the unit of the column.";
                let quantity = format!("{} in {},", capital(&field.quantity.in_words()), field.name());
                let written = self.cells.as_written(place, row);
                let most = Unit::Fraction.fraction(1.0);
                let bounds = [0.0, field.scale().outside(most)];
                crate::error::within(&quantity, written, unit_of(field.unit()), bounds, "0 to the whole sample", hint)
                    .map(|_| ())
            }
            (Quantity::Intensity(line), _) => {
                if value < 0.0 {
                    let text = format!(
                        "{line}: net intensity {value} cps is below zero: kept as it is for averages, the result is below detection."
                    );
                    let finding = Finding::new(Code::IntensityNegative, line.as_str(), text).with_value(value);
                    told.say(at, RowFinding::new(number, &finding.with_bound(0.0)));
                }
                Ok(())
            }
            _ => Ok(()),
        };
        if let Err(error) = checked {
            told.refuse(at, number, &error);
        }
    }

    fn no_mass(&self, place: usize, number: u64) -> Error {
        let field = &self.correction.fields[place];
        Error::Missing {
            code: Code::MassMissing,
            quantity: capital(&field.quantity.in_words()),
            place: format!(" in row {number}"),
            hint: format!("Give a number in {} or leave the bead out.", field.unit()),
        }
    }

    /// A number with its uncertainty by the field's statement, in the units inside.
    fn estimate(&self, place: usize, row: usize, value: f64) -> Result<Estimate> {
        match self.cells.u(self.correction, place, row, value) {
            Some(u) => Estimate::new(value, u),
            None => Estimate::unstated(value),
        }
    }

    fn highest_flux_loss(&self) -> f64 {
        let limit = self.correction.rules.as_ref().and_then(|rules| rules.stated_flux_loss().ok());
        limit.map_or(WHOLE_BUT_A_BIT, |limit| limit.highest)
    }

    fn flux_loss(&self, place: usize, row: usize, value: f64) -> Result<()> {
        let loss = self.estimate(place, row, value)?;
        let lot = self.correction.lots[0].with_loss(loss)?;
        match &self.correction.rules {
            Some(rules) if rules.stated_flux_loss().is_ok() => lot.check(rules, &self.correction.weights),
            _ => Ok(()),
        }
    }

    /// The flux ratio of every row.
    fn pairs(&self, range: Range<usize>, first: usize, told: &mut Told) {
        let at = |quantity: Quantity| self.correction.fields.iter().position(|field| field.quantity == quantity);
        let (Some(sample), Some(flux)) = (at(Quantity::SampleMass), at(Quantity::FluxMass)) else { return };
        for row in range {
            let (Some(m_s), Some(m_f)) = (self.cells.number(sample, row), self.cells.number(flux, row)) else {
                continue;
            };
            let ratio = m_f / m_s;
            if !crate::charge::USUAL_FLUX_RATIO.contains(&ratio) && ratio.is_finite() && !told.is_refused(row - first) {
                let text = format!("Flux ratio {ratio:.2} : 1. Sample and flux may be swapped, or a mass mistyped.");
                let finding = Finding::new(Code::FluxRatioUnusual, "flux ratio", text).with_value(ratio);
                told.say(row - first, RowFinding::new(self.number(row), &finding));
            }
        }
    }

    /// Bead ids that occur more than once: none of these rows is used.
    fn ids(&self, range: Range<usize>, first: usize, told: &mut Told) {
        let Some(words) = self.places.bead.and_then(|place| self.cells.words(place)) else { return };
        for row in range {
            let Some(place) = words.places()[row] else { continue };
            let id = words.dictionary()[place as usize];
            let twice = match &self.doubled {
                Doubled::Nobody => false,
                Doubled::Places(places) => places.contains(&place),
                Doubled::Names(names) => names.contains(id),
            };
            if twice {
                told.refuse(
                    row - first,
                    self.number(row),
                    &Error::Conflict {
                        code: Code::BeadDoubled,
                        detail: format!("Bead {id} occurs more than once; none of its rows is used."),
                        hint: "Which one holds cannot be guessed: name them apart, or take the wrong one out."
                            .to_owned(),
                    },
                );
            }
        }
    }

    /// What the results of a group's rows say.
    pub(crate) fn results(
        &self,
        group: &Group,
        first: usize,
        rows: &[u32],
        columns: &[&mut [f64]],
        totals: [&[f64]; 2],
        told: &mut Told,
    ) {
        for finding in &group.findings {
            for &row in rows {
                told.say(row as usize, RowFinding::new(self.number(first + row as usize), finding));
            }
        }
        let contents = self.species.len();
        let whole = Unit::Percent.written(1.0);
        for (place, output) in group.results.iter().enumerate() {
            if output.is_none() {
                continue;
            }
            let column = &*columns[place];
            if rows.iter().all(|&row| (0.0..=whole).contains(&column[row as usize])) {
                continue;
            }
            for &row in rows {
                self.content(group, place, first, row as usize, column[row as usize], told);
            }
        }
        let ratios = &*columns[contents + 1];
        let (low, high) = group.flux_ratios;
        if !rows.iter().all(|&row| (low..=high).contains(&ratios[row as usize])) {
            let set = self.correction.method.coefficients().iter().find(|set| set.label().name() == group.set);
            for &row in rows.iter().filter(|&&row| !(low..=high).contains(&ratios[row as usize])) {
                let bead = self.bead(first + row as usize);
                if let (false, Some(Err(error))) = (
                    told.is_refused(row as usize),
                    set.map(|set| set.check_conditions(ratios[row as usize], &[], &bead)),
                ) {
                    told.refuse(row as usize, self.number(first + row as usize), &error);
                }
            }
        }
        if group.as_weighed {
            self.covered(group, first, rows, columns, told);
        }
        self.bead_mass(group, first, rows, columns, told);
        self.iron(group, first, rows, columns, told);
        self.loss(group, first, rows, columns, totals, told);
    }

    fn content(&self, group: &Group, place: usize, first: usize, row: usize, percent: f64, told: &mut Told) {
        if told.is_refused(row) {
            return;
        }
        let (species, number) = (&self.species[place], self.number(first + row));
        let value = Unit::Percent.fraction(percent);
        if let Err(error) = crate::error::finite(species, value) {
            told.refuse(row, number, &error);
        } else if value < crate::charge::SOLUTION_FAR_BELOW {
            told.refuse(row, number, &Error::Matrix {
                code: Code::SolutionNegative,
                quantity: format!("The system of this bead gives {species} = {}", percent_short(value)),
                detail: "further below zero than counting explains".to_owned(),
                figure: "content",
                value,
                hint: "Are the coefficients outside their range, the blank or an overlap too large, or the sensitivities of \
                       another setting?"
                    .to_owned(),
            });
        } else if value < 0.0 {
            let (code, why) = if group.brought[place] {
                (Code::BlankExceeds, "flux and additions bring more than was read")
            } else {
                (Code::ReadingNegative, "below zero")
            };
            let text = format!("{species} is {}: {why}, kept as it is for averages.", percent_short(value));
            told.say(
                row,
                RowFinding::new(number, &Finding::new(code, species.as_str(), text).with_value(value).with_bound(0.0)),
            );
        } else if value > 1.0 {
            let text = format!(
                "{species} is {}, more than the whole sample: right only where a metal or sulfide is written as oxide.",
                percent_short(value)
            );
            let finding =
                Finding::new(Code::ResultAboveWhole, species.as_str(), text).with_value(value).with_bound(1.0);
            told.say(row, RowFinding::new(number, &finding));
        }
    }

    /// Contents of the glass beyond the standards.
    fn covered(&self, group: &Group, first: usize, rows: &[u32], columns: &[&mut [f64]], told: &mut Told) {
        let dilution = &*columns[self.species.len() + 2];
        for covered in group.covered.iter().filter(|covered| group.results[covered.result].is_some()) {
            let column = &*columns[covered.result];
            let content = |row: u32| Unit::Percent.fraction(column[row as usize]) / dilution[row as usize];
            if rows.iter().all(|&row| (covered.low..=covered.high).contains(&content(row))) {
                continue;
            }
            for &row in rows {
                let value = content(row);
                let (side, bound) = match (value > covered.high, value < covered.low && covered.low > 0.0) {
                    (true, _) => ("above the top standard", covered.high),
                    (_, true) => ("below the lowest standard", covered.low),
                    _ => continue,
                };
                if !told.is_refused(row as usize) {
                    let species = &self.species[covered.result];
                    let text = format!(
                        "{species} {} in glass is {side} {}: the sensitivity was not tested there.",
                        percent_short(value),
                        percent_short(bound)
                    );
                    let finding = Finding::new(Code::CalibrationExtrapolated, species.as_str(), text);
                    let finding = finding.with_value(value).with_bound(bound);
                    told.say(row as usize, RowFinding::new(self.number(first + row as usize), &finding));
                }
            }
        }
    }

    /// Weighed beads against their prediction.
    fn bead_mass(&self, group: &Group, first: usize, rows: &[u32], columns: &[&mut [f64]], told: &mut Told) {
        let Some(place) = self.places.bead_mass.filter(|place| group.loses && !self.cells.is_missing(*place)) else {
            return;
        };
        let k = self.correction.rules.as_ref().and_then(|rules| rules.stated_bead_mass().ok());
        let predicted = &*columns[self.species.len()];
        for &row in rows {
            let (at, number) = (row as usize, self.number(first + row as usize));
            let Some(weighed) = self.cells.number(place, first + at).filter(|_| !told.is_refused(at)) else { continue };
            let u_weighed = self.cells.u(self.correction, place, first + at, weighed).unwrap_or(0.0);
            let u = (group.u_bead_g * group.u_bead_g + u_weighed * u_weighed).sqrt();
            let most = self.weighed_in(group, first + at);
            let slack = k.unwrap_or(3.0) * u;
            if weighed > most + slack {
                told.refuse(
                    at,
                    number,
                    &Error::Conflict {
                        code: Code::BeadMassImpossible,
                        detail: format!("Bead {weighed} g exceeds everything weighed in ({most:.4} g)."),
                        hint: "Check masses or bead id.".to_owned(),
                    },
                );
            } else if let Some(k) = k.filter(|k| (weighed - predicted[at]).abs() > k * u) {
                let missing = weighed - predicted[at];
                let text = format!(
                    "Bead is {:.1} mg {} than predicted (u {:.1} mg, limit {k} u): flux loss, a species that left, powder lost, or \
                     melt left in the crucible?",
                    missing.abs() / crate::composition::unit::MILLI,
                    if missing < 0.0 { "lighter" } else { "heavier" },
                    u / crate::composition::unit::MILLI
                );
                let finding = Finding::new(Code::BeadMassDiffers, "bead mass", text).with_value(missing).with_u(u);
                told.say(at, RowFinding::new(number, &finding.with_bound(k * u)));
            }
        }
    }

    /// Everything weighed in and the oxygen a stated gain can take up, g.
    fn weighed_in(&self, group: &Group, row: usize) -> f64 {
        let mut sum = 0.0;
        for (place, field) in self.correction.fields.iter().enumerate() {
            if let Quantity::SampleMass | Quantity::FluxMass | Quantity::Addition(_) = field.quantity {
                sum += self.cells.number(place, row).unwrap_or(0.0);
            }
        }
        let gain = |place: Option<usize>| {
            place.and_then(|place| self.cells.number(place, row)).map_or(0.0, |loss| (-loss).max(0.0))
        };
        let loss = if group.loses_as_ignited { self.places.loss } else { self.places.fusion };
        let sample = self.correction.fields.iter().position(|field| field.quantity == Quantity::SampleMass);
        sum + group.dosed_g + gain(loss) * sample.and_then(|place| self.cells.number(place, row)).unwrap_or(0.0)
    }

    /// Ferrous iron from elsewhere that is more than the total iron.
    fn iron(&self, group: &Group, first: usize, rows: &[u32], columns: &[&mut [f64]], told: &mut Told) {
        let external = |field: &crate::batch::field::Field| field.quantity == Quantity::External("FeO".to_owned());
        let Some(ferrous) = self.correction.fields.iter().position(external) else { return };
        let Some(total) = self.species.iter().position(|species| species == "Fe2O3") else { return };
        if group.results[total].is_none() || self.cells.is_missing(ferrous) {
            return;
        }
        for &row in rows {
            let at = row as usize;
            let Some(held) = self.cells.number(ferrous, first + at).filter(|_| !told.is_refused(at)) else { continue };
            let there = Unit::Percent.fraction(columns[total][at]);
            let wanted = held * self.per_ferrous;
            let u = self.cells.u(self.correction, ferrous, first + at, held).unwrap_or(0.0) * self.per_ferrous;
            if wanted > there + 3.0 * u {
                told.refuse(
                    at,
                    self.number(first + at),
                    &Error::Conflict {
                        code: Code::FormsImpossible,
                        detail: format!(
                            "FeO {} needs {} Fe2O3(T); only {} is there.",
                            percent_short(held),
                            percent_short(wanted),
                            percent_short(there)
                        ),
                        hint: "One of the two is wrong.".to_owned(),
                    },
                );
            }
        }
    }

    /// The loss on ignition against the class, the contents and the total.
    fn loss(
        &self,
        group: &Group,
        first: usize,
        rows: &[u32],
        columns: &[&mut [f64]],
        [above, expected]: [&[f64]; 2],
        told: &mut Told,
    ) {
        let Some(place) = self.places.loss.filter(|place| !self.cells.is_missing(*place)) else { return };
        let rules = self.correction.rules.as_ref();
        let window = rules.and_then(|rules| rules.stated_total().ok());
        let usual = rules.filter(|rules| rules.knows_loss_of(&group.set));
        let total = group.sum.as_ref().map(|_| &*columns[self.species.len() + 3]);
        for &row in rows {
            let (at, number) = (row as usize, self.number(first + row as usize));
            let Some(value) = self.cells.number(place, first + at).filter(|_| !told.is_refused(at)) else { continue };
            let u = self.cells.u(self.correction, place, first + at, value).unwrap_or(0.0);
            if let Some(rules) = usual
                && let Ok(loss) = self.estimate(place, first + at, value)
                && let Ok(loss) = LossOnIgnition::new(loss, SOME_TEMPERATURE_C)
            {
                let findings = rules.check_loss(&group.set, &loss).unwrap_or_default();
                findings.iter().for_each(|finding| told.say(at, RowFinding::new(number, finding)));
            }
            let holds = |content: &(Gains, usize)| match content.0 {
                Gains::Result => columns[content.1][at] > 0.0,
                Gains::Field => self.cells.number(content.1, first + at).is_some_and(|value| value > 0.0),
            };
            if value < -3.0 * u && value < 0.0 && !group.gains.iter().any(holds) {
                let text = format!(
                    "LOI {} needs about {} FeO or reduced S/metal, and none is declared.",
                    percent_short(value),
                    percent_short(-value / (self.per_ferrous - 1.0))
                );
                let finding = Finding::new(Code::GainUnexplained, "loss on ignition", text).with_value(value);
                told.say(at, RowFinding::new(number, &finding.with_bound(0.0)));
            }
            if value == 0.0 && self.ferrous(first + at) > NOTABLE_FERROUS && group.sum.is_some() {
                let text = format!(
                    "LOI is exactly 0.00 although FeO is {}; expected near {}. Was a negative value replaced?",
                    percent_short(self.ferrous(first + at)),
                    percent_short(Unit::Percent.fraction(expected[at]))
                );
                let finding = Finding::new(Code::LossClipped, "loss on ignition", text).with_value(0.0);
                told.say(at, RowFinding::new(number, &finding.with_bound(Unit::Percent.fraction(expected[at]))));
            }
            let (Some(total), Some(limit)) = (total, window) else { continue };
            let sum = Unit::Percent.fraction(total[at]);
            if !(limit.low..=limit.high).contains(&sum) {
                let bound = if sum < limit.low { limit.low } else { limit.high };
                let text = format!(
                    "Total {} is outside {} to {}.",
                    percent_short(sum),
                    percent_short(limit.low),
                    percent_short(limit.high)
                );
                let finding = Finding::new(Code::ClosureOutsideWindow, "total", text).with_value(sum).with_bound(bound);
                told.say(at, RowFinding::new(number, &finding));
            }
            let over = Unit::Percent.fraction(above[at]);
            if over > limit.k * u && over > 0.0 && self.is_carbonate(columns, at, sum - value) {
                let text = format!(
                    "LOI {} exceeds the carbonate ceiling by {}: moisture or organics.",
                    percent_short(value),
                    percent_short(over)
                );
                let finding = Finding::new(Code::LossAboveCeiling, "loss on ignition", text).with_value(value);
                told.say(at, RowFinding::new(number, &finding.with_bound(value - over)));
            }
        }
    }

    fn ferrous(&self, row: usize) -> f64 {
        let is =
            |quantity: &Quantity| matches!(quantity, Quantity::External(name) | Quantity::Known(name) if name == "FeO");
        let place = self.correction.fields.iter().position(|field| is(&field.quantity));
        place.and_then(|place| self.cells.number(place, row)).unwrap_or(0.0)
    }

    /// Whether lime and magnesia are more than half of what is not lost.
    fn is_carbonate(&self, columns: &[&mut [f64]], row: usize, without_loss: f64) -> bool {
        let of = |name: &str| {
            self.species.iter().position(|species| species == name).map_or(0.0, |place| columns[place][row])
        };
        2.0 * Unit::Percent.fraction(of("CaO") + of("MgO")) > without_loss
    }

    /// A bead in words.
    fn bead(&self, row: usize) -> String {
        let id = self.places.bead.and_then(|place| self.cells.word(place, row));
        id.map_or_else(|| format!("in row {}", self.number(row)), str::to_owned)
    }
}

/// Where a content that takes up oxygen in the furnace stands.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Gains {
    Result,
    Field,
}

/// Losses a sample can have, fractions: all of it, and more than twice the gain of silicon.
const LOSS: [f64; 2] = [-1.5, 1.0];
/// Just less than everything.
const WHOLE_BUT_A_BIT: f64 = 1.0 - f64::EPSILON;
/// FeO from which a loss of exactly zero is looked at.
const NOTABLE_FERROUS: f64 = 0.05;
/// The range of a loss does not depend on its temperature.
const SOME_TEMPERATURE_C: f64 = 1000.0;

fn mass_of(quantity: &Quantity) -> Mass {
    match quantity {
        Quantity::SampleMass => Mass::Sample,
        Quantity::FluxMass => Mass::Flux,
        Quantity::BeadMass => Mass::Bead,
        _ => Mass::Addition,
    }
}

fn unit_of(word: &str) -> &'static str {
    Unit::from_word(word).map_or("", Unit::word)
}

fn capital(text: &str) -> String {
    let mut letters = text.chars();
    letters.next().map_or_else(String::new, |first| first.to_uppercase().collect::<String>() + letters.as_str())
}

impl Cells<'_> {
    /// The standard uncertainty of a cell in the unit inside; nothing where it is not stated.
    #[inline(always)]
    pub(crate) fn u(&self, correction: &Correction, place: usize, row: usize, value: f64) -> Option<f64> {
        let field = &correction.fields[place];
        match &field.u {
            Spread::Unstated => match field.quantity {
                Quantity::SampleMass => correction.recipe.sample().mass_g().u(),
                Quantity::FluxMass => correction.recipe.flux().mass_g().u(),
                _ => None,
            },
            Spread::Fixed(u) => Some(field.scale().inside(*u)),
            Spread::Relative(part) => Some(value.abs() * part),
            Spread::Counting(seconds) => Some((value.max(0.0) / seconds).sqrt()),
            Spread::Column(_) => self.u_cell(place, row),
        }
    }
}
