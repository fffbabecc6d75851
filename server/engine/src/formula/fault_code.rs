//! Fault codes of the vehicle and what they mean for a fluid service.
//!
//! Only the sorting: which code speaks against beginning, which only has to be known. Never here: reading
//! the fault memory, or what a gate does with a class. The gates and the comparison before and after call it.

/// What a fault code means for a fluid service.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum FaultClass {
    /// A fault that a fluid exchange does not repair; it is found first.
    RepairFirst,
    /// The service may go on only after a person decided it by name.
    SignedDecision,
    /// The control unit asks for attention; its own codes have to be read.
    LookFurther,
    /// To be known; it does not bear on the service.
    NoteOnly,
    /// The vehicle maker's own code, or no code of the standard: a named person looks it up and decides.
    MakerSpecific,
}

/// The class of a fault code.
///
/// The first five characters count, in capital or small letters; what follows is the failure type that some
/// scan tools show. By groups of the standard, with the sorting of this house:
///
/// * repair first: P0715 to P0722 speed sensors, P073x ratio, P074x converter clutch, P075x to P079x valves,
///   P0868 pressure, P0894 slip, U010x lost contact with a control unit of the drive
/// * signed decision: P0218 overheated, P0710 to P0714 fluid temperature, which setting the level needs
/// * look further: P0700, and every other code of the transmission's groups P07xx to P09xx and P27xx, since
///   nothing here says that it may be passed over
/// * maker's own: second character 1, for body, chassis and network also 2, and P30xx to P33xx
/// * note only: all others
///
/// # Source
/// Groups: SAE J2012 and ISO 15031-6 (from memory). The classes are ours.
///
/// # Example
/// ```
/// use standpipe_engine::formula::fault_code::{FaultClass, classify};
/// assert_eq!(classify("P0741"), FaultClass::RepairFirst);
/// assert_eq!(classify("P0420"), FaultClass::NoteOnly);
/// ```
#[must_use]
pub fn classify(code: &str) -> FaultClass {
    let code = code.trim().to_ascii_uppercase();
    let Some(head) = code.get(..5).filter(|head| is_of_the_standard(head)) else {
        return FaultClass::MakerSpecific;
    };
    let begins = |starts: &[&str]| starts.iter().any(|start| head.starts_with(start));
    let decimal_between = |least: u32, greatest: u32| {
        head.strip_prefix("P0")
            .filter(|digits| digits.bytes().all(|digit| digit.is_ascii_digit()))
            .and_then(|digits| digits.parse::<u32>().ok())
            .is_some_and(|number| (least..=greatest).contains(&number))
    };
    if begins(&["P1", "B1", "C1", "U1", "B2", "C2", "U2", "P30", "P31", "P32", "P33"]) {
        FaultClass::MakerSpecific
    } else if decimal_between(715, 722)
        || begins(&["P073", "P074", "P075", "P076", "P077", "P078", "P079", "P0868", "P0894", "U010"])
    {
        FaultClass::RepairFirst
    } else if head == "P0218" || decimal_between(710, 714) {
        FaultClass::SignedDecision
    } else if begins(&["P07", "P08", "P09", "P27"]) {
        FaultClass::LookFurther
    } else {
        FaultClass::NoteOnly
    }
}

/// A letter for the system, 0 to 3, and three hexadecimal digits.
fn is_of_the_standard(head: &str) -> bool {
    match head.as_bytes() {
        [system, group, rest @ ..] => {
            matches!(system, b'P' | b'C' | b'B' | b'U')
                && matches!(group, b'0'..=b'3')
                && rest.iter().all(u8::is_ascii_hexdigit)
        }
        _ => false,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_maker_s_own_codes_and_unknown_forms_wait_for_a_named_person() {
        for code in ["P1700", "p1777", "P3012", "U1100", "C2100", "1834", "P07", "P07ÄÄ", "X0741", "P4000"]
        {
            assert_eq!(classify(code), FaultClass::MakerSpecific, "{code}");
        }
    }

    #[test]
    fn a_failure_type_behind_the_code_changes_nothing() {
        assert_eq!(classify(" p074100 "), FaultClass::RepairFirst);
        assert_eq!(classify("P0218A1"), FaultClass::SignedDecision);
    }

    #[test]
    fn the_ends_of_the_ranges_are_inside() {
        for (code, class) in [
            ("P0714", FaultClass::SignedDecision),
            ("P0715", FaultClass::RepairFirst),
            ("P0722", FaultClass::RepairFirst),
            ("P0723", FaultClass::LookFurther),
            ("P071A", FaultClass::LookFurther),
            ("P0799", FaultClass::RepairFirst),
            ("U0110", FaultClass::NoteOnly),
        ] {
            assert_eq!(classify(code), class, "{code}");
        }
    }
}
