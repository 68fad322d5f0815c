//! Findings about levels.
//!
//! Levels are held against the middle of their string: only kinds of stroke and change that hold across places are told,
//! as frets of one string differ in loudness by themselves. After a change of string the one left still sounds, and what
//! is heard is both: a difference that is not there with that taken off may be the instrument's.

use std::collections::BTreeMap;

use crate::basis::{Basis, difference};
use crate::estimates::middle;
use crate::gates::GATE_LEVEL_DB;
use crate::groups::Group;
use crate::instrument;
use crate::score::{Measure, Unit};
use crate::search::{self, FoundGroup};
use crate::take::Judged;
use crate::tell;
use crate::told::{Subject, Told, told};
use takegauge_units::Decibels;

/// A note is taken to be no softer than this against what is heard of it, dB, however loud what rings on is.
const SOFTEST_DB: f64 = -20.0;

pub(crate) fn level_findings(basis: &Basis, groups: &[&Group], seed: u64) -> Vec<Told> {
    if basis.level_withheld.is_some() {
        return Vec::new();
    }
    let values = within_strings(basis, heard);
    let alone = within_strings(basis, alone);
    let kinds: Vec<&Group> = groups.iter().copied().filter(|g| g.key.is_kind()).collect();
    let searched = search::of_values(basis, &kinds, &values, search::ALPHA_OF_OTHERS, seed.wrapping_add(200));
    let tell_one = |found: &FoundGroup| -> Option<Told> {
        let holds = found.places.holds && found.places.inside >= 3 && found.mean;
        let outside: Vec<usize> = (0..values.len()).filter(|i| !found.has(*i)).collect();
        let e = difference(&values, &found.members, &outside)?;
        if !holds || e.value.abs() < GATE_LEVEL_DB {
            return None;
        }
        let why = instrument::of_level(e.value, difference(&alone, &found.members, &outside));
        let subject = Subject::new(basis, found, None);
        let told = told(basis, &subject, Measure::Level, e.value, Unit::Decibels, Some(e.interval)).with(|row| {
            row.text = tell::level(row);
        });
        Some(Told { may_be_instrument: why, ..told })
    };
    searched.found.iter().filter_map(tell_one).collect()
}

/// Each note's level as heard.
fn heard(n: &Judged) -> Option<f64> {
    let counts = n.grid.picked() && !n.grid.accent && !n.grid.dead && !n.grid.palm_muted && !n.wrong();
    n.measure.and_then(|m| m.level).map(|l| l.0).filter(|l| counts && l.is_finite())
}

/// The same without what still sounds of a string that was left, as if all of it rang on and in phase; a string struck
/// again is stopped by the stroke.
fn alone(n: &Judged) -> Option<f64> {
    let level = heard(n)?;
    let before = n.measure.and_then(|m| m.before).filter(|b| n.grid.change.is_some() && b.0.is_finite());
    let amplitude = |db: f64| Decibels(db).amplitude();
    let rest = before.map_or(amplitude(level), |b| amplitude(level) - amplitude(b.0));
    Some(Decibels::from_amplitude(rest.max(amplitude(level + SOFTEST_DB))).0)
}

/// Levels less the middle of their string, dB.
fn within_strings(basis: &Basis, level: impl Fn(&Judged) -> Option<f64>) -> Vec<Option<f64>> {
    let levels: Vec<Option<f64>> = basis.notes.iter().map(level).collect();
    let mut strings: BTreeMap<u8, Vec<f64>> = BTreeMap::new();
    for (n, level) in basis.notes.iter().zip(&levels) {
        strings.entry(n.grid.string()).or_default().extend(level);
    }
    let middles: BTreeMap<u8, f64> = strings.into_iter().map(|(s, v)| (s, middle(&v))).collect();
    let less = |n: &Judged, l: f64| l - middles.get(&n.grid.string()).copied().unwrap_or(0.0);
    basis.notes.iter().zip(&levels).map(|(n, level)| Some(less(n, (*level)?))).collect()
}
