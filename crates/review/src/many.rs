//! Many takes as two tables: one row a take, one row a note. A take that has no score is a row too, with its reason.
//!
//! `takegauge batch --out takes.parquet` writes them, the Python package and its Spark job hand over the same rows.

use crate::score::{FindingRow, ScoreReport, Summary};
use crate::sheet::{Sheet, Values};
use crate::sheets::{self, word};
use serde::Serialize;

/// Why a take of many has no score, sorted by what to do about it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Unscored {
    /// No drill is known for it, or the drill cannot be read.
    NoDrill,
    /// The recording cannot be read.
    Unreadable,
    /// It could be read and does not fit the drill.
    NotScored,
}

/// What a take of many came to.
#[derive(Debug, Clone, Copy)]
pub struct TakeOutcome<'a> {
    /// The take, as it was named; what joins the two tables.
    pub path: &'a str,
    /// Its score, or why there is none: of which kind, and in words.
    pub score: Result<&'a ScoreReport, (Unscored, &'a str)>,
}

impl<'a> TakeOutcome<'a> {
    fn report(&self) -> Option<&'a ScoreReport> {
        self.score.ok()
    }

    fn summary(&self) -> Option<&'a Summary> {
        self.report().map(|r| &r.summary)
    }

    fn finding(&self) -> Option<&'a FindingRow> {
        self.report()?.findings.first()
    }

    fn status(&self) -> Option<String> {
        match self.score {
            Ok(_) => Some("scored".to_owned()),
            Err((why, _)) => word(why),
        }
    }

    /// The table of takes with this one in it.
    ///
    /// Columns: `path` string; `status` string ("scored", "no_drill", "unreadable", "not_scored"), `reason` string, null
    /// where scored; then, null where not scored, what was read and asked, the tempo, the counts and figures of the
    /// report's `summary` (spread with the ends of its 95 % interval and its n), the limit of hearing, the first finding
    /// (group, measure, value with interval and unit, n, sentence) and how many there are, the warnings a line each, the
    /// seed (null above 2^63) and the version of the program.
    pub fn take_sheet(&self) -> Sheet {
        let sheet = Sheet::default()
            .with("path", &[self], |t| t.path.to_owned())
            .put("status", false, Values::Text(vec![self.status()]))
            .with_some("reason", &[self], |t| t.score.err().map(|(_, why)| why.to_owned()));
        self.verdict(self.figures(self.asked(sheet)))
    }

    /// What was read, what was asked, and the tempo.
    fn asked(&self, sheet: Sheet) -> Sheet {
        let rows = &[self.report()];
        sheet
            .with_some("drill", rows, |r| Some(r.as_ref()?.drill.name.clone()))
            .with_some("drill_notes", rows, |r| Some(r.as_ref()?.drill.notes))
            .with_some("drill_tempo_bpm", rows, |r| Some(r.as_ref()?.drill.tempo_bpm))
            .with_some("sample_rate_hz", rows, |r| Some(r.as_ref()?.take.sample_rate_hz as usize))
            .with_some("channels", rows, |r| Some(usize::from(r.as_ref()?.take.channels)))
            .with_some("channel_used", rows, |r| Some(r.as_ref()?.take.channel_used.clone()))
            .with_some("duration_s", rows, |r| Some(r.as_ref()?.take.duration_s))
            .with_some("tempo_bpm", rows, |r| Some(r.as_ref()?.timebase.tempo_bpm))
            .with_some("asked_tempo_bpm", rows, |r| r.as_ref()?.timebase.asked_tempo_bpm)
            .with_some("tempo_error_pct", rows, |r| Some(r.as_ref()?.timebase.tempo_error_pct))
            .with_some("mode", rows, |r| word(r.as_ref()?.timebase.mode))
            .with_some("tempo_from", rows, |r| word(r.as_ref()?.timebase.tempo_from))
            .with_some("cents_off", rows, |r| Some(r.as_ref()?.timebase.cents_off))
    }

    /// Counts, and figures of the take as a whole.
    fn figures(&self, sheet: Sheet) -> Sheet {
        let (reports, rows) = (&[self.report()], &[self.summary()]);
        sheet
            .with_some("passes", reports, |r| Some(r.as_ref()?.passes.len()))
            .with_some("notes_reached", rows, |s| Some(s.as_ref()?.notes_reached))
            .with_some("played", rows, |s| Some(s.as_ref()?.played))
            .with_some("missed", rows, |s| Some(s.as_ref()?.missed))
            .with_some("wrong_pitch", rows, |s| Some(s.as_ref()?.wrong_pitch))
            .with_some("extra", rows, |s| Some(s.as_ref()?.extra))
            .with_some("errors_at_most_in_100", reports, |r| r.as_ref()?.reliability.at_most_in_100)
            .with_some("clean_repeats", reports, |r| Some(r.as_ref()?.reliability.clean_repeats))
            .with_some("repeats", reports, |r| Some(r.as_ref()?.reliability.repeats))
            .with_some("notes_a_second", rows, |s| Some(s.as_ref()?.notes_a_second))
            .with_some("spread_ms", rows, |s| s.as_ref()?.spread_ms.value)
            .with_some("spread_low_ms", rows, |s| s.as_ref()?.spread_ms.ci95.map(|c| c[0]))
            .with_some("spread_high_ms", rows, |s| s.as_ref()?.spread_ms.ci95.map(|c| c[1]))
            .with_some("spread_n", rows, |s| Some(s.as_ref()?.spread_ms.n))
            .with_some("slips", rows, |s| Some(s.as_ref()?.slips))
            .with_some("detector_sd_ms", rows, |s| Some(s.as_ref()?.detector_sd_ms))
            .with_some("raw_sd_ms", rows, |s| s.as_ref()?.raw_sd_ms)
            .with_some("ioi_sd_ms", rows, |s| s.as_ref()?.ioi_sd_ms.value)
            .with_some("swing_pct", rows, |s| s.as_ref()?.swing_pct.as_ref()?.value)
            .with_some("hearing_limit_ms", reports, |r| r.as_ref()?.search.hearing_limit_ms)
    }

    /// What the report says first, and what made it.
    fn verdict(&self, sheet: Sheet) -> Sheet {
        let (reports, rows) = (&[self.report()], &[self.finding()]);
        sheet
            .with_some("findings", reports, |r| Some(r.as_ref()?.findings.len()))
            .with_some("may_be_instrument", reports, |r| Some(r.as_ref()?.may_be_instrument.len()))
            .with_some("finding", rows, |f| Some(f.as_ref()?.text.clone()))
            .with_some("finding_group", rows, |f| Some(f.as_ref()?.group.to_string()))
            .with_some("finding_measure", rows, |f| word(f.as_ref()?.measure))
            .with_some("finding_value", rows, |f| Some(f.as_ref()?.value))
            .with_some("finding_low", rows, |f| f.as_ref()?.ci95.map(|c| c[0]))
            .with_some("finding_high", rows, |f| f.as_ref()?.ci95.map(|c| c[1]))
            .with_some("finding_unit", rows, |f| word(f.as_ref()?.unit))
            .with_some("finding_n", rows, |f| Some(f.as_ref()?.n))
            .with_some("warnings", reports, |r| Some(r.as_ref()?.warnings.join("\n")))
            .with_some("seed", reports, |r| i64::try_from(r.as_ref()?.tool.seed).ok())
            .with_some("version", reports, |r| Some(r.as_ref()?.tool.version.clone()))
    }

    /// The table of notes with those of this take: `path`, then the columns of [`ScoreReport::note_sheet`]. Of a take
    /// without a score none.
    pub fn note_sheet(&self) -> Sheet {
        let notes = sheets::notes(self.report().map_or(&[], |r| r.notes.as_slice()));
        let paths = vec![Some(self.path.to_owned()); notes.rows()];
        let mut sheet = Sheet::default().put("path", false, Values::Text(paths));
        sheet.columns.extend(notes.columns);
        sheet
    }
}
