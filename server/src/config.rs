//! Settings of the server: defaults, then `standpipe-server.toml` in the site's folder, then the environment, then
//! flags; the later wins. The only place that reads the environment.
//!
//! Variables are called `STANDPIPE_SERVER_` and the key in capitals, such as `STANDPIPE_SERVER_LISTEN`, so that they
//! cannot be mistaken for those of a station. An unknown key is refused, wherever it stands.

use crate::authority::names::is_name;
use crate::error::ServerError;
use crate::folder::SETTINGS_FILE;
use crate::server::{DEFAULT_LISTEN, DEFAULT_STOP_WITHIN};
use config::{Config, Environment, File, Source, Value};
use standpipe_proto::limits::door::{CONNECTIONS_PER_ADDRESS_MAX, CONNECTIONS_PER_ADDRESS_MOST};
use standpipe_store::SqliteOptions;
use std::net::SocketAddr;
use std::path::Path;
use std::time::Duration;

/// What the names of our variables begin with.
pub const ENVIRONMENT_PREFIX: &str = "STANDPIPE_SERVER";
/// All keys, with what may stand there.
const KEYS: [(&str, &str); 6] = [
    ("listen", "an address with a port, such as 127.0.0.1:50551, or 0.0.0.0:50551 for every interface"),
    ("names", "names or addresses with commas between them, such as shop.lane,10.0.0.7"),
    ("connections_per_address", "a whole number from 1 to 1000"),
    ("log", "what is logged, such as info or standpipe_server=debug"),
    ("log_format", "text or json"),
    ("stop_seconds", "a whole number from 1 to 10"),
];

/// How the log is written.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum LogFormat {
    /// Lines for people.
    Text,
    /// One JSON object a line.
    Json,
}

/// The settings of a server.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Settings {
    /// Where to listen.
    pub listen: SocketAddr,
    /// Names and addresses of the server besides those that it finds itself.
    pub names: Vec<String>,
    /// Most connections of one address that is not this machine's own.
    pub connections_per_address: usize,
    /// What is logged, in the grammar of `tracing_subscriber::EnvFilter`.
    pub log: String,
    /// How the log is written.
    pub log_format: LogFormat,
    /// Longest time that stopping may take.
    pub stop_within: Duration,
}

/// What was given as flags; each wins over everything else.
#[derive(Debug, Clone, Default)]
pub struct Flags {
    /// Where to listen.
    pub listen: Option<String>,
    /// What is logged.
    pub log: Option<String>,
    /// How the log is written.
    pub log_format: Option<String>,
}

/// Reads the settings of the site in a folder.
///
/// # Errors
/// [`ServerError::Setting`] that names where the wrong setting stands, its key and what is allowed.
pub fn read(dir: &Path, flags: Flags) -> Result<Settings, ServerError> {
    read_with(dir, flags, Environment::with_prefix(ENVIRONMENT_PREFIX))
}

/// How journals are opened for writing.
#[cfg(not(feature = "broken"))]
pub(crate) fn journal_options() -> Result<SqliteOptions, ServerError> {
    Ok(SqliteOptions::default())
}

/// How journals are opened for writing: with the fault that `STANDPIPE_FAULT` names, if it names one. Only builds
/// that are broken on purpose have this.
#[cfg(feature = "broken")]
pub(crate) fn journal_options() -> Result<SqliteOptions, ServerError> {
    let wrong = |what: String| setting("environment, STANDPIPE_FAULT", &what);
    match std::env::var("STANDPIPE_FAULT").as_deref() {
        Err(_) | Ok("") => Ok(SqliteOptions::default()),
        Ok(name) => Ok(SqliteOptions::default().with_fault(name.parse().map_err(wrong)?)),
    }
}

fn read_with(dir: &Path, flags: Flags, environment: Environment) -> Result<Settings, ServerError> {
    let path = dir.join(SETTINGS_FILE);
    let in_file = path.display().to_string();
    let in_environment = format!("environment, {ENVIRONMENT_PREFIX}_…");
    let file = File::from(path.as_path()).required(path.exists());
    known_keys(&file, &in_file)?;
    known_keys(&environment, &in_environment)?;
    let wrong = |error: config::ConfigError| setting(&in_file, &error.to_string());
    let merged = Config::builder()
        .set_default("listen", DEFAULT_LISTEN.to_string())
        .and_then(|builder| builder.set_default("names", ""))
        .and_then(|builder| {
            builder.set_default("connections_per_address", CONNECTIONS_PER_ADDRESS_MAX.to_string())
        })
        .and_then(|builder| builder.set_default("log", "info"))
        .and_then(|builder| builder.set_default("log_format", "text"))
        .and_then(|builder| builder.set_default("stop_seconds", DEFAULT_STOP_WITHIN.as_secs()))
        .map(|builder| builder.add_source(file).add_source(environment))
        .and_then(|builder| builder.set_override_option("listen", flags.listen))
        .and_then(|builder| builder.set_override_option("log", flags.log))
        .and_then(|builder| builder.set_override_option("log_format", flags.log_format))
        .and_then(|builder| builder.build())
        .map_err(wrong)?;
    let listen = text(&merged, "listen")?;
    let names = text(&merged, "names")?;
    let per_address = text(&merged, "connections_per_address")?;
    let log_format = text(&merged, "log_format")?;
    let stop_seconds = text(&merged, "stop_seconds")?;
    let most = DEFAULT_STOP_WITHIN.as_secs();
    Ok(Settings {
        listen: listen.parse().map_err(|_| not_allowed("listen", &listen))?,
        names: read_names(&names).ok_or_else(|| not_allowed("names", &names))?,
        connections_per_address: match per_address.parse() {
            Ok(most) if (1..=CONNECTIONS_PER_ADDRESS_MOST).contains(&most) => most,
            _ => return Err(not_allowed("connections_per_address", &per_address)),
        },
        log: text(&merged, "log")?,
        log_format: match log_format.as_str() {
            "text" => LogFormat::Text,
            "json" => LogFormat::Json,
            _ => return Err(not_allowed("log_format", &log_format)),
        },
        stop_within: match stop_seconds.parse() {
            Ok(seconds) if (1..=most).contains(&seconds) => Duration::from_secs(seconds),
            _ => return Err(not_allowed("stop_seconds", &stop_seconds)),
        },
    })
}

fn read_names(written: &str) -> Option<Vec<String>> {
    let names = written.split(',').map(str::trim).filter(|name| !name.is_empty());
    names.map(|name| is_name(name).then(|| name.to_owned())).collect()
}

fn known_keys(source: &dyn Source, origin: &str) -> Result<(), ServerError> {
    let found = source.collect().map_err(|error| setting(origin, &error.to_string()))?;
    match found.keys().find(|key| !KEYS.iter().any(|(known, _)| known == key)) {
        None => Ok(()),
        Some(key) => {
            let known: Vec<_> = KEYS.iter().map(|(key, _)| *key).collect();
            Err(setting(origin, &format!("the key '{key}' is not known; the keys are {}", known.join(", "))))
        }
    }
}

fn text(merged: &Config, key: &'static str) -> Result<String, ServerError> {
    let value: Value = merged.get(key).map_err(|error| setting("settings", &error.to_string()))?;
    value.into_string().map_err(|_| not_allowed(key, "a table or list"))
}

fn not_allowed(key: &'static str, value: &str) -> ServerError {
    let allowed = KEYS.iter().find(|(known, _)| *known == key).map_or("", |(_, allowed)| allowed);
    setting("settings", &format!("{key} is '{value}', but must be {allowed}"))
}

fn setting(origin: &str, what: &str) -> ServerError {
    ServerError::Setting { origin: origin.to_owned(), what: what.to_owned() }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::collections::HashMap;

    fn environment(pairs: &[(&str, &str)]) -> Environment {
        let pairs: HashMap<_, _> =
            pairs.iter().map(|(key, value)| ((*key).to_owned(), (*value).to_owned())).collect();
        Environment::with_prefix(ENVIRONMENT_PREFIX).source(Some(pairs.into_iter().collect()))
    }

    fn folder(settings: &str) -> tempfile::TempDir {
        let home = tempfile::tempdir().unwrap();
        std::fs::write(home.path().join(SETTINGS_FILE), settings).unwrap();
        home
    }

    #[test]
    fn flags_win_over_environment_over_file_over_defaults() {
        let empty = tempfile::tempdir().unwrap();
        let defaults = read_with(empty.path(), Flags::default(), environment(&[])).unwrap();
        assert_eq!((defaults.listen, defaults.log_format), (DEFAULT_LISTEN, LogFormat::Text));
        let home = folder("listen = \"127.0.0.1:1\"\nstop_seconds = 3\nlog_format = \"json\"\n");
        let read = |flags, pairs: &[(&str, &str)]| read_with(home.path(), flags, environment(pairs)).unwrap();
        let from_file = read(Flags::default(), &[]);
        assert_eq!((from_file.listen.port(), from_file.stop_within.as_secs()), (1, 3));
        let variable = [("STANDPIPE_SERVER_LISTEN", "127.0.0.1:2"), ("STANDPIPE_HOME", "elsewhere")];
        assert_eq!(read(Flags::default(), &variable).listen.port(), 2);
        let flags = Flags { listen: Some("127.0.0.1:3".into()), ..Flags::default() };
        assert_eq!(read(flags, &variable).listen.port(), 3);
    }

    #[test]
    fn the_sample_names_every_key_with_its_default() {
        let sample = include_str!("../../deploy/standpipe-server.toml");
        for (key, _) in KEYS {
            assert!(sample.lines().any(|line| line.starts_with(&format!("{key} = "))), "{key}");
        }
        let read = |home: &Path| read_with(home, Flags::default(), environment(&[])).unwrap();
        assert_eq!(read(folder(sample).path()), read(folder("").path()));
    }

    #[test]
    fn an_unknown_key_is_named_wherever_it_stands() {
        let home = folder("lisen = \"127.0.0.1:1\"\n");
        let error = read_with(home.path(), Flags::default(), environment(&[])).unwrap_err().to_string();
        assert!(error.contains("'lisen'") && error.contains(SETTINGS_FILE), "{error}");
        let home = folder("");
        let variable = environment(&[("STANDPIPE_SERVER_PORT", "1")]);
        let error = read_with(home.path(), Flags::default(), variable).unwrap_err().to_string();
        assert!(error.contains("'port'") && error.contains("STANDPIPE_SERVER"), "{error}");
    }

    #[test]
    fn a_wrong_value_names_key_value_and_what_is_allowed() {
        for (settings, part) in [
            ("listen = \"here\"", "listen is 'here'"),
            ("stop_seconds = 99", "stop_seconds is '99', but must be a whole number from 1 to 10"),
            ("log_format = \"xml\"", "text or json"),
            ("names = \"shop.lane, a b\"", "names is 'shop.lane, a b'"),
            ("connections_per_address = 0", "a whole number from 1 to 1000"),
            ("listen = [1]", "listen"),
            ("listen = ", SETTINGS_FILE),
        ] {
            let home = folder(settings);
            let error = read_with(home.path(), Flags::default(), environment(&[])).unwrap_err().to_string();
            assert!(error.contains(part), "{error}");
        }
    }
}
