//! The arithmetic of primary and secondary fluorescence, over any number.

use crate::scalar::Scalar;
use crate::xray::setting::Setting;

/// Lines that are computed together: as many as share what is read of an exciting line from the nearest cache.
const TOGETHER: usize = 4;

/// Which lines are computed, and which others they are excited by.
#[derive(Debug, Clone, PartialEq, Default)]
pub(super) struct Scheme {
    /// Places of the lines among all rays.
    pub(super) targets: Vec<usize>,
    /// Places of the exciting lines among all rays.
    pub(super) exciters: Vec<usize>,
    /// For each line: place of the exciting line in the list above, and half the photoelectric coefficient at its energy.
    pub(super) pairs: Vec<Vec<(usize, f64)>>,
}

impl Setting {
    /// What computes these lines.
    pub(super) fn scheme(&self, targets: Vec<usize>) -> Scheme {
        let count = self.rays.len();
        let excites = |target: usize, ray: usize| self.excited[target * count + ray];
        let exciters: Vec<usize> =
            (0..count).filter(|&ray| targets.iter().any(|&target| excites(target, ray) > 0.0)).collect();
        let pairs_of = |&target: &usize| {
            let reached = exciters.iter().enumerate().filter(|&(_, &ray)| excites(target, ray) > 0.0);
            reached.map(|(place, &ray)| (place, 0.5 * excites(target, ray))).collect()
        };
        let pairs = targets.iter().map(pairs_of).collect();
        Scheme { targets, exciters, pairs }
    }
}

/// Room for the arithmetic of one bead; it belongs to the caller and is used again.
///
/// ```
/// use beadchem::substance::Weights;
/// use beadchem::xray::{Geometry, Instrument, Setting, Source, example_tables};
/// let instrument = Instrument::new(Source::monochromatic(20.0)?, Geometry::new(63.0, 40.0)?);
/// let setting = Setting::new(&example_tables()?, &Weights::ciaaw_2024(), &instrument, &["SiO2"], &["Si Ka"])?;
/// let mut scratch = setting.scratch::<f64>();
/// let (mut primary, mut secondary) = ([0.0], [0.0]);
/// setting.evaluate(&[0.47, 0.53], None, &mut primary, &mut secondary, &mut scratch)?;
/// assert!(primary[0] > 0.0);
/// # Ok::<(), beadchem::Error>(())
/// ```
#[derive(Debug, Clone)]
pub struct Scratch<S> {
    /// Mass fractions of the elements.
    pub(super) fractions: Vec<S>,
    /// `mu(E)/sin psi1` of the glass at each point of the source.
    pub(super) inward: Vec<S>,
    /// One over it.
    pub(super) inverse_inward: Vec<S>,
    /// `mu(E_line)` of the glass, not divided by a sine.
    pub(super) rays: Vec<S>,
    /// `1/(mu' + mu'')` of the lines at hand, line by line.
    pub(super) both: Vec<S>,
    /// For each exciting line, vacancies times `ln(1 + mu'/mu_j)/mu'`.
    pub(super) spread: Vec<S>,
}

impl<S: Scalar> Scratch<S> {
    pub(super) fn new(setting: &Setting, scheme: &Scheme) -> Self {
        let zeros = |count: usize| vec![S::constant(0.0); count];
        let points = setting.energies.len();
        Self {
            fractions: zeros(setting.elements.len()),
            inward: zeros(points),
            inverse_inward: zeros(points),
            rays: zeros(setting.rays.len()),
            both: zeros(points * TOGETHER),
            spread: zeros(points * scheme.exciters.len()),
        }
    }
}

/// `ln(1 + ratio)/attenuation` with `ratio = attenuation/mu_j`: how far a line of the glass reaches along one way.
#[inline(always)]
pub(super) fn reach<S: Scalar>(attenuation: S, inverse: S, inverse_mu: S) -> S {
    (attenuation * inverse_mu).ln_1p() * inverse
}

/// Running sums of a long sum, so that none waits for the one before.
const SUMS: usize = 8;

/// The sum of products in eight running sums, added up pairwise: one fixed order, whatever the instruction set.
#[inline(always)]
pub(super) fn dot<S: Scalar>(values: &[S], factors: &[S]) -> S {
    let ((values, values_left), (factors, factors_left)) = (values.as_chunks::<SUMS>(), factors.as_chunks::<SUMS>());
    let mut sums = [S::constant(0.0); SUMS];
    for (values, factors) in values.iter().zip(factors) {
        for ((sum, &value), &factor) in sums.iter_mut().zip(values).zip(factors) {
            *sum = *sum + value * factor;
        }
    }
    let mut sum = pairwise(sums);
    for (&value, &factor) in values_left.iter().zip(factors_left) {
        sum = sum + value * factor;
    }
    sum
}

/// The same with factors that carry nothing.
#[inline(always)]
pub(super) fn weigh<S: Scalar>(values: &[S], factors: &[f64]) -> S {
    let ((values, values_left), (factors, factors_left)) = (values.as_chunks::<SUMS>(), factors.as_chunks::<SUMS>());
    let mut sums = [S::constant(0.0); SUMS];
    for (values, factors) in values.iter().zip(factors) {
        for ((sum, &value), &factor) in sums.iter_mut().zip(values).zip(factors) {
            *sum = *sum + value * factor;
        }
    }
    let mut sum = pairwise(sums);
    for (&value, &factor) in values_left.iter().zip(factors_left) {
        sum = sum + value * factor;
    }
    sum
}

#[inline(always)]
pub(super) fn pairwise<S: Scalar>(sums: [S; SUMS]) -> S {
    ((sums[0] + sums[4]) + (sums[1] + sums[5])) + ((sums[2] + sums[6]) + (sums[3] + sums[7]))
}

impl Setting {
    /// Mass fractions and attenuation of a glass from the masses of its elements.
    #[inline(always)]
    pub(super) fn mix<S: Scalar>(&self, masses: &[S], room: &mut Scratch<S>) {
        let mut whole = S::constant(0.0);
        for &mass in masses {
            whole = whole + mass;
        }
        let inverse = S::constant(1.0) / whole;
        let zero = S::constant(0.0);
        room.inward.fill(zero);
        room.rays.fill(zero);
        let points = self.energies.len();
        let rays = self.rays.len();
        for (place, &mass) in masses.iter().enumerate() {
            let fraction = mass * inverse;
            room.fractions[place] = fraction;
            for (sum, &mu) in room.inward.iter_mut().zip(&self.attenuation[place * points..(place + 1) * points]) {
                *sum = *sum + fraction * mu;
            }
            for (sum, &mu) in room.rays.iter_mut().zip(&self.at_rays[place * rays..(place + 1) * rays]) {
                *sum = *sum + fraction * mu;
            }
        }
        for (inverse, &mu) in room.inverse_inward.iter_mut().zip(&room.inward) {
            *inverse = S::constant(1.0) / mu;
        }
    }

    /// How far each exciting line reaches at each point of the source, weighted with its vacancies.
    #[inline(always)]
    pub(super) fn spread<S: Scalar>(&self, scheme: &Scheme, room: &mut Scratch<S>) {
        let points = self.energies.len();
        for (&ray, spread) in scheme.exciters.iter().zip(room.spread.chunks_exact_mut(points)) {
            let shell = self.rays[ray].shell;
            let first = self.shells[shell].first;
            let inverse_mu = S::constant(1.0) / room.rays[ray];
            let vacancies = &self.vacancies[shell * points + first..(shell + 1) * points];
            let mus = room.inward[first..].iter().zip(&room.inverse_inward[first..]);
            for ((place, &vacancies), (&mu, &inverse)) in spread[first..].iter_mut().zip(vacancies).zip(mus) {
                *place = reach(mu, inverse, inverse_mu) * vacancies;
            }
        }
    }

    /// Primary and secondary intensity of each line of a scheme; `thickness` is a mass thickness in g/cm2, for the primary
    /// term.
    #[inline(always)]
    pub(super) fn compute<S: Scalar>(
        &self,
        scheme: &Scheme,
        masses: &[S],
        thickness: Option<S>,
        primary: &mut [S],
        secondary: &mut [S],
        room: &mut Scratch<S>,
    ) {
        self.mix(masses, room);
        self.spread(scheme, room);
        let points = self.energies.len();
        for (group, targets) in scheme.targets.chunks(TOGETHER).enumerate() {
            let mut ways = [Way::of(S::constant(1.0)); TOGETHER];
            for ((way, &target), both) in ways.iter_mut().zip(targets).zip(room.both.chunks_exact_mut(points)) {
                *way = Way::of(room.rays[target] * self.inverse_sines.1);
                meet(way.outward, &room.inward, both);
            }
            let first = group * TOGETHER;
            self.secondary(scheme, first, targets.len(), &mut ways, room);
            for (slot, (way, &target)) in ways.iter().zip(targets).enumerate() {
                let ray = &self.rays[target];
                let factor = room.fractions[ray.element] * (ray.strength * self.inverse_sines.0);
                let both = &room.both[slot * points..(slot + 1) * points];
                primary[first + slot] = self.primary(ray.shell, way.outward, thickness, both, &room.inward) * factor;
                secondary[first + slot] = way.sum * factor;
            }
        }
    }

    /// `sum N tau/(mu' + mu'')`, each term times `1 - exp(-(mu' + mu'') t)` in a bead of that mass thickness.
    #[inline(always)]
    fn primary<S: Scalar>(&self, shell: usize, outward: S, thickness: Option<S>, both: &[S], inward: &[S]) -> S {
        let points = self.energies.len();
        let first = self.shells[shell].first;
        let vacancies = &self.vacancies[shell * points + first..(shell + 1) * points];
        let Some(thickness) = thickness else { return weigh(&both[first..], vacancies) };
        let mut sum = S::constant(0.0);
        for ((&both, &mu), &vacancies) in both[first..].iter().zip(&inward[first..]).zip(vacancies) {
            let through = (-((mu + outward) * thickness)).exp();
            sum = sum + both * (-through + 1.0) * vacancies;
        }
        sum
    }

    /// `sum_j 1/2 tau(E_j) c_j (omega p)_j sum N tau_j Lg/(mu' + mu'')` of some lines together: each exciting line is read once
    /// for all of them.
    #[inline(always)]
    fn secondary<S: Scalar>(
        &self,
        scheme: &Scheme,
        first: usize,
        count: usize,
        ways: &mut [Way<S>; TOGETHER],
        room: &Scratch<S>,
    ) {
        let points = self.energies.len();
        for place in 0..scheme.exciters.len() {
            for (slot, way) in ways[..count].iter_mut().enumerate() {
                if let Some(&(next, half)) = scheme.pairs[first + slot].get(way.next)
                    && next == place
                {
                    way.next += 1;
                    let both = &room.both[slot * points..(slot + 1) * points];
                    way.sum = way.sum + self.part(scheme, (place, half), way, both, room);
                }
            }
        }
    }

    /// What one exciting line adds to that sum.
    #[inline(always)]
    pub(super) fn part<S: Scalar>(
        &self,
        scheme: &Scheme,
        (place, half): (usize, f64),
        way: &mut Way<S>,
        both: &[S],
        room: &Scratch<S>,
    ) -> S {
        let points = self.energies.len();
        let exciter = &self.rays[scheme.exciters[place]];
        let first = self.shells[exciter.shell].first;
        if exciter.shell != way.shell {
            way.shell = exciter.shell;
            let vacancies = &self.vacancies[way.shell * points + first..(way.shell + 1) * points];
            way.plain = weigh(&both[first..], vacancies);
        }
        let spread = &room.spread[place * points + first..(place + 1) * points];
        let out = reach(way.outward, way.inverse, S::constant(1.0) / room.rays[scheme.exciters[place]]);
        let sum = dot(&both[first..], spread) + way.plain * out;
        room.fractions[exciter.element] * sum * (half * exciter.strength)
    }
}

/// The way of a line out of the glass, and how far its sum over exciting lines is.
#[derive(Debug, Clone, Copy)]
pub(super) struct Way<S> {
    /// `mu''`, and one over it.
    outward: S,
    inverse: S,
    sum: S,
    /// The shell at hand, and `sum N tau/(mu' + mu'')` of its vacancies.
    shell: usize,
    plain: S,
    /// The next of its exciting lines.
    next: usize,
}

impl<S: Scalar> Way<S> {
    #[inline(always)]
    pub(super) fn of(outward: S) -> Self {
        let zero = S::constant(0.0);
        let inverse = S::constant(1.0) / outward;
        Self { outward, inverse, sum: zero, shell: usize::MAX, plain: zero, next: 0 }
    }
}

/// `1/(mu' + mu'')` at every point.
#[inline(always)]
pub(super) fn meet<S: Scalar>(outward: S, inward: &[S], both: &mut [S]) {
    for (both, &mu) in both.iter_mut().zip(inward) {
        *both = S::constant(1.0) / (mu + outward);
    }
}
