//! Values for every field by its type and its row in the table of bounds: some inside, and many outside in one way each.

use prost_reflect::{DescriptorPool, DynamicMessage, FieldDescriptor, Kind, MessageDescriptor, Value};
use standpipe_proto::limits::{Bound, Form, MOMENT_SECONDS, Span, TIME_SECONDS, bound};

pub fn pool() -> DescriptorPool {
    DescriptorPool::decode(standpipe_proto::DESCRIPTOR_SET).unwrap()
}

pub fn row(field: &FieldDescriptor) -> &'static Bound {
    bound(field.parent_message().name(), field.name()).unwrap()
}

/// A value outside its bound (`None`: not there at all), and words that the refusal must hold beside the field.
pub struct Outside {
    pub value: Option<Value>,
    pub named: Vec<String>,
}

fn outside(value: Value, named: &[String]) -> Outside {
    Outside { value: Some(value), named: named.to_vec() }
}

fn missing() -> Outside {
    Outside { value: None, named: vec!["is missing".to_owned()] }
}

/// A message with only what is needed, everything inside its bounds.
pub fn least(message: &MessageDescriptor) -> DynamicMessage {
    let mut made = DynamicMessage::new(message.clone());
    for field in message.fields().filter(|field| field.containing_oneof().is_none() && !field.is_list()) {
        let needed = match row(&field).span {
            Span::Text { least, .. } => least > 0,
            Span::Choice { needed }
            | Span::Time { needed }
            | Span::Moment { needed }
            | Span::Part { needed } => needed,
            Span::Number { .. } | Span::Whole { .. } => true,
            _ => false,
        };
        if needed {
            made.set_field(&field, whole(&field, inside(&field).remove(0)));
        }
    }
    for oneof in message.oneofs().filter(|oneof| !oneof.is_synthetic()) {
        let first = oneof.fields().next().unwrap();
        made.set_field(&first, inside(&first).remove(0));
    }
    made
}

/// One item as the whole field: a list of it where the field repeats.
pub fn whole(field: &FieldDescriptor, item: Value) -> Value {
    if field.is_list() { Value::List(vec![item]) } else { item }
}

/// Values at both ends of the bound, of one item where the field repeats.
pub fn inside(field: &FieldDescriptor) -> Vec<Value> {
    match row(field).span {
        Span::Number { least, greatest, .. } => vec![Value::F64(least), Value::F64(greatest)],
        Span::Whole { least, greatest, .. } => [least, greatest].map(|value| number(field, value)).into(),
        Span::Text { least, greatest, form } => {
            [least.max(1), greatest].map(|length| Value::String(text(form, length))).into()
        }
        Span::Choice { .. } => vec![Value::EnumNumber(1)],
        Span::Flag => vec![Value::Bool(true)],
        Span::Time { .. } => {
            vec![time(field, TIME_SECONDS.0, 0), time(field, TIME_SECONDS.1, 999_999_999)]
        }
        Span::Moment { .. } => {
            let (first, last) = MOMENT_SECONDS;
            vec![time(field, first, 0), time(field, last, 999_999_000)]
        }
        Span::Part { .. } => {
            let Kind::Message(message) = field.kind() else { panic!("{} is no message", field.full_name()) };
            vec![Value::Message(least(&message))]
        }
        Span::Bytes { greatest } => [1, greatest].map(bytes).into(),
        Span::OneOf { .. } => panic!("{} is not walked", field.full_name()),
    }
}

/// Values outside the bound, of one item where the field repeats.
pub fn all_outside(field: &FieldDescriptor) -> Vec<Outside> {
    let row = row(field);
    let mut found = match row.span {
        Span::Number { least, greatest, unit } => {
            let bounds = [plain(least), plain(greatest), unit.to_owned()];
            let values = [
                f64::NAN,
                -f64::NAN,
                f64::INFINITY,
                f64::NEG_INFINITY,
                least.next_down(),
                greatest.next_up(),
                1e300,
                -1e300,
                f64::MAX,
                f64::MIN,
            ];
            values.map(|value| outside(Value::F64(value), &[&[plain(value)][..], &bounds].concat())).into()
        }
        Span::Whole { least, greatest, .. } => {
            let small = matches!(field.kind(), Kind::Int32);
            let (first, last) = if small { (i32::MIN.into(), i32::MAX.into()) } else { (i64::MIN, i64::MAX) };
            let values = [first, -1, least.saturating_sub(1), greatest.saturating_add(1), last];
            let values =
                values.into_iter().filter(|value| !(least..=greatest).contains(value) && *value <= last);
            let named = |value: i64| [value.to_string(), format!("{least} to {greatest}")];
            values.map(|value| outside(number(field, value), &named(value))).collect()
        }
        Span::Text { least, greatest, form } => texts_outside(least, greatest, form),
        Span::Choice { .. } => [7_777, -1, i32::MAX, i32::MIN]
            .map(|choice| outside(Value::EnumNumber(choice), &[choice.to_string(), "not known".to_owned()]))
            .into(),
        Span::Time { .. } => {
            let (first, last) = TIME_SECONDS;
            let whole = [(first - 1, 0), (last + 1, 0), (i64::MIN, 0), (i64::MAX, 0)];
            let parts = [(first, -1), (first, 1_000_000_000), (first, i32::MIN)];
            times_outside(field, &[&whole[..], &parts].concat(), "2000 to 2199")
        }
        Span::Moment { .. } => {
            let (first, last) = MOMENT_SECONDS;
            let times =
                [(first - 1, 0), (last + 1, 0), (i64::MIN, 0), (i64::MAX, 0), (0, -1), (0, 1_000_000_000)];
            times_outside(field, &times, "64 bits")
        }
        Span::Part { .. } | Span::Flag => Vec::new(),
        Span::Bytes { greatest } => {
            let length = greatest + 1;
            vec![outside(bytes(length), &[format!("has {length} bytes"), greatest.to_string()])]
        }
        Span::OneOf { .. } => panic!("{} is not walked", field.full_name()),
    };
    let needed = match row.span {
        Span::Text { least, .. } => least > 0,
        Span::Choice { needed } | Span::Time { needed } | Span::Moment { needed } | Span::Part { needed } => {
            needed
        }
        _ => false,
    };
    // What is missing in a oneof is the oneof; an empty list of choices is no choice that is missing.
    if needed && field.containing_oneof().is_none() && !field.is_list() {
        found.push(missing());
    }
    found
}

fn times_outside(field: &FieldDescriptor, times: &[(i64, i32)], named: &str) -> Vec<Outside> {
    let one = |(seconds, nanos): &(i64, i32)| {
        outside(time(field, *seconds, *nanos), &[seconds.to_string(), named.to_owned()])
    };
    times.iter().map(one).collect()
}

fn bytes(length: usize) -> Value {
    Value::Bytes(vec![0x5a; length].into())
}

fn texts_outside(least: usize, greatest: usize, form: Form) -> Vec<Outside> {
    let mut found = Vec::new();
    for length in [greatest + 1, 20_000] {
        let named = [format!("has {length} characters"), greatest.to_string()];
        found.push(outside(Value::String("1".repeat(length)), &named));
    }
    if least > 1 {
        let named = [format!("has {} characters", least - 1)];
        found.push(outside(Value::String("1".repeat(least - 1)), &named));
    }
    for wrong in ['\0', '\n', '\r', '\t', '\u{1b}', '\u{7f}', '\u{85}', '\u{202e}', '\u{2028}', '\u{2066}'] {
        // In the place of the last character, so that the length is not what is wrong.
        let mut text = text(form, least.max(1).max(greatest.min(10)));
        text.pop();
        text.push(wrong);
        let named = match form {
            Form::Uuid | Form::UuidV7 | Form::Day | Form::Colour => Vec::new(),
            _ => vec![format!("U+{:04X}", u32::from(wrong))],
        };
        found.push(outside(Value::String(text), &named));
    }
    found
}

/// A text of so many characters in a form; those of a fixed length are as long as they must be.
fn text(form: Form, length: usize) -> String {
    match form {
        Form::Uuid | Form::UuidV7 => "01890a5d-ac96-774b-bcce-b302099a8057".to_owned(),
        Form::Day => "2026-03-18".to_owned(),
        Form::Colour => "#a0522d".to_owned(),
        // A digest that may be left out is whole or absent.
        Form::Hex if length == 1 => "1".repeat(64),
        Form::Words | Form::Code | Form::LettersAndDigits | Form::Hex | Form::Name | Form::Vin => {
            "1".repeat(length)
        }
    }
}

fn number(field: &FieldDescriptor, value: i64) -> Value {
    match field.kind() {
        Kind::Int32 => Value::I32(i32::try_from(value).unwrap()),
        Kind::Int64 => Value::I64(value),
        _ => panic!("{} is no whole number", field.full_name()),
    }
}

fn time(field: &FieldDescriptor, seconds: i64, nanos: i32) -> Value {
    let Kind::Message(message) = field.kind() else { panic!("{} is no time", field.full_name()) };
    let mut made = DynamicMessage::new(message);
    made.set_field_by_name("seconds", Value::I64(seconds));
    made.set_field_by_name("nanos", Value::I32(nanos));
    Value::Message(made)
}

/// A value for the message of a failed test; messages are named and not shown.
pub fn shown(value: Option<&Value>) -> String {
    match value {
        None => "nothing".to_owned(),
        Some(Value::Message(_)) => "a message".to_owned(),
        Some(Value::List(items)) => format!("{} items", items.len()),
        Some(Value::Bytes(bytes)) => format!("{} bytes", bytes.len()),
        Some(Value::String(text)) => format!("{:?}", text.chars().take(40).collect::<String>()),
        Some(other) => format!("{other:?}"),
    }
}

/// A number as a sentence shows it: without an exponent as long as it is short.
fn plain(value: f64) -> String {
    let short = value == 0.0 || (1e-6..1e15).contains(&value.abs());
    if short { value.to_string() } else { format!("{value:e}") }
}
