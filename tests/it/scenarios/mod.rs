//! Invented materials followed from the balance to the sample and back, as an oracle of its own: every figure was worked
//! out twice, on paper from atomic weights (`support::a`) and as a printed number that the calls must meet to one unit of
//! its last place. Where two routes lead to a figure, both are gone.

mod bauxite;
mod cement;
mod clay;
mod closures;
mod copper;
mod feldspar;
mod ferrosilicon;
mod fluorspar;
mod furnace;
mod gypsum;
mod lead_zinc;
mod limestone;
mod magnetite;
mod manganese;
mod sand;
mod solubility;
mod zircon;

use beadchem::charge::{Charge, Fate, Melt, Sample};
use beadchem::composition::{Basis, Composition, Unit};
use beadchem::error::Result;

use crate::support::{ROUNDING, a, assert_close, forms, tetraborate, weights};

/// A printed figure may be off by one unit of its last place.
const UNITS_OF_LAST_PLACE: f64 = 1.0;
/// What the binary value of a printed figure itself is off by, relative to the last place.
const BINARY: f64 = 1e-6;

/// Molar masses, g/mol.
mod m {
    use super::a;
    pub(super) const AL2O3: f64 = 2.0 * a::AL + 3.0 * a::O;
    pub(super) const CAO: f64 = a::CA + a::O;
    pub(super) const CAF2: f64 = a::CA + 2.0 * a::F;
    pub(super) const CO2: f64 = a::C + 2.0 * a::O;
    pub(super) const CUO: f64 = a::CU + a::O;
    pub(super) const FE2O3: f64 = 2.0 * a::FE + 3.0 * a::O;
    pub(super) const FEO: f64 = a::FE + a::O;
    pub(super) const H2O: f64 = 2.0 * a::H + a::O;
    pub(super) const LI2O: f64 = 2.0 * a::LI + a::O;
    pub(super) const MN3O4: f64 = 3.0 * a::MN + 4.0 * a::O;
    pub(super) const MNO: f64 = a::MN + a::O;
    pub(super) const MNO2: f64 = a::MN + 2.0 * a::O;
    pub(super) const NA2O: f64 = 2.0 * a::NA + a::O;
    pub(super) const NANO3: f64 = a::NA + a::N + 3.0 * a::O;
    pub(super) const PBO: f64 = a::PB + a::O;
    pub(super) const SIO2: f64 = a::SI + 2.0 * a::O;
    pub(super) const SO3: f64 = a::S + 3.0 * a::O;
    pub(super) const ZNO: f64 = a::ZN + a::O;
}

/// Asserts that a number meets a printed figure.
#[track_caller]
fn printed(what: &str, found: f64, figure: &str) {
    let decimals = figure.split_once('.').map_or(0, |(_, decimals)| decimals.len());
    let unit: f64 = format!("1e-{decimals}").parse().unwrap();
    let off = (found - figure.parse::<f64>().unwrap()).abs();
    assert!(off <= unit * (UNITS_OF_LAST_PLACE + BINARY), "{what}: {found}, printed {figure}");
}

#[test]
#[should_panic(expected = "glass: 9.36, printed 9.358")]
fn two_units_of_the_last_place_are_seen() {
    printed("glass", 9.3589, "9.358");
    printed("glass", 9.360, "9.358");
}

/// Asserts that a number is the one on paper and meets its printed figure.
#[track_caller]
fn figure(what: &str, found: f64, on_paper: f64, print: &str) {
    assert_close(what, found, on_paper, ROUNDING);
    printed(what, found, print);
}

/// The same for a fraction that is printed in per cent.
#[track_caller]
fn percent(what: &str, found: f64, on_paper: f64, print: &str) {
    assert_close(what, found, on_paper, ROUNDING);
    printed(what, Unit::Percent.written(found), print);
}

/// What lies in the crucible and what becomes of it, on paper.
#[derive(Clone, Copy)]
struct Paper {
    sample_g: f64,
    flux_g: f64,
    flux_loss: f64,
    /// Loss of the sample in the fusion, signed.
    loss: f64,
    /// What stays of the additions.
    residue_g: f64,
}

impl Paper {
    fn glass_g(&self) -> f64 {
        self.sample_g * (1.0 - self.loss) + self.flux_g * (1.0 - self.flux_loss) + self.residue_g
    }

    fn dilution(&self) -> f64 {
        self.glass_g() / self.sample_g
    }

    /// The dried sample with these contents in pure tetraborate.
    fn charge(&self, contents: &[(&str, f64)]) -> Result<Charge> {
        let sample = Sample::dried(self.sample_g)?.made_of(forms(Basis::Dried, contents)?)?;
        Charge::new(sample, tetraborate(self.flux_loss)?.weigh_g(self.flux_g)?)
    }

    /// Fuses species by species, holds the melt against the paper and against the same charge with its loss stated, and
    /// takes the oxides from the glass back to the sample through both.
    #[track_caller]
    fn fuse(&self, charge: &Charge, fate: &Fate, oxides: &[(&str, f64)]) -> Result<Melt> {
        let itemised = charge.fuse(&weights(), fate)?;
        let stated = charge.fuse_with_loss(&weights(), self.loss)?;
        assert_close("loss on fusion", itemised.loss_on_fusion(), self.loss, ROUNDING);
        assert_close("imbalance", itemised.ledger().imbalance_g(), 0.0, ROUNDING);
        for melt in [&itemised, &stated] {
            assert_close("bead mass", melt.bead_mass_g(), self.glass_g(), ROUNDING);
            assert_close("dilution", melt.dilution().value(), self.dilution(), ROUNDING);
            let readings = bead(oxides.iter().map(|&(oxide, content)| (oxide, content / self.dilution())))?;
            let result = melt.undilute(&readings)?;
            for &(oxide, content) in oxides {
                assert_close(oxide, result.value(oxide)?, content, ROUNDING);
            }
        }
        let glass = itemised.glass()?;
        for &(oxide, content) in oxides {
            assert_close(oxide, crate::support::content(&glass, oxide), content / self.dilution(), ROUNDING);
        }
        Ok(itemised)
    }
}

/// Readings of a glass, g/g.
fn bead<'a>(contents: impl IntoIterator<Item = (&'a str, f64)>) -> Result<Composition> {
    contents.into_iter().try_fold(Composition::new(Basis::Bead), |all, (oxide, content)| all.with(oxide, content))
}

/// The sum of some contents.
fn sum(contents: &[(&str, f64)]) -> f64 {
    contents.iter().map(|(_, content)| content).sum()
}
