//! Settings of the command: defaults, then `settings.toml` in the station's folder, then the environment, then flags.
//!
//! The environment is read here and nowhere else. Names: `STANDPIPE_HOME`, `STANDPIPE_OUTPUT`, `STANDPIPE_LOG`,
//! `STANDPIPE_CONNECT_SECONDS`, `STANDPIPE_CALL_SECONDS`, and what everybody reads: `NO_COLOR`, `TERM`.

use crate::error::ClientError;
use crate::remote::Deadlines;
use config::{Config, File, FileFormat};
use serde::Deserialize;
use std::path::{Path, PathBuf};
use std::time::Duration;

const SETTINGS: &str = "settings.toml";
/// Greatest wait that may be set, in seconds.
const SECONDS_MAX: u64 = 60;

/// All settings with what holds where nothing is said.
const DEFAULTS: [(&str, &str); 4] =
    [("output", "text"), ("log", "off"), ("connect_seconds", "2"), ("call_seconds", "10")];

/// What the environment says; made from it once, by [`Environment::read`], or by a test.
#[derive(Debug, Clone, Default)]
pub struct Environment {
    /// `STANDPIPE_HOME`.
    pub home: Option<PathBuf>,
    /// Where programs of this user keep their data, if the system says so (XDG base directories).
    pub data_folder: Option<PathBuf>,
    /// Pairs of a setting and its text, for example `output` and `json`.
    pub settings: Vec<(String, String)>,
    /// True when nothing may be set off: `NO_COLOR` is set to something, or the terminal can nothing but text.
    pub plain: bool,
}

impl Environment {
    /// Reads the environment of this process.
    #[must_use]
    pub fn read() -> Self {
        let path = |name: &str| std::env::var_os(name).filter(|value| !value.is_empty()).map(PathBuf::from);
        let setting = |(name, variable): (&str, &str)| {
            std::env::var(variable).ok().filter(|text| !text.is_empty()).map(|text| (name.to_owned(), text))
        };
        let known = [
            ("output", "STANDPIPE_OUTPUT"),
            ("log", "STANDPIPE_LOG"),
            ("connect_seconds", "STANDPIPE_CONNECT_SECONDS"),
            ("call_seconds", "STANDPIPE_CALL_SECONDS"),
        ];
        Self {
            home: path("STANDPIPE_HOME"),
            data_folder: path("XDG_DATA_HOME").or_else(|| path("HOME").map(|home| home.join(".local/share"))),
            settings: known.into_iter().filter_map(setting).collect(),
            plain: std::env::var_os("NO_COLOR").is_some_and(|set| !set.is_empty())
                || std::env::var_os("TERM").is_none_or(|term| term.is_empty() || term == "dumb"),
        }
    }

    /// The station's folder: the flag, else `STANDPIPE_HOME`, else `standpipe` among the user's data.
    ///
    /// # Errors
    /// When nothing says where it is.
    pub fn home(&self, flag: Option<&Path>) -> Result<PathBuf, ClientError> {
        let default = || self.data_folder.as_ref().map(|folder| folder.join("standpipe"));
        flag.map(Path::to_owned).or_else(|| self.home.clone()).or_else(default).ok_or_else(|| {
            ClientError::Usage(
                "no folder for the station is known; set STANDPIPE_HOME or give --home FOLDER".into(),
            )
        })
    }
}

/// How answers are written.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Output {
    /// For people.
    Text,
    /// For programs.
    Json,
    /// For spreadsheets; lists only.
    Csv,
}

/// The settings of one command.
#[derive(Debug, Clone, PartialEq, Eq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Settings {
    /// How answers are written.
    pub output: Output,
    /// What is logged to stderr, for example `debug`; `off` by default.
    pub log: String,
    connect_seconds: u64,
    call_seconds: u64,
}

impl Settings {
    /// Reads the settings for a station's folder.
    ///
    /// # Errors
    /// When a setting is not known or has no such value; the sentence names it.
    pub fn read(home: &Path, environment: &Environment) -> Result<Self, ClientError> {
        let file = home.join(SETTINGS);
        let told = |error: config::ConfigError| ClientError::Folder {
            path: file.clone(),
            what: format!(
                "or STANDPIPE_… in the environment: {error}; the settings are output (text, json, csv), log, \
                 connect_seconds, call_seconds (1 to {SECONDS_MAX})"
            ),
        };
        let mut builder = Config::builder();
        for (name, default) in DEFAULTS {
            builder = builder.set_default(name, default).map_err(&told)?;
        }
        builder = builder.add_source(File::from(file.as_path()).format(FileFormat::Toml).required(false));
        for (name, text) in &environment.settings {
            builder = builder.set_override(name, text.as_str()).map_err(&told)?;
        }
        let settings: Self = builder.build().and_then(Config::try_deserialize).map_err(&told)?;
        for (name, seconds) in
            [("connect_seconds", settings.connect_seconds), ("call_seconds", settings.call_seconds)]
        {
            if !(1..=SECONDS_MAX).contains(&seconds) {
                return Err(ClientError::Folder {
                    path: file,
                    what: format!("{name} is {seconds}; 1 to {SECONDS_MAX} seconds are allowed"),
                });
            }
        }
        Ok(settings)
    }

    /// Every setting with its value and where that was said.
    ///
    /// # Errors
    /// When the file cannot be read; what stands there is checked by [`Settings::read`].
    pub fn origins(
        home: &Path,
        environment: &Environment,
    ) -> Result<Vec<(&'static str, String, String)>, ClientError> {
        let file = home.join(SETTINGS);
        let told =
            |error: config::ConfigError| ClientError::Folder { path: file.clone(), what: error.to_string() };
        let source = File::from(file.as_path()).format(FileFormat::Toml).required(false);
        let said = config::Source::collect(&source).map_err(told)?;
        let of = |(key, default): (&'static str, &str)| {
            let set = environment.settings.iter().rev().find(|(name, _)| name == key);
            if let Some((_, text)) = set {
                return (key, text.clone(), format!("environment, STANDPIPE_{}", key.to_uppercase()));
            }
            match said.get(key).and_then(|value| value.clone().into_string().ok()) {
                Some(value) => (key, value, file.display().to_string()),
                None => (key, default.to_owned(), "default".to_owned()),
            }
        };
        Ok(DEFAULTS.into_iter().map(of).collect())
    }

    /// How long to wait for the server.
    #[must_use]
    pub fn deadlines(&self) -> Deadlines {
        Deadlines {
            connect: Duration::from_secs(self.connect_seconds),
            call: Duration::from_secs(self.call_seconds),
            ..Deadlines::default()
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn set(pairs: &[(&str, &str)]) -> Environment {
        let settings = pairs.iter().map(|(name, text)| ((*name).to_owned(), (*text).to_owned())).collect();
        Environment { settings, ..Environment::default() }
    }

    #[test]
    fn the_environment_wins_over_the_file_and_the_file_over_the_defaults() {
        let home = tempfile::tempdir().unwrap();
        let read = |environment: &Environment| Settings::read(home.path(), environment).unwrap();
        assert_eq!(read(&set(&[])).output, Output::Text);
        assert_eq!(read(&set(&[])).deadlines(), Deadlines::default());
        std::fs::write(home.path().join(SETTINGS), "output = \"json\"\ncall_seconds = 5\n").unwrap();
        assert_eq!(read(&set(&[])).output, Output::Json);
        let both = read(&set(&[("output", "csv"), ("connect_seconds", "1")]));
        assert_eq!(both.output, Output::Csv);
        assert_eq!(both.deadlines().call, Duration::from_secs(5));
        assert_eq!(both.deadlines().connect, Duration::from_secs(1));
    }

    #[test]
    fn each_setting_says_where_its_value_stands() {
        let home = tempfile::tempdir().unwrap();
        std::fs::write(home.path().join(SETTINGS), "output = \"json\"\ncall_seconds = 5\n").unwrap();
        let said = Settings::origins(home.path(), &set(&[("output", "csv")])).unwrap();
        let file = home.path().join(SETTINGS).display().to_string();
        let row = |key, value: &str, origin: &str| (key, value.to_owned(), origin.to_owned());
        let expected = [
            row("output", "csv", "environment, STANDPIPE_OUTPUT"),
            row("log", "off", "default"),
            row("connect_seconds", "2", "default"),
            row("call_seconds", "5", &file),
        ];
        assert_eq!(said, expected);
    }

    #[test]
    fn an_unknown_setting_or_value_is_named() {
        let home = tempfile::tempdir().unwrap();
        let sentence =
            |pairs: &[(&str, &str)]| Settings::read(home.path(), &set(pairs)).unwrap_err().to_string();
        assert!(sentence(&[("output", "xml")]).contains("xml"));
        assert!(sentence(&[("call_seconds", "0")]).contains("1 to 60"));
        std::fs::write(home.path().join(SETTINGS), "colour = true\n").unwrap();
        assert!(sentence(&[]).contains("colour"));
    }

    #[test]
    fn the_flag_wins_over_the_environment_for_the_folder() {
        let mut environment =
            Environment { home: Some("/a".into()), data_folder: Some("/d".into()), ..Environment::default() };
        assert_eq!(environment.home(Some(Path::new("/f"))).unwrap(), Path::new("/f"));
        assert_eq!(environment.home(None).unwrap(), Path::new("/a"));
        environment.home = None;
        assert_eq!(environment.home(None).unwrap(), Path::new("/d/standpipe"));
        assert!(Environment::default().home(None).is_err());
    }
}
