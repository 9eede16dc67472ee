//! Names to places for the intensities of a charge.

use crate::charge::compile::Compiler;
use crate::charge::fate::is_halogen;
use crate::charge::kernel::{AdditionTerm, Kept, Place, Portion, SamplePath};
use crate::charge::lines::{Lines, PresentTerm};
use crate::code::Code;
use crate::error::{Error, Result};
use crate::matrix::equation::{Equation, Input, LineTerm, Network, RowTerm, UncertainTerm};
use crate::matrix::order::{LineOrder, Named, RowSpec};
use crate::substance::{Element, Formula};

/// Where the amount of a component comes from.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Standing {
    /// Solved for from its line.
    Measured,
    /// Stated with the bead.
    Declared,
    /// From the composition the sample was declared with.
    FromSample,
    /// From additions only.
    Added,
    /// Nothing says that it is there.
    Absent,
}

/// The element whose amount stands for a component: its one element beside oxygen, or its halogen.
pub(crate) fn element_of(component: &Formula) -> Result<Element> {
    let halogen = component.atoms().iter().map(|(element, _)| *element).find(|element| is_halogen(*element));
    halogen.or_else(|| component.key()).ok_or_else(|| Error::Conflict {
        code: Code::FactorSeveralElements,
        detail: format!("{component} stands for no single element."),
        hint: "A component is an oxide, an element or a halide.".to_owned(),
    })
}

impl Compiler<'_> {
    fn named(&mut self, (name, estimate): &Named) -> Result<Input> {
        self.inputs.push(name.clone(), estimate.clone())
    }

    fn row(&mut self, spec: &RowSpec, row: usize, columns: &[Option<usize>]) -> Result<(RowTerm, Vec<UncertainTerm>)> {
        let sensitivity = self.named(&spec.sensitivity)?;
        let offset = spec.offset.as_ref().map(|offset| self.named(offset)).transpose()?;
        let mut uncertain = Vec::with_capacity(spec.uncertain.len());
        for (component, coefficient) in &spec.uncertain {
            let input = self.named(coefficient)?;
            uncertain.push(UncertainTerm { row, component: *component, column: columns[*component], input });
        }
        let (line, component, follows, scale) = (spec.line, spec.component, spec.follows, spec.scale);
        Ok((RowTerm { line, sensitivity, scale, offset, component, follows }, uncertain))
    }

    /// The equation of an order, and where the amount of each component comes from.
    pub(crate) fn lines(
        &mut self,
        order: &LineOrder,
        sample: &SamplePath,
        additions: &[AdditionTerm],
        taken: &[Element],
    ) -> Result<(Lines, Vec<Standing>)> {
        let mut lines = Vec::with_capacity(order.lines.len());
        for line in &order.lines {
            let net = line.reading.place(&mut self.inputs)?;
            let drift = line.drift.as_ref().map(|drift| drift.place(&mut self.inputs, line.by_row)).transpose()?;
            lines.push(LineTerm { net, drift });
        }
        let mut network = Network::default();
        for overlap in &order.overlaps {
            let mut place = |line: usize| {
                network.members.iter().position(|&member| member == line).unwrap_or_else(|| {
                    network.members.push(line);
                    network.members.len() - 1
                })
            };
            let (on, from) = (place(overlap.on), place(overlap.from));
            network.factors.push((on, from, self.named(&overlap.factor)?));
        }
        let mut columns = vec![None; order.components.len()];
        for (column, row) in order.rows.iter().enumerate().filter(|_| !order.standard_bead) {
            columns[row.component] = Some(column);
        }
        let (mut rows, mut uncertain, mut coefficients) = (Vec::new(), Vec::new(), Vec::new());
        for (place, spec) in order.rows.iter().chain(&order.standard).enumerate() {
            let (row, terms) = self.row(spec, place, &columns)?;
            rows.push(row);
            uncertain.extend(terms);
            coefficients.extend_from_slice(&spec.coefficients);
        }
        let portions: &[Portion] = match sample {
            SamplePath::Itemised { portions, .. } => portions,
            SamplePath::Stated(_) => &[],
        };
        let (mut present, mut terms, mut standings, mut elements) = (Vec::new(), Vec::new(), Vec::new(), Vec::new());
        for (component, formula) in order.components.iter().enumerate() {
            let element = element_of(formula)?;
            let place = self.place(element);
            if elements.contains(&place) {
                return Err(Error::Conflict {
                    code: Code::SpeciesElementTwice,
                    detail: format!("Two components of the coefficients stand for {}.", element.name()),
                    hint: "Keep one form of each element: amounts go by element.".to_owned(),
                });
            }
            elements.push(place);
            let kept = portions.iter().find(|portion| portion.element == place).map(|portion| portion.kept);
            let declared = match order.declared.iter().find(|declared| declared.component == component) {
                Some(_) if kept == Some(Kept::Nothing) => {
                    return Err(Error::Conflict {
                        code: Code::AnalyteLost,
                        detail: format!(
                            "{} is declared to leave the melt entirely, yet {formula} of it is to be counted in the glass.",
                            element.name()
                        ),
                        hint: "State the share that is kept, or do not declare its content.".to_owned(),
                    });
                }
                Some(declared) => Some((self.named(&declared.content)?, kept.unwrap_or(Kept::All))),
                None => None,
            };
            let measured = columns[component].is_some();
            // the stated contents of a standard are all it holds
            let stated = order.standard_bead && !order.declared.is_empty();
            let from_sample =
                !measured && !stated && declared.is_none() && kept.is_some_and(|kept| kept != Kept::Nothing);
            let added = adds(additions, place) || taken.contains(&element);
            standings.push(match (measured, &declared, from_sample, added) {
                (true, ..) => Standing::Measured,
                (_, Some(_), ..) => Standing::Declared,
                (.., true, _) => Standing::FromSample,
                (.., true) => Standing::Added,
                _ => Standing::Absent,
            });
            let internal = order.standard.as_ref().is_some_and(|standard| standard.component == component);
            if added || declared.is_some() || from_sample || internal {
                present.push(component);
                let atoms = self.atoms(formula);
                terms.push(PresentTerm { element: place, atoms, count: formula.count(element), declared, from_sample });
            }
        }
        let standard = order
            .standard
            .as_ref()
            .and_then(|standard| present.iter().position(|&component| component == standard.component));
        let analytes: Vec<usize> = order.rows.iter().map(|row| row.component).collect();
        let signed = |(row, of_row): (usize, &[f64])| {
            let sign = if row < analytes.len() { -1.0 } else { 1.0 };
            analytes.iter().map(|&component| of_row[component] * sign).collect::<Vec<_>>()
        };
        let system = coefficients.chunks_exact(order.components.len()).enumerate().flat_map(signed).collect();
        let equation = Equation {
            lines,
            network,
            rows,
            standard,
            components: order.components.len(),
            coefficients,
            system,
            uncertain,
            present,
            reference_ratio: order.reference_ratio,
        };
        Ok((Lines { equation, present: terms, elements }, standings))
    }
}

/// Whether an addition leaves some of an element in the melt, by its formula or as a blank.
fn adds(additions: &[AdditionTerm], place: Place) -> bool {
    let stays = |portion: &Portion| portion.element == place && portion.kept != Kept::Nothing;
    additions.iter().any(|addition| {
        addition.portions.iter().any(stays) || addition.blanks.iter().any(|blank| blank.element == place)
    })
}
