//! Practice days as dots, the fitted line, and the lines of the slope's 95 % interval through the middle of the days.
//! The larger a dot, the faster the day's takes.

use super::canvas::{Drawing, FAMILY, Frame, PlotError, axes_labelled, render};
use super::{Format, Size, ink};
use plotters::coord::Shift;
use plotters::prelude::*;
use takegauge_review::Unit;
use takegauge_review::history::{DayValue, TrendReport, TrendRow};

/// Draws one series of a trend, titled with the drill and the player.
///
/// # Errors
/// [`PlotError::Nothing`] where there are fewer than two practice days.
pub fn trend_plot(report: &TrendReport, row: &TrendRow, size: Size, format: Format) -> Result<Vec<u8>, PlotError> {
    if row.days.len() < 2 {
        return Err(PlotError::Nothing("fewer than two practice days"));
    }
    render(&TrendPlot { report, row }, size, format)
}

struct TrendPlot<'a> {
    report: &'a TrendReport,
    row: &'a TrendRow,
}

fn middle(mut values: Vec<f64>) -> f64 {
    values.sort_by(f64::total_cmp);
    let n = values.len();
    0.5 * (values[(n - 1) / 2] + values[n / 2])
}

impl TrendPlot<'_> {
    /// Days since the first.
    fn x(&self, day: &DayValue) -> f64 {
        f64::from(day.day - self.row.days[0].day)
    }

    /// "3 Mar", so many whole days after the first; nothing within a day, and where no calendar has it.
    fn date(&self, days: f64) -> String {
        if (days - days.round()).abs() > 1e-6 {
            return String::new();
        }
        let days = jiff::Span::new().try_days(days.round() as i64);
        let first: Result<jiff::civil::Date, _> = self.row.days[0].date.parse();
        let date = days.and_then(|days| first.and_then(|first| first.checked_add(days)));
        date.map_or_else(|_| String::new(), |d| d.strftime("%-d %b").to_string())
    }

    /// Lowest and highest value with some air.
    fn reach(&self) -> (f64, f64) {
        let low = self.row.days.iter().map(|d| d.value).fold(f64::INFINITY, f64::min);
        let high = self.row.days.iter().map(|d| d.value).fold(f64::NEG_INFINITY, f64::max);
        let air = ((high - low) * 0.15).max(0.5);
        (low - air, high + air)
    }

    /// Radius of a day's dot at 96 dots an inch: 3 for the slowest, 7 for the fastest.
    fn radius(&self, day: &DayValue) -> f64 {
        let tempos = || self.row.days.iter().map(|d| d.tempo_bpm);
        let (low, high) = (tempos().fold(f64::INFINITY, f64::min), tempos().fold(0.0, f64::max));
        if high - low < 0.5 { 4.0 } else { 3.0 + 4.0 * (day.tempo_bpm - low) / (high - low) }
    }
}

impl Drawing for TrendPlot<'_> {
    fn draw<B: DrawingBackend>(&self, whole: &DrawingArea<B, Shift>, f: Frame) -> Result<(), PlotError> {
        whole.fill(&ink::PAPER).map_err(PlotError::draw)?;
        let font = |size: f64| (FAMILY, f.text(size)).into_font();
        let days = &self.row.days;
        let title = format!(
            "{}, {}: {} of {}, {} to {}",
            self.report.drill,
            self.report.player,
            self.row.metric.words(),
            self.row.label,
            days[0].date,
            days[days.len() - 1].date
        );
        whole.draw_text(&title, &font(13.0).color(&ink::INK), (f.px(10.0), f.px(6.0))).map_err(PlotError::draw)?;
        let span = self.x(&days[days.len() - 1]).max(1.0);
        let (low, high) = self.reach();
        let unit = if self.row.unit == Unit::None { String::new() } else { format!(", {}", self.row.unit.name()) };
        let below = whole.margin(f.px(30.0), f.px(6.0), f.px(4.0), f.px(14.0));
        let when = (-0.03 * span..1.03 * span, "day (a larger dot is a faster day)");
        let what = (low..high, format!("{}{unit}", self.row.metric.words()));
        let area = axes_labelled(&below, when, &|x| self.date(*x), (what.0, &what.1), f)?;
        if let Some(fit) = &self.row.fit {
            let pivot =
                (middle(days.iter().map(|d| self.x(d)).collect()), middle(days.iter().map(|d| d.value).collect()));
            let [a, b] = fit.slope_ci95;
            for (slope, style) in [
                (a, ink::SOFT.stroke_width(1)),
                (b, ink::SOFT.stroke_width(1)),
                (fit.slope_a_week, ink::INK.stroke_width(f.px(1.5) as u32)),
            ] {
                let at = |x: f64| (x, (pivot.1 + slope / 7.0 * (x - pivot.0)).clamp(low, high));
                // Many short pieces, so that a line that leaves the frame ends at its edge.
                let points: Vec<(f64, f64)> = (0..=200).map(|k| at(span * f64::from(k) / 200.0)).collect();
                area.draw(&PathElement::new(points, style)).map_err(PlotError::draw)?;
            }
        }
        for day in days {
            let dot = Circle::new((self.x(day), day.value), f.px(self.radius(day)), ink::INK.mix(0.7).filled());
            area.draw(&dot).map_err(PlotError::draw)?;
        }
        Ok(())
    }
}
