//! Random numbers of a block of draws: the same bits for the same seed and block, on any processor, in any thread.

use rand_xoshiro::Xoshiro256PlusPlus;
use rand_xoshiro::rand_core::{Rng, SeedableRng};

use crate::scalar::{Lanes, Scalar};
use crate::uncertainty::Distribution;

/// Draws side by side.
pub(crate) const WIDTH: usize = 8;
pub(crate) type Draw = Lanes<WIDTH>;

/// The generator of one block.
pub(crate) struct Stream(Xoshiro256PlusPlus);

impl Stream {
    /// The stream of this block of this seed: 256 bits of state, spread by the generator's own seeding.
    pub(crate) fn new(seed: u64, block: u64) -> Self {
        // An odd multiplier moves every bit of the block number. It must not be the step by which the seeding itself walks
        // (0x9E37_79B9_7F4A_7C15), or neighbouring blocks would share words of their state.
        Self(Xoshiro256PlusPlus::seed_from_u64(seed.wrapping_add(block.wrapping_mul(0xD1B5_4A32_D192_ED03))))
    }

    /// Uniform in the open interval from 0 to 1: odd multiples of 2^-54, never an end.
    #[inline(always)]
    fn uniform(&mut self) -> f64 {
        const STEP: f64 = 1.0 / 9_007_199_254_740_992.0;
        ((self.0.next_u64() >> 11) as f64 + 0.5) * STEP
    }

    #[inline(always)]
    fn uniforms(&mut self) -> Draw {
        let mut draw = Draw::constant(0.0);
        draw.0.iter_mut().for_each(|lane| *lane = self.uniform());
        draw
    }

    /// Standard normal.
    #[inline(always)]
    pub(crate) fn normal(&mut self) -> Draw {
        normal_quantile(self.uniforms())
    }

    /// A point uniform in the unit disc, lane by lane: its first coordinate and its squared radius.
    #[inline(always)]
    fn disc(&mut self) -> (Draw, Draw) {
        let (mut first, mut square) = (Draw::constant(0.0), Draw::constant(0.0));
        for lane in 0..WIDTH {
            loop {
                let (x, y) = (2.0 * self.uniform() - 1.0, 2.0 * self.uniform() - 1.0);
                let r = x * x + y * y;
                if r < 1.0 && r > 0.0 {
                    (first.0[lane], square.0[lane]) = (x, r);
                    break;
                }
            }
        }
        (first, square)
    }

    /// Scaled so that the standard uncertainty is 1 (for Student's t: the scale parameter).
    ///
    /// Student's t after Bailey, Math. Comput. 1994, 62, 779: t = x sqrt(dof (r^(-2/dof) - 1) / r) for a point of the
    /// unit disc with first coordinate x and squared radius r; x / sqrt(r) is the cosine of a random angle.
    #[inline(always)]
    pub(crate) fn standard(&mut self, distribution: Distribution, dof: f64) -> Draw {
        match distribution {
            Distribution::Normal => self.normal(),
            Distribution::Rectangular => (self.uniforms() - 0.5) * 12f64.sqrt(),
            Distribution::Triangular => (self.uniforms() + self.uniforms() - 1.0) * 6f64.sqrt(),
            Distribution::Arcsine => {
                let (x, r) = self.disc();
                x / r.sqrt() * 2f64.sqrt()
            }
            Distribution::StudentT => {
                let (x, r) = self.disc();
                let power = (r.ln() * (-2.0 / dof)).exp();
                x * ((power - 1.0) * dof / r).sqrt()
            }
        }
    }
}

/// The standard normal value below which the share `p` lies, 0 < p < 1; relative error about 1e-16.
///
/// Source: Wichura, Applied Statistics 1988, 37, 477 (algorithm AS 241, the sixteen-digit form).
#[inline(always)]
pub(crate) fn normal_quantile<S: Scalar>(p: S) -> S {
    let q = p - 0.5;
    let near = S::constant(0.180_625) - q * q;
    let central = q * ratio(near, &CENTRAL);
    let tail = S::select(q.lt(S::constant(0.0)), p, S::constant(1.0) - p);
    let r = (-tail.ln()).sqrt();
    let middle = ratio(r - 1.6, &MIDDLE);
    let far = ratio(r - 5.0, &FAR);
    let outside = S::select(S::constant(5.0).lt(r), far, middle);
    let outside = S::select(q.lt(S::constant(0.0)), -outside, outside);
    S::select(S::constant(0.425).lt(q.abs()), outside, central)
}

/// Numerator and denominator of degree 7, lowest power first.
type Ratio = ([f64; 8], [f64; 8]);

#[inline(always)]
fn ratio<S: Scalar>(x: S, (above, below): &Ratio) -> S {
    polynomial(x, above) / polynomial(x, below)
}

#[inline(always)]
fn polynomial<S: Scalar>(x: S, coefficients: &[f64; 8]) -> S {
    let mut sum = S::constant(coefficients[7]);
    for k in (0..7).rev() {
        sum = sum * x + coefficients[k];
    }
    sum
}

const CENTRAL: Ratio = (
    [
        3.387_132_872_796_366_5,
        1.331_416_678_917_843_8e2,
        1.971_590_950_306_551_3e3,
        1.373_169_376_550_946e4,
        4.592_195_393_154_987e4,
        6.726_577_092_700_87e4,
        3.343_057_558_358_813e4,
        2.509_080_928_730_122_7e3,
    ],
    [
        1.0,
        4.231_333_070_160_091e1,
        6.871_870_074_920_579e2,
        5.394_196_021_424_751e3,
        2.121_379_430_158_66e4,
        3.930_789_580_009_271e4,
        2.872_908_573_572_194_3e4,
        5.226_495_278_852_854e3,
    ],
);
const MIDDLE: Ratio = (
    [
        1.423_437_110_749_683_5,
        4.630_337_846_156_546,
        5.769_497_221_460_691,
        3.647_848_324_763_204_5,
        1.270_458_252_452_368_4,
        2.417_807_251_774_506e-1,
        2.272_384_498_926_918_4e-2,
        7.745_450_142_783_414e-4,
    ],
    [
        1.0,
        2.053_191_626_637_759,
        1.676_384_830_183_803_8,
        6.897_673_349_851e-1,
        1.481_039_764_274_800_8e-1,
        1.519_866_656_361_645_7e-2,
        5.475_938_084_995_345e-4,
        1.050_750_071_644_416_9e-9,
    ],
);
const FAR: Ratio = (
    [
        6.657_904_643_501_103,
        5.463_784_911_164_114,
        1.784_826_539_917_291_3,
        2.965_605_718_285_048_7e-1,
        2.653_218_952_657_612_4e-2,
        1.242_660_947_388_078_4e-3,
        2.711_555_568_743_487_6e-5,
        2.010_334_399_292_288_1e-7,
    ],
    [
        1.0,
        5.998_322_065_558_879e-1,
        1.369_298_809_227_358e-1,
        1.487_536_129_085_061_5e-2,
        7.868_691_311_456_133e-4,
        1.846_318_317_510_054_8e-5,
        1.421_511_758_316_446e-7,
        2.044_263_103_389_939_8e-15,
    ],
);
