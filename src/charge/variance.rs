//! Variances and covariances of the results of one row, or of eight side by side, from the solution that is there already.
//!
//! With A the system as it was solved, s the slope of a result with its amount and e what moves a result directly,
//! `c_i = s_i (A^-1 g)_i + e_i` is what one source contributes; residuals moved by sources of their own alone are columns of
//! a diagonal. Covariances are sums of products of contributions, in the order of the columns.

use crate::charge::contributions::{Common, Contributions, DIRECTIONS, Item, Pass, Target};
use crate::charge::kernel::Kernel;
use crate::charge::lines::{Held, Lines};
use crate::charge::plan::{Plan, Scratch};
use crate::charge::products::{products, squares};
use crate::error::Result;
use crate::matrix::drift::DriftPlaces;
use crate::matrix::equation::Equation;
use crate::numeric::{InstructionSet, Plain, Registers, TILE, eliminate_in, inverse, substitute};
use crate::scalar::{Dual, Mask, Scalar};

type Pushed<T> = Dual<T, DIRECTIONS>;
/// Directions of a drift by one monitor: its inputs, and the intensity.
type OfLine<T> = Dual<T, 4>;
/// Inputs of a drift by one monitor, beside the intensity.
const OF_MONITOR: usize = 3;

/// Room for the variances of one row; belongs to the caller and can be used again.
#[derive(Debug, Clone)]
pub struct Carrying<T: Scalar> {
    slopes: Vec<T>,
    /// How far the residual of each row moves with its intensity.
    levels: Vec<T>,
    /// How far it moves with its bracket.
    strengths: Vec<T>,
    brackets: Vec<T>,
    /// Squared contributions of sources that move one item alone: rows, then common quantities.
    own: Vec<T>,
    /// How far each row moves with each common quantity.
    common: Vec<T>,
    overlaps: Vec<T>,
    separated: Vec<T>,
    /// How far each result moves with its amount.
    finish: Vec<T>,
    /// Right-hand sides, then contributions: rows by columns.
    right: Vec<T>,
    x: Vec<Pushed<T>>,
    results: Vec<Pushed<T>>,
    scratch: Vec<Pushed<T>>,
}

impl Contributions {
    /// Columns of right-hand sides, a whole number of tiles.
    fn columns(&self) -> usize {
        (self.whole() + self.rows).next_multiple_of(TILE)
    }

    /// How many results have variances, in the order of the plan's outputs.
    #[doc(hidden)]
    #[must_use]
    pub fn results(&self) -> usize {
        self.results
    }

    /// Covariances of results: the upper triangle with its diagonal.
    #[doc(hidden)]
    #[must_use]
    pub fn pairs(&self) -> usize {
        self.results * (self.results + 1) / 2
    }

    /// Room for rows of the plan it was made for.
    #[doc(hidden)]
    #[must_use]
    pub fn room<T: Scalar>(&self, plan: &Plan) -> Carrying<T> {
        let members = plan.kernel.lines.as_ref().map_or(0, |lines| lines.equation.network.members.len());
        let numbers = |length: usize| vec![T::constant(0.0); length];
        let duals = |length: usize| vec![Pushed::constant(0.0); length];
        Carrying {
            slopes: numbers(self.slopes()),
            levels: numbers(self.rows),
            strengths: numbers(self.rows),
            brackets: numbers(self.rows),
            own: numbers(self.rows + self.common.len()),
            common: numbers(self.rows * self.common.len()),
            overlaps: numbers(members * members),
            separated: numbers(members * members),
            finish: numbers(self.results),
            right: numbers(self.rows * self.columns()),
            x: duals(self.inputs),
            results: duals(self.results),
            scratch: duals(plan.kernel.books_scratch()),
        }
    }

    /// The variances of the results, and where asked their covariances (upper triangle row by row), of a row `x` that the
    /// plan was just run on, from what that left in its scratch. `u` is the own u of each input. The mask is true where a
    /// variance is not a finite number. Infallible; slices of other lengths are left untouched, with the mask true.
    #[inline(always)]
    #[allow(clippy::too_many_arguments, reason = "a row, its solution and where the answer goes")]
    pub(crate) fn run<T: Scalar, R: Registers<T>>(
        &self,
        hand: R,
        plan: &Plan,
        [x, u]: [&[T]; 2],
        solved: &[T],
        room: &mut Carrying<T>,
        variances: &mut [T],
        covariance: Option<&mut [T]>,
    ) -> T::Mask {
        let pairs = covariance.as_ref().map_or(self.pairs(), |held| held.len());
        if x.len() != self.inputs
            || u.len() != self.inputs
            || solved.len() != plan.room()
            || variances.len() != self.results
            || pairs != self.pairs()
        {
            return T::Mask::splat(true);
        }
        let mut guarded = T::Mask::splat(false);
        match &plan.kernel.lines {
            Some(lines) => {
                let held = lines.held(&plan.kernel, solved);
                let members = lines.equation.network.members.len();
                if members > 0 {
                    lines.equation.overlaps(x, &mut room.overlaps);
                    room.separated.fill(T::constant(0.0));
                    for entry in room.separated.iter_mut().step_by(members + 1) {
                        *entry = T::constant(1.0);
                    }
                    guarded = eliminate_in(hand, &mut room.overlaps, members, &mut room.separated, members);
                }
                self.fill(plan, lines, [x, u], &held, room);
                let system = &held.matrix[..self.rows * self.rows];
                let columns = self.columns();
                substitute(hand, system, self.rows, &mut room.right, columns, columns - self.rows);
                self.finish(hand, &plan.kernel, [x, u], room);
            }
            None => self.read_glass(plan, [x, u], room),
        }
        guarded.or(self.collect(hand, room, variances, covariance))
    }

    /// The same for one row of a plan with lines, solved with exchanged rows where the elimination wants them.
    ///
    /// # Errors
    /// `matrix.singular` where its system has no solution.
    #[doc(hidden)]
    pub fn run_exchanged(
        &self,
        plan: &Plan,
        [x, u]: [&[f64]; 2],
        room: &mut Carrying<f64>,
        variances: &mut [f64],
        covariance: Option<&mut [f64]>,
    ) -> Result<bool> {
        let Some(lines) = &plan.kernel.lines else { return Ok(true) };
        let at = &plan.solved_at(lines, x)?;
        let members = lines.equation.network.members.len();
        if members > 0 {
            room.separated.copy_from_slice(&inverse(&at.overlaps, members)?);
        }
        self.fill(plan, lines, [x, u], &at.held(), room);
        let solving = inverse(&at.matrix, self.rows)?;
        let columns = self.columns();
        let right = room.right.clone();
        for (to, factors) in room.right.chunks_exact_mut(columns).zip(solving.chunks_exact(self.rows)) {
            to.fill(0.0);
            for (&factor, line) in factors.iter().zip(right.chunks_exact(columns)) {
                to.iter_mut().zip(line).for_each(|(to, &part)| *to += factor * part);
            }
        }
        self.finish(Plain, &plan.kernel, [x, u], room);
        Ok(self.collect(Plain, room, variances, covariance))
    }

    /// The right-hand sides of a solved bead.
    #[inline(always)]
    fn fill<T: Scalar>(
        &self,
        plan: &Plan,
        lines: &Lines,
        [x, u]: [&[T]; 2],
        held: &Held<'_, T>,
        room: &mut Carrying<T>,
    ) {
        self.levels(&lines.equation, x, held, room);
        let next = self.of_equation(&lines.equation, x, held, room);
        self.of_charge(plan, x, held.solution, room, next);
        self.spread_common(&lines.equation, x, held, room);
        self.gather(u, room);
        self.set_right(u, room);
    }

    /// How far residuals move with intensities and brackets.
    #[inline(always)]
    fn levels<T: Scalar>(&self, equation: &Equation, x: &[T], held: &Held<'_, T>, room: &mut Carrying<T>) {
        let n = equation.analytes();
        for (row, term) in equation.rows.iter().enumerate() {
            let mut unit = T::constant(1.0);
            if term.follows {
                unit = unit * held.solution[n];
            }
            if let (true, Some(place)) = (row == n, equation.standard) {
                unit = -unit / held.known[place];
            }
            let bracket = held.fixed[row] + equation.solved_part(x, held.solution, row);
            room.strengths[row] = held.strengths[row] * unit;
            room.brackets[row] = bracket * unit;
            room.levels[row] = x[term.sensitivity] * term.scale * room.brackets[row];
        }
    }

    /// The derivatives by what belongs to lines and rows; gives how many there are.
    #[inline(always)]
    fn of_equation<T: Scalar>(
        &self,
        equation: &Equation,
        x: &[T],
        held: &Held<'_, T>,
        room: &mut Carrying<T>,
    ) -> usize {
        let mut next = 0;
        for line in &self.lines {
            let level = match line.of {
                Item::Row(row) => room.levels[row],
                Item::Common(_) | Item::Result(_) => T::constant(1.0),
            };
            let slopes = &mut room.slopes[next..];
            let (of_net, of_drift) = slopes.split_at_mut(line.net_inputs.len());
            next += of_net.len();
            let net = line.net.slopes(x, of_net);
            let mut through = level;
            if let Some((drift, inputs)) = &line.drift {
                next += inputs.len();
                through = drift_slopes(drift, inputs, x, net, level, &mut of_drift[..inputs.len()]);
            }
            for slope in of_net {
                *slope = through * *slope;
            }
        }
        for &row in &self.sensitivities {
            let term = &equation.rows[row];
            let left = match term.offset {
                Some(offset) => held.intensities[term.line] - x[offset],
                None => held.intensities[term.line],
            };
            room.slopes[next] = left * term.scale * room.brackets[row];
            next += 1;
        }
        for &row in &self.offsets {
            room.slopes[next] = -room.levels[row];
            next += 1;
        }
        for &place in &self.factors {
            let (_, from, _) = equation.network.factors[place];
            room.slopes[next] = -held.intensities[equation.network.members[from]];
            next += 1;
        }
        for &place in &self.coefficients {
            let term = &equation.uncertain[place];
            let mut amount = match term.column {
                Some(column) => held.solution[column],
                None => T::constant(0.0),
            };
            for (&component, &known) in equation.present.iter().zip(held.known) {
                if component == term.component {
                    amount = amount + known;
                }
            }
            room.slopes[next] = room.strengths[term.row] * amount;
            next += 1;
        }
        next
    }

    /// Writes the derivatives of the passes through the charge.
    #[inline(always)]
    fn of_charge<T: Scalar>(&self, plan: &Plan, x: &[T], amounts: &[T], room: &mut Carrying<T>, mut next: usize) {
        for &input in &self.read {
            room.x[input].re = x[input];
        }
        for pass in &self.passes {
            for &(input, direction) in &pass.inputs {
                room.x[input].eps[direction] = T::constant(1.0);
            }
            let slopes = &mut room.slopes[next..next + pass.gives.len()];
            pass_of_charge(pass, &plan.kernel, &room.x, amounts, &mut room.results, &mut room.scratch, slopes);
            next += pass.gives.len();
            for &(input, direction) in &pass.inputs {
                room.x[input].eps[direction] = T::constant(0.0);
            }
        }
    }

    /// How far each row moves with each quantity that several follow.
    #[inline(always)]
    fn spread_common<T: Scalar>(&self, equation: &Equation, x: &[T], held: &Held<'_, T>, room: &mut Carrying<T>) {
        let members = &equation.network.members;
        for (&common, moves) in self.common.iter().zip(room.common.chunks_exact_mut(self.rows.max(1))) {
            for (row, (to, term)) in moves.iter_mut().zip(&equation.rows).enumerate() {
                *to = T::constant(0.0);
                match common {
                    Common::Member(from) => {
                        for (member, &line) in members.iter().enumerate() {
                            if line == term.line {
                                *to = room.levels[row] * room.separated[member * members.len() + from];
                            }
                        }
                    }
                    Common::Line(line) => {
                        if line == term.line {
                            *to = room.levels[row];
                        }
                    }
                    Common::Ratio => *to = room.strengths[row] / equation.reference_ratio,
                    Common::Known(place) => {
                        let component = equation.present[place];
                        let mut coefficient = T::constant(equation.coefficients[row * equation.components + component]);
                        for uncertain in &equation.uncertain {
                            if uncertain.row == row && uncertain.component == component {
                                coefficient = coefficient + x[uncertain.input];
                            }
                        }
                        *to = room.strengths[row] * coefficient;
                        if row == equation.analytes() && equation.standard == Some(place) {
                            *to = *to + T::constant(1.0) / held.known[place];
                        }
                    }
                }
            }
        }
    }

    /// Adds up the squares of sources that move one item alone, and takes their root.
    #[inline(always)]
    fn gather<T: Scalar>(&self, u: &[T], room: &mut Carrying<T>) {
        for own in &mut room.own {
            *own = T::constant(0.0);
        }
        for &(place, slope, input) in &self.plain {
            let part = room.slopes[slope] * u[input];
            room.own[place] = room.own[place] + part * part;
        }
        for share in &self.owned {
            let (place, part) = (self.place(share.item), share.value(&room.slopes, u));
            room.own[place] = room.own[place] + part * part;
        }
        for own in &mut room.own {
            *own = own.sqrt();
        }
    }

    /// The right-hand sides: what several rows share, then a diagonal of what each has alone.
    #[inline(always)]
    fn set_right<T: Scalar>(&self, u: &[T], room: &mut Carrying<T>) {
        let (rows, columns) = (self.rows, self.columns());
        for entry in &mut room.right {
            *entry = T::constant(0.0);
        }
        for (column, &place) in self.gathered.iter().enumerate() {
            for row in 0..rows {
                room.right[row * columns + column] = room.common[place * rows + row] * room.own[rows + place];
            }
        }
        for (source, column) in self.sources.iter().zip(self.gathered.len()..) {
            for share in source {
                let part = share.value(&room.slopes, u);
                match share.item {
                    Item::Row(row) => {
                        let entry = &mut room.right[row * columns + column];
                        *entry = *entry + part;
                    }
                    Item::Common(place) => {
                        for row in 0..rows {
                            let entry = &mut room.right[row * columns + column];
                            *entry = *entry + room.common[place * rows + row] * part;
                        }
                    }
                    Item::Result(_) => {}
                }
            }
        }
        for row in 0..rows {
            room.right[row * columns + columns - rows + row] = room.own[row];
        }
    }

    /// From amounts to results: their slope, and what moves them directly.
    #[inline(always)]
    fn finish<T: Scalar, R: Registers<T>>(&self, hand: R, kernel: &Kernel, [x, u]: [&[T]; 2], room: &mut Carrying<T>) {
        let columns = self.columns();
        for slope in &mut room.finish {
            *slope = T::constant(1.0);
        }
        kernel.finish(x, &mut room.finish);
        for (line, slope) in room.right.chunks_exact_mut(columns.max(1)).zip(&room.finish) {
            let slope = hand.load(slope);
            for part in line {
                hand.store(hand.mul(hand.load(part), slope), part);
            }
        }
        if !self.direct {
            return;
        }
        for (source, column) in self.sources.iter().zip(self.gathered.len()..) {
            for share in source {
                if let Item::Result(result) = share.item {
                    let entry = &mut room.right[result * columns + column];
                    *entry = *entry + share.value(&room.slopes, u);
                }
            }
        }
    }

    /// Contributions to the results of readings of the glass.
    #[inline(always)]
    fn read_glass<T: Scalar>(&self, plan: &Plan, [x, u]: [&[T]; 2], room: &mut Carrying<T>) {
        self.of_charge(plan, x, &[], room, 0);
        self.gather(u, room);
        self.set_right(u, room);
    }

    /// Sums of products of contributions.
    #[inline(always)]
    fn collect<T: Scalar, R: Registers<T>>(
        &self,
        hand: R,
        room: &Carrying<T>,
        variances: &mut [T],
        covariance: Option<&mut [T]>,
    ) -> T::Mask {
        let columns = self.columns().max(1);
        let lines = &room.right[..self.results * columns];
        match covariance {
            Some(covariance) => {
                let mut left = covariance;
                for (first, variance) in variances.iter_mut().enumerate() {
                    let (of_line, rest) = left.split_at_mut(self.results - first);
                    products(hand, &lines[first * columns..], columns, of_line);
                    *variance = of_line[0];
                    left = rest;
                }
            }
            None => {
                let (tiles, rest) = variances.split_at_mut(self.results / TILE * TILE);
                for (tile, lines) in tiles.chunks_exact_mut(TILE).zip(lines.chunks_exact(TILE * columns)) {
                    squares(hand, lines, columns, tile);
                }
                let left = &lines[tiles.len() * columns..];
                for (variance, line) in rest.iter_mut().zip(left.chunks_exact(columns)) {
                    products(hand, line, columns, core::slice::from_mut(variance));
                }
            }
        }
        let mut bad = T::Mask::splat(false);
        for variance in variances.iter() {
            bad = bad.or(variance.lt(T::constant(f64::INFINITY)).not());
        }
        bad
    }
}

/// The derivatives of one pass through the charge, with the amounts solved for held.
#[inline(always)]
fn pass_of_charge<T: Scalar>(
    pass: &Pass,
    kernel: &Kernel,
    x: &[Pushed<T>],
    amounts: &[T],
    results: &mut [Pushed<T>],
    scratch: &mut [Pushed<T>],
    slopes: &mut [T],
) {
    let m_s = x[kernel.sample_mass];
    let mut books = kernel.books(scratch);
    let masses = kernel.keep_books::<Pushed<T>, false>(x, &mut books);
    if pass.results {
        if kernel.lines.is_none() {
            kernel.undiluted(x, &books, masses.glass / m_s, results);
        }
        for (result, &amount) in results.iter_mut().zip(amounts) {
            *result = Pushed { re: amount, eps: [T::constant(0.0); DIRECTIONS] };
        }
        kernel.finish(x, results);
    }
    let mut seen: Option<(Target, Pushed<T>)> = None;
    for (slope, &(target, direction, _)) in slopes.iter_mut().zip(&pass.gives) {
        let dual = match (seen, target, &kernel.lines) {
            (Some((held, dual)), ..) if held == target => dual,
            (_, Target::Known(place), Some(lines)) => kernel.known(x, &books, &lines.present[place]),
            (_, Target::Brought(row), _) => -kernel.brought(x, &books, m_s, &kernel.readings[row]),
            (_, Target::Result(result), _) => results[result],
            (_, Target::Ratio | Target::Known(_), _) => masses.fused_flux / m_s,
        };
        seen = Some((target, dual));
        *slope = dual.eps[direction];
    }
}

/// The derivatives of an intensity by the inputs of its drift, times `level`; gives the one by the net intensity, too. A
/// drift by two monitors takes two passes.
#[inline(always)]
fn drift_slopes<T: Scalar>(drift: &DriftPlaces, inputs: &[usize], x: &[T], net: T, level: T, slopes: &mut [T]) -> T {
    let mut through = level;
    let mut point = [OfLine::<T>::constant(0.0); 2 * OF_MONITOR];
    for (dual, &input) in point.iter_mut().zip(inputs) {
        dual.re = x[input];
    }
    let (shares, still) = (drift.shares(x), [T::constant(0.0); OF_MONITOR + 1]);
    let shares = [Dual { re: shares[0], eps: still }, Dual { re: shares[1], eps: still }];
    for (slopes, first) in slopes.chunks_mut(OF_MONITOR).zip((0..).step_by(OF_MONITOR)) {
        for (direction, dual) in point[first..].iter_mut().take(slopes.len()).enumerate() {
            dual.eps[direction] = T::constant(1.0);
        }
        let corrected = drift.correct_at(&point, shares, Dual::variable(net, OF_MONITOR));
        for (direction, slope) in slopes.iter_mut().enumerate() {
            *slope = level * corrected.eps[direction];
            point[first + direction].eps[direction] = T::constant(0.0);
        }
        through = level * corrected.eps[OF_MONITOR];
    }
    through
}

struct Carry<'a, T: Scalar> {
    contributions: &'a Contributions,
    plan: &'a Plan,
    row: [&'a [T]; 2],
    solved: &'a [T],
    room: &'a mut Carrying<T>,
    variances: &'a mut [T],
    covariance: Option<&'a mut [T]>,
}

impl<T: Scalar> pulp::NullaryFnOnce for Carry<'_, T> {
    type Output = T::Mask;
    #[inline(always)]
    fn call(self) -> T::Mask {
        self.contributions.run(Plain, self.plan, self.row, self.solved, self.room, self.variances, self.covariance)
    }
}

impl Contributions {
    /// [`run`](Self::run) compiled for a named instruction set; the bits are the same for each.
    ///
    /// # Errors
    /// `word.unknown` where this processor has no such instruction set.
    #[doc(hidden)]
    #[allow(clippy::too_many_arguments, reason = "a row, its solution and where the answer goes")]
    pub fn run_with<T: Scalar>(
        &self,
        set: InstructionSet,
        plan: &Plan,
        row: [&[T]; 2],
        solved: &Scratch<T>,
        room: &mut Carrying<T>,
        variances: &mut [T],
        covariance: Option<&mut [T]>,
    ) -> Result<T::Mask> {
        let solved = solved.numbers();
        set.run(Carry { contributions: self, plan, row, solved, room, variances, covariance })
    }
}
