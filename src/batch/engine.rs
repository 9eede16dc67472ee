//! The loop over rows: cells into lanes, the plan, results into columns.

use core::any::Any;

use crate::batch::cells::{Cells, Load};
use crate::batch::field::Field;
use crate::batch::group::Group;
use crate::batch::outline::Bounds;
use crate::batch::run::FIXED;
use crate::batch::tile::{Extremes, Gather, Scatter, Tile, ahead, tiles};
use crate::charge::{Carrying, Contributions, DILUTION, FLUX_RATIO, FUSED_FLUX_RATIO, Plan, USUAL_FLUX_RATIO};
use crate::composition::{ABOVE_CEILING, EXPECTED_LOSS, TOTAL, Unit};
use crate::error::Result;
use crate::numeric::{InstructionSet, Level, OverLanes, Registers};
use crate::scalar::{LaneMask, Lanes, Mask, Scalar};

/// Room for the rows of one group; belongs to a thread.
#[derive(Debug, Default)]
pub(crate) struct Room {
    /// [`Lists`] of the widths that were asked for.
    lists: Vec<Box<dyn Any + Send>>,
}

impl Room {
    fn lists<const W: usize>(&mut self) -> Box<Lists<W>> {
        let held = self.lists.iter().position(|lists| lists.is::<Lists<W>>());
        held.and_then(|place| self.lists.swap_remove(place).downcast().ok()).unwrap_or_default()
    }
}

/// One place for each number of a row, `W` rows side by side.
#[derive(Debug, Default)]
struct Lists<const W: usize> {
    x: Vec<Lanes<W>>,
    out: Vec<Lanes<W>>,
    scratch: Vec<Lanes<W>>,
    sums: Vec<Lanes<W>>,
    u: Vec<Lanes<W>>,
    variances: Vec<Lanes<W>>,
    covariance: Vec<Lanes<W>>,
    carrying: Option<Carried<W>>,
    /// Cells, and whether those of each block of rows are where they should be.
    cells: Tile<W>,
    inside: Vec<LaneMask<W>>,
    /// Results.
    tile: Tile<W>,
    /// The columns that a group of this number gives, of so many.
    places: Option<([usize; 2], Vec<usize>)>,
}

/// Room for the variances of a group of this number.
type Carried<const W: usize> = (usize, Carrying<Lanes<W>>);

/// Where results stand among the columns of a chunk. Behind those of the table come two that only checks read: loss above the
/// carbonate ceiling, and loss expected from what oxidises, in %.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Layout {
    /// Contents in % come first, so many.
    pub(crate) contents: usize,
    /// The total in %, where there is one; bead mass, fused flux ratio and dilution come before it.
    pub(crate) total: Option<usize>,
    /// The first content on a further basis, in %.
    pub(crate) also: usize,
    /// The first standard uncertainty, in %; then the upper triangle of covariances, in %^2.
    pub(crate) spreads: usize,
    /// So many columns in the table.
    pub(crate) columns: usize,
}

/// Rows of one group of a chunk.
pub(crate) struct Block<'a, 'b, 't> {
    pub(crate) group: &'a Group,
    pub(crate) cells: &'a Cells<'t>,
    /// The declared columns.
    pub(crate) fields: &'a [Field],
    /// What their numbers stay within, and whether they are looked at here.
    pub(crate) bounds: &'a [Bounds],
    pub(crate) screened: &'a [bool],
    /// First row of the chunk in the table.
    pub(crate) first: usize,
    /// Rows of this group, counted from there.
    pub(crate) rows: &'a [u32],
    pub(crate) room: &'a mut Room,
    pub(crate) layout: Layout,
    pub(crate) columns: &'a mut [&'b mut [f64]],
    /// Whether all results together are large.
    pub(crate) large: bool,
    /// Takes the rows that want the pivoted solution.
    pub(crate) guarded: &'a mut Vec<u32>,
    /// Takes the rows of which something may have to be said.
    pub(crate) looked: &'a mut Vec<u32>,
    /// Takes those of which it may have to be said of a cell.
    pub(crate) outside: &'a mut Vec<u32>,
    /// Takes the rows whose contents leave the ranges of the coefficients.
    pub(crate) beyond: &'a mut Vec<u32>,
}

/// The cells of a block of rows into the inputs: by whole vectors, which are read as such at once.
struct Enter<'a, 't, const W: usize> {
    loads: &'a [Load<'t>],
    tile: &'a mut Tile<W>,
    block: usize,
    x: &'a mut [Lanes<W>],
}

impl<const W: usize> pulp::NullaryFnOnce for Enter<'_, '_, W> {
    type Output = ();
    #[inline(always)]
    fn call(self) {
        for (place, load) in self.loads.iter().enumerate() {
            self.x[load.input] = *self.tile.at(place, self.block);
        }
    }
}

/// The results, in the units and on the bases of the table, and their total: into the tile they leave in.
struct Finish<'a, L, const W: usize> {
    level: L,
    group: &'a Group,
    layout: Layout,
    x: &'a [Lanes<W>],
    out: &'a mut [Lanes<W>],
    scratch: &'a [Lanes<W>],
    sums: &'a mut [Lanes<W>],
    tile: &'a mut Tile<W>,
    /// Which rows of the tile.
    block: usize,
}

/// Rows that want the pivoted solution, and rows of whose results something may have to be said.
struct Finished<M> {
    trouble: M,
    remarkable: M,
    /// Rows whose contents leave the ranges of the coefficients.
    beyond: M,
}

impl<L: Level<W>, const W: usize> pulp::NullaryFnOnce for Finish<'_, L, W> {
    type Output = Finished<LaneMask<W>>;
    #[inline(always)]
    fn call(self) -> Self::Output {
        let Self { level, group, layout, x, out, scratch, sums, tile, block } = self;
        let trouble = group.plan.finish_rows(&x[..group.plan.input_count()], out, scratch);
        let mut inside: LaneMask<W> = group.screen.ratio.hold(out[FUSED_FLUX_RATIO]);
        inside = inside.and(Bounds::of(*USUAL_FLUX_RATIO.start(), *USUAL_FLUX_RATIO.end()).hold(out[FLUX_RATIO]));
        let mut extremes = Extremes::new(level, &Lanes([0.0; W]));
        for (place, output) in group.results.iter().enumerate() {
            if let Some(output) = output {
                extremes.see(&out[*output]);
                *tile.at(place, block) = written(out[*output]);
            }
        }
        inside = inside.and(extremes.within(&Bounds::of(0.0, 1.0)));
        for (place, (output, ..)) in (layout.contents..).zip(FIXED) {
            *tile.at(place, block) = out[output];
        }
        for (basis, also) in group.also.iter().enumerate() {
            let Some([weighed, asked]) = also else { continue };
            let factor = weighed.grams(x) / asked.grams(x);
            inside = inside.and(Bounds::of(f64::MIN, f64::MAX).hold(factor));
            for (place, output) in (layout.also + basis * layout.contents..).zip(&group.results) {
                if let Some(output) = output {
                    *tile.at(place, block) = written(out[*output] * factor);
                }
            }
        }
        for (output, bounds) in &group.screen.in_glass {
            let content = out[*output];
            inside = inside.and((out[DILUTION] * bounds.low).lt(content)).and(content.lt(out[DILUTION] * bounds.high));
        }
        for line in &group.screen.counted {
            inside = inside.and(line.intensity(x).lt(Lanes([0.0; W])).not());
        }
        let (stayed, mut within) = (group.plan.stayed_rows(scratch), LaneMask::splat(true));
        for (place, bounds) in &group.screen.stayed {
            within = within.and(bounds.hold(stayed[*place]));
        }
        if let Some(sum) = &group.sum {
            sum.add_up(x, out, sums);
            if let Some(total) = &group.screen.total {
                inside = inside.and(total.hold(sums[TOTAL]));
                inside = inside.and(Lanes::constant(0.0).lt(sums[ABOVE_CEILING]).not());
            }
            if let Some(total) = layout.total {
                *tile.at(total, block) = written(sums[TOTAL]);
            }
            *tile.at(layout.columns, block) = written(sums[ABOVE_CEILING]);
            *tile.at(layout.columns + 1, block) = written(sums[EXPECTED_LOSS]);
        }
        if let Some(loss) = group.screen.loss {
            inside = inside.and(Lanes::constant(0.0).lt(x[loss]));
        }
        Finished { trouble, remarkable: inside.not(), beyond: within.not() }
    }
}

/// Their variances and covariances, from what the results left in the scratch.
struct Spreads<'a, R, const W: usize> {
    hand: R,
    contributions: &'a Contributions,
    plan: &'a Plan,
    inputs: [&'a [Lanes<W>]; 2],
    scratch: &'a [Lanes<W>],
    carrying: &'a mut Carrying<Lanes<W>>,
    variances: &'a mut [Lanes<W>],
    covariance: Option<&'a mut [Lanes<W>]>,
}

impl<R: Registers<Lanes<W>>, const W: usize> pulp::NullaryFnOnce for Spreads<'_, R, W> {
    type Output = LaneMask<W>;
    #[inline(always)]
    fn call(self) -> Self::Output {
        let Self { hand, contributions, plan, inputs, scratch, carrying, variances, covariance } = self;
        contributions.run(hand, plan, inputs, scratch, carrying, variances, covariance)
    }
}

/// Standard uncertainties and covariances into the tile they leave in: those of results that were not measured are left.
struct FinishSpreads<'a, const W: usize> {
    group: &'a Group,
    layout: Layout,
    variances: &'a [Lanes<W>],
    covariance: &'a [Lanes<W>],
    tile: &'a mut Tile<W>,
    block: usize,
}

impl<const W: usize> pulp::NullaryFnOnce for FinishSpreads<'_, W> {
    type Output = ();
    #[inline(always)]
    fn call(self) {
        let Self { group, layout, variances, covariance, tile, block } = self;
        for (place, spread) in (layout.spreads..).zip(&group.spreads) {
            if let Some(spread) = spread {
                *tile.at(place, block) = written(variances[*spread].sqrt());
            }
        }
        if covariance.is_empty() {
            return;
        }
        for (place, pair) in (layout.spreads + group.spreads.len()..).zip(&group.pairs) {
            if let Some(pair) = pair {
                *tile.at(place, block) = written(written(covariance[*pair]));
            }
        }
    }
}

impl Block<'_, '_, '_> {
    /// # Errors
    /// `word.unknown` where this processor lacks the instruction set.
    pub(crate) fn run(self, set: InstructionSet) -> Result<()> {
        // so few rows fill the lanes of the narrower set
        const FEW: usize = 8;
        let set = if self.rows.len() > FEW { set } else { set.min(InstructionSet::Avx2) };
        set.over_lanes(self)
    }

    /// The columns that this group gives.
    fn places(&self) -> Vec<usize> {
        let (group, layout) = (self.group, self.layout);
        let there = |first: usize, list: &[Option<usize>]| {
            let there = list.iter().enumerate().filter(|(_, held)| held.is_some());
            there.map(|(place, _)| first + place).collect::<Vec<_>>()
        };
        let mut places = there(0, &group.results);
        places.extend(layout.contents..layout.contents + FIXED.len());
        for (basis, _) in group.also.iter().enumerate().filter(|(_, also)| also.is_some()) {
            places.extend(there(layout.also + basis * layout.contents, &group.results));
        }
        if group.sum.is_some() {
            places.extend(layout.total);
            places.extend([layout.columns, layout.columns + 1]);
        }
        let spreads = layout.columns - layout.spreads;
        if group.contributions.is_some() && spreads > 0 {
            places.extend(there(layout.spreads, &group.spreads));
            if spreads > layout.contents {
                places.extend(there(layout.spreads + layout.contents, &group.pairs));
            }
        }
        places
    }
}

impl OverLanes for Block<'_, '_, '_> {
    type Output = ();

    fn run<const W: usize, L: Level<W>>(self, level: L) {
        let mut lists = self.room.lists::<W>();
        let Lists { x, out, scratch, sums, u, variances, covariance, carrying, cells, inside, tile, places } =
            &mut *lists;
        let (group, plan, layout, none) = (self.group, &self.group.plan, self.layout, Lanes([0.0; W]));
        let inputs = plan.input_count();
        x.clear();
        x.extend(group.constants.iter().map(|&value| Lanes([value; W])));
        out.resize(plan.output_count(), none);
        scratch.resize(plan.room(), none);
        sums.resize(group.sum.as_ref().map_or(0, |sum| sum.outputs()), none);
        let spreads = layout.columns - layout.spreads;
        let contributions = group.contributions.as_deref().filter(|_| spreads > 0);
        if let Some(contributions) = contributions {
            if carrying.as_ref().is_none_or(|(held, _)| *held != group.number) {
                *carrying = Some((group.number, contributions.room(plan)));
            }
            *u = plan.own_u();
            variances.resize(contributions.results(), none);
            covariance.resize(if spreads > layout.contents { contributions.pairs() } else { 0 }, none);
        }
        let asked = [group.number, layout.columns];
        if places.as_ref().is_none_or(|(held, _)| *held != asked) {
            *places = Some((asked, self.places()));
        }
        let places = places.as_ref().map_or(&[][..], |(_, places)| places);
        let loads = self.cells.loads(group, self.first, self.bounds, self.screened);
        cells.resize(loads.len());
        tile.resize(layout.columns + 2);
        for rows in tiles(self.rows) {
            level.run(Gather { level, loads: &loads, rows, tile: cells, inside });
            for (block, inside) in inside.iter().enumerate() {
                ahead::<W>(rows, block, &loads);
                level.run(Enter { loads: &loads, tile: cells, block, x });
                let row = &x[..inputs];
                let guarded = plan.solve_rows(level, row, out, scratch);
                let Finished { trouble, remarkable, beyond } =
                    level.run(Finish { level, group, layout, x, out, scratch, sums, tile, block });
                rows.keep(block, trouble.or(guarded), self.guarded);
                rows.keep(block, inside.not().or(remarkable), self.looked);
                rows.keep(block, inside.not(), self.outside);
                rows.keep(block, beyond, self.beyond);
                if let (Some(contributions), Some((_, carrying))) = (contributions, carrying.as_mut()) {
                    let listed = &rows.listed[block * W..];
                    for binding in &group.bindings {
                        if let Some(u) = u.get_mut(binding.input) {
                            let field = &self.fields[binding.field];
                            self.cells.u_lanes(field, binding.field, self.first, listed, &x[binding.input], u);
                        }
                    }
                    let pairs = Some(covariance.as_mut_slice()).filter(|held| !held.is_empty());
                    level.run(Spreads {
                        hand: level,
                        contributions,
                        plan,
                        inputs: [&x[..inputs], u.as_slice()],
                        scratch,
                        carrying,
                        variances,
                        covariance: pairs,
                    });
                    level.run(FinishSpreads { group, layout, variances, covariance, tile, block });
                }
            }
            level.run(Scatter { rows, tile, places, columns: &mut *self.columns, large: self.large });
        }
        self.room.lists.push(lists);
    }
}

/// g/g in per cent.
#[inline(always)]
fn written<const W: usize>(fraction: Lanes<W>) -> Lanes<W> {
    let mut lanes = fraction;
    for lane in &mut lanes.0 {
        *lane = Unit::Percent.written(*lane);
    }
    lanes
}
