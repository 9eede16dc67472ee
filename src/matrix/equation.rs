//! The arithmetic of a bead's intensities: counts to corrected intensities, and the linear system that leads from them to
//! what stayed of the sample in the glass.
//!
//! Per gram of sample as weighed, `v_i + b_i = h c_i (F/F0 + sum_j a_ij (v_j + g_j))`: v what stayed of the sample, b what
//! flux and additions brought of the analyte, g what additions left of a component or is known of it otherwise,
//! `c_i = k_i (I_i - I_i0)`, h one, or what an internal standard says of geometry for the lines that follow it.

use crate::matrix::drift::DriftPlaces;
use crate::matrix::net::NetPlaces;
use crate::numeric::{Registers, Scaled, eliminate, eliminate_in, eliminate_scaled};
use crate::scalar::{Mask, Scalar};

/// Place of an input in the row.
pub(crate) type Input = usize;

/// A measured line: its net intensity, and the drift that is taken off it.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct LineTerm {
    pub(crate) net: NetPlaces,
    pub(crate) drift: Option<DriftPlaces>,
}

impl LineTerm {
    /// The inputs that belong to this line alone.
    pub(crate) fn own_inputs(&self) -> Vec<usize> {
        let mut own = self.net.own();
        own.extend(self.drift.iter().flat_map(DriftPlaces::own));
        own
    }

    /// All inputs it reads.
    pub(crate) fn inputs(&self) -> Vec<usize> {
        let mut inputs = self.net.inputs();
        inputs.extend(self.drift.iter().flat_map(DriftPlaces::own));
        inputs
    }

    /// The intensity as it would have been at calibration.
    #[inline(always)]
    pub(crate) fn intensity<S: Scalar>(&self, x: &[S]) -> S {
        let net = self.net.intensity(x);
        match &self.drift {
            Some(drift) => drift.correct(x, net),
            None => net,
        }
    }
}

/// Lines that overlap each other, directly or through others.
#[derive(Debug, Clone, PartialEq, Default)]
pub(crate) struct Network {
    /// Places of the lines.
    pub(crate) members: Vec<usize>,
    /// On which member, from which member, and the factor.
    pub(crate) factors: Vec<(usize, usize, Input)>,
}

/// A row of the equation: the line it is measured on, and its sensitivity.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct RowTerm {
    pub(crate) line: usize,
    pub(crate) sensitivity: Input,
    /// What carries the sensitivity over to the centroid of the coefficients.
    pub(crate) scale: f64,
    pub(crate) offset: Option<Input>,
    /// The component it is about.
    pub(crate) component: usize,
    /// Scaled by the internal standard.
    pub(crate) follows: bool,
}

/// A coefficient that is an input: its row, its component, and the analyte solved for where the component is one.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct UncertainTerm {
    pub(crate) row: usize,
    pub(crate) component: usize,
    pub(crate) column: Option<usize>,
    pub(crate) input: Input,
}

/// The compiled arithmetic: places and numbers, no names.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Equation {
    pub(crate) lines: Vec<LineTerm>,
    pub(crate) network: Network,
    /// One for each analyte; with an internal standard one more, of that.
    pub(crate) rows: Vec<RowTerm>,
    /// The place among the present components of an internal standard, whose row stands last.
    pub(crate) standard: Option<usize>,
    pub(crate) components: usize,
    /// Row by component.
    pub(crate) coefficients: Vec<f64>,
    /// Row by analyte, as they stand in the system: with the sign of its left side.
    pub(crate) system: Vec<f64>,
    pub(crate) uncertain: Vec<UncertainTerm>,
    /// Components of which something is there beside what is solved for.
    pub(crate) present: Vec<usize>,
    pub(crate) reference_ratio: f64,
}

/// What the charge says of one bead: fused flux per gram of sample, and the amounts beside those solved for.
pub(crate) struct Given<'a, S> {
    pub(crate) fused_flux_ratio: S,
    /// The same as a part of the ratio that the coefficients were made for.
    pub(crate) relative: S,
    /// For each present component, g per g sample.
    pub(crate) known: &'a [S],
    /// For each analyte, g per g sample.
    pub(crate) brought: &'a [S],
}

/// Steps of the internal standard's factor: each doubles the digits, and it starts within some ten per cent.
const STANDARD_STEPS: usize = 5;

/// Room of one solution.
pub(crate) struct Room<'a, S> {
    /// Corrected intensity of each line.
    pub(crate) intensities: &'a mut [S],
    /// Sensitivity times intensity of each row.
    pub(crate) strengths: &'a mut [S],
    /// The part of each row's bracket that is not solved for.
    pub(crate) fixed: &'a mut [S],
    pub(crate) solution: &'a mut [S],
    pub(crate) matrix: &'a mut [S],
}

impl<'a, S: Scalar> Given<'a, S> {
    #[inline(always)]
    pub(crate) fn new(equation: &Equation, fused_flux_ratio: S, known: &'a [S], brought: &'a [S]) -> Self {
        Self { fused_flux_ratio, relative: fused_flux_ratio / equation.reference_ratio, known, brought }
    }
}

impl Equation {
    pub(crate) fn analytes(&self) -> usize {
        self.rows.len() - usize::from(self.standard.is_some())
    }

    /// Unknowns of the linear system: the analytes, and the factor of the internal standard.
    pub(crate) fn unknowns(&self) -> usize {
        self.rows.len()
    }

    /// How often the linear system is solved.
    pub(crate) fn steps(&self) -> usize {
        if self.standard.is_some() { 1 + STANDARD_STEPS } else { 1 }
    }

    pub(crate) fn scratch(&self) -> usize {
        let n = self.unknowns().max(self.network.members.len());
        self.lines.len() + 3 * self.rows.len() + n * n + n
    }

    #[inline(always)]
    pub(crate) fn room<'a, S: Scalar>(&self, scratch: &'a mut [S]) -> Room<'a, S> {
        let rows = self.rows.len();
        let (intensities, rest) = scratch.split_at_mut(self.lines.len());
        let (strengths, rest) = rest.split_at_mut(rows);
        let (fixed, rest) = rest.split_at_mut(rows);
        let (solution, matrix) = rest.split_at_mut(rows);
        Room { intensities, strengths, fixed, solution, matrix }
    }

    /// Corrected intensities of all lines, overlaps taken off. The mask is true where the overlaps do not separate.
    #[inline(always)]
    fn correct<S: Scalar>(&self, x: &[S], room: &mut Room<'_, S>) -> S::Mask {
        for (intensity, line) in room.intensities.iter_mut().zip(&self.lines) {
            *intensity = line.intensity(x);
        }
        let n = self.network.members.len();
        if n == 0 {
            return S::Mask::splat(false);
        }
        let (matrix, right) = room.matrix.split_at_mut(n * n);
        self.overlaps(x, matrix);
        for (right, &line) in right.iter_mut().zip(&self.network.members) {
            *right = room.intensities[line];
        }
        let guarded = eliminate(matrix, n, &mut right[..n], 1);
        for (&right, &line) in right.iter().zip(&self.network.members) {
            room.intensities[line] = right;
        }
        guarded
    }

    /// The system of the overlaps: one on the diagonal, the factors beside it.
    #[inline(always)]
    pub(crate) fn overlaps<S: Scalar>(&self, x: &[S], matrix: &mut [S]) {
        let n = self.network.members.len();
        for (place, entry) in matrix.iter_mut().enumerate() {
            *entry = S::constant(if place / n == place % n { 1.0 } else { 0.0 });
        }
        for &(on, from, factor) in &self.network.factors {
            matrix[on * n + from] = matrix[on * n + from] + x[factor];
        }
    }

    #[inline(always)]
    pub(crate) fn strength<S: Scalar>(&self, x: &[S], intensity: S, row: &RowTerm) -> S {
        let left = match row.offset {
            Some(offset) => intensity - x[offset],
            None => intensity,
        };
        left * (x[row.sensitivity] * row.scale)
    }

    /// The part of a row's bracket that is not solved for.
    #[inline(always)]
    pub(crate) fn fixed_part<S: Scalar>(&self, x: &[S], given: &Given<'_, S>, row: usize) -> S {
        let coefficients = &self.coefficients[row * self.components..(row + 1) * self.components];
        let mut sum = given.relative;
        for (&component, &known) in self.present.iter().zip(given.known) {
            sum = sum + known * coefficients[component];
        }
        for term in &self.uncertain {
            if term.row == row {
                for (&component, &known) in self.present.iter().zip(given.known) {
                    if component == term.component {
                        sum = sum + known * x[term.input];
                    }
                }
            }
        }
        sum
    }

    /// The coefficient of a component in a row, whether it is a number or an input.
    pub(crate) fn coefficient(&self, x: &[f64], row: usize, component: usize) -> f64 {
        let uncertain = self.uncertain.iter().filter(|term| term.row == row && term.component == component);
        self.coefficients[row * self.components + component] + uncertain.map(|term| x[term.input]).sum::<f64>()
    }

    /// What the amounts solved for add to a row's bracket by the coefficients that are numbers.
    #[inline(always)]
    pub(crate) fn certain_part<S: Scalar>(&self, solution: &[S], row: usize) -> S {
        let coefficients = &self.coefficients[row * self.components..(row + 1) * self.components];
        let mut sum = S::constant(0.0);
        for (analyte, &amount) in self.rows[..self.analytes()].iter().zip(solution) {
            sum = sum + amount * coefficients[analyte.component];
        }
        sum
    }

    /// What the amounts solved for add to a row's bracket.
    #[inline(always)]
    pub(crate) fn solved_part<S: Scalar>(&self, x: &[S], solution: &[S], row: usize) -> S {
        let mut sum = self.certain_part(solution, row);
        for term in &self.uncertain {
            if let (true, Some(column)) = (term.row == row, term.column) {
                sum = sum + solution[column] * x[term.input];
            }
        }
        sum
    }

    /// Intensities, strengths, the fixed parts of the brackets and a first factor of an internal standard. The mask is true
    /// where the overlaps do not separate.
    #[inline(always)]
    pub(crate) fn prepare<S: Scalar>(&self, x: &[S], given: &Given<'_, S>, room: &mut Room<'_, S>) -> S::Mask {
        let guarded = self.correct(x, room);
        for (row, term) in self.rows.iter().enumerate() {
            room.strengths[row] = self.strength(x, room.intensities[term.line], term);
            room.fixed[row] = self.fixed_part(x, given, row);
        }
        if let Some(place) = self.standard {
            // what its line says of geometry where nothing of the sample absorbs
            let row = self.analytes();
            room.solution[row] = given.known[place] / (room.strengths[row] * room.fixed[row]);
        }
        guarded
    }

    /// The linear system at a factor of the internal standard and the amounts it was reached with: matrix and, in the
    /// solution's place, its right-hand side. Without an internal standard it is the whole equation; with one, `bordered`
    /// takes the ratio of the factor to where it stands as the last unknown, to first order. The standard's own row is in parts
    /// of its amount. Gives the number of unknowns.
    #[inline(always)]
    pub(crate) fn system<S: Scalar, R: Registers<S>>(
        &self,
        hand: R,
        x: &[S],
        given: &Given<'_, S>,
        bordered: bool,
        room: &mut Room<'_, S>,
    ) -> usize {
        let n = self.analytes();
        let width = if bordered { n + 1 } else { n };
        let factor = self.factor(room);
        let (entries, right) = room.matrix.split_at_mut(width * width);
        // loops that do one thing each: what a number is used for together is kept in vectors together
        for (row, term) in self.rows[..width].iter().enumerate() {
            right[row] = if term.follows { room.strengths[row] * factor } else { room.strengths[row] };
        }
        if let (true, Some(place)) = (bordered, self.standard) {
            right[n] = right[n] / given.known[place];
        }
        for ((entries, coefficients), strength) in
            entries.chunks_exact_mut(width).zip(self.system.chunks_exact(n)).zip(&*right)
        {
            let strength = hand.load(strength);
            for (entry, &coefficient) in entries.iter_mut().zip(coefficients) {
                hand.store(hand.mul(strength, hand.constant(coefficient)), entry);
            }
        }
        // the row of the standard itself has no amount of its own on the other side
        let sign = |row: usize| if row < n { -1.0 } else { 1.0 };
        for uncertain in &self.uncertain {
            if let (true, Some(column)) = (uncertain.row < width, uncertain.column) {
                let entry = &mut entries[uncertain.row * width + column];
                *entry = *entry + right[uncertain.row] * x[uncertain.input] * sign(uncertain.row);
            }
        }
        for row in 0..n {
            entries[row * (width + 1)] = entries[row * (width + 1)] + 1.0;
        }
        for row in 0..width {
            let strength = right[row];
            right[row] = strength * room.fixed[row] * -sign(row);
            right[row] = if row < n { right[row] - given.brought[row] } else { right[row] + 1.0 };
            if bordered {
                let moved = strength * (room.fixed[row] + self.solved_part(x, room.solution, row)) * sign(row);
                entries[row * width + n] = if self.rows[row].follows { moved } else { S::constant(0.0) };
                right[row] = right[row] + entries[row * width + n];
            }
            S::side_by_side();
        }
        room.solution[..width].copy_from_slice(&right[..width]);
        width
    }

    /// The factor of the internal standard as it stands; one without.
    #[inline(always)]
    pub(crate) fn factor<S: Scalar>(&self, room: &Room<'_, S>) -> S {
        if self.standard.is_some() { room.solution[self.analytes()] } else { S::constant(1.0) }
    }

    /// After a step that took the factor as an unknown: what was solved for is its ratio to the one before.
    #[inline(always)]
    pub(crate) fn rescale<S: Scalar>(&self, width: usize, factor: S, room: &mut Room<'_, S>) {
        if width > self.analytes() {
            room.solution[width - 1] = room.solution[width - 1] * factor;
        }
    }

    /// Whether it is linear, with coefficients that are all numbers.
    #[inline(always)]
    pub(crate) fn has_constants_alone(&self) -> bool {
        self.standard.is_none() && self.uncertain.is_empty()
    }

    /// Solves one prepared bead: what stayed of each analyte, g per g sample, then the factor of an internal standard where there
    /// is one. The mask is true where a system wants exchanged rows; the numbers then may have lost digits.
    #[inline(always)]
    pub(crate) fn solve<S: Scalar, R: Registers<S>>(
        &self,
        hand: R,
        x: &[S],
        given: &Given<'_, S>,
        room: &mut Room<'_, S>,
    ) -> S::Mask {
        if self.has_constants_alone() {
            right_sides(room.strengths, room.fixed, given.brought, room.solution);
            let scaled = Scaled { factors: room.strengths, constants: &self.system };
            return eliminate_scaled(hand, scaled, &mut room.matrix[..self.system.len()], room.solution);
        }
        let mut guarded = S::Mask::splat(false);
        for step in 0..self.steps() {
            let factor = self.factor(room);
            let width = self.system(hand, x, given, step > 0, room);
            let (matrix, right) = (&mut room.matrix[..width * width], &mut room.solution[..width]);
            guarded = guarded.or(eliminate_in(hand, matrix, width, right, 1));
            self.rescale(width, factor, room);
        }
        guarded
    }
}

/// What the amounts of an equation with constants alone are solved from.
#[inline(always)]
pub(crate) fn right_sides<S: Scalar>(strengths: &[S], fixed: &[S], brought: &[S], sides: &mut [S]) {
    for (row, side) in sides.iter_mut().enumerate() {
        *side = strengths[row] * fixed[row] - brought[row];
        S::side_by_side();
    }
}
