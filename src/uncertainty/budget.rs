//! Where the uncertainty of one output comes from, and what would change it.

use crate::code::Code;
use crate::error::{Error, Result};
use crate::table::{Cell, Column, Table};
use crate::uncertainty::Propagated;
use crate::uncertainty::spread::Part;

/// One row of a budget.
///
/// ```
/// # use beadchem::{scalar::Scalar, uncertainty::*};
/// # struct Twice;
/// # impl Model for Twice {
/// #     fn outputs(&self) -> usize { 1 }
/// #     fn evaluate<S: Scalar>(&self, x: &[S], y: &mut [S], _: &mut [S]) { y[0] = x[0] * 2.0; }
/// # }
/// let mut inputs = Inputs::new();
/// inputs.push("flux mass", Estimate::new(8.0, 0.0001)?)?;
/// let budget = propagate(&Twice, &inputs)?.budget(0);
/// assert_eq!((budget.rows()[0].name.as_str(), budget.rows()[0].contribution), ("flux mass", 0.0002));
/// # Ok::<(), beadchem::Error>(())
/// ```
#[derive(Debug, Clone, PartialEq)]
pub struct BudgetRow {
    /// The input or shared cause.
    pub name: String,
    /// True for a cause shared by several inputs.
    pub shared: bool,
    /// Value of the input; nothing for a shared cause.
    pub value: Option<f64>,
    /// Standard uncertainty of the input's own part; 1 for a shared cause, whose unit is its own standard uncertainty.
    pub u: f64,
    /// How far the output moves when the input (or cause) moves by its standard uncertainty, signed.
    pub contribution: f64,
    /// The square of the contribution as a share of the variance of the output.
    pub share: f64,
}

/// The ranked parts of the uncertainty of one output.
///
/// ```
/// # use beadchem::{scalar::Scalar, uncertainty::*};
/// # struct Sum;
/// # impl Model for Sum {
/// #     fn outputs(&self) -> usize { 1 }
/// #     fn evaluate<S: Scalar>(&self, x: &[S], y: &mut [S], _: &mut [S]) { y[0] = x[0] + x[1]; }
/// # }
/// let mut inputs = Inputs::new();
/// inputs.push("small", Estimate::new(1.0, 3.0)?)?;
/// inputs.push("large", Estimate::new(1.0, 4.0)?)?;
/// let budget = propagate(&Sum, &inputs)?.budget(0);
/// assert_eq!(budget.rows()[0].name, "large");
/// assert!((budget.if_halved("large")? - 13f64.sqrt()).abs() < 1e-12);
/// # Ok::<(), beadchem::Error>(())
/// ```
#[derive(Debug, Clone, PartialEq)]
pub struct Budget {
    value: f64,
    u: f64,
    rows: Vec<BudgetRow>,
    from_correlations: f64,
    unstated: Vec<String>,
    /// Variance without the named part, and what halving leaves of its correlations: (name, variance if halved).
    halved: Vec<(String, f64)>,
}

impl Budget {
    pub(crate) fn of(propagated: &Propagated, output: usize) -> Self {
        let contributions = propagated.row(output);
        let variance = propagated.covariance(output, output);
        let causes: Vec<&str> = propagated.inputs().causes();
        let mut rows = Vec::new();
        let mut halved = Vec::new();
        let mut row = contributions.to_vec();
        for (index, part) in propagated.parts().iter().enumerate() {
            let Some(&contribution) = contributions.get(index) else { break };
            let (name, value, u, shared) = match *part {
                Part::Own(i) => match propagated.inputs().get(i) {
                    Some(input) => (input.name.clone(), Some(input.estimate.value()), input.estimate.own_u(), false),
                    None => continue,
                },
                Part::Cause(c) => (causes[c].to_owned(), None, 1.0, true),
            };
            row[index] = contribution / 2.0;
            let plain: f64 = row.iter().map(|c| c * c).sum();
            halved.push((name.clone(), plain + propagated.added_by_correlations(&row)));
            row[index] = contribution;
            let share = if variance > 0.0 { contribution * contribution / variance } else { 0.0 };
            rows.push(BudgetRow { name, shared, value, u, contribution, share });
        }
        // what rounding leaves of a derivative that is zero is no part
        const ROUNDING: f64 = 1e-12;
        let u = propagated.u(output);
        let noise = if u.is_finite() { ROUNDING * u } else { 0.0 };
        rows.retain(|row| row.contribution.abs() > noise);
        rows.sort_by(|a, b| b.contribution.abs().total_cmp(&a.contribution.abs()));
        Self {
            value: propagated.value(output),
            u,
            rows,
            from_correlations: propagated.added_by_correlations(contributions),
            unstated: propagated.unstated(output).into_iter().map(str::to_owned).collect(),
            halved,
        }
    }

    /// The value the budget belongs to.
    ///
    /// ```
    /// # use beadchem::{scalar::Scalar, uncertainty::*};
    /// # struct Twice;
    /// # impl Model for Twice {
    /// #     fn outputs(&self) -> usize { 1 }
    /// #     fn evaluate<S: Scalar>(&self, x: &[S], y: &mut [S], _: &mut [S]) { y[0] = x[0] * 2.0; }
    /// # }
    /// # let mut inputs = Inputs::new();
    /// # inputs.push("a", Estimate::new(1.0, 0.5)?)?;
    /// assert_eq!(propagate(&Twice, &inputs)?.budget(0).value(), 2.0);
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn value(&self) -> f64 {
        self.value
    }

    /// Its standard uncertainty; "at least" where [`unstated`](Self::unstated) names anything.
    ///
    /// ```
    /// # use beadchem::{scalar::Scalar, uncertainty::*};
    /// # struct Twice;
    /// # impl Model for Twice {
    /// #     fn outputs(&self) -> usize { 1 }
    /// #     fn evaluate<S: Scalar>(&self, x: &[S], y: &mut [S], _: &mut [S]) { y[0] = x[0] * 2.0; }
    /// # }
    /// # let mut inputs = Inputs::new();
    /// # inputs.push("a", Estimate::new(1.0, 0.5)?)?;
    /// assert_eq!(propagate(&Twice, &inputs)?.budget(0).u(), 1.0);
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn u(&self) -> f64 {
        self.u
    }

    /// The rows, largest contribution first; parts that do not move the output are left out.
    ///
    /// ```
    /// # use beadchem::{scalar::Scalar, uncertainty::*};
    /// # struct Twice;
    /// # impl Model for Twice {
    /// #     fn outputs(&self) -> usize { 1 }
    /// #     fn evaluate<S: Scalar>(&self, x: &[S], y: &mut [S], _: &mut [S]) { y[0] = x[0] * 2.0; }
    /// # }
    /// # let mut inputs = Inputs::new();
    /// # inputs.push("a", Estimate::new(1.0, 0.5)?)?;
    /// assert_eq!(propagate(&Twice, &inputs)?.budget(0).rows().len(), 1);
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn rows(&self) -> &[BudgetRow] {
        &self.rows
    }

    /// What stated correlation coefficients add to the variance (may be negative).
    ///
    /// ```
    /// # use beadchem::{scalar::Scalar, uncertainty::*};
    /// # struct Twice;
    /// # impl Model for Twice {
    /// #     fn outputs(&self) -> usize { 1 }
    /// #     fn evaluate<S: Scalar>(&self, x: &[S], y: &mut [S], _: &mut [S]) { y[0] = x[0] * 2.0; }
    /// # }
    /// # let mut inputs = Inputs::new();
    /// # inputs.push("a", Estimate::new(1.0, 0.5)?)?;
    /// assert_eq!(propagate(&Twice, &inputs)?.budget(0).from_correlations(), 0.0);
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn from_correlations(&self) -> f64 {
        self.from_correlations
    }

    /// The inputs without a stated uncertainty that move this output.
    ///
    /// ```
    /// # use beadchem::{scalar::Scalar, uncertainty::*};
    /// # struct Twice;
    /// # impl Model for Twice {
    /// #     fn outputs(&self) -> usize { 1 }
    /// #     fn evaluate<S: Scalar>(&self, x: &[S], y: &mut [S], _: &mut [S]) { y[0] = x[0] * 2.0; }
    /// # }
    /// let mut inputs = Inputs::new();
    /// inputs.push("moisture", 0.012)?;
    /// assert_eq!(propagate(&Twice, &inputs)?.budget(0).unstated(), ["moisture"]);
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn unstated(&self) -> &[String] {
        &self.unstated
    }

    /// The rows as a table, contributions in a unit of so many per unit of the output.
    ///
    /// ```
    /// # use beadchem::{scalar::Scalar, uncertainty::*};
    /// # struct Twice;
    /// # impl Model for Twice {
    /// #     fn outputs(&self) -> usize { 1 }
    /// #     fn evaluate<S: Scalar>(&self, x: &[S], y: &mut [S], _: &mut [S]) { y[0] = x[0] * 2.0; }
    /// # }
    /// # let mut inputs = Inputs::new();
    /// # inputs.push("a", Estimate::new(1.0, 0.5)?)?;
    /// assert!(propagate(&Twice, &inputs)?.budget(0).table("Budget", "g", 1.0).to_string().contains("share"));
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn table(&self, title: &str, unit: &str, per_one: f64) -> Table {
        const DIGITS: u8 = 2;
        // Parts that together move u by less than its second digit shows are one line.
        const SMALL: f64 = 0.001;
        let shown = self.rows.iter().position(|row| row.share < SMALL).unwrap_or(self.rows.len());
        let (large, small) = self.rows.split_at(shown);
        let line = |name: String, contribution: f64, share: f64| {
            [Cell::text(name), Cell::significant(contribution * per_one, DIGITS), Cell::share(share)]
        };
        let rows = large.iter().map(|row| {
            let name = if row.shared { format!("{} (shared)", row.name) } else { row.name.clone() };
            line(name, row.contribution, row.share)
        });
        let rest = (!small.is_empty()).then(|| {
            let square: f64 = small.iter().map(|row| row.contribution * row.contribution).sum();
            let share = small.iter().map(|row| row.share).sum();
            let word = if small.len() == 1 {
                "1 smaller part".to_owned()
            } else {
                format!("{} smaller parts together", small.len())
            };
            line(word, square.sqrt(), share)
        });
        let (text, u) = crate::table::format_value(self.value * per_one, self.u * per_one);
        let least = if self.unstated.is_empty() { "" } else { "at least " };
        let mut table = Table::new(title)
            .head(format!("{text} {unit}, u {least}{u} {unit}"))
            .column(Column::text("cause"))
            .column(Column::number("moves the result by", unit))
            .column(Column::bars("share of u squared"))
            .rows(rows)
            .rows(rest);
        if self.from_correlations != 0.0 {
            let share = if self.u > 0.0 { self.from_correlations / (self.u * self.u) } else { 0.0 };
            table = table.row([Cell::text("stated correlations"), Cell::missing("in pairs"), Cell::share(share)]);
        }
        if !self.unstated.is_empty() {
            table = table.note(format!("no uncertainty was stated for: {}", self.unstated.join(", ")));
        }
        table
    }

    /// The standard uncertainty if the named input's own part (or the named cause) were half as uncertain.
    ///
    /// # Errors
    /// `input.unknown`; the message lists the rows.
    ///
    /// ```
    /// # use beadchem::{scalar::Scalar, uncertainty::*};
    /// # struct Twice;
    /// # impl Model for Twice {
    /// #     fn outputs(&self) -> usize { 1 }
    /// #     fn evaluate<S: Scalar>(&self, x: &[S], y: &mut [S], _: &mut [S]) { y[0] = x[0] * 2.0; }
    /// # }
    /// # let mut inputs = Inputs::new();
    /// # inputs.push("a", Estimate::new(1.0, 0.5)?)?;
    /// let budget = propagate(&Twice, &inputs)?.budget(0);
    /// assert_eq!(budget.if_halved("a")?, 0.5);
    /// assert!(budget.if_halved("b").is_err());
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    pub fn if_halved(&self, name: &str) -> Result<f64> {
        match self.halved.iter().find(|(known, _)| known == name) {
            Some((_, variance)) => Ok(if *variance > 0.0 { variance.sqrt() } else { 0.0 }),
            None => Err(Error::Unknown {
                code: Code::InputUnknown,
                what: "Part of the budget".to_owned(),
                given: name.to_owned(),
                hint: format!(
                    "The parts are: {}.",
                    self.halved.iter().map(|(name, _)| name.as_str()).collect::<Vec<_>>().join(", ")
                ),
            }),
        }
    }
}
