//! What a calibration leaves behind.

use std::collections::BTreeMap;

use pyo3::prelude::*;

use crate::composition::{Basis, Unit};
use crate::document;
use crate::error::Result;
use crate::matrix::{Calibration, Label};
use crate::python::convert::Entries;
use crate::python::uncertainty::{Number, PyValue};

/// Sensitivities, given or fitted, with what they share and the range they were found over.
///
/// Parameters
/// ----------
/// name, version, source : str
/// basis : str
///     The basis the standards were weighed on.
/// sensitivities : dict of str to Value or float
///     k of each line ("Fe Ka"), g per g of sample and cps, at the reference flux ratio of the coefficients.
/// offsets : dict of str to Value or float, optional
///     What is left of the net intensity of a line where no analyte is, cps.
/// coefficients : dict of (str, str) to Value or float, optional
///     By line and component, in place of those of the coefficient set.
/// correlations : list of (str, str, float)
///     Between two quantities by their names in a budget: "sensitivity of Fe Ka", "offset of Fe Ka",
///     "coefficient of CaO on Fe Ka".
/// ranges_percent : dict of str to (float, float), optional
///     What the standards covered of an analyte, % of the glass.
#[pyclass(name = "Calibration", module = "beadchem", frozen, eq)]
#[derive(Clone, PartialEq)]
pub(super) struct PyCalibration(pub(super) Calibration);

#[pymethods]
impl PyCalibration {
    #[new]
    #[pyo3(signature = (name, version, source, *, basis, sensitivities, offsets=None, coefficients=None, correlations=Vec::new(), ranges_percent=None))]
    #[expect(clippy::too_many_arguments, reason = "keywords of the constructor")]
    fn new(
        name: &str,
        version: &str,
        source: &str,
        basis: &str,
        sensitivities: Entries<String, Number>,
        offsets: Option<Entries<String, Number>>,
        coefficients: Option<Entries<(String, String), Number>>,
        correlations: Vec<(String, String, f64)>,
        ranges_percent: Option<Entries<String, (f64, f64)>>,
    ) -> Result<Self> {
        let fraction = |written: f64| Unit::Percent.fraction(written);
        let mut calibration = Calibration::new(Label::new(name, version, source)?, Basis::parse(basis)?);
        for (line, value) in sensitivities.0 {
            calibration = calibration.sensitivity(&line, value.estimate())?;
        }
        for (line, value) in offsets.unwrap_or_default().0 {
            calibration = calibration.offset(&line, value.estimate())?;
        }
        for ((line, component), value) in coefficients.unwrap_or_default().0 {
            calibration = calibration.coefficient(&line, &component, value.estimate())?;
        }
        for (first, second, coefficient) in correlations {
            calibration = calibration.correlation(&first, &second, coefficient)?;
        }
        for (analyte, (low, high)) in ranges_percent.unwrap_or_default().0 {
            calibration = calibration.range(&analyte, fraction(low), fraction(high))?;
        }
        Ok(Self(calibration))
    }
    /// The name.
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
    /// The basis the standards were weighed on.
    #[getter]
    fn basis(&self) -> String {
        self.0.basis().to_string()
    }
    /// k by line, g per g of sample and cps.
    #[getter]
    fn sensitivities(&self) -> BTreeMap<&str, PyValue> {
        self.0.sensitivities().iter().map(|held| (held.line.as_str(), PyValue(held.value.clone()))).collect()
    }
    /// What is left of the net intensity where no analyte is, by line, cps.
    #[getter]
    fn offsets(&self) -> BTreeMap<&str, PyValue> {
        let held = self.0.sensitivities().iter();
        held.filter_map(|held| Some((held.line.as_str(), PyValue(held.offset.clone()?)))).collect()
    }
    /// Coefficients fitted with them, by line and component.
    #[getter]
    fn coefficients(&self) -> BTreeMap<(&str, &str), PyValue> {
        let held = self.0.coefficients().iter();
        held.map(|held| ((held.line.as_str(), held.component.text()), PyValue(held.value.clone()))).collect()
    }
    /// Correlations between two quantities, by name.
    #[getter]
    fn correlations(&self) -> Vec<(String, String, f64)> {
        self.0.correlations().to_vec()
    }
    /// What the standards covered, % of the glass.
    #[getter]
    fn ranges_percent(&self) -> BTreeMap<&str, (f64, f64)> {
        let written = |fraction: f64| Unit::Percent.written(fraction);
        let ranges = self.0.ranges().iter();
        ranges.map(|held| (held.analyte.text(), (written(held.low), written(held.high)))).collect()
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
