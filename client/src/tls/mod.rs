//! Connections to a shop server that nobody on the way can read or take over.
//!
//! A station trusts one authority: at joining the one whose digest stands in the code, later the one that it kept. The
//! name that it asks for is the same everywhere ([`SERVER_NAME`]), so that a server may move to another address. The
//! bay's clock decides nothing: see [`pinned`]. Never here: tokens and calls, which are [`crate::remote`]'s.

mod connector;
mod pem;
mod pinned;

pub(crate) use connector::{Connector, Trouble};
pub(crate) use pem::{read as read_pem, write as write_pem};
pub(crate) use pinned::Pin;
use standpipe_proto::join::SERVER_NAME;
