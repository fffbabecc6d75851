//! How one machine of ours meets another: connections that nobody on the way can read or take over.
//!
//! Who connects trusts one authority: at joining the one whose digest stands in the code, later the one that it kept.
//! The name that it asks for is the same everywhere ([`SERVER_NAME`]), so that a server may move to another address.
//! The clock decides nothing: see [`pinned`]. Stations use it, and a shop server that forwards to its owner's server.
//! Never here: tokens and calls.

mod address;
mod connector;
mod pem;
mod pinned;

use crate::join::SERVER_NAME;
pub use address::ServerAddress;
pub use connector::{Connector, Now, Trouble};
pub use pem::{read as read_pem, write as write_pem};
pub use pinned::Pin;

/// Why a connection could not even be prepared.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum DialError {
    /// What was typed is no address.
    #[error(
        "'{address}' is no address of a server; write it as the server printed it, for example \
         192.168.0.10:50551, [2001:db8::7]:50551 or shop.lan"
    )]
    Address {
        /// As typed.
        address: String,
    },
    /// The machine's TLS cannot be set up.
    #[error("TLS cannot be set up: {0}")]
    Tls(String),
}
