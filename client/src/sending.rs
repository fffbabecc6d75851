//! Carries out what the unsent list decides while entries go to the shop server: by stream, or one by one where the
//! server knows no stream. Nothing leaves the list before the server acknowledged exactly that entry.

use crate::clock::microseconds;
use crate::error::ClientError;
use crate::folder::archive::{RefusedEntry, WrittenRefusal, day_of};
use crate::folder::{Lock, job_of};
use crate::remote::Remote;
use crate::station::Station;
use crate::unsent::{Action, Event};
use standpipe_proto::limits::STREAM_WINDOW_MAX;
use standpipe_proto::v1::{
    Acknowledgement, AppendStreamRequest, AppendStreamResponse, Refusal, append_stream_response::Answer,
};
use std::collections::{BTreeSet, VecDeque};
use tokio::sync::mpsc;
use tokio::time::timeout;
use tokio_stream::wrappers::ReceiverStream;
use tonic::{Code, Status};
use tonic_types::StatusExt as _;

/// What became of the unsent entries.
#[derive(Debug, Clone, Default)]
pub struct SendReport {
    /// The server's acknowledgements, in their order.
    pub sent: Vec<Acknowledgement>,
    /// Entries that the server will never take; they are aside.
    pub refused: Vec<RefusedEntry>,
    /// Entries that still wait.
    pub waiting: usize,
    /// How it ended.
    pub end: SendEnd,
    /// Photos and words that the server took.
    pub blobs_sent: usize,
    /// Photos and words that still wait.
    pub blobs_waiting: usize,
}

/// How sending ended.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub enum SendEnd {
    /// Every entry was answered.
    #[default]
    Done,
    /// The server does not answer, or takes nothing for now; the sentence says which.
    Later {
        /// The sentence.
        sentence: String,
        /// When to try again, in microseconds of the station's monotonic clock.
        again_at: i64,
    },
    /// This station may not send.
    NotPermitted(String),
    /// Another command of this station is sending.
    Busy(String),
}

/// Rounds of sending what other commands of the station kept meanwhile.
const ROUNDS_MAX: usize = 8;

/// One try: what it still has to do, and how it ended.
enum Turn {
    /// The list says that all is answered, or that the rest waits until then.
    Over { again_at: Option<i64>, sentence: String },
    /// It broke, after some answers had come.
    Again,
    /// It broke without any answer.
    Broke { again_at: i64, error: ClientError },
    /// The server has no such stream.
    NoStream,
}

/// What carrying out actions left to do.
#[derive(Default)]
struct Outcome {
    sends: Vec<i64>,
    ended: Option<Option<i64>>,
}

impl Station {
    /// Sends what waits. That the server is away is no error: the report says so, and everything is still kept.
    ///
    /// # Errors
    /// When the station has not joined, or the disk refuses.
    pub async fn send(&mut self) -> Result<SendReport, ClientError> {
        self.joined()?;
        drop(self.turn()?);
        let blobs_waiting = self.folder.blobs()?.len();
        let mut report = SendReport { waiting: self.list.len(), blobs_waiting, ..SendReport::default() };
        if self.list.is_empty() && report.blobs_waiting == 0 {
            return Ok(report);
        }
        let _sending = match self.folder.lock_sending() {
            Ok(lock) => lock,
            Err(ClientError::Locked { holder }) => {
                report.end = SendEnd::Busy(holder);
                return Ok(report);
            }
            Err(error) => return Err(error),
        };
        // Another command may have sent everything while this one waited for its turn.
        drop(self.turn()?);
        let mut days = BTreeSet::new();
        // Entries first: they are what the work waits for.
        let sent = if self.list.is_empty() { Ok(()) } else { self.send_rounds(&mut report, &mut days).await };
        if sent.is_err() {
            self.gave_up_sending();
        }
        sent?;
        self.tidy(&report, &days)?;
        report.waiting = self.list.len();
        if report.end == SendEnd::Done {
            self.send_blobs(&mut report).await?;
        }
        Ok(report)
    }

    /// Sends again what was sent in the last 30 days, and what waits. A shop server that has it answers as before; one
    /// that was restored from a backup gets back what came after.
    ///
    /// # Errors
    /// As [`Station::send`].
    pub async fn send_again(&mut self) -> Result<SendReport, ClientError> {
        self.joined()?;
        let lock = self.turn()?;
        self.folder.bring_back(&lock)?;
        drop(lock);
        self.doubt();
        self.send().await
    }

    /// A try to send was dropped in the middle: what it may have changed is read again from the folder. Entries whose
    /// acknowledgement went unread are sent again, which is safe.
    pub(crate) fn gave_up_sending(&mut self) {
        let now = self.options.clock.monotonic_microseconds();
        self.list.step(Event::Broke, now);
        self.doubt();
    }

    async fn send_rounds(
        &mut self,
        report: &mut SendReport,
        days: &mut BTreeSet<String>,
    ) -> Result<(), ClientError> {
        let remote = self.remote()?;
        let mut one_by_one = false;
        for _ in 0..ROUNDS_MAX {
            loop {
                let turn = if one_by_one {
                    self.try_one_by_one(&remote, report, days).await?
                } else {
                    self.try_stream(&remote, report, days).await?
                };
                report.end = match turn {
                    Turn::Over { again_at: None, .. } => SendEnd::Done,
                    Turn::Over { again_at: Some(again_at), sentence } => {
                        SendEnd::Later { sentence, again_at }
                    }
                    Turn::Again => continue,
                    Turn::NoStream if !one_by_one => {
                        one_by_one = true;
                        continue;
                    }
                    Turn::NoStream => SendEnd::Later {
                        sentence: "the shop server takes no entries; it may be an older version".into(),
                        again_at: self.options.clock.monotonic_microseconds(),
                    },
                    Turn::Broke { error: ClientError::NotPermitted(sentence), .. } => {
                        SendEnd::NotPermitted(sentence)
                    }
                    Turn::Broke { again_at, error } => {
                        SendEnd::Later { sentence: error.to_string(), again_at }
                    }
                };
                break;
            }
            drop(self.turn()?);
            if report.end != SendEnd::Done || self.list.is_empty() {
                break;
            }
        }
        Ok(())
    }

    async fn try_stream(
        &mut self,
        remote: &Remote,
        report: &mut SendReport,
        days: &mut BTreeSet<String>,
    ) -> Result<Turn, ClientError> {
        let (outgoing, requests) = mpsc::channel(STREAM_WINDOW_MAX);
        let mut outcome = self.begin(report, days)?;
        let mut sentence = String::new();
        if !self.put(&outcome.sends, &outgoing)? {
            return Ok(self.broke(remote, &Status::unavailable("the stream ended")));
        }
        let call = remote.deadlines().call;
        let late = || Status::deadline_exceeded("no answer in time");
        let opened =
            timeout(call, async { remote.journal().append_stream(ReceiverStream::new(requests)).await })
                .await;
        let mut answers = match opened.unwrap_or_else(|_| Err(late())) {
            Ok(answers) => answers.into_inner(),
            Err(status) => return Ok(self.broke(remote, &status)),
        };
        while outcome.ended.is_none() {
            match timeout(call, answers.message()).await.unwrap_or_else(|_| Err(late())) {
                Ok(Some(answer)) => outcome = self.answered(answer, report, days, &mut sentence)?,
                Ok(None) => return Ok(self.broke(remote, &Status::unavailable("the stream ended"))),
                Err(status) => return Ok(self.broke(remote, &status)),
            }
            if !self.put(&outcome.sends, &outgoing)? {
                return Ok(self.broke(remote, &Status::unavailable("the stream ended")));
            }
        }
        drop(outgoing);
        // The server ends its side too; nothing that comes now changes anything.
        let _ = timeout(call, answers.message()).await;
        Ok(Turn::Over { again_at: outcome.ended.flatten(), sentence })
    }

    async fn try_one_by_one(
        &mut self,
        remote: &Remote,
        report: &mut SendReport,
        days: &mut BTreeSet<String>,
    ) -> Result<Turn, ClientError> {
        let mut outcome = self.begin(report, days)?;
        let mut sentence = String::new();
        let mut sends: VecDeque<i64> = outcome.sends.iter().copied().collect();
        while outcome.ended.is_none() {
            let Some(place) = sends.pop_front() else { break };
            let answer = match remote.append(self.folder.read(place)?).await {
                Ok(answer) => answer.acknowledgement.map(Answer::Acknowledgement),
                Err(status) => match self.refusal_of(place, &status) {
                    Some(refusal) => Some(Answer::Refusal(refusal)),
                    None => return Ok(self.broke(remote, &status)),
                },
            };
            outcome = self.answered(AppendStreamResponse { answer }, report, days, &mut sentence)?;
            sends.extend(outcome.sends.iter().copied());
        }
        Ok(Turn::Over { again_at: outcome.ended.flatten(), sentence })
    }

    fn begin(
        &mut self,
        report: &mut SendReport,
        days: &mut BTreeSet<String>,
    ) -> Result<Outcome, ClientError> {
        let mut jitter = [0; 2];
        self.options.entropy.fill(&mut jitter)?;
        let now = self.options.clock.monotonic_microseconds();
        let lock = self.turn()?;
        self.folder.secure_place(&lock, self.list.greatest_place())?;
        let actions = self.list.step(Event::Began { jitter: u16::from_be_bytes(jitter) }, now);
        self.carry_out(&lock, actions, None, report, days)
    }

    /// Puts entries on the stream; false when nobody takes them any more.
    fn put(&self, places: &[i64], outgoing: &mpsc::Sender<AppendStreamRequest>) -> Result<bool, ClientError> {
        for place in places {
            let entry = self.folder.read(*place)?;
            // The list never lets more wait than the channel holds.
            if outgoing.try_send(AppendStreamRequest { entry }).is_err() {
                return Ok(false);
            }
        }
        Ok(true)
    }

    fn answered(
        &mut self,
        answer: AppendStreamResponse,
        report: &mut SendReport,
        days: &mut BTreeSet<String>,
        sentence: &mut String,
    ) -> Result<Outcome, ClientError> {
        let now = self.options.clock.monotonic_microseconds();
        // The turn comes before the step: what the list decides must rest on what the folder holds.
        let lock = self.turn()?;
        match answer.answer {
            Some(Answer::Acknowledgement(acknowledgement)) => {
                let event = Event::Acknowledged {
                    entry_id: acknowledgement.entry_id.clone(),
                    station_number_reused: acknowledgement.station_number_reused,
                };
                let actions = self.list.step(event, now);
                self.carry_out(&lock, actions, Some(&acknowledgement), report, days)
            }
            Some(Answer::Refusal(refusal)) => {
                if sentence.is_empty() && !crate::is_permanent(refusal.code) {
                    sentence.clone_from(&refusal.message);
                }
                let actions = self.list.step(Event::Refused(refusal), now);
                self.carry_out(&lock, actions, None, report, days)
            }
            None => Ok(Outcome::default()),
        }
    }

    fn carry_out(
        &mut self,
        lock: &Lock,
        actions: Vec<Action>,
        acknowledgement: Option<&Acknowledgement>,
        report: &mut SendReport,
        days: &mut BTreeSet<String>,
    ) -> Result<Outcome, ClientError> {
        let mut outcome = Outcome::default();
        for action in actions {
            match action {
                Action::Send { place } => outcome.sends.push(place),
                Action::Ended { again_at } => outcome.ended = Some(again_at),
                Action::BeginEpoch { after } => self.begin_epoch(lock, after)?,
                Action::MoveToSent { place } => {
                    if let Some(acknowledgement) = acknowledgement {
                        self.sent(lock, place, acknowledgement, days)?;
                        report.sent.push(acknowledgement.clone());
                    }
                }
                Action::SetAside { place, refusal } => {
                    report.refused.extend(self.put_aside(lock, place, refusal)?)
                }
                Action::Store { .. } | Action::Full => {}
            }
        }
        Ok(outcome)
    }

    fn sent(
        &mut self,
        lock: &Lock,
        place: i64,
        acknowledgement: &Acknowledgement,
        days: &mut BTreeSet<String>,
    ) -> Result<(), ClientError> {
        let kept = self.unsent.remove(&place);
        let day = day_of(self.received(acknowledgement));
        self.folder.move_to_sent(lock, place, acknowledgement.seq, &day)?;
        days.insert(day);
        let job_id = kept.as_ref().map(|kept| job_of(&kept.entry)).unwrap_or_default();
        if !job_id.is_empty() && self.jobs.learn(job_id, &acknowledgement.job_number, &acknowledgement.plate)
        {
            self.folder.write_jobs(lock, &self.jobs)?;
        }
        Ok(())
    }

    fn put_aside(
        &mut self,
        lock: &Lock,
        place: i64,
        refusal: Refusal,
    ) -> Result<Option<RefusedEntry>, ClientError> {
        let kept = self.unsent.remove(&place);
        let Refusal { code, reason, message, .. } = refusal;
        let refusal = WrittenRefusal { code, reason, message };
        self.folder.set_aside(lock, place, &refusal)?;
        Ok(kept.map(|kept| RefusedEntry { place, refusal, entry: kept.entry }))
    }

    /// The server's clock at an acknowledgement; the station's if the server did not say.
    fn received(&self, acknowledgement: &Acknowledgement) -> i64 {
        let told = acknowledgement.received_time.as_ref().map(microseconds);
        told.unwrap_or_else(|| self.options.clock.now_microseconds())
    }

    fn broke(&mut self, remote: &Remote, status: &Status) -> Turn {
        let now = self.options.clock.monotonic_microseconds();
        let actions = self.list.step(Event::Broke, now);
        let again_at = actions.iter().find_map(|action| match action {
            Action::Ended { again_at } => *again_at,
            _ => None,
        });
        tracing::debug!(code = ?status.code(), message = status.message(), "the stream of entries broke");
        match (status.code(), again_at) {
            (Code::Unimplemented, Some(_)) => Turn::NoStream,
            (Code::Unauthenticated | Code::PermissionDenied, _) => {
                Turn::Broke { again_at: now, error: remote.failure(status) }
            }
            (_, Some(again_at)) if again_at <= now => Turn::Again,
            (_, Some(again_at)) => Turn::Broke { again_at, error: remote.failure(status) },
            (_, None) => Turn::Over { again_at: None, sentence: String::new() },
        }
    }

    /// The refusal of exactly this entry, if a failed call is one.
    fn refusal_of(&self, place: i64, status: &Status) -> Option<Refusal> {
        let info = status.get_details_error_info()?;
        let code = i32::from(status.code());
        let permitted = !matches!(status.code(), Code::PermissionDenied | Code::Unimplemented);
        let entry_id = self.unsent.get(&place)?.waiting.entry_id.clone();
        (permitted && crate::is_permanent(code)).then(|| Refusal {
            entry_id,
            code,
            reason: info.reason,
            message: status.message().to_owned(),
        })
    }

    /// Makes the moves durable and removes what was sent long ago, by the server's clock.
    fn tidy(&mut self, report: &SendReport, days: &BTreeSet<String>) -> Result<(), ClientError> {
        if days.is_empty() {
            return Ok(());
        }
        let lock = self.turn()?;
        self.folder.settle(&lock, days)?;
        match report.sent.iter().map(|acknowledgement| self.received(acknowledgement)).max() {
            Some(now) => self.folder.prune(&lock, now, self.list.greatest_place()),
            None => Ok(()),
        }
    }
}
