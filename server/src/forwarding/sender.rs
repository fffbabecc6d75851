//! What a shop server that forwards does next: a state machine without I/O (event and time, then an action).
//!
//! It compares first, shows its proof where one is wanted, then sends one batch after another and waits for growth. A
//! link may be down for days: it tries again with a growing pause, forever, and compares again after each break, so that
//! nothing is sent to a server that went on differently. A fork, and entries that this site lost, stop it until somebody
//! does something about it. Driven by [`super::link`].

use super::standing::{Point, Standing};
use std::time::Duration;

/// Pause after the first failure; it doubles with each further one.
const PAUSE_FIRST: Duration = Duration::from_secs(1);
/// Longest pause, so that a link that is back is noticed soon.
const PAUSE_LONGEST: Duration = Duration::from_secs(60);

/// What happened.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) enum Event {
    /// The journal here reaches to this size.
    Grown(u64),
    /// The owner's server answered a comparison.
    Compared {
        /// How far it knows the journal.
        there: Point,
        /// What that means.
        standing: Standing,
    },
    /// It keeps entries up to this size.
    Kept(u64),
    /// It refused entries because the journals went on differently.
    Forked,
    /// It could not be asked; `wait` is what it said to wait, if it said so.
    Failed {
        /// The least pause.
        wait: Option<Duration>,
    },
    /// A pause is over.
    PauseOver,
    /// Somebody changed something: look again.
    LookAgain,
}

/// What to do now.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Action {
    /// Ask how the journals stand, with a proof from this size (0: without one).
    Compare {
        /// Size that the proof begins at.
        proof_from: u64,
    },
    /// Send entries from this place on.
    Send {
        /// Place of the first.
        first_seq: u64,
    },
    /// Wait until the journal grows.
    WaitForGrowth,
    /// Wait so long.
    Pause(Duration),
    /// Wait until somebody does something: the journals stand so.
    Stop(Standing),
    /// Nothing; what was asked for is still under way.
    Nothing,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum State {
    Comparing,
    Sending,
    Level,
    Pausing,
    Stopped(Standing),
}

/// One site's way to its owner's server.
#[derive(Debug)]
pub(crate) struct Sender {
    state: State,
    /// Size of the journal here.
    size: u64,
    /// So much is known to be kept there.
    kept: u64,
    failures: u32,
}

impl Sender {
    /// Begins: the first thing is to compare.
    pub(crate) fn begin(size: u64) -> (Self, Action) {
        (Self { state: State::Comparing, size, kept: 0, failures: 0 }, Action::Compare { proof_from: 0 })
    }

    /// Entries that the owner's server is not known to have.
    pub(crate) fn waiting(&self) -> u64 {
        self.size.saturating_sub(self.kept)
    }

    /// Why it stopped; nothing while it goes on.
    pub(crate) fn stopped(&self) -> Option<Standing> {
        match self.state {
            State::Stopped(standing) => Some(standing),
            _ => None,
        }
    }

    /// Takes what happened, and says what to do.
    pub(crate) fn on(&mut self, event: Event) -> Action {
        match event {
            Event::Grown(size) => {
                self.size = self.size.max(size);
                if self.state == State::Level { self.go_on() } else { Action::Nothing }
            }
            Event::Compared { there, standing } => self.compared(&there, standing),
            Event::Kept(size) => {
                self.failures = 0;
                self.kept = size;
                self.go_on()
            }
            Event::Forked => self.stop(Standing::Fork),
            Event::Failed { wait } => {
                self.state = State::Pausing;
                let own = PAUSE_FIRST.saturating_mul(2_u32.saturating_pow(self.failures)).min(PAUSE_LONGEST);
                self.failures = self.failures.saturating_add(1);
                Action::Pause(wait.unwrap_or_default().max(own))
            }
            Event::PauseOver | Event::LookAgain => {
                self.state = State::Comparing;
                Action::Compare { proof_from: 0 }
            }
        }
    }

    fn compared(&mut self, there: &Point, standing: Standing) -> Action {
        self.kept = there.size;
        match standing {
            Standing::Same | Standing::Ahead => {
                self.failures = 0;
                self.go_on()
            }
            Standing::ProofWanted => Action::Compare { proof_from: there.size },
            Standing::Behind | Standing::Fork => self.stop(standing),
        }
    }

    fn go_on(&mut self) -> Action {
        if self.kept < self.size {
            self.state = State::Sending;
            Action::Send { first_seq: self.kept + 1 }
        } else {
            self.state = State::Level;
            Action::WaitForGrowth
        }
    }

    fn stop(&mut self, standing: Standing) -> Action {
        self.state = State::Stopped(standing);
        Action::Stop(standing)
    }
}
