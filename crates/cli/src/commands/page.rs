//! `takegauge page`: the journal and every report in a browser.

use crate::args::{Common, PageArgs};
use crate::config::Config;
use crate::delays::Delays;
use crate::fault::{Fault, Outcome};
use crate::output;
use std::cell::Cell;
use std::ops::ControlFlow;
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};
use std::sync::Arc;
use takegauge_audio::ChannelChoice;
use takegauge_click::Delay;
use takegauge_drill::Drill;
use takegauge_page::{Options, Played, Scorer, Server, ToClick, interrupted};
use takegauge_review::ScoreReport;
use takegauge_take::{Click, Pass, Progress, Request, score};
use takegauge_units::{Millis, Seconds};

pub(crate) fn run(args: &PageArgs, common: &Common) -> Outcome {
    let config = Config::read(common)?;
    let options = Options {
        port: args.port,
        upload_limit: args.upload_limit_mb * 1_000_000,
        journal: Some(config.journal(args.journal_file.as_deref())?),
        player: config.player.clone(),
    };
    if args.delay_file.is_some() {
        // Said at once, and not when a delay has just been measured.
        Delays::open(args.delay_file.as_deref())?;
    }
    let here = Here { delay_file: args.delay_file.clone() };
    let server = Server::bind(&options, Arc::new(here)).map_err(|e| {
        Fault::usage(e).advise("another --port may be free; `takegauge journal check` looks for damage in a journal")
    })?;
    let url = server.url();
    output::print(&format!("{url}\n"))?;
    if !common.quiet {
        tell!("takegauge: this address works on this machine only; Ctrl-C stops it");
    }
    if args.open && !open(&url) {
        tell!("takegauge: no browser could be opened; open the address above");
    }
    server.run(interrupted()).map_err(Fault::usage)
}

/// Scores with the rooms of this binary, and remembers delays where `click --loopback-check` does.
struct Here {
    delay_file: Option<PathBuf>,
}

impl Scorer for Here {
    fn score(
        &self,
        take: &Path,
        name: &str,
        drill: &Drill,
        played: &Played,
        progress: &(dyn Fn(f64) -> bool + Sync),
    ) -> Result<ScoreReport, String> {
        // A known delay moves the whole grid, so that also one of several notes pairs each with its own.
        let due = |c: ToClick| c.first_step + c.delay.map_or(Seconds(0.0), Millis::seconds);
        let request = Request {
            name: Some(Path::new(name)),
            tempo: played.tempo,
            click: played.click.map_or(Click::None, |c| Click::Start(due(c))),
            delay: played.click.and_then(|c| c.delay).map(|_| Millis(0.0)),
            waveform: true,
            ..Request::new(take, drill)
        };
        let mut report = score(&request, &Share::of(progress))
            // The file here has a name of its own, which says nothing to its sender.
            .map_err(|e| e.to_string().replace(&take.display().to_string(), name))?;
        name.clone_into(&mut report.take.path);
        Ok(report)
    }

    fn clicks(&self, recording: &Path) -> Result<Vec<Seconds>, String> {
        let heard = takegauge_take::clicks(recording, ChannelChoice::Auto).map_err(|e| e.to_string())?;
        Ok(heard.into_iter().map(|c| c.0).collect())
    }

    fn delay(&self, set_up: &str) -> Result<Option<Millis>, String> {
        self.delays()?.find(set_up).map_err(|e| e.to_string())
    }

    fn keep_delay(&self, set_up: &str, delay: Delay) -> Result<(), String> {
        self.delays()?.keep(set_up, delay).map(drop).map_err(|e| e.to_string())
    }
}

impl Here {
    fn delays(&self) -> Result<Delays, String> {
        Delays::open(self.delay_file.as_deref()).map_err(|e| e.to_string())
    }
}

/// The share of a take that is done: listening is the first half.
struct Share<'a> {
    tell: &'a (dyn Fn(f64) -> bool + Sync),
    /// Share done before this pass, samples of this pass, samples read.
    at: Cell<(f64, u64, u64)>,
}

impl<'a> Share<'a> {
    fn of(tell: &'a (dyn Fn(f64) -> bool + Sync)) -> Self {
        Self { tell, at: Cell::new((0.0, 0, 0)) }
    }

    fn told(&self, share: f64) -> ControlFlow<()> {
        if (self.tell)(share) { ControlFlow::Continue(()) } else { ControlFlow::Break(()) }
    }
}

impl Progress for Share<'_> {
    fn begin(&self, pass: Pass, samples: Option<u64>) {
        let before = if pass == Pass::Measuring { 0.5 } else { 0.0 };
        self.at.set((before, samples.unwrap_or(0), 0));
        (self.tell)(before);
    }

    fn seek(&self, _: f64) -> ControlFlow<()> {
        self.told(0.5)
    }

    fn advance(&self, samples: u64) -> ControlFlow<()> {
        let (before, all, read) = self.at.get();
        let read = read + samples;
        self.at.set((before, all, read));
        let share = if all == 0 { 0.0 } else { (read as f64 / all as f64).min(1.0) };
        self.told(before + 0.5 * share)
    }
}

/// Asks the system's own opener; whether it could be started.
fn open(url: &str) -> bool {
    let (program, before): (&str, &[&str]) = if cfg!(target_os = "macos") {
        ("open", &[])
    } else if cfg!(windows) {
        ("rundll32", &["url.dll,FileProtocolHandler"])
    } else {
        ("xdg-open", &[])
    };
    let quiet = || Stdio::null();
    Command::new(program).args(before).arg(url).stdin(quiet()).stdout(quiet()).stderr(quiet()).spawn().is_ok()
}
