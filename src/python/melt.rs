//! The fused charge, its ratios, its books and the check of its mass.

use pyo3::prelude::*;

use crate::charge::{
    Adjusted, BeadMassCheck, BeadReading, Change, Completeness, Dilution, Evaluation, FluxLot, FluxRatio,
    FusedFluxRatio, Ledger, Melt,
};
use crate::code::Code;
use crate::composition::Unit;
use crate::error::{Error, Result};
use crate::python::closure::PyClosure;
use crate::python::composition::PyComposition;
use crate::python::convert::{PyFinding, findings};
use crate::python::flux::{PyFluxLot, PyLotChange};
use crate::python::result::PySampleResult;
use crate::python::rules::PyRules;
use crate::python::uncertainty::{Number, PyBudget};

macro_rules! ratio {
    ($(#[$doc:meta])* $py:ident, $inner:ident, $name:literal) => {
        $(#[$doc])*
        #[pyclass(name = $name, module = "beadchem", frozen, eq)]
        #[derive(Clone, PartialEq)]
        pub(super) struct $py(pub(super) $inner);

        #[pymethods]
        impl $py {
            /// The value, g/g.
            #[getter]
            fn value(&self) -> f64 {
                self.0.value()
            }
            /// Its standard uncertainty, g/g.
            #[getter]
            fn u(&self) -> f64 {
                self.0.u()
            }
            /// True where an input has no stated uncertainty, so that u is a lower bound.
            #[getter]
            fn u_is_at_least(&self) -> bool {
                self.0.u_is_at_least()
            }
            fn __repr__(&self) -> String {
                let (value, u) = crate::table::format_value(self.0.value(), self.0.u());
                if self.0.u_is_at_least() {
                    format!("<{} {:.4}, u not stated for all inputs>", $name, self.0.value())
                } else {
                    format!("<{} {value} u {u}>", $name)
                }
            }
        }
    };
}

ratio!(
    /// R: flux as weighed per gram of sample as weighed.
    PyFluxRatio, FluxRatio, "FluxRatio"
);
ratio!(
    /// F: flux after its fusion loss per gram of sample as weighed.
    PyFusedFluxRatio, FusedFluxRatio, "FusedFluxRatio"
);
ratio!(
    /// D: glass per gram of sample as weighed.
    PyDilution, Dilution, "Dilution"
);

/// Content of the sample from one of the glass, both in the same unit, without blanks: content times dilution.
///
/// A flux ratio, or a bare number that might be one, is refused.
#[pyfunction]
pub(super) fn undilute(in_glass: f64, dilution: &Bound<'_, PyAny>) -> Result<f64> {
    crate::error::finite("Content of the glass", in_glass)?;
    if let Ok(dilution) = dilution.cast::<PyDilution>() {
        return Ok(dilution.get().0.undilute(in_glass));
    }
    let given = if dilution.is_instance_of::<PyFluxRatio>() {
        "a flux ratio"
    } else if dilution.is_instance_of::<PyFusedFluxRatio>() {
        "a fused flux ratio"
    } else {
        "something else"
    };
    Err(Error::Conflict {
        code: Code::RatioKind,
        detail: format!("This needs a dilution factor (glass per sample). You gave {given};"),
        hint: "use melt.dilution.".to_owned(),
    })
}

/// A fused charge; made by `Charge.fuse`.
#[pyclass(name = "Melt", module = "beadchem", frozen)]
#[derive(Clone)]
pub(super) struct PyMelt(pub(super) Melt);

#[pymethods]
impl PyMelt {
    /// Predicted mass of the glass, g.
    #[getter]
    fn bead_mass_g(&self) -> f64 {
        self.0.bead_mass_g()
    }
    /// R.
    #[getter]
    fn flux_ratio(&self) -> PyFluxRatio {
        PyFluxRatio(self.0.flux_ratio())
    }
    /// F.
    #[getter]
    fn fused_flux_ratio(&self) -> PyFusedFluxRatio {
        PyFusedFluxRatio(self.0.fused_flux_ratio())
    }
    /// D.
    #[getter]
    fn dilution(&self) -> PyDilution {
        PyDilution(self.0.dilution())
    }
    /// Signed loss in the fusion, % of the sample as weighed.
    #[getter]
    fn loss_on_fusion_percent(&self) -> f64 {
        Unit::Percent.written(self.0.loss_on_fusion())
    }
    /// Predicted composition of the glass, as far as its parts are known.
    #[getter]
    fn glass(&self) -> Result<PyComposition> {
        self.0.glass().map(PyComposition)
    }
    /// Where every element and all oxygen came from and went.
    fn ledger(&self) -> PyLedger {
        PyLedger(self.0.ledger())
    }
    /// Where the uncertainty of "bead mass" (g), "dilution" or another output (g/g) comes from.
    fn budget(&self, output: &str) -> Result<PyBudget> {
        let budget = self.0.budget(output)?;
        let unit = if output == "bead mass" { "g" } else { "g/g" };
        let table = budget.table(&format!("Budget of {output}"), unit, 1.0);
        Ok(PyBudget { budget, table })
    }
    /// The sample from readings of the glass, known independently of the weighings: evaluation (b).
    fn undilute(&self, readings: &Bound<'_, PyComposition>) -> Result<PySampleResult> {
        self.0.undilute(&readings.get().0).map(PySampleResult)
    }
    /// A weighed bead, g, held against the prediction by k times the uncertainty of the difference; `other_lots` are flux
    /// lots that may have been used instead, `total` the closure of the bead's results, which may tell the readings apart.
    #[pyo3(signature = (weighed_g, *, k, cast_in_crucible=false, residue_g=None, other_lots=Vec::new(), total=None))]
    fn check_bead_mass(
        &self,
        weighed_g: Number,
        k: f64,
        cast_in_crucible: bool,
        residue_g: Option<Number>,
        other_lots: Vec<PyRef<'_, PyFluxLot>>,
        total: Option<&PyClosure>,
    ) -> Result<PyBeadMassCheck> {
        let completeness = completeness(cast_in_crucible, residue_g);
        let check = self.0.check_bead_mass_of(weighed_g.estimate(), &completeness, k)?;
        let lots: Vec<FluxLot> = other_lots.iter().map(|lot| lot.0.clone()).collect();
        let check = check.against_lots(&self.0, &lots)?;
        Ok(PyBeadMassCheck(match total {
            Some(total) => check.against_total(&total.0),
            None => check,
        }))
    }
    /// Lets a complete and consistent bead adjust flux loss, loss on fusion and retained shares.
    #[pyo3(signature = (weighed_g, *, k, cast_in_crucible=false, residue_g=None))]
    fn adjust(
        &self,
        weighed_g: Number,
        k: f64,
        cast_in_crucible: bool,
        residue_g: Option<Number>,
    ) -> Result<PyAdjusted> {
        self.0.adjust(weighed_g.estimate(), &completeness(cast_in_crucible, residue_g), k).map(PyAdjusted)
    }
    /// Oxides of the predicted glass above the laboratory's limits, with the sample mass that would keep them.
    fn check_solubility(&self, rules: &PyRules) -> Result<Vec<PyFinding>> {
        Ok(findings(&self.0.check_solubility(&rules.0)?))
    }
    /// Notes, warnings and cautions.
    #[getter]
    fn findings(&self) -> Vec<PyFinding> {
        findings(self.0.findings())
    }
    /// The factor for results computed with this melt's flux lot where the flux was of another lot. `evaluation`:
    /// "intensities", "glass fractions" or "whole melt".
    #[pyo3(signature = (new_lot, *, evaluation))]
    fn lot_change(&self, new_lot: &PyFluxLot, evaluation: &str) -> Result<PyLotChange> {
        self.0.lot_change(&new_lot.0, Evaluation::from_word(evaluation)?).map(PyLotChange)
    }
    /// The version of the atomic weights.
    #[getter]
    fn weights_version(&self) -> &str {
        self.0.weights().version_name()
    }
    fn __repr__(&self) -> String {
        self.0.table().to_string()
    }
    fn _repr_html_(&self) -> String {
        self.0.table().to_html()
    }
}

/// What is known of melt that did not get into the bead.
fn completeness(cast_in_crucible: bool, residue_g: Option<Number>) -> Completeness {
    match (residue_g, cast_in_crucible) {
        (Some(residue), _) => Completeness::ResidueWeighed { residue_g: residue.estimate() },
        (None, true) => Completeness::CastInCrucible,
        (None, false) => Completeness::NotKnown,
    }
}

/// One way to read a difference of a bead's mass, with what it does to the results.
#[pyclass(name = "BeadReading", module = "beadchem", frozen, get_all)]
pub(super) struct PyBeadReading {
    /// What may have happened.
    reading: &'static str,
    /// False where this bead cannot be read that way.
    possible: bool,
    /// The input that would be wrong and the value that explains the bead, or None.
    input: Option<(String, f64)>,
    /// Standard uncertainty of that value.
    u: f64,
    /// How much higher the results would really be by evaluation (b), as a fraction of each.
    by_glass: f64,
    /// The same by evaluation (a).
    by_intensities: f64,
    /// All of it in words.
    text: String,
}

impl From<&BeadReading> for PyBeadReading {
    fn from(held: &BeadReading) -> Self {
        let BeadReading { reading, possible, u, by_glass, by_intensities, .. } = *held;
        Self { reading, possible, input: held.input.clone(), u, by_glass, by_intensities, text: held.effect() }
    }
}

#[pymethods]
impl PyBeadReading {
    fn __repr__(&self) -> String {
        format!("<{}>", self.text)
    }
}

/// One input before and after a weighed bead was taken into account.
#[pyclass(name = "Change", module = "beadchem", frozen)]
pub(super) struct PyChange(Change);

#[pymethods]
impl PyChange {
    /// The input.
    #[getter]
    fn input(&self) -> &str {
        &self.0.input
    }
    /// Value and standard uncertainty before.
    #[getter]
    fn before(&self) -> (f64, f64) {
        (self.0.before, self.0.u_before)
    }
    /// Value and standard uncertainty after.
    #[getter]
    fn after(&self) -> (f64, f64) {
        (self.0.after, self.0.u_after)
    }
    fn __repr__(&self) -> String {
        format!("<Change of {}: {} to {}>", self.0.input, self.0.before, self.0.after)
    }
}

/// A melt whose inputs were moved towards a weighed bead; made by `Melt.adjust`.
#[pyclass(name = "Adjusted", module = "beadchem", frozen)]
pub(super) struct PyAdjusted(Adjusted);

#[pymethods]
impl PyAdjusted {
    /// The melt with its inputs moved.
    #[getter]
    fn melt(&self) -> PyMelt {
        PyMelt(self.0.melt.clone())
    }
    /// What was moved.
    #[getter]
    fn changes(&self) -> Vec<PyChange> {
        self.0.changes.iter().cloned().map(PyChange).collect()
    }
    fn __repr__(&self) -> String {
        format!("<Adjusted: {} inputs>", self.0.changes.len())
    }
}

/// The books of a fusion.
#[pyclass(name = "Ledger", module = "beadchem", frozen)]
pub(super) struct PyLedger(Ledger);

#[pymethods]
impl PyLedger {
    /// False where only a loss on fusion was stated.
    #[getter]
    fn itemised(&self) -> bool {
        self.0.itemised
    }
    /// Everything in less everything out, g; zero but for rounding.
    #[getter]
    fn imbalance_g(&self) -> f64 {
        self.0.imbalance_g()
    }
    /// Oxygen in g: demand, from the oxidant, from the air (negative where it is given off).
    #[getter]
    fn oxygen_g(&self) -> (f64, f64, f64) {
        let oxygen = &self.0.oxygen;
        (oxygen.demand_g, oxygen.from_oxidant_g, oxygen.from_air_g)
    }
    /// The gases and their masses, g; negative for water taken up from the air.
    #[getter]
    fn gases_g(&self) -> std::collections::BTreeMap<String, f64> {
        self.0.gases.iter().map(|gas| (gas.gas.clone(), self.0.gas_g(&gas.gas))).collect()
    }
    /// Grams of an element: (sample, flux, additions, air, stayed, left, flux loss); None where it does not occur.
    fn element_g(&self, symbol: &str) -> Option<(f64, f64, f64, f64, f64, f64, f64)> {
        self.0.element(symbol).map(|line| {
            let brought = (line.from_sample_g, line.from_flux_g, line.from_additions_g, line.from_air_g);
            (brought.0, brought.1, brought.2, brought.3, line.stayed_g, line.left_g, line.flux_loss_g)
        })
    }
    fn __repr__(&self) -> String {
        self.0.table().to_string()
    }
    fn _repr_html_(&self) -> String {
        self.0.table().to_html()
    }
    /// The books as CSV.
    fn to_csv(&self) -> String {
        self.0.table().to_csv()
    }
}

/// Predicted and weighed mass of a bead side by side.
#[pyclass(name = "BeadMassCheck", module = "beadchem", frozen)]
pub(super) struct PyBeadMassCheck(BeadMassCheck);

#[pymethods]
impl PyBeadMassCheck {
    /// Predicted mass, g.
    #[getter]
    fn predicted_g(&self) -> f64 {
        self.0.predicted_g
    }
    /// Weighed mass, g.
    #[getter]
    fn weighed_g(&self) -> f64 {
        self.0.weighed_g
    }
    /// Weighed less predicted, g.
    #[getter]
    fn difference_g(&self) -> f64 {
        self.0.difference_g
    }
    /// Standard uncertainty of the difference, g.
    #[getter]
    fn u_g(&self) -> f64 {
        self.0.u_g
    }
    /// Melt left behind, powder lost, flux loss, a retained species missing: each with its effect.
    #[getter]
    fn readings(&self) -> Vec<PyBeadReading> {
        self.0.readings.iter().map(PyBeadReading::from).collect()
    }
    /// A warning where the difference is more than k u.
    #[getter]
    fn findings(&self) -> Vec<PyFinding> {
        findings(&self.0.findings)
    }
    fn __repr__(&self) -> String {
        self.0.table().to_string()
    }
    fn _repr_html_(&self) -> String {
        self.0.table().to_html()
    }
}
