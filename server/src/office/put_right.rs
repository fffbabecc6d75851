//! Putting an entry of a job right: stated anew in the place of the wrong one, or withdrawn, always with a reason.
//!
//! It is the correction that a bay or a terminal states, with the same bounds; where it has to be signed, the PIN is asked
//! right after. Never here: whether it has to be, which the engine says.

use super::Office;
use super::bay;
use super::bay::envelope::NO_ANSWERS;
use super::fact::{Wrong, entry_id};
use super::frame::TextBox;
use super::guard::{Filled, SignedForm, SignedIn};
use super::language::say;
use super::station::{OfficeStation, StatedOnce, Statement, new_id};
use super::trouble::{Trouble, capital};
use crate::convert::words;
use crate::door::Peer;
use crate::rpc::station::to_sign_inside_bounds;
use crate::signing;
use crate::status::Cause;
use axum::extract::{Path, State};
use axum::http::StatusCode;
use axum::response::{IntoResponse as _, Redirect, Response};
use maud::{Markup, html};
use prost::Message as _;
use standpipe_proto::v1::{
    AsTyped, Correction, Entry, Fact, SignRequest, correction::Outcome, fact::Kind, header::Subject,
};
use standpipe_proto::words::again::{self, Asked, StatedField};
use standpipe_proto::words::answer;
use standpipe_proto::words::descriptor::{KindWords, Words};
use standpipe_store::JobRow;
use std::sync::Arc;

/// Most characters of a reason.
const REASON_LENGTH: usize = 400;
/// What the boxes of the fact are called beside those of the form.
const OF_FACT: &str = "fact-";
/// The button that withdraws.
const WITHDRAW: &str = "withdraw";

/// The entry that is to be put right, as it counts now.
struct Found {
    row: JobRow,
    /// Printed number of its job.
    number: String,
    entry: String,
    /// What it says, in words.
    sentence: String,
    kind: &'static KindWords,
    fields: Vec<StatedField>,
}

/// Shows what is stated, to be put right.
pub(super) async fn ask(
    State(office): State<Arc<Office>>,
    person: SignedIn,
    Path((job, entry)): Path<(String, String)>,
) -> Result<Markup, Trouble> {
    let found = found(&office, &job, &entry).await?;
    let request = new_id(office.now_us(), &*office.entropy)?.to_string();
    let filled = Filled::beforehand(
        found.fields.iter().map(|field| (boxed(&field.name), field.text.clone())).collect(),
    );
    let content = page(&person, &found, &request, &filled, &Wrong::default());
    Ok(office.page(&person, &say!(page_put_right), content))
}

/// States the correction.
pub(super) async fn put_right(
    State(office): State<Arc<Office>>,
    Path((job, entry)): Path<(String, String)>,
    SignedForm(person, filled): SignedForm,
) -> Result<Response, Trouble> {
    let found = found(&office, &job, &entry).await?;
    let id = entry_id(&filled)?;
    let mut wrong = Wrong::default();
    if filled.text("reason").is_empty() {
        wrong.say("reason", say!(page_put_right_reason_missing));
    }
    if let Some((outcome, as_typed)) = outcome(&found, &filled, &mut wrong).filter(|_| wrong.is_empty()) {
        let correction = Correction {
            corrected_entry_id: found.entry.clone(),
            reason: filled.text("reason").to_owned(),
            outcome: Some(outcome),
        };
        let kind = Kind::Correction(Box::new(correction));
        let subject = Subject::JobId(found.row.job_id.to_string());
        let statement = Statement { subject, entry_id: id, kind, as_typed };
        match OfficeStation::state_once(&office, &person.code, statement).await {
            Ok(StatedOnce::Stated) => {
                let waits = signing::waits(&office.workshop, &found.row, &id.to_string()).await?;
                let job = format!("/job/{}", found.number);
                let next = if waits { format!("{job}/sign/{id}") } else { job };
                return Ok(Redirect::to(&next).into_response());
            }
            Ok(StatedOnce::IdentityUsed) => return Err(Trouble::SentBefore),
            Err(Cause::OutsideBounds(found)) => {
                for violation in found {
                    let field = violation.field.rsplit('.').next().unwrap_or_default();
                    let name = if field == "reason" { field.to_owned() } else { boxed(field) };
                    wrong.say(&name, say!(page_wrong_box, &violation.what));
                }
            }
            Err(cause) => return Err(cause.into()),
        }
    }
    let content = page(&person, &found, filled.text("request"), &filled, &wrong);
    let page = office.page(&person, &say!(page_put_right), content);
    Ok((StatusCode::UNPROCESSABLE_ENTITY, page).into_response())
}

/// The entry of the job, with the fields that count now: those of its latest correction, else its own.
async fn found(office: &Office, job: &str, entry: &str) -> Result<Found, Trouble> {
    let workshop = &*office.workshop;
    let row = workshop.find(job).await?;
    let computed = workshop.computed(&row).await?;
    let line = computed.view.story.iter().find(|line| line.entry_id == entry);
    let line = line.filter(|line| !NO_ANSWERS.contains(&line.kind)).ok_or(Trouble::NoPage)?;
    let mut stated: Option<(Fact, Vec<AsTyped>)> = None;
    for stored in workshop.journal.read_job(row.job_id).await? {
        let Ok(Entry { header: Some(header), fact: Some(fact) }) = Entry::decode(&*stored.bytes) else {
            continue;
        };
        match fact.kind {
            Some(Kind::Correction(correction)) if correction.corrected_entry_id == entry => {
                if let Some(Outcome::Replacement(right)) = correction.outcome {
                    stated = Some((*right, header.as_typed));
                }
            }
            kind if header.entry_id == entry => stated = Some((Fact { kind }, header.as_typed)),
            _ => {}
        }
    }
    let (fact, as_typed) = stated.ok_or(Trouble::NoPage)?;
    let damaged = |error| Cause::internal("putting an entry right", &error);
    let (name, fields) = again::fields(&fact, &as_typed).map_err(damaged)?;
    let kind = Words::get().map_err(damaged)?.kind(&name).ok_or(Trouble::NoPage)?;
    let sentence = capital(&words(workshop.language(&row), &line.text)?);
    let number = workshop.printed(&row);
    Ok(Found { number, row, entry: entry.to_owned(), sentence, kind, fields })
}

/// What becomes of the entry; nothing where what stands in the boxes makes no fact, which is noted.
fn outcome(found: &Found, filled: &Filled, wrong: &mut Wrong) -> Option<(Outcome, Vec<AsTyped>)> {
    if filled.text("do") == WITHDRAW {
        return Some((Outcome::Withdrawn(true), Vec::new()));
    }
    let names: Vec<String> = found.fields.iter().map(|field| boxed(&field.name)).collect();
    let boxes = found.fields.iter().zip(&names);
    let said: Vec<(&str, &str)> =
        boxes.map(|(field, name)| (field.name.as_str(), filled.text(name))).collect();
    match answer::stated(found.kind.name(), &said) {
        Ok(read) => Some((Outcome::Replacement(Box::new(read.fact)), read.as_typed)),
        Err(error) => {
            let (field, sentence) = bay::unfit(&error, found.kind, &said);
            let sentence = capital(&format!("{}.", sentence.trim_end_matches('.')));
            match found.fields.iter().any(|known| known.name == field) {
                true => wrong.say(&boxed(&field), sentence),
                false => wrong.others.push(sentence),
            }
            None
        }
    }
}

/// The box of a field.
fn boxed(field: &str) -> String {
    format!("{OF_FACT}{field}")
}

fn page(person: &SignedIn, found: &Found, request: &str, filled: &Filled, wrong: &Wrong) -> Markup {
    let reason = TextBox {
        name: "reason",
        label: &say!(page_what_is_wrong_with_it),
        hint: &say!(page_put_right_reason_hint),
        value: filled.text("reason"),
        wrong: wrong.of("reason"),
        length: REASON_LENGTH,
        ..TextBox::PLAIN
    };
    let address = format!("/job/{}/put-right/{}", found.number, found.entry);
    html! {
        h1 { (say!(page_put_right)) }
        p { (found.sentence) }
        p { (say!(page_put_right_lead)) }
        @if !wrong.is_empty() {
            div role="alert" {
                p.wrong { (say!(page_nothing_was_stated_yet_put_right)) }
                @if !wrong.others.is_empty() { ul { @for what in &wrong.others { li { (what) } } } }
            }
        }
        form method="post" action=(address) {
            (person.key_box())
            input type="hidden" name="request" value=(request);
            @for field in &found.fields { (asked(field, filled, wrong)) }
            (reason.show())
            p.ways {
                button type="submit" name="do" value="replace" { (say!(page_put_right_replace)) }
                button type="submit" name="do" value=(WITHDRAW) { (say!(page_withdraw_it)) }
            }
        }
        p.ways { a href={ "/job/" (found.number) } { (say!(page_put_right_back, &found.number)) } }
    }
}

/// The box of a field.
fn asked(field: &StatedField, filled: &Filled, wrong: &Wrong) -> Markup {
    let name = boxed(&field.name);
    let (value, wrong) = (filled.text(&name), wrong.of(&name));
    let label = capital(&say!(page_field, field.name.replace('_', "-"), field.name.replace('_', " ")));
    let options: Vec<String> = match &field.asked {
        Asked::Nothing => return html! { input type="hidden" name=(name) value=(value); },
        Asked::Text { length } => {
            let length = *length;
            return TextBox { name: &name, label: &label, value, wrong, length, ..TextBox::PLAIN }.show();
        }
        Asked::Choice(words) => words.clone(),
        Asked::YesNo => ["no", "yes"].map(str::to_owned).into(),
    };
    let about = format!("{name}-about");
    html! {
        div.box {
            label for=(name) { (label) }
            select id=(name) name=(name) aria-describedby=(about) aria-invalid[wrong.is_some()] {
                option value="" { (say!(page_not_stated)) }
                @for word in &options {
                    option value=(word) selected[word == value] { (say!(page_choice_word, word.replace('-', " "), word.as_str())) }
                }
            }
            span {}
            span.wrong id=(about) { @if let Some(wrong) = wrong { (wrong) } }
        }
    }
}

/// Asks for the PIN that a correction waits for.
pub(super) async fn ask_pin(
    State(office): State<Arc<Office>>,
    person: SignedIn,
    Path((job, entry)): Path<(String, String)>,
) -> Result<Markup, Trouble> {
    let row = office.workshop.find(&job).await?;
    let number = office.workshop.printed(&row);
    Ok(office.page(&person, &say!(page_sign_title), pin_page(&person, &number, &entry, None)))
}

/// Takes the PIN.
pub(super) async fn sign(
    State(office): State<Arc<Office>>,
    Path((job, entry)): Path<(String, String)>,
    peer: Option<axum::Extension<Peer>>,
    SignedForm(person, filled): SignedForm,
) -> Result<Response, Trouble> {
    let workshop = &office.workshop;
    let row = workshop.find(&job).await?;
    let number = workshop.printed(&row);
    let address = peer.map(|axum::Extension(peer)| peer.address.ip());
    let (person_code, pin) = (person.code.clone(), filled.text("pin").to_owned());
    let request = SignRequest { job: number.clone(), person_code, pin, entry_ids: vec![entry.clone()] };
    let signed = match to_sign_inside_bounds(&request) {
        Ok(()) => signing::sign(workshop, &office.station.who(), address, request).await,
        Err(cause) => Err(cause),
    };
    let why = match signed {
        Ok(_) => return Ok(Redirect::to(&format!("/job/{number}")).into_response()),
        Err(Cause::OutsideBounds(found)) => {
            found.first().map(|violation| say!(page_wrong_box, &violation.what)).unwrap_or_default()
        }
        Err(cause @ (Cause::PinNotGood | Cause::PinTriedTooOften { .. } | Cause::PinsBusy)) => {
            capital(&format!("{cause}."))
        }
        Err(cause) => return Err(cause.into()),
    };
    let content = pin_page(&person, &number, &entry, Some(&why));
    let page = office.page(&person, &say!(page_sign_title), content);
    Ok((StatusCode::UNPROCESSABLE_ENTITY, page).into_response())
}

fn pin_page(person: &SignedIn, number: &str, entry: &str, wrong: Option<&str>) -> Markup {
    let pin = TextBox {
        name: "pin",
        label: &say!(page_pin),
        kind: "password",
        wrong,
        length: 12,
        first: true,
        ..TextBox::PLAIN
    };
    html! {
        h1 { (say!(page_sign_title)) }
        p { (say!(page_sign_lead, &person.name)) }
        form method="post" action={ "/job/" (number) "/sign/" (entry) } {
            (person.key_box())
            (pin.show())
            button type="submit" { (say!(page_sign_it)) }
        }
        p.ways { a href={ "/job/" (number) } { (say!(page_sign_later)) } }
    }
}
