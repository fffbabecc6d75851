//! The questions as they stand on the terminal: plain text that is wrapped at its width, black on white, no full screen.

use super::asked::Asked;
use standpipe_proto::v1::{MayResponse, Step, StepField, StepInput};
use std::fmt::Write as _;

/// Columns where the terminal does not say how many it has.
pub(super) const COLUMNS: usize = 80;
/// Fewest and most columns of a line: a longer one is hard to follow from two metres.
const COLUMNS_RANGE: (usize, usize) = (32, 100);
/// Keys of choices: numbers, then letters that command nothing.
const LABELS: &str = "123456789acdefghijknprtuvyz";
/// How wide the terminal is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Screen {
    columns: usize,
}

/// Key of the choice at a place, from 0.
pub(super) fn label(at: usize) -> Option<char> {
    LABELS.chars().nth(at)
}

/// Digits of every number in a list of so many steps: all have the same, so that the last one chooses.
pub(super) fn list_width(count: usize) -> usize {
    count.to_string().len()
}

impl Screen {
    /// A screen of so many columns.
    pub(crate) fn of(columns: Option<usize>) -> Self {
        let (least, most) = COLUMNS_RANGE;
        Self { columns: columns.unwrap_or(COLUMNS).clamp(least, most) }
    }

    /// A text in lines of at most the columns, with something before the first and as many spaces before the others.
    pub(crate) fn wrapped(self, before: &str, text: &str) -> String {
        let indent = before.chars().count().min(self.columns / 2);
        let width = self.columns - indent;
        let mut lines: Vec<String> = Vec::new();
        for paragraph in text.split('\n') {
            let mut line = String::new();
            for word in paragraph.split(' ').filter(|word| !word.is_empty()) {
                let mut rest: Vec<char> = word.chars().collect();
                let used = line.chars().count();
                if used > 0 && used + 1 + rest.len() > width {
                    lines.push(std::mem::take(&mut line));
                } else if used > 0 {
                    line.push(' ');
                }
                // A word longer than a line is cut, never run over the edge.
                while line.chars().count() + rest.len() > width {
                    let room = width - line.chars().count();
                    line.extend(rest.drain(..room));
                    lines.push(std::mem::take(&mut line));
                }
                line.extend(rest);
            }
            lines.push(line);
        }
        let mut text = String::new();
        for (at, line) in lines.iter().enumerate() {
            let before = if at == 0 { before.to_owned() } else { " ".repeat(indent) };
            let _ = writeln!(text, "{}", format!("{before}{line}").trim_end());
        }
        text
    }

    /// The line above a step.
    pub(super) fn rule(self) -> String {
        format!("\n{}\n", "-".repeat(self.columns))
    }

    /// How what stops the work is put right, with the places of the entries that it rests on.
    pub(super) fn put_right(self, seqs: &[i64]) -> String {
        let places: Vec<String> = seqs.iter().map(ToString::to_string).collect();
        let words = match places.as_slice() {
            [] => "put it right: o (other step)".to_owned(),
            [place] => format!(
                "it rests on place {place} in the journal; put it right: o (other step), or standpipe correct {place}"
            ),
            [before @ .., last] => format!(
                "it rests on places {} and {last} in the journal; put it right: o (other step), or standpipe correct \
                 with the place that is wrong, for example {last}",
                before.join(", ")
            ),
        };
        self.wrapped("      ", &words)
    }

    /// The question of a step, which with what stops the work alone may be set off; with that of the step confirmed by the same key.
    pub(super) fn question(self, asked: &Asked) -> String {
        let mut text = self.wrapped("  ", &asked.step.question);
        if let Some(step) = &asked.together {
            text.push_str(&self.wrapped("  ", &step.question));
        }
        text
    }

    /// What stands below the question: what is left, the answer for its gate, its caution.
    pub(super) fn below(self, asked: &Asked, left: usize) -> String {
        let mut text = format!("{}\n", "-".repeat(self.columns));
        if asked.corrects.is_some() {
            text.push_str("put right what was kept before\n");
        } else if left > 1 {
            let _ = writeln!(text, "{left} steps left");
        }
        if let Some(gate) = &asked.gate {
            text.push_str(&self.go_ahead(&asked.step.gate.replace('-', " "), gate));
        }
        text.push_str(&self.cautions(asked));
        text
    }

    fn cautions(self, asked: &Asked) -> String {
        let steps = std::iter::once(&asked.step).chain(&asked.together);
        let cautions = steps.filter(|step| !step.caution.is_empty());
        cautions.map(|step| self.wrapped("CAUTION  ", &step.caution)).collect()
    }

    fn go_ahead(self, gate: &str, answer: &Result<Box<MayResponse>, String>) -> String {
        match answer {
            Ok(answer) if answer.yes => {
                self.wrapped("", &format!("Yes, go-ahead for {gate}. It ends with the next entry."))
            }
            Ok(answer) => {
                let mut text = self.wrapped("", &format!("No go-ahead for {gate}:"));
                for missing in &answer.missing {
                    let sentence = if missing.stops {
                        format!("{} Nobody can override this.", missing.text)
                    } else {
                        missing.text.clone()
                    };
                    text.push_str(&self.wrapped(if missing.stops { "  STOP  " } else { "  " }, &sentence));
                    if missing.decidable {
                        text.push_str(&self.decides(&missing.key));
                    }
                }
                text
            }
            Err(why) => self.wrapped(
                "",
                &format!("No go-ahead for {gate} is known ({why}); an earlier yes does not count."),
            ),
        }
    }

    /// How a named person decides a point; the command stands in a line of its own, to be typed as it is.
    fn decides(self, point: &str) -> String {
        let words =
            self.wrapped("    … ", "or a named person decides, with the reason, from another terminal:");
        format!("{words}      standpipe add decision --point {point} --reason …\n")
    }

    /// What is asked of a field: its words, its choices, what Enter does. Without the beginning of the typed line.
    pub(super) fn field(self, asked: &Asked) -> String {
        let Some(field) = asked.field() else {
            let words = match (asked.step.caution.is_empty(), &asked.together) {
                (true, None) => "yes",
                (false, None) => "I have read it",
                (_, Some(_)) => "I have read it, and yes",
            };
            return format!("  1  {words}\n");
        };
        let mut text = String::new();
        let listed = matches!(field.input(), StepInput::Choice | StepInput::Choices);
        if listed {
            text.push_str(&self.wrapped("", &field.ask));
            for (at, choice) in field.choices.iter().enumerate() {
                let key = label(at).map_or(' ', |key| key);
                let mark = if asked.chosen.contains(&at) { " (chosen)" } else { "" };
                text.push_str(&self.wrapped(&format!("  {key}  "), &format!("{}{mark}", choice.text)));
            }
        }
        let enter = self.enter(asked, field);
        if !enter.is_empty() {
            text.push_str(&self.wrapped("", &enter));
        }
        text
    }

    /// The beginning of the line that is typed; nothing for choices.
    pub(super) fn prompt(self, asked: &Asked) -> Option<String> {
        let field = asked.field().filter(|_| asked.is_typed())?;
        let units = match field.units.as_slice() {
            [] => String::new(),
            units => format!(" ({})", units.join(" or ")),
        };
        let whole = format!("{}{units}", field.ask);
        let short: String = whole.chars().take(self.columns / 2).collect();
        Some(format!("{short}: "))
    }

    fn enter(self, asked: &Asked, field: &StepField) -> String {
        let proposed = match field.input() {
            StepInput::Choices if !asked.chosen.is_empty() => "Enter: as chosen".to_owned(),
            StepInput::Choices if !asked.may_stay_empty() => "each that fits, then Enter".to_owned(),
            StepInput::Choices => "each that fits, then Enter; Enter alone: none".to_owned(),
            _ if !field.proposal.is_empty() => {
                let shown = field.choices.iter().find(|choice| choice.word == field.proposal);
                format!("Enter: {}", shown.map_or(&field.proposal, |choice| &choice.text))
            }
            _ if asked.may_stay_empty() => "Enter: leave it empty".to_owned(),
            _ => return String::new(),
        };
        match (asked.may_stay_empty() && !field.proposal.is_empty(), field.input()) {
            (true, StepInput::Choice) => format!("{proposed} · 0: leave it empty"),
            (true, StepInput::Choices) | (false, _) => proposed,
            (true, _) => format!("{proposed} · -: leave it empty"),
        }
    }

    /// The keys that are always there.
    pub(super) fn keys(self, asked: &Asked) -> String {
        let dot = if asked.takes_letters() { "." } else { "" };
        let mut keys = format!("{dot}b back · {dot}l later · {dot}o other step · {dot}w why · ");
        if !asked.step.safety && asked.corrects.is_none() {
            let _ = write!(keys, "{dot}s skip · ");
        }
        let _ = write!(keys, "{dot}x stop the job · {dot}q quit");
        let untold = asked.untold();
        if !untold.is_empty() {
            let _ = write!(keys, " · {dot}m also: {}", untold.join(", "));
        }
        self.wrapped("", &keys)
    }

    /// Why the step is asked and what is proposed.
    pub(super) fn why(self, asked: &Asked) -> String {
        let mut text = String::new();
        if let Some(Ok(answer)) = &asked.gate {
            for basis in &answer.basis {
                text.push_str(&self.wrapped("  ", basis));
            }
        }
        if let Some(gate) = &asked.gate {
            text.push_str(&self.go_ahead(&asked.step.gate.replace('-', " "), gate));
        }
        text.push_str(&self.cautions(asked));
        match asked.field() {
            Some(field) if !field.proposal.is_empty() => {
                let reason =
                    if field.proposal_reason.is_empty() { "as known" } else { &field.proposal_reason };
                text.push_str(&self.wrapped("proposed: ", &format!("{} ({reason})", field.proposal)));
            }
            Some(_) => {
                text.push_str(&self.wrapped("", "Nothing is proposed here: look, and say what you see."))
            }
            None => text.push_str(&self.wrapped("", "Safety rests on this; it is confirmed by who looked.")),
        }
        if asked.step.safety {
            text.push_str(&self.wrapped("", "This step is never skipped."));
        }
        text
    }

    /// The steps that remain, a number each.
    pub(super) fn listed(self, steps: &[Step]) -> String {
        let mut text = self.wrapped("", "Which step?");
        for (at, step) in steps.iter().enumerate() {
            let number = format!("  {:0width$}  ", at + 1, width = list_width(steps.len()));
            text.push_str(&self.wrapped(&number, &step.question));
        }
        text.push_str(&self.wrapped("", "Enter: stay here"));
        text
    }

    /// Numbered lines of one key each.
    pub(super) fn numbered<'a>(
        self,
        ask: &str,
        choices: impl Iterator<Item = &'a str>,
        enter: &str,
    ) -> String {
        let mut text = self.wrapped("", ask);
        for (at, choice) in choices.enumerate() {
            text.push_str(&self.wrapped(&format!("  {}  ", label(at).unwrap_or(' ')), choice));
        }
        text.push_str(&self.wrapped("", enter));
        text
    }
}
