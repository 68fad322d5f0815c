//! The words that drill files, other formats and programs have for settings.

use crate::make::Direction;
use crate::{AfterGap, ChangeKind, Picking, Stroke};

/// A setting that files spell as one of a few words.
pub trait Worded: Copy + PartialEq + 'static {
    /// Every word with what it stands for.
    const WORDS: &'static [(&'static str, Self)];

    /// The word.
    fn word(self) -> &'static str {
        Self::WORDS.iter().find(|(_, v)| *v == self).map_or("", |(word, _)| word)
    }

    /// What a word stands for.
    fn of_word(word: &str) -> Option<Self> {
        Self::WORDS.iter().find(|(w, _)| *w == word).map(|(_, v)| *v)
    }
}

impl Worded for Picking {
    const WORDS: &'static [(&'static str, Self)] =
        &[("alternate", Self::Alternate), ("economy", Self::Economy), ("down", Self::Down), ("written", Self::Written)];
}

impl Worded for Stroke {
    const WORDS: &'static [(&'static str, Self)] = &[("down", Self::Down), ("up", Self::Up)];
}

impl Worded for AfterGap {
    const WORDS: &'static [(&'static str, Self)] =
        &[("next", Self::Next), ("hand", Self::Hand), ("restart", Self::Restart)];
}

impl Worded for Direction {
    const WORDS: &'static [(&'static str, Self)] =
        &[("ascending", Self::Ascending), ("descending", Self::Descending), ("both", Self::Both)];
}

impl Worded for ChangeKind {
    const WORDS: &'static [(&'static str, Self)] = &[
        ("outside", Self::Outside),
        ("inside", Self::Inside),
        ("sweep", Self::Sweep),
        ("same-stroke", Self::SameStroke),
    ];
}
