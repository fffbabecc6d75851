//! Forms that state a fact of the site: what came into the store, a count, a check of a tool and the like.
//!
//! A form is a row of [`forms::FORMS`]: its boxes, and the function that reads them. What is stated passes the one table
//! of bounds at the office's own station; whatever it finds stands beside its box. Never here: a bound, or what a fact
//! means. What was stated is shown by [`stated`].

mod forms;
mod read;
pub(super) mod stated;

use super::Office;
use super::frame::TextBox;
use super::guard::{Filled, SignedForm, SignedIn};
use super::language::{Words, say, unit, word};
use super::station::{OfficeStation, StatedOnce, Statement, new_id};
use super::trouble::Trouble;
use crate::status::Cause;
use axum::extract::{Path, Query, State};
use axum::http::StatusCode;
use axum::response::{IntoResponse as _, Redirect, Response};
use maud::{Markup, html};
use read::Reader;
use standpipe_proto::check::violations;
use standpipe_proto::typed::Quantity;
use standpipe_proto::v1::{Fact, fact::Kind, header::Subject};
use standpipe_store::EntryId;
use std::sync::Arc;

pub(super) use read::Wrong;

/// Most characters of a box for a sentence.
const SENTENCE_LENGTH: usize = 400;

/// A form.
pub(super) struct FactForm {
    /// Last part of its address.
    pub(super) path: &'static str,
    /// Name of the kind of fact, as in the messages.
    pub(super) kind: &'static str,
    /// Title, and the words of the link to it.
    pub(super) title: Words,
    /// What to know before filling it in.
    lead: Option<Words>,
    /// The page that shows what was stated.
    pub(super) shown_on: &'static str,
    parts: &'static [Part],
    /// Boxes that stand for a choice of the message, by its name.
    choices: &'static [(&'static str, &'static str)],
    read: fn(&mut Reader<'_>) -> Kind,
}

/// Boxes under one legend.
struct Part {
    legend: Words,
    boxes: &'static [Ask],
}

/// A box.
enum Ask {
    /// For a code or a few words.
    Text { name: &'static str, label: Words, hint: Option<Words>, length: usize },
    /// For a sentence.
    Sentence { name: &'static str, label: Words, hint: Option<Words> },
    /// For a number with its unit.
    Number { name: &'static str, label: Words, unit: &'static str, hint: Option<Words> },
    /// For a day.
    Day { name: &'static str, label: Words, hint: Option<Words> },
    /// One of a few words.
    Choice { name: &'static str, label: Words, options: &'static [(&'static str, Words)] },
}

/// Links to forms, by their addresses.
pub(super) fn links(paths: &[&str]) -> Markup {
    let known = paths.iter().filter_map(|path| forms::FORMS.iter().find(|form| form.path == *path));
    html! { @for form in known { a href={ "/state/" (form.path) } { (word(form.title)) } } }
}

/// The form of a kind of fact.
pub(super) fn form_of(kind: &str) -> Option<&'static FactForm> {
    forms::FORMS.iter().find(|form| form.kind == kind)
}

fn form_at(path: &str) -> Result<&'static FactForm, Trouble> {
    forms::FORMS.iter().find(|form| form.path == path).ok_or(Trouble::NoPage)
}

/// Shows a form; what stands in its address is filled in.
pub(super) async fn ask(
    State(office): State<Arc<Office>>,
    person: SignedIn,
    Path(path): Path<String>,
    Query(beforehand): Query<Vec<(String, String)>>,
) -> Result<Markup, Trouble> {
    let form = form_at(&path)?;
    let request = new_id(office.now_us(), &*office.entropy)?.to_string();
    let content = page(form, &person, &request, &Filled::beforehand(beforehand), &Wrong::default());
    Ok(office.page(&person, &word(form.title), content))
}

/// States the fact, or shows the form again with what is wrong in it.
pub(super) async fn state(
    State(office): State<Arc<Office>>,
    Path(path): Path<String>,
    SignedForm(person, filled): SignedForm,
) -> Result<Response, Trouble> {
    let form = form_at(&path)?;
    let (wrong, request) = match stated(&office, form, &person, &filled).await? {
        Outcome::Stated => return Ok(Redirect::to(form.shown_on).into_response()),
        Outcome::Wrong(wrong) => (wrong, filled.text("request").to_owned()),
        // What stands in it was not stated; under a new identity it can be.
        Outcome::IdentityUsed => {
            let mut wrong = Wrong::default();
            let said = say!(page_form_sent_before);
            wrong.others.push(said);
            (wrong, new_id(office.now_us(), &*office.entropy)?.to_string())
        }
    };
    let content = page(form, &person, &request, &filled, &wrong);
    let page = office.page(&person, &word(form.title), content);
    Ok((StatusCode::UNPROCESSABLE_ENTITY, page).into_response())
}

/// What became of a form that was sent.
enum Outcome {
    Stated,
    Wrong(Wrong),
    /// The same form stated something else before.
    IdentityUsed,
}

async fn stated(
    office: &Arc<Office>,
    form: &FactForm,
    person: &SignedIn,
    filled: &Filled,
) -> Result<Outcome, Trouble> {
    let entry_id = entry_id(filled)?;
    let mut reader = Reader::new(filled, form.kind, form.choices);
    let kind = (form.read)(&mut reader);
    if !reader.wrong.is_empty() {
        // What can be read already is held against its bounds as well, so that all is said at once.
        reader.note(violations(&Fact { kind: Some(kind) }));
        return Ok(Outcome::Wrong(reader.wrong));
    }
    let subject = Subject::SiteId(office.workshop.site_id.clone());
    let as_typed = std::mem::take(&mut reader.as_typed);
    let statement = Statement { subject, entry_id, kind, as_typed };
    match OfficeStation::state_once(office, &person.code, statement).await {
        Ok(StatedOnce::Stated) => Ok(Outcome::Stated),
        Ok(StatedOnce::IdentityUsed) => Ok(Outcome::IdentityUsed),
        Err(Cause::OutsideBounds(found)) => {
            reader.note(found);
            Ok(Outcome::Wrong(reader.wrong))
        }
        Err(cause) => Err(cause.into()),
    }
}

/// The identity that a form carries, so that sending it twice states one fact.
pub(super) fn entry_id(filled: &Filled) -> Result<EntryId, Trouble> {
    let request = uuid::Uuid::try_parse(filled.text("request")).map_err(|_| Trouble::ForeignForm)?;
    Ok(EntryId(request.into_bytes()))
}

fn page(form: &FactForm, person: &SignedIn, request: &str, filled: &Filled, wrong: &Wrong) -> Markup {
    html! {
        h1 { (word(form.title)) }
        @if let Some(lead) = form.lead { p { (word(lead)) } }
        @if !wrong.is_empty() {
            div role="alert" {
                p.wrong { (say!(page_nothing_was_stated_yet_put_right)) }
                @if !wrong.others.is_empty() { ul { @for what in &wrong.others { li { (what) } } } }
            }
        }
        form method="post" action={ "/state/" (form.path) } {
            (person.key_box())
            input type="hidden" name="request" value=(request);
            @for (number, part) in form.parts.iter().enumerate() {
                fieldset {
                    legend { (word(part.legend)) }
                    @for (place, ask) in part.boxes.iter().enumerate() {
                        (shown(ask, filled, wrong, number == 0 && place == 0))
                    }
                }
            }
            button type="submit" { (say!(page_state_it)) }
        }
        p.ways { a href=(form.shown_on) { (say!(page_back_without_stating_anything)) } }
    }
}

fn shown(ask: &Ask, filled: &Filled, wrong: &Wrong, first: bool) -> Markup {
    let one = |name: &'static str, label: &Words, beside: &str, hint: &Option<Words>, length: usize| {
        let (value, wrong) = (filled.text(name), wrong.of(name));
        let (label, unit, hint) = (&word(*label), &unit(beside), &hint.map(word).unwrap_or_default());
        TextBox { name, label, unit, hint, value, length, wrong, first, ..TextBox::PLAIN }.show()
    };
    match ask {
        Ask::Text { name, label, hint, length } => one(name, label, "", hint, *length),
        Ask::Sentence { name, label, hint } => one(name, label, "", hint, SENTENCE_LENGTH),
        Ask::Number { name, label, unit, hint } => one(name, label, unit, hint, 20),
        Ask::Day { name, label, hint } => one(name, label, "", hint, 10),
        Ask::Choice { name, label, options } => {
            let about = format!("{name}-about");
            html! {
                div.box {
                    label for=(name) { (word(*label)) }
                    select id=(name) name=(name) aria-describedby=(about) aria-invalid[wrong.of(name).is_some()] {
                        @for (value, words) in *options {
                            option value=(value) selected[filled.text(name) == *value] { (word(*words)) }
                        }
                    }
                    span {}
                    span.wrong id=(about) { @if let Some(wrong) = wrong.of(name) { (wrong) } }
                }
            }
        }
    }
}

/// The unit beside a box for a quantity, which is added where only the number was typed.
fn unit_of(quantity: Quantity) -> &'static str {
    match quantity {
        Quantity::Mass => "kg",
        Quantity::Temperature => "°C",
        Quantity::Torque => "N·m",
        Quantity::Percent => "%",
        _ => "L",
    }
}
