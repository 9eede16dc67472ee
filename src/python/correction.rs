//! Corrections of tables: what is asked, and the two ways in.

use std::collections::{BTreeMap, HashSet};

use pyo3::prelude::*;
use pyo3::types::PyDict;

use crate::batch::{
    Correction, Field, FusionLoss, Quantity, Recorrection, RunOptions, SpecificationLimit, Spread, TableJob,
    Uncertainty,
};
use crate::code::Code;
use crate::composition::{Basis, Unit};
use crate::document;
use crate::error::{Error, Result};
use crate::method::Method;
use crate::python::charge::PyCharge;
use crate::python::columns::{PyCorrectedArrays, PyCorrectedTable, correct_arrays, correct_stream, options};
use crate::python::convert::Entries;
use crate::python::flux::PyFluxLot;
use crate::python::intensities::{PyDeadTime, PyDrift};
use crate::python::method::PyMethod;
use crate::python::result::FormChoice;
use crate::python::rules::PyRules;
use crate::python::uncertainty::Number;

/// A declared column of a table.
///
/// Parameters
/// ----------
/// quantity : str
///     "bead", "flux lot", "class", "weighed", "method version", "time", "sample mass", "flux mass", "bead mass",
///     "flux loss", "loss on fusion", "loss on ignition", "moisture", "air moisture", "addition", "intensity", "peak",
///     "background 1", "background 2", "glass", "known" or "external". A content "known" of a component is per sample as
///     weighed; one from "external" measurement enters the total only, per dried sample. A "flux loss" stands in place of that
///     of the lot and is counted like it.
/// of : str, optional
///     The line of an intensity or a counted rate, the species of a content, the number of an addition from 1.
/// name : str, optional
///     The name of the column; the usual one where it is not said, whatever the unit.
/// unit : str, optional
///     "g" or "mg" for masses, "%", "g/g", "g/kg" or "mg/kg" for contents and losses, "counts/s" or "counts" for counted
///     rates.
/// u : float or str, optional
///     Standard uncertainty in the unit of the column, the same for all rows, or the name of the column it stands in.
/// u_relative : float, optional
///     A part of the number.
/// counting_s : float or str, optional
///     Counting time of an intensity or a counted rate, or the name of the column it stands in, for `u = sqrt(I / t)`, and
///     never less than that of one count.
/// weight : float, optional
///     How often a background is taken off its peak: 1 for one beside it, the shares of two.
/// dead_time : DeadTime, optional
///     Of the detector that counted a peak and its backgrounds; that of the method where it is not said.
/// optional : bool
///     A table may lack the column.
#[pyclass(name = "Field", module = "beadchem", frozen, eq)]
#[derive(Clone, PartialEq)]
pub(super) struct PyField(Field);

#[derive(FromPyObject)]
enum Stated {
    Fixed(f64),
    Column(String),
}

#[pymethods]
impl PyField {
    #[new]
    #[pyo3(signature = (quantity, of=None, *, name=None, unit=None, u=None, u_relative=None, counting_s=None, weight=None, dead_time=None, optional=false))]
    #[expect(clippy::too_many_arguments, reason = "keywords of the constructor")]
    fn new(
        quantity: &str,
        of: Option<&str>,
        name: Option<String>,
        unit: Option<&str>,
        u: Option<Stated>,
        u_relative: Option<f64>,
        counting_s: Option<Stated>,
        weight: Option<f64>,
        dead_time: Option<&PyDeadTime>,
        optional: bool,
    ) -> Result<Self> {
        let mut field = Field::new(Quantity::from_word(quantity, of)?);
        if let Some(name) = name {
            field = field.named(name);
        }
        if let Some(unit) = unit {
            field = field.in_unit(unit)?;
        }
        let stated = match u {
            Some(Stated::Fixed(u)) => Some(Spread::Fixed(u)),
            Some(Stated::Column(column)) => Some(Spread::Column(column)),
            None => None,
        };
        let counting = match counting_s {
            Some(Stated::Fixed(seconds)) => Some(Spread::Counting(seconds)),
            Some(Stated::Column(column)) => Some(Spread::CountingColumn(column)),
            None => None,
        };
        let spread = stated.or(u_relative.map(Spread::Relative)).or(counting);
        field = field.spread(spread.unwrap_or_default())?;
        if let Some(weight) = weight {
            field = field.weight(weight)?;
        }
        if let Some(dead_time) = dead_time {
            field = field.dead_time(dead_time.0.clone())?;
        }
        Ok(Self(if optional { field.optional() } else { field }))
    }
    /// The name of the column.
    #[getter]
    fn name(&self) -> &str {
        self.0.name()
    }
    /// What it stands for, in words.
    #[getter]
    fn quantity(&self) -> String {
        self.0.quantity().to_string()
    }
    /// The word of its unit; empty for words.
    #[getter]
    fn unit(&self) -> &str {
        self.0.unit()
    }
    /// How often a background is taken off its peak, or None.
    #[getter]
    fn weight(&self) -> Option<f64> {
        self.0.stated_weight()
    }
    /// The dead time that stands with a peak, or None.
    #[getter]
    fn dead_time(&self) -> Option<PyDeadTime> {
        self.0.stated_dead_time().cloned().map(PyDeadTime)
    }
    /// Whether a table may lack it.
    #[getter]
    fn optional(&self) -> bool {
        self.0.is_optional()
    }
    fn __repr__(&self) -> String {
        format!("<Field {}: {} {}>", self.0.name(), self.0.quantity(), self.0.unit())
    }
}

/// How the loss on fusion is known.
#[derive(FromPyObject)]
enum Fusion {
    Word(String),
    Fixed(Number),
}

/// Name, unit and basis of a column of results.
type ResultField = (String, &'static str, Option<String>);

fn result_fields(job: &dyn TableJob, uncertainty: &str) -> Result<Vec<ResultField>> {
    let columns = job.results(Uncertainty::from_word(uncertainty)?)?;
    Ok(columns.iter().map(|column| (column.name.clone(), column.unit, column.basis.clone())).collect())
}

fn metadata(job: &dyn TableJob, uncertainty: &str) -> Result<BTreeMap<String, String>> {
    Ok(job.metadata(Uncertainty::from_word(uncertainty)?)?.into_iter().collect())
}

/// What is asked of a table whatever is read of its beads.
struct Settings<'py, 'a> {
    lots: Vec<PyRef<'py, PyFluxLot>>,
    on: Option<&'a str>,
    also_on: Vec<String>,
    form: Option<FormChoice>,
    loss_on_fusion_percent: Option<Fusion>,
    loss_temperature_c: Option<f64>,
    rules: Option<&'a PyRules>,
    counted_as: Vec<String>,
}

impl Settings<'_, '_> {
    fn of(self, correction: Correction) -> Result<Correction> {
        let mut correction = self.lots.iter().try_fold(correction, |correction, lot| correction.lot(lot.0.clone()))?;
        if let Some(on) = self.on {
            correction = correction.on(Basis::parse(on)?);
        }
        for basis in &self.also_on {
            correction = correction.also_on(Basis::parse(basis)?)?;
        }
        if let Some(form) = self.form {
            correction = correction.form(form.form()?);
        }
        if let Some(temperature_c) = self.loss_temperature_c {
            correction = correction.loss_temperature(temperature_c)?;
        }
        correction = match self.loss_on_fusion_percent {
            None => correction,
            Some(Fusion::Word(word)) => correction.fusion(FusionLoss::from_word(&word)?)?,
            Some(Fusion::Fixed(loss)) => {
                correction.fusion(FusionLoss::Fixed(Unit::Percent.fraction_of(&loss.estimate())))?
            }
        };
        if let Some(rules) = self.rules {
            correction = correction.rules(rules.0.clone());
        }
        self.counted_as.iter().try_fold(correction, |correction, species| correction.counted_as(species))
    }
}

fn with_fields(correction: Correction, fields: &[PyRef<'_, PyField>]) -> Result<PyCorrection> {
    for (place, field) in fields.iter().enumerate() {
        if let Some(other) = fields[..place].iter().find(|other| other.0.quantity() == field.0.quantity()) {
            return Err(Error::Conflict {
                code: Code::ColumnDoubled,
                detail: format!(
                    "The {} is declared twice, in the columns {} and {}.",
                    field.0.quantity(),
                    other.0.name(),
                    field.0.name()
                ),
                hint: "Leave one of them out.".to_owned(),
            });
        }
    }
    fields.iter().try_fold(correction, |correction, field| correction.field(field.0.clone())).map(PyCorrection)
}

/// What is asked of a table: everything that decides a number, in one document.
///
/// Parameters
/// ----------
/// method : Method
/// charge : Charge
///     A charge to go by: its basis, its additions and the uncertainties of its masses hold for every row, its flux lot
///     where a table names none.
/// lots : list of FluxLot
///     Further lots that rows may name.
/// on : str, optional
///     Basis of the results; that of the weighing where it is not said.
/// also_on : list of str
///     Further bases, in columns of their own beside the results on the basis of the weighing.
/// form : str or list of str
///     "as read", "elements", "oxides", or species.
/// loss_on_fusion_percent : Value or float or str, optional
///     The same for all rows, or "loss on ignition" where the laboratory takes it for that, from the powder as weighed to
///     the ignited one (moisture counts, and ignited powder loses nothing); a column of the table where it is not said.
/// loss_temperature_c : float, optional
///     Temperature of the loss on ignition.
/// rules : Rules, optional
/// counted_as : list of str
///     Conventions of the total, as "Mn3O4".
/// fields : list of Field
///     Declared columns in place of the usual ones.
/// counting_s : float, optional
///     Counting time of every line, for `u = sqrt(I / t)`.
/// drift : Drift, optional
///     The monitors of the run; each row then says in `measured_at` when it was measured.
#[pyclass(name = "Correction", module = "beadchem", frozen, eq)]
#[derive(Clone, PartialEq)]
pub(super) struct PyCorrection(pub(super) Correction);

#[pymethods]
impl PyCorrection {
    #[new]
    #[pyo3(signature = (method, charge, *, lots=Vec::new(), on=None, also_on=Vec::new(), form=None, loss_on_fusion_percent=None, loss_temperature_c=None, rules=None, counted_as=Vec::new(), fields=Vec::new(), counting_s=None, drift=None))]
    #[expect(clippy::too_many_arguments, reason = "keywords of the constructor")]
    fn new(
        method: &PyMethod,
        charge: &PyCharge,
        lots: Vec<PyRef<'_, PyFluxLot>>,
        on: Option<&str>,
        also_on: Vec<String>,
        form: Option<FormChoice>,
        loss_on_fusion_percent: Option<Fusion>,
        loss_temperature_c: Option<f64>,
        rules: Option<&PyRules>,
        counted_as: Vec<String>,
        fields: Vec<PyRef<'_, PyField>>,
        counting_s: Option<f64>,
        drift: Option<&PyDrift>,
    ) -> Result<Self> {
        let correction = Correction::new(method.0.clone(), charge.0.clone())?;
        let settings =
            Settings { lots, on, also_on, form, loss_on_fusion_percent, loss_temperature_c, rules, counted_as };
        let mut correction = settings.of(correction)?;
        if let Some(seconds) = counting_s {
            correction = correction.counting(seconds)?;
        }
        if let Some(drift) = drift {
            correction = correction.drift(drift.0.clone())?;
        }
        with_fields(correction, &fields)
    }
    /// By readings of the glass, evaluation (b): mass fractions in the glass which no flux ratio went into.
    ///
    /// Parameters
    /// ----------
    /// components : list of str
    ///     What the glass is read for, as "SiO2": the table has a column `SiO2_glass_percent` of each.
    /// charge : Charge
    ///     A charge to go by, as for a correction by a method; so are all the others. A row needs its loss on fusion.
    #[staticmethod]
    #[pyo3(signature = (components, charge, *, lots=Vec::new(), on=None, also_on=Vec::new(), form=None, loss_on_fusion_percent=None, loss_temperature_c=None, rules=None, counted_as=Vec::new(), fields=Vec::new()))]
    #[expect(clippy::too_many_arguments, reason = "keywords of the constructor")]
    fn of_glass(
        components: Vec<String>,
        charge: &PyCharge,
        lots: Vec<PyRef<'_, PyFluxLot>>,
        on: Option<&str>,
        also_on: Vec<String>,
        form: Option<FormChoice>,
        loss_on_fusion_percent: Option<Fusion>,
        loss_temperature_c: Option<f64>,
        rules: Option<&PyRules>,
        counted_as: Vec<String>,
        fields: Vec<PyRef<'_, PyField>>,
    ) -> Result<Self> {
        let correction = Correction::of_glass(components, charge.0.clone())?;
        let settings =
            Settings { lots, on, also_on, form, loss_on_fusion_percent, loss_temperature_c, rules, counted_as };
        with_fields(settings.of(correction)?, &fields)
    }
    /// The columns it reads where they are there.
    #[getter]
    fn fields(&self) -> Vec<&str> {
        self.0.wanted().iter().map(|(name, _)| name.as_str()).collect()
    }
    /// The column of bead ids, which no two rows may share.
    #[getter]
    fn identity(&self) -> Option<&str> {
        self.0.identity()
    }
    /// The declared columns.
    #[getter]
    fn declared(&self) -> Vec<PyField> {
        self.0.fields().iter().cloned().map(PyField).collect()
    }
    /// The columns of the results as (name, unit, basis or None).
    #[pyo3(signature = (uncertainty="none"))]
    fn result_fields(&self, uncertainty: &str) -> Result<Vec<ResultField>> {
        result_fields(&self.0, uncertainty)
    }
    /// What the schema metadata of a table of results hold, as key and text: JSON with provenance and the whole correction.
    #[pyo3(signature = (uncertainty="none"))]
    fn metadata(&self, uncertainty: &str) -> Result<BTreeMap<String, String>> {
        metadata(&self.0, uncertainty)
    }
    /// Any table that speaks Arrow; the interpreter is free meanwhile.
    #[pyo3(signature = (source, *, uncertainty="none", threads=1, first_row=0, keep=Vec::new(), doubled=None))]
    fn correct_stream(
        &self,
        source: &Bound<'_, PyAny>,
        uncertainty: &str,
        threads: usize,
        first_row: u64,
        keep: Vec<String>,
        doubled: Option<HashSet<String>>,
    ) -> PyResult<PyCorrectedTable> {
        let options = RunOptions { doubled: doubled.as_ref(), ..options(uncertainty, threads)? };
        correct_stream(source, &self.0, &options, first_row, &keep)
    }
    /// A dict of arrays; the interpreter is free meanwhile.
    #[pyo3(signature = (columns, *, uncertainty="none", threads=1, out=None, nan_is_null=false, doubled=None))]
    fn correct_arrays<'py>(
        &self,
        columns: &Bound<'py, PyDict>,
        uncertainty: &str,
        threads: usize,
        out: Option<Bound<'py, PyAny>>,
        nan_is_null: bool,
        doubled: Option<HashSet<String>>,
    ) -> PyResult<PyCorrectedArrays> {
        let options = RunOptions { doubled: doubled.as_ref(), ..options(uncertainty, threads)? };
        correct_arrays(columns.py(), &self.0, columns, &options, nan_is_null, out)
    }
    /// The names of the flux lots a row may name; the first is that of a table that has no such column.
    #[getter]
    fn lots(&self) -> Vec<&str> {
        self.0.lots().iter().map(crate::charge::FluxLot::name).collect()
    }
    /// The same with another loss of one of its lots, % of the flux as weighed.
    fn with_flux_loss(&self, lot: &str, loss_percent: Number) -> Result<Self> {
        self.0.with_flux_loss(lot, Unit::Percent.fraction_of(&loss_percent.estimate())).map(Self)
    }
    /// The same by another method.
    fn with_method(&self, method: &PyMethod) -> Result<Self> {
        self.0.with_method(method.0.clone()).map(Self)
    }
    /// The monitors of the run, or None.
    #[getter]
    fn drift(&self) -> Option<PyDrift> {
        self.0.monitors().cloned().map(PyDrift)
    }
    /// The method, or None where the glass is read.
    #[getter]
    fn method(&self) -> Option<PyMethod> {
        self.0.method().cloned().map(PyMethod)
    }
    /// "intensities" or "glass fractions".
    #[getter]
    fn evaluation(&self) -> &'static str {
        self.0.evaluation().word()
    }
    /// What the results rest on, as JSON: digests of the correction, the method and the lots, versions, basis.
    #[getter]
    fn provenance(&self) -> Result<String> {
        self.0.provenance_json()
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
    fn __repr__(&self) -> String {
        let label = self.0.method().map(Method::label);
        let by = label.map(|label| format!("{} {}", label.name(), label.version()));
        format!(
            "<Correction by {}, {} columns, results {}>",
            by.as_deref().unwrap_or("readings of the glass"),
            self.0.fields().len(),
            self.0.basis()
        )
    }
}

/// A correction and what it would be instead, for any table: old, new, change and change in units of u of each result.
///
/// Parameters
/// ----------
/// old, new : Correction
/// only : dict of str to str
///     Columns of words and the word a row must have there; other rows keep what they have.
/// limits : dict of str to (float or None, float or None)
///     Lowest and highest content of a result, %: a row that crosses one is named.
#[pyclass(name = "Recorrection", module = "beadchem", frozen)]
pub(super) struct PyRecorrection(Recorrection);

#[pymethods]
impl PyRecorrection {
    #[new]
    #[pyo3(signature = (old, new, *, only=Entries::default(), limits=Entries::default()))]
    fn new(
        old: &PyCorrection,
        new: &PyCorrection,
        only: Entries<String, String>,
        limits: Entries<String, (Option<f64>, Option<f64>)>,
    ) -> Result<Self> {
        let mut changed = Recorrection::new(old.0.clone(), new.0.clone())?;
        for (column, word) in only.0 {
            changed = changed.only(&column, &word);
        }
        for (species, (low, high)) in limits.0 {
            changed = changed.limit(SpecificationLimit { species, low, high })?;
        }
        Ok(Self(changed))
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
    /// The declared columns.
    #[getter]
    fn declared(&self) -> Vec<PyField> {
        self.0.before().fields().iter().cloned().map(PyField).collect()
    }
    /// The columns it reads where they are there.
    #[getter]
    fn fields(&self) -> Vec<&str> {
        self.0.wanted().iter().map(|(name, _)| name.as_str()).collect()
    }
    /// The column of bead ids, which no two rows may share.
    #[getter]
    fn identity(&self) -> Option<&str> {
        self.0.identity()
    }
    /// The columns of the results as (name, unit, basis or None).
    #[pyo3(signature = (uncertainty="none"))]
    fn result_fields(&self, uncertainty: &str) -> Result<Vec<ResultField>> {
        result_fields(&self.0, uncertainty)
    }
    /// What the schema metadata of a table of results hold, as key and text: JSON with both corrections.
    #[pyo3(signature = (uncertainty="none"))]
    fn metadata(&self, uncertainty: &str) -> Result<BTreeMap<String, String>> {
        metadata(&self.0, uncertainty)
    }
    /// Any table that speaks Arrow; the interpreter is free meanwhile.
    #[pyo3(signature = (source, *, uncertainty="none", threads=1, first_row=0, keep=Vec::new(), doubled=None))]
    fn correct_stream(
        &self,
        source: &Bound<'_, PyAny>,
        uncertainty: &str,
        threads: usize,
        first_row: u64,
        keep: Vec<String>,
        doubled: Option<HashSet<String>>,
    ) -> PyResult<PyCorrectedTable> {
        let options = RunOptions { doubled: doubled.as_ref(), ..options(uncertainty, threads)? };
        correct_stream(source, &self.0, &options, first_row, &keep)
    }
    /// A dict of arrays; the interpreter is free meanwhile.
    #[pyo3(signature = (columns, *, uncertainty="none", threads=1, out=None, nan_is_null=false, doubled=None))]
    fn correct_arrays<'py>(
        &self,
        columns: &Bound<'py, PyDict>,
        uncertainty: &str,
        threads: usize,
        out: Option<Bound<'py, PyAny>>,
        nan_is_null: bool,
        doubled: Option<HashSet<String>>,
    ) -> PyResult<PyCorrectedArrays> {
        let options = RunOptions { doubled: doubled.as_ref(), ..options(uncertainty, threads)? };
        correct_arrays(columns.py(), &self.0, columns, &options, nan_is_null, out)
    }
}
