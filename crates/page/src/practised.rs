//! A line's history at a glance: who played it, how often, when last, how fast, and how its scatter went.

use std::collections::BTreeMap;
use takegauge_journal::{Day, TakeRow, like_tempo};

/// Takes of the small trend; the latest ones.
const TAKES: usize = 30;

/// One player's takes of one line.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Practised {
    pub(crate) player: String,
    pub(crate) takes: usize,
    pub(crate) last: Day,
    /// Slowest and fastest take, as played.
    pub(crate) tempo_bpm: [f64; 2],
    /// Scatter of the latest takes at a tempo like the last one's, in the order recorded, ms.
    pub(crate) scatter_ms: Vec<f64>,
    /// The first take of the very drill at a tempo like the last one's, and the last take.
    pub(crate) ends: Option<(i64, i64)>,
}

/// By player, from the rows of one line in the order recorded; who played last stands first.
pub(crate) fn practised<'a>(rows: impl Iterator<Item = &'a TakeRow>) -> Vec<Practised> {
    let mut by_player: BTreeMap<&str, Vec<&TakeRow>> = BTreeMap::new();
    for row in rows {
        by_player.entry(&row.player).or_default().push(row);
    }
    let mut all: Vec<Practised> = by_player.into_values().filter_map(|rows| of(&rows)).collect();
    all.sort_by(|a, b| b.last.cmp(&a.last).then_with(|| a.player.cmp(&b.player)));
    all
}

fn of(rows: &[&TakeRow]) -> Option<Practised> {
    let last = *rows.last()?;
    let [low, high] = like_tempo(last.tempo_bpm);
    let like = || rows.iter().filter(|r| (low..=high).contains(&r.tempo_bpm));
    let mut scatter_ms: Vec<f64> = like().filter_map(|r| r.spread_ms).collect();
    scatter_ms.drain(..scatter_ms.len().saturating_sub(TAKES));
    let first = like().find(|r| r.drill_id == last.drill_id).map(|r| r.take);
    let tempos = || rows.iter().map(|r| r.tempo_bpm);
    Some(Practised {
        player: last.player.clone(),
        takes: rows.len(),
        last: last.day,
        tempo_bpm: [tempos().fold(f64::INFINITY, f64::min), tempos().fold(0.0, f64::max)],
        scatter_ms,
        ends: first.filter(|first| *first != last.take).map(|first| (first, last.take)),
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use takegauge_journal::Picked;
    use takegauge_review::GroupKey;

    fn row(take: i64, player: &str, day: u8, tempo_bpm: f64, spread_ms: Option<f64>) -> TakeRow {
        let at = format!("2026-03-{day:02}T18:20:00+01:00");
        let recorded_at: takegauge_journal::RecordedAt = at.parse().unwrap();
        TakeRow {
            take,
            player: player.to_owned(),
            drill: "Threes".to_owned(),
            drill_id: "aa".to_owned(),
            recorded_at,
            day: recorded_at.day(),
            path: String::new(),
            tempo_bpm,
            notes: 100,
            errors: 0,
            spread_ms,
            spread_of: GroupKey::Change,
            picked: Picked::Unknown,
            guitar: String::new(),
            microphone: String::new(),
            tags: Vec::new(),
            note: String::new(),
            finding: String::new(),
        }
    }

    #[test]
    fn takes_are_counted_by_player_and_the_small_trend_is_of_like_tempo() {
        let rows = [
            row(1, "Ada", 1, 120.0, Some(9.0)),
            row(2, "Ada", 2, 160.0, Some(5.0)),
            row(3, "Bo", 3, 100.0, None),
            row(4, "Ada", 4, 161.0, None),
            row(5, "Ada", 5, 159.0, Some(4.0)),
        ];
        let all = practised(rows.iter());
        assert_eq!(all.iter().map(|p| p.player.as_str()).collect::<Vec<_>>(), ["Ada", "Bo"]);
        let ada = &all[0];
        assert_eq!((ada.takes, ada.last.to_string().as_str(), ada.tempo_bpm), (4, "2026-03-05", [120.0, 161.0]));
        assert_eq!((ada.scatter_ms.as_slice(), ada.ends), ([5.0, 4.0].as_slice(), Some((2, 5))));
        assert_eq!((all[1].ends, all[1].scatter_ms.len()), (None, 0));
        assert!(practised([].iter()).is_empty());
    }
}
