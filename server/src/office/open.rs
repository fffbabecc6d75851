//! Opening a job: vehicle, complaint and customer as the office learns them at the booking.
//!
//! Arrival and VIN are facts of the journal, stated by the person who is signed in; the customer and the words of
//! complaint and order stand beside it. All are held against the same table of bounds as what a bay sends.

use super::Office;
use super::frame::TextBox;
use super::guard::{Filled, SignedForm, SignedIn};
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
const REASONS: [(VisitReason, &str); 8] = [
    (VisitReason::ServiceDue, "service due by distance or time"),
    (VisitReason::HarshChange, "gear changes are harsh"),
    (VisitReason::LateChange, "gear changes come late"),
    (VisitReason::Shudder, "the vehicle shudders"),
    (VisitReason::Noise, "noise"),
    (VisitReason::Slip, "the transmission slips"),
    (VisitReason::Leak, "fluid under the vehicle"),
    (VisitReason::WarningLamp, "warning lamp"),
];

/// Boxes for somebody's words, and what the words are about.
const WORDS: [(&str, &str, RemarkSubject); 2] = [
    ("complaint", "What the customer says", RemarkSubject::Complaint),
    ("order", "What is ordered", RemarkSubject::Order),
];
/// Answers to whether the vehicle has a high-voltage system.
const HIGH_VOLTAGE: [(Answer, &str); 3] =
    [(Answer::Unspecified, "not known"), (Answer::No, "no"), (Answer::Yes, "yes, as a hybrid has")];

const LOADS: [(LoadWord, &str); 7] = [
    (LoadWord::Unspecified, "not said"),
    (LoadWord::Ordinary, "nothing out of the ordinary"),
    (LoadWord::Towing, "often with a trailer or a full load"),
    (LoadWord::Mountains, "mostly in mountains"),
    (LoadWord::Town, "mostly short ways in town"),
    (LoadWord::LongDistance, "mostly long ways at even speed"),
    (LoadWord::AllDay, "all day, such as for hire or delivery"),
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
    Ok(office.page(&person, "Open a job", content))
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
            let page = office.page(&person, "Open a job", content);
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
            let what = format!(
                "This has {count} characters; 1 to {REMARK_CHARACTERS_MAX} without control characters are allowed."
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
        let sentence = format!("This {}.", what.trim_end_matches('.'));
        wrong.entry(name).or_insert(sentence);
    }
}

fn form(person: &SignedIn, (job, salt): (&str, &str), filled: &Filled, wrong: &Wrong) -> Markup {
    let one =
        |name: &'static str, label: &'static str, unit: &'static str, hint: &'static str, length: usize| {
            TextBox {
                name,
                label,
                unit,
                hint,
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
        "Complaint about job",
        "",
        "Number of an earlier job here, such as HL-26-0042, if the customer comes back about it.",
        24,
    );
    html! {
        h1 { "Open a job" }
        form method="post" action="/open" {
            (person.key_box())
            input type="hidden" name="job" value=(job);
            input type="hidden" name="salt" value=(salt);
            fieldset {
                legend { "Vehicle" }
                (one("plate", "Plate", "", "", 16))
                (one("vin", "VIN, from the papers", "", "All 17 characters; the bay reads the last eight from the body.", 24))
                (one("odometer_kilometres", "Distance", "km", "", 12))
                (one("vehicle_maker", "Maker", "", "", 40))
                (one("vehicle_model", "Model", "", "", 60))
                (one("first_registered_on", "First registered on", "", "From the papers, as 2018-05-03; it settles the model year.", 10))
                div.box {
                    label for="high_voltage" { "High-voltage system" }
                    select id="high_voltage" name="high_voltage" {
                        @for (answer, label) in HIGH_VOLTAGE {
                            option value=(answer.as_str_name())
                                selected[filled.text("high_voltage") == answer.as_str_name()] { (label) }
                        }
                    }
                    span.hint { "With one, a qualified person isolates it before the exchange." }
                }
                div.box {
                    label for="load" { "Mostly used" }
                    select id="load" name="load" {
                        @for (load, label) in LOADS {
                            option value=(load.as_str_name())
                                selected[filled.text("load") == load.as_str_name()] { (label) }
                        }
                    }
                    span.hint { "The next service may be due sooner for it." }
                }
            }
            (why_it_comes(filled, wrong, &complaint_about))
            fieldset {
                legend { "Customer" }
                (one("name", "Name", "", "Stands beside the journal, is printed on the record and can be erased.", 80))
                (one("telephone", "Telephone", "", "", 40))
            }
            button type="submit" { "Open the job" }
        }
    }
}

/// Reasons, the job complained of, and somebody's words.
fn why_it_comes(filled: &Filled, wrong: &Wrong, complaint_about: &Markup) -> Markup {
    let ticked = filled.ticked("reason");
    html! {
        fieldset {
            legend { "Why it comes" }
            div.ticks {
                @for (reason, label) in REASONS {
                    label {
                        input type="checkbox" name="reason" value=(reason.as_str_name())
                            checked[ticked.contains(&reason.as_str_name())];
                        (label)
                    }
                }
            }
            @if let Some(wrong) = wrong.get("reasons") { p.wrong { (wrong) } }
            (complaint_about)
            @for (name, label, _) in WORDS {
                div.box {
                    label for=(name) { (label) }
                    textarea id=(name) name=(name) rows="2" maxlength=(REMARK_CHARACTERS_MAX)
                        aria-describedby={ (name) "-about" } aria-invalid[wrong.contains_key(name)] { (filled.text(name)) }
                    span {}
                    span.wrong id={ (name) "-about" } { @if let Some(wrong) = wrong.get(name) { (wrong) } }
                }
            }
        }
    }
}
