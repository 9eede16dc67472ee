//! A number that knows only whether something reaches it.

use core::ops::{Add, Div, Mul, Neg, Sub};

use crate::scalar::{Mask, Scalar};

/// True where an input has a part in a number, whatever its size: what a formula run with it says holds for all values.
/// Constants and masks are reached by nothing but what they are computed from.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Touched(pub(crate) bool);

impl Touched {
    #[inline(always)]
    fn either(self, other: Self) -> Self {
        Self(self.0 || other.0)
    }
}

macro_rules! operators {
    ($($operator:ident $name:ident)*) => {$(
        impl $operator for Touched {
            type Output = Self;
            #[inline(always)]
            fn $name(self, other: Self) -> Self {
                self.either(other)
            }
        }
        impl $operator<f64> for Touched {
            type Output = Self;
            #[inline(always)]
            fn $name(self, _: f64) -> Self {
                self
            }
        }
    )*};
}
operators!(Add add Sub sub Mul mul Div div);

impl Neg for Touched {
    type Output = Self;
    #[inline(always)]
    fn neg(self) -> Self {
        self
    }
}

impl Mask for Touched {
    fn splat(_: bool) -> Self {
        Self(false)
    }
    fn and(self, other: Self) -> Self {
        self.either(other)
    }
    fn or(self, other: Self) -> Self {
        self.either(other)
    }
    fn not(self) -> Self {
        self
    }
    fn any(self) -> bool {
        self.0
    }
    fn lane(self, index: usize) -> bool {
        index == 0 && self.0
    }
}

impl Scalar for Touched {
    type Mask = Self;
    fn constant(_: f64) -> Self {
        Self(false)
    }
    fn sqrt(self) -> Self {
        self
    }
    fn exp(self) -> Self {
        self
    }
    fn ln(self) -> Self {
        self
    }
    fn ln_1p(self) -> Self {
        self
    }
    fn lt(self, other: Self) -> Self {
        self.either(other)
    }
    fn select(mask: Self, yes: Self, no: Self) -> Self {
        mask.either(yes).either(no)
    }
}
