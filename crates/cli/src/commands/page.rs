//! `takegauge page`: the journal and every report in a browser.

use crate::args::{Common, PageArgs};
use crate::config::Config;
use crate::fault::{Fault, Outcome};
use crate::output;
use crate::pipeline::{self, Click, Request};
use indicatif::ProgressBar;
use std::path::Path;
use std::process::{Command, Stdio};
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::Duration;
use takegauge_audio::ChannelChoice;
use takegauge_drill::Drill;
use takegauge_page::{Options, Scorer, Server, interrupted};
use takegauge_review::ScoreReport;
use takegauge_units::Bpm;

/// The seed of all other commands, unless they are told another.
const SEED: u64 = 1;

pub(crate) fn run(args: &PageArgs, common: &Common) -> Outcome {
    let config = Config::read(common)?;
    let options = Options {
        port: args.port,
        upload_limit: args.upload_limit_mb * 1_000_000,
        journal: Some(config.journal(args.journal_file.as_deref())?),
        player: config.player.clone(),
    };
    let server = Server::bind(&options, Arc::new(Here)).map_err(|e| {
        Fault::usage(e).advise("another --port may be free; `takegauge journal check` looks for damage in a journal")
    })?;
    let url = server.url();
    output::print(&format!("{url}\n"))?;
    if !common.quiet {
        eprintln!("takegauge: this address works on this machine only; Ctrl-C stops it");
    }
    if args.open && !open(&url) {
        eprintln!("takegauge: no browser could be opened; open the address above");
    }
    server.run(interrupted()).map_err(Fault::usage)
}

/// Scores with the rooms of this binary.
struct Here;

impl Scorer for Here {
    fn score(
        &self,
        take: &Path,
        name: &str,
        drill: &Drill,
        tempo_bpm: Option<f64>,
        progress: &(dyn Fn(f64) + Sync),
    ) -> Result<ScoreReport, String> {
        let request = Request {
            take,
            name: Some(Path::new(name)),
            drill,
            channel: ChannelChoice::Auto,
            tempo: tempo_bpm.map(Bpm),
            click: Click::None,
            delay: None,
            seed: SEED,
            waveform: true,
        };
        let bar = ProgressBar::hidden();
        let over = AtomicBool::new(false);
        let mut report = std::thread::scope(|scope| {
            scope.spawn(|| {
                while !over.load(Ordering::Relaxed) {
                    progress(share(&bar));
                    std::thread::park_timeout(Duration::from_millis(100));
                }
            });
            let report = pipeline::score(&request, &bar);
            over.store(true, Ordering::Relaxed);
            report
        })
        // The file here has a name of its own, which says nothing to its sender.
        .map_err(|e| e.to_string().replace(&take.display().to_string(), name))?;
        name.clone_into(&mut report.take.path);
        Ok(report)
    }
}

/// The take is read twice: listening is the first half.
fn share(bar: &ProgressBar) -> f64 {
    let Some(length) = bar.length().filter(|l| *l > 0) else { return 0.0 };
    let half = 0.5 * (bar.position() as f64 / length as f64).min(1.0);
    if bar.message() == "measuring" { 0.5 + half } else { half }
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
