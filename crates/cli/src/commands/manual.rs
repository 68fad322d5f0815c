//! `takegauge manual`: a page for the program and for every command, out of the same words as `--help`.

use crate::args::{Cli, ManualArgs};
use crate::fault::{Fault, Outcome};
use crate::output;
use clap::{Command, CommandFactory};
use std::io::{IsTerminal, Write};
use std::path::Path;

pub(crate) fn run(args: &ManualArgs) -> Outcome {
    let mut program = Cli::command();
    program.build();
    if let Some(folder) = &args.folder {
        output::make_folder(folder)?;
        return all(&program, folder);
    }
    let command = named(&program, &args.command)?;
    let page = page(command)?;
    if std::io::stdout().is_terminal() { shown(command, &page) } else { output::exactly(&page) }
}

/// The command of these words.
fn named<'a>(program: &'a Command, words: &[String]) -> Outcome<&'a Command> {
    words.iter().try_fold(program, |command, word| {
        command.find_subcommand(word).ok_or_else(|| {
            let there: Vec<&str> = command.get_subcommands().map(Command::get_name).filter(|n| *n != "help").collect();
            let fault =
                Fault::usage(format!("{} has no command {word:?}", command.get_bin_name().unwrap_or("takegauge")));
            if there.is_empty() { fault } else { fault.advise(format!("it has: {}", there.join(", "))) }
        })
    })
}

/// A page as roff source, under the command's whole name.
fn page(command: &Command) -> Outcome<Vec<u8>> {
    let mut page = Vec::new();
    clap_mangen::Man::new(command.clone().display_name(name(command)))
        .render(&mut page)
        .map_err(|e| Fault::usage(format!("cannot write the manual page: {e}")))?;
    Ok(page)
}

/// "takegauge-drill-make"
fn name(command: &Command) -> String {
    command.get_bin_name().unwrap_or("takegauge").replace(' ', "-")
}

/// Writes the page of a command and of all below it.
fn all(command: &Command, folder: &Path) -> Outcome {
    output::write(&folder.join(name(command) + ".1"), &page(command)?)?;
    command.get_subcommands().filter(|c| c.get_name() != "help").try_for_each(|c| all(c, folder))
}

/// Shows a page by the system's own `man`; where there is none, the help text.
fn shown(command: &Command, page: &[u8]) -> Outcome {
    let by_man = || {
        let mut file = tempfile::Builder::new().suffix(".1").tempfile()?;
        file.write_all(page)?;
        file.flush()?;
        // A name with a slash in it is a file to every man.
        std::process::Command::new("man").arg(file.path()).status()
    };
    match by_man() {
        Ok(status) if status.success() => Ok(()),
        _ => output::print(&command.clone().render_long_help().to_string()),
    }
}
