//! The bead at which coefficients are computed.

use crate::error::{Result, finite, within};

/// A flux ratio and the contents of all components, with the ranges for which coefficients made there are to hold.
///
/// ```
/// let bead = beadchem::matrix::ReferenceBead::new(10.0, [0.86, 0.05])?.with_range("Fe2O3", 0.7, 0.97);
/// assert_eq!((bead.ratio(), bead.contents()), (10.0, &[0.86, 0.05][..]));
/// # Ok::<(), beadchem::Error>(())
/// ```
#[derive(Debug, Clone, PartialEq)]
pub struct ReferenceBead {
    ratio: f64,
    contents: Vec<f64>,
    ranges: Vec<(String, f64, f64)>,
}

impl ReferenceBead {
    /// Fused flux, g per g of sample as weighed, and contents of the components in their order, in the same unit.
    ///
    /// # Errors
    /// `number.not-finite`; `number.out-of-range` for a ratio below 0.01 or a content below 0.
    ///
    /// ```
    /// use beadchem::matrix::ReferenceBead;
    /// assert!(ReferenceBead::new(0.0, [0.5]).is_err() && ReferenceBead::new(5.0, [-0.5]).is_err());
    /// ```
    pub fn new(ratio: f64, contents: impl Into<Vec<f64>>) -> Result<Self> {
        let contents = contents.into();
        let hint = "It is the mass of fused flux for each gram of sample.";
        finite("Fused flux ratio of a reference bead", ratio)?;
        within("Fused flux ratio of a reference bead,", ratio, "", [0.01, 1000.0], "0.01 to 1000", hint)?;
        for &content in &contents {
            finite("Content of a reference bead", content)?;
            let hint = "A glass cannot hold less than nothing.";
            within("Content of a reference bead,", content, "g/g", [0.0, 5.0], "0 to 5 g/g", hint)?;
        }
        Ok(Self { ratio, contents, ranges: Vec::new() })
    }

    /// With the range of a component, g per g of sample, for which coefficients made at this bead are to hold.
    ///
    /// ```
    /// let bead = beadchem::matrix::ReferenceBead::new(10.0, [0.86])?.with_range("Fe2O3", 0.7, 0.97);
    /// assert_eq!(bead.ranges().len(), 1);
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn with_range(mut self, component: &str, low: f64, high: f64) -> Self {
        self.ranges.push((component.to_owned(), low, high));
        self
    }

    /// Fused flux, g per g of sample.
    ///
    /// ```
    /// assert_eq!(beadchem::matrix::ReferenceBead::new(10.0, [0.86])?.ratio(), 10.0);
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn ratio(&self) -> f64 {
        self.ratio
    }

    /// Contents, g per g of sample.
    ///
    /// ```
    /// assert_eq!(beadchem::matrix::ReferenceBead::new(10.0, [0.86])?.contents(), [0.86]);
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn contents(&self) -> &[f64] {
        &self.contents
    }

    /// The ranges stated.
    ///
    /// ```
    /// assert!(beadchem::matrix::ReferenceBead::new(10.0, [0.86])?.ranges().is_empty());
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn ranges(&self) -> &[(String, f64, f64)] {
        &self.ranges
    }
}

/// Names that were given, and what they stand for.
pub(super) mod given {
    use crate::code::Code;
    use crate::error::{Error, Result};
    use crate::matrix::LineName;
    use crate::substance::Formula;

    /// The place of a component.
    pub(crate) fn component(components: &[Formula], name: &str) -> Result<usize> {
        components.iter().position(|known| known.text() == name).ok_or_else(|| {
            let known: Vec<&str> = components.iter().map(Formula::text).collect();
            Error::Unknown {
                code: Code::SpeciesUnknown,
                what: "Component".to_owned(),
                given: name.to_owned(),
                hint: format!("The components are: {}.", known.join(", ")),
            }
        })
    }

    /// The place of the component that a line measures.
    pub(crate) fn analyte(components: &[Formula], line: &str, name: &str) -> Result<usize> {
        let place = component(components, name)?;
        if components[place].count(LineName::parse(line)?.element()) > 0.0 {
            return Ok(place);
        }
        Err(Error::Conflict {
            code: Code::LineName,
            detail: format!("{name} does not hold the element of its line {line}."),
            hint: "Name the component that the line measures.".to_owned(),
        })
    }

    /// The place of a line.
    pub(crate) fn line(lines: &[(String, usize)], name: &str) -> Result<usize> {
        lines.iter().position(|known| known.0 == name).ok_or_else(|| {
            let known: Vec<&str> = lines.iter().map(|line| line.0.as_str()).collect();
            Error::Unknown {
                code: Code::LineNotTabulated,
                what: "Among the lines of this theory the line".to_owned(),
                given: name.to_owned(),
                hint: format!("They are: {}.", known.join(", ")),
            }
        })
    }
}
