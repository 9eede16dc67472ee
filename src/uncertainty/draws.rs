//! Random numbers of a block of draws: the same bits for the same seed and block, on any processor, in any thread.

use core::f64::consts::FRAC_PI_2;

use rand_xoshiro::Xoshiro256PlusPlus;
use rand_xoshiro::rand_core::{Rng, SeedableRng};

use crate::scalar::Scalar;
use crate::uncertainty::Distribution;

/// Draws that are made together.
pub(crate) const TILE: usize = 32;
/// One random number for each of them.
pub(crate) type Tile = [f64; TILE];

/// The generator of one block.
pub(crate) struct Stream(Xoshiro256PlusPlus);

impl Stream {
    /// The stream of this block of this seed: 256 bits of state, spread by the generator's own seeding.
    pub(crate) fn new(seed: u64, block: u64) -> Self {
        // An odd multiplier moves every bit of the block number. It must not be the step by which the seeding itself walks
        // (0x9E37_79B9_7F4A_7C15), or neighbouring blocks would share words of their state.
        Self(Xoshiro256PlusPlus::seed_from_u64(seed.wrapping_add(block.wrapping_mul(0xD1B5_4A32_D192_ED03))))
    }

    #[inline(always)]
    fn bits(&mut self) -> [u64; TILE] {
        let mut bits = [0; TILE];
        for bits in &mut bits {
            *bits = self.0.next_u64();
        }
        bits
    }

    #[inline(always)]
    fn uniforms(&mut self) -> Tile {
        let (bits, mut tile) = (self.bits(), [0.0; TILE]);
        for (place, &bits) in tile.iter_mut().zip(&bits) {
            *place = uniform(bits);
        }
        tile
    }

    /// Standard normal, two from a point of the plane in polar coordinates: half of them the one coordinate, half the other.
    ///
    /// Source: Box and Muller, Ann. Math. Stat. 1958, 29, 610.
    #[inline(always)]
    fn normals(&mut self) -> Tile {
        const HALF: usize = TILE / 2;
        let (bits, mut tile) = (self.bits(), [0.0; TILE]);
        let (radii, angles) = bits.split_at(HALF);
        let (one, other) = tile.split_at_mut(HALF);
        for i in 0..HALF {
            let radius = (Scalar::ln(uniform(radii[i])) * -2.0).sqrt();
            let (x, y) = direction(angles[i]);
            (one[i], other[i]) = (radius * x, radius * y);
        }
        tile
    }

    /// A point uniform in the unit disc: its first coordinate and its squared radius.
    #[inline(always)]
    fn disc(&mut self) -> (f64, f64) {
        loop {
            let (x, y) = (2.0 * uniform(self.0.next_u64()) - 1.0, 2.0 * uniform(self.0.next_u64()) - 1.0);
            let r = x * x + y * y;
            if r < 1.0 && r > 0.0 {
                return (x, r);
            }
        }
    }

    #[inline(always)]
    fn of_disc(&mut self, value: impl Fn(f64, f64) -> f64) -> Tile {
        let mut tile = [0.0; TILE];
        for place in &mut tile {
            let (x, r) = self.disc();
            *place = value(x, r);
        }
        tile
    }

    /// Scaled so that the standard uncertainty is 1 (for Student's t: the scale parameter).
    ///
    /// Student's t after Bailey, Math. Comput. 1994, 62, 779: t = x sqrt(dof (r^(-2/dof) - 1) / r) for a point of the
    /// unit disc with first coordinate x and squared radius r; x / sqrt(r) is the cosine of a random angle.
    #[inline(always)]
    pub(crate) fn standard(&mut self, distribution: Distribution, dof: f64) -> Tile {
        match distribution {
            Distribution::Normal => self.normals(),
            Distribution::Rectangular => {
                let mut tile = self.uniforms();
                tile.iter_mut().for_each(|place| *place = (*place - 0.5) * 12f64.sqrt());
                tile
            }
            Distribution::Triangular => {
                let (mut tile, other) = (self.uniforms(), self.uniforms());
                let both = tile.iter_mut().zip(&other);
                both.for_each(|(place, other)| *place = (*place + other - 1.0) * 6f64.sqrt());
                tile
            }
            Distribution::Arcsine => self.of_disc(|x, r| x / r.sqrt() * 2f64.sqrt()),
            Distribution::StudentT => self.of_disc(|x, r| {
                let power = Scalar::exp(Scalar::ln(r) * (-2.0 / dof));
                x * ((power - 1.0) * dof / r).sqrt()
            }),
        }
    }
}

/// Uniform in the open interval from 0 to 1, from the upper bits: odd multiples of 2^-53, never an end.
#[inline(always)]
fn uniform(bits: u64) -> f64 {
    const BELOW_ONE: f64 = 1.0 - f64::EPSILON / 2.0;
    f64::from_bits((bits >> 12) | 1f64.to_bits()) - BELOW_ONE
}

/// Cosine and sine of a random angle: the upper bits turn it within an eighth of the circle to either side, the lowest two say
/// which of the quarters it stands in. By the Taylor series to y^15 and y^16, whose next terms are below 1e-16.
#[inline(always)]
fn direction(bits: u64) -> (f64, f64) {
    let y = (uniform(bits) - 0.5) * FRAC_PI_2;
    let square = y * y;
    let mut sine = -1.0 / 1_307_674_368_000.0;
    for inverse in
        [1.0 / 6_227_020_800.0, -1.0 / 39_916_800.0, 1.0 / 362_880.0, -1.0 / 5_040.0, 1.0 / 120.0, -1.0 / 6.0, 1.0]
    {
        sine = sine * square + inverse;
    }
    let mut cosine = 1.0 / 20_922_789_888_000.0;
    for inverse in [
        -1.0 / 87_178_291_200.0,
        1.0 / 479_001_600.0,
        -1.0 / 3_628_800.0,
        1.0 / 40_320.0,
        -1.0 / 720.0,
        1.0 / 24.0,
        -0.5,
        1.0,
    ] {
        cosine = cosine * square + inverse;
    }
    const SIGN: u32 = 62;
    let (sine, cosine) = ((sine * y).to_bits(), cosine.to_bits() ^ ((bits & 2) << SIGN));
    let exchanged = (sine ^ cosine) & (bits & 1).wrapping_neg();
    (f64::from_bits(cosine ^ exchanged), f64::from_bits(sine ^ exchanged))
}
