//! What a row of the table of bounds can say of a field. Never here: a bound.

/// What a field may hold.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Span {
    /// A measured number between two ends, in a unit.
    Number {
        /// Least value allowed.
        least: f64,
        /// Greatest value allowed.
        greatest: f64,
        /// Unit as it is shown.
        unit: &'static str,
    },
    /// A whole number between two ends.
    Whole {
        /// Least value allowed.
        least: i64,
        /// Greatest value allowed.
        greatest: i64,
        /// Unit as it is shown; empty for a plain count.
        unit: &'static str,
    },
    /// A text of so many characters in a form.
    Text {
        /// Fewest characters; 0 means that it may be left out.
        least: usize,
        /// Most characters.
        greatest: usize,
        /// What the characters may be.
        form: Form,
    },
    /// So many bytes.
    Bytes {
        /// Most bytes.
        greatest: usize,
    },
    /// One of the listed choices.
    Choice {
        /// True when 'not stated' is no answer.
        needed: bool,
    },
    /// Yes or no.
    Flag,
    /// A point in time between two years, both inside.
    Time {
        /// True when it must be there.
        needed: bool,
    },
    /// A point in time as a journal holds it, whatever the clock said: microseconds since 1970 in 64 bits.
    Moment {
        /// True when it must be there.
        needed: bool,
    },
    /// A message of ours.
    Part {
        /// True when it must be there.
        needed: bool,
    },
    /// A choice between fields.
    OneOf {
        /// True when one of them must be there.
        needed: bool,
    },
}

/// What the characters of a text may be. No form allows control characters.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Form {
    /// Any printable text.
    Words,
    /// A UUID in its text form, lower-case letters.
    Uuid,
    /// A UUID of version 7 in its text form, lower-case letters.
    UuidV7,
    /// Hexadecimal digits, lower-case letters.
    Hex,
    /// An sRGB colour as `#rrggbb`, the digits in lower or upper case.
    Colour,
    /// Letters, digits, and `. _ / + -` and spaces inside: codes as parts and containers carry them.
    Code,
    /// Letters and digits.
    LettersAndDigits,
    /// Lower-case letters, digits, `.` `_` `-`: names of stations and gates.
    Name,
    /// A vehicle identification number or its end: A-Z without I, O, Q, and 0-9.
    Vin,
    /// A day as YYYY-MM-DD.
    Day,
}

/// One row of the table.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Bound {
    /// Message in the proto files.
    pub message: &'static str,
    /// Field or `oneof` of the message.
    pub field: &'static str,
    /// What it may hold.
    pub span: Span,
    /// Most items of a repeated field; 1 for a single one.
    pub items: usize,
    /// Why the bound is where it is.
    pub why: &'static str,
}
