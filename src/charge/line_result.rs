//! What a result from intensities can say beyond its values: what it took for absent, and what that would do.

use crate::charge::kernel::{Kept, SamplePath};
use crate::charge::line_compile::Standing;
use crate::charge::result::SampleResult;
use crate::error::Result;
use crate::numeric::solve;
use crate::substance::{Element, Formula};

impl SampleResult {
    /// The components of which nothing says that they are there, by their place in the coefficients.
    pub(crate) fn absent_components(&self) -> Vec<usize> {
        let standings = self.plan().standings.iter().enumerate();
        standings.filter(|(_, standing)| **standing == Standing::Absent).map(|(component, _)| component).collect()
    }

    /// The components whose amount came from the declared composition of the sample, with what is there, g per g sample.
    pub(crate) fn components_from_sample(&self) -> Vec<(usize, f64)> {
        let Some((solved, equation)) = self.solved() else { return Vec::new() };
        let present = equation.present.iter().zip(&solved.known);
        let taken = present.filter(|(component, _)| self.plan().standings[**component] == Standing::FromSample);
        taken.map(|(component, amount)| (*component, *amount)).collect()
    }

    /// Whether the elimination wanted exchanged rows.
    pub(crate) fn exchanged(&self) -> bool {
        self.solved().is_some_and(|(solved, _)| solved.exchanged)
    }

    /// How much higher, relative to itself, each result would read if so much of a component were there, g per g sample.
    pub(crate) fn effect_of(&self, component: usize, content: f64) -> Result<Vec<(&str, f64)>> {
        let Some((solved, equation)) = self.solved() else { return Ok(Vec::new()) };
        let x = self.plan().moved();
        let right: Vec<f64> = (0..equation.rows.len())
            .map(|row| {
                let coefficient = equation.coefficient(&x, row, component);
                let factor = solved.factor(equation, row);
                let sign = if row < equation.analytes() { 1.0 } else { -1.0 };
                sign * factor * solved.strengths[row] * coefficient * content / solved.unit(equation, row)
            })
            .collect();
        let moved = solve(&solved.matrix, equation.rows.len(), &right)?;
        let relative = moved.iter().zip(&solved.solution).map(|(moved, held)| moved / held);
        Ok(self.species().into_iter().zip(relative).filter(|(_, effect)| effect.is_finite()).collect())
    }

    /// What additions and sample leave in the glass that no component stands for, g per g sample.
    pub(crate) fn strangers(&self) -> Vec<(Formula, f64)> {
        let plan = self.plan();
        let kernel = &plan.kernel;
        let Some(lines) = &kernel.lines else { return Vec::new() };
        let x = plan.moved();
        let mut scratch = vec![0.0; kernel.books_scratch()];
        let mut books = kernel.books(&mut scratch);
        kernel.keep_books::<f64, false>(&x, &mut books);
        let weights = &x[kernel.weights.clone()];
        let of_flux = |element: Element| {
            self.melt().charge().flux().lot().blend().iter().any(|(formula, _)| formula.count(element) > 0.0)
        };
        let mut found = Vec::new();
        for (place, &element) in plan.elements.iter().enumerate() {
            let known = lines.present.iter().any(|term| term.element == place)
                || kernel.readings.iter().any(|reading| reading.element == place)
                || lines.elements.contains(&place);
            let Some(form) = plan.stays_as[place].as_ref().filter(|_| !known && !of_flux(element)) else { continue };
            let sample = match &kernel.sample {
                SamplePath::Itemised { portions, .. } => portions
                    .iter()
                    .any(|portion| portion.element == place && portion.kept != Kept::Nothing)
                    .then(|| books.stayed[place]),
                SamplePath::Stated(_) => None,
            };
            let moles = kernel.retained(&x, place) + sample.unwrap_or(0.0);
            let content = moles * kernel.grams_in_melt(weights, place) / x[kernel.sample_mass];
            found.push((form.clone(), content));
        }
        found
    }

    /// What stayed in the glass of each analyte that is a result, as the coefficients write it, g per g of sample.
    pub(crate) fn stayed(&self) -> Vec<(String, f64)> {
        let Some((solved, _)) = self.solved() else { return Vec::new() };
        self.readings().into_iter().take(self.count()).zip(solved.solution.iter().copied()).collect()
    }

    /// The share of an analyte that stayed in the glass.
    pub(crate) fn kept(&self, row: usize) -> f64 {
        match self.plan().kernel.readings.get(row).map(|reading| reading.kept) {
            Some(Kept::Share(share)) => self.plan().moved()[share],
            _ => 1.0,
        }
    }

    /// The content of the glass of an analyte and its standard uncertainty, g/g; nothing for one that was not solved for.
    pub(crate) fn glass_content(&self, species: &str) -> Option<(f64, Option<f64>)> {
        let row = self.readings().iter().position(|known| known == species)?;
        let (solved, _) = self.solved()?;
        let dilution = self.melt().dilution().value();
        let content = (solved.solution[row] + solved.brought[row]) / dilution;
        if row >= self.count() {
            return Some((content, None));
        }
        let output = self.output(row);
        let (value, u) = (self.propagated().value(output), self.propagated().u(output));
        Some((content, Some(if value == 0.0 { u / dilution } else { content * (u / value).abs() })))
    }
}
