//! The three workshops whose journals are real: founded, played, then served on the machine's clock.

use crate::scene::{Place, Scene, say};
use crate::script::mishap::{self, Mishap, Vehicle};
use crate::{DemoError, script};
use standpipe_server::{Desk, RunningServer, Server, ServerOptions};
use std::io::Write;
use std::path::{Path, PathBuf};

const DAY_US: i64 = 86_400_000_000;

/// What is played at a workshop.
#[derive(Debug, Clone, Copy)]
enum Play {
    /// The whole service of the demo of one workshop.
    Whole,
    /// A short job in which something goes wrong.
    Short(Vehicle, Mishap),
}

/// A workshop and what is played there.
#[derive(Debug, Clone, Copy)]
pub(super) struct Stage {
    place: Place,
    play: Play,
}

/// A job that was played.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Played {
    /// Identity of the workshop.
    pub site: String,
    /// Its name.
    pub name: String,
    /// Printed number of the job.
    pub number: String,
    /// What went wrong, in words; empty where nothing did.
    pub wrong: &'static str,
}

/// The three, on three days before now.
pub(super) fn all(now_us: i64) -> [Stage; 3] {
    let place = |id, name, address, prefix, days: i64, seed| Place {
        id,
        name,
        address,
        prefix,
        start_us: now_us - days * DAY_US,
        seed,
    };
    let lost = Vehicle { plate: "MS 731 B", vin: "AZTWA8M49LA047731" };
    let off = Vehicle { plate: "QR 206 T", vin: "AZTWA8M4XLA051206" };
    [
        Stage {
            place: place("harbour-lane", "Harbour Lane", "12 Harbour Lane", "HL", 4, 1_000),
            play: Play::Whole,
        },
        Stage {
            place: place("mill-street", "Mill Street", "3 Mill Street", "MS", 3, 2_000),
            play: Play::Short(lost, Mishap::LitreUnaccounted),
        },
        Stage {
            place: place("quarry-road", "Quarry Road", "27 Quarry Road", "QR", 2, 3_000),
            play: Play::Short(off, Mishap::ToolOff),
        },
    ]
}

/// A workshop that serves on the machine's clock.
pub(super) struct Shop {
    pub(super) site: &'static str,
    pub(super) name: &'static str,
    pub(super) dir: PathBuf,
    pub(super) server: RunningServer,
}

impl Shop {
    /// Founds it, plays its job, and serves it.
    pub(super) async fn play(
        dir: &Path,
        stage: &Stage,
        tell: &mut dyn Write,
    ) -> Result<(Self, Played), DemoError> {
        let Stage { place, play } = stage;
        let dir = dir.join("sites").join(place.id);
        say(tell, "")?;
        say(tell, &format!("{}, a workshop with a journal of its own:", place.name))?;
        let mut scene = Scene::of(place, &dir, tell).await?;
        let (number, wrong) = match play {
            Play::Whole => (script::play(&mut scene, tell).await?.number, ""),
            Play::Short(vehicle, mishap) => {
                (mishap::play(&mut scene, vehicle, *mishap, tell).await?, mishap.in_words())
            }
        };
        scene.end().await?;
        let server = serve(&dir).await?;
        let played = Played { site: place.id.to_owned(), name: place.name.to_owned(), number, wrong };
        Ok((Self { site: place.id, name: place.name, dir, server }, played))
    }

    pub(super) async fn end(self) -> Result<(), DemoError> {
        self.server.shutdown();
        Ok(self.server.join().await?)
    }
}

/// Serves on the machine's clock, by which tokens of the days before are renewed.
async fn serve(dir: &Path) -> Result<RunningServer, DemoError> {
    let listen = std::net::SocketAddr::from(([127, 0, 0, 1], 0));
    let mut desk = Desk::open(dir).await?;
    let mut tokens = Vec::new();
    for name in crate::scene::STATIONS {
        tokens.push(desk.renew_token(name).await?.token.to_string());
    }
    desk.close().await?;
    let server = Server::start(ServerOptions { listen, ..ServerOptions::new(dir) }).await?;
    for (name, token) in crate::scene::STATIONS.into_iter().zip(tokens) {
        let options = standpipe_client::StationOptions::of_this_machine()?;
        let mut station = standpipe_client::Station::open(&dir.join(name), options)?;
        station.join(&server.addr.to_string(), &token).await?;
    }
    Ok(server)
}
