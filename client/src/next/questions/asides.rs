//! What is not an answer: back, later, why, skip, quit, and the short questions that they ask themselves.

use super::stop::Stop;
use super::{At, Before, Former, Questions};
use crate::next::asked::Asked;
use crate::next::present::{label, list_width};
use crate::next::{Action, Key};
use crate::words::{self, ReadFact};
use standpipe_proto::words::answer::{CORRECTION_REASONS, SKIP_REASONS};
use std::collections::VecDeque;

impl Questions {
    pub(super) fn command(&mut self, command: char, mut asked: Box<Asked>) -> Vec<Action> {
        match command {
            'b' => return self.back(asked),
            'l' if asked.corrects.is_none() => {
                self.later.push(asked.step.name.clone());
                self.before = Before::PutOff;
                return self.pick();
            }
            's' if asked.corrects.is_none() && asked.step.safety => {
                let mut actions = vec![Action::Say(self.screen.wrapped(
                    "! ",
                    "safety rests on this step: it can be put off with l, but it is never skipped",
                ))];
                actions.extend(self.screen.prompt(&asked).map(Action::Prompt));
                self.at = At::Asking(asked);
                return actions;
            }
            's' if asked.corrects.is_none() => {
                self.at = At::Skipping(asked);
                let reasons = SKIP_REASONS.iter().map(|(_, shown)| *shown);
                return vec![Action::Say(self.screen.numbered(
                    "Why is it left out?",
                    reasons,
                    "Enter: do not skip it",
                ))];
            }
            'o' if asked.corrects.is_none() => {
                let shown = self.screen.listed(&self.steps);
                self.at = At::Listing(asked, String::new());
                return vec![Action::Say(shown)];
            }
            'x' if asked.corrects.is_none() => return self.ask_stop(asked, Stop::default()),
            'q' => return self.end("what was kept is kept; standpipe next goes on here\n"),
            'm' => {
                let told = asked.told_more();
                let words = match (asked.more, told.as_slice()) {
                    (_, []) => "nothing else is asked in this step".to_owned(),
                    (true, told) => format!("already asked in this step: {}", told.join(", ")),
                    (false, told) => {
                        format!("asked too in this step, each when its turn comes: {}", told.join(", "))
                    }
                };
                asked.more = true;
                asked.keys_shown = false;
                let mut actions = vec![Action::Say(self.screen.wrapped("! ", &words))];
                actions.extend(self.ask_field(asked));
                return actions;
            }
            _ => {}
        }
        let words = if command == 'w' {
            self.screen.why(&asked)
        } else {
            self.screen.wrapped("! ", "first put this right, or b")
        };
        let mut actions = vec![Action::Say(words)];
        actions.extend(self.ask_field(asked));
        actions
    }

    pub(super) fn back(&mut self, mut asked: Box<Asked>) -> Vec<Action> {
        if asked.back() {
            return self.ask_field(asked);
        }
        if asked.corrects.is_some() {
            return self.pick();
        }
        match std::mem::replace(&mut self.before, Before::Nothing) {
            Before::PutOff => {
                self.later.pop();
                self.pick()
            }
            Before::Stated(former) => {
                let again = former.step.as_ref().filter(|step| !step.fields.is_empty());
                let mut choices = vec!["withdraw it"];
                choices.extend(again.map(|_| "answer it again"));
                let shown =
                    self.screen.numbered(&former.line, choices.into_iter(), "Enter: leave it as it is");
                self.before = Before::Stated(former.clone());
                self.at = At::Former(former);
                vec![Action::Say(shown)]
            }
            Before::Nothing => {
                let words = "nothing was asked before; standpipe correct puts older entries right";
                let mut actions = vec![Action::Say(self.screen.wrapped("! ", words))];
                actions.extend(self.ask_field(asked));
                actions
            }
        }
    }

    pub(super) fn person(&mut self, key: Key) -> Vec<Action> {
        let chosen = match key {
            Key::Enter => self.persons.first(),
            Key::Sign(sign) => {
                self.persons.iter().enumerate().find(|(at, _)| label(*at) == Some(sign)).map(|(_, p)| p)
            }
            _ => None,
        };
        match (chosen.cloned(), key) {
            (Some(person), _) => vec![Action::Person(person), Action::Fetch],
            (None, Key::Sign('q')) => self.end("nothing was asked\n"),
            (None, _) => {
                self.at = At::Person;
                vec![Action::Say(self.screen.wrapped("! ", "press the number of a person"))]
            }
        }
    }

    pub(super) fn skip_reason(&mut self, key: Key, asked: Box<Asked>) -> Vec<Action> {
        let chosen = match key {
            Key::Enter => return self.show(asked),
            Key::Sign(sign) => SKIP_REASONS.iter().enumerate().find(|(at, _)| label(*at) == Some(sign)),
            _ => None,
        };
        let Some((_, (word, _))) = chosen else {
            self.at = At::Skipping(asked);
            return vec![Action::Say(self.screen.wrapped("! ", "press the number of a reason, or Enter"))];
        };
        let flags = [format!("--step={}", asked.step.name), format!("--reason={word}")];
        match words::read_fact("skipped", &flags.each_ref().map(String::as_str)) {
            Ok(fact) => {
                let kind = "skipped".to_owned();
                self.at = At::Keeping { asked: None, kind: kind.clone(), then: VecDeque::new() };
                vec![Action::Keep { fact: Box::new(fact), kind }]
            }
            Err(error) => {
                let mut actions = vec![Action::Say(self.screen.wrapped("! ", &error.to_string()))];
                actions.extend(self.ask_field(asked));
                actions
            }
        }
    }

    /// Takes a digit of the number of a step that remains; whatever was put off of it is forgotten.
    pub(super) fn listed(&mut self, key: Key, asked: Box<Asked>, mut typed: String) -> Vec<Action> {
        let width = list_width(self.steps.len());
        match key {
            Key::Enter if typed.is_empty() => return self.show(asked),
            Key::Sign(sign) if sign.is_ascii_digit() => typed.push(sign),
            Key::Enter => {}
            _ => return self.unlisted(asked),
        }
        if typed.len() < width && key != Key::Enter {
            let echo = typed.chars().last().map(|sign| Action::Echo(sign.to_string()));
            self.at = At::Listing(asked, typed);
            return echo.into_iter().collect();
        }
        let place = typed.parse::<usize>().ok().and_then(|number| number.checked_sub(1));
        let Some(step) = place.and_then(|place| self.steps.get(place)).cloned() else {
            return self.unlisted(asked);
        };
        self.later.retain(|name| *name != step.name);
        self.ask(step)
    }

    fn unlisted(&mut self, asked: Box<Asked>) -> Vec<Action> {
        let words = match list_width(self.steps.len()) {
            1 => "press the number of a step, or Enter",
            _ => "press both digits of the number of a step, or Enter",
        };
        self.at = At::Listing(asked, String::new());
        vec![Action::Say(self.screen.wrapped("! ", words))]
    }

    pub(super) fn former(&mut self, key: Key, former: Box<Former>) -> Vec<Action> {
        match (key, &former.step) {
            (Key::Enter, _) => self.pick(),
            (Key::Sign('1'), _) => {
                self.at = At::Reason { entry_id: former.entry_id, kind: former.kind, instead: None };
                vec![self.ask_reason()]
            }
            (Key::Sign('2'), Some(step)) if !step.fields.is_empty() => {
                let mut asked = Box::new(Asked::new(step.clone()));
                asked.corrects = Some(former.entry_id);
                self.show(asked)
            }
            _ => {
                self.at = At::Former(former);
                vec![Action::Say(self.screen.wrapped("! ", "press a number, or Enter"))]
            }
        }
    }

    pub(super) fn reason(
        &mut self,
        key: Key,
        entry_id: String,
        kind: String,
        instead: Option<Box<ReadFact>>,
    ) -> Vec<Action> {
        let chosen = match key {
            Key::Enter => return self.pick(),
            Key::Sign(sign) => CORRECTION_REASONS.iter().enumerate().find(|(at, _)| label(*at) == Some(sign)),
            _ => None,
        };
        match chosen {
            Some((_, (_, reason))) => {
                self.before = Before::Nothing;
                self.at = At::Keeping { asked: None, kind: "correction".to_owned(), then: VecDeque::new() };
                vec![Action::Correct { entry_id, kind, instead, reason: (*reason).to_owned() }]
            }
            None => {
                self.at = At::Reason { entry_id, kind, instead };
                vec![Action::Say(self.screen.wrapped("! ", "press the number of a reason, or Enter"))]
            }
        }
    }
}

impl Questions {
    /// Asks why an entry is put right.
    pub(super) fn ask_reason(&self) -> Action {
        Action::Say(self.screen.numbered(
            "Why?",
            CORRECTION_REASONS.iter().map(|(_, shown)| *shown),
            "Enter: leave it as it was",
        ))
    }
}
