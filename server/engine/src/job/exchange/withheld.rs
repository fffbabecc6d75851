//! Why no share of new fluid is given although litres and looks are there: it could not be right.
//!
//! Never here: what is not known, such as the fill, or that the order of pan and exchange is not certain; see `share`.

use crate::formula::alarm::Alarm;
use crate::text::{Sentence, number, sentence};
use crate::view::ShareBasis;

/// Why a share would be wrong.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Why {
    /// Some of what went in was not the variant's fluid.
    WrongFluid,
    /// More litres lie between in and out than a vehicle can be off by.
    AmountWrong {
        /// By how much they differ.
        litres: f64,
    },
    /// More new fluid would be inside than fluid is.
    Contradict,
    /// No fresh fluid reached the glass.
    NothingArrives,
    /// Fresh fluid came back at once.
    FreshAtOnce,
    /// The share would rest on ways of flowing that do not fit the looks.
    NotExplained,
}

impl Why {
    /// By what the looks say is not as it should be; new fluid in the pan from the start makes the glass new early.
    pub fn by_alarms(alarms: &[Alarm], began_all_old: bool, basis: Option<ShareBasis>) -> Option<Self> {
        let any = |is: fn(&Alarm) -> bool| alarms.iter().any(is);
        if any(|alarm| matches!(alarm, Alarm::NothingArrives { .. })) {
            Some(Self::NothingArrives)
        } else if began_all_old && any(|alarm| matches!(alarm, Alarm::FreshAtOnce { .. })) {
            Some(Self::FreshAtOnce)
        } else if basis == Some(ShareBasis::Models)
            && any(|alarm| matches!(alarm, Alarm::NotExplained { .. }))
        {
            Some(Self::NotExplained)
        } else {
            None
        }
    }

    /// Why, for the expert's page.
    pub fn sentence(self) -> Sentence {
        match self {
            Self::WrongFluid => sentence::exchange_withheld_wrong_fluid(),
            Self::AmountWrong { litres } => sentence::exchange_withheld_amount(number::litres(litres, 1)),
            Self::Contradict => sentence::exchange_withheld_contradict(),
            Self::NothingArrives => sentence::exchange_withheld_nothing(),
            Self::FreshAtOnce => sentence::exchange_withheld_at_once(),
            Self::NotExplained => sentence::exchange_withheld_not_explained(),
        }
    }

    /// For the customer, where the fluid inside may not have been exchanged at all.
    pub fn note(self) -> Option<Sentence> {
        match self {
            Self::NothingArrives => Some(sentence::note_nothing_arrived()),
            Self::FreshAtOnce => Some(sentence::note_fresh_at_once()),
            _ => None,
        }
    }
}
