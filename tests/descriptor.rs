//! The messages as others have learnt them: every field with its number and type stands in a snapshot, so that none
//! changes or goes unseen. `STANDPIPE_SNAPSHOT=update` writes it anew, for whoever looked at what is different.

use prost_reflect::{Cardinality, DescriptorPool, FieldDescriptor, Kind};
use std::collections::BTreeSet;
use std::path::Path;

/// One line a field, value of an enumeration and call.
fn lines() -> BTreeSet<String> {
    let pool = DescriptorPool::decode(standpipe_proto::DESCRIPTOR_SET).unwrap();
    let ours = |name: &str| name.starts_with("standpipe.");
    let messages = pool.all_messages().filter(|message| ours(message.full_name()));
    let fields =
        messages.flat_map(|message| message.fields().map(|field| field_line(&field)).collect::<Vec<_>>());
    let enums = pool.all_enums().filter(|of| ours(of.full_name()));
    let values = enums.flat_map(|of| {
        let line = |value: prost_reflect::EnumValueDescriptor| {
            format!("{}.{} = {}", of.full_name(), value.name(), value.number())
        };
        of.values().map(line).collect::<Vec<_>>()
    });
    let methods = pool.services().flat_map(|service| service.methods().collect::<Vec<_>>());
    let calls = methods.map(|method| {
        let stream = |streams: bool| if streams { "stream " } else { "" };
        format!(
            "{}({}{}) returns {}{}",
            method.full_name(),
            stream(method.is_client_streaming()),
            method.input().full_name(),
            stream(method.is_server_streaming()),
            method.output().full_name()
        )
    });
    fields.chain(values).chain(calls.filter(|call| ours(call))).collect()
}

fn field_line(field: &FieldDescriptor) -> String {
    let kind = match field.kind() {
        Kind::Message(message) => message.full_name().to_owned(),
        Kind::Enum(of) => of.full_name().to_owned(),
        other => format!("{other:?}").to_lowercase(),
    };
    let label = match (field.cardinality(), field.containing_oneof()) {
        (Cardinality::Repeated, _) => " repeated".to_owned(),
        (_, Some(one_of)) if one_of.is_synthetic() => " optional".to_owned(),
        (_, Some(one_of)) => format!(" oneof {}", one_of.name()),
        _ => String::new(),
    };
    format!("{} = {} {kind}{label}", field.full_name(), field.number())
}

#[test]
fn no_message_changes_unseen() {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("snapshots/descriptor.txt");
    let now = lines();
    if std::env::var("STANDPIPE_SNAPSHOT").is_ok_and(|it| it == "update") {
        let text: String = now.iter().map(|line| format!("{line}\n")).collect();
        std::fs::write(&path, text).unwrap();
    }
    let kept = std::fs::read_to_string(&path).unwrap();
    let kept: BTreeSet<String> = kept.lines().map(str::to_owned).collect();
    let gone: Vec<_> = kept.difference(&now).collect();
    let new: Vec<_> = now.difference(&kept).collect();
    assert!(
        gone.is_empty(),
        "stations and programs of others rely on these lines; keep them as they were: {gone:#?}\nnew are {new:#?}"
    );
    assert!(
        new.is_empty(),
        "look at these new lines, then renew the snapshot with STANDPIPE_SNAPSHOT=update: {new:#?}"
    );
}
