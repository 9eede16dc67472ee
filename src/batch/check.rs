//! What is wrong or remarkable with single rows. A screen over whole columns finds whom to look at; only those are looked at
//! one by one, by the very functions that a single bead meets.

use std::collections::HashSet;
use std::ops::Range;
use std::sync::Arc;

use crate::batch::cells::{Cells, u_of_counts};
use crate::batch::column::Columns;
use crate::batch::corrected::RowFinding;
use crate::batch::correction::Correction;
use crate::batch::field::{Cells as Kind, Field, LARGEST_U, Quantity, Spread, boundless};
use crate::batch::group::Group;
use crate::batch::options::RunOptions;
use crate::batch::outline::{OF_GLASS, Outline, mass_of};
use crate::batch::told::Told;
use crate::code::Code;
use crate::composition::{BasisLinks, LossOnIgnition, Unit};
use crate::error::{Error, Result};
use crate::finding::Finding;
use crate::matrix::{Count, LineReading};
use crate::uncertainty::Estimate;

/// The checks of one table.
pub(crate) struct Checker<'a, 't> {
    pub(super) correction: &'a Correction,
    pub(super) cells: &'a Cells<'t>,
    pub(super) outline: Arc<Outline>,
    first_row: u64,
    /// Rows whose bead id occurs more than once, or all ids that do.
    doubled: Doubled<'a>,
    /// Grams of Fe2O3 per gram of FeO.
    pub(super) per_ferrous: f64,
    pub(super) species: Arc<[String]>,
}

enum Doubled<'a> {
    Nobody,
    Places(HashSet<u32>),
    Names(&'a HashSet<String>),
}

impl Doubled<'_> {
    fn is_empty(&self) -> bool {
        match self {
            Self::Nobody => true,
            Self::Places(places) => places.is_empty(),
            Self::Names(names) => names.is_empty(),
        }
    }
}

impl<'a, 't> Checker<'a, 't> {
    pub(crate) fn new(
        correction: &'a Correction,
        cells: &'a Cells<'t>,
        table: &Columns<'_>,
        options: &RunOptions<'a>,
    ) -> Result<Self> {
        let outline = correction.outline();
        let doubled = match (options.doubled, outline.places.bead.and_then(|place| cells.words(place))) {
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
        Ok(Self { correction, cells, outline, first_row: table.first_row(), doubled, per_ferrous, species })
    }

    pub(super) fn number(&self, row: usize) -> u64 {
        self.first_row + row as u64
    }

    /// What is wrong with the cells of a chunk. Of fields that the loop over rows has screened only the rows are looked at in
    /// which a cell is outside, of what follows from two cells those it found.
    pub(crate) fn inputs(
        &self,
        first: usize,
        rows: usize,
        screened: &[bool],
        [found, outside]: [&[u32]; 2],
        told: &mut Told,
    ) {
        let range = first..first + rows;
        let from = self.cells.told.partition_point(|held| held.row < first);
        for held in self.cells.told[from..].iter().take_while(|held| held.row < range.end) {
            // a limit of the glass is told where it is known what it is in the sample
            if self.is_limit_of_glass(held) {
                continue;
            }
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
            if field.quantity.cells() == Kind::Words || self.cells.is_missing(place) {
                continue;
            }
            let missing = matches!(field.quantity.cells(), Kind::Mass) && field.quantity != Quantity::BeadMass;
            if self.cells.lacks_time(field, place, range.clone())
                || self.cells.has_unsound_u(field, place, range.clone())
            {
                for row in range.clone() {
                    self.cell(place, row, missing, row - first, told);
                }
            } else if screened[place] {
                for &row in outside {
                    self.cell(place, first + row as usize, missing, row as usize, told);
                }
            } else if self.cells.stands_out(place, range.clone(), self.outline.bounds[place], missing) {
                for row in range.clone() {
                    self.cell(place, row, missing, row - first, told);
                }
            }
        }
        self.pairs(first, found, told);
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
            (_, Kind::Rate) if self.cells.lacks_time(field, place, row..row + 1) => {
                let ([_, time], seconds) = (self.names_of(place), self.cells.seconds(field, place, row));
                Count::named(["", &time], 0.0, seconds).map(|_| ())
            }
            _ if !value.is_finite() => crate::error::finite(&capital(&field.quantity.in_words()), value).map(|_| ()),
            _ if self.cells.has_unsound_u(field, place, row..row + 1) => self.estimate(place, row, value).map(|_| ()),
            (Quantity::LossOnIgnition, _) => self
                .estimate(place, row, value)
                .and_then(|loss| LossOnIgnition::new(loss, SOME_TEMPERATURE_C).map(|_| ())),
            (Quantity::LossOnFusion, _) => self
                .estimate(place, row, value)
                .and_then(|loss| crate::composition::signed_loss("Loss on fusion", &loss).map(|_| ())),
            (Quantity::Moisture, _) => self
                .estimate(place, row, value)
                .and_then(|moisture| BasisLinks::default().moisture(moisture).map(|_| ())),
            (Quantity::AirMoisture, _) => self
                .estimate(place, row, value)
                .and_then(|moisture| BasisLinks::default().air_moisture(moisture).map(|_| ())),
            (Quantity::FluxLoss, _) => self.flux_loss(place, row, value),
            (Quantity::Glass(_), _) => self.content_within(place, row, OF_GLASS, "minus half to all of the glass"),
            (Quantity::Known(_) | Quantity::External(_), _) => {
                self.content_within(place, row, [0.0, 1.0], "0 to the whole sample")
            }
            (Quantity::Peak(_) | Quantity::Background(..), _) => self.count(place, row, value).map(|_| ()),
            (Quantity::Intensity(line), _) => {
                if value < 0.0 {
                    let text = format!(
                        "{line}: net intensity {value} cps is below zero: kept as it is for averages, the result is below detection."
                    );
                    let finding = Finding::new(Code::IntensityNegative, line.as_str(), text).with_value(value);
                    told.say(at, RowFinding::of(number, finding.with_bound(0.0)));
                }
                Ok(())
            }
            _ => Ok(()),
        };
        if let Err(error) = checked {
            told.refuse(at, number, &error);
        }
    }

    /// A content as it is written, within bounds in g/g.
    fn content_within(&self, place: usize, row: usize, bounds: [f64; 2], in_words: &str) -> Result<()> {
        let field = &self.correction.fields[place];
        let hint = "Per cent or mg/kg in one column? Declare the unit of the column.";
        let quantity = format!("{} in {},", capital(&field.quantity.in_words()), field.name());
        let written = self.cells.as_written(place, row);
        let bounds = bounds.map(|bound| field.scale().outside(bound));
        crate::error::within(&quantity, written, unit_of(field.unit()), bounds, in_words, hint).map(|_| ())
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
    pub(super) fn estimate(&self, place: usize, row: usize, value: f64) -> Result<Estimate> {
        match self.cells.u(self.correction, place, row, value) {
            Some(u) if u > LARGEST_U && u.is_finite() => Err(boundless(self.correction.fields[place].name(), u)),
            Some(u) => Estimate::new(value, u),
            None => Estimate::unstated(value),
        }
    }

    fn flux_loss(&self, place: usize, row: usize, value: f64) -> Result<()> {
        let loss = self.estimate(place, row, value)?;
        let lot = self.correction.lots[0].with_loss(loss)?;
        match &self.correction.rules {
            Some(rules) if rules.stated_flux_loss().is_ok() => lot.check(rules, &self.correction.weights),
            _ => Ok(()),
        }
    }

    /// What the rate and the counting time of a counted column go by.
    fn names_of(&self, place: usize) -> [String; 2] {
        let field = &self.correction.fields[place];
        let time = match &field.u {
            Spread::CountingColumn(column) => format!("Counting time in {column}"),
            _ => format!("Counting time of {}", field.name()),
        };
        [format!("{} in {}", capital(&field.quantity.in_words()), field.name()), time]
    }

    /// A counted rate with its time, where the counter can show it.
    fn count(&self, place: usize, row: usize, value: f64) -> Result<Count> {
        let field = &self.correction.fields[place];
        let [rate, time] = self.names_of(place);
        let count = Count::named([&rate, &time], value, self.cells.seconds(field, place, row))?;
        if let Quantity::Peak(line) | Quantity::Background(line, _) = &field.quantity
            && let Some((dead_time, _)) = self.correction.dead_time_of(line)
        {
            dead_time.allows(&rate, count)?;
        }
        Ok(count)
    }

    /// Lines of which more background was taken off than the peak held, in the words a single bead meets.
    pub(super) fn counted(&self, group: &Group, first: usize, found: &[u32], told: &mut Told) {
        if group.screen.counted.is_empty() {
            return;
        }
        for &at in found {
            for (place, field) in self.correction.fields.iter().enumerate() {
                let Quantity::Peak(line) = &field.quantity else { continue };
                if told.is_refused(at as usize) || !group.key.there[place] {
                    continue;
                }
                let row = first + at as usize;
                if let Ok(Some(finding)) = self.reading(line, row).and_then(|reading| reading.check()) {
                    told.say(at as usize, RowFinding::of(self.number(row), finding));
                }
            }
        }
    }

    /// What was counted of a line in a row.
    fn reading(&self, line: &str, row: usize) -> Result<LineReading> {
        let count = |place: usize| self.count(place, row, self.cells.number(place, row).unwrap_or(f64::NAN));
        let fields = || self.correction.fields.iter().enumerate();
        let is_peak = |field: &Field| matches!(&field.quantity, Quantity::Peak(held) if held == line);
        let peak = fields().find(|(_, field)| is_peak(field)).map_or(0, |(place, _)| place);
        let mut reading = LineReading::counted(line, count(peak)?)?;
        for (place, field) in fields() {
            if matches!(&field.quantity, Quantity::Background(held, _) if held == line) {
                reading = reading.background(field.weight.unwrap_or(1.0), count(place)?)?;
            }
        }
        match self.correction.dead_time_of(line) {
            Some((dead_time, true)) => reading.dead_time(dead_time),
            _ => Ok(reading),
        }
    }

    /// What the drift of rows says: a reading of a monitor that was held, or two monitors too close together.
    pub(super) fn drift(&self, group: &Group, first: usize, rows: &[u32], told: &mut Told) {
        let (Some(drift), Some(place)) = (&self.correction.drift, self.outline.places.time) else { return };
        for line in &group.watched {
            for &at in rows {
                let row = first + at as usize;
                let Some(time) = self.cells.word(place, row).filter(|_| !told.is_refused(at as usize)) else {
                    continue;
                };
                match drift.terms(line, time) {
                    Ok(term) => {
                        let say = |finding: &Finding| told.say(at as usize, RowFinding::new(self.number(row), finding));
                        term.findings.iter().for_each(say);
                    }
                    Err(error) => told.refuse(at as usize, self.number(row), &error),
                }
            }
        }
    }

    /// The flux ratio of the rows found.
    fn pairs(&self, first: usize, found: &[u32], told: &mut Told) {
        let (Some(sample), Some(flux)) = (self.outline.places.sample, self.outline.places.flux) else { return };
        for row in found.iter().map(|&row| first + row as usize) {
            let (Some(m_s), Some(m_f)) = (self.cells.number(sample, row), self.cells.number(flux, row)) else {
                continue;
            };
            let ratio = m_f / m_s;
            if !crate::charge::USUAL_FLUX_RATIO.contains(&ratio) && ratio.is_finite() && !told.is_refused(row - first) {
                let text = format!("Flux ratio {ratio:.2} : 1. Sample and flux may be swapped, or a mass mistyped.");
                let finding = Finding::new(Code::FluxRatioUnusual, "flux ratio", text).with_value(ratio);
                told.say(row - first, RowFinding::of(self.number(row), finding));
            }
        }
    }

    /// Bead ids that occur more than once: none of these rows is used.
    fn ids(&self, range: Range<usize>, first: usize, told: &mut Told) {
        if self.doubled.is_empty() {
            return;
        }
        let Some(words) = self.outline.places.bead.and_then(|place| self.cells.words(place)) else { return };
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

    /// A bead in words.
    pub(super) fn bead(&self, row: usize) -> String {
        let id = self.outline.places.bead.and_then(|place| self.cells.word(place, row));
        id.map_or_else(|| format!("in row {}", self.number(row)), str::to_owned)
    }
}

/// The range of a loss does not depend on its temperature.
pub(super) const SOME_TEMPERATURE_C: f64 = 1000.0;

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
            Spread::Counting(_) | Spread::CountingColumn(_) => {
                Some(u_of_counts(field, value, self.seconds(field, place, row)))
            }
            Spread::Column(_) => self.u_cell(place, row),
        }
    }
}
