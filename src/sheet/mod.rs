//! Tables as balances and spectrometers export them, read by a declared layout.
//!
//! Nothing is guessed: marks, units, bases and words are the caller's. Trouble is reported by row, and every row of the
//! file is a row of the sheet.

mod bare;
mod body;
mod cell;
mod column;
mod grid;
mod head;
mod ids;
mod join;
mod layout;
mod number;
mod place;
mod read;
mod show;
mod totals;
mod whole;
mod words;
#[cfg(feature = "xlsx")]
mod xlsx;

pub(crate) use bare::{WrittenCell, written_cell};
pub use body::LayoutBody;
pub use column::Column;
pub use join::{Doubled, Joined, join};
pub use layout::Layout;
pub use totals::{Outcome, RowTotal, Totals};
pub use whole::{Reading, Sheet, SheetCell, SheetRow};
pub use words::{DecimalMark, Delimiter, MassUnit, ThousandsMark};
