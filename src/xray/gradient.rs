//! How intensities move with the mass of each element: the chain rule through the sums over energies, by hand.
//!
//! A derivative along each element by dual numbers costs as many times the value as there are elements. Here the sums are
//! gone through once for all elements, and one matrix product spreads the result over them. A test holds it against dual
//! numbers that are pushed through everything.

use crate::error::{Error, Result};
use crate::numeric::InstructionSet;
use crate::xray::kernel::{Scratch, meet, pairwise, reach, weigh};
use crate::xray::setting::Setting;

/// Intensities of a thick bead with their derivatives to the mass of each element.
///
/// ```
/// use beadchem::substance::Weights;
/// use beadchem::xray::{Geometry, Gradient, Instrument, Setting, Source, example_tables};
/// let instrument = Instrument::new(Source::monochromatic(20.0)?, Geometry::new(63.0, 40.0)?);
/// let setting = Setting::new(&example_tables()?, &Weights::ciaaw_2024(), &instrument, &["SiO2"], &["Si Ka"])?;
/// let mut gradient = Gradient::new(&setting);
/// gradient.compute(&setting, &[0.47, 0.53])?;
/// let [silicon, oxygen] = [gradient.by_mass(0)[0], gradient.by_mass(0)[1]];
/// // scaling all masses leaves the intensity alone
/// assert!((silicon * 0.47 + oxygen * 0.53).abs() < 1e-12 * gradient.intensities()[0]);
/// # Ok::<(), beadchem::Error>(())
/// ```
#[derive(Debug, Clone)]
pub struct Gradient {
    intensities: Vec<f64>,
    by_mass: Vec<f64>,
    scratch: Scratch<f64>,
    /// For each exciting line, vacancies times `1/(mu_j + mu') - ln(1 + mu'/mu_j)/mu'`.
    steeper: Vec<f64>,
    /// Of the line at hand: the sum over exciting lines of how far they reach, and of how that changes.
    reached: Vec<f64>,
    changed: Vec<f64>,
    by_ray: Vec<f64>,
    elements: usize,
}

impl Gradient {
    /// Room for a setting; it is used again for every bead.
    ///
    /// ```
    /// use beadchem::substance::Weights;
    /// use beadchem::xray::{Geometry, Gradient, Instrument, Setting, Source, example_tables};
    /// let instrument = Instrument::new(Source::monochromatic(20.0)?, Geometry::new(63.0, 40.0)?);
    /// let setting = Setting::new(&example_tables()?, &Weights::ciaaw_2024(), &instrument, &["SiO2"], &["Si Ka"])?;
    /// assert_eq!(Gradient::new(&setting).intensities(), [0.0]);
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn new(setting: &Setting) -> Self {
        let (points, lines, elements) = (setting.energies.len(), setting.wanted.targets.len(), setting.elements.len());
        let scratch = setting.scratch::<f64>();
        Self {
            intensities: vec![0.0; lines],
            by_mass: vec![0.0; lines * elements],
            steeper: vec![0.0; scratch.spread.len()],
            scratch,
            reached: vec![0.0; points],
            changed: vec![0.0; points],
            by_ray: vec![0.0; setting.rays.len()],
            elements,
        }
    }

    /// Computes the lines of a thick bead from the masses of its elements, in the order of [`Setting::elements`].
    ///
    /// # Errors
    /// `shape.mismatch` for another number of masses, or another setting than the room was made for.
    ///
    /// ```
    /// use beadchem::substance::Weights;
    /// use beadchem::xray::{Geometry, Gradient, Instrument, Setting, Source, example_tables};
    /// let instrument = Instrument::new(Source::monochromatic(20.0)?, Geometry::new(63.0, 40.0)?);
    /// let setting = Setting::new(&example_tables()?, &Weights::ciaaw_2024(), &instrument, &["SiO2"], &["Si Ka"])?;
    /// assert!(Gradient::new(&setting).compute(&setting, &[1.0]).is_err());
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    pub fn compute(&mut self, setting: &Setting, masses: &[f64]) -> Result<()> {
        let hint = "One mass for each element of the setting that the room was made for.";
        for (quantity, expected, found) in [
            ("Masses of elements", setting.elements.len(), masses.len()),
            ("Elements of a gradient", setting.elements.len(), self.elements),
            ("Lines of a gradient", setting.wanted.targets.len(), self.intensities.len()),
            ("Points of a gradient", setting.energies.len(), self.reached.len()),
            (
                "Exciting lines of a gradient",
                setting.wanted.exciters.len() * setting.energies.len(),
                self.steeper.len(),
            ),
            ("Rays of a gradient", setting.rays.len(), self.by_ray.len()),
        ] {
            if expected != found {
                return Err(Error::shape(quantity, expected, found, hint));
            }
        }
        InstructionSet::best().run(Run { setting, masses, gradient: self })
    }

    /// The intensities, primary and secondary together, line by line.
    ///
    /// ```
    /// use beadchem::substance::Weights;
    /// use beadchem::xray::{Geometry, Gradient, Instrument, Setting, Source, example_tables};
    /// let instrument = Instrument::new(Source::monochromatic(20.0)?, Geometry::new(63.0, 40.0)?);
    /// let setting = Setting::new(&example_tables()?, &Weights::ciaaw_2024(), &instrument, &["SiO2"], &["Si Ka"])?;
    /// let mut gradient = Gradient::new(&setting);
    /// gradient.compute(&setting, &[0.47, 0.53])?;
    /// assert!(gradient.intensities()[0] > 0.0);
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn intensities(&self) -> &[f64] {
        &self.intensities
    }

    /// The derivatives of one line, element by element; empty past the last line.
    ///
    /// ```
    /// use beadchem::substance::Weights;
    /// use beadchem::xray::{Geometry, Gradient, Instrument, Setting, Source, example_tables};
    /// let instrument = Instrument::new(Source::monochromatic(20.0)?, Geometry::new(63.0, 40.0)?);
    /// let setting = Setting::new(&example_tables()?, &Weights::ciaaw_2024(), &instrument, &["SiO2"], &["Si Ka"])?;
    /// assert_eq!(Gradient::new(&setting).by_mass(0).len(), 2);
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn by_mass(&self, line: usize) -> &[f64] {
        self.by_mass.get(line * self.elements..(line + 1) * self.elements).unwrap_or_default()
    }

    #[inline(always)]
    fn go(&mut self, setting: &Setting, masses: &[f64]) {
        setting.mix(masses, &mut self.scratch);
        setting.spread(&setting.wanted, &mut self.scratch);
        self.steepen(setting);
        let whole: f64 = masses.iter().sum();
        for index in 0..setting.wanted.targets.len() {
            self.line(setting, index, whole);
        }
    }

    #[inline(always)]
    fn steepen(&mut self, setting: &Setting) {
        let points = setting.energies.len();
        for (place, &ray) in setting.wanted.exciters.iter().enumerate() {
            let shell = setting.rays[ray].shell;
            let first = setting.shells[shell].first;
            let mu_j = self.scratch.rays[ray];
            let vacancies = &setting.vacancies[shell * points + first..(shell + 1) * points];
            let spread = &self.scratch.spread[place * points + first..(place + 1) * points];
            let steeper = &mut self.steeper[place * points + first..(place + 1) * points];
            let cells = vacancies.iter().zip(spread).zip(&self.scratch.inward[first..]);
            for (steeper, ((vacancies, spread), mu)) in steeper.iter_mut().zip(cells) {
                *steeper = vacancies / (mu + mu_j) - spread;
            }
        }
    }

    /// One line: value, then the slopes along `mu'` at each point, along `mu''`, along each `mu_j` and each fraction.
    #[inline(always)]
    fn line(&mut self, setting: &Setting, index: usize, whole: f64) {
        let (points, elements) = (setting.energies.len(), self.elements);
        let target = setting.wanted.targets[index];
        let ray = &setting.rays[target];
        let outward = self.scratch.rays[target] * setting.inverse_sines.1;
        meet(outward, &self.scratch.inward, &mut self.scratch.both[..points]);
        let own = &setting.vacancies[ray.shell * points..(ray.shell + 1) * points];
        self.reached.copy_from_slice(own);
        self.changed.fill(0.0);
        self.by_ray.fill(0.0);
        let slopes = &mut self.by_mass[index * elements..(index + 1) * elements];
        slopes.fill(0.0);
        let both = &self.scratch.both[..points];
        let mut value = weigh(both, own);
        let mut by_outward = 0.0;
        let mut shell = usize::MAX;
        let mut plain = 0.0;
        for &(place, half) in &setting.wanted.pairs[index] {
            let exciter_ray = setting.wanted.exciters[place];
            let exciter = &setting.rays[exciter_ray];
            let first = setting.shells[exciter.shell].first;
            let vacancies = &setting.vacancies[exciter.shell * points + first..(exciter.shell + 1) * points];
            if exciter.shell != shell {
                shell = exciter.shell;
                plain = weigh(&both[first..], vacancies);
            }
            let mu_j = self.scratch.rays[exciter_ray];
            let out = reach(outward, 1.0 / outward, 1.0 / mu_j);
            let (bare, fraction) = (half * exciter.strength, self.scratch.fractions[exciter.element]);
            let factor = bare * fraction;
            let range = place * points + first..(place + 1) * points;
            let (spread, steeper) = (&self.scratch.spread[range.clone()], &self.steeper[range]);
            let [along, change] = gather(
                [&both[first..], spread, steeper, vacancies],
                [&mut self.reached[first..], &mut self.changed[first..]],
                [factor, factor * out],
            );
            let part = along + plain * out;
            value += factor * part;
            slopes[exciter.element] += bare * part;
            by_outward += factor * plain * (1.0 / (mu_j + outward) - out) / outward;
            self.by_ray[exciter_ray] -= factor * ((along + change) + plain / (mu_j + outward)) / mu_j;
        }
        // along mu' at each point, in place; every term holds 1/(mu' + mu'') once
        for ((slope, reached), (both, inverse)) in
            self.changed.iter_mut().zip(&self.reached).zip(both.iter().zip(&self.scratch.inverse_inward))
        {
            let steep = both * both * reached;
            by_outward -= steep;
            *slope = both * inverse * *slope - steep;
        }
        self.by_ray[target] += by_outward * setting.inverse_sines.1;
        let unit = ray.strength * setting.inverse_sines.0;
        let own_fraction = self.scratch.fractions[ray.element];
        let rays = setting.rays.len();
        for (element, slope) in slopes.iter_mut().enumerate() {
            *slope += weigh(&self.changed, &setting.attenuation[element * points..(element + 1) * points]);
            *slope += weigh(&self.by_ray, &setting.at_rays[element * rays..(element + 1) * rays]);
            *slope *= unit * own_fraction;
        }
        slopes[ray.element] += unit * value;
        // from fractions to masses: what all fractions lose together where one mass grows
        let common: f64 = slopes.iter().zip(&self.scratch.fractions).map(|(slope, fraction)| slope * fraction).sum();
        for slope in slopes {
            *slope = (*slope - common) / whole;
        }
        self.intensities[index] = unit * own_fraction * value;
    }
}

/// Adds one exciting line to the sums over all, and gives its sums with `1/(mu' + mu'')`.
#[inline(always)]
fn gather(
    [both, spread, steeper, vacancies]: [&[f64]; 4],
    [reached, changed]: [&mut [f64]; 2],
    [factor, outward]: [f64; 2],
) -> [f64; 2] {
    let count = both.len();
    let (spread, steeper, vacancies) = (&spread[..count], &steeper[..count], &vacancies[..count]);
    let (reached, changed) = (&mut reached[..count], &mut changed[..count]);
    let (mut along, mut change) = ([0.0; 8], [0.0; 8]);
    let whole = count - count % 8;
    for start in (0..whole).step_by(8) {
        for lane in 0..8 {
            let n = start + lane;
            along[lane] += both[n] * spread[n];
            change[lane] += both[n] * steeper[n];
            reached[n] += factor * spread[n] + outward * vacancies[n];
            changed[n] += factor * steeper[n];
        }
    }
    let (mut along, mut change) = (pairwise(along), pairwise(change));
    for n in whole..count {
        along += both[n] * spread[n];
        change += both[n] * steeper[n];
        reached[n] += factor * spread[n] + outward * vacancies[n];
        changed[n] += factor * steeper[n];
    }
    [along, change]
}

/// The arithmetic compiled for the chosen instruction set.
struct Run<'a> {
    setting: &'a Setting,
    masses: &'a [f64],
    gradient: &'a mut Gradient,
}

impl pulp::NullaryFnOnce for Run<'_> {
    type Output = ();
    #[inline(always)]
    fn call(self) {
        self.gradient.go(self.setting, self.masses);
    }
}
