//! The drills that come with the tool. Each isolates one thing; its `note` says which.

use crate::{Drill, DrillError};
use std::path::Path;

macro_rules! built_in {
    ($($slug:literal),* $(,)?) => {
        /// Every built-in drill: its short name and its file.
        const FILES: &[(&str, &str)] = &[$(($slug, include_str!(concat!("../drills/", $slug, ".toml")))),*];
    };
}

built_in!(
    "one-string-sixteenths",
    "tremolo-on-one-note",
    "muted-tremolo",
    "downstrokes-on-one-string",
    "accents-every-four",
    "outside-pair",
    "inside-pair",
    "outside-pair-low-strings",
    "muted-inside-pair",
    "outside-skip",
    "inside-skip",
    "wide-skip",
    "two-a-string-box",
    "two-a-string-from-an-upstroke",
    "three-a-string-six-strings",
    "triplets-three-a-string",
    "four-a-string",
    "four-then-three",
    "five-a-string",
    "sextuplets-six-a-string",
    "mixed-runs",
    "roll-over-three",
    "roll-over-four-in-triplets",
    "roll-over-five",
    "bursts-on-one-string",
    "bursts-over-a-change",
    "toward-string-1-only",
    "downstrokes-across",
    "economy-three-a-string",
    "hammered-threes",
    "eighths-into-sextuplets",
    "swung-eighths",
    "seven-eighths",
    "bass-two-a-string",
);

/// A built-in drill as `drill list` shows it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct BuiltIn {
    /// What to call it by: lower case, words joined by hyphens.
    pub name: &'static str,
    /// Its drill file.
    pub file: &'static str,
}

impl BuiltIn {
    /// The drill itself.
    ///
    /// # Errors
    /// None in practice: a test reads every built-in drill.
    pub fn drill(&self) -> Result<Drill, DrillError> {
        Drill::parse(self.file, self.name)
    }
}

/// All built-in drills, from one string to whole lines.
pub fn built_in() -> impl Iterator<Item = BuiltIn> {
    FILES.iter().map(|(name, file)| BuiltIn { name, file })
}

/// The built-in drill of that name: "Four then three", "four-then-three"; `None` where there is none.
pub fn named(name: &str) -> Option<Drill> {
    let wanted: Vec<String> = words(name);
    built_in().find(|b| words(b.name) == wanted).and_then(|b| b.drill().ok())
}

fn words(name: &str) -> Vec<String> {
    name.split(|c: char| !c.is_alphanumeric()).filter(|w| !w.is_empty()).map(str::to_lowercase).collect()
}

impl Drill {
    /// A drill by file name, or by the name of a built-in one where there is no such file.
    ///
    /// # Errors
    /// [`DrillError::Unknown`] where there is neither, and as [`Drill::read`].
    pub fn open(file_or_name: impl AsRef<Path>) -> Result<Self, DrillError> {
        let path = file_or_name.as_ref();
        if path.exists() {
            return Self::read(path);
        }
        match path.to_str().and_then(named) {
            Some(drill) => Ok(drill),
            None => {
                let named = path.display().to_string();
                Err(DrillError::Unknown { like: nearest(&named), named })
            }
        }
    }
}

/// A built-in drill with almost that name.
fn nearest(name: &str) -> Option<&'static str> {
    /// A few slips of the keys; less alike is another word.
    const ALIKE: f64 = 0.75;
    let wanted = name.trim().to_lowercase().replace([' ', '_'], "-");
    let like = built_in().map(|b| (strsim::normalized_damerau_levenshtein(&wanted, b.name), b.name));
    like.max_by(|a, b| a.0.total_cmp(&b.0)).filter(|(alike, _)| *alike >= ALIKE).map(|(_, name)| name)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{ChangeKind, Stroke};
    use std::collections::BTreeSet;

    #[test]
    fn every_drill_reads_says_what_it_isolates_and_leaves_no_doubt() {
        let mut titles = BTreeSet::new();
        for b in built_in() {
            let drill = b.drill().unwrap();
            assert_eq!(words(&drill.name), words(b.name));
            assert!(drill.note.ends_with('.') && drill.note.len() < 110, "{}", b.name);
            // Also that every pair of strings stands often enough for figures.
            assert_eq!(drill.check(), [], "{}", b.name);
            assert_eq!(named(&drill.name).as_ref(), Some(&drill));
            assert!(titles.insert(drill.name.clone()), "{} twice", drill.name);
            assert_eq!(Drill::parse(&drill.to_toml(), "t").unwrap(), drill);
        }
        assert!(titles.len() >= 24);
        assert_eq!(named("no such drill"), None);
    }

    /// The notes say "only": here it is counted.
    #[test]
    fn drills_isolate_what_they_say() {
        let kinds = |name: &str| -> BTreeSet<ChangeKind> {
            let grid = named(name).unwrap().grid();
            grid.iter().filter_map(|n| n.change).filter(|c| !c.after_gap).filter_map(|c| c.kind).collect()
        };
        let leaves = |name: &str| -> BTreeSet<Stroke> {
            let grid = named(name).unwrap().grid();
            grid.iter().filter_map(|n| n.change).filter_map(|c| c.leaves_on).collect()
        };
        for name in ["Outside pair", "Outside pair, low strings", "Outside skip", "Bursts over a change"] {
            assert_eq!(kinds(name), [ChangeKind::Outside].into(), "{name}");
        }
        for name in ["Inside pair", "Inside skip", "Muted inside pair", "Toward string 1 only"] {
            assert_eq!(kinds(name), [ChangeKind::Inside].into(), "{name}");
        }
        assert_eq!(kinds("Downstrokes across"), [ChangeKind::Sweep, ChangeKind::SameStroke].into());
        assert!(kinds("Economy, three a string").contains(&ChangeKind::Sweep));
        for name in ["Two a string, box", "Four a string", "Sextuplets, six a string", "Hammered threes"] {
            assert_eq!(leaves(name), [Stroke::Up].into(), "{name}");
        }
        assert_eq!(leaves("Two a string from an upstroke"), [Stroke::Down].into());
        for name in ["One string, sixteenths", "Tremolo on one note", "Muted tremolo", "Downstrokes on one string"] {
            assert!(kinds(name).is_empty(), "{name}");
        }
    }

    #[test]
    fn every_kind_and_every_run_from_one_to_six_is_there() {
        let mut kinds = BTreeSet::new();
        let mut runs = BTreeSet::new();
        for b in built_in() {
            for n in b.drill().unwrap().grid() {
                kinds.extend(n.change.filter(|c| !c.after_gap).and_then(|c| c.kind.map(|k| (k, c.adjacent))));
                runs.insert(n.in_run.1);
            }
        }
        use ChangeKind::{Inside, Outside, SameStroke, Sweep};
        for kind in
            [(Outside, true), (Outside, false), (Inside, true), (Inside, false), (Sweep, true), (SameStroke, true)]
        {
            assert!(kinds.contains(&kind), "{kind:?}");
        }
        for length in 1..=6 {
            assert!(runs.contains(&length), "runs of {length}");
        }
    }
}
