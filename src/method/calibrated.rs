//! A finished calibration: its sensitivities, how well each standard fits, and the method that follows from it.

use crate::code::{Code, Severity};
use crate::composition::Unit;
use crate::composition::unit::percent_short;
use crate::error::Result;
use crate::finding::Finding;
use crate::matrix::{Calibration, Label};
use crate::method::Method;
use crate::method::parameters::{Described, Parameter};
use crate::method::scatter::limit;
use crate::table::{Cell, Column, Table};
use crate::uncertainty::Estimate;

/// How one standard fits the line of one analyte.
///
/// ```
/// use beadchem::method::Residual;
/// let residual = Residual {
///     standard: "S-1".to_owned(), material: "calcite".to_owned(), content: 0.56, residual: 0.0006, u: Some(0.0003),
///     leverage: 0.4, glass_content: 0.053,
/// };
/// assert_eq!(residual.in_u(), Some(2.0));
/// ```
#[derive(Debug, Clone, PartialEq)]
pub struct Residual {
    /// The standard.
    pub standard: String,
    /// Its class of material.
    pub material: String,
    /// What its glass holds of the analyte, g per g of sample.
    pub content: f64,
    /// Known less found, g per g of sample.
    pub residual: f64,
    /// Standard uncertainty of the residual from everything that is stated, what standards share included; zero where the fit
    /// passes through the point, nothing where none is stated.
    pub u: Option<f64>,
    /// How far the fit follows this standard: 0 not at all, 1 entirely.
    pub leverage: f64,
    /// The content of the glass, g/g.
    pub glass_content: f64,
}

impl Residual {
    /// The residual over its standard uncertainty.
    ///
    /// ```
    /// # let residual = beadchem::method::Residual { standard: String::new(), material: String::new(), content: 0.5,
    /// #     residual: -0.001, u: None, leverage: 0.5, glass_content: 0.05 };
    /// assert_eq!(residual.in_u(), None);
    /// ```
    #[must_use]
    pub fn in_u(&self) -> Option<f64> {
        self.u.filter(|u| *u > 0.0).map(|u| self.residual / u)
    }
}

/// As "S-1 +0.0600 %, +2.00 u".
impl core::fmt::Display for Residual {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        write!(f, "{} {:+.4} %, ", self.standard, Unit::Percent.written(self.residual))?;
        match (self.in_u(), self.u) {
            (Some(in_u), _) => write!(f, "{in_u:+.2} u"),
            (None, Some(_)) => write!(f, "passed through"),
            (None, None) => write!(f, "u not stated"),
        }
    }
}

/// The fit of one line.
///
/// ```
/// use beadchem::{method::LineFit, uncertainty::Estimate};
/// let fit = LineFit {
///     line: "Ca Ka".to_owned(), analyte: "CaO".to_owned(), sensitivity: Estimate::new(2e-5, 1e-8)?, coefficients: 1,
///     residuals: Vec::new(), chi_squared: None, dof: 0, weighted: true, stated: true,
/// };
/// assert_eq!(fit.line, "Ca Ka");
/// # Ok::<(), beadchem::Error>(())
/// ```
#[derive(Debug, Clone, PartialEq)]
pub struct LineFit {
    /// The line.
    pub line: String,
    /// Its analyte.
    pub analyte: String,
    /// k, g per g of sample and cps.
    pub sensitivity: Estimate,
    /// How many parameters were fitted.
    pub coefficients: usize,
    /// One for each standard that measured the line.
    pub residuals: Vec<Residual>,
    /// Squared residuals over their covariance, what standards share included: about `dof` if they scatter as stated. Nothing
    /// without degrees of freedom or stated uncertainties.
    pub chi_squared: Option<f64>,
    /// Standards less parameters.
    pub dof: usize,
    /// False where contents were weighed in proportion: not every uncertainty was stated, or all is exact.
    pub weighted: bool,
    /// False where an uncertainty of a standard was not stated.
    pub stated: bool,
}

/// As "Ca Ka for CaO: k 0.00002100 (u 0.00000002), 4 standards".
impl core::fmt::Display for LineFit {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        write!(f, "{} for {}: k ", self.line, self.analyte)?;
        match self.sensitivity.u() {
            Some(u) => {
                let (k, u) = crate::table::format_value(self.sensitivity.value(), u);
                write!(f, "{k} (u {u})")?;
            }
            None => write!(f, "{} (u not stated)", self.sensitivity.value())?,
        }
        write!(f, ", {} standards", self.residuals.len())
    }
}

/// A calibration with its diagnostics.
///
/// ```
/// use beadchem::{charge::{Charge, FluxLot, Sample}, composition::{Basis, Composition}, matrix::{Label, LineReading}};
/// use beadchem::{method::{Measurement, Method, Standard, StandardFit}, substance::Weights};
/// let lot = FluxLot::new("F-1", [("Li2B4O7", 0.5), ("LiBO2", 0.5)], "1050 C, 18 min", 0.004)?;
/// let melt = Charge::new(Sample::dried(0.8)?, lot.weigh_g(8.0)?)?.fuse_with_loss(&Weights::ciaaw_2024(), 0.46)?;
/// let known = Composition::new(Basis::Dried).with("CaO", 0.31)?.with("MgO", 0.21)?.with("SiO2", 0.02)?;
/// let measured = [("Ca Ka", 13_600.0), ("Mg Ka", 1_800.0), ("Si Ka", 700.0)].into_iter().try_fold(
///     Measurement::new("S-1"), |all, (line, cps)| all.reading(LineReading::net(line, cps)?))?;
/// let fit = StandardFit::new(Method::template()?.coefficients()[0].clone())?;
/// let calibrated = fit.calibrate(Label::new("cal", "1", "one bead")?, &[Standard::new(melt, known, measured)?])?;
/// let method = calibrated.method(Label::new("dolomite", "2", "our laboratory")?)?;
/// assert_eq!(method.calibration().label().name(), "cal");
/// assert!(calibrated.table().to_string().contains("S-1"));
/// assert!(calibrated.findings().iter().any(|finding| finding.code.word() == "uncertainty.unstated"));
/// # Ok::<(), beadchem::Error>(())
/// ```
#[derive(Debug, Clone)]
pub struct Calibrated {
    calibration: Calibration,
    unit: Method,
    lines: Vec<LineFit>,
    findings: Vec<Finding>,
}

impl Calibrated {
    pub(super) fn new(calibration: Calibration, unit: Method) -> Self {
        Self { calibration, unit, lines: Vec::new(), findings: Vec::new() }
    }

    pub(super) fn push(&mut self, fit: LineFit) {
        self.lines.push(fit);
    }

    /// Fills the calibration from the parameters as described.
    pub(super) fn finish(
        mut self,
        given: &[(String, Estimate)],
        list: &[Parameter],
        described: &Described,
        of_standards: Vec<Finding>,
    ) -> Result<Self> {
        let place = |name: &str| list.iter().position(|parameter| parameter.name == name);
        let mut calibration = self.calibration;
        for fit in &mut self.lines {
            let line = fit.line.as_str();
            let of = |name: String| place(&name).map(|place| described.estimates[place].clone());
            if let Some(k) = of(crate::matrix::calibration::sensitivity_name(line)) {
                fit.sensitivity = k.clone();
                calibration = calibration.sensitivity(line, k)?;
            }
            if let Some(offset) = of(crate::matrix::calibration::offset_name(line)) {
                calibration = calibration.offset(line, offset)?;
            }
            for component in self.unit.coefficients()[0].components() {
                if let Some(value) = of(crate::matrix::calibration::coefficient_name(component.text(), line)) {
                    calibration = calibration.coefficient(line, component.text(), value)?;
                }
            }
            let contents = fit.residuals.iter().map(|residual| residual.glass_content.clamp(0.0, 1.0));
            let (low, high) = contents.fold((f64::INFINITY, 0.0_f64), |(low, high), c| (low.min(c), high.max(c)));
            calibration = calibration.range(&fit.analyte, low, high)?;
        }
        for (line, sensitivity) in given {
            calibration = calibration.sensitivity(line, sensitivity.clone())?;
        }
        for &(a, b, coefficient) in &described.correlations {
            calibration = calibration.correlation(&list[a].name, &list[b].name, coefficient)?;
        }
        self.calibration = calibration;
        let judged = self.judge();
        let warnings = judged.iter().filter(|finding| finding.severity() >= Severity::Warning);
        self.calibration = warnings.fold(self.calibration, |calibration, finding| calibration.warned(&finding.text));
        self.findings = of_standards.into_iter().chain(judged).collect();
        Ok(self)
    }

    fn judge(&self) -> Vec<Finding> {
        // a residual beyond four of its u is no chance among the standards of a laboratory
        const FAR: f64 = 4.0;
        let mut findings = Vec::new();
        for fit in &self.lines {
            if !fit.stated {
                let text = format!(
                    "Not every uncertainty is stated for the standards of {}; contents were weighed in proportion, and the \
                     sensitivity has none.",
                    fit.line
                );
                findings.push(Finding::new(Code::UncertaintyUnstated, fit.line.as_str(), text));
            }
            for residual in &fit.residuals {
                let Some(in_u) = residual.in_u().filter(|in_u| in_u.abs() > FAR && fit.dof > 0) else { continue };
                let text = format!(
                    "Standard {} is off the line of {} by {in_u:.1} u ({} {} per sample). Wrong contents, a weighing, swapped \
                     beads, or a u that is too small?",
                    residual.standard,
                    fit.line,
                    percent_short(residual.residual),
                    fit.analyte
                );
                let finding = Finding::new(Code::StandardOff, residual.standard.as_str(), text);
                findings.push(finding.with_value(residual.residual).with_u(residual.u.unwrap_or(0.0)).with_bound(FAR));
            }
            if let Some(chi_squared) = fit.chi_squared.filter(|chi_squared| *chi_squared > limit(fit.dof, FAR)) {
                let text = format!(
                    "The standards of {} scatter more than their uncertainties: chi squared {chi_squared:.1} with {} degrees of \
                     freedom. The uncertainty of the sensitivity is too small.",
                    fit.line, fit.dof
                );
                findings.push(Finding::new(Code::CalibrationScatter, fit.line.as_str(), text).with_value(chi_squared));
            }
            if fit.dof == 0 {
                let text = format!(
                    "{} rests on {} standards for as many parameters: nothing tests it.",
                    fit.line, fit.coefficients
                );
                findings.push(Finding::new(Code::CalibrationUntested, fit.line.as_str(), text));
            }
        }
        findings
    }

    /// The calibration, to be stored.
    ///
    /// ```
    /// # use beadchem::method::example_calibration;
    /// assert_eq!(example_calibration()?.calibration().sensitivities().len(), 3);
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn calibration(&self) -> &Calibration {
        &self.calibration
    }

    /// The fits, line by line.
    ///
    /// ```
    /// # use beadchem::method::example_calibration;
    /// assert_eq!(example_calibration()?.lines()[0].residuals.len(), 3);
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn lines(&self) -> &[LineFit] {
        &self.lines
    }

    /// What is doubtful: standards off their line, more scatter than stated, lines that nothing tests.
    ///
    /// ```
    /// # use beadchem::method::example_calibration;
    /// assert!(example_calibration()?.findings().is_empty());
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn findings(&self) -> &[Finding] {
        &self.findings
    }

    /// The method that the fit and this calibration make.
    ///
    /// # Errors
    /// Those of [`Method::new`].
    ///
    /// ```
    /// # use beadchem::{matrix::Label, method::example_calibration};
    /// let method = example_calibration()?.method(Label::new("dolomite", "2", "our laboratory")?)?;
    /// assert_eq!(method.label().version(), "2");
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    pub fn method(&self, label: Label) -> Result<Method> {
        self.unit.calibrated(label, self.calibration.clone())
    }

    /// Residuals by material and standard, in % and in units of u, with leverage.
    ///
    /// ```
    /// # use beadchem::method::example_calibration;
    /// assert!(example_calibration()?.table().to_string().contains("leverage"));
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn table(&self) -> Table {
        const DECIMALS: u8 = 2;
        let mut rows: Vec<(&LineFit, &Residual)> =
            self.lines.iter().flat_map(|fit| fit.residuals.iter().map(move |residual| (fit, residual))).collect();
        rows.sort_by(|a, b| (&a.1.material, &a.0.line).cmp(&(&b.1.material, &b.0.line)));
        let cells = rows.into_iter().map(|(fit, residual)| {
            let percent = |value: f64| Unit::Percent.written(value);
            let content = Cell::number(percent(residual.content), 3);
            let difference = match residual.u {
                Some(u) => Cell::measured(percent(residual.residual), percent(u)),
                None => Cell::number(percent(residual.residual), 4),
            };
            let missing = if residual.u.is_some() { "passed through" } else { "not stated" };
            let in_u = residual.in_u().map_or_else(|| Cell::missing(missing), |in_u| Cell::number(in_u, DECIMALS));
            [
                Cell::text(residual.material.as_str()),
                Cell::text(residual.standard.as_str()),
                Cell::text(fit.line.as_str()),
                Cell::text(fit.analyte.as_str()),
                content,
                difference,
                in_u,
                Cell::number(residual.leverage, DECIMALS),
            ]
        });
        let table = Table::new(format!("Standards of {}", self.calibration.label().name()))
            .head(format!("basis of the weighing: {}", self.calibration.basis()))
            .column(Column::text("material"))
            .column(Column::text("standard"))
            .column(Column::text("line"))
            .column(Column::text("analyte"))
            .column(Column::number("in the glass, per sample", "%"))
            .column(Column::number("known less found", "%").with_uncertainty("u"))
            .column(Column::number("in u", ""))
            .column(Column::number("leverage", ""))
            .rows(cells);
        self.findings.iter().fold(table, |table, finding| table.note(finding.to_string()))
    }
}
