//! What a total is to count, and as what.

use crate::code::Code;
use crate::composition::{Basis, BasisLinks, Cell, Composition, LossOnIgnition, signed_loss};
use crate::error::{Error, Result};
use crate::substance::{Element, Formula};
use crate::uncertainty::Estimate;

/// A result from elsewhere: FeO by titration, carbon or sulfur by combustion, fluorine by electrode.
///
/// ```
/// use beadchem::{composition::{Basis, External}, uncertainty::Estimate};
/// let ferrous = External::new("FeO", Estimate::new(0.182, 0.0015)?, Basis::Dried, "titration")?.dated("2026-03-02");
/// assert_eq!(ferrous.method(), "titration");
/// # Ok::<(), beadchem::Error>(())
/// ```
#[derive(Debug, Clone, PartialEq)]
pub struct External {
    pub(super) species: Formula,
    pub(super) cell: Cell,
    pub(super) basis: Basis,
    pub(super) method: String,
    pub(super) date: Option<String>,
}

impl External {
    /// A species with its content in g/g, the basis it was found on, and the method.
    ///
    /// # Errors
    /// As [`Composition::with`].
    ///
    /// ```
    /// use beadchem::composition::{Basis, Cell, External};
    /// assert!(External::new("F", Cell::Below { limit: 0.0005 }, Basis::AsReceived, "ion-selective electrode").is_ok());
    /// ```
    pub fn new(species: &str, content: impl Into<Cell>, basis: Basis, method: impl Into<String>) -> Result<Self> {
        let cell = content.into();
        // the bounds of a composition hold for its numbers too
        Composition::new(basis).with(species, cell.clone())?;
        Ok(Self { species: Formula::parse(species)?, cell, basis, method: method.into(), date: None })
    }

    /// With the date it was found.
    ///
    /// ```
    /// use beadchem::composition::{Basis, External};
    /// let dated = External::new("F", 0.001, Basis::Dried, "electrode")?.dated("2026-03-02");
    /// assert_eq!(dated.date(), Some("2026-03-02"));
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn dated(mut self, date: impl Into<String>) -> Self {
        self.date = Some(date.into());
        self
    }

    /// The basis it was found on.
    ///
    /// ```
    /// use beadchem::composition::{Basis, External};
    /// assert_eq!(External::new("F", 0.001, Basis::Dried, "electrode")?.basis(), Basis::Dried);
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn basis(&self) -> Basis {
        self.basis
    }

    /// What was found, g/g.
    ///
    /// ```
    /// use beadchem::composition::{Basis, External};
    /// let fluorine = External::new("F", 0.001, Basis::Dried, "electrode")?;
    /// assert_eq!(fluorine.content().value().unwrap().value(), 0.001);
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn content(&self) -> &Cell {
        &self.cell
    }

    /// The species.
    ///
    /// ```
    /// # use beadchem::composition::{Basis, External};
    /// assert_eq!(External::new("F", 0.001, Basis::Dried, "electrode")?.species(), "F");
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn species(&self) -> &str {
        self.species.text()
    }

    /// The method.
    ///
    /// ```
    /// # use beadchem::composition::{Basis, External};
    /// assert_eq!(External::new("F", 0.001, Basis::Dried, "electrode")?.method(), "electrode");
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn method(&self) -> &str {
        &self.method
    }

    /// The date, where given.
    ///
    /// ```
    /// # use beadchem::composition::{Basis, External};
    /// assert!(External::new("F", 0.001, Basis::Dried, "electrode")?.date().is_none());
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn date(&self) -> Option<&str> {
        self.date.as_deref()
    }

    pub(super) fn source(&self) -> String {
        match &self.date {
            Some(date) => format!("{}, {date}", self.method),
            None => self.method.clone(),
        }
    }
}

/// The loss a total counts.
#[derive(Debug, Clone, PartialEq)]
pub(super) enum CountedLoss {
    None,
    /// Signed, with its temperature.
    Full(LossOnIgnition),
    /// Without a temperature: for a draft only.
    Draft(Estimate),
}

/// What a total counts, and as what: loss, conventions, hosts of sulfur, results from elsewhere.
///
/// What is assumed is a finding; a loss of which no atmosphere is said is taken for one found in air.
///
/// ```
/// use beadchem::composition::{Basis, ClosureOrder, Composition, LossOnIgnition};
/// use beadchem::substance::Weights;
/// // fluorite concentrate: metals as oxides, fluorine as found
/// let spar = Composition::new(Basis::Dried).with("CaO", 0.6967)?.with("F", 0.4721)?.with("SiO2", 0.0160)?;
/// let closure = spar.closure(&ClosureOrder::new(), &Weights::ciaaw_2024())?;
/// assert_eq!(format!("{:.3}", closure.total().unwrap().value()), "0.986"); // 0.421 of the fluorine is taken off
/// # Ok::<(), beadchem::Error>(())
/// ```
#[derive(Debug, Clone, PartialEq)]
pub struct ClosureOrder {
    pub(super) loss: CountedLoss,
    pub(super) links: BasisLinks,
    pub(super) left: Vec<(Formula, Estimate)>,
    pub(super) conventions: Vec<Formula>,
    pub(super) hosts: Vec<(Element, Formula, Vec<Formula>)>,
    pub(super) no_equivalent: Vec<Element>,
    pub(super) externals: Vec<External>,
}

impl Default for ClosureOrder {
    fn default() -> Self {
        Self::new()
    }
}

impl ClosureOrder {
    /// No loss, every species as it was given, oxygen taken off for halogens.
    ///
    /// ```
    /// use beadchem::composition::ClosureOrder;
    /// assert_eq!(ClosureOrder::new(), ClosureOrder::default());
    /// ```
    #[must_use]
    pub fn new() -> Self {
        Self {
            loss: CountedLoss::None,
            links: BasisLinks::default(),
            left: Vec::new(),
            conventions: Vec::new(),
            hosts: Vec::new(),
            no_equivalent: Vec::new(),
            externals: Vec::new(),
        }
    }

    /// With the signed loss on ignition of the dried powder. Carbon dioxide and water are then inside it.
    ///
    /// ```
    /// use beadchem::{composition::{Basis, ClosureOrder, Composition, LossOnIgnition}, substance::Weights};
    /// let order = ClosureOrder::new().loss(&LossOnIgnition::new(0.431, 1000.0)?);
    /// let lime = Composition::new(Basis::Dried).with("CaO", 0.542)?.with("CO2", 0.425)?;
    /// assert_eq!(lime.closure(&order, &Weights::ciaaw_2024())?.total().unwrap().value(), 0.542 + 0.431);
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn loss(mut self, loss: &LossOnIgnition) -> Self {
        self.loss = CountedLoss::Full(loss.clone());
        self
    }

    /// With a loss whose temperature is not known: a total for a draft, which no report takes.
    ///
    /// # Errors
    /// `number.out-of-range` as [`LossOnIgnition::new`].
    ///
    /// ```
    /// use beadchem::{composition::{Basis, ClosureOrder, Composition}, substance::Weights};
    /// let lime = Composition::new(Basis::Dried).with("CaO", 0.542)?;
    /// let closure = lime.closure(&ClosureOrder::new().draft_loss(0.431)?, &Weights::ciaaw_2024())?;
    /// let refused = closure.reportable().unwrap_err();
    /// assert!(refused.to_string().starts_with("An LOI without its temperature cannot be reported."));
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    pub fn draft_loss(mut self, loss: impl Into<Estimate>) -> Result<Self> {
        let loss = loss.into();
        signed_loss("Loss on ignition", &loss)?;
        self.loss = CountedLoss::Draft(loss);
        Ok(self)
    }

    /// With what leads results from elsewhere to the basis of the total.
    ///
    /// ```
    /// use beadchem::composition::{BasisLinks, ClosureOrder};
    /// let order = ClosureOrder::new().links(&BasisLinks::default().moisture(0.01)?);
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn links(mut self, links: &BasisLinks) -> Self {
        self.links = links.clone();
        self
    }

    /// With the share of a species that left in the furnace, and so is inside the loss already: 1 for all of it, 0 where
    /// it stayed in the residue and counts beside the loss.
    ///
    /// # Errors
    /// `number.out-of-range` outside 0 to 1; those of [`Formula::parse`].
    ///
    /// ```
    /// use beadchem::{composition::{Basis, ClosureOrder, Composition, LossOnIgnition}, substance::Weights};
    /// let raw = Composition::new(Basis::Dried).with("CaO", 0.431)?.with("SO3", 0.0035)?;
    /// let order = ClosureOrder::new().loss(&LossOnIgnition::new(0.349, 950.0)?).left_in_furnace("SO3", 1.0)?;
    /// assert_eq!(raw.closure(&order, &Weights::ciaaw_2024())?.total().unwrap().value(), 0.431 + 0.349);
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    pub fn left_in_furnace(mut self, species: &str, share: impl Into<Estimate>) -> Result<Self> {
        let (species, share) = (Formula::parse(species)?, share.into());
        let hint = "A share of the whole is meant, 1 for all of it; were per cent given?";
        let what = format!("Share of {species} that left in the furnace,");
        crate::error::within(&what, share.value(), "", [0.0, 1.0], "0 to 1", hint)?;
        self.left.retain(|(known, _)| known.text() != species.text());
        self.left.push((species, share));
        Ok(self)
    }

    /// Counts an element as this oxide whatever it was read as: Mn as MnO, Mn2O3, Mn3O4 or MnO2. The choice is printed.
    ///
    /// # Errors
    /// `factor.several-common-elements` where the species does not stand for one element; `species.element-twice` where the
    /// element has a convention already; those of [`Formula::parse`].
    ///
    /// ```
    /// use beadchem::{composition::{Basis, ClosureOrder, Composition}, substance::Weights};
    /// let ore = Composition::new(Basis::Dried).with("Mn", 0.4606)?;
    /// let closure = ore.closure(&ClosureOrder::new().counted_as("Mn3O4")?, &Weights::ciaaw_2024())?;
    /// assert_eq!(format!("{:.3}", closure.total().unwrap().value()), "0.639");
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    pub fn counted_as(mut self, species: &str) -> Result<Self> {
        let species = Formula::parse(species)?;
        let element = single(&species)?;
        if let Some(known) = self.conventions.iter().find(|known| known.key() == Some(element)) {
            return Err(Error::Conflict {
                code: Code::SpeciesElementTwice,
                detail: format!("{} is to be counted as {known} and as {species}.", element.name()),
                hint: "Keep one convention.".to_owned(),
            });
        }
        self.conventions.push(species);
        Ok(self)
    }

    /// Names the mineral that sulfur or a halogen sits in, and the oxides its metals are counted as, so that the oxygen
    /// counted too much is taken off: FeS2 with Fe2O3 0.3743 per gram of S, FeS 0.7485, CuFeS2 0.6238, ZnS 0.4990.
    ///
    /// # Errors
    /// Those of [`Formula::parse`].
    ///
    /// ```
    /// use beadchem::{composition::{Basis, ClosureOrder, Composition}, substance::Weights};
    /// let pyrite = Composition::new(Basis::Dried).with("Fe2O3", 0.6656)?.with("S", 0.5344)?;
    /// let order = ClosureOrder::new().host("S", "FeS2", &["Fe2O3"])?;
    /// assert!((pyrite.closure(&order, &Weights::ciaaw_2024())?.total().unwrap().value() - 1.0).abs() < 2e-4);
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    pub fn host(mut self, element: &str, host: &str, counted_as: &[&str]) -> Result<Self> {
        let oxides = counted_as.iter().map(|oxide| Formula::parse(oxide)).collect::<Result<Vec<_>>>()?;
        let element = Element::from_symbol(element)?;
        self.hosts.retain(|(known, ..)| *known != element);
        self.hosts.push((element, Formula::parse(host)?, oxides));
        Ok(self)
    }

    /// Takes no oxygen off for this element; a finding says how much that leaves in the total.
    ///
    /// # Errors
    /// `formula.element-unknown`.
    ///
    /// ```
    /// use beadchem::{composition::{Basis, ClosureOrder, Composition}, substance::Weights};
    /// let spar = Composition::new(Basis::Dried).with("CaO", 0.50)?.with("F", 0.037)?;
    /// let closure = spar.closure(&ClosureOrder::new().without_oxygen_equivalent("F")?, &Weights::ciaaw_2024())?;
    /// assert!(closure.findings()[0].text.starts_with("F 3.7 % counted with CaO: subtract 1.558 % O equivalent."));
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    pub fn without_oxygen_equivalent(mut self, element: &str) -> Result<Self> {
        self.no_equivalent.push(Element::from_symbol(element)?);
        Ok(self)
    }

    /// With a result from elsewhere.
    ///
    /// ```
    /// use beadchem::composition::{Basis, ClosureOrder, External};
    /// let order = ClosureOrder::new().external(External::new("CO2", 0.02, Basis::Dried, "combustion")?);
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn external(mut self, external: External) -> Self {
        self.externals.push(external);
        self
    }
}

/// The one element a species stands for.
pub(super) fn single(species: &Formula) -> Result<Element> {
    species.key().ok_or_else(|| Error::Conflict {
        code: Code::FactorSeveralElements,
        detail: format!("{species} stands for no single element."),
        hint: "Name an oxide of one element.".to_owned(),
    })
}
