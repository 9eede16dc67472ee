//! Random charges, and a second set of books kept by hand: moles by symbol, no formula reader, no kernel.

use std::collections::BTreeMap;

use beadchem::charge::{Addition, Amount, Charge, Fate, Melt, ReducesTo, Sample};
use beadchem::composition::Basis;
use beadchem::error::Result;
use beadchem::uncertainty::Estimate;
use proptest::prelude::*;

use crate::support::{a, blend, forms, weights};

type Atoms = &'static [(&'static str, f64)];

/// What a sample is mixed from, with its atoms counted by hand.
pub(crate) const MINERALS: [(&str, Atoms); 14] = [
    ("SiO2", &[("Si", 1.0), ("O", 2.0)]),
    ("CaCO3", &[("Ca", 1.0), ("C", 1.0), ("O", 3.0)]),
    ("CaMg(CO3)2", &[("Ca", 1.0), ("Mg", 1.0), ("C", 2.0), ("O", 6.0)]),
    ("FeCO3", &[("Fe", 1.0), ("C", 1.0), ("O", 3.0)]),
    ("Al2Si2O5(OH)4", &[("Al", 2.0), ("Si", 2.0), ("O", 9.0), ("H", 4.0)]),
    ("FeO(OH)", &[("Fe", 1.0), ("O", 2.0), ("H", 1.0)]),
    ("Al(OH)3", &[("Al", 1.0), ("O", 3.0), ("H", 3.0)]),
    ("FeS2", &[("Fe", 1.0), ("S", 2.0)]),
    ("CuFeS2", &[("Cu", 1.0), ("Fe", 1.0), ("S", 2.0)]),
    ("ZnS", &[("Zn", 1.0), ("S", 1.0)]),
    ("CaF2", &[("Ca", 1.0), ("F", 2.0)]),
    ("Fe3O4", &[("Fe", 3.0), ("O", 4.0)]),
    ("MnO2", &[("Mn", 1.0), ("O", 2.0)]),
    ("CaSO4(H2O)2", &[("Ca", 1.0), ("S", 1.0), ("O", 6.0), ("H", 4.0)]),
];

/// Blend parts, additions and blanks, likewise.
const BLEND: [(&str, Atoms); 3] = [
    ("Li2B4O7", &[("Li", 2.0), ("B", 4.0), ("O", 7.0)]),
    ("LiBO2", &[("Li", 1.0), ("B", 1.0), ("O", 2.0)]),
    ("Li2CO3", &[("Li", 2.0), ("C", 1.0), ("O", 3.0)]),
];
const NITRATE: Atoms = &[("Na", 1.0), ("N", 1.0), ("O", 3.0)];
const BROMIDE: Atoms = &[("Li", 1.0), ("Br", 1.0)];
const IODIDE: Atoms = &[("N", 1.0), ("H", 4.0), ("I", 1.0)];
const LANTHANA: Atoms = &[("La", 2.0), ("O", 3.0)];
const STRONTIA: Atoms = &[("Sr", 1.0), ("C", 1.0), ("O", 3.0)];

/// Atomic weight, oxygens per atom in the glass, and the oxide or element written there; no oxide for what leaves.
pub(crate) const ELEMENTS: [(&str, f64, f64, Option<&str>); 21] = [
    ("H", a::H, 0.0, None),
    ("C", a::C, 0.0, None),
    ("N", a::N, 0.0, None),
    ("Li", a::LI, 0.5, Some("Li2O")),
    ("B", a::B, 1.5, Some("B2O3")),
    ("F", a::F, -0.5, Some("F")),
    ("Na", a::NA, 0.5, Some("Na2O")),
    ("Mg", a::MG, 1.0, Some("MgO")),
    ("Al", a::AL, 1.5, Some("Al2O3")),
    ("Si", a::SI, 2.0, Some("SiO2")),
    ("S", a::S, 3.0, Some("SO3")),
    ("Ca", a::CA, 1.0, Some("CaO")),
    ("Mn", a::MN, 4.0 / 3.0, Some("Mn3O4")),
    ("Fe", a::FE, 1.5, Some("Fe2O3")),
    ("Cu", a::CU, 1.0, Some("CuO")),
    ("Zn", a::ZN, 1.0, Some("ZnO")),
    ("Sr", a::SR, 1.0, Some("SrO")),
    ("Br", a::BR, -0.5, Some("Br")),
    ("I", a::I, -0.5, Some("I")),
    ("La", a::LA, 1.5, Some("La2O3")),
    ("O", a::O, 0.0, None),
];

pub(crate) fn element(symbol: &str) -> (f64, f64, Option<&'static str>) {
    let found = ELEMENTS.iter().find(|(known, ..)| *known == symbol);
    found.map_or((f64::NAN, f64::NAN, None), |&(_, weight, oxygens, form)| (weight, oxygens, form))
}

fn molar(atoms: Atoms) -> f64 {
    atoms.iter().map(|(symbol, count)| element(symbol).0 * count).sum()
}

/// One random charge; the numbers only.
#[derive(Debug, Clone)]
pub(crate) struct Recipe {
    pub(crate) sample_g: f64,
    pub(crate) flux_g: f64,
    /// g/g of each mineral; at least 5 % are left unnamed in half the cases.
    pub(crate) contents: [f64; MINERALS.len()],
    pub(crate) blend: [f64; BLEND.len()],
    pub(crate) flux_loss: f64,
    pub(crate) kept_sulfur: f64,
    pub(crate) kept_fluorine: f64,
    pub(crate) fluorine_gas: &'static str,
    /// Blanks of SiO2, Fe2O3 and S as SO3, g/g of fused flux.
    pub(crate) blanks: [f64; 3],
    pub(crate) nitrate_g: f64,
    pub(crate) route: ReducesTo,
    pub(crate) tablets: u32,
    pub(crate) retained_bromine: f64,
    pub(crate) iodide_ml: f64,
    pub(crate) retained_iodine: f64,
    pub(crate) lanthana: f64,
    pub(crate) strontium_g: f64,
}

const BLANKS: [&str; 3] = ["SiO2", "Fe2O3", "SO3"];
const TABLET_G: f64 = 0.02;
const IODIDE_G_PER_L: f64 = 250.0;

prop_compose! {
    pub(crate) fn recipe()(
        masses in (0.2..1.2, 3.0..10.0),
        raw in prop::array::uniform14(prop_oneof![1 => Just(0.0), 2 => 0.01..1.0]),
        named in 0.7..1.0,
        blend in [0.2..1.0, 0.2..1.0, 0.01..0.2],
        flux_loss in -0.001..0.01,
        kept in (0.05..1.0, 0.05..1.0, 0.05..1.0, 0.05..1.0),
        fluorine_gas in prop::sample::select(vec!["HF", "SiF4", "BF3"]),
        blanks in [-1e-5..1e-3, 0.0..1e-3, 0.0..1e-4],
        nitrate in (0.0..2.0, prop::sample::select(ReducesTo::all().to_vec())),
        tablets in 0u32..4,
        iodide_ml in 0.0..0.2,
        lanthana in 0.0..0.2,
        strontium_g in 0.0..0.5,
    ) -> Recipe {
        // silica in every sample, so that SiF4 finds its silicon
        let mut contents = raw;
        contents[0] += 1.0;
        let sum: f64 = contents.iter().sum();
        Recipe {
            sample_g: masses.0,
            flux_g: masses.1,
            contents: contents.map(|content| content / sum * named),
            blend,
            flux_loss,
            kept_sulfur: kept.0,
            kept_fluorine: kept.1,
            fluorine_gas,
            blanks,
            nitrate_g: nitrate.0,
            route: nitrate.1,
            tablets,
            retained_bromine: kept.2,
            iodide_ml,
            retained_iodine: kept.3,
            lanthana,
            strontium_g,
        }
    }
}

/// 0.5 % of every mass, so that derivatives have something to be weighed with.
fn weighed(grams: f64) -> Result<Estimate> {
    const RELATIVE: f64 = 0.005;
    Estimate::new(grams, RELATIVE * grams.abs())
}

impl Recipe {
    pub(crate) fn fate(&self) -> Result<Fate> {
        Fate::new()
            .split("S", Estimate::new(self.kept_sulfur, 0.02)?, "SO2")?
            .split("F", Estimate::new(self.kept_fluorine, 0.02)?, self.fluorine_gas)?
            .stays_as("Mn", "Mn3O4")
    }

    pub(crate) fn minerals(&self) -> Vec<(&'static str, f64)> {
        MINERALS.iter().zip(self.contents).map(|((mineral, _), content)| (*mineral, content)).collect()
    }

    pub(crate) fn additions(&self, iodide: fn(Addition) -> Result<Addition>) -> Result<Vec<Addition>> {
        let solution = Amount::solution(self.iodide_ml, IODIDE_G_PER_L)?;
        Ok(vec![
            Addition::oxidant("NaNO3", Amount::mass_g(weighed(self.nitrate_g)?)?, self.route)?,
            Addition::release_agent("LiBr", Amount::tablets(self.tablets, TABLET_G)?, self.retained_bromine)?,
            iodide(Addition::release_agent("NH4I", solution, self.retained_iodine)?)?,
            Addition::reagent("La2O3", Amount::share_of_flux(self.lanthana)?)?,
            Addition::reagent("SrCO3", Amount::mass_g(weighed(self.strontium_g)?)?)?,
        ])
    }

    pub(crate) fn bare(&self, minerals: &[(&str, f64)]) -> Result<Charge> {
        let parts: Vec<(&'static str, f64)> = BLEND.iter().zip(self.blend).map(|((f, _), part)| (*f, part)).collect();
        let lot = BLANKS
            .iter()
            .zip(self.blanks)
            .try_fold(blend(&parts, self.flux_loss)?, |lot, (species, content)| lot.with_blank(species, content))?;
        let sample = Sample::dried(weighed(self.sample_g)?)?.made_of(forms(Basis::Dried, minerals)?)?;
        Charge::new(sample, lot.weigh_g(weighed(self.flux_g)?)?)
    }

    pub(crate) fn charge(&self) -> Result<Charge> {
        let additions = self.additions(|iodide| iodide.late(4.0))?;
        additions.into_iter().try_fold(self.bare(&self.minerals())?, Charge::with)
    }

    pub(crate) fn melt(&self) -> Result<Melt> {
        self.charge()?.fuse(&weights(), &self.fate()?)
    }

    /// The same charge, every mass and volume times `factor`.
    pub(crate) fn scaled(&self, factor: f64) -> Recipe {
        Recipe {
            sample_g: self.sample_g * factor,
            flux_g: self.flux_g * factor,
            nitrate_g: self.nitrate_g * factor,
            iodide_ml: self.iodide_ml * factor,
            strontium_g: self.strontium_g * factor,
            ..self.clone()
        }
    }

    /// Moles of each element that the sample brings.
    pub(crate) fn sample_moles(&self) -> BTreeMap<&'static str, f64> {
        let mut moles = BTreeMap::new();
        for ((_, atoms), content) in MINERALS.iter().zip(self.contents) {
            book(&mut moles, atoms, self.sample_g * content / molar(atoms));
        }
        moles
    }

    /// Moles in the glass, by hand. Blanks are stated in fused flux, so the flux weighed holds less borate by as much.
    pub(crate) fn melt_moles(&self) -> BTreeMap<&'static str, f64> {
        let mut melt = self.sample_moles();
        let sulfur_lost = (1.0 - self.kept_sulfur) * melt.get("S").copied().unwrap_or(0.0);
        let fluorine_lost = (1.0 - self.kept_fluorine) * melt.get("F").copied().unwrap_or(0.0);
        book(&mut melt, &[("S", -1.0)], sulfur_lost);
        book(&mut melt, &[("F", -1.0)], fluorine_lost);
        match self.fluorine_gas {
            "SiF4" => book(&mut melt, &[("Si", -0.25)], fluorine_lost),
            "BF3" => book(&mut melt, &[("B", -1.0 / 3.0)], fluorine_lost),
            _ => {}
        }
        // the flux: one gram of blend leaves `stays` grams
        let parts: f64 = self.blend.iter().sum();
        let mut per_gram = BTreeMap::new();
        for ((_, atoms), part) in BLEND.iter().zip(self.blend) {
            book(&mut per_gram, atoms, part / parts / molar(atoms));
        }
        let carbon_dioxide = per_gram.get("C").copied().unwrap_or(0.0) * (a::C + 2.0 * a::O);
        let stays = 1.0 - carbon_dioxide;
        let kept = (stays - self.flux_loss) / stays;
        let weighed = self.flux_g * (1.0 - self.lanthana);
        // fused = kept (borate stays + blanks before loss), borate = weighed - blanks, blanks = fused b / kept
        let blank: f64 = self.blanks.iter().sum();
        let fused = kept * stays * weighed / (1.0 - blank * (1.0 - stays));
        let borate = weighed - fused * blank / kept;
        for (symbol, moles) in per_gram {
            *melt.entry(symbol).or_insert(0.0) += moles * borate * kept;
        }
        for ((form, atom), content) in [("SiO2", "Si"), ("Fe2O3", "Fe"), ("SO3", "S")].into_iter().zip(self.blanks) {
            assert_eq!(element(atom).2, Some(form));
            *melt.entry(atom).or_insert(0.0) += fused * content / glass_grams(atom);
        }
        book(&mut melt, NITRATE, self.nitrate_g / molar(NITRATE));
        let bromide = f64::from(self.tablets) * TABLET_G / molar(BROMIDE);
        book(&mut melt, &[("Li", 1.0)], bromide);
        book(&mut melt, &[("Br", 1.0)], bromide * self.retained_bromine);
        // millilitres times grams per litre are milligrams
        let iodide = self.iodide_ml * IODIDE_G_PER_L / 1000.0 / molar(IODIDE);
        book(&mut melt, &[("I", 1.0)], iodide * self.retained_iodine);
        book(&mut melt, LANTHANA, self.flux_g * self.lanthana / molar(LANTHANA));
        book(&mut melt, STRONTIA, self.strontium_g / molar(STRONTIA));
        melt.retain(|symbol, _| element(symbol).2.is_some());
        melt
    }

    /// What the declared minerals leave unnamed, g.
    pub(crate) fn unnamed_g(&self) -> f64 {
        self.sample_g * (1.0 - self.contents.iter().sum::<f64>())
    }

    /// The glass by hand, g.
    pub(crate) fn glass_g(&self) -> f64 {
        self.unnamed_g() + self.melt_moles().iter().map(|(symbol, moles)| moles * glass_grams(symbol)).sum::<f64>()
    }
}

/// Grams per mole of an element with the oxygen that stands beside it in the glass.
pub(crate) fn glass_grams(symbol: &str) -> f64 {
    let (weight, oxygens, _) = element(symbol);
    weight + oxygens * a::O
}

/// Grams per mole of the form written for an element: a halogen stands alone.
pub(crate) fn form_grams(symbol: &str) -> f64 {
    let (weight, oxygens, _) = element(symbol);
    weight + oxygens.max(0.0) * a::O
}

fn book(moles: &mut BTreeMap<&'static str, f64>, atoms: &[(&'static str, f64)], amount: f64) {
    for &(symbol, count) in atoms {
        *moles.entry(symbol).or_insert(0.0) += amount * count;
    }
}

/// Turns a refusal into a failed case.
pub(crate) fn failed(refused: beadchem::Error) -> TestCaseError {
    TestCaseError::fail(refused.to_string())
}

/// One charge for tests that want no random one.
pub(crate) fn fixed() -> Recipe {
    let mut contents = [0.05; MINERALS.len()];
    contents[0] = 0.25;
    Recipe {
        sample_g: 0.5,
        flux_g: 8.0,
        contents,
        blend: [0.6, 0.3, 0.1],
        flux_loss: 0.004,
        kept_sulfur: 0.9,
        kept_fluorine: 0.6,
        fluorine_gas: "BF3",
        blanks: [1e-4, 5e-5, 1e-5],
        nitrate_g: 0.8,
        route: ReducesTo::NO,
        tablets: 1,
        retained_bromine: 0.4,
        iodide_ml: 0.1,
        retained_iodine: 0.3,
        lanthana: 0.05,
        strontium_g: 0.1,
    }
}
