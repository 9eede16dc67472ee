//! What a set of influence coefficients holds, place by place.

use crate::code::Code;
use crate::error::{Error, Result};
use crate::matrix::coefficients::{CoefficientSet, Derivation, InfluenceLine, Label};
use crate::matrix::conditions::{Conditions, same_atoms};
use crate::substance::Formula;

impl CoefficientSet {
    /// Name, version and source.
    ///
    /// ```
    /// # use beadchem::matrix::{CoefficientSet, Conditions, Derivation, Influence, Label};
    /// # let label = Label::new("sand", "1", "invented for this example")?;
    /// # let row = [Influence::new("Si Ka", "SiO2", [0.28, 0.52]).with_u([0.01, 0.02])];
    /// # let made_for = Conditions::new(5.0)?;
    /// # let set = CoefficientSet::new(label, Derivation::Fitted, made_for, ["SiO2", "Fe2O3"], row)?;
    /// assert_eq!(set.label().name(), "sand");
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn label(&self) -> &Label {
        &self.label
    }

    /// How the coefficients came about.
    ///
    /// ```
    /// # use beadchem::matrix::{CoefficientSet, Conditions, Derivation, Influence, Label};
    /// # let label = Label::new("sand", "1", "invented for this example")?;
    /// # let row = [Influence::new("Si Ka", "SiO2", [0.28, 0.52]).with_u([0.01, 0.02])];
    /// # let made_for = Conditions::new(5.0)?;
    /// # let set = CoefficientSet::new(label, Derivation::Fitted, made_for, ["SiO2", "Fe2O3"], row)?;
    /// assert_eq!(set.derivation().to_string(), "fitted to standards");
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn derivation(&self) -> Derivation {
        self.derivation
    }

    /// For which beads they were made.
    ///
    /// ```
    /// # use beadchem::matrix::{CoefficientSet, Conditions, Derivation, Influence, Label};
    /// # let label = Label::new("sand", "1", "invented for this example")?;
    /// # let row = [Influence::new("Si Ka", "SiO2", [0.28, 0.52]).with_u([0.01, 0.02])];
    /// # let made_for = Conditions::new(5.0)?;
    /// # let set = CoefficientSet::new(label, Derivation::Fitted, made_for, ["SiO2", "Fe2O3"], row)?;
    /// assert!(set.conditions().blend().is_empty());
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn conditions(&self) -> &Conditions {
        &self.conditions
    }

    /// The reference ratio F0, g of fused flux per g of sample as weighed.
    ///
    /// ```
    /// # use beadchem::matrix::{CoefficientSet, Conditions, Derivation, Influence, Label};
    /// # let label = Label::new("sand", "1", "invented for this example")?;
    /// # let row = [Influence::new("Si Ka", "SiO2", [0.28, 0.52]).with_u([0.01, 0.02])];
    /// # let made_for = Conditions::new(5.0)?;
    /// # let set = CoefficientSet::new(label, Derivation::Fitted, made_for, ["SiO2", "Fe2O3"], row)?;
    /// assert_eq!(set.fused_flux_ratio(), 5.0);
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn fused_flux_ratio(&self) -> f64 {
        self.conditions.fused_flux_ratio
    }

    /// Everything that influences: analytes, and what stays in the glass without being measured.
    ///
    /// ```
    /// # use beadchem::matrix::{CoefficientSet, Conditions, Derivation, Influence, Label};
    /// # let label = Label::new("sand", "1", "invented for this example")?;
    /// # let row = [Influence::new("Si Ka", "SiO2", [0.28, 0.52]).with_u([0.01, 0.02])];
    /// # let made_for = Conditions::new(5.0)?;
    /// # let set = CoefficientSet::new(label, Derivation::Fitted, made_for, ["SiO2", "Fe2O3"], row)?;
    /// assert_eq!(set.components()[1].text(), "Fe2O3");
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn components(&self) -> &[Formula] {
        &self.components
    }

    /// The lines, in the order of the rows.
    ///
    /// ```
    /// # use beadchem::matrix::{CoefficientSet, Conditions, Derivation, Influence, Label};
    /// # let label = Label::new("sand", "1", "invented for this example")?;
    /// # let row = [Influence::new("Si Ka", "SiO2", [0.28, 0.52]).with_u([0.01, 0.02])];
    /// # let made_for = Conditions::new(5.0)?;
    /// # let set = CoefficientSet::new(label, Derivation::Fitted, made_for, ["SiO2", "Fe2O3"], row)?;
    /// assert_eq!((set.lines()[0].line.as_str(), set.lines()[0].analyte), ("Si Ka", 0));
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn lines(&self) -> &[InfluenceLine] {
        &self.lines
    }

    /// The coefficients of a line, in the order of the components; empty where there is no such line.
    ///
    /// ```
    /// # use beadchem::matrix::{CoefficientSet, Conditions, Derivation, Influence, Label};
    /// # let label = Label::new("sand", "1", "invented for this example")?;
    /// # let row = [Influence::new("Si Ka", "SiO2", [0.28, 0.52]).with_u([0.01, 0.02])];
    /// # let made_for = Conditions::new(5.0)?;
    /// # let set = CoefficientSet::new(label, Derivation::Fitted, made_for, ["SiO2", "Fe2O3"], row)?;
    /// assert_eq!(set.row(0), [0.28, 0.52]);
    /// assert!(set.row(1).is_empty());
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn row(&self, line: usize) -> &[f64] {
        self.coefficients.chunks_exact(self.components.len()).nth(line).unwrap_or_default()
    }

    /// The standard uncertainties of the coefficients of a line, where they are stated.
    ///
    /// ```
    /// # use beadchem::matrix::{CoefficientSet, Conditions, Derivation, Influence, Label};
    /// # let label = Label::new("sand", "1", "invented for this example")?;
    /// # let row = [Influence::new("Si Ka", "SiO2", [0.28, 0.52]).with_u([0.01, 0.02])];
    /// # let made_for = Conditions::new(5.0)?;
    /// # let set = CoefficientSet::new(label, Derivation::Fitted, made_for, ["SiO2", "Fe2O3"], row)?;
    /// assert_eq!(set.u_row(0), Some([0.01, 0.02].as_slice()));
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn u_row(&self, line: usize) -> Option<&[f64]> {
        self.u.get(line)?.as_deref()
    }

    /// The place of a component, by its formula in any spelling of the same atoms.
    ///
    /// # Errors
    /// Those of [`Formula::parse`]; `species.unknown`, with the components there are.
    ///
    /// ```
    /// # use beadchem::matrix::{CoefficientSet, Conditions, Derivation, Influence, Label};
    /// # let label = Label::new("sand", "1", "invented for this example")?;
    /// # let row = [Influence::new("Si Ka", "SiO2", [0.28, 0.52]).with_u([0.01, 0.02])];
    /// # let made_for = Conditions::new(5.0)?;
    /// # let set = CoefficientSet::new(label, Derivation::Fitted, made_for, ["SiO2", "Fe2O3"], row)?;
    /// assert_eq!(set.component_index("Fe2O3")?, 1);
    /// assert!(set.component_index("CaO").unwrap_err().hint().contains("SiO2, Fe2O3"));
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    pub fn component_index(&self, component: &str) -> Result<usize> {
        let asked = Formula::parse(component)?;
        self.components.iter().position(|known| same_atoms(known, &asked)).ok_or_else(|| Error::Unknown {
            code: Code::SpeciesUnknown,
            what: format!("Component of the influence coefficients {}", self.label.name()),
            given: component.to_owned(),
            hint: format!("Its components are: {}.", self.component_texts().collect::<Vec<_>>().join(", ")),
        })
    }

    /// The place of a line by its name.
    ///
    /// # Errors
    /// `line.name`, with the lines there are.
    ///
    /// ```
    /// # use beadchem::matrix::{CoefficientSet, Conditions, Derivation, Influence, Label};
    /// # let label = Label::new("sand", "1", "invented for this example")?;
    /// # let row = [Influence::new("Si Ka", "SiO2", [0.28, 0.52]).with_u([0.01, 0.02])];
    /// # let made_for = Conditions::new(5.0)?;
    /// # let set = CoefficientSet::new(label, Derivation::Fitted, made_for, ["SiO2", "Fe2O3"], row)?;
    /// assert_eq!(set.line_index("Si Ka")?, 0);
    /// assert!(set.line_index("Fe Ka").is_err());
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    pub fn line_index(&self, line: &str) -> Result<usize> {
        self.lines.iter().position(|known| known.line == line).ok_or_else(|| Error::Unknown {
            code: Code::LineName,
            what: format!("Line of the influence coefficients {}", self.label.name()),
            given: line.to_owned(),
            hint: format!(
                "Its lines are: {}.",
                self.lines.iter().map(|known| known.line.as_str()).collect::<Vec<_>>().join(", ")
            ),
        })
    }
}
