//! Inputs adjusted by a weighed bead, where it is complete and consistent; otherwise nothing is.

use crate::charge::kernel::{GLASS_MASS, Kept, Portion, SamplePath};
use crate::charge::melt::Melt;
use crate::charge::plan::Adjustment;
use crate::charge::weighed::{BeadMassCheck, BeadReading, Completeness, whole};
use crate::code::Code;
use crate::composition::unit::milligrams;
use crate::error::{Error, Result};
use crate::uncertainty::Estimate;

/// One input before and after a weighed bead was taken into account.
///
/// ```
/// # use beadchem::{charge::{Charge, Completeness, FluxLot, Sample}, substance::Weights, uncertainty::Estimate};
/// # let lot = FluxLot::new("F-1", [("Li2B4O7", 1.0)], "1050 C, 18 min", Estimate::new(0.004, 0.0003)?)?;
/// # let charge = Charge::new(Sample::dried(Estimate::exact(0.8)?)?, lot.weigh_g(Estimate::exact(8.0)?)?)?;
/// let melt = charge.fuse_with_loss(&Weights::ciaaw_2024(), Estimate::exact(0.02)?)?;
/// let adjusted = melt.adjust(Estimate::new(8.7500, 0.0003)?, &Completeness::CastInCrucible, 4.0)?;
/// assert_eq!(adjusted.changes[0].input, "flux loss of lot F-1");
/// # Ok::<(), beadchem::Error>(())
/// ```
#[derive(Debug, Clone, PartialEq)]
pub struct Change {
    /// The input.
    pub input: String,
    /// Its value before.
    pub before: f64,
    /// Its standard uncertainty before.
    pub u_before: f64,
    /// Its value after.
    pub after: f64,
    /// Its standard uncertainty after.
    pub u_after: f64,
}

/// A melt whose inputs were moved towards a weighed bead.
///
/// ```
/// # use beadchem::{charge::{Charge, Completeness, FluxLot, Sample}, substance::Weights, uncertainty::Estimate};
/// # let lot = FluxLot::new("F-1", [("Li2B4O7", 1.0)], "1050 C, 18 min", Estimate::new(0.004, 0.0003)?)?;
/// # let charge = Charge::new(Sample::dried(Estimate::exact(0.8)?)?, lot.weigh_g(Estimate::exact(8.0)?)?)?;
/// let melt = charge.fuse_with_loss(&Weights::ciaaw_2024(), Estimate::exact(0.02)?)?;
/// let adjusted = melt.adjust(Estimate::new(8.7500, 0.0003)?, &Completeness::CastInCrucible, 4.0)?;
/// assert!(adjusted.melt.dilution().u() < melt.dilution().u());
/// # Ok::<(), beadchem::Error>(())
/// ```
#[derive(Debug, Clone)]
pub struct Adjusted {
    /// The melt with its inputs moved; results of it carry the uncertainty that is left.
    pub melt: Melt,
    /// What was moved.
    pub changes: Vec<Change>,
}

impl Adjusted {
    pub(crate) fn new(melt: &Melt, weighed: Estimate, completeness: &Completeness, k: f64) -> Result<Self> {
        let refused = |detail: String, hint: &str| Error::Conflict {
            code: Code::BeadMassNotAdjusted,
            detail,
            hint: hint.to_owned(),
        };
        if *completeness == Completeness::NotKnown {
            return Err(refused(
                "It is not known whether melt stayed in the crucible, so the bead's mass adjusts nothing.".to_owned(),
                "Cast in the crucible, or weigh what stayed in it.",
            ));
        }
        let check = BeadMassCheck::new(melt, weighed.clone(), completeness, k)?;
        if !check.unstated.is_empty() {
            return Err(refused(
                format!(
                    "No uncertainty is stated for {}, so the bead's mass adjusts nothing.",
                    check.unstated.join(", ")
                ),
                "State the standard uncertainty of each weighing and loss.",
            ));
        }
        if check.difference_g.abs() > k * check.u_g {
            let readings: Vec<String> =
                check.readings.iter().filter(|reading| reading.possible).map(BeadReading::effect).collect();
            return Err(refused(
                format!(
                    "Bead differs from its prediction by {:.1} mg, more than {k} u ({:.1} mg): nothing is adjusted.",
                    milligrams(check.difference_g),
                    milligrams(k * check.u_g)
                ),
                &format!("Either {}.", readings.join("; or ")),
            ));
        }
        let (total, u_residue, _, bead) = whole(weighed, completeness)?;
        let propagated = melt.propagated();
        let variance = check.u_g * check.u_g;
        let mut gains = Vec::new();
        for place in adjustable(melt) {
            let Some(input) = propagated.inputs().get(place) else { continue };
            let own = input.estimate.own_u();
            let shared: f64 =
                input.estimate.causes().iter().map(|part| part.u * propagated.cause(GLASS_MASS, &part.cause)).sum();
            // what the input shares with the bead's own weighing moves both
            let with_bead: f64 = bead
                .causes()
                .iter()
                .flat_map(|part| {
                    input.estimate.causes().iter().filter(|own| own.cause == part.cause).map(|own| own.u * part.u)
                })
                .sum();
            let covariance = own * own * propagated.derivative(GLASS_MASS, place) + shared - with_bead;
            if covariance != 0.0 {
                gains.push((place, input.name.clone(), covariance / variance));
            }
        }
        if gains.is_empty() {
            return Err(refused(
                "Nothing that a bead's mass may adjust has a stated uncertainty above zero.".to_owned(),
                "Flux loss, loss on fusion and retained shares can be adjusted; weighings never are.",
            ));
        }
        let weighed = match u_residue {
            0.0 => moved_to(&bead, total)?,
            _ => Estimate::new(total, bead.u().unwrap_or(0.0).hypot(u_residue))?,
        };
        let adjustment =
            Adjustment { weighed, gains: gains.iter().map(|(_, name, gain)| (name.clone(), *gain)).collect() };
        let changes = gains.iter().map(|(place, name, gain)| {
            let held = propagated.inputs().get(*place);
            let (before, u_before) =
                held.map_or((f64::NAN, f64::NAN), |held| (held.estimate.value(), held.estimate.u().unwrap_or(0.0)));
            Change {
                input: name.clone(),
                before,
                u_before,
                after: before + gain * check.difference_g,
                u_after: (u_before * u_before - gain * gain * variance).max(0.0).sqrt(),
            }
        });
        let changes: Vec<Change> = changes.collect();
        // a share of the whole stays one
        let shares = shares(melt);
        for ((place, ..), change) in gains.iter().zip(&changes) {
            if shares.contains(place) && !(0.0..=1.0).contains(&change.after) {
                return Err(refused(
                    format!("The bead's mass would move {} to {:.4}: nothing is adjusted.", change.input, change.after),
                    "A share lies between 0 and 1; is its uncertainty right?",
                ));
            }
        }
        Ok(Self { changes, melt: melt.moved(adjustment)? })
    }
}

/// The estimate at another value, its uncertainty and shared causes kept.
fn moved_to(estimate: &Estimate, value: f64) -> Result<Estimate> {
    let moved = Estimate::new(value, estimate.own_u())?;
    estimate.causes().iter().try_fold(moved, |moved, part| moved.shared(part.cause.clone(), part.u))
}

/// Flux loss, a stated loss on fusion, and every retained share.
fn adjustable(melt: &Melt) -> Vec<usize> {
    let kernel = &melt.plan().kernel;
    let stated = if let SamplePath::Stated(loss) = &kernel.sample { loss.input() } else { None };
    core::iter::once(kernel.flux_loss).chain(stated).chain(shares(melt)).collect()
}

/// Every retained share.
fn shares(melt: &Melt) -> Vec<usize> {
    let kernel = &melt.plan().kernel;
    let sample: &[Portion] = match &kernel.sample {
        SamplePath::Stated(_) => &[],
        SamplePath::Itemised { portions, .. } => portions,
    };
    let portions = sample.iter().chain(kernel.additions.iter().flat_map(|addition| &addition.portions));
    portions.filter_map(|portion| if let Kept::Share(place) = portion.kept { Some(place) } else { None }).collect()
}
