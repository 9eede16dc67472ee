//! What a number rests on, enough to compute it again.

use crate::code::Code;
use crate::document;
use crate::error::{Error, Result};
use crate::method::{Assay, Method};

/// Names, versions and digests of the documents behind a result; its readings and what was declared stand in the assay.
///
/// ```
/// let provenance = beadchem::method::example()?.provenance()?;
/// assert_eq!(provenance.weights, "CIAAW 2024");
/// assert_eq!(provenance.library, concat!("beadchem ", env!("CARGO_PKG_VERSION")));
/// # Ok::<(), beadchem::Error>(())
/// ```
#[derive(Debug, Clone, PartialEq, Eq, serde::Serialize, serde::Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Provenance {
    /// The bead.
    pub bead: String,
    /// Method with its version; empty where a stored result names none.
    #[serde(default)]
    pub method: String,
    /// SHA-256 of the method document; empty where a stored result holds none.
    #[serde(default)]
    pub method_digest: String,
    /// Coefficient set with its version.
    pub coefficients: String,
    /// Calibration with its version.
    pub calibration: String,
    /// Flux lot.
    pub flux_lot: String,
    /// SHA-256 of the flux lot's document.
    pub flux_lot_digest: String,
    /// SHA-256 of the charge's document.
    pub charge_digest: String,
    /// SHA-256 of the monitors' document.
    pub drift_digest: Option<String>,
    /// Table of atomic weights.
    pub weights: String,
    /// This library and its version.
    pub library: String,
    /// How the results came about.
    pub evaluation: String,
}

impl Provenance {
    pub(super) fn of(assay: &Assay) -> Result<Self> {
        let method = assay.method();
        let named = |label: &crate::matrix::Label| format!("{} {}", label.name(), label.version());
        let melt = assay.sample().melt();
        let lot = melt.charge().flux().lot();
        Ok(Self {
            bead: assay.measurement().bead().to_owned(),
            method: named(method.label()),
            method_digest: document::digest(method)?,
            coefficients: named(method.set(assay.measurement().class())?.label()),
            calibration: named(method.calibration().label()),
            flux_lot: lot.name().to_owned(),
            flux_lot_digest: document::digest(lot)?,
            charge_digest: document::digest(melt.charge())?,
            drift_digest: assay.measurement().drift().map(document::digest).transpose()?,
            weights: melt.weights().version_name().to_owned(),
            library: format!("beadchem {}", env!("CARGO_PKG_VERSION")),
            evaluation: assay.sample().evaluation().text().to_owned(),
        })
    }

    /// Whether this method is the one a stored result was computed with, so that the result can be computed again.
    ///
    /// # Errors
    /// `recipe.version-unknown` where the result names no method, or another: what is left then is the factor of first order
    /// of [`Melt::lot_change`](crate::charge::Melt::lot_change). Those of [`document::digest`].
    ///
    /// ```
    /// use beadchem::method::{Method, example};
    /// let mut stored = example()?.provenance()?;
    /// assert!(stored.check(&Method::template()?).is_ok());
    /// stored.method_digest.clear();
    /// let refused = stored.check(&Method::template()?).unwrap_err();
    /// let said = "Result B-1 has no recipe version: first-order factor only, marked as estimate.";
    /// assert!(refused.to_string().starts_with(said));
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    pub fn check(&self, method: &Method) -> Result<()> {
        let held = document::digest(method)?;
        if self.method_digest == held {
            return Ok(());
        }
        let label = method.label();
        let (detail, hint) = if self.method.is_empty() || self.method_digest.is_empty() {
            (
                format!("Result {} has no recipe version: first-order factor only, marked as estimate.", self.bead),
                "To compute it again, find the method document it was computed with.".to_owned(),
            )
        } else {
            (
                format!(
                    "Result {} was computed with {} ({}), at hand is {} {} ({}): first-order factor only, marked as estimate.",
                    self.bead,
                    self.method,
                    short(&self.method_digest),
                    label.name(),
                    label.version(),
                    short(&held)
                ),
                "To compute it again, find the document with that digest.".to_owned(),
            )
        };
        Err(Error::Conflict { code: Code::RecipeVersionUnknown, detail, hint })
    }

    /// The lines printed in the head of a report; digests by their first twelve digits.
    ///
    /// ```
    /// let lines = beadchem::method::example()?.provenance()?.lines();
    /// assert!(lines[0].starts_with("bead B-1, method: dolomite 2026-1 ("));
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn lines(&self) -> Vec<String> {
        let mut lines = vec![
            format!("bead {}, method: {} ({})", self.bead, self.method, short(&self.method_digest)),
            format!("coefficients: {}; calibration: {}", self.coefficients, self.calibration),
            format!(
                "flux lot {} ({}), charge ({})",
                self.flux_lot,
                short(&self.flux_lot_digest),
                short(&self.charge_digest)
            ),
        ];
        lines.extend(self.drift_digest.as_deref().map(|digest| format!("monitors ({})", short(digest))));
        lines.push(self.library.clone());
        lines
    }
}

/// A digest as it is printed: its first twelve digits.
fn short(digest: &str) -> &str {
    const DIGITS: usize = 12;
    digest.get(..DIGITS).unwrap_or(digest)
}
