//! The columns that the report's script draws from. Seconds to 0.1 ms, milliseconds to 0.01 ms.

use serde::Serialize;
use takegauge_drill::{ChangeKind, Stroke};
use takegauge_review::{NoteRow, SHORTEST_SMEAR, ScoreReport, Status, Waveform};

/// Most stretches of waveform in a report; more would not show and make the file large.
const STRETCHES: usize = 6_000;

#[derive(Serialize)]
pub(super) struct Data {
    duration_s: f64,
    beat_s: f64,
    reach_ms: f64,
    shortest_ringing_ms: f64,
    /// From, to, offset and beat of each pass, for the click.
    grids: Vec<[f64; 4]>,
    notes: Columns,
    /// Time and level.
    extra: Vec<[f64; 2]>,
    wave: Option<Wave>,
    #[serde(skip_serializing_if = "Option::is_none")]
    film: Option<Film>,
}

/// The film, for its player.
#[derive(Serialize)]
pub(super) struct Film {
    name: String,
    /// Where it is, seen from the report; `null` where the reader has to choose it.
    src: Option<String>,
    offset_s: f64,
    drift_ppm: f64,
    duration_s: f64,
    covers_s: [f64; 2],
    frame_ms: Option<f64>,
}

#[derive(Serialize, Default)]
struct Columns {
    index: Vec<usize>,
    pass: Vec<usize>,
    repeat: Vec<usize>,
    position: Vec<usize>,
    /// When it was played, or expected where it was not heard.
    at: Vec<f64>,
    exp: Vec<f64>,
    dev: Vec<Option<f64>>,
    unc: Vec<Option<f64>>,
    /// Deviation from the local tempo, where a film shows the notes.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    local: Vec<Option<f64>>,
    string: Vec<u8>,
    fret: Vec<u8>,
    midi: Vec<u8>,
    heard: Vec<u8>,
    /// 0 none, 1 down, 2 up.
    stroke: Vec<u8>,
    /// 0 same string, 1 outside, 2 inside, 3 sweep, 4 other change.
    kind: Vec<u8>,
    /// The string left, 0 where it stays.
    from: Vec<u8>,
    /// 0 played, 1 not heard, 2 wrong pitch, 3 no verdict.
    status: Vec<u8>,
    smear: Vec<Option<f64>>,
}

#[derive(Serialize)]
struct Wave {
    step_s: f64,
    peak: i16,
    low: Vec<i16>,
    high: Vec<i16>,
}

impl Data {
    pub(super) fn of(report: &ScoreReport, film_at: Option<&str>) -> Self {
        let mut shown: Vec<&NoteRow> = report.notes.iter().filter(|n| n.status != Status::NotReached).collect();
        let at = |n: &NoteRow| n.played_s.unwrap_or(n.expected_s);
        shown.sort_by(|a, b| at(a).total_cmp(&at(b)));
        let mut columns = Columns::default();
        for n in &shown {
            columns.push(n, at(n));
        }
        if report.camera.is_some() {
            columns.local = shown.iter().map(|n| n.local_deviation_ms.map(|v| round(v, 100.0))).collect();
        }
        let beat = 60.0 / report.timebase.tempo_bpm.max(1.0);
        Self {
            duration_s: report.take.duration_s,
            beat_s: round(beat, 1e4),
            reach_ms: reach(&shown),
            shortest_ringing_ms: SHORTEST_SMEAR.0,
            grids: report.passes.iter().map(|p| [p.from_s, p.to_s, p.offset_s, 60.0 / p.tempo_bpm.max(1.0)]).collect(),
            notes: columns,
            extra: report.extra.iter().map(|e| [round(e.played_s, 1e4), round(e.level_db, 10.0)]).collect(),
            wave: report.waveform.as_ref().map(thin),
            film: Film::of(report, film_at),
        }
    }
}

impl Film {
    /// The film of a report that has one, at its address where that is known.
    pub(super) fn of(report: &ScoreReport, film_at: Option<&str>) -> Option<Self> {
        report.camera.as_ref().map(|c| Self {
            name: file_name(&c.path),
            src: film_at.map(str::to_owned),
            offset_s: c.offset_s,
            drift_ppm: c.drift_ppm,
            duration_s: c.duration_s,
            covers_s: c.covers_s,
            frame_ms: c.frame_ms,
        })
    }
}

impl Columns {
    fn push(&mut self, n: &NoteRow, at: f64) {
        self.index.push(n.index);
        self.pass.push(n.pass);
        self.repeat.push(n.repeat);
        self.position.push(n.position);
        self.at.push(round(at, 1e4));
        self.exp.push(round(n.expected_s, 1e4));
        self.dev.push(n.deviation_ms.map(|v| round(v, 100.0)));
        self.unc.push(n.uncertainty_ms.map(|v| round(v, 100.0)));
        self.string.push(n.string);
        self.fret.push(n.fret);
        self.midi.push(n.midi);
        self.heard.push(n.heard_midi.unwrap_or(0));
        self.stroke.push(match n.stroke {
            None => 0,
            Some(Stroke::Down) => 1,
            Some(Stroke::Up) => 2,
        });
        let change = n.change.as_ref();
        self.kind.push(match change.map(|c| c.kind) {
            None => 0,
            Some(Some(ChangeKind::Outside)) => 1,
            Some(Some(ChangeKind::Inside)) => 2,
            Some(Some(ChangeKind::Sweep)) => 3,
            Some(_) => 4,
        });
        self.from.push(change.map_or(0, |c| c.from));
        self.status.push(match n.status {
            Status::Played | Status::NotReached => 0,
            Status::Missed => 1,
            Status::WrongPitch => 2,
            Status::NotJudged => 3,
        });
        self.smear.push(n.smear_ms.map(|v| round(v, 10.0)));
    }
}

/// The last part of a path, as either kind of system writes it.
pub(super) fn file_name(path: &str) -> String {
    path.rsplit(['/', '\\']).next().unwrap_or(path).to_owned()
}

pub(super) fn round(x: f64, steps: f64) -> f64 {
    (x * steps).round() / steps
}

/// Half the height of the still axis: all but the wildest 1 % of deviations, at least 10 ms, whole milliseconds.
fn reach(notes: &[&NoteRow]) -> f64 {
    let mut sizes: Vec<f64> = notes.iter().filter_map(|n| n.deviation_ms).map(f64::abs).collect();
    sizes.sort_by(f64::total_cmp);
    let Some(last) = sizes.len().checked_sub(1) else { return 10.0 };
    let at = ((sizes.len() as f64 * 0.99).ceil() as usize).clamp(1, last + 1) - 1;
    (sizes[at] * 1.25).max(10.0).ceil()
}

/// At most [`STRETCHES`] stretches, each the extremes of those it joins.
fn thin(w: &Waveform) -> Wave {
    let join = w.low.len().div_ceil(STRETCHES).max(1);
    let low: Vec<i16> = w.low.chunks(join).map(|c| c.iter().copied().min().unwrap_or(0)).collect();
    let high: Vec<i16> = w.high.chunks(join).map(|c| c.iter().copied().max().unwrap_or(0)).collect();
    let peak = low.iter().map(|v| v.saturating_neg()).chain(high.iter().copied()).max().unwrap_or(0);
    Wave { step_s: w.step_s * join as f64, peak, low, high }
}
