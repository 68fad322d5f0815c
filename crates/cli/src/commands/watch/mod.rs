//! `takegauge watch`: scores what a DAW bounces to a folder, once it is complete.
//!
//! The system's notices make it prompt; what is there is read from the folder itself, so that a notice lost, a rename
//! or five hundred files at once change nothing.

mod ready;
mod stump;

use crate::args::{Common, WatchArgs};
use crate::commands::folder::{drill_of, takes_in};
use crate::commands::inputs::request;
use crate::commands::journal::{Keeper, keep};
use crate::commands::which::{Recognised, journal_at_hand};
use crate::config::Config;
use crate::fault::{Fault, Outcome};
use crate::output;
use notify::{RecursiveMode, Watcher};
use rayon::prelude::*;
use ready::{Seen, Waiting, Writers};
use std::collections::BTreeMap;
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::mpsc;
use std::time::{Duration, Instant};
use stump::Stump;
use takegauge_drill::Drill;
use takegauge_journal::{Added, Filter};
use takegauge_report::{json, score_html};
use takegauge_review::ScoreReport;
use takegauge_take::NoTap;

/// How often waiting files are looked at.
const TICK: Duration = Duration::from_millis(200);
/// The folder is read at least so often.
const AT_LEAST: Duration = Duration::from_secs(1);
/// `--once` waits so long for files that do not come to rest.
const LAST_CALL: Duration = Duration::from_secs(15);

pub(crate) fn run(args: &WatchArgs, common: &Common) -> Outcome {
    if !args.folder.is_dir() {
        let what = if args.folder.exists() { "is no folder" } else { "is not there; make the folder first" };
        return Err(Fault::usage(format!("{} {what}", args.folder.display())));
    }
    let stop = Arc::new(AtomicBool::new(false));
    let flag = Arc::clone(&stop);
    // A second Ctrl-C while the last takes are finished ends at once: files are renamed into place when whole.
    ctrlc::set_handler(move || {
        if flag.swap(true, Ordering::SeqCst) {
            std::process::exit(130);
        }
    })
    .map_err(|e| Fault::usage(format!("cannot listen for Ctrl-C: {e}")))?;
    let keeper = match args.no_journal {
        true => None,
        false => {
            let config = Config::read(common)?;
            let path = config.journal(args.journal_file.as_deref())?;
            // With a folder a player the name comes with each take.
            let player = args.inputs.player.as_deref().or(args.folder_a_player.then_some("-"));
            Some(Keeper::open(&path, player, args.picked, &config, common)?)
        }
    };
    let mut watch = Watch {
        args,
        journal: journal_at_hand(args.journal_file.as_deref(), common),
        keeper,
        waiting: BTreeMap::new(),
        done: BTreeMap::new(),
        kept: BTreeMap::new(),
        failures: 0,
        no_journal: false,
        gone: false,
    };
    let (send, notices) = mpsc::channel();
    let watcher = watch.listen(send);
    if !common.quiet && !args.once {
        tell!("takegauge: watching {}; Ctrl-C ends it", args.folder.display());
    }
    let result = watch.work(&notices, watcher, &stop);
    if args.once && watch.failures > 0 && result.is_ok() {
        return Err(Fault::not_scored(format!("{} could not be scored, see above", output::takes(watch.failures))));
    }
    result
}

struct Watch<'a> {
    args: &'a WatchArgs,
    keeper: Option<Keeper>,
    /// Whose drills a take may be of, where none is kept in.
    journal: Option<PathBuf>,
    waiting: BTreeMap<PathBuf, Waiting>,
    done: BTreeMap<PathBuf, Seen>,
    /// Takes that were kept since the start, in case their recordings grow.
    kept: BTreeMap<PathBuf, Stump>,
    failures: usize,
    /// The journal has vanished, and that was said.
    no_journal: bool,
    /// The folder has vanished, and that was said.
    gone: bool,
}

impl Watch<'_> {
    /// The system's notices; `None` where it gives none, then the folder is read every second.
    fn listen(&self, send: mpsc::Sender<()>) -> Option<notify::RecommendedWatcher> {
        let told = move |event: notify::Result<notify::Event>| {
            if event.is_ok_and(|e| !e.kind.is_access()) {
                // Nobody listens any more: the program is ending.
                let _ = send.send(());
            }
        };
        let mut watcher = notify::recommended_watcher(told).ok()?;
        watcher.watch(&self.args.folder, self.depth()).ok()?;
        Some(watcher)
    }

    fn depth(&self) -> RecursiveMode {
        if self.args.folder_a_player { RecursiveMode::Recursive } else { RecursiveMode::NonRecursive }
    }

    fn work(
        &mut self,
        notices: &mpsc::Receiver<()>,
        mut watcher: Option<notify::RecommendedWatcher>,
        stop: &AtomicBool,
    ) -> Outcome {
        let mut read = Instant::now();
        let mut moved = Instant::now();
        let mut again = true;
        while !stop.load(Ordering::SeqCst) {
            if again || read.elapsed() >= AT_LEAST {
                let was_gone = self.gone;
                self.read_folder()?;
                if was_gone && !self.gone {
                    // The old folder's watch died with it. Without a new one the folder is read every second as it is.
                    if let Some(w) = &mut watcher {
                        let _ = w.unwatch(&self.args.folder);
                        let _ = w.watch(&self.args.folder, self.depth());
                    }
                }
                read = Instant::now();
            }
            let ready = self.ready();
            if !ready.is_empty() {
                self.score(&ready, stop)?;
                moved = Instant::now();
            }
            if self.args.once && (self.waiting.is_empty() || moved.elapsed() > LAST_CALL) {
                for path in self.waiting.keys() {
                    tell!("takegauge: {}: not complete yet", path.display());
                    self.failures += 1;
                }
                return Ok(());
            }
            again = notices.recv_timeout(TICK).is_ok();
            while notices.try_recv().is_ok() {}
        }
        Ok(())
    }

    /// Which files wait to be scored.
    fn read_folder(&mut self) -> Outcome {
        let depth = usize::from(self.args.folder_a_player);
        let takes = match takes_in(&self.args.folder, depth) {
            Ok(takes) => takes,
            Err(e) if self.args.once => return Err(Fault::unread(&self.args.folder, &e)),
            Err(_) => {
                if !self.gone {
                    tell!("takegauge: {} is gone; waiting for it to come back", self.args.folder.display());
                }
                self.gone = true;
                self.waiting.clear();
                return Ok(());
            }
        };
        self.gone = false;
        self.waiting.retain(|path, _| takes.binary_search(path).is_ok());
        self.done.retain(|path, _| takes.binary_search(path).is_ok());
        for path in takes {
            let Some(seen) = Seen::of(&path) else { continue };
            if self.done.get(&path) == Some(&seen) || self.waiting.contains_key(&path) {
                continue;
            }
            if self.reported(&path, seen) {
                self.done.insert(path, seen);
            } else {
                self.waiting.insert(path, Waiting::new(seen));
            }
        }
        Ok(())
    }

    /// Whether a report of this very file is there from an earlier run.
    fn reported(&self, take: &Path, seen: Seen) -> bool {
        let report = std::fs::metadata(self.report_path(take, "json")).and_then(|m| m.modified());
        report.ok().zip(seen.modified).is_some_and(|(report, take)| report >= take)
    }

    /// NAME.wav.report.json beside the take, or in `--out`, there in the player's folder.
    fn report_path(&self, take: &Path, ending: &str) -> PathBuf {
        let mut name = take.file_name().unwrap_or_default().to_owned();
        name.push(format!(".report.{ending}"));
        match &self.args.out {
            None => take.with_file_name(name),
            Some(out) => match self.player_folder(take) {
                Some(player) => out.join(player).join(name),
                None => out.join(name),
            },
        }
    }

    /// The name of the folder between the watched one and the take.
    fn player_folder(&self, take: &Path) -> Option<String> {
        let below = take.strip_prefix(&self.args.folder).ok()?.parent()?;
        let name = below.file_name()?.to_string_lossy().into_owned();
        self.args.folder_a_player.then_some(name)
    }

    /// The waiting files that are complete now; no longer waiting.
    fn ready(&mut self) -> Vec<(PathBuf, Seen)> {
        let (mut ready, writers) = (Vec::new(), Writers::default());
        self.waiting.retain(|path, waiting| match Seen::of(path) {
            // It went away or was renamed: under its new name it is another file.
            None => false,
            Some(seen) if waiting.look(path, seen, &writers) => {
                ready.push((path.clone(), seen));
                false
            }
            Some(_) => true,
        });
        ready
    }

    /// Scores on all cores, a few at a time so that Ctrl-C need not wait for all, and tells in order.
    fn score(&mut self, ready: &[(PathBuf, Seen)], stop: &AtomicBool) -> Outcome {
        if !self.journal_there() {
            self.wait_again(ready);
            return Ok(());
        }
        for few in ready.chunks(rayon::current_num_threads().max(1)) {
            if stop.load(Ordering::SeqCst) {
                return Ok(());
            }
            let inputs = &self.args.inputs;
            let journal = match &self.keeper {
                Some(keeper) => Some(keeper.journal.path().to_path_buf()),
                None => self.journal.clone(),
            };
            let scored: Vec<Outcome<(Recognised, ScoreReport)>> = few
                .par_iter()
                .map(|(path, _)| {
                    let told = drill_of(inputs, path, journal.as_deref())?;
                    let mut request = request(inputs, path, &told.drill)?;
                    request.waveform = true;
                    let report = told.score(&request, &(), &mut NoTap)?;
                    told.borne_out(path, &report)?;
                    Ok((told, report))
                })
                .collect();
            for ((path, seen), scored) in few.iter().zip(scored) {
                let told = scored.and_then(|(told, report)| {
                    let line = self.finish(path, &told.drill, &report)?;
                    Ok(told.said.map_or(line.clone(), |said| format!("{line}  {said}\n")))
                });
                match told {
                    Ok(text) => output::print(&text)?,
                    Err(Fault::BrokenPipe) => return Err(Fault::BrokenPipe),
                    Err(_) if Seen::of(path).is_none() => continue,
                    // What could not be kept is not done.
                    Err(_) if !self.journal_there() => {
                        self.wait_again(&[(path.clone(), *seen)]);
                        continue;
                    }
                    Err(fault) => {
                        self.failures += 1;
                        let name = path.display().to_string();
                        if fault.to_string().starts_with(&name) { fault } else { fault.about(name) }.tell();
                    }
                }
                self.done.insert(path.clone(), *seen);
            }
        }
        Ok(())
    }

    fn wait_again(&mut self, takes: &[(PathBuf, Seen)]) {
        self.waiting.extend(takes.iter().map(|(path, seen)| (path.clone(), Waiting::new(*seen))));
    }

    /// Whether takes can be kept; says once that they cannot, and that they can again.
    fn journal_there(&mut self) -> bool {
        let Some(keeper) = &mut self.keeper else { return true };
        let there = keeper.is_there();
        if there == self.no_journal {
            let path = keeper.journal.path().display();
            if there {
                tell!("takegauge: the journal {path} is there again");
            } else {
                tell!("takegauge: the journal {path} is gone; takes wait until it is back");
            }
            self.no_journal = !there;
        }
        there
    }

    /// A take kept from a recording that was not whole gives way to the one of the whole recording; what is said of it.
    fn replace_stump(&mut self, take: &Path, added: Added) -> Outcome<String> {
        let (Some(keeper), Added::New(id)) = (&mut self.keeper, added) else { return Ok(String::new()) };
        let before = self.kept.remove(take);
        if let Some(now) = Stump::of(take, id) {
            self.kept.insert(take.to_path_buf(), now);
        }
        let Some(stump) = before.filter(|s| s.has_grown(take)) else { return Ok(String::new()) };
        let which = Filter { takes: Some(vec![stump.take]), ..Filter::default() };
        let what = format!("replacing take {}, whose recording has grown", stump.take);
        keeper.journal.delete(&which, &what).map_err(Fault::usage)?;
        Ok(format!("  It replaces take {}, which was kept before the recording was whole.\n", stump.take))
    }

    /// Journal first, then the files: a report beside a take says that all is done.
    fn finish(&mut self, take: &Path, drill: &Drill, report: &ScoreReport) -> Outcome<String> {
        let folder = self.player_folder(take);
        let head = report.summary.headline.first().map_or("", String::as_str);
        let mut line = format!("{}: {head}\n", take.display());
        let by_folder = self.args.folder_a_player && self.args.inputs.player.is_none();
        if let Some(keeper) = &mut self.keeper {
            if by_folder {
                let name = folder.ok_or_else(|| Fault::usage("this take lies in no player's folder"))?;
                keeper.player = name;
            }
            let (added, said) = keep(keeper, take, drill, report)?;
            line = said + &self.replace_stump(take, added)?;
        }
        let out = self.report_path(take, "json");
        if let Some(folder) = out.parent().filter(|_| self.args.out.is_some()) {
            output::make_folder(folder)?;
        }
        output::write(&self.report_path(take, "html"), score_html(report).as_bytes())?;
        let plain = ScoreReport { waveform: None, ..report.clone() };
        output::write(&out, json(&plain).as_bytes())?;
        if let Some(finding) = report.findings.first() {
            line.push_str(&format!("  {}\n", finding.text));
        }
        Ok(line)
    }
}
