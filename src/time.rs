//! Time stamps as ISO 8601 writes them, for their order and their distances only.

/// A time as nanoseconds of a count that has no meaning but its order and its differences.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd)]
pub(crate) struct Stamp {
    nanoseconds: i128,
    /// Whether the text states its distance from UTC; those that do and those that do not are not comparable.
    pub(crate) zoned: bool,
}

impl Stamp {
    pub(crate) fn before(self, other: Stamp) -> bool {
        self.nanoseconds < other.nanoseconds
    }

    /// How far this time lies on the way between two others: 0 at the first, 1 at the second, which is the later one.
    pub(crate) fn share_between(self, first: Stamp, second: Stamp) -> f64 {
        (self.nanoseconds - first.nanoseconds) as f64 / (second.nanoseconds - first.nanoseconds) as f64
    }
}

/// Reads `2026-03-14`, `2026-03-14T08:05`, seconds with decimals, and `Z` or `+01:00` behind a time of day. A blank may
/// stand in place of the `T`.
///
/// # Source
/// ISO 8601-1:2019, extended formats of calendar date and time of day (form: common practice).
pub(crate) fn read(text: &str) -> Option<Stamp> {
    let (date, clock) = match text.split_once(['T', ' ']) {
        Some((date, clock)) => (date, Some(clock)),
        None => (text, None),
    };
    let [year, month, day] = numbers(date, '-', [4, 2, 2])?;
    if !(1..=12).contains(&month) || !(1..=days_of(year, month)).contains(&day) {
        return None;
    }
    let (mut seconds, mut nanoseconds, mut zoned) = (day_number(year, month, day) * 86_400, 0, false);
    if let Some(clock) = clock {
        let (clock, offset) = zone(clock)?;
        zoned = offset.is_some();
        let (clock, fraction) = clock.split_once(['.', ',']).map_or((clock, None), |(clock, part)| (clock, Some(part)));
        let [hour, minute, second] = match clock.len() {
            5 if fraction.is_none() => {
                let [hour, minute] = numbers(clock, ':', [2, 2])?;
                [hour, minute, 0]
            }
            _ => numbers(clock, ':', [2, 2, 2])?,
        };
        // a leap second is the sixtieth
        if hour > 23 || minute > 59 || second > 60 {
            return None;
        }
        seconds += hour * 3600 + minute * 60 + second - offset.unwrap_or(0);
        nanoseconds = fraction.map_or(Some(0), billionths)?;
    }
    Some(Stamp { nanoseconds: i128::from(seconds) * 1_000_000_000 + i128::from(nanoseconds), zoned })
}

/// A time of day without its zone, and the zone's distance from UTC in seconds.
fn zone(clock: &str) -> Option<(&str, Option<i64>)> {
    if let Some(clock) = clock.strip_suffix('Z') {
        return Some((clock, Some(0)));
    }
    let Some(at) = clock.find(['+', '-']) else { return Some((clock, None)) };
    let (clock, distance) = clock.split_at(at);
    let sign = if distance.starts_with('-') { -1 } else { 1 };
    let [hours, minutes] = numbers(&distance[1..], ':', [2, 2])?;
    (hours <= 23 && minutes <= 59).then_some((clock, Some(sign * (hours * 3600 + minutes * 60))))
}

fn billionths(digits: &str) -> Option<i64> {
    let right = (1..=9).contains(&digits.len()) && digits.bytes().all(|digit| digit.is_ascii_digit());
    if right { format!("{digits:0<9}").parse().ok() } else { None }
}

/// Numbers of so many digits each, parted by a mark.
fn numbers<const N: usize>(text: &str, mark: char, digits: [usize; N]) -> Option<[i64; N]> {
    let mut parts = text.split(mark);
    let mut found = [0; N];
    for (place, count) in found.iter_mut().zip(digits) {
        let part = parts.next()?;
        if part.len() != count || !part.bytes().all(|digit| digit.is_ascii_digit()) {
            return None;
        }
        *place = part.parse().ok()?;
    }
    parts.next().is_none().then_some(found)
}

fn is_leap(year: i64) -> bool {
    year % 4 == 0 && (year % 100 != 0 || year % 400 == 0)
}

fn days_of(year: i64, month: i64) -> i64 {
    match month {
        2 => 28 + i64::from(is_leap(year)),
        4 | 6 | 9 | 11 => 30,
        _ => 31,
    }
}

/// Days since the first of March of year 0, so that a leap day is the last of its year.
fn day_number(year: i64, month: i64, day: i64) -> i64 {
    let (year, month) = if month > 2 { (year, month - 3) } else { (year - 1, month + 9) };
    let leap_days = year.div_euclid(4) - year.div_euclid(100) + year.div_euclid(400);
    365 * year + leap_days + (153 * month + 2) / 5 + day - 1
}
