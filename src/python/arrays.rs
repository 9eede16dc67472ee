//! NumPy arrays by name as borrowed columns.

use numpy::{
    PyArray1, PyArray2, PyArrayDescrMethods, PyArrayMethods, PyReadonlyArray1, PyReadwriteArray2, PyUntypedArray,
    PyUntypedArrayMethods,
};
use pyo3::prelude::*;
use pyo3::pybacked::PyBackedStr;
use pyo3::types::{PyDict, PyList, PyString, PyTuple};

use super::foreign;
use super::plain::{Plain, exact_all, rows_of};
use crate::batch::Kind;
use crate::batch::arrow::few;
use crate::batch::arrow::read::column_type;
use crate::error::{Error, Result};

/// A column of a dict; what had to be converted is held here.
pub(super) enum Held<'py> {
    View(Bound<'py, PyArray1<f64>>, Option<PyReadonlyArray1<'py, bool>>),
    Own(Vec<f64>, Option<PyReadonlyArray1<'py, bool>>),
    Words(Vec<Option<PyBackedStr>>),
    /// For each row the place of its word among few.
    Coded(Vec<u32>, Vec<String>),
}

/// The columns of a dict that are wanted.
pub(super) fn read<'py, 'a>(
    wanted: &'a [(String, Kind)],
    columns: &Bound<'py, PyDict>,
) -> PyResult<Vec<(&'a str, Held<'py>)>> {
    let mut held = Vec::with_capacity(columns.len());
    let mut rest = 0..0;
    for (key, column) in columns {
        let Ok(key) = key.cast::<PyString>() else { continue };
        let key = key.to_str()?;
        // Usually the columns stand in the order of the fields.
        let next = rest.find(|&place| wanted[place].0 == key);
        let Some(place) = next.or_else(|| wanted.iter().position(|(name, _)| name == key)) else { continue };
        rest = place..wanted.len();
        let (name, kind) = &wanted[place];
        if let (Kind::Numbers, Some(array)) = (kind, viewed(&column)) {
            held.push((name.as_str(), Held::View(array, None)));
            continue;
        }
        let quick = match kind {
            Kind::Numbers => plain(&column),
            Kind::Words => coded(&column).or_else(|| words(&column).map(Held::Words)),
        };
        held.push((name.as_str(), quick.map_or_else(|| converted(name, *kind, &column), Ok)?));
    }
    Ok(held)
}

/// Every column of a dict that holds numbers or words, the column `ids` as words.
pub(super) fn read_all<'py>(columns: &Bound<'py, PyDict>, ids: &str) -> PyResult<Vec<(String, Held<'py>)>> {
    let mut held = Vec::with_capacity(columns.len());
    for (key, column) in columns {
        let Ok(name) = key.extract::<String>() else { continue };
        let kind = if name == ids { Kind::Words } else { Kind::Numbers };
        let quick = if name == ids { None } else { plain(&column) };
        let read = match quick.or_else(|| words(&column).map(Held::Words)) {
            Some(read) => read,
            None => {
                let form = form(kind, &column)?;
                if form.is_instance_of::<PyString>() {
                    continue;
                }
                of_form(&name, &form)?
            }
        };
        held.push((name, read));
    }
    Ok(held)
}

/// What of it needs no interpreter.
pub(super) fn lend<'a, S: AsRef<str>>(held: &'a [(S, Held<'_>)]) -> PyResult<Vec<(&'a str, Plain<'a, PyBackedStr>)>> {
    let mask = |mask: &'a Option<PyReadonlyArray1<'_, bool>>| mask.as_ref().map(|mask| mask.as_slice()).transpose();
    let mut table = Vec::with_capacity(held.len());
    for (name, held) in held {
        let name = name.as_ref();
        match held {
            Held::View(array, gone) => {
                table.push((name, Plain::Numbers(foreign::numbers(array).unwrap_or_default(), mask(gone)?)));
            }
            Held::Own(numbers, gone) => table.push((name, Plain::Numbers(numbers, mask(gone)?))),
            Held::Words(words) => table.push((name, Plain::Words(words))),
            Held::Coded(places, words) => table.push((name, Plain::Coded(places, words))),
        }
    }
    Ok(table)
}

/// An array of aligned f64 in the order of bytes of the machine and no subclass (one with a mask is).
fn plain<'py>(column: &Bound<'py, PyAny>) -> Option<Held<'py>> {
    if let Some(array) = viewed(column) {
        return Some(Held::View(array, None));
    }
    let array = column.cast_exact::<PyArray1<f64>>().ok().filter(|array| array.is_aligned())?;
    Some(Held::Own(array.try_readonly().ok()?.as_array().iter().copied().collect(), None))
}

/// The same where it lies in one piece.
fn viewed<'py>(column: &Bound<'py, PyAny>) -> Option<Bound<'py, PyArray1<f64>>> {
    let array = column.cast_exact::<PyArray1<f64>>().ok()?;
    (array.is_aligned() && array.is_contiguous()).then(|| array.clone())
}

/// Few different words in an array of NumPy's own text, which are so many code points each: no object is made of a cell.
fn coded<'py>(column: &Bound<'py, PyAny>) -> Option<Held<'py>> {
    let array = column.cast_exact::<PyUntypedArray>().ok()?;
    let dtype = array.dtype();
    let plain = dtype.kind() == b'U' && dtype.is_native_byteorder() == Some(true);
    if !plain || array.ndim() != 1 || !array.is_contiguous() {
        return None;
    }
    let points = column.call_method1("view", ("u4",)).ok()?.cast_into::<PyArray1<u32>>().ok()?.try_readonly().ok()?;
    few(points.as_slice().ok()?, dtype.itemsize()).map(|(places, words)| Held::Coded(places, words))
}

/// Words and what stands for none: None, and NaN where pandas marks missing text.
fn words(column: &Bound<'_, PyAny>) -> Option<Vec<Option<PyBackedStr>>> {
    let word = |cell: &Bound<'_, PyAny>| match cell.extract::<Option<PyBackedStr>>() {
        Ok(word) => Some(word),
        Err(_) => cell.extract::<f64>().ok().filter(|number| number.is_nan()).map(|_| None),
    };
    if let Ok(list) = column.cast_exact::<PyList>() {
        return list.iter().map(|cell| word(&cell)).collect();
    }
    let array = column.cast_exact::<PyArray1<Py<PyAny>>>().ok()?.try_readonly().ok()?;
    array.as_array().iter().map(|cell| word(cell.bind(column.py()))).collect()
}

/// Whatever else is brought to one of four forms by the Python side, which knows NumPy's types: a list of words, or
/// numbers as f64, i64 or u64 with a mask.
fn converted<'py>(name: &str, kind: Kind, column: &Bound<'py, PyAny>) -> PyResult<Held<'py>> {
    let form = form(kind, column)?;
    if let Ok(found) = form.cast::<PyString>() {
        return Err(column_type(name, kind, found.to_str()?).into());
    }
    of_form(name, &form)
}

/// One of the four forms, or in words what the column is instead.
fn form<'py>(kind: Kind, column: &Bound<'py, PyAny>) -> PyResult<Bound<'py, PyAny>> {
    column.py().import("beadchem.tables")?.getattr("_plain")?.call1((column, kind == Kind::Words))
}

fn of_form<'py>(name: &str, form: &Bound<'py, PyAny>) -> PyResult<Held<'py>> {
    if let Ok(list) = form.cast::<PyList>() {
        return Ok(Held::Words(list.extract()?));
    }
    let (numbers, mask): (Bound<'py, PyAny>, Option<PyReadonlyArray1<'py, bool>>) =
        form.cast::<PyTuple>()?.extract()?;
    if let Ok(view) = numbers.cast::<PyArray1<f64>>() {
        return Ok(Held::View(view.clone(), mask));
    }
    let gone = mask.as_ref().map(|mask| mask.as_slice()).transpose()?;
    let cast = match numbers.cast::<PyArray1<i64>>() {
        Ok(whole) => exact_all(name, whole.readonly().as_slice()?, gone),
        Err(_) => exact_all(name, numbers.cast::<PyArray1<u64>>()?.readonly().as_slice()?, gone),
    };
    Ok(Held::Own(cast?, mask))
}

/// The block results are written into.
pub(super) fn block<'py>(out: &Bound<'py, PyAny>) -> PyResult<Bound<'py, PyArray2<f64>>> {
    let wrong = || Error::shape("Dimensions and type of `out`", 2, 0, "It is a float64 array [column, row].");
    Ok(out.cast::<PyArray2<f64>>().map_err(|_| wrong())?.clone())
}

/// Its numbers, one column after the other; none of them may be read as well.
pub(super) fn room<'a>(
    block: &'a mut PyReadwriteArray2<'_, f64>,
    table: &[(&str, Plain<'_, PyBackedStr>)],
) -> Result<&'a mut [f64]> {
    let ([columns, found], rows) = ([block.shape()[0], block.shape()[1]], rows_of(table));
    if found != rows {
        return Err(Error::shape("Rows of `out`", rows, found, "One for each row of the table."));
    }
    let lies = || Error::shape("Contiguous columns of `out`", columns, 0, "Give it as numpy.empty((columns, rows)).");
    if !block.is_c_contiguous() {
        return Err(lies());
    }
    let numbers = block.as_slice_mut().map_err(|_| lies())?;
    if table.iter().any(|(_, column)| column.shares(numbers)) { Err(shared()) } else { Ok(numbers) }
}

/// An array that is read and written at once.
pub(super) fn shared() -> Error {
    let hint = "`out` shares memory with a column that is read, or is read-only.";
    Error::shape("Arrays of their own for `out`", 1, 0, hint)
}

/// Numbers that do not fill their columns.
pub(super) fn uneven([columns, rows]: [usize; 2]) -> Error {
    Error::shape("Numbers of a column of results", rows, columns, "A job that gives fewer is at fault.")
}
