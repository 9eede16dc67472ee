//! The result of a bead by a method: values with covariance, what was found on the way, and what it all rests on.

use std::sync::Arc;

use crate::charge::{Charge, FluxLot, Form, Melt, Sample, SampleResult};
use crate::composition::{Basis, BasisLinks, Closure, ClosureOrder, External};
use crate::error::Result;
use crate::finding::Finding;
use crate::matrix::LineReading;
use crate::method::findings::judge;
use crate::method::{Measurement, Method, Provenance};
use crate::rules::ReportForm;
use crate::substance::Weights;
use crate::table::Table;
use crate::uncertainty::{Budget, Estimate};

/// A sample from the intensities of its bead.
///
/// ```
/// use beadchem::{charge::{Charge, FluxLot, Sample}, matrix::LineReading, method::{Measurement, Method}};
/// use beadchem::{substance::Weights, uncertainty::Estimate};
/// let value = |value, u| Estimate::new(value, u);
/// let lot = FluxLot::new("F-1", [("Li2B4O7", 0.5), ("LiBO2", 0.5)], "1050 C, 18 min", value(0.004, 0.0003)?)?;
/// let charge = Charge::new(Sample::dried(value(0.8, 0.0001)?)?, lot.weigh_g(value(8.0, 0.0001)?)?)?;
/// let melt = charge.fuse_with_loss(&Weights::ciaaw_2024(), value(0.46, 0.001)?)?;
/// let bead = Measurement::new("B-1")
///     .reading(LineReading::net("Ca Ka", value(13_500.0, 12.0)?)?)?
///     .reading(LineReading::net("Mg Ka", value(1_800.0, 5.0)?)?)?
///     .reading(LineReading::net("Si Ka", value(400.0, 2.0)?)?)?;
/// let assay = Method::template()?.assay(&melt, &bead)?;
/// assert!((assay.value("CaO")? - 0.3036).abs() < 0.0001);
/// assert_eq!(assay.budget("CaO")?.rows()[0].name, "Ca Ka net intensity");
/// # Ok::<(), beadchem::Error>(())
/// ```
#[derive(Debug, Clone)]
pub struct Assay {
    pub(super) method: Arc<Method>,
    pub(super) measurement: Measurement,
    pub(super) result: SampleResult,
    pub(super) externals: Vec<External>,
    pub(super) own_findings: Vec<Finding>,
}

impl Method {
    /// The sample from a fused charge and the readings of its bead: evaluation (a).
    ///
    /// Solves `w_i + F b_i + sum_k e_k b_ki = k_i (I_i - I_i0) (F/F0 + sum_j a_ij w_j + sum_k a_ik e_k)` per gram of sample as
    /// weighed for all analytes at once. The loss on ignition or on fusion, and melt left in the crucible, do not enter.
    ///
    /// # Errors
    /// `coefficients.flux-ratio` where the bead's F is outside what the coefficients were made for; `matrix.singular`,
    /// `solution.negative` where the system has no sensible solution; `overlap.not-measured`; those of [`Drift`](crate::matrix::Drift);
    /// those of the charge.
    ///
    /// ```
    /// # use beadchem::{charge::{Charge, FluxLot, Sample}, matrix::LineReading, method::{Measurement, Method}, substance::Weights};
    /// # let lot = FluxLot::new("F-1", [("Li2B4O7", 0.5), ("LiBO2", 0.5)], "1050 C, 18 min", 0.004)?;
    /// let charge = Charge::new(Sample::dried(0.8)?, lot.weigh_g(4.0)?)?; // half the flux that the coefficients were made for
    /// let melt = charge.fuse_with_loss(&Weights::ciaaw_2024(), 0.46)?;
    /// let bead = Measurement::new("B-1").reading(LineReading::net("Ca Ka", 13_500.0)?)?;
    /// let refused = Method::template()?.assay(&melt, &bead).unwrap_err();
    /// assert_eq!(refused.code().word(), "coefficients.flux-ratio");
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    pub fn assay(&self, melt: &Melt, measurement: &Measurement) -> Result<Assay> {
        let asked = self.ask(melt, measurement)?;
        let mut own_findings = self.check_melt(asked.set, melt, measurement.bead())?;
        own_findings.extend(asked.findings);
        let result = melt.solve(asked.order)?;
        own_findings.extend(judge(self, asked.set, measurement, &result)?);
        let (method, measurement, externals) = (Arc::new(self.clone()), measurement.clone(), Vec::new());
        Ok(Assay { method, measurement, result, externals, own_findings })
    }
}

impl Assay {
    /// The sample with its covariance, to be asked for anything a result can say.
    ///
    /// ```
    /// # use beadchem::method::example;
    /// assert_eq!(example()?.sample().species(), ["CaO", "MgO", "SiO2"]);
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn sample(&self) -> &SampleResult {
        &self.result
    }

    /// A result, g/g.
    ///
    /// # Errors
    /// `species.unknown`; the message lists the results.
    ///
    /// ```
    /// # use beadchem::method::example;
    /// assert!((example()?.value("MgO")? - 0.20).abs() < 0.02);
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    pub fn value(&self, species: &str) -> Result<f64> {
        self.result.value(species)
    }

    /// Its standard uncertainty, g/g.
    ///
    /// # Errors
    /// As [`value`](Self::value).
    ///
    /// ```
    /// # use beadchem::method::example;
    /// assert!(example()?.u("MgO")? < 0.001);
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    pub fn u(&self, species: &str) -> Result<f64> {
        self.result.u(species)
    }

    /// The covariance of two results, (g/g)^2.
    ///
    /// # Errors
    /// As [`value`](Self::value).
    ///
    /// ```
    /// # use beadchem::method::example;
    /// assert!(example()?.covariance("CaO", "MgO")? > 0.0); // one flux, one sample mass
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    pub fn covariance(&self, first: &str, second: &str) -> Result<f64> {
        self.result.covariance(first, second)
    }

    /// Where the uncertainty of a result comes from.
    ///
    /// # Errors
    /// As [`value`](Self::value).
    ///
    /// ```
    /// # use beadchem::method::example;
    /// assert!(example()?.budget("SiO2")?.rows().len() > 5);
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    pub fn budget(&self, species: &str) -> Result<Budget> {
        self.result.budget(species)
    }

    /// The same bead on another basis and in another form.
    ///
    /// # Errors
    /// Those of [`SampleResult::on`].
    ///
    /// ```
    /// # use beadchem::{charge::Form, composition::{Basis, BasisLinks}, method::example};
    /// let links = BasisLinks::default().moisture(0.01)?;
    /// let ordered = example()?.on(Basis::AsReceived, &links, &Form::Elements)?;
    /// assert!(ordered.value("Ca")? < example()?.value("CaO")?);
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    pub fn on(&self, basis: Basis, links: &BasisLinks, form: &Form) -> Result<Self> {
        Ok(Self { result: self.result.on(basis, links, form)?, ..self.clone() })
    }

    /// With a result of the same sample from elsewhere: it enters closures and combinations, with its own basis and method.
    ///
    /// ```
    /// # use beadchem::{composition::{Basis, External}, method::example, uncertainty::Estimate};
    /// let carbon = External::new("CO2", Estimate::new(0.45, 0.002)?, Basis::Dried, "combustion")?;
    /// assert_eq!(example()?.with_external(carbon).externals().len(), 1);
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn with_external(mut self, external: External) -> Self {
        self.externals.push(external);
        self
    }

    /// Results from elsewhere.
    ///
    /// ```
    /// # use beadchem::method::example;
    /// assert!(example()?.externals().is_empty());
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn externals(&self) -> &[External] {
        &self.externals
    }

    /// The total line by line, results from elsewhere included.
    ///
    /// # Errors
    /// Those of [`SampleResult::closure`].
    ///
    /// ```
    /// # use beadchem::{composition::{ClosureOrder, LossOnIgnition}, method::example};
    /// let order = ClosureOrder::new().loss(&LossOnIgnition::new(0.463, 1000.0)?);
    /// assert!(example()?.closure(&order)?.total().is_some());
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    pub fn closure(&self, order: &ClosureOrder) -> Result<Closure> {
        self.result.closure(&self.with_externals(order))
    }

    fn with_externals(&self, order: &ClosureOrder) -> ClosureOrder {
        self.externals.iter().fold(order.clone(), |order, external| order.external(external.clone()))
    }

    /// The results as they are signed, with the method, its version and digest in the head.
    ///
    /// # Errors
    /// Those of [`SampleResult::report`].
    ///
    /// ```
    /// # use beadchem::{composition::Unit, method::example, rules::{Negatives, ReportForm}, table::Ties};
    /// let form = ReportForm::new("client A", Unit::Percent, 2, Ties::ToEven, Negatives::Kept)?;
    /// let text = example()?.report(&form, None)?.to_string();
    /// assert!(text.contains("method: dolomite 2026-1") && text.contains("30.32"));
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    pub fn report(&self, form: &ReportForm, total: Option<&ClosureOrder>) -> Result<Table> {
        let total = total.map(|order| self.with_externals(order));
        let table = self.result.report(form, total.as_ref())?;
        let table = self.provenance()?.lines().into_iter().fold(table, Table::head);
        let notable = self.own_findings.iter().filter(|finding| finding.severity() >= crate::code::Severity::Warning);
        Ok(notable.fold(table, |table, finding| table.note(finding.to_string())))
    }

    /// Notes, warnings and cautions of melt, method and results.
    ///
    /// ```
    /// # use beadchem::method::example;
    /// assert!(example()?.findings().iter().all(|finding| finding.severity() < beadchem::code::Severity::Warning));
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn findings(&self) -> Vec<Finding> {
        self.result.findings().into_iter().chain(self.own_findings.iter().cloned()).collect()
    }

    /// What the numbers rest on: method, coefficients, calibration, flux lot, charge and monitors with their digests, atomic
    /// weights and version of this library.
    ///
    /// # Errors
    /// Those of [`document::digest`](crate::document::digest).
    ///
    /// ```
    /// # use beadchem::method::example;
    /// assert_eq!(example()?.provenance()?.method_digest.len(), 64);
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    pub fn provenance(&self) -> Result<Provenance> {
        Provenance::of(self)
    }

    /// The method.
    ///
    /// ```
    /// # use beadchem::method::example;
    /// assert_eq!(example()?.method().label().name(), "dolomite");
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn method(&self) -> &Method {
        &self.method
    }

    /// The readings.
    ///
    /// ```
    /// # use beadchem::method::example;
    /// assert_eq!(example()?.measurement().bead(), "B-1");
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn measurement(&self) -> &Measurement {
        &self.measurement
    }

    /// The same bead by the coefficients of another class of the method: what re-centring changes.
    ///
    /// # Errors
    /// `word.unknown` for a class that the method does not hold; those of [`Method::assay`].
    ///
    /// ```
    /// # use beadchem::method::example;
    /// let again = example()?.by_class("carbonate rock")?;
    /// assert_eq!(again.value("CaO")?, example()?.value("CaO")?);
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    pub fn by_class(&self, class: &str) -> Result<Self> {
        let measurement = self.measurement.clone().of_class(class);
        let again = self.method.assay(self.result.melt(), &measurement)?;
        let result = again.result.read_as(&self.result)?;
        Ok(Self { result, externals: self.externals.clone(), ..again })
    }
}

/// The bead that the examples of this module look at: dolomite by the method of [`TEMPLATE`](crate::method::TEMPLATE), all
/// numbers invented.
///
/// # Errors
/// None; kept fallible for the constructors.
///
/// ```
/// assert_eq!(beadchem::method::example()?.measurement().bead(), "B-1");
/// # Ok::<(), beadchem::Error>(())
/// ```
pub fn example() -> Result<Assay> {
    let blend = [("Li2B4O7", 0.5), ("LiBO2", 0.5)];
    let lot = FluxLot::new("F-1", blend, "1050 C, 18 min", Estimate::new(0.004, 0.0003)?)?;
    let sample = Sample::dried(Estimate::new(0.8, 0.0001)?)?;
    let charge = Charge::new(sample, lot.weigh_g(Estimate::new(8.0, 0.0001)?)?)?;
    let melt = charge.fuse_with_loss(&Weights::ciaaw_2024(), Estimate::new(0.463, 0.001)?)?;
    let bead = Measurement::new("B-1")
        .reading(LineReading::net("Ca Ka", Estimate::new(13_500.0, 12.0)?)?)?
        .reading(LineReading::net("Mg Ka", Estimate::new(1_710.0, 5.0)?)?)?
        .reading(LineReading::net("Si Ka", Estimate::new(400.0, 2.0)?)?)?;
    Method::template()?.assay(&melt, &bead)
}
