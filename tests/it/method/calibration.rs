//! Sensitivities from standards: the truth comes back, common errors cancel, what is shared is shared by name.

use beadchem::charge::{Charge, FluxLot, Melt, Sample};
use beadchem::composition::{Basis, Composition};
use beadchem::document::{Document, digest, from_json, to_json};
use beadchem::matrix::{CoefficientSet, Label, LineReading};
use beadchem::method::{Calibrated, Measurement, Method, Residual, Standard, StandardFit};
use beadchem::uncertainty::Estimate;

use crate::matrix::Random;
use crate::matrix::classes::{self, Class};
use crate::method::bead::{Bead, COUNTS};
use crate::support::{assert_close, weights};

/// A fit of exact points through the origin, and the solution of one system.
const EXACT: f64 = 1e-10;
/// u(l_f) = 0.0003 against F (1 - l_f): 0.03 % of every result, where nothing cancels.
const U_FLUX_LOSS: f64 = 0.0003;

fn label(name: &str) -> Label {
    Label::new(name, "1", "invented for the tests").unwrap()
}

fn lot(name: &str, loss: f64) -> FluxLot {
    let loss = Estimate::new(loss, U_FLUX_LOSS).unwrap();
    FluxLot::new(name, [("Li2B4O7", 0.35), ("LiBO2", 0.65)], "1050 C, 18 min", loss).unwrap()
}

/// A fused charge with the balance shared by all weighings.
fn melt(bead: &Bead, lot: &FluxLot) -> Melt {
    let weighed = |grams: f64| Estimate::new(grams, 1e-4).unwrap().shared("balance", 5e-5).unwrap();
    let charge =
        Charge::new(Sample::dried(weighed(bead.sample_g)).unwrap(), lot.weigh_g(weighed(bead.flux_g)).unwrap());
    charge.unwrap().fuse_with_loss(&weights(), Estimate::new(0.1, 0.001).unwrap()).unwrap()
}

fn measurement(name: &str, set: &CoefficientSet, counts: &[f64], relative: f64) -> Measurement {
    set.lines().iter().zip(counts).fold(Measurement::new(name), |all, (line, &count)| {
        let count = Estimate::new(count, relative * count.abs() + 1e-6).unwrap();
        all.reading(LineReading::net(&line.line, count).unwrap()).unwrap()
    })
}

fn standard(name: &str, set: &CoefficientSet, bead: &Bead, lot: &FluxLot, relative: f64) -> Standard {
    let known =
        set.components().iter().zip(&bead.contents).fold(Composition::new(Basis::Dried), |all, (formula, w)| {
            all.with_form(formula.text(), Estimate::new(*w, relative * w + 1e-7).unwrap()).unwrap()
        });
    Standard::new(melt(bead, lot), known, measurement(name, set, &bead.counts(set), relative)).unwrap()
}

/// Members of a class, at its reference flux ratio more or less.
fn beads(class: &Class, count: usize, seed: u64) -> Vec<Bead> {
    let mut random = Random(seed);
    let member = |random: &mut Random| -> Vec<f64> {
        class.ranges.iter().map(|&(low, high)| random.within(low, high)).collect()
    };
    (0..count)
        .map(|_| {
            let mut bead = Bead::new(&member(&mut random), class.set.fused_flux_ratio());
            bead.sample_g = random.within(0.97, 1.03);
            bead
        })
        .collect()
}

fn calibrated(class: &Class, lot: &FluxLot, relative: f64) -> Calibrated {
    let standards: Vec<Standard> = beads(class, 6, 3)
        .iter()
        .enumerate()
        .map(|(place, bead)| standard(&format!("S-{place}"), &class.set, bead, lot, relative))
        .collect();
    StandardFit::new(class.set.clone()).unwrap().calibrate(label("cal"), &standards).unwrap()
}

#[test]
fn exact_standards_give_the_sensitivities_they_were_made_with() {
    for class in classes::all() {
        let calibrated = calibrated(&class, &lot("F-118", 0.004), 1e-3);
        for (line, fit) in class.set.lines().iter().zip(calibrated.lines()) {
            let truth = line.sensitivity.unwrap() / COUNTS;
            assert_close(&line.line, fit.sensitivity.value() / truth, 1.0, EXACT);
            assert_eq!(fit.dof, 5);
            let leverages: f64 = fit.residuals.iter().map(|residual| residual.leverage).sum();
            assert_close(&format!("leverages of {}", line.line), leverages, 1.0, EXACT);
        }
        assert!(calibrated.findings().is_empty(), "{:?}", calibrated.findings());
    }
}

/// The share that the loss of the standards' lot has in u^2 of a result.
fn share(method: &Method, melt: &Melt, measured: &Measurement, analyte: &str, lot: &str) -> (f64, f64) {
    let assay = method.assay(melt, measured).unwrap();
    let name = format!("flux loss of lot {lot}");
    let budget = assay.budget(analyte).unwrap();
    let part = budget.rows().iter().find(|row| row.name == name).map_or(0.0, |row| row.contribution.powi(2));
    (part.sqrt() / assay.value(analyte).unwrap(), assay.u(analyte).unwrap())
}

#[test]
fn the_flux_loss_cancels_with_the_lot_of_the_standards_and_returns_with_another() {
    for class in classes::all() {
        let first = lot("F-118", 0.004);
        // unknown and standards alike, but for their masses and a few per cent of each content
        let mut random = Random(17);
        let alike: Vec<Standard> = beads(&class, 6, 3)
            .into_iter()
            .enumerate()
            .map(|(place, mut bead)| {
                bead.contents = class.centroid.iter().map(|w| w * random.within(0.95, 1.05)).collect();
                standard(&format!("S-{place}"), &class.set, &bead, &first, 1e-3)
            })
            .collect();
        let calibrated = StandardFit::new(class.set.clone()).unwrap().calibrate(label("cal"), &alike).unwrap();
        let method = calibrated.method(label("m")).unwrap();
        let unknown = Bead { contents: class.centroid.clone(), ..beads(&class, 1, 4).remove(0) };
        for (lot, cancels) in [(first.clone(), true), (lot("F-121", 0.004), false)] {
            let counts = unknown.counts(&class.set);
            let measured = measurement("B-1", &class.set, &counts, 1e-3);
            for line in class.set.lines() {
                let analyte = class.set.components()[line.analyte].text();
                let (part, _) = share(&method, &melt(&unknown, &lot), &measured, analyte, lot.name());
                let alone = U_FLUX_LOSS / (1.0 - 0.004);
                if cancels {
                    // the same lot and composition: below a twentieth of the share it has alone
                    const TWENTIETH: f64 = 0.05;
                    assert!(part < TWENTIETH * alone, "{analyte}: {part} of {alone}");
                } else {
                    assert_close(&format!("{analyte} by another lot"), part / alone, 1.0, EXACT);
                    let old = share(&method, &melt(&unknown, &lot), &measured, analyte, "F-118").0;
                    assert!(old > 0.0, "the standards' lot is in the sensitivity of {analyte}");
                }
            }
        }
    }
}

#[test]
fn a_calibration_and_its_method_survive_storage() {
    let class = &classes::all()[0];
    let method = calibrated(class, &lot("F-118", 0.004), 1e-3).method(label("m")).unwrap();
    let again: Method = from_json(&to_json(&method).unwrap()).unwrap();
    assert_eq!(again, method);
    assert_eq!(digest(&again).unwrap(), digest(&method).unwrap());
    assert_eq!(Method::KIND, "method");
}

#[test]
fn an_offset_and_a_coefficient_are_found_with_the_sensitivity() {
    let class = &classes::all()[1];
    let lot = lot("F-118", 0.004);
    let line = class.set.lines()[0].line.clone();
    let analyte = class.set.components()[class.set.lines()[0].analyte].text().to_owned();
    // counts that nobody's analyte made
    const EXTRA: f64 = 25.0;
    let with_extra: Vec<Standard> = beads(class, 8, 5)
        .iter()
        .enumerate()
        .map(|(place, bead)| {
            let mut counts = bead.counts(&class.set);
            counts[0] += EXTRA;
            let measured = measurement(&format!("S-{place}"), &class.set, &counts, 1e-4);
            let contents = class.set.components().iter().zip(&bead.contents);
            let contents = contents.fold(Composition::new(Basis::Dried), |all, (formula, w)| {
                all.with_form(formula.text(), Estimate::new(*w, 1e-4 * w + 1e-8).unwrap()).unwrap()
            });
            Standard::new(melt(bead, &lot), contents, measured).unwrap()
        })
        .collect();
    let fit = StandardFit::new(class.set.clone()).unwrap().offset(&line).unwrap();
    let found = fit.calibrate(label("offset"), &with_extra).unwrap();
    let offset = found.calibration().sensitivities()[0].offset.clone().unwrap();
    // the correction of exact data: rounding of the fit only
    const FITTED: f64 = 1e-6;
    assert_close("offset", offset.value() / EXTRA, 1.0, FITTED);
    assert!(offset.u().unwrap() > 0.0);

    // a coefficient of the set that is wrong is found where it is fitted
    let wrong = 1;
    let component = class.set.components()[wrong].text().to_owned();
    let exact: Vec<Standard> = beads(class, 8, 5)
        .iter()
        .enumerate()
        .map(|(place, bead)| standard(&format!("S-{place}"), &class.set, bead, &lot, 1e-4))
        .collect();
    let fit = StandardFit::new(class.set.clone()).unwrap().coefficient(&line, &component).unwrap();
    let found = fit.calibrate(label("coefficient"), &exact).unwrap();
    let coefficient = &found.calibration().coefficients()[0];
    assert_close("coefficient", coefficient.value.value() / class.set.row(0)[wrong], 1.0, FITTED);
    let method = found.method(label("m")).unwrap();
    let bead = Bead::new(&class.centroid, class.set.fused_flux_ratio());
    let assay =
        method.assay(&melt(&bead, &lot), &measurement("B", &class.set, &bead.counts(&class.set), 1e-4)).unwrap();
    let content = class.centroid[class.set.lines()[0].analyte];
    assert_close(&analyte, assay.value(&analyte).unwrap() / content, 1.0, FITTED);
    assert!(
        assay
            .budget(&analyte)
            .unwrap()
            .rows()
            .iter()
            .any(|row| row.name == format!("coefficient of {component} on {line}"))
    );
}

#[test]
fn a_standard_off_its_line_is_named() {
    let class = &classes::all()[2];
    let lot = lot("F-118", 0.004);
    let mut standards: Vec<Standard> = beads(class, 6, 9)
        .iter()
        .enumerate()
        .map(|(place, bead)| standard(&format!("S-{place}"), &class.set, bead, &lot, 1e-3))
        .collect();
    // a powder of which 5 % was lost before the fusion
    let bead = &beads(class, 6, 9)[3];
    let less = Bead { sample_g: 0.95 * bead.sample_g, ..bead.clone() };
    let contents =
        class.set.components().iter().zip(&bead.contents).fold(Composition::new(Basis::Dried), |all, (f, w)| {
            all.with_form(f.text(), Estimate::new(*w, 1e-3 * w + 1e-7).unwrap()).unwrap()
        });
    standards[3] =
        Standard::new(melt(bead, &lot), contents, measurement("S-3", &class.set, &less.counts(&class.set), 1e-3))
            .unwrap();
    let found = StandardFit::new(class.set.clone()).unwrap().calibrate(label("cal"), &standards).unwrap();
    // it pulls the others off too, but none as far as it lies itself
    for fit in found.lines() {
        let far = |residual: &Residual| residual.in_u().unwrap().abs();
        let worst = fit.residuals.iter().max_by(|a, b| far(a).total_cmp(&far(b))).unwrap();
        assert_eq!(worst.standard, "S-3", "{}", fit.line);
    }
    let off = found.findings().iter().filter(|finding| finding.code.word() == "standard.off");
    assert!(off.into_iter().any(|finding| finding.quantity == "S-3"));
    // and whoever uses the calibration is told, also after storage
    let method: Method = from_json(&to_json(&found.method(label("m")).unwrap()).unwrap()).unwrap();
    let unknown = Bead::new(&class.centroid, class.set.fused_flux_ratio());
    let measured = measurement("B-1", &class.set, &unknown.counts(&class.set), 1e-3);
    let assay = method.assay(&melt(&unknown, &lot), &measured).unwrap();
    assert!(assay.findings().iter().any(|finding| finding.code.word() == "calibration.doubtful"));
}

#[test]
fn a_shared_blank_that_is_off_by_two_u_accuses_no_standard() {
    // the flux is stated to bring 2e-5 g/g of an analyte and brings nothing; F = 10, so 0.02 % of the sample
    const BLANK: f64 = 2e-5;
    // contents and counts of 0.01 %: the blank bends the standards beyond what is their own
    const OWN: f64 = 1e-4;
    let class = &classes::all()[2];
    let line = &class.set.lines()[0];
    let analyte = class.set.components()[line.analyte].text();
    let accused = |u: f64| {
        let lot = lot("F-118", 0.004).with_blank(analyte, Estimate::new(BLANK, u).unwrap()).unwrap();
        let beads = beads(class, 8, 9);
        let standards = beads.iter().enumerate();
        let standards: Vec<Standard> =
            standards.map(|(place, bead)| standard(&format!("S-{place}"), &class.set, bead, &lot, OWN)).collect();
        let found = StandardFit::new(class.set.clone()).unwrap().calibrate(label("cal"), &standards).unwrap();
        found.findings().iter().map(|finding| finding.code.word()).collect::<Vec<_>>()
    };
    assert_eq!(accused(0.5 * BLANK), Vec::<&str>::new(), "{analyte}");
    let scatters = accused(0.005 * BLANK);
    assert!(scatters.contains(&"calibration.scatter"), "{analyte}: {scatters:?}");
}

/// Three components of one class, the coefficients as they stand there.
fn carbonate() -> CoefficientSet {
    Method::template().unwrap().coefficients()[0].clone()
}

#[test]
fn reagents_and_stated_contents_say_the_same() {
    let lot = FluxLot::new("F-1", [("Li2B4O7", 0.5), ("LiBO2", 0.5)], "1050 C, 18 min", 0.004).unwrap();
    let weights = weights();
    let mix = [("CaCO3", 0.55), ("MgO", 0.40), ("SiO2", 0.05)];
    let recipe = mix.iter().fold(Composition::new(Basis::Dried), |all, (species, share)| {
        all.with(species, Estimate::exact(*share).unwrap()).unwrap()
    });
    let sample = Sample::dried(0.8).unwrap().made_of(recipe).unwrap();
    let charge = Charge::new(sample, lot.weigh_g(8.0).unwrap()).unwrap();
    let fused = charge.fuse(&weights, &beadchem::charge::Fate::new()).unwrap();
    let counts = [("Ca Ka", 13_000.0), ("Mg Ka", 3_300.0), ("Si Ka", 1_800.0)];
    let measured = |name: &str| {
        counts.iter().fold(Measurement::new(name), |all, (line, cps)| {
            all.reading(LineReading::net(line, *cps).unwrap()).unwrap()
        })
    };
    let from_reagents = Standard::from_reagents(fused.clone(), measured("S-1")).unwrap();
    let lime = beadchem::substance::factor_via("CaCO3", "CaO", "Ca", &weights).unwrap().value();
    let contents = [("CaO", 0.55 * lime), ("MgO", 0.40), ("SiO2", 0.05)]
        .iter()
        .fold(Composition::new(Basis::Dried), |all, (species, w)| all.with(species, *w).unwrap());
    let stated = Charge::new(Sample::dried(0.8).unwrap(), lot.weigh_g(8.0).unwrap())
        .unwrap()
        .fuse_with_loss(&weights, fused.loss_on_fusion())
        .unwrap();
    let stated = Standard::new(stated, contents, measured("S-1")).unwrap();
    let fit = StandardFit::new(carbonate()).unwrap();
    let [first, second] = [from_reagents, stated].map(|standard| fit.calibrate(label("cal"), &[standard]).unwrap());
    for (a, b) in first.lines().iter().zip(second.lines()) {
        assert_close(&a.line, a.sensitivity.value() / b.sensitivity.value(), 1.0, crate::support::ROUNDING);
    }
}

#[test]
fn an_internal_standard_carries_geometry_through_calibration_and_unknown() {
    use beadchem::charge::{Addition, Amount};
    use beadchem::matrix::{Conditions, Derivation, Influence};
    use beadchem::method::InternalStandard;
    // iron and nickel followed by cobalt in the flux; coefficients invented
    let rows = [
        Influence::new("Fe Ka", "Fe2O3", [0.30, 0.50, 0.40]).with_sensitivity(2e-5),
        Influence::new("Ni Ka", "NiO", [0.70, 0.60, 0.45]).with_sensitivity(1e-5),
        Influence::new("Co Ka", "Co3O4", [0.25, 0.55, 0.50]).with_sensitivity(1.5e-5),
    ];
    let conditions = Conditions::new(10.0).unwrap().with_range(8.0, 12.0).unwrap();
    let components = ["Fe2O3", "NiO", "Co3O4"];
    let set = CoefficientSet::new(label("followed"), Derivation::Stated, conditions, components, rows).unwrap();
    let lot = FluxLot::new("F-9", [("Li2B4O7", 1.0)], "1050 C, 18 min", Estimate::exact(0.005).unwrap()).unwrap();
    const SHARE: f64 = 0.004;
    let fuse = |sample_g: f64, flux_g: f64| {
        let cobalt = Amount::share_of_flux(Estimate::exact(SHARE).unwrap()).unwrap();
        let charge = Charge::new(Sample::dried(sample_g).unwrap(), lot.weigh_g(flux_g).unwrap()).unwrap();
        let charge = charge.with(Addition::reagent("Co3O4", cobalt).unwrap()).unwrap();
        charge.fuse_with_loss(&weights(), Estimate::exact(0.05).unwrap()).unwrap()
    };
    // counts of the equation, every line weakened by the same bent surface
    let counts = |sample_g: f64, flux_g: f64, contents: [f64; 2], bent: f64| {
        let melt = fuse(sample_g, flux_g);
        let glass = melt.glass().unwrap();
        let dilution = melt.dilution().value();
        let of_element = |symbol: &str| {
            let entry = glass.entries().iter().find(|entry| entry.species.text().contains(symbol)).unwrap();
            (entry.species.text().to_owned(), entry.cell.value().unwrap().value() * dilution)
        };
        let (form, cobalt) = of_element("Co");
        let cobalt = cobalt * beadchem::substance::factor(&form, "Co3O4", &weights()).unwrap().value();
        let all = [contents[0], contents[1], cobalt];
        let ratio = melt.fused_flux_ratio().value() / set.fused_flux_ratio();
        (0..3).map(move |row| {
            let k = [2e-5, 1e-5, 1.5e-5][row];
            let a = [[0.30, 0.50, 0.40], [0.70, 0.60, 0.45], [0.25, 0.55, 0.50]][row];
            bent * all[row] / (k * (ratio + (0..3).map(|j| a[j] * all[j]).sum::<f64>()))
        })
    };
    let measured = |name: &str, counts: &mut dyn Iterator<Item = f64>| {
        ["Fe Ka", "Ni Ka", "Co Ka"].into_iter().zip(counts).fold(Measurement::new(name), |all, (line, cps)| {
            let cps = Estimate::new(cps, 1e-4 * cps).unwrap();
            all.reading(LineReading::net(line, cps).unwrap()).unwrap()
        })
    };
    let standards: Vec<Standard> =
        [(0.8, 8.0, [0.3, 0.02], 0.98), (0.82, 8.1, [0.6, 0.05], 1.01), (0.79, 7.9, [0.45, 0.1], 0.95)]
            .into_iter()
            .enumerate()
            .map(|(place, (sample_g, flux_g, contents, bent))| {
                let known = Composition::new(Basis::Dried)
                    .with("Fe2O3", Estimate::new(contents[0], 1e-4).unwrap())
                    .and_then(|known| known.with("NiO", Estimate::new(contents[1], 1e-4).unwrap()))
                    .unwrap();
                let readings = measured(&format!("S-{place}"), &mut counts(sample_g, flux_g, contents, bent));
                Standard::new(fuse(sample_g, flux_g), known, readings).unwrap()
            })
            .collect();
    let internal = InternalStandard::new("Co Ka", "Co3O4", ["Fe Ka", "Ni Ka"]).unwrap();
    let fit = StandardFit::new(set.clone()).unwrap().internal_standard(internal).unwrap();
    let method = fit.calibrate(label("cal"), &standards).unwrap().method(label("m")).unwrap();
    assert_eq!(method.analytes(), ["Fe2O3", "NiO"]);
    for bent in [0.9, 1.0, 1.04] {
        let readings = measured("B", &mut counts(0.81, 8.05, [0.5, 0.04], bent));
        let assay = method.assay(&fuse(0.81, 8.05), &readings).unwrap();
        assert_close("Fe2O3", assay.value("Fe2O3").unwrap(), 0.5, EXACT);
        assert_close("NiO", assay.value("NiO").unwrap(), 0.04, EXACT);
    }
}
