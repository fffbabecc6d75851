//! Forwarding: a shop server brings its journal to its owner's server, as it is, over links that may be down for days.
//!
//! [`standing`] says how two copies of a journal stand to each other, [`sender`] what the shop server does next; both
//! without I/O. At a shop server [`joined`] joins the owner's, [`link`] brings it the journal and [`recover`] gets it
//! back. At the owner's server [`sites`] keeps the journals and [`copy`] says where they lie. Nothing is taken where the past
//! differs: a fork is written down and shown, never merged.
//! Never here: what entries mean.

mod batch;
mod bond;
pub(crate) mod copy;
pub(crate) mod intake;
mod joined;
pub(crate) mod keeping;
pub(crate) mod link;
pub(crate) mod offer;
pub(crate) mod offered;
mod outward;
mod owner_link;
mod queue;
mod recover;
mod sender;
mod sites;
pub(crate) mod standing;

pub(crate) use bond::Bond;
pub use bond::{AtOwner, Course};
pub(crate) use joined::{Joined, Joiner};
pub use owner_link::OWNER_LINK_FILE;
pub(crate) use owner_link::OwnerLink;
pub use recover::{RecoverOptions, Recovered, recover};
pub(crate) use sites::{Held, SiteState, Sites};

#[cfg(test)]
mod tests;
