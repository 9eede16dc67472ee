//! What a column of a table holds, as its reader declares it.

use super::words::MassUnit;
use crate::composition::{Basis, Unit};

/// What stands in the cells.
#[derive(Debug, Clone, PartialEq)]
pub(super) enum Kind {
    /// Mass fractions of a species. Unit and basis may be lacking in a stored layout; reading then refuses.
    Content {
        unit: Option<Unit>,
        basis: Option<Basis>,
        form: bool,
    },
    Mass(MassUnit),
    Number,
    Text,
    Time,
}

/// Where the uncertainty of a column's numbers comes from.
#[derive(Debug, Clone, PartialEq)]
pub(super) enum Spread {
    Unstated,
    /// One standard uncertainty for all, in the unit of the column.
    Stated(f64),
    /// The header of a column of standard uncertainties in the same unit.
    Column(String),
}

/// One column to be read: what it is called here, its header in the file, and what its cells are.
///
/// ```
/// use beadchem::composition::{Basis, Unit};
/// use beadchem::sheet::{Column, MassUnit};
/// let columns = [
///     Column::content("SiO2", "SiO2 (cal. 3)", Unit::Percent, Basis::Dried).with_u_column("u SiO2"),
///     Column::mass("Flux mass", "m2", MassUnit::Gram).with_u(0.00012),
///     Column::time("measured"),
/// ];
/// assert_eq!(columns[0].name(), "SiO2");
/// ```
#[derive(Debug, Clone, PartialEq)]
pub struct Column {
    pub(super) name: String,
    pub(super) header: String,
    pub(super) kind: Kind,
    pub(super) spread: Spread,
}

impl Column {
    pub(super) fn new(name: &str, header: &str, kind: Kind) -> Self {
        Self { name: name.to_owned(), header: header.trim().to_owned(), kind, spread: Spread::Unstated }
    }

    /// Mass fractions of a species, in one unit, on one basis.
    ///
    /// ```
    /// use beadchem::{composition::{Basis, Unit}, sheet::Column};
    /// let zinc = Column::content("Zn", "Zn ppm", Unit::MilligramPerKilogram, Basis::Dried);
    /// assert_eq!(zinc.unit(), Some("mg/kg"));
    /// ```
    #[must_use]
    pub fn content(species: &str, header: &str, unit: Unit, basis: Basis) -> Self {
        Self::undeclared(species, header, Some(unit), Some(basis))
    }

    pub(crate) fn undeclared(species: &str, header: &str, unit: Option<Unit>, basis: Option<Basis>) -> Self {
        Self::new(species, header, Kind::Content { unit, basis, form: false })
    }

    /// Masses; inside they are grams. A blank is trouble, a word for absent is no mass.
    ///
    /// ```
    /// use beadchem::sheet::{Column, MassUnit};
    /// assert_eq!(Column::mass("Sample mass", "m1", MassUnit::Milligram).unit(), Some("mg"));
    /// ```
    #[must_use]
    pub fn mass(name: &str, header: &str, unit: MassUnit) -> Self {
        Self::new(name, header, Kind::Mass(unit))
    }

    /// Numbers of any other kind, as they stand.
    ///
    /// ```
    /// assert_eq!(beadchem::sheet::Column::number("loss on ignition", "LOI 1000").header(), "LOI 1000");
    /// ```
    #[must_use]
    pub fn number(name: &str, header: &str) -> Self {
        Self::new(name, header, Kind::Number)
    }

    /// Words.
    ///
    /// ```
    /// assert_eq!(beadchem::sheet::Column::text("operator").name(), "operator");
    /// ```
    #[must_use]
    pub fn text(header: &str) -> Self {
        Self::new(header.trim(), header, Kind::Text)
    }

    /// Times as ISO 8601 writes them (`2026-03-14T08:05`); a row earlier than the one before it is trouble.
    ///
    /// ```
    /// assert_eq!(beadchem::sheet::Column::time("measured").unit(), None);
    /// ```
    #[must_use]
    pub fn time(header: &str) -> Self {
        Self::new(header.trim(), header, Kind::Time)
    }

    /// With one standard uncertainty for all values, in the unit of the column.
    ///
    /// ```
    /// use beadchem::sheet::{Column, MassUnit};
    /// assert_eq!(Column::mass("Flux mass", "m2", MassUnit::Gram).with_u(0.00012).name(), "Flux mass");
    /// ```
    #[must_use]
    pub fn with_u(mut self, u: f64) -> Self {
        self.spread = Spread::Stated(u);
        self
    }

    /// With standard uncertainties from a column of their own, in the same unit; a blank there is an unstated one.
    ///
    /// ```
    /// use beadchem::{composition::{Basis, Unit}, sheet::Column};
    /// let silica = Column::content("SiO2", "SiO2", Unit::Percent, Basis::Dried).with_u_column("u SiO2");
    /// assert_eq!(silica.header(), "SiO2");
    /// ```
    #[must_use]
    pub fn with_u_column(mut self, header: &str) -> Self {
        self.spread = Spread::Column(header.trim().to_owned());
        self
    }

    /// A species whose atoms are in no other column of the same element (FeO beside Fe2O3).
    ///
    /// ```
    /// use beadchem::{composition::{Basis, Unit}, sheet::Column};
    /// let column = Column::content("FeO", "FeO", Unit::Percent, Basis::Dried).as_form();
    /// assert_eq!(column.name(), "FeO");
    /// ```
    #[must_use]
    pub fn as_form(mut self) -> Self {
        if let Kind::Content { form, .. } = &mut self.kind {
            *form = true;
        }
        self
    }

    /// What it is called here; for contents the species.
    ///
    /// ```
    /// assert_eq!(beadchem::sheet::Column::text(" operator ").name(), "operator");
    /// ```
    #[must_use]
    pub fn name(&self) -> &str {
        &self.name
    }

    /// Its header in the file.
    ///
    /// ```
    /// assert_eq!(beadchem::sheet::Column::number("tare", "m0").header(), "m0");
    /// ```
    #[must_use]
    pub fn header(&self) -> &str {
        &self.header
    }

    /// The word of its unit, where it has one.
    ///
    /// ```
    /// assert_eq!(beadchem::sheet::Column::number("tare", "m0").unit(), None);
    /// ```
    #[must_use]
    pub fn unit(&self) -> Option<&'static str> {
        match self.kind {
            Kind::Content { unit, .. } => unit.map(Unit::word),
            Kind::Mass(unit) => Some(unit.word()),
            _ => None,
        }
    }

    /// The basis of its contents, where it holds contents and one is declared.
    ///
    /// ```
    /// use beadchem::{composition::{Basis, Unit}, sheet::Column};
    /// assert_eq!(Column::content("CaO", "CaO", Unit::Percent, Basis::Bead).basis(), Some(Basis::Bead));
    /// ```
    #[must_use]
    pub fn basis(&self) -> Option<Basis> {
        match self.kind {
            Kind::Content { basis, .. } => basis,
            _ => None,
        }
    }

    pub(super) fn is_content(&self) -> bool {
        matches!(self.kind, Kind::Content { .. })
    }

    /// What it holds, in one word.
    pub(super) fn kind_word(&self) -> &'static str {
        match self.kind {
            Kind::Content { .. } => "content",
            Kind::Mass(_) => "mass",
            Kind::Number => "number",
            Kind::Text => "text",
            Kind::Time => "time",
        }
    }
}
