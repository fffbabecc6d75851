//! What was stated of the site, with who and when, and how a wrong one is put right.
//!
//! A fact is never changed: it is withdrawn with a reason and stated again. Both stay to be seen. Never here: what the
//! facts mean together, which is the tallies'.

use super::super::Office;
use super::super::frame::TextBox;
use super::super::guard::{SignedForm, SignedIn};
use super::super::jobs::clock;
use super::super::station::{OfficeStation, StatedOnce, Statement, new_id};
use super::super::trouble::{Trouble, capital};
use super::{FactForm, SENTENCE_LENGTH, entry_id, form_of};
use crate::convert::words;
use crate::office::language::{say, word};
use crate::status::Cause;
use crate::workshop::Workshop;
use axum::extract::{Path, State};
use axum::http::StatusCode;
use axum::response::{IntoResponse as _, Redirect, Response};
use maud::{Markup, html};
use prost::Message as _;
use standpipe_engine::kind::Typed;
use standpipe_engine::kind::site::SiteFact;
use standpipe_proto::v1::{Correction, Entry, Header, correction::Outcome, fact::Kind, header::Subject};
use standpipe_store::PAGE_ROWS_MAX;
use std::collections::{BTreeMap, HashMap};
use std::sync::Arc;

/// Most lines below a tally.
const LINES_BELOW: usize = 12;
/// Most lines of the page of everything.
const LINES_MAX: usize = 500;

/// One fact as the page shows it.
struct Line {
    entry_id: String,
    kind: &'static str,
    person: String,
    received_us: i64,
    sentence: String,
    /// What became of it, in a sentence with who and when.
    changed: Option<String>,
    /// Whether it was withdrawn.
    withdrawn: bool,
}

/// The last facts of some kinds, as a part of another page.
pub(in crate::office) async fn lately(workshop: &Workshop, kinds: &[&str]) -> Result<Markup, Trouble> {
    let mut lines = lines(workshop).await?;
    lines.retain(|line| kinds.contains(&line.kind));
    lines.reverse();
    Ok(html! {
        @if !lines.is_empty() {
            h2 { (say!(page_stated_lately)) }
            (table(workshop, &lines, LINES_BELOW).await?)
            @if lines.len() > LINES_BELOW { p.only-screen { a href="/stated" { (say!(page_all_that_was_stated)) } } }
        }
    })
}

/// The page of everything that was stated of the site.
pub(in crate::office) async fn show(
    State(office): State<Arc<Office>>,
    person: SignedIn,
) -> Result<Markup, Trouble> {
    let mut lines = lines(&office.workshop).await?;
    lines.reverse();
    let content = html! {
        h1 { (say!(page_what_was_stated_of_the_workshop)) }
        @if lines.is_empty() { p { (say!(page_nothing_yet)) } }
        @else { (table(&office.workshop, &lines, LINES_MAX).await?) }
        @if lines.len() > LINES_MAX { p { (say!(page_the_first_are_left_out_here, (lines.len() - LINES_MAX).to_string())) } }
    };
    Ok(office.page(&person, &say!(page_what_was_stated), content))
}

async fn table(workshop: &Workshop, lines: &[Line], most: usize) -> Result<Markup, Trouble> {
    let zone = workshop.catalogue().now().revision.workshop().time_zone.clone();
    let names = names(workshop).await?;
    Ok(html! {
        table.stack {
            thead {
                tr {
                    th scope="col" { (say!(page_time)) } th scope="col" { (say!(page_what)) } th scope="col" { (say!(page_by)) }
                    th.only-screen scope="col" { (say!(page_if_it_is_wrong)) }
                }
            }
            tbody {
                @for line in lines.iter().take(most) {
                    tr id={ "entry-" (line.entry_id) } {
                        td.time { (clock(line.received_us, &zone, "%-d %b %Y, %H:%M")) }
                        td {
                            @if line.withdrawn { s { (line.sentence) } } @else { (line.sentence) }
                            @if let Some(changed) = &line.changed { div { (changed) } }
                        }
                        td { (named(&names, &line.person)) }
                        td.only-screen {
                            @if !line.withdrawn { a href={ "/put-right/" (line.entry_id) } { (say!(page_put_right)) } }
                        }
                    }
                }
            }
        }
    })
}

async fn names(workshop: &Workshop) -> Result<HashMap<String, String>, Trouble> {
    let persons = workshop.beside.persons().await?.into_iter();
    Ok(persons.filter_map(|person| Some((person.code, person.name?))).collect())
}

fn named<'a>(names: &'a HashMap<String, String>, code: &'a str) -> &'a str {
    names.get(code).filter(|name| !name.is_empty()).map_or(code, String::as_str)
}

/// Every fact of the site that a station stated, in the order of the journal.
async fn lines(workshop: &Workshop) -> Result<Vec<Line>, Trouble> {
    let zone = workshop.catalogue().now().revision.workshop().time_zone.clone();
    let names = names(workshop).await?;
    let (mut lines, mut places): (Vec<Line>, BTreeMap<String, usize>) = (Vec::new(), BTreeMap::new());
    let mut from_seq = 1;
    loop {
        let page = workshop.journal.read_site(from_seq, PAGE_ROWS_MAX).await?;
        let Some(last) = page.last() else { break };
        from_seq = last.seq + 1;
        for stored in &page {
            // An entry that cannot be decoded is named by verify.
            let Ok(Entry { header: Some(header), fact: Some(fact) }) = Entry::decode(&*stored.bytes) else {
                continue;
            };
            let Some(kind) = fact.kind else { continue };
            if let Kind::Correction(correction) = &kind {
                let line = places.get(&correction.corrected_entry_id).and_then(|place| lines.get_mut(*place));
                let at = clock(stored.received_us, &zone, "%-d %b %Y, %H:%M");
                let by = format!("{}, {at}", named(&names, &header.person_code));
                if let Some(line) = line {
                    put_right(workshop, line, (&header, correction), &by)?;
                }
            } else if let Some(fact) = SiteFact::read(&kind, Typed(&header.as_typed)) {
                places.insert(header.entry_id.clone(), lines.len());
                lines.push(Line {
                    entry_id: header.entry_id,
                    kind: fact.name(),
                    person: header.person_code,
                    received_us: stored.received_us,
                    sentence: in_words(workshop, &fact)?,
                    changed: None,
                    withdrawn: false,
                });
            }
        }
    }
    Ok(lines)
}

fn put_right(
    workshop: &Workshop,
    line: &mut Line,
    (header, correction): (&Header, &Correction),
    by: &str,
) -> Result<(), Trouble> {
    let reason = &correction.reason;
    match &correction.outcome {
        Some(Outcome::Withdrawn(true)) => {
            line.withdrawn = true;
            line.changed = Some(say!(page_withdrawn, by, reason));
        }
        Some(Outcome::Replacement(fact)) => {
            let right = fact.kind.as_ref().and_then(|kind| SiteFact::read(kind, Typed(&header.as_typed)));
            if let Some(right) = right.filter(|right| right.name() == line.kind && !line.withdrawn) {
                let before = std::mem::replace(&mut line.sentence, in_words(workshop, &right)?);
                line.changed = Some(say!(page_before_changed, before, by, reason));
            }
        }
        _ => {}
    }
    Ok(())
}

fn in_words(workshop: &Workshop, fact: &SiteFact) -> Result<String, Trouble> {
    let language = workshop.catalogue().now().revision.workshop().language;
    Ok(capital(&words(language, &fact.sentence())?))
}

/// The fact that is to be put right, unless it was withdrawn already, and the form it was stated with.
async fn found(workshop: &Workshop, entry: &str) -> Result<(Line, &'static FactForm), Trouble> {
    let lines = lines(workshop).await?;
    let line = lines.into_iter().find(|line| line.entry_id == entry && !line.withdrawn);
    let line = line.ok_or(Trouble::NoPage)?;
    let form = form_of(line.kind).ok_or(Trouble::NoPage)?;
    Ok((line, form))
}

/// Asks why a fact is wrong.
pub(in crate::office) async fn ask(
    State(office): State<Arc<Office>>,
    person: SignedIn,
    Path(entry): Path<String>,
) -> Result<Markup, Trouble> {
    let (line, form) = found(&office.workshop, &entry).await?;
    let request = new_id(office.now_us(), &*office.entropy)?.to_string();
    Ok(office.page(&person, &say!(page_put_right), page(&person, &line, form, &request, ("", None))))
}

/// Withdraws it.
pub(in crate::office) async fn withdraw(
    State(office): State<Arc<Office>>,
    Path(entry): Path<String>,
    SignedForm(person, filled): SignedForm,
) -> Result<Response, Trouble> {
    let (reason, request) = (filled.text("reason").to_owned(), entry_id(&filled)?);
    let correction = Correction {
        corrected_entry_id: entry.clone(),
        reason: reason.clone(),
        outcome: Some(Outcome::Withdrawn(true)),
    };
    let statement = Statement {
        subject: Subject::SiteId(office.workshop.site_id.clone()),
        entry_id: request,
        kind: Kind::Correction(Box::new(correction)),
        as_typed: Vec::new(),
    };
    if office.workshop.journal.entry(request).await?.is_some() {
        // The form was sent again, and what it withdrew is not there any more.
        return match OfficeStation::state_once(&office, &person.code, statement).await? {
            StatedOnce::Stated => Ok(Redirect::to("/stated").into_response()),
            StatedOnce::IdentityUsed => Err(Trouble::SentBefore),
        };
    }
    let (line, form) = found(&office.workshop, &entry).await?;
    match OfficeStation::state_once(&office, &person.code, statement).await {
        Ok(StatedOnce::Stated) => Ok(Redirect::to(form.shown_on).into_response()),
        Ok(StatedOnce::IdentityUsed) => Err(Trouble::SentBefore),
        Err(Cause::OutsideBounds(found)) => {
            let wrong = found.first().map(|violation| say!(page_wrong_box, &violation.what));
            let content = page(&person, &line, form, filled.text("request"), (&reason, wrong.as_deref()));
            let page = office.page(&person, &say!(page_put_right), content);
            Ok((StatusCode::UNPROCESSABLE_ENTITY, page).into_response())
        }
        Err(cause) => Err(cause.into()),
    }
}

fn page(
    person: &SignedIn,
    line: &Line,
    form: &FactForm,
    request: &str,
    (value, wrong): (&str, Option<&str>),
) -> Markup {
    let reason = TextBox {
        name: "reason",
        label: &say!(page_what_is_wrong_with_it),
        hint: &say!(page_it_stays_to_be_seen_with),
        value,
        wrong,
        length: SENTENCE_LENGTH,
        first: true,
        ..TextBox::PLAIN
    };
    html! {
        h1 { (say!(page_put_right)) }
        p { (line.sentence) }
        form method="post" action={ "/put-right/" (line.entry_id) } {
            (person.key_box())
            input type="hidden" name="request" value=(request);
            (reason.show())
            button type="submit" { (say!(page_withdraw_it)) }
        }
        p.ways { a href=(form.shown_on) { (say!(page_back_without_withdrawing_it)) } a href={ "/state/" (form.path) } { (word(form.title)) } }
    }
}
