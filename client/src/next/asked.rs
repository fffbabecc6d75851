//! One step while it is asked: which field comes next, what a key means for it, what has been answered.

use super::Key;
use super::present::label;
use crate::error::ClientError;
use crate::words::answer::{self, Answer};
use crate::words::{ReadFact, kebab};
use standpipe_proto::check::CheckError;
use standpipe_proto::v1::{MayResponse, Step, StepChoice, StepField, StepInput};
use std::collections::BTreeSet;

/// Longest text that is typed, in characters; no field of an entry takes more.
const TYPED_MAX: usize = 400;

/// A step while it is asked.
#[derive(Debug, Clone)]
pub(super) struct Asked {
    pub(super) step: Step,
    answers: Vec<Option<Answer>>,
    /// The word chosen for each field, by which others depend on it.
    words: Vec<String>,
    /// For a field that a choice of another stated too: that other.
    settled: Vec<Option<usize>>,
    /// What was understood, in the order in which it was asked.
    told: Vec<String>,
    /// Fields in the order in which they were asked.
    path: Vec<usize>,
    /// The field that is asked; past the last one when all is answered.
    at: usize,
    /// What was typed so far for it.
    pub(super) typed: String,
    /// What was chosen so far for it.
    pub(super) chosen: BTreeSet<usize>,
    /// True when the fields that are not needed are asked too.
    pub(super) more: bool,
    /// The answer for its gate.
    pub(super) gate: Option<Result<Box<MayResponse>, String>>,
    /// The entry that is put right by it.
    pub(super) corrects: Option<String>,
    /// True after the choices of the step's keys were shown.
    pub(super) keys_shown: bool,
    /// A second step that is only confirmed, confirmed by the same key.
    pub(super) together: Option<Step>,
}

/// What a key did.
#[derive(Debug, Clone, PartialEq)]
pub(super) enum Done {
    /// Nothing that needs words.
    Nothing,
    /// Signs to show.
    Echo(String),
    /// The field is answered, or left empty, and this was understood.
    Answered(String),
    /// Not understood; the sentence says why.
    Refused(String),
    /// Choices were changed.
    Chosen,
    /// A command of the questions.
    Command(char),
}

/// Fields that hold a code as it stands on a label.
const CODES: [&str; 2] = ["code", "fluid_code"];

/// Letters that command the questions instead of answering.
pub(super) const COMMANDS: [char; 8] = ['b', 'l', 'w', 's', 'q', 'm', 'o', 'x'];

impl Asked {
    pub(super) fn new(step: Step) -> Self {
        let count = step.fields.len();
        let mut asked = Self {
            step,
            answers: vec![None; count],
            words: vec![String::new(); count],
            settled: vec![None; count],
            told: Vec::new(),
            path: Vec::new(),
            at: 0,
            typed: String::new(),
            chosen: BTreeSet::new(),
            more: false,
            gate: None,
            corrects: None,
            keys_shown: false,
            together: None,
        };
        asked.advance();
        asked
    }

    /// The field that is asked; nothing for a step that is only confirmed.
    pub(super) fn field(&self) -> Option<&StepField> {
        self.step.fields.get(self.at)
    }

    /// True when a line is typed for the field, so that letters belong to it.
    pub(super) fn is_typed(&self) -> bool {
        self.field().is_some_and(|field| {
            matches!(
                field.input(),
                StepInput::Quantity | StepInput::Count | StepInput::Text | StepInput::Unspecified
            )
        })
    }

    /// True when commands are typed after a full stop, because any letter may begin the answer.
    pub(super) fn takes_letters(&self) -> bool {
        self.field().is_some_and(|field| matches!(field.input(), StepInput::Text | StepInput::Unspecified))
    }

    /// True when nothing of the step is left to ask.
    pub(super) fn is_complete(&self) -> bool {
        !self.step.fields.is_empty() && self.at >= self.step.fields.len()
    }

    /// True where the field may be left empty.
    pub(super) fn may_stay_empty(&self) -> bool {
        self.field().is_some_and(|field| !self.is_needed(field))
    }

    /// True when a field is not asked because it was known when the step was found out.
    pub(super) fn has_known(&self) -> bool {
        let known = |name: &str| self.step.preset.iter().any(|preset| preset.name == name);
        self.step.fields.iter().any(|field| known(&field.name))
    }

    /// What else could be told in this step, in words.
    pub(super) fn untold(&self) -> Vec<&str> {
        if self.more {
            return Vec::new();
        }
        let later = self.step.fields.iter().skip(self.at + 1);
        later.filter(|field| field.spare).map(|field| field.ask.as_str()).collect()
    }

    /// What is asked beside the needed fields once more is asked, in words.
    pub(super) fn told_more(&self) -> Vec<&str> {
        let later = self.step.fields.iter().skip(self.at);
        later.filter(|field| field.spare).map(|field| field.ask.as_str()).collect()
    }

    /// The fact that the answers make.
    pub(super) fn fact(&self) -> Result<ReadFact, ClientError> {
        Ok(answer::fact(&self.step, self.answers.iter().flatten())?)
    }

    /// The facts of a step that is only confirmed, and of the one confirmed with it.
    pub(super) fn facts(&self) -> Result<Vec<(Box<ReadFact>, String)>, ClientError> {
        let mut facts = vec![(Box::new(self.fact()?), self.step.kind.clone())];
        if let Some(step) = &self.together {
            facts.push((Box::new(answer::fact(step, std::iter::empty())?), step.kind.clone()));
        }
        Ok(facts)
    }

    /// The step and what was answered, in one line.
    pub(super) fn in_short(&self) -> String {
        let told: Vec<&str> = self.told.iter().map(String::as_str).collect();
        format!("{} {}", self.step.question, told.join(" · "))
    }

    /// Goes back to the field asked before; false at the first.
    pub(super) fn back(&mut self) -> bool {
        let Some(before) = self.path.pop() else { return false };
        self.told.pop();
        self.at = before;
        self.forget();
        true
    }

    /// Asks the field again that an error is about, or the first one.
    pub(super) fn again(&mut self, error: &ClientError) {
        let wrong = match error {
            ClientError::Outside(CheckError::Outside(violations)) => violations.first().map(|violation| {
                let name = violation.field.rsplit('.').next().unwrap_or_default();
                name.split('[').next().unwrap_or_default().replace(' ', "_")
            }),
            _ => None,
        };
        let wrong = wrong.and_then(|name| self.step.fields.iter().position(|field| field.name == name));
        let wrong = wrong.unwrap_or(0);
        self.at = self.settled.get(wrong).copied().flatten().unwrap_or(wrong);
        self.path.retain(|asked| *asked < self.at);
        self.told.truncate(self.path.len());
        self.forget();
    }

    /// Takes a key.
    pub(super) fn key(&mut self, key: Key) -> Done {
        let Some(field) = self.field().cloned() else { return self.confirm(key) };
        match field.input() {
            StepInput::Choice => self.choose(&field, key),
            StepInput::Choices => self.tick(&field, key),
            _ => self.typing(&field, key),
        }
    }

    /// Takes a text that came at once for a field that is chosen: in a menu of codes the code that it is, or another
    /// code where that is a choice; nothing where no code is asked.
    pub(super) fn code(&mut self, text: &str) -> Option<Done> {
        let field = self.field().filter(|field| field.input() == StepInput::Choice)?.clone();
        // A choice that states more than the code was not read from a label.
        let code_of = |choice: &StepChoice| match choice.also.as_slice() {
            [only] if CODES.contains(&only.name.as_str()) => Some(only.value.clone()),
            _ => None,
        };
        let wanted = plain(text);
        let equal =
            field.choices.iter().find(|choice| code_of(choice).is_some_and(|code| plain(&code) == wanted));
        if let Some(choice) = equal {
            return Some(self.take(&field, &choice.word.clone()));
        }
        let states_code = field
            .choices
            .iter()
            .flat_map(|choice| &choice.also)
            .any(|also| CODES.contains(&also.name.as_str()));
        let another = field.choices.iter().find(|choice| choice.also.is_empty()).filter(|_| states_code)?;
        match self.take(&field, &another.word.clone()) {
            Done::Answered(_) if self.takes_letters() => Some(self.line(text)),
            other => Some(other),
        }
    }

    /// Takes a whole typed line for a field that is typed.
    pub(super) fn line(&mut self, line: &str) -> Done {
        self.typed = line.chars().filter(|sign| !sign.is_control()).take(TYPED_MAX).collect();
        let field = self.field().cloned().unwrap_or_default();
        self.typing(&field, Key::Enter)
    }

    /// A step without fields: one key that is no other answer's, so that nobody confirms it in passing.
    fn confirm(&mut self, key: Key) -> Done {
        match key {
            Key::Sign('1') => {
                self.told.push("confirmed".to_owned());
                Done::Answered("confirmed".to_owned())
            }
            Key::Sign(sign) if is_command(sign) => Done::Command(sign.to_ascii_lowercase()),
            _ => Done::Refused("press 1 to confirm; Enter does not".to_owned()),
        }
    }

    fn choose(&mut self, field: &StepField, key: Key) -> Done {
        match key {
            Key::Enter if !field.proposal.is_empty() => self.take(field, &field.proposal.clone()),
            Key::Enter | Key::Sign('0') if self.may_stay_empty() => self.leave(),
            Key::Sign(sign) => match chosen(field, sign) {
                Some(at) => {
                    let word = field.choices.get(at).map(|choice| choice.word.clone()).unwrap_or_default();
                    self.take(field, &word)
                }
                None if is_command(sign) => Done::Command(sign.to_ascii_lowercase()),
                None => Done::Refused(format!("'{sign}' is none of the choices")),
            },
            _ => Done::Refused("press the number of a choice".to_owned()),
        }
    }

    fn tick(&mut self, field: &StepField, key: Key) -> Done {
        match key {
            Key::Enter if !self.chosen.is_empty() => {
                let words = self.chosen.iter().filter_map(|at| field.choices.get(*at));
                let words: Vec<_> = words.map(|choice| choice.word.as_str()).collect();
                let alone = answer::alone(&self.step.kind, &field.name).filter(|word| words.contains(word));
                if let Some(word) = alone.filter(|_| words.len() > 1) {
                    let choice = field.choices.iter().find(|choice| choice.word == word);
                    let text = choice.map_or(word, |choice| choice.text.as_str());
                    return Done::Refused(format!(
                        "'{text}' does not go together with another; press the number of what is wrong, then Enter"
                    ));
                }
                self.take(field, &words.join(","))
            }
            Key::Enter if self.may_stay_empty() => self.leave(),
            Key::Sign(sign) => match chosen(field, sign) {
                Some(at) => {
                    if !self.chosen.remove(&at) {
                        self.chosen.insert(at);
                    }
                    Done::Chosen
                }
                None if is_command(sign) => Done::Command(sign.to_ascii_lowercase()),
                None => Done::Refused(format!("'{sign}' is none of the choices")),
            },
            _ => Done::Refused("press the number of each that fits, then Enter".to_owned()),
        }
    }

    fn typing(&mut self, field: &StepField, key: Key) -> Done {
        match key {
            Key::Sign(sign) => {
                let armed = if self.takes_letters() { self.typed == "." } else { self.typed.is_empty() };
                if armed && is_command(sign) {
                    self.typed.clear();
                    return Done::Command(sign.to_ascii_lowercase());
                }
                if sign.is_control() || self.typed.chars().count() >= TYPED_MAX {
                    return Done::Nothing;
                }
                self.typed.push(sign);
                Done::Echo(sign.to_string())
            }
            Key::Backspace => match self.typed.pop() {
                Some(_) => Done::Echo("\u{8} \u{8}".to_owned()),
                None => Done::Nothing,
            },
            _ => {
                let typed = std::mem::take(&mut self.typed).trim().to_owned();
                match typed.as_str() {
                    "" if !field.proposal.is_empty() => self.take(field, &field.proposal.clone()),
                    "" | "-" if self.may_stay_empty() => self.leave(),
                    "" => Done::Refused("an answer is needed here; nothing is proposed".to_owned()),
                    typed => self.take(field, typed),
                }
            }
        }
    }

    /// Takes an answer for the field, or says why not.
    fn take(&mut self, field: &StepField, text: &str) -> Done {
        let taken = match field.choices.iter().find(|choice| choice.word == text) {
            Some(choice) => self.take_choice(field, choice),
            None => self.read(field, text).map(|answer| (shown(field, text, &answer), Some(answer))),
        };
        match taken {
            Ok((understood, answer)) => {
                self.told.push(understood.clone());
                self.put(answer, text);
                Done::Answered(understood)
            }
            Err(error) => {
                self.typed.clear();
                Done::Refused(error.to_string())
            }
        }
    }

    fn read(&self, field: &StepField, text: &str) -> Result<Answer, ClientError> {
        Ok(answer::read(&self.step.kind, field, text)?)
    }

    /// Takes a choice with all that it states of later fields.
    fn take_choice(
        &mut self,
        field: &StepField,
        choice: &StepChoice,
    ) -> Result<(String, Option<Answer>), ClientError> {
        let mut stated = Vec::new();
        for also in &choice.also {
            let Some(at) = self.step.fields.iter().position(|later| later.name == also.name) else {
                continue;
            };
            let later = self.step.fields.get(at).cloned().unwrap_or_default();
            let answer = if also.value.is_empty() { None } else { Some(self.read(&later, &also.value)?) };
            stated.push((at, answer, also.value.clone()));
        }
        let own = if field.name.is_empty() { None } else { Some(self.read(field, &choice.word)?) };
        for (at, answer, word) in stated {
            self.set(at, answer, &word);
            if let Some(place) = self.settled.get_mut(at) {
                *place = Some(self.at);
            }
        }
        Ok((choice.text.clone(), own))
    }

    fn leave(&mut self) -> Done {
        self.told.push("left empty".to_owned());
        self.put(None, "");
        Done::Answered("left empty".to_owned())
    }

    fn set(&mut self, at: usize, answer: Option<Answer>, word: &str) {
        if let Some(place) = self.answers.get_mut(at) {
            *place = answer;
        }
        if let Some(place) = self.words.get_mut(at) {
            word.clone_into(place);
        }
    }

    fn put(&mut self, answer: Option<Answer>, word: &str) {
        self.set(self.at, answer, word);
        self.path.push(self.at);
        self.at += 1;
        self.advance();
    }

    /// Goes on to the next field that is asked.
    fn advance(&mut self) {
        while self.at < self.step.fields.len() && self.is_passed(self.at) {
            // An answer from before something was changed does not stay unseen.
            if self.settled.get(self.at).copied().flatten().is_none() {
                self.set(self.at, None, "");
            }
            self.at += 1;
        }
        self.enter();
    }

    /// Forgets the answer of the field that is asked again, and of those behind it that no earlier one stated.
    fn forget(&mut self) {
        for at in self.at..self.step.fields.len() {
            let by = self.settled.get(at).copied().flatten();
            if by.is_none_or(|by| by >= self.at) {
                self.set(at, None, "");
                if let Some(place) = self.settled.get_mut(at) {
                    *place = None;
                }
            }
        }
        self.enter();
    }

    /// Begins a field: what is proposed among several choices is chosen already.
    fn enter(&mut self) {
        self.typed.clear();
        self.chosen.clear();
        let Some(field) = self.step.fields.get(self.at) else { return };
        if field.input() == StepInput::Choices {
            let proposed: Vec<_> = field.proposal.split(',').collect();
            let places = field.choices.iter().enumerate();
            self.chosen =
                places.filter(|(_, c)| proposed.contains(&c.word.as_str())).map(|(at, _)| at).collect();
        }
    }

    /// True for a field that is not asked: it is known or stated already, depends on another answer, or is asked only
    /// on request.
    fn is_passed(&self, at: usize) -> bool {
        let Some(field) = self.step.fields.get(at) else { return false };
        let known = self.step.preset.iter().any(|preset| preset.name == field.name);
        if known || self.settled.get(at).copied().flatten().is_some() {
            return true;
        }
        match self.dependence(field) {
            Some((fits, _)) => !fits,
            None => !self.more && field.spare,
        }
    }

    fn is_needed(&self, field: &StepField) -> bool {
        field.needed || self.dependence(field).is_some_and(|(fits, needed)| fits && needed)
    }

    /// For a field that depends on another answer: whether it fits, and whether the field is then needed.
    fn dependence(&self, field: &StepField) -> Option<(bool, bool)> {
        let (other, word, needed) = answer::depends(&self.step.kind, &field.name)?;
        let at = self.step.fields.iter().position(|field| field.name == other)?;
        Some((self.words.get(at).is_some_and(|chosen| chosen == word), needed))
    }
}

/// A code without regard to case and blanks.
fn plain(code: &str) -> String {
    code.chars().filter(|sign| !sign.is_whitespace()).flat_map(char::to_uppercase).collect()
}

fn is_command(sign: char) -> bool {
    COMMANDS.contains(&sign.to_ascii_lowercase())
}

/// The place of the choice that a key names.
fn chosen(field: &StepField, sign: char) -> Option<usize> {
    (0..field.choices.len()).find(|at| label(*at) == Some(sign))
}

/// What was understood, in the words of the choices where there are any.
fn shown(field: &StepField, text: &str, answer: &Answer) -> String {
    if field.choices.is_empty() {
        return answer.understood.clone();
    }
    let words = text.split(',').map(|word| {
        let choice = field.choices.iter().find(|choice| choice.word == word);
        choice.map_or_else(|| kebab(word), |choice| choice.text.clone())
    });
    words.collect::<Vec<_>>().join(", ")
}
