//! Stopping a job from any question: why, what the customer says, and the end without an exchange. Three facts are
//! kept: a named decision, the customer's answer where there is one, the closing.

use super::{At, Questions};
use crate::error::ClientError;
use crate::next::asked::Asked;
use crate::next::present::label;
use crate::next::{Action, Key};
use crate::words::{self, ReadFact};
use standpipe_proto::words::answer::{CUSTOMER_SAID, STOP_REASONS};
use std::collections::VecDeque;

const STAY: &str = "Enter: go on with the job";

/// What was said so far of why a job is stopped.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Stop {
    reason: Option<usize>,
    said: Option<usize>,
}

impl Questions {
    /// Asks the next thing before a job is stopped.
    pub(super) fn ask_stop(&mut self, asked: Box<Asked>, stop: Stop) -> Vec<Action> {
        let shown = match (stop.reason, stop.said) {
            (None, _) => {
                let reasons = STOP_REASONS.iter().map(|(_, shown, _)| *shown);
                self.screen.numbered("Stop the job. Why?", reasons, STAY)
            }
            (Some(_), None) => {
                let said = CUSTOMER_SAID.iter().map(|(_, shown, _)| *shown);
                self.screen.numbered("What does the customer say?", said, STAY)
            }
            (Some(_), Some(_)) => {
                let sure = ["stop it and close the job"];
                self.screen.numbered("The job ends here, with no exchange done.", sure.into_iter(), STAY)
            }
        };
        self.at = At::Stopping(asked, stop);
        vec![Action::Say(shown)]
    }

    /// Takes an answer before a job is stopped.
    pub(super) fn stop(&mut self, key: Key, asked: Box<Asked>, stop: Stop) -> Vec<Action> {
        let chosen = match key {
            Key::Enter => return self.show(asked),
            Key::Sign(sign) => (0..STOP_REASONS.len()).find(|at| label(*at) == Some(sign)),
            _ => None,
        };
        let within = |count: usize| chosen.filter(|at| *at < count);
        match (stop.reason, stop.said) {
            (None, _) if within(STOP_REASONS.len()).is_some() => {
                self.ask_stop(asked, Stop { reason: chosen, ..stop })
            }
            (Some(_), None) if within(CUSTOMER_SAID.len()).is_some() => {
                self.ask_stop(asked, Stop { said: chosen, ..stop })
            }
            (Some(reason), Some(said)) if within(1).is_some() => self.stopped(asked, reason, said),
            _ => {
                self.at = At::Stopping(asked, stop);
                vec![Action::Say(self.screen.wrapped("! ", "press a number, or Enter to go on with the job"))]
            }
        }
    }

    fn stopped(&mut self, asked: Box<Asked>, reason: usize, said: usize) -> Vec<Action> {
        let mut facts = match stopping(reason, said) {
            Ok(facts) => facts,
            Err(error) => {
                let mut actions = vec![Action::Say(self.screen.wrapped("! ", &error.to_string()))];
                actions.extend(self.ask_field(asked));
                return actions;
            }
        };
        let Some((fact, kind)) = facts.pop_front() else { return self.pick() };
        self.at = At::Keeping { asked: None, kind: kind.clone(), then: facts };
        vec![Action::Keep { fact, kind }]
    }
}

/// The facts of a stopped job, in their order.
fn stopping(reason: usize, said: usize) -> Result<VecDeque<(Box<ReadFact>, String)>, ClientError> {
    let (_, why, topic) = STOP_REASONS.get(reason).copied().unwrap_or_default();
    let (_, _, said) = CUSTOMER_SAID.get(said).copied().unwrap_or_default();
    let mut facts = VecDeque::new();
    let mut state = |kind: &str, flags: &[String]| {
        let flags: Vec<&str> = flags.iter().map(String::as_str).collect();
        words::read_fact(kind, &flags).map(|fact| facts.push_back((Box::new(fact), kind.to_owned())))
    };
    state("decision", &["--point=no-exchange".to_owned(), format!("--reason={why}")])?;
    if !said.is_empty() {
        state("customer_answer", &[format!("--topic={topic}"), format!("--said={said}")])?;
    }
    state("closing", &["--outcome=no-exchange-done".to_owned()])?;
    Ok(facts)
}
