//! Settings of the server: defaults, then `standpipe-server.toml` in the site's folder, then the environment, then
//! flags; the later wins. The only place that reads the environment.
//!
//! Variables are called `STANDPIPE_SERVER_` and the key in capitals, such as `STANDPIPE_SERVER_LISTEN`, so that they
//! cannot be mistaken for those of a station. An unknown key is refused, wherever it stands.

mod origin;

use crate::error::ServerError;
use crate::folder::SETTINGS_FILE;
use crate::server::{DEFAULT_LISTEN, DEFAULT_STOP_WITHIN, DEFAULT_TOKEN_DAYS};
use config::{Config, Environment, File, Source, Value, ValueKind};
pub use origin::{Origin, ShownSetting};
use standpipe_proto::limits::door::{CONNECTIONS_PER_ADDRESS_MAX, CONNECTIONS_PER_ADDRESS_MOST};
use standpipe_proto::limits::{CERTIFICATE_NAME_CHARACTERS_MAX, CERTIFICATE_NAMES_MAX, TOKEN_DAYS_MAX};
use standpipe_store::{PostgresAddress, SqliteOptions};
use std::collections::BTreeMap;
use std::io::ErrorKind;
use std::net::{IpAddr, SocketAddr};
use std::path::{Path, PathBuf};
use std::time::Duration;
use tracing_subscriber::EnvFilter;

/// What the names of our variables begin with.
pub const ENVIRONMENT_PREFIX: &str = "STANDPIPE_SERVER";
/// Ends the name of the variable with the site's folder, which is no setting of the folder.
const FOLDER_KEY: &str = "dir";
/// All keys, with what may stand there.
const KEYS: [(&str, &str); 11] = [
    ("mode", "workshop or owner"),
    ("persons", "true or false"),
    ("listen", "an address with a port, such as 127.0.0.1:50551, or 0.0.0.0:50551 for the whole network"),
    (
        "store_url",
        "the address of a database, such as postgresql://standpipe@127.0.0.1/standpipe, or nothing",
    ),
    ("names", "a list of at most 20 names and addresses, such as [\"shop.lan\", \"192.0.2.7\"]"),
    ("token_days", "a whole number from 1 to 3650"),
    ("connections_per_address", "a whole number from 1 to 1000"),
    ("metrics", "true or false"),
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

/// What a server is for.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Mode {
    /// Keeps the journal of one workshop.
    #[default]
    Workshop,
    /// Keeps copies of the journals of several workshops, beside its own.
    Owner,
}

impl Mode {
    /// Both.
    pub const ALL: [Self; 2] = [Self::Workshop, Self::Owner];

    /// Its word.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            Self::Workshop => "workshop",
            Self::Owner => "owner",
        }
    }
}

/// The settings of a server.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Settings {
    /// What the server is for.
    pub mode: Mode,
    /// Whether rows of jobs at an owner's server name persons by their codes.
    pub persons: bool,
    /// Where to listen.
    pub listen: SocketAddr,
    /// How the database is reached in which the journal lies, if it lies in one.
    pub store_url: Option<PostgresAddress>,
    /// Further names and addresses in the server's certificate.
    pub names: Vec<String>,
    /// Days that a token is good.
    pub token_days: u32,
    /// Connections that one address may hold at once; the machine's own addresses are not counted.
    pub connections_per_address: usize,
    /// Whether `/metrics` is served.
    pub metrics: bool,
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

impl Flags {
    fn pairs(&self) -> [(&'static str, Option<&String>); 3] {
        [
            ("listen", self.listen.as_ref()),
            ("log", self.log.as_ref()),
            ("log_format", self.log_format.as_ref()),
        ]
    }
}

/// Reads the settings of the site in a folder.
///
/// # Errors
/// [`ServerError::Setting`] that names where the wrong setting stands, its key and what is allowed.
pub fn read(dir: &Path, flags: Flags) -> Result<Settings, ServerError> {
    read_with(dir, flags, Environment::with_prefix(ENVIRONMENT_PREFIX))
}

/// How the database of the site in a folder is reached, if the settings say so.
///
/// # Errors
/// As [`read`].
pub(crate) fn store_address(dir: &Path) -> Result<Option<PostgresAddress>, ServerError> {
    Ok(read(dir, Flags::default())?.store_url)
}

/// What the server of a folder is for.
///
/// # Errors
/// As [`read`].
pub(crate) fn mode(dir: &Path) -> Result<Mode, ServerError> {
    Ok(read(dir, Flags::default())?.mode)
}

/// Whether rows of jobs at an owner's server name persons by their codes: off unless the owner says so, since anything
/// by person is regulated in many places.
///
/// # Errors
/// As [`read`].
pub(crate) fn persons(dir: &Path) -> Result<bool, ServerError> {
    Ok(read(dir, Flags::default())?.persons)
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

/// Every setting with its value and where that was said, in the order of the table.
///
/// # Errors
/// As [`read`]: what would not start is not shown as if it did.
pub fn shown(dir: &Path, flags: &Flags) -> Result<Vec<ShownSetting>, ServerError> {
    shown_with(dir, flags, Environment::with_prefix(ENVIRONMENT_PREFIX))
}

/// The site's folder that the environment names in `STANDPIPE_SERVER_DIR`, if it names one.
#[must_use]
pub fn folder() -> Option<PathBuf> {
    let name = format!("{ENVIRONMENT_PREFIX}_DIR");
    std::env::var_os(name).filter(|value| !value.is_empty()).map(PathBuf::from)
}

fn read_with(dir: &Path, flags: Flags, environment: Environment) -> Result<Settings, ServerError> {
    settings(&merged(dir, &flags, environment)?)
}

fn shown_with(dir: &Path, flags: &Flags, environment: Environment) -> Result<Vec<ShownSetting>, ServerError> {
    let merged = merged(dir, flags, environment)?;
    settings(&merged)?;
    KEYS.iter()
        .map(|(key, _)| {
            let value = match *key {
                "names" => names_of(&merged)?,
                "store_url" => vec![store_url(&merged)?.map_or_else(String::new, |url| url.to_string())],
                key => vec![text(&merged, key)?],
            };
            let origin = merged.said.origin(key);
            Ok(ShownSetting { key, is_list: *key == "names", value, origin })
        })
        .collect()
}

/// All sources over each other, and what each of them says.
struct Merged {
    config: Config,
    said: origin::Said,
}

/// Requires that the settings file, if there is one, can be read and is TOML.
fn sound(path: &Path) -> Result<(), ServerError> {
    let place = path.display().to_string();
    let text = match std::fs::read_to_string(path) {
        Ok(text) => text,
        // Without the file every setting keeps its default; without the folder its own sentence says so.
        Err(cause) if matches!(cause.kind(), ErrorKind::NotFound | ErrorKind::NotADirectory) => return Ok(()),
        Err(cause) => {
            return Err(setting(
                &place,
                &format!("cannot be read ({cause}); look at the rights of the file"),
            ));
        }
    };
    let Err(error) = text.parse::<toml::Table>() else { return Ok(()) };
    let before = error.span().and_then(|span| text.get(..span.start)).unwrap_or_default();
    let line = before.matches('\n').count() + 1;
    let column = before.chars().rev().take_while(|letter| *letter != '\n').count() + 1;
    let why = error.message().trim().replace('\n', ", ");
    let what = format!("this is no TOML ({why}); write a line as in: listen = \"127.0.0.1:50551\"");
    Err(setting(&format!("{place}:{line}:{column}"), &what))
}

fn merged(dir: &Path, flags: &Flags, environment: Environment) -> Result<Merged, ServerError> {
    let path = dir.join(SETTINGS_FILE);
    sound(&path)?;
    let in_file = path.display().to_string();
    let in_environment = format!("environment, {ENVIRONMENT_PREFIX}_…");
    let file = File::from(path.as_path()).required(path.exists());
    let file_keys = known_keys(&file, &in_file)?;
    let mut environment = known_keys(&environment, &in_environment)?;
    environment.remove(FOLDER_KEY);
    let said = origin::Said {
        flags: flags.pairs().iter().filter(|(_, value)| value.is_some()).map(|(key, _)| *key).collect(),
        environment: environment.keys().cloned().collect(),
        file: file_keys.into_keys().collect(),
        path,
    };
    let wrong = |error: config::ConfigError| setting(&in_file, &error.to_string());
    let mut builder = Config::builder();
    for (key, default) in defaults() {
        builder = builder.set_default(key, default).map_err(wrong)?;
    }
    builder = builder.add_source(file);
    for (key, value) in environment {
        builder = builder.set_override(key, value).map_err(wrong)?;
    }
    for (key, value) in flags.pairs() {
        builder = builder.set_override_option(key, value.cloned()).map_err(wrong)?;
    }
    Ok(Merged { config: builder.build().map_err(wrong)?, said })
}

fn defaults() -> [(&'static str, ValueKind); 11] {
    [
        ("mode", Mode::default().name().into()),
        ("persons", false.into()),
        ("listen", DEFAULT_LISTEN.to_string().into()),
        ("store_url", "".into()),
        ("names", ValueKind::Array(Vec::new())),
        ("token_days", DEFAULT_TOKEN_DAYS.into()),
        ("connections_per_address", (CONNECTIONS_PER_ADDRESS_MAX as u64).into()),
        ("metrics", true.into()),
        ("log", "info".into()),
        ("log_format", "text".into()),
        ("stop_seconds", DEFAULT_STOP_WITHIN.as_secs().into()),
    ]
}

fn settings(merged: &Merged) -> Result<Settings, ServerError> {
    let mode = text(merged, "mode")?;
    let persons = text(merged, "persons")?;
    let listen = text(merged, "listen")?;
    let log_format = text(merged, "log_format")?;
    let metrics = text(merged, "metrics")?;
    let known = Mode::ALL.into_iter().find(|known| known.name() == mode);
    Ok(Settings {
        mode: known.ok_or_else(|| not_allowed(merged, "mode", &mode))?,
        persons: persons.parse().map_err(|_| not_allowed(merged, "persons", &persons))?,
        listen: listen.parse().map_err(|_| not_allowed(merged, "listen", &listen))?,
        store_url: store_url(merged)?,
        names: names_of(merged)?,
        token_days: whole(merged, "token_days", TOKEN_DAYS_MAX)?,
        connections_per_address: whole(merged, "connections_per_address", CONNECTIONS_PER_ADDRESS_MOST)?,
        metrics: metrics.parse().map_err(|_| not_allowed(merged, "metrics", &metrics))?,
        log: filter_of(merged)?,
        log_format: match log_format.as_str() {
            "text" => LogFormat::Text,
            "json" => LogFormat::Json,
            _ => return Err(not_allowed(merged, "log_format", &log_format)),
        },
        stop_within: Duration::from_secs(whole(merged, "stop_seconds", DEFAULT_STOP_WITHIN.as_secs())?),
    })
}

/// What is logged, if it is in the grammar of the log.
fn filter_of(merged: &Merged) -> Result<String, ServerError> {
    let log = text(merged, "log")?;
    match EnvFilter::builder().parse(&log) {
        Ok(_) => Ok(log),
        Err(error) => {
            let what = format!("log is '{log}', which is no filter ({error}); write for example info");
            Err(setting(&merged.said.origin("log").to_string(), &what))
        }
    }
}

/// The database's address, which is never repeated where it cannot be read: it may hold a password.
fn store_url(merged: &Merged) -> Result<Option<PostgresAddress>, ServerError> {
    match text(merged, "store_url")?.as_str() {
        "" => Ok(None),
        url => url.parse().map(Some).map_err(|error: standpipe_store::StoreError| {
            setting(&merged.said.origin("store_url").to_string(), &format!("store_url: {error}"))
        }),
    }
}

/// A whole number from 1 to a greatest one.
fn whole<T: std::str::FromStr + PartialOrd + From<u8>>(
    merged: &Merged,
    key: &'static str,
    most: T,
) -> Result<T, ServerError> {
    let text = text(merged, key)?;
    match text.parse() {
        Ok(number) if (T::from(1)..=most).contains(&number) => Ok(number),
        _ => Err(not_allowed(merged, key, &text)),
    }
}

/// The further names: a list in the file, separated by commas in the environment.
fn names_of(merged: &Merged) -> Result<Vec<String>, ServerError> {
    let value: Value = merged.config.get("names").map_err(|error| setting("settings", &error.to_string()))?;
    let names: Vec<String> = match value.kind {
        ValueKind::Array(items) => {
            let texts = items.into_iter().map(Value::into_string);
            texts
                .collect::<Result<_, _>>()
                .map_err(|_| not_allowed(merged, "names", "a list of something else"))?
        }
        ValueKind::String(text) => text.split(',').map(|name| name.trim().to_owned()).collect(),
        other => return Err(not_allowed(merged, "names", &other.to_string())),
    };
    let names: Vec<String> = names.into_iter().filter(|name| !name.is_empty()).collect();
    if let Some(wrong) = names.iter().find(|name| !is_name(name)) {
        return Err(not_allowed(merged, "names", wrong));
    }
    if names.len() > CERTIFICATE_NAMES_MAX {
        return Err(not_allowed(merged, "names", &format!("a list of {}", names.len())));
    }
    Ok(names)
}

/// An IP address, or a host name of letters, digits and hyphens between dots (RFC 1123, 2.1).
fn is_name(name: &str) -> bool {
    let label = |label: &str| {
        (1..=63).contains(&label.len())
            && label.bytes().all(|byte| byte.is_ascii_alphanumeric() || byte == b'-')
            && !label.starts_with('-')
            && !label.ends_with('-')
    };
    name.parse::<IpAddr>().is_ok()
        || (name.len() <= CERTIFICATE_NAME_CHARACTERS_MAX && name.split('.').all(label))
}

/// What a source says, if it says nothing that is unknown.
fn known_keys(source: &dyn Source, origin: &str) -> Result<BTreeMap<String, Value>, ServerError> {
    let found = source.collect().map_err(|error| setting(origin, &error.to_string()))?;
    let may_name_folder = origin.starts_with("environment");
    let is_known =
        |key: &str| KEYS.iter().any(|(known, _)| *known == key) || (may_name_folder && key == FOLDER_KEY);
    match found.keys().find(|key| !is_known(key)) {
        None => Ok(found.into_iter().collect()),
        Some(key) => {
            let known: Vec<_> = KEYS.iter().map(|(key, _)| *key).collect();
            let what = match origin::nearest(key, &known) {
                Some(nearest) => format!("the key '{key}' is not known; did you mean {nearest}?"),
                None => format!("the key '{key}' is not known"),
            };
            Err(setting(origin, &format!("{what} The keys are {}", known.join(", "))))
        }
    }
}

fn text(merged: &Merged, key: &'static str) -> Result<String, ServerError> {
    let value: Value = merged.config.get(key).map_err(|error| setting("settings", &error.to_string()))?;
    value.into_string().map_err(|_| not_allowed(merged, key, "a table or list"))
}

fn not_allowed(merged: &Merged, key: &'static str, value: &str) -> ServerError {
    let allowed = KEYS.iter().find(|(known, _)| *known == key).map_or("", |(_, allowed)| allowed);
    setting(&merged.said.origin(key).to_string(), &format!("{key} is '{value}', but must be {allowed}"))
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
        assert_eq!(defaults().map(|(key, _)| key), KEYS.map(|(key, _)| key));
        let read = |home: &Path| read_with(home, Flags::default(), environment(&[])).unwrap();
        assert_eq!(read(folder(sample).path()), read(folder("").path()));
    }

    #[test]
    fn an_unknown_key_is_named_wherever_it_stands() {
        let home = folder("lisen = \"127.0.0.1:1\"\n");
        let error = read_with(home.path(), Flags::default(), environment(&[])).unwrap_err().to_string();
        assert!(error.contains("'lisen'") && error.contains(SETTINGS_FILE), "{error}");
        assert!(error.contains("did you mean listen?"), "{error}");
        let home = folder("");
        let variable = environment(&[("STANDPIPE_SERVER_PORT", "1")]);
        let error = read_with(home.path(), Flags::default(), variable).unwrap_err().to_string();
        assert!(error.contains("'port'") && error.contains("STANDPIPE_SERVER"), "{error}");
        assert!(!error.contains("did you mean"), "{error}");
        let home = folder("dir = \"elsewhere\"\n");
        assert!(read_with(home.path(), Flags::default(), environment(&[])).is_err());
        let variable = environment(&[("STANDPIPE_SERVER_DIR", "shop")]);
        assert!(read_with(folder("").path(), Flags::default(), variable).is_ok());
    }

    #[test]
    fn a_wrong_value_names_key_value_and_what_is_allowed() {
        for (settings, part) in [
            ("listen = \"here\"", "listen is 'here'"),
            ("stop_seconds = 99", "stop_seconds is '99', but must be a whole number from 1 to 10"),
            ("log_format = \"xml\"", "text or json"),
            ("names = \"shop.lane, a b\"", "names is 'a b'"),
            ("listen = [1]", "listen"),
            ("names = [\"shop lan\"]", "names is 'shop lan'"),
            ("names = 7", "names is '7'"),
            ("token_days = 0", "token_days is '0', but must be a whole number from 1 to 3650"),
            ("token_days = 3651", "token_days is '3651'"),
            ("connections_per_address = 0", "connections_per_address is '0'"),
            ("metrics = \"perhaps\"", "true or false"),
            ("mode = \"both\"", "mode is 'both', but must be workshop or owner"),
            ("store_url = \"standpipe.db\"", "store_url: the address of the database does not begin with"),
            ("listen = ", SETTINGS_FILE),
        ] {
            let home = folder(settings);
            let error = read_with(home.path(), Flags::default(), environment(&[])).unwrap_err().to_string();
            assert!(error.contains(part), "{error}");
        }
    }

    #[test]
    fn what_is_wrong_is_told_with_the_place_where_it_stands() {
        let read = |settings: &str, flags: Flags, pairs: &[(&str, &str)]| {
            let home = folder(settings);
            let told = read_with(home.path(), flags, environment(pairs)).unwrap_err().to_string();
            told.replace(&home.path().display().to_string(), "shop")
        };
        let file = read("# the shop\nstop_seconds = 99\n", Flags::default(), &[]);
        assert!(file.starts_with("shop/standpipe-server.toml, line 2: stop_seconds is '99'"), "{file}");
        let variable = read("", Flags::default(), &[("STANDPIPE_SERVER_TOKEN_DAYS", "0")]);
        assert!(variable.starts_with("environment, STANDPIPE_SERVER_TOKEN_DAYS: "), "{variable}");
        let flag = read("", Flags { listen: Some("here".into()), ..Flags::default() }, &[]);
        assert!(flag.starts_with("flag --listen: listen is 'here'"), "{flag}");
        let log = read("log = \"a=b=c\"\n", Flags::default(), &[]);
        assert!(log.starts_with("shop/standpipe-server.toml, line 1: log is 'a=b=c'"), "{log}");
        let broken = read("metrics = true\nlisten = 127.0.0.1\n", Flags::default(), &[]);
        assert!(broken.starts_with("shop/standpipe-server.toml:2:"), "{broken}");
        assert!(broken.contains("this is no TOML") && !broken.contains('\n'), "{broken}");
    }

    #[test]
    fn each_setting_is_shown_with_its_value_and_where_that_was_said() {
        let home = folder("# the shop\nnames = [\"shop.lan\", \"192.0.2.7\"]\nstop_seconds = 3\n");
        let pairs = [("STANDPIPE_SERVER_STOP_SECONDS", "4"), ("STANDPIPE_SERVER_TOKEN_DAYS", "30")];
        let flags = Flags { log: Some("debug".into()), ..Flags::default() };
        let shown = shown_with(home.path(), &flags, environment(&pairs)).unwrap();
        let of = |key: &str| shown.iter().find(|shown| shown.key == key).unwrap();
        assert_eq!(shown.len(), KEYS.len());
        assert_eq!(
            (of("listen").value.join(""), &of("listen").origin),
            ("127.0.0.1:50551".into(), &Origin::Default)
        );
        let path = home.path().join(SETTINGS_FILE);
        assert_eq!(of("names").value, ["shop.lan", "192.0.2.7"]);
        assert_eq!(of("names").origin, Origin::File { path, line: Some(2) });
        let variable = |name: &str| Origin::Environment { variable: name.to_owned() };
        assert_eq!(of("stop_seconds").value, ["4"]);
        assert_eq!(of("stop_seconds").origin, variable("STANDPIPE_SERVER_STOP_SECONDS"));
        assert_eq!(of("token_days").origin, variable("STANDPIPE_SERVER_TOKEN_DAYS"));
        assert_eq!(of("log").origin, Origin::Flag { flag: "--log".to_owned() });
        assert!(shown_with(folder("stop_seconds = 11").path(), &flags, environment(&[])).is_err());
    }

    #[test]
    fn names_stand_in_a_list_or_between_commas() {
        let read = |settings: &str, pairs: &[(&str, &str)]| {
            read_with(folder(settings).path(), Flags::default(), environment(pairs)).map(|read| read.names)
        };
        assert_eq!(read("names = [\"a.lan\"]", &[]).unwrap(), ["a.lan"]);
        let variable = [("STANDPIPE_SERVER_NAMES", "b.lan, 2001:db8::7")];
        assert_eq!(read("names = [\"a.lan\"]", &variable).unwrap(), ["b.lan", "2001:db8::7"]);
        let many = format!("names = [{}]", "\"a.lan\",".repeat(CERTIFICATE_NAMES_MAX + 1));
        assert!(read(&many, &[]).is_err());
    }
}
