//! Loss on ignition by weighing.

use crate::code::Code;
use crate::composition::{Basis, LossOnIgnition};
use crate::error::{Error, Result};
use crate::scalar::Scalar;
use crate::uncertainty::{Budget, Estimate, Inputs, Model, Propagated, propagate_plain};

/// Three weighings of one crucible and what else makes their loss uncertain.
///
/// `L = (m1 - m2) / (m1 - m0)`, m0 the empty crucible, m1 with the dried powder, m2 after ignition. The crucible stands
/// in both differences; that is kept by the exact derivatives:
/// `u^2(L) = [u^2(m1) (1 - L)^2 + u^2(m2) + u^2(m0) L^2] / (m1 - m0)^2`.
///
/// ```
/// use beadchem::{composition::IgnitionWeighing, uncertainty::Estimate};
/// let grams = |value| Estimate::new(value, 0.00007);
/// let weighing = IgnitionWeighing::new(grams(20.0)?, grams(21.0)?, grams(20.6)?, 1000.0)?.repeatability(0.0005)?;
/// assert_eq!(weighing.budget()?.rows()[0].name, "repeatability of the loss on ignition");
/// # Ok::<(), beadchem::Error>(())
/// ```
#[derive(Debug, Clone, PartialEq)]
pub struct IgnitionWeighing {
    crucible: Estimate,
    with_dried: Estimate,
    with_ignited: Estimate,
    temperature_c: f64,
    repeatability: f64,
    regain: f64,
}

struct WeighedLoss;

impl Model for WeighedLoss {
    fn outputs(&self) -> usize {
        1
    }
    fn inputs(&self) -> Option<usize> {
        Some(5)
    }
    #[inline(always)]
    fn evaluate<S: Scalar>(&self, x: &[S], out: &mut [S], _: &mut [S]) {
        let (crucible, dried, ignited) = (x[0], x[1], x[2]);
        out[0] = (dried - ignited) / (dried - crucible) + x[3] + x[4];
    }
}

impl IgnitionWeighing {
    /// The weighings, g, and the temperature of ignition, C. A tared crucible weighs 0.
    ///
    /// # Errors
    /// `mass.missing`; `mass.not-positive` where the powder weighs nothing; those of [`Basis::ignited`].
    ///
    /// ```
    /// use beadchem::composition::IgnitionWeighing;
    /// let refused = IgnitionWeighing::new(21.0, 20.0, 20.6, 1000.0).unwrap_err();
    /// assert!(refused.to_string().contains("the empty crucible"));
    /// ```
    pub fn new(
        crucible_g: impl Into<Estimate>,
        with_dried_g: impl Into<Estimate>,
        with_ignited_g: impl Into<Estimate>,
        temperature_c: f64,
    ) -> Result<Self> {
        let (crucible, with_dried, with_ignited) = (crucible_g.into(), with_dried_g.into(), with_ignited_g.into());
        known_mass("Mass of the empty crucible", &crucible)?;
        known_mass("Mass of the crucible with dried powder", &with_dried)?;
        known_mass("Mass of the crucible after ignition", &with_ignited)?;
        positive("Mass of the dried powder", with_dried.value() - crucible.value(), "the empty crucible")?;
        // a residue of nothing may weigh a little less than that; much less is another crucible
        const NOISE: f64 = 0.005;
        let (powder, residue) = (with_dried.value() - crucible.value(), with_ignited.value() - crucible.value());
        positive("Mass of the ignited powder", residue + NOISE * powder, "the empty crucible")?;
        Basis::ignited(temperature_c)?;
        Ok(Self { crucible, with_dried, with_ignited, temperature_c, repeatability: 0.0, regain: 0.0 })
    }

    /// With the standard deviation of repeated determinations, as a fraction of the dried powder: what crucible, furnace
    /// and powder add to the balance.
    ///
    /// # Errors
    /// `number.out-of-range` outside 0 to 10 %.
    ///
    /// ```
    /// use beadchem::composition::IgnitionWeighing;
    /// assert!(IgnitionWeighing::new(20.0, 21.0, 20.6, 1000.0)?.repeatability(-0.001).is_err());
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    pub fn repeatability(mut self, u: f64) -> Result<Self> {
        self.repeatability = allowance("Repeatability of a loss on ignition", u)?;
        Ok(self)
    }

    /// With an allowance for what the residue takes up on its way to the balance (water and carbon dioxide on lime), as a
    /// standard uncertainty in fractions of the dried powder. The loss itself is not changed.
    ///
    /// # Errors
    /// As [`repeatability`](Self::repeatability).
    ///
    /// ```
    /// use beadchem::composition::IgnitionWeighing;
    /// let weighing = IgnitionWeighing::new(20.0, 21.0, 20.6, 1000.0)?.regain_allowance(0.002)?;
    /// assert_eq!(weighing.budget()?.rows()[0].name, "regain of the residue before weighing");
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    pub fn regain_allowance(mut self, u: f64) -> Result<Self> {
        self.regain = allowance("Allowance for regain of a residue", u)?;
        Ok(self)
    }

    fn propagated(&self) -> Result<Propagated> {
        let mut inputs = Inputs::new();
        inputs.push("empty crucible", self.crucible.clone())?;
        inputs.push("crucible with dried powder", self.with_dried.clone())?;
        inputs.push("crucible after ignition", self.with_ignited.clone())?;
        inputs.push("repeatability of the loss on ignition", Estimate::new(0.0, self.repeatability)?)?;
        inputs.push("regain of the residue before weighing", Estimate::new(0.0, self.regain)?)?;
        propagate_plain(&WeighedLoss, &inputs)
    }

    /// The loss with its temperature. What the weighings share with others (one balance) stays shared.
    ///
    /// # Errors
    /// Those of [`LossOnIgnition::new`].
    ///
    /// ```
    /// use beadchem::composition::IgnitionWeighing;
    /// assert!((IgnitionWeighing::new(20.0, 21.0, 20.6, 1000.0)?.loss_on_ignition()?.loss().value() - 0.4).abs() < 1e-12);
    /// assert!(IgnitionWeighing::new(20.0, 21.0, 19.9, 1000.0).is_err()); // lighter than the empty crucible
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    pub fn loss_on_ignition(&self) -> Result<LossOnIgnition> {
        LossOnIgnition::new(self.propagated()?.measured(0)?, self.temperature_c)
    }

    /// Where the uncertainty of the loss comes from.
    ///
    /// # Errors
    /// None for weighings that could be made; kept fallible for the propagation.
    ///
    /// ```
    /// use beadchem::composition::IgnitionWeighing;
    /// assert_eq!(IgnitionWeighing::new(20.0, 21.0, 20.6, 1000.0)?.budget()?.unstated().len(), 3);
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    pub fn budget(&self) -> Result<Budget> {
        Ok(self.propagated()?.budget(0))
    }
}

fn allowance(quantity: &str, u: f64) -> Result<f64> {
    const MOST: f64 = 0.1;
    let hint = "A standard uncertainty as a fraction of the dried powder; were per cent and fractions mixed up?";
    crate::composition::unit::within_percent(quantity, u, [0.0, MOST], hint)
}

/// Refuses a reading of the balance that is missing or below zero.
pub(super) fn known_mass(quantity: &str, mass: &Estimate) -> Result<()> {
    if !mass.value().is_finite() {
        return Err(Error::Missing {
            code: Code::MassMissing,
            quantity: quantity.to_owned(),
            place: String::new(),
            hint: "Give a number in grams.".to_owned(),
        });
    }
    if mass.value() < 0.0 {
        return Err(Error::NotPositive {
            code: Code::MassNotPositive,
            quantity: quantity.to_owned(),
            value: mass.value(),
            unit: "g",
            bound: "A reading of the balance is zero or above".to_owned(),
            hint: "was the tare taken after loading?".to_owned(),
        });
    }
    Ok(())
}

/// Refuses a powder that weighs nothing.
pub(super) fn positive(quantity: &str, grams: f64, empty: &str) -> Result<()> {
    if grams > 0.0 {
        return Ok(());
    }
    Err(Error::NotPositive {
        code: Code::MassNotPositive,
        quantity: quantity.to_owned(),
        value: grams,
        unit: "g",
        bound: "A mass must be above zero".to_owned(),
        hint: format!("were {empty} and the full one swapped?"),
    })
}
