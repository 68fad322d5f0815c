//! Candidate groups as distinct sets of notes.

use crate::error::{Result, StatsError};
use std::collections::BTreeMap;

/// A group needs so many notes inside and outside to be tried.
const LEAST_NOTES: usize = 3;

/// One set of notes, with every group that names it.
#[derive(Debug, Clone, PartialEq)]
pub struct CandidateSet {
    /// Note indices, rising.
    pub notes: Vec<usize>,
    /// Groups, as indices into the caller's list, that hold exactly these notes.
    pub same: Vec<usize>,
    /// Groups that hold exactly all other notes: to say that one is late is to say that the other is early.
    pub complement: Vec<usize>,
}

/// The distinct sets among the groups given, in the order of their first group. Groups with fewer than three notes
/// inside or outside are left out.
#[derive(Debug, Clone, PartialEq)]
pub struct Candidates {
    notes: usize,
    sets: Vec<CandidateSet>,
}

impl Candidates {
    /// From groups as lists of note indices (in any order) below `notes`.
    ///
    /// # Errors
    /// [`StatsError::OutOfRange`] if an index is not below `notes` or is given twice in a group.
    pub fn new(notes: usize, groups: &[Vec<usize>]) -> Result<Self> {
        let mut known = BTreeMap::<Vec<usize>, (usize, bool)>::new();
        let mut sets = Vec::<CandidateSet>::new();
        for (index, group) in groups.iter().enumerate() {
            let mut sorted = group.clone();
            sorted.sort_unstable();
            if sorted.last().is_some_and(|&last| last >= notes) || sorted.windows(2).any(|w| w[0] == w[1]) {
                return Err(StatsError::OutOfRange {
                    what: "note index",
                    allowed: "below the number of notes, once a group",
                });
            }
            if sorted.len() < LEAST_NOTES || notes - sorted.len() < LEAST_NOTES {
                continue;
            }
            match known.get(&sorted) {
                Some(&(set, true)) => sets[set].same.push(index),
                Some(&(set, false)) => sets[set].complement.push(index),
                None => {
                    let others = (0..notes).filter(|k| sorted.binary_search(k).is_err()).collect();
                    known.insert(others, (sets.len(), false));
                    known.insert(sorted.clone(), (sets.len(), true));
                    sets.push(CandidateSet { notes: sorted, same: vec![index], complement: Vec::new() });
                }
            }
        }
        Ok(Self { notes, sets })
    }

    /// The distinct sets.
    pub fn sets(&self) -> &[CandidateSet] {
        &self.sets
    }

    /// The number of notes that indices count over.
    pub fn notes(&self) -> usize {
        self.notes
    }

    /// 1 for members of a set, 0 for the rest.
    pub(crate) fn indicator(&self, set: usize) -> Vec<f64> {
        let mut column = vec![0.0; self.notes];
        for &k in &self.sets[set].notes {
            column[k] = 1.0;
        }
        column
    }

    /// Values inside and outside a set.
    pub(crate) fn split(&self, values: &[f64], set: usize) -> (Vec<f64>, Vec<f64>) {
        let inside = self.indicator(set);
        let pick = |wanted: f64| values.iter().zip(&inside).filter(|(_, i)| **i == wanted).map(|(v, _)| *v).collect();
        (pick(1.0), pick(0.0))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_same_notes_and_their_complements_are_one_set() {
        let groups = [vec![2, 0, 1], vec![0, 1], vec![0, 1, 2], vec![5, 4, 3], vec![1, 2, 3], vec![0, 1, 2, 3]];
        let c = Candidates::new(6, &groups).unwrap();
        assert_eq!(c.sets().len(), 2);
        assert_eq!(c.sets()[0], CandidateSet { notes: vec![0, 1, 2], same: vec![0, 2], complement: vec![3] });
        assert_eq!(c.sets()[1].same, [4]);
    }

    #[test]
    fn indices_out_of_range_are_errors() {
        assert!(Candidates::new(3, &[vec![3]]).is_err() && Candidates::new(9, &[vec![1, 1, 2]]).is_err());
        assert!(Candidates::new(0, &[vec![]]).unwrap().sets().is_empty());
    }
}
