//! The kinds of facts of a job: one file a kind.
//!
//! Each file reads its message of the network in one function, says in a sentence what it states,
//! and holds nothing else of the network. What several facts mean together is [`crate::job`]'s.
//! A new kind adds its `mod` line and its arm in [`kinds!`]; the compiler asks for the rest.

pub mod arrival;
pub mod caution_read;
pub mod closing;
pub mod colour;
pub mod condition_confirmed;
pub mod customer_answer;
pub mod decision;
pub mod drain;
pub mod equipment_contents;
pub mod exchange_reading;
pub mod fault_codes;
pub mod fill;
pub mod fluid_sample;
pub mod gear_cycle;
pub mod handover;
pub mod hookup;
pub mod inspection;
pub mod leak_check;
pub mod level_check;
pub mod lot_recalled;
pub mod lot_received;
pub mod part_checked;
pub mod part_fitted;
pub mod photo;
pub mod plug_closed;
pub mod record_issued;
pub mod remark;
pub mod road_test;
pub mod signature;
pub mod site;
pub mod skipped;
pub mod stock_counted;
pub mod temperature_reading;
pub mod tightening;
pub mod tool_checked;
pub mod torque;
pub mod variant_settled;
pub mod vin_reading;
pub mod waste;
pub mod waste_collected;
pub mod words;

use crate::text::Sentence;
use standpipe_proto::v1::{self, fact::Kind as Message};

/// What a kind can do.
pub trait Kind: Sized {
    /// Name of the kind as in the messages, for example `drain`.
    const NAME: &'static str;
    /// The fact in a sentence.
    fn sentence(&self) -> Sentence;
    /// The two facts in short sentences, where they differ only in what a correction most often puts right.
    fn briefs(&self, _with: &Self) -> Option<(Sentence, Sentence)> {
        None
    }
    /// The fact of this kind in a fact of any kind.
    fn of(fact: &Fact) -> Option<&Self>;
}

/// Numbers of an entry as a person typed them.
#[derive(Debug, Clone, Copy)]
pub struct Typed<'a>(pub &'a [v1::AsTyped]);

impl<'a> Typed<'a> {
    /// The text typed for a field; absent when an instrument or a program gave the number.
    #[must_use]
    pub fn text(self, field: &str) -> Option<&'a str> {
        self.0.iter().find(|typed| typed.field == field).map(|typed| typed.text.as_str())
    }
}

macro_rules! kinds {
    ($($module:ident :: $name:ident),* $(,)?) => {
        /// A fact of a job, read from its message.
        #[derive(Debug, Clone, PartialEq)]
        pub enum Fact {
            $(#[doc = concat!("See [`", stringify!($module), "`].")] $name($module::$name),)*
        }

        impl Fact {
            /// Reads a fact of a job; absent for a correction and for facts of the site.
            #[must_use]
            pub fn read(message: &Message, typed: Typed<'_>) -> Option<Self> {
                match message {
                    $(Message::$name(message) => Some(Self::$name($module::$name::read(message, typed))),)*
                    Message::Correction(_)
                    | Message::StationEnrolled(_)
                    | Message::PersonListed(_)
                    | Message::CatalogueAdopted(_)
                    | Message::LotReceived(_)
                    | Message::StockCounted(_)
                    | Message::ToolChecked(_)
                    | Message::EquipmentContents(_)
                    | Message::WasteCollected(_)
                    | Message::LotRecalled(_) => None,
                }
            }

            /// Name of the kind.
            #[must_use]
            pub fn name(&self) -> &'static str {
                match self { $(Self::$name(_) => <$module::$name as Kind>::NAME,)* }
            }

            /// The fact in a sentence.
            #[must_use]
            pub fn sentence(&self) -> Sentence {
                match self { $(Self::$name(fact) => fact.sentence(),)* }
            }

            /// This fact and the one that replaces it, in words that differ and are as short as can be.
            #[must_use]
            pub fn contrasted(&self, with: &Self) -> (Sentence, Sentence) {
                let briefs = match (self, with) {
                    $((Self::$name(one), Self::$name(other)) => one.briefs(other),)*
                    _ => None,
                };
                briefs.unwrap_or_else(|| (self.sentence(), with.sentence()))
            }
        }

        /// Names of all kinds of a job but the correction, in the order of the messages.
        pub const NAMES: &[&str] = &[$(<$module::$name as Kind>::NAME),*];
    };
}

kinds! {
    arrival::Arrival,
    vin_reading::VinReading,
    variant_settled::VariantSettled,
    part_checked::PartChecked,
    exchange_reading::ExchangeReading,
    drain::Drain,
    fill::Fill,
    temperature_reading::TemperatureReading,
    level_check::LevelCheck,
    fluid_sample::FluidSample,
    closing::Closing,
    fault_codes::FaultCodes,
    road_test::RoadTest,
    inspection::Inspection,
    hookup::Hookup,
    part_fitted::PartFitted,
    tightening::Tightening,
    gear_cycle::GearCycle,
    plug_closed::PlugClosed,
    leak_check::LeakCheck,
    condition_confirmed::ConditionConfirmed,
    caution_read::CautionRead,
    waste::Waste,
    photo::Photo,
    remark::Remark,
    skipped::Skipped,
    customer_answer::CustomerAnswer,
    decision::Decision,
    record_issued::RecordIssued,
    handover::Handover,
    signature::Signature,
}

/// Finds a kind in a fact; each kind's `of` is this.
macro_rules! of {
    ($name:ident) => {
        fn of(fact: &$crate::kind::Fact) -> Option<&Self> {
            match fact {
                $crate::kind::Fact::$name(inner) => Some(inner),
                _ => None,
            }
        }
    };
}
pub(crate) use of;

/// A key as a person reads it: 'road-test-before' is 'road test before'.
pub(crate) fn key_in_words(key: &str) -> String {
    key.replace(['-', '_'], " ")
}
