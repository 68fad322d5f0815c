//! Notes that a take holds many times over, held against each other: the same string, pitch and stroke sound alike, so
//! an attack that was taken at another pulse of the string, or at the pick's touch, than in the other repeats is found
//! and put right. Only notes whose own time is in doubt are moved.

use crate::alike::{Alike, Cut};
use crate::matches::Matches;
use crate::prior::Prior;
use crate::settle::{Settled, settle};
use crate::tuning::repeats::{AT_ONCE, AT_RIVAL_MS, HARDLY_MS, KEPT, KEPT_SD_MS, LEAST_SHARE};
use crate::tuning::settle::SURE_MS;
use std::collections::BTreeMap;
use takegauge_drill::{GridNote, Stroke};
use takegauge_locate::Rival;

/// What makes notes sound alike.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
struct Kind {
    string: u8,
    /// MIDI key; `None` for a dead note.
    key: Option<u8>,
    /// Whether it is a downstroke, where it is picked.
    down: Option<bool>,
    palm_muted: bool,
}

impl Kind {
    /// `None` for notes struck together.
    fn of(note: &GridNote) -> Option<Self> {
        let [key] = note.keys.as_slice() else { return None };
        Some(Self {
            string: note.string(),
            key: (!note.dead).then_some(key.0),
            down: note.stroke.map(|s| s == Stroke::Down),
            palm_muted: note.palm_muted,
        })
    }
}

struct Member {
    /// Pass and note; `None` once it is settled.
    who: Option<(usize, usize)>,
    prior: Prior,
    cut: Cut,
    rivals: Vec<Rival>,
}

impl Member {
    /// Whether its own sound holds a place so long after for possible.
    fn allows(&self, s: &Settled) -> bool {
        let rival = |r: &Rival| (r.after.0 - s.after_ms).abs() < AT_RIVAL_MS && r.share >= LEAST_SHARE;
        s.after_ms.abs() < HARDLY_MS || self.rivals.iter().any(rival)
    }
}

/// Gathers notes played alike.
pub(crate) struct Repeats {
    rate_hz: f64,
    alike: Alike,
    kinds: BTreeMap<Kind, Vec<Member>>,
    settled: Vec<((usize, usize), Settled)>,
}

impl Repeats {
    pub(crate) fn new(rate_hz: f64) -> Self {
        Self { rate_hz, alike: Alike::new(rate_hz), kinds: BTreeMap::new(), settled: Vec::new() }
    }

    /// What is kept of the sound about a note, `at` seconds into a stretch of
    /// [`STRETCH_S`](crate::tuning::alike::STRETCH_S).
    pub(crate) fn cut(&self, (stretch, at): (&[f32], f64)) -> Cut {
        self.alike.cut(stretch, self.rate_hz, at)
    }

    /// Takes note of a played note, by pass and number, so that it can be held against others like it.
    pub(crate) fn add(&mut self, who: (usize, usize), note: &GridNote, sd_ms: f64, cut: Cut, rivals: &[Option<Rival>]) {
        let Some(kind) = Kind::of(note) else { return };
        let rivals = rivals.iter().flatten().copied().collect();
        let member = Member { who: Some(who), prior: Prior { sd_ms }, cut, rivals };
        let members = self.kinds.entry(kind).or_default();
        members.push(member);
        if members.len() >= AT_ONCE {
            let settled = hold(&self.alike, members);
            self.settled.extend(settled);
        }
    }

    /// All that was moved.
    pub(crate) fn finish(mut self) -> Vec<((usize, usize), Settled)> {
        for members in self.kinds.values_mut() {
            let settled = hold(&self.alike, members);
            self.settled.extend(settled);
        }
        self.settled
    }
}

/// Settles notes played alike; the surest of them stay in `members`.
fn hold(alike: &Alike, members: &mut Vec<Member>) -> Vec<((usize, usize), Settled)> {
    let priors: Vec<Prior> = members.iter().map(|m| m.prior).collect();
    let mut found = vec![None; priors.len()];
    if priors.len() > 1 && members.iter().any(|m| m.who.is_some() && !m.prior.sure()) {
        let prints: Vec<_> = members.iter().map(|m| alike.print(&m.cut)).collect();
        let matches = Matches::of(&priors, |i, j| alike.compare(&prints[i], &prints[j]));
        found = settle(&priors, &matches, |k, off_ms| prints[k].rise(off_ms));
    }
    let mut settled = Vec::new();
    for (m, s) in members.iter_mut().zip(found) {
        if let (Some(who), Some(s)) = (m.who, s.filter(|s| m.allows(s))) {
            settled.push((who, s));
            m.prior.sd_ms = if s.after_ms.abs() < HARDLY_MS { s.sd_ms } else { f64::INFINITY };
            m.cut.move_attack(s.after_ms);
        }
        m.who = None;
    }
    members.retain(|m| m.prior.sd_ms < KEPT_SD_MS);
    members.sort_by(|a, b| a.prior.sd_ms.total_cmp(&b.prior.sd_ms));
    members.truncate(KEPT);
    // What comes later is held against them, not they against it.
    members.iter_mut().for_each(|m| m.prior.sd_ms = m.prior.sd_ms.min(SURE_MS));
    settled
}
