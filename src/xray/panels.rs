//! Where a spectrum is read: panels in energy with a few points each, cut wherever a coefficient jumps.

use crate::code::Code;
use crate::error::{Error, Result, finite};

/// Two cuts nearer than this share are one.
const SAME: f64 = 1e-10;
/// Most points of a panel.
const MOST_POINTS: usize = 32;

/// How finely a spectrum is read: the longest panel, the points in each, and the lowest energy.
///
/// Panels end at every edge and jump of every element concerned, so that within one everything is smooth. With the panels of
/// [`Panels::default`], 1 keV long with 2 points, ratios of intensities are good to about 1e-5; shorter panels show it.
///
/// ```
/// use beadchem::xray::Panels;
/// assert_eq!(Panels::default(), Panels::new(1.0, 2)?);
/// # Ok::<(), beadchem::Error>(())
/// ```
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Panels {
    step_kev: f64,
    points: usize,
    from_kev: f64,
}

impl Default for Panels {
    fn default() -> Self {
        Self { step_kev: 1.0, points: 2, from_kev: 1.0 }
    }
}

impl Panels {
    /// Panels of at most `step_kev` with so many points of Gauss and Legendre each, from 1 keV on.
    ///
    /// # Errors
    /// `number.out-of-range` for a step not above 0 or a number of points outside 1 to 32; `number.not-finite`.
    ///
    /// ```
    /// assert!(beadchem::xray::Panels::new(0.0, 2).is_err() && beadchem::xray::Panels::new(1.0, 0).is_err());
    /// ```
    pub fn new(step_kev: f64, points: usize) -> Result<Self> {
        positive("Step of the panels in energy,", step_kev)?;
        if points == 0 || points > MOST_POINTS {
            return Err(Error::OutOfRange {
                code: Code::NumberOutOfRange,
                quantity: "Points in a panel,".to_owned(),
                value: points as f64,
                unit: "",
                bound: format!("1 to {MOST_POINTS}"),
                hint: "Two are enough for panels of 1 keV; shorten the panels rather than add points.".to_owned(),
            });
        }
        Ok(Self { step_kev, points, ..Self::default() })
    }

    /// The same from another lowest energy on; what a source emits below it is left out.
    ///
    /// # Errors
    /// `number.out-of-range` where it is not above 0; `number.not-finite`.
    ///
    /// ```
    /// assert!(beadchem::xray::Panels::default().from_kev(-1.0).is_err());
    /// ```
    pub fn from_kev(mut self, from_kev: f64) -> Result<Self> {
        self.from_kev = positive("Lowest energy of the panels,", from_kev)?;
        Ok(self)
    }

    /// The lowest energy, keV.
    ///
    /// ```
    /// assert_eq!(beadchem::xray::Panels::default().lowest_kev(), 1.0);
    /// ```
    #[must_use]
    pub fn lowest_kev(&self) -> f64 {
        self.from_kev
    }

    /// How many points there are at the most below an energy, cut so often.
    pub(super) fn most_nodes(&self, cuts: usize, to_kev: f64) -> f64 {
        (to_kev / self.step_kev + cuts as f64 + 1.0) * self.points as f64
    }

    /// Energies and widths of all points up to `to_kev`, ascending; the widths add up to the length of the whole.
    ///
    /// ```
    /// let nodes = beadchem::xray::Panels::default().nodes(&[7.112], 10.0);
    /// assert!((nodes.iter().map(|(_, width)| width).sum::<f64>() - 9.0).abs() < 1e-12);
    /// ```
    #[must_use]
    pub fn nodes(&self, cuts_kev: &[f64], to_kev: f64) -> Vec<(f64, f64)> {
        let from = self.from_kev;
        let mut ends: Vec<f64> = cuts_kev.iter().copied().filter(|&cut| cut > from && cut < to_kev).collect();
        ends.push(to_kev);
        ends.sort_unstable_by(f64::total_cmp);
        let rule = gauss_legendre(self.points);
        let (mut low, mut nodes) = (from, Vec::new());
        for end in ends {
            let length = end - low;
            if length <= SAME * end {
                continue;
            }
            let parts = (length / self.step_kev).ceil().max(1.0);
            let half = 0.5 * length / parts;
            for part in 0..parts as usize {
                let middle = low + half * (2 * part + 1) as f64;
                nodes.extend(rule.iter().map(|&(place, weight)| (middle + half * place, half * weight)));
            }
            low = end;
        }
        nodes
    }
}

fn positive(quantity: &str, value: f64) -> Result<f64> {
    finite(quantity, value)?;
    if value > 0.0 {
        return Ok(value);
    }
    Err(Error::OutOfRange {
        code: Code::NumberOutOfRange,
        quantity: quantity.to_owned(),
        value,
        unit: "keV",
        bound: "above 0 keV".to_owned(),
        hint: "Energies are in keV.".to_owned(),
    })
}

/// Places within -1 to 1 and weights of a rule of so many points, ascending, by Newton's steps on the Legendre polynomial.
fn gauss_legendre(points: usize) -> Vec<(f64, f64)> {
    let legendre = |x: f64| {
        let (mut before, mut value) = (1.0, x);
        for k in 2..=points {
            let k = k as f64;
            (before, value) = (value, ((2.0 * k - 1.0) * x * value - (k - 1.0) * before) / k);
        }
        let slope = points as f64 * (x * value - before) / (x * x - 1.0);
        (value, slope)
    };
    let place = |index: usize| {
        let mut x = -(core::f64::consts::PI * (index as f64 + 0.75) / (points as f64 + 0.5)).cos();
        for _ in 0..10 {
            let (value, slope) = legendre(x);
            x -= value / slope;
        }
        let (_, slope) = legendre(x);
        (x, 2.0 / ((1.0 - x * x) * slope * slope))
    };
    if points == 1 { vec![(0.0, 2.0)] } else { (0..points).map(place).collect() }
}
