//! What a feed says: a line an entry, sentences of what is to be done, and at its end what became of it all, with the exit
//! code.

use super::super::act::{waiting_note, worst};
use super::super::answer::{Answer, Exit, printable};
use super::super::shown;
use super::heard::{self, Sort};
use super::{End, Feeding};
use crate::config::Output;
use crate::error::ClientError;
use crate::feed::binner::Bin;
use crate::sending::SendEnd;
use serde_json::{Value, json};
use standpipe_proto::v1::Fact;
use std::io::ErrorKind;
use std::path::Path;

impl Feeding<'_, '_> {
    /// One line for an entry; that nobody reads it any more ends the feed.
    pub(super) fn say(&mut self, fact: &Fact, entry_id: &str, bin: &Bin) -> Result<(), ClientError> {
        let text = match self.output {
            Output::Json => format!("{}\n", heard::entry_json(fact, entry_id)?),
            _ => printable(&heard::entry_words(fact, bin)),
        };
        self.written(text.as_bytes())
    }

    fn written(&mut self, bytes: &[u8]) -> Result<(), ClientError> {
        if self.heard.is_unread {
            return Ok(());
        }
        match self.console.out.write_all(bytes).and_then(|()| self.console.out.flush()) {
            Err(cause) if cause.kind() == ErrorKind::BrokenPipe => self.heard.is_unread = true,
            Err(cause) => {
                return Err(ClientError::disk("writing what is fed to", Path::new("stdout"), cause));
            }
            Ok(()) => {}
        }
        Ok(())
    }

    pub(super) fn tell(&mut self, sort: Sort, line: u64, sentence: &str) {
        if self.heard.is_to_be_told(sort) {
            let then = sort.told_once_words();
            self.note(&format!("line {line}: {sentence}{then}"));
        }
    }

    pub(super) fn note(&mut self, text: &str) {
        // If stderr is gone, nobody can be told; the feed goes on all the same.
        let _ = writeln!(self.console.err, "{}", printable(text).trim_end());
    }

    /// What became of it all.
    pub(super) fn answer(mut self, ended: Result<End, ClientError>) -> Result<Answer, ClientError> {
        let job = self.station.job_named(&self.job.job_id);
        let exit = match (&ended, worst(&self.sent.refused), &self.sent.end) {
            (Err(error), ..) => Exit::of(error),
            (_, _, SendEnd::NotPermitted(_)) => Exit::NotPermitted,
            (_, Some(exit), _) => exit,
            _ if self.heard.refused > 0 || self.heard.nothing_was_read() => Exit::Refused,
            (_, _, SendEnd::Done) => Exit::Done,
            _ => Exit::Kept,
        };
        let end = match &ended {
            Ok(End::Lines) => "lines",
            Ok(End::Interrupted) => "interrupted",
            Ok(End::Stopped) => "stopped",
            Ok(End::Unread) => "unread",
            Err(_) => "failed",
        };
        let fate = match (&self.sent.end, self.kept) {
            (_, 0) => "",
            (SendEnd::Done, _) if self.sent.refused.is_empty() => ", all at the shop server",
            (SendEnd::Done, _) => ", some refused",
            _ => ", some kept unsent",
        };
        let text = format!("{}: {}{fate}\n", shown::job_words(&job), self.heard.summary(self.kept));
        let refused: Vec<Value> = self.sent.refused.iter().map(shown::refused_json).collect();
        let json = json!({ "job": shown::job_json(&job), "lines": self.heard.json(), "entries": self.kept,
            "sent": self.sent.sent.len(), "waiting": self.sent.waiting, "refused": refused, "end": end });
        let text = if self.output == Output::Json { format!("{json}\n") } else { printable(&text) };
        self.written(text.as_bytes())?;
        let mut notes: Vec<String> = ended.err().map(|error| error.to_string()).into_iter().collect();
        if self.heard.nothing_was_read() {
            notes.push("no line could be read; look at the column map".to_owned());
        }
        notes.extend(waiting_note(&self.sent));
        let mut answer = Answer::new(String::new(), Value::Null).noting(notes).ending(exit);
        answer.raw = Some(Vec::new());
        Ok(answer.noting(self.station.take_notices()))
    }
}
