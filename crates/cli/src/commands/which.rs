//! A take without a drill: which of those at hand it is of.

use crate::args::{Common, ScoreInputs};
use crate::commands::inputs::{channel, drill_for, open_drill, restart};
use crate::config::Config;
use crate::fault::{Fault, Outcome};
use std::path::{Path, PathBuf};
use takegauge_drill::{Drill, built_in};
use takegauge_journal::Journal;
use takegauge_review::ScoreReport;
use takegauge_take::{
    Click, FEW_ATTACKS, Heard, Progress, Request, TakeError, Tap, Told, hear_to_score, score_heard, score_with, which,
};
use takegauge_units::Bpm;

/// Drill files of a folder that are looked at; a folder of more is no folder of drills.
const MOST_FILES: usize = 500;

/// The share of a take's notes not as written beyond which it is of no drill that was told from it: a hundred made takes
/// with faults have up to 0.18 (the messy ones), the demo's line against the nearest built-in one 0.30.
const MOST_NOT_AS_WRITTEN: f64 = 0.25;

/// A drill at hand, and what a player calls it.
struct Offered {
    name: String,
    drill: Drill,
}

/// The drill of a take, and the take's first pass where that was taken to tell it.
pub(crate) struct Recognised {
    pub(crate) drill: Drill,
    heard: Option<Heard>,
    /// Which drill it was taken for, and what else it may have been; nothing where the drill was named.
    pub(crate) said: Option<String>,
}

impl Recognised {
    /// A drill that was named.
    pub(crate) fn named(drill: Drill) -> Self {
        Self { drill, heard: None, said: None }
    }

    /// Scores the take of `request`, whose drill is this one: it is not heard twice.
    pub(crate) fn score(
        &self,
        request: &Request<'_>,
        progress: &dyn Progress,
        tap: &mut dyn Tap,
    ) -> Result<ScoreReport, TakeError> {
        match &self.heard {
            // A click on another channel is heard in the first pass.
            Some(heard) if !matches!(request.click, Click::Channel(_)) => score_heard(request, heard, progress, tap),
            _ => score_with(request, progress, tap),
        }
    }
}

impl Recognised {
    /// Whether the score bears out the drill that was told; one that was named is taken at its word.
    ///
    /// # Errors
    /// Most likely the take is of a drill that is not at hand.
    pub(crate) fn borne_out(&self, take: &Path, report: &ScoreReport) -> Outcome {
        let s = &report.summary;
        let (errors, of) = (s.missed + s.wrong_pitch + s.extra, s.notes_reached);
        if self.said.is_none() || errors as f64 <= MOST_NOT_AS_WRITTEN * of as f64 {
            return Ok(());
        }
        let name = &self.drill.name;
        Err(Fault::not_scored(format!(
            "{}: of the drills at hand \"{name}\" comes nearest, but {errors} of {of} notes are not as it has them: most \
             likely the take is of another",
            take.display()
        ))
        .advise("name the drill with --drill; if it is this one, name that"))
    }
}

/// The journal whose drills are at hand: the option's, else the usual one, where there is one.
pub(crate) fn journal_at_hand(option: Option<&Path>, common: &Common) -> Option<PathBuf> {
    Config::read(common).and_then(|c| c.journal(option)).ok().filter(|path| path.is_file())
}

/// The drill that is named, or lies beside the take, or is told from the take itself among those at hand: then the
/// take's first pass comes along.
pub(crate) fn recognise(
    inputs: &ScoreInputs,
    take: &Path,
    journal: Option<&Path>,
    progress: &dyn Progress,
) -> Outcome<Recognised> {
    let folder = inputs.drill.as_deref().filter(|d| d.is_dir());
    let beside = inputs.drill.is_none() && take.with_file_name("drill.toml").is_file();
    if (inputs.drill.is_some() && folder.is_none()) || beside {
        return Ok(Recognised::named(drill_for(inputs, take)?));
    }
    let offered = match folder {
        Some(folder) => in_folder(folder).map_err(|e| Fault::unread(folder, &e))?,
        None => at_hand(take, journal),
    };
    if let Some(folder) = folder.filter(|_| offered.is_empty()) {
        return Err(Fault::usage(format!("{}: no drill file in this folder", folder.display()))
            .advise("name a drill file, a folder of them, or one of `takegauge drill list`"));
    }
    let heard = hear_to_score(take, channel(&inputs.channel)?, progress)?;
    heard.not_silent()?;
    let drills: Vec<Drill> = offered.iter().map(|o| o.drill.clone()).collect();
    let name = |i: usize| offered[i].name.as_str();
    match which(&heard, take, &drills, inputs.tempo.map(Bpm)) {
        Told::Clear { drill, next, alike } => {
            let same = match alike.len() {
                0 => "",
                1 => ", which sounds the same",
                _ => ", which sound the same",
            };
            // Those that sound the same fit as well.
            let none = if alike.is_empty() { "no other fits" } else { "nothing that sounds otherwise fits" };
            let alike: String = alike.iter().take(3).map(|i| format!(", or {}", name(*i))).collect();
            let next = next.map_or(none.to_owned(), |i| format!("next, far less likely: {}", name(i)));
            let few = match heard.strong() {
                n if n < FEW_ATTACKS => {
                    format!("; the take is short, {n} attacks: to be sure, name the drill with --drill")
                }
                _ => String::new(),
            };
            let said = format!("no drill was named; this is {}{alike}{same} ({next}){few}", name(drill));
            let drill = restart(drills[drill].clone(), inputs.first_stroke);
            Ok(Recognised { drill, heard: Some(heard), said: Some(said) })
        }
        Told::Open(drills) => {
            let names: Vec<&str> = drills.iter().map(|i| name(*i)).collect();
            Err(Fault::not_scored(format!("{}: this may be {}", take.display(), names.join(", or ")))
                .advise("say which with --drill"))
        }
        Told::None if heard.strong() < FEW_ATTACKS => {
            let (n, one) = (heard.strong(), heard.strong() == 1);
            Err(Fault::not_scored(format!(
                "{}: the take is short, {n} attack{}: too {} to tell the drill from",
                take.display(),
                if one { "" } else { "s" },
                if one { "little" } else { "few" },
            ))
            .advise("name the drill with --drill; at least one whole repeat of its line is needed"))
        }
        Told::None => {
            let names: Vec<&str> = (0..offered.len()).map(name).collect();
            Err(Fault::not_scored(format!(
                "{}: none of the {} drills at hand fits: {}",
                take.display(),
                names.len(),
                names.join(", ")
            ))
            .advise("name the drill with --drill: a file, a folder of them, or one of `takegauge drill list`"))
        }
    }
}

/// The drill files beside the take, the journal's drills, the built-in ones; what cannot be read is no drill.
fn at_hand(take: &Path, journal: Option<&Path>) -> Vec<Offered> {
    let folder = take.parent().filter(|p| !p.as_os_str().is_empty()).unwrap_or(Path::new("."));
    let mut all = in_folder(folder).unwrap_or_default();
    // Of drills that sound the same the first is taken: rather the one that is called as the take is.
    let own = take.with_extension("toml").display().to_string();
    all.sort_by_key(|o| o.name != own);
    let kept = journal.and_then(|path| Journal::open_read_only(path).ok()?.drills().ok()).unwrap_or_default();
    all.extend(kept.into_iter().filter_map(|row| {
        let drill = Drill::parse(&row.toml, &row.name).ok()?;
        Some(Offered { name: format!("{} (journal)", row.name), drill })
    }));
    all.extend(built_in().filter_map(|b| Some(Offered { name: b.name.to_owned(), drill: b.drill().ok()? })));
    all
}

/// The drills of a folder, by file name.
fn in_folder(folder: &Path) -> std::io::Result<Vec<Offered>> {
    let mut files: Vec<_> = std::fs::read_dir(folder)?.flatten().map(|e| e.path()).collect();
    files.retain(|p| p.extension().is_some_and(|e| e.eq_ignore_ascii_case("toml")));
    files.sort();
    let drills = files.into_iter().take(MOST_FILES).filter_map(|path| {
        let drill = open_drill(&path).ok()?;
        Some(Offered { name: path.strip_prefix(".").unwrap_or(&path).display().to_string(), drill })
    });
    Ok(drills.collect())
}
