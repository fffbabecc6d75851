//! Whole jobs, entry by entry: what counts, what contradicts, what may be said.

use super::{Context, EarlierJob, Recorded, view};
use crate::catalogue::Revision;
use crate::gates::{Gate, may};
use crate::text::{Language, Sentence, render};
use crate::view::{JobView, Weight};
use prost::Message as _;
use standpipe_proto::v1::{self, correction::Outcome, fact::Kind, header::Subject};

mod account;
mod at_bay;
mod condition;
mod doubtful;
mod edition;
mod exchange;
mod exchange_live;
mod exchange_withheld;
mod gates;
mod history;
mod identity;
mod in_and_out;
mod level_method;
mod level_time;
mod lots;
mod next_due;
mod now;
mod order_of_work;
mod owner_row;
mod photo;
mod plan;
mod properties;
mod record;
mod registers;
mod signed;
mod tools_used;
mod undone;
mod unknown;
mod variant_tables;
mod which_equipment;
mod wrong_fluid;

const WORKSHOP: &str = include_str!("../../../../deploy/catalogue/workshop.toml");
const ALDER: &str = include_str!("../../../../deploy/catalogue/alder-8.toml");
const MINUTE_US: i64 = 60_000_000;
const START_US: i64 = 1_773_820_800_000_000;

struct Journal {
    revision: Revision,
    entries: Vec<(i64, Vec<u8>)>,
    minute: i64,
    names: Vec<(String, String)>,
    earlier: Vec<EarlierJob>,
    extracts: crate::photo::Extracts,
    site: crate::site::SiteFacts,
}

impl Journal {
    fn new() -> Self {
        Self::signing(false)
    }

    /// A job under settings by which decisions count only when they are signed, or as they are stated.
    fn signing(signed: bool) -> Self {
        let workshop = if signed { WORKSHOP.to_owned() } else { without_signing() };
        let files = [("workshop.toml", workshop.as_str()), ("alder-8.toml", ALDER)];
        let files = files.map(|(name, text)| (name.to_owned(), text.as_bytes().to_vec()));
        Self {
            revision: Revision::parse(files.to_vec()).unwrap(),
            entries: Vec::new(),
            minute: 0,
            names: vec![("A".into(), "technician A".into())],
            earlier: Vec::new(),
            extracts: crate::photo::Extracts::default(),
            site: crate::site::SiteFacts::default(),
        }
    }

    fn id(number: usize) -> String {
        format!("01890a5d-ac96-774b-bcce-{number:012x}")
    }

    fn add(&mut self, kind: Kind) -> &mut Self {
        self.add_typed(kind, &[])
    }

    fn add_typed(&mut self, kind: Kind, typed: &[(&str, &str)]) -> &mut Self {
        self.minute += 1;
        let time = START_US + self.minute * MINUTE_US;
        let number = self.entries.len() + 1;
        let as_typed =
            |(field, text): &(&str, &str)| v1::AsTyped { field: (*field).into(), text: (*text).into() };
        let entry = v1::Entry {
            header: Some(v1::Header {
                entry_id: Self::id(number),
                subject: Some(Subject::JobId("01890a5d-ac96-774b-bcce-ffffffffffff".into())),
                station_id: "bay-1".into(),
                station_epoch: "0".repeat(32),
                station_number: i64::try_from(number).unwrap(),
                person_code: "A".into(),
                station_time: Some(prost_types::Timestamp { seconds: time / 1_000_000, nanos: 0 }),
                as_typed: typed.iter().map(as_typed).collect(),
                boot_id: "0".repeat(32),
                ..v1::Header::default()
            }),
            fact: Some(v1::Fact { kind: Some(kind) }),
        };
        standpipe_proto::check::entry(&entry).unwrap();
        self.entries.push((time, entry.encode_to_vec()));
        self
    }

    fn with<T>(&self, read: impl FnOnce(&Context<'_>, &[Recorded<'_>]) -> T) -> T {
        let recorded: Vec<Recorded<'_>> = self
            .entries
            .iter()
            .zip(1..)
            .map(|((time, bytes), seq)| Recorded { seq, received_us: *time, leaf_hash: [7; 32], bytes })
            .collect();
        let context = Context {
            revision: &self.revision,
            adopted_at: 0,
            revision_id: "",
            job_id: "01890a5d-ac96-774b-bcce-ffffffffffff",
            number: "HL-26-0042",
            site_name: "Harbour Lane",
            names: &self.names,
            persons: true,
            earlier: &self.earlier,
            extracts: &self.extracts,
            site: &self.site,
            site_up_to: u64::MAX,
            newer: None,
            as_of_us: self.entries.last().map_or(0, |(time, _)| *time),
        };
        read(&context, &recorded)
    }

    fn view(&self) -> JobView {
        self.with(view)
    }

    /// What a gate lacks of vehicle, variant and fluid alone.
    fn about_fluid(&self, gate: Gate) -> String {
        let go_ahead = self.with(|context, entries| may(context, entries, gate));
        let own = [
            "contradiction",
            "variant",
            "fluid",
            "no-rule",
            "several-rules",
            "vin-check-digit",
            "plate-not-seen",
            "fluid-colour",
            "catalogue-newer",
            "not-as-built",
        ];
        let missing = go_ahead.missing.iter().filter(|missing| own.contains(&missing.key));
        missing.map(|missing| said(&missing.text)).collect::<Vec<_>>().join(" | ")
    }

    fn missing(&self, gate: Gate) -> String {
        let go_ahead = self.with(|context, entries| may(context, entries, gate));
        assert_eq!(go_ahead.yes, go_ahead.missing.is_empty());
        assert_eq!(go_ahead.yes, !go_ahead.basis.is_empty());
        go_ahead.missing.iter().map(|missing| said(&missing.text)).collect::<Vec<_>>().join(" | ")
    }
}

/// The demo's settings, by which decisions count as they are stated.
fn without_signing() -> String {
    let workshop = WORKSHOP.replace("[decisions]\nsigned = true\n", "");
    assert_ne!(workshop, WORKSHOP);
    workshop
}

fn said(sentence: &Sentence) -> String {
    render(Language::English, sentence).unwrap()
}

fn all(sentences: &[Sentence]) -> String {
    sentences.iter().map(said).collect::<Vec<_>>().join(" ")
}

fn arrival() -> Kind {
    Kind::Arrival(v1::Arrival {
        plate: "PH 482 K".into(),
        odometer_kilometres: Some(118_240.0),
        reasons: vec![2],
        ..Default::default()
    })
}

fn vin(text: &str) -> Kind {
    let reading = v1::vin_reading::Reading::Vin(text.into());
    Kind::VinReading(v1::VinReading { reading: Some(reading), source: 1 })
}

fn last_eight(text: &str) -> Kind {
    let reading = v1::vin_reading::Reading::LastEight(text.into());
    Kind::VinReading(v1::VinReading { reading: Some(reading), source: 2 })
}

fn settled(code: &str) -> Kind {
    Kind::VariantSettled(v1::VariantSettled {
        variant_code: code.into(),
        means: 2,
        source: "maker's parts list 2025-11".into(),
        transmission_plate_agrees: 1,
        ..Default::default()
    })
}

fn container(code: &str) -> Kind {
    Kind::PartChecked(v1::PartChecked { part: 1, code: code.into(), lot: "L-2209".into(), read_by: 1 })
}

fn pushed(litres: f64, tube: Option<i32>, out: Option<f64>, last: bool) -> Kind {
    Kind::ExchangeReading(v1::ExchangeReading {
        volume_in_litres: litres,
        volume_out_litres: out,
        tube_percent: tube,
        temperature_celsius: Some(60.0),
        last,
        ..Default::default()
    })
}

fn drained(kilograms: f64) -> Kind {
    let amount = Some(v1::drain::Amount::MassKilograms(kilograms));
    Kind::Drain(v1::Drain { place: 1, amount, means: 2, debris: 2, ..Default::default() })
}

fn refilled(kilograms: f64, fluid: &str) -> Kind {
    let amount = Some(v1::fill::Amount::MassKilograms(kilograms));
    Kind::Fill(v1::Fill { purpose: 1, amount, means: 2, fluid_code: fluid.into(), ..Default::default() })
}

fn level(celsius: f64, overflow: i32) -> Kind {
    Kind::LevelCheck(v1::LevelCheck {
        temperature_celsius: celsius,
        means: 1,
        overflow,
        engine_idling: 1,
        vehicle_level: 1,
        selector: 1,
        ..Default::default()
    })
}

fn settled_job() -> Journal {
    let mut journal = Journal::new();
    let (second_series, variant) = second_series(&journal.revision);
    journal
        .add(arrival())
        .add(vin(&second_series))
        .add(last_eight(&second_series[9..]))
        .add(settled(&variant));
    journal
}

/// A VIN of the second series, as its first rule says, and the code of that variant.
fn second_series(revision: &Revision) -> (String, String) {
    let variant = revision.variants().iter().find(|variant| variant.fluid.name == "Linden").unwrap();
    let example = "AZTWA8M47LA042317";
    let vin = crate::formula::vin::Vin::from_exact(example).unwrap();
    assert!(variant.vin_rules.iter().any(|rule| rule.fits(&vin)), "the example VIN fits the second series");
    (example.to_owned(), variant.code.clone())
}

fn exchanged_job() -> Journal {
    let mut journal = settled_job();
    journal.add(container("Linden")).add(pushed(0.0, None, None, false));
    for (litres, tube) in [(2.4, 25), (4.8, 50), (7.2, 75)] {
        journal.add_typed(
            pushed(litres, Some(tube), None, false),
            &[("volume_in_litres", &format!("{litres:.1} L"))],
        );
    }
    journal.add_typed(
        pushed(9.4, Some(75), Some(9.3), true),
        &[("volume_in_litres", "9.4 L"), ("volume_out_litres", "9.3 L")],
    );
    journal
}

fn serviced_job() -> Journal {
    let mut journal = exchanged_job();
    journal.add_typed(drained(3.05), &[("mass_kilograms", "3.05 kg")]);
    journal.add_typed(refilled(3.07, "Linden"), &[("mass_kilograms", "3.07 kg")]);
    journal.add(level(61.0, 3)).add(level(43.0, 2));
    journal
}

#[test]
fn nothing_settled_is_no_go_ahead_and_every_reason_at_once() {
    let mut journal = Journal::new();
    journal.add(arrival());
    assert_eq!(journal.about_fluid(Gate::Exchange), "Settle which transmission variant this is.");
    let mut journal = settled_job();
    assert!(journal.about_fluid(Gate::Refill).contains("it must be Linden"));
    journal.add(container("Linden"));
    assert_eq!(journal.about_fluid(Gate::Refill), "");
}

#[test]
fn the_fluid_of_the_other_series_gets_no_go_ahead_until_the_right_one_is_fetched() {
    let mut journal = settled_job();
    journal.add(container("Bramble"));
    let why = journal.about_fluid(Gate::Exchange);
    assert!(
        why.contains("Bramble") && why.contains("needs Linden") && !why.contains("Read the code"),
        "{why}"
    );
    journal.add(container("LINDEN"));
    assert_eq!(journal.about_fluid(Gate::Exchange), "");
    assert!(journal.view().findings.iter().any(|finding| said(&finding.text).contains("was seen first")));
}

#[test]
fn work_done_against_a_contradiction_is_printed() {
    let mut journal = settled_job();
    journal.add(container("Bramble")).add(pushed(4.0, None, None, true));
    let view = journal.view();
    let stops: Vec<String> = view
        .findings
        .iter()
        .filter(|finding| finding.weight == Weight::Stops && finding.on_record)
        .map(|finding| said(&finding.text))
        .collect();
    assert!(stops.iter().any(|text| text.starts_with("Fluid was pushed in although")), "{stops:?}");
    assert!(all(&view.please_note).contains("although no go-ahead"));
}

#[test]
fn a_differing_second_reading_of_the_vin_stops() {
    let mut journal = settled_job();
    journal.add(last_eight("LA042318")).add(container("Linden"));
    assert!(journal.about_fluid(Gate::Exchange).contains("LA042318"));
}

#[test]
fn a_look_up_that_the_rules_contradict_stops() {
    let mut journal = Journal::new();
    let (example, _) = second_series(&journal.revision);
    let first = journal.revision.variants().iter().find(|variant| variant.fluid.name == "Bramble").unwrap();
    let code = first.code.clone();
    journal.add(arrival()).add(vin(&example)).add(settled(&code)).add(container("Bramble"));
    let why = journal.about_fluid(Gate::Exchange);
    assert!(why.contains("name Alder-8, second series, but Alder-8, first series was settled"), "{why}");
    let amount = Some(v1::fill::Amount::VolumeLitres(3.0));
    let fill = v1::Fill { purpose: 1, amount, fluid_code: "Linden".into(), ..Default::default() };
    journal.add(Kind::Fill(fill));
    let first = said(&journal.view().now[0]).replace('\u{a0}', " ");
    assert!(
        first.contains("does not take: 3.0 L of Linden; and which fluid belongs inside is not"),
        "{first}"
    );
}

#[test]
fn a_variant_outside_the_catalogue_is_settled_by_look_up() {
    let mut journal = Journal::new();
    let stated = v1::VariantSettled {
        variant_code: "Birch-6".into(),
        means: 2,
        source: "maker's list".into(),
        fluid_code: "Hazel".into(),
        total_fill_litres: Some(8.0),
        level_least_celsius: Some(30.0),
        level_greatest_celsius: Some(50.0),
        transmission_plate_agrees: 1,
        ..Default::default()
    };
    journal.add(arrival()).add(Kind::VariantSettled(stated));
    journal.add(container("Hazel"));
    assert_eq!(journal.about_fluid(Gate::Exchange), "");
    assert!(all(&journal.view().identity).contains("looked up by technician A in maker's list"));
}

#[test]
fn three_spaced_looks_carry_the_balance_and_two_the_models_alone() {
    let view = exchanged_job().view();
    let exchange = view.exchange.unwrap();
    let share = exchange.share_after_exchange.unwrap();
    // Trapezoid over (0, 1), (2.4, .75), (4.8, .5), (7.2, .25), (9.4, .25), counted over the litres that came
    // out: 9.3 L at 60 °C are 8.987 L at 15 °C (factor 0.96632, 847 kg/m³), 9.4 L at 20 °C are 9.365 L (0.99629).
    let (out, into) = (9.3 * 0.966_32, 9.4 * 0.996_29);
    let kept = (2.4 * 0.875 + 2.4 * 0.625 + 2.4 * 0.375 + 2.2 * 0.25) * out / into;
    let balance = exchange.progress.kept_litres.unwrap();
    assert!((balance.value - kept).abs() < 1e-3, "{balance:?} {kept}");
    // The ways of flowing bend the curve between the looks, which straight lines do not: up to 2 of 100 parts.
    let by_hand = (kept + into - out) / (9.0 + into - out);
    assert!((share.value - by_hand).abs() < 0.02 && share.standard_uncertainty > 0.02, "{share:?} {by_hand}");
    assert_eq!(exchange.looks.len(), 4);

    let mut journal = settled_job();
    journal.add(container("Linden")).add(pushed(4.0, Some(50), None, false)).add(pushed(
        9.0,
        Some(75),
        None,
        true,
    ));
    let exchange = journal.view().exchange.unwrap();
    assert!(exchange.share_after_exchange.is_some() && exchange.progress.kept_litres.is_none());
    assert!(all(&exchange.remarks).contains("fewer than three spaced looks"));
    let short = all(&journal.view().in_short).replace('\u{a0}', " ");
    assert!(short.contains("of 100 parts of the fluid are now new (from"), "{short}");
}

#[test]
fn pan_and_refill_raise_the_share_and_the_customer_reads_that_figure() {
    let view = serviced_job().view();
    let exchange = view.exchange.as_ref().unwrap();
    let (before, after) = (exchange.share_after_exchange.unwrap(), exchange.share_after_pan.unwrap());
    assert!(after.value > before.value + 0.05 && after.value < 1.0, "{before:?} {after:?}");
    let parts = format!("{:.0}", after.value * 100.0);
    assert!(all(&view.in_short).replace('\u{a0}', " ").contains(&format!("About {parts} of 100 parts")));
    assert!(view.in_short.len() <= 5);
}

#[test]
fn in_and_out_are_compared_at_15_degrees_with_their_uncertainty() {
    let balance = serviced_job().view().balance.unwrap();
    let difference = balance.difference.unwrap();
    let (rows_in, rows_out) = (balance.went_in.len(), balance.came_out.len());
    assert_eq!((rows_in, rows_out), (2, 3));
    let sum: f64 = balance.came_out.iter().map(|row| row.litres.value).sum();
    assert!((sum - balance.total_out.value).abs() < 1e-12);
    assert!((balance.total_in.value - balance.total_out.value - difference.value).abs() < 1e-12);
    // A hot 9.3 L is less at 15 °C, so a little more went in than out; not clearly.
    assert!(all(&balance.remarks).contains("within the uncertainty"));
}

#[test]
fn a_drained_pan_that_is_not_refilled_is_no_difference() {
    let mut journal = settled_job();
    journal.add_typed(drained(3.05), &[("mass_kilograms", "3.05 kg")]);
    let view = journal.view();
    let balance = view.balance.as_ref().unwrap();
    assert!(
        balance.difference.is_none() && all(&balance.remarks).contains("when what was drained is refilled")
    );
    let keys: Vec<&str> = view.figures.iter().map(|figure| figure.key).collect();
    assert_eq!(keys, ["fluid_out", "refill_kilograms"], "nothing was put in, so no figure says 0 L");
}

#[test]
fn a_level_counts_only_inside_the_window_and_until_fluid_goes_in_or_out() {
    let mut journal = serviced_job();
    let level_view = journal.view().level;
    let valid: Vec<bool> = level_view.attempts.iter().map(|attempt| attempt.valid).collect();
    assert_eq!(valid, [false, true]);
    assert!(said(&level_view.attempts[0].text).contains("too hot, allowed are 40 to 50"));
    let amount = Some(v1::fill::Amount::VolumeLitres(0.3));
    journal.add(Kind::Fill(v1::Fill { purpose: 2, amount, means: 1, ..Default::default() }));
    let level_view = journal.view().level;
    assert!(level_view.attempts.iter().all(|attempt| !attempt.valid));
    assert!(said(&level_view.attempts[1].text).contains("fluid was put in or ran out afterwards"));
}

#[test]
fn a_correction_keeps_the_place_and_shows_both_values() {
    let mut journal = exchanged_job();
    journal.add_typed(drained(3.30), &[("mass_kilograms", "3.30 kg")]);
    let wrong = Journal::id(journal.entries.len());
    let correct = |outcome| {
        Kind::Correction(Box::new(v1::Correction {
            corrected_entry_id: wrong.clone(),
            reason: "scale had the tray on it".into(),
            outcome: Some(outcome),
        }))
    };
    let fact = v1::Fact { kind: Some(drained(3.05)) };
    journal.add_typed(correct(Outcome::Replacement(Box::new(fact))), &[("mass_kilograms", "3.05 kg")]);
    let view = journal.view();
    assert_eq!(view.changes.len(), 1);
    assert_eq!(said(&view.changes[0].was), "3.30\u{a0}kg from the pan");
    assert_eq!(said(view.changes[0].now.as_ref().unwrap()), "3.05\u{a0}kg from the pan");
    assert!(said(&view.changes[0].why).contains("scale had the tray on it"));
    let drained = &view.balance.unwrap().came_out[1];
    assert!(said(&drained.label).contains("3.05"));

    journal.add(correct(Outcome::Withdrawn(true)));
    let view = journal.view();
    assert!(view.balance.unwrap().came_out.len() == 1, "a withdrawn drain no longer counts");
    assert!(view.findings.iter().any(|finding| said(&finding.text).contains("corrected more than once")));
}

#[test]
fn corrections_that_fit_nothing_are_kept_and_named() {
    let mut journal = exchanged_job();
    let correct = |id: usize, kind| {
        Kind::Correction(Box::new(v1::Correction {
            corrected_entry_id: Journal::id(id),
            reason: "mistake".into(),
            outcome: Some(Outcome::Replacement(Box::new(v1::Fact { kind: Some(kind) }))),
        }))
    };
    journal.add(correct(999, drained(1.0))).add(correct(1, drained(1.0)));
    let last = journal.entries.len();
    journal.add(correct(last, drained(1.0)));
    let findings = journal.view().findings;
    let text = findings.iter().map(|finding| said(&finding.text)).collect::<Vec<_>>().join(" ");
    for part in ["that this job does not have", "by a fact of another kind", "itself no fact of the work"] {
        assert!(text.contains(part), "{part}: {text}");
    }
}

#[test]
fn an_entry_that_cannot_be_read_is_named_and_left_out() {
    let mut journal = serviced_job();
    let before = journal.view();
    journal.entries.push((START_US, vec![0xff, 0xff]));
    let after = journal.view();
    assert_eq!(before.figures, after.figures);
    assert!(after.findings.iter().any(|finding| said(&finding.text).contains("cannot be read")));
}

#[test]
fn the_same_entries_give_the_same_view() {
    let journal = serviced_job();
    assert_eq!(journal.view(), journal.view());
}

#[test]
fn a_job_with_nothing_measured_says_so() {
    let mut journal = Journal::new();
    journal.add(arrival()).add(Kind::Closing(v1::Closing { outcome: 2, ..Default::default() }));
    let view = journal.view();
    assert!(view.head.no_exchange_done && view.exchange.is_none() && view.balance.is_none());
    assert!(all(&view.in_short).contains("No exchange was done."));
    assert!(view.not_measured.len() >= 7);
    assert!(all(&view.please_note).contains("maker’s instructions"));
}

#[test]
fn every_sentence_of_a_view_renders() {
    let view = serviced_job().view();
    for line in &view.story {
        assert!(!said(&line.text).is_empty());
    }
    for figure in &view.figures {
        assert!(!said(&figure.text).is_empty() && !said(&figure.label).is_empty());
    }
}

#[test]
fn fluid_pushed_with_the_wrong_container_stays_a_stop_when_the_right_one_is_fetched_later() {
    let mut journal = settled_job();
    journal.add(container("Bramble")).add(pushed(9.0, None, None, true)).add(container("Linden"));
    let view = journal.view();
    assert!(all(&view.please_note).contains("Fluid was pushed in although"), "{:?}", view.please_note);
    let fluids: Vec<String> = view.done.iter().map(|row| said(&row.what)).collect();
    assert!(fluids[0].contains("Bramble"), "what went in is named, not what should have: {fluids:?}");
    assert_eq!(journal.about_fluid(Gate::Refill), "", "the right fluid may go on");
}

#[test]
fn a_vin_misread_after_the_work_does_not_make_the_work_wrong() {
    let mut journal = serviced_job();
    journal.add(last_eight("LA042318"));
    let view = journal.view();
    assert!(!all(&view.please_note).contains("although no go-ahead"), "{}", all(&view.please_note));
    assert!(view.findings.iter().any(|finding| said(&finding.text).contains("LA042318")));
}

#[test]
fn two_settled_variants_contradict_until_one_is_withdrawn() {
    let mut journal = settled_job();
    journal.add(settled("A8-I")).add(container("Bramble"));
    assert!(journal.missing(Gate::Exchange).contains("Two variants were settled"));
}

#[test]
fn a_transmission_plate_read_wrong_is_not_put_right_by_looking_again() {
    let mut journal = settled_job();
    let plate = |code: &str| {
        Kind::PartChecked(v1::PartChecked { part: 3, code: code.into(), lot: String::new(), read_by: 1 })
    };
    journal.add(container("Linden")).add(plate("A8 0117")).add(plate("A8 0238"));
    assert!(journal.missing(Gate::Exchange).contains("A8 0117"));
    let standpipe = v1::PartChecked { part: 4, code: "long".into(), lot: String::new(), read_by: 1 };
    let mut journal = settled_job();
    journal.add(container("Linden")).add(Kind::PartChecked(standpipe));
    assert_eq!(journal.about_fluid(Gate::Refill), "", "the eye sees a long standpipe, not its code");
}
