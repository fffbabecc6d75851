//! How it stands with the owner's server, for whoever shows it: doctor, office pages, figures, and whoever waits for it.
//!
//! Written by [`super::link`]. Never here: a connection.

use super::standing::Standing;
use serde::{Deserialize, Serialize};
use std::time::Duration;
use tokio::sync::watch;

/// How far a site's journal is at its owner's server.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct AtOwner {
    /// Where the owner's server listens.
    pub address: String,
    /// Name of the station that this site is there.
    pub station: String,
    /// Entries of the journal here, when it was last looked at.
    pub entries: u64,
    /// Of these, known to be kept there.
    pub kept: u64,
    /// What goes on.
    pub course: Course,
    /// When the owner's server last had everything, microseconds since 1970, UTC; nothing if it never had since this
    /// server started.
    pub level_us: Option<i64>,
    /// When it answered last.
    pub heard_us: Option<i64>,
    /// Tries in a row that brought nothing.
    pub tries: u64,
    /// What is in the way, in a sentence; empty if nothing is.
    pub trouble: String,
    /// Whether it does not let this site in any more, which passes only when somebody does something.
    #[serde(default)]
    pub shut_out: bool,
    /// Catalogue revisions that the owner offers; their files are here.
    pub offered: Vec<String>,
}

/// What goes on between a site and its owner's server.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub enum Course {
    /// It is asked, or entries are on their way.
    Going,
    /// It has everything.
    Level,
    /// It cannot be asked just now, and is asked again.
    Waiting,
    /// It has entries that this site lost.
    Behind,
    /// The two went on differently.
    Fork,
    /// It keeps the journal of another workshop under this identity.
    Another,
}

impl Course {
    /// Whether nothing goes on until somebody does something.
    #[must_use]
    pub fn is_stopped(self) -> bool {
        matches!(self, Self::Behind | Self::Fork | Self::Another)
    }

    /// The course of journals that stand so.
    pub(crate) fn stopped(standing: Standing) -> Self {
        match standing {
            Standing::Behind => Self::Behind,
            Standing::Another => Self::Another,
            _ => Self::Fork,
        }
    }
}

impl AtOwner {
    /// Entries that are not known to be kept there.
    #[must_use]
    pub fn waiting(&self) -> u64 {
        self.entries.saturating_sub(self.kept)
    }

    /// How long the owner's server has lacked something; nothing while it has everything, or if it never had.
    pub(crate) fn lacks_since(&self, now_us: i64) -> Option<Duration> {
        let since_us = self.level_us.filter(|_| self.course != Course::Level)?;
        u64::try_from(now_us.saturating_sub(since_us)).ok().map(Duration::from_micros)
    }
}

/// What a running server and its link share.
pub(crate) struct Bond {
    at_owner: watch::Sender<Option<AtOwner>>,
    /// Counts how often the site joined an owner's server or left it.
    changed: watch::Sender<u64>,
    /// Counts how often somebody asked to look again.
    wished: watch::Sender<u64>,
}

impl Default for Bond {
    fn default() -> Self {
        let (at_owner, changed, wished) =
            (watch::Sender::new(None), watch::Sender::new(0), watch::Sender::new(0));
        Self { at_owner, changed, wished }
    }
}

impl Bond {
    /// How it stands; nothing if the site has joined no owner's server.
    pub(crate) fn at_owner(&self) -> Option<AtOwner> {
        self.at_owner.borrow().clone()
    }

    /// The same, to wait for changes.
    pub(crate) fn watch(&self) -> watch::Receiver<Option<AtOwner>> {
        self.at_owner.subscribe()
    }

    /// Shows how it stands now.
    pub(crate) fn show(&self, at_owner: Option<AtOwner>) {
        self.at_owner.send_if_modified(|shown| {
            let differs = *shown != at_owner;
            *shown = at_owner;
            differs
        });
    }

    /// Shows that this side cannot go on just now.
    pub(crate) fn interrupt(&self, trouble: &str) {
        self.at_owner.send_modify(|shown| {
            if let Some(shown) = shown {
                shown.course = Course::Waiting;
                shown.tries += 1;
                trouble.clone_into(&mut shown.trouble);
            }
        });
    }

    /// Sees that the site joined an owner's server or left it.
    pub(crate) fn change(&self) {
        // What is shown is of the one before.
        self.show(None);
        self.changed.send_modify(|count| *count += 1);
    }

    /// Changes whenever the site joins an owner's server or leaves it.
    pub(crate) fn changes(&self) -> watch::Receiver<u64> {
        self.changed.subscribe()
    }

    /// Asks to look again now.
    pub(crate) fn wish(&self) {
        self.wished.send_modify(|count| *count += 1);
    }

    /// Changes whenever somebody asks to look again.
    pub(crate) fn wishes(&self) -> watch::Receiver<u64> {
        self.wished.subscribe()
    }
}
