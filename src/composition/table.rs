//! A composition: mass fractions of species on one basis.

use serde::{Deserialize, Serialize};

use crate::code::Code;
use crate::composition::unit::{percent_text, within_percent};
use crate::composition::{Basis, BasisLinks, Cell, LossOnIgnition, Unit};
use crate::document::Document;
use crate::error::{Error, Result};
use crate::finding::Finding;
use crate::substance::{Element, Formula, Weights, carrier, factor_of};
use crate::table::{self, Column, Table};
use crate::uncertainty::Estimate;

/// One entry of a composition.
///
/// ```
/// use beadchem::composition::{Basis, Composition};
/// let ore = Composition::new(Basis::Dried).with("SiO2", 0.0245)?;
/// assert_eq!(ore.entries()[0].species.text(), "SiO2");
/// # Ok::<(), beadchem::Error>(())
/// ```
#[derive(Debug, Clone, PartialEq)]
pub struct Entry {
    /// What it is.
    pub species: Formula,
    /// How much of it there is.
    pub cell: Cell,
    /// True where its atoms were declared to be in no other entry of the same element (FeO beside Fe2O3).
    pub separate_form: bool,
    /// True where it was found as what is missing to the whole.
    pub by_difference: bool,
}

/// Mass fractions of species on one basis. Measured oxides, elements, or minerals alike.
///
/// ```
/// use beadchem::composition::{Basis, Composition};
/// let ore = Composition::new(Basis::Dried).with("Fe2O3", 0.9794)?.with("SiO2", 0.0245)?;
/// assert_eq!(ore.get("SiO2").unwrap().value().unwrap().value(), 0.0245);
/// # Ok::<(), beadchem::Error>(())
/// ```
#[derive(Debug, Clone, PartialEq)]
pub struct Composition {
    basis: Basis,
    entries: Vec<Entry>,
}

impl Composition {
    /// An empty composition on a basis.
    ///
    /// ```
    /// use beadchem::composition::{Basis, Composition};
    /// assert!(Composition::new(Basis::Dried).entries().is_empty());
    /// ```
    #[must_use]
    pub fn new(basis: Basis) -> Self {
        Self { basis, entries: Vec::new() }
    }

    /// With a further species, in g/g.
    ///
    /// # Errors
    /// Those of [`Formula::parse`]; `number.not-finite`; `number.out-of-range` outside -0.5 to 1.5;
    /// `species.doubled`; `species.element-twice` where an entry holds the same atoms (Ni beside NiO, FeO beside
    /// Fe2O3): for forms that are really separate use [`with_form`](Self::with_form).
    ///
    /// ```
    /// use beadchem::composition::{Basis, Composition};
    /// let twice = Composition::new(Basis::Dried).with("Ni", 0.011)?.with("NiO", 0.014);
    /// assert!(twice.unwrap_err().to_string().starts_with("Ni and NiO refer to the same nickel; keep one."));
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    pub fn with(self, species: &str, cell: impl Into<Cell>) -> Result<Self> {
        self.push(Formula::parse(species)?, cell.into(), false, true)
    }

    /// With a species whose atoms are in no other entry of the same element, in g/g: metal, FeO and Fe2O3 given apart.
    ///
    /// # Errors
    /// As [`with`](Self::with).
    ///
    /// ```
    /// use beadchem::composition::{Basis, Composition};
    /// let ore = Composition::new(Basis::Dried).with_form("FeO", 0.26)?.with_form("Fe2O3", 0.6904)?;
    /// assert_eq!(ore.entries().len(), 2);
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    pub fn with_form(self, species: &str, cell: impl Into<Cell>) -> Result<Self> {
        self.push(Formula::parse(species)?, cell.into(), true, true)
    }

    /// With a species found as what is missing to the whole, in g/g: `1 - sum - loss`, the entries and the loss independent.
    ///
    /// # Errors
    /// As [`with`](Self::with); `basis.mismatch` as [`total`](Self::total).
    ///
    /// # Source
    /// ISO 12677:2003, scope: constituents above 99 % are reported by difference.
    ///
    /// ```
    /// use beadchem::composition::{Basis, Composition, LossOnIgnition};
    /// let loss = LossOnIgnition::new(0.0015, 1000.0)?;
    /// let sand = Composition::new(Basis::Dried).with("Al2O3", 0.0031)?.with_difference("SiO2", Some(&loss))?;
    /// assert_eq!(format!("{:.4}", sand.get("SiO2").unwrap().value().unwrap().value()), "0.9954");
    /// assert!(sand.total(Some(&loss))?.findings[0].text.contains("by difference"));
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    pub fn with_difference(self, species: &str, loss: Option<&LossOnIgnition>) -> Result<Self> {
        let rest = 1.0 - self.total(loss)?.value;
        let counted = self.entries.iter().filter_map(|entry| entry.cell.value()).chain(loss.map(LossOnIgnition::loss));
        let variance: Option<f64> = counted.map(|value| value.u().map(|u| u * u)).sum();
        let rest = match variance {
            Some(variance) => Estimate::new(rest, variance.sqrt())?,
            None => Estimate::unstated(rest)?,
        };
        let mut with = self.with(species, rest)?;
        if let Some(entry) = with.entries.last_mut() {
            entry.by_difference = true;
        }
        Ok(with)
    }

    /// `bounded` for what a person enters; what the library computed and stored is read back whatever its size.
    fn push(mut self, species: Formula, cell: Cell, separate_form: bool, bounded: bool) -> Result<Self> {
        let number = match &cell {
            Cell::Value(estimate) => Some(estimate.value()),
            Cell::Below { limit } => Some(*limit),
            Cell::Absent | Cell::Unknown => None,
        };
        if let Some(number) = number.filter(|_| bounded) {
            // A gain on oxidation takes some species past 100 % (pyrite makes 1.33 g SO3 a gram).
            let hint = "Is the unit of the numbers the one stated?";
            within_percent(species.text(), number, [-0.5, 1.5], hint)?;
            if matches!(cell, Cell::Below { .. }) {
                let hint = "A detection limit is above zero; a negative result is kept as a value.";
                within_percent(&format!("Detection limit of {species}"), number, [f64::MIN_POSITIVE, 1.5], hint)?;
            }
        }
        for held in &self.entries {
            if held.species.text() == species.text() {
                return Err(Error::Conflict {
                    code: Code::SpeciesDoubled,
                    detail: format!("{species} is given twice."),
                    hint: "Keep one; nothing was added up.".to_owned(),
                });
            }
            let same = held.species.key().filter(|key| species.key() == Some(*key));
            if let (Some(element), false) = (same, held.separate_form && separate_form) {
                return Err(element_twice(held, &species, &cell, element));
            }
        }
        self.entries.push(Entry { species, cell, separate_form, by_difference: false });
        Ok(self)
    }

    /// Results as they came out: a result is never refused for its size.
    pub(crate) fn of_results(basis: Basis, entries: Vec<Entry>) -> Self {
        Self { basis, entries }
    }

    /// What 100 % refers to.
    ///
    /// ```
    /// use beadchem::composition::{Basis, Composition};
    /// assert_eq!(Composition::new(Basis::Dried).basis(), Basis::Dried);
    /// ```
    #[must_use]
    pub fn basis(&self) -> Basis {
        self.basis
    }

    /// The entries in the order given.
    ///
    /// ```
    /// use beadchem::composition::{Basis, Composition};
    /// assert_eq!(Composition::new(Basis::Dried).with("CaO", 0.5)?.entries().len(), 1);
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn entries(&self) -> &[Entry] {
        &self.entries
    }

    /// What is known of a species; nothing where it has no entry.
    ///
    /// ```
    /// use beadchem::composition::{Basis, Composition};
    /// assert!(Composition::new(Basis::Dried).get("CaO").is_none());
    /// ```
    #[must_use]
    pub fn get(&self, species: &str) -> Option<&Cell> {
        self.entries.iter().find(|entry| entry.species.text() == species).map(|entry| &entry.cell)
    }

    /// The same composition on another basis: values and limits times [`BasisLinks::between`].
    ///
    /// The uncertainty of the moisture or loss is common to all entries and is not in the entries' own u; where it
    /// counts, let a result of a charge be put on the basis.
    ///
    /// # Errors
    /// Those of [`BasisLinks::between`].
    ///
    /// ```
    /// use beadchem::composition::{Basis, BasisLinks, Composition, LossOnIgnition};
    /// let links = BasisLinks::default().loss_on_ignition(LossOnIgnition::new(0.1195, 1000.0)?);
    /// let ignited = Composition::new(Basis::Dried).with("Al2O3", 0.40)?.on(Basis::ignited(1000.0)?, &links)?;
    /// let value = ignited.get("Al2O3").unwrap().value().unwrap().value();
    /// assert_eq!(format!("{value:.6}"), "0.454287");
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    pub fn on(&self, basis: Basis, links: &BasisLinks) -> Result<Self> {
        let factor = links.between(self.basis, basis)?;
        let entries = self.entries.iter().map(|entry| Entry { cell: scaled(&entry.cell, factor), ..entry.clone() });
        Ok(Self { basis, entries: entries.collect() })
    }

    /// The same composition with one species written as another that shares an element (SiO2 as Si).
    ///
    /// # Errors
    /// `species.unknown` where there is no such entry; `species.doubled` where the target is there already; those of
    /// [`factor`](crate::substance::factor).
    ///
    /// ```
    /// use beadchem::{composition::{Basis, Composition}, substance::Weights};
    /// let ore = Composition::new(Basis::Dried).with("Fe2O3", 0.9794)?;
    /// let iron = ore.written_as("Fe2O3", "Fe", &Weights::ciaaw_2024())?;
    /// assert_eq!(format!("{:.4}", iron.get("Fe").unwrap().value().unwrap().value()), "0.6850");
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    pub fn written_as(&self, species: &str, target: &str, weights: &Weights) -> Result<Self> {
        let target = Formula::parse(target)?;
        let mut found = false;
        let mut written = Self::new(self.basis);
        for entry in &self.entries {
            let mut entry = entry.clone();
            if entry.species.text() == species {
                found = true;
                let (element, _) = carrier(&entry.species, &target, None)?;
                let factor = factor_of(&entry.species, &target, element, weights)?.value();
                (entry.species, entry.cell) = (target.clone(), scaled(&entry.cell, factor));
            }
            let by_difference = entry.by_difference;
            written = written.push(entry.species, entry.cell, entry.separate_form, false)?;
            if let Some(held) = written.entries.last_mut() {
                held.by_difference = by_difference;
            }
        }
        if found {
            Ok(written)
        } else {
            Err(Error::Unknown {
                code: Code::SpeciesUnknown,
                what: "Species".to_owned(),
                given: species.to_owned(),
                hint: format!(
                    "The entries are: {}.",
                    self.entries.iter().map(|entry| entry.species.text()).collect::<Vec<_>>().join(", ")
                ),
            })
        }
    }

    /// The entries as a table in a unit.
    ///
    /// ```
    /// use beadchem::composition::{Basis, Composition, Unit};
    /// let ore = Composition::new(Basis::Dried).with("Fe2O3", 0.9794)?;
    /// assert!(ore.table(Unit::Percent).to_string().contains("basis: dried"));
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn table(&self, unit: Unit) -> Table {
        const DECIMALS: u8 = 4;
        let rows = self.entries.iter().map(|entry| {
            let number = match &entry.cell {
                Cell::Value(value) => match value.u() {
                    Some(u) => table::Cell::measured(unit.written(value.value()), unit.written(u)),
                    None => table::Cell::unstated(unit.written(value.value()), DECIMALS),
                },
                Cell::Below { limit } => table::Cell::missing(below_text(unit.written(*limit))),
                Cell::Absent => table::Cell::missing("absent"),
                Cell::Unknown => table::Cell::missing("unknown"),
            };
            [table::Cell::text(entry.species.text()), number]
        });
        Table::new("Composition")
            .head(format!("basis: {}", self.basis))
            .column(Column::text("species"))
            .column(Column::number("w", unit.word()).with_uncertainty("u"))
            .rows(rows)
    }

    /// The sum of the values, and of the signed loss on ignition where one is given.
    ///
    /// Entries that are below detection or unknown are not counted and are named; absent ones count as nothing.
    ///
    /// # Errors
    /// `basis.mismatch` where a loss on ignition is given for a composition that is not on the dried basis.
    ///
    /// ```
    /// use beadchem::composition::{Basis, Composition, LossOnIgnition};
    /// let ore = Composition::new(Basis::Dried).with("Fe2O3", 0.9794)?.with("SiO2", 0.0403)?;
    /// let total = ore.total(Some(&LossOnIgnition::new(-0.02645, 1000.0)?))?;
    /// assert!((total.value - 0.99325).abs() < 1e-12);
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    pub fn total(&self, loss: Option<&LossOnIgnition>) -> Result<Total> {
        if let (Some(_), false) = (loss, self.basis == Basis::Dried) {
            return Err(Error::Conflict {
                code: Code::BasisMismatch,
                detail: format!("Cannot add a loss on ignition of the dried powder to a composition {}.", self.basis),
                hint: "Put the composition on the dried basis first.".to_owned(),
            });
        }
        let counted = self.entries.iter().filter_map(|entry| entry.cell.value()).chain(loss.map(LossOnIgnition::loss));
        let values: Vec<f64> = counted.map(Estimate::value).collect();
        let not_counted = self
            .entries
            .iter()
            .filter(|entry| matches!(entry.cell, Cell::Below { .. } | Cell::Unknown))
            .map(|entry| entry.species.text().to_owned())
            .collect();
        let mut findings = Vec::new();
        if let Some(entry) = self.entries.iter().find(|entry| entry.by_difference) {
            let text = format!("{} is by difference, so the sum is the whole by construction.", entry.species);
            findings.push(Finding::new(Code::ClosureByDifference, entry.species.text(), text));
        }
        let oxides =
            self.entries.iter().any(|entry| entry.species.count(Element::O) > 0.0 && entry.cell.value().is_some());
        for entry in self.entries.iter().filter(|entry| oxides && entry.species.atoms().len() == 1) {
            let anion = matches!(entry.species.text(), "F" | "Cl" | "Br" | "I" | "S");
            if let (true, Some(value)) = (anion, entry.cell.value()) {
                let text = format!(
                    "{} {} is in the sum beside oxides, and no oxygen is taken off; a closure takes it off.",
                    entry.species,
                    percent_text(value.value())
                );
                findings.push(
                    Finding::new(Code::OxygenEquivalentMissing, entry.species.text(), text).with_value(value.value()),
                );
            }
        }
        Ok(Total { value: crate::numeric::sum(values), basis: self.basis, not_counted, findings })
    }
}

/// A sum of parts.
///
/// ```
/// use beadchem::composition::{Basis, Cell, Composition};
/// let total = Composition::new(Basis::Dried).with("CaO", 0.5)?.with("MgO", Cell::Below { limit: 0.001 })?.total(None)?;
/// assert_eq!((total.value, total.not_counted.as_slice()), (0.5, ["MgO".to_owned()].as_slice()));
/// # Ok::<(), beadchem::Error>(())
/// ```
#[derive(Debug, Clone, PartialEq)]
pub struct Total {
    /// The sum, g/g.
    pub value: f64,
    /// What it refers to.
    pub basis: Basis,
    /// Species that are below detection or unknown and are not in the sum.
    pub not_counted: Vec<String>,
    /// What a plain sum says too much or too little; a [`closure`](Composition::closure) counts it.
    pub findings: Vec<Finding>,
}

/// Two entries of one element, in the words that fit: an element beside its oxide, iron twice, two oxides.
fn element_twice(held: &Entry, species: &Formula, cell: &Cell, element: Element) -> Error {
    let said = |species: &Formula, cell: &Cell| match cell.value() {
        Some(value) => format!("{species} {}", percent_text(value.value())),
        None => species.to_string(),
    };
    let (first, second) = (said(&held.species, &held.cell), said(species, cell));
    let name = {
        let mut letters = element.name().chars();
        letters.next().map_or_else(String::new, |first| first.to_uppercase().chain(letters).collect())
    };
    let oxides = held.species.count(Element::O) > 0.0 && species.count(Element::O) > 0.0;
    let detail = match (oxides, element.symbol()) {
        (false, _) => format!("{} and {species} refer to the same {}; keep one.", held.species, element.name()),
        (true, "Fe") => format!("{name} appears twice: {first} and {second}. Pick one convention."),
        (true, _) => format!("{name} is entered as two oxides, {first} and {second}; convert to one."),
    };
    Error::Conflict {
        code: Code::SpeciesElementTwice,
        detail,
        hint: "If the two are separate forms (no atom in both), declare both as forms.".to_owned(),
    }
}

/// "< 0.0655": a limit in three digits.
pub(crate) fn below_text(limit: f64) -> String {
    const DIGITS: i32 = 3;
    let decimals = if limit > 0.0 { (DIGITS - 1 - limit.log10().floor() as i32).clamp(0, 12) } else { 0 };
    format!("< {limit:.*}", decimals as usize)
}

pub(crate) fn scaled(cell: &Cell, factor: f64) -> Cell {
    match cell {
        Cell::Value(estimate) => Cell::Value(estimate.mapped(|number| number * factor)),
        Cell::Below { limit } => Cell::Below { limit: limit * factor },
        other => other.clone(),
    }
}

/// The stored form of a composition.
///
/// ```
/// use beadchem::{composition::{Basis, Composition}, document::Document};
/// let ore = Composition::new(Basis::Dried).with("CaO", 0.5)?;
/// assert_eq!(Composition::from_body(ore.to_body())?, ore);
/// # Ok::<(), beadchem::Error>(())
/// ```
#[derive(Debug, Clone, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct CompositionBody {
    basis: Basis,
    unit: String,
    entries: Vec<EntryBody>,
}

#[derive(Debug, Clone, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct EntryBody {
    species: String,
    cell: Cell,
    #[serde(skip_serializing_if = "core::ops::Not::not", default)]
    separate_form: bool,
    #[serde(skip_serializing_if = "core::ops::Not::not", default)]
    by_difference: bool,
}

impl Document for Composition {
    const KIND: &'static str = "composition";
    const SCHEMA: u32 = 1;
    type Body = CompositionBody;
    fn to_body(&self) -> CompositionBody {
        let entries = self.entries.iter().map(|entry| EntryBody {
            species: entry.species.text().to_owned(),
            cell: entry.cell.clone(),
            separate_form: entry.separate_form,
            by_difference: entry.by_difference,
        });
        CompositionBody { basis: self.basis, unit: Unit::Fraction.word().to_owned(), entries: entries.collect() }
    }
    fn from_body(body: CompositionBody) -> Result<Self> {
        let unit = Unit::from_word(&body.unit)?;
        body.entries.into_iter().try_fold(Composition::new(body.basis), |composition, entry| {
            let cell = if unit == Unit::Fraction { entry.cell } else { scaled(&entry.cell, unit.fraction(1.0)) };
            let mut with = composition.push(Formula::parse(&entry.species)?, cell, entry.separate_form, false)?;
            if let Some(held) = with.entries.last_mut() {
                held.by_difference = entry.by_difference;
            }
            Ok(with)
        })
    }
}
