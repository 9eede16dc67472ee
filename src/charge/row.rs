//! One row of a table through a plan.

use crate::charge::kernel::FIXED;
use crate::charge::lines::Solved;
use crate::charge::plan::Plan;
use crate::code::Code;
use crate::error::{Error, Result};
use crate::matrix::net::NetPlaces;
use crate::scalar::{Mask, Scalar};

impl Plan {
    pub(crate) fn input_count(&self) -> usize {
        self.inputs().len()
    }

    pub(crate) fn output_count(&self) -> usize {
        self.outputs().len()
    }

    /// For each result whether flux, additions or gases have a part in what is in the glass of it.
    pub(crate) fn brings(&self) -> Vec<bool> {
        self.kernel.readings.iter().take(self.results.len()).map(|reading| reading.brought).collect()
    }

    /// After [`solve_rows`](Self::solve_rows): what stayed of the sample to the results.
    #[inline(always)]
    pub(crate) fn finish_rows<S: Scalar>(&self, x: &[S], out: &mut [S], scratch: &[S]) -> S::Mask {
        match &self.kernel.lines {
            Some(lines) => self.kernel.finish_lines(lines, x, out, scratch),
            // finished where they were read
            None => S::Mask::splat(false),
        }
    }

    /// The lines that are counted, each without a dead time that it has not `alone`.
    pub(crate) fn counted_lines(&self, alone: &[bool]) -> Vec<NetPlaces> {
        let lines = self.kernel.lines.iter().flat_map(|lines| &lines.equation.lines);
        lines.zip(alone).filter_map(|(line, &alone)| line.net.counted(alone)).collect()
    }

    /// A row looked into, with exchanged rows where its elimination wants them; nothing for a plan without lines.
    ///
    /// # Errors
    /// `matrix.singular`.
    pub(crate) fn looked_into(&self, x: &[f64]) -> Result<Option<Solved>> {
        self.kernel.lines.as_ref().map(|lines| self.solved_at(lines, x)).transpose()
    }

    /// What stayed in the glass of each result, as the coefficients write it, g per g of sample, from what the steps left in
    /// the scratch.
    #[inline(always)]
    pub(crate) fn stayed_rows<'a, S>(&self, scratch: &'a [S]) -> &'a [S] {
        match &self.kernel.lines {
            Some(lines) => lines.held(&self.kernel, scratch).solution,
            None => &[],
        }
    }

    /// The outputs of a row, by the pivoted solution where there are lines.
    ///
    /// # Errors
    /// `matrix.singular`; `basis.impossible` where masses or a basis leave nothing to refer to.
    pub(crate) fn pivoted(&self, x: &[f64]) -> Result<Vec<f64>> {
        let mut out = vec![0.0; self.output_count()];
        let bad = self.follow_one(x, &mut out, &mut vec![0.0; self.room()]);
        let solved = self.looked_into(x)?;
        if !solved.as_ref().map_or(!bad, |solved| solved.sound) {
            return Err(Error::Conflict {
                code: Code::BasisImpossible,
                detail: "Masses or losses leave nothing to refer to.".to_owned(),
                hint: "A loss of 100 % leaves nothing.".to_owned(),
            });
        }
        let Some(solved) = solved else { return Ok(out) };
        let first = FIXED + self.glass.len();
        let results = &mut out[first..first + self.results.len()];
        results.copy_from_slice(&solved.solution[..self.results.len()]);
        self.kernel.finish(x, results);
        Ok(out)
    }
}
