//! Dangers to people and platinum that a charge shows, and the combinations that are refused.
//!
//! Source: the care sheets of platinum makers and common practice of fusion laboratories. Local codes and licensed
//! practice come first; a charge without a caution is not thereby safe.

use crate::charge::addition::Timing;
use crate::charge::builder::Charge;
use crate::charge::compile::Loss;
use crate::charge::fate::is_halogen;
use crate::code::Code;
use crate::error::{Error, Result};
use crate::finding::Finding;
use crate::substance::{Element, Formula};

/// A substance that takes up oxygen violently or badly: neither oxygen nor halogen in it (metals, sulfides, carbides).
fn oxidisable(species: &Formula) -> bool {
    species.count(Element::O) == 0.0 && !species.atoms().iter().any(|(element, _)| is_halogen(*element))
}

pub(crate) fn oxidisable_in(charge: &Charge) -> Option<&Formula> {
    let sample = charge.sample().composition().into_iter().flat_map(|composition| composition.entries());
    let declared = sample
        .filter(|entry| entry.cell.value().is_some())
        .map(|entry| &entry.species)
        .chain(charge.additions().iter().map(|addition| addition.species()));
    declared.into_iter().find(|species| oxidisable(species))
}

/// Ammonium never goes into a cold charge with nitrate or oxidisable matter.
pub(crate) fn refuse_ammonium(charge: &Charge) -> Result<()> {
    let cold = |timing: Timing| timing == Timing::ColdCharge;
    let ammonium = charge.additions().iter().find(|addition| addition.is_ammonium() && cold(addition.timing()));
    let nitrate = charge.additions().iter().find(|addition| addition.reduces_to().is_some() && cold(addition.timing()));
    let partner = nitrate.map(|addition| addition.species()).or_else(|| oxidisable_in(charge));
    match (ammonium, partner) {
        (Some(ammonium), Some(partner)) => Err(Error::Conflict {
            code: Code::AdditionRefused,
            detail: format!("{} would lie in the cold charge with {partner}.", ammonium.species()),
            hint: "Ammonium with nitrate or reduced matter can explode on heating; add it late, to a melt that is \
                   already oxidised."
                .to_owned(),
        }),
        _ => Ok(()),
    }
}

/// The cautions of a charge, each once.
pub(crate) fn cautions(charge: &Charge, loss: &Loss) -> Vec<Finding> {
    let mut findings = Vec::new();
    let mut say = |code, quantity: &str, text: String| findings.push(Finding::new(code, quantity, text));
    let nitrate = charge.additions().iter().find(|addition| addition.reduces_to().is_some());
    if let Some(nitrate) = nitrate {
        say(
            Code::FumeNitrate,
            nitrate.species().text(),
            format!(
                "{} gives off nitrogen oxides and drives strong heat with reduced matter: fume hood, slow steps from \
                 cold, shield. Local codes decide.",
                nitrate.species()
            ),
        );
    }
    if let Some(reduced) = oxidisable_in(charge) {
        let with = if nitrate.is_some() { "" } else { "; no oxidant was declared" };
        let sulfur = Element::from_symbol("S").is_ok_and(|sulfur| reduced.count(sulfur) > 0.0);
        let fume = if sulfur { "; sulfur that is not held leaves as sulfur dioxide" } else { "" };
        say(
            Code::PlatinumUnoxidised,
            reduced.text(),
            format!(
                "{reduced} must be oxidised before the melt wets the platinum{with}. The books of oxygen do not show \
                 that this happens in time{fume}."
            ),
        );
    }
    let halide = charge.additions().iter().find_map(|addition| {
        addition
            .retained
            .as_ref()
            .filter(|(element, _)| is_halogen(*element))
            .map(|(halogen, _)| (addition.species().text(), halogen.symbol(), addition.is_ammonium()))
    });
    if let Some((text, halogen, ammonium)) = halide {
        let more = if ammonium { " An ammonium halide goes only into a melt that is already oxidised." } else { "" };
        say(
            Code::FumeHalide,
            text,
            format!("{text} gives off fumes of H{halogen} and {halogen}2, the more the hotter: fume hood.{more}"),
        );
    }
    let elements = || {
        let composition = charge.sample().composition().into_iter().flat_map(|composition| composition.entries());
        let there = composition.filter(|entry| entry.cell.value().is_some());
        there.flat_map(|entry| entry.species.atoms()).map(|(element, _)| *element)
    };
    let fluorine_leaves = match loss {
        Loss::FromComposition(fate) => elements()
            .find(|element| element.symbol() == "F")
            .and_then(|element| fate.get(element))
            .is_some_and(|rule| rule.leaves_as.is_some()),
        Loss::Stated(_) | Loss::AsOnIgnition(_) => false,
    };
    if fluorine_leaves {
        let text = "Fluorine leaves as hydrogen fluoride, silicon or boron fluoride: fume hood, no glassware above.";
        say(Code::FumeFluoride, "F", text.to_owned());
    }
    let mut toxic: Vec<&str> = elements()
        .map(Element::symbol)
        .filter(|s| matches!(*s, "Pb" | "Cd" | "As" | "Tl" | "Hg" | "Sb" | "Be"))
        .collect();
    toxic.sort_unstable();
    toxic.dedup();
    if !toxic.is_empty() {
        let bench = if toxic.contains(&"Hg") || toxic.contains(&"As") {
            " Mercury and arsenic samples do not belong on this bench."
        } else {
            ""
        };
        let list = toxic.join(", ");
        say(
            Code::FumeToxicElement,
            &list,
            format!("{list} can leave as toxic fume, and alloys with platinum where it is reduced: fume hood.{bench}"),
        );
    }
    findings
}
