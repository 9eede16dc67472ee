//! Influence coefficients from first principles.

use std::collections::BTreeMap;

use pyo3::prelude::*;

use crate::code::Code;
use crate::composition::Unit;
use crate::error::{Error, Result};
use crate::matrix::{FluxChoice, Inversion, Label, ReferenceBead, Theory, TradeOff};
use crate::python::coefficients::PyCoefficientSet;
use crate::python::convert::Entries;
use crate::python::substance::{PyWeights, weights_or_default};
use crate::python::xray::{PyAtomicTables, PyInstrument};

/// A bead at which coefficients are computed.
///
/// Parameters
/// ----------
/// fused_flux_ratio : float
///     F0, g of fused flux per g of sample as weighed.
/// contents_percent : dict of str to float
///     What stays in the glass of the sample and the additions, % of the sample as weighed; components left out are 0.
/// ranges_percent : dict of str to (float, float), optional
///     Contents for which coefficients computed here are to hold.
#[pyclass(name = "ReferenceBead", module = "beadchem", frozen)]
#[derive(Clone)]
pub(super) struct PyReferenceBead {
    ratio: f64,
    contents: Vec<(String, f64)>,
    ranges: Vec<(String, (f64, f64))>,
}

/// Contents as fractions in the order of these components; those left out are 0.
fn in_order(contents_percent: &[(String, f64)], components: &[&str]) -> Result<Vec<f64>> {
    let mut contents = vec![0.0; components.len()];
    for (component, content) in contents_percent {
        let place = components.iter().position(|known| known == component);
        let place = place.ok_or_else(|| Error::word("Component of a reference bead", component, components))?;
        contents[place] = Unit::Percent.fraction(*content);
    }
    Ok(contents)
}

impl PyReferenceBead {
    /// Its contents in the order of these components.
    fn bead(&self, components: &[&str]) -> Result<ReferenceBead> {
        let bead = ReferenceBead::new(self.ratio, in_order(&self.contents, components)?)?;
        Ok(self.ranges.iter().fold(bead, |bead, (component, (low, high))| {
            bead.with_range(component, Unit::Percent.fraction(*low), Unit::Percent.fraction(*high))
        }))
    }
}

#[pymethods]
impl PyReferenceBead {
    #[new]
    #[pyo3(signature = (fused_flux_ratio, contents_percent, *, ranges_percent=None))]
    fn new(
        fused_flux_ratio: f64,
        contents_percent: Entries<String, f64>,
        ranges_percent: Option<Entries<String, (f64, f64)>>,
    ) -> Result<Self> {
        let contents: Vec<f64> = contents_percent.0.iter().map(|(_, held)| Unit::Percent.fraction(*held)).collect();
        ReferenceBead::new(fused_flux_ratio, contents)?;
        Ok(Self { ratio: fused_flux_ratio, contents: contents_percent.0, ranges: ranges_percent.unwrap_or_default().0 })
    }
    /// F0, g of fused flux per g of sample as weighed.
    #[getter]
    fn fused_flux_ratio(&self) -> f64 {
        self.ratio
    }
    /// Contents, % of the sample as weighed.
    #[getter]
    fn contents_percent(&self) -> BTreeMap<&str, f64> {
        self.contents.iter().map(|(component, content)| (component.as_str(), *content)).collect()
    }
    fn __repr__(&self) -> String {
        let contents: Vec<String> = self.contents.iter().map(|(name, content)| format!("{name} {content} %")).collect();
        format!("<ReferenceBead F0 {}: {}>", self.ratio, contents.join(", "))
    }
}

/// What is computed from first principles for the beads of one flux.
///
/// Parameters
/// ----------
/// instrument : Instrument
/// blend : dict of str to float
///     The flux in parts by mass.
/// components : list of str
///     Everything else that stays in the glass: analytes, a heavy absorber, what is left of a release agent or an oxidant.
/// lines : dict of str to str
///     Each line ("Fe Ka") with the component it measures.
/// tables : AtomicTables, optional
///     Those shipped without it.
/// weights : Weights, optional
///     Atomic weights; the current IUPAC table without it.
#[pyclass(name = "Theory", module = "beadchem", frozen)]
pub(super) struct PyTheory {
    theory: Theory,
    components: Vec<String>,
}

impl PyTheory {
    /// Intensities in the order of the lines.
    fn by_line(&self, given: &Entries<String, f64>) -> Result<Vec<f64>> {
        let lines = self.theory.setting().lines();
        if let Some((name, _)) = given.0.iter().find(|(name, _)| !lines.contains(&name.as_str())) {
            return Err(Error::word("Line of the theory", name, &lines));
        }
        let of = |line: &&str| {
            let held = given.0.iter().find(|(name, _)| name == line).map(|(_, value)| *value);
            held.ok_or_else(|| Error::Missing {
                code: Code::LineUnknown,
                quantity: format!("The intensity of {line}"),
                place: String::new(),
                hint: "Give one for each line of the theory.".to_owned(),
            })
        };
        lines.iter().map(of).collect()
    }
    fn bead(&self, bead: &PyReferenceBead) -> Result<ReferenceBead> {
        bead.bead(&self.components.iter().map(String::as_str).collect::<Vec<_>>())
    }
}

#[pymethods]
impl PyTheory {
    #[new]
    #[pyo3(signature = (instrument, *, blend, components, lines, tables=None, weights=None))]
    fn new(
        instrument: &PyInstrument,
        blend: Entries<String, f64>,
        components: Vec<String>,
        lines: Entries<String, String>,
        tables: Option<&PyAtomicTables>,
        weights: Option<&Bound<'_, PyWeights>>,
    ) -> Result<Self> {
        let blend: Vec<(&str, f64)> = blend.0.iter().map(|(part, share)| (part.as_str(), *share)).collect();
        let names: Vec<&str> = components.iter().map(String::as_str).collect();
        let lines: Vec<(&str, &str)> =
            lines.0.iter().map(|(line, analyte)| (line.as_str(), analyte.as_str())).collect();
        let tables = PyAtomicTables::or_shipped(tables)?;
        let weights = weights_or_default(weights);
        let theory = Theory::new(tables.tables(), &weights, &instrument.0, &blend, &names, &lines)?;
        Ok(Self { theory, components })
    }
    /// Intensities of all lines of a bead, by line.
    fn intensities(&self, bead: &PyReferenceBead) -> Result<BTreeMap<&str, f64>> {
        let found = self.theory.intensities(&self.bead(bead)?)?;
        Ok(self.theory.setting().lines().into_iter().zip(found).collect())
    }
    /// Coefficients of the loss-free form w = k I (F/F0 + sum of a w), exact to first order at a bead.
    fn coefficients(
        &self,
        py: Python<'_>,
        name: &str,
        version: &str,
        source: &str,
        bead: &PyReferenceBead,
    ) -> Result<PyCoefficientSet> {
        let (label, bead) = (Label::new(name, version, source)?, self.bead(bead)?);
        py.detach(|| self.theory.coefficients(label, &bead)).map(PyCoefficientSet)
    }
    /// Lachance and Traill's coefficient from a pair with this content of the influencing component.
    #[pyo3(signature = (line, component, *, at_percent, fused_flux_ratio))]
    fn binary(&self, line: &str, component: &str, at_percent: f64, fused_flux_ratio: f64) -> Result<f64> {
        self.theory.binary(line, component, Unit::Percent.fraction(at_percent), fused_flux_ratio)
    }
    /// The loss-free coefficient from a pair, for comparison with `coefficients`.
    #[pyo3(signature = (line, component, *, at_percent, fused_flux_ratio))]
    fn binary_loss_free(&self, line: &str, component: &str, at_percent: f64, fused_flux_ratio: f64) -> Result<f64> {
        self.theory.binary_loss_free(line, component, Unit::Percent.fraction(at_percent), fused_flux_ratio)
    }
    /// Measured over computed intensity by line, the mean over beads of known contents; one gravimetric bead is enough. What is
    /// measured, divided by it, is what `invert` takes.
    fn scales(&self, measured: Vec<(PyRef<'_, PyReferenceBead>, Entries<String, f64>)>) -> Result<BTreeMap<&str, f64>> {
        let bead = |(bead, intensities): &(PyRef<'_, PyReferenceBead>, Entries<String, f64>)| {
            Ok((self.bead(bead)?, self.by_line(intensities)?))
        };
        let beads = measured.iter().map(bead).collect::<Result<Vec<_>>>()?;
        Ok(self.theory.setting().lines().into_iter().zip(self.theory.scales(&beads)?).collect())
    }
    /// Contents from intensities in the units of `intensities`, without coefficients: from the bead `start`, at most so many steps.
    #[pyo3(signature = (start, intensities, *, most=4))]
    fn invert(&self, start: &PyReferenceBead, intensities: Entries<String, f64>, most: i64) -> Result<PyInversion> {
        let most = super::convert::count("Steps of an inversion", most)?;
        let measured = self.by_line(&intensities)?;
        let found = self.theory.invert(&self.bead(start)?, &measured, most)?;
        Ok(PyInversion { found, components: self.components.clone() })
    }
    /// Instrument and tables, in words.
    #[getter]
    fn provenance(&self) -> String {
        self.theory.setting().provenance()
    }
    fn __repr__(&self) -> String {
        format!("<Theory {}: {}>", self.theory.setting().instrument(), self.theory.setting().lines().join(", "))
    }
}

/// Contents found from intensities by first principles. Made by `Theory.invert`.
#[pyclass(name = "Inversion", module = "beadchem", frozen)]
pub(super) struct PyInversion {
    found: Inversion,
    components: Vec<String>,
}

#[pymethods]
impl PyInversion {
    /// Contents, % of the sample as weighed; components without a line as they were given.
    #[getter]
    fn contents_percent(&self) -> BTreeMap<&str, f64> {
        let contents = self.found.contents.iter().map(|&content| Unit::Percent.written(content));
        self.components.iter().map(String::as_str).zip(contents).collect()
    }
    /// How often coefficients were computed and the system solved.
    #[getter]
    fn steps(&self) -> usize {
        self.found.steps
    }
    /// The largest relative change that one more step would make.
    #[getter]
    fn last_change(&self) -> f64 {
        self.found.last_change
    }
    fn __repr__(&self) -> String {
        let contents = self.contents_percent();
        let contents: Vec<String> = contents.into_iter().map(|(name, value)| format!("{name} {value:.4} %")).collect();
        format!("<Inversion in {} steps: {}>", self.found.steps, contents.join(", "))
    }
}

/// A line with one choice of flux, beside the first choice. Made by `trade_off`.
#[pyclass(name = "TradeOff", module = "beadchem", frozen)]
pub(super) struct PyTradeOff(TradeOff);

#[pymethods]
impl PyTradeOff {
    /// The line.
    #[getter]
    fn line(&self) -> &str {
        &self.0.line
    }
    /// The name of the choice.
    #[getter]
    fn choice(&self) -> &str {
        &self.0.choice
    }
    /// Relative standard deviation over the beads of the uncorrected intensity for each gram of the line's element, %.
    #[getter]
    fn spread_percent(&self) -> f64 {
        Unit::Percent.written(self.0.spread)
    }
    /// The largest of these intensities over the smallest.
    #[getter]
    fn largest_over_smallest(&self) -> f64 {
        self.0.largest_over_smallest
    }
    /// Their mean over that of the first choice.
    #[getter]
    fn intensity(&self) -> f64 {
        self.0.intensity
    }
    /// Scattered background over that of the first choice: a model of single scattering.
    #[getter]
    fn background(&self) -> f64 {
        self.0.background
    }
    /// Detection limit over that of the first choice, as far as counting the background decides it.
    #[getter]
    fn detection_limit(&self) -> f64 {
        self.0.detection_limit
    }
    fn __repr__(&self) -> String {
        format!(
            "<TradeOff {} with {}: spread {:.2} %, intensity {:.3}, detection limit {:.2}>",
            self.0.line,
            self.0.choice,
            Unit::Percent.written(self.0.spread),
            self.0.intensity,
            self.0.detection_limit
        )
    }
}

/// What each choice of flux does to each line over some beads: how much of the matrix is left without a correction, and what
/// intensity and detection limit become beside the first choice.
///
/// Parameters
/// ----------
/// choices : list of (str, Theory, float)
///     A name, a theory whose blend is the flux (a heavy absorber is part of it), g of fused flux per g of sample.
/// beads_percent : list of dict of str to float
///     Contents of each bead, % of the sample as weighed; components left out are 0.
#[pyfunction]
pub(super) fn trade_off(
    py: Python<'_>,
    choices: Vec<(String, Py<PyTheory>, f64)>,
    beads_percent: Vec<Entries<String, f64>>,
) -> Result<Vec<PyTradeOff>> {
    let components = choices.first().map_or(&[][..], |(_, theory, _)| &theory.get().components);
    let components: Vec<&str> = components.iter().map(String::as_str).collect();
    // without a choice no component has a name yet, and that is what is to be said
    let named = beads_percent.iter().filter(|_| !choices.is_empty());
    let beads = named.map(|bead| in_order(&bead.0, &components)).collect::<Result<Vec<_>>>()?;
    let choices: Vec<FluxChoice<'_>> =
        choices.iter().map(|(name, theory, ratio)| FluxChoice::new(name, &theory.get().theory, *ratio)).collect();
    let found = py.detach(|| crate::matrix::trade_off(&choices, &beads))?;
    Ok(found.into_iter().map(PyTradeOff).collect())
}
