//! The number type every kernel is written over: a plain `f64`, eight rows side by side ([`Lanes`]), or a value that
//! carries its derivatives ([`Dual`]).
//!
//! One source per formula: a kernel is written once over [`Scalar`] and gives values, exact sensitivities, batches and
//! Monte Carlo draws. There is no ordering on a scalar, only [`Scalar::lt`] into a [`Mask`] and [`Scalar::select`], so
//! that a kernel cannot branch on data. Nothing here uses fused multiply-add or the transcendental functions of the
//! standard library: the same input gives the same bits on every processor.

use core::ops::{Add, Div, Mul, Neg, Sub};

/// An array of the same length as `start`, each place from its index: a plain loop, because the closure of
/// `core::array::from_fn` may stay a call, and a call is not compiled for the instruction set of the loop around it.
macro_rules! each {
    ($start:expr, |$index:ident| $place:expr) => {{
        let mut places = $start;
        for $index in 0..places.len() {
            places[$index] = $place;
        }
        places
    }};
}

/// The answer of a comparison: one truth value per lane.
///
/// ```
/// use beadchem::scalar::{Mask, Scalar};
/// let mask = 1.0_f64.lt(2.0);
/// assert!(mask.any() && mask.lane(0));
/// ```
pub trait Mask: Copy + 'static {
    /// The same truth value in every lane.
    fn splat(value: bool) -> Self;
    /// Lane by lane "and".
    fn and(self, other: Self) -> Self;
    /// Lane by lane "or".
    fn or(self, other: Self) -> Self;
    /// Lane by lane "not".
    fn not(self) -> Self;
    /// True where any lane is true.
    fn any(self) -> bool;
    /// The truth value of one lane; lanes past the last read as false.
    fn lane(self, index: usize) -> bool;
}

impl Mask for bool {
    #[inline(always)]
    fn splat(value: bool) -> Self {
        value
    }
    #[inline(always)]
    fn and(self, other: Self) -> Self {
        self & other
    }
    #[inline(always)]
    fn or(self, other: Self) -> Self {
        self | other
    }
    #[inline(always)]
    fn not(self) -> Self {
        !self
    }
    #[inline(always)]
    fn any(self) -> bool {
        self
    }
    #[inline(always)]
    fn lane(self, index: usize) -> bool {
        index == 0 && self
    }
}

/// A number a kernel can be run with.
///
/// Constants stay `f64`: the operators take a plain `f64` on the right, so that a constant never carries tangents.
///
/// ```
/// use beadchem::scalar::{Dual, Scalar};
/// fn dilution<S: Scalar>(glass: S, sample: S) -> S { glass / sample }
/// assert_eq!(dilution(8.8, 0.8), 11.0);
/// let glass = Dual::<f64, 1>::variable(8.8, 0);
/// assert_eq!(dilution(glass, Dual::constant(0.8)).eps[0], 1.0 / 0.8);
/// ```
pub trait Scalar:
    Copy
    + Send
    + Sync
    + 'static
    + Add<Output = Self>
    + Sub<Output = Self>
    + Mul<Output = Self>
    + Div<Output = Self>
    + Neg<Output = Self>
    + Add<f64, Output = Self>
    + Sub<f64, Output = Self>
    + Mul<f64, Output = Self>
    + Div<f64, Output = Self>
{
    /// What a comparison of two such numbers gives.
    type Mask: Mask;
    /// A constant: the same value in every lane, no derivatives.
    fn constant(value: f64) -> Self;
    /// Square root.
    fn sqrt(self) -> Self;
    /// Exponential, branch-free, the same bits on every processor; within 2 units in the last place.
    fn exp(self) -> Self;
    /// Natural logarithm, branch-free, the same bits on every processor; within 2 units in the last place.
    fn ln(self) -> Self;
    /// `ln(1 + x)` without loss for small x; within 3 units in the last place.
    fn ln_1p(self) -> Self;
    /// Where `self` is less than `other`, by value; false where either is not a number.
    fn lt(self, other: Self) -> Self::Mask;
    /// `yes` where the mask is true, else `no`.
    fn select(mask: Self::Mask, yes: Self, no: Self) -> Self;
    /// Stands in the innermost loop over numbers and costs nothing: it tells the compiler that such a number fills vectors by
    /// itself, so that it does not gather the first lanes of several numbers, which is slower than no vectors at all.
    #[inline(always)]
    fn side_by_side() {}
    /// Absolute value.
    #[inline(always)]
    fn abs(self) -> Self {
        Self::select(self.lt(Self::constant(0.0)), -self, self)
    }
}

impl Scalar for f64 {
    type Mask = bool;
    #[inline(always)]
    fn constant(value: f64) -> Self {
        value
    }
    #[inline(always)]
    fn abs(self) -> Self {
        f64::abs(self)
    }
    #[inline(always)]
    fn sqrt(self) -> Self {
        f64::sqrt(self)
    }
    #[inline(always)]
    fn exp(self) -> Self {
        exp(self)
    }
    #[inline(always)]
    fn ln(self) -> Self {
        ln(self)
    }
    #[inline(always)]
    fn ln_1p(self) -> Self {
        ln_1p(self)
    }
    #[inline(always)]
    fn lt(self, other: Self) -> bool {
        self < other
    }
    #[inline(always)]
    fn select(mask: bool, yes: Self, no: Self) -> Self {
        if mask { yes } else { no }
    }
}

/// `1.5 * 2^52`: adding it rounds to the nearest integer and leaves that integer in the low bits.
const ROUND: f64 = 6_755_399_441_055_744.0;
/// ln 2 in two parts; the first has trailing zeros, so that its product with an exponent is exact.
const LN2_HIGH: f64 = 0.693_147_180_369_123_8;
const LN2_LOW: f64 = 1.908_214_929_270_587_7e-10;

/// exp by reduction to |r| <= ln(2)/2 and the Taylor series to r^13 (truncation below 1e-17).
#[inline(always)]
fn exp(x: f64) -> f64 {
    let inside = if x < -746.0 { -746.0 } else { x };
    let inside = if inside > 710.0 { 710.0 } else { inside };
    let shifted = inside * core::f64::consts::LOG2_E + ROUND;
    let k = shifted - ROUND;
    let r = (inside - k * LN2_HIGH) - k * LN2_LOW;
    let mut sum = 1.0 / 6_227_020_800.0;
    for inverse in [
        1.0 / 479_001_600.0,
        1.0 / 39_916_800.0,
        1.0 / 3_628_800.0,
        1.0 / 362_880.0,
        1.0 / 40_320.0,
        1.0 / 5_040.0,
        1.0 / 720.0,
        1.0 / 120.0,
        1.0 / 24.0,
        1.0 / 6.0,
        0.5,
    ] {
        sum = sum * r + inverse;
    }
    let value = 1.0 + (r + r * r * sum);
    // 2^k in two steps, so that results below the normal range come out right.
    let k = (shifted.to_bits() as i64).wrapping_sub(ROUND.to_bits() as i64);
    let half = k >> 1;
    value * power_of_two(half) * power_of_two(k.wrapping_sub(half))
}

#[inline(always)]
fn power_of_two(k: i64) -> f64 {
    f64::from_bits((k.wrapping_add(1023) as u64) << 52)
}

/// A polynomial by its coefficients, the constant one first: even and odd powers apart, so that half as many steps wait for each
/// other.
#[inline(always)]
pub(crate) fn polynomial<const N: usize>(coefficients: &[f64; N], x: f64) -> f64 {
    const { assert!(N > 1) };
    let square = x * x;
    let (mut one, mut other) = (coefficients[N - 1], coefficients[N - 2]);
    let mut place = N - 2;
    while place > 0 {
        place -= 1;
        let sum = if (N - 1 - place).is_multiple_of(2) { &mut one } else { &mut other };
        *sum = *sum * square + coefficients[place];
    }
    if N.is_multiple_of(2) { one * x + other } else { other * x + one }
}

/// ln with what is below the normal range, zero, infinity and what is no number.
#[inline(always)]
fn ln(x: f64) -> f64 {
    let small = x < f64::MIN_POSITIVE;
    let scaled = if small { x * 18_014_398_509_481_984.0 } else { x }; // 2^54
    let shift = if small { 54.0 } else { 0.0 };
    let value = ln_of_normal::<11>(scaled, shift);
    let value = if x == f64::INFINITY { x } else { value };
    let value = if x == 0.0 { f64::NEG_INFINITY } else { value };
    if x >= 0.0 { value } else { f64::NAN }
}

/// ln of a positive number in the normal range over two to a power, by reduction to a mantissa in [sqrt(1/2), sqrt(2)) and so many
/// terms of the series of 2 atanh(f / (2 + f)): with eleven what they leave out is lost in rounding, with four it is below 1e-9.
#[inline(always)]
pub(crate) fn ln_of_normal<const TERMS: usize>(x: f64, shift: f64) -> f64 {
    let bits = x.to_bits() as i64;
    let exponent = bits.wrapping_sub(core::f64::consts::FRAC_1_SQRT_2.to_bits() as i64) >> 52;
    let mantissa = f64::from_bits(bits.wrapping_sub(exponent << 52) as u64);
    let e = f64::from_bits(ROUND.to_bits().wrapping_add(exponent as u64)) - ROUND - shift;
    let f = mantissa - 1.0;
    let s = f / (2.0 + f);
    let z = s * s;
    const SERIES: [f64; 11] = [
        2.0 / 3.0,
        2.0 / 5.0,
        2.0 / 7.0,
        2.0 / 9.0,
        2.0 / 11.0,
        2.0 / 13.0,
        2.0 / 15.0,
        2.0 / 17.0,
        2.0 / 19.0,
        2.0 / 21.0,
        2.0 / 23.0,
    ];
    let mut series = [0.0; TERMS];
    series.copy_from_slice(&SERIES[..TERMS]);
    let sum = polynomial(&series, z);
    // 2s = f - s f exactly enough: ln(m) = f - s (f - z sum)
    e * LN2_HIGH + (f - (s * (f - z * sum) - e * LN2_LOW))
}

#[inline(always)]
fn ln_1p(x: f64) -> f64 {
    let u = 1.0 + x;
    let lost = x - (u - 1.0);
    let correction = if u > 0.0 && u < f64::INFINITY { lost / u } else { 0.0 };
    let value = ln(u) + correction;
    if x == 0.0 { x } else { value }
}

/// `W` numbers computed side by side, one table row each.
///
/// Every operation is lane by lane, so a lane never depends on its neighbours and gives the bits a lone `f64` gives.
///
/// ```
/// use beadchem::scalar::{Lanes, Scalar};
/// let mass = Lanes::<8>::constant(0.8) + 0.2;
/// assert_eq!(mass.0, [1.0; 8]);
/// ```
#[derive(Debug, Clone, Copy, PartialEq)]
#[repr(align(64))]
pub struct Lanes<const W: usize>(pub [f64; W]);

/// One truth value per lane, as wide as the number it tells of: compared and selected by whole vectors.
///
/// ```
/// use beadchem::scalar::{LaneMask, Mask};
/// assert!(!LaneMask::<8>::splat(false).any());
/// ```
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct LaneMask<const W: usize>([u64; W]);

/// All bits of a lane whose truth value is "true".
const TRUE: u64 = u64::MAX;

impl<const W: usize> From<[bool; W]> for LaneMask<W> {
    fn from(lanes: [bool; W]) -> Self {
        Self(lanes.map(|lane| if lane { TRUE } else { 0 }))
    }
}

impl<const W: usize> Mask for LaneMask<W> {
    #[inline(always)]
    fn splat(value: bool) -> Self {
        Self([if value { TRUE } else { 0 }; W])
    }
    #[inline(always)]
    fn and(self, other: Self) -> Self {
        Self(each!(self.0, |i| self.0[i] & other.0[i]))
    }
    #[inline(always)]
    fn or(self, other: Self) -> Self {
        Self(each!(self.0, |i| self.0[i] | other.0[i]))
    }
    #[inline(always)]
    fn not(self) -> Self {
        Self(each!(self.0, |i| !self.0[i]))
    }
    #[inline(always)]
    fn any(self) -> bool {
        self.0.iter().fold(0, |any, lane| any | lane) != 0
    }
    #[inline(always)]
    fn lane(self, index: usize) -> bool {
        self.0.get(index).is_some_and(|&lane| lane != 0)
    }
}

macro_rules! lane_operator {
    ($trait:ident, $method:ident, $op:tt) => {
        impl<const W: usize> $trait for Lanes<W> {
            type Output = Self;
            #[inline(always)]
            fn $method(self, other: Self) -> Self {
                Self(each!(self.0, |i| self.0[i] $op other.0[i]))
            }
        }
        impl<const W: usize> $trait<f64> for Lanes<W> {
            type Output = Self;
            #[inline(always)]
            fn $method(self, other: f64) -> Self {
                Self(each!(self.0, |i| self.0[i] $op other))
            }
        }
    };
}
lane_operator!(Add, add, +);
lane_operator!(Sub, sub, -);
lane_operator!(Mul, mul, *);
lane_operator!(Div, div, /);

impl<const W: usize> Neg for Lanes<W> {
    type Output = Self;
    #[inline(always)]
    fn neg(self) -> Self {
        Self(each!(self.0, |i| -self.0[i]))
    }
}

impl<const W: usize> Scalar for Lanes<W> {
    type Mask = LaneMask<W>;
    #[inline(always)]
    fn side_by_side() {
        core::sync::atomic::compiler_fence(core::sync::atomic::Ordering::SeqCst);
    }
    #[inline(always)]
    fn constant(value: f64) -> Self {
        Self([value; W])
    }
    #[inline(always)]
    fn abs(self) -> Self {
        Self(each!(self.0, |i| f64::abs(self.0[i])))
    }
    #[inline(always)]
    fn sqrt(self) -> Self {
        Self(each!(self.0, |i| f64::sqrt(self.0[i])))
    }
    #[inline(always)]
    fn exp(self) -> Self {
        Self(each!(self.0, |i| exp(self.0[i])))
    }
    #[inline(always)]
    fn ln(self) -> Self {
        Self(each!(self.0, |i| ln(self.0[i])))
    }
    #[inline(always)]
    fn ln_1p(self) -> Self {
        Self(each!(self.0, |i| ln_1p(self.0[i])))
    }
    #[inline(always)]
    fn lt(self, other: Self) -> Self::Mask {
        LaneMask(each!([0; W], |i| if self.0[i] < other.0[i] { TRUE } else { 0 }))
    }
    #[inline(always)]
    fn select(mask: Self::Mask, yes: Self, no: Self) -> Self {
        Self(each!(yes.0, |i| if mask.0[i] == 0 { no.0[i] } else { yes.0[i] }))
    }
}

/// A value with `N` tangent directions: forward-mode derivatives over any [`Scalar`], lanes and other duals included.
///
/// Nesting gives higher derivatives: `Dual<Dual<f64, 1>, 1>` carries a second derivative.
///
/// ```
/// use beadchem::scalar::{Dual, Scalar};
/// let x = Dual::<f64, 1>::variable(3.0, 0);
/// let y = x * x + 1.0;
/// assert_eq!((y.re, y.eps[0]), (10.0, 6.0));
/// ```
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Dual<T, const N: usize> {
    /// The value.
    pub re: T,
    /// The derivative of the value along each tangent direction.
    pub eps: [T; N],
}

impl<T: Scalar, const N: usize> Dual<T, N> {
    /// An independent variable: derivative 1 along `direction`, 0 along the others.
    ///
    /// ```
    /// use beadchem::scalar::Dual;
    /// assert_eq!(Dual::<f64, 2>::variable(5.0, 1).eps, [0.0, 1.0]);
    /// ```
    #[inline(always)]
    pub fn variable(value: T, direction: usize) -> Self {
        Self { re: value, eps: each!([value; N], |i| T::constant(if i == direction { 1.0 } else { 0.0 })) }
    }

    /// The value `re` with every tangent multiplied by `slope`: the chain rule of one function of one variable.
    #[inline(always)]
    fn chain(self, re: T, slope: T) -> Self {
        Self { re, eps: each!(self.eps, |i| self.eps[i] * slope) }
    }
}

impl<T: Scalar, const N: usize> Add for Dual<T, N> {
    type Output = Self;
    #[inline(always)]
    fn add(self, other: Self) -> Self {
        Self { re: self.re + other.re, eps: each!(self.eps, |i| self.eps[i] + other.eps[i]) }
    }
}
impl<T: Scalar, const N: usize> Sub for Dual<T, N> {
    type Output = Self;
    #[inline(always)]
    fn sub(self, other: Self) -> Self {
        Self { re: self.re - other.re, eps: each!(self.eps, |i| self.eps[i] - other.eps[i]) }
    }
}
impl<T: Scalar, const N: usize> Mul for Dual<T, N> {
    type Output = Self;
    #[inline(always)]
    #[allow(clippy::suspicious_arithmetic_impl)] // the product rule adds
    fn mul(self, other: Self) -> Self {
        Self { re: self.re * other.re, eps: each!(self.eps, |i| self.eps[i] * other.re + other.eps[i] * self.re) }
    }
}
impl<T: Scalar, const N: usize> Div for Dual<T, N> {
    type Output = Self;
    #[inline(always)]
    fn div(self, other: Self) -> Self {
        let re = self.re / other.re;
        let inverse = T::constant(1.0) / other.re;
        Self { re, eps: each!(self.eps, |i| (self.eps[i] - re * other.eps[i]) * inverse) }
    }
}
impl<T: Scalar, const N: usize> Neg for Dual<T, N> {
    type Output = Self;
    #[inline(always)]
    fn neg(self) -> Self {
        Self { re: -self.re, eps: each!(self.eps, |i| -self.eps[i]) }
    }
}
impl<T: Scalar, const N: usize> Add<f64> for Dual<T, N> {
    type Output = Self;
    #[inline(always)]
    fn add(self, other: f64) -> Self {
        Self { re: self.re + other, eps: self.eps }
    }
}
impl<T: Scalar, const N: usize> Sub<f64> for Dual<T, N> {
    type Output = Self;
    #[inline(always)]
    fn sub(self, other: f64) -> Self {
        Self { re: self.re - other, eps: self.eps }
    }
}
impl<T: Scalar, const N: usize> Mul<f64> for Dual<T, N> {
    type Output = Self;
    #[inline(always)]
    fn mul(self, other: f64) -> Self {
        Self { re: self.re * other, eps: each!(self.eps, |i| self.eps[i] * other) }
    }
}
impl<T: Scalar, const N: usize> Div<f64> for Dual<T, N> {
    type Output = Self;
    #[inline(always)]
    fn div(self, other: f64) -> Self {
        Self { re: self.re / other, eps: each!(self.eps, |i| self.eps[i] / other) }
    }
}

impl<T: Scalar, const N: usize> Scalar for Dual<T, N> {
    type Mask = T::Mask;
    #[inline(always)]
    fn constant(value: f64) -> Self {
        Self { re: T::constant(value), eps: [T::constant(0.0); N] }
    }
    #[inline(always)]
    fn sqrt(self) -> Self {
        let root = self.re.sqrt();
        self.chain(root, T::constant(0.5) / root)
    }
    #[inline(always)]
    fn exp(self) -> Self {
        let value = self.re.exp();
        self.chain(value, value)
    }
    #[inline(always)]
    fn ln(self) -> Self {
        self.chain(self.re.ln(), T::constant(1.0) / self.re)
    }
    #[inline(always)]
    fn ln_1p(self) -> Self {
        self.chain(self.re.ln_1p(), T::constant(1.0) / (self.re + 1.0))
    }
    #[inline(always)]
    fn lt(self, other: Self) -> Self::Mask {
        self.re.lt(other.re)
    }
    #[inline(always)]
    fn select(mask: Self::Mask, yes: Self, no: Self) -> Self {
        Self { re: T::select(mask, yes.re, no.re), eps: each!(yes.eps, |i| T::select(mask, yes.eps[i], no.eps[i])) }
    }
}
