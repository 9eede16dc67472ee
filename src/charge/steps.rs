//! A plan over rows side by side in steps, each compiled apart from what is around it, and once for each instruction set: one
//! step of everything would be too long to be compiled well.

use crate::charge::kernel::Kernel;
use crate::charge::lines::Lines;
use crate::charge::plan::Plan;
use crate::numeric::{Level, Registers};
use crate::scalar::{LaneMask, Lanes, Mask, Scalar};

/// The inputs as a weighed bead moves them.
pub(super) struct MoveInputs<'a, S> {
    pub(super) plan: &'a Plan,
    pub(super) x: &'a [S],
    pub(super) moved: &'a mut [S],
    pub(super) out: &'a mut [S],
    pub(super) scratch: &'a mut [S],
}

impl<S: Scalar> pulp::NullaryFnOnce for MoveInputs<'_, S> {
    type Output = S::Mask;
    #[inline(always)]
    fn call(self) -> S::Mask {
        self.plan.move_inputs(self.x, self.moved, self.out, self.scratch)
    }
}

/// A plan for readings of the glass, whole.
struct Glass<'a, S> {
    kernel: &'a Kernel,
    x: &'a [S],
    out: &'a mut [S],
    scratch: &'a mut [S],
}

impl<S: Scalar> pulp::NullaryFnOnce for Glass<'_, S> {
    type Output = S::Mask;
    #[inline(always)]
    fn call(self) -> S::Mask {
        self.kernel.run_glass(self.x, self.out, self.scratch)
    }
}

/// The books, what they say for the equation, and the intensities.
pub(super) struct Prepare<'a, S> {
    pub(super) kernel: &'a Kernel,
    pub(super) lines: &'a Lines,
    pub(super) x: &'a [S],
    pub(super) out: &'a mut [S],
    pub(super) scratch: &'a mut [S],
}

impl<S: Scalar> pulp::NullaryFnOnce for Prepare<'_, S> {
    type Output = S::Mask;
    #[inline(always)]
    fn call(self) -> S::Mask {
        self.kernel.prepare_lines(self.lines, self.x, self.out, self.scratch)
    }
}

/// The equation.
pub(super) struct Solve<'a, R, S> {
    pub(super) hand: R,
    pub(super) kernel: &'a Kernel,
    pub(super) lines: &'a Lines,
    pub(super) x: &'a [S],
    pub(super) out: &'a [S],
    pub(super) scratch: &'a mut [S],
}

impl<S: Scalar, R: Registers<S>> pulp::NullaryFnOnce for Solve<'_, R, S> {
    type Output = S::Mask;
    #[inline(always)]
    fn call(self) -> S::Mask {
        self.kernel.solve_lines(self.hand, self.lines, self.x, self.out, self.scratch)
    }
}

/// What stayed of the sample to the results.
pub(super) struct Finish<'a, S> {
    pub(super) plan: &'a Plan,
    pub(super) x: &'a [S],
    pub(super) out: &'a mut [S],
    pub(super) scratch: &'a [S],
}

impl<S: Scalar> pulp::NullaryFnOnce for Finish<'_, S> {
    type Output = S::Mask;
    #[inline(always)]
    fn call(self) -> S::Mask {
        self.plan.finish_rows(self.x, self.out, self.scratch)
    }
}

impl Plan {
    /// Rows side by side up to the solution of their lines; readings of the glass up to their results. The mask is true where the
    /// numbers mean nothing, or the elimination wants exchanged rows. Not for a plan that a weighed bead adjusts.
    pub(crate) fn solve_rows<const W: usize, L: Level<W>>(
        &self,
        level: L,
        x: &[Lanes<W>],
        out: &mut [Lanes<W>],
        scratch: &mut [Lanes<W>],
    ) -> LaneMask<W> {
        let kernel = &self.kernel;
        match &kernel.lines {
            None => level.run(Glass { kernel, x, out, scratch }),
            Some(lines) => {
                let bad = level.run(Prepare { kernel, lines, x, out, scratch });
                bad.or(level.run(Solve { hand: level, kernel, lines, x, out, scratch }))
            }
        }
    }
}
