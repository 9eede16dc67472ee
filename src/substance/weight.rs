//! The atomic weight of one element: what is published of it, and what a calculation makes of that.

use crate::code::Code;
use crate::error::{Error, Result, within};

/// What is published of the atomic weight of an element: relative to one twelfth of carbon-12, hence without a unit.
///
/// ```
/// use beadchem::substance::Weight;
/// let iron = Weight::Single { value: 55.845, half_width: 0.002 };
/// let sulfur = Weight::Interval { low: 32.059, high: 32.076, conventional: 32.06 };
/// assert_eq!((iron.value(), sulfur.value()), (55.845, 32.06));
/// ```
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Weight {
    /// One value for all normal material.
    Single {
        /// The value.
        value: f64,
        /// The quoted uncertainty, which is a rectangular half width and not a standard uncertainty.
        half_width: f64,
    },
    /// Normal material varies too much for one value.
    Interval {
        /// The lightest normal material.
        low: f64,
        /// The heaviest normal material.
        high: f64,
        /// The value for use where the material is not known, rounded; not the middle of the interval.
        conventional: f64,
    },
    /// No normal material: the mass number of a long-lived isotope.
    MassNumber(u16),
}

impl Weight {
    /// The number to calculate with: the value, the conventional value, or the mass number.
    ///
    /// ```
    /// assert_eq!(beadchem::substance::Weight::MassNumber(97).value(), 97.0);
    /// ```
    #[must_use]
    pub fn value(self) -> f64 {
        match self {
            Self::Single { value, .. } => value,
            Self::Interval { conventional, .. } => conventional,
            Self::MassNumber(number) => f64::from(number),
        }
    }

    /// The standard uncertainty: `half_width / sqrt(3)` or `(high - low) / sqrt(12)`; `None` for a mass number.
    ///
    /// Both are those of a rectangular distribution. For an interval it is the spread of natural material; the distance
    /// of the conventional value from the middle of the interval, a matter of convention, is not in it.
    ///
    /// # Source
    /// Intervals: Possolo et al., Pure Appl. Chem. 2018, 90, 395. Half widths: EURACHEM/CITAC QUAM:2012, example A2. Both
    /// also in van der Veen et al., Pure Appl. Chem. 2021, 93, 629 (from memory).
    ///
    /// ```
    /// let weights = beadchem::substance::Weights::ciaaw_2024();
    /// let u = |symbol| weights.get(symbol).map(|entry| entry.weight.standard_uncertainty());
    /// assert_eq!(format!("{:.5}", u("Fe")?.unwrap()), "0.00115"); // 0.002 / sqrt(3)
    /// assert_eq!(format!("{:.5}", u("S")?.unwrap()), "0.00491"); // (32.076 - 32.059) / sqrt(12)
    /// assert_eq!(u("Tc")?, None);
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn standard_uncertainty(self) -> Option<f64> {
        match self {
            Self::Single { half_width, .. } => Some(half_width / 3.0_f64.sqrt()),
            Self::Interval { low, high, .. } => Some((high - low) / 12.0_f64.sqrt()),
            Self::MassNumber(_) => None,
        }
    }

    /// The middle of an interval, the mean of a rectangular distribution over it; `None` where there is no interval.
    ///
    /// ```
    /// let lithium = beadchem::substance::Weights::ciaaw_2024().get("Li")?.weight;
    /// assert_eq!(lithium.value(), 6.94);
    /// assert_eq!(format!("{:.4}", lithium.interval_midpoint().unwrap()), "6.9675");
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn interval_midpoint(self) -> Option<f64> {
        match self {
            Self::Interval { low, high, .. } => Some(0.5 * (low + high)),
            Self::Single { .. } | Self::MassNumber(_) => None,
        }
    }
}

/// One line of the table.
///
/// ```
/// let weights = beadchem::substance::Weights::ciaaw_2024();
/// let entry = weights.get("Zr")?;
/// assert_eq!((entry.number, entry.symbol, entry.name), (40, "Zr", "zirconium"));
/// # Ok::<(), beadchem::Error>(())
/// ```
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Entry {
    /// The atomic number.
    pub number: u8,
    /// The symbol.
    pub symbol: &'static str,
    /// The English name.
    pub name: &'static str,
    /// The atomic weight.
    pub weight: Weight,
}

/// Refuses a weight that this element cannot have.
pub(crate) fn possible(element: &Entry, weight: Weight) -> Result<()> {
    let quantity = format!("Atomic weight of {}", element.symbol);
    let protons = f64::from(element.number);
    // From protons alone to tritium, which has the most neutrons to a proton.
    let span = [protons, 3.1 * protons];
    let bound = format!("{} to {:.1} (1 to 3.1 times the atomic number, as every nuclide)", span[0], span[1]);
    let plausible = |value: f64| within(&quantity, value, "", span, &bound, "Check the element and the decimal point.");
    match weight {
        Weight::Single { value, half_width } => {
            plausible(value)?;
            let what = format!("Half width of the atomic weight of {}", element.symbol);
            if half_width < 0.0 {
                return Err(Error::OutOfRange {
                    code: Code::UncertaintyNegative,
                    quantity: what,
                    value: half_width,
                    unit: "",
                    bound: "0 and above".to_owned(),
                    hint: "Give the quoted uncertainty without a sign.".to_owned(),
                });
            }
            within(
                &what,
                half_width,
                "",
                [0.0, value],
                "0 to the weight itself",
                "Was it given in units of the last digit?",
            )?;
        }
        Weight::Interval { low, high, conventional } => {
            for value in [low, high, conventional] {
                plausible(value)?;
            }
            let end = format!("Upper end of the interval of {}", element.symbol);
            within(&end, high, "", [low, span[1]], &format!("{low} and above"), "Give the lower end first.")?;
            let width = high - low;
            let near = [low - width, high + width];
            let bound = format!("the interval {low} to {high} and its width to either side");
            let hint = "A conventional value differs from its interval by rounding only.";
            let what = format!("Conventional atomic weight of {}", element.symbol);
            within(&what, conventional, "", near, &bound, hint)?;
        }
        Weight::MassNumber(number) => {
            plausible(f64::from(number))?;
        }
    }
    Ok(())
}
