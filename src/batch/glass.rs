//! Readings of the glass, evaluation (b): what a correction rests on instead of a method.

use std::sync::Arc;

use crate::batch::asked::{Asked, Following, OfLines};
use crate::batch::cells::ToldCell;
use crate::batch::check::Checker;
use crate::batch::corrected::RowFinding;
use crate::batch::correction::Correction;
use crate::batch::field::{Field, Quantity};
use crate::batch::group::{Group, Key, SOME, some};
use crate::batch::told::Told;
use crate::charge::{Charge, Evaluation, Melt, limit_under_blank};
use crate::code::Code;
use crate::composition::unit::percent_short;
use crate::composition::{Basis, Composition};
use crate::error::{Error, Result};
use crate::finding::Finding;
use crate::method::Method;
use crate::substance::Formula;

/// What is read of the beads of a table.
#[derive(Debug, Clone, PartialEq)]
pub(crate) enum Read {
    /// Lines, evaluation (a).
    Lines(Arc<Method>),
    /// Mass fractions of the glass, evaluation (b).
    Glass(Vec<Formula>),
}

impl Read {
    pub(crate) fn method(&self) -> Option<&Method> {
        match self {
            Self::Lines(method) => Some(method),
            Self::Glass(_) => None,
        }
    }

    /// The method, for something that says nothing without one.
    pub(super) fn method_for(&self, what: &str) -> Result<&Method> {
        self.method().ok_or_else(|| Error::Conflict {
            code: Code::TableLayout,
            detail: format!("{what}: there is no place for it where the contents of the glass are read."),
            hint: "It belongs to a correction by a method, from intensities; leave it out.".to_owned(),
        })
    }

    /// What is found, as it is read.
    pub(super) fn analytes(&self) -> Vec<&str> {
        match self {
            Self::Lines(method) => method.analytes(),
            Self::Glass(read) => read.iter().map(Formula::text).collect(),
        }
    }

    /// Refuses a component that the glass is not read for.
    pub(super) fn knows(&self, species: &str) -> Result<()> {
        let Self::Glass(read) = self else {
            return Err(Error::Conflict {
                code: Code::TableLayout,
                detail: format!(
                    "{species} in the glass is declared, and the correction goes by a method, from intensities."
                ),
                hint: "The two evaluations are not mixed; a correction of readings of the glass takes it.".to_owned(),
            });
        };
        if read.iter().any(|held| held.text() == species) {
            return Ok(());
        }
        Err(Error::Unknown {
            code: Code::SpeciesUnknown,
            what: "Component of the glass".to_owned(),
            given: species.to_owned(),
            hint: format!("The glass is read for: {}.", self.analytes().join(", ")),
        })
    }
}

impl Correction {
    /// By readings of the glass, evaluation (b): mass fractions of these components in the glass, which no flux ratio went
    /// into. The charge to go by is that of [`new`](Self::new); each component has a column, `SiO2_glass_percent`.
    ///
    /// `w = C D - brought`: C the reading, D glass per sample, brought what flux and additions put in per gram of sample, as
    /// [`Melt::undilute`]. The loss on fusion goes into D, so a row without it has no result.
    ///
    /// # Errors
    /// Those of [`Composition::with`]; `species.element-twice` for two components of one element; `table.layout` for none;
    /// `table.column-doubled` where two columns have one name.
    ///
    /// ```
    /// use beadchem::batch::{Column, Columns, Correction, FusionLoss, Numbers, RunOptions};
    /// use beadchem::{charge::{Charge, FluxLot, Sample}, composition::{Basis, Composition}, substance::Weights};
    /// let lot = FluxLot::new("F-1", [("Li2B4O7", 1.0)], "1050 C, 18 min", 0.004)?;
    /// let recipe = Charge::new(Sample::dried(1.05)?, lot.weigh_g(6.0)?)?;
    /// let correction = Correction::of_glass(["CaO", "MgO"], recipe.clone())?.fusion(FusionLoss::Fixed(0.431.into()))?;
    /// let mut table = Columns::new(1);
    /// for (name, cells) in [("sample_g", &[1.05]), ("flux_g", &[6.0]), ("CaO_glass_percent", &[8.66]), ("MgO_glass_percent", &[0.14])] {
    ///     table.push(name, Column::Numbers(Numbers::new(cells)))?;
    /// }
    /// let corrected = correction.run(&table, &RunOptions::default())?;
    /// let alone = recipe.fuse_with_loss(&Weights::ciaaw_2024(), 0.431)?;
    /// let alone = alone.undilute(&Composition::new(Basis::Bead).with("CaO", 8.66 / 100.0)?)?;
    /// assert_eq!(corrected.column("CaO_percent").unwrap().get(0), Some(100.0 * alone.value("CaO")?));
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    pub fn of_glass<S: AsRef<str>>(components: impl IntoIterator<Item = S>, recipe: Charge) -> Result<Self> {
        let mut read = Vec::new();
        let mut readings = Composition::new(Basis::Bead);
        for component in components {
            readings = readings.with(component.as_ref(), SOME)?;
            read.push(Formula::parse(component.as_ref())?);
        }
        if read.is_empty() {
            return Err(Error::Conflict {
                code: Code::TableLayout,
                detail: "The glass is read for nothing.".to_owned(),
                hint: "Name the components whose mass fractions in the glass the table holds.".to_owned(),
            });
        }
        let correction = Self::of(Read::Glass(read), recipe)?;
        // what no plan can be made of is refused here, not row by row
        correction.recipe.fuse_with_loss(&correction.weights, 0.0)?.undilute(&readings)?;
        Ok(correction)
    }

    /// How results follow from what is read.
    ///
    /// ```
    /// use beadchem::charge::Evaluation;
    /// assert_eq!(beadchem::batch::example()?.evaluation(), Evaluation::Intensities);
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn evaluation(&self) -> Evaluation {
        match self.read {
            Read::Lines(_) => Evaluation::Intensities,
            Read::Glass(_) => Evaluation::GlassFractions,
        }
    }
}

/// A bead of the readings that are there.
pub(super) fn ask_glass<'a>(
    read: &[Formula],
    melt: &Melt,
    there: &impl Fn(&Quantity) -> Option<&'a Field>,
) -> Result<Asked> {
    let mut readings = Composition::new(Basis::Bead);
    for species in read {
        if let Some(field) = there(&Quantity::Glass(species.text().to_owned())) {
            readings = readings.with(species.text(), some(field, SOME)?)?;
        }
    }
    let result = melt.undilute(&readings)?;
    let brought = result.own_findings().iter().filter(|finding| finding.code == Code::AnalyteAdded);
    let findings = brought.cloned().collect();
    Ok(Asked { result, findings, notes: Vec::new(), drift: Following::default(), of_lines: OfLines::nothing() })
}

impl Checker<'_, '_> {
    /// Whether it is a detection limit of the glass.
    pub(super) fn is_limit_of_glass(&self, held: &ToldCell) -> bool {
        matches!(self.correction.fields[held.field].quantity, Quantity::Glass(_)) && held.what.is_ok()
    }

    /// Detection limits of the glass, taken back to the sample like values.
    pub(super) fn limits(&self, group: &Group, first: usize, rows: &[u32], told: &mut Told) {
        let Read::Glass(read) = &self.correction.read else { return };
        let (Some(low), Some(high)) = (rows.first(), rows.last()) else { return };
        let (low, high) = (first + *low as usize, first + *high as usize);
        let from = self.cells.told.partition_point(|held| held.row < low);
        let limits = self.cells.told[from..].iter().take_while(|held| held.row <= high);
        let mut whole = None;
        for held in limits.filter(|held| self.is_limit_of_glass(held)) {
            let (at, Ok(finding)) = (held.row - first, &held.what) else { continue };
            if rows.binary_search(&(at as u32)).is_err() || told.is_refused(at) {
                continue;
            }
            let quantity = &self.correction.fields[held.field].quantity;
            let is = |species: &Formula| matches!(quantity, Quantity::Glass(held) if held == species.text());
            let place = read.iter().position(is);
            let whole = whole.get_or_insert_with(|| self.correction.served(self.whole(group)));
            let said = match (place, whole, finding.value) {
                (Some(place), Ok(whole), Some(limit)) => self.limit(whole, held, place, limit),
                _ => None,
            };
            told.say(at, RowFinding::new(self.number(held.row), &said.unwrap_or_else(|| finding.clone())));
        }
    }

    /// The key of rows that have a number for every component of the glass too.
    fn whole(&self, group: &Group) -> Key {
        let is_glass = |field: &Field| matches!(field.quantity, Quantity::Glass(_));
        let there = self.correction.fields.iter().zip(&group.key.there).map(|(field, there)| *there || is_glass(field));
        Key { there: there.collect(), ..group.key.clone() }
    }

    /// What a limit of the glass, g/g, is in the sample of its row.
    fn limit(&self, group: &Group, held: &ToldCell, place: usize, limit: f64) -> Option<Finding> {
        let mut x = self.cells.inputs_of(group, held.row);
        let binding = group.bindings.iter().find(|binding| binding.field == held.field)?;
        if !(limit > 0.0 && limit <= 1.0) {
            let species = self.species[place].as_str();
            let text = format!(
                "{species}: a limit of {} is no share of a glass (above 0 to 100 %), and nothing follows for the sample. Correct the cell, or its unit.",
                percent_short(limit)
            );
            return Some(Finding::new(Code::LimitRead, species, text).with_value(limit));
        }
        x[binding.input] = limit;
        let out = group.plan.pivoted(&x[..group.plan.input_count()]).ok()?;
        let (value, species) = (out[group.results[place]?], self.species[place].as_str());
        if value <= 0.0 {
            return Some(limit_under_blank(species));
        }
        let text = format!(
            "{species} is below {} in the sample, by a limit of {} in the glass: no number stands in its column.",
            percent_short(value),
            percent_short(limit)
        );
        Some(Finding::new(Code::LimitRead, species, text).with_value(value))
    }
}
