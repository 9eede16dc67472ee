//! Numbers without chemistry: compensated sums, least squares, fits with uncertainty in every coordinate, pivoted solves,
//! derivatives of a solution, tables that know their edges, and the choice of the instruction set for a loop.
//!
//! Matrices are plain slices, row by row. Nothing here draws random numbers or looks at a clock.

mod both_axes;
mod check;
mod dispatch;
mod eliminate;
mod errors_in_variables;
mod implicit;
mod interpolate;
mod least_squares;
#[doc(hidden)]
pub mod memory;
mod refined;
mod registers;
mod solve;
mod sums;

pub use both_axes::{Line, Point, both_axes};
pub use dispatch::InstructionSet;
pub(crate) use dispatch::{Level, OverLanes};
pub use eliminate::eliminate;
pub(crate) use eliminate::{Scaled, TILE, eliminate_in, eliminate_scaled, substitute};
pub use errors_in_variables::{UncertainFit, errors_in_variables};
pub use implicit::{Residual, implicit_derivative};
pub use interpolate::{Scale, Side, Table};
pub use least_squares::{Fit, Scatter, least_squares, polynomial};
pub(crate) use registers::{Plain, Registers};
pub use solve::{eigenvalues, inverse, semidefinite_factor, smallest_eigenvalue, solve};
pub use sums::{Sum, dot, sum};
