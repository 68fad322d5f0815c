//! Which of a take's extra attacks are no string's: talk, knocks and other sounds over the playing.
//!
//! The take's own notes say how a string begins here, by this microphone or pickup; an extra is held against them. How
//! likely such sounds are at all is the take's own affair, too: where somebody talks, doubtful ones are talk, in a quiet
//! room they are notes.

use crate::release::Release;
use crate::shares::Beforehand;
use crate::tuning::extra;
use takegauge_stats::robust::upper_median;

/// For each of a take's extras, by what was [`weighed`] of it, whether it is taken for a string's. `None` among them: too
/// little sound to tell, which is taken for a string's, as it was heard as one.
pub(crate) fn strings(extras: &[Option<[f64; 5]>]) -> Vec<bool> {
    let odds: Vec<Option<f64>> = extras.iter().map(|e| e.as_ref().map(log_odds)).collect();
    let before = Beforehand { wanted: extra::NOTES_TOO_MANY, other: extra::OTHER_SOUNDS };
    let told: Vec<f64> = odds.iter().flatten().copied().collect();
    let mut others = before.others(&told).into_iter();
    odds.iter().map(|o| o.is_none() || others.next().is_none_or(|other| other < 0.5)).collect()
}

/// How the take's notes begin, as in [`Release`].
pub(crate) struct Usual {
    spread: f64,
    fall: f64,
    treble_fall: f64,
}

impl Usual {
    /// The middle of each of the notes' values.
    pub(crate) fn of(notes: &[Release]) -> Self {
        let middle = |of: fn(&Release) -> f64, else_: f64| {
            upper_median(notes.iter().map(of)).filter(|_| notes.len() >= extra::ENOUGH_NOTES).unwrap_or(else_)
        };
        Self {
            spread: middle(|r| r.spread, extra::USUAL_SPREAD),
            fall: middle(|r| r.fall, extra::USUAL_FALL),
            treble_fall: middle(|r| r.treble_fall, extra::USUAL_TREBLE_FALL),
        }
    }
}

/// What is weighed of an extra that begins like this, in the order of [`extra::LIKE_NOTES_BY`].
pub(crate) fn weighed(extra: &Release, usual: &Usual) -> [f64; 5] {
    let treble_gone = extra.treble_fall - usual.treble_fall - extra::TREBLE_GONE_FROM;
    let within = |x: f64, (least, most): (f64, f64)| x.clamp(least, most);
    [
        within(extra.spread - usual.spread.min(extra::USUAL_SPREAD_AT_MOST), extra::SPREADS),
        within(extra.fall - usual.fall, extra::FALLS),
        within(extra.smoother, extra::SMOOTHER),
        within(treble_gone, (0.0, extra::TREBLE_GONE_AT_MOST)),
        extra.attack,
    ]
}

/// How much likelier a string begins like this than another sound, natural logarithm.
fn log_odds(weighed: &[f64; 5]) -> f64 {
    extra::LIKE_NOTES + weighed.iter().zip(extra::LIKE_NOTES_BY).map(|(x, w)| x * w).sum::<f64>()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn beside(spread: f64, fall: f64, treble_fall: f64, smoother: f64, attack: f64) -> Release {
        let u = Usual::of(&[]);
        let (fall, treble_fall) = (u.fall + fall, u.treble_fall + treble_fall);
        Release { spread: u.spread + spread, fall, treble_fall, smoother, attack }
    }

    /// 0.2 ms against 1.2, what follows as loud as it, and the locator in doubt.
    fn voice() -> Release {
        beside(1.8, -5.0, -4.0, 4.0, 1.5)
    }

    fn note() -> Release {
        beside(0.3, 0.0, 0.0, 0.0, 6.0)
    }

    fn told(extras: &[Release], notes: &[Release]) -> Vec<bool> {
        let usual = Usual::of(notes);
        strings(&extras.iter().map(|e| Some(weighed(e, &usual))).collect::<Vec<_>>())
    }

    #[test]
    fn a_voice_and_a_knock_are_no_strings_and_notes_are() {
        let notes = [note(); 20];
        let knock = beside(0.8, 3.0, 18.0, 1.0, 5.0);
        assert_eq!(told(&[note(), voice(), knock], &notes), [true, false, false]);
        assert_eq!(strings(&[None]), [true]);
        assert!(strings(&[]).is_empty());
    }

    #[test]
    fn what_is_in_doubt_is_a_note_in_a_quiet_room_and_talk_where_somebody_talks() {
        let doubtful = beside(1.6, -2.0, -2.0, 1.0, 4.0);
        assert_eq!(told(&[doubtful, note(), note(), note()], &[]), [true; 4]);
        assert_eq!(told(&[[doubtful].as_slice(), &[voice(); 12]].concat(), &[]), [false; 13]);
    }

    #[test]
    fn a_guitar_of_slow_edges_is_held_against_itself() {
        // Its notes go on rising for long, as a voice does, and so does one too many.
        let slow = beside(0.9, -13.0, -13.0, 0.0, 3.0);
        assert_eq!(told(&[slow], &[slow; 20]), [true]);
        assert_eq!(told(&[slow], &[]), [false]);
    }
}
