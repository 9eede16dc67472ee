//! Atomic tables that come with the crate (feature `xray-tables`).

use std::sync::OnceLock;

use xraydb::{CrossSectionKind, XrayDb};

use crate::code::Code;
use crate::error::{Error, Result};
use crate::numeric::Side;
use crate::substance::Element;
use crate::xray::tables::{AtomicTables, CosterKronig, Edge, Emitted, IN_TABLES, Shell, absent, outside};

const EV: f64 = 1000.0;
/// Two rows nearer than this share of their energy are the two sides of a jump.
const JUMP: f64 = 2e-6;
/// The heaviest element whose lines are held.
const HEAVIEST: u8 = 92;
/// What lies lower is neither a line that a bead is read on nor an edge that it is cut at.
const LOWEST_KEV: f64 = 0.1;

/// Initial shell, line, and the final levels merged in it.
const LINES: [(Shell, &str, &[&str]); 9] = [
    (Shell::K, "Ka", &["L3", "L2"]),
    (Shell::K, "Kb", &["M3", "M2", "N3", "N2", "N2,3"]),
    (Shell::L3, "La", &["M5", "M4"]),
    (Shell::L3, "Lb2", &["N5", "N4", "N4,5"]),
    (Shell::L3, "Ll", &["M1"]),
    (Shell::L2, "Lb1", &["M4"]),
    (Shell::L2, "Lg1", &["N4"]),
    (Shell::L1, "Lb3", &["M3"]),
    (Shell::L1, "Lb4", &["M2"]),
];

const PROVENANCE: &str = "Elam, Ravel, Sieber, Radiat. Phys. Chem. 2002, 63, 121 (crate xraydb 0.4.1); K yields of Na to Mn after \
                          Hubbell et al. 1994, K-beta shares of P, S, Cl after Krause et al. 1978; no M lines";

struct Held {
    element: Element,
    edges: Vec<Edge>,
    lines: Vec<Emitted>,
    coster_kronig: CosterKronig,
    /// Energies just below and just above each jump, keV.
    jumps: Vec<[f64; 2]>,
}

/// Mass coefficients and lines of lithium to uranium, 0.1 to 800 keV.
///
/// Merged lines: Ka is K-L3 with K-L2, Kb K-M3 with K-M2 and K-N2,3, La L3-M5 with L3-M4, Lb2 L3-N4,5; energies are means
/// weighted by rate. Held besides: Ll, Lb1, Lg1, Lb3, Lb4. M lines are left out, since their shares are incomplete. Expect 5
/// % of doubt in coefficients of light elements below 20 keV: other tables differ by so much.
///
/// ```
/// use beadchem::{numeric::Side, substance::Element, xray::{AtomicTables, shipped_tables}};
/// let iron = shipped_tables()?.total(Element::from_symbol("Fe")?, 10.0, Side::Below)?;
/// assert!((iron / 170.6 - 1.0).abs() < 2e-3);
/// # Ok::<(), beadchem::Error>(())
/// ```
pub struct ShippedTables {
    data: XrayDb,
    elements: Vec<Held>,
}

/// The tables that come with the crate, read once: some 0.1 s and 30 MB.
///
/// # Errors
/// `atomic-tables.fault` where the data of this build are damaged.
///
/// # Source
/// Elam, Ravel, Sieber, Radiat. Phys. Chem. 2002, 63, 121, as the crate xraydb 0.4.1 holds them. In place of its own: K
/// fluorescence yields of Na to Mn after Hubbell et al., J. Phys. Chem. Ref. Data 1994, 23, 339, and the shares of K-beta of
/// P, S and Cl after Krause et al., ORNL-5399 (1978); how these were read stands in `published.csv` beside the source.
///
/// ```
/// use beadchem::{substance::Element, xray::{AtomicTables, shipped_tables}};
/// let silicon = shipped_tables()?.edges(Element::from_symbol("Si")?)?;
/// assert_eq!(silicon[0].fluorescence_yield, 0.05037);
/// # Ok::<(), beadchem::Error>(())
/// ```
pub fn shipped_tables() -> Result<&'static ShippedTables> {
    static TABLES: OnceLock<Result<ShippedTables>> = OnceLock::new();
    TABLES.get_or_init(ShippedTables::load).as_ref().map_err(Clone::clone)
}

impl ShippedTables {
    fn load() -> Result<Self> {
        let data = XrayDb::try_new().map_err(|why| damaged(&why))?;
        let published = published()?;
        let mut elements = Vec::new();
        for record in &data.raw().elements {
            let known = u8::try_from(record.atomic_number).is_ok_and(|number| (3..=HEAVIEST).contains(&number));
            if let (true, Ok(element)) = (known, Element::from_symbol(&record.symbol)) {
                elements.push(held(&data, element, &published)?);
            }
        }
        Ok(Self { data, elements })
    }

    fn held(&self, element: Element) -> Result<&Held> {
        let found = self.elements.iter().find(|held| held.element == element);
        found.ok_or_else(|| absent(IN_TABLES, element, &self.elements()))
    }

    fn coefficient(&self, element: Element, energy_kev: f64, side: Side, kind: CrossSectionKind) -> Result<f64> {
        let held = self.held(element)?;
        let (low, high) = self.range_kev();
        if !(low..=high).contains(&energy_kev) {
            return Err(outside(element, energy_kev, (low, high)));
        }
        let on_jump = held.jumps.iter().find(|[below, above]| (*below..=*above).contains(&energy_kev));
        let energy = on_jump.map_or(energy_kev, |[below, above]| if side == Side::Below { *below } else { *above });
        self.data.mu_elam_at(element.symbol(), energy * EV, kind).map_err(|why| damaged(&why))
    }
}

impl core::fmt::Debug for ShippedTables {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        write!(f, "ShippedTables({} elements)", self.elements.len())
    }
}

impl AtomicTables for ShippedTables {
    fn provenance(&self) -> &str {
        PROVENANCE
    }

    fn range_kev(&self) -> (f64, f64) {
        let (low, high) = XrayDb::elam_energy_range();
        (low / EV, high / EV)
    }

    fn elements(&self) -> Vec<Element> {
        self.elements.iter().map(|held| held.element).collect()
    }

    fn total(&self, element: Element, energy_kev: f64, side: Side) -> Result<f64> {
        self.coefficient(element, energy_kev, side, CrossSectionKind::Total)
    }

    fn photo(&self, element: Element, energy_kev: f64, side: Side) -> Result<f64> {
        self.coefficient(element, energy_kev, side, CrossSectionKind::Photo)
    }

    fn edges(&self, element: Element) -> Result<Vec<Edge>> {
        Ok(self.held(element)?.edges.clone())
    }

    fn lines(&self, element: Element) -> Result<Vec<Emitted>> {
        Ok(self.held(element)?.lines.clone())
    }

    fn coster_kronig(&self, element: Element) -> Result<CosterKronig> {
        Ok(self.held(element)?.coster_kronig)
    }

    fn jumps_kev(&self, element: Element) -> Result<Vec<f64>> {
        Ok(self.held(element)?.jumps.iter().map(|jump| jump[0]).collect())
    }
}

/// A number in place of the one the tables hold: element, quantity, value.
type Published = (String, String, f64);

fn published() -> Result<Vec<Published>> {
    let text = include_str!("published.csv");
    let mut reader = csv::ReaderBuilder::new().comment(Some(b'#')).from_reader(text.as_bytes());
    let mut rows = Vec::new();
    for row in reader.deserialize::<(String, String, f64, String)>() {
        let (element, quantity, value, _) = row.map_err(|why| damaged(&why))?;
        rows.push((element, quantity, value));
    }
    Ok(rows)
}

fn held(data: &XrayDb, element: Element, published: &[Published]) -> Result<Held> {
    let symbol = element.symbol();
    let instead = |quantity: &str| published.iter().find(|row| row.0 == symbol && row.1 == quantity).map(|row| row.2);
    let mut edges = Vec::new();
    for shell in Shell::ALL {
        if let Ok(edge) = data.xray_edge(symbol, shell.word())
            && edge.energy >= LOWEST_KEV * EV
            && edge.jump_ratio > 1.0
        {
            let own = if shell == Shell::K { instead("yield") } else { None };
            let fluorescence_yield = own.unwrap_or(edge.fluorescence_yield);
            edges.push(Edge { shell, energy_kev: edge.energy / EV, jump_ratio: edge.jump_ratio, fluorescence_yield });
        }
    }
    let mut lines = merged(data, symbol, &edges);
    if let Some(beta) = instead("kb-share") {
        for line in lines.iter_mut().filter(|line| line.shell == Shell::K) {
            line.share = if line.name == "Kb" { beta } else { 1.0 - beta };
        }
    }
    // direct transitions; what goes over L2 is added up elsewhere
    let moved = |from: &str, to: &str| data.ck_probability(symbol, from, to, false).unwrap_or(0.0);
    let coster_kronig = CosterKronig { f12: moved("L1", "L2"), f13: moved("L1", "L3"), f23: moved("L2", "L3") };
    Ok(Held { element, edges, lines, coster_kronig, jumps: jumps(data, symbol) })
}

/// Lines of one shell that are read as one: shares added, energies averaged by rate.
fn merged(data: &XrayDb, symbol: &str, edges: &[Edge]) -> Vec<Emitted> {
    let transitions: Vec<_> = data.raw().xray_transitions.iter().filter(|line| line.element == symbol).collect();
    let mut lines = Vec::new();
    for (shell, name, finals) in LINES {
        if !edges.iter().any(|edge| edge.shell == shell) {
            continue;
        }
        let (mut share, mut energy, mut strongest, mut peak_kev) = (0.0, 0.0, 0.0, 0.0);
        for line in &transitions {
            if line.initial_level == shell.word() && finals.contains(&line.final_level.as_str()) {
                share += line.intensity;
                energy += line.intensity * line.emission_energy / EV;
                if line.intensity > strongest {
                    (strongest, peak_kev) = (line.intensity, line.emission_energy / EV);
                }
            }
        }
        if share > 0.0 && energy / share >= LOWEST_KEV {
            lines.push(Emitted { name: name.to_owned(), shell, energy_kev: energy / share, peak_kev, share });
        }
    }
    lines
}

/// Where the photoelectric coefficients jump: two rows side by side, which need not be where an edge is stated.
fn jumps(data: &XrayDb, symbol: &str) -> Vec<[f64; 2]> {
    let Some(record) = data.raw().photoabsorption.iter().find(|record| record.element == symbol) else {
        return Vec::new();
    };
    let rows = record.log_energy.windows(2);
    let near = rows.filter(|pair| pair[1] - pair[0] < JUMP).map(|pair| [pair[0].exp() / EV, pair[1].exp() / EV]);
    near.filter(|jump| jump[0] >= LOWEST_KEV).collect()
}

fn damaged(why: &dyn core::fmt::Display) -> Error {
    Error::Document {
        code: Code::AtomicTableFault,
        place: "Atomic tables of this build".to_owned(),
        detail: format!("They cannot be read: {why}."),
        hint: "Build again from clean sources, or bring tables of your own as CSV.".to_owned(),
    }
}
