//! What lines that were not measured do to the results of the others.

use crate::batch::correction::Correction;
use crate::batch::field::{Field, Quantity};
use crate::batch::group::Key;
use crate::charge::Melt;
use crate::composition::Unit;
use crate::error::Result;
use crate::finding::Finding;
use crate::matrix::LineReading;
use crate::method::{Measurement, Method, absent};
use crate::substance::Formula;
use crate::uncertainty::Estimate;

impl Correction {
    /// What the components do that these rows neither measure nor declare: in a bead of the contents that the coefficients were
    /// made about, or of a hundredth of each analyte where these are not known.
    pub(super) fn not_measured<'a>(
        &self,
        method: &Method,
        key: &Key,
        melt: &Melt,
        there: &impl Fn(&Quantity) -> Option<&'a Field>,
    ) -> Result<Vec<Finding>> {
        let set = &method.coefficients()[key.class];
        let unknown = Unit::Percent.fraction(1.0);
        let content = |component: &Formula| match set.conditions().centroid() {
            [] => unknown,
            _ => set.conditions().centroid_of(component.text()).unwrap_or(0.0),
        };
        let contents: Vec<f64> = set.components().iter().map(content).collect();
        let mut measurement = Measurement::new("").of_class(set.label().name());
        for (row, line) in set.lines().iter().enumerate() {
            let name = || line.line.clone();
            if there(&Quantity::Intensity(name())).or_else(|| there(&Quantity::Peak(name()))).is_none() {
                continue;
            }
            let influence = set.row(row).iter().zip(&contents).map(|(coefficient, content)| coefficient * content);
            let strength = contents[line.analyte] / (1.0 + influence.sum::<f64>());
            let sensitivity = method.calibration().of(&line.line).map_or(1.0, |held| held.value.value());
            measurement =
                measurement.reading(LineReading::net(&line.line, Estimate::unstated(strength / sensitivity)?)?)?;
        }
        absent(set, &melt.solve(method.ask(melt, &measurement)?.order)?)
    }
}
