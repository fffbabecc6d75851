//! Whatever enters is inside the one table of bounds: no field without a row, no row without a field.

use prost_reflect::{DescriptorPool, Kind, MessageDescriptor};
use standpipe_proto::limits::{Bound, Span, bound, bounds};
use std::collections::BTreeSet;

fn pool() -> DescriptorPool {
    DescriptorPool::decode(standpipe_proto::DESCRIPTOR_SET).unwrap()
}

/// Messages that enter: what services are asked, the entry, and all that these hold.
fn entering() -> Vec<MessageDescriptor> {
    let pool = pool();
    let mut open: Vec<MessageDescriptor> = pool
        .services()
        .flat_map(|service| service.methods().map(|method| method.input()).collect::<Vec<_>>())
        .collect();
    open.extend(pool.get_message_by_name("standpipe.v1.Entry"));
    let mut seen = BTreeSet::new();
    let mut found = Vec::new();
    while let Some(message) = open.pop() {
        if !message.full_name().starts_with("standpipe.v1.") || !seen.insert(message.full_name().to_owned()) {
            continue;
        }
        open.extend(message.fields().filter_map(|field| field.kind().as_message().cloned()));
        found.push(message);
    }
    assert!(found.len() > 25, "the walk reaches all kinds, found {}", found.len());
    found
}

#[test]
fn every_field_that_enters_has_a_bound_of_its_type() {
    for message in entering() {
        for field in message.fields() {
            let place = format!("{}.{}", message.name(), field.name());
            let row = bound(message.name(), field.name()).unwrap_or_else(|| {
                panic!("{place} has no row in limits.rs; a new field needs its bound before it can be used")
            });
            assert!(fits(row, &field.kind()), "{place}: {:?} does not fit {:?}", row.span, field.kind());
            assert!(
                field.is_list() || row.items == 1,
                "{place} is single but has a row of {} items",
                row.items
            );
            assert!(!field.is_list() || row.items > 1, "{place} repeats without a greatest number of items");
            assert!(!field.is_map(), "{place} is a map; bytes of a map have no fixed order");
        }
        for oneof in message.oneofs().filter(|oneof| !oneof.is_synthetic()) {
            let row = bound(message.name(), oneof.name());
            assert!(
                row.is_some_and(|row| matches!(row.span, Span::OneOf { .. })),
                "{}.{} has no row in limits.rs",
                message.name(),
                oneof.name()
            );
        }
    }
}

fn fits(row: &Bound, kind: &Kind) -> bool {
    match kind {
        Kind::Double => matches!(row.span, Span::Number { .. }),
        Kind::Int32 | Kind::Int64 => matches!(row.span, Span::Whole { .. }),
        Kind::Bool => row.span == Span::Flag,
        Kind::String => matches!(row.span, Span::Text { .. }),
        Kind::Bytes => matches!(row.span, Span::Bytes { .. }),
        Kind::Enum(_) => matches!(row.span, Span::Choice { .. }),
        // The entry within a request stays in its bytes, so its bound is a size.
        Kind::Message(message) if message.full_name() == "standpipe.v1.Entry" => {
            matches!(row.span, Span::Bytes { .. })
        }
        Kind::Message(message) if message.full_name() == "google.protobuf.Timestamp" => {
            matches!(row.span, Span::Time { .. } | Span::Moment { .. })
        }
        Kind::Message(_) => matches!(row.span, Span::Part { .. }),
        _ => false,
    }
}

#[test]
fn every_row_names_a_field_that_exists() {
    let pool = pool();
    for row in bounds() {
        let message = pool.get_message_by_name(&format!("standpipe.v1.{}", row.message)).expect(row.message);
        let is_field = message.get_field_by_name(row.field).is_some();
        let is_oneof = message.oneofs().any(|oneof| oneof.name() == row.field);
        assert!(is_field || is_oneof, "{}.{} is no field", row.message, row.field);
    }
}

#[test]
fn every_kind_of_a_job_is_read_by_the_engine_and_every_element_is_commented() {
    let pool = pool();
    let fact = pool.get_message_by_name("standpipe.v1.Fact").unwrap();
    let site = ["station_enrolled", "person_listed", "catalogue_adopted"];
    let mut known = standpipe_engine::kind::NAMES.to_vec();
    known.extend(standpipe_engine::kind::site::SITE_NAMES);
    let kinds: Vec<String> = fact
        .fields()
        .map(|field| field.name().to_owned())
        .filter(|name| name != "correction" && !site.contains(&name.as_str()))
        .collect();
    assert_eq!(kinds, known);
    for file in pool.files().filter(|file| file.package_name() == "standpipe.v1") {
        let source = file.file_descriptor_proto().source_code_info.clone().unwrap_or_default();
        let commented: BTreeSet<Vec<i32>> = source
            .location
            .iter()
            .filter(|location| !location.leading_comments().trim().is_empty())
            .map(|location| location.path.clone())
            .collect();
        let said = |name: &str, path: &[i32]| assert!(commented.contains(path), "{name} has no comment");
        for message in file.messages() {
            said(message.full_name(), message.path());
            message.fields().for_each(|field| said(field.full_name(), field.path()));
        }
        for choice in file.enums() {
            said(choice.full_name(), choice.path());
            choice.values().for_each(|value| said(value.full_name(), value.path()));
        }
        for service in file.services() {
            said(service.full_name(), service.path());
            service.methods().for_each(|method| said(method.full_name(), method.path()));
        }
    }
}
