//! Chemical formulas: what atoms a substance holds, and how many of each.

use crate::code::Code;
use crate::error::{Error, Result};
use crate::finding::Finding;
use crate::substance::Element;
use crate::substance::reader;

/// A substance as a list of atoms and their numbers.
///
/// Read are: element symbols with counts, nested `()` and `[]`, fractional counts, Unicode subscripts, a multiplier
/// before a part, and parts joined by a middle dot `·` or `*`. A plain `.` is read as a joint or as a decimal mark by
/// what stands around it; where both could be meant the choice is a finding.
///
/// ```
/// use beadchem::substance::{Element, Formula};
/// let gypsum = Formula::parse("CaSO4·2H2O")?;
/// assert_eq!(gypsum.count(Element::O), 6.0);
/// assert_eq!(Formula::parse("Ca₅(PO₄)₃F")?.count(Element::O), 12.0);
/// # Ok::<(), beadchem::Error>(())
/// ```
#[derive(Debug, Clone, PartialEq)]
pub struct Formula {
    text: String,
    atoms: Vec<(Element, f64)>,
    water: f64,
    findings: Vec<Finding>,
}

impl Formula {
    /// Reads a formula.
    ///
    /// # Errors
    /// `formula.syntax`, `formula.element-unknown`, `formula.ambiguous`, with the position counted in characters
    /// from 1.
    ///
    /// ```
    /// use beadchem::substance::Formula;
    /// let refused = Formula::parse("CuS04").unwrap_err();
    /// assert!(refused.to_string().starts_with("`CuS04`: position 4 is the digit 0 where oxygen O was expected."));
    /// ```
    pub fn parse(text: &str) -> Result<Self> {
        let trimmed = text.trim();
        let reading = if trimmed.chars().any(char::is_alphabetic) && !trimmed.chars().any(char::is_uppercase) {
            reader::any_case(trimmed)?
        } else {
            reader::exact(trimmed)?
        };
        Ok(Self { text: trimmed.to_owned(), atoms: reading.atoms, water: reading.water, findings: reading.findings })
    }

    /// A formula from atoms and counts, written in the order given; an element given twice is added up.
    ///
    /// # Errors
    /// `formula.syntax` where there is no atom or a count is not above zero.
    ///
    /// ```
    /// use beadchem::substance::{Element, Formula};
    /// let silica = Formula::of(&[(Element::from_symbol("Si")?, 1.0), (Element::O, 2.0)])?;
    /// assert_eq!(silica.text(), "SiO2");
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    pub fn of(atoms: &[(Element, f64)]) -> Result<Self> {
        let mut each_once = Vec::new();
        reader::merge(&mut each_once, atoms, 1.0);
        let written = |(element, count): &(Element, f64)| {
            if *count == 1.0 { element.symbol().to_owned() } else { format!("{}{count}", element.symbol()) }
        };
        let text: String = each_once.iter().map(written).collect();
        // `Si2.5H2O` would be read back as a hydrate
        let text = match (text.strip_suffix("H2O"), each_once.as_slice()) {
            (Some(head), [.., (_, count), _, _]) if *count > 1.0 && count.fract() != 0.0 => format!("{head}(H2O)"),
            _ => text,
        };
        match atoms.iter().position(|(_, count)| !(count.is_finite() && *count > 0.0)) {
            None if !atoms.is_empty() => Ok(Self { text, atoms: each_once, water: 0.0, findings: Vec::new() }),
            index => Err(Error::Formula {
                code: Code::FormulaSyntax,
                text,
                position: index.map_or(1, |index| index + 1),
                found: "holds no atom with a count above zero".to_owned(),
                hint: "Give at least one element with a positive count.".to_owned(),
            }),
        }
    }

    /// The text as given, without outer blanks.
    ///
    /// ```
    /// assert_eq!(beadchem::substance::Formula::parse(" SiO2 ")?.text(), "SiO2");
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn text(&self) -> &str {
        &self.text
    }

    /// Atoms and counts, each element once, in the order in which it first occurs.
    ///
    /// ```
    /// assert_eq!(beadchem::substance::Formula::parse("CH3COOH")?.atoms().len(), 3);
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn atoms(&self) -> &[(Element, f64)] {
        &self.atoms
    }

    /// How many atoms of an element there are; 0 where it is not in the formula.
    ///
    /// ```
    /// use beadchem::substance::{Element, Formula};
    /// assert_eq!(Formula::parse("Fe0.95O")?.count(Element::from_symbol("Fe")?), 0.95);
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn count(&self, element: Element) -> f64 {
        self.atoms.iter().find(|(known, _)| *known == element).map_or(0.0, |(_, count)| *count)
    }

    /// Molecules of hydrate water: joined by a dot, or in brackets of their own; 0 where the text names none.
    ///
    /// ```
    /// use beadchem::substance::Formula;
    /// assert_eq!(Formula::parse("CaSO4·2H2O")?.hydrate_water(), 2.0);
    /// assert_eq!(Formula::parse("CaSO4(H2O)2")?.hydrate_water(), 2.0);
    /// assert_eq!(Formula::parse("Al(OH)3")?.hydrate_water(), 0.0);
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn hydrate_water(&self) -> f64 {
        self.water
    }

    /// What was assumed in reading: a dot, unusual capitals.
    ///
    /// ```
    /// let soda = beadchem::substance::Formula::parse("Na2CO3.10H2O")?;
    /// assert_eq!(soda.findings()[0].code.word(), "formula.dot-assumed");
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn findings(&self) -> &[Finding] {
        &self.findings
    }

    /// The one element beside oxygen and hydrogen, where there is exactly one: the element an oxide stands for.
    ///
    /// For a substance of oxygen and hydrogen alone it is hydrogen, then oxygen.
    ///
    /// ```
    /// use beadchem::substance::Formula;
    /// assert_eq!(Formula::parse("Fe2O3")?.key().map(|e| e.symbol()), Some("Fe"));
    /// assert_eq!(Formula::parse("H2O")?.key().map(|e| e.symbol()), Some("H"));
    /// assert_eq!(Formula::parse("CaCO3")?.key(), None);
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn key(&self) -> Option<Element> {
        let mut others = self.atoms.iter().filter(|(e, _)| *e != Element::O && *e != Element::H);
        match (others.next(), others.next()) {
            (Some((element, _)), None) => Some(*element),
            (None, _) if self.count(Element::H) > 0.0 => Some(Element::H),
            (None, _) => Some(Element::O),
            _ => None,
        }
    }
}

impl core::fmt::Display for Formula {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        f.write_str(&self.text)
    }
}

impl core::str::FromStr for Formula {
    type Err = Error;
    fn from_str(text: &str) -> Result<Self> {
        Self::parse(text)
    }
}
