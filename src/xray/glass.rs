//! What a glass is made of.

use crate::code::Code;
use crate::error::{Error, Result, finite};
use crate::numeric::Side;
use crate::substance::{Element, Formula, Weights};
use crate::xray::tables::AtomicTables;

/// Masses of the elements of a glass; only their proportions count.
///
/// ```
/// use beadchem::{substance::Weights, xray::Glass};
/// // one gram of sand in five of tetraborate
/// let glass = Glass::of_masses(&[("Li2B4O7", 5.0), ("SiO2", 1.0)], &Weights::ciaaw_2024())?;
/// assert_eq!(glass.elements()[3].symbol(), "Si");
/// assert!((glass.mass_fraction("Si")? - 0.07791).abs() < 1e-5);
/// # Ok::<(), beadchem::Error>(())
/// ```
#[derive(Debug, Clone, PartialEq)]
pub struct Glass {
    elements: Vec<Element>,
    masses: Vec<f64>,
}

impl Glass {
    /// From masses of substances, in any one unit: flux, oxides of the sample, what additions leave.
    ///
    /// Each substance brings its elements by its formula, `m_e = m n_e A_e / sum n A`; fractions are `c_e = m_e / sum m`,
    /// over the whole mass, never over the flux. A loss on ignition is no substance of a glass and is left out.
    ///
    /// # Errors
    /// Those of [`Formula::parse`]; `weights.unknown`; `number.not-finite`; `number.out-of-range` for a mass below zero;
    /// `glass.empty`.
    ///
    /// ```
    /// use beadchem::{substance::Weights, xray::Glass};
    /// let refused = Glass::of_masses(&[("SiO2", 0.0)], &Weights::ciaaw_2024()).unwrap_err();
    /// assert_eq!(refused.code().word(), "glass.empty");
    /// ```
    pub fn of_masses(substances: &[(&str, f64)], weights: &Weights) -> Result<Self> {
        let mut glass = Self { elements: Vec::new(), masses: Vec::new() };
        for &(text, mass) in substances {
            let mass = not_negative(text, mass)?;
            for (element, fraction) in element_fractions(&Formula::parse(text)?, weights)? {
                glass.add(element, mass * fraction);
            }
        }
        glass.checked()
    }

    /// From masses, or fractions, of elements.
    ///
    /// # Errors
    /// `weights.unknown`; `number.not-finite`; `number.out-of-range` for a mass below zero; `glass.empty`.
    ///
    /// ```
    /// let glass = beadchem::xray::Glass::of_elements(&[("Fe", 70.0), ("O", 30.0)])?;
    /// assert_eq!(glass.mass_fraction("Fe")?, 0.7);
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    pub fn of_elements(masses: &[(&str, f64)]) -> Result<Self> {
        let mut glass = Self { elements: Vec::new(), masses: Vec::new() };
        for &(symbol, mass) in masses {
            glass.add(Element::from_symbol(symbol)?, not_negative(symbol, mass)?);
        }
        glass.checked()
    }

    fn add(&mut self, element: Element, mass: f64) {
        match self.elements.iter().position(|&known| known == element) {
            Some(place) => self.masses[place] += mass,
            None => {
                self.elements.push(element);
                self.masses.push(mass);
            }
        }
    }

    fn checked(self) -> Result<Self> {
        let total = self.total();
        if total > 0.0 && total.is_finite() {
            return Ok(self);
        }
        Err(Error::NotPositive {
            code: Code::GlassEmpty,
            quantity: "Mass of a glass".to_owned(),
            value: total,
            unit: "g",
            bound: "A glass has mass".to_owned(),
            hint: "give the flux and the oxides that stay in the melt.".to_owned(),
        })
    }

    /// The elements, in the order in which they came.
    ///
    /// ```
    /// let glass = beadchem::xray::Glass::of_elements(&[("Fe", 70.0), ("O", 30.0)])?;
    /// assert_eq!(glass.elements().len(), 2);
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn elements(&self) -> &[Element] {
        &self.elements
    }

    /// The masses of the elements, in the unit they were given in.
    ///
    /// ```
    /// let glass = beadchem::xray::Glass::of_elements(&[("Fe", 70.0), ("O", 30.0)])?;
    /// assert_eq!(glass.masses(), [70.0, 30.0]);
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn masses(&self) -> &[f64] {
        &self.masses
    }

    /// The mass fraction of an element; zero where it is not there.
    ///
    /// # Errors
    /// `weights.unknown`.
    ///
    /// ```
    /// let glass = beadchem::xray::Glass::of_elements(&[("Fe", 70.0), ("O", 30.0)])?;
    /// assert_eq!(glass.mass_fraction("Si")?, 0.0);
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    pub fn mass_fraction(&self, symbol: &str) -> Result<f64> {
        let element = Element::from_symbol(symbol)?;
        let place = self.elements.iter().position(|&known| known == element);
        Ok(place.map_or(0.0, |place| self.masses[place] / self.total()))
    }

    /// Total mass attenuation coefficient of the glass, cm2/g: `mu(E) = sum c_e mu_e(E)`; on a jump the side below.
    ///
    /// # Errors
    /// `element.not-tabulated`; `energy.not-tabulated`.
    ///
    /// ```
    /// use beadchem::{substance::Weights, xray::{Glass, example_tables}};
    /// let flux = Glass::of_masses(&[("Li2B4O7", 1.0)], &Weights::ciaaw_2024())?;
    /// assert!((flux.attenuation(&example_tables()?, 10.0)? / 4.29 - 1.0).abs() < 0.01);
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    pub fn attenuation(&self, tables: &dyn AtomicTables, energy_kev: f64) -> Result<f64> {
        let mut sum = 0.0;
        for (&element, &mass) in self.elements.iter().zip(&self.masses) {
            sum += mass * tables.total(element, energy_kev, Side::Below)?;
        }
        Ok(sum / self.total())
    }

    /// Photoelectric mass coefficient of the glass, cm2/g: `tau(E) = sum c_e tau_e(E)`; on a jump the side below.
    ///
    /// # Errors
    /// As [`attenuation`](Self::attenuation).
    ///
    /// ```
    /// use beadchem::{substance::Weights, xray::{Glass, example_tables}};
    /// let (flux, tables) = (Glass::of_masses(&[("Li2B4O7", 1.0)], &Weights::ciaaw_2024())?, example_tables()?);
    /// assert!(flux.photoelectric(&tables, 20.0)? < flux.attenuation(&tables, 20.0)?);
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    pub fn photoelectric(&self, tables: &dyn AtomicTables, energy_kev: f64) -> Result<f64> {
        let mut sum = 0.0;
        for (&element, &mass) in self.elements.iter().zip(&self.masses) {
            sum += mass * tables.photo(element, energy_kev, Side::Below)?;
        }
        Ok(sum / self.total())
    }

    fn total(&self) -> f64 {
        self.masses.iter().fold(0.0, |sum, mass| sum + mass)
    }
}

fn not_negative(what: &str, mass: f64) -> Result<f64> {
    let quantity = format!("Mass of {what} in a glass");
    finite(&quantity, mass)?;
    if mass >= 0.0 {
        return Ok(mass);
    }
    Err(Error::OutOfRange {
        code: Code::NumberOutOfRange,
        quantity: format!("{quantity},"),
        value: mass,
        unit: "g",
        bound: "0 and above".to_owned(),
        hint: "A glass cannot hold less than nothing; a gain or a loss is no substance of it.".to_owned(),
    })
}

/// The elements of a substance and their mass fractions in it.
pub(crate) fn element_fractions(formula: &Formula, weights: &Weights) -> Result<Vec<(Element, f64)>> {
    let mut parts = Vec::with_capacity(formula.atoms().len());
    for &(element, count) in formula.atoms() {
        parts.push((element, count * weights.get(element.symbol())?.weight.value()));
    }
    let whole: f64 = parts.iter().map(|(_, mass)| mass).sum();
    Ok(parts.into_iter().map(|(element, mass)| (element, mass / whole)).collect())
}
