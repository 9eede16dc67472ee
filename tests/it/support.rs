//! What the hand calculations share: atomic weights typed in from the table, and short ways to say a charge.

use beadchem::charge::{Charge, Fate, FluxLot, Melt, Sample};
use beadchem::composition::{Basis, Composition};
use beadchem::error::Result;
use beadchem::substance::Weights;

/// Single values of Prohaska et al., Pure Appl. Chem. 2022 (standard atomic weights 2021); for interval elements the
/// conventional value of the same report.
pub(crate) mod a {
    pub(crate) const H: f64 = 1.008;
    pub(crate) const LI: f64 = 6.94;
    pub(crate) const B: f64 = 10.81;
    pub(crate) const C: f64 = 12.011;
    pub(crate) const N: f64 = 14.007;
    pub(crate) const O: f64 = 15.999;
    pub(crate) const F: f64 = 18.998_403_162;
    pub(crate) const NA: f64 = 22.989_769_28;
    pub(crate) const MG: f64 = 24.305;
    pub(crate) const AL: f64 = 26.981_538_4;
    pub(crate) const SI: f64 = 28.085;
    pub(crate) const S: f64 = 32.06;
    pub(crate) const K: f64 = 39.0983;
    pub(crate) const CA: f64 = 40.078;
    pub(crate) const MN: f64 = 54.938_043;
    pub(crate) const FE: f64 = 55.845;
    pub(crate) const CU: f64 = 63.546;
    pub(crate) const ZN: f64 = 65.38;
    pub(crate) const BR: f64 = 79.904;
    pub(crate) const SR: f64 = 87.62;
    /// Revised: IUPAC CIAAW, standard atomic weights 2024.
    pub(crate) const ZR: f64 = 91.222;
    pub(crate) const I: f64 = 126.904_47;
    pub(crate) const LA: f64 = 138.905_47;
    pub(crate) const PB: f64 = 207.2;
}

/// The hand calculation and the kernel add at most a hundred terms in different orders.
pub(crate) const ROUNDING: f64 = 1e-12;

/// The programme every lot of these tests was fused in.
const PROGRAMME: &str = "1050 C, 18 min";

pub(crate) fn weights() -> Weights {
    Weights::ciaaw_2024()
}

/// A lot of pure lithium tetraborate with this loss.
pub(crate) fn tetraborate(loss: f64) -> Result<FluxLot> {
    blend(&[("Li2B4O7", 1.0)], loss)
}

pub(crate) fn blend(parts: &[(&'static str, f64)], loss: f64) -> Result<FluxLot> {
    FluxLot::new("F-118", parts.iter().copied(), PROGRAMME, loss)
}

/// A composition whose entries are all declared as forms of their own.
pub(crate) fn forms(basis: Basis, contents: &[(&str, f64)]) -> Result<Composition> {
    contents.iter().try_fold(Composition::new(basis), |whole, &(species, content)| whole.with_form(species, content))
}

/// One pure substance, 1 g in 9 g of lossless tetraborate.
pub(crate) fn fuse_pure(species: &str, fate: &Fate) -> Result<Melt> {
    let sample = Sample::dried(1.0)?.made_of(Composition::new(Basis::Dried).with(species, 1.0)?)?;
    Charge::new(sample, tetraborate(0.0)?.weigh_g(9.0)?)?.fuse(&weights(), fate)
}

/// The value of an entry; zero where there is none.
pub(crate) fn content(composition: &Composition, species: &str) -> f64 {
    composition.get(species).and_then(|cell| cell.value()).map_or(0.0, |value| value.value())
}

/// Asserts that two numbers agree to `tolerance`, relative above 1 and absolute below.
#[track_caller]
pub(crate) fn assert_close(what: &str, found: f64, expected: f64, tolerance: f64) {
    let allowed = tolerance * expected.abs().max(1.0);
    assert!((found - expected).abs() <= allowed, "{what}: {found}, expected {expected} within {allowed}");
}
