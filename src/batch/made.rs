//! What a correction keeps from table to table.

use std::collections::HashMap;
use std::sync::{Arc, Mutex, OnceLock};

use crate::batch::corrected::ResultColumn;
use crate::batch::engine::Room;
use crate::batch::group::{Group, Key};
use crate::batch::job::Kind;
use crate::batch::outline::Outline;
use crate::error::{Error, Result};

/// What is compiled of a correction once and used by all its tables.
#[derive(Debug, Default)]
pub(crate) struct Made {
    pub(super) species: OnceLock<Arc<[String]>>,
    pub(super) columns: [OnceLock<Arc<[ResultColumn]>>; 3],
    pub(super) per_ferrous: OnceLock<f64>,
    pub(super) outline: OnceLock<Arc<Outline>>,
    pub(crate) wanted: OnceLock<Vec<(String, Kind)>>,
    pub(crate) record: OnceLock<Arc<str>>,
    pub(super) groups: Mutex<HashMap<Key, Served>>,
    /// Room that a run left, for the next.
    rooms: Mutex<Vec<Room>>,
}

impl Made {
    pub(crate) fn take_room(&self) -> Room {
        self.rooms.lock().ok().and_then(|mut rooms| rooms.pop()).unwrap_or_default()
    }

    pub(crate) fn leave_room(&self, room: Room) {
        if let Ok(mut rooms) = self.rooms.lock() {
            rooms.push(room);
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
