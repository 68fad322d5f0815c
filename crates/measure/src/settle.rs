//! Attacks of notes that were played alike, put where each one's own time and their matching agree.
//!
//! Goes in, of notes of one kind: a [`Prior`] each, which says how well its own time is known; [`Matches`], which say
//! of pairs of notes how likely the same attack lies so far apart in both; and `rise`, which says whether a note's
//! sound gets louder at a place. Comes out, for each note: a [`Settled`] place, or `None`, which leaves it as it is.
//! Places are ms after a note's own time (`off`). The lag of two notes is the place of the later in the list less the
//! place of the earlier: 0 where both own times are right. Scores are natural logarithms of likelihoods.
//!
//! An own time is right within a fraction of a millisecond or, with a chance that its uncertainty tells, anywhere near:
//! another pulse of the string, or the pick's touch, was taken for it. Matching alone cannot put that right, since a
//! ringing string matches itself a period later nearly as well; several notes together can:
//!
//! 1. [`Body`]: two notes with one lag much likelier than any other are joined, the clearest first, and so are any two
//!    sure ones. The largest set joined so is the body: its notes' places are known against each other. It is moved as
//!    a whole to where most of its notes are at their own times.
//! 2. [`laid_over`]: each doubtful note is held against all of the body at once. Its place is where matches, own time
//!    and rise together are likeliest; a note found so joins in, and the round is gone through again.
//! 3. The same is tried from the own times as they stand, in place of the body, where they are worth something. Of the
//!    two the one is taken that is likelier over all notes.
//! 4. A note whose place is clearly likelier than any other is settled there, with an uncertainty that minds what may
//!    be wrong all the same: another period, the body as a whole.
//!
//! The drill's grid has no say in it, so playing that is uneven stays as uneven as it was.

use crate::matches::Matches;
use crate::prior::{Prior, pair_density};
use crate::tuning::alike::REACH_MS;
use crate::tuning::settle::{
    APART_MS, BELONG, CLEAR, CORE_MS, FREEDOM, HERE_MS, MATCHED_MS, MOVED_WRONG, NEAR_MS, NO_RISE, NO_RISE_AT_MOST,
    OWN_AT_MOST_MS, RISE, ROUNDS, STILL_LOST, STILL_OFF_MS, SURELY, WITNESSES, WORTH_MS,
};

/// Where a note was put.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Settled {
    /// After its own time, ms.
    pub(crate) after_ms: f64,
    /// One standard deviation, ms.
    pub(crate) sd_ms: f64,
}

/// Settles doubtful notes; `None` for those that stay as they are. `rise(k, off)` tells by how many octaves a band of
/// note `k` gets louder at a place.
pub(crate) fn settle(priors: &[Prior], matches: &Matches, rise: impl Fn(usize, f64) -> f64) -> Vec<Option<Settled>> {
    let body = Body::of(priors, matches);
    // Notes that ring all through may match better a period off than where they begin; so their own times, where they
    // are worth something, are tried as they stand, unless the body has them there.
    let as_told: Vec<Option<f64>> = priors.iter().map(|o| (o.sd_ms <= WORTH_MS).then_some(0.0)).collect();
    let told = as_told.iter().flatten().count() >= 2
        && body.as_ref().is_none_or(|b| {
            b.off.iter().zip(&as_told).any(|(b, t)| t.is_some() && b.is_none_or(|b| b.abs() > APART_MS))
        });
    let ways = [body.map(|b| (b.off, b.doubt)), told.then_some((as_told, 0.0))];
    let tried = ways.into_iter().flatten().map(|(off, doubt)| (laid_over(priors, matches, off, &rise), doubt));
    let likelihood = |places: &[Option<Place>]| places.iter().flatten().map(|p| p.score).sum::<f64>();
    let best = tried.max_by(|a, b| likelihood(&a.0).total_cmp(&likelihood(&b.0)));
    let Some((places, doubt)) = best else { return vec![None; priors.len()] };
    places.iter().zip(priors).map(|(p, o)| p.filter(|p| p.clear >= CLEAR).map(|p| p.settled(o, doubt))).collect()
}

/// Lays every doubtful note over the others, round after round, beginning with the places `off`; one that has `None`
/// there says nothing of the others until it is clearly placed. Gives what the last round found: `None` for sure notes
/// and those without a match.
fn laid_over(
    priors: &[Prior],
    matches: &Matches,
    mut off: Vec<Option<f64>>,
    rise: &impl Fn(usize, f64) -> f64,
) -> Vec<Option<Place>> {
    let mut found = Vec::new();
    for _ in 0..ROUNDS {
        found = (0..priors.len())
            .map(|k| (!priors[k].sure()).then(|| place(k, priors, matches, &off, |t| rise(k, t))).flatten())
            .collect::<Vec<Option<Place>>>();
        for (k, p) in found.iter().enumerate() {
            if let Some(p) = p.filter(|p| off[k].is_some() || p.clear > CLEAR) {
                off[k] = Some(p.off_ms);
            }
        }
    }
    found
}

/// The notes that strong matches join to the largest set.
struct Body {
    /// Place of each note, ms; `None` for those that do not belong.
    off: Vec<Option<f64>>,
    /// Chance that the body as a whole is elsewhere.
    doubt: f64,
}

impl Body {
    fn of(priors: &[Prior], matches: &Matches) -> Option<Self> {
        let mut links = Vec::new();
        for i in 0..priors.len() {
            for j in i + 1..priors.len() {
                if priors[i].sure() && priors[j].sure() {
                    links.push((SURELY, i, j, 0.0));
                } else if let Some(m) = matches.get(i, j) {
                    let likely = pair_density(&priors[i], &priors[j]);
                    let score = |(k, v): (usize, &f32)| FREEDOM * f64::from(*v) + likely.at(m.lag(k));
                    let scores: Vec<f64> = m.values.iter().enumerate().map(score).collect();
                    let Some((best, clear)) = clearest(&scores, m.step_ms) else { continue };
                    if clear >= BELONG {
                        links.push((clear, i, j, m.lag(best) + m.step_ms * between(&m.values, best)));
                    }
                }
            }
        }
        // The clearest links first; one that joins what is joined already says nothing new (a maximum spanning forest,
        // after Kruskal). `of` names the set that a note is in, `off` is its place against the other notes of that set.
        links.sort_by(|a, b| b.0.total_cmp(&a.0));
        let mut of: Vec<usize> = (0..priors.len()).collect();
        let mut off = vec![0.0; priors.len()];
        for (_, i, j, lag) in links {
            let (kept, gone) = (of[i], of[j]);
            if kept != gone {
                let shift = off[i] + lag - off[j];
                for k in (0..priors.len()).filter(|k| of[*k] == gone).collect::<Vec<_>>() {
                    of[k] = kept;
                    off[k] += shift;
                }
            }
        }
        let size = |b: usize| of.iter().filter(|o| **o == b).count();
        let largest = (0..priors.len()).max_by_key(|b| (size(*b), priors.len() - b)).filter(|b| size(*b) >= 2)?;
        let members: Vec<usize> = (0..priors.len()).filter(|k| of[*k] == largest).collect();
        let (start, doubt) = anchor(priors, &members, &off);
        Some(Self { off: (0..priors.len()).map(|k| (of[k] == largest).then_some(start + off[k])).collect(), doubt })
    }
}

/// How far the body's notes, at `off` against each other, must be moved together so that most are at their own times;
/// and the chance that another place of the whole is right.
fn anchor(priors: &[Prior], members: &[usize], off: &[f64]) -> (f64, f64) {
    let score = |start: f64| members.iter().map(|k| priors[*k].density().at(start + off[*k])).sum::<f64>();
    let scores: Vec<(f64, f64)> = members.iter().map(|k| (-off[*k], score(-off[*k]))).collect();
    let best = scores.iter().fold((0.0, f64::NEG_INFINITY), |b, s| if s.1 > b.1 { *s } else { b });
    let rivals = scores.iter().filter(|s| (s.0 - best.0).abs() > APART_MS);
    let rival = rivals.fold(f64::NEG_INFINITY, |m, s| m.max(s.1));
    let near = members.iter().filter(|k| (-off[**k] - best.0).abs() < 0.5 * APART_MS);
    let (sum, weights) = near.fold((0.0, 0.0), |(s, w), k| {
        let weight = priors[*k].sd_ms.max(HERE_MS.0).powi(-2);
        (s - weight * off[*k], w + weight)
    });
    (sum / weights, chance(best.1 - rival))
}

/// A place found for a note.
#[derive(Debug, Clone, Copy)]
struct Place {
    off_ms: f64,
    /// How much likelier it is than any that is apart from it.
    clear: f64,
    /// Logarithm of its likelihood, against no match at all.
    score: f64,
}

impl Place {
    /// What is told of a note placed here. A place near the own time is joined with it; one further off replaces it.
    fn settled(self, prior: &Prior, body_doubt: f64) -> Settled {
        let moved = self.off_ms.abs() >= NEAR_MS;
        let still_wrong = if moved { MOVED_WRONG } else { STILL_LOST * prior.outlier_probability() };
        let elsewhere = chance(self.clear) + still_wrong + body_doubt;
        let sd_ms = CORE_MS.hypot(STILL_OFF_MS * elsewhere.min(1.0).sqrt());
        if moved {
            return Settled { after_ms: self.off_ms, sd_ms };
        }
        let (own_weight, weight) = (prior.sd_ms.min(OWN_AT_MOST_MS).powi(-2), MATCHED_MS.powi(-2));
        Settled { after_ms: self.off_ms * weight / (weight + own_weight), sd_ms: sd_ms.min(prior.sd_ms) }
    }
}

/// Where note `k` is likeliest, held against all notes that have a place in `off` and its own time; `None` without any.
fn place(
    k: usize,
    priors: &[Prior],
    matches: &Matches,
    off: &[Option<f64>],
    rise: impl Fn(f64) -> f64,
) -> Option<Place> {
    let compared = |j: usize| matches.get(k.min(j), k.max(j));
    let others: Vec<(usize, f64)> = off
        .iter()
        .enumerate()
        .filter(|(j, _)| *j != k && compared(*j).is_some())
        .filter_map(|(j, o)| o.map(|o| (j, o)))
        .collect();
    let step = compared(others.first()?.0)?.step_ms;
    let count = others.len() as f64;
    let steps = (REACH_MS / step) as i64;
    let offs: Vec<f64> = (-steps..=steps).map(|s| s as f64 * step).collect();
    let mut matched = vec![0.0f32; offs.len()];
    others.iter().for_each(|(j, o)| matches.add_to(&mut matched, offs[0], k, *j, *o));
    let weight = FREEDOM * count.min(WITNESSES) / count;
    let likely = priors[k].density();
    let unlikely = |t: f64| (NO_RISE * (RISE - rise(t)).max(0.0)).min(NO_RISE_AT_MOST);
    let scores: Vec<f64> =
        offs.iter().zip(&matched).map(|(t, m)| weight * f64::from(*m) + likely.at(*t) - unlikely(*t)).collect();
    let (best, clear) = clearest(&scores, step)?;
    Some(Place { off_ms: offs[best] + step * between(&matched, best), clear, score: scores[best] })
}

/// The highest score, and by how much it exceeds all that are apart from it.
fn clearest(scores: &[f64], step_ms: f64) -> Option<(usize, f64)> {
    let best = (0..scores.len()).max_by(|a, b| scores[*a].total_cmp(&scores[*b]).then(b.cmp(a)))?;
    let apart = (APART_MS / step_ms) as usize;
    let others = scores.iter().enumerate().filter(|(k, _)| k.abs_diff(best) > apart);
    Some((best, scores[best] - others.fold(f64::NEG_INFINITY, |m, (_, s)| m.max(*s))))
}

/// Where between its neighbours the peak lies, in steps from -1 to 1: a parabola through three points.
fn between(values: &[f32], k: usize) -> f64 {
    let Some([before, here, after]) = k.checked_sub(1).and_then(|b| values.get(b..b + 3)) else { return 0.0 };
    let bend = before - 2.0 * here + after;
    if bend < 0.0 { f64::from((0.5 * (before - after) / bend).clamp(-1.0, 1.0)) } else { 0.0 }
}

/// The chance of the less likely of two places.
fn chance(clear: f64) -> f64 {
    1.0 / (1.0 + clear.exp())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::alike::Match;

    /// Matches of notes whose own times are off by these, with a period of 5 ms at which they match nearly as well.
    fn matches(priors: &[Prior], off: &[f64], period: f64) -> Matches {
        Matches::of(priors, |i, j| {
            let peak = |lag: f64, at: f64, height: f64| height * (-0.5 * ((lag - at) / 0.1f64).powi(2)).exp();
            let at = off[i] - off[j];
            let values = (0..641).map(|k| f64::from(k) * 0.05 - 16.0);
            let value = |lag: f64| peak(lag, at, 6.0) + peak(lag, at - period, period) + peak(lag, at + period, 4.5);
            Match { first_ms: -16.0, step_ms: 0.05, values: values.map(|l| value(l) as f32).collect() }
        })
    }

    fn priors(sds: &[f64]) -> Vec<Prior> {
        sds.iter().map(|sd| Prior { sd_ms: *sd }).collect()
    }

    #[test]
    fn the_one_on_another_pulse_is_put_right_and_the_others_stay() {
        let off = [0.0, 0.0, 5.0, 0.1, 0.0, -4.2];
        let priors = priors(&[0.12, 0.12, 4.0, 2.0, 0.12, 4.8]);
        let settled = settle(&priors, &matches(&priors, &off, 5.0), |_, _| 1.0);
        for (k, s) in settled.iter().enumerate() {
            match k {
                2 | 5 => assert!(s.is_some_and(|s| (s.after_ms + off[k]).abs() < 0.1 && s.sd_ms < 2.0), "{k}: {s:?}"),
                3 => assert!(s.is_some_and(|s| (s.after_ms + 0.1).abs() < 0.05), "{s:?}"),
                _ => assert_eq!(*s, None),
            }
        }
    }

    #[test]
    fn what_most_doubtful_notes_agree_on_counts() {
        let off = [0.0, 5.0, 0.0, 0.05, 5.0, 0.0, 0.0];
        let priors = priors(&[4.0; 7]);
        let settled = settle(&priors, &matches(&priors, &off, 5.0), |_, _| 1.0);
        let after: Vec<f64> = settled.iter().map(|s| s.map_or(f64::NAN, |s| s.after_ms)).collect();
        assert!((after[1] + 5.0).abs() < 0.15 && (after[4] + 5.0).abs() < 0.15, "{after:?}");
        assert!(after[0].abs() < 0.1 && after[2].abs() < 0.1, "{after:?}");
    }

    #[test]
    fn no_match_moves_nothing() {
        let priors = priors(&[0.12, 4.0, 4.0]);
        let flat = |_: usize, _: usize| Match { first_ms: -16.0, step_ms: 0.05, values: vec![0.0; 641] };
        let settled = settle(&priors, &Matches::of(&priors, flat), |_, _| 1.0);
        assert!(settled.iter().all(|s| s.is_none_or(|s| s.after_ms.abs() < 0.01)), "{settled:?}");
        assert_eq!(settle(&[], &Matches::of(&[], flat), |_, _| 1.0), []);
    }
}
