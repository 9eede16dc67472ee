//! Single rows of a table looked at alone: those that want exchanged rows, and those of which more must be known than their
//! results say.

use crate::batch::cells::Cells;
use crate::batch::check::Checker;
use crate::batch::corrected::RowFinding;
use crate::batch::field::Field;
use crate::batch::group::{Group, Key};
use crate::batch::options::Uncertainty;
use crate::batch::run::Run;
use crate::batch::told::Told;
use crate::charge::{NOTABLY_BELOW, far_below_zero, negative_solution};
use crate::code::Code;
use crate::composition::{TOTAL, Unit};
use crate::error::{Error, Result};
use crate::finding::Finding;
use crate::method::recentred;
use crate::scalar::Lanes;

/// Variances of the results of a row, and the upper triangle of their covariances.
type Spreads = (Vec<f64>, Vec<f64>);

impl Cells<'_> {
    /// The inputs of a row: those of the plan, then those that only the total has.
    pub(super) fn inputs_of(&self, group: &Group, row: usize) -> Vec<f64> {
        let mut x = group.constants.clone();
        for binding in &group.bindings {
            if let Some(value) = self.number(binding.field, row) {
                x[binding.input] = value;
            }
        }
        for way in &group.ways {
            x[way.input] = self.moments.shares(*way, row)[0];
        }
        x
    }

    /// The variances of a row by the solution with exchanged rows; nothing where they are no numbers.
    ///
    /// # Errors
    /// `matrix.singular`.
    fn spreads_of(
        &self,
        fields: &[Field],
        group: &Group,
        row: usize,
        x: &[f64],
        covariance: bool,
    ) -> Result<Option<Spreads>> {
        let Some(contributions) = &group.contributions else { return Ok(None) };
        let mut u: Vec<Lanes<1>> = group.plan.own_u();
        for binding in &group.bindings {
            if let Some(u) = u.get_mut(binding.input) {
                let field = &fields[binding.field];
                self.u_lanes(field, binding.field, row, &[0], &Lanes([x[binding.input]]), u);
            }
        }
        let u: Vec<f64> = u.into_iter().map(|lane| lane.0[0]).collect();
        let mut variances = vec![0.0; contributions.results()];
        let mut pairs = vec![0.0; if covariance { contributions.pairs() } else { 0 }];
        let inputs = [&x[..group.plan.input_count()], u.as_slice()];
        let wanted = covariance.then_some(pairs.as_mut_slice());
        let room = &mut contributions.room(&group.plan);
        let bad = contributions.run_exchanged(&group.plan, inputs, room, &mut variances, wanted)?;
        Ok((!bad).then_some((variances, pairs)))
    }
}

impl Run<'_, '_> {
    /// A row that wants exchanged rows, by the pivoted solution.
    pub(super) fn again(&self, group: &Group, first: usize, row: usize, columns: &mut [&mut [f64]], told: &mut Told) {
        let number = self.table.first_row() + (first + row) as u64;
        if told.is_refused(row) {
            return;
        }
        let x = self.cells.inputs_of(group, first + row);
        let out = match group.plan.pivoted(&x[..group.plan.input_count()]) {
            Ok(out) => out,
            Err(error) => return told.refuse(row, number, &error),
        };
        let mut put = |place: usize, value: f64| columns[place][row] = value;
        let there = || group.results.iter().enumerate().filter_map(|(place, output)| Some((place, (*output)?)));
        for (place, output) in there() {
            put(place, Unit::Percent.written(out[output]));
        }
        for (basis, also) in group.also.iter().enumerate() {
            let Some([weighed, asked]) = also else { continue };
            let factor = weighed.grams(&x) / asked.grams(&x);
            for (place, output) in there() {
                let place = self.checker.first_also() + basis * self.contents + place;
                put(place, Unit::Percent.written(out[output] * factor));
            }
        }
        if let Some(sum) = &group.sum {
            let mut sums = vec![0.0; sum.outputs()];
            sum.add_up(&x, &out, &mut sums);
            put(self.checker.total(), Unit::Percent.written(sums[TOTAL]));
        }
        if self.uncertainty != Uncertainty::None {
            let covariance = self.uncertainty == Uncertainty::Covariance;
            let fields = &self.correction.fields;
            let spreads = self.cells.spreads_of(fields, group, first + row, &x, covariance);
            let (variances, pairs) = spreads.ok().flatten().unwrap_or_default();
            let u = group.spreads.iter().map(|spread| {
                let variance = variances.get((*spread)?)?;
                Some(Unit::Percent.written(variance.sqrt()))
            });
            let products = group.pairs.iter().filter(|_| covariance).map(|pair| {
                let product = pairs.get((*pair)?)?;
                Some(Unit::Percent.written(Unit::Percent.written(*product)))
            });
            for (place, value) in (self.first_spread()..).zip(u.chain(products)) {
                match value {
                    Some(value) => put(place, value),
                    None => told.no_cell(place, row),
                }
            }
        }
        let text = "The elimination wanted exchanged rows; the pivoted solution stands. Are the coefficients those of this setup?";
        told.say(row, RowFinding::new(number, &Finding::new(Code::RowsExchanged, "matrix", text)));
    }
}

impl Checker<'_, '_> {
    /// Why a result below zero is none, by the u that its row has; nothing where noise explains it.
    pub(super) fn negative(&self, group: &Group, place: usize, row: usize, value: f64) -> Result<Option<Error>> {
        // no equation was solved of the glass, which could have gone wrong
        if value >= NOTABLY_BELOW || self.correction.method().is_none() {
            return Ok(None);
        }
        let x = self.cells.inputs_of(group, row);
        let spreads = self.cells.spreads_of(&self.correction.fields, group, row, &x, false)?;
        let variance = spreads.zip(group.spreads[place]).map(|((variances, _), spread)| variances[spread]);
        let u = variance.map(f64::sqrt);
        if !far_below_zero(value, u.filter(|_| group.stated[place])) {
            return Ok(None);
        }
        let solved = group.plan.looked_into(&x[..group.plan.input_count()])?;
        let pivot = solved.map_or(0.0, |solved| solved.pivot.0);
        Ok(Some(negative_solution(&self.species[place], value, u.unwrap_or(0.0), pivot)))
    }

    /// Contents that the coefficients were not made for, and what those of a class that was would change.
    pub(super) fn ranges(&self, group: &Group, first: usize, beyond: &[u32], columns: &[&mut [f64]], told: &mut Told) {
        if group.screen.stayed.is_empty() {
            return;
        }
        for &row in beyond {
            if told.is_refused(row as usize) {
                continue;
            }
            let ratio = columns[self.species.len() + 1][row as usize];
            let findings = self.outside(group, first + row as usize, ratio).unwrap_or_default();
            for finding in findings {
                told.say(row as usize, RowFinding::new(self.number(first + row as usize), &finding));
            }
        }
    }

    fn outside(&self, group: &Group, row: usize, ratio: f64) -> Result<Vec<Finding>> {
        let stayed = |group: &Group| {
            let x = self.cells.inputs_of(group, row);
            let solved = group.plan.looked_into(&x[..group.plan.input_count()])?;
            Ok::<_, Error>(solved.map_or_else(Vec::new, |solved| solved.solution))
        };
        let (Some(method), Some(set)) = (self.correction.method(), self.set_of(group)) else { return Ok(Vec::new()) };
        let contents = stayed(group)?;
        let named: Vec<(&str, f64)> = group.analytes.iter().map(String::as_str).zip(contents.iter().copied()).collect();
        let sets = method.coefficients();
        let mut findings = set.check_range(&named)?;
        let fits = |class: &usize| *class != group.key.class && sets[*class].holds_for(ratio, &named);
        let Some(class) = (0..sets.len()).find(fits).filter(|_| !findings.is_empty()) else { return Ok(findings) };
        // a row that this class cannot solve stays unsized
        let Ok(other) = self.correction.served(Key { class, ..group.key.clone() }) else { return Ok(findings) };
        let Ok(again) = stayed(&other) else { return Ok(findings) };
        for finding in &mut findings {
            if let Some(place) = group.analytes.iter().position(|analyte| *analyte == finding.quantity) {
                recentred(finding, sets[class].label().name(), again[place] - contents[place]);
            }
        }
        Ok(findings)
    }
}
