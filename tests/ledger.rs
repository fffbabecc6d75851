//! The ledger of what stations sent and were told, outside the system under test, and the judgement of a journal by it.
//!
//! A: what was acknowledged is stored at its place. B: each entry once. C: nothing stored that was not sent, and every
//! byte as sent. D: tree and job digests (computed by `support/check_tree.py`, see [`recomputed`]). E: every entry ends
//! as acknowledged or refused. F: the order of each station is kept. And an answer never changes.

use prost::Message as _;
use serde_json::Value;
use standpipe_proto::v1::{self, Acknowledgement, RecordedEntry};
use standpipe_server::OWN_STATION;
use standpipe_tests::sealed::Sealed;
use std::collections::{BTreeMap, BTreeSet};
use std::path::Path;
use std::process::Command;

/// What one station sent and was told.
#[derive(Debug, Clone, Default)]
pub struct Account {
    sent: BTreeMap<String, Sealed>,
    acknowledged: BTreeMap<String, Acknowledgement>,
    refused: BTreeSet<String>,
    /// Answers that contradict earlier ones.
    pub contradictions: Vec<String>,
}

impl Account {
    pub fn sent(&mut self, entry: &Sealed) {
        self.sent.insert(entry.entry_id.clone(), entry.clone());
    }

    pub fn acknowledged(&mut self, answer: Acknowledgement) {
        if !self.sent.contains_key(&answer.entry_id) {
            self.contradictions.push(format!("{answer:?} answers an entry that was never sent"));
        }
        if let Some(first) = self.acknowledged.get(&answer.entry_id) {
            let again = Acknowledgement { repeated: true, ..first.clone() };
            if answer != again {
                self.contradictions.push(format!("{answer:?} after the first answer {first:?}"));
            }
            return;
        }
        self.acknowledged.insert(answer.entry_id.clone(), answer);
    }

    pub fn refused(&mut self, entry_id: &str) {
        self.refused.insert(entry_id.to_owned());
    }

    pub fn acknowledgements(&self) -> usize {
        self.acknowledged.len()
    }

    /// The nth of the entries that were acknowledged, in any fixed order.
    pub fn one_acknowledged(&self, nth: usize) -> Option<&Sealed> {
        let count = self.acknowledged.len().max(1);
        self.acknowledged.keys().nth(nth % count).map(|entry_id| &self.sent[entry_id])
    }
}

fn header(entry: &RecordedEntry) -> v1::Header {
    v1::Entry::decode(&*entry.entry).unwrap().header.unwrap()
}

/// Everything that the journal of a site and the accounts of its stations contradict each other in; D is not in it.
pub fn complaints(accounts: &[&Account], stored: &[RecordedEntry]) -> Vec<String> {
    let mut found: Vec<String> =
        accounts.iter().flat_map(|account| account.contradictions.iter().cloned()).collect();
    let mut by_id: BTreeMap<String, &RecordedEntry> = BTreeMap::new();
    let mut last: BTreeMap<(String, String), i64> = BTreeMap::new();
    let sent: BTreeMap<&String, &Sealed> = accounts.iter().flat_map(|account| &account.sent).collect();
    for (entry, place) in stored.iter().zip(1..) {
        let header = header(entry);
        if entry.seq != place {
            found.push(format!("place {place} holds entry {}", entry.seq));
        }
        let before = last.insert((header.station_id.clone(), header.station_epoch), header.station_number);
        if before.is_some_and(|before| before >= header.station_number) {
            found.push(format!("F: {} {} after {before:?}", header.station_id, header.station_number));
        }
        if header.station_id != OWN_STATION
            && sent.get(&header.entry_id).is_none_or(|sent| sent.bytes != entry.entry)
        {
            found.push(format!("C: place {place} holds bytes that nobody sent as {}", header.entry_id));
        }
        if by_id.insert(header.entry_id.clone(), entry).is_some() {
            found.push(format!("B: {} is stored twice", header.entry_id));
        }
    }
    for account in accounts {
        for (entry_id, answer) in &account.acknowledged {
            if by_id.get(entry_id).is_none_or(|entry| entry.seq != answer.seq) {
                found.push(format!("A: {answer:?} is not stored there"));
            }
        }
        let answered = |entry_id: &&String| {
            !account.acknowledged.contains_key(*entry_id) && !account.refused.contains(*entry_id)
        };
        found.extend(
            account.sent.keys().filter(answered).map(|entry_id| format!("E: {entry_id} has no answer")),
        );
        let refused = account.refused.iter().filter(|entry_id| by_id.contains_key(*entry_id));
        found.extend(refused.map(|entry_id| format!("{entry_id} was refused and is stored")));
    }
    found
}

/// What an independent checker computes from the database file alone, or nothing if there is no Python.
pub fn recomputed(dir: &Path) -> Option<Value> {
    let python = standpipe_tests::programs::tool("python3")?;
    let script = Path::new(env!("CARGO_MANIFEST_DIR")).join("support/check_tree.py");
    let ran =
        Command::new(python).arg(script).arg(dir.join(standpipe_server::JOURNAL_FILE)).output().unwrap();
    assert!(ran.status.success(), "{}", String::from_utf8_lossy(&ran.stderr));
    Some(serde_json::from_slice(&ran.stdout).unwrap())
}

#[cfg(test)]
mod tests {
    use super::*;
    use standpipe_tests::facts;
    use standpipe_tests::sealed::Sealer;

    /// Three entries of a station, all acknowledged, as a journal would hold them.
    fn sound() -> (Account, Vec<RecordedEntry>) {
        let mut sealer = Sealer::new("bay-1", 1);
        let job = sealer.job(1);
        let mut account = Account::default();
        let mut stored = Vec::new();
        for seq in 1..=3 {
            let entry = sealer.seal(&job, facts::temperature(43.0));
            account.sent(&entry);
            let answer = Acknowledgement { entry_id: entry.entry_id, seq, ..Acknowledgement::default() };
            account.acknowledged(answer);
            stored.push(RecordedEntry { seq, entry: entry.bytes, ..RecordedEntry::default() });
        }
        (account, stored)
    }

    fn letters(account: &Account, stored: &[RecordedEntry]) -> String {
        let found = complaints(&[account], stored);
        let letters: BTreeSet<char> = found.iter().filter_map(|complaint| complaint.chars().next()).collect();
        letters.into_iter().filter(char::is_ascii_uppercase).collect()
    }

    #[test]
    fn a_sound_journal_gives_no_complaint() {
        let (account, stored) = sound();
        assert_eq!(complaints(&[&account], &stored), Vec::<String>::new());
    }

    #[test]
    fn every_way_to_go_wrong_gives_its_own_complaint() {
        let (account, stored) = sound();
        let mut lost = stored.clone();
        lost.pop();
        assert_eq!(letters(&account, &lost), "A");
        let mut twice = stored.clone();
        twice.push(RecordedEntry { seq: 4, ..stored[2].clone() });
        assert!(letters(&account, &twice).contains('B'));
        let mut foreign = stored.clone();
        foreign[1].entry =
            Sealer::new("bay-1", 1).seal(&Sealer::new("bay-1", 1).job(9), facts::closing()).bytes;
        assert!(letters(&account, &foreign).contains('C'));
        let mut swapped = stored.clone();
        swapped.swap(0, 1);
        swapped[0].seq = 1;
        swapped[1].seq = 2;
        assert_eq!(letters(&account, &swapped), "AF");
        let mut unanswered = account.clone();
        unanswered.sent(&Sealer::new("bay-1", 2).seal(&Sealer::new("bay-1", 2).job(1), facts::closing()));
        assert_eq!(letters(&unanswered, &stored), "E");
    }

    #[test]
    fn an_answer_that_changes_is_a_complaint() {
        let (mut account, stored) = sound();
        let first = account.acknowledged.values().next().unwrap().clone();
        account.acknowledged(Acknowledgement { repeated: true, ..first.clone() });
        assert!(complaints(&[&account], &stored).is_empty());
        for other in [first.clone(), Acknowledgement { seq: 9, repeated: true, ..first }] {
            let mut account = account.clone();
            account.acknowledged(other);
            assert_eq!(complaints(&[&account], &stored).len(), 1);
        }
    }
}
