//! Drift by one monitor and by two: invariances, the common part of the uncertainty, limits, stored form.

use beadchem::code::{Code, Severity};
use beadchem::document;
use beadchem::error::{Error, Result};
use beadchem::matrix::{Drift, Monitor};
use beadchem::rules::{DriftLimit, Rules};
use beadchem::uncertainty::Estimate;
use proptest::prelude::*;

use crate::support::assert_close;

/// A handful of operations in another order.
const ROUNDING: f64 = 1e-12;
/// The same behind the difference of two monitors that lie a factor of two apart or more.
const SLOPE: f64 = 1e-10;

fn code<T>(result: Result<T>) -> Option<Code> {
    result.err().map(|error: Error| error.code())
}

fn known(value: f64, u: f64) -> Estimate {
    Estimate::new(value, u).unwrap()
}

/// A monitor of one line with readings at clock times of one day.
fn monitor(name: &str, reference: f64, readings: &[(&str, f64)]) -> Monitor {
    let monitor = Monitor::new(name, [("Fe Ka", reference)]).unwrap();
    readings.iter().fold(monitor, |monitor, (time, now)| {
        monitor.reading(&format!("2026-03-14T{time}"), [("Fe Ka", *now)]).unwrap()
    })
}

fn corrected(drift: &Drift, time: &str, intensity: f64) -> f64 {
    drift.terms("Fe Ka", &format!("2026-03-14T{time}")).unwrap().correct(intensity).unwrap().value()
}

#[test]
fn one_monitor_scales_between_its_readings() {
    let drift = Drift::one_point(monitor("M-1", 1000.0, &[("08:00", 980.0), ("12:00", 960.0), ("16:00", 1000.0)]));
    // by hand: 980, 970 half way, 960, 970 a quarter on
    for (time, now) in [("08:00", 980.0), ("10:00", 970.0), ("12:00", 960.0), ("13:00", 970.0), ("16:00", 1000.0)] {
        assert_close(time, corrected(&drift, time, 500.0), 500.0 * 1000.0 / now, ROUNDING);
        assert!(drift.terms("Fe Ka", &format!("2026-03-14T{time}")).unwrap().findings.is_empty(), "{time}");
    }
}

#[test]
fn the_last_reading_is_held_and_said() {
    let drift = Drift::one_point(monitor("M-1", 1000.0, &[("08:00", 980.0), ("12:00", 960.0)]));
    assert_close("held", corrected(&drift, "17:40", 480.0), 500.0, ROUNDING);
    let term = drift.terms("Fe Ka", "2026-03-14T17:40").unwrap();
    assert_eq!(term.findings.len(), 1);
    let expected = "Fe Ka at 2026-03-14T17:40: monitor M-1 was last measured at 2026-03-14T12:00; that reading was held. \
                    Measure the monitor after the last bead too.";
    assert_eq!((term.findings[0].code, term.findings[0].text.as_str()), (Code::DriftLastHeld, expected));
}

#[test]
fn before_the_first_reading_nothing_is_known() {
    let drift = Drift::one_point(monitor("M-1", 1000.0, &[("08:00", 980.0)]));
    let refused = drift.terms("Fe Ka", "2026-03-14T07:59:59.5").unwrap_err();
    let expected = "Fe Ka at 2026-03-14T07:59:59.5 has no reading of monitor M-1 before it: its first reading of Fe Ka is at \
                    2026-03-14T08:00. Measure the monitor before the first bead of a run.";
    assert_eq!((refused.code(), refused.to_string().as_str()), (Code::DriftBeforeFirst, expected));
    let unread = Drift::one_point(monitor("M-1", 1000.0, &[]));
    assert_eq!(code(unread.terms("Fe Ka", "2026-03-14T09:00")), Some(Code::DriftBeforeFirst));
}

#[test]
fn a_line_left_out_of_a_reading_is_read_between_the_others() {
    let monitor = Monitor::new("M-1", [("Fe Ka", 1000.0), ("Si Ka", 400.0)])
        .and_then(|it| it.reading("2026-03-14T08:00", [("Fe Ka", 1000.0), ("Si Ka", 400.0)]))
        .and_then(|it| it.reading("2026-03-14T10:00", [("Fe Ka", 900.0)]))
        .and_then(|it| it.reading("2026-03-14T12:00", [("Fe Ka", 1000.0), ("Si Ka", 380.0)]))
        .unwrap();
    let drift = Drift::one_point(monitor);
    let now = |line: &str| drift.terms(line, "2026-03-14T10:00").unwrap().point.now();
    assert_eq!((now("Fe Ka"), now("Si Ka")), (900.0, 390.0));
}

#[test]
fn zones_are_seen() {
    let monitor = Monitor::new("M-1", [("Fe Ka", 1000.0)])
        .and_then(|it| it.reading("2026-03-14T08:00+01:00", [("Fe Ka", 1000.0)]))
        .and_then(|it| it.reading("2026-03-14T09:00Z", [("Fe Ka", 980.0)]))
        .unwrap();
    let drift = Drift::one_point(monitor.clone());
    assert_eq!(drift.terms("Fe Ka", "2026-03-14T08:00Z").unwrap().point.now(), 990.0);
    assert_eq!(code(drift.terms("Fe Ka", "2026-03-14T08:00")), Some(Code::TimeUnreadable));
    assert_eq!(code(monitor.clone().reading("2026-03-14T10:00", [("Fe Ka", 970.0)])), Some(Code::TimeUnreadable));
    let local = Monitor::new("M-2", [("Fe Ka", 10.0)]).and_then(|it| it.reading("2026-03-14T08:00", [("Fe Ka", 10.0)]));
    assert_eq!(code(Drift::two_point(monitor, local.unwrap())), Some(Code::TimeUnreadable));
}

#[test]
fn the_uncertainty_of_the_readings_is_carried() {
    // one point half way: (u/I)^2 = (u_I/I)^2 + (u_ref/ref)^2 + ((u_before^2 + u_after^2)/4)/now^2, by hand
    let monitor = Monitor::new("M-1", [("Fe Ka", known(1000.0, 0.8))])
        .and_then(|it| it.reading("2026-03-14T08:00", [("Fe Ka", known(990.0, 1.5))]))
        .and_then(|it| it.reading("2026-03-14T10:00", [("Fe Ka", known(970.0, 2.0))]))
        .unwrap();
    let term = Drift::one_point(monitor).terms("Fe Ka", "2026-03-14T09:00").unwrap();
    let found = term.correct(known(490.0, 0.7)).unwrap();
    let square = |u: f64, value: f64| (u / value).powi(2);
    let relative = square(0.7, 490.0) + square(0.8, 1000.0) + square((1.5_f64.powi(2) + 4.0).sqrt() / 2.0, 980.0);
    assert_close("value", found.value(), 500.0, ROUNDING);
    assert_close("u", found.u().unwrap(), 500.0 * relative.sqrt(), ROUNDING);
    assert_eq!(term.point.after.unwrap().0, "Fe Ka of monitor M-1 at 2026-03-14T10:00");
    assert_eq!(term.point.reference.0, "Fe Ka of monitor M-1 at calibration");
}

#[test]
fn two_monitors_read_one_after_the_other_each_have_their_own_way_between() {
    let strong = monitor("M-hi", 1000.0, &[("08:00", 1000.0), ("12:00", 960.0)]);
    let weak = monitor("M-lo", 100.0, &[("08:10", 100.0), ("12:10", 104.0)]);
    let term = Drift::two_point(strong, weak).unwrap().terms("Fe Ka", "2026-03-14T09:10").unwrap();
    assert_close("strong", term.point.share, 70.0 / 240.0, ROUNDING);
    assert_close("weak", term.second.unwrap().share, 0.25, ROUNDING);
}

#[test]
fn two_monitors_without_a_slope_are_refused() {
    let pair = |then: [f64; 2], now: [f64; 2], u: f64| {
        let make = |name: &str, at: usize| {
            Monitor::new(name, [("Fe Ka", known(then[at], u))])
                .and_then(|it| it.reading("2026-03-14T08:00", [("Fe Ka", known(now[at], u))]))
                .unwrap()
        };
        Drift::two_point(make("M-1", 0), make("M-2", 1)).unwrap().terms("Fe Ka", "2026-03-14T08:00")
    };
    for (what, then, now, u) in [
        ("equal at calibration", [500.0, 500.0], [500.0, 400.0], 0.0),
        ("equal now", [500.0, 400.0], [450.0, 450.0], 0.0),
        ("within the scatter", [500.0, 499.0], [500.0, 499.0], 1.0),
        ("swapped", [500.0, 100.0], [100.0, 500.0], 1.0),
    ] {
        assert_eq!(code(pair(then, now, u)), Some(Code::MonitorsAlike), "{what}");
    }
    assert!(pair([500.0, 100.0], [500.0, 100.0], 1.0).is_ok());
    let text = pair([500.0, 499.0], [500.0, 499.0], 1.0).unwrap_err().to_string();
    assert!(
        text.starts_with("Monitors M-1 and M-2 differ by 1.000 cps in Fe Ka at calibration (u 1.414 cps)."),
        "{text}"
    );
}

#[test]
fn what_a_monitor_cannot_be_is_refused() {
    assert_eq!(code(Monitor::new("M", [("FeKa", 1.0)])), Some(Code::LineName));
    assert_eq!(code(Monitor::new("M", [("Fe Ka", f64::NAN)])), Some(Code::NumberNotFinite));
    for intensity in [0.0, -3.0] {
        assert_eq!(code(Monitor::new("M", [("Fe Ka", intensity)])), Some(Code::NumberOutOfRange));
    }
    assert_eq!(code(Monitor::new("M", [("Fe Ka", 1.0), ("Fe Ka", 1.0)])), Some(Code::InputDoubled));
    let good = || monitor("M", 1000.0, &[("08:00", 990.0)]);
    for (time, expected) in [
        ("8 o'clock", Code::TimeUnreadable),
        ("2026-02-30T08:00", Code::TimeUnreadable),
        ("2026-03-14T08:00", Code::TimeReversed),
        ("2026-03-14T07:00", Code::TimeReversed),
    ] {
        assert_eq!(code(good().reading(time, [("Fe Ka", 1.0)])), Some(expected), "{time}");
    }
    assert_eq!(code(good().reading("2026-03-14T09:00", [("Si Ka", 1.0)])), Some(Code::LineUnknown));
    assert_eq!(code(good().reading("2026-03-14T09:00", [("Fe Ka", -1.0)])), Some(Code::NumberOutOfRange));
    assert_eq!(code(Drift::two_point(good(), good())), Some(Code::InputDoubled));
    assert_eq!(code(Drift::one_point(good()).terms("Si Ka", "2026-03-14T09:00")), Some(Code::LineUnknown));
    assert_eq!(code(Drift::one_point(good()).terms("Fe Ka", "tomorrow")), Some(Code::TimeUnreadable));
}

fn house() -> Rules {
    Rules::new("house", "7").drift(DriftLimit { step: 0.005, total: 0.10 }).unwrap()
}

#[test]
fn both_rules_are_held_and_both_figures_said() {
    let drift = Drift::one_point(monitor("M-1", 1000.0, &[("06:00", 1316.5), ("08:00", 1290.0)]));
    let moved = drift.moved(&house()).unwrap();
    assert_eq!(moved.len(), 2);
    assert!(moved.iter().all(|finding| finding.severity() == Severity::Error));
    let expected = "Monitor M-1 moved by 29 % in Fe Ka since calibration (your limit 10 %), -2.013 % since 2026-03-14T06:00 \
                    (limit 0.5 %), read at 2026-03-14T08:00: rerun the monitor before correcting results. (rules house 7)";
    assert_eq!(moved[1].text, expected);
    assert_eq!(code(drift.check(&house())), Some(Code::DriftBeyondLimit));
}

#[test]
fn the_limits_themselves_are_allowed() {
    let check = |readings: &[(&str, f64)]| Drift::one_point(monitor("M-1", 1000.0, readings)).check(&house());
    assert!(check(&[("08:00", 1100.0)]).is_ok() && check(&[("08:00", 900.0), ("09:00", 904.5)]).is_ok());
    assert!(check(&[("08:00", 1101.0)]).is_err() && check(&[("08:00", 899.0)]).is_err());
    let step = check(&[("08:00", 1000.0), ("09:00", 1006.0)]).unwrap_err().to_string();
    assert!(
        step.contains("moved by 0.6 % in Fe Ka") && step.contains("0.6 % since 2026-03-14T08:00 (limit 0.5 %)"),
        "{step}"
    );
    assert!(step.ends_with("Nothing else moved that far."));
    let unstated = Drift::one_point(monitor("M-1", 1000.0, &[])).check(&Rules::new("house", "7"));
    assert_eq!(code(unstated), Some(Code::RuleUnstated));
}

#[test]
fn limits_of_drift_are_checked_and_stored() {
    for (step, total) in [(0.0, 0.1), (0.2, 0.1), (0.5, 10.0), (f64::NAN, 0.1), (0.005, f64::INFINITY)] {
        assert!(Rules::new("house", "7").drift(DriftLimit { step, total }).is_err(), "{step} {total}");
    }
    let text = document::to_json(&house()).unwrap();
    assert_eq!(document::from_json::<Rules>(&text).unwrap(), house());
    // a document from before there was a limit of drift
    let old = "{\"kind\": \"laboratory-rules\", \"schema\": 1, \"body\": {\"name\": \"house\", \"version\": \"6\"}}";
    assert_eq!(document::from_json::<Rules>(old).unwrap(), Rules::new("house", "6"));
}

#[test]
fn a_stored_drift_corrects_as_before() {
    let strong = Monitor::new("M-hi", [("Fe Ka", known(1000.0, 0.8))])
        .and_then(|it| it.reading("2026-03-14T08:00", [("Fe Ka", known(990.0, 1.5))]))
        .unwrap();
    let drift = Drift::two_point(strong, monitor("M-lo", 100.0, &[("08:05", 101.0)])).unwrap();
    let text = document::to_json(&drift).unwrap();
    assert!(text.contains("\"kind\": \"drift-monitors\""));
    let read: Drift = document::from_json(&text).unwrap();
    assert_eq!(read, drift);
    let terms = |drift: &Drift| drift.terms("Fe Ka", "2026-03-14T09:00").unwrap();
    assert_eq!(terms(&read).correct(known(500.0, 1.0)).unwrap(), terms(&drift).correct(known(500.0, 1.0)).unwrap());
    // what a constructor refuses, a document cannot bring in
    let planted = text.replace("\"2026-03-14T08:00\"", "\"2026-03-32T08:00\"");
    assert!(document::from_json::<Drift>(&planted).unwrap_err().to_string().contains("2026-03-32T08:00"));
}

proptest! {
    /// A gain alone is undone by one monitor, gain and offset by two, in either order.
    #[test]
    fn planted_drift_is_undone(
        gain in 0.5_f64..1.5, offset in -20.0_f64..20.0, strong in 500.0_f64..5e3, weak in 50.0_f64..250.0,
        intensity in 50.0_f64..5e3,
    ) {
        let read = |name: &str, reference: f64, offset: f64| monitor(name, reference, &[("08:00", gain * reference + offset)]);
        let one = Drift::one_point(read("M-hi", strong, 0.0));
        prop_assert!((corrected(&one, "08:00", gain * intensity) / intensity - 1.0).abs() < ROUNDING);
        let measured = gain * intensity + offset;
        for swapped in [false, true] {
            let (first, second) = (read("M-hi", strong, offset), read("M-lo", weak, offset));
            let two = if swapped { Drift::two_point(second, first) } else { Drift::two_point(first, second) }.unwrap();
            prop_assert!((corrected(&two, "08:00", measured) / intensity - 1.0).abs() < SLOPE);
        }
    }

    /// A monitor corrects itself to its intensity at calibration, at any time.
    #[test]
    fn a_monitor_comes_back_to_its_calibration(minute in 0_u32..60, then in 800.0_f64..1200.0, later in 800.0_f64..1200.0) {
        let drift = Drift::one_point(monitor("M-1", 1000.0, &[("08:00", then), ("09:00", later)]));
        let now = then + (later - then) * f64::from(minute) / 60.0;
        let time = format!("08:{minute:02}");
        prop_assert!((corrected(&drift, &time, now) - 1000.0).abs() < 1000.0 * ROUNDING);
    }
}
