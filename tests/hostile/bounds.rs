//! Every field of every kind, of the header and of every request, walked by the descriptor: at its bounds it is taken,
//! outside it is refused by field, value and bound. A new field is walked without being named here.

use super::values::{self, Outside, all_outside, inside, least, pool, row, whole};
use super::{Target, id_of};
use prost::Message as _;
use prost_reflect::{DynamicMessage, FieldDescriptor, Kind, MessageDescriptor, ReflectMessage as _, Value};
use standpipe_proto::Bytes;
use standpipe_proto::limits::Span;
use standpipe_proto::v1::{Refusal, append_stream_response::Answer};
use standpipe_tests::sealed::START_US;
use standpipe_tests::site::shown;
use standpipe_tests::told::{call, info};
use std::collections::{BTreeMap, BTreeSet};
use tonic::Code;

const SITE_KINDS: [&str; 3] = ["station_enrolled", "person_listed", "catalogue_adopted"];
/// Kinds of the site that stations state.
const STATED_SITE_KINDS: [&str; 6] = [
    "lot_received",
    "stock_counted",
    "tool_checked",
    "equipment_contents",
    "waste_collected",
    "lot_recalled",
];
/// Kinds that only the server itself states, those of the site and one of a job.
const SERVERS_KINDS: [&str; 5] =
    ["station_enrolled", "person_listed", "catalogue_adopted", "record_issued", "signature"];
/// What says whose entry it is: at the ends of its bounds it names another one's.
const IDENTITY: [&str; 6] = ["header", "entry_id", "job_id", "site_id", "station_id", "corrected_entry_id"];

/// One entry to send and what must come of it.
struct Case {
    sealed: Bytes,
    what: String,
    expected: Expected,
}

enum Expected {
    Taken,
    /// Refused as outside its bounds, with these words.
    Outside(Vec<String>),
    /// Refused for another reason: a fact of the server is not a station's to state.
    Reason(&'static str),
}

/// The way from the entry to a field.
type Way = Vec<FieldDescriptor>;

/// Every field below a message, with the way to it. What stands in a correction is walked once.
fn ways(message: &MessageDescriptor, way: &[FieldDescriptor], found: &mut Vec<Way>) {
    let corrected = way.iter().any(|field| field.name() == "replacement");
    for field in message.fields() {
        if corrected && (field.name() == "correction" || SITE_KINDS.contains(&field.name())) {
            continue;
        }
        let mut own = way.to_vec();
        own.push(field.clone());
        if matches!(row(&field).span, Span::Part { .. })
            && let Kind::Message(inner) = field.kind()
        {
            ways(&inner, &own, found);
        }
        found.push(own);
    }
}

/// The path of a field as a refusal writes it.
fn path(way: &[FieldDescriptor]) -> String {
    let step = |field: &FieldDescriptor| {
        if field.is_list() { format!("{}[0]", field.name()) } else { field.name().to_owned() }
    };
    way.iter().map(step).collect::<Vec<_>>().join(".")
}

/// The message that holds the last field of the way; what lies between is made as it should be.
fn holder<'a>(message: &'a mut DynamicMessage, way: &[FieldDescriptor]) -> &'a mut DynamicMessage {
    let [first, rest @ ..] = way else { return message };
    if rest.is_empty() {
        return message;
    }
    if !message.has_field(first) {
        message.set_field(first, whole(first, inside(first).remove(0)));
    }
    let inner = match message.get_field_mut(first) {
        Value::Message(inner) => inner,
        Value::List(items) => items[0].as_message_mut().unwrap(),
        _ => panic!("{} holds nothing", first.full_name()),
    };
    holder(inner, rest)
}

/// Makes entries one after another, each with its own id and number.
struct Maker {
    entry: MessageDescriptor,
    job: String,
    number: i64,
}

impl Maker {
    /// An entry with the least in it whose fact is that of the way, or a drain.
    fn entry(&mut self, way: &[FieldDescriptor]) -> DynamicMessage {
        self.number += 1;
        let id = standpipe_tests::sealed::uuid_v7(0xfeed, self.number.unsigned_abs());
        let mut entry = least(&self.entry);
        let is_of_site = |name| SITE_KINDS.contains(&name) || STATED_SITE_KINDS.contains(&name);
        let of_site = way.iter().any(|field| is_of_site(field.name()));
        let header = entry.get_field_by_name_mut("header").unwrap().as_message_mut().unwrap();
        header.set_field_by_name("entry_id", Value::String(id));
        if of_site {
            header.set_field_by_name("site_id", Value::String("harbour-lane".into()));
        } else {
            header.set_field_by_name("job_id", Value::String(self.job.clone()));
        }
        header.set_field_by_name("station_id", Value::String("bay-1".into()));
        header.set_field_by_name("station_epoch", Value::String("0".repeat(32)));
        header.set_field_by_name("station_number", Value::I64(1_000 + self.number));
        header.set_field_by_name("station_time", {
            let field = header.descriptor().get_field_by_name("station_time").unwrap();
            let Kind::Message(time) = field.kind() else { panic!("the time is one") };
            let mut made = DynamicMessage::new(time);
            made.set_field_by_name("seconds", Value::I64(START_US / 1_000_000));
            Value::Message(made)
        });
        entry
    }

    /// The entry with a value in the place of the way's end.
    fn with(&mut self, way: &[FieldDescriptor], value: Option<Value>) -> Bytes {
        let mut entry = self.entry(way);
        let last = way.last().unwrap();
        let holder = holder(&mut entry, way);
        match value {
            Some(value) => holder.set_field(last, value),
            None => holder.clear_field(last),
        }
        agree(holder, last);
        complete(&mut entry, way);
        entry.encode_to_vec().into()
    }
}

/// The colours of one photo.
const COLOURS: [&str; 4] = ["glass_colour", "before_colour", "fresh_colour", "white_colour"];

/// What another field of the same message has to say, so that only the bound of this one is asked.
fn agree(holder: &mut DynamicMessage, with: &FieldDescriptor) {
    match with.name() {
        // Not more new screws than screws.
        "new_screw_count" => holder.set_field_by_name("screw_count", Value::I32(60)),
        // Drops are counted where drops came.
        "drops_per_minute" => holder.set_field_by_name("overflow", Value::EnumNumber(2)),
        // Codes are given where codes were read.
        "codes" => holder.set_field_by_name("state", Value::EnumNumber(2)),
        // A laboratory's figure has its report, a viscosity its temperature, a white sheet the fluid beside it.
        name if with.parent_message().name() == "FluidSample" => {
            if name != "laboratory_report" {
                holder.set_field_by_name("laboratory_report", Value::String("L-1".into()));
            }
            match name {
                "viscosity_square_millimetres_per_second" => {
                    holder.set_field_by_name("viscosity_temperature_celsius", Value::F64(80.0));
                }
                "viscosity_temperature_celsius" => {
                    holder.set_field_by_name("viscosity_square_millimetres_per_second", Value::F64(8.5));
                }
                "white_colour" | "same_light" => {
                    holder.set_field_by_name("sample_colour", Value::String("#a0522d".into()))
                }
                _ => {}
            }
        }
        // One photo gives four colours.
        asked if COLOURS.contains(&asked) => {
            for other in COLOURS.iter().filter(|other| **other != asked) {
                holder.set_field_by_name(other, Value::String("#a03020".into()));
            }
        }
        "instrument_new_percent" => {
            holder.set_field_by_name("instrument_uncertainty_percent", Value::F64(2.0));
        }
        "instrument_uncertainty_percent" => {
            holder.set_field_by_name("instrument_new_percent", Value::F64(50.0));
        }
        "sample_count" | "instrument_spread_percent" | "temperature_spread_celsius" | "spread_celsius" => {
            a_mean(holder, with.name());
        }
        _ => {}
    }
}

/// A mean has its count, its spread and its value.
fn a_mean(holder: &mut DynamicMessage, asked: &str) {
    let of_exchange = holder.descriptor().name() == "ExchangeReading";
    let spread = match asked {
        "sample_count" if of_exchange => "instrument_spread_percent",
        "sample_count" => "spread_celsius",
        spread => spread,
    };
    if asked == "sample_count" {
        holder.set_field_by_name(spread, Value::F64(1.5));
    } else {
        holder.set_field_by_name("sample_count", Value::I32(12));
    }
    match spread {
        "instrument_spread_percent" => {
            holder.set_field_by_name("instrument_new_percent", Value::F64(50.0));
            holder.set_field_by_name("instrument_uncertainty_percent", Value::F64(2.0));
        }
        "temperature_spread_celsius" => holder.set_field_by_name("temperature_celsius", Value::F64(60.0)),
        _ => {}
    }
}

/// What a fact of the site has to say elsewhere, so that only the bound at the end of the way is asked.
fn agree_of_site(entry: &mut DynamicMessage, way: &[FieldDescriptor]) {
    let Some(at) = way.iter().position(|field| STATED_SITE_KINDS.contains(&field.name())) else { return };
    let asked = way.get(at + 1).map_or("", |field| field.name());
    let fact = holder(entry, &way[..=at]).get_field_mut(&way[at]).as_message_mut().unwrap();
    let choice = |fact: &DynamicMessage, name: &str| {
        fact.get_field_by_name(name).and_then(|value| value.as_enum_number()).unwrap_or_default()
    };
    match way[at].name() {
        // Fluid comes in litres, anything else in pieces.
        "lot_received" | "stock_counted" => match asked {
            "piece_count" => fact.set_field_by_name("what", Value::EnumNumber(2)),
            "what" if choice(fact, "what") != 1 => fact.set_field_by_name("piece_count", Value::I32(1)),
            _ => {}
        },
        // A torque tool has torques, a display litres, and a check needs them.
        "tool_checked" => {
            let of_torque = ["torques", "least_newton_metres", "greatest_newton_metres", "limit_percent"]
                .contains(&asked);
            if asked != "kind" {
                fact.set_field_by_name("kind", Value::EnumNumber(if of_torque { 1 } else { 2 }));
            }
            if asked != "event" {
                fact.set_field_by_name("event", Value::EnumNumber(3));
            } else {
                fact.set_field_by_name("shown_litres", Value::F64(5.0));
            }
            if choice(fact, "kind") == 1 {
                fact.clear_field_by_name("reference_litres");
            }
        }
        // What holds fluid holds one with a code.
        "equipment_contents" if choice(fact, "held") == 2 => fact.clear_field_by_name("fluid_code"),
        "equipment_contents" if asked != "fluid_code" => {
            fact.set_field_by_name("fluid_code", Value::String("TQ-8".into()));
        }
        _ => {}
    }
}

/// One part of a distance is the whole of it only with the rest beside it, and a level is looked at in one way.
fn complete(entry: &mut DynamicMessage, way: &[FieldDescriptor]) {
    agree_of_site(entry, way);
    if let Some(at) = way.iter().position(|field| field.name() == "level_check")
        && let Some(check) = holder(entry, &way[..=at]).get_field_mut(&way[at]).as_message_mut()
    {
        let looked =
            |name: &str| check.get_field_by_name(name).is_some_and(|value| value.as_enum_number() != Some(0));
        if !looked("overflow") && !looked("dipstick") {
            let other = way.get(at + 1).map(FieldDescriptor::name);
            let instead = if other == Some("overflow") { "dipstick" } else { "overflow" };
            check.set_field_by_name(instead, Value::EnumNumber(2));
        }
    }
    let Some(at) = way.iter().position(|field| field.name() == "temperature_shares") else { return };
    let shares = holder(entry, &way[..=at]).get_field_mut(&way[at]).as_list_mut().unwrap();
    if let [only] = shares.as_slice() {
        let mut rest = only.as_message().unwrap().clone();
        let percent = rest.get_field_by_name("percent").unwrap().as_f64().unwrap();
        rest.set_field_by_name("celsius", Value::F64(90.0));
        rest.set_field_by_name("percent", Value::F64(100.0 - percent));
        shares.push(Value::Message(rest));
    }
}

fn cases(maker: &mut Maker) -> Vec<Case> {
    let mut found = Vec::new();
    ways(&maker.entry.clone(), &[], &mut found);
    let mut cases = Vec::new();
    for way in &found {
        let last = way.last().unwrap();
        let of_server = way.iter().any(|field| SERVERS_KINDS.contains(&field.name()));
        let at = path(way);
        for Outside { value, mut named } in all_outside(last) {
            named.push(format!("{at}: "));
            let what = format!("{at} = {}", values::shown(value.as_ref()));
            let sealed = maker.with(way, value.map(|value| whole(last, value)));
            cases.push(Case { sealed, what, expected: Expected::Outside(named) });
        }
        if !IDENTITY.contains(&last.name()) && at != "fact.correction.withdrawn" {
            for value in inside(last) {
                let what = format!("{at} = {}", values::shown(Some(&value)));
                let sealed = maker.with(way, Some(whole(last, value)));
                let expected =
                    if of_server { Expected::Reason("KIND_NOT_PERMITTED") } else { Expected::Taken };
                cases.push(Case { sealed, what, expected });
            }
        }
        if last.is_list() {
            let most = row(last).items;
            let items = vec![inside(last).remove(0); most + 1];
            let named = vec![
                format!("{}: ", at.trim_end_matches("[0]")),
                format!("has {} items; at most {most}", most + 1),
            ];
            let sealed = maker.with(way, Some(Value::List(items)));
            cases.push(Case { sealed, what: format!("{at} too often"), expected: Expected::Outside(named) });
        }
        for oneof in
            last.kind().as_message().into_iter().flat_map(|message| message.oneofs().collect::<Vec<_>>())
        {
            if oneof.is_synthetic() || !matches!(row(last).span, Span::Part { .. }) {
                continue;
            }
            let parent = oneof.parent_message();
            let needed = standpipe_proto::limits::bound(parent.name(), oneof.name()).unwrap();
            if needed.span != (Span::OneOf { needed: true }) {
                continue;
            }
            let mut empty = least(parent);
            oneof.fields().for_each(|field| empty.clear_field(&field));
            let named = vec![format!("{at}.{}: is missing", oneof.name())];
            let sealed = maker.with(way, Some(Value::Message(empty)));
            cases.push(Case {
                sealed,
                what: format!("{at} without {}", oneof.name()),
                expected: Expected::Outside(named),
            });
        }
    }
    cases
}

fn complaint(case: &Case, answer: &Answer) -> Option<String> {
    let refused = |refusal: &Refusal| format!("{}: {refusal:?}", case.what);
    match (&case.expected, answer) {
        (Expected::Taken, Answer::Acknowledgement(_)) => None,
        (Expected::Reason(reason), Answer::Refusal(refusal)) => {
            (refusal.reason != *reason).then(|| refused(refusal))
        }
        (Expected::Outside(named), Answer::Refusal(refusal)) => {
            let code =
                Code::from_i32(refusal.code) == Code::InvalidArgument && refusal.reason == "OUTSIDE_BOUNDS";
            let told = named.iter().find(|word| !refusal.message.contains(*word));
            (!code || told.is_some()).then(|| format!("{told:?} is missing in {}", refused(refusal)))
        }
        (_, Answer::Refusal(refusal)) => Some(refused(refusal)),
        (_, Answer::Acknowledgement(_)) => Some(format!("{} was taken", case.what)),
    }
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn every_field_of_every_kind_is_taken_at_its_bounds_and_refused_by_name_outside_them() {
    let mut target = Target::stand().await;
    let entry = pool().get_message_by_name("standpipe.v1.Entry").unwrap();
    let mut maker = Maker { entry, job: target.job.clone(), number: 0 };
    let cases = cases(&mut maker);
    let before = target.stored().await.len();
    let sealed: Vec<Bytes> = cases.iter().map(|case| case.sealed.clone()).collect();
    let answers = target.answers(&sealed).await;
    let found: Vec<String> =
        cases.iter().zip(&answers).filter_map(|(case, answer)| complaint(case, answer)).collect();
    assert!(
        found.is_empty(),
        "{} of {}, among them {:#?}",
        found.len(),
        cases.len(),
        &found[..found.len().min(12)]
    );
    let stored = target.stored().await;
    let taken: BTreeSet<String> = cases
        .iter()
        .filter(|case| matches!(case.expected, Expected::Taken))
        .map(|case| id_of(&case.sealed))
        .collect();
    let kept: BTreeSet<String> = stored[before..].iter().map(|entry| id_of(&entry.entry)).collect();
    assert_eq!(kept, taken, "exactly what was taken is kept");
    println!("{} entries, {} of them taken", cases.len(), taken.len());
    assert!(cases.len() > 1_300 && taken.len() > 100, "the walk is not complete any more");
    target.stands().await;
}

#[test]
fn the_walk_reaches_every_field_with_a_bound() {
    let entry = pool().get_message_by_name("standpipe.v1.Entry").unwrap();
    let mut found = Vec::new();
    ways(&entry, &[], &mut found);
    pool().services().flat_map(|service| service.methods().collect::<Vec<_>>()).for_each(|method| {
        ways(&method.input(), &[], &mut found);
    });
    let mut reached: BTreeMap<String, usize> = BTreeMap::new();
    for way in &found {
        let last = way.last().unwrap();
        *reached.entry(format!("{}.{}", last.parent_message().name(), last.name())).or_default() += 1;
    }
    let expected: BTreeSet<String> = standpipe_proto::limits::bounds()
        .filter(|row| !matches!(row.span, Span::OneOf { .. }))
        .map(|row| format!("{}.{}", row.message, row.field))
        .collect();
    assert_eq!(reached.into_keys().collect::<BTreeSet<_>>(), expected);
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn every_field_of_every_request_is_refused_by_name_outside_its_bounds() {
    let target = Target::stand().await;
    let channel = shown(target.address(), &target.site.admin).await;
    let forwarder = shown(target.address(), target.site.token("mill")).await;
    let mut asked = 0;
    for service in pool().services() {
        for method in service.methods() {
            let input = method.input();
            // Requests that carry an entry are looked at entry by entry.
            if input.fields().any(|field| field.name() == "entry") {
                continue;
            }
            let path = format!("/{}/{}", service.full_name(), method.name());
            // A stream that only an owner's server reads; the server's own tests of it send it there.
            if method.name() == "PutSharedRevision" {
                continue;
            }
            let channel = if service.name() == "ForwardingService" { &forwarder } else { &channel };
            let mut found = Vec::new();
            ways(&input, &[], &mut found);
            // What is brought as it was sealed is any bytes there, and is kept whatever it says.
            for way in found.iter().filter(|way| way.last().is_none_or(|field| field.name() != "entry")) {
                let (field, at) = (way.last().unwrap(), self::path(way));
                for Outside { value, named } in all_outside(field) {
                    let mut request = values::least(&input);
                    let holder = holder(&mut request, way);
                    match &value {
                        Some(value) => holder.set_field(field, value.clone()),
                        None => holder.clear_field(field),
                    }
                    let what = format!("{path} {at} = {}", values::shown(value.as_ref()));
                    let refused = call(channel.clone(), &path, request.encode_to_vec().into()).await;
                    let status = refused.err().unwrap_or_else(|| panic!("{what} was answered"));
                    assert_eq!(status.code(), Code::InvalidArgument, "{what}: {status:?}");
                    assert_eq!(info(&status).unwrap().reason, "OUTSIDE_BOUNDS", "{what}");
                    let told = format!("{at}: ");
                    // Of a PIN nothing is repeated, not even how many digits were sent.
                    let named = if field.name() == "pin" { &[][..] } else { &named[..] };
                    for word in named.iter().chain([&told]) {
                        assert!(
                            status.message().contains(word),
                            "{what}: '{word}' in '{}'",
                            status.message()
                        );
                    }
                    asked += 1;
                }
            }
        }
    }
    println!("{asked} requests");
    assert!(asked > 100);
    target.stands().await;
}
