//! A torque as it was set on the tool: the number and the text that was typed for it.
//!
//! Never here: whether a torque is the right one. Tightening and the level plug carry it.

use crate::text::number;
use standpipe_proto::typed::{self, Quantity};

/// A torque set on a tool.
#[derive(Debug, Clone, PartialEq)]
pub struct Torque {
    /// The number, in N·m, 1 to 400.
    pub newton_metres: f64,
    shown: String,
}

impl Torque {
    /// A torque with the text that was typed for it. A text that says another number than the
    /// message is not believed, as with amounts.
    #[must_use]
    pub fn new(newton_metres: f64, typed_text: Option<&str>) -> Self {
        let typed = typed_text
            .and_then(|text| typed::read(text, Quantity::Torque).ok())
            .filter(|typed| (typed.value - newton_metres).abs() <= 1e-9 * newton_metres.abs().max(1.0));
        let decimals = usize::from(newton_metres.fract().abs() > 1e-9);
        let shown =
            typed.map_or_else(|| number::newton_metres(newton_metres, decimals), |typed| typed.understood);
        Self { newton_metres, shown }
    }

    /// The torque as it was read, with its unit.
    #[must_use]
    pub fn as_read(&self) -> &str {
        &self.shown
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_torque_is_shown_as_it_was_typed() {
        assert_eq!(Torque::new(9.0, Some("9.0 nm")).as_read(), "9.0\u{a0}N·m");
        assert_eq!(Torque::new(9.0, None).as_read(), "9\u{a0}N·m");
        assert_eq!(Torque::new(22.5, None).as_read(), "22.5\u{a0}N·m");
    }

    #[test]
    fn a_torque_read_in_another_unit_is_shown_in_both() {
        let torque = Torque::new(80.0 * 0.112_984_829_027_616_7, Some("80 lbf·in"));
        assert_eq!(torque.as_read(), "80\u{a0}lbf·in = 9.04 N·m");
        let torque = Torque::new(1.355_817_948_331_400_4 * 7.0, Some("7 ft·lb"));
        assert_eq!(torque.as_read(), "7\u{a0}lbf·ft = 9.5 N·m");
    }

    #[test]
    fn a_typed_torque_that_says_another_number_is_not_believed() {
        assert_eq!(Torque::new(9.0, Some("22 N·m")).as_read(), "9\u{a0}N·m");
    }

    #[test]
    fn what_is_typed_in_a_unit_is_the_same_torque() {
        use crate::formula::torque_units::TorqueUnit;
        let units = [TorqueUnit::PoundForceFoot, TorqueUnit::PoundForceInch, TorqueUnit::KilogramForceMetre];
        for unit in units {
            let typed = typed::read(&format!("7 {}", unit.symbol()), Quantity::Torque).unwrap();
            assert!((typed.value - 7.0 * unit.newton_metres()).abs() < 1e-12, "{unit:?}");
            assert!((unit.of(typed.value) - 7.0).abs() < 1e-12, "{unit:?}");
        }
    }
}
