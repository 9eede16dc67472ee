//! Rows that one plan serves: those of a flux lot, a class and a basis as weighed, with the same cells there.

use std::sync::Arc;
use std::sync::atomic::{AtomicUsize, Ordering};

use crate::batch::asked::{Asked, OfLines};
use crate::batch::correction::{Correction, FusionLoss};
use crate::batch::field::{Field, Quantity, Spread};
use crate::batch::glass::{Read, ask_glass};
use crate::batch::judge::Gains;
use crate::batch::outline::Bounds;
use crate::charge::{Amount, BasisTerm, Contributions, Form, GLASS_MASS, Melt, Plan};
use crate::code::Code;
use crate::composition::{
    Basis, BasisLinks, ClosureOrder, ClosureSum, External, LossOnIgnition, PerDried, loss_input, takes_up_oxygen,
};
use crate::error::{Error, Result};
use crate::finding::Finding;
use crate::matrix::Stretch;
use crate::matrix::net::NetPlaces;
use crate::substance::Formula;
use crate::uncertainty::{Estimate, Inputs};

/// What rows must share to be served by one plan.
#[derive(Debug, Clone, PartialEq, Eq, Hash)]
pub(crate) struct Key {
    /// Place among the lots.
    pub(crate) lot: usize,
    /// Place among the coefficient sets.
    pub(crate) class: usize,
    /// Word of the basis as weighed; that of the charge to go by where none is given.
    pub(crate) weighed: Option<String>,
    /// Which of the fields are there.
    pub(crate) there: Vec<bool>,
    /// For each list of readings of the monitors where the rows lie.
    pub(crate) stretches: Vec<Stretch>,
}

/// From the cell of a field to an input.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Binding {
    pub(crate) field: usize,
    pub(crate) input: usize,
}

/// From how far a row lies between two readings of a monitor to an input.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Way {
    pub(crate) list: usize,
    pub(crate) input: usize,
}

/// The range of standards of an analyte, in the glass.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Covered {
    pub(crate) result: usize,
    pub(crate) low: f64,
    pub(crate) high: f64,
}

/// Bounds within which nothing is to be said of the results of a row.
#[derive(Debug)]
pub(crate) struct Screen {
    /// The fused flux ratios that the coefficients hold for.
    pub(crate) ratio: Bounds,
    /// Outputs, and the range of standards of each in the glass.
    pub(crate) in_glass: Vec<(usize, Bounds)>,
    /// Counted lines, which are looked at where backgrounds are more than the peak.
    pub(crate) counted: Vec<NetPlaces>,
    /// Results by their place, and the range of contents that the coefficients were made for.
    pub(crate) stayed: Vec<(usize, Bounds)>,
    /// The total, where there is a rule for it.
    pub(crate) total: Option<Bounds>,
    /// The input of the loss on ignition, which is looked at where it is not above zero.
    pub(crate) loss: Option<usize>,
    /// Whether every row is to be looked at for its loss on ignition.
    pub(crate) every_loss: bool,
}

/// Tells compiled groups apart.
static NUMBER: AtomicUsize = AtomicUsize::new(0);

/// One plan and what its rows need.
#[derive(Debug)]
pub(crate) struct Group {
    pub(crate) number: usize,
    pub(crate) key: Key,
    pub(crate) screen: Screen,
    pub(crate) plan: Plan,
    /// The inputs of the plan, then those that only the total has.
    pub(crate) constants: Vec<f64>,
    pub(crate) bindings: Vec<Binding>,
    /// Whether each field is bound.
    pub(crate) reads: Vec<bool>,
    pub(crate) ways: Vec<Way>,
    /// Lines of which each row is to be asked what its drift says.
    pub(crate) watched: Vec<String>,
    /// For each result of the correction the output of the plan it stands in; nothing where its line was not measured.
    pub(crate) results: Vec<Option<usize>>,
    pub(crate) sum: Option<ClosureSum>,
    /// The fused flux ratios that the coefficients hold for.
    pub(crate) flux_ratios: (f64, f64),
    pub(crate) covered: Vec<Covered>,
    /// For each further basis how it follows from that of the weighing; nothing where what it needs is not there.
    pub(crate) also: Vec<Option<[BasisTerm; 2]>>,
    /// What the variances of the results are made of.
    pub(crate) contributions: Option<Arc<Contributions>>,
    /// For each result its place among the variances, for each two results theirs among the covariances.
    pub(crate) spreads: Vec<Option<usize>>,
    pub(crate) pairs: Vec<Option<usize>>,
    /// For each result whether the u of all it depends on is stated.
    pub(crate) stated: Vec<bool>,
    /// The results as the coefficients write them, in the order of the plan.
    pub(crate) analytes: Vec<String>,
    /// Whether the loss on fusion is known, and whether it is that on ignition.
    pub(crate) loses: bool,
    pub(crate) loses_as_ignited: bool,
    /// Whether a gain of the furnace is one of the fusion too.
    pub(crate) gains_oxygen: bool,
    /// For each result whether flux or additions bring of it too.
    pub(crate) brought: Vec<bool>,
    /// Standard uncertainty of the predicted bead mass, g.
    pub(crate) u_bead_g: f64,
    /// What is dosed beside the columns, g.
    pub(crate) dosed_g: f64,
    /// Contents that take up oxygen in the furnace, by the place of their result or field.
    pub(crate) gains: Vec<(Gains, usize)>,
    /// Fields that are not there, and what they would give, which its total is without.
    pub(crate) uncounted: Vec<(usize, String)>,
    /// Warnings that hold for every row.
    pub(crate) findings: Vec<Finding>,
    /// What is said once: lines that were not measured, and the like.
    pub(crate) notes: Vec<Finding>,
    /// Inputs of results of which neither column nor method states a u.
    pub(crate) unstated: Vec<String>,
}

/// Nothing says what the sample loses in the fusion.
fn no_loss() -> Error {
    Error::Unstated {
        code: Code::ChargeIncomplete,
        quantity: "What the sample loses in the fusion".to_owned(),
        hint: "Fill its column, or state one loss for all rows.".to_owned(),
    }
}

/// Loss, moisture and contents of the bead that a plan is compiled from.
pub(super) const SOME: f64 = 0.0125;

impl Correction {
    /// The plan of the rows of a key.
    pub(crate) fn group(&self, key: &Key) -> Result<Group> {
        let there = |quantity: &Quantity| {
            let place = self.fields.iter().position(|field| field.quantity == *quantity);
            place.filter(|&place| key.there[place]).map(|place| &self.fields[place])
        };
        let mut recipe = self.recipe.with_lot(&self.lots[key.lot])?;
        if let Some(word) = &key.weighed {
            recipe = recipe.weighed_on(Basis::parse(word)?)?;
        }
        let weighed = recipe.sample().basis();
        let mut links = BasisLinks::default();
        if let Some(field) = there(&Quantity::Moisture) {
            links = links.moisture(some(field, SOME)?)?;
        }
        if let Some(field) = there(&Quantity::AirMoisture) {
            links = links.air_moisture(some(field, SOME)?)?;
        }
        let temperature = self.loss_temperature_c.or(match (weighed, self.basis()) {
            (Basis::Ignited { temperature_c }, _) | (_, Basis::Ignited { temperature_c }) => Some(temperature_c),
            _ => None,
        });
        let on_ignition = loss_input(temperature);
        let nothing = || Estimate::exact(0.0);
        let (melt, lacks) = match (&self.fusion, there(&Quantity::LossOnFusion), there(&Quantity::LossOnIgnition)) {
            (FusionLoss::Fixed(loss), ..) => (recipe.fuse_with_loss(&self.weights, loss.clone())?, None),
            (FusionLoss::Column, Some(field), _) => (recipe.fuse_with_loss(&self.weights, some(field, SOME)?)?, None),
            (FusionLoss::AsOnIgnition, _, Some(field)) => {
                let ignited = PerDried::Ignited { name: on_ignition.clone(), loss: some(field, SOME)? };
                let weighed = match weighed {
                    Basis::Ignited { .. } => Ok(ignited.clone()),
                    other => links.per_dried(other),
                };
                match weighed {
                    Ok(weighed) => (recipe.fuse_as_on_ignition(&self.weights, [weighed, ignited])?, None),
                    Err(error) => {
                        let quantity = error.quantity().to_owned();
                        let hint = "The loss counts from the powder as weighed, so a column of it must be declared and filled.";
                        let hint = hint.to_owned();
                        let lacks = Error::Unstated { code: Code::BasisNeeds, quantity, hint };
                        (recipe.fuse_with_loss(&self.weights, nothing()?)?, Some(lacks))
                    }
                }
            }
            _ => (recipe.fuse_with_loss(&self.weights, nothing()?)?, Some(no_loss())),
        };
        let loses = lacks.is_none();
        let Asked { result, mut findings, mut notes, drift, of_lines } = match (&self.read, &lacks) {
            (Read::Lines(method), _) => self.ask_lines(method, key, &melt, &there)?,
            (Read::Glass(_), Some(error)) => return Err(error.clone()),
            (Read::Glass(read), None) => ask_glass(read, &melt, &there)?,
        };
        let loss = match (there(&Quantity::LossOnIgnition), temperature) {
            (Some(field), Some(temperature)) => Some(LossOnIgnition::new(some(field, SOME)?, temperature)?),
            _ => None,
        };
        if let Some(loss) = &loss {
            links = links.loss_on_ignition(loss.clone());
        }
        // a row weighed on another basis than the charge to go by gives its results on the basis of the columns too
        let ordered = if weighed == self.basis() && self.form == Form::AsRead {
            result
        } else {
            result.on(self.basis(), &links, &self.form)?
        };
        let dosed_g = self.dosed(&melt);
        let u_bead_g = melt.propagated().u(GLASS_MASS);
        let is_read = |species: &String| ordered.output_of(species).is_ok();
        let order = self.closure_order(loss.as_ref(), &there, &links, &is_read)?;
        if order.is_none() {
            notes.push(self.no_total());
        }
        if let Some(error) = &lacks {
            let text = format!(
                "Rows without a loss on fusion have no predicted bead mass and no dilution: these are null. {error}"
            );
            notes.push(Finding::new(Code::ResultNotMade, "loss on fusion", text));
        }
        let closure = order.as_ref().map(|order| ordered.closure(order)).transpose()?;
        let plan = ordered.plan().clone();
        let mut inputs = closure.as_ref().map_or_else(|| plan.inputs().clone(), |closure| closure.inputs().clone());
        let mut also = Vec::new();
        for &basis in &self.also_on {
            also.push(match (links.per_dried(self.basis()), links.per_dried(basis)) {
                (Ok(held), Ok(asked)) => Some([term(held, &mut inputs)?, term(asked, &mut inputs)?]),
                (Err(error), _) | (_, Err(error)) => {
                    let text = format!("Rows without it have no results {basis}: these are null. {error}");
                    notes.push(Finding::new(Code::ResultNotMade, basis.to_string(), text));
                    None
                }
            });
        }
        let mut bindings = Vec::new();
        for (place, field) in self.fields.iter().enumerate().filter(|(place, _)| key.there[*place]) {
            let named = |name: &str| inputs.index_of(name);
            let input = match &field.quantity {
                Quantity::SampleMass => named("sample mass"),
                Quantity::FluxMass => named("flux mass"),
                Quantity::FluxLoss => named(&self.lots[key.lot].loss_name()),
                Quantity::LossOnFusion if self.fusion == FusionLoss::Column => named("loss on fusion"),
                Quantity::Addition(addition) => {
                    named(&format!("{} (addition {}) mass", recipe.additions()[*addition].species(), addition + 1))
                }
                Quantity::Intensity(line) => named(&format!("{line} net intensity")),
                Quantity::Peak(_) | Quantity::Background(..) => named(&field.quantity.in_words()),
                Quantity::Glass(_) => named(&field.quantity.in_words()),
                Quantity::Known(component) => named(&format!("{component} known from elsewhere")),
                Quantity::External(species) => named(&format!("{species} by {ELSEWHERE}")),
                Quantity::Moisture => moist(&links, Basis::AsReceived).and_then(|name| named(&name)),
                Quantity::AirMoisture => moist(&links, Basis::AirEquilibrated).and_then(|name| named(&name)),
                _ => None,
            };
            bindings.extend(input.map(|input| Binding { field: place, input }));
            if field.quantity == Quantity::LossOnIgnition {
                bindings.extend(named(&on_ignition).map(|input| Binding { field: place, input }));
            }
        }
        let way = |(name, list): &(String, usize)| inputs.index_of(name).map(|input| Way { list: *list, input });
        let ways = drift.ways.iter().filter_map(way).collect();
        let species = self.species()?;
        let of_closure = closure.iter().flat_map(|closure| closure.findings());
        let standing = |code: Code| {
            matches!(code, Code::OxygenEquivalentMissing | Code::ClosureCountedTwice | Code::ClosureMeasuredTwice)
        };
        findings.extend(of_closure.filter(|finding| standing(finding.code)).cloned());
        let results: Vec<Option<usize>> = species.iter().map(|species| ordered.output_of(species).ok()).collect();
        // what has a u of its own: by the charge to go by, by the method, or by a declared column
        let mut own: Vec<bool> = plan.own_u::<f64>().iter().map(|&u| u != 0.0).collect();
        for binding in &bindings {
            if let Some(own) = own.get_mut(binding.input) {
                *own |= self.fields[binding.field].u != Spread::Unstated;
            }
        }
        let by_column = |name: &&str| {
            let of = |binding: &Binding| inputs.index_of(name) == Some(binding.input);
            bindings.iter().any(|binding| of(binding) && self.fields[binding.field].u != Spread::Unstated)
        };
        let known = |output: &Option<usize>| {
            output.is_some_and(|output| ordered.propagated().unstated(output).iter().all(by_column))
        };
        let stated = results.iter().map(known).collect();
        let of_results = results.iter().flatten().flat_map(|&output| ordered.propagated().unstated(output));
        let mut unstated: Vec<String> = of_results.filter(|name| !by_column(name)).map(str::to_owned).collect();
        unstated.sort_unstable();
        unstated.dedup();
        let first = ordered.output(0);
        let spreads: Vec<Option<usize>> = results.iter().map(|output| output.map(|output| output - first)).collect();
        let count = ordered.count();
        let mut pairs = Vec::new();
        for (place, one) in spreads.iter().enumerate() {
            for other in &spreads[place..] {
                pairs.push(one.zip(*other).map(|(one, other)| pair(one.min(other), one.max(other), count)));
            }
        }
        let OfLines { class, flux_ratios, covered, stayed, alone } = of_lines;
        let as_weighed = self.basis() == weighed && self.form == Form::AsRead;
        let covered = if as_weighed { covered } else { Vec::new() };
        let analytes: Vec<String> = ordered.readings().into_iter().take(count).collect();
        let screen = Screen {
            stayed,
            counted: plan.counted_lines(&alone),
            ..self.screen(class.as_deref(), flux_ratios, &covered, &results, &bindings)
        };
        Ok(Group {
            number: NUMBER.fetch_add(1, Ordering::Relaxed),
            key: key.clone(),
            screen,
            stated,
            analytes,
            constants: inputs.values(),
            also,
            contributions: Contributions::new(&plan, &own).map(Arc::new),
            spreads,
            pairs,
            reads: (0..self.fields.len()).map(|place| bindings.iter().any(|binding| binding.field == place)).collect(),
            bindings,
            ways,
            watched: drift.watched,
            uncounted: if closure.is_some() { self.uncounted(key, &there) } else { Vec::new() },
            sum: closure.map(|closure| closure.into_sum()),
            flux_ratios,
            covered,
            loses,
            loses_as_ignited: self.fusion == FusionLoss::AsOnIgnition,
            gains_oxygen: !matches!((&self.fusion, weighed), (FusionLoss::AsOnIgnition, Basis::Ignited { .. })),
            brought: plan.brings(),
            u_bead_g,
            dosed_g,
            gains: self.gains(key)?,
            results,
            findings,
            notes,
            unstated,
            plan,
        })
    }

    /// What of the rows of a class is to be looked at. Bounds are drawn in by more than rounding, since what is written to the
    /// columns decides.
    fn screen(
        &self,
        class: Option<&str>,
        flux_ratios: (f64, f64),
        covered: &[Covered],
        results: &[Option<usize>],
        bindings: &[Binding],
    ) -> Screen {
        const IN: f64 = 1e-12;
        let drawn_in = |low: f64, high: f64| Bounds::of(low * (1.0 + IN), high * (1.0 - IN));
        let in_glass = covered.iter().filter_map(|covered| {
            let low = if covered.low > 0.0 { covered.low } else { f64::NEG_INFINITY };
            results[covered.result].map(|output| (output, drawn_in(low, covered.high)))
        });
        let rules = self.rules.as_ref();
        let of_loss = |binding: &&Binding| self.fields[binding.field].quantity == Quantity::LossOnIgnition;
        let loss = bindings.iter().find(of_loss).map(|binding| binding.input);
        Screen {
            ratio: Bounds::of(flux_ratios.0, flux_ratios.1),
            in_glass: in_glass.collect(),
            counted: Vec::new(),
            stayed: Vec::new(),
            total: rules.and_then(|rules| rules.stated_total().ok()).map(|limit| drawn_in(limit.low, limit.high)),
            loss,
            every_loss: loss.is_none() || rules.zip(class).is_some_and(|(rules, class)| rules.knows_loss_of(class)),
        }
    }

    /// What is totalled: nothing where no loss on ignition is there, or where the results do not stand on the dried basis.
    fn closure_order<'a>(
        &self,
        loss: Option<&LossOnIgnition>,
        there: &impl Fn(&Quantity) -> Option<&'a Field>,
        links: &BasisLinks,
        is_read: &impl Fn(&String) -> bool,
    ) -> Result<Option<ClosureOrder>> {
        let Some(field) = there(&Quantity::LossOnIgnition).filter(|_| self.basis() == Basis::Dried) else {
            return Ok(None);
        };
        let mut order = ClosureOrder::new().links(links);
        order = match loss {
            Some(loss) => order.loss(loss),
            None => order.draft_loss(some(field, SOME)?)?,
        };
        for species in &self.counted_as {
            order = order.counted_as(species)?;
        }
        // whatever form results are reported in, what was read is totalled
        let counted_as = self.counted_as.iter().map(|species| Formula::parse(species)).collect::<Result<Vec<_>>>()?;
        for (read, reported) in self.as_read()?.iter().zip(&*self.species()?) {
            let is_stated = counted_as.iter().any(|held| held.key() == read.key());
            if read.text() != reported && read.key().is_some() && !is_stated && is_read(reported) {
                order = order.counted_as(read.text())?;
            }
        }
        for field in &self.fields {
            if let (Quantity::External(species), true) = (&field.quantity, there(&field.quantity).is_some()) {
                order = order.external(External::new(species, some(field, SOME)?, Basis::Dried, ELSEWHERE)?);
            }
        }
        Ok(Some(order))
    }

    /// What was asked for and not read, and is therefore not in the total: the fields, and what they would give.
    fn uncounted<'a>(&self, key: &Key, there: &impl Fn(&Quantity) -> Option<&'a Field>) -> Vec<(usize, String)> {
        let is_counted_otherwise = |species: &str| there(&Quantity::External(species.to_owned())).is_some();
        let unread = self.fields.iter().enumerate().filter(|(place, _)| !key.there[*place]);
        let species = unread.filter_map(|(place, field)| match (&field.quantity, &self.read) {
            (Quantity::Glass(species), _) => Some((place, species.clone())),
            (Quantity::Intensity(line) | Quantity::Peak(line), Read::Lines(method)) => {
                let set = &method.coefficients()[key.class];
                let line = set.lines().iter().find(|held| held.line == *line)?;
                Some((place, set.components()[line.analyte].text().to_owned()))
            }
            _ => None,
        });
        species.filter(|(_, species)| !is_counted_otherwise(species)).collect()
    }

    /// Why rows have no total.
    fn no_total(&self) -> Finding {
        let text = match self.field_of(&Quantity::LossOnIgnition) {
            Some(field) if self.basis() == Basis::Dried => format!(
                "Rows without a loss on ignition have no total: total_percent is null. Is the column {} missing, or empty there?",
                field.name()
            ),
            _ => format!(
                "Results {} are not totalled. A total wants results on the dried basis and their loss.",
                self.basis()
            ),
        };
        Finding::new(Code::TotalNotMade, "total", text)
    }

    /// What takes up oxygen in the furnace, among results and fields.
    fn gains(&self, key: &Key) -> Result<Vec<(Gains, usize)>> {
        let mut gains = Vec::new();
        for (place, read) in self.as_read()?.iter().enumerate() {
            if takes_up_oxygen(read) {
                gains.push((Gains::Result, place));
            }
        }
        for (place, field) in self.fields.iter().enumerate().filter(|(place, _)| key.there[*place]) {
            if let Quantity::External(species) | Quantity::Known(species) = &field.quantity
                && takes_up_oxygen(&Formula::parse(species)?)
            {
                gains.push((Gains::Field, place));
            }
        }
        Ok(gains)
    }

    /// Additions that no column weighs, g.
    fn dosed(&self, melt: &Melt) -> f64 {
        let ledger = melt.ledger();
        let weighed = melt.charge().additions().iter().map(|addition| match addition.amount() {
            Amount::Mass(mass) => mass.value(),
            _ => 0.0,
        });
        ledger.additions_g - weighed.sum::<f64>()
    }
}

impl Group {
    /// What its totals are without, since nothing was read of it; of the fields that are asked about.
    pub(crate) fn short_total(&self, of: &str, asked: impl Fn(usize) -> bool) -> Option<Finding> {
        let missing = self.uncounted.iter().filter(|(field, _)| asked(*field)).map(|(_, species)| species.as_str());
        let missing = missing.collect::<Vec<_>>().join(", ");
        if missing.is_empty() {
            return None;
        }
        let text = format!("The total is without {missing}: this {of} has no reading of it.");
        Some(Finding::new(Code::ClosureNotCounted, missing, text))
    }
}

/// One side of a change of basis, its input among the others.
fn term(per_dried: PerDried, inputs: &mut Inputs) -> Result<BasisTerm> {
    let input = per_dried.input().map(|(name, estimate)| inputs.push(name, estimate.clone())).transpose()?;
    Ok(BasisTerm { per_dried, input })
}

/// The place of two results in the upper triangle of so many, row by row.
fn pair(one: usize, other: usize, count: usize) -> usize {
    one * count - one * (one + 1) / 2 + other
}

/// How a content that enters the total only was found: by a table.
const ELSEWHERE: &str = "table";

fn moist(links: &BasisLinks, basis: Basis) -> Option<String> {
    let per_dried = links.per_dried(basis).ok();
    per_dried.and_then(|held| held.input().map(|(name, _)| name.to_owned()))
}

/// A number of a field in the bead that a plan is compiled from, with a u where rows have one.
pub(super) fn some(field: &Field, value: f64) -> Result<Estimate> {
    match field.u {
        Spread::Unstated => Estimate::unstated(value),
        // it decides what has a part of its own, never how large that is
        _ => Estimate::new(value, value.abs()),
    }
}
