//! The derivation of one result with its numbers: from counts to the sample, each step to be checked by hand.

use crate::charge::Solved;
use crate::code::Code;
use crate::composition::Unit;
use crate::error::{Error, Result};
use crate::matrix::equation::Equation;
use crate::method::Assay;
use crate::substance::Formula;
use crate::table::{Cell, Column, Table};

/// Digits printed of each step: enough to follow the arithmetic by hand.
const DIGITS: usize = 7;

struct Steps(Vec<[Cell; 3]>);

impl Steps {
    fn add(&mut self, step: impl Into<String>, value: f64, unit: &str) {
        self.0.push([Cell::text(step.into()), Cell::text(significant(value)), Cell::text(unit)]);
    }
}

fn significant(value: f64) -> String {
    if value == 0.0 {
        return "0".to_owned();
    }
    let exponent = value.abs().log10().floor();
    if (-4.0..7.0).contains(&exponent) {
        let decimals = (DIGITS as f64 - 1.0 - exponent).max(0.0) as usize;
        format!("{value:.decimals$}")
    } else {
        format!("{value:.*e}", DIGITS - 1)
    }
}

impl Assay {
    /// How a result came about, step by step with its numbers: rates, dead time and background, drift, overlaps, sensitivity,
    /// the bracket of the matrix term by term, what was brought, what stayed, form and basis.
    ///
    /// # Errors
    /// `species.unknown`; the message lists the results.
    ///
    /// ```
    /// # use beadchem::method::example;
    /// let text = example()?.explain("CaO")?.to_string();
    /// assert!(text.contains("F / F0") && text.contains("of MgO on Ca Ka"));
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    pub fn explain(&self, species: &str) -> Result<Table> {
        let output = self.sample().output_of(species)?;
        let row = self.sample().species().iter().position(|known| *known == species).unwrap_or(0);
        let Some((solved, equation)) = self.sample().solved() else {
            return Err(Error::Unstated {
                code: Code::LineNotMeasured,
                quantity: format!("The lines of {species}"),
                hint: "Only a result from intensities can be explained from them.".to_owned(),
            });
        };
        let asked = self.method().ask(self.sample().melt(), self.measurement())?;
        let spec = &asked.order.rows[row];
        let line = &asked.order.lines[spec.line];
        let name = line.reading.line().as_str();
        let x = self.sample().plan().inputs().values();
        let mut steps = Steps(Vec::new());
        if let Some((peak, backgrounds)) = line.reading.channels() {
            steps.add(format!("rate on {name} over {} s", peak.time_s()), peak.rate_cps(), "cps");
            for (place, (weight, count)) in backgrounds.iter().enumerate() {
                steps.add(
                    format!("background {} over {} s, weight {weight}", place + 1, count.time_s()),
                    count.rate_cps(),
                    "cps",
                );
            }
        }
        let term = &equation.lines[spec.line];
        let net = term.net.intensity(&x);
        steps.add("net intensity, dead time and background taken off", net, "cps");
        let drifted = term.intensity(&x);
        if line.drift.is_some() {
            steps.add("as at calibration, drift taken off", drifted, "cps");
        }
        let clean = solved.intensities[spec.line];
        if clean != drifted {
            for overlap in asked.order.overlaps.iter().filter(|overlap| overlap.on == spec.line) {
                let from = asked.order.lines[overlap.from].reading.line().as_str();
                let part = overlap.factor.1.value() * solved.intensities[overlap.from];
                steps.add(
                    format!("of it from {from}: {} times its own", significant(overlap.factor.1.value())),
                    part,
                    "cps",
                );
            }
            steps.add("I, overlaps taken off", clean, "cps");
        }
        if let Some((_, offset)) = &spec.offset {
            steps.add("I0, left where no analyte is", offset.value(), "cps");
        }
        steps.add(format!("k, {}", spec.sensitivity.0), spec.sensitivity.1.value() * spec.scale, "g/g per cps");
        if spec.follows {
            steps.add("h, what the internal standard says of geometry", solved.factor(equation, row), "");
        }
        steps.add("F, fused flux per sample", solved.fused_flux_ratio, "g/g");
        steps.add("F / F0", solved.fused_flux_ratio / asked.order.reference_ratio, "");
        for (component, coefficient, amount) in amounts(&asked.order.components, solved, equation, &x, row) {
            let label =
                format!("a {} of {component} on {name}, times {} g/g", significant(coefficient), significant(amount));
            steps.add(label, coefficient * amount, "");
        }
        let bracket = solved.fixed[row] + solved.solved[row];
        steps.add("F / F0 + sum of a w, the bracket", bracket, "");
        steps.add("k (I - I0) times the bracket", solved.solution[row] + solved.brought[row], "g/g");
        steps.add("of it brought by flux and additions", solved.brought[row], "g/g");
        steps.add("stayed of the sample", solved.solution[row], "g/g");
        let value = self.sample().propagated().value(output);
        steps.add(
            format!("{species} {}, in the form asked for", self.sample().basis()),
            Unit::Percent.written(value),
            Unit::Percent.word(),
        );
        let table = Table::new(format!("How {species} came about"))
            .head(self.sample().evaluation().text())
            .column(Column::text("step"))
            .column(Column::text("value"))
            .column(Column::text("unit"))
            .rows(steps.0)
            .note("w + brought = k (I - I0) (F/F0 + sum of a w), per gram of sample as weighed; all analytes are solved together")
            .note(format!("smallest pivot of the elimination {:.3}", solved.pivot.0));
        Ok(self.provenance()?.lines().into_iter().fold(table, Table::note))
    }
}

/// The terms of a row's bracket: component, coefficient, amount in g per g of sample; those of nothing left out.
fn amounts(
    components: &[Formula],
    solved: &Solved,
    equation: &Equation,
    x: &[f64],
    row: usize,
) -> Vec<(String, f64, f64)> {
    let mut terms = Vec::new();
    for (component, formula) in components.iter().enumerate() {
        let of_solution = equation.rows[..equation.analytes()].iter().zip(&solved.solution);
        let measured: f64 = of_solution.filter(|(held, _)| held.component == component).map(|(_, amount)| amount).sum();
        let of_known = equation.present.iter().zip(&solved.known);
        let known: f64 = of_known.filter(|(held, _)| **held == component).map(|(_, amount)| amount).sum();
        if measured + known != 0.0 {
            terms.push((formula.text().to_owned(), equation.coefficient(x, row, component), measured + known));
        }
    }
    terms.sort_by(|a, b| (b.1 * b.2).abs().total_cmp(&(a.1 * a.2).abs()));
    terms
}
