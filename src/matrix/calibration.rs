//! What a calibration leaves behind: the sensitivity of each line with its uncertainty and what it shares, the range that
//! was covered, and the conditions it holds under.

use crate::code::Code;
use crate::composition::Basis;
use crate::error::{Error, Result};
use crate::matrix::{Label, LineName};
use crate::substance::Formula;
use crate::uncertainty::Estimate;

/// The sensitivity of a line.
///
/// ```
/// use beadchem::{composition::Basis, matrix::{Calibration, Label}, uncertainty::Estimate};
/// let label = Label::new("cal", "1", "three synthetic beads, 2026-03-02")?;
/// let calibration = Calibration::new(label, Basis::Dried).sensitivity("Fe Ka", Estimate::new(2.0e-5, 1e-8)?)?;
/// assert_eq!(calibration.sensitivities()[0].line.as_str(), "Fe Ka");
/// # Ok::<(), beadchem::Error>(())
/// ```
#[derive(Debug, Clone, PartialEq)]
pub struct Sensitivity {
    /// The line.
    pub line: LineName,
    /// k, g per g of sample and cps at the reference flux ratio of the coefficients.
    pub value: Estimate,
    /// `I_0`, cps: what is left of the net intensity where no analyte is.
    pub offset: Option<Estimate>,
}

/// An influence coefficient fitted with the sensitivities.
///
/// ```
/// use beadchem::{composition::Basis, matrix::{Calibration, Label}};
/// let calibration = Calibration::new(Label::new("cal", "1", "fit")?, Basis::Dried).coefficient("Fe Ka", "CaO", 0.21)?;
/// assert_eq!(calibration.coefficients()[0].component.text(), "CaO");
/// # Ok::<(), beadchem::Error>(())
/// ```
#[derive(Debug, Clone, PartialEq)]
pub struct FittedCoefficient {
    /// The line.
    pub line: LineName,
    /// The component that influences it.
    pub component: Formula,
    /// Its coefficient at the reference flux ratio.
    pub value: Estimate,
}

/// The range of an analyte that standards covered, as a mass fraction of the glass.
///
/// ```
/// use beadchem::{composition::Basis, matrix::{Calibration, Label}};
/// let calibration = Calibration::new(Label::new("cal", "1", "fit")?, Basis::Dried).range("Cr2O3", 0.0, 0.009)?;
/// assert_eq!(calibration.ranges()[0].high, 0.009);
/// # Ok::<(), beadchem::Error>(())
/// ```
#[derive(Debug, Clone, PartialEq)]
pub struct GlassRange {
    /// The analyte.
    pub analyte: Formula,
    /// Lowest and highest content of the glass, g/g.
    pub low: f64,
    /// See `low`.
    pub high: f64,
}

/// Sensitivities, given or fitted, with what they share and the range they were found over.
///
/// ```
/// use beadchem::{composition::Basis, matrix::{Calibration, Label}, uncertainty::Estimate};
/// let calibration = Calibration::new(Label::new("cal", "1", "given")?, Basis::Dried)
///     .sensitivity("Fe Ka", Estimate::new(2.0e-5, 1e-8)?)?
///     .sensitivity("Si Ka", Estimate::new(9.0e-5, 4e-8)?)?
///     .correlation("sensitivity of Fe Ka", "sensitivity of Si Ka", 0.3)?;
/// assert_eq!(calibration.correlations().len(), 1);
/// # Ok::<(), beadchem::Error>(())
/// ```
#[derive(Debug, Clone, PartialEq)]
pub struct Calibration {
    label: Label,
    basis: Basis,
    sensitivities: Vec<Sensitivity>,
    coefficients: Vec<FittedCoefficient>,
    correlations: Vec<(String, String, f64)>,
    ranges: Vec<GlassRange>,
    warnings: Vec<String>,
}

pub(crate) fn sensitivity_name(line: &str) -> String {
    format!("sensitivity of {line}")
}

pub(crate) fn offset_name(line: &str) -> String {
    format!("offset of {line}")
}

pub(crate) fn coefficient_name(component: &str, line: &str) -> String {
    format!("coefficient of {component} on {line}")
}

impl Calibration {
    /// A calibration without sensitivities yet; `basis` is that of the standards' weighing.
    ///
    /// ```
    /// use beadchem::{composition::Basis, matrix::{Calibration, Label}};
    /// assert!(Calibration::new(Label::new("cal", "1", "given")?, Basis::Dried).sensitivities().is_empty());
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn new(label: Label, basis: Basis) -> Self {
        let (sensitivities, coefficients, correlations, ranges) = (vec![], vec![], vec![], vec![]);
        Self { label, basis, sensitivities, coefficients, correlations, ranges, warnings: vec![] }
    }

    /// With the sensitivity k of a line, g per g of sample and cps.
    ///
    /// # Errors
    /// `line.unreadable`; `calibration.doubled` for a second one of a line; `sensitivity.not-positive`.
    ///
    /// ```
    /// use beadchem::{composition::Basis, matrix::{Calibration, Label}};
    /// let calibration = Calibration::new(Label::new("cal", "1", "given")?, Basis::Dried);
    /// assert_eq!(calibration.sensitivity("Fe Ka", 0.0).unwrap_err().code().word(), "sensitivity.not-positive");
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    pub fn sensitivity(mut self, line: &str, value: impl Into<Estimate>) -> Result<Self> {
        let (line, value) = (LineName::parse(line)?, value.into());
        crate::error::finite(&format!("The sensitivity of {}", line.as_str()), value.value())?;
        if value.value() <= 0.0 {
            return Err(Error::NotPositive {
                code: Code::SensitivityNotPositive,
                quantity: format!("Sensitivity of {}", line.as_str()),
                value: value.value(),
                unit: "g/g per cps",
                bound: "More analyte gives more counts, so it must be above zero".to_owned(),
                hint: "were blank and standard exchanged, or is it counts per content (the inverse)?".to_owned(),
            });
        }
        if self.sensitivities.iter().any(|held| held.line == line) {
            return Err(doubled(&format!("the sensitivity of {}", line.as_str())));
        }
        self.sensitivities.push(Sensitivity { line, value, offset: None });
        Ok(self)
    }

    /// With what is left of the net intensity of a line where no analyte is, cps.
    ///
    /// # Errors
    /// `line.not-calibrated` for a line without a sensitivity; `number.not-finite`.
    ///
    /// ```
    /// use beadchem::{composition::Basis, matrix::{Calibration, Label}};
    /// let calibration = Calibration::new(Label::new("cal", "1", "given")?, Basis::Dried);
    /// let calibration = calibration.sensitivity("Fe Ka", 2e-5)?.offset("Fe Ka", 1.2)?;
    /// assert_eq!(calibration.sensitivities()[0].offset.as_ref().unwrap().value(), 1.2);
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    pub fn offset(mut self, line: &str, value: impl Into<Estimate>) -> Result<Self> {
        let value = value.into();
        crate::error::finite(&format!("The offset of {line}"), value.value())?;
        let known = self.lines().join(", ");
        match self.sensitivities.iter_mut().find(|held| held.line.as_str() == line) {
            Some(held) => held.offset = Some(value),
            None => return Err(not_calibrated(line, &known)),
        }
        Ok(self)
    }

    /// With an influence coefficient of its own in place of that of the set.
    ///
    /// # Errors
    /// `line.unreadable`, `formula.unreadable`, `number.not-finite`; `calibration.doubled`.
    ///
    /// ```
    /// use beadchem::{composition::Basis, matrix::{Calibration, Label}};
    /// let calibration = Calibration::new(Label::new("cal", "1", "fit")?, Basis::Dried).coefficient("Fe Ka", "CaO", 0.21)?;
    /// assert!(calibration.coefficient("Fe Ka", "CaO", 0.22).is_err());
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    pub fn coefficient(mut self, line: &str, component: &str, value: impl Into<Estimate>) -> Result<Self> {
        let (line, component, value) = (LineName::parse(line)?, Formula::parse(component)?, value.into());
        let name = coefficient_name(component.text(), line.as_str());
        crate::error::finite(&format!("The {name}"), value.value())?;
        if self.coefficients.iter().any(|held| held.line == line && held.component.text() == component.text()) {
            return Err(doubled(&format!("the {name}")));
        }
        self.coefficients.push(FittedCoefficient { line, component, value });
        Ok(self)
    }

    /// With the range of an analyte that standards covered, mass fractions of the glass.
    ///
    /// # Errors
    /// `number.out-of-range` where the ends are no mass fractions or not in order; `calibration.doubled`.
    ///
    /// ```
    /// use beadchem::{composition::Basis, matrix::{Calibration, Label}};
    /// let calibration = Calibration::new(Label::new("cal", "1", "fit")?, Basis::Dried);
    /// assert!(calibration.range("Cr2O3", 0.9, 0.0).is_err());
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    pub fn range(mut self, analyte: &str, low: f64, high: f64) -> Result<Self> {
        let analyte = Formula::parse(analyte)?;
        let what = |end: &str| format!("The {end} end of the range of {analyte},");
        let hint = "Give mass fractions of the glass, the lower end first.";
        crate::error::within(&what("lower"), low, "g/g", [0.0, 1.0], "0 to 1", hint)?;
        crate::error::within(&what("upper"), high, "g/g", [low, 1.0], "the lower end to 1", hint)?;
        if self.ranges.iter().any(|held| held.analyte.text() == analyte.text()) {
            return Err(doubled(&format!("the range of {analyte}")));
        }
        self.ranges.push(GlassRange { analyte, low, high });
        Ok(self)
    }

    /// With a correlation between the own parts of two of its quantities, by their names ("sensitivity of Fe Ka", "offset of
    /// Fe Ka", "coefficient of CaO on Fe Ka").
    ///
    /// # Errors
    /// `input.unknown` for a name that it does not hold; `number.out-of-range` beyond -1 to 1.
    ///
    /// ```
    /// use beadchem::{composition::Basis, matrix::{Calibration, Label}};
    /// let calibration = Calibration::new(Label::new("cal", "1", "fit")?, Basis::Dried).sensitivity("Fe Ka", 2e-5)?;
    /// let refused = calibration.correlation("sensitivity of Fe Ka", "slope of Fe Ka", 0.3).unwrap_err();
    /// assert_eq!(refused.code().word(), "input.unknown");
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    pub fn correlation(mut self, first: &str, second: &str, coefficient: f64) -> Result<Self> {
        crate::error::within(
            &format!("The correlation of {first} and {second},"),
            coefficient,
            "",
            [-1.0, 1.0],
            "-1 to 1",
            "Was a covariance given instead of a coefficient?",
        )?;
        let names = self.names();
        for name in [first, second] {
            if !names.iter().any(|known| known == name) {
                return Err(Error::Unknown {
                    code: Code::InputUnknown,
                    what: "Quantity of a calibration".to_owned(),
                    given: name.to_owned(),
                    hint: format!("It holds: {}.", names.join(", ")),
                });
            }
        }
        self.correlations.push((first.to_owned(), second.to_owned(), coefficient));
        Ok(self)
    }

    /// With a warning it was made with; every assay by it repeats that there is one.
    ///
    /// ```
    /// use beadchem::{composition::Basis, matrix::{Calibration, Label}};
    /// let calibration = Calibration::new(Label::new("cal", "1", "given")?, Basis::Dried).warned("S-3 is off its line");
    /// assert_eq!(calibration.warnings(), ["S-3 is off its line"]);
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn warned(mut self, warning: impl Into<String>) -> Self {
        self.warnings.push(warning.into());
        self
    }

    /// The warnings it was made with.
    ///
    /// ```
    /// use beadchem::{composition::Basis, matrix::{Calibration, Label}};
    /// assert!(Calibration::new(Label::new("cal", "1", "given")?, Basis::Dried).warnings().is_empty());
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn warnings(&self) -> &[String] {
        &self.warnings
    }

    /// Name, version and source.
    ///
    /// ```
    /// use beadchem::{composition::Basis, matrix::{Calibration, Label}};
    /// assert_eq!(Calibration::new(Label::new("cal", "1", "given")?, Basis::Dried).label().version(), "1");
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn label(&self) -> &Label {
        &self.label
    }

    /// The basis the standards were weighed on.
    ///
    /// ```
    /// use beadchem::{composition::Basis, matrix::{Calibration, Label}};
    /// assert_eq!(Calibration::new(Label::new("cal", "1", "given")?, Basis::Dried).basis(), Basis::Dried);
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn basis(&self) -> Basis {
        self.basis
    }

    /// The sensitivities in the order given.
    ///
    /// ```
    /// use beadchem::{composition::Basis, matrix::{Calibration, Label}};
    /// let calibration = Calibration::new(Label::new("cal", "1", "given")?, Basis::Dried).sensitivity("Fe Ka", 2e-5)?;
    /// assert_eq!(calibration.sensitivities()[0].value.value(), 2e-5);
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn sensitivities(&self) -> &[Sensitivity] {
        &self.sensitivities
    }

    /// Influence coefficients fitted with them.
    ///
    /// ```
    /// use beadchem::{composition::Basis, matrix::{Calibration, Label}};
    /// assert!(Calibration::new(Label::new("cal", "1", "given")?, Basis::Dried).coefficients().is_empty());
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn coefficients(&self) -> &[FittedCoefficient] {
        &self.coefficients
    }

    /// Correlations between own parts, by name.
    ///
    /// ```
    /// use beadchem::{composition::Basis, matrix::{Calibration, Label}};
    /// assert!(Calibration::new(Label::new("cal", "1", "given")?, Basis::Dried).correlations().is_empty());
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn correlations(&self) -> &[(String, String, f64)] {
        &self.correlations
    }

    /// The ranges covered by standards.
    ///
    /// ```
    /// use beadchem::{composition::Basis, matrix::{Calibration, Label}};
    /// assert!(Calibration::new(Label::new("cal", "1", "given")?, Basis::Dried).ranges().is_empty());
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn ranges(&self) -> &[GlassRange] {
        &self.ranges
    }

    /// The sensitivity of a line.
    ///
    /// # Errors
    /// `line.not-calibrated`; the message lists the lines.
    pub(crate) fn of(&self, line: &str) -> Result<&Sensitivity> {
        let found = self.sensitivities.iter().find(|held| held.line.as_str() == line);
        found.ok_or_else(|| not_calibrated(line, &self.lines().join(", ")))
    }

    fn lines(&self) -> Vec<&str> {
        self.sensitivities.iter().map(|held| held.line.as_str()).collect()
    }

    /// The names of its quantities as inputs of a bead.
    fn names(&self) -> Vec<String> {
        let of_line = self.sensitivities.iter().flat_map(|held| {
            let offset = held.offset.as_ref().map(|_| offset_name(held.line.as_str()));
            core::iter::once(sensitivity_name(held.line.as_str())).chain(offset)
        });
        let fitted = self.coefficients.iter().map(|held| coefficient_name(held.component.text(), held.line.as_str()));
        of_line.chain(fitted).collect()
    }
}

fn not_calibrated(line: &str, known: &str) -> Error {
    Error::Unknown {
        code: Code::LineNotCalibrated,
        what: "Calibrated line".to_owned(),
        given: line.to_owned(),
        hint: format!("Sensitivities are held for: {known}."),
    }
}

fn doubled(what: &str) -> Error {
    Error::Conflict {
        code: Code::CalibrationDoubled,
        detail: format!("A calibration was given {what} twice."),
        hint: "Keep one of the two.".to_owned(),
    }
}
