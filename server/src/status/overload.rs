//! What goes wrong within a call because there is too much of something: calls, failures, waiting answers, time.
//!
//! All of it passes: each can be asked again, after the wait that is told.

use super::Row;
use standpipe_proto::v1::Reason;
use std::time::Duration;
use tonic::Code;

/// Too much of something.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum Overload {
    /// The station sends single entries faster than a station may.
    #[error(
        "station '{station}' sends more single entries than {per_second} a second; wait {} ms, or send them as a stream",
        millis(.wait)
    )]
    TooManyCalls {
        /// Name of the station.
        station: String,
        /// So many it may.
        per_second: u32,
        /// Until the next one is taken.
        wait: Duration,
    },
    /// Too many unknown tokens came from an address.
    #[error(
        "too many calls with tokens that are not good here came from this address; wait {} ms, then try again",
        millis(.wait)
    )]
    TooManyFailures {
        /// Until the next one is looked at.
        wait: Duration,
    },
    /// A station renewed its token again and again.
    #[error("this station renewed its token too often; go on with the token it has, and renew it in {} s", seconds(.wait))]
    TooManyRenewals {
        /// Until it may renew once more.
        wait: Duration,
    },
    /// The reader of a stream took nothing for too long.
    #[error("nothing of this stream was read for {seconds} s; begin again and go on after place {last_seq}")]
    ReaderTooSlow {
        /// So long it was waited.
        seconds: u64,
        /// Last place of the journal that the stream told of; 0 if none.
        last_seq: u64,
    },
    /// Answers that take long to compute are computed already, as many as may be.
    #[error("the server computes other long answers just now; ask again in a moment")]
    Busy,
    /// The answer took longer than a call may, or than the caller wanted to wait.
    #[error(
        "the answer took longer than {} s; ask again, and look at the server if that happens often",
        .within.as_secs_f64()
    )]
    TooLate {
        /// So long it was waited.
        within: Duration,
    },
}

/// Wait that is told where nothing says how long it takes.
const A_MOMENT: Duration = Duration::from_secs(1);

impl Overload {
    pub(super) fn row(&self) -> Row {
        match self {
            Self::TooManyCalls { .. } | Self::TooManyRenewals { .. } => {
                (Code::ResourceExhausted, Reason::TooManyCalls)
            }
            Self::TooManyFailures { .. } => (Code::ResourceExhausted, Reason::TooManyFailures),
            Self::ReaderTooSlow { .. } => (Code::ResourceExhausted, Reason::ReaderTooSlow),
            Self::Busy => (Code::Unavailable, Reason::ServerBusy),
            Self::TooLate { .. } => (Code::DeadlineExceeded, Reason::CallTooLong),
        }
    }

    pub(super) fn metadata(&self) -> Vec<(&'static str, String)> {
        match self {
            Self::TooManyCalls { station, per_second, wait } => vec![
                ("station", station.clone()),
                ("per_second", per_second.to_string()),
                ("wait_ms", millis(wait).to_string()),
            ],
            Self::TooManyFailures { wait } => vec![("wait_ms", millis(wait).to_string())],
            Self::TooManyRenewals { wait } => vec![("seconds", seconds(wait).to_string())],
            Self::ReaderTooSlow { seconds, last_seq } => {
                vec![("seconds", seconds.to_string()), ("last_seq", last_seq.to_string())]
            }
            Self::Busy => Vec::new(),
            Self::TooLate { within } => vec![("seconds", within.as_secs_f64().to_string())],
        }
    }

    /// How long to wait before the same is asked again.
    pub(super) fn wait(&self) -> Duration {
        match self {
            Self::TooManyCalls { wait, .. }
            | Self::TooManyFailures { wait }
            | Self::TooManyRenewals { wait } => Duration::from_millis(millis(wait)),
            Self::ReaderTooSlow { .. } | Self::Busy | Self::TooLate { .. } => A_MOMENT,
        }
    }
}

/// Whole seconds, rounded up.
fn seconds(wait: &Duration) -> u64 {
    millis(wait).div_ceil(1000)
}

/// Whole milliseconds, rounded up: who waits for them comes no moment too early.
fn millis(wait: &Duration) -> u64 {
    u64::try_from(wait.as_micros().div_ceil(1000)).unwrap_or(u64::MAX).max(1)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn each_says_how_long_to_wait_or_where_to_go_on() {
        let wait = Duration::from_micros(19_001);
        let station = "bay-1".to_owned();
        let calls = Overload::TooManyCalls { station, per_second: 50, wait };
        assert!(calls.to_string().contains("wait 20 ms"), "{calls}");
        assert_eq!(calls.wait(), Duration::from_millis(20));
        let slow = Overload::ReaderTooSlow { seconds: 60, last_seq: 42 };
        assert!(slow.to_string().contains("after place 42") && slow.wait() == A_MOMENT, "{slow}");
        assert!(Overload::Busy.wait() > Duration::ZERO);
    }
}
