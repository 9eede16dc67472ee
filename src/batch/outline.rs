//! What is known of the declared columns of a correction before any table is there.

use crate::batch::correction::Correction;
use crate::batch::field::{Cells as Kind, Field, Quantity};
use crate::batch::moments::Runs;
use crate::charge::{Mass, POSSIBLE_FLUX_LOSS};
use crate::scalar::{Mask, Scalar};

/// Made once for a correction.
#[derive(Debug)]
pub(crate) struct Outline {
    pub(crate) places: Places,
    /// Fields whose nulls decide which plan serves a row.
    pub(crate) patterned: Vec<usize>,
    /// All others: of a mass nothing is decided, since a row without one is refused.
    pub(crate) unpatterned: Vec<usize>,
    /// What the numbers of each field stay within where nothing is to be said of them.
    pub(crate) bounds: Vec<Bounds>,
    /// The readings of the monitors of drift.
    pub(crate) runs: Runs,
}

impl Outline {
    pub(crate) fn of(correction: &Correction) -> Self {
        let decides = |quantity: &Quantity| {
            use Quantity::{Addition, BeadMass, FluxMass, SampleMass};
            quantity.cells() != Kind::Words && !matches!(quantity, SampleMass | FluxMass | BeadMass | Addition(_))
        };
        let fields = 0..correction.fields.len();
        let (patterned, unpatterned) = fields.partition(|&place| decides(&correction.fields[place].quantity));
        Self {
            places: Places::of(correction),
            patterned,
            unpatterned,
            bounds: correction.fields.iter().map(|field| bounds_of(correction, field)).collect(),
            runs: correction.drift.as_deref().map_or_else(Runs::default, Runs::of),
        }
    }
}

/// What stays between two numbers.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Bounds {
    /// The first numbers outside.
    pub(crate) low: f64,
    pub(crate) high: f64,
}

impl Bounds {
    /// From the lowest to the highest number inside.
    pub(crate) const fn of(lowest: f64, highest: f64) -> Self {
        Self { low: lowest.next_down(), high: highest.next_up() }
    }

    /// False for what is no number.
    #[inline(always)]
    pub(crate) fn hold<S: Scalar>(&self, number: S) -> S::Mask {
        S::constant(self.low).lt(number).and(number.lt(S::constant(self.high)))
    }
}

/// The places of the fields by what they stand for.
#[derive(Debug, Default)]
pub(crate) struct Places {
    pub(crate) bead: Option<usize>,
    pub(crate) lot: Option<usize>,
    pub(crate) class: Option<usize>,
    pub(crate) weighed: Option<usize>,
    pub(crate) bead_mass: Option<usize>,
    pub(crate) loss: Option<usize>,
    pub(crate) fusion: Option<usize>,
    pub(crate) sample: Option<usize>,
    pub(crate) flux: Option<usize>,
    pub(crate) time: Option<usize>,
}

impl Places {
    pub(crate) fn of(correction: &Correction) -> Self {
        let at = |quantity: Quantity| correction.fields.iter().position(|field| field.quantity == quantity);
        Self {
            bead: at(Quantity::Bead),
            lot: at(Quantity::FluxLot),
            class: at(Quantity::Class),
            weighed: at(Quantity::Weighed),
            bead_mass: at(Quantity::BeadMass),
            loss: at(Quantity::LossOnIgnition),
            fusion: at(Quantity::LossOnFusion),
            sample: at(Quantity::SampleMass),
            flux: at(Quantity::FluxMass),
            time: at(Quantity::Time),
        }
    }
}

fn bounds_of(correction: &Correction, field: &Field) -> Bounds {
    match (&field.quantity, field.quantity.cells()) {
        (quantity, Kind::Mass) => {
            let [low, high] = mass_of(quantity).bounds();
            Bounds::of(low, high)
        }
        (Quantity::LossOnIgnition | Quantity::LossOnFusion, _) => Bounds::of(LOSS[0], LOSS[1]),
        (Quantity::Moisture | Quantity::AirMoisture, _) => Bounds::of(0.0, WHOLE_BUT_A_BIT),
        (Quantity::FluxLoss, _) => Bounds::of(0.0, highest_flux_loss(correction)),
        (Quantity::Glass(_), _) => Bounds::of(OF_GLASS[0], OF_GLASS[1]),
        (Quantity::Known(_) | Quantity::External(_), _) => Bounds::of(0.0, 1.0),
        (Quantity::Intensity(_), _) => Bounds::of(0.0, f64::MAX),
        (Quantity::Peak(line) | Quantity::Background(line, _), _) => Bounds::of(0.0, highest_rate(correction, line)),
        (_, _) => Bounds::of(f64::MIN, f64::MAX),
    }
}

/// Just less than one count per dead time.
fn highest_rate(correction: &Correction, line: &str) -> f64 {
    const IN: f64 = 1e-12;
    let dead_time = correction.dead_time_of(line).map_or(0.0, |(held, _)| held.seconds().value());
    ((1.0 - IN) / dead_time).min(f64::MAX)
}

fn highest_flux_loss(correction: &Correction) -> f64 {
    let limit = correction.rules.as_ref().and_then(|rules| rules.stated_flux_loss().ok());
    limit.map_or(POSSIBLE_FLUX_LOSS[1], |limit| limit.highest)
}

/// Losses a sample can have, fractions: all of it, and more than twice the gain of silicon.
const LOSS: [f64; 2] = [-1.5, 1.0];
/// Readings of the glass, fractions: noise about zero may be any, as with a single bead; more than all of it cannot be.
pub(super) const OF_GLASS: [f64; 2] = [-0.5, 1.0];
/// Just less than everything.
const WHOLE_BUT_A_BIT: f64 = 1.0 - f64::EPSILON;

pub(super) fn mass_of(quantity: &Quantity) -> Mass {
    match quantity {
        Quantity::SampleMass => Mass::Sample,
        Quantity::FluxMass => Mass::Flux,
        Quantity::BeadMass => Mass::Bead,
        _ => Mass::Addition,
    }
}
