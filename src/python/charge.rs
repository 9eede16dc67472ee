//! Sample, additions, fate and charge.

use pyo3::prelude::*;

use crate::charge::{Addition, Amount, Charge, Fate, ReducesTo, Sample, Timing};
use crate::composition::{Basis, Unit};
use crate::document;
use crate::error::{Error, Result};
use crate::python::composition::PyComposition;
use crate::python::flux::PyFlux;
use crate::python::melt::PyMelt;
use crate::python::substance::{PyWeights, weights_or_default};
use crate::python::uncertainty::{Number, PyValue};

/// A weighed portion of powder: mass in g, the basis it was weighed on, and what it is made of where that is known.
#[pyclass(name = "Sample", module = "beadchem", frozen, eq)]
#[derive(Clone, PartialEq)]
pub(super) struct PySample(Sample);

#[pymethods]
impl PySample {
    #[new]
    #[pyo3(signature = (mass_g, *, basis, composition=None))]
    fn new(mass_g: Number, basis: &str, composition: Option<&Bound<'_, PyComposition>>) -> Result<Self> {
        let sample = Sample::new(mass_g.estimate(), Basis::parse(basis)?)?;
        Ok(Self(match composition {
            Some(composition) => sample.made_of(composition.get().0.clone())?,
            None => sample,
        }))
    }
    /// The mass as weighed, g.
    #[getter]
    fn mass_g(&self) -> PyValue {
        PyValue(self.0.mass_g().clone())
    }
    /// The basis it was weighed on.
    #[getter]
    fn basis(&self) -> String {
        self.0.basis().to_string()
    }
    /// What it is made of, or None.
    #[getter]
    fn composition(&self) -> Option<PyComposition> {
        self.0.composition().cloned().map(PyComposition)
    }
    fn __repr__(&self) -> String {
        format!("<Sample {} g, {}>", self.0.mass_g().value(), self.0.basis())
    }
}

/// How much of an addition there is; a bare number where an Amount is asked for is a mass in g.
#[pyclass(name = "Amount", module = "beadchem", frozen, eq)]
#[derive(Clone, PartialEq)]
pub(super) struct PyAmount(Amount);

#[pymethods]
impl PyAmount {
    /// Weighed, g.
    #[staticmethod]
    fn mass(mass_g: Number) -> Result<Self> {
        Amount::mass_g(mass_g.estimate()).map(Self)
    }
    /// So many tablets of this mass each, g.
    #[staticmethod]
    fn tablets(count: i64, each_g: Number) -> Result<Self> {
        let hint = "Tablets are counted in whole numbers from 0.";
        crate::error::within("Number of tablets", count as f64, "", [0.0, 1000.0], "0 to 1000", hint)?;
        Amount::tablets(u32::try_from(count).unwrap_or(0), each_g.estimate()).map(Self)
    }
    /// Mixed into the flux by its maker, % of the flux as weighed.
    #[staticmethod]
    fn share_of_flux(percent: Number) -> Result<Self> {
        Amount::share_of_flux(Unit::Percent.fraction_of(&percent.estimate())).map(Self)
    }
    /// A volume in ml of a solution of so many g/l.
    #[staticmethod]
    fn solution(volume_ml: Number, g_per_l: Number) -> Result<Self> {
        Amount::solution(volume_ml.estimate(), g_per_l.estimate()).map(Self)
    }
    fn __repr__(&self) -> String {
        format!("<Amount {}>", self.0)
    }
}

/// An amount, or a bare mass in g.
#[derive(FromPyObject)]
enum Dose {
    Amount(Py<PyAmount>),
    Mass(Number),
}

impl Dose {
    fn amount(&self) -> Result<Amount> {
        match self {
            Dose::Amount(amount) => Ok(amount.get().0.clone()),
            Dose::Mass(mass) => Amount::mass_g(mass.estimate()),
        }
    }
}

/// A substance added to sample and flux; made by `oxidant`, `release_agent` or `reagent`.
#[pyclass(name = "Addition", module = "beadchem", frozen, eq)]
#[derive(Clone, PartialEq)]
pub(super) struct PyAddition(Addition);

#[pymethods]
impl PyAddition {
    /// A nitrate with the route of its nitrogen: "N2", "NO", "nitrite" or "NO2".
    #[staticmethod]
    #[pyo3(signature = (species, amount, *, reduces_to=None))]
    fn oxidant(species: &str, amount: Dose, reduces_to: Option<&str>) -> Result<Self> {
        let route = reduces_to.map(ReducesTo::from_word).transpose()?;
        Addition::oxidant(species, amount.amount()?, route).map(Self)
    }
    /// A halide with the share (0 to 1) of its halogen that is still in the glass.
    #[staticmethod]
    #[pyo3(signature = (species, amount, *, retained))]
    fn release_agent(species: &str, amount: Dose, retained: Number) -> Result<Self> {
        Addition::release_agent(species, amount.amount()?, retained.estimate()).map(Self)
    }
    /// A sulfate with the share (0 to 1) of its sulfur that stays.
    #[staticmethod]
    #[pyo3(signature = (species, amount, *, retained))]
    fn sulfate(species: &str, amount: Dose, retained: Number) -> Result<Self> {
        Addition::sulfate(species, amount.amount()?, retained.estimate()).map(Self)
    }
    /// Anything else that stays as its oxide: heavy absorber, internal standard, carbonate.
    #[staticmethod]
    fn reagent(species: &str, amount: Dose) -> Result<Self> {
        Addition::reagent(species, amount.amount()?).map(Self)
    }
    /// The same, added to the melt so many minutes before pouring.
    fn late(&self, minutes_before_pouring: f64) -> Result<Self> {
        self.0.clone().late(minutes_before_pouring).map(Self)
    }
    /// The same with an analyte that it brings, % of the addition as weighed; all of it stays.
    fn with_blank(&self, species: &str, content_percent: Number) -> Result<Self> {
        let content = Unit::Percent.fraction_of(&content_percent.estimate());
        self.0.clone().with_blank(species, content).map(Self)
    }
    /// What is added.
    #[getter]
    fn species(&self) -> &str {
        self.0.species().text()
    }
    /// Minutes before pouring, or None for the cold charge.
    #[getter]
    fn minutes_before_pouring(&self) -> Option<f64> {
        match self.0.timing() {
            Timing::Late { minutes_before_pouring } => Some(minutes_before_pouring),
            Timing::ColdCharge => None,
        }
    }
    fn __repr__(&self) -> String {
        format!("<Addition {}, {}>", self.0.species(), self.0.amount())
    }
}

/// What elements become in the fusion, as far as it is a fact of the laboratory. Each call gives a new Fate.
#[pyclass(name = "Fate", module = "beadchem", frozen, eq)]
#[derive(Clone, PartialEq)]
pub(super) struct PyFate(pub(super) Fate);

#[pymethods]
impl PyFate {
    #[new]
    fn new() -> Self {
        Self(Fate::new())
    }
    /// All of the element stays: sulfur as SO3, a halogen as itself, others as their usual oxide.
    fn keep(&self, element: &str) -> Result<Self> {
        self.0.clone().keep(element).map(Self)
    }
    /// All of the element stays as this oxide.
    fn stays_as(&self, element: &str, oxide: &str) -> Result<Self> {
        self.0.clone().stays_as(element, oxide).map(Self)
    }
    /// All of the element leaves as this gas ("SO2", "HF", "BF3", "SiF4", "KCl", ...).
    fn lose(&self, element: &str, gas: &str) -> Result<Self> {
        self.0.clone().lose(element, gas).map(Self)
    }
    /// The share `kept` (0 to 1) of the element stays, the rest leaves as this gas.
    fn split(&self, element: &str, kept: Number, gas: &str) -> Result<Self> {
        self.0.clone().split(element, kept.estimate(), gas).map(Self)
    }
    fn __repr__(&self) -> String {
        self.0.to_string()
    }
}

/// Sample, flux and additions as weighed.
#[pyclass(name = "Charge", module = "beadchem", frozen, eq)]
#[derive(Clone, PartialEq)]
pub(super) struct PyCharge(pub(super) Charge);

#[pymethods]
impl PyCharge {
    #[new]
    #[pyo3(signature = (sample, flux, additions=Vec::new()))]
    fn new(
        sample: &Bound<'_, PySample>,
        flux: &Bound<'_, PyFlux>,
        additions: Vec<Bound<'_, PyAddition>>,
    ) -> Result<Self> {
        let charge = Charge::new(sample.get().0.clone(), flux.get().0.clone())?;
        additions.iter().try_fold(charge, |charge, addition| charge.with(addition.get().0.clone())).map(Self)
    }
    /// Fuses the charge.
    ///
    /// Parameters
    /// ----------
    /// fate : Fate, optional
    ///     What elements of the sample become; needs a sample with a composition.
    /// loss_on_fusion_percent : number or Value, optional
    ///     Instead of a composition: signed loss of the sample in the crucible, % of it as weighed.
    /// sulfur : "kept", optional
    ///     Short for `Fate().keep("S")`.
    /// weights : Weights, optional
    ///     Atomic weights; those of 2024 where not given.
    #[pyo3(signature = (fate=None, *, loss_on_fusion_percent=None, sulfur=None, weights=None))]
    fn fuse(
        &self,
        fate: Option<&Bound<'_, PyFate>>,
        loss_on_fusion_percent: Option<Number>,
        sulfur: Option<&str>,
        weights: Option<&Bound<'_, PyWeights>>,
    ) -> Result<PyMelt> {
        let weights = weights_or_default(weights);
        let fate = match (fate.map(|fate| fate.get().0.clone()), sulfur) {
            (fate, None) => fate,
            (fate, Some("kept")) => Some(fate.unwrap_or_default().keep("S")?),
            (_, Some(other)) => return Err(Error::word("Fate of sulfur", other, &["kept"])),
        };
        match (fate, loss_on_fusion_percent) {
            (Some(_), Some(_)) => Err(Error::Conflict {
                code: crate::code::Code::FateNotStated,
                detail: "A fate and a loss on fusion were both given.".to_owned(),
                hint: "The loss follows from the fate of a composition, or it is stated; give one.".to_owned(),
            }),
            (None, Some(loss)) => self.0.fuse_with_loss(&weights, Unit::Percent.fraction_of(&loss.estimate())),
            (fate, None) => self.0.fuse(&weights, &fate.unwrap_or_default()),
        }
        .map(PyMelt)
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
        format!(
            "<Charge {} g sample ({}), {} g flux {}, {} additions>",
            self.0.sample().mass_g().value(),
            self.0.sample().basis(),
            self.0.flux().mass_g().value(),
            self.0.flux().lot().name(),
            self.0.additions().len()
        )
    }
}
