//! Evaluation (a) in a charge: the books say what flux and additions bring per gram of sample, the equation of the
//! intensities what stayed of the sample beside it.

use crate::charge::kernel::{Atoms, Books, FIXED, FUSED_FLUX_RATIO, Input, Kept, Kernel, Place};
use crate::matrix::equation::{Equation, Given, LineTerm, Room};
use crate::numeric::{Plain, Registers, eliminate, solve};
use crate::scalar::{Mask, Scalar};
use crate::substance::sum_of_weights;

/// What is there of a component beside the amount solved for.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct PresentTerm {
    pub(crate) element: Place,
    pub(crate) atoms: Atoms,
    /// Atoms of the element per formula of the component.
    pub(crate) count: f64,
    /// Stated content of the sample, and how much of it stays.
    pub(crate) declared: Option<(Input, Kept)>,
    /// Taken from the sample's own composition.
    pub(crate) from_sample: bool,
}

impl PresentTerm {
    /// What stays of its stated content, g per g sample.
    #[inline(always)]
    pub(crate) fn declared<S: Scalar>(&self, x: &[S]) -> Option<S> {
        match self.declared {
            None | Some((_, Kept::Nothing)) => None,
            Some((content, Kept::All)) => Some(x[content]),
            Some((content, Kept::Share(share))) => Some(x[content] * x[share]),
        }
    }
}

/// The compiled intensities of one charge.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Lines {
    pub(crate) equation: Equation,
    /// In the order of the equation's present components.
    pub(crate) present: Vec<PresentTerm>,
    /// The elements that the components stand for.
    pub(crate) elements: Vec<Place>,
}

impl Lines {
    /// The inputs that belong to lines and rows: all that the equation reads beside what the charge says.
    pub(crate) fn own_inputs(&self) -> Vec<Input> {
        let equation = &self.equation;
        let of_lines = equation.lines.iter().flat_map(LineTerm::inputs);
        let of_rows = equation.rows.iter().flat_map(|row| core::iter::once(row.sensitivity).chain(row.offset));
        let factors = equation.network.factors.iter().map(|&(_, _, factor)| factor);
        of_lines.chain(of_rows).chain(factors).chain(equation.uncertain.iter().map(|term| term.input)).collect()
    }

    pub(crate) fn scratch(&self) -> usize {
        self.present.len() + self.equation.analytes() + self.equation.scratch()
    }
}

/// A solved bead in plain numbers, to be looked into or differentiated.
#[derive(Debug, Clone)]
pub(crate) struct Solved {
    pub(crate) intensities: Vec<f64>,
    pub(crate) strengths: Vec<f64>,
    pub(crate) fixed: Vec<f64>,
    /// What the amounts solved for add to each bracket.
    pub(crate) solved: Vec<f64>,
    pub(crate) known: Vec<f64>,
    pub(crate) brought: Vec<f64>,
    /// Amounts, and the factor of an internal standard.
    pub(crate) solution: Vec<f64>,
    /// The matrix of the system at the solution, row by row.
    pub(crate) matrix: Vec<f64>,
    pub(crate) overlaps: Vec<f64>,
    pub(crate) fused_flux_ratio: f64,
    /// Smallest pivot of the elimination, and the row it stands in.
    pub(crate) pivot: (f64, usize),
    /// True where the elimination wanted exchanged rows and the pivoted solution stands in its place.
    pub(crate) exchanged: bool,
    /// False where masses or a basis leave nothing to refer to.
    pub(crate) sound: bool,
}

/// A solved bead in numbers of any type: what its results are differentiated at.
#[derive(Clone, Copy)]
pub(crate) struct Held<'a, S> {
    pub(crate) known: &'a [S],
    pub(crate) intensities: &'a [S],
    pub(crate) strengths: &'a [S],
    pub(crate) fixed: &'a [S],
    pub(crate) solution: &'a [S],
    /// The system as [`eliminate`] left it, or as it was, and what may follow it.
    pub(crate) matrix: &'a [S],
}

impl Lines {
    /// What a run of the kernel leaves in its scratch.
    #[inline(always)]
    pub(crate) fn held<'a, S>(&self, kernel: &Kernel, scratch: &'a [S]) -> Held<'a, S> {
        let rows = self.equation.unknowns();
        let (known, rest) = scratch[kernel.books_scratch()..].split_at(self.present.len());
        let (intensities, rest) = rest[self.equation.analytes()..].split_at(self.equation.lines.len());
        let (strengths, rest) = rest.split_at(rows);
        let (fixed, rest) = rest.split_at(rows);
        let (solution, matrix) = rest.split_at(rows);
        Held { known, intensities, strengths, fixed, solution, matrix }
    }
}

/// The room of a run between the books and the results.
pub(crate) struct Rows<'a, S> {
    pub(crate) brought: &'a [S],
    pub(crate) strengths: &'a [S],
    pub(crate) fixed: &'a [S],
    pub(crate) solution: &'a mut [S],
    pub(crate) matrix: &'a mut [S],
}

impl Lines {
    /// What the first third of a run leaves in its scratch, for the second.
    #[inline(always)]
    pub(crate) fn room<'a, S: Scalar>(&self, kernel: &Kernel, scratch: &'a mut [S]) -> Rows<'a, S> {
        let rest = &mut scratch[kernel.books_scratch() + self.present.len()..];
        let (brought, rest) = rest.split_at_mut(self.equation.analytes());
        let Room { strengths, fixed, solution, matrix, .. } = self.equation.room(rest);
        Rows { brought, strengths, fixed, solution, matrix }
    }
}

/// Why a bead has no solution.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) enum Failure {
    /// The smallest pivot and its row.
    Singular { pivot: f64, row: usize },
    /// An internal standard that is not there, or was not seen.
    NoStandard { amount: f64, strength: f64 },
}

impl Solved {
    /// The same view of a bead that was solved alone; its matrix is not eliminated.
    pub(crate) fn held(&self) -> Held<'_, f64> {
        Held {
            known: &self.known,
            intensities: &self.intensities,
            strengths: &self.strengths,
            fixed: &self.fixed,
            solution: &self.solution,
            matrix: &self.matrix,
        }
    }

    /// What an internal standard says of geometry for a row: one for a row that does not follow it.
    pub(crate) fn factor(&self, equation: &Equation, row: usize) -> f64 {
        if equation.rows[row].follows { self.solution[equation.analytes()] } else { 1.0 }
    }

    /// What the residual of a row is counted in: one, or the amount of the internal standard for its own row.
    pub(crate) fn unit(&self, equation: &Equation, row: usize) -> f64 {
        match equation.standard {
            Some(place) if row == equation.analytes() => self.known[place],
            _ => 1.0,
        }
    }
}

/// Ten times the mass of the sample: no oxide of anything is that much, so a system that gives more is singular but for
/// rounding, g per g sample.
const LARGEST: f64 = 10.0;

impl Kernel {
    /// Moles of an element that the additions leave in the melt, by their formulas and as blanks.
    #[inline(always)]
    pub(crate) fn retained<S: Scalar>(&self, x: &[S], element: Place) -> S {
        let mut sum = S::constant(0.0);
        for addition in &self.additions {
            for (portion, &(place, count)) in addition.portions.iter().zip(&addition.atoms) {
                if place == element {
                    let moles = addition.moles(x, self) * count;
                    sum = match portion.kept {
                        Kept::All => sum + moles,
                        Kept::Nothing => sum,
                        Kept::Share(share) => sum + moles * x[share],
                    };
                }
            }
            for blank in addition.blanks.iter().filter(|blank| blank.element == element) {
                let moles = addition.blank_moles(x, self, blank);
                for &(place, count) in &blank.atoms {
                    if place == element {
                        sum = sum + moles * count;
                    }
                }
            }
        }
        sum
    }

    /// Moles of an element that gases take out of the melt with them.
    #[inline(always)]
    fn taken<S: Scalar>(&self, books: &Books<'_, S>, element: Place) -> S {
        let mut sum = S::constant(0.0);
        for (gas, &left) in self.gases.iter().zip(books.left.iter()) {
            for &(carrier, count) in &gas.carriers {
                if carrier == element {
                    sum = sum + left * count;
                }
            }
        }
        sum
    }

    /// What is known of a component beside what is solved for, g per g sample.
    #[inline(always)]
    pub(crate) fn known<S: Scalar>(&self, x: &[S], books: &Books<'_, S>, term: &PresentTerm) -> S {
        let weights = &x[self.weights.clone()];
        let mut moles = self.retained(x, term.element) - self.taken(books, term.element);
        if term.from_sample {
            moles = moles + self.stayed(books, term.element);
        }
        let known = moles * sum_of_weights(&term.atoms, weights) / term.count / x[self.sample_mass];
        match term.declared(x) {
            Some(declared) => known + declared,
            None => known,
        }
    }

    /// What the charge says for the equation: amounts known of components, and what was brought of analytes.
    #[inline(always)]
    pub(crate) fn given<S: Scalar>(
        &self,
        lines: &Lines,
        x: &[S],
        books: &Books<'_, S>,
        known: &mut [S],
        brought: &mut [S],
    ) {
        let m_s = x[self.sample_mass];
        for (known, term) in known.iter_mut().zip(&lines.present) {
            *known = self.known(x, books, term);
        }
        for (brought, reading) in brought.iter_mut().zip(&self.readings) {
            *brought = self.brought(x, books, m_s, reading);
        }
    }

    /// The whole slice from intensities. Trouble is true where nothing is left to divide by or the elimination wants
    /// exchanged rows.
    #[inline(always)]
    pub(crate) fn run_lines<S: Scalar>(&self, lines: &Lines, x: &[S], out: &mut [S], scratch: &mut [S]) -> S::Mask {
        let bad = self.prepare_lines(lines, x, out, scratch);
        let guarded = self.solve_lines(Plain, lines, x, out, scratch);
        bad.or(guarded).or(self.finish_lines(lines, x, out, scratch))
    }

    /// Its first third: the books, what they say for the equation, and the intensities.
    #[inline(always)]
    pub(crate) fn prepare_lines<S: Scalar>(&self, lines: &Lines, x: &[S], out: &mut [S], scratch: &mut [S]) -> S::Mask {
        let (of_books, rest) = scratch.split_at_mut(self.books_scratch());
        let mut books = self.books(of_books);
        let bad = self.melt(x, &mut books, out);
        let (known, rest) = rest.split_at_mut(lines.present.len());
        let (brought, rest) = rest.split_at_mut(lines.equation.analytes());
        self.given(lines, x, &books, known, brought);
        let given = Given::new(&lines.equation, out[FUSED_FLUX_RATIO], known, brought);
        bad.or(lines.equation.prepare(x, &given, &mut lines.equation.room(rest)))
    }

    /// Its second third: the equation.
    #[inline(always)]
    pub(crate) fn solve_lines<S: Scalar, R: Registers<S>>(
        &self,
        hand: R,
        lines: &Lines,
        x: &[S],
        out: &[S],
        scratch: &mut [S],
    ) -> S::Mask {
        let (known, rest) = scratch[self.books_scratch()..].split_at_mut(lines.present.len());
        let (brought, rest) = rest.split_at_mut(lines.equation.analytes());
        let given = Given::new(&lines.equation, out[FUSED_FLUX_RATIO], known, brought);
        lines.equation.solve(hand, x, &given, &mut lines.equation.room(rest))
    }

    /// Its last third: what stayed of the sample to the results.
    #[inline(always)]
    pub(crate) fn finish_lines<S: Scalar>(&self, lines: &Lines, x: &[S], out: &mut [S], scratch: &[S]) -> S::Mask {
        let results = &mut out[FIXED + self.glass.len()..];
        results.copy_from_slice(&lines.held(self, scratch).solution[..results.len()]);
        self.finish(x, results)
    }

    /// One bead solved in plain numbers, with exchanged rows where the elimination wants them; nothing where the system is
    /// singular, with the pivot and its row instead.
    pub(crate) fn solved(&self, lines: &Lines, x: &[f64]) -> Result<Solved, Failure> {
        let equation = &lines.equation;
        let n = equation.analytes();
        let mut scratch = vec![0.0; self.books_scratch() + lines.scratch()];
        let mut out = vec![0.0; FIXED + self.glass.len()];
        let (of_books, rest) = scratch.split_at_mut(self.books_scratch());
        let mut books = self.books(of_books);
        let bad = self.melt(x, &mut books, &mut out);
        let (known, rest) = rest.split_at_mut(lines.present.len());
        let (brought, rest) = rest.split_at_mut(n);
        self.given(lines, x, &books, known, brought);
        let given = Given::new(equation, out[FUSED_FLUX_RATIO], known, brought);
        let mut room: Room<'_, f64> = equation.room(rest);
        let mut exchanged = equation.prepare(x, &given, &mut room);
        let members = &equation.network.members;
        let mut overlaps = vec![0.0; members.len() * members.len()];
        equation.overlaps(x, &mut overlaps);
        if exchanged {
            let measured: Vec<f64> = members.iter().map(|&line| equation.lines[line].intensity(x)).collect();
            let corrected = solve(&overlaps, members.len(), &measured);
            let corrected = corrected.map_err(|_| Failure::Singular { pivot: 0.0, row: 0 })?;
            members.iter().zip(corrected).for_each(|(&line, value)| room.intensities[line] = value);
            for (row, term) in equation.rows.iter().enumerate() {
                room.strengths[row] = equation.strength(x, room.intensities[term.line], term);
            }
        }
        if let Some(place) = equation.standard {
            let (amount, strength) = (given.known[place], room.strengths[n]);
            if !(amount > 0.0 && strength > 0.0) {
                return Err(Failure::NoStandard { amount, strength });
            }
        }
        let mut pivot = (f64::INFINITY, 0);
        let mut settled = true;
        let mut matrix = Vec::new();
        for step in 0..equation.steps() {
            let factor = equation.factor(&room);
            let width = equation.system(Plain, x, &given, step > 0, &mut room);
            matrix = room.matrix[..width * width].to_vec();
            let right = room.solution[..width].to_vec();
            let guarded = eliminate(&mut room.matrix[..width * width], width, &mut room.solution[..width], 1);
            pivot = smallest((0..width).map(|row| 1.0 / room.matrix[row * (width + 1)]));
            if guarded {
                exchanged = true;
                let solution = solve(&matrix, width, &right);
                let solution = solution.map_err(|_| Failure::Singular { pivot: pivot.0, row: pivot.1 })?;
                room.solution[..width].copy_from_slice(&solution);
            }
            // the last step moves an internal standard's factor by nothing that counts
            const SETTLED: f64 = 1e-9;
            settled = width == n || (room.solution[n] - 1.0).abs() < SETTLED;
            equation.rescale(width, factor, &mut room);
        }
        if !settled {
            return Err(Failure::Singular { pivot: pivot.0, row: n });
        }
        let mut results = room.solution[..n].to_vec();
        let sound = !bad && !self.finish(x, &mut results);
        if exchanged && room.solution[..n].iter().any(|amount| amount.abs() > LARGEST) {
            return Err(Failure::Singular { pivot: pivot.0, row: pivot.1 });
        }
        let solved = (0..equation.rows.len()).map(|row| equation.solved_part(x, room.solution, row)).collect();
        Ok(Solved {
            intensities: room.intensities.to_vec(),
            strengths: room.strengths.to_vec(),
            fixed: room.fixed.to_vec(),
            solved,
            known: given.known.to_vec(),
            brought: given.brought.to_vec(),
            solution: room.solution.to_vec(),
            matrix,
            overlaps,
            fused_flux_ratio: given.fused_flux_ratio,
            pivot,
            exchanged,
            sound,
        })
    }
}

/// The smallest of the pivots and its row.
fn smallest(pivots: impl Iterator<Item = f64>) -> (f64, usize) {
    let mut least = (f64::INFINITY, 0);
    for (row, pivot) in pivots.enumerate() {
        if pivot.abs() < least.0.abs() || pivot.is_nan() {
            least = (pivot, row);
        }
    }
    least
}
