//! A correction, and a change of one, as something any table can be run through.

use std::collections::HashSet;
use std::sync::Arc;

use crate::batch::column::Columns;
use crate::batch::corrected::{Corrected, ResultColumn};
use crate::batch::correction::Correction;
use crate::batch::field::{Cells, Spread};
use crate::batch::job::{Kind, TableJob};
use crate::batch::options::{RunOptions, Uncertainty};
use crate::batch::recorrect::Recorrection;
use crate::error::{Error, Result};

impl TableJob for Correction {
    fn wanted(&self) -> &[(String, Kind)] {
        self.made.wanted.get_or_init(|| {
            let mut wanted = Vec::new();
            for field in &self.fields {
                let kind = if field.quantity.cells() == Cells::Words { Kind::Words } else { Kind::Numbers };
                wanted.push((field.name.clone(), kind));
                if let Spread::Column(column) | Spread::CountingColumn(column) = &field.u {
                    wanted.push((column.clone(), Kind::Numbers));
                }
            }
            // several fields may share a column
            let mut seen = HashSet::new();
            wanted.retain(|(name, _)| seen.insert(name.clone()));
            wanted
        })
    }

    fn identity(&self) -> Option<&str> {
        self.made.outline(self).places.bead.map(|place| self.fields[place].name())
    }

    fn results(&self, uncertainty: Uncertainty) -> Result<Arc<[ResultColumn]>> {
        self.result_columns(uncertainty)
    }

    fn metadata(&self, uncertainty: Uncertainty) -> Result<Vec<(String, String)>> {
        Ok(vec![("beadchem".to_owned(), self.record(uncertainty)?)])
    }

    fn run_rows(&self, columns: &Columns<'_>, options: &RunOptions<'_>, out: Option<&mut [f64]>) -> Result<Corrected> {
        let Some(out) = out else { return self.run(columns, options) };
        let mut codes = vec![0; columns.rows()];
        let said = self.run_to(columns, options, out, &mut codes)?;
        Ok(Corrected {
            rows: columns.rows(),
            columns: self.result_columns(options.uncertainty)?,
            numbers: Vec::new(),
            valid: said.valid,
            codes,
            findings: said.findings,
            notes: said.notes,
        })
    }
}

impl TableJob for Recorrection {
    fn wanted(&self) -> &[(String, Kind)] {
        self.wanted.get_or_init(|| {
            let mut wanted = self.old.wanted().to_vec();
            let stored = self.old.species().map(|species| species.to_vec()).unwrap_or_default();
            let stored = stored.into_iter().flat_map(|name| [format!("{name}_percent"), format!("{name}_percent_u")]);
            let stored = stored.map(|name| (name, Kind::Numbers));
            let chosen = self.only.iter().map(|(column, _)| (column.clone(), Kind::Words));
            for (name, kind) in stored.chain(chosen) {
                if wanted.iter().all(|(held, _)| *held != name) {
                    wanted.push((name, kind));
                }
            }
            wanted
        })
    }

    fn identity(&self) -> Option<&str> {
        self.old.identity()
    }

    fn results(&self, _: Uncertainty) -> Result<Arc<[ResultColumn]>> {
        self.columns()
    }

    fn metadata(&self, _: Uncertainty) -> Result<Vec<(String, String)>> {
        let record = |correction: &Correction| correction.record(Uncertainty::Variance);
        let text = format!("{{\"old\":{},\"new\":{}}}", record(&self.old)?, record(&self.new)?);
        Ok(vec![("beadchem".to_owned(), text)])
    }

    fn run_rows(&self, columns: &Columns<'_>, options: &RunOptions<'_>, out: Option<&mut [f64]>) -> Result<Corrected> {
        let mut changed = self.run(columns, options)?;
        if let Some(out) = out {
            if out.len() != changed.numbers.len() {
                let hint = "Columns one after another, a number for each row.";
                return Err(Error::shape("Numbers of results", changed.numbers.len(), out.len(), hint));
            }
            out.copy_from_slice(&changed.numbers);
            changed.numbers = Vec::new();
        }
        Ok(changed)
    }
}
