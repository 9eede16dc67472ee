//! From an order and parts to the lines of a total.

use crate::code::Code;
use crate::composition::closure::model::{
    Bases, ClosureSum, EXPECTED_LOSS, FIRST_LINE, Factor, Less, Source, Sum, TOTAL, Term,
};
use crate::composition::closure::order::{ClosureOrder, CountedLoss};
use crate::composition::closure::{Closure, ClosureLine, Counted, Sensitivity};
use crate::composition::unit::percent_short;
use crate::composition::{Atmosphere, Basis, Cell, Entry, LossOnIgnition, PerDried, Unit, below_text, loss_input};
use crate::error::{Error, Result};
use crate::finding::Finding;
use crate::substance::{
    Element, Formula, Weights, carrier, factor, interval_note, is_weight, oxygen_per_anion, places, weight_estimate,
    weight_name,
};
use crate::uncertainty::{Estimate, Inputs, Model, propagate_plain};

/// How far lines move by rounding alone with an input that cancels, as a halide measured on its own line does, g/g: sixteen
/// digits over a handful of steps.
const ROUNDING: f64 = 1e-12;

/// One part of a total: a species with its state, and where its number stands.
#[derive(Debug, Clone)]
pub(crate) struct Part {
    species: Formula,
    cell: Cell,
    source: Option<Source>,
    by_difference: bool,
    separate_form: bool,
}

impl Part {
    pub(crate) fn of(entry: &Entry, source: Option<Source>) -> Self {
        let (species, cell) = (entry.species.clone(), entry.cell.clone());
        Self { species, cell, source, by_difference: entry.by_difference, separate_form: entry.separate_form }
    }
}

struct Builder<'a> {
    order: &'a ClosureOrder,
    weights: &'a Weights,
    inputs: Inputs,
    /// Elements whose weights are needed, and, in place of an input's place, their place in this list until all are known.
    elements: Vec<Element>,
    terms: Vec<Term>,
    lines: Vec<(ClosureLine, Option<usize>)>,
    findings: Vec<Finding>,
}

pub(super) fn compute<M: Model>(
    order: &ClosureOrder,
    basis: Basis,
    parts: &[Part],
    results: &M,
    inputs: Inputs,
    weights: &Weights,
) -> Result<Closure> {
    let results_inputs = inputs.len();
    let mut b = Builder {
        order,
        weights,
        inputs,
        elements: Vec::new(),
        terms: Vec::new(),
        lines: Vec::new(),
        findings: Vec::new(),
    };
    let loss = match &order.loss {
        CountedLoss::None => None,
        CountedLoss::Full(loss) => Some((loss_input(Some(loss.temperature_c())), loss.loss())),
        CountedLoss::Draft(loss) => Some((loss_input(None), loss)),
    };
    if loss.is_some() && basis != Basis::Dried {
        return Err(Error::Conflict {
            code: Code::BasisMismatch,
            detail: format!("Cannot add results {basis} to a loss on ignition of the dried powder."),
            hint: "Convert the results to the dried basis first (needs the loss or the moisture).".to_owned(),
        });
    }
    for part in parts {
        b.part(part, parts, None, "")?;
    }
    for (place, external) in order.externals.iter().enumerate() {
        let key = external.species.key();
        let earlier = order.externals[..place].iter().find(|held| key.is_some() && held.species.key() == key);
        // two forms beside their total (metal and FeO beside Fe2O3) are counted with it, not each on its own
        if let Some(earlier) = earlier.filter(|_| elsewhere(&external.species, parts).is_none()) {
            return Err(Error::Conflict {
                code: Code::SpeciesElementTwice,
                detail: format!(
                    "{} by {} and {} by {} are the same atoms.",
                    earlier.species,
                    earlier.source(),
                    external.species,
                    external.source()
                ),
                hint: "Keep one of the two results from elsewhere; nothing was added up.".to_owned(),
            });
        }
        let bases = b.bases(external.basis, basis, &external.species)?;
        let source = match external.cell.value() {
            Some(value) => {
                let name = format!("{} by {}", external.species, external.source());
                Some(Source::Input(b.inputs.push(name, value.clone())?))
            }
            None => None,
        };
        let part = Part {
            species: external.species.clone(),
            cell: external.cell.clone(),
            source,
            by_difference: false,
            separate_form: false,
        };
        b.part(&part, parts, bases, &external.source())?;
    }
    let loss_place = match &loss {
        Some((name, value)) => Some(b.inputs.push(name.clone(), (*value).clone())?),
        None => None,
    };
    let first = b.inputs.len();
    let mut of_element = Vec::new();
    for &element in &b.elements {
        let name = weight_name(element);
        // one that the results rest on may be tied to the calibration by its name: it is that input
        of_element.push(match b.inputs.index_of(&name) {
            Some(place) => place,
            None => b.inputs.push(name, weight_estimate(element, weights)?)?,
        });
    }
    b.findings.extend(interval_note(&b.elements, weights)?);
    for term in &mut b.terms {
        for factor in [&mut term.factor, &mut term.ceiling, &mut term.expected].into_iter().flatten() {
            let less = if let Less::Over(over, _) = &mut factor.less { over.as_mut_slice() } else { &mut [] };
            for (place, _) in factor.over.iter_mut().chain(&mut factor.under).chain(less) {
                *place = of_element[*place];
            }
        }
    }
    let sum = ClosureSum { terms: b.terms, loss: loss_place };
    let propagated = propagate_plain(&Sum { results, results_inputs, sum: &sum }, &b.inputs)?.bounded()?;
    let mut lines: Vec<ClosureLine> = b
        .lines
        .into_iter()
        .map(|(line, term)| match term {
            Some(term) => ClosureLine {
                contribution: propagated.value(FIRST_LINE + term),
                u: propagated.u(FIRST_LINE + term),
                ..line
            },
            None => line,
        })
        .collect();
    if let Some((name, value)) = &loss {
        lines.push(ClosureLine {
            species: name.clone(),
            counted_as: name.clone(),
            how: Counted::Loss,
            contribution: value.value(),
            u: value.u().unwrap_or(0.0),
            source: String::new(),
        });
    }
    let sensitivities: Vec<Sensitivity> = propagated
        .inputs()
        .iter()
        .enumerate()
        .filter(|(place, input)| *place < first && !is_weight(&input.name))
        .filter_map(|(place, input)| {
            let derivative = propagated.derivative(TOTAL, place);
            let moved = (0..sum.terms.len()).map(|term| propagated.derivative(FIRST_LINE + term, place).abs());
            let own = if Some(place) == loss_place { 1.0 } else { 0.0 };
            let moves_lines = moved.sum::<f64>() + own;
            let u = input.estimate.u().unwrap_or(0.0);
            let sensitivity =
                Sensitivity { input: input.name.clone(), derivative, moves_total: derivative.abs() * u, moves_lines };
            let size = input.estimate.value().abs().max(u);
            // nothing is known of the size of an exact zero
            let moves = if size > 0.0 { moves_lines * size } else { moves_lines };
            (moves > ROUNDING).then_some(sensitivity)
        })
        .collect();
    let mut findings = b.findings;
    for blind in sensitivities.iter().filter(|sensitivity| sensitivity.is_blind()) {
        let text = format!(
            "The total does not move with {} (dT/dx = {:.3}): it is no test of it, and an error there is not seen here.",
            blind.input, blind.derivative
        );
        findings.push(Finding::new(Code::ClosureBlind, blind.input.as_str(), text).with_value(blind.derivative));
    }
    for convention in &order.conventions {
        let known = parts.iter().map(|part| &part.species).chain(order.externals.iter().map(|held| &held.species));
        if known.into_iter().all(|species| species.key() != convention.key()) {
            let text = format!("Nothing is there to be counted as {convention}.");
            findings.push(Finding::new(Code::ClosureAssumed, convention.text(), text));
        }
    }
    let by_difference = parts.iter().find(|part| part.by_difference).map(|part| part.species.text().to_owned());
    if let Some(species) = &by_difference {
        let text = format!(
            "{species} is by difference, so the total is {} by construction; closure not computed.",
            percent_short(1.0)
        );
        findings.push(Finding::new(Code::ClosureByDifference, species.as_str(), text));
    }
    let number = |species: &str| parts.iter().find(|p| p.species.text() == species).and_then(|p| p.cell.value());
    let alkaline: f64 = ["CaO", "MgO"].iter().filter_map(|species| number(species)).map(Estimate::value).sum();
    let mut closure = Closure {
        basis,
        lines,
        carbonate: 2.0 * alkaline > propagated.value(super::model::WITHOUT_LOSS),
        propagated,
        findings,
        sensitivities,
        by_difference,
        draft: matches!(order.loss, CountedLoss::Draft(_)),
        counts_loss: loss.is_some(),
        of_intensities: false,
        sum,
    };
    if let Some((_, value)) = &loss {
        let named = parts.iter().map(|part| (&part.species, &part.cell));
        let elsewhere = order.externals.iter().map(|external| (&external.species, &external.cell));
        let declared: Vec<_> = named.chain(elsewhere).collect();
        closure.findings.extend(check_gain(value, &declared, &closure, weights)?);
    }
    if closure.draft {
        let text = "The loss on ignition has no temperature: enough for a draft, not for a report.";
        closure.findings.push(Finding::new(Code::LossTemperatureMissing, "loss on ignition", text));
    }
    Ok(closure)
}

impl Builder<'_> {
    /// The places of a formula's atoms in the list of elements.
    fn atoms(&mut self, formula: &Formula) -> Vec<(usize, f64)> {
        places(formula, &mut self.elements)
    }

    /// From one species to another of one element, per gram.
    fn conversion(&mut self, from: &Formula, to: &Formula, element: Element) -> Result<Factor> {
        let (_, ratio) = carrier(from, to, Some(element))?;
        Ok(Factor { over: self.atoms(to), under: self.atoms(from), ratio, less: Less::Nothing })
    }

    /// From the basis of a result from elsewhere to that of the total.
    fn bases(&mut self, from: Basis, to: Basis, species: &Formula) -> Result<Option<Bases>> {
        if from == to {
            return Ok(None);
        }
        let links = &self.order.links;
        if links.per_dried(from).is_ok() && links.per_dried(to).is_ok() {
            links.between(from, to)?;
        }
        let sides = [links.per_dried(from), links.per_dried(to)];
        let [Ok(from_side), Ok(to_side)] = sides else {
            let why = sides.into_iter().filter_map(Result::err).next().map_or_else(String::new, |why| why.to_string());
            return Err(Error::Conflict {
                code: Code::BasisMismatch,
                detail: format!("Cannot add {from} {species} to results {to}."),
                hint: format!("Convert one first. {why}"),
            });
        };
        let mut placed = |side: PerDried| -> Result<(PerDried, Option<usize>)> {
            let place = match side.input() {
                Some((name, estimate)) => Some(self.inputs.push(name, estimate.clone())?),
                None => None,
            };
            Ok((side, place))
        };
        Ok(Some([placed(from_side)?, placed(to_side)?]))
    }

    fn term(&mut self, term: Term, species: &Formula, counted_as: String, how: Counted, source: &str) {
        let line = ClosureLine {
            species: species.text().to_owned(),
            counted_as,
            how,
            contribution: 0.0,
            u: 0.0,
            source: source.to_owned(),
        };
        self.terms.push(term);
        self.lines.push((line, Some(self.terms.len() - 1)));
    }

    fn note(&mut self, code: Code, species: &Formula, text: String) {
        self.findings.push(Finding::new(code, species.text(), text));
    }

    /// What a species adds, or why it adds nothing.
    fn part(&mut self, part: &Part, all: &[Part], bases: Option<Bases>, origin: &str) -> Result<()> {
        let species = &part.species;
        let with_loss = self.order.loss != CountedLoss::None;
        let symbols: Vec<&str> = species.atoms().iter().map(|(element, _)| element.symbol()).collect();
        let volatile = symbols.iter().all(|symbol| matches!(*symbol, "C" | "H" | "N" | "O"));
        let same =
            |known: &Formula| known.text() == species.text() || (known.key().is_some() && known.key() == species.key());
        let stated = self.order.left.iter().find(|(known, _)| with_loss && same(known)).map(|(_, share)| share.clone());
        let elsewhere = if origin.is_empty() { None } else { elsewhere(species, all) };
        let Some((source, value)) = part.source.zip(part.cell.value()) else {
            match (&elsewhere, with_loss && volatile && stated.is_none()) {
                (Some(held), _) => self.unvalued(part, format!("in {held}"), Counted::ElsewhereInTotal, origin),
                (None, true) => self.unvalued(part, String::new(), Counted::InsideLoss, origin),
                (None, false) => self.no_value(part, origin),
            }
            return Ok(());
        };
        let element = species.key();
        let convention =
            self.order.conventions.iter().find(|known| same(known) && known.text() != species.text()).cloned();
        let bare = |ratio| Some(Factor { over: Vec::new(), under: Vec::new(), ratio, less: Less::Nothing });
        let mut term = Term { source, factor: None, left: None, bases, sign: 1.0, ceiling: None, expected: None };
        // iron written as the element is total iron, unless it was declared or found as a form of its own
        let metallic = part.separate_form || !origin.is_empty() || species.count(Element::O) > 0.0;
        let mut gain = if metallic { self.gain(species, with_loss)? } else { None };
        if let Some(held) = elsewhere {
            // ferrous iron beside total iron still takes up its oxygen
            term.expected = gain.filter(|_| all.iter().all(|part| part.species.text() != species.text()));
            term.sign = 0.0;
            if held.text() == species.text() {
                let text = format!(
                    "{species} by {origin} is not in the total: the bead gives {species} itself. Was another form meant, or is it \
                     there to compare?"
                );
                self.note(Code::ClosureMeasuredTwice, species, text);
            }
            self.term(term, species, format!("in {held}"), Counted::ElsewhereInTotal, origin);
            return Ok(());
        }
        let leaves = with_loss && (volatile || stated.is_some());
        // what iron in lower oxides takes up, and what leaves, make the loss to expect
        term.expected = if leaves { bare(-1.0) } else { gain.clone() };
        term.ceiling = if leaves { bare(1.0) } else { self.gives_off(species)? };
        let whole = stated.as_ref().is_none_or(|share| share.value() == 1.0 && share.u().unwrap_or(0.0) == 0.0);
        if leaves && whole {
            term.sign = 0.0;
            self.term(term, species, String::new(), Counted::InsideLoss, origin);
            return Ok(());
        }
        if let Some(share) = stated {
            let name = format!("share of {species} that left in the furnace");
            term.left = Some(self.inputs.push(name, share)?);
        } else if with_loss {
            self.beside_the_loss(species, value, &symbols, convention.is_some());
        }
        let mut counted_as = species.text().to_owned();
        if let (Some(convention), Some(element)) = (&convention, element) {
            let halogen = matches!(element.symbol(), "F" | "Cl" | "Br" | "I");
            if halogen || self.order.hosts.iter().any(|(known, ..)| *known == element) {
                return Err(Error::Conflict {
                    code: Code::FactorNoCommonElement,
                    detail: format!(
                        "{species} cannot be counted as {convention} and stand for oxygen of its host too."
                    ),
                    hint: "Leave out the convention, or the host.".to_owned(),
                });
            }
            let counted = self.conversion(species, convention, element)?;
            // iron counted as a lower oxide takes up its oxygen in the furnace, whatever it was read as
            gain = None;
            if convention.count(Element::O) > 0.0 && self.gain(convention, with_loss)?.is_some() {
                let less = Less::Over(counted.over.clone(), counted.ratio);
                gain = Some(Factor { less, ..self.conversion(species, &Formula::parse("Fe2O3")?, element)? });
                term.expected = if leaves { term.expected } else { gain.clone() };
            }
            term.factor = Some(counted);
            counted_as = convention.text().to_owned();
        }
        let (left, bases) = (term.left, term.bases.clone());
        self.term(term, species, counted_as, Counted::Here, origin);
        if let Some(gain) = gain {
            let gain = Term { source, factor: Some(gain), left, bases, sign: 1.0, ceiling: None, expected: None };
            self.term(gain, species, "Fe2O3 in the residue".to_owned(), Counted::OxygenTakenUp, origin);
        } else if let (Some(element), None) = (element, &convention) {
            self.oxygen(species, element, value, source, left, bases, all, origin)?;
        }
        Ok(())
    }

    /// What is counted beside the loss although part of it may be in it.
    fn beside_the_loss(&mut self, species: &Formula, value: &Estimate, symbols: &[&str], convention: bool) {
        let said = format!("{species} {} was counted", percent_short(value.value()));
        if symbols.iter().any(|symbol| matches!(*symbol, "C" | "H")) {
            let text = format!(
                "{said} whole beside the loss on ignition, which holds its carbon dioxide or water: count its metals as oxides."
            );
            self.findings.push(Finding::new(Code::ClosureCountedTwice, species.text(), text).with_value(value.value()));
        } else if symbols.iter().any(|symbol| matches!(*symbol, "S" | "F" | "Cl" | "Br" | "I" | "As")) {
            let text = format!(
                "{said} beside the loss on ignition; what of it left in the furnace is counted twice. State the share that left."
            );
            self.note(Code::ClosureAssumed, species, text);
        }
        // half a percent of a metal or a lower oxide moves the loss by what a total shows
        const NOTABLE: f64 = 0.005;
        let iron = symbols.contains(&"Fe");
        let changes = matches!(species.text(), "MnO" | "MnO2" | "Cu2O" | "PbO2") || (symbols.len() == 1 && !iron);
        let anion = symbols.iter().any(|symbol| matches!(*symbol, "S" | "F" | "Cl" | "Br" | "I"));
        if changes && !anion && !convention && value.value() > NOTABLE {
            let text = format!(
                "{said} as found beside the loss on ignition, which shows what oxygen it took up or gave off. Name the oxide it \
                 stands as after ignition."
            );
            self.note(Code::ClosureAssumed, species, text);
        }
    }

    /// A line without a value that is no loss to the total.
    fn unvalued(&mut self, part: &Part, counted_as: String, how: Counted, origin: &str) {
        let line = ClosureLine {
            species: part.species.text().to_owned(),
            counted_as,
            how,
            contribution: 0.0,
            u: 0.0,
            source: origin.to_owned(),
        };
        self.lines.push((line, None));
    }

    fn no_value(&mut self, part: &Part, origin: &str) {
        let species = &part.species;
        let what = match part.cell {
            Cell::Below { limit } => {
                let limit = below_text(Unit::Percent.written(limit));
                format!(
                    "{species} is {limit} {} and is not in the total, which may be that much too low.",
                    Unit::Percent.word()
                )
            }
            Cell::Unknown => format!("{species} is unknown and is not in the total."),
            _ => return,
        };
        let finding = Finding::new(Code::ClosureNotCounted, species.text(), what);
        self.findings.push(match part.cell {
            Cell::Below { limit } => finding.with_value(limit),
            _ => finding,
        });
        self.unvalued(part, String::new(), Counted::NoValue, origin);
    }

    /// Oxygen that metallic iron, FeO or Fe3O4 takes up on the way to Fe2O3, per gram, where a loss is counted that was found in air, or nothing is said of it.
    fn gain(&mut self, species: &Formula, with_loss: bool) -> Result<Option<Factor>> {
        let iron = Element::from_symbol("Fe")?;
        let inert = |loss: &LossOnIgnition| loss.atmosphere() == Some(Atmosphere::Inert);
        let air = !matches!(&self.order.loss, CountedLoss::Full(loss) if inert(loss));
        let lower = species.count(Element::O) < 1.5 * species.count(iron);
        let alone = species.atoms().iter().all(|(element, _)| *element == iron || *element == Element::O);
        if !(with_loss && air && lower && alone && species.count(iron) > 0.0) {
            return Ok(None);
        }
        let conversion = self.conversion(species, &Formula::parse("Fe2O3")?, iron)?;
        Ok(Some(Factor { less: Less::One, ..conversion }))
    }

    /// What calcium and magnesium can give off as carbonates.
    fn gives_off(&mut self, species: &Formula) -> Result<Option<Factor>> {
        if !matches!(species.text(), "CaO" | "MgO") {
            return Ok(None);
        }
        let over = self.atoms(&Formula::parse("CO2")?);
        Ok(Some(Factor { over, under: self.atoms(species), ratio: 1.0, less: Less::Nothing }))
    }

    /// The oxygen that a halogen or sulfide stands for where metals are counted as oxides.
    #[expect(clippy::too_many_arguments, reason = "one line of the ledger with all it takes from its part")]
    fn oxygen(
        &mut self,
        species: &Formula,
        element: Element,
        value: &Estimate,
        source: Source,
        left: Option<usize>,
        bases: Option<Bases>,
        all: &[Part],
        origin: &str,
    ) -> Result<()> {
        let alone = species.atoms().len() == 1;
        let halogen = matches!(element.symbol(), "F" | "Cl" | "Br" | "I");
        if !alone || !(halogen || element.symbol() == "S") {
            return Ok(());
        }
        // sulfur sits with metals that form sulfides, a halogen with any
        let bound = |part: &&Part| halogen || part.species.key().is_some_and(|key| forms_sulfide(key.symbol()));
        let oxides: Vec<&str> = all
            .iter()
            .filter(|part| part.species.count(Element::O) > 0.0 && part.source.is_some())
            .filter(bound)
            .map(|part| part.species.text())
            .collect();
        let host = self.order.hosts.iter().find(|(known, ..)| *known == element).cloned();
        let refused = self.order.no_equivalent.contains(&element);
        let (ratio, counted_as) = match (&host, halogen) {
            (_, _) if refused => (None, String::new()),
            (Some((_, host, counted)), _) => (Some(oxygen_per_anion(host, element, counted)?), format!("O of {host}")),
            (None, true) => (Some(0.5), "O of its oxides".to_owned()),
            (None, false) => (None, String::new()),
        };
        match ratio {
            Some(ratio) => {
                let (over, under) = (self.atoms(&Formula::of(&[(Element::O, 1.0)])?), self.atoms(species));
                let factor = Some(Factor { over, under, ratio, less: Less::Nothing });
                let term = Term { source, factor, left, bases, sign: -1.0, ceiling: None, expected: None };
                self.term(term, species, counted_as, Counted::OxygenEquivalent, origin);
            }
            None if !oxides.is_empty() => {
                let content = percent_short(value.value());
                let oxygen = self.weights.get("O")?.weight.value() / self.weights.get(element.symbol())?.weight.value();
                let part = |ratio: f64| Unit::Percent.written(value.value() * oxygen * ratio);
                let with = ["CaO", "Fe2O3", "ZnO", "CuO"].into_iter().find(|oxide| oxides.contains(oxide));
                let with = with.or(oxides.first().copied()).unwrap_or("oxides");
                let sign = Unit::Percent.word();
                let text = if halogen {
                    format!("{species} {content} counted with {with}: subtract {:.3} {sign} O equivalent.", part(0.5))
                } else {
                    format!(
                        "{species} {content} counted with {with}: subtract {:.3} {sign} O equivalent where it sits in MS, \
                         {:.3} {sign} in FeS2. Name its host.",
                        part(1.0),
                        part(0.75)
                    )
                };
                let finding = Finding::new(Code::OxygenEquivalentMissing, species.text(), text);
                self.findings.push(finding.with_value(value.value()));
            }
            None => {}
        }
        Ok(())
    }
}

/// The entry that holds the atoms of a result from elsewhere already, where there is one. Forms declared apart hold no more
/// than their own.
fn elsewhere(species: &Formula, all: &[Part]) -> Option<Formula> {
    let key = species.key()?;
    let holds = |part: &&Part| {
        let apart = part.separate_form && part.species.text() != species.text();
        part.source.is_some() && part.species.count(key) > 0.0 && !apart
    };
    all.iter().find(holds).map(|part| part.species.clone())
}

/// Metals whose sulfides are met in ores (common practice).
fn forms_sulfide(symbol: &str) -> bool {
    const METALS: [&str; 16] =
        ["Fe", "Cu", "Zn", "Pb", "Ni", "Co", "Cd", "Ag", "Hg", "Mo", "Sn", "As", "Sb", "Bi", "Mn", "Tl"];
    METALS.contains(&symbol)
}

/// Whether a species takes up oxygen in the furnace: lower oxides of iron, manganese and copper, metals and sulfides.
pub(crate) fn takes_up_oxygen(species: &Formula) -> bool {
    let (iron, oxygen) = (species.atoms().iter().find(|(e, _)| e.symbol() == "Fe"), species.count(Element::O));
    // iron with other metals (ilmenite, chromite) may be ferrous
    let others = species.atoms().iter().any(|(e, _)| !matches!(e.symbol(), "Fe" | "O"));
    let lower = iron.is_some_and(|(_, count)| others || oxygen < 1.5 * count);
    let bare = oxygen == 0.0 && species.atoms().iter().all(|(e, _)| !matches!(e.symbol(), "F" | "Cl" | "Br" | "I"));
    lower || bare || species.text() == "MnO" || species.text() == "Cu2O"
}

/// A gain that nothing declared explains, and a loss of exactly nothing where a gain is expected.
fn check_gain(
    loss: &Estimate,
    declared: &[(&Formula, &Cell)],
    closure: &Closure,
    weights: &Weights,
) -> Result<Vec<Finding>> {
    let mut findings = Vec::new();
    let content =
        |symbol: &str| declared.iter().find(|(species, _)| species.text() == symbol).and_then(|(_, cell)| cell.value());
    let reduced = declared
        .iter()
        .any(|(species, cell)| cell.value().is_some_and(|value| value.value() > 0.0) && takes_up_oxygen(species));
    const K: f64 = 3.0;
    // grams of oxygen per gram of FeO
    let per_ferrous = factor("FeO", "Fe2O3", weights)?.value() - 1.0;
    if loss.value() < -K * loss.u().unwrap_or(0.0) && !reduced {
        let text = format!(
            "LOI {:.1} {unit} needs about {:.0} {unit} FeO or reduced S/metal, and none is declared.",
            Unit::Percent.written(loss.value()),
            Unit::Percent.written(-loss.value() / per_ferrous),
            unit = Unit::Percent.word()
        );
        findings.push(Finding::new(Code::GainUnexplained, "loss on ignition", text).with_value(loss.value()));
    }
    const NOTABLE: f64 = 0.05;
    if let Some(ferrous) = content("FeO").filter(|ferrous| loss.value() == 0.0 && ferrous.value() > NOTABLE) {
        let (value, u) = (closure.propagated.value(EXPECTED_LOSS), closure.propagated.u(EXPECTED_LOSS));
        let text = format!(
            "LOI is exactly 0.00 although FeO is {}; expected near {:.1} {}. Was a negative value replaced?",
            percent_short(ferrous.value()),
            Unit::Percent.written(value),
            Unit::Percent.word()
        );
        let finding = Finding::new(Code::LossClipped, "loss on ignition", text).with_value(value).with_u(u);
        findings.push(finding.with_bound(0.0));
    }
    Ok(findings)
}
