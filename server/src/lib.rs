//! The shop server: journal, engine and record behind gRPC.
//!
//! [`init`] creates a site's folder, [`order`] works on it whether or not a server runs, [`verify`] reads it through,
//! [`restore`] makes one from a backup, and [`Server::start`] serves it. The crate wires the others together; it holds
//! no formula, no SQL and no page geometry. The binary `standpipe-server`, the demonstration and the capability tests
//! call it.

mod access;
mod admin;
mod audit;
mod authority;
mod backup;
mod blob;
mod catalogue;
mod clock;
pub mod config;
mod convert;
mod desk;
mod doctor;
mod door;
mod error;
mod extracts;
mod figures;
mod folder;
mod forwarding;
mod grown;
mod guesses;
mod intake;
mod joining;
mod keeper;
mod kept;
mod lines;
mod moving;
mod number;
mod office;
mod order;
mod own_station;
mod owner;
mod page;
mod pin;
mod place;
mod places;
mod reading;
mod record;
mod rpc;
mod server;
mod sight;
mod signing;
mod site;
mod space;
mod status;
mod tallies;
mod tally;
mod token;
mod verify;
mod whereabouts;
mod wiring;
mod workshop;

#[cfg(test)]
mod tests;

pub use access::{Role, Rule, TABLE, rule};
pub use backup::restore;
pub use catalogue::{
    Adoption, CATALOGUE_BYTES_MAX, CheckedCatalogue, ComparedCatalogues, check_catalogue, compare_catalogues,
    export_catalogue,
};
pub use clock::{Clock, Entropy, SystemClock, SystemEntropy};
pub use desk::{
    Desk, Enrolled, ErasedCustomer, FIRST_STATION, Imported, InitOptions, Invited, StationKept, init, init_as,
};
pub use doctor::{Check, doctor};
pub use door::Limits;
pub use error::{Exit, ServerError};
pub use folder::{EPOCH_FILE, JOURNAL_FILE, SETTINGS_FILE};
pub use forwarding::{AtOwner, Course, OWNER_LINK_FILE, RecoverOptions, Recovered, recover};
pub use moving::{Destination, Moved, move_site};
pub use office::OFFICE_STATION;
pub use order::{AdoptionLine, AuditRow, Copied, Done, Order, StationLine, order};
pub use own_station::OWN_STATION;
pub use pin::{PIN_DIGITS, kept_of as kept_pin};
pub use place::site_folder;
pub use server::{
    Certificate, DEFAULT_LISTEN, DEFAULT_STOP_WITHIN, DEFAULT_TOKEN_DAYS, Pulse, RunningServer, Server,
    ServerOptions, Stopper,
};
pub use tallies::put_rows_of_elsewhere;
pub use token::Token;
pub use verify::{Verified, verify};

/// Version of the server.
pub const VERSION: &str = env!("CARGO_PKG_VERSION");

/// A time in words for lists of the command line, in UTC to the second (ISO 8601).
#[must_use]
pub fn time_in_words(us: i64) -> String {
    let seconds = jiff::Timestamp::from_second(us.div_euclid(1_000_000));
    seconds.map(|time| time.to_string()).unwrap_or_default()
}
