//! The cells of the declared columns of one table, as numbers in the units inside.

use std::borrow::Cow;
use std::ops::Range;

use crate::batch::column::{Column, Columns, Numbers, Words};
use crate::batch::correction::{Correction, FusionLoss};
use crate::batch::field::{Cells as Kind, Field, LARGEST_U, Quantity, Scale, Spread};
use crate::batch::group::{Binding, Group, Way};
use crate::batch::moments::{Clock, Moments};
use crate::batch::outline::Bounds;
use crate::code::Code;
use crate::error::{Error, Result};
use crate::finding::Finding;
use crate::matrix::count::{COUNTING_TIMES, u_of_rate};
use crate::scalar::{Lanes, Mask, Scalar};
use crate::sheet::{WrittenCell, written_cell};

/// The cells of one field.
#[derive(Debug)]
pub(crate) enum FieldCells<'a> {
    /// The table has no such column.
    Missing,
    Numbers {
        values: Cow<'a, [f64]>,
        valid: Option<Cow<'a, [u8]>>,
        offset: usize,
        scale: Scale,
    },
    Words(&'a Words<'a>),
}

/// A cell that was written, not a number: what it was read as, or why it could not be.
#[derive(Debug, Clone)]
pub(crate) struct ToldCell {
    pub(crate) row: usize,
    pub(crate) field: usize,
    pub(crate) what: core::result::Result<Finding, Error>,
}

/// The cells of all fields, in their order.
#[derive(Debug)]
pub(crate) struct Cells<'a> {
    pub(crate) fields: Vec<FieldCells<'a>>,
    /// The columns of uncertainties or counting times that fields name.
    spreads: Vec<FieldCells<'a>>,
    /// When the beads were measured.
    pub(crate) moments: Moments,
    /// Cells that are told of, by row.
    pub(crate) told: Vec<ToldCell>,
    /// Whether each column of the table is read.
    pub(crate) read: Vec<bool>,
    /// Said where a flux lot is taken for all rows.
    pub(crate) assumed: Option<Finding>,
}

/// Finds columns, and keeps which.
struct Reader<'a> {
    table: &'a Columns<'a>,
    read: Vec<bool>,
    next: usize,
}

impl<'a> Reader<'a> {
    fn column(&mut self, name: &str) -> Option<&'a Column<'a>> {
        let place = self.table.find(name, self.next)?;
        self.read[place] = true;
        self.next = place + 1;
        Some(self.table.at(place))
    }
}

impl<'a> Cells<'a> {
    /// # Errors
    /// `table.header` for a required column that is not there; `number.unreadable` for a column of the wrong kind;
    /// `drift.unpaired` for times without monitors.
    pub(crate) fn of(correction: &Correction, table: &'a Columns<'a>) -> Result<Self> {
        let mut told = Vec::new();
        let mut fields = Vec::with_capacity(correction.fields.len());
        let mut reader = Reader { table, read: vec![false; table.names().len()], next: 0 };
        for (place, field) in correction.fields.iter().enumerate() {
            if field.quantity == Quantity::LossOnFusion && correction.fusion != FusionLoss::Column {
                // known otherwise: the column is named among those that are not read
                fields.push(FieldCells::Missing);
                continue;
            }
            let column = reader.column(field.name());
            if let (Some(Column::Numbers(numbers)), false) = (column, field.quantity.cells() == Kind::Words) {
                fields.push(plain(numbers, field.scale()));
                continue;
            }
            fields.push(match (column, field.quantity.cells()) {
                (None, _) if field.optional => FieldCells::Missing,
                (None, _) => return Err(no_column(field, table)),
                (Some(Column::Words(words)), Kind::Words) => FieldCells::Words(words),
                (Some(Column::Numbers(numbers)), _) => {
                    if (0..table.rows()).any(|row| numbers.get(row).is_some()) {
                        return Err(other_kind(field, "numbers", "words"));
                    }
                    // a column of nulls has no kind of its own
                    FieldCells::Missing
                }
                (Some(Column::Words(words)), _) => read(place, field, words, &mut told),
            });
        }
        let assumed = which_lot(correction, &fields);
        let mut spreads = Vec::with_capacity(correction.fields.len());
        for field in &correction.fields {
            spreads.push(match &field.u {
                Spread::Column(name) | Spread::CountingColumn(name) => match reader.column(name) {
                    Some(Column::Numbers(numbers)) => plain(numbers, field.scale()),
                    Some(Column::Words(_)) => {
                        let held = format!("words in {name}");
                        return Err(other_kind(field, &held, "numbers"));
                    }
                    None if field.optional && matches!(fields[spreads.len()], FieldCells::Missing) => {
                        FieldCells::Missing
                    }
                    None => return Err(no_column(&Field { name: name.clone(), ..field.clone() }, table)),
                },
                _ => FieldCells::Missing,
            });
        }
        let mut cells = Self { fields, spreads, moments: Moments::default(), told, read: reader.read, assumed };
        for (place, field) in correction.fields.iter().enumerate().filter(|(_, field)| field.holds_counts()) {
            cells.divide(place, field, table.rows());
        }
        cells.look_at_the_clock(correction, table)?;
        cells.told.sort_by_key(|told| (told.row, told.field));
        Ok(cells)
    }

    /// Counts to rates.
    fn divide(&mut self, place: usize, field: &Field, rows: usize) {
        let rate = |row: usize| Some(self.number(place, row)? / self.seconds(field, place, row));
        let rates = (0..rows).map(|row| rate(row).unwrap_or(f64::NAN)).collect();
        if let FieldCells::Numbers { values, .. } = &mut self.fields[place] {
            *values = Cow::Owned(rates);
        }
    }

    /// When the rows were measured.
    fn look_at_the_clock<'c>(&mut self, correction: &'c Correction, table: &Columns<'_>) -> Result<()> {
        let outline = correction.outline();
        let (drift, field) = match (&correction.drift, outline.places.time) {
            (Some(drift), Some(field)) => (drift, field),
            (None, Some(field)) => {
                return Err(Error::Unstated {
                    code: Code::DriftUnpaired,
                    quantity: format!("The drift of beads measured at the times in {}", correction.fields[field].name),
                    hint: "Give the monitors of the run, or leave the column out.".to_owned(),
                });
            }
            _ => return Ok(()),
        };
        let fields = || correction.fields.iter().enumerate();
        let lines = |row: usize| {
            let of = |(place, field): (usize, &'c Field)| match &field.quantity {
                Quantity::Intensity(line) | Quantity::Peak(line) if self.is_there(place, row) => Some(line.as_str()),
                _ => None,
            };
            fields().filter_map(of).collect::<Vec<&str>>()
        };
        let clock = Clock { drift, runs: &outline.runs, field, first_row: table.first_row() };
        let mut told = Vec::new();
        let moments = Moments::of(&clock, table.rows(), self.words(field), lines, &mut told);
        self.told.append(&mut told);
        self.moments = moments;
        Ok(())
    }

    pub(crate) fn is_missing(&self, field: usize) -> bool {
        matches!(self.fields[field], FieldCells::Missing)
    }

    /// Whether any of these rows is outside of bounds, or null where that is to be seen.
    pub(crate) fn stands_out(&self, field: usize, mut rows: Range<usize>, bounds: Bounds, nulls: bool) -> bool {
        rows.any(|row| self.number(field, row).map_or(nulls, |value| bounds.hold(value).not()))
    }

    /// A cell as it is written, in the unit of its column.
    pub(crate) fn as_written(&self, field: usize, row: usize) -> f64 {
        match &self.fields[field] {
            FieldCells::Numbers { values, .. } => values[row],
            _ => f64::NAN,
        }
    }

    /// The words of a field.
    pub(crate) fn words(&self, field: usize) -> Option<&'a Words<'a>> {
        match &self.fields[field] {
            FieldCells::Words(words) => Some(words),
            _ => None,
        }
    }

    /// The counting time of a cell, s; no number where its column has none.
    pub(crate) fn seconds(&self, field: &Field, place: usize, row: usize) -> f64 {
        match &field.u {
            Spread::Counting(seconds) => *seconds,
            Spread::CountingColumn(_) => self.u_cell(place, row).unwrap_or(f64::NAN),
            _ => f64::NAN,
        }
    }

    /// Whether any of these rows has a number and no counting time that can be.
    pub(crate) fn lacks_time(&self, field: &Field, place: usize, mut rows: Range<usize>) -> bool {
        let sound = |row: usize| COUNTING_TIMES.contains(&self.seconds(field, place, row));
        matches!(field.u, Spread::CountingColumn(_)) && rows.any(|row| self.is_there(place, row) && !sound(row))
    }

    /// Whether any of these rows has a number and beside it, in the column of its uncertainty, what is none.
    pub(crate) fn has_unsound_u(&self, field: &Field, place: usize, mut rows: Range<usize>) -> bool {
        let unsound = |row: usize| self.u_cell(place, row).is_some_and(|u| !(0.0..=LARGEST_U).contains(&u));
        matches!(field.u, Spread::Column(_)) && rows.any(|row| unsound(row) && self.is_there(place, row))
    }

    /// The uncertainty of a cell from the column that the field names.
    #[inline(always)]
    pub(crate) fn u_cell(&self, field: usize, row: usize) -> Option<f64> {
        number(&self.spreads[field], row)
    }

    /// The number of a cell in the unit inside; nothing for null.
    #[inline(always)]
    pub(crate) fn number(&self, field: usize, row: usize) -> Option<f64> {
        number(&self.fields[field], row)
    }

    /// Whether a cell holds something.
    #[inline(always)]
    pub(crate) fn is_there(&self, field: usize, row: usize) -> bool {
        match &self.fields[field] {
            FieldCells::Missing => false,
            FieldCells::Numbers { valid, offset, .. } => valid.as_ref().is_none_or(|bytes| bit(bytes, offset + row)),
            FieldCells::Words(words) => words.get(row).is_some(),
        }
    }

    pub(crate) fn word(&self, field: usize, row: usize) -> Option<&'a str> {
        match &self.fields[field] {
            FieldCells::Words(words) => words.get(row),
            _ => None,
        }
    }

    /// Whether a field has a null among these rows.
    pub(crate) fn has_null(&self, field: usize, rows: Range<usize>) -> bool {
        match &self.fields[field] {
            FieldCells::Missing => true,
            FieldCells::Numbers { valid: None, .. } => false,
            FieldCells::Numbers { valid: Some(bytes), offset, .. } => rows.clone().any(|row| !bit(bytes, offset + row)),
            FieldCells::Words(words) => rows.clone().any(|row| words.get(row).is_none()),
        }
    }

    /// How many of so many rows have a number in a field and none in the column of its uncertainty; nothing where it has no such
    /// column.
    pub(crate) fn without_u(&self, field: usize, rows: usize) -> usize {
        match &self.spreads[field] {
            FieldCells::Numbers { valid: Some(_), .. } => {
                (0..rows).filter(|&row| self.u_cell(field, row).is_none() && self.is_there(field, row)).count()
            }
            _ => 0,
        }
    }

    /// The uncertainties of some rows of a field that states them, in the unit inside; a null one is zero, which
    /// [`without_u`](Self::without_u) counts.
    #[inline(always)]
    pub(crate) fn u_lanes<const W: usize>(
        &self,
        stated: &Field,
        place: usize,
        first: usize,
        rows: &[u32],
        values: &Lanes<W>,
        slot: &mut Lanes<W>,
    ) {
        match &stated.u {
            Spread::Unstated => {}
            Spread::Fixed(u) => *slot = Lanes([stated.scale().inside(*u); W]),
            Spread::Relative(part) => *slot = values.abs() * *part,
            Spread::Counting(seconds) => *slot = u_of_counts(stated, *values, Lanes([*seconds; W])),
            Spread::CountingColumn(_) => {
                let mut seconds = Lanes([0.0; W]);
                for (lane, time) in seconds.0.iter_mut().enumerate() {
                    *time = self.seconds(stated, place, first + rows[lane.min(rows.len() - 1)] as usize);
                }
                *slot = u_of_counts(stated, *values, seconds);
            }
            Spread::Column(_) => {
                for (lane, u) in slot.0.iter_mut().enumerate() {
                    let row = first + rows[lane.min(rows.len() - 1)] as usize;
                    *u = self.u_cell(place, row).unwrap_or(0.0);
                }
            }
        }
    }

    /// Where the inputs of a group come from, from the first row of a chunk on.
    pub(crate) fn loads(&self, group: &Group, first: usize, bounds: &[Bounds], screened: &[bool]) -> Vec<Load<'_>> {
        let load = |binding: &Binding| {
            let FieldCells::Numbers { values, scale, .. } = &self.fields[binding.field] else { return None };
            let bounds = screened[binding.field].then(|| bounds[binding.field]);
            Some(Load { input: binding.input, values: &values[first..], scale: *scale, bounds })
        };
        let way = |way: &Way| {
            let values = self.moments.shares(*way, first);
            Load { input: way.input, values, scale: Scale::AsItIs, bounds: None }
        };
        let mut loads = Vec::with_capacity(group.bindings.len() + group.ways.len());
        loads.extend(group.bindings.iter().filter_map(load));
        loads.extend(group.ways.iter().map(way));
        loads
    }
}

/// An input and the column it comes from.
#[derive(Debug)]
pub(crate) struct Load<'a> {
    pub(crate) input: usize,
    pub(crate) values: &'a [f64],
    scale: Scale,
    /// What its numbers stay within where nothing is to be said of them.
    pub(crate) bounds: Option<Bounds>,
}

impl Load<'_> {
    /// Numbers of the column to the unit inside.
    #[inline(always)]
    pub(crate) fn convert<const W: usize>(&self, numbers: &mut [Lanes<W>]) {
        match self.scale {
            Scale::AsItIs => {}
            Scale::Content(unit) => {
                for lanes in numbers {
                    for value in &mut lanes.0 {
                        *value = unit.fraction(*value);
                    }
                }
            }
            Scale::Mass(unit) => {
                for lanes in numbers {
                    for value in &mut lanes.0 {
                        *value = unit.grams(*value);
                    }
                }
            }
        }
    }
}

/// Standard uncertainty by counting: of a counted rate as it is displayed, or of a net intensity that was formed from such.
#[inline(always)]
pub(crate) fn u_of_counts<S: Scalar>(field: &Field, rate: S, seconds: S) -> S {
    if field.quantity.is_counted() {
        return u_of_rate(rate, seconds);
    }
    let none = S::constant(0.0);
    (S::select(rate.lt(none), none, rate) / seconds).sqrt()
}

/// A column of numbers as it lies there.
fn plain<'a>(numbers: &Numbers<'a>, scale: Scale) -> FieldCells<'a> {
    let (valid, offset) = match numbers.bits() {
        Some(bits) => (Some(Cow::Borrowed(bits.bytes())), bits.offset()),
        None => (None, 0),
    };
    FieldCells::Numbers { values: Cow::Borrowed(numbers.values()), valid, offset, scale }
}

/// A number in the unit inside; nothing for null.
#[inline(always)]
fn number(cells: &FieldCells<'_>, row: usize) -> Option<f64> {
    match cells {
        FieldCells::Numbers { values, valid, offset, scale } => {
            let there = valid.as_ref().is_none_or(|bytes| bit(bytes, offset + row));
            there.then(|| scale.inside(values[row]))
        }
        _ => None,
    }
}

#[inline(always)]
fn bit(bytes: &[u8], place: usize) -> bool {
    bytes.get(place / 8).is_some_and(|byte| byte >> (place % 8) & 1 == 1)
}

/// A column of written numbers: each different text is read once.
fn read<'a>(place: usize, field: &Field, words: &Words<'_>, told: &mut Vec<ToldCell>) -> FieldCells<'a> {
    let read: Vec<WrittenCell> = words.dictionary().iter().map(|text| written_cell(text)).collect();
    let rows = words.places().len();
    let (mut values, mut valid) = (vec![f64::NAN; rows], vec![0_u8; rows.div_ceil(8)]);
    let content = field.quantity.cells() == Kind::Content;
    for (row, word) in words.places().iter().enumerate() {
        let Some(word) = word else { continue };
        let text = words.dictionary()[*word as usize];
        let mut tell = |what| told.push(ToldCell { row, field: place, what });
        let set = |values: &mut [f64], valid: &mut [u8], value: f64| {
            values[row] = value;
            valid[row / 8] |= 1 << (row % 8);
        };
        match &read[*word as usize] {
            WrittenCell::Empty => {}
            WrittenCell::Number(value) => set(&mut values, &mut valid, *value),
            WrittenCell::Below(limit) if content => {
                let inside = field.scale().inside(*limit);
                let said =
                    format!("'{text}' read as below {limit} {}: taken as not there, the limit is named.", field.unit());
                let finding = Finding::new(Code::LimitRead, field.name(), said).with_value(inside);
                tell(Ok(finding));
            }
            WrittenCell::Below(_) => tell(Err(Error::Conflict {
                code: Code::NumberUnreadable,
                detail: format!("'{text}' in {} is a limit, and a number belongs here.", field.name()),
                hint: "Only contents may be below a limit.".to_owned(),
            })),
            WrittenCell::Refused(code, why) => tell(Err(Error::Conflict {
                code: *code,
                detail: format!("{}: {why}", field.name()),
                hint: "A number has a decimal point and nothing else beside it, a cell of what was not measured is empty. Mend the export.".to_owned(),
            })),
        }
    }
    FieldCells::Numbers { values: Cow::Owned(values), valid: Some(Cow::Owned(valid)), offset: 0, scale: field.scale() }
}

/// With several lots a table should say which: the first is a guess, and is named as one.
fn which_lot(correction: &Correction, fields: &[FieldCells<'_>]) -> Option<Finding> {
    if correction.lots.len() < 2 {
        return None;
    }
    let is_lot = |(place, field): &(usize, &Field)| {
        field.quantity == Quantity::FluxLot && matches!(fields[*place], FieldCells::Missing)
    };
    let (_, field) = correction.fields.iter().enumerate().find(is_lot)?;
    let names: Vec<&str> = correction.lots.iter().map(|lot| lot.name()).collect();
    let text = format!(
        "The table has no column {} of lots, and {} are declared ({}): all rows are taken to be of {}. Name the lot of each row.",
        field.name(),
        names.len(),
        names.join(", "),
        names[0]
    );
    Some(Finding::new(Code::FluxLotAssumed, "flux lot", text))
}

fn no_column(field: &Field, table: &Columns<'_>) -> Error {
    let near = table.names().find(|name| name.eq_ignore_ascii_case(field.name()));
    let hint = match near {
        Some(near) => format!("There is {near}: names are told apart by case."),
        None => format!("The table has: {}.", table.names().collect::<Vec<_>>().join(", ")),
    };
    Error::Unknown {
        code: Code::TableHeader,
        what: format!("Column of the {}", field.quantity.in_words()),
        given: field.name().to_owned(),
        hint,
    }
}

fn other_kind(field: &Field, held: &str, wanted: &str) -> Error {
    Error::Conflict {
        code: Code::NumberUnreadable,
        detail: format!("Column {} holds {held}, and {wanted} belong there.", field.name()),
        hint: format!("It is the {}.", field.quantity.in_words()),
    }
}
