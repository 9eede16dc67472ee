//! What is known of an element: mass coefficients, edges, yields, lines. One trait, whatever the numbers come from.

use crate::code::Code;
use crate::error::{Error, Result};
use crate::numeric::Side;
use crate::substance::Element;

/// A shell whose vacancies are followed.
///
/// ```
/// use beadchem::xray::Shell;
/// assert_eq!(Shell::from_word("L3")?, Shell::L3);
/// # Ok::<(), beadchem::Error>(())
/// ```
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Shell {
    /// The innermost shell.
    K,
    /// 2s.
    L1,
    /// 2p, the lower of the two.
    L2,
    /// 2p, the upper of the two.
    L3,
}

impl Shell {
    /// All four, from the highest edge to the lowest.
    ///
    /// ```
    /// assert_eq!(beadchem::xray::Shell::ALL.len(), 4);
    /// ```
    pub const ALL: [Shell; 4] = [Shell::K, Shell::L1, Shell::L2, Shell::L3];

    /// The word as printed and read.
    ///
    /// ```
    /// assert_eq!(beadchem::xray::Shell::K.word(), "K");
    /// ```
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Shell::K => "K",
            Shell::L1 => "L1",
            Shell::L2 => "L2",
            Shell::L3 => "L3",
        }
    }

    /// The shell with this word.
    ///
    /// # Errors
    /// `word.unknown` with the words that are known.
    ///
    /// ```
    /// assert!(beadchem::xray::Shell::from_word("M5").unwrap_err().hint().contains("K, L1, L2, L3"));
    /// ```
    pub fn from_word(word: &str) -> Result<Self> {
        let found = Self::ALL.into_iter().find(|shell| shell.word() == word);
        found.ok_or_else(|| Error::word("Shell", word, &Self::ALL.map(Self::word)))
    }
}

/// An absorption edge and the shell behind it.
///
/// ```
/// use beadchem::xray::{Edge, Shell};
/// let iron = Edge { shell: Shell::K, energy_kev: 7.112, jump_ratio: 7.893, fluorescence_yield: 0.3546 };
/// assert!((1.0 - 1.0 / iron.jump_ratio - 0.8733).abs() < 1e-4);
/// ```
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Edge {
    /// The shell.
    pub shell: Shell,
    /// The energy above which it is ionised, keV.
    pub energy_kev: f64,
    /// Photoelectric coefficient just above over just below.
    pub jump_ratio: f64,
    /// Share of its vacancies that are filled with radiation.
    pub fluorescence_yield: f64,
}

/// A line, or lines merged into one.
///
/// ```
/// use beadchem::xray::{Emitted, Shell};
/// let line = Emitted { name: "Ka".to_owned(), shell: Shell::K, energy_kev: 6.4, peak_kev: 6.404, share: 0.88 };
/// assert_eq!(line.name, "Ka");
/// ```
#[derive(Debug, Clone, PartialEq)]
pub struct Emitted {
    /// The line without its element, "Ka".
    pub name: String,
    /// The shell whose vacancies it fills.
    pub shell: Shell,
    /// Its energy, keV; of merged lines the mean weighted by rate.
    pub energy_kev: f64,
    /// The energy of its strongest member, keV, where the peak is seen; of a line that is not merged, its energy.
    pub peak_kev: f64,
    /// Its share of the radiation of the shell.
    pub share: f64,
}

/// Probabilities that a vacancy of the L shell moves up before it is filled.
///
/// ```
/// assert_eq!(beadchem::xray::CosterKronig::default().f23, 0.0);
/// ```
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct CosterKronig {
    /// From L1 to L2.
    pub f12: f64,
    /// From L1 to L3.
    pub f13: f64,
    /// From L2 to L3.
    pub f23: f64,
}

/// Tables of atomic data: mass coefficients on both sides of each jump, edges, lines.
///
/// Everything that is computed here comes from one such object, so that a result names the tables it rests on.
///
/// ```
/// use beadchem::{numeric::Side, substance::Element, xray::{AtomicTables, example_tables}};
/// let tables = example_tables()?;
/// let iron = Element::from_symbol("Fe")?;
/// let jump = tables.jumps_kev(iron)?[0];
/// assert!(tables.total(iron, jump, Side::Above)? > 7.0 * tables.total(iron, jump, Side::Below)?);
/// # Ok::<(), beadchem::Error>(())
/// ```
pub trait AtomicTables: Send + Sync {
    /// Where the numbers come from, in one sentence.
    ///
    /// ```
    /// use beadchem::xray::{AtomicTables, example_tables};
    /// assert!(example_tables()?.provenance().contains("Elam"));
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    fn provenance(&self) -> &str;

    /// The lowest and the highest energy held for every element, keV.
    ///
    /// ```
    /// use beadchem::xray::{AtomicTables, example_tables};
    /// assert!(example_tables()?.range_kev().1 > 60.0);
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    fn range_kev(&self) -> (f64, f64);

    /// The elements held, by atomic number.
    ///
    /// ```
    /// use beadchem::xray::{AtomicTables, example_tables};
    /// assert_eq!(example_tables()?.elements()[0].symbol(), "Li");
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    fn elements(&self) -> Vec<Element>;

    /// Total mass attenuation coefficient, cm2/g, on a jump approached from `side`.
    ///
    /// # Errors
    /// `element.not-tabulated`; `energy.not-tabulated`.
    ///
    /// ```
    /// use beadchem::{numeric::Side, substance::Element, xray::{AtomicTables, example_tables}};
    /// assert!(example_tables()?.total(Element::O, 900.0, Side::Below).is_err());
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    fn total(&self, element: Element, energy_kev: f64, side: Side) -> Result<f64>;

    /// Photoelectric mass coefficient, cm2/g, on a jump approached from `side`.
    ///
    /// # Errors
    /// As [`total`](Self::total).
    ///
    /// ```
    /// use beadchem::{numeric::Side, substance::Element, xray::{AtomicTables, example_tables}};
    /// let tables = example_tables()?;
    /// let (total, photo) = (tables.total(Element::O, 20.0, Side::Below)?, tables.photo(Element::O, 20.0, Side::Below)?);
    /// assert!(photo < total);
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    fn photo(&self, element: Element, energy_kev: f64, side: Side) -> Result<f64>;

    /// The edges held, the highest first.
    ///
    /// # Errors
    /// `element.not-tabulated`.
    ///
    /// ```
    /// use beadchem::{substance::Element, xray::{AtomicTables, example_tables}};
    /// assert!(example_tables()?.edges(Element::O)?.is_empty());
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    fn edges(&self, element: Element) -> Result<Vec<Edge>>;

    /// The lines held.
    ///
    /// # Errors
    /// `element.not-tabulated`.
    ///
    /// ```
    /// use beadchem::{substance::Element, xray::{AtomicTables, example_tables}};
    /// assert_eq!(example_tables()?.lines(Element::from_symbol("Si")?)?[0].name, "Ka");
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    fn lines(&self, element: Element) -> Result<Vec<Emitted>>;

    /// How vacancies move within the L shell; zero where nothing is held.
    ///
    /// # Errors
    /// `element.not-tabulated`.
    ///
    /// ```
    /// use beadchem::{substance::Element, xray::{AtomicTables, example_tables}};
    /// assert!(example_tables()?.coster_kronig(Element::from_symbol("Rh")?)?.f13 > 0.5);
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    fn coster_kronig(&self, element: Element) -> Result<CosterKronig>;

    /// The energies at which a mass coefficient jumps, ascending, keV. They can differ from the stated edges by some eV, and
    /// hold edges that [`edges`](Self::edges) does not.
    ///
    /// # Errors
    /// `element.not-tabulated`.
    ///
    /// ```
    /// use beadchem::{substance::Element, xray::{AtomicTables, example_tables}};
    /// assert!(example_tables()?.jumps_kev(Element::O)?.is_empty());
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    fn jumps_kev(&self, element: Element) -> Result<Vec<f64>>;
}

/// The names of all lines of an element, "Fe Ka" first.
///
/// # Errors
/// `element.not-tabulated`.
///
/// ```
/// use beadchem::{substance::Element, xray::{example_tables, lines_of}};
/// assert_eq!(lines_of(&example_tables()?, Element::from_symbol("Fe")?)?[..2], ["Fe Ka", "Fe Kb"]);
/// # Ok::<(), beadchem::Error>(())
/// ```
pub fn lines_of(tables: &dyn AtomicTables, element: Element) -> Result<Vec<String>> {
    let lines = tables.lines(element)?;
    Ok(lines.iter().map(|line| format!("{} {}", element.symbol(), line.name)).collect())
}

/// How the photoelectric coefficient of an element is shared out to its shells at an energy, in the order of [`Shell::ALL`],
/// with the vacancies that move within the L shell added; in parts of that coefficient.
///
/// From the highest edge down, a shell takes `1 - 1/r` of what is left where the energy is above its edge. A shell whose
/// edge the photon does not pass gets nothing, moved vacancies included.
pub(super) fn vacancies(edges: &[Edge], coster_kronig: &CosterKronig, energy_kev: f64) -> [f64; 4] {
    let mut left = 1.0;
    let mut shares = [0.0; 4];
    for (share, shell) in shares.iter_mut().zip(Shell::ALL) {
        if let Some(edge) = edges.iter().find(|edge| edge.shell == shell && energy_kev > edge.energy_kev) {
            *share = left * (1.0 - 1.0 / edge.jump_ratio);
            left /= edge.jump_ratio;
        }
    }
    let [k, l1, l2, l3] = shares;
    let CosterKronig { f12, f13, f23 } = *coster_kronig;
    [k, l1, l2 + f12 * l1, l3 + f23 * l2 + (f13 + f12 * f23) * l1]
}

/// Where an element was looked for.
pub(super) const IN_TABLES: &str = "In these atomic tables";
pub(super) const IN_SETTING: &str = "Among the substances of this instrument setting";

/// An element that is not there.
pub(super) fn absent(where_asked: &str, element: Element, held: &[Element]) -> Error {
    let held: Vec<&str> = held.iter().map(|element| element.symbol()).collect();
    Error::Unknown {
        code: Code::ElementNotTabulated,
        what: format!("{where_asked} the element"),
        given: element.symbol().to_owned(),
        hint: format!("They hold: {}.", held.join(", ")),
    }
}

/// An energy that the tables do not reach.
pub(super) fn outside(element: Element, energy_kev: f64, (low, high): (f64, f64)) -> Error {
    Error::OutOfRange {
        code: Code::EnergyNotTabulated,
        quantity: format!("For {} an energy of", element.symbol()),
        value: energy_kev,
        unit: "keV",
        bound: format!("the atomic tables, {low} to {high} keV"),
        hint: "Tables are not continued past their ends: lower the voltage or the energy, or bring wider tables."
            .to_owned(),
    }
}
