//! Settling the variant of an open job by what was just entered: looked up by name, with source and day.
//!
//! From then on the job is judged by the revision in use, in which the variant stands. Never here: whether that is enough
//! for a go-ahead, which is the engine's.

use super::super::Office;
use super::super::fact::entry_id;
use super::super::guard::{SignedForm, SignedIn};
use super::super::jobs::clock;
use super::super::station::{OfficeStation, StatedOnce, Statement, new_id};
use super::super::trouble::Trouble;
use crate::office::language::{Words, say, word};
use axum::extract::{Path, State};
use axum::response::Redirect;
use maud::{Markup, html};
use standpipe_engine::catalogue::Variant;
use standpipe_engine::text::sentence;
use standpipe_proto::v1::fact::Kind;
use standpipe_proto::v1::{Answer, SettledBy, VariantSettled, header::Subject};
use standpipe_store::{SummaryFilter, SummaryOrder};
use std::sync::Arc;

/// Most jobs that are offered.
const OFFERS_MAX: usize = 20;
/// Most characters of a source.
const SOURCE_LENGTH: usize = 200;

/// Answers to whether the plate on the transmission agrees.
const PLATE: [(Answer, Words); 3] = [
    (Answer::Unspecified, sentence::page_not_looked_at_yet),
    (Answer::Yes, sentence::page_agrees),
    (Answer::No, sentence::page_does_not_agree),
];

/// One open job without a variant.
struct Offer {
    number: String,
    plate: String,
    request: String,
}

/// The open jobs whose variant is not settled; the one that the variant was entered for stands first.
pub(super) async fn offers(
    office: &Office,
    person: &SignedIn,
    code: &str,
    first: &str,
) -> Result<Markup, Trouble> {
    let mut offers = open_jobs(office).await?;
    offers.sort_by_key(|offer| offer.number != first);
    offers.truncate(OFFERS_MAX);
    Ok(html! {
        @if !offers.is_empty() {
            h2 { (say!(page_jobs_whose_variant_is_open)) }
            @for offer in &offers {
                form.search method="post" action={ "/job/" (offer.number) "/variant" } {
                    (person.key_box())
                    input type="hidden" name="request" value=(offer.request);
                    input type="hidden" name="code" value=(code);
                    div {
                        label for={ "plate-" (offer.number) } { (say!(page_offer_plate, &offer.number, &offer.plate)) }
                        select id={ "plate-" (offer.number) } name="plate" {
                            @for (answer, words) in PLATE { option value=(answer.as_str_name()) { (word(words)) } }
                        }
                    }
                    button type="submit" { (say!(page_settle_by_it, &offer.number)) }
                }
            }
        }
    })
}

async fn open_jobs(office: &Office) -> Result<Vec<Offer>, Trouble> {
    let workshop = &*office.workshop;
    crate::lines::refresh(workshop).await?;
    let order = SummaryOrder::Rank { after: None };
    let filter = SummaryFilter { text: String::new(), open_only: true, order, customers: false };
    let mut offers = Vec::new();
    for summary in workshop.beside.summaries(&filter, standpipe_store::PAGE_ROWS_MAX).await? {
        let Some(row) = workshop.journal.job(summary.job_id).await? else { continue };
        let computed = workshop.computed(&row).await?;
        if computed.view.vehicle.variant.is_none() {
            let request = new_id(office.now_us(), &*office.entropy)?.to_string();
            offers.push(Offer { number: workshop.printed(&row), plate: summary.plate, request });
        }
    }
    Ok(offers)
}

/// Settles the variant of a job.
pub(in crate::office) async fn settle(
    State(office): State<Arc<Office>>,
    Path(job): Path<String>,
    SignedForm(person, filled): SignedForm,
) -> Result<Redirect, Trouble> {
    let workshop = &*office.workshop;
    let row = workshop.find(&job).await?;
    let catalogue = workshop.catalogue();
    let now = &catalogue.now().revision;
    let variant = now.variant(filled.text("code")).ok_or(Trouble::NoPage)?;
    let answer = PLATE.iter().find(|(answer, _)| answer.as_str_name() == filled.text("plate"));
    let plate = answer.map_or(Answer::Unspecified, |(answer, _)| *answer);
    let day = clock(office.now_us(), &now.workshop().time_zone, "%Y-%m-%d");
    let kind = Kind::VariantSettled(looked_up(variant, plate, day));
    let (subject, entry_id) = (Subject::JobId(row.job_id.to_string()), entry_id(&filled)?);
    let statement = Statement { subject, entry_id, kind, as_typed: Vec::new() };
    if OfficeStation::state_once(&office, &person.code, statement).await? == StatedOnce::IdentityUsed {
        return Err(Trouble::SentBefore);
    }
    Ok(Redirect::to(&format!("/job/{}", workshop.printed(&row))))
}

/// What is stated: which variant, where it was read and when. Its values stand in the revision that the job is judged by
/// from here on.
fn looked_up(variant: &Variant, plate: Answer, day: String) -> VariantSettled {
    let source = format!("{}, {}", variant.source, variant.edition);
    VariantSettled {
        variant_code: variant.code.clone(),
        means: SettledBy::LookedUp.into(),
        source: source.chars().take(SOURCE_LENGTH).collect(),
        looked_up_date: day,
        transmission_plate_agrees: plate.into(),
        ..VariantSettled::default()
    }
}
