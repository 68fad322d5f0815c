//! How early or late each group of notes is, and how much it scatters, one row a group, from late to early.

use super::canvas::{Drawing, FAMILY, Frame, PlotError, render, short};
use super::{Format, Size, ink};
use crate::groups::{has_figures, looked_at_first};
use crate::words::count;
use plotters::coord::Shift;
use plotters::prelude::*;
use plotters::style::text_anchor::{HPos, Pos, VPos};
use takegauge_review::declared::{BIAS, GroupFigure, N, SPREAD};
use takegauge_review::{GroupRow, ScoreReport, Value};

/// Most rows a plot has room for.
const ROWS: usize = 24;

/// Draws the groups of the terminal's table that have a figure.
///
/// # Errors
/// [`PlotError::Nothing`] where no group has a figure.
pub fn changes_plot(report: &ScoreReport, size: Size, format: Format) -> Result<Vec<u8>, PlotError> {
    let with_figures = report.groups.iter().filter(|g| has_figures(g));
    let mut rows: Vec<&GroupRow> = with_figures.clone().filter(|g| looked_at_first(g, report)).take(ROWS).collect();
    if rows.is_empty() {
        return Err(PlotError::Nothing("no group of notes has enough of them for a figure"));
    }
    rows.sort_by(|a, b| latest_first(a).total_cmp(&latest_first(b)));
    let left_out = with_figures.count() - rows.len();
    let name = &report.drill.name;
    let more = match left_out {
        0 => String::new(),
        n => format!("; {} in the report", count(n, "more kind is", "more kinds are")),
    };
    let labels = rows.iter().map(|g| format!("{} ({})", g.label, g.figures.count(&N))).collect();
    let plot = Rows {
        title: format!("{name}, {:.1} bpm: kinds of note, from late to early", report.timebase.tempo_bpm),
        below: format!("Number of notes in brackets; lines are 95 % intervals{more}."),
        panels: panels(&[(points(&rows, &BIAS), points(&rows, &SPREAD))]),
        labels,
    };
    render(&plot, size, format)
}

fn points(rows: &[&GroupRow], figure: &'static GroupFigure) -> Vec<Option<Point>> {
    let scatter = *figure == SPREAD;
    let of = |v: Value| {
        let low = if scatter { v.high.map(|_| v.low.unwrap_or(0.0)) } else { v.low };
        Some((if scatter { v.value?.max(0.0) } else { v.value? }, low, v.high))
    };
    rows.iter().map(|g| of(g.figures.get(figure))).collect()
}

/// A place in the order of rows; a group without a figure of lateness comes last.
fn latest_first(g: &GroupRow) -> f64 {
    g.figures.value(&BIAS).map_or(f64::INFINITY, |b| -b)
}

/// Rows of points and their intervals in two panels, early or late and scatter; one series, or two over each other.
pub(super) struct Rows {
    pub(super) title: String,
    pub(super) below: String,
    pub(super) labels: Vec<String>,
    pub(super) panels: [Panel; 2],
}

/// A figure with the ends of its interval.
pub(super) type Point = (f64, Option<f64>, Option<f64>);

/// One of the two panels: a point and its interval a row and series.
pub(super) struct Panel {
    title: &'static str,
    from: f64,
    to: f64,
    /// Value, low, high; one list a series.
    series: Vec<Vec<Option<Point>>>,
}

/// Lateness and scatter, row by row.
pub(super) type Series = (Vec<Option<Point>>, Vec<Option<Point>>);

/// The panels of series of lateness and scatter.
pub(super) fn panels(series: &[Series]) -> [Panel; 2] {
    let (bias, spread): (Vec<_>, Vec<_>) = series.iter().cloned().unzip();
    let furthest = |series: &[Vec<Option<Point>>]| {
        let all = series.iter().flatten().flatten().flat_map(|(v, a, b)| [Some(*v), *a, *b]).flatten();
        all.map(f64::abs).fold(0.0, f64::max)
    };
    let reach = (furthest(&bias) * 1.1).max(5.0);
    let top = (furthest(&spread) * 1.1).max(5.0);
    [
        Panel { title: "early (-) or late (+) on average, ms", from: -reach, to: reach, series: bias },
        Panel { title: "scatter, ms", from: 0.0, to: top, series: spread },
    ]
}

impl Drawing for Rows {
    fn draw<B: DrawingBackend>(&self, area: &DrawingArea<B, Shift>, f: Frame) -> Result<(), PlotError> {
        area.fill(&ink::PAPER).map_err(PlotError::draw)?;
        self.heading(area, f)?;
        let area = area.margin(f.px(38.0), 0, 0, 0);
        let (width, _) = area.dim_in_pixel();
        // The number of notes in brackets is short.
        let longest = self.labels.iter().map(|l| l.split(" (").next().unwrap_or(l).chars().count()).max().unwrap_or(0);
        let names = f.px(24.0 + 6.2 * longest as f64).min(width as i32 / 2);
        let middle = names + (width as i32 - names) * 3 / 5;
        let [bias, spread] = &self.panels;
        let (left, right) = area.split_horizontally(middle);
        self.panel(&left, bias, names, true, f)?;
        self.panel(&right, spread, f.px(14.0), false, f)
    }
}

impl Rows {
    fn heading<B: DrawingBackend>(&self, area: &DrawingArea<B, Shift>, f: Frame) -> Result<(), PlotError> {
        let style = (FAMILY, f.text(13.0)).into_font().color(&ink::INK);
        area.draw_text(&self.title, &style, (f.px(10.0), f.px(6.0))).map_err(PlotError::draw)?;
        let style = (FAMILY, f.text(10.0)).into_font().color(&ink::SOFT);
        area.draw_text(&self.below, &style, (f.px(10.0), f.px(24.0))).map_err(PlotError::draw)
    }

    fn panel<B: DrawingBackend>(
        &self,
        area: &DrawingArea<B, Shift>,
        panel: &Panel,
        left: i32,
        named: bool,
        f: Frame,
    ) -> Result<(), PlotError> {
        let rows = self.labels.len() as f64;
        let font = |size: f64| (FAMILY, f.text(size)).into_font();
        let mut chart = ChartBuilder::on(area)
            .margin_top(f.px(10.0))
            .margin_right(f.px(14.0))
            .set_label_area_size(LabelAreaPosition::Left, left)
            .set_label_area_size(LabelAreaPosition::Bottom, f.px(34.0))
            .build_cartesian_2d(panel.from..panel.to, rows..0.0)
            .map_err(PlotError::draw)?;
        chart
            .configure_mesh()
            .disable_y_mesh()
            .disable_y_axis()
            .light_line_style(TRANSPARENT)
            .bold_line_style(ink::FAINT)
            .axis_style(ink::SOFT)
            .x_labels(7)
            .x_label_formatter(&short)
            .x_desc(panel.title)
            .label_style(font(10.5).color(&ink::INK))
            .axis_desc_style(font(10.5).color(&ink::SOFT))
            .draw()
            .map_err(PlotError::draw)?;
        let plot = chart.plotting_area();
        let line = |a: (f64, f64), b: (f64, f64), style: ShapeStyle| {
            plot.draw(&PathElement::new(vec![a, b], style)).map_err(PlotError::draw)
        };
        line((0.0, 0.0), (0.0, rows), ink::SOFT.stroke_width(1))?;
        let name = font(10.5).color(&ink::INK).pos(Pos::new(HPos::Right, VPos::Center));
        for (i, label) in self.labels.iter().enumerate() {
            let y = i as f64 + 0.5;
            line((panel.from, y), (panel.to, y), ink::FAINT.stroke_width(1))?;
            if named {
                let (_, py) = plot.map_coordinate(&(0.0, y));
                let (_, top) = area.get_base_pixel();
                area.draw_text(label, &name, (left - f.px(6.0), py - top + f.px(2.5))).map_err(PlotError::draw)?;
            }
            let last = panel.series.len().saturating_sub(1);
            for (k, points) in panel.series.iter().enumerate() {
                let Some(Some((value, low, high))) = points.get(i) else { continue };
                // Two series stand one above the other in a row; the first of two is hollow.
                let y = y + if last == 0 { 0.0 } else { 0.36 * (k as f64 / last as f64 - 0.5) };
                if let (Some(a), Some(b)) = (low, high) {
                    line((a.max(panel.from), y), (b.min(panel.to), y), ink::SOFT.stroke_width(f.px(1.6) as u32))?;
                }
                let fill = if k < last { ink::PAPER.filled() } else { ink::INK.filled() };
                let rim = ink::INK.stroke_width(f.px(1.2) as u32);
                let dot = EmptyElement::at((*value, y)) + Circle::new((0, 0), f.px(3.4), fill);
                plot.draw(&dot).map_err(PlotError::draw)?;
                if k < last {
                    let ring = EmptyElement::at((*value, y)) + Circle::new((0, 0), f.px(3.4), rim);
                    plot.draw(&ring).map_err(PlotError::draw)?;
                }
            }
        }
        Ok(())
    }
}
