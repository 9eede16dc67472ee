//! Influence coefficients.

use std::collections::BTreeMap;

use pyo3::prelude::*;
use pyo3::types::PyDict;

use crate::composition::Unit;
use crate::document;
use crate::error::{Error, Result};
use crate::matrix::{CoefficientSet, Conditions, Derivation, Influence, InfluenceLine, Label};
use crate::python::convert::{Entries, PyFinding, findings};
use crate::python::substance::{PyWeights, weights_or_default};
use crate::substance::Formula;

/// Influence coefficients a of the form w = k I (F/F0 + sum of a w), with the conditions they were made under.
///
/// Parameters
/// ----------
/// name, version, source : str
/// derivation : str
///     "centroid", "binary", "monochromatic", "fitted" or "stated".
/// fused_flux_ratio : float
///     F0, g of fused flux per g of sample as weighed, that the coefficients refer to.
/// components : list of str
///     Everything that stays in the glass and influences, measured or not.
/// lines : dict of str to (str, list of float)
///     Each line ("Ca Ka") with its analyte and one coefficient for each component, in their order.
/// u : dict of str to list of float, optional
///     Standard uncertainties of the coefficients of a line.
/// sensitivities : dict of str to float, optional
///     The theoretical sensitivity of a line, in the units of the source.
/// binary_percent : float, optional
///     The content of the influencing component at which binary coefficients were made.
/// fused_flux_range : (float, float), optional
///     The lowest and the highest F for which the coefficients hold; without it F0 alone.
/// blend : dict of str to float, optional
///     The flux in parts by mass.
/// setup : str
///     The instrument in words.
/// centroid_percent : dict of str to float, optional
///     Contents at which the coefficients were made, % of the sample as weighed.
/// ranges_percent : dict of str to (float, float), optional
///     Contents for which they hold, % of the sample as weighed.
#[pyclass(name = "CoefficientSet", module = "beadchem", frozen, eq)]
#[derive(Clone, PartialEq)]
pub(super) struct PyCoefficientSet(pub(super) CoefficientSet);

impl PyCoefficientSet {
    fn by_component<'a>(&'a self, numbers: &'a [f64]) -> BTreeMap<&'a str, f64> {
        self.0.components().iter().map(Formula::text).zip(numbers.iter().copied()).collect()
    }
    fn line(&self, line: &str) -> Result<(usize, &InfluenceLine)> {
        let index = self.0.line_index(line)?;
        Ok((index, &self.0.lines()[index]))
    }
}

#[pymethods]
impl PyCoefficientSet {
    #[new]
    #[pyo3(signature = (name, version, source, *, derivation, fused_flux_ratio, components, lines, u=None, sensitivities=None, binary_percent=None, fused_flux_range=None, blend=None, setup="", centroid_percent=None, ranges_percent=None))]
    #[expect(clippy::too_many_arguments, reason = "keywords of the constructor")]
    fn new(
        name: &str,
        version: &str,
        source: &str,
        derivation: &str,
        fused_flux_ratio: f64,
        components: Vec<String>,
        lines: Entries<String, (String, Vec<f64>)>,
        u: Option<Entries<String, Vec<f64>>>,
        sensitivities: Option<Entries<String, f64>>,
        binary_percent: Option<f64>,
        fused_flux_range: Option<(f64, f64)>,
        blend: Option<Entries<String, f64>>,
        setup: &str,
        centroid_percent: Option<Entries<String, f64>>,
        ranges_percent: Option<Entries<String, (f64, f64)>>,
    ) -> Result<Self> {
        let fraction = |written: f64| Unit::Percent.fraction(written);
        let derivation = Derivation::from_word(derivation, binary_percent.map(fraction))?;
        let blend = blend.unwrap_or_default().0;
        let parts: Vec<(&str, f64)> = blend.iter().map(|(species, part)| (species.as_str(), *part)).collect();
        let mut conditions = Conditions::new(fused_flux_ratio)?.with_blend(&parts)?.with_setup(setup);
        if let Some((low, high)) = fused_flux_range {
            conditions = conditions.with_range(low, high)?;
        }
        for (component, content) in centroid_percent.unwrap_or_default().0 {
            conditions = conditions.with_centroid(&component, fraction(content))?;
        }
        for (component, (low, high)) in ranges_percent.unwrap_or_default().0 {
            conditions = conditions.with_content_range(&component, fraction(low), fraction(high))?;
        }
        let names: Vec<&str> = lines.0.iter().map(|(line, _)| line.as_str()).collect();
        let place = |line: &str| {
            let found = names.iter().position(|known| *known == line);
            found.ok_or_else(|| Error::word("Line of the coefficients", line, &names))
        };
        let row = |(line, (analyte, numbers)): &(String, (String, Vec<f64>))| {
            Influence::new(line, analyte, numbers.as_slice())
        };
        let mut rows: Vec<Influence> = lines.0.iter().map(row).collect();
        for (line, u) in u.unwrap_or_default().0 {
            let place = place(&line)?;
            rows[place] = rows[place].clone().with_u(u);
        }
        for (line, sensitivity) in sensitivities.unwrap_or_default().0 {
            let place = place(&line)?;
            rows[place] = rows[place].clone().with_sensitivity(sensitivity);
        }
        let components = components.iter().map(String::as_str);
        CoefficientSet::new(Label::new(name, version, source)?, derivation, conditions, components, rows).map(Self)
    }
    /// The name of the set.
    #[getter]
    fn name(&self) -> &str {
        self.0.label().name()
    }
    /// Its version.
    #[getter]
    fn version(&self) -> &str {
        self.0.label().version()
    }
    /// Where the numbers come from.
    #[getter]
    fn source(&self) -> &str {
        self.0.label().source()
    }
    /// How the coefficients came about.
    #[getter]
    fn derivation(&self) -> String {
        self.0.derivation().to_string()
    }
    /// The reference ratio F0, g of fused flux per g of sample as weighed.
    #[getter]
    fn fused_flux_ratio(&self) -> f64 {
        self.0.fused_flux_ratio()
    }
    /// The lowest and the highest fused flux ratio for which the coefficients were made.
    #[getter]
    fn range(&self) -> (f64, f64) {
        self.0.conditions().range()
    }
    /// The flux as shares by mass; empty where none was stated.
    #[getter]
    fn blend(&self) -> BTreeMap<&str, f64> {
        self.0.conditions().blend().iter().map(|(species, share)| (species.text(), *share)).collect()
    }
    /// The contents at which the coefficients were made, % of the sample as weighed.
    #[getter]
    fn centroid_percent(&self) -> BTreeMap<&str, f64> {
        let centroid = self.0.conditions().centroid();
        centroid.iter().map(|(component, content)| (component.text(), Unit::Percent.written(*content))).collect()
    }
    /// The contents for which they hold, % of the sample as weighed.
    #[getter]
    fn ranges_percent(&self) -> BTreeMap<&str, (f64, f64)> {
        let written = |(low, high): (f64, f64)| (Unit::Percent.written(low), Unit::Percent.written(high));
        let components = self.0.components().iter().map(Formula::text);
        let range = |component| Some((component, written(self.0.conditions().content_range(component)?)));
        components.filter_map(range).collect()
    }
    /// The instrument in words.
    #[getter]
    fn setup(&self) -> &str {
        self.0.conditions().setup()
    }
    /// Everything that influences, measured or not.
    #[getter]
    fn components(&self) -> Vec<&str> {
        self.0.components().iter().map(Formula::text).collect()
    }
    /// Each line with its analyte.
    #[getter]
    fn lines(&self) -> BTreeMap<&str, &str> {
        let components = self.0.components();
        self.0.lines().iter().map(|line| (line.line.as_str(), components[line.analyte].text())).collect()
    }
    /// The coefficients of a line by component.
    fn row(&self, line: &str) -> Result<BTreeMap<&str, f64>> {
        Ok(self.by_component(self.0.row(self.line(line)?.0)))
    }
    /// The standard uncertainties of the coefficients of a line by component, or None.
    fn u(&self, line: &str) -> Result<Option<BTreeMap<&str, f64>>> {
        Ok(self.0.u_row(self.line(line)?.0).map(|u| self.by_component(u)))
    }
    /// The sensitivity k of a line in the units of the source, or None.
    fn sensitivity(&self, line: &str) -> Result<Option<f64>> {
        Ok(self.line(line)?.1.sensitivity)
    }
    /// The same equation with another reference ratio.
    fn referred_to(&self, fused_flux_ratio: f64) -> Result<Self> {
        self.0.referred_to(fused_flux_ratio).map(Self)
    }
    /// The same equation with a component written as another formula of its element, such as Fe2O3 as Fe.
    #[pyo3(signature = (component, written_as, *, weights=None))]
    fn with_component_as(
        &self,
        component: &str,
        written_as: &str,
        weights: Option<&Bound<'_, PyWeights>>,
    ) -> Result<Self> {
        self.0.with_component_as(component, written_as, &weights_or_default(weights)).map(Self)
    }
    /// Refuses a bead of another fused flux ratio; a flux of another blend (parts by mass) is a finding.
    #[pyo3(signature = (fused_flux_ratio, *, bead, blend=None))]
    fn check_conditions(
        &self,
        fused_flux_ratio: f64,
        bead: &str,
        blend: Option<&Bound<'_, PyDict>>,
    ) -> PyResult<Vec<PyFinding>> {
        let mut parts = Vec::new();
        for (species, part) in blend.into_iter().flatten() {
            parts.push((Formula::parse(&species.extract::<String>()?)?, part.extract()?));
        }
        Ok(findings(&self.0.check_conditions(fused_flux_ratio, &parts, bead)?))
    }
    /// One finding for each content, % of the sample as weighed, that lies outside the range of its component.
    fn check_range(&self, contents_percent: BTreeMap<String, f64>) -> Result<Vec<PyFinding>> {
        let contents: Vec<(&str, f64)> = contents_percent
            .iter()
            .map(|(component, percent)| (component.as_str(), Unit::Percent.fraction(*percent)))
            .collect();
        Ok(findings(&self.0.check_range(&contents)?))
    }
    /// The stored form.
    fn to_json(&self) -> Result<String> {
        document::to_json(&self.0)
    }
    /// Reads the stored form.
    #[staticmethod]
    fn from_json(text: &str) -> Result<Self> {
        document::from_json(text).map(Self)
    }
    /// SHA-256 of the canonical stored form.
    #[getter]
    fn digest(&self) -> Result<String> {
        document::digest(&self.0)
    }
    /// The rows as CSV.
    fn to_csv(&self) -> String {
        self.0.table().to_csv()
    }
    fn __repr__(&self) -> String {
        self.0.table().to_string()
    }
    fn _repr_html_(&self) -> String {
        self.0.table().to_html()
    }
}

/// One coefficient set, or those of several classes.
pub(super) struct Sets(Vec<Py<PyCoefficientSet>>);

impl<'py> FromPyObject<'_, 'py> for Sets {
    type Error = PyErr;
    fn extract(object: Borrowed<'_, 'py, PyAny>) -> PyResult<Self> {
        match object.cast::<PyCoefficientSet>() {
            Ok(one) => Ok(Self(vec![one.to_owned().unbind()])),
            Err(_) => object.extract().map(Self),
        }
    }
}

impl Sets {
    /// That of the calibration, and those of other classes.
    pub(super) fn split(self) -> Result<(CoefficientSet, Vec<CoefficientSet>)> {
        let mut sets = self.0.iter().map(|set| set.get().0.clone());
        match sets.next() {
            Some(first) => Ok((first, sets.collect())),
            None => Err(Error::shape("Coefficient sets", 1, 0, "Give that of the calibration first.")),
        }
    }
}
