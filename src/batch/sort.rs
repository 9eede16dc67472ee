//! Rows to groups: which plan serves a row.

use std::sync::Arc;

use crate::batch::group::Key;
use crate::batch::made::Served;
use crate::batch::run::{Run, Worker};
use crate::code::Code;
use crate::error::{Error, Result};

/// A key as numbers: the dictionary places of lot, class and basis, and which fields are there.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub(super) struct Signs {
    words: [Option<u32>; 3],
    /// The place of its time among the kinds of moments.
    moment: u32,
    pub(super) there: [u64; FLAGS],
}

/// Words of flags: so many fields, 64 each.
pub(super) const FLAGS: usize = 8;

impl Signs {
    /// Whether another table means the same by them: its words and moments have places of their own.
    pub(super) fn of_any_table(&self) -> bool {
        self.words == [None; 3]
    }
}

impl Run<'_, '_> {
    /// The groups of a chunk; rows in the order of their groups are left with the worker.
    pub(super) fn sort(&self, first: usize, rows: usize, worker: &mut Worker) -> Vec<Served> {
        let mut alike = Signs { words: [None; 3], moment: 0, there: [0; FLAGS] };
        let mut mixed = Vec::new();
        for &field in self.outline.unpatterned.iter().filter(|&&field| !self.cells.is_missing(field)) {
            alike.there[field / 64] |= 1 << (field % 64);
        }
        for &field in self.outline.patterned.iter().filter(|&&field| !self.cells.is_missing(field)) {
            if self.cells.has_null(field, first..first + rows) {
                mixed.push(field);
            } else {
                alike.there[field / 64] |= 1 << (field % 64);
            }
        }
        let words = [self.outline.places.lot, self.outline.places.class, self.outline.places.weighed];
        let words = words.map(|place| place.and_then(|place| self.cells.words(place)));
        let mut groups: Vec<Served> = Vec::new();
        let mut known: Vec<Signs> = Vec::new();
        worker.of_row.clear();
        let plain = mixed.is_empty() && words.iter().all(Option::is_none) && self.cells.moments.alike();
        for row in first..first + if plain { rows.min(1) } else { rows } {
            let mut signs = alike;
            for (sign, words) in signs.words.iter_mut().zip(&words) {
                *sign = words.and_then(|words| words.places()[row]);
            }
            signs.moment = self.cells.moments.kind(row);
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
        worker.order.clear();
        worker.ends.clear();
        if groups.len() < 2 {
            worker.order.extend(0..rows as u32);
            worker.ends.extend(groups.iter().map(|_| rows));
            return groups;
        }
        worker.ends.resize(groups.len(), 0);
        worker.of_row.iter().for_each(|&place| worker.ends[place as usize] += 1);
        let mut end = 0;
        for place in &mut worker.ends {
            // where its next row goes, until all stand
            (*place, end) = (end, end + *place);
        }
        worker.order.resize(rows, 0);
        for (row, &place) in worker.of_row.iter().enumerate() {
            let next = &mut worker.ends[place as usize];
            worker.order[*next] = row as u32;
            *next += 1;
        }
        groups
    }

    /// The group of a row's signs, compiled the first time it is met.
    fn serve(&self, signs: &Signs, row: usize, worker: &mut Worker) -> Served {
        let held = worker.served.iter().find(|(held, _)| held == signs).map(|(_, served)| served.clone());
        let served = held.unwrap_or_else(|| {
            let served = match self.key(signs, row) {
                Ok(key) => self.correction.served(key),
                Err(error) => Err(Arc::new(error)),
            };
            worker.served.push((*signs, served.clone()));
            served
        });
        if let Ok(mut met) = self.met.lock()
            && met.iter().all(|(held, _)| held != signs)
        {
            met.push((*signs, served.clone()));
        }
        served
    }

    fn key(&self, signs: &Signs, row: usize) -> Result<Key> {
        let correction = self.correction;
        let there =
            (0..correction.fields.len()).map(|place| signs.there[place / 64] >> (place % 64) & 1 == 1).collect();
        let word = |place: Option<usize>| place.and_then(|place| self.cells.word(place, row));
        let column = |place: Option<usize>| place.is_some_and(|place| self.cells.words(place).is_some());
        let lot = match (column(self.outline.places.lot), word(self.outline.places.lot)) {
            (false, _) => 0,
            (true, name) => correction.lots.iter().position(|lot| Some(lot.name()) == name).ok_or_else(|| {
                let known: Vec<&str> = correction.lots.iter().map(|lot| lot.name()).collect();
                let near = name.and_then(|name| known.iter().find(|lot| lot.eq_ignore_ascii_case(name.trim())));
                Error::Unknown {
                    code: Code::FluxLotUnknown,
                    what: "Flux lot".to_owned(),
                    given: name.unwrap_or("(none named)").to_owned(),
                    hint: match near {
                        Some(near) => format!("There is {near}: case and blanks tell names apart."),
                        None => format!(
                            "No loss is known of it; the lots here are {}. Measure it, or name the lot.",
                            known.join(", ")
                        ),
                    },
                }
            })?,
        };
        let class = match word(self.outline.places.class).zip(correction.method()) {
            None => 0,
            Some((name, method)) => {
                method.set(Some(name))?;
                let sets = method.coefficients().iter();
                sets.map(|set| set.label().name()).position(|held| held == name).unwrap_or(0)
            }
        };
        let weighed = match (column(self.outline.places.weighed), word(self.outline.places.weighed)) {
            (false, _) => None,
            (true, word) => Some(word.unwrap_or("").to_owned()),
        };
        let stretches = correction.drift.iter().flat_map(|_| self.cells.moments.stretches(signs.moment)).copied();
        Ok(Key { lot, class, weighed, there, stretches: stretches.collect() })
    }
}
