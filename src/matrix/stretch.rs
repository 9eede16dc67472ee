//! Between which readings of a monitor a bead was measured.

use crate::time::Stamp;

/// Where a time lies among the readings of a line, counted from the first.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub(crate) enum Stretch {
    /// Before the first, or without any.
    Before,
    /// At the time of this one.
    At(usize),
    /// Between this one and the next.
    Between(usize),
    /// After this one, the last.
    After(usize),
}

impl Stretch {
    /// The stretch of a time, and how far it lies on the way from one reading to the next.
    pub(crate) fn of(stamp: Stamp, readings: &[Stamp]) -> (Self, f64) {
        let next = readings.partition_point(|reading| !stamp.before(*reading));
        let Some(last) = next.checked_sub(1) else { return (Self::Before, 0.0) };
        match readings.get(next) {
            _ if readings[last] == stamp => (Self::At(last), 0.0),
            Some(after) => (Self::Between(last), stamp.share_between(readings[last], *after)),
            None => (Self::After(last), 0.0),
        }
    }
}
