//! What a correction keeps from table to table.

use std::collections::HashMap;
use std::sync::{Arc, Mutex, OnceLock};

use crate::batch::corrected::ResultColumn;
use crate::batch::correction::Correction;
use crate::batch::group::{Group, Key};
use crate::batch::job::Kind;
use crate::batch::outline::Outline;
use crate::batch::run::Worker;
use crate::error::{Error, Result};

/// What is compiled of a correction once and used by all its tables.
#[derive(Debug, Default)]
pub(crate) struct Made {
    pub(super) species: OnceLock<Arc<[String]>>,
    pub(super) columns: [OnceLock<Arc<[ResultColumn]>>; 3],
    pub(super) per_ferrous: OnceLock<f64>,
    outline: OnceLock<Arc<Outline>>,
    pub(crate) wanted: OnceLock<Vec<(String, Kind)>>,
    pub(crate) record: OnceLock<Arc<str>>,
    pub(super) groups: Mutex<HashMap<Key, Served>>,
    /// What the threads of a run left, for the next.
    workers: Mutex<Vec<Worker>>,
}

impl Made {
    pub(super) fn outline(&self, correction: &Correction) -> &Arc<Outline> {
        self.outline.get_or_init(|| Arc::new(Outline::of(correction)))
    }

    pub(crate) fn take_worker(&self) -> Worker {
        self.workers.lock().ok().and_then(|mut workers| workers.pop()).unwrap_or_default()
    }

    /// Its room stays, and the groups that another table may name by the same signs; moments are those of one table.
    pub(crate) fn leave_worker(&self, mut worker: Worker, moments: bool) {
        worker.served.retain(|(signs, _)| !moments && signs.of_any_table());
        if let Ok(mut workers) = self.workers.lock() {
            workers.push(worker);
        }
    }
}

/// A group, or why its rows cannot be served.
pub(crate) type Served = core::result::Result<Arc<Group>, Arc<Error>>;

/// What is kept, made the first time it is asked for.
pub(crate) fn kept<T: Clone>(place: &OnceLock<T>, make: impl FnOnce() -> Result<T>) -> Result<T> {
    match place.get() {
        Some(held) => Ok(held.clone()),
        None => {
            let made = make()?;
            Ok(place.get_or_init(|| made).clone())
        }
    }
}
