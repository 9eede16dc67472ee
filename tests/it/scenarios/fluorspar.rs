//! An acid-grade fluorspar: its sum, and the bead by what its fluorine does.

use beadchem::charge::{Charge, Fate, FluxLot, Melt, Sample};
use beadchem::code::Code;
use beadchem::composition::{Basis, Composition};
use beadchem::error::Result;
use beadchem::substance::{factor, oxygen_equivalent};
use beadchem::uncertainty::Estimate;

use super::{Paper, figure, m, percent, printed, sum};
use crate::support::{ROUNDING, a, assert_close, forms, weights};

/// g/g beside 97.0 % of CaF2; 0.65 % are not named.
const OTHERS: [(&str, f64); 4] = [("SiO2", 0.016), ("Al2O3", 0.0035), ("Fe2O3", 0.002), ("MgO", 0.002)];
const SPAR: f64 = 0.97;
const LIME: f64 = SPAR * m::CAO / m::CAF2;
const FLUORINE: f64 = SPAR * 2.0 * a::F / m::CAF2;
/// Oxygen that the lime counts and the spar does not hold.
const EQUIVALENT: f64 = SPAR * a::O / m::CAF2;

#[test]
fn the_sum_of_fluorspar_needs_its_oxygen_equivalent() -> Result<()> {
    percent("CaO", SPAR * factor("CaF2", "CaO", &weights())?.value(), LIME, "69.67");
    let fluorine = SPAR * factor("CaF2", "F", &weights())?.value();
    percent("F", fluorine, FLUORINE, "47.21");
    let equivalent = fluorine * oxygen_equivalent("CaF2", "F", &["CaO"], &weights())?.value();
    percent("oxygen equivalent", equivalent, EQUIVALENT, "19.88");
    let whole = forms(Basis::Dried, &OTHERS)?.with("CaO", LIME)?.with("F", FLUORINE)?;
    let total = whole.total(None)?.value;
    percent("sum", total, sum(&OTHERS) + LIME + FLUORINE, "119.23");
    // the other route: the spar as itself
    let as_spar = forms(Basis::Dried, &OTHERS)?.with("CaF2", SPAR)?.total(None)?.value;
    percent("less the equivalent", total - equivalent, as_spar, "99.35");
    Ok(())
}

#[test]
fn the_bead_of_fluorspar_by_what_its_fluorine_does() -> Result<()> {
    let mut contents = OTHERS.to_vec();
    contents.push(("CaF2", SPAR));
    let mut oxides = OTHERS.to_vec();
    oxides.push(("CaO", LIME));
    let fuse = |fate: &Fate, loss: f64| -> Result<Melt> {
        let paper = Paper { sample_g: 0.5, flux_g: 8.0, flux_loss: 0.0040, loss, residue_g: 0.0 };
        let melt = paper.fuse(&paper.charge(&contents)?, fate, &oxides)?;
        assert_close("dilution", melt.dilution().value(), 1.0 - loss + 15.936, ROUNDING);
        Ok(melt)
    };
    let kept = fuse(&Fate::new().keep("F")?, 0.0)?;
    let as_hf = fuse(&Fate::new().lose("F", "HF")?, FLUORINE - EQUIVALENT)?;
    // three fluorines take one boron of the flux along
    let as_bf3 = fuse(&Fate::new().lose("F", "BF3")?, FLUORINE * (1.0 + a::B / (3.0 * a::F)))?;
    figure("loss as HF", as_hf.loss_on_fusion(), FLUORINE - EQUIVALENT, "0.273");
    for (melt, print) in [(&kept, "16.94"), (&as_hf, "16.66"), (&as_bf3, "16.37")] {
        printed("dilution", melt.dilution().value(), print);
    }
    let span = kept.dilution().value() / as_bf3.dilution().value() - 1.0;
    percent("span", span, 16.936 / (16.936 - FLUORINE * (1.0 + a::B / (3.0 * a::F))) - 1.0, "3.4");
    let fluorine = kept.undilute(&Composition::new(Basis::Bead).with("F", FLUORINE / 16.936)?)?.value("F")?;
    percent("F from the bead that kept it", fluorine, FLUORINE, "47.21");
    Ok(())
}

/// A weighed bead tells one end of the fluorine from the other.
#[test]
fn the_weighed_bead_tells_where_the_fluorine_went() -> Result<()> {
    let loss = FLUORINE - EQUIVALENT;
    let lot = FluxLot::new("F-118", [("Li2B4O7", 1.0)], "1050 C, 18 min", Estimate::new(0.0040, 0.0003)?)?;
    let sample = Sample::dried(Estimate::new(0.5, 0.0001)?)?;
    let charge = Charge::new(sample, lot.weigh_g(Estimate::new(8.0, 0.0001)?)?)?;
    let weighed = Estimate::new(0.5 * (1.0 - loss) + 7.968, 0.0003)?;
    let check = |loss: f64| {
        charge.fuse_with_loss(&weights(), Estimate::new(loss, 0.01)?)?.check_bead_mass(weighed.clone(), 4.0)
    };
    let as_hf = check(loss)?;
    assert_close("difference", as_hf.difference_g, 0.0, ROUNDING);
    assert!(as_hf.findings.is_empty(), "{:?}", as_hf.findings);
    let kept = check(0.0)?;
    assert_close("difference", kept.difference_g, -0.5 * loss, ROUNDING);
    let codes: Vec<Code> = kept.findings.iter().map(|finding| finding.code).collect();
    assert_eq!(codes, [Code::BeadMassDiffers]);
    // loss on fusion, flux loss, flux, sample, weighed bead
    let parts: [f64; 5] = [0.5 * 0.01, 8.0 * 0.0003, 0.996 * 0.0001, 0.0001, 0.0003];
    let u = parts.iter().map(|part| part * part).sum::<f64>().sqrt();
    assert_close("u", kept.u_g, u, ROUNDING);
    Ok(())
}
