//! Some hundred rows at a time between the columns of a table and the lanes of the loop over rows.
//!
//! Column by column, so that each is read and written in long runs: with fifty columns at once, a few rows of each, a processor
//! loses track of what comes next.

use crate::batch::cells::Load;
use crate::batch::outline::Bounds;
use crate::numeric::Level;
use crate::numeric::memory::{copy_past_caches, fetch_ahead, settle};
use crate::scalar::{LaneMask, Lanes, Mask, Scalar};

/// Rows of a tile: enough for long runs, few enough for the columns of all to stay in the second cache.
const ROWS: usize = 512;

/// Numbers of some rows, column by column.
#[derive(Debug, Default)]
pub(crate) struct Tile<const W: usize> {
    numbers: Vec<Lanes<W>>,
}

impl<const W: usize> Tile<W> {
    /// Lanes that a column of a tile fills.
    pub(crate) const BLOCKS: usize = ROWS / W;
    /// From one column to the next: one more, so that the same rows of all columns do not crowd one set of a cache.
    const STRIDE: usize = Self::BLOCKS + 1;

    /// Makes room for so many columns; what they hold is left.
    pub(crate) fn resize(&mut self, columns: usize) {
        self.numbers.resize(columns * Self::STRIDE, Lanes([0.0; W]));
    }

    /// The place of some rows in a column.
    #[inline(always)]
    pub(crate) fn at(&mut self, column: usize, block: usize) -> &mut Lanes<W> {
        &mut self.numbers[column * Self::STRIDE + block]
    }

    #[inline(always)]
    fn column(&self, place: usize) -> &[Lanes<W>] {
        &self.numbers[place * Self::STRIDE..][..Self::BLOCKS]
    }
}

/// The tiles of the rows of a group.
pub(crate) fn tiles(rows: &[u32]) -> impl Iterator<Item = Rows<'_>> {
    rows.chunks(ROWS).map(|listed| {
        let whole =
            listed.last().zip(listed.first()).is_some_and(|(last, first)| (last - first) as usize == listed.len() - 1);
        Rows { listed, whole }
    })
}

/// Which rows of a table stand in a tile.
#[derive(Clone, Copy)]
pub(crate) struct Rows<'a> {
    /// Counted from the first of the chunk.
    pub(crate) listed: &'a [u32],
    /// One after another.
    whole: bool,
}

impl Rows<'_> {
    /// Those of a block of rows whose truth value is true.
    #[inline(always)]
    pub(crate) fn keep<const W: usize>(self, block: usize, mask: LaneMask<W>, kept: &mut Vec<u32>) {
        if mask.any() {
            let of_block = self.listed[block * W..].iter().take(W).enumerate();
            kept.extend(of_block.filter(|(lane, _)| mask.lane(*lane)).map(|(_, &row)| row));
        }
    }
}

/// The rows that follow a block of these a tile later, brought near while this one is computed.
pub(crate) fn ahead<const W: usize>(rows: Rows<'_>, block: usize, loads: &[Load<'_>]) {
    /// Numbers that come together from memory.
    const LINE: usize = 8;
    let (Some(&first), true) = (rows.listed.first(), rows.whole) else { return };
    let start = first as usize + ROWS + block * W;
    for load in loads {
        for place in (start..start + W).step_by(LINE) {
            fetch_ahead(load.values, place);
        }
    }
}

/// Numbers from columns in the units inside, with whether they are where they should be.
pub(crate) struct Gather<'a, 't, L, const W: usize> {
    pub(crate) level: L,
    pub(crate) loads: &'a [Load<'t>],
    pub(crate) rows: Rows<'a>,
    pub(crate) tile: &'a mut Tile<W>,
    /// For each block of rows.
    pub(crate) inside: &'a mut Vec<LaneMask<W>>,
}

impl<L: Level<W>, const W: usize> pulp::NullaryFnOnce for Gather<'_, '_, L, W> {
    type Output = ();
    #[inline(always)]
    fn call(self) {
        let Self { level, loads, rows, tile, inside } = self;
        let blocks = rows.listed.len().div_ceil(W);
        inside.clear();
        inside.resize(blocks, LaneMask::splat(true));
        for (column, load) in tile.numbers.chunks_exact_mut(Tile::<W>::STRIDE).zip(loads) {
            let column = &mut column[..blocks];
            fetch(rows, load.values, column);
            load.convert(column);
            if let Some(bounds) = &load.bounds
                && (blocks == 1 || !all_inside(level, column, bounds))
            {
                for (inside, numbers) in inside.iter_mut().zip(&*column) {
                    *inside = inside.and(bounds.hold(*numbers));
                }
            }
        }
    }
}

/// The extremes of numbers, lane by lane; their sum tells of what is no number.
pub(crate) struct Extremes<L: Level<W>, const W: usize> {
    level: L,
    least: L::Held,
    most: L::Held,
    sum: L::Held,
}

impl<L: Level<W>, const W: usize> Extremes<L, W> {
    #[inline(always)]
    pub(crate) fn new(level: L, first: &Lanes<W>) -> Self {
        let first = level.load(first);
        Self { level, least: first, most: first, sum: level.constant(0.0) }
    }

    #[inline(always)]
    pub(crate) fn see(&mut self, numbers: &Lanes<W>) {
        let numbers = self.level.load(numbers);
        self.least = self.level.lesser(numbers, self.least);
        self.most = self.level.greater(numbers, self.most);
        self.sum = self.level.add(self.sum, numbers);
    }

    /// Where all were within bounds.
    #[inline(always)]
    pub(crate) fn within(&self, bounds: &Bounds) -> LaneMask<W> {
        let [mut least, mut most, mut sum] = [Lanes([0.0; W]); 3];
        self.level.store(self.least, &mut least);
        self.level.store(self.most, &mut most);
        self.level.store(self.sum, &mut sum);
        bounds.hold(least).and(bounds.hold(most)).and(sum.lt(Lanes([f64::INFINITY; W])))
    }
}

#[inline(always)]
fn all_inside<L: Level<W>, const W: usize>(level: L, column: &[Lanes<W>], bounds: &Bounds) -> bool {
    let Some(first) = column.first() else { return true };
    let mut extremes = Extremes::new(level, first);
    for numbers in column {
        extremes.see(numbers);
    }
    !extremes.within(bounds).not().any()
}

/// Lanes past the last row repeat it.
#[inline(always)]
fn fetch<const W: usize>(rows: Rows<'_>, values: &[f64], column: &mut [Lanes<W>]) {
    let Some(last) = rows.listed.last() else { return };
    if rows.whole {
        let values = &values[rows.listed[0] as usize..=*last as usize];
        let (whole, rest) = values.as_chunks::<W>();
        for (numbers, values) in column.iter_mut().zip(whole) {
            numbers.0 = *values;
        }
        if let ([.., numbers], [.., end]) = (&mut *column, rest) {
            numbers.0 = [*end; W];
            numbers.0[..rest.len()].copy_from_slice(rest);
        }
    } else {
        for (numbers, listed) in column.iter_mut().zip(rows.listed.chunks(W)) {
            for (lane, value) in numbers.0.iter_mut().enumerate() {
                *value = values[*listed.get(lane).unwrap_or(last) as usize];
            }
        }
    }
}

/// Columns of a tile to the columns of results in the same places.
pub(crate) struct Scatter<'a, 'b, const W: usize> {
    pub(crate) rows: Rows<'a>,
    pub(crate) tile: &'a Tile<W>,
    /// Those that hold results.
    pub(crate) places: &'a [usize],
    pub(crate) columns: &'a mut [&'b mut [f64]],
    /// The results are large: nobody reads them while the caches hold them.
    pub(crate) large: bool,
}

impl<const W: usize> pulp::NullaryFnOnce for Scatter<'_, '_, W> {
    type Output = ();
    #[inline(always)]
    fn call(self) {
        let Self { rows, tile, places, columns, large } = self;
        let Some((&first, count)) = rows.listed.first().zip(Some(rows.listed.len())) else { return };
        for &place in places {
            let (numbers, column) = (tile.column(place), &mut *columns[place]);
            if !rows.whole {
                for (&row, &number) in rows.listed.iter().zip(numbers.iter().flat_map(|lanes| &lanes.0)) {
                    column[row as usize] = number;
                }
                continue;
            }
            let column = &mut column[first as usize..first as usize + count];
            if large {
                copy_past_caches(numbers, column);
                continue;
            }
            let (whole, rest) = column.as_chunks_mut::<W>();
            for (to, numbers) in whole.iter_mut().zip(numbers) {
                *to = numbers.0;
            }
            if let Some(numbers) = numbers.get(whole.len()) {
                rest.copy_from_slice(&numbers.0[..rest.len()]);
            }
        }
        if large {
            settle();
        }
    }
}
