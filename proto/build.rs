//! Compiles the messages without an outside compiler and generates, beside the usual code:
//! the typed descriptor set for reflection and for the client's flags, the list of all methods,
//! and one visitor per message, so that the bounds can be checked without naming a field twice.

use prost::Message as _;
use prost_types::field_descriptor_proto::{Label, Type};
use prost_types::{DescriptorProto, FieldDescriptorProto, FileDescriptorProto, FileDescriptorSet};
use std::fmt::Write as _;
use std::path::PathBuf;

const PACKAGE: &str = "standpipe.v1";
const FILES: [&str; 11] = [
    "entry",
    "journal",
    "job",
    "record",
    "station",
    "catalogue",
    "blob",
    "customer",
    "tally",
    "forwarding",
    "error",
];
/// The fields whose entry stays in the bytes that the station sealed.
const SEALED: [(&str, &str); 4] = [
    ("AppendRequest", "entry"),
    ("AppendStreamRequest", "entry"),
    ("RecordedEntry", "entry"),
    ("ForwardedEntry", "entry"),
];

fn main() -> Result<(), Box<dyn std::error::Error>> {
    println!("cargo:rerun-if-changed=standpipe");
    let out = PathBuf::from(std::env::var("OUT_DIR")?);
    let paths = FILES.map(|file| format!("standpipe/v1/{file}.proto"));
    let typed = protox::compile(paths, ["."])?;
    std::fs::write(out.join("descriptor.bin"), typed.encode_to_vec())?;

    let mut sealed = typed;
    seal(&mut sealed);
    std::fs::write(out.join("methods.rs"), methods(&sealed))?;
    std::fs::write(out.join("visit.rs"), visitors(&sealed)?)?;

    let mut config = tonic_prost_build::configure();
    if std::env::var_os("CARGO_FEATURE_GRPC").is_none() {
        config = config.build_client(false).build_server(false);
    }
    for (message, field) in SEALED {
        config = config.bytes(format!(".{PACKAGE}.{message}.{field}"));
    }
    config.compile_fds(sealed)?;
    Ok(())
}

fn own_files(set: &FileDescriptorSet) -> impl Iterator<Item = &FileDescriptorProto> {
    set.file.iter().filter(|file| file.package() == PACKAGE)
}

fn seal(set: &mut FileDescriptorSet) {
    let files = set.file.iter_mut().filter(|file| file.package() == PACKAGE);
    for message in files.flat_map(|file| file.message_type.iter_mut()) {
        let name = message.name().to_owned();
        for field in &mut message.field {
            if SEALED.contains(&(name.as_str(), field.name())) {
                field.set_type(Type::Bytes);
                field.type_name = None;
            }
        }
    }
}

fn methods(set: &FileDescriptorSet) -> String {
    let mut text = String::from(
        "/// Path of every method of every service, as it stands in a request.\npub const METHODS: &[&str] = &[\n",
    );
    for service in own_files(set).flat_map(|file| &file.service) {
        for method in &service.method {
            let _ = writeln!(text, "    \"/{PACKAGE}.{}/{}\",", service.name(), method.name());
        }
    }
    text.push_str("];\n");
    text
}

fn visitors(set: &FileDescriptorSet) -> Result<String, String> {
    let mut text = String::new();
    for message in own_files(set).flat_map(|file| &file.message_type) {
        visitor(&mut text, message)?;
    }
    Ok(text)
}

fn visitor(text: &mut String, message: &DescriptorProto) -> Result<(), String> {
    if !message.nested_type.is_empty() {
        return Err(format!("{}: messages stay at top level (a map is a nested one)", message.name()));
    }
    let name = message.name();
    let _ = writeln!(text, "impl Visit for {name} {{");
    let _ = writeln!(text, "    #[allow(unused_variables, clippy::too_many_lines)]");
    let _ = writeln!(text, "    fn visit(&self, at: &mut Path, visitor: &mut dyn Visitor) {{");
    for field in &message.field {
        let optional = field.proto3_optional();
        if field.oneof_index.is_some() && !optional {
            continue;
        }
        let own = ident(field.name());
        let label = field.label();
        let call = |value: &str| leaf(name, field, value);
        let is_message = field.r#type() == Type::Message;
        if label == Label::Repeated {
            let _ = writeln!(
                text,
                "        visitor.count(at, \"{name}\", \"{}\", self.{own}.len());",
                field.name()
            );
            let _ = writeln!(
                text,
                "        for (index, value) in self.{own}.iter().enumerate() {{ at.push_item(\"{}\", index); {} at.pop(); }}",
                field.name(),
                call("value")?
            );
        } else if optional || is_message {
            let _ = writeln!(
                text,
                "        match &self.{own} {{ Some(value) => {{ at.push(\"{}\"); {} at.pop(); }} None => visitor.absent(at, \"{name}\", \"{}\") }}",
                field.name(),
                call("value")?,
                field.name()
            );
        } else {
            let value = format!("(&self.{own})");
            let _ = writeln!(text, "        at.push(\"{}\"); {} at.pop();", field.name(), call(&value)?);
        }
    }
    for (index, oneof) in message.oneof_decl.iter().enumerate() {
        let of = i32::try_from(index).map_err(|e| e.to_string())?;
        let arms: Vec<_> =
            message.field.iter().filter(|f| f.oneof_index == Some(of) && !f.proto3_optional()).collect();
        if arms.is_empty() {
            continue;
        }
        let module = snake(name);
        let kind = pascal(oneof.name());
        let _ = writeln!(text, "        match &self.{} {{", ident(oneof.name()));
        for field in arms {
            let _ = writeln!(
                text,
                "            Some({module}::{kind}::{}(value)) => {{ at.push(\"{}\"); {} at.pop(); }}",
                pascal(field.name()),
                field.name(),
                leaf(name, field, "value")?
            );
        }
        let _ = writeln!(
            text,
            "            None => visitor.absent(at, \"{name}\", \"{}\"),\n        }}",
            oneof.name()
        );
    }
    text.push_str("    }\n}\n");
    Ok(())
}

fn leaf(message: &str, field: &FieldDescriptorProto, value: &str) -> Result<String, String> {
    let name = field.name();
    let head = format!("at, \"{message}\", \"{name}\"");
    Ok(match field.r#type() {
        Type::Double => format!("visitor.number({head}, *{value});"),
        Type::Int32 | Type::Int64 => format!("visitor.whole({head}, i64::from(*{value}));"),
        Type::Bool => format!("visitor.flag({head}, *{value});"),
        Type::String => format!("visitor.text({head}, {value});"),
        Type::Bytes => format!("visitor.bytes({head}, {value}.len());"),
        Type::Enum => {
            let kind = field.type_name().rsplit('.').next().unwrap_or_default();
            format!("visitor.choice({head}, *{value}, {kind}::try_from(*{value}).is_ok());")
        }
        Type::Message if field.type_name() == ".google.protobuf.Timestamp" => {
            format!("visitor.time({head}, {value}.seconds, {value}.nanos);")
        }
        Type::Message if field.type_name().starts_with(&format!(".{PACKAGE}.")) => {
            format!("visitor.part({head}); {value}.visit(at, visitor);")
        }
        other => return Err(format!("{message}.{name}: no bound is known for the type {other:?}")),
    })
}

fn snake(name: &str) -> String {
    let mut text = String::new();
    for (index, letter) in name.chars().enumerate() {
        if letter.is_ascii_uppercase() && index > 0 {
            text.push('_');
        }
        text.push(letter.to_ascii_lowercase());
    }
    text
}

fn pascal(name: &str) -> String {
    name.split('_')
        .map(|word| {
            let mut letters = word.chars();
            letters
                .next()
                .map(|first| first.to_ascii_uppercase())
                .into_iter()
                .chain(letters)
                .collect::<String>()
        })
        .collect()
}

fn ident(name: &str) -> String {
    if matches!(name, "type" | "where" | "match" | "move" | "ref" | "use" | "in" | "for" | "loop") {
        format!("r#{name}")
    } else {
        name.to_owned()
    }
}
