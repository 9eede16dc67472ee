//! From what a glass is made of to the intensities of its lines: atomic tables, tube, geometry, attenuation, primary and
//! secondary fluorescence, the thickness a line is read from, and lines that lie on each other.
//!
//! This module knows mass fractions of elements in a glass, and nothing of charges or samples. Angles are taken from the
//! surface of the bead, in degrees; energies in keV; mass coefficients in cm2/g; mass thickness in g/cm2.

mod emission;
mod example;
mod from_csv;
mod geometry;
mod glass;
mod gradient;
mod instrument;

mod intensity;
mod kernel;
mod lines;
mod overlaps;
mod panels;
mod scatter;
mod setting;
#[cfg(feature = "xray-tables")]
mod shipped;
mod source;
mod tables;
mod tertiary;
mod thickness;
mod to_thick;
mod tube;

pub use emission::Emission;
pub use example::example_tables;
pub use from_csv::CsvTables;
pub use geometry::Geometry;
pub use glass::Glass;
pub(crate) use glass::element_fractions;
pub use gradient::Gradient;
pub use instrument::Instrument;

pub use intensity::{Intensities, LineIntensity, not_modelled};
pub use kernel::Scratch;
pub use overlaps::{NearbyLine, overlaps};
pub use panels::Panels;
pub use setting::Setting;
#[cfg(feature = "xray-tables")]
pub use shipped::{ShippedTables, shipped_tables};
pub use source::Source;
pub use tables::{AtomicTables, CosterKronig, Edge, Emitted, Shell, lines_of};
pub use to_thick::ToThick;
pub use tube::Tube;
