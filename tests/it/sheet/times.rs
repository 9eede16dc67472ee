//! Times in order.

use beadchem::code::Code;
use beadchem::sheet::{Column, DecimalMark, Layout};

use super::{read, trouble};

fn times(list: &[&str]) -> Vec<Option<Code>> {
    let rows: Vec<String> = list.iter().enumerate().map(|(at, time)| format!("B-{at},{time}\n")).collect();
    let layout = Layout::new("Bead", DecimalMark::Point).column(Column::time("measured"));
    let sheet = read(&format!("Bead,measured\n{}", rows.concat()), &layout);
    sheet.rows().iter().map(|row| row.trouble.first().map(|error| error.code())).collect()
}

#[test]
fn times_in_order_are_no_trouble() {
    let days = ["1999-12-31", "2000-02-28", "2000-02-29", "2000-03-01", "2024-02-29", "2025-01-01"];
    assert!(times(&days).iter().all(Option::is_none));
    let clocks = ["2026-03-14T08:05", "2026-03-14 08:05:30", "2026-03-14T08:05:30.250", "2026-03-14T08:05:30.25", ""];
    assert!(times(&clocks).iter().all(Option::is_none));
    // the second is ten minutes later although its clock shows less
    let zones = ["2026-03-14T08:05+01:00", "2026-03-14T07:15Z", "2026-03-14T02:16:00-05:00"];
    assert!(times(&zones).iter().all(Option::is_none));
}

#[test]
fn a_step_back_is_reported_once() {
    let found = times(&["2026-03-14T08:05", "2026-03-14T09:00", "2026-03-14T08:59:59.999", "2026-03-14T09:01"]);
    assert_eq!(found, [None, None, Some(Code::TimeReversed), None]);
    let layout = Layout::new("Bead", DecimalMark::Point).column(Column::time("measured"));
    let sheet = read("Bead,measured\nB-1,2026-03-14\nB-2,2026-03-13\n", &layout);
    let expected = "Row 3, column measured: 2026-03-13 is earlier than row 2 (2026-03-14). Is the order of the rows \
                    reversed, or was a clock wrong?";
    assert_eq!(trouble(&sheet, 3), [expected]);
}

#[test]
fn other_writings_are_not_guessed() {
    let wrong = [
        "14.03.2026",
        "03/14/2026",
        "2026-3-14",
        "2026-02-29",
        "2026-13-01",
        "2026-03-14T24:00",
        "2026-03-14T8:05",
        "2026-03-14T08:05.5",
        "2026-03-14T08:05:61",
        "2026-03-14T08:05+1",
        "20260314T0805",
        "yesterday",
        "2026-03-14T",
        "2026-03-14T08:05:30.",
        "2026-03-14T08:05\u{2212}05:00",
    ];
    for time in wrong {
        assert_eq!(times(&[time]), [Some(Code::TimeUnreadable)], "for '{time}'");
    }
    let mixed = times(&["2026-03-14T08:05", "2026-03-14T08:06Z", "2026-03-14T08:07"]);
    assert_eq!(mixed, [None, Some(Code::TimeUnreadable), None]);
}
