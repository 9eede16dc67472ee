//! Memory of other libraries: Arrow's PyCapsule protocol both ways, and plain arrays, without copies.
//!
//! The one module with unsafe code: what a capsule points to is only known by its name, and an array is written by others.
#![allow(unsafe_code)]

use arrow_array::ffi::{FFI_ArrowArray, FFI_ArrowSchema, from_ffi};
use arrow_array::ffi_stream::{FFI_ArrowArrayStream, RecordBatchStreamReader};
use arrow_array::{RecordBatch, RecordBatchIterator, RecordBatchReader, StructArray};
use arrow_schema::{ArrowError, DataType, SchemaRef};
use core::ffi::CStr;
use numpy::{PyArray1, PyArrayMethods, PyUntypedArrayMethods};
use pyo3::prelude::*;
use pyo3::types::{PyCapsule, PyTuple};

use crate::code::Code;
use crate::error::Error;

const STREAM: &CStr = c"arrow_array_stream";
const ARRAY: &CStr = c"arrow_array";
const SCHEMA: &CStr = c"arrow_schema";

/// A stream that broke off or was none.
pub(super) fn broken(why: &ArrowError) -> Error {
    Error::Conflict {
        code: Code::StreamBroken,
        detail: format!("The columns could not be read: {why}."),
        hint: "The message is that of the program which made them; a stream can be read once.".to_owned(),
    }
}

/// The record batches of an object with `__arrow_c_stream__` or `__arrow_c_array__`.
pub(super) fn read(source: &Bound<'_, PyAny>) -> PyResult<Box<dyn RecordBatchReader + Send>> {
    if let Some(export) = source.getattr_opt("__arrow_c_stream__")? {
        let capsule = export.call0()?;
        let pointer = capsule.cast::<PyCapsule>()?.pointer_checked(Some(STREAM))?;
        // SAFETY: a capsule of this name holds a valid ArrowArrayStream (Arrow PyCapsule interface), and is kept alive by
        // `capsule`. The stream is moved out and an empty one left, so that the capsule releases nothing; one that was
        // moved out before is refused by the reader.
        let reader = unsafe { RecordBatchStreamReader::from_raw(pointer.cast().as_ptr()) };
        return Ok(Box::new(reader.map_err(|why| broken(&why))?));
    }
    let Some(export) = source.getattr_opt("__arrow_c_array__")? else {
        return Err(Error::Conflict {
            code: Code::TableKind,
            detail: format!("An object of type {} is no table of columns.", source.get_type().name()?),
            hint: "Give an object with __arrow_c_stream__ or __arrow_c_array__.".to_owned(),
        }
        .into());
    };
    let pair = export.call0()?;
    let pair = pair.cast::<PyTuple>()?;
    let (schema, array) = (pair.get_item(0)?, pair.get_item(1)?);
    let schema = schema.cast::<PyCapsule>()?.pointer_checked(Some(SCHEMA))?;
    let array = array.cast::<PyCapsule>()?.pointer_checked(Some(ARRAY))?;
    // SAFETY: capsules of these names hold a valid ArrowSchema and ArrowArray and are kept alive by `pair`. Both are moved
    // out, empty ones are left, so that the capsules release nothing.
    let (schema, array) =
        unsafe { (FFI_ArrowSchema::from_raw(schema.cast().as_ptr()), FFI_ArrowArray::from_raw(array.cast().as_ptr())) };
    batch(array, &schema).map_err(|why| broken(&why).into())
}

fn batch(array: FFI_ArrowArray, schema: &FFI_ArrowSchema) -> Result<Box<dyn RecordBatchReader + Send>, ArrowError> {
    if array.is_released() || !matches!(DataType::try_from(schema)?, DataType::Struct(_)) {
        return Err(ArrowError::CDataInterface("the array is no record batch, or was taken before".to_owned()));
    }
    let metadata = arrow_schema::Schema::try_from(schema)?.metadata;
    // SAFETY: the array is not released, so by the interface it agrees with the schema that came with it.
    let data = unsafe { from_ffi(array, schema) }?;
    let batch = RecordBatch::from(StructArray::from(data));
    let schema = std::sync::Arc::new(batch.schema().as_ref().clone().with_metadata(metadata));
    let batch = batch.with_schema(schema.clone())?;
    Ok(Box::new(RecordBatchIterator::new([Ok(batch)], schema)))
}

/// A capsule with a stream of these batches.
pub(super) fn stream<'py>(
    py: Python<'py>,
    schema: SchemaRef,
    batches: Vec<RecordBatch>,
) -> PyResult<Bound<'py, PyCapsule>> {
    let reader = RecordBatchIterator::new(batches.into_iter().map(Ok), schema);
    PyCapsule::new_with_value(py, FFI_ArrowArrayStream::new(Box::new(reader)), STREAM)
}

/// A capsule with a schema.
pub(super) fn schema<'py>(py: Python<'py>, schema: &SchemaRef) -> PyResult<Bound<'py, PyCapsule>> {
    let exported = FFI_ArrowSchema::try_from(schema.as_ref()).map_err(|why| broken(&why))?;
    PyCapsule::new_with_value(py, exported, SCHEMA)
}

/// The numbers of an array, where they lie one behind the other.
pub(super) fn numbers<'a>(array: &'a Bound<'_, PyArray1<f64>>) -> Option<&'a [f64]> {
    if !array.is_aligned() || !array.is_contiguous() {
        return None;
    }
    // SAFETY: aligned and contiguous, and alive as long as the reference to its array. That no other thread writes it while
    // it is read is for the caller of Python to see to, as with every function of NumPy that lets go of the interpreter; we
    // write to arrays only through `out`, which is held against all that are read.
    unsafe { array.as_slice() }.ok()
}
