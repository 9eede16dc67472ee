//! Three charges worked on paper: every mole from atomic weights (Prohaska et al., Pure Appl. Chem. 2022), every mass
//! by a sum written out here. The compositions are invented; the arithmetic has no other source.

use beadchem::charge::{Addition, Amount, Charge, Fate, Ledger, Melt, ReducesTo, Sample};
use beadchem::composition::Basis;
use beadchem::error::Result;
use beadchem::uncertainty::Estimate;

use crate::support::{a, assert_close, forms, tetraborate, weights};

/// The paper is kept to a hundredth of a milligram, the finest a micro balance of this trade shows.
const PAPER_G: f64 = 1e-5;
/// What a sum of a dozen masses of grams may leave by rounding.
const ROUNDING_G: f64 = 1e-13;

/// 8 g of Li2B4O7 (169.113 g/mol) hold 47.3056 mmol: 94.6113 Li, 189.2226 B, 331.1395 O.
const FLUX_G: f64 = 8.0;
const TETRABORATE: f64 = 2.0 * a::LI + 4.0 * a::B + 7.0 * a::O;
const FLUX_LOSS: f64 = 0.004;

/// Where the grams of one element came from and went, as on the paper.
struct Line {
    symbol: &'static str,
    sample: f64,
    additions: f64,
    air: f64,
    stayed: f64,
    left: f64,
    stays_as: Option<&'static str>,
}

fn line(symbol: &'static str, [sample, additions, air]: [f64; 3], [stayed, left]: [f64; 2]) -> Line {
    Line { symbol, sample, additions, air, stayed, left, stays_as: None }
}

impl Line {
    fn stands_as(self, form: &'static str) -> Line {
        Line { stays_as: Some(form), ..self }
    }
}

/// Compares every line; flux and flux loss are those of the tetraborate in all three charges.
#[track_caller]
fn assert_lines(ledger: &Ledger, lines: &[Line]) {
    assert_eq!(ledger.elements.len(), lines.len(), "every element has its line");
    let flux = |symbol: &str| {
        let grams = match symbol {
            "Li" => 2.0 * a::LI,
            "B" => 4.0 * a::B,
            "O" => 7.0 * a::O,
            _ => 0.0,
        };
        FLUX_G * grams / TETRABORATE
    };
    for paper in lines {
        let symbol = paper.symbol;
        let found = ledger.element(symbol);
        assert!(found.is_some(), "{symbol} is missing");
        let Some(found) = found else { return };
        for (what, found, paper) in [
            ("sample", found.from_sample_g, paper.sample),
            ("flux", found.from_flux_g, flux(symbol)),
            ("additions", found.from_additions_g, paper.additions),
            ("air", found.from_air_g, paper.air),
            ("stayed", found.stayed_g, paper.stayed),
            ("left", found.left_g, paper.left),
            ("flux loss", found.flux_loss_g, FLUX_LOSS * flux(symbol)),
        ] {
            assert_close(&format!("{symbol} {what}"), found, paper, PAPER_G);
        }
        if let Some(form) = paper.stays_as {
            assert_eq!(found.stays_as.as_deref(), Some(form), "{symbol}");
        }
        assert_close(&format!("{symbol} closes"), found.imbalance_g(), 0.0, ROUNDING_G);
    }
    assert_close("masses close", ledger.imbalance_g(), 0.0, ROUNDING_G);
    assert_close("flux loss", ledger.flux_loss_g, FLUX_LOSS * FLUX_G, PAPER_G);
}

#[track_caller]
fn assert_gases(ledger: &Ledger, gases: &[(&str, f64)]) {
    assert_eq!(ledger.gases.len(), gases.len(), "{:?}", ledger.gases);
    for &(gas, grams) in gases {
        assert_close(gas, ledger.gas_g(gas), grams, PAPER_G);
    }
}

fn charge(sample_g: f64, contents: &[(&str, f64)]) -> Result<Charge> {
    let sample = Sample::dried(sample_g)?.made_of(forms(Basis::Dried, contents)?)?;
    Charge::new(sample, tetraborate(FLUX_LOSS)?.weigh_g(FLUX_G)?)
}

/// 0.5 g of 60 % CuFeS2, 15 % FeS2, 5 % ZnS, 20 % SiO2 with 1 g of NaNO3 that goes to NO.
fn concentrate(fate: &Fate) -> Result<Melt> {
    charge(0.5, &[("CuFeS2", 0.60), ("FeS2", 0.15), ("ZnS", 0.05), ("SiO2", 0.20)])?
        .with(Addition::oxidant("NaNO3", Amount::mass_g(1.0)?, ReducesTo::NO)?)?
        .fuse(&weights(), fate)
}

#[test]
fn sulfide_concentrate_with_nitrate() -> Result<()> {
    // 0.3 / 183.511 = 1.63478 mmol; 0.075 / 119.965 = 0.62518; 0.025 / 97.440 = 0.25657; 0.1 / 60.083 = 1.66436
    let chalcopyrite = 0.300 / (a::CU + a::FE + 2.0 * a::S);
    let pyrite = 0.075 / (a::FE + 2.0 * a::S);
    let sphalerite = 0.025 / (a::ZN + a::S);
    let quartz = 0.100 / (a::SI + 2.0 * a::O);
    // S: 2 * 1.63478 + 2 * 0.62518 + 0.25657 = 4.77649 mmol; Fe: 1.63478 + 0.62518 = 2.25996
    let sulfur = 2.0 * chalcopyrite + 2.0 * pyrite + sphalerite;
    let iron = chalcopyrite + pyrite;
    // oxygen to CuO, Fe2O3, ZnO, SO3: 8.5 * 1.63478 + 7.5 * 0.62518 + 4 * 0.25657 = 19.61076 mmol, 0.31375 g
    let demand = 8.5 * chalcopyrite + 7.5 * pyrite + 4.0 * sphalerite;
    // 1 / 84.994 = 11.76557 mmol of nitrate; 1.5 O each, 17.64835 mmol, 0.28236 g
    let nitrate = 1.0 / (a::NA + a::N + 3.0 * a::O);
    let handed_over = 1.5 * nitrate;
    let soda = nitrate * (a::NA + 0.5 * a::O);

    // a share of 0 and of 12 % lost as SO2: three oxygens per sulfur stay out of the glass, two leave as gas
    for share in [0.0, 0.12] {
        let fate = if share == 0.0 {
            Fate::sulfur_kept()
        } else {
            Fate::new().split("S", Estimate::new(1.0 - share, 0.02)?, "SO2")?
        };
        let melt = concentrate(&fate)?;
        let ledger = melt.ledger();
        let lost = share * sulfur; // 0.57318 mmol
        let taken = demand - lost; // 19.03759 mmol: SO2 where SO3 was
        let air = taken - handed_over; // 1.96241 or 1.38923 mmol
        let glass = 0.5 + demand * a::O - lost * (a::S + 3.0 * a::O) + soda + FLUX_G * (1.0 - FLUX_LOSS);
        assert_close("glass", melt.bead_mass_g(), glass, PAPER_G);
        assert_close("dilution", melt.dilution().value(), glass / 0.5, PAPER_G);
        let gain = (demand * a::O - lost * (a::S + 3.0 * a::O)) / 0.5;
        assert_close("gain", melt.loss_on_fusion(), -gain, PAPER_G);
        assert_close("demand", ledger.oxygen.demand_g, taken * a::O, PAPER_G);
        assert_close("oxidant", ledger.oxygen.from_oxidant_g, handed_over * a::O, PAPER_G);
        assert_close("air", ledger.oxygen.from_air_g, air * a::O, PAPER_G);
        let nitrogen_monoxide = ("NO", nitrate * (a::N + a::O));
        if share == 0.0 {
            assert_gases(&ledger, &[nitrogen_monoxide]);
        } else {
            assert_gases(&ledger, &[nitrogen_monoxide, ("SO2", lost * (a::S + 2.0 * a::O))]);
        }
        let fluxed = (1.0 - FLUX_LOSS) * FLUX_G / TETRABORATE;
        let glass_oxygen = 2.0 * quartz + demand - 3.0 * lost + 0.5 * nitrate + 7.0 * fluxed;
        let (nothing, none) = ([0.0; 3], 0.0);
        assert_lines(
            &ledger,
            &[
                line("Cu", [chalcopyrite * a::CU, none, none], [chalcopyrite * a::CU, none]).stands_as("CuO"),
                line("Fe", [iron * a::FE, none, none], [iron * a::FE, none]).stands_as("Fe2O3"),
                line("Zn", [sphalerite * a::ZN, none, none], [sphalerite * a::ZN, none]).stands_as("ZnO"),
                line("Si", [quartz * a::SI, none, none], [quartz * a::SI, none]).stands_as("SiO2"),
                line("S", [sulfur * a::S, none, none], [(sulfur - lost) * a::S, lost * a::S]).stands_as("SO3"),
                line("Na", [none, nitrate * a::NA, none], [nitrate * a::NA, none]).stands_as("Na2O"),
                line("N", [none, nitrate * a::N, none], [none, nitrate * a::N]),
                line("Li", nothing, [2.0 * fluxed * a::LI, none]).stands_as("Li2O"),
                line("B", nothing, [4.0 * fluxed * a::B, none]).stands_as("B2O3"),
                line(
                    "O",
                    [2.0 * quartz * a::O, 3.0 * nitrate * a::O, air * a::O],
                    [glass_oxygen * a::O, (nitrate + 2.0 * lost) * a::O],
                ),
            ],
        );
    }
    Ok(())
}

/// 0.5 g of 97.0 % CaF2, 1.6 % SiO2, 0.35 % Al2O3, 0.2 % Fe2O3, 0.2 % MgO; 0.65 % are not named.
fn fluorspar(fate: &Fate) -> Result<Melt> {
    charge(0.5, &[("CaF2", 0.97), ("SiO2", 0.016), ("Al2O3", 0.0035), ("Fe2O3", 0.002), ("MgO", 0.002)])?
        .fuse(&weights(), fate)
}

#[test]
fn fluorspar_that_keeps_or_loses_its_fluorine() -> Result<()> {
    // 0.485 / 78.0748 = 6.21199 mmol CaF2, 12.42398 mmol F, 0.23604 g
    let spar = 0.485 / (a::CA + 2.0 * a::F);
    let fluorine = 2.0 * spar;
    let silica = 0.008 / (a::SI + 2.0 * a::O);
    let alumina = 0.001_75 / (2.0 * a::AL + 3.0 * a::O);
    let hematite = 0.001 / (2.0 * a::FE + 3.0 * a::O);
    let magnesia = 0.001 / (a::MG + a::O);
    let brought_oxygen = 2.0 * silica + 3.0 * alumina + 3.0 * hematite + magnesia;
    let fused = FLUX_G * (1.0 - FLUX_LOSS); // 7.968 g
    let boron = 4.0 * fused / TETRABORATE;
    let (nothing, none) = ([0.0; 3], 0.0);
    let named = |fate: &str| -> Result<Fate> {
        match fate {
            "kept" => Fate::new().keep("F"),
            gas => Fate::new().lose("F", gas),
        }
    };
    // kept: all stays, D = 8.468 / 0.5 = 16.936, and half an oxygen fewer per fluorine than CaO would hold: none.
    // HF: CaF2 + H2O = CaO + 2 HF, water from the air; 0.23604 - 0.09939 = 0.13665 g lighter, D 16.663.
    // BF3: 3 CaF2 + B2O3 = 3 CaO + 2 BF3; 4.14133 mmol, 0.28080 g with 0.04477 g of boron, D 16.374.
    for (fate, lost, glass_oxygen, printed) in [
        ("kept", 0.0, 0.0, 16.936),
        ("HF", fluorine * a::F - 0.5 * fluorine * a::O, 0.5 * fluorine, 16.663),
        ("BF3", fluorine / 3.0 * (a::B + 3.0 * a::F), 0.0, 16.374),
    ] {
        const LAST_PLACE: f64 = 5e-4;
        let melt = fluorspar(&named(fate)?)?;
        let ledger = melt.ledger();
        let glass = 0.5 + fused - lost;
        assert_close(fate, melt.bead_mass_g(), glass, PAPER_G);
        // what a gas takes of the flux counts as a loss of the sample that drove it out
        assert_close("loss on fusion", melt.loss_on_fusion(), lost / 0.5, PAPER_G);
        assert_close("unnamed", ledger.unnamed_g, 0.003_25, PAPER_G);
        assert!((melt.dilution().value() - printed).abs() <= LAST_PLACE, "{fate}: {}", melt.dilution().value());
        assert_close("oxygen from the air", ledger.oxygen.from_air_g, 0.0, PAPER_G);
        let mut gone_boron = 0.0;
        match fate {
            "kept" => assert_gases(&ledger, &[]),
            "HF" => {
                // 12.42398 mmol of HF 20.0064 and half as many of H2O 18.015, taken up
                let water = -0.5 * fluorine * (2.0 * a::H + a::O);
                assert_gases(&ledger, &[("HF", fluorine * (a::H + a::F)), ("H2O", water)]);
            }
            _ => {
                gone_boron = fluorine / 3.0 * a::B;
                assert_gases(&ledger, &[("BF3", fluorine / 3.0 * (a::B + 3.0 * a::F))]);
            }
        }
        let stays = if fate == "kept" { fluorine * a::F } else { 0.0 };
        let oxygen = (brought_oxygen + glass_oxygen) * a::O + 7.0 * fused / TETRABORATE * a::O;
        // no species declared here holds hydrogen: what HF carries is in the gases, not in a line of its own
        let lines = [
            line("Ca", [spar * a::CA, none, none], [spar * a::CA, none]).stands_as("CaO"),
            line("F", [fluorine * a::F, none, none], [stays, fluorine * a::F - stays]),
            line("Si", [silica * a::SI, none, none], [silica * a::SI, none]).stands_as("SiO2"),
            line("Al", [2.0 * alumina * a::AL, none, none], [2.0 * alumina * a::AL, none]).stands_as("Al2O3"),
            line("Fe", [2.0 * hematite * a::FE, none, none], [2.0 * hematite * a::FE, none]).stands_as("Fe2O3"),
            line("Mg", [magnesia * a::MG, none, none], [magnesia * a::MG, none]).stands_as("MgO"),
            line("Li", nothing, [2.0 * fused / TETRABORATE * a::LI, none]).stands_as("Li2O"),
            line("B", nothing, [boron * a::B - gone_boron, gone_boron]).stands_as("B2O3"),
            // the oxygen of the water taken up is in CaO now
            line("O", [brought_oxygen * a::O, none, glass_oxygen * a::O], [oxygen, none]),
        ];
        assert_lines(&ledger, &lines);
    }
    Ok(())
}

#[test]
fn manganese_ore_gives_off_oxygen() -> Result<()> {
    let contents = [("MnO2", 0.70), ("Fe2O3", 0.10), ("SiO2", 0.12), ("Al2O3", 0.05), ("CaCO3", 0.03)];
    let melt = charge(0.4, &contents)?.fuse(&weights(), &Fate::new().stays_as("Mn", "Mn3O4")?)?;
    // 0.28 / 86.936 = 3.22076 mmol; 3 MnO2 = Mn3O4 + O2 gives off 2/3 O each: 2.14717 mmol, 0.03435 g
    let manganese = 0.28 / (a::MN + 2.0 * a::O);
    let given_off = manganese * 2.0 / 3.0;
    let hematite = 0.04 / (2.0 * a::FE + 3.0 * a::O);
    let quartz = 0.048 / (a::SI + 2.0 * a::O);
    let alumina = 0.02 / (2.0 * a::AL + 3.0 * a::O);
    // 0.012 / 100.086 = 0.11990 mmol, 0.00528 g of CO2
    let calcite = 0.012 / (a::CA + a::C + 3.0 * a::O);
    let fused = FLUX_G * (1.0 - FLUX_LOSS);
    let brought = 2.0 * manganese + 3.0 * hematite + 2.0 * quartz + 3.0 * alumina + 3.0 * calcite;
    let stayed = brought - given_off - 2.0 * calcite + 7.0 * fused / TETRABORATE;
    let ledger = melt.ledger();
    let carbon_dioxide = calcite * (a::C + 2.0 * a::O);
    // 0.4 - 0.03435 - 0.00528 + 7.968 = 8.32837 g
    assert_close("glass", melt.bead_mass_g(), 0.4 - given_off * a::O - carbon_dioxide + fused, PAPER_G);
    assert_close("glass on paper", melt.bead_mass_g(), 8.328_37, PAPER_G);
    assert_close("oxygen", ledger.oxygen.from_air_g, -0.034_35, PAPER_G);
    assert_close("demand", ledger.oxygen.demand_g, -given_off * a::O, PAPER_G);
    assert_gases(&ledger, &[("CO2", carbon_dioxide)]);
    let (nothing, none) = ([0.0; 3], 0.0);
    let whole = |symbol, grams| line(symbol, [grams, 0.0, 0.0], [grams, 0.0]);
    assert_lines(
        &ledger,
        &[
            whole("Mn", manganese * a::MN).stands_as("Mn3O4"),
            whole("Fe", 2.0 * hematite * a::FE).stands_as("Fe2O3"),
            whole("Si", quartz * a::SI).stands_as("SiO2"),
            whole("Al", 2.0 * alumina * a::AL).stands_as("Al2O3"),
            whole("Ca", calcite * a::CA).stands_as("CaO"),
            line("C", [calcite * a::C, none, none], [none, calcite * a::C]),
            line("Li", nothing, [2.0 * fused / TETRABORATE * a::LI, none]).stands_as("Li2O"),
            line("B", nothing, [4.0 * fused / TETRABORATE * a::B, none]).stands_as("B2O3"),
            line("O", [brought * a::O, none, -given_off * a::O], [stayed * a::O, 2.0 * calcite * a::O]),
        ],
    );
    Ok(())
}
