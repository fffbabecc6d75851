//! `serve`: settings, log, server, signals.

use super::shown::say;
use super::supervisor;
use standpipe_server::config::{self, Flags, LogFormat, Settings};
use standpipe_server::{Certificate, Limits, Server, ServerError, ServerOptions, Stopper};
use std::path::{Path, PathBuf};
use std::time::Duration;
use tokio::signal::unix::{Signal, SignalKind, signal};
use tracing_subscriber::EnvFilter;

pub(super) async fn serve(dir: &Path, flags: Flags) -> Result<(), ServerError> {
    let settings = config::read(dir, flags.clone())?;
    let set_filter = log(&settings)?;
    // Signals are caught before anything else, so that one that comes early still stops in order.
    let signals = Signals::catch()?;
    let hang_up = caught(SignalKind::hangup())?;
    let options = ServerOptions {
        mode: settings.mode,
        listen: settings.listen,
        stop_within: settings.stop_within,
        names: settings.names,
        token_days: settings.token_days,
        metrics: settings.metrics,
        limits: Limits { connections_per_address: settings.connections_per_address, ..Limits::default() },
        ..ServerOptions::new(dir)
    };
    let server = Server::start(options).await?;
    say(&format!("listening on {}", server.addr));
    supervisor::ready(&server.addr.to_string());
    tokio::spawn(supervisor::beat(server.pulse()));
    tokio::spawn(signals.pass_on(server.stopper(), settings.stop_within));
    let reload = Reload { dir: dir.to_owned(), flags, set_filter, certificate: server.certificate() };
    tokio::spawn(reload.at_each(hang_up));
    server.join().await
}

type SetFilter = Box<dyn Fn(EnvFilter) -> Result<(), String> + Send + Sync>;

/// Begins the log and gives what changes its filter.
fn log(settings: &Settings) -> Result<SetFilter, ServerError> {
    let lines = tracing_subscriber::fmt()
        .with_env_filter(filter(settings)?)
        .with_writer(std::io::stderr)
        .with_ansi(false);
    Ok(match settings.log_format {
        LogFormat::Text => {
            let lines = lines.with_filter_reloading();
            let handle = lines.reload_handle();
            lines.init();
            Box::new(move |filter| handle.reload(filter).map_err(|error| error.to_string()))
        }
        LogFormat::Json => {
            let lines = lines.json().with_filter_reloading();
            let handle = lines.reload_handle();
            lines.init();
            Box::new(move |filter| handle.reload(filter).map_err(|error| error.to_string()))
        }
    })
}

fn filter(settings: &Settings) -> Result<EnvFilter, ServerError> {
    EnvFilter::builder().parse(&settings.log).map_err(|error| ServerError::Setting {
        origin: "settings".to_owned(),
        what: format!("log is '{}', which is no filter ({error}); write for example info", settings.log),
    })
}

fn caught(kind: SignalKind) -> Result<Signal, ServerError> {
    signal(kind).map_err(|error| ServerError::Setting {
        origin: "operating system".to_owned(),
        what: format!("signals cannot be caught ({error}); start the server where they can"),
    })
}

/// What SIGHUP makes the server look at anew: what is logged, and its certificate. Everything else holds until the next
/// start.
struct Reload {
    dir: PathBuf,
    flags: Flags,
    set_filter: SetFilter,
    certificate: Certificate,
}

impl Reload {
    async fn at_each(self, mut hang_up: Signal) {
        while hang_up.recv().await.is_some() {
            match self.certificate.look().await {
                Ok(true) => tracing::info!("the server shows a new certificate"),
                Ok(false) => {}
                Err(error) => tracing::error!(%error, "the server's certificate was not renewed"),
            }
            match self.reload() {
                Ok(log) => {
                    tracing::info!(%log, "the settings were read again");
                    supervisor::status(&format!("logging {log}"));
                }
                Err(error) => {
                    tracing::error!(%error, "the settings were read again and are not taken");
                    supervisor::status("the settings were read again and are not taken; see the log");
                }
            }
        }
    }

    fn reload(&self) -> Result<String, ServerError> {
        let settings = config::read(&self.dir, self.flags.clone())?;
        let failed = |what| ServerError::Setting { origin: "log".to_owned(), what };
        (self.set_filter)(filter(&settings)?).map_err(failed)?;
        Ok(settings.log)
    }
}

struct Signals {
    interrupt: Signal,
    terminate: Signal,
}

impl Signals {
    fn catch() -> Result<Self, ServerError> {
        Ok(Self { interrupt: caught(SignalKind::interrupt())?, terminate: caught(SignalKind::terminate())? })
    }

    /// The first signal stops in order, the second at once.
    async fn pass_on(mut self, stopper: Stopper, stop_within: Duration) {
        self.next().await;
        supervisor::stopping(stop_within);
        stopper.in_order();
        self.next().await;
        stopper.now();
    }

    async fn next(&mut self) {
        tokio::select! {
            _ = self.interrupt.recv() => {}
            _ = self.terminate.recv() => {}
        }
    }
}
