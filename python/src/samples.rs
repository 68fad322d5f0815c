//! Arrays as takes: any width of PCM or floating point, mono or frames x channels, whatever the stride.

use crate::fault::input;
use pyo3::buffer::{ElementType, PyUntypedBuffer};
use pyo3::prelude::*;

/// Samples in memory, ready to be heard any number of times.
#[pyclass(frozen, module = "takegauge._engine")]
pub(crate) struct Samples(pub(crate) takegauge_audio::Samples);

#[pymethods]
impl Samples {
    /// `samples` is anything with a buffer. Whole numbers are scaled as PCM of their width, floating point is taken as
    /// it is, full scale +-1.
    #[new]
    fn new(py: Python<'_>, samples: &Bound<'_, PyAny>, rate_hz: u32, name: String) -> PyResult<Self> {
        let buffer = PyUntypedBuffer::get(samples)
            .map_err(|_| input("the samples are no array; give a path, or an array of samples and its rate"))?;
        let channels = channels(buffer.shape())?;
        let planes = planes(py, &buffer, channels)?;
        let taken = py.detach(|| takegauge_audio::Samples::new(name, rate_hz, planes));
        taken.map(Self).map_err(input)
    }
}

fn channels(shape: &[usize]) -> PyResult<usize> {
    let most = usize::from(takegauge_audio::MOST_CHANNELS);
    match *shape {
        [_] => Ok(1),
        [_, 0] => Err(input("the array has no channels; give one number a frame, or frames x channels")),
        [_, channels] if channels <= most => Ok(channels),
        [frames, channels] => Err(input(format!(
            "an array of shape ({frames}, {channels}) would have {channels} channels; give frames x channels, which is \
             array.T if it is channels x frames"
        ))),
        _ => Err(input(format!(
            "the array has {} dimensions; give one number a frame, or frames x channels",
            shape.len()
        ))),
    }
}

/// One plane a channel, full scale +-1.
fn planes(py: Python<'_>, buffer: &PyUntypedBuffer, channels: usize) -> PyResult<Vec<Vec<f32>>> {
    macro_rules! take {
        ($type:ty, $scale:expr) => {{
            let woven: Vec<$type> = buffer.as_typed::<$type>()?.to_vec(py)?;
            Ok(py.detach(|| {
                let one = |c| woven.iter().skip(c).step_by(channels).map(|v| $scale(*v)).collect();
                (0..channels).map(one).collect()
            }))
        }};
    }
    let format = buffer.format();
    let foreign = matches!(format.to_bytes().first(), Some(b'>' | b'!'));
    match ElementType::from_format(format) {
        _ if foreign => {
            Err(input("the array's bytes are in another machine's order; give array.astype(...) of this one's"))
        }
        ElementType::Float { bytes: 4 } => take!(f32, |v: f32| v),
        ElementType::Float { bytes: 8 } => take!(f64, |v: f64| v as f32),
        ElementType::SignedInteger { bytes: 1 } => take!(i8, |v: i8| f32::from(v) / 128.0),
        ElementType::SignedInteger { bytes: 2 } => take!(i16, |v: i16| f32::from(v) / 32_768.0),
        ElementType::SignedInteger { bytes: 4 } => take!(i32, |v: i32| (f64::from(v) / 2_147_483_648.0) as f32),
        // Unsigned PCM has its zero in the middle.
        ElementType::UnsignedInteger { bytes: 1 } => take!(u8, |v: u8| (f32::from(v) - 128.0) / 128.0),
        ElementType::UnsignedInteger { bytes: 2 } => take!(u16, |v: u16| (f32::from(v) - 32_768.0) / 32_768.0),
        ElementType::SignedInteger { .. } | ElementType::UnsignedInteger { .. } => Err(input(
            "whole numbers this wide are no samples of PCM; give int16 or int32, or floating point with full scale +-1",
        )),
        ElementType::Bool | ElementType::Float { .. } | ElementType::Unknown => Err(input(format!(
            "an array of type {:?} is no sound; give floating point (full scale +-1), or PCM of 8, 16 or 32 bits",
            format.to_string_lossy()
        ))),
    }
}
