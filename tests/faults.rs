//! Programs that are killed or told to stop: the server in the middle of its work, the station at every step, and folders that were
//! left half made. Judged by the ledger. Seeds are printed; a kill comes after so many answers, never after a time.

mod client_kills;
mod drains;
mod folders;
mod server_kills;
mod strace;
mod syncs;

/// So many times the daily count: 40 in the long campaigns.
pub fn times() -> u64 {
    let full = std::env::var("STANDPIPE_TEST_CAMPAIGN").is_ok_and(|campaign| campaign == "full");
    if full { 40 } else { 1 }
}
