//! What a shop server that forwards does next: a state machine without I/O (an event, then an action).
//!
//! It compares first, shows its proof where one is wanted, then sends one batch after another and waits for growth. A
//! link may be down for days: it tries again with a growing pause, forever, and compares again after each break, so that
//! nothing is sent to a server that went on differently. A fork, entries that this site lost, and another workshop of the same
//! identity stop it until somebody does something about it. Whatever the other side answers, it never asks the same twice without a pause between.
//! Driven by [`super::link`].

use super::standing::{Point, Standing};
use std::time::Duration;

/// Pause after the first failure; it doubles with each further one.
const PAUSE_FIRST: Duration = Duration::from_secs(1);
/// Longest pause of its own, so that a link that is back is noticed soon.
const PAUSE_LONGEST: Duration = Duration::from_secs(60);
/// Longest pause that it is told to make and makes.
const PAUSE_TOLD_LONGEST: Duration = Duration::from_secs(3600);

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
    /// It refused entries because it keeps another workshop's under this identity.
    Another,
    /// It could not be asked; `wait` is what it said to wait, if it said so.
    Failed {
        /// The least pause.
        wait: Option<Duration>,
    },
    /// A pause is over.
    PauseOver,
    /// Somebody changed something, or it is long ago: look again.
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
    Comparing { proof_from: u64 },
    Sending { first_seq: u64 },
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
        let state = State::Comparing { proof_from: 0 };
        (Self { state, size, kept: 0, failures: 0 }, Action::Compare { proof_from: 0 })
    }

    /// Entries that the owner's server is known to have.
    pub(crate) fn kept(&self) -> u64 {
        self.kept
    }

    /// Entries that it is not known to have.
    #[cfg(test)]
    pub(crate) fn waiting(&self) -> u64 {
        self.size.saturating_sub(self.kept)
    }

    /// Why it stopped; nothing while it goes on.
    #[cfg(test)]
    pub(crate) fn stopped(&self) -> Option<Standing> {
        match self.state {
            State::Stopped(standing) => Some(standing),
            _ => None,
        }
    }

    /// Takes what happened, and says what to do. What fits to nothing that was asked for changes nothing.
    pub(crate) fn on(&mut self, event: Event) -> Action {
        match (event, self.state) {
            (Event::Grown(size), state) => self.grown(size, state),
            (Event::Compared { there, standing }, State::Comparing { proof_from }) => {
                self.compared(&there, standing, proof_from)
            }
            (Event::Kept(size), State::Sending { first_seq }) => self.kept_up_to(size, first_seq),
            (Event::Forked, State::Sending { .. }) => self.stop(Standing::Fork),
            (Event::Another, State::Sending { .. }) => self.of_another(),
            (Event::Failed { wait }, State::Comparing { .. } | State::Sending { .. }) => self.pause(wait),
            (Event::PauseOver, State::Pausing) => self.compare(0),
            (Event::LookAgain, State::Pausing | State::Level | State::Stopped(_)) => self.compare(0),
            _ => Action::Nothing,
        }
    }

    fn grown(&mut self, size: u64, state: State) -> Action {
        let more = size > self.size;
        self.size = self.size.max(size);
        match state {
            State::Level => self.go_on(),
            // What was behind and goes on by itself is a fork from now on; both sides are to know.
            State::Stopped(Standing::Behind) if more => self.compare(0),
            _ => Action::Nothing,
        }
    }

    fn compared(&mut self, there: &Point, standing: Standing, proof_from: u64) -> Action {
        match standing {
            // Nobody brings more than this site has, but somebody who has its disk.
            Standing::Same | Standing::Ahead if there.size > self.size => self.pause(None),
            Standing::Same | Standing::Ahead => {
                self.kept = there.size;
                self.go_on()
            }
            Standing::ProofWanted if there.size > proof_from && there.size < self.size => {
                self.compare(there.size)
            }
            Standing::ProofWanted => self.pause(None),
            Standing::Another => self.of_another(),
            Standing::Behind | Standing::Fork => {
                self.kept = there.size.min(self.size);
                self.stop(standing)
            }
        }
    }

    /// Nothing that is kept there is of this site.
    fn of_another(&mut self) -> Action {
        self.kept = 0;
        self.stop(Standing::Another)
    }

    fn kept_up_to(&mut self, size: u64, first_seq: u64) -> Action {
        // It took them and has none of them, or has what was never sent: compared before anything else is sent.
        if size < first_seq || size > self.size {
            return self.pause(None);
        }
        self.failures = 0;
        self.kept = size;
        self.go_on()
    }

    fn go_on(&mut self) -> Action {
        if self.kept < self.size {
            let first_seq = self.kept + 1;
            self.state = State::Sending { first_seq };
            return Action::Send { first_seq };
        }
        self.failures = 0;
        self.state = State::Level;
        Action::WaitForGrowth
    }

    fn compare(&mut self, proof_from: u64) -> Action {
        self.state = State::Comparing { proof_from };
        Action::Compare { proof_from }
    }

    fn pause(&mut self, wait: Option<Duration>) -> Action {
        self.state = State::Pausing;
        let own = PAUSE_FIRST.saturating_mul(2_u32.saturating_pow(self.failures)).min(PAUSE_LONGEST);
        self.failures = self.failures.saturating_add(1);
        Action::Pause(wait.unwrap_or_default().min(PAUSE_TOLD_LONGEST).max(own))
    }

    fn stop(&mut self, standing: Standing) -> Action {
        self.failures = 0;
        self.state = State::Stopped(standing);
        Action::Stop(standing)
    }
}
