//! The command line: arguments in, one answer out, one sentence on stderr where something is to be done.
//!
//! `tree.rs` holds the commands, `act.rs`, `read.rs`, `ahead.rs`, `feed.rs`, `scan.rs`, `sheet.rs`, `sign.rs` and `next.rs` do what they say, `shown.rs` writes answers for people, and
//! `answer.rs` has the exit codes. Never here: what is kept or sent, which is [`crate::Station`]'s.

mod act;
mod ahead;
mod answer;
#[cfg(unix)]
mod bursts;
mod doctor;
mod feed;
mod keys;
mod next;
mod owner;
mod read;
mod scan;
mod sheet;
mod shown;
mod sign;
mod tree;

pub use answer::Exit;
pub use keys::{Input, Keys, SystemKeys};
pub use tree::command;

use crate::clock::Clock;
use crate::config::{Environment, Output, Settings};
use crate::error::ClientError;
use crate::remote::Renewal;
use crate::station::{Station, StationOptions};
use answer::Answer;
use clap::ArgMatches;
use clap::error::ErrorKind;
use jiff::tz::TimeZone;
use std::ffi::OsString;
use std::io::{self, Write};
use std::path::{Path, PathBuf};
use std::process::ExitCode;
use std::sync::Arc;

/// Runs the command of this process.
#[must_use]
pub fn main() -> ExitCode {
    let options = StationOptions::of_this_machine();
    let arguments: Vec<OsString> = std::env::args_os().collect();
    let mut console = Console {
        out: &mut io::stdout().lock(),
        err: &mut io::stderr().lock(),
        keys: &mut SystemKeys::default(),
    };
    let exit = match options {
        Ok(options) => {
            let machine = Machine { environment: Environment::read(), zone: TimeZone::system(), options };
            run(arguments, &machine, &mut console)
        }
        Err(error) => failed(&error, &mut console),
    };
    ExitCode::from(exit.code())
}

/// What a command is given from outside.
pub struct Machine {
    /// The environment.
    pub environment: Environment,
    /// The time zone that times are read and shown in.
    pub zone: TimeZone,
    /// Clock, randomness and disk.
    pub options: StationOptions,
}

/// Where a command writes and reads keys.
pub struct Console<'a> {
    /// Answers.
    pub out: &'a mut dyn Write,
    /// Sentences that ask for something to be done.
    pub err: &'a mut dyn Write,
    /// What a person presses and types.
    pub keys: &'a mut dyn Keys,
}

/// Runs one command.
pub fn run(arguments: Vec<OsString>, machine: &Machine, console: &mut Console<'_>) -> Exit {
    let matches = match tree::command().map(|command| command.try_get_matches_from(arguments)) {
        Ok(Ok(matches)) => matches,
        Ok(Err(told)) => return clap_told(&told, console),
        Err(error) => return failed(&error, console),
    };
    let done =
        carried_out(&matches, machine, console).and_then(|(answer, output)| answer.written(output, console));
    done.unwrap_or_else(|error| failed(&error, console))
}

/// What a command needs while it is carried out.
struct Context<'a> {
    machine: &'a Machine,
    settings: Settings,
    home: PathBuf,
    name: &'a str,
    /// What the server said of the station's token.
    renewal: Renewal,
}

fn carried_out(
    matches: &ArgMatches,
    machine: &Machine,
    console: &mut Console<'_>,
) -> Result<(Answer, Output), ClientError> {
    let Some((name, own)) = matches.subcommand() else {
        return Err(ClientError::Usage("no command was given; see standpipe --help".into()));
    };
    // These two need no folder.
    match name {
        "completions" => return Ok((act::completions(own)?, Output::Text)),
        "man" => return Ok((act::man(own)?, Output::Text)),
        _ => {}
    }
    let home = machine.environment.home(matches.get_one::<PathBuf>("home").map(PathBuf::as_path))?;
    let settings = Settings::read(&home, &machine.environment)?;
    log(&settings.log)?;
    let output = output(matches, &settings, (name, own))?;
    let runtime = tokio::runtime::Builder::new_current_thread()
        .enable_all()
        .build()
        .map_err(|cause| ClientError::disk("starting in", &home, cause))?;
    let context = Context { machine, settings, home, name, renewal: Renewal::default() };
    let answer = runtime.block_on(async {
        let answer = match name {
            "join" => act::join(&context, own).await,
            "as" => sign::person(&context, own, console).await,
            "open" => act::open(&context, own).await,
            "use" => act::take(&context, own).await,
            "next" => next::next(&context, own, console).await,
            "photo" => act::photo(&context, own).await,
            "remark" => act::remark(&context, own).await,
            "bay-sheet" => read::bay_sheet(&context, own).await,
            "add" => match act::add(&context, own).await {
                Ok(answer) => sign::at_once(&context, answer, console).await,
                Err(error) => Err(error),
            },
            "correct" => match act::correct(&context, own).await {
                Ok(answer) => sign::at_once(&context, answer, console).await,
                Err(error) => Err(error),
            },
            "send" => act::send(&context, own).await,
            "unsent" => read::unsent(&context, own),
            "show" => read::show(&context, own).await,
            "jobs" => read::jobs(&context, own).await,
            "may" => read::may(&context, own).await,
            "record" => read::record(&context, own).await,
            "tally" if owner::is_about_jobs(name, own) => owner::jobs(&context, own, output, console).await,
            "tally" => sheet::tally(&context, own, output).await,
            "owner-sheet" => owner::sheet(&context, own).await,
            "feed" => feed::feed(&context, own, output, console).await,
            "scan" => scan::scan(&context, own, output, console).await,
            "plan" => ahead::plan(&context, own).await,
            "doctor" => doctor::doctor(&context).await,
            "watch" => ahead::watch(&context, own, output, console).await,
            other => Err(ClientError::Usage(format!("'{other}' is no command; see standpipe --help"))),
        };
        context.renew_token().await;
        answer
    })?;
    Ok((answer, output))
}

/// How the answer of a command is written.
fn output(
    matches: &ArgMatches,
    settings: &Settings,
    (name, own): (&str, &ArgMatches),
) -> Result<Output, ClientError> {
    let output = match matches.get_one::<String>("output").map(String::as_str) {
        Some("json") => Output::Json,
        // A line a job is all that is written so.
        Some("jsonl") if owner::is_about_jobs(name, own) => Output::Json,
        Some("jsonl") => {
            return Err(ClientError::Usage(
                "jsonl is for standpipe tally owner-jobs only; elsewhere: json".into(),
            ));
        }
        Some("csv") => Output::Csv,
        Some(_) => Output::Text,
        None => settings.output,
    };
    if output == Output::Json && name == "next" {
        return Err(ClientError::Usage("next asks people; programs state facts with: standpipe add".into()));
    }
    if output == Output::Csv && !["jobs", "tally"].contains(&name) {
        return Err(ClientError::Usage(
            "csv is for lists only: standpipe jobs --output csv, or standpipe tally".into(),
        ));
    }
    Ok(output)
}

impl Context<'_> {
    /// Opens the folder of a station that has joined; a folder that is none is left as it is.
    fn station(&self) -> Result<Station, ClientError> {
        self.station_by(Arc::clone(&self.machine.options.clock))
    }

    /// The same by another clock.
    fn station_by(&self, clock: Arc<dyn Clock>) -> Result<Station, ClientError> {
        if !self
            .machine
            .options
            .disk
            .list(&self.home)
            .is_ok_and(|names| names.iter().any(|n| n == "station.toml"))
        {
            return Err(ClientError::NotJoined { home: self.home.clone() });
        }
        self.opened(clock)
    }

    fn any_station(&self) -> Result<Station, ClientError> {
        self.opened(Arc::clone(&self.machine.options.clock))
    }

    fn opened(&self, clock: Arc<dyn Clock>) -> Result<Station, ClientError> {
        let options = StationOptions {
            deadlines: self.settings.deadlines(),
            name: format!("standpipe {}", self.name),
            clock,
            ..self.machine.options.clone()
        };
        let mut station = Station::open(&self.home, options)?;
        station.renewal = self.renewal.clone();
        Ok(station)
    }

    /// Renews the station's token if the server said so. The command is done by then and its answer is what counts: what
    /// goes wrong is tried again by the next one, for the two thirds that are left of the token's life.
    async fn renew_token(&self) {
        if !self.renewal.is_due() {
            return;
        }
        let renewed = match self.any_station() {
            Ok(mut station) => station.renew_token_if_due().await,
            Err(error) => Err(error),
        };
        if let Err(error) = renewed {
            tracing::warn!(%error, "the token was not renewed; the next command tries again");
        }
    }

    fn now_microseconds(&self) -> i64 {
        self.machine.options.clock.now_microseconds()
    }
}

/// Writes one sentence to stderr and gives the exit code of an error.
fn failed(error: &ClientError, console: &mut Console<'_>) -> Exit {
    // If stderr is gone, nobody can be told; the exit code still says it.
    let _ = writeln!(console.err, "{}", answer::printable(&error.to_string()).trim_end());
    Exit::of(error)
}

fn clap_told(told: &clap::Error, console: &mut Console<'_>) -> Exit {
    match told.kind() {
        ErrorKind::DisplayHelp | ErrorKind::DisplayVersion => {
            let _ = write!(console.out, "{}", told.render());
            Exit::Done
        }
        ErrorKind::DisplayHelpOnMissingArgumentOrSubcommand => {
            let _ = write!(console.err, "{}", told.render());
            Exit::Usage
        }
        _ => {
            let sentence = crate::words::clap_sentence(told);
            let _ =
                writeln!(console.err, "{}; --help shows an example", answer::printable(&sentence).trim_end());
            Exit::Usage
        }
    }
}

fn log(level: &str) -> Result<(), ClientError> {
    let filter = tracing_subscriber::EnvFilter::try_new(level).map_err(|error| {
        ClientError::Usage(format!(
            "the setting log is '{level}': {error}; write off, error, warn, info or debug"
        ))
    })?;
    // A second command of the same process finds the first one's; tests do this.
    let _ =
        tracing_subscriber::fmt().with_env_filter(filter).with_ansi(false).with_writer(io::stderr).try_init();
    Ok(())
}

/// Writes a file whole or not at all.
fn write_whole(disk: &dyn crate::disk::Disk, file: &Path, bytes: &[u8]) -> Result<(), ClientError> {
    let name =
        file.file_name().ok_or_else(|| ClientError::Usage(format!("{} is no file name", file.display())))?;
    let mut fresh = OsString::from(".");
    fresh.push(name);
    fresh.push(".new");
    let folder = file.parent().filter(|folder| !folder.as_os_str().is_empty()).unwrap_or(Path::new("."));
    let fresh = folder.join(fresh);
    let wrote = disk.write(&fresh, bytes).and_then(|()| disk.rename(&fresh, file));
    if wrote.is_err() {
        let _ = disk.remove(&fresh);
    }
    wrote.and_then(|()| disk.sync_folder(folder)).map_err(|cause| ClientError::disk("writing", file, cause))
}
