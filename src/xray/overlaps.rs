//! Which lines of a bead and of the tube lie on the lines that are measured.

use crate::code::Code;
use crate::error::{Error, Result, finite};
use crate::substance::Element;
use crate::xray::lines::{find, named};
use crate::xray::tables::AtomicTables;

/// Crystals reflect the energy E where E/1, E/2 and E/3 are set.
const ORDERS: [u8; 3] = [1, 2, 3];
/// Lines with a smaller share of their shell are not looked at.
const SHARE: f64 = 0.003;
const EV: f64 = 1000.0;

/// One line on another.
///
/// ```
/// use beadchem::xray::{NearbyLine, example_tables, overlaps};
/// let found = overlaps(&example_tables()?, &[("Rh La", 150.0)], &["Rh"], &[])?;
/// assert!(found.iter().all(|overlap: &NearbyLine| overlap.line == "Rh La"));
/// # Ok::<(), beadchem::Error>(())
/// ```
#[derive(Debug, Clone, PartialEq)]
pub struct NearbyLine {
    /// The line that is disturbed.
    pub line: String,
    /// The line that disturbs it; it need not be disturbed in turn, since that depends on which is measured and which is
    /// strong.
    pub by: String,
    /// The crystal order in which it does: 1, 2 or 3.
    pub order: u8,
    /// How far the disturbing line, in that order, lies above the disturbed one, eV.
    pub gap_ev: f64,
    /// The resolution that was stated for the disturbed line, eV.
    pub resolution_ev: f64,
    /// Whether the disturbing line comes from the anode of the tube rather than from the bead.
    pub of_tube: bool,
}

/// Lines that lie within the stated resolution of the lines wanted, by line and gap.
///
/// `wanted` holds each line with its resolution in eV, full width at half height, which the caller must know: it belongs to
/// crystal and collimator. `present` are the elements of sample, flux and additions, `tube` those of the anode. In order n a
/// line of energy E stands where E/n is read, `gap = E/n - E_line`, both those of the strongest member of merged lines; it
/// disturbs where `|gap| <= resolution`. Every wanted line is looked at by itself, so the direction is in the result: Cr Kb
/// on Mn Ka does not say that Mn Ka is on Cr Kb. Tables differ by up to 6 eV in line energies; state resolutions with that in
/// mind.
///
/// # Errors
/// `line.not-tabulated`; `element.not-tabulated`; `weights.unknown`; `resolution.unstated` for a resolution that is not
/// above 0; `number.not-finite`.
///
/// # Source
/// Common practice.
///
/// ```
/// use beadchem::xray::{example_tables, overlaps};
/// let found = overlaps(&example_tables()?, &[("Si Ka", 120.0)], &["Si", "Fe"], &["Rh"])?;
/// assert!(found.iter().any(|overlap| overlap.by == "Si Kb" && overlap.gap_ev > 90.0));
/// // no silent default
/// assert!(overlaps(&example_tables()?, &[("Si Ka", 0.0)], &["Si"], &[]).is_err());
/// # Ok::<(), beadchem::Error>(())
/// ```
pub fn overlaps(
    tables: &dyn AtomicTables,
    wanted: &[(&str, f64)],
    present: &[&str],
    tube: &[&str],
) -> Result<Vec<NearbyLine>> {
    let mut disturbing = Vec::new();
    for (symbols, of_tube) in [(present, false), (tube, true)] {
        for (place, &symbol) in symbols.iter().enumerate() {
            if symbols[..place].contains(&symbol) {
                continue;
            }
            for line in named(tables, Element::from_symbol(symbol)?)? {
                if line.line.share >= SHARE {
                    disturbing.push((line, of_tube));
                }
            }
        }
    }
    let mut found: Vec<NearbyLine> = Vec::new();
    for &(name, resolution_ev) in wanted {
        let line = find(tables, name)?;
        let resolution_ev = resolution(name, resolution_ev)?;
        let before = found.len();
        for (other, of_tube) in disturbing.iter().filter(|(other, of_tube)| *of_tube || other.name != name) {
            for order in ORDERS {
                let gap_ev = (other.line.peak_kev / f64::from(order) - line.line.peak_kev) * EV;
                if gap_ev.abs() <= resolution_ev {
                    let (line, by) = (name.to_owned(), other.name.clone());
                    found.push(NearbyLine { line, by, order, gap_ev, resolution_ev, of_tube: *of_tube });
                }
            }
        }
        found[before..].sort_by(|one, other| one.gap_ev.abs().total_cmp(&other.gap_ev.abs()));
    }
    Ok(found)
}

fn resolution(line: &str, ev: f64) -> Result<f64> {
    finite(&format!("Resolution for {line}"), ev)?;
    if ev > 0.0 {
        return Ok(ev);
    }
    Err(Error::Unstated {
        code: Code::ResolutionUnstated,
        quantity: format!("The resolution for {line}, which is given as {ev} eV,"),
        hint: "It depends on crystal and collimator: state the full width at half height in eV, above 0.".to_owned(),
    })
}
