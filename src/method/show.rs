//! Methods and assays as tables: what a person reads, from the numbers and nothing else.

use crate::composition::Unit;
use crate::composition::unit::percent_short;
use crate::error::Result;
use crate::matrix::calibration_show::shown;
use crate::method::{Assay, Method};
use crate::table::{Cell, Column, Table};

impl Method {
    /// One row for each line: its analyte, its sensitivity, the standards' range in the glass, what overlaps it.
    ///
    /// ```
    /// use beadchem::method::Method;
    /// let text = Method::template()?.table().to_string();
    /// assert!(text.starts_with("Method dolomite 2026-1") && text.contains("2 % to 5.5 %"));
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    #[must_use]
    pub fn table(&self) -> Table {
        let named = |label: &crate::matrix::Label| format!("{} {}", label.name(), label.version());
        let (first, calibration) = (&self.coefficients[0], &self.calibration);
        let sets: Vec<String> = self.coefficients.iter().map(|set| named(set.label())).collect();
        let standard = self.standard();
        let range_of = |analyte: &str| {
            let range = calibration.ranges().iter().find(|range| range.analyte.text() == analyte);
            range.map(|range| format!("{} to {}", percent_short(range.low), percent_short(range.high)))
        };
        let rows = self.lines().into_iter().map(|line| {
            let place = first.line_index(line).ok();
            let analyte = place.map(|place| first.components()[first.lines()[place].analyte].text());
            let is_standard = standard.is_some_and(|held| held.line().as_str() == line);
            let role = match (analyte, is_standard) {
                (Some(component), true) => format!("{component}, internal standard"),
                (Some(analyte), false) if self.not_reported.iter().any(|held| held.text() == analyte) => {
                    format!("{analyte}, not reported")
                }
                (Some(analyte), false) => analyte.to_owned(),
                (None, _) => String::new(),
            };
            let sensitivity = calibration.of(line).map(|held| shown(&held.value));
            let overlaps = self.overlaps.iter().filter(|overlap| overlap.on().as_str() == line);
            let overlaps: Vec<String> =
                overlaps.map(|held| format!("{} {}", held.factor().value(), held.from())).collect();
            [
                Cell::text(line),
                Cell::text(role),
                sensitivity.unwrap_or_else(|_| Cell::missing("for overlaps only")),
                Cell::text(analyte.and_then(range_of).unwrap_or_default()),
                Cell::text(overlaps.join(", ")),
            ]
        });
        let table = Table::new(format!("Method {}", named(&self.label)))
            .head(self.label.source())
            .head(format!("coefficients: {}", sets.join("; ")))
            .head(format!("calibration: {}, {}", named(calibration.label()), calibration.basis()))
            .column(Column::text("line"))
            .column(Column::text("analyte"))
            .column(Column::number("k", "g/g per cps").with_uncertainty("u"))
            .column(Column::text("standards, of the glass"))
            .column(Column::text("overlapped by"))
            .rows(rows);
        let table = match &self.dead_time {
            Some(held) => table.note(format!("{} {} s", held.input_name(), held.seconds().value())),
            None => table,
        };
        self.check().iter().fold(table, |table, finding| table.note(finding.to_string()))
    }
}

impl Assay {
    /// The results with their uncertainties in a unit; what they rest on in the head, results from elsewhere and findings
    /// below.
    ///
    /// # Errors
    /// Those of [`SampleResult::table`](crate::charge::SampleResult::table) and [`provenance`](Self::provenance).
    ///
    /// ```
    /// use beadchem::{composition::Unit, method::example};
    /// let text = example()?.table(Unit::Percent)?.to_string();
    /// assert!(text.contains("bead B-1, method: dolomite 2026-1") && text.contains("basis: dried"));
    /// assert!(!text.contains("unknown"));
    /// # Ok::<(), beadchem::Error>(())
    /// ```
    pub fn table(&self, unit: Unit) -> Result<Table> {
        let table = self.provenance()?.lines().into_iter().fold(self.sample().table(unit)?, Table::head);
        let table = self.externals().iter().fold(table, |table, held| {
            let dated = held.date().map_or_else(String::new, |date| format!(", {date}"));
            table.note(format!("from elsewhere: {} by {}{dated}, {}", held.species(), held.method(), held.basis()))
        });
        Ok(self.own_findings.iter().fold(table, |table, finding| table.note(finding.to_string())))
    }
}
