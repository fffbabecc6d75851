//! Entries as a station seals them, made from numbers, so that every run makes the same ones.

use prost::Message as _;
use standpipe_proto::Bytes;
use standpipe_proto::v1::{self, Entry, Fact, Header, fact::Kind, header::Subject};

/// 18 March 2026, 08:00 UTC, in microseconds since 1970.
pub const START_US: i64 = 1_773_820_800_000_000;

/// A station that seals entries, one second apart.
#[derive(Debug, Clone)]
pub struct Sealer {
    pub station_id: String,
    pub epoch: String,
    pub number: i64,
    pub person: String,
}

/// A sealed entry with its identity.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Sealed {
    pub entry_id: String,
    pub bytes: Bytes,
}

/// UUID version 7 made of two numbers: unique for each pair.
pub fn uuid_v7(major: u64, minor: u64) -> String {
    let milliseconds = u64::try_from(START_US / 1000).unwrap() + minor;
    let mut random = [0u8; 10];
    random[..8].copy_from_slice(&major.to_be_bytes());
    random[8..].copy_from_slice(&u16::try_from(minor % 65_536).unwrap().to_be_bytes());
    uuid::Builder::from_unix_timestamp_millis(milliseconds, &random).into_uuid().to_string()
}

impl Sealer {
    pub fn new(station_id: &str, seed: u64) -> Self {
        Self {
            station_id: station_id.to_owned(),
            epoch: format!("{seed:032x}"),
            number: 0,
            person: "A".to_owned(),
        }
    }

    fn seed(&self) -> u64 {
        u64::from_str_radix(&self.epoch[16..], 16).unwrap()
    }

    /// A job identity of this station.
    pub fn job(&self, number: u64) -> String {
        uuid_v7(self.seed() ^ 0x00ff_0000_0000, number)
    }

    pub fn seal(&mut self, job: &str, kind: Kind) -> Sealed {
        self.seal_typed(job, kind, &[])
    }

    pub fn seal_typed(&mut self, job: &str, kind: Kind, typed: &[(&str, &str)]) -> Sealed {
        let entry = self.entry(Subject::JobId(job.to_owned()), kind, typed);
        standpipe_proto::check::entry(&entry).unwrap();
        Sealed {
            entry_id: entry.header.as_ref().unwrap().entry_id.clone(),
            bytes: entry.encode_to_vec().into(),
        }
    }

    /// The entry before it is sealed, not checked, so that a test can spoil it.
    pub fn entry(&mut self, subject: Subject, kind: Kind, typed: &[(&str, &str)]) -> Entry {
        self.number += 1;
        let time = START_US / 1_000_000 + self.number;
        let as_typed =
            |(field, text): &(&str, &str)| v1::AsTyped { field: (*field).into(), text: (*text).into() };
        Entry {
            header: Some(Header {
                entry_id: uuid_v7(self.seed(), u64::try_from(self.number).unwrap()),
                subject: Some(subject),
                station_id: self.station_id.clone(),
                station_epoch: self.epoch.clone(),
                station_number: self.number,
                person_code: self.person.clone(),
                station_time: Some(prost_types::Timestamp { seconds: time, nanos: 0 }),
                monotonic_microseconds: self.number * 1_000_000,
                boot_id: "0".repeat(32),
                done_time: None,
                as_typed: typed.iter().map(as_typed).collect(),
            }),
            fact: Some(Fact { kind: Some(kind) }),
        }
    }
}
