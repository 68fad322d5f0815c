//! The deviation of every note along the take, string changes marked by kind, missed and extra notes by shape.

use super::canvas::{Drawing, FAMILY, Frame, PlotError, axes, render};
use super::{Format, Size, ink};
use plotters::coord::Shift;
use plotters::prelude::*;
use plotters::style::text_anchor::{HPos, Pos, VPos};
use takegauge_drill::ChangeKind;
use takegauge_review::{NoteRow, ScoreReport, Status};

/// Draws it.
///
/// # Errors
/// [`PlotError::Nothing`] where no note of the take has a time.
pub fn take_plot(report: &ScoreReport, size: Size, format: Format) -> Result<Vec<u8>, PlotError> {
    let timed: Vec<&NoteRow> = report.notes.iter().filter(|n| n.deviation_ms.is_some()).collect();
    if timed.is_empty() {
        return Err(PlotError::Nothing("no note of the take has a time"));
    }
    render(&TakePlot { report, timed }, size, format)
}

struct TakePlot<'a> {
    report: &'a ScoreReport,
    timed: Vec<&'a NoteRow>,
}

/// How a note is drawn: by what kind of change it arrives.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Mark {
    Same,
    Outside,
    Inside,
    Sweep,
    Other,
}

fn mark(n: &NoteRow) -> Mark {
    match n.change.and_then(|c| c.kind) {
        _ if n.change.is_none() => Mark::Same,
        Some(ChangeKind::Outside) => Mark::Outside,
        Some(ChangeKind::Inside) => Mark::Inside,
        Some(ChangeKind::Sweep) => Mark::Sweep,
        _ => Mark::Other,
    }
}

impl TakePlot<'_> {
    /// Half the height of the axis: holds all but the wildest 1 %, at least 10 ms.
    fn reach(&self) -> f64 {
        let mut size: Vec<f64> = self.timed.iter().filter_map(|n| n.deviation_ms).map(f64::abs).collect();
        size.sort_by(f64::total_cmp);
        let at = ((size.len() as f64 * 0.99).ceil() as usize).clamp(1, size.len()) - 1;
        (size[at] * 1.25).max(10.0)
    }
}

impl Drawing for TakePlot<'_> {
    fn draw<B: DrawingBackend>(&self, whole: &DrawingArea<B, Shift>, f: Frame) -> Result<(), PlotError> {
        whole.fill(&ink::PAPER).map_err(PlotError::draw)?;
        let font = |size: f64| (FAMILY, f.text(size)).into_font();
        let title = format!("{}, {:.1} bpm", self.report.drill.name, self.report.timebase.tempo_bpm);
        whole.draw_text(&title, &font(13.0).color(&ink::INK), (f.px(10.0), f.px(6.0))).map_err(PlotError::draw)?;
        let below = whole.margin(f.px(46.0), f.px(6.0), f.px(4.0), f.px(14.0));
        let from = self.timed.iter().filter_map(|n| n.played_s).fold(f64::INFINITY, f64::min);
        let to = self.timed.iter().filter_map(|n| n.played_s).fold(f64::NEG_INFINITY, f64::max);
        let pad = ((to - from) * 0.01).max(0.05);
        let reach = self.reach();
        let time = (from - pad..to + pad, "time in the take, s");
        let area = axes(&below, time, (-reach..reach, "played minus expected, ms (late is up)"), f)?;
        let line = |a: (f64, f64), b: (f64, f64), style: ShapeStyle| area.draw(&PathElement::new(vec![a, b], style));
        let px = |v: f64| f.px(v);
        line((from - pad, 0.0), (to + pad, 0.0), ink::SOFT.stroke_width(1)).map_err(PlotError::draw)?;
        for n in &self.timed {
            let (Some(x), Some(y)) = (n.played_s, n.deviation_ms) else { continue };
            let y = y.clamp(-reach, reach);
            if let Some(u) = n.uncertainty_ms {
                line((x, (y - u).max(-reach)), (x, (y + u).min(reach)), ink::SOFT.stroke_width(1))
                    .map_err(PlotError::draw)?;
            }
            draw_mark(&area, mark(n), (x, y), f)?;
            if n.status == Status::WrongPitch {
                let ring =
                    EmptyElement::at((x, y)) + Circle::new((0, 0), px(6.0), ink::RED.stroke_width(f.px(1.2) as u32));
                area.draw(&ring).map_err(PlotError::draw)?;
            }
        }
        for n in self.report.notes.iter().filter(|n| n.status == Status::Missed) {
            let cross = EmptyElement::at((n.expected_s, -reach * 0.96))
                + Cross::new((0, 0), px(3.5), ink::RED.stroke_width(f.px(1.4) as u32));
            area.draw(&cross).map_err(PlotError::draw)?;
        }
        for e in &self.report.extra {
            let plus = EmptyElement::at((e.played_s, reach * 0.96))
                + PathElement::new(vec![(-px(4.0), 0), (px(4.0), 0)], ink::BLUE.stroke_width(f.px(1.4) as u32))
                + PathElement::new(vec![(0, -px(4.0)), (0, px(4.0))], ink::BLUE.stroke_width(f.px(1.4) as u32));
            area.draw(&plus).map_err(PlotError::draw)?;
        }
        self.legend(whole, f)
    }
}

/// A filled dot for a note on the same string, an open mark for a change: circle outside, diamond inside, triangle sweep.
fn draw_mark<B: DrawingBackend, P: Copy, C: CoordTranslate<From = P>>(
    area: &DrawingArea<B, C>,
    mark: Mark,
    at: P,
    f: Frame,
) -> Result<(), PlotError> {
    let r = f.px(3.0);
    let open = ink::INK.stroke_width(f.px(1.2) as u32);
    let shape = |points: Vec<(i32, i32)>, style: ShapeStyle| EmptyElement::at(at) + PathElement::new(points, style);
    match mark {
        Mark::Same => area.draw(&(EmptyElement::at(at) + Circle::new((0, 0), f.px(1.8), ink::INK.filled()))),
        Mark::Outside => area.draw(&(EmptyElement::at(at) + Circle::new((0, 0), r, open))),
        Mark::Inside => area.draw(&shape(vec![(0, -r - 1), (r + 1, 0), (0, r + 1), (-r - 1, 0), (0, -r - 1)], open)),
        Mark::Sweep => area.draw(&shape(vec![(0, -r), (r, r), (-r, r), (0, -r)], open)),
        Mark::Other => area.draw(&shape(vec![(-r, -r), (r, -r), (r, r), (-r, r), (-r, -r)], open)),
    }
    .map_err(PlotError::draw)
}

impl TakePlot<'_> {
    /// Names the marks that occur, under the title.
    fn legend<B: DrawingBackend>(&self, area: &DrawingArea<B, Shift>, f: Frame) -> Result<(), PlotError> {
        let kinds = [
            (Mark::Same, "same string"),
            (Mark::Outside, "outside change"),
            (Mark::Inside, "inside change"),
            (Mark::Sweep, "sweep"),
            (Mark::Other, "other change"),
        ];
        let y = f.px(34.0);
        let style = (FAMILY, f.text(10.0)).into_font().color(&ink::SOFT).pos(Pos::new(HPos::Left, VPos::Center));
        let mut x = f.px(52.0);
        for (kind, name) in kinds {
            if !self.timed.iter().any(|n| mark(n) == kind) {
                continue;
            }
            draw_mark(area, kind, (x, y), f)?;
            area.draw_text(name, &style, (x + f.px(8.0), y)).map_err(PlotError::draw)?;
            x += f.px(28.0 + 5.4 * name.chars().count() as f64);
        }
        let missed = self.report.notes.iter().filter(|n| n.status == Status::Missed).count();
        let wrong = self.report.notes.iter().filter(|n| n.status == Status::WrongPitch).count();
        let extra = self.report.extra.len();
        let rest = [("x not heard", missed), ("ring: wrong pitch", wrong), ("+ extra", extra)];
        let said: Vec<String> = rest.iter().filter(|r| r.1 > 0).map(|r| format!("{} {}", r.0, r.1)).collect();
        area.draw_text(&said.join("    "), &style, (x, y)).map_err(PlotError::draw)
    }
}
