//! Scatter and lateness of each kind of change against tempo, with the tempo at which it comes apart.

use super::{against, main_groups};
use crate::plot::canvas::{Drawing, FAMILY, Frame, PlotError, axes, render};
use crate::plot::{Format, Size, ink};
use plotters::coord::Shift;
use plotters::prelude::*;
use plotters::style::text_anchor::{HPos, Pos, VPos};
use takegauge_review::{LadderGroupRow, LadderReport};

/// Draws it: lateness left, scatter right.
///
/// # Errors
/// [`PlotError::Nothing`] with fewer than two tempos or no group with figures.
pub fn ladder_plot(report: &LadderReport, size: Size, format: Format) -> Result<Vec<u8>, PlotError> {
    let groups = main_groups(report);
    if report.tempos.len() < 2 || groups.is_empty() {
        return Err(PlotError::Nothing("a ladder needs two tempos and a group of notes with figures"));
    }
    render(&LadderPlot { report, groups }, size, format)
}

struct LadderPlot<'a> {
    report: &'a LadderReport,
    groups: Vec<&'a LadderGroupRow>,
}

type Measure = fn(&takegauge_review::AtTempo) -> Option<f64>;

impl Drawing for LadderPlot<'_> {
    fn draw<B: DrawingBackend>(&self, area: &DrawingArea<B, Shift>, f: Frame) -> Result<(), PlotError> {
        area.fill(&ink::PAPER).map_err(PlotError::draw)?;
        let title = (FAMILY, f.text(13.0)).into_font().color(&ink::INK);
        area.draw_text(&self.report.drill, &title, (f.px(10.0), f.px(6.0))).map_err(PlotError::draw)?;
        self.legend(area, f)?;
        let below = area.margin(f.px(46.0), f.px(6.0), f.px(6.0), f.px(14.0));
        let (left, right) = below.split_horizontally((below.dim_in_pixel().0 / 2) as i32);
        let late = format!("late (+) against {}, ms", against(self.report));
        self.panel(&left, &late, |a| a.bias_ms, true, f)?;
        self.panel(&right, "scatter, ms", |a| a.spread_ms, false, f)
    }
}

/// Line style and mark of a group by its place: told by shape as well as shade.
fn shade(i: usize) -> RGBColor {
    [ink::SOFT, ink::RED, ink::BLUE, ink::INK][i % 4]
}

impl LadderPlot<'_> {
    fn panel<B: DrawingBackend>(
        &self,
        area: &DrawingArea<B, Shift>,
        name: &str,
        measure: Measure,
        signed: bool,
        f: Frame,
    ) -> Result<(), PlotError> {
        let tempos: Vec<f64> = self.report.tempos.iter().map(|t| t.tempo_bpm).collect();
        let (from, to) = (tempos[0] - 6.0, tempos[tempos.len() - 1] + 6.0);
        let values = self.groups.iter().flat_map(|g| g.by_tempo.iter().filter_map(measure));
        let (low, high) = values.fold((0.0f64, 5.0f64), |(a, b), v| (a.min(v), b.max(v)));
        let low = if signed { low.min(-2.0) * 1.15 } else { 0.0 };
        let inner = area.margin(0, 0, 0, f.px(8.0));
        let plot = axes(&inner, (from..to, "tempo played, bpm"), (low..high * 1.12, name), f)?;
        for (i, g) in self.groups.iter().enumerate() {
            let colour = shade(i);
            if let (Some(at), Some([a, b])) = (g.comes_apart_bpm, g.comes_apart_ci95_bpm) {
                let band = Rectangle::new([(a.max(from), low), (b.min(to), high * 1.12)], colour.mix(0.08).filled());
                plot.draw(&band).map_err(PlotError::draw)?;
                let line = vec![(at, low), (at, high * 1.12)];
                plot.draw(&PathElement::new(line, colour.stroke_width(f.px(1.0) as u32))).map_err(PlotError::draw)?;
            }
            let points: Vec<(f64, f64)> =
                g.by_tempo.iter().filter_map(|a| measure(a).map(|v| (a.tempo_bpm, v))).collect();
            if points.is_empty() {
                continue;
            }
            plot.draw(&PathElement::new(points.clone(), colour.stroke_width(f.px(1.4) as u32)))
                .map_err(PlotError::draw)?;
            for p in points {
                mark(&plot, i, p, f)?;
            }
        }
        Ok(())
    }

    fn legend<B: DrawingBackend>(&self, area: &DrawingArea<B, Shift>, f: Frame) -> Result<(), PlotError> {
        let style = (FAMILY, f.text(10.0)).into_font().color(&ink::SOFT).pos(Pos::new(HPos::Left, VPos::Center));
        let (mut x, y) = (f.px(52.0), f.px(34.0));
        for (i, g) in self.groups.iter().enumerate() {
            mark(area, i, (x, y), f)?;
            let apart = g.comes_apart_bpm.map(|b| format!(" (from {b:.0} bpm)")).unwrap_or_default();
            let text = format!("{}{apart}", g.label);
            area.draw_text(&text, &style, (x + f.px(9.0), y)).map_err(PlotError::draw)?;
            x += f.px(30.0 + 5.4 * text.chars().count() as f64);
        }
        Ok(())
    }
}

fn mark<B: DrawingBackend, P: Copy, C: CoordTranslate<From = P>>(
    area: &DrawingArea<B, C>,
    i: usize,
    at: P,
    f: Frame,
) -> Result<(), PlotError> {
    let (r, style) = (f.px(3.2), shade(i).filled());
    let shape = |points: Vec<(i32, i32)>| EmptyElement::at(at) + Polygon::new(points, style);
    match i % 4 {
        0 => area.draw(&(EmptyElement::at(at) + Circle::new((0, 0), f.px(2.4), style))),
        1 => area.draw(&shape(vec![(0, -r - 1), (r + 1, 0), (0, r + 1), (-r - 1, 0)])),
        2 => area.draw(&(EmptyElement::at(at) + Circle::new((0, 0), r, shade(i).stroke_width(f.px(1.4) as u32)))),
        _ => area.draw(&shape(vec![(0, -r), (r, r), (-r, r)])),
    }
    .map_err(PlotError::draw)
}
