//! Uncertainty of results: inputs with shared causes, first-order propagation, budgets, Monte Carlo. Knows no chemistry.

mod budget;
mod coverage;
mod drawing;
mod draws;
mod estimate;
mod inputs;
mod linearise;
mod model;
mod montecarlo;
mod propagate;
mod second_order;
mod spread;
mod touched;
mod validate;

pub use budget::{Budget, BudgetRow};
pub(crate) use coverage::multiple_of_u;
pub(crate) use drawing::Drawn;
pub use estimate::{Distribution, Estimate, Knowledge, SharedCause};
pub use inputs::{Input, Inputs};
pub(crate) use linearise::{linearise, linearise_plain, linearise_wide};
pub use model::{Directions, Model};
pub(crate) use montecarlo::draw;
pub use montecarlo::{MonteCarlo, MonteCarloOptions, monte_carlo};
pub use propagate::{Propagated, propagate, propagate_plain};
pub use second_order::second_order;
pub(crate) use spread::{Move, Spread};
pub(crate) use touched::Touched;
pub use validate::{Validation, validate};
