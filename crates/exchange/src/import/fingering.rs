//! Strings for pitches: the fingering that moves the hand least, for correction by the player.
//!
//! A shortest path over the places where each pitch can be had (common practice, no source for the costs: a fret of
//! hand movement costs 1, a string crossed 0.5, open strings let the hand stay where it is).

use takegauge_drill::Fingered;
use takegauge_units::MidiKey;

/// The highest fret that is proposed.
const HIGHEST: u8 = 22;

/// A place for each pitch group, in order; `None` where a pitch cannot be had on the instrument.
pub(super) fn assign(groups: &[Vec<MidiKey>], open: &[MidiKey]) -> Vec<Option<Vec<Fingered>>> {
    let choices: Vec<Vec<Vec<Fingered>>> = groups.iter().map(|g| places(g, open)).collect();
    let mut best: Vec<Vec<(f64, usize)>> = Vec::with_capacity(groups.len());
    let mut before: Option<usize> = None;
    for (i, options) in choices.iter().enumerate() {
        let row = options.iter().map(|option| {
            let own = 0.02 * f64::from(position(option)) + spread(option);
            let Some(b) = before else { return (own, usize::MAX) };
            let ways = choices[b].iter().zip(&best[b]).enumerate().map(|(j, (o, cost))| (cost.0 + moved(o, option), j));
            let (cost, from) = ways.min_by(|x, y| x.0.total_cmp(&y.0)).unwrap_or((0.0, usize::MAX));
            (cost + own, from)
        });
        best.push(row.collect());
        if !options.is_empty() {
            before = Some(i);
        }
    }
    trace(&choices, &best)
}

fn trace(choices: &[Vec<Vec<Fingered>>], best: &[Vec<(f64, usize)>]) -> Vec<Option<Vec<Fingered>>> {
    let mut found: Vec<Option<Vec<Fingered>>> = vec![None; choices.len()];
    let mut wanted: Option<usize> = None;
    for i in (0..choices.len()).rev() {
        if choices[i].is_empty() {
            continue;
        }
        let cheapest = || {
            let costs = best[i].iter().enumerate();
            costs.min_by(|a, b| a.1.0.total_cmp(&b.1.0)).map_or(0, |c| c.0)
        };
        let at = wanted.unwrap_or_else(cheapest);
        found[i] = choices[i].get(at).cloned();
        wanted = best[i].get(at).map(|b| b.1).filter(|j| *j != usize::MAX);
    }
    found
}

/// All ways to have the pitches at once, each on a string of its own, at most 64.
fn places(keys: &[MidiKey], open: &[MidiKey]) -> Vec<Vec<Fingered>> {
    let mut ways: Vec<Vec<Fingered>> = vec![Vec::new()];
    for key in keys {
        let mut longer = Vec::new();
        for way in &ways {
            for (i, string) in open.iter().enumerate() {
                let number = (open.len() - i) as u8;
                let Some(fret) = key.0.checked_sub(string.0).filter(|f| *f <= HIGHEST) else { continue };
                if longer.len() < 64 && way.iter().all(|f| f.string != number) {
                    longer.push([way.as_slice(), &[Fingered { string: number, fret }]].concat());
                }
            }
        }
        ways = longer;
    }
    ways.retain(|w| !w.is_empty());
    ways
}

/// Where the hand is: the lowest fretted fret, 0 for open strings alone.
fn position(way: &[Fingered]) -> u8 {
    way.iter().map(|f| f.fret).filter(|f| *f > 0).min().unwrap_or(0)
}

fn spread(way: &[Fingered]) -> f64 {
    let highest = way.iter().map(|f| f.fret).max().unwrap_or(0);
    let span = highest.saturating_sub(position(way));
    if span > 4 { 4.0 * f64::from(span - 4) } else { 0.0 }
}

fn moved(a: &[Fingered], b: &[Fingered]) -> f64 {
    let (x, y) = (position(a), position(b));
    let hand = if x == 0 || y == 0 { 0.5 } else { f64::from(x.abs_diff(y)) };
    let string = |w: &[Fingered]| w.first().map_or(0, |f| f.string);
    // Four frets lie under one hand without a move.
    (if hand <= 4.0 { 0.4 * hand } else { hand }) + 0.5 * f64::from(string(a).abs_diff(string(b)))
}

#[cfg(test)]
mod tests {
    use super::*;
    use takegauge_drill::Tuning;

    #[test]
    fn scales_stay_in_one_position() {
        let open = Tuning::standard().open;
        let scale: Vec<Vec<MidiKey>> = [45, 47, 48, 50, 52, 53, 55, 57].iter().map(|k| vec![MidiKey(*k)]).collect();
        let found = assign(&scale, &open);
        for (group, place) in scale.iter().zip(&found) {
            let place = place.as_ref().unwrap()[0];
            assert_eq!(Tuning::standard().string(place.string).unwrap().0 + place.fret, group[0].0);
        }
        let fretted: Vec<u8> = found.iter().flatten().flatten().map(|f| f.fret).filter(|f| *f > 0).collect();
        assert!(fretted.iter().max().unwrap() - fretted.iter().min().unwrap() <= 4, "{fretted:?}");
    }

    #[test]
    fn chords_take_a_string_each_and_what_cannot_be_had_is_none() {
        let open = Tuning::standard().open;
        let found = assign(&[vec![MidiKey(40), MidiKey(47), MidiKey(52)], vec![MidiKey(20)], vec![MidiKey(64)]], &open);
        let chord = found[0].as_ref().unwrap();
        assert_eq!(chord.iter().map(|f| f.string).collect::<std::collections::BTreeSet<_>>().len(), 3);
        assert_eq!(found[1], None);
        assert!(found[2].is_some());
    }
}
