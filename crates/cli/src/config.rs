//! Where the settings file lies, and what its paths mean.

use crate::args::Common;
use crate::fault::{Fault, Outcome};
use directories::{BaseDirs, ProjectDirs};
use std::path::{Path, PathBuf};

pub(crate) use crate::settings::Settings as Config;

fn folders() -> Option<ProjectDirs> {
    ProjectDirs::from("", "", "takegauge")
}

/// Where the program keeps what it learnt, if the system names a place.
pub(crate) fn data_folder() -> Option<PathBuf> {
    folders().map(|f| f.data_dir().to_path_buf())
}

/// The settings file: the one that `--config` names, else the usual one, whether it is there or not.
pub(crate) fn file_of(common: &Common) -> Option<PathBuf> {
    common.config.clone().or_else(|| folders().map(|f| f.config_dir().join("config.toml")))
}

impl Config {
    /// The file that `--config` names, which must be there; else the usual one, if there is one.
    pub(crate) fn read(common: &Common) -> Outcome<Self> {
        let path = match file_of(common) {
            Some(path) if common.config.is_some() || path.is_file() => path,
            _ => return Ok(Self::default()),
        };
        let text = std::fs::read_to_string(&path).map_err(|e| Fault::unread(&path, &e).about("the settings"))?;
        Self::parse(&text, &path)
    }

    fn parse(text: &str, path: &Path) -> Outcome<Self> {
        let wrong = |e: &dyn std::fmt::Display| {
            Fault::usage(format!("the settings {}: {e}", path.display()))
                .advise("it may hold player, tuning and journal, each a text in quotes")
        };
        let config = Self::from_text(text).map_err(|e| wrong(&e))?;
        let beside = |p: PathBuf| match p.strip_prefix("~") {
            // As a shell would read it; no folder is ever called ~.
            Ok(rest) => BaseDirs::new().map_or_else(|| p.clone(), |dirs| dirs.home_dir().join(rest)),
            Err(_) => path.parent().map_or(p.clone(), |folder| folder.join(&p)),
        };
        Ok(Self { journal: config.journal.map(beside), ..config })
    }

    /// The journal: the option's, else the settings', else the usual place.
    pub(crate) fn journal(&self, option: Option<&Path>) -> Outcome<PathBuf> {
        let usual = || data_folder().map(|f| f.join("journal.db"));
        option.map(Path::to_path_buf).or_else(|| self.journal.clone()).or_else(usual).ok_or_else(|| {
            Fault::usage("this system names no folder for the journal").advise("name the journal with --journal-file")
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn settings_are_read_and_mistakes_named() {
        let path = Path::new("/place/config.toml");
        let c = Config::parse("player = 'Ada'\njournal = 'j.db'\ntuning = 'drop d'", path).unwrap();
        assert_eq!((c.player.as_deref(), c.journal.as_deref()), (Some("Ada"), Some(Path::new("/place/j.db"))));
        assert_eq!(c.journal(Some(Path::new("x.db"))).unwrap(), Path::new("x.db"));
        let home = Config::parse("journal = '~/x.db'", path).unwrap().journal.unwrap();
        assert!(home.is_absolute() && home.ends_with("x.db") && !home.to_string_lossy().contains('~'), "{home:?}");
        for bad in ["plyer = 'Ada'", "player = 3", "tuning = 'H9'", "player = "] {
            let fault = Config::parse(bad, path).unwrap_err();
            assert!(fault.to_string().contains("/place/config.toml"), "{bad}: {fault}");
        }
    }
}
