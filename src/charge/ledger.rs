//! The books of a fusion: for every element what came in, what stayed, what left and as what; and the oxygen.

use crate::charge::kernel::SamplePath;
use crate::charge::melt::Melt;
use crate::substance::{Element, sum_of_weights};

/// One element, g of the element.
///
/// ```
/// # use beadchem::{charge::{Charge, FluxLot, Sample}, substance::Weights};
/// # let lot = FluxLot::new("F-1", [("Li2CO3", 1.0), ("Li2B4O7", 9.0)], "1050 C, 18 min", 0.004)?;
/// let melt = Charge::new(Sample::dried(1.05)?, lot.weigh_g(6.0)?)?.fuse_with_loss(&Weights::ciaaw_2024(), 0.431)?;
/// assert_eq!(melt.ledger().elements[0].element.symbol(), "O");
/// # Ok::<(), beadchem::Error>(())
/// ```
#[derive(Debug, Clone, PartialEq)]
pub struct ElementLine {
    /// The element.
    pub element: Element,
    /// Brought by the declared species of the sample.
    pub from_sample_g: f64,
    /// Brought by the flux.
    pub from_flux_g: f64,
    /// Brought by the additions.
    pub from_additions_g: f64,
    /// Taken up from the air (oxygen; both elements of moisture); negative where it went into the air.
    pub from_air_g: f64,
    /// In the glass.
    pub stayed_g: f64,
    /// The form it stands in, where it stayed.
    pub stays_as: Option<String>,
    /// Left as gas.
    pub left_g: f64,
    /// The gases it left in.
    pub left_as: Vec<String>,
    /// Gone with the flux loss.
    pub flux_loss_g: f64,
}

impl ElementLine {
    /// In less out; zero but for rounding.
    ///
    /// ```
    /// # use beadchem::{charge::{Charge, FluxLot, Sample}, substance::Weights};
    /// # let lot = FluxLot::new("F-1", [("Li2CO3", 1.0), ("Li2B4O7", 9.0)], "1050 C, 18 min", 0.004)?;
    /// let melt = Charge::new(Sample::dried(1.05)?, lot.weigh_g(6.0)?)?.fuse_with_loss(&Weights::ciaaw_2024(), 0.431)?;
    /// assert!(melt.ledger().elements.iter().all(|line| line.imbalance_g().abs() < 1e-12));
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn imbalance_g(&self) -> f64 {
        self.from_sample_g + self.from_flux_g + self.from_additions_g + self.from_air_g
            - self.stayed_g
            - self.left_g
            - self.flux_loss_g
    }
}

/// One gas, g.
///
/// ```
/// # use beadchem::{charge::{Charge, FluxLot, Sample}, substance::Weights};
/// # let lot = FluxLot::new("F-1", [("Li2CO3", 1.0), ("Li2B4O7", 9.0)], "1050 C, 18 min", 0.004)?;
/// let melt = Charge::new(Sample::dried(1.05)?, lot.weigh_g(6.0)?)?.fuse_with_loss(&Weights::ciaaw_2024(), 0.431)?;
/// assert_eq!(melt.ledger().gases[0].gas, "CO2");
/// # Ok::<(), beadchem::Error>(())
/// ```
#[derive(Debug, Clone, PartialEq)]
pub struct GasLine {
    /// Its formula.
    pub gas: String,
    /// Its mass; negative for water that was taken up from the air (to carry fluorine away as HF).
    pub mass_g: f64,
}

/// Oxygen, g.
///
/// ```
/// # use beadchem::{charge::{Charge, FluxLot, Sample}, substance::Weights};
/// # let lot = FluxLot::new("F-1", [("Li2CO3", 1.0), ("Li2B4O7", 9.0)], "1050 C, 18 min", 0.004)?;
/// let melt = Charge::new(Sample::dried(1.05)?, lot.weigh_g(6.0)?)?.fuse_with_loss(&Weights::ciaaw_2024(), 0.431)?;
/// assert_eq!(melt.ledger().oxygen.from_oxidant_g, 0.0);
/// # Ok::<(), beadchem::Error>(())
/// ```
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct OxygenBalance {
    /// What sample and other additions take up beyond the oxygen they bring.
    pub demand_g: f64,
    /// Handed over by nitrates along their declared routes.
    pub from_oxidant_g: f64,
    /// From the air; negative where the charge gives oxygen off.
    pub from_air_g: f64,
}

/// The whole books of one fusion.
///
/// ```
/// use beadchem::{charge::{Charge, Fate, FluxLot, Sample}, composition::{Basis, Composition}, substance::Weights};
/// let lot = FluxLot::new("F-1", [("Li2B4O7", 1.0)], "1050 C, 18 min", 0.0)?;
/// let magnetite = Sample::dried(1.0)?.made_of(Composition::new(Basis::Dried).with("Fe3O4", 1.0)?)?;
/// let melt = Charge::new(magnetite, lot.weigh_g(9.0)?)?.fuse(&Weights::ciaaw_2024(), &Fate::new())?;
/// let ledger = melt.ledger();
/// assert_eq!(format!("{:.6}", ledger.oxygen.from_air_g), "0.034550"); // 3.455 % gain
/// # Ok::<(), beadchem::Error>(())
/// ```
#[derive(Debug, Clone, PartialEq)]
pub struct Ledger {
    /// False where only a loss on fusion was stated: the sample is then in the masses, not in the elements.
    pub itemised: bool,
    /// Every element of the declared species, oxygen first.
    pub elements: Vec<ElementLine>,
    /// Every gas.
    pub gases: Vec<GasLine>,
    /// The oxygen.
    pub oxygen: OxygenBalance,
    /// Sample as weighed, g.
    pub sample_g: f64,
    /// Flux as weighed, g.
    pub flux_g: f64,
    /// Additions beside the flux, g (what its maker mixed into the flux is weighed with it).
    pub additions_g: f64,
    /// Glass, g.
    pub glass_g: f64,
    /// Gone with the flux loss, g.
    pub flux_loss_g: f64,
    /// Stated loss of the sample, g; zero where the species were itemised.
    pub stated_loss_g: f64,
    /// Part of the sample that no declared species accounts for, carried into the glass, g.
    pub unnamed_g: f64,
    /// Part of the flux that no formula of its blend accounts for, after the flux loss, in the glass, g.
    pub flux_unnamed_g: f64,
}

impl Ledger {
    pub(crate) fn of(melt: &Melt) -> Self {
        let plan = melt.plan();
        let kernel = &plan.kernel;
        let x = plan.moved();
        let mut scratch = vec![0.0; kernel.ledger_scratch()];
        let mut books = kernel.books(&mut scratch);
        let masses = kernel.keep_books::<f64, true>(&x, &mut books);
        let weights = &x[kernel.weights.clone()];
        let oxygen_weight = weights[kernel.oxygen];
        let itemised = matches!(kernel.sample, SamplePath::Itemised { .. });

        // moles that left, by element, with the oxygen and hydrogen their gases carry
        let n = kernel.elements();
        let (mut left, mut left_as) = (vec![0.0; n], vec![Vec::new(); n]);
        let mut gases = Vec::new();
        let (mut gas_oxygen, mut water_hydrogen, mut has_water) = (0.0, 0.0, false);
        let hydrogen_place = plan.elements.iter().position(|e| *e == Element::H);
        let hydrogen_weight =
            hydrogen_place.map_or_else(|| melt.weights().get("H").map_or(0.0, |e| e.weight.value()), |p| weights[p]);
        for ((gas, formula), &moles) in kernel.gases.iter().zip(&plan.gases).zip(books.left.iter()) {
            let key = gas.key;
            if plan.elements[key] == Element::H {
                water_hydrogen += moles;
                has_water = true;
                continue;
            }
            let mass = moles * kernel.grams_of_gas(weights, hydrogen_weight, gas);
            for &(carrier, count) in &gas.carriers {
                left[carrier] += moles * count;
                left_as[carrier].push(formula.text().to_owned());
            }
            left[key] += moles;
            left_as[key].push(formula.text().to_owned());
            gas_oxygen += moles * gas.oxygen;
            water_hydrogen -= moles * gas.hydrogen;
            has_water |= gas.hydrogen > 0.0;
            gases.push(GasLine { gas: formula.text().to_owned(), mass_g: mass });
        }
        if has_water {
            let mass_g = water_hydrogen * (hydrogen_weight + 0.5 * oxygen_weight);
            gases.push(GasLine { gas: "H2O".to_owned(), mass_g });
            gas_oxygen += 0.5 * water_hydrogen;
        }

        let mut elements = Vec::new();
        let (mut melt_oxygen, mut lost_oxygen) = (0.0, 0.0);
        for place in 0..n {
            melt_oxygen += books.melt[place] * kernel.oxygen_per_atom[place];
            lost_oxygen += books.flux_lost[place] * kernel.oxygen_per_atom[place];
        }
        let brought = books.sample[kernel.oxygen] + books.flux[kernel.oxygen] + books.additions[kernel.oxygen];
        let air_oxygen = melt_oxygen + gas_oxygen + lost_oxygen - brought;
        // water taken up comes from the air with its oxygen; it is no gas that left
        let moisture_oxygen = 0.5 * (-water_hydrogen).max(0.0);
        for (place, &element) in plan.elements.iter().enumerate() {
            let weight = weights[place];
            let (stayed, gone, lost, air) = if element == Element::O {
                (melt_oxygen, gas_oxygen + moisture_oxygen, lost_oxygen, air_oxygen + moisture_oxygen)
            } else if element == Element::H {
                let brought = books.sample[place] + books.flux[place] + books.additions[place];
                let carried: f64 = kernel.gases.iter().zip(books.left.iter()).map(|(gas, m)| m * gas.hydrogen).sum();
                let out = carried + water_hydrogen.max(0.0);
                (0.0, out, 0.0, out - brought)
            } else {
                (books.melt[place], left[place], books.flux_lost[place], 0.0)
            };
            let mut names = std::mem::take(&mut left_as[place]);
            if element == Element::H {
                names.push("H2O".to_owned());
            }
            names.dedup();
            elements.push(ElementLine {
                element,
                from_sample_g: books.sample[place] * weight,
                from_flux_g: books.flux[place] * weight,
                from_additions_g: books.additions[place] * weight,
                from_air_g: air * weight,
                stayed_g: stayed * weight,
                stays_as: plan.stays_as[place].as_ref().map(|form| form.text().to_owned()),
                left_g: gone * weight,
                left_as: names,
                flux_loss_g: lost * weight,
            });
        }
        let from_oxidant: f64 = melt
            .charge()
            .additions()
            .iter()
            .zip(&kernel.additions)
            .filter_map(|(addition, term)| {
                let route = addition.reduces_to()?;
                let moles = term.dose_g(&x, kernel) / sum_of_weights(&term.atoms, weights);
                Some(moles * addition.species().count(Element::N) * route.oxygen_per_nitrate())
            })
            .sum();
        let named_loss: f64 = (0..n).map(|place| books.flux_lost[place] * kernel.grams_in_melt(weights, place)).sum();
        let flux_loss_g = named_loss + masses.flux_unnamed * (1.0 - masses.flux_kept) / masses.flux_kept;
        let additions_g = kernel.additions.iter().filter(|term| !term.in_flux()).map(|t| t.dose_g(&x, kernel)).sum();
        let sample_g = x[kernel.sample_mass];
        Self {
            itemised,
            elements,
            gases,
            oxygen: OxygenBalance {
                demand_g: (air_oxygen + from_oxidant) * oxygen_weight,
                from_oxidant_g: from_oxidant * oxygen_weight,
                from_air_g: air_oxygen * oxygen_weight,
            },
            sample_g,
            flux_g: x[kernel.flux_mass],
            additions_g,
            glass_g: masses.glass,
            flux_loss_g,
            stated_loss_g: if itemised { 0.0 } else { sample_g - masses.sample_glass },
            unnamed_g: masses.unnamed,
            flux_unnamed_g: masses.flux_unnamed,
        }
    }

    /// Everything weighed in and taken up, less glass and everything that left; zero but for rounding.
    ///
    /// ```
    /// # use beadchem::{charge::{Charge, FluxLot, Sample}, substance::Weights};
    /// # let lot = FluxLot::new("F-1", [("Li2CO3", 1.0), ("Li2B4O7", 9.0)], "1050 C, 18 min", 0.004)?;
    /// let melt = Charge::new(Sample::dried(1.05)?, lot.weigh_g(6.0)?)?.fuse_with_loss(&Weights::ciaaw_2024(), 0.431)?;
    /// assert!(melt.ledger().imbalance_g().abs() < 1e-12);
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn imbalance_g(&self) -> f64 {
        let gases: f64 = self.gases.iter().map(|gas| gas.mass_g).sum();
        self.sample_g + self.flux_g + self.additions_g + self.oxygen.from_air_g
            - self.glass_g
            - gases
            - self.flux_loss_g
            - self.stated_loss_g
    }

    /// The line of an element.
    ///
    /// ```
    /// # use beadchem::{charge::{Charge, FluxLot, Sample}, substance::Weights};
    /// # let lot = FluxLot::new("F-1", [("Li2CO3", 1.0), ("Li2B4O7", 9.0)], "1050 C, 18 min", 0.004)?;
    /// let melt = Charge::new(Sample::dried(1.05)?, lot.weigh_g(6.0)?)?.fuse_with_loss(&Weights::ciaaw_2024(), 0.431)?;
    /// assert!(melt.ledger().element("B").unwrap().from_flux_g > 1.0);
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn element(&self, symbol: &str) -> Option<&ElementLine> {
        self.elements.iter().find(|line| line.element.symbol() == symbol)
    }

    /// The mass of a gas, g; zero where it did not arise.
    ///
    /// ```
    /// # use beadchem::{charge::{Charge, FluxLot, Sample}, substance::Weights};
    /// # let lot = FluxLot::new("F-1", [("Li2CO3", 1.0), ("Li2B4O7", 9.0)], "1050 C, 18 min", 0.004)?;
    /// let melt = Charge::new(Sample::dried(1.05)?, lot.weigh_g(6.0)?)?.fuse_with_loss(&Weights::ciaaw_2024(), 0.431)?;
    /// assert_eq!(format!("{:.4}", melt.ledger().gas_g("CO2")), "0.3574");
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn gas_g(&self, gas: &str) -> f64 {
        self.gases.iter().filter(|line| line.gas == gas).map(|line| line.mass_g).sum()
    }
}
