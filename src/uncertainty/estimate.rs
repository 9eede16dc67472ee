//! One input quantity: its value and what is known of its uncertainty.

use serde::{Deserialize, Serialize};

use crate::code::Code;
use crate::error::{Error, Result, finite};

/// The shape of what is known about an input; it matters to Monte Carlo, not to first order.
///
/// ```
/// use beadchem::uncertainty::Distribution;
/// assert_eq!(Distribution::from_word("rectangular")?, Distribution::Rectangular);
/// # Ok::<(), beadchem::Error>(())
/// ```
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
#[non_exhaustive]
pub enum Distribution {
    /// Normal with standard deviation u.
    #[default]
    Normal,
    /// Equal density between two limits; half width u sqrt(3).
    Rectangular,
    /// Symmetric triangle between two limits; half width u sqrt(6).
    Triangular,
    /// A sine at random phase between two limits (the U-shaped distribution); half width u sqrt(2).
    Arcsine,
    /// Student's t scaled by u, for the mean of a few readings (JCGM 101:2008, 6.4.9). Its standard deviation is
    /// u sqrt(dof / (dof - 2)), larger than u.
    StudentT,
}

impl Distribution {
    const WORDS: [(&'static str, Distribution); 5] = [
        ("normal", Distribution::Normal),
        ("rectangular", Distribution::Rectangular),
        ("triangular", Distribution::Triangular),
        ("arcsine", Distribution::Arcsine),
        ("student-t", Distribution::StudentT),
    ];

    /// The distribution with this word.
    ///
    /// # Errors
    /// `word.unknown`; the message lists the words.
    ///
    /// ```
    /// assert!(beadchem::uncertainty::Distribution::from_word("gaussian").is_err());
    /// ```
    pub fn from_word(word: &str) -> Result<Self> {
        Self::WORDS
            .iter()
            .find(|(known, _)| *known == word)
            .map(|(_, distribution)| *distribution)
            .ok_or_else(|| Error::word("Distribution", word, &Self::WORDS.map(|(word, _)| word)))
    }

    /// The word.
    ///
    /// ```
    /// assert_eq!(beadchem::uncertainty::Distribution::StudentT.word(), "student-t");
    /// ```
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Distribution::Normal => "normal",
            Distribution::Rectangular => "rectangular",
            Distribution::Triangular => "triangular",
            Distribution::Arcsine => "arcsine",
            Distribution::StudentT => "student-t",
        }
    }
}

/// What is known of the uncertainty of a value.
///
/// ```
/// use beadchem::uncertainty::{Estimate, Knowledge};
/// assert_eq!(Estimate::from(0.8).knowledge(), Knowledge::Unstated);
/// ```
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Knowledge {
    /// A bare number: it computes, and every result that uses it says "at least".
    Unstated,
    /// Exact by definition or by decision.
    Exact,
    /// A standard uncertainty, with its degrees of freedom (infinite where not given) and distribution.
    Standard {
        /// Standard uncertainty, in the unit of the value.
        u: f64,
        /// Degrees of freedom; `f64::INFINITY` where not limited.
        dof: f64,
        /// The distribution.
        distribution: Distribution,
    },
}

/// A part of an uncertainty that comes from a cause shared with other inputs, such as the calibration of one balance.
///
/// ```
/// use beadchem::uncertainty::Estimate;
/// let mass = Estimate::new(0.8004, 0.0001)?.shared("balance B-2", 0.00005)?;
/// assert_eq!(mass.causes()[0].cause, "balance B-2");
/// # Ok::<(), beadchem::Error>(())
/// ```
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct SharedCause {
    /// The name of the cause; equal names are one cause.
    pub cause: String,
    /// How far the value moves when the cause moves by its own standard uncertainty, signed, in the unit of the value.
    pub u: f64,
}

/// The value of an input quantity with what is known of its uncertainty.
///
/// It has no arithmetic of its own: combining two estimates by hand would lose their covariance. Combinations go
/// through a model ([`propagate`](crate::uncertainty::propagate)).
///
/// ```
/// use beadchem::uncertainty::Estimate;
/// let mass = Estimate::new(0.8004, 0.00012)?;
/// assert_eq!((mass.value(), mass.u()), (0.8004, Some(0.00012)));
/// # Ok::<(), beadchem::Error>(())
/// ```
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(try_from = "Body", into = "Body")]
pub struct Estimate {
    value: f64,
    knowledge: Knowledge,
    shared: Vec<SharedCause>,
}

impl Estimate {
    /// A value with its standard uncertainty, normal, with unlimited degrees of freedom.
    ///
    /// # Errors
    /// `number.not-finite`, `uncertainty.negative`.
    ///
    /// ```
    /// assert!(beadchem::uncertainty::Estimate::new(0.8, -0.1).is_err());
    /// ```
    pub fn new(value: f64, u: f64) -> Result<Self> {
        Self::with_knowledge(value, Knowledge::Standard { u, dof: f64::INFINITY, distribution: Distribution::Normal })
    }

    /// A bare number: its uncertainty is not stated.
    ///
    /// # Errors
    /// `number.not-finite`.
    ///
    /// ```
    /// assert_eq!(beadchem::uncertainty::Estimate::unstated(0.8)?.u(), None);
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    pub fn unstated(value: f64) -> Result<Self> {
        Self::with_knowledge(value, Knowledge::Unstated)
    }

    /// An exact number.
    ///
    /// # Errors
    /// `number.not-finite`.
    ///
    /// ```
    /// assert_eq!(beadchem::uncertainty::Estimate::exact(2.0)?.u(), Some(0.0));
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    pub fn exact(value: f64) -> Result<Self> {
        Self::with_knowledge(value, Knowledge::Exact)
    }

    /// A value known only to lie within `value` plus or minus `half_width`: u is `half_width / sqrt(3)`.
    ///
    /// # Errors
    /// As [`Estimate::new`].
    ///
    /// # Source
    /// JCGM 100:2008, 4.3.7.
    ///
    /// ```
    /// let purity = beadchem::uncertainty::Estimate::rectangular(1.0, 0.0005)?;
    /// assert_eq!(purity.u(), Some(0.0005 / 3f64.sqrt()));
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    pub fn rectangular(value: f64, half_width: f64) -> Result<Self> {
        Self::new(value, half_width / 3f64.sqrt())?.distributed(Distribution::Rectangular)
    }

    /// A value most likely near the middle of plus or minus `half_width`: u is `half_width / sqrt(6)`.
    ///
    /// # Errors
    /// As [`Estimate::new`].
    ///
    /// # Source
    /// JCGM 100:2008, 4.3.9.
    ///
    /// ```
    /// let volume = beadchem::uncertainty::Estimate::triangular(100.0, 0.1)?;
    /// assert_eq!(volume.u(), Some(0.1 / 6f64.sqrt()));
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    pub fn triangular(value: f64, half_width: f64) -> Result<Self> {
        Self::new(value, half_width / 6f64.sqrt())?.distributed(Distribution::Triangular)
    }

    /// A value that swings as a sine of amplitude `half_width`: u is `half_width / sqrt(2)`.
    ///
    /// # Errors
    /// As [`Estimate::new`].
    ///
    /// # Source
    /// JCGM 101:2008, 6.4.6.
    ///
    /// ```
    /// let swing = beadchem::uncertainty::Estimate::arcsine(0.0, 0.5)?;
    /// assert_eq!(swing.u(), Some(0.5 / 2f64.sqrt()));
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    pub fn arcsine(value: f64, half_width: f64) -> Result<Self> {
        Self::new(value, half_width / 2f64.sqrt())?.distributed(Distribution::Arcsine)
    }

    fn with_knowledge(value: f64, knowledge: Knowledge) -> Result<Self> {
        finite("A value", value)?;
        if let Knowledge::Standard { u, dof, distribution } = knowledge {
            finite(&format!("The uncertainty of {value}"), u)?;
            if u < 0.0 {
                return Err(Error::OutOfRange {
                    code: Code::UncertaintyNegative,
                    quantity: format!("The uncertainty of {value},"),
                    value: u,
                    unit: "",
                    bound: "0 and above".to_owned(),
                    hint: "A standard uncertainty has no sign; were value and uncertainty swapped?".to_owned(),
                });
            }
            let least = if distribution == Distribution::StudentT { 2.0 } else { 0.0 };
            if dof.is_nan() || dof <= least || (distribution == Distribution::StudentT && dof.is_infinite()) {
                return Err(Error::OutOfRange {
                    code: Code::DegreesOfFreedom,
                    quantity: format!("Degrees of freedom of {value},"),
                    value: dof,
                    unit: "",
                    bound: format!("above {least}"),
                    hint: "Readings less parameters fitted; below 3, Student's t has no standard deviation.".to_owned(),
                });
            }
        }
        Ok(Self { value, knowledge, shared: Vec::new() })
    }

    fn nothing_to_describe(&self, code: Code, what: &str) -> Error {
        Error::Conflict {
            code,
            detail: format!("{what} stated for {}, which has no stated uncertainty.", self.value),
            hint: "Give its standard uncertainty too.".to_owned(),
        }
    }

    /// The same with limited degrees of freedom.
    ///
    /// # Errors
    /// `uncertainty.degrees-of-freedom` where `dof` is not above zero, or no u is stated.
    ///
    /// ```
    /// let mean = beadchem::uncertainty::Estimate::new(0.0038, 0.0002)?.with_dof(5.0)?;
    /// assert_eq!(mean.dof(), 5.0);
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    pub fn with_dof(self, dof: f64) -> Result<Self> {
        let knowledge = match self.knowledge {
            Knowledge::Standard { u, distribution, .. } => Knowledge::Standard { u, dof, distribution },
            _ => return Err(self.nothing_to_describe(Code::DegreesOfFreedom, "Degrees of freedom were")),
        };
        Ok(Self { shared: self.shared, ..Self::with_knowledge(self.value, knowledge)? })
    }

    /// The same with another distribution of the same standard uncertainty.
    ///
    /// # Errors
    /// `uncertainty.degrees-of-freedom` for [`Distribution::StudentT`] without degrees of freedom above 2;
    /// `uncertainty.distribution` where no u is stated.
    ///
    /// ```
    /// use beadchem::uncertainty::{Distribution, Estimate};
    /// let mean = Estimate::new(0.0038, 0.0002)?.with_dof(5.0)?.distributed(Distribution::StudentT)?;
    /// assert_eq!(mean.distribution(), Distribution::StudentT);
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    pub fn distributed(self, distribution: Distribution) -> Result<Self> {
        let knowledge = match self.knowledge {
            Knowledge::Standard { u, dof, .. } => Knowledge::Standard { u, dof, distribution },
            other if distribution == Distribution::Normal => other,
            _ => return Err(self.nothing_to_describe(Code::DistributionUnfit, "A distribution was")),
        };
        Ok(Self { shared: self.shared, ..Self::with_knowledge(self.value, knowledge)? })
    }

    /// The same with a further part that is shared with every input naming the same cause.
    ///
    /// `u` is signed: two inputs that the cause moves in opposite directions carry opposite signs. It comes on top of
    /// the estimate's own u. A cause named twice moves the value by the sum.
    ///
    /// # Errors
    /// `number.not-finite`.
    ///
    /// ```
    /// let mass = beadchem::uncertainty::Estimate::new(0.8, 0.0003)?.shared("balance", 0.0004)?;
    /// assert!((mass.u().unwrap() - 0.0005).abs() < 1e-15);
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    pub fn shared(mut self, cause: impl Into<String>, u: f64) -> Result<Self> {
        let cause = cause.into();
        finite(&format!("The part of the uncertainty shared through {cause}"), u)?;
        // one cause moves the value once, by the sum
        match self.shared.iter_mut().find(|part| part.cause == cause) {
            Some(part) => part.u += u,
            None => self.shared.push(SharedCause { cause, u }),
        }
        Ok(self)
    }

    /// The value.
    ///
    /// ```
    /// assert_eq!(beadchem::uncertainty::Estimate::from(0.8).value(), 0.8);
    /// ```
    #[must_use]
    pub fn value(&self) -> f64 {
        self.value
    }

    /// What is known of the uncertainty, shared causes apart.
    ///
    /// ```
    /// use beadchem::uncertainty::{Estimate, Knowledge};
    /// assert_eq!(Estimate::exact(1.0)?.knowledge(), Knowledge::Exact);
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn knowledge(&self) -> Knowledge {
        self.knowledge
    }

    /// The whole standard uncertainty, own and shared; nothing where it is not stated.
    ///
    /// ```
    /// assert_eq!(beadchem::uncertainty::Estimate::from(0.8).u(), None);
    /// ```
    #[must_use]
    pub fn u(&self) -> Option<f64> {
        let shared: f64 = self.shared.iter().map(|part| part.u * part.u).sum();
        match self.knowledge {
            Knowledge::Unstated => None,
            Knowledge::Exact => Some(shared.sqrt()),
            Knowledge::Standard { u, .. } if self.shared.is_empty() => Some(u),
            Knowledge::Standard { u, .. } => Some((u * u + shared).sqrt()),
        }
    }

    /// The estimate's own standard uncertainty, without shared causes; zero where it is exact or not stated.
    #[must_use]
    pub(crate) fn own_u(&self) -> f64 {
        match self.knowledge {
            Knowledge::Standard { u, .. } => u,
            _ => 0.0,
        }
    }

    /// Degrees of freedom of the own part; infinite where not limited.
    ///
    /// ```
    /// assert!(beadchem::uncertainty::Estimate::new(0.8, 0.1)?.dof().is_infinite());
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn dof(&self) -> f64 {
        match self.knowledge {
            Knowledge::Standard { dof, .. } => dof,
            _ => f64::INFINITY,
        }
    }

    /// The distribution of the own part.
    ///
    /// ```
    /// use beadchem::uncertainty::{Distribution, Estimate};
    /// assert_eq!(Estimate::new(0.8, 0.1)?.distribution(), Distribution::Normal);
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn distribution(&self) -> Distribution {
        match self.knowledge {
            Knowledge::Standard { distribution, .. } => distribution,
            _ => Distribution::Normal,
        }
    }

    /// The parts shared with other inputs.
    ///
    /// ```
    /// assert!(beadchem::uncertainty::Estimate::from(0.8).causes().is_empty());
    /// ```
    #[must_use]
    pub fn causes(&self) -> &[SharedCause] {
        &self.shared
    }

    /// The same in another unit: value and uncertainties through an exact linear change of scale.
    #[must_use]
    pub(crate) fn mapped(&self, scale: impl Fn(f64) -> f64) -> Self {
        let knowledge = match self.knowledge {
            Knowledge::Standard { u, dof, distribution } => Knowledge::Standard { u: scale(u), dof, distribution },
            other => other,
        };
        let shared =
            self.shared.iter().map(|part| SharedCause { cause: part.cause.clone(), u: scale(part.u) }).collect();
        Self { value: scale(self.value), knowledge, shared }
    }
}

/// A bare number: unstated uncertainty. A number that is not finite is kept and refused where it is used.
impl From<f64> for Estimate {
    fn from(value: f64) -> Self {
        Self { value, knowledge: Knowledge::Unstated, shared: Vec::new() }
    }
}

#[derive(Clone, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct Body {
    value: f64,
    #[serde(skip_serializing_if = "Option::is_none", default)]
    u: Option<f64>,
    #[serde(skip_serializing_if = "Option::is_none", default)]
    exact: Option<bool>,
    #[serde(skip_serializing_if = "Option::is_none", default)]
    dof: Option<f64>,
    #[serde(skip_serializing_if = "Option::is_none", default)]
    distribution: Option<Distribution>,
    #[serde(skip_serializing_if = "Vec::is_empty", default)]
    shared: Vec<SharedCause>,
}

impl From<Estimate> for Body {
    fn from(estimate: Estimate) -> Self {
        let mut body = Body {
            value: estimate.value,
            u: None,
            exact: None,
            dof: None,
            distribution: None,
            shared: estimate.shared,
        };
        match estimate.knowledge {
            Knowledge::Unstated => {}
            Knowledge::Exact => body.exact = Some(true),
            Knowledge::Standard { u, dof, distribution } => {
                body.u = Some(u);
                body.dof = dof.is_finite().then_some(dof);
                body.distribution = (distribution != Distribution::Normal).then_some(distribution);
            }
        }
        body
    }
}

impl TryFrom<Body> for Estimate {
    type Error = Error;
    fn try_from(body: Body) -> Result<Self> {
        let described = body.dof.is_some() || body.distribution.is_some();
        let knowledge = match (body.u, body.exact) {
            (None, _) if described => {
                return Err(Error::Conflict {
                    code: Code::DocumentMalformed,
                    detail: format!("{} has degrees of freedom or a distribution, but no u.", body.value),
                    hint: "Give its standard uncertainty too, or leave them out.".to_owned(),
                });
            }
            (Some(_), Some(true)) => {
                return Err(Error::Conflict {
                    code: Code::DocumentMalformed,
                    detail: format!("{} is called exact and has an uncertainty.", body.value),
                    hint: "Keep one of the two.".to_owned(),
                });
            }
            (Some(u), _) => Knowledge::Standard {
                u,
                dof: body.dof.unwrap_or(f64::INFINITY),
                distribution: body.distribution.unwrap_or_default(),
            },
            (None, Some(true)) => Knowledge::Exact,
            (None, _) => Knowledge::Unstated,
        };
        let mut estimate = Estimate::with_knowledge(body.value, knowledge)?;
        for part in body.shared {
            estimate = estimate.shared(part.cause, part.u)?;
        }
        Ok(estimate)
    }
}
