//! Capability, reference and fault tests: one binary, a module for each thing that a user can do.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, clippy::indexing_slicing)]
#![allow(missing_docs)]

mod access;
mod backup;
mod blobs;
mod bounds;
mod browser;
mod catalogue;
mod clients;
mod condition;
mod coverage;
mod customers;
mod demo;
mod descriptor;
mod door;
mod editions;
mod faults;
mod feed;
mod folders;
mod forwarding;
mod history;
mod hostile;
mod intake_stream;
mod join;
mod journal;
mod ledger;
mod level_coverage;
mod next;
mod owner;
mod photos;
mod pin;
mod plan;
mod record;
mod reference;
mod registers;
mod running;
mod signing;
mod site_facts;
mod station;
mod stores;
mod tidy;
mod tokens;
mod watch;
