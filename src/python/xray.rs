//! X-rays of a glass: tables, source, glass, intensities, thickness, overlaps.

use std::sync::Arc;

use pyo3::prelude::*;

use crate::error::Result;
use crate::numeric::Side;
use crate::python::convert::{Entries, PyFinding, findings};
use crate::python::substance::{PyWeights, weights_or_default};
use crate::python::uncertainty::{Number, PyValue};
use crate::substance::Element;
use crate::xray::{
    AtomicTables, CsvTables, Geometry, Glass, Instrument, Intensities, NearbyLine, Panels, Setting, Source, Tube,
    shipped_tables,
};

/// What is known of elements: mass coefficients, edges, yields, lines. Made by `shipped` or `from_csv`.
#[pyclass(name = "AtomicTables", module = "beadchem", frozen)]
#[derive(Clone)]
pub(super) struct PyAtomicTables(Arc<Held>);

enum Held {
    Shipped(&'static dyn AtomicTables),
    Own(CsvTables),
}

impl PyAtomicTables {
    /// Those given, or those shipped.
    pub(super) fn or_shipped(given: Option<&Self>) -> Result<Self> {
        given.map_or_else(Self::shipped, |given| Ok(given.clone()))
    }
    pub(super) fn tables(&self) -> &dyn AtomicTables {
        match &*self.0 {
            Held::Shipped(tables) => *tables,
            Held::Own(tables) => tables,
        }
    }
}

#[pymethods]
impl PyAtomicTables {
    /// The tables that come with the library, read once.
    #[staticmethod]
    fn shipped() -> Result<Self> {
        Ok(Self(Arc::new(Held::Shipped(shipped_tables()?))))
    }
    /// Tables of your own from two CSV texts.
    ///
    /// Parameters
    /// ----------
    /// mass_coefficients : str
    ///     Columns element, energy_kev, total_cm2_per_g, photo_cm2_per_g; ascending for each element, both sides of a jump.
    /// atomic_parameters : str
    ///     Columns element, kind, name, shell, energy_kev, jump_ratio, fluorescence_yield, f12, f13, f23, share; a row for each
    ///     edge (K, L1, L2, L3) and line (Ka, Kb, ...).
    /// provenance : str
    ///     Where the numbers come from.
    #[staticmethod]
    fn from_csv(mass_coefficients: &str, atomic_parameters: &str, provenance: &str) -> Result<Self> {
        CsvTables::read(mass_coefficients, atomic_parameters, provenance).map(|own| Self(Arc::new(Held::Own(own))))
    }
    /// Where the numbers come from.
    #[getter]
    fn provenance(&self) -> &str {
        self.tables().provenance()
    }
    /// Lowest and highest energy, keV.
    #[getter]
    fn range_kev(&self) -> (f64, f64) {
        self.tables().range_kev()
    }
    /// Symbols of the elements they hold.
    #[getter]
    fn elements(&self) -> Vec<&'static str> {
        self.tables().elements().into_iter().map(Element::symbol).collect()
    }
    /// Total mass attenuation of an element, cm2/g; at a jump its lower side.
    fn mass_attenuation(&self, element: &str, energy_kev: f64) -> Result<f64> {
        self.tables().total(Element::from_symbol(element)?, energy_kev, Side::Below)
    }
    /// Photoelectric part of it, cm2/g.
    fn photoelectric(&self, element: &str, energy_kev: f64) -> Result<f64> {
        self.tables().photo(Element::from_symbol(element)?, energy_kev, Side::Below)
    }
    /// Edges of an element: shell, energy in keV, jump ratio, fluorescence yield.
    fn edges(&self, element: &str) -> Result<Vec<(&'static str, f64, f64, f64)>> {
        let edges = self.tables().edges(Element::from_symbol(element)?)?.into_iter();
        Ok(edges.map(|it| (it.shell.word(), it.energy_kev, it.jump_ratio, it.fluorescence_yield)).collect())
    }
    /// Lines of an element: name ("Ka"), shell, energy in keV, share of the radiation of that shell.
    fn lines(&self, element: &str) -> Result<Vec<(String, &'static str, f64, f64)>> {
        let lines = self.tables().lines(Element::from_symbol(element)?)?.into_iter();
        Ok(lines.map(|it| (it.name, it.shell.word(), it.energy_kev, it.share)).collect())
    }
    /// Coster-Kronig probabilities of an element: f12, f13, f23.
    fn coster_kronig(&self, element: &str) -> Result<(f64, f64, f64)> {
        let found = self.tables().coster_kronig(Element::from_symbol(element)?)?;
        Ok((found.f12, found.f13, found.f23))
    }
    fn __repr__(&self) -> String {
        let (low, high) = self.tables().range_kev();
        format!("<AtomicTables {} elements, {low} to {high} keV: {}>", self.elements().len(), self.provenance())
    }
}

/// What excites a bead. Made by `tube`, `monochromatic` or `spectrum`.
#[pyclass(name = "Source", module = "beadchem", frozen, eq)]
#[derive(Clone, PartialEq)]
pub(super) struct PySource(Source);

#[pymethods]
impl PySource {
    /// An X-ray tube, by a published model of its spectrum.
    ///
    /// Parameters
    /// ----------
    /// anode : str
    ///     Symbol of the anode's element.
    /// kv : float
    ///     Voltage, kV.
    /// beryllium_um : float
    ///     Thickness of the window, micrometres of beryllium.
    /// electrons_deg, take_off_deg : float
    ///     From the anode's surface.
    #[staticmethod]
    #[pyo3(signature = (anode, *, kv, beryllium_um, electrons_deg, take_off_deg))]
    fn tube(anode: &str, kv: f64, beryllium_um: f64, electrons_deg: f64, take_off_deg: f64) -> Result<Self> {
        let tube = Tube::new(anode, kv, beryllium_um)?.with_angles(electrons_deg, take_off_deg)?;
        Ok(Self(Source::tube(tube)))
    }
    /// Photons of one energy, keV.
    #[staticmethod]
    fn monochromatic(energy_kev: f64) -> Result<Self> {
        Source::monochromatic(energy_kev).map(Self)
    }
    /// A spectrum of your own: points (keV, photons per keV) of a continuum, and lines (keV, photons), in one unit of photons.
    #[staticmethod]
    #[pyo3(signature = (continuum, lines, *, label))]
    fn spectrum(continuum: Vec<(f64, f64)>, lines: Vec<(f64, f64)>, label: &str) -> Result<Self> {
        Source::spectrum(&continuum, &lines, label).map(Self)
    }
    /// Points (keV, photons) that an integral over the source is summed over.
    #[pyo3(signature = (*, tables=None, weights=None, step_kev=1.0, points=2))]
    fn points(
        &self,
        tables: Option<&PyAtomicTables>,
        weights: Option<&Bound<'_, PyWeights>>,
        step_kev: f64,
        points: i64,
    ) -> Result<Vec<(f64, f64)>> {
        let tables = PyAtomicTables::or_shipped(tables)?;
        let emission =
            self.0.emission(&[], panels(step_kev, points)?, tables.tables(), &weights_or_default(weights))?;
        Ok(emission.points().to_vec())
    }
    fn __repr__(&self) -> String {
        format!("<Source {}>", self.0)
    }
}

fn panels(step_kev: f64, points: i64) -> Result<Panels> {
    Panels::new(step_kev, super::convert::count("Points of a panel", points)?)
}

/// A source, and the angles at which its photons meet the bead and leave it, from the bead's surface.
///
/// Parameters
/// ----------
/// source : Source
/// incidence_deg, take_off_deg : float
///     From the surface of the bead.
/// step_kev : float
///     Widest panel of an integral over the source; panels are cut at every edge.
/// points : int
///     Points in each panel.
/// from_kev : float
///     Where panels begin: photons below excite nothing.
#[pyclass(name = "Instrument", module = "beadchem", frozen)]
#[derive(Clone)]
pub(super) struct PyInstrument(pub(super) Instrument);

#[pymethods]
impl PyInstrument {
    #[new]
    #[pyo3(signature = (source, *, incidence_deg, take_off_deg, step_kev=1.0, points=2, from_kev=1.0))]
    fn new(
        source: &PySource,
        incidence_deg: f64,
        take_off_deg: f64,
        step_kev: f64,
        points: i64,
        from_kev: f64,
    ) -> Result<Self> {
        let instrument = Instrument::new(source.0.clone(), Geometry::new(incidence_deg, take_off_deg)?);
        Ok(Self(instrument.with_panels(panels(step_kev, points)?.from_kev(from_kev)?)))
    }
    fn __repr__(&self) -> String {
        format!("<Instrument {}>", self.0)
    }
}

/// What a glass is made of: substances with their masses, in any one unit.
///
/// Parameters
/// ----------
/// masses : dict of str to float
///     Flux, oxides and whatever else stays in the melt, by formula ("Li2B4O7") with masses in one unit.
/// weights : Weights, optional
///     Atomic weights; the current IUPAC table without it.
#[pyclass(name = "Glass", module = "beadchem", frozen, eq)]
#[derive(Clone, PartialEq)]
pub(super) struct PyGlass(Glass);

#[pymethods]
impl PyGlass {
    #[new]
    #[pyo3(signature = (masses, *, weights=None))]
    fn new(masses: Entries<String, f64>, weights: Option<&Bound<'_, PyWeights>>) -> Result<Self> {
        let masses: Vec<(&str, f64)> = masses.0.iter().map(|(name, mass)| (name.as_str(), *mass)).collect();
        Glass::of_masses(&masses, &weights_or_default(weights)).map(Self)
    }
    /// The same from masses of elements.
    #[staticmethod]
    fn of_elements(masses: Entries<String, f64>) -> Result<Self> {
        let masses: Vec<(&str, f64)> = masses.0.iter().map(|(name, mass)| (name.as_str(), *mass)).collect();
        Glass::of_elements(&masses).map(Self)
    }
    /// Mass fractions of its elements, %.
    #[getter]
    fn elements_percent(&self) -> Result<std::collections::BTreeMap<&'static str, f64>> {
        let fraction = |element: &Element| {
            let fraction = self.0.mass_fraction(element.symbol())?;
            Ok((element.symbol(), crate::composition::Unit::Percent.written(fraction)))
        };
        self.0.elements().iter().map(fraction).collect()
    }
    /// Total mass attenuation of the glass, cm2/g.
    #[pyo3(signature = (energy_kev, *, tables=None))]
    fn mass_attenuation(&self, energy_kev: f64, tables: Option<&PyAtomicTables>) -> Result<f64> {
        self.0.attenuation(PyAtomicTables::or_shipped(tables)?.tables(), energy_kev)
    }
    fn __repr__(&self) -> String {
        let elements: Vec<&str> = self.0.elements().iter().map(|element| element.symbol()).collect();
        format!("<Glass of {}>", elements.join(", "))
    }
}

/// One instrument, the substances a glass may be made of, and the lines asked for: everything prepared once.
///
/// Parameters
/// ----------
/// instrument : Instrument
/// substances : list of str
///     Formulas of whatever a glass may hold: flux, oxides, additions.
/// lines : list of str
///     As "Fe Ka".
/// tables : AtomicTables, optional
///     Those shipped without it.
/// weights : Weights, optional
///     Atomic weights; the current IUPAC table without it.
#[pyclass(name = "Setting", module = "beadchem", frozen)]
pub(super) struct PySetting(Setting);

#[pymethods]
impl PySetting {
    #[new]
    #[pyo3(signature = (instrument, substances, lines, *, tables=None, weights=None))]
    fn new(
        instrument: &PyInstrument,
        substances: Vec<String>,
        lines: Vec<String>,
        tables: Option<&PyAtomicTables>,
        weights: Option<&Bound<'_, PyWeights>>,
    ) -> Result<Self> {
        let substances: Vec<&str> = substances.iter().map(String::as_str).collect();
        let lines: Vec<&str> = lines.iter().map(String::as_str).collect();
        let tables = PyAtomicTables::or_shipped(tables)?;
        let weights = weights_or_default(weights);
        Setting::new(tables.tables(), &weights, &instrument.0, &substances, &lines).map(Self)
    }
    /// Lines in the order of their intensities, with their energies in keV.
    #[getter]
    fn lines_kev(&self) -> Vec<(&str, f64)> {
        self.0.lines().into_iter().zip(self.0.energies_kev()).collect()
    }
    /// Instrument and tables, in words.
    #[getter]
    fn provenance(&self) -> String {
        self.0.provenance()
    }
    /// Intensities of all lines, of a thick bead or of one with so much mass on each square centimetre.
    #[pyo3(signature = (glass, *, g_per_cm2=None))]
    fn intensities(&self, glass: &PyGlass, g_per_cm2: Option<f64>) -> Result<PyIntensities> {
        let found = match g_per_cm2 {
            Some(thickness) => self.0.intensities_of_bead(&glass.0, thickness),
            None => self.0.intensities(&glass.0),
        };
        Ok(PyIntensities { found: found?, lines: self.0.lines().into_iter().map(str::to_owned).collect() })
    }
    /// Mass thickness, g/cm2, from which a bead gives 99 % of the primary intensity of a very thick one.
    fn thick_from(&self, glass: &PyGlass, line: &str) -> Result<f64> {
        self.0.thick_from(&glass.0, line)
    }
    /// Share of the thick primary intensity that a bead of this mass thickness gives.
    fn share_of_thick(&self, glass: &PyGlass, line: &str, g_per_cm2: f64) -> Result<f64> {
        self.0.share_of_thick(&glass.0, line, g_per_cm2)
    }
    /// Mass thickness of a round bead, g/cm2, and what the primary intensity of a line is to be multiplied by to be that of a
    /// thick bead; both with the u that mass and diameter bring.
    #[pyo3(signature = (glass, line, *, bead_g, diameter_mm))]
    fn to_thick(&self, glass: &PyGlass, line: &str, bead_g: Number, diameter_mm: Number) -> Result<(PyValue, PyValue)> {
        let found = self.0.to_thick(&glass.0, line, bead_g.estimate(), diameter_mm.estimate())?;
        Ok((PyValue(found.g_per_cm2), PyValue(found.factor)))
    }
    /// A finding for each line of which a bead of this mass thickness gives less than 99 %.
    fn not_thick(&self, glass: &PyGlass, g_per_cm2: f64) -> Result<Vec<PyFinding>> {
        Ok(findings(&self.0.not_thick(&glass.0, g_per_cm2)?))
    }
    fn __repr__(&self) -> String {
        format!("<Setting {}: {}>", self.0.instrument(), self.0.lines().join(", "))
    }
}

/// Intensities of the lines of a glass, as `Setting.intensities` computes them.
#[pyclass(name = "Intensities", module = "beadchem", frozen)]
pub(super) struct PyIntensities {
    found: Intensities,
    lines: Vec<String>,
}

impl PyIntensities {
    fn by_line(&self, value: impl Fn(&crate::xray::LineIntensity) -> f64) -> Vec<(&str, f64)> {
        self.lines.iter().map(String::as_str).zip(self.found.values().iter().map(value)).collect()
    }
}

#[pymethods]
impl PyIntensities {
    /// Primary and secondary together by line; for a tube photons s-1 sr-1 mA-1, without solid angle and detector.
    #[getter]
    fn total(&self) -> std::collections::BTreeMap<&str, f64> {
        self.by_line(crate::xray::LineIntensity::total).into_iter().collect()
    }
    /// Excited by the source, by line.
    #[getter]
    fn primary(&self) -> std::collections::BTreeMap<&str, f64> {
        self.by_line(|value| value.primary).into_iter().collect()
    }
    /// Excited by other lines of the glass, by line.
    #[getter]
    fn secondary(&self) -> std::collections::BTreeMap<&str, f64> {
        self.by_line(|value| value.secondary).into_iter().collect()
    }
    /// What a reader must know.
    #[getter]
    fn findings(&self) -> Vec<PyFinding> {
        findings(self.found.findings())
    }
    fn __getitem__(&self, line: &str) -> Result<f64> {
        self.found.line(line).map(|value| value.total())
    }
    fn __repr__(&self) -> String {
        let lines = self.by_line(crate::xray::LineIntensity::total);
        let lines: Vec<String> = lines.into_iter().map(|(line, value)| format!("{line} {value:.4e}")).collect();
        format!("<Intensities {}>", lines.join(", "))
    }
}

/// One line on another. Made by `overlaps`.
#[pyclass(name = "NearbyLine", module = "beadchem", frozen)]
pub(super) struct PyNearbyLine(NearbyLine);

#[pymethods]
impl PyNearbyLine {
    /// The line that is disturbed.
    #[getter]
    fn line(&self) -> &str {
        &self.0.line
    }
    /// The line that disturbs it.
    #[getter]
    fn by(&self) -> &str {
        &self.0.by
    }
    /// The crystal order in which it does: 1, 2 or 3.
    #[getter]
    fn order(&self) -> u8 {
        self.0.order
    }
    /// How far the disturbing line, in that order, lies above the disturbed one, eV.
    #[getter]
    fn gap_ev(&self) -> f64 {
        self.0.gap_ev
    }
    /// The resolution that was stated for the disturbed line, eV.
    #[getter]
    fn resolution_ev(&self) -> f64 {
        self.0.resolution_ev
    }
    /// Whether it comes from the anode of the tube.
    #[getter]
    fn of_tube(&self) -> bool {
        self.0.of_tube
    }
    fn __repr__(&self) -> String {
        let NearbyLine { line, by, order, gap_ev, of_tube, .. } = &self.0;
        let tube = if *of_tube { " of the tube" } else { "" };
        format!("<NearbyLine {by}{tube}, order {order}, on {line}: {gap_ev:+.0} eV>")
    }
}

/// Lines that lie within the resolution stated for each line wanted, in crystal orders 1 to 3.
///
/// Parameters
/// ----------
/// wanted : dict of str to float
///     Each line with the full width at half height of what crystal and collimator make of it, eV.
/// present : list of str
///     Elements of sample, flux and additions.
/// tube : list of str, optional
///     Elements of the anode.
#[pyfunction]
#[pyo3(signature = (wanted, present, *, tube=Vec::new(), tables=None))]
pub(super) fn overlaps(
    wanted: Entries<String, f64>,
    present: Vec<String>,
    tube: Vec<String>,
    tables: Option<&PyAtomicTables>,
) -> Result<Vec<PyNearbyLine>> {
    let wanted: Vec<(&str, f64)> = wanted.0.iter().map(|(line, width)| (line.as_str(), *width)).collect();
    let [present, tube] = [&present, &tube].map(|list| list.iter().map(String::as_str).collect::<Vec<_>>());
    let found = crate::xray::overlaps(PyAtomicTables::or_shipped(tables)?.tables(), &wanted, &present, &tube)?;
    Ok(found.into_iter().map(PyNearbyLine).collect())
}

/// What computed intensities leave out, one sentence each.
#[pyfunction]
pub(super) fn not_modelled() -> Vec<&'static str> {
    crate::xray::not_modelled().to_vec()
}
