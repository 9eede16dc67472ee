//! What a loop holds its numbers in while it computes with them.
//!
//! Eight numbers side by side, written as an array, are vectors only where the compiler finds that out. In the loops that cost
//! most they are therefore held in what a processor has for them, from the load to the store; the formula is the same source.
//! Each operation rounds once, so no choice moves a bit.

use crate::numeric::dispatch::Level;
use crate::scalar::{Lanes, Scalar};

/// How numbers of a type are held while a loop computes with them.
pub(crate) trait Registers<S>: Copy {
    /// A number at hand.
    type Held: Copy;
    fn load(self, place: &S) -> Self::Held;
    fn store(self, held: Self::Held, place: &mut S);
    fn constant(self, value: f64) -> Self::Held;
    fn add(self, one: Self::Held, other: Self::Held) -> Self::Held;
    fn sub(self, one: Self::Held, other: Self::Held) -> Self::Held;
    fn mul(self, one: Self::Held, other: Self::Held) -> Self::Held;
    fn div(self, one: Self::Held, other: Self::Held) -> Self::Held;
}

/// As what they are, by the operators of their type.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Plain;

impl<S: Scalar> Registers<S> for Plain {
    type Held = S;
    #[inline(always)]
    fn load(self, place: &S) -> S {
        *place
    }
    #[inline(always)]
    fn store(self, held: S, place: &mut S) {
        *place = held;
        S::side_by_side();
    }
    #[inline(always)]
    fn constant(self, value: f64) -> S {
        S::constant(value)
    }
    #[inline(always)]
    fn add(self, one: S, other: S) -> S {
        one + other
    }
    #[inline(always)]
    fn sub(self, one: S, other: S) -> S {
        one - other
    }
    #[inline(always)]
    fn mul(self, one: S, other: S) -> S {
        one * other
    }
    #[inline(always)]
    fn div(self, one: S, other: S) -> S {
        one / other
    }
}

impl Level<8> for Plain {
    #[inline(always)]
    fn run<J: pulp::NullaryFnOnce>(self, job: J) -> J::Output {
        job.call()
    }
    #[inline(always)]
    fn lesser(self, one: Lanes<8>, other: Lanes<8>) -> Lanes<8> {
        let mut lanes = other;
        for (lane, &one) in lanes.0.iter_mut().zip(&one.0) {
            *lane = if one < *lane { one } else { *lane };
        }
        lanes
    }
    #[inline(always)]
    fn greater(self, one: Lanes<8>, other: Lanes<8>) -> Lanes<8> {
        let mut lanes = other;
        for (lane, &one) in lanes.0.iter_mut().zip(&one.0) {
            *lane = if one > *lane { one } else { *lane };
        }
        lanes
    }
}

/// Two vectors, by the operations of an instruction set.
#[cfg(target_arch = "x86_64")]
macro_rules! two_vectors {
    ($set:ty, $vector:ty, $width:literal) => {
        impl Registers<Lanes<$width>> for $set {
            type Held = [$vector; 2];
            #[inline(always)]
            fn load(self, place: &Lanes<$width>) -> Self::Held {
                pulp::cast(place.0)
            }
            #[inline(always)]
            fn store(self, held: Self::Held, place: &mut Lanes<$width>) {
                place.0 = pulp::cast(held);
            }
            #[inline(always)]
            fn constant(self, value: f64) -> Self::Held {
                [pulp::Simd::splat_f64s(self, value); 2]
            }
            two_vectors!(@ [$vector; 2], add, add_f64s);
            two_vectors!(@ [$vector; 2], sub, sub_f64s);
            two_vectors!(@ [$vector; 2], mul, mul_f64s);
            two_vectors!(@ [$vector; 2], div, div_f64s);
        }
        impl Level<$width> for $set {
            #[inline(always)]
            fn run<J: pulp::NullaryFnOnce>(self, job: J) -> J::Output {
                self.vectorize(job)
            }
            two_vectors!(@ [$vector; 2], lesser, min_f64s);
            two_vectors!(@ [$vector; 2], greater, max_f64s);
        }
    };
    (@ $held:ty, $name:ident, $operation:ident) => {
        #[inline(always)]
        fn $name(self, one: $held, other: $held) -> $held {
            use pulp::Simd;
            [self.$operation(one[0], other[0]), self.$operation(one[1], other[1])]
        }
    };
}
#[cfg(target_arch = "x86_64")]
two_vectors!(pulp::x86::V3, pulp::f64x4, 8);
#[cfg(target_arch = "x86_64")]
two_vectors!(pulp::x86::V4, pulp::f64x8, 16);
