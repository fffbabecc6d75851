//! `serve`: settings, log, server, signals.

use super::shown::say;
use standpipe_server::config::{self, Flags, LogFormat, Settings};
use standpipe_server::{Limits, Server, ServerError, ServerOptions, Stopper};
use std::path::Path;
use tokio::signal::unix::{Signal, SignalKind, signal};
use tracing_subscriber::EnvFilter;

pub(super) async fn serve(dir: &Path, flags: Flags) -> Result<(), ServerError> {
    let settings = config::read(dir, flags)?;
    log(&settings)?;
    // Signals are caught before anything else, so that one that comes early still stops in order.
    let signals = Signals::catch()?;
    let options = ServerOptions {
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
    tokio::spawn(signals.pass_on(server.stopper()));
    server.join().await
}

fn log(settings: &Settings) -> Result<(), ServerError> {
    let filter = EnvFilter::builder().parse(&settings.log).map_err(|error| ServerError::Setting {
        origin: "settings".to_owned(),
        what: format!("log is '{}', which is no filter ({error}); write for example info", settings.log),
    })?;
    let lines =
        tracing_subscriber::fmt().with_env_filter(filter).with_writer(std::io::stderr).with_ansi(false);
    match settings.log_format {
        LogFormat::Text => lines.init(),
        LogFormat::Json => lines.json().init(),
    }
    Ok(())
}

struct Signals {
    interrupt: Signal,
    terminate: Signal,
}

impl Signals {
    fn catch() -> Result<Self, ServerError> {
        let catch = |kind| {
            signal(kind).map_err(|error| ServerError::Setting {
                origin: "operating system".to_owned(),
                what: format!("signals cannot be caught ({error}); start the server where they can"),
            })
        };
        Ok(Self { interrupt: catch(SignalKind::interrupt())?, terminate: catch(SignalKind::terminate())? })
    }

    /// The first signal stops in order, the second at once.
    async fn pass_on(mut self, stopper: Stopper) {
        self.next().await;
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
