//! Everything of an instrument setting that does not depend on the bead, computed once.

use crate::code::Code;
use crate::error::{Error, Result};
use crate::numeric::Side;
use crate::substance::{Element, Formula, Weights};
use crate::xray::instrument::Instrument;
use crate::xray::kernel::Scheme;
use crate::xray::lines::{Named, find, named};
use crate::xray::source::cuts_of;
use crate::xray::tables::{AtomicTables, IN_SETTING, absent, vacancies};

/// A line excites others only with so many photons for each vacancy of its shell.
const EXCITING: f64 = 1e-4;
/// And with this share of the radiation of its shell.
const EXCITING_SHARE: f64 = 0.003;

/// A shell of an element, with the first point of the source above its edge.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Place {
    pub(super) element: usize,
    pub(super) first: usize,
}

/// A line that is asked for or excites others.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Ray {
    pub(super) named: Named,
    /// Place of its element among those of the setting.
    pub(super) element: usize,
    /// Place of its shell.
    pub(super) shell: usize,
    /// Photons for each vacancy: yield times share.
    pub(super) strength: f64,
}

/// An instrument, the elements that beads may hold, and the lines wanted of them: mass coefficients at every point of the
/// source and at every line, so that a bead costs a matrix product.
///
/// ```
/// use beadchem::substance::Weights;
/// use beadchem::xray::{Geometry, Glass, Instrument, Setting, Source, Tube, example_tables};
/// let (tables, weights) = (example_tables()?, Weights::ciaaw_2024());
/// let source = Source::tube(Tube::new("Rh", 50.0, 125.0)?);
/// let instrument = Instrument::new(source, Geometry::new(63.0, 40.0)?);
/// let setting = Setting::new(&tables, &weights, &instrument, &["Li2B4O7", "SiO2", "Fe2O3"], &["Si Ka", "Fe Ka"])?;
/// let glass = Glass::of_masses(&[("Li2B4O7", 5.0), ("SiO2", 0.9), ("Fe2O3", 0.1)], &weights)?;
/// let iron = setting.intensities(&glass)?.line("Fe Ka")?.total();
/// assert!(iron > 1e8, "photons s-1 sr-1 mA-1 before solid angle and detector");
/// # Ok::<(), beadchem::Error>(())
/// ```
#[derive(Debug, Clone, PartialEq)]
pub struct Setting {
    pub(super) instrument: Instrument,
    pub(super) provenance: String,
    pub(super) weights: String,
    pub(super) elements: Vec<Element>,
    /// Points of the source, keV ascending.
    pub(super) energies: Vec<f64>,
    /// `1/sin` of incidence and take-off.
    pub(super) inverse_sines: (f64, f64),
    /// `mu_e(E)/sin psi1`, element by element.
    pub(super) attenuation: Vec<f64>,
    pub(super) shells: Vec<Place>,
    /// Photons times photoelectric coefficient of the shell, moved vacancies included, shell by shell.
    pub(super) vacancies: Vec<f64>,
    pub(super) rays: Vec<Ray>,
    /// `mu_e(E_line)`, element by element.
    pub(super) at_rays: Vec<f64>,
    /// What of it is not photoelectric, element by element.
    pub(super) scattered: Vec<f64>,
    /// Photoelectric coefficient of the shell of one line at the energy of another: `[line * rays + exciter]`.
    pub(super) excited: Vec<f64>,
    /// Which of the lines can excite others.
    pub(super) exciting: Vec<bool>,
    pub(super) wanted: Scheme,
    /// What the third order is estimated with; none in such a setting itself.
    pub(super) coarse: Option<Box<Setting>>,
}

impl Setting {
    /// A setting for glasses made of these substances ("Li2B4O7", "Fe2O3"), and these lines ("Fe Ka") of them.
    ///
    /// Every line of every element is an exciting line where it lies at 1 keV or above (the lowest energy of the panels), has
    /// 1e-4 photons or more for each vacancy of its shell and 0.003 or more of that shell's radiation.
    ///
    /// # Errors
    /// Those of [`Formula::parse`]; `weights.unknown`; `element.not-tabulated`, also for a line whose element is in no
    /// substance; `energy.not-tabulated`; `line.not-tabulated` with the lines there are; `line.not-excited` with edge and
    /// source; `line.doubled`.
    ///
    /// ```
    /// use beadchem::substance::Weights;
    /// use beadchem::xray::{Geometry, Instrument, Setting, Source, example_tables};
    /// let instrument = Instrument::new(Source::monochromatic(7.0)?, Geometry::new(63.0, 40.0)?);
    /// let refused = Setting::new(&example_tables()?, &Weights::ciaaw_2024(), &instrument, &["Fe2O3"], &["Fe Ka"]);
    /// assert_eq!(refused.unwrap_err().code().word(), "line.not-excited");
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    pub fn new(
        tables: &dyn AtomicTables,
        weights: &Weights,
        instrument: &Instrument,
        substances: &[&str],
        lines: &[&str],
    ) -> Result<Self> {
        let elements = elements_of(substances)?;
        let mut cuts = Vec::new();
        for &element in &elements {
            cuts.extend(cuts_of(element, tables)?);
        }
        let emission = instrument.source.emission(&cuts, instrument.panels, tables, weights)?;
        let energies: Vec<f64> = emission.points().iter().map(|point| point.0).collect();
        let (inward, outward) = instrument.geometry.inverse_sines();
        let mut attenuation = Vec::with_capacity(elements.len() * energies.len());
        for &element in &elements {
            for &energy in &energies {
                attenuation.push(tables.total(element, energy, Side::Below)? * inward);
            }
        }
        let mut setting = Self {
            instrument: instrument.clone(),
            provenance: tables.provenance().to_owned(),
            weights: weights.version_name().to_owned(),
            elements,
            energies,
            inverse_sines: (inward, outward),
            attenuation,
            shells: Vec::new(),
            vacancies: Vec::new(),
            rays: Vec::new(),
            at_rays: Vec::new(),
            scattered: Vec::new(),
            excited: Vec::new(),
            exciting: Vec::new(),
            wanted: Scheme::default(),
            coarse: None,
        };
        let targets = setting.choose(tables, lines)?;
        setting.place_shells(tables, emission.points())?;
        setting.fill_rays(tables)?;
        setting.wanted = setting.scheme(targets);
        setting.coarse = Some(Box::new(setting.coarse()));
        Ok(setting)
    }

    /// All exciting lines, then the wanted ones that are not among them; gives the places of the wanted ones.
    fn choose(&mut self, tables: &dyn AtomicTables, lines: &[&str]) -> Result<Vec<usize>> {
        let lowest = self.instrument.panels.lowest_kev();
        let highest = self.energies.last().copied().unwrap_or(0.0);
        for (place, &element) in self.elements.iter().enumerate() {
            for line in named(tables, element)? {
                let strong = line.strength() >= EXCITING && line.line.share >= EXCITING_SHARE;
                if strong && line.line.energy_kev >= lowest && line.edge.energy_kev < highest {
                    self.rays.push(Ray { strength: line.strength(), named: line, element: place, shell: 0 });
                }
            }
        }
        self.exciting = vec![true; self.rays.len()];
        let mut targets = Vec::with_capacity(lines.len());
        for &name in lines {
            let line = find(tables, name)?;
            if line.edge.energy_kev >= highest {
                return Err(not_excited(&line, &self.instrument, highest));
            }
            let element = self.elements.iter().position(|&known| known == line.element);
            let element = element.ok_or_else(|| absent(IN_SETTING, line.element, &self.elements))?;
            let known = self.rays.iter().position(|ray| ray.named.name == line.name);
            let place = known.unwrap_or(self.rays.len());
            if targets.contains(&place) {
                return Err(Error::Conflict {
                    code: Code::LineDoubled,
                    detail: format!("{name} is asked for twice."),
                    hint: "Name each line once.".to_owned(),
                });
            }
            targets.push(place);
            if known.is_none() {
                self.rays.push(Ray { strength: line.strength(), named: line, element, shell: 0 });
                self.exciting.push(false);
            }
        }
        Ok(targets)
    }

    fn place_shells(&mut self, tables: &dyn AtomicTables, points: &[(f64, f64)]) -> Result<()> {
        let mut known = Vec::new();
        for ray in &mut self.rays {
            let edge = ray.named.edge;
            let key = (ray.element, edge.shell);
            if let Some(place) = known.iter().position(|&shell| shell == key) {
                ray.shell = place;
                continue;
            }
            ray.shell = known.len();
            known.push(key);
            let element = self.elements[ray.element];
            let (edges, moves) = (tables.edges(element)?, tables.coster_kronig(element)?);
            let first = points.partition_point(|&(energy, _)| energy <= edge.energy_kev);
            self.shells.push(Place { element: ray.element, first });
            for (index, &(energy, photons)) in points.iter().enumerate() {
                let share = if index < first { 0.0 } else { vacancies(&edges, &moves, energy)[edge.shell as usize] };
                self.vacancies.push(photons * tables.photo(element, energy, Side::Below)? * share);
            }
        }
        Ok(())
    }

    fn fill_rays(&mut self, tables: &dyn AtomicTables) -> Result<()> {
        for &element in &self.elements {
            for ray in &self.rays {
                let energy = ray.named.line.energy_kev;
                let total = tables.total(element, energy, Side::Below)?;
                self.at_rays.push(total);
                self.scattered.push(total - tables.photo(element, energy, Side::Below)?);
            }
        }
        for ray in &self.rays {
            let element = self.elements[ray.element];
            let (edges, moves) = (tables.edges(element)?, tables.coster_kronig(element)?);
            for (exciter, &exciting) in self.rays.iter().zip(&self.exciting) {
                let energy = exciter.named.line.energy_kev;
                let reached = exciting && energy > ray.named.edge.energy_kev;
                self.excited.push(match reached {
                    true => {
                        let share = vacancies(&edges, &moves, energy)[ray.named.edge.shell as usize];
                        tables.photo(element, energy, Side::Below)? * share
                    }
                    false => 0.0,
                });
            }
        }
        Ok(())
    }

    /// The lines that were asked for, in that order.
    ///
    /// ```
    /// use beadchem::substance::Weights;
    /// use beadchem::xray::{Geometry, Instrument, Setting, Source, example_tables};
    /// let instrument = Instrument::new(Source::monochromatic(20.0)?, Geometry::new(63.0, 40.0)?);
    /// let setting = Setting::new(&example_tables()?, &Weights::ciaaw_2024(), &instrument, &["SiO2"], &["Si Ka"])?;
    /// assert_eq!(setting.lines(), ["Si Ka"]);
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn lines(&self) -> Vec<&str> {
        self.wanted.targets.iter().map(|&ray| self.rays[ray].named.name.as_str()).collect()
    }

    /// The energies of those lines, keV.
    ///
    /// ```
    /// use beadchem::substance::Weights;
    /// use beadchem::xray::{Geometry, Instrument, Setting, Source, example_tables};
    /// let instrument = Instrument::new(Source::monochromatic(20.0)?, Geometry::new(63.0, 40.0)?);
    /// let setting = Setting::new(&example_tables()?, &Weights::ciaaw_2024(), &instrument, &["SiO2"], &["Si Ka"])?;
    /// assert_eq!(setting.energies_kev(), [1.7398]);
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn energies_kev(&self) -> Vec<f64> {
        self.wanted.targets.iter().map(|&ray| self.rays[ray].named.line.energy_kev).collect()
    }

    /// The elements that glasses may hold.
    ///
    /// ```
    /// use beadchem::substance::Weights;
    /// use beadchem::xray::{Geometry, Instrument, Setting, Source, example_tables};
    /// let instrument = Instrument::new(Source::monochromatic(20.0)?, Geometry::new(63.0, 40.0)?);
    /// let setting = Setting::new(&example_tables()?, &Weights::ciaaw_2024(), &instrument, &["SiO2"], &["Si Ka"])?;
    /// assert_eq!(setting.elements().len(), 2);
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn elements(&self) -> &[Element] {
        &self.elements
    }

    /// How many points the source is read at.
    ///
    /// ```
    /// use beadchem::substance::Weights;
    /// use beadchem::xray::{Geometry, Instrument, Setting, Source, example_tables};
    /// let instrument = Instrument::new(Source::monochromatic(20.0)?, Geometry::new(63.0, 40.0)?);
    /// let setting = Setting::new(&example_tables()?, &Weights::ciaaw_2024(), &instrument, &["SiO2"], &["Si Ka"])?;
    /// assert_eq!(setting.points(), 1);
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn points(&self) -> usize {
        self.energies.len()
    }

    /// Tables, atomic weights, source and geometry in words: what a number computed here rests on.
    ///
    /// ```
    /// use beadchem::substance::Weights;
    /// use beadchem::xray::{Geometry, Instrument, Setting, Source, example_tables};
    /// let instrument = Instrument::new(Source::monochromatic(20.0)?, Geometry::new(63.0, 40.0)?);
    /// let setting = Setting::new(&example_tables()?, &Weights::ciaaw_2024(), &instrument, &["SiO2"], &["Si Ka"])?;
    /// assert!(setting.provenance().contains("Elam") && setting.provenance().contains("20 keV"));
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn provenance(&self) -> String {
        format!("{}; {}; atomic weights {}", self.instrument, self.provenance, self.weights)
    }

    /// The instrument.
    ///
    /// ```
    /// use beadchem::substance::Weights;
    /// use beadchem::xray::{Geometry, Instrument, Setting, Source, example_tables};
    /// let instrument = Instrument::new(Source::monochromatic(20.0)?, Geometry::new(63.0, 40.0)?);
    /// let setting = Setting::new(&example_tables()?, &Weights::ciaaw_2024(), &instrument, &["SiO2"], &["Si Ka"])?;
    /// assert_eq!(setting.instrument(), &instrument);
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn instrument(&self) -> &Instrument {
        &self.instrument
    }

    /// The place of a line among those asked for.
    pub(super) fn place(&self, line: &str) -> Result<usize> {
        let lines = self.lines();
        lines.iter().position(|&known| known == line).ok_or_else(|| Error::Unknown {
            code: Code::LineNotTabulated,
            what: "Among the lines of this setting the line".to_owned(),
            given: line.to_owned(),
            hint: format!("They are: {}.", lines.join(", ")),
        })
    }
}

fn elements_of(substances: &[&str]) -> Result<Vec<Element>> {
    let mut elements = Vec::new();
    for &substance in substances {
        for &(element, _) in Formula::parse(substance)?.atoms() {
            if !elements.contains(&element) {
                elements.push(element);
            }
        }
    }
    Ok(elements)
}

fn not_excited(line: &Named, instrument: &Instrument, highest: f64) -> Error {
    Error::OutOfRange {
        code: Code::LineNotExcited,
        quantity: format!("{}: the highest energy of the source,", line.name),
        value: highest,
        unit: "keV",
        bound: format!("what excites it, above its edge at {} keV", line.edge.energy_kev),
        hint: format!("The source is: {}. Raise the voltage or choose a line of another shell.", instrument.source),
    }
}
