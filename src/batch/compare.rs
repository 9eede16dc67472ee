//! Two runs of one table beside each other: which results moved, how far, and which inputs and versions moved with them.

use std::sync::Arc;

use crate::batch::changed::{Changed, PARTS, crossed, parts_of};
use crate::batch::column::{Column, Columns, Numbers, Words};
use crate::batch::compared::{Compared, Difference, Named};
use crate::batch::document::TableProvenance;
use crate::batch::pairs::{Pairs, by_column, by_place, ids, no_column, words};
use crate::batch::recorrect::SpecificationLimit;
use crate::batch::run::FIXED;
use crate::batch::versions::VersionChange;
use crate::code::Code;
use crate::composition::{Basis, Unit};
use crate::error::{Error, Result};
use crate::substance::Formula;

/// How two tables of results are held against each other.
///
/// ```
/// use beadchem::batch::{Column, Columns, Comparison, Numbers, Words};
/// let table = |ids: [&'static str; 2], lime: &'static [f64]| -> beadchem::Result<Columns<'static>> {
///     let mut table = Columns::new(2);
///     table.push("bead", Column::Words(Words::of(ids.map(Some))))?;
///     table.push("CaO_percent", Column::Numbers(Numbers::new(lime)))?;
///     Ok(table)
/// };
/// let (old, new) = (table(["B-1", "B-2"], &[30.0, 31.0])?, table(["B-2", "B-3"], &[31.5, 29.0])?);
/// let found = Comparison::new().run(&old, &new)?;
/// assert_eq!(found.rows(), [[Some(0), None], [Some(1), Some(0)], [None, Some(1)]]);
/// assert_eq!((found.differences()[0].moved, found.differences()[0].largest), (1, 0.5));
/// # Ok::<(), beadchem::Error>(())
/// ```
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Comparison {
    by: Option<String>,
    results: Option<Vec<String>>,
    tolerance: f64,
    limits: Vec<SpecificationLimit>,
    versions: Option<Vec<VersionChange>>,
}

/// The column of ids that rows are joined by unless another is named.
const IDS: &str = "bead";
/// Columns of results that say something of a row instead of a number.
const SAID: [&str; 2] = ["finding", "reason"];

impl Comparison {
    /// Every result that both tables have, every change of it; rows joined by the column `bead`, where not both have one in
    /// their order.
    ///
    /// A column is a result by its usual name: `CaO_percent`, `CaO_as_received_percent`, `total_percent`, `dilution` and the
    /// like. Every other column that both tables have is an input, but for uncertainties and covariances.
    ///
    /// ```
    /// assert_eq!(beadchem::batch::Comparison::new(), beadchem::batch::Comparison::default());
    /// ```
    #[must_use]
    pub fn new() -> Self {
        Self::default()
    }

    /// With rows joined by the words of this column.
    ///
    /// ```
    /// use beadchem::batch::{Columns, Comparison};
    /// assert!(Comparison::new().by("id").run(&Columns::new(2), &Columns::new(2)).is_err());
    /// ```
    #[must_use]
    pub fn by(mut self, column: &str) -> Self {
        self.by = Some(column.to_owned());
        self
    }

    /// Only these columns are results.
    ///
    /// ```
    /// use beadchem::batch::{Columns, Comparison};
    /// assert!(Comparison::new().results(&["CaO_percent"]).run(&Columns::new(2), &Columns::new(2)).is_err());
    /// ```
    #[must_use]
    pub fn results(mut self, names: &[&str]) -> Self {
        self.results = Some(names.iter().map(|name| (*name).to_owned()).collect());
        self
    }

    /// A result has moved where it changed by more than this, in the unit of its column; zero counts every change.
    ///
    /// # Errors
    /// `number.out-of-range` below zero.
    ///
    /// ```
    /// assert!(beadchem::batch::Comparison::new().tolerance(-1.0).is_err());
    /// ```
    pub fn tolerance(mut self, tolerance: f64) -> Result<Self> {
        let hint = "In the unit of the column; zero counts every change.";
        crate::error::within("Tolerance of a comparison", tolerance, "", [0.0, f64::MAX], "0 or more", hint)?;
        self.tolerance = tolerance;
        Ok(self)
    }

    /// With a limit: a row that is on the other side of it than before is named.
    ///
    /// ```
    /// use beadchem::batch::{Columns, Comparison, SpecificationLimit};
    /// let limit = SpecificationLimit { species: "CaO".to_owned(), low: None, high: Some(30.5) };
    /// assert!(Comparison::new().limit(limit).run(&Columns::new(2), &Columns::new(2)).is_err()); // no column CaO_percent
    /// ```
    #[must_use]
    pub fn limit(mut self, limit: SpecificationLimit) -> Self {
        self.limits.push(limit);
        self
    }

    /// With what the two tables rest on.
    ///
    /// ```
    /// use beadchem::batch::{Columns, Comparison, example};
    /// let known = example()?.provenance()?;
    /// let found = Comparison::new().provenance(&known, &known).run(&Columns::new(0), &Columns::new(0))?;
    /// assert_eq!(found.versions(), Some([].as_slice()));
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn provenance(mut self, old: &TableProvenance, new: &TableProvenance) -> Self {
        self.versions = Some(old.changes(new));
        self
    }

    /// The column of ids that is looked for.
    #[cfg(feature = "arrow")]
    pub(crate) fn ids(&self) -> &str {
        self.by.as_deref().unwrap_or(IDS)
    }

    /// Holds two tables against each other.
    ///
    /// # Errors
    /// `shape.mismatch` where rows are taken in their order and are not as many; `table.header` for a result or a column of
    /// ids that a table lacks; `table.column-type` for one of another kind; `species.unknown` for a limit of no result.
    ///
    /// ```
    /// use beadchem::batch::{Columns, Comparison};
    /// assert!(Comparison::new().run(&Columns::new(2), &Columns::new(3)).is_err());
    /// ```
    pub fn run(&self, old: &Columns<'_>, new: &Columns<'_>) -> Result<Compared> {
        let both = [old, new];
        let has_ids = |table: &&Columns<'_>| matches!(table.get(IDS), Some(Column::Words(_)));
        let by = self.by.clone().or_else(|| both.iter().all(has_ids).then(|| IDS.to_owned()));
        let pairs = match &by {
            Some(name) => by_column(old, new, name)?,
            None => by_place(old, new)?,
        };
        let results = match &self.results {
            Some(stated) => stated.clone(),
            None => old.names().filter(|name| is_result(name) && new.get(name).is_some()).map(str::to_owned).collect(),
        };
        self.check_limits(&results)?;
        let other = |name: &str| {
            let beside = name.strip_suffix("_u").is_some_and(|name| is_result(name) || is_one_of(name, &results));
            is_one_of(name, &results)
                || is_result(name)
                || beside
                || name.ends_with("_covariance")
                || by.as_deref() == Some(name)
                || SAID.contains(&name)
        };
        let inputs: Vec<String> =
            old.names().filter(|name| !other(name) && new.get(name).is_some()).map(str::to_owned).collect();
        let sides = results.iter().map(|name| Sides::of(name, old, new)).collect::<Result<Vec<_>>>()?;
        let versions = self.versions.as_deref().unwrap_or_default();
        let trace = Trace::of(old, new, &pairs, &inputs, versions);
        let mut walk = Walk::new(self, &results, &pairs, &trace);
        for row in 0..pairs.rows.len() {
            walk.row(row, pairs.rows[row], &sides);
        }
        let (differences, changed, moved, moved_with) = walk.close(&pairs, &results);
        let only = |one: &Columns<'_>, other: &Columns<'_>| -> Vec<String> {
            one.names().filter(|name| other.get(name).is_none()).map(str::to_owned).collect()
        };
        let only = [only(old, new), only(new, old)];
        let stated = self.results.is_some();
        let results_only =
            only.clone().map(|names| names.into_iter().filter(|name| !stated && is_result(name)).collect());
        let versions = self.versions.clone();
        let ids = match &by {
            Some(name) => ids(&pairs, words(old, name, "old")?, words(new, name, "new")?),
            None => Vec::new(),
        };
        Ok(Compared {
            by,
            ids,
            pairs: pairs.rows,
            numbers: changed,
            moved,
            moved_with,
            differences,
            versions,
            only,
            results_only,
        })
    }

    fn check_limits(&self, results: &[String]) -> Result<()> {
        let unknown = self.limits.iter().find(|limit| !is_one_of(&column_of(limit), results));
        unknown.map_or(Ok(()), |limit| {
            Err(Error::Unknown {
                code: Code::SpeciesUnknown,
                what: "Result".to_owned(),
                given: limit.species.clone(),
                hint: format!("The results are: {}.", results.join(", ")),
            })
        })
    }
}

/// Holds columns of two runs of one table against each other; every other column they share is an input.
///
/// # Errors
/// Those of [`Comparison::run`]; `number.out-of-range` for a tolerance below zero.
///
/// ```
/// use beadchem::batch::{Column, Columns, Numbers, compare};
/// let table = |lime: &'static [f64], mass: &'static [f64]| -> beadchem::Result<Columns<'static>> {
///     let mut table = Columns::new(2);
///     table.push("CaO_percent", Column::Numbers(Numbers::new(lime)))?;
///     table.push("sample_g", Column::Numbers(Numbers::new(mass)))?;
///     Ok(table)
/// };
/// let old = table(&[30.0, 31.0], &[0.8, 0.8])?;
/// let new = table(&[30.0, 30.5], &[0.8, 0.81])?;
/// let found = compare(&old, &new, &["CaO_percent"], 1e-9)?;
/// assert_eq!((found[0].moved, found[0].largest, found[0].largest_row), (1, -0.5, Some(1)));
/// assert_eq!(found[0].with_inputs, [("sample_g".to_owned(), 1)]);
/// # Ok::<(), beadchem::Error>(())
/// ```
pub fn compare(old: &Columns<'_>, new: &Columns<'_>, results: &[&str], tolerance: f64) -> Result<Vec<Difference>> {
    Ok(Comparison::new().results(results).tolerance(tolerance)?.run(old, new)?.differences)
}

fn is_one_of(name: &str, list: &[String]) -> bool {
    list.iter().any(|held| held == name)
}

/// The column a limit holds for.
fn column_of(limit: &SpecificationLimit) -> String {
    format!("{}_percent", limit.species)
}

/// Whether this is the usual name of a column of results.
fn is_result(name: &str) -> bool {
    if name == "total_percent" || FIXED.iter().any(|(_, fixed, _)| *fixed == name) {
        return true;
    }
    let Some(stem) = name.strip_suffix("_percent") else { return false };
    let (species, basis) = stem.split_once('_').unwrap_or((stem, ""));
    Formula::parse(species).is_ok() && (basis.is_empty() || Basis::parse(&basis.replace('_', " ")).is_ok())
}

fn unit_of(name: &str) -> &'static str {
    let fixed = FIXED.iter().find(|(_, fixed, _)| *fixed == name).map(|(.., unit)| *unit);
    fixed.unwrap_or(if name.ends_with("_percent") { Unit::Percent.word() } else { "" })
}

/// A result in both tables, and its u in the old one.
struct Sides<'t> {
    numbers: [Numbers<'t>; 2],
    u: Option<Numbers<'t>>,
}

impl<'t> Sides<'t> {
    fn of(name: &str, old: &'t Columns<'_>, new: &'t Columns<'_>) -> Result<Self> {
        let column = |table: &'t Columns<'_>| match table.get(name) {
            Some(Column::Numbers(numbers)) => Ok(*numbers),
            Some(Column::Words(_)) => Err(Error::Conflict {
                code: Code::ColumnType,
                detail: format!("The column {name} holds words where results are wanted."),
                hint: "Name the columns that are results, or mend the text in it.".to_owned(),
            }),
            None => Err(no_column("Column of results", name, table)),
        };
        let u = match old.get(&format!("{name}_u")) {
            Some(Column::Numbers(numbers)) => Some(*numbers),
            _ => None,
        };
        Ok(Self { numbers: [column(old)?, column(new)?], u })
    }
}

/// What can have moved a row: the names of inputs, then of versions.
struct Trace {
    names: Vec<String>,
    inputs: usize,
    /// For each name whether it differs in a pair.
    differs: Vec<Vec<bool>>,
}

impl Trace {
    fn of(old: &Columns<'_>, new: &Columns<'_>, pairs: &Pairs, inputs: &[String], versions: &[VersionChange]) -> Self {
        let of_version = |change: &VersionChange| can_move(change, old, new, pairs);
        let of_input = |name: &String| differing(old, new, pairs, name);
        Self {
            names: inputs.iter().cloned().chain(versions.iter().map(|change| change.what.clone())).collect(),
            inputs: inputs.len(),
            differs: inputs.iter().map(of_input).chain(versions.iter().map(of_version)).collect(),
        }
    }

    /// What differs in a pair, by place among the names.
    fn of_row(&self, row: usize, held: &mut Vec<usize>) {
        held.clear();
        held.extend((0..self.differs.len()).filter(|&name| self.differs[name][row]));
    }
}

/// The pairs that a version can have moved: all, or for a flux lot those that name it, where a column does.
fn can_move(change: &VersionChange, old: &Columns<'_>, new: &Columns<'_>, pairs: &Pairs) -> Vec<bool> {
    match (&change.lot, old.get("flux_lot"), new.get("flux_lot")) {
        (Some(lot), Some(Column::Words(before)), Some(Column::Words(after))) => {
            let names = |words: &Words<'_>, row: Option<usize>| row.and_then(|row| words.get(row)) == Some(lot);
            pairs.rows.iter().map(|[one, other]| names(before, *one) || names(after, *other)).collect()
        }
        _ => vec![true; pairs.rows.len()],
    }
}

/// The pairs in which a column differs between two tables.
fn differing(old: &Columns<'_>, new: &Columns<'_>, pairs: &Pairs, name: &str) -> Vec<bool> {
    let of = |differs: &dyn Fn(usize, usize) -> bool| {
        let pair = |pair: &[Option<usize>; 2]| matches!(pair, [Some(one), Some(other)] if differs(*one, *other));
        pairs.rows.iter().map(pair).collect()
    };
    match (old.get(name), new.get(name)) {
        (Some(Column::Numbers(before)), Some(Column::Numbers(after))) => {
            let number =
                |column: &Numbers<'_>, row| column.get(row).filter(|number| !number.is_nan()).map(f64::to_bits);
            of(&|one, other| number(before, one) != number(after, other))
        }
        (Some(Column::Words(before)), Some(Column::Words(after))) => {
            of(&|one, other| before.get(one) != after.get(other))
        }
        _ => of(&|_, _| true),
    }
}

/// The way through the pairs.
struct Walk<'a> {
    comparison: &'a Comparison,
    trace: &'a Trace,
    differences: Vec<Difference>,
    /// For each result how often each name differed in rows that moved.
    with: Vec<Vec<usize>>,
    /// For each result its limits.
    limits: Vec<Vec<&'a SpecificationLimit>>,
    changed: Changed,
    moved: Named,
    moved_with: Named,
    room: [Vec<usize>; 2],
}

impl<'a> Walk<'a> {
    fn new(comparison: &'a Comparison, results: &[String], pairs: &Pairs, trace: &'a Trace) -> Self {
        let limits = |name: &String| comparison.limits.iter().filter(|limit| column_of(limit) == *name).collect();
        Self {
            comparison,
            trace,
            differences: results.iter().map(|name| Difference::new(name)).collect(),
            with: vec![vec![0; trace.names.len()]; results.len()],
            limits: results.iter().map(limits).collect(),
            changed: Changed::new(pairs.rows.len(), results.len() * PARTS.len()),
            moved: Named::default(),
            moved_with: Named::default(),
            room: Default::default(),
        }
    }

    fn row(&mut self, row: usize, [one, other]: [Option<usize>; 2], sides: &[Sides<'_>]) {
        let [mut differing, mut causes] = core::mem::take(&mut self.room);
        differing.clear();
        self.trace.of_row(row, &mut causes);
        for (place, side) in sides.iter().enumerate() {
            let number = |column: &Numbers<'_>, row: Option<usize>| {
                row.and_then(|row| column.get(row)).filter(|it| !it.is_nan())
            };
            let [before, after] = [number(&side.numbers[0], one), number(&side.numbers[1], other)];
            let u = side.u.and_then(|u| number(&u, one)).filter(|u| *u > 0.0);
            self.changed.put(place, row, [before, after], u);
            let found = &mut self.differences[place];
            let (before, after) = match (before, after) {
                (Some(before), Some(after)) => (before, after),
                (None, None) => continue,
                // a row that stands in one table only is told of as a row
                _ if one.is_none() || other.is_none() => continue,
                (before, _) => {
                    found.gone += usize::from(before.is_some());
                    found.appeared += usize::from(before.is_none());
                    differing.push(place);
                    continue;
                }
            };
            found.compared += 1;
            for limit in &self.limits[place] {
                if limit.side(before) != limit.side(after) {
                    found.crossed += 1;
                    self.changed.findings.push(crossed(row as u64, limit, [before, after], ""));
                }
            }
            let change = after - before;
            if change.abs() <= self.comparison.tolerance || before.to_bits() == after.to_bits() {
                continue;
            }
            differing.push(place);
            found.moved += 1;
            if found.largest_row.is_none() || change.abs() > found.largest.abs() {
                found.largest = change;
                found.largest_row = Some(row as u64);
                found.largest_per_u = u.map(|u| change / u);
            }
            causes.iter().for_each(|&cause| self.with[place][cause] += 1);
            found.unexplained += usize::from(causes.is_empty());
        }
        if differing.is_empty() {
            causes.clear();
        }
        self.moved.push(&differing, |place| &self.differences[place].column);
        self.moved_with.push(&causes, |place| &self.trace.names[place]);
        self.room = [differing, causes];
    }

    /// What was found, in the order of rows.
    fn close(mut self, pairs: &Pairs, results: &[String]) -> (Vec<Difference>, crate::batch::Corrected, Named, Named) {
        let inputs = self.trace.inputs;
        for (found, with) in self.differences.iter_mut().zip(&self.with) {
            let mut named: Vec<(String, usize)> = self.trace.names.iter().cloned().zip(with.iter().copied()).collect();
            let versions = named.split_off(inputs);
            let ranked = |mut list: Vec<(String, usize)>| {
                list.retain(|(_, rows)| *rows > 0);
                list.sort_by_key(|(_, rows)| core::cmp::Reverse(*rows));
                list
            };
            (found.with_inputs, found.with_versions) = (ranked(named), ranked(versions));
        }
        self.changed.findings.extend(pairs.findings.iter().cloned());
        let columns: Arc<[_]> = results.iter().flat_map(|name| parts_of(name, unit_of(name), None)).collect();
        (self.differences, self.changed.close(columns, 0, Vec::new()), self.moved, self.moved_with)
    }
}
