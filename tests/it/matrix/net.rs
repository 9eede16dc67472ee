//! Net intensities against hand formulas, and what is refused.

use beadchem::code::Code;
use beadchem::error::{Error, Result};
use beadchem::matrix::{Count, DeadTime, LineName, LineReading};
use beadchem::uncertainty::Estimate;
use proptest::prelude::*;

use crate::support::assert_close;

/// A handful of operations in another order.
const ROUNDING: f64 = 1e-12;
/// The same after four powers of a number near 1.
const POWERS: f64 = 1e-11;

fn count(rate: f64, time: f64) -> Count {
    Count::new(rate, time).unwrap()
}

fn code<T>(result: Result<T>) -> Option<Code> {
    result.err().map(|error: Error| error.code())
}

#[test]
fn one_background_is_taken_off_with_its_scatter() {
    // I = R_p - R_b, u^2 = R_p/T_p + R_b/T_b (counting statistics, by hand)
    let reading =
        LineReading::counted("Cr Ka", count(135.0, 60.0)).unwrap().background(1.0, count(85.0, 100.0)).unwrap();
    let net = reading.intensity().unwrap();
    assert_close("net", net.value(), 50.0, ROUNDING);
    assert_close("u", net.u().unwrap(), (135.0_f64 / 60.0 + 85.0 / 100.0).sqrt(), ROUNDING);
}

#[test]
fn the_parts_of_a_budget_carry_the_names_that_calibration_and_bead_share() {
    let dead = DeadTime::new(Estimate::new(3e-7, 3e-8).unwrap()).unwrap();
    let reading = LineReading::counted("Fe Ka", count(200_000.0, 10.0))
        .and_then(|it| it.background(0.4, count(900.0, 10.0)))
        .and_then(|it| it.background(0.6, count(700.0, 10.0)))
        .and_then(|it| it.dead_time(&dead))
        .unwrap();
    let budget = reading.budget().unwrap();
    let mut names: Vec<&str> = budget.rows().iter().map(|row| row.name.as_str()).collect();
    names.sort_unstable();
    assert_eq!(names, ["Fe Ka background 1 rate", "Fe Ka background 2 rate", "Fe Ka peak rate", "dead time"]);
    let formed = LineReading::net("Fe Ka", Estimate::new(5.0, 1.0).unwrap()).unwrap();
    assert_eq!(formed.budget().unwrap().rows()[0].name, "Fe Ka net intensity");
}

#[test]
fn no_count_at_all_is_not_known_exactly() {
    assert_eq!(count(0.0, 40.0).u_cps(), 1.0 / 40.0);
    assert_close("100 counts", count(2.0, 50.0).u_cps(), 0.2, ROUNDING);
}

#[test]
fn an_intensity_of_unstated_uncertainty_stays_so() {
    assert_eq!(LineReading::net("Si Ka", 812.0).unwrap().intensity().unwrap().u(), None);
}

#[test]
fn below_zero_is_told_apart_by_its_own_uncertainty() {
    let finding =
        |value: f64, u: f64| LineReading::net("Cr Ka", Estimate::new(value, u).unwrap()).unwrap().check().unwrap();
    assert!(finding(0.0, 1.0).is_none() && finding(3.0, 9.0).is_none());
    let near = finding(-3.1, 2.6).unwrap();
    assert_eq!((near.code, near.value, near.u), (Code::IntensityNegative, Some(-3.1), Some(2.6)));
    assert!(near.text.contains("-3.1 cps is within 1.2 u of zero: reported as below detection, value kept"));
    assert_eq!(finding(-2.0, 1.0).unwrap().code, Code::IntensityNegative);
    let far = finding(-8.4, 2.0).unwrap();
    assert_eq!(far.code, Code::BackgroundExceeds);
    assert!(far.text.contains("below zero by 4.2 u"), "{}", far.text);
    assert!(
        finding(-8.4, 0.0).unwrap().text.contains("below zero: is the background"),
        "an exact value has no u to count in"
    );
    let unstated = LineReading::net("Cr Ka", -0.5).unwrap().check().unwrap().unwrap();
    assert_eq!((unstated.code, unstated.u), (Code::IntensityNegative, None));
    assert!(unstated.text.contains("has no stated uncertainty"));
}

#[test]
fn a_background_above_its_peak_is_named_with_both() {
    let reading =
        LineReading::counted("Cr Ka", count(380.0, 100.0)).unwrap().background(1.0, count(410.0, 100.0)).unwrap();
    let finding = reading.check().unwrap().unwrap();
    assert_eq!(finding.code, Code::BackgroundExceeds);
    assert!(
        finding.text.starts_with("Cr Ka: background 410.0 cps exceeds the peak of 380.0 cps by 10.7 u:"),
        "{}",
        finding.text
    );
}

#[test]
fn a_blank_is_held_against_its_own_line_only() {
    let net = |line: &str, value: f64| LineReading::net(line, Estimate::new(value, 0.02).unwrap()).unwrap();
    let reading = net("Cr Ka", 0.38);
    let finding = reading.check_blank(&net("Cr Ka", 0.41)).unwrap().unwrap();
    assert_eq!((finding.code, finding.value, finding.bound), (Code::BlankExceeds, Some(0.38), Some(0.41)));
    assert_eq!(finding.text, "Cr Ka: blank 0.410 cps exceeds reading 0.380 cps; result below detection.");
    assert!(reading.check_blank(&net("Cr Ka", 0.38)).unwrap().is_none());
    assert_eq!(code(reading.check_blank(&net("V Ka", 0.41))), Some(Code::LineUnknown));
}

#[test]
fn detectors_have_their_own_dead_times() {
    let (flow, gas) =
        (DeadTime::new(2e-7).unwrap().of_detector("flow"), DeadTime::new(2e-7).unwrap().of_detector("sealed"));
    assert_ne!(flow.input_name(), gas.input_name());
}

#[test]
fn names_of_lines_are_read_strictly() {
    for name in ["Fe Ka", "Si Ka", "Pb Lb1", "Ba La", "W Mz", "Fe K-L3", "Cu K-M2,3", "Ba L3-M5", "Cu Kb1,3", "U Ma1"] {
        assert_eq!(LineName::parse(name).unwrap().as_str(), name);
    }
    for name in [
        "",
        "Fe",
        "FeKa",
        "Fe  Ka",
        " Fe Ka",
        "Fe Ka ",
        "fe Ka",
        "Fx Ka",
        "Fe ka",
        "Fe K",
        "Fe Na",
        "Fe KA",
        "Fe Kab",
        "Fe Ka-L3",
        "Fe K-",
        "Fe K-K",
        "Fe Ka1;",
        "Fe K\u{3b1}",
        "Ka Fe",
        "Fe_Ka",
        "Fe Ka x",
    ] {
        let refused = LineName::parse(name).unwrap_err();
        assert_eq!(refused.code(), Code::LineName, "{name}");
        assert!(refused.to_string().contains("Fe Ka, Si Ka"), "{refused}");
    }
}

#[test]
fn what_cannot_be_counted_is_refused() {
    for (rate, time) in [(-0.1, 10.0), (10.0, 0.0), (10.0, -1.0)] {
        assert_eq!(code(Count::new(rate, time)), Some(Code::NumberOutOfRange), "{rate} {time}");
    }
    for (rate, time) in [(f64::NAN, 10.0), (f64::INFINITY, 10.0), (10.0, f64::NAN), (10.0, f64::INFINITY)] {
        assert_eq!(code(Count::new(rate, time)), Some(Code::NumberNotFinite), "{rate} {time}");
    }
    for seconds in [-1e-9, 0.25] {
        assert_eq!(code(DeadTime::new(seconds)), Some(Code::NumberOutOfRange), "{seconds}");
    }
    assert_eq!(code(LineReading::net("Fe Ka", f64::NAN)), Some(Code::NumberNotFinite));

    let peak = || LineReading::counted("Fe Ka", count(100.0, 10.0)).unwrap();
    let background = count(10.0, 10.0);
    assert_eq!(code(peak().background(0.0, background)), Some(Code::ReadingContradicts));
    assert_eq!(code(peak().background(f64::NAN, background)), Some(Code::NumberNotFinite));
    assert_eq!(code(peak().background(50.0, background)), Some(Code::NumberOutOfRange));
    let two = peak().background(0.5, background).unwrap().background(0.5, background).unwrap();
    assert_eq!(code(two.background(0.5, background)), Some(Code::ReadingContradicts));
    let net = || LineReading::net("Fe Ka", 90.0).unwrap();
    assert_eq!(code(net().background(1.0, background)), Some(Code::ReadingContradicts));
    assert_eq!(code(net().dead_time(&DeadTime::new(1e-7).unwrap())), Some(Code::ReadingContradicts));
}

#[test]
fn a_rate_that_a_counter_cannot_show_is_refused_whatever_came_first() {
    let dead = DeadTime::new(2e-6).unwrap();
    let fast = count(500_000.0, 10.0); // one count per dead time
    let slow = count(100.0, 10.0);
    let refused = LineReading::counted("Fe Ka", fast).unwrap().dead_time(&dead).unwrap_err();
    let expected = "Fe Ka peak rate at a dead time of 0.000002 s, 500000 cps is outside below 500000 cps, one count per dead \
                    time. Is the dead time in seconds, and is the rate the displayed one?";
    assert_eq!((refused.code(), refused.to_string().as_str()), (Code::DeadTimeTooLong, expected));
    let reading = || LineReading::counted("Fe Ka", slow).unwrap();
    assert_eq!(code(reading().background(1.0, fast).unwrap().dead_time(&dead)), Some(Code::DeadTimeTooLong));
    assert_eq!(code(reading().dead_time(&dead).unwrap().background(1.0, fast)), Some(Code::DeadTimeTooLong));
}

proptest! {
    /// The intensity and each contribution against the formula written out by hand.
    #[test]
    fn net_intensities_follow_the_formula(
        peak in 1e2_f64..1e5, first in 1.0_f64..1e4, second in 1.0_f64..1e4, weight in 0.1_f64..1.0,
        times in prop::array::uniform3(1.0_f64..200.0), tau in 0.0_f64..1e-6, u_tau in 0.0_f64..1e-8,
    ) {
        let dead = DeadTime::new(Estimate::new(tau, u_tau).unwrap()).unwrap();
        let reading = LineReading::counted("Fe Ka", count(peak, times[0])).unwrap()
            .background(weight, count(first, times[1])).unwrap()
            .background(1.0 - weight, count(second, times[2])).unwrap()
            .dead_time(&dead).unwrap();
        let freed = |rate: f64, tau: f64| rate / (1.0 - rate * tau);
        let net = |tau: f64| freed(peak, tau) - weight * freed(first, tau) - (1.0 - weight) * freed(second, tau);
        let found = reading.intensity().unwrap();
        prop_assert!((found.value() - net(tau)).abs() <= ROUNDING * peak);
        // d/dr of r/(1 - r tau) is 1/(1 - r tau)^2, d/dtau is r^2/(1 - r tau)^2
        let part = |rate: f64, time: f64, weight: f64| weight * weight * (rate * time).max(1.0) / (time * time) / (1.0 - rate * tau).powi(4);
        let by_tau = freed(peak, tau).powi(2) - weight * freed(first, tau).powi(2) - (1.0 - weight) * freed(second, tau).powi(2);
        let variance = part(peak, times[0], 1.0) + part(first, times[1], weight) + part(second, times[2], 1.0 - weight)
            + (by_tau * u_tau).powi(2);
        prop_assert!((found.u().unwrap() - variance.sqrt()).abs() <= POWERS * variance.sqrt());
    }

    /// Counting four times as long halves the uncertainty.
    #[test]
    fn time_is_worth_its_square_root(rate in 10.0_f64..1e5, background in 10.0_f64..1e3, time in 1.0_f64..100.0) {
        let u = |time: f64| LineReading::counted("Si Ka", count(rate, time)).unwrap()
            .background(1.0, count(background, time)).unwrap().intensity().unwrap().u().unwrap();
        prop_assert!((u(4.0 * time) * 2.0 / u(time) - 1.0).abs() < ROUNDING);
    }
}
