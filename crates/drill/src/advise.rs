//! What would keep the leaving stroke from flipping: one note more or less, a legato note, economy, the other first
//! stroke. At most three suggestions, each a drill that was counted.

use crate::alter::{checked, legato_on, short, start_on};
use crate::changes::how_often;
use crate::{Drill, GridNote, Picking, Sounding, Step, leaving};

/// A drill close to the one looked at, whose leaving stroke flips less.
#[derive(Debug, Clone, PartialEq)]
pub struct Suggestion {
    /// What was changed and what it does to the counts, in a sentence.
    pub text: String,
    /// The drill with that change.
    pub drill: Drill,
}

/// Repeats over which flips are counted, so that the seam counts too.
const REPEATS: u32 = 2;

/// At most three suggestions, the fewest flips first, then the fewest notes changed; none where nothing flips.
pub fn advise(drill: &Drill) -> Vec<Suggestion> {
    let flips = |d: &Drill| leaving(&d.repeated(REPEATS).grid()).flips.len();
    let now = flips(drill);
    if now == 0 {
        return Vec::new();
    }
    let mut found: Vec<(usize, usize, Suggestion)> = Vec::new();
    for (change, what) in changes(drill) {
        let Ok(altered) = checked(change) else { continue };
        let then = flips(&altered);
        let counts = leaving(&altered.repeated(1).grid());
        // A line that no longer leaves a string tests nothing.
        if then >= now || counts.up + counts.down == 0 {
            continue;
        }
        let changed = altered.line.iter().zip(&drill.line).filter(|(a, b)| a != b).count();
        let flips = if then == 0 { "never flips".to_owned() } else { format!("flips {}", how_often(then)) };
        let text = format!(
            "{what}: the leaving stroke {flips} in two playings of the line, instead of {} (on upstrokes {}, on \
             downstrokes {} in one).",
            how_often(now),
            counts.up,
            counts.down
        );
        found.push((then, changed, Suggestion { text, drill: altered }));
    }
    found.sort_by_key(|f| (f.0, f.1));
    found.into_iter().map(|f| f.2).take(3).collect()
}

fn changes(drill: &Drill) -> Vec<(Drill, String)> {
    let grid = drill.repeated(1).grid();
    let runs: Vec<&[GridNote]> =
        grid.chunk_by(|a, b| a.string() == b.string() && a.fingered.len() == b.fingered.len()).collect();
    let odd: Vec<&[GridNote]> = runs.into_iter().filter(|r| r.iter().filter(|n| n.picked()).count() % 2 == 1).collect();
    let mut changes = Vec::new();
    let mut add = |what: &str, altered: Option<Drill>| {
        if let Some(altered) = altered {
            let name = short(format!("{}, {what}", drill.name));
            let what = what.replacen(
                what.chars().next().unwrap_or(' '),
                &what.chars().take(1).collect::<String>().to_uppercase(),
                1,
            );
            changes.push((Drill { name, ..altered }, what));
        }
    };
    add("one note of each odd run hammered on or pulled off", hammered(drill, &odd));
    add("one note more in each odd run", longer(drill, &odd));
    add("one note less in each odd run", shorter(drill, &odd));
    if drill.picking == Picking::Alternate {
        add("sweeps where the direction allows", Some(Drill { picking: Picking::Economy, ..drill.clone() }));
    }
    add("begun on the other stroke", start_on(drill, drill.first_stroke.other()).ok());
    changes
}

fn hammered(drill: &Drill, odd: &[&[GridNote]]) -> Option<Drill> {
    let mut altered = drill.clone();
    let mut any = false;
    for run in odd {
        let pair = run.windows(2).find(|w| w[1].picked() && legato_on(&w[0], &w[1]).is_some());
        let Some([before, note]) = pair else { continue };
        if let (Some(sounding), Some(Step::Note(line))) = (legato_on(before, note), altered.line.get_mut(note.position))
        {
            line.sounding = sounding;
            line.written_stroke = None;
            any = true;
        }
    }
    any.then_some(altered)
}

/// The last note of each odd run played twice.
fn longer(drill: &Drill, odd: &[&[GridNote]]) -> Option<Drill> {
    let mut altered = plain_rhythm(drill)?;
    for note in odd.iter().rev().filter_map(|r| r.last()) {
        let step = altered.line.get(note.position)?.clone();
        let Step::Note(mut again) = step else { continue };
        again.sounding = Sounding::Picked;
        again.written_stroke = None;
        again.accent = false;
        altered.line.insert(note.position + 1, Step::Note(again));
    }
    (altered.picking != Picking::Written && !odd.is_empty()).then_some(altered)
}

/// The last note of each odd run of three or more left out.
fn shorter(drill: &Drill, odd: &[&[GridNote]]) -> Option<Drill> {
    let mut altered = plain_rhythm(drill)?;
    let mut any = false;
    for note in odd.iter().rev().filter(|r| r.len() >= 3).filter_map(|r| r.last()) {
        if note.picked() && note.position < altered.line.len() {
            altered.line.remove(note.position);
            any = true;
        }
    }
    any.then_some(altered)
}

/// A copy whose steps may be moved: without bar lines; `None` where steps have lengths of their own.
fn plain_rhythm(drill: &Drill) -> Option<Drill> {
    let plain = drill.divisions.is_empty() && !drill.line.contains(&Step::Held);
    plain.then(|| Drill { bars: Vec::new(), pickup_steps: 0, ..drill.clone() })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{built_in, named};

    #[test]
    fn nothing_to_say_where_nothing_flips() {
        assert_eq!(advise(&named("two-a-string-box").unwrap()), []);
    }

    #[test]
    fn four_then_three_is_kept_on_one_stroke() {
        let found = advise(&named("four-then-three").unwrap());
        assert_eq!(found.len(), 3);
        let best = leaving(&found[0].drill.repeated(2).grid());
        assert_eq!(best.flips.len(), 0, "{}", found[0].text);
        assert!(
            found[0].text.contains("never flips in two playings of the line, instead of 7 times"),
            "{}",
            found[0].text
        );
    }

    #[test]
    fn every_suggestion_is_a_drill_that_flips_less() {
        for b in built_in() {
            let drill = b.drill().unwrap();
            let now = leaving(&drill.repeated(2).grid()).flips.len();
            let found = advise(&drill);
            assert!(found.len() <= 3);
            for s in &found {
                assert!(leaving(&s.drill.repeated(2).grid()).flips.len() < now, "{}: {}", b.name, s.text);
                assert_eq!(Drill::parse(&s.drill.to_toml(), "t").unwrap(), s.drill);
            }
        }
    }
}
