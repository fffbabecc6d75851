//! Messages, bounds and checks that stations and shop servers share.
//!
//! Here live the generated messages of `standpipe.v1`, the one table of bounds ([`limits`]), the
//! check of a message against it ([`check`]), the grammar of typed quantities ([`typed`]), tables for spreadsheets
//! ([`csv`]), names of kinds ([`kind`]) and the code by which a machine becomes a station ([`join`]).
//! With the feature `words` also facts as people type or choose them, with `photo` photos without their notes.
//! Never here: I/O, async, clocks. Only the features `grpc` (clients and servers) and `dial` (how one machine of ours
//! meets another) touch the network.

pub mod check;
pub mod csv;
#[cfg(feature = "dial")]
pub mod dial;
pub mod join;
pub mod kind;
pub mod limits;
#[cfg(feature = "photo")]
pub mod photo;
pub mod typed;
pub mod visit;
#[cfg(feature = "words")]
pub mod words;

/// The generated messages of package `standpipe.v1`, and clients and servers with feature `grpc`.
#[allow(missing_docs, clippy::all, clippy::pedantic, rust_2018_idioms)]
pub mod v1 {
    include!(concat!(env!("OUT_DIR"), "/standpipe.v1.rs"));
}

include!(concat!(env!("OUT_DIR"), "/methods.rs"));

/// The typed descriptor set with its comments: what reflection serves and what the flags of the
/// client are made of.
pub const DESCRIPTOR_SET: &[u8] = include_bytes!(concat!(env!("OUT_DIR"), "/descriptor.bin"));

/// Domain of the reasons in error details (AIP-193).
pub const ERROR_DOMAIN: &str = "standpipe.v1";

pub use bytes::Bytes;
