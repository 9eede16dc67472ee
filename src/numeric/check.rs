//! The checks that every entry of this module shares.

use crate::code::Code;
use crate::error::{Error, Result};

/// Refuses a list that holds a number that is not finite; `columns` is the length of one row of it.
pub(super) fn finite(quantity: &str, values: &[f64], columns: usize) -> Result<()> {
    let Some(index) = values.iter().position(|value| !value.is_finite()) else { return Ok(()) };
    let place = match columns {
        0 | 1 => format!(" at position {}", index + 1),
        _ => format!(" in row {}, column {}", index / columns + 1, index % columns + 1),
    };
    Err(Error::Missing {
        code: Code::NumberNotFinite,
        quantity: quantity.to_owned(),
        place,
        hint: format!("Got {}; give a finite number.", values[index]),
    })
}

/// Refuses a standard uncertainty that cannot be divided by, counted from 1 in the message.
pub(super) fn uncertainties_positive(quantity: &str, values: &[f64]) -> Result<()> {
    finite(quantity, values, 1)?;
    let Some(index) = values.iter().position(|&u| u <= 0.0) else { return Ok(()) };
    Err(Error::NotPositive {
        code: if values[index] < 0.0 { Code::UncertaintyNegative } else { Code::NumberOutOfRange },
        quantity: format!("{quantity} at position {}", index + 1),
        value: values[index],
        unit: "in the units of its quantity",
        bound: "A weight is 1/u^2, so u must be above zero".to_owned(),
        hint: "give the point the standard uncertainty of its reading, or fit with equal weights.".to_owned(),
    })
}

/// Refuses a fit without at least one point to spare.
pub(super) fn points_to_spare(points: usize, parameters: usize) -> Result<()> {
    if points > parameters {
        return Ok(());
    }
    let expected = parameters.saturating_add(1);
    Err(Error::Shape {
        code: Code::FitTooFewPoints,
        quantity: format!("Points for a fit of {parameters} parameters"),
        expected,
        found: points,
        hint: "A fit needs more points than parameters; add points or fit fewer parameters.".to_owned(),
    })
}

/// Refuses a list that is not an n by n matrix of finite numbers.
pub(super) fn square(quantity: &str, matrix: &[f64], n: usize) -> Result<()> {
    if n == 0 || matrix.len() != n * n {
        return Err(Error::shape(
            &format!("{quantity}, entries"),
            n.max(1) * n.max(1),
            matrix.len(),
            "The matrix is square and at least 1 by 1, given row by row.",
        ));
    }
    finite(quantity, matrix, n)
}
