//! The level was looked at: at the overflow, or on the dipstick.

use super::words::{Answer, Dipstick, Means, Overflow, Selector, TemperatureMeans};
use super::{Kind, Typed};
use crate::amount::{Amount, Read};
use crate::text::{Sentence, number, sentence};
use standpipe_proto::v1;

/// A look at the level.
#[derive(Debug, Clone, PartialEq)]
pub struct LevelCheck {
    /// Temperature of the fluid at this moment, in °C.
    pub celsius: f64,
    /// How the temperature was read.
    pub means: Option<TemperatureMeans>,
    /// What came out; absent when this version does not know it, and for a dipstick.
    pub overflow: Option<Overflow>,
    /// Where the fluid stands on the dipstick; absent where none was read.
    pub dipstick: Option<Dipstick>,
    /// Whether the engine was idling.
    pub engine_idling: Option<Answer>,
    /// Whether the vehicle stood level.
    pub vehicle_level: Option<Answer>,
    /// Where the selector stood.
    pub selector: Option<Selector>,
    /// What was caught at the overflow, or taken out where a dipstick shows too much.
    pub caught: Option<Amount>,
    /// Drops counted at the overflow in one minute.
    pub drops_per_minute: Option<u16>,
}

impl LevelCheck {
    pub(super) fn read(message: &v1::LevelCheck, typed: Typed<'_>) -> Self {
        Self {
            celsius: message.temperature_celsius,
            means: TemperatureMeans::read(message.means),
            overflow: Overflow::read(message.overflow),
            dipstick: Dipstick::read(message.dipstick),
            engine_idling: Answer::read(message.engine_idling),
            vehicle_level: Answer::read(message.vehicle_level),
            selector: Selector::read(message.selector),
            caught: message.caught_litres.map(|litres| {
                Amount::new(Read::Litres(litres), typed.text("caught_litres"), Some(Means::Jug))
            }),
            drops_per_minute: message.drops_per_minute.and_then(|drops| u16::try_from(drops).ok()),
        }
    }

    /// What was seen, in words.
    #[must_use]
    pub fn seen(&self) -> Sentence {
        match self.dipstick {
            Some(dipstick) => sentence::dipstick(dipstick.word()),
            None => sentence::overflow(self.overflow.map_or("unknown", Overflow::word)),
        }
    }

    /// Whether it is what a right level looks like: drops at the overflow, or between the marks.
    #[must_use]
    pub fn is_right(&self) -> bool {
        match self.dipstick {
            Some(dipstick) => dipstick == Dipstick::Between,
            None => self.overflow == Some(Overflow::Drops),
        }
    }

    /// Whether fluid has to be added.
    #[must_use]
    pub fn is_low(&self) -> bool {
        match self.dipstick {
            Some(dipstick) => dipstick == Dipstick::Below,
            None => self.overflow == Some(Overflow::Nothing),
        }
    }
}

impl Kind for LevelCheck {
    const NAME: &'static str = "level_check";

    fn sentence(&self) -> Sentence {
        let temperature = number::celsius(self.celsius, 0);
        let seen = self.seen();
        let seen = match self.drops_per_minute {
            Some(drops) => sentence::level_check_counted(u64::from(drops), seen),
            None => seen,
        };
        match &self.caught {
            Some(taken) if self.dipstick.is_some() => {
                sentence::level_check_taken(seen, taken.as_read(), temperature)
            }
            Some(caught) => sentence::level_check_caught(caught.as_read(), seen, temperature),
            None => sentence::level_check(seen, temperature),
        }
    }

    super::of!(LevelCheck);
}
