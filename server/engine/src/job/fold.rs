//! From the journal's entries to the facts that count.
//!
//! Decodes, keeps the journal's order, applies corrections: the latest one that fits wins and keeps
//! the original's place. What does not fit is kept and named. Never here: what facts mean.

use super::order::Moment;
use super::signed::{Signable, Signatures, ToSign};
use super::{Context, Recorded};
use crate::formula::level_forecast::CLOCK_AHEAD_US;
use crate::kind::decision::Decision;
use crate::kind::{Fact, Kind, Typed};
use crate::text::{Sentence, sentence};
use crate::view::{Change, Finding, StoryLine, Weight};
use prost::Message as _;
use standpipe_proto::v1::{self, correction::Outcome, fact::Kind as MessageKind};
use std::cmp::Ordering;
use std::collections::{HashMap, HashSet};

/// How long a station keeps an entry unsent at most.
const KEPT_UNSENT_US: i64 = 30 * 86_400 * 1_000_000;

/// A fact that counts, with where it comes from.
#[derive(Debug, Clone, PartialEq)]
pub struct Stated {
    /// Place in the journal.
    pub seq: u64,
    /// Place of the entry by which it says what it says now: its own, or its latest correction's.
    pub said_seq: u64,
    /// Person code.
    pub person: String,
    /// When it was done.
    pub moment: Moment,
    /// When it was done as far as known, else when the station made it; microseconds since 1970.
    pub time_us: i64,
    /// Whether its person's PIN was given for it.
    pub signed: bool,
    /// The fact.
    pub fact: Fact,
}

/// All that counts, all that was said, and what did not fit.
#[derive(Debug, Default)]
pub struct Folded {
    /// Facts that count, in the order of the journal.
    pub facts: Vec<Stated>,
    /// Every entry in words.
    pub story: Vec<StoryLine>,
    /// What was put right.
    pub changes: Vec<Change>,
    /// What did not fit.
    pub findings: Vec<Finding>,
    /// What is signed or has to be, in the order of the journal.
    pub to_sign: Vec<ToSign>,
}

impl Stated {
    /// Whether this was done after the other: as far as it is certain, else in the order of the journal.
    #[must_use]
    pub fn is_after(&self, other: &Self) -> bool {
        self.moment.certainly(&other.moment).map_or(self.seq > other.seq, |order| order == Ordering::Greater)
    }
}

impl Folded {
    /// The facts of one kind that count, in the order of the journal.
    pub fn each<K: Kind + 'static>(&self) -> impl DoubleEndedIterator<Item = (&Stated, &K)> {
        self.facts.iter().filter_map(|stated| K::of(&stated.fact).map(|kind| (stated, kind)))
    }

    /// The last fact of one kind that counts.
    #[must_use]
    pub fn last<K: Kind + 'static>(&self) -> Option<(&Stated, &K)> {
        self.each::<K>().next_back()
    }
}

/// One decoded entry of the job.
struct Line {
    seq: u64,
    received_us: i64,
    header: v1::Header,
    kind: MessageKind,
}

/// What counts in the place of an entry.
enum Counts {
    AsWritten,
    Instead(Replacement),
    Withdrawn(Sentence),
}

/// What a correction put in the place of a fact.
struct Replacement {
    /// Place of the correction.
    seq: u64,
    fact: Box<Fact>,
    why: Sentence,
    signed: bool,
}

/// Folds the entries of one job.
#[must_use]
pub fn fold(context: &Context<'_>, entries: &[Recorded<'_>]) -> Folded {
    let mut folded = Folded {
        facts: Vec::with_capacity(entries.len()),
        story: Vec::with_capacity(entries.len()),
        ..Folded::default()
    };
    let mut lines: Vec<Line> = Vec::with_capacity(entries.len());
    lines.extend(entries.iter().filter_map(|entry| decode(entry, &mut folded.findings)));
    let mut places = HashMap::with_capacity(lines.len());
    for (place, line) in lines.iter().enumerate() {
        places.entry(line.header.entry_id.as_str()).or_insert(place);
    }
    let starts: HashSet<&str> = lines
        .iter()
        .filter(|line| Moment::arrived_at_once(time_us(&line.header), line.received_us))
        .map(|line| line.header.boot_id.as_str())
        .collect();
    wrong_clocks(&lines, &mut folded.findings);
    let mut counts: Vec<Counts> = lines.iter().map(|_| Counts::AsWritten).collect();
    let signatures = Signatures::of(context, lines.iter().map(|line| (line.seq, &line.header, &line.kind)));
    for line in &lines {
        if let MessageKind::Correction(correction) = &line.kind {
            let known = Known { lines: &lines, places: &places, signatures: &signatures };
            correct(context, line, correction, &known, &mut counts, &mut folded);
        }
    }
    let clocks_right: Vec<bool> =
        lines.iter().map(|line| starts.contains(line.header.boot_id.as_str())).collect();
    for ((line, counts), clock_right) in lines.into_iter().zip(counts).zip(clocks_right) {
        place(context, line, counts, clock_right, &signatures, &mut folded);
    }
    folded.to_sign.sort_by_key(|it| it.seq);
    folded
}

fn decode(entry: &Recorded<'_>, findings: &mut Vec<Finding>) -> Option<Line> {
    let decoded = v1::Entry::decode(entry.bytes).ok();
    let parts = decoded.and_then(|entry| entry.header.zip(entry.fact.and_then(|fact| fact.kind)));
    let Some((header, kind)) = parts else {
        findings.push(tells(sentence::entry_unreadable(entry.seq.to_string()), [entry.seq]));
        return None;
    };
    Some(Line { seq: entry.seq, received_us: entry.received_us, header, kind })
}

/// What a correction is held against.
struct Known<'a> {
    lines: &'a [Line],
    /// Place of each entry among the lines, by its identity.
    places: &'a HashMap<&'a str, usize>,
    signatures: &'a Signatures,
}

/// Applies one correction to the place of the entry that it names.
fn correct(
    context: &Context<'_>,
    line: &Line,
    correction: &v1::Correction,
    known: &Known<'_>,
    counts: &mut [Counts],
    folded: &mut Folded,
) {
    let named = known.places.get(correction.corrected_entry_id.as_str());
    let target = named.and_then(|place| Some((known.lines.get(*place)?, counts.get_mut(*place)?)));
    let Some((target, slot)) = target else {
        let text = sentence::correction_of_nothing(line.seq.to_string());
        folded.findings.push(tells(text, [line.seq]));
        return;
    };
    let original = Fact::read(&target.kind, Typed(&target.header.as_typed));
    let Some(original) = original else {
        let text = sentence::correction_of_correction(line.seq.to_string(), target.seq.to_string());
        folded.findings.push(tells(text, [line.seq, target.seq]));
        return;
    };
    let why = sentence::change_why(
        context.person(&line.header.person_code),
        &correction.reason,
        context.day_and_clock(time_us(&line.header)),
    );
    let now = match &correction.outcome {
        Some(Outcome::Replacement(fact)) => {
            let right = fact.kind.as_ref().and_then(|kind| Fact::read(kind, Typed(&line.header.as_typed)));
            match right {
                Some(right) if right.name() == original.name() => Some(right),
                _ => {
                    let text =
                        sentence::correction_of_other_kind(line.seq.to_string(), target.seq.to_string());
                    folded.findings.push(tells(text, [line.seq, target.seq]));
                    return;
                }
            }
        }
        _ => None,
    };
    // Taking back what a PIN was given for needs one too; a decision that still waits for its PIN can be dropped.
    let counts_by_pin = known.signatures.has(target.seq, &target.header)
        || matches!(slot, Counts::Instead(before) if before.signed);
    let decides = (now.is_some() || counts_by_pin) && matches!(original, Fact::Decision(_));
    let signed = known.signatures.has(line.seq, &line.header);
    if known.signatures.need_correction(line.seq, decides) {
        folded.to_sign.push(to_sign(line, signed, Signable::Correction { of: target.seq }));
        if !signed {
            return;
        }
    }
    if !matches!(slot, Counts::AsWritten) {
        let text = sentence::corrected_twice(target.seq.to_string());
        folded.findings.push(tells(text, [target.seq, line.seq]));
    }
    let before = match slot {
        Counts::Instead(before) => &before.fact,
        Counts::AsWritten | Counts::Withdrawn(_) => &original,
    };
    let (was, now_said) = match &now {
        Some(now) => {
            let (was, now) = before.contrasted(now);
            (was, Some(now))
        }
        None => (before.sentence(), None),
    };
    folded.changes.push(Change { was, now: now_said, why: why.clone() });
    *slot = match now {
        Some(right) => Counts::Instead(Replacement { seq: line.seq, fact: Box::new(right), why, signed }),
        None => Counts::Withdrawn(why),
    };
}

fn to_sign(line: &Line, signed: bool, what: Signable) -> ToSign {
    let Line { seq, header, .. } = line;
    ToSign { seq: *seq, entry_id: header.entry_id.clone(), person: header.person_code.clone(), signed, what }
}

/// Puts one entry into the story and, if it counts, among the facts.
fn place(
    context: &Context<'_>,
    line: Line,
    counts: Counts,
    clock_right: bool,
    signatures: &Signatures,
    folded: &mut Folded,
) {
    let mut signed = signatures.has(line.seq, &line.header);
    let unsigned = folded.to_sign.iter().any(|it| it.seq == line.seq && it.waits());
    let unsigned = unsigned || decision_unsigned(&line, &counts, signatures, signed, folded);
    let Line { seq, received_us, header, kind } = line;
    let station_us = time_us(&header);
    let done_us = header.done_time.as_ref().map(micros);
    let written = match &kind {
        MessageKind::Correction(correction) => Err(("correction", sentence::correction(&correction.reason))),
        // A fact of the site has no place in a job; the server refuses it, an old journal may hold it.
        kind => Fact::read(kind, Typed(&header.as_typed))
            .ok_or_else(|| ("site", sentence::entry_foreign(seq.to_string()))),
    };
    let (written, (kind, text)) = match written {
        Ok(fact) => {
            let told = (fact.name(), fact.sentence());
            (Some(fact), told)
        }
        Err(told) => (None, told),
    };
    let mut story = StoryLine {
        seq,
        entry_id: header.entry_id,
        time_us: done_us.unwrap_or_else(|| believed_us(station_us, received_us)),
        person: header.person_code.clone(),
        kind,
        text,
        changed: unsigned.then(sentence::changed_unsigned),
        late: done_us.is_some_and(|done| context.is_late(done, station_us)),
    };
    let Some(written) = written else {
        folded.story.push(story);
        return;
    };
    let mut said_seq = seq;
    let fact = match counts {
        Counts::AsWritten => Some(written).filter(|_| !unsigned),
        Counts::Instead(instead) => {
            story.changed = Some(sentence::changed_instead(instead.fact.sentence(), instead.why));
            signed = instead.signed;
            said_seq = instead.seq;
            Some(*instead.fact)
        }
        Counts::Withdrawn(why) => {
            story.changed = Some(sentence::changed_withdrawn(why));
            None
        }
    };
    if let Some(fact) = fact {
        let station = (header.station_id, header.station_epoch);
        folded.facts.push(Stated {
            seq,
            said_seq,
            person: header.person_code,
            moment: Moment::new(
                station,
                header.station_number,
                (station_us, received_us),
                clock_right,
                done_us,
            ),
            time_us: story.time_us,
            signed,
            fact,
        });
    }
    folded.story.push(story);
}

/// Whether an entry is a decision that counts only once it is signed and is not; notes that it is signed or has to be.
fn decision_unsigned(
    line: &Line,
    counts: &Counts,
    signatures: &Signatures,
    signed: bool,
    folded: &mut Folded,
) -> bool {
    let (MessageKind::Decision(message), Counts::AsWritten) = (&line.kind, counts) else { return false };
    if !signatures.need_decision() {
        return false;
    }
    let decision = Decision::read(message, Typed(&line.header.as_typed));
    let what = Signable::Decision {
        point_in_words: decision.point_in_words(),
        point: decision.point,
        reason: decision.reason,
        time_us: believed_us(time_us(&line.header), line.received_us),
    };
    folded.to_sign.push(to_sign(line, signed, what));
    !signed
}

/// A finding that somebody should know and that is printed.
pub(super) fn tells(text: Sentence, seqs: impl IntoIterator<Item = u64>) -> Finding {
    Finding { text, weight: Weight::Tells, seqs: seqs.into_iter().collect(), on_record: true, stands: false }
}

/// A finding that stops the work.
pub(super) fn stops(text: Sentence, seqs: impl IntoIterator<Item = u64>) -> Finding {
    Finding { weight: Weight::Stops, stands: true, ..tells(text, seqs) }
}

/// A station's time, or the server's where the station's cannot be true: after the arrival, or weeks before.
fn believed_us(station_us: i64, received_us: i64) -> i64 {
    if cannot_be_true(station_us, received_us) { received_us } else { station_us }
}

/// Entries are kept unsent for 30 days at most; a clock may run a little before the server's.
fn cannot_be_true(station_us: i64, received_us: i64) -> bool {
    let late_us = received_us.saturating_sub(station_us);
    !(-CLOCK_AHEAD_US..=KEPT_UNSENT_US).contains(&late_us)
}

/// Names each station whose clock was wrong, once.
fn wrong_clocks(lines: &[Line], findings: &mut Vec<Finding>) {
    let mut named: Vec<&str> = Vec::new();
    for line in lines.iter().filter(|line| cannot_be_true(time_us(&line.header), line.received_us)) {
        let station = line.header.station_id.as_str();
        if !named.contains(&station) {
            named.push(station);
            findings.push(tells(sentence::clock_wrong(station), [line.seq]));
        }
    }
}

fn time_us(header: &v1::Header) -> i64 {
    header.station_time.as_ref().map_or(0, micros)
}

fn micros(time: &prost_types::Timestamp) -> i64 {
    time.seconds.saturating_mul(1_000_000).saturating_add(i64::from(time.nanos) / 1000)
}
