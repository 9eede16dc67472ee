//! Sums and sums of products that keep what rounding drops.
//!
//! # Source
//! T. J. Dekker, Numer. Math. 18 (1971) 224 (splitting, exact product); A. Neumaier, Z. Angew. Math. Mech. 54 (1974) 39
//! (second sum of the errors); T. Ogita, S. M. Rump, S. Oishi, SIAM J. Sci. Comput. 26 (2005) 1955 (error bounds).

use crate::scalar::Scalar;

/// `a + b` and the rounding error of that sum. Without overflow the two parts add up to it exactly.
#[inline(always)]
pub(super) fn two_sum<S: Scalar>(a: S, b: S) -> (S, S) {
    let total = a + b;
    let moved = total - a;
    (total, (a - (total - moved)) + (b - moved))
}

/// `2^27 + 1`: a product with it splits 53 bits into two halves.
const SPLITTER: f64 = 134_217_729.0;

/// The leading and the trailing half of a number; products of halves are exact.
#[inline(always)]
fn halves<S: Scalar>(a: S) -> (S, S) {
    let shifted = a * SPLITTER;
    let high = shifted - (shifted - a);
    (high, a - high)
}

/// `a * b` and the rounding error of that product, exact for factors below 2^996 and products above 2^-969.
#[inline(always)]
pub(super) fn two_product<S: Scalar>(a: S, b: S) -> (S, S) {
    let product = a * b;
    let (a_high, a_low) = halves(a);
    let (b_high, b_low) = halves(b);
    (product, (((a_high * b_high - product) + a_high * b_low) + a_low * b_high) + a_low * b_low)
}

/// A number kept as the unevaluated sum of two, times one number.
pub(super) fn pair_times([high, low]: [f64; 2], factor: f64) -> [f64; 2] {
    let (product, error) = two_product(high, factor);
    let (high, low) = two_sum(product, error + low * factor);
    [high, low]
}

/// A number kept as the unevaluated sum of two, divided by one number.
pub(super) fn pair_over([high, low]: [f64; 2], divisor: f64) -> [f64; 2] {
    let quotient = high / divisor;
    let (product, error) = two_product(quotient, divisor);
    let (high, low) = two_sum(quotient, (((high - product) - error) + low) / divisor);
    [high, low]
}

/// A running sum with the sum of its rounding errors beside it.
///
/// The result is as good as one summed with twice the digits and rounded once: its relative error is about
/// `2^-53 + 2^-106 n^2 sum|x| / |sum x|`. Free of branches, so lanes agree with single numbers to the bit; for dual
/// numbers the tangents are compensated too. A sum that overflows gives what a plain sum gives.
///
/// ```
/// use beadchem::numeric::Sum;
/// let total = Sum::new().add(1.0_f64).add(1e100).add(1.0).add(-1e100);
/// assert_eq!(total.value(), 2.0);
/// ```
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Sum<S> {
    total: S,
    error: S,
}

impl<S: Scalar> Sum<S> {
    /// The empty sum, zero.
    ///
    /// ```
    /// assert_eq!(beadchem::numeric::Sum::<f64>::new().value(), 0.0);
    /// ```
    #[must_use]
    #[inline(always)]
    pub fn new() -> Self {
        Self { total: S::constant(0.0), error: S::constant(0.0) }
    }

    /// The sum with one more term.
    ///
    /// ```
    /// assert_eq!(beadchem::numeric::Sum::new().add(0.1_f64).add(0.2).value(), 0.1 + 0.2);
    /// ```
    #[must_use]
    #[inline(always)]
    #[allow(clippy::should_implement_trait)] // an accumulator, not an addition of two sums
    pub fn add(self, term: S) -> Self {
        let (total, error) = two_sum(self.total, term);
        Self { total, error: self.error + error }
    }

    /// The sum with the product of two factors added, the rounding error of the product included.
    ///
    /// ```
    /// use beadchem::numeric::Sum;
    /// let small = 2.0_f64.powi(-30);
    /// let square = Sum::new().add_product(1.0 + small, 1.0 + small).add(-1.0).add(-2.0 * small);
    /// assert_eq!(square.value(), small * small);
    /// ```
    #[must_use]
    #[inline(always)]
    pub fn add_product(self, a: S, b: S) -> Self {
        let (product, error) = two_product(a, b);
        let sum = self.add(product);
        Self { total: sum.total, error: sum.error + error }
    }

    /// The sum, rounded once.
    ///
    /// ```
    /// use beadchem::numeric::Sum;
    /// assert_eq!(Sum::new().add(f64::MAX).add(f64::MAX).value(), f64::INFINITY);
    /// ```
    #[must_use]
    #[inline(always)]
    pub fn value(self) -> S {
        let finite = self.error.abs().lt(S::constant(f64::INFINITY));
        S::select(finite, self.total + self.error, self.total)
    }
}

impl<S: Scalar> Default for Sum<S> {
    fn default() -> Self {
        Self::new()
    }
}

/// Compensated sum; see [`Sum`] for its error.
///
/// ```
/// let tenths = beadchem::numeric::sum([0.1_f64; 10]);
/// assert_eq!(tenths, 1.0);
/// ```
#[must_use]
#[inline(always)]
pub fn sum<S: Scalar>(terms: impl IntoIterator<Item = S>) -> S {
    terms.into_iter().fold(Sum::new(), Sum::add).value()
}

/// Compensated sum of products of the pairs, the rounding error of each product included.
///
/// ```
/// use beadchem::numeric::dot;
/// let (a, b) = ([1e16, 1.0, -1e16], [1.0, 1.0, 1.0]);
/// assert_eq!(dot(a.into_iter().zip(b)), 1.0);
/// ```
#[must_use]
#[inline(always)]
pub fn dot<S: Scalar>(pairs: impl IntoIterator<Item = (S, S)>) -> S {
    pairs.into_iter().fold(Sum::new(), |sum, (a, b)| sum.add_product(a, b)).value()
}
