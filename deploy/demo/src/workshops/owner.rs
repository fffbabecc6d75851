//! The owner's server of the demo: founded with the drawn year in it, then brought the journals of three workshops.

use super::places::{Played, Shop};
use crate::DemoError;
use crate::scene::OFFICE_PIN;
use standpipe_client::{Asked, Station, StationOptions};
use standpipe_engine::owner::JobRow;
use standpipe_server::config::Mode;
use standpipe_server::{
    Desk, Done, InitOptions, Order, Role, RunningServer, Server, ServerOptions, SystemClock, SystemEntropy,
    init_as, kept_pin, order, put_rows_of_elsewhere,
};
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::time::Duration;

/// Code of the person who looks.
pub(super) const PERSON: &str = "O";
/// Between two looks at whether the figures are computed.
const LOOK_AGAIN: Duration = Duration::from_millis(200);
/// Looks after which it is given up.
const LOOKS_MOST: usize = 300;

/// The owner's server and the station that looks at it.
pub(super) struct Owner {
    pub(super) dir: PathBuf,
    pub(super) server: RunningServer,
}

impl Owner {
    /// Founds it, puts the drawn year in, serves it, and joins a station.
    pub(super) async fn found(
        dir: &Path,
        names: &[(String, String)],
        rows: Vec<JobRow>,
    ) -> Result<Self, DemoError> {
        let dir = dir.join("owner");
        let options = InitOptions {
            site_id: "owner".to_owned(),
            site_name: "Harbour Lane Transmissions, all workshops".to_owned(),
            clock: Arc::new(SystemClock),
            entropy: Arc::new(SystemEntropy),
        };
        init_as(&dir, options, Mode::Owner).await?;
        let mut desk = Desk::open(&dir).await?;
        let token = desk.add_station("desk", Role::Owner).await?.token.to_string();
        desk.add_person(PERSON, Some("owner O")).await?;
        desk.set_pin(PERSON, &kept_pin(OFFICE_PIN, &SystemEntropy)?).await?;
        desk.close().await?;
        put_rows_of_elsewhere(&dir, names, rows).await?;
        let listen = std::net::SocketAddr::from(([127, 0, 0, 1], 0));
        let options = ServerOptions { listen, mode: Mode::Owner, ..ServerOptions::new(&dir) };
        let server = Server::start(options).await?;
        let owner = Self { dir, server };
        let mut station = owner.station()?;
        station.join(&owner.server.addr.to_string(), &token).await?;
        station.set_person(PERSON)?;
        Ok(owner)
    }

    /// Home of the station that looks.
    pub(super) fn home(&self) -> PathBuf {
        self.dir.join("desk")
    }

    fn station(&self) -> Result<Station, DemoError> {
        Ok(Station::open(&self.home(), StationOptions::of_this_machine()?)?)
    }

    /// Lets a workshop join, and waits until all of its entries are here; gives how many.
    pub(super) async fn take_in(&self, shop: &Shop) -> Result<u64, DemoError> {
        let site = shop.site.to_owned();
        let invite = Order::AddForwarder { name: site.clone(), site };
        let Done::Invited { code, .. } = order(&self.dir, invite).await? else {
            return Err(DemoError::Wrong(format!("{} was enrolled without a code", shop.name)));
        };
        order(&shop.dir, Order::JoinOwner { host: self.server.addr.to_string(), code }).await?;
        Ok(shop.server.level_with_owner().await?)
    }

    /// Waits until the jobs that were played are among the owner's rows: they are computed a moment after they came.
    pub(super) async fn until_computed(&self, played: &[Played]) -> Result<(), DemoError> {
        let mut station = self.station()?;
        let asked =
            || Asked { tally: "owner-sums".to_owned(), period: "2 months".to_owned(), ..Asked::default() };
        for _ in 0..LOOKS_MOST {
            let sheet = station.tally(asked()).await?;
            let text = |row: &standpipe_proto::v1::SheetRow, name: &str| {
                row.cells.iter().any(|cell| cell.text == name)
            };
            let rows: Vec<_> = sheet.tables.iter().flat_map(|table| &table.rows).collect();
            if played.iter().all(|job| rows.iter().any(|row| text(row, &job.name))) {
                return Ok(());
            }
            tokio::time::sleep(LOOK_AGAIN).await;
        }
        Err(DemoError::Wrong("the owner's server did not compute the jobs that were brought".to_owned()))
    }

    pub(super) async fn end(self) -> Result<(), DemoError> {
        self.server.shutdown();
        Ok(self.server.join().await?)
    }
}
