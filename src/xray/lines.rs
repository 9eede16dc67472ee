//! Lines by name.

use crate::code::Code;
use crate::error::{Error, Result};
use crate::substance::Element;
use crate::xray::tables::{AtomicTables, Edge, Emitted, lines_of};

/// A line with its element and the edge behind it.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Named {
    pub(super) name: String,
    pub(super) element: Element,
    pub(super) line: Emitted,
    pub(super) edge: Edge,
}

impl Named {
    /// Photons of this line for each vacancy of its shell.
    pub(super) fn strength(&self) -> f64 {
        self.edge.fluorescence_yield * self.line.share
    }
}

/// All lines of an element whose shell is held.
pub(super) fn named(tables: &dyn AtomicTables, element: Element) -> Result<Vec<Named>> {
    let edges = tables.edges(element)?;
    let with_edge = |line: Emitted| {
        let edge = *edges.iter().find(|edge| edge.shell == line.shell)?;
        Some(Named { name: format!("{} {}", element.symbol(), line.name), element, line, edge })
    };
    Ok(tables.lines(element)?.into_iter().filter_map(with_edge).collect())
}

/// The line of a name, "Fe Ka".
///
/// # Errors
/// `line.not-tabulated` with the lines there are; `element.not-tabulated`.
pub(super) fn find(tables: &dyn AtomicTables, name: &str) -> Result<Named> {
    let unknown = |hint: String| Error::Unknown {
        code: Code::LineNotTabulated,
        what: "Line".to_owned(),
        given: name.to_owned(),
        hint,
    };
    let symbol = name.split(' ').next().unwrap_or_default();
    let Ok(element) = Element::from_symbol(symbol) else {
        return Err(unknown("Write symbol, one space, line, as in Fe Ka or Pb Lb1.".to_owned()));
    };
    let found = named(tables, element)?.into_iter().find(|line| line.name == name);
    if let Some(found) = found {
        return Ok(found);
    }
    let held = lines_of(tables, element)?;
    Err(unknown(match held.is_empty() {
        true => format!("The atomic tables hold no line of {}.", element.symbol()),
        false => format!("The atomic tables hold: {}.", held.join(", ")),
    }))
}
