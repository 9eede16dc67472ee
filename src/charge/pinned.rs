//! Derivatives of a bead's results through the solution of its equation, without differentiating the elimination.
//!
//! With the solution held where it is, the residuals of overlaps and equation are differentiated by every input; the
//! derivatives of the solution follow from the system's own matrix. Residual i depends on the counts of its own line only,
//! so all lines share their directions.

use std::borrow::Cow;

use crate::charge::kernel::{FIXED, FUSED_FLUX_RATIO, Kernel};
use crate::charge::lines::{Lines, Solved};
use crate::error::Result;
use crate::matrix::equation::Given;
use crate::numeric::{InstructionSet, inverse};
use crate::scalar::Scalar;
use crate::uncertainty::{Directions, Model, linearise_wide};

/// Residuals and results with the solution held: overlaps, rows of the equation, fixed outputs, results.
struct Pinned<'a> {
    kernel: &'a Kernel,
    lines: &'a Lines,
    at: &'a Solved,
    directions: &'a Directions,
    /// How many analytes are results.
    results: usize,
}

impl Pinned<'_> {
    fn residuals(&self) -> usize {
        self.lines.equation.network.members.len() + self.lines.equation.rows.len()
    }
}

impl Model for Pinned<'_> {
    fn outputs(&self) -> usize {
        self.residuals() + FIXED + self.results
    }
    fn scratch(&self) -> usize {
        self.kernel.books_scratch() + self.lines.present.len() + self.lines.equation.analytes()
    }
    #[inline(always)]
    fn evaluate<S: Scalar>(&self, x: &[S], outputs: &mut [S], scratch: &mut [S]) {
        let (equation, at) = (&self.lines.equation, self.at);
        let (residuals, out) = outputs.split_at_mut(self.residuals());
        let (of_overlaps, of_rows) = residuals.split_at_mut(equation.network.members.len());
        let (of_books, rest) = scratch.split_at_mut(self.kernel.books_scratch());
        let (known, brought) = rest.split_at_mut(self.lines.present.len());
        let mut books = self.kernel.books(of_books);
        self.kernel.melt(x, &mut books, out);
        self.kernel.given(self.lines, x, &books, known, brought);
        let given = Given::new(equation, out[FUSED_FLUX_RATIO], known, brought);
        for (residual, &line) in of_overlaps.iter_mut().zip(&equation.network.members) {
            *residual = equation.lines[line].intensity(x) - S::constant(at.intensities[line]);
        }
        for &(on, from, factor) in &equation.network.factors {
            of_overlaps[on] = of_overlaps[on] - x[factor] * at.intensities[equation.network.members[from]];
        }
        let n = equation.analytes();
        let factor = if equation.standard.is_some() { at.solution[n] } else { 1.0 };
        for (row, (residual, term)) in of_rows.iter_mut().zip(&equation.rows).enumerate() {
            let intensity = if equation.network.members.contains(&term.line) {
                S::constant(at.intensities[term.line])
            } else {
                equation.lines[term.line].intensity(x)
            };
            let strength = equation.strength(x, intensity, term);
            let strength = if term.follows { strength * factor } else { strength };
            let mut bracket =
                equation.fixed_part(x, &given, row) + S::constant(equation.certain_part(&at.solution, row));
            for uncertain in &equation.uncertain {
                if let (true, Some(column)) = (uncertain.row == row, uncertain.column) {
                    bracket = bracket + x[uncertain.input] * at.solution[column];
                }
            }
            *residual = if row < n {
                strength * bracket - given.brought[row] - S::constant(at.solution[row])
            } else {
                (given.known[equation.standard.unwrap_or(0)] - strength * bracket) / at.unit(equation, row)
            };
        }
        let results = &mut out[FIXED..];
        for (result, &amount) in results.iter_mut().zip(&at.solution) {
            *result = S::constant(amount);
        }
        self.kernel.finish(x, results);
    }
    fn directions(&self, _: usize) -> Cow<'_, Directions> {
        Cow::Borrowed(self.directions)
    }
}

/// Values and derivatives of all outputs, output by input, row by row.
///
/// # Errors
/// `matrix.singular` where the system at the solution cannot be inverted.
pub(crate) fn differentiate(
    kernel: &Kernel,
    lines: &Lines,
    at: &Solved,
    directions: &Directions,
    x: &[f64],
    results: usize,
    set: InstructionSet,
) -> Result<(Vec<f64>, Vec<f64>)> {
    let pinned = Pinned { kernel, lines, at, directions, results };
    let (values, jacobian) = linearise_wide(&pinned, x, set)?;
    let equation = &lines.equation;
    let (members, rows, n) = (equation.network.members.len(), equation.rows.len(), equation.analytes());
    let inputs = x.len();
    let (of_overlaps, rest) = jacobian.split_at(members * inputs);
    let (of_rows, of_outputs) = rest.split_at(rows * inputs);
    let mut right = of_rows.to_vec();
    if members > 0 {
        let separated = inverse(&at.overlaps, members)?;
        for (row, term) in equation.rows.iter().enumerate() {
            let Some(member) = equation.network.members.iter().position(|&line| line == term.line) else { continue };
            let factor = at.factor(equation, row);
            let sign = if row < n { 1.0 } else { -1.0 };
            let own = x[term.sensitivity] * term.scale / at.unit(equation, row);
            let slope = sign * factor * own * (at.fixed[row] + at.solved[row]);
            for (from, part) in of_overlaps.chunks_exact(inputs).enumerate() {
                let weight = slope * separated[member * members + from];
                add(&mut right[row * inputs..(row + 1) * inputs], part, weight);
            }
        }
    }
    let solving = inverse(&at.matrix, rows)?;
    let mut outputs = of_outputs.to_vec();
    // how far a result moves with the amount it follows from
    let mut slopes = vec![1.0; results];
    kernel.finish(x, &mut slopes);
    for (analyte, slope) in slopes.into_iter().enumerate() {
        let output = &mut outputs[(FIXED + analyte) * inputs..(FIXED + analyte + 1) * inputs];
        for (row, part) in right.chunks_exact(inputs).enumerate() {
            add(output, part, slope * solving[analyte * rows + row]);
        }
    }
    Ok((values[members + rows..].to_vec(), outputs))
}

/// `to += part * weight`, entry by entry.
fn add(to: &mut [f64], part: &[f64], weight: f64) {
    for (to, part) in to.iter_mut().zip(part) {
        *to += part * weight;
    }
}

/// The directions of the inputs: those of one line or row move its own residuals only.
pub(crate) fn directions(lines: &Lines, inputs: usize, of_charge: usize) -> Directions {
    let equation = &lines.equation;
    let members = equation.network.members.len();
    let first_row = members;
    let mut moved: Vec<Option<Vec<usize>>> = vec![None; inputs];
    let mut move_with = |input: usize, outputs: &[usize]| {
        let held = moved[input].get_or_insert_default();
        outputs.iter().for_each(|output| {
            if !held.contains(output) {
                held.push(*output);
            }
        });
    };
    for (place, line) in equation.lines.iter().enumerate() {
        let residuals: Vec<usize> = match equation.network.members.iter().position(|&member| member == place) {
            Some(member) => vec![member],
            None => {
                let on_it = equation.rows.iter().enumerate().filter(|(_, row)| row.line == place);
                on_it.map(|(row, _)| first_row + row).collect()
            }
        };
        for input in line.own_inputs() {
            move_with(input, &residuals);
        }
    }
    for &(on, _, factor) in &equation.network.factors {
        move_with(factor, &[on]);
    }
    for (row, term) in equation.rows.iter().enumerate() {
        move_with(term.sensitivity, &[first_row + row]);
        if let Some(offset) = term.offset {
            move_with(offset, &[first_row + row]);
        }
    }
    for term in &equation.uncertain {
        move_with(term.input, &[first_row + term.row]);
    }
    // inputs that the charge uses too move more than their rows
    let own = moved.into_iter().enumerate().filter(|(input, _)| *input >= of_charge);
    let members: Vec<(usize, Vec<usize>)> = own.filter_map(|(input, moved)| Some((input, moved?))).collect();
    Directions::sharing(inputs, &members)
}
