//! The unsent list under any order of keeping, sending, answering, breaking and crashing.

use super::*;
use proptest::prelude::*;
use std::collections::HashMap;

fn entry(name: &str) -> Waiting {
    Waiting { entry_id: name.to_owned(), epoch: "e".into(), bytes: 100, opens_job: false }
}

fn list(count: i64) -> UnsentList {
    let mut list = UnsentList::default();
    list.reconcile("e".into(), 0, 0, BTreeMap::new());
    for place in 1..=count {
        list.step(Event::Stored { place, waiting: entry(&place.to_string()) }, 0);
    }
    list
}

fn acknowledged(place: i64) -> Event {
    Event::Acknowledged { entry_id: place.to_string(), station_number_reused: false }
}

fn refused(place: i64, code: tonic::Code) -> Event {
    Event::Refused(Refusal { entry_id: place.to_string(), code: code.into(), ..Refusal::default() })
}

fn sends(actions: &[Action]) -> Vec<i64> {
    let place = |action: &Action| if let Action::Send { place } = action { Some(*place) } else { None };
    actions.iter().filter_map(place).collect()
}

#[test]
fn at_most_64_entries_wait_for_their_answer_and_the_next_follow_in_order() {
    let mut list = list(100);
    let begun = list.step(Event::Began { jitter: 0 }, 0);
    assert_eq!(sends(&begun), (1..=64).collect::<Vec<_>>());
    assert_eq!(list.step(acknowledged(1), 0), [Action::MoveToSent { place: 1 }, Action::Send { place: 65 }]);
    // An answer that comes twice, or to something unknown, changes nothing.
    assert!(list.step(acknowledged(1), 0).is_empty() && list.step(acknowledged(9999), 0).is_empty());
}

#[test]
fn nothing_follows_an_arrival_until_it_is_answered() {
    let mut list = list(0);
    list.step(Event::Stored { place: 1, waiting: Waiting { opens_job: true, ..entry("1") } }, 0);
    list.step(Event::Stored { place: 2, waiting: entry("2") }, 0);
    assert_eq!(list.step(Event::Began { jitter: 0 }, 0), [Action::Send { place: 1 }]);
    assert_eq!(list.step(acknowledged(1), 0), [Action::MoveToSent { place: 1 }, Action::Send { place: 2 }]);
    assert_eq!(
        list.step(acknowledged(2), 0),
        [Action::MoveToSent { place: 2 }, Action::Ended { again_at: None }]
    );
}

#[test]
fn a_refusal_for_ever_puts_aside_and_one_for_now_holds_everything_after_it() {
    let mut list = list(4);
    list.step(Event::Began { jitter: 0 }, 0);
    assert!(matches!(
        list.step(refused(1, tonic::Code::NotFound), 0)[..],
        [Action::SetAside { place: 1, .. }]
    ));
    // 3 is refused for ever, but perhaps only because 2 was not there: it is decided with 2.
    assert!(list.step(refused(3, tonic::Code::NotFound), 0).is_empty());
    assert!(list.step(refused(2, tonic::Code::ResourceExhausted), 0).is_empty());
    assert_eq!(
        list.step(acknowledged(4), 0),
        [Action::MoveToSent { place: 4 }, Action::Ended { again_at: Some(0) }]
    );
    assert_eq!(list.len(), 2);
    assert_eq!(sends(&list.step(Event::Began { jitter: 0 }, 0)), [2, 3]);
}

#[test]
fn a_refusal_without_an_id_answers_the_oldest() {
    let mut list = list(2);
    list.step(Event::Began { jitter: 0 }, 0);
    let refusal = Refusal { code: tonic::Code::InvalidArgument.into(), ..Refusal::default() };
    assert!(matches!(list.step(Event::Refused(refusal), 0)[..], [Action::SetAside { place: 1, .. }]));
}

#[test]
fn waits_double_up_to_a_minute_and_end_with_the_first_answer() {
    let mut list = list(2);
    let mut waits = Vec::new();
    for _ in 0..9 {
        list.step(Event::Began { jitter: 0 }, 0);
        let [Action::Ended { again_at: Some(wait) }] = list.step(Event::Broke, 0)[..] else { panic!() };
        waits.push(wait / 1_000_000);
    }
    assert_eq!(waits, [1, 2, 4, 8, 16, 32, 60, 60, 60]);
    list.step(Event::Began { jitter: u16::MAX }, 0);
    assert_eq!(list.step(Event::Broke, 5), [Action::Ended { again_at: Some(75_000_005) }]);
    list.step(Event::Began { jitter: 0 }, 0);
    list.step(acknowledged(1), 0);
    assert_eq!(list.step(Event::Broke, 7), [Action::Ended { again_at: Some(7) }]);
}

#[test]
fn a_copied_list_gets_a_new_epoch_that_counts_from_1_again() {
    let mut list = list(3);
    list.step(Event::Began { jitter: 0 }, 0);
    let copied = Event::Acknowledged { entry_id: "1".into(), station_number_reused: true };
    assert_eq!(list.step(copied, 0), [Action::BeginEpoch { after: 3 }, Action::MoveToSent { place: 1 }]);
    // The new epoch could not be written down: no entry is made in the old one any more.
    assert_eq!(list.step(Event::Wanted, 0), [Action::BeginEpoch { after: 3 }]);
    list.step(Event::EpochBegan { epoch: "f".into(), after: 3 }, 0);
    assert_eq!(list.step(Event::Wanted, 0), [Action::Store { place: 4, station_number: 1 }]);
    // The others were sealed in the old epoch; that they are told of as well asks for nothing more.
    let again = Event::Acknowledged { entry_id: "2".into(), station_number_reused: true };
    assert_eq!(list.step(again, 0), [Action::MoveToSent { place: 2 }]);
}

#[test]
fn a_full_list_takes_nothing_more() {
    let mut list = list(0);
    let many = (1..).map(|place| (place, entry("x"))).take(UNSENT_ENTRIES_MAX).collect();
    list.reconcile("e".into(), 0, 100_000, many);
    assert_eq!(list.step(Event::Wanted, 0), [Action::Full]);
}

/// One thing that may happen; the numbers choose among what is possible.
#[derive(Debug, Clone)]
enum Happening {
    Keep { arrival: bool, dies_before_it_is_stored: bool },
    Begin,
    Deliver,
    Answer(usize, Verdict),
    Break,
    Crash,
}

#[derive(Debug, Clone, Copy, PartialEq)]
enum Verdict {
    Take,
    TakeAsReused,
    Never,
    NotNow,
}

fn happenings() -> impl Strategy<Value = Vec<Happening>> {
    let verdict = prop_oneof![
        6 => Just(Verdict::Take), 1 => Just(Verdict::TakeAsReused), 1 => Just(Verdict::Never), 1 => Just(Verdict::NotNow)
    ];
    let one = prop_oneof![
        4 => (any::<bool>(), prop::bool::weighted(0.2))
            .prop_map(|(arrival, dies)| Happening::Keep { arrival, dies_before_it_is_stored: dies }),
        3 => Just(Happening::Begin),
        6 => Just(Happening::Deliver),
        8 => (any::<usize>(), verdict).prop_map(|(which, verdict)| Happening::Answer(which, verdict)),
        1 => Just(Happening::Break),
        1 => Just(Happening::Crash),
    ];
    prop::collection::vec(one, 0..200)
}

/// A station's disk, the wire and a server, as plain sets.
#[derive(Default)]
struct World {
    list: UnsentList,
    epoch: (String, i64),
    disk: BTreeMap<i64, (Waiting, i64)>,
    sent: BTreeSet<String>,
    aside: BTreeSet<String>,
    greatest_on_disk: i64,
    wire: Vec<i64>,
    at_server: Vec<String>,
    journal: Vec<String>,
    kept: Vec<String>,
    numbers: HashMap<(String, i64), String>,
    sent_in_this_try: Vec<i64>,
    drawn: usize,
}

impl World {
    fn carry_out(&mut self, actions: Vec<Action>) {
        for action in actions {
            match action {
                Action::BeginEpoch { after } => {
                    self.drawn += 1;
                    self.epoch = (format!("epoch-{}", self.drawn), after);
                    let event = Event::EpochBegan { epoch: self.epoch.0.clone(), after };
                    let more = self.list.step(event, 0);
                    self.carry_out(more);
                }
                Action::Send { place } => {
                    assert!(self.disk.contains_key(&place), "sends what it does not have");
                    assert!(self.sent_in_this_try.last().is_none_or(|last| *last < place), "out of order");
                    self.sent_in_this_try.push(place);
                    self.wire.push(place);
                    assert!(self.wire.len() + self.at_server.len() <= STREAM_WINDOW_MAX);
                }
                Action::MoveToSent { place } => {
                    let (entry, _) = self.disk.remove(&place).unwrap();
                    assert!(
                        self.journal.contains(&entry.entry_id),
                        "moved without being on the server's disk"
                    );
                    self.sent.insert(entry.entry_id);
                }
                Action::SetAside { place, .. } => {
                    let (entry, _) = self.disk.remove(&place).unwrap();
                    self.aside.insert(entry.entry_id);
                }
                Action::Ended { .. } => {
                    self.wire.clear();
                    self.at_server.clear();
                }
                Action::Full | Action::Store { .. } => panic!("not asked for"),
            }
        }
    }

    fn keep(&mut self, arrival: bool, dies: bool) {
        let mut action = self.list.step(Event::Wanted, 0);
        if matches!(action[..], [Action::BeginEpoch { .. }]) {
            self.carry_out(action);
            action = self.list.step(Event::Wanted, 0);
        }
        let [Action::Store { place, station_number }] = action[..] else { panic!("{action:?}") };
        if dies {
            return self.crash();
        }
        let name = format!("entry-{}", self.kept.len());
        let waiting = Waiting { epoch: self.epoch.0.clone(), opens_job: arrival, ..entry(&name) };
        let before = self.numbers.insert((self.epoch.0.clone(), station_number), name.clone());
        assert_eq!(before, None, "a number was used twice");
        assert!(!self.disk.contains_key(&place));
        self.disk.insert(place, (waiting.clone(), station_number));
        self.greatest_on_disk = place;
        self.kept.push(name);
        let actions = self.list.step(Event::Stored { place, waiting }, 0);
        self.carry_out(actions);
    }

    fn crash(&mut self) {
        self.wire.clear();
        self.at_server.clear();
        self.list = UnsentList::default();
        let waiting = self.disk.iter().map(|(place, (entry, _))| (*place, entry.clone())).collect();
        self.list.reconcile(self.epoch.0.clone(), self.epoch.1, self.greatest_on_disk, waiting);
    }

    fn begin(&mut self) {
        if !self.list.is_sending() {
            self.sent_in_this_try.clear();
            let actions = self.list.step(Event::Began { jitter: 1 }, 0);
            self.carry_out(actions);
        }
    }

    fn deliver(&mut self) {
        if !self.wire.is_empty() {
            let place = self.wire.remove(0);
            self.at_server.push(self.disk[&place].0.entry_id.clone());
        }
    }

    fn answer(&mut self, which: usize, verdict: Verdict) {
        if self.at_server.is_empty() {
            return;
        }
        let entry_id = self.at_server.remove(which % self.at_server.len());
        let known = self.journal.contains(&entry_id);
        let event = if known || matches!(verdict, Verdict::Take | Verdict::TakeAsReused) {
            if !known {
                self.journal.push(entry_id.clone());
            }
            Event::Acknowledged { entry_id, station_number_reused: verdict == Verdict::TakeAsReused }
        } else {
            let code =
                if verdict == Verdict::Never { tonic::Code::NotFound } else { tonic::Code::Unavailable };
            Event::Refused(Refusal { entry_id, code: code.into(), ..Refusal::default() })
        };
        let actions = self.list.step(event, 0);
        self.carry_out(actions);
    }

    fn nothing_is_lost_or_doubled(&self) {
        let waiting: BTreeSet<_> = self.disk.values().map(|(entry, _)| entry.entry_id.clone()).collect();
        for name in &self.kept {
            let homes = [waiting.contains(name), self.sent.contains(name), self.aside.contains(name)];
            assert_eq!(homes.iter().filter(|home| **home).count(), 1, "{name} in {homes:?}");
        }
        assert_eq!(self.list.len(), self.disk.len());
        assert_eq!(self.list.bytes(), self.disk.len() as u64 * 100);
        let mut once = self.journal.clone();
        once.sort();
        once.dedup();
        assert_eq!(once.len(), self.journal.len(), "twice in the journal");
    }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 400, ..ProptestConfig::default() })]

    #[test]
    fn no_order_of_keeping_sending_breaking_and_crashing_loses_or_doubles_an_entry(steps in happenings()) {
        let mut world = World { epoch: ("epoch-0".into(), 0), ..World::default() };
        world.crash();
        for step in steps {
            match step {
                Happening::Keep { arrival, dies_before_it_is_stored } => world.keep(arrival, dies_before_it_is_stored),
                Happening::Begin => world.begin(),
                Happening::Deliver => world.deliver(),
                Happening::Answer(which, verdict) => world.answer(which, verdict),
                Happening::Break => {
                    let actions = world.list.step(Event::Broke, 0);
                    world.carry_out(actions);
                }
                Happening::Crash => world.crash(),
            }
            world.nothing_is_lost_or_doubled();
        }
        // At last the network holds: everything ends at the server or aside.
        let actions = world.list.step(Event::Broke, 0);
        world.carry_out(actions);
        world.begin();
        while world.list.is_sending() {
            world.deliver();
            world.answer(0, Verdict::Take);
        }
        prop_assert!(world.list.is_empty() && world.disk.is_empty());
        world.nothing_is_lost_or_doubled();
    }
}
