//! What to try, in words: one plain piece of advice a measure and family of notes.

use crate::group_key::GroupKey;
use crate::score::Measure;

/// Advice for a finding; `group` is `None` for one note of the line or the whole take. `value` gives the direction.
pub(crate) fn advice(group: Option<GroupKey>, measure: Measure, value: f64) -> &'static str {
    match (measure, group) {
        (Measure::Bias, Some(g)) if g.is_change() && value > 0.0 => {
            "Loop the two strings of the change alone and let the stroke that leaves carry the pick on to the new \
             string at once; begin where it is in time and go up in small steps."
        }
        (Measure::Bias, Some(g)) if g.is_change() => {
            "Loop the two strings of the change alone and give the note before it its full length before the pick \
             moves on."
        }
        (Measure::Bias, Some(GroupKey::Stroke(_))) => {
            "Play one string with down- and upstrokes of the same size and weight, slowly first, and listen for even \
             distances between them."
        }
        (Measure::Spread, Some(g)) if g.is_change() => {
            "The change does not repeat alike yet. Loop the two strings alone at a tempo where it does, and go up only \
             while it stays alike."
        }
        (Measure::Bias | Measure::Spread, Some(g)) if g.is_fretting_hand() => {
            "Look at the fretting hand first: practise the shift or the shared fret without the rest of the line, then \
             put it back."
        }
        (Measure::Bias | Measure::Spread, None) => {
            "It is this one note of the line: check its fingering first, then loop it with the notes on either side."
        }
        (Measure::Bias, Some(_)) => "Loop a short part of the line around these notes and listen for even distances.",
        (Measure::Spread, Some(_)) => {
            "Play a short part of the line around these notes at a tempo where they come out alike, and go up from there."
        }
        (Measure::Missed, _) => {
            "Listen to the notes listed: were they not struck, or struck and not heard? If struck, set the recording \
             level or the pick's depth; if not, slow down until each one sounds."
        }
        (Measure::WrongPitch, _) => {
            "Listen to the notes listed and check the fretting there; if the fingering is right, slow down until it stays."
        }
        (Measure::Extra, _) => {
            "Listen just before the notes listed: a neighbouring string brushed, a string released or a stroke too many. \
             Play the place slowly with the unused strings damped."
        }
        (Measure::Smear, _) => {
            "Mostly the fretting hand's doing: lift the finger of the string left, or let it rest on the string, as the \
             new note is struck. In a line that is to ring on, leave it as it is."
        }
        (Measure::Level, _) => {
            "Play the line slowly for equal loudness, and bring the tempo up only while it stays equal."
        }
        (Measure::Swing, _) => {
            "If swing is meant, put it into the drill; if not, play the line with an accent on every second note."
        }
        (Measure::Tempo, _) => {
            "If the other tempo was meant, give it with --tempo. If not, record with the click in the headphones."
        }
        (Measure::TempoChange, _) => {
            "Record shorter takes with a click and keep the end at the tempo of the start; lengthen the take while it holds."
        }
        (Measure::ChangeInTake, _) => {
            "Record the take again after a rest and see whether it comes back; shorter takes with rests tell more than \
             one long one."
        }
    }
}
