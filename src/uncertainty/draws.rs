//! Random numbers of a block of draws: the same bits for the same seed and block, on any processor, in any thread.

use core::f64::consts::FRAC_PI_2;

use crate::scalar::{Scalar, ln_of_normal, polynomial};
use crate::uncertainty::Distribution;

/// Draws that are made together.
pub(crate) const TILE: usize = 32;
/// One random number for each of them.
pub(crate) type Tile = [f64; TILE];

/// The generators of one block, one for each draw of a tile.
///
/// Source: D. Blackman, S. Vigna, ACM Trans. Math. Softw. 2021, 47, 36: xoshiro256++, seeded by SplitMix64 as they advise. A
/// library steps one generator at a time; here all of them step together, in vectors.
pub(crate) struct Stream([[u64; TILE]; 4]);

impl Stream {
    /// The streams of this block of this seed: 256 bits of state each, spread by the generator's own seeding.
    pub(crate) fn new(seed: u64, block: u64) -> Self {
        let mut state = [[0; TILE]; 4];
        for draw in 0..TILE {
            // An odd multiplier moves every bit of the number of the generator. It must not be the step by which the seeding
            // itself walks, or neighbours would share words of their state.
            let number = block.wrapping_mul(TILE as u64).wrapping_add(draw as u64);
            let mut walk = seed.wrapping_add(number.wrapping_mul(0xD1B5_4A32_D192_ED03));
            for word in &mut state {
                walk = walk.wrapping_add(0x9E37_79B9_7F4A_7C15);
                let mixed = (walk ^ (walk >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
                let mixed = (mixed ^ (mixed >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
                word[draw] = mixed ^ (mixed >> 31);
            }
        }
        Self(state)
    }

    /// The next number of each generator.
    #[inline(always)]
    fn bits(&mut self) -> [u64; TILE] {
        let [a, b, c, d] = &mut self.0;
        let mut bits = [0; TILE];
        for draw in 0..TILE {
            bits[draw] = a[draw].wrapping_add(d[draw]).rotate_left(23).wrapping_add(a[draw]);
            let shifted = b[draw] << 17;
            c[draw] ^= a[draw];
            d[draw] ^= b[draw];
            b[draw] ^= c[draw];
            a[draw] ^= d[draw];
            c[draw] ^= shifted;
            d[draw] = d[draw].rotate_left(45);
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
        let (of_radii, of_angles) = bits.split_at(HALF);
        // loops that are short enough for several of their rounds to be on their way at once
        let mut radii = [0.0; HALF];
        for (radius, &bits) in radii.iter_mut().zip(of_radii) {
            *radius = (ln_of_normal::<4>(uniform(bits), 0.0) * -2.0).sqrt();
        }
        let (one, other) = tile.split_at_mut(HALF);
        for i in 0..HALF {
            let (x, y) = direction(of_angles[i]);
            (one[i], other[i]) = (radii[i] * x, radii[i] * y);
        }
        tile
    }

    /// Points uniform in the unit disc, each by its first coordinate and its squared radius.
    #[inline(always)]
    fn of_disc(&mut self, value: impl Fn(f64, f64) -> f64) -> Tile {
        let mut tile = [0.0; TILE];
        let mut left = tile.iter_mut();
        let mut next = left.next();
        while next.is_some() {
            // a point of each two numbers of a generator, where it lies inside
            for (x, y) in self.bits().into_iter().zip(self.bits()) {
                let (x, y) = (2.0 * uniform(x) - 1.0, 2.0 * uniform(y) - 1.0);
                let r = x * x + y * y;
                if r < 1.0
                    && r > 0.0
                    && let Some(place) = next
                {
                    *place = value(x, r);
                    next = left.next();
                }
            }
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
/// which of the quarters it stands in. By the Taylor series to y^9 and y^10, whose next terms are below 2e-9: of a
/// random angle no more is asked.
#[inline(always)]
fn direction(bits: u64) -> (f64, f64) {
    let y = (uniform(bits) - 0.5) * FRAC_PI_2;
    let square = y * y;
    const SINE: [f64; 5] = [1.0, -1.0 / 6.0, 1.0 / 120.0, -1.0 / 5_040.0, 1.0 / 362_880.0];
    const COSINE: [f64; 6] = [1.0, -0.5, 1.0 / 24.0, -1.0 / 720.0, 1.0 / 40_320.0, -1.0 / 3_628_800.0];
    let (sine, cosine) = (polynomial(&SINE, square), polynomial(&COSINE, square));
    const SIGN: u32 = 62;
    let (sine, cosine) = ((sine * y).to_bits(), cosine.to_bits() ^ ((bits & 2) << SIGN));
    let exchanged = (sine ^ cosine) & (bits & 1).wrapping_neg();
    (f64::from_bits(cosine ^ exchanged), f64::from_bits(sine ^ exchanged))
}
