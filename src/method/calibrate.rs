//! Sensitivities from standards: least squares with uncertainty on both axes, all that calibration and unknown share kept.

use crate::charge::standard::{FitColumn, StandardBead};
use crate::charge::{Charge, FluxLot, Sample};
use crate::code::Code;
use crate::composition::{Basis, Composition, Unit};
use crate::error::{Error, Result};
use crate::finding::Finding;
use crate::matrix::calibration::{coefficient_name, offset_name, sensitivity_name};
use crate::matrix::{Calibration, CoefficientSet, DeadTime, InfluenceLine, Label, LineName, LineReading};
use crate::method::calibrated::{Calibrated, LineFit, Residual};
use crate::method::parameters::{Parameter, Parameters};
use crate::method::scatter::Scatter;
use crate::method::{InternalStandard, Measurement, Method, Overlap, Standard};
use crate::numeric::errors_in_variables;
use crate::substance::{Formula, Weights};
use crate::uncertainty::Estimate;

/// What is to be fitted to standards, with what is given.
///
/// For each line `w_i + brought = k_i (I_i - I_0) (F/F0 + sum a_ij w_j)` over all standards that measured it: k is fitted
/// through the origin; an offset and single influence coefficients are fitted with it where they are asked for.
///
/// ```
/// use beadchem::method::{Method, StandardFit};
/// let fit = StandardFit::new(Method::template()?.coefficients()[0].clone())?.offset("Mg Ka")?;
/// # Ok::<(), beadchem::Error>(())
/// ```
#[derive(Debug, Clone)]
pub struct StandardFit {
    /// Every sensitivity one: what the fit multiplies.
    method: Method,
    offsets: Vec<LineName>,
    fitted: Vec<(LineName, Formula)>,
    /// Sensitivities that are not fitted.
    given: Vec<(String, Estimate)>,
}

impl StandardFit {
    /// A fit of one sensitivity for each line of a coefficient set.
    ///
    /// # Errors
    /// None for a set that could be made; kept fallible for the constructors.
    ///
    /// ```
    /// use beadchem::method::{Method, StandardFit};
    /// assert!(StandardFit::new(Method::template()?.coefficients()[0].clone()).is_ok());
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    pub fn new(coefficients: CoefficientSet) -> Result<Self> {
        let label = || Label::new("fit", "0", "before calibration");
        let basis = crate::composition::Basis::Dried;
        let mut unit = Calibration::new(label()?, basis);
        for line in coefficients.lines() {
            unit = unit.sensitivity(&line.line, Estimate::exact(1.0)?)?;
        }
        let method = Method::new(label()?, coefficients, unit)?;
        Ok(Self { method, offsets: Vec::new(), fitted: Vec::new(), given: Vec::new() })
    }

    /// With the coefficients of another class, for standards that name it.
    ///
    /// # Errors
    /// Those of [`Method::class`].
    ///
    /// ```
    /// # use beadchem::method::{Method, StandardFit};
    /// let set = Method::template()?.coefficients()[0].clone();
    /// assert!(StandardFit::new(set.clone())?.class(set).is_err()); // the same name twice
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    pub fn class(mut self, coefficients: CoefficientSet) -> Result<Self> {
        self.method = self.method.class(coefficients)?;
        Ok(self)
    }

    /// With an overlap.
    ///
    /// # Errors
    /// Those of [`Method::overlap`].
    ///
    /// ```
    /// # use beadchem::method::{Method, Overlap, StandardFit};
    /// let fit = StandardFit::new(Method::template()?.coefficients()[0].clone())?;
    /// assert!(fit.overlap(Overlap::new("Mg Ka", "Br Ka", 0.001)?).is_ok());
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    pub fn overlap(mut self, overlap: Overlap) -> Result<Self> {
        self.method = self.method.overlap(overlap)?;
        Ok(self)
    }

    /// With the dead time of the counter.
    ///
    /// ```
    /// # use beadchem::{matrix::DeadTime, method::{Method, StandardFit}};
    /// let fit = StandardFit::new(Method::template()?.coefficients()[0].clone())?.dead_time(DeadTime::new(2e-7)?);
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn dead_time(mut self, dead_time: DeadTime) -> Self {
        self.method = self.method.dead_time(dead_time);
        self
    }

    /// With an internal standard; its own sensitivity is one, and those of the lines that follow it are relative to it.
    ///
    /// # Errors
    /// Those of [`Method::internal_standard`].
    ///
    /// ```
    /// # use beadchem::method::{InternalStandard, Method, StandardFit};
    /// let fit = StandardFit::new(Method::template()?.coefficients()[0].clone())?;
    /// assert!(fit.internal_standard(InternalStandard::new("Co Ka", "CoO", ["Ca Ka"])?).is_err()); // no such component
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    pub fn internal_standard(mut self, standard: InternalStandard) -> Result<Self> {
        self.method = self.method.internal_standard(standard)?;
        self.refuse_product()?;
        Ok(self)
    }

    /// With the sensitivity of a line that no standard needs to measure: of a release agent's line, or from elsewhere.
    ///
    /// # Errors
    /// `line.name` for a line that the set has not; `sensitivity.not-positive`.
    ///
    /// ```
    /// # use beadchem::{method::{Method, StandardFit}, uncertainty::Estimate};
    /// let fit = StandardFit::new(Method::template()?.coefficients()[0].clone())?;
    /// assert!(fit.given("Mg Ka", Estimate::new(1.1e-4, 1e-7)?).is_ok());
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    pub fn given(mut self, line: &str, sensitivity: impl Into<Estimate>) -> Result<Self> {
        self.method.coefficients()[0].line_index(line)?;
        let sensitivity = sensitivity.into();
        // refused here as a calibration refuses it
        let label = self.method.label().clone();
        Calibration::new(label, Basis::Dried).sensitivity(line, sensitivity.clone())?;
        self.given.push((line.to_owned(), sensitivity));
        Ok(self)
    }

    /// With an offset `I_0` fitted for a line.
    ///
    /// # Errors
    /// `line.unknown` for a line that the set has not; `fit.product` where a coefficient of that line is fitted too.
    ///
    /// ```
    /// # use beadchem::method::{Method, StandardFit};
    /// let fit = StandardFit::new(Method::template()?.coefficients()[0].clone())?;
    /// assert!(fit.offset("Zn Ka").is_err());
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    pub fn offset(mut self, line: &str) -> Result<Self> {
        self.method.coefficients()[0].line_index(line)?;
        self.offsets.push(LineName::parse(line)?);
        self.refuse_product()?;
        Ok(self)
    }

    /// With an influence coefficient fitted in place of the set's.
    ///
    /// # Errors
    /// `line.unknown`, `species.unknown`; `fit.product` where an offset of that line is fitted too.
    ///
    /// ```
    /// # use beadchem::method::{Method, StandardFit};
    /// let fit = StandardFit::new(Method::template()?.coefficients()[0].clone())?.coefficient("Ca Ka", "MgO")?;
    /// assert_eq!(fit.offset("Ca Ka").unwrap_err().code().word(), "fit.product");
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    pub fn coefficient(mut self, line: &str, component: &str) -> Result<Self> {
        let set = &self.method.coefficients()[0];
        set.line_index(line)?;
        let component = set.components()[set.component_index(component)?].clone();
        self.fitted.push((LineName::parse(line)?, component));
        self.refuse_product()?;
        Ok(self)
    }

    fn refuse_product(&self) -> Result<()> {
        let internal = self.method.standard().map(|standard| standard.line());
        let fitted = self.offsets.iter().chain(self.fitted.iter().map(|(line, _)| line));
        if let Some(line) = fitted.into_iter().find(|line| internal == Some(*line)) {
            return Err(Error::Conflict {
                code: Code::FitProduct,
                detail: format!("{line} is the line of the internal standard: nothing is fitted on it."),
                hint: "Fit the lines that follow it.".to_owned(),
            });
        }
        match self.offsets.iter().find(|line| self.fitted.iter().any(|(fitted, _)| fitted == *line)) {
            None => Ok(()),
            Some(line) => Err(Error::Conflict {
                code: Code::FitProduct,
                detail: format!(
                    "{line} was asked for an offset and for a coefficient: their product is no linear fit."
                ),
                hint: "Fit one of the two; take the background off, or give the coefficient.".to_owned(),
            }),
        }
    }

    /// The columns of a line.
    fn columns(&self, line: &str) -> Result<Vec<FitColumn>> {
        let set = &self.method.coefficients()[0];
        let mut columns = vec![FitColumn::Sensitivity];
        for (_, component) in self.fitted.iter().filter(|(fitted, _)| fitted.as_str() == line) {
            columns.push(FitColumn::Component(set.component_index(component.text())?));
        }
        if self.offsets.iter().any(|offset| offset.as_str() == line) {
            columns.push(FitColumn::Offset);
        }
        Ok(columns)
    }

    /// What a standard says of each line.
    fn bead(&self, standard: &Standard, findings: &mut Vec<Finding>) -> Result<StandardBead> {
        let mut asked = self.method.ask(&standard.melt, &standard.measurement)?;
        findings.extend(asked.set.check_conditions(
            standard.melt.fused_flux_ratio().value(),
            standard.melt.charge().flux().lot().blend(),
            standard.name(),
        )?);
        findings.append(&mut asked.findings);
        let mut columns = Vec::new();
        for row in &mut asked.order.rows {
            let line = asked.order.lines[row.line].reading.line().as_str();
            let own = self.columns(line)?;
            for column in &own {
                if let FitColumn::Component(component) = column {
                    row.coefficients[*component] = 0.0;
                    row.uncertain.retain(|(held, _)| held != component);
                }
            }
            columns.push(own);
        }
        asked.order.standard_bead = true;
        for (component, content) in standard.known(asked.set, findings)? {
            let name = format!("{} in the standard", asked.set.components()[component]);
            let content = (name, content);
            asked.order.declared.push(crate::matrix::order::DeclaredSpec { component, content });
        }
        standard.melt.standard(asked.order, &columns)
    }

    /// Fits all lines to the standards.
    ///
    /// Each line is a least-squares fit with uncertainty on both axes over what belongs to one standard alone (weighings,
    /// contents, counts); what standards and unknowns share (flux loss, balance, purity, blanks, dead time, overlaps, monitors,
    /// atomic weights) does not weigh and is propagated through the fit by its name, so that it cancels where it must.
    ///
    /// # Errors
    /// `fit.too-few-points` for a line with fewer standards than parameters; `matrix.singular` where standards cannot tell
    /// parameters apart; `sensitivity.not-positive`; `standard.doubled` for two of one name; those of the standards' charges.
    ///
    /// # Source
    /// The fit: D. York et al., Am. J. Phys. 72 (2004) 367, with several columns. The covariance: JCGM 100:2008, 5.2, through
    /// the estimating equations.
    ///
    /// ```
    /// use beadchem::{charge::{Charge, FluxLot, Sample}, composition::{Basis, Composition}, matrix::{Label, LineReading}};
    /// use beadchem::{method::{Measurement, Method, Standard, StandardFit}, substance::Weights, uncertainty::Estimate};
    /// let value = |value, u| Estimate::new(value, u);
    /// let lot = FluxLot::new("F-1", [("Li2B4O7", 0.5), ("LiBO2", 0.5)], "1050 C, 18 min", value(0.004, 0.0003)?)?;
    /// let charge = Charge::new(Sample::dried(value(0.8, 0.0001)?)?, lot.weigh_g(value(8.0, 0.0001)?)?)?;
    /// let melt = charge.fuse_with_loss(&Weights::ciaaw_2024(), value(0.44, 0.001)?)?;
    /// let contents = [("CaO", 0.31), ("MgO", 0.21), ("SiO2", 0.01)];
    /// let known = contents.into_iter().try_fold(Composition::new(Basis::Dried), |known, (oxide, content)| {
    ///     known.with(oxide, value(content, 0.001 * content)?)
    /// })?;
    /// let counts = [("Ca Ka", 13_777.0), ("Mg Ka", 1_782.0), ("Si Ka", 348.0)];
    /// let measured = counts.into_iter().try_fold(Measurement::new("S-1"), |bead, (line, cps)| {
    ///     bead.reading(LineReading::net(line, value(cps, 0.001 * cps)?)?)
    /// })?;
    /// let fit = StandardFit::new(Method::template()?.coefficients()[0].clone())?;
    /// let calibrated = fit.calibrate(Label::new("cal", "1", "one dolomite bead")?, &[Standard::new(melt, known, measured)?])?;
    /// let sensitivity = &calibrated.lines()[0].sensitivity;
    /// assert!((sensitivity.value() - 2.1e-5).abs() < 1e-9 && sensitivity.u().is_some());
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    pub fn calibrate(&self, label: Label, standards: &[Standard]) -> Result<Calibrated> {
        let Some(first) = standards.first() else {
            return Err(Error::shape("Standards", 1, 0, "A calibration needs at least one bead of known contents."));
        };
        let basis = first.melt.charge().sample().basis();
        let mut findings = Vec::new();
        let mut beads = Vec::with_capacity(standards.len());
        for (place, standard) in standards.iter().enumerate() {
            if standards[..place].iter().any(|held| held.name() == standard.name()) {
                return Err(Error::Conflict {
                    code: Code::StandardDoubled,
                    detail: format!("Two standards are named {}.", standard.name()),
                    hint: "Beads of one material are named apart, S-1a and S-1b.".to_owned(),
                });
            }
            let weighed = standard.melt.charge().sample().basis();
            if weighed != basis {
                return Err(Error::Conflict {
                    code: Code::BasisMismatch,
                    detail: format!("Standard {} was weighed {weighed}, {} {basis}.", standard.name(), first.name()),
                    hint: "A calibration stands on one basis of weighing.".to_owned(),
                });
            }
            beads.push(self.bead(standard, &mut findings)?);
        }
        let mut parameters = Parameters::new();
        for (standard, bead) in standards.iter().zip(&beads) {
            parameters.add(standard.name(), bead.propagated.inputs())?;
        }
        let mut calibrated = Calibrated::new(Calibration::new(label, basis), self.method.clone());
        let mut given = self.given.clone();
        if let Some(standard) = self.method.standard() {
            given.push((standard.line().as_str().to_owned(), Estimate::exact(1.0)?));
        }
        let mut list: Vec<Parameter> = Vec::new();
        let fitted = |line: &&InfluenceLine| given.iter().all(|(held, _)| *held != line.line);
        for line in self.method.coefficients()[0].lines().iter().filter(fitted) {
            let (fit, own) = self.line(&line.line, standards, &beads, &parameters)?;
            list.extend(own);
            calibrated.push(fit);
        }
        let described = parameters.describe(&list)?;
        calibrated.finish(&given, &list, &described, findings)
    }

    fn line(
        &self,
        line: &str,
        standards: &[Standard],
        beads: &[StandardBead],
        parameters: &Parameters,
    ) -> Result<(LineFit, Vec<Parameter>)> {
        let set = &self.method.coefficients()[0];
        let columns = self.columns(line)?;
        let analyte = set.components()[set.lines()[set.line_index(line)?].analyte].text().to_owned();
        // standards that measured the line
        let points: Vec<(usize, usize)> = beads
            .iter()
            .enumerate()
            .filter_map(|(standard, bead)| Some((standard, bead.lines.iter().position(|held| held == line)?)))
            .collect();
        if points.len() < columns.len() {
            return Err(Error::Shape {
                code: Code::FitTooFewPoints,
                quantity: format!("Standards that measured {line}"),
                expected: columns.len(),
                found: points.len(),
                hint: format!(
                    "Measure {analyte} in more standards, fit fewer parameters, or give the sensitivity of {line}."
                ),
            });
        }
        let data = columns.len() + 1;
        let (mut y, mut design, mut covariances) = (Vec::new(), Vec::new(), Vec::new());
        for &(standard, row) in &points {
            let bead = &beads[standard];
            let start = bead.start(row);
            y.push(bead.propagated.value(start));
            design.extend((1..data).map(|datum| bead.propagated.value(start + datum)));
            covariances.extend(parameters.local_covariance(&bead.propagated, start, data));
        }
        let unstated = points.iter().any(|&(standard, row)| {
            let bead = &beads[standard];
            (0..data).any(|datum| !bead.propagated.unstated(bead.start(row) + datum).is_empty())
        });
        let unweighted = unstated || covariances.iter().all(|entry| *entry == 0.0);
        if unweighted {
            // contents are taken as equally uncertain in proportion, traces as a hundredth of the largest
            let largest = y.iter().fold(0.0_f64, |largest, content| largest.max(content.abs()));
            let least = Unit::Percent.fraction(1.0) * largest;
            covariances.fill(0.0);
            for (point, content) in y.iter().enumerate() {
                covariances[point * data * data] = content.abs().max(least).powi(2);
            }
        }
        let fit = errors_in_variables(&y, &design, columns.len(), &covariances)?;
        let k = fit.coefficients[0];
        if k <= 0.0 {
            return Err(Error::NotPositive {
                code: Code::SensitivityNotPositive,
                quantity: format!("Sensitivity of {line} from {} standards", points.len()),
                value: k,
                unit: "g/g per cps",
                bound: "More analyte gives more counts, so it must be above zero".to_owned(),
                hint: "are the readings those of these standards?".to_owned(),
            });
        }
        // how far each fitted coefficient moves with each input of all standards
        let mut moves = vec![parameters.nothing(); columns.len()];
        for (coefficient, moves) in moves.iter_mut().enumerate() {
            for (point, &(standard, row)) in points.iter().enumerate() {
                let bead = &beads[standard];
                for datum in 0..data {
                    let slope = fit.derivative(coefficient, point, datum);
                    parameters.add_moves(moves, standard, &bead.propagated, bead.start(row) + datum, slope);
                }
            }
        }
        let scatter = if unweighted {
            None
        } else {
            let (mut residual_moves, mut if_own) = (Vec::with_capacity(points.len()), Vec::new());
            let slopes: Vec<f64> = std::iter::once(1.0).chain(fit.coefficients.iter().map(|held| -held)).collect();
            for (point, &(standard, row)) in points.iter().enumerate() {
                let bead = &beads[standard];
                let start = bead.start(row);
                let mut moved = parameters.nothing();
                for (datum, slope) in slopes.iter().enumerate() {
                    parameters.add_moves(&mut moved, standard, &bead.propagated, start + datum, *slope);
                }
                for (place, of_coefficient) in moves.iter().enumerate() {
                    let column = design[point * columns.len() + place];
                    moved.iter_mut().zip(of_coefficient).for_each(|(moved, part)| *moved -= column * part);
                }
                residual_moves.push(moved);
                if_own.push(parameters.variance_if_own(&bead.propagated, start, &slopes));
            }
            let covariance = parameters.covariance(&residual_moves);
            Some(Scatter::new(&fit, &design, covariance, &if_own)?)
        };
        let mut own = vec![Parameter { name: sensitivity_name(line), value: k, moves: moves[0].clone() }];
        let ratio = |place: usize| {
            let value = fit.coefficients[place] / k;
            let moved = moves[place].iter().zip(&moves[0]).map(|(part, of_k)| (part - value * of_k) / k).collect();
            (value, moved)
        };
        for (place, column) in columns.iter().enumerate() {
            let name = match column {
                FitColumn::Sensitivity => continue,
                FitColumn::Component(component) => coefficient_name(set.components()[*component].text(), line),
                FitColumn::Offset => offset_name(line),
            };
            let (value, moves) = ratio(place);
            own.push(Parameter { name, value, moves });
        }
        let residuals = points.iter().enumerate().map(|(point, &(standard, row))| Residual {
            standard: standards[standard].name().to_owned(),
            material: standards[standard].material().to_owned(),
            content: y[point],
            residual: fit.residuals[point],
            u: scatter.as_ref().map(|scatter| scatter.u[point]),
            leverage: fit.leverage[point],
            glass_content: beads[standard].glass_content(row),
        });
        Ok((
            LineFit {
                line: line.to_owned(),
                analyte,
                sensitivity: Estimate::unstated(k)?,
                coefficients: columns.len(),
                residuals: residuals.collect(),
                chi_squared: scatter.as_ref().and_then(|scatter| scatter.chi_squared),
                dof: fit.dof,
                weighted: !unweighted,
                stated: !unstated,
            },
            own,
        ))
    }
}

/// What is fitted, as "carbonate rock 1: k of 3 lines, offset of Mg Ka, CaO on Si Ka".
impl core::fmt::Display for StandardFit {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        let set = &self.method.coefficients()[0];
        write!(f, "{} {}: k of {} lines", set.label().name(), set.label().version(), set.lines().len())?;
        self.offsets.iter().try_for_each(|line| write!(f, ", offset of {line}"))?;
        self.fitted.iter().try_for_each(|(line, component)| write!(f, ", {component} on {line}"))
    }
}

/// The calibration that the examples of this module look at: three dolomite beads measured by the coefficients of
/// [`TEMPLATE`](crate::method::TEMPLATE), all numbers invented.
///
/// # Errors
/// None; kept fallible for the constructors.
///
/// ```
/// assert_eq!(beadchem::method::example_calibration()?.lines().len(), 3);
/// # Ok::<(), beadchem::Error>(())
/// ```
pub fn example_calibration() -> Result<Calibrated> {
    let value = |value: f64, relative: f64| Estimate::new(value, value * relative);
    let blend = [("Li2B4O7", 0.5), ("LiBO2", 0.5)];
    let lot = FluxLot::new("F-1", blend, "1050 C, 18 min", value(0.004, 0.08)?)?;
    let (lines, analytes) = (["Ca Ka", "Mg Ka", "Si Ka"], ["CaO", "MgO", "SiO2"]);
    let beads = [
        ("S-1", [0.310, 0.210, 0.010], [13_773.0, 1_784.0, 348.3]),
        ("S-2", [0.450, 0.080, 0.020], [19_905.0, 670.7, 705.5]),
        ("S-3", [0.280, 0.215, 0.120], [12_265.0, 1_803.5, 4_134.0]),
    ];
    let mut standards = Vec::new();
    for (name, contents, counts) in beads {
        let charge = Charge::new(Sample::dried(value(0.8, 1e-4)?)?, lot.weigh_g(value(8.0, 1e-5)?)?)?;
        let melt = charge.fuse_with_loss(&Weights::ciaaw_2024(), value(0.45, 1e-3)?)?;
        let mut known = Composition::new(Basis::Dried);
        let mut measurement = Measurement::new(name);
        for ((analyte, content), (line, cps)) in analytes.into_iter().zip(contents).zip(lines.into_iter().zip(counts)) {
            known = known.with(analyte, value(content, 2e-3)?)?;
            measurement = measurement.reading(LineReading::net(line, value(cps, 1e-3)?)?)?;
        }
        standards.push(Standard::new(melt, known, measurement)?.of_material("dolomite"));
    }
    let coefficients = Method::template()?.coefficients()[0].clone();
    StandardFit::new(coefficients)?.calibrate(Label::new("dolomite calibration", "1", "invented")?, &standards)
}
