//! What a laboratory owns: coefficients, calibration, overlaps and an internal standard under one name and version.

use crate::code::Code;
use crate::error::{Error, Result};
use crate::matrix::{Calibration, CoefficientSet, DeadTime, Label, LineName};
use crate::method::{InternalStandard, Overlap};
use crate::substance::Formula;

/// A method: how the intensities of a bead lead to its sample.
///
/// ```
/// use beadchem::method::Method;
/// let method = Method::template()?; // an invented dolomite method
/// assert_eq!(method.analytes(), ["CaO", "MgO", "SiO2"]);
/// assert!(method.check().iter().all(|finding| finding.code.word() != "method.incomplete"));
/// # Ok::<(), beadchem::Error>(())
/// ```
#[derive(Debug, Clone, PartialEq)]
pub struct Method {
    pub(super) label: Label,
    /// The first is the one the sensitivities belong to.
    pub(super) coefficients: Vec<CoefficientSet>,
    pub(super) calibration: Calibration,
    pub(super) overlaps: Vec<Overlap>,
    pub(super) dead_time: Option<DeadTime>,
    pub(super) standard: Option<InternalStandard>,
    /// Solved for, since they absorb, and not reported.
    pub(super) not_reported: Vec<Formula>,
}

impl Method {
    /// A method from a coefficient set and the calibration that was made with it.
    ///
    /// # Errors
    /// `line.not-calibrated` where a line of the set has no sensitivity; `species.unknown` where the calibration has a
    /// coefficient or a range of a component that the set has not.
    ///
    /// ```
    /// use beadchem::composition::Basis;
    /// use beadchem::matrix::{Calibration, CoefficientSet, Conditions, Derivation, Influence, Label};
    /// use beadchem::method::Method;
    /// let row = [Influence::new("Si Ka", "SiO2", [0.14])];
    /// let set = CoefficientSet::new(Label::new("sand", "1", "invented")?, Derivation::Stated, Conditions::new(10.0)?, ["SiO2"], row)?;
    /// let calibration = Calibration::new(Label::new("cal", "1", "one bead")?, Basis::Dried).sensitivity("Si Ka", 2e-4)?;
    /// let method = Method::new(Label::new("sand", "3", "our laboratory")?, set, calibration)?;
    /// assert_eq!(method.lines(), ["Si Ka"]);
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    pub fn new(label: Label, coefficients: CoefficientSet, calibration: Calibration) -> Result<Self> {
        for line in coefficients.lines() {
            calibration.of(&line.line)?;
        }
        for fitted in calibration.coefficients() {
            coefficients.component_index(fitted.component.text())?;
            coefficients.line_index(fitted.line.as_str())?;
        }
        for range in calibration.ranges() {
            coefficients.component_index(range.analyte.text())?;
        }
        let (overlaps, dead_time, standard, not_reported) = (vec![], None, None, vec![]);
        let coefficients = vec![coefficients];
        Ok(Self { label, coefficients, calibration, overlaps, dead_time, standard, not_reported })
    }

    /// With the same lines around the centroid of another class. Its sensitivities follow from those of the calibration by the
    /// theoretical sensitivities of both sets, so both must hold them.
    ///
    /// # Errors
    /// `method.classes-differ` where lines, analytes or components are not those of the first set, where a set has no
    /// theoretical sensitivities, or where the name is taken.
    ///
    /// ```
    /// use beadchem::method::Method;
    /// let method = Method::template()?;
    /// let again = method.coefficients()[0].clone();
    /// assert_eq!(method.class(again).unwrap_err().code().word(), "method.classes-differ");
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    pub fn class(mut self, coefficients: CoefficientSet) -> Result<Self> {
        let refused = |detail: String, hint: &str| {
            Err(Error::Conflict { code: Code::MethodClassesDiffer, detail, hint: hint.to_owned() })
        };
        let name = coefficients.label().name();
        if self.coefficients.iter().any(|held| held.label().name() == name) {
            return refused(format!("The method holds coefficients named {name} already."), "Name the class apart.");
        }
        let first = &self.coefficients[0];
        let text = |set: &CoefficientSet| -> Vec<String> {
            let components = set.components().iter().map(|formula| formula.text().to_owned());
            let lines = set.lines().iter().map(|line| format!("{} of component {}", line.line, line.analyte));
            components.chain(lines).collect()
        };
        if text(first) != text(&coefficients) {
            let detail = format!("{name} and {} have not the same components and lines.", first.label().name());
            return refused(detail, "Compute both sets for the same lines and components, in one order.");
        }
        let theory = |set: &CoefficientSet| set.lines().iter().all(|line| line.sensitivity.is_some());
        if !(theory(first) && theory(&coefficients)) {
            let detail = format!("{name} and {} do not both hold theoretical sensitivities.", first.label().name());
            let hint = "A sensitivity carries over to another centroid only by the ratio of the theoretical ones.";
            return refused(detail, hint);
        }
        self.coefficients.push(coefficients);
        Ok(self)
    }

    /// With an overlap.
    ///
    /// # Errors
    /// `overlap.doubled` for a second factor of the same two lines.
    ///
    /// ```
    /// use beadchem::method::{Method, Overlap};
    /// let method = Method::template()?.overlap(Overlap::new("Mg Ka", "Br Ka", 0.001)?)?;
    /// assert_eq!(method.overlaps().len(), 1);
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    pub fn overlap(mut self, overlap: Overlap) -> Result<Self> {
        if self.overlaps.iter().any(|held| held.on() == overlap.on() && held.from() == overlap.from()) {
            return Err(Error::Conflict {
                code: Code::OverlapDoubled,
                detail: format!("The {} is there already.", overlap.name()),
                hint: "Keep one of the two factors.".to_owned(),
            });
        }
        self.overlaps.push(overlap);
        Ok(self)
    }

    /// With the dead time of the counter, for readings that state none of their own.
    ///
    /// ```
    /// use beadchem::{matrix::DeadTime, method::Method};
    /// let method = Method::template()?.dead_time(DeadTime::new(2.5e-7)?);
    /// assert!(method.counter().is_some());
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn dead_time(mut self, dead_time: DeadTime) -> Self {
        self.dead_time = Some(dead_time);
        self
    }

    /// With an internal standard.
    ///
    /// # Errors
    /// `species.unknown` where its component is none of the coefficients; `line.not-calibrated` for a line without
    /// sensitivity; `coefficients` of its own line must be among those of the set.
    ///
    /// ```
    /// use beadchem::method::{InternalStandard, Method};
    /// let unknown = InternalStandard::new("Co Ka", "CoO", ["Ca Ka"])?;
    /// assert!(Method::template()?.internal_standard(unknown).is_err());
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    pub fn internal_standard(mut self, standard: InternalStandard) -> Result<Self> {
        let first = &self.coefficients[0];
        let component = first.component_index(standard.component().text())?;
        let place = first.line_index(standard.line().as_str())?;
        if first.lines()[place].analyte != component {
            return Err(Error::Conflict {
                code: Code::MethodClassesDiffer,
                detail: format!("{} does not measure {}.", standard.line().as_str(), standard.component()),
                hint: "Name the component that the line of the internal standard stands for.".to_owned(),
            });
        }
        for line in standard.follow() {
            first.line_index(line.as_str())?;
        }
        self.standard = Some(standard);
        Ok(self)
    }

    /// With an analyte that is solved for, since it absorbs, and not reported. The halide of a release agent needs no mention.
    ///
    /// # Errors
    /// `species.unknown` for what is no component of the coefficients.
    ///
    /// ```
    /// let method = beadchem::method::Method::template()?.not_reported("SiO2")?;
    /// assert_eq!(method.analytes(), ["CaO", "MgO"]);
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    pub fn not_reported(mut self, analyte: &str) -> Result<Self> {
        let place = self.coefficients[0].component_index(analyte)?;
        self.not_reported.push(self.coefficients[0].components()[place].clone());
        Ok(self)
    }

    /// Name, version and source.
    ///
    /// ```
    /// assert_eq!(beadchem::method::Method::template()?.label().name(), "dolomite");
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn label(&self) -> &Label {
        &self.label
    }

    /// The coefficient sets, that of the calibration first.
    ///
    /// ```
    /// assert_eq!(beadchem::method::Method::template()?.coefficients().len(), 1);
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn coefficients(&self) -> &[CoefficientSet] {
        &self.coefficients
    }

    /// The calibration.
    ///
    /// ```
    /// assert_eq!(beadchem::method::Method::template()?.calibration().sensitivities().len(), 3);
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn calibration(&self) -> &Calibration {
        &self.calibration
    }

    /// The overlaps.
    ///
    /// ```
    /// assert!(beadchem::method::Method::template()?.overlaps().is_empty());
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn overlaps(&self) -> &[Overlap] {
        &self.overlaps
    }

    /// The dead time of the counter.
    ///
    /// ```
    /// assert!(beadchem::method::Method::template()?.counter().is_none());
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn counter(&self) -> Option<&DeadTime> {
        self.dead_time.as_ref()
    }

    /// The internal standard.
    ///
    /// ```
    /// assert!(beadchem::method::Method::template()?.standard().is_none());
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn standard(&self) -> Option<&InternalStandard> {
        self.standard.as_ref()
    }

    /// What is solved for and not reported.
    ///
    /// ```
    /// assert!(beadchem::method::Method::template()?.unreported().is_empty());
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn unreported(&self) -> &[Formula] {
        &self.not_reported
    }

    /// The analytes that are reported, in the order of the coefficients' lines; an internal standard is none.
    ///
    /// ```
    /// assert_eq!(beadchem::method::Method::template()?.analytes(), ["CaO", "MgO", "SiO2"]);
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn analytes(&self) -> Vec<&str> {
        let set = &self.coefficients[0];
        let standard = self.standard.as_ref().map(|standard| standard.line().as_str());
        let lines = set.lines().iter().filter(|line| Some(line.line.as_str()) != standard);
        let analytes = lines.map(|line| set.components()[line.analyte].text());
        analytes.filter(|analyte| self.not_reported.iter().all(|held| held.text() != *analyte)).collect()
    }

    /// All lines that a bead is measured on: those of the coefficients, then those that only overlaps need.
    ///
    /// ```
    /// assert_eq!(beadchem::method::Method::template()?.lines(), ["Ca Ka", "Mg Ka", "Si Ka"]);
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn lines(&self) -> Vec<&str> {
        let mut lines: Vec<&str> = self.coefficients[0].lines().iter().map(|line| line.line.as_str()).collect();
        for line in self.overlaps.iter().flat_map(|overlap| [overlap.on(), overlap.from()]).map(LineName::as_str) {
            if !lines.contains(&line) {
                lines.push(line);
            }
        }
        lines
    }

    /// The coefficient set of a class, the first where none is named.
    ///
    /// # Errors
    /// `word.unknown`; the message lists the names.
    pub(crate) fn set(&self, class: Option<&str>) -> Result<&CoefficientSet> {
        let Some(class) = class else { return Ok(&self.coefficients[0]) };
        let names: Vec<&str> = self.coefficients.iter().map(|set| set.label().name()).collect();
        let found = names.iter().position(|name| *name == class);
        found.map(|place| &self.coefficients[place]).ok_or_else(|| Error::word("Class of coefficients", class, &names))
    }

    /// The same coefficients, overlaps and internal standard with a calibration.
    pub(crate) fn calibrated(&self, label: Label, calibration: Calibration) -> Result<Self> {
        let made = Method::new(label, self.coefficients[0].clone(), calibration)?;
        Ok(Self { label: made.label, calibration: made.calibration, ..self.clone() })
    }

    /// The line an analyte is measured on.
    pub(crate) fn line_of(&self, species: &str) -> Option<&str> {
        let set = &self.coefficients[0];
        let found = set.lines().iter().find(|line| set.components()[line.analyte].text() == species);
        found.map(|line| line.line.as_str())
    }

    /// The component of a set with the atoms of a formula.
    pub(crate) fn component(&self, formula: &Formula) -> Result<usize> {
        self.coefficients[0].component_index(formula.text())
    }
}
