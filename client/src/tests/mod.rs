//! What several tests of the station need: a clock and randomness of their own, a joined folder, facts.

pub(crate) mod commands;
pub(crate) mod disks;
pub(crate) mod fake;
mod faults;
mod network;
mod next;
mod signing;
pub(crate) mod steps;

use crate::clock::{Clock, Entropy};
use crate::disk::Disk;
use crate::error::ClientError;
use crate::folder::state::Joined;
use crate::{Deadlines, Station, StationOptions};
use standpipe_proto::v1::{Arrival, AsTyped, Drain, DrainedFrom, Fact, drain, fact::Kind};
use std::path::Path;
use std::sync::Arc;
use std::sync::atomic::{AtomicI64, AtomicU64, Ordering};
use std::time::Duration;

/// 2026-02-03 11:00:00 UTC.
pub(crate) const START: i64 = 1_770_116_400_000_000;

/// A clock that stands until it is moved; its monotonic side advances by a millisecond a look.
pub(crate) struct TestClock {
    pub(crate) now: AtomicI64,
    monotonic: AtomicI64,
}

impl TestClock {
    pub(crate) fn new() -> Arc<Self> {
        Arc::new(Self { now: AtomicI64::new(START), monotonic: AtomicI64::new(0) })
    }
}

impl Clock for TestClock {
    fn now_microseconds(&self) -> i64 {
        self.now.load(Ordering::SeqCst)
    }

    fn monotonic_microseconds(&self) -> i64 {
        self.monotonic.fetch_add(1000, Ordering::SeqCst)
    }

    fn boot_id(&self) -> String {
        "0".repeat(32)
    }
}

/// Bytes that are the same in every run, and different at every call (splitmix64).
pub(crate) struct SeededEntropy(AtomicU64);

impl SeededEntropy {
    pub(crate) fn new(seed: u64) -> Arc<Self> {
        Arc::new(Self(AtomicU64::new(seed)))
    }
}

impl Entropy for SeededEntropy {
    fn fill(&self, bytes: &mut [u8]) -> Result<(), ClientError> {
        for chunk in bytes.chunks_mut(8) {
            let next = mixed(self.0.fetch_add(0x9E37_79B9_7F4A_7C15, Ordering::SeqCst)).to_be_bytes();
            chunk.copy_from_slice(&next[..chunk.len()]);
        }
        Ok(())
    }
}

pub(crate) fn mixed(state: u64) -> u64 {
    let mut z = state.wrapping_add(0x9E37_79B9_7F4A_7C15);
    z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
    z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
    z ^ (z >> 31)
}

pub(crate) fn options(disk: Arc<dyn Disk>, seed: u64) -> StationOptions {
    StationOptions {
        clock: TestClock::new(),
        entropy: SeededEntropy::new(seed),
        disk,
        deadlines: Deadlines::default(),
        name: "test".into(),
    }
}

/// A folder whose station has joined, and nothing else in it.
pub(crate) fn write_joined(disk: &dyn Disk, home: &Path, address: &str) {
    let joined = Joined {
        address: address.to_owned(),
        token: fake::TOKEN.to_owned(),
        station_id: "bay-1".into(),
        site_id: "harbour-lane".into(),
        site_name: "Harbour Lane".into(),
        authority: None,
        clock_ahead_seconds: None,
    };
    disk.create_folder(home).unwrap();
    disk.write(&home.join("station.toml"), toml::to_string(&joined).unwrap().as_bytes()).unwrap();
    disk.sync_folder(home).unwrap();
}

/// An address of this machine where nobody listens: no test that asks for a free port is ever given this one.
pub(crate) fn nobody() -> String {
    "http://127.0.0.1:1".to_owned()
}

pub(crate) fn arrival() -> Arrival {
    Arrival { plate: "TW 4711".into(), ..Arrival::default() }
}

pub(crate) fn drained(litres: f64) -> (Fact, Vec<AsTyped>) {
    let drain = Drain {
        place: DrainedFrom::Pan.into(),
        amount: Some(drain::Amount::VolumeLitres(litres)),
        ..Drain::default()
    };
    let typed = AsTyped { field: "volume_litres".into(), text: format!("{litres} L") };
    (Fact { kind: Some(Kind::Drain(drain)) }, vec![typed])
}

/// A station with a person and an open job.
pub(crate) fn at_work(home: &Path, options: StationOptions) -> Station {
    let mut station = Station::open(home, options).unwrap();
    station.set_person("A").unwrap();
    station.open_job(arrival(), Vec::new(), None).unwrap();
    station
}

/// Runs a future to its end on a runtime of its own.
pub(crate) fn wait_for<T>(future: impl Future<Output = T>) -> T {
    tokio::runtime::Builder::new_current_thread().enable_all().build().unwrap().block_on(future)
}

/// Keeps one more drain.
pub(crate) fn add_one(station: &mut Station) -> crate::Kept {
    let (fact, typed) = drained(1.5);
    station.add(fact, typed, None).unwrap()
}
