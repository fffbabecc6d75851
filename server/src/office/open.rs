//! Opening a job: vehicle, complaint and customer as the office learns them at the booking.
//!
//! Arrival and VIN are facts of the journal, stated by the person who is signed in; the customer stands beside it.
//! Both are held against the same table of bounds as what a bay sends.

use super::Office;
use super::frame::TextBox;
use super::guard::{Filled, SignedForm, SignedIn};
use super::station::new_id;
use super::trouble::Trouble;
use axum::extract::State;
use axum::http::StatusCode;
use axum::response::{IntoResponse as _, Redirect, Response};
use maud::{Markup, html};
use standpipe_proto::check::{Violation, violations};
use standpipe_proto::v1::fact::Kind;
use standpipe_proto::v1::{Arrival, Customer, VinReading, VinSource, VisitReason, vin_reading::Reading};
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

/// What is wrong, by the name of the box.
type Wrong = BTreeMap<String, String>;

/// What the form says, ready to be stated.
struct Booking {
    job: JobId,
    arrival: Arrival,
    vin: Option<VinReading>,
    customer: Option<Customer>,
}

/// Shows the empty form.
pub(super) async fn ask(State(office): State<Arc<Office>>, person: SignedIn) -> Result<Markup, Trouble> {
    let job = new_id(office.now_us(), &*office.entropy)?.to_string();
    Ok(office.page(&person, "Open a job", form(&person, &job, &Filled::default(), &Wrong::new())))
}

/// Opens the job, or shows the form again with what is wrong in it.
pub(super) async fn open(
    State(office): State<Arc<Office>>,
    SignedForm(person, filled): SignedForm,
) -> Result<Response, Trouble> {
    let booking = match read(&filled)? {
        Ok(booking) => booking,
        Err(wrong) => {
            let content = form(&person, filled.text("job"), &filled, &wrong);
            let page = office.page(&person, "Open a job", content);
            return Ok((StatusCode::UNPROCESSABLE_ENTITY, page).into_response());
        }
    };
    let mut facts = vec![Kind::Arrival(booking.arrival)];
    facts.extend(booking.vin.map(Kind::VinReading));
    office.station.open_job(&office, booking.job, &person.code, facts).await?;
    if let Some(Customer { name, telephone }) = booking.customer {
        let customer = standpipe_store::Customer { name, telephone };
        office.workshop.beside.put_customer(booking.job, &customer, office.now_us()).await?;
        office.workshop.change_beside();
    }
    let row = office.workshop.find(&booking.job.to_string()).await?;
    Ok(Redirect::to(&format!("/job/{}", office.workshop.printed(&row))).into_response())
}

/// Reads the form; a form without the identity of its job is none of ours.
fn read(filled: &Filled) -> Result<Result<Booking, Wrong>, Trouble> {
    let job = uuid::Uuid::try_parse(filled.text("job")).map_err(|_| Trouble::ForeignForm)?;
    let mut wrong = Wrong::new();
    let mut odometer_kilometres = None;
    let typed: String = filled.text("odometer_kilometres").split_whitespace().collect();
    if !typed.is_empty() {
        odometer_kilometres = typed.replace(',', ".").parse::<f64>().ok();
        if odometer_kilometres.is_none() {
            let what = format!("'{typed}' is no number; write the distance in digits, such as 118240.");
            wrong.insert("odometer_kilometres".to_owned(), what);
        }
    }
    let ticked = filled.ticked("reason");
    let reasons = REASONS.iter().filter(|(reason, _)| ticked.contains(&reason.as_str_name()));
    let arrival = Arrival {
        plate: filled.text("plate").to_uppercase(),
        odometer_kilometres,
        reasons: reasons.map(|(reason, _)| (*reason).into()).collect(),
        vehicle_maker: filled.text("vehicle_maker").to_owned(),
        vehicle_model: filled.text("vehicle_model").to_owned(),
    };
    note(&mut wrong, violations(&arrival));
    let vin: String = filled.text("vin").split_whitespace().collect::<String>().to_uppercase();
    let vin = (!vin.is_empty())
        .then(|| VinReading { source: VinSource::Papers.into(), reading: Some(Reading::Vin(vin)) });
    note(&mut wrong, vin.iter().flat_map(violations).collect());
    let (name, telephone) = (filled.text("name").to_owned(), filled.text("telephone").to_owned());
    let customer = (!name.is_empty() || !telephone.is_empty()).then_some(Customer { name, telephone });
    note(&mut wrong, customer.iter().flat_map(violations).collect());
    let job = JobId(job.into_bytes());
    Ok(if wrong.is_empty() { Ok(Booking { job, arrival, vin, customer }) } else { Err(wrong) })
}

/// Notes the first thing that is wrong with each box.
fn note(wrong: &mut Wrong, found: Vec<Violation>) {
    for Violation { field, what } in found {
        let name = field.rsplit('.').next().unwrap_or_default().to_owned();
        let sentence = format!("This {}.", what.trim_end_matches('.'));
        wrong.entry(name).or_insert(sentence);
    }
}

fn form(person: &SignedIn, job: &str, filled: &Filled, wrong: &Wrong) -> Markup {
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
    let ticked = filled.ticked("reason");
    html! {
        h1 { "Open a job" }
        form method="post" action="/open" {
            (person.key_box())
            input type="hidden" name="job" value=(job);
            fieldset {
                legend { "Vehicle" }
                (one("plate", "Plate", "", "", 16))
                (one("vin", "VIN, from the papers", "", "All 17 characters; the bay reads the last eight from the body.", 24))
                (one("odometer_kilometres", "Distance", "km", "", 12))
                (one("vehicle_maker", "Maker", "", "", 40))
                (one("vehicle_model", "Model", "", "", 60))
            }
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
            }
            fieldset {
                legend { "Customer" }
                (one("name", "Name", "", "Stands beside the journal, is printed on the record and can be erased.", 80))
                (one("telephone", "Telephone", "", "", 40))
            }
            button type="submit" { "Open the job" }
        }
    }
}
