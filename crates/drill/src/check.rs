//! What is doubtful about a drill that reads without error. A doubt forbids nothing: the drill can be scored.

use crate::changes::{ChangeCount, change_counts};
use crate::timing::{TICKS, Timing};
use crate::{AfterGap, Drill, GridNote, Picking, Sounding, Stroke};
use std::collections::BTreeMap;

/// What kind of doubt it is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, serde::Serialize)]
#[serde(rename_all = "snake_case")]
pub enum DoubtKind {
    /// The strokes of one playing of the line are the other way round in the next.
    StrokesFlip,
    /// The three `after_gap` rules give different strokes.
    GapRules,
    /// A bar line does not stand where the bar ends.
    Bars,
    /// The line does not end on a beat, so that repeats start off the beat.
    OffBeat,
    /// Frets too far apart for one hand.
    Stretch,
    /// Notes faster than a pick goes.
    TooFast,
    /// Changes at which ringing over cannot be told: the two notes share partials.
    SharedPartials,
    /// A legato note that cannot sound as written.
    Legato,
    /// Too few changes of a kind, or of a pair of strings, for figures.
    FewChanges,
}

/// One thing to look at before recording.
#[derive(Debug, Clone, PartialEq, Eq, serde::Serialize)]
pub struct Doubt {
    /// What kind it is.
    pub kind: DoubtKind,
    /// The steps of the line it is about, from 0; empty where it is about the whole line.
    pub positions: Vec<usize>,
    /// What it is and what can be done, in a sentence or two; steps counted from 1.
    pub text: String,
}

/// Notes a second above which a line is doubted (common practice, no source).
const FASTEST: f64 = 20.0;
/// Frets between lowest and highest that one hand position spans (common practice, no source).
const SPAN: u8 = 6;
/// Fewest changes of a kind for which figures say something; the group rule of the report.
const FEWEST: usize = 8;
/// So many pairs that stay short are named.
const MOST_NAMED: usize = 6;

impl Drill {
    /// Everything doubtful about the drill, the weightiest first.
    pub fn check(&self) -> Vec<Doubt> {
        let grid = self.grid();
        let mut doubts = Vec::new();
        self.strokes_flip(&mut doubts);
        self.gap_rules(&grid, &mut doubts);
        self.bars_close(&mut doubts);
        self.off_beat(&mut doubts);
        stretch(&grid, &mut doubts);
        too_fast(&grid, &mut doubts);
        legato(&grid, &mut doubts);
        shared_partials(&grid, &mut doubts);
        few_changes(self, &grid, &mut doubts);
        doubts
    }

    /// The same drill played so many times.
    pub fn repeated(&self, repeats: u32) -> Self {
        Self { repeats, ..self.clone() }
    }

    fn strokes_flip(&self, doubts: &mut Vec<Doubt>) {
        let grid = self.repeated(2).grid();
        let (first, second) = grid.split_at(grid.len() / 2);
        if first.iter().zip(second).all(|(a, b)| a.stroke == b.stroke) {
            return;
        }
        let picked = first.iter().filter(|n| n.picked()).count();
        let odd = if picked % 2 == 1 { ", an odd count" } else { "" };
        doubts.push(Doubt {
            kind: DoubtKind::StrokesFlip,
            positions: Vec::new(),
            text: format!(
                "The line has {picked} picked notes{odd}: every second time through, down and up trade places, and with \
                 them inside and outside. If that is not meant, add or take away a note, hammer one, or write after_gap = \"restart\" \
                 and end on a rest."
            ),
        });
    }

    fn gap_rules(&self, grid: &[GridNote], doubts: &mut Vec<Doubt>) {
        // A rule other than the default was chosen on purpose.
        if !matches!(self.picking, Picking::Alternate | Picking::Economy) || self.after_gap != AfterGap::Next {
            return;
        }
        let by = |after_gap: AfterGap| Self { after_gap, ..self.clone() }.grid();
        let (next, hand, restart) = (by(AfterGap::Next), by(AfterGap::Hand), by(AfterGap::Restart));
        let pause = |n: &GridNote| n.index > 0 && (n.after_gap || hand[n.index].stroke != next[n.index].stroke);
        let differs = |n: &&GridNote| {
            let strokes = (next[n.index].stroke, hand[n.index].stroke, restart[n.index].stroke);
            n.picked() && (strokes.0 != strokes.1 || strokes.1 != strokes.2)
        };
        let Some(note) = grid.iter().filter(|n| pause(n)).find(differs) else { return };
        let word = |s: Option<Stroke>| if s == Some(Stroke::Up) { "up" } else { "down" };
        let i = note.index;
        doubts.push(Doubt {
            kind: DoubtKind::GapRules,
            positions: vec![note.position],
            text: format!(
                "After the gap before step {} the rules differ: next gives {}, hand {}, restart {}. This drill follows next; \
                 write the rule that is played (after_gap = \"restart\"), or a stroke (d or u) on the note.",
                note.position + 1,
                word(next[i].stroke),
                word(hand[i].stroke),
                word(restart[i].stroke),
            ),
        });
    }

    fn bars_close(&self, doubts: &mut Vec<Doubt>) {
        let timing = Timing::of(self);
        let bar = TICKS * u64::from(self.beats_per_bar.max(1));
        let pickup = timing.starts.get(usize::from(self.pickup_steps)).copied().unwrap_or(0) % bar;
        let open: Vec<usize> = self
            .bars
            .iter()
            .copied()
            .filter(|b| {
                let tick = timing.starts.get(*b).copied().unwrap_or(0);
                tick % bar != pickup && *b != 0 && !(*b == self.line.len() && tick % bar == 0)
            })
            .collect();
        if let Some(first) = open.first() {
            doubts.push(Doubt {
                kind: DoubtKind::Bars,
                text: format!(
                    "{} of {} bar lines do not stand where a bar of {} beats ends, the first before step {}.",
                    open.len(),
                    self.bars.len(),
                    self.beats_per_bar,
                    first + 1
                ),
                positions: open,
            });
        }
    }

    fn off_beat(&self, doubts: &mut Vec<Doubt>) {
        let ticks = Timing::of(self).line_ticks();
        if self.repeats > 1 && !ticks.is_multiple_of(TICKS) {
            doubts.push(Doubt {
                kind: DoubtKind::OffBeat,
                positions: Vec::new(),
                text: format!(
                    "The line lasts {:.3} beats, so that repeats start off the beat of a click. Add a rest or take a \
                     note away if that is not meant.",
                    ticks as f64 / TICKS as f64
                ),
            });
        }
    }
}

/// Lowest and highest fretted fret among notes struck together or in a row without a gap.
fn stretch(grid: &[GridNote], doubts: &mut Vec<Doubt>) {
    let frets = |n: &GridNote| -> Vec<u8> {
        if n.dead { Vec::new() } else { n.fingered.iter().map(|f| f.fret).filter(|f| *f > 0).collect() }
    };
    let span = |f: &[u8]| f.iter().max().copied().unwrap_or(0) - f.iter().min().copied().unwrap_or(0);
    let mut positions = Vec::new();
    for (i, note) in grid.iter().enumerate() {
        let chord = frets(note);
        let pair = match grid.get(i + 1) {
            Some(next) if !next.after_gap => [chord.clone(), frets(next)].concat(),
            _ => chord.clone(),
        };
        if span(&chord) >= SPAN || span(&pair) > SPAN {
            positions.push(note.position);
        }
    }
    positions.sort_unstable();
    positions.dedup();
    if let Some(first) = positions.first() {
        doubts.push(Doubt {
            kind: DoubtKind::Stretch,
            text: format!(
                "From step {} the hand must reach {SPAN} frets or more at once or from note to note: a missed note \
                 there may be the fretting hand's.",
                first + 1
            ),
            positions,
        });
    }
}

fn too_fast(grid: &[GridNote], doubts: &mut Vec<Doubt>) {
    let picked: Vec<&GridNote> = grid.iter().filter(|n| n.picked()).collect();
    let shortest = picked.windows(2).map(|w| (w[1].expected.0 - w[0].expected.0, w[1].position));
    let Some((distance, position)) = shortest.min_by(|a, b| a.0.total_cmp(&b.0)) else { return };
    if distance < 1.0 / FASTEST {
        doubts.push(Doubt {
            kind: DoubtKind::TooFast,
            positions: vec![position],
            text: format!(
                "At step {} notes come {:.1} a second: faster than strokes are played. Is the tempo in quarter notes?",
                position + 1,
                1.0 / distance.max(1e-6)
            ),
        });
    }
}

fn legato(grid: &[GridNote], doubts: &mut Vec<Doubt>) {
    let odd = |i: usize, note: &GridNote| {
        let before = i.checked_sub(1).and_then(|b| grid.get(b)).filter(|b| b.string() == note.string());
        match (note.sounding, before) {
            (Sounding::Picked, _) => false,
            (_, None) => true,
            (Sounding::HammerOn, Some(b)) => note.fret() <= b.fret(),
            (Sounding::PullOff, Some(b)) => note.fret() >= b.fret(),
        }
    };
    let mut positions: Vec<usize> =
        grid.iter().enumerate().filter(|(i, n)| odd(*i, n)).map(|(_, n)| n.position).collect();
    positions.sort_unstable();
    positions.dedup();
    if let Some(first) = positions.first() {
        doubts.push(Doubt {
            kind: DoubtKind::Legato,
            text: format!(
                "Step {}: a hammer-on needs a lower note before it on its string, a pull-off a higher one.",
                first + 1
            ),
            positions,
        });
    }
}

/// Unison, octave, fifth and their octaves share strong partials; there ringing over is withheld.
fn shared_partials(grid: &[GridNote], doubts: &mut Vec<Doubt>) {
    let mut pairs: BTreeMap<(u8, u8), Vec<usize>> = BTreeMap::new();
    let mut changes = 0usize;
    for w in grid.windows(2) {
        let Some(change) = w[1].change.filter(|c| !c.after_gap && !w[0].dead && !w[1].dead) else { continue };
        changes += 1;
        let (Some(a), Some(b)) = (w[0].keys.first(), w[1].keys.first()) else { continue };
        if matches!(a.0.abs_diff(b.0) % 12, 0 | 7) {
            pairs.entry((change.from, change.to)).or_default().push(w[1].position);
        }
    }
    let count: usize = pairs.values().map(Vec::len).sum();
    if count * 2 <= changes {
        return;
    }
    let mut positions: Vec<usize> = pairs.values().flatten().copied().collect();
    positions.sort_unstable();
    positions.dedup();
    let names: Vec<_> = pairs.keys().map(|(from, to)| format!("{from} to {to}")).collect();
    doubts.push(Doubt {
        kind: DoubtKind::SharedPartials,
        positions,
        text: format!(
            "At {count} of {changes} string changes (from string {}) the two notes are a unison, octave or fifth apart: \
             ringing over cannot be measured there. Other frets would show it.",
            names.join(", ")
        ),
    });
}

/// A report has a row for every kind of change and one for every pair of strings in each kind.
fn few_changes(drill: &Drill, grid: &[GridNote], doubts: &mut Vec<Doubt>) {
    let pairs = change_counts(grid);
    let short: Vec<_> = pairs.iter().filter(|p| p.change.kind.is_some() && p.count < FEWEST).collect();
    if short.is_empty() {
        return;
    }
    let mut kinds: BTreeMap<crate::ChangeKind, usize> = BTreeMap::new();
    for pair in &pairs {
        if let Some(kind) = pair.change.kind {
            *kinds.entry(kind).or_default() += pair.count;
        }
    }
    let few: Vec<_> = kinds
        .iter()
        .filter(|(_, n)| **n < FEWEST)
        .map(|(kind, n)| format!("{} {n}", crate::kind_words(Some(*kind))))
        .collect();
    let of_kinds =
        if few.is_empty() { String::new() } else { format!("Few string changes of a kind ({}). ", few.join(", ")) };
    let mut names: Vec<_> = short
        .iter()
        .take(MOST_NAMED)
        .map(|p| format!("{} to {} {} {}", p.change.from, p.change.to, crate::kind_words(p.change.kind), p.count))
        .collect();
    if short.len() > MOST_NAMED {
        names.push(format!("{} more", short.len() - MOST_NAMED));
    }
    let mut positions: Vec<usize> = short.iter().flat_map(|p| p.positions.iter().copied()).collect();
    positions.sort_unstable();
    positions.dedup();
    doubts.push(Doubt {
        kind: DoubtKind::FewChanges,
        positions,
        text: format!(
            "{of_kinds}Over all repeats these pairs of strings stay short: {}. Figures on fewer than {FEWEST} notes are \
             withheld; {} repeats would give enough.",
            names.join(", "),
            enough_repeats(drill, &short)
        ),
    });
}

/// How often the line must be played for the pairs that are short now.
fn enough_repeats(drill: &Drill, short: &[&ChangeCount]) -> u32 {
    let enough = |repeats: &u32| {
        let counts = change_counts(&drill.repeated(*repeats).grid());
        short.iter().all(|s| counts.iter().any(|c| c.change == s.change && c.count >= FEWEST))
    };
    // A pair stands in every second playing at least, where strokes flip, and at seams one time less.
    let most = drill.repeats.max(1).saturating_add(2 * FEWEST as u32 + 1);
    (drill.repeats.saturating_add(1)..most).find(enough).unwrap_or(most)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn doubts(line: &str, more: &str) -> Vec<(DoubtKind, Vec<usize>)> {
        let text =
            format!("name='t'\ntempo_bpm=150\nsteps_per_beat=4\ntuning='standard'\nline='{line}'\nrepeats=8\n{more}");
        let all = Drill::parse(&text, "t").unwrap().check().into_iter().map(|d| (d.kind, d.positions));
        all.filter(|d| d.0 != DoubtKind::FewChanges).collect()
    }

    #[test]
    fn nothing_to_doubt() {
        assert_eq!(doubts("6:5 6:7 5:5 5:7 4:5 4:7 5:5 5:7", ""), []);
    }

    #[test]
    fn each_doubt_is_found() {
        use DoubtKind::*;
        let has = |line: &str, more: &str| -> Vec<DoubtKind> { doubts(line, more).into_iter().map(|d| d.0).collect() };
        assert_eq!(has("6:5 6:7 5:5 ~", "after_gap='next'"), [StrokesFlip, GapRules]);
        assert_eq!(doubts("6:5 6:7 6:8 - 6:5 6:8 6:7 6:5", "")[1], (GapRules, vec![4]));
        assert_eq!(has("6:5 6:7 6:8 - 6:5 6:8 6:7 6:5", "picking='down'"), []);
        assert_eq!(doubts("6:5 6:7 | 5:5 5:7 | 4:5 4:7 5:5 5:7", "beats_per_bar=1"), [(Bars, vec![2])]);
        assert_eq!(has("6:5 6:7 | 5:5 5:7 4:5 4:7 | 5:5 5:7", "beats_per_bar=1\npickup_steps=2"), []);
        assert_eq!(has("6:5 6:7 5:5 5:7 4:5 4:7", ""), [OffBeat]);
        assert_eq!(has("6:5 6:7 6:15 6:7", ""), [Stretch]);
        assert_eq!(has("/12 6:5 6:7 6:5 6:7 6:5 6:7 6:5 6:7 6:5 6:7 6:5 6:7", ""), [TooFast]);
        assert_eq!(has("6:5 6:7p 6:5 6:7", ""), [StrokesFlip, Legato]);
        assert_eq!(has("6:5 6:7 5:7 5:5 6:7 6:5 5:5 5:7", ""), []);
        assert_eq!(has("5:7 5:9 4:9 4:11 5:11 5:9 4:9 4:7", ""), []);
        assert_eq!(has("6:5 6:5 4:7 4:7 6:5 6:5 4:7 4:7", ""), [SharedPartials]);
    }

    #[test]
    fn few_changes_say_how_many_repeats() {
        let text = "name='t'\ntempo_bpm=90\nsteps_per_beat=4\ntuning='standard'\nline='6:5 6:7 5:5 5:7'\nrepeats=2";
        let d = Drill::parse(text, "t").unwrap().check();
        assert_eq!(d[0].kind, DoubtKind::FewChanges);
        assert_eq!(
            d[0].text,
            "Few string changes of a kind (outside 1, inside 2). Over all repeats these pairs of strings stay short: 6 to 5 \
             inside 2, 5 to 6 outside 1. Figures on fewer than 8 notes are withheld; 9 repeats would give enough."
        );
        assert_eq!(d[0].positions, [0, 2]);
        assert_eq!(Drill::parse(&text.replace("repeats=2", "repeats=9"), "t").unwrap().check(), []);
    }
}
