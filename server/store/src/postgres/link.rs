//! The connection that writes, with the lock of its site, and how it is made again when the database went away.

use super::cause::{Kind, failed_to_open, kind, words};
use super::insert::Hand;
use super::open::{SiteRow, connect, connection_options, read_site};
use super::{PostgresAddress, locks};
use crate::error::StoreError;
use sqlx::{Executor as _, PgConnection, Row as _};
use std::hash::{BuildHasher as _, Hasher as _};
use std::time::Duration;
use tokio::time::{Instant, sleep};

/// Shortest and longest pause between two attempts.
const PAUSE_LEAST: Duration = Duration::from_millis(50);
const PAUSE_MOST: Duration = Duration::from_secs(2);
/// Pause between two looks at a lock that another connection holds.
const LOOK_EVERY: Duration = Duration::from_millis(100);

/// A connection that holds the lock of its site.
#[derive(Debug)]
pub(super) struct Link {
    pub connection: PgConnection,
    /// Its process in the database.
    process: i32,
}

/// Why a connection was not made again.
pub(super) enum Again {
    /// Not now.
    Away(String),
    /// Never.
    Stopped(StoreError),
}

impl Link {
    /// Connects and waits a while for another server to let its lock go.
    pub(super) async fn open(
        address: &PostgresAddress,
        site: &str,
        wait_for_other: Duration,
    ) -> Result<Self, StoreError> {
        let refused = |error: sqlx::Error| failed_to_open(address.shown(), &error);
        let mut link = Self::connected(address).await.map_err(refused)?;
        let until = Instant::now() + wait_for_other;
        while !locks::take(&mut link.connection, locks::server(site)).await.map_err(refused)? {
            if Instant::now() >= until {
                return Err(StoreError::SiteHeld { site: site.to_owned() });
            }
            sleep(LOOK_EVERY).await;
        }
        Ok(link)
    }

    async fn connected(address: &PostgresAddress) -> Result<Self, sqlx::Error> {
        let mut connection = connect(&connection_options(address, "on")).await?;
        let process = connection.fetch_one("select pg_backend_pid()").await?.try_get(0)?;
        Ok(Self { connection, process })
    }

    /// Connects again after the connection before was lost, ends what is left of it in the database, and reads how far the
    /// journal reaches: what that connection was doing is done or taken back by then.
    pub(super) async fn again(
        address: &PostgresAddress,
        hand: &Hand,
        before: i32,
    ) -> Result<(Self, SiteRow), Again> {
        let away = |error: sqlx::Error| Again::Away(words(&error));
        let mut link = Self::connected(address).await.map_err(away)?;
        let key = locks::server(&hand.site);
        let until = Instant::now() + PAUSE_MOST;
        while !locks::take(&mut link.connection, key).await.map_err(away)? {
            match locks::holder(&mut link.connection, key).await.map_err(away)? {
                Some(process) if process == before => {
                    locks::end(&mut link.connection, process).await.map_err(away)?;
                }
                // Another server has it, or is about to: the site row tells.
                Some(_) => drop(own_row(&mut link.connection, hand).await?),
                None => {}
            }
            if Instant::now() >= until {
                return Err(Again::Away("the lock of the site is not free yet".to_owned()));
            }
            sleep(LOOK_EVERY).await;
        }
        let row = own_row(&mut link.connection, hand).await?;
        Ok((link, row))
    }

    /// Its process in the database.
    pub(super) fn process(&self) -> i32 {
        self.process
    }
}

/// The site row, if it is still ours.
async fn own_row(connection: &mut PgConnection, hand: &Hand) -> Result<SiteRow, Again> {
    let taken_over = || Again::Stopped(StoreError::TakenOver { site: hand.site.clone() });
    match read_site(connection, &hand.site).await {
        Ok(Some(row)) if row.writer == Some(hand.writer) => Ok(row),
        Ok(_) => Err(taken_over()),
        Err(error @ StoreError::Damaged { .. }) => Err(Again::Stopped(error)),
        Err(error) => Err(Again::Away(error.to_string())),
    }
}

/// Whether a connection is worth nothing after an error.
pub(super) fn is_gone(error: &sqlx::Error) -> bool {
    kind(error) == Kind::Gone
}

/// The pause before an attempt: twice as long each time, up to a bound, and at random between half of that and all of it,
/// so that many servers do not come at once.
pub(super) fn pause(attempt: u32) -> Duration {
    let whole = PAUSE_LEAST.saturating_mul(1 << attempt.min(6)).min(PAUSE_MOST);
    // Each hasher of the standard library is keyed at random.
    let random = std::hash::RandomState::new().build_hasher().finish();
    let part = 0.5 + 0.5 * (random >> 32) as f64 / f64::from(u32::MAX);
    whole.mul_f64(part)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn pauses_grow_up_to_a_bound_and_differ() {
        for attempt in 0..40 {
            let pause = pause(attempt);
            assert!(pause >= PAUSE_LEAST / 2 && pause <= PAUSE_MOST, "{attempt}: {pause:?}");
        }
        assert!(pause(30) >= PAUSE_MOST / 2);
    }
}
