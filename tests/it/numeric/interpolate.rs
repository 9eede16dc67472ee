//! Tables: exact on what they can represent, careful at edges, silent about nothing.

use beadchem::code::Code;
use beadchem::error::Result;
use beadchem::numeric::{Scale, Side, Table};
use proptest::prelude::*;

use super::{assert_refused, config};

/// exp, ln and a power with an exponent below 4: a few units in the last place each.
const ROUNDING: f64 = 1e-14;

proptest! {
    #![proptest_config(config())]

    #[test]
    fn a_power_law_is_exact_in_log_log(exponent in -4.0_f64..4.0, factor in 1e-6_f64..1e6, x in 0.1_f64..100.0) {
        let rows = [0.1, 0.5, 2.0, 31.0, 100.0];
        let law = |x: f64| factor * x.powf(exponent);
        let table = Table::new(&rows, &rows.map(law), Scale::LogLog).map_err(|e| TestCaseError::fail(e.to_string()))?;
        let found = table.at(x).unwrap_or(f64::NAN);
        prop_assert!((found - law(x)).abs() <= ROUNDING * law(x), "{} at {}", found, x);
    }

    #[test]
    fn a_straight_line_is_exact(slope in -1e3_f64..1e3, level in -1e3_f64..1e3, x in -1.0_f64..9.0) {
        let rows = [-1.0, 0.25, 4.0, 9.0];
        let line = |x: f64| level + slope * x;
        let table = Table::new(&rows, &rows.map(line), Scale::Linear).map_err(|e| TestCaseError::fail(e.to_string()))?;
        let found = table.at(x).unwrap_or(f64::NAN);
        prop_assert!((found - line(x)).abs() <= ROUNDING * (level.abs() + 9.0 * slope.abs()), "{} at {}", found, x);
    }
}

fn edged(scale: Scale) -> Result<Table> {
    Table::new(&[1.0, 2.0, 2.0, 3.0, 5.0, 5.0, 8.0], &[9.0, 4.0, 30.0, 20.0, 11.0, 12.0, 7.0], scale)
}

#[test]
fn rows_are_given_back_to_the_bit() -> Result<()> {
    for scale in [Scale::Linear, Scale::LogLog] {
        let table = edged(scale)?;
        assert_eq!([table.at(1.0)?, table.at(3.0)?, table.at(8.0)?], [9.0, 20.0, 7.0]);
        assert_eq!([table.at_side(2.0, Side::Below)?, table.at_side(2.0, Side::Above)?], [4.0, 30.0]);
        assert_eq!([table.at_side(5.0, Side::Below)?, table.at_side(5.0, Side::Above)?], [11.0, 12.0]);
        // Off an edge the side does not matter.
        for x in [1.0, 1.5, 3.0, 4.0, 8.0] {
            assert_eq!([table.at_side(x, Side::Below)?, table.at_side(x, Side::Above)?], [table.at(x)?; 2]);
        }
    }
    Ok(())
}

#[test]
fn an_edge_belongs_to_the_panel_from_which_it_is_reached() -> Result<()> {
    for scale in [Scale::Linear, Scale::LogLog] {
        let table = edged(scale)?;
        assert_eq!(table.edges(), [2.0, 5.0]);
        assert_eq!(table.panels(), [[1.0, 2.0], [2.0, 5.0], [5.0, 8.0]]);
        for &edge in table.edges() {
            // One unit in the last place beside the edge, the value is that of the side but for the slope.
            let beside = [edge.next_down(), edge.next_up()];
            let ends = [table.at_side(edge, Side::Below)?, table.at_side(edge, Side::Above)?];
            for (x, end) in beside.into_iter().zip(ends) {
                let found = table.at(x)?;
                assert!((found - end).abs() <= ROUNDING * end, "{found} beside {edge}, {end} on it");
            }
        }
    }
    Ok(())
}

#[test]
fn neighbouring_abscissae_do_not_lose_the_slope() -> Result<()> {
    // Rows so close that their logarithms are equal to the last place.
    let x = [1000.0_f64, 1000.0_f64.next_up(), 1000.0_f64.next_up().next_up(), 2000.0];
    let table = Table::new(&x, &[1.0, 2.0, 3.0, 4.0], Scale::LogLog)?;
    assert_eq!([table.at(x[0])?, table.at(x[1])?, table.at(x[2])?], [1.0, 2.0, 3.0]);
    assert!((3.0..=4.0).contains(&table.at(1500.0)?));
    Ok(())
}

#[test]
fn wrong_tables_are_refused() {
    let table = |x: &[f64], scale| Table::new(x, &[1.0, 2.0, 3.0, 4.0][..x.len().min(4)], scale);
    assert_refused([
        ("one row", table(&[1.0], Scale::Linear), Code::ShapeMismatch),
        ("a value missing", table(&[1.0, 2.0, 3.0, 4.0, 5.0], Scale::Linear), Code::ShapeMismatch),
        ("abscissa not a number", table(&[1.0, f64::NAN], Scale::Linear), Code::NumberNotFinite),
        ("value infinite", Table::new(&[1.0, 2.0], &[1.0, f64::INFINITY], Scale::Linear), Code::NumberNotFinite),
        ("descending", table(&[1.0, 3.0, 2.0], Scale::Linear), Code::NumberOutOfRange),
        ("thrice", Table::new(&[1.0, 2.0, 2.0, 2.0, 3.0], &[1.0; 5], Scale::Linear), Code::NumberOutOfRange),
        ("edge at the start", table(&[1.0, 1.0, 2.0], Scale::Linear), Code::NumberOutOfRange),
        ("edge at the end", table(&[1.0, 2.0, 2.0], Scale::Linear), Code::NumberOutOfRange),
        ("logarithm of zero", table(&[0.0, 1.0], Scale::LogLog), Code::NumberOutOfRange),
        ("logarithm of a negative", Table::new(&[1.0, 2.0], &[1.0, -1.0], Scale::LogLog), Code::NumberOutOfRange),
    ]);
    let linear = |x: f64| edged(Scale::Linear).and_then(|table| table.at(x));
    assert_refused([
        ("below", linear(0.999), Code::InterpolationOutside),
        ("above", linear(8.001), Code::InterpolationOutside),
        ("not a number", linear(f64::NAN), Code::InterpolationOutside),
        ("on an edge", linear(5.0), Code::InterpolationOutside),
    ]);
    let text = linear(5.0).err().map(|error| error.to_string()).unwrap_or_default();
    assert!(text.contains("edge at 5") && text.contains("from 11 to 12"), "{text}");
}
