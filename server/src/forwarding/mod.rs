//! Forwarding: a shop server brings its journal to its owner's server, as it is, over links that may be down for days.
//!
//! [`standing`] says how two copies of a journal stand to each other, [`sender`] what the shop server does next; both
//! without I/O. At the owner's server [`sites`] keeps the journals and [`copy`] says where they lie. Nothing is taken where the past differs: a fork is written down and shown, never merged.
//! Never here: what entries mean.

pub(crate) mod copy;
pub(crate) mod intake;
pub(crate) mod keeping;
pub(crate) mod offered;
mod sender;
mod sites;
pub(crate) mod standing;

pub(crate) use sites::{Held, SiteShown, SiteState, Sites};

#[cfg(test)]
mod tests;
