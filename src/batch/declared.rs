//! The columns that a correction reads where none are declared, and what a declared one must say.

use crate::batch::correction::Correction;
use crate::batch::field::{Field, Quantity, Spread};
use crate::batch::glass::Read;
use crate::charge::{Amount, Charge};
use crate::code::Code;
use crate::error::{Error, Result};
use crate::matrix::DeadTime;
use crate::matrix::net::BACKGROUNDS;
use crate::method::Method;
use crate::substance::Formula;

impl Correction {
    /// The dead time of the detector of a line, and whether it stands with the column of its peak.
    pub(crate) fn dead_time_of(&self, line: &str) -> Option<(&DeadTime, bool)> {
        let is_peak = |field: &&Field| matches!(&field.quantity, Quantity::Peak(held) if held == line);
        let own = self.fields.iter().find(is_peak).and_then(Field::stated_dead_time);
        own.map(|own| (own, true)).or_else(|| Some((self.method()?.counter()?, false)))
    }

    /// What a counted rate needs beside its column.
    pub(super) fn check_counted(&self, field: &Field) -> Result<()> {
        let refused =
            |code: Code, detail: String, hint: &str| Err(Error::Conflict { code, detail, hint: hint.to_owned() });
        if field.quantity.is_counted() && field.u == Spread::Unstated {
            let detail = format!("Column {} has no counting time.", field.name);
            return refused(Code::TableLayout, detail, "State it, the same for all rows or in a column of its own.");
        }
        let Quantity::Background(line, place) = &field.quantity else { return Ok(()) };
        if field.weight.is_none() {
            let detail = format!("Column {} does not say how often the background is taken off its peak.", field.name);
            return refused(
                Code::TableLayout,
                detail,
                "A single background beside the peak has the weight 1; two share it.",
            );
        }
        let hint = "Declare the counted peak, then one or two weighted backgrounds.";
        if self.field_of(&Quantity::Peak(line.clone())).is_none() {
            let detail = format!("{line} is a net intensity and was given a background.");
            return refused(Code::ReadingContradicts, detail, hint);
        }
        if *place >= BACKGROUNDS {
            return refused(Code::ReadingContradicts, format!("{line} was given a third background."), hint);
        }
        if *place > 0 && self.field_of(&Quantity::Background(line.clone(), place - 1)).is_none() {
            return refused(Code::ReadingContradicts, format!("{line} has a second background and no first."), hint);
        }
        Ok(())
    }

    /// A quantity that what is read of the beads, or the charge, knows something of.
    pub(super) fn check_quantity(&self, quantity: &Quantity) -> Result<()> {
        match quantity {
            Quantity::Intensity(line) | Quantity::Peak(line) | Quantity::Background(line, _) => {
                let known = self.read.method_for(&quantity.in_words())?.lines();
                if known.iter().all(|held| held != line) {
                    return Err(Error::Unknown {
                        code: Code::LineUnknown,
                        what: "Line".to_owned(),
                        given: line.clone(),
                        hint: format!("The method measures: {}.", known.join(", ")),
                    });
                }
            }
            Quantity::Known(component) => {
                self.read.method_for(&quantity.in_words())?.coefficients()[0].component_index(component)?;
            }
            Quantity::Class | Quantity::MethodVersion | Quantity::Time => {
                self.read.method_for(&quantity.in_words())?;
            }
            Quantity::Glass(species) => self.read.knows(species)?,
            Quantity::External(species) => {
                Formula::parse(species)?;
            }
            Quantity::Addition(place) if *place >= self.recipe.additions().len() => {
                return Err(Error::Unknown {
                    code: Code::SpeciesUnknown,
                    what: "Addition".to_owned(),
                    given: format!("number {}", place + 1),
                    hint: format!("The charge to go by has {}.", self.recipe.additions().len()),
                });
            }
            _ => {}
        }
        Ok(())
    }

    /// Columns of one name.
    pub(super) fn check_fields(&self) -> Result<()> {
        for (place, field) in self.fields.iter().enumerate() {
            if self.fields[..place].iter().any(|held| held.name == field.name) {
                return Err(Error::Conflict {
                    code: Code::ColumnDoubled,
                    detail: format!("Two quantities are declared to stand in the column {}.", field.name),
                    hint: "Name the columns apart.".to_owned(),
                });
            }
        }
        Ok(())
    }
}

/// The usual columns of what is read and of a charge: masses and readings are required, the rest is read where it is there.
pub(super) fn usual_fields(read: &Read, recipe: &Charge) -> Vec<Field> {
    let words: &[Quantity] = match read {
        Read::Lines(_) => {
            &[Quantity::Bead, Quantity::FluxLot, Quantity::Class, Quantity::Weighed, Quantity::MethodVersion]
        }
        Read::Glass(_) => &[Quantity::Bead, Quantity::FluxLot, Quantity::Weighed],
    };
    let mut fields: Vec<Field> = words.iter().map(|quantity| Field::new(quantity.clone()).optional()).collect();
    fields.extend([Quantity::SampleMass, Quantity::FluxMass].map(Field::new));
    for (place, addition) in recipe.additions().iter().enumerate() {
        // tablets, solutions and shares of the flux are dosed as the charge says
        if let Amount::Mass(_) = addition.amount() {
            fields.push(Field::new(Quantity::Addition(place)).named(format!("{}_g", addition.species())));
        }
    }
    let read_where_there =
        [Quantity::BeadMass, Quantity::FluxLoss, Quantity::LossOnFusion, Quantity::LossOnIgnition, Quantity::Moisture];
    fields.extend(read_where_there.map(|quantity| Field::new(quantity).optional()));
    match read {
        Read::Lines(method) => fields.extend(fields_of_lines(method)),
        Read::Glass(read) => {
            fields.extend(read.iter().map(|species| Field::new(Quantity::Glass(species.text().to_owned()))));
        }
    }
    fields
}

fn fields_of_lines(method: &Method) -> Vec<Field> {
    let intensity = |line: &str| Field::new(Quantity::Intensity(line.to_owned()));
    let mut fields: Vec<Field> = method.lines().into_iter().map(intensity).collect();
    let analytes = method.analytes();
    for component in method.coefficients()[0].components() {
        if analytes.iter().all(|analyte| *analyte != component.text()) {
            fields.push(Field::new(Quantity::Known(component.text().to_owned())).optional());
        }
    }
    fields
}
