//! Names to places: turns a charge into the kernel's lists, resolving every name once.

use crate::charge::addition::{Addition, Amount};
use crate::charge::builder::Charge;
use crate::charge::fate::{Fate, ReducesTo, Rule, is_halogen, is_oxide_of, oxygen_per_atom, usual_form};
use crate::charge::kernel::{
    AdditionTerm, Atoms, BasisTerm, Content, Dose, Gas, Kept, Kernel, Place, Portion, Reading, SamplePath,
    SampleSpecies, StatedLoss,
};
use crate::charge::line_compile::{Standing, element_of};
use crate::charge::place::Where;
use crate::charge::plan::Order;
use crate::code::Code;
use crate::composition::unit::{percent_short, percent_text};
use crate::composition::{Basis, Cell, Composition, PerDried, Unit};
use crate::error::{Error, Result};
use crate::finding::Finding;
use crate::substance::{Element, Formula, Weights, carrier, interval_note, places, weight_estimate, weight_name};
use crate::uncertainty::{Estimate, Inputs};

/// How the sample's mass changes in the fusion.
#[derive(Debug, Clone, PartialEq)]
pub(crate) enum Loss {
    /// Stated, as a fraction of the sample as weighed.
    Stated(Estimate),
    /// As in the furnace: the sample as weighed, and ignited.
    AsOnIgnition([PerDried; 2]),
    /// From the composition, element by element.
    FromComposition(Fate),
}

/// A kernel with the names of what goes in and comes out.
pub(crate) struct Compiled {
    pub(crate) kernel: Kernel,
    pub(crate) inputs: Inputs,
    pub(crate) elements: Vec<Element>,
    /// What each element stays as.
    pub(crate) stays_as: Vec<Option<Formula>>,
    pub(crate) gases: Vec<Formula>,
    pub(crate) glass: Vec<Formula>,
    pub(crate) results: Vec<Formula>,
    /// Readings below detection, in the form asked for; behind the results.
    pub(crate) limits: Vec<Formula>,
    pub(crate) findings: Vec<Finding>,
    /// Where the amount of each component of an order of lines comes from.
    pub(crate) standings: Vec<Standing>,
    /// How many inputs stand before those of the lines.
    pub(crate) charge_inputs: usize,
}

/// What an order adds: the readings, the species of their results, and the change of basis.
struct Asked {
    /// Values first, then detection limits.
    readings: Vec<Reading>,
    results: Vec<Formula>,
    limits: Vec<Formula>,
    bases: Option<[BasisTerm; 2]>,
}

pub(crate) struct Compiler<'a> {
    pub(crate) inputs: Inputs,
    pub(crate) elements: Vec<Element>,
    pub(crate) stays_as: Vec<Option<Formula>>,
    pub(crate) gas_names: Vec<Formula>,
    pub(crate) gas_keys: Vec<Element>,
    pub(crate) findings: Vec<Finding>,
    pub(crate) fate: &'a Fate,
    pub(crate) place: Where,
}

pub(crate) fn in_the_sample(species: &Formula) -> String {
    format!("{species} in the sample")
}

pub(crate) fn per_atom(elements: &[Element], stays_as: &[Option<Formula>]) -> Vec<f64> {
    elements
        .iter()
        .zip(stays_as)
        .map(|(element, form)| form.as_ref().map_or(0.0, |form| oxygen_per_atom(*element, form)))
        .collect()
}

pub(crate) fn compile(charge: &Charge, weights: &Weights, loss: &Loss, order: Option<&Order>) -> Result<Compiled> {
    let nothing_stated = Fate::new();
    let fate = match loss {
        Loss::Stated(_) | Loss::AsOnIgnition(_) => &nothing_stated,
        Loss::FromComposition(fate) => fate,
    };
    let mut c = Compiler::new(fate, Where::Melt);
    let lot = charge.flux().lot();
    let sample_mass = c.inputs.push("sample mass", charge.sample().mass_g().clone())?;
    let flux_mass = c.inputs.push("flux mass", charge.flux().mass_g().clone())?;
    let flux_loss = c.inputs.push(lot.loss_name(), lot.loss().clone())?;

    let sample = match (loss, charge.sample().composition()) {
        (Loss::Stated(loss), _) => {
            SamplePath::Stated(StatedLoss::OfWeighed(c.inputs.push("loss on fusion", loss.clone())?))
        }
        (Loss::AsOnIgnition([weighed, ignited]), _) => {
            SamplePath::Stated(StatedLoss::AsOnIgnition([c.placed(weighed.clone())?, c.placed(ignited.clone())?]))
        }
        (Loss::FromComposition(_), Some(composition)) => c.sample(composition)?,
        (Loss::FromComposition(_), None) => {
            return Err(Error::Unstated {
                code: Code::ChargeIncomplete,
                quantity: "What the sample is made of".to_owned(),
                hint: "Give its composition, or state the loss on fusion.".to_owned(),
            });
        }
    };
    let blend = c.blend(lot)?;
    let blanks = c.blanks(lot)?;
    let mut additions = Vec::new();
    for (index, addition) in charge.additions().iter().enumerate() {
        additions.push(c.addition(index, addition, lot.name())?);
    }
    let asked = match order {
        Some(order) => c.order(charge, &sample, order)?,
        None => Asked { readings: Vec::new(), results: Vec::new(), limits: Vec::new(), bases: None },
    };
    // carriers of gases may name elements that nothing else does
    let mut gases = Vec::new();
    for index in 0..c.gas_names.len() {
        gases.push(c.gas(index)?);
    }
    let charge_inputs = c.inputs.len();
    let (lines, standings) = match order.and_then(|order| order.lines.as_ref()) {
        Some(lines) => {
            let taken: Vec<Element> =
                gases.iter().flat_map(|gas| &gas.carriers).map(|&(place, _)| c.elements[place]).collect();
            let (lines, standings) = c.lines(lines, &sample, &additions, &taken)?;
            (Some(lines), standings)
        }
        None => (None, Vec::new()),
    };
    let brought = |place: Place| {
        let stays = |portion: &Portion| portion.element == place && portion.kept != Kept::Nothing;
        blend.portions.iter().any(stays)
            || blanks.iter().any(|blank| blank.element == place)
            || additions.iter().any(|addition| {
                addition.portions.iter().any(stays) || addition.blanks.iter().any(|blank| blank.element == place)
            })
            || gases.iter().flat_map(|gas| &gas.carriers).any(|(carrier, _)| *carrier == place)
    };
    let mut readings = asked.readings;
    readings.iter_mut().for_each(|reading| reading.brought = brought(reading.element));
    let of_sample = |place: Place| match &sample {
        SamplePath::Itemised { portions, .. } => portions.iter().any(|portion| portion.element == place),
        SamplePath::Stated(_) => false,
    };
    let melting = (0..c.elements.len()).filter(|&place| brought(place) || of_sample(place)).collect();
    let glass: Vec<(Place, bool)> = (0..c.elements.len())
        .filter(|&place| order.is_none() && c.stays_as[place].is_some())
        .map(|place| (place, is_halogen(c.elements[place])))
        .collect();
    let first = c.inputs.len();
    for &element in &c.elements {
        c.inputs.push(weight_name(element), weight_estimate(element, weights)?)?;
    }
    c.findings.extend(interval_note(&c.elements, weights)?);
    let oxygen_per_atom = per_atom(&c.elements, &c.stays_as);
    let glass_forms = glass.iter().filter_map(|(place, _)| c.stays_as[*place].clone()).collect();
    let kernel = Kernel {
        sample_mass,
        flux_mass,
        flux_loss,
        weights: first..first + c.elements.len(),
        oxygen: 0,
        oxygen_per_atom,
        sample,
        blend,
        blanks,
        additions,
        gases,
        melting,
        glass,
        readings,
        lines,
        bases: asked.bases,
    };
    Ok(Compiled {
        kernel,
        inputs: c.inputs,
        elements: c.elements,
        stays_as: c.stays_as,
        gases: c.gas_names,
        glass: glass_forms,
        results: asked.results,
        limits: asked.limits,
        findings: c.findings,
        standings,
        charge_inputs,
    })
}

impl<'a> Compiler<'a> {
    pub(crate) fn new(fate: &'a Fate, place: Where) -> Self {
        Self {
            inputs: Inputs::new(),
            elements: vec![Element::O],
            stays_as: vec![None],
            gas_names: Vec::new(),
            gas_keys: Vec::new(),
            findings: Vec::new(),
            fate,
            place,
        }
    }

    pub(crate) fn place(&mut self, element: Element) -> Place {
        let place = self.elements.iter().position(|known| *known == element).unwrap_or_else(|| {
            self.elements.push(element);
            self.elements.len() - 1
        });
        self.stays_as.resize(self.elements.len(), None);
        place
    }

    pub(crate) fn atoms(&mut self, formula: &Formula) -> Atoms {
        let atoms = places(formula, &mut self.elements);
        self.stays_as.resize(self.elements.len(), None);
        atoms
    }

    pub(crate) fn key(&self, species: &Formula) -> Result<Element> {
        species.key().ok_or_else(|| Error::Conflict {
            code: Code::FactorSeveralElements,
            detail: format!("{species} stands for no single element."),
            hint: "A blank or reading is an element or its oxide.".to_owned(),
        })
    }

    /// Notes the form an element stays in; two different forms of one element in one melt are refused.
    pub(crate) fn stays(&mut self, place: Place, form: &Formula) -> Result<()> {
        let element = self.elements[place];
        match &self.stays_as[place] {
            Some(held) if oxygen_per_atom(element, held) != oxygen_per_atom(element, form) => Err(Error::Conflict {
                code: Code::FateNotStated,
                detail: format!("{} would stand in the glass as {held} and as {form}.", element.name()),
                hint: "State the one oxide it stays as.".to_owned(),
            }),
            Some(_) => Ok(()),
            None => {
                self.stays_as[place] = Some(form.clone());
                Ok(())
            }
        }
    }

    fn gas_index(&mut self, element: Element, gas: &Formula) -> usize {
        let known =
            self.gas_names.iter().zip(&self.gas_keys).position(|(g, e)| g.text() == gas.text() && *e == element);
        known.unwrap_or_else(|| {
            self.gas_names.push(gas.clone());
            self.gas_keys.push(element);
            self.gas_names.len() - 1
        })
    }

    pub(crate) fn gas(&mut self, index: usize) -> Result<Gas> {
        let (formula, key) = (self.gas_names[index].clone(), self.gas_keys[index]);
        let per_key = |element| formula.count(element) / formula.count(key);
        let others: Vec<Element> = formula
            .atoms()
            .iter()
            .map(|(element, _)| *element)
            .filter(|element| *element != key && *element != Element::O && *element != Element::H)
            .collect();
        let mut carriers = Vec::new();
        for element in others {
            let place = self.place(element);
            if self.stays_as[place].is_none() {
                let form =
                    self.fate.get(element).map_or_else(|| usual_form(element), |rule| Ok(rule.stays_as.clone()))?;
                self.stays(place, &form)?;
            }
            carriers.push((place, per_key(element)));
        }
        let hydrogen = if key == Element::H { 0.0 } else { per_key(Element::H) };
        let key_place = self.place(key);
        Ok(Gas { key: key_place, carriers, oxygen: per_key(Element::O), hydrogen })
    }

    /// What an element of a stream does where nothing is stated: carbon and hydrogen leave, oxygen is booked apart,
    /// others stay in their usual form.
    pub(crate) fn default_portion(&mut self, place: Place, route: Option<ReducesTo>) -> Result<Portion> {
        let element = self.elements[place];
        let gas = match element.symbol() {
            "C" => Some("CO2"),
            "H" => Some("H2O"),
            "N" => Some(route.unwrap_or(ReducesTo::N2).gas()),
            _ => None,
        };
        if let Some(gas) = gas {
            let gas = self.gas_index(element, &Formula::parse(gas)?);
            return Ok(Portion { element: place, kept: Kept::Nothing, gas: Some(gas) });
        }
        if element != Element::O {
            let form = match (self.fate.get(element), &self.stays_as[place]) {
                // a rule under which all of the sample's leaves names no form for what an addition brings
                (Some(rule), _) if is_halogen(element) || rule.stays_as.count(Element::O) > 0.0 => {
                    rule.stays_as.clone()
                }
                (_, Some(form)) => form.clone(),
                (_, None) => usual_form(element)?,
            };
            self.stays(place, &form)?;
        }
        Ok(Portion { element: place, kept: if element == Element::O { Kept::Nothing } else { Kept::All }, gas: None })
    }

    pub(crate) fn sample(&mut self, composition: &Composition) -> Result<SamplePath> {
        let mut species = Vec::new();
        let mut named = 0.0;
        for entry in composition.entries() {
            match &entry.cell {
                Cell::Value(value) => {
                    named += value.value();
                    let content = self.inputs.push(in_the_sample(&entry.species), value.clone())?;
                    let atoms = self.atoms(&entry.species);
                    self.findings.extend(entry.species.findings().iter().cloned());
                    species.push(SampleSpecies { content, atoms });
                }
                // Not there, or so little that it stays in the part no species accounts for.
                Cell::Absent | Cell::Below { .. } | Cell::Unknown => {}
            }
        }
        let unnamed = 1.0 - named;
        // Sums of real analyses run a little past 100 %; beyond this something was counted twice.
        const OVERFULL: f64 = -0.05;
        if unnamed < OVERFULL {
            return Err(Error::OutOfRange {
                code: Code::CompositionOverfull,
                quantity: "The sum of the declared species of the sample,".to_owned(),
                value: Unit::Percent.written(named),
                unit: "%",
                bound: format!("up to {}", percent_text(1.0 - OVERFULL)),
                hint: "Is an element counted in two species, or is the unit of the numbers another?".to_owned(),
            });
        }
        // Past this the loss on fusion rests on what is not known.
        const LARGE: f64 = 0.05;
        // Rounding of printed contents is not worth a note.
        const ROUNDING: f64 = 1e-9;
        if unnamed < -ROUNDING {
            let text = format!(
                "The declared species add up to {}; what is too much was taken off the {} as it stands.",
                percent_short(named),
                self.place.residue()
            );
            self.findings.push(Finding::new(Code::RemainderCarried, "sample", text).with_value(unnamed));
        } else if unnamed > ROUNDING {
            let (share, residue) = (percent_short(unnamed), self.place.residue());
            let code = if unnamed > LARGE { Code::RemainderLarge } else { Code::RemainderCarried };
            self.findings.push(
                Finding::new(
                    code,
                    "sample",
                    format!("The declared species leave {share} of the sample unnamed; it is carried into the {residue} unchanged."),
                )
                .with_value(unnamed),
            );
        }
        let mut portions = Vec::new();
        let present: Vec<Place> = {
            let mut seen = Vec::new();
            for &(place, _) in species.iter().flat_map(|s| &s.atoms) {
                if place != 0 && !seen.contains(&place) {
                    seen.push(place);
                }
            }
            seen
        };
        for place in present {
            let element = self.elements[place];
            let portion = match self.fate.get(element).cloned() {
                Some(rule) => self.ruled_portion(place, &rule)?,
                None => {
                    if element == Element::N {
                        let text = "Nitrogen of the sample was taken to leave as N2.";
                        self.findings.push(Finding::new(Code::FateAssumed, "N", text));
                    }
                    self.assume_declared_form(place, composition)?;
                    self.default_portion(place, None)?
                }
            };
            portions.push(portion);
        }
        Ok(SamplePath::Itemised { species, portions })
    }

    fn ruled_portion(&mut self, place: Place, rule: &Rule) -> Result<Portion> {
        let element = self.elements[place];
        let gas = rule.leaves_as.as_ref().map(|gas| self.gas_index(element, gas));
        let kept = match &rule.kept {
            None => Kept::All,
            Some(kept) if kept.value() == 0.0 && kept.u() == Some(0.0) => Kept::Nothing,
            Some(kept) => Kept::Share(self.inputs.push(self.place.share(element), kept.clone())?),
        };
        if kept != Kept::Nothing {
            self.stays(place, &rule.stays_as)?;
        }
        Ok(Portion { element: place, kept, gas })
    }

    /// An element without a usual glass oxide that comes as one single oxide: taken to stay so, and said.
    fn assume_declared_form(&mut self, place: Place, composition: &Composition) -> Result<()> {
        let element = self.elements[place];
        if is_halogen(element) {
            return Err(self.not_stated(element, "kept, or lost as a gas (HF, SiF4, BF3, HCl, KCl, ...)"));
        }
        if element.symbol() == "S" {
            return Err(self.not_stated(element, "kept as sulfate, lost as SO2, or a share of each"));
        }
        if matches!(element.symbol(), "C" | "H" | "N") || usual_form(element).is_ok() {
            return Ok(());
        }
        if self.place == Where::Furnace {
            return Err(self.not_stated(element, "the oxide it stands as after ignition at that temperature"));
        }
        let mut forms = composition.entries().iter().filter(|entry| entry.species.count(element) > 0.0);
        match (forms.next(), forms.next()) {
            (Some(entry), None) if is_oxide_of(element, &entry.species) => {
                self.findings.push(Finding::new(
                    Code::FateAssumed,
                    element.symbol(),
                    format!("{} was taken to stay in the glass as it was declared, {}.", element.name(), entry.species),
                ));
                self.stays(place, &entry.species)
            }
            _ => Err(self.not_stated(element, "the oxide it stays as")),
        }
    }

    fn addition(&mut self, index: usize, addition: &Addition, lot: &str) -> Result<AdditionTerm> {
        let species = addition.species();
        // Two additions of one substance are two weighings.
        let label = format!("{species} (addition {})", index + 1);
        let dose = match addition.amount() {
            Amount::Mass(mass) => Dose::Mass(self.inputs.push(format!("{label} mass"), mass.clone())?),
            Amount::Tablets { count, each_g } => {
                let each = self.inputs.push(format!("{label} tablet mass"), each_g.clone())?;
                Dose::Tablets { count: f64::from(*count), each }
            }
            Amount::ShareOfFlux(share) => {
                Dose::ShareOfFlux(self.inputs.push(format!("{label} share of flux lot {lot}"), share.clone())?)
            }
            Amount::Solution { volume_ml, concentration_g_per_l } => Dose::Solution {
                volume_ml: self.inputs.push(format!("{label} volume"), volume_ml.clone())?,
                g_per_l: self.inputs.push(format!("{label} concentration"), concentration_g_per_l.clone())?,
            },
        };
        let atoms = self.atoms(species);
        self.findings.extend(species.findings().iter().cloned());
        let mut portions = Vec::new();
        for &(place, _) in &atoms {
            let element = self.elements[place];
            portions.push(match &addition.retained {
                Some((halogen, retained)) if *halogen == element => {
                    let name = format!("{label} retained {}", element.symbol());
                    let kept = Kept::Share(self.inputs.push(name, retained.clone())?);
                    self.stays(place, &usual_form(element)?)?;
                    let gas = if is_halogen(element) { format!("H{}", element.symbol()) } else { "SO2".to_owned() };
                    let gas = self.gas_index(element, &Formula::parse(&gas)?);
                    Portion { element: place, kept, gas: Some(gas) }
                }
                _ => self.default_portion(place, addition.reduces_to())?,
            });
        }
        let mut blanks = Vec::new();
        for (species, content) in addition.blanks() {
            blanks.push(self.blank(species, format!("{species} in {label}"), content)?);
        }
        Ok(AdditionTerm { dose, atoms, portions, blanks })
    }

    fn order(&mut self, charge: &Charge, sample: &SamplePath, order: &Order) -> Result<Asked> {
        let weighed = charge.sample().basis();
        let bases = match order.basis {
            Some(basis) if basis != weighed => Some([self.basis_term(weighed, order)?, self.basis_term(basis, order)?]),
            _ => None,
        };
        let mut asked = Asked { readings: Vec::new(), results: Vec::new(), limits: Vec::new(), bases };
        order.form.check(&order.readings)?;
        let entries = order.readings.entries().iter();
        let mut read = Vec::new();
        if order.lines.is_some() {
            read.extend(entries.clone().map(|entry| (entry, None, false)));
        } else {
            read.extend(entries.clone().filter_map(|entry| Some((entry, Some(entry.cell.value()?.clone()), false))));
            for entry in entries.clone() {
                if let Cell::Below { limit } = entry.cell {
                    read.push((entry, Some(Estimate::exact(limit)?), true));
                }
            }
        }
        let reported = order.lines.as_ref().map_or(usize::MAX, |lines| lines.reported);
        for (row, (entry, value, is_limit)) in read.into_iter().enumerate() {
            let element = if order.lines.is_some() { element_of(&entry.species)? } else { self.key(&entry.species)? };
            let target = order.form.target(&entry.species, element)?;
            carrier(&entry.species, &target, Some(element))?;
            let content = match value {
                Some(value) => Content::Read(self.inputs.push(format!("{} in the glass", entry.species), value)?),
                None => Content::Solved,
            };
            let place = self.place(element);
            // What flux and additions bring is taken off a reading once.
            if asked.readings.iter().any(|reading| reading.element == place) {
                return Err(Error::Conflict {
                    code: Code::SpeciesElementTwice,
                    detail: format!("The glass was read twice for {}.", element.name()),
                    hint: "A bead does not tell its forms apart; give one reading per element.".to_owned(),
                });
            }
            let kept = match sample {
                SamplePath::Itemised { portions, .. } => {
                    portions.iter().find(|portion| portion.element == place).map_or(Kept::All, |portion| portion.kept)
                }
                SamplePath::Stated(_) => Kept::All,
            };
            let gone = match kept {
                Kept::All => false,
                Kept::Nothing => true,
                Kept::Share(share) => self.inputs.get(share).is_some_and(|input| input.estimate.value() == 0.0),
            };
            if gone {
                return Err(Error::Conflict {
                    code: Code::AnalyteLost,
                    detail: format!(
                        "{} is declared to leave the melt entirely, yet it was read in the glass.",
                        element.name()
                    ),
                    hint: "State the share that is kept, or leave the reading out.".to_owned(),
                });
            }
            let reading = Reading {
                content,
                element: place,
                atoms: self.atoms(&entry.species),
                count: entry.species.count(element),
                target: self.atoms(&target),
                target_count: target.count(element),
                as_read: self.atoms(&target) == self.atoms(&entry.species),
                kept,
                brought: true,
            };
            asked.readings.push(reading);
            match (is_limit, row < reported) {
                (true, _) => asked.limits.push(target),
                (false, true) => asked.results.push(target),
                (false, false) => {}
            }
        }
        Ok(asked)
    }

    fn basis_term(&mut self, basis: Basis, order: &Order) -> Result<BasisTerm> {
        self.placed(order.links.per_dried(basis)?)
    }

    fn placed(&mut self, per_dried: PerDried) -> Result<BasisTerm> {
        let input = match per_dried.input() {
            Some((name, estimate)) => Some(self.inputs.push(name, estimate.clone())?),
            None => None,
        };
        Ok(BasisTerm { per_dried, input })
    }

    fn not_stated(&self, element: Element, choices: &str) -> Error {
        let (place, step) = (self.place.word(), self.place.step());
        Error::Unstated {
            code: Code::FateNotStated,
            quantity: format!("What {} becomes in the {place}", element.name()),
            hint: format!("It is a fact of your {step}: {choices}."),
        }
    }
}
