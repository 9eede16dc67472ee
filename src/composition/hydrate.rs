//! Hydrates that are dried too hot.

use crate::code::Code;
use crate::composition::unit::Unit;
use crate::composition::{Cell, Composition};
use crate::error::Result;
use crate::finding::Finding;
use crate::substance::{Element, Formula, Weights, molar_mass};

/// Molecules of water that gypsum loses on its way to the hemihydrate.
const TO_HEMIHYDRATE: f64 = 1.5;

impl Composition {
    /// Warnings where a declared hydrate is dried above the laboratory's limit for hydrates, C: how much combined water
    /// it can lose, as a share of the hydrate. Gypsum loses 1.5 of its 2 H2O (to the hemihydrate), others all of it.
    ///
    /// # Errors
    /// `number.not-finite`; `weights.unknown`.
    ///
    /// # Source
    /// Stoichiometry; that gypsum goes to the hemihydrate at 105 C and is dried near 40 C is common practice.
    ///
    /// ```
    /// use beadchem::{composition::{Basis, Composition}, substance::Weights};
    /// let gypsum = Composition::new(Basis::Dried).with("CaSO4·2H2O", 0.95)?;
    /// let warnings = gypsum.hydrate_warnings(105.0, 45.0, &Weights::ciaaw_2024())?;
    /// assert!(warnings[0].text.starts_with("Gypsum dried at 105 C loses combined water (up to 15.7 %)."));
    /// assert!(gypsum.hydrate_warnings(40.0, 45.0, &Weights::ciaaw_2024())?.is_empty());
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    pub fn hydrate_warnings(&self, dried_at_c: f64, limit_c: f64, weights: &Weights) -> Result<Vec<Finding>> {
        crate::error::finite("Drying temperature", dried_at_c)?;
        crate::error::finite("Highest drying temperature of hydrates", limit_c)?;
        let mut findings = Vec::new();
        if dried_at_c <= limit_c {
            return Ok(findings);
        }
        for entry in self.entries().iter().filter(|entry| entry.cell != Cell::Absent) {
            let water = entry.species.hydrate_water();
            if water == 0.0 {
                continue;
            }
            let gypsum = is_gypsum(&entry.species)?;
            let molecules = if gypsum { TO_HEMIHYDRATE } else { water };
            let hydrate = molar_mass(entry.species.text(), weights)?.value();
            let share = molecules * molar_mass("H2O", weights)?.value() / hydrate;
            let name = if gypsum { "Gypsum" } else { entry.species.text() };
            let text = format!(
                "{name} dried at {dried_at_c} C loses combined water (up to {:.1} %). Dry hydrates at {limit_c} C or below, \
                 in air of controlled humidity.",
                Unit::Percent.written(share)
            );
            let finding = Finding::new(Code::HydrateDried, entry.species.text(), text);
            findings.push(finding.with_value(dried_at_c).with_bound(limit_c));
        }
        Ok(findings)
    }
}

fn is_gypsum(species: &Formula) -> Result<bool> {
    let (calcium, sulfur) = (Element::from_symbol("Ca")?, Element::from_symbol("S")?);
    let counts = [calcium, sulfur, Element::H, Element::O].map(|element| species.count(element));
    Ok(species.atoms().len() == 4 && counts == [1.0, 1.0, 4.0, 6.0] && species.hydrate_water() == 2.0)
}
