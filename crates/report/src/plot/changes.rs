//! How early or late each group of notes is, and how much it scatters, one row a group, from late to early.

use super::canvas::{Drawing, FAMILY, Frame, PlotError, render, short};
use super::{Format, Size, ink};
use crate::groups::{has_figures, looked_at_first};
use crate::words::count;
use plotters::coord::Shift;
use plotters::prelude::*;
use plotters::style::text_anchor::{HPos, Pos, VPos};
use takegauge_review::declared::{BIAS, N, SPREAD};
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
    render(&ChangesPlot { report, rows, left_out }, size, format)
}

/// A place in the order of rows; a group without a figure of lateness comes last.
fn latest_first(g: &GroupRow) -> f64 {
    g.figures.value(&BIAS).map_or(f64::INFINITY, |b| -b)
}

struct ChangesPlot<'a> {
    report: &'a ScoreReport,
    rows: Vec<&'a GroupRow>,
    /// Groups with figures that are not drawn.
    left_out: usize,
}

impl ChangesPlot<'_> {
    /// What the plot is of, and what it leaves out.
    fn title<B: DrawingBackend>(&self, area: &DrawingArea<B, Shift>, f: Frame) -> Result<(), PlotError> {
        let name = &self.report.drill.name;
        let title = format!("{name}, {:.1} bpm: kinds of note, from late to early", self.report.timebase.tempo_bpm);
        let style = (FAMILY, f.text(13.0)).into_font().color(&ink::INK);
        area.draw_text(&title, &style, (f.px(10.0), f.px(6.0))).map_err(PlotError::draw)?;
        let more = match self.left_out {
            0 => String::new(),
            n => format!("; {} in the report", count(n, "more kind is", "more kinds are")),
        };
        let below = format!("Number of notes in brackets; lines are 95 % intervals{more}.");
        let style = (FAMILY, f.text(10.0)).into_font().color(&ink::SOFT);
        area.draw_text(&below, &style, (f.px(10.0), f.px(24.0))).map_err(PlotError::draw)
    }
}

/// A figure with the ends of its interval.
type Point = (f64, Option<f64>, Option<f64>);

/// One of the two panels: a point and its interval a row.
struct Panel {
    title: &'static str,
    from: f64,
    to: f64,
    /// Value, low, high.
    points: Vec<Option<Point>>,
}

impl ChangesPlot<'_> {
    fn panels(&self) -> [Panel; 2] {
        let of = |f| self.rows.iter().map(move |g| g.figures.get(f));
        let bias: Vec<_> = of(&BIAS).map(|v| Some((v.value?, v.low, v.high))).collect();
        let low = |v: Value| v.high.map(|_| v.low.unwrap_or(0.0));
        let spread: Vec<_> = of(&SPREAD).map(|v| Some((v.value?.max(0.0), low(v), v.high))).collect();
        let furthest = |points: &[Option<Point>]| {
            let all = points.iter().flatten().flat_map(|(v, a, b)| [Some(*v), *a, *b]).flatten();
            all.map(f64::abs).fold(0.0, f64::max)
        };
        let reach = (furthest(&bias) * 1.1).max(5.0);
        let top = (furthest(&spread) * 1.1).max(5.0);
        [
            Panel { title: "early (-) or late (+) on average, ms", from: -reach, to: reach, points: bias },
            Panel { title: "scatter, ms", from: 0.0, to: top, points: spread },
        ]
    }
}

impl Drawing for ChangesPlot<'_> {
    fn draw<B: DrawingBackend>(&self, area: &DrawingArea<B, Shift>, f: Frame) -> Result<(), PlotError> {
        area.fill(&ink::PAPER).map_err(PlotError::draw)?;
        self.title(area, f)?;
        let area = area.margin(f.px(38.0), 0, 0, 0);
        let (width, _) = area.dim_in_pixel();
        let longest = self.rows.iter().map(|g| g.label.chars().count()).max().unwrap_or(0);
        let names = f.px(24.0 + 6.2 * longest as f64).min(width as i32 / 2);
        let middle = names + (width as i32 - names) * 3 / 5;
        let [bias, spread] = self.panels();
        let (left, right) = area.split_horizontally(middle);
        self.panel(&left, &bias, names, true, f)?;
        self.panel(&right, &spread, f.px(14.0), false, f)
    }
}

impl ChangesPlot<'_> {
    fn panel<B: DrawingBackend>(
        &self,
        area: &DrawingArea<B, Shift>,
        panel: &Panel,
        left: i32,
        named: bool,
        f: Frame,
    ) -> Result<(), PlotError> {
        let rows = self.rows.len() as f64;
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
        for (i, (row, point)) in self.rows.iter().zip(&panel.points).enumerate() {
            let y = i as f64 + 0.5;
            line((panel.from, y), (panel.to, y), ink::FAINT.stroke_width(1))?;
            if named {
                let (_, py) = plot.map_coordinate(&(0.0, y));
                let (_, top) = area.get_base_pixel();
                let text = format!("{} ({})", row.label, row.figures.count(&N));
                area.draw_text(&text, &name, (left - f.px(6.0), py - top + f.px(2.5))).map_err(PlotError::draw)?;
            }
            let Some((value, low, high)) = point else { continue };
            if let (Some(a), Some(b)) = (low, high) {
                line((a.max(panel.from), y), (b.min(panel.to), y), ink::SOFT.stroke_width(f.px(1.6) as u32))?;
            }
            let dot = EmptyElement::at((*value, y)) + Circle::new((0, 0), f.px(3.4), ink::INK.filled());
            plot.draw(&dot).map_err(PlotError::draw)?;
        }
        Ok(())
    }
}
