//! The blend and blanks of a flux lot, resolved to places.

use crate::charge::compile::Compiler;
use crate::charge::flux::FluxLot;
use crate::charge::kernel::{Atoms, Blank, Input, Portion};
use crate::code::Code;
use crate::composition::unit::percent_text;
use crate::error::Result;
use crate::finding::Finding;
use crate::substance::Formula;
use crate::uncertainty::Estimate;

/// One part of a blend.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct BlendTerm {
    pub(crate) share: f64,
    pub(crate) atoms: Atoms,
    /// Share of the part that is its formula; taken as pure where not stated.
    pub(crate) purity: Option<Input>,
}

/// A blend and what its elements do.
#[derive(Debug, Clone, PartialEq, Default)]
pub(crate) struct Blend {
    pub(crate) terms: Vec<BlendTerm>,
    pub(crate) portions: Vec<Portion>,
    /// The loss of the lot includes what the formulas of the blend give off.
    pub(crate) loss_is_total: bool,
}

impl Compiler<'_> {
    /// The blend of a lot, with a note where parts of it are not all their formula.
    pub(crate) fn blend(&mut self, lot: &FluxLot) -> Result<Blend> {
        let mut blend = Blend { loss_is_total: lot.test().includes_formula(), ..Blend::default() };
        let mut unnamed = 0.0;
        for (index, (species, share)) in lot.blend().iter().enumerate() {
            let purity = match lot.purity(index) {
                Some(purity) => {
                    unnamed += share * (1.0 - purity.value());
                    let name = format!("purity of {species} in flux lot {}", lot.name());
                    Some(self.inputs.push(name, purity.clone())?)
                }
                None => None,
            };
            blend.terms.push(BlendTerm { share: *share, atoms: self.atoms(species), purity });
        }
        for term in &blend.terms {
            for &(place, _) in &term.atoms {
                if place != 0 && blend.portions.iter().all(|portion| portion.element != place) {
                    blend.portions.push(self.default_portion(place, None)?);
                }
            }
        }
        if unnamed != 0.0 {
            let text = format!(
                "The formulas of flux lot {} leave {} of its blend unnamed; it is carried into the glass unchanged.",
                lot.name(),
                percent_text(unnamed)
            );
            self.findings.push(Finding::new(Code::RemainderCarried, "flux", text).with_value(unnamed));
        }
        Ok(blend)
    }

    /// What a lot brings of analytes.
    pub(crate) fn blanks(&mut self, lot: &FluxLot) -> Result<Vec<Blank>> {
        let mut blanks = Vec::new();
        for (species, content) in lot.blanks() {
            let name = format!("{species} in fused flux of lot {}", lot.name());
            blanks.push(self.blank(species, name, content)?);
        }
        Ok(blanks)
    }

    /// A trace under its name.
    pub(crate) fn blank(&mut self, species: &Formula, name: String, content: &Estimate) -> Result<Blank> {
        let content = self.inputs.push(name, content.clone())?;
        let (element, atoms) = (self.key(species)?, self.atoms(species));
        let place = self.place(element);
        self.stays(place, species)?;
        Ok(Blank { content, atoms, element: place })
    }
}
