//! What a number rests on, enough to compute it again.

use crate::document;
use crate::error::Result;
use crate::method::Assay;

/// Names, versions and digests of everything that decided a result.
///
/// ```
/// let provenance = beadchem::method::example()?.provenance()?;
/// assert_eq!(provenance.weights, "CIAAW 2024");
/// assert_eq!(provenance.library, concat!("beadchem ", env!("CARGO_PKG_VERSION")));
/// # Ok::<(), beadchem::Error>(())
/// ```
#[derive(Debug, Clone, PartialEq, Eq, serde::Serialize)]
pub struct Provenance {
    /// The bead.
    pub bead: String,
    /// Method with its version.
    pub method: String,
    /// SHA-256 of the method document.
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

    /// The lines printed in the head of a report; digests by their first twelve digits.
    ///
    /// ```
    /// let lines = beadchem::method::example()?.provenance()?.lines();
    /// assert!(lines[0].starts_with("bead B-1, method: dolomite 2026-1 ("));
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn lines(&self) -> Vec<String> {
        const DIGITS: usize = 12;
        let short = |digest: &str| digest.get(..DIGITS).unwrap_or(digest).to_owned();
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
