//! What excites a bead.

use crate::code::Code;
use crate::error::{Error, Result};
use crate::numeric::{Scale, Side, Table};
use crate::substance::{Element, Weights};
use crate::xray::emission::Emission;
use crate::xray::panels::Panels;
use crate::xray::tables::AtomicTables;
use crate::xray::tube::{Tube, above_zero};

/// More points than any sum over a source is worth.
const MOST_NODES: f64 = 2e5;

/// A source of X-rays: a tube, one energy, or a spectrum of the user's own.
///
/// ```
/// use beadchem::xray::{Source, Tube};
/// let source = Source::tube(Tube::new("Rh", 50.0, 125.0)?);
/// assert_eq!(source.highest_kev(), 50.0);
/// # Ok::<(), beadchem::Error>(())
/// ```
#[derive(Debug, Clone, PartialEq)]
pub struct Source(Kind);

#[derive(Debug, Clone, PartialEq)]
enum Kind {
    Tube(Tube),
    Monochromatic(f64),
    Spectrum { continuum: Option<Table>, lines: Vec<(f64, f64)>, label: String },
}

impl Source {
    /// The spectrum of a tube.
    ///
    /// ```
    /// use beadchem::xray::{Source, Tube};
    /// assert!(Source::tube(Tube::new("W", 60.0, 300.0)?).to_string().starts_with("W tube 60 kV"));
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn tube(tube: Tube) -> Self {
        Self(Kind::Tube(tube))
    }

    /// One energy; intensities are then those for one photon.
    ///
    /// # Errors
    /// `source.impossible` unless the energy is above 0; `number.not-finite`.
    ///
    /// ```
    /// assert!(beadchem::xray::Source::monochromatic(-20.0).is_err());
    /// ```
    pub fn monochromatic(energy_kev: f64) -> Result<Self> {
        above_zero("Energy of a source,", energy_kev, "keV", "Energies are in keV.")?;
        Ok(Self(Kind::Monochromatic(energy_kev)))
    }

    /// A spectrum of the user's own: points of its continuum (keV ascending, photons per keV, read between them as a straight
    /// line; an energy given twice is a jump) and its lines (keV, photons). Either may be empty.
    ///
    /// # Errors
    /// `source.impossible` where there is neither continuum nor line, an energy or a number of photons is not above 0 (a
    /// point of a continuum may be 0), or the points are not in order; `number.not-finite`.
    ///
    /// ```
    /// use beadchem::xray::Source;
    /// let source = Source::spectrum(&[(5.0, 0.0), (20.0, 1e6), (40.0, 0.0)], &[(20.167, 3e6)], "measured")?;
    /// assert_eq!(source.highest_kev(), 40.0);
    /// assert!(Source::spectrum(&[], &[], "nothing").is_err());
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    pub fn spectrum(continuum: &[(f64, f64)], lines: &[(f64, f64)], label: &str) -> Result<Self> {
        let impossible = |detail: String, hint: &str| Error::Conflict {
            code: Code::SourceImpossible,
            detail,
            hint: hint.to_owned(),
        };
        if continuum.is_empty() && lines.is_empty() {
            return Err(impossible("A spectrum has neither continuum nor lines.".to_owned(), "Give one of the two."));
        }
        for &(energy, photons) in lines {
            above_zero("Energy of a line of a spectrum,", energy, "keV", "Energies are in keV.")?;
            above_zero("Photons of a line of a spectrum,", photons, "", "Leave out a line without photons.")?;
        }
        for &(energy, photons) in continuum {
            above_zero("Energy of a point of a spectrum,", energy, "keV", "Energies are in keV.")?;
            if photons < 0.0 || !photons.is_finite() {
                let detail = format!("A spectrum has {photons} photons per keV at {energy} keV.");
                return Err(impossible(detail, "A number of photons is not below zero."));
            }
        }
        let table = |points: &[(f64, f64)]| {
            let (energies, photons): (Vec<f64>, Vec<f64>) = points.iter().copied().unzip();
            let hint =
                "Give two points or more by ascending energy; one energy stands at most twice, and not at an end.";
            Table::new(&energies, &photons, Scale::Linear).map_err(|why| impossible(why.to_string(), hint))
        };
        let continuum = if continuum.is_empty() { None } else { Some(table(continuum)?) };
        Ok(Self(Kind::Spectrum { continuum, lines: lines.to_vec(), label: label.to_owned() }))
    }

    /// The highest energy it sends out, keV.
    ///
    /// ```
    /// assert_eq!(beadchem::xray::Source::monochromatic(20.0)?.highest_kev(), 20.0);
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn highest_kev(&self) -> f64 {
        match &self.0 {
            Kind::Tube(tube) => tube.kv(),
            Kind::Monochromatic(energy) => *energy,
            Kind::Spectrum { continuum, lines, .. } => {
                let end = continuum.as_ref().and_then(|table| table.panels().last().map(|panel| panel[1]));
                lines.iter().map(|line| line.0).chain(end).fold(0.0, f64::max)
            }
        }
    }

    /// The anode, where the source is a tube.
    ///
    /// ```
    /// use beadchem::xray::{Source, Tube};
    /// assert_eq!(Source::tube(Tube::new("Rh", 50.0, 125.0)?).anode().map(|anode| anode.symbol()), Some("Rh"));
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn anode(&self) -> Option<Element> {
        if let Kind::Tube(tube) = &self.0 { Some(tube.anode()) } else { None }
    }

    /// Energies and numbers of photons, by ascending energy: points of the continuum on panels that end at these cuts and at
    /// every edge and jump of the anode, and lines.
    ///
    /// # Errors
    /// `element.not-tabulated`; `energy.not-tabulated`, also where the tables end below the highest energy of the source;
    /// `source.impossible` where no photon reaches the lowest energy of the panels.
    ///
    /// ```
    /// use beadchem::{substance::Weights, xray::{Panels, Source, Tube, example_tables}};
    /// let source = Source::tube(Tube::new("Rh", 50.0, 125.0)?);
    /// let emission = source.emission(&[7.112], Panels::default(), &example_tables()?, &Weights::ciaaw_2024())?;
    /// assert!(emission.photons() > 1e12);
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    pub fn emission(
        &self,
        cuts_kev: &[f64],
        panels: Panels,
        tables: &dyn AtomicTables,
        weights: &Weights,
    ) -> Result<Emission> {
        let (low, end) = tables.range_kev();
        if self.highest_kev() > end {
            return Err(Error::OutOfRange {
                code: Code::EnergyNotTabulated,
                quantity: "Highest energy of the source,".to_owned(),
                value: self.highest_kev(),
                unit: "keV",
                bound: format!("the atomic tables, {low} to {end} keV"),
                hint: "Bring wider tables, or lower the voltage; voltages are in kV.".to_owned(),
            });
        }
        let most = panels.most_nodes(cuts_kev.len(), end);
        let words = format!("at most {MOST_NODES:.0}");
        let hint = "Widen the step of the panels.";
        crate::error::within("Points of the source,", most, "", [0.0, MOST_NODES], &words, hint)?;
        let mut cuts = cuts_kev.to_vec();
        let mut points = Vec::new();
        match &self.0 {
            Kind::Monochromatic(energy) => points.push((*energy, 1.0)),
            Kind::Tube(tube) => {
                cuts.extend(cuts_of(tube.anode(), tables)?);
                cuts.extend(cuts_of(Element::from_symbol("Be")?, tables)?);
                for (energy, width) in panels.nodes(&cuts, tube.kv()) {
                    points.push((energy, width * tube.continuum(energy, tables, weights)?));
                }
                let lines = tube.lines(tables, weights)?.into_iter();
                points.extend(lines.map(|(_, energy, photons)| (energy, photons)));
            }
            Kind::Spectrum { continuum, lines, .. } => {
                if let Some(table) = continuum {
                    let panel = table.panels();
                    let [from, to] = [panel.first().map_or(0.0, |it| it[0]), panel.last().map_or(0.0, |it| it[1])];
                    cuts.extend_from_slice(table.edges());
                    let panels = panels.from_kev(from.max(panels.lowest_kev()))?;
                    for (energy, width) in panels.nodes(&cuts, to) {
                        points.push((energy, width * table.at_side(energy, Side::Below)?));
                    }
                }
                points.extend_from_slice(lines);
            }
        }
        points.retain(|&(energy, photons)| energy >= panels.lowest_kev() && photons > 0.0);
        if points.is_empty() {
            return Err(Error::Conflict {
                code: Code::SourceImpossible,
                detail: format!("The source has no photons at {} keV or above.", panels.lowest_kev()),
                hint: "Raise its energy, or lower the energy from which panels begin.".to_owned(),
            });
        }
        points.sort_unstable_by(|one, other| one.0.total_cmp(&other.0));
        Ok(Emission::new(points))
    }
}

impl core::fmt::Display for Source {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        match &self.0 {
            Kind::Tube(tube) => tube.fmt(f),
            Kind::Monochromatic(energy) => write!(f, "monochromatic {energy} keV"),
            Kind::Spectrum { label, .. } => write!(f, "spectrum: {label}"),
        }
    }
}

/// Every energy at which something of an element changes abruptly: its jumps and its stated edges.
pub(super) fn cuts_of(element: Element, tables: &dyn AtomicTables) -> Result<Vec<f64>> {
    let mut cuts = tables.jumps_kev(element)?;
    cuts.extend(tables.edges(element)?.iter().map(|edge| edge.energy_kev));
    Ok(cuts)
}
