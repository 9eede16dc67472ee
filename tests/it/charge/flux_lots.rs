//! Flux lots: purity by part, losses by programme, what the formulas give off, a change of lot, the stored form.
//! Expected values are derived by hand from the atomic weights in `support` where no source is named.

use beadchem::charge::{Addition, Amount, Charge, Evaluation, Fate, FluxLot, LossTest, Melt, ReducesTo, Sample};
use beadchem::code::Code;
use beadchem::composition::{Basis, Composition};
use beadchem::document;
use beadchem::error::Result;
use beadchem::uncertainty::Estimate;
use proptest::prelude::*;

use super::config;
use super::random::{Recipe, failed, recipe};
use crate::support::{ROUNDING, a, assert_close, weights};

/// A first-order u against a hand formula, relative: the hand leaves out atomic weights, which move nothing here.
const FIRST_ORDER: f64 = 1e-6;
/// Half a unit in the fifth place, to which the figures of a change of lot were worked out.
const FIFTH_PLACE: f64 = 5e-6;
const PERCENT: f64 = 100.0;

const CARBON_DIOXIDE: f64 = a::C + 2.0 * a::O;
const CARBONATE: f64 = 2.0 * a::LI + a::C + 3.0 * a::O;
const TETRABORATE: f64 = 2.0 * a::LI + 4.0 * a::B + 7.0 * a::O;
const METABORATE: f64 = a::LI + a::B + 2.0 * a::O;

fn with_carbonate(loss: impl Into<LossTest>) -> Result<FluxLot> {
    FluxLot::new("F-118", [("Li2B4O7", 90.0), ("Li2CO3", 10.0)], "1050 C, 18 min", loss)
}

fn code<T: core::fmt::Debug>(outcome: Result<T>) -> Code {
    outcome.unwrap_err().code()
}

/// The recipe's charge with another lot made of its own.
fn relotted(recipe: &Recipe, change: impl Fn(FluxLot) -> Result<FluxLot>) -> Result<Melt> {
    let charge = recipe.charge()?;
    let flux = change(charge.flux().lot().clone())?.weigh_g(charge.flux().mass_g().clone())?;
    let fresh = Charge::new(charge.sample().clone(), flux)?;
    let fresh = charge.additions().iter().cloned().try_fold(fresh, Charge::with)?;
    fresh.fuse(&weights(), &recipe.fate()?)
}

/// What a gram of the recipe's blend leaves and gives off, with these purities.
fn leaves(recipe: &Recipe, purities: [f64; 3]) -> f64 {
    let parts: f64 = recipe.blend.iter().sum();
    1.0 - recipe.blend[2] / parts * purities[2] * CARBON_DIOXIDE / CARBONATE
}

proptest! {
    #![proptest_config(config())]

    #[test]
    fn books_close_with_impure_parts_and_a_whole_loss(
        recipe in recipe(),
        purities in [0.9..1.0, 0.95..1.002, 0.6..1.0],
        total in prop_oneof![Just(None), (0.02..0.1).prop_map(Some)],
    ) {
        let melt = relotted(&recipe, |lot| {
            let names = ["Li2B4O7", "LiBO2", "Li2CO3"];
            let lot = names.iter().zip(purities).try_fold(lot, |lot, (part, purity)| {
                lot.with_purity(part, Estimate::new(purity, 0.001)?)
            })?;
            match total {
                None => Ok(lot),
                // the whole loss in a second programme
                Some(total) => lot
                    .with_programme("whole", LossTest::stated(total)?.including_formula())?
                    .for_programme("whole"),
            }
        }).map_err(failed)?;
        let ledger = melt.ledger();
        let weighed = ledger.sample_g + ledger.flux_g + ledger.additions_g;
        prop_assert!(ledger.imbalance_g().abs() <= ROUNDING * weighed, "mass {}", ledger.imbalance_g());
        for line in &ledger.elements {
            prop_assert!(line.imbalance_g().abs() <= ROUNDING * weighed, "{line:?}");
        }
        let stayed: f64 = ledger.elements.iter().map(|line| line.stayed_g).sum();
        let named = stayed + ledger.unnamed_g + ledger.flux_unnamed_g;
        prop_assert!((named - ledger.glass_g).abs() <= ROUNDING * weighed, "{named} g of {} g", ledger.glass_g);

        // by hand: fused flux per gram weighed, with blanks in grams per gram of fused flux
        let stays = leaves(&recipe, purities);
        let blank: f64 = recipe.blanks.iter().sum();
        let blend_g = recipe.flux_g * (1.0 - recipe.lanthana);
        let fused = match total {
            Some(total) => blend_g * (1.0 - total),
            None => blend_g * (stays - recipe.flux_loss) / (1.0 - blank * (1.0 - stays)),
        };
        let found = melt.fused_flux_ratio().value() * recipe.sample_g;
        prop_assert!((found - fused).abs() <= ROUNDING * weighed, "fused {found} g, by hand {fused} g");
        // what no formula names is in the fused flux by its share, less the blanks in front of it
        let parts: f64 = recipe.blend.iter().sum();
        let rest: f64 = recipe.blend.iter().zip(purities).map(|(part, purity)| part / parts * (1.0 - purity)).sum();
        let unnamed = rest / stays * fused * (1.0 - blank);
        prop_assert!((ledger.flux_unnamed_g - unnamed).abs() <= ROUNDING * weighed, "{} {unnamed}", ledger.flux_unnamed_g);
    }

    #[test]
    fn a_purity_of_one_changes_nothing(recipe in recipe()) {
        let plain = recipe.melt().map_err(failed)?;
        let pure = relotted(&recipe, |lot| lot.with_purity("Li2CO3", Estimate::exact(1.0)?)).map_err(failed)?;
        for (plain, pure) in plain.propagated().values().iter().zip(pure.propagated().values()) {
            prop_assert_eq!(plain.to_bits(), pure.to_bits());
        }
        prop_assert_eq!(plain.findings(), pure.findings());
    }
}

#[test]
fn a_carbonate_gives_off_what_its_formula_says() -> Result<()> {
    let lot = with_carbonate(0.003)?;
    let loss = lot.stoichiometric_loss(&weights())?;
    assert_close("by formula", loss.value(), 0.1 * CARBON_DIOXIDE / CARBONATE, ROUNDING);
    // 44.009 / 73.89 of a tenth, printed 5.96 %
    assert_eq!(format!("{:.2}", PERCENT * loss.value()), "5.96");
    // lithium's interval is most of it: A_Li enters M(Li2CO3) twice
    let lithium = weights().get("Li")?.weight.standard_uncertainty().unwrap_or(f64::NAN);
    let by_lithium = loss.value() * 2.0 * lithium / CARBONATE;
    assert!(loss.u().is_some_and(|u| u > by_lithium && u < 1.01 * by_lithium), "{:?}", loss.u());
    // half the part is carbonate, half of what it gave off is left
    let half = with_carbonate(0.003)?.with_purity("Li2CO3", 0.5)?.stoichiometric_loss(&weights())?;
    assert_close("impure", half.value(), 0.5 * loss.value(), ROUNDING);
    Ok(())
}

#[test]
fn a_whole_loss_is_split_where_the_lot_is_used() -> Result<()> {
    let whole = LossTest::stated(Estimate::new(0.0636, 0.0002)?)?.including_formula();
    let lot = with_carbonate(whole)?;
    let by_formula = lot.stoichiometric_loss(&weights())?.value();
    let of_the_lot = lot.lot_loss(&weights())?;
    assert_close("of the lot", of_the_lot.value(), 0.0636 - by_formula, ROUNDING);
    // the same glass as from the two parts stated apart
    let apart = with_carbonate(Estimate::new(of_the_lot.value(), 0.0002)?)?;
    let fuse = |lot: &FluxLot| Charge::new(Sample::dried(1.0)?, lot.weigh_g(6.0)?)?.fuse_with_loss(&weights(), 0.0);
    assert_close("glass", fuse(&lot)?.bead_mass_g(), fuse(&apart)?.bead_mass_g(), ROUNDING);
    assert_close("glass", fuse(&lot)?.bead_mass_g(), 1.0 + 6.0 * (1.0 - 0.0636), ROUNDING);
    // weighed as a whole, atomic weights do not move the mass of the glass
    let u = fuse(&lot)?.fused_flux_ratio().u();
    assert_close("u", u, 6.0 * 0.0002, ROUNDING);
    assert!(fuse(&apart)?.fused_flux_ratio().u() > u);
    Ok(())
}

#[test]
fn lithia_to_boric_oxide_by_moles() -> Result<()> {
    let lot = FluxLot::new("F-1", [("Li2B4O7", 66.0), ("LiBO2", 34.0)], "1050 C, 18 min", 0.003)?;
    let (tetra, meta) = (66.0 / TETRABORATE, 34.0 / (2.0 * METABORATE));
    let ratio = lot.li2o_to_b2o3(&weights())?;
    assert_close("Li2O : B2O3", ratio.value(), (tetra + meta) / (2.0 * tetra + meta), ROUNDING);
    assert!(ratio.u().is_some());
    let pure = FluxLot::new("F-1", [("Li2B4O7", 1.0)], "1050 C, 18 min", 0.003)?;
    assert_close("tetraborate", pure.li2o_to_b2o3(&weights())?.value(), 0.5, ROUNDING);
    let soda = FluxLot::new("F-1", [("Na2CO3", 1.0)], "1050 C, 18 min", 0.003)?;
    assert_eq!(code(soda.li2o_to_b2o3(&weights())), Code::ChargeIncomplete);
    Ok(())
}

#[test]
fn replicates_give_mean_and_spread() -> Result<()> {
    let pairs = [(5.0012, 4.9820), (5.0004, 4.9806), (4.9997, 4.9802)];
    let losses = pairs.map(|(before, after)| (before - after) / before);
    let mean = losses.iter().sum::<f64>() / 3.0;
    let variance = losses.iter().map(|loss| (loss - mean).powi(2)).sum::<f64>() / 2.0;
    let test = LossTest::weighed(&pairs)?;
    assert_close("mean", test.loss().value(), mean, ROUNDING);
    assert_close("u", test.loss().u().unwrap_or(f64::NAN), (variance / 3.0).sqrt(), ROUNDING);
    assert_eq!(test.loss().dof(), 2.0);
    // a replicate that gained a tenth of a milligram is one like another
    assert!(LossTest::weighed(&[(5.0, 5.0001), (5.0, 4.9999)])?.loss().value().abs() < ROUNDING);
    assert_eq!(code(LossTest::weighed(&[])), Code::ReplicatesTooFew);
    let alone = LossTest::weighed(&[(5.0, 4.98)]).unwrap_err();
    assert_eq!(alone.code(), Code::ReplicatesTooFew);
    assert!(alone.to_string().contains("state the loss with its u"), "{alone}");
    assert_eq!(code(LossTest::weighed(&[(5.0, 1.98), (5.0, 4.98)])), Code::NumberOutOfRange);
    assert_eq!(code(LossTest::weighed(&[(5.0, f64::NAN), (5.0, 4.98)])), Code::MassMissing);
    Ok(())
}

#[test]
fn dates_are_dates() {
    let dated = |date: &str| LossTest::stated(0.003).unwrap().dated(date).map(|test| test.date() == Some(date));
    for date in ["2026-03-04", "2024-02-29", "2000-02-29", "1999-12-31"] {
        assert_eq!(dated(date), Ok(true), "{date}");
    }
    for wrong in [
        "2026-02-29",
        "1900-02-29",
        "2026-13-01",
        "2026-04-31",
        "2026-00-10",
        "2026-1-10",
        "04.03.2026",
        "",
        "２０26-03-04",
        "2026-03-0４",
    ] {
        assert_eq!(dated(wrong).map_err(|refused| refused.code()), Err(Code::DateUnreadable), "{wrong}");
    }
}

#[test]
fn a_lot_of_several_programmes_wants_one_chosen() -> Result<()> {
    let lot = with_carbonate(0.003)?.with_programme("1150 C, 25 min", Estimate::new(0.006, 0.0002)?)?;
    let refused = lot.weigh_g(8.0).unwrap_err();
    assert_eq!(refused.code(), Code::FluxProgramme);
    assert!(refused.to_string().contains("`1050 C, 18 min`, `1150 C, 25 min`"), "{refused}");
    assert_eq!(code(lot.corrected_mass_g(6.0, &weights())), Code::FluxProgramme);
    assert_eq!(code(lot.lot_loss(&weights())), Code::FluxProgramme);
    let unknown = lot.for_programme("1200 C").unwrap_err();
    assert!(unknown.code() == Code::FluxProgramme && unknown.to_string().contains("`1150 C, 25 min`"), "{unknown}");
    assert_eq!(lot.for_programme("1150 C, 25 min")?.weigh_g(8.0)?.lot().loss().value(), 0.006);
    assert_eq!(lot.for_programme("1050 C, 18 min")?.weigh_g(8.0)?.lot(), &with_carbonate(0.003)?);
    assert_eq!(code(lot.with_programme("1050 C, 18 min", 0.004)), Code::FluxProgramme);
    Ok(())
}

#[test]
fn purities_are_checked() -> Result<()> {
    let lot = with_carbonate(0.003)?;
    assert_eq!(code(lot.clone().with_purity("LiBO2", 0.99)), Code::SpeciesUnknown);
    assert_eq!(code(lot.clone().with_purity("Li2CO3", 99.0)), Code::NumberOutOfRange);
    assert_eq!(code(lot.clone().with_purity("Li2CO3", 0.4)), Code::NumberOutOfRange);
    // an assay a little above the whole, within three u and beyond
    assert!(lot.clone().with_purity("Li2CO3", Estimate::new(1.002, 0.001)?).is_ok());
    assert_eq!(code(lot.clone().with_purity("Li2CO3", Estimate::new(1.004, 0.001)?)), Code::NumberOutOfRange);
    let impure = lot.with_purity("Li2CO3", Estimate::new(0.96, 0.01)?)?;
    assert_eq!(code(impure.clone().with_purity("Li2CO3", 0.97)), Code::SpeciesDoubled);
    let melt = Charge::new(Sample::dried(1.0)?, impure.weigh_g(6.0)?)?.fuse_with_loss(&weights(), 0.0)?;
    let note = melt.findings().iter().find(|finding| finding.code == Code::RemainderCarried);
    assert!(note.is_some_and(|note| note.text.contains("F-118 leave 0.4 %")), "{note:?}");
    // what is not carbonate gives off no carbon dioxide: 6 g x 0.1 x 0.01 x 0.5956 are its u in the glass
    let budget = melt.budget("bead mass")?;
    let row = budget.rows().iter().find(|row| row.name == "purity of Li2CO3 in flux lot F-118");
    let expected = 6.0 * 0.1 * 0.01 * CARBON_DIOXIDE / CARBONATE;
    assert!(row.is_some_and(|row| (row.contribution + expected).abs() < FIRST_ORDER), "{row:?}");
    Ok(())
}

#[test]
fn the_corrected_mass_comes_out_on_target() -> Result<()> {
    let plain = FluxLot::new("F-1", [("Li2B4O7", 1.0)], "1050 C, 18 min", Estimate::new(0.0062, 0.0003)?)?;
    let mass = plain.corrected_mass_g(6.0, &weights())?;
    assert_close("6 g / (1 - l)", mass.value(), 6.0 / (1.0 - 0.0062), ROUNDING);
    assert_close("u", mass.u().unwrap_or(f64::NAN), 6.0 * 0.0003 / (1.0 - 0.0062f64).powi(2), ROUNDING);
    for lot in [plain, with_carbonate(0.003)?, with_carbonate(0.003)?.with_blank("SiO2", 0.001)?] {
        let mass = lot.corrected_mass_g(6.0, &weights())?.value();
        let melt = Charge::new(Sample::dried(1.0)?, lot.weigh_g(mass)?)?.fuse_with_loss(&weights(), 0.0)?;
        assert_close("fused", melt.fused_flux_ratio().value(), 6.0, ROUNDING);
    }
    assert_eq!(code(with_carbonate(0.003)?.corrected_mass_g(0.0, &weights())), Code::MassNotPositive);
    Ok(())
}

fn lot(name: &str, loss: f64, u: f64) -> Result<FluxLot> {
    FluxLot::new(name, [("Li2B4O7", 1.0)], "1050 C, 18 min", Estimate::new(loss, u)?)
}

fn exactly(value: f64) -> Result<Estimate> {
    Estimate::exact(value)
}

#[test]
fn a_change_of_lot_by_each_evaluation() -> Result<()> {
    // 6 g of flux and 1 g of sample without loss; losses 0.35 % and 0.62 %
    let (old, new) = (lot("F-118", 0.0035, 0.0002)?, lot("F-121", 0.0062, 0.0003)?);
    let charge = Charge::new(Sample::dried(exactly(1.0)?)?, old.weigh_g(exactly(6.0)?)?)?;
    let melt = charge.fuse_with_loss(&weights(), exactly(0.0)?)?;

    let fractions = melt.lot_change(&new, Evaluation::GlassFractions)?;
    let by_hand = (6.0 * 0.9938 + 1.0) / (6.0 * 0.9965 + 1.0);
    assert_close("(b)", fractions.factor(), by_hand, ROUNDING);
    assert!((fractions.factor() - 0.99768).abs() <= FIFTH_PLACE && fractions.exact());
    // -0.13 % absolute on 55.5 % CaO
    assert_eq!(format!("{:.2}", 55.5 * (fractions.factor() - 1.0)), "-0.13");
    let u = 6.0 / (6.0 * 0.9965 + 1.0) * (0.0003f64.powi(2) + (by_hand * 0.0002).powi(2)).sqrt();
    assert!((fractions.u() / u - 1.0).abs() < FIRST_ORDER, "{} {u}", fractions.u());

    let intensities = melt.lot_change(&new, Evaluation::Intensities)?;
    assert_close("(a)", intensities.factor(), 0.9938 / 0.9965, ROUNDING);
    assert!((intensities.factor() - 0.99729).abs() <= FIFTH_PLACE && intensities.exact());
    let whole = melt.lot_change(&new, Evaluation::WholeMelt)?;
    assert_eq!((whole.factor(), whole.u(), whole.exact()), (1.0, 0.0, true));

    for (change, words) in
        [(&fractions, "evaluation (b)"), (&intensities, "evaluation (a)"), (&whole, "evaluation (c)")]
    {
        let text = change.text();
        assert!(text.contains(words) && text.contains("only where the calibration used lot F-118"), "{text}");
        assert!(!text.contains("First order"), "{text}");
    }
    assert_eq!(code(melt.lot_change(&lot("F-118", 0.0062, 0.0003)?, Evaluation::Intensities)), Code::InputDoubled);
    Ok(())
}

#[test]
fn the_loss_of_the_sample_is_shared_and_additions_make_it_first_order() -> Result<()> {
    let (old, new) = (lot("F-118", 0.0035, 0.0)?, lot("F-121", 0.0062, 0.0)?);
    let loss = Estimate::new(0.40, 0.01)?;
    let charge = Charge::new(Sample::dried(exactly(1.0)?)?, old.weigh_g(exactly(6.0)?)?)?;
    let change = charge.fuse_with_loss(&weights(), loss.clone())?.lot_change(&new, Evaluation::GlassFractions)?;
    // f = (A + g)/(B + g), df/dg = (B - A)/(B + g)^2: the sample loss moves both dilutions together
    let (a, b) = (6.0 * 0.9938, 6.0 * 0.9965);
    assert_close("factor", change.factor(), (a + 0.6) / (b + 0.6), ROUNDING);
    assert!((change.u() / (0.01 * (b - a) / (b + 0.6f64).powi(2)) - 1.0).abs() < FIRST_ORDER);

    let nitrate = Addition::oxidant("NaNO3", Amount::mass_g(0.5)?, ReducesTo::NO)?;
    let with_soda = charge.clone().with(nitrate)?.fuse_with_loss(&weights(), loss.clone())?;
    let change = with_soda.lot_change(&new, Evaluation::Intensities)?;
    assert!(!change.exact() && change.text().contains("First order only"));
    assert_close("(a)", change.factor(), a / b, ROUNDING);
    assert!(with_soda.lot_change(&new, Evaluation::GlassFractions)?.exact());
    // ammonium iodide that leaves entirely leaves nothing fixed
    let gone = Addition::release_agent("NH4I", Amount::mass_g(0.02)?, Estimate::exact(0.0)?)?.late(3.0)?;
    let change = charge.with(gone)?.fuse_with_loss(&weights(), loss)?.lot_change(&new, Evaluation::Intensities)?;
    assert!(change.exact());
    Ok(())
}

#[test]
fn whole_losses_change_by_what_is_left() -> Result<()> {
    // (a) goes by what is left of the flux, carbonate included
    let new = FluxLot::new("F-121", [("Li2CO3", 10.0), ("Li2B4O7", 90.0)], "1050 C, 18 min", 0.006)?;
    let sample = Sample::dried(1.0)?.made_of(Composition::new(Basis::Dried).with("SiO2", 1.0)?)?;
    let melt = Charge::new(sample, with_carbonate(0.003)?.weigh_g(6.0)?)?.fuse(&weights(), &Fate::new())?;
    let stays = 1.0 - 0.1 * CARBON_DIOXIDE / CARBONATE;
    let change = melt.lot_change(&new, Evaluation::Intensities)?;
    assert_close("(a)", change.factor(), (stays - 0.006) / (stays - 0.003), ROUNDING);
    assert!(change.text().contains("not stated for"));
    let other = FluxLot::new("F-9", [("LiBO2", 1.0)], "1050 C, 18 min", 0.006)?;
    assert_eq!(code(melt.lot_change(&other, Evaluation::WholeMelt)), Code::FluxBlendDiffers);
    let several = new.with_programme("1150 C", 0.008)?;
    assert_eq!(code(melt.lot_change(&several, Evaluation::Intensities)), Code::FluxProgramme);
    Ok(())
}

#[test]
fn the_stored_lot_reads_back_and_schema_1_is_still_read() -> Result<()> {
    let test = LossTest::weighed(&[(5.0012, 4.6820), (5.0004, 4.6806)])?.including_formula().dated("2026-03-04")?;
    let lot = with_carbonate(Estimate::new(0.003, 0.0002)?)?
        .with_purity("Li2CO3", Estimate::new(0.99, 0.002)?)?
        .with_programme("1150 C, 25 min", test.with_note("new can"))?
        .with_blank("SiO2", 0.0001)?;
    let stored = document::to_json(&lot)?;
    let read: FluxLot = document::from_json(&stored)?;
    assert_eq!(read, lot);
    assert_eq!(document::digest(&read)?, document::digest(&lot)?);
    let both = stored.replacen("\"replicates_g\"", "\"loss\": { \"value\": 0.06 }, \"replicates_g\"", 1);
    assert!(document::from_json::<FluxLot>(&both).is_err());

    let first = r#"{"kind": "flux-lot", "schema": 1, "body": {"name": "F-118", "programme": "1050 C, 18 min",
        "loss": {"value": 0.003}, "blend": [{"species": "Li2B4O7", "share": 0.9}, {"species": "Li2CO3", "share": 0.1}]}}"#;
    assert_eq!(document::from_json::<FluxLot>(first)?, with_carbonate(0.003)?);
    let mistyped = first.replace("\"programme\"", "\"program\"");
    assert_eq!(code(document::from_json::<FluxLot>(&mistyped)), Code::DocumentUnknownField);

    let charge = r#"{"kind": "charge", "schema": 1, "body": {"sample_mass_g": {"value": 1.0}, "sample_basis": "dried",
        "flux_mass_g": {"value": 6.0}, "flux_lot": {"name": "F-118", "programme": "1050 C, 18 min",
        "loss": {"value": 0.003}, "blend": [{"species": "Li2B4O7", "share": 0.9}, {"species": "Li2CO3", "share": 0.1}]}}}"#;
    let expected = Charge::new(Sample::dried(1.0)?, with_carbonate(0.003)?.weigh_g(6.0)?)?;
    assert_eq!(document::from_json::<Charge>(charge)?, expected);
    let again: Charge = document::from_json(&document::to_json(&expected)?)?;
    assert_eq!(again, expected);
    Ok(())
}
