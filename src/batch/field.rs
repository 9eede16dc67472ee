//! What the columns of a table stand for: declared, never guessed.

use serde::{Deserialize, Serialize};

use crate::code::Code;
use crate::composition::Unit;
use crate::error::{Error, Result};
use crate::matrix::DeadTime;
use crate::matrix::count::counting_time;
use crate::sheet::MassUnit;

/// What a column stands for.
///
/// ```
/// use beadchem::batch::Quantity;
/// assert_eq!(Quantity::Intensity("Fe Ka".to_owned()).usual_name(), "Fe_Ka_cps");
/// ```
#[derive(Debug, Clone, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
#[non_exhaustive]
pub enum Quantity {
    /// The id of the bead, words.
    Bead,
    /// The name of the flux lot, words.
    FluxLot,
    /// The class whose coefficients are asked for, words.
    Class,
    /// The basis the sample was weighed on, words.
    Weighed,
    /// The version of the method that a stored result was made by, words.
    MethodVersion,
    /// Mass of the sample.
    SampleMass,
    /// Mass of the flux.
    FluxMass,
    /// Mass of the finished bead, held against the prediction.
    BeadMass,
    /// Flux loss of this bead, in place of that of its lot.
    FluxLoss,
    /// Loss of the sample in the fusion.
    LossOnFusion,
    /// Loss on ignition of the dried sample, signed.
    LossOnIgnition,
    /// Moisture of the sample as received.
    Moisture,
    /// Moisture of the air-equilibrated powder.
    AirMoisture,
    /// Mass of an addition, by its place among the additions.
    Addition(usize),
    /// When the bead was measured, words as ISO 8601 writes them.
    Time,
    /// Net intensity of a line, counts/s.
    Intensity(String),
    /// Rate on the peak of a line, counts/s as displayed, or counts.
    Peak(String),
    /// Rate on a background of a line, by its place among these: counts/s as displayed, or counts.
    Background(String, usize),
    /// Content of the glass, per gram of it: what evaluation (b) reads.
    Glass(String),
    /// Content of a component of the coefficients that is known from elsewhere, per gram of sample as weighed.
    Known(String),
    /// Content that enters the total only, per gram of dried sample.
    External(String),
}

/// The kind of a column's cells.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Cells {
    Words,
    Mass,
    Content,
    Rate,
}

impl Quantity {
    pub(crate) fn cells(&self) -> Cells {
        match self {
            Self::Bead | Self::FluxLot | Self::Class | Self::Weighed | Self::MethodVersion | Self::Time => Cells::Words,
            Self::SampleMass | Self::FluxMass | Self::BeadMass | Self::Addition(_) => Cells::Mass,
            Self::Intensity(_) | Self::Peak(_) | Self::Background(..) => Cells::Rate,
            Self::FluxLoss | Self::LossOnFusion | Self::LossOnIgnition => Cells::Content,
            Self::Moisture | Self::AirMoisture => Cells::Content,
            Self::Glass(_) | Self::Known(_) | Self::External(_) => Cells::Content,
        }
    }

    /// Whether it is what a counter displays.
    pub(crate) fn is_counted(&self) -> bool {
        matches!(self, Self::Peak(_) | Self::Background(..))
    }

    /// The name of its column where none is declared: masses in g, contents and losses in %, intensities in counts/s. An
    /// addition is named by its place; the correction puts the substance there.
    ///
    /// ```
    /// use beadchem::batch::Quantity;
    /// assert_eq!(Quantity::SampleMass.usual_name(), "sample_g");
    /// assert_eq!(Quantity::Known("SO3".to_owned()).usual_name(), "SO3_known_percent");
    /// assert_eq!(Quantity::Glass("SiO2".to_owned()).usual_name(), "SiO2_glass_percent");
    /// ```
    #[must_use]
    pub fn usual_name(&self) -> String {
        match self {
            Self::Bead => "bead".to_owned(),
            Self::FluxLot => "flux_lot".to_owned(),
            Self::Class => "class".to_owned(),
            Self::Weighed => "weighed".to_owned(),
            Self::MethodVersion => "method_version".to_owned(),
            Self::SampleMass => "sample_g".to_owned(),
            Self::FluxMass => "flux_g".to_owned(),
            Self::BeadMass => "bead_g".to_owned(),
            Self::FluxLoss => "flux_loss_percent".to_owned(),
            Self::LossOnFusion => "loss_on_fusion_percent".to_owned(),
            Self::LossOnIgnition => "loss_on_ignition_percent".to_owned(),
            Self::Moisture => "moisture_percent".to_owned(),
            Self::AirMoisture => "air_moisture_percent".to_owned(),
            Self::Addition(place) => format!("addition_{}_g", place + 1),
            Self::Time => "measured_at".to_owned(),
            Self::Intensity(line) => format!("{}_cps", line.replace(' ', "_")),
            Self::Peak(line) => format!("{}_peak_cps", line.replace(' ', "_")),
            Self::Background(line, place) => format!("{}_background_{}_cps", line.replace(' ', "_"), place + 1),
            Self::Glass(species) => format!("{species}_glass_percent"),
            Self::Known(component) => format!("{component}_known_percent"),
            Self::External(species) => format!("{species}_external_percent"),
        }
    }

    /// From a word and what it is of: the line of an intensity, the species of a content, the number of an addition.
    ///
    /// # Errors
    /// `word.unknown`, the message lists the words; `table.layout` for an intensity, a content or an addition of nothing.
    ///
    /// ```
    /// use beadchem::batch::Quantity;
    /// assert_eq!(Quantity::from_word("sample mass", None)?, Quantity::SampleMass);
    /// assert_eq!(Quantity::from_word("known", Some("SO3"))?, Quantity::Known("SO3".to_owned()));
    /// assert!(Quantity::from_word("known", None).is_err());
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    pub fn from_word(word: &str, of: Option<&str>) -> Result<Self> {
        const PLAIN: [(&str, Quantity); 14] = [
            ("bead", Quantity::Bead),
            ("flux lot", Quantity::FluxLot),
            ("class", Quantity::Class),
            ("weighed", Quantity::Weighed),
            ("method version", Quantity::MethodVersion),
            ("sample mass", Quantity::SampleMass),
            ("flux mass", Quantity::FluxMass),
            ("bead mass", Quantity::BeadMass),
            ("flux loss", Quantity::FluxLoss),
            ("loss on fusion", Quantity::LossOnFusion),
            ("loss on ignition", Quantity::LossOnIgnition),
            ("moisture", Quantity::Moisture),
            ("air moisture", Quantity::AirMoisture),
            ("time", Quantity::Time),
        ];
        const OF: [&str; 8] =
            ["addition", "intensity", "peak", "background 1", "background 2", "glass", "known", "external"];
        if let Some((_, quantity)) = PLAIN.iter().find(|(known, _)| *known == word) {
            return Ok(quantity.clone());
        }
        if !OF.contains(&word) {
            let known: Vec<&str> = PLAIN.iter().map(|(known, _)| *known).chain(OF).collect();
            return Err(Error::word("Quantity of a column", word, &known));
        }
        let unsaid = |hint: &str| Error::Conflict {
            code: Code::TableLayout,
            detail: format!("A column of the quantity {word} does not say of what."),
            hint: hint.to_owned(),
        };
        match (word, of) {
            ("addition", Some(number)) => match number.parse::<usize>() {
                Ok(number) if number > 0 => Ok(Quantity::Addition(number - 1)),
                _ => Err(unsaid("Give the number of the addition, from 1.")),
            },
            ("intensity", Some(line)) => Ok(Quantity::Intensity(line.to_owned())),
            ("peak", Some(line)) => Ok(Quantity::Peak(line.to_owned())),
            ("background 1", Some(line)) => Ok(Quantity::Background(line.to_owned(), 0)),
            ("background 2", Some(line)) => Ok(Quantity::Background(line.to_owned(), 1)),
            ("glass", Some(species)) => Ok(Quantity::Glass(species.to_owned())),
            ("known", Some(component)) => Ok(Quantity::Known(component.to_owned())),
            (_, Some(species)) => Ok(Quantity::External(species.to_owned())),
            (_, None) => Err(unsaid("Name the line, the species, or the number of the addition.")),
        }
    }

    /// What it is in words.
    pub(crate) fn in_words(&self) -> String {
        match self {
            Self::Bead => "bead id".to_owned(),
            Self::FluxLot => "flux lot".to_owned(),
            Self::Class => "class".to_owned(),
            Self::Weighed => "basis as weighed".to_owned(),
            Self::MethodVersion => "method version".to_owned(),
            Self::SampleMass => "sample mass".to_owned(),
            Self::FluxMass => "flux mass".to_owned(),
            Self::BeadMass => "bead mass".to_owned(),
            Self::FluxLoss => "flux loss".to_owned(),
            Self::LossOnFusion => "loss on fusion".to_owned(),
            Self::LossOnIgnition => "loss on ignition".to_owned(),
            Self::Moisture => "moisture".to_owned(),
            Self::AirMoisture => "air moisture".to_owned(),
            Self::Addition(place) => format!("mass of addition {}", place + 1),
            Self::Time => "time of measurement".to_owned(),
            Self::Intensity(line) => format!("{line} net intensity"),
            Self::Peak(line) => format!("{line} peak rate"),
            Self::Background(line, place) => format!("{line} background {} rate", place + 1),
            Self::Glass(species) => format!("{species} in the glass"),
            Self::Known(component) => format!("{component} known from elsewhere"),
            Self::External(species) => format!("{species} from elsewhere"),
        }
    }
}

impl core::fmt::Display for Quantity {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        f.write_str(&self.in_words())
    }
}

/// The unit of counts that are not divided by their counting time.
pub(super) const COUNTS: &str = "counts";

/// What is known of the uncertainty of a column's numbers, in the unit of the column.
///
/// ```
/// use beadchem::batch::Spread;
/// assert_eq!(Spread::default(), Spread::Unstated);
/// ```
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Spread {
    /// Nothing: every u that follows is "at least".
    #[default]
    Unstated,
    /// The same standard uncertainty for all.
    Fixed(f64),
    /// A part of the number.
    Relative(f64),
    /// Counts in so many seconds: `u = sqrt(I / t)`, for a counted rate never less than that of one count.
    Counting(f64),
    /// The same with the counting time in a column of its own, s.
    CountingColumn(String),
    /// In a column of its own.
    Column(String),
}

/// A declared column: what it stands for, its name, its unit, what is known of its uncertainty.
///
/// ```
/// use beadchem::batch::{Field, Quantity, Spread};
/// use beadchem::sheet::MassUnit;
/// let field = Field::new(Quantity::SampleMass).named("m1").mass_unit(MassUnit::Milligram)?.spread(Spread::Fixed(0.1))?;
/// assert_eq!((field.name(), field.unit()), ("m1", "mg"));
/// # Ok::<(), beadchem::Error>(())
/// ```
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Field {
    pub(crate) quantity: Quantity,
    pub(crate) name: String,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub(crate) unit: Option<String>,
    #[serde(default)]
    pub(crate) u: Spread,
    /// How often a background is taken off its peak.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub(crate) weight: Option<f64>,
    /// That of the detector which counted this peak and its backgrounds.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub(crate) dead_time: Option<DeadTime>,
    /// The table may lack it.
    #[serde(default)]
    pub(crate) optional: bool,
}

impl Field {
    /// A quantity under its usual name and in its usual unit, its uncertainty not stated; a table must have it.
    ///
    /// ```
    /// use beadchem::batch::{Field, Quantity};
    /// assert_eq!(Field::new(Quantity::Moisture).unit(), "%");
    /// ```
    #[must_use]
    pub fn new(quantity: Quantity) -> Self {
        Self {
            name: quantity.usual_name(),
            quantity,
            unit: None,
            u: Spread::Unstated,
            weight: None,
            dead_time: None,
            optional: false,
        }
    }

    /// Under another name.
    ///
    /// ```
    /// use beadchem::batch::{Field, Quantity};
    /// assert_eq!(Field::new(Quantity::Bead).named("sample id").name(), "sample id");
    /// ```
    #[must_use]
    pub fn named(mut self, name: impl Into<String>) -> Self {
        self.name = name.into();
        self
    }

    /// In another unit of contents.
    ///
    /// # Errors
    /// `table.layout` for a quantity that is no content or loss.
    ///
    /// ```
    /// use beadchem::{batch::{Field, Quantity}, composition::Unit};
    /// assert!(Field::new(Quantity::SampleMass).content_unit(Unit::Percent).is_err());
    /// ```
    pub fn content_unit(mut self, unit: Unit) -> Result<Self> {
        if self.quantity.cells() != Cells::Content {
            return Err(self.no_such_unit(unit.word()));
        }
        self.unit = Some(unit.word().to_owned());
        Ok(self)
    }

    /// In another unit of mass.
    ///
    /// # Errors
    /// `table.layout` for a quantity that is no mass.
    ///
    /// ```
    /// use beadchem::{batch::{Field, Quantity}, sheet::MassUnit};
    /// assert!(Field::new(Quantity::Moisture).mass_unit(MassUnit::Gram).is_err());
    /// ```
    pub fn mass_unit(mut self, unit: MassUnit) -> Result<Self> {
        if self.quantity.cells() != Cells::Mass {
            return Err(self.no_such_unit(unit.word()));
        }
        self.unit = Some(unit.word().to_owned());
        Ok(self)
    }

    /// In the unit of this word.
    ///
    /// # Errors
    /// `word.unknown`; `table.layout` for a unit of another kind.
    ///
    /// ```
    /// use beadchem::batch::{Field, Quantity};
    /// assert_eq!(Field::new(Quantity::Moisture).in_unit("g/kg")?.unit(), "g/kg");
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    pub fn in_unit(self, word: &str) -> Result<Self> {
        match self.quantity.cells() {
            Cells::Content => self.content_unit(Unit::from_word(word)?),
            Cells::Mass => self.mass_unit(MassUnit::from_word(word)?),
            Cells::Rate if word == "counts/s" => Ok(Self { unit: None, ..self }),
            Cells::Rate if word == COUNTS && self.quantity.is_counted() => {
                Ok(Self { unit: Some(COUNTS.to_owned()), ..self })
            }
            Cells::Rate | Cells::Words => Err(self.no_such_unit(word)),
        }
    }

    /// With what is known of the uncertainty of its numbers.
    ///
    /// # Errors
    /// `uncertainty.negative`; `number.not-finite`; `table.layout` for words, and for counting of what is not counted.
    ///
    /// ```
    /// use beadchem::batch::{Field, Quantity, Spread};
    /// assert!(Field::new(Quantity::Moisture).spread(Spread::Counting(40.0)).is_err());
    /// ```
    pub fn spread(mut self, u: Spread) -> Result<Self> {
        let refused = |detail: String| {
            Err(Error::Conflict {
                code: Code::TableLayout,
                detail,
                hint: "State a u that is fixed, relative or in a column of its own.".to_owned(),
            })
        };
        match (&u, self.quantity.cells()) {
            (Spread::Unstated, _) => {}
            (_, Cells::Words) => {
                return refused(format!("Column {} holds words, which have no uncertainty.", self.name));
            }
            (Spread::Counting(_) | Spread::CountingColumn(_), Cells::Mass | Cells::Content) => {
                return refused(format!("Column {} is not counted.", self.name));
            }
            (Spread::Fixed(_) | Spread::Relative(_) | Spread::Column(_), _) if self.quantity.is_counted() => {
                return Err(Error::Conflict {
                    code: Code::TableLayout,
                    detail: format!("The u of column {} follows from its counting time.", self.name),
                    hint: "State the counting time, fixed or in a column of its own.".to_owned(),
                });
            }
            (Spread::Fixed(number) | Spread::Relative(number), _) => {
                crate::error::finite(&format!("u of column {}", self.name), *number)?;
                if *number < 0.0 {
                    return Err(Error::OutOfRange {
                        code: Code::UncertaintyNegative,
                        quantity: format!("u of column {}", self.name),
                        value: *number,
                        unit: "",
                        bound: "0 or more".to_owned(),
                        hint: "A standard uncertainty has no sign.".to_owned(),
                    });
                }
                if *number > LARGEST_U {
                    return Err(boundless(&self.name, *number));
                }
                if let Spread::Relative(part) = &u {
                    let quantity = format!("Relative u of column {}", self.name);
                    let hint = "It is a part of the number: 0.002 for 0.2 %. Are these percent?";
                    crate::error::within(&quantity, *part, "", [0.0, 1.0], "0 to 1", hint)?;
                }
            }
            (Spread::Counting(seconds), _) => {
                let quantity = format!("Counting time of column {}", self.name);
                counting_time(&quantity, *seconds)?;
            }
            (Spread::Column(_) | Spread::CountingColumn(_), _) => {}
        }
        self.u = u;
        Ok(self)
    }

    /// A stored field, held against what the constructors take.
    pub(crate) fn checked(self) -> Result<Self> {
        let plain = Self { unit: None, u: Spread::Unstated, weight: None, dead_time: None, ..self.clone() };
        let plain = match &self.unit {
            Some(unit) => plain.in_unit(unit)?,
            None => plain,
        };
        let plain = plain.spread(self.u)?;
        let plain = match self.weight {
            Some(weight) => plain.weight(weight)?,
            None => plain,
        };
        match self.dead_time {
            Some(dead_time) => plain.dead_time(dead_time),
            None => Ok(plain),
        }
    }

    /// A table may lack it.
    ///
    /// ```
    /// use beadchem::batch::{Field, Quantity};
    /// assert!(Field::new(Quantity::Bead).optional().is_optional());
    /// ```
    #[must_use]
    pub fn optional(mut self) -> Self {
        self.optional = true;
        self
    }

    /// Whether a table may lack it.
    ///
    /// ```
    /// use beadchem::batch::{Field, Quantity};
    /// assert!(!Field::new(Quantity::Bead).is_optional());
    /// ```
    #[must_use]
    pub fn is_optional(&self) -> bool {
        self.optional
    }

    /// What it stands for.
    ///
    /// ```
    /// use beadchem::batch::{Field, Quantity};
    /// assert_eq!(Field::new(Quantity::Bead).quantity(), &Quantity::Bead);
    /// ```
    #[must_use]
    pub fn quantity(&self) -> &Quantity {
        &self.quantity
    }

    /// What is stated of the uncertainty of its numbers.
    ///
    /// ```
    /// use beadchem::batch::{Field, Quantity, Spread};
    /// assert_eq!(Field::new(Quantity::Moisture).stated(), &Spread::Unstated);
    /// ```
    #[must_use]
    pub fn stated(&self) -> &Spread {
        &self.u
    }

    /// The name of the column.
    ///
    /// ```
    /// use beadchem::batch::{Field, Quantity};
    /// assert_eq!(Field::new(Quantity::FluxMass).name(), "flux_g");
    /// ```
    #[must_use]
    pub fn name(&self) -> &str {
        &self.name
    }

    /// The word of its unit; empty for words.
    ///
    /// ```
    /// use beadchem::batch::{Field, Quantity};
    /// assert_eq!(Field::new(Quantity::Intensity("Fe Ka".to_owned())).unit(), "counts/s");
    /// ```
    #[must_use]
    pub fn unit(&self) -> &str {
        match (&self.unit, self.quantity.cells()) {
            (Some(unit), _) => unit,
            (None, Cells::Words) => "",
            (None, Cells::Mass) => MassUnit::Gram.word(),
            (None, Cells::Content) => Unit::Percent.word(),
            (None, Cells::Rate) => "counts/s",
        }
    }

    /// A number of its column in the unit inside: g, g/g, counts/s.
    #[inline(always)]
    pub(crate) fn scale(&self) -> Scale {
        match self.quantity.cells() {
            Cells::Content => Scale::Content(Unit::from_word(self.unit()).unwrap_or(Unit::Percent)),
            Cells::Mass => Scale::Mass(MassUnit::from_word(self.unit()).unwrap_or(MassUnit::Gram)),
            Cells::Rate | Cells::Words => Scale::AsItIs,
        }
    }

    fn no_such_unit(&self, unit: &str) -> Error {
        Error::Conflict {
            code: Code::TableLayout,
            detail: format!("Column {} cannot be in {unit}.", self.name),
            hint: format!("It is {}.", self.quantity.in_words()),
        }
    }
}

/// From the unit of a column to the unit inside.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) enum Scale {
    AsItIs,
    Content(Unit),
    Mass(MassUnit),
}

impl Scale {
    /// A number in the unit of the column.
    pub(crate) fn outside(self, inside: f64) -> f64 {
        match self {
            Scale::Content(unit) => unit.written(inside),
            Scale::AsItIs | Scale::Mass(_) => inside,
        }
    }

    #[inline(always)]
    pub(crate) fn inside(self, written: f64) -> f64 {
        match self {
            Scale::AsItIs => written,
            Scale::Content(unit) => unit.fraction(written),
            Scale::Mass(unit) => unit.grams(written),
        }
    }
}

/// A standard uncertainty that is larger leaves variances of results without a number.
pub(crate) const LARGEST_U: f64 = 1e100;

/// Refuses a standard uncertainty above [`LARGEST_U`].
pub(crate) fn boundless(column: &str, u: f64) -> Error {
    Error::Conflict {
        code: Code::UncertaintyBoundless,
        detail: format!(
            "The u of {column}, {u:e}, leaves results without a finite one; up to {LARGEST_U:e} is possible."
        ),
        hint: "Is it given in the unit of its value?".to_owned(),
    }
}
