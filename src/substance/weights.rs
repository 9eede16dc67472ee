//! Atomic weights: a versioned table, passed to whatever needs it and never global.

use std::borrow::Cow;
use std::sync::Arc;

use crate::code::Code;
use crate::error::{Error, Result};
use crate::substance::weight::{Entry, Weight, possible};
use crate::substance::weights_data::{COUNT, ELEMENTS, REVISED_2024};

/// One version of the atomic weights of all elements.
///
/// Immutable and cheap to clone. Two versions are equal where their names and all their entries are.
///
/// ```
/// use beadchem::substance::Weights;
/// assert_eq!(Weights::ciaaw_2021().get("Zr")?.weight.value(), 91.224);
/// assert_eq!(Weights::ciaaw_2024().get("Zr")?.weight.value(), 91.222);
/// # Ok::<(), beadchem::Error>(())
/// ```
#[derive(Clone)]
pub struct Weights(Held);

#[derive(Clone)]
enum Held {
    Published(&'static Version),
    Changed(Arc<Version>),
}

#[derive(PartialEq)]
struct Version {
    /// The published version it goes back to.
    base: &'static str,
    /// Place and source of each entry that was changed, by place.
    sources: Vec<(usize, String)>,
    /// The base and the changes in words.
    name: Cow<'static, str>,
    entries: [Entry; COUNT],
}

static CIAAW_2021: Version = published("CIAAW 2021", ELEMENTS);
static CIAAW_2024: Version = published("CIAAW 2024", revised(ELEMENTS, &REVISED_2024));

const fn published(name: &'static str, entries: [Entry; COUNT]) -> Version {
    Version { base: name, sources: Vec::new(), name: Cow::Borrowed(name), entries }
}

/// The table with these lines in place of its own.
const fn revised(mut table: [Entry; COUNT], lines: &[Entry]) -> [Entry; COUNT] {
    let mut index = 0;
    while index < lines.len() {
        table[lines[index].number as usize - 1] = lines[index];
        index += 1;
    }
    table
}

impl Weights {
    /// The table of 2021.
    ///
    /// # Source
    /// Prohaska et al., Pure Appl. Chem. 2022, 94, 573.
    ///
    /// ```
    /// assert_eq!(beadchem::substance::Weights::ciaaw_2021().version_name(), "CIAAW 2021");
    /// ```
    #[must_use]
    pub fn ciaaw_2021() -> Self {
        Self(Held::Published(&CIAAW_2021))
    }

    /// The table of 2021 with the revisions of 2024: Zr, Gd and Lu.
    ///
    /// # Source
    /// Prohaska et al., Pure Appl. Chem. 2022, 94, 573; revision by the IUPAC Commission on Isotopic Abundances and
    /// Atomic Weights, 2024.
    ///
    /// ```
    /// assert_eq!(beadchem::substance::Weights::ciaaw_2024().version_name(), "CIAAW 2024");
    /// ```
    #[must_use]
    pub fn ciaaw_2024() -> Self {
        Self(Held::Published(&CIAAW_2024))
    }

    /// The published version of this name: "CIAAW 2021" or "CIAAW 2024".
    ///
    /// # Errors
    /// `weights.unknown` for any other name; the message lists the right ones.
    ///
    /// ```
    /// use beadchem::substance::Weights;
    /// assert_eq!(Weights::version("CIAAW 2021")?, Weights::ciaaw_2021());
    /// assert!(Weights::version("2021").unwrap_err().hint().contains("CIAAW 2021, CIAAW 2024"));
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    pub fn version(name: &str) -> Result<Self> {
        let published = [&CIAAW_2021, &CIAAW_2024];
        match published.iter().find(|version| version.base == name) {
            Some(version) => Ok(Self(Held::Published(version))),
            None => Err(unknown(
                "Version of the atomic weights",
                name,
                format!("Choose one of: {}.", published.map(|version| version.base).join(", ")),
            )),
        }
    }

    /// These weights with another one for one element, such as enriched lithium; the version name then says so.
    ///
    /// `source` says where the weight comes from. A second weight for the same element replaces the first. The order
    /// of calls does not matter: the name lists changes by atomic number.
    ///
    /// # Errors
    /// `weights.unknown` for an unknown symbol; `weights.unsourced` for an empty source; `number.not-finite`;
    /// `number.out-of-range` for a weight that no nuclide of the element has, for an interval whose ends are not in
    /// order, or for a conventional value further from its interval than the interval is wide; `uncertainty.negative`.
    ///
    /// ```
    /// use beadchem::substance::{Weight, Weights};
    /// let enriched = Weight::Single { value: 6.0197, half_width: 0.0004 };
    /// let weights = Weights::ciaaw_2024().with("Li", enriched, "certificate 17-204")?;
    /// assert_eq!(weights.version_name(), "CIAAW 2024 with Li from certificate 17-204");
    /// assert_eq!(weights.get("Li")?.weight.value(), 6.0197);
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    pub fn with(&self, symbol: &str, weight: Weight, source: &str) -> Result<Self> {
        let index = self.index_of(symbol)?;
        let source = source.trim();
        if source.is_empty() {
            return Err(Error::Unstated {
                code: Code::WeightsUnsourced,
                quantity: format!("Source of the atomic weight of {symbol}"),
                hint: "Name the certificate, report or measurement; it becomes part of the version name.".to_owned(),
            });
        }
        possible(&ELEMENTS[index], weight)?;

        let Version { base, sources, entries, .. } = self.held();
        let (mut sources, mut entries) = (sources.clone(), *entries);
        match sources.binary_search_by_key(&index, |(place, _)| *place) {
            Ok(found) => source.clone_into(&mut sources[found].1),
            Err(gap) => sources.insert(gap, (index, source.to_owned())),
        }
        entries[index].weight = weight;
        let changes: Vec<String> =
            sources.iter().map(|(place, source)| format!("{} from {source}", entries[*place].symbol)).collect();
        let name = Cow::Owned(format!("{base} with {}", changes.join(", ")));
        Ok(Self(Held::Changed(Arc::new(Version { base, sources, name, entries }))))
    }

    /// The name of the version, for the record of a result.
    ///
    /// ```
    /// assert_eq!(beadchem::substance::Weights::ciaaw_2024().version_name(), "CIAAW 2024");
    /// ```
    #[must_use]
    pub fn version_name(&self) -> &str {
        &self.held().name
    }

    /// The entry of an element by its symbol, in its usual capitals. Takes constant time and allocates nothing.
    ///
    /// # Errors
    /// `weights.unknown`; the message names the symbol that was probably meant.
    ///
    /// ```
    /// let weights = beadchem::substance::Weights::ciaaw_2024();
    /// assert_eq!(weights.get("Al")?.weight.value(), 26.9815384);
    /// assert!(weights.get("AL").unwrap_err().hint().contains("`Al`"));
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    pub fn get(&self, symbol: &str) -> Result<&Entry> {
        self.index_of(symbol).map(|index| &self.held().entries[index])
    }

    /// The entry of an element by its atomic number.
    ///
    /// # Errors
    /// `weights.unknown` for a number outside 1 to 118.
    ///
    /// ```
    /// let weights = beadchem::substance::Weights::ciaaw_2024();
    /// assert_eq!(weights.by_number(57)?.symbol, "La");
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    pub fn by_number(&self, number: u8) -> Result<&Entry> {
        usize::from(number).checked_sub(1).and_then(|index| self.held().entries.get(index)).ok_or_else(|| {
            let hint = format!("Atomic numbers run from 1 (hydrogen) to {COUNT} (oganesson).");
            unknown("Atomic number", &number.to_string(), hint)
        })
    }

    /// The place of an element among [`Weights::entries`], the same in every version.
    ///
    /// # Errors
    /// `weights.unknown`, as [`Weights::get`].
    ///
    /// ```
    /// let weights = beadchem::substance::Weights::ciaaw_2024();
    /// assert_eq!(weights.entries()[weights.index_of("Ti")?].name, "titanium");
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    pub fn index_of(&self, symbol: &str) -> Result<usize> {
        place(symbol).ok_or_else(|| unknown_element(symbol))
    }

    /// All entries by atomic number, hydrogen first.
    ///
    /// ```
    /// use beadchem::substance::{Weight, Weights};
    /// let weights = Weights::ciaaw_2024();
    /// let varying = weights.entries().iter().filter(|entry| matches!(entry.weight, Weight::Interval { .. }));
    /// assert_eq!(varying.count(), 14);
    /// ```
    #[must_use]
    pub fn entries(&self) -> &[Entry] {
        &self.held().entries
    }

    fn held(&self) -> &Version {
        match &self.0 {
            Held::Published(version) => version,
            Held::Changed(version) => version,
        }
    }
}

impl PartialEq for Weights {
    fn eq(&self, other: &Self) -> bool {
        self.held() == other.held()
    }
}

impl core::fmt::Debug for Weights {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        f.debug_tuple("Weights").field(&self.version_name()).finish()
    }
}

fn unknown(what: &str, given: &str, hint: String) -> Error {
    Error::Unknown { code: Code::WeightsUnknown, what: what.to_owned(), given: given.to_owned(), hint }
}

/// The refusal of a symbol that no element has, with the one that was probably meant.
pub(crate) fn unknown_element(given: &str) -> Error {
    let meant = ELEMENTS
        .iter()
        .find(|entry| entry.symbol.eq_ignore_ascii_case(given.trim()) || entry.name.eq_ignore_ascii_case(given.trim()));
    let hint = match meant {
        Some(entry) => format!("The symbol of {} is `{}`.", entry.name, entry.symbol),
        None => "Give a symbol of one or two letters, the first a capital, as `Fe`.".to_owned(),
    };
    unknown("Element", given, hint)
}

/// The place of a symbol in the table.
pub(crate) fn place(symbol: &str) -> Option<usize> {
    let index = usize::from(PLACES[slot(symbol.as_bytes())?]);
    (index < COUNT).then_some(index)
}

/// Second letters: none, or a to z.
const SECOND: usize = 27;
/// The place of each symbol, by its [`slot`]; [`COUNT`] where no element has it.
static PLACES: [u8; 26 * SECOND] = places();

/// Where a symbol is kept among all that could be written; nothing for what is no symbol.
const fn slot(symbol: &[u8]) -> Option<usize> {
    match *symbol {
        [first @ b'A'..=b'Z'] => Some((first - b'A') as usize * SECOND),
        [first @ b'A'..=b'Z', second @ b'a'..=b'z'] => {
            Some((first - b'A') as usize * SECOND + (second - b'a') as usize + 1)
        }
        _ => None,
    }
}

const fn places() -> [u8; 26 * SECOND] {
    let mut places = [COUNT as u8; 26 * SECOND];
    let mut index = 0;
    while index < COUNT {
        if let Some(slot) = slot(ELEMENTS[index].symbol.as_bytes()) {
            places[slot] = index as u8;
        }
        index += 1;
    }
    places
}
