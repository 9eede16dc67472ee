//! A clay weighed moist and weighed dried: two ways to one bead and one result.

use beadchem::charge::{Charge, Fate, Sample};
use beadchem::composition::{Basis, BasisLinks, LossOnIgnition};
use beadchem::error::Result;

use super::{Paper, bead, figure, percent, sum};
use crate::support::{ROUNDING, assert_close, content, forms, tetraborate, weights};

/// Dried, g/g.
const OXIDES: [(&str, f64); 8] = [
    ("SiO2", 0.523),
    ("Al2O3", 0.264),
    ("Fe2O3", 0.041),
    ("TiO2", 0.012),
    ("MgO", 0.008),
    ("CaO", 0.006),
    ("K2O", 0.019),
    ("Na2O", 0.003),
];
const LOSS: f64 = 0.121;
const MOISTURE: f64 = 0.062;
const PAPER: Paper = Paper { sample_g: 0.9, flux_g: 9.0, flux_loss: 0.0030, loss: LOSS, residue_g: 0.0 };

fn links() -> Result<BasisLinks> {
    let links = BasisLinks::default().moisture(MOISTURE)?;
    Ok(links.loss_on_ignition(LossOnIgnition::new(LOSS, 1000.0)?))
}

fn dried() -> Vec<(&'static str, f64)> {
    let mut contents = OXIDES.to_vec();
    contents.push(("H2O", LOSS));
    contents
}

#[test]
fn clay_comes_back_from_its_bead() -> Result<()> {
    let melt = PAPER.fuse(&PAPER.charge(&dried())?, &Fate::new(), &OXIDES)?;
    figure("dilution", melt.dilution().value(), PAPER.dilution(), "10.849");
    let loss = LossOnIgnition::new(LOSS, 1000.0)?;
    percent("total", forms(Basis::Dried, &OXIDES)?.total(Some(&loss))?.value, sum(&OXIDES) + LOSS, "99.7");
    Ok(())
}

#[test]
fn clay_as_received() -> Result<()> {
    let on_paper = 0.264 * (1.0 - MOISTURE);
    let composition = forms(Basis::Dried, &OXIDES)?.on(Basis::AsReceived, &links()?)?;
    percent("Al2O3 as received", content(&composition, "Al2O3"), on_paper, "24.76");
    let melt = PAPER.charge(&dried())?.fuse(&weights(), &Fate::new())?;
    let reading = bead([("Al2O3", content(&melt.glass()?, "Al2O3"))])?;
    let result = melt.undilute(&reading)?.on(Basis::AsReceived, &links()?, &Default::default())?;
    assert_close("from the bead", result.value("Al2O3")?, on_paper, ROUNDING);

    // the same dry matter weighed moist: the same glass
    let moist: Vec<(&str, f64)> = OXIDES.iter().map(|&(oxide, content)| (oxide, content * (1.0 - MOISTURE))).collect();
    let water = MOISTURE + LOSS * (1.0 - MOISTURE);
    let mut contents = moist;
    contents.push(("H2O", water));
    let sample = Sample::new(PAPER.sample_g / (1.0 - MOISTURE), Basis::AsReceived)?;
    let charge =
        Charge::new(sample.made_of(forms(Basis::AsReceived, &contents)?)?, tetraborate(0.0030)?.weigh_g(9.0)?)?;
    let weighed_moist = charge.fuse(&weights(), &Fate::new())?;
    assert_close("bead mass", weighed_moist.bead_mass_g(), melt.bead_mass_g(), ROUNDING);
    assert_close("weighed moist", weighed_moist.undilute(&reading)?.value("Al2O3")?, on_paper, ROUNDING);

    // from as received to ignited is a product, not the sum of 6.2 and 12.1
    let left = links()?.between(Basis::AsReceived, Basis::ignited(1000.0)?)?.recip();
    percent("loss as received", 1.0 - left, 1.0 - (1.0 - MOISTURE) * (1.0 - LOSS), "17.55");
    assert_close("of the moist charge", weighed_moist.loss_on_fusion(), 1.0 - left, ROUNDING);
    Ok(())
}
