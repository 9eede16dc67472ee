//! Errors, codes and findings on their way to Python.

use pyo3::conversion::FromPyObjectOwned;
use pyo3::create_exception;
use pyo3::exceptions::PyValueError;
use pyo3::prelude::*;
use pyo3::types::PyDict;

use crate::code::Code;
use crate::error::Error;
use crate::finding::Finding;

create_exception!(
    beadchem,
    BeadchemError,
    PyValueError,
    "A refusal: the message says number, bound, likely cause and repair; `code` is the stable word.\n\n\
     Attributes: code, quantity, value (or None), bound (or None), hint."
);

impl From<Error> for PyErr {
    fn from(error: Error) -> PyErr {
        let refused = BeadchemError::new_err(error.to_string());
        Python::attach(|py| {
            let instance = refused.value(py);
            instance.setattr("code", error.code().word())?;
            instance.setattr("quantity", error.quantity())?;
            instance.setattr("value", error.value())?;
            instance.setattr("bound", error.bound())?;
            instance.setattr("hint", error.hint())
        })
        .map_or_else(|failed| failed, |()| refused)
    }
}

/// One line of the table of codes.
#[pyclass(name = "Code", module = "beadchem", frozen, eq, hash)]
#[derive(Clone, Copy, PartialEq, Eq, Hash)]
pub(super) struct PyCode(Code);

#[pymethods]
impl PyCode {
    /// The stable word, as "mass.not-positive".
    #[getter]
    fn word(&self) -> &'static str {
        self.0.word()
    }
    /// The number that a table column stores.
    #[getter]
    fn number(&self) -> u16 {
        self.0.number()
    }
    /// "note", "caution", "warning" or "error".
    #[getter]
    fn severity(&self) -> &'static str {
        self.0.severity().word()
    }
    /// One sentence.
    #[getter]
    fn meaning(&self) -> &'static str {
        self.0.meaning()
    }
    fn __repr__(&self) -> String {
        format!("<Code {} {}: {}>", self.0.number(), self.0.word(), self.0.meaning())
    }
}

/// Every code by its word.
#[pyfunction]
pub(super) fn codes() -> std::collections::BTreeMap<&'static str, PyCode> {
    Code::ALL.iter().map(|code| (code.word(), PyCode(*code))).collect()
}

/// A remark on a result.
#[pyclass(name = "Finding", module = "beadchem", frozen)]
#[derive(Clone)]
pub(super) struct PyFinding(pub(super) Finding);

#[pymethods]
impl PyFinding {
    /// The stable word of its code.
    #[getter]
    fn code(&self) -> &'static str {
        self.0.code.word()
    }
    /// "note", "caution", "warning" or "error".
    #[getter]
    fn severity(&self) -> &'static str {
        self.0.severity().word()
    }
    /// What it is about.
    #[getter]
    fn quantity(&self) -> &str {
        &self.0.quantity
    }
    /// The number found (fractions in g/g, masses in g), or None.
    #[getter]
    fn value(&self) -> Option<f64> {
        self.0.value
    }
    /// Standard uncertainty of that number, or None.
    #[getter]
    fn u(&self) -> Option<f64> {
        self.0.u
    }
    /// The number it was held against, or None.
    #[getter]
    fn bound(&self) -> Option<f64> {
        self.0.bound
    }
    /// What was found, the likely cause and the repair.
    #[getter]
    fn text(&self) -> &str {
        &self.0.text
    }
    fn __repr__(&self) -> String {
        format!("<{}>", self.0)
    }
    fn __str__(&self) -> String {
        self.0.to_string()
    }
}

/// The entries of a dict in its order, which stored forms keep.
pub(super) struct Entries<K, V>(pub(super) Vec<(K, V)>);

impl<K, V> Default for Entries<K, V> {
    fn default() -> Self {
        Self(Vec::new())
    }
}

impl<'py, K: FromPyObjectOwned<'py>, V: FromPyObjectOwned<'py>> FromPyObject<'_, 'py> for Entries<K, V> {
    type Error = PyErr;
    fn extract(object: Borrowed<'_, 'py, PyAny>) -> PyResult<Self> {
        let dict = object.cast::<PyDict>()?;
        let entry = |(key, value): (Bound<'py, PyAny>, Bound<'py, PyAny>)| {
            Ok((key.extract().map_err(Into::into)?, value.extract().map_err(Into::into)?))
        };
        dict.iter().map(entry).collect::<PyResult<_>>().map(Self)
    }
}

/// So many decimals: a whole number from 0, refused in plain words below.
pub(super) struct Count(usize);

impl<'py> FromPyObject<'_, 'py> for Count {
    type Error = PyErr;
    fn extract(object: Borrowed<'_, 'py, PyAny>) -> PyResult<Self> {
        Ok(Self(count("Number of decimals", object.extract()?)?))
    }
}

/// A whole number from 0 as Python gives it.
pub(super) fn count(quantity: &str, given: i64) -> crate::error::Result<usize> {
    let hint = "It is a whole number from 0.";
    crate::error::within(quantity, given as f64, "", [0.0, 1e15], "0 and above", hint)?;
    Ok(usize::try_from(given).unwrap_or(usize::MAX))
}

impl Count {
    /// A number of decimals; what is too many is refused where it is used.
    pub(super) fn decimals(&self) -> u8 {
        u8::try_from(self.0).unwrap_or(u8::MAX)
    }
}

pub(super) fn findings(list: &[Finding]) -> Vec<PyFinding> {
    list.iter().cloned().map(PyFinding).collect()
}
