//! Moisture by drying in steps to constant mass.

use crate::code::Code;
use crate::composition::basis::checked_moisture;
use crate::composition::constant_mass::ConstantMass;
use crate::composition::ignited_mass::{known_mass, positive};
use crate::composition::unit::{Unit, milligrams};
use crate::error::{Error, Result};
use crate::finding::Finding;
use crate::scalar::Scalar;
use crate::table::{Cell, Column, Table};
use crate::uncertainty::{Budget, Estimate, Inputs, Model, Propagated, multiple_of_u, propagate_plain};

/// One step: the pan with the powder after it, and how long the step was.
#[derive(Debug, Clone, PartialEq)]
struct Step {
    mass: Estimate,
    minutes: Option<f64>,
}

/// A pan with moist powder and its mass after each step of drying.
///
/// ```
/// use beadchem::{composition::{ConstantMass, Drying}, uncertainty::Estimate};
/// let grams = |value| Estimate::new(value, 0.0002);
/// let drying = Drying::new(grams(52.1040)?, grams(62.1180)?, 105.0)?
///     .step_of(240.0, grams(61.4990)?)?
///     .step_of(60.0, grams(61.4974)?)?;
/// let moisture = drying.moisture(&ConstantMass::within_share(0.0005)?, 3.0)?;
/// assert_eq!(format!("{:.4}", moisture.estimate()?.value()), "0.0620");
/// assert_eq!(moisture.steps(), 2);
/// # Ok::<(), beadchem::Error>(())
/// ```
#[derive(Debug, Clone, PartialEq)]
pub struct Drying {
    pan: Estimate,
    moist: Estimate,
    temperature_c: f64,
    steps: Vec<Step>,
}

/// `(moist - dried) / (moist - pan)`: the pan stands in one difference, the moist mass in both.
struct WeighedMoisture;

impl Model for WeighedMoisture {
    fn outputs(&self) -> usize {
        1
    }
    fn inputs(&self) -> Option<usize> {
        Some(3)
    }
    #[inline(always)]
    fn evaluate<S: Scalar>(&self, x: &[S], out: &mut [S], _: &mut [S]) {
        let (pan, moist, dried) = (x[0], x[1], x[2]);
        out[0] = (moist - dried) / (moist - pan);
    }
}

struct Rise;

impl Model for Rise {
    fn outputs(&self) -> usize {
        1
    }
    #[inline(always)]
    fn evaluate<S: Scalar>(&self, x: &[S], out: &mut [S], _: &mut [S]) {
        out[0] = x[1] - x[0];
    }
}

impl Drying {
    /// The pan and the pan with moist powder, g, and the temperature of drying, C. A tared pan weighs 0.
    ///
    /// # Errors
    /// `mass.missing`; `mass.not-positive` where the powder weighs nothing; `number.out-of-range` for a temperature
    /// outside 15 to 300 C.
    ///
    /// ```
    /// use beadchem::composition::Drying;
    /// assert!(Drying::new(62.1, 52.1, 105.0).is_err()); // pan and full pan swapped
    /// ```
    pub fn new(pan_g: impl Into<Estimate>, with_moist_g: impl Into<Estimate>, temperature_c: f64) -> Result<Self> {
        let (pan, moist) = (pan_g.into(), with_moist_g.into());
        known_mass("Mass of the pan", &pan)?;
        known_mass("Mass of the pan with moist powder", &moist)?;
        positive("Mass of the moist powder", moist.value() - pan.value(), "the empty pan")?;
        let hint = "In degrees Celsius; often 105, and about 40 for hydrates.";
        crate::error::within("Drying temperature", temperature_c, "C", [15.0, 300.0], "15-300 C", hint)?;
        Ok(Self { pan, moist, temperature_c, steps: Vec::new() })
    }

    /// With the pan and powder after a further step whose time is not recorded, g.
    ///
    /// # Errors
    /// `mass.missing`, `mass.not-positive`.
    ///
    /// ```
    /// use beadchem::composition::Drying;
    /// assert!(Drying::new(52.1, 62.1, 105.0)?.step(f64::NAN).is_err());
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    pub fn step(self, with_dried_g: impl Into<Estimate>) -> Result<Self> {
        self.push(with_dried_g.into(), None)
    }

    /// With the pan and powder after a further step of so many minutes, g.
    ///
    /// # Errors
    /// As [`step`](Self::step); `number.out-of-range` for a time not above 0.
    ///
    /// ```
    /// use beadchem::composition::Drying;
    /// assert!(Drying::new(52.1, 62.1, 105.0)?.step_of(0.0, 61.5).is_err());
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    pub fn step_of(self, minutes: f64, with_dried_g: impl Into<Estimate>) -> Result<Self> {
        const LONGEST: f64 = 1e5;
        let hint = "How long this step was, in minutes.";
        crate::error::within(
            "Drying time",
            minutes,
            "min",
            [f64::MIN_POSITIVE, LONGEST],
            "above 0 to 100000 min",
            hint,
        )?;
        self.push(with_dried_g.into(), Some(minutes))
    }

    fn push(mut self, mass: Estimate, minutes: Option<f64>) -> Result<Self> {
        known_mass(&format!("Mass of the pan after step {} of drying", self.steps.len() + 1), &mass)?;
        positive("Mass of the dried powder", mass.value() - self.pan.value(), "the empty pan")?;
        self.steps.push(Step { mass, minutes });
        Ok(self)
    }

    /// The temperature, C.
    ///
    /// ```
    /// assert_eq!(beadchem::composition::Drying::new(52.1, 62.1, 105.0)?.temperature_c(), 105.0);
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn temperature_c(&self) -> f64 {
        self.temperature_c
    }

    /// The moisture, once the mass is constant by the laboratory's rule; `(moist - dried) / (moist - pan)` with the last
    /// weighing. A rise of more than k u between two steps is a finding.
    ///
    /// # Errors
    /// `drying.not-constant` instead of a number where the rule is not met, or there are fewer than two steps;
    /// `number.out-of-range` for a moisture below zero by more than 3 u, or a k not above zero.
    ///
    /// ```
    /// use beadchem::composition::{ConstantMass, Drying};
    /// let drying = Drying::new(52.1040, 62.1180, 105.0)?.step(61.4990)?.step(61.4890)?;
    /// let refused = drying.moisture(&ConstantMass::within_share(0.0005)?, 3.0).unwrap_err();
    /// assert!(refused.to_string().starts_with("Not constant: step 2 changed the mass by 10.0 mg, 0.100 % of the sample"));
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    pub fn moisture(&self, rule: &ConstantMass, k: f64) -> Result<Moisture> {
        multiple_of_u(k)?;
        let [.., before, last] = self.steps.as_slice() else {
            return Err(Error::Conflict {
                code: Code::DryingNotConstant,
                detail: format!("Not constant: {} of drying weighed.", self.counted()),
                hint: "Constant mass shows between two steps; dry for another one and weigh again.".to_owned(),
            });
        };
        let mut inputs = Inputs::new();
        inputs.push("pan", self.pan.clone())?;
        inputs.push("pan with moist powder", self.moist.clone())?;
        inputs.push("pan with dried powder", last.mass.clone())?;
        let propagated = propagate_plain(&WeighedMoisture, &inputs)?;
        // a gain is another trouble than a mass that still falls
        checked_moisture("Moisture", propagated.measured(0)?)?;
        let change_g = (last.mass.value() - before.mass.value()).abs();
        rule.hold(self.steps.len(), change_g, self.moist.value() - self.pan.value(), last.minutes)?;
        Ok(Moisture { propagated, steps: self.steps.len(), change_g, findings: self.regains(k)? })
    }

    fn counted(&self) -> &'static str {
        if self.steps.is_empty() { "no step" } else { "one step" }
    }

    /// Rises between two steps.
    fn regains(&self, k: f64) -> Result<Vec<Finding>> {
        let mut findings = Vec::new();
        for (index, pair) in self.steps.windows(2).enumerate() {
            let [before, after] = pair else { continue };
            let mut inputs = Inputs::new();
            inputs.push("before", before.mass.clone())?;
            inputs.push("after", after.mass.clone())?;
            let rise = propagate_plain(&Rise, &inputs)?;
            let (grams, u) = (rise.value(0), rise.u(0));
            if grams <= 0.0 || grams <= k * u {
                continue;
            }
            let stated = rise.unstated(0).is_empty();
            let spread = if stated {
                format!("u {:.2} mg, limit {k} u", milligrams(u))
            } else {
                format!("u at least {:.2} mg; not stated for both weighings", milligrams(u))
            };
            let text = format!(
                "The mass rose by {:.1} mg from step {} to step {} ({spread}). Moisture taken up on the way to the balance, \
                 or oxidation? The last weighing was used.",
                milligrams(grams),
                index + 1,
                index + 2
            );
            let finding = Finding::new(Code::DryingRegain, "drying", text);
            findings.push(finding.with_value(grams).with_u(u).with_bound(k * u));
        }
        Ok(findings)
    }

    /// The drying curve: each step with its time, mass, change and the moisture so far.
    ///
    /// ```
    /// use beadchem::composition::Drying;
    /// let drying = Drying::new(52.1040, 62.1180, 105.0)?.step_of(240.0, 61.4990)?.step_of(60.0, 61.4974)?;
    /// assert!(drying.table().to_csv().contains("2,300.0,61.4974,-1.6"));
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn table(&self) -> Table {
        // a tenth of a milligram is what a balance shows
        const GRAMS: u8 = 4;
        const MILLIGRAMS: u8 = 1;
        const MINUTES: u8 = 0;
        const PERCENT: u8 = 3;
        // what the table shows is read as data; rounding of differences is not
        let shown = |value: f64, decimals: u8| {
            let unit = 10f64.powi(i32::from(decimals));
            (value * unit).round() / unit
        };
        let (pan, moist) = (self.pan.value(), self.moist.value());
        let (mut previous, mut elapsed) = (moist, Some(0.0));
        let mut table = Table::new("Drying")
            .head(format!("{:.4} g of moist powder, dried at {} C", moist - pan, self.temperature_c))
            .column(Column::text("step"))
            .column(Column::number("time", "min"))
            .column(Column::number("pan and powder", "g"))
            .column(Column::number("change", "mg"))
            .column(Column::number("moisture", Unit::Percent.word()));
        for (index, step) in self.steps.iter().enumerate() {
            elapsed = elapsed.zip(step.minutes).map(|(before, minutes): (f64, f64)| before + minutes);
            let mass = step.mass.value();
            table = table.row([
                Cell::text((index + 1).to_string()),
                elapsed.map_or_else(|| Cell::missing("not recorded"), |minutes| Cell::number(minutes, MINUTES)),
                Cell::number(mass, GRAMS),
                Cell::number(shown(milligrams(mass - previous), GRAMS), MILLIGRAMS),
                Cell::number(Unit::Percent.written((moist - mass) / (moist - pan)), PERCENT),
            ]);
            previous = mass;
        }
        table
    }
}

/// A moisture from drying to constant mass.
///
/// ```
/// use beadchem::composition::{BasisLinks, ConstantMass, Drying};
/// let drying = Drying::new(52.1040, 62.1180, 105.0)?.step(61.4990)?.step(61.4974)?;
/// let moisture = drying.moisture(&ConstantMass::within_share(0.0005)?, 3.0)?;
/// let links = BasisLinks::default().moisture(moisture.estimate()?)?;
/// # Ok::<(), beadchem::Error>(())
/// ```
#[derive(Debug, Clone)]
pub struct Moisture {
    propagated: Propagated,
    steps: usize,
    change_g: f64,
    findings: Vec<Finding>,
}

impl Moisture {
    /// The moisture as a fraction of the moist material, with its u; what the weighings share with others (one balance)
    /// stays shared.
    ///
    /// # Errors
    /// None for a moisture that could be computed; kept fallible for the constructor.
    ///
    /// ```
    /// # use beadchem::composition::{ConstantMass, Drying};
    /// let drying = Drying::new(0.0, 10.0, 105.0)?.step(9.0)?.step(9.0)?;
    /// assert_eq!(drying.moisture(&ConstantMass::within_grams(0.0002)?, 3.0)?.estimate()?.value(), 0.1);
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    pub fn estimate(&self) -> Result<Estimate> {
        self.propagated.measured(0)
    }

    /// Where its uncertainty comes from.
    ///
    /// ```
    /// # use beadchem::composition::{ConstantMass, Drying};
    /// let drying = Drying::new(0.0, 10.0, 105.0)?.step(9.0)?.step(9.0)?;
    /// assert_eq!(drying.moisture(&ConstantMass::within_grams(0.0002)?, 3.0)?.budget().unstated().len(), 3);
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn budget(&self) -> Budget {
        self.propagated.budget(0)
    }

    /// How many steps of drying were weighed.
    ///
    /// ```
    /// # use beadchem::composition::{ConstantMass, Drying};
    /// let drying = Drying::new(0.0, 10.0, 105.0)?.step(9.0)?.step(9.0)?;
    /// assert_eq!(drying.moisture(&ConstantMass::within_grams(0.0002)?, 3.0)?.steps(), 2);
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn steps(&self) -> usize {
        self.steps
    }

    /// By how much the last step changed the mass, g, without sign.
    ///
    /// ```
    /// # use beadchem::composition::{ConstantMass, Drying};
    /// let drying = Drying::new(0.0, 10.0, 105.0)?.step(9.0)?.step(9.0)?;
    /// assert_eq!(drying.moisture(&ConstantMass::within_grams(0.0002)?, 3.0)?.last_change_g(), 0.0);
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn last_change_g(&self) -> f64 {
        self.change_g
    }

    /// Rises between two steps.
    ///
    /// ```
    /// # use beadchem::composition::{ConstantMass, Drying};
    /// let drying = Drying::new(0.0, 10.0, 105.0)?.step(9.0)?.step(9.002)?;
    /// let moisture = drying.moisture(&ConstantMass::within_share(0.0005)?, 3.0)?;
    /// assert_eq!(moisture.findings()[0].code.word(), "drying.regain");
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn findings(&self) -> &[Finding] {
        &self.findings
    }
}
