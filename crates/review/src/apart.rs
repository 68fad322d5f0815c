//! Which kinds of note stand out, for tables that fold the rest.

use crate::declared::{BIAS, N};
use crate::group_key::GroupKey;
use crate::score::{GroupRow, ScoreReport};
use std::collections::BTreeSet;
use takegauge_stats::multiple::wider_together;

/// The kinds of note that a finding speaks of (or cannot be told apart from), that may be the instrument's doing, or that
/// come early or late beyond chance: their 95 % interval, widened so that those of all kinds hold together, leaves out 0.
/// Of kinds that are the same notes under several names, as all changes and the first notes on a string, the first stands
/// for all.
pub fn apart(report: &ScoreReport) -> BTreeSet<GroupKey> {
    let told = report.findings.iter().chain(&report.may_be_instrument);
    let mut all: BTreeSet<GroupKey> = told.flat_map(|f| std::iter::once(f.group).chain(f.or_also.clone())).collect();
    let estimates = |g: &GroupRow| Some((g.figures.value(&BIAS)?, g.figures.interval(&BIAS)?));
    let tried = report.groups.iter().filter(|g| estimates(g).is_some()).count();
    let wider = wider_together(tried, 0.95);
    let mut names: Vec<(usize, f64, [f64; 2])> = Vec::new();
    for group in &report.groups {
        let Some((value, [low, high])) = estimates(group) else { continue };
        let far = value + wider * (low - value) > 0.0 || value + wider * (high - value) < 0.0;
        let same = (group.figures.count(&N), value, [low, high]);
        if far && !names.contains(&same) {
            all.insert(group.group);
            names.push(same);
        }
    }
    all
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{Figures, Value};

    #[test]
    fn told_of_or_far_from_zero_stands_out_and_what_reaches_it_by_its_number_does_not() {
        let text = include_str!("../../journal/src/packing-1.json");
        let mut report: ScoreReport = serde_json::from_str(text).unwrap();
        let found = apart(&report);
        for f in &report.findings {
            assert!(found.contains(&f.group) && f.or_also.iter().all(|g| found.contains(g)), "{}", f.text);
        }
        let row = |group, value: f64, half: f64| GroupRow {
            group,
            label: "notes".to_owned(),
            figures: Figures::default()
                .with(&BIAS, Value { value: Some(value), low: Some(value - half), high: Some(value + half) }),
            outside_text: None,
            withheld: None,
        };
        report.findings.clear();
        report.may_be_instrument.clear();
        // 2.2 is beyond a lone interval of 2, and within one of twenty.
        report.groups = (0..20).map(|k| row(GroupKey::Repeat(k), 2.2, 2.0)).collect();
        assert!(apart(&report).is_empty());
        report.groups[3] = row(GroupKey::Change, -4.0, 2.0);
        assert_eq!(apart(&report).into_iter().collect::<Vec<_>>(), [GroupKey::Change]);
        report.groups[4] = row(GroupKey::FirstOfRun, -4.0, 2.0);
        assert_eq!(
            apart(&report).into_iter().collect::<Vec<_>>(),
            [GroupKey::Change],
            "the same notes under another name"
        );
        report.groups.truncate(1);
        assert_eq!(apart(&report).into_iter().collect::<Vec<_>>(), [GroupKey::Repeat(0)]);
    }
}
