//! Sounds that the drill does not ask for: notes too many, strings brushed in passing, noodling in the pauses.

use super::draws::Draws;
use super::{CLOSEST_S, Playing};
use crate::damp::Draft;
use crate::performance::{ExtraKind, ExtraNote};
use crate::touch::Manner;
use rand::RngExt;
use takegauge_drill::GridNote;
use takegauge_units::{MidiKey, Seconds};

impl Playing<'_> {
    /// What sounds between this note, played at `at`, and the next.
    pub(super) fn extras(&mut self, note: &GridNote, at: f64, next: f64, draws: &Draws) {
        let p = self.player;
        let gap = (next - at).max(2.0 * CLOSEST_S);
        if p.extra.on(note.index, draws.extra[0]) {
            let (string, key) = (note.string(), note.keys.first().copied().unwrap_or(MidiKey(40)));
            let when = at + gap * (0.42 + 0.16 * draws.extra[1]);
            self.extra(when, string, key, Manner::EXTRA, ExtraKind::Extra, Some(note.index));
        }
        if p.brushed.on(note.index, draws.brushed[0]) {
            let (up, down) = (note.string().saturating_add(1), note.string().saturating_sub(1));
            let order = if draws.brushed[2] < 0.5 { [up, down] } else { [down, up] };
            let open = order.into_iter().find_map(|s| self.drill.tuning.string(s).map(|k| (s, k)));
            if let Some((string, key)) = open {
                let key = MidiKey(key.0.saturating_add(self.drill.capo).min(127));
                let when = at + gap * (0.35 + 0.3 * draws.brushed[1]);
                self.extra(when, string, key, Manner::BRUSHED, ExtraKind::Brushed, Some(note.index));
            }
        }
    }

    fn extra(&mut self, at: f64, string: u8, key: MidiKey, manner: Manner, kind: ExtraKind, after: Option<usize>) {
        let touch = self.hands.stray(&mut self.free, manner);
        let brushed = kind == ExtraKind::Brushed;
        self.latest = self.latest.max(at);
        self.drafts.push(Draft {
            at,
            group: self.groups,
            string,
            frequency: key.frequency(self.drill.a4),
            manner,
            touch,
            main: !brushed,
            ends: Some(at + if brushed { 0.05 } else { 0.4 }),
            overlap: 0.015,
        });
        self.groups += 1;
        self.done.extras.push(ExtraNote { at: Seconds(at), kind, key, after_index: after });
    }

    /// `count` notes of the drill in no order and no time, between `from` and `to`.
    pub(super) fn noodle(&mut self, from: f64, to: f64, count: usize) {
        let room = to - from - 0.7;
        let count = count.min((room.max(0.0) / 0.03) as usize);
        for k in 0..count {
            let u: f64 = self.free.random();
            let pick = (self.free.random::<f64>() * self.grid.len() as f64) as usize;
            let Some(note) = self.grid.get(pick) else { return };
            let Some(key) = note.keys.first() else { return };
            let at = from + 0.3 + room * (k as f64 + 0.7 * u) / count as f64;
            self.extra(at, note.string(), *key, Manner::EXTRA, ExtraKind::Noodling, None);
        }
    }
}
