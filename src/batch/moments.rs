//! When the beads of a table were measured: between which readings of the monitors of drift each lies, and how far.

use crate::batch::cells::ToldCell;
use crate::batch::column::Words;
use crate::batch::group::Way;
use crate::code::Code;
use crate::error::Error;
use crate::matrix::{Drift, Stretch};
use crate::time::Stamp;

/// The readings of monitors by their times; made once for a correction. Lines and monitors read at the same times share a list.
#[derive(Debug, Default)]
pub(crate) struct Runs {
    lists: Vec<Vec<Stamp>>,
    /// For each monitor the list of each of its lines.
    of_monitor: Vec<Vec<(String, usize)>>,
}

impl Runs {
    pub(crate) fn of(drift: &Drift) -> Self {
        let mut runs = Self::default();
        for monitor in drift.monitors() {
            let mut of_line = Vec::new();
            for line in monitor.lines() {
                let stamps = monitor.stamps(line);
                let place = runs.lists.iter().position(|held| *held == stamps).unwrap_or_else(|| {
                    runs.lists.push(stamps);
                    runs.lists.len() - 1
                });
                of_line.push((line.to_owned(), place));
            }
            runs.of_monitor.push(of_line);
        }
        runs
    }

    /// The list of a line for each monitor; one that does not have it gives none.
    pub(crate) fn lists_of(&self, line: &str) -> Vec<Option<usize>> {
        let of = |lists: &Vec<(String, usize)>| lists.iter().find(|(held, _)| held == line).map(|(_, list)| *list);
        self.of_monitor.iter().map(of).collect()
    }
}

/// The times of the rows of one table.
#[derive(Debug, Default)]
pub(crate) struct Moments {
    /// The place of each row among the kinds; empty without monitors.
    of_row: Vec<u32>,
    /// For each list of readings the stretch.
    kinds: Vec<Vec<Stretch>>,
    /// For each list how far each row lies on the way to the next reading.
    shares: Vec<Vec<f64>>,
}

/// What the times of a table are read with.
pub(crate) struct Clock<'a> {
    pub(crate) drift: &'a Drift,
    pub(crate) runs: &'a Runs,
    /// The place of the field of times.
    pub(crate) field: usize,
    pub(crate) first_row: u64,
}

impl Moments {
    /// The moments of some rows, and the rows that cannot be brought back to the calibration. `lines` gives those of a row.
    pub(crate) fn of<'l>(
        clock: &Clock<'_>,
        rows: usize,
        words: Option<&Words<'_>>,
        lines: impl Fn(usize) -> Vec<&'l str>,
        told: &mut Vec<ToldCell>,
    ) -> Self {
        // a row that is refused needs no drift
        let nowhere = vec![Stretch::Before; clock.runs.lists.len()];
        let mut moments = Self {
            of_row: vec![0; rows],
            kinds: vec![nowhere],
            shares: clock.runs.lists.iter().map(|_| vec![0.0; rows]).collect(),
        };
        let dictionary = words.map_or(&[][..], |words| words.dictionary());
        let read: Vec<_> = dictionary.iter().map(|text| clock.drift.moment(text)).collect();
        for row in 0..rows {
            let word = words.and_then(|words| words.places()[row]).map(|place| place as usize);
            let located = match word.map(|place| (dictionary[place], &read[place])) {
                None => Err(no_time(clock.first_row + row as u64)),
                Some((_, Err(error))) => Err(error.clone()),
                Some((text, Ok(stamp))) => {
                    let found: Vec<_> = clock.runs.lists.iter().map(|list| Stretch::of(*stamp, list)).collect();
                    let early = found.iter().any(|(stretch, _)| *stretch == Stretch::Before);
                    let refused = || lines(row).into_iter().find_map(|line| clock.drift.terms(line, text).err());
                    match Some(()).filter(|_| early).and_then(|()| refused()) {
                        Some(error) => Err(error),
                        None => Ok(found),
                    }
                }
            };
            match located {
                Ok(found) => moments.put(row, &found),
                Err(error) => told.push(ToldCell { row, field: clock.field, what: Err(error) }),
            }
        }
        moments
    }

    fn put(&mut self, row: usize, found: &[(Stretch, f64)]) {
        for (shares, (_, share)) in self.shares.iter_mut().zip(found) {
            shares[row] = *share;
        }
        let same = |kind: &Vec<Stretch>| kind.iter().eq(found.iter().map(|(stretch, _)| stretch));
        let place = self.kinds.iter().rposition(same).unwrap_or_else(|| {
            self.kinds.push(found.iter().map(|(stretch, _)| *stretch).collect());
            self.kinds.len() - 1
        });
        self.of_row[row] = place as u32;
    }

    /// The place of a row among the kinds.
    pub(crate) fn kind(&self, row: usize) -> u32 {
        self.of_row.get(row).copied().unwrap_or(0)
    }

    /// Whether all rows are of one kind, whatever they say.
    pub(crate) fn alike(&self) -> bool {
        self.of_row.is_empty()
    }

    /// The stretches of a kind.
    pub(crate) fn stretches(&self, kind: u32) -> &[Stretch] {
        self.kinds.get(kind as usize).map_or(&[], Vec::as_slice)
    }

    /// How far rows lie on their way, from this one on.
    pub(crate) fn shares(&self, way: Way, first: usize) -> &[f64] {
        &self.shares[way.list][first..]
    }
}

fn no_time(row: u64) -> Error {
    Error::Unstated {
        code: Code::DriftUnpaired,
        quantity: format!("The time the bead in row {row} was measured"),
        hint: "Say when: its drift lies between two readings.".to_owned(),
    }
}
