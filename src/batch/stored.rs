//! Rows that cannot be corrected again, since what they were made from or by is not at hand: their stored results, multiplied by
//! the first-order factor of the fused flux of their lot.

use crate::batch::column::{Column, Columns, Numbers, Words};
use crate::batch::correction::Correction;
use crate::batch::field::Quantity;
use crate::code::Code;
use crate::finding::Finding;
use crate::sheet::{WrittenCell, written_cell};
use crate::uncertainty::Estimate;

/// What a table of stored results says, and what follows of the difference of two corrections.
pub(crate) struct Stored<'a> {
    /// For each result.
    results: Vec<Option<Held<'a>>>,
    /// Their standard uncertainties, where the table has them.
    spreads: Vec<Option<Held<'a>>>,
    versions: Option<&'a Words<'a>>,
    /// The version at hand.
    held: Option<&'a str>,
    lots: Option<&'a Words<'a>>,
    /// Flux losses that rows state themselves.
    losses: Option<Held<'a>>,
    /// `F_new / F_old` for each lot; nothing where the corrections differ in more than losses of lots.
    factors: Option<Vec<(&'a str, f64)>>,
    /// The table has results and no masses to correct from.
    pub(crate) alone: bool,
    /// The results, by name.
    pub(crate) species: &'a [String],
    /// The number of the first row of the table.
    first_row: u64,
}

/// One row: what it holds of each result, and the factor.
pub(crate) struct StoredRow {
    pub(crate) results: Vec<Option<f64>>,
    pub(crate) factor: f64,
}

impl<'a> Stored<'a> {
    pub(crate) fn of(old: &'a Correction, new: &Correction, table: &'a Columns<'a>, species: &'a [String]) -> Self {
        let column = |quantity: Quantity| old.field_of(&quantity).and_then(|field| table.get(field.name()));
        let words = |quantity: Quantity| match column(quantity) {
            Some(Column::Words(words)) => Some(words),
            _ => None,
        };
        let numbers = |name: String| table.get(&name).map(Held::of);
        let results: Vec<_> = species.iter().map(|name| numbers(format!("{name}_percent"))).collect();
        let masses = [Quantity::SampleMass, Quantity::FluxMass];
        Self {
            alone: masses.into_iter().all(|mass| column(mass).is_none()) && results.iter().any(Option::is_some),
            results,
            spreads: species.iter().map(|name| numbers(format!("{name}_percent_u"))).collect(),
            versions: words(Quantity::MethodVersion),
            held: old.method().map(|method| method.label().version()),
            lots: words(Quantity::FluxLot),
            losses: column(Quantity::FluxLoss).map(Held::of),
            factors: factors(old, new),
            species,
            first_row: table.first_row(),
        }
    }

    /// The number of a row of the table among all rows.
    pub(crate) fn number(&self, row: usize) -> u64 {
        self.first_row + row as u64
    }

    /// Whether a column holds stored results that can be read.
    pub(crate) fn reads(&self, name: &str) -> bool {
        let result = name.strip_suffix("_u").unwrap_or(name).strip_suffix("_percent");
        (self.alone || self.versions.is_some()) && self.species.iter().any(|held| result == Some(held))
    }

    /// Whether a row is to go by its stored results: all of a table without masses, else those that do not name the version.
    pub(crate) fn wants(&self, row: usize) -> bool {
        self.alone || self.held.zip(self.versions).is_some_and(|(held, versions)| versions.get(row) != Some(held))
    }

    /// Its results with the factor of its lot, evaluation (a), exact where no addition stays, and what is to be said. A row that is
    /// not chosen keeps them.
    pub(crate) fn row(&self, row: usize, chosen: bool) -> (Option<StoredRow>, Option<Finding>) {
        let columns = self.results.iter().chain([&self.losses]).flatten();
        if let Some((code, why)) = columns.filter_map(|held| held.unreadable(row)).next() {
            return (None, Some(Finding::new(code, "stored number", format!("{why} Nothing is known of its change."))));
        }
        if let Some(loss) = self.losses.as_ref().and_then(|losses| losses.number(row)).filter(|loss| !loss.is_finite())
        {
            let text = format!("Its flux loss is {loss}, which is no number. Nothing is known of its change.");
            return (None, Some(Finding::new(Code::NumberNotFinite, "flux loss", text)));
        }
        let results: Vec<_> = self.results.iter().map(|held| number(held.as_ref(), row)).collect();
        if results.iter().all(Option::is_none) {
            let text = format!("{}; no result is stored of it, so nothing is known of its change.", self.cause(row));
            return (None, Some(Finding::new(Code::RecipeVersionUnknown, "method version", text)));
        }
        if !chosen {
            return (Some(StoredRow { results, factor: 1.0 }), None);
        }
        let factor = match self.factor(row) {
            // what is known of its own flux is the same in both
            Ok(_) if self.states_loss(row) => return (Some(StoredRow { results, factor: 1.0 }), None),
            Ok(factor) => factor,
            Err((code, quantity, why)) => {
                let text = format!("{}, and {why}: nothing is known of its change.", self.cause(row));
                return (None, Some(Finding::new(code, quantity, text)));
            }
        };
        let text = format!(
            "{}: its stored results times the first-order factor of evaluation (a), {factor:.6}, stand as an estimate.",
            self.cause(row)
        );
        let finding = Finding::new(Code::RecipeEstimated, "method version", text).with_value(factor);
        (Some(StoredRow { results, factor }), Some(finding))
    }

    /// Whether a row states the loss of its flux itself, which the loss of its lot then does not reach.
    pub(crate) fn states_loss(&self, row: usize) -> bool {
        number(self.losses.as_ref(), row).is_some()
    }

    /// The flux lot of a row; the only one, where there is no column of them.
    pub(crate) fn lot(&self, row: usize) -> Option<&str> {
        match self.lots {
            Some(lots) => lots.get(row),
            None => self.factors.iter().flatten().map(|(name, _)| *name).next(),
        }
    }

    /// The stored standard uncertainty of a result; nothing for one that is not above zero.
    pub(crate) fn u(&self, place: usize, row: usize) -> Option<f64> {
        number(self.spreads[place].as_ref(), row).filter(|u| *u > 0.0)
    }

    /// The factor of a row, or why there is none.
    fn factor(&self, row: usize) -> Result<f64, (Code, &'static str, String)> {
        let Some(factors) = &self.factors else {
            let why = match self.held {
                Some(_) => "the corrections differ in more than the loss of flux lots, whose factor could be taken",
                None => "for results from readings of the glass the loss of flux lots has no factor",
            };
            return Err((Code::RecipeVersionUnknown, "method version", why.to_owned()));
        };
        let named = match (self.lots, factors.as_slice()) {
            (Some(lots), _) => lots.get(row),
            (None, [(only, _)]) => Some(*only),
            (None, [(_, first), rest @ ..]) if rest.iter().all(|(_, factor)| factor == first) => {
                factors.first().map(|(name, _)| *name)
            }
            (None, _) => None,
        };
        let factor = factors.iter().find(|(name, _)| Some(*name) == named).map(|(_, factor)| *factor);
        factor.ok_or_else(|| {
            let known: Vec<&str> = factors.iter().map(|(name, _)| *name).collect();
            let known = known.join(", ");
            let why = match named {
                Some(named) => format!("the loss of its flux lot `{named}` is not known (those known: {known})"),
                None => format!("nothing says of which flux lot it is ({known})"),
            };
            (Code::FluxLotUnknown, "flux lot", why)
        })
    }

    /// Why a row cannot be corrected again, in words.
    fn cause(&self, row: usize) -> String {
        if self.alone {
            return "The table holds results, and no masses to correct from".to_owned();
        }
        match self.versions.and_then(|versions| versions.get(row)).zip(self.held) {
            Some((stated, held)) => {
                format!("The row was made by version `{stated}` of its method, and `{held}` is the one at hand")
            }
            None => "The row names no version of the method it was made by".to_owned(),
        }
    }
}

/// A column of numbers, as such or written: which of the two it comes as decides nothing.
enum Held<'a> {
    Numbers(&'a Numbers<'a>),
    /// With what each different text was read as.
    Written(&'a Words<'a>, Vec<WrittenCell>),
}

impl<'a> Held<'a> {
    fn of(column: &'a Column<'a>) -> Self {
        match column {
            Column::Numbers(numbers) => Self::Numbers(numbers),
            Column::Words(words) => {
                Self::Written(words, words.dictionary().iter().map(|text| written_cell(text)).collect())
            }
        }
    }

    fn written(&self, row: usize) -> Option<&WrittenCell> {
        match self {
            Self::Numbers(_) => None,
            Self::Written(words, read) => read.get((*words.places().get(row)?)? as usize),
        }
    }

    fn number(&self, row: usize) -> Option<f64> {
        match (self, self.written(row)) {
            (Self::Numbers(numbers), _) => numbers.get(row),
            (_, Some(WrittenCell::Number(value))) => Some(*value),
            _ => None,
        }
    }

    /// Why a text is no number; an empty one and a limit are no number that is there.
    fn unreadable(&self, row: usize) -> Option<(Code, &str)> {
        match self.written(row) {
            Some(WrittenCell::Refused(code, why)) => Some((*code, why)),
            _ => None,
        }
    }
}

/// What is stored in a row; nothing for what is no number.
fn number(held: Option<&Held<'_>>, row: usize) -> Option<f64> {
    held.and_then(|held| held.number(row)).filter(|value| value.is_finite())
}

/// `F_new / F_old` for each lot of the old correction; nothing for readings of the glass, or where more than losses differ.
fn factors<'a>(old: &'a Correction, new: &Correction) -> Option<Vec<(&'a str, f64)>> {
    old.method()?;
    let same = |(one, other): (&crate::charge::FluxLot, &crate::charge::FluxLot)| {
        one.name() == other.name() && one.blend() == other.blend() && one.blanks() == other.blanks()
    };
    if old.lots().len() != new.lots().len() || !old.lots().iter().zip(new.lots()).all(same) || !old.is_but_for_lots(new)
    {
        return None;
    }
    let ratio = |correction: &Correction, lot: usize| {
        let charge = correction.recipe.with_lot(&correction.lots()[lot]).ok()?;
        let melt = charge.fuse_with_loss(&correction.weights, Estimate::exact(0.0).ok()?).ok()?;
        Some(melt.fused_flux_ratio().value())
    };
    let lots = old.lots().iter().enumerate();
    lots.map(|(place, lot)| Some((lot.name(), ratio(new, place)? / ratio(old, place)?))).collect()
}
