//! The grammar of typed quantities: a number with decimal point or comma, an optional space, and a
//! unit from a closed list per quantity, read without regard to case.
//!
//! The last digit typed is the resolution of the reading. Stations, office forms and the engine
//! (which asks for the resolution of what was typed) all read quantities here and nowhere else.

/// What is measured.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Quantity {
    /// Volume of fluid, kept in litres.
    Volume,
    /// Mass of fluid, kept in kilograms.
    Mass,
    /// Temperature, kept in degrees Celsius.
    Temperature,
    /// Distance, kept in kilometres.
    Distance,
    /// Torque, kept in newton metres.
    Torque,
    /// Density, kept in kilograms per cubic metre.
    Density,
    /// A share in percent.
    Percent,
    /// Kinematic viscosity, kept in square millimetres per second.
    Viscosity,
    /// Acid number, kept in milligrams of potassium hydroxide per gram.
    AcidNumber,
    /// Water content, kept in milligrams per kilogram.
    Water,
    /// A count, kept per millilitre.
    Count,
}

/// A unit: its spellings in lower case, its factor and offset to the kept unit, and how it is shown.
struct Unit {
    spellings: &'static [&'static str],
    factor: f64,
    offset: f64,
    shown: &'static str,
}

const fn unit(spellings: &'static [&'static str], factor: f64, shown: &'static str) -> Unit {
    Unit { spellings, factor, offset: 0.0, shown }
}

// Exact by definition: US liquid quart 0.946 352 946 L, pound 0.453 592 37 kg, mile 1.609 344 km,
// pound-force foot 1.355 817 948 331 400 4 N·m, pound-force inch a twelfth of it, kilogram-force metre 9.806 65 N·m
// (NIST SP 811, appendix B).
const VOLUME: &[Unit] = &[
    unit(&["l", "litre", "litres", "liter", "liters"], 1.0, "L"),
    unit(&["ml"], 0.001, "mL"),
    unit(&["qt", "us qt"], 0.946_352_946, "US qt"),
];
const MASS: &[Unit] =
    &[unit(&["kg"], 1.0, "kg"), unit(&["g"], 0.001, "g"), unit(&["lb"], 0.453_592_37, "lb")];
const TEMPERATURE: &[Unit] = &[
    unit(&["°c", "c"], 1.0, "°C"),
    Unit { spellings: &["°f", "f"], factor: 5.0 / 9.0, offset: -32.0, shown: "°F" },
];
const DISTANCE: &[Unit] = &[unit(&["km"], 1.0, "km"), unit(&["mi", "mile", "miles"], 1.609_344, "mi")];
const TORQUE: &[Unit] = &[
    unit(&["n·m", "nm", "n*m", "n.m", "n m", "n⋅m"], 1.0, "N·m"),
    unit(
        &[
            "lbf·ft", "lbf⋅ft", "lbf.ft", "lbf ft", "lbfft", "lbf-ft", "ftlb", "ft·lb", "ft-lb", "ft lb",
            "ft·lbf", "ft lbf",
        ],
        1.355_817_948_331_400_4,
        "lbf·ft",
    ),
    unit(
        &["lbf·in", "lbf⋅in", "lbf.in", "lbf in", "lbfin", "lbf-in", "inlb", "in·lb", "in-lb", "in lb"],
        0.112_984_829_027_616_7,
        "lbf·in",
    ),
    unit(&["kgf·m", "kgf⋅m", "kgf.m", "kgf m", "kgfm", "m·kgf"], 9.806_65, "kgf·m"),
];
const DENSITY: &[Unit] = &[unit(&["kg/m³", "kg/m3"], 1.0, "kg/m³"), unit(&["kg/l", "g/ml"], 1000.0, "kg/L")];
const PERCENT: &[Unit] = &[unit(&["%"], 1.0, "%")];
const VISCOSITY: &[Unit] = &[unit(&["mm²/s", "mm2/s"], 1.0, "mm²/s"), unit(&["cst"], 1.0, "cSt")];
const ACID_NUMBER: &[Unit] = &[unit(&["mg koh/g", "mgkoh/g", "mg/g"], 1.0, "mg KOH/g")];
const WATER: &[Unit] = &[unit(&["mg/kg"], 1.0, "mg/kg"), unit(&["ppm"], 1.0, "ppm"), unit(&["%"], 1e4, "%")];
const COUNT: &[Unit] = &[unit(&["/ml", "per ml", "1/ml"], 1.0, "/mL")];

impl Quantity {
    fn units(self) -> &'static [Unit] {
        match self {
            Self::Volume => VOLUME,
            Self::Mass => MASS,
            Self::Temperature => TEMPERATURE,
            Self::Distance => DISTANCE,
            Self::Torque => TORQUE,
            Self::Density => DENSITY,
            Self::Percent => PERCENT,
            Self::Viscosity => VISCOSITY,
            Self::AcidNumber => ACID_NUMBER,
            Self::Water => WATER,
            Self::Count => COUNT,
        }
    }

    /// Whether a number without a unit is taken in the kept unit.
    fn unit_may_be_left_out(self) -> bool {
        matches!(self, Self::Distance | Self::Percent | Self::AcidNumber | Self::Count)
    }

    /// The quantity of a field, from the unit at the end of its name; a name may be nothing but a unit.
    #[must_use]
    pub fn of_field(field: &str) -> Option<Self> {
        const ENDS: &[(&str, Quantity)] = &[
            ("_kilograms_per_cubic_metre", Quantity::Density),
            ("_litres", Quantity::Volume),
            ("_kilograms", Quantity::Mass),
            ("_celsius", Quantity::Temperature),
            ("_kilometres", Quantity::Distance),
            ("_newton_metres", Quantity::Torque),
            ("_percent", Quantity::Percent),
            ("_square_millimetres_per_second", Quantity::Viscosity),
            ("_milligrams_per_gram", Quantity::AcidNumber),
            ("_milligrams_per_kilogram", Quantity::Water),
            ("_per_millilitre", Quantity::Count),
        ];
        let named = |end: &str| field.ends_with(end) || end.strip_prefix('_') == Some(field);
        ENDS.iter().find(|(end, _)| named(end)).map(|(_, quantity)| *quantity)
    }

    /// The end of a field's name that names the unit, for example `_litres`.
    #[must_use]
    pub fn field_end(self) -> &'static str {
        match self {
            Self::Volume => "_litres",
            Self::Mass => "_kilograms",
            Self::Temperature => "_celsius",
            Self::Distance => "_kilometres",
            Self::Torque => "_newton_metres",
            Self::Density => "_kilograms_per_cubic_metre",
            Self::Percent => "_percent",
            Self::Viscosity => "_square_millimetres_per_second",
            Self::AcidNumber => "_milligrams_per_gram",
            Self::Water => "_milligrams_per_kilogram",
            Self::Count => "_per_millilitre",
        }
    }

    /// The units that are taken, for a sentence: `L, mL or US qt`.
    #[must_use]
    pub fn units_in_words(self) -> String {
        let names: Vec<_> = self.units().iter().map(|unit| unit.shown).collect();
        match names.split_last() {
            Some((last, rest)) if !rest.is_empty() => format!("{} or {last}", rest.join(", ")),
            _ => names.concat(),
        }
    }
}

/// Units of which nobody reads thousandths, so that three decimals are more likely thousands.
const SMALL_UNITS: [&str; 7] = ["mL", "g", "km", "mi", "mg/kg", "ppm", "/mL"];

/// A quantity as it was understood.
#[derive(Debug, Clone, PartialEq)]
pub struct Typed {
    /// Value in the kept unit.
    pub value: f64,
    /// Step of the last digit typed, in the kept unit; greater than zero.
    pub resolution: f64,
    /// How it was understood, for example `3.05 kg`.
    pub understood: String,
}

/// Why a text is no quantity.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum TypedError {
    /// There is no number, or more than one decimal mark.
    #[error("'{text}' is no number with a unit; write for example {example}")]
    NoNumber {
        /// The text.
        text: String,
        /// A text that would be understood.
        example: String,
    },
    /// Three decimals of a small unit: read as thousands somewhere, as thousandths elsewhere.
    #[error("'{text}' can be read in two ways; write {whole} {unit} or {large}")]
    TwoWays {
        /// The text.
        text: String,
        /// The number if the mark sets off thousands.
        whole: String,
        /// The unit.
        unit: &'static str,
        /// How the other reading is written.
        large: String,
    },
    /// The unit is missing.
    #[error("'{text}' has no unit; {units} is needed")]
    NoUnit {
        /// The text.
        text: String,
        /// The units that are taken.
        units: String,
    },
    /// The unit is not in the list of the quantity.
    #[error("'{unit}' in '{text}' is no unit for this; {units} is needed")]
    WrongUnit {
        /// The unit as typed.
        unit: String,
        /// The text.
        text: String,
        /// The units that are taken.
        units: String,
    },
}

/// Reads a typed quantity.
///
/// A sign, digits, one decimal point or comma, an optional space, a unit. Both `-` and the true
/// minus are signs. No exponents, no thousands marks.
///
/// # Errors
/// When there is no number, or the unit is missing or belongs to another quantity.
///
/// ```
/// use standpipe_proto::typed::{Quantity, read};
/// let typed = read("3,05kg", Quantity::Mass)?;
/// assert_eq!((typed.value, typed.resolution), (3.05, 0.01));
/// # Ok::<(), standpipe_proto::typed::TypedError>(())
/// ```
pub fn read(text: &str, quantity: Quantity) -> Result<Typed, TypedError> {
    let trimmed = text.trim();
    let no_number = || TypedError::NoNumber { text: shortened(trimmed), example: example(quantity) };
    let unsigned = trimmed.strip_prefix(['-', '\u{2212}']);
    let negative = unsigned.is_some();
    let rest = unsigned.or_else(|| trimmed.strip_prefix('+')).unwrap_or(trimmed);
    let end = rest.find(|c: char| !c.is_ascii_digit() && c != '.' && c != ',').unwrap_or(rest.len());
    let (digits, unit_text) = rest.split_at(end);
    let (whole, decimals) = match digits.find(['.', ',']) {
        None => (digits, None),
        Some(mark) => {
            let (whole, decimals) = digits.split_at(mark);
            (whole, decimals.get(1..))
        }
    };
    let plain = |part: &str| !part.is_empty() && part.len() <= 15 && part.bytes().all(|b| b.is_ascii_digit());
    if !plain(whole) || decimals.is_some_and(|part| !plain(part)) {
        return Err(no_number());
    }
    let decimals = decimals.unwrap_or_default();
    let number: f64 = format!("{whole}.{decimals}0").parse().map_err(|_| no_number())?;
    let signed = if negative { -number } else { number };
    let unit = unit_of(unit_text.trim(), trimmed, quantity)?;
    if decimals.len() == 3 && SMALL_UNITS.contains(&unit.shown) && whole.len() <= 3 {
        return Err(TypedError::TwoWays {
            text: shortened(trimmed),
            whole: format!("{whole}{decimals}"),
            unit: unit.shown,
            large: format!("{whole}.{} {}", decimals.trim_end_matches('0'), unit.shown).replace(". ", " "),
        });
    }
    let step = 10_f64.powi(-i32::try_from(decimals.len()).unwrap_or(15));
    let sign = if negative { "\u{2212}" } else { "" };
    let shown = if decimals.is_empty() { whole.to_owned() } else { format!("{whole}.{decimals}") };
    let converted = if unit.factor == 1.0 && unit.offset == 0.0 {
        String::new()
    } else {
        format!(" = {} {}", rounded((signed + unit.offset) * unit.factor, step * unit.factor), kept(quantity))
    };
    Ok(Typed {
        value: (signed + unit.offset) * unit.factor,
        resolution: step * unit.factor,
        understood: format!("{sign}{shown}\u{a0}{}{converted}", unit.shown),
    })
}

fn unit_of(unit_text: &str, text: &str, quantity: Quantity) -> Result<&'static Unit, TypedError> {
    let units = quantity.units();
    if unit_text.is_empty() {
        return match units.first() {
            Some(first) if quantity.unit_may_be_left_out() => Ok(first),
            _ => Err(TypedError::NoUnit { text: shortened(text), units: quantity.units_in_words() }),
        };
    }
    let wanted = unit_text.to_lowercase();
    units.iter().find(|unit| unit.spellings.contains(&wanted.as_str())).ok_or_else(|| TypedError::WrongUnit {
        unit: shortened(unit_text),
        text: shortened(text),
        units: quantity.units_in_words(),
    })
}

fn kept(quantity: Quantity) -> &'static str {
    quantity.units().first().map_or("", |unit| unit.shown)
}

fn example(quantity: Quantity) -> String {
    format!("4.2 {}", kept(quantity))
}

/// A converted value with one digit more than was typed.
fn rounded(value: f64, resolution: f64) -> String {
    let digits = (1.0 - resolution.log10()).ceil().clamp(0.0, 6.0);
    // The clamp keeps the digits small and not negative.
    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)]
    let digits = digits as usize;
    format!("{value:.digits$}").replace('-', "\u{2212}")
}

fn shortened(text: &str) -> String {
    if text.chars().count() <= 40 { text.to_owned() } else { text.chars().take(39).chain(['…']).collect() }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn value(text: &str, quantity: Quantity) -> f64 {
        read(text, quantity).unwrap().value
    }

    #[test]
    fn point_and_comma_space_and_case_make_no_difference() {
        for text in ["3.60 L", "3,60l", " 3.60L ", "3.60 litres", "+3.60 l"] {
            let typed = read(text, Quantity::Volume).unwrap();
            assert_eq!((typed.value, typed.resolution), (3.6, 0.01), "{text}");
        }
        assert_eq!(value("\u{2212}3.5 °C", Quantity::Temperature), -3.5);
    }

    #[test]
    fn units_convert_by_their_definitions() {
        // NIST SP 811, appendix B.8 and B.9.
        assert!((value("1 qt", Quantity::Volume) - 0.946_352_946).abs() < 1e-12);
        assert!((value("1 lb", Quantity::Mass) - 0.453_592_37).abs() < 1e-12);
        assert!((value("10 lbf·ft", Quantity::Torque) - 13.558_179_483_314).abs() < 1e-9);
        assert_eq!(value("10 lbf ft", Quantity::Torque), value("10 ft·lb", Quantity::Torque));
        assert!((value("120 lbf·in", Quantity::Torque) - value("10 lbf·ft", Quantity::Torque)).abs() < 1e-9);
        assert_eq!(value("1 kgf·m", Quantity::Torque), 9.806_65);
        assert_eq!(value("9 Nm", Quantity::Torque), value("9 N·m", Quantity::Torque));
        assert!((value("212 °F", Quantity::Temperature) - 100.0).abs() < 1e-9);
        assert_eq!(read("110 °F", Quantity::Temperature).unwrap().understood, "110\u{a0}°F = 43.33 °C");
    }

    #[test]
    fn a_missing_or_foreign_unit_is_refused_in_a_sentence() {
        assert_eq!(
            read("3.6", Quantity::Volume).unwrap_err().to_string(),
            "'3.6' has no unit; L, mL or US qt is needed"
        );
        assert!(read("3.6 kg", Quantity::Volume).unwrap_err().to_string().contains("'kg' in '3.6 kg'"));
        assert_eq!(value("118240", Quantity::Distance), 118_240.0);
    }

    #[test]
    fn what_is_no_plain_number_is_refused() {
        for text in [
            "", "L", "NaN L", "inf L", "1e3 L", "1.2.3 L", ".5 L", "5. L", "1 000 L", "--1 L", "٣ L",
            "0x10 L",
        ] {
            assert!(read(text, Quantity::Volume).is_err(), "{text}");
        }
    }

    #[test]
    fn three_decimals_of_a_small_unit_are_asked_back() {
        for (text, quantity) in
            [("3,000 mL", Quantity::Volume), ("3.050 g", Quantity::Mass), ("98,500 km", Quantity::Distance)]
        {
            let said = read(text, quantity).unwrap_err().to_string();
            assert!(said.contains("can be read in two ways"), "{said}");
        }
        assert_eq!(
            read("98,500", Quantity::Distance).unwrap_err().to_string(),
            "'98,500' can be read in two ways; write 98500 km or 98.5 km"
        );
        assert_eq!(value("3000 mL", Quantity::Volume), 3.0);
        assert_eq!(value("3.050 kg", Quantity::Mass), 3.05);
    }

    #[test]
    fn figures_of_a_laboratory_are_read_in_their_units() {
        // 1 cSt is 10⁻⁶ m²/s (NIST SP 811, appendix B.8, from memory); ppm of a mass are mg/kg by definition.
        assert_eq!(value("28,4 cSt", Quantity::Viscosity), 28.4);
        assert_eq!(value("28.4 mm2/s", Quantity::Viscosity), 28.4);
        assert_eq!(value("2.6 mg KOH/g", Quantity::AcidNumber), 2.6);
        assert_eq!(value("310 ppm", Quantity::Water), 310.0);
        assert!((value("0.05 %", Quantity::Water) - 500.0).abs() < 1e-9);
        assert_eq!(value("2600 /mL", Quantity::Count), 2600.0);
        assert_eq!(value("2600", Quantity::Count), 2600.0);
        for (text, quantity) in [("28.4", Quantity::Viscosity), ("310", Quantity::Water)] {
            assert!(read(text, quantity).unwrap_err().to_string().contains("has no unit"), "{text}");
        }
        // A mark of thousands is asked back.
        assert!(read("2,600 /mL", Quantity::Count).is_err());
    }

    proptest! {
        #[test]
        fn no_text_panics(text in "\\PC{0,60}") {
            let _ = read(&text, Quantity::Temperature);
        }

        #[test]
        fn what_was_typed_is_what_is_understood(whole in 0u32..100_000, decimals in 0u32..1000) {
            let typed = read(&format!("{whole},{decimals:03} kg"), Quantity::Mass).unwrap();
            prop_assert!((typed.value - f64::from(whole) - f64::from(decimals) / 1000.0).abs() < 1e-9);
            prop_assert!((typed.resolution - 0.001).abs() < 1e-15);
            let understood = read(&typed.understood.replace('\u{a0}', " "), Quantity::Mass).unwrap();
            prop_assert_eq!(understood.value, typed.value);
        }
    }
}
