//! Plots for papers and messages: the same drawing as SVG or PNG, with a bundled font, so that text looks the same on
//! every machine.
//!
//! Sizes are in millimetres or pixels. A millimetre is 96/25.4 pixels in SVG (CSS) and 300/25.4 in PNG (print);
//! text keeps its size on paper.

pub(crate) mod canvas;
mod changes;
mod compare;
mod take;
mod trend;

pub(crate) use canvas::base64;
pub use canvas::{Format, PlotError, Size};
pub use changes::changes_plot;
pub use compare::compare_plot;
pub use take::take_plot;
pub use trend::trend_plot;

use plotters::style::RGBColor;

/// One neutral ink for figures, two accents that stay apart for colour-blind eyes (Okabe and Ito 2008), never the
/// only sign of anything.
pub(crate) mod ink {
    use super::RGBColor;
    pub(crate) const INK: RGBColor = RGBColor(0x22, 0x26, 0x2b);
    pub(crate) const SOFT: RGBColor = RGBColor(0x6b, 0x72, 0x7a);
    pub(crate) const FAINT: RGBColor = RGBColor(0xd9, 0xdd, 0xe1);
    pub(crate) const PAPER: RGBColor = RGBColor(0xff, 0xff, 0xff);
    pub(crate) const BLUE: RGBColor = RGBColor(0x00, 0x72, 0xb2);
    pub(crate) const RED: RGBColor = RGBColor(0xd5, 0x5e, 0x00);
}
