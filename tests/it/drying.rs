//! Moisture by steps to constant mass, loss on ignition by weighing, hydrates, the whole loss. Expected values by hand.

use beadchem::code::Code;
use beadchem::composition::{
    Atmosphere, Basis, BasisLinks, Composition, ConstantMass, Drying, IgnitionWeighing, LossOnIgnition,
};
use beadchem::error::Result;
use beadchem::substance::Formula;
use beadchem::uncertainty::Estimate;

use crate::support::{ROUNDING, a, assert_close, weights};

/// Differences of masses of 60 g in doubles, relative to a sample of 10 g.
const OF_DIFFERENCES: f64 = 1e-14;
const U_G: f64 = 0.0002;
const PAN: f64 = 52.1040;
const MOIST: f64 = 62.1180;
const SAMPLE: f64 = MOIST - PAN;
const K: f64 = 3.0;

fn grams(value: f64) -> Estimate {
    Estimate::new(value, U_G).unwrap()
}

fn drying(dried: &[f64]) -> Result<Drying> {
    let empty = Drying::new(grams(PAN), grams(MOIST), 105.0)?;
    dried.iter().try_fold(empty, |drying, mass| drying.step(grams(*mass)))
}

fn rule() -> ConstantMass {
    ConstantMass::within_share(0.0005).unwrap()
}

fn code<T: core::fmt::Debug>(outcome: Result<T>) -> Code {
    outcome.unwrap_err().code()
}

#[test]
fn moisture_with_the_pan_in_both_differences() -> Result<()> {
    let dried = 61.4974;
    let moisture = drying(&[61.8, 61.4990, dried])?.moisture(&rule(), K)?;
    let estimate = moisture.estimate()?;
    let m = (MOIST - dried) / SAMPLE;
    assert_close("M", estimate.value(), m, OF_DIFFERENCES);
    // dM/d moist = (1 - M)/m, dM/d dried = -1/m, dM/d pan = M/m
    let u = U_G / SAMPLE * ((1.0 - m).powi(2) + 1.0 + m * m).sqrt();
    assert_close("u", estimate.u().unwrap_or(f64::NAN), u, ROUNDING);
    assert_eq!((moisture.steps(), moisture.findings().len()), (3, 0));
    assert_close("change", moisture.last_change_g(), 0.0016, OF_DIFFERENCES);
    assert_eq!(moisture.budget().rows()[0].name, "pan with dried powder");
    Ok(())
}

#[test]
fn one_balance_stays_shared() -> Result<()> {
    // a scale that reads too much by a part of the load moves M by nothing but the pan: here each by the same grams
    let shared = |value: f64| Estimate::new(value, U_G)?.shared("balance B-2", 0.001);
    let drying = Drying::new(shared(PAN)?, shared(MOIST)?, 105.0)?.step(shared(61.4974)?)?.step(shared(61.4974)?)?;
    let estimate = drying.moisture(&rule(), K)?.estimate()?;
    // an offset of all three readings cancels: the derivatives add up to zero
    assert_eq!(estimate.causes().len(), 1);
    assert!(estimate.causes()[0].u.abs() < ROUNDING, "{:?}", estimate.causes());
    let plain = Drying::new(grams(PAN), grams(MOIST), 105.0)?.step(grams(61.4974))?.step(grams(61.4974))?;
    let own = plain.moisture(&rule(), K)?.estimate()?;
    assert_close("u", estimate.u().unwrap_or(f64::NAN), own.u().unwrap_or(f64::NAN), ROUNDING);
    Ok(())
}

#[test]
fn not_constant_is_no_number() -> Result<()> {
    for steps in [&[][..], &[61.4974], &[61.5100, 61.4974], &[61.4900, 61.4974]] {
        let refused = drying(steps)?.moisture(&rule(), K).unwrap_err();
        assert_eq!(refused.code(), Code::DryingNotConstant, "{refused}");
        assert!(refused.to_string().starts_with("Not constant: "), "{refused}");
    }
    let refused = drying(&[61.5100, 61.4974])?.moisture(&rule(), K).unwrap_err().to_string();
    assert!(refused.contains("12.6 mg, 0.126 % of the sample (allowed 0.05 %). Dry for another step"), "{refused}");
    // on the limit it holds: 5.007 mg are 0.05 % of 10.014 g
    let on_the_limit = drying(&[61.5, 61.5 - 0.0005 * SAMPLE])?;
    assert!(on_the_limit.moisture(&rule(), K).is_ok());
    assert_eq!(code(on_the_limit.moisture(&ConstantMass::within_share(0.00049)?, K)), Code::DryingNotConstant);
    Ok(())
}

#[test]
fn a_step_too_short_shows_nothing() -> Result<()> {
    let hourly = rule().after_at_least(60.0)?;
    let begun = Drying::new(grams(PAN), grams(MOIST), 105.0)?.step_of(240.0, grams(61.4990))?;
    assert!(begun.clone().step_of(60.0, grams(61.4974))?.moisture(&hourly, K).is_ok());
    let short = begun.clone().step_of(10.0, grams(61.4990))?.moisture(&hourly, K).unwrap_err();
    assert!(short.code() == Code::DryingNotConstant && short.to_string().contains("lasted 10 min"), "{short}");
    let unknown = begun.step(grams(61.4990))?.moisture(&hourly, K).unwrap_err();
    assert!(unknown.to_string().contains("an unrecorded time"), "{unknown}");
    Ok(())
}

#[test]
fn regain_is_a_finding_beyond_k_u() -> Result<()> {
    // u of a difference of two weighings is 0.28 mg; 0.8 mg is within 3 u, 0.9 mg is not
    assert!(drying(&[61.4974, 61.4982])?.moisture(&rule(), K)?.findings().is_empty());
    let risen = drying(&[61.4974, 61.4983, 61.4980])?.moisture(&rule(), K)?;
    let [finding] = risen.findings() else { panic!("{:?}", risen.findings()) };
    assert_eq!(finding.code, Code::DryingRegain);
    assert!(
        finding.text.starts_with("The mass rose by 0.9 mg from step 1 to step 2 (u 0.28 mg, limit 3 u)."),
        "{finding}"
    );
    assert_close("bound", finding.bound.unwrap_or(f64::NAN), K * U_G * 2f64.sqrt(), ROUNDING);
    // with no u to judge by, any rise is told
    let bare = Drying::new(PAN, MOIST, 105.0)?.step(61.4974)?.step(61.4975)?.moisture(&rule(), K)?;
    assert!(bare.findings()[0].text.contains("not stated"), "{:?}", bare.findings());
    assert_eq!(bare.estimate()?.u(), None);
    Ok(())
}

#[test]
fn a_gain_while_drying_is_refused_in_plain_words() -> Result<()> {
    const WORDS: &str =
        "Moisture -0.4 % (u 0.05): the sample gained mass while drying. Oxidation, or a wrong pan mass?";
    let stated = BasisLinks::default().moisture(Estimate::new(-0.004, 0.0005)?).unwrap_err();
    assert!(stated.to_string().starts_with(WORDS), "{stated}");
    assert_eq!((stated.code(), stated.value()), (Code::NumberOutOfRange, Some(-0.4)));
    assert_eq!(stated.bound().as_deref(), Some("-0.15 % to less than 100 %"));
    // within 3 u it is a result
    assert!(BasisLinks::default().moisture(Estimate::new(-0.0014, 0.0005)?).is_ok());
    let whole = BasisLinks::default().moisture(1.0).unwrap_err();
    assert!(whole.to_string().starts_with("Moisture 100 %: nothing would be left."), "{whole}");
    assert_eq!(code(BasisLinks::default().air_moisture(f64::NAN)), Code::NumberNotFinite);
    // weighed: 10.014 g become 10.054 g
    let gained = drying(&[MOIST + 0.04, MOIST + 0.04])?.moisture(&rule(), K).unwrap_err();
    assert!(gained.to_string().contains("the sample gained mass while drying"), "{gained}");
    Ok(())
}

#[test]
fn pans_and_powders_are_checked() {
    assert_eq!(code(Drying::new(MOIST, PAN, 105.0)), Code::MassNotPositive);
    assert_eq!(code(Drying::new(f64::NAN, MOIST, 105.0)), Code::MassMissing);
    assert_eq!(code(Drying::new(-0.1, MOIST, 105.0)), Code::MassNotPositive);
    assert_eq!(code(Drying::new(PAN, MOIST, 1050.0)), Code::NumberOutOfRange);
    assert_eq!(code(drying(&[50.0])), Code::MassNotPositive); // the dried powder would weigh less than nothing
    assert_eq!(code(drying(&[61.4974, 61.4974]).unwrap().moisture(&rule(), 0.0)), Code::NumberOutOfRange);
}

#[test]
fn the_drying_curve_is_a_table() -> Result<()> {
    let begun = Drying::new(PAN, MOIST, 105.0)?.step_of(240.0, 61.4990)?.step_of(60.0, 61.4974)?;
    let csv = begun.table().to_csv();
    let rows: Vec<&str> = csv.lines().collect();
    assert_eq!(rows[0], "step,time (min),pan and powder (g),change (mg),moisture (%),remarks");
    assert!(rows[1].starts_with("1,240.0,61.499,-619.0,6.18"), "{}", rows[1]);
    assert!(rows[2].starts_with("2,300.0,61.4974,-1.6,6.19"), "{}", rows[2]);
    let text = begun.step(61.4975)?.table().to_string();
    assert!(text.contains("10.0140 g of moist powder, dried at 105 C") && text.contains("not recorded"), "{text}");
    Ok(())
}

#[test]
fn loss_by_weighing_with_the_published_form_of_its_u() -> Result<()> {
    let (m0, m1, m2, u) = (20.0, 21.0, 20.569, [5e-5, 7e-5, 9e-5]);
    let weighing =
        IgnitionWeighing::new(Estimate::new(m0, u[0])?, Estimate::new(m1, u[1])?, Estimate::new(m2, u[2])?, 1000.0)?;
    let loss = weighing.loss_on_ignition()?;
    let l = 0.431;
    assert_close("L", loss.loss().value(), l, OF_DIFFERENCES);
    let by_hand = ((u[1] * (1.0 - l)).powi(2) + u[2].powi(2) + (u[0] * l).powi(2)).sqrt();
    assert_close("u", loss.loss().u().unwrap_or(f64::NAN), by_hand, ROUNDING);
    // 0.07 mg on 1 g of powder: about 0.01 %
    let each = |mass| Estimate::new(mass, 7e-5);
    let balance = LossOnIgnition::weighed(each(m0)?, each(m1)?, each(m2)?, 1000.0)?;
    assert_eq!(format!("{:.2}", 100.0 * balance.loss().u().unwrap_or(f64::NAN)), "0.01");

    let wider = weighing.clone().repeatability(0.0004)?.regain_allowance(0.0003)?;
    let u_wider = wider.loss_on_ignition()?.loss().u().unwrap_or(f64::NAN);
    assert_close("u", u_wider, (by_hand.powi(2) + 0.0004f64.powi(2) + 0.0003f64.powi(2)).sqrt(), ROUNDING);
    let names: Vec<String> = wider.budget()?.rows().iter().take(2).map(|row| row.name.clone()).collect();
    assert_eq!(names, ["repeatability of the loss on ignition", "regain of the residue before weighing"]);
    // a gain: magnetite
    assert!(LossOnIgnition::weighed(20.0, 21.0, 21.0345, 1000.0)?.loss().value() < 0.0);
    assert_eq!(code(IgnitionWeighing::new(21.0, 21.0, 20.5, 1000.0)), Code::MassNotPositive);
    assert_eq!(code(weighing.repeatability(0.4)), Code::NumberOutOfRange);
    let lighter = LossOnIgnition::weighed(20.0, 21.0, 19.73, 1000.0).unwrap_err().to_string();
    assert!(lighter.starts_with("Mass of the ignited powder is -0.26"), "{lighter}");
    let all = LossOnIgnition::new(1.27, 1000.0).unwrap_err().to_string();
    assert!(all.starts_with("Loss on ignition 127 %: more than the whole sample would be lost."), "{all}");
    assert!(all.contains("per cent and fractions") && all.ends_with("Allowed is -150 % to 100 %."), "{all}");
    let gain = LossOnIgnition::new(-1.6, 1000.0).unwrap_err().to_string();
    assert!(gain.starts_with("Loss on ignition -160 %: no oxidation gains that much."), "{gain}");
    Ok(())
}

#[test]
fn what_a_loss_was_found_under_is_stored_and_older_forms_are_read() -> Result<()> {
    let loss = LossOnIgnition::new(Estimate::new(0.275, 0.001)?, 1000.0)?
        .with_minutes(90.0)?
        .with_atmosphere(Atmosphere::Air)
        .with_method("L-12");
    let stored = serde_json::to_string(&loss).unwrap();
    assert_eq!(serde_json::from_str::<LossOnIgnition>(&stored).unwrap(), loss);
    let older = r#"{"loss": {"value": 0.275}, "temperature_c": 1000.0}"#;
    let read: LossOnIgnition = serde_json::from_str(older).unwrap();
    assert_eq!(read, LossOnIgnition::new(0.275, 1000.0)?);
    assert_eq!((read.minutes(), read.atmosphere(), read.method()), (None, None, None));
    // what is not stated is not stored
    assert!(!serde_json::to_string(&read).unwrap().contains("minutes"));
    assert!(serde_json::from_str::<LossOnIgnition>(&stored.replace("90.0", "-90.0")).is_err());
    Ok(())
}

#[test]
fn hydrates_dried_too_hot_are_named() -> Result<()> {
    let water = 2.0 * a::H + a::O;
    let gypsum = a::CA + a::S + 4.0 * a::O + 2.0 * water;
    let cases = [
        ("CaSO4·2H2O", format!("Gypsum dried at 105 C loses combined water (up to {:.1} %).", 150.0 * water / gypsum)),
        ("CaSO4(H2O)2", "Gypsum dried at 105 C loses combined water (up to 15.7 %).".to_owned()),
        ("MgSO4·7H2O", "MgSO4·7H2O dried at 105 C loses combined water (up to 51.2 %).".to_owned()),
        ("CaSO4·0.5H2O", "CaSO4·0.5H2O dried at 105 C loses combined water (up to 6.2 %).".to_owned()),
    ];
    for (hydrate, words) in cases {
        let whole = Composition::new(Basis::Dried).with(hydrate, 0.9)?.with("SiO2", 0.1)?;
        let warnings = whole.hydrate_warnings(105.0, 45.0, &weights())?;
        assert_eq!(warnings.len(), 1, "{hydrate}");
        assert!(warnings[0].code == Code::HydrateDried && warnings[0].text.starts_with(&words), "{}", warnings[0]);
        assert_eq!((warnings[0].value, warnings[0].bound), (Some(105.0), Some(45.0)));
        assert!(whole.hydrate_warnings(45.0, 45.0, &weights())?.is_empty());
    }
    // combined water that no dot names is no hydrate
    let kaolinite = Composition::new(Basis::Dried).with("Al2Si2O5(OH)4", 1.0)?;
    assert!(kaolinite.hydrate_warnings(105.0, 45.0, &weights())?.is_empty());
    Ok(())
}

#[test]
fn hydrate_water_is_counted_as_written() -> Result<()> {
    for (text, water) in [
        ("CaSO4*2H2O", 2.0),
        ("CaSO4·(H2O)2", 2.0),
        ("2CaSO4·H2O", 1.0),
        ("CaSO4·2(H2O)", 2.0),
        ("[Mg(H2O)6]Cl2", 0.0), // bound to the metal, not a hydrate by its writing
        ("H2O", 0.0),
        ("Fe2O3", 0.0),
        ("Na2CO3.10H2O", 10.0),
    ] {
        assert_eq!(Formula::parse(text)?.hydrate_water(), water, "{text}");
    }
    Ok(())
}

#[test]
fn the_whole_loss_is_no_sum() -> Result<()> {
    let loss = LossOnIgnition::new(Estimate::new(0.121, 0.001)?, 1000.0)?;
    let links = BasisLinks::default().moisture(Estimate::new(0.062, 0.0005)?)?.loss_on_ignition(loss.clone());
    let total = links.total_loss_from(Basis::AsReceived)?;
    assert_close("total", total.value(), 1.0 - 0.938 * 0.879, ROUNDING);
    let u = ((0.879 * 0.0005f64).powi(2) + (0.938 * 0.001f64).powi(2)).sqrt();
    assert_close("u", total.u().unwrap_or(f64::NAN), u, ROUNDING);
    assert_close("dried", links.total_loss_from(Basis::Dried)?.value(), 0.121, ROUNDING);
    assert_eq!(code(links.total_loss_from(Basis::AirEquilibrated)), Code::BasisNeeds);
    assert_eq!(code(BasisLinks::default().moisture(0.062)?.total_loss_from(Basis::AsReceived)), Code::BasisNeeds);
    assert_eq!(code(links.total_loss_from(Basis::ignited(1000.0)?)), Code::BasisImpossible);
    assert_eq!(code(links.total_loss_from(Basis::Bead)), Code::BasisImpossible);
    Ok(())
}
