//! Names of X-ray lines: an element and its transition, "Fe Ka", "Pb Lb1".

use crate::code::Code;
use crate::error::{Error, Result};
use crate::substance::Element;

/// The element of a line named as "Fe Ka": a symbol, one blank, the shell K, L or M, one small letter, digits or none.
pub(crate) fn line_element(name: &str) -> Result<Element> {
    let refused = |found: String| Error::Formula {
        code: Code::LineName,
        text: name.to_owned(),
        position: 1,
        found,
        hint: "Write the element, a blank and the line, as Fe Ka or Pb Lb1.".to_owned(),
    };
    let Some((symbol, transition)) = name.split_once(' ') else {
        return Err(refused("begins a name without a blank between element and line".to_owned()));
    };
    let element = Element::from_symbol(symbol).map_err(|_| refused(format!("begins `{symbol}`, no element")))?;
    let mut letters = transition.chars();
    let shell = matches!(letters.next(), Some('K' | 'L' | 'M'));
    let family = letters.next().is_some_and(|letter| letter.is_ascii_lowercase());
    if shell && family && letters.all(|letter| letter.is_ascii_digit()) {
        return Ok(element);
    }
    Err(refused(format!("begins a name whose line is `{transition}`")))
}
