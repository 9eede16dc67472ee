//! Names of spectral lines.

use crate::code::Code;
use crate::error::{Error, Result};
use crate::substance::Element;

/// The name of a line: symbol of the element, one space, the line, as in `Fe Ka`, `Pb Lb1`, `Ba L3-M5`.
///
/// A line has one name wherever it is used: names are compared as texts, `Fe Ka` and `Fe K-L3` are two.
///
/// ```
/// use beadchem::matrix::LineName;
/// let line = LineName::parse("Fe Ka")?;
/// assert_eq!((line.element().symbol(), line.as_str()), ("Fe", "Fe Ka"));
/// # Ok::<(), beadchem::Error>(())
/// ```
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct LineName {
    element: Element,
    text: String,
}

impl LineName {
    /// Reads a name; nothing is guessed, so that one line never goes by two names.
    ///
    /// # Errors
    /// `line.name`; the message shows the form.
    ///
    /// ```
    /// let refused = beadchem::matrix::LineName::parse("FeKa").unwrap_err();
    /// assert!(refused.to_string().contains("symbol, one space, line"));
    /// ```
    pub fn parse(text: &str) -> Result<Self> {
        let (symbol, line) = text.split_once(' ').ok_or_else(|| unreadable(text, ""))?;
        let element = Element::from_symbol(symbol)
            .map_err(|_| unreadable(text, &format!("`{symbol}` is not the symbol of an element. ")))?;
        if is_line(line) {
            return Ok(Self { element, text: text.to_owned() });
        }
        Err(unreadable(text, &format!("`{line}` is not a line of the K, L or M series. ")))
    }

    /// The name as given.
    ///
    /// ```
    /// assert_eq!(beadchem::matrix::LineName::parse("Pb Lb1")?.as_str(), "Pb Lb1");
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn as_str(&self) -> &str {
        &self.text
    }

    /// The element that emits it.
    ///
    /// ```
    /// assert_eq!(beadchem::matrix::LineName::parse("Pb Lb1")?.element().number(), 82);
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn element(&self) -> Element {
        self.element
    }
}

impl core::fmt::Display for LineName {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        f.write_str(&self.text)
    }
}

/// The shell K, L or M with the Siegbahn letter and number (`Ka`, `Kb1,3`, `Lb1`), or in IUPAC notation (`K-L3`, `L3-M5`).
fn is_line(line: &str) -> bool {
    let Some(rest) = line.strip_prefix(['K', 'L', 'M']) else { return false };
    let numbers = |text: &str| text.chars().all(|sign| sign.is_ascii_digit() || sign == ',');
    match rest.split_once('-') {
        Some((from, to)) => numbers(from) && to.strip_prefix(['L', 'M', 'N', 'O']).is_some_and(numbers),
        None => rest.strip_prefix(|letter: char| letter.is_ascii_lowercase()).is_some_and(numbers),
    }
}

fn unreadable(text: &str, why: &str) -> Error {
    Error::Unknown {
        code: Code::LineName,
        what: "Line".to_owned(),
        given: text.to_owned(),
        hint: format!("{why}Write symbol, one space, line, in plain letters: Fe Ka, Si Ka, Pb Lb1, Ba La, Br La."),
    }
}
