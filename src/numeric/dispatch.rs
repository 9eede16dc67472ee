//! Which vector instructions a loop is compiled for, chosen when the program runs.
//!
//! No set changes a result: kernels use neither fused multiply-add nor functions of the platform, so each set gives the
//! same bits and differs in speed only.

use std::sync::OnceLock;

use crate::code::Code;
use crate::error::{Error, Result};
use crate::numeric::registers::{Plain, Registers};
use crate::scalar::Lanes;

/// A set of vector instructions.
///
/// ```
/// use beadchem::numeric::InstructionSet;
/// let set = InstructionSet::best();
/// assert_eq!(InstructionSet::from_word(set.word())?, set);
/// assert!(InstructionSet::available().contains(&set));
/// # Ok::<(), beadchem::error::Error>(())
/// ```
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum InstructionSet {
    /// What the crate was built for; on every processor.
    Portable,
    /// Four numbers at once (x86-64-v3).
    Avx2,
    /// Eight numbers at once (x86-64-v4).
    Avx512,
}

impl InstructionSet {
    /// Every set, the narrowest first.
    ///
    /// ```
    /// use beadchem::numeric::InstructionSet;
    /// assert_eq!(InstructionSet::ALL[0], InstructionSet::Portable);
    /// ```
    pub const ALL: [InstructionSet; 3] = [InstructionSet::Portable, InstructionSet::Avx2, InstructionSet::Avx512];

    /// The word by which it is chosen.
    ///
    /// ```
    /// assert_eq!(beadchem::numeric::InstructionSet::Avx2.word(), "avx2");
    /// ```
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            InstructionSet::Portable => "portable",
            InstructionSet::Avx2 => "avx2",
            InstructionSet::Avx512 => "avx512",
        }
    }

    /// The set with this word; it need not be available here.
    ///
    /// # Errors
    /// `word.unknown` with the words that are known.
    ///
    /// ```
    /// use beadchem::numeric::InstructionSet;
    /// assert_eq!(InstructionSet::from_word("avx512")?, InstructionSet::Avx512);
    /// assert!(InstructionSet::from_word("fast").unwrap_err().hint().contains("portable, avx2, avx512"));
    /// # Ok::<(), beadchem::error::Error>(())
    /// ```
    pub fn from_word(word: &str) -> Result<Self> {
        let known = Self::ALL.map(Self::word);
        let found = Self::ALL.into_iter().find(|set| set.word() == word);
        found.ok_or_else(|| Error::word("Instruction set", word, &known))
    }

    /// The sets this processor has, the narrowest first.
    ///
    /// ```
    /// use beadchem::numeric::InstructionSet;
    /// assert!(InstructionSet::available().contains(&InstructionSet::Portable));
    /// ```
    #[must_use]
    pub fn available() -> Vec<InstructionSet> {
        Self::ALL.into_iter().filter(|set| set.is_available()).collect()
    }

    /// The widest set this processor has; asked of the processor once.
    ///
    /// ```
    /// use beadchem::numeric::InstructionSet;
    /// assert_eq!(Some(&InstructionSet::best()), InstructionSet::available().last());
    /// ```
    #[must_use]
    pub fn best() -> InstructionSet {
        static BEST: OnceLock<InstructionSet> = OnceLock::new();
        *BEST.get_or_init(|| Self::ALL.into_iter().rfind(|set| set.is_available()).unwrap_or(Self::Portable))
    }

    #[cfg(target_arch = "x86_64")]
    fn is_available(self) -> bool {
        match self {
            InstructionSet::Portable => true,
            InstructionSet::Avx2 => pulp::x86::V3::is_available(),
            InstructionSet::Avx512 => pulp::x86::V4::is_available(),
        }
    }

    #[cfg(not(target_arch = "x86_64"))]
    fn is_available(self) -> bool {
        self == InstructionSet::Portable
    }

    /// Runs a loop compiled for this set. What the loop calls must be `#[inline(always)]` to be compiled with it.
    ///
    /// # Errors
    /// `word.unknown` if this processor lacks the set, with the sets it has.
    #[doc(hidden)]
    #[inline(always)]
    #[cfg(target_arch = "x86_64")]
    pub fn run<F: pulp::NullaryFnOnce>(self, job: F) -> Result<F::Output> {
        match self {
            InstructionSet::Portable => Ok(job.call()),
            InstructionSet::Avx2 => match pulp::x86::V3::try_new() {
                Some(simd) => Ok(simd.vectorize(job)),
                None => Err(self.absent()),
            },
            InstructionSet::Avx512 => match pulp::x86::V4::try_new() {
                Some(simd) => Ok(simd.vectorize(job)),
                None => Err(self.absent()),
            },
        }
    }

    /// Runs a loop compiled for this set.
    ///
    /// # Errors
    /// `word.unknown` for every set but the portable one.
    #[doc(hidden)]
    #[inline(always)]
    #[cfg(not(target_arch = "x86_64"))]
    pub fn run<F: pulp::NullaryFnOnce>(self, job: F) -> Result<F::Output> {
        match self {
            InstructionSet::Portable => Ok(job.call()),
            InstructionSet::Avx2 | InstructionSet::Avx512 => Err(self.absent()),
        }
    }

    /// Runs a job over as many rows side by side as suit this set: two vectors, so that no operation waits for the one before.
    ///
    /// # Errors
    /// As [`run`](Self::run).
    #[inline(always)]
    #[cfg(target_arch = "x86_64")]
    pub(crate) fn over_lanes<J: OverLanes>(self, job: J) -> Result<J::Output> {
        match self {
            InstructionSet::Portable => Ok(job.run(Plain)),
            InstructionSet::Avx2 => pulp::x86::V3::try_new().map(|level| job.run(level)).ok_or_else(|| self.absent()),
            InstructionSet::Avx512 => pulp::x86::V4::try_new().map(|level| job.run(level)).ok_or_else(|| self.absent()),
        }
    }

    /// Runs a job over rows side by side.
    ///
    /// # Errors
    /// As [`run`](Self::run).
    #[inline(always)]
    #[cfg(not(target_arch = "x86_64"))]
    pub(crate) fn over_lanes<J: OverLanes>(self, job: J) -> Result<J::Output> {
        match self {
            InstructionSet::Portable => Ok(job.run(Plain)),
            InstructionSet::Avx2 | InstructionSet::Avx512 => Err(self.absent()),
        }
    }

    #[cold]
    fn absent(self) -> Error {
        let here: Vec<&str> = Self::available().into_iter().map(Self::word).collect();
        Error::Unknown {
            code: Code::WordUnknown,
            what: "On this processor the instruction set".to_owned(),
            given: self.word().to_owned(),
            hint: format!("It has: {}.", here.join(", ")),
        }
    }
}

/// An instruction set that is there, with so many rows side by side and what holds them.
pub(crate) trait Level<const W: usize>: Registers<Lanes<W>> {
    /// Runs a loop compiled for it; what that calls must be `#[inline(always)]`.
    fn run<J: pulp::NullaryFnOnce>(self, job: J) -> J::Output;
    /// The lesser of two numbers, lane by lane; the other where one of them is no number.
    fn lesser(self, one: Self::Held, other: Self::Held) -> Self::Held;
    /// The greater of two numbers, lane by lane; the other where one of them is no number.
    fn greater(self, one: Self::Held, other: Self::Held) -> Self::Held;
}

/// A job over rows side by side, of any width.
pub(crate) trait OverLanes {
    type Output;
    fn run<const W: usize, L: Level<W>>(self, level: L) -> Self::Output;
}
