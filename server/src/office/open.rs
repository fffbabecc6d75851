//! Opening a job: vehicle, complaint and customer as the office learns them at the booking.
//!
//! Arrival and VIN are facts of the journal, stated by the person who is signed in; the customer and the words of
//! complaint and order stand beside it. All are held against the same table of bounds as what a bay sends.

use super::Office;
use super::frame::TextBox;
use super::guard::{Filled, SignedForm, SignedIn};
use super::language::{Words, say, word};
use super::station::{OfficeStation, new_id};
use super::trouble::Trouble;
use crate::blob::{SALT_BYTES, digest_of, words_of};
use crate::clock::{hex, sixteen, unhex};
use crate::status::Cause;
use crate::workshop::off_the_network;
use axum::extract::State;
use axum::http::StatusCode;
use axum::response::{IntoResponse as _, Redirect, Response};
use maud::{Markup, html};
use standpipe_engine::text::sentence;
use standpipe_proto::check::{Violation, violations};
use standpipe_proto::limits::REMARK_CHARACTERS_MAX;
use standpipe_proto::typed::{self, Quantity};
use standpipe_proto::v1::fact::Kind;
use standpipe_proto::v1::{
    Answer, Arrival, Customer, LoadWord, Remark, RemarkSubject, VinReading, VinSource, VisitReason,
    vin_reading::Reading,
};
use standpipe_store::JobId;
use std::collections::BTreeMap;
use std::sync::Arc;

/// Reasons as they can be ticked.
const REASONS: [(VisitReason, Words); 8] = [
    (VisitReason::ServiceDue, sentence::page_service_due_by_distance_or_time),
    (VisitReason::HarshChange, sentence::page_gear_changes_are_harsh),
    (VisitReason::LateChange, sentence::page_gear_changes_come_late),
    (VisitReason::Shudder, sentence::page_the_vehicle_shudders),
    (VisitReason::Noise, sentence::page_noise),
    (VisitReason::Slip, sentence::page_the_transmission_slips),
    (VisitReason::Leak, sentence::page_fluid_under_the_vehicle),
    (VisitReason::WarningLamp, sentence::page_warning_lamp),
];

/// Boxes for somebody's words, and what the words are about.
const WORDS: [(&str, Words, RemarkSubject); 2] = [
    ("complaint", sentence::page_what_the_customer_says, RemarkSubject::Complaint),
    ("order", sentence::page_what_is_ordered, RemarkSubject::Order),
];
/// Answers to whether the vehicle has a high-voltage system.
const HIGH_VOLTAGE: [(Answer, Words); 3] = [
    (Answer::Unspecified, sentence::page_not_known),
    (Answer::No, sentence::page_answer_no),
    (Answer::Yes, sentence::page_yes_as_a_hybrid_has),
];

const LOADS: [(LoadWord, Words); 7] = [
    (LoadWord::Unspecified, sentence::page_not_said),
    (LoadWord::Ordinary, sentence::page_nothing_out_of_the_ordinary),
    (LoadWord::Towing, sentence::page_often_with_a_trailer_or_a),
    (LoadWord::Mountains, sentence::page_mostly_in_mountains),
    (LoadWord::Town, sentence::page_mostly_short_ways_in_town),
    (LoadWord::LongDistance, sentence::page_mostly_long_ways_at_even_speed),
    (LoadWord::AllDay, sentence::page_all_day_such_as_for_hire),
];

/// What is wrong, by the name of the box.
type Wrong = BTreeMap<String, String>;

/// What the form says, ready to be stated.
struct Booking {
    job: JobId,
    arrival: Arrival,
    vin: Option<VinReading>,
    customer: Option<Customer>,
    /// Somebody's words as they are kept, salted, and what they are about.
    words: Vec<(Vec<u8>, RemarkSubject)>,
}

/// Shows the empty form.
pub(super) async fn ask(State(office): State<Arc<Office>>, person: SignedIn) -> Result<Markup, Trouble> {
    let job = new_id(office.now_us(), &*office.entropy)?.to_string();
    let salt = sixteen(&*office.entropy).map_err(|error| Cause::internal("drawing a salt", &error))?;
    let hidden = (job.as_str(), hex(&salt));
    let content = form(&person, (hidden.0, &hidden.1), &Filled::default(), &Wrong::new());
    Ok(office.page(&person, &say!(page_open_a_job), content))
}

/// Opens the job, or shows the form again with what is wrong in it.
pub(super) async fn open(
    State(office): State<Arc<Office>>,
    SignedForm(person, filled): SignedForm,
) -> Result<Response, Trouble> {
    let booking = match read(&filled)? {
        Ok(booking) => booking,
        Err(wrong) => {
            let content = form(&person, (filled.text("job"), filled.text("salt")), &filled, &wrong);
            let page = office.page(&person, &say!(page_open_a_job), content);
            return Ok((StatusCode::UNPROCESSABLE_ENTITY, page).into_response());
        }
    };
    let mut facts = vec![Kind::Arrival(booking.arrival)];
    facts.extend(booking.vin.map(Kind::VinReading));
    for (salted, subject) in booking.words {
        // The file comes before the entry that names it. The salt is the form's own, so a form that is sent twice
        // leaves one file.
        let (blobs, blob_digest) = (Arc::clone(&office.workshop.blobs), digest_of(&salted));
        let digest = blob_digest.clone();
        off_the_network(move || blobs.put(&digest, &salted)).await??;
        facts.push(Kind::Remark(Remark { blob_digest, subject: subject.into() }));
    }
    let customer =
        booking.customer.map(|it| standpipe_store::Customer { name: it.name, telephone: it.telephone });
    OfficeStation::open_job(&office, booking.job, &person.code, facts, customer).await?;
    let row = office.workshop.find(&booking.job.to_string()).await?;
    Ok(Redirect::to(&format!("/job/{}", office.workshop.printed(&row))).into_response())
}

/// Reads the form; a form without the identity of its job is none of ours.
fn read(filled: &Filled) -> Result<Result<Booking, Wrong>, Trouble> {
    let job = uuid::Uuid::try_parse(filled.text("job")).map_err(|_| Trouble::ForeignForm)?;
    let mut wrong = Wrong::new();
    let mut odometer_kilometres = None;
    // Spaces set off thousands and mean nothing else; a comma or a point may, so what is unclear is asked back.
    let typed: String = filled.text("odometer_kilometres").split_whitespace().collect();
    if !typed.is_empty() {
        match typed::read(&typed, Quantity::Distance) {
            Ok(understood) => odometer_kilometres = Some(understood.value),
            Err(told) => drop(wrong.insert("odometer_kilometres".to_owned(), format!("{told}."))),
        }
    }
    let ticked = filled.ticked("reason");
    let said = filled.text("high_voltage");
    let high_voltage = HIGH_VOLTAGE.iter().find(|(answer, _)| answer.as_str_name() == said);
    let high_voltage = high_voltage.map_or(Answer::Unspecified, |(answer, _)| *answer);
    let load = LOADS.iter().find(|(load, _)| load.as_str_name() == filled.text("load"));
    let load = load.map_or(LoadWord::Unspecified, |(load, _)| *load);
    let reasons = REASONS.iter().filter(|(reason, _)| ticked.contains(&reason.as_str_name()));
    let arrival = Arrival {
        plate: filled.text("plate").to_uppercase(),
        odometer_kilometres,
        reasons: reasons.map(|(reason, _)| (*reason).into()).collect(),
        vehicle_maker: filled.text("vehicle_maker").to_owned(),
        vehicle_model: filled.text("vehicle_model").to_owned(),
        complaint_about_job: filled.text("complaint_about_job").to_uppercase(),
        high_voltage: high_voltage.into(),
        load: load.into(),
        first_registered_on: filled.text("first_registered_on").to_owned(),
    };
    note(&mut wrong, violations(&arrival));
    let words = words(filled, &mut wrong)?;
    let vin: String = filled.text("vin").split_whitespace().collect::<String>().to_uppercase();
    let vin = (!vin.is_empty())
        .then(|| VinReading { source: VinSource::Papers.into(), reading: Some(Reading::Vin(vin)) });
    note(&mut wrong, vin.iter().flat_map(violations).collect());
    let (name, telephone) = (filled.text("name").to_owned(), filled.text("telephone").to_owned());
    let customer = (!name.is_empty() || !telephone.is_empty()).then_some(Customer { name, telephone });
    note(&mut wrong, customer.iter().flat_map(violations).collect());
    let job = JobId(job.into_bytes());
    Ok(if wrong.is_empty() { Ok(Booking { job, arrival, vin, customer, words }) } else { Err(wrong) })
}

/// Somebody's words, salted as they are kept.
fn words(filled: &Filled, wrong: &mut Wrong) -> Result<Vec<(Vec<u8>, RemarkSubject)>, Trouble> {
    let mut words = Vec::new();
    for (name, _, subject) in WORDS {
        let said = filled.text(name).replace("\r\n", "\n");
        if said.is_empty() {
            continue;
        }
        let salt: [u8; SALT_BYTES] = unhex(filled.text("salt")).ok_or(Trouble::ForeignForm)?;
        let salted = [&salt, said.as_bytes()].concat();
        if words_of(&salted).is_none() {
            let count = said.chars().count();
            let what = say!(
                page_this_has_characters_1_to_without,
                count.to_string(),
                REMARK_CHARACTERS_MAX.to_string()
            );
            wrong.insert(name.to_owned(), what);
        }
        words.push((salted, subject));
    }
    Ok(words)
}

/// Notes the first thing that is wrong with each box.
fn note(wrong: &mut Wrong, found: Vec<Violation>) {
    for Violation { field, what } in found {
        let name = field.rsplit('.').next().unwrap_or_default().to_owned();
        let sentence = say!(page_wrong_box, what.trim_end_matches('.'));
        wrong.entry(name).or_insert(sentence);
    }
}

fn form(person: &SignedIn, (job, salt): (&str, &str), filled: &Filled, wrong: &Wrong) -> Markup {
    let one = |name: &'static str, label: Words, unit: &'static str, hint: Option<Words>, length: usize| {
        TextBox {
            name,
            label: &word(label),
            unit,
            hint: &hint.map(word).unwrap_or_default(),
            length,
            value: filled.text(name),
            wrong: wrong.get(name).map(String::as_str),
            first: name == "plate",
            ..TextBox::PLAIN
        }
        .show()
    };
    let complaint_about = one(
        "complaint_about_job",
        sentence::page_complaint_about_job,
        "",
        Some(sentence::page_number_of_an_earlier_job_here),
        24,
    );
    html! {
        h1 { (say!(page_open_a_job)) }
        form method="post" action="/open" {
            (person.key_box())
            input type="hidden" name="job" value=(job);
            input type="hidden" name="salt" value=(salt);
            fieldset {
                legend { (say!(page_vehicle)) }
                (one("plate", sentence::page_plate, "", None, 16))
                (one("vin", sentence::page_vin_from_the_papers, "", Some(sentence::page_all_17_characters_the_bay_reads), 24))
                (one("odometer_kilometres", sentence::page_distance, "km", None, 12))
                (one("vehicle_maker", sentence::page_maker, "", None, 40))
                (one("vehicle_model", sentence::page_model, "", None, 60))
                (one("first_registered_on", sentence::page_first_registered_on, "", Some(sentence::page_from_the_papers_as_2018_05), 10))
                div.box {
                    label for="high_voltage" { (say!(page_high_voltage_system)) }
                    select id="high_voltage" name="high_voltage" {
                        @for (answer, label) in HIGH_VOLTAGE {
                            option value=(answer.as_str_name())
                                selected[filled.text("high_voltage") == answer.as_str_name()] { (word(label)) }
                        }
                    }
                    span.hint { (say!(page_with_one_a_qualified_person_isolates)) }
                }
                div.box {
                    label for="load" { (say!(page_mostly_used)) }
                    select id="load" name="load" {
                        @for (load, label) in LOADS {
                            option value=(load.as_str_name())
                                selected[filled.text("load") == load.as_str_name()] { (word(label)) }
                        }
                    }
                    span.hint { (say!(page_the_next_service_may_be_due)) }
                }
            }
            (why_it_comes(filled, wrong, &complaint_about))
            fieldset {
                legend { (say!(page_customer)) }
                (one("name", sentence::page_name, "", Some(sentence::page_stands_beside_the_journal_is_printed), 80))
                (one("telephone", sentence::page_telephone, "", None, 40))
            }
            button type="submit" { (say!(page_open_the_job)) }
        }
    }
}

/// Reasons, the job complained of, and somebody's words.
fn why_it_comes(filled: &Filled, wrong: &Wrong, complaint_about: &Markup) -> Markup {
    let ticked = filled.ticked("reason");
    html! {
        fieldset {
            legend { (say!(page_why_it_comes)) }
            div.ticks {
                @for (reason, label) in REASONS {
                    label {
                        input type="checkbox" name="reason" value=(reason.as_str_name())
                            checked[ticked.contains(&reason.as_str_name())];
                        (word(label))
                    }
                }
            }
            @if let Some(wrong) = wrong.get("reasons") { p.wrong { (wrong) } }
            (complaint_about)
            @for (name, label, _) in WORDS {
                div.box {
                    label for=(name) { (word(label)) }
                    textarea id=(name) name=(name) rows="2" maxlength=(REMARK_CHARACTERS_MAX)
                        aria-describedby={ (name) "-about" } aria-invalid[wrong.contains_key(name)] { (filled.text(name)) }
                    span {}
                    span.wrong id={ (name) "-about" } { @if let Some(wrong) = wrong.get(name) { (wrong) } }
                }
            }
        }
    }
}
