//! Tables in chunks: rows to groups, groups to plans, chunks to threads. No thread, no chunk and no neighbour changes a bit.

use std::collections::HashMap;
use std::sync::atomic::{AtomicUsize, Ordering};
use std::sync::{Arc, Mutex};

use crate::batch::cells::{Cells, Places};
use crate::batch::check::Checker;
use crate::batch::column::Columns;
use crate::batch::corrected::{Corrected, ResultColumn, RowFinding};
use crate::batch::correction::{Correction, Served};
use crate::batch::engine::{Block, Room, Targets};
use crate::batch::field::Quantity;
use crate::batch::group::{Group, Key};
use crate::batch::options::{RunOptions, Uncertainty};
use crate::batch::told::Told;
use crate::code::Code;
use crate::composition::{Basis, Unit};
use crate::error::{Error, Result};
use crate::finding::Finding;
use crate::numeric::InstructionSet;

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
        self.basis() == Basis::Dried && self.field_of(&Quantity::LossOnIgnition).is_some()
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
        let mut numbers = Vec::new();
        numbers.try_reserve_exact(columns.len() * table.rows()).map_err(|_| no_room(table.rows()))?;
        numbers.resize(columns.len() * table.rows(), 0.0);
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
        for column in numbers.chunks_exact_mut(rows.max(1)) {
            for (part, list) in column.chunks_mut(chunk).zip(&mut lists) {
                list.0.push(part);
            }
        }
        let slots: Vec<Mutex<Option<Slot<'_>>>> = lists.into_iter().map(|list| Mutex::new(Some(list))).collect();
        let told: Vec<Mutex<Told>> = slots.iter().map(|_| Mutex::new(Told::default())).collect();
        let next = AtomicUsize::new(0);
        let work = || -> Result<()> {
            let mut worker = Worker::default();
            loop {
                let place = next.fetch_add(1, Ordering::Relaxed);
                let Some(slot) = slots.get(place) else { return Ok(()) };
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

/// A key as numbers: the dictionary places of lot, class and basis, and which fields are there.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
struct Signs {
    words: [Option<u32>; 3],
    there: [u64; FLAGS],
}

/// Words of flags: so many fields, 64 each.
const FLAGS: usize = 8;

/// What a thread keeps from chunk to chunk.
#[derive(Default)]
struct Worker {
    room: Room,
    served: Vec<(Signs, Served)>,
    of_row: Vec<u32>,
    rows: Vec<u32>,
    guarded: Vec<u32>,
    totals: [Vec<f64>; 2],
}

/// One table on its way.
struct Run<'a, 't> {
    correction: &'a Correction,
    cells: &'a Cells<'t>,
    table: &'a Columns<'t>,
    places: Places,
    /// Fields whose nulls decide which plan serves a row.
    patterned: Vec<usize>,
    checker: Checker<'a, 't>,
    set: InstructionSet,
    uncertainty: Uncertainty,
    contents: usize,
    /// The groups that were met.
    met: Mutex<HashMap<Signs, Served>>,
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
        let decides = |quantity: &Quantity| {
            use Quantity::{Bead, BeadMass, Class, FluxLot, FluxMass, MethodVersion, SampleMass, Weighed};
            !matches!(quantity, Bead | FluxLot | Class | Weighed | MethodVersion | SampleMass | FluxMass | BeadMass)
                && !matches!(quantity, Quantity::Addition(_))
        };
        let fields = correction.fields.iter().enumerate();
        let patterned = fields.filter(|(_, field)| decides(&field.quantity)).map(|(place, _)| place).collect();
        let contents = correction.species()?.len();
        let places = Places::of(correction);
        let checker = Checker::new(correction, cells, table, options)?;
        Ok(Self {
            correction,
            cells,
            table,
            places,
            patterned,
            checker,
            set: options.set,
            uncertainty: options.uncertainty,
            contents,
            met: Mutex::new(HashMap::new()),
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
        self.checker.inputs(first, rows, &mut told);
        for totals in &mut worker.totals {
            totals.clear();
            totals.resize(rows, 0.0);
        }
        let [above, expected] = &mut worker.totals;
        for (place, served) in groups.iter().enumerate() {
            let of_group = |row: &u32| worker.of_row[*row as usize] as usize == place;
            worker.rows.clear();
            if groups.len() == 1 {
                worker.rows.extend(0..rows as u32);
            } else {
                worker.rows.extend((0..rows as u32).filter(of_group));
            }
            let group = match served {
                Ok(group) => group,
                Err(error) => {
                    for &row in &worker.rows {
                        told.refuse(row as usize, self.table.first_row() + (first + row as usize) as u64, error);
                    }
                    continue;
                }
            };
            worker.guarded.clear();
            let (contents, rest) = columns.split_at_mut(self.contents);
            let (fixed, rest) = rest.split_at_mut(FIXED.len());
            let (total, spreads) = rest.split_at_mut(usize::from(self.correction.totals()));
            let total = total.first_mut().map(|column| &mut **column);
            let (also, spreads) = spreads.split_at_mut(self.contents * self.correction.also_on.len());
            let totals = [total, Some(above.as_mut_slice()), Some(expected.as_mut_slice())];
            let block = Block {
                group,
                cells: self.cells,
                fields: &self.correction.fields,
                first,
                rows: &worker.rows,
                room: &mut worker.room,
                targets: Targets { contents, fixed, also, spreads, totals },
                guarded: &mut worker.guarded,
            };
            block.run(self.set)?;
            let guarded = core::mem::take(&mut worker.guarded);
            for &row in &guarded {
                self.again(group, first, row as usize, &mut columns, &mut told);
            }
            let guarded_rows = guarded.clone();
            worker.guarded = guarded;
            for (place, output) in group.results.iter().enumerate() {
                if output.is_none() {
                    worker.rows.iter().for_each(|&row| told.no_cell(place, row as usize));
                }
            }
            self.spreads_there(group, &worker.rows, &guarded_rows, &mut told);
            let first_also = self.first_also();
            for (place, there) in group
                .also
                .iter()
                .flat_map(|also| group.results.iter().map(move |output| output.is_some() && also.is_some()))
                .enumerate()
            {
                if !there {
                    worker.rows.iter().for_each(|&row| told.no_cell(first_also + place, row as usize));
                }
            }
            if !group.loses {
                // bead mass and dilution want the loss on fusion
                for place in [0, 2] {
                    worker.rows.iter().for_each(|&row| told.no_cell(self.contents + place, row as usize));
                }
            }
            if group.sum.is_none() && self.correction.totals() {
                worker.rows.iter().for_each(|&row| told.no_cell(self.total(), row as usize));
            }
            let of_totals = [above.as_slice(), expected.as_slice()];
            self.checker.results(group, first, &worker.rows, &columns, of_totals, &mut told);
        }
        told.close(&mut columns, codes);
        Ok(told)
    }

    /// The place of the column of totals, where there is one: behind contents and fixed columns.
    fn total(&self) -> usize {
        self.contents + FIXED.len()
    }

    /// The place of the first content on a further basis.
    fn first_also(&self) -> usize {
        self.total() + usize::from(self.correction.totals())
    }

    /// Uncertainties of what was not measured, and of rows by the pivoted solution, are not there.
    fn spreads_there(&self, group: &Group, rows: &[u32], exchanged: &[u32], told: &mut Told) {
        if self.uncertainty == Uncertainty::None {
            return;
        }
        let also = self.contents * self.correction.also_on.len();
        let first = self.first_also() + also;
        let pairs = if self.uncertainty == Uncertainty::Covariance { group.pairs.as_slice() } else { &[] };
        for (place, there) in group.spreads.iter().chain(pairs).enumerate() {
            let gone = if there.is_none() || group.contributions.is_none() { rows } else { exchanged };
            gone.iter().for_each(|&row| told.no_cell(first + place, row as usize));
        }
    }

    /// A row that wants exchanged rows, by the pivoted solution.
    fn again(&self, group: &Group, first: usize, row: usize, columns: &mut [&mut [f64]], told: &mut Told) {
        let number = self.table.first_row() + (first + row) as u64;
        if told.is_refused(row) {
            return;
        }
        let mut x = group.constants.clone();
        for binding in &group.bindings {
            if let Some(value) = self.cells.number(binding.field, first + row) {
                x[binding.input] = value;
            }
        }
        match group.plan.pivoted(&x[..group.plan.input_count()]) {
            Ok(out) => {
                for (column, output) in columns.iter_mut().zip(&group.results) {
                    if let Some(output) = output {
                        column[row] = Unit::Percent.written(out[*output]);
                    }
                }
                if let (Some(sum), Some(column)) = (&group.sum, columns.get_mut(self.total())) {
                    let mut sums = vec![0.0; sum.outputs()];
                    sum.add_up(&x, &out, &mut sums);
                    column[row] = Unit::Percent.written(sums[crate::composition::TOTAL]);
                }
                let text = "The elimination wanted exchanged rows; the pivoted solution stands. Are the coefficients those of \
                            this setup?";
                told.say(row, RowFinding::new(number, &Finding::new(Code::RowsExchanged, "matrix", text)));
            }
            Err(error) => told.refuse(row, number, &error),
        }
    }

    /// The groups of a chunk; the place of each row's group is left with the worker.
    fn sort(&self, first: usize, rows: usize, worker: &mut Worker) -> Vec<Served> {
        let mut alike = Signs { words: [None; 3], there: [0; FLAGS] };
        let mut mixed = Vec::new();
        // a mass is always bound: a row without one is refused
        let bound = (0..self.correction.fields.len()).filter(|field| !self.patterned.contains(field));
        for field in bound.filter(|&field| !self.cells.is_missing(field)) {
            alike.there[field / 64] |= 1 << (field % 64);
        }
        for &field in &self.patterned {
            if self.cells.has_null(field, first..first + rows) {
                mixed.push(field);
            } else {
                alike.there[field / 64] |= 1 << (field % 64);
            }
        }
        let words = [self.places.lot, self.places.class, self.places.weighed];
        let words = words.map(|place| place.and_then(|place| self.cells.words(place)));
        let mut groups: Vec<Served> = Vec::new();
        let mut known: Vec<Signs> = Vec::new();
        worker.of_row.clear();
        let plain = mixed.is_empty() && words.iter().all(Option::is_none);
        for row in first..first + if plain { rows.min(1) } else { rows } {
            let mut signs = alike;
            for (sign, words) in signs.words.iter_mut().zip(&words) {
                *sign = words.and_then(|words| words.places()[row]);
            }
            for &field in &mixed {
                signs.there[field / 64] |= u64::from(self.cells.is_there(field, row)) << (field % 64);
            }
            let place = match known.iter().rposition(|held| *held == signs) {
                Some(place) => place,
                None => {
                    known.push(signs);
                    groups.push(self.serve(&signs, row, worker));
                    known.len() - 1
                }
            };
            worker.of_row.push(place as u32);
        }
        groups
    }

    /// The group of a row's signs, compiled the first time it is met.
    fn serve(&self, signs: &Signs, row: usize, worker: &mut Worker) -> Served {
        if let Some((_, served)) = worker.served.iter().find(|(held, _)| held == signs) {
            return served.clone();
        }
        let served = match self.key(signs, row) {
            Ok(key) => self.correction.served(key),
            Err(error) => Err(Arc::new(error)),
        };
        if let Ok(mut met) = self.met.lock() {
            met.insert(*signs, served.clone());
        }
        worker.served.push((*signs, served.clone()));
        served
    }

    fn key(&self, signs: &Signs, row: usize) -> Result<Key> {
        let correction = self.correction;
        let there =
            (0..correction.fields.len()).map(|place| signs.there[place / 64] >> (place % 64) & 1 == 1).collect();
        let word = |place: Option<usize>| place.and_then(|place| self.cells.word(place, row));
        let column = |place: Option<usize>| place.is_some_and(|place| self.cells.words(place).is_some());
        let lot = match (column(self.places.lot), word(self.places.lot)) {
            (false, _) => 0,
            (true, name) => correction.lots.iter().position(|lot| Some(lot.name()) == name).ok_or_else(|| {
                let known: Vec<&str> = correction.lots.iter().map(|lot| lot.name()).collect();
                Error::Unknown {
                    code: Code::FluxLotUnknown,
                    what: "Flux lot".to_owned(),
                    given: name.unwrap_or("(none named)").to_owned(),
                    hint: format!(
                        "No loss is known of it; the lots here are {}. Measure it, or name the lot.",
                        known.join(", ")
                    ),
                }
            })?,
        };
        let class = match word(self.places.class) {
            None => 0,
            Some(name) => {
                correction.method.set(Some(name))?;
                let sets = correction.method.coefficients().iter();
                sets.map(|set| set.label().name()).position(|held| held == name).unwrap_or(0)
            }
        };
        let weighed = match (column(self.places.weighed), word(self.places.weighed)) {
            (false, _) => None,
            (true, word) => Some(word.unwrap_or("").to_owned()),
        };
        Ok(Key { lot, class, weighed, there })
    }

    /// The chunks in their order.
    fn gather(&self, told: Vec<Told>, columns: usize, rows: usize, chunk: usize) -> Said {
        let mut valid = vec![Vec::new(); columns];
        let mut findings = Vec::new();
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
        let mut notes = self.unread();
        let mut groups: Vec<_> = self.met.lock().map(|mut held| held.drain().collect()).unwrap_or_default();
        groups.sort_by_key(|(signs, _)| signs.there);
        for note in groups.iter().filter_map(|(_, served)| served.as_ref().ok()).flat_map(|group| &group.notes) {
            if notes.iter().all(|held: &Finding| held.text != note.text) {
                notes.push(note.clone());
            }
        }
        Said { valid, findings, notes }
    }

    /// Columns of the table that nothing is declared for.
    fn unread(&self) -> Vec<Finding> {
        let declared = |name: &str| {
            self.correction.fields.iter().any(|field| {
                let of_u = match &field.u {
                    crate::batch::field::Spread::Column(column) => column == name,
                    _ => false,
                };
                field.name == name || of_u
            })
        };
        let unread: Vec<&str> = self.table.names().filter(|name| !declared(name)).collect();
        if unread.is_empty() {
            return Vec::new();
        }
        let text = format!("Not read: {}.", unread.join(", "));
        vec![Finding::new(Code::ColumnsNotRead, "table", text)]
    }
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
