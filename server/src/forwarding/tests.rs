//! Whole ways of a journal to the owner's server, with everything that a link can do to them.
//!
//! The journal grows, calls and their answers are lost, a call is carried out twice, and the shop server's disk goes
//! back in time. The owner's server does here what its handler does: it looks at roots and proofs and at nothing else.

use super::sender::{Action, Event, Sender};
use super::standing::{Point, Proof, Standing, standing};
use proptest::prelude::*;
use standpipe_store::tree::{self, Hash};
use std::time::Duration;

/// Entries in a batch of these worlds.
const BATCH: usize = 7;
const EPOCH: [u8; 16] = [1; 16];

/// What becomes of the next call, or what happens meanwhile.
#[derive(Debug, Clone)]
enum Fate {
    Answered,
    CallLost,
    AnswerLost,
    Doubled,
    Grown(u8),
    /// The disk of the site is an older copy, and the site goes on with it.
    Rewound {
        cut: u8,
        own: u8,
    },
}

fn fate() -> impl Strategy<Value = Fate> {
    prop_oneof![
        8 => Just(Fate::Answered),
        1 => Just(Fate::CallLost),
        1 => Just(Fate::AnswerLost),
        1 => Just(Fate::Doubled),
        3 => (1_u8..20).prop_map(Fate::Grown),
    ]
}

struct World {
    site: Vec<Hash>,
    /// Leaves that were ever made, so that no two are alike.
    made: u64,
    owner: Vec<Hash>,
    forks: u32,
}

impl World {
    fn new() -> Self {
        Self { site: Vec::new(), made: 0, owner: Vec::new(), forks: 0 }
    }

    fn grow(&mut self, count: u8) {
        for _ in 0..count {
            self.site.push(tree::leaf_hash(&self.made.to_be_bytes()));
            self.made += 1;
        }
    }

    fn point(leaves: &[Hash]) -> Point {
        Point { epoch: EPOCH, size: leaves.len() as u64, root: tree::root_of(leaves) }
    }

    fn compare(&self, proof_from: u64) -> Event {
        let (here, claim) = (Self::point(&self.owner), Self::point(&self.site));
        let hashes = tree::consistency_proof(&self.site, proof_from).unwrap_or_default();
        let at = self.owner.get(..self.site.len()).map(tree::root_of);
        let standing = standing(&here, &claim, at, Proof { from: proof_from, hashes: &hashes });
        Event::Compared { there: here, standing }
    }

    fn take(&mut self, first_seq: u64) -> Event {
        let first = usize::try_from(first_seq).unwrap() - 1;
        let Some(before) = self.site.get(..first) else { return Event::Failed { wait: None } };
        if self.owner.get(..first).map(tree::root_of) != Some(tree::root_of(before)) {
            self.forks += 1;
            return Event::Forked;
        }
        for (place, leaf) in self.site.iter().enumerate().skip(first).take(BATCH) {
            match self.owner.get(place) {
                None => self.owner.push(*leaf),
                Some(there) if there == leaf => {}
                Some(_) => {
                    self.forks += 1;
                    return Event::Forked;
                }
            }
        }
        Event::Kept(self.owner.len() as u64)
    }

    fn call(&mut self, action: Action) -> Option<Event> {
        match action {
            Action::Compare { proof_from } => Some(self.compare(proof_from)),
            Action::Send { first_seq } => Some(self.take(first_seq)),
            Action::Pause(_) => Some(Event::PauseOver),
            Action::WaitForGrowth | Action::Stop(_) | Action::Nothing => None,
        }
    }

    fn step(&mut self, sender: &mut Sender, pending: &mut Action, fate: &Fate) {
        let next = match fate {
            Fate::Grown(count) => {
                self.grow(*count);
                sender.on(Event::Grown(self.site.len() as u64))
            }
            Fate::Rewound { cut, own } => {
                self.site.truncate(self.site.len().saturating_sub(usize::from(*cut)));
                self.grow(*own);
                let begun = Sender::begin(self.site.len() as u64);
                *sender = begun.0;
                begun.1
            }
            Fate::CallLost => match pending {
                Action::Compare { .. } | Action::Send { .. } => sender.on(Event::Failed { wait: None }),
                _ => Action::Nothing,
            },
            Fate::AnswerLost => match self.call(*pending) {
                Some(Event::PauseOver) => sender.on(Event::PauseOver),
                Some(_) => sender.on(Event::Failed { wait: None }),
                None => Action::Nothing,
            },
            Fate::Answered | Fate::Doubled => {
                if matches!((fate, &*pending), (Fate::Doubled, Action::Send { .. })) {
                    let _ = self.call(*pending);
                }
                match self.call(*pending) {
                    Some(event) => sender.on(event),
                    None => Action::Nothing,
                }
            }
        };
        if next != Action::Nothing {
            *pending = next;
        }
    }

    /// Nothing goes wrong any more.
    fn settle(&mut self, sender: &mut Sender, pending: &mut Action) {
        for _ in 0..10_000 {
            if matches!(pending, Action::WaitForGrowth | Action::Stop(_)) {
                return;
            }
            self.step(sender, pending, &Fate::Answered);
        }
        panic!("it never came to rest: {pending:?}");
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(500))]

    #[test]
    fn forwarding_brings_everything_once_and_in_order_whatever_the_link_does(
        fates in proptest::collection::vec(fate(), 0..120),
    ) {
        let mut world = World::new();
        let (mut sender, mut pending) = Sender::begin(0);
        for fate in &fates {
            world.step(&mut sender, &mut pending, fate);
            // Never ahead of what the site has, and never other than it.
            prop_assert_eq!(world.site.get(..world.owner.len()), Some(world.owner.as_slice()));
        }
        world.settle(&mut sender, &mut pending);
        prop_assert_eq!(&world.owner, &world.site);
        prop_assert_eq!((sender.waiting(), sender.stopped(), world.forks), (0, None, 0));
    }

    #[test]
    fn forwarding_stops_at_a_disk_that_went_back_and_overwrites_nothing(
        before in proptest::collection::vec(fate(), 1..60),
        cut in 1_u8..60,
        own in 0_u8..60,
        after in proptest::collection::vec(fate(), 0..60),
    ) {
        let mut world = World::new();
        world.grow(5);
        let (mut sender, mut pending) = Sender::begin(5);
        for fate in &before {
            world.step(&mut sender, &mut pending, fate);
        }
        world.settle(&mut sender, &mut pending);
        let known = world.owner.clone();
        world.step(&mut sender, &mut pending, &Fate::Rewound { cut, own });
        for fate in &after {
            world.step(&mut sender, &mut pending, fate);
        }
        // Whatever grew since is the site's own way.
        let grown = after.iter().any(|fate| matches!(fate, Fate::Grown(_))) || own > 0;
        world.settle(&mut sender, &mut pending);
        let again = sender.on(Event::LookAgain);
        prop_assert_eq!(again, Action::Compare { proof_from: 0 });
        pending = again;
        world.settle(&mut sender, &mut pending);
        prop_assert_eq!(&world.owner, &known, "something was taken of another past");
        let stopped = sender.stopped();
        let expected = if grown { Standing::Fork } else { Standing::Behind };
        prop_assert_eq!(stopped, Some(expected));
    }
}

#[test]
fn forwarding_tries_again_with_a_growing_pause_and_as_late_as_it_was_told() {
    let (mut sender, _) = Sender::begin(3);
    let mut pauses = Vec::new();
    for _ in 0..9 {
        match sender.on(Event::Failed { wait: None }) {
            Action::Pause(pause) => pauses.push(pause.as_secs()),
            other => panic!("{other:?}"),
        }
        assert_eq!(sender.on(Event::PauseOver), Action::Compare { proof_from: 0 });
    }
    assert_eq!(pauses, [1, 2, 4, 8, 16, 32, 60, 60, 60]);
    let told = Some(Duration::from_secs(600));
    assert_eq!(sender.on(Event::Failed { wait: told }), Action::Pause(Duration::from_secs(600)));
    assert_eq!(sender.on(Event::PauseOver), Action::Compare { proof_from: 0 });
    let too_long = Some(Duration::MAX);
    assert_eq!(sender.on(Event::Failed { wait: too_long }), Action::Pause(Duration::from_secs(3600)));
    assert_eq!(sender.waiting(), 3);
}

fn there(size: u64) -> Point {
    Point { epoch: EPOCH, size, root: tree::root_of(&[]) }
}

#[test]
fn forwarding_pauses_ever_longer_where_comparing_works_and_sending_does_not() {
    let (mut sender, _) = Sender::begin(3);
    let mut pauses = Vec::new();
    for _ in 0..3 {
        let compared = Event::Compared { there: there(0), standing: Standing::Ahead };
        assert_eq!(sender.on(compared), Action::Send { first_seq: 1 });
        pauses.push(sender.on(Event::Failed { wait: None }));
        assert_eq!(sender.on(Event::PauseOver), Action::Compare { proof_from: 0 });
    }
    assert_eq!(pauses, [1, 2, 4].map(|seconds| Action::Pause(Duration::from_secs(seconds))));
}

#[test]
fn forwarding_names_a_fork_as_soon_as_a_site_that_is_behind_goes_on_by_itself() {
    let (mut sender, _) = Sender::begin(3);
    let behind = Event::Compared { there: there(5), standing: Standing::Behind };
    assert_eq!(sender.on(behind), Action::Stop(Standing::Behind));
    assert_eq!(sender.on(Event::Grown(3)), Action::Nothing);
    assert_eq!(sender.on(Event::Grown(4)), Action::Compare { proof_from: 0 });
    let fork = Event::Compared { there: there(5), standing: Standing::Fork };
    assert_eq!(sender.on(fork), Action::Stop(Standing::Fork));
    assert_eq!(sender.on(Event::Grown(9)), Action::Nothing);
    assert_eq!(sender.on(Event::LookAgain), Action::Compare { proof_from: 0 });
}

/// Whatever a server says that was never asked, or that cannot be.
fn nonsense() -> impl Strategy<Value = Event> {
    let standing = prop_oneof![
        Just(Standing::Same),
        Just(Standing::Ahead),
        Just(Standing::ProofWanted),
        Just(Standing::Behind),
        Just(Standing::Fork),
        Just(Standing::Another),
    ];
    prop_oneof![
        (0_u64..40, standing).prop_map(|(size, standing)| Event::Compared { there: there(size), standing }),
        (0_u64..40).prop_map(Event::Kept),
        Just(Event::Forked),
        Just(Event::Another),
        (0_u64..20).prop_map(Event::Grown),
        proptest::option::of(0_u64..9_999)
            .prop_map(|wait| Event::Failed { wait: wait.map(Duration::from_secs) }),
        Just(Event::PauseOver),
        Just(Event::LookAgain),
    ]
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(500))]

    #[test]
    fn forwarding_is_not_led_into_sending_what_is_not_there_or_asking_without_end(
        events in proptest::collection::vec(nonsense(), 1..80),
    ) {
        let (mut sender, _) = Sender::begin(5);
        let mut size = 5;
        // Asked one after another without a pause, growth or anybody's wish between.
        let mut in_a_row: Vec<Action> = Vec::new();
        for event in events {
            if let Event::Grown(grown) = event { size = size.max(grown); }
            if matches!(event, Event::Grown(_) | Event::PauseOver | Event::LookAgain) { in_a_row.clear(); }
            let next = sender.on(event);
            prop_assert!(sender.waiting() <= size);
            if next == Action::Nothing { continue }
            match next {
                Action::Send { first_seq } => prop_assert!((1..=size).contains(&first_seq)),
                Action::Compare { proof_from } => prop_assert!(proof_from < size.max(1)),
                Action::Pause(_) | Action::WaitForGrowth | Action::Stop(_) | Action::Nothing => in_a_row.clear(),
            }
            if matches!(next, Action::Send { .. } | Action::Compare { .. }) {
                prop_assert!(!in_a_row.contains(&next), "{:?} again after {:?}", next, in_a_row);
                in_a_row.push(next);
            }
        }
    }
}
