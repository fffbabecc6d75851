//! Several workshops and their owner's server: a drawn year, and three workshops whose journals are brought over the network.
//!
//! [`Asked`] says how many; [`run`] makes the folders, plays the jobs, forwards them and waits until the owner's server has
//! everything. The drawn year is put in as rows of jobs, with faults planted in it; the three named workshops are real
//! journals. All is on the machine's clock: the last drawn month is the present one, up to now, so that the last twelve
//! months at the owner's server are the drawn ones. Called by `cargo demo workshops` and by the tests.

mod asked;
mod owner;
mod places;
mod told;

pub use asked::{Asked, MONTHS_MOST, SITES_MOST};

use crate::year::{Planted, Year, year_until};
use crate::{DemoError, folder};
use owner::Owner;
use places::{Played, Shop};
use std::io::Write;
use std::path::Path;
use std::time::SystemTime;

/// Workshops and their owner's server, all of them serving.
pub struct Workshops {
    owner: Owner,
    shops: Vec<Shop>,
    /// What was planted in the drawn year.
    pub planted: Vec<Planted>,
    /// Numbers of the jobs that were played, by workshop.
    pub played: Vec<Played>,
}

/// Makes the demo in a folder, tells each step, and serves.
///
/// An earlier demo in the folder is replaced; anything else is refused.
///
/// # Errors
/// When the folder is something else, or anything fails.
pub async fn run(dir: &Path, asked: &Asked, tell: &mut dyn Write) -> Result<Workshops, DemoError> {
    folder::clear(dir)?;
    std::fs::create_dir_all(dir.join("sites")).map_err(DemoError::io("making the folder"))?;
    folder::mark(dir)?;
    let dir = dir.canonicalize().map_err(DemoError::io("finding the folder"))?;
    let now_us = now_us()?;
    let Year { sites, rows, planted, .. } = year_until(&asked.plan(), now_us);
    told::drawn(&sites, rows.len(), asked, tell)?;
    let owner = Owner::found(&dir, &sites, rows).await?;
    let mut shops = Vec::new();
    let mut played = Vec::new();
    for place in places::all(now_us) {
        let (shop, job) = Shop::play(&dir, &place, tell).await?;
        shops.push(shop);
        played.push(job);
    }
    for shop in &shops {
        let entries = owner.take_in(shop).await?;
        told::level(shop, entries, tell)?;
    }
    owner.until_computed(&played).await?;
    told::what_to_try(&owner, &planted, &played, asked, tell)?;
    Ok(Workshops { owner, shops, planted, played })
}

impl Workshops {
    /// Serves until interrupted, then stops all servers in order.
    ///
    /// # Errors
    /// When a server fails.
    pub async fn stay(self, tell: &mut dyn Write) -> Result<(), DemoError> {
        crate::scene::say(tell, "Serving. Stop with Ctrl-C.")?;
        crate::scene::say(tell, &format!("export STANDPIPE_HOME={}", self.owner.home().display()))?;
        tokio::signal::ctrl_c().await.map_err(DemoError::io("waiting for Ctrl-C"))?;
        self.end().await
    }

    /// Stops all servers in order.
    ///
    /// # Errors
    /// When a server fails.
    pub async fn end(self) -> Result<(), DemoError> {
        for shop in self.shops {
            shop.end().await?;
        }
        self.owner.end().await
    }
}

fn now_us() -> Result<i64, DemoError> {
    let wrong = || DemoError::Wrong("the machine's clock stands before 1970".to_owned());
    let now = SystemTime::now().duration_since(SystemTime::UNIX_EPOCH).map_err(|_| wrong())?;
    i64::try_from(now.as_micros()).map_err(|_| wrong())
}
