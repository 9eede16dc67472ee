//! What a program may tell the machine of its memory: which results will not be read again soon, and which are large. Neither
//! moves a bit.
#![allow(unsafe_code)]

use crate::scalar::Lanes;

/// Results larger than this do not stay in the caches until somebody reads them.
///
/// ```
/// assert!(beadchem::numeric::memory::LARGE_BYTES > 1_000_000);
/// ```
pub const LARGE_BYTES: usize = 8 << 20;

/// Copies numbers into memory past the caches, which then need not fetch what is only written over; as many as `to` has room
/// for. [`settle`] must follow before anybody else is told of them.
///
/// ```
/// use beadchem::{numeric::memory::{copy_past_caches, settle}, scalar::Lanes};
/// let mut numbers = [0.0; 12];
/// copy_past_caches(&[Lanes([1.0; 8]), Lanes([2.0; 8])], &mut numbers);
/// settle();
/// assert_eq!((numbers[7], numbers[8]), (1.0, 2.0));
/// ```
#[inline(always)]
pub fn copy_past_caches<const W: usize>(from: &[Lanes<W>], to: &mut [f64]) {
    const { assert!(size_of::<Lanes<W>>() == W * size_of::<f64>(), "lanes lie one behind the other") };
    let count = to.len().min(from.len() * W);
    // SAFETY: `Lanes` is an array of numbers without room between or behind them (asserted), so this many lie there.
    let from = unsafe { core::slice::from_raw_parts(from.as_ptr().cast::<f64>(), count) };
    store(from, &mut to[..count]);
}

#[inline(always)]
#[cfg(all(target_arch = "x86_64", not(miri)))]
fn store(from: &[f64], to: &mut [f64]) {
    use core::arch::x86_64::{_mm_loadu_pd, _mm_stream_pd};
    /// A line of a cache, in numbers: lines that are written in part are fetched all the same.
    const LINE: usize = 8;
    let first = to.as_ptr().align_offset(LINE * size_of::<f64>()).min(to.len());
    let whole = first + (to.len() - first) / LINE * LINE;
    to[..first].copy_from_slice(&from[..first]);
    for place in (first..whole).step_by(2) {
        // SAFETY: `place + 1 < whole`, which is inside both; and `to` is aligned to a line at `first`, so to a pair here.
        unsafe { _mm_stream_pd(to.as_mut_ptr().add(place), _mm_loadu_pd(from.as_ptr().add(place))) };
    }
    to[whole..].copy_from_slice(&from[whole..]);
}

#[inline(always)]
#[cfg(any(not(target_arch = "x86_64"), miri))]
fn store(from: &[f64], to: &mut [f64]) {
    to.copy_from_slice(from);
}

/// Makes what was copied past the caches visible in the order of the program.
///
/// ```
/// beadchem::numeric::memory::settle();
/// ```
#[inline(always)]
pub fn settle() {
    #[cfg(all(target_arch = "x86_64", not(miri)))]
    // SAFETY: every x86-64 processor has this instruction.
    unsafe {
        core::arch::x86_64::_mm_sfence();
    }
}

/// Asks for a number, and what lies about it, to be brought into the caches meanwhile.
///
/// ```
/// beadchem::numeric::memory::fetch_ahead(&[1.0, 2.0], 1);
/// ```
#[inline(always)]
pub fn fetch_ahead(numbers: &[f64], place: usize) {
    #[cfg(all(target_arch = "x86_64", not(miri)))]
    if let Some(number) = numbers.get(place) {
        use core::arch::x86_64::{_MM_HINT_T1, _mm_prefetch};
        // SAFETY: every x86-64 processor has this instruction; it reads nothing the program sees.
        unsafe { _mm_prefetch::<_MM_HINT_T1>(core::ptr::from_ref(number).cast()) };
    }
    #[cfg(any(not(target_arch = "x86_64"), miri))]
    let _ = (numbers, place);
}

/// So many zeros, in large pages where they are many and the machine has such: the first touch of a small page costs more than
/// its numbers. Nothing where there is no room for them.
///
/// ```
/// assert_eq!(beadchem::numeric::memory::zeros(3), Some(vec![0.0; 3]));
/// assert_eq!(beadchem::numeric::memory::zeros(usize::MAX), None);
/// ```
#[must_use]
pub fn zeros(count: usize) -> Option<Vec<f64>> {
    if count < LARGE_BYTES / size_of::<f64>() {
        return Some(vec![0.0; count]);
    }
    Vec::<f64>::new().try_reserve_exact(count).ok()?;
    let mut numbers = vec![0.0; count];
    advise(&mut numbers);
    Some(numbers)
}

#[cfg(all(target_os = "linux", not(miri)))]
fn advise(numbers: &mut [f64]) {
    const PAGE: usize = 4096;
    let skipped = numbers.as_ptr().align_offset(PAGE).min(numbers.len());
    let inside = &mut numbers[skipped..];
    // SAFETY: whole pages that belong to this slice alone; the advice changes no byte, and its failure is no failure.
    unsafe {
        libc::madvise(inside.as_mut_ptr().cast(), size_of_val(inside) / PAGE * PAGE, libc::MADV_HUGEPAGE);
    }
}

#[cfg(any(not(target_os = "linux"), miri))]
fn advise(_: &mut [f64]) {}
