//! Where a plot is drawn: its size, its file format and its font.

use super::ink;
use plotters::coord::Shift;
use plotters::coord::types::RangedCoordf64;
use plotters::prelude::*;
use plotters::style::register_font;
use std::ops::Range;
use std::str::FromStr;
use std::sync::OnceLock;

/// Noto Sans, Latin subset (SIL Open Font License 1.1; fonts/OFL.txt).
pub(crate) const FONT: &[u8] = include_bytes!("../../fonts/NotoSans-subset.ttf");
/// The family under which it is drawn and named in SVG.
pub(crate) const FAMILY: &str = "Takegauge Sans";

/// Why a plot could not be made.
#[derive(Debug, thiserror::Error)]
pub enum PlotError {
    /// The file's ending names no format.
    #[error("a plot is written as .svg or .png; {}", ending(.0))]
    Ending(String),
    /// A size that cannot be read or is out of range.
    #[error("plot size {0:?}: give width x height in mm (40 to 500) or px (200 to 8000), as 180x100mm or 1200x700px")]
    Size(String),
    /// There is nothing to draw.
    #[error("no plot: {0}")]
    Nothing(&'static str),
    /// The drawing library failed.
    #[error("the plot could not be drawn: {0}")]
    Draw(String),
}

fn ending(given: &str) -> String {
    if given.is_empty() { "the name has no ending".to_owned() } else { format!("the name ends in .{given}") }
}

impl PlotError {
    pub(crate) fn draw(e: impl std::fmt::Display) -> Self {
        Self::Draw(e.to_string())
    }
}

/// The file format, by ending.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Format {
    /// Scalable.
    Svg,
    /// Pixels.
    Png,
}

impl Format {
    /// From a file name's ending, upper or lower case.
    ///
    /// # Errors
    /// [`PlotError::Ending`] for any other than `.svg` and `.png`.
    pub fn of(path: &std::path::Path) -> Result<Self, PlotError> {
        let ending = path.extension().map(|e| e.to_string_lossy().to_ascii_lowercase()).unwrap_or_default();
        match ending.as_str() {
            "svg" => Ok(Self::Svg),
            "png" => Ok(Self::Png),
            _ => Err(PlotError::Ending(ending)),
        }
    }
}

/// Width and height.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Size {
    /// On paper.
    Millimetres(f64, f64),
    /// On a screen.
    Pixels(u32, u32),
}

impl Default for Size {
    fn default() -> Self {
        Self::Millimetres(180.0, 100.0)
    }
}

impl FromStr for Size {
    type Err = PlotError;

    fn from_str(text: &str) -> Result<Self, PlotError> {
        let bad = || PlotError::Size(text.to_owned());
        let lower = text.trim().to_ascii_lowercase();
        let (body, paper) = match (lower.strip_suffix("mm"), lower.strip_suffix("px")) {
            (Some(b), _) => (b, true),
            (_, Some(b)) => (b, false),
            _ => return Err(bad()),
        };
        let (w, h) = body.split_once('x').ok_or_else(bad)?;
        let (w, h): (f64, f64) = (w.trim().parse().map_err(|_| bad())?, h.trim().parse().map_err(|_| bad())?);
        let range = if paper { 40.0..=500.0 } else { 200.0..=8000.0 };
        if !range.contains(&w) || !range.contains(&h) {
            return Err(bad());
        }
        Ok(if paper { Self::Millimetres(w, h) } else { Self::Pixels(w as u32, h as u32) })
    }
}

/// A drawing's size in pixels and how many pixels a point of text size is worth.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Frame {
    pub(crate) width: u32,
    pub(crate) height: u32,
    pub(crate) scale: f64,
}

impl Frame {
    pub(crate) fn new(size: Size, format: Format) -> Self {
        let per_mm = if format == Format::Svg { 96.0 } else { 300.0 } / 25.4;
        match size {
            Size::Millimetres(w, h) => Self {
                width: (w * per_mm).round() as u32,
                height: (h * per_mm).round() as u32,
                scale: per_mm / (96.0 / 25.4),
            },
            Size::Pixels(width, height) => Self { width, height, scale: 1.0f64.max(f64::from(width) / 1000.0) },
        }
    }

    /// A length given at 96 pixels an inch, in this drawing's pixels.
    pub(crate) fn px(self, at_96_dpi: f64) -> i32 {
        ((at_96_dpi * self.scale).round() as i32).max(1)
    }

    /// A text size given at 96 pixels an inch.
    pub(crate) fn text(self, at_96_dpi: f64) -> f64 {
        at_96_dpi * self.scale
    }
}

/// Where a chart with two axes of figures is drawn.
pub(crate) type Plane = Cartesian2d<RangedCoordf64, RangedCoordf64>;

/// A label without zeros at its end: "140", "0.25".
pub(crate) fn short(v: &f64) -> String {
    let text = format!("{v:.2}");
    let text = text.trim_end_matches('0').trim_end_matches('.');
    if text == "-0" { "0".to_owned() } else { text.to_owned() }
}

/// A chart's frame of axes, with a name to each, drawn in the report's ink.
pub(crate) fn axes<B: DrawingBackend>(
    area: &DrawingArea<B, Shift>,
    x: (Range<f64>, &str),
    y: (Range<f64>, &str),
    f: Frame,
) -> Result<DrawingArea<B, Plane>, PlotError> {
    axes_labelled(area, x, &short, y, f)
}

/// The same, with `x_label` written at the marks of the lower axis.
pub(crate) fn axes_labelled<B: DrawingBackend>(
    area: &DrawingArea<B, Shift>,
    (x, x_name): (Range<f64>, &str),
    x_label: &dyn Fn(&f64) -> String,
    (y, y_name): (Range<f64>, &str),
    f: Frame,
) -> Result<DrawingArea<B, Plane>, PlotError> {
    let font = || (FAMILY, f.text(10.5)).into_font();
    let mut chart = ChartBuilder::on(area)
        .set_label_area_size(LabelAreaPosition::Left, f.px(46.0))
        .set_label_area_size(LabelAreaPosition::Bottom, f.px(32.0))
        .build_cartesian_2d(x, y)
        .map_err(PlotError::draw)?;
    chart
        .configure_mesh()
        .light_line_style(TRANSPARENT)
        .bold_line_style(ink::FAINT)
        .axis_style(ink::SOFT)
        .x_desc(x_name)
        .y_desc(y_name)
        .label_style(font().color(&ink::INK))
        .axis_desc_style(font().color(&ink::SOFT))
        .x_labels(9)
        .y_labels(8)
        .x_label_formatter(&x_label)
        .y_label_formatter(&short)
        .draw()
        .map_err(PlotError::draw)?;
    Ok(chart.plotting_area().clone())
}

/// What a plot does to a drawing area, for both kinds of file.
pub(crate) trait Drawing {
    fn draw<B: DrawingBackend>(&self, area: &DrawingArea<B, Shift>, frame: Frame) -> Result<(), PlotError>;
}

/// Makes the file's bytes.
pub(crate) fn render(drawing: &impl Drawing, size: Size, format: Format) -> Result<Vec<u8>, PlotError> {
    static READY: OnceLock<bool> = OnceLock::new();
    let ready = READY.get_or_init(|| {
        [FontStyle::Normal, FontStyle::Bold].into_iter().all(|s| register_font(FAMILY, s, FONT).is_ok())
    });
    if !ready {
        return Err(PlotError::Draw("the bundled font could not be read".to_owned()));
    }
    let frame = Frame::new(size, format);
    match format {
        Format::Svg => {
            let mut text = String::new();
            {
                let area = SVGBackend::with_string(&mut text, (frame.width, frame.height)).into_drawing_area();
                drawing.draw(&area, frame)?;
                area.present().map_err(PlotError::draw)?;
            }
            Ok(with_font(&text, size).into_bytes())
        }
        Format::Png => {
            let mut pixels = vec![0xff_u8; frame.width as usize * frame.height as usize * 3];
            {
                let area = BitMapBackend::with_buffer(&mut pixels, (frame.width, frame.height)).into_drawing_area();
                drawing.draw(&area, frame)?;
                area.present().map_err(PlotError::draw)?;
            }
            png(&pixels, frame)
        }
    }
}

/// The SVG with the font inside, and its size on paper where that was asked.
fn with_font(svg: &str, size: Size) -> String {
    let face =
        format!("<style>@font-face{{font-family:\"{FAMILY}\";src:url(data:font/ttf;base64,{})}}</style>", base64(FONT));
    let Some(open) = svg.find("<svg ") else { return svg.to_owned() };
    let Some(end) = svg[open..].find('>').map(|e| open + e + 1) else { return svg.to_owned() };
    let mut head = svg[..end].to_owned();
    if let Size::Millimetres(w, h) = size {
        let frame = Frame::new(size, Format::Svg);
        head = head.replacen(&format!("width=\"{}\"", frame.width), &format!("width=\"{w}mm\""), 1).replacen(
            &format!("height=\"{}\"", frame.height),
            &format!("height=\"{h}mm\""),
            1,
        );
    }
    format!("{head}\n{face}{}", &svg[end..])
}

fn png(pixels: &[u8], frame: Frame) -> Result<Vec<u8>, PlotError> {
    let mut bytes = Vec::new();
    let mut encoder = png::Encoder::new(&mut bytes, frame.width, frame.height);
    encoder.set_color(png::ColorType::Rgb);
    encoder.set_depth(png::BitDepth::Eight);
    let per_metre = (96.0 * frame.scale / 0.0254).round() as u32;
    encoder.set_pixel_dims(Some(png::PixelDimensions { xppu: per_metre, yppu: per_metre, unit: png::Unit::Meter }));
    let mut writer = encoder.write_header().map_err(PlotError::draw)?;
    writer.write_image_data(pixels).map_err(PlotError::draw)?;
    writer.finish().map_err(PlotError::draw)?;
    Ok(bytes)
}

/// Base64 after RFC 4648 section 4.
pub(crate) fn base64(bytes: &[u8]) -> String {
    use base64::Engine as _;
    base64::engine::general_purpose::STANDARD.encode(bytes)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn sizes_are_read_and_bad_ones_refused() {
        assert_eq!("180x100mm".parse::<Size>().ok(), Some(Size::Millimetres(180.0, 100.0)));
        assert_eq!("1200 x 700px".parse::<Size>().ok(), Some(Size::Pixels(1200, 700)));
        for bad in ["", "180x100", "x100mm", "1x1mm", "999999x10px", "NaNx100mm"] {
            assert!(bad.parse::<Size>().is_err(), "{bad}");
        }
    }

    #[test]
    fn text_keeps_its_size_on_paper() {
        let svg = Frame::new(Size::Millimetres(180.0, 100.0), Format::Svg);
        let png = Frame::new(Size::Millimetres(180.0, 100.0), Format::Png);
        let mm = |f: Frame| f.text(12.0) / f64::from(f.width) * 180.0;
        assert!((mm(svg) - mm(png)).abs() < 0.01);
    }
}
