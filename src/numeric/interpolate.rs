//! Tables that are read between their rows and know where they jump.

use crate::code::Code;
use crate::error::{Error, Result};
use crate::numeric::check::finite;
use crate::scalar::Scalar;

/// How a table runs between two neighbouring rows.
///
/// ```
/// use beadchem::numeric::{Scale, Table};
/// let cube = Table::new(&[1.0, 10.0], &[2.0, 2000.0], Scale::LogLog)?;
/// assert!((cube.at(3.0)? - 54.0).abs() < 1e-12);
/// # Ok::<(), beadchem::error::Error>(())
/// ```
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Scale {
    /// A straight line.
    Linear,
    /// A power law: straight in the logarithms of both; both must be above zero.
    LogLog,
}

/// From which side an edge is approached.
///
/// ```
/// use beadchem::numeric::{Scale, Side, Table};
/// let step = Table::new(&[0.0, 1.0, 1.0, 2.0], &[5.0, 5.0, 7.0, 7.0], Scale::Linear)?;
/// assert_eq!((step.at_side(1.0, Side::Below)?, step.at_side(1.0, Side::Above)?), (5.0, 7.0));
/// # Ok::<(), beadchem::error::Error>(())
/// ```
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Side {
    /// From smaller abscissae.
    Below,
    /// From larger abscissae.
    Above,
}

/// A table of one variable in which a repeated abscissa is an edge: the value jumps there.
///
/// Read on a row, it gives the number of that row to the bit; outside the first and the last row it refuses.
///
/// ```
/// use beadchem::numeric::{Scale, Table};
/// let table = Table::new(&[1.0, 2.0, 2.0, 4.0], &[8.0, 2.0, 10.0, 4.0], Scale::Linear)?;
/// assert_eq!((table.at(1.5)?, table.at(3.0)?), (5.0, 7.0));
/// assert!(table.at(2.0).is_err() && table.at(4.1).is_err());
/// assert_eq!((table.edges(), table.panels()), (&[2.0][..], vec![[1.0, 2.0], [2.0, 4.0]]));
/// # Ok::<(), beadchem::error::Error>(())
/// ```
#[derive(Debug, Clone, PartialEq)]
pub struct Table {
    x: Vec<f64>,
    y: Vec<f64>,
    /// Slope of the stretch above each row but the last, in the coordinates in which it is straight; 0 on an edge.
    slopes: Vec<f64>,
    edges: Vec<f64>,
    scale: Scale,
}

impl Table {
    /// A table from its abscissae, which must not decrease, and its values.
    ///
    /// # Errors
    /// `shape.mismatch` for lists of different length or fewer than two rows, `number.not-finite`, and
    /// `number.out-of-range` for an abscissa below the one before it, one given three times, an edge without a row
    /// on either side, or, in [`Scale::LogLog`], a number not above zero.
    ///
    /// ```
    /// use beadchem::numeric::{Scale, Table};
    /// assert!(Table::new(&[1.0, 2.0], &[3.0, 4.0], Scale::Linear).is_ok());
    /// assert!(Table::new(&[2.0, 1.0], &[3.0, 4.0], Scale::Linear).is_err());
    /// ```
    pub fn new(x: &[f64], y: &[f64], scale: Scale) -> Result<Self> {
        if x.len() < 2 || x.len() != y.len() {
            let hint = "A table has at least two rows, each with an abscissa and a value.";
            return Err(Error::shape("Values of a table", x.len().max(2), y.len().min(x.len()), hint));
        }
        finite("Abscissa of a table", x, 1)?;
        finite("Value of a table", y, 1)?;
        if scale == Scale::LogLog {
            above_zero("abscissa", x)?;
            above_zero("value", y)?;
        }
        let edges = edges(x)?;
        let stretches = x.windows(2).zip(y.windows(2));
        let slopes: Vec<f64> = stretches
            .map(|(x, y)| match scale {
                _ if x[0] == x[1] => 0.0,
                Scale::Linear => (y[1] - y[0]) / (x[1] - x[0]),
                Scale::LogLog => log_ratio(y[0], y[1]) / log_ratio(x[0], x[1]),
            })
            .collect();
        finite("Slope of a table", &slopes, 1)?;
        Ok(Self { x: x.to_vec(), y: y.to_vec(), slopes, edges, scale })
    }

    /// The value at an abscissa that is not an edge.
    ///
    /// # Errors
    /// `interpolation.outside` outside the table and on an edge.
    ///
    /// ```
    /// use beadchem::{code::Code, numeric::{Scale, Table}};
    /// let table = Table::new(&[1.0, 2.0], &[3.0, 4.0], Scale::Linear)?;
    /// assert_eq!(table.at(1.25)?, 3.25);
    /// assert_eq!(table.at(0.99).unwrap_err().code(), Code::InterpolationOutside);
    /// # Ok::<(), beadchem::error::Error>(())
    /// ```
    pub fn at(&self, x: f64) -> Result<f64> {
        let [first, last] = self.rows_of(x)?;
        if first < last {
            return Err(Error::Conflict {
                code: Code::InterpolationOutside,
                detail: format!(
                    "The table has an edge at {x}, where it jumps from {} to {}.",
                    self.y[first], self.y[last]
                ),
                hint: "Say from which side it is meant, or ask beside the edge.".to_owned(),
            });
        }
        Ok(self.between(x, first))
    }

    /// The value at an abscissa, on an edge approached from `side`; elsewhere the side does not matter.
    ///
    /// # Errors
    /// `interpolation.outside` outside the table.
    ///
    /// ```
    /// use beadchem::numeric::{Scale, Side, Table};
    /// let table = Table::new(&[1.0, 2.0, 2.0, 4.0], &[8.0, 2.0, 10.0, 4.0], Scale::Linear)?;
    /// assert_eq!((table.at_side(2.0, Side::Above)?, table.at_side(3.0, Side::Below)?), (10.0, 7.0));
    /// # Ok::<(), beadchem::error::Error>(())
    /// ```
    pub fn at_side(&self, x: f64, side: Side) -> Result<f64> {
        let [first, last] = self.rows_of(x)?;
        Ok(self.between(x, if side == Side::Below { first } else { last }))
    }

    /// The abscissae at which the table jumps, ascending.
    ///
    /// ```
    /// use beadchem::numeric::{Scale, Table};
    /// assert!(Table::new(&[1.0, 2.0], &[3.0, 4.0], Scale::Linear)?.edges().is_empty());
    /// # Ok::<(), beadchem::error::Error>(())
    /// ```
    #[must_use]
    pub fn edges(&self) -> &[f64] {
        &self.edges
    }

    /// The stretches without a jump, ascending, as `[low, high]`: the panels of an integration over the table.
    ///
    /// ```
    /// use beadchem::numeric::{Scale, Table};
    /// assert_eq!(Table::new(&[1.0, 2.0, 3.0], &[3.0, 4.0, 9.0], Scale::Linear)?.panels(), [[1.0, 3.0]]);
    /// # Ok::<(), beadchem::error::Error>(())
    /// ```
    #[must_use]
    pub fn panels(&self) -> Vec<[f64; 2]> {
        let lows = self.x.iter().take(1).chain(&self.edges);
        let highs = self.edges.iter().chain(self.x.last());
        lows.zip(highs).map(|(&low, &high)| [low, high]).collect()
    }

    /// The first and the last row at this abscissa; between two rows, the row below twice.
    fn rows_of(&self, x: f64) -> Result<[usize; 2]> {
        let below = self.x.partition_point(|&row| row < x);
        let through = self.x.partition_point(|&row| row <= x);
        if through == 0 || below == self.x.len() {
            let [low, high] = [self.x[0], self.x[self.x.len() - 1]];
            return Err(Error::OutOfRange {
                code: Code::InterpolationOutside,
                quantity: "Abscissa".to_owned(),
                value: x,
                unit: "",
                bound: format!("the table, {low} to {high}"),
                hint: "Extend the table; it is not continued past its ends.".to_owned(),
            });
        }
        Ok([below.min(through - 1), through - 1])
    }

    /// The value in the stretch that begins with this row, or on the row.
    fn between(&self, x: f64, row: usize) -> f64 {
        if self.x[row] == x {
            return self.y[row];
        }
        let (x0, y0, slope) = (self.x[row], self.y[row], self.slopes[row]);
        match self.scale {
            Scale::Linear => y0 + slope * (x - x0),
            Scale::LogLog => y0 * Scalar::exp(slope * log_ratio(x0, x)),
        }
    }
}

/// `ln(b / a)`, good also where the two are neighbours and their quotient would round to 1.
fn log_ratio(a: f64, b: f64) -> f64 {
    let ratio = b / a;
    if (0.5..=2.0).contains(&ratio) { Scalar::ln_1p((b - a) / a) } else { Scalar::ln(ratio) }
}

fn above_zero(quantity: &str, values: &[f64]) -> Result<()> {
    let Some(row) = values.iter().position(|&value| value <= 0.0) else { return Ok(()) };
    Err(Error::NotPositive {
        code: Code::NumberOutOfRange,
        quantity: format!("Table, row {}: {quantity}", row + 1),
        value: values[row],
        unit: "in the units of the table",
        bound: "A log-log table needs numbers above zero".to_owned(),
        hint: "drop the row, or read the table linearly.".to_owned(),
    })
}

fn edges(x: &[f64]) -> Result<Vec<f64>> {
    let refuse = |row: usize, bound: &str, hint: &str| Error::OutOfRange {
        code: Code::NumberOutOfRange,
        quantity: format!("Table, row {}: abscissa", row + 1),
        value: x[row],
        unit: "",
        bound: bound.to_owned(),
        hint: hint.to_owned(),
    };
    let mut edges = Vec::new();
    for row in 1..x.len() {
        if x[row] < x[row - 1] {
            return Err(refuse(row, "the ascending order", "Sort the rows by abscissa, ascending."));
        }
        if x[row] == x[row - 1] {
            if edges.last() == Some(&x[row]) {
                return Err(refuse(row, "the two rows of an edge", "Keep the row below and the row above the jump."));
            }
            if row == 1 || row + 1 == x.len() {
                return Err(refuse(row, "the rows that can be an edge", "An edge needs a row on either side of it."));
            }
            edges.push(x[row]);
        }
    }
    Ok(edges)
}
