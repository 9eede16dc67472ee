//! A copper sulfide concentrate with nitrate: everything oxidises, the sulfur stays or partly leaves.

use beadchem::charge::{Addition, Amount, Charge, Fate, Form, ReducesTo, Sample};
use beadchem::composition::{Basis, BasisLinks};
use beadchem::error::Result;
use beadchem::substance::factor;

use super::{Paper, bead, figure, m, percent, printed, sum};
use crate::support::{ROUNDING, a, assert_close, blend, content, forms, fuse_pure, weights};

/// Dried, g/g; 1.2 % other volatiles are counted as water, 0.6 % are not named.
const ELEMENTS: [(&str, f64); 6] =
    [("Cu", 0.280), ("Fe", 0.295), ("S", 0.330), ("Zn", 0.015), ("SiO2", 0.050), ("Al2O3", 0.012)];
const VOLATILE: f64 = 0.012;
const SAMPLE_G: f64 = 0.5003;
const FLUX_G: f64 = 8.0012;
const FLUX_LOSS: f64 = 0.0040;
const NITRATE_G: f64 = 1.50;
const LOST_SULFUR: f64 = 0.12;

/// The same as oxides, on paper.
fn oxides() -> [(&'static str, f64); 6] {
    [
        ("CuO", 0.280 * m::CUO / a::CU),
        ("Fe2O3", 0.295 * m::FE2O3 / (2.0 * a::FE)),
        ("SO3", 0.330 * m::SO3 / a::S),
        ("ZnO", 0.015 * m::ZNO / a::ZN),
        ("SiO2", 0.050),
        ("Al2O3", 0.012),
    ]
}

/// Oxygen taken up, g per g of sample.
fn uptake() -> f64 {
    sum(&oxides()) - sum(&ELEMENTS)
}

fn paper() -> Paper {
    let residue_g = NITRATE_G * m::NA2O / (2.0 * m::NANO3);
    Paper { sample_g: SAMPLE_G, flux_g: FLUX_G, flux_loss: FLUX_LOSS, loss: VOLATILE - uptake(), residue_g }
}

fn charge(nitrate_g: f64, route: ReducesTo) -> Result<Charge> {
    let mut contents = ELEMENTS.to_vec();
    contents.push(("H2O", VOLATILE));
    let sample = Sample::dried(SAMPLE_G)?.made_of(forms(Basis::Dried, &contents)?)?;
    let flux = blend(&[("Li2B4O7", 66.0), ("LiBO2", 34.0)], FLUX_LOSS)?.weigh_g(FLUX_G)?;
    Charge::new(sample, flux)?.with(Addition::oxidant("NaNO3", Amount::mass_g(nitrate_g)?, route)?)
}

#[test]
fn the_sum_of_oxides_is_far_above_the_whole() -> Result<()> {
    let elements = forms(Basis::Dried, &ELEMENTS)?;
    percent("elements", elements.total(None)?.value, sum(&ELEMENTS), "98.2");
    let mut whole = elements;
    for (element, oxide, print) in
        [("Cu", "CuO", "35.05"), ("Fe", "Fe2O3", "42.18"), ("S", "SO3", "82.40"), ("Zn", "ZnO", "1.87")]
    {
        whole = whole.written_as(element, oxide, &weights())?;
        let on_paper = oxides().iter().find(|(name, _)| *name == oxide).map_or(f64::NAN, |(_, content)| *content);
        percent(oxide, content(&whole, oxide), on_paper, print);
    }
    percent("oxides", whole.total(None)?.value, sum(&oxides()), "167.7");
    Ok(())
}

#[test]
fn copper_concentrate_comes_back_from_its_bead() -> Result<()> {
    let paper = paper();
    let charge = charge(NITRATE_G, ReducesTo::NO)?;
    let melt = paper.fuse(&charge, &Fate::sulfur_kept(), &oxides())?;
    let ledger = melt.ledger();
    // what the 0.6 % without a name are, nobody knows; they take up nothing
    let demand_mol = ledger.oxygen.demand_g / a::O;
    percent("oxygen taken up", ledger.oxygen.demand_g / SAMPLE_G, uptake(), "69.5");
    figure("mmol of oxygen", demand_mol * 1e3, SAMPLE_G * uptake() / a::O * 1e3, "21.7");
    printed("loss on fusion", melt.loss_on_fusion(), "-0.683");
    printed("bead", melt.bead_mass_g(), "9.358");
    printed("dilution", melt.dilution().value(), "18.70");
    let glass = melt.glass()?;
    percent("CuO in glass", content(&glass, "CuO"), oxides()[0].1 / paper.dilution(), "1.87");
    percent("SO3 in glass", content(&glass, "SO3"), oxides()[2].1 / paper.dilution(), "4.41");

    let kept = m::NA2O / (2.0 * m::NANO3);
    figure("Na2O of NaNO3", factor("NaNO3", "Na2O", &weights())?.value(), kept, "0.3646");
    let soda_g = content(&glass, "Na2O") * melt.bead_mass_g();
    figure("Na2O", soda_g, NITRATE_G * kept, "0.547");
    let stayed = |symbol: &str| ledger.element(symbol).map_or(f64::NAN, |line| line.stayed_g);
    let (sulfate, soda) = (stayed("S") / a::S, stayed("Na") / (2.0 * a::NA));
    figure("mmol SO3", sulfate * 1e3, SAMPLE_G * 0.330 / a::S * 1e3, "5.15");
    figure("mmol Na2O", soda * 1e3, NITRATE_G / (2.0 * m::NANO3) * 1e3, "8.82");
    // Li2O: one per tetraborate, half a one per metaborate
    let lithia = FLUX_G
        * (1.0 - FLUX_LOSS)
        * (0.66 / (2.0 * a::LI + 4.0 * a::B + 7.0 * a::O) + 0.34 / (2.0 * (a::LI + a::B + 2.0 * a::O)));
    figure("mmol Li2O", stayed("Li") / (2.0 * a::LI) * 1e3, lithia * 1e3, "58.3");

    let elements = melt.undilute(&bead(oxides().map(|(oxide, content)| (oxide, content / paper.dilution())))?)?;
    let elements = elements.on(Basis::Dried, &BasisLinks::default(), &Form::Elements)?;
    for &(element, content) in ELEMENTS.iter().take(4) {
        assert_close(element, elements.value(element)?, content, ROUNDING);
    }
    Ok(())
}

/// How much nitrate hands over what is needed depends on what its nitrogen becomes.
#[test]
fn the_nitrate_needed_goes_by_its_route() -> Result<()> {
    let demand = SAMPLE_G * uptake() / a::O;
    for (route, oxygen, print) in [
        (ReducesTo::N2, 2.5, "0.74"),
        (ReducesTo::NO, 1.5, "1.23"),
        (ReducesTo::Nitrite, 1.0, "1.85"),
        (ReducesTo::NO2, 0.5, "3.69"),
    ] {
        let needed_g = demand / route.oxygen_per_nitrate() * m::NANO3;
        figure(route.word(), needed_g, demand / oxygen * m::NANO3, print);
        let ledger = charge(needed_g, route)?.fuse(&weights(), &Fate::sulfur_kept())?.ledger();
        assert_close("demand", ledger.oxygen.demand_g, demand * a::O, ROUNDING);
        assert_close("handed over", ledger.oxygen.from_oxidant_g, ledger.oxygen.demand_g, ROUNDING);
        assert_close("from the air", ledger.oxygen.from_air_g, 0.0, ROUNDING);
    }
    Ok(())
}

/// Sulfur that left unnoticed makes the bead lighter than predicted, and copper read too high.
#[test]
fn sulfur_lost_in_silence_raises_copper() -> Result<()> {
    let charge = charge(NITRATE_G, ReducesTo::NO)?;
    let predicted = charge.fuse(&weights(), &Fate::sulfur_kept())?;
    let real = charge.fuse(&weights(), &Fate::new().split("S", 1.0 - LOST_SULFUR, "SO2")?)?;
    let lost_g = LOST_SULFUR * SAMPLE_G * 0.330 * m::SO3 / a::S;
    figure("real bead", real.bead_mass_g(), paper().glass_g() - lost_g, "9.309");
    let reading = || bead([("CuO", content(&real.glass()?, "CuO"))]);
    let copper = |result: beadchem::charge::SampleResult| {
        result.on(Basis::Dried, &BasisLinks::default(), &Form::Elements)?.value("Cu")
    };
    let wrong = copper(predicted.undilute(&reading()?)?)?;
    percent("by the predicted bead", wrong, 0.280 * paper().glass_g() / (paper().glass_g() - lost_g), "28.15");
    percent("by the real bead", copper(real.undilute(&reading()?)?)?, 0.280, "28.00");
    Ok(())
}

/// Mass change of sulfides roasted to oxides: for chalcocite next to nothing seems to happen.
#[test]
fn a_furnace_shows_little_of_a_sulfide() -> Result<()> {
    let roast = |species: &str| Ok(-fuse_pure(species, &Fate::new().lose("S", "SO2")?)?.loss_on_fusion());
    let cases: [(Result<f64>, f64, &str); 3] = [
        (roast("CuFeS2"), (m::CUO + m::FE2O3 / 2.0) / (a::CU + a::FE + 2.0 * a::S) - 1.0, "-13.1"),
        (roast("FeS2"), m::FE2O3 / 2.0 / (a::FE + 2.0 * a::S) - 1.0, "-33.4"),
        (roast("Cu2S"), 2.0 * m::CUO / (2.0 * a::CU + a::S) - 1.0, "-0.04"),
    ];
    for (change, on_paper, print) in cases {
        percent("mass change", change?, on_paper, print);
    }
    Ok(())
}
