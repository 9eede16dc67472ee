//! The form in which results are asked for.

use crate::charge::fate::usual_form;
use crate::code::Code;
use crate::composition::Composition;
use crate::error::{Error, Result};
use crate::substance::{Element, Formula};

/// In which form results are asked for.
///
/// ```
/// use beadchem::charge::Form;
/// assert_eq!(Form::from_word("elements")?, Form::Elements);
/// # Ok::<(), beadchem::Error>(())
/// ```
#[derive(Debug, Clone, PartialEq, Default)]
#[non_exhaustive]
pub enum Form {
    /// As the readings are written.
    #[default]
    AsRead,
    /// As elements.
    Elements,
    /// As the usual oxides of a glass (halogens as themselves).
    Oxides,
    /// As these species, each taken for the reading with the same element.
    Species(Vec<Formula>),
}

impl Form {
    /// "as read", "elements" or "oxides".
    ///
    /// # Errors
    /// `word.unknown`; the message lists the words.
    ///
    /// ```
    /// assert!(beadchem::charge::Form::from_word("minerals").is_err());
    /// ```
    pub fn from_word(word: &str) -> Result<Self> {
        match word {
            "as read" => Ok(Form::AsRead),
            "elements" => Ok(Form::Elements),
            "oxides" => Ok(Form::Oxides),
            other => Err(Error::word("Form", other, &["as read", "elements", "oxides"])),
        }
    }

    /// Refuses a list that names a species for no reading, or two for one.
    pub(crate) fn check(&self, readings: &Composition) -> Result<()> {
        let Form::Species(list) = self else { return Ok(()) };
        for (index, species) in list.iter().enumerate() {
            let read = readings.entries().iter().any(|entry| entry.species.key() == species.key());
            let twice = list[..index].iter().any(|earlier| earlier.key() == species.key());
            if species.key().is_none() || !read || twice {
                let why = if twice { "is the second form asked for one element" } else { "was not read in the glass" };
                return Err(Error::Conflict {
                    code: Code::SpeciesUnknown,
                    detail: format!("{species} {why}."),
                    hint: "Name one species for each reading whose form is to change.".to_owned(),
                });
            }
        }
        Ok(())
    }

    /// The species a reading without a value is listed as.
    pub(crate) fn target_of(&self, reading: &Formula) -> Result<Formula> {
        match reading.key() {
            Some(element) => self.target(reading, element),
            None => Ok(reading.clone()),
        }
    }

    pub(crate) fn target(&self, reading: &Formula, element: Element) -> Result<Formula> {
        match self {
            Form::AsRead => Ok(reading.clone()),
            Form::Elements => Formula::of(&[(element, 1.0)]),
            // a reading that is an oxide already keeps its own (MnO, Mn3O4), an element gets the usual one
            Form::Oxides if reading.count(Element::O) > 0.0 => Ok(reading.clone()),
            Form::Oxides => usual_form(element),
            Form::Species(list) => {
                Ok(list.iter().find(|species| species.key() == Some(element)).unwrap_or(reading).clone())
            }
        }
    }
}
