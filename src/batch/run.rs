//! Tables in chunks: rows to groups, groups to plans, chunks to threads. No thread, no chunk and no neighbour changes a bit.

use std::borrow::Cow;
use std::ops::Range;
use std::sync::atomic::{AtomicUsize, Ordering};
use std::sync::{Arc, Mutex};

use crate::batch::cells::Cells;
use crate::batch::check::Checker;
use crate::batch::column::Columns;
use crate::batch::corrected::{Corrected, ResultColumn, RowFinding};
use crate::batch::correction::Correction;
use crate::batch::engine::{Block, Layout, Room};
use crate::batch::field::Spread;
use crate::batch::group::Group;
use crate::batch::made::Served;
use crate::batch::options::{RunOptions, Uncertainty};
use crate::batch::outline::Outline;
use crate::batch::sort::{FLAGS, Signs};
use crate::batch::told::Told;
use crate::charge::unstated_u;
use crate::code::Code;
use crate::composition::{Basis, Unit};
use crate::error::{Error, Result};
use crate::finding::Finding;
use crate::numeric::InstructionSet;
use crate::numeric::memory::{LARGE_BYTES, zeros};

/// Columns of results behind the contents: outputs of the plan that stand in them, and their names.
pub(crate) const FIXED: [(usize, &str, &str); 3] =
    [(0, "predicted_bead_g", "g"), (2, "fused_flux_ratio", "g/g"), (3, "dilution", "g/g")];

impl Correction {
    pub(crate) fn name_columns(&self, uncertainty: Uncertainty) -> Result<Vec<ResultColumn>> {
        let basis = Some(self.basis().to_string());
        let percent = |name: String| ResultColumn { name, unit: Unit::Percent.word(), basis: basis.clone() };
        let species = self.species()?;
        let mut columns: Vec<ResultColumn> = species.iter().map(|name| percent(format!("{name}_percent"))).collect();
        columns.extend(FIXED.map(|(_, name, unit)| ResultColumn { name: name.to_owned(), unit, basis: None }));
        if self.totals() {
            columns.push(percent("total_percent".to_owned()));
        }
        for also in &self.also_on {
            let (word, stands) = (also.to_string().replace(' ', "_"), Some(also.to_string()));
            let column = |name: &String| {
                let name = format!("{name}_{word}_percent");
                ResultColumn { name, unit: Unit::Percent.word(), basis: stands.clone() }
            };
            columns.extend(species.iter().map(column));
        }
        if uncertainty != Uncertainty::None {
            columns.extend(species.iter().map(|name| percent(format!("{name}_percent_u"))));
        }
        if uncertainty == Uncertainty::Covariance {
            for (place, first) in species.iter().enumerate() {
                for second in &species[place..] {
                    let name = format!("{first}_{second}_covariance");
                    columns.push(ResultColumn { name, unit: "%^2", basis: basis.clone() });
                }
            }
        }
        Ok(columns)
    }

    /// Whether results are totalled: on the dried basis, where rows can have a loss on ignition.
    pub(crate) fn totals(&self) -> bool {
        self.basis() == Basis::Dried && self.made.outline(self).places.loss.is_some()
    }

    /// Corrects a table, or a part of it: one row out for each row in, in the same order. A row that cannot be corrected has
    /// nulls for results, and a finding says why; it moves no other row.
    ///
    /// # Errors
    /// What is wrong with the table as a whole: `table.header` for a column that is not there, `number.unreadable` for one of
    /// another kind; `number.out-of-range` for no thread.
    ///
    /// ```
    /// use beadchem::batch::RunOptions;
    /// let table = beadchem::batch::example_table(100)?;
    /// let corrected = beadchem::batch::example()?.run(&table.columns()?, &RunOptions::default())?;
    /// assert_eq!((corrected.rows(), corrected.refused()), (100, 0));
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    pub fn run(&self, table: &Columns<'_>, options: &RunOptions<'_>) -> Result<Corrected> {
        let columns = self.result_columns(options.uncertainty)?;
        let numbers = zeros(columns.len() * table.rows()).ok_or_else(|| no_room(table.rows()))?;
        let mut corrected = Corrected { numbers, ..Corrected::default() };
        self.run_into(table, options, &mut corrected)?;
        Ok(corrected)
    }

    /// The same into results of another table, whose room is used again.
    ///
    /// # Errors
    /// As [`run`](Self::run).
    ///
    /// ```
    /// use beadchem::batch::{Corrected, RunOptions};
    /// let (correction, table) = (beadchem::batch::example()?, beadchem::batch::example_table(100)?);
    /// let mut corrected = Corrected::default();
    /// correction.run_into(&table.columns()?, &RunOptions::default(), &mut corrected)?;
    /// assert_eq!(corrected, correction.run(&table.columns()?, &RunOptions::default())?);
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    pub fn run_into(&self, table: &Columns<'_>, options: &RunOptions<'_>, corrected: &mut Corrected) -> Result<()> {
        let columns = self.result_columns(options.uncertainty)?;
        corrected.numbers.resize(columns.len() * table.rows(), 0.0);
        corrected.codes.resize(table.rows(), 0);
        corrected.rows = table.rows();
        corrected.columns = columns;
        let mut numbers = core::mem::take(&mut corrected.numbers);
        let mut codes = core::mem::take(&mut corrected.codes);
        let said = self.run_to(table, options, &mut numbers, &mut codes);
        (corrected.numbers, corrected.codes) = (numbers, codes);
        let said = said?;
        (corrected.valid, corrected.findings, corrected.notes) = (said.valid, said.findings, said.notes);
        Ok(())
    }

    /// The same into numbers and codes that belong to the caller: columns one after another, a row each.
    ///
    /// # Errors
    /// As [`run`](Self::run); `shape.mismatch` for room of another size.
    pub(crate) fn run_to(
        &self,
        table: &Columns<'_>,
        options: &RunOptions<'_>,
        numbers: &mut [f64],
        codes: &mut [u16],
    ) -> Result<Said> {
        const MOST_THREADS: f64 = 256.0;
        let hint = "One thread is usual, as many as there are cores at most.";
        let threads = options.threads as f64;
        crate::error::within("Number of threads", threads, "", [1.0, MOST_THREADS], "1 to 256", hint)?;
        let columns = self.result_columns(options.uncertainty)?.len();
        let rows = table.rows();
        if numbers.len() != columns * rows || codes.len() != rows {
            let hint = "Columns one after another, a number for each row.";
            return Err(Error::shape("Numbers of results", columns * rows, numbers.len(), hint));
        }
        let cells = Cells::of(self, table)?;
        let run = Run::new(self, &cells, table, options)?;
        let chunk = options.chunk_rows.max(1).next_multiple_of(8);
        let mut lists: Vec<Slot<'_>> =
            codes.chunks_mut(chunk).map(|codes| (Vec::with_capacity(columns), codes)).collect();
        let numbers = numbers.chunks_exact_mut(rows.max(1));
        match lists.as_mut_slice() {
            [(alone, _)] => alone.extend(numbers),
            lists => {
                for column in numbers {
                    for (part, (list, _)) in column.chunks_mut(chunk).zip(&mut *lists) {
                        list.push(part);
                    }
                }
            }
        }
        if options.threads == 1 || lists.len() == 1 {
            let mut worker = self.made.take_worker();
            let mut told = Vec::with_capacity(lists.len());
            for (place, (columns, codes)) in lists.into_iter().enumerate() {
                told.push(run.chunk(place * chunk, columns, codes, &mut worker)?);
            }
            self.made.leave_worker(worker, self.drift.is_some());
            return Ok(run.gather(told, columns, rows, chunk));
        }
        let slots: Vec<Mutex<Option<Slot<'_>>>> = lists.into_iter().map(|list| Mutex::new(Some(list))).collect();
        let told: Vec<Mutex<Told>> = slots.iter().map(|_| Mutex::new(Told::default())).collect();
        let next = AtomicUsize::new(0);
        let work = || -> Result<()> {
            let mut worker = self.made.take_worker();
            loop {
                let place = next.fetch_add(1, Ordering::Relaxed);
                let Some(slot) = slots.get(place) else {
                    self.made.leave_worker(worker, self.drift.is_some());
                    return Ok(());
                };
                let Some((columns, codes)) = slot.lock().ok().and_then(|mut slot| slot.take()) else { continue };
                let said = run.chunk(place * chunk, columns, codes, &mut worker)?;
                if let Ok(mut held) = told[place].lock() {
                    *held = said;
                }
            }
        };
        std::thread::scope(|scope| {
            let others: Vec<_> = (1..options.threads.min(slots.len())).map(|_| scope.spawn(work)).collect();
            let mine = work();
            let join = |handle: std::thread::ScopedJoinHandle<'_, Result<()>>| {
                handle.join().unwrap_or_else(|panic| std::panic::resume_unwind(panic))
            };
            others.into_iter().map(join).fold(mine, Result::and)
        })?;
        let told = told.into_iter().filter_map(|told| told.into_inner().ok()).collect();
        Ok(run.gather(told, columns, rows, chunk))
    }
}

/// The columns and codes of a chunk.
type Slot<'a> = (Vec<&'a mut [f64]>, &'a mut [u16]);

/// What is said beside the numbers.
#[derive(Debug, Default)]
pub(crate) struct Said {
    pub(crate) valid: Vec<Vec<u8>>,
    pub(crate) findings: Vec<RowFinding>,
    pub(crate) notes: Vec<Finding>,
}

/// What a thread keeps from chunk to chunk.
#[derive(Debug, Default)]
pub(crate) struct Worker {
    pub(super) room: Room,
    pub(super) served: Vec<(Signs, Served)>,
    /// Rows of a chunk in the order of their groups, and where each group ends.
    pub(super) order: Vec<u32>,
    pub(super) ends: Vec<usize>,
    /// The group of each row where there are several.
    pub(super) of_row: Vec<u32>,
    /// Rows that want the pivoted solution, rows of which something may have to be said; group by group.
    pub(super) guarded: Vec<u32>,
    pub(super) found: Vec<u32>,
    /// Rows of which something may have to be said of a cell.
    pub(super) outside: Vec<u32>,
    /// Rows whose contents leave the ranges of the coefficients.
    pub(super) beyond: Vec<u32>,
    pub(super) totals: [Vec<f64>; 2],
}

/// One group of a chunk in the lists of a worker.
pub(super) struct Part {
    /// Where its rows end.
    pub(super) rows: usize,
    pub(super) found: Range<usize>,
    pub(super) beyond: Range<usize>,
    pub(super) guarded: Range<usize>,
}

/// One table on its way.
pub(super) struct Run<'a, 't> {
    pub(super) correction: &'a Correction,
    pub(super) cells: &'a Cells<'t>,
    pub(super) table: &'a Columns<'t>,
    pub(super) outline: Arc<Outline>,
    pub(super) checker: Checker<'a, 't>,
    pub(super) set: InstructionSet,
    pub(super) uncertainty: Uncertainty,
    pub(super) contents: usize,
    /// The groups that were met.
    pub(super) met: Mutex<Vec<(Signs, Served)>>,
}

impl<'a, 't> Run<'a, 't> {
    fn new(
        correction: &'a Correction,
        cells: &'a Cells<'t>,
        table: &'a Columns<'t>,
        options: &RunOptions<'a>,
    ) -> Result<Self> {
        const MOST: usize = 64 * FLAGS;
        if correction.fields.len() > MOST {
            return Err(Error::shape(
                "Declared columns",
                MOST,
                correction.fields.len(),
                "Declare those that are used.",
            ));
        }
        let contents = correction.species()?.len();
        let outline = correction.outline();
        let checker = Checker::new(correction, cells, table, options)?;
        Ok(Self {
            correction,
            cells,
            table,
            outline,
            checker,
            set: options.set,
            uncertainty: options.uncertainty,
            contents,
            met: Mutex::default(),
        })
    }

    /// One chunk: its rows to groups, each group through its plan, then the checks.
    fn chunk(
        &self,
        first: usize,
        mut columns: Vec<&mut [f64]>,
        codes: &mut [u16],
        worker: &mut Worker,
    ) -> Result<Told> {
        let rows = codes.len();
        codes.fill(0);
        let groups = self.sort(first, rows, worker);
        let mut told = Told::new(rows, columns.len());
        for totals in &mut worker.totals {
            totals.clear();
            totals.resize(rows, 0.0);
        }
        let screened = self.screened(&groups, first, rows);
        let parts = self.solve(&groups, first, &mut columns, &screened, worker)?;
        let lists = [&worker.found, &worker.outside].map(|list| {
            let mut list = Cow::Borrowed(list.as_slice());
            if groups.len() > 1 {
                list.to_mut().sort_unstable();
            }
            list
        });
        self.checker.inputs(first, rows, &screened, [&lists[0], &lists[1]], &mut told);
        let mut start = 0;
        for (served, part) in groups.iter().zip(&parts) {
            let of_group = &worker.order[start..part.rows];
            start = part.rows;
            match served {
                Ok(group) => {
                    let lists = [
                        of_group,
                        &worker.found[part.found.clone()],
                        &worker.beyond[part.beyond.clone()],
                        &worker.guarded[part.guarded.clone()],
                    ];
                    self.judge(group, first, lists, &mut columns, &worker.totals, &mut told);
                }
                Err(error) => {
                    for &row in of_group {
                        told.refuse(row as usize, self.table.first_row() + (first + row as usize) as u64, error);
                    }
                }
            }
        }
        told.close(&mut columns, codes);
        Ok(told)
    }

    /// Whether the numbers of each field are looked at while they are loaded: all of its cells are there, and every group
    /// reads it.
    fn screened(&self, groups: &[Served], first: usize, rows: usize) -> Vec<bool> {
        let read = |group: &Served, field: usize| group.as_ref().map_or(true, |group| group.reads[field]);
        let fields = 0..self.correction.fields.len();
        fields
            .map(|field| {
                groups.iter().all(|group| read(group, field)) && !self.cells.has_null(field, first..first + rows)
            })
            .collect()
    }

    /// The rows of a chunk through their plans, group by group; says where the lists of the worker end for each.
    fn solve(
        &self,
        groups: &[Served],
        first: usize,
        columns: &mut [&mut [f64]],
        screened: &[bool],
        worker: &mut Worker,
    ) -> Result<Vec<Part>> {
        worker.found.clear();
        worker.outside.clear();
        worker.beyond.clear();
        worker.guarded.clear();
        let layout = self.layout(columns.len());
        let of_checks = worker.totals.iter_mut().map(Vec::as_mut_slice);
        let mut targets: Vec<&mut [f64]> = columns.iter_mut().map(|column| &mut **column).chain(of_checks).collect();
        let mut parts = Vec::with_capacity(groups.len());
        let mut start = 0;
        for (served, &end) in groups.iter().zip(&worker.ends) {
            let rows = &worker.order[start..end];
            start = end;
            let (found, beyond, guarded) = (worker.found.len(), worker.beyond.len(), worker.guarded.len());
            match served {
                Ok(group) => {
                    let block = Block {
                        group,
                        cells: self.cells,
                        fields: &self.correction.fields,
                        bounds: &self.outline.bounds,
                        screened,
                        first,
                        rows,
                        room: &mut worker.room,
                        layout,
                        columns: &mut targets,
                        large: layout.columns * self.table.rows() * size_of::<f64>() > LARGE_BYTES,
                        guarded: &mut worker.guarded,
                        looked: &mut worker.found,
                        outside: &mut worker.outside,
                        beyond: &mut worker.beyond,
                    };
                    block.run(self.set)?;
                    // what the pivoted solution gives is looked at too
                    for row in &worker.guarded[guarded..] {
                        for (list, start) in [(&mut worker.found, found), (&mut worker.beyond, beyond)] {
                            if !list[start..].contains(row) {
                                list.push(*row);
                            }
                        }
                    }
                    worker.found[found..].sort_unstable();
                }
                Err(_) => {
                    worker.found.extend(rows);
                    worker.outside.extend(rows);
                }
            }
            parts.push(Part {
                rows: end,
                found: found..worker.found.len(),
                beyond: beyond..worker.beyond.len(),
                guarded: guarded..worker.guarded.len(),
            });
        }
        Ok(parts)
    }

    /// What of a group's rows is not there, and what is to be said of them.
    fn judge(
        &self,
        group: &Group,
        first: usize,
        [rows, found, beyond, guarded]: [&[u32]; 4],
        columns: &mut [&mut [f64]],
        [above, expected]: &[Vec<f64>; 2],
        told: &mut Told,
    ) {
        self.checker.drift(group, first, rows, told);
        self.checker.counted(group, first, found, told);
        for &row in guarded {
            self.again(group, first, row as usize, columns, told);
        }
        for (place, output) in group.results.iter().enumerate() {
            if output.is_none() {
                rows.iter().for_each(|&row| told.no_cell(place, row as usize));
            }
        }
        self.spreads_there(group, rows, told);
        let first_also = self.checker.first_also();
        for (place, there) in group
            .also
            .iter()
            .flat_map(|also| group.results.iter().map(move |output| output.is_some() && also.is_some()))
            .enumerate()
        {
            if !there {
                rows.iter().for_each(|&row| told.no_cell(first_also + place, row as usize));
            }
        }
        if !group.loses {
            // bead mass and dilution want the loss on fusion
            for place in [0, 2] {
                rows.iter().for_each(|&row| told.no_cell(self.contents + place, row as usize));
            }
        }
        if group.sum.is_none() && self.correction.totals() {
            rows.iter().for_each(|&row| told.no_cell(self.checker.total(), row as usize));
        }
        self.checker.results(
            group,
            first,
            [rows, found, beyond],
            columns,
            [above.as_slice(), expected.as_slice()],
            told,
        );
    }

    fn layout(&self, columns: usize) -> Layout {
        Layout {
            contents: self.contents,
            total: self.correction.totals().then(|| self.checker.total()),
            also: self.checker.first_also(),
            spreads: self.first_spread(),
            columns,
        }
    }

    /// The place of the first standard uncertainty.
    pub(super) fn first_spread(&self) -> usize {
        self.checker.first_also() + self.contents * self.correction.also_on.len()
    }

    /// Uncertainties of what was not measured are not there.
    fn spreads_there(&self, group: &Group, rows: &[u32], told: &mut Told) {
        if self.uncertainty == Uncertainty::None {
            return;
        }
        let pairs = if self.uncertainty == Uncertainty::Covariance { group.pairs.as_slice() } else { &[] };
        for (place, there) in group.spreads.iter().chain(pairs).enumerate() {
            if there.is_none() || group.contributions.is_none() {
                rows.iter().for_each(|&row| told.no_cell(self.first_spread() + place, row as usize));
            }
        }
    }

    /// The chunks in their order.
    fn gather(&self, mut told: Vec<Told>, columns: usize, rows: usize, chunk: usize) -> Said {
        let (mut valid, mut findings) = (Vec::new(), Vec::new());
        if let [alone] = told.as_mut_slice() {
            (valid, findings) = (core::mem::take(&mut alone.valid), core::mem::take(&mut alone.findings));
        }
        valid.resize(columns, Vec::new());
        for (place, told) in told.into_iter().enumerate() {
            for (bytes, of_chunk) in valid.iter_mut().zip(&told.valid) {
                if !of_chunk.is_empty() {
                    if bytes.is_empty() {
                        bytes.resize(rows.div_ceil(8), u8::MAX);
                    }
                    let start = place * chunk / 8;
                    bytes[start..start + of_chunk.len()].copy_from_slice(of_chunk);
                }
            }
            findings.extend(told.findings);
        }
        let mut notes: Vec<Finding> = self.unread().into_iter().collect();
        notes.extend(self.cells.assumed.clone());
        let mut groups: Vec<_> = self.met.lock().map(|mut held| core::mem::take(&mut *held)).unwrap_or_default();
        groups.sort_by_key(|(signs, _)| signs.there);
        for group in groups.iter().filter_map(|(_, served)| served.as_ref().ok()) {
            let short = group.short_total("table", |field| self.cells.is_missing(field));
            for note in group.notes.iter().map(Cow::Borrowed).chain(short.map(Cow::Owned)) {
                if notes.iter().all(|held: &Finding| held.text != note.text) {
                    notes.push(note.into_owned());
                }
            }
        }
        if self.uncertainty != Uncertainty::None {
            let groups = groups.iter().filter_map(|(_, served)| served.as_ref().ok());
            notes.extend(unstated_u(groups.flat_map(|group| &group.unstated).map(String::as_str).collect()));
            notes.extend(self.empty_u(rows));
        }
        Said { valid, findings, notes }
    }

    /// Columns of uncertainties with empty cells beside numbers.
    fn empty_u(&self, rows: usize) -> Vec<Finding> {
        let mut notes = Vec::new();
        for (place, field) in self.correction.fields.iter().enumerate() {
            let (Spread::Column(column), empty) = (&field.u, self.cells.without_u(place, rows)) else { continue };
            if empty > 0 {
                let text = format!(
                    "`{column}` is empty in {empty} of {rows} rows that have {}: nothing of it counts there, and u is \"at least\".",
                    field.name()
                );
                notes.push(Finding::new(Code::UncertaintyUnstated, column.as_str(), text).with_value(empty as f64));
            }
        }
        notes
    }

    /// Columns of the table that nothing is declared for.
    fn unread(&self) -> Option<Finding> {
        let names = self.table.names().zip(&self.cells.read);
        not_read(names.filter(|(_, read)| !**read).map(|(name, _)| name))
    }
}

/// Says which columns of a table were not read; nothing where all were.
pub(crate) fn not_read<'a>(names: impl Iterator<Item = &'a str>) -> Option<Finding> {
    let unread: Vec<&str> = names.collect();
    let text = format!("Not read: {}.", unread.join(", "));
    (!unread.is_empty()).then(|| Finding::new(Code::ColumnsNotRead, "table", text))
}

fn no_room(rows: usize) -> Error {
    Error::OutOfRange {
        code: Code::NumberOutOfRange,
        quantity: "Number of rows".to_owned(),
        value: rows as f64,
        unit: "",
        bound: "what the memory holds".to_owned(),
        hint: "Run the table in parts.".to_owned(),
    }
}
