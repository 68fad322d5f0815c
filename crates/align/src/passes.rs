//! From runs through the line to passes of the drill, extras, and what is set aside.

use crate::line::Line;
use crate::model::{Extra, Pass, Placed, SetAside, Status};
use crate::path::{Chain, Link};
use crate::pitch::heard;
use crate::tempo::Run;
use crate::tuning::passes::{AFTER_THE_END, ENOUGH_NOTES, ENOUGH_ONE_IN, FAINTEST_EXTRA, SLACK};
use crate::tuning::timing::HALF_WAY;
use takegauge_drill::{Drill, GridNote};
use takegauge_units::{Attack, Bpm, Seconds};

/// A part of a run that lies within one time through the drill.
#[derive(Debug, Clone)]
pub(crate) struct Portion {
    /// First and last note reached, by drill index.
    pub(crate) first: usize,
    pub(crate) last: usize,
    /// Notes by drill index.
    pub(crate) links: Vec<Link>,
    /// Take seconds for each drill second.
    pub(crate) rate: f64,
    /// Place of the run it is cut from.
    pub(crate) run: usize,
}

/// How many notes a pass must reach: half the line, and of very short lines enough to tell it from chance.
pub(crate) fn enough(line: &Line) -> usize {
    let share = |notes: usize| notes.div_ceil(ENOUGH_ONE_IN);
    share(line.per_line).max(ENOUGH_NOTES.min(share(line.per_drill))).max(1)
}

/// Cuts runs at the drill's end; a run that begins inside the line goes on where the one before broke off, as nearly
/// as the line allows.
pub(crate) fn portions(runs: &[Run], line: &Line) -> Vec<Portion> {
    let mut portions: Vec<Portion> = Vec::new();
    for (k, run) in runs.iter().enumerate() {
        let broke_off = portions.last().map(|p| p.last + 1).filter(|n| *n < line.per_drill);
        let begins = place(&run.chain, broke_off, line);
        let mut at = run.chain.first;
        while at <= run.chain.last {
            let index = (begins + (at - run.chain.first)) % line.per_drill;
            let end = (at + line.per_drill - index - 1).min(run.chain.last);
            let links: Vec<Link> = run
                .chain
                .links
                .iter()
                .filter(|l| (at..=end).contains(&l.note))
                .map(|l| Link { note: index + (l.note - at), ..*l })
                .collect();
            if !links.is_empty() {
                let first = if index <= SLACK { 0 } else { index };
                let last = index + (end - at);
                let last = if last + SLACK + 1 >= line.per_drill { line.per_drill - 1 } else { last };
                portions.push(Portion { first, last, links, rate: run.rate, run: k });
            }
            at = end + 1;
        }
    }
    portions
}

/// The drill index at which a run begins; the run itself only tells the note of the folded line.
fn place(chain: &Chain, broke_off: Option<usize>, line: &Line) -> usize {
    let turn = line.slots.len();
    let within = chain.first % turn;
    let length = chain.last + 1 - chain.first;
    let Some(goal) = broke_off else { return within };
    let candidates = (within..line.per_drill).step_by(turn);
    if line.slots[within].opens {
        // The line's first note is where a new pass begins, unless the run brings a broken one exactly to its end.
        let near = |i: &usize| i + length == line.per_drill && i.abs_diff(goal) <= line.per_line;
        return candidates.clone().find(near).unwrap_or(within);
    }
    candidates.min_by_key(|i| i.abs_diff(goal)).unwrap_or(within)
}

/// What the passes are made from.
pub(crate) struct Take<'a> {
    pub(crate) attacks: &'a [Attack],
    /// In the take's own seconds.
    pub(crate) seconds: &'a [f64],
    pub(crate) grid: &'a [GridNote],
    pub(crate) drill: &'a Drill,
    /// How many semitones the guitar sounds above the drill.
    pub(crate) transpose: i32,
}

impl Take<'_> {
    /// Every grid note of a portion with what became of it; `expected` is not known yet.
    pub(crate) fn pass(&self, portion: &Portion, click_beat: Option<i64>) -> Pass {
        let mut links = portion.links.iter().peekable();
        let mut notes = Vec::with_capacity(self.grid.len());
        for (index, note) in self.grid.iter().enumerate() {
            let link = links.next_if(|l| l.note == index);
            let mut placed = Placed {
                index,
                status: Status::NotReached,
                attack: None,
                expected: Seconds(0.0),
                played: None,
                uncertainty: None,
                heard: None,
            };
            if let Some(link) = link {
                let attack = &self.attacks[link.attack];
                let (key, wrong) = heard(attack, note, self.transpose);
                placed.status = if wrong { Status::WrongPitch } else { Status::Played };
                placed.attack = Some(link.attack);
                placed.played = Some(Seconds(self.seconds[link.attack]));
                placed.uncertainty = Some(attack.uncertainty);
                placed.heard = key;
            } else if (portion.first..=portion.last).contains(&index) {
                placed.status = if note.picked() { Status::Missed } else { Status::NotJudged };
            }
            notes.push(placed);
        }
        Pass {
            offset: Seconds(0.0),
            tempo: Bpm(self.drill.tempo.0 / portion.rate),
            from: Seconds(portion.links.first().map_or(0.0, |l| self.seconds[l.attack])),
            to: Seconds(portion.links.last().map_or(0.0, |l| self.seconds[l.attack])),
            notes,
            anew: portion.links.iter().filter(|l| l.anew).map(|l| l.note).collect(),
            click_beat,
        }
    }

    /// Attacks within a pass, or near its ends, that are none of its notes: those above the blind threshold, and those not
    /// far below it.
    pub(crate) fn extras(&self, portions: &[&Portion], line: &Line) -> (Vec<Extra>, Vec<Extra>) {
        let taken = self.taken(portions);
        let (mut extras, mut faint) = (Vec::new(), Vec::new());
        for (i, a) in self.attacks.iter().enumerate() {
            if taken[i] || a.strength < FAINTEST_EXTRA {
                continue;
            }
            let inside = portions.iter().position(|p| {
                let step = line.usual_gap * p.rate;
                let (Some(from), Some(to)) = (p.links.first(), p.links.last()) else { return false };
                let (from, to) = (self.seconds[from.attack], self.seconds[to.attack]);
                (from - HALF_WAY * step..=to + AFTER_THE_END * step).contains(&self.seconds[i])
            });
            if let Some(pass) = inside {
                let links = &portions[pass].links;
                let before = links.partition_point(|l| l.attack < i);
                let after_index = before.checked_sub(1).map(|k| links[k].note);
                let list = if a.strength < 1.0 { &mut faint } else { &mut extras };
                list.push(Extra { attack: i, after_index, pass });
            }
        }
        (extras, faint)
    }

    fn taken(&self, portions: &[&Portion]) -> Vec<bool> {
        let mut taken = vec![false; self.attacks.len()];
        for link in portions.iter().flat_map(|p| &p.links) {
            taken[link.attack] = true;
        }
        taken
    }

    /// Stretches of attacks that belong to no pass and are no extra.
    pub(crate) fn set_aside(&self, kept: &[&Portion], dropped: &[&Portion], extras: &[Extra]) -> Vec<SetAside> {
        let mut used = self.taken(kept);
        extras.iter().for_each(|e| used[e.attack] = true);
        let mut broken = vec![None; self.attacks.len()];
        for portion in dropped {
            if let (Some(a), Some(b)) = (portion.links.first(), portion.links.last()) {
                broken[a.attack..=b.attack].fill(Some(portion.links.len()));
            }
        }
        let mut aside: Vec<SetAside> = Vec::new();
        let mut open: Option<(usize, usize, usize, Option<usize>)> = None;
        let mut close = |o: Option<(usize, usize, usize, Option<usize>)>| {
            if let Some((from, to, count, start)) = o {
                let why = match (start, count) {
                    (Some(n), _) => format!("a start broken off after {n} note{}", if n == 1 { "" } else { "s" }),
                    (None, 1) => "one attack that belongs to no pass".to_owned(),
                    (None, n) => format!("{n} attacks that follow no part of the drill"),
                };
                aside.push(SetAside { from: Seconds(self.seconds[from]), to: Seconds(self.seconds[to]), why });
            }
        };
        for (i, a) in self.attacks.iter().enumerate() {
            if used[i] {
                close(open.take());
            } else if a.strength >= 1.0 || broken[i].is_some() {
                open = match open {
                    Some((from, _, n, start)) if start == broken[i] => Some((from, i, n + 1, start)),
                    other => {
                        close(other);
                        Some((i, i, 1, broken[i]))
                    }
                };
            }
        }
        close(open);
        aside
    }
}
