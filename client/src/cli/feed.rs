//! `standpipe feed`: lines of an instrument become entries while they come, and are sent while the shop server answers.
//!
//! What was read is binned and kept before anything is sent; Ctrl-C, a closed pipe and a line that ends keep what is in
//! the open bin. `feed/input.rs` reads, `feed/heard.rs` counts and tells, `feed/said.rs` writes and sums up, `feed/behind.rs` shifts the clock of recorded
//! lines. Never here: what a line means, which is [`crate::feed`]'s.

mod behind;
mod heard;
mod input;
mod said;

use super::act::{optional, refusal_notes};
use super::answer::Answer;
use super::{Console, Context, shown};
use crate::clock::Clock;
use crate::config::Output;
use crate::error::ClientError;
use crate::feed::binner::{Action, Bin, Binner, BinnerOptions, Event};
use crate::feed::lines::{Line, Lines};
use crate::feed::map::ColumnMap;
use crate::feed::reading::{Means, Reader};
use crate::folder::state::LocalJob;
use crate::sending::{SendEnd, SendReport};
use crate::station::Station;
use behind::Behind;
use clap::ArgMatches;
use heard::{Heard, Sort};
use input::{Input, Interrupts, Piece};
use standpipe_proto::limits::STREAM_WINDOW_MAX;
use standpipe_proto::limits::feed::{LINE_BYTES_MAX, REPLAYED_ENTRIES_MAX};
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::time::Duration;

/// Longest wait before the state is looked at again, in microseconds.
const WAIT_MOST_US: i64 = 60_000_000;
/// How often an entry is tried to be kept while another command has the folder, each time as long as any command waits.
const KEEP_TRIES: usize = 10;
/// How long the shop server is waited for at the start; without an answer nothing is claimed.
const ASKED_AT_START: Duration = Duration::from_secs(2);
/// How long a command that sends at the same time is given.
const BUSY_US: i64 = 1_000_000;

pub(super) async fn feed(
    context: &Context<'_>,
    matches: &ArgMatches,
    output: Output,
    console: &mut Console<'_>,
) -> Result<Answer, ClientError> {
    let map = ColumnMap::read(path(matches, "map").unwrap_or(Path::new("")))?;
    let is_replay = matches.get_flag("replay");
    if is_replay && map.time.is_none() {
        return Err(ClientError::Usage(
            "--replay needs the times of the lines; add the table [time] to the column map".into(),
        ));
    }
    let clock = Arc::new(Behind::new(Arc::clone(&context.machine.options.clock)));
    let mut station = context.station_by(Arc::clone(&clock) as Arc<dyn Clock>)?;
    if station.person().is_none() {
        return Err(ClientError::NoPerson);
    }
    let job = station.job(optional(matches, "job")).await?;
    // Before the input is opened: a signal that comes at any time from here on ends it in order.
    let interrupts = Interrupts::new()?;
    let input = match path(matches, "device") {
        Some(device) => Input::device(device, map.serial)?,
        None => Input::file(path(matches, "input"))?,
    };
    let options = BinnerOptions {
        size: map.bin,
        has_own_times: map.time.is_some(),
        may_reset: matches.get_flag("reset"),
    };
    let mut feeding = Feeding {
        station: &mut station,
        job,
        reader: Reader::new(map.clone()),
        map,
        lines: Lines::default(),
        binner: Binner::new(options),
        clock,
        interrupts,
        recorded: is_replay.then(Vec::new),
        heard: Heard::default(),
        sent: SendReport::default(),
        sending: Sending::Idle,
        kept: 0,
        alarms: Vec::new(),
        stops: Vec::new(),
        output,
        console,
    };
    feeding.begin(&input).await;
    let ended = feeding.run(input, matches.get_flag("last")).await;
    feeding.answer(ended)
}

/// How a feed ended.
enum End {
    /// There were no more lines.
    Lines,
    /// A person ended it with Ctrl-C.
    Interrupted,
    /// The system ended it: the terminal is gone, or the machine stops.
    Stopped,
    /// Nobody reads what it says any more.
    Unread,
}

/// Whether what was kept is sent now.
enum Sending {
    /// Nothing waits.
    Idle,
    /// Something waits, until that time of the monotonic clock.
    From(i64),
    /// This station may not send; what is stated is kept.
    Never,
}

/// A feed while it goes on.
struct Feeding<'a, 'b> {
    station: &'a mut Station,
    job: LocalJob,
    map: ColumnMap,
    reader: Reader,
    lines: Lines,
    binner: Binner,
    clock: Arc<Behind>,
    interrupts: Interrupts,
    /// Bins that wait for the time of the last line; nothing where lines are fed as they come.
    recorded: Option<Vec<Bin>>,
    heard: Heard,
    /// All that was sent and refused, and how the last try ended.
    sent: SendReport,
    sending: Sending,
    /// Entries that were kept.
    kept: usize,
    /// What was not as it should be when the shop server was asked last.
    alarms: Vec<String>,
    /// What stops the work, as it was told first.
    stops: Vec<String>,
    output: Output,
    console: &'a mut Console<'b>,
}

impl Feeding<'_, '_> {
    /// Says what is read where somebody has to end it, and what stops the work; it is fed all the same.
    async fn begin(&mut self, input: &Input) {
        let asked = tokio::time::timeout(ASKED_AT_START, asked(self.station, &self.job)).await;
        self.tell_new(asked.unwrap_or_default());
        if let Some(device) = input.device_name() {
            let job = shown::job_words(&self.job);
            self.note(&format!("{job}: reads {device}; Ctrl-C ends it"));
        }
    }

    /// Reads to the end, keeps what is open then, and sends what waits.
    async fn run(&mut self, input: Input, is_last: bool) -> Result<End, ClientError> {
        let ended = self.read(input).await;
        if matches!(ended, Ok(End::Lines)) {
            let line = self.lines.ended();
            line.map_or(Ok(()), |line| self.line(&line, self.clock.monotonic_microseconds()))?;
        }
        // What broke or was stopped is no end of an exchange.
        let is_last = is_last && matches!(ended, Ok(End::Lines | End::Interrupted));
        let now = self.clock.monotonic_microseconds();
        let actions = self.binner.step(Event::Ended { is_last }, now);
        self.carry_out(actions)?;
        self.keep_recorded()?;
        if !matches!(self.sending, Sending::Idle | Sending::Never) {
            // A second signal ends this too; all is kept by now.
            self.send().await?;
        }
        ended
    }

    async fn read(&mut self, input: Input) -> Result<End, ClientError> {
        let mut pieces = input.pieces(Arc::clone(&self.clock) as Arc<dyn Clock>);
        loop {
            let (now, wakes_at) = (self.clock.monotonic_microseconds(), self.wakes_at());
            let is_to_send = matches!(self.sending, Sending::From(at) if at <= now);
            let must_send = is_to_send && self.unsent() >= STREAM_WINDOW_MAX;
            let wait = wakes_at.saturating_sub(now).clamp(0, WAIT_MOST_US);
            let wait = Duration::from_micros(wait.unsigned_abs());
            // What has come is binned first; what is binned is kept, and is sent when nothing comes.
            tokio::select! {
                biased;
                end = self.interrupts.next() => return Ok(end),
                piece = pieces.recv(), if !must_send => match piece {
                    Some(Piece::Bytes { bytes, at_us }) => {
                        for line in self.lines.take(&bytes) {
                            self.line(&line, at_us)?;
                        }
                    }
                    Some(Piece::Failed(error)) => return Err(error),
                    None => return Ok(End::Lines),
                },
                () = std::future::ready(()), if is_to_send => {
                    if let Some(end) = self.send().await? {
                        return Ok(end);
                    }
                }
                () = tokio::time::sleep(wait) => {
                    let actions = self.binner.step(Event::Passed, self.clock.monotonic_microseconds());
                    self.carry_out(actions)?;
                }
            }
            if self.heard.is_unread {
                return Ok(End::Unread);
            }
        }
    }

    /// When something is to be done although no line comes.
    fn wakes_at(&self) -> i64 {
        let again_at = match self.sending {
            Sending::From(at) => Some(at),
            Sending::Idle | Sending::Never => None,
        };
        self.binner.closes_at().into_iter().chain(again_at).min().unwrap_or(i64::MAX)
    }

    fn unsent(&self) -> usize {
        self.kept.saturating_sub(self.sent.sent.len())
    }

    fn line(&mut self, line: &Line, at_us: i64) -> Result<(), ClientError> {
        self.heard.lines += 1;
        let Some(text) = &line.text else {
            let sentence = format!("a line of at most {LINE_BYTES_MAX} bytes was expected");
            self.tell(Sort::Unreadable, line.number, &sentence);
            return Ok(());
        };
        match self.reader.read(text)? {
            Means::Nothing => self.heard.passed_over += 1,
            Means::Unreadable(expected) => {
                let sentence = format!("'{}' cannot be read: {expected}", crate::feed::reading::shown(text));
                self.tell(Sort::Unreadable, line.number, &sentence);
            }
            Means::Outside(sentence) => {
                self.tell(Sort::Outside, line.number, &format!("{sentence}; the line is not used"));
            }
            Means::Reading(reading, outside) => {
                for sentence in outside {
                    self.tell(
                        Sort::OutsideValue,
                        line.number,
                        &format!("{sentence}; that value is not used"),
                    );
                }
                self.heard.used += 1;
                let actions = self.binner.step(Event::Read { line: line.number, reading }, at_us);
                self.carry_out(actions)?;
            }
        }
        Ok(())
    }

    fn carry_out(&mut self, actions: Vec<Action>) -> Result<(), ClientError> {
        for action in actions {
            match action {
                Action::Tell(told) => {
                    let sort = Sort::Counter(told.about);
                    if !sort.is_line_used() {
                        self.heard.used = self.heard.used.saturating_sub(1);
                    }
                    self.tell(sort, told.line, &told.sentence);
                }
                Action::State(bin) => match &mut self.recorded {
                    None => self.keep(&bin)?,
                    Some(recorded) if recorded.len() < REPLAYED_ENTRIES_MAX => recorded.push(bin),
                    Some(_) => {
                        return Err(ClientError::Usage(format!(
                            "the recorded lines give more than {REPLAYED_ENTRIES_MAX} entries; nothing was kept, set \
                             bin_litres or bin_seconds of the column map higher"
                        )));
                    }
                },
            }
        }
        Ok(())
    }

    /// Keeps the bins of recorded lines, each at the time of its last line, so far back that the last of them is now.
    fn keep_recorded(&mut self) -> Result<(), ClientError> {
        let recorded = self.recorded.take().unwrap_or_default();
        let last_us = recorded.last().map_or(0, |bin| bin.at_us);
        for bin in &recorded {
            self.clock.be_behind(last_us.saturating_sub(bin.at_us));
            let kept = self.keep(bin);
            self.clock.be_behind(0);
            kept?;
        }
        Ok(())
    }

    /// Keeps what a bin states; what is outside its bounds is told, and the feed goes on.
    fn keep(&mut self, bin: &Bin) -> Result<(), ClientError> {
        for fact in crate::feed::facts(&self.map, bin) {
            let mut add = || self.station.add_for(&self.job, fact.clone(), Vec::new(), None);
            let mut tried = add();
            for _ in 1..KEEP_TRIES {
                // What is being fed cannot be said again, as a command can.
                if matches!(tried, Err(ClientError::Locked { .. })) {
                    tried = add();
                }
            }
            match tried {
                Ok(kept) => {
                    self.kept += 1;
                    if matches!(self.sending, Sending::Idle) {
                        self.sending = Sending::From(i64::MIN);
                    }
                    self.say(&fact, &kept.entry_id, bin)?;
                }
                Err(ClientError::Outside(why)) => {
                    self.heard.refused += 1;
                    self.note(&format!("a mean over lines is not kept: {why}"));
                }
                Err(error) => return Err(error),
            }
        }
        Ok(())
    }

    /// Tells what was not told before. Whoever stands beside the running engine reads this, not the job.
    fn tell_new(&mut self, told: Told) {
        let stops = told.stops.into_iter().filter(|stop| !self.stops.iter().any(|it| is_same(it, stop)));
        let stops: Vec<String> = stops.collect();
        let alarms = told.alarms.iter().filter(|alarm| !self.alarms.contains(alarm));
        let fresh: Vec<String> = stops.iter().chain(alarms).map(|line| format!("> {line}")).collect();
        fresh.iter().for_each(|line| self.note(line));
        self.stops.extend(stops);
        self.alarms = told.alarms;
    }

    /// Sends what waits; gives the end when a signal came meanwhile.
    async fn send(&mut self) -> Result<Option<End>, ClientError> {
        let sent = tokio::select! {
            biased;
            end = self.interrupts.next() => Err(end),
            sent = sent_and_asked(self.station, &self.job) => Ok(sent),
        };
        let (mut report, told) = match sent {
            Ok(sent) => sent?,
            Err(end) => {
                self.station.gave_up_sending();
                let sentence = "the feed was ended while it was sent".to_owned();
                self.sent.end = SendEnd::Later { sentence, again_at: 0 };
                self.sent.waiting = self.unsent();
                return Ok(Some(end));
            }
        };
        self.tell_new(told);
        let was_away = matches!(self.sent.end, SendEnd::Later { .. });
        self.sending = match &report.end {
            SendEnd::Done => Sending::Idle,
            SendEnd::Later { again_at, .. } => Sending::From(*again_at),
            SendEnd::Busy(_) => Sending::From(self.clock.monotonic_microseconds().saturating_add(BUSY_US)),
            SendEnd::NotPermitted(_) => Sending::Never,
        };
        match &report.end {
            SendEnd::Later { sentence, .. } if !was_away && self.recorded.is_none() => {
                let sentence = format!("{sentence}; what is fed is kept, and sent when it answers");
                self.note(&sentence);
            }
            SendEnd::Done if was_away => self.note("the shop server answers again"),
            _ => {}
        }
        let notes = refusal_notes(self.station, &report.refused);
        notes.iter().for_each(|note| self.note(note));
        report.sent.splice(..0, std::mem::take(&mut self.sent.sent));
        report.refused.splice(..0, std::mem::take(&mut self.sent.refused));
        self.sent = report;
        Ok(None)
    }
}

/// Sends what waits, and asks what is not as it should be with the exchange by now. Without an answer nothing is claimed;
/// the entries are kept all the same.
async fn sent_and_asked(station: &mut Station, job: &LocalJob) -> Result<(SendReport, Told), ClientError> {
    let report = station.send().await?;
    if report.end != SendEnd::Done || report.sent.is_empty() {
        return Ok((report, Told::default()));
    }
    Ok((report, asked(station, job).await))
}

/// What the shop server says of a job while it is fed.
#[derive(Default)]
struct Told {
    /// What stops the work.
    stops: Vec<String>,
    /// What is not as it should be with the exchange.
    alarms: Vec<String>,
}

/// Asks it; without an answer nothing is claimed.
async fn asked(station: &mut Station, job: &LocalJob) -> Told {
    let Ok(remote) = station.remote() else { return Told::default() };
    let Ok(job) = remote.get(&job.job_id).await else { return Told::default() };
    let stops = job.findings.into_iter().filter(|finding| finding.stops).map(|finding| finding.text);
    Told { stops: stops.collect(), alarms: job.exchange.map(|exchange| exchange.alarms).unwrap_or_default() }
}

/// Whether two sentences differ in their figures at most: litres that grow are not told anew with each of them.
fn is_same(one: &str, other: &str) -> bool {
    let words = |text: &str| -> Vec<char> {
        text.chars().filter(|it| it.is_alphabetic() || it.is_whitespace()).collect()
    };
    words(one) == words(other)
}

fn path<'a>(matches: &'a ArgMatches, name: &str) -> Option<&'a Path> {
    matches.get_one::<PathBuf>(name).map(PathBuf::as_path)
}
