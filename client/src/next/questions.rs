//! The engine of the questions: events in, actions out, no input or output of its own.
//!
//! A step is asked field by field; its answers become one entry; then the steps that remain are found out again. An
//! event that does not fit the moment changes nothing.

mod asides;
mod stop;

use super::asked::{Asked, Done};
use super::present::Screen;
use super::{Action, Event, Key, Remaining};
use crate::words::{self, ReadFact};
use standpipe_proto::v1::{Finding, Step};
use std::collections::VecDeque;

/// The questions of one job.
#[derive(Debug)]
pub struct Questions {
    job: String,
    persons: Vec<String>,
    steps: Vec<Step>,
    away: Option<String>,
    /// What stops the work as the server sees it.
    stops: Vec<Finding>,
    /// True when an entry was kept since the steps were found out last.
    answered: bool,
    /// Names of steps that were put off, the first put off first.
    later: Vec<String>,
    before: Before,
    at: At,
    presses: usize,
    screen: Screen,
}

/// What 'back' at the first field of a step goes back to.
#[derive(Debug, Clone)]
enum Before {
    Nothing,
    PutOff,
    Stated(Box<Former>),
}

/// The entry kept last.
#[derive(Debug, Clone)]
struct Former {
    entry_id: String,
    /// The step that it answered; nothing for one that was left out.
    step: Option<Step>,
    kind: String,
    line: String,
}

/// The moment.
#[derive(Debug)]
enum At {
    Person,
    /// Something was asked of the outside.
    Waiting,
    /// An entry is being kept; with the step that it answers, to be asked again if it cannot be kept.
    Keeping {
        asked: Option<Box<Asked>>,
        kind: String,
        /// Facts that are kept after it.
        then: VecDeque<(Box<ReadFact>, String)>,
    },
    Gate(Box<Asked>),
    Asking(Box<Asked>),
    Skipping(Box<Asked>),
    /// The steps that remain are listed, and the step stands back meanwhile; with the digits typed so far.
    Listing(Box<Asked>, String),
    /// The job is about to be stopped.
    Stopping(Box<Asked>, stop::Stop),
    /// The entry before is shown, and the step stands back meanwhile.
    Former(Box<Former>),
    /// A correction is complete but for its reason.
    Reason {
        entry_id: String,
        kind: String,
        instead: Option<Box<ReadFact>>,
    },
    Ended,
}

impl Questions {
    /// Begins the questions of a job. `persons` are the codes of those who worked here, the one who works now first;
    /// `columns` is the width of the terminal, where it says so.
    #[must_use]
    pub fn begin(job: &str, persons: &[String], columns: Option<usize>) -> (Self, Vec<Action>) {
        let mut questions = Self {
            job: job.to_owned(),
            persons: persons.to_vec(),
            steps: Vec::new(),
            away: None,
            stops: Vec::new(),
            // Who begins in the middle reads first what the work before said.
            answered: true,
            later: Vec::new(),
            before: Before::Nothing,
            at: At::Person,
            presses: 0,
            screen: Screen::of(columns),
        };
        let actions = if persons.len() > 1 {
            let shown = persons.iter().map(String::as_str);
            let enter = format!("Enter: {}", persons.first().map_or("", String::as_str));
            vec![Action::Say(questions.screen.numbered("Who works?", shown, &enter))]
        } else {
            questions.at = At::Waiting;
            vec![Action::Fetch]
        };
        (questions, actions)
    }

    /// Keys pressed so far; a line counts its signs and its end.
    #[must_use]
    pub fn presses(&self) -> usize {
        self.presses
    }

    /// True where single keys answer, so that nothing is typed.
    #[must_use]
    pub fn takes_single_keys(&self) -> bool {
        !matches!(&self.at, At::Asking(asked) if asked.is_typed())
    }

    /// Takes an event and says what is to be done.
    pub fn step(&mut self, event: Event) -> Vec<Action> {
        match (event, std::mem::replace(&mut self.at, At::Waiting)) {
            (_, At::Ended) => self.end(""),
            (Event::Closed | Event::Key(Key::Interrupt), _) => {
                self.end("what was kept is kept; standpipe next goes on here\n")
            }
            (Event::Steps(remaining), At::Waiting) => self.remain(remaining),
            (Event::Gate(answer), At::Gate(mut asked)) => {
                asked.gate = Some(answer);
                self.show(asked)
            }
            (Event::Kept { entry_id, line }, At::Keeping { asked, kind, then }) => {
                self.kept(entry_id, line, asked, kind, then)
            }
            (Event::NotKept(why), At::Keeping { asked, .. }) => self.not_kept(&why, asked),
            (Event::Aged, At::Asking(asked)) if asked.has_known() => {
                let words = "what was read before was read too long ago; it is asked again";
                vec![Action::Say(self.screen.wrapped("! ", words)), Action::Fetch]
            }
            (Event::Key(key), at) => {
                self.presses += 1;
                self.key(key, at)
            }
            (Event::Text(text), at) => {
                self.presses += text.chars().count() + 1;
                self.text(&text, at)
            }
            (Event::Line(line), at) => {
                self.presses += line.chars().count() + 1;
                self.line(&line, at)
            }
            (_, at) => {
                self.at = at;
                Vec::new()
            }
        }
    }

    fn end(&mut self, words: &str) -> Vec<Action> {
        self.at = At::Ended;
        let say = (!words.is_empty())
            .then(|| Action::Say(format!("\n{}", self.screen.wrapped("", words.trim_end()))));
        say.into_iter().chain([Action::End]).collect()
    }

    fn remain(&mut self, remaining: Remaining) -> Vec<Action> {
        let mut actions = Vec::new();
        if remaining.away.is_some() && self.away.is_none() {
            let why = remaining.away.as_deref().unwrap_or_default();
            actions.push(Action::Say(self.screen.wrapped(
                "offline: ",
                &format!("{why}. The questions go on from the last answer, without go-aheads."),
            )));
        } else if remaining.away.is_none() && self.away.is_some() {
            actions.push(Action::Say("the shop server answers again\n".to_owned()));
        }
        self.away = remaining.away;
        self.stops = remaining.stops;
        let known =
            |kind: &str| words::descriptor::Words::get().is_ok_and(|words| words.kind(kind).is_some());
        let (steps, strange): (Vec<_>, Vec<_>) =
            remaining.steps.into_iter().partition(|step| known(&step.kind));
        self.steps = steps;
        if let Some(step) = strange.first() {
            let words = format!("this program cannot state '{}'; update the station", step.question);
            actions.push(Action::Say(self.screen.wrapped("", &words)));
        }
        actions.extend(self.changes_now(&remaining.now));
        let left: Vec<_> = self.steps.iter().map(|step| step.name.clone()).collect();
        self.later.retain(|name| left.contains(name));
        actions.extend(self.pick());
        actions
    }

    /// What changes what is done next stands with the answer, and is not repeated while a look is asked: who knows the
    /// estimate sees it in the glass. What stops the work stands above the question.
    fn changes_now(&mut self, now: &[String]) -> Option<Action> {
        let answered = std::mem::take(&mut self.answered);
        let looks = self.steps.first().is_some_and(|step| step.kind == "exchange_reading");
        let lines = now.iter().filter(|line| self.stops.iter().all(|stop| stop.text != **line));
        let text: String = lines.map(|line| self.screen.wrapped("> ", line)).collect();
        (!text.is_empty() && (answered || !looks)).then_some(Action::Say(text))
    }

    /// Begins the first step that was not put off, alone or with the one it comes after; when all were, the one put
    /// off first.
    fn pick(&mut self) -> Vec<Action> {
        if self.steps.is_empty() {
            let mut actions = self.stopped_by();
            actions.extend(self.end(&format!("{}: nothing is left to ask\n", self.job)));
            return actions;
        }
        let mut actions = Vec::new();
        if self.unblocked().is_none() {
            self.later.clear();
            self.before = Before::Nothing;
            actions.push(Action::Say("\nwhat was put off is asked again\n".to_owned()));
        }
        match self.unblocked() {
            Some(step) => actions.extend(self.ask(step)),
            None => actions.extend(self.end("")),
        }
        actions
    }

    fn unblocked(&self) -> Option<Step> {
        let mut blocked: Vec<&str> = self.later.iter().map(String::as_str).collect();
        for step in &self.steps {
            let waits = !step.after.is_empty() && blocked.contains(&step.after.as_str());
            if !waits && !blocked.contains(&step.name.as_str()) {
                return Some(step.clone());
            }
            blocked.push(&step.name);
        }
        None
    }

    /// The step behind one that is only confirmed, where it is only confirmed too: one key says both. Two conditions,
    /// or two cautions, are looked at one by one.
    fn confirmed_with(&self, step: &Step) -> Option<Step> {
        let only_confirmed = |step: &Step| step.fields.is_empty() && step.gate.is_empty();
        let at = self.steps.iter().position(|listed| listed.name == step.name)?;
        let next = self.steps.get(at + 1).filter(|_| only_confirmed(step))?;
        let apart = next.kind == step.kind || self.later.contains(&next.name);
        (only_confirmed(next) && !apart).then(|| next.clone())
    }

    fn ask(&mut self, step: Step) -> Vec<Action> {
        let gate = step.gate.clone();
        let mut asked = Box::new(Asked::new(step));
        asked.together = self.confirmed_with(&asked.step);
        match (&self.away, gate.is_empty()) {
            (_, true) => self.show(asked),
            (Some(why), false) => {
                asked.gate = Some(Err(why.clone()));
                self.show(asked)
            }
            (None, false) => {
                self.at = At::Gate(asked);
                vec![Action::AskGate(gate)]
            }
        }
    }

    /// Shows the head of a step and asks its field.
    fn show(&mut self, asked: Box<Asked>) -> Vec<Action> {
        let mut actions = vec![Action::Say(self.screen.rule())];
        actions.extend(self.stopped_by());
        actions.extend([
            Action::Head(self.screen.question(&asked)),
            Action::Say(self.screen.below(&asked, self.steps.len())),
        ]);
        actions.extend(self.ask_field(asked));
        actions
    }

    /// What stops the work, each above the way to put it right.
    fn stopped_by(&self) -> Vec<Action> {
        let told = self.stops.iter().flat_map(|finding| {
            [
                Action::Head(self.screen.wrapped("STOP  ", &finding.text)),
                Action::Say(self.screen.put_right(&finding.seqs)),
            ]
        });
        told.collect()
    }

    fn ask_field(&mut self, mut asked: Box<Asked>) -> Vec<Action> {
        let mut text = self.screen.field(&asked);
        if !asked.keys_shown {
            asked.keys_shown = true;
            text.push_str(&self.screen.keys(&asked));
        }
        let prompt = self.screen.prompt(&asked).map(Action::Prompt);
        self.at = At::Asking(asked);
        std::iter::once(Action::Say(text)).chain(prompt).collect()
    }

    fn key(&mut self, key: Key, at: At) -> Vec<Action> {
        match at {
            At::Person => self.person(key),
            At::Asking(mut asked) => {
                let done = asked.key(key);
                let typed = asked.is_typed() && matches!(key, Key::Enter);
                self.done(done, asked, typed)
            }
            At::Skipping(asked) => self.skip_reason(key, asked),
            At::Listing(asked, typed) => self.listed(key, asked, typed),
            At::Stopping(asked, stop) => self.stop(key, asked, stop),
            At::Former(former) => self.former(key, former),
            At::Reason { entry_id, kind, instead } => self.reason(key, entry_id, kind, instead),
            other => {
                self.at = other;
                Vec::new()
            }
        }
    }

    /// A text that came at once, as a scanner types it: it is no keys. It is what is typed, or a code that is chosen.
    fn text(&mut self, text: &str, at: At) -> Vec<Action> {
        let refusal =
            "came at once, as a scanner types it; no such text is asked here, and nothing was chosen";
        let refused = Action::Say(self.screen.wrapped("! ", &format!("'{text}' {refusal}")));
        let At::Asking(mut asked) = at else {
            self.at = at;
            return vec![refused];
        };
        if asked.is_typed() {
            let typed = format!("{}{text}", asked.typed);
            let mut actions = vec![Action::Echo(text.to_owned())];
            let done = asked.line(&typed);
            actions.extend(self.done(done, asked, true));
            return actions;
        }
        match asked.code(text) {
            Some(done) => self.done(done, asked, false),
            None => {
                self.at = At::Asking(asked);
                vec![refused]
            }
        }
    }

    /// A line where single keys cannot be read: what is typed goes to the field, one sign is a key.
    fn line(&mut self, line: &str, at: At) -> Vec<Action> {
        let line = line.trim();
        if let At::Asking(mut asked) = at {
            let signs: Vec<char> = line.chars().collect();
            let command = match signs.as_slice() {
                ['.', sign] if asked.takes_letters() => Some(*sign),
                [sign] if asked.is_typed() && !asked.takes_letters() => Some(*sign),
                _ => None,
            };
            if asked.is_typed() {
                let is_command = |sign: &char| super::asked::COMMANDS.contains(&sign.to_ascii_lowercase());
                let done = match command.filter(is_command) {
                    Some(sign) => Done::Command(sign.to_ascii_lowercase()),
                    None => asked.line(line),
                };
                return self.done(done, asked, false);
            }
            return self.signs(&signs, asked);
        }
        let key = match line.chars().next() {
            Some(sign) if line.chars().count() == 1 => Key::Sign(sign),
            None => Key::Enter,
            _ => Key::Backspace,
        };
        self.key(key, at)
    }

    /// Keys of choices in one line: several of them only where several may be chosen.
    fn signs(&mut self, signs: &[char], mut asked: Box<Asked>) -> Vec<Action> {
        let keys: Vec<_> = signs.iter().filter(|sign| !matches!(sign, ' ' | ',')).collect();
        match keys.as_slice() {
            [] => {
                let done = asked.key(Key::Enter);
                self.done(done, asked, false)
            }
            keys => {
                let one = keys.len() == 1;
                let mut done = Done::Nothing;
                for key in keys {
                    done = asked.key(Key::Sign(**key));
                    if !matches!(done, Done::Chosen) {
                        break;
                    }
                }
                if matches!(done, Done::Chosen) {
                    done = asked.key(Key::Enter);
                } else if !one && !matches!(done, Done::Refused(_)) {
                    return self.again(asked, "one key answers this; nothing was taken");
                }
                self.done(done, asked, false)
            }
        }
    }

    /// Asks the step again from its first field.
    fn again(&mut self, asked: Box<Asked>, why: &str) -> Vec<Action> {
        let mut fresh = Box::new(Asked::new(asked.step));
        (fresh.gate, fresh.corrects, fresh.more) = (asked.gate, asked.corrects, asked.more);
        fresh.together = asked.together;
        let mut actions = vec![Action::Say(self.screen.wrapped("! ", why))];
        actions.extend(self.ask_field(fresh));
        actions
    }

    fn done(&mut self, done: Done, asked: Box<Asked>, typed: bool) -> Vec<Action> {
        // What was typed stands on a line that has no end yet.
        let mut actions: Vec<_> = typed.then(|| Action::Echo("\n".to_owned())).into_iter().collect();
        match done {
            Done::Nothing => self.at = At::Asking(asked),
            Done::Echo(signs) => {
                self.at = At::Asking(asked);
                actions.push(Action::Echo(signs));
            }
            Done::Chosen => {
                let field = asked.field();
                let chosen =
                    asked.chosen.iter().filter_map(|at| field.and_then(|field| field.choices.get(*at)));
                let chosen: Vec<_> = chosen.map(|choice| choice.text.as_str()).collect();
                let words = if chosen.is_empty() { "none".to_owned() } else { chosen.join(", ") };
                actions.push(Action::Say(self.screen.wrapped("  chosen: ", &words)));
                self.at = At::Asking(asked);
            }
            Done::Refused(why) => {
                actions.push(Action::Say(self.screen.wrapped("! ", &why)));
                actions.extend(self.screen.prompt(&asked).map(Action::Prompt));
                self.at = At::Asking(asked);
            }
            Done::Answered(understood) => {
                actions.push(Action::Say(self.screen.wrapped("  = ", &understood)));
                let complete = asked.is_complete() || asked.step.fields.is_empty();
                actions.extend(if complete { self.complete(asked) } else { self.ask_field(asked) });
            }
            Done::Command(command) => {
                if asked.is_typed() && !typed {
                    actions.push(Action::Echo("\n".to_owned()));
                }
                actions.extend(self.command(command, asked));
            }
        }
        actions
    }

    fn complete(&mut self, mut asked: Box<Asked>) -> Vec<Action> {
        let mut facts = match asked.facts() {
            Ok(facts) => VecDeque::from(facts),
            Err(error) => {
                asked.again(&error);
                let mut actions = vec![Action::Say(self.screen.wrapped("! ", &error.to_string()))];
                actions.extend(self.ask_field(asked));
                return actions;
            }
        };
        let Some((fact, kind)) = facts.pop_front() else { return self.pick() };
        match asked.corrects.clone() {
            None => {
                self.at = At::Keeping { asked: Some(asked), kind: kind.clone(), then: facts };
                vec![Action::Keep { fact, kind }]
            }
            Some(entry_id) => {
                self.at = At::Reason { entry_id, kind, instead: Some(fact) };
                vec![self.ask_reason()]
            }
        }
    }

    fn kept(
        &mut self,
        entry_id: Option<String>,
        line: String,
        asked: Option<Box<Asked>>,
        kind: String,
        mut then: VecDeque<(Box<ReadFact>, String)>,
    ) -> Vec<Action> {
        let mut actions = vec![Action::Say(self.screen.wrapped("", &line))];
        let refused = entry_id.is_none();
        self.answered |= !refused;
        self.before = match entry_id {
            // A correction is not put right itself: the original is.
            Some(entry_id) if kind != "correction" => {
                let line = asked.as_ref().map_or_else(|| kind.replace('_', " "), |asked| asked.in_short());
                // Two steps confirmed by one key are two entries, and the second is the last one.
                let step = asked.as_ref().map(|asked| asked.step.clone());
                Before::Stated(Box::new(Former { entry_id, step, kind, line }))
            }
            _ => Before::Nothing,
        };
        match then.pop_front().filter(|_| !refused) {
            Some((fact, kind)) => {
                if let Some(asked) = &asked {
                    self.steps.retain(|step| step.name != asked.step.name);
                }
                self.at = At::Keeping { asked: None, kind: kind.clone(), then };
                actions.push(Action::Keep { fact, kind });
            }
            None => actions.push(Action::Fetch),
        }
        actions
    }

    fn not_kept(&mut self, why: &str, asked: Option<Box<Asked>>) -> Vec<Action> {
        match asked {
            Some(asked) => self.again(asked, why),
            None => {
                let mut actions = vec![Action::Say(self.screen.wrapped("! ", why))];
                actions.extend(self.pick());
                actions
            }
        }
    }
}

#[cfg(test)]
#[path = "../tests/questions.rs"]
mod tests;
