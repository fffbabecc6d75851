//! What a field of a step may hold, from the one table of bounds, so that the page refuses a value while it is typed, also
//! without the server. Never here: a bound itself. Called by [`super::steps`].

use prost_reflect::{FieldDescriptor, Kind};
use serde_json::{Value, json};
use standpipe_proto::limits::{self, Form, Span};
use standpipe_proto::typed::Quantity;
use standpipe_proto::words::descriptor::Words;

/// The bounds of a field: for a number a row of unit, least and greatest, one a unit; for a text a row of its form,
/// fewest and most signs. Empty where nothing bounds what can be typed.
pub(super) fn of(kind: &str, field: &str) -> Vec<Value> {
    let Some(known) = Words::get().ok().and_then(|words| words.kind(kind)) else { return Vec::new() };
    if let Some(own) = known.message.get_field_by_name(field) {
        return row(&own).into_iter().collect();
    }
    // A choice of fields: each with its own unit.
    let oneof = known.message.oneofs().find(|oneof| oneof.name() == field);
    let arms = oneof.iter().flat_map(prost_reflect::OneofDescriptor::fields).collect::<Vec<_>>();
    arms.iter().filter(|arm| Quantity::of_field(arm.name()).is_some()).filter_map(row).collect()
}

fn row(field: &FieldDescriptor) -> Option<Value> {
    let bound = limits::bound(field.parent_message().name(), field.name())?;
    match bound.span {
        Span::Number { least, greatest, unit } => Some(json!([unit, least, greatest])),
        Span::Whole { least, greatest, unit } if field.kind() == Kind::Int32 => {
            Some(json!([unit, least, greatest]))
        }
        Span::Text { least, greatest, form } => {
            let form = match form {
                Form::Vin => "vin",
                Form::Code => "code",
                _ => "words",
            };
            // Several are typed with commas between.
            let greatest = if field.is_list() { greatest.saturating_mul(bound.items) } else { greatest };
            Some(json!([form, least, greatest]))
        }
        _ => None,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The rows themselves stand in `proto/src/limits.rs`.
    #[test]
    fn every_quantity_that_a_step_can_ask_has_its_bound_in_the_unit_of_its_key() {
        for (kind, field, units) in [
            ("exchange_reading", "volume_in_litres", vec!["L"]),
            ("drain", "amount", vec!["L", "kg"]),
            ("fill", "amount", vec!["L", "kg"]),
            ("temperature_reading", "temperature_celsius", vec!["°C"]),
            ("arrival", "odometer_kilometres", vec!["km"]),
        ] {
            let told = of(kind, field);
            let shown: Vec<&str> = told.iter().filter_map(|row| row[0].as_str()).collect();
            assert_eq!(shown, units, "{kind} {field}");
            assert!(told.iter().all(|row| row[1].as_f64() < row[2].as_f64()), "{told:?}");
        }
    }

    #[test]
    fn a_bound_is_that_of_the_table() {
        let Some(limits::Bound { span: Span::Number { least, greatest, .. }, .. }) =
            limits::bound("TemperatureReading", "temperature_celsius")
        else {
            panic!("no bound of a temperature")
        };
        assert_eq!(of("temperature_reading", "temperature_celsius"), [json!(["°C", least, greatest])]);
        assert_eq!(of("vin_reading", "vin"), [json!(["vin", 17, 17])]);
        assert_eq!(of("vin_reading", "last_eight"), [json!(["vin", 8, 8])]);
        assert!(of("vin_reading", "no_field").is_empty() && of("no_kind", "vin").is_empty());
    }
}
