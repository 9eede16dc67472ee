//! Which rows of two tables belong together.

use std::collections::HashMap;

use crate::batch::column::{Column, Columns, Words};
use crate::batch::corrected::RowFinding;
use crate::code::Code;
use crate::error::{Error, Result};
use crate::finding::Finding;

/// Rows of two tables side by side: those of the old one in their order, then what only the new one has.
#[derive(Debug, Default)]
pub(crate) struct Pairs {
    pub(crate) rows: Vec<[Option<usize>; 2]>,
    /// Why a row has no partner.
    pub(crate) findings: Vec<RowFinding>,
}

/// Row by row.
pub(crate) fn by_place(old: &Columns<'_>, new: &Columns<'_>) -> Result<Pairs> {
    if old.rows() != new.rows() {
        let hint =
            "Two runs of one table have the same rows in the same order; otherwise name the column of their ids.";
        return Err(Error::shape("Rows of the new run", old.rows(), new.rows(), hint));
    }
    Ok(Pairs { rows: (0..old.rows()).map(|row| [Some(row); 2]).collect(), findings: Vec::new() })
}

/// By the words of a column that both have; an id that stands twice in a table joins nothing, but where both tables have the
/// same ids in the same order.
pub(crate) fn by_column(old: &Columns<'_>, new: &Columns<'_>, name: &str) -> Result<Pairs> {
    let [before, after] = [words(old, name, "old")?, words(new, name, "new")?];
    let (in_old, in_new) = (places(before, old.rows()), places(after, new.rows()));
    let in_order = old.rows() == new.rows() && (0..old.rows()).all(|row| before.get(row) == after.get(row));
    let mut pairs = Pairs::default();
    for row in 0..old.rows() {
        let id = before.get(row);
        let own = id.and_then(|id| in_old.get(id)).copied();
        let other = id.and_then(|id| in_new.get(id)).copied();
        match (id, own, other) {
            (Some(_), ..) if in_order => pairs.rows.push([Some(row); 2]),
            (Some(_), Some(Some(_)), Some(Some(other))) => pairs.rows.push([Some(row), Some(other)]),
            _ => pairs.alone([Some(row), None], id, "old", own == Some(None) || other == Some(None)),
        }
    }
    for row in 0..new.rows() {
        let id = after.get(row);
        let own = id.and_then(|id| in_new.get(id)).copied();
        let other = id.and_then(|id| in_old.get(id)).copied();
        let joined = in_order && id.is_some() || matches!((own, other), (Some(Some(_)), Some(Some(_))));
        if !joined {
            pairs.alone([None, Some(row)], id, "new", own == Some(None) || other == Some(None));
        }
    }
    Ok(pairs)
}

impl Pairs {
    /// A row without a partner, and why.
    fn alone(&mut self, row: [Option<usize>; 2], id: Option<&str>, side: &str, doubled: bool) {
        let (code, quantity, text) = match id {
            None => {
                let text = format!("A row of the {side} table has no id and is not compared. Fill the column of ids.");
                (Code::BeadIdMissing, "", text)
            }
            Some(id) if doubled => {
                let text =
                    format!("{id} stands in several rows of one table; none of them is compared. Name them apart.");
                (Code::BeadDoubled, id, text)
            }
            Some(id) => (Code::BeadUnmatched, id, format!("{id} is only in the {side} table.")),
        };
        self.findings.push(RowFinding::new(self.rows.len() as u64, &Finding::new(code, quantity, text)));
        self.rows.push(row);
    }
}

/// For each id its row; nothing where it stands in several.
fn places<'a>(words: &Words<'a>, rows: usize) -> HashMap<&'a str, Option<usize>> {
    let mut known = HashMap::with_capacity(rows);
    for row in 0..rows {
        if let Some(id) = words.get(row) {
            known.entry(id).and_modify(|held| *held = None).or_insert(Some(row));
        }
    }
    known
}

/// The id of each pair.
pub(crate) fn ids(pairs: &Pairs, before: &Words<'_>, after: &Words<'_>) -> Vec<Option<String>> {
    let id = |[one, other]: &[Option<usize>; 2]| {
        let held = one.map_or_else(|| other.and_then(|row| after.get(row)), |row| before.get(row));
        held.map(str::to_owned)
    };
    pairs.rows.iter().map(id).collect()
}

/// The ids of a table.
pub(crate) fn words<'t, 'a>(table: &'t Columns<'a>, name: &str, side: &str) -> Result<&'t Words<'a>> {
    match table.get(name) {
        Some(Column::Words(words)) => Ok(words),
        Some(Column::Numbers(_)) => Err(Error::Conflict {
            code: Code::ColumnType,
            detail: format!("The column {name} of the {side} table holds numbers where ids are wanted."),
            hint: "Write them as text.".to_owned(),
        }),
        None => Err(no_column(&format!("Column of ids of the {side} table"), name, table)),
    }
}

/// A column that a table lacks.
pub(crate) fn no_column(what: &str, name: &str, table: &Columns<'_>) -> Error {
    Error::Unknown {
        code: Code::TableHeader,
        what: what.to_owned(),
        given: name.to_owned(),
        hint: format!("The table has: {}.", table.names().collect::<Vec<_>>().join(", ")),
    }
}
