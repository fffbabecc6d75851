//! What several tests and the bench stand on: a new site with stations, sealed entries, a connection.
//!
//! Never here: an expectation. All servers listen on a free port of the loopback address.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, clippy::indexing_slicing)]
#![allow(missing_docs)]

pub mod blobs;
pub mod clock;
pub mod door;
pub mod facts;
pub mod postgres;
pub mod process;
pub mod programs;
pub mod proxy;
pub mod scene;
pub mod sealed;
pub mod shop;
pub mod site;
pub mod told;
