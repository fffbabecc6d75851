//! Who was let in and who was turned away: what is written into the book beside the journal.
//!
//! What was allowed is a line each time. What was refused is a line for each minute with a count, so that a flood of
//! wrong tokens or PINs fills nothing: the first of a minute is written at once, the others are counted here and added
//! when the minute is over, when somebody reads the book, or when the server stops. A line names stations, person
//! codes, addresses and jobs; never a name, a token, a code to join or a PIN.
//! Called wherever the access table, a PIN or an order decides. Never here: a decision.

use crate::clock::Clock;
use crate::door::{Peer, network};
use standpipe_store::{AuditBook, AuditLine, StoreError};
use std::collections::BTreeMap;
use std::net::IpAddr;
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};

const MINUTE_US: i64 = 60 * 1_000_000;
/// Kinds of refusals that are told apart within a minute; what comes beyond them is one line.
const APART_MAX: usize = 1_000;
/// Most characters of what a line is about.
const ABOUT_LENGTH_MAX: usize = 200;

/// What somebody was allowed or refused.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Deed {
    /// Becoming a station by a code.
    Join,
    /// Giving itself a new token.
    RenewToken,
    /// Showing a token.
    Token,
    /// Calling a method.
    Method,
    /// Stating a fact of a kind.
    Kind,
    /// Bringing or asking for the journal of a site.
    Forward,
    /// Signing in at the office pages by PIN.
    SignIn,
    /// Signing entries by PIN.
    Sign,
    /// An order given at the shop server.
    Order,
}

impl Deed {
    /// Its word in the book.
    pub(crate) fn word(self) -> &'static str {
        match self {
            Self::Join => "join",
            Self::RenewToken => "renew-token",
            Self::Token => "token",
            Self::Method => "method",
            Self::Kind => "kind",
            Self::Forward => "forward",
            Self::SignIn => "sign-in",
            Self::Sign => "sign",
            Self::Order => "order",
        }
    }
}

/// What happened, as far as it is known who did it.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Event<'a> {
    /// What was done or tried.
    pub(crate) deed: Deed,
    /// Whether it was allowed.
    pub(crate) allowed: bool,
    /// Id of the station; empty if none is known.
    pub(crate) station: &'a str,
    /// Code of the person; empty if none is known. Only a code that is listed: what somebody typed may be anything.
    pub(crate) person: &'a str,
    /// Where it came from; absent at the shop server itself.
    pub(crate) address: Option<IpAddr>,
    /// For example the job or the method.
    pub(crate) about: &'a str,
}

impl Event<'_> {
    /// Something that was allowed to nobody in particular.
    pub(crate) const fn allowed(deed: Deed) -> Self {
        Self { deed, allowed: true, station: "", person: "", address: None, about: "" }
    }

    /// Something that was refused to nobody in particular.
    pub(crate) const fn refused(deed: Deed) -> Self {
        Self { allowed: false, ..Self::allowed(deed) }
    }

    fn line(&self, now_us: i64) -> AuditLine {
        AuditLine {
            at_us: now_us,
            until_us: now_us,
            times: 1,
            what: self.deed.word().to_owned(),
            allowed: self.allowed,
            station: self.station.to_owned(),
            person: self.person.to_owned(),
            address: self.address.map(place).unwrap_or_default(),
            about: self.about.chars().take(ABOUT_LENGTH_MAX).collect(),
        }
    }
}

/// An address as it is written down. One machine has many addresses of IP version 6 under one prefix of 64 bits.
fn place(address: IpAddr) -> String {
    match network(address) {
        IpAddr::V6(prefix) if !prefix.is_loopback() => format!("{prefix}/64"),
        address => address.to_string(),
    }
}

/// The address at the other end of a call's connection.
pub(crate) fn address_of_call(extensions: &tonic::Extensions) -> Option<IpAddr> {
    extensions.get::<Peer>().map(|peer| peer.address.ip())
}

/// Writes into the book.
pub(crate) struct Audit {
    book: Arc<dyn AuditBook>,
    clock: Arc<dyn Clock>,
    refused: Mutex<Refused>,
}

/// What was refused in a minute, with what is not written yet.
#[derive(Default)]
struct Refused {
    minute: i64,
    lines: BTreeMap<Who, Counted>,
}

/// What, station, person, address, about.
type Who = (String, String, String, String, String);

#[derive(Clone, Copy)]
struct Counted {
    at_us: i64,
    until_us: i64,
    unwritten: u64,
}

impl Audit {
    pub(crate) fn of(book: Arc<dyn AuditBook>, clock: Arc<dyn Clock>) -> Self {
        Self { book, clock, refused: Mutex::default() }
    }

    /// Writes down what happened. A book that cannot be written holds nothing up; the log says so.
    pub(crate) async fn note(&self, event: Event<'_>) {
        let line = event.line(self.clock.now_us());
        let lines = if event.allowed { vec![line] } else { self.held().count(line) };
        self.write(lines).await;
    }

    /// What happened since a time, the latest first.
    pub(crate) async fn since(&self, since_us: i64) -> Result<Vec<AuditLine>, StoreError> {
        self.write_counts().await;
        self.book.audit_since(since_us).await
    }

    /// Writes what is only counted yet.
    pub(crate) async fn write_counts(&self) {
        let lines = self.held().unwritten();
        self.write(lines).await;
    }

    async fn write(&self, lines: Vec<AuditLine>) {
        for line in lines {
            if let Err(error) = self.book.put_audit(line).await {
                tracing::warn!(%error, "who was let in or turned away could not be written down");
            }
        }
    }

    fn held(&self) -> MutexGuard<'_, Refused> {
        // Each change under the lock is whole, so a panic elsewhere leaves nothing half done.
        self.refused.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

impl Refused {
    /// Counts a refusal and gives what is to be written now.
    fn count(&mut self, line: AuditLine) -> Vec<AuditLine> {
        let minute = line.at_us.div_euclid(MINUTE_US);
        let mut due = Vec::new();
        if self.minute != minute {
            due = self.unwritten();
            self.lines.clear();
            self.minute = minute;
        }
        let mut who = (line.what, line.station, line.person, line.address, line.about);
        if self.lines.len() >= APART_MAX && !self.lines.contains_key(&who) {
            who = (who.0, String::new(), String::new(), String::new(), String::new());
        }
        match self.lines.get_mut(&who) {
            Some(counted) => {
                counted.unwritten += 1;
                counted.until_us = line.at_us;
            }
            None => {
                let counted = Counted { at_us: line.at_us, until_us: line.at_us, unwritten: 0 };
                due.push(written(&who, &Counted { unwritten: 1, ..counted }));
                self.lines.insert(who, counted);
            }
        }
        due
    }

    /// Lines of what was counted and is not written yet.
    fn unwritten(&mut self) -> Vec<AuditLine> {
        let counted = self.lines.iter_mut().filter(|(_, counted)| counted.unwritten > 0);
        counted
            .map(|(who, counted)| {
                let line = written(who, counted);
                counted.unwritten = 0;
                line
            })
            .collect()
    }
}

fn written((what, station, person, address, about): &Who, counted: &Counted) -> AuditLine {
    AuditLine {
        at_us: counted.at_us,
        until_us: counted.until_us,
        times: counted.unwritten,
        what: what.clone(),
        allowed: false,
        station: station.clone(),
        person: person.clone(),
        address: address.clone(),
        about: about.clone(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use standpipe_store::MemoryStore;
    use std::sync::atomic::{AtomicI64, Ordering};

    struct ByHand(AtomicI64);

    impl Clock for ByHand {
        fn now_us(&self) -> i64 {
            self.0.load(Ordering::SeqCst)
        }
    }

    fn audit() -> (Audit, Arc<MemoryStore>, Arc<ByHand>) {
        let (store, clock) =
            (Arc::new(MemoryStore::new("site", [1; 16])), Arc::new(ByHand(AtomicI64::new(5))));
        (Audit::of(Arc::<MemoryStore>::clone(&store), Arc::<ByHand>::clone(&clock)), store, clock)
    }

    #[tokio::test]
    async fn a_flood_of_wrong_tokens_is_one_line_a_minute_and_address() {
        let (audit, store, clock) = audit();
        let from = |last: u8| Some(IpAddr::from([192, 0, 2, last]));
        for at in 0..1_000_i64 {
            clock.0.store(5 + at, Ordering::SeqCst);
            for last in [1, 2] {
                audit.note(Event { address: from(last), ..Event::refused(Deed::Token) }).await;
            }
        }
        let written = store.audit_since(0).await.unwrap();
        assert_eq!(written.iter().map(|line| line.times).collect::<Vec<_>>(), [1, 1]);
        clock.0.store(MINUTE_US, Ordering::SeqCst);
        audit.note(Event { address: from(1), ..Event::refused(Deed::Token) }).await;
        let told = |lines: Vec<AuditLine>| {
            let told = lines.into_iter().map(|it| (it.address, it.times, it.at_us, it.until_us));
            told.collect::<Vec<_>>()
        };
        let (one, two) = ("192.0.2.1".to_owned(), "192.0.2.2".to_owned());
        let expected =
            vec![(one.clone(), 1, MINUTE_US, MINUTE_US), (two, 1_000, 5, 1_004), (one, 1_000, 5, 1_004)];
        assert_eq!(told(store.audit_since(0).await.unwrap()), expected);
    }

    #[tokio::test]
    async fn whoever_reads_the_book_sees_every_count() {
        let (audit, _, _) = audit();
        for _ in 0..3 {
            audit.note(Event { station: "bay-1", about: "/x/Y", ..Event::refused(Deed::Method) }).await;
            audit.note(Event { person: "A", ..Event::allowed(Deed::SignIn) }).await;
        }
        let lines = audit.since(0).await.unwrap();
        let told: Vec<_> = lines.iter().map(|it| (it.what.as_str(), it.allowed, it.times)).collect();
        assert_eq!(told, [("sign-in", true, 3), ("method", false, 3)], "the same moment is one line");
        assert_eq!(audit.since(0).await.unwrap(), lines, "reading counts nothing twice");
    }

    #[tokio::test]
    async fn many_that_are_refused_at_once_are_told_together() {
        let (audit, _, _) = audit();
        for number in 0..2 * APART_MAX {
            audit.note(Event { about: &number.to_string(), ..Event::refused(Deed::Method) }).await;
        }
        let lines = audit.since(0).await.unwrap();
        assert_eq!(lines.len(), APART_MAX + 1);
        let together = lines.iter().find(|line| line.about.is_empty()).unwrap();
        assert_eq!(together.times, APART_MAX as u64);
    }

    #[test]
    fn the_addresses_of_one_machine_are_one_place() {
        let place = |text: &str| place(text.parse().unwrap());
        assert_eq!(place("2001:db8::1:2"), place("2001:db8::ffff:1"));
        assert_ne!(place("2001:db8:0:1::2"), place("2001:db8::2"));
        assert_eq!((place("::ffff:192.0.2.1").as_str(), place("::1").as_str()), ("192.0.2.1", "::1"));
    }
}
