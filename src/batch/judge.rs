//! What the results of rows say, in the words a single bead meets.

use crate::batch::check::{Checker, SOME_TEMPERATURE_C};
use crate::batch::corrected::RowFinding;
use crate::batch::field::{Field, Quantity};
use crate::batch::group::Group;
use crate::batch::run::FIXED;
use crate::batch::told::Told;
use crate::charge::{above_whole, differs};
use crate::code::Code;
use crate::composition::unit::percent_short;
use crate::composition::{LossOnIgnition, Unit};
use crate::error::Error;
use crate::finding::Finding;
use crate::matrix::CoefficientSet;
use crate::substance::Formula;

/// Where a content that takes up oxygen in the furnace stands.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Gains {
    Result,
    Field,
}

/// FeO from which a loss of exactly zero is looked at.
const NOTABLE_FERROUS: f64 = 0.05;

impl Checker<'_, '_> {
    /// What the results of a group's rows say; `found` are those of which the loop over rows could not exclude it.
    pub(crate) fn results(
        &self,
        group: &Group,
        first: usize,
        [rows, found, beyond]: [&[u32]; 3],
        columns: &[&mut [f64]],
        totals: [&[f64]; 2],
        told: &mut Told,
    ) {
        for finding in &group.findings {
            for &row in rows {
                told.say(row as usize, RowFinding::new(self.number(first + row as usize), finding));
            }
        }
        if let Some(finding) = group.short_total("row", |field| !self.cells.is_missing(field)) {
            for &row in rows {
                if !told.is_refused(row as usize) {
                    told.say(row as usize, RowFinding::new(self.number(first + row as usize), &finding));
                }
            }
        }
        for (place, _) in group.results.iter().enumerate().filter(|(_, output)| output.is_some()) {
            for &row in found {
                self.content(group, place, first, row as usize, columns[place][row as usize], told);
            }
        }
        self.also_on(group, first, found, columns, told);
        self.flux_ratio(group, first, found, columns, told);
        self.covered(group, first, found, columns, told);
        self.ranges(group, first, beyond, columns, told);
        self.bead_mass(group, first, rows, columns, told);
        self.iron(group, first, rows, columns, told);
        self.loss(group, first, if group.screen.every_loss { rows } else { found }, columns, totals, told);
        self.limits(group, first, rows, told);
    }

    /// The coefficients of a group; readings of the glass have none.
    pub(super) fn set_of(&self, group: &Group) -> Option<&CoefficientSet> {
        Some(&self.correction.method()?.coefficients()[group.key.class])
    }

    /// The place of the column of totals, where there is one: behind contents and fixed columns.
    pub(super) fn total(&self) -> usize {
        self.species.len() + FIXED.len()
    }

    /// The place of the first content on a further basis.
    pub(super) fn first_also(&self) -> usize {
        self.total() + usize::from(self.correction.totals())
    }

    /// Results on a further basis that leaves nothing to refer to.
    fn also_on(&self, group: &Group, first: usize, found: &[u32], columns: &[&mut [f64]], told: &mut Told) {
        let (contents, start) = (self.species.len(), self.first_also());
        for (place, basis) in self.correction.also_on.iter().enumerate() {
            let of_basis = &columns[start + place * contents..][..contents];
            if group.also[place].is_none() {
                continue;
            }
            for &row in found {
                let at = row as usize;
                let mut results = of_basis.iter().zip(&group.results).filter(|(_, output)| output.is_some());
                if !told.is_refused(at) && results.any(|(column, _)| !column[at].is_finite()) {
                    let error = Error::Conflict {
                        code: Code::BasisImpossible,
                        detail: format!("Results {basis} have nothing to refer to in this row."),
                        hint: "A loss or a moisture of 100 % leaves nothing. Mend it, or leave this basis out."
                            .to_owned(),
                    };
                    told.refuse(at, self.number(first + at), &error);
                }
            }
        }
    }

    /// Fused flux ratios that the coefficients were not made for.
    fn flux_ratio(&self, group: &Group, first: usize, found: &[u32], columns: &[&mut [f64]], told: &mut Told) {
        let Some(set) = self.set_of(group) else { return };
        let ratios = &*columns[self.species.len() + 1];
        let (low, high) = group.flux_ratios;
        let outside = |row: &&u32| !(low..=high).contains(&ratios[**row as usize]);
        for (at, row) in found.iter().filter(outside).map(|&row| (row as usize, first + row as usize)) {
            if told.is_refused(at) {
                continue;
            }
            if let Err(error) = set.check_conditions(ratios[at], &[], &self.bead(row)) {
                told.refuse(at, self.number(row), &error);
            }
        }
    }

    fn content(&self, group: &Group, place: usize, first: usize, row: usize, percent: f64, told: &mut Told) {
        if told.is_refused(row) {
            return;
        }
        let (species, number) = (&self.species[place], self.number(first + row));
        let value = Unit::Percent.fraction(percent);
        if let Err(error) = crate::error::finite(species, value) {
            told.refuse(row, number, &error);
        } else if value < 0.0 {
            match self.negative(group, place, first + row, value) {
                Ok(None) => {}
                Ok(Some(error)) | Err(error) => return told.refuse(row, number, &error),
            }
            let (code, why) = if group.brought[place] && self.correction.method().is_some() {
                (Code::BlankExceeds, "flux and additions bring more than was read")
            } else {
                (Code::ReadingNegative, "below zero")
            };
            let text = format!("{species} is {}: {why}, kept as it is for averages.", percent_short(value));
            told.say(
                row,
                RowFinding::of(number, Finding::new(code, species.as_str(), text).with_value(value).with_bound(0.0)),
            );
        } else if value > 1.0
            && let Ok(species) = Formula::parse(species)
        {
            told.say(row, RowFinding::of(number, above_whole(&species, &self.correction.weights, value)));
        }
    }

    /// Contents of the glass beyond the standards.
    fn covered(&self, group: &Group, first: usize, rows: &[u32], columns: &[&mut [f64]], told: &mut Told) {
        let dilution = &*columns[self.species.len() + 2];
        for covered in group.covered.iter().filter(|covered| group.results[covered.result].is_some()) {
            let column = &*columns[covered.result];
            let content = |row: u32| Unit::Percent.fraction(column[row as usize]) / dilution[row as usize];
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
                    told.say(row as usize, RowFinding::of(self.number(first + row as usize), finding));
                }
            }
        }
    }

    /// Weighed beads against their prediction.
    fn bead_mass(&self, group: &Group, first: usize, rows: &[u32], columns: &[&mut [f64]], told: &mut Told) {
        let Some(place) = self.outline.places.bead_mass.filter(|place| group.loses && !self.cells.is_missing(*place))
        else {
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
                let [word, cause] = differs(missing);
                let [by, u_mg] = [missing.abs(), u].map(|mass| mass / crate::composition::unit::MILLI);
                let text = format!("Bead is {by:.1} mg {word} than predicted (u {u_mg:.1} mg, limit {k} u). {cause}");
                let finding = Finding::new(Code::BeadMassDiffers, "bead mass", text).with_value(missing).with_u(u);
                told.say(at, RowFinding::of(number, finding.with_bound(k * u)));
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
        let loss = if group.loses_as_ignited { self.outline.places.loss } else { self.outline.places.fusion };
        sum + group.dosed_g
            + gain(loss.filter(|_| group.gains_oxygen))
                * self.outline.places.sample.and_then(|place| self.cells.number(place, row)).unwrap_or(0.0)
    }

    /// Ferrous iron from elsewhere that is more than the total iron.
    fn iron(&self, group: &Group, first: usize, rows: &[u32], columns: &[&mut [f64]], told: &mut Told) {
        let external = |field: &Field| matches!(&field.quantity, Quantity::External(name) if name == "FeO");
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
        let Some(place) = self.outline.places.loss.filter(|place| !self.cells.is_missing(*place)) else { return };
        let rules = self.correction.rules.as_ref();
        let window = rules.and_then(|rules| rules.stated_total().ok());
        let usual = rules.zip(self.set_of(group).map(|set| set.label().name()));
        let usual = usual.filter(|(rules, class)| rules.knows_loss_of(class));
        let total = group.sum.as_ref().map(|_| &*columns[self.total()]);
        for &row in rows {
            let (at, number) = (row as usize, self.number(first + row as usize));
            let Some(value) = self.cells.number(place, first + at).filter(|_| !told.is_refused(at)) else { continue };
            let u = self.cells.u(self.correction, place, first + at, value).unwrap_or(0.0);
            if let Some((rules, class)) = usual
                && let Ok(loss) = self.estimate(place, first + at, value)
                && let Ok(loss) = LossOnIgnition::new(loss, SOME_TEMPERATURE_C)
            {
                let findings = rules.check_loss(class, &loss).unwrap_or_default();
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
                told.say(at, RowFinding::of(number, finding.with_bound(0.0)));
            }
            if value == 0.0 && self.ferrous(first + at) > NOTABLE_FERROUS && group.sum.is_some() {
                let text = format!(
                    "LOI is exactly 0.00 although FeO is {}; expected near {}. Was a negative value replaced?",
                    percent_short(self.ferrous(first + at)),
                    percent_short(Unit::Percent.fraction(expected[at]))
                );
                let finding = Finding::new(Code::LossClipped, "loss on ignition", text).with_value(0.0);
                told.say(at, RowFinding::of(number, finding.with_bound(Unit::Percent.fraction(expected[at]))));
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
                told.say(at, RowFinding::of(number, finding));
            }
            let over = Unit::Percent.fraction(above[at]);
            if over > limit.k * u && over > 0.0 && self.is_carbonate(columns, at, sum - value) {
                let text = format!(
                    "LOI {} exceeds the carbonate ceiling by {}: moisture or organics.",
                    percent_short(value),
                    percent_short(over)
                );
                let finding = Finding::new(Code::LossAboveCeiling, "loss on ignition", text).with_value(value);
                told.say(at, RowFinding::of(number, finding.with_bound(value - over)));
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
}
