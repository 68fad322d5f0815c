//! Rows of the report that restate what was measured: notes, extra attacks, passes, sections.

use std::collections::{BTreeMap, BTreeSet};
use takegauge_align::Status;
use takegauge_measure::Measured;

use crate::groups::Group;
use crate::round::{milli, milli_or_zero, seconds};
use crate::score::{
    ChangeOfNote, DrillSection, ExtraRow, Mode, NoteRow, PassRow, SetAsideRow, TimebaseSection, Waveform,
};
use crate::take::{Input, Judged};

/// All notes of all passes. `reached` and `local_ms` run in parallel; notes not reached are filled in from the drill.
/// A note that some pass reached is listed as not reached in no other: a breakdown does not hide a whole pass.
pub(crate) fn notes(input: &Input, reached: &[Judged], local_ms: &[Option<f64>], groups: &[Group]) -> Vec<NoteRow> {
    let mut entered = vec![Vec::new(); reached.len()];
    for (k, group) in groups.iter().enumerate() {
        for &i in &group.members {
            entered[i].push(k);
        }
    }
    let mut seen = reached.iter().zip(local_ms).zip(entered).peekable();
    let mut rows = Vec::new();
    let reached_once: BTreeSet<usize> = reached.iter().map(|n| n.grid.index).collect();
    let mut listed = BTreeSet::new();
    for (pass, p) in input.measured.alignment.passes.iter().enumerate() {
        for (k, placed) in p.notes.iter().enumerate() {
            let not_reached = placed.status == Status::NotReached;
            if not_reached && (reached_once.contains(&placed.index) || !listed.insert(placed.index)) {
                continue;
            }
            let Some(g) = input.grid.get(placed.index) else { continue };
            let known = seen.next_if(|((n, _), _)| n.pass == pass && n.grid.index == placed.index);
            let (known, groups) = known.map_or((None, Vec::new()), |(known, groups)| (Some(known), groups));
            let measure = input.measured.notes.get(pass).and_then(|m| m.get(k));
            let smear = measure.and_then(|m| m.smear.as_ref());
            let played = placed.played.filter(|t| t.0.is_finite());
            rows.push(NoteRow {
                index: placed.index,
                repeat: g.repeat,
                position: g.position,
                pass,
                status: placed.status,
                expected_s: seconds(placed.expected.0),
                played_s: played.map(|t| seconds(t.0)),
                deviation_ms: played.map(|t| milli_or_zero((t.0 - placed.expected.0) * 1e3)),
                local_deviation_ms: known.and_then(|(_, l)| *l).and_then(milli),
                uncertainty_ms: placed.uncertainty.filter(|_| played.is_some()).and_then(|u| milli(u.0)),
                rise_ms: measure.and_then(|m| m.rise).filter(|_| played.is_some()).and_then(|r| milli(r.0)),
                string: g.string(),
                fret: g.fret(),
                midi: g.keys.first().map_or(0, |key| key.0),
                heard_midi: measure.and_then(|m| m.heard).or(placed.heard).map(|key| key.0),
                stroke: g.stroke,
                stroke_sure: known.is_some_and(|(n, _)| n.stroke_sure),
                change: g.change.map(|c| ChangeOfNote {
                    from: c.from,
                    to: c.to,
                    kind: c.kind,
                    leaves_on: c.leaves_on,
                    adjacent: c.adjacent,
                    after_gap: c.after_gap,
                }),
                level_db: measure.and_then(|m| m.level).and_then(|l| milli(l.0)),
                smear_ms: smear.and_then(|s| s.as_ref().ok()).and_then(|ms| milli(ms.0)),
                smear_withheld: smear.and_then(|s| s.as_ref().err()).cloned(),
                groups,
            });
        }
    }
    rows
}

pub(crate) fn extra(measured: &Measured) -> Vec<ExtraRow> {
    let row = |x: &takegauge_measure::ExtraMeasure| ExtraRow {
        played_s: seconds(x.played.0),
        level_db: milli_or_zero(x.level.0),
        heard_midi: x.heard.map(|key| key.0),
        after_index: x.extra.after_index,
        pass: x.extra.pass,
    };
    measured.extra.iter().map(row).collect()
}

pub(crate) fn set_aside(measured: &Measured) -> Vec<SetAsideRow> {
    let rows = measured.alignment.set_aside.iter();
    rows.map(|s| SetAsideRow { from_s: seconds(s.from.0), to_s: seconds(s.to.0), why: s.why.clone() }).collect()
}

pub(crate) fn passes(measured: &Measured, reached: &[Judged], local_ms: &[Option<f64>]) -> Vec<PassRow> {
    let mut by_place = BTreeMap::<usize, (f64, usize)>::new();
    for (n, v) in reached.iter().zip(local_ms) {
        if let Some(v) = v {
            let place = by_place.entry(n.grid.position).or_default();
            *place = (place.0 + v, place.1 + 1);
        }
    }
    let heard: usize = by_place.values().map(|p| p.1).sum();
    // Places give away a part of the scatter to their own means.
    let lost = 1.0 - by_place.len() as f64 / heard.max(1) as f64;
    let scatter = |pass: usize| {
        let about = |(n, v): (&Judged, &Option<f64>)| {
            let (sum, count) = by_place.get(&n.grid.position).copied().unwrap_or((0.0, 1));
            v.filter(|_| n.pass == pass).map(|v| v - sum / count as f64)
        };
        let mut values: Vec<f64> = reached.iter().zip(local_ms).filter_map(about).collect();
        let enough = values.len() >= crate::estimates::LEAST_FOR_ESTIMATES && lost >= 0.5;
        takegauge_stats::robust::winsorise(&mut values, crate::residuals::SLIP_MADS).ok().filter(|_| enough)?;
        milli((values.iter().map(|v| v * v).sum::<f64>() / values.len() as f64 / lost).sqrt())
    };
    let errors = |pass: usize| {
        let wrong = reached.iter().filter(|n| n.pass == pass && n.grid.picked() && (n.missed() || n.wrong())).count();
        wrong + measured.extra.iter().filter(|x| x.extra.pass == pass).count()
    };
    let row = |(pass, p): (usize, &takegauge_align::Pass)| PassRow {
        played: reached.iter().filter(|n| n.pass == pass && n.deviation.is_some() && !n.wrong()).count(),
        errors: errors(pass),
        scatter_ms: scatter(pass),
        pass,
        offset_s: seconds(p.offset.0),
        tempo_bpm: milli_or_zero(p.tempo.0),
        from_s: seconds(p.from.0),
        to_s: seconds(p.to.0),
        notes_reached: reached.iter().filter(|n| n.pass == pass).count(),
    };
    measured.alignment.passes.iter().enumerate().map(row).collect()
}

pub(crate) fn drill(input: &Input) -> DrillSection {
    let d = input.drill;
    let mut tuning = d.tuning.echo();
    if d.capo > 0 {
        tuning.push_str(&format!(", capo {}", d.capo));
    }
    if (d.a4.0 - 440.0).abs() > 0.005 {
        tuning.push_str(&format!(", A4 = {:.1} Hz", d.a4.0));
    }
    DrillSection {
        name: d.name.clone(),
        notes: input.grid.len(),
        tempo_bpm: milli_or_zero(d.tempo.0),
        steps_per_beat: d.steps_per_beat,
        repeats: d.repeats,
        tuning,
        picking: d.picking,
        first_stroke: input.first_stroke,
    }
}

/// `reached` gives the average distance from a click.
pub(crate) fn timebase(input: &Input, reached: &[Judged]) -> TimebaseSection {
    let alignment = &input.measured.alignment;
    // The longest pass speaks for the take, the first of equals: a false start may come before it.
    let length = |i: &usize| reached.iter().filter(|n| n.pass == *i).count();
    let longest = (0..alignment.passes.len()).rev().max_by_key(length).and_then(|i| alignment.passes.get(i));
    let (offset, tempo) = longest.map_or((0.0, input.drill.tempo.0), |p| (p.offset.0, p.tempo.0));
    let (from_click_ms, from_click_withheld) = match (input.mode, input.latency) {
        (Mode::Steady, _) => (None, Some("no click was given".to_owned())),
        (Mode::Click, None) => {
            let how =
                "measure it once on the page that records (takegauge page, Record) or with click --loopback-check";
            (None, Some(format!("the delay of the set-up is not known; {how}")))
        }
        (Mode::Click, Some(latency)) => {
            let all: Vec<f64> = reached.iter().filter_map(|n| n.deviation).collect();
            match takegauge_stats::Sample::new(&all) {
                Ok(s) => (milli(takegauge_stats::robust::median(s) - latency.0), None),
                Err(_) => (None, Some("no note was heard".to_owned())),
            }
        }
    };
    TimebaseSection {
        offset_s: seconds(offset),
        tempo_bpm: milli_or_zero(tempo),
        asked_tempo_bpm: input.asked().and_then(|b| milli(b.0)),
        tempo_error_pct: milli_or_zero(100.0 * (tempo / input.drill.tempo.0 - 1.0)),
        mode: input.mode,
        tempo_from: alignment.tempo_from,
        cents_off: milli_or_zero(alignment.cents_off),
        from_click_ms,
        from_click_withheld,
    }
}

pub(crate) fn waveform(input: &Input) -> Option<Waveform> {
    let e = &input.measured.envelope;
    let thousandths = |x: f32| if x.is_finite() { (x * 1000.0).round().clamp(-32_000.0, 32_000.0) as i16 } else { 0 };
    input.with_waveform.then(|| Waveform {
        step_s: seconds(e.step.0),
        low: e.extremes.iter().map(|(low, _)| thousandths(*low)).collect(),
        high: e.extremes.iter().map(|(_, high)| thousandths(*high)).collect(),
    })
}
