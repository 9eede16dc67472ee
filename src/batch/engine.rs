//! The loop over rows: cells into lanes, the plan, results into columns.

use crate::batch::cells::Cells;
use crate::batch::field::Field;
use crate::batch::group::Group;
use crate::batch::run::FIXED;
use crate::charge::{Carrying, Contributions, Plan};
use crate::composition::{ABOVE_CEILING, EXPECTED_LOSS, TOTAL, Unit};
use crate::error::Result;
use crate::numeric::InstructionSet;
use crate::scalar::{Lanes, Mask, Scalar};

/// Rows computed side by side.
pub(crate) const WIDTH: usize = 8;
type Row = Lanes<WIDTH>;

/// Room for the rows of one group; belongs to a thread.
#[derive(Debug, Default)]
pub(crate) struct Room {
    x: Vec<Row>,
    out: Vec<Row>,
    scratch: Vec<Row>,
    sums: Vec<Row>,
    contents: Vec<Row>,
    u: Vec<Row>,
    variances: Vec<Row>,
    covariance: Vec<Row>,
    /// Room for the variances of one plan, named by its place in memory.
    carrying: Option<(usize, Carrying<Row>)>,
}

/// Where results go, each list one column of a chunk, first place its first row.
pub(crate) struct Targets<'a, 'b> {
    /// Contents, in %.
    pub(crate) contents: &'a mut [&'b mut [f64]],
    /// Bead mass, fused flux ratio, dilution.
    pub(crate) fixed: &'a mut [&'b mut [f64]],
    /// Contents on further bases, in %, basis by basis.
    pub(crate) also: &'a mut [&'b mut [f64]],
    /// Standard uncertainties, in %, then the upper triangle of covariances, in %^2; none where they are not asked for.
    pub(crate) spreads: &'a mut [&'b mut [f64]],
    /// Total, loss above the carbonate ceiling, loss expected from what oxidises, in %.
    pub(crate) totals: [Option<&'a mut [f64]>; 3],
}

/// Rows of one group of a chunk.
pub(crate) struct Block<'a, 'b, 't> {
    pub(crate) group: &'a Group,
    pub(crate) cells: &'a Cells<'t>,
    /// The declared columns.
    pub(crate) fields: &'a [Field],
    /// First row of the chunk in the table.
    pub(crate) first: usize,
    /// Rows of this group, counted from there.
    pub(crate) rows: &'a [u32],
    pub(crate) room: &'a mut Room,
    pub(crate) targets: Targets<'a, 'b>,
    /// Takes the rows that want the pivoted solution.
    pub(crate) guarded: &'a mut Vec<u32>,
}

/// The steps of eight rows: each compiled apart from what is around it, and once for each instruction set.
struct Prepare<'a> {
    plan: &'a Plan,
    x: &'a [Row],
    out: &'a mut [Row],
    scratch: &'a mut [Row],
}

impl pulp::NullaryFnOnce for Prepare<'_> {
    type Output = <Row as Scalar>::Mask;
    #[inline(always)]
    fn call(self) -> Self::Output {
        self.plan.prepare_rows(self.x, self.out, self.scratch)
    }
}

struct Solve<'a> {
    plan: &'a Plan,
    x: &'a [Row],
    out: &'a [Row],
    scratch: &'a mut [Row],
}

impl pulp::NullaryFnOnce for Solve<'_> {
    type Output = <Row as Scalar>::Mask;
    #[inline(always)]
    fn call(self) -> Self::Output {
        self.plan.solve_rows(self.x, self.out, self.scratch)
    }
}

/// The results, in the units and on the bases of the table, and their total.
struct Finish<'a> {
    group: &'a Group,
    x: &'a [Row],
    out: &'a mut [Row],
    scratch: &'a [Row],
    sums: &'a mut [Row],
    /// Contents in %, then on each further basis.
    contents: &'a mut [Row],
}

impl pulp::NullaryFnOnce for Finish<'_> {
    type Output = <Row as Scalar>::Mask;
    #[inline(always)]
    fn call(self) -> Self::Output {
        let Self { group, x, out, scratch, sums, contents } = self;
        let trouble = group.plan.finish_rows(&x[..group.plan.input_count()], out, scratch);
        let (first, further) = contents.split_at_mut(group.results.len());
        for (content, output) in first.iter_mut().zip(&group.results) {
            if let Some(output) = output {
                *content = written(out[*output]);
                Row::side_by_side();
            }
        }
        for (contents, also) in further.chunks_exact_mut(group.results.len().max(1)).zip(&group.also) {
            let Some([weighed, asked]) = also else { continue };
            let factor = weighed.grams(x) / asked.grams(x);
            for (content, output) in contents.iter_mut().zip(&group.results) {
                if let Some(output) = output {
                    *content = written(out[*output] * factor);
                    Row::side_by_side();
                }
            }
        }
        if let Some(sum) = &group.sum {
            sum.add_up(x, out, sums);
        }
        trouble
    }
}

/// Their variances and covariances, from what the results left in the scratch.
struct Spreads<'a> {
    contributions: &'a Contributions,
    plan: &'a Plan,
    inputs: [&'a [Row]; 2],
    scratch: &'a [Row],
    carrying: &'a mut Carrying<Row>,
    variances: &'a mut [Row],
    covariance: Option<&'a mut [Row]>,
}

impl pulp::NullaryFnOnce for Spreads<'_> {
    type Output = <Row as Scalar>::Mask;
    #[inline(always)]
    fn call(self) -> Self::Output {
        let Self { contributions, plan, inputs, scratch, carrying, variances, covariance } = self;
        contributions.run(plan, inputs, scratch, carrying, variances, covariance)
    }
}

impl Block<'_, '_, '_> {
    /// # Errors
    /// `word.unknown` where this processor lacks the instruction set.
    pub(crate) fn run(mut self, set: InstructionSet) -> Result<()> {
        let plan = &self.group.plan;
        let inputs = plan.input_count();
        self.room.x.clear();
        self.room.x.extend(self.group.constants.iter().map(|&value| Row::constant(value)));
        self.room.out.resize(plan.output_count(), Row::constant(0.0));
        self.room.scratch.resize(plan.room(), Row::constant(0.0));
        self.room.sums.resize(self.group.sum.as_ref().map_or(0, |sum| sum.outputs()), Row::constant(0.0));
        let contents = self.group.results.len() * (1 + self.group.also.len());
        self.room.contents.resize(contents, Row::constant(0.0));
        let contributions = self.group.contributions.as_deref().filter(|_| !self.targets.spreads.is_empty());
        let mut carrying = None;
        if let Some(contributions) = contributions {
            let name = core::ptr::from_ref(contributions).addr();
            carrying = match self.room.carrying.take() {
                Some((held, carrying)) if held == name => Some((name, carrying)),
                _ => Some((name, contributions.room(plan))),
            };
            self.room.u = plan.own_u();
            self.room.variances.resize(contributions.results(), Row::constant(0.0));
            let pairs = if self.targets.spreads.len() > self.group.results.len() { contributions.pairs() } else { 0 };
            self.room.covariance.resize(pairs, Row::constant(0.0));
        }
        for rows in self.rows.chunks(WIDTH) {
            let whole = rows.len() == WIDTH && rows[WIDTH - 1] as usize - rows[0] as usize == WIDTH - 1;
            for binding in &self.group.bindings {
                let slot = &mut self.room.x[binding.input];
                self.cells.lanes(binding.field, self.first, rows, whole, slot);
                if let (true, Some(u)) = (contributions.is_some(), self.room.u.get_mut(binding.input)) {
                    let field = &self.fields[binding.field];
                    self.cells.u_lanes(field, binding.field, self.first, rows, slot, u);
                }
            }
            let room = &mut *self.room;
            let Room { x, out, scratch, sums, contents, .. } = room;
            let bad = set.run_lanes(Prepare { plan, x: &x[..inputs], out, scratch })?;
            let guarded = set.run_lanes(Solve { plan, x: &x[..inputs], out, scratch })?;
            let trouble = set.run_lanes(Finish { group: self.group, x, out, scratch, sums, contents })?;
            let trouble = trouble.or(bad).or(guarded);
            if trouble.any() {
                let lanes = rows.iter().enumerate().filter(|(place, _)| trouble.lane(*place));
                self.guarded.extend(lanes.map(|(_, &row)| row));
            }
            for (target, content) in self.targets.contents.iter_mut().chain(&mut *self.targets.also).zip(&room.contents)
            {
                store(target, rows, whole, *content);
            }
            for (target, (output, ..)) in self.targets.fixed.iter_mut().zip(FIXED) {
                store(target, rows, whole, room.out[output]);
            }
            if let (Some(contributions), Some((_, carrying))) = (contributions, &mut carrying) {
                let covariance = Some(room.covariance.as_mut_slice()).filter(|held| !held.is_empty());
                let inputs = [&room.x[..inputs], room.u.as_slice()];
                let (scratch, variances) = (room.scratch.as_slice(), room.variances.as_mut_slice());
                set.run_lanes(Spreads { contributions, plan, inputs, scratch, carrying, variances, covariance })?;
                self.group.store_spreads(self.targets.spreads, rows, whole, &room.variances, &room.covariance);
            }
            if self.group.sum.is_some() {
                for (target, place) in self.targets.totals.iter_mut().zip([TOTAL, ABOVE_CEILING, EXPECTED_LOSS]) {
                    if let Some(target) = target {
                        store(target, rows, whole, written(room.sums[place]));
                    }
                }
            }
        }
        self.room.carrying = carrying;
        Ok(())
    }
}

impl Group {
    /// Standard uncertainties and covariances to their columns: those of results that were not measured are left.
    #[inline(always)]
    fn store_spreads(
        &self,
        targets: &mut [&mut [f64]],
        rows: &[u32],
        whole: bool,
        variances: &[Row],
        covariance: &[Row],
    ) {
        let (of_u, of_pairs) = targets.split_at_mut(self.results.len());
        for (target, spread) in of_u.iter_mut().zip(&self.spreads) {
            if let Some(place) = spread {
                store(target, rows, whole, written(variances[*place].sqrt()));
            }
        }
        for (target, pair) in of_pairs.iter_mut().zip(&self.pairs) {
            if let Some(pair) = pair {
                store(target, rows, whole, written(written(covariance[*pair])));
            }
        }
    }
}

/// g/g in per cent.
#[inline(always)]
fn written(fraction: Row) -> Row {
    let mut lanes = fraction;
    for lane in &mut lanes.0 {
        *lane = Unit::Percent.written(*lane);
    }
    lanes
}

#[inline(always)]
fn store(target: &mut [f64], rows: &[u32], whole: bool, values: Row) {
    if whole {
        let start = rows[0] as usize;
        target[start..start + WIDTH].copy_from_slice(&values.0);
    } else {
        for (&row, &value) in rows.iter().zip(&values.0) {
            target[row as usize] = value;
        }
    }
}
