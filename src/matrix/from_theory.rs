//! Influence coefficients from first principles, and contents from intensities without any.

use crate::code::Code;
use crate::error::{Error, Result, finite};
use crate::matrix::coefficients::{CoefficientSet, Derivation, Influence, Label};
use crate::matrix::conditions::Conditions;
use crate::matrix::theory_bead::{ReferenceBead, given};
use crate::numeric::solve;
use crate::substance::{Formula, Weights};
use crate::xray::{AtomicTables, Gradient, Instrument, Setting, element_fractions};

/// A content that is zero, or below, is computed at this one: the derivative is that of a trace.
const TRACE: f64 = 1e-7;
/// The least content of a pair whose difference from nothing is worth a coefficient.
const LEAST_OF_PAIR: f64 = 1e-5;
/// Contents have settled where a step moves none by more than this share of itself, or by this share of a trace.
const SETTLED: f64 = 1e-10;
/// Coefficients hold for flux ratios so near to that of their bead that the change of F is told by `F/F0`.
const RATIO_RANGE: f64 = 0.1;

/// What is computed from first principles for the beads of one flux: an instrument, the flux, all components that stay in the
/// glass, and the lines that measure some of them.
///
/// Components may be analytes, a heavy absorber (La2O3), what is left of a release agent (LiBr) or of an oxidant (Na2O):
/// whatever stays in the glass for each gram of sample. What leaves never enters.
///
/// ```
/// use beadchem::matrix::{Label, ReferenceBead, Theory};
/// use beadchem::substance::Weights;
/// use beadchem::xray::{Geometry, Instrument, Source, Tube, example_tables};
/// let source = Source::tube(Tube::new("Rh", 50.0, 125.0)?);
/// let instrument = Instrument::new(source, Geometry::new(63.0, 40.0)?);
/// let theory = Theory::new(
///     &example_tables()?,
///     &Weights::ciaaw_2024(),
///     &instrument,
///     &[("Li2B4O7", 35.0), ("LiBO2", 65.0)],
///     &["SiO2", "Fe2O3"],
///     &[("Si Ka", "SiO2"), ("Fe Ka", "Fe2O3")],
/// )?;
/// let bead = ReferenceBead::new(5.0, [0.8, 0.1])?;
/// let set = theory.coefficients(Label::new("sand", "1", "computed today")?, &bead)?;
/// assert!((0.4..0.7).contains(&set.row(0)[1]), "iron absorbs Si Ka");
/// # Ok::<(), beadchem::Error>(())
/// ```
#[derive(Debug, Clone)]
pub struct Theory {
    setting: Setting,
    blend: Vec<(Formula, f64)>,
    components: Vec<Formula>,
    /// Mass of each element in 1 g of flux.
    flux: Vec<f64>,
    /// Mass of each element in 1 g of each component, component by component.
    parts: Vec<f64>,
    /// Name of each line, and the place of its analyte.
    lines: Vec<(String, usize)>,
}

/// Contents found from intensities by first principles.
///
/// ```
/// let found = beadchem::matrix::Inversion { contents: vec![0.8, 0.1], steps: 2, last_change: 1e-12 };
/// assert_eq!(found.steps, 2);
/// ```
#[derive(Debug, Clone, PartialEq)]
pub struct Inversion {
    /// Contents of all components, g per g of sample; those without a line as they were given.
    pub contents: Vec<f64>,
    /// How often coefficients were computed and the system solved.
    pub steps: usize,
    /// The largest relative change that one more step would make, estimated from the last: its square.
    pub last_change: f64,
}

impl Theory {
    /// Prepares all of it.
    ///
    /// # Errors
    /// Those of [`Setting::new`] and [`Conditions::with_blend`]; `species.unknown` where an analyte is no component;
    /// `line.name` where it does not hold the element of its line; `line.doubled`.
    ///
    /// ```
    /// use beadchem::matrix::Theory;
    /// use beadchem::substance::Weights;
    /// use beadchem::xray::{Geometry, Instrument, Source, example_tables};
    /// let instrument = Instrument::new(Source::monochromatic(20.0)?, Geometry::new(63.0, 40.0)?);
    /// let (tables, weights) = (example_tables()?, Weights::ciaaw_2024());
    /// let of = |line| Theory::new(&tables, &weights, &instrument, &[("Li2B4O7", 1.0)], &["SiO2"], &[(line, "SiO2")]);
    /// assert!(of("Si Ka").is_ok() && of("Fe Ka").is_err());
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    pub fn new(
        tables: &dyn AtomicTables,
        weights: &Weights,
        instrument: &Instrument,
        blend: &[(&str, f64)],
        components: &[&str],
        lines: &[(&str, &str)],
    ) -> Result<Self> {
        let blend = Conditions::new(1.0)?.with_blend(blend)?.blend().to_vec();
        if blend.is_empty() {
            return Err(Error::shape("Parts of the flux", 1, 0, "A bead is mostly flux: name its parts by mass."));
        }
        let formulas: Vec<Formula> = components.iter().map(|text| Formula::parse(text)).collect::<Result<_>>()?;
        let substances: Vec<&str> =
            blend.iter().map(|(part, _)| part.text()).chain(components.iter().copied()).collect();
        let names: Vec<&str> = lines.iter().map(|line| line.0).collect();
        let setting = Setting::new(tables, weights, instrument, &substances, &names)?;
        let mut places = Vec::with_capacity(lines.len());
        for &(line, analyte) in lines {
            let place = given::analyte(&formulas, line, analyte)?;
            if let Some((other, _)) = places.iter().find(|(_, held)| *held == place) {
                return Err(Error::Conflict {
                    code: Code::LineDoubled,
                    detail: format!("{other} and {line} both measure {analyte}."),
                    hint: "Take one line for each component; a second one is a theory of its own.".to_owned(),
                });
            }
            places.push((line.to_owned(), place));
        }
        let elements = setting.elements().len();
        let (mut flux, mut parts) = (vec![0.0; elements], vec![0.0; elements * formulas.len()]);
        let add = |formula: &Formula, share: f64, masses: &mut [f64]| -> Result<()> {
            for (element, fraction) in element_fractions(formula, weights)? {
                for (_, mass) in
                    setting.elements().iter().zip(masses.iter_mut()).filter(|(known, _)| **known == element)
                {
                    *mass += share * fraction;
                }
            }
            Ok(())
        };
        for (part, share) in &blend {
            add(part, *share, &mut flux)?;
        }
        for (formula, part) in formulas.iter().zip(parts.chunks_exact_mut(elements)) {
            add(formula, 1.0, part)?;
        }
        Ok(Self { setting, blend, components: formulas, flux, parts, lines: places })
    }

    /// The setting it computes with.
    ///
    /// ```
    /// use beadchem::matrix::Theory;
    /// use beadchem::substance::Weights;
    /// use beadchem::xray::{Geometry, Instrument, Source, example_tables};
    /// let instrument = Instrument::new(Source::monochromatic(20.0)?, Geometry::new(63.0, 40.0)?);
    /// let lines = [("Si Ka", "SiO2")];
    /// let theory =
    ///     Theory::new(&example_tables()?, &Weights::ciaaw_2024(), &instrument, &[("Li2B4O7", 1.0)], &["SiO2"], &lines)?;
    /// assert_eq!(theory.setting().lines(), ["Si Ka"]);
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn setting(&self) -> &Setting {
        &self.setting
    }

    /// The components, in the order of the contents of a bead.
    ///
    /// ```
    /// use beadchem::matrix::Theory;
    /// use beadchem::substance::Weights;
    /// use beadchem::xray::{Geometry, Instrument, Source, example_tables};
    /// let instrument = Instrument::new(Source::monochromatic(20.0)?, Geometry::new(63.0, 40.0)?);
    /// let lines = [("Si Ka", "SiO2")];
    /// let theory =
    ///     Theory::new(&example_tables()?, &Weights::ciaaw_2024(), &instrument, &[("Li2B4O7", 1.0)], &["SiO2"], &lines)?;
    /// assert_eq!(theory.components()[0].text(), "SiO2");
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn components(&self) -> &[Formula] {
        &self.components
    }

    /// Masses of the elements of a bead for each gram of sample, in the order of the elements of the setting.
    pub(super) fn masses(&self, ratio: f64, contents: &[f64]) -> Vec<f64> {
        let mut masses: Vec<f64> = self.flux.iter().map(|mass| mass * ratio).collect();
        for (&content, part) in contents.iter().zip(self.parts.chunks_exact(masses.len())) {
            for (mass, &share) in masses.iter_mut().zip(part) {
                *mass += content * share;
            }
        }
        masses
    }

    /// Masses of the elements of a bead for each gram of sample, in the order of the elements of the setting.
    ///
    /// # Errors
    /// `shape.mismatch` for another number of contents.
    ///
    /// ```
    /// use beadchem::matrix::{ReferenceBead, Theory};
    /// use beadchem::substance::Weights;
    /// use beadchem::xray::{Geometry, Instrument, Source, example_tables};
    /// let instrument = Instrument::new(Source::monochromatic(20.0)?, Geometry::new(63.0, 40.0)?);
    /// let lines = [("Si Ka", "SiO2")];
    /// let theory =
    ///     Theory::new(&example_tables()?, &Weights::ciaaw_2024(), &instrument, &[("Li2B4O7", 1.0)], &["SiO2"], &lines)?;
    /// let masses = theory.masses_of(&ReferenceBead::new(5.0, [1.0])?)?;
    /// assert!((masses.iter().sum::<f64>() - 6.0).abs() < 1e-12);
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    pub fn masses_of(&self, bead: &ReferenceBead) -> Result<Vec<f64>> {
        self.check(bead)?;
        Ok(self.masses(bead.ratio(), bead.contents()))
    }

    /// Intensities of all lines of a thick bead, in their order.
    ///
    /// # Errors
    /// `shape.mismatch` for another number of contents.
    ///
    /// ```
    /// use beadchem::matrix::{ReferenceBead, Theory};
    /// use beadchem::substance::Weights;
    /// use beadchem::xray::{Geometry, Instrument, Source, example_tables};
    /// let instrument = Instrument::new(Source::monochromatic(20.0)?, Geometry::new(63.0, 40.0)?);
    /// let lines = [("Si Ka", "SiO2")];
    /// let theory =
    ///     Theory::new(&example_tables()?, &Weights::ciaaw_2024(), &instrument, &[("Li2B4O7", 1.0)], &["SiO2"], &lines)?;
    /// let [dilute, strong] = [10.0, 5.0].map(|ratio| theory.intensities(&ReferenceBead::new(ratio, [1.0])?));
    /// assert!(dilute?[0] < strong?[0]);
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    pub fn intensities(&self, bead: &ReferenceBead) -> Result<Vec<f64>> {
        self.check(bead)?;
        self.values(bead.ratio(), bead.contents())
    }

    pub(super) fn values(&self, ratio: f64, contents: &[f64]) -> Result<Vec<f64>> {
        let count = self.lines.len();
        let (mut primary, mut secondary) = (vec![0.0; count], vec![0.0; count]);
        let masses = self.masses(ratio, contents);
        self.setting.evaluate(&masses, None, &mut primary, &mut secondary, &mut self.setting.scratch())?;
        Ok(primary.iter().zip(&secondary).map(|(primary, secondary)| primary + secondary).collect())
    }

    pub(super) fn check(&self, bead: &ReferenceBead) -> Result<()> {
        let hint = "Give one content for each component, in their order.";
        let (expected, found) = (self.components.len(), bead.contents().len());
        if expected == found { Ok(()) } else { Err(Error::shape("Contents of a bead", expected, found, hint)) }
    }

    /// Influence coefficients of the loss-free form `w_i = k_i I_i (F/F0 + sum_j a_ij w_j)`, exact to first order at a
    /// reference bead.
    ///
    /// With `G_i = w_i/I_i`, computed at the reference bead w0 for F0, and its derivatives `D_ij = dG_i/dw_j` at constant
    /// flux: `K_i = G_i - sum_j D_ij w0_j`, `a_ij = D_ij/K_i`, and `k_i = K_i`. That the constant is `F0 dG_i/dF`, and so
    /// scales as F/F0, follows from homogeneity: scaling all masses leaves the intensity of a thick bead alone. Derivatives
    /// are exact, by the chain rule. The set holds for flux ratios within 10 % of F0 (an error below 0.01 % in tests), and
    /// for the ranges of contents that the reference bead states.
    ///
    /// # Errors
    /// `analyte.zero` where an analyte is zero in the reference bead; `shape.mismatch`; those of [`CoefficientSet::new`].
    ///
    /// # Source
    /// The form: homogeneity, see above. Coefficients from derivatives: Rousseau (from memory: unconfirmed).
    ///
    /// ```
    /// use beadchem::matrix::{Label, ReferenceBead, Theory};
    /// use beadchem::substance::Weights;
    /// use beadchem::xray::{Geometry, Instrument, Source, example_tables};
    /// let instrument = Instrument::new(Source::monochromatic(20.0)?, Geometry::new(63.0, 40.0)?);
    /// let lines = [("Si Ka", "SiO2")];
    /// let theory =
    ///     Theory::new(&example_tables()?, &Weights::ciaaw_2024(), &instrument, &[("Li2B4O7", 1.0)], &["SiO2"], &lines)?;
    /// let set = theory.coefficients(Label::new("silica", "1", "today")?, &ReferenceBead::new(5.0, [1.0])?)?;
    /// assert!((0.1..0.4).contains(&set.row(0)[0]), "silica absorbs its own line");
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    pub fn coefficients(&self, label: Label, bead: &ReferenceBead) -> Result<CoefficientSet> {
        self.check(bead)?;
        for (line, analyte) in &self.lines {
            self.above_zero(line, *analyte, bead.contents()[*analyte])?;
        }
        let mut gradient = Gradient::new(&self.setting);
        let table = self.linearise(bead.ratio(), bead.contents(), &mut gradient)?;
        let count = self.components.len();
        let rows = self.lines.iter().zip(table.constants.iter().zip(table.coefficients.chunks_exact(count)));
        let influence = |((line, analyte), (&constant, row)): (&(String, usize), (&f64, &[f64]))| {
            Influence::new(line.as_str(), self.components[*analyte].text(), row).with_sensitivity(constant)
        };
        let label = Label::new(
            label.name(),
            label.version(),
            &format!("{}; computed from first principles: {}", label.source(), self.setting.provenance()),
        )?;
        let names = self.components.iter().map(Formula::text);
        CoefficientSet::new(label, Derivation::Centroid, self.conditions(bead)?, names, rows.map(influence))
    }

    fn conditions(&self, bead: &ReferenceBead) -> Result<Conditions> {
        let blend: Vec<(&str, f64)> = self.blend.iter().map(|(part, share)| (part.text(), *share)).collect();
        let ratio = bead.ratio();
        let mut conditions = Conditions::new(ratio)?
            .with_range(ratio * (1.0 - RATIO_RANGE), ratio * (1.0 + RATIO_RANGE))?
            .with_blend(&blend)?
            .with_setup(self.setting.instrument().to_string());
        for (component, &content) in self.components.iter().zip(bead.contents()) {
            conditions = conditions.with_centroid(component.text(), content)?;
        }
        for (component, low, high) in bead.ranges() {
            conditions = conditions.with_content_range(component, *low, *high)?;
        }
        Ok(conditions)
    }

    fn above_zero(&self, line: &str, analyte: usize, content: f64) -> Result<()> {
        if content > 0.0 {
            return Ok(());
        }
        Err(Error::NotPositive {
            code: Code::AnalyteZero,
            quantity: format!("{} of the reference bead, which {line} measures,", self.components[analyte]),
            value: content,
            unit: "g/g",
            bound: "A content over its intensity needs both above zero".to_owned(),
            hint: "give a trace, 1e-6 g/g, where a class has next to none.".to_owned(),
        })
    }

    /// Constants and coefficients of every line at a bead.
    fn linearise(&self, ratio: f64, contents: &[f64], gradient: &mut Gradient) -> Result<Linear> {
        let masses = self.masses(ratio, contents);
        gradient.compute(&self.setting, &masses)?;
        let count = self.components.len();
        let mut linear = Linear { constants: Vec::new(), coefficients: Vec::with_capacity(count * self.lines.len()) };
        for (index, (line, analyte)) in self.lines.iter().enumerate() {
            let (intensity, slopes) = (gradient.intensities()[index], gradient.by_mass(index));
            let ratio = contents[*analyte] / intensity;
            let (first, mut constant) = (linear.coefficients.len(), ratio);
            for (component, part) in self.parts.chunks_exact(masses.len()).enumerate() {
                let slope: f64 = part.iter().zip(slopes).map(|(share, slope)| share * slope).sum();
                let own = if component == *analyte { 1.0 / intensity } else { 0.0 };
                let derivative = own - ratio / intensity * slope;
                constant -= derivative * contents[component];
                linear.coefficients.push(derivative);
            }
            finite(&format!("Sensitivity of {line} at the reference bead"), 1.0 / constant)?;
            for coefficient in &mut linear.coefficients[first..] {
                *coefficient /= constant;
            }
            linear.constants.push(constant);
        }
        Ok(linear)
    }

    /// Contents from intensities in the units of [`intensities`](Self::intensities), by first principles: the linear system
    /// with the coefficients of `start` is solved, coefficients are computed anew at its solution, and so on until contents
    /// settle.
    ///
    /// Each round is a step of Newton's method: from the centre of an ore class two or three reach 1e-9. Components without a
    /// line keep the contents of `start`.
    ///
    /// # Errors
    /// `inversion.not-settled` after `most` steps; `shape.mismatch`; `matrix.singular`; `number.not-finite`.
    ///
    /// ```
    /// use beadchem::matrix::{ReferenceBead, Theory};
    /// use beadchem::substance::Weights;
    /// use beadchem::xray::{Geometry, Instrument, Source, Tube, example_tables};
    /// let instrument = Instrument::new(Source::tube(Tube::new("Rh", 50.0, 125.0)?), Geometry::new(63.0, 40.0)?);
    /// let lines = [("Si Ka", "SiO2"), ("Fe Ka", "Fe2O3")];
    /// let flux = [("Li2B4O7", 1.0)];
    /// let theory =
    ///     Theory::new(&example_tables()?, &Weights::ciaaw_2024(), &instrument, &flux, &["SiO2", "Fe2O3"], &lines)?;
    /// let unknown = theory.intensities(&ReferenceBead::new(5.0, [0.62, 0.27])?)?;
    /// let found = theory.invert(&ReferenceBead::new(5.0, [0.5, 0.4])?, &unknown, 4)?;
    /// assert!((found.contents[1] - 0.27).abs() < 1e-9);
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    pub fn invert(&self, start: &ReferenceBead, intensities: &[f64], most: usize) -> Result<Inversion> {
        self.check(start)?;
        let n = self.lines.len();
        if intensities.len() != n {
            let hint = "Give one intensity for each line, in their order.";
            return Err(Error::shape("Intensities", n, intensities.len(), hint));
        }
        for ((line, _), &intensity) in self.lines.iter().zip(intensities) {
            finite(&format!("Intensity of {line}"), intensity)?;
        }
        let mut contents = start.contents().to_vec();
        let mut gradient = Gradient::new(&self.setting);
        let mut last_change = f64::INFINITY;
        for steps in 1..=most {
            let centre: Vec<f64> = self.centre(&contents);
            let linear = self.linearise(start.ratio(), &centre, &mut gradient)?;
            let found = self.solve_linear(&linear, &contents, intensities)?;
            // what is next to nothing is computed at a trace, wherever it stands: a trace moves no other line
            let moved = self
                .lines
                .iter()
                .zip(&found)
                .map(|((_, analyte), value)| (value.max(TRACE) - centre[*analyte]).abs() / value.abs().max(TRACE));
            let change = moved.fold(0.0, f64::max);
            // a step of Newton's method leaves about the square of what it moved
            last_change = change * change;
            for ((_, analyte), value) in self.lines.iter().zip(found) {
                contents[*analyte] = value;
            }
            if last_change <= SETTLED {
                return Ok(Inversion { contents, steps, last_change });
            }
        }
        Err(Error::Matrix {
            code: Code::InversionNotSettled,
            quantity: "Contents from first principles".to_owned(),
            detail: format!("after {most} {} they still move", if most == 1 { "step" } else { "steps" }),
            figure: "relative change to be expected",
            value: last_change,
            hint: "Allow more steps, start from a bead nearer to the sample, or look for an intensity that belongs to another line."
                .to_owned(),
        })
    }

    /// What an instrument makes of a computed intensity, line by line: measured over computed, the mean over beads of known
    /// contents. One gravimetric bead is enough; more average their certificates and weighings. Measured intensities divided by it
    /// are what [`invert`](Self::invert) takes.
    ///
    /// # Errors
    /// `shape.mismatch` without a bead, or for intensities of another number than the lines; `analyte.zero` for a bead
    /// without the analyte of a line; `number.not-finite`.
    ///
    /// ```
    /// use beadchem::matrix::{ReferenceBead, Theory};
    /// use beadchem::substance::Weights;
    /// use beadchem::xray::{Geometry, Instrument, Source, example_tables};
    /// let instrument = Instrument::new(Source::monochromatic(20.0)?, Geometry::new(63.0, 40.0)?);
    /// let (tables, weights, lines) = (example_tables()?, Weights::ciaaw_2024(), [("Si Ka", "SiO2")]);
    /// let theory = Theory::new(&tables, &weights, &instrument, &[("Li2B4O7", 1.0)], &["SiO2"], &lines)?;
    /// let bead = ReferenceBead::new(5.0, [1.0])?;
    /// let counted: Vec<f64> = theory.intensities(&bead)?.iter().map(|computed| 0.25 * computed).collect();
    /// assert!((theory.scales(&[(bead, counted)])?[0] - 0.25).abs() < 1e-12);
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    pub fn scales(&self, measured: &[(ReferenceBead, Vec<f64>)]) -> Result<Vec<f64>> {
        if measured.is_empty() {
            return Err(Error::shape("Beads of known contents", 1, 0, "A scale needs at least one."));
        }
        let mut scales = vec![0.0; self.lines.len()];
        for (bead, intensities) in measured {
            self.check(bead)?;
            if intensities.len() != scales.len() {
                let hint = "Give one intensity for each line, in their order.";
                return Err(Error::shape("Intensities", scales.len(), intensities.len(), hint));
            }
            for ((line, analyte), &intensity) in self.lines.iter().zip(intensities) {
                self.above_zero(line, *analyte, bead.contents()[*analyte])?;
                let hint = "A bead of known contents shows every line.";
                let bounds = [f64::MIN_POSITIVE, f64::MAX];
                crate::error::within(&format!("Intensity of {line}"), intensity, "", bounds, "above 0", hint)?;
            }
            for ((scale, computed), measured) in scales.iter_mut().zip(self.intensities(bead)?).zip(intensities) {
                *scale += measured / computed;
            }
        }
        for (scale, (line, _)) in scales.iter_mut().zip(&self.lines) {
            *scale /= measured.len() as f64;
            finite(&format!("Scale of {line}"), *scale)?;
        }
        Ok(scales)
    }

    /// The contents a bead is computed at: traces in place of nothing and less.
    pub(super) fn centre(&self, contents: &[f64]) -> Vec<f64> {
        let mut centre = contents.to_vec();
        for (_, analyte) in &self.lines {
            centre[*analyte] = centre[*analyte].max(TRACE);
        }
        centre
    }

    /// The contents of the analytes, with the components that have no line as given.
    fn solve_linear(&self, linear: &Linear, contents: &[f64], intensities: &[f64]) -> Result<Vec<f64>> {
        let (n, count) = (self.lines.len(), self.components.len());
        let (mut matrix, mut right) = (vec![0.0; n * n], vec![0.0; n]);
        let measured = |component: usize| self.lines.iter().position(|(_, analyte)| *analyte == component);
        for (row, coefficients) in linear.coefficients.chunks_exact(count).enumerate() {
            let strength = linear.constants[row] * intensities[row];
            right[row] = strength;
            for (component, &coefficient) in coefficients.iter().enumerate() {
                match measured(component) {
                    Some(column) => matrix[row * n + column] -= strength * coefficient,
                    None => right[row] += strength * coefficient * contents[component],
                }
            }
            matrix[row * n + row] += 1.0;
        }
        solve(&matrix, n, &right)
    }

    /// Lachance and Traill's coefficient from a pair: `alpha = ((1 - x)/R - 1)/x`, with R the intensity of a sample of `1 -
    /// x` analyte and `x` of another component over that of the analyte alone, both with the flux ratio given. The flux is
    /// folded into it.
    ///
    /// # Errors
    /// `line.not-tabulated`; `species.unknown`; `number.out-of-range` unless x lies between 0 and 1; `analyte.zero`.
    ///
    /// # Source
    /// Lachance and Traill 1966 (from memory: unconfirmed).
    ///
    /// ```
    /// use beadchem::matrix::Theory;
    /// use beadchem::substance::Weights;
    /// use beadchem::xray::{Geometry, Instrument, Source, example_tables};
    /// let instrument = Instrument::new(Source::monochromatic(20.0)?, Geometry::new(63.0, 40.0)?);
    /// let (tables, weights, lines) = (example_tables()?, Weights::ciaaw_2024(), [("Fe Ka", "Fe2O3")]);
    /// let theory =
    ///     Theory::new(&tables, &weights, &instrument, &[("Li2B4O7", 1.0)], &["SiO2", "Fe2O3"], &lines)?;
    /// // under 20 keV, sand and iron oxide weaken Fe Ka by much the same
    /// assert!(theory.binary("Fe Ka", "SiO2", 0.5, 5.0)?.abs() < 0.3);
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    pub fn binary(&self, line: &str, component: &str, x: f64, ratio: f64) -> Result<f64> {
        let (index, analyte, other) = self.pair(line, component, x, ratio)?;
        if other == analyte || x == 1.0 {
            return Err(Error::Conflict {
                code: Code::AnalyteZero,
                detail: format!("A pair of {component} at {x} g/g and what {line} measures holds one component only."),
                hint: "Take another component, at less than the whole.".to_owned(),
            });
        }
        let mut contents = vec![0.0; self.components.len()];
        contents[analyte] = 1.0;
        let alone = self.values(ratio, &contents)?[index];
        contents[analyte] = 1.0 - x;
        contents[other] += x;
        let relative = self.values(ratio, &contents)?[index] / alone;
        finite(&format!("Coefficient of {component} on {line}"), ((1.0 - x) / relative - 1.0) / x)
    }

    /// The loss-free coefficient from a pair: `a = (G(x)/G(0) - 1)/x`, with `G = w/I` of a trace of the analyte (of the
    /// analyte itself for its own) beside x of a component, the rest of the sample lost. For comparison with
    /// [`coefficients`](Self::coefficients); where lines excite each other it changes with x.
    ///
    /// # Errors
    /// As [`binary`](Self::binary).
    ///
    /// ```
    /// use beadchem::matrix::Theory;
    /// use beadchem::substance::Weights;
    /// use beadchem::xray::{Geometry, Instrument, Source, example_tables};
    /// let instrument = Instrument::new(Source::monochromatic(20.0)?, Geometry::new(63.0, 40.0)?);
    /// let (tables, weights, lines) = (example_tables()?, Weights::ciaaw_2024(), [("Fe Ka", "Fe2O3")]);
    /// let theory =
    ///     Theory::new(&tables, &weights, &instrument, &[("Li2B4O7", 1.0)], &["SiO2", "Fe2O3"], &lines)?;
    /// // a_ij = (M_j / M_flux) / F where one energy excites and nothing is enhanced
    /// assert!((0.4..1.2).contains(&theory.binary_loss_free("Fe Ka", "SiO2", 0.5, 5.0)?));
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    pub fn binary_loss_free(&self, line: &str, component: &str, x: f64, ratio: f64) -> Result<f64> {
        let (index, analyte, other) = self.pair(line, component, x, ratio)?;
        let mut contents = vec![0.0; self.components.len()];
        contents[analyte] = TRACE;
        let trace = TRACE / self.values(ratio, &contents)?[index];
        let amount = if other == analyte { x } else { TRACE };
        contents[other] = x;
        let found = amount / self.values(ratio, &contents)?[index];
        finite(&format!("Coefficient of {component} on {line}"), (found / trace - 1.0) / x)
    }

    fn pair(&self, line: &str, component: &str, x: f64, ratio: f64) -> Result<(usize, usize, usize)> {
        let hint =
            "It is the content of the influencing component in the pair; a difference of less is lost in rounding.";
        crate::error::within("Content of a pair", x, "g/g", [LEAST_OF_PAIR, 1.0], "1e-5 to 1 g/g", hint)?;
        ReferenceBead::new(ratio, [])?;
        let index = given::line(&self.lines, line)?;
        Ok((index, self.lines[index].1, given::component(&self.components, component)?))
    }
}

/// Constants `K_i` and coefficients `a_ij`, line by line.
struct Linear {
    constants: Vec<f64>,
    coefficients: Vec<f64>,
}
