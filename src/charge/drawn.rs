//! A bead as it is drawn by Monte Carlo: its results alone, by what moves them, near the bead itself.

use crate::charge::kernel::FIXED;
use crate::charge::lines::Lines;
use crate::charge::plan::Plan;
use crate::charge::steps::{Finish, MoveInputs, Prepare, Solve};
use crate::error::Result;
use crate::matrix::equation::right_sides;
use crate::matrix::near::Near;
use crate::numeric::{Level, Registers};
use crate::scalar::{LaneMask, Lanes, Mask, Scalar};
use crate::uncertainty::{Drawn, Touched};

/// Steps are counted for draws that lie so many standard uncertainties away; of those beyond, most still get there, and the others
/// are solved by elimination.
const FAR: f64 = 2.0;

/// The plan of a bead without the contents of its glass, whose results are drawn.
#[derive(Debug, Clone)]
pub(crate) struct Draws {
    plan: Plan,
    near: Option<Near>,
}

impl Draws {
    /// # Errors
    /// `matrix.singular`.
    pub(crate) fn of(plan: &Plan) -> Result<Self> {
        let plan = plan.without_glass();
        let near = match &plan.kernel.lines {
            Some(lines) => near(&plan, lines)?,
            None => None,
        };
        Ok(Self { plan, near })
    }
}

/// What is known of the bead, for the draws about it.
fn near(plan: &Plan, lines: &Lines) -> Result<Option<Near>> {
    let Some(at) = plan.solved()?.filter(|at| !at.exchanged) else { return Ok(None) };
    let (mut x, mut out) = (plan.moved(), vec![0.0; plan.output_count()]);
    let mut scratch = vec![0.0; plan.kernel.scratch()];
    let mut squares = vec![0.0; at.strengths.len()];
    for (place, input) in plan.inputs().iter().enumerate() {
        let Some(u) = input.estimate.u().filter(|&u| u > 0.0) else { continue };
        let value = x[place];
        x[place] = value + FAR * u;
        plan.kernel.prepare_lines(lines, &x, &mut out, &mut scratch);
        x[place] = value;
        let there = lines.held(&plan.kernel, &scratch).strengths;
        for (square, (there, here)) in squares.iter_mut().zip(there.iter().zip(&at.strengths)) {
            *square += (there - here) * (there - here);
        }
    }
    let reach: Vec<f64> = squares.into_iter().map(f64::sqrt).collect();
    Ok(Near::of(&lines.equation, &at.strengths, &reach, &at.solution, &at.matrix))
}

/// The equation, near the bead.
struct Nearby<'a, R, S> {
    hand: R,
    near: &'a Near,
    plan: &'a Plan,
    lines: &'a Lines,
    scratch: &'a mut [S],
}

impl<S: Scalar, R: Registers<S>> pulp::NullaryFnOnce for Nearby<'_, R, S> {
    type Output = S::Mask;
    #[inline(always)]
    fn call(self) -> S::Mask {
        let room = self.lines.room(&self.plan.kernel, self.scratch);
        right_sides(room.strengths, room.fixed, room.brought, room.solution);
        self.near.solve(self.hand, room.strengths, room.solution, room.matrix)
    }
}

impl Draws {
    /// Up to the solution: by steps from the bead, and by elimination for the draws that lie too far from it.
    fn solve<const W: usize, L: Level<W>>(
        &self,
        level: L,
        x: &[Lanes<W>],
        out: &mut [Lanes<W>],
        scratch: &mut [Lanes<W>],
    ) -> LaneMask<W> {
        let (plan, kernel) = (&self.plan, &self.plan.kernel);
        let Some((near, lines)) = self.near.as_ref().zip(kernel.lines.as_ref()) else {
            return plan.solve_rows(level, x, out, scratch);
        };
        let bad = level.run(Prepare { kernel, lines, x, out, scratch });
        let astray = level.run(Nearby { hand: level, near, plan, lines, scratch });
        if !astray.any() {
            return bad;
        }
        let near: Vec<Lanes<W>> = lines.room(kernel, scratch).solution.to_vec();
        let guarded = level.run(Solve { hand: level, kernel, lines, x, out, scratch });
        for (amount, near) in lines.room(kernel, scratch).solution.iter_mut().zip(near) {
            *amount = Lanes::select(astray, *amount, near);
        }
        bad.or(guarded.and(astray))
    }
}

impl Drawn for Draws {
    fn outputs(&self) -> usize {
        self.plan.output_count()
    }
    fn first(&self) -> usize {
        FIXED
    }
    fn scratch(&self) -> usize {
        self.plan.room()
    }
    /// Atomic weights do not move what is solved in the species it is reported in; half of all random numbers would be theirs.
    fn moves(&self, input: usize) -> bool {
        let plan = &self.plan;
        let mut x = vec![Touched(false); plan.input_count()];
        let (mut out, mut scratch) = (vec![Touched(false); plan.output_count()], vec![Touched(false); plan.room()]);
        x[input] = Touched(true);
        plan.follow::<Touched, true>(&x, &mut out, &mut scratch);
        out[FIXED..].contains(&Touched(true))
    }
    fn side_by_side<const W: usize, L: Level<W>>(
        &self,
        level: L,
        x: &[Lanes<W>],
        out: &mut [Lanes<W>],
        scratch: &mut [Lanes<W>],
    ) {
        let plan = &self.plan;
        let (moved, scratch) = scratch.split_at_mut(plan.moved_scratch());
        let mut trouble = LaneMask::splat(false);
        let mut x = x;
        if plan.adjusts() {
            trouble = level.run(MoveInputs { plan, x, moved, out, scratch });
            x = moved;
        }
        trouble = trouble.or(self.solve(level, x, out, scratch));
        trouble = trouble.or(level.run(Finish { plan, x, out, scratch }));
        if trouble.any() {
            let nothing = Lanes::constant(f64::NAN);
            out.iter_mut().for_each(|output| *output = Lanes::select(trouble, nothing, *output));
        }
    }
}
