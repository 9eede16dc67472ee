//! A weighed bead against its predicted mass, and the four ways to read a difference.

use crate::charge::flux::FluxLot;
use crate::charge::kernel::{DILUTION, FUSED_FLUX_RATIO, GLASS_MASS, SamplePath};
use crate::charge::mass::Mass;
use crate::charge::melt::Melt;
use crate::code::Code;
use crate::composition::Closure;
use crate::composition::unit::{milligrams, percent_short};
use crate::error::{Error, Result};
use crate::finding::Finding;
use crate::uncertainty::{Estimate, multiple_of_u};

/// What is known of melt that did not get into the bead.
///
/// ```
/// use beadchem::charge::Completeness;
/// assert_ne!(Completeness::NotKnown, Completeness::CastInCrucible);
/// ```
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
pub enum Completeness {
    /// Poured into a mould; something may have stayed in the crucible.
    NotKnown,
    /// The bead solidified where it was fused: all of the melt is in it.
    CastInCrucible,
    /// What stayed in the crucible was weighed and counts with the bead.
    ResidueWeighed {
        /// Its mass, g.
        residue_g: Estimate,
    },
}

/// One way to read a difference between weighed and predicted mass, and what it would do to the results.
///
/// ```
/// # use beadchem::{charge::{Charge, FluxLot, Sample}, substance::Weights};
/// # let lot = FluxLot::new("F-1", [("Li2B4O7", 1.0)], "1050 C, 18 min", 0.004)?;
/// let melt = Charge::new(Sample::dried(0.8)?, lot.weigh_g(8.0)?)?.fuse_with_loss(&Weights::ciaaw_2024(), 0.0)?;
/// let check = melt.check_bead_mass(melt.bead_mass_g() - 0.042, 4.0)?;
/// assert_eq!(format!("{:.3}", check.readings[1].by_glass), "0.050"); // powder lost: everything is low
/// # Ok::<(), beadchem::Error>(())
/// ```
#[derive(Debug, Clone, PartialEq)]
pub struct BeadReading {
    /// What may have happened.
    pub reading: &'static str,
    /// False where this bead cannot be read that way.
    pub possible: bool,
    /// The input that would be wrong, and the value that explains the bead; nothing for melt left behind.
    pub input: Option<(String, f64)>,
    /// Standard uncertainty of that value from the weighings and the prediction.
    pub u: f64,
    /// How much higher the results would really be by evaluation (b), as a fraction of each.
    pub by_glass: f64,
    /// The same by evaluation (a), for thick lines without fixed additions; where a component is lost, provided it is
    /// measured.
    pub by_intensities: f64,
}

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
    /// Weighed mass, g, with a residue that was weighed.
    pub weighed_g: f64,
    /// Weighed less predicted, g.
    pub difference_g: f64,
    /// Standard uncertainty of the difference, g; "at least" where an input has none stated.
    pub u_g: f64,
    /// Inputs without a stated uncertainty.
    pub unstated: Vec<String>,
    /// Melt left behind, powder lost, flux loss, a retained species missing: each with its effect.
    pub readings: Vec<BeadReading>,
    /// A warning where the difference is more than k u; a note where that cannot be judged, some u not being stated.
    pub findings: Vec<Finding>,
    pub(crate) k: f64,
    sample_g: f64,
}

/// A weighed bead, its residue with it.
pub(super) fn whole(weighed: Estimate, completeness: &Completeness) -> Result<(f64, f64, Option<Estimate>, Estimate)> {
    let bead = Mass::Bead.check(weighed)?;
    let residue = match completeness {
        Completeness::ResidueWeighed { residue_g } => Some(residue_g.clone()),
        _ => None,
    };
    if let Some(residue) = &residue {
        let hint = "The melt that stayed in the crucible, weighed with a clean tare.";
        crate::error::within("Residue in the crucible", residue.value(), "g", [0.0, 20.0], "0-20 g", hint)?;
    }
    let more = residue.as_ref().map_or(0.0, Estimate::value);
    let own = residue.as_ref().map_or(0.0, |residue| residue.u().unwrap_or(0.0));
    Ok((bead.value() + more, own, residue, bead))
}

impl BeadMassCheck {
    pub(crate) fn new(melt: &Melt, weighed: Estimate, completeness: &Completeness, k: f64) -> Result<Self> {
        multiple_of_u(k)?;
        let (weighed_g, u_residue, residue, weighed) = whole(weighed, completeness)?;
        let predicted_g = melt.propagated().value(GLASS_MASS);
        let mut unstated: Vec<String> =
            melt.propagated().unstated(GLASS_MASS).iter().map(|s| (*s).to_owned()).collect();
        if weighed.u().is_none() {
            unstated.push("weighed bead mass".to_owned());
        }
        if residue.is_some_and(|residue| residue.u().is_none()) {
            unstated.push("weighed residue".to_owned());
        }
        let difference_g = weighed_g - predicted_g;
        // What the bead's weighing shares with the weighings of the charge (one balance) goes with them.
        let with_charge: f64 =
            weighed.causes().iter().map(|part| part.u * melt.propagated().cause(GLASS_MASS, &part.cause)).sum();
        let shared: f64 = weighed.causes().iter().map(|part| part.u * part.u).sum();
        let variance =
            melt.propagated().covariance(GLASS_MASS, GLASS_MASS) + weighed.own_u().powi(2) + u_residue.powi(2) + shared
                - 2.0 * with_charge;
        let u_g = if variance > 0.0 { variance.sqrt() } else { 0.0 };
        let mut check = Self {
            predicted_g,
            weighed_g,
            difference_g,
            u_g,
            unstated,
            readings: readings(melt, difference_g, u_g, completeness)?,
            findings: Vec::new(),
            k,
            sample_g: melt.charge().sample().mass_g().value(),
        };
        check.refuse_impossible(melt)?;
        check.judge();
        Ok(check)
    }

    /// A bead cannot weigh more than what was weighed in and the oxygen it could take up.
    fn refuse_impossible(&self, melt: &Melt) -> Result<()> {
        let ledger = melt.ledger();
        let weighed_in = ledger.sample_g + ledger.flux_g + ledger.additions_g;
        let uptake = ledger.oxygen.from_air_g.max(0.0) + (-ledger.stated_loss_g).max(0.0);
        // a negative loss of the lot adds as well
        let most = weighed_in + uptake + (-ledger.flux_loss_g).max(0.0);
        if self.weighed_g <= most + self.k * self.u_g {
            return Ok(());
        }
        let with = if uptake > 0.0 { format!(" and the {uptake:.3} g oxygen it can take up") } else { String::new() };
        Err(Error::Conflict {
            code: Code::BeadMassImpossible,
            detail: format!("Bead {:.4} g exceeds everything weighed in ({weighed_in:.4} g){with}.", self.weighed_g),
            hint: "Check masses or bead id.".to_owned(),
        })
    }

    fn judge(&mut self) {
        let (difference_g, u_g, k) = (self.difference_g, self.u_g, self.k);
        if difference_g.abs() <= k * u_g {
            return;
        }
        let [word, cause] = differs(difference_g);
        let (by, u) = (milligrams(difference_g.abs()), milligrams(u_g));
        let (code, text) = if self.unstated.is_empty() {
            let text = format!("Bead is {by:.1} mg {word} than predicted (u {u:.1} mg, limit {k} u).");
            let effects: Vec<String> =
                self.readings.iter().filter(|reading| reading.possible).map(BeadReading::effect).collect();
            let effects = effects.join("; ");
            (Code::BeadMassDiffers, format!("{text} {cause} What each would do: {effects}. No result was changed."))
        } else {
            let text = format!("Bead is {by:.1} mg {word} than predicted (u at least {u:.1} mg).");
            (
                Code::UncertaintyUnstated,
                format!("{text} The limit of {k} u cannot be applied: some inputs have no stated uncertainty."),
            )
        };
        let finding = Finding::new(code, "bead mass", text).with_value(difference_g).with_u(u_g);
        self.findings.push(finding.with_bound(k * u_g));
    }

    /// Holds the readings against the total of the results: each would move the results and so the total. A note where that
    /// tells them apart: which bring it within k u of the whole, and which do not; nothing where a u is not stated.
    ///
    /// Results move as their evaluation says, so those from intensities with the fused flux per sample.
    ///
    /// Melt left behind leaves the total as it is. A measured species that left lowers it by its own content, between 0.4
    /// (sulfur of SO3) and all of what the bead lacks.
    ///
    /// ```
    /// use beadchem::charge::{Charge, FluxLot, Sample};
    /// use beadchem::composition::{Basis, ClosureOrder, Composition};
    /// use beadchem::{substance::Weights, uncertainty::Estimate};
    /// let u = |value, u| Estimate::new(value, u);
    /// let lot = FluxLot::new("F-1", [("Li2B4O7", 1.0)], "1050 C, 18 min", u(0.0, 0.0001)?)?;
    /// let charge = Charge::new(Sample::dried(u(0.8, 0.0001)?)?, lot.weigh_g(u(8.0, 0.0001)?)?)?;
    /// let melt = charge.fuse_with_loss(&Weights::ciaaw_2024(), Estimate::exact(0.0)?)?;
    /// // all of the powder is in the glass, and 42 mg of the glass stayed in the crucible
    /// let silica = 0.8 / 8.8;
    /// let glass = Composition::new(Basis::Bead).with("SiO2", u(silica, 0.0001 * silica)?)?;
    /// let closure = melt.undilute(&glass)?.closure(&ClosureOrder::new())?;
    /// let check = melt.check_bead_mass(u(8.758, 0.0003)?, 4.0)?.against_total(&closure);
    /// assert_eq!(check.findings[1].quantity, "melt left in the crucible");
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn against_total(mut self, closure: &Closure) -> Self {
        let total = closure.total().and_then(|total| Some((total.value(), total.u()?)));
        let (Some((total, u_total)), true) = (total, self.difference_g.abs() > self.k * self.u_g) else { return self };
        if !self.unstated.is_empty() {
            return self;
        }
        let without_loss = closure.without_loss().value();
        let relative = self.u_g / self.difference_g.abs();
        let closes = |moved: f64| (total + moved - 1.0).abs() <= self.k * u_total.hypot(moved * relative);
        let fits = |reading: &BeadReading| {
            if reading.reading == SPECIES_MISSING && self.difference_g < 0.0 {
                const SULFUR_OF_ITS_OXIDE: f64 = 0.4;
                let content = -self.difference_g / self.sample_g;
                let lacking = (1.0 - total).clamp(SULFUR_OF_ITS_OXIDE * content, content);
                closes(lacking)
            } else {
                let moved = if closure.of_intensities { reading.by_intensities } else { reading.by_glass };
                closes(without_loss * moved)
            }
        };
        let possible = self.readings.iter().filter(|reading| reading.possible);
        let (fitting, others): (Vec<&BeadReading>, Vec<&BeadReading>) = possible.partition(|reading| fits(reading));
        if fitting.is_empty() || others.is_empty() {
            return self;
        }
        let names = |list: &[&BeadReading]| list.iter().map(|held| held.reading).collect::<Vec<_>>().join("; or ");
        let text = format!(
            "The total of {} fits {}. It speaks against {}.",
            percent_short(total),
            names(&fitting),
            names(&others)
        );
        let finding = Finding::new(Code::BeadMassExplained, names(&fitting), text).with_value(self.difference_g);
        self.findings.push(finding.with_u(self.u_g));
        self
    }

    /// Adds a warning where another lot of flux would explain the bead that its own does not: was the lot entered wrongly?
    ///
    /// # Errors
    /// Those of fusing the charge with the other lot.
    ///
    /// ```
    /// use beadchem::{charge::{Charge, FluxLot, Sample}, substance::Weights, uncertainty::Estimate};
    /// let lot = |name, loss| FluxLot::new(name, [("Li2B4O7", 1.0)], "1050 C, 18 min", Estimate::new(loss, 0.0002)?);
    /// let (morning, noon) = (lot("F-1", 0.0038)?, lot("F-2", 0.0062)?);
    /// let sample = Sample::dried(Estimate::new(0.8, 0.0001)?)?;
    /// let charge = Charge::new(sample, morning.weigh_g(Estimate::new(8.0, 0.0001)?)?)?;
    /// let melt = charge.fuse_with_loss(&Weights::ciaaw_2024(), Estimate::new(0.02, 0.0002)?)?;
    /// let weighed = Estimate::new(melt.bead_mass_g() - 0.0192, 0.0003)?;
    /// let check = melt.check_bead_mass(weighed, 4.0)?.against_lots(&melt, &[noon])?;
    /// assert_eq!(check.findings[1].code.word(), "flux.other-lot-fits");
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    pub fn against_lots(mut self, melt: &Melt, others: &[FluxLot]) -> Result<Self> {
        if self.difference_g.abs() <= self.k * self.u_g || !self.unstated.is_empty() {
            return Ok(self);
        }
        let held = melt.charge().flux().lot().clone();
        let implied = self.readings.iter().find(|reading| reading.reading == FLUX_LOSS);
        let Some((implied, u)) = implied.and_then(|reading| Some((reading.input.as_ref()?.1, reading.u))) else {
            return Ok(self);
        };
        for lot in others.iter().filter(|lot| lot.name() != held.name()) {
            let other = melt.with_lot(lot)?;
            let (mass, own) = (other.propagated().value(GLASS_MASS), other.propagated().u(GLASS_MASS));
            if (self.weighed_g - mass).abs() <= self.k * own.max(self.u_g) {
                let text = format!(
                    "Bead mass fits lot {} (loss {}) and not lot {} it was entered with (loss {}): the bead's own loss would be \
                     {} (u {}). Was the lot changed and not entered?",
                    lot.name(),
                    percent_short(lot.loss().value()),
                    held.name(),
                    percent_short(held.loss().value()),
                    percent_short(implied),
                    percent_short(u)
                );
                let finding = Finding::new(Code::OtherLotFits, lot.name(), text).with_value(implied).with_u(u);
                self.findings.push(finding.with_bound(lot.loss().value()));
            }
        }
        Ok(self)
    }
}

/// In which direction a bead differs from its prediction, and what may have done it.
pub(crate) fn differs(difference_g: f64) -> [&'static str; 2] {
    if difference_g < 0.0 {
        ["lighter", "Flux loss, SO3 or alkali loss, powder lost, or melt left in the crucible?"]
    } else {
        ["heavier", "A species that stayed though it was counted as lost, a wrong mass, or a swapped bead?"]
    }
}

const MELT_LEFT: &str = "melt left in the crucible";
const POWDER_LOST: &str = "powder lost before the fusion";
const FLUX_LOSS: &str = "flux loss other than that of the lot";
const SPECIES_MISSING: &str = "a species lost that was counted as kept, or the reverse";

impl BeadReading {
    /// The reading in words, with its effect on the results.
    ///
    /// ```
    /// # use beadchem::{charge::{Charge, FluxLot, Sample}, substance::Weights};
    /// # let lot = FluxLot::new("F-1", [("Li2B4O7", 1.0)], "1050 C, 18 min", 0.004)?;
    /// let melt = Charge::new(Sample::dried(0.8)?, lot.weigh_g(8.0)?)?.fuse_with_loss(&Weights::ciaaw_2024(), 0.0)?;
    /// let check = melt.check_bead_mass(melt.bead_mass_g() - 0.042, 4.0)?;
    /// assert_eq!(check.readings[0].effect(), "melt left in the crucible: changes no result");
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn effect(&self) -> String {
        let signed = |effect: f64| {
            let text = percent_short(effect);
            if effect > 0.0 { format!("+{text}") } else { text }
        };
        if self.reading == MELT_LEFT {
            return format!("{MELT_LEFT}: changes no result");
        }
        format!(
            "{}: results {} of their value by (b), {} by (a)",
            self.reading,
            signed(self.by_glass),
            signed(self.by_intensities)
        )
    }
}

/// The four readings, each by running the plan with the one input that would explain the bead.
fn readings(melt: &Melt, difference_g: f64, u_g: f64, completeness: &Completeness) -> Result<Vec<BeadReading>> {
    let plan = melt.plan();
    let kernel = &plan.kernel;
    let before = plan.once().values;
    let run = |input: usize, value: f64| {
        let mut row = plan.row();
        row.values[input] = value;
        let mut out = plan.out();
        plan.run(&row, &mut out, &mut plan.scratch());
        out.values
    };
    let explained = |reading, input: usize| {
        let slope = melt.propagated().derivative(GLASS_MASS, input);
        let held = plan.inputs().get(input);
        let (name, value) = held.map_or((String::new(), 0.0), |held| (held.name.clone(), held.estimate.value()));
        // the mass is linear in each of these inputs; what is found of one does not rest on what was held of it
        let own = held.map_or(0.0, |held| slope * held.estimate.own_u());
        let value = value + difference_g / slope;
        let after = run(input, value);
        BeadReading {
            reading,
            possible: slope != 0.0,
            input: Some((name, value)),
            u: (u_g * u_g - own * own).max(0.0).sqrt() / slope.abs(),
            by_glass: after[DILUTION] / before[DILUTION] - 1.0,
            by_intensities: after[FUSED_FLUX_RATIO] / before[FUSED_FLUX_RATIO] - 1.0,
        }
    };
    let lost = BeadReading { possible: difference_g < 0.0, ..explained(POWDER_LOST, kernel.sample_mass) };
    let stated = if let SamplePath::Stated(loss) = &kernel.sample { loss.input() } else { None };
    let missing = match stated {
        Some(loss) => explained(SPECIES_MISSING, loss),
        None => BeadReading {
            reading: SPECIES_MISSING,
            possible: true,
            input: Some(("mass of the species, g".to_owned(), -difference_g)),
            u: u_g,
            by_glass: difference_g / before[GLASS_MASS],
            by_intensities: 0.0,
        },
    };
    let left = BeadReading {
        reading: MELT_LEFT,
        possible: difference_g < 0.0 && *completeness == Completeness::NotKnown,
        input: None,
        u: u_g,
        by_glass: 0.0,
        by_intensities: 0.0,
    };
    Ok(vec![left, lost, explained(FLUX_LOSS, kernel.flux_loss), missing])
}
