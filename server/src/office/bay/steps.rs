//! What the script asks: steps, gates, words and tables as data of the page.
//!
//! The questions go on without the server, so that all that remains stands in the page, once. The tables are those by
//! which a terminal asks too. Never here: how a question looks, or what an answer means.

use super::page::{Shown, how_far, rests_on};
use super::{Bay, bounds, cautions, live};
use crate::convert::{all_words, step, words};
use crate::office::trouble::Trouble;
use crate::status::Cause;
use serde_json::{Map, Value, json};
use standpipe_engine::gates::{Gate, GoAhead};
use standpipe_engine::steps::Step;
use standpipe_engine::text::{Language, Sentence, sentence, templates};
use standpipe_proto::v1;
use standpipe_proto::words::answer::{
    ALONE, CORRECTION_REASONS, CUSTOMER_SAID, MUST_SAY, ONLY_WITH, SKIP_REASONS, STOP_REASONS,
};

/// Where the words of the script begin among the sentences.
const WORDS: &str = "bay-word-";
/// Where the script puts a sentence into another.
const SAID: &str = "{said}";
/// The field that says how a temperature was read, and its words.
pub(super) const MEANS: &str = "means";
/// The kind of a temperature.
pub(super) const TEMPERATURE: &str = "temperature_reading";
const TEMPERATURE_MEANS: [&str; 3] = ["scan-tool", "thermometer", "infrared"];
/// What is read from outside is no temperature of the fluid, and no level is looked at by it.
const FROM_OUTSIDE: &str = "infrared";
/// What goes with the job.
pub(super) struct Data(Value);

impl Data {
    pub(super) fn of(shown: &Shown) -> Result<Self, Trouble> {
        let mut texts = Texts::default();
        let steps = shown.at.steps.iter().map(|it| {
            let mut told = in_page(shown, it)?;
            if let Some(caution) = told.get_mut("caution") {
                let place = texts.place(caution.as_str().unwrap_or_default());
                *caution = json!(place);
            }
            Ok(told)
        });
        let steps = steps.collect::<Result<Vec<Value>, Trouble>>()?;
        let mut gates = Map::new();
        for (gate, answer) in &shown.at.gates {
            gates.insert(gate.name().to_owned(), go_ahead(shown, &mut texts, *gate, answer)?);
        }
        let now = all_words(shown.language, &shown.at.view.now)?;
        let live = live::path(&shown.at.view.head.number, shown.job.row.last_seq, &now);
        Ok(Self(json!({
            "live": live,
            "seq": shown.job.row.last_seq,
            "clock": shown.clock,
            "closed": shown.at.view.head.closed,
            "far": all_words(shown.language, &how_far(shown))?,
            "steps": steps,
            "gates": gates,
            "texts": texts.0,
        })))
    }

    pub(super) fn json(&self) -> Result<String, Trouble> {
        inline(&self.0)
    }
}

/// Texts that several steps and gates have: each stands once, and is named by its place.
#[derive(Default)]
struct Texts(Vec<String>);

impl Texts {
    fn place(&mut self, text: &str) -> usize {
        let known = self.0.iter().position(|known| known == text);
        known.unwrap_or_else(|| {
            self.0.push(text.to_owned());
            self.0.len() - 1
        })
    }
}

/// A step as the script reads it.
pub(super) fn in_page(shown: &Shown, of: &Step) -> Result<Value, Trouble> {
    let mut told = step(shown.language, of)?;
    ask_means(shown.language, &mut told)?;
    let groups = cautions::of(of.name, &shown.at.gates);
    Ok(asked(&told, &groups))
}

/// How a temperature was read is nothing that a tablet knows: it is asked, once a job, and shown at every later reading.
fn ask_means(language: Language, step: &mut v1::Step) -> Result<(), Trouble> {
    if step.kind != TEMPERATURE {
        return Ok(());
    }
    step.preset.retain(|preset| preset.name != MEANS);
    let choice = |word: &'static str| {
        let means = sentence::temperature_means(word);
        let text =
            words(language, &if word == FROM_OUTSIDE { sentence::bay_means_outside(means) } else { means })?;
        Ok(v1::StepChoice { word: word.to_owned(), text, also: Vec::new() })
    };
    let choices = TEMPERATURE_MEANS.map(choice).into_iter().collect::<Result<Vec<_>, Trouble>>()?;
    let field = v1::StepField {
        name: MEANS.to_owned(),
        ask: words(language, &sentence::bay_ask_means())?,
        input: v1::StepInput::Choice.into(),
        choices,
        needed: true,
        ..v1::StepField::default()
    };
    step.fields.insert(0, field);
    Ok(())
}

/// A step in its data. What is empty or not so is left out: it is most of it.
fn asked(step: &v1::Step, groups: &[&str]) -> Value {
    lean(json!({
        "name": step.name,
        "question": step.question,
        "kind": step.kind,
        "fields": step.fields.iter().map(|it| field(&step.kind, it)).collect::<Vec<_>>(),
        "preset": pairs(&step.preset),
        "gate": step.gate,
        "safety": step.safety,
        "repeats": step.repeats,
        "caution": step.caution,
        "groups": groups,
        "after": step.after,
    }))
}

fn lean(mut value: Value) -> Value {
    if let Value::Object(rows) = &mut value {
        rows.retain(|_, row| *row != json!("") && *row != json!(false) && *row != json!([]));
    }
    value
}

fn field(kind: &str, field: &v1::StepField) -> Value {
    let input = match field.input() {
        // Most are, and what most are is left out.
        v1::StepInput::Choice => "",
        v1::StepInput::Choices => "choices",
        v1::StepInput::Quantity => "quantity",
        v1::StepInput::Count => "count",
        v1::StepInput::Text | v1::StepInput::Unspecified => "text",
    };
    let choices = field.choices.iter().map(|it| match it.also.as_slice() {
        [] => json!([it.word, it.text]),
        also => json!([it.word, it.text, pairs(also)]),
    });
    let choices = choices.collect::<Vec<_>>();
    let bounds = if choices.is_empty() { bounds::of(kind, &field.name) } else { Vec::new() };
    lean(json!({
        "name": field.name,
        "ask": field.ask,
        "input": input,
        "choices": choices,
        "units": field.units,
        "bounds": bounds,
        "remembered": kind == "temperature_reading" && field.name == MEANS,
        "proposal": field.proposal,
        "why": field.proposal_reason,
        "needed": field.needed,
        "spare": field.spare,
    }))
}

fn pairs(fields: &[v1::PresetField]) -> Value {
    fields.iter().map(|field| json!([field.name, field.value])).collect()
}

/// The answer of a gate: what it says, what it rests on, what is against it, and what a named person may decide of that.
fn go_ahead(shown: &Shown, texts: &mut Texts, gate: Gate, answer: &GoAhead) -> Result<Value, Trouble> {
    let name = sentence::bay_gate(gate.name());
    let said = match answer.yes {
        true => sentence::bay_yes(shown.hours.as_str(), name),
        false => sentence::bay_no(name),
    };
    let rests = (answer.yes && !answer.basis.is_empty()).then(|| rests_on(shown, answer)).transpose()?;
    let basis = rests.map(|basis| texts.place(&basis));
    let mut why: Vec<usize> = basis.into_iter().collect();
    for caution in &answer.cautions {
        why.push(texts.place(&shown.words(caution)?));
    }
    let mut missing = Vec::new();
    let mut decidable = Vec::new();
    for it in &answer.missing {
        let text = texts.place(&shown.words(&it.text)?);
        let decides = !it.stops && answer.decidable.contains(&it.key);
        let kind = if it.stops {
            "stops"
        } else if decides {
            "decidable"
        } else {
            ""
        };
        missing.push(json!([text, kind]));
        if decides {
            decidable.push(json!([it.key, text]));
        }
    }
    Ok(json!({
        "yes": answer.yes,
        "said": shown.words(&said)?,
        "basis": basis,
        "missing": missing,
        "why": why,
        "decidable": decidable,
    }))
}

/// What does not go with the job: words, tables, who stands at the page.
pub(super) fn fixed(shown: &Shown, bay: &Bay) -> Result<String, Trouble> {
    let said = |sentence: Sentence| shown.words(&sentence);
    let mut own = Map::new();
    for template in templates(WORDS) {
        let key = template.key().trim_start_matches(WORDS).to_owned();
        own.insert(key, Value::String(shown.words(&template)?));
    }
    let skips = SKIP_REASONS.map(|(word, _)| Ok(json!([word, said(sentence::bay_skip_reason(word))?])));
    let corrections =
        CORRECTION_REASONS.map(|(word, _)| Ok(json!([word, said(sentence::bay_correction_reason(word))?])));
    let stops =
        STOP_REASONS.map(|(word, _, topic)| Ok(json!([said(sentence::bay_stop_reason(word))?, topic])));
    let customer =
        CUSTOMER_SAID.map(|(word, _, flag)| Ok(json!([flag, said(sentence::bay_customer_said(word))?])));
    let named = |group: &'static str| {
        Ok(json!([group, said(sentence::bay_caution_name(group))?, said(sentence::bay_caution_line(group))?]))
    };
    let groups = cautions::ALL.into_iter().chain([cautions::HIGH_VOLTAGE]).map(named);
    let groups = groups.collect::<Result<Vec<Value>, Trouble>>()?;
    let all = |rows: Vec<Result<Value, Trouble>>| rows.into_iter().collect::<Result<Vec<Value>, Trouble>>();
    let person = bay.person.as_ref().map_or("", |(code, _)| code.as_str());
    inline(&json!({
        "key": bay.form_key,
        "person": person,
        "persons": bay.persons,
        "words": own,
        "rules": { "only_with": ONLY_WITH, "alone": ALONE, "must_say": MUST_SAY, "together": cautions::TOGETHER },
        "cautions": groups,
        "maker": said(sentence::caution_of_maker(""))?,
        "skip_reasons": all(skips.into())?,
        "correction_reasons": all(corrections.into())?,
        "stop_reasons": all(stops.into())?,
        "customer_said": all(customer.into())?,
        "who": said(sentence::bay_who())?,
        "nobody": said(sentence::bay_nobody())?,
        "against": {
            "stops": said(sentence::bay_nobody_overrides(SAID))?,
            "decidable": said(sentence::bay_decidable(SAID))?,
        },
        "no_persons": said(sentence::bay_no_persons())?,
        "closed": said(sentence::bay_closed())?,
        "nothing": said(sentence::bay_nothing_left())?,
        "office": said(sentence::bay_to_office())?,
    }))
}

/// Data inside a page: no sign of it can end the element that it stands in.
fn inline(value: &Value) -> Result<String, Trouble> {
    let text = serde_json::to_string(value);
    let text = text.map_err(|error| Cause::internal("putting the questions into the page", &error))?;
    Ok(text.replace('<', "\\u003c"))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn no_sign_of_the_data_ends_its_element() {
        let text = inline(&json!({ "plate": "</script><!--" })).unwrap();
        assert!(!text.contains('<'), "{text}");
        assert_eq!(serde_json::from_str::<Value>(&text).unwrap()["plate"], "</script><!--");
    }

    /// One list of words for terminal and page; what the terminal says is what the page says in English.
    #[test]
    fn a_terminal_and_the_page_give_the_same_reasons_in_the_same_words() {
        let said = |sentence: Sentence| words(Language::default(), &sentence).unwrap();
        for (word, shown) in SKIP_REASONS {
            assert_eq!(said(sentence::bay_skip_reason(word)), shown);
        }
        for (word, shown) in CORRECTION_REASONS {
            assert_eq!(said(sentence::bay_correction_reason(word)), shown);
        }
        for (word, shown, _) in STOP_REASONS {
            assert_eq!(said(sentence::bay_stop_reason(word)), shown);
        }
        for (word, shown, _) in CUSTOMER_SAID {
            assert_eq!(said(sentence::bay_customer_said(word)), shown);
        }
    }

    #[test]
    fn a_step_keeps_all_that_an_answer_depends_on() {
        let choice = v1::StepChoice {
            word: "all".into(),
            text: "all of it".into(),
            also: vec![v1::PresetField { name: "kit".into(), value: "A8-II".into() }],
        };
        let step = v1::Step {
            name: "fitted".into(),
            kind: "part_fitted".into(),
            safety: true,
            fields: vec![v1::StepField {
                input: v1::StepInput::Choice.into(),
                choices: vec![choice],
                needed: true,
                ..v1::StepField::default()
            }],
            ..v1::Step::default()
        };
        let read = asked(&step, &["lifted"]);
        assert_eq!(read["fields"][0]["choices"][0], json!(["all", "all of it", [["kit", "A8-II"]]]));
        assert_eq!((&read["safety"], &read["fields"][0]["needed"]), (&json!(true), &json!(true)));
    }
}
