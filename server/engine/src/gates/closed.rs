//! What a closing leaves open: what a job that ends without an exchange need not do, and what may stand open all the
//! same.

use super::need::lacking;
use super::{Facts, Need};
use crate::job::wrong_fluid::moves;
use crate::job::{Context, Folded, Identity};
use crate::kind::Fact;
use crate::kind::closing::Closing;
use crate::kind::exchange_reading::ExchangeReading;
use crate::kind::hookup::Hookup;
use crate::kind::words::Outcome;
use crate::text::Sentence;

/// Whether closing a job that ends without an exchange drops a need: all of the service, but not what may be open.
pub(super) fn dropped(folded: &Folded, need: Need) -> bool {
    let closing = folded.last::<Closing>().map(|(_, closing)| closing);
    let stopped = closing.is_some_and(|closing| closing.outcome == Some(Outcome::NoExchangeDone));
    stopped && !may_be_open(folded, need)
}

/// Whether the vehicle may stand open at this need: the line once it was opened; the level, the plug and a leak once
/// fluid was moved or the plug was open.
fn may_be_open(folded: &Folded, need: Need) -> bool {
    match need {
        Need::LevelSet | Need::PlugClosed | Need::Dry => {
            folded.facts.iter().any(|stated| moves_fluid(&stated.fact))
        }
        // A plug that was never closed was not tightened with anything.
        Need::WrongFluidPutRight | Need::PlugTool | Need::ScrewsNotUsedAgain | Need::PanDone => true,
        Need::LineClosed => folded.last::<Hookup>().is_some() || folded.last::<ExchangeReading>().is_some(),
        _ => false,
    }
}

/// What stood open when the job was closed: nobody may drive off without knowing it.
pub(crate) fn closed_open(context: &Context<'_>, folded: &Folded, identity: &Identity) -> Vec<Sentence> {
    once(open_at_closing(context, folded, identity).into_iter().map(|(_, text)| text))
}

/// How many points beside the level stood open when the job was closed.
pub(crate) fn open_beside_level(context: &Context<'_>, folded: &Folded, identity: &Identity) -> usize {
    let open = open_at_closing(context, folded, identity);
    let of_level = |text: &Sentence| open.iter().any(|(need, of)| *need == Need::LevelSet && of == text);
    once(open.iter().map(|(_, text)| text.clone()).filter(|text| !of_level(text))).len()
}

/// Each sentence the first time that it comes.
fn once(texts: impl Iterator<Item = Sentence>) -> Vec<Sentence> {
    let mut said: Vec<Sentence> = Vec::new();
    for text in texts {
        if !said.contains(&text) {
            said.push(text);
        }
    }
    said
}

fn open_at_closing(context: &Context<'_>, folded: &Folded, identity: &Identity) -> Vec<(Need, Sentence)> {
    if folded.last::<Closing>().is_none() {
        return Vec::new();
    }
    let facts = Facts { context, folded, identity };
    let needs = [
        Need::WrongFluidPutRight,
        Need::PanDone,
        Need::ScrewsNotUsedAgain,
        Need::LevelSet,
        Need::PlugClosed,
        Need::Dry,
        Need::LineClosed,
    ];
    let open = needs.into_iter().filter(|need| may_be_open(folded, *need));
    open.flat_map(|need| lacking(&facts, need).into_iter().map(move |missing| (need, missing.text))).collect()
}

/// Whether fluid goes in or runs out with it, or can: the look at the level opens the plug.
fn moves_fluid(fact: &Fact) -> bool {
    matches!(fact, Fact::LevelCheck(_)) || moves(fact)
}
