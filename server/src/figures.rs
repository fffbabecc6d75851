//! What a running server counts, in the text form of Prometheus.
//!
//! Each server has its own figures, so that several in one process do not mix. Names are
//! `standpipe_<thing>_<unit>`, counters end in `_total`, units are seconds and bytes, and labels come from closed lists
//! only: methods of the access table, codes of gRPC, reasons of the door. Counted in [`layer`], which also serves
//! them; fed by the handlers and the door. Never here: who may read them beyond what [`layer`] says.

pub(crate) mod layer;

use crate::workshop::Workshop;
use metrics::{
    Counter, Gauge, Histogram, Key, KeyName, Label, Level, Metadata, Recorder as _, SharedString, Unit,
};
use metrics_exporter_prometheus::{Matcher, PrometheusBuilder, PrometheusHandle, PrometheusRecorder};
use std::time::Duration;
use tonic::Code;

/// Bounds of the buckets of times, in seconds: from a commit on a fast disk to the deadline of a call.
const SECONDS_BUCKETS: [f64; 11] = [0.001, 0.0025, 0.005, 0.01, 0.025, 0.1, 0.25, 1.0, 5.0, 15.0, 60.0];
/// How often samples are gathered into their buckets, also when nobody reads them.
const GATHER_EVERY: Duration = Duration::from_secs(5);
/// Code of gRPC as it is written, by its number.
const CODES: [&str; 17] = [
    "OK",
    "CANCELLED",
    "UNKNOWN",
    "INVALID_ARGUMENT",
    "DEADLINE_EXCEEDED",
    "NOT_FOUND",
    "ALREADY_EXISTS",
    "PERMISSION_DENIED",
    "RESOURCE_EXHAUSTED",
    "FAILED_PRECONDITION",
    "ABORTED",
    "OUT_OF_RANGE",
    "UNIMPLEMENTED",
    "INTERNAL",
    "UNAVAILABLE",
    "DATA_LOSS",
    "UNAUTHENTICATED",
];

const ENTRIES: &str = "standpipe_journal_entries_total";
const SERVING: &str = "standpipe_journal_serving";
const COMMIT: &str = "standpipe_commit_seconds";
const CALLS: &str = "standpipe_calls_total";
const CALL_SECONDS: &str = "standpipe_call_seconds";
const CALLS_OPEN: &str = "standpipe_calls_open";
const CONNECTIONS: &str = "standpipe_connections_open";
const CONNECTIONS_REFUSED: &str = "standpipe_connections_refused_total";
const TOKENS_REFUSED: &str = "standpipe_tokens_refused_total";
const DISK_FREE: &str = "standpipe_disk_free_bytes";
const DISK_SIZE: &str = "standpipe_disk_size_bytes";
const OWNER_LACKS: &str = "standpipe_owner_lacks_entries";
const OWNER_LEVEL: &str = "standpipe_owner_level_timestamp_seconds";
const CERTIFICATE_ENDS: &str = "standpipe_certificate_end_timestamp_seconds";

/// How a figure is kept.
enum Sort {
    Counter,
    Gauge,
    Histogram,
}

/// All figures with what they mean.
const FIGURES: &[(&str, Sort, Option<Unit>, &str)] = &[
    (ENTRIES, Sort::Counter, Some(Unit::Count), "Entries of the site's journal."),
    (SERVING, Sort::Gauge, None, "1 while the journal takes entries, 0 once its disk failed."),
    (COMMIT, Sort::Histogram, Some(Unit::Seconds), "From an entry queued to the entry on the disk."),
    (CALLS, Sort::Counter, Some(Unit::Count), "Calls that ended, by method and code of gRPC."),
    (CALL_SECONDS, Sort::Histogram, Some(Unit::Seconds), "From a call's beginning to its end, by method."),
    (CALLS_OPEN, Sort::Gauge, Some(Unit::Count), "Calls and streams that are open, by method."),
    (CONNECTIONS, Sort::Gauge, Some(Unit::Count), "Connections that are open."),
    (CONNECTIONS_REFUSED, Sort::Counter, Some(Unit::Count), "Connections sent away, by reason."),
    (TOKENS_REFUSED, Sort::Counter, Some(Unit::Count), "Calls with a token that is not good, or with none."),
    (DISK_FREE, Sort::Gauge, Some(Unit::Bytes), "Free bytes of the disk with the site's folder."),
    (DISK_SIZE, Sort::Gauge, Some(Unit::Bytes), "Bytes of the disk with the site's folder."),
    (
        OWNER_LACKS,
        Sort::Gauge,
        Some(Unit::Count),
        "Entries that the owner's server is not known to have; 0 where none was joined.",
    ),
    (
        OWNER_LEVEL,
        Sort::Gauge,
        Some(Unit::Seconds),
        "When the owner's server last had every entry, since 1970.",
    ),
    (CERTIFICATE_ENDS, Sort::Gauge, Some(Unit::Seconds), "When the server's certificate ends, since 1970."),
];

static METADATA: Metadata<'static> = Metadata::new("standpipe_server", Level::INFO, None);

/// Why a connection was sent away.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Away {
    /// Its address has too many, or there are too many in all.
    TooMany,
    /// It was plain and came from another machine.
    Plain,
    /// It was silent, or never ended its handshake.
    Unfinished,
}

impl Away {
    const ALL: [Self; 3] = [Self::TooMany, Self::Plain, Self::Unfinished];

    fn name(self) -> &'static str {
        match self {
            Self::TooMany => "too_many",
            Self::Plain => "plain",
            Self::Unfinished => "unfinished",
        }
    }
}

/// The figures of one server.
pub(crate) struct Figures {
    recorder: PrometheusRecorder,
    handle: PrometheusHandle,
    served: bool,
    commit: Histogram,
    entries: Counter,
    serving: Gauge,
    connections: Gauge,
    tokens_refused: Counter,
    disk_free: Gauge,
    disk_size: Gauge,
    certificate_ends: Gauge,
}

impl Figures {
    /// None counted yet; `served` says whether they are shown to anybody.
    pub(crate) fn new(served: bool) -> Self {
        let seconds = Matcher::Suffix("_seconds".to_owned());
        // The bounds above are not empty, which is all that could be refused.
        let recorder = match PrometheusBuilder::new().set_buckets_for_metric(seconds, &SECONDS_BUCKETS) {
            Ok(builder) => builder.build_recorder(),
            Err(_) => PrometheusBuilder::new().build_recorder(),
        };
        for (name, sort, unit, meaning) in FIGURES {
            let (name, meaning) = (KeyName::from_const_str(name), SharedString::const_str(meaning));
            match sort {
                Sort::Counter => recorder.describe_counter(name, *unit, meaning),
                Sort::Gauge => recorder.describe_gauge(name, *unit, meaning),
                Sort::Histogram => recorder.describe_histogram(name, *unit, meaning),
            }
        }
        let gauge = |name| recorder.register_gauge(&Key::from_static_name(name), &METADATA);
        let counter = |name| recorder.register_counter(&Key::from_static_name(name), &METADATA);
        let figures = Self {
            handle: recorder.handle(),
            served,
            commit: recorder.register_histogram(&Key::from_static_name(COMMIT), &METADATA),
            entries: counter(ENTRIES),
            serving: gauge(SERVING),
            connections: gauge(CONNECTIONS),
            tokens_refused: counter(TOKENS_REFUSED),
            disk_free: gauge(DISK_FREE),
            disk_size: gauge(DISK_SIZE),
            certificate_ends: gauge(CERTIFICATE_ENDS),
            recorder,
        };
        for reason in Away::ALL {
            // A reason that never came is told as none, so that its first one is seen as a change.
            figures.away(reason).increment(0);
        }
        figures
    }

    /// Gathers samples into their buckets for as long as the future lasts that it is dropped with.
    pub(crate) async fn gather(&self) {
        let mut ticks = tokio::time::interval(GATHER_EVERY);
        loop {
            ticks.tick().await;
            self.handle.run_upkeep();
        }
    }

    /// Notes how long an entry took from the queue to the disk.
    pub(crate) fn committed(&self, within: Duration) {
        self.commit.record(within);
    }

    /// Notes that a connection was sent away.
    pub(crate) fn sent_away(&self, reason: Away) {
        self.away(reason).increment(1);
    }

    /// Notes a connection; it has ended when the guest is dropped.
    pub(crate) fn connected(&self) -> Guest {
        self.connections.increment(1.0);
        Guest(self.connections.clone())
    }

    fn away(&self, reason: Away) -> Counter {
        let labels = vec![Label::from_static_parts("reason", reason.name())];
        self.recorder.register_counter(&Key::from_parts(CONNECTIONS_REFUSED, labels), &METADATA)
    }

    fn call_ended(&self, method: &'static str, code: Code, within: Duration) {
        if code == Code::Unauthenticated {
            self.tokens_refused.increment(1);
        }
        let code = usize::try_from(i32::from(code)).ok().and_then(|code| CODES.get(code)).copied();
        let method = Label::from_static_parts("method", method);
        let labels = vec![method.clone(), Label::from_static_parts("code", code.unwrap_or("UNKNOWN"))];
        self.recorder.register_counter(&Key::from_parts(CALLS, labels), &METADATA).increment(1);
        let key = Key::from_parts(CALL_SECONDS, vec![method]);
        self.recorder.register_histogram(&key, &METADATA).record(within);
    }

    fn calls_open(&self, method: &'static str) -> Gauge {
        let labels = vec![Label::from_static_parts("method", method)];
        self.recorder.register_gauge(&Key::from_parts(CALLS_OPEN, labels), &METADATA)
    }

    /// All figures as they are now.
    async fn text(&self, workshop: &Workshop) -> String {
        self.serving.set(if workshop.journal.health().is_ok() { 1.0 } else { 0.0 });
        if let Ok(head) = workshop.journal.head().await {
            self.entries.absolute(head.seq);
        }
        if let Some(ends) = workshop.identity.ends() {
            self.certificate_ends.set(ends as f64);
        }
        let gauge = |name| self.recorder.register_gauge(&Key::from_static_name(name), &METADATA);
        let at_owner = workshop.bond.at_owner();
        gauge(OWNER_LACKS).set(at_owner.as_ref().map_or(0.0, |at| at.waiting() as f64));
        // A time is told only if there is one.
        if let Some(level_us) = at_owner.and_then(|at| at.level_us) {
            gauge(OWNER_LEVEL).set((level_us / 1_000_000) as f64);
        }
        match crate::space::of(workshop.folder.path()) {
            Ok(space) => {
                self.disk_free.set(space.free_bytes as f64);
                self.disk_size.set(space.size_bytes as f64);
            }
            Err(error) => tracing::warn!(%error, "the disk does not say how much of it is free"),
        }
        self.handle.render()
    }
}

/// A connection that is open.
pub(crate) struct Guest(Gauge);

impl Drop for Guest {
    fn drop(&mut self) {
        self.0.decrement(1.0);
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::collections::BTreeSet;

    #[test]
    fn a_name_says_thing_and_unit_and_stands_once() {
        let names: BTreeSet<_> = FIGURES.iter().map(|(name, ..)| *name).collect();
        assert_eq!(names.len(), FIGURES.len());
        for (name, sort, unit, meaning) in FIGURES {
            assert!(name.starts_with("standpipe_"), "{name}");
            assert_eq!(name.ends_with("_total"), matches!(sort, Sort::Counter), "{name}");
            let seconds = name.ends_with("_seconds");
            assert_eq!(seconds, *unit == Some(Unit::Seconds), "{name}");
            assert!(meaning.ends_with('.'), "{name}");
        }
    }

    #[test]
    fn codes_are_written_as_grpc_writes_them() {
        // gRPC, 'Status codes and their use in gRPC': numbers 0 to 16.
        assert_eq!(CODES.len(), 17);
        assert_eq!(CODES[usize::try_from(i32::from(Code::Unavailable)).unwrap()], "UNAVAILABLE");
        assert_eq!(CODES[usize::try_from(i32::from(Code::Unauthenticated)).unwrap()], "UNAUTHENTICATED");
    }

    #[test]
    fn what_is_counted_is_told_with_its_labels() {
        let figures = Figures::new(true);
        let guest = figures.connected();
        figures.sent_away(Away::Plain);
        figures.call_ended("/a/B", Code::NotFound, Duration::from_millis(20));
        let text = figures.handle.render();
        for line in [
            "standpipe_connections_open 1",
            "standpipe_connections_refused_total{reason=\"plain\"} 1",
            "standpipe_connections_refused_total{reason=\"too_many\"} 0",
            "standpipe_calls_total{method=\"/a/B\",code=\"NOT_FOUND\"} 1",
            "standpipe_call_seconds_bucket{method=\"/a/B\",le=\"0.01\"} 0",
            "standpipe_call_seconds_bucket{method=\"/a/B\",le=\"0.025\"} 1",
        ] {
            assert!(text.lines().any(|it| it == line), "{line} in\n{text}");
        }
        drop(guest);
        assert!(figures.handle.render().contains("standpipe_connections_open 0"));
    }
}
