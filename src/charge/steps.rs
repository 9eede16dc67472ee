//! A plan over rows side by side in steps, each compiled apart from what is around it, and once for each instruction set: one
//! step of everything would be too long to be compiled well.

use crate::charge::kernel::Kernel;
use crate::charge::lines::Lines;
use crate::charge::plan::Plan;
use crate::numeric::{Level, Registers};
use crate::scalar::{LaneMask, Lanes, Mask, Scalar};
use crate::uncertainty::Drawn;

/// The inputs as a weighed bead moves them.
struct MoveInputs<'a, S> {
    plan: &'a Plan,
    x: &'a [S],
    moved: &'a mut [S],
    out: &'a mut [S],
    scratch: &'a mut [S],
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
struct Prepare<'a, S> {
    kernel: &'a Kernel,
    lines: &'a Lines,
    x: &'a [S],
    out: &'a mut [S],
    scratch: &'a mut [S],
}

impl<S: Scalar> pulp::NullaryFnOnce for Prepare<'_, S> {
    type Output = S::Mask;
    #[inline(always)]
    fn call(self) -> S::Mask {
        self.kernel.prepare_lines(self.lines, self.x, self.out, self.scratch)
    }
}

/// The equation.
struct Solve<'a, R, S> {
    hand: R,
    kernel: &'a Kernel,
    lines: &'a Lines,
    x: &'a [S],
    out: &'a [S],
    scratch: &'a mut [S],
}

impl<S: Scalar, R: Registers<S>> pulp::NullaryFnOnce for Solve<'_, R, S> {
    type Output = S::Mask;
    #[inline(always)]
    fn call(self) -> S::Mask {
        self.kernel.solve_lines(self.hand, self.lines, self.x, self.out, self.scratch)
    }
}

/// What stayed of the sample to the results.
struct Finish<'a, S> {
    plan: &'a Plan,
    x: &'a [S],
    out: &'a mut [S],
    scratch: &'a [S],
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

impl Drawn for Plan {
    fn outputs(&self) -> usize {
        self.output_count()
    }
    fn scratch(&self) -> usize {
        self.room()
    }
    fn alone(&self, inputs: &[f64], outputs: &mut [f64], scratch: &mut [f64]) {
        if self.follow_one(inputs, outputs, scratch) {
            outputs.fill(f64::NAN);
        }
    }
    fn side_by_side<const W: usize, L: Level<W>>(
        &self,
        level: L,
        x: &[Lanes<W>],
        out: &mut [Lanes<W>],
        scratch: &mut [Lanes<W>],
    ) {
        let (moved, scratch) = scratch.split_at_mut(self.moved_scratch());
        let mut trouble = LaneMask::splat(false);
        let mut x = x;
        if self.adjusts() {
            trouble = level.run(MoveInputs { plan: self, x, moved, out, scratch });
            x = moved;
        }
        trouble = trouble.or(self.solve_rows(level, x, out, scratch));
        trouble = trouble.or(level.run(Finish { plan: self, x, out, scratch }));
        if trouble.any() {
            let nothing = Lanes::constant(f64::NAN);
            out.iter_mut().for_each(|output| *output = Lanes::select(trouble, nothing, *output));
        }
    }
}
