//! What the elements of a charge become in the fusion: an oxide that stays, a gas that leaves, or a share of each.

use serde::{Deserialize, Serialize};

use crate::code::Code;
use crate::error::{Error, Result};
use crate::substance::{Element, Formula};
use crate::uncertainty::Estimate;

/// The oxide under which an element stands in an oxidised borate glass.
///
/// Source: common practice for melts fused in air or with an oxidant. Elements whose state is a fact of the laboratory
/// (manganese, sulfur, the halogens, arsenic, antimony, ...) are not listed and must be stated.
#[rustfmt::skip]
const GLASS_OXIDES: &[(&str, &str)] = &[
    ("Li", "Li2O"), ("Na", "Na2O"), ("K", "K2O"), ("Rb", "Rb2O"), ("Cs", "Cs2O"), ("Be", "BeO"), ("Mg", "MgO"),
    ("Ca", "CaO"), ("Sr", "SrO"), ("Ba", "BaO"), ("B", "B2O3"), ("Al", "Al2O3"), ("Ga", "Ga2O3"), ("In", "In2O3"),
    ("Sc", "Sc2O3"), ("Y", "Y2O3"), ("La", "La2O3"), ("Ce", "CeO2"), ("Pr", "Pr6O11"), ("Nd", "Nd2O3"),
    ("Sm", "Sm2O3"), ("Eu", "Eu2O3"), ("Gd", "Gd2O3"), ("Tb", "Tb4O7"), ("Dy", "Dy2O3"), ("Ho", "Ho2O3"),
    ("Er", "Er2O3"), ("Tm", "Tm2O3"), ("Yb", "Yb2O3"), ("Lu", "Lu2O3"), ("Si", "SiO2"), ("Ge", "GeO2"),
    ("Sn", "SnO2"), ("Pb", "PbO"), ("P", "P2O5"), ("Bi", "Bi2O3"), ("Ti", "TiO2"), ("Zr", "ZrO2"), ("Hf", "HfO2"),
    ("V", "V2O5"), ("Nb", "Nb2O5"), ("Ta", "Ta2O5"), ("Cr", "Cr2O3"), ("Mo", "MoO3"), ("W", "WO3"), ("Fe", "Fe2O3"),
    ("Co", "CoO"), ("Ni", "NiO"), ("Cu", "CuO"), ("Zn", "ZnO"), ("Cd", "CdO"), ("Th", "ThO2"), ("U", "U3O8"),
];

/// What of one element stays, as what, and as what the rest leaves.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Rule {
    /// Oxide (or the element itself, for a halogen) in the glass.
    pub(crate) stays_as: Formula,
    /// Share of the element that stays; nothing where all of it does.
    pub(crate) kept: Option<Estimate>,
    /// The gas that the rest leaves as.
    pub(crate) leaves_as: Option<Formula>,
}

/// What elements become in the fusion, as far as it is a fact of the laboratory.
///
/// It speaks of the sample's elements; flux and additions state their own. Most oxides simply stay, carbon leaves as CO2
/// and hydrogen as H2O; iron ends as Fe2O3. Sulfur, halogens, manganese and a few others have no such answer: state it, or
/// the charge is refused when one of them is in the sample.
///
/// ```
/// use beadchem::charge::Fate;
/// let fate = Fate::new().keep("S")?.stays_as("Mn", "Mn3O4")?.lose("F", "BF3")?;
/// # Ok::<(), beadchem::Error>(())
/// ```
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Fate {
    rules: Vec<(Element, Rule)>,
}

impl Fate {
    /// Nothing stated yet.
    ///
    /// ```
    /// let fate = beadchem::charge::Fate::new();
    /// ```
    #[must_use]
    pub fn new() -> Self {
        Self::default()
    }

    /// All sulfur stays as sulfate (SO3 in the books): the short form of `keep("S")`.
    ///
    /// ```
    /// let fate = beadchem::charge::Fate::sulfur_kept();
    /// ```
    #[must_use]
    pub fn sulfur_kept() -> Self {
        let rule = Formula::parse("SO3").ok().zip(Element::from_symbol("S").ok());
        let rules = rule.map(|(stays_as, sulfur)| (sulfur, Rule { stays_as, kept: None, leaves_as: None }));
        Self { rules: rules.into_iter().collect() }
    }

    /// All of an element stays: sulfur as SO3, a halogen as itself in place of oxygen, others as their glass oxide.
    ///
    /// # Errors
    /// `weights.unknown` for an unknown symbol; `fate.not-stated` where its oxide is not known here (use
    /// [`stays_as`](Self::stays_as)).
    ///
    /// ```
    /// assert!(beadchem::charge::Fate::new().keep("As").is_err()); // as which oxide?
    /// ```
    pub fn keep(self, element: &str) -> Result<Self> {
        let element = Element::from_symbol(element)?;
        let stays_as = usual_form(element)?;
        Ok(self.set(element, Rule { stays_as, kept: None, leaves_as: None }))
    }

    /// All of an element stays as this oxide.
    ///
    /// # Errors
    /// Those of [`Formula::parse`]; `factor.no-common-element` where it is not an oxide of the element.
    ///
    /// ```
    /// let fate = beadchem::charge::Fate::new().stays_as("As", "As2O5")?;
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    pub fn stays_as(self, element: &str, oxide: &str) -> Result<Self> {
        let element = Element::from_symbol(element)?;
        let stays_as = oxide_of(element, oxide)?;
        Ok(self.set(element, Rule { stays_as, kept: None, leaves_as: None }))
    }

    /// All of an element leaves as this gas. Other elements of the gas are taken from the melt (BF3 takes boron);
    /// hydrogen is taken from the water of the charge or the air, oxygen from the oxidant, the charge or the air.
    ///
    /// # Errors
    /// Those of [`Formula::parse`]; `factor.no-common-element` where the gas does not hold the element.
    ///
    /// ```
    /// assert!(beadchem::charge::Fate::new().lose("F", "SO2").is_err());
    /// ```
    pub fn lose(self, element: &str, gas: &str) -> Result<Self> {
        self.split(element, Estimate::exact(0.0)?, gas)
    }

    /// A share of an element stays (as [`keep`](Self::keep) has it), the rest leaves as this gas.
    ///
    /// # Errors
    /// As [`lose`](Self::lose); `number.out-of-range` where the share is not within 0 to 1.
    ///
    /// ```
    /// use beadchem::{charge::Fate, uncertainty::Estimate};
    /// let fate = Fate::new().split("S", Estimate::new(0.88, 0.02)?, "SO2")?;
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    pub fn split(self, element: &str, kept: impl Into<Estimate>, gas: &str) -> Result<Self> {
        let (element, kept, gas) = (Element::from_symbol(element)?, kept.into(), Formula::parse(gas)?);
        share(&format!("Kept share of {}", element.symbol()), kept.value())?;
        if element == Element::O || (element == Element::H && gas.text() != "H2O") {
            return Err(Error::Conflict {
                code: Code::FateNotStated,
                detail: format!("{} follows from the books; it cannot be sent off as {gas}.", element.name()),
                hint: "Hydrogen leaves as water or with a halogen, oxygen with whatever holds it.".to_owned(),
            });
        }
        if gas.count(element) == 0.0 {
            return Err(Error::Conflict {
                code: Code::FactorNoCommonElement,
                detail: format!("{} cannot leave as {gas}, which does not hold it.", element.name()),
                hint: "Name the gas, as in SO2, HF, SiF4, BF3, KCl.".to_owned(),
            });
        }
        // What stays has a form only where something stays.
        let stays_as = match usual_form(element) {
            Ok(form) => form,
            Err(_) if kept.value() == 0.0 => Formula::of(&[(element, 1.0)])?,
            Err(refused) => return Err(refused),
        };
        Ok(self.set(element, Rule { stays_as, kept: Some(kept), leaves_as: Some(gas) }))
    }

    pub(crate) fn set(mut self, element: Element, rule: Rule) -> Self {
        self.rules.retain(|(known, _)| *known != element);
        self.rules.push((element, rule));
        self
    }

    pub(crate) fn get(&self, element: Element) -> Option<&Rule> {
        self.rules.iter().find(|(known, _)| *known == element).map(|(_, rule)| rule)
    }
}

impl core::fmt::Display for Fate {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        let mut between = "";
        for (element, rule) in &self.rules {
            write!(f, "{between}{}: ", element.symbol())?;
            between = "; ";
            match (&rule.kept, &rule.leaves_as) {
                (Some(kept), Some(gas)) => {
                    write!(f, "{} stays as {}, the rest leaves as {gas}", kept.value(), rule.stays_as)?;
                }
                _ => write!(f, "stays as {}", rule.stays_as)?,
            }
        }
        if self.rules.is_empty() { f.write_str("nothing stated") } else { Ok(()) }
    }
}

/// Elements that take the place of half an oxygen each in the glass.
pub(crate) fn is_halogen(element: Element) -> bool {
    matches!(element.symbol(), "F" | "Cl" | "Br" | "I")
}

/// Refuses a share outside 0 to 1.
pub(crate) fn share(quantity: &str, value: f64) -> Result<f64> {
    let hint = "A share of the whole is meant, 1 for all of it; were per cent given?";
    crate::error::within(quantity, value, "", [0.0, 1.0], "0 to 1", hint)
}

/// The form in which an element stays where nothing else is said.
pub(crate) fn usual_form(element: Element) -> Result<Formula> {
    if is_halogen(element) {
        return Formula::of(&[(element, 1.0)]);
    }
    if element.symbol() == "S" {
        return Formula::parse("SO3");
    }
    if let Some((_, oxide)) = GLASS_OXIDES.iter().find(|(symbol, _)| *symbol == element.symbol()) {
        return Formula::parse(oxide);
    }
    Err(Error::Unstated {
        code: Code::FateNotStated,
        quantity: format!("What {} becomes in the melt", element.name()),
        hint: format!(
            "It is a fact of your fusion: state the oxide it stays as, or the gas it leaves as ({} has no usual one here).",
            element.symbol()
        ),
    })
}

/// An oxide of that element alone: no hydrogen, no second element.
pub(crate) fn is_oxide_of(element: Element, species: &Formula) -> bool {
    species.key() == Some(element) && species.count(Element::H) == 0.0 && species.count(Element::O) > 0.0
}

fn oxide_of(element: Element, text: &str) -> Result<Formula> {
    let oxide = Formula::parse(text)?;
    if is_oxide_of(element, &oxide) {
        return Ok(oxide);
    }
    Err(Error::Conflict {
        code: Code::FactorNoCommonElement,
        detail: format!("{oxide} is not an oxide of {}.", element.name()),
        hint: "Name an oxide of that element alone, as in Mn3O4.".to_owned(),
    })
}

/// Oxygen atoms per atom of the element in the form in which it stays: 1.5 in Fe2O3, -0.5 for a halogen, which takes
/// the place of half an oxygen.
pub(crate) fn oxygen_per_atom(element: Element, stays_as: &Formula) -> f64 {
    if is_halogen(element) { -0.5 } else { stays_as.count(Element::O) / stays_as.count(element) }
}

/// What becomes of the nitrate's nitrogen; it decides how much oxygen the nitrate hands over.
///
/// ```
/// use beadchem::charge::ReducesTo;
/// assert_eq!(ReducesTo::from_word("NO")?, ReducesTo::NO);
/// assert_eq!(ReducesTo::NO.oxygen_per_nitrate(), 1.5);
/// # Ok::<(), beadchem::Error>(())
/// ```
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[non_exhaustive]
pub enum ReducesTo {
    /// Nitrogen: 2.5 O per nitrate.
    N2,
    /// Nitrogen monoxide: 1.5 O per nitrate.
    NO,
    /// Nitrite first, which then leaves as equal parts NO and NO2: 1 O per nitrate.
    Nitrite,
    /// Nitrogen dioxide: 0.5 O per nitrate.
    NO2,
}

impl ReducesTo {
    const WORDS: [(&'static str, ReducesTo); 4] =
        [("N2", ReducesTo::N2), ("NO", ReducesTo::NO), ("nitrite", ReducesTo::Nitrite), ("NO2", ReducesTo::NO2)];

    /// All routes, most oxygen first.
    ///
    /// ```
    /// assert_eq!(beadchem::charge::ReducesTo::all().len(), 4);
    /// ```
    #[must_use]
    pub fn all() -> [ReducesTo; 4] {
        Self::WORDS.map(|(_, route)| route)
    }

    /// The route with this word.
    ///
    /// # Errors
    /// `word.unknown`; the message lists the words.
    ///
    /// ```
    /// assert!(beadchem::charge::ReducesTo::from_word("N2O").is_err());
    /// ```
    pub fn from_word(word: &str) -> Result<Self> {
        let found = Self::WORDS.iter().find(|(known, _)| *known == word).map(|(_, route)| *route);
        found.ok_or_else(|| Error::word("Reduction route", word, &Self::WORDS.map(|(word, _)| word)))
    }

    /// The word.
    ///
    /// ```
    /// assert_eq!(beadchem::charge::ReducesTo::Nitrite.word(), "nitrite");
    /// ```
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            ReducesTo::N2 => "N2",
            ReducesTo::NO => "NO",
            ReducesTo::Nitrite => "nitrite",
            ReducesTo::NO2 => "NO2",
        }
    }

    /// Oxygen atoms handed over per nitrate: `5/2` less what the nitrogen leaves with.
    ///
    /// ```
    /// assert_eq!(beadchem::charge::ReducesTo::N2.oxygen_per_nitrate(), 2.5);
    /// ```
    #[must_use]
    pub fn oxygen_per_nitrate(self) -> f64 {
        2.5 - self.oxygen_per_nitrogen()
    }

    /// Oxygen atoms the nitrogen leaves with.
    pub(crate) fn oxygen_per_nitrogen(self) -> f64 {
        match self {
            ReducesTo::N2 => 0.0,
            ReducesTo::NO => 1.0,
            ReducesTo::Nitrite => 1.5,
            ReducesTo::NO2 => 2.0,
        }
    }

    /// The gas in the books; NO and NO2 in equal parts are written N2O3.
    pub(crate) fn gas(self) -> &'static str {
        match self {
            ReducesTo::N2 => "N2",
            ReducesTo::NO => "NO",
            ReducesTo::Nitrite => "N2O3",
            ReducesTo::NO2 => "NO2",
        }
    }
}
