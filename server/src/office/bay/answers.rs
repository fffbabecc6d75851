//! What was answered in a job, and the question of one answer again, so that any of it can be put right at the bay.
//!
//! An answer is asked again by the step that the engine would ask if the answer had never been given. What comes of it goes
//! the way of any correction: [`super::back`]. Never here: what a correction means.

use super::page::Shown;
use super::steps::{MEANS, TEMPERATURE, in_page};
use super::{Bay, Office};
use crate::convert::words;
use crate::office::jobs::clock;
use crate::office::trouble::{Trouble, capital};
use crate::status::Cause;
use axum::extract::{Path, State};
use axum::http::header::CONTENT_TYPE;
use axum::response::IntoResponse;
use prost::Message as _;
use prost_reflect::{DynamicMessage, Kind, Value as Held};
use serde_json::{Value, json};
use standpipe_engine::job::Recorded;
use standpipe_engine::steps::{Step, at_bay};
use standpipe_engine::view::StoryLine;
use standpipe_proto::v1::{Entry, Fact, PresetField, Step as Asked, fact};
use standpipe_proto::words::WordsError;
use standpipe_proto::words::answer;
use standpipe_proto::words::descriptor::{KindWords, Words};
use standpipe_proto::words::reading::choice_word;
use std::collections::HashMap;
use std::sync::Arc;

/// Kinds that the page does not take back: they carry more than one answer, or are nobody's at the bay.
const OF_OFFICE: [&str; 5] = ["arrival", "record_issued", "signature", "handover", "remark"];
/// The key of the sentence that says that an entry was taken back.
const WITHDRAWN: &str = "changed-withdrawn";

/// A step, a kind, and words of its fields.
type OfStep = (&'static str, &'static str, &'static [(&'static str, &'static str)]);

/// THE table: the step, and by which kind and field its answers are known; for the line of the work that they stand in.
const OF_STEP: &[OfStep] = &[
    ("vin", "vin_reading", &[]),
    ("variant", "variant_settled", &[]),
    ("codes-before", "fault_codes", &[("moment", "before")]),
    ("drive-before", "road_test", &[("moment", "before")]),
    ("caution-lifted", "caution_read", &[("group", "lifted")]),
    ("lift-locked", "condition_confirmed", &[("conditions", "lift-locked")]),
    ("high-voltage", "condition_confirmed", &[("conditions", "high-voltage-isolated")]),
    ("sample-before", "fluid_sample", &[]),
    ("fluid", "part_checked", &[("part", "fluid-container")]),
    ("filter", "part_checked", &[("part", "filter")]),
    ("equipment-contents", "equipment_contents", &[]),
    ("caution-line", "caution_read", &[("group", "line-opening")]),
    ("hookup", "hookup", &[]),
    ("caution-engine", "caution_read", &[("group", "engine-running")]),
    ("exchange", "exchange_reading", &[]),
    ("engine-off", "condition_confirmed", &[("conditions", "engine-off,line-closed")]),
    ("caution-pan", "caution_read", &[("group", "pan-and-hot")]),
    ("pan", "drain", &[]),
    ("pan-seen", "part_checked", &[("part", "standpipe")]),
    ("old-filter", "part_checked", &[("part", "old-filter")]),
    ("fitted", "part_fitted", &[]),
    ("screws", "tightening", &[]),
    ("refill", "fill", &[("purpose", "refill")]),
    ("clear", "condition_confirmed", &[("conditions", "pan-closed,tools-and-people-clear")]),
    ("caution-gears", "caution_read", &[("group", "gears-and-level")]),
    ("gears", "gear_cycle", &[]),
    ("level-added", "fill", &[("purpose", "level")]),
    ("temperature", "temperature_reading", &[]),
    ("level", "level_check", &[]),
    ("plug", "plug_closed", &[]),
    ("leaks", "leak_check", &[]),
    ("codes-after", "fault_codes", &[("moment", "after")]),
    ("drive-after", "road_test", &[("moment", "after")]),
    ("waste", "waste", &[]),
];

/// All answers of a job that stand, the latest first, each in a sentence.
pub(super) async fn all(
    State(office): State<Arc<Office>>,
    bay: Bay,
    Path(job): Path<String>,
) -> Result<impl IntoResponse, Trouble> {
    let workshop = &*office.workshop;
    let row = workshop.find_for(&bay.who, &job).await?;
    let language = workshop.language(&row);
    let zone = workshop.adopted(&row).revision.workshop().time_zone.clone();
    let entries = workshop.read(&row).await?.entries;
    let facts: HashMap<u64, Fact> =
        entries.iter().filter_map(|entry| Some((entry.seq, fact_of(&entry.bytes)?))).collect();
    let view = workshop.as_of_now(&row).await?.view;
    let lines = view.story.iter().rev().filter(|line| stands(line));
    let told = lines.map(|line| {
        let step = facts.get(&line.seq).and_then(step_of).unwrap_or_default();
        // One that was put right reads as it is now.
        let text = words(language, line.changed.as_ref().unwrap_or(&line.text))?;
        let at = clock(line.time_us, &zone, "%H:%M");
        Ok(json!({ "id": line.entry_id, "kind": line.kind, "step": step, "said": capital(&text), "at": at }))
    });
    Ok(json_of(&Value::Array(told.collect::<Result<Vec<_>, Trouble>>()?)))
}

/// The step that asks for one answer again; `null` where there is none and the answer can only be taken back.
pub(super) async fn one(
    State(office): State<Arc<Office>>,
    bay: Bay,
    Path((job, entry)): Path<(String, String)>,
) -> Result<impl IntoResponse, Trouble> {
    let workshop = &*office.workshop;
    let mut shown = Shown::read(workshop, &bay, &job).await?;
    let row = workshop.find_for(&bay.who, &job).await?;
    let reading = workshop.read(&row).await?;
    let stated = reading.entries.iter().find_map(|stored| own_fact(&stored.bytes, &entry));
    let Some(fact) = stated else { return Ok(json_of(&Value::Null)) };
    let name = step_of(&fact);
    let (without_it, without_all) = (entry.clone(), name);
    let at = reading
        .ask(move |context, entries| {
            let others = |entries: &[Recorded<'_>], leaves: &dyn Fn(&[u8]) -> bool| {
                let kept: Vec<Recorded<'_>> =
                    entries.iter().filter(|it| !leaves(it.bytes)).copied().collect();
                at_bay(context, &kept)
            };
            let alone = others(entries, &|bytes| is_about(bytes, &without_it));
            if alone.steps.iter().any(|step| Some(step.name) == without_all) {
                return alone;
            }
            // Something that was stated more than once is asked only where none of it stands.
            others(entries, &|bytes| {
                is_about(bytes, &without_it)
                    || fact_of(bytes)
                        .is_some_and(|fact| without_all.is_some() && step_of(&fact) == without_all)
            })
        })
        .await?;
    let step = at.steps.iter().find(|step| Some(step.name) == name).cloned();
    let Some(step) = step else { return Ok(json_of(&Value::Null)) };
    shown.at = at;
    let step = Step { gate: None, after: None, ..step };
    let mut told = in_page(&shown, &step)?;
    keep_presets(&fact, step.kind, &mut told)?;
    Ok(json_of(&told))
}

fn json_of(told: &Value) -> impl IntoResponse + use<> {
    ([(CONTENT_TYPE, "application/json")], told.to_string())
}

/// Whether an answer counts and can be put right here.
fn stands(line: &StoryLine) -> bool {
    !OF_OFFICE.contains(&line.kind)
        && line.kind != "correction"
        && line.changed.as_ref().is_none_or(|changed| changed.key() != WITHDRAWN)
}

fn fact_of(bytes: &[u8]) -> Option<Fact> {
    Entry::decode(bytes).ok()?.fact
}

fn own_fact(bytes: &[u8], entry_id: &str) -> Option<Fact> {
    let entry = Entry::decode(bytes).ok()?;
    entry.header.filter(|header| header.entry_id == entry_id)?;
    entry.fact
}

/// Whether an entry is the one of this id, or puts it right.
fn is_about(bytes: &[u8], entry_id: &str) -> bool {
    let Ok(entry) = Entry::decode(bytes) else { return false };
    let puts_right = match entry.fact.and_then(|fact| fact.kind) {
        Some(fact::Kind::Correction(correction)) => correction.corrected_entry_id == entry_id,
        _ => false,
    };
    puts_right || entry.header.is_some_and(|header| header.entry_id == entry_id)
}

/// The step whose answer a fact is.
fn step_of(fact: &Fact) -> Option<&'static str> {
    let own = Words::get().and_then(|words| words.kind_of(fact)).ok()?;
    let mut rows = OF_STEP.iter().filter(|(_, kind, _)| *kind == own);
    let row = rows.find(|(_, kind, preset)| {
        let preset =
            preset.iter().map(|(name, value)| PresetField { name: (*name).into(), value: (*value).into() });
        let step = Asked { kind: (*kind).to_owned(), preset: preset.collect(), ..Asked::default() };
        answer::answers(fact, &step).unwrap_or(false)
    });
    row.map(|(step, ..)| *step)
}

/// What the step knows by itself stays as the answer said it: where a VIN was read, for example.
fn keep_presets(fact: &Fact, kind: &str, told: &mut Value) -> Result<(), Trouble> {
    let damaged = |error: WordsError| Trouble::from(Cause::internal("reading an answer again", &error));
    let known = Words::get().map_err(damaged)?;
    let Some(kind) = known.kind(kind) else { return Ok(()) };
    let stated = known.message_of(kind, fact).map_err(damaged)?;
    if kind.name() == TEMPERATURE {
        // What it was read with is its own, whatever this tablet was told last; where it said nothing it is asked.
        let means = word_of(kind, &stated, MEANS).unwrap_or_default();
        if let Some(told) = told.as_object_mut() {
            told.insert(MEANS.to_owned(), json!(means));
        }
    }
    let Some(presets) = told.get_mut("preset").and_then(Value::as_array_mut) else { return Ok(()) };
    for preset in presets {
        let name = preset.get(0).and_then(Value::as_str).unwrap_or_default().to_owned();
        if let Some(word) = word_of(kind, &stated, &name) {
            *preset = json!([name, word]);
        }
    }
    Ok(())
}

/// The word of a choice that was stated.
fn word_of(kind: &KindWords, stated: &DynamicMessage, name: &str) -> Option<String> {
    let field = kind.message.get_field_by_name(name).filter(|field| !field.is_list())?;
    let Kind::Enum(choices) = field.kind() else { return None };
    let Held::EnumNumber(number) = *stated.get_field(&field).as_ref() else { return None };
    let value = choices.get_value(number).filter(|_| number != 0)?;
    Some(choice_word(&choices, value.name()))
}

#[cfg(test)]
mod tests {
    use super::*;
    use standpipe_proto::v1;
    use standpipe_proto::words::answer::stated;

    #[test]
    fn every_step_that_is_answered_by_an_entry_of_its_own_is_found_again_by_it() {
        let of_office = ["odometer", "closing"];
        let steps: Vec<&str> =
            standpipe_engine::steps::names().into_iter().filter(|name| !of_office.contains(name)).collect();
        let rows: Vec<&str> = OF_STEP.iter().map(|(step, ..)| *step).collect();
        assert_eq!(rows, steps, "a step without a row, or out of the order of the work");
    }

    #[test]
    fn a_fact_is_found_by_its_kind_and_by_what_its_step_knows() {
        let of = |kind: &str, fields: &[(&str, &str)]| step_of(&stated(kind, fields).unwrap().fact);
        assert_eq!(of("caution_read", &[("group", "pan-and-hot")]), Some("caution-pan"));
        assert_eq!(of("fill", &[("purpose", "level"), ("amount", "0.3 L")]), Some("level-added"));
        assert_eq!(
            of("condition_confirmed", &[("conditions", "engine-off,line-closed")]),
            Some("engine-off")
        );
        assert_eq!(of("skipped", &[("step", "filter"), ("reason", "not-ordered")]), None);
    }

    #[test]
    fn what_a_temperature_was_read_with_is_that_of_the_reading_and_not_of_the_tablet() {
        let kept = |means: v1::TemperatureMeans| {
            let reading = v1::TemperatureReading { means: means.into(), ..Default::default() };
            let fact = Fact { kind: Some(fact::Kind::TemperatureReading(reading)) };
            let mut told = json!({ "preset": [] });
            keep_presets(&fact, TEMPERATURE, &mut told).unwrap();
            told[MEANS].clone()
        };
        assert_eq!(kept(v1::TemperatureMeans::Infrared), json!("infrared"));
        assert_eq!(kept(v1::TemperatureMeans::Unspecified), json!(""), "then it is asked");
    }

    #[test]
    fn where_a_vin_was_read_stays_as_it_was_said() {
        let read = stated("vin_reading", &[("source", "papers"), ("last_eight", "LA042317")]).unwrap();
        let kind = Words::get().unwrap().kind("vin_reading").unwrap();
        let message = Words::get().unwrap().message_of(kind, &read.fact).unwrap();
        assert_eq!(word_of(kind, &message, "source").as_deref(), Some("papers"));
        assert_eq!(word_of(kind, &message, "last_eight"), None);
    }
}
