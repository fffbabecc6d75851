//! The kinds of facts of the site that stations state: one file a kind, as with those of a job.
//!
//! What several of them mean together is [`crate::site`]'s. A new kind adds its `mod` line in [`super`], its arm here
//! and its name in `is_stated_site_kind` of the check.

use super::Typed;
use super::equipment_contents::EquipmentContents;
use super::lot_recalled::LotRecalled;
use super::lot_received::LotReceived;
use super::stock_counted::StockCounted;
use super::tool_checked::ToolChecked;
use super::waste_collected::WasteCollected;
use crate::text::Sentence;
use standpipe_proto::v1::fact::Kind as Message;

/// What a kind of the site can do.
pub trait SiteKind: Sized {
    /// Name of the kind as in the messages, for example `lot_received`.
    const NAME: &'static str;
    /// The fact in a sentence.
    fn sentence(&self) -> Sentence;
    /// The fact of this kind in a fact of any kind.
    fn of(fact: &SiteFact) -> Option<&Self>;
}

macro_rules! site_kinds {
    ($($name:ident),* $(,)?) => {
        /// A fact of the site, read from its message.
        #[derive(Debug, Clone, PartialEq)]
        pub enum SiteFact {
            $(#[doc = concat!("See [`", stringify!($name), "`].")] $name($name),)*
        }

        impl SiteFact {
            /// Reads a fact of the site that a station states; absent for every other kind.
            #[must_use]
            pub fn read(message: &Message, typed: Typed<'_>) -> Option<Self> {
                match message {
                    $(Message::$name(message) => Some(Self::$name($name::read(message, typed))),)*
                    _ => None,
                }
            }

            /// Name of the kind.
            #[must_use]
            pub fn name(&self) -> &'static str {
                match self { $(Self::$name(_) => <$name as SiteKind>::NAME,)* }
            }

            /// The fact in a sentence.
            #[must_use]
            pub fn sentence(&self) -> Sentence {
                match self { $(Self::$name(fact) => fact.sentence(),)* }
            }
        }

        /// Names of the kinds, in the order of the messages.
        pub const SITE_NAMES: &[&str] = &[$(<$name as SiteKind>::NAME),*];
    };
}

site_kinds! { LotReceived, StockCounted, ToolChecked, EquipmentContents, WasteCollected, LotRecalled }

/// Finds a kind in a fact of the site; each kind's `of` is this.
macro_rules! of_site {
    ($name:ident) => {
        fn of(fact: &$crate::kind::site::SiteFact) -> Option<&Self> {
            match fact {
                $crate::kind::site::SiteFact::$name(inner) => Some(inner),
                _ => None,
            }
        }
    };
}
pub(crate) use of_site;
