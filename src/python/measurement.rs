//! The readings of one bead as Python gives them.

use pyo3::prelude::*;
use pyo3::types::PyDict;

use crate::code::Code;
use crate::error::{Error, Result};
use crate::matrix::LineReading;
use crate::method::Measurement;
use crate::python::convert::Entries;
use crate::python::intensities::{PyDrift, PyLineReading};
use crate::python::uncertainty::Number;

/// Net intensities by line, or readings.
pub(super) enum Readings {
    Net(Entries<String, Number>),
    Lines(Vec<Py<PyLineReading>>),
}

impl<'py> FromPyObject<'_, 'py> for Readings {
    type Error = PyErr;
    /// What is a dict must hold numbers, so that a wrong one is named as such.
    fn extract(object: Borrowed<'_, 'py, PyAny>) -> PyResult<Self> {
        if object.is_instance_of::<PyDict>() {
            object.extract().map(Self::Net)
        } else {
            object.extract().map(Self::Lines)
        }
    }
}

impl Readings {
    fn lines(self) -> Result<Vec<LineReading>> {
        match self {
            Self::Net(lines) => {
                lines.0.iter().map(|(line, intensity)| LineReading::net(line, intensity.estimate())).collect()
            }
            Self::Lines(lines) => Ok(lines.iter().map(|line| line.get().0.clone()).collect()),
        }
    }

    /// The measurement of a bead: its readings, its monitors with its time (both or neither), its class.
    pub(super) fn of_bead(
        self,
        bead: &str,
        at: Option<String>,
        drift: Option<&PyDrift>,
        of_class: Option<String>,
    ) -> Result<Measurement> {
        let unstated = |quantity: String, hint: &str| {
            Err(Error::Unstated { code: Code::DriftUnpaired, quantity, hint: hint.to_owned() })
        };
        let mut measurement = Measurement::new(bead);
        for reading in self.lines()? {
            measurement = measurement.reading(reading)?;
        }
        measurement = match (at, drift) {
            (Some(at), Some(drift)) => measurement.at(at, drift.0.clone()),
            (None, None) => measurement,
            (None, Some(_)) => {
                let hint = "Say when: its drift lies between two readings.";
                return unstated(format!("The time bead {bead} was measured"), hint);
            }
            (Some(_), None) => {
                let hint = "Give the monitors of its run, or leave the time out.";
                return unstated(format!("The drift of bead {bead}"), hint);
            }
        };
        Ok(match of_class {
            Some(class) => measurement.of_class(class),
            None => measurement,
        })
    }
}
