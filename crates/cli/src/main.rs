//! The `takegauge` binary: arguments in, rooms called in order, files and text out. Glue only.

#![cfg_attr(not(test), warn(clippy::print_stderr, clippy::print_stdout))] // both panic where nothing can be written

/// Says something on standard error, orders to the terminal written out. Where nothing can be written there, the work
/// goes on all the same.
macro_rules! tell {
    ($($words:tt)*) => { crate::output::tell(&format!($($words)*)) };
}

mod args;
mod commands;
mod config;
mod delays;
mod fault;
mod output;
mod settings;
mod shown;

use args::{Cli, Command};
use clap::{CommandFactory, Parser};
use fault::Outcome;
use std::process::ExitCode;

fn main() -> ExitCode {
    let cli = Cli::parse();
    match run(&cli) {
        Ok(()) => ExitCode::SUCCESS,
        Err(fault) => {
            fault.tell();
            ExitCode::from(fault.code())
        }
    }
}

fn run(cli: &Cli) -> Outcome {
    output::may_replace(cli.common.replace);
    output::say_less(cli.common.quiet);
    match &cli.command {
        Command::Demo(a) => commands::demo::run(a, &cli.common),
        Command::Drill(c) => commands::drill::run(c, &cli.common),
        Command::Click(a) => commands::click::run(a),
        Command::Onsets(a) => commands::onsets::run(a, &cli.common),
        Command::Score(a) => commands::score::run(a, &cli.common),
        Command::Ladder(a) => commands::ladder::run(a, &cli.common),
        Command::Session(a) => commands::session::run(a, &cli.common),
        Command::Journal(a) => commands::journal::run(a, &cli.common),
        Command::Watch(a) => commands::watch::run(a, &cli.common),
        Command::Batch(a) => commands::batch::run(a, &cli.common),
        Command::Page(a) => commands::page::run(a, &cli.common),
        Command::Completions { shell } => {
            let mut script = Vec::new();
            clap_complete::generate(*shell, &mut Cli::command(), "takegauge", &mut script);
            output::exactly(&script)
        }
        Command::Config => commands::config::run(&cli.common),
        Command::Manual(a) => commands::manual::run(a),
    }
}
