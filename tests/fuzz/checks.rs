//! What must hold whatever is read. Shared by the fuzz targets and by `tests/it/fuzz_replay.rs`; each function tells
//! whether the text was accepted.
#![allow(dead_code, reason = "a fuzz target calls one of the functions")]

use beadchem::charge::{Charge, FluxLot};
use beadchem::composition::Composition;
use beadchem::document::{self, Document};
use beadchem::error::Error;
use beadchem::rules::Rules;
use beadchem::substance::Formula;
use core::fmt::Debug;

/// The reader takes no longer texts.
const LONGEST_FORMULA: usize = 400;

/// A formula is refused with a reason, or its own text reads to the same atoms, and so does the text made from them.
pub(crate) fn formula(bytes: &[u8]) -> bool {
    let Ok(text) = core::str::from_utf8(bytes) else { return false };
    let formula = match Formula::parse(text) {
        Ok(formula) => formula,
        Err(refused) => {
            reasoned(&refused);
            if let Error::Formula { position, .. } = refused {
                assert!((1..=text.chars().count() + 1).contains(&position), "{text:?}: {position}");
            }
            return false;
        }
    };
    assert!(!formula.atoms().is_empty() && formula.atoms().iter().all(|(_, count)| count.is_finite() && *count > 0.0));
    let again = Formula::parse(formula.text());
    assert_eq!(again.as_ref().map(Formula::atoms), Ok(formula.atoms()), "{text:?}");
    let built = Formula::of(formula.atoms());
    assert_eq!(built.as_ref().map(Formula::atoms), Ok(formula.atoms()), "{text:?}");
    if let Some(built) = built.ok().filter(|built| built.text().len() <= LONGEST_FORMULA) {
        let read = Formula::parse(built.text());
        assert_eq!(read.as_ref().map(Formula::atoms), Ok(formula.atoms()), "{text:?} written as {built}");
    }
    true
}

/// A document is refused with a reason, or what it holds is written, read back equal, and has one digest.
pub(crate) fn documents(bytes: &[u8]) -> bool {
    let Ok(text) = core::str::from_utf8(bytes) else { return false };
    // no text is of two kinds
    [document::<Composition>, document::<FluxLot>, document::<Charge>, document::<Rules>]
        .map(|read| read(text))
        .contains(&true)
}

fn document<D: Document + Debug + PartialEq>(text: &str) -> bool {
    let held: D = match document::from_json(text) {
        Ok(held) => held,
        Err(refused) => {
            reasoned(&refused);
            return false;
        }
    };
    let written = document::to_json(&held);
    let read = written.as_ref().map_err(Clone::clone).and_then(|written| document::from_json::<D>(written));
    assert_eq!(read.as_ref(), Ok(&held), "{text}\nwritten as {written:?}");
    let digests = (document::digest(&held), read.and_then(|read| document::digest(&read)));
    assert!(digests.0.is_ok() && digests.0 == digests.1, "{text}: {digests:?}");
    true
}

fn reasoned(refused: &Error) {
    assert!(!refused.hint().is_empty() && !refused.to_string().is_empty(), "{refused:?}");
}
