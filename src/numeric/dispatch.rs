//! Which vector instructions a loop is compiled for, chosen when the program runs.
//!
//! No set changes a result: kernels use neither fused multiply-add nor functions of the platform, so each set gives the
//! same bits and differs in speed only.

use std::sync::OnceLock;

use crate::code::Code;
use crate::error::{Error, Result};

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

    /// The same for a long loop over lanes, compiled twice only: eight lanes fill two vectors of four as well as one of eight
    /// (measured: no slower), so the widest set runs the code of the one before it.
    ///
    /// # Errors
    /// As [`run`](Self::run).
    #[inline(always)]
    pub(crate) fn run_lanes<F: pulp::NullaryFnOnce>(self, job: F) -> Result<F::Output> {
        match self {
            InstructionSet::Avx512 if !self.is_available() => Err(self.absent()),
            InstructionSet::Avx512 | InstructionSet::Avx2 => InstructionSet::Avx2.run_wide(job),
            InstructionSet::Portable => Ok(job.call()),
        }
    }

    #[inline(always)]
    #[cfg(target_arch = "x86_64")]
    fn run_wide<F: pulp::NullaryFnOnce>(self, job: F) -> Result<F::Output> {
        match pulp::x86::V3::try_new() {
            Some(simd) => Ok(simd.vectorize(job)),
            None => Err(self.absent()),
        }
    }

    #[inline(always)]
    #[cfg(not(target_arch = "x86_64"))]
    fn run_wide<F: pulp::NullaryFnOnce>(self, _: F) -> Result<F::Output> {
        Err(self.absent())
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
