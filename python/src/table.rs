//! Tables through the Arrow C stream interface (Apache Arrow, "The Arrow C stream interface" and "The Arrow PyCapsule
//! interface"): who takes one takes its memory too, no value is copied.

use crate::fault::input;
use arrow_array::ffi_stream::FFI_ArrowArrayStream;
use arrow_array::{
    ArrayRef, BooleanArray, Date32Array, Float64Array, Int32Array, Int64Array, RecordBatch, RecordBatchIterator,
    StringArray, TimestampMillisecondArray,
};
use arrow_schema::ffi::FFI_ArrowSchema;
use arrow_schema::{ArrowError, Field, Schema};
use pyo3::prelude::*;
use pyo3::types::PyCapsule;
use std::sync::Arc;
use takegauge_review::sheet::{Column, Sheet, Values};

/// A table of numbers.
#[pyclass(frozen, module = "takegauge._engine")]
pub(crate) struct Table(RecordBatch);

impl Table {
    pub(crate) fn of(sheet: Sheet) -> PyResult<Self> {
        batch(sheet).map(Self).map_err(input)
    }
}

#[pymethods]
impl Table {
    /// The whole table as a stream of one batch. A consumer that would like other types converts them itself.
    #[pyo3(signature = (requested_schema=None))]
    fn __arrow_c_stream__<'py>(
        &self,
        py: Python<'py>,
        requested_schema: Option<Bound<'py, PyAny>>,
    ) -> PyResult<Bound<'py, PyCapsule>> {
        drop(requested_schema);
        let batches = RecordBatchIterator::new([Ok(self.0.clone())], self.0.schema());
        PyCapsule::new_with_value(py, FFI_ArrowArrayStream::new(Box::new(batches)), c"arrow_array_stream")
    }

    /// Names and types of the columns.
    fn __arrow_c_schema__<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyCapsule>> {
        let schema = FFI_ArrowSchema::try_from(self.0.schema().as_ref()).map_err(input)?;
        PyCapsule::new_with_value(py, schema, c"arrow_schema")
    }

    fn __len__(&self) -> usize {
        self.0.num_rows()
    }

    /// The names of the columns.
    #[getter]
    fn columns(&self) -> Vec<String> {
        self.0.schema().fields().iter().map(|f| f.name().clone()).collect()
    }
}

fn batch(sheet: Sheet) -> Result<RecordBatch, ArrowError> {
    let (mut fields, mut arrays) = (Vec::new(), Vec::new());
    for Column { name, nullable, values } in sheet.columns {
        let array = array(values);
        fields.push(Field::new(name, array.data_type().clone(), nullable));
        arrays.push(array);
    }
    RecordBatch::try_new(Arc::new(Schema::new(fields)), arrays)
}

fn array(values: Values) -> ArrayRef {
    match values {
        Values::Text(v) => Arc::new(StringArray::from(v)),
        Values::Flag(v) => Arc::new(BooleanArray::from(v)),
        Values::Count(v) => Arc::new(Int32Array::from(v)),
        Values::Long(v) => Arc::new(Int64Array::from(v)),
        Values::Number(v) => Arc::new(Float64Array::from(v)),
        Values::Instant(v) => Arc::new(TimestampMillisecondArray::from(v).with_timezone("UTC")),
        Values::Day(v) => Arc::new(Date32Array::from(v)),
    }
}
