//! Influence coefficients in the loss-free form, as data with the conditions they were made under.

use crate::code::Code;
use crate::error::{Error, Result, finite, within};
use crate::matrix::LineName;
use crate::matrix::conditions::{Conditions, doubled, same_atoms};
use crate::substance::Formula;

/// What identifies a set: its name, its version, and where the numbers come from.
///
/// ```
/// let label = beadchem::matrix::Label::new("iron ore", "1", "computed from first principles, 2026-03-04")?;
/// assert_eq!((label.name(), label.version()), ("iron ore", "1"));
/// # Ok::<(), beadchem::Error>(())
/// ```
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Label {
    name: String,
    version: String,
    source: String,
}

impl Label {
    /// A label; blanks at the ends of the three texts are taken off.
    ///
    /// # Errors
    /// `coefficients.unsourced` where one of the three is empty.
    ///
    /// ```
    /// assert!(beadchem::matrix::Label::new("iron ore", "1", " ").is_err());
    /// ```
    pub fn new(name: &str, version: &str, source: &str) -> Result<Self> {
        for (what, text) in [("name", name), ("version", version), ("source", source)] {
            if text.trim().is_empty() {
                return Err(Error::Unstated {
                    code: Code::CoefficientsUnsourced,
                    quantity: format!("The {what} of a set of influence coefficients"),
                    hint: "A result is traced to the numbers it was corrected with: state all three.".to_owned(),
                });
            }
        }
        let [name, version, source] = [name, version, source].map(|text| text.trim().to_owned());
        Ok(Self { name, version, source })
    }

    /// The name of the set.
    ///
    /// ```
    /// assert_eq!(beadchem::matrix::Label::new("iron ore", "1", "own fit")?.name(), "iron ore");
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn name(&self) -> &str {
        &self.name
    }

    /// The version of the set.
    ///
    /// ```
    /// assert_eq!(beadchem::matrix::Label::new("iron ore", "1", "own fit")?.version(), "1");
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn version(&self) -> &str {
        &self.version
    }

    /// Where the numbers come from.
    ///
    /// ```
    /// assert_eq!(beadchem::matrix::Label::new("iron ore", "1", "own fit")?.source(), "own fit");
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn source(&self) -> &str {
        &self.source
    }
}

/// How coefficients came about.
///
/// ```
/// use beadchem::matrix::Derivation;
/// assert_eq!(Derivation::Binary { content: 0.5 }.to_string(), "binary at 0.5 g/g");
/// ```
#[derive(Debug, Clone, Copy, PartialEq, serde::Serialize, serde::Deserialize)]
#[serde(tag = "kind", rename_all = "kebab-case", deny_unknown_fields)]
pub enum Derivation {
    /// The derivative of content over intensity at the centroid.
    Centroid,
    /// From pairs of two components under a tube spectrum: such coefficients change with composition.
    Binary {
        /// The content of the influencing component, g/g.
        content: f64,
    },
    /// Excited by one energy, without enhancement: constant, whatever the composition.
    Monochromatic,
    /// Fitted to standards.
    Fitted,
    /// Taken over as stated by somebody, who did not say how.
    Stated,
}

impl Derivation {
    /// "centroid", "monochromatic", "fitted", "stated", or "binary" with the content (g/g) of the influencing component.
    ///
    /// # Errors
    /// `word.unknown`; `coefficients.binary-content` for "binary" without its content, or a content beside another word.
    ///
    /// ```
    /// use beadchem::matrix::Derivation;
    /// assert_eq!(Derivation::from_word("binary", Some(0.5))?, Derivation::Binary { content: 0.5 });
    /// assert!(Derivation::from_word("binary", None).is_err() && Derivation::from_word("fitted", Some(0.5)).is_err());
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    pub fn from_word(word: &str, binary: Option<f64>) -> Result<Self> {
        const WORDS: [&str; 5] = ["centroid", "binary", "monochromatic", "fitted", "stated"];
        let plain = match (word, binary) {
            ("binary", Some(content)) => return Ok(Self::Binary { content }),
            ("binary", None) => {
                return Err(Error::Unstated {
                    code: Code::BinaryContent,
                    quantity: "The content at which binary coefficients were made".to_owned(),
                    hint: "They change with composition: say at which content of the influencing component.".to_owned(),
                });
            }
            ("centroid", _) => Self::Centroid,
            ("monochromatic", _) => Self::Monochromatic,
            ("fitted", _) => Self::Fitted,
            ("stated", _) => Self::Stated,
            _ => return Err(Error::word("Derivation of coefficients", word, &WORDS)),
        };
        match binary {
            None => Ok(plain),
            Some(content) => Err(Error::Conflict {
                code: Code::BinaryContent,
                detail: format!("A binary content of {content} g/g was given for coefficients of derivation {word}."),
                hint: "Only binary coefficients are made at one; leave it out, or say binary.".to_owned(),
            }),
        }
    }
}

impl core::fmt::Display for Derivation {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        match self {
            Self::Centroid => f.write_str("derivative at the centroid"),
            Self::Binary { content } => write!(f, "binary at {content} g/g"),
            Self::Monochromatic => f.write_str("monochromatic excitation"),
            Self::Fitted => f.write_str("fitted to standards"),
            Self::Stated => f.write_str("stated"),
        }
    }
}

/// The coefficients of one line as they are entered: one for each component, in the order of the components.
///
/// ```
/// use beadchem::matrix::Influence;
/// let row = Influence::new("Fe Ka", "Fe2O3", [0.6, 0.2]).with_u([0.01, 0.01]).with_sensitivity(2.5e-10);
/// assert_eq!(row, Influence::new("Fe Ka", "Fe2O3", vec![0.6, 0.2]).with_u([0.01, 0.01]).with_sensitivity(2.5e-10));
/// ```
#[derive(Debug, Clone, PartialEq)]
pub struct Influence {
    pub(super) line: String,
    pub(super) analyte: String,
    pub(super) coefficients: Vec<f64>,
    pub(super) u: Option<Vec<f64>>,
    pub(super) sensitivity: Option<f64>,
}

impl Influence {
    /// The row of a line ("Fe Ka") that measures an analyte ("Fe2O3").
    ///
    /// ```
    /// let row = beadchem::matrix::Influence::new("Si Ka", "SiO2", [0.28]);
    /// assert_eq!(row.clone(), row);
    /// ```
    #[must_use]
    pub fn new(line: impl Into<String>, analyte: impl Into<String>, coefficients: impl Into<Vec<f64>>) -> Self {
        let (line, analyte, coefficients) = (line.into(), analyte.into(), coefficients.into());
        Self { line, analyte, coefficients, u: None, sensitivity: None }
    }

    /// With standard uncertainties, one for each coefficient.
    ///
    /// ```
    /// use beadchem::matrix::Influence;
    /// assert_ne!(Influence::new("Si Ka", "SiO2", [0.28]).with_u([0.01]), Influence::new("Si Ka", "SiO2", [0.28]));
    /// ```
    #[must_use]
    pub fn with_u(mut self, u: impl Into<Vec<f64>>) -> Self {
        self.u = Some(u.into());
        self
    }

    /// With the sensitivity k, content per intensity in the units of the source.
    ///
    /// ```
    /// use beadchem::matrix::Influence;
    /// let row = Influence::new("Si Ka", "SiO2", [0.28]);
    /// assert_ne!(row.clone().with_sensitivity(1e-9), row);
    /// ```
    #[must_use]
    pub fn with_sensitivity(mut self, sensitivity: f64) -> Self {
        self.sensitivity = Some(sensitivity);
        self
    }
}

/// A line of a set: what it is called, and which component it measures.
///
/// ```
/// let line = beadchem::matrix::InfluenceLine { line: "Fe Ka".to_owned(), analyte: 0, sensitivity: None };
/// assert_eq!(line.analyte, 0);
/// ```
#[derive(Debug, Clone, PartialEq)]
pub struct InfluenceLine {
    /// The name, "Fe Ka".
    pub line: String,
    /// Place of the analyte among the components of the set.
    pub analyte: usize,
    /// The sensitivity k, content per intensity in the units of the source, where it is known.
    pub sensitivity: Option<f64>,
}

/// Influence coefficients `a_ij` of the loss-free form `w_i = k_i I_i (F/F0 + sum_j a_ij w_j)`.
///
/// `w` is g per g of sample as weighed; the sum runs over every component that stays in the glass, the analyte and
/// unmeasured ones (a retained halide, an added oxide) included. What leaves the melt never enters.
///
/// # Source
/// The form follows from homogeneity: the intensity of a thick bead does not change when all masses are scaled alike.
///
/// ```
/// use beadchem::matrix::{CoefficientSet, Conditions, Derivation, Influence, Label};
/// let set = CoefficientSet::new(
///     Label::new("sand", "1", "invented for this example")?,
///     Derivation::Centroid,
///     Conditions::new(5.0)?,
///     ["SiO2", "Fe2O3", "LiBr"],
///     [Influence::new("Si Ka", "SiO2", [0.28, 0.52, 1.1]), Influence::new("Fe Ka", "Fe2O3", [0.1, 0.2, 0.3])],
/// )?;
/// assert_eq!(set.components()[set.lines()[1].analyte].text(), "Fe2O3");
/// assert_eq!(set.row(0), [0.28, 0.52, 1.1]);
/// # Ok::<(), beadchem::Error>(())
/// ```
#[derive(Debug, Clone, PartialEq)]
pub struct CoefficientSet {
    pub(super) label: Label,
    pub(super) derivation: Derivation,
    pub(super) conditions: Conditions,
    pub(super) components: Vec<Formula>,
    pub(super) lines: Vec<InfluenceLine>,
    pub(super) coefficients: Vec<f64>,
    pub(super) u: Vec<Option<Vec<f64>>>,
}

impl CoefficientSet {
    /// A set from its components and the row of each line.
    ///
    /// # Errors
    /// Those of [`Formula::parse`]; `species.doubled`; `species.unknown` where an analyte, a centroid or a range names no
    /// component; `line.name`, also where an analyte does not hold the element of its line; `line.doubled`;
    /// `shape.mismatch` for a row of another length, or no row at all; `number.not-finite`; `number.out-of-range` for a
    /// sensitivity not above 0, for a binary content outside 0 to 1, or for a centroid outside its range;
    /// `uncertainty.negative`.
    ///
    /// ```
    /// use beadchem::matrix::{CoefficientSet, Conditions, Derivation, Influence, Label};
    /// let label = Label::new("sand", "1", "invented for this example")?;
    /// let row = [Influence::new("Si Ka", "SiO2", [0.28])];
    /// let refused = CoefficientSet::new(label, Derivation::Fitted, Conditions::new(5.0)?, ["SiO2", "Fe2O3"], row);
    /// assert_eq!(refused.unwrap_err().code().word(), "shape.mismatch");
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    pub fn new<'a>(
        label: Label,
        derivation: Derivation,
        conditions: Conditions,
        components: impl IntoIterator<Item = &'a str>,
        rows: impl IntoIterator<Item = Influence>,
    ) -> Result<Self> {
        let mut formulas: Vec<Formula> = Vec::new();
        for component in components {
            let formula = Formula::parse(component)?;
            if formulas.iter().any(|known| same_atoms(known, &formula)) {
                return Err(doubled(&formula));
            }
            formulas.push(formula);
        }
        if let Derivation::Binary { content } = derivation {
            let hint = "It is the content of the influencing component in the pair, as a fraction.";
            within("Content of a binary coefficient,", content, "g/g", [f64::MIN_POSITIVE, 1.0], "0 to 1", hint)?;
        }
        let (lines, coefficients, u) = (Vec::new(), Vec::new(), Vec::new());
        let mut set = Self { label, derivation, conditions, components: formulas, lines, coefficients, u };
        set.name_conditions()?;
        rows.into_iter().try_for_each(|row| set.push(row))?;
        if set.lines.is_empty() {
            let hint = "A set holds the coefficients of one line at least.";
            return Err(Error::shape("Lines of a set of influence coefficients", 1, 0, hint));
        }
        Ok(set)
    }

    /// Centroid and ranges name components, from here on in their spelling, and each centroid lies in its range.
    fn name_conditions(&mut self) -> Result<()> {
        let mut conditions = self.conditions.clone();
        let centroid = conditions.centroid.iter_mut().map(|(formula, _)| formula);
        for formula in centroid.chain(conditions.content_ranges.iter_mut().map(|(formula, _)| formula)) {
            *formula = self.components[self.component_index(formula.text())?].clone();
        }
        for (formula, (low, high)) in &conditions.content_ranges {
            if let Some(content) = conditions.centroid_of(formula.text()) {
                let quantity = format!("Content of {formula} at the centroid,");
                let hint = "Coefficients are made inside the range for which they hold.";
                within(&quantity, content, "g/g", [*low, *high], &format!("{low} to {high} g/g"), hint)?;
            }
        }
        self.conditions = conditions;
        Ok(())
    }

    fn push(&mut self, row: Influence) -> Result<()> {
        let element = LineName::parse(&row.line)?.element();
        let analyte = self.component_index(&row.analyte)?;
        if self.components[analyte].count(element) <= 0.0 {
            return Err(Error::Conflict {
                code: Code::LineName,
                detail: format!("{} does not hold the element of its line {}.", row.analyte, row.line),
                hint: "Name the component that the line measures.".to_owned(),
            });
        }
        if let Some(known) = self.lines.iter().find(|known| known.line == row.line || known.analyte == analyte) {
            return Err(Error::Conflict {
                code: Code::LineDoubled,
                detail: format!("{} and {} both measure {}.", known.line, row.line, self.components[known.analyte]),
                hint: "Give each analyte one line and each line one analyte.".to_owned(),
            });
        }
        let hint = "Each line has one coefficient for each component, in the order of the components.";
        let of_row = |what: &str| format!("{what} of {}", row.line);
        let width = self.components.len();
        if row.coefficients.len() != width {
            return Err(Error::shape(&of_row("Coefficients"), width, row.coefficients.len(), hint));
        }
        for (component, &coefficient) in self.components.iter().zip(&row.coefficients) {
            finite(&format!("Coefficient of {component} on {}", row.line), coefficient)?;
        }
        if let Some(u) = &row.u {
            if u.len() != width {
                return Err(Error::shape(&of_row("Uncertainties of the coefficients"), width, u.len(), hint));
            }
            for (component, &u) in self.components.iter().zip(u) {
                uncertainty(&format!("u of the coefficient of {component} on {}", row.line), u)?;
            }
        }
        if let Some(sensitivity) = row.sensitivity {
            let hint = "It is content per intensity; leave it out where it is not known.";
            within(&of_row("Sensitivity"), sensitivity, "", [f64::MIN_POSITIVE, f64::MAX], "above 0", hint)?;
        }
        self.lines.push(InfluenceLine { line: row.line, analyte, sensitivity: row.sensitivity });
        self.coefficients.extend(row.coefficients);
        self.u.push(row.u);
        Ok(())
    }

    /// The rows as they were entered.
    pub(super) fn rows(&self) -> impl Iterator<Item = Influence> + '_ {
        self.lines.iter().enumerate().map(|(index, line)| Influence {
            line: line.line.clone(),
            analyte: self.components[line.analyte].text().to_owned(),
            coefficients: self.row(index).to_vec(),
            u: self.u_row(index).map(<[f64]>::to_vec),
            sensitivity: line.sensitivity,
        })
    }

    pub(super) fn component_texts(&self) -> impl Iterator<Item = &str> {
        self.components.iter().map(Formula::text)
    }

    /// The same coefficients without their uncertainties.
    ///
    /// ```
    /// # use beadchem::matrix::{CoefficientSet, Conditions, Derivation, Influence, Label};
    /// # let label = Label::new("sand", "1", "invented for this example")?;
    /// let row = [Influence::new("Si Ka", "SiO2", [0.28]).with_u([0.01])];
    /// let set = CoefficientSet::new(label, Derivation::Fitted, Conditions::new(5.0)?, ["SiO2"], row)?;
    /// assert_eq!(set.without_u().u_row(0), None);
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn without_u(mut self) -> Self {
        self.u.fill(None);
        self
    }
}

fn uncertainty(quantity: &str, u: f64) -> Result<()> {
    if finite(quantity, u)? >= 0.0 {
        return Ok(());
    }
    Err(Error::OutOfRange {
        code: Code::UncertaintyNegative,
        quantity: quantity.to_owned(),
        value: u,
        unit: "",
        bound: "0 and above".to_owned(),
        hint: "A standard uncertainty is never negative.".to_owned(),
    })
}
