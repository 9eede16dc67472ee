//! Where fluorescence of the third order, which is not computed, could matter: estimated on a source of few points.

use crate::error::Result;
use crate::numeric::InstructionSet;
use crate::scalar::Scalar;
use crate::xray::kernel::{Scheme, Scratch, Way, meet};
use crate::xray::setting::{Place, Setting};

/// Points of a source that are taken together are at most this part of all; an estimate wants no more.
const PARTS: usize = 48;

impl Setting {
    /// The same setting with neighbouring points of the source taken together, none across an edge, and with the exciting lines
    /// behind the wanted ones.
    pub(super) fn coarse(&self) -> Setting {
        let points = self.energies.len();
        let mut starts: Vec<usize> = self.shells.iter().map(|shell| shell.first).collect();
        starts.extend((0..points).step_by(points.div_ceil(PARTS).max(1)));
        starts.retain(|&start| start < points);
        starts.sort_unstable();
        starts.dedup();
        let group = |start: usize| starts.partition_point(|&held| held < start);
        let ends = starts.iter().skip(1).copied().chain([points]);
        let groups: Vec<core::ops::Range<usize>> =
            starts.iter().copied().zip(ends).map(|(from, to)| from..to).collect();
        // a point counts by the vacancies it makes
        let mut counted = vec![f64::MIN_POSITIVE; points];
        for row in self.vacancies.chunks_exact(points.max(1)) {
            counted.iter_mut().zip(row).for_each(|(sum, vacancies)| *sum += vacancies);
        }
        let mean = |row: &[f64]| -> Vec<f64> {
            let of = |group: &core::ops::Range<usize>| {
                let (row, counted) = (&row[group.clone()], &counted[group.clone()]);
                let weighed: f64 = row.iter().zip(counted).map(|(value, count)| value * count).sum();
                weighed / counted.iter().sum::<f64>()
            };
            groups.iter().map(of).collect()
        };
        let whole = |row: &[f64]| -> Vec<f64> { groups.iter().map(|group| row[group.clone()].iter().sum()).collect() };
        let mut coarse = Setting {
            energies: mean(&self.energies),
            attenuation: self.attenuation.chunks_exact(points.max(1)).flat_map(mean).collect(),
            vacancies: self.vacancies.chunks_exact(points.max(1)).flat_map(whole).collect(),
            shells: self.shells.iter().map(|shell| Place { first: group(shell.first), ..*shell }).collect(),
            ..self.clone()
        };
        let targets = self.wanted.targets.iter().chain(&self.wanted.exciters).copied().collect();
        coarse.wanted = coarse.scheme(targets);
        coarse
    }
}

/// For each of the first lines of a coarse setting, what the third order could add as a share of its primary intensity: for each
/// exciting line, its part in the secondary over the primary, times its own secondary over primary, added up.
pub(super) fn chains(coarse: &Setting, wanted: usize, masses: &[f64]) -> Result<Vec<f64>> {
    let mut shares = vec![0.0; wanted];
    InstructionSet::best().run(Chains { coarse, masses, shares: &mut shares })?;
    Ok(shares)
}

struct Chains<'a> {
    coarse: &'a Setting,
    masses: &'a [f64],
    shares: &'a mut [f64],
}

impl pulp::NullaryFnOnce for Chains<'_> {
    type Output = ();
    #[inline(always)]
    fn call(self) {
        let Self { coarse, masses, shares } = self;
        let scheme: &Scheme = &coarse.wanted;
        let count = scheme.targets.len();
        let (mut primary, mut secondary) = (vec![0.0; count], vec![0.0; count]);
        let mut room = Scratch::new(coarse, scheme);
        coarse.compute(scheme, masses, None, &mut primary, &mut secondary, &mut room);
        let second = |ray: usize| {
            let place = scheme.targets[shares.len()..].iter().position(|&target| target == ray)? + shares.len();
            (primary[place] > 0.0).then(|| secondary[place] / primary[place])
        };
        let of_exciters: Vec<f64> = scheme.exciters.iter().map(|&ray| second(ray).unwrap_or(0.0)).collect();
        let mut both = vec![0.0; coarse.energies.len()];
        for (index, share) in shares.iter_mut().enumerate() {
            let ray = &coarse.rays[scheme.targets[index]];
            let outward = room.rays[scheme.targets[index]] * coarse.inverse_sines.1;
            meet(outward, &room.inward, &mut both);
            let mut way = Way::of(outward);
            let factor = room.fractions[ray.element] * (ray.strength * coarse.inverse_sines.0);
            for &pair in &scheme.pairs[index] {
                if of_exciters[pair.0] > 0.0 {
                    *share += coarse.part(scheme, pair, &mut way, &both, &room) * factor * of_exciters[pair.0];
                }
            }
            *share = f64::select(0.0.lt(primary[index]), *share / primary[index], 0.0);
        }
    }
}
