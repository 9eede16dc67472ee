//! X-ray physics: an independent prototype's numbers, published ones, closed formulas and properties.

mod cases;
mod closed;
mod coefficients;
mod csv_tables;
mod errors;
mod intensities;
mod inversion;
mod overlaps;
mod properties;
#[cfg(feature = "xray-tables")]
mod shipped;
mod spectra;
mod thickness;
mod trade_off;
