//! The questions on the terminal: carries out what [`crate::next::Questions`] wants done, and tells it what happened.

use super::act::{asked_job, fate, told};
use super::answer::{Answer, printable};
use super::keys::Input;
use super::sign::{ToSign, asked};
use super::{Console, Context, shown};
use crate::asking::FoundEntry;
use crate::error::ClientError;
use crate::folder::state::LocalJob;
use crate::next::{Action, Event, Key, Questions};
use crate::station::{Change, Kept, Station};
use crate::words::Understood;
use crate::words::descriptor::{KindWords, Words};
use clap::ArgMatches;
use serde_json::Value;
use std::collections::VecDeque;
use std::path::Path;
use std::time::{Duration, Instant};

/// How long what was known when the steps were found out stays known: as long as a temperature is fresh for the plug.
const KNOWN_MAX: Duration = Duration::from_secs(120);

pub(super) async fn next(
    context: &Context<'_>,
    matches: &ArgMatches,
    console: &mut Console<'_>,
) -> Result<Answer, ClientError> {
    let mut station = context.station()?;
    station.person().ok_or(ClientError::NoPerson)?;
    let job = asked_job(&mut station, matches).await?;
    let singly = console
        .keys
        .begin()
        .map_err(|cause| ClientError::disk("reading", Path::new("the terminal"), cause))?;
    let accent = singly && !context.machine.environment.plain;
    let asked =
        Asking { station: &mut station, job, console, singly, accent, away: None, found: Instant::now() }
            .run()
            .await;
    console.keys.end();
    asked?;
    Ok(Answer::new(String::new(), Value::Null).noting(station.take_notices()))
}

/// The terminal and the station while questions are asked.
struct Asking<'a, 'b> {
    station: &'a mut Station,
    job: LocalJob,
    console: &'a mut Console<'b>,
    /// True when keys come singly, so that the terminal shows nothing by itself.
    singly: bool,
    /// True where the question of the current step is set off.
    accent: bool,
    /// Why the server was not reached with the last entry; the next question then does not wait for it again.
    away: Option<String>,
    /// When the steps were found out last.
    found: Instant,
}

impl Asking<'_, '_> {
    async fn run(mut self) -> Result<(), ClientError> {
        let words = shown::job_words(&self.job);
        self.show(&format!("{words}\n"), true)?;
        let (mut questions, actions) =
            Questions::begin(&words, self.station.persons(), self.console.keys.columns());
        let mut actions: VecDeque<_> = actions.into();
        loop {
            let Some(action) = actions.pop_front() else {
                let event = self.input()?;
                let aged = match event {
                    Event::Closed | Event::Key(Key::Interrupt) => Vec::new(),
                    _ if self.found.elapsed() < KNOWN_MAX => Vec::new(),
                    _ => questions.step(Event::Aged),
                };
                let again = !aged.is_empty();
                actions.extend(aged);
                if !again {
                    actions.extend(questions.step(event));
                }
                continue;
            };
            let event = match action {
                Action::Say(text) => {
                    self.show(&text, true)?;
                    continue;
                }
                Action::Head(text) => {
                    self.head(&text)?;
                    continue;
                }
                Action::Echo(_) if !self.singly => continue,
                Action::Echo(text) | Action::Prompt(text) => {
                    self.show(&text, false)?;
                    continue;
                }
                Action::Person(code) => {
                    self.station.set_person(&code)?;
                    continue;
                }
                Action::End => return Ok(()),
                Action::AskGate(gate) => Event::Gate(self.gate(&gate).await?),
                Action::Fetch => Event::Steps(self.fetch().await?),
                Action::Keep { fact, kind } => {
                    let kept = self.station.add_for(&self.job, fact.fact, fact.as_typed, None);
                    self.kept(kept, &kind, &fact.understood).await
                }
                Action::Correct { entry_id, kind, instead, reason } => {
                    let of_site = Words::get()?.kind(&kind).is_some_and(KindWords::is_of_site);
                    let job = if of_site { LocalJob::default() } else { self.job.clone() };
                    let original = FoundEntry { entry_id, job, kind };
                    let (change, typed, understood) = match instead {
                        Some(fact) => (Change::Replace(Box::new(fact.fact)), fact.as_typed, fact.understood),
                        None => (Change::Withdraw, Vec::new(), Vec::new()),
                    };
                    let kept = self.station.correct(&original, change, &reason, typed);
                    self.kept(kept, "correction", &understood).await
                }
            };
            actions.extend(questions.step(event));
        }
    }

    fn input(&mut self) -> Result<Event, ClientError> {
        let input = self.console.keys.next();
        Ok(match input.map_err(|cause| ClientError::disk("reading", Path::new("the terminal"), cause))? {
            Input::Key(key) => Event::Key(key),
            Input::Text(text) => Event::Text(text),
            Input::Line(line) => Event::Line(line),
            Input::Closed => Event::Closed,
        })
    }

    async fn fetch(&mut self) -> Result<crate::next::Remaining, ClientError> {
        self.found = Instant::now();
        match self.away.take() {
            Some(why) => self.station.remaining_here(&self.job, &why),
            None => self.station.remaining(&self.job).await,
        }
    }

    async fn gate(
        &mut self,
        gate: &str,
    ) -> Result<Result<Box<standpipe_proto::v1::MayResponse>, String>, ClientError> {
        match self.station.may(&self.job, gate).await {
            Ok(answer) => Ok(Ok(Box::new(answer))),
            Err(ClientError::NoGoAhead(why) | ClientError::Away(why) | ClientError::NotPermitted(why)) => {
                Ok(Err(why.trim_end_matches("; an earlier yes does not count").to_owned()))
            }
            Err(ClientError::Refused { sentence, .. }) => Ok(Err(sentence)),
            Err(error) => Err(error),
        }
    }

    /// Sends what was kept and tells what became of it.
    async fn kept(
        &mut self,
        kept: Result<Kept, ClientError>,
        kind: &str,
        understood: &[Understood],
    ) -> Event {
        let kept = match kept {
            Ok(kept) => kept,
            Err(error) => return Event::NotKept(error.to_string()),
        };
        let fate = fate(self.station, &kept).await;
        // A fact of the site says nothing about the job.
        if !fate.job.job_id.is_empty() {
            self.job = fate.job;
        }
        // What was answered stands above already, in the words of the questions.
        let what = match kind {
            "correction" => format!("kept: {}", told("correction", understood)),
            _ => "kept".to_owned(),
        };
        let entry_id = (fate.state != "refused").then(|| kept.entry_id.clone());
        let line = match (fate.state, fate.sentence) {
            ("unsent", why) => {
                self.away = Some(why.unwrap_or_else(|| "the entry waits".to_owned()));
                format!("{what}; offline: {}", fate.end)
            }
            ("refused", Some(why)) => format!("{}: {why}", fate.end),
            _ => format!("{what}; {}", fate.end),
        };
        let taken = fate.report.sent.iter().find(|taken| taken.entry_id == kept.entry_id);
        if taken.is_some_and(|taken| taken.signature_needed) {
            let to_sign = ToSign { job: self.job.clone(), entry_id: kept.entry_id };
            let signed = self.signed(to_sign).await;
            return Event::Kept { entry_id, line: format!("{line}; {signed}") };
        }
        Event::Kept { entry_id, line }
    }

    /// Asks for the PIN of what counts only once it is signed. Keys are not read singly meanwhile: what is typed is not
    /// shown.
    async fn signed(&mut self, to_sign: ToSign) -> String {
        self.console.keys.end();
        let signed = asked(self.station, to_sign, self.console).await;
        let begun = self.console.keys.begin();
        self.singly = begun.as_ref().is_ok_and(|singly| *singly);
        self.accent &= self.singly;
        match signed {
            Ok((line, None)) => line,
            Ok((line, Some(why))) => format!("{why}; {line}"),
            Err(error) => error.to_string(),
        }
    }

    /// Shows the question of the current step in the one accent there is (ECMA-48, 8.3.117: bold, and default).
    fn head(&mut self, text: &str) -> Result<(), ClientError> {
        if !self.accent {
            return self.show(text, true);
        }
        let lines: String =
            printable(text).lines().map(|line| format!("\u{1b}[1m{line}\u{1b}[0m\r\n")).collect();
        self.wrote(lines.as_bytes(), true)
    }

    fn show(&mut self, text: &str, lines: bool) -> Result<(), ClientError> {
        // Signs that take one back are the questions' own; everything else may come from elsewhere.
        let text = if text == "\u{8} \u{8}" { text.to_owned() } else { printable(text) };
        let text = if self.singly { text.replace('\n', "\r\n") } else { text };
        self.wrote(text.as_bytes(), lines)
    }

    fn wrote(&mut self, bytes: &[u8], lines: bool) -> Result<(), ClientError> {
        let wrote = self.console.out.write_all(bytes).and_then(|()| self.console.out.flush());
        match wrote {
            Err(cause) if lines || cause.kind() != std::io::ErrorKind::BrokenPipe => {
                Err(ClientError::disk("writing the question to", Path::new("stdout"), cause))
            }
            _ => Ok(()),
        }
    }
}
