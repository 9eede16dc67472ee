//! What dilution and a heavy absorber buy, and what they cost.

use crate::code::Code;
use crate::error::{Error, Result, finite};
use crate::matrix::from_theory::Theory;
use crate::matrix::line::LineName;
use crate::matrix::theory_bead::ReferenceBead;
use crate::xray::Setting;

/// A spread needs so many beads.
const FEWEST: usize = 2;

/// One choice of flux: its blend, a heavy absorber included, is that of a theory.
///
/// ```
/// use beadchem::matrix::{FluxChoice, Theory};
/// use beadchem::substance::Weights;
/// use beadchem::xray::{Geometry, Instrument, Source, example_tables};
/// let instrument = Instrument::new(Source::monochromatic(20.0)?, Geometry::new(63.0, 40.0)?);
/// let lines = [("Si Ka", "SiO2")];
/// let theory =
///     Theory::new(&example_tables()?, &Weights::ciaaw_2024(), &instrument, &[("Li2B4O7", 1.0)], &["SiO2"], &lines)?;
/// assert_eq!(FluxChoice::new("1:10", &theory, 10.0).ratio(), 10.0);
/// # Ok::<(), beadchem::Error>(())
/// ```
#[derive(Debug, Clone)]
pub struct FluxChoice<'a> {
    name: String,
    theory: &'a Theory,
    ratio: f64,
}

impl<'a> FluxChoice<'a> {
    /// A name, what computes the beads of this flux, and fused flux in g per g of sample.
    ///
    /// ```
    /// use beadchem::matrix::{FluxChoice, Theory};
    /// use beadchem::substance::Weights;
    /// use beadchem::xray::{Geometry, Instrument, Source, example_tables};
    /// let instrument = Instrument::new(Source::monochromatic(20.0)?, Geometry::new(63.0, 40.0)?);
    /// let (lines, weights) = ([("Si Ka", "SiO2")], Weights::ciaaw_2024());
    /// let flux = [("Li2B4O7", 90.0), ("Fe2O3", 10.0)];
    /// let heavy = Theory::new(&example_tables()?, &weights, &instrument, &flux, &["SiO2"], &lines)?;
    /// assert_eq!(FluxChoice::new("1:5, iron in the flux", &heavy, 5.0).name(), "1:5, iron in the flux");
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn new(name: &str, theory: &'a Theory, ratio: f64) -> Self {
        Self { name: name.to_owned(), theory, ratio }
    }

    /// The name.
    ///
    /// ```
    /// use beadchem::matrix::{FluxChoice, Theory};
    /// use beadchem::substance::Weights;
    /// use beadchem::xray::{Geometry, Instrument, Source, example_tables};
    /// let instrument = Instrument::new(Source::monochromatic(20.0)?, Geometry::new(63.0, 40.0)?);
    /// let lines = [("Si Ka", "SiO2")];
    /// let theory =
    ///     Theory::new(&example_tables()?, &Weights::ciaaw_2024(), &instrument, &[("Li2B4O7", 1.0)], &["SiO2"], &lines)?;
    /// assert_eq!(FluxChoice::new("1:10", &theory, 10.0).name(), "1:10");
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn name(&self) -> &str {
        &self.name
    }

    /// Fused flux, g per g of sample.
    ///
    /// ```
    /// use beadchem::matrix::{FluxChoice, Theory};
    /// use beadchem::substance::Weights;
    /// use beadchem::xray::{Geometry, Instrument, Source, example_tables};
    /// let instrument = Instrument::new(Source::monochromatic(20.0)?, Geometry::new(63.0, 40.0)?);
    /// let lines = [("Si Ka", "SiO2")];
    /// let theory =
    ///     Theory::new(&example_tables()?, &Weights::ciaaw_2024(), &instrument, &[("Li2B4O7", 1.0)], &["SiO2"], &lines)?;
    /// assert_eq!(FluxChoice::new("1:5", &theory, 5.0).ratio(), 5.0);
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn ratio(&self) -> f64 {
        self.ratio
    }
}

/// A line with one choice of flux, beside the first choice.
///
/// ```
/// let half = beadchem::matrix::TradeOff {
///     line: "Fe Ka".to_owned(),
///     choice: "1:10".to_owned(),
///     spread: 0.08,
///     largest_over_smallest: 1.4,
///     intensity: 0.67,
///     background: 1.1,
///     detection_limit: 1.57,
/// };
/// assert!(half.detection_limit > half.background.sqrt());
/// ```
#[derive(Debug, Clone, PartialEq)]
pub struct TradeOff {
    /// The line.
    pub line: String,
    /// The name of the choice.
    pub choice: String,
    /// Relative standard deviation over the beads of the intensity for each gram of the line's element, uncorrected: what is left of
    /// the matrix.
    pub spread: f64,
    /// The largest of these intensities over the smallest.
    pub largest_over_smallest: f64,
    /// Their mean over that of the first choice.
    pub intensity: f64,
    /// Scattered background over that of the first choice, by the model of [`Setting::scattered`].
    pub background: f64,
    /// Detection limit over that of the first choice, as far as counting the background decides it.
    pub detection_limit: f64,
}

/// What each choice of flux does to each line, over beads of an ore class or of several: how much of the matrix is left without a
/// correction, the intensity, and the detection limit.
///
/// For each bead of a choice `S = I/m`, with `m` the mass of the line's element for each gram of sample, flux included. The spread
/// is `s(S)/mean(S)`, with n - 1. An analyte that a bead lacks is computed as a trace of 1e-7 g/g. Against the first choice:
/// intensity `i = mean(S)/mean(S_1)`, background `b = mean(B)/mean(B_1)`, detection limit `sqrt(b)/i`.
///
/// B is a model: single scattering at the energy of the line, [`Setting::scattered`]. Overlaps, stray background, the losses of a
/// crystal and equal counting times are taken as unchanged by the flux. A spread is what stands before any correction; with
/// coefficients it no longer enters a result, and only intensity and detection limit are left to choose by.
///
/// Beads hold the components in the order of the theories, g per g of sample as weighed. Results come choice by choice, line by line.
///
/// # Errors
/// `shape.mismatch` for no choice, fewer than two beads, or another number of contents; `choices.differ` where components, lines or
/// instrument are not those of the first choice; those of [`ReferenceBead::new`]; `number.not-finite`.
///
/// # Source
/// Sensitivities: [`Theory`]. Detection limit by counting the background: common practice.
///
/// ```
/// use beadchem::matrix::{FluxChoice, Theory, trade_off};
/// use beadchem::substance::Weights;
/// use beadchem::xray::{Geometry, Instrument, Source, example_tables};
/// let instrument = Instrument::new(Source::monochromatic(20.0)?, Geometry::new(63.0, 40.0)?);
/// let lines = [("Si Ka", "SiO2")];
/// let flux = [("Li2B4O7", 1.0)];
/// let theory =
///     Theory::new(&example_tables()?, &Weights::ciaaw_2024(), &instrument, &flux, &["SiO2", "Fe2O3"], &lines)?;
/// let choices = [FluxChoice::new("1:5", &theory, 5.0), FluxChoice::new("1:20", &theory, 20.0)];
/// let [strong, dilute] = &trade_off(&choices, &[vec![0.9, 0.1], vec![0.2, 0.8]])?[..] else { unreachable!() };
/// assert!(dilute.spread < strong.spread && dilute.intensity < 0.4 && dilute.detection_limit > 2.0);
/// # Ok::<(), beadchem::Error>(())
/// ```
pub fn trade_off(choices: &[FluxChoice<'_>], beads: &[Vec<f64>]) -> Result<Vec<TradeOff>> {
    let hint = "Give the choice that others are held against first.";
    let first = choices.first().ok_or_else(|| Error::shape("Choices of flux", 1, 0, hint))?;
    if beads.len() < FEWEST {
        return Err(Error::shape("Beads of a trade-off", FEWEST, beads.len(), "A spread needs two beads or more."));
    }
    let mut found = Vec::with_capacity(choices.len() * first.theory.setting().lines().len());
    let mut reference = Vec::new();
    for choice in choices {
        alike(first, choice)?;
        let lines = of_choice(choice, beads)?;
        if reference.is_empty() {
            reference.clone_from(&lines);
        }
        let names = choice.theory.setting().lines();
        for ((line, own), before) in names.into_iter().zip(&lines).zip(&reference) {
            let (intensity, background) = (own.mean / before.mean, own.scattered / before.scattered);
            let detection_limit = background.sqrt() / intensity;
            for (what, figure) in
                [("Intensity", intensity), ("Detection limit", detection_limit), ("Spread", own.spread)]
            {
                finite(&format!("{what} of {line} with {}", choice.name), figure)?;
            }
            found.push(TradeOff {
                line: line.to_owned(),
                choice: choice.name.clone(),
                spread: own.spread,
                largest_over_smallest: own.largest_over_smallest,
                intensity,
                background,
                detection_limit,
            });
        }
    }
    Ok(found)
}

/// Figures of a line over the beads of a choice.
#[derive(Debug, Clone)]
struct OfLine {
    mean: f64,
    spread: f64,
    largest_over_smallest: f64,
    scattered: f64,
}

fn of_choice(choice: &FluxChoice<'_>, beads: &[Vec<f64>]) -> Result<Vec<OfLine>> {
    let theory = choice.theory;
    let places = places_of_elements(theory.setting())?;
    let (mut sensitivities, mut scattered) =
        (vec![Vec::with_capacity(beads.len()); places.len()], vec![0.0; places.len()]);
    for bead in beads {
        theory.check(&ReferenceBead::new(choice.ratio, bead.as_slice())?)?;
        let contents = theory.centre(bead);
        let masses = theory.masses(choice.ratio, &contents);
        let intensities = theory.values(choice.ratio, &contents)?;
        for ((own, &place), intensity) in sensitivities.iter_mut().zip(&places).zip(intensities) {
            own.push(intensity / masses[place]);
        }
        for (sum, share) in scattered.iter_mut().zip(theory.setting().scattered(&masses)?) {
            *sum += share;
        }
    }
    let count = beads.len() as f64;
    let figures = |(own, scattered): (&Vec<f64>, &f64)| {
        let mean = own.iter().sum::<f64>() / count;
        let squares: f64 = own.iter().map(|one| (one - mean) * (one - mean)).sum();
        let largest = own.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        let smallest = own.iter().copied().fold(f64::INFINITY, f64::min);
        OfLine {
            mean,
            spread: (squares / (count - 1.0)).sqrt() / mean,
            largest_over_smallest: largest / smallest,
            scattered: scattered / count,
        }
    };
    Ok(sensitivities.iter().zip(&scattered).map(figures).collect())
}

/// The place of the element of each line.
fn places_of_elements(setting: &Setting) -> Result<Vec<usize>> {
    let mut places = Vec::new();
    for line in setting.lines() {
        let element = LineName::parse(line)?.element();
        places.push(setting.elements().iter().position(|&known| known == element).unwrap_or(0));
    }
    Ok(places)
}

/// Two choices that differ in their flux only.
fn alike(first: &FluxChoice<'_>, choice: &FluxChoice<'_>) -> Result<()> {
    let (one, other) = (first.theory, choice.theory);
    let differ = if one.components() != other.components() {
        "components"
    } else if one.setting().lines() != other.setting().lines() {
        "lines"
    } else if one.setting().provenance() != other.setting().provenance() {
        "instruments, tables or atomic weights"
    } else {
        return Ok(());
    };
    Err(Error::Conflict {
        code: Code::ChoicesDiffer,
        detail: format!("The choices {} and {} have different {differ}.", first.name, choice.name),
        hint: "Hold fluxes against each other with the same instrument, tables, components and lines, in one order."
            .to_owned(),
    })
}
