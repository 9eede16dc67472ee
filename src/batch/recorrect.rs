//! What a table would say under another correction: old, new, the change, and which results cross a limit.

use std::cmp::Ordering;
use std::collections::HashSet;
use std::sync::{Arc, OnceLock};

use crate::batch::changed::{Changed, PARTS, crossed, parts_of};
use crate::batch::column::{Column, Columns};
use crate::batch::corrected::{Corrected, ResultColumn, RowFinding};
use crate::batch::correction::Correction;
use crate::batch::glass::Read;
use crate::batch::job::{Kind, TableJob};
use crate::batch::options::{RunOptions, Uncertainty};
use crate::batch::pairs::no_column;
use crate::batch::run::not_read;
use crate::batch::stored::Stored;
use crate::charge::{Charge, FluxLot};
use crate::code::Code;
use crate::composition::Unit;
use crate::error::{Error, Result};
use crate::finding::Finding;
use crate::method::Method;
use crate::uncertainty::Estimate;

/// Bounds of a result, in %: a certificate that crosses one says something else than before.
///
/// ```
/// use beadchem::batch::SpecificationLimit;
/// let limit = SpecificationLimit { species: "SiO2".to_owned(), low: None, high: Some(2.5) };
/// assert!(limit.allows(2.5) && !limit.allows(2.6));
/// ```
#[derive(Debug, Clone, PartialEq)]
pub struct SpecificationLimit {
    /// The result.
    pub species: String,
    /// The lowest content that is allowed, %.
    pub low: Option<f64>,
    /// The highest content that is allowed, %.
    pub high: Option<f64>,
}

impl SpecificationLimit {
    /// Whether a content, %, is within.
    ///
    /// ```
    /// use beadchem::batch::SpecificationLimit;
    /// let limit = SpecificationLimit { species: "CaO".to_owned(), low: Some(30.0), high: None };
    /// assert!(!limit.allows(29.9));
    /// ```
    #[must_use]
    pub fn allows(&self, percent: f64) -> bool {
        self.side(percent) == Ordering::Equal
    }

    /// Below what is allowed, within, or above.
    pub(crate) fn side(&self, percent: f64) -> Ordering {
        if self.low.is_some_and(|low| percent < low) {
            Ordering::Less
        } else if self.high.is_some_and(|high| percent > high) {
            Ordering::Greater
        } else {
            Ordering::Equal
        }
    }
}

/// A correction and what it would be instead.
///
/// Rows with what they were measured from are corrected by both; a row that names no version of its method, or another than
/// the old one, cannot be: of it only the factor of the fused flux is known, and it is marked as an estimate. So are all rows of
/// a table that holds results and no masses; where there are several lots they must say theirs. A flux loss of its own keeps a
/// row from a change of that of its lot.
///
/// ```
/// use beadchem::batch::{Recorrection, RunOptions, example, example_table};
/// use beadchem::uncertainty::Estimate;
/// let old = example()?;
/// let new = old.with_flux_loss("F-1", Estimate::new(0.0062, 0.0003)?)?;
/// let table = example_table(50)?;
/// let changed = Recorrection::new(old, new)?.run(&table.columns()?, &RunOptions::default())?;
/// let change = changed.column("CaO_percent_change").unwrap();
/// assert!(change.get(0).unwrap() < -0.05); // less fused flux, less of everything
/// # Ok::<(), beadchem::Error>(())
/// ```
#[derive(Debug, Clone)]
pub struct Recorrection {
    pub(super) old: Correction,
    pub(super) new: Correction,
    pub(super) only: Vec<(String, String)>,
    pub(super) limits: Vec<SpecificationLimit>,
    pub(super) wanted: OnceLock<Vec<(String, Kind)>>,
}

impl Recorrection {
    /// From one correction to another of the same results.
    ///
    /// # Errors
    /// `table.layout` where they do not give the same results, or not by the same evaluation.
    ///
    /// ```
    /// use beadchem::{batch::{Recorrection, example}, charge::Form};
    /// assert!(Recorrection::new(example()?, example()?.form(Form::Elements)).is_err());
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    pub fn new(old: Correction, new: Correction) -> Result<Self> {
        if old.evaluation() != new.evaluation() {
            return Err(Error::Conflict {
                code: Code::TableLayout,
                detail: format!("One correction is {}, the other {}.", old.evaluation().text(), new.evaluation().text()),
                hint: "They obey other sensitivities to the flux and are not mixed: hold their results against each other as tables."
                    .to_owned(),
            });
        }
        if old.species()? != new.species()? || old.basis() != new.basis() {
            return Err(Error::Conflict {
                code: Code::TableLayout,
                detail: "The two corrections do not give the same results on the same basis.".to_owned(),
                hint: "Change what is in question and nothing else.".to_owned(),
            });
        }
        Ok(Self { old, new, only: Vec::new(), limits: Vec::new(), wanted: OnceLock::new() })
    }

    /// The correction that results are held against.
    ///
    /// ```
    /// use beadchem::batch::{Recorrection, example};
    /// assert_eq!(Recorrection::new(example()?, example()?)?.before(), &example()?);
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn before(&self) -> &Correction {
        &self.old
    }

    /// Only rows with this word in a column; the others keep what they have.
    ///
    /// ```
    /// use beadchem::batch::{Recorrection, example};
    /// let only = Recorrection::new(example()?, example()?)?.only("flux_lot", "F-1");
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn only(mut self, column: &str, word: &str) -> Self {
        self.only.push((column.to_owned(), word.to_owned()));
        self.wanted = OnceLock::new();
        self
    }

    /// With a limit that results are held against.
    ///
    /// # Errors
    /// `species.unknown`; the message lists the results.
    ///
    /// ```
    /// use beadchem::batch::{Recorrection, SpecificationLimit, example};
    /// let limit = SpecificationLimit { species: "FeO".to_owned(), low: None, high: Some(1.0) };
    /// assert!(Recorrection::new(example()?, example()?)?.limit(limit).is_err());
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    pub fn limit(mut self, limit: SpecificationLimit) -> Result<Self> {
        let known = self.old.species()?;
        if known.iter().all(|species| *species != limit.species) {
            return Err(Error::Unknown {
                code: Code::SpeciesUnknown,
                what: "Result".to_owned(),
                given: limit.species,
                hint: format!("The results are: {}.", known.join(", ")),
            });
        }
        self.limits.push(limit);
        Ok(self)
    }

    /// The columns that come out: old, new, change and change in units of u for each result.
    ///
    /// # Errors
    /// Those of the form.
    ///
    /// ```
    /// use beadchem::batch::{Recorrection, example};
    /// assert_eq!(Recorrection::new(example()?, example()?)?.columns()?[2].name, "CaO_percent_change");
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    pub fn columns(&self) -> Result<Arc<[ResultColumn]>> {
        let basis = Some(self.old.basis().to_string());
        let of = |species: &String| parts_of(&format!("{species}_percent"), Unit::Percent.word(), basis.as_deref());
        Ok(self.old.species()?.iter().flat_map(of).collect())
    }

    /// Both corrections over a table.
    ///
    /// # Errors
    /// Those of [`Correction::run`]; `table.header` where a column to choose rows by is not there.
    ///
    /// ```
    /// use beadchem::batch::{Recorrection, RunOptions, example, example_table};
    /// let table = example_table(9)?;
    /// let same = Recorrection::new(example()?, example()?)?.run(&table.columns()?, &RunOptions::default())?;
    /// assert!((0..9).all(|row| same.column("MgO_percent_change").unwrap().get(row) == Some(0.0)));
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    pub fn run(&self, table: &Columns<'_>, options: &RunOptions<'_>) -> Result<Corrected> {
        let chosen = self.chosen(table)?;
        let (rows, species) = (table.rows(), self.old.species()?);
        let mut changed = Changed::new(rows, species.len() * PARTS.len());
        let stored = Stored::of(&self.old, &self.new, table, &species);
        if stored.alone {
            (0..rows).for_each(|row| self.put_stored(&stored, row, chosen[row], &mut changed));
            let notes = self.unread(table, &stored).into_iter().chain(self.none_chosen(table, &chosen));
            let notes = notes.chain(self.unreached(&stored, &chosen)).collect();
            return Ok(changed.close(self.columns()?, table.first_row(), notes));
        }
        let with_u = RunOptions { uncertainty: Uncertainty::Variance, ..options.clone() };
        let old = self.old.run(table, &with_u)?;
        let new = self.new.run(table, &RunOptions { uncertainty: Uncertainty::None, ..options.clone() })?;
        let computed: Vec<bool> = (0..rows).map(|row| !stored.wants(row)).collect();
        for (place, name) in species.iter().enumerate() {
            let [before, after] = [&old, &new].map(|held| held.column(&format!("{name}_percent")));
            let (Some(before), Some(after)) = (before, after) else { continue };
            let u = old.column(&format!("{name}_percent_u"));
            for (row, chosen) in chosen.iter().enumerate().filter(|(row, _)| computed[*row]) {
                let after = if *chosen { after.get(row) } else { before.get(row) };
                let [Some(before), Some(after)] = [before.get(row), after] else { continue };
                let u = u.and_then(|u| u.get(row)).filter(|u| *u > 0.0);
                changed.put(place, row, [Some(before), Some(after)], u);
                self.hold(&mut changed, stored.number(row), name, [before, after], "");
            }
        }
        // what either of them has to say of a row it computed, once; the new one of the rows that take its results
        let place = |finding: &&RowFinding| (finding.row - table.first_row()) as usize;
        let of_old = old.findings.iter().filter(|finding| computed[place(finding)]);
        let of_new = new.findings.iter().filter(|finding| computed[place(finding)] && chosen[place(finding)]);
        let mut said: HashSet<(u64, Code, String)> = HashSet::new();
        for finding in of_old.chain(of_new) {
            if said.insert((finding.row, finding.code, finding.quantity.clone())) {
                changed.findings.push(finding.clone());
            }
        }
        // what either of them says of all rows, but for totals: a change has none
        let unread = self.unread(table, &stored).into_iter();
        let mut notes: Vec<Finding> = unread.chain(self.none_chosen(table, &chosen)).collect();
        notes.extend(self.unreached(&stored, &chosen));
        let of_both = |note: &Finding| !matches!(note.code, Code::TotalNotMade | Code::ColumnsNotRead);
        for note in old.notes.into_iter().chain(new.notes).filter(of_both) {
            if notes.iter().all(|held| held.text != note.text) {
                notes.push(note);
            }
        }
        for row in (0..rows).filter(|&row| !computed[row]) {
            self.put_stored(&stored, row, chosen[row], &mut changed);
        }
        Ok(changed.close(self.columns()?, table.first_row(), notes))
    }

    /// Which rows are asked for.
    fn chosen(&self, table: &Columns<'_>) -> Result<Vec<bool>> {
        let mut chosen = vec![true; table.rows()];
        for (name, word) in &self.only {
            let Some(Column::Words(words)) = table.get(name) else {
                return Err(no_column("Column of words", name, table));
            };
            for (row, chosen) in chosen.iter_mut().enumerate() {
                *chosen &= words.get(row) == Some(word);
            }
        }
        Ok(chosen)
    }

    /// Says that no row of a table is asked for, and what stands in the columns that rows are chosen by.
    fn none_chosen(&self, table: &Columns<'_>, chosen: &[bool]) -> Option<Finding> {
        if chosen.is_empty() || chosen.contains(&true) {
            return None;
        }
        const SHOWN: usize = 3;
        let asked = self.only.iter().map(|(name, word)| {
            let mut there: Vec<&str> = Vec::new();
            if let Some(Column::Words(words)) = table.get(name) {
                for other in (0..table.rows()).filter_map(|row| words.get(row)) {
                    if there.len() <= SHOWN && !there.contains(&other) {
                        there.push(other);
                    }
                }
            }
            there.truncate(SHOWN);
            let there = if there.is_empty() { "no words".to_owned() } else { there.join(", ") };
            format!("{name} = {word} (there stands, for example, {there})")
        });
        let asked = asked.collect::<Vec<_>>().join(" and ");
        Some(Finding::new(Code::RowsNotChosen, "only", format!("No row has {asked}, so nothing changes.")))
    }

    /// Says of how many rows their own flux loss stands in the way of a change of that of their lot.
    fn unreached(&self, stored: &Stored<'_>, chosen: &[bool]) -> Option<Finding> {
        let both = self.old.lots.iter().zip(&self.new.lots);
        let changed: Vec<&str> =
            both.filter(|(old, new)| old.loss() != new.loss()).map(|(old, _)| old.name()).collect();
        let of_changed = |row: usize| stored.lot(row).is_some_and(|lot| changed.contains(&lot));
        let rows = chosen.iter().enumerate().filter(|(row, chosen)| **chosen && of_changed(*row));
        let count = rows.filter(|(row, _)| stored.states_loss(*row)).count();
        let text = "Rows that state a flux loss of their own do not change with that of their lot: is theirs right?";
        (count > 0).then(|| Finding::new(Code::LossOfRowStands, "flux loss", text).with_value(count as f64))
    }

    /// Names a result that is on the other side of a limit.
    fn hold(&self, changed: &mut Changed, row: u64, species: &str, [before, after]: [f64; 2], how: &str) {
        for limit in self.limits.iter().filter(|limit| limit.species == species) {
            if limit.side(before) != limit.side(after) {
                changed.findings.push(crossed(row, limit, [before, after], how));
            }
        }
    }

    /// Columns of the table that nothing is read from.
    fn unread(&self, table: &Columns<'_>, stored: &Stored<'_>) -> Option<Finding> {
        let read = |name: &str| {
            let by = |wanted: &[(String, Kind)]| wanted.iter().any(|(held, _)| held == name);
            by(self.old.wanted()) || by(self.new.wanted()) || self.only.iter().any(|(held, _)| held == name)
        };
        not_read(table.names().filter(|name| !read(name) && !stored.reads(name)))
    }

    /// A row that goes by its stored results.
    fn put_stored(&self, stored: &Stored<'_>, row: usize, chosen: bool, changed: &mut Changed) {
        let number = stored.number(row);
        let (held, said) = stored.row(row, chosen);
        if let Some(held) = held {
            for (place, (name, value)) in stored.species.iter().zip(&held.results).enumerate() {
                if let Some(value) = *value {
                    let after = value * held.factor;
                    changed.put(place, row, [Some(value), Some(after)], stored.u(place, row));
                    self.hold(changed, number, name, [value, after], " by the estimate");
                }
            }
        }
        changed.findings.extend(said.map(|finding| RowFinding::of(number, finding)));
    }
}

impl Correction {
    /// The same with another loss of one of its lots, as a fraction of the flux as weighed.
    ///
    /// # Errors
    /// `flux.lot-unknown`; `number.out-of-range` for a loss no flux has.
    ///
    /// ```
    /// assert!(beadchem::batch::example()?.with_flux_loss("F-9", 0.004.into()).is_err());
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    pub fn with_flux_loss(&self, lot: &str, loss: Estimate) -> Result<Self> {
        if self.lots.iter().all(|held| held.name() != lot) {
            let known: Vec<&str> = self.lots.iter().map(FluxLot::name).collect();
            return Err(Error::Unknown {
                code: Code::FluxLotUnknown,
                what: "Flux lot".to_owned(),
                given: lot.to_owned(),
                hint: format!("The lots are: {}.", known.join(", ")),
            });
        }
        let changed = |held: &FluxLot| if held.name() == lot { held.with_loss(loss.clone()) } else { Ok(held.clone()) };
        let lots = self.lots.iter().map(changed).collect::<Result<Vec<_>>>()?;
        let recipe: Charge = self.recipe.with_lot(&lots[0])?;
        Ok(Self { lots, recipe, made: Arc::default(), ..self.clone() })
    }

    /// The same by another method: another calibration, other coefficients.
    ///
    /// # Errors
    /// `table.layout` where the glass is read, which takes no method.
    ///
    /// ```
    /// use beadchem::method::Method;
    /// let same = beadchem::batch::example()?.with_method(Method::template()?)?;
    /// assert_eq!(same, beadchem::batch::example()?);
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    pub fn with_method(&self, method: Method) -> Result<Self> {
        self.read.method_for("Another method")?;
        Ok(Self { read: Read::Lines(Arc::new(method)), made: Arc::default(), ..self.clone() })
    }
}
