//! A weighed bead against its predicted mass.

use crate::charge::kernel::GLASS_MASS;
use crate::charge::mass::Mass;
use crate::charge::melt::Melt;
use crate::code::Code;
use crate::composition::unit::milligrams;
use crate::error::Result;
use crate::finding::Finding;
use crate::uncertainty::Estimate;

/// Predicted and weighed mass of a bead side by side. The weighed mass never replaces the dilution.
///
/// ```
/// use beadchem::{charge::{Charge, FluxLot, Sample}, substance::Weights, uncertainty::Estimate};
/// let lot = FluxLot::new("F-1", [("Li2B4O7", 1.0)], "1050 C, 18 min", Estimate::new(0.004, 0.0003)?)?;
/// let melt = Charge::new(Sample::dried(0.8)?, lot.weigh_g(8.0)?)?.fuse_with_loss(&Weights::ciaaw_2024(), 0.02)?;
/// let check = melt.check_bead_mass(Estimate::new(8.7522, 0.0003)?, 4.0)?;
/// assert!(check.findings.is_empty());
/// # Ok::<(), beadchem::Error>(())
/// ```
#[derive(Debug, Clone, PartialEq)]
pub struct BeadMassCheck {
    /// Predicted mass, g.
    pub predicted_g: f64,
    /// Weighed mass, g.
    pub weighed_g: f64,
    /// Weighed less predicted, g.
    pub difference_g: f64,
    /// Standard uncertainty of the difference, g; "at least" where an input has none stated.
    pub u_g: f64,
    /// Inputs without a stated uncertainty.
    pub unstated: Vec<String>,
    /// A warning where the difference is more than k u; a note where that cannot be judged, some u not being stated.
    pub findings: Vec<Finding>,
}

impl BeadMassCheck {
    pub(crate) fn new(melt: &Melt, weighed: Estimate, k: f64) -> Result<Self> {
        let hint = "The multiple of u that your laboratory's rule allows, often 2 to 4.";
        crate::error::within("Multiple of u", k, "", [f64::MIN_POSITIVE, 100.0], "above 0 to 100", hint)?;
        let weighed = Mass::Bead.check(weighed)?;
        let predicted_g = melt.propagated().value(GLASS_MASS);
        let mut unstated: Vec<String> =
            melt.propagated().unstated(GLASS_MASS).iter().map(|s| (*s).to_owned()).collect();
        if weighed.u().is_none() {
            unstated.push("weighed bead mass".to_owned());
        }
        let weighed_g = weighed.value();
        let difference_g = weighed_g - predicted_g;
        // What the bead's weighing shares with the weighings of the charge (one balance) goes with them.
        let with_charge: f64 =
            weighed.causes().iter().map(|part| part.u * melt.propagated().cause(GLASS_MASS, &part.cause)).sum();
        let shared: f64 = weighed.causes().iter().map(|part| part.u * part.u).sum();
        let variance =
            melt.propagated().covariance(GLASS_MASS, GLASS_MASS) + weighed.own_u().powi(2) + shared - 2.0 * with_charge;
        let u_g = if variance > 0.0 { variance.sqrt() } else { 0.0 };
        let mut findings = Vec::new();
        if difference_g.abs() > k * u_g {
            let word = if difference_g < 0.0 { "lighter" } else { "heavier" };
            let cause = if difference_g < 0.0 {
                "Flux loss, a loss of alkali or sulfate, powder lost, or melt left in the crucible?"
            } else {
                "A species that stayed though it was counted as lost, a wrong mass, or a swapped bead?"
            };
            let by = milligrams(difference_g.abs());
            let u = milligrams(u_g);
            let (code, text) = if unstated.is_empty() {
                let text = format!("Bead is {by:.1} mg {word} than predicted (u {u:.1} mg, limit {k} u).");
                (Code::BeadMassDiffers, format!("{text} {cause} No result was changed."))
            } else {
                let text = format!("Bead is {by:.1} mg {word} than predicted (u at least {u:.1} mg).");
                (
                    Code::UncertaintyUnstated,
                    format!("{text} The limit of {k} u cannot be applied: some inputs have no stated uncertainty."),
                )
            };
            let finding = Finding::new(code, "bead mass", text);
            findings.push(finding.with_value(difference_g).with_bound(k * u_g));
        }
        Ok(Self { predicted_g, weighed_g, difference_g, u_g, unstated, findings })
    }
}
