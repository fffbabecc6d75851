//! What is not an answer: back, later, why, skip, quit, and the short questions that they ask themselves.

use super::{At, Before, Former, Questions};
use crate::next::asked::Asked;
use crate::next::present::{self, label, numbered};
use crate::next::{Action, Key};
use crate::words::{self, ReadFact};

/// Why a step was left out: words of the flags, and what is shown.
const SKIP_REASONS: [(&str, &str); 5] = [
    ("not-possible", "it was not possible"),
    ("not-ordered", "it was not ordered"),
    ("not-safe", "it was not safe"),
    ("tool-missing", "the tool or instrument is missing"),
    ("later", "it will be done later"),
];
/// Why an entry just kept is put right; printed on the record.
const CORRECTION_REASONS: [&str; 3] =
    ["typed wrongly", "read wrongly", "looked again and saw something else"];

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
                let mut actions = vec![Action::Say(
                    "! safety rests on this step: it can be put off with l, but it is never skipped\n"
                        .to_owned(),
                )];
                actions.extend(present::prompt(&asked).map(Action::Prompt));
                self.at = At::Asking(asked);
                return actions;
            }
            's' if asked.corrects.is_none() => {
                self.at = At::Skipping(asked);
                let reasons = SKIP_REASONS.iter().map(|(_, shown)| *shown);
                return vec![Action::Say(numbered("Why is it left out?", reasons, "Enter: do not skip it"))];
            }
            'q' => return self.end("what was kept is kept; standpipe next goes on here\n"),
            'm' => {
                asked.more = true;
                asked.keys_shown = false;
                return self.ask_field(asked);
            }
            _ => {}
        }
        let words =
            if command == 'w' { present::why(&asked) } else { "! first put this right, or b\n".to_owned() };
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
                let shown = numbered(&former.line, choices.into_iter(), "Enter: leave it as it is");
                self.before = Before::Stated(former.clone());
                self.at = At::Former(former);
                vec![Action::Say(shown)]
            }
            Before::Nothing => {
                let words = "! nothing was asked before; standpipe correct puts older entries right\n";
                let mut actions = vec![Action::Say(words.to_owned())];
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
                vec![Action::Say("! press the number of a person\n".to_owned())]
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
            return vec![Action::Say("! press the number of a reason, or Enter\n".to_owned())];
        };
        let flags = [format!("--step={}", asked.step.name), format!("--reason={word}")];
        match words::read_fact("skipped", &flags.each_ref().map(String::as_str)) {
            Ok(fact) => {
                let kind = "skipped".to_owned();
                self.at = At::Keeping { asked: None, kind: kind.clone() };
                vec![Action::Keep { fact: Box::new(fact), kind }]
            }
            Err(error) => {
                let mut actions = vec![Action::Say(present::wrapped("! ", &error.to_string()))];
                actions.extend(self.ask_field(asked));
                actions
            }
        }
    }

    pub(super) fn former(&mut self, key: Key, former: Box<Former>) -> Vec<Action> {
        match (key, &former.step) {
            (Key::Enter, _) => self.pick(),
            (Key::Sign('1'), _) => {
                self.at = At::Reason { entry_id: former.entry_id, kind: former.kind, instead: None };
                vec![ask_reason()]
            }
            (Key::Sign('2'), Some(step)) if !step.fields.is_empty() => {
                let mut asked = Box::new(Asked::new(step.clone()));
                asked.corrects = Some(former.entry_id);
                self.show(asked)
            }
            _ => {
                self.at = At::Former(former);
                vec![Action::Say("! press a number, or Enter\n".to_owned())]
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
            Some((_, reason)) => {
                self.before = Before::Nothing;
                self.at = At::Keeping { asked: None, kind: "correction".to_owned() };
                vec![Action::Correct { entry_id, kind, instead, reason: (*reason).to_owned() }]
            }
            None => {
                self.at = At::Reason { entry_id, kind, instead };
                vec![Action::Say("! press the number of a reason, or Enter\n".to_owned())]
            }
        }
    }
}

/// Asks why an entry is put right.
pub(super) fn ask_reason() -> Action {
    Action::Say(numbered("Why?", CORRECTION_REASONS.into_iter(), "Enter: leave it as it was"))
}
