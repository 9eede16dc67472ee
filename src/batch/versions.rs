//! What two tables of results rest on, held against each other.

use std::collections::BTreeSet;

use serde::Deserialize;

use crate::batch::document::TableProvenance;
use crate::document;
use crate::error::Result;

/// A thing that results rest on and that two tables have in different versions.
///
/// ```
/// use beadchem::{batch::{VersionChange, example}, uncertainty::Estimate};
/// let old = example()?.provenance()?;
/// let new = example()?.with_flux_loss("F-1", Estimate::new(0.0062, 0.0003)?)?.provenance()?;
/// let found: Vec<VersionChange> = old.changes(&new);
/// assert_eq!((found.len(), found[0].what.as_str()), (1, "flux lot F-1"));
/// # Ok::<(), beadchem::Error>(())
/// ```
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct VersionChange {
    /// "method", "flux lot F-1", "atomic weights", "basis", "rules", "library" or "other settings".
    pub what: String,
    /// The flux lot, where it is one: only rows that name it can have moved with it.
    pub lot: Option<String>,
    /// Name and version in the old table, with the first digits of the digest where there is one.
    pub old: String,
    /// The same in the new table.
    pub new: String,
}

/// Digits of a digest that are shown.
const SHORT: usize = 12;

fn short(digest: &str) -> &str {
    digest.get(..SHORT).unwrap_or(digest)
}

/// The part of the metadata of a table of results that says what they rest on.
#[derive(Deserialize)]
struct Record {
    provenance: Option<TableProvenance>,
}

impl TableProvenance {
    /// From the metadata of a table of results, under the key `beadchem`; nothing where they are of another kind.
    ///
    /// # Errors
    /// `document.malformed` for a text that was not written by this library.
    ///
    /// ```
    /// use beadchem::batch::TableProvenance;
    /// assert!(TableProvenance::of_record("{}")?.is_none());
    /// assert!(TableProvenance::of_record("dolomite").is_err());
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    pub fn of_record(text: &str) -> Result<Option<Self>> {
        let record: Record = serde_json::from_str(text).map_err(|error| document::refused("provenance", &error))?;
        Ok(record.provenance)
    }

    /// What differs between this provenance and a later one.
    ///
    /// ```
    /// let provenance = beadchem::batch::example()?.provenance()?;
    /// assert!(provenance.changes(&provenance).is_empty());
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn changes(&self, new: &Self) -> Vec<VersionChange> {
        let mut found = Vec::new();
        let mut differs = |what: String, lot: Option<&str>, old: String, new: String| {
            if old != new {
                found.push(VersionChange { what, lot: lot.map(str::to_owned), old, new });
            }
        };
        let method = |held: &Self| match short(&held.method_digest) {
            "" => held.method.clone(),
            digest => format!("{} ({digest})", held.method),
        };
        differs("method".to_owned(), None, method(self), method(new));
        let lots: BTreeSet<&str> = self.lots.iter().chain(&new.lots).map(|(name, _)| name.as_str()).collect();
        for lot in lots {
            let of = |held: &Self| {
                let digest = held.lots.iter().find(|(name, _)| name == lot);
                digest.map_or_else(|| "not there".to_owned(), |(_, digest)| short(digest).to_owned())
            };
            differs(format!("flux lot {lot}"), Some(lot), of(self), of(new));
        }
        let plain = [
            ("atomic weights", &self.weights, &new.weights),
            ("basis", &self.basis, &new.basis),
            ("rules", &self.rules, &new.rules),
        ];
        for (what, old, new) in plain {
            differs(what.to_owned(), None, old.clone(), new.clone());
        }
        if found.is_empty() && self.digest != new.digest {
            found.push(VersionChange {
                what: "other settings".to_owned(),
                lot: None,
                old: short(&self.digest).to_owned(),
                new: short(&new.digest).to_owned(),
            });
        }
        if self.library != new.library {
            found.push(VersionChange {
                what: "library".to_owned(),
                lot: None,
                old: self.library.clone(),
                new: new.library.clone(),
            });
        }
        found
    }
}
