//! A finding, and what it is about.

use crate::basis::Basis;
use crate::group_key::GroupKey;
use crate::score::FindingRow;
use crate::search::FoundGroup;

/// A finding with what the plan needs to know of it.
#[derive(Debug, Clone)]
pub(crate) struct Told {
    pub(crate) row: FindingRow,
    /// The group that it was found in.
    pub(crate) found: Option<GroupKey>,
    /// The note of the line it is about, where it is about one.
    pub(crate) position: Option<usize>,
}

/// The subject of a finding: the group, or the one note of the line that it comes down to.
pub(crate) struct Subject<'a> {
    pub(crate) found: &'a FoundGroup,
    pub(crate) members: Vec<usize>,
    pub(crate) position: Option<usize>,
}

impl<'a> Subject<'a> {
    pub(crate) fn new(basis: &Basis, found: &'a FoundGroup, position: Option<usize>) -> Self {
        let at = |i: &usize| position.is_none_or(|p| basis.notes[*i].grid.position == p);
        Self { found, members: found.members.iter().copied().filter(at).collect(), position }
    }

    pub(crate) fn key(&self) -> GroupKey {
        self.position.map_or(self.found.key, GroupKey::LineStep)
    }

    pub(crate) fn label(&self) -> String {
        self.position.map_or_else(|| self.found.label.clone(), |p| format!("the note on step {} of the line", p + 1))
    }
}
