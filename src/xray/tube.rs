//! What an X-ray tube sends out: continuum and lines of its anode behind a beryllium window.

use crate::code::Code;
use crate::error::{Error, Result, finite};
use crate::numeric::Side;
use crate::scalar::Scalar;
use crate::substance::{Element, Weights};
use crate::xray::geometry::{angle, sine};
use crate::xray::lines::{Named, named};
use crate::xray::tables::{AtomicTables, Shell};

/// Mass of beryllium, of 1.848 g/cm3, in a window of 1 um, g/cm2.
const BERYLLIUM: f64 = 1.848e-4;

/// An X-ray tube: anode, voltage, thickness of its beryllium window, and two angles from the surface of the anode.
///
/// Continuum, photons s-1 sr-1 mA-1 keV-1 (E and E0 in keV, E0 is the voltage in kV):
/// `N(E) = 1.35e9 Z (E0/E - 1)^x f(E) T(E)`, `x = 1.109 - 0.00435 Z + 0.00175 E0`, `f = (1 - exp(-A))/A`,
/// `A = 2 tau(E) rz sin(phi)/sin(eps)` with the photoelectric coefficient of the anode, `T = exp(-mu_Be 1.848 g/cm3 t)`.
///
/// Depth of production, g/cm2: `rz = rzm ln U (0.49269 - 1.0987 h + 0.78557 h^2)/(0.70256 - 1.09865 h + 1.0046 h^2 + ln U)`,
/// `rzm = (M/Z)(0.787e-5 sqrt(J) E0^1.5 + 0.735e-6 E0^2)`, `J = 0.0135 Z`, `h = E0^m (0.1904 - 0.2236 ln Z + 0.1292 ln^2 Z -
/// 0.0149 ln^3 Z)`, `m = 0.1382 - 0.9211/sqrt(Z)`; U is E0/E for the continuum, E0 over the edge for a line; M is the atomic
/// weight.
///
/// Lines, photons s-1 sr-1 mA-1: `N = C (1/S) R omega p f T`, `k = U ln U + 1 - U`, `1/S = (z b/Z) k [1 + 16.05
/// sqrt(J/E_edge)(sqrt(U) ln U + 2(1 - sqrt(U)))/k]` with z b of 2 and 0.35 for K, 8 and 0.25 for L, `R = 1 - 0.0081517 Z +
/// 3.613e-5 Z^2 + 0.009583 Z exp(-U) + 0.001141 E0`; C is 5e13 for K, 0.71e13, 2.70e13 and `4.94e13 (-0.4814 + 0.03781 Z -
/// 2.413e-4 Z^2)` for L1, L2 and L3.
///
/// # Source
/// Ebel, X-Ray Spectrom. 1999, 28, 255 and 2003, 32, 46; depths after Love and Scott. Every constant is from memory:
/// unconfirmed; an unrelated public source shows the same 1.35e9 and 5e13.
///
/// ```
/// let tube = beadchem::xray::Tube::new("Rh", 50.0, 125.0)?.with_angles(90.0, 45.0)?;
/// assert_eq!(tube.to_string(), "Rh tube 50 kV, Be 125 um, electrons at 90 deg, take-off 45 deg");
/// # Ok::<(), beadchem::Error>(())
/// ```
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Tube {
    anode: Element,
    kv: f64,
    beryllium_um: f64,
    electrons_deg: f64,
    take_off_deg: f64,
}

impl Tube {
    /// A tube of this anode at this voltage behind so much beryllium; electrons come in at 90 deg, photons leave at 45 deg,
    /// until [`with_angles`](Self::with_angles) says otherwise.
    ///
    /// # Errors
    /// `weights.unknown`; `source.impossible` unless voltage and window are above 0; `number.not-finite`.
    ///
    /// ```
    /// assert!(beadchem::xray::Tube::new("Rh", 0.0, 125.0).is_err());
    /// assert!(beadchem::xray::Tube::new("Rh", 50.0, -1.0).is_err());
    /// ```
    pub fn new(anode: &str, kv: f64, beryllium_um: f64) -> Result<Self> {
        let anode = Element::from_symbol(anode)?;
        above_zero("Voltage of a tube,", kv, "kV", "Voltages are in kV.")?;
        above_zero(
            "Window of a tube,",
            beryllium_um,
            "um",
            "It is the thickness of beryllium in micrometres, 75 to 300 as a rule.",
        )?;
        Ok(Self { anode, kv, beryllium_um, electrons_deg: 90.0, take_off_deg: 45.0 })
    }

    /// The same tube without its window, for comparisons.
    ///
    /// ```
    /// assert!(beadchem::xray::Tube::new("Rh", 50.0, 125.0)?.without_window().to_string().contains("Be 0 um"));
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn without_window(mut self) -> Self {
        self.beryllium_um = 0.0;
        self
    }

    /// With the angles of the electrons and of the photons used, both from the surface of the anode.
    ///
    /// # Errors
    /// `geometry.impossible`; `number.not-finite`.
    ///
    /// ```
    /// assert!(beadchem::xray::Tube::new("Rh", 50.0, 125.0)?.with_angles(90.0, 0.0).is_err());
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    pub fn with_angles(mut self, electrons_deg: f64, take_off_deg: f64) -> Result<Self> {
        self.electrons_deg = angle("Angle of the electrons on the anode,", electrons_deg)?;
        self.take_off_deg = angle("Angle of take-off from the anode,", take_off_deg)?;
        Ok(self)
    }

    /// The anode.
    ///
    /// ```
    /// assert_eq!(beadchem::xray::Tube::new("Rh", 50.0, 125.0)?.anode().symbol(), "Rh");
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn anode(&self) -> Element {
        self.anode
    }

    /// The voltage, kV.
    ///
    /// ```
    /// assert_eq!(beadchem::xray::Tube::new("Rh", 50.0, 125.0)?.kv(), 50.0);
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn kv(&self) -> f64 {
        self.kv
    }

    /// Photons of the continuum at an energy, s-1 sr-1 mA-1 keV-1; zero at the voltage and above.
    ///
    /// # Errors
    /// `element.not-tabulated`; `energy.not-tabulated`; `weights.unknown`.
    ///
    /// ```
    /// use beadchem::{substance::Weights, xray::{Tube, example_tables}};
    /// let (tube, tables) = (Tube::new("Rh", 50.0, 125.0)?, example_tables()?);
    /// let at = |energy| tube.continuum(energy, &tables, &Weights::ciaaw_2024());
    /// assert!(at(10.0)? > at(40.0)? && at(50.0)? == 0.0);
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    pub fn continuum(&self, energy_kev: f64, tables: &dyn AtomicTables, weights: &Weights) -> Result<f64> {
        let z = f64::from(self.anode.number());
        let overvoltage = self.kv / energy_kev;
        if overvoltage <= 1.0 {
            return Ok(0.0);
        }
        let exponent = 1.109 - 0.00435 * z + 0.00175 * self.kv;
        let depth = self.depth(overvoltage, weights)?;
        let through = self.escape(energy_kev, depth, tables)? * self.window(energy_kev, tables)?;
        Ok(1.35e9 * z * power(overvoltage - 1.0, exponent) * through)
    }

    /// The lines of the anode that the voltage excites: name, energy in keV, photons s-1 sr-1 mA-1.
    ///
    /// # Errors
    /// As [`continuum`](Self::continuum).
    ///
    /// ```
    /// use beadchem::{substance::Weights, xray::{Tube, example_tables}};
    /// let lines = Tube::new("Rh", 22.0, 125.0)?.lines(&example_tables()?, &Weights::ciaaw_2024())?;
    /// assert!(lines.iter().all(|(name, _, _)| name.starts_with("Rh L")), "22 kV is below the K edge");
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    pub fn lines(&self, tables: &dyn AtomicTables, weights: &Weights) -> Result<Vec<(String, f64, f64)>> {
        let lowest = tables.range_kev().0;
        let mut lines = Vec::new();
        for line in named(tables, self.anode)? {
            if self.kv > line.edge.energy_kev && line.line.energy_kev >= lowest {
                let photons = self.line(&line, tables, weights)?;
                lines.push((line.name, line.line.energy_kev, photons));
            }
        }
        Ok(lines)
    }

    fn line(&self, line: &Named, tables: &dyn AtomicTables, weights: &Weights) -> Result<f64> {
        let z = f64::from(self.anode.number());
        let edge = line.edge.energy_kev;
        let u = self.kv / edge;
        let ln_u = Scalar::ln(u);
        let k = u * ln_u + 1.0 - u;
        let (constant, factor) = match line.edge.shell {
            Shell::K => (5e13, 2.0 * 0.35),
            Shell::L1 => (0.71e13, 8.0 * 0.25),
            Shell::L2 => (2.70e13, 8.0 * 0.25),
            Shell::L3 => (4.94e13 * (-0.4814 + 0.03781 * z - 2.413e-4 * z * z), 8.0 * 0.25),
        };
        let correction = 16.05 * (ionisation(z) / edge).sqrt() * (u.sqrt() * ln_u + 2.0 * (1.0 - u.sqrt())) / k;
        let stopping = factor / z * k * (1.0 + correction);
        let scatter = 1.0 - 0.0081517 * z + 3.613e-5 * z * z + 0.009583 * z * Scalar::exp(-u) + 0.001141 * self.kv;
        let energy = line.line.energy_kev;
        let through = self.escape(energy, self.depth(u, weights)?, tables)? * self.window(energy, tables)?;
        Ok(constant * stopping * scatter * line.strength() * through)
    }

    /// The mean depth of production, g/cm2.
    fn depth(&self, overvoltage: f64, weights: &Weights) -> Result<f64> {
        let z = f64::from(self.anode.number());
        let weight = weights.get(self.anode.symbol())?.weight.value();
        let e0 = self.kv;
        let largest = weight / z * (0.787e-5 * ionisation(z).sqrt() * e0 * e0.sqrt() + 0.735e-6 * e0 * e0);
        let ln_z = Scalar::ln(z);
        let polynomial = 0.1904 - 0.2236 * ln_z + 0.1292 * ln_z * ln_z - 0.0149 * ln_z * ln_z * ln_z;
        let h = power(e0, 0.1382 - 0.9211 / z.sqrt()) * polynomial;
        let ln_u = Scalar::ln(overvoltage);
        let above = 0.49269 - 1.0987 * h + 0.78557 * h * h;
        let below = 0.70256 - 1.09865 * h + 1.0046 * h * h + ln_u;
        Ok(largest * ln_u * above / below)
    }

    /// The share of photons that leave the anode.
    fn escape(&self, energy_kev: f64, depth: f64, tables: &dyn AtomicTables) -> Result<f64> {
        let absorbed = tables.photo(self.anode, energy_kev, Side::Below)?;
        let a = 2.0 * absorbed * depth * sine(self.electrons_deg) / sine(self.take_off_deg);
        // the series keeps its digits where a is small
        Ok(if a < 1e-4 { 1.0 - 0.5 * a + a * a / 6.0 } else { (1.0 - Scalar::exp(-a)) / a })
    }

    /// The share of photons that pass the window.
    fn window(&self, energy_kev: f64, tables: &dyn AtomicTables) -> Result<f64> {
        let beryllium = Element::from_symbol("Be")?;
        let attenuation = tables.total(beryllium, energy_kev, Side::Below)?;
        Ok(Scalar::exp(-attenuation * BERYLLIUM * self.beryllium_um))
    }
}

impl core::fmt::Display for Tube {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        let Self { anode, kv, beryllium_um, electrons_deg, take_off_deg } = self;
        let symbol = anode.symbol();
        write!(
            f,
            "{symbol} tube {kv} kV, Be {beryllium_um} um, electrons at {electrons_deg} deg, take-off {take_off_deg} deg"
        )
    }
}

/// Mean ionisation energy of an element in a tube's formula, keV.
fn ionisation(z: f64) -> f64 {
    0.0135 * z
}

fn power(base: f64, exponent: f64) -> f64 {
    Scalar::exp(exponent * Scalar::ln(base))
}

pub(super) fn above_zero(quantity: &str, value: f64, unit: &'static str, hint: &str) -> Result<f64> {
    finite(quantity, value)?;
    if value > 0.0 {
        return Ok(value);
    }
    Err(Error::OutOfRange {
        code: Code::SourceImpossible,
        quantity: quantity.to_owned(),
        value,
        unit,
        bound: format!("0 {unit} (excluded) and above"),
        hint: hint.to_owned(),
    })
}
